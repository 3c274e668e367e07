//! What wetted parts are made of, in groups that liquids treat alike, and what a liquid attacks.

use serde::{Deserialize, Serialize};
use strum::EnumCount;

/// A group of materials.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, EnumCount)]
pub enum WettedMaterial {
    /// Chromium-nickel steel.
    StainlessSteel,
    /// Steel without chromium or nickel, painted or not.
    PlainSteel,
    /// Copper and its alloys.
    CopperAlloy,
    /// Zinc, and steel that is galvanised with it.
    Zinc,
    /// Aluminium and its alloys.
    Aluminium,
    /// Polypropylene, with glass fibre or without.
    Polypropylene,
    /// Polyethylene.
    Polyethylene,
    /// Polyamide (nylon).
    Polyamide,
    /// Plasticised or hard polyvinyl chloride.
    Pvc,
    /// Polyurethane.
    Polyurethane,
    /// Acetal (polyoxymethylene).
    Acetal,
    /// Rubber of ethylene, propylene and a diene.
    Epdm,
    /// Nitrile rubber.
    Nitrile,
    /// Fluoro-elastomer.
    FluoroElastomer,
}

impl WettedMaterial {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [
        Self::StainlessSteel,
        Self::PlainSteel,
        Self::CopperAlloy,
        Self::Zinc,
        Self::Aluminium,
        Self::Polypropylene,
        Self::Polyethylene,
        Self::Polyamide,
        Self::Pvc,
        Self::Polyurethane,
        Self::Acetal,
        Self::Epdm,
        Self::Nitrile,
        Self::FluoroElastomer,
    ];

    /// As people call it, on papers and in tables; no two alike, none with a semicolon.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CopperAlloy => "brass, bronze or copper",
            Self::Zinc => "zinc or galvanised steel",
            Self::PlainSteel => "plain steel",
            Self::StainlessSteel => "stainless steel",
            Self::Aluminium => "aluminium",
            Self::Polypropylene => "polypropylene",
            Self::Polyethylene => "polyethylene",
            Self::Polyamide => "polyamide",
            Self::Pvc => "PVC",
            Self::Polyurethane => "polyurethane",
            Self::Acetal => "acetal",
            Self::Epdm => "EPDM",
            Self::Nitrile => "nitrile rubber",
            Self::FluoroElastomer => "fluoro-elastomer",
        }
    }

    /// Softens as it gets warm, so that it bears less pressure.
    pub const fn is_thermoplastic(self) -> bool {
        match self {
            Self::Polypropylene
            | Self::Polyethylene
            | Self::Polyamide
            | Self::Pvc
            | Self::Polyurethane
            | Self::Acetal => true,
            Self::StainlessSteel
            | Self::PlainSteel
            | Self::CopperAlloy
            | Self::Zinc
            | Self::Aluminium
            | Self::Epdm
            | Self::Nitrile
            | Self::FluoroElastomer => false,
        }
    }

    /// By its name, whatever the case.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|one| one.name().eq_ignore_ascii_case(name.trim()))
    }
}

/// Several as they stand in a table: `polypropylene; EPDM`.
pub fn listed(materials: &[WettedMaterial]) -> String {
    materials.iter().map(|one| one.name()).collect::<Vec<_>>().join("; ")
}

/// Each once, in the order of [`WettedMaterial::ALL`], which is how lists of them are kept.
pub fn is_in_order(materials: &[WettedMaterial]) -> bool {
    materials.windows(2).all(|pair| pair[0] < pair[1])
}

/// What is in a list and what is not: adds a material, or takes it out; the order is that of [`WettedMaterial::ALL`].
pub fn switch(materials: &mut Vec<WettedMaterial>, material: WettedMaterial) {
    let had = materials.contains(&material);
    let wanted = |one: &WettedMaterial| if *one == material { !had } else { materials.contains(one) };
    *materials = WettedMaterial::ALL.into_iter().filter(wanted).collect();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_has_a_name_of_its_own_that_is_read_back() {
        for one in WettedMaterial::ALL {
            assert_eq!(WettedMaterial::named(&one.name().to_uppercase()), Some(one));
            assert!(!one.name().contains(';'));
        }
        assert_eq!(WettedMaterial::named("cheese"), None);
    }

    #[test]
    fn they_are_offered_in_their_order() {
        assert!(is_in_order(&WettedMaterial::ALL));
        assert!(!is_in_order(&[WettedMaterial::Epdm, WettedMaterial::Epdm]));
    }

    #[test]
    fn switching_twice_changes_nothing() {
        let mut some = vec![WettedMaterial::PlainSteel, WettedMaterial::Epdm];
        switch(&mut some, WettedMaterial::CopperAlloy);
        assert_eq!(some, [WettedMaterial::PlainSteel, WettedMaterial::CopperAlloy, WettedMaterial::Epdm]);
        switch(&mut some, WettedMaterial::CopperAlloy);
        assert_eq!(some, [WettedMaterial::PlainSteel, WettedMaterial::Epdm]);
    }
}
