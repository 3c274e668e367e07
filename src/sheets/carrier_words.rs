//! Carriers in words: what of their sizes is assumed, how many lengths they are cut from, what is packed beneath them.

use std::fmt::Write as _;

use super::cut_plan::to_micrometres;
use super::packing::first_fit_decreasing;
use crate::plan::held::{Carrier, CarrierEnd, CarrierHold};
use crate::plan::place_words::tape;
use crate::plan::{Limits, Project, words};
use crate::quantities::{Length, Measure, UnitSystem};

/// ` (ASSUMED)` where nobody entered a limit.
pub(super) fn assumed(project: &Project, limit: impl Fn(&Limits) -> Length) -> &'static str {
    if limit(&project.limits) == limit(&Limits::default()) { " (ASSUMED)" } else { "" }
}

/// How many stock lengths give pieces of these lengths, in words: `4 lengths of 6.00 m (ASSUMED) to cut from, 10 mm (ASSUMED) lost at each cut between pieces`.
pub(super) fn to_buy(project: &Project, pieces: &[Length]) -> String {
    let (limits, units) = (&project.limits, project.units);
    let with_trim: Vec<u64> = pieces.iter().map(|piece| to_micrometres(*piece + limits.cut_trim)).collect();
    // The last piece may end where its length does, without a cut.
    let room = to_micrometres(limits.carrier_stock + limits.cut_trim).max(1);
    let packing = first_fit_decreasing(&with_trim, &[], room);
    let trim = Measure::CutLength.short_text(limits.cut_trim.si(), units);
    let mut says = format!(
        "{} of {}{} to cut from, {trim}{} lost at each cut between pieces",
        words::counted(packing.rolls.len(), "length"),
        Measure::Distance.text(limits.carrier_stock.si(), units),
        assumed(project, |limits| limits.carrier_stock),
        assumed(project, |limits| limits.cut_trim)
    );
    if !packing.too_long.is_empty() {
        let _ = write!(says, "; {} longer than that", words::counted(packing.too_long.len(), "piece"));
    }
    says
}

/// From the top of the members that a carrier is fixed to up to its underside: at one end, or at both where these differ.
pub(super) fn packing(carrier: &Carrier, units: UnitSystem) -> String {
    let under = |end: &CarrierEnd| match end.on {
        CarrierHold::Member(member) => {
            let share =
                member.from.flat().distance(end.at.flat()) / member.from.flat().distance(member.to.flat());
            let middle = member.from.towards(member.to, share.clamp(0.0, 1.0)).z;
            // From the top as it is printed beside this, so that both add up.
            let top = Measure::CutLength.rounded(end.at.z, units);
            Some(top - carrier.size.si() - middle - member.width.si() / 2.0)
        }
        CarrierHold::Carrier(_) | CarrierHold::Free => None,
    };
    let text = |gap: f64| {
        let number = tape(gap, units);
        if gap < -0.0005 { format!("−{number}") } else { number }
    };
    let mut all: Vec<String> = carrier.ends.iter().filter_map(under).map(text).collect();
    all.dedup();
    if all.is_empty() { "–".to_owned() } else { all.join(" / ") }
}
