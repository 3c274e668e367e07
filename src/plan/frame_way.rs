//! A way along the frame, and how a stiff hose steps onto it and off it.

use super::SectionId;
use super::bar_point::BarPoint;
use crate::geometry::{Point3, polyline_length, tightest_bend};
use crate::quantities::Length;

/// How far along the frame a hose goes while it steps onto it, metres; common practice, no source.
const ASLANT: f64 = 0.3;

/// So much of a hose beside a hinge lies straight, to be clamped on, where there is room, metres (common practice, no source).
const CLAMPED: f64 = 0.4;

/// A corner that a tube has too little room for is moved so far along its way, metres: no farther than hangs without a tie.
const EASED: [f64; 5] = [0.05, 0.1, 0.15, 0.2, 0.3];

/// A way along the frame between two stops.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameWay {
    /// Points between the stops.
    pub waypoints: Vec<BarPoint>,
    /// The hinges crossed, in order, each named by the section that hangs on it.
    pub hinges: Vec<SectionId>,
    /// Its length, without slack or allowances.
    pub length: Length,
    /// What leads to each waypoint.
    pub(super) steps: Vec<Step>,
}

/// What leads to a waypoint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// A frame member.
    Member,
    /// A hinge is crossed there.
    Hinge,
    /// The corner of a part that a line goes round.
    Corner,
}

impl FrameWay {
    /// The same way for a hose, which is stiff: it steps onto the frame and off it aslant, not at a right angle.
    #[must_use]
    pub fn aslant(mut self, from: Point3, to: Point3) -> Self {
        let points = &mut self.waypoints;
        let is_hinge = |at: usize| self.steps.get(at) == Some(&Step::Hinge);
        // Cut short, a corner would lead through what the line goes round.
        let slides = |at: usize| self.steps.get(at) == Some(&Step::Member);
        if let [first, rest @ ..] = &mut points[..]
            && slides(0)
        {
            first.place = slid(from, first.place, rest.first().map_or(to, |next| next.place), is_hinge(1));
        }
        // A single step was taken above.
        let count = points.len();
        if let [.., before, last] = &mut points[..]
            && slides(count - 1)
        {
            last.place = slid(to, last.place, before.place, is_hinge(count - 2));
        }
        let way: Vec<Point3> =
            std::iter::once(from).chain(points.iter().map(|point| point.place)).chain([to]).collect();
        self.length = Length::metres(polyline_length(&way));
        self
    }

    /// The same way with corners moved on along it, as far as a tube may hang beside its member, until a line that bends no
    /// tighter than `least` follows all of it; as near to that as such moves lead. Hinges and corners of parts stay.
    #[must_use]
    pub(super) fn eased(mut self, from: Point3, to: Point3, least: Length) -> Self {
        // The last digit of a sum is no reason to move anything.
        let enough = least.si() * (1.0 - 1e-9);
        let line = |points: &[BarPoint]| -> Vec<Point3> {
            std::iter::once(from).chain(points.iter().map(|point| point.place)).chain([to]).collect()
        };
        let tightest = |points: &[BarPoint]| tightest_bend(&line(points), enough).map(|bend| bend.radius);
        let mut now = tightest(&self.waypoints);
        // One move mends one corner.
        for _ in 0..self.waypoints.len() {
            let Some(radius) = now else { break };
            let mut best: Option<(Option<f64>, Vec<BarPoint>)> = None;
            'moves: for by in EASED {
                for at in (0..self.waypoints.len()).filter(|at| self.steps.get(*at) == Some(&Step::Member)) {
                    let places = line(&self.waypoints);
                    for next in [places[at], places[at + 2]] {
                        let here = places[at + 1];
                        if here.distance(next) < 2.0 * by {
                            continue;
                        }
                        let mut moved = self.waypoints.clone();
                        moved[at].place = here.towards(next, by / here.distance(next));
                        let found = tightest(&moved);
                        let better = |than: f64| found.is_none_or(|found| found > than + 1e-9);
                        if better(best.as_ref().and_then(|best| best.0).unwrap_or(radius)) {
                            best = Some((found, moved));
                        }
                        if found.is_none() {
                            break 'moves;
                        }
                    }
                }
            }
            let Some((found, moved)) = best else { break };
            (now, self.waypoints) = (found, moved);
        }
        self.length = Length::metres(polyline_length(&line(&self.waypoints)));
        self
    }
}

/// A step from beside the frame, moved on along it, but never so far that the next step has no room, and that at a hinge nothing
/// straight is left to clamp the hose on.
fn slid(beside: Point3, step: Point3, next: Point3, next_is_hinge: bool) -> Point3 {
    let (aside, on) = (beside.distance(step), step.distance(next));
    // Nothing to cut off where the way hardly turns.
    if on == 0.0 || beside.distance(next) > aside + on - 1e-6 {
        step
    } else {
        let room = if next_is_hinge { (1.0 - CLAMPED / on).max(0.0) } else { 0.5 };
        step.towards(next, (ASLANT / on).min(room))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: from 50 mm beside a rail 3 m long, 0.3 m along it; where there are 0.4 m, half of them.
    #[test]
    fn a_hose_steps_onto_the_frame_aslant() {
        let at = |x: f64, y: f64| Point3::new(x, y, 1.0);
        let riding = |place| BarPoint { place, section: SectionId(1) };
        let led = |waypoints: Vec<Point3>, by: Step| FrameWay {
            steps: vec![by; waypoints.len()],
            waypoints: waypoints.into_iter().map(riding).collect(),
            hinges: Vec::new(),
            length: Length::ZERO,
        };
        let way = |waypoints| led(waypoints, Step::Member);
        let (from, to) = (at(0.0, 0.05), at(3.0, 0.05));
        let aslant = way(vec![at(0.0, 0.0), at(3.0, 0.0)]).aslant(from, to);
        assert_eq!(aslant.waypoints.len(), 2);
        assert!(aslant.waypoints[0].place.distance(at(0.3, 0.0)) < 1e-12, "{aslant:?}");
        assert!(aslant.waypoints[1].place.distance(at(2.7, 0.0)) < 1e-12, "{aslant:?}");
        assert!((aslant.length.si() - (2.4 + 2.0 * 0.3f64.hypot(0.05))).abs() < 1e-12);
        let short = way(vec![at(0.0, 0.0)]).aslant(from, at(0.4, 0.0));
        assert!(short.waypoints[0].place.distance(at(0.2, 0.0)) < 1e-12, "{short:?}");
        let straight = way(vec![at(1.0, 0.05)]).aslant(from, to);
        assert_eq!(straight.waypoints, [riding(at(1.0, 0.05))], "nothing is cut off where nothing turns");
        let round = led(vec![at(0.0, 0.0), at(3.0, 0.0)], Step::Corner).aslant(from, to);
        assert_eq!(round.waypoints[0], riding(at(0.0, 0.0)), "a corner is not cut");
        assert_eq!(way(Vec::new()).aslant(from, to).waypoints, []);
    }

    /// By hand: 25 mm from an outlet to a carrier, then square along it: an arc that begins at the outlet has a radius of
    /// 25 mm. From 50 mm on along the carrier the turn is atan(25 / 50) = 26.6°, and the arc has the shorter of 55.9 mm and what
    /// is left behind it: 55.9 / tan(13.3°) = 237 mm.
    #[test]
    fn a_tube_that_bends_too_tight_where_it_steps_on_goes_on_aslant() {
        let at = |x: f64, y: f64| Point3::new(x, y, 1.0);
        let riding = |place| BarPoint { place, section: SectionId(1) };
        let way = |by: Step| FrameWay {
            steps: vec![by, Step::Member],
            waypoints: vec![riding(at(0.0, 0.0)), riding(at(0.0, -1.0))],
            hinges: Vec::new(),
            length: Length::ZERO,
        };
        let (from, to) = (at(0.025, 0.0), at(1.0, -1.0));
        let eased = |least: f64| way(Step::Member).eased(from, to, Length::metres(least)).waypoints;
        assert_eq!(eased(0.025), way(Step::Member).waypoints, "it has just the room");
        assert_eq!(eased(0.04), [riding(at(0.0, -0.05)), riding(at(0.0, -1.0))]);
        assert_eq!(way(Step::Hinge).eased(from, to, Length::metres(0.04)).waypoints[0], riding(at(0.0, 0.0)));
    }
}
