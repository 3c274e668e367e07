//! What the road allows.

use serde::{Deserialize, Serialize};

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
}
