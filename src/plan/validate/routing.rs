//! Rules of a routing: its parts, runs and row feeds, and what they refer to.

use super::review::{Review, unique};
use super::size::{feed_place, feed_size, routing_place, routing_size, run_place, run_size};
use crate::plan::bounds::Bound;
use crate::plan::catalogue::{Catalogue, Key};
use crate::plan::feed::{FeedElement, RowFeed};
use crate::plan::kinds::{FittingKind, StockKind};
use crate::plan::part::{Part, PortRef};
use crate::plan::problems::Problems;
use crate::plan::run::{End, Line, Run};
use crate::plan::words::{called, short};
use crate::plan::{Project, Routing};
use crate::quantities::Measure;

/// Rules of one routing.
pub fn routing(project: &Project, routing: &Routing) -> Problems {
    let too_much = routing_size(routing);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of(routing_place(routing));
    review.name("its name", &routing.name);
    review.text("its note", &routing.note, Bound::Note);
    unique(&mut review, "part id", routing.parts.iter().map(|part| part.id.0));
    unique(&mut review, "hose id", routing.runs.iter().map(|run| run.id.0));
    unique(&mut review, "feed id", routing.feeds.iter().map(|feed| feed.id.0));
    unique(&mut review, "tag", routing.tags());
    let mut problems = review.problems;
    for one in &routing.parts {
        problems.append(part(project, routing, one));
    }
    for one in &routing.runs {
        problems.append(run(project, routing, one));
    }
    for one in &routing.feeds {
        problems.append(feed(project, routing, one));
    }
    problems
}

/// Rules of one placed part.
pub fn part(project: &Project, routing: &Routing, part: &Part) -> Problems {
    let mut review =
        Review::of(format!("{}, {}", routing_place(routing), called("part", &part.tag, part.id.0)));
    review.name("its tag", &part.tag);
    entry_exists(&mut review, &project.catalogue, &part.entry, "part");
    let section = part.section.0;
    review.claim(
        project.bar.section(part.section).is_some(),
        || format!("its section {section} does not exist"),
        "name a section of the bar",
    );
    review.point("it", part.position);
    review.number("its turn", Measure::Angle, part.turn.si(), -100.0, 100.0);
    if let Some(mount) = part.mount {
        port_exists(&mut review, project, routing, mount, "it is mounted on");
        let mut at = Some(mount.part);
        let mut steps = 0;
        while let Some(host) = at.and_then(|id| routing.part(id)) {
            steps += 1;
            if host.id == part.id {
                review.claim(
                    false,
                    || "it is mounted on itself, in a circle".to_owned(),
                    "mount it on another part",
                );
                break;
            }
            if steps > Bound::Mounts.most() {
                // Also a circle that it does not belong to itself.
                review.bound(Bound::Mounts, "it", steps);
                break;
            }
            at = host.mount.map(|mount| mount.part);
        }
    }
    review.problems
}

/// The item of a key, if the catalogue has it among the entries of that role; `role` names one of them.
fn entry_exists<'a, K: Key>(
    review: &mut Review,
    catalogue: &'a Catalogue,
    key: &K,
    role: &str,
) -> Option<&'a K::Item> {
    let item = catalogue.item(key);
    review.claim(
        item.is_some(),
        || match catalogue.any_item(key.any()) {
            Some(other) => {
                format!("it uses {} as a {role}, but that is a {}", short(&key.any().0), other.kind())
            }
            None => format!("it uses {}, which is not in the catalogue", short(&key.any().0)),
        },
        "add it to the project's catalogue or choose another",
    );
    item
}

fn port_exists(review: &mut Review, project: &Project, routing: &Routing, port: PortRef, how: &str) {
    let Some(part) = routing.part(port.part) else {
        review.claim(
            false,
            || format!("{how} part {}, which does not exist", port.part.0),
            "name a part of this routing or leave the end loose",
        );
        return;
    };
    if let Some(item) = project.catalogue.item(&part.entry) {
        review.claim(
            item.has_port(port.port),
            || format!("{how} {} of {}, which has no such port", port.port, short(&part.tag)),
            "choose another port",
        );
    }
}

fn end(review: &mut Review, project: &Project, routing: &Routing, end: &End, how: &str) {
    match end {
        End::Supply => {}
        End::Port(port) => port_exists(review, project, routing, *port, how),
        End::Loose(point) => review.riding("its loose end", *point, &project.bar),
    }
}

/// Farther than this from a hinge nothing is clamped for its sake, and no loop there is longer, metres.
const LONGEST_AT_HINGE: f64 = 100.0;
/// No hose or tube of a bar is as long, metres.
const LONGEST: f64 = 1000.0;

/// Nearer to a hinge than this there is no room for a clamp, metres.
const NEAREST_CLAMP: f64 = 0.001;

fn line(review: &mut Review, project: &Project, line: &Line) {
    if let Some(item) = entry_exists(review, &project.catalogue, &line.stock, "hose or tube") {
        review.claim(
            item.item_kind() != StockKind::MeteringTube,
            || format!("its stock {} is a {}", line.stock, item.kind()),
            "choose a hose or tube",
        );
    }
    for point in &line.waypoints {
        review.riding("a waypoint", *point, &project.bar);
    }
    review.number("its slack", Measure::Percent, line.slack.si(), 0.0, 10.0);
    for crossing in &line.crossings {
        if let Some(entered) = crossing.entered {
            let name = "an extra length at a hinge";
            review.number(name, Measure::Distance, entered.si(), 0.0, LONGEST_AT_HINGE);
        }
        if let Some(clamps) = crossing.clamps {
            for (side, place) in [("before", clamps.before), ("behind", clamps.behind)] {
                let name = format!("the distance of the clamp {side} the hinge");
                review.number(&name, Measure::Distance, place.si(), NEAREST_CLAMP, LONGEST_AT_HINGE);
            }
        }
        let hinged = project.bar.section(crossing.section).is_some_and(|section| section.hinge.is_some());
        review.claim(
            hinged,
            || format!("it crosses a hinge of section {}, which has none", crossing.section.0),
            "name the outer of the two sections",
        );
    }
    if let Some(measured) = line.measured {
        review.above_zero("its measured length", Measure::Distance, measured.si(), LONGEST);
    }
}

/// All that a run can break in a sound routing where it takes the place of one with its id and tag.
pub fn run_in_place(project: &Project, routing: &Routing, one: &Run) -> Problems {
    let too_much = run_size(routing, one);
    if too_much.is_empty() { run(project, routing, one) } else { too_much }
}

/// All that a row feed can break in a sound routing where it takes the place of one with its id and tag.
pub fn feed_in_place(project: &Project, routing: &Routing, one: &RowFeed) -> Problems {
    let too_much = feed_size(routing, one);
    if too_much.is_empty() { feed(project, routing, one) } else { too_much }
}

/// Rules of one run.
pub fn run(project: &Project, routing: &Routing, run: &Run) -> Problems {
    let mut review = Review::of(run_place(routing, run));
    review.name("its tag", &run.tag);
    end(&mut review, project, routing, &run.from, "it starts at");
    end(&mut review, project, routing, &run.to, "it ends at");
    line(&mut review, project, &run.line);
    for fitting in &run.fittings {
        if let Some(item) = entry_exists(&mut review, &project.catalogue, fitting, "fitting") {
            review.claim(
                item.item_kind() == FittingKind::Fitting,
                || format!("{fitting} is a {}", item.kind()),
                "choose a fitting",
            );
        }
    }
    review.problems
}

/// Rules of one row feed.
pub fn feed(project: &Project, routing: &Routing, feed: &RowFeed) -> Problems {
    let mut review = Review::of(feed_place(routing, feed));
    review.name("its tag", &feed.tag);
    end(&mut review, project, routing, &feed.from, "it starts at");
    review.claim(!feed.branches.is_empty(), || "it feeds no row".to_owned(), "name a row or remove it");
    let shared = feed.branches.len() > 1;
    review.claim(
        !shared || feed.split.is_some(),
        || "it feeds several rows without a small tee".to_owned(),
        "give it a small tee where it splits",
    );
    if let Some(split) = &feed.split {
        review.riding("its small tee", split.position, &project.bar);
        if let Some(item) = entry_exists(&mut review, &project.catalogue, &split.entry, "small tee") {
            review.claim(
                item.item_kind() == FittingKind::SmallTee,
                || format!("{} is a {}", split.entry, item.kind()),
                "choose a small tee",
            );
        }
    }
    unique(&mut review, "row", feed.branches.iter().map(|branch| branch.row.0));
    for branch in &feed.branches {
        let row = branch.row.0;
        review.claim(
            project.bar.row(branch.row).is_some(),
            || format!("its row with id {row} does not exist"),
            "name a row of the bar",
        );
    }
    for element in feed.elements() {
        match element {
            FeedElement::Tube(tube) => {
                line(&mut review, project, &tube.line);
                if let Some(end) = tube.end {
                    review.riding("the end of a tube", end, &project.bar);
                }
            }
            FeedElement::MeteringTube { stock, length, coil } => {
                if let Some(item) = entry_exists(&mut review, &project.catalogue, stock, "metering tube") {
                    review.claim(
                        item.item_kind() == StockKind::MeteringTube,
                        || format!("{stock} is a {}", item.kind()),
                        "choose a metering tube",
                    );
                }
                let name = "length of its metering tube";
                review.above_zero(name, Measure::Distance, length.si(), LONGEST);
                if let Some(coil) = coil {
                    let name = "coil diameter of its metering tube";
                    review.above_zero(name, Measure::Distance, coil.si(), LONGEST);
                }
            }
            FeedElement::Piece(kind, key) => {
                if let Some(item) = entry_exists(&mut review, &project.catalogue, key, kind.words()) {
                    review.claim(
                        item.item_kind() == *kind,
                        || format!("{key} is a {}, not a {}", item.kind(), kind.words()),
                        "choose an entry of the right kind",
                    );
                }
            }
            FeedElement::Fitting(key) => {
                if let Some(item) = entry_exists(&mut review, &project.catalogue, key, "fitting") {
                    review.claim(
                        item.item_kind() == FittingKind::Fitting,
                        || format!("{key} is a {}", item.kind()),
                        "choose a fitting",
                    );
                }
            }
        }
    }
    review.problems
}
