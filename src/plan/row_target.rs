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
    if row.left_out { Flow::ZERO } else { asked_of(width, point) * row.share }
}

/// What rate and speed ask of a strip of ground: `R·v·w`.
pub fn asked_of(width: Length, point: &OperatingPoint) -> Flow {
    Flow::from_si(point.rate.si() * point.speed.si() * width.si())
}

/// The strip a row stands for, as the bar's [`RowWidths`] say: the nominal spacing, or its [`own_strip`]. A row that is
/// left out has one too: nobody else covers it.
pub fn width(bar: &Bar, row: &Row) -> Length {
    match bar.row_widths {
        RowWidths::Nominal => bar.row_spacing,
        RowWidths::HalfWidths => own_strip(bar, row),
    }
}

/// From half-way to the neighbour on the left to half-way to the one on the right; an outer row's reaches to the edge of
/// the working width (to the row itself where it stands beyond that). A row that is left out bounds its neighbours all
/// the same.
pub fn own_strip(bar: &Bar, row: &Row) -> Length {
    let x = row.x.si();
    let others = || bar.rows.iter().filter(|other| other.id != row.id).map(|other| other.x.si());
    let left = others().filter(|other| *other < x).reduce(f64::max);
    let right = others().filter(|other| *other > x).reduce(f64::min);
    if let (Some(left), Some(right)) = (left, right) {
        return Length::metres((right - left) / 2.0);
    }
    let (from, to) = bar.edges().unwrap_or((x, x));
    let from = left.map_or(from.min(x), |left| f64::midpoint(left, x));
    let to = right.map_or(to.max(x), |right| f64::midpoint(x, right));
    Length::metres(to - from)
}

/// The strips of all rows together, those of rows that are left out among them: they should be the bar's working width.
pub fn strips_together(bar: &Bar) -> Length {
    bar.rows.iter().map(|row| width(bar, row)).sum()
}
