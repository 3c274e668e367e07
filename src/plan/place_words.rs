//! Where something is, as a tape measure finds it: in the words of drawings, lists and findings.

use super::bar::Bar;
use super::{Project, SectionId};
use crate::geometry::Point3;
use crate::quantities::{Measure, UnitSystem};

/// Nearer to a line than this is on it, metres.
const ON_IT: f64 = 0.0005;

/// As a tape measure shows it: millimetres or inches, without sign and unit.
pub fn tape(length: f64, units: UnitSystem) -> String {
    Measure::CutLength.number(length.abs(), units)
}

/// `H 900, F 900`: H is measured from the hinge that the section hangs on, C from the bar's centre line, F from the middle of
/// the section's foremost frame member to the rear.
pub fn position(bar: &Bar, at: Point3, section: SectionId, units: UnitSystem) -> String {
    let beside = along_the_bar(bar, at, section, units);
    match behind_the_front(bar, at, section, units) {
        Some(behind) => format!("{beside}, {behind}"),
        None => beside,
    }
}

/// The part of a [`position`] along the bar: `H 900`, `C 450 left`.
pub fn along_the_bar(bar: &Bar, at: Point3, section: SectionId, units: UnitSystem) -> String {
    let place = bar.place(Some(section), at);
    match (place.from_hinge, place.from_centre) {
        (Some(from), _) => format!("H {}", tape(from, units)),
        (None, x) if x > ON_IT => format!("C {} right", tape(x, units)),
        (None, x) if x < -ON_IT => format!("C {} left", tape(x, units)),
        _ => "C 0".to_owned(),
    }
}

/// The part of a [`position`] across the bar: `F 900`, `F 100 in front`; none where a section has no member.
pub fn behind_the_front(bar: &Bar, at: Point3, section: SectionId, units: UnitSystem) -> Option<String> {
    let behind = bar.place(Some(section), at).behind_front?;
    let way = if behind < -ON_IT { " in front" } else { "" };
    Some(format!("F {}{way}", tape(behind, units)))
}

/// What the letters of a [`position`] are measured from, and in what.
pub fn place_letters(units: UnitSystem) -> String {
    let unit = Measure::CutLength.unit(units).symbol;
    format!(
        "{unit}: C from the centre line, H from the hinge of its section, F behind the middle of the foremost frame member"
    )
}

/// The bar's centre line, and what is beside it: `1200 mm right of the centre line`, `on the centre line`.
fn beside_the_centre_line(x: f64, units: UnitSystem) -> String {
    let text = Measure::CutLength.text(x.abs(), units);
    match x {
        x if x > ON_IT => format!("{text} right of the centre line"),
        x if x < -ON_IT => format!("{text} left of the centre line"),
        _ => "on the centre line".to_owned(),
    }
}

/// Where the pump's outlet is, from the bar's centre line, its foremost frame member and the ground.
pub fn pump(project: &Project, units: UnitSystem) -> String {
    pump_pieces(project, units).join(", ")
}

/// The same, each measure by itself.
pub fn pump_pieces(project: &Project, units: UnitSystem) -> Vec<String> {
    let at = project.supply.pump;
    let members = project.bar.sections.iter().flat_map(|section| &section.members);
    let front = members.map(|member| member.from.y.max(member.to.y)).reduce(f64::max);
    let text = |length: f64| Measure::CutLength.text(length.abs(), units);
    let mut words = vec![beside_the_centre_line(at.x, units)];
    if let Some(front) = front {
        let way = if at.y > front { "in front of" } else { "behind" };
        words.push(format!("{} {way} the frame's front", text(at.y - front)));
    }
    words.push(format!("{} high", text(at.z)));
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{FrameMember, Section};
    use crate::quantities::Length;

    #[test]
    fn places_are_told_from_hinge_or_centre_line_and_from_the_front() {
        let member = FrameMember {
            from: Point3::new(-2.0, 0.5, 1.0),
            to: Point3::new(2.0, 0.5, 1.0),
            width: Length::metres(0.1),
        };
        let centre = Section {
            id: SectionId(1),
            name: "centre".into(),
            hinge: None,
            left: Length::metres(-2.0),
            right: Length::metres(2.0),
            members: vec![member],
        };
        let bar = Bar { sections: vec![centre], ..Bar::default() };
        let at = |x, y| position(&bar, Point3::new(x, y, 1.0), SectionId(1), UnitSystem::Metric);
        assert_eq!(at(0.4, 0.05), "C 400 right, F 450");
        assert_eq!(at(-0.4, 0.6), "C 400 left, F 100 in front");
        assert_eq!(at(0.0, 0.5), "C 0, F 0");
        assert_eq!(beside_the_centre_line(-1.2, UnitSystem::Metric), "1200 mm left of the centre line");
    }
}
