//! How long a hose or tube is cut: one rule for drawings, lists and steps.

use super::limits::Limits;
use crate::quantities::{Length, UnitSystem};

/// Heading of a cut list's column of tags; a list that was filled in is read by it.
pub const TAG_HEADING: &str = "Tag";

/// Heading of the column that says where a piece starts.
pub const FROM_HEADING: &str = "From";

/// Heading of the column that says where it ends.
pub const TO_HEADING: &str = "To";

/// Heading of the column that says of which stock a piece is.
pub const STOCK_HEADING: &str = "Stock";

/// Heading of the column for lengths as they are fitted.
pub const FITTED_HEADING: &str = "Fitted length";

/// Heading of the column for the revision that a list was made of.
pub const REVISION_HEADING: &str = "Revision";

/// Heading of the column for lengths as they were cut.
pub const AS_CUT_HEADING: &str = "As cut";

/// To what lengths are cut, in micrometres: hoses and tubes up to the next 10 mm or 1/2 in, metering tubes to the
/// nearest 1 mm or 1/20 in (common practice, no source).
const fn step(units: UnitSystem, is_metering: bool) -> u64 {
    match (units, is_metering) {
        (UnitSystem::Metric, false) => 10_000,
        (UnitSystem::Metric, true) => 1_000,
        (UnitSystem::UsCustomary, false) => 12_700,
        (UnitSystem::UsCustomary, true) => 1_270,
    }
}

/// A length rounded for cutting, in whole micrometres.
pub fn cut_micrometres(length: Length, units: UnitSystem, is_metering: bool) -> u64 {
    let step = step(units, is_metering);
    let steps = length.si() * 1e6 / step as f64;
    // A ten-thousandth of a step above a mark is the arithmetic's, not the bar's.
    let steps = if is_metering { steps.round() } else { (steps - 1e-4).ceil() };
    steps.max(1.0) as u64 * step
}

/// A length rounded for cutting: what every paper says of a hose or tube.
pub fn cut_length(length: Length, units: UnitSystem, is_metering: bool) -> Length {
    Length::metres(cut_micrometres(length, units, is_metering) as f64 / 1e6)
}

/// How deep tubes go into push-in ends, by their outside diameter, millimetres (usual depths of push-in fittings, from memory:
/// common practice, no source); straight between two of them.
const PUSHED_IN: [(f64, f64); 5] = [(4.0, 16.0), (6.0, 17.0), (8.0, 18.5), (10.0, 21.0), (12.0, 23.5)];

/// How deep a tube goes into a push-in end, where its maker does not say: assumed by its outside diameter, no less than that of
/// the thinnest in the table; beyond the thickest twice the diameter.
pub fn push_in_depth(outside: Length) -> Length {
    let millimetres = outside.si() * 1e3;
    let [(thinnest, least), .., (thickest, _)] = PUSHED_IN;
    let between = PUSHED_IN.windows(2).find_map(|pair| {
        let ((from, shallow), (to, deep)) = (pair[0], pair[1]);
        (from..=to)
            .contains(&millimetres)
            .then(|| shallow + (deep - shallow) * (millimetres - from) / (to - from))
    });
    Length::millimetres(match between {
        Some(depth) => depth,
        None if millimetres < thinnest => least,
        None => 2.0 * millimetres.max(thickest),
    })
}

/// What moves at the end of a hose or tube, so that it needs a loop there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MovingEnd {
    /// The opener rises, trips and floats.
    Opener,
    /// The hitch turns and lifts.
    Hitch,
}

impl MovingEnd {
    /// What a piece is cut longer for the loop.
    pub const fn spare(self, limits: &Limits) -> Length {
        match self {
            Self::Opener => limits.opener_loop,
            Self::Hitch => limits.hitch_loop,
        }
    }
}

/// Heading of the column that says whether a length as cut is final, of what is cut roughly first: `yes` or `no`.
pub const FINAL_HEADING: &str = "Final";

/// The rounding in words.
pub const fn rounding_words(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => {
            "Lengths include slack, what hinges need and loops at openers and hitch and are rounded up to 10 mm; metering tubes to the nearest 1 mm."
        }
        UnitSystem::UsCustomary => {
            "Lengths include slack, what hinges need and loops at openers and hitch and are rounded up to 1/2 in; metering tubes to the nearest 1/20 in."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thicker_tubes_go_deeper_into_push_in_ends() {
        let depth = |outside: f64| (push_in_depth(Length::millimetres(outside)).si() * 1e4).round() / 10.0;
        assert_eq!([2.0, 4.0, 7.2, 8.0, 12.0, 16.0].map(depth), [16.0, 16.0, 17.9, 18.5, 23.5, 32.0]);
    }

    #[test]
    fn hoses_are_cut_long_and_metering_tubes_to_the_mark() {
        let cut = |metres: f64, units, metering| {
            (cut_length(Length::metres(metres), units, metering).si() * 1e6).round()
        };
        assert_eq!(cut(1.2301, UnitSystem::Metric, false), 1_240_000.0);
        assert_eq!(cut(1.23, UnitSystem::Metric, false), 1_230_000.0);
        assert_eq!(cut(0.3004, UnitSystem::Metric, true), 300_000.0);
        assert_eq!(cut(1.0, UnitSystem::UsCustomary, false), 79.0 * 12_700.0);
        assert_eq!(cut(0.0, UnitSystem::Metric, false), 10_000.0);
    }
}
