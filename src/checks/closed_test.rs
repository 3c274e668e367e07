//! Whether hoses and manifolds may be tested under pressure with the outlets closed: one answer for steps, commissioning
//! sheet, release, lists and the command line.

use crate::hydraulics::Outcome;
use crate::plan::ratings::{Rating, Unrated, lowest};
use crate::plan::{LaidRouting, PartItem, Project, ReliefValve, words};
use crate::quantities::{Measure, Pressure, Speed, UnitSystem};

/// The test of hoses, manifolds and their joints with water, before any row is fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct ClosedTest {
    /// What it goes up to: what the pump reaches once nothing runs out.
    pub pressure: Pressure,
    /// The lowest rating of all that is on the bar, or what has none while that keeps it from being told.
    pub lowest: Result<Rating, Unrated>,
    /// The relief valve opens at the test's pressure, so that the last of it has to be held just below.
    pub opens_valve: bool,
    /// Why it can't be asked for; empty where it can.
    pub stops: Vec<StopReason>,
}

/// Why the pressure test can't be asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum StopReason {
    /// There are no flows, so that nobody knows the pressures at work.
    NotSolved {
        /// Names of the duties that are not solved, where the project has several.
        duties: Vec<String>,
    },
    /// Something that stands under pressure has no rating.
    RatingUnknown {
        /// What, in words, each kind once.
        of: Vec<String>,
    },
    /// Nothing keeps the pump from more than the bar bears: there is no relief valve, or nobody said.
    NoReliefValve {
        /// Somebody said that there is none.
        is_said: bool,
        /// The lowest rating, where that is known.
        bears: Option<Pressure>,
    },
    /// The relief valve opens above the lowest rating.
    ReliefTooHigh {
        /// What it opens at.
        opens: Pressure,
        /// The lowest rating.
        bears: Pressure,
        /// Whose that is.
        whose: String,
    },
    /// The relief valve opens at the pressure of work or below it.
    ReliefAtWork {
        /// What it opens at.
        opens: Pressure,
        /// The highest pressure at the pump.
        working: Pressure,
        /// The ground speed of that.
        speed: Speed,
    },
    /// With the outlets closed the pump reaches more than the lowest rating.
    AboveRating {
        /// What it reaches.
        reach: Pressure,
        /// The lowest rating.
        bears: Pressure,
        /// Whose that is.
        whose: String,
    },
    /// No gauge shows the pressure.
    NoGauge {
        /// What it would have to show.
        reach: Pressure,
    },
}

impl ClosedTest {
    /// For a routing and the solves of all duties with their liquids at their slowest, usual and fastest speeds; none where
    /// there is no hose to be tested.
    pub fn of<'a>(
        project: &Project,
        routing: LaidRouting,
        outcomes: impl IntoIterator<Item = &'a Outcome>,
    ) -> Option<Self> {
        if routing.runs.is_empty() {
            return None;
        }
        let supply = &project.supply;
        let mut stops = Vec::new();
        let mut unsolved: Vec<String> = Vec::new();
        let mut is_solved = true;
        let mut working: Option<(Pressure, Speed)> = None;
        for outcome in outcomes {
            let Some(numbers) = outcome.numbers() else {
                is_solved = false;
                let name = project.duty(outcome.point.duty).name.clone();
                if project.duties.are_several() && !unsolved.contains(&name) {
                    unsolved.push(name);
                }
                continue;
            };
            if working.is_none_or(|(known, _)| numbers.pump_pressure > known) {
                working = Some((numbers.pump_pressure, outcome.point.speed));
            }
        }
        if !is_solved || working.is_none() {
            stops.push(StopReason::NotSolved { duties: unsolved });
        }
        let reach = supply.highest_pressure();
        let lowest = lowest(project, routing, project.warmest());
        match &lowest {
            Err(missing) => stops.push(StopReason::RatingUnknown { of: missing.words(project) }),
            Ok(rating) if reach > rating.pressure => stops.push(StopReason::AboveRating {
                reach,
                bears: rating.pressure,
                whose: project.rating_words(rating),
            }),
            Ok(_) => {}
        }
        let bears = lowest.as_ref().ok().map(|rating| rating.pressure);
        stops.extend(guard(project, lowest.as_ref().ok(), bears));
        if let Some((opens, (working, speed))) = supply.relief_valve.opens_at().zip(working)
            && working >= opens
        {
            stops.push(StopReason::ReliefAtWork { opens, working, speed });
        }
        let is_gauge = |entry| matches!(project.catalogue.item(entry), Some(PartItem::Gauge(_)));
        if !routing.parts.iter().any(|part| is_gauge(&part.entry)) {
            stops.push(StopReason::NoGauge { reach });
        }
        let opens_valve = supply.relief_valve.opens_at() == Some(reach);
        Some(Self { pressure: reach, lowest, opens_valve, stops })
    }
}

/// What is wrong with what guards the bar. Of a pump that can't reach the lowest rating against a shut valve no relief valve
/// is needed.
fn guard(project: &Project, lowest: Option<&Rating>, bears: Option<Pressure>) -> Option<StopReason> {
    let shut = project.supply.pump_curve.first().map(|point| point.pressure);
    let is_harmless = shut.zip(bears).is_some_and(|(shut, bears)| shut <= bears);
    match project.supply.relief_valve {
        ReliefValve::OpensAt(opens) => lowest.filter(|rating| opens > rating.pressure).map(|rating| {
            StopReason::ReliefTooHigh { opens, bears: rating.pressure, whose: project.rating_words(rating) }
        }),
        _ if is_harmless => None,
        ReliefValve::Absent => Some(StopReason::NoReliefValve { is_said: true, bears }),
        ReliefValve::NotSaid => Some(StopReason::NoReliefValve { is_said: false, bears }),
    }
}

impl StopReason {
    /// Lower case, without a full stop.
    pub fn words(&self, units: UnitSystem) -> String {
        let text = |pressure: &Pressure| Measure::Pressure.text(pressure.si(), units);
        let apart = |pressure: &Pressure, limit: &Pressure| {
            Measure::Pressure.text_apart(pressure.si(), limit.si(), units)
        };
        match self {
            Self::NotSolved { duties } if duties.is_empty() => {
                "the working pressure is not known, since the routing is not solved".to_owned()
            }
            Self::NotSolved { duties } => format!(
                "the working pressure is not known, since the routing is not solved for duty {}",
                words::list(duties)
            ),
            Self::RatingUnknown { of } => {
                format!("nobody knows what the bar bears, there is no rating of {}", words::short_list(of, 4))
            }
            Self::NoReliefValve { is_said: true, .. } => {
                "there is no relief valve, and nothing keeps the pump from more than the bar bears".to_owned()
            }
            Self::NoReliefValve { is_said: false, .. } => {
                "nobody said whether a relief valve guards the bar".to_owned()
            }
            Self::ReliefTooHigh { opens, bears, whose } => format!(
                "the relief valve opens at {}, above the lowest rating of {} ({whose})",
                apart(opens, bears),
                text(bears)
            ),
            Self::ReliefAtWork { opens, working, speed } => format!(
                "the relief valve opens at {}, but at work the pump gives {} at {}",
                text(opens),
                apart(working, opens),
                Measure::GroundSpeed.short_text(speed.si(), units)
            ),
            Self::AboveRating { reach, bears, whose } => format!(
                "with the outlets closed the pump reaches {}, more than the lowest rating of {} ({whose})",
                apart(reach, bears),
                text(bears)
            ),
            Self::NoGauge { reach } => format!("no gauge is in the plan to show {}", text(reach)),
        }
    }

    /// What to enter or to fit before it can be asked for; lower case, without a full stop.
    pub fn advice(&self, units: UnitSystem) -> String {
        let text = |pressure: &Pressure| Measure::Pressure.text(pressure.si(), units);
        match self {
            Self::NotSolved { .. } => "correct what the findings say".to_owned(),
            Self::RatingUnknown { .. } => {
                "enter the ratings in the catalogue, or under Supply what the weakest of these bears"
                    .to_owned()
            }
            Self::NoReliefValve { is_said, bears } => {
                let no_more = bears.as_ref().map_or_else(|| "the lowest rating on the bar".to_owned(), text);
                if *is_said {
                    format!(
                        "fit a relief valve at the pump that opens at {no_more} or less, and enter it under Supply"
                    )
                } else {
                    format!(
                        "look at the pump and enter under Supply what its relief valve opens at; without one fit one that \
                         opens at {no_more} or less"
                    )
                }
            }
            Self::ReliefTooHigh { bears, .. } => {
                format!("set the relief valve to {} or less, or use parts with a higher rating", text(bears))
            }
            Self::ReliefAtWork { .. } => {
                "set the relief valve higher if the ratings allow, or fit larger metering or wider hoses"
                    .to_owned()
            }
            Self::AboveRating { bears, .. } => format!(
                "set the pump's limit or its relief valve to {} or less, or use a part that bears more; of a gauge its full \
                 scale counts",
                text(bears)
            ),
            Self::NoGauge { reach } => {
                format!("place a gauge that reads beyond {} on a gauge port", text(reach))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Control, CurvePoint, ElementItem, Item};
    use crate::quantities::Flow;

    fn test(sample: &Sample) -> ClosedTest {
        ClosedTest::of(&sample.project, sample.geometry().with(&sample.routing), [&sample.outcome]).unwrap()
    }

    fn stops(sample: &Sample) -> Vec<String> {
        test(sample).stops.iter().map(|one| one.words(UnitSystem::Metric)).collect()
    }

    /// The sample with a gauge to 4 bar, a limit of 3 bar and a relief valve of 3.5 bar.
    fn sound() -> Sample {
        let mut sample = Sample::new();
        sample.add_gauge();
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(3.0) };
        sample.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(3.5));
        sample
    }

    #[test]
    fn a_sound_bar_is_tested_at_what_the_pump_reaches() {
        let mut sample = sound();
        assert_eq!((stops(&sample), test(&sample).opens_valve), (Vec::new(), false));
        assert_eq!(test(&sample).pressure, Pressure::bar(3.0));
        sample.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(3.0));
        assert!(test(&sample).opens_valve && test(&sample).stops.is_empty());
        sample.routing.runs.clear();
        let laid = sample.geometry();
        let none = ClosedTest::of(&sample.project, laid.with(&sample.routing), [&sample.outcome]);
        assert_eq!(none, None, "nothing is under pressure");
    }

    /// The pump of the sample is rated for 6 bar, its gauge reads to 4 bar, and at work it gives 2.5 bar.
    #[test]
    fn each_reason_stops_it_and_says_what_to_do() {
        type Change = fn(&mut Sample);
        let cases: [(Change, &str, &str); 8] = [
            (
                |one| {
                    one.project.supply.weakest_rated = None;
                    one.set_item("orifice", |item| {
                        if let Item::Element(ElementItem::MeteringOrifice(orifice)) = item {
                            orifice.rated = None;
                        }
                    });
                },
                "nobody knows what the bar bears",
                "enter the ratings",
            ),
            (
                |one| one.project.supply.relief_valve = ReliefValve::NotSaid,
                "nobody said whether a relief valve",
                "4.00 bar or less",
            ),
            (
                |one| one.project.supply.relief_valve = ReliefValve::Absent,
                "there is no relief valve",
                "fit a relief valve",
            ),
            (
                |one| one.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(4.1)),
                "opens at 4.10 bar, above the lowest rating of 4.00 bar (the gauge's full scale)",
                "set the relief valve to 4.00 bar or less",
            ),
            (
                |one| one.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(2.5)),
                "the relief valve opens at 2.50 bar, but at work the pump gives 2.50 bar at 9 km/h",
                "set the relief valve higher",
            ),
            (
                |one| {
                    one.project.supply.weakest_rated = Some(Pressure::bar(2.7));
                },
                "the pump reaches 3.00 bar, more than the lowest rating of 2.70 bar (the weakest part",
                "or use a part that bears more",
            ),
            (
                |one| one.routing.parts.retain(|part| part.tag != "G1"),
                "no gauge is in the plan to show 3.00 bar",
                "place a gauge",
            ),
            (
                |one| one.outcome.result = Err(crate::hydraulics::NoNumbers::NothingFed),
                "since the routing is not solved",
                "correct what",
            ),
        ];
        for (change, says, advice) in cases {
            let mut sample = sound();
            change(&mut sample);
            let found = test(&sample).stops;
            let hit = found.iter().find(|one| one.words(UnitSystem::Metric).contains(says));
            let hit = hit.unwrap_or_else(|| panic!("{says}: {:?}", stops(&sample)));
            assert!(hit.advice(UnitSystem::Metric).contains(advice), "{}", hit.advice(UnitSystem::Metric));
        }
    }

    #[test]
    fn a_pump_that_can_t_reach_the_lowest_rating_needs_no_valve() {
        let mut sample = sound();
        for relief in [ReliefValve::Absent, ReliefValve::NotSaid] {
            sample.project.supply.relief_valve = relief;
            for (bar, stopped) in [(4.0, false), (4.1, true)] {
                sample.project.supply.pump_curve = vec![
                    CurvePoint { flow: Flow::ZERO, pressure: Pressure::bar(bar) },
                    CurvePoint { flow: Flow::litres_per_minute(100.0), pressure: Pressure::bar(1.0) },
                ];
                assert_eq!(!test(&sample).stops.is_empty(), stopped, "{relief:?}, {bar}");
            }
        }
    }
}
