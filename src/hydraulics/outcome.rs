//! What a solve found, as plain data: everything above reads it, nothing in it is worded for people.
//!
//! An [`Outcome`] holds [`Numbers`] or says why there are none ([`NoNumbers`]): there is no stale value to mistake for a
//! current one. How each row hangs on the routing is known either way.

use std::ops::Deref;

use crate::plan::{FeedId, LiquidState, OperatingPoint, PartId, RowId, RunId, SectionId, Supply};
use crate::quantities::{Flow, Length, Pressure, Ratio, Speed};

use super::connectivity::ConnectionProblem;
use super::evenness::Evenness;

/// What a solve of one routing at one operating point found.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Where it was solved.
    pub point: OperatingPoint,
    /// The liquid at that temperature; `None` if it has no properties.
    pub liquid: Option<LiquidState>,
    /// What a controller asks for: rate times speed times the strips of the rows in its total ([`Outcome::rows_in_total`]),
    /// whatever their shares.
    pub target_total: Flow,
    /// How each row hangs on the routing, in the bar's order.
    pub connections: Vec<RowConnection>,
    /// What is not connected as it should be, found before any number was computed.
    pub problems: Vec<ConnectionProblem>,
    /// Pressures and flows, or why there are none.
    pub result: Result<Numbers, NoNumbers>,
}

/// Pressures and flows of a routing that was solved.
#[derive(Debug, Clone, PartialEq)]
pub struct Numbers {
    /// Whether the supply gives what is asked.
    pub supply: SupplyState,
    /// What leaves the pump.
    pub total_flow: Flow,
    /// Gauge pressure at the pump's outlet.
    pub pump_pressure: Pressure,
    /// Gauge pressure at the side of the inlet filter that the flow comes from; without a filter, where the supply hose
    /// ends.
    pub inlet_pressure: Pressure,
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
}

/// Why a routing has no pressures and flows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoNumbers {
    /// No row is connected to the supply: there is nothing to solve.
    NothingFed,
    /// The solve failed.
    Failed {
        /// What keeps it from being solved, if that is one thing.
        blame: Option<Blame>,
        /// What went wrong.
        why: String,
    },
}

/// What keeps a routing from being solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blame {
    /// A placed part.
    Part(PartId),
    /// A hose.
    Run(RunId),
    /// Something in a row feed.
    Feed(FeedId),
    /// The supply.
    Supply,
}

/// Whether the supply gives what is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SupplyState {
    /// It does.
    AsAsked,
    /// It gives less.
    AtLimit {
        /// What is missing: of the asked total, or of what a held pressure would pass.
        shortfall: Flow,
        /// What limits it.
        by: SupplyLimit,
    },
}

/// What limits a supply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SupplyLimit {
    /// Its pressure limit.
    Pressure,
    /// The pump's curve: it gives no more at the pressure that is needed.
    PumpCurve,
    /// The pump delivers no more: its capacity, or the end of its curve.
    Capacity,
}

/// How many rows a figure is over, of all rows of the bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowsCovered {
    /// The rows it is over.
    pub rows: usize,
    /// All rows of the bar, those that are left out among them.
    pub of: usize,
}

impl RowsCovered {
    /// None is missing.
    pub const fn is_all(self) -> bool {
        self.rows == self.of
    }
}

/// How a row hangs on the routing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowConnection {
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
    /// Connected to the supply, or why not.
    pub connected: Result<(), NotFed>,
    /// The feed it hangs on.
    pub feed: Option<FeedId>,
    /// The manifold and outlet number it hangs on.
    pub outlet: Option<(PartId, u16)>,
}

/// Why a row is not fed, whatever the pressures are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotFed {
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
}

/// One row of a routing that was solved: its connection, and what comes of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowOutcome {
    /// How it hangs on the routing.
    pub connection: RowConnection,
    /// Fed, or why not.
    pub state: RowState,
    /// What leaves its outlet: zero for a row that is not fed, negative for one that flows backwards, what runs out of one
    /// that is left out but still plumbed.
    pub flow: Flow,
    /// Flow over target less 1; `None` for rows that are not fed or have no target.
    pub deviation: Option<Ratio>,
}

/// Whether liquid reaches a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowState {
    /// Connected to the supply and flowing.
    Fed,
    /// Not connected to the supply, or not in use.
    NotFed(NotFed),
    /// Its check valve does not open at this pressure.
    ValveStaysShut,
    /// Its outlet is blocked, in a study that looks at that.
    Blocked,
    /// Suction: air is drawn in at its outlet instead of liquid leaving there.
    FlowsBackward,
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
    /// Pressure it takes (static head apart); `None` too for a shut check valve.
    pub drop: Option<Pressure>,
}

impl Deref for RowOutcome {
    type Target = RowConnection;

    fn deref(&self) -> &RowConnection {
        &self.connection
    }
}

impl RowConnection {
    /// What becomes of the row, as the solve found; `None` where it is connected and nothing was solved.
    pub fn state(&self, found: Option<&RowOutcome>) -> Option<RowState> {
        match found {
            Some(row) => Some(row.state),
            None => self.connected.err().map(RowState::NotFed),
        }
    }
}

impl Outcome {
    /// Pressures and flows, if it was solved.
    pub fn numbers(&self) -> Option<&Numbers> {
        self.result.as_ref().ok()
    }

    /// All rows in the bar's order, each with what comes of it where it was solved.
    pub fn each_row(&self) -> impl Iterator<Item = (&RowConnection, Option<&RowOutcome>)> {
        let rows = self.rows();
        self.connections.iter().enumerate().map(|(place, connection)| (connection, rows.get(place)))
    }

    /// How a row hangs on the routing, by its id.
    pub fn connection(&self, id: RowId) -> Option<&RowConnection> {
        self.connections.iter().find(|one| one.row == id)
    }

    /// A row by its id; `None` too where nothing was solved.
    pub fn row(&self, id: RowId) -> Option<&RowOutcome> {
        self.rows().iter().find(|row| row.row == id)
    }

    /// A part by its id; `None` too where nothing was solved.
    pub fn part(&self, id: PartId) -> Option<&PartOutcome> {
        self.numbers()?.parts.iter().find(|part| part.part == id)
    }

    /// A run by its id; `None` too where nothing was solved.
    pub fn run(&self, id: RunId) -> Option<&RunOutcome> {
        self.runs().iter().find(|run| run.run == id)
    }

    /// Flow of a run from its start to its end, m³/s; zero too where it is not reached or nothing was solved.
    pub fn flow_of(&self, run: RunId) -> f64 {
        self.run(run).and_then(|run| run.flow).map_or(0.0, Flow::si)
    }

    /// All rows, in the bar's order; none where nothing was solved.
    pub fn rows(&self) -> &[RowOutcome] {
        self.numbers().map_or(&[], |numbers| &numbers.rows)
    }

    /// All parts, in the routing's order; none where nothing was solved.
    pub fn parts(&self) -> &[PartOutcome] {
        self.numbers().map_or(&[], |numbers| &numbers.parts)
    }

    /// All runs, in the routing's order; none where nothing was solved.
    pub fn runs(&self) -> &[RunOutcome] {
        self.numbers().map_or(&[], |numbers| &numbers.runs)
    }

    /// All elements of all row feeds, in the routing's order; none where nothing was solved.
    pub fn elements(&self) -> &[ElementOutcome] {
        self.numbers().map_or(&[], |numbers| &numbers.elements)
    }

    /// Evenness over fed rows; `None` where there are none.
    pub fn evenness(&self) -> Option<Evenness> {
        self.numbers()?.evenness
    }

    /// What the supply gives less than asked, and what limits it; `None` where it gives that or nothing was solved.
    pub fn at_limit(&self) -> Option<(Flow, SupplyLimit)> {
        match self.numbers()?.supply {
            SupplyState::AtLimit { shortfall, by } => Some((shortfall, by)),
            SupplyState::AsAsked => None,
        }
    }

    /// How many rows are fed.
    pub fn fed_rows(&self) -> usize {
        self.rows().iter().filter(|row| row.state == RowState::Fed).count()
    }

    /// The rows that evenness and mean are over: those that are fed.
    pub fn rows_in_evenness(&self) -> RowsCovered {
        let rows = self.evenness().map_or(0, |evenness| evenness.rows);
        RowsCovered { rows, of: self.connections.len() }
    }

    /// The rows that a controller's total is for: all that are connected to an open supply, whether anything passes them or
    /// not. One that is left out, behind a shut section valve or not plumbed yet is not among them.
    pub fn rows_in_total(&self) -> RowsCovered {
        let rows = self.connections.iter().filter(|one| one.connected.is_ok()).count();
        RowsCovered { rows, of: self.connections.len() }
    }

    /// What all rows in use ask, whether their section is open or not yet plumbed: what a pump is chosen for. Rows behind a
    /// shut section valve ask nothing while it is shut.
    pub fn asked_of_pump(&self) -> Flow {
        let missing = self.connections.iter().filter(|row| {
            matches!(row.connected, Err(NotFed::NoFeed | NotFed::FeedLoose | NotFed::NoSupply))
        });
        self.target_total + missing.map(|row| row.target).sum::<Flow>()
    }

    /// The most that the pump delivers: against the pressure that was solved where its curve is known. None where neither
    /// that nor its capacity is.
    pub fn pump_capacity(&self, supply: &Supply) -> Option<Flow> {
        self.numbers()
            .map_or_else(|| supply.most_flow(), |numbers| supply.flow_against(numbers.pump_pressure))
    }

    /// What the pump can deliver beyond what all rows ask, as a share of that.
    pub fn pump_reserve(&self, supply: &Supply) -> Option<Ratio> {
        let asked = self.asked_of_pump();
        let capacity = self.pump_capacity(supply).filter(|_| asked > Flow::ZERO)?;
        Some(Ratio::from_si(capacity / asked - 1.0))
    }

    /// How many rows are in use.
    pub fn rows_in_use(&self) -> usize {
        self.connections.iter().filter(|one| one.connected != Err(NotFed::LeftOut)).count()
    }
}

impl Numbers {
    /// The fed row farthest from its target.
    pub fn farthest_row(&self) -> Option<&RowOutcome> {
        let size = |row: &RowOutcome| row.deviation.map_or(-1.0, |one| one.si().abs());
        self.rows.iter().filter(|row| row.deviation.is_some()).max_by(|a, b| size(a).total_cmp(&size(b)))
    }
}
