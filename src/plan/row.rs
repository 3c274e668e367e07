//! A seed row.

use serde::{Deserialize, Serialize};

use super::{RowId, SectionId};
use crate::quantities::Length;

/// A seed row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Identity.
    pub id: RowId,
    /// As painted on the bar and printed on papers; unique.
    pub number: u32,
    /// The section that carries it.
    pub section: SectionId,
    /// How far right of the bar's centre, metres.
    pub x: Length,
    /// Which of the bar's ranks its opener stands in (index from the front, 0 first).
    pub rank: usize,
    /// Height of its outlet above the ground, metres.
    pub outlet_height: Length,
    /// Its share of a full row, 1 as a rule, 0.5 for a half row; above 0.
    pub share: f64,
    /// Not used: it gets nothing and counts nowhere.
    pub left_out: bool,
}
