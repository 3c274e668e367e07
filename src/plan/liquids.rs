//! Generic liquids to start from. Densities are from published tables of solutions where one is named; every
//! viscosity is assumed, of the magnitude people report, and wide of the mark for some batches: measure it.

use super::liquid::{Liquid, LiquidPoint, Source};
use super::wetted_material::WettedMaterial;
use crate::quantities::{Density, Temperature, Viscosity};

/// Temperatures of the tables, °C.
const AT: [f64; 4] = [0.0, 10.0, 20.0, 30.0];

/// What nitrogen solutions attack: no copper, brass, bronze or zinc with ammoniacal products (extension services on ammonia; for
/// these solutions from memory), some 13 mm a year of bare mild steel (encyclopaedia article on urea ammonium nitrate).
const BY_NITROGEN: &[WettedMaterial] =
    &[WettedMaterial::PlainSteel, WettedMaterial::CopperAlloy, WettedMaterial::Zinc];
/// What mixes with phosphate or sulphur attack besides: aluminium serves in nitrogen solutions alone (laboratory study of
/// corrosion by liquid fertilisers, abstract).
const BY_MIXES: &[WettedMaterial] = &[
    WettedMaterial::PlainSteel,
    WettedMaterial::CopperAlloy,
    WettedMaterial::Zinc,
    WettedMaterial::Aluminium,
];
/// What a sour salt solution attacks; from memory.
const BY_SALT: &[WettedMaterial] =
    &[WettedMaterial::PlainSteel, WettedMaterial::Zinc, WettedMaterial::Aluminium];

/// Name, density at 16 °C (kg/m³), its fall per degree, where it is from, viscosities at [`AT`] (mPa·s), salt-out (°C),
/// what it attacks.
type Line = (&'static str, f64, f64, Source, [f64; 4], Option<f64>, &'static [WettedMaterial]);

// Densities and salt-out of solutions with their analysis: physical characteristics of fertiliser materials as listed
// by extension services (University of Nebraska, density factors), and the UNIDO/IFDC Fertilizer Manual (1998) for
// urea ammonium nitrate; the fall of density is that of the same lists, some 0.06 % per degree. All others from memory.
const LINES: [Line; 9] = [
    (
        "UAN 28 % N, urea ammonium nitrate solution",
        1281.0,
        0.77,
        Source::Published,
        [5.0, 3.4, 2.5, 1.9],
        Some(-18.0),
        BY_NITROGEN,
    ),
    (
        "UAN 30 % N, urea ammonium nitrate solution",
        1303.0,
        0.78,
        Source::Published,
        [6.4, 4.3, 3.1, 2.4],
        Some(-10.0),
        BY_NITROGEN,
    ),
    (
        "UAN 32 % N, urea ammonium nitrate solution",
        1323.0,
        0.79,
        Source::Published,
        [7.8, 5.2, 3.8, 2.9],
        Some(-1.0),
        BY_NITROGEN,
    ),
    (
        "10-34-0, ammonium polyphosphate solution",
        1380.0,
        0.80,
        Source::Published,
        [130.0, 80.0, 50.0, 35.0],
        Some(-23.0),
        BY_MIXES,
    ),
    (
        "Ammonium thiosulphate solution, 12 % N, 26 % S",
        1330.0,
        0.75,
        Source::Assumed,
        [7.5, 5.2, 4.0, 3.2],
        Some(-7.0),
        BY_MIXES,
    ),
    (
        "Potassium thiosulphate solution, 25 % K₂O, 17 % S",
        1470.0,
        0.80,
        Source::Assumed,
        [18.0, 13.0, 10.0, 8.0],
        Some(-10.0),
        BY_MIXES,
    ),
    ("Urea solution, 20 % N", 1120.0, 0.50, Source::Assumed, [2.9, 2.2, 1.75, 1.4], Some(7.0), BY_NITROGEN),
    (
        "Zinc sulphate solution, 10 %",
        1107.0,
        0.40,
        Source::Assumed,
        [2.7, 2.0, 1.5, 1.2],
        Some(-2.0),
        BY_SALT,
    ),
    (
        "Inoculant or trace elements in water",
        1020.0,
        0.20,
        Source::Assumed,
        [2.1, 1.6, 1.25, 1.0],
        Some(0.0),
        &[],
    ),
];

/// Water first, then solutions, what tells them apart first: lists cut long names at their end.
pub fn generic_liquids() -> Vec<Liquid> {
    let solutions =
        LINES.iter().map(|(name, density, fall, source, viscosities, salt_out, attacks)| Liquid {
            name: (*name).to_owned(),
            points: AT
                .iter()
                .zip(viscosities)
                .map(|(celsius, viscosity)| LiquidPoint {
                    temperature: Temperature::from_si(*celsius),
                    density: Density::from_si((density - fall * (celsius - 16.0)).round()),
                    viscosity: Viscosity::from_si((viscosity * 1e3_f64).round() / 1e6),
                })
                .collect(),
            density_source: source.clone(),
            viscosity_source: Source::Assumed,
            salt_out: salt_out.map(Temperature::from_si),
            suspension: false,
            attacks: WettedMaterial::ALL.into_iter().filter(|one| attacks.contains(one)).collect(),
        });
    std::iter::once(Liquid::water()).chain(solutions).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::validate;

    /// Specific gravities of the list of density factors (University of Nebraska extension): 28-0-0 1.28,
    /// 32-0-0 1.32, 10-34-0 1.37; to the list's own rounding of 0.01.
    #[test]
    fn densities_agree_with_the_published_list() {
        let all = generic_liquids();
        for (part, gravity) in [("28 % N", 1.28), ("32 % N", 1.32), ("10-34-0", 1.37)] {
            let liquid = all.iter().find(|one| one.name.contains(part)).unwrap();
            let state = liquid.at(Temperature::from_si(16.0)).unwrap();
            let ours = state.density.si() / 999.0;
            assert!((ours - gravity).abs() < 0.0151, "{}: {ours}", liquid.name);
        }
    }

    /// A narrow list shows some eighteen letters.
    #[test]
    fn names_differ_in_what_a_narrow_list_shows_of_them() {
        let starts: std::collections::BTreeSet<String> =
            generic_liquids().iter().map(|one| one.name.chars().take(16).collect()).collect();
        assert_eq!(starts.len(), generic_liquids().len(), "{starts:?}");
        assert_eq!(starts.iter().filter(|one| one.starts_with("UAN")).count(), 3);
    }

    #[test]
    fn each_is_a_valid_liquid_whose_viscosity_says_that_it_is_assumed() {
        for liquid in generic_liquids() {
            assert!(validate::liquid(&liquid, "liquid").is_empty(), "{}", liquid.name);
            assert!(liquid.name == "Water" || liquid.viscosity_source == Source::Assumed);
            let falls = liquid.points.windows(2).all(|pair| pair[0].viscosity > pair[1].viscosity);
            assert!(falls, "{}", liquid.name);
        }
    }
}
