//! What holds hoses, tubes and parts where the frame alone does not: clamps on both sides of a hinge, carriers across open
//! frame, brackets where no member is near.
//!
//! Nobody draws these pieces: [`held`](super::holding::held) works them out from where the frame is and what hangs off it.

use super::bar_point::BarPoint;
use super::{FrameMember, PartId, RowId, SectionId, Subject};
use crate::geometry::{Capsule, Point3};
use crate::quantities::Length;

/// A straight rail, flat or angle across open frame that bears what hangs there.
#[derive(Debug, Clone, PartialEq)]
pub struct Carrier {
    /// `C1`, counted from the left end of the bar to the right, on each section from front to back.
    pub mark: String,
    /// The section whose members carry it.
    pub section: SectionId,
    /// The left end and the right one, or the front and the rear.
    pub ends: [CarrierEnd; 2],
    /// How wide and high it is.
    pub size: Length,
    /// What lies on it or crosses it, and is tied to it.
    pub bears: Vec<HeldLine>,
}

/// An end of a carrier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarrierEnd {
    /// On the middle of its top: beneath what it bears, and over the middle of what it is fixed to.
    pub at: Point3,
    /// What it is fixed to.
    pub on: CarrierHold,
}

/// What an end of a carrier is fixed to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CarrierHold {
    /// A frame member of its section.
    Member(FrameMember),
    /// Another carrier, by its place among the carriers.
    Carrier(usize),
    /// Nothing: it stands out free.
    Free,
}

/// How a carrier stands at another one that it is fixed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meeting {
    /// It lies on it.
    OnTop,
    /// It hangs beneath it.
    Beneath,
    /// Their heights overlap, wholly or in part: it ends at the other's side.
    Butted,
}

/// How a carrier stands at a frame member that it is fixed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seat {
    /// Its underside is on the member's top or over it.
    OnTop,
    /// Its top is at the member's underside or below it.
    Beneath,
    /// Their heights overlap: it ends at the member's side.
    Beside,
}

impl Carrier {
    /// How an end of it stands at the frame member that it is fixed to, and how high that one's middle is there, metres; none
    /// at a carrier, or where it is fixed to nothing.
    pub fn seat(&self, end: &CarrierEnd) -> Option<(Seat, f64)> {
        let CarrierHold::Member(member) = end.on else { return None };
        let (from, to) = (member.from.flat(), member.to.flat());
        let share = from.distance(end.at.flat()) / from.distance(to).max(1e-9);
        let middle = member.from.towards(member.to, share.clamp(0.0, 1.0)).z;
        let over = end.at.z - middle;
        let half = member.width.si() / 2.0;
        let seat = match over {
            over if over > half + self.size.si() - SEATED => Seat::OnTop,
            over if over < SEATED - half => Seat::Beneath,
            _ => Seat::Beside,
        };
        Some((seat, middle))
    }

    /// The carrier that goes on in line with this one beyond the frame member of an end, at its height: both can't lap over
    /// that member, and meet over its middle.
    pub fn goes_on<'a>(&self, end: &CarrierEnd, all: &'a [Self]) -> Option<&'a Self> {
        let (seat, _) = self.seat(end).filter(|one| one.0 != Seat::Beside)?;
        let (x, y) = self.way();
        let sign = if *end == self.ends[0] { -1.0 } else { 1.0 };
        let (out_x, out_y) = (x * sign, y * sign);
        all.iter().find(|other| {
            *other != self
                && (other.top().si() - self.top().si()).abs() < other.size.si()
                && other.ends.iter().enumerate().any(|(index, met)| {
                    let (dx, dy) = (met.at.x - end.at.x, met.at.y - end.at.y);
                    let (other_x, other_y) = other.way();
                    let inward = if index == 0 { 1.0 } else { -1.0 };
                    met.on == end.on
                        && other.seat(met).is_some_and(|one| one.0 == seat)
                        && (dx * out_y - dy * out_x).abs() < self.size.si()
                        && (out_x * other_x + out_y * other_y) * inward > 0.0
                })
        })
    }

    /// Which way it goes seen from above, from its first end to the other.
    fn way(&self) -> (f64, f64) {
        way(self.ends.map(|end| end.at))
    }

    /// How an end of it stands at the carrier that it is fixed to; none at a member, or where it is fixed to nothing.
    pub fn meets(&self, end: &CarrierEnd, all: &[Self]) -> Option<Meeting> {
        let CarrierHold::Carrier(at) = end.on else { return None };
        let over = self.top().si() - all.get(at)?.top().si();
        Some(match over {
            over if over > self.size.si() - MEETS => Meeting::OnTop,
            over if over < MEETS - self.size.si() => Meeting::Beneath,
            _ => Meeting::Butted,
        })
    }

    /// Where it begins and ends on the middle of its top: beyond the middle of what it is fixed to by an overlap, over that middle
    /// where another goes on from there in line, at the side of a carrier or member that it is butted against.
    pub fn cut_ends(&self, overlap: Length, all: &[Self]) -> [Point3; 2] {
        let [from, to] = self.ends.map(|end| end.at);
        let beyond = self.ends.each_ref().map(|end| match self.meets(end, all) {
            Some(Meeting::Butted) => -self.middle_to_side(end, all),
            _ if end.on == CarrierHold::Free => 0.0,
            _ if self.seat(end).is_some_and(|one| one.0 == Seat::Beside) => -self.middle_to_side(end, all),
            _ if self.goes_on(end, all).is_some() => 0.0,
            _ => overlap.si(),
        });
        extended([from, to], beyond)
    }

    /// From the middle of a carrier or frame member that it is butted against to that one's side, along itself, metres.
    fn middle_to_side(&self, end: &CarrierEnd, all: &[Self]) -> f64 {
        let (width, (other_x, other_y)) = match end.on {
            CarrierHold::Member(member) => (member.width, way([member.from, member.to])),
            CarrierHold::Carrier(at) => match all.get(at) {
                Some(other) => (other.size, other.way()),
                None => return 0.0,
            },
            CarrierHold::Free => return 0.0,
        };
        let (x, y) = self.way();
        // Nothing is fixed to what it lies along.
        width.si() / 2.0 / (x * other_y - y * other_x).abs().max(0.1)
    }

    /// What it is cut to.
    pub fn length(&self, overlap: Length, all: &[Self]) -> Length {
        let [from, to] = self.cut_ends(overlap, all);
        Length::metres(from.distance(to))
    }

    /// How high its top is.
    pub const fn top(&self) -> Length {
        Length::metres(self.ends[0].at.z)
    }

    /// Between which places of its top the middle of what it bears may lie.
    pub fn bearing(&self) -> [Point3; 2] {
        bearing(&self.ends, self.size)
    }
}

/// Between which places of its top the middle of what it bears may lie, of a carrier with these ends that is so wide: half a width
/// short of an end that stands out free, so that a tie has room there.
pub(super) fn bearing(ends: &[CarrierEnd; 2], size: Length) -> [Point3; 2] {
    let beyond = ends.each_ref().map(|end| if end.on == CarrierHold::Free { -size.si() / 2.0 } else { 0.0 });
    extended(ends.map(|end| end.at), beyond)
}

/// Carriers whose heights are nearer than this touch, metres.
const MEETS: f64 = 1e-4;

/// A carrier that would reach into a frame member by less lies on it, metres: half the step that heights are printed in.
const SEATED: f64 = 5e-4;

/// Which way a piece goes seen from above.
fn way([from, to]: [Point3; 2]) -> (f64, f64) {
    let length = from.flat().distance(to.flat()).max(1e-9);
    ((to.x - from.x) / length, (to.y - from.y) / length)
}

/// A straight piece that goes on beyond its two ends by so much, metres.
fn extended([from, to]: [Point3; 2], [before, behind]: [f64; 2]) -> [Point3; 2] {
    let length = from.distance(to).max(1e-9);
    [from.towards(to, -before / length), to.towards(from, -behind / length)]
}

/// The room that a carrier with these ends takes that is so wide and high and goes on beyond what it is fixed to by an overlap.
pub(super) fn rail(ends: &[CarrierEnd; 2], size: Length, overlap: Length) -> Capsule {
    let radius = size.si() / 2.0;
    // Its round ends are as far out as it is cut where it stands out free.
    let beyond = ends.map(|end| if end.on == CarrierHold::Free { -radius } else { overlap.si() });
    let axis = ends.map(|end| Point3::new(end.at.x, end.at.y, end.at.z - radius));
    let [from, to] = extended(axis, beyond);
    Capsule { from, to, radius }
}

/// A hose or tube as it is held.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldLine {
    /// The hose, or the row feed that it is a tube of.
    pub of: Subject,
    /// As the cut list names it: `H3`, `T14`, `T14.2`.
    pub tag: String,
}

/// A hose or tube that hangs farther than it may, where no carrier can stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncarried {
    /// What hangs.
    pub line: HeldLine,
    /// The longest stretch of it.
    pub span: Length,
    /// It may hang so far.
    pub most: Length,
    /// What keeps a carrier out; none where there is nothing to fix one to.
    pub why: Option<InTheWay>,
}

/// What keeps a carrier out of a place.
#[derive(Debug, Clone, PartialEq)]
pub enum InTheWay {
    /// A hose or tube that moves there in the fold, between its clamps.
    FreePiece(HeldLine),
    /// A section that comes there in the fold.
    Fold(SectionId),
    /// The opener of a row, where it rises and trips.
    Opener(RowId),
    /// A part.
    Part(PartId),
    /// A hose or tube that lies there.
    Line(HeldLine),
}

impl InTheWay {
    /// The hose, tube, part or row that is there; none of a section.
    pub const fn subject(&self) -> Option<Subject> {
        match self {
            Self::FreePiece(line) | Self::Line(line) => Some(line.of),
            Self::Opener(row) => Some(Subject::Row(*row)),
            Self::Part(part) => Some(Subject::Part(*part)),
            Self::Fold(_) => None,
        }
    }
}

/// A clamp beside a hinge.
#[derive(Debug, Clone, PartialEq)]
pub struct HingeClamp {
    /// What it holds.
    pub line: HeldLine,
    /// Outside diameter of that.
    pub outside: Length,
    /// The section that hangs on the hinge.
    pub hinge: SectionId,
    /// Where it is; none where no place is computed.
    pub at: Option<BarPoint>,
    /// A frame member is near enough to screw it onto; none where no place is computed.
    pub has_member: Option<bool>,
}

/// All of it, of one routing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Held {
    /// In the order of their marks.
    pub carriers: Vec<Carrier>,
    /// What hangs all the same.
    pub uncarried: Vec<Uncarried>,
    /// Two at each hinge that a line crosses.
    pub clamps: Vec<HingeClamp>,
    /// The clamps that have neither member nor carrier, those that one bracket holds together, by their places among the
    /// clamps.
    pub brackets: Vec<Vec<usize>>,
    /// Parts that are screwed onto nothing.
    pub parts: Vec<PartId>,
}
