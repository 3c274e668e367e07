//! A point that rides on a section of the bar.

use serde::{Deserialize, Serialize};

use super::SectionId;
use crate::geometry::{Point3, finite};

/// A point of a hose or tube, or where something starts or ends, with the section that carries it when the bar folds.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "Saved", into = "Saved")]
pub struct BarPoint {
    /// Where it is, working position.
    pub place: Point3,
    /// The section that it rides on. It may lie beyond that section's end.
    pub section: SectionId,
}

/// As files have it: on one line with its section.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Saved {
    #[serde(deserialize_with = "finite")]
    x: f64,
    #[serde(deserialize_with = "finite")]
    y: f64,
    #[serde(deserialize_with = "finite")]
    z: f64,
    section: SectionId,
}

impl From<Saved> for BarPoint {
    fn from(saved: Saved) -> Self {
        Self { place: Point3::new(saved.x, saved.y, saved.z), section: saved.section }
    }
}

impl From<BarPoint> for Saved {
    fn from(BarPoint { place, section }: BarPoint) -> Self {
        Self { x: place.x, y: place.y, z: place.z, section }
    }
}
