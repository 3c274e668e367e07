//! What comes before the hoses: what holds in every step, tools, cutting, and mounting the parts.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::order::beneath_part;
use super::watch::OnTheBar;
use super::work::{CutDuring, Tally, Work, counted, cut_during, folding, step};
use crate::plan::{End, Part, PartItem, Port, words};
use crate::quantities::Measure;
use crate::sheets::document::FittingStep;
use crate::sheets::extras::ExtraKind;
use crate::sheets::holding::Holder;
use crate::sheets::places;

/// What a bar that folds needs before its first fold (common practice, no source).
const HITCHED_TO_FOLD: &str = "First hitch it to the tractor that folds it, brake on, wheels chocked; couple hydraulics, lights and \
                               controls of the fold, bleed the cylinders and try every lock. A bar folded by hand or from a bench: as \
                               its maker says";

impl Work<'_> {
    /// What holds in every step.
    pub(super) fn in_every_step(&self) -> Vec<(String, String)> {
        let mut facts = vec![(
            "Before opening a joint".to_owned(),
            format!(
                "Pump and engine off, key out, valve between tank and pump shut. Open the lowest joint first: slowly, under a \
                 cloth, face turned away, eyes protected. A gauge at zero proves nothing: {}.",
                self.held_back()
            ),
        )];
        facts.push((
            "While the pump runs".to_owned(),
            "One person runs engine and pump and stays at the stop; start when everybody has answered and stands clear; \
             afterwards engine off, key out, pressure let off. Look for drips from the side, with cardboard on a stick."
                .to_owned(),
        ));
        if self.folds() {
            facts.push((
                "While the bar folds".to_owned(),
                "One person at the controls who sees every wing, one who watches and can stop it by a signal; all others out \
                 of the way; pump off, brake on, wheels chocked, nothing overhead, supports out of the way. Afterwards: on \
                 supports again, every wing locked, engine off, key out."
                    .to_owned(),
            ));
            facts.push((
                "Beneath a wing".to_owned(),
                "Only with the wing locked and standing on supports rated for its weight; a hydraulic cylinder is no support."
                    .to_owned(),
            ));
        }
        facts.push((
            "Engine and key".to_owned(),
            "Engine off and key in the pocket of whoever works on the bar, but for the steps in which the bar folds, \
             turns or lifts, or the pump runs."
                .to_owned(),
        ));
        facts
    }

    pub(super) fn prepare(&self) -> Vec<FittingStep> {
        let mut steps = Vec::new();
        let stand = "let it down onto supports rated for its weight, openers off the ground";
        steps.push(if self.folds() {
            folding(
                format!("Park on firm level ground, unfold the bar, {stand}, and lock every wing"),
                vec![HITCHED_TO_FOLD.to_owned()],
            )
        } else {
            step(
                format!("Park on firm level ground, brake on, wheels chocked; set up the bar: {stand}; engine off, key out"),
                Vec::new(),
            )
        });
        let mut tools = vec![
            "Hose cutter, tape measure, marker, labels, tape to cover open ports, spanners, supports and chocks; eye and hand \
             protection, rinsing water"
                .to_owned(),
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
        let mut tally = Tally::default();
        self.tally_extras(&mut tally, |kind| matches!(kind, ExtraKind::TestPlug | ExtraKind::FlushCap));
        steps.push(tally.of(step("Lay out the tools", tools)));
        let catalogued: usize = self.items.iter().map(|item| item.pieces).sum();
        let others: usize = self.extras.iter().map(|extra| extra.quantity).sum();
        steps.push(step(
            format!(
                "Check the parts against the parts list: {} on it, {} to fit",
                counted(self.items.len() + self.extras.len(), "item number"),
                counted(catalogued + others, "piece")
            ),
            vec![format!(
                "A hose or tube counts once for each length that is cut from it. Put aside spares{}",
                match self.row_kinds().as_slice() {
                    [] => String::new(),
                    kinds => format!(", and all {}: they go in last", words::list(kinds)),
                }
            )],
        ));
        steps.extend(self.added());
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

    /// What somebody added to the parts list: nobody but its note knows when it goes in.
    fn added(&self) -> Option<FittingStep> {
        let mut tally = Tally::default();
        let mut details = Vec::new();
        for line in self.extras.iter().filter(|extra| extra.kind == ExtraKind::Added) {
            tally.add(Some(line.number), line.quantity);
            let note = Some(line.remark.trim()).filter(|note| !note.is_empty());
            let note = note.map_or_else(String::new, |note| format!(": {note}"));
            details.push(format!("Item {}, {}{note}", line.number, line.description));
        }
        (!details.is_empty()).then(|| {
            let text = "Lay out what was added to the parts list by hand; each goes in as its note says, with what it holds or \
                        joins";
            tally.of(step(text, details))
        })
    }

    /// What neither hitch, hinge nor opener moves is cut once the parts hang, so that the bar itself shows each way before its
    /// hose is cut; the rest is told when it is.
    pub(super) fn cut(&self) -> Option<FittingStep> {
        if self.pieces.is_empty() {
            return None;
        }
        let mut details = vec![
            "By the cut list: square, no burr, blown through; a label round each end at once".to_owned(),
        ];
        let by_plan = || self.pieces.iter().filter(|piece| cut_during(piece) == CutDuring::OnTheParts);
        if by_plan().any(|piece| !piece.is_metering) {
            details.push(
                "First hold the tape along each way between the parts as they hang: where the bar differs from the cut list, the \
                 bar counts; write the length as cut into the list"
                    .to_owned(),
            );
        }
        if by_plan().any(|piece| piece.is_metering) {
            details.push("Metering tubes to the length of the list, whatever the bar measures".to_owned());
        }
        let later = [
            (
                CutDuring::FoldTrial,
                "which cross hinges: rough when they are laid, to length after the fold trial",
            ),
            (CutDuring::Hitching, "from the pump: last, once the hitch has turned and lifted"),
            (CutDuring::RowTubes, "to the rows: where they lie, with the loop at the opener"),
            (CutDuring::Unconnected, "an end is not connected"),
        ];
        for (during, why) in later {
            let tags = self.tags_cut(during);
            if !tags.is_empty() {
                let numbers = self.cut_numbers(&tags);
                details.push(format!("Not yet to length: {}{numbers}, {why}", words::tags(&tags)));
            }
        }
        let measured = self.tags_cut(CutDuring::Measured);
        if !measured.is_empty() {
            details.insert(
                1,
                format!(
                    "Measured on the bar before: {}{}; what is not cut yet is cut to that length now",
                    words::tags(&measured),
                    self.cut_numbers(&measured)
                ),
            );
        }
        let mut finished = self.tags_cut(CutDuring::OnTheParts);
        let by = if measured.is_empty() {
            "whose ends are on parts that hang"
        } else {
            "whose ends are on parts that hang or whose lengths are measured"
        };
        finished.extend(measured);
        let (all, now) = (self.pieces.len(), finished.len());
        let mut tally = Tally::default();
        self.tally_labels(&mut tally, now + self.tags_cut(CutDuring::Unconnected).len());
        let text = if now == all {
            format!("Cut and label hoses and tubes: all {}", counted(all, "piece"))
        } else if now == 0 {
            format!("Cut no hose or tube to length yet: all {} wait", counted(all, "piece"))
        } else {
            format!(
                "Cut and label hoses and tubes: {now} of {}, {by}{}",
                counted(all, "piece"),
                self.cut_numbers(&finished)
            )
        };
        Some(tally.of(step(text, details)))
    }

    /// What is screwed into the parts, on the bench; then the parts, a line a section, the centre first, then outwards; in a
    /// section from the pump outwards.
    pub(super) fn mount(&self) -> Vec<FittingStep> {
        let mut steps: Vec<FittingStep> = self.screw_in().into_iter().collect();
        let mut tally = Tally::default();
        let mut details = Vec::new();
        let mut not_joined = Vec::new();
        for section in &self.project.bar.sections {
            let standing = |part: &&Part| part.section == section.id && !self.is_screwed_on(part);
            let mut parts: Vec<&Part> = self.routing.routing.parts.iter().filter(standing).collect();
            if parts.is_empty() {
                continue;
            }
            parts.sort_by_key(|part| self.steps_to(part));
            let mut told = Vec::new();
            for part in &parts {
                tally.add(self.number(&part.entry), 1);
                let mut words = format!("{}{}", part.tag, self.of_item(&part.entry));
                let beneath = beneath_part(self.project, self.routing, part, &self.runs);
                if !beneath.is_empty() {
                    let _ = write!(words, " over {}, which goes first", words::tags(&beneath));
                }
                told.push(words);
                if !self.from_pump.contains_key(&part.id) {
                    not_joined.push(part.tag.clone());
                }
            }
            details.push(format!("{}: {}", words::capital(&self.section_words(section.id)), told.join(", ")));
        }
        steps.extend(self.carriers_and_brackets());
        if !details.is_empty() {
            details.push(
                "Manifolds level with the bar, outlets free; open ports taped until their hose or tube goes on".to_owned(),
            );
            if !not_joined.is_empty() {
                details.push(format!("No hose joins to the pump yet: {}", words::tags(&not_joined)));
            }
            steps.push(
                tally.of(step(
                    "Mount the parts where and as the layout shows them, and tighten them",
                    details,
                )),
            );
        }
        if self.folds() && !steps.is_empty() {
            let watched = self.watch_in_fold(&[OnTheBar::Parts]);
            let text = if watched.is_empty() {
                "Fold once slowly without any hose: no part moves or touches anything. Unfold"
            } else {
                "Fold once slowly without any hose, ready to stop: the checks expect the places below to meet or stand out. Unfold"
            };
            steps.push(folding(text, watched));
        }
        steps
    }

    /// What holds hoses, tubes and parts where no frame member is: in before they are.
    fn carriers_and_brackets(&self) -> Option<FittingStep> {
        let mut tally = Tally::default();
        self.tally_extras(&mut tally, |kind| {
            let ExtraKind::Held(holder) = kind else { return false };
            matches!(
                holder,
                Holder::Carrier | Holder::CarrierAngle | Holder::ClampBracket | Holder::PartBracket
            )
        });
        let mut details: Vec<String> = self
            .holding
            .by_section(self.project)
            .into_iter()
            .map(|(section, said)| format!("{}: {said}", words::capital(&self.section_words(section))))
            .collect();
        if details.is_empty() {
            return None;
        }
        details.extend(
            self.holding
                .order_of_carriers()
                .map(|order| format!("In this order, since carriers are fixed to carriers: {order}")),
        );
        details.push(
            "Carriers by their marks: on the layout, with lengths, heights and both ends in the list of joints. They bear hoses and \
             tubes full of liquid: bolted or clamped to the member at each end that has one, edges rounded, clear of what folds and \
             of the openers in all their travel; the fold without hoses shows it"
                .to_owned(),
        );
        details.extend(
            self.holding
                .where_carriers_meet(self.project, &self.of_extra(&ExtraKind::Held(Holder::CarrierAngle))),
        );
        Some(tally.of(step("Fit carriers and brackets to the frame where none of its members is", details)))
    }

    /// Barbs, reducers and elbows of the hoses, gauges and plugs: all that is screwed in before the pump first runs, while the
    /// parts still lie where both hands and a spanner reach them.
    fn screw_in(&self) -> Option<FittingStep> {
        let mut tally = Tally::default();
        for key in self.routing.routing.runs.iter().flat_map(|run| &run.fittings) {
            tally.add(self.number(key), 1);
        }
        self.tally_extras(&mut tally, |kind| matches!(kind, ExtraKind::HoseAdapter | ExtraKind::Seal));
        let mut details = Vec::new();
        let mut by_kind: BTreeMap<&str, Vec<String>> = BTreeMap::new();
        for part in self.routing.routing.parts.iter().filter(|part| self.is_screwed_on(part)) {
            tally.add(self.number(&part.entry), 1);
            let kind = self.item(&part.entry).map_or("part", PartItem::kind);
            let onto = part.mount.map_or_else(
                || "on no port yet".to_owned(),
                |port| {
                    let own = matches!(port.port, Port::Gauge | Port::Out);
                    let plug = if own { " in place of its plug" } else { "" };
                    format!("on {}{plug}", places::end(self.routing, &End::Port(port)))
                },
            );
            by_kind.entry(kind).or_default().push(format!("{} {onto}", part.tag));
        }
        details.extend(
            by_kind.into_iter().map(|(kind, all)| format!("{}: {}", words::capital(kind), all.join(", "))),
        );
        let step = tally.of(step(
            "On the bench, before the parts hang: screw in the fittings of all hoses, gauges and plugs",
            details,
        ));
        (!step.items.is_empty() || !step.details.is_empty()).then(|| {
            let mut step = step;
            step.details.push(
                "The list of joints says which goes where, what goes on the pump there; threads sealed as their maker says, gauges turned by their flats; \
                 gauge ports and far ends that stay free keep their plugs"
                    .to_owned(),
            );
            step
        })
    }
}
