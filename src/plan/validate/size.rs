//! How much of everything a plan holds, against the table of bounds: looked at before anything that takes longer the more
//! there is.

use super::review::Review;
use crate::plan::bounds::Bound;
use crate::plan::feed::{FeedElement, RowFeed};
use crate::plan::problems::Problems;
use crate::plan::run::{Line, Run};
use crate::plan::words::{called, short};
use crate::plan::{AddedLine, Bar, Catalogue, Duty, Liquid, Project, Routing, Supply};

/// What a project holds too much of. Takes as long as counting does.
pub(super) fn project_size(project: &Project) -> Problems {
    let mut review = Review::of("project");
    review.bound(Bound::Duties, "it", project.duties.count());
    review.bound(Bound::Routings, "it", project.routings.len());
    review.bound(Bound::Dismissed, "it", project.dismissed.len());
    let mut problems = review.problems;
    problems.append(bar_size(&project.bar));
    for one in project.duties.iter().take(Bound::Duties.most()) {
        problems.append(liquid_size(&one.liquid, &liquid_place(one)));
    }
    problems.append(supply_size(&project.supply));
    problems.append(catalogue_size(&project.catalogue));
    problems.append(added_lines_size(&project.added_lines));
    for one in project.routings.iter().take(Bound::Routings.most()) {
        problems.append(routing_size(one));
    }
    problems
}

pub(super) fn added_lines_size(lines: &[AddedLine]) -> Problems {
    let mut review = Review::of("project");
    review.bound(Bound::AddedLines, "it", lines.len());
    review.problems
}

pub(super) fn bar_size(bar: &Bar) -> Problems {
    let mut review = Review::of("bar");
    review.bound(Bound::Rows, "it", bar.rows.len());
    review.bound(Bound::Ranks, "it", bar.ranks.len());
    review.bound(Bound::Sections, "it", bar.sections.len());
    let mut problems = review.problems;
    for section in &bar.sections {
        let mut review = Review::of(called("bar, section", &section.name, section.id.0));
        review.bound(Bound::Members, "it", section.members.len());
        problems.append(review.problems);
    }
    problems
}

pub(super) fn liquid_size(liquid: &Liquid, place: &str) -> Problems {
    let mut review = Review::of(place);
    review.bound(Bound::LiquidPoints, "it", liquid.points.len());
    review.problems
}

pub(super) fn supply_size(supply: &Supply) -> Problems {
    let mut review = Review::of("supply");
    review.bound(Bound::CurvePoints, "it", supply.pump_curve.len());
    review.problems
}

pub(super) fn catalogue_size(catalogue: &Catalogue) -> Problems {
    let mut review = Review::of("catalogue");
    review.bound(Bound::Entries, "it", catalogue.entries.len());
    review.problems
}

pub(super) fn routing_size(routing: &Routing) -> Problems {
    let mut review = Review::of(routing_place(routing));
    review.bound(Bound::Parts, "it", routing.parts.len());
    review.bound(Bound::Hoses, "it", routing.runs.len());
    review.bound(Bound::Feeds, "it", routing.feeds.len());
    let mut problems = review.problems;
    for run in &routing.runs {
        problems.append(run_size(routing, run));
    }
    for feed in &routing.feeds {
        problems.append(feed_size(routing, feed));
    }
    problems
}

pub(super) fn run_size(routing: &Routing, run: &Run) -> Problems {
    let mut review = Review::of(run_place(routing, run));
    review.bound(Bound::Fittings, "it", run.fittings.len());
    line_size(&mut review, &run.line);
    review.problems
}

pub(super) fn feed_size(routing: &Routing, feed: &RowFeed) -> Problems {
    let mut review = Review::of(feed_place(routing, feed));
    review.bound(Bound::Branches, "it", feed.branches.len());
    review.bound(Bound::Elements, "its common way", feed.trunk.len());
    for branch in &feed.branches {
        review.bound(Bound::Elements, "its way to a row", branch.elements.len());
    }
    for element in feed.elements() {
        if let FeedElement::Tube(tube) = element {
            line_size(&mut review, &tube.line);
        }
    }
    review.problems
}

pub(super) fn line_size(review: &mut Review, line: &Line) {
    review.bound(Bound::Waypoints, "it", line.waypoints.len());
    review.bound(Bound::Allowances, "it", line.crossings.len());
}

pub(super) fn routing_place(routing: &Routing) -> String {
    called("routing", &routing.name, routing.id.0)
}

/// The liquid of a duty: by its own name, or as the duty's.
pub(super) fn liquid_place(duty: &Duty) -> String {
    let name = &duty.liquid.name;
    if name.trim().is_empty() {
        format!("liquid of {}", called("duty", &duty.name, duty.id.0))
    } else {
        format!("liquid {}", short(name))
    }
}

pub(super) fn run_place(routing: &Routing, run: &Run) -> String {
    format!("{}, {}", routing_place(routing), called("hose", &run.tag, run.id.0))
}

pub(super) fn feed_place(routing: &Routing, feed: &RowFeed) -> String {
    format!("{}, {}", routing_place(routing), called("row feed", &feed.tag, feed.id.0))
}
