//! A point that rides on a section of the bar.

use serde::{Deserialize, Serialize};

use super::SectionId;
use super::bar::Bar;
use crate::geometry::Point3;

/// A point of a hose or tube, or where something starts or ends, with the section that carries it when the bar folds.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BarPoint {
    /// Where it is, working position.
    pub place: Point3,
    /// The section that it rides on.
    pub section: SectionId,
}

impl BarPoint {
    /// A point that rides on the section it lies over; where none spans it, on the one whose end is nearest.
    pub fn over(bar: &Bar, place: Point3) -> Self {
        Self { place, section: bar.section_at(place.x).map(|section| section.id).unwrap_or_default() }
    }
}
