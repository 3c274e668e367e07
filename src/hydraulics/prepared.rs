//! Solves a routing: from the plan to an outcome, with everything kept that the next solve can use again.
//!
//! [`solve`] is one answer for one operating point. A [`KeptSolver`] keeps the solver from one change to the next (its
//! set-up stays while the topology does), a [`PreparedRouting`] keeps the network from one operating point to the
//! next, and can be [varied](super::variation) number by number. Every solve starts from a cold guess, so that the same plan
//! gives the same bits, whatever was solved before.

use super::assembly::{Assembly, LinkSource};
use super::connectivity::{ConnectionProblem, connection_problems};
use super::network::NetworkPlace;
use super::outcome::{Blame, NoNumbers, Outcome, RowConnection, SupplyLimit, SupplyState};
use super::readback::{self, Solved, supplied};
use super::solver::{Failure, Solution, Solver};
use super::supply_law::Regime;
use super::variation::Variation;
use crate::plan::{
    Control, End, LaidRouting, LiquidState, OperatingPoint, PartId, PartItem, Project, Routing,
    RoutingGeometry, Supply,
};
use crate::quantities::Flow;
use petgraph::graph::EdgeIndex;

/// Solves a routing at an operating point. Always an answer: what is not connected is named, what can't be solved
/// has no number.
pub fn solve(project: &Project, routing: &Routing, point: &OperatingPoint) -> Outcome {
    let geometry = RoutingGeometry::working(project, routing);
    KeptSolver::default().prepare(project, LaidRouting { routing, geometry: &geometry }).solve(point)
}

/// A routing's network, named.
#[derive(Debug, Clone)]
pub struct SolvedNetwork {
    /// The network and what it stands for.
    pub assembly: Assembly,
    /// Its solution.
    pub solution: Solution,
    /// Whether the supply gives what is asked.
    pub supply: SupplyState,
}

/// Solves a routing and gives the network itself; where there are no numbers, the outcome that says why.
pub fn solved_network(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
) -> Result<SolvedNetwork, Box<Outcome>> {
    let geometry = RoutingGeometry::working(project, routing);
    let laid = LaidRouting { routing, geometry: &geometry };
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(project, laid);
    prepared.assembly = Assembly::with_names(project, laid);
    let outcome = prepared.solve(point);
    match (&prepared.kept.solver, outcome.numbers().map(|numbers| numbers.supply)) {
        (Some(solver), Some(supply)) => {
            Ok(SolvedNetwork { solution: solver.solution().clone(), assembly: prepared.assembly, supply })
        }
        _ => Err(Box::new(outcome)),
    }
}

/// A solver that is kept from solve to solve.
#[derive(Debug, Default)]
pub struct KeptSolver {
    pub(super) solver: Option<Solver>,
}

/// A routing whose network is made, ready to be solved at one operating point after the other.
pub struct PreparedRouting<'a> {
    pub(super) kept: &'a mut KeptSolver,
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    pub(super) assembly: Assembly,
    pub(super) variation: Variation,
    pub(super) items: Vec<Option<&'a PartItem>>,
    problems: Vec<ConnectionProblem>,
}

impl KeptSolver {
    /// Makes a routing's network.
    pub fn prepare<'a>(&'a mut self, project: &'a Project, routing: LaidRouting<'a>) -> PreparedRouting<'a> {
        let assembly = Assembly::new(project, routing);
        let items: Vec<_> = routing.parts.iter().map(|part| project.catalogue.item(&part.entry)).collect();
        let mut problems = connection_problems(project, &routing);
        let shut = routing.parts.iter().any(|part| part.shut);
        for (place, part) in routing.parts.iter().enumerate() {
            let Some(item) = items[place] else { continue };
            let has_body = !item.is_on_port();
            if has_body && !assembly.reaches(place) && (!shut || !connected_at_all(&routing, part.id)) {
                problems.push(ConnectionProblem::NotSupplied(part.id));
            }
        }
        PreparedRouting {
            kept: self,
            project,
            routing,
            assembly,
            variation: Variation::default(),
            items,
            problems,
        }
    }

    fn run(&mut self, assembly: &Assembly) -> Result<&Solver, Failure> {
        if let Some(solver) = &mut self.solver {
            solver.forget();
        } else {
            self.solver = Some(Solver::new(&assembly.network)?);
        }
        match &mut self.solver {
            Some(solver) => {
                solver.solve(&assembly.network)?;
                Ok(solver)
            }
            None => Err(Failure::NotSettled { link: None, message: "there is no solver".to_owned() }),
        }
    }
}

impl PreparedRouting<'_> {
    /// Solves it at an operating point; see [`solve`].
    pub fn solve(&mut self, point: &OperatingPoint) -> Outcome {
        // The outcome names the duty it is of.
        let point = &OperatingPoint { duty: self.project.duty(point.duty).id, ..*point };
        let liquid = self.liquid_at(point);
        let result = match &liquid {
            Some(state) => self.run(point, state),
            None => Err(failed(None, "the liquid has no properties".to_owned())),
        };
        let connections = self.connections(point);
        let result = result.and_then(|supply| {
            let solved = self.solved().and_then(|solved| solved.numbers(&connections, supply));
            solved.ok_or(NoNumbers::NothingFed)
        });
        Outcome {
            point: *point,
            liquid,
            target_total: if liquid.is_some() { self.assembly.target_total } else { Flow::ZERO },
            connections,
            problems: self.problems.clone(),
            result,
        }
    }

    /// Runs the solver at an operating point.
    fn run(&mut self, point: &OperatingPoint, liquid: &LiquidState) -> Result<SupplyState, NoNumbers> {
        let project = self.project;
        let (supply, metered) = (self.variation.supply(&project.supply), self.variation.metered_flow());
        self.assembly.set_point(project, point, liquid, &supply, metered);
        if !self.assembly.feeds_any_row(&project.bar) {
            return Err(NoNumbers::NothingFed);
        }
        let asked = metered.unwrap_or(self.assembly.target_total);
        if matches!(supply.control, Control::Metered { .. }) && asked.si() <= 0.0 {
            return Err(failed(None, "nothing is asked of any row: rate or speed is zero".to_owned()));
        }
        match self.kept.run(&self.assembly) {
            Ok(solver) => Ok(supply_state(&supply, asked, &self.assembly, solver.solution())),
            Err(failure) => Err(self.failed(failure)),
        }
    }

    /// The last solution and what it stands for.
    pub(super) fn solved(&self) -> Option<Solved<'_>> {
        Some(Solved {
            routing: self.routing.routing,
            assembly: &self.assembly,
            solver: self.kept.solver.as_ref()?,
            items: &self.items,
        })
    }

    fn connections(&self, point: &OperatingPoint) -> Vec<RowConnection> {
        readback::connections(self.project, self.routing.routing, point, &self.assembly)
    }

    pub(super) fn liquid_at(&self, point: &OperatingPoint) -> Option<LiquidState> {
        self.project.duty(point.duty).liquid.at(point.temperature).map(|liquid| self.variation.liquid(liquid))
    }

    /// A failure names links; the network has no names until something goes wrong.
    fn failed(&mut self, failure: Failure) -> NoNumbers {
        self.kept.solver = None;
        let mut named = Assembly::with_names(self.project, self.routing);
        named.network.fluid = self.assembly.network.fluid;
        let from = self.assembly.network.graph.node_weights();
        for (to, from) in named.network.graph.node_weights_mut().zip(from) {
            (to.elevation_m, to.boundary) = (from.elevation_m, from.boundary.clone());
        }
        let failure = super::solver::solve(&named.network).err().unwrap_or(failure);
        let blame = match &failure {
            Failure::NotSettled { link, .. } => link.map(|link| self.blame(link)),
            Failure::Rejected(rejection) => match rejection.place {
                Some(NetworkPlace::Link(link)) => Some(self.blame(link)),
                Some(NetworkPlace::Node(node)) => (node == self.assembly.supply).then_some(Blame::Supply),
                None => None,
            },
        };
        failed(blame, failure.to_string())
    }

    /// What a link stands for.
    fn blame(&self, link: EdgeIndex) -> Blame {
        let routing = self.routing.routing;
        match self.assembly.sources[link.index()] {
            LinkSource::Run(place) => Blame::Run(routing.runs[place].id),
            LinkSource::Part(place, _) => Blame::Part(routing.parts[place].id),
            LinkSource::Element(place) => Blame::Feed(self.assembly.elements[place].feed),
            LinkSource::SmallTee(place) => Blame::Feed(routing.feeds[place].id),
        }
    }
}

fn failed(blame: Option<Blame>, why: String) -> NoNumbers {
    NoNumbers::Failed { blame, why }
}

/// Whether the supply holds what is asked of it, or what keeps it from that.
fn supply_state(supply: &Supply, target: Flow, assembly: &Assembly, solution: &Solution) -> SupplyState {
    let Some(at) = solution.supply else { return SupplyState::AsAsked };
    let by = match at.regime {
        Regime::Pressure => SupplyLimit::Pressure,
        Regime::Curve => SupplyLimit::PumpCurve,
        Regime::Flow => SupplyLimit::Capacity,
    };
    let missing =
        |asked: Flow, has: Flow| SupplyState::AtLimit { shortfall: (asked - has).max(Flow::ZERO), by };
    match (supply.control, at.regime) {
        (Control::Metered { .. }, Regime::Flow) => {
            let most = supply.most_flow().map_or(target, |most| target.min(most));
            if most < target { missing(target, most) } else { SupplyState::AsAsked }
        }
        (Control::Metered { .. }, Regime::Pressure | Regime::Curve) => {
            missing(target, supplied(assembly, solution))
        }
        (Control::Held { .. }, Regime::Pressure)
        | (Control::Uncontrolled, Regime::Pressure | Regime::Curve) => SupplyState::AsAsked,
        (Control::Held { .. }, Regime::Curve | Regime::Flow) => {
            missing(Flow::from_si(at.asked_m3s), Flow::from_si(at.flow_m3s))
        }
        (Control::Uncontrolled, Regime::Flow) => missing(target, Flow::from_si(at.flow_m3s)),
    }
}

fn connected_at_all(routing: &Routing, part: PartId) -> bool {
    let on = |end: &End| end.port().is_some_and(|port| port.part == part);
    routing.runs.iter().any(|run| on(&run.from) || on(&run.to))
        || routing.parts.iter().any(|one| {
            (one.id == part && one.mount.is_some()) || one.mount.is_some_and(|mount| mount.part == part)
        })
}
