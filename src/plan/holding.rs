//! Works out what holds hoses, tubes and parts where the frame alone does not. Findings name what hangs, papers count and draw
//! what has to be bought. Start reading at [`held`].

use super::bar_point::BarPoint;
use super::carrier_room::CarrierRoom;
use super::carriers::carriers;
use super::held::{Carrier, Held, HingeClamp, InTheWay, Uncarried};
use super::hung_line::{HungLine, hung_lines};
use super::open_air::{TIED, carries_clamp};
use super::routing_geometry::LaidRouting;
use super::solids::part_shape;
use super::{PartId, Project};
use crate::geometry::distance_of_pieces;

/// What holds a routing. Worked out once for each state of its geometry.
pub fn held<'a>(project: &Project, routing: LaidRouting<'a>) -> &'a Held {
    routing.geometry.held.get_or(|| {
        let lines = hung_lines(project, routing);
        let room = CarrierRoom::new(project, routing, &lines);
        let (carriers, uncarried) =
            carriers(&project.bar, &lines, project.limits.carrier_size, |section, ends| {
                room.in_the_way(section, ends)
            });
        let clamps = hinge_clamps(&lines);
        let brackets = clamp_brackets(&clamps, &carriers);
        Held { carriers, uncarried, clamps, brackets, parts: parts_off_frame(project, routing) }
    })
}

/// Why no carrier can stand beneath what hangs, in words.
pub fn why_uncarried(project: &Project, routing: LaidRouting, uncarried: &Uncarried) -> String {
    match &uncarried.why {
        None => "no frame member to fix one to".to_owned(),
        Some(InTheWay::FreePiece(line)) => format!("{} hangs free and moves there in the fold", line.tag),
        Some(InTheWay::Fold(section)) => {
            let name = project.bar.section(*section).map_or("?", |section| &section.name);
            format!("the {name} comes there in the fold")
        }
        Some(InTheWay::Line(line)) => format!("{} lies there", line.tag),
        Some(InTheWay::Opener(row)) => {
            let row =
                project.bar.row(*row).map_or_else(|| "a row".to_owned(), |row| format!("row {}", row.number));
            format!("the opener of {row} rises or trips there")
        }
        Some(InTheWay::Part(part)) => {
            format!("{} is there", routing.part(*part).map_or("a part", |one| one.tag.as_str()))
        }
    }
}

/// The clamps of these lines, two at each hinge that one crosses.
fn hinge_clamps(lines: &[HungLine]) -> Vec<HingeClamp> {
    let mut found = Vec::new();
    for line in lines {
        for crossed in &line.laid.crossings {
            for side in 0..2 {
                let clamp = crossed.computed().map(|crossing| &crossing.clamps[side]);
                found.push(HingeClamp {
                    line: line.held.clone(),
                    outside: line.outside,
                    hinge: crossed.section,
                    at: clamp.map(|clamp| clamp.at),
                    has_member: clamp.map(|clamp| !clamp.needs_carrier),
                });
            }
        }
    }
    found
}

/// The clamps that have neither member nor carrier, those that one bracket holds together: on one section, and none farther
/// from the first than a tie reaches. By their places among the clamps.
fn clamp_brackets(clamps: &[HingeClamp], carriers: &[Carrier]) -> Vec<Vec<usize>> {
    let mut found: Vec<(BarPoint, Vec<usize>)> = Vec::new();
    for (at, clamp) in clamps.iter().enumerate() {
        let Some(point) = clamp.at.filter(|_| clamp.has_member == Some(false)) else { continue };
        if carriers.iter().any(|one| carries(one, point)) {
            continue;
        }
        let near = |one: &BarPoint| one.section == point.section && one.place.distance(point.place) <= TIED;
        match found.iter_mut().find(|(first, _)| near(first)) {
            Some((_, all)) => all.push(at),
            None => found.push((point, vec![at])),
        }
    }
    found.into_iter().map(|(_, all)| all).collect()
}

/// A carrier is near enough to hold a clamp: of its section, as near as for a tie, and beside it between its ends.
pub fn carries(carrier: &Carrier, clamp: BarPoint) -> bool {
    let [from, to] = carrier.bearing();
    let along = to - from;
    let is_beside = (0.0..=along.dot(along)).contains(&(clamp.place - from).dot(along));
    carrier.section == clamp.section && is_beside && distance_of_pieces([from, to], [clamp.place; 2]) <= TIED
}

/// The parts that are screwed onto nothing: no frame member of their section passes beneath them or so near that a short
/// bracket holds them. Parts on ports are held by these.
fn parts_off_frame(project: &Project, routing: LaidRouting) -> Vec<PartId> {
    let mut found = Vec::new();
    for placed in routing.geometry.anchors.parts() {
        let Some(part) = routing.part(placed.id) else { continue };
        let on_port = project.catalogue.item(&part.entry).is_none_or(|item| item.is_on_port());
        if part.mount.is_some() || on_port {
            continue;
        }
        let Some(shape) = part_shape(project, &routing, placed) else { continue };
        // Looked at every hand's breadth of its length.
        let steps = (shape.from.distance(shape.to) / TIED).ceil().max(1.0) as u32;
        let is_held = (0..=steps).any(|step| {
            let place = shape.from.towards(shape.to, f64::from(step) / f64::from(steps));
            carries_clamp(&project.bar, BarPoint { place, section: placed.section })
        });
        if !is_held {
            found.push(placed.id);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::held::{CarrierEnd, CarrierHold, HeldLine};
    use crate::plan::{RowId, SectionId, Subject};
    use crate::quantities::Length;

    /// One bracket holds clamps within 0.15 m of each other that have no member; those on a member or a carrier, or without a
    /// place, none. A carrier 40 mm wide that ends 10 mm beyond a clamp has no room for a tie there.
    #[test]
    fn clamps_without_a_member_take_a_bracket_together() {
        let point = |x: f64, z: f64| Point3::new(x, 0.0, z);
        let clamp = |x: f64, has_member| HingeClamp {
            line: HeldLine { of: Subject::Row(RowId(1)), tag: "T1".into() },
            outside: Length::millimetres(8.0),
            hinge: SectionId(1),
            at: Some(BarPoint { place: point(x, 1.0), section: SectionId(1) }),
            has_member: Some(has_member),
        };
        let nowhere = HingeClamp { at: None, has_member: None, ..clamp(0.0, false) };
        let all = [clamp(0.0, false), clamp(0.1, false), clamp(0.1, true), nowhere, clamp(0.3, false)];
        assert_eq!(clamp_brackets(&all, &[]), [vec![0, 1], vec![4]]);
        let end = |x: f64| CarrierEnd { at: point(x, 0.99), on: CarrierHold::Free };
        let carrier = |from: f64| Carrier {
            mark: "C1".into(),
            section: SectionId(1),
            ends: [end(from), end(1.0)],
            size: Length::millimetres(40.0),
            bears: Vec::new(),
        };
        assert_eq!(clamp_brackets(&all, &[carrier(0.27)]), [vec![0, 1]]);
        assert_eq!(clamp_brackets(&all, &[carrier(0.29)]), [vec![0, 1], vec![4]]);
    }
}
