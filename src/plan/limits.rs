//! The limits that findings are measured against: one table of them all, from which fields, defaults, files, what is
//! refused and the form in the window come. A new limit is one entry of `limits!`; a file holds only those that were
//! changed, so that it opens whatever was added since.

use super::settings_table::settings_table;
use crate::quantities::{Angle, Length, Measure, Pressure, Ratio, Speed, Volume};

/// What a hose goes over a barb with its clamp, in bores of the hose: 2 (common practice, no source).
pub const BARB_IN_BORES: f64 = 2.0;

/// Where a limit comes from that nobody published.
const COMMON_PRACTICE: &str = "common practice, no source";

/// One limit, with what a form and a file need to know.
pub struct Limit {
    /// The name of its field, in files too.
    pub key: &'static str,
    /// As people read it.
    pub name: &'static str,
    /// What it measures.
    pub measure: Measure,
    /// Unless someone changes it, in the stored unit.
    pub default: f64,
    /// The least that is taken, in the stored unit.
    pub least: f64,
    /// The most that is taken, in the stored unit.
    pub most: f64,
    /// Where the default comes from.
    pub source: &'static str,
    get: fn(&Limits) -> f64,
    set: fn(&mut Limits, f64),
}

impl Limit {
    /// Its value, in the stored unit.
    pub fn of(&self, limits: &Limits) -> f64 {
        (self.get)(limits)
    }

    /// Gives it a value, in the stored unit.
    pub fn set(&self, limits: &mut Limits, value: f64) {
        (self.set)(limits, value);
    }
}

macro_rules! limits {
    ($($(#[$doc:meta])* $field:ident: $kind:ident = $default:expr, $least:expr => $most:expr, $measure:ident, $name:literal, $source:expr;)*) => {
        settings_table! {
            /// Limits of one project.
            #[derive(Debug, Clone, Copy, PartialEq)]
            Limits, Limit;
            $($(#[$doc])* $field: $kind = $kind::from_si($default), {
                name: $name,
                measure: Measure::$measure,
                default: $default,
                least: $least,
                most: $most,
                source: $source,
                get: |limits| limits.$field.si(),
                set: |limits, value| limits.$field = $kind::from_si(value),
            })*
        }
    };
}

// Field: quantity = default, least => most, shown as, name, source; numbers in the stored unit (0.05 is 5 %).
limits! {
    /// Largest deviation of a row from its target.
    row_deviation: Ratio = 0.05, 1e-3 => 10.0, Percent, "Row flow from target",
        "each outlet within 5 % of the average: University of Georgia Extension, fertilizer applicator calibration";
    /// Largest deviation a design should show on the flat.
    design_deviation: Ratio = 0.03, 1e-3 => 10.0, Percent, "The same, by design", COMMON_PRACTICE;
    /// Coefficient of variation that counts as good.
    cv_good: Ratio = 0.03, 1e-3 => 10.0, Percent, "CV that is good", COMMON_PRACTICE;
    /// Coefficient of variation that is still acceptable.
    cv_acceptable: Ratio = 0.05, 1e-3 => 10.0, Percent, "CV still acceptable", COMMON_PRACTICE;
    /// Mesh opening at most this share of the smallest bore behind it.
    mesh_share: Ratio = 0.5, 1e-3 => 10.0, Percent, "Mesh, of smallest bore", COMMON_PRACTICE;
    /// What the pump has to spare.
    pump_reserve: Ratio = 0.2, 0.0 => 10.0, Percent, "Pump reserve", "Virginia Tech extension 442-452";
    /// A run is longer than its longest path through a fold by this.
    hinge_slack: Ratio = 0.05, 0.0 => 10.0, Percent, "Slack at a hinge", COMMON_PRACTICE;
    /// What a hose or tube is cut longer for each hinge it crosses, until the fold trial shows its length.
    rough_cut: Length = 0.5, 0.0 => 5.0, CutLength, "Rough cut over length, a hinge", COMMON_PRACTICE;
    /// What each cut takes from a roll besides its piece: the end is cut square.
    cut_trim: Length = 0.01, 0.0 => 0.5, CutLength, "Trim at each cut", COMMON_PRACTICE;
    /// What a tube to a row is cut longer than its way, for the loop that lets its opener rise and trip.
    opener_loop: Length = 0.25, 0.0 => 5.0, CutLength, "Loop at an opener", COMMON_PRACTICE;
    /// What the supply hose is cut longer than its way, for the loop that lets the hitch turn and lift.
    hitch_loop: Length = 0.5, 0.0 => 5.0, CutLength, "Loop at the hitch", COMMON_PRACTICE;
    /// Largest velocity in hoses under pressure.
    hose_velocity: Speed = 2.5, 0.01 => 50.0, Velocity, "Velocity in hoses", COMMON_PRACTICE;
    /// The pressure drop over the metering is at least this many times the cracking pressure.
    metering_over_cracking: Ratio = 5.0, 0.0 => 1000.0, Plain, "Metering over cracking",
        "computed: a scatter of ±20 % in cracking then costs ±2 % of flow, 0.5 · 0.2 / 5";
    /// What metering tubes are cut to: their lengths are multiples of it.
    cut_step: Length = 0.005, 1e-4 => 1.0, CutLength, "Metering tubes cut to", COMMON_PRACTICE;
    /// Share of bars built of parts that scatter which keep the limits of rows and CV.
    bars_within: Ratio = 0.9, 0.0 => 1.0, Percent, "Built bars within limits", COMMON_PRACTICE;
    /// A high point in a hose is told from here on: how far down its air must be driven before it leaves.
    high_point: Length = 0.1, 0.0 => 10.0, Distance, "High point that keeps air, from", COMMON_PRACTICE;
    /// A hose is tied at least every so many of its outside diameters.
    hose_supports: Ratio = 30.0, 1.0 => 1000.0, Plain, "Hose tied every, outside diameters", COMMON_PRACTICE;
    /// A carrier across open frame is so wide and high: an angle or box that carries a bay of full hoses.
    carrier_size: Length = 0.04, 0.005 => 0.5, CutLength, "Carrier, wide and high (assumed)", COMMON_PRACTICE;
    /// How thick a carrier's wall is: of an angle or box of steel.
    carrier_wall: Length = 0.003, 5e-4 => 0.05, CutLength, "Carrier, wall of steel (assumed)", COMMON_PRACTICE;
    /// What a carrier goes on beyond the middle of what it is fixed to, at each end that is.
    carrier_overlap: Length = 0.05, 0.0 => 0.5, CutLength, "Carrier, overlap at each end (assumed)", COMMON_PRACTICE;
    /// What carriers are cut from is so long.
    carrier_stock: Length = 6.0, 0.1 => 50.0, Distance, "Carrier, stock length (assumed)", COMMON_PRACTICE;
    /// Of main hoses of one bore the one with most flow asked of it carries at most so many times what the one with least
    /// does.
    unequal_mains: Ratio = 1.5, 1.0 => 1000.0, Plain, "Flow of equal mains, most over least",
        "computed: friction grows with flow to the 1.75 (Blasius 1913), so 1.5 times the flow costs twice the pressure";
    /// What stays between plumbing and what comes to it when the bar folds.
    fold_clearance: Length = 0.01, 0.0 => 1.0, CutLength, "Clearance when folding", COMMON_PRACTICE;
    /// How wide an opener is, with its stem.
    opener_width: Length = 0.08, 0.0 => 1.0, CutLength, "Opener, width (assumed)", COMMON_PRACTICE;
    /// How far an opener reaches above its outlet.
    opener_height: Length = 0.5, 0.0 => 3.0, CutLength, "Opener, above its outlet (assumed)", COMMON_PRACTICE;
    /// How far an opener rises over a stone.
    opener_rise: Length = 0.25, 0.0 => 3.0, CutLength, "Opener, rises by (assumed)", COMMON_PRACTICE;
    /// How far an opener goes back where it trips.
    opener_trip: Length = 0.25, 0.0 => 3.0, CutLength, "Opener, trips back by (assumed)", COMMON_PRACTICE;
    /// Reynolds numbers where the flow of a metering tube can't be predicted within some 30 %: from here.
    reynolds_from: Ratio = 2000.0, 1.0 => 1e6, Plain, "Reynolds number from", COMMON_PRACTICE;
    /// Up to here.
    reynolds_to: Ratio = 4000.0, 1.0 => 1e7, Plain, "Reynolds number to", COMMON_PRACTICE;
    /// Side and fore-aft slope that a study tries.
    tried_slope: Angle = 0.099_668_652_491_162_04, 0.0 => 0.7, Slope, "Slope that is tried", COMMON_PRACTICE;
    /// What worn metering passes more, as a study tries it.
    tried_wear: Ratio = 0.1, 1e-3 => 1.0, Percent, "Wear that is tried",
        "10 % more than new: replace; extension services on sprayer nozzles";
    /// What a loaded filter takes more, as a study tries it.
    tried_filter_load: Pressure = 35e3, 1e2 => 1e6, Pressure, "Filter load that is tried", COMMON_PRACTICE;
    /// What the tank holds: a catch test does not run it empty.
    tank_holds: Volume = 2.0, 1e-3 => 100.0, Volume, "Tank holds (assumed)", COMMON_PRACTICE;
    /// What is left of the bore of a crushed hose, as a study tries it.
    tried_crush: Ratio = 0.5, 0.05 => 0.99, Percent, "Bore left of a crushed hose", COMMON_PRACTICE;
    /// How many times thicker a liquid may be than its table says, as a study tries it.
    tried_thickness: Ratio = 2.0, 1.01 => 100.0, Plain, "Viscosity that is tried, times", COMMON_PRACTICE;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_reads_and_sets_each_limit_by_itself() {
        for limit in &TABLE {
            assert!((limit.least..=limit.most).contains(&limit.default), "{}", limit.name);
            assert!(!limit.source.is_empty() && !limit.name.is_empty());
            let mut limits = Limits::default();
            assert_eq!(limit.of(&limits), limit.default, "{}", limit.name);
            limit.set(&mut limits, limit.most);
            let changed: Vec<&str> =
                TABLE.iter().filter(|one| one.of(&limits) != one.default).map(|one| one.key).collect();
            assert_eq!(changed, [limit.key]);
        }
    }

    #[test]
    fn a_file_holds_what_was_changed_and_an_older_one_opens() {
        let mut limits = Limits::default();
        assert_eq!(ron::to_string(&limits).as_deref(), Ok("()"));
        limits.pump_reserve = Ratio::percent(25.0);
        let text = ron::to_string(&limits);
        assert_eq!(text.as_deref(), Ok("(pump_reserve:0.25)"));
        assert_eq!(ron::from_str::<Limits>("(pump_reserve:0.25)"), Ok(limits));
        assert!(
            ron::from_str::<Limits>("(pump_reserv:0.25)")
                .is_err_and(|error| error.to_string().contains("pump_reserv"))
        );
    }
}
