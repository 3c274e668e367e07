//! Runs: hoses and tubes as lines in space between two ends.

use serde::{Deserialize, Serialize};

use super::bar_point::BarPoint;
use super::catalogue::{FittingKey, StockKey};
use super::hinge_crossing::HingeCrossing;
use super::part::PortRef;
use super::{RunId, SectionId};
use crate::quantities::{Length, Ratio};

/// A hose between two ends.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Identity.
    pub id: RunId,
    /// Short, unique in the routing: `H3`.
    pub tag: String,
    /// Where it starts.
    pub from: End,
    /// Where it ends.
    pub to: End,
    /// Stock and way.
    pub line: Line,
    /// Barbs, elbows and adapters along it, each at its own bore.
    pub fittings: Vec<FittingKey>,
}

impl Run {
    /// What a fitting is called by its place among so many: with two or more the first is at the start of the hose and
    /// the last at its end.
    pub fn fitting_place(at: usize, of: usize) -> String {
        match at {
            _ if of < 2 => "Fitting".to_owned(),
            0 => "Fitting at start".to_owned(),
            at if at + 1 == of => "Fitting at end".to_owned(),
            at => format!("Fitting {at} along it"),
        }
    }
}

/// One end of a run or row feed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum End {
    /// The pump's outlet.
    Supply,
    /// A port of a part.
    Port(PortRef),
    /// Connected to nothing, lying at a point.
    Loose(BarPoint),
}

impl End {
    /// The port it is on, if any.
    pub const fn port(&self) -> Option<PortRef> {
        match self {
            Self::Port(port) => Some(*port),
            Self::Supply | Self::Loose(_) => None,
        }
    }
}

/// A length of hose or tube and the way it takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Hose or tube from the catalogue: its bore and roughness.
    pub stock: StockKey,
    /// Points it passes between its ends, each with its height, working position.
    pub waypoints: Vec<BarPoint>,
    /// Added to the way, as a share of it; 0 or more.
    pub slack: Ratio,
    /// The hinges it crosses, in order, with what somebody chose there.
    pub crossings: Vec<HingeCrossing>,
    /// Measured on the bar: replaces the computed length.
    pub measured: Option<Length>,
}

impl Line {
    /// A straight line of a stock with 3 % slack (common practice, no source).
    pub const fn straight(stock: StockKey) -> Self {
        Self {
            stock,
            waypoints: Vec::new(),
            slack: Ratio::percent(3.0),
            crossings: Vec::new(),
            measured: None,
        }
    }

    /// Keeps what was chosen for hinges that are crossed, drops the others, and has each new crossing computed.
    pub fn cross(&mut self, hinges: &[SectionId]) {
        let mut old = std::mem::take(&mut self.crossings);
        self.crossings = hinges
            .iter()
            .map(|&section| match old.iter().position(|one| one.section == section) {
                Some(at) => old.remove(at),
                None => HingeCrossing::computed(section),
            })
            .collect();
    }
}
