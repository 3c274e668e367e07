//! Sizes in inches as the trade writes them.

/// Metres in an inch, exact by definition (NIST SP 811, appendix B).
pub(super) const INCH: f64 = 0.0254;

/// A size in inches as hoses, tubes and fittings are sold by: in sixteenths, in lowest terms, where it is one within a tolerance, metres;
/// none from 4 in on, where sizes are measured in decimals. Common practice, no source.
pub(super) fn sixteenths(metres: f64, tolerance: f64) -> Option<String> {
    const LARGEST: f64 = 4.0 * 16.0;
    let parts = (metres / INCH * 16.0).round();
    let is_one = (metres - parts / 16.0 * INCH).abs() <= tolerance;
    if !is_one || !(1.0..LARGEST).contains(&parts) {
        return None;
    }
    let parts = parts as u32;
    let (whole, mut above, mut below) = (parts / 16, parts % 16, 16);
    while above > 0 && above % 2 == 0 {
        (above, below) = (above / 2, below / 2);
    }
    Some(match (whole, above) {
        (whole, 0) => whole.to_string(),
        (0, above) => format!("{above}/{below}"),
        (whole, above) => format!("{whole} {above}/{below}"),
    })
}

#[cfg(test)]
mod tests {
    use crate::quantities::{Measure, UnitSystem};

    /// 3/8 in is 9.525 mm, 1 1/4 in is 31.75 mm (25.4 mm in an inch); an orifice keeps its decimals.
    #[test]
    fn sizes_in_inches_are_those_of_the_trade_and_read_back() {
        let us = UnitSystem::UsCustomary;
        for (mm, shown) in [
            (9.525, "3/8 in"),
            (9.5, "3/8 in"),
            (12.7, "1/2 in"),
            (19.0, "3/4 in"),
            (25.4, "1 in"),
            (31.75, "1 1/4 in"),
            (8.0, "5/16 in"),
            (6.0, "0.236 in"),
            (25.0, "0.984 in"),
            (0.02, "0.001 in"),
            (101.6, "4 in"),
        ] {
            assert_eq!(Measure::Bore.short_text(mm / 1e3, us), shown, "{mm} mm");
            let read = Measure::Bore.parse(shown, us).unwrap();
            assert!((read * 1e3 - mm).abs() <= 0.1 + 1e-9, "{shown} is read as {read} m");
        }
        assert_eq!(Measure::Bore.entered_number(0.009525, us, false), "3/8");
        assert_eq!(Measure::Bore.entered_number(0.0095, us, false), "0.374");
        assert_eq!(Measure::Bore.fine_text(0.0016, us), "0.063 in");
        assert_eq!(Measure::Bore.short_text(0.009525, UnitSystem::Metric), "9.53 mm");
    }
}
