//! Rows in groups: several on one tube that a small tee splits near their openers, and each on a tube of its own again.

use std::collections::BTreeSet;

use super::Session;
use super::feed_ends::hang;
use super::outlet_plugs::giving_way;
use super::refusal::{Refusal, Remark, Reply, RowsError};
use super::row_sharing::{Scope, free_outlets, usual_elements};
use crate::geometry::Point3;
use crate::plan::frame_graph::height_on;
use crate::plan::joints::{EndFit, between_entries};
use crate::plan::run::Line;
use crate::plan::{
    BarPoint, Branch, Duty, Edit, End, FeedElement, FeedId, FittingItem, FittingKey, FrameGraph, PartId,
    Port, PortRef, Project, Routing, Row, RowFeed, RowId, Split, Subject, Tube,
};

/// How far above the outlets of its rows a new small tee sits, metres: on the shank of an opener, with short tubes below
/// it (common practice, no source).
const ABOVE_OUTLETS: f64 = 0.3;

/// What of a row feed is a tube.
fn tube(element: &FeedElement) -> Option<&Tube> {
    match element {
        FeedElement::Tube(tube) => Some(tube),
        FeedElement::Piece(..) | FeedElement::MeteringTube { .. } | FeedElement::Fitting(_) => None,
    }
}

/// The same tube for another way: what was drawn or measured is not copied.
fn new_tube(tube: &Tube) -> Tube {
    Tube { line: Line { slack: tube.line.slack, ..Line::straight(tube.line.stock.clone()) }, end: None }
}

/// The row's number, for messages.
fn number(project: &Project, row: RowId) -> u32 {
    project.bar.row(row).map_or(0, |row| row.number)
}

/// Sorts rows from left to right, each once.
fn from_left(project: &Project, rows: &[RowId]) -> Vec<RowId> {
    let mut sorted: Vec<RowId> = rows.iter().copied().filter(|id| project.bar.row(*id).is_some()).collect();
    let x = |id: &RowId| project.bar.row(*id).map_or(0.0, |row| row.x.si());
    sorted.sort_by(|a, b| x(a).total_cmp(&x(b)).then(a.cmp(b)));
    sorted.dedup();
    sorted
}

/// Takes a row out of its feed. Of a shared one the others stay on it; where one is left, that has the tube alone.
fn take_out(routing: &mut Routing, row: RowId) -> Option<RowFeed> {
    let at = routing.feeds.iter().position(|feed| feed.feeds(row))?;
    let whole = routing.feeds[at].clone();
    let feed = &mut routing.feeds[at];
    feed.branches.retain(|branch| branch.row != row);
    match &feed.branches[..] {
        [] => drop(routing.feeds.remove(at)),
        [last] if feed.split.is_some() => {
            let row = last.row;
            let elements = whole.own_way(row).unwrap_or_default();
            feed.branches = vec![Branch { row, elements }];
            (feed.trunk, feed.split) = (Vec::new(), None);
        }
        _ => {}
    }
    Some(whole)
}

/// Outlets that something sat on before and nothing does now.
fn outlets_left(before: &Routing, after: &Routing) -> usize {
    let now: BTreeSet<PortRef> = after.connections().map(|(port, _)| port).collect();
    before.feeds.iter().filter_map(|feed| feed.from.port()).filter(|port| !now.contains(port)).count()
}

impl Session {
    /// The rows that are selected, themselves or by their row feeds, from left to right.
    pub fn rows_meant(&self) -> Vec<RowId> {
        let rows = self.selection().iter().flat_map(|subject| match subject {
            Subject::Row(id) => vec![*id],
            Subject::Feed(id) => {
                let feed = self.routing().feed(*id).into_iter();
                feed.flat_map(|feed| feed.branches.iter().map(|branch| branch.row)).collect()
            }
            Subject::Part(_) | Subject::Run(_) => Vec::new(),
        });
        from_left(self.project(), &rows.collect::<Vec<_>>())
    }

    /// One of these rows shares its tube.
    pub fn share_a_tube(&self, rows: &[RowId]) -> bool {
        rows.iter().any(|row| self.routing().feed_of(*row).is_some_and(RowFeed::is_shared))
    }

    /// These rows, and no others, are on one tube.
    pub fn are_on_one_tube(&self, rows: &[RowId]) -> bool {
        is_group(self.routing(), rows)
    }

    /// Puts rows on one tube that a small tee splits near their openers, each with its own metering below it, in one step.
    pub fn join_rows(&mut self, rows: &[RowId]) -> Reply {
        self.group_rows("Join rows on one tube", &[rows.to_vec()])
    }

    /// Joins the rows of a scope in twos, neighbours on one tube, in one step.
    pub fn pair_rows(&mut self, scope: &Scope) -> Reply {
        let bar = &self.project().bar;
        let in_scope = |row: &&Row| match scope {
            Scope::Bar => true,
            Scope::Sections(sections) => sections.contains(&row.section),
            Scope::Rows(rows) => rows.contains(&row.id),
        };
        let used = bar.rows.iter().filter(|row| !row.left_out).filter(in_scope);
        let rows: Vec<RowId> = used.map(|row| row.id).collect();
        if rows.is_empty() {
            return Err(RowsError::NoRowInUse.into());
        }
        let groups = pairs(self.project(), self.routing(), &rows);
        self.group_rows("Join rows in pairs", &groups)
    }

    fn group_rows(&mut self, step: &str, groups: &[Vec<RowId>]) -> Reply {
        let next = joined(self.project(), self.duty(), self.routing(), &self.frame(), groups)?;
        let free = outlets_left(self.routing(), &next);
        let said = self.edit_unless_so(step, Ok::<_, Refusal>(vec![Edit::PutRouting(Box::new(next))]))?;
        Ok(said.or((free > 0).then_some(Remark::OutletsFree(free))))
    }

    /// Gives rows that share a tube one of their own each, in one step.
    pub fn part_rows(&mut self, rows: &[RowId]) -> Reply {
        let next = giving_way(self.project(), self.routing(), |routing| {
            parted(self.project(), routing, &self.frame(), rows)
        });
        let said =
            self.edit_unless_so("Part rows", next.map(|next| vec![Edit::PutRouting(Box::new(next))]))?;
        // Whoever had the shared tubes in hand has the tubes that came of them.
        if self.editor.selection.things().iter().any(|one| matches!(one, Subject::Feed(_))) {
            let own = |feed: &&RowFeed| feed.branches.iter().any(|branch| rows.contains(&branch.row));
            let feeds: Vec<Subject> =
                self.routing().feeds.iter().filter(own).map(|feed| Subject::Feed(feed.id)).collect();
            self.editor.selection.extend(feeds);
        }
        Ok(said)
    }
}

/// Where the small tee of a group sits: in the middle of its outlets, a little above them, not above the frame.
fn tee_place(project: &Project, rows: &[RowId]) -> BarPoint {
    let bar = &project.bar;
    let rows: Vec<_> = rows.iter().filter_map(|id| bar.row(*id)).collect();
    let outlets: Vec<Point3> = rows.iter().map(|row| bar.outlet(row)).collect();
    let count = outlets.len().max(1) as f64;
    let (x, y) = outlets.iter().fold((0.0, 0.0), |sum, one| (sum.0 + one.x / count, sum.1 + one.y / count));
    let highest = outlets.iter().map(|one| one.z).fold(0.0, f64::max);
    let flat = Point3::new(x, y, 0.0);
    let beside: Vec<BarPoint> =
        rows.iter().map(|row| BarPoint { place: bar.outlet(row), section: row.section }).collect();
    let section = BarPoint::beside(bar, &beside, flat).section;
    let frame = height_on(bar.section(section), flat.flat());
    let z = (highest + ABOVE_OUTLETS).min(frame.max(highest));
    BarPoint { place: Point3 { z, ..flat }, section }
}

/// The small tee of new groups: as in those that are there, or one of the catalogue that fits their tube, or its first.
fn small_tee(project: &Project, routing: &Routing, way: &[FeedElement]) -> Result<FittingKey, RowsError> {
    let used = routing.feeds.iter().find_map(|feed| feed.split.as_ref()).map(|split| split.entry.clone());
    let stock = way.iter().find_map(tube).map(|tube| &tube.line.stock);
    let tees = || {
        let fittings = project.catalogue.of::<FittingKey>();
        fittings.filter(|(_, item)| matches!(item, FittingItem::SmallTee(_))).map(|(key, _)| key)
    };
    let fits =
        |key: &FittingKey| stock.and_then(|stock| between_entries(project, stock, key)) == Some(EndFit::Fits);
    used.or_else(|| tees().find(fits)).or_else(|| tees().next()).ok_or(RowsError::NoStock("small tee"))
}

/// Puts each group of rows on one tube, which a small tee splits near their openers; below it each row keeps what it has
/// but for its tube, and has metering in any case. The tube hangs where the leftmost of its rows that hung on an outlet
/// did; rows that hung nowhere leave it loose at the tee. Other rows of tubes that a row leaves stay on them. A group that
/// is on one tube already stays as it is.
pub(super) fn joined(
    project: &Project,
    duty: &Duty,
    routing: &Routing,
    frame: &FrameGraph,
    groups: &[Vec<RowId>],
) -> Result<Routing, RowsError> {
    let mut next = routing.clone();
    for group in groups {
        let rows = from_left(project, group);
        if rows.len() < 2 || is_group(routing, &rows) {
            continue;
        }
        let spare = usual_elements(project, duty, &next, None)?;
        let mut whole = Vec::new();
        let mut ways = Vec::new();
        for row in &rows {
            let before = next.feed_of(*row).and_then(|feed| feed.own_way(*row));
            let mut way = before.unwrap_or_else(|| spare.clone());
            if !way.iter().any(FeedElement::is_metering) {
                way.extend(spare.iter().find(|one| one.is_metering()).cloned());
            }
            ways.push(way);
            whole.extend(take_out(&mut next, *row));
        }
        let entry = small_tee(project, routing, ways.first().unwrap_or(&spare))?;
        // The outlet and the tag of the leftmost feed that goes as a whole.
        let gone = whole.iter().find(|feed| feed.from.port().is_some() && next.feed(feed.id).is_none());
        let gone = gone.or_else(|| whole.iter().find(|feed| next.feed(feed.id).is_none()));
        let position = tee_place(project, &rows);
        let id = FeedId::next(routing.feeds.iter().chain(&next.feeds).map(|feed| feed.id));
        let hung = gone.and_then(|feed| feed.from.port()).or_else(|| {
            let near = whole.iter().find_map(|feed| feed.from.port())?;
            let free = free_outlets(project, &next, near.part, &BTreeSet::new());
            let Port::Outlet(old) = near.port else { return None };
            let nearest = free.into_iter().min_by_key(|outlet| outlet.abs_diff(old))?;
            Some(PortRef { part: near.part, port: Port::Outlet(nearest) })
        });
        let tag = gone.map_or_else(|| next.free_tag(project.tag_letters.row_feed()), |feed| feed.tag.clone());
        let feed = shared_feed(
            RowFeed {
                id: gone.map_or(id, |feed| feed.id),
                tag,
                from: End::Loose(position),
                trunk: Vec::new(),
                split: Some(Split { entry, position }),
                branches: Vec::new(),
            },
            &rows,
            ways,
            &spare,
        );
        let id = feed.id;
        put_in_order(project, &mut next, feed);
        if let Some(port) = hung {
            hang(project, &mut next, frame, id, port);
        }
    }
    Ok(next)
}

/// Adds a feed before the first whose first row stands farther right: lists and labels then count along the bar.
fn put_in_order(project: &Project, routing: &mut Routing, feed: RowFeed) {
    let x = |feed: &RowFeed| {
        let row = feed.branches.first().and_then(|branch| project.bar.row(branch.row));
        row.map_or(f64::INFINITY, |row| row.x.si())
    };
    let own = x(&feed);
    let at = routing.feeds.iter().position(|other| x(other) > own).unwrap_or(routing.feeds.len());
    routing.feeds.insert(at, feed);
}

/// The rows are just those of one feed.
fn is_group(routing: &Routing, rows: &[RowId]) -> bool {
    let feed = rows.first().and_then(|row| routing.feed_of(*row));
    feed.is_some_and(|feed| feed.branches.len() == rows.len() && rows.iter().all(|row| feed.feeds(*row)))
}

/// Gives a feed its shared stretch and its branches: what the first row has down to its first tube is shared, what each
/// has behind its own first tube stays its own, below a short tube from the tee.
fn shared_feed(
    mut feed: RowFeed,
    rows: &[RowId],
    ways: Vec<Vec<FeedElement>>,
    spare: &[FeedElement],
) -> RowFeed {
    for (row, way) in rows.iter().zip(ways) {
        let first_tube = way.iter().position(|one| tube(one).is_some());
        let from = first_tube.or_else(|| spare.iter().position(|one| tube(one).is_some()));
        let source = if first_tube.is_some() { &way[..] } else { spare };
        let Some(own) = from.and_then(|at| tube(source.get(at)?)) else { continue };
        if feed.trunk.is_empty() {
            feed.trunk.extend(way[..first_tube.unwrap_or(0)].iter().cloned());
            feed.trunk.push(FeedElement::Tube(new_tube(own)));
        }
        let below = Tube { end: own.end, ..new_tube(own) };
        let mut elements = vec![FeedElement::Tube(below)];
        elements.extend(way.into_iter().skip(first_tube.map_or(0, |at| at + 1)));
        feed.branches.push(Branch { row: *row, elements });
    }
    feed
}

/// Gives each of these rows that shares a tube one of its own, on outlets of the same manifold as near as there are to the
/// one that it shared; a row that is left alone on a shared tube has it for itself.
pub(super) fn parted(
    project: &Project,
    routing: &Routing,
    frame: &FrameGraph,
    rows: &[RowId],
) -> Result<Routing, RowsError> {
    let mut next = routing.clone();
    for feed in routing.feeds.iter().filter(|feed| feed.is_shared()) {
        let all = from_left(project, &feed.branches.iter().map(|branch| branch.row).collect::<Vec<_>>());
        let mut leaving: Vec<RowId> = all.iter().copied().filter(|row| rows.contains(row)).collect();
        if leaving.is_empty() {
            continue;
        }
        // The leftmost keeps the outlet where nobody else would.
        if leaving.len() + 1 >= all.len() {
            leaving = all[1..].to_vec();
        }
        let mut alone: Vec<FeedId> = Vec::new();
        for row in &leaving {
            let way = feed.own_way(*row);
            take_out(&mut next, *row);
            let place = project
                .bar
                .row(*row)
                .map(|row| BarPoint { place: project.bar.outlet(row), section: row.section });
            let id = FeedId::next(next.feeds.iter().map(|feed| feed.id));
            let elements = way.unwrap_or_default().into_iter().map(|one| renewed(&one)).collect();
            let tag = next.free_tag(project.tag_letters.row_feed());
            let feed = RowFeed {
                id,
                tag,
                from: End::Loose(place.unwrap_or_default()),
                trunk: Vec::new(),
                split: None,
                branches: vec![Branch { row: *row, elements }],
            };
            put_in_order(project, &mut next, feed);
            alone.push(id);
        }
        if let Some(last) = next.feeds.iter_mut().find(|one| one.id == feed.id).filter(|one| !one.is_shared())
        {
            last.elements_mut().for_each(|element| *element = renewed(element));
            alone.insert(0, feed.id);
        }
        if let Some(port) = feed.from.port() {
            hang_beside(project, &mut next, frame, port, feed, &alone)?;
        }
    }
    Ok(next)
}

/// The same element on a way that nobody has drawn or measured.
fn renewed(element: &FeedElement) -> FeedElement {
    match element {
        FeedElement::Tube(tube) => FeedElement::Tube(Tube { end: tube.end, ..new_tube(tube) }),
        other => other.clone(),
    }
}

/// Hangs feeds from left to right on the free outlets nearest to one, that one among them if its feed is.
fn hang_beside(
    project: &Project,
    routing: &mut Routing,
    frame: &FrameGraph,
    port: PortRef,
    shared: &RowFeed,
    feeds: &[FeedId],
) -> Result<(), RowsError> {
    let stays = routing.feed(shared.id).is_some_and(RowFeed::is_shared);
    let leaving: BTreeSet<FeedId> = if stays { BTreeSet::new() } else { [shared.id].into() };
    let free = free_outlets(project, routing, port.part, &leaving);
    let Port::Outlet(old) = port.port else { return Ok(()) };
    if free.len() < feeds.len() {
        let tag = routing.part(port.part).map(|part| part.tag.clone()).unwrap_or_default();
        let rows: Vec<u32> = shared.branches.iter().map(|branch| number(project, branch.row)).collect();
        return Err(RowsError::NoOutletsToPart { tag, rows, lacking: feeds.len() - free.len() });
    }
    let away = |window: &&[u16]| window.iter().map(|one| u32::from(one.abs_diff(old))).sum::<u32>();
    let Some(window) = free.windows(feeds.len().max(1)).min_by_key(away) else { return Ok(()) };
    // Off the old outlet first, so that the next one is free when its turn comes.
    for (id, outlet) in feeds.iter().zip(window) {
        if let Some(feed) = routing.feeds.iter_mut().find(|feed| feed.id == *id)
            && feed.from.port().is_some()
        {
            feed.from = End::Loose(BarPoint::default());
        }
        hang(project, routing, frame, *id, PortRef { part: port.part, port: Port::Outlet(*outlet) });
    }
    Ok(())
}

/// Rows side by side in twos, from left to right: on one section, and on one manifold or none. Those that share a tube
/// already stay out of it.
pub(super) fn pairs(project: &Project, routing: &Routing, rows: &[RowId]) -> Vec<Vec<RowId>> {
    let mut found: Vec<Vec<RowId>> = Vec::new();
    let mut waiting: Option<RowId> = None;
    let hangs_on = |row: RowId| -> Option<PartId> { Some(routing.feed_of(row)?.from.port()?.part) };
    let section = |row: RowId| project.bar.row(row).map(|row| row.section);
    for row in from_left(project, rows) {
        if routing.feed_of(row).is_some_and(RowFeed::is_shared) {
            waiting = None;
            continue;
        }
        match waiting.take() {
            Some(left) if section(left) == section(row) && hangs_on(left) == hangs_on(row) => {
                found.push(vec![left, row]);
            }
            _ => waiting = Some(row),
        }
    }
    found
}

#[cfg(test)]
mod tests;
