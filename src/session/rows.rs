//! Giving rows to manifolds: which rows hang on which manifold, and on which of its outlets.

use std::collections::BTreeSet;

use super::Session;
use crate::hydraulics::first_choice::{metering_for, valve_for};
use crate::plan::feed::Branch;
use crate::plan::routing_geometry::{cross_feed, feed_way};
use crate::plan::run::Line;
use crate::plan::{
    Anchors, BarPoint, Duty, Edit, ElementItem, ElementKind, End, FeedElement, FeedId, FrameGraph, Part,
    PartId, PartItem, Port, PortRef, Project, Routing, RowFeed, RowId, SectionId, StockItem, Subject, Tube,
};
use crate::quantities::Angle;

/// Why rows can't be given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowsError {
    /// The part is no manifold.
    NotAManifold,
    /// More rows than outlets.
    TooMany {
        /// Rows asked for.
        rows: usize,
        /// Outlets that are free for rows.
        outlets: usize,
    },
    /// Nothing in the catalogue to make a feed of.
    NoStock(&'static str),
    /// Not a list of row numbers.
    NotRows(String),
    /// No manifold to give rows to.
    NoManifold(String),
    /// A row that would have to hang on something hangs on nothing.
    NotFed(u32),
    /// Two rows that share one feed.
    OneFeed(u32, u32),
    /// Not as many rows as the action takes.
    Choose(&'static str),
    /// No outlet is left for a row that is to take another.
    NoOutletLeft(String),
    /// Another feed sits on the outlet, and there is none to exchange it for.
    Taken(String),
}

impl std::fmt::Display for RowsError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotAManifold => out.write_str("rows are given to a manifold; select one first"),
            Self::TooMany { rows, outlets } => {
                write!(
                    out,
                    "{rows} rows, but only {outlets} outlets free; choose a manifold with more outlets or fewer rows, or take \
                     out blanking plugs"
                )
            }
            Self::NoStock(what) => write!(out, "the catalogue has no {what}; add one first"),
            Self::NotRows(text) => {
                write!(out, "\"{text}\" is no list of rows; type row numbers like 27-34 or 1, 3, 5")
            }
            Self::NoManifold(place) => {
                write!(out, "{place} has no manifold to give rows to; place one there first")
            }
            Self::NotFed(row) => write!(out, "row {row} hangs on no manifold; give it to one first"),
            Self::OneFeed(a, b) => {
                write!(out, "rows {a} and {b} share one tube; choose rows that hang on two outlets")
            }
            Self::Choose(what) => out.write_str(what),
            Self::Taken(tag) => write!(out, "{tag} sits on that outlet; choose a free one"),
            Self::NoOutletLeft(tag) => write!(
                out,
                "{tag} has no outlet free for the row to move to; choose a larger manifold or give a row to another"
            ),
        }
    }
}

/// The rows that hang on a manifold, from left to right.
pub fn rows_of(project: &Project, routing: &Routing, manifold: PartId) -> Vec<RowId> {
    let on = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == manifold);
    let mut rows: Vec<RowId> = routing
        .feeds
        .iter()
        .filter(on)
        .flat_map(|feed| feed.branches.iter().map(|branch| branch.row))
        .collect();
    let x = |id: &RowId| project.bar.row(*id).map_or(0.0, |row| row.x.si());
    rows.sort_by(|a, b| x(a).total_cmp(&x(b)));
    rows
}

/// Row numbers as people write them: `27–34, 36`.
pub fn numbers_text(numbers: &[u32]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut parts: Vec<String> = Vec::new();
    let mut at = 0;
    while at < sorted.len() {
        let mut end = at;
        while end + 1 < sorted.len() && sorted[end + 1] == sorted[end] + 1 {
            end += 1;
        }
        parts.push(match end - at {
            0 => sorted[at].to_string(),
            1 => format!("{}, {}", sorted[at], sorted[end]),
            _ => format!("{}–{}", sorted[at], sorted[end]),
        });
        at = end + 1;
    }
    parts.join(", ")
}

/// Reads `27-34, 36` into rows of the bar.
pub fn parse_rows(project: &Project, text: &str) -> Result<Vec<RowId>, RowsError> {
    let wrong = || RowsError::NotRows(text.trim().chars().take(40).collect());
    let mut rows = Vec::new();
    for piece in text.split([',', ';']).map(str::trim).filter(|piece| !piece.is_empty()) {
        let (from, to) = match piece.split_once(['-', '–', '−']) {
            Some((from, to)) => (from.trim(), to.trim()),
            None => (piece, piece),
        };
        let (Ok(from), Ok(to)) = (from.parse::<u32>(), to.parse::<u32>()) else { return Err(wrong()) };
        let found: Vec<RowId> = project
            .bar
            .rows
            .iter()
            .filter(|row| (from..=to).contains(&row.number))
            .map(|row| row.id)
            .collect();
        if found.is_empty() {
            return Err(wrong());
        }
        rows.extend(found.into_iter().filter(|id| !rows.contains(id)).collect::<Vec<_>>());
    }
    Ok(rows)
}

/// The edits after which exactly these rows hang on the manifold, from left to right on its outlets from left to
/// right. Rows it loses lose their feeds; rows fed elsewhere bring theirs along; rows without one get one like the
/// others' (or of the first tube, check valve and orifice of the catalogue).
pub fn set_rows(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    manifold: PartId,
    rows: &[RowId],
) -> Result<Vec<Edit>, RowsError> {
    let mut next = routing.clone();
    let mut wanted = rows.to_vec();
    wanted.sort_unstable();
    wanted.dedup();
    next.feeds.retain(|feed| !hangs_on(feed, manifold) || wanted.iter().any(|row| feed.feeds(*row)));
    assign(project, duty, &mut next, &[(manifold, wanted)])?;
    Ok(if next == *routing { Vec::new() } else { vec![Edit::PutRouting(Box::new(next))] })
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
        Some(PartItem::Manifold { outlets, .. }) => Some(*outlets),
        _ => None,
    }
}

/// The outlets of a manifold that no hose, no plug and none of the feeds that stay sits on, from left to right as the
/// manifold stands on the bar, so that tubes to rows from left to right don't cross.
fn free_outlets(
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
fn assign(
    project: &Project,
    duty: &Duty,
    routing: &mut Routing,
    gives: &[(PartId, Vec<RowId>)],
) -> Result<(), RowsError> {
    // Tubes of new feeds count from left to right over all manifolds.
    let mut unfed: Vec<RowId> = gives.iter().flat_map(|(_, rows)| rows).copied().collect();
    unfed.retain(|row| routing.feed_of(*row).is_none());
    unfed.sort_by(|a, b| x_of(project, *a).total_cmp(&x_of(project, *b)));
    unfed.dedup();
    for row in unfed {
        new_feed(project, duty, routing, row)?;
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
    let frame = FrameGraph::new(&project.bar);
    for (manifold, feeds) in &plans {
        let free = free_outlets(project, routing, *manifold, &placed);
        if feeds.len() > free.len() {
            return Err(RowsError::TooMany { rows: feeds.len(), outlets: free.len() });
        }
        for (id, number) in feeds.iter().zip(free) {
            hang(project, routing, &frame, *id, PortRef { part: *manifold, port: Port::Outlet(number) });
        }
    }
    Ok(())
}

/// Hangs a feed on an outlet. On another manifold it takes the way along the frame, and a length that was measured
/// before no longer holds; on the same one it keeps a way that was drawn by hand.
fn hang(project: &Project, routing: &mut Routing, frame: &FrameGraph, id: FeedId, port: PortRef) {
    let Some(at) = routing.feeds.iter().position(|feed| feed.id == id) else { return };
    let anchors = Anchors::of(project, routing);
    let mut feed = routing.feeds[at].clone();
    let before = feed.from.port();
    if before == Some(port) {
        return;
    }
    let way_before = feed_way(frame, &anchors, &feed);
    feed.from = End::Port(port);
    let way = feed_way(frame, &anchors, &feed);
    let another = before.is_none_or(|before| before.part != port.part);
    if let Some(tube) = feed.first_tube_mut() {
        let followed = way_before.is_some_and(|way| same_places(&way, &tube.line.waypoints));
        if another || followed {
            tube.line.waypoints = way.unwrap_or_default();
        }
        if another {
            tube.line.measured = None;
        }
    }
    if another {
        cross_feed(&project.bar, &anchors, &mut feed);
    }
    routing.feeds[at] = feed;
}

fn same_places(one: &[BarPoint], other: &[BarPoint]) -> bool {
    one.len() == other.len() && one.iter().zip(other).all(|(a, b)| a.place == b.place)
}

/// Where an end of a row feed goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FeedEnd {
    /// Onto an outlet of a manifold.
    Outlet(PortRef),
    /// Off its outlet, lying at a point.
    Loose(BarPoint),
    /// To another row.
    Row(RowId),
    /// Where it was.
    AsItWas,
}

/// The routing with one end of a feed moved, from the routing as it was. Whoever sits on that outlet or row already takes
/// the place that becomes free.
pub(super) fn feed_moved(
    project: &Project,
    frame: &FrameGraph,
    before: &Routing,
    id: FeedId,
    to: FeedEnd,
) -> Result<Routing, RowsError> {
    let mut next = before.clone();
    let Some(feed) = before.feed(id) else { return Ok(next) };
    match to {
        FeedEnd::AsItWas => {}
        FeedEnd::Loose(place) => {
            if let Some(feed) = next.feeds.iter_mut().find(|feed| feed.id == id) {
                feed.from = End::Loose(place);
            }
        }
        FeedEnd::Outlet(port) => {
            let other = before.feeds.iter().find(|one| one.id != id && one.from.port() == Some(port));
            if let Some(other) = other {
                let Some(free) = feed.from.port() else { return Err(RowsError::Taken(other.tag.clone())) };
                hang(project, &mut next, frame, other.id, free);
            }
            hang(project, &mut next, frame, id, port);
        }
        FeedEnd::Row(row) => {
            let [branch] = &feed.branches[..] else { return Ok(next) };
            let free = branch.row;
            let other = before.feeds.iter().find(|one| one.id != id && one.feeds(row)).map(|one| one.id);
            if let Some(other) = other.filter(|_| free != row) {
                lead(project, &mut next, frame, other, row, free);
            }
            lead(project, &mut next, frame, id, free, row);
        }
    }
    Ok(next)
}

/// Leads the branch of a feed for one row to another. A way along the frame is found anew; one drawn by hand stays.
fn lead(project: &Project, routing: &mut Routing, frame: &FrameGraph, id: FeedId, from: RowId, to: RowId) {
    let Some(at) = routing.feeds.iter().position(|feed| feed.id == id).filter(|_| from != to) else { return };
    let anchors = Anchors::of(project, routing);
    let mut feed = routing.feeds[at].clone();
    let way_before = feed_way(frame, &anchors, &feed);
    for branch in feed.branches.iter_mut().filter(|branch| branch.row == from) {
        branch.row = to;
    }
    let way = feed_way(frame, &anchors, &feed);
    if let Some(tube) = feed.first_tube_mut() {
        if way_before.is_some_and(|way| same_places(&way, &tube.line.waypoints)) {
            tube.line.waypoints = way.unwrap_or_default();
        }
        // Nobody has measured it on its way to the other row.
        tube.line.measured = None;
    }
    cross_feed(&project.bar, &anchors, &mut feed);
    routing.feeds[at] = feed;
}

/// Adds a loose feed for a row.
fn new_feed(project: &Project, duty: &Duty, routing: &mut Routing, row: RowId) -> Result<(), RowsError> {
    let like = routing.feeds.iter().find(|feed| feed.trunk.is_empty()).and_then(|feed| feed.branches.first());
    let elements = match like {
        Some(like) => like.elements.iter().map(as_new).collect(),
        None => default_elements(project, duty)?,
    };
    let id = FeedId::next(routing.feeds.iter().map(|feed| feed.id));
    let row_at = |row: &crate::plan::Row| BarPoint { place: project.bar.outlet(row), section: row.section };
    let outlet = project.bar.row(row).map(row_at).unwrap_or_default();
    routing.feeds.push(RowFeed {
        id,
        tag: routing.free_tag('T'),
        from: End::Loose(outlet),
        trunk: Vec::new(),
        split: None,
        branches: vec![Branch { row, elements }],
    });
    Ok(())
}

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

/// The edits that share the rows in use of a scope out over its manifolds.
pub fn share_out(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    scope: &Scope,
    share: Share,
) -> Result<Vec<Edit>, RowsError> {
    let bar = &project.bar;
    let mut rows: Vec<RowId> = bar.rows.iter().filter(|row| !row.left_out).map(|row| row.id).collect();
    let mut manifolds: Vec<&Part> = routing
        .parts
        .iter()
        .filter(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold { .. })))
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
        return Err(RowsError::Choose("There is no row in use here; select others"));
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
    assign(project, duty, &mut next, &gives)?;
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

impl Session {
    /// What an action on rows is for: the selected rows, otherwise the sections of what is selected, otherwise all.
    pub fn scope(&self) -> Scope {
        let rows = self.selected_rows();
        let sections = self.selected_sections();
        if !rows.is_empty() {
            Scope::Rows(rows)
        } else if sections.is_empty() {
            Scope::Bar
        } else {
            Scope::Sections(sections)
        }
    }

    /// All selected rows.
    pub fn selected_rows(&self) -> Vec<RowId> {
        let rows = self.selection.iter();
        rows.filter_map(|subject| if let Subject::Row(id) = subject { Some(*id) } else { None }).collect()
    }

    /// Shares the rows of a scope out over its manifolds, in one step.
    pub fn share_rows(&mut self, scope: &Scope, share: Share) -> Result<(), String> {
        let name = match share {
            Share::Nearest => "Rows to the nearest manifold",
            Share::ByOutlets => "Balance rows by outlets",
        };
        let edits = share_out(self.project(), self.duty(), self.routing(), scope, share);
        self.edit_or_refuse(name, edits)
    }

    /// Exchanges the outlets of two rows.
    pub fn swap_outlets(&mut self, a: RowId, b: RowId) -> Result<(), String> {
        let edits = swapped(self.project(), self.routing(), a, b);
        self.edit_or_refuse("Swap two rows", edits)
    }

    /// Puts the rows of manifolds on their outlets from left to right, so that tubes don't cross.
    pub fn renumber_outlets(&mut self, manifolds: &[PartId]) -> Result<(), String> {
        let (project, mut next) = (self.project(), self.routing().clone());
        let gives: Vec<(PartId, Vec<RowId>)> =
            manifolds.iter().map(|id| (*id, rows_of(project, &next, *id))).collect();
        let done = assign(project, self.duty(), &mut next, &gives);
        self.edit_or_refuse("Outlets in order", done.map(|()| vec![Edit::PutRouting(Box::new(next))]))
    }

    /// Closes the outlet of a row with a blanking plug; its manifold's rows move to the outlets that are left.
    pub fn leave_blank(&mut self, row: RowId) -> Result<(), String> {
        let edits = blanked(self.project(), self.duty(), self.routing(), row);
        self.edit_or_refuse("Leave an outlet blank", edits)
    }

    /// Closes every outlet of these manifolds that nothing sits on with a blanking plug.
    pub fn plug_open(&mut self, manifolds: &[PartId]) -> Result<(), String> {
        let edits = plugged(self.project(), self.routing(), manifolds);
        self.edit_or_refuse("Plug open outlets", edits)
    }

    /// The selected manifolds, or all of them if none is selected.
    pub fn manifolds_meant(&self) -> Vec<PartId> {
        let mut selected = self.selected_parts();
        selected.retain(|id| self.is_manifold(*id));
        if !selected.is_empty() {
            return selected;
        }
        let all = self.routing().parts.iter().map(|part| part.id);
        all.filter(|id| self.is_manifold(*id)).collect()
    }
}

fn swapped(project: &Project, routing: &Routing, a: RowId, b: RowId) -> Result<Vec<Edit>, RowsError> {
    let number = |row: RowId| project.bar.row(row).map_or(0, |row| row.number);
    let feed = |row: RowId| {
        let feed = routing.feed_of(row).ok_or(RowsError::NotFed(number(row)))?;
        Ok((feed.id, feed.from.port().ok_or(RowsError::NotFed(number(row)))?))
    };
    let ((feed_a, port_a), (feed_b, port_b)) = (feed(a)?, feed(b)?);
    if feed_a == feed_b {
        return Err(RowsError::OneFeed(number(a), number(b)));
    }
    let mut next = routing.clone();
    let frame = FrameGraph::new(&project.bar);
    hang(project, &mut next, &frame, feed_a, port_b);
    hang(project, &mut next, &frame, feed_b, port_a);
    Ok(vec![Edit::PutRouting(Box::new(next))])
}

/// Adds a blanking plug on a port.
fn add_plug(project: &Project, routing: &mut Routing, port: PortRef) -> Result<(), RowsError> {
    let plug = project.catalogue.first(|item| matches!(item, PartItem::BlankingPlug { .. }));
    let plug = plug.ok_or(RowsError::NoStock("blanking plug"))?;
    let host = routing.part(port.part).ok_or(RowsError::NotAManifold)?;
    let place = Anchors::of(project, routing).port(port);
    let position = place.map_or(host.position, |at| at.place);
    let part = Part {
        id: PartId::next(routing.parts.iter().map(|part| part.id)),
        tag: routing.free_tag('B'),
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

fn plugged(project: &Project, routing: &Routing, manifolds: &[PartId]) -> Result<Vec<Edit>, RowsError> {
    let mut next = routing.clone();
    for manifold in manifolds {
        for number in free_outlets(project, routing, *manifold, &BTreeSet::new()) {
            add_plug(project, &mut next, PortRef { part: *manifold, port: Port::Outlet(number) })?;
        }
    }
    Ok(vec![Edit::PutRouting(Box::new(next))])
}

fn blanked(project: &Project, duty: &Duty, routing: &Routing, row: RowId) -> Result<Vec<Edit>, RowsError> {
    let number = project.bar.row(row).map_or(0, |row| row.number);
    let port = routing.feed_of(row).and_then(|feed| feed.from.port()).ok_or(RowsError::NotFed(number))?;
    let manifold = routing.part(port.part).ok_or(RowsError::NotAManifold)?;
    let mut next = routing.clone();
    add_plug(project, &mut next, port)?;
    let rows = rows_of(project, routing, port.part);
    match assign(project, duty, &mut next, &[(port.part, rows)]) {
        Err(RowsError::TooMany { .. }) => Err(RowsError::NoOutletLeft(manifold.tag.clone())),
        other => other.map(|()| vec![Edit::PutRouting(Box::new(next))]),
    }
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

fn default_elements(project: &Project, duty: &Duty) -> Result<Vec<FeedElement>, RowsError> {
    let catalogue = &project.catalogue;
    let tube =
        catalogue.first(|item| matches!(item, StockItem::Tube(_))).ok_or(RowsError::NoStock("tube"))?;
    let valve = valve_for(project, duty).ok_or(RowsError::NoStock("check valve"))?;
    let orifice = match metering_for(project, duty, &valve) {
        Some(orifice) => orifice,
        None => catalogue
            .first(|item| matches!(item, ElementItem::MeteringOrifice { .. }))
            .ok_or(RowsError::NoStock("metering orifice"))?,
    };
    Ok(vec![
        FeedElement::Tube(Tube { line: Line::straight(tube), end: None }),
        FeedElement::Piece(ElementKind::CheckValve, valve),
        FeedElement::Piece(ElementKind::MeteringOrifice, orifice),
    ])
}
