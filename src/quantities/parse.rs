//! Splits what a person typed into a number and a unit.

use std::fmt;

/// Why a typed number was not understood, and what to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParseNumberError {
    message: String,
}

impl fmt::Display for ParseNumberError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.message)
    }
}

impl std::error::Error for ParseNumberError {}

impl ParseNumberError {
    pub(super) fn unknown_unit(typed: &str, unit: &str, accepted: Vec<&'static str>) -> Self {
        let accepted = if accepted.is_empty() {
            "write the number without a unit".to_owned()
        } else {
            format!("try {}", accepted.join(", "))
        };
        Self {
            message: format!(
                "\"{}\": the unit \"{}\" is not known here; {accepted}",
                shorten(typed),
                shorten(unit)
            ),
        }
    }

    pub(super) fn too_steep(typed: &str) -> Self {
        Self { message: format!("\"{}\" is no slope; give less than 90°", shorten(typed)) }
    }

    fn new(typed: &str, what: &str) -> Self {
        Self { message: format!("\"{}\" {what}", shorten(typed)) }
    }
}

/// What was typed, cut where it is too long for a message.
pub(super) fn shorten(typed: &str) -> String {
    let typed = typed.trim();
    if typed.chars().count() > 24 {
        typed.chars().take(24).chain(['…']).collect()
    } else {
        typed.to_owned()
    }
}

/// A number and the unit behind it, as typed.
pub(super) struct Typed<'a> {
    pub number: f64,
    pub unit: &'a str,
}

/// Accepts one decimal mark (point or comma), a leading sign, an exponent, fractions (`3/4`, `1 1/4`) and
/// feet with inches (`5' 6"`).
pub(super) fn split(typed: &str) -> Result<Typed<'_>, ParseNumberError> {
    let text = typed.trim();
    if text.is_empty() {
        return Err(ParseNumberError { message: "the field is empty; type a number".to_owned() });
    }
    let (first, rest) = leading_number(typed, text)?;
    let rest = rest.trim_start();
    if let Some(inches) =
        rest.strip_prefix('\'').filter(|inches| !inches.trim().is_empty() && !inches.starts_with('\''))
    {
        let (inches, mark) = leading_number(typed, inches.trim_start())?;
        if matches!(mark.trim(), "" | "\"" | "in") {
            return Ok(Typed { number: first + inches.copysign(first) / 12.0, unit: "ft" });
        }
    }
    // A second number: the fraction of `1 1/4`.
    if rest.starts_with(|c: char| c.is_ascii_digit()) {
        if let Ok((second, unit)) = leading_number(typed, rest)
            && first.fract() == 0.0
            && (0.0..1.0).contains(&second)
            && rest.contains('/')
        {
            return finite(typed, first + second.copysign(first), unit);
        }
        return Err(ParseNumberError::new(
            typed,
            "has more than one number; write one, without spaces between digits",
        ));
    }
    finite(typed, first, rest)
}

fn finite<'a>(typed: &str, number: f64, unit: &'a str) -> Result<Typed<'a>, ParseNumberError> {
    if number.is_finite() {
        Ok(Typed { number, unit: unit.trim() })
    } else {
        Err(ParseNumberError::new(typed, "is too large; type a smaller number"))
    }
}

fn leading_number<'a>(typed: &str, text: &'a str) -> Result<(f64, &'a str), ParseNumberError> {
    let (number, rest) = decimal(typed, text)?;
    if let Some(below) = rest.strip_prefix('/')
        && below.starts_with(|c: char| c.is_ascii_digit())
    {
        let (divisor, rest) = decimal(typed, below)?;
        return if divisor == 0.0 {
            Err(ParseNumberError::new(typed, "is not a number: it divides by zero"))
        } else {
            Ok((number / divisor, rest))
        };
    }
    Ok((number, rest))
}

fn decimal<'a>(typed: &str, text: &'a str) -> Result<(f64, &'a str), ParseNumberError> {
    let mut plain = String::new();
    let mut end = 0;
    let mut marks = 0;
    let mut digits = 0;
    for (at, c) in text.char_indices() {
        match c {
            '0'..='9' => {
                plain.push(c);
                digits += 1;
            }
            '.' | ',' => {
                plain.push('.');
                marks += 1;
            }
            '-' | '−' | '+' if at == 0 => plain.push(if c == '+' { '+' } else { '-' }),
            _ => break,
        }
        end = at + c.len_utf8();
    }
    if digits == 0 {
        return Err(ParseNumberError::new(typed, "is not a number; type digits, like 2.5 or 2,5"));
    }
    if marks > 1 {
        return Err(ParseNumberError::new(
            typed,
            "has more than one decimal mark; write 1234.5 or 1234,5 without separators for thousands",
        ));
    }
    // An exponent only if digits follow: `2 E` is left to be an unknown unit.
    let rest = &text[end..];
    if let Some(power) = rest.strip_prefix(['e', 'E']) {
        let sign = usize::from(power.starts_with(['-', '+']));
        let length = power[sign..].bytes().take_while(u8::is_ascii_digit).count();
        if length > 0 {
            plain.push('e');
            plain.push_str(&power[..sign + length]);
            end += 1 + sign + length;
        }
    }
    let number: f64 = plain
        .parse()
        .map_err(|_| ParseNumberError::new(typed, "is not a number; type digits, like 2.5 or 2,5"))?;
    if number.is_finite() {
        Ok((number, &text[end..]))
    } else {
        Err(ParseNumberError::new(typed, "is too large; type a smaller number"))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Measure, UnitSystem};

    #[test]
    fn what_people_type_wrong_is_named() {
        for (typed, says) in [
            ("abc", "not a number"),
            ("", "empty"),
            ("2.5 furlongs", "unit \"furlongs\""),
            ("1,234.5", "decimal mark"),
            ("1.2.3", "decimal mark"),
            ("1e999", "too large"),
            ("nan", "not a number"),
            ("3/0 in", "not a number"),
            ("2 bar bar", "unit \"bar bar\""),
        ] {
            let error = Measure::Pressure.parse(typed, UnitSystem::Metric).unwrap_err().to_string();
            assert!(error.contains(says), "{typed}: {error}");
        }
    }
}
