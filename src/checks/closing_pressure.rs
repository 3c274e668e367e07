//! What keeps the bar from draining with the pump off: closing pressure against static head.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::remedy::Remedy;
use super::standing_liquid::{Heads, Valve, valves};
use super::{Context, Rule};
use crate::plan::{FoldPosition, RowId};
use crate::quantities::{GRAVITY_M_S2, Length, Measure, Pressure};

pub(super) const RULE: Rule = Rule {
    name: "closing pressure",
    about: "A check valve whose closing pressure does not hold the liquid that stands on it with the pump off, on \
            the steepest slope and folded, or not what hangs over it on the road once trapped air lets it down; a row without a \
            check valve",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let Some(liquid) = here.outcome.liquid else { return Vec::new() };
    let (valves, without) = valves(here);
    let weight = liquid.density.si() * GRAVITY_M_S2;
    let pressure = |head: f64| Pressure::from_si(weight * head);
    let mut findings = Vec::new();
    let heads = Heads::new(here);
    let place = if heads.sloped { "at work on the steepest slope" } else { "at work" };
    findings.extend(not_held(
        here,
        ("at work", None),
        &valves,
        |valve| pressure(heads.at_work(valve)),
        |head| format!("the tank's surface is {head} above the valve {place}"),
    ));

    // One line is enough for a row.
    let seen: Vec<RowId> =
        valves.iter().filter(|one| pressure(heads.at_work(one)) >= one.closing).map(|one| one.row).collect();
    let rest: Vec<Valve> = valves.into_iter().filter(|one| !seen.contains(&one.row)).collect();
    findings.extend(not_held(
        here,
        ("folded", Some(FoldPosition::TRANSPORT)),
        &rest,
        |valve| pressure(heads.folded(valve)),
        |head| format!("the tank's surface is {head} above the valve with the bar folded"),
    ));
    let holds = |valve: &&Valve| pressure(heads.folded(valve)) < valve.closing;
    let lets_go: Vec<&Valve> =
        rest.iter().filter(holds).filter(|one| pressure(heads.hanging(one)) >= one.closing).collect();
    findings.extend(let_down(here, &heads, &lets_go, pressure));
    if !without.is_empty() {
        findings.push(Finding {
            severity: Severity::Note,
            place: here.row_words(&without),
            what: "no check valve: the bar drains through these rows when the pump stops".to_owned(),
            advice: "put a check valve into the row feeds, close to the outlets".to_owned(),
            remedy: Remedy::hold(here, &without),
            subjects: row_subjects(&without),
            ..here.finding(RULE.name, "no check valve")
        });
    }
    findings
}

/// Valves that hold on the road as long as no air is above them: what hangs there comes down where air was left or gets in.
fn let_down(
    here: &Context,
    heads: &Heads,
    valves: &[&Valve],
    pressure: impl Fn(f64) -> Pressure,
) -> Option<Finding> {
    let by_head = |a: &&&Valve, b: &&&Valve| heads.hanging(a).total_cmp(&heads.hanging(b));
    let worst = valves.iter().max_by(by_head)?;
    let rows: Vec<RowId> = valves.iter().map(|valve| valve.row).collect();
    let head = heads.hanging(worst);
    Some(Finding {
        severity: Severity::Note,
        place: here.row_words(&rows),
        what: format!(
            "may drip on the road: up to {} of liquid, {}, hang over a valve that closes at {}, above the tank's surface; it stays \
             only while no air gets in and none was left in the lines",
            here.text(Measure::Distance, Length::metres(head)),
            here.text(Measure::Pressure, pressure(head)),
            here.text(Measure::Pressure, worst.closing)
        ),
        advice: "vent the lines when priming, and prime again before work; check valves that shut higher hold it in any case"
            .to_owned(),
        subjects: row_subjects(&rows),
        fold: Some(FoldPosition::TRANSPORT),
        ..here.finding(RULE.name, "air gets in")
    })
}

/// One finding for all valves that the pressure on them opens; worded by the worst.
fn not_held(
    here: &Context,
    (when, fold): (&'static str, Option<FoldPosition>),
    valves: &[Valve],
    standing: impl Fn(&Valve) -> Pressure,
    why: impl Fn(String) -> String,
) -> Option<Finding> {
    let leaking = || valves.iter().filter(|valve| standing(valve) >= valve.closing);
    let worst = leaking().max_by(|a, b| {
        let beyond = |valve: &Valve| (standing(valve) - valve.closing).si();
        beyond(a).total_cmp(&beyond(b))
    })?;
    let mut rows: Vec<RowId> = leaking().map(|valve| valve.row).collect();
    rows.dedup();
    let head = standing(worst);
    let density = here.outcome.liquid.map_or(1000.0, |liquid| liquid.density.si());
    let metres = Length::metres(head.si() / (density * GRAVITY_M_S2));
    Some(Finding {
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: format!(
            "drip after the pump stops: static head {}, valve closes at {}; {}",
            here.text_apart(Measure::Pressure, head, worst.closing),
            here.text(Measure::Pressure, worst.closing),
            why(here.text(Measure::Distance, metres))
        ),
        advice: super::valve_advice::to_hold(here, worst.closing),
        remedy: super::valve_advice::pair(here),
        subjects: row_subjects(&rows),
        fold,
        ..here.finding(RULE.name, when)
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{CheckValve, ElementItem, Item};
    use crate::quantities::Angle;

    fn closing(sample: &mut Sample, bar: f64) {
        sample.set_item("valve", |item| {
            if let Item::Element(ElementItem::CheckValve(CheckValve { closing, .. })) = item {
                *closing = Pressure::bar(bar);
            }
        });
    }

    /// Water at 15 °C, tank surface 1.0 m, valves at the outlets 0.1 m above the ground:
    /// 999.1 kg/m³ · 9.80665 m/s² · 0.9 m = 8818 Pa (computed by hand).
    #[test]
    fn static_head_from_the_tank() {
        let mut sample = Sample::new();
        closing(&mut sample, 0.0882);
        assert!(sample.of(RULE).is_empty());
        closing(&mut sample, 0.0881);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Rows 1 to 4");
        assert!(finding.what.contains("0.90 m above the valve at work"), "{}", finding.what);
    }

    /// On a side slope of 10 % the row 0.45 m off the middle hangs 0.45 · sin(atan 0.1) = 0.0448 m lower, and all
    /// heights shrink by cos(atan 0.1) = 0.99504: 9797.8 Pa/m · (0.9 · 0.99504 + 0.0448) = 9213 Pa.
    #[test]
    fn a_slope_counts_both_ways() {
        let mut sample = Sample::new();
        sample.project.duties.first_mut().side_slope = Angle::from_si((-0.1_f64).atan());
        closing(&mut sample, 0.0921);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Rows 1 and 4", "both outer rows, whichever way the bar is driven");
        closing(&mut sample, 0.0922);
        assert!(sample.of(RULE).is_empty());
    }

    /// The right wing turns down by 30° about x = 0 at 0.6 m: the outlet of row 4, at x = 0.45 m and 0.1 m above the
    /// ground, comes to 0.6 - 0.45 sin 30° - 0.5 cos 30° = -0.058 m, row 3 at 0.15 m to 0.092 m (by hand).
    #[test]
    fn a_wing_that_hangs_lower_when_folded_counts_and_one_that_stands_higher_does_not() {
        let mut sample = Sample::two_wings(4);
        sample.project.supply.tank_surface = Length::metres(0.2);
        // 999.1 · 9.80665 · (0.2 + 0.058) = 2528 Pa; at work 0.1 m are 980 Pa.
        closing(&mut sample, 0.0252);
        let notes = |found: &[Finding]| found.iter().all(|one| one.kind.case == "air gets in");
        assert!(notes(&sample.of(RULE)), "nothing drips by itself");
        let mut fold = |degrees| {
            sample.fold_wing(0.6, degrees);
            sample.of(RULE)
        };
        let found: Vec<Finding> =
            fold(-30.0).into_iter().filter(|one| one.severity != Severity::Note).collect();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].place, "Row 4");
        assert!(found[0].what.ends_with("0.26 m above the valve with the bar folded"), "{}", found[0].what);
        let found = fold(90.0);
        assert!(
            found.iter().all(|one| one.kind.case == "air gets in" && one.severity == Severity::Note),
            "shut valves keep the air out of a wing above the tank: {found:?}"
        );
    }

    /// The right wing stands up by 90° about x = 0 at 0.6 m: the outlets of the manifold, within 0.02 m of x = 0.45 m, come to
    /// 1.03 to 1.07 m, the outlet of row 3 at 0.15 m to 0.75 m: 0.28 to 0.32 m of water hang over it, at 999.1 · 9.80665 Pa a metre
    /// 2743 to 3136 Pa, and next to nothing over row 4. Rows 1 and 2 stay at 0.1 m on tubes from there: 0.93 to 0.97 m, 9112 to
    /// 9504 Pa (by hand).
    #[test]
    fn what_hangs_over_a_valve_on_the_road_is_told_if_air_would_let_it_down() {
        let mut sample = Sample::two_wings(4);
        sample.fold_wing(0.6, 90.0);
        sample.project.supply.tank_surface = Length::metres(0.2);
        let mut hangs = |bar: f64| -> Vec<String> {
            closing(&mut sample, bar);
            let found = sample.of(RULE);
            found.iter().filter(|one| one.kind.case == "air gets in").map(|one| one.place.clone()).collect()
        };
        assert_eq!(hangs(0.0960), Vec::<String>::new());
        assert_eq!(hangs(0.0315), ["Rows 1 and 2"]);
        assert_eq!(hangs(0.0272), ["Rows 1 to 3"]);
    }

    #[test]
    fn rows_without_a_check_valve_are_noted() {
        let mut sample = Sample::new();
        sample.routing.feeds[1].branches[0].elements.remove(1);
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Note, "Row 2"));
    }
}
