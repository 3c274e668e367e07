//! The numbers of a catalogue entry as one flat table: what a dealer's list has a column for.
//!
//! A kind lists its numbers once, with [`item!`]: its fields, what files and lists call them, which values they may have.
//! Files, comparisons, the table on screen and the proof of a plan all read them through here, so that a number has one
//! name, one unit and one range everywhere.

use crate::quantities::{Measure, Quantity};
use strum::EnumCount;

/// A number of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum Field {
    /// Bore of ports, body, hose, hole.
    Bore,
    /// Outside diameter of a hose or tube.
    Outside,
    /// Roughness of its wall.
    Roughness,
    /// Smallest bend radius.
    BendRadius,
    /// Bending stiffness of a hose or tube.
    Stiffness,
    /// What a metre of it weighs, empty.
    Weight,
    /// Rated pressure.
    Rated,
    /// Loss coefficient; of a tee straight through.
    Loss,
    /// Loss coefficient of a tee's branch.
    BranchLoss,
    /// Mesh opening.
    Opening,
    /// Count of a manifold's outlets.
    Outlets,
    /// From outlet to outlet.
    Spacing,
    /// Where a manifold's inlet is: 0 at its end, 1 in its middle.
    Inlet,
    /// Full scale of a gauge.
    FullScale,
    /// Discharge coefficient of an orifice.
    Discharge,
    /// Thickness of its plate.
    Thickness,
    /// Creeping flow of an orifice is counted: 1; left away where it is not.
    Creeping,
    /// Cracking pressure of a check valve.
    Cracking,
    /// Closing pressure of a check valve.
    Closing,
    /// A fitting turns the way of the liquid: 1; left away where it is straight.
    Elbow,
    /// Least flow that a flow meter shows right.
    LeastFlow,
    /// Greatest flow that it shows right.
    GreatestFlow,
    /// Least flow that a flow indicator shows.
    ShownFlow,
}

impl Field {
    /// All, in the order of a list's columns.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Bore,
        Self::Outside,
        Self::Rated,
        Self::BendRadius,
        Self::Stiffness,
        Self::Weight,
        Self::Roughness,
        Self::Loss,
        Self::BranchLoss,
        Self::Opening,
        Self::Outlets,
        Self::Spacing,
        Self::Inlet,
        Self::FullScale,
        Self::Discharge,
        Self::Thickness,
        Self::Creeping,
        Self::Cracking,
        Self::Closing,
        Self::Elbow,
        Self::LeastFlow,
        Self::GreatestFlow,
        Self::ShownFlow,
    ];

    /// Its name, as headings have it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bore => "Bore",
            Self::Outside => "Outside diameter",
            Self::Roughness => "Roughness",
            Self::BendRadius => "Bend radius",
            Self::Stiffness => "Bending stiffness",
            Self::Weight => "Weight empty",
            Self::Rated => "Rated pressure",
            Self::Loss => "Loss coefficient",
            Self::BranchLoss => "Branch loss coefficient",
            Self::Opening => "Mesh opening",
            Self::Outlets => "Outlets",
            Self::Spacing => "Outlet spacing",
            Self::Inlet => "Inlet",
            Self::FullScale => "Full scale",
            Self::Discharge => "Discharge coefficient",
            Self::Thickness => "Thickness",
            Self::Creeping => "Creeping flow",
            Self::Cracking => "Cracking pressure",
            Self::Closing => "Closing pressure",
            Self::Elbow => "Elbow",
            Self::LeastFlow => "Least flow",
            Self::GreatestFlow => "Greatest flow",
            Self::ShownFlow => "Shows from",
        }
    }

    /// What it measures.
    pub const fn measure(self) -> Measure {
        match self {
            Self::Bore | Self::Outside | Self::BendRadius | Self::Spacing | Self::Thickness => Measure::Bore,
            // A smooth hose has a few µm, which rounds to nothing in mm.
            Self::Roughness => Measure::Roughness,
            Self::Stiffness => Measure::BendingStiffness,
            Self::Weight => Measure::MassPerLength,
            Self::Opening => Measure::Opening,
            Self::Rated | Self::FullScale | Self::Cracking | Self::Closing => Measure::Pressure,
            Self::LeastFlow | Self::GreatestFlow => Measure::TotalFlow,
            Self::ShownFlow => Measure::RowFlow,
            Self::Loss
            | Self::BranchLoss
            | Self::Outlets
            | Self::Inlet
            | Self::Discharge
            | Self::Creeping
            | Self::Elbow => Measure::Plain,
        }
    }

    /// More than this, in the stored unit, is nothing that goes on a bar, but a slip of the unit: of what is proved by its
    /// [`Range`] and not by the kind itself.
    pub const fn most(self) -> f64 {
        match self {
            Self::Bore | Self::Outside | Self::Thickness => 1.0,
            Self::BendRadius | Self::Spacing => 10.0,
            Self::Roughness | Self::Opening => 0.1,
            Self::Stiffness => 1e4,
            Self::Weight => 100.0,
            Self::Rated | Self::FullScale | Self::Cracking | Self::Closing => 1e9,
            Self::LeastFlow | Self::GreatestFlow | Self::ShownFlow => 10.0,
            Self::Loss
            | Self::BranchLoss
            | Self::Outlets
            | Self::Inlet
            | Self::Discharge
            | Self::Creeping
            | Self::Elbow => 1e6,
        }
    }
}

/// Which values a number may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Range {
    /// Above 0, and at most [`Field::most`].
    AboveZero,
    /// The same, or left away where nobody knows it.
    AboveZeroIfKnown,
    /// 0 or more, and at most [`Field::most`].
    NotNegative,
    /// A loss coefficient: 0 to a million.
    Coefficient,
    /// What its type holds, or what the kind proves by itself in
    /// [`contradictions`](super::ItemDescription::contradictions).
    ByItself,
}

/// Why numbers make no item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemError {
    /// No kind has this name.
    UnknownKind,
    /// The kind needs a number that is not there.
    Missing(Field),
    /// The number is not one that the kind can have (a whole number of outlets, 0 or 1 for inlet, creeping flow and elbow).
    OutOfRange(Field),
}

/// A number with what it is and what it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    /// What it is.
    pub field: Field,
    /// In stored units (SI); none where it is left away.
    pub value: Option<f64>,
    /// Which values it may have.
    pub range: Range,
}

/// The numbers by the field, as a list or a form gives them.
pub type Given<'a> = &'a dyn Fn(Field) -> Option<f64>;

/// An item made from its numbers. [`item!`] writes it.
pub(crate) trait FromNumbers: Sized {
    /// Reads every number; whether they are in range is for [`validate::entry`](super::super::validate::entry) to say.
    fn from_numbers(given: Given) -> Result<Self, ItemError>;
}

/// A type that stands in a list as a number.
pub(crate) trait AsNumber: Sized {
    /// In stored units (SI); none where it is left away.
    fn number(self) -> Option<f64>;

    /// From a number, or from none where it may be left away.
    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError>;
}

impl AsNumber for f64 {
    fn number(self) -> Option<f64> {
        Some(self)
    }

    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError> {
        number.ok_or(ItemError::Missing(field))
    }
}

impl<Q: Quantity> AsNumber for Q {
    fn number(self) -> Option<f64> {
        Some(self.si())
    }

    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError> {
        f64::from_number(field, number).map(Self::from_si)
    }
}

/// A quantity that may be unknown.
impl<Q: Quantity> AsNumber for Option<Q> {
    fn number(self) -> Option<f64> {
        self.map(|value| value.si())
    }

    fn from_number(_: Field, number: Option<f64>) -> Result<Self, ItemError> {
        Ok(number.map(Q::from_si))
    }
}

impl AsNumber for u16 {
    fn number(self) -> Option<f64> {
        Some(f64::from(self))
    }

    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError> {
        let number = f64::from_number(field, number)?;
        if number.fract() != 0.0 || !(0.0..=65_535.0).contains(&number) {
            return Err(ItemError::OutOfRange(field));
        }
        Ok(number as Self)
    }
}

/// A tick: 1, or left away.
impl AsNumber for bool {
    fn number(self) -> Option<f64> {
        self.then_some(1.0)
    }

    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError> {
        match number.unwrap_or(0.0) {
            0.0 => Ok(false),
            1.0 => Ok(true),
            _ => Err(ItemError::OutOfRange(field)),
        }
    }
}

/// Defines the numbers of a kind: a struct that a file holds, and the table from which lists, forms and proofs read it.
macro_rules! item {
    ($(#[$doc:meta])* $Item:ident {
        $($(#[$field_doc:meta])* $field:ident: $Type:ty = $Field:ident, $range:ident;)*
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $Item {
            $($(#[$field_doc])* pub $field: $Type,)*
        }

        impl $Item {
            /// Its numbers, in the order they are defined.
            pub(in $crate::plan::kinds) fn own_numbers(&self) -> Vec<$crate::plan::kinds::numbers::Number> {
                vec![$($crate::plan::kinds::numbers::Number {
                    field: $crate::plan::kinds::numbers::Field::$Field,
                    value: $crate::plan::kinds::numbers::AsNumber::number(self.$field),
                    range: $crate::plan::kinds::numbers::Range::$range,
                },)*]
            }
        }

        impl $crate::plan::kinds::numbers::FromNumbers for $Item {
            fn from_numbers(
                given: $crate::plan::kinds::numbers::Given,
            ) -> Result<Self, $crate::plan::kinds::numbers::ItemError> {
                use $crate::plan::kinds::numbers::{AsNumber as _, Field};
                Ok(Self {
                    $($field: <$Type>::from_number(Field::$Field, given(Field::$Field))?,)*
                })
            }
        }
    };
}
pub(super) use item;
