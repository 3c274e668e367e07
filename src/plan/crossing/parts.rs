//! The whole numbers in which a crossing is posed: what is the same to that is the same crossing.

/// Tenths of a millimetre in a metre; tenths of a milliradian in a radian; ten-thousandths in one.
pub(super) const PARTS: f64 = 1e4;

/// So many of them, the nearest whole number.
pub(super) fn parts(value: f64) -> i64 {
    (value * PARTS).round() as i64
}
