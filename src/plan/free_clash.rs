//! Free pieces of hoses and tubes at hinges that the fold brings too near to something, or squeezes.
//!
//! A free piece bends as the bar folds: its film (`crossing::Crossing::film`) is held against what moves by it, from frame to frame, and between
//! two frames as finely as what moves there asks.
//! What follows from the bar and the crossing is worked out once and kept; parts, which are what is dragged, are asked with every
//! state of a routing, by boxes first. The frame of the two sections that it is clamped on may touch it, since it lies along that:
//! told is where it is squeezed between both.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::bar::Bar;
use super::clash::{ARC, AS_BEFORE, Clash, FINE, farthest_moved};
use super::crossing::{CrossedHinge, Crossing};
use super::fold::{FoldPosition, FoldSweep, FoldedBar};
use super::kept::KeptLast;
use super::routing_geometry::{LaidLine, LaidRouting};
use super::solids::{Obstacle, Solid, frame, openers, part_solids};
use super::{Project, SectionId, Subject};
use crate::geometry::{Box3, Capsule, Point3};
use crate::quantities::Length;

/// A piece that both frames are in by more than this is squeezed, metres: profiles are drawn no finer.
const SQUEEZED: f64 = 2e-3;

/// Adds what comes to free pieces to what is caught, of each hose and row feed the worst.
pub(super) fn add(project: &Project, routing: LaidRouting, plumbing: &mut Vec<Clash<Subject>>) {
    for free in caught(project, routing) {
        match plumbing.iter_mut().find(|one| one.caught == free.caught) {
            Some(known) if known.gap <= free.gap => {}
            Some(known) => *known = free,
            None => plumbing.push(free),
        }
    }
}

/// Of each free piece the worst that comes to it, in the order of the routing.
fn caught(project: &Project, routing: LaidRouting) -> Vec<Clash<Subject>> {
    let parts = part_solids(project, &routing, &routing.geometry.anchors);
    let known = KnownBar::of(&project.bar);
    let clearance = project.limits.fold_clearance.si();
    let mut found = Vec::new();
    for LaidLine { of, line, laid, .. } in routing.laid_lines() {
        let Some(stock) = project.catalogue.stock(&line.stock) else { continue };
        for crossing in laid.crossings.iter().filter_map(CrossedHinge::computed) {
            let piece = known.piece(project, crossing, stock.outside);
            let mut worst = piece.of_bar;
            for part in &parts {
                let hit = piece.by_part(&project.bar, part, clearance);
                let is_worse =
                    |hit: &Hit| worst.as_ref().is_none_or(|known: &Hit| hit.gap < known.gap - AS_BEFORE);
                worst = hit.filter(is_worse).or(worst);
            }
            found.extend(worst.map(|hit| hit.clash(of, crossing)));
        }
    }
    found
}

/// What something does to a free piece.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Hit {
    by: Obstacle,
    from: SectionId,
    at: FoldPosition,
    gap: f64,
}

impl Hit {
    fn clash(&self, caught: Subject, crossing: &Crossing) -> Clash<Subject> {
        // Of the two sections that carry it the one that is not what comes to it.
        let sections = [crossing.clamps[0].at.section, crossing.clamps[1].at.section];
        let on = if sections[0] == self.from { sections[1] } else { sections[0] };
        Clash { caught, on, by: self.by, from: self.from, at: self.at, gap: Length::metres(self.gap) }
    }
}

/// What is the same to this is the same piece on the same bar: its crossing, where its start is clamped, how thick it is, and the
/// limits that it is held against, tenths of a millimetre.
type PieceKey = (super::crossing::FilmKey, [i64; 7]);

/// What is known of the free pieces of a bar.
struct KnownBar {
    members: Vec<Solid<Obstacle>>,
    pieces: Mutex<BTreeMap<PieceKey, Arc<Piece>>>,
}

/// So many pieces are kept.
const MOST_PIECES: usize = 2000;

impl KnownBar {
    fn of(bar: &Bar) -> Arc<Self> {
        static LAST: KeptLast<Bar, KnownBar> = KeptLast::nothing();
        LAST.of(bar, || Self { members: frame(bar), pieces: Mutex::default() })
    }

    fn piece(&self, project: &Project, crossing: &Crossing, outside: Length) -> Arc<Piece> {
        let (at, limits) = (crossing.clamps[0].at.place, &project.limits);
        let sizes = [limits.fold_clearance.si(), limits.opener_width.si(), limits.opener_height.si()];
        let [clearance, width, height] = sizes;
        let numbers = [at.x, at.y, at.z, outside.si(), clearance, width, height];
        let key = (crossing.film_key(), numbers.map(|one| (one * 1e4).round() as i64));
        // A thread that died while it held the lock left whole entries.
        let kept = || self.pieces.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = kept().get(&key) {
            return Arc::clone(known);
        }
        let made = Arc::new(Piece::new(project, &self.members, crossing, outside));
        let mut kept = kept();
        if kept.len() >= MOST_PIECES {
            kept.clear();
        }
        kept.insert(key, Arc::clone(&made));
        made
    }
}

/// A free piece at a position.
struct Frame {
    position: FoldPosition,
    /// At the lowest angles of work: nothing is between that and another frame.
    is_lowest: bool,
    folded: FoldedBar,
    /// Its points as the section has them that carries its start, and in the world.
    own: Vec<Point3>,
    points: Vec<Point3>,
    /// In the world.
    bounds: Box3,
}

impl Frame {
    fn new(
        position: FoldPosition,
        folded: FoldedBar,
        start: SectionId,
        own: Vec<Point3>,
        radius: f64,
    ) -> Self {
        let motion = folded.motion(start);
        let points: Vec<Point3> = own.iter().map(|point| motion.place(*point)).collect();
        let bounds = Box3::around(points.iter().copied()).grown(radius);
        Self { position, is_lowest: false, folded, own, points, bounds }
    }
}

/// A free piece through the fold.
struct Piece {
    /// From transport position to work and at the lowest angles of work.
    frames: Vec<Frame>,
    /// The section of its first clamp.
    start: SectionId,
    radius: f64,
    /// The box about all that it passes, as each section has it.
    passes: BTreeMap<SectionId, Box3>,
    /// The worst that frames and openers do to it.
    of_bar: Option<Hit>,
    /// What parts near it do to it: while something is dragged, all but one of them stay where they are.
    by_parts: Mutex<Vec<(Solid<Obstacle>, Option<Hit>)>>,
}

/// So many places of parts near a piece are kept with what they do to it.
const MOST_PARTS: usize = 100;

/// The film of a crossing in the world. While its hinge stands still and others fold, what they carry comes to it: it is looked
/// at in each position of the sweep there.
fn frames_of(bar: &Bar, crossing: &Crossing, radius: f64) -> Vec<Frame> {
    let (start, sweep) = (crossing.clamps[0].at.section, FoldSweep::of(bar));
    let mut frames = Vec::new();
    for (seen, own) in crossing.film() {
        if seen.is_lowest {
            let frame = Frame::new(seen.from, sweep.lowest().clone(), start, own, radius);
            frames.push(Frame { is_lowest: true, ..frame });
            continue;
        }
        let mut add = |at: FoldPosition, folded| {
            frames.push(Frame::new(at, folded, start, own.clone(), radius));
        };
        if seen.until > seen.from {
            add(seen.until, FoldedBar::at(bar, seen.until));
        }
        for (at, folded) in sweep.positions().iter().rev() {
            if *at < seen.until && *at > seen.from {
                add(*at, folded.clone());
            }
        }
        add(seen.from, FoldedBar::at(bar, seen.from));
    }
    frames
}

impl Piece {
    fn new(project: &Project, members: &[Solid<Obstacle>], crossing: &Crossing, outside: Length) -> Self {
        let (bar, clearance) = (&project.bar, project.limits.fold_clearance.si());
        let start = crossing.clamps[0].at.section;
        let radius = outside.si() / 2.0;
        let frames = frames_of(bar, crossing, radius);
        let passes = bar.sections.iter().map(|section| {
            let (mut all, mut farthest) = (Box3::EMPTY, 0.0f64);
            let mut before: Option<[Point3; 8]> = None;
            for one in &frames {
                let back = one.folded.motion(section.id).inverse();
                let corners = one.bounds.corners().map(|corner| back.place(corner));
                if let Some(before) = before {
                    farthest = farthest.max(farthest_moved(&before, &corners));
                }
                before = Some(corners);
                all = all.with(&Box3::around(corners));
            }
            (section.id, all.grown(ARC * farthest))
        });
        let mut piece = Self {
            passes: passes.collect(),
            frames,
            start,
            radius,
            of_bar: None,
            by_parts: Mutex::default(),
        };
        let own = [start, crossing.clamps[1].at.section];
        let mut worst = piece.squeezed(members, own);
        for member in members.iter().filter(|one| !own.contains(&one.section)) {
            piece.hold(bar, member, clearance, &mut worst);
        }
        for opener in openers(bar, &project.limits) {
            piece.hold(bar, &opener, clearance, &mut worst);
        }
        piece.of_bar = worst;
        piece
    }

    /// What a part does to it, if that comes near it at all.
    fn by_part(&self, bar: &Bar, part: &Solid<Obstacle>, clearance: f64) -> Option<Hit> {
        if !self.comes_near(bar, part, clearance) {
            return None;
        }
        // A thread that died while it held the lock left whole entries.
        let kept = || self.by_parts.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, known)) = kept().iter().find(|(known, _)| known == part) {
            return *known;
        }
        let mut worst = None;
        self.hold(bar, part, clearance, &mut worst);
        let mut kept = kept();
        if kept.len() >= MOST_PARTS {
            kept.clear();
        }
        kept.push((*part, worst));
        worst
    }

    fn comes_near(&self, bar: &Bar, thing: &Solid<Obstacle>, clearance: f64) -> bool {
        let near = |passes: &Box3| passes.grown(clearance).meets(&thing.shape.bounds());
        bar.section(thing.section).is_some() && self.passes.get(&thing.section).is_some_and(near)
    }

    /// Holds something against it in every position: kept is what comes nearer than all before, nearer than its clearance and
    /// nearer than at work.
    fn hold(&self, bar: &Bar, thing: &Solid<Obstacle>, clearance: f64, worst: &mut Option<Hit>) {
        if !self.comes_near(bar, thing, clearance) {
            return;
        }
        let at_work = self.frames.iter().filter(|one| one.position.is_working());
        let at_work = at_work.map(|one| self.gap(one, thing, f64::INFINITY)).fold(f64::INFINITY, f64::min);
        let asked = clearance.min(at_work - AS_BEFORE);
        let mut before: Option<(&Frame, f64)> = None;
        for one in &self.frames {
            let gap = self.note(one, thing, asked, worst);
            if let Some((before, was)) = before.filter(|_| !one.is_lowest) {
                self.hold_between(bar, thing, [(before, was), (one, gap)], asked, worst);
            }
            before = Some((one, gap));
        }
    }

    /// The gap in a position, noted where it is the worst; of one that is wider than is asked, what it is at least.
    fn note(&self, at: &Frame, thing: &Solid<Obstacle>, asked: f64, worst: &mut Option<Hit>) -> f64 {
        let below = asked.min(worst.as_ref().map_or(f64::INFINITY, |hit| hit.gap - AS_BEFORE));
        let gap = self.gap(at, thing, below);
        if gap < below {
            *worst = Some(Hit { by: thing.of, from: thing.section, at: at.position, gap });
        }
        gap
    }

    /// Looks between two positions as long as something may come nearer there than in both.
    fn hold_between(
        &self,
        bar: &Bar,
        thing: &Solid<Obstacle>,
        [(one, gap), (other, other_gap)]: [(&Frame, f64); 2],
        asked: f64,
        worst: &mut Option<Hit>,
    ) {
        let below = asked.min(worst.as_ref().map_or(f64::INFINITY, |hit| hit.gap - AS_BEFORE));
        // Each against the section that carries the start of the piece.
        let ends = |at: &Frame| {
            let (there, back) = (at.folded.motion(thing.section), at.folded.motion(self.start).inverse());
            [thing.shape.from, thing.shape.to].map(|point| back.place(there.place(point)))
        };
        let moved = farthest_moved(&ends(one), &ends(other)) + farthest_moved(&one.own, &other.own);
        if moved < FINE || (gap + other_gap - moved * (1.0 + ARC)) / 2.0 >= below {
            return;
        }
        let position = FoldPosition::share(f64::midpoint(one.position.as_share(), other.position.as_share()));
        if position == one.position || position == other.position {
            return;
        }
        let own = one.own.iter().zip(&other.own).map(|(a, b)| a.towards(*b, 0.5)).collect();
        let middle = Frame::new(position, FoldedBar::at(bar, position), self.start, own, self.radius);
        let between = self.note(&middle, thing, asked, worst);
        self.hold_between(bar, thing, [(one, gap), (&middle, between)], asked, worst);
        self.hold_between(bar, thing, [(&middle, between), (other, other_gap)], asked, worst);
    }

    /// What is between it and something in a position; of what is farther than is asked, what it is at least.
    fn gap(&self, at: &Frame, thing: &Solid<Obstacle>, below: f64) -> f64 {
        let motion = at.folded.motion(thing.section);
        let shape = thing.shape.moved(|point| motion.place(point));
        let apart = at.bounds.apart(&shape.bounds());
        if apart > 0.0 && apart >= below {
            return apart;
        }
        let pieces = at.points.windows(2);
        pieces.map(|pair| self.straight(pair).gap(&shape)).fold(f64::INFINITY, f64::min)
    }

    fn straight(&self, pair: &[Point3]) -> Capsule {
        Capsule { from: pair[0], to: pair[1], radius: self.radius }
    }

    /// Where it is deepest in the frames of both sections that carry it, if it is there at all and was not so at work.
    fn squeezed(&self, members: &[Solid<Obstacle>], own: [SectionId; 2]) -> Option<Hit> {
        let deepest = |at: &Frame| {
            let shapes = own.map(|section| {
                let motion = at.folded.motion(section);
                let of_it = members.iter().filter(|one| one.section == section);
                let near = of_it.map(|one| one.shape.moved(|point| motion.place(point)));
                near.filter(|shape| at.bounds.meets(&shape.bounds())).collect::<Vec<Capsule>>()
            });
            if shapes.iter().any(Vec::is_empty) {
                return f64::INFINITY;
            }
            let pieces = at.points.windows(2).map(|pair| {
                let piece = self.straight(pair);
                let nearest =
                    |all: &[Capsule]| all.iter().map(|shape| piece.gap(shape)).fold(f64::INFINITY, f64::min);
                nearest(&shapes[0]).max(nearest(&shapes[1]))
            });
            pieces.fold(f64::INFINITY, f64::min)
        };
        let at_work = self.frames.iter().filter(|one| one.position.is_working()).map(deepest);
        let at_work = at_work.fold(f64::INFINITY, f64::min);
        let below = (-SQUEEZED).min(at_work - AS_BEFORE);
        let folded = self.frames.iter().map(|one| (deepest(one), one.position));
        let (gap, at) = folded.min_by(|a, b| a.0.total_cmp(&b.0))?;
        (gap < below).then_some(Hit { by: Obstacle::Frame(own[1]), from: own[1], at, gap })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::catalogue::{Catalogue, Entry, EntryKey};
    use crate::plan::{
        BarPoint, ClampPlaces, End, FrameMember, Hinge, HingeCrossing, HoseStock, Item, Key, Line,
        RoutingGeometry, Row, RowId, Run, RunId, Section, StockItem,
    };
    use crate::quantities::{Angle, BendingStiffness, Pressure, Ratio};

    const ALONG: Point3 = Point3::new(0.0, 1.0, 0.0);
    /// A hose of 20 mm whose weight does not bend it.
    const RADIUS: f64 = 0.01;
    const CLAMPED: f64 = 0.2;

    fn stiff() -> Entry {
        let stock = HoseStock {
            bore: Length::millimetres(13.0),
            outside: Length::metres(2.0 * RADIUS),
            roughness: Length::millimetres(0.0015),
            bend_radius: Length::millimetres(100.0),
            rated: Pressure::bar(10.0),
            stiffness: Some(BendingStiffness::from_si(1e4)),
            weight: None,
        };
        Entry {
            key: EntryKey::new("hose"),
            description: "hose".into(),
            part_number: String::new(),
            connection: String::new(),
            price: None,
            roll: None,
            materials: Vec::new(),
            calibrated: None,
            item: Item::Stock(StockItem::Hose(stock)),
        }
    }

    /// A centre from -4 to 0 m; a right wing that folds first, by 180 degrees about a line 1 m high at 0; then a left one, by so
    /// much, about a line as high at -4 m. A hose 1 m high from end to end is clamped 0.2 m to either side of the right hinge, so that both
    /// clamps then lie side by side, and it is a pear loop towards the right.
    fn bar(degrees: f64) -> Project {
        let section = |id, left, right, hinge| Section {
            id: SectionId(id),
            name: format!("section {id}"),
            hinge,
            left: Length::metres(left),
            right: Length::metres(right),
            members: Vec::new(),
        };
        let hinge = |x, degrees, step| Hinge {
            parent: SectionId(1),
            point: Point3::new(x, 0.0, 1.0),
            axis: ALONG,
            lowest: Angle::ZERO,
            folded: Angle::degrees(degrees),
            step,
        };
        let right = hinge(0.0, -180.0, Hinge::FIRST_STEP);
        let left = hinge(-4.0, degrees, Hinge::FIRST_STEP + 1);
        let bar = Bar {
            sections: vec![
                section(1, -4.0, 0.0, None),
                section(2, 0.0, 2.0, Some(right)),
                section(3, -10.0, -4.0, Some(left)),
            ],
            ..Bar::default()
        };
        let mut project = Project::new(bar, Catalogue { entries: vec![stiff()] });
        project.limits.fold_clearance = Length::metres(0.1);
        let loose = |x, section| {
            End::Loose(BarPoint { place: Point3::new(x, 0.0, 1.0), section: SectionId(section) })
        };
        let side = Length::metres(CLAMPED);
        let clamps = ClampPlaces { before: side, behind: side };
        let crossing = HingeCrossing { clamps: Some(clamps), ..HingeCrossing::computed(SectionId(2)) };
        let line = Line {
            slack: Ratio::ZERO,
            crossings: vec![crossing],
            ..Line::straight(Key::of_entry(EntryKey::new("hose")))
        };
        let run = Run {
            id: RunId(1),
            tag: "H1".into(),
            from: loose(-0.5, 1),
            to: loose(1.5, 2),
            line,
            fittings: Vec::new(),
        };
        project.routings[0].runs.push(run);
        project
    }

    /// What is caught, and the length that lies between the clamps.
    fn found(project: &Project) -> (Vec<Clash<Subject>>, f64) {
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(project, routing);
        let lies = geometry.run(RunId(1)).unwrap().crossings[0].computed().unwrap().lies.si();
        (caught(project, geometry.with(routing)), lies)
    }

    /// How far the apex of the loop is to the right of the hinge: 0.4243 of its length from its clamps (Peirce 1930, J. Text.
    /// Inst. 21 T377).
    fn apex(project: &Project) -> f64 {
        0.4243 * found(project).1 - CLAMPED
    }

    /// A rail of 0.1 m across the bar on the left wing, d to the left of its hinge line, comes to d to the right of it, straight down onto the
    /// level of the loop, when the loop has stood there since half the fold.
    #[test]
    fn a_rail_of_another_section_that_comes_down_beside_the_loop_is_told_by_what_is_left() {
        let mut project = bar(180.0);
        assert_eq!(found(&project).0, []);
        let apex = apex(&project);
        let mut with_room = |room: f64| {
            let x = -8.0 - (apex + RADIUS + room + 0.05);
            let [from, to] = [-0.5, 0.5].map(|y| Point3::new(x, y, 1.0));
            project.bar.sections[2].members = vec![FrameMember { from, to, width: Length::metres(0.1) }];
            found(&project).0
        };
        assert_eq!(with_room(0.15), [], "farther than the clearance of 0.1 m");
        let caught = with_room(0.05);
        let [hit] = &caught[..] else { unreachable!("{caught:?}") };
        assert_eq!((hit.caught, hit.by), (Subject::Run(RunId(1)), Obstacle::Frame(SectionId(3))));
        assert_eq!((hit.on, hit.from), (SectionId(1), SectionId(3)));
        assert!((hit.gap.si() - 0.05).abs() < 3e-3, "{hit:?}");
        assert!(hit.at.as_share() > 0.99, "{hit:?}");
        // Where the loop itself is, it comes down into it, as deep as both are thick.
        let caught = with_room(-0.1);
        assert!(caught[0].gap.si() < -0.03, "{caught:?}");
    }

    /// Folded by more it passes the apex after 180 degrees: halfway between two of the 60 positions of the sweep in that step, at
    /// both of which it is 4.3 m · sin 1.86° = 0.14 m above or below the apex and 40 mm farther off.
    #[test]
    fn what_passes_the_loop_between_two_positions_is_told_where_it_is_nearest() {
        let degrees = 180.0 / 48.5 * 60.0;
        let mut project = bar(degrees);
        let x = -8.0 - (apex(&project) + RADIUS + 0.05 + 0.05);
        let [from, to] = [-0.5, 0.5].map(|y| Point3::new(x, y, 1.0));
        project.bar.sections[2].members = vec![FrameMember { from, to, width: Length::metres(0.1) }];
        let caught = found(&project).0;
        let [hit] = &caught[..] else { unreachable!("{caught:?}") };
        assert!((hit.gap.si() - 0.05).abs() < 3e-3, "{hit:?}");
        assert!((hit.at.as_share() - (0.5 + 0.5 * 180.0 / degrees)).abs() < 2e-3, "{hit:?}");
    }

    /// What a part does is the same whether it was asked before, when it stood elsewhere, or never.
    #[test]
    fn a_part_that_moves_is_asked_again() {
        let project = bar(180.0);
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let crossing = geometry.run(RunId(1)).unwrap().crossings[0].computed().unwrap();
        let new = || Piece::new(&project, &[], crossing, Length::metres(2.0 * RADIUS));
        let (asked, apex) = (new(), apex(&project));
        let mut told = 0;
        for room in [0.05, 0.01, 0.15, 0.05, -0.02, 0.01] {
            let x = -8.0 - (apex + RADIUS + room + 0.05);
            let [from, to] = [-0.1, 0.1].map(|y| Point3::new(x, y, 1.0));
            let shape = Capsule { from, to, radius: 0.05 };
            let part = Solid { of: Obstacle::Part(crate::plan::PartId(7)), section: SectionId(3), shape };
            let hit = asked.by_part(&project.bar, &part, 0.1);
            assert_eq!(hit, new().by_part(&project.bar, &part, 0.1));
            assert_eq!(hit.is_some(), room < 0.1, "{room}");
            told += usize::from(hit.is_some_and(|hit| (hit.gap - room).abs() < 3e-3));
        }
        assert!(told >= 4, "{told}");
    }

    /// An opener of the left wing, upright from 0.1 to 1.3 m, comes over as 1.9 to 0.7 m: beside the apex at 1 m.
    #[test]
    fn an_opener_of_another_section_that_comes_down_beside_the_loop_is_told() {
        let mut project = bar(180.0);
        project.limits.opener_width = Length::millimetres(80.0);
        project.limits.opener_height = Length::metres(1.2);
        project.bar.ranks = vec![Length::ZERO];
        let x = -8.0 - (apex(&project) + RADIUS + 0.05 + 0.04);
        project.bar.rows = vec![Row {
            id: RowId(1),
            number: 1,
            section: SectionId(3),
            x: Length::metres(x),
            rank: 0,
            outlet_height: Length::metres(0.1),
            share: 1.0,
            left_out: false,
        }];
        let caught = found(&project).0;
        let [hit] = &caught[..] else { unreachable!("{caught:?}") };
        assert_eq!((hit.by, hit.from), (Obstacle::Opener(RowId(1)), SectionId(3)));
        assert!((hit.gap.si() - 0.05).abs() < 3e-3, "{hit:?}");
        project.bar.rows[0].x = Length::metres(x - 0.1);
        assert_eq!(found(&project).0, []);
    }
}
