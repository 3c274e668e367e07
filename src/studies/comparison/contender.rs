//! One of the two routings that are compared, with its outcomes.

use crate::hydraulics::Outcome;
use crate::hydraulics::speed_range::SpeedRange;
use crate::plan::LaidRouting;

/// One of the two that are compared: a routing where it was solved.
#[derive(Debug, Clone, Copy)]
pub struct Contender<'a> {
    /// The routing.
    pub routing: LaidRouting<'a>,
    /// At the operating point looked at.
    pub outcome: &'a Outcome,
    /// At the slowest, usual and fastest speed, everything else as at that point.
    pub range: &'a SpeedRange,
}
