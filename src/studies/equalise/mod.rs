//! Equalising: metering of its own for each row, so that all rows get their targets alike in spite of unequal ways.
//!
//! Metering tubes are cut to lengths of their own, found for all rows at once at every speed of every duty: the least sum of
//! squares of the rows' deviations from their mean, by Gauss-Newton steps from the [derivatives] of the solved network, the
//! mean of the logarithms of the lengths kept (otherwise ever longer tubes, with ever more pressure, would be best). Orifices
//! are of at most two sizes of the catalogue. What comes out is rounded to what can be cut, and solved again.
//!
//! [derivatives]: crate::hydraulics::PreparedRouting::derivatives

mod found;
mod least_squares;
mod report;
mod two_sizes;

use std::collections::BTreeMap;

use super::asked::{NoAnswer, Studied, Waiting, too_few_fed};
use super::metering::{fit, metering_elements, tube_rows};
use super::reliance::WithoutLiquid;
use super::trial::{Judge, Judged, points, prepared};
use crate::hydraulics::outcome::RowState;
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::{ElementId, Parameter};
use crate::hydraulics::{Outcome, PreparedRouting};
use crate::plan::{Metering, OperatingPoint, Project, Routing, RowId};
use crate::quantities::{Flow, Length, Ratio};

pub use found::{EqualiseOptions, EqualiseStudy, EqualisedRow, Means, PRACTICAL};
pub use report::{action, report};

/// How many steps are taken at most.
const MOST_STEPS: usize = 8;
/// Lengths that change by less than this share are found.
const SETTLED: f64 = 1e-6;
/// The most that a logarithm of a length changes in one step.
const LONGEST_STEP: f64 = 0.5;

/// Makes the rows of a routing equal.
///
/// # Errors
/// Speeds or rate of a duty that make no range, a routing that feeds fewer than two rows or meters none, a stock that is no
/// metering tube of the catalogue, and where nobody waits any more.
pub fn study(
    of: &Studied,
    options: &EqualiseOptions,
    waiting: &dyn Waiting,
) -> Result<EqualiseStudy, NoAnswer> {
    let all = points(of)?;
    let project = of.project;
    let mut routing = of.routing.routing.clone();
    if let Some(stock) = &options.tube {
        fit(&mut routing, &tube_rows(of, stock)?);
    }
    let now: Vec<(RowId, Metering)> =
        project.bar.rows.iter().filter_map(|row| Some((row.id, routing.metering_of(row.id)?))).collect();
    if now.is_empty() {
        return Err(NoAnswer::impossible(
            "nothing meters the rows of this routing",
            "choose the metering first",
        ));
    }
    let points: Vec<OperatingPoint> = all.iter().flatten().copied().collect();
    let usual = all[0][1];
    let tried = |routing: &Routing| Tried::of(of, routing, &points, &usual);
    let fitted = tried(of.routing.routing);
    // With tubes that were asked for it starts from these, all of one length.
    let start = if options.tube.is_some() { tried(&routing) } else { fitted.clone() };
    if start.usual.fed_rows() < 2 {
        return Err(too_few_fed(
            of,
            "fewer than two rows are fed, so there is nothing to make equal",
            &start.usual,
        ));
    }
    if waiting.has_stopped() {
        return Err(NoAnswer::Stopped);
    }
    let has_tubes = now.iter().any(|(_, one)| one.length().is_some());
    let (wanted, means) = if has_tubes {
        (lengths(project, &routing, &points, &now, waiting)?, Means::Lengths)
    } else {
        let found = two_sizes::sizes(project, &routing, &start.usual, &now);
        let mut best: Option<(Ratio, Vec<(RowId, Metering)>)> = None;
        for one in found {
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            let mut next = routing.clone();
            fit(&mut next, &one);
            let then = tried(&next);
            // No evenness at the price of what is asked.
            if then.judged.iter().zip(&start.judged).any(|(now, before)| now.missing > before.missing) {
                continue;
            }
            let cv = then.judged.iter().map(|one| one.cv).collect::<Option<Vec<_>>>();
            let Some(cv) = cv.and_then(|all| all.into_iter().reduce(Ratio::max)) else { continue };
            if best.as_ref().is_none_or(|(known, _)| cv < *known) {
                best = Some((cv, one));
            }
        }
        let there = start.judged.iter().filter_map(|one| one.cv).reduce(Ratio::max);
        match best.filter(|(cv, _)| there.is_none_or(|there| *cv < there)) {
            Some((_, sizes)) => (sizes, Means::TwoSizes),
            None => (now.clone(), Means::NoSizes),
        }
    };
    let mut next = routing.clone();
    fit(&mut next, &wanted);
    let then = tried(&next);
    waiting.so_far(1.0);
    let wanted: BTreeMap<RowId, Metering> = wanted.into_iter().collect();
    let flow = |outcome: &Outcome, row| outcome.row(row).map_or(Flow::ZERO, |row| row.flow);
    let deviation = |outcome: &Outcome, row| outcome.row(row).and_then(|row| row.deviation);
    let rows = now
        .into_iter()
        .map(|(row, start)| EqualisedRow {
            row,
            after: wanted.get(&row).unwrap_or(&start).clone(),
            start,
            before: of.routing.routing.metering_of(row),
            flow: [flow(&fitted.usual, row), flow(&then.usual, row)],
            deviation: [deviation(&fitted.usual, row), deviation(&then.usual, row)],
            farthest: [&fitted, &then].map(|one| one.farthest.get(&row).copied()),
        })
        .collect();
    let covered = start.usual.rows_in_total();
    let dry_rows = start.dry.words();
    let mut found = EqualiseStudy {
        rows,
        before: fitted.judged,
        after: then.judged,
        means,
        is_worth_it: false,
        dry_rows,
        covered,
    };
    if let [Some(before), Some(after)] = found.cv() {
        found.is_worth_it = before - after >= PRACTICAL;
    }
    Ok(found)
}

/// A routing at every point.
#[derive(Clone)]
struct Tried {
    judged: Vec<Judged>,
    /// At the usual speed of the duty looked at.
    usual: Outcome,
    /// The largest deviation of each row.
    farthest: BTreeMap<RowId, Ratio>,
    /// Rows in use that get nothing at one of the points.
    dry: WithoutLiquid,
}

impl Tried {
    fn of(of: &Studied, routing: &Routing, points: &[OperatingPoint], usual: &OperatingPoint) -> Self {
        let judge = Judge::new(of.project, routing, None);
        prepared(of.project, routing, |network| {
            let mut dry = WithoutLiquid::default();
            let mut farthest: BTreeMap<RowId, Ratio> = BTreeMap::new();
            let judged: Vec<Judged> = points
                .iter()
                .map(|point| {
                    let outcome = network.solve(point);
                    dry.add(of, &outcome);
                    for row in outcome.rows() {
                        let Some(deviation) = row.deviation else { continue };
                        let most = farthest.entry(row.row).or_insert(deviation);
                        if deviation.abs() > most.abs() {
                            *most = deviation;
                        }
                    }
                    judge.of(&outcome)
                })
                .collect();
            Self { judged, usual: network.solve(usual), farthest, dry }
        })
    }
}

/// Lengths of metering tubes that make the rows equal; other metering as it is.
fn lengths(
    project: &Project,
    routing: &Routing,
    points: &[OperatingPoint],
    now: &[(RowId, Metering)],
    waiting: &dyn Waiting,
) -> Result<Vec<(RowId, Metering)>, NoAnswer> {
    let step = project.limits.cut_step.si();
    let found = prepared(project, routing, |network| {
        let outcome = network.solve(&points[0]);
        let elements: BTreeMap<RowId, ElementId> = metering_elements(routing, &outcome).into_iter().collect();
        let tubes: Vec<(RowId, ElementId, f64)> = now
            .iter()
            .filter(|(row, _)| outcome.row(*row).is_some_and(|row| row.state == RowState::Fed))
            .filter_map(|(row, metering)| Some((*row, *elements.get(row)?, metering.length()?.si())))
            .collect();
        let mut search = Search { network, points, tubes };
        search.lengths(waiting)
    })?;
    let of: BTreeMap<RowId, f64> = found.into_iter().collect();
    let rounded = |row: RowId, metering: &Metering| match (metering, of.get(&row)) {
        (Metering::Tube { stock, length, coil }, Some(wanted)) => {
            // What is there stays where another cut would not come nearer.
            let cut = (wanted / step).round().max(1.0) * step;
            let cut = if (length.si() - wanted).abs() <= 0.5 * step { *length } else { Length::from_si(cut) };
            Metering::Tube { stock: stock.clone(), length: cut, coil: *coil }
        }
        _ => metering.clone(),
    };
    Ok(now.iter().map(|(row, metering)| (*row, rounded(*row, metering))).collect())
}

struct Search<'a, 'b> {
    network: &'a mut PreparedRouting<'b>,
    points: &'a [OperatingPoint],
    /// Rows whose tubes are cut, and their lengths as they are.
    tubes: Vec<(RowId, ElementId, f64)>,
}

/// Residuals and their derivatives by the logarithm of each length.
type Linear = (Vec<f64>, Vec<Vec<f64>>);

impl Search<'_, '_> {
    fn parameter(element: ElementId) -> Parameter {
        Parameter::Element(element, VariedQuantity::Length)
    }

    fn set(&mut self, logs: &[f64]) -> Result<(), NoAnswer> {
        for ((_, element, length), log) in self.tubes.iter().zip(logs) {
            self.network.set(Self::parameter(*element), length * log.exp()).map_err(|_| {
                NoAnswer::impossible(
                    "a length that is looked for is none that a tube can have",
                    "check the metering tubes",
                )
            })?;
        }
        Ok(())
    }

    /// How far each fed row is from the mean of all, at every point.
    fn residuals(&mut self) -> Vec<f64> {
        let mut all = Vec::new();
        for point in self.points {
            let outcome = self.network.solve(point);
            let ratios = ratios(&outcome);
            let mean = mean(&ratios);
            all.extend(ratios.iter().map(|(_, ratio)| ratio / mean - 1.0));
        }
        all
    }

    fn linear(&mut self, logs: &[f64]) -> Linear {
        let parameters: Vec<Parameter> = self.tubes.iter().map(|one| Self::parameter(one.1)).collect();
        let (mut residuals, mut jacobian) = (Vec::new(), Vec::new());
        for point in self.points {
            let outcome = self.network.solve(point);
            let ratios = ratios(&outcome);
            let mean = mean(&ratios);
            let Ok(by_all) = self.network.derivatives(point, &parameters) else { continue };
            // Derivatives of the ratios of all fed rows, one column after the other.
            let columns: Vec<Vec<f64>> = self
                .tubes
                .iter()
                .zip(logs)
                .map(|((_, element, length), log)| {
                    let by = by_all.iter().find(|one| one.parameter == Self::parameter(*element));
                    let length = length * log.exp();
                    let of_row = |row: &RowId| {
                        let slope = by.and_then(|by| by.row(*row)).map_or(0.0, |one| one.rising());
                        slope * length
                    };
                    ratios.iter().map(|((row, target), _)| of_row(row) / target).collect()
                })
                .collect();
            let of_mean: Vec<f64> =
                columns.iter().map(|column| column.iter().sum::<f64>() / ratios.len() as f64).collect();
            for (at, (_, ratio)) in ratios.iter().enumerate() {
                residuals.push(ratio / mean - 1.0);
                let row = columns.iter().zip(&of_mean);
                jacobian.push(
                    row.map(|(column, of_mean)| column[at] / mean - ratio * of_mean / (mean * mean))
                        .collect(),
                );
            }
        }
        (residuals, jacobian)
    }

    fn lengths(&mut self, waiting: &dyn Waiting) -> Result<Vec<(RowId, f64)>, NoAnswer> {
        let mut logs = vec![0.0; self.tubes.len()];
        let squares = |residuals: &[f64]| residuals.iter().map(|one| one * one).sum::<f64>();
        for done in 0..MOST_STEPS {
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            waiting.so_far(done as f32 / MOST_STEPS as f32);
            let (residuals, jacobian) = self.linear(&logs);
            let now = squares(&residuals);
            let Some(change) = least_squares::step(&jacobian, &residuals) else { break };
            let largest = change.iter().fold(0.0f64, |a, b| a.max(b.abs()));
            if largest < SETTLED {
                break;
            }
            let mut share = (LONGEST_STEP / largest).min(1.0);
            let mut found = false;
            for _ in 0..6 {
                let next: Vec<f64> = logs.iter().zip(&change).map(|(log, by)| log + share * by).collect();
                self.set(&next)?;
                let then = self.residuals();
                if then.len() == residuals.len() && squares(&then) < now {
                    logs = next;
                    found = true;
                    break;
                }
                share *= 0.5;
            }
            if !found {
                self.set(&logs)?;
                break;
            }
        }
        Ok(self.tubes.iter().zip(&logs).map(|((row, _, length), log)| (*row, length * log.exp())).collect())
    }
}

/// Flow over target of each fed row, with its target.
fn ratios(outcome: &Outcome) -> Vec<((RowId, f64), f64)> {
    let fed = outcome.rows().iter().filter(|row| row.deviation.is_some() && row.state == RowState::Fed);
    fed.map(|row| ((row.row, row.target.si()), row.flow / row.target)).collect()
}

fn mean(ratios: &[((RowId, f64), f64)]) -> f64 {
    ratios.iter().map(|one| one.1).sum::<f64>() / ratios.len().max(1) as f64
}
