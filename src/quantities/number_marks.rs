//! Points and commas in numbers of a table: which parts off decimals, which thousands, and where nobody can say.

/// A number as it may be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Marked {
    /// In one way, as it is or with the marks of thousands taken out.
    Once(String),
    /// `1,250`: as a whole number of thousands, or with three decimals.
    Either {
        /// `,` or `.`.
        mark: char,
        /// `1250`.
        whole: String,
        /// `1.250`.
        decimal: String,
    },
}

/// The number that a text begins with, from its first digit or mark on, and its marks.
struct Number<'a> {
    before: &'a str,
    digits: &'a str,
    behind: &'a str,
}

impl<'a> Number<'a> {
    fn of(text: &'a str) -> Self {
        let from = text.len() - text.trim_start_matches(['-', '−', '+']).len();
        let all = &text[from..];
        let length = all.find(|one: char| !one.is_ascii_digit() && one != '.' && one != ',');
        let (digits, behind) = all.split_at(length.unwrap_or(all.len()));
        Self { before: &text[..from], digits, behind }
    }

    fn count(&self, mark: char) -> usize {
        self.digits.matches(mark).count()
    }

    /// Digits in groups of three, but for the first, which has one to three.
    fn is_grouped(digits: &str, mark: char) -> bool {
        let mut groups = digits.split(mark);
        groups.next().is_some_and(|first| (1..=3).contains(&first.len()) && !first.starts_with('0'))
            && groups.all(|group| group.len() == 3)
            && digits.chars().all(|one| one == mark || one.is_ascii_digit())
    }

    fn put(&self, digits: &str) -> String {
        format!("{}{digits}{}", self.before, self.behind)
    }
}

/// How a text that begins with a number may be read. What is no such number is left as it is, for whoever reads it to refuse.
pub fn marked(text: &str) -> Marked {
    let number = Number::of(text.trim());
    let as_it_is = || Marked::Once(text.trim().to_owned());
    let (points, commas) = (number.count('.'), number.count(','));
    let (mark, other) = if points > 0 && (commas == 0 || number.digits.rfind('.') > number.digits.rfind(','))
    {
        ('.', ',')
    } else {
        (',', '.')
    };
    match (number.count(mark), number.count(other)) {
        (0, _) => as_it_is(),
        (1, 0) => {
            let power = number.behind.strip_prefix(['e', 'E']);
            let has_power = power.is_some_and(|rest| rest.starts_with(|one: char| one.is_ascii_digit()));
            if has_power || !Number::is_grouped(number.digits, mark) {
                return as_it_is();
            }
            Marked::Either {
                mark,
                whole: number.put(&number.digits.replace(mark, "")),
                decimal: number.put(&number.digits.replace(mark, ".")),
            }
        }
        (1, _) => {
            let (whole, decimals) = number.digits.split_once(mark).unwrap_or((number.digits, ""));
            if Number::is_grouped(whole, other) {
                Marked::Once(number.put(&format!("{}.{decimals}", whole.replace(other, ""))))
            } else {
                as_it_is()
            }
        }
        (_, 0) if Number::is_grouped(number.digits, mark) => {
            Marked::Once(number.put(&number.digits.replace(mark, "")))
        }
        _ => as_it_is(),
    }
}

/// Which mark parts off decimals in a table, by the cells that leave no doubt; none where none does, or where they disagree.
pub fn decimal_mark<'a>(cells: impl Iterator<Item = &'a str>) -> Option<char> {
    let mut found = None;
    for cell in cells {
        let number = Number::of(cell.trim());
        let (points, commas) = (number.count('.'), number.count(','));
        let says = match (points, commas) {
            (0, 0) => continue,
            (1, 0) | (0, 1) => {
                let mark = if points == 1 { '.' } else { ',' };
                if Number::is_grouped(number.digits, mark) {
                    continue;
                }
                mark
            }
            (_, 0) if Number::is_grouped(number.digits, '.') => ',',
            (0, _) if Number::is_grouped(number.digits, ',') => '.',
            (1, _) if number.digits.rfind('.') > number.digits.rfind(',') => '.',
            (_, 1) if number.digits.rfind(',') > number.digits.rfind('.') => ',',
            _ => continue,
        };
        if found.is_some_and(|one| one != says) {
            return None;
        }
        found = Some(says);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_before_three_digits_may_be_either_and_others_are_clear() {
        for (text, read) in [
            ("1250", "1250"),
            ("412,5", "412,5"),
            ("0.750 lb", "0.750 lb"),
            ("0,750", "0,750"),
            ("1,250.5 mL", "1250.5 mL"),
            ("1.250,5", "1250.5"),
            ("1,250,000", "1250000"),
            ("−1,250.5", "−1250.5"),
            ("1234,567", "1234,567"),
            ("1.250e2", "1.250e2"),
            // No number of any kind: refused by whoever reads it.
            ("1,25,0", "1,25,0"),
            ("12.50,5", "12.50,5"),
            ("full", "full"),
        ] {
            assert_eq!(marked(text), Marked::Once(read.to_owned()), "{text}");
        }
        for (text, mark) in [("1,250 mL", ','), ("1.250 mL", '.')] {
            let either = Marked::Either { mark, whole: "1250 mL".to_owned(), decimal: "1.250 mL".to_owned() };
            assert_eq!(marked(text), either);
        }
    }

    #[test]
    fn the_cells_without_doubt_say_which_mark_is_that_of_decimals() {
        let mark = |cells: &[&str]| decimal_mark(cells.iter().copied());
        assert_eq!(mark(&["1,250", "412", "398.5"]), Some('.'));
        assert_eq!(mark(&["1.250", "412,25"]), Some(','));
        assert_eq!(mark(&["1,250.5"]), Some('.'));
        assert_eq!(mark(&["1,250,000"]), Some('.'));
        assert_eq!(mark(&["0,750", "1,125"]), Some(','));
        assert_eq!(mark(&["1,250", "412"]), None);
        assert_eq!(mark(&["412.5", "398,5"]), None, "they disagree");
    }
}
