//! High points in hoses from which the flow does not carry the air away.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::hydraulics::slope::{height, upward};
use crate::plan::high_points::{HighPoint, RowsLetAirOut, high_points};
use crate::plan::{FeedElement, RunId, Subject};
use crate::quantities::{GRAVITY_M_S2, Length, Measure, Speed};

pub(super) const RULE: Rule = Rule {
    name: "high point",
    about: "A hose, part or tube that lies between two lower places with no way out at its top: air stays there until the liquid \
            is fast enough to carry it down",
    by_speed: true,
    check,
};

/// Liquid carries a pocket of air down a steep line from this velocity over √(g · bore) on: 0.61 + 0.56 √sin of the slope
/// (Escarameia, Investigating hydraulic removal of air from water pipelines, 2007; values from memory), here straight down.
/// It was measured in wider pipes on gentler slopes: what it says is an order of magnitude.
const CARRIES_AIR: f64 = 0.61 + 0.56;

/// Surface tension of water, N/m; that of liquids on a bar is no higher.
const SURFACE_TENSION: f64 = 0.0728;

/// How much of its rise a bubble keeps in a narrow line, where surface tension holds it: none below some 4 mm, half at 8 mm, all
/// from 20 mm on (Viana and others, Universal correlation for the rise velocity of long gas bubbles in round pipes, 2003, its
/// part for thin liquids; from memory).
fn rises(bore: Length) -> f64 {
    let eotvos = WATER * GRAVITY_M_S2 * bore.si().powi(2) / SURFACE_TENSION;
    (1.0 + 3805.0 / eotvos.powf(3.06)).powf(-0.58)
}

/// Density of water, kg/m³.
const WATER: f64 = 1000.0;

/// From which velocity on liquid carries air down a line of this bore.
fn carrying(bore: Length) -> Speed {
    Speed::from_si(CARRIES_AIR * rises(bore) * (GRAVITY_M_S2 * bore.si()).sqrt())
}

fn check(here: &Context) -> Vec<Finding> {
    let point = &here.outcome.point;
    let up = upward(point.side_slope, point.fore_aft_slope);
    let least = here.project.limits.high_point;
    let all = high_points(here.routing, RowsLetAirOut::All, |at| height(at.place, up));
    let stays = |one: &HighPoint| {
        let (flows, bore) = fastest(here, one.of)?;
        (one.depth > least && flows < carrying(bore)).then_some((*one, flows, bore))
    };
    let mut told: Vec<Finding> = Vec::new();
    for (one, flows, bore) in all.iter().filter_map(stays) {
        let (place, subject) = (here.tag(one.of), FindingSubject::from(one.of));
        if told.iter().any(|known| known.subjects == [subject]) {
            continue;
        }
        told.push(Finding {
            severity: Severity::Warning,
            extent: Some(one.depth.si()),
            place,
            what: format!(
                "air stays at its highest point, {} above the way out, where liquid flows at {} and would carry it away from \
                 about {} on",
                here.text(Measure::Distance, one.depth),
                here.text_apart(Measure::Velocity, flows, carrying(bore)),
                here.text(Measure::Velocity, carrying(bore)),
            ),
            advice: "lead it level or rising all the way to a manifold, or let the air out at the top".to_owned(),
            subjects: vec![subject],
            ..here.finding(RULE.name, "")
        });
    }
    told
}

/// The greatest velocity of liquid that leaves there, and the bore that it has it in; none where nothing flows.
fn fastest(here: &Context, of: Subject) -> Option<(Speed, Length)> {
    let of_run = |id: RunId| {
        let run = here.routing.run(id)?;
        let bore = here.project.catalogue.stock(&run.line.stock)?.bore;
        Some((here.outcome.run(id)?.velocity?, bore))
    };
    let faster = |a: (Speed, Length), b: (Speed, Length)| if b.0 > a.0 { b } else { a };
    match of {
        Subject::Run(id) => of_run(id),
        Subject::Part(id) => {
            let on_it = |run: &&crate::plan::Run| {
                [run.from, run.to].iter().any(|end| end.port().is_some_and(|port| port.part == id))
            };
            here.routing.runs.iter().filter(on_it).filter_map(|run| of_run(run.id)).reduce(faster)
        }
        Subject::Row(_) => None,
        Subject::Feed(id) => {
            let feed = here.routing.feed(id)?;
            let of_element = |one: &crate::hydraulics::outcome::ElementOutcome| {
                let stretch = match one.branch {
                    None => &feed.trunk,
                    Some(branch) => &feed.branches.get(branch)?.elements,
                };
                let FeedElement::Tube(tube) = stretch.get(one.index)? else { return None };
                Some((one.velocity?, here.project.catalogue.stock(&tube.line.stock)?.bore))
            };
            let of_feed = here.outcome.elements().iter().filter(|one| one.feed == id);
            of_feed.filter_map(of_element).reduce(faster)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;

    /// 19 mm: √(9.80665 · 0.019) = 0.4317 m/s, times 1.17 is 0.505 m/s; Eötvös number 48.6, so that 0.985 of it is left (by hand).
    #[test]
    fn a_hump_in_a_hose_is_told_where_the_flow_is_too_slow_to_carry_air_down() {
        let mut sample = Sample::new();
        let at = |sample: &mut Sample, rise: f64, flows: f64| {
            sample.routing.runs[1].line.waypoints = sample.over(&[Point3::new(0.0, 0.75, 0.6 + rise)]);
            sample.resolve();
            sample.numbers().runs[1].velocity = Some(Speed::from_si(flows));
            sample.of(RULE)
        };
        assert!((carrying(Length::millimetres(19.0)).si() - 0.497).abs() < 1e-3);
        let found = at(&mut sample, 0.3, 0.49);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!((found[0].place.as_str(), found[0].severity), ("H2", Severity::Warning));
        assert!(found[0].what.contains("0.30 m above the way out"), "{}", found[0].what);
        assert!(at(&mut sample, 0.3, 0.51).is_empty(), "carried away");
        assert!(at(&mut sample, 0.05, 0.2).is_empty(), "hardly a hump");
        assert!(at(&mut sample, -0.3, 0.2).is_empty(), "a sag keeps liquid, not air");
    }

    /// White and Beardmore (1962): a long bubble does not rise at all below an Eötvös number of 4, and is not held back above 70:
    /// for water 5.5 mm and 23 mm (values from memory).
    #[test]
    fn in_a_narrow_tube_surface_tension_holds_the_bubble() {
        assert!(rises(Length::millimetres(5.0)) < 0.1 && rises(Length::millimetres(23.0)) > 0.98);
    }

    #[test]
    fn air_leaves_where_a_manifold_is_the_highest_place() {
        let mut sample = Sample::new();
        sample.routing.parts[1].position.z = 1.4;
        sample.resolve();
        for run in &mut sample.numbers().runs {
            run.velocity = Some(Speed::from_si(0.01));
        }
        assert!(sample.of(RULE).is_empty());
    }
}
