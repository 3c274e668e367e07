//! Free pieces of hoses and tubes at hinges that the fold brings too near to something, or squeezes.
//!
//! A free piece bends as the bar folds: its film (`crossing::Crossing::film`) is held against what moves by it, frame by frame.
//! What follows from the bar and the crossing is worked out once and kept; parts, which are what is dragged, are asked with every
//! state of a routing, by boxes first. The frame of the two sections that it is clamped on may touch it, since it lies along that:
//! told is where it is squeezed between both.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::bar::Bar;
use super::clash::Clash;
use super::crossing::{CrossedHinge, Crossing};
use super::fold::{FoldPosition, FoldedBar};
use super::kept::KeptLast;
use super::routing_geometry::{LaidRouting, LineGeometry};
use super::solids::{Obstacle, Solid, frame, openers, part_solids};
use super::{FeedElement, Line, Project, SectionId, Subject};
use crate::geometry::{Box3, Capsule, Point3};
use crate::quantities::Length;

/// A gap that closes by less than this is as it was at work, metres.
const AS_BEFORE: f64 = 1e-3;
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
    let parts = part_solids(project, routing);
    let known = KnownBar::of(&project.bar);
    let clearance = project.limits.fold_clearance.si();
    let mut found = Vec::new();
    let mut add = |of: Subject, line: &Line, laid: Option<&LineGeometry>| {
        let Some((laid, stock)) = laid.zip(project.catalogue.stock(&line.stock)) else { return };
        for crossing in laid.crossings.iter().filter_map(CrossedHinge::computed) {
            let piece = known.piece(project, crossing, stock.outside);
            let mut worst = piece.of_bar;
            for part in &parts {
                piece.hold(&project.bar, part, clearance, &mut worst);
            }
            found.extend(worst.map(|hit| hit.clash(of, crossing)));
        }
    };
    for run in &routing.runs {
        add(Subject::Run(run.id), &run.line, routing.geometry.run(run.id));
    }
    for feed in &routing.feeds {
        let Some(laid) = routing.geometry.feed(feed.id) else { continue };
        for (element, lies) in feed.elements().zip(laid.elements()) {
            if let FeedElement::Tube(tube) = element {
                add(Subject::Feed(feed.id), &tube.line, lies.tube.as_ref());
            }
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

/// A free piece at a position, as it is in the world.
struct Frame {
    position: FoldPosition,
    folded: FoldedBar,
    points: Vec<Point3>,
    bounds: Box3,
}

/// A free piece through the fold.
struct Piece {
    frames: Vec<Frame>,
    radius: f64,
    /// The box about all that it passes, as each section has it.
    passes: BTreeMap<SectionId, Box3>,
    /// The worst that frames and openers do to it.
    of_bar: Option<Hit>,
}

impl Piece {
    fn new(project: &Project, members: &[Solid<Obstacle>], crossing: &Crossing, outside: Length) -> Self {
        let (bar, clearance) = (&project.bar, project.limits.fold_clearance.si());
        let start = crossing.clamps[0].at.section;
        let frames = crossing.film().into_iter().map(|(position, points)| {
            let folded = FoldedBar::at(bar, position);
            let motion = folded.motion(start);
            let points: Vec<Point3> = points.into_iter().map(|point| motion.place(point)).collect();
            let bounds = Box3::around(points.iter().copied()).grown(outside.si() / 2.0);
            Frame { position, folded, points, bounds }
        });
        let frames: Vec<Frame> = frames.collect();
        let passes = bar.sections.iter().map(|section| {
            let mut all = Box3::EMPTY;
            for one in &frames {
                let back = one.folded.motion(section.id).inverse();
                all = all.with(&Box3::around(one.bounds.corners().map(|corner| back.place(corner))));
            }
            (section.id, all)
        });
        let mut piece = Self { passes: passes.collect(), frames, radius: outside.si() / 2.0, of_bar: None };
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

    /// Holds something against it in every position: kept is what comes nearer than all before, nearer than its clearance and
    /// nearer than at work.
    fn hold(&self, bar: &Bar, thing: &Solid<Obstacle>, clearance: f64, worst: &mut Option<Hit>) {
        let near = |passes: &Box3| passes.grown(clearance).meets(&thing.shape.bounds());
        if bar.section(thing.section).is_none() || !self.passes.get(&thing.section).is_some_and(near) {
            return;
        }
        let at_work = self.frames.iter().filter(|one| one.position.is_working());
        let at_work = at_work.map(|one| self.gap(one, thing, f64::INFINITY)).fold(f64::INFINITY, f64::min);
        for one in &self.frames {
            let known = worst.as_ref().map_or(f64::INFINITY, |hit| hit.gap - AS_BEFORE);
            let below = clearance.min(at_work - AS_BEFORE).min(known);
            let gap = self.gap(one, thing, below);
            if gap < below {
                *worst = Some(Hit { by: thing.of, from: thing.section, at: one.position, gap });
            }
        }
    }

    /// What is between it and something in a position; of what is farther than is asked it is only said that it is.
    fn gap(&self, at: &Frame, thing: &Solid<Obstacle>, below: f64) -> f64 {
        let motion = at.folded.motion(thing.section);
        let shape = thing.shape.moved(|point| motion.place(point));
        if below.is_finite() && !at.bounds.grown(below.max(0.0)).meets(&shape.bounds()) {
            return f64::INFINITY;
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
