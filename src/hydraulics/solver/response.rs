//! How flows and pressures answer to a small change of the network, from the linear equations at a solution.
//!
//! [`Solver::linearised`] takes the slopes of all links at their flows once, and they are eliminated once; each
//! [`Linearised::response`] then puts one more right-hand side through these factors, as exact as the slopes. A valve that stands at its opening point, or a supply at the end of a
//! piece of its law, answers to one side otherwise than to the other: what opens or changes over is then found for each side.

use super::super::network::Boundary;
use super::super::supply_law::{Regime, SupplyLaw};
use super::factors::Factors;
use super::state::Solver;
use super::topology::{ChainWay, NONE};
use petgraph::graph::{EdgeIndex, NodeIndex};

/// A valve or supply is at the point where it changes over within this part of the pressures, or of its flow.
const AT_THE_POINT: f64 = 1e-9;

/// A derivative, or the two of either side where there is a kink.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Derivative {
    /// The same to both sides.
    Smooth(f64),
    /// A valve opens here, or the supply changes over. A line without linear resistance opens infinitely fast: the
    /// number is then merely very large.
    Kink {
        /// As the number falls.
        falling: f64,
        /// As the number rises.
        rising: f64,
    },
}

impl Derivative {
    /// As the number rises.
    pub const fn rising(&self) -> f64 {
        match *self {
            Self::Smooth(both) => both,
            Self::Kink { rising, .. } => rising,
        }
    }

    /// As the number falls.
    pub const fn falling(&self) -> f64 {
        match *self {
            Self::Smooth(both) => both,
            Self::Kink { falling, .. } => falling,
        }
    }

    fn of(falling: f64, rising: f64, kink: bool) -> Self {
        // One that nothing reaches is smooth even beside a kink.
        if kink && (rising - falling).abs() > 1e-9 * rising.abs().max(falling.abs()) {
            Self::Kink { falling, rising }
        } else {
            Self::Smooth(rising)
        }
    }

    /// The derivative of a sum of this and something smooth.
    #[must_use]
    pub(crate) fn plus(self, more: f64) -> Self {
        match self {
            Self::Smooth(both) => Self::Smooth(both + more),
            Self::Kink { falling, rising } => Self::Kink { falling: falling + more, rising: rising + more },
        }
    }
}

/// How the equations of a network change with one number.
#[derive(Debug, Clone, Default)]
pub struct EquationChange {
    /// Derivative of the loss of links by the number, each at its present flow and from its start to its end, Pa each.
    pub losses: Vec<(EdgeIndex, f64)>,
    /// Derivative of density times gravity, Pa/m each.
    pub weight: f64,
    /// A node of held pressure, and the derivative of that, Pa each.
    pub held: Option<(NodeIndex, f64)>,
    /// The supply's law with the number a little lower and higher, and how far these are apart.
    pub supply: Option<(SupplyLaw, SupplyLaw, f64)>,
}

impl EquationChange {
    /// Derivative of something about the supply's law.
    fn law(&self, of: impl Fn(&SupplyLaw) -> f64) -> f64 {
        let by = self.supply.as_ref().map_or(0.0, |(low, high, apart)| (of(high) - of(low)) / apart);
        if by.is_finite() { by } else { 0.0 }
    }
}

/// The derivatives by one number, by the indices of links and nodes.
#[derive(Debug, Clone)]
pub struct Response {
    /// Of flows, m³/s each.
    pub link_flow: Vec<Derivative>,
    /// Of gauge pressures, Pa each; none where there is no pressure.
    pub node_pressure: Vec<Option<Derivative>>,
}

/// A network linearised at its solution.
#[derive(Debug, Clone)]
pub struct Linearised {
    solver: Solver,
    link_slope: Vec<f64>,
    chain_slope: Vec<f64>,
    conducts: Vec<bool>,
    /// Chains whose valves stand at their opening point.
    critical: Vec<usize>,
    /// Links that their chain passes from end to start.
    reversed: Vec<bool>,
    /// What was eliminated so far: once as a rule, for each side of a kink by itself.
    factors: Vec<Factors>,
}

/// Heads by slot and flows by chain.
struct LinearSolution {
    head: Vec<f64>,
    flow: Vec<f64>,
    conducts: Vec<bool>,
}

impl Solver {
    /// The linear equations at the last solution, which must be one.
    pub fn linearised(&self) -> Linearised {
        let loops = self.topology.loops.start as usize;
        let mut link_slope = vec![0.0; self.given.links.len()];
        let mut chain_slope = vec![0.0; self.chains.len()];
        let (mut conducts, mut critical) = (vec![false; self.chains.len()], Vec::new());
        let mut reversed = vec![false; self.given.links.len()];
        for element in &self.topology.elements {
            reversed[element.link as usize] |= element.reversed;
        }
        for (index, chain) in self.chains[..loops].iter().enumerate() {
            conducts[index] = chain.way == ChainWay::Both || (chain.open && chain.flow != 0.0);
            let shape = &self.topology.chains[index].elements;
            for element in &self.topology.elements[shape.start as usize..shape.end as usize] {
                let link = EdgeIndex::new(element.link as usize);
                let slope = self.loss(link, if element.reversed { -chain.flow } else { chain.flow });
                link_slope[element.link as usize] = slope.slope_pa_s_m3;
                chain_slope[index] += slope.slope_pa_s_m3;
            }
            chain_slope[index] = chain_slope[index].max(self.floor);
            let size =
                self.head[chain.from as usize].abs() + self.head[chain.to as usize].abs() + chain.crack;
            let over = chain.sign() * chain.difference(&self.head) - chain.crack;
            if !conducts[index] && chain.sign() != 0.0 && over.abs() <= AT_THE_POINT * size {
                critical.push(index);
            }
        }
        let solver = self.clone();
        Linearised { solver, link_slope, chain_slope, conducts, critical, reversed, factors: Vec::new() }
    }
}

impl Linearised {
    /// The derivatives of all flows and pressures by the number that makes this change.
    pub fn response(&mut self, change: &EquationChange) -> Response {
        let kink = self.has_kink();
        let rising = self.one_way(change, 1.0);
        let rising = self.spread_answer(change, &rising);
        let falling = if kink {
            let falling = self.one_way(change, -1.0);
            self.spread_answer(change, &falling)
        } else {
            rising.clone()
        };
        let solution = &self.solver.solution;
        let link_flow = falling.0.iter().zip(&rising.0).map(|(a, b)| Derivative::of(*a, *b, kink)).collect();
        let node_pressure = (0..solution.node_pressure_pa.len())
            .map(|node| {
                solution.node_pressure_pa[node]?;
                Some(Derivative::of(falling.1[node], rising.1[node], kink))
            })
            .collect();
        Response { link_flow, node_pressure }
    }

    /// Derivatives of the flows of some links alone, m³/s each, which is most of what a study asks for: the mean of both
    /// sides where there is a kink.
    pub fn link_flows(&mut self, change: &EquationChange, links: &[EdgeIndex]) -> Vec<f64> {
        let rising = self.one_way(change, 1.0).flow;
        let falling = self.has_kink().then(|| self.one_way(change, -1.0).flow);
        let of = |link: &EdgeIndex| {
            let chain = self.solver.chain_of_link[link.index()];
            let flow = |flows: &[f64]| flows.get(chain as usize).copied().unwrap_or(0.0);
            let both =
                falling.as_ref().map_or(flow(&rising), |falling| f64::midpoint(flow(&rising), flow(falling)));
            if self.reversed[link.index()] { -both } else { both }
        };
        links.iter().map(of).collect()
    }

    /// Something changes over at the solution.
    fn has_kink(&self) -> bool {
        !self.critical.is_empty() || self.supply_neighbour().is_some()
    }

    /// The piece of the supply's law that begins where the supply stands, if it stands at an end.
    fn supply_neighbour(&self) -> Option<usize> {
        let supply = self.solver.supply.as_ref()?;
        let law = self.solver.supply_law(supply)?;
        let (piece, index) = (supply.piece, supply.index);
        let near = |a: f64, b: f64| (a - b).abs() <= AT_THE_POINT * b.abs();
        if supply.holds_flow() {
            let pressure = self.solver.head[supply.slot] - self.solver.supply_lift(supply);
            return (index > 0 && near(pressure, piece.pressure_pa)).then(|| index - 1);
        }
        let flow = self.solver.solution.supply.map_or(0.0, |at| at.flow_m3s);
        if index < law.last() && near(flow, piece.to_m3s) {
            Some(index + 1)
        } else {
            (index > 0 && near(flow, piece.from_m3s)).then(|| index - 1)
        }
    }

    /// Flows by link and pressures by node, as the number rises (1) or falls (-1), for each unit that it rises.
    fn one_way(&mut self, change: &EquationChange, side: f64) -> LinearSolution {
        let mut conducts = self.conducts.clone();
        let mut piece = self.solver.supply.as_ref().map_or(0, |supply| supply.index);
        let mut answer = self.sweep(change, &conducts, piece);
        for _ in 0..2 * self.critical.len() + 2 {
            let mut changed = false;
            for &index in &self.critical {
                let chain = &self.solver.chains[index];
                let beyond = chain.difference(&answer.head) - self.loss_of(change, index);
                let size = answer.head.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
                let opens = side * chain.sign() * beyond > 1e-12 * size;
                let shuts = side * chain.sign() * answer.flow[index] < 0.0;
                if if conducts[index] { shuts } else { opens } {
                    conducts[index] = !conducts[index];
                    changed = true;
                }
            }
            if let Some(next) = self.supply_neighbour()
                && self.leaves(change, side, &answer, piece, next)
            {
                piece = next;
                changed = true;
            }
            if !changed {
                break;
            }
            answer = self.sweep(change, &conducts, piece);
        }
        answer
    }

    /// Whether the supply goes over from a piece that it stands at the end of.
    fn leaves(
        &self,
        change: &EquationChange,
        side: f64,
        answer: &LinearSolution,
        piece: usize,
        next: usize,
    ) -> bool {
        let Some(supply) = self.solver.supply.as_ref().filter(|supply| supply.index == piece) else {
            return false;
        };
        let corner = piece.min(next);
        let end = change.law(|law| law.piece(corner).to_m3s);
        if supply.holds_flow() {
            let top = change.law(|law| law.piece(corner).at(law.piece(corner).to_m3s));
            let head = answer.head[supply.slot] - change.weight * self.solver.given.elevations[supply.node()];
            return side * (head - top) > 0.0;
        }
        let gives = supply.sum(|index| answer.flow[index]);
        side * (gives - end) * if next > piece { 1.0 } else { -1.0 } > 1e-12 * gives.abs()
    }

    /// Derivative of a chain's loss, from its start to its end.
    fn loss_of(&self, change: &EquationChange, index: usize) -> f64 {
        let shape = &self.solver.topology.chains[index].elements;
        let elements = &self.solver.topology.elements[shape.start as usize..shape.end as usize];
        let own = |link: u32| change.losses.iter().filter(move |one| one.0.index() as u32 == link);
        elements
            .iter()
            .flat_map(|element| own(element.link).map(|one| if element.reversed { -one.1 } else { one.1 }))
            .sum()
    }

    /// Solves the linear equations for one change, with the factors of an earlier one where they are the same.
    fn sweep(&mut self, change: &EquationChange, conducts: &[bool], piece: usize) -> LinearSolution {
        let known = self.factors.iter().position(|one| one.piece == piece && one.conducts == conducts);
        let at = known.unwrap_or_else(|| {
            self.factors.push(Factors::of(&self.solver, &self.chain_slope, conducts, piece));
            self.factors.len() - 1
        });
        let mut offsets = vec![0.0; self.solver.chains.len()];
        for (link, loss) in &change.losses {
            let chain = self.solver.chain_of_link[link.index()];
            if chain != NONE && conducts[chain as usize] {
                offsets[chain as usize] += if self.reversed[link.index()] { -loss } else { *loss };
            }
        }
        let (solver, topology) = (&self.solver, &self.solver.topology);
        let unknown = topology.unknown();
        let mut source = vec![0.0; unknown];
        if let Some(supply) = &solver.supply {
            let law = solver.supply_law(supply).map_or(supply.piece, |law| law.piece(piece));
            let flow = solver.solution.supply.map_or(0.0, |at| at.flow_m3s);
            let lift = change.weight * solver.given.elevations[supply.node()];
            source[supply.slot] += match law.regime {
                Regime::Flow => change.law(|law| law.piece(piece).to_m3s),
                Regime::Pressure | Regime::Curve => {
                    let head = change.law(|law| law.piece(piece).at(flow)) + lift;
                    head / law.slope.max(solver.floor)
                }
            };
        }
        let held = |node| change.held.filter(|one| one.0.index() == node).map_or(0.0, |one| one.1);
        let mut head = vec![0.0; topology.slot_node.len()];
        for slot in unknown..head.len() {
            let node = topology.slot_node[slot] as usize;
            if matches!(solver.given.boundaries[node], Boundary::Pressure(_)) {
                head[slot] = change.weight * solver.given.elevations[node] + held(node);
            }
        }
        let mut flow = vec![0.0; solver.chains.len()];
        let factors = &mut self.factors[at];
        factors.substitute(solver, &offsets, &mut source, &mut head, &mut flow);
        for (flow, conducts) in flow.iter_mut().zip(conducts) {
            if !conducts {
                *flow = 0.0;
            }
        }
        LinearSolution { head, flow, conducts: conducts.to_vec() }
    }

    /// From junctions and chains to all links and nodes.
    fn spread_answer(&self, change: &EquationChange, answer: &LinearSolution) -> (Vec<f64>, Vec<f64>) {
        let solver = &self.solver;
        let mut flows = vec![0.0; solver.given.links.len()];
        let mut heads = vec![0.0; solver.given.boundaries.len()];
        let mut losses = vec![0.0; solver.given.links.len()];
        for (link, loss) in &change.losses {
            losses[link.index()] += loss;
        }
        for (slot, &node) in solver.topology.slot_node.iter().enumerate() {
            heads[node as usize] = answer.head[slot];
        }
        for (index, chain) in solver.topology.chains.iter().enumerate() {
            let elements =
                &solver.topology.elements[chain.elements.start as usize..chain.elements.end as usize];
            let (flow, conducts) = (answer.flow[index], answer.conducts[index]);
            let stops = |link: u32| !conducts && solver.given.links[link as usize].3.one_way();
            let mut head = answer.head[chain.from as usize];
            for (at, element) in elements.iter().enumerate() {
                let link = element.link as usize;
                flows[link] = if element.reversed { -flow } else { flow };
                if stops(element.link) || at + 1 == elements.len() {
                    break;
                }
                let own = if element.reversed { -losses[link] } else { losses[link] };
                head -= self.link_slope[link] * flow + if conducts { own } else { 0.0 };
                heads[element.far as usize] = head;
            }
            if conducts {
                for element in elements {
                    flows[element.link as usize] = if element.reversed { -flow } else { flow };
                }
                continue;
            }
            for at in (1..elements.len()).rev() {
                if stops(elements[at].link) {
                    break;
                }
                heads[elements[at - 1].far as usize] = answer.head[chain.to as usize];
            }
        }
        for &(node, link, parent) in solver.topology.trimmed.iter().rev() {
            if !solver.given.links[link as usize].3.one_way() {
                heads[node as usize] = heads[parent as usize];
            }
        }
        for (node, head) in heads.iter_mut().enumerate() {
            match solver.given.boundaries[node] {
                Boundary::Pressure(_) => {
                    *head = change.held.filter(|one| one.0.index() == node).map_or(0.0, |one| one.1);
                }
                Boundary::Inflow(_) | Boundary::Supply(_) => {
                    *head -= change.weight * solver.given.elevations[node];
                }
            }
        }
        (flows, heads)
    }
}
