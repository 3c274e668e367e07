//! The liquid: density and viscosity at several temperatures, each with where it is from.

use serde::{Deserialize, Serialize};

use super::calibrated::Calibrated;
use super::wetted_material::WettedMaterial;
use crate::quantities::{Density, Temperature, UnitSystem, Viscosity};

/// Where a value is from. What nobody measured or published is marked on every paper.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Source {
    /// Measured on this liquid.
    Measured,
    /// From a published table or the product's own sheet.
    Published,
    /// Fitted to the readings of a catch test with this liquid.
    Calibrated(Calibrated),
    /// Nobody measured it.
    Assumed,
}

impl Source {
    /// In words: `measured`, `published`, `assumed`, or from which test.
    pub fn words(&self) -> String {
        match self {
            Self::Measured => "measured".to_owned(),
            Self::Published => "published".to_owned(),
            Self::Calibrated(by) => by.words(),
            Self::Assumed => "assumed".to_owned(),
        }
    }

    /// What stands in brackets behind a value: nothing where somebody measured or published it.
    pub fn mark(&self, units: UnitSystem) -> Option<String> {
        match self {
            Self::Measured | Self::Published => None,
            Self::Calibrated(by) => Some(by.words_with_interval(units)),
            Self::Assumed => Some("assumed".to_owned()),
        }
    }

    /// From which test, where it is from one.
    pub const fn calibrated(&self) -> Option<&Calibrated> {
        if let Self::Calibrated(by) = self { Some(by) } else { None }
    }
}

/// A liquid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Liquid {
    /// As people call it.
    pub name: String,
    /// At least one point, temperatures rising.
    pub points: Vec<LiquidPoint>,
    /// Where the densities are from.
    pub density_source: Source,
    /// Where the viscosities are from.
    pub viscosity_source: Source,
    /// Below this temperature crystals fall out, if known.
    pub salt_out: Option<Temperature>,
    /// What it corrodes or swells, in the order of [`WettedMaterial::ALL`]; empty where nobody said.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub attacks: Vec<WettedMaterial>,
    /// It holds solids that settle: its viscosity changes with how fast it is sheared and how it was stirred.
    #[serde(default, skip_serializing_if = "is_solution")]
    pub suspension: bool,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
const fn is_solution(suspension: &bool) -> bool {
    !*suspension
}

/// Properties at one temperature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LiquidPoint {
    /// The temperature.
    pub temperature: Temperature,
    /// Above 0.
    pub density: Density,
    /// Above 0.
    pub viscosity: Viscosity,
}

/// Why figures that rest on a liquid's viscosity are no prediction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiquidCaution {
    /// Solids that settle.
    Suspension,
}

impl LiquidCaution {
    /// In a few words, to stand beside a figure.
    pub const fn short(self) -> &'static str {
        match self {
            Self::Suspension => "a suspension: no prediction",
        }
    }

    /// As a sentence without a full stop.
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::Suspension => {
                "the liquid is a suspension: its viscosity changes with shear and stirring, so that pressures and flows \
                 are no prediction; go by a catch test"
            }
        }
    }
}

/// What the solver needs, and whether the table reached that far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidState {
    /// Density at the temperature.
    pub density: Density,
    /// Viscosity at the temperature.
    pub viscosity: Viscosity,
    /// The temperature lies outside the table and the nearest value is used.
    pub outside_table: bool,
}

impl Liquid {
    /// What is to be said beside figures that rest on the viscosity, where that can't be relied on: as an addition in
    /// brackets, or as a sentence of its own without a full stop.
    pub const fn caution(&self) -> Option<LiquidCaution> {
        if self.suspension { Some(LiquidCaution::Suspension) } else { None }
    }

    /// What was calibrated of the liquid that it takes the place of is assumed once somebody changed it.
    pub(super) fn settle(&mut self, old: &Self) {
        let viscosities = |liquid: &Self| {
            let points = liquid.points.iter();
            points.map(|point| (point.temperature, point.viscosity)).collect::<Vec<_>>()
        };
        let is_kept = self.viscosity_source == old.viscosity_source;
        if self.viscosity_source.calibrated().is_some() && is_kept && viscosities(self) != viscosities(old) {
            self.viscosity_source = Source::Assumed;
        }
    }

    /// Properties at a temperature: density linear, viscosity linear in its logarithm between points; outside
    /// the table the nearest point, and saying so. `None` only for a table without points.
    pub fn at(&self, temperature: Temperature) -> Option<LiquidState> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        let nearest = |point: &LiquidPoint, outside_table| LiquidState {
            density: point.density,
            viscosity: point.viscosity,
            outside_table,
        };
        if temperature <= first.temperature {
            return Some(nearest(first, temperature < first.temperature));
        }
        if temperature >= last.temperature {
            return Some(nearest(last, temperature > last.temperature));
        }
        let pair = self.points.windows(2).find(|pair| temperature <= pair[1].temperature)?;
        let t = (temperature - pair[0].temperature) / (pair[1].temperature - pair[0].temperature);
        let (low, high) = (pair[0].viscosity.si().ln(), pair[1].viscosity.si().ln());
        Some(LiquidState {
            density: pair[0].density + (pair[1].density - pair[0].density) * t,
            viscosity: Viscosity::from_si((low + (high - low) * t).exp()),
            outside_table: false,
        })
    }

    /// Water from 0 to 40 °C. Viscosity: the short correlation of IAPWS SR6-08 (2011), within 1 % of the
    /// standard; density: the table at 0.1 MPa of lsbu.ac.uk/water.
    pub fn water() -> Self {
        const TABLE: [(f64, f64); 8] = [
            (0.0, 999.84),
            (5.0, 999.96),
            (10.0, 999.70),
            (15.0, 999.10),
            (20.0, 998.20),
            (25.0, 997.05),
            (30.0, 995.65),
            (40.0, 992.22),
        ];
        let points = TABLE.map(|(celsius, density)| LiquidPoint {
            temperature: Temperature::from_si(celsius),
            density: Density::from_si(density),
            viscosity: water_viscosity(Temperature::from_si(celsius)),
        });
        Self {
            name: "Water".to_owned(),
            points: points.to_vec(),
            density_source: Source::Published,
            viscosity_source: Source::Published,
            salt_out: None,
            attacks: Vec::new(),
            suspension: false,
        }
    }
}

/// Viscosity of water at 0.1 MPa from 0 to 100 °C (253.15 to 383.15 K in the source), IAPWS SR6-08 (2011):
/// `µ[µPa·s] = 280.68 t^-1.9 + 511.45 t^-7.7 + 61.131 t^-19.6 + 0.45903 t^-40`, `t = T[K] / 300`.
pub fn water_viscosity(temperature: Temperature) -> Viscosity {
    let t = (temperature.si() + 273.15) / 300.0;
    let micro =
        280.68 * t.powf(-1.9) + 511.45 * t.powf(-7.7) + 61.131 * t.powf(-19.6) + 0.45903 * t.powi(-40);
    Viscosity::from_si(micro * 1e-6)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Water's viscosity in mPa·s, from the table of lsbu.ac.uk/water.
    #[test]
    fn water_agrees_with_the_handbook() {
        for (celsius, published) in [(0.0, 1.792), (10.0, 1.307), (20.0, 1.002), (30.0, 0.797), (40.0, 0.653)]
        {
            let ours = Liquid::water().at(Temperature::from_si(celsius)).unwrap();
            assert!((ours.viscosity.si() * 1e3 / published - 1.0).abs() < 1e-3, "{celsius} °C: {ours:?}");
        }
    }

    #[test]
    fn outside_its_table_the_nearest_value_is_used_and_said_so() {
        let water = Liquid::water();
        let cold = water.at(Temperature::from_si(-5.0)).unwrap();
        assert!(cold.outside_table);
        assert_eq!(cold.viscosity, water.points[0].viscosity);
        assert!(!water.at(Temperature::from_si(0.0)).unwrap().outside_table);
        assert!(water.at(Temperature::from_si(40.1)).unwrap().outside_table);
    }
}
