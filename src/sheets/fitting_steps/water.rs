//! The steps in which water or liquid runs through open rows, and what they take: the leak check and the catch, the first
//! fill, rinsing. Times and habits are common practice, no source; every figure is solved or the plan's.

use super::watch::OnTheBar;
use super::work::{Work, folding, pumping, step, tags_of};
use crate::checks;
use crate::hydraulics::Outcome;
use crate::plan::{CheckValve, ElementItem, Item, Part, words};
use crate::quantities::{Flow, Measure, Pressure, Speed};
use crate::sheets::commissioning::catch_volumes;
use crate::sheets::document::{FittingStep, Hazard};
use crate::sheets::extras::{Extra, ExtraKind, lower};

impl Work<'_> {
    /// Tools for flushing, testing and catching, with the figures of this bar.
    pub(super) fn water_tools(&self) -> Vec<String> {
        let units = self.project.units;
        let mut tools = Vec::new();
        let words = |extra: &Extra| {
            let times = format!("{} × item {}", extra.quantity, extra.number);
            format!("{times}: {}, {}", lower(&extra.description), extra.size)
        };
        let closes = |extra: &&Extra| matches!(extra.kind, ExtraKind::TestPlug | ExtraKind::FlushCap);
        tools.extend(self.extras.iter().filter(closes).map(words));
        let usual = self.usual_outcomes();
        if let Some((one, all)) = catch_volumes(&usual) {
            tools.push(format!(
                "For the catch: graduated jugs that hold {} or more, stopwatch, scale, thermometer, long tape for the course",
                Measure::Catch.text(one.si() * 1.25, units)
            ));
            tools.push(format!(
                "Cardboard, cloths, clean water; containers under all rows: they run together, {} in one catch; more for flush \
                 water",
                Measure::Volume.text(all.si(), units)
            ));
        } else {
            tools.push(
                "Cardboard, cloths, clean water; containers to catch all flush and test water".to_owned(),
            );
        }
        tools
    }

    fn usual_outcomes(&self) -> Vec<&Outcome> {
        let usual = self.duty.usual;
        self.outcomes.iter().chain(self.water).filter(|outcome| outcome.point.speed == usual).collect()
    }

    /// What the check on closing pressures found: rows that run on with the pump off, or have no check valve.
    fn runs_on(&self) -> Vec<String> {
        self.findings
            .iter()
            .filter(|finding| finding.kind.rule == checks::CLOSING_PRESSURE)
            .map(|finding| format!("{}: {}", finding.place, finding.what))
            .collect()
    }

    /// What is read in a solve: `the pump 2.59 bar, G1 1.65 bar and G2 1.60 bar`.
    fn readings(&self, outcome: &Outcome) -> String {
        let reading = |part: &&Part| {
            let pressure = outcome.part(part.id)?.pressure?;
            Some(format!("{} {}", part.tag, self.pressure_text(pressure)))
        };
        let gauges = self.gauges();
        let pump = outcome.numbers().map(|one| format!("the pump {}", self.pressure_text(one.pump_pressure)));
        let read: Vec<String> = pump.into_iter().chain(gauges.iter().filter_map(reading)).collect();
        words::list(&read)
    }

    /// The setting at which water tries the joints as hard as the liquid will, or that none does.
    fn at_working_pressure(&self) -> Option<String> {
        let units = self.project.units;
        let speed = |speed: Speed| Measure::GroundSpeed.text(speed.si(), units);
        let Some(check) = self.leak_check else {
            let fastest = self.water.last().filter(|one| one.result.is_ok())?;
            let set = speed(fastest.point.speed);
            return Some(if self.project.supply.follows_speed() {
                format!(
                    "At {set} of the controller, the fastest, expect {} with water",
                    self.readings(fastest)
                )
            } else {
                format!("Expect {} with water", self.readings(fastest))
            });
        };
        let at = speed(check.speed);
        let liquid = format!("{} at the pump at {at}", self.pressure_text(check.liquid));
        let (set, read) = (speed(check.water.point.speed), self.readings(&check.water));
        let total = check.water.numbers().map_or(Flow::ZERO, |numbers| numbers.total_flow);
        let total = Measure::TotalFlow.text(total.si(), self.project.units);
        Some(if check.is_reached {
            format!(
                "Set the controller to {set}, {total} in all: with water it takes that to reach what the liquid reaches at {at}; \
                 expect {read}"
            )
        } else if self.project.supply.follows_speed() {
            format!(
                "With water the bar reaches no more than {read}, the controller at {set}: LOWER than with the liquid, {liquid}; so \
                 look at every joint again when the liquid is first at its fastest"
            )
        } else {
            format!(
                "Expect {read} with water: LOWER than with the liquid, {liquid}; so look at every joint again when the liquid \
                 first runs"
            )
        })
    }

    /// With the rows open: at working pressure, in the fold, and caught.
    pub(super) fn open_test(&self) -> Vec<FittingStep> {
        let mut details = vec![
            "Wings locked, bar on its supports, openers off the ground, containers under all rows, which spray now"
                .to_owned(),
        ];
        details.extend(self.at_working_pressure());
        details.push("What leaks: let the pressure off, mend, and check again until nothing does".to_owned());
        let mut steps = vec![pumping("Leak check with water at working pressure, rows open", details)];
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
        steps.push(pumping("Stop the pump and watch the rows", stop));
        if self.folds() {
            let mut watched =
                vec!["No hose pinched; only what stands below the check valves may drip".to_owned()];
            watched.extend(self.watch_in_fold(&[OnTheBar::Hoses, OnTheBar::Tubes]));
            watched.extend(self.folded_liquid());
            let mut fold = folding(
                "Supply shut, pressure off, hoses full: fold once into transport position and back",
                watched,
            );
            fold.hazards.push(Hazard::Road);
            steps.push(fold);
        }
        let gauges = tags_of(&self.gauges());
        let read =
            if gauges.is_empty() { String::new() } else { format!(", reading {}", words::tags(&gauges)) };
        let mut caught = vec![
            "The jugs emptied into a container, no row missed; what to do with a row outside a band stands on the sheet"
                .to_owned(),
        ];
        if self.is_water {
            caught.push(TO_THE_GROUND.to_owned());
        }
        caught.extend(self.clean_screens());
        steps.push(pumping(
            format!(
                "Catch test with water on the stand, {} of the commissioning sheet{read}",
                if self.water_differs { "water columns" } else { "columns" }
            ),
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
    pub(super) fn first_fill(&self) -> Vec<FittingStep> {
        if self.is_water || self.routing.routing.feeds.is_empty() {
            return Vec::new();
        }
        let name = &self.duty.liquid.name;
        let mut fill = pumping(
            format!("First fill with {name}"),
            vec![
                "Label and safety data sheet read, mix jar-tested, rinsing water at hand, pump off while connecting".to_owned(),
                "Water drained first; what stays thins the first catch: run every row until the liquid comes without air, \
                 and catch all of it; look at every joint once more"
                    .to_owned(),
            ],
        );
        fill.hazards.push(Hazard::Chemicals);
        let mut catch = pumping(
            format!(
                "Catch test with {name}: {} of the commissioning sheet",
                if self.water_differs { "liquid columns" } else { "columns" }
            ),
            vec![
                "Take its temperature and weigh a full jug for its density before reading anything"
                    .to_owned(),
                TO_THE_GROUND.to_owned(),
            ],
        );
        catch.hazards.push(Hazard::Chemicals);
        vec![fill, catch]
    }

    /// Rinsing, frost, papers.
    pub(super) fn afterwards(&self) -> Vec<FittingStep> {
        let mut steps = Vec::new();
        if !self.routing.routing.runs.is_empty() {
            let mut details = vec![
                "Clean water until it runs clear at the last row of every manifold; catch it, use or dispose of it as label and local rules say".to_owned(),
            ];
            details.extend(self.clean_screens());
            let mut rinse = pumping("Rinse before storage and before any other liquid", details);
            if !self.is_water {
                rinse.hazards.push(Hazard::Chemicals);
            }
            steps.push(rinse);
            let mut drain = pumping(
                "Before frost: no water left in pump, filter, valves, manifolds, gauges and hose sags",
                vec![
                    "Open the lowest joints, or fill with what the makers of pump and hoses allow; store gauges free of frost; \
                     before the next season test again with the outlets closed"
                        .to_owned(),
                ],
            );
            drain.hazards.extend([Hazard::Chemicals].into_iter().filter(|one| self.applies(*one)));
            steps.push(drain);
        }
        steps.push(step(
            "Hand over: layout and schematic sheets, parts and cut lists, the filled-in commissioning sheet, spares",
            Vec::new(),
        ));
        steps
    }
}

/// When seeding may begin.
const TO_THE_GROUND: &str =
    "Only when every row is within its band around the target does the bar go to the ground";
