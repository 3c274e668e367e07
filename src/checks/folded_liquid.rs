//! What the liquid does in a folded bar at rows that no check valve shuts.

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::standing_liquid::valves;
use super::words::list;
use super::{Context, Rule};
use crate::plan::{BarPoint, FoldPosition, FoldedBar, RowId, RunId};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "folded liquid",
    about: "A row without a check valve that stands above the tank's surface on the road, so that air comes in and hoses run \
            empty, or that only there hangs below it, so that the tank runs out; heights as the fold gives them",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let bar = &here.project.bar;
    let folded = FoldedBar::at(bar, FoldPosition::TRANSPORT);
    let surface = here.project.supply.tank_surface.si();
    let (_, open) = valves(here);
    let outlets: Vec<(RowId, BarPoint)> =
        open.iter().filter_map(|row| Some((*row, here.routing.geometry.anchors.outlet(*row)?))).collect();
    let high = |at: BarPoint| folded.place(at).z;
    let moves = |at: &BarPoint| (high(*at) - at.place.z).abs() > 1e-9;
    let above: Vec<_> = outlets.iter().filter(|(_, at)| moves(at) && high(*at) > surface).copied().collect();
    let below: Vec<_> =
        outlets.iter().filter(|(_, at)| high(*at) <= surface && at.place.z > surface).copied().collect();
    let rows = |all: &[(RowId, BarPoint)]| all.iter().map(|one| one.0).collect::<Vec<_>>();
    let text = |metres: f64| here.text(Measure::Distance, Length::metres(metres));
    let mut told = Vec::new();
    if let Some(most) = above.iter().map(|one| high(one.1) - surface).reduce(f64::max) {
        let rows = rows(&above);
        let empty = runs_above(here, &folded, surface);
        let tags: Vec<String> = empty.iter().map(|run| here.run_tag(*run)).collect();
        let sinks = if tags.is_empty() { String::new() } else { format!(", and {} run empty", list(&tags)) };
        told.push(Finding {
            severity: Severity::Warning,
            extent: Some(most),
            place: here.row_words(&rows),
            what: format!(
                "air comes in on the road: without a check valve, up to {} above the tank's surface with the bar folded{sinks}",
                text(most)
            ),
            advice: "put a check valve into the row feeds, close to the outlets, or prime again before work".to_owned(),
            subjects: row_subjects(&rows),
            also: empty.into_iter().map(FindingSubject::Run).collect(),
            fold: Some(FoldPosition::TRANSPORT),
            ..here.finding(RULE.name, "air comes in")
        });
    }
    if let Some(most) = below.iter().map(|one| surface - high(one.1)).reduce(f64::max) {
        let rows = rows(&below);
        told.push(Finding {
            severity: Severity::Warning,
            extent: Some(most),
            place: here.row_words(&rows),
            what: format!(
                "the tank runs out on the road: without a check valve, up to {} below its surface with the bar folded, above it at \
                 work",
                text(most)
            ),
            advice: "put a check valve into the row feeds, or shut a valve at the tank before folding".to_owned(),
            subjects: row_subjects(&rows),
            fold: Some(FoldPosition::TRANSPORT),
            ..here.finding(RULE.name, "runs out")
        });
    }
    told
}

/// Hoses that are joined to the pump and reach above a level in a folded bar.
fn runs_above(here: &Context, folded: &FoldedBar, level: f64) -> Vec<RunId> {
    let joined = here.routing.geometry.connections.reached_without(&[]);
    let is_above = |run: &RunId| {
        let laid = here.routing.geometry.run(*run);
        laid.is_some_and(|laid| laid.path.iter().any(|at| folded.place(*at).z > level))
    };
    joined.runs.into_iter().filter(is_above).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    use crate::quantities::Angle;

    /// The right wing stands up about x = 0 at 0.6 m: the outlet of row 4, at x = 0.45 m and 0.1 m, comes to 0.6 + 0.45 = 1.05 m,
    /// row 3 at 0.15 m to 0.75 m; the tank's surface is at 1.0 m, and H3 reaches to 0.45 m from the hinge too (by hand).
    #[test]
    fn an_open_row_above_the_tank_lets_air_in_and_one_that_hangs_below_it_lets_the_tank_out() {
        let mut sample = Sample::two_wings(4);
        sample.fold_wing(0.6, 90.0);
        assert_eq!(sample.of(RULE), [], "valves keep the air out");
        for feed in &mut sample.routing.feeds {
            feed.branches[0].elements.remove(1);
        }
        sample.resolve();
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Row 4");
        assert!(finding.what.contains("0.05 m above the tank"), "{finding}");
        assert_eq!(finding.also, [FindingSubject::Run(RunId(3))]);
        assert_eq!(finding.fold, Some(FoldPosition::TRANSPORT));
        // Turned down instead, and a tank so low that it is above it at work only.
        if let Some(hinge) = &mut sample.project.bar.sections[1].hinge {
            hinge.folded = Angle::degrees(-30.0);
        }
        sample.project.supply.tank_surface = Length::metres(0.0);
        // Row 4: 0.6 - 0.45 sin 30° - 0.5 cos 30° = -0.058 m.
        let found = sample.of(RULE);
        assert!(found.iter().any(|one| one.kind.case == "runs out" && one.place == "Row 4"), "{found:?}");
    }
}
