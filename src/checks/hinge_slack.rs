//! A hose or tube too short for the way the bar folds.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::{
    BarPoint, CrossedHinge, CrossingBasis, FoldPosition, FoldSweep, LaidLine, LaidRouting, Line,
    LineGeometry, Project,
};
use crate::quantities::{Length, Measure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "hinge slack",
    about: "A hose or tube that must be longer than its longest way through the fold, or it is stretched when the bar folds",
    by_speed: false,
    check,
};

/// A piece of hose or tube that crosses a hinge with too little to spare.
struct Tight {
    tag: String,
    subject: FindingSubject,
    /// What lies between the two points on either side of the hinge.
    has: Length,
    /// Their longest distance through the fold, with the slack that is asked for.
    needs: Length,
    /// Where in the fold they are farthest apart.
    at: FoldPosition,
}

/// The hoses and row feeds that are too short for the way the bar folds, and by how much.
pub fn too_short(project: &Project, routing: LaidRouting) -> Vec<(FindingSubject, Length)> {
    tight(project, routing).into_iter().map(|one| (one.subject, one.needs - one.has)).collect()
}

fn tight(project: &Project, routing: LaidRouting) -> Vec<Tight> {
    let mut tight: Vec<Tight> = Vec::new();
    let sweep = FoldSweep::of(&project.bar);
    for LaidLine { of, tag, line, laid } in routing.laid_lines() {
        let found =
            tightest(project, &sweep, line, laid).into_iter().chain(between_clamps(project, line, laid));
        let lacks = |one: &(Length, Length, FoldPosition)| (one.1 - one.0).si();
        let Some((has, needs, at)) = found.max_by(|a, b| lacks(a).total_cmp(&lacks(b))) else { continue };
        let one = Tight { tag: tag.to_owned(), subject: FindingSubject::from(of), has, needs, at };
        // Of each feed the tube that lacks most.
        match tight.last_mut().filter(|last| last.subject == one.subject) {
            Some(last) if last.needs - last.has > one.needs - one.has => {}
            Some(last) => *last = one,
            None => tight.push(one),
        }
    }
    tight.sort_by(|a, b| (b.needs - b.has).si().total_cmp(&(a.needs - a.has).si()));
    tight
}

fn check(here: &Context) -> Vec<Finding> {
    let tight = tight(here.project, here.routing);
    let Some(worst) = tight.first() else { return Vec::new() };
    let tags = list(&tight.iter().map(|one| one.tag.clone()).collect::<Vec<_>>());
    let numbers = |one: &Tight| {
        let has = here.text_apart(Measure::Distance, one.has, one.needs);
        let needs = here.text(Measure::Distance, one.needs);
        format!("{has} across the hinge, needs {needs} {}", one.at.words())
    };
    let each = |one: &Tight| {
        let lacks = here.text(Measure::Distance, one.needs - one.has);
        format!("{}: {}: {lacks} more", one.tag, numbers(one))
    };
    let of = if tight.len() > 1 { format!("{} is ", worst.tag) } else { String::new() };
    let share = here.short(Measure::Percent, here.project.limits.hinge_slack);
    vec![Finding {
        severity: Severity::Warning,
        what: format!("{of}too short through the fold: {} with {share} of slack", numbers(worst)),
        each: if tight.len() > 1 { tight.iter().map(each).collect() } else { Vec::new() },
        place: tags,
        advice: format!(
            "allow {} more at the hinge, or clip it nearer to the hinge line; measure through the full fold before cutting",
            here.text(Measure::Distance, worst.needs - worst.has)
        ),
        subjects: tight.iter().map(|one| one.subject).collect(),
        fold: Some(worst.at),
        ..here.finding(RULE.name, "")
    }]
}

/// Of the pieces between two neighbouring points on different sides of a hinge, the one that lacks most: what it
/// has, what it needs, and where in the fold. None where every piece is long enough.
fn tightest(
    project: &Project,
    sweep: &FoldSweep,
    line: &Line,
    laid: &LineGeometry,
) -> Option<(Length, Length, FoldPosition)> {
    // Most tubes stay on their section: they need no closer look.
    if laid.hinges.is_empty() {
        return None;
    }
    let bar = &project.bar;
    // A length measured on the bar replaces slack and allowances: what it is longer than drawn lies at the hinges.
    let crosses = |pair: &&[BarPoint]| !bar.hinges_between(pair[0].section, pair[1].section).is_empty();
    let crossings = laid.path.windows(2).filter(crosses);
    let shares = crossings.clone().count() as f64;
    let spare = line.measured.map(|measured| Length::metres(measured.si() - laid.drawn.si()) / shares);
    let mut at_hinges = laid.crossings.iter();
    crossings
        .filter_map(|pair| {
            let hinges = bar.hinges_between(pair[0].section, pair[1].section);
            let own: Vec<&CrossedHinge> = at_hinges.by_ref().take(hinges.len()).collect();
            // What is computed through the fold is long enough, between its own clamps.
            let is_computed = own.iter().all(|one| matches!(one.basis, CrossingBasis::Computed(_)));
            if is_computed && spare.is_none() {
                return None;
            }
            let straight = Length::metres(pair[0].place.distance(pair[1].place));
            let extra = spare.unwrap_or_else(|| {
                straight * line.slack.si() + own.iter().map(|one| one.extra).sum::<Length>()
            });
            let (longest, at) = sweep.longest(pair[0], pair[1]);
            let needs = longest * (Ratio::percent(100.0) + project.limits.hinge_slack).si();
            let has = straight + extra;
            // The last digit of a sum is no reason for a finding.
            (has.si() < needs.si() - 1e-9).then_some((has, needs, at))
        })
        .max_by(|a, b| (a.1 - a.0).si().total_cmp(&(b.1 - b.0).si()))
}

/// The same of what an entered length leaves between the clamps, which come apart by more of it than the points farther off.
fn between_clamps(
    project: &Project,
    line: &Line,
    laid: &LineGeometry,
) -> Option<(Length, Length, FoldPosition)> {
    if line.measured.is_some() {
        return None;
    }
    let entered = laid.crossings.iter().filter_map(|crossed| match &crossed.basis {
        CrossingBasis::Entered(Ok(crossing)) => Some(crossing),
        CrossingBasis::Entered(Err(_)) | CrossingBasis::Computed(_) | CrossingBasis::Assumed(_) => None,
    });
    let slack = (Ratio::percent(100.0) + project.limits.hinge_slack).si();
    entered
        .map(|crossing| (crossing.lies, crossing.longest.0 * slack, crossing.longest.1))
        .filter(|(has, needs, _)| has.si() < needs.si() - 1e-9)
        .max_by(|a, b| (a.1 - a.0).si().total_cmp(&(b.1 - b.0).si()))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::bar::Hinge;
    use crate::plan::{Anchors, End, SectionId};
    use crate::plan::{ClampPlaces, FoldedBar, HingeCrossing};
    use crate::quantities::Angle;

    /// `M1` at x -0.45 on the left, `M2` at 0.45 on a wing that folds up about a line along y at x 0.
    fn folding(height: f64, folded: f64) -> Sample {
        let mut sample = Sample::two_wings(4);
        sample.project.bar.sections[1].hinge = Some(Hinge {
            parent: SectionId(1),
            point: Point3::new(0.0, 0.5, height),
            axis: Point3::new(0.0, -1.0, 0.0),
            lowest: Angle::ZERO,
            folded: Angle::degrees(folded),
            step: Hinge::FIRST_STEP,
        });
        sample.routing.runs[2].line.slack = Ratio::ZERO;
        sample.routing.runs[2].line.waypoints.clear();
        sample.routing.runs[2].line.crossings =
            vec![HingeCrossing { entered: Some(Length::ZERO), ..HingeCrossing::computed(SectionId(2)) }];
        sample.resolve();
        sample
    }

    #[test]
    fn a_hose_over_the_hinge_line_needs_only_the_share() {
        // The hose lies on the hinge's height: the ends come nearer to each other as the wing folds, so that the
        // working position is the longest.
        let mut sample = folding(0.6, 90.0);
        let run = sample.routing.runs[2].clone();
        let ends = [place_of(&sample, &run.from), place_of(&sample, &run.to)];
        let straight = ends[0].distance(ends[1]);
        assert_eq!(sample.only(RULE).place, "H3");
        sample.routing.runs[2].line.crossings[0].entered = Some(Length::metres(0.05 * straight));
        assert_eq!(sample.of(RULE).len(), 0);
        sample.routing.runs[2].line.crossings[0].entered = Some(Length::metres(0.049 * straight));
        assert_eq!(sample.of(RULE).len(), 1);
    }

    #[test]
    fn a_hose_far_below_the_hinge_line_needs_the_longest_way() {
        // Worked by hand in the plane across the hinge: ends (-a, -e) and (b, -e) about the hinge, at different
        // places along it; turned by 90 degrees the second stands at (e, b), farther away than at any angle before.
        let mut sample = folding(2.6, 90.0);
        let run = sample.routing.runs[2].clone();
        let (one, two) = (place_of(&sample, &run.from), place_of(&sample, &run.to));
        assert!(one.x < 0.0 && two.x > 0.0 && one.z == two.z);
        let (a, b, e, along) = (-one.x, two.x, 2.6 - two.z, two.y - one.y);
        let longest = (a + e).hypot(b + e).hypot(along);
        let straight = (a + b).hypot(along);
        let needed = 1.05 * longest - straight;
        let allow = |sample: &mut Sample, extra: f64| {
            sample.routing.runs[2].line.crossings[0].entered = Some(Length::metres(extra));
        };
        allow(&mut sample, needed + 0.001);
        assert_eq!(sample.of(RULE).len(), 0);
        allow(&mut sample, needed - 0.001);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "H3");
        // A measured length stands for slack and allowance.
        sample.routing.runs[2].line.measured = Some(Length::metres(straight + needed + 0.001));
        assert_eq!(sample.of(RULE).len(), 0);
    }

    /// Clamps 0.2 m to either side of a hinge line that is 0.3 m above the hose: at work 0.4 m apart, folded by 90 degrees, by hand,
    /// √2 (0.2 + 0.3) = 0.707 m. The ends of the hose, 2 m off, come nearer to each other, so that these alone would not show it.
    #[test]
    fn a_free_piece_that_is_shorter_than_its_clamps_come_apart_is_said_and_drawn_as_far_as_it_goes() {
        let mut sample = folding(0.9, 90.0);
        let loose = |x: f64, section| {
            End::Loose(BarPoint { place: Point3::new(x, 0.5, 0.6), section: SectionId(section) })
        };
        (sample.routing.runs[2].from, sample.routing.runs[2].to) = (loose(-2.0, 1), loose(2.0, 2));
        let places = ClampPlaces { before: Length::metres(0.2), behind: Length::metres(0.2) };
        let mut enter = |extra: f64| {
            sample.routing.runs[2].line.crossings = vec![HingeCrossing {
                section: SectionId(2),
                entered: Some(Length::metres(extra)),
                clamps: Some(places),
            }];
            sample.resolve();
            let found = sample.of(RULE);
            let geometry = sample.geometry();
            let laid = geometry.run(sample.routing.runs[2].id).unwrap().clone();
            (found, laid, sample.project.bar.clone())
        };
        let (found, laid, bar) = enter(0.25);
        assert_eq!((found.len(), found[0].place.as_str()), (1, "H3"), "{found:?}");
        assert_eq!(found[0].fold, Some(FoldPosition::TRANSPORT));
        assert!(found[0].what.contains("0.65 m across the hinge, needs 0.74 m"), "{}", found[0]);
        let said = crate::plan::crossing::facts(&laid.crossings[0], crate::quantities::UnitSystem::Metric);
        let free = &said.iter().find(|fact| fact.0 == "free piece").unwrap().1;
        assert!(free.starts_with("650 mm as entered"), "{free}");
        assert!(free.ends_with("too short: its clamps come 707 mm apart, 100 % folded"), "{free}");
        // Bent where it reaches from clamp to clamp, straight where it does not, and never nowhere.
        for share in [0.0, 0.3, 0.6, 0.9, 1.0] {
            let position = FoldPosition::share(share);
            let folded = FoldedBar::at(&bar, position);
            let way = laid.folded(&bar, &folded, position);
            let apart = laid.crossings[0].computed().unwrap().clamps.map(|clamp| folded.place(clamp.at));
            let reaches = apart[0].distance(apart[1]) < 0.65;
            assert_eq!(way.len() > laid.path.len(), reaches, "{share}");
            assert!(way.iter().all(|point| point.is_finite()));
            assert!(way[0].distance(folded.place(laid.from())) < 1e-9);
            assert!(way[way.len() - 1].distance(folded.place(laid.to())) < 1e-9);
        }
        // Longer by the share of slack there is enough of it.
        let enough = 1.05 * 0.5 * 2f64.sqrt() - 0.4;
        assert_eq!(enter(enough + 0.001).0, []);
        assert_eq!(enter(enough - 0.001).0.len(), 1);
    }

    #[test]
    fn what_crosses_no_hinge_is_left_alone() {
        let sample = Sample::two_wings(4);
        assert_eq!(sample.of(RULE).len(), 0);
    }

    fn place_of(sample: &Sample, end: &End) -> Point3 {
        Anchors::of(&sample.project, &sample.routing).end(end).unwrap().place
    }
}
