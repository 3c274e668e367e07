//! The limits that findings are measured against. All can be edited in the project; the defaults are common
//! practice, no source, unless a line says otherwise.

use serde::{Deserialize, Serialize};

use crate::quantities::{Ratio, Speed};

/// What a hose goes over a barb with its clamp, in bores of the hose: 2 (common practice, no source).
pub const BARB_IN_BORES: f64 = 2.0;

/// Limits of one project.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Largest deviation of a row from its target, 5 % (each outlet within 5 % of the average: University of
    /// Georgia Extension, fertilizer applicator calibration).
    pub row_deviation: Ratio,
    /// Largest deviation a design should show on the flat, 3 %.
    pub design_deviation: Ratio,
    /// Coefficient of variation that counts as good, 3 %.
    pub cv_good: Ratio,
    /// Coefficient of variation that is still acceptable, 5 %.
    pub cv_acceptable: Ratio,
    /// Largest velocity in hoses under pressure, 2.5 m/s.
    pub hose_velocity: Speed,
    /// The pressure drop over the metering is at least this many times the cracking pressure, 5: a scatter of
    /// ±20 % in cracking then costs ±2 % of flow (computed: 0.5 · 0.2 / 5).
    pub metering_over_cracking: f64,
    /// Mesh opening at most this share of the smallest bore behind it, 1/2.
    pub mesh_share: Ratio,
    /// What the pump has to spare, 20 % (Virginia Tech extension 442-452).
    pub pump_reserve: Ratio,
    /// A run is longer than its longest path through a fold by this, 5 %.
    pub hinge_slack: Ratio,
    /// Reynolds numbers where the flow of a metering tube can't be predicted within some 30 %: from 2000.
    pub reynolds_from: f64,
    /// Up to 4000.
    pub reynolds_to: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            row_deviation: Ratio::percent(5.0),
            design_deviation: Ratio::percent(3.0),
            cv_good: Ratio::percent(3.0),
            cv_acceptable: Ratio::percent(5.0),
            hose_velocity: Speed::from_si(2.5),
            metering_over_cracking: 5.0,
            mesh_share: Ratio::percent(50.0),
            pump_reserve: Ratio::percent(20.0),
            hinge_slack: Ratio::percent(5.0),
            reynolds_from: 2000.0,
            reynolds_to: 4000.0,
        }
    }
}
