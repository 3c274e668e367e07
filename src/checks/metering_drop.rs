//! The pressure that the metering of each row takes, against the cracking pressure of its check valve.

use super::context::Context;
use crate::plan::{CheckValve, ElementItem, ElementKind, FeedElement, RowId};
use crate::quantities::Pressure;

/// Rows whose metering takes less than the limit of the project asks for.
pub(super) struct Shortfall {
    /// The rows; one at least.
    pub(super) rows: Vec<RowId>,
    /// The least of what the metering takes, as a multiple of the cracking pressure.
    pub(super) least: f64,
    /// The most of it.
    pub(super) most: f64,
    /// What the metering takes where it is least.
    pub(super) metering: Pressure,
    /// The cracking pressure there.
    pub(super) cracking: Pressure,
}

/// The rows that miss the limit; none if no row does.
pub(super) fn shortfall(here: &Context) -> Option<Shortfall> {
    let factor = here.project.limits.metering_over_cracking.si();
    let mut rows: Vec<RowId> = Vec::new();
    let mut worst: Option<(f64, Pressure, Pressure)> = None;
    let mut most = f64::NEG_INFINITY;
    for path in here.row_paths() {
        let (mut metering, mut cracking) = (Pressure::ZERO, Pressure::ZERO);
        let mut known = false;
        for (element, outcome) in &path.elements {
            if element.is_metering()
                && let Some(drop) = outcome.and_then(|one| one.drop)
            {
                metering += drop;
                known = true;
            }
            if let FeedElement::Piece(ElementKind::CheckValve, entry) = element
                && let Some(ElementItem::CheckValve(CheckValve { cracking: one, .. })) =
                    here.project.catalogue.item(entry)
            {
                cracking += *one;
            }
        }
        // A valve that stays shut has its own rule.
        if !known || path.deviation().is_none() || metering >= cracking * factor {
            continue;
        }
        rows.push(path.row.row);
        let ratio = metering / cracking;
        most = most.max(ratio);
        if worst.is_none_or(|(least, ..)| ratio < least) {
            worst = Some((ratio, metering, cracking));
        }
    }
    let (least, metering, cracking) = worst?;
    Some(Shortfall { rows, least, most, metering, cracking })
}
