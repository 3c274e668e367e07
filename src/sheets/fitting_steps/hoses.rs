//! Laying the hoses, within the sections and across the hinges.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::order::{Laid, beneath_first, hinges_of_run, laid_run, steps_of_run};
use super::work::{Work, counted, folding, step};
use crate::plan::{FittingKey, Run, SectionId, StockKey, words};
use crate::quantities::{Length, Measure};
use crate::sheets::cautions;
use crate::sheets::document::Step;
use crate::sheets::items::number_of;

impl<'a> Work<'a> {
    pub(super) fn section_words(&self, id: SectionId) -> String {
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
    pub(super) fn least_radii<'k>(&self, stocks: impl Iterator<Item = &'k StockKey>) -> String {
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

    pub(super) fn hoses_within(&self) -> Vec<Step> {
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
    pub(super) fn hoses_across(&self) -> Vec<Step> {
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
                "Clamp the ends at tees, filters, flow meters and valves; ends at manifolds stay off until the flush"
                    .to_owned(),
                "Write the lengths as cut into the cut list".to_owned(),
            ],
        ));
        steps
    }
}
