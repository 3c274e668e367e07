//! Looks through the fold of a bar for parts, hoses and tubes that something on another section comes too near to.
//!
//! Two sections at a time: one is held still, the other moves against it from position to position of a [`FoldSweep`].
//! Between two positions nothing moves farther than its ends do, so that a box about both places of a piece, or half of what
//! its gaps at both are together, says for most pairs that they never meet; only where neither does, positions between are
//! looked at.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use super::bar::Bar;
use super::clash::{ARC, AS_BEFORE, Clash, Clashes, FINE, FrameClash, farthest_moved};
use super::fold::{FoldPosition, FoldSweep, FoldedBar};
use super::free_clash;
use super::kept::KeptLast;
use super::routing_geometry::LaidRouting;
use super::solids::{Obstacle, Solid, frame, openers, part_solids, plumbing};
use super::{Project, SectionId, Subject};
use crate::geometry::{Box3, Capsule, RigidMotion};
use crate::quantities::Length;

/// Frames run into each other where they do so by more than this, metres: profiles are drawn no finer.
const FRAMES_MEET: f64 = 5e-3;

/// What comes too near in any position from the lowest at work to transport. Worked out once for each state of a routing's
/// geometry.
pub fn clashes<'a>(project: &Project, routing: LaidRouting<'a>) -> &'a Clashes {
    routing.geometry.clashes.get_or(|| search(project, routing))
}

fn search(project: &Project, routing: LaidRouting) -> Clashes {
    let bar = &project.bar;
    if bar.sections.len() < 2 {
        return Clashes::default();
    }
    let fold = FoldOfBar::of(bar);
    // Taken out while it is used: another thread that asks meanwhile starts from nothing.
    let kept = || fold.pairs.lock().unwrap_or_else(PoisonError::into_inner);
    let mut pairs = std::mem::take(&mut *kept());
    let things = plumbing(project, routing);
    let parts = part_solids(project, &routing, &routing.geometry.anchors);
    let obstacles = obstacles(project, &parts, &fold);
    let clearance = project.limits.fold_clearance.si();
    let mut plumbing = pairs.caught(bar, &fold.motions, &things, &obstacles, clearance);
    *kept() = pairs;
    free_clash::add(project, routing, &mut plumbing);
    Clashes { plumbing, frames: fold.frames.clone() }
}

/// The same for the frames of a bar that nothing may be fitted to yet.
pub fn frames_that_meet(bar: &Bar) -> Vec<FrameClash> {
    FoldOfBar::of(bar).frames.clone()
}

/// Of things on a bar that are no part of a routing the worst that frame, openers and the parts that are there do to them in the
/// fold from other sections, in their order.
pub fn caught_in_fold<T: Copy + PartialEq>(
    project: &Project,
    parts: &[Solid<Obstacle>],
    things: &[Solid<T>],
) -> Vec<Clash<T>> {
    let fold = FoldOfBar::of(&project.bar);
    let obstacles = obstacles(project, parts, &fold);
    let clearance = project.limits.fold_clearance.si();
    Pairs::default().caught(&project.bar, &fold.motions, things, &obstacles, clearance)
}

/// What may come in the way of something in the fold.
fn obstacles(project: &Project, parts: &[Solid<Obstacle>], fold: &FoldOfBar) -> Vec<Solid<Obstacle>> {
    let mut obstacles = fold.members.clone();
    obstacles.extend(openers(&project.bar, &project.limits));
    obstacles.extend(parts);
    obstacles
}

/// What follows from the bar alone, whatever is fitted to it.
struct FoldOfBar {
    members: Vec<Solid<Obstacle>>,
    motions: Motions,
    frames: Vec<FrameClash>,
    /// What the routing that was looked at last came to.
    pairs: Mutex<Pairs<Subject>>,
}

impl FoldOfBar {
    fn of(bar: &Bar) -> Arc<Self> {
        static LAST: KeptLast<Bar, FoldOfBar> = KeptLast::nothing();
        LAST.of(bar, || {
            let sweep = FoldSweep::of(bar);
            let motions = Motions::new(bar, &sweep);
            let members = frame(bar);
            let frames = frames(bar, &sweep, &motions, &members);
            Self { members, motions, frames, pairs: Mutex::default() }
        })
    }
}

/// How every section moves: at its lowest at work, and then from work to transport.
struct Motions {
    positions: Vec<FoldPosition>,
    /// Each with the motion back, at every position.
    sections: BTreeMap<SectionId, Vec<[RigidMotion; 2]>>,
}

impl Motions {
    fn new(bar: &Bar, sweep: &FoldSweep) -> Self {
        let lowest = std::iter::once((FoldPosition::WORKING, sweep.lowest()));
        let all: Vec<(FoldPosition, &FoldedBar)> =
            lowest.chain(sweep.positions().iter().map(|(at, bar)| (*at, bar))).collect();
        let of = |id: SectionId| {
            let motions = all.iter().map(|(_, folded)| folded.motion(id));
            motions.map(|motion| [motion, motion.inverse()]).collect()
        };
        let sections = bar.sections.iter().map(|section| (section.id, of(section.id))).collect();
        Self { positions: all.iter().map(|(at, _)| *at).collect(), sections }
    }

    /// How the second section has moved against the first, at each position.
    fn relative(&self, [still, moving]: [SectionId; 2]) -> impl Iterator<Item = (FoldPosition, RigidMotion)> {
        let of = |id| self.sections.get(&id).into_iter().flatten();
        let motions = of(still).zip(of(moving)).map(|([_, back], [there, _])| back.after(there));
        self.positions.iter().copied().zip(motions)
    }
}

fn frames(bar: &Bar, sweep: &FoldSweep, motions: &Motions, members: &[Solid<Obstacle>]) -> Vec<FrameClash> {
    let of_section =
        members.iter().map(|one| Solid { of: one.section, section: one.section, shape: one.shape });
    let frames: Vec<Solid<SectionId>> = of_section.collect();
    let met = Pairs::default().caught(bar, motions, &frames, members, -FRAMES_MEET);
    met.into_iter().map(|deepest| contact(bar, sweep, members, deepest)).collect()
}

/// Halves a step of the fold so often: to a thousandth of one.
const HALVINGS: u32 = 10;

/// Where two frames first run into each other, and whether they go through.
fn contact(
    bar: &Bar,
    sweep: &FoldSweep,
    members: &[Solid<Obstacle>],
    deepest: Clash<SectionId>,
) -> FrameClash {
    let sections = [deepest.on, deepest.from];
    let of = |section: SectionId| members.iter().filter(move |one| one.section == section);
    let pairs: Vec<(Capsule, Capsule, f64)> = of(deepest.on)
        .flat_map(|still| of(deepest.from).map(move |moving| (still.shape, moving.shape)))
        .map(|(still, moving)| (still, moving, (still.gap(&moving) - AS_BEFORE).min(-FRAMES_MEET)))
        .collect();
    let gap = |folded: &FoldedBar, (still, moving, _): &(Capsule, Capsule, f64)| {
        let motion = relative(folded, sections);
        still.gap(&moving.moved(|point| motion.place(point)))
    };
    let in_each_other = |folded: &FoldedBar| pairs.iter().any(|pair| gap(folded, pair) < pair.2);
    let folded =
        if deepest.at.is_working() { sweep.lowest().clone() } else { FoldedBar::at(bar, deepest.at) };
    // Two round pieces are no deeper in each other than when their middle lines cross.
    let is_through =
        pairs.iter().any(|pair| pair.0.radius + pair.1.radius + gap(&folded, pair) < pair.0.radius / 10.0);
    if deepest.at.is_working() {
        return FrameClash { deepest, since: deepest.at, is_through };
    }
    let mut clear = FoldPosition::WORKING;
    let mut met = deepest.at;
    for (at, folded) in sweep.positions().iter().take_while(|(at, _)| *at < deepest.at) {
        if in_each_other(folded) {
            met = *at;
            break;
        }
        clear = *at;
    }
    for _ in 0..HALVINGS {
        let at = FoldPosition::share(f64::midpoint(clear.as_share(), met.as_share()));
        if in_each_other(&FoldedBar::at(bar, at)) {
            met = at;
        } else {
            clear = at;
        }
    }
    FrameClash { deepest, since: met, is_through }
}

/// What obstacles on one section do to things on another, for each two sections, with what it follows from: while something is
/// dragged, most sections stay as they are.
struct Pairs<T> {
    clearance: f64,
    things: BTreeMap<SectionId, Vec<Solid<T>>>,
    obstacles: BTreeMap<SectionId, Vec<Solid<Obstacle>>>,
    /// The first section with its things is held still, the second moves with its obstacles.
    met: BTreeMap<[SectionId; 2], Vec<Clash<T>>>,
}

impl<T> Default for Pairs<T> {
    fn default() -> Self {
        Self { clearance: 0.0, things: BTreeMap::new(), obstacles: BTreeMap::new(), met: BTreeMap::new() }
    }
}

impl<T: Copy + PartialEq> Pairs<T> {
    /// Of things the worst that obstacles on other sections do to them, in the order of the things.
    fn caught(
        &mut self,
        bar: &Bar,
        motions: &Motions,
        things: &[Solid<T>],
        obstacles: &[Solid<Obstacle>],
        clearance: f64,
    ) -> Vec<Clash<T>> {
        if self.clearance != clearance {
            *self = Self { clearance, ..Self::default() };
        }
        let changed = [renew(bar, &mut self.things, things), renew(bar, &mut self.obstacles, obstacles)];
        self.met.retain(|[still, moving], _| !changed[0].contains(still) && !changed[1].contains(moving));
        let mut worst = Vec::new();
        for (&still, things) in &self.things {
            let here = Still::new(still, things);
            for (&moving, there) in self.obstacles.iter().filter(|(moving, _)| **moving != still) {
                let met = self.met.entry([still, moving]).or_insert_with(|| {
                    let mut met = Vec::new();
                    here.meets(bar, motions, (moving, there), clearance, &mut met);
                    met
                });
                for clash in &*met {
                    keep_worse(&mut worst, *clash);
                }
            }
        }
        let place = |of: &T| things.iter().position(|thing| thing.of == *of);
        worst.sort_by_key(|one| place(&one.caught));
        worst
    }
}

/// Takes what is on each section of a bar in place of what was there, and returns the sections on which it is another.
fn renew<T: Copy + PartialEq>(
    bar: &Bar,
    kept: &mut BTreeMap<SectionId, Vec<Solid<T>>>,
    now: &[Solid<T>],
) -> BTreeSet<SectionId> {
    let mut changed = BTreeSet::new();
    let mut by_section: BTreeMap<SectionId, Vec<Solid<T>>> =
        bar.sections.iter().map(|section| (section.id, Vec::new())).collect();
    for solid in now {
        if let Some(own) = by_section.get_mut(&solid.section) {
            own.push(*solid);
        }
    }
    for (id, own) in &by_section {
        if kept.get(id) != Some(own) {
            changed.insert(*id);
        }
    }
    *kept = by_section;
    changed
}

/// Keeps a clash if nothing comes as near to what it is about.
fn keep_worse<T: PartialEq>(worst: &mut Vec<Clash<T>>, clash: Clash<T>) {
    match worst.iter_mut().find(|known| known.caught == clash.caught) {
        Some(known) if clash.gap.si() >= known.gap.si() - AS_BEFORE => {}
        Some(known) => *known = clash,
        None => worst.push(clash),
    }
}

/// The things on a section that is held still.
struct Still<'a, T> {
    section: SectionId,
    things: Vec<(&'a Solid<T>, Box3)>,
    bounds: Box3,
}

/// A piece of another section at two positions, and how far it moves between them.
struct Moved<'a> {
    of: &'a Solid<Obstacle>,
    shapes: [Capsule; 2],
    way: f64,
}

/// Two positions of the bar; how the moving section has moved against the still one at each.
struct Step<'a> {
    bar: &'a Bar,
    sections: [SectionId; 2],
    positions: [FoldPosition; 2],
    motions: [RigidMotion; 2],
}

impl<'a, T: Copy + PartialEq> Still<'a, T> {
    fn new(section: SectionId, things: &'a [Solid<T>]) -> Self {
        let things: Vec<_> = things.iter().map(|thing| (thing, thing.shape.bounds())).collect();
        let bounds = things.iter().fold(Box3::EMPTY, |all, (_, one)| all.with(one));
        Self { section, things, bounds }
    }

    /// Adds what comes too near from another section.
    fn meets(
        &self,
        bar: &Bar,
        motions: &Motions,
        (moving, there): (SectionId, &[Solid<Obstacle>]),
        clearance: f64,
        worst: &mut Vec<Clash<T>>,
    ) {
        if self.things.is_empty() || there.is_empty() {
            return;
        }
        let sections = [self.section, moving];
        let outline = there.iter().fold(Box3::EMPTY, |all, one| all.with(&one.shape.bounds()));
        let (middle, radius) = (outline.middle(), outline.size() / 2.0);
        let mut before: Option<(FoldPosition, RigidMotion)> = None;
        for (at, motion) in motions.relative(sections) {
            let Some(last) = before.replace((at, motion)) else { continue };
            let step = Step { bar, sections, positions: [last.0, at], motions: [last.1, motion] };
            // However it turns, all that moves stays within the ball about it.
            let middles = step.motions.map(|motion| motion.place(middle));
            let reach = radius + clearance + middles[0].distance(middles[1]) * (1.0 + ARC);
            if self.bounds.distance(middles[0]) > reach {
                continue;
            }
            let corners = step.motions.map(|motion| outline.corners().map(|corner| motion.place(corner)));
            let way = farthest_moved(&corners[0], &corners[1]);
            if way < 1e-9 {
                continue;
            }
            let reach = clearance + way * ARC;
            let around = Box3::around(corners.into_iter().flatten()).grown(reach);
            if !around.meets(&self.bounds) {
                continue;
            }
            for one in there {
                let shapes = step.motions.map(|motion| one.shape.moved(|point| motion.place(point)));
                let way = farthest_moved(&[shapes[0].from, shapes[0].to], &[shapes[1].from, shapes[1].to]);
                let around = shapes[0].bounds().with(&shapes[1].bounds()).grown(clearance + way * ARC);
                if !around.meets(&self.bounds) {
                    continue;
                }
                let moved = Moved { of: one, shapes, way: way * (1.0 + ARC) };
                for (thing, bounds) in &self.things {
                    if around.meets(bounds) {
                        step.closest(thing, &moved, clearance, worst);
                    }
                }
            }
        }
    }
}

impl Step<'_> {
    /// Adds how near a thing and a piece come, if that is too near and nearer than at work.
    fn closest<T: Copy + PartialEq>(
        &self,
        thing: &Solid<T>,
        moved: &Moved,
        clearance: f64,
        worst: &mut Vec<Clash<T>>,
    ) {
        let at_work = thing.shape.gap(&moved.of.shape);
        let known = worst.iter().position(|one| one.caught == thing.of);
        let known_gap = known.and_then(|at| worst.get(at)).map_or(f64::INFINITY, |one| one.gap.si());
        let below = clearance.min(at_work - AS_BEFORE).min(known_gap - AS_BEFORE);
        let gaps = moved.shapes.map(|shape| thing.shape.gap(&shape));
        let Some((gap, at)) = self.least(thing, moved.of, (self.positions, gaps, moved.way), below) else {
            return;
        };
        let clash = Clash {
            caught: thing.of,
            on: thing.section,
            by: moved.of.of,
            from: moved.of.section,
            at,
            gap: Length::metres(gap),
        };
        keep_worse(worst, clash);
    }

    /// The least gap below a number between two positions, if there is any.
    fn least<T>(
        &self,
        thing: &Solid<T>,
        piece: &Solid<Obstacle>,
        (positions, gaps, way): ([FoldPosition; 2], [f64; 2], f64),
        below: f64,
    ) -> Option<(f64, FoldPosition)> {
        // Neither moves by more than its way, so that the gap between is no less than this.
        if (gaps[0] + gaps[1] - way) / 2.0 >= below {
            return None;
        }
        let ends = if gaps[0] <= gaps[1] { (gaps[0], positions[0]) } else { (gaps[1], positions[1]) };
        let own = (ends.0 < below).then_some(ends);
        if way < FINE || positions[0] == positions[1] {
            return own;
        }
        let at = FoldPosition::share(f64::midpoint(positions[0].as_share(), positions[1].as_share()));
        let motion = relative(&FoldedBar::at(self.bar, at), self.sections);
        let middle = thing.shape.gap(&piece.shape.moved(|point| motion.place(point)));
        let mut found = own;
        for (positions, gaps) in
            [([positions[0], at], [gaps[0], middle]), ([at, positions[1]], [middle, gaps[1]])]
        {
            let below = found.map_or(below, |(gap, _)| gap - AS_BEFORE);
            found = self.least(thing, piece, (positions, gaps, way / 2.0 * (1.0 + ARC)), below).or(found);
        }
        found
    }
}

/// How the second section has moved against the first.
fn relative(folded: &FoldedBar, [still, moving]: [SectionId; 2]) -> RigidMotion {
    folded.motion(still).inverse().after(&folded.motion(moving))
}

#[cfg(test)]
mod tests {
    use super::super::lay_out::{HingePair, Layout, lay_out};
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::PartId;

    /// What is kept of one search says in the next what a search from nothing says, wherever a part is moved to: into the way
    /// of others, to another section, and back.
    #[test]
    fn what_is_kept_between_two_searches_changes_nothing() {
        let sections = [1.8, 8.4, 1.8].map(Length::metres).to_vec();
        let layout =
            Layout { sections, hinges: vec![HingePair::default()], ..Layout::even(40, Length::metres(0.3)) };
        let bar = lay_out(&layout).unwrap();
        let fold = FoldOfBar::of(&bar);
        let [left, centre, right] = [0, 1, 2].map(|at| bar.sections[at].id);
        let at = |section: SectionId, x: f64, z: f64| {
            let end = |x| Point3::new(x, 0.0, z);
            let shape = Capsule { from: end(x - 0.1), to: end(x + 0.1), radius: 0.05 };
            Solid { of: PartId(section.0), section, shape }
        };
        let mut kept = Pairs::default();
        let mut found = Vec::new();
        for (section, x, z) in
            [(left, -5.0, 1.1), (left, -5.5, 1.4), (right, 5.0, 1.4), (centre, 3.9, 1.1), (left, -5.0, 1.1)]
        {
            let things = [at(section, x, z), Solid { of: PartId(9), ..at(centre, -3.5, 1.2) }];
            let caught = kept.caught(&bar, &fold.motions, &things, &fold.members, 0.3);
            let anew = Pairs::default().caught(&bar, &fold.motions, &things, &fold.members, 0.3);
            assert_eq!(caught, anew, "at {x}, {z}");
            found.push(caught);
        }
        assert!(!found[0].is_empty() && found[0] == found[4] && found[0] != found[1], "{found:?}");
    }
}
