//! A seed row and what it should get.

use serde::{Deserialize, Serialize};

use super::bar::{Bar, RowWidths};
use super::{OperatingPoint, RowId, SectionId};
use crate::quantities::{Flow, Length};

/// A seed row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Identity.
    pub id: RowId,
    /// As painted on the bar and printed on papers; unique.
    pub number: u32,
    /// The section that carries it.
    pub section: SectionId,
    /// How far right of the bar's centre, metres.
    pub x: Length,
    /// Which of the bar's ranks its opener stands in (index from the front, 0 first).
    pub rank: usize,
    /// Height of its outlet above the ground, metres.
    pub outlet_height: Length,
    /// Its share of a full row, 1 as a rule, 0.5 for a half row; above 0.
    pub share: f64,
    /// Not used: it gets nothing and counts nowhere.
    pub left_out: bool,
}

/// What a row should get: `q = R·v·w` times its share (the extension services' `L/min = L/ha · km/h · m / 600`).
pub fn target(bar: &Bar, row: &Row, point: &OperatingPoint) -> Flow {
    target_over(width(bar, row), row, point)
}

/// The same over a strip of known [`width`].
pub fn target_over(width: Length, row: &Row, point: &OperatingPoint) -> Flow {
    if row.left_out {
        return Flow::ZERO;
    }
    Flow::from_si(point.rate.si() * point.speed.si() * width.si() * row.share)
}

/// The strip a row stands for, as the bar's [`RowWidths`] say: the nominal spacing, or half-way to each neighbour in use (an outer row takes
/// its one neighbour's half twice).
pub fn width(bar: &Bar, row: &Row) -> Length {
    if bar.row_widths == RowWidths::Nominal {
        return bar.row_spacing;
    }
    let x = row.x.si();
    let others =
        || bar.rows.iter().filter(|other| !other.left_out && other.id != row.id).map(|other| other.x.si());
    let left = others().filter(|other| *other < x).fold(f64::NEG_INFINITY, f64::max);
    let right = others().filter(|other| *other > x).fold(f64::INFINITY, f64::min);
    match (left.is_finite(), right.is_finite()) {
        (true, true) => Length::metres((right - left) / 2.0),
        (true, false) => Length::metres(x - left),
        (false, true) => Length::metres(right - x),
        (false, false) => bar.row_spacing,
    }
}
