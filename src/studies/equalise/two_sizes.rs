//! Orifices of two sizes: which rows get the other one.
//!
//! A row's flow with another orifice is reckoned from the solved drops of its feed: what the metering takes goes with the
//! square of its effective area, what the rest takes with the square of the flow, and the pressure over both stays. What is
//! reckoned only chooses the sizes that are solved.

use crate::hydraulics::Outcome;
use crate::hydraulics::outcome::RowState;
use crate::plan::{ElementItem, ElementKey, Metering, MeteringOrifice, Project, Routing, RowId};

/// How many pairs of sizes are solved.
const TRIED: usize = 4;

struct RowNow {
    row: RowId,
    /// Flow over target.
    ratio: f64,
    /// What the metering takes of all that its feed takes.
    share: f64,
}

/// Metering of all rows in two sizes, what promises the most equal rows first: the size that most rows have, and for the
/// rows that get least (or most) another one.
pub(super) fn sizes(
    project: &Project,
    routing: &Routing,
    outcome: &Outcome,
    now: &[(RowId, Metering)],
) -> Vec<Vec<(RowId, Metering)>> {
    let area = |key: &ElementKey| match project.catalogue.item(key) {
        Some(ElementItem::MeteringOrifice(MeteringOrifice { bore, cd, .. })) => {
            Some(cd * bore.si() * bore.si())
        }
        _ => None,
    };
    let Some(Metering::Orifice(base)) = super::super::metering::most_common(now) else { return Vec::new() };
    let Some(own) = area(&base) else { return Vec::new() };
    let mut rows: Vec<RowNow> = outcome
        .rows()
        .iter()
        .filter(|row| row.state == RowState::Fed && row.deviation.is_some())
        .filter_map(|row| {
            let (_, metering) = now.iter().find(|one| one.0 == row.row)?;
            let Metering::Orifice(fitted) = metering else { return None };
            let feed = routing.feed_of(row.row)?;
            let branch = feed.branches.iter().position(|branch| branch.row == row.row)?;
            let (mut metered, mut all) = (0.0, 0.0);
            for element in outcome.elements().iter().filter(|one| one.feed == feed.id) {
                if element.branch.is_some_and(|one| one != branch) {
                    continue;
                }
                let drop = element.drop.map_or(0.0, |drop| drop.si());
                let elements = element.branch.map_or(&feed.trunk, |_| &feed.branches[branch].elements);
                all += drop;
                if elements.get(element.index).is_some_and(|one| one.is_metering()) {
                    metered += drop;
                }
            }
            let share = if all > 0.0 { metered / all } else { 1.0 };
            let ratio = row.flow / row.target * changed(share, own / area(fitted)?);
            Some(RowNow { row: row.row, ratio, share })
        })
        .collect();
    rows.sort_by(|a, b| a.ratio.total_cmp(&b.ratio));
    let mut found: Vec<(f64, Vec<(RowId, Metering)>)> = Vec::new();
    for (other, _) in project.catalogue.of::<ElementKey>() {
        let suits = || other != base && project.attacked(other.any()).is_empty();
        let Some(theirs) = area(&other).filter(|_| suits()) else { continue };
        let wider = theirs > own;
        let mut best: Option<(f64, usize)> = None;
        // More than half of the rows with another size would be a change of size, not of evenness.
        for count in 0..=rows.len() / 2 {
            // A wider orifice goes to those that get least, a narrower one to those that get most.
            let ratios: Vec<f64> = rows
                .iter()
                .enumerate()
                .map(|(at, row)| {
                    let is_other = if wider { at < count } else { at + count >= rows.len() };
                    if is_other { row.ratio * changed(row.share, theirs / own) } else { row.ratio }
                })
                .collect();
            let mean = ratios.iter().sum::<f64>() / ratios.len().max(1) as f64;
            let spread = ratios.iter().map(|one| (one / mean - 1.0).powi(2)).sum::<f64>();
            if best.is_none_or(|(known, _)| spread < known) {
                best = Some((spread, count));
            }
        }
        let Some((spread, count)) = best else { continue };
        let others: Vec<RowId> = if wider {
            rows.iter().take(count).map(|row| row.row).collect()
        } else {
            rows.iter().rev().take(count).map(|row| row.row).collect()
        };
        let of =
            |row: RowId| Metering::Orifice(if others.contains(&row) { other.clone() } else { base.clone() });
        found.push((spread, now.iter().map(|(row, _)| (*row, of(*row))).collect()));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().take(TRIED).map(|(_, sizes)| sizes).collect()
}

/// By what a row's flow changes with an orifice of so many times the effective area, where the metering takes this share of
/// the pressure over its feed.
fn changed(share: f64, times: f64) -> f64 {
    1.0 / (share / (times * times) + 1.0 - share).sqrt()
}
