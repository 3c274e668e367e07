//! Which numbers of a routing scatter, and by which spread: every piece that the project's spreads are about.

use crate::hydraulics::PreparedRouting;
use crate::hydraulics::network::LinkKind;
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::{LiquidQuantity, Parameter};
use crate::plan::{
    Calibrated, Field, LaidRouting, Liquid, OperatingPoint, Project, Shape, Spread, SpreadKind,
};
use crate::quantities::Temperature;
use crate::studies::Studied;

/// The pieces that one spread is about.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::studies) struct Group {
    pub(in crate::studies) kind: SpreadKind,
    /// As the project has it; where a catch test told all that it is about alike, what is left of that.
    pub(in crate::studies) spread: Spread,
    /// Where it comes from.
    pub(in crate::studies) source: String,
    /// Places in the list of numbers; empty for a spread of the liquid.
    pub(in crate::studies) pieces: std::ops::Range<usize>,
}

/// All that scatters in a routing.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::studies) struct Scatter {
    /// The spreads above zero that something in the routing has, in the order of the table.
    pub(in crate::studies) groups: Vec<Group>,
    /// The numbers, group by group.
    pub(in crate::studies) numbers: Vec<Parameter>,
    /// As planned, SI.
    pub(in crate::studies) planned: Vec<f64>,
    /// Standard deviations, as a part of the value, of those that a catch test told.
    calibrated: Vec<Option<f64>>,
}

impl Scatter {
    pub(in crate::studies) fn of(
        project: &Project,
        laid: LaidRouting<'_>,
        prepared: &mut PreparedRouting<'_>,
        point: &OperatingPoint,
    ) -> Self {
        let parameters = prepared.parameters();
        let kinds: Vec<Option<SpreadKind>> =
            parameters.iter().map(|one| spread_of(*one, &prepared.link_of(*one)?)).collect();
        let mut all =
            Self { groups: Vec::new(), numbers: Vec::new(), planned: Vec::new(), calibrated: Vec::new() };
        for kind in SpreadKind::ALL {
            let first = all.numbers.len();
            let mut told = Vec::new();
            for (parameter, of) in parameters.iter().zip(&kinds) {
                if *of != Some(kind) {
                    continue;
                }
                let by = calibration(project, laid, point, *parameter);
                if project.spreads.of(kind).sd <= 0.0 && by.is_none() {
                    continue;
                }
                if let Some(value) = prepared.value(*parameter, point).filter(|value| *value > 0.0) {
                    all.numbers.push(*parameter);
                    all.planned.push(value);
                    all.calibrated.push(by.map(Calibrated::sd));
                    told.push(by);
                }
            }
            if kind == SpreadKind::Viscosity {
                told.push(project.duty(point.duty).liquid.viscosity_source.calibrated());
            }
            let (spread, source) = left(project, kind, &told);
            let pieces = first..all.numbers.len();
            if (kind.entry().is_one && spread.sd > 0.0) || !pieces.is_empty() {
                all.groups.push(Group { kind, spread, source, pieces });
            }
        }
        all
    }

    /// The standard deviation of a piece of a group, SI.
    pub(in crate::studies) fn sd(&self, group: &Group, piece: usize) -> f64 {
        let planned = self.planned.get(piece).copied().unwrap_or(0.0);
        if let Some(sd) = self.calibrated.get(piece).copied().flatten() {
            // What a test told is the mean of all: pieces that differ go on differing about it.
            return planned * if group.spread.common { sd } else { sd.hypot(group.spread.sd) };
        }
        if group.kind.entry().is_relative { group.spread.sd * planned } else { group.spread.sd }
    }
}

/// What one standard deviation in one independent way does: numbers that change together, each by so much, SI.
pub(in crate::studies) type Together = Vec<(Parameter, f64)>;

impl Scatter {
    /// All independent ways in which a group scatters about a liquid at a temperature: each piece by itself, or all together where
    /// they have it in common; a temperature changes density and viscosity together, by half of what the liquid's table changes by
    /// from one end to the other, since that bends at its points.
    pub(in crate::studies) fn ways(
        &self,
        group: &Group,
        liquid: &Liquid,
        temperature: Temperature,
    ) -> Vec<Together> {
        let sd = group.spread.sd;
        let state = |by: f64| liquid.at(Temperature::from_si(temperature.si() + by));
        let (density, viscosity) = (LiquidQuantity::Density, LiquidQuantity::Viscosity);
        let (density, viscosity) = (Parameter::Liquid(density), Parameter::Liquid(viscosity));
        match group.kind {
            SpreadKind::Temperature => {
                let (Some(cold), Some(warm)) = (state(-sd), state(sd)) else { return Vec::new() };
                let dense = (warm.density.si() - cold.density.si()) / 2.0;
                let thick = (warm.viscosity.si() - cold.viscosity.si()) / 2.0;
                vec![vec![(density, dense), (viscosity, thick)]]
            }
            SpreadKind::Viscosity => {
                let now = state(0.0).map_or(0.0, |state| state.viscosity.si());
                vec![vec![(viscosity, sd * now)]]
            }
            _ => {
                let each = group.pieces.clone().map(|piece| (self.numbers[piece], self.sd(group, piece)));
                if group.spread.common { vec![each.collect()] } else { each.map(|one| vec![one]).collect() }
            }
        }
    }

    /// The numbers, with those of the liquid behind them.
    pub(in crate::studies) fn numbers_and_liquid(&self) -> Vec<Parameter> {
        let liquid = [LiquidQuantity::Density, LiquidQuantity::Viscosity].map(Parameter::Liquid);
        self.numbers.iter().copied().chain(liquid).collect()
    }
}

/// The spread that is left of what pieces or the liquid have, and where it comes from, in words.
fn left(project: &Project, kind: SpreadKind, told: &[Option<&Calibrated>]) -> (Spread, String) {
    let (spread, source) = (project.spreads.of(kind), kind.entry().source_of(&project.spreads));
    let words = |by: &Calibrated| by.words_with_interval(project.units);
    match told.iter().flatten().next() {
        None => (spread, source.to_owned()),
        Some(first) if told.iter().all(|one| *one == Some(*first)) && spread.common => {
            (Spread { sd: first.sd(), shape: Shape::Normal, common: true }, words(first))
        }
        Some(first) => (spread, format!("{source}; of some {}", words(first))),
    }
}

/// From which test a number of a piece is.
fn calibration<'a>(
    project: &'a Project,
    routing: LaidRouting<'_>,
    point: &OperatingPoint,
    parameter: Parameter,
) -> Option<&'a Calibrated> {
    let Parameter::Element(id, quantity) = parameter else { return None };
    let of_quantity = match quantity {
        VariedQuantity::DischargeCoefficient => Field::Discharge,
        VariedQuantity::Bore => Field::Bore,
        _ => return None,
    };
    let element = Studied { project, routing, point: *point }.element(id)?;
    let (field, by) = project.catalogue.entry(element.entry())?.calibration()?;
    (field == of_quantity).then_some(by)
}

/// The spread of a number of a link.
fn spread_of(parameter: Parameter, link: &LinkKind) -> Option<SpreadKind> {
    let is_run = matches!(parameter, Parameter::Run(..));
    let is_element = matches!(parameter, Parameter::Element(..));
    match (link, parameter.quantity()?) {
        (LinkKind::Orifice { .. }, VariedQuantity::Bore) => Some(SpreadKind::OrificeBore),
        (LinkKind::Orifice { .. }, VariedQuantity::DischargeCoefficient) => {
            Some(SpreadKind::OrificeCoefficient)
        }
        (LinkKind::CheckValve { .. }, VariedQuantity::CrackingPressure) => Some(SpreadKind::CrackingPressure),
        (LinkKind::MeteringTube { .. }, VariedQuantity::Bore) => Some(SpreadKind::MeteringBore),
        (LinkKind::MeteringTube { .. }, VariedQuantity::Length) => Some(SpreadKind::MeteringLength),
        (LinkKind::Pipe { .. }, VariedQuantity::Bore) if is_run => Some(SpreadKind::HoseBore),
        (LinkKind::Pipe { .. }, VariedQuantity::Bore) if is_element => Some(SpreadKind::TubeBore),
        (LinkKind::Pipe { .. }, VariedQuantity::Length) if is_run || is_element => {
            Some(SpreadKind::CutLength)
        }
        _ => None,
    }
}
