//! The fitting steps in which water or liquid runs: flushing, the test with the outlets closed, the look with the rows
//! open, the first fill, rinsing. Times and habits are common practice, no source; every figure is solved or the plan's.

use super::work::{Work, counted, folding, pumping, step};
use crate::checks;
use crate::hydraulics::Outcome;
use crate::plan::{CheckValve, Gauge};
use crate::plan::{
    Control, Duty, ElementItem, End, FeedElement, Item, Part, PartItem, Port, PortRef, Run, words,
};
use crate::quantities::{Measure, Pressure, Speed};
use crate::sheets::basis::DutyOutcome;
use crate::sheets::commissioning::catch_volumes;
use crate::sheets::document::Step;
use crate::sheets::{cautions, places};

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
    fn pressure_text(&self, value: Pressure) -> String {
        Measure::Pressure.text(value.si(), self.project.units)
    }

    /// The highest pressure the solve finds in any duty of the project at any of its speeds, with its liquid and with
    /// water; none unless all of them are solved.
    fn highest(&self) -> Option<Highest<'_>> {
        let mut highest: Option<Highest> = None;
        for DutyOutcome { duty, outcome } in &self.of_all_duties {
            let numbers = outcome.numbers()?;
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

    /// Where there are several duties, which of them are not solved at all their speeds: ` for duty Autumn`.
    fn unsolved_duties(&self) -> String {
        let mut names: Vec<String> = self
            .of_all_duties
            .iter()
            .filter(|one| one.outcome.result.is_err())
            .map(|one| one.duty.name.clone())
            .collect();
        names.dedup();
        if self.project.duties.are_several() && !names.is_empty() {
            format!(" for duty {}", words::list(&names))
        } else {
            String::new()
        }
    }

    /// The lowest rated pressure of all that stands under pressure, and whose it is. Gauges have their full scale.
    fn weakest(&self) -> (Pressure, String) {
        let supply = &self.project.supply;
        let mut weakest = (supply.weakest_rated, "hose tails and clamps".to_owned());
        for (rated, what) in self
            .items
            .iter()
            .filter_map(|item| {
                let entry = self.project.catalogue.entry(&item.entry)?;
                let rated =
                    entry.item.rated().filter(|_| !matches!(entry.item, Item::Part(PartItem::Gauge(_))))?;
                Some((rated, format!("item {}, {}", item.number, entry.description)))
            })
            .chain([(supply.pump_rated, "the pump".to_owned())])
        {
            if rated < weakest.0 {
                weakest = (rated, what);
            }
        }
        weakest
    }

    fn parts_of(&self, wanted: fn(&PartItem) -> bool) -> Vec<&Part> {
        self.routing.routing.parts.iter().filter(|part| self.item(&part.entry).is_some_and(wanted)).collect()
    }

    fn gauges(&self) -> Vec<&Part> {
        self.parts_of(|item| matches!(item, PartItem::Gauge(_)))
    }

    fn filters(&self) -> Vec<String> {
        tags_of(&self.parts_of(|item| matches!(item, PartItem::InletFilter(_))))
    }

    /// The manifolds by the hose that leads to them, the nearest to the pump first.
    pub(super) fn manifolds(&self) -> Vec<&Part> {
        let mut parts = self.parts_of(|item| matches!(item, PartItem::Manifold(_)));
        parts.sort_by_key(|part| self.way_to(part.id));
        parts
    }

    /// Outlets that must be closed while hoses and manifolds are flushed and tested: one for each row feed, and those
    /// that nothing closes yet.
    pub(super) fn outlets_to_close(&self) -> usize {
        let open: usize = self
            .parts_of(|item| matches!(item, PartItem::Manifold(_)))
            .iter()
            .filter_map(|part| Some((part, self.item(&part.entry)?)))
            .map(|(part, item)| {
                let free = |port: &Port| {
                    matches!(port, Port::Outlet(_))
                        && self.routing.on_port(PortRef { part: part.id, port: *port }).is_empty()
                };
                item.ports().into_iter().filter(free).count()
            })
            .sum();
        self.routing.routing.feeds.len() + open
    }

    /// Tools for flushing, testing and catching, with the figures of this bar.
    pub(super) fn water_tools(&self) -> Vec<String> {
        let units = self.project.units;
        let mut tools = Vec::new();
        let outlets = self.outlets_to_close();
        if outlets > 0 {
            let mut sizes: Vec<String> = self
                .routing
                .feeds
                .iter()
                .filter_map(|feed| match feed.elements().next()? {
                    FeedElement::Tube(tube) => self.project.catalogue.stock(&tube.line.stock),
                    _ => None,
                })
                .map(|stock| Measure::Bore.short_text(stock.outside.si(), units))
                .collect();
            sizes.sort();
            sizes.dedup();
            let fit =
                if sizes.is_empty() { String::new() } else { format!(" for {} tube", words::list(&sizes)) };
            let rated = self.highest().map_or_else(String::new, |highest| {
                format!(", each rated for at least {}", self.pressure_text(highest.pressure))
            });
            tools.push(format!(
                "{} to close the outlets for flushing and testing, as many as outlets{fit}{rated}",
                counted(outlets, "plug")
            ));
        }
        let ends: Vec<&Run> = self.manifolds().into_iter().filter_map(|part| self.brings(part.id)).collect();
        if ends.len() > 1 {
            let mut bores: Vec<(u64, String)> = ends
                .iter()
                .filter_map(|run| self.project.catalogue.stock(&run.line.stock))
                .map(|stock| {
                    let bore = stock.bore.si();
                    ((bore * 1e6).round() as u64, Measure::Bore.short_text(bore, units))
                })
                .collect();
            bores.sort();
            bores.dedup();
            let bores: Vec<String> = bores.into_iter().map(|(_, words)| words).collect();
            tools.push(format!(
                "{} for hose ends of {} bore, to flush one at a time",
                counted(ends.len() - 1, "cap"),
                words::list(&bores)
            ));
        }
        tools.push("Cardboard on a stick to look for drips, cloths".to_owned());
        let usual = self.usual_outcomes();
        if let Some((one, all)) = catch_volumes(&usual) {
            tools.push(format!(
                "For the catch: graduated jugs that hold {} or more, stopwatch, scale, thermometer, long tape for the course",
                Measure::Catch.text(one.si() * 1.25, units)
            ));
            tools.push(format!(
                "Clean water; containers under all rows: they run together, {} in one catch; more for flush water",
                Measure::Volume.text(all.si(), units)
            ));
        } else {
            tools.push("Clean water; containers to catch all flush and test water".to_owned());
        }
        tools
    }

    fn usual_outcomes(&self) -> Vec<&Outcome> {
        let usual = self.duty.usual;
        self.outcomes.iter().chain(self.water).filter(|outcome| outcome.point.speed == usual).collect()
    }

    pub(super) fn flush_mains(&self) -> Vec<Step> {
        let mut steps = Vec::new();
        let manifolds = self.manifolds();
        let tags = tags_of(&manifolds);
        let ends: Vec<(&&Part, &Run)> =
            manifolds.iter().filter_map(|part| Some((part, self.brings(part.id)?))).collect();
        let filters = self.filters();
        if !self.routing.routing.runs.is_empty() {
            let mut details = vec![
                "Clean water, the pump at its slowest and lowest setting: no gauge shows its pressure yet"
                    .to_owned(),
                "Catch all flush water, none into ditch or drain".to_owned(),
            ];
            if ends.len() > 1 {
                let valves = if self.parts_of(|item| matches!(item, PartItem::SectionValve(_))).is_empty() {
                    ""
                } else {
                    ", or their section valve shut"
                };
                let others = ends.len() - 1;
                let on = if others == 1 {
                    "a cap on the other".to_owned()
                } else {
                    format!("caps on the {others} others")
                };
                details.push(format!("One open end at a time, {on}{valves}"));
            }
            for (part, run) in ends {
                let far = [&run.from, &run.to].into_iter().filter_map(End::port);
                let through = far
                    .filter(|port| port.part != part.id)
                    .filter_map(|port| self.routing.part(port.part))
                    .find(|far| matches!(self.item(&far.entry), Some(PartItem::Manifold(_))));
                let through = through.map_or_else(String::new, |far| {
                    format!(", once {} is joined, its outlets plugged", far.tag)
                });
                details.push(format!("{} at {}, until it runs clear{through}", run.tag, part.tag));
            }
            if !filters.is_empty() {
                details.push(format!("Then clean the screen of {}", words::tags(&filters)));
            }
            steps.push(pumping(
                "Flush the hoses with their ends at the manifolds off, from the supply outwards",
                details,
            ));
        }
        if !tags.is_empty() {
            steps.push(step(
                format!("Join and clamp the hose ends at {}", words::list(&tags)),
                vec!["Every clamp tightened once more, hinges too; gauge ports and far ends without a hose plugged".to_owned()],
            ));
            let mut details = vec![format!("Order: {}", words::list(&tags))];
            if tags.len() > 1 {
                details.push(
                    "Outlets of that manifold open over a container, those of all others plugged".to_owned(),
                );
            }
            steps.push(pumping("Flush the manifolds one at a time through their outlets", details));
        }
        let mut screwed: Vec<String> = Vec::new();
        for part in self.routing.routing.parts.iter().filter(|part| self.is_screwed_on(part)) {
            let kind = self.item(&part.entry).map_or("part", PartItem::kind);
            let onto = part.mount.map_or_else(
                || "is not mounted on a port yet".to_owned(),
                |port| {
                    let end = End::Port(port);
                    let first = if port.port == Port::Gauge || port.port == Port::Out {
                        "; take out that port's own plug first"
                    } else {
                        ""
                    };
                    format!("onto {}{first}", places::end(self.routing, &end))
                },
            );
            screwed.push(format!("{}, {kind}{}: {onto}", part.tag, self.of_item(&part.entry)));
        }
        if !screwed.is_empty() {
            screwed.push(
                "Threads sealed as their maker says, gauges turned with a spanner on their flats".to_owned(),
            );
            steps.push(step("Pump off, supply shut, lowest joint opened: fit gauges and plugs", screwed));
        }
        steps
    }

    /// Hoses and manifolds under the highest working pressure, nothing running out.
    pub(super) fn closed_test(&self) -> Vec<Step> {
        if self.routing.routing.runs.is_empty() {
            return Vec::new();
        }
        let not_yet =
            |why: String, details: Vec<String>| vec![step(format!("DO NOT TEST YET: {why}"), details)];
        let Some(highest) = self.highest() else {
            return not_yet(
                format!(
                    "the highest working pressure is not known, since the routing is not solved{}",
                    self.unsolved_duties()
                ),
                vec!["Correct what the findings say and print these papers again".to_owned()],
            );
        };
        let asked = self.pressure_text(highest.pressure);
        let (weakest, whose) = self.weakest();
        let lowest = format!(
            "Never above {}, the lowest rated pressure of any part ({whose})",
            self.pressure_text(weakest)
        );
        if highest.pressure > weakest {
            return not_yet(
                format!("work takes {asked}, more than the lowest rated pressure"),
                vec![lowest, "Change the part or the layout and print these papers again".to_owned()],
            );
        }
        let gauges = self.gauges();
        if gauges.is_empty() {
            return not_yet(
                "no gauge is in the plan to show the pressure".to_owned(),
                vec![format!(
                    "Place a gauge that reads to about twice {asked} on a gauge port, and print these papers again"
                )],
            );
        }
        let full_scale = |part: &Part| match self.item(&part.entry) {
            Some(PartItem::Gauge(Gauge { full_scale })) => Some(*full_scale),
            _ => None,
        };
        let short: Vec<String> = gauges
            .iter()
            .filter(|part| full_scale(part).is_some_and(|scale| scale < highest.pressure))
            .map(|part| part.tag.clone())
            .collect();
        if !short.is_empty() {
            return not_yet(
                format!("{} can't show {asked}", words::tags(&short)),
                vec!["Choose gauges that read to about twice that, and print these papers again".to_owned()],
            );
        }
        let shown: Vec<String> = gauges
            .iter()
            .map(|part| {
                let on = part.mount.and_then(|port| self.routing.part(port.part));
                on.map_or_else(|| part.tag.clone(), |on| format!("{} on {}", part.tag, on.tag))
            })
            .collect();
        let mut details = vec![
            lowest,
            format!(
                "That is the highest working pressure: at {}, solved, {}",
                highest.at,
                Measure::GroundSpeed.text(highest.speed.si(), self.project.units)
            ) + &if self.project.duties.are_several() {
                format!(", duty {}, the highest of all duties", highest.duty.name)
            } else {
                String::new()
            },
            format!(
                "Read it at {}{}; parts lower than a gauge bear a little more",
                words::list(&shown),
                if shown.len() > 1 { ", which show alike with nothing running" } else { "" }
            ),
        ];
        match self.project.supply.control {
            Control::Metered { limit } if limit > highest.pressure => details.push(format!(
                "With nothing running the pump climbs to its limit, now {}: set relief valve or regulator down to {asked} with \
                 the return open, before the outlets are shut. Where it can't be set so low, leave the pump off and press with \
                 a hand test pump",
                self.pressure_text(limit)
            )),
            Control::Metered { .. } | Control::Held { .. } | Control::Uncontrolled => details
                .push("See that relief valve or regulator holds the pump at that before the outlets are shut".to_owned()),
        }
        let far = self.manifolds().last().map(|part| part.tag.clone());
        details.push(format!(
            "Close the outlets: {}; fill slowly with one outlet{} open until no air comes, then pump off, close it: trapped \
             air throws what lets go",
            counted(self.outlets_to_close(), "plug"),
            far.map_or_else(String::new, |far| format!(" of each manifold, {far} last,"))
        ));
        let share = |of: f64| self.pressure_text(highest.pressure * of);
        details.push(format!(
            "Raise in steps: {}, {}, {asked}; everybody clear of plugs and hose ends, never in line with one",
            share(1.0 / 3.0),
            share(2.0 / 3.0)
        ));
        details.push(
            "At each step wait, then look for drips from the side with cardboard on a stick, never by hand; hold the last \
             five minutes"
                .to_owned(),
        );
        let mut steps = vec![pumping(
            format!("Test hoses, manifolds and their joints with water, outlets closed: up to {asked}"),
            details,
        )];
        steps.push(step(
            "Repair what dripped: let the pressure off as under Each time, mend, and test again from the lowest step until \
             nothing drips",
            Vec::new(),
        ));
        let mut after = vec!["Set the pump's limit back as the commissioning sheet says".to_owned()];
        let filters = self.filters();
        if !filters.is_empty() {
            after.push(format!("Clean the screen of {} again", words::tags(&filters)));
        }
        steps.push(step("Pressure off, supply shut, water drained: take the outlets' plugs out", after));
        steps
    }

    /// What the check on closing pressures found: rows that run on with the pump off, or have no check valve.
    fn runs_on(&self) -> Vec<String> {
        self.findings
            .iter()
            .filter(|finding| finding.kind.rule == checks::CLOSING_PRESSURE)
            .map(|finding| format!("{}: {}", finding.place, finding.what))
            .collect()
    }

    /// With the rows open: at working pressure, in the fold, and caught.
    pub(super) fn open_test(&self) -> Vec<Step> {
        let mut details = vec![
            "Wings locked, bar on its supports, openers off the ground, containers under all rows".to_owned(),
        ];
        if let Some(fastest) = self.water.last().filter(|one| one.result.is_ok()) {
            let readings: Vec<String> = self
                .gauges()
                .iter()
                .filter_map(|part| {
                    let reading = fastest.part(part.id)?.pressure?;
                    Some(format!("{} {}", part.tag, self.pressure_text(reading)))
                })
                .collect();
            if !readings.is_empty() {
                details.push(format!(
                    "At {} of the controller expect {} with water",
                    Measure::GroundSpeed.text(fastest.point.speed.si(), self.project.units),
                    words::list(&readings)
                ));
            }
        }
        details.push(
            "The rows spray now: look at the joints above them from the side, with cardboard on a stick, never by hand"
                .to_owned(),
        );
        let mut steps = vec![pumping("Second look with water at working pressure, rows open", details)];
        let found = self.runs_on();
        let mut stop = Vec::new();
        if found.is_empty() {
            stop.push(
                "No row drips on while the supply valve is still open; then shut it all the same".to_owned(),
            );
        } else {
            stop.push("EXPECT ROWS TO DRIP: shut the valve between tank and pump as soon as the pump stops, here and at work".to_owned());
            stop.extend(found);
        }
        stop.push(format!("The gauges fall, but need not fall to nothing: {}", self.held_back()));
        steps.push(step("Stop the pump and watch the rows", stop));
        steps.push(step(
            "Repair what leaked: let the pressure off as under Each time, mend, look again until nothing drips",
            Vec::new(),
        ));
        if self.folds() {
            let mut fold = folding(
                "Supply shut, pressure off, hoses full: fold once into transport position and back",
                vec!["No hose pinched; only what stands below the check valves may drip".to_owned()],
            );
            fold.cautions.push(cautions::road());
            steps.push(fold);
        }
        let gauges = tags_of(&self.gauges());
        let read =
            if gauges.is_empty() { String::new() } else { format!(", reading {}", words::tags(&gauges)) };
        let water_columns = "Water columns of the sheet; the jugs emptied into a container, no row missed";
        let to_ground = "Only when every row is within its limits does the bar go to the ground";
        let mut caught = vec![if self.is_water { to_ground } else { water_columns }.to_owned()];
        let filters = self.filters();
        if !filters.is_empty() {
            caught.push(format!("Afterwards clean the screen of {} again", words::tags(&filters)));
        }
        steps.push(pumping(
            format!("Catch test with water on the stand after the commissioning sheet{read}"),
            caught,
        ));
        steps
    }

    /// What check valves keep in the tubes, in words.
    pub(super) fn held_back(&self) -> String {
        let cracking = self.items.iter().filter_map(|item| match self.item(&item.entry)? {
            Item::Element(ElementItem::CheckValve(CheckValve { cracking, .. })) => Some(*cracking),
            _ => None,
        });
        cracking.reduce(Pressure::max).map_or_else(
            || "the tank stands on the hoses".to_owned(),
            |most| {
                format!(
                    "the check valves hold up to {} in hoses and tubes, their cracking pressure",
                    self.pressure_text(most)
                )
            },
        )
    }

    /// The liquid in the bar for the first time.
    pub(super) fn first_fill(&self) -> Vec<Step> {
        if self.is_water || self.routing.routing.feeds.is_empty() {
            return Vec::new();
        }
        let name = &self.duty.liquid.name;
        let mut fill = pumping(
            format!("First fill with {name}"),
            vec![
                "Label and safety data sheet read, mix jar-tested, rinsing water at hand, pump off while connecting".to_owned(),
                "Water drained first; what stays thins the first catch: run every row until the liquid comes without air".to_owned(),
                "Catch all of it, none on the ground; look at every joint once more from the side".to_owned(),
            ],
        );
        fill.cautions.push(cautions::chemicals());
        let mut catch = pumping(
            format!("Catch test with {name}: liquid columns of the commissioning sheet"),
            vec![
                "Take its temperature and weigh a full jug for its density before reading anything"
                    .to_owned(),
                "Only when every row is within its limits does the bar go to the ground".to_owned(),
            ],
        );
        catch.cautions.push(cautions::chemicals());
        vec![fill, catch]
    }

    /// Rinsing, frost, papers.
    pub(super) fn afterwards(&self) -> Vec<Step> {
        let filters = self.filters();
        let mut steps = Vec::new();
        if !self.routing.routing.runs.is_empty() {
            let mut details = vec![
                "Clean water until it runs clear at the last row of every manifold; catch it, use or dispose of it as label and local rules say".to_owned(),
            ];
            if !filters.is_empty() {
                details.push(format!("Clean the screen of {}", words::tags(&filters)));
            }
            let mut rinse = pumping("Rinse before storage and before any other liquid", details);
            rinse.cautions.push(cautions::chemicals());
            steps.push(rinse);
            steps.push(step(
                "Before frost: no water left in pump, filter, valves, manifolds, gauges and hose sags",
                vec![
                    "Open the lowest joints, or fill with what the makers of pump and hoses allow; store gauges free of frost".to_owned(),
                    "Before the next season test again with the outlets closed".to_owned(),
                ],
            ));
        }
        steps.push(step(
            "Hand over: layout and schematic sheets, parts and cut lists, the filled-in commissioning sheet, spares",
            Vec::new(),
        ));
        steps
    }
}

fn tags_of(parts: &[&Part]) -> Vec<String> {
    parts.iter().map(|part| part.tag.clone()).collect()
}
