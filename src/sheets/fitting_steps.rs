//! The fitting steps of one routing, in an order worked out from the routing itself.
//!
//! What carries comes before what is carried, from the pump outwards; what lies beneath before what lies over it;
//! both sides of a hinge before the loop between them; the flush before any metering goes in; the pressure test before
//! the bar is let down to the ground. Intervals and habits of the trade are common practice, no source.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::cautions;
use super::cut_list::{Piece, pieces};
use super::document::{Block, Document, Step, Steps};
use super::fitting_order::{
    Laid, beneath_first, beneath_part, hinges_of_run, laid_feed, laid_run, steps_from_pump, steps_of_run,
};
use super::parts_list::{ListItem, items, number_of};
use super::places;
use crate::drawing::layout_tables::turned;
use crate::plan::words;
use crate::plan::{
    Control, End, EntryKey, FeedElement, Item, Part, PartId, Project, Routing, RowFeed, Run, SectionId,
};
use crate::quantities::{Length, Measure, Pressure};

/// Everything the steps are worked out from.
struct Work<'a> {
    project: &'a Project,
    routing: &'a Routing,
    items: Vec<ListItem>,
    pieces: Vec<Piece>,
    from_pump: BTreeMap<PartId, usize>,
    runs: Vec<Laid>,
}

/// The fitting steps as a paper.
pub fn fitting_steps(project: &Project, routing: &Routing) -> Document {
    let mut document = Document::new("Fitting steps", project, routing);
    document.blocks.extend(cautions::blocks());
    if routing.parts.is_empty() && routing.runs.is_empty() && routing.feeds.is_empty() {
        document.blocks.push(Block::Paragraph("Nothing is placed on this routing yet.".to_owned()));
        return document;
    }
    let work = Work {
        project,
        routing,
        items: items(project, routing),
        pieces: pieces(project, routing),
        from_pump: steps_from_pump(routing),
        runs: routing.runs.iter().map(|run| laid_run(project, routing, run)).collect(),
    };
    let stages = [
        ("Prepare", work.prepare()),
        ("Mount what carries", work.mount()),
        ("Lay the hoses of each section", work.hoses_within()),
        ("Join across the hinges", work.hoses_across()),
        ("Flush hoses and manifolds", work.flush_mains()),
        ("Fit the delivery tubes", work.tubes()),
        ("Flush the tubes, then fit check valves and metering", work.metering()),
        ("Test under pressure, before the ground", work.test()),
    ];
    let mut first = 1;
    for (heading, steps) in stages {
        if steps.is_empty() {
            continue;
        }
        document.blocks.push(Block::Heading(heading.to_owned()));
        let count = steps.len();
        document.blocks.push(Block::Steps(Steps { first, steps }));
        first += count;
    }
    document
}

fn step(text: impl Into<String>, details: Vec<String>) -> Step {
    Step { text: text.into(), details, cautions: Vec::new() }
}

/// `1 hose`, `3 hoses`.
fn counted(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

impl<'a> Work<'a> {
    fn item(&self, key: &EntryKey) -> Option<&'a Item> {
        self.project.catalogue.item(key)
    }

    fn of_item(&self, key: &EntryKey) -> String {
        number_of(&self.items, key).map_or_else(String::new, |number| format!(" (item {number})"))
    }

    fn cut_length(&self, length: Length) -> String {
        Measure::CutLength.short_text(length.si(), self.project.units)
    }

    fn section(&self, id: SectionId) -> &'a str {
        places::section(self.project, id)
    }

    fn is_screwed_on(&self, part: &Part) -> bool {
        part.mount.is_some()
            || matches!(self.item(&part.entry), Some(Item::Gauge { .. } | Item::BlankingPlug { .. }))
    }

    fn steps_to(&self, part: &Part) -> usize {
        self.from_pump.get(&part.id).copied().unwrap_or(usize::MAX)
    }

    /// A piece of hose or tube: `H3 2 340 mm, J1 left end to M2 inlet`.
    fn piece_words(&self, piece: &Piece) -> String {
        let length = piece.length.map_or_else(|| "length not known".to_owned(), |one| self.cut_length(one));
        format!("{}: {length}, {} to {}", piece.tag, piece.from, piece.to)
    }

    fn piece(&self, tag: &str) -> Option<&Piece> {
        self.pieces.iter().find(|piece| piece.tag == tag)
    }

    fn prepare(&self) -> Vec<Step> {
        let mut steps = Vec::new();
        let mut lock = step(
            "Unfold the bar on firm level ground, let it down onto supports in working position, lock every wing, stop the \
             engine and take the key out",
            Vec::new(),
        );
        if self.project.bar.sections.iter().any(|section| section.hinge.is_some()) {
            lock.cautions.push(cautions::folding());
        }
        steps.push(lock);
        let total: usize = self.items.iter().map(|item| item.pieces).sum();
        let mut tools = vec![
            "Hose cutter, tape measure, marker, labels".to_owned(),
            "Two buckets, clean water for flushing and testing, a gauge that rests on zero".to_owned(),
            "Eye and hand protection, rinsing water".to_owned(),
        ];
        let clamps: BTreeSet<String> = self
            .routing
            .runs
            .iter()
            .filter_map(|run| self.project.catalogue.stock(&run.line.stock))
            .map(|stock| Measure::Bore.short_text(stock.outside.si(), self.project.units))
            .collect();
        if !clamps.is_empty() {
            let sizes: Vec<String> = clamps.into_iter().collect();
            tools.push(format!("Driver for hose clamps on {} outside diameter", words::list(&sizes)));
        }
        steps.push(step("Lay out the tools", tools));
        steps.push(step(
            format!(
                "Check the parts against the parts list: {}, {} in all",
                counted(self.items.len(), "item"),
                counted(total, "piece")
            ),
            vec!["Put aside spares, and all metering and check valves: they go in last".to_owned()],
        ));
        let through_the_fold: Vec<String> = self
            .routing
            .runs
            .iter()
            .filter(|run| !hinges_of_run(self.project, self.routing, run).is_empty())
            .map(|run| run.tag.clone())
            .collect();
        let mut cutting = vec![
            format!(
                "{} after the cut list, each labelled at both ends at once",
                counted(self.pieces.len(), "piece")
            ),
            "Cut square, leave no burr; blow each piece through".to_owned(),
        ];
        if !through_the_fold.is_empty() {
            cutting.push(format!(
                "Leave {} uncut for now: measure through the full fold before cutting",
                words::tags(&through_the_fold)
            ));
        }
        steps.push(step("Cut and label hoses and tubes", cutting));
        let rows: Vec<u32> =
            self.project.bar.rows.iter().filter(|row| !row.left_out).map(|row| row.number).collect();
        if !rows.is_empty() {
            steps.push(step(
                format!(
                    "Mark rows {} on the frame, from left to right seen facing forward",
                    words::ranges(&rows)
                ),
                Vec::new(),
            ));
        }
        steps
    }

    /// Where a part goes on the bar and how it stands, measured as on the layout.
    fn place_words(&self, part: &Part) -> String {
        let (at, _) = self.routing.placement(part, &self.project.catalogue);
        let place = self.project.bar.place(Some(part.section), at);
        let distance = |value: f64| Measure::CutLength.short_text(value.abs(), self.project.units);
        let mut words = vec![match place.from_centre {
            x if x > 0.0005 => format!("{} right of the centre", distance(x)),
            x if x < -0.0005 => format!("{} left of the centre", distance(x)),
            _ => "on the centre line".to_owned(),
        }];
        words.extend(place.from_hinge.map(|from| format!("{} from its section's hinge", distance(from))));
        words.extend(place.behind_front.map(|behind| match behind {
            y if y > 0.0005 => format!("{} behind the front rail", distance(y)),
            y if y < -0.0005 => format!("{} in front of the front rail", distance(y)),
            _ => "on the front rail".to_owned(),
        }));
        words.push(format!("{} above the ground", distance(place.height)));
        words.push(turned(self.project, self.routing, part));
        words.retain(|one| !one.is_empty());
        words.join(", ")
    }

    /// One step a section, the centre first, then outwards; in a section from the pump outwards.
    fn mount(&self) -> Vec<Step> {
        let mut steps = Vec::new();
        for section in &self.project.bar.sections {
            let mut parts: Vec<&Part> = self
                .routing
                .parts
                .iter()
                .filter(|part| part.section == section.id && !self.is_screwed_on(part))
                .collect();
            if parts.is_empty() {
                continue;
            }
            parts.sort_by_key(|part| self.steps_to(part));
            let details = parts
                .iter()
                .map(|part| {
                    let kind = self.item(&part.entry).map_or("part", Item::kind);
                    let mut words = format!(
                        "{}, {kind}{}: {}",
                        part.tag,
                        self.of_item(&part.entry),
                        self.place_words(part)
                    );
                    let beneath = beneath_part(self.project, self.routing, part, &self.runs);
                    if !beneath.is_empty() {
                        let _ = write!(
                            words,
                            "; {} beneath it: lay that first, then fasten {}",
                            if beneath.len() == 1 {
                                format!("{} passes", beneath[0])
                            } else {
                                format!("{} pass", words::tags(&beneath))
                            },
                            part.tag
                        );
                    }
                    if !self.from_pump.contains_key(&part.id) {
                        words.push_str("; no hose joins it to the pump yet");
                    }
                    words
                })
                .collect();
            steps.push(step(
                format!("On the {}, mount in this order", self.section_words(section.id)),
                details,
            ));
        }
        let tags: Vec<String> = self
            .routing
            .parts
            .iter()
            .filter(|part| matches!(self.item(&part.entry), Some(Item::Manifold { .. })))
            .map(|part| part.tag.clone())
            .collect();
        if !tags.is_empty() {
            steps.push(step(
                format!("Check the manifolds {}: level with the bar, outlets free, inlet as the layout sheet shows", words::tags(&tags)),
                vec!["Keep every port capped until its hose goes on".to_owned()],
            ));
        }
        if self.project.bar.sections.iter().any(|section| section.hinge.is_some()) && !steps.is_empty() {
            let mut fold = step(
                "Unlock, fold once slowly without any hose, and watch that no part touches anything; unfold and lock again",
                Vec::new(),
            );
            fold.cautions.push(cautions::folding());
            steps.push(fold);
        }
        steps
    }

    fn section_words(&self, id: SectionId) -> String {
        let name = self.section(id);
        if name.contains("section") || name.contains("wing") {
            name.to_owned()
        } else {
            format!("{name} section")
        }
    }

    /// Runs in the order they are laid: from the pump outwards, the wider first, what lies beneath before all that.
    fn ordered(&self, wanted: impl Fn(&Run) -> bool) -> Vec<&'a Run> {
        let mut runs: Vec<&Run> = self.routing.runs.iter().filter(|run| wanted(run)).collect();
        let outside = |run: &Run| {
            self.project.catalogue.stock(&run.line.stock).map_or(0, |stock| (stock.outside.si() * 1e6) as u64)
        };
        runs.sort_by_key(|run| (steps_of_run(&self.from_pump, run), std::cmp::Reverse(outside(run))));
        let laid: Vec<Laid> = runs.iter().map(|run| laid_run(self.project, self.routing, run)).collect();
        beneath_first(&laid).into_iter().map(|at| runs[at]).collect()
    }

    fn run_words(&self, run: &Run) -> String {
        let mut words = self.piece(&run.tag).map_or_else(|| run.tag.clone(), |piece| self.piece_words(piece));
        let _ = write!(words, "; hose{}", self.of_item(&run.line.stock));
        let mut fittings: Vec<&EntryKey> = run.fittings.iter().collect();
        fittings.sort();
        for same in fittings.chunk_by(|a, b| a == b) {
            let _ = write!(words, ", {} × fitting{}", same.len(), self.of_item(same[0]));
        }
        words
    }

    /// How tight each stock may be bent, in the order of the item numbers.
    fn least_radii<'k>(&self, stocks: impl Iterator<Item = &'k EntryKey>) -> String {
        let mut radii: Vec<(usize, String)> = stocks
            .filter_map(|key| {
                let radius = self.cut_length(self.project.catalogue.stock(key)?.bend_radius);
                let number = number_of(&self.items, key)?;
                Some((number, format!("item {number} {radius}")))
            })
            .collect();
        radii.sort();
        radii.dedup();
        let radii: Vec<String> = radii.into_iter().map(|(_, words)| words).collect();
        format!("Least bend radius, to the centre line: {}", words::list(&radii))
    }

    fn hoses_within(&self) -> Vec<Step> {
        let within = self.ordered(|run| hinges_of_run(self.project, self.routing, run).is_empty());
        let mut steps = Vec::new();
        let section_of = |run: &Run| {
            let ends = [&run.from, &run.to];
            ends.into_iter().find_map(|end| self.routing.carrier(end))
        };
        let mut sections: Vec<Option<SectionId>> =
            self.project.bar.sections.iter().map(|section| Some(section.id)).collect();
        sections.push(None);
        for section in sections {
            let runs: Vec<&&Run> = within.iter().filter(|run| section_of(run) == section).collect();
            if runs.is_empty() {
                continue;
            }
            let place = section.map_or_else(
                || "joined to no part".to_owned(),
                |id| format!("on the {}", self.section_words(id)),
            );
            let details = runs.iter().map(|run| self.run_words(run)).collect();
            steps.push(step(format!("Lay {} {place}, in this order", counted(runs.len(), "hose")), details));
        }
        if !steps.is_empty() {
            let apart = Measure::CutLength.short_text(0.4, self.project.units);
            steps.push(step(
                "Fasten them",
                vec![
                    format!(
                        "A clip or tie about every {apart}, snug but not necking; one bending plane, no twist"
                    ),
                    self.least_radii(self.routing.runs.iter().map(|run| &run.line.stock)),
                    "Leave the ends at manifolds off until the flush; clamp all others".to_owned(),
                ],
            ));
        }
        steps
    }

    /// Inner hinges first; at each the hoses that cross it, fastened on both sides before the loop.
    fn hoses_across(&self) -> Vec<Step> {
        let across = self.ordered(|run| !hinges_of_run(self.project, self.routing, run).is_empty());
        if across.is_empty() {
            return Vec::new();
        }
        let mut steps = Vec::new();
        let mut done: BTreeSet<&str> = BTreeSet::new();
        for section in &self.project.bar.sections {
            let Some(hinge) = section.hinge else { continue };
            let crosses = |run: &&&Run| hinges_of_run(self.project, self.routing, run).contains(&section.id);
            let runs: Vec<&&Run> = across.iter().filter(crosses).collect();
            if runs.is_empty() {
                continue;
            }
            let mut details: Vec<String> = Vec::new();
            for run in &runs {
                if done.insert(run.tag.as_str()) {
                    details.push(self.run_words(run));
                } else {
                    details.push(format!("{}: goes on from the hinge before", run.tag));
                }
                let radius = self.project.catalogue.stock(&run.line.stock).map(|stock| stock.bend_radius);
                let extra = run
                    .line
                    .hinge_allowances
                    .iter()
                    .find(|one| one.section == section.id)
                    .map(|one| one.extra);
                let extra = extra.map_or_else(
                    || "no extra length was entered".to_owned(),
                    |extra| format!("{} extra entered, not computed", self.cut_length(extra)),
                );
                let radius = radius.map_or_else(String::new, |radius| {
                    format!("; bend no tighter than {} radius", self.cut_length(radius))
                });
                details.push(format!("Loop of {}: {extra}{radius}", run.tag));
            }
            details.push(format!(
                "Fasten on the {}, then on the {}, within {} of the hinge on both sides; form the loop last",
                self.section_words(hinge.parent),
                self.section_words(section.id),
                self.cut_length(Length::metres(0.1))
            ));
            let mut one = step(
                format!(
                    "At the hinge of the {}, lay {}",
                    self.section_words(section.id),
                    counted(runs.len(), "hose")
                ),
                details,
            );
            one.cautions.push(cautions::warning(
                "Measure through the full fold before cutting: a stretched hose tears off, a slack one is crushed.",
            ));
            steps.push(one);
        }
        let tags: Vec<String> = across.iter().map(|run| run.tag.clone()).collect();
        let mut fold = step(
            format!("Fold slowly and watch {} at the start, half-way and folded", words::tags(&tags)),
            vec![
                "No hose stretched, kinked, pinched or rubbing; the bar folded no wider and no higher than without hoses"
                    .to_owned(),
                "Unfold, lock, and only now clamp the ends at the hinges for good".to_owned(),
            ],
        );
        fold.cautions.push(cautions::folding());
        steps.push(fold);
        steps
    }

    fn flush_mains(&self) -> Vec<Step> {
        let mut steps = Vec::new();
        let manifolds: Vec<&Part> = {
            let mut parts: Vec<&Part> = self
                .routing
                .parts
                .iter()
                .filter(|part| matches!(self.item(&part.entry), Some(Item::Manifold { .. })))
                .collect();
            parts.sort_by_key(|part| self.steps_to(part));
            parts
        };
        let tags: Vec<String> = manifolds.iter().map(|part| part.tag.clone()).collect();
        if !self.routing.runs.is_empty() {
            let filters: Vec<String> = self
                .routing
                .parts
                .iter()
                .filter(|part| matches!(self.item(&part.entry), Some(Item::InletFilter { .. })))
                .map(|part| part.tag.clone())
                .collect();
            let mut details =
                vec!["Clean water, slowly, until it runs clear into a bucket at every open end".to_owned()];
            if !tags.is_empty() {
                details.push(format!("Order: {}", words::tags(&tags)));
            }
            if !filters.is_empty() {
                details.push(format!("Then clean the screen of {}", words::tags(&filters)));
            }
            let mut flush = step("Flush the hoses with their ends at the manifolds off", details);
            flush.cautions.push(cautions::pressure());
            steps.push(flush);
        }
        if !tags.is_empty() {
            steps.push(step(
                format!(
                    "Join and clamp the hose ends at {}, then flush through the open outlets",
                    words::tags(&tags)
                ),
                Vec::new(),
            ));
        }
        let mut screwed: Vec<String> = Vec::new();
        for part in self.routing.parts.iter().filter(|part| self.is_screwed_on(part)) {
            let kind = self.item(&part.entry).map_or("part", Item::kind);
            let onto = part.mount.map_or_else(
                || "sits on no port yet".to_owned(),
                |port| {
                    let end = End::Port(port);
                    format!("onto {}", places::end(self.project, self.routing, &end))
                },
            );
            screwed.push(format!("{}, {kind}{}: {onto}", part.tag, self.of_item(&part.entry)));
        }
        if !screwed.is_empty() {
            steps.push(step("Pump off, pressure at zero: fit gauges and plugs, threads with seal", screwed));
        }
        steps
    }

    /// One step a manifold, from the pump outwards, its tubes as they lie over each other.
    fn tubes(&self) -> Vec<Step> {
        let mut by_part: BTreeMap<(usize, Option<PartId>), Vec<&RowFeed>> = BTreeMap::new();
        for feed in &self.routing.feeds {
            let part = feed.from.port().map(|port| port.part);
            let depth = part.and_then(|part| self.from_pump.get(&part)).copied().unwrap_or(usize::MAX);
            by_part.entry((depth, part)).or_default().push(feed);
        }
        let mut steps = Vec::new();
        for ((_, part), feeds) in by_part {
            let laid: Vec<Laid> =
                feeds.iter().map(|feed| laid_feed(self.project, self.routing, feed)).collect();
            let details =
                beneath_first(&laid).into_iter().flat_map(|at| self.feed_words(feeds[at])).collect();
            let place = part.and_then(|part| self.routing.part(part)).map_or_else(
                || "Lay the tubes that hang on no manifold yet".to_owned(),
                |part| {
                    let count = counted(feeds.len(), "tube");
                    format!(
                        "At {} on the {}, push in {count} and lay them to the rows",
                        part.tag,
                        self.section_words(part.section)
                    )
                },
            );
            steps.push(step(place, details));
        }
        if !steps.is_empty() {
            let apart = Measure::CutLength.short_text(0.3, self.project.units);
            steps.push(step(
                "Fasten the tubes",
                vec![
                    format!("A clip or tie about every {apart}; no tie on a bend, no loop higher than the manifold"),
                    self.least_radii(self.routing.feeds.iter().flat_map(RowFeed::elements).filter_map(
                        |element| match element {
                            FeedElement::Tube(tube) => Some(&tube.line.stock),
                            _ => None,
                        },
                    )),
                    "Push each end in to its mark and pull on it once".to_owned(),
                ],
            ));
        }
        steps
    }

    fn feed_words(&self, feed: &RowFeed) -> Vec<String> {
        let own = |piece: &&Piece| {
            !piece.is_metering
                && (piece.tag == feed.tag
                    || piece.tag.strip_prefix(feed.tag.as_str()).is_some_and(|rest| rest.starts_with('.')))
        };
        let mut words: Vec<String> = self
            .pieces
            .iter()
            .filter(own)
            .map(|piece| {
                // The metering is not in yet, so the tube goes to its row and ends open there.
                let to = piece.to.rsplit_once(" of ").map_or(piece.to.as_str(), |(_, row)| row);
                let to = if to.starts_with("row ") { to } else { piece.to.as_str() };
                self.piece_words(&Piece { to: to.to_owned(), ..piece.clone() })
            })
            .collect();
        if let Some(split) = &feed.split {
            let rows: Vec<u32> = feed
                .branches
                .iter()
                .filter_map(|branch| Some(self.project.bar.row(branch.row)?.number))
                .collect();
            words.push(format!(
                "{}: small tee{} for rows {}",
                feed.tag,
                self.of_item(&split.entry),
                words::ranges(&rows)
            ));
        }
        words
    }

    fn metering(&self) -> Vec<Step> {
        if self.routing.feeds.is_empty() {
            return Vec::new();
        }
        let mut flush = step(
            "Flush the tubes, section by section, with their ends open, before any check valve or metering is in",
            vec!["Until each runs clear and full; a tube that runs weaker than its neighbours is kinked or blocked".to_owned()],
        );
        flush.cautions.push(cautions::pressure());
        let mut steps = vec![flush];
        // What is fitted, counted by section, in the order the liquid passes.
        for section in &self.project.bar.sections {
            let mut counts: Vec<(usize, &EntryKey, &'static str, Option<Length>, usize)> = Vec::new();
            let mut rows: Vec<u32> = Vec::new();
            for feed in &self.routing.feeds {
                for branch in &feed.branches {
                    let Some(row) = self.project.bar.row(branch.row).filter(|row| row.section == section.id)
                    else {
                        continue;
                    };
                    rows.push(row.number);
                    let trunk = if branch.row == feed.branches[0].row { feed.trunk.as_slice() } else { &[] };
                    for (place, element) in trunk.iter().chain(&branch.elements).enumerate() {
                        if matches!(element, FeedElement::Tube(_)) {
                            continue;
                        }
                        let length = if let FeedElement::MeteringTube { length, .. } = element {
                            Some(*length)
                        } else {
                            None
                        };
                        let same = counts
                            .iter_mut()
                            .find(|one| one.0 == place && one.1 == element.entry() && one.3 == length);
                        match same {
                            Some(one) => one.4 += 1,
                            None => counts.push((place, element.entry(), element.kind(), length, 1)),
                        }
                    }
                }
            }
            if counts.is_empty() {
                continue;
            }
            counts.sort_by_key(|one| one.0);
            let details = counts
                .into_iter()
                .map(|(_, entry, kind, length, count)| {
                    let size =
                        self.item(entry).map_or_else(String::new, |item| item.size(self.project.units));
                    let length = length
                        .map_or_else(String::new, |length| format!(", cut to {}", self.cut_length(length)));
                    format!("{count} × {kind} {size}{length}{}", self.of_item(entry))
                })
                .collect();
            steps.push(step(
                format!(
                    "On the {}, rows {}: fit in the order the liquid passes",
                    self.section_words(section.id),
                    words::ranges(&rows)
                ),
                details,
            ));
        }
        steps.push(step(
            "Check every row: the check valve's arrow with the flow, one metering element a row, all of the size listed",
            Vec::new(),
        ));
        steps
    }

    fn test(&self) -> Vec<Step> {
        let units = self.project.units;
        let pressure = |value: Pressure| Measure::Pressure.text(value.si(), units);
        let supply = &self.project.supply;
        let limit = match supply.control {
            Control::Metered { limit } => limit,
            Control::Held { pressure } => pressure,
        };
        let mut weakest = (supply.weakest_rated, "hose tails and clamps".to_owned());
        for (rated, what) in self
            .items
            .iter()
            .filter_map(|item| {
                let entry = self.project.catalogue.entry(&item.entry)?;
                let rated = entry.item.rated().filter(|_| !matches!(entry.item, Item::Gauge { .. }))?;
                Some((rated, format!("item {}, {}", item.number, entry.description)))
            })
            .chain([(supply.pump_rated, "the pump".to_owned())])
        {
            if rated < weakest.0 {
                weakest = (rated, what);
            }
        }
        let mut details = vec![
            format!("Lowest rated pressure: {} ({})", pressure(weakest.0), weakest.1),
            "Clean water, everybody clear of the bar, wings locked, openers off the ground".to_owned(),
            "Raise in steps; look for drips with a piece of cardboard on a stick, never by hand".to_owned(),
        ];
        let mut test = if limit <= weakest.0 {
            details.push("Hold five minutes; then pump off: the gauges fall, no row drips on".to_owned());
            step(
                format!("Pressure test on the stand: up to {}, the limit set at the pump", pressure(limit)),
                details,
            )
        } else {
            details.push(format!(
                "The limit set at the pump, {}, is above that: change the limit or the part before any test",
                pressure(limit)
            ));
            step("DO NOT TEST YET: the pump's limit is above the lowest rated pressure", details)
        };
        test.cautions.push(cautions::pressure());
        let gauges: Vec<String> = self
            .routing
            .parts
            .iter()
            .filter(|part| matches!(self.item(&part.entry), Some(Item::Gauge { .. })))
            .map(|part| part.tag.clone())
            .collect();
        let mut steps = vec![test];
        steps.push(step(
            "Repair what leaked: pump off, pressure at zero, then open; test again until nothing drips",
            Vec::new(),
        ));
        if self.project.bar.sections.iter().any(|section| section.hinge.is_some()) {
            let mut fold = step(
                "Pressure at zero, hoses full: fold once into transport position and back",
                vec![
                    "No hose pinched; what drips from the rows drains from below the check valves only"
                        .to_owned(),
                ],
            );
            fold.cautions.push(cautions::road());
            steps.push(fold);
        }
        let read =
            if gauges.is_empty() { String::new() } else { format!(", reading {}", words::tags(&gauges)) };
        let mut catch = step(
            format!("Catch test with water on the stand after the commissioning sheet{read}"),
            vec![
                "Only when every row is within its limits does the bar go to the ground with liquid"
                    .to_owned(),
            ],
        );
        catch.cautions.push(cautions::chemicals());
        steps.push(catch);
        steps.push(step(
            "Hand over: layout and schematic sheets, parts and cut lists, the filled-in commissioning sheet, spares",
            Vec::new(),
        ));
        steps
    }
}
