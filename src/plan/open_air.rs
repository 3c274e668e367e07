//! Where a line has no frame member beside it that it could be tied to.

use super::bar::{Bar, FrameMember};
use super::bar_point::BarPoint;
use crate::geometry::Point2;

/// A line as near to the middle of a member as this can be tied to it, metres, seen from above: half a profile and a short
/// bracket (common practice, no source).
const TIED: f64 = 0.15;

/// Between places that are looked at, metres.
const STEP: f64 = 0.05;

/// The longest stretch of a line from one place where it can be tied to another, or to its end, metres, seen from above. 0
/// where it is tied all along, and on a bar without a frame, of which nothing is known.
pub fn longest_free_span(bar: &Bar, path: &[BarPoint]) -> f64 {
    let members: Vec<&FrameMember> = bar.sections.iter().flat_map(|section| &section.members).collect();
    if members.is_empty() {
        return 0.0;
    }
    let tied = |at: Point2| {
        members.iter().any(|member| at.distance_to_piece(member.from.flat(), member.to.flat()) <= TIED)
    };
    let (mut longest, mut span, mut begins_tied) = (0.0f64, 0.0, false);
    let mut was_tied = path.first().is_some_and(|point| tied(point.place.flat()));
    for pair in path.windows(2) {
        let (from, to) = (pair[0].place.flat(), pair[1].place.flat());
        let length = from.distance(to);
        let steps = (length / STEP).ceil().max(1.0);
        for step in 1..=steps as usize {
            let share = step as f64 / steps;
            let at = Point2::new(from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share);
            let is_tied = tied(at);
            if !is_tied {
                begins_tied |= was_tied;
                span += length / steps;
            }
            // What lies within reach of a member counts from its middle.
            let ends = f64::from(u8::from(begins_tied)) + f64::from(u8::from(is_tied));
            if span > 0.0 {
                longest = longest.max(span + ends * TIED);
            }
            if is_tied {
                (span, begins_tied) = (0.0, false);
            }
            was_tied = is_tied;
        }
    }
    longest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{Section, SectionId};
    use crate::quantities::Length;

    /// Two rails 1 m apart, 4 m long.
    fn bar() -> Bar {
        let rail = |y: f64| FrameMember {
            from: Point3::new(-2.0, y, 1.0),
            to: Point3::new(2.0, y, 1.0),
            width: Length::metres(0.1),
        };
        let section = Section {
            id: SectionId(1),
            name: "centre".into(),
            hinge: None,
            left: Length::metres(-2.0),
            right: Length::metres(2.0),
            members: vec![rail(0.0), rail(1.0)],
        };
        Bar { sections: vec![section], ..Bar::default() }
    }

    fn path(points: &[(f64, f64)]) -> Vec<BarPoint> {
        let point = |(x, y): &(f64, f64)| BarPoint { place: Point3::new(*x, *y, 1.0), section: SectionId(1) };
        points.iter().map(point).collect()
    }

    /// From rail to rail 1 m (geometry), to the steps that are looked at; along a rail, and beside it, nothing.
    #[test]
    fn a_span_reaches_from_member_to_member_or_to_the_end() {
        let span = |points: &[(f64, f64)]| longest_free_span(&bar(), &path(points));
        assert_eq!(span(&[(-1.5, 0.0), (1.5, 0.1)]), 0.0);
        let across = span(&[(-1.5, 0.0), (0.0, 0.0), (0.0, 1.0), (1.0, 1.0)]);
        assert!((across - 1.0).abs() < 2.0 * STEP, "{across}");
        let out = span(&[(0.0, 1.0), (0.0, 1.6)]);
        assert!((out - 0.6).abs() < 2.0 * STEP, "{out}");
        assert_eq!(longest_free_span(&Bar::default(), &path(&[(0.0, 0.0), (9.0, 0.0)])), 0.0);
    }
}
