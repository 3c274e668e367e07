//! Which numbers of a routing scatter, and by which spread: every piece that the project's spreads are about.

use crate::hydraulics::PreparedRouting;
use crate::hydraulics::network::LinkKind;
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::Parameter;
use crate::plan::{OperatingPoint, Project, Spread, SpreadKind};

/// The pieces that one spread is about.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    pub(super) kind: SpreadKind,
    pub(super) spread: Spread,
    /// Places in the list of numbers; empty for a spread of the liquid.
    pub(super) pieces: std::ops::Range<usize>,
}

/// All that scatters in a routing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scatter {
    /// The spreads above zero that something in the routing has, in the order of the table.
    pub(super) groups: Vec<Group>,
    /// The numbers, group by group.
    pub(super) numbers: Vec<Parameter>,
    /// As planned, SI.
    pub(super) planned: Vec<f64>,
}

impl Scatter {
    pub(super) fn of(project: &Project, prepared: &mut PreparedRouting<'_>, point: &OperatingPoint) -> Self {
        let parameters = prepared.parameters();
        let kinds: Vec<Option<SpreadKind>> =
            parameters.iter().map(|one| spread_of(*one, &prepared.link_of(*one)?)).collect();
        let mut all = Self { groups: Vec::new(), numbers: Vec::new(), planned: Vec::new() };
        for kind in SpreadKind::ALL {
            let spread = project.spreads.of(kind);
            if spread.sd <= 0.0 {
                continue;
            }
            let first = all.numbers.len();
            for (parameter, of) in parameters.iter().zip(&kinds) {
                if *of != Some(kind) {
                    continue;
                }
                if let Some(value) = prepared.value(*parameter, point).filter(|value| *value > 0.0) {
                    all.numbers.push(*parameter);
                    all.planned.push(value);
                }
            }
            let pieces = first..all.numbers.len();
            if kind.entry().is_one || !pieces.is_empty() {
                all.groups.push(Group { kind, spread, pieces });
            }
        }
        all
    }

    /// The standard deviation of a piece of a group, SI.
    pub(super) fn sd(&self, group: &Group, piece: usize) -> f64 {
        let planned = self.planned.get(piece).copied().unwrap_or(0.0);
        if group.kind.entry().is_relative { group.spread.sd * planned } else { group.spread.sd }
    }
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
