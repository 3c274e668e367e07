//! What each orifice and each metering-tube stock of the catalogue means for the rows of a bar.
//!
//! Rows of unequal targets (shares, strips of unequal width) get unequal metering: orifices whose effective area is nearest
//! to the target's share, tubes whose length takes the same pressure at the row's own target.

use super::super::asked::{NoAnswer, Studied};
use crate::hydraulics::link::LinkKind;
use crate::hydraulics::network::{Fluid, FrictionLaw};
use crate::plan::row_target::{asked_of, width};
use crate::plan::{
    ElementItem, ElementKey, HoseStock, Metering, MeteringOrifice, OperatingPoint, RowId, StockItem, StockKey,
};
use crate::quantities::{Flow, Length};

/// Targets count as equal within this share.
const SAME_TARGET: f64 = 1e-3;

/// Something to be tried.
#[derive(Debug, Clone)]
pub(super) enum Candidate {
    /// Metering of each row.
    Rows(Vec<(RowId, Metering)>),
    /// Tubes that have to be cut to a length.
    Tube(TubeCandidate),
}

/// A metering-tube stock and the rows that it is cut for.
#[derive(Debug, Clone)]
pub(super) struct TubeCandidate {
    pub(super) key: StockKey,
    pub(super) stock: HoseStock,
    pub(super) rows: Vec<(RowId, f64)>,
    /// The most common target at the usual speed.
    flow: Flow,
    fluid: Fluid,
}

impl TubeCandidate {
    fn takes(&self, length: f64, flow: f64) -> f64 {
        let kind = LinkKind::MeteringTube {
            length_m: length,
            bore_m: self.stock.bore.si(),
            roughness_m: self.stock.roughness.si(),
            coil_diameter_m: None,
        };
        kind.law(&self.fluid, FrictionLaw::LaminarColebrook).loss(flow).pressure_pa
    }

    /// The metering of each row where rows of the most common target get tubes of a length: each takes as much at its own
    /// target. What a tube takes is a constant and a part in proportion to its length.
    pub(super) fn rows_at(&self, length: Length, step: Length) -> Vec<(RowId, Metering)> {
        let wanted = self.takes(length.si(), self.flow.si());
        let of = |share: f64| {
            if (share - 1.0).abs() <= SAME_TARGET {
                return length;
            }
            let flow = self.flow.si() * share;
            let (one, two) = (self.takes(1.0, flow), self.takes(2.0, flow));
            let own = 1.0 + (wanted - one) / (two - one);
            let steps = (own / step.si()).round().max(1.0);
            Length::from_si(steps * step.si())
        };
        let tube = |share| Metering::Tube { stock: self.key.clone(), length: of(share), coil: None };
        self.rows.iter().map(|(row, share)| (*row, tube(*share))).collect()
    }
}

/// Every row that has a feed, with its target as a share of the most common one, and that one at a point. A row that is left
/// out counts as a usual one: liquid leaves it all the same.
pub(super) fn shares(of: &Studied, point: &OperatingPoint) -> (Flow, Vec<(RowId, f64)>) {
    let bar = &of.project.bar;
    let fed = bar.rows.iter().filter(|row| of.routing.routing.feed_of(row.id).is_some());
    let rows: Vec<(RowId, f64)> =
        fed.map(|row| (row.id, (asked_of(width(bar, row), point) * row.share).si())).collect();
    let same = |a: f64, b: f64| (a / b - 1.0).abs() <= SAME_TARGET;
    let count = |target: f64| rows.iter().filter(|one| same(one.1, target)).count();
    let common = rows.iter().map(|one| one.1).reduce(|a, b| if count(b) > count(a) { b } else { a });
    let common = common.filter(|one| *one > 0.0).unwrap_or(1.0);
    let shares =
        rows.into_iter().map(|(row, target)| (row, if target > 0.0 { target / common } else { 1.0 }));
    (Flow::from_si(common), shares.collect())
}

/// The metering that most rows have; of several the first.
pub(in crate::studies) fn most_common(by_row: &[(RowId, Metering)]) -> Option<Metering> {
    let count = |metering: &Metering| by_row.iter().filter(|one| one.1 == *metering).count();
    by_row.iter().map(|one| &one.1).reduce(|a, b| if count(b) > count(a) { b } else { a }).cloned()
}

/// Effective area of an orifice, m² over π/4.
fn area(orifice: &MeteringOrifice) -> f64 {
    orifice.cd * orifice.bore.si() * orifice.bore.si()
}

/// Every orifice, the smallest first, then every metering-tube stock, the narrowest first.
pub(super) fn all(of: &Studied, points: &[[OperatingPoint; 3]]) -> Result<Vec<Candidate>, NoAnswer> {
    let catalogue = &of.project.catalogue;
    let usual = points[0][1];
    let (common, shares) = shares(of, &usual);
    if shares.is_empty() {
        return Err(NoAnswer::impossible("no row has a row feed", "give the rows to a manifold first"));
    }
    let mut orifices: Vec<(f64, ElementKey)> = catalogue
        .of::<ElementKey>()
        .filter_map(|(key, item)| match item {
            ElementItem::MeteringOrifice(orifice) => Some((area(orifice), key)),
            _ => None,
        })
        .collect();
    orifices.sort_by(|a, b| a.0.total_cmp(&b.0));
    let for_share = |base: f64, own: &ElementKey, share: f64| {
        if (share - 1.0).abs() <= SAME_TARGET {
            return own.clone();
        }
        let far = |one: &&(f64, ElementKey)| (one.0 / (base * share)).ln().abs();
        orifices
            .iter()
            .min_by(|a, b| far(a).total_cmp(&far(b)))
            .map_or_else(|| own.clone(), |one| one.1.clone())
    };
    let by_row = orifices.iter().map(|(base, key)| {
        let row = |(row, share): &(RowId, f64)| (*row, Metering::Orifice(for_share(*base, key, *share)));
        shares.iter().map(row).collect::<Vec<_>>()
    });
    let mut by_row: Vec<Vec<(RowId, Metering)>> = by_row.collect();
    // At the ends of the series several may come to the same.
    by_row.dedup();
    let mut found: Vec<Candidate> = by_row.into_iter().map(Candidate::Rows).collect();
    let duty = of.project.duty(usual.duty);
    let Some(liquid) = duty.liquid.at(usual.temperature) else {
        return Err(NoAnswer::impossible("the liquid has no properties", "give its density and viscosity"));
    };
    let fluid = Fluid { density_kg_m3: liquid.density.si(), viscosity_pa_s: liquid.viscosity.si() };
    let mut tubes: Vec<(StockKey, HoseStock)> = catalogue
        .of::<StockKey>()
        .filter_map(|(key, item)| match item {
            StockItem::MeteringTube(stock) => Some((key, *stock)),
            StockItem::Hose(_) | StockItem::Tube(_) => None,
        })
        .collect();
    tubes.sort_by(|a, b| a.1.bore.si().total_cmp(&b.1.bore.si()));
    found.extend(tubes.into_iter().map(|(key, stock)| {
        Candidate::Tube(TubeCandidate { key, stock, rows: shares.clone(), flow: common, fluid })
    }));
    Ok(found)
}
