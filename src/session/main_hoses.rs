//! Main hoses from where the supply enters to every manifold, in one step: from tees near there, in a chain, or one main
//! a wing. What comes of it is plain parts and hoses like any others.

mod bores;
mod clear;

use std::collections::BTreeSet;
use std::f64::consts::PI;

use super::Session;
use super::new_manifolds::{Room, clear_place, rail_near};
use super::outlet_plugs::close_left_over;
use super::refusal::{MainHosesError, Refusal, Remark, Reply};
use super::rows::rows_of;
use super::runs::way_on;
use crate::geometry::{Point2, Point3};
use crate::plan::routing_geometry::cross_run;
use crate::plan::words::counted;
use crate::plan::{
    Anchors, Edit, End, FrameGraph, InletFilter, Line, OperatingPoint, Part, PartId, PartItem, PartKey,
    PartKind, Port, PortRef, Project, Routing, Run, RunId, Section, SectionId, StockItem, StockKey, Subject,
    row_target,
};
use crate::quantities::{Angle, Flow, Length};

/// How the main hoses lead to the manifolds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MainHoses {
    /// A main of its own to each manifold, from tees in a row near where the supply enters.
    FromTees,
    /// From manifold to manifold, from the one end of the bar to the other.
    InChain,
    /// One main to each side, from manifold to manifold outwards; a manifold in the middle has its own.
    OneAWing,
}

impl MainHoses {
    const fn step(self) -> &'static str {
        match self {
            Self::FromTees => "Main hoses from tees",
            Self::InChain => "Main hoses in a chain",
            Self::OneAWing => "Main hoses, one a wing",
        }
    }
}

/// Velocity that the bore of a new main hose is chosen for, metres a second at the fastest speed: the lower end of what is
/// usual in mains, 1.5 to 2.5 m/s (common practice, no source).
const VELOCITY: f64 = 1.5;

/// From tee to tee of a row, metres: room for a spanner and the barbs.
const TEES_APART: f64 = 0.4;

/// How far ahead of the port where the supply enters the tees are looked for, metres.
const AHEAD: f64 = 0.4;

/// A hose that is to be laid once all parts stand.
struct Wanted {
    from: End,
    to: End,
    flow: Flow,
}

/// Manifolds that one main feeds one after the other, and what flows to them.
struct Group {
    manifolds: Vec<(PartId, Flow)>,
    /// Where the first stands, along the bar.
    x: f64,
}

impl Group {
    fn flow(&self) -> Flow {
        self.manifolds.iter().map(|(_, flow)| *flow).sum()
    }
}

/// A side of the bar, seen from where the supply enters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Left,
    Right,
}

impl Way {
    const fn sign(self) -> f64 {
        match self {
            Self::Left => -1.0,
            Self::Right => 1.0,
        }
    }
}

impl Session {
    /// Lays main hoses from where the supply enters to every manifold, along the frame and through the hinges, as wide as
    /// their flow at the fastest speed of any duty needs, and wider where rows would be uneven or the supply's pressure would
    /// not do; with elbows, where the catalogue has some, at sharp turns. What stays over of outlets is plugged. Hoses and tees between those that are there are replaced; where
    /// nothing is on the pump yet, the first inlet filter that is free is joined to it.
    ///
    /// # Errors
    ///
    /// Refused without a manifold, where something else than hoses and tees is in the way, and where the catalogue lacks a
    /// hose or a tee.
    pub fn lay_main_hoses(&mut self, how: MainHoses) -> Reply {
        let mut work = Plumber { session: self, next: self.routing().clone(), wanted: Vec::new() };
        let source = work.source()?;
        let manifolds = work.manifolds();
        if manifolds.is_empty() {
            return Err(MainHosesError::NoManifold.into());
        }
        let replaced = work.clear(source, &manifolds)?;
        let place = work.place(source);
        let groups = work.groups(how, source, &manifolds);
        work.lay(source, place, groups)?;
        let next = work.laid()?;
        let new = next.runs.iter().filter(|run| !self.routing().runs.contains(run));
        let fresh: BTreeSet<RunId> = new.map(|run| run.id).collect();
        let (next, mut bent) = bores::chosen(self, next, &fresh);
        let is_main = |id: &RunId| next.run(*id).is_some_and(|run| !bores::is_from_pump(run));
        let mains: BTreeSet<RunId> = fresh.iter().copied().filter(is_main).collect();
        let (next, words, all_clear) = clear::led_clear(self, next, &mains);
        bent.extend(words);
        let mut next = bores::with_elbows(self, next, &mains);
        let plugged = close_left_over(self.project(), &mut next);
        bent.extend(bores::too_tight_words(self.project(), &next, &fresh));
        let laid = format!("Laid: {}", bores::words(self.project(), &next, &fresh));
        let plugged = (plugged > 0).then(|| format!("plugged {}", counted(plugged, "outlet")));
        let words: Vec<String> =
            std::iter::once(laid).chain(bent).chain(plugged).chain(replaced_words(replaced)).collect();
        let said =
            self.edit_unless_so(how.step(), Ok::<_, Refusal>(vec![Edit::PutRouting(Box::new(next))]))?;
        self.editor.selection.set(fresh.into_iter().map(Subject::Run));
        Ok(said.or(Some(Remark::Laid { words: words.join("; "), is_clear: all_clear })))
    }
}

/// How many hoses and tees went, in words.
fn replaced_words((hoses, tees): (usize, usize)) -> Option<String> {
    let it = if hoses == 1 && tees == 0 { "it" } else { "them" };
    let tees = if tees > 0 { format!(" and {}", counted(tees, "tee")) } else { String::new() };
    (hoses > 0).then(|| format!("{}{tees} replaced, undo brings {it} back", counted(hoses, "hose")))
}

struct Plumber<'a> {
    session: &'a Session,
    next: Routing,
    wanted: Vec<Wanted>,
}

impl Plumber<'_> {
    fn project(&self) -> &Project {
        self.session.project()
    }

    fn item(&self, part: PartId) -> Option<&PartItem> {
        self.project().catalogue.item(&self.next.part(part)?.entry)
    }

    fn tag(&self, part: PartId) -> String {
        self.next.part(part).map(|part| part.tag.clone()).unwrap_or_default()
    }

    fn is_tee(&self, part: PartId) -> bool {
        matches!(self.item(part), Some(PartItem::Tee(_)))
    }

    fn is_manifold(&self, part: PartId) -> bool {
        matches!(self.item(part), Some(PartItem::Manifold(_)))
    }

    /// The other end of the hose on an end.
    fn across(&self, end: End) -> Option<(RunId, End)> {
        let on = |run: &Run| {
            if run.from == end {
                Some((run.id, run.to))
            } else {
                (run.to == end).then_some((run.id, run.from))
            }
        };
        self.next.runs.iter().find_map(on)
    }

    /// The last port before tees and manifolds on the way from the pump. A free inlet filter is joined to a pump that nothing
    /// is on.
    fn source(&mut self) -> Result<End, MainHosesError> {
        let mut end = End::Supply;
        if self.across(end).is_none()
            && let Some(filter) = self.free_filter()
        {
            let port = |port| End::Port(PortRef { part: filter, port });
            self.wanted.push(Wanted { from: end, to: port(Port::In), flow: self.flow_of_all() });
            return Ok(port(Port::Out));
        }
        let mut passed: BTreeSet<PartId> = BTreeSet::new();
        while let Some((run, to)) = self.across(end) {
            let Some(PortRef { part, port }) = to.port() else {
                let tag = self.next.run(run).map(|run| run.tag.clone()).unwrap_or_default();
                return Err(MainHosesError::EndsLoose(tag));
            };
            if self.is_tee(part) || self.is_manifold(part) || !passed.insert(part) {
                break;
            }
            let onwards = match port {
                Port::In => Port::Out,
                Port::Out => Port::In,
                Port::Branch | Port::Gauge | Port::Outlet(_) => break,
            };
            let has_port = self.item(part).is_some_and(|item| item.has_port(onwards));
            if self.next.part(part).is_some_and(|part| part.mount.is_some()) || !has_port {
                return Err(MainHosesError::InTheWay(self.tag(part)));
            }
            end = End::Port(PortRef { part, port: onwards });
        }
        Ok(end)
    }

    /// The first inlet filter that nothing is on.
    fn free_filter(&self) -> Option<PartId> {
        let free = |part: &&Part| {
            let on = |port| !self.next.on_port(PortRef { part: part.id, port }).is_empty();
            matches!(
                self.project().catalogue.item(&part.entry),
                Some(PartItem::InletFilter(InletFilter { .. }))
            ) && part.mount.is_none()
                && !on(Port::In)
                && !on(Port::Out)
        };
        self.next.parts.iter().find(free).map(|part| part.id)
    }

    /// All manifolds that are not screwed onto something, from left to right.
    fn manifolds(&self) -> Vec<PartId> {
        let parts = self.next.parts.iter().filter(|part| part.mount.is_none());
        let mut found: Vec<PartId> = parts.map(|part| part.id).filter(|id| self.is_manifold(*id)).collect();
        let x = |id: &PartId| self.next.part(*id).map_or(0.0, |part| part.position.x);
        found.sort_by(|a, b| x(a).total_cmp(&x(b)).then(a.cmp(b)));
        found
    }

    /// Takes out all hoses on the source and on the manifolds with the tees between them: how many hoses and tees.
    fn clear(&mut self, source: End, manifolds: &[PartId]) -> Result<(usize, usize), MainHosesError> {
        let keeps = source.port().map(|port| port.part);
        let (mut runs, mut tees): (BTreeSet<RunId>, BTreeSet<PartId>) = Default::default();
        loop {
            let here = |end: &End| {
                *end == source
                    || end
                        .port()
                        .is_some_and(|port| manifolds.contains(&port.part) || tees.contains(&port.part))
            };
            let fresh: Vec<&Run> = self
                .next
                .runs
                .iter()
                .filter(|run| !runs.contains(&run.id) && (here(&run.from) || here(&run.to)))
                .collect();
            if fresh.is_empty() {
                break;
            }
            let mut more = BTreeSet::new();
            for port in fresh.iter().flat_map(|run| [run.from.port(), run.to.port()]).flatten() {
                if self.is_tee(port.part) {
                    more.insert(port.part);
                } else if !self.is_manifold(port.part) && keeps != Some(port.part) {
                    return Err(MainHosesError::InTheWay(self.tag(port.part)));
                }
            }
            runs.extend(fresh.iter().map(|run| run.id).collect::<Vec<_>>());
            tees.extend(more);
        }
        for tee in &tees {
            for port in [Port::In, Port::Out, Port::Branch] {
                self.free(PortRef { part: *tee, port })?;
            }
        }
        self.next.runs.retain(|run| !runs.contains(&run.id));
        self.next.parts.retain(|part| !tees.contains(&part.id));
        Ok((runs.len(), tees.len()))
    }

    /// Takes plugs off a port; anything else that is screwed on is in the way.
    fn free(&mut self, port: PortRef) -> Result<(), MainHosesError> {
        let on: Vec<PartId> =
            self.next.parts.iter().filter(|part| part.mount == Some(port)).map(|part| part.id).collect();
        for part in on {
            if !matches!(self.item(part), Some(PartItem::BlankingPlug(_))) {
                return Err(MainHosesError::InTheWay(self.tag(part)));
            }
            self.next.parts.retain(|one| one.id != part);
        }
        Ok(())
    }

    fn place(&self, source: End) -> Point3 {
        Anchors::of(self.project(), &self.next).end(&source).map(|end| end.place).unwrap_or_default()
    }

    /// The section on which the supply enters; that of the bar's centre where it comes straight from the pump.
    fn section_of(&self, source: End) -> SectionId {
        let centre = self.project().bar.sections.first().map(|section| section.id);
        self.next.carrier(&source).or(centre).unwrap_or_default()
    }

    /// What the rows of a manifold ask at the fastest speed of the duty that asks most: of those that hang on it, or of
    /// its section's that hang nowhere, shared with the section's other manifolds.
    fn flow_of(&self, manifold: PartId) -> Flow {
        let bar = &self.project().bar;
        let hung = rows_of(self.project(), &self.next, manifold);
        let section = self.next.part(manifold).map(|part| part.section);
        let beside = self.manifolds().into_iter().filter(|id| {
            rows_of(self.project(), &self.next, *id).is_empty()
                && self.next.part(*id).map(|part| part.section) == section
        });
        let (rows, over): (Vec<_>, f64) = if hung.is_empty() {
            let waiting = bar.rows.iter().filter(|row| {
                Some(row.section) == section
                    && self.next.feed_of(row.id).is_none_or(|feed| feed.from.port().is_none())
            });
            (waiting.collect(), beside.count().max(1) as f64)
        } else {
            (hung.iter().filter_map(|id| bar.row(*id)).collect(), 1.0)
        };
        let asked = self.project().duties.iter().map(|duty| {
            let fastest = OperatingPoint { speed: duty.fastest, ..duty.usual_point() };
            rows.iter().map(|row| row_target::target(bar, row, &fastest)).sum::<Flow>()
        });
        asked.fold(Flow::ZERO, |most, one| if one > most { one } else { most }) / over
    }

    fn flow_of_all(&self) -> Flow {
        self.manifolds().into_iter().map(|id| self.flow_of(id)).sum()
    }

    /// The manifolds of each main, from where the supply enters outwards.
    fn groups(&self, how: MainHoses, source: End, manifolds: &[PartId]) -> Vec<Group> {
        let centre = self.section_of(source);
        let source = self.place(source);
        let x = |id: PartId| self.next.part(id).map_or(0.0, |part| part.position.x);
        let group = |ids: Vec<PartId>| Group {
            x: ids.first().map_or(0.0, |id| x(*id)),
            manifolds: ids.into_iter().map(|id| (id, self.flow_of(id))).collect(),
        };
        match how {
            MainHoses::FromTees => manifolds.iter().map(|id| group(vec![*id])).collect(),
            MainHoses::InChain => {
                let mut all = manifolds.to_vec();
                let away = |id: Option<&PartId>| id.map_or(0.0, |id| (x(*id) - source.x).abs());
                if away(all.last()) + 1e-6 < away(all.first()) {
                    all.reverse();
                }
                vec![group(all)]
            }
            MainHoses::OneAWing => {
                let at = |id: &PartId| self.next.part(*id).map(|part| part.section);
                let on_centre = |id: &&PartId| at(id) == Some(centre);
                // The only one of the section where the supply enters is on neither wing.
                let alone = manifolds.iter().filter(on_centre).count() == 1 && manifolds.len() > 1;
                let (middle, beside): (Vec<PartId>, Vec<PartId>) =
                    manifolds.iter().partition(|id| alone && on_centre(id));
                let (mut left, right): (Vec<PartId>, Vec<PartId>) =
                    beside.into_iter().partition(|id| x(*id) < source.x);
                left.reverse();
                let mut all: Vec<Group> = middle.into_iter().map(|id| group(vec![id])).collect();
                all.extend([left, right].into_iter().filter(|one| !one.is_empty()).map(group));
                all
            }
        }
    }

    /// Places the tees and says which hoses are wanted.
    fn lay(&mut self, source: End, at: Point3, groups: Vec<Group>) -> Result<(), Refusal> {
        if let Some(port) = source.port() {
            self.free(port)?;
        }
        let whole = groups.iter().map(Group::flow).sum();
        let (mut left, mut right): (Vec<Group>, Vec<Group>) =
            groups.into_iter().partition(|group| group.x < at.x - 1e-6);
        // One in the middle goes to the side that has fewer.
        right.sort_by(|a, b| (a.x - at.x).abs().total_cmp(&(b.x - at.x).abs()));
        left.sort_by(|a, b| (a.x - at.x).abs().total_cmp(&(b.x - at.x).abs()));
        if right.len() > left.len() + 1
            && right.first().is_some_and(|first| (first.x - at.x).abs() < TEES_APART)
        {
            let first = right.remove(0);
            left.insert(0, first);
        }
        let tees = (left.len() + right.len()).saturating_sub(1);
        if tees == 0 {
            return self
                .lay_side(source, Way::Right, right, None)
                .and_then(|()| self.lay_side(source, Way::Left, left, None));
        }
        let both = !left.is_empty() && !right.is_empty();
        let header = self.header(source, at, left.len().max(right.len()))?;
        if !both {
            let (way, groups) = if left.is_empty() { (Way::Right, right) } else { (Way::Left, left) };
            return self.lay_side(source, way, groups, Some((header, 0)));
        }
        // The hose from the source comes in at the branch, on the side where the source is.
        let front = at.y >= header.middle.y;
        let tee = self.put_tee(header, header.middle.x, front, whole)?;
        self.wanted.push(Wanted {
            from: source,
            to: End::Port(PortRef { part: tee, port: Port::Branch }),
            flow: whole,
        });
        for (way, groups) in [(Way::Left, left), (Way::Right, right)] {
            let end = End::Port(PortRef { part: tee, port: towards(way, front) });
            self.lay_side(end, way, groups, Some((header, 1)))?;
        }
        Ok(())
    }

    /// The mains to one side, the nearest first: each but the last leaves by the branch of a tee.
    fn lay_side(
        &mut self,
        mut from: End,
        way: Way,
        groups: Vec<Group>,
        header: Option<(Header, usize)>,
    ) -> Result<(), Refusal> {
        let mut rest: Flow = groups.iter().map(Group::flow).sum();
        let last = groups.len().saturating_sub(1);
        for (index, group) in groups.into_iter().enumerate() {
            let flow = group.flow();
            if let Some((header, first)) = header.filter(|_| index < last) {
                let x = header.middle.x + way.sign() * header.apart * (first + index) as f64;
                let tee = self.put_tee(header, x, !header.source_in_front, rest)?;
                let port = |port| End::Port(PortRef { part: tee, port });
                let (inwards, outwards) = match way {
                    Way::Left => (
                        towards(Way::Right, !header.source_in_front),
                        towards(Way::Left, !header.source_in_front),
                    ),
                    Way::Right => (
                        towards(Way::Left, !header.source_in_front),
                        towards(Way::Right, !header.source_in_front),
                    ),
                };
                self.wanted.push(Wanted { from, to: port(inwards), flow: rest });
                self.lay_group(port(Port::Branch), group)?;
                from = port(outwards);
            } else {
                self.lay_group(from, group)?;
            }
            rest -= flow;
        }
        Ok(())
    }

    /// From manifold to manifold: in by the end that is nearer to where the hose comes from, out by the other. The last is
    /// fed by its inlet.
    fn lay_group(&mut self, mut from: End, group: Group) -> Result<(), Refusal> {
        let mut rest = group.flow();
        let anchors = Anchors::of(self.project(), &self.next);
        let x = |end: End| anchors.end(&end).map_or(0.0, |end| end.place.x);
        for (index, (manifold, flow)) in group.manifolds.iter().enumerate() {
            let port = |port| PortRef { part: *manifold, port };
            let next =
                group.manifolds.get(index + 1).and_then(|(id, _)| anchors.part(*id)).map(|next| next.at.x);
            let (enter, leave) = match next {
                // The far end is on the side where the hose goes on: in by the inlet.
                Some(next) => {
                    let (inlet, far) = (x(End::Port(port(Port::In))), x(End::Port(port(Port::Out))));
                    if (far - inlet) * (next - inlet) >= 0.0 {
                        (Port::In, Port::Out)
                    } else {
                        (Port::Out, Port::In)
                    }
                }
                None => (Port::In, Port::Out),
            };
            self.free(port(enter))?;
            self.wanted.push(Wanted { from, to: End::Port(port(enter)), flow: rest });
            rest -= *flow;
            if next.is_some() {
                self.free(port(leave))?;
                from = End::Port(port(leave));
            }
        }
        Ok(())
    }

    /// Where a row of tees stands: on a rail near where the supply enters, clear of parts and openers.
    fn header(&self, source: End, at: Point3, most_a_side: usize) -> Result<Header, MainHosesError> {
        let bar = &self.project().bar;
        let section: &Section = bar.section(self.section_of(source)).ok_or(MainHosesError::NoManifold)?;
        let anchors = Anchors::of(self.project(), &self.next);
        let facing = source.port().and_then(|port| anchors.placed_port(port)).map(|port| port.facing);
        // From the pump the supply comes from the front or the rear of the bar: on the bar itself then.
        let ahead = facing.map_or(Point2::new(at.x, at.y), |facing| {
            Point2::new(at.x + facing.x * AHEAD, at.y + facing.y * AHEAD)
        });
        let room = Room { half: TEES_APART * most_a_side as f64, depth: 0.06, drawn: None };
        let half_width = (section.width().si() / 2.0 - 0.1).max(0.1);
        let half = room.half.min(half_width);
        let middle = f64::midpoint(section.left.si(), section.right.si());
        // Rounding must not turn what is left of the room around.
        let left = (half_width - half).max(0.0);
        let x = ahead.x.clamp(middle - left, middle + left);
        let y = rail_near(section, Point2::new(x, ahead.y)).unwrap_or(ahead.y);
        let wanted = Point2::new(x, y);
        let place = clear_place(self.project(), &self.next, section, Room { half, ..room }, wanted).at;
        Ok(Header {
            middle: place,
            section: section.id,
            apart: half / most_a_side.max(1) as f64,
            source_in_front: at.y >= place.y,
        })
    }

    /// Puts a tee as wide as its hose in the row; its branch to the front or the rear.
    fn put_tee(&mut self, header: Header, x: f64, front: bool, flow: Flow) -> Result<PartId, Refusal> {
        let stock = self.stock_for(flow)?;
        let entry = self.tee_for(&stock).ok_or(Refusal::CatalogueLacks("tee"))?;
        let id =
            PartId::next(self.next.parts.iter().chain(&self.session.routing().parts).map(|part| part.id));
        let part = Part {
            id,
            tag: self.next.free_tag(self.project().tag_letters.part(PartKind::Tee)),
            entry,
            section: header.section,
            position: Point3 { x, ..header.middle },
            turn: if front { Angle::ZERO } else { Angle::degrees(180.0) },
            mount: None,
            shut: false,
        };
        self.next.parts.push(part);
        Ok(id)
    }

    fn tee_for(&self, stock: &StockKey) -> Option<PartKey> {
        self.session.tee_for(stock)
    }

    /// The narrowest hose in which a flow is no faster than it should be; the widest where it is too fast in all.
    fn stock_for(&self, flow: Flow) -> Result<StockKey, Refusal> {
        let most = VELOCITY.min(self.project().limits.hose_velocity.si());
        let bore = |item: &StockItem| match item {
            StockItem::Hose(hose) => Some(hose.bore),
            StockItem::Tube(_) | StockItem::MeteringTube(_) => None,
        };
        let stocks = self.project().catalogue.of::<StockKey>();
        let mut hoses: Vec<(Length, StockKey)> =
            stocks.filter_map(|(key, item)| Some((bore(item)?, key))).collect();
        hoses.sort_by(|a, b| a.0.si().total_cmp(&b.0.si()));
        let wide = |bore: &Length| flow.si() / (PI / 4.0 * bore.si().powi(2)) <= most;
        if flow <= Flow::ZERO {
            let kept = self.next.runs.iter().rev().find(|run| !bores::is_from_pump(run));
            return self.session.usual_hose_after(kept).ok_or(Refusal::CatalogueLacks("hose"));
        }
        let fitting = hoses.iter().find(|(bore, _)| wide(bore)).or(hoses.last());
        fitting.map(|(_, key)| key.clone()).ok_or(Refusal::CatalogueLacks("hose"))
    }

    /// Lays the wanted hoses along the frame.
    fn laid(mut self) -> Result<Routing, Refusal> {
        let frame: std::sync::Arc<FrameGraph> = self.session.frame();
        let anchors = Anchors::of(self.project(), &self.next);
        for Wanted { from, to, flow } in std::mem::take(&mut self.wanted) {
            let stock = self.stock_for(flow)?;
            let waypoints = way_on(&frame, &anchors, &from, &to).map(|way| way.waypoints).unwrap_or_default();
            let taken = self.next.runs.iter().chain(&self.session.routing().runs);
            let mut run = Run {
                id: RunId::next(taken.map(|run| run.id)),
                tag: self.next.free_tag(self.project().tag_letters.hose()),
                from,
                to,
                fittings: bores::usual_fittings(self.session, &stock, &self.next, &BTreeSet::new()),
                line: Line { waypoints, ..Line::straight(stock) },
            };
            cross_run(&self.project().bar, &anchors, &mut run);
            self.next.runs.push(run);
        }
        Ok(self.next)
    }
}

/// Where a row of tees stands.
#[derive(Debug, Clone, Copy)]
struct Header {
    middle: Point3,
    section: SectionId,
    /// From tee to tee, metres.
    apart: f64,
    source_in_front: bool,
}

/// The end of a tee's run that points to a side; turned by half, with its branch to the rear, it is the other one.
const fn towards(way: Way, branch_in_front: bool) -> Port {
    match (way, branch_in_front) {
        (Way::Left, true) | (Way::Right, false) => Port::In,
        (Way::Right, true) | (Way::Left, false) => Port::Out,
    }
}

#[cfg(test)]
mod tests;
