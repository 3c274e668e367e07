//! What holds hoses, tubes and parts where the frame alone does not: clamps on both sides of a hinge, carriers across open
//! frame, brackets where no member is near. Findings name what hangs, papers count what has to be bought.
//!
//! Nobody draws these pieces: they are worked out from where the frame is and what hangs off it. A carrier counts as a member,
//! so that what lies along it needs none of its own. Start reading at [`hung_lines`] and [`carriers`].

use super::bar::{Bar, FrameMember};
use super::bar_point::BarPoint;
use super::feed::FeedElement;
use super::frame_graph::FREE_TUBE;
use super::open_air::{
    FreeSpan, FreeStretch, HungPath, TIED, beside_member, carries_clamp, longest_free_span, longest_stretch,
    piece_of,
};
use super::routing_geometry::{LaidRouting, LineGeometry};
use super::solids::part_shape;
use super::{End, PartId, Project, RowId, SectionId, StockKey, Subject};
use crate::quantities::Length;

/// What a tube may hang farther than [`FREE_TUBE`], metres: the last tie sits on a bracket (common practice, no source).
const BRACKET: f64 = 0.1;

/// A span that is longer by less than this is none, metres.
const EXACT: f64 = 1e-6;

/// A hose or tube of a routing with what it bears between two ties.
#[derive(Debug, Clone)]
pub struct HungLine<'a> {
    /// The hose, or the row feed that it is a tube of.
    pub of: Subject,
    /// As the cut list names it: `H3`, `T14`, `T14.2`.
    pub tag: String,
    /// The rows that it leads to.
    pub rows: Vec<RowId>,
    /// What it is cut of.
    pub stock: &'a StockKey,
    /// Its outside diameter.
    pub outside: Length,
    /// How it lies.
    pub laid: &'a LineGeometry,
    /// It may hang free so far.
    pub most: Length,
    ends_on_bar: [bool; 2],
    /// Its end moves with an opener.
    ends_at_opener: bool,
    /// The free pieces at hinges, along its way.
    clamped: Vec<[f64; 2]>,
}

impl HungLine<'_> {
    fn path(&self) -> HungPath<'_> {
        HungPath { path: &self.laid.path, ends_on_bar: self.ends_on_bar, clamped: &self.clamped }
    }

    /// The longest stretch on which it hangs free, where that is more than it may.
    pub fn hanging(&self, bar: &Bar) -> Option<FreeSpan> {
        longest_free_span(bar, self.path()).filter(|span| span.length > self.most.si() + EXACT)
    }

    fn stretch(&self, members: &[&FrameMember]) -> Option<FreeStretch> {
        longest_stretch(members, self.path()).filter(|span| span.length > self.most.si() + EXACT)
    }
}

/// The free pieces of a line at its hinges, along the way through its points: between the clamps where these are computed,
/// otherwise from the last point on one section to the first on the next.
fn clamped(laid: &LineGeometry) -> Vec<[f64; 2]> {
    let computed = laid.crossings.iter().filter_map(|one| one.computed());
    let mut found: Vec<[f64; 2]> = computed.map(|one| [one.span.0.si(), one.span.1.si()]).collect();
    let mut way = 0.0;
    for pair in laid.path.windows(2) {
        let ends = way + pair[0].place.distance(pair[1].place);
        if pair[0].section != pair[1].section && !found.iter().any(|one| one[0] <= ends && one[1] >= way) {
            found.push([way, ends]);
        }
        way = ends;
    }
    found
}

/// Every hose and tube of a routing that lies somewhere, in the order of the routing.
pub fn hung_lines<'a>(project: &'a Project, routing: LaidRouting<'a>) -> Vec<HungLine<'a>> {
    let stock = |key: &StockKey| project.catalogue.stock(key);
    let mut lines = Vec::new();
    for run in &routing.routing.runs {
        let (Some(laid), Some(own)) = (routing.geometry.run(run.id), stock(&run.line.stock)) else {
            continue;
        };
        lines.push(HungLine {
            of: Subject::Run(run.id),
            tag: run.tag.clone(),
            rows: Vec::new(),
            stock: &run.line.stock,
            outside: own.outside,
            laid,
            most: own.outside * project.limits.hose_supports.si(),
            ends_on_bar: [run.from, run.to].map(|end| end != End::Supply),
            ends_at_opener: false,
            clamped: clamped(laid),
        });
    }
    for feed in &routing.routing.feeds {
        let Some(geometry) = routing.geometry.feed(feed.id) else { continue };
        let all: Vec<RowId> = feed.branches.iter().map(|branch| branch.row).collect();
        let rows =
            std::iter::repeat_n(&all[..], feed.trunk.len()).chain(feed.branches.iter().flat_map(|branch| {
                std::iter::repeat_n(std::slice::from_ref(&branch.row), branch.elements.len())
            }));
        let mut pieces = 0;
        for ((element, lies), rows) in feed.elements().zip(geometry.elements()).zip(rows) {
            pieces += usize::from(element.is_cut());
            let (FeedElement::Tube(tube), Some(laid)) = (element, &lies.tube) else { continue };
            let Some(own) = stock(&tube.line.stock) else { continue };
            lines.push(HungLine {
                of: Subject::Feed(feed.id),
                tag: feed.piece_tag(pieces),
                rows: rows.to_vec(),
                stock: &tube.line.stock,
                outside: own.outside,
                laid,
                most: Length::metres(FREE_TUBE + BRACKET),
                ends_on_bar: [true; 2],
                ends_at_opener: rows.iter().any(|row| {
                    let outlet = routing.geometry.anchors.outlet(*row);
                    outlet.is_some_and(|outlet| outlet.place.distance(laid.to().place) < EXACT)
                }),
                clamped: clamped(laid),
            });
        }
    }
    lines
}

/// A rail, flat or wire across open frame that bears what hangs there.
#[derive(Debug, Clone, PartialEq)]
pub struct Carrier {
    /// Where it runs.
    pub way: Vec<BarPoint>,
    /// From the middle of one member to that of the next, or as far as it stands out.
    pub length: Length,
    /// The line that it was put under, by its place among the lines.
    pub under: usize,
    /// All lines that it bears, by their places, that one first.
    pub bears: Vec<usize>,
}

impl Carrier {
    /// The section that it is fastened to.
    pub fn section(&self) -> SectionId {
        self.way.first().map(|point| point.section).unwrap_or_default()
    }
}

/// So many carriers that no line hangs farther than it may, the longest first: each under the line that hangs worst, along
/// its way from member to member; where a line ends at an opener, which moves, its carrier stands out as far as it has to and
/// leaves the rest free. None on a bar whose frame is not drawn.
pub fn carriers(bar: &Bar, lines: &[HungLine]) -> Vec<Carrier> {
    let mut members: Vec<FrameMember> =
        bar.sections.iter().flat_map(|section| &section.members).copied().collect();
    let hanging_from = |members: &[FrameMember], wanted: &[bool]| -> Vec<Option<FreeStretch>> {
        let members: Vec<&FrameMember> = members.iter().collect();
        lines.iter().zip(wanted).map(|(line, wanted)| wanted.then(|| line.stretch(&members))?).collect()
    };
    let mut found: Vec<Carrier> = Vec::new();
    let mut hanging = hanging_from(&members, &vec![true; lines.len()]);
    let at_first: Vec<bool> = hanging.iter().map(Option::is_some).collect();
    loop {
        let mut worst: Option<(usize, FreeStretch, f64)> = None;
        for (at, stretch) in hanging.iter().enumerate() {
            let Some(stretch) = *stretch else { continue };
            let times = stretch.length / lines[at].most.si().max(EXACT);
            if worst.is_none_or(|(_, _, most)| times > most) {
                worst = Some((at, stretch, times));
            }
        }
        let Some((under, stretch, _)) = worst else { break };
        let line = &lines[under];
        let path = &line.laid.path;
        let whole: f64 =
            path.windows(2).map(|pair| pair[0].place.flat().distance(pair[1].place.flat())).sum();
        let (mut length, mut to) = (stretch.length, stretch.to);
        if line.ends_at_opener && to > whole - EXACT {
            let left = line.most.si().clamp(0.0, (to - stretch.from - EXACT).max(0.0));
            (length, to) = (length - left, to - left);
        }
        let way = piece_of(path, stretch.from, to);
        let pieces: Vec<FrameMember> = way
            .windows(2)
            .map(|pair| FrameMember { from: pair[0].place, to: pair[1].place, width: Length::ZERO })
            .collect();
        if pieces.is_empty() {
            break;
        }
        members.extend(&pieces);
        let before: Vec<bool> = hanging.iter().map(Option::is_some).collect();
        hanging = hanging_from(&members, &before);
        let own: f64 = pieces.iter().map(|piece| piece.from.flat().distance(piece.to.flat())).sum();
        let is_borne = |at: &usize| {
            let along: f64 = pieces.iter().map(|piece| beside_member(lines[*at].path(), piece)).sum();
            at_first[*at] && (before[*at] && hanging[*at].is_none() || along > own / 2.0)
        };
        let others = (0..lines.len()).filter(|at| *at != under).filter(is_borne);
        let bears = std::iter::once(under).chain(others).collect();
        found.push(Carrier { way, length: Length::metres(length), under, bears });
        // Each takes at least one stretch away; no line has more of them than points and members.
        if found.len() > lines.len() * MOST_FOR_A_LINE {
            break;
        }
    }
    found
}

/// More carriers than this a line on average are those of a frame that nobody could build.
const MOST_FOR_A_LINE: usize = 16;

/// A clamp beside a hinge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HingeClamp {
    /// The line, by its place among the lines.
    pub line: usize,
    /// The section that hangs on the hinge.
    pub hinge: SectionId,
    /// Where it is; none where no place is computed.
    pub at: Option<BarPoint>,
    /// A frame member is near enough to screw it onto; none where no place is computed.
    pub has_member: Option<bool>,
}

/// The clamps of these lines, two at each hinge that one crosses.
pub fn hinge_clamps(lines: &[HungLine]) -> Vec<HingeClamp> {
    let mut found = Vec::new();
    for (line, hung) in lines.iter().enumerate() {
        for crossed in &hung.laid.crossings {
            for side in 0..2 {
                let clamp = crossed.computed().map(|crossing| &crossing.clamps[side]);
                found.push(HingeClamp {
                    line,
                    hinge: crossed.section,
                    at: clamp.map(|clamp| clamp.at),
                    has_member: clamp.map(|clamp| !clamp.needs_carrier),
                });
            }
        }
    }
    found
}

/// The clamps that have no member, those that one bracket holds together: on one section, and none farther from the first than
/// a tie reaches. By their places among the clamps.
pub fn clamp_brackets(clamps: &[HingeClamp]) -> Vec<Vec<usize>> {
    let mut found: Vec<(BarPoint, Vec<usize>)> = Vec::new();
    for (at, clamp) in clamps.iter().enumerate() {
        let Some(point) = clamp.at.filter(|_| clamp.has_member == Some(false)) else { continue };
        let near = |one: &BarPoint| one.section == point.section && one.place.distance(point.place) <= TIED;
        match found.iter_mut().find(|(first, _)| near(first)) {
            Some((_, all)) => all.push(at),
            None => found.push((point, vec![at])),
        }
    }
    found.into_iter().map(|(_, all)| all).collect()
}

/// The parts that are screwed onto nothing: no frame member of their section passes beneath them or so near that a short
/// bracket holds them. Parts on ports are held by these.
pub fn parts_off_frame(project: &Project, routing: LaidRouting) -> Vec<PartId> {
    let mut found = Vec::new();
    for placed in routing.geometry.anchors.parts() {
        let Some(part) = routing.part(placed.id) else { continue };
        let on_port = project.catalogue.item(&part.entry).is_none_or(|item| item.is_on_port());
        if part.mount.is_some() || on_port {
            continue;
        }
        let Some(shape) = part_shape(project, routing, placed) else { continue };
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
    use crate::plan::Section;

    fn bar(rails: &[f64]) -> Bar {
        let rail = |y: &f64| FrameMember {
            from: Point3::new(-3.0, *y, 1.0),
            to: Point3::new(3.0, *y, 1.0),
            width: Length::metres(0.1),
        };
        let section = Section {
            id: SectionId(1),
            name: "centre".into(),
            hinge: None,
            left: Length::metres(-3.0),
            right: Length::metres(3.0),
            members: rails.iter().map(rail).collect(),
        };
        Bar { sections: vec![section], ..Bar::default() }
    }

    fn laid(points: &[(f64, f64)]) -> LineGeometry {
        let point = |(x, y): &(f64, f64)| BarPoint { place: Point3::new(*x, *y, 1.0), section: SectionId(1) };
        let path: Vec<BarPoint> = points.iter().map(point).collect();
        LineGeometry {
            path,
            hinges: Vec::new(),
            drawn: Length::ZERO,
            slack: Length::ZERO,
            crossings: Vec::new(),
            allowance: Length::ZERO,
            computed: Length::ZERO,
            length: Length::ZERO,
            moving_end: None,
        }
    }

    fn hung<'a>(stock: &'a StockKey, laid: &'a LineGeometry) -> HungLine<'a> {
        HungLine {
            of: Subject::Row(RowId(1)),
            tag: "T1".into(),
            rows: Vec::new(),
            stock,
            outside: Length::millimetres(8.0),
            laid,
            most: Length::metres(0.5),
            ends_on_bar: [true; 2],
            ends_at_opener: false,
            clamped: Vec::new(),
        }
    }

    /// Rails 1 m apart: one carrier bears two tubes 0.1 m from each other, a third 1 m beside them takes its own; what lies on
    /// a rail takes none (geometry).
    #[test]
    fn neighbours_share_a_carrier_and_the_frame_needs_none() {
        let stock = StockKey::new("tube");
        let ways = [
            &[(0.0, 0.0), (0.0, 1.0)][..],
            &[(0.1, 0.0), (0.1, 1.0)],
            &[(1.1, 0.0), (1.1, 1.0)],
            &[(-2.0, 1.0), (2.0, 1.0)],
        ];
        let laid: Vec<LineGeometry> = ways.iter().map(|way| laid(way)).collect();
        let lines: Vec<HungLine> = laid.iter().map(|one| hung(&stock, one)).collect();
        let found = carriers(&bar(&[0.0, 1.0]), &lines);
        let said: Vec<_> = found.iter().map(|one| (one.under, one.bears.clone())).collect();
        assert_eq!(said, [(0, vec![0, 1]), (2, vec![2])]);
        assert!(found.iter().all(|one| (one.length.si() - 1.0).abs() < 1e-9), "{found:?}");
        assert_eq!(found[0].section(), SectionId(1));
        assert_eq!(carriers(&Bar::default(), &lines), [], "nobody drew a frame");
        assert_eq!(carriers(&bar(&[0.0, 0.5, 1.0]), &lines), [], "0.5 m is borne");
    }

    /// A carrier that a hose passes over between its hinge clamps is not for that hose, which takes its own behind the clamp.
    #[test]
    fn a_carrier_bears_nothing_of_what_hangs_free_at_a_hinge() {
        let stock = StockKey::new("tube");
        let laid = [laid(&[(0.0, 0.0), (0.0, 0.6)]), laid(&[(-0.6, 0.3), (2.0, 0.3)])];
        let hose = HungLine { clamped: vec![[0.4, 0.8]], ..hung(&stock, &laid[1]) };
        let found = carriers(&bar(&[0.0, 0.6]), &[hung(&stock, &laid[0]), hose]);
        let said: Vec<_> = found.iter().map(|one| (one.under, one.bears.clone())).collect();
        assert_eq!(said, [(1, vec![1]), (0, vec![0])]);
        assert!((found[0].way[0].place.x - 0.2).abs() < 1e-9, "{found:?}");
    }

    /// From the rail out to an opener 1.2 m behind it: 0.5 m may hang, so the carrier stands out 0.7 m. To a fixed end it
    /// goes all the way.
    #[test]
    fn a_carrier_to_an_opener_leaves_its_loop_free() {
        let stock = StockKey::new("tube");
        for (ends_at_opener, length) in [(true, 0.7), (false, 1.2)] {
            let laid = laid(&[(0.0, 0.0), (0.0, -1.2)]);
            let line = HungLine { ends_at_opener, ..hung(&stock, &laid) };
            let found = carriers(&bar(&[0.0]), &[line]);
            assert_eq!(found.len(), 1);
            assert!((found[0].length.si() - length).abs() < 1e-5, "{found:?}");
        }
    }

    /// One bracket holds clamps within 0.15 m of each other that have no member; those on a member, or without a place, none.
    #[test]
    fn clamps_without_a_member_take_a_bracket_together() {
        let clamp = |x: f64, has_member| HingeClamp {
            line: 0,
            hinge: SectionId(1),
            at: Some(BarPoint { place: Point3::new(x, 0.0, 1.0), section: SectionId(1) }),
            has_member: Some(has_member),
        };
        let nowhere = HingeClamp { at: None, has_member: None, ..clamp(0.0, false) };
        let all = [clamp(0.0, false), clamp(0.1, false), clamp(0.1, true), nowhere, clamp(0.3, false)];
        assert_eq!(clamp_brackets(&all), [vec![0, 1], vec![4]]);
    }
}
