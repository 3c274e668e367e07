//! The routing as a curve of its numbers: what rows and gauges would show, how that answers to each number, and how parts as
//! sold scatter it.

use nalgebra::{DMatrix, DVector};

use super::found::{Calibratable, CalibrationAsked};
use crate::hydraulics::PreparedRouting;
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::{Derivatives, LiquidQuantity, Parameter, SupplyQuantity};
use crate::plan::{CaughtLiquid, Field, OperatingPoint, PartId, RowId, Source, SpreadKind};
use crate::studies::Studied;
use crate::studies::tolerance::scatter::{Group, Scatter, Together};

/// Standard deviation of a filter's loss coefficient that nobody calibrated, as a part of it: half (common practice, no
/// source).
const LOSS_SD: f64 = 0.5;

/// Standard deviation of the bore of a roll of metering tube that nobody calibrated, as a part of it (common practice, no
/// source); how its pieces differ is a spread of its own.
const ROLL_SD: f64 = 0.02;

/// What can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// The flow of a row.
    Row(RowId),
    /// The pressure at a part.
    Part(PartId),
    /// The pressure at the pump's outlet.
    Pump,
}

/// A number that may be fitted.
#[derive(Debug, Clone)]
pub(super) struct Number {
    /// Which; none for what the supply is set to, which is fitted along and not taken over.
    pub(super) is: Option<Calibratable>,
    /// Whose values it is.
    pub(super) parameters: Vec<Parameter>,
    /// As assumed, SI.
    pub(super) assumed: f64,
    /// Standard deviation of that, as a part of it.
    pub(super) sd: f64,
    /// How each place answers to its logarithm at the assumed values.
    pub(super) slopes: DVector<f64>,
}

/// What one piece as sold makes of each place by one standard deviation.
struct Piece {
    kind: SpreadKind,
    effect: DVector<f64>,
}

/// The routing, ready to be solved with other numbers.
pub(super) struct Bench<'b, 'a> {
    prepared: &'b mut PreparedRouting<'a>,
    point: OperatingPoint,
    pub(super) places: Vec<Place>,
    /// What each place shows at the assumed values, SI.
    pub(super) assumed: DVector<f64>,
    pub(super) numbers: Vec<Number>,
    pieces: Vec<Piece>,
}

impl<'b, 'a> Bench<'b, 'a> {
    /// Solves the routing as assumed, with the standard deviation of the supply as a part of what it is set to. None where
    /// that has no numbers.
    pub(super) fn of(
        of: &Studied<'a>,
        asked: &CalibrationAsked,
        supply_sd: f64,
        prepared: &'b mut PreparedRouting<'a>,
    ) -> Option<Self> {
        let outcome = prepared.solve(&of.point);
        let numbers = outcome.numbers()?;
        let rows = numbers.rows.iter().filter(|row| row.flow.si() > 0.0).map(|row| Place::Row(row.row));
        let parts =
            numbers.parts.iter().filter(|part| part.pressure.is_some()).map(|part| Place::Part(part.part));
        let places: Vec<Place> = rows.chain(parts).chain([Place::Pump]).collect();
        let mut bench = Self {
            prepared,
            point: of.point,
            places,
            assumed: DVector::zeros(0),
            numbers: Vec::new(),
            pieces: Vec::new(),
        };
        bench.assumed = bench.shows(&[])?;
        bench.numbers = bench.all_numbers(of, asked, supply_sd);
        bench.pieces = bench.all_pieces(of, asked);
        Some(bench)
    }

    /// What each place shows with these values of some numbers.
    fn shows(&mut self, values: &[(usize, f64)]) -> Option<DVector<f64>> {
        for (number, value) in values {
            for parameter in self.numbers[*number].parameters.clone() {
                self.prepared.set(parameter, *value).ok()?;
            }
        }
        let outcome = self.prepared.solve(&self.point);
        let pump = outcome.numbers()?.pump_pressure.si();
        let shown = self.places.iter().map(|place| match place {
            Place::Row(row) => outcome.row(*row).map(|row| row.flow.si()),
            Place::Part(part) => outcome.part(*part)?.pressure.map(|pressure| pressure.si()),
            Place::Pump => Some(pump),
        });
        shown.collect::<Option<Vec<f64>>>().map(DVector::from_vec)
    }

    /// How each place answers to some parameters at the values that were set last, each for its SI unit; zero for one that
    /// is not there.
    fn slopes(&mut self, parameters: &[Parameter]) -> Option<Vec<DVector<f64>>> {
        let found = self.prepared.derivatives(&self.point, parameters).ok()?;
        let of = |one: &Derivatives| {
            let by = |place: &Place| {
                let derivative = match place {
                    Place::Row(row) => one.row(*row),
                    Place::Part(part) => one.part(*part),
                    Place::Pump => one.pump,
                };
                derivative.map_or(0.0, |one| f64::midpoint(one.rising(), one.falling()))
            };
            DVector::from_iterator(self.places.len(), self.places.iter().map(by))
        };
        let column = |parameter: &Parameter| {
            let known = found.iter().find(|one| one.parameter == *parameter);
            known.map_or_else(|| DVector::zeros(self.places.len()), of)
        };
        Some(parameters.iter().map(column).collect())
    }

    /// What each place shows, and how it answers to the logarithms of some numbers, at these logarithms over what is assumed.
    pub(super) fn at(
        &mut self,
        free: &[usize],
        logarithms: &[f64],
    ) -> Option<(DVector<f64>, Vec<DVector<f64>>)> {
        self.prepared.reset();
        let values: Vec<(usize, f64)> = free
            .iter()
            .zip(logarithms)
            .map(|(number, by)| (*number, self.numbers[*number].assumed * by.exp()))
            .collect();
        let shown = self.shows(&values)?;
        let parameters: Vec<_> = free.iter().map(|number| self.numbers[*number].parameters.clone()).collect();
        let each = self.slopes_of_each(&parameters)?.into_iter().zip(&values);
        let slopes = each.map(|(each, (_, value))| self.sum(each.into_iter()) * *value).collect();
        Some((shown, slopes))
    }

    /// The slopes of several groups of parameters, all at once: each call solves and linearises the network anew.
    fn slopes_of_each(&mut self, groups: &[Vec<Parameter>]) -> Option<Vec<Vec<DVector<f64>>>> {
        let mut all = self.slopes(&groups.concat())?.into_iter();
        Some(groups.iter().map(|group| all.by_ref().take(group.len()).collect()).collect())
    }

    fn sum(&self, each: impl Iterator<Item = DVector<f64>>) -> DVector<f64> {
        each.fold(DVector::zeros(self.places.len()), |sum, one| sum + one)
    }

    fn all_numbers(&mut self, of: &Studied<'_>, asked: &CalibrationAsked, supply_sd: f64) -> Vec<Number> {
        let known = self.prepared.parameters();
        let mut all = Vec::new();
        let mut add = |is: Option<Calibratable>, parameters: Vec<Parameter>, sd: f64| {
            let first = parameters.first().copied();
            let Some(assumed) = first.and_then(|first| self.prepared.value(first, &self.point)) else {
                return;
            };
            if assumed > 0.0 {
                all.push(Number { is, parameters, assumed, sd, slopes: DVector::zeros(0) });
            }
        };
        let liquid = &of.project.duty(of.point.duty).liquid;
        let viscosity = match &liquid.viscosity_source {
            Source::Measured | Source::Published => None,
            Source::Calibrated(by) => Some(by.sd()),
            Source::Assumed => Some(of.project.spreads.of(SpreadKind::Viscosity).sd),
        };
        if let (CaughtLiquid::Product, Some(sd)) = (asked.liquid, viscosity) {
            let parameter = Parameter::Liquid(LiquidQuantity::Viscosity);
            add(Some(Calibratable::Viscosity), vec![parameter], sd);
        }
        for entry in &of.project.catalogue.entries {
            let Some((field, _)) = entry.told_by_catch() else { continue };
            let usual = match field {
                Field::Discharge => of.project.spreads.of(SpreadKind::OrificeCoefficient).sd,
                Field::Bore => ROLL_SD,
                _ => LOSS_SD,
            };
            let sd = entry.calibration().map_or(usual, |(_, by)| by.sd());
            let is_of = |parameter: &&Parameter| {
                let key = match parameter {
                    Parameter::Part(id, _) => of.routing.routing.part(*id).map(|part| part.entry.any()),
                    Parameter::Element(id, _) => of.element(*id).map(|element| element.entry()),
                    _ => None,
                };
                key == Some(&entry.key) && parameter.quantity() == quantity(field)
            };
            let parameters: Vec<Parameter> = known.iter().filter(is_of).copied().collect();
            add(Some(Calibratable::Entry(entry.key.clone(), field)), parameters, sd);
        }
        let supply = [
            SupplyQuantity::MeteredFlow,
            SupplyQuantity::Pressure,
            SupplyQuantity::Capacity,
            SupplyQuantity::CurvePressure,
        ];
        for parameter in supply.map(Parameter::Supply) {
            if known.contains(&parameter) {
                add(None, vec![parameter], supply_sd);
            }
        }
        let parameters: Vec<_> = all.iter().map(|number| number.parameters.clone()).collect();
        let Some(each) = self.slopes_of_each(&parameters) else { return Vec::new() };
        for (number, each) in all.iter_mut().zip(each) {
            number.slopes = self.sum(each.into_iter()) * number.assumed;
        }
        all.retain(|number| number.is.is_some() || number.slopes.amax() > 0.0);
        all
    }

    fn all_pieces(&mut self, of: &Studied<'a>, asked: &CalibrationAsked) -> Vec<Piece> {
        let scatter = Scatter::of(of.project, of.routing, self.prepared, &of.point);
        let liquid = &of.project.duty(of.point.duty).liquid;
        let ways = |group: &Group| match group.kind {
            // Among the numbers, or known.
            SpreadKind::Viscosity => Vec::new(),
            SpreadKind::OrificeCoefficient | SpreadKind::MeteringBore if group.spread.common => Vec::new(),
            SpreadKind::Temperature if asked.temperature_is_measured => Vec::new(),
            SpreadKind::Temperature => {
                let by = viscosity_by_temperature(of) * group.spread.sd;
                vec![vec![(Parameter::Liquid(LiquidQuantity::Viscosity), by)]]
            }
            _ => scatter.ways(group, liquid, of.point.temperature),
        };
        let of_group = |group| ways(group).into_iter().map(|together| (group.kind, together));
        let ways: Vec<(SpreadKind, Together)> = scatter.groups.iter().flat_map(of_group).collect();
        let parameters: Vec<Vec<Parameter>> =
            ways.iter().map(|(_, together)| together.iter().map(|one| one.0).collect()).collect();
        let Some(slopes) = self.slopes_of_each(&parameters) else { return Vec::new() };
        let piece = |((kind, together), slopes): ((SpreadKind, Together), Vec<DVector<f64>>)| {
            let effects = slopes.into_iter().zip(together).map(|(slope, (_, by))| slope * by);
            Piece { kind, effect: self.sum(effects) }
        };
        ways.into_iter().zip(slopes).map(piece).collect()
    }

    /// Covariance of all places without that of reading them, SI: what parts as sold add, and the numbers that are not fitted,
    /// as they are assumed.
    pub(super) fn covariance(&self, free: &[usize]) -> DMatrix<f64> {
        let fits_viscosity = free.iter().any(|at| self.numbers[*at].is == Some(Calibratable::Viscosity));
        let pieces = self
            .pieces
            .iter()
            .filter(|piece| !(fits_viscosity && piece.kind == SpreadKind::Temperature))
            .map(|piece| piece.effect.clone());
        let assumed = self
            .numbers
            .iter()
            .enumerate()
            .filter(|(at, _)| !free.contains(at))
            .map(|(_, number)| &number.slopes * number.sd);
        let columns: Vec<DVector<f64>> = pieces.chain(assumed).collect();
        if columns.is_empty() {
            return DMatrix::zeros(self.places.len(), self.places.len());
        }
        let columns = DMatrix::from_columns(&columns);
        &columns * columns.transpose()
    }
}

/// The number of a link that a number of an entry is.
const fn quantity(field: Field) -> Option<VariedQuantity> {
    match field {
        Field::Discharge => Some(VariedQuantity::DischargeCoefficient),
        Field::Loss => Some(VariedQuantity::Coefficient),
        Field::Bore => Some(VariedQuantity::Bore),
        _ => None,
    }
}

/// How the viscosity answers to the temperature at the point, Pa s for each kelvin: over half of what its spread is.
pub(super) fn viscosity_by_temperature(of: &Studied<'_>) -> f64 {
    let liquid = &of.project.duty(of.point.duty).liquid;
    let sd = of.project.spreads.of(SpreadKind::Temperature).sd.max(0.1);
    let at = |by: f64| {
        let temperature = crate::quantities::Temperature::from_si(of.point.temperature.si() + by);
        liquid.at(temperature).map_or(0.0, |state| state.viscosity.si())
    };
    (at(sd) - at(-sd)) / (2.0 * sd)
}
