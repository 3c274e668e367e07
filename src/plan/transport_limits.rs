//! What the road allows.

use serde::{Deserialize, Serialize};

use super::envelope::Envelope;
use crate::quantities::Length;

/// The widest and the highest that the road allows, as someone entered them for the place where the bar is driven: rules
/// differ by country and road, so there is no default.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TransportLimits {
    /// Overall width, metres; above 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width: Option<Length>,
    /// Overall height above the ground, metres; above 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height: Option<Length>,
}

impl TransportLimits {
    /// Nobody entered any.
    pub const fn are_missing(&self) -> bool {
        self.width.is_none() && self.height.is_none()
    }

    /// By how much a bar in transport position is beyond what is allowed, and what it then is: `wide`, `high`.
    pub fn exceeded_by(&self, transport: &Envelope) -> Vec<(Length, &'static str)> {
        let sizes = [(transport.width(), self.width, "wide"), (transport.height(), self.height, "high")];
        let over = sizes.into_iter().filter_map(|(is, limit, word)| Some((is - limit?, word)));
        over.filter(|(by, _)| by.si() > 0.0).collect()
    }
}
