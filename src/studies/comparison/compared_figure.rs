//! One figure of both routings: whether it differs, and which is better.

use super::figure::{Amount, Direction, Figure, FigureKey, FigureUnit, FlowFigure};
use crate::quantities::UnitSystem;

/// What two rounded shares may differ by and still read the same.
pub(super) const ROUNDING: f64 = 1e-9;

/// One of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The first.
    A,
    /// The second.
    B,
}

impl Which {
    /// As JSON has it.
    pub const fn key(self) -> &'static str {
        match self {
            Self::A => "a",
            Self::B => "b",
        }
    }
}

/// One figure of both.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedFigure {
    /// What it is, with the amount of neither.
    pub figure: Figure,
    /// Of the first.
    pub a: Amount,
    /// Of the second.
    pub b: Amount,
}

impl ComparedFigure {
    /// The two read apart at the decimals shown, or one is known and the other is not.
    pub fn differs(&self) -> bool {
        match (&self.a, &self.b) {
            (Amount::Is { note: a_note, .. }, Amount::Is { note: b_note, .. }) => {
                self.shown_difference(UnitSystem::Metric).is_some_and(|by| by != 0.0)
                    || (self.figure.unit == FigureUnit::Money && a_note != b_note)
            }
            (Amount::Unknown { .. }, Amount::Unknown { .. }) => false,
            _ => true,
        }
    }

    /// Which one is better; none where neither is, where they differ by less than matters in the field, or where one is
    /// not known.
    pub fn better(&self) -> Option<Which> {
        let by = self.shown_difference(UnitSystem::Metric).filter(|by| *by != 0.0)?;
        if self.figure.key.practical().is_some_and(|least| by.abs() < least.si() - ROUNDING) {
            return None;
        }
        match self.figure.better {
            Direction::Lower => Some(if by > 0.0 { Which::A } else { Which::B }),
            Direction::Higher => Some(if by < 0.0 { Which::A } else { Which::B }),
            Direction::Neither => None,
        }
    }

    /// Worth a line in a table: a shortfall that neither has is not.
    pub fn speaks(&self) -> bool {
        let none = |amount: &Amount| amount.value().is_none_or(|value| value == 0.0);
        let is_shortfall = matches!(self.figure.key, FigureKey::Flow(FlowFigure::Shortfall, _));
        !(is_shortfall && none(&self.a) && none(&self.b))
    }

    /// Second less first as they read, so that 0.4 and 0.5 are 0.1 apart; none where one is not known or they can't be
    /// subtracted.
    pub fn shown_difference(&self, units: UnitSystem) -> Option<f64> {
        let rounded = |value: f64| self.figure.unit.rounded(value, units);
        match (&self.a, &self.b) {
            (Amount::Is { value: a, note: a_note }, Amount::Is { value: b, note: b_note }) => {
                (self.figure.unit != FigureUnit::Money || a_note == b_note).then(|| rounded(*b) - rounded(*a))
            }
            _ => None,
        }
    }
}
