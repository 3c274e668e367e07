//! The parts of lines and shapes that lie within a box.

use crate::geometry::{Bounds, Point2};

/// The pieces of a line that lie within a box.
pub fn clip_line(points: &[Point2], window: &Bounds) -> Vec<Vec<Point2>> {
    let mut pieces: Vec<Vec<Point2>> = Vec::new();
    for pair in points.windows(2) {
        let Some((from, to)) = clip_piece(pair[0], pair[1], window) else { continue };
        match pieces.last_mut() {
            Some(piece) if piece.last() == Some(&from) => piece.push(to),
            _ => pieces.push(vec![from, to]),
        }
    }
    pieces
}

/// A straight piece touches a box.
pub fn touches(from: Point2, to: Point2, window: &Bounds) -> bool {
    clip_piece(from, to, window).is_some()
}

/// The part of a straight piece within a box (Liang and Barsky 1984).
fn clip_piece(from: Point2, to: Point2, window: &Bounds) -> Option<(Point2, Point2)> {
    // Most pieces lie far off, which costs less to see than where they would be cut.
    if from.x.max(to.x) < window.min.x
        || from.x.min(to.x) > window.max.x
        || from.y.max(to.y) < window.min.y
        || from.y.min(to.y) > window.max.y
    {
        return None;
    }
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for (step, room) in [
        (-dx, from.x - window.min.x),
        (dx, window.max.x - from.x),
        (-dy, from.y - window.min.y),
        (dy, window.max.y - from.y),
    ] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            first = first.max(room / step);
        } else {
            last = last.min(room / step);
        }
    }
    if first > last {
        return None;
    }
    let at = |t: f64| match t {
        0.0 => from,
        1.0 => to,
        _ => Point2::new(from.x + dx * t, from.y + dy * t),
    };
    Some((at(first), at(last)))
}

/// The part of a closed shape within a box (Sutherland and Hodgman 1974).
pub fn clip_area(points: &[Point2], window: &Bounds) -> Vec<Point2> {
    let mut shape = points.to_vec();
    type Side = (fn(Point2) -> f64, f64, f64);
    let sides: [Side; 4] = [
        (|point| point.x, window.min.x, 1.0),
        (|point| point.x, window.max.x, -1.0),
        (|point| point.y, window.min.y, 1.0),
        (|point| point.y, window.max.y, -1.0),
    ];
    for (value, limit, sign) in sides {
        let inside = |point: Point2| (value(point) - limit) * sign >= 0.0;
        let before = std::mem::take(&mut shape);
        for (index, to) in before.iter().enumerate() {
            let from = before[(index + before.len() - 1) % before.len()];
            if inside(from) != inside(*to) {
                let t = (limit - value(from)) / (value(*to) - value(from));
                shape.push(from.towards(*to, t));
            }
            if inside(*to) {
                shape.push(*to);
            }
        }
    }
    shape
}
