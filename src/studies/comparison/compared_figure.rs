//! One figure of both routings: whether it differs, and which is better.

use super::figures::{Amount, Direction, Figure, Unit};
use crate::quantities::UnitSystem;

/// A number as text is not a rounded zero.
pub(super) fn reads(number: &str) -> bool {
    number.contains(|digit: char| ('1'..='9').contains(&digit))
}

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
    /// The difference can be read at the decimals shown, or one is known and the other is not.
    pub fn differs(&self) -> bool {
        match (&self.a, &self.b) {
            (Amount::Is { value: a, note: a_note }, Amount::Is { value: b, note: b_note }) => {
                reads(&self.figure.unit.number(b - a, UnitSystem::Metric))
                    || (self.figure.unit == Unit::Money && a_note != b_note)
            }
            (Amount::Unknown { .. }, Amount::Unknown { .. }) => false,
            _ => true,
        }
    }

    /// Which one is better; none where neither is, where they read the same, or where one is not known.
    pub fn better(&self) -> Option<Which> {
        let (Amount::Is { value: a, note: a_note }, Amount::Is { value: b, note: b_note }) =
            (&self.a, &self.b)
        else {
            return None;
        };
        if !self.differs() || (self.figure.unit == Unit::Money && a_note != b_note) {
            return None;
        }
        match self.figure.better {
            Direction::Lower => Some(if a < b { Which::A } else { Which::B }),
            Direction::Higher => Some(if a > b { Which::A } else { Which::B }),
            Direction::Neither => None,
        }
    }

    /// Worth a line in a table: a shortfall that neither has is not.
    pub fn speaks(&self) -> bool {
        let none = |amount: &Amount| amount.value().is_none_or(|value| value == 0.0);
        !(self.figure.key.starts_with("shortfall") && none(&self.a) && none(&self.b))
    }

    /// Second less first, where both are known and can be subtracted.
    pub fn difference(&self) -> Option<f64> {
        match (&self.a, &self.b) {
            (Amount::Is { value: a, note: a_note }, Amount::Is { value: b, note: b_note }) => {
                (self.figure.unit != Unit::Money || a_note == b_note).then(|| b - a)
            }
            _ => None,
        }
    }
}
