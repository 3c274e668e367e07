//! Deviation of a row from its target, sorted into the five classes that colours stand for.

use crate::hydraulics::outcome::{NotFed, Outcome, RowConnection, RowOutcome, RowState};
use crate::plan::Limits;
use crate::quantities::{Measure, Ratio, UnitSystem};
use strum::EnumCount;

/// The arrow of an outlet that draws air in, in parts of the mark's radius: into the tube, as seen from above.
pub const BACKWARD_ARROW: [((f64, f64), (f64, f64)); 3] =
    [((0.0, -0.6), (0.0, 0.6)), ((-0.4, 0.15), (0.0, 0.6)), ((0.4, 0.15), (0.0, 0.6))];

/// Radius of the dot in the ring of an outlet without a number, in parts of the mark's radius.
pub const UNKNOWN_DOT: f64 = 0.3;

/// Where a row stands against its target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum DeviationClass {
    /// Below the lower limit.
    FarBelow,
    /// Between the lower limit and what a design should show.
    Below,
    /// Within what a design should show.
    Within,
    /// Between what a design should show and the upper limit.
    Above,
    /// Above the upper limit.
    FarAbove,
    /// Gets nothing.
    NotFed,
    /// Draws air in at its outlet.
    FlowsBackward,
    /// Not in use.
    LeftOut,
    /// No number: not solved, or nothing is asked of it.
    Unknown,
}

impl DeviationClass {
    /// In the order a legend lists them.
    pub const ALL: [Self; Self::COUNT] = [
        Self::FarBelow,
        Self::Below,
        Self::Within,
        Self::Above,
        Self::FarAbove,
        Self::NotFed,
        Self::FlowsBackward,
        Self::LeftOut,
        Self::Unknown,
    ];

    /// The classes a legend lists: all, but rows that flow backwards only where one does, for they are rare.
    pub fn listed(outcome: Option<&Outcome>) -> impl Iterator<Item = Self> {
        let backward = outcome
            .is_some_and(|outcome| outcome.rows().iter().any(|row| row.state == RowState::FlowsBackward));
        Self::ALL.into_iter().filter(move |class| *class != Self::FlowsBackward || backward)
    }

    /// The class of a deviation. A value on a limit is still within it; one that is no number is `Unknown`.
    /// Where the limits are the wrong way round the wider one stands for both.
    pub fn of(deviation: Ratio, limits: &Limits) -> Self {
        // A deviation is the end of a long sum: one on the limit but for rounding is on it.
        const ROUNDING: f64 = 1e-9;
        let (value, design) = (deviation.si(), limits.design_deviation.si() + ROUNDING);
        let limit = (limits.row_deviation.si() + ROUNDING).max(design);
        if !value.is_finite() {
            Self::Unknown
        } else if value < -limit {
            Self::FarBelow
        } else if value < -design {
            Self::Below
        } else if value <= design {
            Self::Within
        } else if value <= limit {
            Self::Above
        } else {
            Self::FarAbove
        }
    }

    /// The class of a row by what the solve found for it; where nothing was solved, as far as its connection tells.
    pub fn of_row(row: &RowConnection, found: Option<&RowOutcome>, limits: &Limits) -> Self {
        match row.state(found) {
            Some(RowState::Fed) => found
                .and_then(|found| found.deviation)
                .map_or(Self::Unknown, |deviation| Self::of(deviation, limits)),
            Some(RowState::NotFed(NotFed::LeftOut)) => Self::LeftOut,
            Some(RowState::NotFed(_) | RowState::ValveStaysShut | RowState::Blocked) => Self::NotFed,
            Some(RowState::FlowsBackward) => Self::FlowsBackward,
            None => Self::Unknown,
        }
    }

    /// More or less than asked: -1, 0 or 1.
    pub const fn sign(self) -> i8 {
        match self {
            Self::FarBelow | Self::Below => -1,
            Self::Above | Self::FarAbove => 1,
            Self::Within | Self::NotFed | Self::FlowsBackward | Self::LeftOut | Self::Unknown => 0,
        }
    }

    /// Fed, and with a number.
    pub const fn is_fed(self) -> bool {
        !matches!(self, Self::NotFed | Self::FlowsBackward | Self::LeftOut | Self::Unknown)
    }

    /// Beyond the limit that rows must keep.
    pub const fn is_far(self) -> bool {
        matches!(self, Self::FarBelow | Self::FarAbove)
    }

    /// The words of a legend.
    pub fn legend(self, limits: &Limits) -> String {
        let design = Measure::Percent.short_number(limits.design_deviation.si(), UnitSystem::Metric);
        let limit = Measure::Percent.short_number(limits.row_deviation.si(), UnitSystem::Metric);
        match self {
            Self::FarBelow => format!("below −{limit} %"),
            Self::Below => format!("−{limit} to −{design} %"),
            Self::Within => format!("within ±{design} %"),
            Self::Above => format!("+{design} to +{limit} %"),
            Self::FarAbove => format!("above +{limit} %"),
            Self::NotFed => "not fed".to_owned(),
            Self::FlowsBackward => "flows backwards".to_owned(),
            Self::LeftOut => "left out".to_owned(),
            Self::Unknown => "no number".to_owned(),
        }
    }
}

/// A deviation with its sign: `+2.1`, `−3.0`, `0.0`.
pub fn signed_percent(deviation: Ratio) -> String {
    let number = Measure::Percent.number(deviation.si(), UnitSystem::Metric);
    let is_zero = number.chars().all(|digit| matches!(digit, '0' | '.'));
    if deviation.si() > 0.0 && !is_zero { format!("+{number}") } else { number }
}

/// Why a row gets nothing, in words; none for a row that is fed. A row that is connected and was not solved has no state.
pub const fn why_not_fed(state: Option<RowState>) -> Option<&'static str> {
    Some(match state {
        Some(RowState::Fed) => return None,
        Some(RowState::NotFed(why)) => match why {
            NotFed::LeftOut => "left out",
            NotFed::NoFeed => "not fed: no row feed",
            NotFed::FeedLoose => "not fed: loose row feed",
            NotFed::NoSupply => "not fed: its manifold is not connected to the supply",
            NotFed::SectionShut => "not fed: a section valve is shut",
        },
        Some(RowState::ValveStaysShut) => "not fed: its check valve stays shut at this pressure",
        Some(RowState::Blocked) => "not fed: blocked",
        Some(RowState::FlowsBackward) => "not fed: it flows backwards, air is drawn in at its outlet",
        None => "no number: not solved",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The limits themselves: ±5 % of a row (University of Georgia Extension), ±3 % of a design (common practice,
    /// no source).
    #[test]
    fn classes_at_their_edges() {
        let class = |percent: f64| DeviationClass::of(Ratio::percent(percent), &Limits::default());
        assert_eq!(class(-5.1), DeviationClass::FarBelow);
        assert_eq!(class(-5.0), DeviationClass::Below);
        assert_eq!(class(-3.1), DeviationClass::Below);
        assert_eq!(class(-3.0), DeviationClass::Within);
        assert_eq!(class(3.0), DeviationClass::Within);
        assert_eq!(class(3.1), DeviationClass::Above);
        assert_eq!(class(5.0), DeviationClass::Above);
        assert_eq!(class(5.1), DeviationClass::FarAbove);
        assert_eq!(class(f64::NAN), DeviationClass::Unknown);
    }

    #[test]
    fn words() {
        let legend = |class: DeviationClass| class.legend(&Limits::default());
        assert_eq!(legend(DeviationClass::FarBelow), "below −5 %");
        assert_eq!(legend(DeviationClass::Within), "within ±3 %");
        assert_eq!(signed_percent(Ratio::percent(2.14)), "+2.1");
        assert_eq!(signed_percent(Ratio::percent(-0.01)), "0.0");
        assert_eq!(signed_percent(Ratio::percent(0.01)), "0.0");
        assert_eq!(signed_percent(Ratio::percent(-3.06)), "−3.1");
    }
}
