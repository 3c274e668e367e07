//! How common each cause of an uneven catch is, before anything is caught: one table of all kinds of causes, from which fields,
//! defaults, files, what is refused and the form in the window come. A new kind is one entry of `causes!`; a file holds only
//! those weights that were changed.

use super::settings_table::settings_table;

/// Where every weight comes from until somebody enters one.
const PRACTICE: &str = "common practice, no source";

/// The most that a weight may be.
pub const MOST_WEIGHT: f64 = 1000.0;

/// A kind of cause, with what a form and a file need to know.
pub struct CauseEntry {
    /// Which.
    pub kind: CauseKind,
    /// The name of its field, in files, tables and JSON too.
    pub key: &'static str,
    /// As people read it, lower case.
    pub name: &'static str,
    /// Its weight unless someone changes it: in about so many of 100 catch tests.
    pub usual: f64,
    get: fn(&CauseWeights) -> f64,
    set: fn(&mut CauseWeights, f64),
}

impl CauseEntry {
    /// Its weight; 0 or more.
    pub fn of(&self, weights: &CauseWeights) -> f64 {
        (self.get)(weights)
    }

    /// Gives it a weight.
    pub fn set(&self, weights: &mut CauseWeights, value: f64) {
        (self.set)(weights, value);
    }

    /// Where its weight comes from: whoever entered it knows.
    pub fn source_of(&self, weights: &CauseWeights) -> &'static str {
        if self.of(weights) == self.usual { PRACTICE } else { "as entered" }
    }
}

macro_rules! causes {
    ($($(#[$doc:meta])* $field:ident $kind:ident: $usual:literal, $name:literal;)*) => {
        /// What may explain a catch test.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum CauseKind {
            $($(#[$doc])* $kind,)*
        }

        impl CauseKind {
            /// All, in the order they are offered.
            pub const ALL: [Self; [$(stringify!($field)),*].len()] = [$(Self::$kind),*];

            /// Its line of the table.
            pub fn entry(self) -> &'static CauseEntry {
                &TABLE[self as usize]
            }

            /// Its name for programs.
            pub fn key(self) -> &'static str {
                self.entry().key
            }

            /// It is about the whole set of metering.
            pub const fn is_of_all_metering(self) -> bool {
                matches!(self, Self::AllMeteringWorn | Self::AllMeteringBlocked | Self::AllMeteringOtherSize)
            }

            /// As people read it, lower case.
            pub fn words(self) -> &'static str {
                self.entry().name
            }
        }

        settings_table! {
            /// How common each cause is: in about so many of 100 catch tests. A kind that may befall several rows or parts
            /// shares its weight among them evenly; only their ratios count, and one of 0 is never named.
            #[derive(Debug, Clone, PartialEq)]
            CauseWeights, CauseEntry;
            $($(#[$doc])* $field: f64 = CauseKind::$kind.entry().usual, {
                kind: CauseKind::$kind,
                name: $name,
                usual: $usual,
                get: |weights| weights.$field,
                set: |weights, value| weights.$field = value,
            })*
        }
    };
}

// Field, kind: weight, name. All weights are common practice, no source.
causes! {
    /// Nothing but the scatter of jug, watch and parts as sold.
    scatter_only ScatterOnly: 50.0, "nothing but scatter";
    /// The metering of a row is blocked, wholly or in part.
    metering_blocked MeteringBlocked: 8.0, "metering blocked";
    /// The metering of a row is worn wider.
    metering_worn MeteringWorn: 2.0, "metering worn";
    /// The metering of a row is not there.
    metering_lost MeteringLost: 0.5, "metering lost";
    /// The metering of a row is another one of the catalogue.
    metering_other_size MeteringOtherSize: 2.0, "metering of another size";
    /// The meterings of two rows are in each other's place.
    metering_exchanged MeteringExchanged: 1.0, "metering of two rows exchanged";
    /// All metering is worn wider alike.
    all_metering_worn AllMeteringWorn: 1.0, "all metering worn";
    /// All metering is partly closed alike, by a crust or by dirt.
    all_metering_blocked AllMeteringBlocked: 1.5, "all metering crusted or partly blocked";
    /// All metering of an entry is another one of the catalogue: the order or the bag was another.
    all_metering_other_size AllMeteringOtherSize: 1.0, "all metering of another size";
    /// The check valve of a row does not open.
    check_valve_stuck CheckValveStuck: 3.0, "check valve stuck shut";
    /// The check valve of a row opens at too low a pressure, or does not shut.
    check_valve_early CheckValveEarly: 1.0, "check valve opens early";
    /// The check valve of a row opens at too high a pressure.
    check_valve_late CheckValveLate: 2.0, "check valve opens late";
    /// The tube of a row is crushed or kinked.
    tube_crushed TubeCrushed: 3.0, "tube crushed or kinked";
    /// The tube of a row leaks.
    tube_leaking TubeLeaking: 2.0, "tube leaking";
    /// A hose is crushed, kinked or partly blocked: all behind it feel it.
    hose_blocked HoseBlocked: 2.0, "hose partly blocked or crushed";
    /// A tee or the inlet of a manifold is partly blocked: all behind it feel it.
    part_blocked PartBlocked: 1.5, "tee or manifold partly blocked";
    /// A hose of another bore was put in.
    hose_wrong_bore HoseWrongBore: 1.0, "hose of another bore";
    /// The filter holds dirt.
    filter_loaded FilterLoaded: 3.0, "filter loaded";
    /// Two row tubes are on each other's outlet.
    rows_exchanged RowsExchanged: 0.5, "two rows exchanged at the manifold";
    /// A section valve is shut that should be open.
    section_shut SectionShut: 1.0, "section valve not open";
    /// A gauge shows another pressure than there is.
    gauge_wrong GaugeWrong: 3.0, "gauge wrong";
    /// The liquid is thicker than its table says.
    liquid_thicker LiquidThicker: 3.0, "liquid thicker";
    /// The liquid is thinner than its table says.
    liquid_thinner LiquidThinner: 2.0, "liquid thinner";
    /// The pump gives less than it is asked for.
    pump_at_limit PumpAtLimit: 3.0, "pump at its limit";
    /// The controller or its flow meter gives another amount than it is asked for and shows.
    dosed_wrongly DosedWrongly: 3.0, "controller or flow meter doses wrongly";
    /// Amount or time of one row was read or written down wrongly.
    row_misread RowMisread: 4.0, "amount or time of one row written down wrongly";
    /// Amounts or time of all rows were read or written down wrongly.
    all_misread AllMisread: 2.0, "amounts or time of all rows written down wrongly";
    /// Anything that is not on this list.
    none_of_these NoneOfThese: 2.0, "none of these";
}

impl CauseWeights {
    /// The weight of a kind.
    pub fn of(&self, kind: CauseKind) -> f64 {
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
    fn the_table_reads_and_sets_each_weight_by_itself_and_a_file_holds_what_was_changed() {
        assert_eq!(ron::to_string(&CauseWeights::default()).as_deref(), Ok("()"));
        for (kind, entry) in CauseKind::ALL.into_iter().zip(&TABLE) {
            assert_eq!(entry.kind, kind);
            assert!(entry.usual > 0.0 && entry.usual <= MOST_WEIGHT, "{}", entry.name);
            let mut weights = CauseWeights::default();
            entry.set(&mut weights, 7.25);
            assert_eq!(weights.of(kind), 7.25);
            assert_eq!(entry.source_of(&weights), "as entered");
            let text = ron::to_string(&weights).unwrap();
            assert_eq!(text, format!("({}:7.25)", entry.key));
            assert_eq!(ron::from_str::<CauseWeights>(&text), Ok(weights));
        }
        assert!(ron::from_str::<CauseWeights>("(metering_bored:2.0)").is_err());
    }
}
