//! What is asked: rate, speeds, and the conditions it must hold in.

use serde::{Deserialize, Serialize};

use crate::quantities::{Angle, ApplicationRate, Speed, Temperature};

/// What the bar must do; saved with the project.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Application {
    /// Liquid per area; 0 or more.
    pub rate: ApplicationRate,
    /// Slowest ground speed at work; above 0.
    pub slowest: Speed,
    /// Usual ground speed, between the other two.
    pub usual: Speed,
    /// Fastest ground speed at work.
    pub fastest: Speed,
    /// Temperature of the liquid it is designed for.
    pub temperature: Temperature,
    /// Side slope it is designed for: positive = right side up.
    pub side_slope: Angle,
    /// Fore-aft slope it is designed for: positive = nose up.
    pub fore_aft_slope: Angle,
    /// Which width a row stands for.
    pub row_widths: RowWidths,
}

/// The width in a row's target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum RowWidths {
    /// The bar's nominal row spacing.
    #[default]
    Nominal,
    /// Half-way to each neighbour, for unevenly spaced rows.
    HalfWidths,
}

/// One point at which a routing is solved. Looking at another point changes no project.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OperatingPoint {
    /// Liquid per area.
    pub rate: ApplicationRate,
    /// Ground speed.
    pub speed: Speed,
    /// Temperature of the liquid.
    pub temperature: Temperature,
    /// Positive = right side up.
    pub side_slope: Angle,
    /// Positive = nose up.
    pub fore_aft_slope: Angle,
}

impl Application {
    /// The designed-for conditions at a speed.
    pub const fn at(&self, speed: Speed) -> OperatingPoint {
        OperatingPoint {
            rate: self.rate,
            speed,
            temperature: self.temperature,
            side_slope: self.side_slope,
            fore_aft_slope: self.fore_aft_slope,
        }
    }

    /// The designed-for conditions at the usual speed.
    pub const fn usual_point(&self) -> OperatingPoint {
        self.at(self.usual)
    }
}
