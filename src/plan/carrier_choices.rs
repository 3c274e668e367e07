//! The carriers that might bear what hangs of a line: along it or across its middle, fixed to what its section has.

use std::collections::BTreeMap;

use super::SectionId;
use super::bar::{Bar, FrameMember};
use super::held::{CarrierEnd, CarrierHold, InTheWay, bearing};
use super::hung_line::{EXACT, HungLine};
use super::open_air::{FreeStretch, TIED, Tie};
use crate::geometry::{Bounds, Point2, Point3};
use crate::quantities::Length;

/// What fixing a carrier counts against a metre of it, metres: two clamps, two cuts.
const FIXING: f64 = 0.3;

/// What an end that stands out free counts, metres.
const STANDS_OUT: f64 = 0.3;

/// As far as this a carrier stands out from a single member, metres (common practice, no source).
const FARTHEST_OUT: f64 = 1.2;

/// A carrier that stands out and has something in its way ends after these shares of what it should reach.
const SHORTER: [f64; 4] = [1.0, 0.75, 0.5, 0.25];

/// A member this much aslant to a carrier at least carries an end of it, as the sine of the angle.
const ACROSS: f64 = 0.3;

/// A carrier by what it is told apart by: its section and its ends in whole tenths of a millimetre.
pub(super) type Key = (SectionId, [[i64; 3]; 2]);

/// A carrier that might be.
#[derive(Clone)]
pub(super) struct Choice {
    pub(super) section: SectionId,
    pub(super) ends: [CarrierEnd; 2],
    /// How wide and high it is.
    pub(super) size: Length,
}

impl Choice {
    pub(super) fn key(&self) -> Key {
        let whole = |value: f64| (value * 1e4).round() as i64;
        (self.section, self.ends.map(|end| [end.at.x, end.at.y, end.at.z].map(whole)))
    }

    /// How high its top is, metres.
    pub(super) const fn top(&self) -> f64 {
        self.ends[0].at.z
    }

    /// The same with its top so high.
    pub(super) fn with_top(&self, top: f64) -> Self {
        let mut lowered = self.clone();
        for end in &mut lowered.ends {
            end.at.z = top;
        }
        lowered
    }

    fn length(&self) -> f64 {
        self.ends[0].at.distance(self.ends[1].at)
    }

    pub(super) fn as_member(&self) -> FrameMember {
        FrameMember { from: self.ends[0].at, to: self.ends[1].at, width: self.size }
    }

    /// As lines are tied to it.
    pub(super) fn as_tie(&self) -> Tie {
        Tie::carrier(bearing(&self.ends, self.size))
    }

    /// What it takes to make and fit, metres of rail.
    pub(super) fn costs(&self) -> f64 {
        let free = self.ends.iter().filter(|end| end.on == CarrierHold::Free).count();
        self.length() + FIXING + free as f64 * STANDS_OUT
    }

    pub(super) fn bounds(&self) -> Bounds {
        Bounds::around(self.ends.map(|end| end.at.flat())).grown(TIED)
    }
}

/// The carriers that might bear a stretch of a line that hangs.
pub(super) fn choices_on(
    bar: &Bar,
    (line, size): (&HungLine, Length),
    stretch: &FreeStretch,
    found: &[Choice],
    refused: &BTreeMap<Key, InTheWay>,
    choices: &mut Vec<Choice>,
) {
    let path = &line.laid.path;
    let whole: f64 = path.windows(2).map(|pair| pair[0].place.flat().distance(pair[1].place.flat())).sum();
    let mut ends = stretch.to;
    // An opener moves: the rest is left free.
    if line.ends_at_opener && ends > whole - EXACT {
        let left = line.most.si().min(ends - stretch.from - EXACT);
        ends -= left.max(0.0);
    }
    let mut passed = 0.0;
    for pair in path.windows(2) {
        let length = pair[0].place.flat().distance(pair[1].place.flat());
        let (from, to) = ((stretch.from - passed).max(0.0), (ends - passed).min(length));
        passed += length;
        if to - from > EXACT && pair[0].section == pair[1].section {
            let at = |way: f64| pair[0].place.towards(pair[1].place, way / length);
            let piece = Piece { section: pair[0].section, from: at(from), to: at(to), size };
            let top = piece.from.z.min(piece.to.z) - line.outside.si() / 2.0;
            let supports = supports(bar, piece.section, found);
            piece.along(top, &supports, refused, choices);
            piece.across(top, &supports, choices);
        }
    }
}

/// What may carry an end: the members of a section, and the carriers on it.
fn supports(bar: &Bar, section: SectionId, found: &[Choice]) -> Vec<(FrameMember, CarrierHold)> {
    let members = bar.section(section).map_or(&[][..], |section| &section.members);
    let members = members.iter().map(|member| (*member, CarrierHold::Member(*member)));
    let carriers = found.iter().enumerate().filter(|(_, one)| one.section == section);
    members.chain(carriers.map(|(at, one)| (one.as_member(), CarrierHold::Carrier(at)))).collect()
}

/// A straight piece of a line that hangs.
struct Piece {
    section: SectionId,
    from: Point3,
    to: Point3,
    /// Of the carriers that might bear it: how wide and high.
    size: Length,
}

impl Piece {
    /// Carriers beneath it: from one support to the next; where there is none or something is in its way, standing out from
    /// a member at either end, as far as nothing is.
    fn along(
        &self,
        top: f64,
        supports: &[(FrameMember, CarrierHold)],
        refused: &BTreeMap<Key, InTheWay>,
        choices: &mut Vec<Choice>,
    ) {
        let (from, to) = (self.from.flat(), self.to.flat());
        let length = from.distance(to);
        let way = Point2::new((to.x - from.x) / length, (to.y - from.y) / length);
        let [before, behind] = nearest(from, way, [0.0, length], supports);
        let at = |along: f64, on| CarrierEnd {
            at: Point3::new(from.x + way.x * along, from.y + way.y * along, top),
            on,
        };
        if let (Some((begins, on)), Some((ends, other))) = (before, behind)
            && !self.add([at(begins, on), at(ends, other)], refused, choices)
        {
            return;
        }
        for (one, far) in [(before, length), (behind, 0.0)] {
            // One that stands out of another carrier would twist that.
            let Some((along, on @ CarrierHold::Member(_))) = one else { continue };
            let out = (far - along).clamp(-FARTHEST_OUT, FARTHEST_OUT);
            // What lies at its end is tied to it too.
            let beyond = self.size.si() / 2.0 * out.signum();
            for share in SHORTER {
                let ends = [at(along, on), at(along + out * share + beyond, CarrierHold::Free)];
                if !self.add(ends, refused, choices) {
                    break;
                }
            }
        }
    }

    /// A carrier across its middle, from one support to the next.
    fn across(&self, top: f64, supports: &[(FrameMember, CarrierHold)], choices: &mut Vec<Choice>) {
        let (from, to) = (self.from.flat(), self.to.flat());
        let length = from.distance(to);
        let way = Point2::new((to.y - from.y) / length, (from.x - to.x) / length);
        let middle = Point2::new(f64::midpoint(from.x, to.x), f64::midpoint(from.y, to.y));
        if let [Some(one), Some(other)] = nearest(middle, way, [0.0, 0.0], supports) {
            let at = |(along, on)| CarrierEnd {
                at: Point3::new(middle.x + way.x * along, middle.y + way.y * along, top),
                on,
            };
            self.add([at(one), at(other)], &BTreeMap::new(), choices);
        }
    }

    /// Adds one with its ends from left to right, or from front to back; whether another must be looked for, since there is
    /// something in its way.
    fn add(
        &self,
        mut ends: [CarrierEnd; 2],
        refused: &BTreeMap<Key, InTheWay>,
        choices: &mut Vec<Choice>,
    ) -> bool {
        let [from, to] = ends.map(|end| end.at);
        if from.distance(to) <= TIED {
            return false;
        }
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        if (dx.abs() > dy.abs() && dx < 0.0) || (dx.abs() <= dy.abs() && dy > 0.0) {
            ends.reverse();
        }
        let choice = Choice { section: self.section, ends, size: self.size };
        let is_refused = refused.contains_key(&choice.key());
        choices.push(choice);
        is_refused
    }
}

/// The nearest supports on both sides of what is needed of an axis, by how far along it they are.
fn nearest(
    from: Point2,
    way: Point2,
    [begins, ends]: [f64; 2],
    supports: &[(FrameMember, CarrierHold)],
) -> [Option<(f64, CarrierHold)>; 2] {
    let met = supports.iter().filter_map(|(member, on)| {
        let (a, b) = (member.from.flat(), member.to.flat());
        let length = a.distance(b);
        let along = Point2::new((b.x - a.x) / length, (b.y - a.y) / length);
        let sine = way.x * along.y - way.y * along.x;
        if length == 0.0 || sine.abs() < ACROSS {
            return None;
        }
        let (dx, dy) = (a.x - from.x, a.y - from.y);
        let on_member = (dx * way.y - dy * way.x) / sine;
        let on_axis = (dx * along.y - dy * along.x) / sine;
        (-EXACT..=length + EXACT).contains(&on_member).then_some((on_axis, *on))
    });
    let met: Vec<(f64, CarrierHold)> = met.collect();
    let before = met.iter().filter(|one| one.0 <= begins + EXACT).max_by(|a, b| a.0.total_cmp(&b.0));
    let behind = met.iter().filter(|one| one.0 >= ends - EXACT).min_by(|a, b| a.0.total_cmp(&b.0));
    [before.copied(), behind.copied()]
}
