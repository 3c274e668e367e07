//! Where a hose is drawn through a frame member, or a part stands in one.

use super::SectionId;
use super::bar::{FrameMember, Section};
use crate::geometry::{Capsule, Point3, distance_of_pieces};

/// A line this near to the middle of a member goes through it, or half its width where that is less, metres: what lies on a
/// member as wide as usual stays farther off (common practice, no source).
const NEAR_MIDDLE: f64 = 0.05;

/// What turns from a member by less than this many radians lies along it, and is tied beside it or under it.
const ALONG: f64 = 0.3;

/// A line goes through a frame member, and does not lie along it.
pub fn passes_through(member: &FrameMember, line: &[Point3]) -> bool {
    let along = member.to - member.from;
    let is_through = |pair: &[Point3]| {
        let own = pair[1] - pair[0];
        let lengths = own.distance(Point3::default()) * along.distance(Point3::default());
        let cosine = (own.x * along.x + own.y * along.y + own.z * along.z).abs();
        cosine <= lengths * ALONG.cos()
            && distance_of_pieces([pair[0], pair[1]], [member.from, member.to])
                < NEAR_MIDDLE.min(member.width.si() / 2.0)
    };
    line.windows(2).any(is_through)
}

/// The sections with a member that a line goes through.
pub fn passed_through<'a>(
    sections: &'a [Section],
    line: &'a [Point3],
) -> impl Iterator<Item = SectionId> + use<'a> {
    let passed = |section: &&Section| section.members.iter().any(|member| passes_through(member, line));
    sections.iter().filter(passed).map(|section| section.id)
}

/// What is drawn no finer: a part that comes to the middle of a member by less than this only touches it, metres (common
/// practice, no source).
const TOUCH: f64 = 0.005;

/// A part stands in a frame member: the middle of the one lies in the other. Less than that is not told apart from a part that lies
/// on the member, since symbols are drawn larger than what they stand for, and heights as is usual.
pub fn stands_in(member: &FrameMember, part: &Capsule) -> bool {
    let apart = distance_of_pieces([part.from, part.to], [member.from, member.to]);
    apart < part.radius.max(member.width.si() / 2.0) - TOUCH
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantities::Length;

    /// By hand: a part as thick as the member, 0.1 m, lies on it with its middle 0.1 m higher, is sunk in it by less than half at
    /// 60 mm and by more at 40 mm. A thicker one, 0.2 m, stands on the same member at 0.1 m, and in it at 90 mm.
    #[test]
    fn a_part_stands_in_a_member_where_the_middle_of_one_lies_in_the_other() {
        let member = FrameMember {
            from: Point3::new(-1.0, 0.3, 0.9),
            to: Point3::new(1.0, 0.3, 0.9),
            width: Length::metres(0.1),
        };
        let part = |x: f64, over: f64, radius: f64| {
            let at = |x: f64| Point3::new(x, 0.3, 0.9 + over);
            stands_in(&member, &Capsule { from: at(x - 0.2), to: at(x + 0.2), radius })
        };
        assert!(!part(0.0, 0.1, 0.05) && !part(0.0, 0.06, 0.05) && part(0.0, 0.04, 0.05));
        assert!(part(0.0, -0.04, 0.05) && !part(0.0, -0.06, 0.05));
        assert!(!part(0.0, 0.1, 0.1) && part(0.0, 0.09, 0.1));
        assert!(!part(1.3, 0.0, 0.05), "beside its end");
        // Upright through the rail from below.
        let upright =
            Capsule { from: Point3::new(0.0, 0.31, 0.4), to: Point3::new(0.0, 0.31, 0.95), radius: 0.03 };
        assert!(stands_in(&member, &upright));
    }

    /// By hand: a line that rises by 0.4 m over 2.15 m is 0.916 m high where it crosses a member of 0.9 m and 0.1 m wide; one that
    /// is raised by 0.1 m lies on it.
    #[test]
    fn a_line_across_a_member_goes_through_it_and_one_on_it_or_along_it_does_not() {
        let member = FrameMember {
            from: Point3::new(-1.0, 0.3, 0.9),
            to: Point3::new(1.0, 0.3, 0.9),
            width: Length::metres(0.1),
        };
        let line = |by: f64| [Point3::new(0.0, 2.0, 0.6 + by), Point3::new(0.0, -0.15, 1.0 + by)];
        assert!(passes_through(&member, &line(0.0)));
        assert!(!passes_through(&member, &line(0.1)));
        assert!(!passes_through(&member, &line(-0.1)));
        let beside = [Point3::new(-0.5, 0.3, 0.9), Point3::new(0.5, 0.32, 0.9)];
        assert!(!passes_through(&member, &beside));
        let beyond = line(0.0).map(|at| Point3 { x: 1.5, ..at });
        assert!(!passes_through(&member, &beyond));
    }
}
