//! What comes before the hoses: what holds each time, tools, cutting, and mounting what carries.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::order::{beneath_part, hinges_of_run};
use super::work::{Work, counted, folding, step};
use crate::drawing::layout_tables::turned;
use crate::plan::{Part, PartItem, Port, PortRef, words};
use crate::quantities::Measure;
use crate::sheets::document::Step;

impl Work<'_> {
    /// What holds in every step.
    pub(super) fn each_time(&self) -> Vec<(String, String)> {
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

    pub(super) fn prepare(&self) -> Vec<Step> {
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
                "Put aside spares, and all metering, check valves and flow indicators: they go in last"
                    .to_owned(),
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
    pub(super) fn mount(&self) -> Vec<Step> {
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
                        words.push_str("; no hose connects it to the pump yet");
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
}
