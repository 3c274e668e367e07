//! How parts scatter as they are sold and cut, and how far the liquid in the field may differ from the one planned with:
//! one table of all spreads, from which fields, defaults, files, what is refused and the form in the window come. A new
//! spread is one entry of `spreads!`; a file holds only those that were changed, so that it opens whatever was added since.

use serde::{Deserialize, Serialize};
use strum::EnumCount;

use super::settings_table::settings_table;
use crate::quantities::Measure;

/// Where a spread comes from that nobody measured or published.
const ASSUMED: &str = "assumed";

/// How a value is spread about its mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, EnumCount)]
pub enum Shape {
    /// Most near the mean, few far from it: what many small causes make.
    Normal,
    /// Alike between two ends, 1.73 standard deviations from the mean: what a tolerance says that is just kept.
    Rectangular,
    /// Falling to both ends, 2.45 standard deviations from the mean.
    Triangular,
}

impl Shape {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [Self::Normal, Self::Rectangular, Self::Triangular];

    /// Its name.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Rectangular => "rectangular",
            Self::Triangular => "triangular",
        }
    }
}

/// A spread of one kind of value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spread {
    /// Standard deviation: a part of the value, or in the stored unit; see [`SpreadEntry::is_relative`].
    pub sd: f64,
    /// Its shape.
    pub shape: Shape,
    /// The same difference for all pieces, as of one batch or roll; else each piece has its own.
    pub common: bool,
}

/// One spread, with what a form and a file need to know.
pub struct SpreadEntry {
    /// Which.
    pub kind: SpreadKind,
    /// The name of its field, in files too.
    pub key: &'static str,
    /// As people read it.
    pub name: &'static str,
    /// What its standard deviation measures.
    pub measure: Measure,
    /// Its standard deviation is a part of the value.
    pub is_relative: bool,
    /// It is of something that there is one of, as the liquid: always common.
    pub is_one: bool,
    /// Unless someone changes it.
    pub usual: Spread,
    /// The largest standard deviation that is taken.
    pub most: f64,
    /// Where the usual one comes from.
    pub source: &'static str,
    get: fn(&Spreads) -> Spread,
    set: fn(&mut Spreads, Spread),
}

impl SpreadEntry {
    /// Its value.
    pub fn of(&self, spreads: &Spreads) -> Spread {
        (self.get)(spreads)
    }

    /// Gives it a value.
    pub fn set(&self, spreads: &mut Spreads, value: Spread) {
        (self.set)(spreads, value);
    }

    /// Where its value comes from: whoever entered it knows.
    pub fn source_of(&self, spreads: &Spreads) -> &'static str {
        if self.of(spreads) == self.usual { self.source } else { "as entered" }
    }
}

macro_rules! spreads {
    (@relative Relative) => { true };
    (@relative Absolute) => { false };
    (@one One) => { true };
    (@one Pieces) => { false };
    (@one Batch) => { false };
    (@common One) => { true };
    (@common Pieces) => { false };
    (@common Batch) => { true };
    ($($(#[$doc:meta])* $field:ident $kind:ident: $of:ident $measure:ident $sd:literal to $most:literal, $shape:ident, $among:ident, $name:literal, $source:expr;)*) => {
        /// Which spread.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum SpreadKind {
            $($(#[$doc])* $kind,)*
        }

        impl SpreadKind {
            /// All, in the order they are offered.
            pub const ALL: [Self; [$(stringify!($field)),*].len()] = [$(Self::$kind),*];

            /// Its line of the table.
            pub fn entry(self) -> &'static SpreadEntry {
                &TABLE[self as usize]
            }
        }

        settings_table! {
            /// Spreads of one project.
            #[derive(Debug, Clone, PartialEq)]
            Spreads, SpreadEntry;
            $($(#[$doc])* $field: Spread = SpreadKind::$kind.entry().usual, {
                kind: SpreadKind::$kind,
                name: $name,
                measure: Measure::$measure,
                is_relative: spreads!(@relative $of),
                is_one: spreads!(@one $among),
                usual: Spread { sd: $sd, shape: Shape::$shape, common: spreads!(@common $among) },
                most: $most,
                source: $source,
                get: |spreads| spreads.$field,
                set: |spreads, value| spreads.$field = value,
            })*
        }
    };
}

// Field, kind: relative (0.01 is 1 % of the value) or absolute (stored unit), shown as, standard deviation, the most that is
// taken; shape; of each piece, of a batch, or of what there is one of; name; source.
spreads! {
    /// Bore of metering orifices.
    orifice_bore OrificeBore: Relative Percent 0.005 to 0.2, Normal, Pieces, "Bore of orifices",
        "assumed: 1 % of flow";
    /// Discharge coefficient of metering orifices.
    orifice_coefficient OrificeCoefficient: Relative Percent 0.02 to 0.2, Normal, Batch,
        "Discharge coefficient", ASSUMED;
    /// Bore of metering tubes.
    metering_bore MeteringBore: Relative Percent 0.005 to 0.2, Normal, Pieces, "Bore of metering tubes",
        "assumed: pieces of one roll";
    /// Cut length of metering tubes.
    metering_length MeteringLength: Absolute CutLength 0.003 to 0.2, Rectangular, Pieces,
        "Length of metering tubes", "common practice, no source: cut within 5 mm";
    /// Cracking pressure of check valves.
    cracking_pressure CrackingPressure: Relative Percent 0.1 to 0.3, Normal, Pieces, "Cracking pressure",
        "common practice, no source: ±20 % for nearly all";
    /// Bore of delivery tubes.
    tube_bore TubeBore: Relative Percent 0.015 to 0.2, Normal, Pieces, "Bore of delivery tubes", ASSUMED;
    /// Bore of hoses.
    hose_bore HoseBore: Relative Percent 0.01 to 0.2, Normal, Pieces, "Bore of hoses", ASSUMED;
    /// Cut length of hoses and delivery tubes.
    cut_length CutLength: Absolute CutLength 0.01 to 0.5, Rectangular, Pieces, "Length of hoses and tubes", ASSUMED;
    /// Temperature of the liquid.
    temperature Temperature: Absolute TemperatureSpan 3.0 to 20.0, Normal, One, "Liquid's temperature", ASSUMED;
    /// Viscosity of the liquid at its temperature.
    viscosity Viscosity: Relative Percent 0.1 to 0.3, Normal, One, "Liquid's viscosity", ASSUMED;
}

impl Spreads {
    /// One of them.
    pub fn of(&self, kind: SpreadKind) -> Spread {
        kind.entry().of(self)
    }

    /// None was changed.
    pub fn are_usual(&self) -> bool {
        *self == Self::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_reads_and_sets_each_spread_by_itself() {
        for (kind, entry) in SpreadKind::ALL.into_iter().zip(&TABLE) {
            assert_eq!(entry.kind, kind);
            assert!(entry.usual.sd > 0.0 && entry.usual.sd <= entry.most, "{}", entry.name);
            assert!(!entry.source.is_empty() && !entry.name.is_empty());
            assert!(entry.usual.common || !entry.is_one, "{}", entry.name);
            let mut spreads = Spreads::default();
            let other = Spread { sd: entry.most, shape: Shape::Triangular, ..entry.usual };
            entry.set(&mut spreads, other);
            assert_eq!(spreads.of(kind), other);
            let changed: Vec<&str> =
                TABLE.iter().filter(|one| one.of(&spreads) != one.usual).map(|one| one.key).collect();
            assert_eq!(changed, [entry.key]);
            assert_eq!(entry.source_of(&spreads), "as entered");
        }
    }

    #[test]
    fn a_file_holds_what_was_changed_and_an_older_one_opens() {
        let mut spreads = Spreads::default();
        assert_eq!(ron::to_string(&spreads).as_deref(), Ok("()"));
        assert!(spreads.are_usual());
        spreads.hose_bore = Spread { sd: 0.02, shape: Shape::Rectangular, common: true };
        let text = ron::to_string(&spreads);
        assert_eq!(text.as_deref(), Ok("(hose_bore:(sd:0.02,shape:Rectangular,common:true))"));
        assert_eq!(ron::from_str::<Spreads>(&text.unwrap()), Ok(spreads));
        assert!(
            ron::from_str::<Spreads>("(hose_bores:(sd:0.02,shape:Normal,common:true))")
                .is_err_and(|error| error.to_string().contains("hose_bores"))
        );
    }
}
