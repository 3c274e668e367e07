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

impl Carrier {
    /// What it is cut to: from end to end, and what it goes on beyond the middle of what it is fixed to at each end that is.
    pub fn length(&self, overlap: Length) -> Length {
        let [from, to] = &self.ends;
        let fixed = self.ends.iter().filter(|end| end.on != CarrierHold::Free).count();
        Length::metres(from.at.distance(to.at)) + overlap * fixed as f64
    }

    /// How high its top is.
    pub const fn top(&self) -> Length {
        Length::metres(self.ends[0].at.z)
    }

    /// The room that it takes.
    pub fn shape(&self) -> Capsule {
        rail(&self.ends, self.size)
    }
}

/// The room that a carrier with these ends takes that is so wide and high.
pub(super) fn rail(ends: &[CarrierEnd; 2], size: Length) -> Capsule {
    let radius = size.si() / 2.0;
    let [from, to] = ends.map(|end| Point3::new(end.at.x, end.at.y, end.at.z - radius));
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
