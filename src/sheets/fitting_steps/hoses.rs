//! Laying the hoses, within the sections and across the hinges.

use super::order::{Laid, beneath_first, hinges_of_run, laid_run, steps_of_run};
use super::watch::OnTheBar;
use super::work::{CutDuring, Tally, Work, folding, step};
use crate::plan::{End, Run, SectionId, StockKey, words};
use crate::quantities::Measure;
use crate::sheets::cut_plan::CutPiece;
use crate::sheets::document::{FittingStep, Hazard};
use crate::sheets::extras::{ExtraKind, HOSE_SUPPORTS, ties_of};
use crate::sheets::holding::{Holder, outside_of};

impl<'a> Work<'a> {
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

    /// A hose or tube with the clamps of its ends and what it is tied with.
    pub(super) fn tally_piece(&self, tally: &mut Tally, piece: &CutPiece) {
        tally.add(self.number(&piece.stock), 1);
        // What has no length yet is on no list of clamps or ties.
        if piece.length.is_some() {
            tally.add(self.extra_number(&ExtraKind::HoseClamp(piece.stock.clone())), 2);
            tally.add(self.extra_number(&ExtraKind::Tie(piece.stock.clone())), ties_of(self.project, piece));
        }
        if let Some(outside) = outside_of(self.project, &piece.stock) {
            tally.add(self.extra_number(&ExtraKind::Held(Holder::HingeClamp(outside))), piece.hinge_clamps);
        }
    }

    fn tally_runs(&self, runs: &[&Run]) -> Tally {
        let mut tally = Tally::default();
        for piece in runs.iter().filter_map(|run| self.piece(&run.tag)) {
            self.tally_piece(&mut tally, piece);
        }
        tally
    }

    /// How tight each stock may be bent, in the order of the item numbers.
    pub(super) fn least_radii<'k>(&self, stocks: impl Iterator<Item = &'k StockKey>) -> String {
        let mut radii: Vec<(usize, String)> = stocks
            .filter_map(|key| {
                let radius = self.cut_length(self.project.catalogue.stock(key)?.bend_radius);
                let number = self.number(key)?;
                Some((number, format!("item {number} {radius}")))
            })
            .collect();
        radii.sort();
        radii.dedup();
        let radii: Vec<String> = radii.into_iter().map(|(_, words)| words).collect();
        format!("least bend radius, to the centre line: {}", words::list(&radii))
    }

    pub(super) fn hoses(&self) -> Vec<FittingStep> {
        let mut steps: Vec<FittingStep> = self.hoses_within().into_iter().collect();
        steps.extend(self.hoses_across());
        steps.extend(self.hitch());
        steps
    }

    fn hoses_within(&self) -> Option<FittingStep> {
        let within = self.ordered(|run| hinges_of_run(self.project, self.routing, run).is_empty());
        let section_of = |run: &Run| {
            let ends = [&run.from, &run.to];
            ends.into_iter().find_map(|end| self.routing.carrier(end))
        };
        let mut sections: Vec<Option<SectionId>> =
            self.project.bar.sections.iter().map(|section| Some(section.id)).collect();
        sections.push(None);
        let mut details = Vec::new();
        for section in sections {
            let tags: Vec<String> =
                within.iter().filter(|run| section_of(run) == section).map(|run| run.tag.clone()).collect();
            if tags.is_empty() {
                continue;
            }
            let place = section
                .map_or_else(|| "Joined to no part".to_owned(), |id| words::capital(&self.section_words(id)));
            details.push(format!("{place}: {}", words::tags(&tags)));
        }
        if details.is_empty() {
            return None;
        }
        let apart = Measure::CutLength.short_text(HOSE_SUPPORTS, self.project.units);
        details.push(format!(
            "Clamps slid over the ends first; a clip or tie about every {apart}, no bend forced, no hose twisted; {}",
            self.least_radii(self.routing.routing.runs.iter().map(|run| &run.line.stock))
        ));
        details.extend(self.where_tied(&within));
        details.extend(self.at_the_hitch(&within));
        details.push(format!(
            "Clamp all ends except those at manifolds, which stay off until the flush{}; a part out of line with its hose is loosened, turned and \
             tightened again at once",
            self.but_at_the_hitch(&within)
        ));
        let text = "Lay and fasten the hoses that cross no hinge, in this order";
        Some(self.tally_runs(&within).of(step(text, details)))
    }

    /// The hitch turns and lifts, which the supply hose has a loop for.
    fn at_the_hitch(&self, runs: &[&Run]) -> Option<String> {
        let tags = tags_from_pump(runs.iter().copied());
        let is_cut = self.tags_cut(CutDuring::Hitching).is_empty();
        (!tags.is_empty()).then(|| {
            let of_length = if is_cut {
                "; its length as cut holds it".to_owned()
            } else {
                let spare = self.project.limits.hitch_loop.si();
                let spare = Measure::CutLength.short_text(spare, self.project.units);
                format!(", {spare} of its length; not cut yet")
            };
            format!(
                "{} from the pump: where it passes the hitch leave a loop for turning and lifting{of_length}",
                words::tags(&tags)
            )
        })
    }

    /// Hoses that are cut at the hitch are clamped there too.
    fn but_at_the_hitch(&self, runs: &[&Run]) -> String {
        let late = self.tags_cut(CutDuring::Hitching);
        let late: Vec<String> =
            runs.iter().map(|run| run.tag.clone()).filter(|tag| late.contains(tag)).collect();
        if late.is_empty() {
            return String::new();
        }
        let is = if late.len() == 1 { "is" } else { "are" };
        format!(
            ", and both ends of {}, which {is} cut and clamped once the hitch has turned and lifted",
            words::tags(&late)
        )
    }

    /// The machine moves with the supply hose on it, so it bears the letters of what folds.
    fn hitch(&self) -> Option<FittingStep> {
        let tags = tags_from_pump(&self.routing.routing.runs);
        if tags.is_empty() {
            return None;
        }
        let tags = words::tags(&tags);
        let is_cut = self.tags_cut(CutDuring::Hitching).is_empty();
        let then = if is_cut { "" } else { "; then cut it" };
        let at_rest = "set down on the supports again, brake on, wheels chocked, engine off, key out";
        let sound = "not stretched, kinked or pinched in any position";
        let after = if is_cut {
            format!("After: {at_rest}; {tags} {sound}")
        } else {
            let numbers = self.cut_numbers(&self.tags_cut(CutDuring::Hitching));
            format!(
                "After: {at_rest}; only then cut, label and clamp {tags}{numbers}: {sound}; write the length as cut into the \
                 cut list"
            )
        };
        let wings = if self.folds() { "wings locked, " } else { "" };
        let mut tally = Tally::default();
        self.tally_labels(&mut tally, self.tags_cut(CutDuring::Hitching).len());
        let hazards = [Hazard::Folding, Hazard::Pressure];
        let moving = FittingStep {
            hazards: hazards.into_iter().filter(|hazard| self.applies(*hazard)).collect(),
            ..step(
                format!("Bar hitched: turn fully both ways and lift, watching the loop of {tags}{then}"),
                vec![
                    format!(
                        "Before: pump off, {wings}supports and chocks out, everybody clear of bar, hitch and wheels; one person \
                         at the controls, one who watches and can stop it by a signal"
                    ),
                    after,
                ],
            )
        };
        Some(tally.of(moving))
    }

    /// Inner hinges first; at each the hoses that cross it, fastened on both sides before the loop.
    fn hoses_across(&self) -> Vec<FittingStep> {
        let across = self.ordered(|run| !hinges_of_run(self.project, self.routing, run).is_empty());
        if across.is_empty() {
            return Vec::new();
        }
        let lines = self.lines_of_runs(&across);
        let hinged = self.project.bar.sections.iter().filter(|section| section.hinge.is_some());
        let mut details: Vec<String> =
            hinged.filter_map(|section| self.clamps_at(&lines, section.id)).collect();
        details.push(self.fasten_words(&lines));
        details.extend(self.where_tied(&across));
        details.extend(self.at_the_hitch(&across));
        let tags: Vec<String> = across.iter().map(|run| run.tag.clone()).collect();
        let rough = self.tags_cut(CutDuring::FoldTrial);
        let is_rough = !rough.is_empty();
        if is_rough {
            let numbers = self.cut_numbers(&rough);
            details.push(format!(
                "Rough cuts: {}{numbers}; their labels wait for the last length",
                words::tags(&rough)
            ));
        }
        let cut = if is_rough { ", cut rough as the cut list says and marked in pen" } else { "" };
        let lay = format!("Lay the hoses that cross hinges{cut}, the inner hinges first");
        let mut watched = vec![
            "No hose stretched, kinked, pinched or rubbing; the bar folded no wider and no higher than without hoses".to_owned(),
        ];
        watched.extend(self.watch_in_fold(&[OnTheBar::Hoses]));
        let mut steps = vec![
            self.tally_runs(&across).of(at_hinges(&lay, details)),
            folding(
                format!(
                    "Fold trial: fold slowly and watch {} at the start, half-way and folded",
                    words::tags(&tags)
                ),
                watched,
            ),
        ];
        let cut = self.tags_cut(CutDuring::FoldTrial);
        if !cut.is_empty() {
            let mut tally = Tally::default();
            self.tally_labels(&mut tally, cut.len());
            steps.push(tally.of(at_hinges(
                &format!("With the wings locked, cut and label {} where the trial showed", words::tags(&cut)),
                vec![format!(
                    "Clamp all ends except those at manifolds{}; write the lengths as cut into the cut list: a stretched hose tears \
                     off, a slack one is crushed",
                    self.but_at_the_hitch(&across)
                )],
            )));
        }
        steps
    }
}

/// Tags of the hoses that start at the pump.
fn tags_from_pump<'r>(runs: impl IntoIterator<Item = &'r Run>) -> Vec<String> {
    let from_pump = runs.into_iter().filter(|run| [run.from, run.to].contains(&End::Supply));
    from_pump.map(|run| run.tag.clone()).collect()
}

/// Work at hinges, where wings crush.
fn at_hinges(text: &str, details: Vec<String>) -> FittingStep {
    FittingStep { hazards: vec![Hazard::Folding], ..step(text, details) }
}
