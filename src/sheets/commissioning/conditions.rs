//! Under which conditions the figures hold, and the limits they are held to.

use crate::hydraulics::targets::{course_of_128th_acre, course_seconds};
use crate::plan::cutting::MovingEnd;
use crate::plan::row_target::width;
use crate::plan::supply::RELIEF_TOLERANCE;
use crate::plan::{Bar, Control, CurvePoint, LaidRouting, Project, ReliefValve, Source, ratings, words};
use crate::quantities::{Length, Measure, Pressure, Ratio, UnitSystem};
use crate::sheets::basis::Basis;
use crate::sheets::document::{PaperCell, PaperColumn, PaperTable};
use crate::studies::catch_test::sheet_facts::{CATCH_AT, CATCH_TIME, RATE, SHEET_OF, sheet_of};

/// Course on which the ground speed is timed.
const COURSE: Length = Length::metres(100.0);

/// Strips nearer than this are alike.
const SAME_STRIP: Length = Length::metres(1e-4);

fn source_word(source: &Source, units: UnitSystem) -> String {
    match source {
        Source::Measured | Source::Published => source.words(),
        Source::Calibrated(by) => by.words_with_interval(units),
        Source::Assumed => "ASSUMED, nobody measured it".to_owned(),
    }
}

/// What the solve leaves out of the lengths that are cut: loops of hoses and tubes that nobody has measured as cut.
fn solved_lengths(project: &Project, routing: LaidRouting) -> Option<String> {
    let runs = routing.runs.iter().filter_map(|run| routing.geometry.run(run.id)?.moving_end);
    let feeds = routing.feeds.iter().filter_map(|feed| routing.geometry.feed(feed.id));
    let tubes = feeds.flat_map(|feed| feed.tubes().filter_map(|tube| tube.moving_end).collect::<Vec<_>>());
    let ends: Vec<MovingEnd> = runs.chain(tubes).collect();
    let at = |end: MovingEnd, name: &str| {
        let spare = Measure::CutLength.short_text(end.spare(&project.limits).si(), project.units);
        ends.contains(&end).then(|| format!("{spare} at {name}"))
    };
    let loops: Vec<String> =
        [at(MovingEnd::Opener, "openers"), at(MovingEnd::Hitch, "the hitch")].into_iter().flatten().collect();
    (!loops.is_empty()).then(|| {
        format!(
            "as drawn with slack and hinge allowances; the loops of the cut list ({}) count once the lengths as cut are read back",
            words::list(&loops)
        )
    })
}

/// A table, so that files for other programs hold it too.
///
/// With the time every row is caught for, in seconds, where rows flow.
pub(super) fn conditions(basis: &Basis, catch_seconds: Option<f64>) -> PaperTable {
    let (project, routing, duty) = (basis.project, basis.routing, basis.duty);
    let units = project.units;
    let fact = |name: &str, value: String| (name.to_owned(), value);
    let mut facts = vec![
        // What is on every page stands here for whoever reads a filled-in file back.
        fact(SHEET_OF, sheet_of(project, &routing, project.duties.are_several().then_some(duty))),
        fact(RATE, Measure::Rate.text(duty.rate.si(), units)),
        fact("Liquid", duty.liquid.name.clone()),
    ];
    let temperature = Measure::Temperature.text(duty.temperature.si(), units);
    match duty.liquid.at(duty.temperature) {
        Some(state) => {
            let outside =
                if state.outside_table { "; OUTSIDE the liquid's table, nearest value used" } else { "" };
            facts.push(fact(
                "Density",
                format!(
                    "{} at {temperature}, {}{outside}",
                    Measure::Density.text(state.density.si(), units),
                    source_word(&duty.liquid.density_source, units)
                ),
            ));
            facts.push(fact(
                "Viscosity",
                format!(
                    "{} at {temperature}, {}{outside}",
                    Measure::Viscosity.text(state.viscosity.si(), units),
                    source_word(&duty.liquid.viscosity_source, units)
                ),
            ));
        }
        None => facts.push(fact("Density and viscosity", "not known".to_owned())),
    }
    if let Some(caution) = duty.liquid.caution() {
        facts.push(fact("Pressures and flows", caution.sentence().to_owned()));
    }
    facts.push(fact(
        "Slope",
        format!(
            "side {}, fore-aft {}",
            words::side_slope(duty.side_slope, units),
            words::fore_aft_slope(duty.fore_aft_slope, units)
        ),
    ));
    let control = match project.supply.control {
        Control::Metered { limit } => {
            format!("metered flow, up to {} at the pump", Measure::Pressure.text(limit.si(), units))
        }
        Control::Held { pressure } => {
            format!("constant pressure at the pump of {}", Measure::Pressure.text(pressure.si(), units))
        }
        Control::Uncontrolled => "nothing controlled: the pump runs on its curve".to_owned(),
    };
    facts.push(fact("Pump control", control));
    facts.push(fact("Relief valve", relief_valve(project, routing)));
    if let Some(test) = basis.closed_test() {
        let pressure = Measure::Pressure.text(test.pressure.si(), units);
        let said = basis.release().stop_words(units).map(|stop| stop.replacen("stop", "STOP", 1));
        let just_below = if test.opens_valve { "just below " } else { "" };
        let done =
            || format!("{just_below}{pressure}, outlets closed, with water, before anything is filled");
        facts.push(fact("Pressure test", said.unwrap_or_else(done)));
    }
    if !project.supply.pump_curve.is_empty() {
        let point = |point: &CurvePoint| {
            format!(
                "{} at {}",
                Measure::Pressure.text(point.pressure.si(), units),
                Measure::TotalFlow.text(point.flow.si(), units)
            )
        };
        let points: Vec<String> = project.supply.pump_curve.iter().map(point).collect();
        facts.push(fact("Pump curve", format!("{}; straight between", points.join(", "))));
    }
    // Rows of different strips would each have a course of their own.
    let strip = one_strip(&project.bar).filter(|_| units == UnitSystem::UsCustomary);
    if let Some(strip) = strip {
        let course = course_of_128th_acre(strip);
        facts.push(fact(
            "Course of 1/128 acre",
            format!(
                "{} for one row: fluid ounces caught over it are gallons an acre",
                Measure::Distance.text(course.si(), units)
            ),
        ));
    }
    facts.push(fact(
        "Ground speed check",
        format!(
            "{} in {:.1} s at the usual {}",
            travel(COURSE, units),
            course_seconds(COURSE, duty.usual),
            Measure::GroundSpeed.text(duty.usual.si(), units)
        ),
    ));
    facts.extend(solved_lengths(project, routing).map(|words| fact("Lengths solved", words)));
    if let Some(seconds) = catch_seconds {
        facts.push(fact(CATCH_AT, Measure::GroundSpeed.text(duty.usual.si(), units)));
        facts.push(fact(CATCH_TIME, format!("{seconds:.0}")));
    }
    PaperTable {
        caption: "Conditions".to_owned(),
        columns: vec![PaperColumn::text("Condition", 1.0), PaperColumn::text("Value", 3.6)],
        rows: facts
            .into_iter()
            .map(|(name, value)| vec![PaperCell::text(name), PaperCell::text(value)])
            .collect(),
        ..PaperTable::default()
    }
}

/// What guards the bar against more pressure than it bears, and how much that is.
fn relief_valve(project: &Project, routing: LaidRouting) -> String {
    let pressure = |one: Pressure| Measure::Pressure.text(one.si(), project.units);
    let bears = ratings::lowest(project, routing, project.warmest()).map_or_else(
        |_| "what the bar bears is NOT KNOWN".to_owned(),
        |lowest| format!("the bar bears {} ({})", pressure(lowest.pressure), project.rating_words(&lowest)),
    );
    match project.supply.relief_valve {
        ReliefValve::OpensAt(opens) => {
            let latest = project.supply.relief_valve.opens_by();
            let lowest = ratings::lowest(project, routing, project.warmest()).ok();
            let late = latest
                .zip(lowest)
                .filter(|(latest, lowest)| *latest > lowest.pressure && opens <= lowest.pressure);
            let late = late.map_or_else(String::new, |(latest, _)| {
                let tolerance = Measure::Percent.short_text(RELIEF_TOLERANCE, project.units);
                format!(
                    "; with a tolerance of {tolerance} it MAY OPEN ONLY AT {}, above that",
                    pressure(latest)
                )
            });
            format!("opens at {}; {bears}{late}", pressure(opens))
        }
        ReliefValve::Absent => format!("NONE; {bears}"),
        ReliefValve::NotSaid => format!("NOBODY SAID whether there is one; {bears}"),
    }
}

/// The strip of ground that every row stands for; none where they differ.
fn one_strip(bar: &Bar) -> Option<Length> {
    let mut strips = bar.rows.iter().filter(|row| !row.left_out).map(|row| width(bar, row));
    let first = strips.next()?;
    strips.all(|strip| (strip - first).abs() < SAME_STRIP && first > Length::ZERO).then_some(first)
}

/// What the bands and limits mean; a table, so that files for other programs say what their columns are. Catches are taken
/// over their targets where rows have different ones.
pub(super) fn limits(project: &Project, targets_differ: bool) -> PaperTable {
    let units = project.units;
    let limits = &project.limits;
    let percent = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), units);
    let facts = [
        (
            "Drawn from, drawn to",
            format!(
                "±{} of what this routing is computed to give a row: is the bar built as drawn? Outside: look for the fault on \
                 the bar. Too much: metering worn, cracked, missing or of another size. Too little: plugged, kinked, a valve \
                 held shut. Mend it and catch again",
                percent(limits.row_deviation)
            ),
        ),
        (
            "Target from, target to",
            format!(
                "±{} of what a row should get: is the design good enough? Outside although the row lies within the band of \
                 what is drawn: nothing on the bar is at fault, so swap nothing there; give the catches back to whoever \
                 designed it. No seeding until every row lies within this band",
                percent(limits.row_deviation)
            ),
        ),
        (
            "Limit of evenness",
            format!(
                "coefficient of variation of {} (n − 1) up to {} good, up to {} acceptable",
                if targets_differ { "catch over target" } else { "the catches" },
                percent(limits.cv_good),
                percent(limits.cv_acceptable)
            ),
        ),
    ];
    PaperTable {
        caption: "Bands and limits".to_owned(),
        columns: vec![PaperColumn::text("Limit", 1.0), PaperColumn::text("What it says", 5.0)],
        rows: facts
            .into_iter()
            .map(|(name, value)| vec![PaperCell::text(name), PaperCell::text(value)])
            .collect(),
        ..PaperTable::default()
    }
}

/// How far it is driven, in whole metres or feet where that is near enough to measure out.
pub(super) fn travel(distance: Length, units: UnitSystem) -> String {
    /// A share of the distance.
    const NEAR_ENOUGH: f64 = 1e-3;
    let whole = Measure::Driven.rounded(distance.si(), units);
    let measure = if (whole - distance.si()).abs() <= NEAR_ENOUGH * distance.si() {
        Measure::Driven
    } else {
        Measure::Distance
    };
    measure.text(distance.si(), units)
}
