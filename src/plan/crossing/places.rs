//! Where a hose may be clamped beside a hinge: places on its straight stretch, and whether a frame member there carries a clamp.

use super::parts::parts;
use super::stretch::Stretch;
use crate::plan::bar::Bar;
use crate::plan::open_air::{beside_members, carries_clamp};
use crate::plan::{BarPoint, SectionId};

/// A place for a clamp.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    /// How far from beside the hinge, along the hose, tenths of a millimetre.
    pub(super) at: i64,
    /// A frame member is near enough to carry a clamp there.
    pub(super) is_carried: bool,
}

/// Clamps are tried so far from beside the hinge, metres.
const PLACES: [f64; 18] =
    [0.05, 0.08, 0.11, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2];

/// Within the ends of what a member reaches by this, metres.
const INSIDE: f64 = 1e-3;

/// The places tried on a stretch that begins so far from beside the hinge, from the hinge outwards, and none nearer to it than
/// there is room for a hose. What is straight beyond the farthest makes no other problem of it.
pub(super) fn candidates(bar: &Bar, on: SectionId, stretch: &Stretch, near: f64, room: f64) -> Vec<Place> {
    let (least, far) = (near.max(room), near + stretch.length);
    let mut all: Vec<f64> = PLACES.into_iter().filter(|one| (least..=far).contains(one)).collect();
    // A member that reaches between two of them is tried at both ends of its reach.
    let farthest = far.min(PLACES[PLACES.len() - 1]);
    let end = stretch.begins + stretch.along * stretch.length;
    for reach in beside_members(bar, on, stretch.begins, end) {
        let [begins, ends] = reach.map(|share| near + share * stretch.length);
        let (begins, ends) = ((begins + INSIDE).max(least), (ends - INSIDE).min(farthest));
        if begins < ends && !all.iter().any(|one| (begins..=ends).contains(one)) {
            all.extend([begins, ends]);
        }
    }
    if all.is_empty() && least <= far {
        all.push(far);
    }
    all.sort_by(f64::total_cmp);
    let place = |from_hinge: f64| {
        let at = BarPoint { place: stretch.begins + stretch.along * (from_hinge - near), section: on };
        Place { at: parts(from_hinge), is_carried: carries_clamp(bar, at) }
    };
    all.into_iter().map(place).collect()
}
