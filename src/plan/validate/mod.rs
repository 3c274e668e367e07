//! The rules that a plan keeps: names unique, references alive, numbers finite and in range.
//!
//! A file that breaks one is not opened; an edit that would break one is refused. Each problem says where, what,
//! and what to try.

mod bar;
mod catalogue;
mod catch_test;
mod review;
mod routing;
mod size;

pub use bar::bar;
pub use catalogue::{catalogue, entry};
pub use catch_test::{catch_list, catch_test};
pub use review::FARTHEST;
pub use routing::{feed, feed_in_place, part, routing, run, run_in_place};

use catch_test::{bar_alone, tested_bar_place};
use review::{MOST_PRESSURE, Review, unique};
use size::{added_lines_size, liquid_place, liquid_size, project_size};

use super::added_line::MOST_OF_A_LINE;
use super::bounds::Bound;
use super::cause_weights::{self, MOST_WEIGHT};
use super::dismissal::Dismissal;
use super::limits;
use super::problems::Problems;
use super::project::{Project, TitleBlock};
use super::spreads;
use super::supply::Control;
use super::wetted_material;
use super::words::{called, short};
use super::{
    AddedLine, CatchTests, CauseKind, CauseWeights, Duty, Limits, Liquid, Spreads, Supply, TestedBar,
    TransportLimits,
};
use crate::geometry::Point3;
use crate::quantities::{Measure, UnitSystem, plain};

/// No pump of this trade gives so much by far, m³/s.
const MOST_FLOW: f64 = 10.0;

/// All broken rules of a project, in the order of its parts; none for a project that may be worked on.
///
/// Of a project that holds more of something than may be, that is all that is said: nothing else of it is looked at.
pub fn validate(project: &Project) -> Problems {
    let too_much = project_size(project);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut problems = title(&project.title);
    problems.append(bar(&project.bar));
    for one in project.duties.iter() {
        problems.append(duty(one));
    }
    problems.append(supply(&project.supply));
    problems.append(limits(&project.limits));
    problems.append(transport_limits(&project.transport));
    problems.append(spreads(&project.spreads));
    problems.append(cause_weights(&project.cause_weights));
    problems.append(catalogue(&project.catalogue));
    problems.append(added_lines(&project.added_lines));
    let mut review = Review::of("project");
    unique(&mut review, "duty id", project.duties.iter().map(|duty| duty.id.0));
    unique(&mut review, "duty name", project.duties.iter().map(|duty| duty.name.as_str()));
    review.claim(!project.routings.is_empty(), || "it has no routing".to_owned(), "add an empty routing");
    unique(&mut review, "routing id", project.routings.iter().map(|routing| routing.id.0));
    unique(&mut review, "routing name", project.routings.iter().map(|routing| routing.name.as_str()));
    problems.append(review.problems);
    for one in &project.dismissed {
        problems.append(dismissal(one));
    }
    for one in &project.routings {
        problems.append(routing(project, one));
    }
    problems.append(catch_tests(&project.catch_tests));
    problems
}

/// Rules of all catch tests of a project, with the bars they were made on.
pub fn catch_tests(tests: &CatchTests) -> Problems {
    let mut problems = catch_list(tests);
    if tests.tests.len().max(tests.bars.len()) > Bound::CatchTests.most() {
        return problems;
    }
    for bar in &tests.bars {
        problems.append(tested_bar(bar));
    }
    for test in &tests.tests {
        problems.append(catch_test(tests, test));
    }
    problems
}

/// Rules of a bar as it was tested: a sound project of one routing and one duty. What holds tests itself is not looked into.
pub fn tested_bar(bar: &TestedBar) -> Problems {
    let problems = bar_alone(bar);
    if problems.is_empty() { validate(&bar.project).within(&tested_bar_place(bar)) } else { problems }
}

/// No hose that somebody cut is longer, metres.
const LONGEST_KNOWN: f64 = 1000.0;

/// Rules of the title block.
pub fn title(title: &TitleBlock) -> Problems {
    let mut review = Review::of("title block");
    for (name, text) in [
        ("its title", &title.title),
        ("its owner", &title.owner),
        ("its number", &title.number),
        ("its revision", &title.revision),
        ("its creator", &title.creator),
        ("who approved it", &title.approved_by),
    ] {
        review.text(name, text, Bound::Words);
    }
    review.text("its notes", &title.notes, Bound::Note);
    review.bound(Bound::Revisions, "its list of changes", title.changes.len());
    for one in title.changes.iter().take(Bound::Revisions.most()) {
        review.text("the index of a revision", &one.index, Bound::Words);
        review.text("the routing of a revision", &one.routing, Bound::Name);
        review.text("what a revision changed", &one.note, Bound::Note);
        review.bound(Bound::ChangedLengths, "a revision", one.lengths.len());
        for length in one.lengths.iter().take(Bound::ChangedLengths.most()) {
            review.text("a hose or tube of a revision", &length.tag, Bound::Name);
            for metres in [Some(length.is), length.was].into_iter().flatten() {
                review.number("a length of a revision", Measure::CutLength, metres.si(), 0.0, LONGEST_KNOWN);
            }
        }
    }
    review.problems
}

/// Rules of the lines added to the parts list.
pub fn added_lines(lines: &[AddedLine]) -> Problems {
    let too_much = added_lines_size(lines);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut problems = Problems::default();
    for (at, line) in lines.iter().enumerate() {
        let mut review = Review::of(format!("added line {} of the parts list", at + 1));
        review.claim(
            !line.description.trim().is_empty(),
            || "its description is empty".to_owned(),
            "say what it is, or remove the line",
        );
        review.text("its description", &line.description, Bound::Words);
        review.text("its part number", &line.part_number, Bound::Words);
        review.number(
            "its quantity",
            Measure::Plain,
            f64::from(line.quantity),
            1.0,
            f64::from(MOST_OF_A_LINE),
        );
        review.name("its unit", &line.unit);
        review.text("its note", &line.note, Bound::Words);
        let first = lines[..at].iter().position(|one| one.is_of_same(line));
        review.claim(
            first.is_none(),
            || {
                let said = short(&line.description);
                format!("\"{said}\" stands in line {} already", first.map_or(0, |first| first + 1))
            },
            "raise the quantity there, or give one of them another part number",
        );
        problems.append(review.problems);
    }
    problems
}

/// Rules of the list of findings that are no longer shown.
pub fn dismissed(all: &[Dismissal]) -> Problems {
    let mut review = Review::of("project");
    review.bound(Bound::Dismissed, "it", all.len());
    review.problems
}

/// Rules of a finding that is no longer shown.
pub fn dismissal(one: &Dismissal) -> Problems {
    let mut review = Review::of("hidden finding");
    review.bound(Bound::Hidden, "it", one.subjects.len());
    if !review.problems.is_empty() {
        return review.problems;
    }
    review.claim(!one.subjects.is_empty(), || "it is about nothing".to_owned(), "delete it");
    review.name("its rule", &one.kind.rule);
    review.text("its case", &one.kind.case, Bound::Name);
    review.claim(
        !one.reason.trim().is_empty(),
        || "its reason is empty".to_owned(),
        "say why it is of no concern",
    );
    review.text("its reason", &one.reason, Bound::Words);
    review.text("who hid it", &one.by, Bound::Name);
    review.problems
}

/// Rules of a liquid; `place` is what messages call it.
pub fn liquid(liquid: &Liquid, place: &str) -> Problems {
    let too_much = liquid_size(liquid, place);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of(place);
    review.name("its name", &liquid.name);
    review.claim(
        wetted_material::is_in_order(&liquid.attacks),
        || format!("what it attacks is \"{}\"", short(&wetted_material::listed(&liquid.attacks))),
        "name each material once, in the order in which the program offers them",
    );
    review.claim(
        !liquid.points.is_empty(),
        || "it has no properties".to_owned(),
        "add density and viscosity at one temperature at least",
    );
    for point in &liquid.points {
        let at = format!("at {} °C", plain(point.temperature.si()));
        review.number("temperature", Measure::Temperature, point.temperature.si(), -60.0, 120.0);
        let (density, viscosity) = (format!("density {at}"), format!("viscosity {at}"));
        review.number(&density, Measure::Density, point.density.si(), 300.0, 3000.0);
        review.number(&viscosity, Measure::Viscosity, point.viscosity.si(), 1e-5, 10.0);
    }
    for source in [&liquid.density_source, &liquid.viscosity_source] {
        if let Some(by) = source.calibrated() {
            review.calibrated(by);
        }
    }
    let rising = liquid.points.windows(2).all(|pair| pair[0].temperature < pair[1].temperature);
    review.claim(
        rising,
        || "its temperatures do not rise from line to line".to_owned(),
        "sort them, each temperature once",
    );
    review.problems
}

/// Rules of a duty.
pub fn duty(duty: &Duty) -> Problems {
    let mut problems = liquid(&duty.liquid, &liquid_place(duty));
    let mut review = Review::of(called("duty", &duty.name, duty.id.0));
    review.name("its name", &duty.name);
    review.number("rate", Measure::Rate, duty.rate.si(), 0.0, 1e-2);
    for (name, speed) in [("slowest", duty.slowest), ("usual", duty.usual), ("fastest", duty.fastest)] {
        review.above_zero(&format!("{name} speed"), Measure::GroundSpeed, speed.si(), 30.0);
    }
    let ordered = duty.slowest <= duty.usual && duty.usual <= duty.fastest;
    review.claim(
        ordered,
        || "its speeds are not in order".to_owned(),
        "slowest at most usual, usual at most fastest",
    );
    review.number("temperature", Measure::Temperature, duty.temperature.si(), -60.0, 120.0);
    for (name, slope) in [("side slope", duty.side_slope), ("fore-aft slope", duty.fore_aft_slope)] {
        review.number(name, Measure::Slope, slope.si(), -0.8, 0.8);
    }
    problems.append(review.problems);
    problems
}

/// Rules of the supply.
pub fn supply(supply: &Supply) -> Problems {
    let mut review = Review::of("supply");
    match supply.control {
        Control::Metered { limit } => review.pressure("pressure limit", limit),
        Control::Held { pressure } => review.pressure("constant pressure", pressure),
        Control::Uncontrolled => review.claim(
            !supply.pump_curve.is_empty(),
            || "nothing is held and the pump has no curve".to_owned(),
            "enter the pump's curve, or meter the flow or keep the pressure constant",
        ),
    }
    review.point("pump", supply.pump);
    review.point("tank surface", Point3::new(0.0, 0.0, supply.tank_surface.si()));
    review.pressure("rated pressure of the pump", supply.pump_rated);
    if let Some(rated) = supply.weakest_rated {
        review.pressure("rated pressure of the weakest part", rated);
    }
    if let Some(opens) = supply.relief_valve.opens_at() {
        review.pressure("pressure at which the relief valve opens", opens);
    }
    if let Some(capacity) = supply.pump_capacity {
        review.above_zero("largest flow of the pump", Measure::TotalFlow, capacity.si(), MOST_FLOW);
    }
    let curve = &supply.pump_curve;
    review.bound(Bound::CurvePoints, "it", curve.len());
    for (number, point) in curve.iter().enumerate().take(Bound::CurvePoints.most()) {
        let number = number + 1;
        let flow = format!("flow of the pump's curve, point {number}");
        review.number(&flow, Measure::TotalFlow, point.flow.si(), 0.0, MOST_FLOW);
        let pressure = format!("pressure of the pump's curve, point {number}");
        review.number(&pressure, Measure::Pressure, point.pressure.si(), 0.0, MOST_PRESSURE);
    }
    review.claim(
        curve.len() != 1,
        || "the pump's curve has one point".to_owned(),
        "give at least two, or none",
    );
    review.claim(
        curve.first().is_none_or(|point| point.flow.si() == 0.0),
        || "the pump's curve does not begin at no flow".to_owned(),
        "give its first point at flow 0: the pressure against a shut valve",
    );
    review.claim(
        curve.windows(2).all(|pair| pair[1].flow > pair[0].flow && pair[1].pressure < pair[0].pressure),
        || "the pump's curve does not rise in flow and fall in pressure from point to point".to_owned(),
        "sort its points by flow, and leave out the part where the pressure rises",
    );
    review.problems
}

/// Rules of the spreads.
pub fn spreads(spreads: &Spreads) -> Problems {
    let mut review = Review::of("spreads");
    for entry in &spreads::TABLE {
        let spread = entry.of(spreads);
        let (name, metric) = (entry.name, UnitSystem::Metric);
        let text = |value: f64| entry.measure.short_text(value, metric);
        review.claim(
            spread.sd.is_finite() && (0.0..=entry.most).contains(&spread.sd),
            || {
                format!(
                    "{name} has a standard deviation of {}, which no part that can be used has",
                    plain(spread.sd)
                )
            },
            &format!("give one from 0 to {} ({})", plain(entry.most), text(entry.most)),
        );
        review.claim(
            spread.common || !entry.is_one,
            || format!("{name} differs from piece to piece, but there is one liquid"),
            "make it common to all",
        );
    }
    review.problems
}

/// Rules of the weights of causes: each 0 to [`MOST_WEIGHT`], that of nothing but scatter above 0.
pub fn cause_weights(weights: &CauseWeights) -> Problems {
    let mut review = Review::of("weights of causes");
    for entry in &cause_weights::TABLE {
        let weight = entry.of(weights);
        let least = if entry.kind == CauseKind::ScatterOnly { 0.01 } else { 0.0 };
        review.claim(
            weight.is_finite() && (least..=MOST_WEIGHT).contains(&weight),
            || format!("{} has a weight of {}", entry.name, plain(weight)),
            &format!(
                "give in about how many of 100 catch tests it is met, {} to {}",
                plain(least),
                plain(MOST_WEIGHT)
            ),
        );
    }
    review.problems
}

/// Rules of the widest and the highest that the road allows: 0.5 to 60 m wide, 0.5 to 20 m high.
pub fn transport_limits(limits: &TransportLimits) -> Problems {
    let mut review = Review::of("limits of transport");
    if let Some(width) = limits.width {
        review.number("width", Measure::Distance, width.si(), 0.5, 60.0);
    }
    if let Some(height) = limits.height {
        review.number("height", Measure::Distance, height.si(), 0.5, 20.0);
    }
    review.problems
}

/// Rules of the limits.
pub fn limits(limits: &Limits) -> Problems {
    let mut review = Review::of("limits");
    for limit in &limits::TABLE {
        review.number(limit.name, limit.measure, limit.of(limits), limit.least, limit.most);
    }
    let (from, to) = (limits.reynolds_from, limits.reynolds_to);
    review.claim(
        from < to,
        || format!("Reynolds numbers from {} to {}", plain(from.si()), plain(to.si())),
        "give two rising numbers, 2000 and 4000 as a rule",
    );
    review.problems
}
