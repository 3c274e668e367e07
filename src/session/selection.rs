//! What is selected: by box, by kind, by section, and everything downstream of a part.

use std::collections::BTreeSet;

use super::Session;
use crate::geometry::{Bounds, Point2};
use crate::plan::connection_graph::Reached;
use crate::plan::{BarPoint, End, FeedId, PartId, RunId, SectionId, Subject};

impl Session {
    /// The only selected part, if it is the only thing selected.
    pub fn selected_part(&self) -> Option<PartId> {
        match self.selection().iter().collect::<Vec<_>>()[..] {
            [Subject::Part(id)] => Some(*id),
            _ => None,
        }
    }

    /// All selected parts.
    pub fn selected_parts(&self) -> Vec<PartId> {
        let parts = self.selection().iter();
        parts.filter_map(|subject| if let Subject::Part(id) = subject { Some(*id) } else { None }).collect()
    }

    /// All selected hoses.
    pub fn selected_runs(&self) -> Vec<RunId> {
        let runs = self.selection().iter();
        runs.filter_map(|subject| if let Subject::Run(id) = subject { Some(*id) } else { None }).collect()
    }

    /// All selected row feeds, those of selected rows among them.
    pub fn selected_feeds(&self) -> Vec<FeedId> {
        let feeds = self.selection().iter().filter_map(|subject| match subject {
            Subject::Feed(id) => Some(*id),
            Subject::Row(id) => self.routing().feed_of(*id).map(|feed| feed.id),
            Subject::Part(_) | Subject::Run(_) => None,
        });
        feeds.collect::<BTreeSet<_>>().into_iter().collect()
    }

    /// Selects what lies wholly in a box: parts by their middle, hoses by their whole way, rows by their outlet.
    /// Row feeds are selected with everything else of their row only by kind, or the box would hold nothing else.
    pub fn select_in(&mut self, bounds: Bounds, add: bool) {
        let found = {
            let (project, routing) = (self.project(), self.routing());
            let part_in = |part: &&crate::plan::PlacedPart| bounds.contains(part.at.flat());
            let parts =
                self.geometry().anchors.parts().iter().filter(part_in).map(|part| Subject::Part(part.id));
            let run_in = |run: &&crate::plan::Run| {
                let laid = self.geometry().run(run.id);
                laid.is_some_and(|laid| laid.path.iter().all(|point| bounds.contains(point.place.flat())))
            };
            let runs = routing.runs.iter().filter(run_in).map(|run| Subject::Run(run.id));
            let bar = &project.bar;
            let rows = bar.rows.iter().filter(|row| bounds.contains(bar.outlet(row).flat()));
            let rows = rows.map(|row| Subject::Row(row.id));
            let found: BTreeSet<Subject> = parts.chain(runs).collect();
            // A box across the openers alone selects rows; one that holds parts or hoses means those.
            if found.is_empty() { rows.collect() } else { found }
        };
        self.take_selection(found, add);
    }

    fn take_selection(&mut self, found: BTreeSet<Subject>, add: bool) {
        if add {
            self.editor.selection.extend(found);
        } else {
            self.editor.selection.set(found);
        }
    }

    /// Selects everything of the routing: parts, hoses and row feeds.
    pub fn select_all(&mut self) {
        let routing = self.routing();
        let parts = routing.parts.iter().map(|part| Subject::Part(part.id));
        let runs = routing.runs.iter().map(|run| Subject::Run(run.id));
        let feeds = routing.feeds.iter().map(|feed| Subject::Feed(feed.id));
        let all: BTreeSet<Subject> = parts.chain(runs).chain(feeds).collect();
        self.editor.selection.set(all);
    }

    /// Selects every part for which `fits` holds, by what it is in the catalogue.
    pub fn select_parts(&mut self, fits: impl Fn(&crate::plan::PartItem) -> bool) {
        let catalogue = &self.project().catalogue;
        let fits = |part: &&crate::plan::Part| catalogue.item(&part.entry).is_some_and(&fits);
        let parts = self.routing().parts.iter().filter(fits);
        let all: BTreeSet<Subject> = parts.map(|part| Subject::Part(part.id)).collect();
        self.editor.selection.set(all);
    }

    /// Selects every hose.
    pub fn select_runs(&mut self) {
        let all: BTreeSet<Subject> = self.routing().runs.iter().map(|run| Subject::Run(run.id)).collect();
        self.editor.selection.set(all);
    }

    /// Selects every row feed.
    pub fn select_feeds(&mut self) {
        let all: BTreeSet<Subject> = self.routing().feeds.iter().map(|feed| Subject::Feed(feed.id)).collect();
        self.editor.selection.set(all);
    }

    /// Selects every row.
    pub fn select_rows(&mut self) {
        let all: BTreeSet<Subject> = self.project().bar.rows.iter().map(|row| Subject::Row(row.id)).collect();
        self.editor.selection.set(all);
    }

    /// Adds everything of the kinds that are selected: all tees for a tee, all hoses for a hose.
    pub fn select_same_kind(&mut self) {
        let (project, routing) = (self.project(), self.routing());
        let kind =
            |part: &crate::plan::Part| project.catalogue.item(&part.entry).map(crate::plan::PartItem::kind);
        let mut found = BTreeSet::new();
        for subject in self.selection() {
            match subject {
                Subject::Part(id) => {
                    let wanted = routing.part(*id).and_then(kind);
                    let like = routing.parts.iter().filter(|part| kind(part) == wanted);
                    found.extend(like.map(|part| Subject::Part(part.id)));
                }
                Subject::Run(_) => found.extend(routing.runs.iter().map(|run| Subject::Run(run.id))),
                Subject::Feed(_) => found.extend(routing.feeds.iter().map(|feed| Subject::Feed(feed.id))),
                Subject::Row(_) => found.extend(project.bar.rows.iter().map(|row| Subject::Row(row.id))),
            }
        }
        self.editor.selection.set(found);
    }

    /// The sections that what is selected rides on, in the bar's order.
    pub fn selected_sections(&self) -> Vec<SectionId> {
        let bar = &self.project().bar;
        let mut sections = BTreeSet::new();
        for subject in self.selection() {
            sections.extend(self.sections_of(*subject));
        }
        bar.sections.iter().map(|section| section.id).filter(|id| sections.contains(id)).collect()
    }

    /// The sections that something touches: one for a part or row, those of both ends for a hose.
    fn sections_of(&self, subject: Subject) -> Vec<SectionId> {
        let (bar, routing) = (&self.project().bar, self.routing());
        match subject {
            Subject::Part(id) => routing.part(id).map(|part| part.section).into_iter().collect(),
            Subject::Run(id) => {
                let Some(run) = routing.run(id) else { return Vec::new() };
                [run.from, run.to].iter().filter_map(|end| self.section_of_end(end)).collect()
            }
            Subject::Feed(id) => {
                let Some(feed) = routing.feed(id) else { return Vec::new() };
                let rows = feed.branches.iter().filter_map(|branch| Some(bar.row(branch.row)?.section));
                rows.collect()
            }
            Subject::Row(id) => bar.row(id).map(|row| row.section).into_iter().collect(),
        }
    }

    /// The section that carries an end: that of its part, otherwise the one below it.
    pub(super) fn section_of_end(&self, end: &End) -> Option<SectionId> {
        self.geometry().anchors.end(end).map(|end| end.section)
    }

    /// Selects what rides on a section: its parts, the hoses with both ends on it, the feeds of its rows.
    pub fn select_section(&mut self, section: SectionId, add: bool) {
        let routing = self.routing();
        let parts = routing.parts.iter().map(|part| Subject::Part(part.id));
        let runs = routing.runs.iter().map(|run| Subject::Run(run.id));
        let feeds = routing.feeds.iter().map(|feed| Subject::Feed(feed.id));
        let on_it = |subject: &Subject| {
            let sections = self.sections_of(*subject);
            !sections.is_empty() && sections.iter().all(|one| *one == section)
        };
        let found = parts.chain(runs).chain(feeds).filter(on_it).collect();
        self.take_selection(found, add);
    }

    /// Selects everything on the sections of what is selected.
    pub fn select_sections(&mut self) {
        let sections = self.selected_sections();
        self.editor.selection.clear();
        for section in sections {
            self.select_section(section, true);
        }
    }

    /// Everything that the given parts supply, themselves included: along the flow where it is solved, and what the supply
    /// could not reach without them, for what has no flow hangs on a shut valve or leads nowhere. Of parts that nothing
    /// supplies yet, what is connected behind any port but the inlet.
    pub fn downstream(&self, parts: &[PartId]) -> BTreeSet<Subject> {
        let connections = &self.geometry().connections;
        let (reached, without) = (connections.reached_without(&[]), connections.reached_without(parts));
        let mut found =
            Reached { parts: &reached.parts - &without.parts, runs: &reached.runs - &without.runs };
        let mut add = |mut more: Reached| {
            found.parts.append(&mut more.parts);
            found.runs.append(&mut more.runs);
        };
        if !parts.iter().any(|id| reached.parts.contains(id)) {
            add(connections.behind_outlets(parts));
        } else if parts.iter().all(|id| reached.parts.contains(id)) {
            add(connections.downstream(parts, |run| self.outcome().flow_of(run)));
        }
        found.parts.extend(parts);
        let feeds = self.routing().feeds.iter();
        let feeds =
            feeds.filter(|feed| feed.from.port().is_some_and(|port| found.parts.contains(&port.part)));
        let feeds: Vec<Subject> = feeds.map(|feed| Subject::Feed(feed.id)).collect();
        let parts = found.parts.into_iter().map(Subject::Part);
        parts.chain(found.runs.into_iter().map(Subject::Run)).chain(feeds).collect()
    }

    /// Selects what the selected parts supply.
    pub fn select_downstream(&mut self) {
        let parts = self.selected_parts();
        if !parts.is_empty() {
            self.editor.selection.set(self.downstream(&parts));
        }
    }

    /// The leg of a hose nearest to a point, as the place of a waypoint that would bend it there.
    pub(super) fn leg_at(&self, run: RunId, at: Point2) -> Option<usize> {
        let path = &self.geometry().run(run)?.path;
        let away = |pair: &[BarPoint]| at.distance_to_piece(pair[0].place.flat(), pair[1].place.flat());
        let legs = path.windows(2).enumerate();
        legs.min_by(|a, b| away(a.1).total_cmp(&away(b.1))).map(|(index, _)| index)
    }
}
