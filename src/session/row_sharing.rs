//! Which rows hang on which manifold, and on which of its outlets: given, shared out, moved aside for a plug.

use std::collections::BTreeSet;

use super::feed_ends::hang;
use super::how_far::goes_on;
use super::refusal::RowsError;
use super::rows::rows_of;
use crate::hydraulics::first_choice::{metering_for, valve_for};
use crate::plan::Manifold;
use crate::plan::feed::Branch;
use crate::plan::joints::{EndFit, between_entries, outlet_joint};
use crate::plan::run::Line;
use crate::plan::{
    Anchors, BarPoint, Duty, Edit, ElementItem, ElementKind, End, FeedElement, FeedId, FrameGraph, Part,
    PartId, PartItem, PartKey, PartKind, Port, PortRef, Project, Routing, Row, RowFeed, RowId, SectionId,
    StockItem, StockKey, Tube,
};
use crate::quantities::Angle;

/// Which rows an action is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Scope {
    /// All rows, all manifolds.
    Bar,
    /// The rows of these sections, on the manifolds of the same sections.
    Sections(Vec<SectionId>),
    /// These rows, on any manifold.
    Rows(Vec<RowId>),
}

/// How rows are shared out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Share {
    /// To the nearest manifolds: the least distance over all rows, within the outlets there are.
    Nearest,
    /// In proportion to the outlets of each manifold, from left to right.
    ByOutlets,
}

/// The edits after which exactly these rows hang on the manifold, from left to right on its outlets from left to
/// right. Rows it loses lose their feeds; rows fed elsewhere bring theirs along; rows without one get one like the
/// others' (or of the first tube, check valve and orifice of the catalogue).
pub fn set_rows(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    frame: &FrameGraph,
    manifold: PartId,
    rows: &[RowId],
) -> Result<Vec<Edit>, RowsError> {
    let mut next = routing.clone();
    let mut wanted = rows.to_vec();
    wanted.sort_unstable();
    wanted.dedup();
    next.feeds.retain(|feed| !hangs_on(feed, manifold) || wanted.iter().any(|row| feed.feeds(*row)));
    assign(project, duty, &mut next, frame, &[(manifold, wanted)])?;
    Ok(if next == *routing { Vec::new() } else { vec![Edit::PutRouting(Box::new(next))] })
}

/// The edits that share the rows in use of a scope out over its manifolds.
pub fn share_out(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    frame: &FrameGraph,
    scope: &Scope,
    share: Share,
) -> Result<Vec<Edit>, RowsError> {
    let bar = &project.bar;
    let mut rows: Vec<RowId> = bar.rows.iter().filter(|row| !row.left_out).map(|row| row.id).collect();
    let mut manifolds: Vec<&Part> = routing
        .parts
        .iter()
        .filter(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold(_))))
        .collect();
    let mut place = "The bar".to_owned();
    match scope {
        Scope::Bar => {}
        Scope::Sections(sections) => {
            rows.retain(|id| bar.row(*id).is_some_and(|row| sections.contains(&row.section)));
            manifolds.retain(|part| sections.contains(&part.section));
            let names = sections.iter().filter_map(|id| bar.section(*id)).map(|one| one.name.as_str());
            place = format!("Section {}", names.collect::<Vec<_>>().join(", "));
        }
        Scope::Rows(wanted) => rows.retain(|id| wanted.contains(id)),
    }
    if rows.is_empty() {
        return Err(RowsError::NoRowInUse);
    }
    if manifolds.is_empty() {
        return Err(RowsError::NoManifold(place));
    }
    rows.sort_by(|a, b| x_of(project, *a).total_cmp(&x_of(project, *b)));
    // Rows that share a feed go together: the first stands for the others.
    let mut seen: BTreeSet<FeedId> = BTreeSet::new();
    let units: Vec<RowId> = rows
        .iter()
        .copied()
        .filter(|row| routing.feed_of(*row).is_none_or(|feed| seen.insert(feed.id)))
        .collect();
    let leaving: BTreeSet<FeedId> = seen;
    let anchors = Anchors::of(project, routing);
    let at = |part: &Part| anchors.part(part.id).map_or(part.position, |placed| placed.at);
    let x = |part: &Part| at(part).x;
    manifolds.sort_by(|a, b| x(a).total_cmp(&x(b)).then(a.id.cmp(&b.id)));
    let room: Vec<usize> =
        manifolds.iter().map(|part| free_outlets(project, routing, part.id, &leaving).len()).collect();
    let outlets = room.iter().sum();
    if units.len() > outlets {
        return Err(RowsError::TooMany { rows: units.len(), outlets });
    }
    let counts = match share {
        Share::ByOutlets => in_proportion(units.len(), &room),
        Share::Nearest => {
            let away = |row: usize, manifold: usize| {
                let part = manifolds[manifold];
                let outlet = bar.row(units[row]).map(|row| bar.outlet(row)).unwrap_or_default();
                at(part).flat().distance(outlet.flat())
            };
            nearest_counts(units.len(), &room, away)
        }
    };
    let mut left = units.into_iter();
    let gives: Vec<(PartId, Vec<RowId>)> = manifolds
        .iter()
        .zip(counts)
        .map(|(part, count)| (part.id, left.by_ref().take(count).collect()))
        .collect();
    let mut next = routing.clone();
    assign(project, duty, &mut next, frame, &gives)?;
    Ok(if next == *routing { Vec::new() } else { vec![Edit::PutRouting(Box::new(next))] })
}

/// How many of `total` go to each place, in proportion to its room (largest remainder); `total` fits the whole.
fn in_proportion(total: usize, room: &[usize]) -> Vec<usize> {
    let whole: usize = room.iter().sum::<usize>().max(1);
    let mut counts: Vec<usize> = room.iter().map(|room| total * room / whole).collect();
    let mut order: Vec<usize> = (0..room.len()).collect();
    order.sort_by_key(|&at| std::cmp::Reverse(total * room[at] % whole));
    let missing = total - counts.iter().sum::<usize>();
    for at in order.into_iter().filter(|&at| counts[at] < room[at]).take(missing).collect::<Vec<_>>() {
        counts[at] += 1;
    }
    counts
}

/// How many rows from the left go to each manifold so that all of them together are nearest (by dynamic programming
/// over rows and manifolds, both from left to right); they fit the room there is.
fn nearest_counts(rows: usize, room: &[usize], away: impl Fn(usize, usize) -> f64) -> Vec<usize> {
    // best[m][n]: the least distance of the first n rows on the first m manifolds, and how many the last one takes.
    let mut best = vec![vec![(f64::INFINITY, 0); rows + 1]; room.len() + 1];
    best[0][0].0 = 0.0;
    for manifold in 0..room.len() {
        for done in 0..=rows {
            let (mut distance, _) = best[manifold][done];
            for taken in 0..=room[manifold].min(rows - done) {
                if taken > 0 {
                    distance += away(done + taken - 1, manifold);
                }
                let cell = &mut best[manifold + 1][done + taken];
                if distance < cell.0 {
                    *cell = (distance, taken);
                }
            }
        }
    }
    let mut counts = vec![0; room.len()];
    let mut done = rows;
    for manifold in (0..room.len()).rev() {
        counts[manifold] = best[manifold + 1][done].1;
        done -= counts[manifold];
    }
    counts
}

fn hangs_on(feed: &RowFeed, manifold: PartId) -> bool {
    feed.from.port().is_some_and(|port| port.part == manifold)
}

fn x_of(project: &Project, row: RowId) -> f64 {
    project.bar.row(row).map_or(0.0, |row| row.x.si())
}

fn outlet_count(project: &Project, routing: &Routing, manifold: PartId) -> Option<u16> {
    let part = routing.part(manifold)?;
    match project.catalogue.item(&part.entry) {
        Some(PartItem::Manifold(Manifold { outlets, .. })) => Some(*outlets),
        _ => None,
    }
}

/// The outlets of a manifold that no hose, no plug and none of the feeds that stay sits on, from left to right as the
/// manifold stands on the bar, so that tubes to rows from left to right don't cross.
pub(super) fn free_outlets(
    project: &Project,
    routing: &Routing,
    manifold: PartId,
    leaving: &BTreeSet<FeedId>,
) -> Vec<u16> {
    let taken: BTreeSet<PortRef> = {
        let runs = routing.runs.iter().flat_map(|run| [run.from.port(), run.to.port()]);
        let mounts = routing.parts.iter().map(|part| part.mount);
        let feeds =
            routing.feeds.iter().filter(|feed| !leaving.contains(&feed.id)).map(|feed| feed.from.port());
        runs.chain(mounts).chain(feeds).flatten().collect()
    };
    let outlets = outlet_count(project, routing, manifold).unwrap_or(0);
    let port = |number: u16| PortRef { part: manifold, port: Port::Outlet(number) };
    let anchors = Anchors::of(project, routing);
    let place = |number: u16| anchors.port(port(number)).unwrap_or_default().place;
    let mut free: Vec<u16> = (1..=outlets).filter(|number| !taken.contains(&port(*number))).collect();
    // To the micrometre, so that outlets of a manifold that stands across stay in their own order.
    let x = |number: &u16| (place(*number).x * 1e6).round();
    free.sort_by(|a, b| x(a).total_cmp(&x(b)).then(a.cmp(b)));
    free
}

/// Hangs rows on manifolds, each on the outlets that are free or become so, from left to right. Other rows stay as
/// they are.
pub(super) fn assign(
    project: &Project,
    duty: &Duty,
    routing: &mut Routing,
    frame: &FrameGraph,
    gives: &[(PartId, Vec<RowId>)],
) -> Result<(), RowsError> {
    // Tubes of new feeds count from left to right over all manifolds.
    let mut unfed: Vec<RowId> = gives.iter().flat_map(|(_, rows)| rows).copied().collect();
    unfed.retain(|row| routing.feed_of(*row).is_none());
    unfed.sort_by(|a, b| x_of(project, *a).total_cmp(&x_of(project, *b)));
    unfed.dedup();
    for row in unfed {
        let manifold = gives.iter().find(|(_, rows)| rows.contains(&row)).map(|(manifold, _)| *manifold);
        new_feed(project, duty, routing, row, manifold)?;
    }
    let mut placed: BTreeSet<FeedId> = BTreeSet::new();
    let mut plans: Vec<(PartId, Vec<FeedId>)> = Vec::new();
    for (manifold, rows) in gives {
        outlet_count(project, routing, *manifold).ok_or(RowsError::NotAManifold)?;
        let mut rows = rows.clone();
        rows.sort_by(|a, b| x_of(project, *a).total_cmp(&x_of(project, *b)));
        let mut feeds = Vec::new();
        for row in rows {
            let Some(feed) = routing.feed_of(row).map(|feed| feed.id) else { continue };
            // Rows that share a feed come along together and take one outlet.
            if placed.insert(feed) {
                feeds.push(feed);
            }
        }
        plans.push((*manifold, feeds));
    }
    let (all, mut done) = (placed.len(), 0);
    for (manifold, feeds) in &plans {
        let free = free_outlets(project, routing, *manifold, &placed);
        if feeds.len() > free.len() {
            return Err(RowsError::TooMany { rows: feeds.len(), outlets: free.len() });
        }
        for (id, number) in feeds.iter().zip(free) {
            if !goes_on("row feeds on their outlets", done, Some(all)) {
                return Ok(());
            }
            hang(project, routing, frame, *id, PortRef { part: *manifold, port: Port::Outlet(number) });
            done += 1;
        }
    }
    Ok(())
}

/// Adds a loose feed for a row that is to hang on a manifold.
fn new_feed(
    project: &Project,
    duty: &Duty,
    routing: &mut Routing,
    row: RowId,
    manifold: Option<PartId>,
) -> Result<(), RowsError> {
    let elements = usual_elements(project, duty, routing, manifold)?;
    let id = FeedId::next(routing.feeds.iter().map(|feed| feed.id));
    let row_at = |row: &Row| BarPoint { place: project.bar.outlet(row), section: row.section };
    let outlet = project.bar.row(row).map(row_at).unwrap_or_default();
    routing.feeds.push(RowFeed {
        id,
        tag: routing.free_tag(project.tag_letters.row_feed()),
        from: End::Loose(outlet),
        trunk: Vec::new(),
        split: None,
        branches: vec![Branch { row, elements }],
    });
    Ok(())
}

/// The same element for another row: its own way and measured length are not copied.
fn as_new(element: &FeedElement) -> FeedElement {
    match element {
        FeedElement::Tube(tube) => FeedElement::Tube(Tube {
            line: Line { slack: tube.line.slack, ..Line::straight(tube.line.stock.clone()) },
            end: None,
        }),
        other => other.clone(),
    }
}

/// What a new feed of one row is made of: as those on the same manifold, on one of the same entry, or on any; without any
/// the first choices of the catalogue. Away from manifolds of that entry its tube is one that fits the outlets.
pub(super) fn usual_elements(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    manifold: Option<PartId>,
) -> Result<Vec<FeedElement>, RowsError> {
    let entry = |part: PartId| routing.part(part).map(|part| &part.entry);
    let outlets = manifold.and_then(entry);
    let like = |fits: &dyn Fn(&RowFeed) -> bool| {
        let on = || routing.feeds.iter().filter(|feed| fits(feed));
        let single = on().find(|feed| !feed.is_shared());
        single.or_else(|| on().next()).and_then(|feed| feed.own_way(feed.branches.first()?.row))
    };
    let of = |feed: &RowFeed| feed.from.port().map(|port| port.part);
    let same = like(&|feed| manifold.is_some() && of(feed) == manifold)
        .or_else(|| like(&|feed| outlets.is_some() && of(feed).and_then(entry) == outlets));
    if let Some(way) = same {
        return Ok(way.iter().map(as_new).collect());
    }
    let mut elements = match like(&|_| true) {
        Some(way) => way.iter().map(as_new).collect(),
        None => default_elements(project, duty)?,
    };
    fit_first_tube(project, outlets, &mut elements);
    Ok(elements)
}

/// Makes the first tube one of the catalogue that fits the outlets it leaves and what comes behind it, if more of those
/// two joints then fit than do now; of several the first.
fn fit_first_tube(project: &Project, outlets: Option<&PartKey>, elements: &mut [FeedElement]) {
    let is_tube = |element: &FeedElement| matches!(element, FeedElement::Tube(_));
    let Some(at) = elements.iter().position(is_tube) else { return };
    let behind = elements.get(at + 1).map(|element| element.entry().clone());
    let fits = |key: &StockKey| {
        let outlet = outlets.filter(|_| at == 0).and_then(|part| outlet_joint(project, part, key));
        let next = behind.as_ref().and_then(|next| between_entries(project, key, next));
        [outlet, next].into_iter().flatten().filter(|joint| *joint == EndFit::Fits).count()
    };
    let Some(FeedElement::Tube(tube)) = elements.get_mut(at) else { return };
    let mut best = (fits(&tube.line.stock), tube.line.stock.clone());
    for (key, item) in project.catalogue.of::<StockKey>() {
        if matches!(item, StockItem::Tube(_)) && fits(&key) > best.0 {
            best = (fits(&key), key);
        }
    }
    tube.line.stock = best.1;
}

fn default_elements(project: &Project, duty: &Duty) -> Result<Vec<FeedElement>, RowsError> {
    let catalogue = &project.catalogue;
    let tube =
        catalogue.first(|item| matches!(item, StockItem::Tube(_))).ok_or(RowsError::NoStock("tube"))?;
    let duties = project.duties.with(duty);
    let valve = valve_for(project, &duties).ok_or(RowsError::NoStock("check valve"))?;
    let orifice = match metering_for(project, &duties, &valve) {
        Some(orifice) => orifice,
        None => catalogue
            .first(|item| matches!(item, ElementItem::MeteringOrifice(_)))
            .ok_or(RowsError::NoStock("metering orifice"))?,
    };
    Ok(vec![
        FeedElement::Tube(Tube { line: Line::straight(tube), end: None }),
        FeedElement::Piece(ElementKind::CheckValve, valve),
        FeedElement::Piece(ElementKind::MeteringOrifice, orifice),
    ])
}

/// Adds a blanking plug on a port.
pub(super) fn add_plug(project: &Project, routing: &mut Routing, port: PortRef) -> Result<(), RowsError> {
    let plug = project.catalogue.first(|item| matches!(item, PartItem::BlankingPlug(_)));
    let plug = plug.ok_or(RowsError::NoStock("blanking plug"))?;
    let host = routing.part(port.part).ok_or(RowsError::NotAManifold)?;
    let place = Anchors::of(project, routing).port(port);
    let position = place.map_or(host.position, |at| at.place);
    let part = Part {
        id: PartId::next(routing.parts.iter().map(|part| part.id)),
        tag: routing.free_tag(project.tag_letters.part(PartKind::BlankingPlug)),
        entry: plug,
        section: host.section,
        position,
        turn: Angle::ZERO,
        mount: Some(port),
        shut: false,
    };
    routing.parts.push(part);
    Ok(())
}

pub(super) fn plugged(
    project: &Project,
    routing: &Routing,
    manifolds: &[PartId],
) -> Result<Vec<Edit>, RowsError> {
    let mut next = routing.clone();
    for manifold in manifolds {
        for number in free_outlets(project, routing, *manifold, &BTreeSet::new()) {
            add_plug(project, &mut next, PortRef { part: *manifold, port: Port::Outlet(number) })?;
        }
    }
    Ok(vec![Edit::PutRouting(Box::new(next))])
}

pub(super) fn blanked(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    frame: &FrameGraph,
    row: RowId,
) -> Result<Vec<Edit>, RowsError> {
    let number = project.bar.row(row).map_or(0, |row| row.number);
    let port = routing.feed_of(row).and_then(|feed| feed.from.port()).ok_or(RowsError::NotFed(number))?;
    let manifold = routing.part(port.part).ok_or(RowsError::NotAManifold)?;
    let mut next = routing.clone();
    add_plug(project, &mut next, port)?;
    let rows = rows_of(project, routing, port.part);
    match assign(project, duty, &mut next, frame, &[(port.part, rows)]) {
        Err(RowsError::TooMany { .. }) => Err(RowsError::NoOutletLeft(manifold.tag.clone())),
        other => other.map(|()| vec![Edit::PutRouting(Box::new(next))]),
    }
}
