//! What every rule looks at, with the look-ups that several of them share.

use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet};

use super::finding::{Finding, FindingSubject, Severity};
use super::words;
use crate::hydraulics::first_choice::{Choice, choices};
use crate::hydraulics::outcome::{ElementOutcome, NotFed, Outcome, RowConnection, RowOutcome, RowState};
use crate::plan::dismissal::FindingKind;
use crate::plan::hung_line::{HungLine, hung_lines};
use crate::plan::ratings::{Rating, Unrated, lowest};
use crate::plan::{
    Branch, Duty, Entry, EntryKey, FeedElement, FeedId, FittingItem, Item, LaidRouting, Part, PartId,
    PartItem, Project, RowFeed, RowId, RunId, SectionId, Subject,
};
use crate::plan::{Fitting, FittingForm};
use crate::quantities::{Measure, Pressure, Quantity, Ratio, Temperature, UnitSystem};

/// A routing and what a solve of it found.
pub struct Context<'a> {
    /// The project.
    pub project: &'a Project,
    /// One of its routings.
    pub routing: LaidRouting<'a>,
    /// What a solve of that routing found.
    pub outcome: &'a Outcome,
    /// All rows together get the wrong amount, at this speed or another one that is looked at: rows are then held against
    /// their mean, at every speed alike.
    pub(super) is_mean_off: bool,
    elements: BTreeMap<(FeedId, Option<usize>, usize), &'a ElementOutcome>,
    /// Kept from the first rule that asks: a third of the rules walk every row's way.
    paths: OnceCell<Vec<RowPath<'a>>>,
    lowest_rating: OnceCell<Result<Rating, Unrated>>,
    hung_lines: OnceCell<Vec<HungLine<'a>>>,
}

/// All that one row's liquid passes from the manifold outlet on, in order.
pub(super) struct RowPath<'a> {
    pub row: &'a RowConnection,
    /// What the solve found for the row.
    pub found: Option<&'a RowOutcome>,
    pub feed: &'a RowFeed,
    pub branch: &'a Branch,
    /// Each element with what the solve found for it.
    pub elements: Vec<(&'a FeedElement, Option<&'a ElementOutcome>)>,
}

impl RowPath<'_> {
    /// Liquid leaves at the row's outlet.
    pub(super) fn is_fed(&self) -> bool {
        self.found.is_some_and(|row| row.state == RowState::Fed)
    }

    /// Flow over target less 1, of a row that is fed.
    pub(super) fn deviation(&self) -> Option<Ratio> {
        self.found?.deviation
    }
}

impl<'a> Context<'a> {
    /// For one routing and its outcome.
    pub fn new(project: &'a Project, routing: LaidRouting<'a>, outcome: &'a Outcome) -> Self {
        let elements =
            outcome.elements().iter().map(|one| ((one.feed, one.branch, one.index), one)).collect();
        let is_mean_off = mean_is_off(project, outcome);
        Self {
            project,
            routing,
            outcome,
            is_mean_off,
            elements,
            paths: OnceCell::new(),
            lowest_rating: OnceCell::new(),
            hung_lines: OnceCell::new(),
        }
    }

    /// A finding of a rule and one of its cases, to be filled in.
    pub(super) fn finding(&self, rule: &str, case: &str) -> Finding {
        Finding {
            kind: FindingKind { rule: rule.to_owned(), case: case.to_owned() },
            routing: self.routing.id,
            severity: Severity::Note,
            extent: None,
            place: String::new(),
            what: String::new(),
            each: Vec::new(),
            advice: String::new(),
            remedy: None,
            others: Vec::new(),
            subjects: Vec::new(),
            also: Vec::new(),
            speed: None,
            fold: None,
            names_speed: false,
        }
    }

    /// The duty that was solved for: its liquid, and the conditions it is designed for.
    pub(super) fn duty(&self) -> &'a Duty {
        self.project.duty(self.outcome.point.duty)
    }

    /// What ratings hold for: the warmest temperature entered, or the one that was solved for if that is warmer.
    pub(super) fn warmest(&self) -> Temperature {
        self.project.warmest().max(self.outcome.point.temperature)
    }

    /// The lowest rating of all that is on the bar; what has none, while that keeps it from being told.
    pub(super) fn lowest_rating(&self) -> Result<&Rating, &Unrated> {
        self.lowest_rating.get_or_init(|| lowest(self.project, self.routing, self.warmest())).as_ref()
    }

    /// Every hose and tube with what it bears between two ties.
    pub(super) fn hung_lines(&self) -> &[HungLine<'a>] {
        self.hung_lines.get_or_init(|| hung_lines(self.project, self.routing))
    }

    /// The catalogue's check valves with their metering, the best first, for a pressure that stands on them with the pump
    /// off: for every duty, and of the one that was solved for the rate that was, and a range of speeds that reaches to the
    /// speed that was, since what is fitted has to suit all of these.
    pub(super) fn choices(&self, standing: Pressure) -> Vec<Choice> {
        let point = &self.outcome.point;
        let duty = self.duty();
        let solved = Duty {
            rate: point.rate,
            slowest: duty.slowest.min(point.speed),
            fastest: duty.fastest.max(point.speed),
            ..duty.clone()
        };
        choices(self.project, &self.project.duties.with(&solved), standing)
    }

    pub(super) const fn units(&self) -> UnitSystem {
        self.project.units
    }

    /// A number with its unit.
    pub(super) fn text(&self, measure: Measure, value: impl Quantity) -> String {
        measure.text(value.si(), self.units())
    }

    /// A number with its unit, with as many decimals as it takes to read apart from the limit it is held against.
    pub(super) fn text_apart<Q: Quantity>(&self, measure: Measure, value: Q, limit: Q) -> String {
        measure.text_apart(value.si(), limit.si(), self.units())
    }

    /// A number with its unit, without needless zeros.
    pub(super) fn short(&self, measure: Measure, value: impl Quantity) -> String {
        measure.short_text(value.si(), self.units())
    }

    /// The solved ground speed: `9 km/h`.
    pub(super) fn speed(&self) -> String {
        self.short(Measure::GroundSpeed, self.outcome.point.speed)
    }

    pub(super) fn item(&self, part: &Part) -> Option<&'a PartItem> {
        self.project.catalogue.item(&part.entry)
    }

    /// A fitting that turns the way, by its words.
    pub(super) fn is_elbow(&self, key: &EntryKey) -> bool {
        self.project.catalogue.entry(key).is_some_and(is_elbow)
    }

    /// `fit an elbow`, with what is to be done first where the catalogue has none.
    pub(super) fn elbow(&self) -> &'static str {
        if self.project.catalogue.entries.iter().any(is_elbow) {
            "fit an elbow"
        } else {
            "fit an elbow (the catalogue has none yet: add one as a fitting)"
        }
    }

    pub(super) fn part_tag(&self, id: PartId) -> String {
        self.routing.part(id).map_or_else(|| "a missing part".to_owned(), |part| part.tag.clone())
    }

    /// What a section is called.
    pub(super) fn section_name(&self, id: SectionId) -> &'a str {
        self.project.bar.section(id).map_or("a section that is gone", |section| section.name.as_str())
    }

    pub(super) fn run_tag(&self, id: RunId) -> String {
        self.routing.run(id).map_or_else(|| "a missing run".to_owned(), |run| run.tag.clone())
    }

    pub(super) fn feed_tag(&self, id: FeedId) -> String {
        self.routing.feed(id).map_or_else(|| "a missing row feed".to_owned(), |feed| feed.tag.clone())
    }

    /// A thing of the routing, or a row.
    pub(super) fn tag(&self, subject: Subject) -> String {
        match subject {
            Subject::Row(id) => self.row_words(&[id]),
            Subject::Part(id) => self.part_tag(id),
            Subject::Run(id) => self.run_tag(id),
            Subject::Feed(id) => self.feed_tag(id),
        }
    }

    /// A run with its bore and length: `H3 (19 mm, 6.20 m)`.
    pub(super) fn run_words(&self, id: RunId) -> String {
        let tag = self.run_tag(id);
        let bore = self.routing.run(id).and_then(|run| self.project.catalogue.stock(&run.line.stock));
        let bore = bore.map(|stock| self.short(Measure::Bore, stock.bore));
        let length = self.routing.geometry.run(id).map(|laid| self.text(Measure::Distance, laid.length));
        match (bore, length) {
            (Some(bore), Some(length)) => format!("{tag} ({bore}, {length})"),
            (Some(one), None) | (None, Some(one)) => format!("{tag} ({one})"),
            (None, None) => tag,
        }
    }

    /// `Rows 15 to 26`.
    pub(super) fn row_words(&self, rows: &[RowId]) -> String {
        words::rows(self.outcome, rows)
    }

    /// The same in the middle of a sentence.
    pub(super) fn row_words_inside(&self, rows: &[RowId]) -> String {
        self.row_words(rows).replacen('R', "r", 1)
    }

    /// The ids of all rows in a state, in the bar's order.
    pub(super) fn rows_in(&self, state: RowState) -> Vec<RowId> {
        self.outcome.rows().iter().filter(|row| row.state == state).map(|row| row.row).collect()
    }

    /// The ids of all rows that are not fed for this reason, in the bar's order.
    pub(super) fn rows_not_fed(&self, why: NotFed) -> Vec<RowId> {
        let rows = self.outcome.connections.iter().filter(|row| row.connected == Err(why));
        rows.map(|row| row.row).collect()
    }

    /// The way of every row that has a feed; a row fed twice comes twice.
    pub(super) fn row_paths(&self) -> &[RowPath<'a>] {
        self.paths.get_or_init(|| self.find_row_paths())
    }

    fn find_row_paths(&self) -> Vec<RowPath<'a>> {
        let rows: BTreeMap<RowId, &RowConnection> =
            self.outcome.connections.iter().map(|row| (row.row, row)).collect();
        let solved: BTreeMap<RowId, &RowOutcome> =
            self.outcome.rows().iter().map(|row| (row.row, row)).collect();
        let mut paths = Vec::new();
        for feed in &self.routing.routing.feeds {
            for (index, branch) in feed.branches.iter().enumerate() {
                let Some(row) = rows.get(&branch.row).filter(|row| row.connected != Err(NotFed::LeftOut))
                else {
                    continue;
                };
                let element = |branch, index| self.elements.get(&(feed.id, branch, index)).copied();
                let trunk = feed.trunk.iter().enumerate().map(|(at, one)| (one, element(None, at)));
                let own = branch.elements.iter().enumerate().map(|(at, one)| (one, element(Some(index), at)));
                let found = solved.get(&branch.row).copied();
                paths.push(RowPath { row, found, feed, branch, elements: trunk.chain(own).collect() });
            }
        }
        paths
    }

    /// The runs that liquid passes on its way to a part, following the solved flow.
    pub(super) fn runs_upstream(&self, part: PartId) -> BTreeSet<RunId> {
        self.routing.geometry.connections.upstream(part, |run| self.outcome.flow_of(run)).runs
    }
}

/// All rows together get more or less than the limit for one of them.
fn mean_is_off(project: &Project, outcome: &Outcome) -> bool {
    outcome.evenness().is_some_and(|one| one.mean_deviation.abs() > project.limits.row_deviation)
}

fn is_elbow(entry: &Entry) -> bool {
    matches!(&entry.item, Item::Fitting(FittingItem::Fitting(Fitting { form: FittingForm::Elbow, .. })))
}

/// Rows as subjects.
pub(super) fn row_subjects(rows: &[RowId]) -> Vec<FindingSubject> {
    rows.iter().map(|row| FindingSubject::Row(*row)).collect()
}
