//! Tolerance to first order: how far each row is off by parts that scatter, from the derivatives at the planned state.
//!
//! With `r` a row's flow over its target and `s` the standard deviation of a number `p`, its variance is the sum of
//! `(dr/dp s)²` over independent numbers; what is common to several pieces counts once, with the sum of their derivatives
//! (law of propagation of uncertainty, JCGM 100:2008, 5.1.2). The mean square of the coefficient of variation is that of
//! the plan and, for each number, the variance over rows of `dr/dp s`, over the square of the mean: exact where all is
//! linear, and then squares of CVs add up.

use std::collections::BTreeMap;

use statrs::function::gamma::ln_gamma;

use super::scatter::{Scatter, Together};
use crate::hydraulics::row_sensitivity::RowSensitivities;
use crate::hydraulics::variation::Parameter;
use crate::hydraulics::{KeptSolver, Outcome, RowState};
use crate::plan::{LaidRouting, OperatingPoint, Project, RowId, SpreadKind};
use crate::quantities::Ratio;
use crate::studies::asked::NoAnswer;
use crate::studies::status::why_no_numbers;

/// One row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowFirstOrder {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// Flow over target less 1, as planned.
    pub planned: Ratio,
    /// Standard deviation of that.
    pub sd: Ratio,
}

/// What one spread adds to the mean square of the coefficient of variation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstOrderCause {
    /// The spread.
    pub kind: SpreadKind,
    /// CV².
    pub cv_squared: f64,
}

/// Tolerance to first order.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstOrder {
    /// The rows that are fed and have a target, in the bar's order.
    pub rows: Vec<RowFirstOrder>,
    /// Coefficient of variation as planned.
    pub planned_cv: Ratio,
    /// Each spread that something in the routing has, in the order of the table.
    pub causes: Vec<FirstOrderCause>,
    /// Deviations of the rows from their mean as planned, over the mean.
    planned: Vec<f64>,
    /// What each independent number adds to them by one standard deviation.
    columns: Vec<Vec<f64>>,
}

impl FirstOrder {
    /// Coefficient of variation that parts alone make: the root of the sum of all causes.
    pub fn parts_cv(&self) -> Ratio {
        Ratio::from_si(self.causes.iter().map(|cause| cause.cv_squared).sum::<f64>().sqrt())
    }

    /// Coefficient of variation of the built bar, root of the mean square.
    pub fn built_cv(&self) -> Ratio {
        Ratio::from_si(self.planned_cv.si().hypot(self.parts_cv().si()))
    }

    /// Standard deviation of the coefficient of variation from bar to bar: that of a quadratic form of normal values with
    /// the covariance `S` and means `m`, `var(x'x) = 2 tr(S²) + 4 m'S m`, over the square of the number of rows, and then of
    /// its root, taken as that of a gamma distribution of the same mean and variance (Nakagami 1960; exact for one
    /// chi-squared).
    pub fn cv_sd(&self) -> Ratio {
        let (rows, built) = (self.rows.len(), self.built_cv().si());
        if rows == 0 || built == 0.0 {
            return Ratio::from_si(0.0);
        }
        let mut covariance = vec![0.0; rows * rows];
        let mut with_means = 0.0;
        for column in &self.columns {
            for (line, one) in covariance.chunks_exact_mut(rows).zip(column) {
                for (entry, other) in line.iter_mut().zip(column) {
                    *entry += one * other;
                }
            }
            with_means += column.iter().zip(&self.planned).map(|(one, mean)| one * mean).sum::<f64>().powi(2);
        }
        let squares: f64 = covariance.iter().map(|entry| entry * entry).sum();
        let variance = (2.0 * squares + 4.0 * with_means) / (rows * rows) as f64;
        if variance <= 0.0 {
            return Ratio::from_si(0.0);
        }
        let shape = built.powi(4) / variance;
        let mean = built / shape.sqrt() * (ln_gamma(shape + 0.5) - ln_gamma(shape)).exp();
        Ratio::from_si((built * built - mean * mean).max(0.0).sqrt())
    }
}

/// Tolerance of a routing to first order, by the spreads of its project.
pub fn first_order(
    project: &Project,
    laid: LaidRouting<'_>,
    point: &OperatingPoint,
) -> Result<FirstOrder, NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(project, laid);
    let scatter = Scatter::of(project, laid, &mut prepared, point);
    let numbers = scatter.numbers_and_liquid();
    let (outcome, found) =
        prepared.row_sensitivities(point, &numbers).map_err(|outcome| no_numbers(&outcome, laid))?;
    of_sensitivities(project, &scatter, &outcome, &found).ok_or_else(|| no_row(laid))
}

/// No row has a flow and a target.
pub(super) fn no_row(laid: LaidRouting<'_>) -> NoAnswer {
    NoAnswer::impossible(
        format!("routing {} feeds no row that has a target", laid.name),
        "plumb rows first, and ask for a rate above zero",
    )
}

/// Nothing was solved.
pub(super) fn no_numbers(outcome: &Outcome, laid: LaidRouting<'_>) -> NoAnswer {
    let why = why_no_numbers(outcome, laid.routing).unwrap_or_else(|| "there are no numbers".to_owned());
    NoAnswer::impossible(
        format!("routing {} has no flows to vary: {why}", laid.name),
        "mend that first; the findings say where",
    )
}

/// The places of the rows that count in the bar's order: fed, and with a target.
pub(super) fn rows_that_count(outcome: &Outcome) -> Vec<usize> {
    let counts =
        |row: &crate::hydraulics::outcome::RowOutcome| row.state == RowState::Fed && row.target.si() > 0.0;
    outcome.rows().iter().enumerate().filter(|(_, row)| counts(row)).map(|(place, _)| place).collect()
}

fn of_sensitivities(
    project: &Project,
    scatter: &Scatter,
    outcome: &Outcome,
    found: &RowSensitivities,
) -> Option<FirstOrder> {
    let places = rows_that_count(outcome);
    let rows = outcome.rows();
    let count = places.len() as f64;
    let planned: Vec<f64> = places.iter().map(|at| rows[*at].flow.si() / rows[*at].target.si()).collect();
    let mean = planned.iter().sum::<f64>() / count;
    if places.is_empty() || mean <= 0.0 {
        return None;
    }
    let variance = |of: &[f64]| {
        let mean = of.iter().sum::<f64>() / count;
        of.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / count
    };
    let numbers = scatter.numbers_and_liquid().into_iter().zip(&found.by_number);
    let flows_by: BTreeMap<Parameter, &Option<Vec<f64>>> = numbers.collect();
    let liquid = &project.duty(outcome.point.duty).liquid;
    let column = |together: &Together| -> Vec<f64> {
        let mut sum = vec![0.0; places.len()];
        for (parameter, by) in together {
            let flows = flows_by.get(parameter).and_then(|flows| flows.as_ref());
            for (sum, at) in sum.iter_mut().zip(&places) {
                *sum += flows.map_or(0.0, |flows| flows[*at]) * by / rows[*at].target.si();
            }
        }
        sum
    };
    let mut row_variance = vec![0.0; places.len()];
    let (mut causes, mut centred) = (Vec::new(), Vec::new());
    for group in &scatter.groups {
        let mut cv_squared = 0.0;
        for together in scatter.ways(group, liquid, outcome.point.temperature) {
            let mut column = column(&together);
            cv_squared += variance(&column) / (mean * mean);
            for (row, one) in row_variance.iter_mut().zip(&column) {
                *row += one * one;
            }
            let middle = column.iter().sum::<f64>() / count;
            for one in &mut column {
                *one = (*one - middle) / mean;
            }
            centred.push(column);
        }
        causes.push(FirstOrderCause { kind: group.kind, cv_squared });
    }
    let rows = places.iter().zip(&planned).zip(&row_variance).map(|((at, ratio), variance)| RowFirstOrder {
        row: rows[*at].row,
        number: rows[*at].number,
        planned: Ratio::from_si(ratio - 1.0),
        sd: Ratio::from_si(variance.sqrt()),
    });
    Some(FirstOrder {
        rows: rows.collect(),
        planned_cv: Ratio::from_si(variance(&planned).sqrt() / mean),
        causes,
        planned: planned.iter().map(|ratio| (ratio - mean) / mean).collect(),
        columns: centred,
    })
}
