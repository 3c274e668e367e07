//! Hoses that leave a port sideways.
//!
//! A port faces one way ([`Routing::port_facing`](crate::plan::Routing::port_facing)), and a hose on its barb leaves
//! that way. What is drawn otherwise turns at the port: an elbow does that, a hose only where it has room. Tubes are
//! thin enough to be led aside and are not looked at. Assumed: the ports face as the parts are drawn.

use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::{FittingPlace, Remedy};
use super::words::list;
use super::{Context, Rule};
use crate::geometry::Point3;
use crate::plan::{LineGeometry, Port, PortRef, Run};

pub(super) const RULE: Rule = Rule {
    name: "turn at a port",
    about: "A hose drawn off a port sideways, by 45° or more or with too short a piece for its bend radius: it needs an \
            elbow there, or another way",
    by_speed: false,
    check,
};

/// A hose is led aside from its barb by less than this without an elbow, degrees (assumed, no source).
const FROM: f64 = 45.0;
/// Below this a hose gives on its barb however short its first piece is, degrees (assumed, no source).
const GIVES: f64 = 10.0;

/// One end of a hose that turns.
struct Turn {
    tag: String,
    subject: FindingSubject,
    /// `J1 branch`.
    port: String,
    /// Degrees.
    degrees: f64,
    /// Where an elbow goes, if the catalogue has one.
    elbow: Option<FittingPlace>,
}

fn check(here: &Context) -> Vec<Finding> {
    let mut turns: Vec<Turn> = here.routing.runs.iter().flat_map(|run| turns_of(here, run)).collect();
    turns.sort_by(|a, b| b.degrees.total_cmp(&a.degrees));
    if turns.is_empty() {
        return Vec::new();
    }
    let one = |turn: &Turn| format!("{:.0}° at {}", turn.degrees, turn.port);
    let (mut tags, mut subjects) = (Vec::new(), Vec::new());
    for turn in &turns {
        if !subjects.contains(&turn.subject) {
            subjects.push(turn.subject);
            tags.push(turn.tag.clone());
        }
    }
    let what = match &turns[..] {
        [only] => format!("turns {} at once where it leaves the port", one(only)),
        several => {
            let all: Vec<String> = several.iter().map(|turn| format!("{} {}", turn.tag, one(turn))).collect();
            format!("turn at once where they leave a port: {}", list(&all))
        }
    };
    vec![Finding {
        severity: Severity::Note,
        place: list(&tags),
        what,
        advice: format!(
            "{} there, lead the hose straight out of the port, or turn the part; found from {FROM:.0}° on (assumed, no source) \
             and where the first piece is too short for the bend radius, with ports facing as drawn",
            here.elbow()
        ),
        remedy: turns.into_iter().map(|turn| turn.elbow).collect::<Option<Vec<_>>>().map(Remedy::FitElbows),
        subjects,
        ..here.finding(RULE.name, "")
    }]
}

fn turns_of(here: &Context, run: &Run) -> Vec<Turn> {
    let geometry = here.routing.geometry;
    let Some(mut path) = geometry.run(run.id).map(LineGeometry::places) else { return Vec::new() };
    let Some(stock) = here.project.catalogue.stock(&run.line.stock) else { return Vec::new() };
    let last = run.fittings.len().saturating_sub(1);
    let mut found = Vec::new();
    for (end, fitting) in [(&run.from, 0), (&run.to, last)] {
        let has_elbow = run.fittings.get(fitting).is_some_and(|entry| here.is_elbow(entry));
        if let Some(port) = end.port().filter(|_| !has_elbow)
            && let Some((degrees, piece)) = turn(here, port, &path)
            && (degrees >= FROM - 1e-6
                || (degrees > GIVES && stock.bend_radius.si() * (degrees.to_radians() / 2.0).tan() > piece))
        {
            found.push(Turn {
                tag: run.tag.clone(),
                subject: FindingSubject::Run(run.id),
                port: geometry.anchors.port_words(&here.part_tag(port.part), port),
                degrees,
                elbow: Remedy::elbow(here, run, end).map(|fitting| FittingPlace {
                    run: run.id,
                    at_start: *end == run.from,
                    fitting,
                }),
            });
        }
        path.reverse();
    }
    found
}

/// How far the first piece of a way turns from where its port faces, degrees, and how long that piece is, metres.
fn turn(here: &Context, port: PortRef, path: &[Point3]) -> Option<(f64, f64)> {
    /// Nearer points are one, metres.
    const ONE_POINT: f64 = 1e-6;
    let item = here.item(here.routing.part(port.part)?)?;
    if item.is_on_port() || matches!(port.port, Port::Outlet(_)) {
        return None;
    }
    let facing = here.routing.geometry.anchors.placed_port(port)?.facing;
    let start = path.first()?;
    let next = path.iter().find(|point| point.distance(*start) > ONE_POINT)?;
    let piece = start.distance(*next);
    let along = *next - *start;
    let cosine = (along.x * facing.x + along.y * facing.y) / piece;
    Some((cosine.clamp(-1.0, 1.0).acos().to_degrees(), piece))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::EntryKey;
    use crate::plan::Fitting;
    use crate::plan::FittingForm;
    use crate::plan::{FittingItem, FittingKey, Item, StockItem};

    /// `M1` at (0, 0.5, 0.6) has its inlet in the middle of its front, at (0, 0.55, 0.6), facing forward. A hose that comes
    /// over (x, 0.55 + y, 0.6) turns there by atan(x / y) (by hand); the filter's side is led straight off.
    fn coming_over(x: f64, y: f64) -> Sample {
        let mut sample = Sample::new();
        sample.routing.runs.remove(0);
        sample.routing.runs[0].line.waypoints =
            sample.over(&[Point3::new(0.0, -1.0, 0.6), Point3::new(x, 0.55 + y, 0.6)]);
        sample.resolve();
        sample
    }

    #[test]
    fn a_hose_that_leaves_sideways_is_noted_from_45_degrees_on() {
        assert!(coming_over(0.43, 0.45).of(RULE).is_empty(), "43.7°");
        let finding = coming_over(0.45, 0.45).only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Note, "H2"));
        assert!(finding.what.starts_with("turns 45° at M1 inlet"), "{}", finding.what);
        assert!(coming_over(-0.5, 0.0).only(RULE).what.starts_with("turns 90° at M1 inlet"));
        assert!(coming_over(0.0, 0.5).of(RULE).is_empty(), "straight");
    }

    /// Turning by 40° takes 0.3 m · tan 20° = 0.109 m of the first piece; with 0.1 m · tan 20° = 0.036 m.
    #[test]
    fn a_stiff_hose_needs_more_of_its_first_piece() {
        let (x, y) = (0.1 * 40_f64.to_radians().sin(), 0.1 * 40_f64.to_radians().cos());
        let mut sample = coming_over(x, y);
        assert!(sample.of(RULE).is_empty());
        sample.set_item("hose", |item| {
            if let Item::Stock(StockItem::Hose(stock)) = item {
                stock.bend_radius = crate::quantities::Length::metres(0.3);
            }
        });
        assert!(sample.only(RULE).what.starts_with("turns 40° at M1 inlet"));
    }

    #[test]
    fn an_elbow_makes_the_turn_and_the_catalogue_may_lack_one() {
        let mut sample = coming_over(0.5, 0.0);
        assert!(sample.only(RULE).advice.starts_with("fit an elbow (the catalogue has none yet"));
        let mut entry = sample.project.catalogue.entries[0].clone();
        entry.key = EntryKey::new("knee");
        entry.description = "Bent, barb both ends".to_owned();
        entry.item = FittingItem::Fitting(Fitting {
            bore: crate::quantities::Length::millimetres(15.0),
            k: 0.9,
            form: FittingForm::Elbow,
            rated: None,
        })
        .into();
        sample.project.catalogue.entries.push(entry);
        assert!(sample.only(RULE).advice.starts_with("fit an elbow there"));
        sample.routing.runs[0].fittings.push(FittingKey::new("knee"));
        assert!(sample.of(RULE).is_empty());
    }

    #[test]
    fn several_hoses_are_one_note() {
        let mut sample = Sample::new();
        // Both ends of H2 are led sideways, and the end of H1 on the filter's front.
        sample.routing.runs[0].line.waypoints = sample.over(&[Point3::new(1.0, 1.1, 0.6)]);
        sample.routing.runs[1].line.waypoints =
            sample.over(&[Point3::new(1.0, 0.9, 0.6), Point3::new(1.0, 0.55, 0.6)]);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "H1 and H2");
        assert_eq!(
            finding.what,
            "turn at once where they leave a port: H1 90° at F1 inlet, H2 90° at F1 outlet and H2 90° at M1 inlet"
        );
    }
}
