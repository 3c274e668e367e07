//! What is known at a hinge that is crossed: the length there, where that is from, and how the free piece lies.

use std::sync::Arc;

use super::not_computed::NotComputed;
use super::parts::PARTS;
use super::search::{self, LOAD_PARTS, Problem, ShapeKey};
use super::way::{DOWN, HingeWay, Seen};
use crate::geometry::{Bent, Point2, Point3};
use crate::plan::SectionId;
use crate::plan::bar::Bar;
use crate::plan::bar_point::BarPoint;
use crate::plan::fold::{FoldPosition, FoldedBar};
use crate::plan::hinge_crossing::{ClampPlaces, Towards};
use crate::plan::stock_bending::Known;
use crate::quantities::{Angle, BendingStiffness, Length, Ratio};

/// Extra length at a hinge where it can't be computed and nobody entered it (common practice, no source).
pub const HINGE_ALLOWANCE: Length = Length::metres(0.25);

/// A clamp beside a hinge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clamp {
    /// Where it is, and on which section.
    pub at: BarPoint,
    /// The direction of the hose there, working position; of length 1.
    pub along: Point3,
    /// How far from beside the hinge, along the hose.
    pub from_hinge: Length,
    /// How far from the axis of the hinge, straight.
    pub from_axis: Length,
    /// From where to where it may be, along the straight stretch of the hose beside the hinge.
    pub stretch: (Length, Length),
    /// No frame member of its section is near enough to carry it; not so on a bar without a frame, of which nothing is known.
    pub needs_carrier: bool,
}

/// How low a free piece hangs at work, on level ground and at the lowest angles that its hinges reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hang {
    /// Its lowest point at any length that it may have, cut and under pressure: a computed one over all of its tolerance, an
    /// entered one as it was entered, shorter and longer under pressure.
    Computed {
        /// Of its underside above the ground.
        height: Length,
        /// The same on level ground, where no hinge is at its lowest angle: into a dip the ground goes as well.
        level: Length,
        /// Of its middle line below the lower of its clamps; 0 or less where it hangs no lower.
        below_clamps: Length,
        /// Of its underside below the underside of the frame beside the hinge; none where there is no frame.
        below_frame: Option<Length>,
    },
    /// Not computed: its weight acts across the plane of its clamps, so that it sags out of it.
    OutOfPlane,
}

/// A crossing that is computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// The clamps on the side where the hose comes from, and where it goes on.
    pub clamps: [Clamp; 2],
    /// Somebody placed the clamps.
    pub is_placed: bool,
    /// Length between the clamps, computed.
    pub free: Length,
    /// Length between the clamps as it is laid: the computed one, or what an entered length leaves there.
    pub lies: Length,
    /// The way between the clamps as drawn.
    pub way: Length,
    /// Longest straight distance of the clamps through the fold, and where.
    pub longest: (Length, FoldPosition),
    /// Smallest bend radius at any length in the tolerance, and where.
    pub tightest: (Length, FoldPosition),
    /// From where to where the free piece takes the place of the way as drawn, from the start of the line.
    pub span: (Length, Length),
    /// How low it hangs at work, filled.
    pub hangs: Hang,
    /// Its stiffness or its weight is assumed.
    pub is_assumed: bool,
    /// How stiff its stock is.
    pub stiffness: Known<BendingStiffness>,
    pub(super) twist: Angle,
    pub(super) problem: Arc<Problem>,
    pub(super) turns: Arc<HingeWay>,
    /// Along the hose in front of the hinge, and the axis of the hinge, working position.
    pub(super) plane: (Point3, Point3),
    pub(super) hinge: SectionId,
    /// The hinge carries the start of the hose, not its end.
    pub(super) turns_start: bool,
}

impl Crossing {
    /// The free piece as it lies in a position of the fold, filled, from clamp to clamp; none where no shape is found.
    pub fn bent(&self, bar: &Bar, folded: &FoldedBar, position: FoldPosition) -> Option<Vec<Point3>> {
        let hinge = bar.section(self.hinge)?.hinge?;
        let turned = hinge.angle(bar, position).si();
        let angle = if self.turns_start { -turned } else { turned };
        let start = &self.clamps[0];
        let motion = folded.motion(start.at.section);
        let down = motion.inverse().direction(DOWN);
        let (along, axis) = self.plane;
        let load = self.problem.loads[0] as f64 / LOAD_PARTS;
        let weight = Point2::new(down.dot(along) * load, down.dot(axis.cross(along)) * load);
        let places = self.places_of_clamps();
        let piece = self.problem.piece_at(places, self.lies.si(), angle, weight);
        let film = search::film(&self.problem, places, self.lies.si());
        // Frames come from transport position: the last that is folded as far or farther is near.
        let frames = self.turns.frames();
        let near =
            frames.iter().zip(film.iter()).take_while(|(at, _)| !at.is_lowest && at.until >= position).last();
        let near = near.map(|(_, bent)| bent);
        let shape = near.and_then(|near| piece.shape_from(near).ok()).or_else(|| piece.shape().ok())?;
        Some(self.placed(&shape).into_iter().map(|point| motion.place(point)).collect())
    }

    /// The free piece through the fold, filled, from transport position to work and at the lowest angles of work: each frame
    /// with its points as the section has them that carries its start, working position. Fewer where no shape is found.
    pub(in crate::plan) fn film(&self) -> Vec<(Seen, Vec<Point3>)> {
        let film = search::film(&self.problem, self.places_of_clamps(), self.lies.si());
        self.turns.frames().iter().copied().zip(film.iter().map(|bent| self.placed(bent))).collect()
    }

    /// What its film follows from, but for the bar.
    pub(in crate::plan) fn film_key(&self) -> FilmKey {
        let shapes = search::shape_key(&self.problem, self.places_of_clamps(), self.lies.si());
        FilmKey { hinge: self.hinge, shapes }
    }

    /// Its points as the section has them that carries its start, working position.
    fn placed(&self, bent: &Bent) -> Vec<Point3> {
        let ((along, axis), origin) = (self.plane, self.clamps[0].at.place);
        let (aside, from) = (axis.cross(along), self.problem.clamps(self.places_of_clamps(), 0.0).0.at);
        let place = |point: Point2| origin + along * (point.x - from.x) + aside * (point.y - from.y);
        bent.points().into_iter().map(place).collect()
    }

    /// By how much it is twisted at most because its clamps are not quite in one plane across the hinge; left out of its shape.
    pub const fn twist(&self) -> Angle {
        self.twist
    }

    /// The smallest bend radius of a free piece of another length through the fold, and where; none where it has no shape.
    pub fn tightest_at(&self, free: Length) -> Option<(Length, FoldPosition)> {
        let (radius, at) = self.problem.tightest(self.places_of_clamps(), free.si(), 0.0)?;
        Some((Length::metres(radius), self.turns.position(at)))
    }

    /// Least bend radius of its stock.
    pub fn least_radius(&self) -> Length {
        Length::metres(self.problem.radius as f64 / PARTS)
    }

    /// How far the clamps are from beside the hinge, metres.
    pub(super) const fn places_of_clamps(&self) -> (f64, f64) {
        (self.clamps[0].from_hinge.si(), self.clamps[1].from_hinge.si())
    }

    /// Its clamp on the side of the hinge that is towards the centre of the bar, and the one on the side towards the tip.
    pub const fn inner_and_outer(&self) -> [&Clamp; 2] {
        let [before, behind] = &self.clamps;
        if self.turns_start { [behind, before] } else { [before, behind] }
    }

    /// Its start lies on the side of the hinge towards the tip of the bar.
    pub const fn turns_from_tip(&self) -> bool {
        self.turns_start
    }

    /// Its clamp on one side of the hinge.
    pub const fn clamp(&self, towards: Towards) -> &Clamp {
        let [inner, outer] = self.inner_and_outer();
        match towards {
            Towards::Centre => inner,
            Towards::Tip => outer,
        }
    }

    /// What it adds to the way as drawn with its slack; less than nothing where the slack alone is more.
    pub fn extra(&self, slack: Ratio) -> Length {
        self.free - self.way * (1.0 + slack.si())
    }

    /// Where its clamps are.
    pub const fn places(&self) -> ClampPlaces {
        let [before, behind] = &self.clamps;
        ClampPlaces { before: before.from_hinge, behind: behind.from_hinge }
    }
}

/// What is the same to this has the same film on the same bar.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::plan) struct FilmKey {
    hinge: SectionId,
    shapes: ShapeKey,
}

/// A crossing that is not computed yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Awaited(pub(super) Problem);

impl Awaited {
    /// Computes it, and how it lies through the fold, which whoever draws or checks it asks for next. Both are kept for whoever
    /// asks for the same crossing from then on, on any thread.
    pub fn compute(&self) {
        if let Ok(answer) = search::answer(&self.0) {
            search::film(&Arc::new(self.0.clone()), answer.clamps, answer.to_cut());
        }
    }
}

/// The length at a crossing.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossedHinge {
    /// The section that hangs on the hinge.
    pub section: SectionId,
    /// The hose or tube comes from the side towards the tip of the bar, and goes on towards its centre.
    pub from_tip: bool,
    /// What is added there to the way as drawn and its slack.
    pub extra: Length,
    /// Where that is from.
    pub basis: CrossingBasis,
    /// It is still to be computed.
    pub awaited: Option<Box<Awaited>>,
}

impl CrossedHinge {
    /// What the program computes there, whether it is taken or not.
    pub fn computed(&self) -> Option<&Crossing> {
        match &self.basis {
            CrossingBasis::Entered(Ok(crossing)) | CrossingBasis::Computed(crossing) => Some(crossing),
            CrossingBasis::Entered(Err(_)) | CrossingBasis::Assumed(_) => None,
        }
    }

    /// Length between the clamps as the line is cut, with the slack of its way: the computed one, or what an entered length
    /// leaves there; none where no place for the clamps is computed.
    pub fn free(&self) -> Option<Length> {
        Some(self.computed()?.lies)
    }
}

/// Where the length at a crossing is from.
#[derive(Debug, Clone, PartialEq)]
pub enum CrossingBasis {
    /// Somebody entered it; what the program computes beside it.
    Entered(Result<Box<Crossing>, NotComputed>),
    /// Computed through the fold.
    Computed(Box<Crossing>),
    /// Assumed to be [`HINGE_ALLOWANCE`].
    Assumed(NotComputed),
}
