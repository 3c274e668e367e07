//! Where a number is from that a catch test told: which test, when it was taken over, and how sure it is.

use serde::{Deserialize, Serialize};

use crate::quantities::{Measure, Ratio, Temperature, UnitSystem};

/// Standard deviations from the mean to either end of a two-sided 95 % interval of the normal distribution.
pub const HALF_OF_95: f64 = 1.959_963_984_540_054;

/// A number was fitted to the readings of a catch test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibrated {
    /// The day on which it was taken over, `2026-11-30`.
    pub on: String,
    /// The name of the test.
    pub test: String,
    /// Temperature of what was caught.
    pub temperature: Temperature,
    /// Half of its 95 % interval, as a part of the value; above 0.
    pub within: Ratio,
}

impl Calibrated {
    /// `calibrated on 2026-11-30 from test Yard`.
    pub fn words(&self) -> String {
        format!("calibrated on {} from test {}", self.on, self.test)
    }

    /// The same with its interval: `calibrated on 2026-11-30 from test Yard at 12 °C, ±4.0 % with 95 % confidence`.
    pub fn words_with_interval(&self, units: UnitSystem) -> String {
        format!(
            "{} at {}, ±{} with 95 % confidence",
            self.words(),
            Measure::Temperature.short_text(self.temperature.si(), units),
            Measure::Percent.text(self.within.si(), units)
        )
    }

    /// The standard deviation that is left, as a part of the value.
    pub fn sd(&self) -> f64 {
        self.within.si() / HALF_OF_95
    }
}

/// That number of a catalogue entry which catch tests can tell, as it was calibrated; see
/// [`KindFacts::told_by_catch`](super::kinds::KindFacts::told_by_catch).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryCalibration {
    /// What it was set to, in its stored unit: once the entry says another, it holds no more.
    pub value: f64,
    /// From which test.
    pub by: Calibrated,
}
