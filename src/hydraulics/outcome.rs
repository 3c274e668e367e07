//! What a solve found, as plain data: everything above reads it, nothing in it is worded for people.
//!
//! A number that was not determined is `None`; there is no stale value to mistake for a current one.

use crate::plan::{FeedId, LiquidState, OperatingPoint, PartId, RowId, RunId, SectionId};
use crate::quantities::{Flow, Length, Pressure, Ratio, Speed};

use super::connectivity::ConnectionProblem;
use super::evenness::Evenness;

/// The answer for one routing at one operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Where it was solved.
    pub point: OperatingPoint,
    /// Whether numbers may be read, and under what reserve.
    pub status: Status,
    /// The liquid at that temperature; `None` if it has no properties.
    pub liquid: Option<LiquidState>,
    /// What is asked of all rows that are fed and open.
    pub target_total: Flow,
    /// What leaves the pump.
    pub total_flow: Option<Flow>,
    /// Gauge pressure at the pump's outlet.
    pub pump_pressure: Option<Pressure>,
    /// Gauge pressure at the side of the inlet filter that the flow comes from; without a filter, where the supply hose
    /// ends.
    pub inlet_pressure: Option<Pressure>,
    /// All rows, in the bar's order.
    pub rows: Vec<RowOutcome>,
    /// All parts, in the routing's order.
    pub parts: Vec<PartOutcome>,
    /// All runs, in the routing's order.
    pub runs: Vec<RunOutcome>,
    /// All elements of all row feeds, in the routing's order.
    pub elements: Vec<ElementOutcome>,
    /// Evenness over fed rows; `None` when there is none.
    pub evenness: Option<Evenness>,
    /// What is not connected as it should be, found before any number was computed.
    pub problems: Vec<ConnectionProblem>,
}

/// How far an outcome may be trusted.
#[derive(Debug, Clone, PartialEq)]
pub enum Status {
    /// Solved as asked.
    Solved,
    /// The supply gives less than asked.
    AtLimit {
        /// What is missing: of the asked total, or of what a held pressure would pass.
        shortfall: Flow,
        /// What limits it.
        by: Limit,
    },
    /// No row is connected to the supply: there is nothing to solve.
    NothingFed,
    /// The solve failed; no number is given.
    Failed {
        /// The tag of the part, run or feed to blame, if one is.
        blame: String,
        /// What went wrong.
        why: String,
    },
}

/// What limits a supply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// Its pressure limit.
    Pressure,
    /// The pump's curve: it gives no more at the pressure that is needed.
    PumpCurve,
    /// The pump delivers no more: its capacity, or the end of its curve.
    Capacity,
}

impl Status {
    /// Numbers of this outcome may be shown.
    pub const fn has_numbers(&self) -> bool {
        matches!(self, Self::Solved | Self::AtLimit { .. })
    }
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct RowOutcome {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// How far right of the bar's centre.
    pub x: Length,
    /// The section that carries it.
    pub section: SectionId,
    /// What it should get.
    pub target: Flow,
    /// Fed, or why not.
    pub state: RowState,
    /// What leaves its outlet: zero for a row that is not fed, negative for one that flows backwards, what runs out of one
    /// that is left out but still plumbed; `None` where the solve failed.
    pub flow: Option<Flow>,
    /// Flow over target less 1; `None` for rows that are not fed or have no target.
    pub deviation: Option<Ratio>,
    /// The feed it hangs on.
    pub feed: Option<FeedId>,
    /// The manifold and outlet number it hangs on.
    pub outlet: Option<(PartId, u16)>,
}

/// Whether liquid reaches a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowState {
    /// Connected to the supply and flowing.
    Fed,
    /// Not in use.
    LeftOut,
    /// No feed leads to it.
    NoFeed,
    /// Its feed hangs on nothing.
    FeedLoose,
    /// Its manifold has no connection to the supply.
    NoSupply,
    /// A shut section valve cuts it off.
    SectionShut,
    /// Its check valve does not open at this pressure.
    ValveStaysShut,
    /// Suction: air is drawn in at its outlet instead of liquid leaving there.
    FlowsBackward,
    /// Connected, but no number: the solve failed.
    Unknown,
}

/// One placed part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartOutcome {
    /// The part.
    pub part: PartId,
    /// Gauge pressure, at the height of the port it is read at: at a gauge what it reads, at a manifold that at its gauge
    /// port, else that at the side the flow comes from (where nothing flows, the higher one).
    pub pressure: Option<Pressure>,
    /// The lowest gauge pressure at any of its ports.
    pub lowest: Option<Pressure>,
    /// The highest, which its body must stand.
    pub highest: Option<Pressure>,
    /// What flows into it.
    pub flow: Option<Flow>,
    /// What its own row outlets pass on (manifolds).
    pub flow_to_rows: Option<Flow>,
    /// Pressure lost in it at the flow it has.
    pub drop: Option<Pressure>,
}

/// One run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunOutcome {
    /// The run.
    pub run: RunId,
    /// Its length with slack and allowances, or as measured; `None` if an end is nowhere.
    pub length: Option<Length>,
    /// From its start to its end; negative the other way.
    pub flow: Option<Flow>,
    /// Mean velocity, not negative.
    pub velocity: Option<Speed>,
    /// Reynolds number in its own bore.
    pub reynolds: Option<f64>,
    /// Gauge pressure at its start.
    pub pressure_from: Option<Pressure>,
    /// Gauge pressure at its end.
    pub pressure_to: Option<Pressure>,
    /// Pressure lost to friction and fittings (static head apart), with the sign of the flow.
    pub loss: Option<Pressure>,
}

/// One element of a row feed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ElementOutcome {
    /// The feed.
    pub feed: FeedId,
    /// Which branch; `None` in the trunk.
    pub branch: Option<usize>,
    /// Its place in the trunk or branch.
    pub index: usize,
    /// Its length (tubes and metering tubes).
    pub length: Option<Length>,
    /// What flows through it.
    pub flow: Option<Flow>,
    /// Mean velocity in its bore.
    pub velocity: Option<Speed>,
    /// Reynolds number in its bore.
    pub reynolds: Option<f64>,
    /// Pressure it takes (static head apart); for a shut check valve `None`.
    pub drop: Option<Pressure>,
}

impl Outcome {
    /// A row by its id.
    pub fn row(&self, id: RowId) -> Option<&RowOutcome> {
        self.rows.iter().find(|row| row.row == id)
    }

    /// A part by its id.
    pub fn part(&self, id: PartId) -> Option<&PartOutcome> {
        self.parts.iter().find(|part| part.part == id)
    }

    /// A run by its id.
    pub fn run(&self, id: RunId) -> Option<&RunOutcome> {
        self.runs.iter().find(|run| run.run == id)
    }

    /// The fed row farthest from its target.
    pub fn farthest_row(&self) -> Option<&RowOutcome> {
        let size = |row: &RowOutcome| row.deviation.map_or(-1.0, |one| one.si().abs());
        self.rows.iter().filter(|row| row.deviation.is_some()).max_by(|a, b| size(a).total_cmp(&size(b)))
    }
}
