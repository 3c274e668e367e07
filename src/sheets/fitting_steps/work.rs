//! Everything the steps are worked out from, and how a step is worded.

use std::collections::BTreeMap;

use super::order::Laid;
use crate::checks::Finding;
use crate::hydraulics::Outcome;
use crate::plan::connection_graph::WayFromPump;
use crate::plan::{Duty, EntryKey, Key, LaidRouting, Part, PartId, PartItem, Project, Run, SectionId};
use crate::quantities::{Length, Measure};
use crate::sheets::basis::DutyOutcome;
use crate::sheets::cut_plan::CutPiece;
use crate::sheets::document::Step;
use crate::sheets::items::{ListItem, number_of};
use crate::sheets::{cautions, places};

/// Everything the steps are worked out from.
pub(crate) struct Work<'a> {
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    pub(super) duty: &'a Duty,
    pub(super) items: &'a [ListItem],
    pub(super) pieces: &'a [CutPiece],
    pub(super) from_pump: BTreeMap<PartId, usize>,
    pub(super) ways_from_pump: BTreeMap<PartId, WayFromPump>,
    pub(super) runs: Vec<Laid>,
    /// With the liquid at the speeds of the commissioning sheet, the slowest first.
    pub(super) outcomes: &'a [Outcome],
    /// The same with water.
    pub(super) water: &'a [Outcome],
    /// Every duty of the project with its liquid and with water, these first: what hoses and plugs have to bear.
    pub(super) of_all_duties: Vec<DutyOutcome<'a>>,
    /// All findings at these speeds.
    pub(super) findings: &'a [Finding],
    /// The liquid is water.
    pub(super) is_water: bool,
}

pub(crate) fn step(text: impl Into<String>, details: Vec<String>) -> Step {
    Step { text: text.into(), details, cautions: Vec::new() }
}

/// A step for which the pump runs.
pub(crate) fn pumping(text: impl Into<String>, mut details: Vec<String>) -> Step {
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
pub(crate) fn folding(text: impl Into<String>, mut details: Vec<String>) -> Step {
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
pub(crate) fn counted(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

impl<'a> Work<'a> {
    pub(crate) fn item<K: Key>(&self, key: &K) -> Option<&'a K::Item> {
        self.project.catalogue.item(key)
    }

    pub(crate) fn of_item(&self, key: &EntryKey) -> String {
        number_of(self.items, key).map_or_else(String::new, |number| format!(" (item {number})"))
    }

    pub(super) fn cut_length(&self, length: Length) -> String {
        Measure::CutLength.short_text(length.si(), self.project.units)
    }

    pub(super) fn section(&self, id: SectionId) -> &'a str {
        places::section(self.project, id)
    }

    pub(crate) fn is_screwed_on(&self, part: &Part) -> bool {
        part.mount.is_some() || self.item(&part.entry).is_some_and(PartItem::is_on_port)
    }

    /// The hose that brings the liquid to a part; none where nothing joins it to the pump.
    pub(crate) fn brings(&self, part: PartId) -> Option<&Run> {
        self.routing.routing.run(self.ways_from_pump.get(&part)?.last?)
    }

    pub(super) fn steps_to(&self, part: &Part) -> usize {
        self.from_pump.get(&part.id).copied().unwrap_or(usize::MAX)
    }

    /// Millimetres of hose from the pump, to sort by; last where nothing joins it.
    pub(crate) fn way_to(&self, part: PartId) -> u64 {
        self.ways_from_pump.get(&part).map_or(u64::MAX, |way| (way.metres * 1000.0).round() as u64)
    }

    pub(crate) fn folds(&self) -> bool {
        self.project.bar.sections.iter().any(|section| section.hinge.is_some())
    }

    /// A piece of hose or tube: `H3 2 340 mm, J1 left end to M2 inlet`.
    pub(super) fn piece_words(&self, piece: &CutPiece) -> String {
        let length = piece.length.map_or_else(|| "length not known".to_owned(), |one| self.cut_length(one));
        format!("{}: {length}, {} to {}", piece.tag, piece.from, piece.to)
    }

    pub(super) fn piece(&self, tag: &str) -> Option<&CutPiece> {
        self.pieces.iter().find(|piece| piece.tag == tag)
    }
}
