//! How hard a hose or tube is to bend and what it weighs: what its free piece at a hinge hangs by.
//!
//! Few data sheets say either. What nobody measured is assumed from diameters and material, and marked so wherever it is shown.

use super::catalogue::{Entry, StockKey};
use super::kinds::{Item, StockItem};
use super::wetted_material::WettedMaterial;
use super::{Catalogue, HoseStock};
use crate::quantities::{BendingStiffness, Density, GRAVITY_M_S2, MassPerLength};

/// A value and whether it is assumed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known<T> {
    /// The value.
    pub value: T,
    /// Nobody measured it.
    pub is_assumed: bool,
}

/// Stiffness and weight of a stock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StockBending {
    /// Bending stiffness.
    pub stiffness: Known<BendingStiffness>,
    /// What a metre weighs, empty.
    pub empty: Known<MassPerLength>,
    /// Area of its bore, square metres.
    bore: f64,
}

impl StockBending {
    /// Of a stock of the catalogue; none where it is not there.
    pub fn of(catalogue: &Catalogue, key: &StockKey) -> Option<Self> {
        Self::of_entry(catalogue.entry(key)?)
    }

    /// Of an entry; none where it is no hose or tube.
    pub fn of_entry(entry: &Entry) -> Option<Self> {
        let Item::Stock(item) = &entry.item else { return None };
        let stock = item.dimensions();
        let softest = entry.materials.iter().map(|one| wall(*one));
        let wall = softest.min_by(|a, b| a.modulus.total_cmp(&b.modulus)).unwrap_or_else(|| usual_wall(item));
        Some(Self {
            stiffness: known(stock.stiffness, BendingStiffness::from_si(wall.modulus * moment(stock))),
            empty: known(
                stock.weight,
                MassPerLength::from_si(wall.density * (area(stock.outside.si()) - area(stock.bore.si()))),
            ),
            bore: area(stock.bore.si()),
        })
    }

    /// Stiffness or weight is assumed.
    pub const fn is_assumed(&self) -> bool {
        self.stiffness.is_assumed || self.empty.is_assumed
    }

    /// What a metre weighs filled with a liquid.
    pub fn filled(&self, liquid: Density) -> MassPerLength {
        self.empty.value + MassPerLength::from_si(self.bore * liquid.si())
    }

    /// The weight of what weighs so much a metre over the stiffness, per cubic metre: all that its shape depends on.
    pub fn load(&self, mass: MassPerLength) -> f64 {
        mass.si() * GRAVITY_M_S2 / self.stiffness.value.si()
    }
}

fn known<T>(measured: Option<T>, assumed: T) -> Known<T> {
    Known { is_assumed: measured.is_none(), value: measured.unwrap_or(assumed) }
}

fn area(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// Second moment of area of a tube, π (D⁴ - d⁴) / 64, of any handbook; m⁴.
fn moment(stock: &HoseStock) -> f64 {
    std::f64::consts::PI / 64.0 * (stock.outside.si().powi(4) - stock.bore.si().powi(4))
}

/// What the wall of a hose or tube is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wall {
    /// Modulus in bending at 20 °C, pascals.
    modulus: f64,
    /// Kilograms per cubic metre.
    density: f64,
}

/// Magnitudes of handbooks, from memory; of rubber and soft PVC with a braid of textile, as hoses have it. Grades of one
/// plastic differ by a factor of two.
const fn wall(material: WettedMaterial) -> Wall {
    let (megapascals, density) = match material {
        WettedMaterial::StainlessSteel => (195e3, 7900.0),
        WettedMaterial::PlainSteel => (205e3, 7850.0),
        WettedMaterial::CopperAlloy => (115e3, 8700.0),
        WettedMaterial::Zinc => (100e3, 7100.0),
        WettedMaterial::Aluminium => (70e3, 2700.0),
        WettedMaterial::Polypropylene => (1300.0, 905.0),
        WettedMaterial::Polyethylene => (250.0, 925.0),
        WettedMaterial::Polyamide => (400.0, 1030.0),
        WettedMaterial::Pvc => (25.0, 1250.0),
        WettedMaterial::Polyurethane => (40.0, 1200.0),
        WettedMaterial::Acetal => (2800.0, 1410.0),
        WettedMaterial::Epdm => (25.0, 1200.0),
        WettedMaterial::Nitrile => (25.0, 1250.0),
        WettedMaterial::FluoroElastomer => (25.0, 1850.0),
    };
    Wall { modulus: megapascals * 1e6, density }
}

/// Where nobody said what it is made of: hoses of rubber, tubes of polyethylene (common practice, no source).
const fn usual_wall(item: &StockItem) -> Wall {
    match item {
        StockItem::Hose(_) => wall(WettedMaterial::Epdm),
        StockItem::Tube(_) | StockItem::MeteringTube(_) => wall(WettedMaterial::Polyethylene),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::EntryKey;
    use crate::quantities::{Length, Pressure};

    fn entry(materials: Vec<WettedMaterial>, stock: HoseStock) -> Entry {
        Entry {
            key: EntryKey::new("tube"),
            description: String::new(),
            part_number: String::new(),
            connection: String::new(),
            price: None,
            roll: None,
            materials,
            calibrated: None,
            item: Item::Stock(StockItem::Tube(stock)),
        }
    }

    fn six_by_eight() -> HoseStock {
        HoseStock {
            bore: Length::millimetres(6.0),
            outside: Length::millimetres(8.0),
            roughness: Length::ZERO,
            bend_radius: Length::millimetres(40.0),
            rated: Pressure::bar(9.0),
            stiffness: None,
            weight: None,
        }
    }

    /// By hand: π (8⁴ - 6⁴) / 64 = 137.44 mm⁴ and π (8² - 6²) / 4 = 21.99 mm²; π 6² / 4 = 28.27 mm² of bore.
    #[test]
    fn a_tube_is_as_stiff_and_heavy_as_its_section_makes_it() {
        let bending =
            StockBending::of_entry(&entry(vec![WettedMaterial::Polyethylene], six_by_eight())).unwrap();
        assert!((bending.stiffness.value.si() - 250e6 * 137.44e-12).abs() < 1e-4 * 0.03436, "{bending:?}");
        assert!((bending.empty.value.si() - 925.0 * 21.99e-6).abs() < 1e-5, "{bending:?}");
        let filled = bending.filled(Density::from_si(1000.0)) - bending.empty.value;
        assert!((filled.si() - 28.27e-3).abs() < 1e-5, "{filled:?}");
        assert!(bending.is_assumed());
        let unknown = StockBending::of_entry(&entry(Vec::new(), six_by_eight())).unwrap();
        assert_eq!(unknown, bending, "a tube of which nothing is said is one of polyethylene");
    }

    #[test]
    fn what_was_measured_is_taken_and_not_called_assumed() {
        let stock = HoseStock {
            stiffness: Some(BendingStiffness::from_si(0.05)),
            weight: Some(MassPerLength::from_si(0.03)),
            ..six_by_eight()
        };
        let bending = StockBending::of_entry(&entry(Vec::new(), stock)).unwrap();
        assert!(!bending.is_assumed());
        assert!((bending.load(bending.empty.value) - 0.03 * GRAVITY_M_S2 / 0.05).abs() < 1e-9);
    }
}
