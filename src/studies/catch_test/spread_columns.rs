//! What one standard deviation of each thing that scatters by itself makes of rows and pressures, to first order.

use std::collections::BTreeMap;

use super::supply::supply_quantity;
use crate::hydraulics::PreparedRouting;
use crate::hydraulics::solver::response::Derivative;
use crate::hydraulics::variation::{Derivatives, Parameter};
use crate::plan::{PartId, RowId};
use crate::studies::Studied;
use crate::studies::tolerance::scatter::{Scatter, Together};

/// What one standard deviation of something about parts or liquid does: to rows, m³/s, and to parts whose pressure is read, Pa.
#[derive(Debug, Clone, Default)]
pub(super) struct SpreadColumn {
    pub(super) rows: Vec<f64>,
    pub(super) parts: Vec<f64>,
}

impl SpreadColumn {
    /// So many times as much.
    pub(super) fn times(&self, times: f64) -> Self {
        let of = |all: &[f64]| all.iter().map(|one| one * times).collect();
        Self { rows: of(&self.rows), parts: of(&self.parts) }
    }
}

/// What parts as sold and the liquid in the field do, as [`tolerance`](crate::studies::tolerance) takes it; and, where a standard
/// deviation of the supply is given as a part of what it is asked for, behind these what that does.
pub(super) fn spread_columns(
    of: &Studied<'_>,
    scatter: &Scatter,
    prepared: &mut PreparedRouting<'_>,
    (rows, parts): (&[RowId], &[PartId]),
    supply_sd: Option<f64>,
) -> Vec<SpreadColumn> {
    let supply = Parameter::Supply(supply_quantity(of));
    let asked = supply_sd.and_then(|sd| Some(prepared.value(supply, &of.point)? * sd));
    let mut parameters = scatter.numbers_and_liquid();
    parameters.extend(asked.map(|_| supply));
    let Ok(all) = prepared.derivatives(&of.point, &parameters) else { return Vec::new() };
    let found: BTreeMap<Parameter, &Derivatives> = all.iter().map(|one| (one.parameter, one)).collect();
    let liquid = &of.project.duty(of.point.duty).liquid;
    let column = |together: Together| {
        let mut sum = SpreadColumn { rows: vec![0.0; rows.len()], parts: vec![0.0; parts.len()] };
        for (parameter, by) in together {
            let Some(found) = found.get(&parameter) else { continue };
            let middle = |one: Derivative| by * f64::midpoint(one.falling(), one.rising());
            for (sum, row) in sum.rows.iter_mut().zip(rows) {
                *sum += found.row(*row).map_or(0.0, middle);
            }
            for (sum, part) in sum.parts.iter_mut().zip(parts) {
                *sum += found.part(*part).map_or(0.0, middle);
            }
        }
        sum
    };
    let ways = scatter.groups.iter().flat_map(|group| scatter.ways(group, liquid, of.point.temperature));
    ways.chain(asked.map(|by| vec![(supply, by)])).map(column).collect()
}
