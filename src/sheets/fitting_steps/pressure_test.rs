//! The test with the outlets closed: how far it goes, by what may stand on everything that is on the bar.

use super::work::{Work, counted, pumping, step, tags_of};
use crate::checks::StopReason;
use crate::plan::ratings::{RATED_AT, RatedThing, Rating};
use crate::plan::supply::RELIEF_TOLERANCE;
use crate::plan::{Control, Duty, EntryKey, Gauge, Item, Part, PartItem, Run, words};
use crate::quantities::{Measure, Pressure, Speed, Temperature};
use crate::sheets::basis::DutyOutcome;
use crate::sheets::document::{FittingStep, Hazard};
use crate::sheets::extras::ExtraKind;
use crate::sheets::items::{ListItem, number_of};

/// The highest working pressure.
struct Highest<'a> {
    pressure: Pressure,
    /// Tag of a part, or `the pump`.
    at: String,
    speed: Speed,
    /// The duty it comes from.
    duty: &'a Duty,
}

impl Work<'_> {
    /// The highest pressure the solve finds in any duty of the project at any of its speeds, with its liquid and with
    /// water; none where nothing is solved.
    fn highest(&self) -> Option<Highest<'_>> {
        let mut highest: Option<Highest> = None;
        for DutyOutcome { duty, outcome } in &self.of_all_duties {
            let Some(numbers) = outcome.numbers() else { continue };
            let parts = numbers
                .parts
                .iter()
                .filter_map(|part| Some((part.pressure?, self.routing.part(part.part)?.tag.clone())));
            let pump = (numbers.pump_pressure, "the pump".to_owned());
            for (pressure, at) in std::iter::once(pump).chain(parts) {
                if highest.as_ref().is_none_or(|known| pressure > known.pressure) {
                    highest = Some(Highest { pressure, at, speed: outcome.point.speed, duty });
                }
            }
        }
        highest
    }

    fn full_scale(&self, part: &Part) -> Option<Pressure> {
        match self.item(&part.entry) {
            Some(PartItem::Gauge(Gauge { full_scale })) => Some(*full_scale),
            _ => None,
        }
    }

    /// Whose a rating is: `item 7, tube of 6 mm`.
    fn whose(&self, rating: &Rating) -> String {
        let RatedThing::Entry(key) = &rating.of else {
            return match rating.of {
                RatedThing::Pump => "the pump".to_owned(),
                RatedThing::WeakestPart | RatedThing::Entry(_) => {
                    "entered by the designer for the weakest part without a rating of its own".to_owned()
                }
            };
        };
        let number = number_of(self.items, key).map_or_else(String::new, |number| format!("item {number}, "));
        let Some(entry) = self.project.catalogue.entry(key) else { return number + &key.0 };
        let scale = if matches!(entry.item, Item::Part(PartItem::Gauge(_))) { ", full scale" } else { "" };
        let cold = if rating.is_derated() {
            format!(
                ", {} at {}, at {} less",
                self.pressure_text(rating.given),
                self.temperature_text(Temperature::from_si(RATED_AT)),
                self.temperature_text(self.project.warmest())
            )
        } else {
            String::new()
        };
        format!("{number}{}{scale}{cold}", entry.description)
    }

    fn temperature_text(&self, temperature: Temperature) -> String {
        Measure::Temperature.short_text(temperature.si(), self.project.units)
    }

    /// Item numbers of what has no rating of its own.
    fn numbers_without_rating(&self, is_counted: impl Fn(&ListItem) -> bool, later: bool) -> Vec<u32> {
        let catalogued = self.items.iter().filter(|item| is_counted(item)).filter_map(|item| {
            let entry = self.project.catalogue.entry(&item.entry)?;
            entry.item.rated().is_none().then_some(item.number)
        });
        let is_counted = |kind: &ExtraKind| match kind {
            ExtraKind::HoseAdapter => true,
            ExtraKind::RowAdapter | ExtraKind::MeteringEnds => later,
            // Plugs are ordered for the test; the outlet at an opener is open to the air.
            _ => false,
        };
        let others = self.extras.iter().filter(|extra| is_counted(&extra.kind)).map(|extra| extra.number);
        catalogued.chain(others).filter_map(|number| u32::try_from(number).ok()).collect()
    }

    /// It is on the bar before any row is fitted: parts, hoses and their fittings.
    fn stands_in_closed_test(&self, entry: &EntryKey) -> bool {
        let routing = self.routing.routing;
        let of_run = |run: &Run| run.line.stock == *entry || run.fittings.iter().any(|one| *one == *entry);
        routing.parts.iter().any(|part| part.entry == *entry) || routing.runs.iter().any(of_run)
    }

    /// Which items stand under pressure during this test and have no rating of their own: the one entered for the weakest part is theirs.
    fn without_rating(&self) -> Option<String> {
        let weakest = self.project.supply.weakest_rated?;
        let numbers = self.numbers_without_rating(|item| self.stands_in_closed_test(&item.entry), false);
        (!numbers.is_empty()).then(|| {
            let several = numbers.len() > 1;
            format!(
                "{} {} {} no rating of {} own: the {} of the weakest part, as entered by the designer, {} for {}, so ask {} before \
                 the test whether {} it",
                if several { "Items" } else { "Item" },
                words::ranges(&numbers),
                if several { "have" } else { "has" },
                if several { "their" } else { "its" },
                self.pressure_text(weakest),
                "stands",
                if several { "them" } else { "it" },
                if several { "their makers" } else { "its maker" },
                if several { "they bear" } else { "it bears" },
            )
        })
    }

    /// What guards the bar while the pressure is raised; a pump without one can't reach what the bar bears.
    fn relief_valve(&self) -> String {
        self.project.supply.relief_valve.opens_at().map_or_else(
            || "No relief valve is needed: against a shut valve the pump reaches no more than the bar bears".to_owned(),
            |opens| {
                format!(
                    "Before the pump starts, see that the relief valve is the one of {} at the pump, its way back to the tank \
                     open",
                    self.pressure_text(opens)
                )
            },
        )
    }

    /// The pressure test can't be asked for, and what comes after it has to wait.
    pub(super) fn is_stopped(&self) -> bool {
        self.test.is_some_and(|test| !test.stops.is_empty())
    }

    /// Says of what presses the bar, or opens what was pressed, that it comes after the test of a step.
    pub(super) fn put_off(steps: &mut [FittingStep], test: usize) {
        for step in steps.iter_mut().filter(|step| step.hazards.contains(&Hazard::Pressure)) {
            step.details.insert(0, format!("NOT BEFORE the pressure test of step {test} has been done"));
        }
    }

    /// In place of a test that can't be asked for: why, and what has to be entered or fitted first.
    fn stop_here(&self, stops: &[StopReason]) -> FittingStep {
        let units = self.project.units;
        let mut details: Vec<String> = Vec::new();
        for reason in stops {
            details.push(format!("{}: {}", words::capital(&reason.words(units)), reason.advice(units)));
            if matches!(reason, StopReason::RatingUnknown { .. }) {
                let numbers = self.numbers_without_rating(|_| true, true);
                let items = if numbers.len() == 1 { "item" } else { "items" };
                details.push(format!("No rating is known of {items} {}", words::ranges(&numbers)));
            }
        }
        details.push(
            "Then print these papers again: the test stands there with its pressure. Until then nothing is pressed, filled or \
             caught"
                .to_owned(),
        );
        let first = stops.first().map(|one| one.words(units)).unwrap_or_default();
        let more = match stops.len() {
            0 | 1 => String::new(),
            many => format!(" (and {} more)", counted(many - 1, "reason")),
        };
        step(format!("STOP HERE, no pressure test yet: {first}{more}"), details)
    }

    /// Hoses and manifolds under what the pump can reach, nothing running out.
    pub(super) fn closed_test(&self) -> Vec<FittingStep> {
        let Some(test) = self.test else { return Vec::new() };
        let (Ok(lowest), Some(highest), []) = (&test.lowest, self.highest(), test.stops.as_slice()) else {
            return vec![self.stop_here(&test.stops)];
        };
        let reach = test.pressure;
        let asked = self.pressure_text(reach);
        let never = format!(
            "Never above {}, the lowest rating of all on the bar ({})",
            self.pressure_text(lowest.pressure),
            self.whose(lowest)
        );
        let gauges = self.gauges();
        let shown: Vec<String> = gauges
            .iter()
            .map(|part| {
                let on = part.mount.and_then(|port| self.routing.part(port.part));
                on.map_or_else(|| part.tag.clone(), |on| format!("{} on {}", part.tag, on.tag))
            })
            .collect();
        let duty = if self.project.duties.are_several() {
            format!(", duty {}, the highest of all duties", highest.duty.name)
        } else {
            String::new()
        };
        let mut details = vec![never];
        details.extend(self.without_rating());
        if !self.routing.routing.feeds.is_empty() {
            let mut later = vec!["row tubes".to_owned()];
            later.extend(self.row_kinds());
            details.push(format!(
                "Not on the bar yet: {}; the leak check tests them, at working pressure only",
                words::list(&later)
            ));
        }
        let warmest = self.project.warmest();
        details.push(if warmest.si() > RATED_AT {
            format!(
                "Ratings of plastic are counted at {}, the warmest entered: test with water no warmer, and in the sun no \
                 longer than it takes",
                self.temperature_text(warmest)
            )
        } else {
            format!(
                "Ratings of plastic hold up to {}: test with cool water, and in the sun no longer than it takes",
                self.temperature_text(Temperature::from_si(RATED_AT))
            )
        });
        details.push(self.relief_valve());
        let valve = self.project.supply.relief_valve;
        if let Some((opens, latest)) = valve.opens_at().zip(valve.opens_by())
            && latest > lowest.pressure
        {
            details.push(format!(
                "{}: watch the gauge, not the valve",
                self.opens_late(opens, latest, lowest.pressure)
            ));
        }
        details.push(format!(
            "{asked} is what {}; at work {} has up to {} ({}{duty})",
            match self.project.supply.control {
                _ if self.project.supply.highest_given() > reach => "the relief valve opens at",
                Control::Metered { .. } => "the pump reaches at its limit once nothing runs out",
                Control::Held { .. } => "is held at the pump",
                Control::Uncontrolled => "the pump gives once nothing runs out",
            },
            highest.at,
            self.pressure_text(highest.pressure),
            Measure::GroundSpeed.text(highest.speed.si(), self.project.units)
        ));
        details.push(format!(
            "Read it at {}{}; parts lower than a gauge bear a little more",
            words::list(&shown),
            if shown.len() > 1 { ", which show alike with nothing running" } else { "" }
        ));
        let far = self.manifolds().last().map(|part| part.tag.clone());
        details.push(format!(
            "Close the outlets: {}; fill slowly with one outlet{} open until no air comes, then pump off, close it: trapped \
             air throws what lets go",
            counted(self.outlets_to_close(), "plug"),
            far.map_or_else(String::new, |far| format!(" of each manifold, {far} last,"))
        ));
        if test.opens_valve {
            details.push(format!(
                "At {asked} the relief valve opens: hold the last just below it, where nothing goes back to the tank yet. \
                 Neither blocked nor taken out unless local practice allows it, and never above the lowest rating"
            ));
        }
        let at_end: Vec<&Part> =
            gauges.iter().copied().filter(|part| self.full_scale(part) == Some(reach)).collect();
        if !at_end.is_empty() {
            details.push(format!(
                "{} stand at the end of the scale then: a larger dial for the test, screwed in in that place",
                words::tags(&tags_of(&at_end))
            ));
        }
        let share = |of: f64| self.pressure_text(reach * of);
        details.push(format!(
            "With the return open, set relief valve or regulator to each of {}, {} and {asked} in turn; everybody clear of plugs \
             and hose ends; look for drips, hold the last for five minutes",
            share(1.0 / 3.0),
            share(2.0 / 3.0)
        ));
        details.push(
            "What drips: let the pressure off, mend, and test again from the lowest step until nothing does"
                .to_owned(),
        );
        let text =
            format!("Test hoses, manifolds and their joints with water, outlets closed: up to {asked}");
        let proof = self.prove_relief_valve(lowest.pressure);
        let mut after = Vec::new();
        if proof.is_none() {
            after.push("Set the pump's limit back as the commissioning sheet says".to_owned());
        }
        after.extend(self.clean_screens());
        let mut steps = vec![pumping(text, details)];
        steps.extend(proof);
        steps.push(pumping("Pressure off, supply shut, water drained: take the outlets' plugs out", after));
        steps
    }

    /// After a test for which the relief valve was turned it has to guard the bar again, which only opening it shows.
    fn prove_relief_valve(&self, lowest: Pressure) -> Option<FittingStep> {
        let supply = &self.project.supply;
        let valve = supply.relief_valve;
        let (opens, latest) = (valve.opens_at()?, valve.opens_by()?);
        let text = |pressure| self.pressure_text(pressure);
        let mut details = vec![format!(
            "Pressure off while it is turned; then raise slowly, outlets still closed, its return open: at {} by the gauge it opens \
             and water runs back to the tank",
            text(opens)
        )];
        let shut = supply.pump_curve.first().map(|point| point.pressure).filter(|most| *most < opens);
        let limit = supply.control.pressure().filter(|limit| *limit < opens);
        if let Some(most) = shut {
            details.push(format!(
                "The pump gives no more than {} with nothing running: prove the valve with a hand pump, or on the bench",
                text(most)
            ));
        } else if let Some(limit) = limit {
            details.push(format!(
                "The pump's limit of {} lies below that: raise the limit for this proof alone",
                text(limit)
            ));
        }
        details.push(if latest > lowest {
            format!(
                "{}: go no higher than {}; a valve that is shut there is set lower or changed",
                self.opens_late(opens, latest, lowest),
                text(lowest)
            )
        } else {
            format!(
                "Still shut at {}, {} more: pump off, set it anew or change it",
                text(latest),
                Measure::Percent.short_text(RELIEF_TOLERANCE, self.project.units)
            )
        });
        details.push(
            "Then the pump's limit back as the commissioning sheet says, where what the valve opened at is written down".to_owned(),
        );
        Some(pumping(format!("Set the relief valve back to {} and prove it", text(opens)), details))
    }

    /// Its tolerance reaches beyond what the bar bears.
    fn opens_late(&self, opens: Pressure, latest: Pressure, lowest: Pressure) -> String {
        format!(
            "A relief valve set to {} may open only at {}, {} later, which is above the {} never to be passed",
            self.pressure_text(opens),
            self.pressure_text(latest),
            Measure::Percent.short_text(RELIEF_TOLERANCE, self.project.units),
            self.pressure_text(lowest)
        )
    }
}
