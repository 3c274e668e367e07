//! The fitting steps of one routing, in an order worked out from the routing itself.
//!
//! What carries comes before what is carried, from the pump outwards; what lies beneath before what lies over it;
//! both sides of a hinge before the loop between them; the flush and the test with the outlets closed before any
//! metering goes in. Steps in which water or liquid runs stand in `fitting_water`. Intervals and habits of the trade are
//! common practice, no source.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::basis::Basis;
use super::cautions;
use super::cut_list::Piece;
use super::document::{Block, Document, Step, Steps};
use super::fitting_order::{
    Laid, beneath_first, beneath_part, hinges_of_run, laid_feed, laid_run, steps_of_run,
};
use super::parts_list::{ListItem, number_of};
use super::places;
use crate::checks::Finding;
use crate::drawing::layout_tables::turned;
use crate::hydraulics::Outcome;
use crate::plan::connection_graph::WayFromPump;
use crate::plan::words;
use crate::plan::{
    Duty, EntryKey, FeedElement, FittingKey, Key, LaidRouting, Part, PartId, PartItem, Port, PortRef,
    Project, RowFeed, Run, SectionId, StockKey,
};
use crate::quantities::{Length, Measure};

/// Everything the steps are worked out from.
pub(super) struct Work<'a> {
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    pub(super) duty: &'a Duty,
    pub(super) items: &'a [ListItem],
    pieces: &'a [Piece],
    from_pump: BTreeMap<PartId, usize>,
    ways_from_pump: BTreeMap<PartId, WayFromPump>,
    runs: Vec<Laid>,
    /// With the liquid at the speeds of the commissioning sheet, the slowest first.
    pub(super) outcomes: &'a [Outcome],
    /// The same with water.
    pub(super) water: &'a [Outcome],
    /// All findings at these speeds.
    pub(super) findings: &'a [Finding],
    /// The liquid is water.
    pub(super) is_water: bool,
}

/// The fitting steps as a paper.
pub fn fitting_steps(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing) = (basis.project, basis.routing);
    let mut document = Document::new("Fitting steps", project, routing, basis.duty);
    document.blocks.extend(cautions::blocks());
    if routing.parts.is_empty() && routing.runs.is_empty() && routing.feeds.is_empty() {
        document.blocks.push(Block::Paragraph("Nothing is placed on this routing yet.".to_owned()));
        return document;
    }
    let work = Work {
        project,
        routing,
        duty: basis.duty,
        items: basis.items(),
        pieces: &basis.cut_plan().pieces,
        from_pump: routing.geometry.connections.steps_from_pump(),
        ways_from_pump: routing
            .geometry
            .connections
            .ways_from_pump(|run| routing.geometry.run(run).map_or(0.0, |laid| laid.length.si().max(0.0))),
        runs: routing.runs.iter().map(|run| laid_run(routing, run)).collect(),
        outcomes: basis.outcomes(),
        water: basis.water_outcomes(),
        findings: basis.findings(),
        is_water: basis.is_water(),
    };
    document.blocks.push(Block::Heading("Each time".to_owned()));
    document.blocks.push(Block::Facts(work.each_time()));
    let stages = [
        ("Prepare", work.prepare()),
        ("Mount what carries", work.mount()),
        ("Lay the hoses of each section", work.hoses_within()),
        ("Join across the hinges", work.hoses_across()),
        ("Flush hoses and manifolds", work.flush_mains()),
        ("Test hoses and manifolds, outlets closed", work.closed_test()),
        ("Fit the delivery tubes", work.tubes()),
        ("Flush the tubes, then fit check valves and metering", work.metering()),
        ("Look again with the rows open, before the ground", work.open_test()),
        ("Fill with the liquid", work.first_fill()),
        ("After the test, and at the end of every season", work.afterwards()),
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

pub(super) fn step(text: impl Into<String>, details: Vec<String>) -> Step {
    Step { text: text.into(), details, cautions: Vec::new() }
}

/// A step for which the pump runs.
pub(super) fn pumping(text: impl Into<String>, mut details: Vec<String>) -> Step {
    details.insert(
        0,
        "One person runs engine and pump and stays at the stop; start when everybody has answered and stands clear; \
         afterwards engine off, key out, pressure let off"
            .to_owned(),
    );
    let mut step = step(text, details);
    step.cautions.push(cautions::pressure());
    step
}

/// A step in which the bar folds: who runs it, and what comes before and after.
pub(super) fn folding(text: impl Into<String>, mut details: Vec<String>) -> Step {
    details.insert(
        0,
        "One person at the controls who sees every wing, one who watches and can stop it by a signal; all others out of \
         the way; pump off"
            .to_owned(),
    );
    details.insert(
        1,
        "First: brake on, wheels chocked, nothing overhead, supports out of the way. Afterwards: on supports again, every \
         wing locked, engine off, key out"
            .to_owned(),
    );
    let mut step = step(text, details);
    step.cautions.push(cautions::folding());
    step
}

/// `1 hose`, `3 hoses`.
pub(super) fn counted(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

impl<'a> Work<'a> {
    pub(super) fn item<K: Key>(&self, key: &K) -> Option<&'a K::Item> {
        self.project.catalogue.item(key)
    }

    pub(super) fn of_item(&self, key: &EntryKey) -> String {
        number_of(self.items, key).map_or_else(String::new, |number| format!(" (item {number})"))
    }

    fn cut_length(&self, length: Length) -> String {
        Measure::CutLength.short_text(length.si(), self.project.units)
    }

    fn section(&self, id: SectionId) -> &'a str {
        places::section(self.project, id)
    }

    pub(super) fn is_screwed_on(&self, part: &Part) -> bool {
        part.mount.is_some() || self.item(&part.entry).is_some_and(PartItem::is_on_port)
    }

    /// The hose that brings the liquid to a part; none where nothing joins it to the pump.
    pub(super) fn brings(&self, part: PartId) -> Option<&Run> {
        self.routing.routing.run(self.ways_from_pump.get(&part)?.last?)
    }

    fn steps_to(&self, part: &Part) -> usize {
        self.from_pump.get(&part.id).copied().unwrap_or(usize::MAX)
    }

    /// Millimetres of hose from the pump, to sort by; last where nothing joins it.
    pub(super) fn way_to(&self, part: PartId) -> u64 {
        self.ways_from_pump.get(&part).map_or(u64::MAX, |way| (way.metres * 1000.0).round() as u64)
    }

    pub(super) fn folds(&self) -> bool {
        self.project.bar.sections.iter().any(|section| section.hinge.is_some())
    }

    /// What holds in every step.
    fn each_time(&self) -> Vec<(String, String)> {
        let mut facts = vec![(
            "Before opening a joint".to_owned(),
            format!(
                "Pump and engine off, key out, valve between tank and pump shut. Open the lowest joint first: slowly, under a \
                 cloth, face turned away, eyes protected. A gauge at zero proves nothing: {}, and until the gauges are on \
                 nothing shows the pressure at all.",
                self.held_back()
            ),
        )];
        if self.folds() {
            facts.push((
                "Working beneath a wing".to_owned(),
                "Only with the wing locked and standing on supports rated for its weight; a hydraulic cylinder is no support."
                    .to_owned(),
            ));
        }
        facts.push((
            "Engine and key".to_owned(),
            "Engine off and key in the pocket of whoever works on the bar, but for the steps that say that the bar folds or \
             the pump runs."
                .to_owned(),
        ));
        facts
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
        let stand = "let it down onto supports rated for its weight, openers off the ground";
        steps.push(if self.folds() {
            folding(format!("Park on firm level ground, unfold the bar, {stand}, and lock every wing"), Vec::new())
        } else {
            step(
                format!("Park on firm level ground, brake on, wheels chocked; set up the bar: {stand}; engine off, key out"),
                Vec::new(),
            )
        });
        let total: usize = self.items.iter().map(|item| item.pieces).sum();
        let mut tools = vec![
            "Hose cutter, tape measure, marker, labels, tape to cover open ports, spanners for fittings, gauges and plugs"
                .to_owned(),
            "Wheel chocks, supports rated for the bar's weight; eye and hand protection, rinsing water".to_owned(),
        ];
        tools.extend(self.water_tools());
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
                "Check the parts against the parts list: {} on it, {} to fit",
                counted(self.items.len(), "item number"),
                counted(total, "single piece")
            ),
            vec![
                "A hose or tube counts once for each length that is cut from it".to_owned(),
                "Put aside spares, and all metering and check valves: they go in last".to_owned(),
            ],
        ));
        let through_the_fold: Vec<String> = self
            .routing
            .runs
            .iter()
            .filter(|run| !hinges_of_run(self.project, self.routing, run).is_empty())
            .map(|run| run.tag.clone())
            .collect();
        let (all, later) = (self.pieces.len(), through_the_fold.len());
        let mut cutting =
            vec!["Cut square, leave no burr; label both ends at once; blow each piece through".to_owned()];
        let now = if later == 0 {
            format!("all {} of the cut list", counted(all, "piece"))
        } else {
            cutting.push(format!(
                "Leave the {} {} uncut: cut after the fold trial, measured through the full fold",
                counted(later, "hinge hose"),
                words::tags(&through_the_fold)
            ));
            format!("{} of the {} of the cut list", all.saturating_sub(later), counted(all, "piece"))
        };
        if all > later {
            steps.push(step(format!("Cut and label hoses and tubes: {now}"), cutting));
        }
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
        let at = self.routing.geometry.anchors.part(part.id).map_or(part.position, |placed| placed.at);
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
                    let kind = self.item(&part.entry).map_or("part", PartItem::kind);
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
                format!(
                    "On the {}, mount in this order, snug, to be turned when the hoses go on",
                    self.section_words(section.id)
                ),
                details,
            ));
        }
        // The inlets by the side they face.
        let mut inlets: BTreeMap<&str, Vec<String>> = BTreeMap::new();
        for part in self.manifolds() {
            let port = PortRef { part: part.id, port: Port::In };
            if let Some(side) = self.routing.geometry.anchors.faces(port) {
                inlets.entry(side).or_default().push(part.tag.clone());
            }
        }
        let mut details: Vec<String> = inlets
            .iter()
            .map(|(side, tags)| format!("Inlet faces the {side}: {}", words::list(tags)))
            .collect();
        if !details.is_empty() {
            details.push("Open ports covered with tape until their hose or tube goes on".to_owned());
            steps.push(step("Check the manifolds: level with the bar, outlets free", details));
        }
        if self.folds() && !steps.is_empty() {
            steps.push(folding(
                "Every part tight: fold once slowly without any hose, unfold",
                vec!["No part touches anything, from the start to the end of the fold".to_owned()],
            ));
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
        let mut runs: Vec<&Run> = self.routing.routing.runs.iter().filter(|run| wanted(run)).collect();
        let outside = |run: &Run| {
            self.project.catalogue.stock(&run.line.stock).map_or(0, |stock| (stock.outside.si() * 1e6) as u64)
        };
        runs.sort_by_key(|run| (steps_of_run(&self.from_pump, run), std::cmp::Reverse(outside(run))));
        let laid: Vec<Laid> = runs.iter().map(|run| laid_run(self.routing, run)).collect();
        beneath_first(&laid).into_iter().map(|at| runs[at]).collect()
    }

    fn run_words(&self, run: &Run) -> String {
        let mut words = self.piece(&run.tag).map_or_else(|| run.tag.clone(), |piece| self.piece_words(piece));
        let _ = write!(words, "; hose{}", self.of_item(&run.line.stock));
        let mut fittings: Vec<&FittingKey> = run.fittings.iter().collect();
        fittings.sort();
        for same in fittings.chunk_by(|a, b| a == b) {
            let _ = write!(words, ", {} × fitting{}", same.len(), self.of_item(same[0]));
        }
        words
    }

    /// How tight each stock may be bent, in the order of the item numbers.
    fn least_radii<'k>(&self, stocks: impl Iterator<Item = &'k StockKey>) -> String {
        let mut radii: Vec<(usize, String)> = stocks
            .filter_map(|key| {
                let radius = self.cut_length(self.project.catalogue.stock(key)?.bend_radius);
                let number = number_of(self.items, key)?;
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
        let mut fittings: BTreeMap<usize, (&FittingKey, usize)> = BTreeMap::new();
        for key in self.routing.routing.runs.iter().flat_map(|run| &run.fittings) {
            if let Some(number) = number_of(self.items, key) {
                fittings.entry(number).or_insert((key, 0)).1 += 1;
            }
        }
        if !fittings.is_empty() {
            let mut details: Vec<String> = fittings
                .iter()
                .map(|(number, (key, count))| {
                    let what = self
                        .project
                        .catalogue
                        .entry(key)
                        .map_or("fitting", |entry| entry.description.as_str());
                    format!("{count} × {what} (item {number})")
                })
                .collect();
            details.push(
                "Threads sealed as their maker says; the parts may still be turned on their mounts"
                    .to_owned(),
            );
            steps.push(step("Screw the barbs, reducers and elbows of all hoses into the parts", details));
        }
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
                        "A clip or tie about every {apart}, snug without pinching the hose; each bend flat, the hose not twisted"
                    ),
                    self.least_radii(self.routing.routing.runs.iter().map(|run| &run.line.stock)),
                    "Clamps slid over the ends first; leave the ends at manifolds off until the flush, clamp all others"
                        .to_owned(),
                    "Now turn the parts into line and tighten them on their mounts".to_owned(),
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
                "Uncut: fasten on the {}, then on the {}, within {} of the hinge on both sides; form the loop last",
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
        let fold = folding(
            format!("Fold trial: fold slowly and watch {} at the start, half-way and folded", words::tags(&tags)),
            vec![
                "No hose stretched, kinked, pinched or rubbing; the bar folded no wider and no higher than without hoses"
                    .to_owned(),
            ],
        );
        steps.push(fold);
        steps.push(step(
            format!("With the wings locked, cut and label {} where the trial showed", words::tags(&tags)),
            vec![
                "Clamp the ends at tees, filters and valves; ends at manifolds stay off until the flush"
                    .to_owned(),
                "Write the lengths as cut into the cut list".to_owned(),
            ],
        ));
        steps
    }

    /// One step a manifold, from the pump outwards, its tubes as they lie over each other.
    fn tubes(&self) -> Vec<Step> {
        let mut by_part: BTreeMap<(u64, Option<PartId>), Vec<&RowFeed>> = BTreeMap::new();
        for feed in &self.routing.routing.feeds {
            let part = feed.from.port().map(|port| port.part);
            let way = part.map_or(u64::MAX, |part| self.way_to(part));
            by_part.entry((way, part)).or_default().push(feed);
        }
        let mut steps = Vec::new();
        for ((_, part), feeds) in by_part {
            let laid: Vec<Laid> = feeds.iter().map(|feed| laid_feed(self.routing, feed)).collect();
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
                    self.least_radii(self.routing.routing.feeds.iter().flat_map(RowFeed::elements).filter_map(
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
        if self.routing.routing.feeds.is_empty() {
            return Vec::new();
        }
        let mut steps = vec![pumping(
            "Flush the tubes with their ends open over containers, before any check valve or metering is in",
            vec![
                "Until each runs clear and full; a tube that runs weaker than its neighbours is kinked or blocked".to_owned(),
            ],
        )];
        // What is fitted, counted by section, in the order the liquid passes.
        for section in &self.project.bar.sections {
            let mut counts: Vec<(usize, &EntryKey, &'static str, Option<Length>, usize)> = Vec::new();
            let mut rows: Vec<u32> = Vec::new();
            for feed in &self.routing.routing.feeds {
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
                        let same = counts.iter_mut().find(|one| one.1 == element.entry() && one.3 == length);
                        match same {
                            // In a shared feed the same part comes after more pieces.
                            Some(one) => *one = (one.0.min(place), one.1, one.2, one.3, one.4 + 1),
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
}
