//! A hose or tube too short for the way the bar folds.

use super::finding::{Finding, Severity, Subject};
use super::words::list;
use super::{Context, Rule};
use crate::geometry::Point3;
use crate::plan::feed::FeedGeometry;
use crate::plan::{End, FeedElement, Line, Project, Routing, SectionId};
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
    subject: Subject,
    /// What lies between the two points on either side of the hinge.
    has: Length,
    /// Their longest distance through the fold, with the slack that is asked for.
    needs: Length,
}

/// The hoses and row feeds that are too short for the way the bar folds, and by how much.
pub fn too_short(project: &Project, routing: &Routing) -> Vec<(Subject, Length)> {
    tight(&Place { project, routing }).into_iter().map(|one| (one.subject, one.needs - one.has)).collect()
}

/// The bar and the plumbing on it.
struct Place<'a> {
    project: &'a Project,
    routing: &'a Routing,
}

fn tight(here: &Place) -> Vec<Tight> {
    let mut tight = Vec::new();
    for run in &here.routing.runs {
        let (Some(from), Some(to)) = (place(here, &run.from), place(here, &run.to)) else { continue };
        tight.extend(tightest(here, &run.line, from, to).map(|(has, needs)| Tight {
            tag: run.tag.clone(),
            subject: Subject::Run(run.id),
            has,
            needs,
        }));
    }
    let (bar, supply) = (&here.project.bar, &here.project.supply);
    for feed in &here.routing.feeds {
        let geometry = here.routing.feed_geometry(feed, bar, &here.project.catalogue, supply);
        let (Some(geometry), Some(start)) = (geometry, place(here, &feed.from)) else { continue };
        let worst = tubes(here, feed, &geometry, start)
            .filter_map(|(line, from, to)| tightest(here, line, from, to))
            .max_by(|a, b| (a.1 - a.0).si().total_cmp(&(b.1 - b.0).si()));
        tight.extend(worst.map(|(has, needs)| Tight {
            tag: feed.tag.clone(),
            subject: Subject::Feed(feed.id),
            has,
            needs,
        }));
    }
    tight.sort_by(|a, b| (b.needs - b.has).si().total_cmp(&(a.needs - a.has).si()));
    tight
}

fn check(here: &Context) -> Vec<Finding> {
    let tight = tight(&Place { project: here.project, routing: here.routing });
    let Some(worst) = tight.first() else { return Vec::new() };
    let tags = list(&tight.iter().map(|one| one.tag.clone()).collect::<Vec<_>>());
    let (has, needs) = (here.text(Measure::Distance, worst.has), here.text(Measure::Distance, worst.needs));
    let share = here.short(Measure::Percent, here.project.limits.hinge_slack);
    vec![Finding {
        key: here.key(RULE.name, &tags),
        severity: Severity::Warning,
        extent: None,
        what: format!(
            "{} has {has} across a hinge; its longest way through the fold and {share} more is {needs}",
            worst.tag
        ),
        place: tags,
        advice: format!(
            "allow {} more at the hinge, or clip it nearer to the hinge line; measure through the full fold before cutting",
            here.text(Measure::Distance, worst.needs - worst.has)
        ),
        subjects: tight.iter().map(|one| one.subject).collect(),
    }]
}

/// The tubes of a feed, each with the sections and places of its ends.
fn tubes<'a>(
    here: &'a Place,
    feed: &'a crate::plan::RowFeed,
    geometry: &'a FeedGeometry,
    start: (SectionId, Point3),
) -> impl Iterator<Item = (&'a Line, (SectionId, Point3), (SectionId, Point3))> {
    let bar = &here.project.bar;
    let trunk = feed.trunk.iter().zip(&geometry.trunk).map(|both| (both, None));
    let branches = feed.branches.iter().zip(&geometry.branches).flat_map(move |(branch, ends)| {
        branch.elements.iter().zip(ends).map(move |both| (both, bar.row(branch.row)))
    });
    trunk.chain(branches).filter_map(move |((element, (from, to)), row)| {
        let FeedElement::Tube(tube) = element else { return None };
        // What ends at the outlet rides on the row's section, what starts at the manifold on the manifold's.
        let section = |point: Point3| {
            let own = row.filter(|row| bar.outlet(row) == point).map(|row| row.section);
            let first = (point == start.1).then_some(start.0);
            own.or(first).or_else(|| bar.section_at(point.x).map(|section| section.id))
        };
        Some((&tube.line, (section(*from)?, *from), (section(*to)?, *to)))
    })
}

/// The section an end rides on, and where it is. What is not on a part rides on what it lies over; the pump and
/// its hose come from the tractor or cart, which follow the centre.
fn place(here: &Place, end: &End) -> Option<(SectionId, Point3)> {
    let bar = &here.project.bar;
    let at = here.routing.end_position(end, &here.project.catalogue, &here.project.supply)?;
    let section = match end {
        End::Port(_) => here.routing.carrier(end)?,
        End::Supply => bar.sections.first()?.id,
        End::Loose(_) => bar.section_at(at.x)?.id,
    };
    Some((section, at))
}

/// Of the pieces between two neighbouring points on different sides of a hinge, the one that lacks most: what it
/// has and what it needs. None where every piece is long enough.
fn tightest(
    here: &Place,
    line: &Line,
    from: (SectionId, Point3),
    to: (SectionId, Point3),
) -> Option<(Length, Length)> {
    let bar = &here.project.bar;
    // Most tubes stay on their section: they need no closer look.
    let stays = |point: &Point3| bar.section_at(point.x).is_none_or(|section| section.id == from.0);
    if from.0 == to.0 && line.waypoints.iter().all(stays) {
        return None;
    }
    let between = line.waypoints.iter().filter_map(|point| Some((bar.section_at(point.x)?.id, *point)));
    let points: Vec<_> = std::iter::once(from).chain(between).chain(std::iter::once(to)).collect();
    // A length measured on the bar replaces slack and allowances: what it is longer than drawn lies at the hinges.
    let drawn: f64 = points.windows(2).map(|pair| pair[0].1.distance(pair[1].1)).sum();
    let crossings = points.windows(2).filter(|pair| !bar.hinges_between(pair[0].0, pair[1].0).is_empty());
    let shares = crossings.clone().count() as f64;
    let spare = line.measured.map(|measured| Length::metres(measured.si() - drawn) / shares);
    crossings
        .filter_map(|pair| {
            let hinges = bar.hinges_between(pair[0].0, pair[1].0);
            let straight = Length::metres(pair[0].1.distance(pair[1].1));
            let allowed = line.hinge_allowances.iter().filter(|one| hinges.contains(&one.section));
            let extra = spare
                .unwrap_or_else(|| straight * line.slack.si() + allowed.map(|one| one.extra).sum::<Length>());
            let longest = bar.longest_through_fold(pair[0], pair[1]);
            let needs = longest * (Ratio::percent(100.0) + here.project.limits.hinge_slack).si();
            let has = straight + extra;
            // The last digit of a sum is no reason for a finding.
            (has.si() < needs.si() - 1e-9).then_some((has, needs))
        })
        .max_by(|a, b| (a.1 - a.0).si().total_cmp(&(b.1 - b.0).si()))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::bar::Hinge;
    use crate::plan::run::HingeAllowance;
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
        });
        sample.routing.runs[2].line.slack = Ratio::ZERO;
        sample.routing.runs[2].line.waypoints.clear();
        sample.routing.runs[2].line.hinge_allowances =
            vec![HingeAllowance { section: SectionId(2), extra: Length::ZERO }];
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
        assert!(sample.only(RULE).what.contains("H3"));
        sample.routing.runs[2].line.hinge_allowances[0].extra = Length::metres(0.05 * straight);
        assert_eq!(sample.of(RULE).len(), 0);
        sample.routing.runs[2].line.hinge_allowances[0].extra = Length::metres(0.049 * straight);
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
            sample.routing.runs[2].line.hinge_allowances[0].extra = Length::metres(extra);
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

    #[test]
    fn what_crosses_no_hinge_is_left_alone() {
        let sample = Sample::two_wings(4);
        assert_eq!(sample.of(RULE).len(), 0);
    }

    fn place_of(sample: &Sample, end: &End) -> Point3 {
        sample.routing.end_position(end, &sample.project.catalogue, &sample.project.supply).unwrap()
    }
}
