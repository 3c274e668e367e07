//! The numbers of a catalogue entry as one flat table: what a dealer's list has a column for.
//!
//! Files, comparisons and the table on screen all read an [`Item`] through here, so that a field has one name and
//! one unit everywhere.

use super::catalogue::{
    ElementItem, ElementKind, FittingItem, FittingKind, HoseStock, Item, ItemKind, ManifoldInlet, PartItem,
    PartKind, StockItem, StockKind,
};
use crate::quantities::{Length, Measure, Pressure};

/// A number of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Field {
    /// Bore of ports, body, hose, hole.
    Bore,
    /// Outside diameter of a hose or tube.
    Outside,
    /// Roughness of its wall.
    Roughness,
    /// Smallest bend radius.
    BendRadius,
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
}

impl Field {
    /// All, in the order of a list's columns.
    pub const ALL: [Self; 17] = [
        Self::Bore,
        Self::Outside,
        Self::Rated,
        Self::BendRadius,
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
    ];

    /// Its name, as headings have it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bore => "Bore",
            Self::Outside => "Outside diameter",
            Self::Roughness => "Roughness",
            Self::BendRadius => "Bend radius",
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
        }
    }

    /// What it measures.
    pub const fn measure(self) -> Measure {
        match self {
            Self::Bore | Self::Outside | Self::BendRadius | Self::Spacing | Self::Thickness => Measure::Bore,
            // A smooth hose has a few µm, which rounds to nothing in mm.
            Self::Roughness => Measure::Roughness,
            Self::Opening => Measure::Opening,
            Self::Rated | Self::FullScale | Self::Cracking | Self::Closing => Measure::Pressure,
            Self::Loss
            | Self::BranchLoss
            | Self::Outlets
            | Self::Inlet
            | Self::Discharge
            | Self::Creeping => Measure::Plain,
        }
    }
}

/// Why numbers make no item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemError {
    /// No kind has this name.
    UnknownKind,
    /// The kind needs a number that is not there.
    Missing(Field),
    /// The number is not one that the kind can have (a whole number of outlets, 0 or 1 for inlet and creeping flow).
    OutOfRange(Field),
}

impl Item {
    /// Every number it has, in the order of [`Field::ALL`], in stored units (SI).
    pub fn numbers(&self) -> Vec<(Field, f64)> {
        let mut numbers: Vec<(Field, f64)> = match self {
            Self::Part(PartItem::InletFilter { bore, k, opening, rated }) => vec![
                (Field::Bore, bore.si()),
                (Field::Loss, *k),
                (Field::Opening, opening.si()),
                (Field::Rated, rated.si()),
            ],
            Self::Part(PartItem::Tee { bore, k_through, k_branch, rated }) => vec![
                (Field::Bore, bore.si()),
                (Field::Loss, *k_through),
                (Field::BranchLoss, *k_branch),
                (Field::Rated, rated.si()),
            ],
            Self::Part(PartItem::SectionValve { bore, k, rated }) => {
                vec![(Field::Bore, bore.si()), (Field::Loss, *k), (Field::Rated, rated.si())]
            }
            Self::Part(PartItem::Manifold { outlets, spacing, bore, k, inlet, rated }) => vec![
                (Field::Outlets, f64::from(*outlets)),
                (Field::Spacing, spacing.si()),
                (Field::Bore, bore.si()),
                (Field::Loss, *k),
                (Field::Inlet, if *inlet == ManifoldInlet::Middle { 1.0 } else { 0.0 }),
                (Field::Rated, rated.si()),
            ],
            Self::Part(PartItem::Gauge { full_scale }) => vec![(Field::FullScale, full_scale.si())],
            Self::Part(PartItem::BlankingPlug { rated }) => vec![(Field::Rated, rated.si())],
            Self::Stock(one) => {
                let stock = one.dimensions();
                vec![
                    (Field::Bore, stock.bore.si()),
                    (Field::Outside, stock.outside.si()),
                    (Field::Roughness, stock.roughness.si()),
                    (Field::BendRadius, stock.bend_radius.si()),
                    (Field::Rated, stock.rated.si()),
                ]
            }
            Self::Element(ElementItem::MeteringOrifice { bore, cd, thickness, creeping }) => {
                let creeping = creeping.then_some((Field::Creeping, 1.0));
                [(Field::Bore, bore.si()), (Field::Discharge, *cd), (Field::Thickness, thickness.si())]
                    .into_iter()
                    .chain(creeping)
                    .collect()
            }
            Self::Element(ElementItem::CheckValve { cracking, closing, k, bore, rated }) => vec![
                (Field::Cracking, cracking.si()),
                (Field::Closing, closing.si()),
                (Field::Loss, *k),
                (Field::Bore, bore.si()),
                (Field::Rated, rated.si()),
            ],
            Self::Fitting(one) => vec![(Field::Bore, one.bore().si()), (Field::Loss, one.k())],
        };
        let place = |field: &Field| Field::ALL.iter().position(|one| one == field);
        numbers.sort_by_key(|(field, _)| place(field));
        numbers
    }

    /// An item of a kind from its numbers in stored units. Whether they are in range is for
    /// [`validate::entry`](super::validate::entry) to say.
    pub fn from_numbers(kind: &str, number: impl Fn(Field) -> Option<f64>) -> Result<Self, ItemError> {
        let get = |field| number(field).ok_or(ItemError::Missing(field));
        let length = |field| get(field).map(Length::from_si);
        let pressure = |field| get(field).map(Pressure::from_si);
        let stock = || {
            Ok(HoseStock {
                bore: length(Field::Bore)?,
                outside: length(Field::Outside)?,
                roughness: length(Field::Roughness)?,
                bend_radius: length(Field::BendRadius)?,
                rated: pressure(Field::Rated)?,
            })
        };
        let kind = ItemKind::ALL.iter().find(|one| one.words() == kind).ok_or(ItemError::UnknownKind)?;
        Ok(match kind {
            ItemKind::Part(kind) => Self::Part(match kind {
                PartKind::InletFilter => PartItem::InletFilter {
                    bore: length(Field::Bore)?,
                    k: get(Field::Loss)?,
                    opening: length(Field::Opening)?,
                    rated: pressure(Field::Rated)?,
                },
                PartKind::Tee => PartItem::Tee {
                    bore: length(Field::Bore)?,
                    k_through: get(Field::Loss)?,
                    k_branch: get(Field::BranchLoss)?,
                    rated: pressure(Field::Rated)?,
                },
                PartKind::SectionValve => PartItem::SectionValve {
                    bore: length(Field::Bore)?,
                    k: get(Field::Loss)?,
                    rated: pressure(Field::Rated)?,
                },
                PartKind::Manifold => {
                    let outlets = get(Field::Outlets)?;
                    if outlets.fract() != 0.0 || !(0.0..=65_535.0).contains(&outlets) {
                        return Err(ItemError::OutOfRange(Field::Outlets));
                    }
                    PartItem::Manifold {
                        outlets: outlets as u16,
                        spacing: length(Field::Spacing)?,
                        bore: length(Field::Bore)?,
                        k: get(Field::Loss)?,
                        inlet: match get(Field::Inlet)? {
                            0.0 => ManifoldInlet::End,
                            1.0 => ManifoldInlet::Middle,
                            _ => return Err(ItemError::OutOfRange(Field::Inlet)),
                        },
                        rated: pressure(Field::Rated)?,
                    }
                }
                PartKind::Gauge => PartItem::Gauge { full_scale: pressure(Field::FullScale)? },
                PartKind::BlankingPlug => PartItem::BlankingPlug { rated: pressure(Field::Rated)? },
            }),
            ItemKind::Stock(kind) => Self::Stock(match kind {
                StockKind::Hose => StockItem::Hose(stock()?),
                StockKind::Tube => StockItem::Tube(stock()?),
                StockKind::MeteringTube => StockItem::MeteringTube(stock()?),
            }),
            ItemKind::Element(kind) => Self::Element(match kind {
                ElementKind::MeteringOrifice => ElementItem::MeteringOrifice {
                    bore: length(Field::Bore)?,
                    cd: get(Field::Discharge)?,
                    thickness: length(Field::Thickness)?,
                    creeping: match number(Field::Creeping).unwrap_or(0.0) {
                        0.0 => false,
                        1.0 => true,
                        _ => return Err(ItemError::OutOfRange(Field::Creeping)),
                    },
                },
                ElementKind::CheckValve => ElementItem::CheckValve {
                    cracking: pressure(Field::Cracking)?,
                    closing: pressure(Field::Closing)?,
                    k: get(Field::Loss)?,
                    bore: length(Field::Bore)?,
                    rated: pressure(Field::Rated)?,
                },
            }),
            ItemKind::Fitting(kind) => {
                let (bore, k) = (length(Field::Bore)?, get(Field::Loss)?);
                Self::Fitting(match kind {
                    FittingKind::SmallTee => FittingItem::SmallTee { bore, k },
                    FittingKind::Fitting => FittingItem::Fitting { bore, k },
                })
            }
        })
    }
}
