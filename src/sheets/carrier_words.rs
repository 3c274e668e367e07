//! Carriers and brackets in words: what of their sizes is assumed, how many lengths they are cut from, how they sit at frame
//! members, how far brackets reach.

use std::fmt::Write as _;

use super::cut_plan::to_micrometres;
use super::packing::first_fit_decreasing;
use crate::plan::cutting::cut_length;
use crate::plan::held::{Carrier, CarrierEnd, CarrierHold, Seat};
use crate::plan::open_air::nearest_member;
use crate::plan::place_words::{position, tape};
use crate::plan::{Bar, BarPoint, Limits, Project, words};
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

/// How a carrier is packed at the frame members that it is fixed to: `6`, `beside`, `beneath 3`; at one end, or at both where
/// these differ; a dash where it is fixed to none.
pub(super) fn packing(carrier: &Carrier, units: UnitSystem) -> String {
    let at = |end: &CarrierEnd| {
        let CarrierHold::Member(member) = end.on else { return None };
        let (seat, middle) = carrier.seat(end)?;
        // From the top as it is printed beside this, so that both add up.
        let over = Measure::CutLength.rounded(end.at.z, units) - middle;
        let half = member.width.si() / 2.0;
        Some(match seat {
            Seat::OnTop => tape((over - carrier.size.si() - half).max(0.0), units),
            Seat::Beneath => format!("beneath {}", tape((-half - over).max(0.0), units)),
            Seat::Beside => "beside".to_owned(),
        })
    };
    let mut all: Vec<String> = carrier.ends.iter().filter_map(at).collect();
    all.dedup();
    if all.is_empty() { "–".to_owned() } else { all.join(" / ") }
}

/// `, 13 mm lower`: how a carrier's top stands to another one's, as both are printed; nothing where they read alike.
pub(super) fn height_beside(carrier: &Carrier, other: &Carrier, units: UnitSystem) -> String {
    let top = |one: &Carrier| Measure::CutLength.rounded(one.top().si(), units);
    let over = top(carrier) - top(other);
    let apart = Measure::CutLength.short_text(over.abs(), units);
    if apart == Measure::CutLength.short_text(0.0, units) {
        String::new()
    } else {
        format!(", {apart} {}", if over < 0.0 { "lower" } else { "higher" })
    }
}

/// The carriers that end at the side of a frame member, since they come too low to lie on it: their marks with how many ends.
pub(super) fn beside_members(carriers: &[Carrier]) -> Vec<(&str, usize)> {
    let ends = |one: &Carrier| {
        let seats = one.ends.iter().filter_map(|end| one.seat(end));
        seats.filter(|seat| seat.0 == Seat::Beside).count()
    };
    carriers.iter().map(|one| (one.mark.as_str(), ends(one))).filter(|one| one.1 > 0).collect()
}

/// How carriers are fixed to frame members otherwise than by lying on them; `angles` names the item of what joins them.
pub(super) fn at_members(carriers: &[Carrier], angles: &str) -> Vec<String> {
    let mut said = Vec::new();
    let beside = beside_members(carriers);
    let marks = |ends: usize| -> Vec<String> {
        beside.iter().filter(|one| one.1 == ends).map(|one| one.0.to_owned()).collect()
    };
    let groups = [(marks(2), "at both ends"), (marks(1), "at the end at a member")];
    let groups = groups.iter().filter(|one| !one.0.is_empty());
    let groups: Vec<String> = groups.map(|(marks, ends)| format!("{} {ends}", words::tags(marks))).collect();
    if !groups.is_empty() {
        said.push(format!(
            "Too low to lie on the frame member: cut to its side and joined to it by an angle{angles}: {}",
            words::list(&groups)
        ));
    }
    let mut meet: Vec<String> = Vec::new();
    for (at, carrier) in carriers.iter().enumerate() {
        let others = carrier.ends.iter().filter_map(|end| carrier.goes_on(end, carriers));
        let later = others.filter(|other| carriers.iter().skip(at).any(|one| one == *other));
        meet.extend(later.map(|other| format!("{} and {}", carrier.mark, other.mark)));
    }
    if !meet.is_empty() {
        said.push(format!(
            "In one line: cut to meet over the middle of the frame member that both are fixed to: {}",
            meet.join("; ")
        ));
    }
    said
}

/// A bracket from what it holds to the nearest frame member.
pub(super) struct BracketReach {
    /// With its overlap on the member, in the steps of a tape.
    pub(super) length: Length,
    /// How far that is, in words: `300 mm across and 110 mm down to the frame member at C 700 right, F 600`.
    pub(super) says: String,
}

/// The bracket of what is there; none where its section has no member.
pub(super) fn bracket_reach(project: &Project, at: &BarPoint) -> Option<BracketReach> {
    // What is fixed to another section would not fold with it.
    let own = Bar { sections: vec![project.bar.section(at.section)?.clone()], ..Bar::default() };
    let member = nearest_member(&own, at.place)?;
    let units = project.units;
    let length = Length::metres(member.place.distance(at.place)) + project.limits.carrier_overlap;
    let text = |length: f64| Measure::CutLength.short_text(length.abs(), units);
    let down = at.place.z - member.place.z;
    Some(BracketReach {
        length: cut_length(length, units, false),
        says: format!(
            "{} across and {} {} to the frame member at {}",
            text(member.place.flat().distance(at.place.flat())),
            text(down),
            if down < 0.0 { "up" } else { "down" },
            position(&project.bar, member.place, at.section, units)
        ),
    })
}
