//! How broken lines look on paper, whatever the file.

use crate::drawing::Dash;

/// Dashes and gaps of a broken line, millimetres of paper (ISO 128 proportions at a narrow line); none for an unbroken
/// one.
pub(crate) fn dash_pattern(dash: Dash) -> Option<&'static [f64]> {
    match dash {
        Dash::Dashed => Some(&[2.4, 1.0]),
        Dash::LongDashDot => Some(&[6.0, 1.2, 0.6, 1.2]),
        Dash::Solid => None,
    }
}
