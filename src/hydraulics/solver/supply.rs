//! The supply's node in a solve: which piece of its law holds, found by going from piece to piece.
//!
//! Each piece is taken as the straight line it lies on, without its ends: held pressure or curve as a link of that slope
//! from the open air, a held flow as an inflow. Where the answer lies beyond an end, that end is passed for good: what the
//! network asks rises with the flow and what the supply gives falls, so that they meet once. The piece that is asked for
//! comes first.

use super::super::network::Boundary;
use super::super::supply_law::{Regime, SupplyLaw, SupplyPoint};
use super::state::Solver;
use super::supply_piece::HeldSupply;
use super::topology::NONE;

/// Beyond the end of a piece by less than this part of its flow or pressure is on it.
const AT_THE_END: f64 = 1e-12;

impl Solver {
    pub(super) fn supply_law(&self, supply: &HeldSupply) -> Option<&SupplyLaw> {
        match &self.given.boundaries[supply.node] {
            Boundary::Supply(law) => Some(law),
            Boundary::Inflow(_) | Boundary::Pressure(_) => None,
        }
    }

    /// Head of the supply's node at a gauge pressure.
    pub(super) fn supply_lift(&self, supply: &HeldSupply) -> f64 {
        self.given.fluid.density_kg_m3 * self.given.gravity * self.given.elevations[supply.node]
    }

    /// Goes back to the piece that is asked for.
    pub(super) fn ask_supply(&mut self) {
        let Some(supply) = &self.supply else { return };
        let Some(law) = self.supply_law(supply) else { return };
        let (asked, last) = (law.asked(), law.last());
        if let Some(supply) = &mut self.supply {
            (supply.low, supply.high, supply.asked) = (0, last, None);
        }
        self.take_piece(asked);
    }

    fn take_piece(&mut self, index: usize) {
        let Some(mut supply) = self.supply.take() else { return };
        if let Some(law) = self.supply_law(&supply) {
            supply.index = index;
            supply.piece = law.piece(index);
        }
        self.inflow[supply.slot] = if supply.holds_flow() { supply.piece.to_m3s } else { 0.0 };
        self.supply = Some(supply);
    }

    /// Adds what the supply gives to its junction. A level piece falls by the least slope that counts, through the flow
    /// of the last step, which is where it ends up.
    #[inline]
    pub(super) fn load_supply(&mut self) {
        let Some(supply) = &self.supply else { return };
        if supply.holds_flow() {
            return;
        }
        let head = supply.piece.at(supply.flow) + self.supply_lift(supply);
        let conductance = 1.0 / supply.piece.slope.max(self.floor);
        let slot = supply.slot;
        // The ring part is solved for changes of heads.
        let head = if slot < self.topology.tree.len() { head } else { head - self.head[slot] };
        let flow = supply.flow;
        self.ground[slot] += conductance;
        self.source[slot] += conductance * head + flow;
    }

    /// What the supply gives at the present heads, by the same line.
    pub(super) fn supply_gives(&self) -> Option<(usize, f64)> {
        let supply = self.supply.as_ref().filter(|supply| !supply.holds_flow())?;
        let head = supply.piece.at(supply.flow) + self.supply_lift(supply);
        let slope = supply.piece.slope.max(self.floor);
        Some((supply.slot, supply.flow + (head - self.head[supply.slot]) / slope))
    }

    /// Takes over what leaves the supply's junction.
    pub(super) fn follow_supply(&mut self) {
        let Some(supply) = &mut self.supply else { return };
        if supply.holds_flow() {
            supply.flow = supply.piece.to_m3s;
            return;
        }
        supply.flow = supply.sum(|index| self.chains[index].flow);
    }

    /// What the supply gives becomes an inflow, for the balance of a solved network.
    pub(super) fn supply_as_inflow(&mut self) {
        self.follow_supply();
        if let Some(supply) = &self.supply {
            self.inflow[supply.slot] = supply.flow;
        }
    }

    /// Once the flows have settled: whether the supply is on its piece. If not, goes on to the next.
    pub(super) fn supply_is_on_its_piece(&mut self) -> bool {
        let Some(supply) = &self.supply else { return true };
        let Some(law) = self.supply_law(supply) else { return true };
        let (flow, piece, index) = (supply.flow, supply.piece, supply.index);
        let asked = supply.asked.unwrap_or(flow);
        let (mut low, mut high) = (supply.low, supply.high);
        let next = if supply.holds_flow() {
            let over = self.head[supply.slot] - self.supply_lift(supply) - piece.pressure_pa;
            if over > AT_THE_END * piece.pressure_pa.abs() && index > low {
                high = index - 1;
                Some(high)
            } else {
                None
            }
        } else if flow > piece.to_m3s * (1.0 + AT_THE_END) && index < high {
            low = index + 1;
            Some(law.piece_of(flow).clamp(low, high))
        } else if flow < piece.from_m3s * (1.0 - AT_THE_END) && index > low {
            high = index - 1;
            Some(law.piece_of(flow).clamp(low, high))
        } else {
            None
        };
        if let Some(supply) = &mut self.supply {
            (supply.low, supply.high, supply.asked) = (low, high, Some(asked));
        }
        match next {
            Some(index) => {
                self.take_piece(index);
                false
            }
            None => true,
        }
    }

    pub(super) fn supply_point(&self) -> Option<SupplyPoint> {
        let supply = self.supply.as_ref()?;
        Some(SupplyPoint {
            regime: supply.piece.regime,
            flow_m3s: supply.flow,
            asked_m3s: supply.asked.unwrap_or(supply.flow),
            pressure_pa: (!supply.holds_flow()).then(|| supply.piece.at(supply.flow)),
        })
    }

    /// Gauge pressure that the supply holds, to the last digit.
    pub(super) fn supply_pressure(&self) -> Option<(usize, f64)> {
        let supply = self.supply.as_ref()?;
        (supply.piece.regime == Regime::Pressure).then_some((supply.node, supply.piece.pressure_pa))
    }

    /// Slot of a supply that sets the level of pressure.
    pub(super) fn supply_slot_held(&self) -> u32 {
        self.supply.as_ref().filter(|one| !one.holds_flow()).map_or(NONE, |one| one.slot as u32)
    }
}
