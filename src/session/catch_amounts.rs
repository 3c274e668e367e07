//! Amounts and times of a catch test as the cells of its table show and read them.

use crate::plan::{CatchSpan, CatchTest, CatchUnit, CaughtAmount};
use crate::quantities::{Measure, UnitSystem, decimals};

/// Most decimals of an amount in a cell.
const DECIMALS: usize = 3;

/// The unit that the amounts of a test are typed and shown in unless somebody chooses another: that of its first catch.
pub fn usual_unit(test: &CatchTest, units: UnitSystem) -> CatchUnit {
    test.catches.first().map_or(CatchUnit::usual(units), |catch| unit_of(catch.amount, units))
}

/// The unit in which people with such units read an amount of this kind.
const fn unit_of(amount: CaughtAmount, units: UnitSystem) -> CatchUnit {
    match (amount, units) {
        (CaughtAmount::Volume(_), _) => CatchUnit::usual(units),
        (CaughtAmount::Mass(_), UnitSystem::Metric) => CatchUnit::Gram,
        (CaughtAmount::Mass(_), UnitSystem::UsCustomary) => CatchUnit::Pound,
    }
}

/// An amount as a cell shows it: the number alone in the unit of the column, with its own unit where it is of the other kind.
pub fn cell(amount: CaughtAmount, unit: CatchUnit, units: UnitSystem) -> String {
    let number = |value: f64| {
        let text = decimals(value, DECIMALS);
        if text.contains('.') && !text.contains('e') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        }
    };
    unit.number(amount).map_or_else(
        || {
            let own = unit_of(amount, units);
            format!("{} {}", number(own.number(amount).unwrap_or_default()), own.symbol())
        },
        number,
    )
}

/// How long a catch took as a cell shows it: `30 s`, `20 m`.
pub fn span_text(span: CatchSpan, units: UnitSystem) -> String {
    match span {
        CatchSpan::Seconds(seconds) => {
            format!(
                "{} {}",
                Measure::Duration.entered_number(seconds, units, false),
                Measure::Duration.unit(units).symbol
            )
        }
        CatchSpan::Distance(distance) => {
            let number = Measure::Distance.entered_number(distance.si(), units, false);
            format!("{number} {}", Measure::Distance.unit(units).symbol)
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::quantities::Length;

    #[test]
    fn a_cell_reads_back_as_the_amount_it_shows() {
        for typed in ["412", "0", "12.25"] {
            for unit in CatchUnit::ALL {
                let amount = CaughtAmount::parse(typed, unit).unwrap();
                assert_eq!(cell(amount, unit, UnitSystem::Metric), typed, "{unit:?}");
                for other in CatchUnit::ALL {
                    for units in UnitSystem::ALL {
                        let shown = cell(amount, other, units);
                        let back = CaughtAmount::parse(&shown, other).unwrap();
                        let is_mass = |one| matches!(one, CaughtAmount::Mass(_));
                        assert_eq!(is_mass(back), is_mass(amount), "{shown} of {typed} {unit:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_span_reads_back_as_it_is_shown() {
        let metric = UnitSystem::Metric;
        let far = CatchSpan::Distance(Length::metres(20.0));
        assert_eq!(span_text(far, metric), "20 m");
        for units in UnitSystem::ALL {
            for span in [far, CatchSpan::Seconds(45.5)] {
                // 20 m are 65.62 ft as they are shown.
                let size = |span| match span {
                    CatchSpan::Seconds(seconds) => seconds,
                    CatchSpan::Distance(distance) => distance.si(),
                };
                let back = CatchSpan::parse(&span_text(span, units), span, units).unwrap();
                assert!((size(back) / size(span) - 1.0).abs() < 1e-4, "{span:?}: {back:?}");
            }
        }
    }
}
