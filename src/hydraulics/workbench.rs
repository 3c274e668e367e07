//! Solves a routing: from the plan to an outcome, with everything kept that the next solve can use again.
//!
//! [`solve`] is one answer for one operating point. A [`Workbench`] keeps the solver from one change to the next (its
//! set-up stays while the topology does), a [`Prepared`] routing keeps the network from one operating point to the
//! next. Every solve starts from a cold guess, so that the same plan gives the same bits, whatever was solved before.

use super::assembly::{Assembly, asked_of};
use super::connectivity::{ConnectionProblem, connection_problems};
use super::network::Boundary;
use super::outcome::{Outcome, Status};
use super::readback::{Solved, supplied, without_numbers};
use super::solver::{Failure, Solution, Solver};
use crate::plan::{
    Control, End, Item, LaidRouting, OperatingPoint, PartId, Project, Routing, RoutingGeometry,
};
use crate::quantities::Flow;

/// Solves a routing at an operating point. Always an answer: what is not connected is named, what can't be solved
/// has no number.
pub fn solve(project: &Project, routing: &Routing, point: &OperatingPoint) -> Outcome {
    let geometry = RoutingGeometry::working(project, routing);
    Workbench::default().prepare(project, LaidRouting { routing, geometry: &geometry }).solve(point)
}

/// A routing's network, named, with the supply's boundary as the solve found it.
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
    let mut bench = Workbench::default();
    let mut prepared = bench.prepare(project, laid);
    prepared.assembly = Assembly::with_names(project, laid);
    let outcome = prepared.solve(point);
    match prepared.bench.solver.as_ref().filter(|_| outcome.status.has_numbers()) {
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
pub struct Workbench {
    solver: Option<Solver>,
}

/// A routing whose network is made, ready to be solved at one operating point after the other.
pub struct Prepared<'a> {
    bench: &'a mut Workbench,
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    assembly: Assembly,
    items: Vec<Option<&'a Item>>,
    problems: Vec<ConnectionProblem>,
}

impl Workbench {
    /// Makes a routing's network.
    pub fn prepare<'a>(&'a mut self, project: &'a Project, routing: LaidRouting<'a>) -> Prepared<'a> {
        let assembly = Assembly::new(project, routing);
        let items: Vec<_> = routing.parts.iter().map(|part| project.catalogue.item(&part.entry)).collect();
        let mut problems = connection_problems(project, &routing);
        let shut = routing.parts.iter().any(|part| part.shut);
        for (place, part) in routing.parts.iter().enumerate() {
            let Some(item) = items[place] else { continue };
            let has_body = !matches!(item, Item::Gauge { .. } | Item::BlankingPlug { .. });
            if has_body && !assembly.reaches(place, item) && (!shut || !connected_at_all(&routing, part.id)) {
                problems.push(ConnectionProblem::NotSupplied(part.id));
            }
        }
        Prepared { bench: self, project, routing, assembly, items, problems }
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

impl Prepared<'_> {
    /// Solves it at an operating point; see [`solve`].
    pub fn solve(&mut self, point: &OperatingPoint) -> Outcome {
        let (project, routing) = (self.project, self.routing);
        let liquid = project.liquid.at(point.temperature);
        let Some(state) = &liquid else {
            let why = "the liquid has no properties".to_owned();
            return self.no_numbers(point, Status::Failed { blame: String::new(), why });
        };
        self.assembly.set_point(project, point, state);
        if !self.assembly.feeds_any_row(&project.bar) {
            return self.no_numbers(point, Status::NothingFed);
        }
        if matches!(project.supply.control, Control::Metered { .. }) && self.assembly.target_total.si() <= 0.0
        {
            let why = "nothing is asked of any row: rate or speed is zero".to_owned();
            return self.no_numbers(point, Status::Failed { blame: String::new(), why });
        }
        if let Err(failure) = self.bench.run(&self.assembly) {
            return self.failed(point, failure);
        }
        let mut status = Status::Solved;
        let target = self.assembly.target_total;
        let most = asked_of(&project.supply, target);
        if most < target && matches!(project.supply.control, Control::Metered { .. }) {
            status = Status::AtLimit { shortfall: target - most };
        }
        if let (Control::Held { .. }, Some(capacity), Some(solver)) =
            (project.supply.control, project.supply.pump_capacity, &self.bench.solver)
        {
            let total = supplied(&self.assembly, solver.solution());
            if total > capacity {
                // More than the pump delivers can't be held: the pressure falls until the flow fits.
                self.assembly.network.graph[self.assembly.supply].boundary = Boundary::Inflow(capacity.si());
                if let Err(failure) = self.bench.run(&self.assembly) {
                    return self.failed(point, failure);
                }
                status = Status::AtLimit { shortfall: total - capacity };
            }
        }
        if let Control::Metered { limit } = project.supply.control {
            let supply = self.assembly.supply.index();
            let pump =
                self.bench.solver.as_ref().and_then(|solver| solver.solution().node_pressure_pa[supply]);
            if pump.is_none_or(|pressure| pressure > limit.si()) {
                self.assembly.network.graph[self.assembly.supply].boundary = Boundary::Pressure(limit.si());
                match self.bench.run(&self.assembly) {
                    Err(failure) => return self.failed(point, failure),
                    Ok(solver) => {
                        let total = supplied(&self.assembly, solver.solution());
                        let shortfall = (self.assembly.target_total - total).max(Flow::ZERO);
                        status = Status::AtLimit { shortfall };
                    }
                }
            }
        }
        let Some(solver) = &self.bench.solver else { return self.no_numbers(point, status) };
        let solved = Solved {
            project,
            routing: routing.routing,
            assembly: &self.assembly,
            solver,
            items: &self.items,
        };
        solved.outcome(point, liquid, status, self.problems.clone())
    }

    fn no_numbers(&self, point: &OperatingPoint, status: Status) -> Outcome {
        let liquid = self.project.liquid.at(point.temperature);
        let problems = self.problems.clone();
        without_numbers(self.project, &self.routing, point, liquid, status, &self.assembly, problems)
    }

    /// A failure names links; the network has no names until something goes wrong.
    fn failed(&mut self, point: &OperatingPoint, failure: Failure) -> Outcome {
        self.bench.solver = None;
        let mut named = Assembly::with_names(self.project, self.routing);
        named.network.fluid = self.assembly.network.fluid;
        let from = self.assembly.network.graph.node_weights();
        for (to, from) in named.network.graph.node_weights_mut().zip(from) {
            (to.elevation_m, to.boundary) = (from.elevation_m, from.boundary);
        }
        let failure = super::solver::solve(&named.network).err().unwrap_or(failure);
        let blame = match &failure {
            Failure::NotSettled { link: Some(link), .. } => named.network.graph[*link].name.clone(),
            Failure::NotSettled { link: None, .. } | Failure::Rejected(_) => String::new(),
        };
        self.no_numbers(point, Status::Failed { blame, why: failure.to_string() })
    }
}

fn connected_at_all(routing: &Routing, part: PartId) -> bool {
    let on = |end: &End| end.port().is_some_and(|port| port.part == part);
    routing.runs.iter().any(|run| on(&run.from) || on(&run.to))
        || routing.parts.iter().any(|one| {
            (one.id == part && one.mount.is_some()) || one.mount.is_some_and(|mount| mount.part == part)
        })
}
