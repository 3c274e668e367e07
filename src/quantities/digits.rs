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

/// A number as it reads with fixed decimals.
pub(super) fn rounded(value: f64, decimals: usize) -> f64 {
    format!("{value:.decimals$}").parse().unwrap_or(value)
}

/// A number with fixed decimals, a true minus sign, and no minus on a rounded zero.
pub(crate) fn decimals(value: f64, decimals: usize) -> String {
    // Nothing that is measured on a bar is so large; hundreds of digits would only push aside what stands beside them.
    let text =
        if value.abs() < LARGEST_IN_FULL { format!("{value:.decimals$}") } else { format!("{value:.3e}") };
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|digit| matches!(digit, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}
