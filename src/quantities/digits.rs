//! Numbers as they are written: how many digits, and when with an exponent.

/// Without needless zeros behind the decimal point.
pub(super) fn short(number: String) -> String {
    if number.contains('.') && !number.contains('e') {
        number.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        number
    }
}

/// Numbers from here on are written with an exponent.
const LARGEST_IN_FULL: f64 = 1e12;

/// Numbers below this are written with an exponent, but for 0.
const SMALLEST_IN_FULL: f64 = 1e-6;

/// A number as a message shows it that somebody may have written so: all its digits, with an exponent where they would be
/// hundreds.
pub fn plain(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || !value.is_finite() || (SMALLEST_IN_FULL..LARGEST_IN_FULL).contains(&size) {
        value.to_string()
    } else {
        format!("{value:e}")
    }
}

/// Half a step of the last decimal is rounded away from zero, as people do: 5.55 is stored as a little less, and would read
/// 5.5. What lies nearer to the half than a few units of the last place of its storage, which conversions cost, is one.
fn half_away(value: f64, decimals: usize) -> f64 {
    const CONVERSIONS: f64 = 4.0 * f64::EPSILON;
    let scale = 10_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX));
    let steps = value.abs() * scale;
    let half = steps.floor() + 0.5;
    if (steps - half).abs() <= steps * CONVERSIONS { ((half + 0.5) / scale).copysign(value) } else { value }
}

/// A number as it reads with fixed decimals.
pub(super) fn rounded(value: f64, decimals: usize) -> f64 {
    let value = half_away(value, decimals);
    format!("{value:.decimals$}").parse().unwrap_or(value)
}

/// A number with fixed decimals, a true minus sign, and no minus on a rounded zero.
pub(crate) fn decimals(value: f64, decimals: usize) -> String {
    // Nothing that is measured on a bar is so large; hundreds of digits would only push aside what stands beside them.
    let text = if value.abs() < LARGEST_IN_FULL {
        let value = half_away(value, decimals);
        format!("{value:.decimals$}")
    } else {
        format!("{value:.3e}")
    };
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|digit| matches!(digit, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantities::{Flow, Measure, UnitSystem};

    #[test]
    fn a_half_is_rounded_as_people_do() {
        for (value, digits, reads) in [
            (5.55, 1, "5.6"),
            (2.675, 2, "2.68"),
            (1.005, 2, "1.01"),
            (0.5, 0, "1"),
            (2.5, 0, "3"),
            (-5.55, 1, "−5.6"),
            (-0.05, 1, "−0.1"),
            (-0.04, 1, "0.0"),
            (5.549_999, 1, "5.5"),
            (5.6, 1, "5.6"),
            (0.0, 2, "0.00"),
            (123_456_789.0, 3, "123456789.000"),
        ] {
            assert_eq!(decimals(value, digits), reads, "{value}");
            let read: f64 = reads.replace('−', "-").parse().unwrap();
            assert_eq!(rounded(value, digits).abs(), read.abs(), "{value}");
        }
        // What was typed in a unit comes back through the one that is stored.
        for tenths in 0..2000 {
            let typed = f64::from(tenths) / 10.0 + 0.05;
            let shown = Measure::TotalFlow.number(Flow::litres_per_minute(typed).si(), UnitSystem::Metric);
            assert_eq!(shown, format!("{}.{}", (tenths + 1) / 10, (tenths + 1) % 10), "{typed}");
        }
    }
}
