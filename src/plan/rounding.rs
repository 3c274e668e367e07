//! Coordinates to a tenth of a millimetre, finer than anybody measures on a bar: what turning and bending leave behind
//! (`1.0e-18`, `-0.30000000000000004`) would only make files hard to read and to compare.

use super::bar::Bar;
use super::feed::{FeedElement, RowFeed};
use super::routing::Routing;
use super::run::{End, Line, Run};
use super::supply::Supply;
use crate::geometry::Point3;
use crate::quantities::Length;

/// To a tenth of a millimetre, metres; never a negative zero.
fn coordinate(metres: f64) -> f64 {
    (metres * 1e4).round() / 1e4 + 0.0
}

fn length(value: &mut Length) {
    *value = Length::metres(coordinate(value.si()));
}

/// All three.
pub(super) fn point(at: &mut Point3) {
    *at = Point3::new(coordinate(at.x), coordinate(at.y), coordinate(at.z));
}

/// Rows, ranks, sections, hinges and frame; sizes and directions stay.
pub(super) fn bar(bar: &mut Bar) {
    bar.ranks.iter_mut().for_each(length);
    for section in &mut bar.sections {
        length(&mut section.left);
        length(&mut section.right);
        if let Some(hinge) = &mut section.hinge {
            point(&mut hinge.point);
        }
        for member in &mut section.members {
            point(&mut member.from);
            point(&mut member.to);
        }
    }
    for row in &mut bar.rows {
        length(&mut row.x);
        length(&mut row.outlet_height);
    }
}

/// Where the pump stands.
pub(super) fn supply(supply: &mut Supply) {
    point(&mut supply.pump);
    length(&mut supply.tank_surface);
}

/// Where a hose goes.
pub(super) fn run(run: &mut Run) {
    end(&mut run.from);
    end(&mut run.to);
    line(&mut run.line);
}

/// Where the tubes of a row feed go.
pub(super) fn feed(feed: &mut RowFeed) {
    end(&mut feed.from);
    if let Some(split) = &mut feed.split {
        point(&mut split.position.place);
    }
    for element in feed.elements_mut() {
        if let FeedElement::Tube(tube) = element {
            line(&mut tube.line);
            if let Some(at) = &mut tube.end {
                point(&mut at.place);
            }
        }
    }
}

fn end(end: &mut End) {
    if let End::Loose(at) = end {
        point(&mut at.place);
    }
}

fn line(line: &mut Line) {
    for at in &mut line.waypoints {
        point(&mut at.place);
    }
}

/// Parts, hoses and tubes.
pub(super) fn routing(routing: &mut Routing) {
    for part in &mut routing.parts {
        point(&mut part.position);
    }
    routing.runs.iter_mut().for_each(run);
    routing.feeds.iter_mut().for_each(feed);
}
