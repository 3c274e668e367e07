//! The flows of a routing's rows, over and over with many numbers changed at once: what a study of many built bars asks.
//!
//! A [`RowSolver`] is taken from a [`PreparedRouting`] at an operating point. It keeps what makes each link that changes, and
//! starts each solve from the solution of the plan: the same numbers give the same bits, whatever was solved before, so
//! that copies of it on several threads agree. Nothing is read back but the rows.

use petgraph::graph::EdgeIndex;

use super::link_maker::LinkMaker;
use super::network::{Fluid, Network};
use super::outcome::Outcome;
use super::prepared::PreparedRouting;
use super::resistance::VariedQuantity;
use super::solver::{Failure, Solver};
use super::variation::Parameter;
use crate::plan::OperatingPoint;
use crate::quantities::Flow;

/// Solves a routing for its rows' flows with other numbers of links and liquid.
#[derive(Debug, Clone)]
pub struct RowSolver<'a> {
    network: Network,
    planned: Fluid,
    solver: Solver,
    start: Solver,
    varied: Vec<VariedLink<'a>>,
    /// The last links of each row, in the bar's order; none of a row that nothing is connected to.
    rows: Vec<Vec<EdgeIndex>>,
}

/// A link that changes: which of its numbers are given, by their places in the list of values, and which were set.
#[derive(Debug, Clone)]
struct VariedLink<'a> {
    link: EdgeIndex,
    maker: LinkMaker<'a>,
    given: Vec<(VariedQuantity, usize)>,
    set: Vec<(VariedQuantity, f64)>,
}

impl<'a> PreparedRouting<'a> {
    /// Makes ready for many solves at an operating point in which these numbers of links are given; those of liquid and
    /// supply are not among them. Where there is no solution, the outcome that says why.
    pub fn row_solver(
        &mut self,
        point: &OperatingPoint,
        given: &[Parameter],
    ) -> Result<(Outcome, RowSolver<'a>), Box<Outcome>> {
        let outcome = self.solve(point);
        let Some(solver) = self.kept.solver.as_ref().filter(|_| outcome.result.is_ok()) else {
            return Err(Box::new(outcome));
        };
        let start = solver.clone();
        let mut varied = Vec::new();
        for link in self.assembly.network.graph.edge_indices() {
            let Some(maker) = LinkMaker::of(self.project, self.routing, &self.assembly, link) else {
                continue;
            };
            let mut one = VariedLink { link, maker, given: Vec::new(), set: Vec::new() };
            let mut quantities = Vec::new();
            one.maker.kind(&mut |quantity, planned| {
                quantities.push(quantity);
                planned
            });
            for quantity in quantities {
                let parameter = one.maker.parameter(quantity);
                if let Some(place) = given.iter().position(|one| *one == parameter) {
                    one.given.push((quantity, place));
                } else if let Some(value) = self.variation.values.get(&parameter) {
                    one.set.push((quantity, *value));
                }
            }
            if !one.given.is_empty() {
                varied.push(one);
            }
        }
        let solver = RowSolver {
            network: self.assembly.network.clone(),
            planned: self.assembly.network.fluid,
            solver: start.clone(),
            start,
            varied,
            rows: self.assembly.rows.iter().map(|row| row.last_links.clone()).collect(),
        };
        Ok((outcome, solver))
    }
}

impl RowSolver<'_> {
    /// The liquid of the plan at the point.
    pub const fn planned_liquid(&self) -> Fluid {
        self.planned
    }

    /// Solves with a liquid and these values of the given numbers, in SI units and in their order; `flows` are then those
    /// of all rows in the bar's order.
    pub fn solve(&mut self, liquid: Fluid, values: &[f64], flows: &mut Vec<Flow>) -> Result<(), Failure> {
        self.network.fluid = liquid;
        for one in &self.varied {
            let kind = one.maker.kind(&mut |quantity, planned| {
                if let Some((_, place)) = one.given.iter().find(|given| given.0 == quantity) {
                    return values.get(*place).copied().unwrap_or(planned);
                }
                one.set.iter().find(|set| set.0 == quantity).map_or(planned, |set| set.1)
            });
            if let Some(kind) = kind {
                self.network.graph[one.link].kind = kind;
            }
        }
        self.solver.start_from(&self.start);
        let solution = self.solver.solve_in_order(&self.network)?;
        flows.clear();
        flows.extend(self.rows.iter().map(|links| {
            links.iter().map(|link| Flow::from_si(solution.link_flow_m3s[link.index()])).sum::<Flow>()
        }));
        Ok(())
    }
}
