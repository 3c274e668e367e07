//! What a row should get, and the strip of ground that it stands for.

use super::OperatingPoint;
use super::bar::{Bar, RowWidths};
use super::row::Row;
use crate::quantities::{Flow, Length};

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
