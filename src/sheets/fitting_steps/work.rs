//! Everything the steps are worked out from, and how a step is worded.

use std::collections::BTreeMap;

use super::order::Laid;
use crate::checks::{ClosedTest, Finding};
use crate::hydraulics::Outcome;
use crate::plan::connection_graph::WayFromPump;
use crate::plan::flushing::FlushOrder;
use crate::plan::{
    Duty, ElementKind, EntryKey, FeedElement, Key, LaidRouting, Part, PartId, PartItem, Project, RowFeed,
    SectionId, Subject, words,
};
use crate::quantities::{Length, Measure, Pressure};
use crate::sheets::basis::DutyOutcome;
use crate::sheets::cut_plan::{Cut, CutPiece, Cutting, LABELS_A_PIECE};
use crate::sheets::document::{FittingStep, Hazard, ItemPieces};
use crate::sheets::extras::{Extra, ExtraKind};
use crate::sheets::holding::{Holder, Holding};
use crate::sheets::items::{ListItem, number_of};
use crate::sheets::leak_check::LeakCheck;
use crate::sheets::places;
use crate::sheets::test_pieces::way_to;

/// Everything the steps are worked out from.
pub(crate) struct Work<'a> {
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    pub(super) duty: &'a Duty,
    pub(super) items: &'a [ListItem],
    /// What the parts list counts beside the catalogue's items.
    pub(super) extras: &'a [Extra],
    /// What holds hoses, tubes and parts where the frame alone does not.
    pub(super) holding: &'a Holding<'a>,
    pub(super) pieces: &'a [CutPiece],
    /// The cuts in the order of the cut list.
    pub(super) cuts: &'a [Cut],
    pub(super) from_pump: BTreeMap<PartId, usize>,
    pub(super) ways_from_pump: &'a BTreeMap<PartId, WayFromPump>,
    pub(super) runs: Vec<Laid>,
    pub(super) flushing: &'a FlushOrder,
    /// With the liquid at the speeds of the commissioning sheet, the slowest first.
    pub(super) outcomes: &'a [Outcome],
    /// The same with water.
    pub(super) water: &'a [Outcome],
    /// Every duty of the project with its liquid and with water, these first: what hoses and plugs have to bear.
    pub(super) of_all_duties: Vec<DutyOutcome<'a>>,
    /// The test with the outlets closed; none where there is no hose.
    pub(super) test: Option<&'a ClosedTest>,
    /// How water is brought to the liquid's pressure, where that takes another setting.
    pub(super) leak_check: Option<&'a LeakCheck>,
    /// All findings at these speeds.
    pub(super) findings: &'a [Finding],
    /// The liquid is water.
    pub(super) is_water: bool,
    /// The commissioning sheet has columns of its own for water.
    pub(super) water_differs: bool,
}

/// Pieces by the number of their item in the parts list.
#[derive(Debug, Default)]
pub(super) struct Tally(BTreeMap<usize, usize>);

impl Tally {
    pub(super) fn add(&mut self, item: Option<usize>, pieces: usize) {
        if let Some(item) = item.filter(|_| pieces > 0) {
            *self.0.entry(item).or_default() += pieces;
        }
    }

    pub(super) fn of(self, mut step: FittingStep) -> FittingStep {
        step.items = self.0.into_iter().map(|(item, pieces)| ItemPieces { item, pieces }).collect();
        step
    }
}

pub(super) fn step(text: impl Into<String>, details: Vec<String>) -> FittingStep {
    FittingStep { text: text.into(), details, ..FittingStep::default() }
}

/// A step for which the pump runs, or in which what it pressed is opened.
pub(super) fn pumping(text: impl Into<String>, details: Vec<String>) -> FittingStep {
    FittingStep { hazards: vec![Hazard::Pressure], ..step(text, details) }
}

/// A step in which the bar folds.
pub(super) fn folding(text: impl Into<String>, details: Vec<String>) -> FittingStep {
    FittingStep { hazards: vec![Hazard::Folding], ..step(text, details) }
}

/// During which step a piece of hose or tube is cut to length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CutDuring {
    /// Once the parts hang: nothing moves its ends.
    OnTheParts,
    /// It was cut already, or is cut to the length that was measured on the bar.
    Measured,
    /// Not at all yet, an end is not connected.
    Unconnected,
    /// After the fold trial.
    FoldTrial,
    /// Once the hitch has turned and lifted: the supply hose.
    Hitching,
    /// Where it lies, with the loop at its opener: tubes of rows.
    RowTubes,
}

/// During which step a piece gets its length.
pub(super) fn cut_during(piece: &CutPiece) -> CutDuring {
    if piece.is_measured && piece.length.is_some() {
        CutDuring::Measured
    } else if piece.feed.is_some() && !(piece.is_metering && piece.cutting == Cutting::Finished) {
        CutDuring::RowTubes
    } else if piece.cutting == Cutting::Last {
        CutDuring::Hitching
    } else if piece.feed.is_none() && piece.crosses_hinge {
        CutDuring::FoldTrial
    } else if piece.length.is_none() {
        CutDuring::Unconnected
    } else {
        CutDuring::OnTheParts
    }
}

/// What all that meters is called in the steps.
pub(super) const METERING: &str = "metering";

/// `1 hose`, `3 hoses`.
pub(super) use words::counted;

impl<'a> Work<'a> {
    pub(super) fn item<K: Key>(&self, key: &K) -> Option<&'a K::Item> {
        self.project.catalogue.item(key)
    }

    pub(super) fn number(&self, key: &EntryKey) -> Option<usize> {
        number_of(self.items, key)
    }

    pub(super) fn of_item(&self, key: &EntryKey) -> String {
        self.number(key).map_or_else(String::new, |number| format!(" (item {number})"))
    }

    /// All of some kinds that the parts list counts beside the catalogue's items.
    pub(super) fn tally_extras(&self, tally: &mut Tally, wanted: impl Fn(&ExtraKind) -> bool) {
        for extra in self.extras.iter().filter(|extra| wanted(&extra.kind)) {
            tally.add(Some(extra.number), extra.quantity);
        }
    }

    /// The line of the parts list for what is counted piece by piece.
    pub(super) fn extra_number(&self, kind: &ExtraKind) -> Option<usize> {
        self.extras.iter().find(|extra| extra.kind == *kind).map(|extra| extra.number)
    }

    /// ` (item 31)`, of what is counted beside the catalogue's items.
    pub(super) fn of_extra(&self, kind: &ExtraKind) -> String {
        self.extra_number(kind).map_or_else(String::new, |number| format!(" (item {number})"))
    }

    /// Which of some hoses or tubes lie on carriers, and which have none where they hang, with what to do about them.
    pub(super) fn on_carriers(&self, wanted: impl Fn(&Subject) -> bool) -> Vec<String> {
        let [tags, hang] = self.holding.carried(wanted);
        let item = self.of_extra(&ExtraKind::Held(Holder::Carrier));
        let mut details = Vec::new();
        if !tags.is_empty() {
            details.push(format!(
                "On carriers{item} where they cross open frame, tied to them as to the frame: {}",
                words::tags(&tags)
            ));
        }
        if !hang.is_empty() {
            details.push(format!(
                "No carrier can stand everywhere under {}: where there is none, tie to what is beneath or beside, or lay elsewhere; \
                 where and why, under NO CARRIER in the list of joints",
                words::tags(&hang)
            ));
        }
        details
    }

    pub(super) fn cut_length(&self, length: Length) -> String {
        Measure::CutLength.short_text(length.si(), self.project.units)
    }

    pub(super) fn pressure_text(&self, value: Pressure) -> String {
        Measure::Pressure.text(value.si(), self.project.units)
    }

    pub(super) fn section(&self, id: SectionId) -> &'a str {
        places::section(self.project, id)
    }

    pub(super) fn section_words(&self, id: SectionId) -> String {
        let name = self.section(id);
        if name.contains("section") || name.contains("wing") {
            name.to_owned()
        } else {
            format!("{name} section")
        }
    }

    pub(super) fn is_screwed_on(&self, part: &Part) -> bool {
        part.mount.is_some() || self.item(&part.entry).is_some_and(PartItem::is_on_port)
    }

    pub(super) fn steps_to(&self, part: &Part) -> usize {
        self.from_pump.get(&part.id).copied().unwrap_or(usize::MAX)
    }

    /// Millimetres of hose from the pump, to sort by; last where nothing joins it.
    pub(super) fn way_to(&self, part: PartId) -> u64 {
        way_to(self.ways_from_pump, part)
    }

    pub(super) fn folds(&self) -> bool {
        self.project.bar.sections.iter().any(|section| section.hinge.is_some())
    }

    /// The caution on a danger has a place on these papers.
    pub(super) fn applies(&self, hazard: Hazard) -> bool {
        match hazard {
            Hazard::Folding => self.folds(),
            Hazard::Chemicals => !self.is_water,
            Hazard::Pressure | Hazard::Road => true,
        }
    }

    /// The pieces of a hose or tube by its tag, in the order of the cut list.
    pub(super) fn piece(&self, tag: &str) -> Option<&CutPiece> {
        self.pieces.iter().find(|piece| piece.tag == tag)
    }

    /// Tags of the pieces that are cut to length during a step.
    pub(super) fn tags_cut(&self, during: CutDuring) -> Vec<String> {
        let cut = self.pieces.iter().filter(|piece| cut_during(piece) == during);
        cut.map(|piece| piece.tag.clone()).collect()
    }

    /// The numbers that pieces have in the cut list, by their tags: ` (cut 3)`, ` (cuts 3 to 6)`.
    pub(super) fn cut_numbers(&self, tags: &[String]) -> String {
        let is_of = |cut: &Cut| self.pieces.get(cut.piece).is_some_and(|piece| tags.contains(&piece.tag));
        let own = self.cuts.iter().filter(|cut| is_of(cut));
        let mut numbers: Vec<u32> = own.filter_map(|cut| u32::try_from(cut.number).ok()).collect();
        numbers.sort_unstable();
        match numbers.len() {
            0 => String::new(),
            1 => format!(" (cut {})", words::ranges(&numbers)),
            _ => format!(" (cuts {})", words::ranges(&numbers)),
        }
    }

    /// The labels of so many pieces, one on each end.
    pub(super) fn tally_labels(&self, tally: &mut Tally, pieces: usize) {
        tally.add(self.extra_number(&ExtraKind::Label), LABELS_A_PIECE * pieces);
    }

    /// What goes into the rows after the tubes are flushed, of the kinds that this bar has.
    pub(super) fn row_kinds(&self) -> Vec<String> {
        let has = |wanted: fn(&ElementKind) -> bool| {
            let mut elements = self.routing.routing.feeds.iter().flat_map(RowFeed::elements);
            elements.any(|element| {
                let kind = match element {
                    FeedElement::Piece(kind, _) => *kind,
                    FeedElement::MeteringTube { .. } => return wanted(&ElementKind::MeteringOrifice),
                    FeedElement::Tube(_) | FeedElement::Fitting(_) => return false,
                };
                wanted(&kind)
            })
        };
        type Named = (&'static str, fn(&ElementKind) -> bool);
        let kinds: [Named; 3] = [
            ("check valves", |kind| *kind == ElementKind::CheckValve),
            ("flow indicators", |kind| *kind == ElementKind::FlowIndicator),
            (METERING, |kind| !matches!(kind, ElementKind::CheckValve | ElementKind::FlowIndicator)),
        ];
        kinds.into_iter().filter(|(_, wanted)| has(*wanted)).map(|(name, _)| name.to_owned()).collect()
    }

    pub(super) fn parts_of(&self, wanted: fn(&PartItem) -> bool) -> Vec<&'a Part> {
        self.routing.routing.parts.iter().filter(|part| self.item(&part.entry).is_some_and(wanted)).collect()
    }

    pub(super) fn gauges(&self) -> Vec<&'a Part> {
        self.parts_of(|item| matches!(item, PartItem::Gauge(_)))
    }

    pub(super) fn filters(&self) -> Vec<String> {
        tags_of(&self.parts_of(|item| matches!(item, PartItem::InletFilter(_))))
    }

    /// `Clean the screen of F1`; none without a filter.
    pub(super) fn clean_screens(&self) -> Option<String> {
        let filters = self.filters();
        (!filters.is_empty()).then(|| format!("Clean the screen of {}", words::tags(&filters)))
    }

    /// The manifolds by the hose that leads to them, the nearest to the pump first.
    pub(super) fn manifolds(&self) -> Vec<&'a Part> {
        let mut parts = self.parts_of(|item| matches!(item, PartItem::Manifold(_)));
        parts.sort_by_key(|part| self.way_to(part.id));
        parts
    }

    /// Plugs that close outlets while hoses and manifolds are flushed and tested: one for each row feed, and for each
    /// outlet that nothing closes yet.
    pub(super) fn outlets_to_close(&self) -> usize {
        let plugs = self.extras.iter().filter(|extra| extra.kind == ExtraKind::TestPlug);
        plugs.map(|extra| extra.quantity).sum()
    }
}

pub(super) fn tags_of(parts: &[&Part]) -> Vec<String> {
    parts.iter().map(|part| part.tag.clone()).collect()
}
