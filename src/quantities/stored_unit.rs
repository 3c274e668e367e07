//! The unit that files and calculations hold a number in, for messages about a file: what is read there is not always
//! what people read elsewhere.

use super::{Measure, UnitSystem, plain};

impl Measure {
    /// The unit of the stored number: SI, and °C.
    pub const fn stored_symbol(self) -> &'static str {
        match self {
            Self::Distance
            | Self::Driven
            | Self::CutLength
            | Self::Bore
            | Self::Opening
            | Self::Roughness => "m",
            Self::Pressure | Self::Loss => "Pa",
            Self::RowFlow | Self::TotalFlow => "m³/s",
            Self::GroundSpeed | Self::Velocity => "m/s",
            Self::Rate => "m³/m²",
            Self::Temperature | Self::TemperatureSpan => "°C",
            Self::Slope | Self::Angle => "rad",
            Self::Density => "kg/m³",
            Self::Viscosity => "Pa·s",
            Self::Volume | Self::Catch => "m³",
            Self::CaughtMass => "kg",
            Self::Duration => "s",
            Self::FlowFactor => "m³/h",
            Self::BendingStiffness => "N·m²",
            Self::MassPerLength => "kg/m",
            Self::Percent | Self::Plain => "",
        }
    }

    /// A number as people read it and, where that is another, as a file holds it: `300° (5.236 rad)`, `10000 bar
    /// (1000000000 Pa)`, `0.9 m`.
    pub fn text_and_stored(self, stored: f64) -> String {
        let metric = UnitSystem::Metric;
        if matches!(self, Self::Slope) && stored.abs() > 1.5 {
            // As a share there is no such slope.
            return Self::Angle.text_and_stored(stored);
        }
        let unit = self.unit(metric);
        let symbol = self.stored_symbol();
        let number = plain(significant(stored));
        let (shown, stored) = (
            self.shown(stored, metric),
            if symbol.is_empty() { number } else { format!("{number} {symbol}") },
        );
        if unit.symbol == symbol || !shown.is_finite() {
            return stored;
        }
        let space = if unit.symbol == "°" { "" } else { " " };
        format!("{}{space}{} ({stored})", plain(significant(shown)), unit.symbol)
    }
}

/// A number with six digits, which is as many as anybody compares by eye.
fn significant(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_of_a_file_is_said_as_people_read_it_too() {
        let said = [
            (Measure::Angle, 300f64.to_radians(), "300° (5.23599 rad)"),
            (Measure::Angle, -270f64.to_radians(), "-270° (-4.71239 rad)"),
            (Measure::Slope, 0.7, "84.2288 % (0.7 rad)"),
            (Measure::Slope, 5.0, "286.479° (5 rad)"),
            (Measure::Rate, 1e308, "1e308 m³/m²"),
            (Measure::Pressure, 1e300, "1e295 bar (1e300 Pa)"),
            (Measure::Pressure, 1e9, "10000 bar (1000000000 Pa)"),
            (Measure::Bore, 0.0127, "12.7 mm (0.0127 m)"),
            (Measure::Distance, 0.9, "0.9 m"),
            (Measure::Percent, 0.05, "5 % (0.05)"),
            (Measure::Plain, 1e6, "1000000"),
        ];
        for (measure, stored, words) in said {
            assert_eq!(measure.text_and_stored(stored), words);
        }
    }
}
