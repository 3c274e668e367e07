//! The one way a project changes.
//!
//! [`apply`] carries out an [`Edit`] whole or not at all. What an edit would orphan is kept: a hose whose part
//! goes away stays with a loose end where the port was.

use std::fmt;
use std::sync::Arc;

use super::anchors::Anchors;
use super::bar_point::BarPoint;
use super::bounds::Bound;
use super::catalogue::{Catalogue, Entry, EntryKey, PartKey};
use super::dismissal::{self, Dismissal};
use super::feed::RowFeed;
use super::part::{Part, PortRef};
use super::problems::Problem;
use super::problems::Problems;
use super::project::{Project, TitleBlock};
use super::rounding;
use super::routing::Routing;
use super::row::Row;
use super::run::{End, Run};
use super::validate;
use super::words::called;
use super::{
    AddedLine, Bar, CatchTest, CatchTestId, CauseWeights, Duty, DutyId, FeedId, Limits, PartId, RoutingId,
    RowId, RunId, Section, SectionId, Spreads, Supply, TransportLimits,
};
use crate::geometry::Point3;
use crate::quantities::{ApplicationRate, UnitSystem};

/// Every change a project can undergo.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Fields of the title block.
    SetTitle(TitleBlock),
    /// Units shown.
    SetUnits(UnitSystem),
    /// A duty, new (at the end) or in place of the one with its id.
    PutDuty(Box<Duty>),
    /// A duty, unless it is the last.
    RemoveDuty(DutyId),
    /// Pump and control.
    SetSupply(Supply),
    /// What findings are measured against.
    SetLimits(Limits),
    /// Replaces the widest and the highest that the road allows.
    SetTransportLimits(TransportLimits),
    /// How parts and liquid scatter.
    SetSpreads(Box<Spreads>),
    /// Changes how common causes of an uneven catch are.
    SetCauseWeights(Box<CauseWeights>),
    /// The whole bar at once; refused while a routing uses a section or row that would be gone.
    SetBar(Box<Bar>),
    /// Another bar, with every routing fitted to it: what no longer fits goes (see [`refit`](super::refit)).
    Reshape(Box<Bar>),
    /// A section, new or in place of the one with its id.
    PutSection(Section),
    /// A section that carries nothing any more.
    RemoveSection(SectionId),
    /// A row, new or in place of the one with its id.
    PutRow(Row),
    /// A row, together with its branches of row feeds.
    RemoveRow(RowId),
    /// A catalogue entry, new or in place of the one with its key.
    PutEntry(Entry),
    /// Several catalogue entries at once, all or none.
    PutEntries(Vec<Entry>),
    /// A catalogue entry that nothing uses.
    RemoveEntry(EntryKey),
    /// All lines added to the parts list.
    SetAddedLines(Vec<AddedLine>),
    /// A routing, new (at the end) or in place of the one with its id.
    PutRouting(Box<Routing>),
    /// A routing, unless it is the last.
    RemoveRouting(RoutingId),
    /// A routing to another place in the order.
    MoveRouting(RoutingId, usize),
    /// A part, new or in place of the one with its id. Ports it no longer has leave loose ends. A part that is
    /// mounted on another rides on the section of that one.
    PutPart(RoutingId, Part),
    /// A part to another place, and onto the section there; it leaves its mount. What is connected to it gets
    /// allowances for the hinges it then crosses.
    MovePart(RoutingId, PartId, Point3),
    /// A part; what was connected to it keeps a loose end there.
    RemovePart(RoutingId, PartId),
    /// A run, new or in place of the one with its id.
    PutRun(RoutingId, Run),
    /// A run.
    RemoveRun(RoutingId, RunId),
    /// A row feed, new or in place of the one with its id.
    PutFeed(RoutingId, RowFeed),
    /// A row feed.
    RemoveFeed(RoutingId, FeedId),
    /// A catch test in place of the one with its id, or a new one on a bar that another was made on.
    PutCatchTest(Box<CatchTest>),
    /// The same on this bar, which is kept with it and shared with tests of the same state; `bar` of the test is not looked at.
    PutCatchTestOn(Box<CatchTest>, Arc<Project>),
    /// A catch test, with its bar where no other was made on that.
    RemoveCatchTest(CatchTestId),
    /// Stop showing a finding.
    Dismiss(Dismissal),
    /// Show it again.
    Recall(Dismissal),
}

/// Why an edit was refused; the project is as before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EditError {
    /// It would break a rule of the plan.
    Invalid(Box<Problem>),
    /// It names something that is not there.
    Missing(String),
    /// Something still depends on what it would take away.
    InUse {
        /// What was to go.
        what: String,
        /// What depends on it.
        by: String,
    },
}

impl fmt::Display for EditError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Invalid(problem) => problem.fmt(out),
            Self::Missing(what) => write!(out, "{what} does not exist any more; select another"),
            Self::InUse { what, by } => {
                write!(out, "{what} is still in use by {by}; remove or change that first")
            }
        }
    }
}

impl std::error::Error for EditError {}

fn sound(problems: Problems) -> Result<(), EditError> {
    problems.into_first().map_or(Ok(()), |problem| Err(EditError::Invalid(Box::new(problem))))
}

fn in_use(what: impl Into<String>, by: impl Into<String>) -> EditError {
    EditError::InUse { what: what.into(), by: by.into() }
}

/// In place of the one with the same identity, or at the end.
fn put<T>(all: &mut Vec<T>, new: T, same: impl Fn(&T) -> bool) {
    match all.iter_mut().find(|one| same(one)) {
        Some(old) => *old = new,
        None => all.push(new),
    }
}

/// Changes the project, whole or not at all. Coordinates come out to a tenth of a millimetre.
pub fn apply(project: &mut Project, edit: Edit) -> Result<(), EditError> {
    carry_out(project, rounded(edit))?;
    project.forget_dismissals_of_what_is_gone();
    Ok(())
}

/// What an edit brings, in a drag in every frame; what it moves besides is rounded where that is done.
fn rounded(mut edit: Edit) -> Edit {
    match &mut edit {
        Edit::SetSupply(supply) => rounding::supply(supply),
        Edit::PutRouting(routing) => rounding::routing(routing),
        Edit::PutPart(_, part) => rounding::point(&mut part.position),
        Edit::MovePart(_, _, to) => rounding::point(to),
        Edit::PutRun(_, run) => rounding::run(run),
        Edit::PutFeed(_, feed) => rounding::feed(feed),
        _ => {}
    }
    edit
}

fn carry_out(project: &mut Project, edit: Edit) -> Result<(), EditError> {
    match edit {
        Edit::SetTitle(title) => {
            sound(validate::title(&title))?;
            project.title = title;
        }
        Edit::SetUnits(units) => project.units = units,
        Edit::PutDuty(duty) => put_duty(project, *duty)?,
        Edit::RemoveDuty(id) => {
            if project.duties.get(id).is_none() {
                return Err(EditError::Missing("that duty".to_owned()));
            }
            if !project.duties.remove(id) {
                return Err(in_use("the last duty", "the project"));
            }
        }
        Edit::SetSupply(supply) => {
            sound(validate::supply(&supply))?;
            project.supply = supply;
        }
        Edit::SetLimits(limits) => {
            sound(validate::limits(&limits))?;
            project.limits = limits;
        }
        Edit::SetTransportLimits(limits) => {
            sound(validate::transport_limits(&limits))?;
            project.transport = limits;
        }
        Edit::SetSpreads(spreads) => {
            sound(validate::spreads(&spreads))?;
            project.spreads = *spreads;
        }
        Edit::SetCauseWeights(weights) => {
            sound(validate::cause_weights(&weights))?;
            project.cause_weights = *weights;
        }
        Edit::SetBar(bar) => set_bar(project, *bar)?,
        Edit::Reshape(bar) => reshape(project, *bar)?,
        Edit::PutSection(section) => {
            let mut bar = project.bar.clone();
            let id = section.id;
            put(&mut bar.sections, section, |one| one.id == id);
            set_bar(project, bar)?;
        }
        Edit::RemoveSection(id) => remove_section(project, id)?,
        Edit::PutRow(row) => {
            let mut bar = project.bar.clone();
            let id = row.id;
            put(&mut bar.rows, row, |one| one.id == id);
            set_bar(project, bar)?;
        }
        Edit::RemoveRow(id) => {
            if project.bar.row(id).is_none() {
                return Err(EditError::Missing("that row".to_owned()));
            }
            project.bar.rows.retain(|row| row.id != id);
            for routing in &mut project.routings {
                for feed in &mut routing.feeds {
                    feed.branches.retain(|branch| branch.row != id);
                }
                routing.feeds.retain(|feed| !feed.branches.is_empty());
            }
        }
        Edit::PutEntry(entry) => put_entries(project, vec![entry])?,
        Edit::PutEntries(entries) => put_entries(project, entries)?,
        Edit::RemoveEntry(key) => remove_entry(project, &key)?,
        Edit::SetAddedLines(lines) => {
            sound(validate::added_lines(&lines))?;
            project.added_lines = lines;
        }
        Edit::PutRouting(routing) => {
            let clash = project.routings.iter().any(|one| one.id != routing.id && one.name == routing.name);
            if clash {
                return Err(in_use(format!("the name {}", routing.name), "another routing"));
            }
            sound(validate::routing(project, &routing))?;
            let id = routing.id;
            let known = project.routings.iter().any(|one| one.id == id);
            let found = project.routings.len() + usize::from(!known);
            sound(Bound::Routings.broken_by("project", "it", found).into_iter().collect())?;
            put(&mut project.routings, *routing, |one| one.id == id);
        }
        Edit::RemoveRouting(id) => {
            let at = routing_index(project, id)?;
            if project.routings.len() == 1 {
                return Err(in_use("the last routing", "the project"));
            }
            project.routings.remove(at);
        }
        Edit::MoveRouting(id, to) => {
            let at = routing_index(project, id)?;
            let routing = project.routings.remove(at);
            let to = to.min(project.routings.len());
            project.routings.insert(to, routing);
        }
        Edit::PutPart(in_routing, part) => put_part(project, in_routing, part)?,
        Edit::MovePart(in_routing, id, to) => {
            let at = routing_index(project, in_routing)?;
            let Some(old) = project.routings[at].part(id) else { return Err(missing_part()) };
            let mut part = old.clone();
            let before = old.section;
            let riding = BarPoint { place: old.position, section: old.section }.moved(&project.bar, to);
            part.position = riding.place;
            part.mount = None;
            part.section = riding.section;
            sound(validate::part(project, &project.routings[at], &part))?;
            let moved_on = part.section != before;
            let Project { bar, catalogue, supply, routings, .. } = project;
            put(&mut routings[at].parts, part, |one| one.id == id);
            if moved_on {
                routings[at].settle(id, bar, catalogue, supply);
            }
        }
        Edit::RemovePart(in_routing, id) => {
            let at = routing_index(project, in_routing)?;
            if project.routings[at].part(id).is_none() {
                return Err(missing_part());
            }
            let mut routing = project.routings[at].clone();
            routing.parts.retain(|part| part.id != id);
            loosen(&mut routing, &project.catalogue, project, at);
            project.routings[at] = routing;
        }
        Edit::PutRun(in_routing, run) => {
            let at = routing_index(project, in_routing)?;
            let routing = &project.routings[at];
            // With the tag of the one it replaces, nothing else can have become wrong: a drag does this in every frame.
            if let Some(place) = routing.runs.iter().position(|one| one.id == run.id && one.tag == run.tag) {
                sound(validate::run_in_place(project, routing, &run))?;
                project.routings[at].runs[place] = run;
            } else {
                let mut routing = routing.clone();
                let id = run.id;
                put(&mut routing.runs, run, |one| one.id == id);
                accept_routing(project, at, routing)?;
            }
        }
        Edit::RemoveRun(in_routing, id) => {
            let at = routing_index(project, in_routing)?;
            let runs = &mut project.routings[at].runs;
            let before = runs.len();
            runs.retain(|run| run.id != id);
            if runs.len() == before {
                return Err(EditError::Missing("that run".to_owned()));
            }
        }
        Edit::PutFeed(in_routing, feed) => {
            let at = routing_index(project, in_routing)?;
            let routing = &project.routings[at];
            // As with hoses.
            if let Some(place) = routing.feeds.iter().position(|one| one.id == feed.id && one.tag == feed.tag)
            {
                sound(validate::feed_in_place(project, routing, &feed))?;
                project.routings[at].feeds[place] = feed;
            } else {
                let mut routing = routing.clone();
                let id = feed.id;
                put(&mut routing.feeds, feed, |one| one.id == id);
                accept_routing(project, at, routing)?;
            }
        }
        Edit::RemoveFeed(in_routing, id) => {
            let at = routing_index(project, in_routing)?;
            let feeds = &mut project.routings[at].feeds;
            let before = feeds.len();
            feeds.retain(|feed| feed.id != id);
            if feeds.len() == before {
                return Err(EditError::Missing("that row feed".to_owned()));
            }
        }
        Edit::PutCatchTest(test) => put_catch_test(project, *test, None)?,
        Edit::PutCatchTestOn(test, bar) => put_catch_test(project, *test, Some(bar))?,
        Edit::RemoveCatchTest(id) => {
            if !project.catch_tests.remove(id) {
                return Err(EditError::Missing("that catch test".to_owned()));
            }
        }
        Edit::Dismiss(new) => {
            sound(validate::dismissal(&new))?;
            let mut dismissed = project.dismissed.clone();
            dismissal::add(&mut dismissed, new);
            sound(validate::dismissed(&dismissed))?;
            project.dismissed = dismissed;
        }
        Edit::Recall(old) => project.dismissed.retain(|one| *one != old),
    }
    Ok(())
}

fn put_duty(project: &mut Project, mut duty: Duty) -> Result<(), EditError> {
    if project.duties.iter().any(|one| one.id != duty.id && one.name == duty.name) {
        return Err(in_use(format!("the name {}", duty.name), "another duty"));
    }
    sound(validate::duty(&duty))?;
    // A file may hold a rate of 0, and opens; nobody is to enter one.
    let had_a_rate = project.duties.get(duty.id).is_none_or(|old| old.rate > ApplicationRate::ZERO);
    if duty.rate <= ApplicationRate::ZERO && had_a_rate {
        return Err(EditError::Invalid(Box::new(Problem {
            place: called("duty", &duty.name, duty.id.0),
            what: "its application rate is 0".to_owned(),
            advice: "give what is to be applied per area; to stop the flow, shut a section valve".to_owned(),
        })));
    }
    let is_new = project.duties.get(duty.id).is_none();
    let found = project.duties.count() + usize::from(is_new);
    sound(Bound::Duties.broken_by("project", "it", found).into_iter().collect())?;
    if let Some(old) = project.duties.get(duty.id) {
        duty.liquid.settle(&old.liquid);
    }
    project.duties.put(duty);
    Ok(())
}

fn put_catch_test(
    project: &mut Project,
    test: CatchTest,
    bar: Option<Arc<Project>>,
) -> Result<(), EditError> {
    let before = &project.catch_tests;
    if before.tests.iter().any(|one| one.id != test.id && one.name == test.name) {
        return Err(in_use(format!("the name {}", test.name), "another catch test"));
    }
    let mut tests = before.clone();
    let id = test.id;
    tests.put(test, bar);
    sound(validate::catch_list(&tests))?;
    if let Some(test) = tests.get(id) {
        if let Some(fresh) = tests.bar(test.bar).filter(|bar| before.bar(bar.id).is_none()) {
            sound(validate::tested_bar(fresh))?;
        }
        sound(validate::catch_test(&tests, test))?;
    }
    project.catch_tests = tests;
    Ok(())
}

fn missing_part() -> EditError {
    EditError::Missing("that part".to_owned())
}

fn routing_index(project: &Project, id: RoutingId) -> Result<usize, EditError> {
    let found = project.routings.iter().position(|routing| routing.id == id);
    found.ok_or_else(|| EditError::Missing("that routing".to_owned()))
}

fn accept_routing(project: &mut Project, at: usize, routing: Routing) -> Result<(), EditError> {
    sound(validate::routing(project, &routing))?;
    project.routings[at] = routing;
    Ok(())
}

fn put_part(project: &mut Project, in_routing: RoutingId, part: Part) -> Result<(), EditError> {
    let at = routing_index(project, in_routing)?;
    let mut routing = project.routings[at].clone();
    let id = part.id;
    let host = part.mount.and_then(|mount| routing.part(mount.part)).map(|host| host.section);
    let part = Part { section: host.unwrap_or(part.section), ..part };
    let moved_on = project.routings[at].part(id).is_some_and(|old| old.section != part.section);
    put(&mut routing.parts, part, |one| one.id == id);
    loosen(&mut routing, &project.catalogue, project, at);
    if moved_on {
        routing.settle(id, &project.bar, &project.catalogue, &project.supply);
    }
    accept_routing(project, at, routing)
}

/// Gives every end whose port is gone from a changed routing a loose end where the port was, and ends mounts on such
/// ports. Places are those of the routing before, with the catalogue it had then.
fn loosen(routing: &mut Routing, new: &Catalogue, before: &Project, at: usize) {
    let left: Vec<(PartId, PartKey)> =
        routing.parts.iter().map(|part| (part.id, part.entry.clone())).collect();
    let gone = |port: PortRef| {
        let entry = left.iter().find(|(id, _)| *id == port.part).map(|(_, entry)| entry);
        !entry.and_then(|entry| new.item(entry)).is_some_and(|item| item.has_port(port.port))
    };
    if !routing.connections().any(|(port, _)| gone(port)) {
        return;
    }
    let anchors = Anchors::of(before, &before.routings[at]);
    let runs = routing.runs.iter_mut().flat_map(|run| [&mut run.from, &mut run.to]);
    for end in runs.chain(routing.feeds.iter_mut().map(|feed| &mut feed.from)) {
        if let Some(port) = end.port().filter(|port| gone(*port)) {
            *end = End::Loose(anchors.port(port).unwrap_or_default());
        }
    }
    for part in &mut routing.parts {
        if part.mount.is_some_and(gone) {
            let placed = anchors.part(part.id).map(|one| (one.at, one.turn));
            (part.position, part.turn) = placed.unwrap_or((part.position, part.turn));
            part.mount = None;
        }
    }
    rounding::routing(routing);
}

fn set_bar(project: &mut Project, mut bar: Bar) -> Result<(), EditError> {
    rounding::bar(&mut bar);
    sound(validate::bar(&bar))?;
    let mut trial = Project { bar, ..project.clone() };
    let Project { bar, routings, .. } = &mut trial;
    for point in routings.iter_mut().flat_map(Routing::points_mut) {
        if bar.section(point.section).is_none() {
            *point = BarPoint::over(bar, point.place);
        }
    }
    for routing in &trial.routings {
        sound(validate::routing(&trial, routing))?;
    }
    *project = trial;
    Ok(())
}

fn reshape(project: &mut Project, mut bar: Bar) -> Result<(), EditError> {
    rounding::bar(&mut bar);
    sound(validate::bar(&bar))?;
    let mut fitted = super::refit::refit(project, bar).project;
    fitted.routings.iter_mut().for_each(rounding::routing);
    sound(validate::validate(&fitted))?;
    *project = fitted;
    Ok(())
}

fn remove_section(project: &mut Project, id: SectionId) -> Result<(), EditError> {
    let Some(section) = project.bar.section(id) else {
        return Err(EditError::Missing("that section".to_owned()));
    };
    let what = format!("section {}", section.name);
    if let Some(row) = project.bar.rows.iter().find(|row| row.section == id) {
        return Err(in_use(what, format!("row {}", row.number)));
    }
    let child = project.bar.sections.iter().find(|one| one.hinge.is_some_and(|hinge| hinge.parent == id));
    if let Some(child) = child {
        return Err(in_use(what, format!("section {}", child.name)));
    }
    for routing in &project.routings {
        if let Some(part) = routing.parts.iter().find(|part| part.section == id) {
            return Err(in_use(what, format!("part {} of routing {}", part.tag, routing.name)));
        }
    }
    let mut bar = project.bar.clone();
    bar.sections.retain(|section| section.id != id);
    set_bar(project, bar)
}

fn put_entries(project: &mut Project, entries: Vec<Entry>) -> Result<(), EditError> {
    sound(Bound::Entries.broken_by("catalogue", "it", entries.len()).into_iter().collect())?;
    let mut trial = project.clone();
    for mut entry in entries {
        sound(validate::entry(&entry))?;
        if let Some(old) = trial.catalogue.entry(&entry.key) {
            entry.settle(old);
        }
        let key = entry.key.clone();
        put(&mut trial.catalogue.entries, entry, |one| one.key == key);
    }
    let found = trial.catalogue.entries.len();
    sound(Bound::Entries.broken_by("catalogue", "it", found).into_iter().collect())?;
    for (at, routing) in trial.routings.iter_mut().enumerate() {
        // A manifold entry that loses outlets leaves loose ends; positions are those of the old entry.
        loosen(routing, &trial.catalogue, project, at);
    }
    for routing in &trial.routings {
        sound(validate::routing(&trial, routing))?;
    }
    *project = trial;
    Ok(())
}

fn remove_entry(project: &mut Project, key: &EntryKey) -> Result<(), EditError> {
    if project.catalogue.entry(key).is_none() {
        return Err(EditError::Missing(format!("catalogue entry {key}")));
    }
    for routing in &project.routings {
        let part = routing.parts.iter().find(|part| part.entry == *key).map(|part| &part.tag);
        let run = routing
            .runs
            .iter()
            .find(|run| run.line.stock == *key || run.fittings.iter().any(|one| *one == *key))
            .map(|run| &run.tag);
        let uses = |feed: &&RowFeed| {
            feed.elements().any(|element| element.entry() == key)
                || feed.split.as_ref().is_some_and(|split| split.entry == *key)
        };
        let feed = routing.feeds.iter().find(uses).map(|feed| &feed.tag);
        if let Some(tag) = part.or(run).or(feed) {
            return Err(in_use(
                format!("catalogue entry {key}"),
                format!("{tag} of routing {}", routing.name),
            ));
        }
    }
    project.catalogue.entries.retain(|entry| entry.key != *key);
    Ok(())
}
