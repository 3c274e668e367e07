//! Where a line has no frame member beside it that it could be tied to.

use super::SectionId;
use super::bar::{Bar, FrameMember};
use super::bar_point::BarPoint;
use crate::geometry::{Point2, Point3};

/// A line as near to the middle of a member as this can be tied to it, metres, seen from above: half a profile and a short
/// bracket (common practice, no source).
pub const TIED: f64 = 0.15;

/// How far over or under the middle of a member a clamp may be to be carried by it, metres: an upright bracket (common
/// practice, no source).
const BRACKET: f64 = 0.3;

/// A gap shorter than this between two reaches of members is none, metres.
const GAP: f64 = 1e-6;

/// What lines that lie near enough can be tied to, seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tie {
    from: Point2,
    to: Point2,
    /// Lines beyond its ends can be tied to it as those beside it can: more of the frame is there as a rule. A carrier ends where
    /// it is cut.
    holds_beyond: bool,
}

impl Tie {
    /// A frame member.
    pub(super) fn member(member: &FrameMember) -> Self {
        Self { from: member.from.flat(), to: member.to.flat(), holds_beyond: true }
    }

    /// A carrier, between the places at which the last lines can be tied to it.
    pub(super) fn carrier(ends: [Point3; 2]) -> Self {
        let [from, to] = ends.map(|end| end.flat());
        Self { from, to, holds_beyond: false }
    }
}

/// A stretch of a line with nothing to tie it to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreeSpan {
    /// From one place where it can be tied to another, or to its end, metres, seen from above.
    pub length: f64,
    /// Its middle.
    pub middle: Point3,
}

/// A hose or tube with what holds it beside frame members.
#[derive(Debug, Clone, Copy)]
pub struct HungPath<'a> {
    /// Its points.
    pub path: &'a [BarPoint],
    /// An end that is not on the bar hangs from what is no part of it, such as the tractor: what lies between that end and the
    /// first member is for that to hold.
    pub ends_on_bar: [bool; 2],
    /// Stretches that hang free on purpose, held at both their ends: between the clamps at a hinge. From and to, metres along
    /// the way through its points.
    pub clamped: &'a [[f64; 2]],
}

impl<'a> HungPath<'a> {
    /// Both ends on the bar, no hinge on the way.
    pub const fn new(path: &'a [BarPoint]) -> Self {
        Self { path, ends_on_bar: [true; 2], clamped: &[] }
    }
}

/// The same as a part of the way of a line seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FreeStretch {
    /// As [`FreeSpan::length`].
    pub(super) length: f64,
    /// Where it can be tied no more.
    pub(super) from: f64,
    /// Where it can be tied again, or ends.
    pub(super) to: f64,
}

/// The longest such stretch of a line; none where it is tied all along, and on a bar without a frame, of which nothing is
/// known.
pub fn longest_free_span(bar: &Bar, line: HungPath) -> Option<FreeSpan> {
    let members: Vec<Tie> =
        bar.sections.iter().flat_map(|section| &section.members).map(Tie::member).collect();
    let stretch = longest_stretch(&members, line)?;
    let middle = point_at(line.path, f64::midpoint(stretch.from, stretch.to))?;
    Some(FreeSpan { length: stretch.length, middle })
}

/// The longest stretch beside these members; none where there is no member.
fn longest_stretch(members: &[Tie], line: HungPath) -> Option<FreeStretch> {
    let mut longest: Option<FreeStretch> = None;
    free_stretches(members, line, |stretch| {
        if longest.is_none_or(|most| stretch.length > most.length) {
            longest = Some(stretch);
        }
    });
    longest
}

/// Every such stretch beside these members, in order; none where there is no member.
pub(super) fn free_stretches(members: &[Tie], line: HungPath, mut found: impl FnMut(FreeStretch)) {
    if members.is_empty() {
        return;
    }
    // What lies within reach of a member counts from its middle.
    let mut ends_at = |to: f64, free: f64, tied: f64| {
        if free > GAP {
            found(FreeStretch { length: free + tied, from: to - free, to });
        }
    };
    let (mut passed, mut free, mut tied) = (0.0, 0.0, 0.0);
    let mut way = 0.0;
    let mut is_held = line.ends_on_bar[0];
    let (mut reaches, mut cut) = (Vec::new(), Vec::new());
    for pair in line.path.windows(2) {
        let (from, to) = (pair[0].place.flat(), pair[1].place.flat());
        let length = from.distance(to);
        let along = pair[0].place.distance(pair[1].place);
        reaches.clear();
        reaches.extend(members.iter().filter_map(|member| Some((reach(from, to, member)?, TIED))));
        cut.clear();
        cut.extend(line.clamped.iter().filter_map(|one| clamped_share(*one, way, along)));
        without(&mut reaches, &cut);
        reaches.extend(cut.iter().map(|one| (*one, 0.0)));
        reaches.sort_by(|a: &([f64; 2], f64), b| a.0[0].total_cmp(&b.0[0]));
        let mut done = 0.0;
        for ([begins, ends], tie) in reaches.iter().copied() {
            free += length * (begins - done).max(0.0);
            if is_held {
                ends_at(passed + length * begins, free, tied + tie);
            }
            (free, tied, is_held) = (0.0, tie, true);
            done = ends.max(done);
        }
        free += length * (1.0 - done);
        passed += length;
        way += along;
    }
    if is_held && line.ends_on_bar[1] {
        ends_at(passed, free, tied);
    }
}

/// The part of a piece, so long and after so much of the way, that hangs free between two clamps, as shares of its length.
fn clamped_share([begins, ends]: [f64; 2], way: f64, along: f64) -> Option<[f64; 2]> {
    if along > 0.0 {
        return clipped((begins - way) / along, (ends - way) / along);
    }
    (begins..=ends).contains(&way).then_some([0.0, 1.0])
}

/// Takes what hangs free between clamps out of what members reach: the line moves there in the fold, and nothing may hold it.
fn without(reaches: &mut Vec<([f64; 2], f64)>, clamped: &[[f64; 2]]) {
    for [begins, ends] in clamped {
        let parts = |([from, to], tie): ([f64; 2], f64)| {
            [[from, to.min(*begins)], [from.max(*ends), to]]
                .into_iter()
                .filter(move |part| part[0] < part[1])
                .map(move |part| (part, tie))
        };
        let left: Vec<([f64; 2], f64)> = reaches.drain(..).flat_map(parts).collect();
        *reaches = left;
    }
}

/// The point of a line after so much of its way seen from above.
fn point_at(path: &[BarPoint], way: f64) -> Option<Point3> {
    let mut left = way;
    for pair in path.windows(2) {
        let (from, to) = (pair[0].place, pair[1].place);
        let length = from.flat().distance(to.flat());
        if left <= length && length > 0.0 {
            return Some(from + (to - from) * (left / length));
        }
        left -= length;
    }
    path.last().map(|last| last.place)
}

/// A straight piece of a line where it lies so near to something, seen from above, that it can be tied to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beside {
    /// Seen from above, metres.
    pub(super) length: f64,
    /// How high its middle is, at its lowest and at its highest, metres above the ground.
    pub(super) heights: [f64; 2],
    /// Steeper than half upright: it passes what is there and doesn't lie on it.
    pub(super) is_steep: bool,
}

/// A straight piece is steeper than half upright.
pub(super) fn is_steep(from: Point3, to: Point3) -> bool {
    (to.z - from.z).abs() > from.flat().distance(to.flat())
}

/// What of a line lies beside something. What hangs free between clamps is tied to nothing.
pub(super) fn beside_tie(line: HungPath, tie: &Tie) -> Vec<Beside> {
    let (mut found, mut way) = (Vec::new(), 0.0);
    for pair in line.path.windows(2) {
        let (from, to) = (pair[0].place, pair[1].place);
        let (length, along) = (from.flat().distance(to.flat()), from.distance(to));
        let mut reaches: Vec<([f64; 2], f64)> =
            reach(from.flat(), to.flat(), tie).into_iter().map(|one| (one, TIED)).collect();
        let cut: Vec<[f64; 2]> =
            line.clamped.iter().filter_map(|one| clamped_share(*one, way, along)).collect();
        without(&mut reaches, &cut);
        found.extend(reaches.iter().filter_map(|([begins, ends], _)| {
            let heights = [*begins, *ends].map(|share| from.towards(to, share).z);
            let beside = Beside {
                length: (ends - begins) * length,
                heights: [heights[0].min(heights[1]), heights[0].max(heights[1])],
                is_steep: is_steep(from, to),
            };
            (beside.length > GAP).then_some(beside)
        }));
        way += along;
    }
    found
}

/// The place on the middle of a frame member that is nearest to a point, seen from above, with the section of the member;
/// none on a bar without a frame.
pub fn nearest_member(bar: &Bar, at: Point3) -> Option<BarPoint> {
    let members =
        bar.sections.iter().flat_map(|section| section.members.iter().map(move |one| (section, one)));
    let places = members.map(|(section, member)| {
        let (from, to) = (member.from.flat(), member.to.flat());
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let square = dx * dx + dy * dy;
        let along = if square > 0.0 { ((at.x - from.x) * dx + (at.y - from.y) * dy) / square } else { 0.0 };
        let place = member.from + (member.to - member.from) * along.clamp(0.0, 1.0);
        BarPoint { place, section: section.id }
    });
    let away = |one: &BarPoint| one.place.flat().distance(at.flat());
    places.min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// A frame member is near enough to carry a clamp: one of the section that the clamp rides on, as near as for a tie seen from
/// above, and not too far over or under it. So it is on a bar without a frame, of which nothing is known.
pub fn carries_clamp(bar: &Bar, clamp: BarPoint) -> bool {
    let is_near = |member: &FrameMember| {
        let (from, to) = (member.from.flat(), member.to.flat());
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let square = dx * dx + dy * dy;
        let at = clamp.place.flat();
        let along = if square > 0.0 { ((at.x - from.x) * dx + (at.y - from.y) * dy) / square } else { 0.0 };
        let nearest = member.from.towards(member.to, along.clamp(0.0, 1.0));
        nearest.flat().distance(at) <= TIED && (nearest.z - clamp.place.z).abs() <= BRACKET
    };
    let members = bar.section(clamp.section).map_or(&[][..], |section| &section.members);
    members.iter().any(is_near) || bar.sections.iter().all(|section| section.members.is_empty())
}

/// The parts of a straight line over a section that lie within reach of its members seen from above, each as shares of its
/// length.
pub fn beside_members(bar: &Bar, section: SectionId, from: Point3, to: Point3) -> Vec<[f64; 2]> {
    let members = bar.section(section).map_or(&[][..], |section| &section.members);
    members.iter().filter_map(|member| reach(from.flat(), to.flat(), &Tie::member(member))).collect()
}

/// The part of a straight line that can be tied to something, as shares of its length; none where it is out of reach. What is
/// within reach is convex (a rectangle, of a member with round ends), so that the part is one piece.
fn reach(from: Point2, to: Point2, tie: &Tie) -> Option<[f64; 2]> {
    let (a, b) = (tie.from, tie.to);
    let beyond =
        |from: f64, to: f64, a: f64, b: f64| from.min(to) > a.max(b) + TIED || from.max(to) < a.min(b) - TIED;
    if beyond(from.x, to.x, a.x, b.x) || beyond(from.y, to.y, a.y, b.y) {
        return None;
    }
    let ends = [a, b].map(|end| tie.holds_beyond.then(|| near_point(from, to, end)).flatten());
    let all = ends.into_iter().chain([beside(from, to, a, b)]).flatten();
    all.reduce(|one, other| [one[0].min(other[0]), one[1].max(other[1])])
}

/// The part of a line that is within reach of a point.
fn near_point(from: Point2, to: Point2, point: Point2) -> Option<[f64; 2]> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let (px, py) = (point.x - from.x, point.y - from.y);
    let square = dx * dx + dy * dy;
    if square == 0.0 {
        return (px.hypot(py) <= TIED).then_some([0.0, 1.0]);
    }
    let nearest = (px * dx + py * dy) / square;
    let across = (px * dy - py * dx).powi(2) / square;
    let half = ((TIED * TIED - across) / square).max(0.0).sqrt();
    (across <= TIED * TIED).then(|| clipped(nearest - half, nearest + half)).flatten()
}

/// The part of a line that lies beside a piece, between its ends and within reach of it.
fn beside(from: Point2, to: Point2, a: Point2, b: Point2) -> Option<[f64; 2]> {
    let length = a.distance(b);
    if length == 0.0 {
        return None;
    }
    let (ux, uy) = ((b.x - a.x) / length, (b.y - a.y) / length);
    let along = |point: Point2| (point.x - a.x) * ux + (point.y - a.y) * uy;
    let aside = |point: Point2| (point.y - a.y) * ux - (point.x - a.x) * uy;
    // What lies square to it at its very end is still beside it, whatever the rounding.
    let [one, other] =
        [between(along(from), along(to), -GAP, length + GAP)?, between(aside(from), aside(to), -TIED, TIED)?];
    clipped(one[0].max(other[0]), one[1].min(other[1]))
}

/// The share of a way from one number to another on which it is between two others.
pub(super) fn between(from: f64, to: f64, least: f64, most: f64) -> Option<[f64; 2]> {
    if from == to {
        return (least..=most).contains(&from).then_some([0.0, 1.0]);
    }
    let (one, other) = ((least - from) / (to - from), (most - from) / (to - from));
    clipped(one.min(other), one.max(other))
}

fn clipped(begins: f64, ends: f64) -> Option<[f64; 2]> {
    let (begins, ends) = (begins.max(0.0), ends.min(1.0));
    (begins <= ends).then_some([begins, ends])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Section;
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

    /// From rail to rail 1 m (geometry); along a rail, and beside it, nothing.
    #[test]
    fn a_span_reaches_from_member_to_member_or_to_the_end() {
        let span = |points: &[(f64, f64)]| longest_free_span(&bar(), HungPath::new(&path(points)));
        assert_eq!(span(&[(-1.5, 0.0), (1.5, 0.1)]), None);
        let across = span(&[(-1.5, 0.0), (0.0, 0.0), (0.0, 1.0), (1.0, 1.0)]).unwrap();
        assert!((across.length - 1.0).abs() < 1e-9, "{across:?}");
        assert!(across.middle.distance(Point3::new(0.0, 0.5, 1.0)) < 1e-9, "{across:?}");
        let out = span(&[(0.0, 1.0), (0.0, 1.6)]).unwrap();
        assert!((out.length - 0.6).abs() < 1e-9, "{out:?}");
        assert!((out.middle.y - 1.375).abs() < 1e-9, "from the reach of the rail to the end: {out:?}");
        assert_eq!(longest_free_span(&Bar::default(), HungPath::new(&path(&[(0.0, 0.0), (9.0, 0.0)]))), None);
        // From the tractor over the front rail to the rear one: what counts is between the two.
        let hitch = path(&[(0.0, 5.0), (0.0, 1.0), (0.0, 0.0)]);
        let span_of = |path: &[BarPoint], ends_on_bar| {
            longest_free_span(&bar(), HungPath { ends_on_bar, ..HungPath::new(path) }).map(|span| span.length)
        };
        let long = |ends| span_of(&hitch, ends);
        assert!((long([true; 2]).unwrap() - 4.0).abs() < 1e-9);
        assert!((long([false, true]).unwrap() - 1.0).abs() < 1e-9);
        assert_eq!(span_of(&path(&[(0.0, 5.0), (0.0, 1.0)]), [false, true]), None);
        let tie = nearest_member(&bar(), Point3::new(3.0, 1.4, 0.5)).unwrap();
        assert_eq!((tie.place, tie.section), (Point3::new(2.0, 1.0, 1.0), SectionId(1)));
        assert_eq!(nearest_member(&Bar::default(), Point3::new(0.0, 0.0, 0.0)), None);
    }

    /// Rails of 4 m at y 0 and 1 m: within 0.15 m of one seen from above and 0.3 m in height a clamp is carried, by its own
    /// section alone (geometry).
    #[test]
    fn a_clamp_is_carried_by_a_near_member_of_its_own_section() {
        let mut bar = bar();
        let at = |x: f64, y: f64, z: f64, section: u32| BarPoint {
            place: Point3::new(x, y, z),
            section: SectionId(section),
        };
        assert!(carries_clamp(&bar, at(0.0, 0.149, 1.1, 1)) && carries_clamp(&bar, at(2.149, 0.0, 1.0, 1)));
        assert!(!carries_clamp(&bar, at(0.0, 0.151, 1.1, 1)) && !carries_clamp(&bar, at(2.151, 0.0, 1.0, 1)));
        assert!(carries_clamp(&bar, at(0.0, 1.0, 1.299, 1)) && !carries_clamp(&bar, at(0.0, 1.0, 1.301, 1)));
        assert!(!carries_clamp(&bar, at(0.0, 0.0, 1.0, 2)), "the frame of another section turns away");
        let beside =
            beside_members(&bar, SectionId(1), Point3::new(1.0, 0.0, 1.0), Point3::new(5.0, 0.0, 1.0));
        assert_eq!(beside.len(), 1);
        assert!(beside[0][0] == 0.0 && (beside[0][1] - 1.15 / 4.0).abs() < 1e-9, "{beside:?}");
        bar.sections[0].members.clear();
        assert!(carries_clamp(&bar, at(0.0, 0.5, 1.0, 1)), "nobody drew a frame");
    }

    /// Of the 1 m between the rails a piece of 0.4 m lies between clamps: 0.2 and 0.4 m are left (geometry).
    #[test]
    fn what_lies_between_clamps_hangs_on_purpose() {
        let across = path(&[(0.0, 0.0), (0.0, 1.0)]);
        let span = |clamped: &[[f64; 2]]| {
            longest_free_span(&bar(), HungPath { clamped, ..HungPath::new(&across) }).map(|span| span.length)
        };
        assert!((span(&[[0.2, 0.6]]).unwrap() - 0.4).abs() < 1e-9);
        assert!((span(&[[0.0, 0.6]]).unwrap() - 0.4).abs() < 1e-9);
        assert_eq!(span(&[[0.1, 0.9]]), None);
    }

    /// A rail across the middle of a piece between clamps holds nothing of it, and what follows hangs from the clamp alone; of
    /// a rail's reach of 0.3 m counts what lies beyond the clamp (geometry).
    #[test]
    fn no_member_holds_what_hangs_free_between_clamps() {
        let across = path(&[(0.0, 0.0), (0.0, 3.0)]);
        let line = |clamped| HungPath { clamped, ..HungPath::new(&across) };
        let span = longest_free_span(&bar(), line(&[[0.5, 2.0]])).unwrap();
        assert!((span.length - 1.0).abs() < 1e-9, "{span:?}");
        let rail = bar().sections[0].members[1];
        for (clamped, beside) in [(&[][..], 0.3), (&[[0.5, 2.0]], 0.0), (&[[0.5, 1.0]], 0.15)] {
            let found: f64 =
                beside_tie(line(clamped), &Tie::member(&rail)).iter().map(|one| one.length).sum();
            assert!((found - beside).abs() < 1e-9, "{clamped:?}");
        }
    }

    /// A carrier from 0 to 1 m to the right: tubes square to it at 1 m and 0.5 m are tied to it along 2 x 150 mm; one 0.1 m beyond
    /// its end is not, which one beyond a member's end is along 2 x sqrt(150² - 100²) mm (geometry).
    #[test]
    fn a_carrier_holds_nothing_beyond_its_ends() {
        let ends = [Point3::new(0.0, 0.0, 1.0), Point3::new(1.0, 0.0, 1.0)];
        let member = FrameMember { from: ends[0], to: ends[1], width: Length::metres(0.04) };
        let length = |x: f64, tie: &Tie| -> f64 {
            let across = path(&[(x, -1.0), (x, 1.0)]);
            beside_tie(HungPath::new(&across), tie).iter().map(|one| one.length).sum()
        };
        let (carrier, member) = (Tie::carrier(ends), Tie::member(&member));
        for (x, on_carrier, on_member) in
            [(0.5, 0.3, 0.3), (1.0, 0.3, 0.3), (1.1, 0.0, 2.0 * (0.15f64.powi(2) - 0.01).sqrt())]
        {
            assert!((length(x, &carrier) - on_carrier).abs() < 1e-9, "{x}");
            assert!((length(x, &member) - on_member).abs() < 1e-9, "{x}");
        }
    }

    /// Looked at place by place, every 0.2 mm, by the distance to each member alone: the same spans, for slanted lines and
    /// members, lines that begin out of reach, and one of no length.
    #[test]
    fn spans_are_those_found_place_by_place() {
        let mut bar = bar();
        let slanted = FrameMember {
            from: Point3::new(-1.0, 0.3, 1.0),
            to: Point3::new(0.5, 1.4, 1.0),
            width: Length::metres(0.08),
        };
        let short = FrameMember { to: slanted.from, ..slanted };
        bar.sections[0].members.extend([slanted, short]);
        for points in [
            &[(-1.7, -0.9), (1.9, 2.1)][..],
            &[(-3.0, 0.5), (3.0, 0.55)],
            &[(-1.2, 1.6), (-1.2, 1.6), (0.9, 0.4), (0.2, -0.7)],
            &[(0.0, 0.0), (0.4, 0.5), (0.4, 0.9)],
        ] {
            let path = path(points);
            let (mut spans, mut free, mut ties) = (0.0f64, 0.0, 0.0);
            for pair in path.windows(2) {
                let (from, to) = (pair[0].place.flat(), pair[1].place.flat());
                let steps = (from.distance(to) / 2e-4).ceil() as usize;
                for step in 0..steps {
                    let share = (step as f64 + 0.5) / steps as f64;
                    let at = Point2::new(from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share);
                    let members = &bar.sections[0].members;
                    let tied = members
                        .iter()
                        .any(|member| at.distance_to_piece(member.from.flat(), member.to.flat()) <= TIED);
                    if tied {
                        spans = if free > 0.0 { spans.max(free + (ties + 1.0) * TIED) } else { spans };
                        (free, ties) = (0.0, 1.0);
                    } else {
                        free += from.distance(to) / steps as f64;
                    }
                }
            }
            spans = if free > 0.0 { spans.max(free + ties * TIED) } else { spans };
            let found = longest_free_span(&bar, HungPath::new(&path)).map_or(0.0, |span| span.length);
            assert!((found - spans).abs() < 2e-3, "{points:?}: {found} and {spans}");
        }
    }
}
