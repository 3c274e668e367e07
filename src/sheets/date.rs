//! A date of the calendar, read and written by ISO 8601.

use std::fmt;

/// A date of the calendar, handed in by whoever may look at a clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    /// Of the common era.
    pub year: u16,
    /// 1 to 12.
    pub month: u8,
    /// 1 to 31.
    pub day: u8,
}

impl Default for Date {
    fn default() -> Self {
        Self { year: 1970, month: 1, day: 1 }
    }
}

impl Date {
    /// Reads `2026-11-25` (ISO 8601); none if there is no such day.
    pub fn parse(text: &str) -> Option<Self> {
        let mut parts = text.trim().split('-');
        let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
        let digits =
            |part: &str, many: usize| part.len() == many && part.bytes().all(|one| one.is_ascii_digit());
        if parts.next().is_some() || !(digits(year, 4) && digits(month, 2) && digits(day, 2)) {
            return None;
        }
        let date = Self { year: year.parse().ok()?, month: month.parse().ok()?, day: day.parse().ok()? };
        let leap =
            date.year.is_multiple_of(4) && (!date.year.is_multiple_of(100) || date.year.is_multiple_of(400));
        let days = match date.month {
            2 if leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => return None,
        };
        ((1..=days).contains(&date.day) && date.year > 0).then_some(date)
    }

    /// The date of a number of whole days after 1 January 1970 (Hinnant's algorithm for the Gregorian calendar);
    /// years after 9999 end there.
    pub fn from_days(days: u64) -> Self {
        let days = days.min(2_932_896) + 719_468;
        let era = days / 146_097;
        let of_era = days % 146_097;
        let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        // Months from March on, so that the leap day comes last.
        let month_from_march = (5 * of_year + 2) / 153;
        let day = of_year - (153 * month_from_march + 2) / 5 + 1;
        let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
        let year = era * 400 + year_of_era + u64::from(month <= 2);
        Self { year: year as u16, month: month as u8, day: day as u8 }
    }
}

impl fmt::Display for Date {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days and dates as the command `date --utc --date=@SECONDS` of GNU coreutils gives them.
    #[test]
    fn dates_are_those_of_the_calendar() {
        for (days, text) in
            [(0, "1970-01-01"), (11_016, "2000-02-29"), (20_000, "2024-10-04"), (20_782, "2026-11-25")]
        {
            assert_eq!(Date::from_days(days).to_string(), text);
            assert_eq!(Date::parse(text), Some(Date::from_days(days)));
        }
        for wrong in ["2026-02-29", "2026-13-01", "2026-1-1", "26-01-01", "2026-01-01-01", "", "2026-00-10"] {
            assert_eq!(Date::parse(wrong), None, "{wrong}");
        }
        assert_eq!(Date::from_days(u64::MAX).year, 9999);
    }
}
