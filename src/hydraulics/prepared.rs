//! Solves a routing: from the plan to an outcome, with everything kept that the next solve can use again.
//!
//! [`solve`] is one answer for one operating point. A [`KeptSolver`] keeps the solver from one change to the next (its
//! set-up stays while the topology does), a [`PreparedRouting`] keeps the network from one operating point to the
//! next, and can be [varied](super::variation) number by number. Every solve starts from a cold guess, so that the same plan
//! gives the same bits, whatever was solved before.

use super::assembly::Assembly;
use super::connectivity::{ConnectionProblem, connection_problems};
use super::outcome::{Limit, Outcome, Status};
use super::readback::{Solved, supplied, without_numbers};
use super::solver::{Failure, Solution, Solver};
use super::supply_law::Regime;
use super::variation::Variation;
use crate::plan::{
    Control, End, LaidRouting, LiquidState, OperatingPoint, PartId, PartItem, Project, Routing,
    RoutingGeometry, Supply,
};
use crate::quantities::Flow;

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
    /// Solved as asked, or at the pump's limit.
    pub status: Status,
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
    match prepared.kept.solver.as_ref().filter(|_| outcome.status.has_numbers()) {
        Some(solver) => Ok(SolvedNetwork {
            solution: solver.solution().clone(),
            assembly: prepared.assembly,
            status: outcome.status,
        }),
        None => Err(Box::new(outcome)),
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
        let (project, routing) = (self.project, self.routing);
        // The outcome names the duty it is of.
        let point = &OperatingPoint { duty: project.duty(point.duty).id, ..*point };
        let liquid = self.liquid_at(point);
        let Some(state) = &liquid else {
            let why = "the liquid has no properties".to_owned();
            return self.no_numbers(point, Status::Failed { blame: String::new(), why });
        };
        let (supply, metered) = (self.variation.supply(&project.supply), self.variation.metered_flow());
        self.assembly.set_point(project, point, state, &supply, metered);
        if !self.assembly.feeds_any_row(&project.bar) {
            return self.no_numbers(point, Status::NothingFed);
        }
        let meters = matches!(supply.control, Control::Metered { .. });
        if meters && metered.unwrap_or(self.assembly.target_total).si() <= 0.0 {
            let why = "nothing is asked of any row: rate or speed is zero".to_owned();
            return self.no_numbers(point, Status::Failed { blame: String::new(), why });
        }
        if let Err(failure) = self.kept.run(&self.assembly) {
            return self.failed(point, failure);
        }
        let Some(solver) = &self.kept.solver else { return self.no_numbers(point, Status::NothingFed) };
        let asked = metered.unwrap_or(self.assembly.target_total);
        let status = supply_status(&supply, asked, &self.assembly, solver.solution());
        let solved = Solved {
            project,
            routing: routing.routing,
            assembly: &self.assembly,
            solver,
            items: &self.items,
        };
        solved.outcome(point, liquid, status, self.problems.clone())
    }

    pub(super) fn liquid_at(&self, point: &OperatingPoint) -> Option<LiquidState> {
        self.project.duty(point.duty).liquid.at(point.temperature).map(|liquid| self.variation.liquid(liquid))
    }

    fn no_numbers(&self, point: &OperatingPoint, status: Status) -> Outcome {
        let liquid = self.liquid_at(point);
        let problems = self.problems.clone();
        without_numbers(self.project, &self.routing, point, liquid, status, &self.assembly, problems)
    }

    /// A failure names links; the network has no names until something goes wrong.
    fn failed(&mut self, point: &OperatingPoint, failure: Failure) -> Outcome {
        self.kept.solver = None;
        let mut named = Assembly::with_names(self.project, self.routing);
        named.network.fluid = self.assembly.network.fluid;
        let from = self.assembly.network.graph.node_weights();
        for (to, from) in named.network.graph.node_weights_mut().zip(from) {
            (to.elevation_m, to.boundary) = (from.elevation_m, from.boundary.clone());
        }
        let failure = super::solver::solve(&named.network).err().unwrap_or(failure);
        let blame = match &failure {
            Failure::NotSettled { link: Some(link), .. } => named.network.graph[*link].name.clone(),
            Failure::NotSettled { link: None, .. } | Failure::Rejected(_) => String::new(),
        };
        self.no_numbers(point, Status::Failed { blame, why: failure.to_string() })
    }
}

/// Whether the supply holds what is asked of it, or what keeps it from that.
fn supply_status(supply: &Supply, target: Flow, assembly: &Assembly, solution: &Solution) -> Status {
    let Some(at) = solution.supply else { return Status::Solved };
    let by = match at.regime {
        Regime::Pressure => Limit::Pressure,
        Regime::Curve => Limit::PumpCurve,
        Regime::Flow => Limit::Capacity,
    };
    let missing = |asked: Flow, has: Flow| Status::AtLimit { shortfall: (asked - has).max(Flow::ZERO), by };
    match (supply.control, at.regime) {
        (Control::Metered { .. }, Regime::Flow) => {
            let most = supply.most_flow().map_or(target, |most| target.min(most));
            if most < target { missing(target, most) } else { Status::Solved }
        }
        (Control::Metered { .. }, Regime::Pressure | Regime::Curve) => {
            missing(target, supplied(assembly, solution))
        }
        (Control::Held { .. }, Regime::Pressure)
        | (Control::Uncontrolled, Regime::Pressure | Regime::Curve) => Status::Solved,
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
