//! What a figure is: its key, where it is read, what it counts in, which value is better, and its amount.

use std::fmt;

use crate::plan::StockKey;
use crate::quantities::{Measure, Ratio, UnitSystem, decimals};

/// Which value is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// The lower one.
    Lower,
    /// The higher one.
    Higher,
    /// Neither by itself: it says how the routing is, not how good.
    Neither,
}

impl Direction {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Lower => "lower",
            Self::Higher => "higher",
            Self::Neither => "neither",
        }
    }
}

/// What an amount counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FigureUnit {
    /// A measured quantity, stored in SI.
    Measured(Measure),
    /// A number of things.
    Count,
    /// Money; the amount's note names the currency.
    Money,
}

impl FigureUnit {
    /// The number alone.
    pub fn number(self, value: f64, units: UnitSystem) -> String {
        match self {
            Self::Measured(measure) => measure.number(value, units),
            Self::Count => Measure::Plain.short_number(value, units),
            Self::Money => decimals(value, 2),
        }
    }

    /// The amount that its number reads as, in the stored unit.
    pub fn rounded(self, value: f64, units: UnitSystem) -> f64 {
        match self {
            Self::Measured(measure) => measure.rounded(value, units),
            Self::Count => value,
            Self::Money => (value * 100.0).round() / 100.0,
        }
    }

    /// What is written behind the number; empty for counts and money.
    pub const fn symbol(self, units: UnitSystem) -> &'static str {
        match self {
            Self::Measured(measure) => measure.unit(units).symbol,
            Self::Count | Self::Money => "",
        }
    }
}

/// The value of a figure.
#[derive(Debug, Clone, PartialEq)]
pub enum Amount {
    /// Known.
    Is {
        /// In the stored unit.
        value: f64,
        /// Said beside it: which row, which part, which currency; may be empty.
        note: String,
    },
    /// Not known.
    Unknown {
        /// In place of the number.
        short: &'static str,
        /// Why.
        why: String,
    },
}

impl Amount {
    /// Known, with nothing to add.
    pub const fn is(value: f64) -> Self {
        Self::Is { value, note: String::new() }
    }

    /// Not known.
    pub fn unknown(short: &'static str, why: impl Into<String>) -> Self {
        Self::Unknown { short, why: why.into() }
    }

    /// The number, if known.
    pub const fn value(&self) -> Option<f64> {
        match self {
            Self::Is { value, .. } => Some(*value),
            Self::Unknown { .. } => None,
        }
    }

    /// Number, unit and note: `11.2 % (row 20)`, `no price`.
    pub fn text(&self, unit: FigureUnit, units: UnitSystem) -> String {
        match self {
            Self::Unknown { short, .. } => (*short).to_owned(),
            Self::Is { value, note } => {
                let number = unit.number(*value, units);
                match (unit, unit.symbol(units), note.as_str()) {
                    (FigureUnit::Money, _, currency) => format!("{number} {currency}"),
                    (_, "", "") => number,
                    (_, symbol, "") => format!("{number} {symbol}"),
                    (_, symbol, note) => format!("{number} {symbol} ({note})"),
                }
            }
        }
    }
}

/// Where a figure is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Condition {
    /// At the point looked at, where that is none of the other three.
    LookedAt,
    /// At the slowest speed.
    Slowest,
    /// At the usual speed.
    Usual,
    /// At the fastest speed.
    Fastest,
}

impl Condition {
    /// The end of a figure's key.
    pub const fn key(self) -> &'static str {
        match self {
            Self::LookedAt => "looked_at",
            Self::Slowest => "slowest",
            Self::Usual => "usual",
            Self::Fastest => "fastest",
        }
    }
}

/// What belongs together under one heading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FigureGroup {
    /// Flow and pressure at one condition, with its heading.
    At(Condition, String),
    /// Hose and tube.
    Lengths,
    /// Parts.
    Parts,
    /// Joints.
    Joints,
    /// Cost.
    Cost,
}

impl FigureGroup {
    /// The heading.
    pub fn heading(&self) -> &str {
        match self {
            Self::At(_, heading) => heading,
            Self::Lengths => "Hose and tube",
            Self::Parts => "Parts",
            Self::Joints => "Joints",
            Self::Cost => "Cost",
        }
    }
}

/// What is read of a solve at one condition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FlowFigure {
    /// Coefficient of variation over the fed rows.
    Cv,
    /// Distribution uniformity of the lowest quarter.
    DuLowestQuarter,
    /// How far the farthest row is off its target.
    FarthestRow,
    /// Number of rows that are fed.
    RowsFed,
    /// What the supply lacks to the rate.
    Shortfall,
    /// Pressure where the supply enters the bar.
    Inlet,
    /// Of the manifold with the highest pressure.
    HighestManifold,
    /// Of the manifold with the lowest pressure.
    LowestManifold,
    /// Of the gauge of this tag.
    Gauge(String),
}

impl FlowFigure {
    const fn key(&self) -> &'static str {
        match self {
            Self::Cv => "cv",
            Self::DuLowestQuarter => "du_lowest_quarter",
            Self::FarthestRow => "farthest_row",
            Self::RowsFed => "rows_fed",
            Self::Shortfall => "shortfall",
            Self::Inlet => "inlet",
            Self::HighestManifold => "highest_manifold",
            Self::LowestManifold => "lowest_manifold",
            Self::Gauge(_) => "gauge",
        }
    }
}

/// What a line is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineRole {
    /// Supply and mains.
    Hose,
    /// From a manifold to the rows.
    Tube,
    /// Cut to a length to meter.
    MeteringTube,
}

impl LineRole {
    /// In words, inside a sentence.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hose => "hose",
            Self::Tube => "tube",
            Self::MeteringTube => "metering tube",
        }
    }

    const fn key(self) -> &'static str {
        match self {
            Self::Hose => "hose_length",
            Self::Tube => "tube_length",
            Self::MeteringTube => "metering_tube_length",
        }
    }
}

/// Which figure it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FigureKey {
    /// Of a solve at one condition.
    Flow(FlowFigure, Condition),
    /// Length of all lines of a role.
    Length(LineRole),
    /// Length of the lines of a role that are cut from one stock.
    LengthOf(LineRole, StockKey),
    /// The longest way in tube to a row.
    LongestTube,
    /// The shortest way in tube to a row.
    ShortestTube,
    /// Hoses and row feeds that lead over a hinge.
    RunsAcrossHinges,
    /// Volume of hoses, tubes and manifolds.
    LiquidHeld,
    /// Number of parts of the catalogue.
    Parts,
    /// Number of parts of one kind.
    PartsOf(&'static str),
    /// Number of reducers and adapters between ends that don't fit as they are.
    Adapters,
    /// Number of joints.
    Joints,
    /// Number of joints of one kind.
    JointsOf(&'static str),
    /// Price of hoses and tubes.
    CostOfLines,
    /// Price of parts.
    CostOfParts,
    /// Price of all that the catalogue has.
    Cost,
}

impl FigureKey {
    /// The stable name without a unit, and what it is of where there are several: `cv_usual`; `hose_length` and `hose-8`.
    pub fn name(&self) -> (String, Option<String>) {
        let alone = |name: &str| (name.to_owned(), None);
        match self {
            Self::Flow(FlowFigure::Gauge(tag), at) => (format!("gauge_{}", at.key()), Some(tag.clone())),
            Self::Flow(figure, at) => (format!("{}_{}", figure.key(), at.key()), None),
            Self::Length(role) => alone(role.key()),
            Self::LengthOf(role, stock) => (role.key().to_owned(), Some(stock.to_string())),
            Self::LongestTube => alone("longest_tube"),
            Self::ShortestTube => alone("shortest_tube"),
            Self::RunsAcrossHinges => alone("runs_across_hinges"),
            Self::LiquidHeld => alone("liquid_held"),
            Self::Parts => alone("parts"),
            Self::PartsOf(kind) => ("parts".to_owned(), Some(kind.replace(' ', "_"))),
            Self::Adapters => alone("reducers_and_adapters"),
            Self::Joints => alone("joints"),
            Self::JointsOf(kind) => ("joints".to_owned(), Some(kind.replace(' ', "_"))),
            Self::CostOfLines => alone("cost_hose_and_tube"),
            Self::CostOfParts => alone("cost_parts"),
            Self::Cost => alone("cost"),
        }
    }

    /// The least difference that means anything in the field; none where every difference counts.
    ///
    /// 0.5 points of CV or DU and 1.5 points of the farthest row: two catch tests of one bar differ by as much (common
    /// practice, no source).
    pub const fn practical(&self) -> Option<Ratio> {
        match self {
            Self::Flow(FlowFigure::Cv | FlowFigure::DuLowestQuarter, _) => Some(Ratio::from_si(0.005)),
            Self::Flow(FlowFigure::FarthestRow, _) => Some(Ratio::from_si(0.015)),
            _ => None,
        }
    }
}

impl fmt::Display for FigureKey {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.name() {
            (name, Some(of)) => write!(out, "{name}.{of}"),
            (name, None) => out.write_str(&name),
        }
    }
}

/// What a figure is.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Under which heading.
    pub group: FigureGroup,
    /// Which one it is.
    pub key: FigureKey,
    /// In words.
    pub name: String,
    /// What it counts in.
    pub unit: FigureUnit,
    /// Which value is better.
    pub better: Direction,
}
