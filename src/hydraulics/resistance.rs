//! From a thing of the catalogue to the link that it is in a network, number by number.
//!
//! Each function hands every number that a study may change to `vary`, with its name, before it goes into the link: what
//! can be varied and what is solved are then the same. [`as_planned`] leaves all as the plan has it.

use super::losses::fitting::k_at_bore;
use super::network::LinkKind;
use crate::plan::kinds::Passage;
use crate::plan::{FeedElement, FittingItem, HoseStock, Item, StockItem};
use crate::quantities::Length;

/// Absolute roughness of moulded plastic bodies, metres (the value of smooth plastic pipe).
const BODY_ROUGHNESS_M: f64 = 1.5e-6;

/// A number of a run, an element of a row feed or a part that a study may change. SI.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum VariedQuantity {
    /// Length of a run, tube or metering tube; of a manifold the spacing of its outlets. m.
    Length,
    /// Bore, m.
    Bore,
    /// Loss coefficient at its bore: of all fittings of a run or of a kink in a tube together, of a tee straight through.
    Coefficient,
    /// Loss coefficient of a tee into its branch.
    BranchCoefficient,
    /// Discharge coefficient of an orifice.
    DischargeCoefficient,
    /// Cracking pressure of a check valve, Pa.
    CrackingPressure,
}

/// Leaves a number as the plan has it.
pub(super) const fn as_planned(_: VariedQuantity, planned: f64) -> f64 {
    planned
}

/// A hose or tube with its fittings.
pub(super) fn run<'a>(
    length: Length,
    stock: &HoseStock,
    fittings: impl Iterator<Item = &'a FittingItem>,
    vary: &mut dyn FnMut(VariedQuantity, f64) -> f64,
) -> LinkKind {
    let bore_m = vary(VariedQuantity::Bore, stock.bore.si());
    let k_minor =
        fittings.map(|item| k_at_bore(item.k(), item.bore().si(), bore_m)).fold(0.0, |sum, k| sum + k);
    LinkKind::Pipe {
        length_m: vary(VariedQuantity::Length, length.si()),
        bore_m,
        roughness_m: stock.roughness.si(),
        k_minor: vary(VariedQuantity::Coefficient, k_minor),
    }
}

/// What liquid meets on a way through a part, or in an element of a row feed.
pub(super) fn passage(passage: &Passage, vary: &mut dyn FnMut(VariedQuantity, f64) -> f64) -> LinkKind {
    match *passage {
        Passage::Loss { k, bore } => fitting(k, bore.si(), vary),
        Passage::HalfRun { k_through, bore } => {
            let bore_m = vary(VariedQuantity::Bore, bore.si());
            let half = vary(VariedQuantity::Coefficient, k_through) / 2.0;
            LinkKind::Fitting { k: half.max(0.0), bore_m }
        }
        Passage::Branch { k_through, k_branch, bore } => {
            let bore_m = vary(VariedQuantity::Bore, bore.si());
            let half = vary(VariedQuantity::Coefficient, k_through) / 2.0;
            let k = vary(VariedQuantity::BranchCoefficient, k_branch) - half;
            LinkKind::Fitting { k: k.max(0.0), bore_m }
        }
        Passage::Body { spacing, over, bore } => {
            let bore_m = vary(VariedQuantity::Bore, bore.si());
            let length_m = vary(VariedQuantity::Length, spacing.si()) / over;
            LinkKind::Pipe { length_m, bore_m, roughness_m: BODY_ROUGHNESS_M, k_minor: 0.0 }
        }
        Passage::Orifice { bore, cd, creeping_thickness } => LinkKind::Orifice {
            diameter_m: vary(VariedQuantity::Bore, bore.si()),
            cd: vary(VariedQuantity::DischargeCoefficient, cd),
            creeping_thickness_m: creeping_thickness.map(Length::si),
        },
        Passage::CheckValve { cracking, k, bore } => LinkKind::CheckValve {
            crack_pressure_pa: vary(VariedQuantity::CrackingPressure, cracking.si()),
            k: vary(VariedQuantity::Coefficient, k),
            bore_m: vary(VariedQuantity::Bore, bore.si()),
        },
    }
}

fn fitting(k: f64, bore_m: f64, vary: &mut dyn FnMut(VariedQuantity, f64) -> f64) -> LinkKind {
    LinkKind::Fitting { k: vary(VariedQuantity::Coefficient, k), bore_m: vary(VariedQuantity::Bore, bore_m) }
}

/// A branch of the small tee of a shared row feed.
pub(super) fn small_tee(item: &FittingItem, vary: &mut dyn FnMut(VariedQuantity, f64) -> f64) -> LinkKind {
    fitting(item.k(), item.bore().si(), vary)
}

/// An element of a row feed, if its entry is what it should be; a length for what is cut to one.
pub(super) fn element(
    element: &FeedElement,
    item: &Item,
    length: Option<Length>,
    vary: &mut dyn FnMut(VariedQuantity, f64) -> f64,
) -> Option<LinkKind> {
    Some(match element {
        FeedElement::Tube(_) => {
            let Item::Stock(StockItem::Tube(stock) | StockItem::Hose(stock)) = item else { return None };
            LinkKind::Pipe {
                length_m: vary(VariedQuantity::Length, length?.si()),
                bore_m: vary(VariedQuantity::Bore, stock.bore.si()),
                roughness_m: stock.roughness.si(),
                k_minor: vary(VariedQuantity::Coefficient, 0.0),
            }
        }
        FeedElement::Piece(kind, _) => {
            let Item::Element(item) = item else { return None };
            if item.item_kind() != *kind {
                return None;
            }
            passage(&item.passage(), vary)
        }
        FeedElement::MeteringTube { length, coil, .. } => {
            let Item::Stock(StockItem::MeteringTube(stock)) = item else { return None };
            LinkKind::MeteringTube {
                length_m: vary(VariedQuantity::Length, length.si()),
                bore_m: vary(VariedQuantity::Bore, stock.bore.si()),
                roughness_m: stock.roughness.si(),
                coil_diameter_m: coil.map(Length::si),
            }
        }
        FeedElement::Fitting(_) => {
            let Item::Fitting(item @ FittingItem::Fitting(_)) = item else { return None };
            fitting(item.k(), item.bore().si(), vary)
        }
    })
}
