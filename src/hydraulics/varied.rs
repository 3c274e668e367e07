//! Changes numbers of a prepared routing, and takes derivatives by them: the methods behind
//! [`variation`](super::variation).

use std::collections::BTreeMap;

use petgraph::graph::EdgeIndex;

use super::assembly::LinkSource;
use super::link_maker::LinkMaker;
use super::network::{Boundary, Fluid, LinkKind};
use super::outcome::Outcome;
use super::prepared::PreparedRouting;
use super::resistance::VariedQuantity;
use super::solver::response::{Derivative, EquationChange, Linearised};
use super::variation::{CannotVary, Derivatives, ElementId, LiquidQuantity, Parameter, SupplyQuantity};
use crate::plan::{Control, OperatingPoint, RowId};
use crate::quantities::{Flow, Length, Pressure};

/// Step of a difference, as a part of the number.
const STEP: f64 = 1e-5;

impl PreparedRouting<'_> {
    /// All numbers that can be varied.
    pub fn parameters(&mut self) -> Vec<Parameter> {
        let mut all: Vec<Parameter> = self.known().keys().copied().collect();
        all.extend([LiquidQuantity::Density, LiquidQuantity::Viscosity].map(Parameter::Liquid));
        let supply = &self.project.supply;
        let has = [
            (SupplyQuantity::Pressure, supply.control.pressure().is_some()),
            (SupplyQuantity::MeteredFlow, matches!(supply.control, Control::Metered { .. })),
            (SupplyQuantity::Capacity, supply.pump_capacity.is_some()),
            (SupplyQuantity::CurvePressure, !supply.pump_curve.is_empty()),
        ];
        all.extend(has.iter().filter(|one| one.1).map(|one| Parameter::Supply(one.0)));
        all
    }

    /// The value of a number at an operating point, in SI units, as planned if it was not set; nothing if there is no
    /// such number.
    pub fn value(&mut self, parameter: Parameter, point: &OperatingPoint) -> Option<f64> {
        if let Some(value) = self.variation.values.get(&parameter) {
            return Some(*value);
        }
        match parameter {
            Parameter::Liquid(quantity) => {
                let liquid = self.project.duty(point.duty).liquid.at(point.temperature)?;
                Some(match quantity {
                    LiquidQuantity::Density => liquid.density.si(),
                    LiquidQuantity::Viscosity => liquid.viscosity.si(),
                })
            }
            Parameter::Supply(quantity) => {
                let supply = &self.project.supply;
                match quantity {
                    SupplyQuantity::Pressure => supply.control.pressure().map(Pressure::si),
                    SupplyQuantity::Capacity => supply.pump_capacity.map(Flow::si),
                    SupplyQuantity::CurvePressure => (!supply.pump_curve.is_empty()).then_some(1.0),
                    SupplyQuantity::MeteredFlow => {
                        let liquid = self.liquid_at(point)?;
                        let supply = supply.clone();
                        self.assembly.set_point(self.project, point, &liquid, &supply, None);
                        Some(self.assembly.target_total.si())
                    }
                }
            }
            Parameter::Run(..) | Parameter::Part(..) | Parameter::Element(..) | Parameter::SmallTee(..) => {
                self.known().get(&parameter).map(|(planned, _)| *planned)
            }
        }
    }

    /// Gives a number another value, in SI units, for the solves to come.
    pub fn set(&mut self, parameter: Parameter, value: f64) -> Result<(), CannotVary> {
        let zero_allowed = match parameter {
            Parameter::Run(_, quantity)
            | Parameter::Part(_, quantity)
            | Parameter::Element(_, quantity)
            | Parameter::SmallTee(_, quantity) => matches!(
                quantity,
                VariedQuantity::Coefficient
                    | VariedQuantity::BranchCoefficient
                    | VariedQuantity::CrackingPressure
            ),
            Parameter::Liquid(_) | Parameter::Supply(_) => false,
        };
        if !value.is_finite() || value < 0.0 || (value == 0.0 && !zero_allowed) {
            return Err(CannotVary::OutOfRange);
        }
        let links = match parameter {
            Parameter::Liquid(_) => Vec::new(),
            Parameter::Supply(_) if !self.parameters().contains(&parameter) => {
                return Err(CannotVary::NotThere);
            }
            Parameter::Supply(_) => Vec::new(),
            Parameter::Run(..) | Parameter::Part(..) | Parameter::Element(..) | Parameter::SmallTee(..) => {
                self.known().get(&parameter).ok_or(CannotVary::NotThere)?.1.clone()
            }
        };
        let before = self.variation.values.insert(parameter, value);
        let kinds: Vec<_> = links.iter().map(|link| (*link, self.varied_kind(*link, None))).collect();
        if kinds.iter().any(|(_, kind)| kind.is_none_or(|kind| kind.takes_nothing())) {
            match before {
                Some(before) => self.variation.values.insert(parameter, before),
                None => self.variation.values.remove(&parameter),
            };
            return Err(CannotVary::TakesNothing);
        }
        self.take(parameter, &kinds, value);
        Ok(())
    }

    /// The bore at which an element passes so many times the flow it has in the last solve, at the pressure that it takes
    /// there, m; nothing where nothing flows in it, it has no bore to vary, or no bore up to four times as wide does.
    pub fn bore_for(&mut self, element: ElementId, times: f64, point: &OperatingPoint) -> Option<f64> {
        let parameter = Parameter::Element(element, VariedQuantity::Bore);
        let now = self.value(parameter, point)?;
        let link = *self.known().get(&parameter)?.1.first()?;
        let solver = self.kept.solver.as_ref()?;
        let flow = solver.solution().link_flow_m3s[link.index()];
        let network = &self.assembly.network;
        let takes = |bore: f64, flow: f64| {
            let kind = self.varied_kind(link, Some((parameter, bore)))?;
            Some(kind.law(&network.fluid, network.friction_law).loss(flow).pressure_pa)
        };
        let wanted = takes(now, flow).filter(|_| flow > 0.0)?;
        let (mut low, mut high) = (now, 4.0 * now);
        if takes(high, flow * times)? > wanted {
            return None;
        }
        // What is taken falls with the bore: the width halves each time, down to the last digits.
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if takes(middle, flow * times)? > wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(high)
    }

    /// Blocks the outlet of a row, for the solves to come. A controller does not know: the row stays in its total.
    pub fn block(&mut self, row: RowId) -> Result<(), CannotVary> {
        let place = self.project.bar.rows.iter().position(|one| one.id == row);
        let links = place.and_then(|place| self.assembly.rows.get(place)).map(|one| &one.last_links);
        let links = links.filter(|links| !links.is_empty()).ok_or(CannotVary::NotThere)?;
        for link in links {
            self.assembly.network.graph[*link].closed = true;
        }
        Ok(())
    }

    /// Goes back to the plan's numbers, with no row blocked.
    pub fn reset(&mut self) {
        for link in self.assembly.rows.iter().flat_map(|row| &row.last_links) {
            self.assembly.network.graph[*link].closed = false;
        }
        for parameter in std::mem::take(&mut self.variation.values).into_keys() {
            let Some((planned, links)) = self.known().get(&parameter).cloned() else { continue };
            let kinds: Vec<_> = links.iter().map(|link| (*link, self.varied_kind(*link, None))).collect();
            self.take(parameter, &kinds, planned);
        }
    }

    fn take(&mut self, parameter: Parameter, kinds: &[(EdgeIndex, Option<LinkKind>)], value: f64) {
        for (link, kind) in kinds {
            if let Some(kind) = kind {
                self.assembly.network.graph[*link].kind = *kind;
            }
            // What an outcome says of lengths.
            let length = Some(Length::from_si(value));
            match (parameter, self.assembly.sources[link.index()]) {
                (Parameter::Run(_, VariedQuantity::Length), LinkSource::Run(place)) => {
                    self.assembly.runs[place].0 = length;
                }
                (Parameter::Element(_, VariedQuantity::Length), LinkSource::Element(place)) => {
                    self.assembly.elements[place].length = length;
                }
                _ => {}
            }
        }
    }

    pub(super) fn known(&mut self) -> &BTreeMap<Parameter, (f64, Vec<EdgeIndex>)> {
        let known = self.variation.known.take().unwrap_or_else(|| {
            let mut known: BTreeMap<Parameter, (f64, Vec<EdgeIndex>)> = BTreeMap::new();
            for link in self.assembly.network.graph.edge_indices() {
                self.kind(link, &mut |parameter, planned| {
                    known.entry(parameter).or_insert_with(|| (planned, Vec::new())).1.push(link);
                    planned
                });
            }
            known
        });
        self.variation.known.insert(known)
    }

    /// What a link is with the varied numbers, and one of them as given.
    fn varied_kind(&self, link: EdgeIndex, given: Option<(Parameter, f64)>) -> Option<LinkKind> {
        let known = self.variation.known.as_ref();
        self.kind(link, &mut |parameter, planned| match given {
            Some((this, value)) if this == parameter => value,
            _ => {
                // Lengths are kept as varied, for outcomes; what else the plan says follows the other numbers.
                let planned = match parameter {
                    Parameter::Run(_, VariedQuantity::Length)
                    | Parameter::Element(_, VariedQuantity::Length) => {
                        known.and_then(|known| known.get(&parameter)).map_or(planned, |one| one.0)
                    }
                    _ => planned,
                };
                self.variation.values.get(&parameter).copied().unwrap_or(planned)
            }
        })
    }

    /// What a link is, each of its numbers as `vary` makes it of the plan's.
    fn kind(&self, link: EdgeIndex, vary: &mut dyn FnMut(Parameter, f64) -> f64) -> Option<LinkKind> {
        let maker = LinkMaker::of(self.project, self.routing, &self.assembly, link)?;
        maker.kind(&mut |quantity, planned| vary(maker.parameter(quantity), planned))
    }

    /// The link that a number belongs to, as it is now; the first of several.
    pub fn link_of(&mut self, parameter: Parameter) -> Option<LinkKind> {
        let link = *self.known().get(&parameter)?.1.first()?;
        Some(self.assembly.network.graph[link].kind)
    }

    /// Solves it at an operating point and gives the derivatives of all rows and pressures by these numbers, in their
    /// order; numbers that are not there are left out. Where there is no solution, the outcome that says why.
    pub fn derivatives(
        &mut self,
        point: &OperatingPoint,
        parameters: &[Parameter],
    ) -> Result<Vec<Derivatives>, Box<Outcome>> {
        let (_, mut linearised) = self.linearised(point)?;
        Ok(parameters
            .iter()
            .filter_map(|parameter| {
                let value = self.value(*parameter, point)?;
                self.by(*parameter, value, point, &mut linearised)
            })
            .collect())
    }

    /// Solves it at an operating point and takes the linear equations there. Where there is no solution, the outcome that says
    /// why.
    pub(super) fn linearised(
        &mut self,
        point: &OperatingPoint,
    ) -> Result<(Outcome, Linearised), Box<Outcome>> {
        self.known();
        let outcome = self.solve(point);
        match self.kept.solver.as_ref().filter(|_| outcome.result.is_ok()) {
            Some(solver) => {
                let linearised = solver.linearised();
                Ok((outcome, linearised))
            }
            None => Err(Box::new(outcome)),
        }
    }

    fn by(
        &mut self,
        parameter: Parameter,
        value: f64,
        point: &OperatingPoint,
        linearised: &mut Linearised,
    ) -> Option<Derivatives> {
        let change = self.change(parameter, value, point)?;
        let response = linearised.response(&change);
        let (project, routing) = (self.project, self.routing.routing);
        let solved = self.solved()?;
        let rows = project.bar.rows.iter().zip(&self.assembly.rows).map(|(row, connection)| {
            let links = || connection.last_links.iter().map(|link| response.link_flow[link.index()]);
            let falling = links().map(|one| one.falling()).sum();
            let rising = links().map(|one| one.rising()).sum();
            let kink = links().any(|one| matches!(one, Derivative::Kink { .. }));
            (row.id, if kink { Derivative::Kink { falling, rising } } else { Derivative::Smooth(rising) })
        });
        let parts = routing.parts.iter().enumerate().filter_map(|(place, part)| {
            let port = solved.pressure_port(place)?;
            let of_node = response.node_pressure[port.node.index()]?;
            Some((part.id, of_node.plus(change.weight * port.below_node_m)))
        });
        Some(Derivatives {
            parameter,
            rows: rows.collect(),
            parts: parts.collect(),
            pump: response.node_pressure[self.assembly.supply.index()],
        })
    }

    /// How the network's equations change with a number.
    pub(super) fn change(
        &mut self,
        parameter: Parameter,
        value: f64,
        point: &OperatingPoint,
    ) -> Option<EquationChange> {
        let step = STEP * if value == 0.0 { 1.0 } else { value };
        let solver = self.kept.solver.as_ref()?;
        let network = &self.assembly.network;
        let flow = |link: EdgeIndex| solver.solution().link_flow_m3s[link.index()];
        let loss = |kind: &LinkKind, fluid: &Fluid, link: EdgeIndex| {
            kind.law(fluid, network.friction_law).loss(flow(link)).pressure_pa
        };
        let mut change = EquationChange::default();
        match parameter {
            Parameter::Liquid(quantity) => {
                let with = |value: f64| match quantity {
                    LiquidQuantity::Density => Fluid { density_kg_m3: value, ..network.fluid },
                    LiquidQuantity::Viscosity => Fluid { viscosity_pa_s: value, ..network.fluid },
                };
                let all = network.graph.edge_indices();
                let by = |link: EdgeIndex| {
                    difference(value, step, |value| loss(&network.graph[link].kind, &with(value), link))
                };
                change.losses = all.map(|link| (link, by(link))).collect();
                if quantity == LiquidQuantity::Density {
                    change.weight = network.gravity_m_s2;
                }
            }
            Parameter::Supply(_) => {
                let liquid = self.liquid_at(point)?;
                let before = self.variation.values.get(&parameter).copied();
                let mut law = |value: f64| {
                    self.variation.values.insert(parameter, value);
                    let supply = self.variation.supply(&self.project.supply);
                    let metered = self.variation.metered_flow();
                    self.assembly.set_point(self.project, point, &liquid, &supply, metered);
                    self.assembly.network.graph[self.assembly.supply].boundary.clone()
                };
                let (low, high) = (law(value - step), law(value + step));
                match before {
                    Some(before) => self.variation.values.insert(parameter, before),
                    None => self.variation.values.remove(&parameter),
                };
                let (supply, metered) =
                    (self.variation.supply(&self.project.supply), self.variation.metered_flow());
                self.assembly.set_point(self.project, point, &liquid, &supply, metered);
                let node = self.assembly.supply;
                match (low, high) {
                    (Boundary::Supply(low), Boundary::Supply(high)) => {
                        change.supply = Some((low, high, 2.0 * step));
                    }
                    (Boundary::Pressure(low), Boundary::Pressure(high)) => {
                        change.held = Some((node, (high - low) / (2.0 * step)));
                    }
                    _ => return None,
                }
            }
            Parameter::Run(..) | Parameter::Part(..) | Parameter::Element(..) | Parameter::SmallTee(..) => {
                let links = &self.variation.known.as_ref()?.get(&parameter)?.1;
                for link in links {
                    let by = difference(value, step, |value| {
                        let kind = self.varied_kind(*link, Some((parameter, value)));
                        kind.map_or(f64::NAN, |kind| loss(&kind, &network.fluid, *link))
                    });
                    change.losses.push((*link, by));
                }
            }
        }
        Some(change)
    }
}

/// Derivative by differences of the fourth order.
fn difference(at: f64, step: f64, of: impl Fn(f64) -> f64) -> f64 {
    let pair = |step: f64| of(at + step) - of(at - step);
    (8.0 * pair(step) - pair(2.0 * step)) / (12.0 * step)
}
