//! What slopes, cold, wear and single faults do to the rows, sorted by harm.
//!
//! Each case is a [`Condition`], solved as the plan is and changing nothing in it, so that it can be looked at live too. Of
//! faults that may befall any row or hose, the one that does the most harm stands for all. Harm is the root mean square of the
//! deviations from target, over all rows that should get liquid; one that gets none counts as -100 %.

mod condition;

use std::collections::{BTreeMap, BTreeSet};

use condition::Change;
pub use condition::Condition;

use super::asked::no_numbers;
use super::reliance::WithoutLiquid;
use super::report::{
    OnPaper, StudyAction, StudyCell, StudyColumn, StudyMark, StudyReport, StudyRow, StudyTable,
};
use super::status::{rows_words, why_no_numbers};
use super::{NoAnswer, Studied, Study, Waiting, reliance};
use crate::hydraulics::outcome::RowsCovered;
use crate::hydraulics::{KeptSolver, Outcome, RowState};
use crate::plan::{PartId, PartItem, RowId, words};
use crate::quantities::{Angle, Measure, Pressure, Ratio};

/// Two faults that harm alike within this part of it are told of the first row or hose.
const ALIKE: f64 = 1e-6;
/// A change of a gauge that a person notices: 0.05 bar, common practice, no source.
const NOTICED: Pressure = Pressure::bar(0.05);

/// Where a pressure is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadAt {
    /// At the first gauge of the routing.
    Gauge(PartId),
    /// At the pump's outlet: the routing has no gauge.
    Pump,
}

/// A condition and what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What is otherwise than planned.
    pub condition: Condition,
    /// What it is, and what is changed, in words.
    pub words: [String; 2],
    /// Coefficient of variation over fed rows.
    pub cv: Option<Ratio>,
    /// How many rows that is over.
    pub rows: RowsCovered,
    /// The row farthest from its target, as painted on the bar, of all that should get liquid; -1 for one that gets none.
    pub worst: Option<(RowId, u32, Ratio)>,
    /// Root mean square of the deviations from target of all rows that should get liquid.
    pub harm: Ratio,
    /// What the gauge shows less what it shows as planned.
    pub gauge_change: Option<Pressure>,
    /// Flow that is missing at the supply's limit.
    pub is_short: bool,
    /// Some row is farther from its target than the project accepts.
    pub outside_limits: bool,
}

/// What other conditions do.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionsStudy {
    /// As planned: harm, worst row and evenness to compare with.
    pub planned: Planned,
    /// The cases, the most harm first.
    pub cases: Vec<Case>,
    /// Conditions that have no numbers, with why.
    pub without_numbers: Vec<(Condition, String)>,
    /// Where the pressure is read.
    pub read_at: ReadAt,
    /// What to know before relying on it.
    pub warnings: Vec<String>,
    /// Rows in use that get no liquid as planned, in words.
    pub dry_rows: Option<String>,
}

/// The plan itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// Coefficient of variation over fed rows.
    pub cv: Option<Ratio>,
    /// The row farthest from its target.
    pub worst: Option<(RowId, u32, Ratio)>,
    /// Root mean square of the deviations from target.
    pub harm: Ratio,
    /// What the gauge shows.
    pub gauge: Option<Pressure>,
    /// How many rows the figures are over.
    pub rows: RowsCovered,
}

impl ConditionsStudy {
    /// Some condition that a bar meets at work, faults apart, brings a row outside the limits, or a row gets nothing as it is.
    pub fn fails_at_work(&self) -> bool {
        self.cases.iter().any(|case| !case.condition.is_fault() && case.outside_limits)
            || !self.without_numbers.is_empty()
            || self.dry_rows.is_some()
    }
}

/// Tries every condition.
///
/// # Errors
/// Where the routing has no numbers as planned, or whoever waits stops it.
pub fn study(of: &Studied, waiting: &dyn Waiting) -> Result<ConditionsStudy, NoAnswer> {
    study_some(of, |_| true, waiting)
}

/// What of the conditions that a bar meets at work, faults apart, brings a row outside its limits or leaves it without liquid,
/// in words; nothing where all rows keep within them.
///
/// # Errors
/// Where the routing has no numbers as planned, or whoever waits stops it.
pub fn outside_at_work(of: &Studied, waiting: &dyn Waiting) -> Result<Vec<String>, NoAnswer> {
    let study = study_some(of, |condition| !condition.is_fault(), waiting)?;
    if !study.fails_at_work() {
        return Ok(Vec::new());
    }
    let mut all = answer(&study, of);
    all.extend(without_numbers(&study, of));
    Ok(all)
}

fn study_some(
    of: &Studied,
    is_tried: impl Fn(&Condition) -> bool,
    waiting: &dyn Waiting,
) -> Result<ConditionsStudy, NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(of.project, of.routing);
    let outcome = prepared.solve(&of.point);
    if outcome.numbers().is_none() {
        return Err(no_numbers(of, &outcome));
    }
    let read_at = read_at(of);
    let gauge = gauge(&outcome, read_at);
    let planned = Planned {
        cv: outcome.evenness().map(|one| one.cv),
        worst: worst(&outcome),
        harm: harm(&outcome),
        gauge,
        rows: outcome.rows_in_evenness(),
    };
    let groups: Vec<Vec<(Condition, Change)>> = groups(of, &outcome)
        .into_iter()
        .map(|group| {
            let change = |condition: Condition| {
                let change = condition.change(of, &mut prepared, &outcome)?;
                Some((condition, change))
            };
            group.into_iter().filter(|condition| is_tried(condition)).filter_map(change).collect()
        })
        .collect();
    let all = groups.iter().map(Vec::len).sum::<usize>().max(1);
    let (mut done, mut cases, mut without_numbers) = (0usize, Vec::new(), Vec::new());
    for group in groups {
        let mut most: Option<Case> = None;
        for (condition, change) in group {
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            done += 1;
            waiting.so_far(done as f32 / all as f32);
            let Some(outcome) = change.solved(of, &mut prepared) else { continue };
            if let Some(why) = why_no_numbers(&outcome, of.routing.routing) {
                without_numbers.push((condition, why));
                continue;
            }
            let harm = harm(&outcome);
            if most.as_ref().is_none_or(|most| harm.si() > most.harm.si() * (1.0 + ALIKE)) {
                most = Some(case(of, condition, &outcome, read_at, gauge));
            }
        }
        cases.extend(most);
    }
    cases.sort_by(|a, b| b.harm.si().total_cmp(&a.harm.si()));
    Ok(ConditionsStudy {
        planned,
        cases,
        without_numbers,
        read_at,
        warnings: reliance::supply(of, &outcome).into_iter().chain(reliance::liquid(of, &outcome)).collect(),
        dry_rows: WithoutLiquid::of(of, &outcome).words(),
    })
}

/// The conditions to try, group by group: of each the one that does the most harm is told.
fn groups(of: &Studied, outcome: &Outcome) -> Vec<Vec<Condition>> {
    let (project, limits) = (of.project, &of.project.limits);
    let slope = limits.tried_slope;
    let mut groups = Vec::new();
    if slope > Angle::ZERO {
        groups.extend([slope, -slope].map(|slope| vec![Condition::SideSlope(slope)]));
        groups.extend([slope, -slope].map(|slope| vec![Condition::ForeAftSlope(slope)]));
    }
    let liquid = &project.duty(of.point.duty).liquid;
    if let (Some(first), Some(last)) = (liquid.points.first(), liquid.points.last()) {
        // Below salt-out there is no liquid to speak of.
        let coldest = liquid.salt_out.map_or(first.temperature, |salt_out| first.temperature.max(salt_out));
        let ends = [coldest, last.temperature].into_iter();
        groups.extend(
            ends.filter(|end| *end != of.point.temperature).map(|end| vec![Condition::LiquidAt(end)]),
        );
    }
    groups.push(vec![Condition::Thicker(limits.tried_thickness)]);
    let parts =
        || of.routing.parts.iter().filter_map(|part| Some((part, project.catalogue.item(&part.entry)?)));
    for (part, item) in parts() {
        match item {
            PartItem::InletFilter(_) => {
                groups.push(vec![Condition::FilterLoaded(part.id, limits.tried_filter_load)]);
            }
            item if item.facts().can_be_shut && !part.shut => {
                groups.push(vec![Condition::SectionShut(part.id)]);
            }
            _ => {}
        }
    }
    groups.push(vec![Condition::AllMeteringWorn(limits.tried_wear)]);
    let fed: Vec<RowId> =
        outcome.rows().iter().filter(|row| row.deviation.is_some()).map(|row| row.row).collect();
    let extremes = extremes(of, outcome);
    let each = |condition: &dyn Fn(RowId) -> Condition| {
        extremes.iter().map(|row| condition(*row)).collect::<Vec<_>>()
    };
    groups.push(each(&Condition::RowBlocked));
    groups.push(each(&Condition::MeteringLost));
    groups.push(each(&|row| Condition::MeteringWorn(row, limits.tried_wear)));
    let sizes = |row: &RowId| {
        let row = *row;
        condition::other_sizes(of, row).into_iter().map(move |key| Condition::MeteringOfOtherSize(row, key))
    };
    groups.push(extremes.iter().flat_map(sizes).collect());
    // What a tube takes goes by its length, which the rows' flows do not tell.
    groups.push(fed.iter().map(|row| Condition::TubeCrushed(*row, limits.tried_crush)).collect());
    groups
        .push(of.routing.runs.iter().map(|run| Condition::HoseCrushed(run.id, limits.tried_crush)).collect());
    groups
}

/// Of each metering the rows that get the most and the least for their targets: what befalls a row's metering or outlet does
/// most harm at one of them, since it is there that the pressure is highest or lowest.
fn extremes(of: &Studied, outcome: &Outcome) -> Vec<RowId> {
    let mut all: BTreeMap<String, [(RowId, f64); 2]> = BTreeMap::new();
    for row in outcome.rows() {
        let Some(deviation) = row.deviation.map(Ratio::si) else { continue };
        let pieces = condition::metering_of(of, row.row);
        let metering: Vec<String> = pieces.iter().map(|(_, piece)| of.metering_words(piece)).collect();
        let [most, least] = all.entry(metering.join(" ")).or_insert([(row.row, deviation); 2]);
        if deviation > most.1 + ALIKE {
            *most = (row.row, deviation);
        }
        if deviation < least.1 - ALIKE {
            *least = (row.row, deviation);
        }
    }
    let rows: BTreeSet<RowId> = all.into_values().flatten().map(|(row, _)| row).collect();
    rows.into_iter().collect()
}

fn case(
    of: &Studied,
    condition: Condition,
    outcome: &Outcome,
    read_at: ReadAt,
    planned: Option<Pressure>,
) -> Case {
    let worst = worst(outcome);
    Case {
        words: condition.words(of),
        condition,
        cv: outcome.evenness().map(|one| one.cv),
        rows: outcome.rows_in_evenness(),
        worst,
        harm: harm(outcome),
        gauge_change: gauge(outcome, read_at).zip(planned).map(|(now, planned)| now - planned),
        is_short: outcome.at_limit().is_some(),
        outside_limits: worst
            .is_some_and(|(_, _, deviation)| deviation.abs() > of.project.limits.row_deviation),
    }
}

/// The rows that should get liquid, with how far each is from its target.
fn should_get(outcome: &Outcome) -> impl Iterator<Item = (RowId, u32, f64)> {
    let rows = outcome.rows().iter().filter(|row| row.connected.is_ok() && row.target.si() > 0.0);
    rows.map(|row| {
        let deviation = match row.state {
            RowState::Fed => row.deviation.map_or(-1.0, Ratio::si),
            RowState::FlowsBackward => row.flow.si() / row.target.si() - 1.0,
            RowState::NotFed(_) | RowState::ValveStaysShut | RowState::Blocked => -1.0,
        };
        (row.row, row.number, deviation)
    })
}

fn worst(outcome: &Outcome) -> Option<(RowId, u32, Ratio)> {
    let farthest =
        should_get(outcome).reduce(|a, b| if b.2.abs() > a.2.abs() * (1.0 + ALIKE) { b } else { a });
    farthest.map(|(row, number, deviation)| (row, number, Ratio::from_si(deviation)))
}

fn harm(outcome: &Outcome) -> Ratio {
    let (sum, count) = should_get(outcome)
        .fold((0.0, 0usize), |(sum, count), (_, _, deviation)| (sum + deviation * deviation, count + 1));
    Ratio::from_si((sum / count.max(1) as f64).sqrt())
}

fn read_at(of: &Studied) -> ReadAt {
    let is_gauge = |entry| matches!(of.project.catalogue.item(entry), Some(PartItem::Gauge(_)));
    let gauge = of.routing.parts.iter().find(|part| is_gauge(&part.entry));
    gauge.map_or(ReadAt::Pump, |part| ReadAt::Gauge(part.id))
}

fn gauge(outcome: &Outcome, read_at: ReadAt) -> Option<Pressure> {
    match read_at {
        ReadAt::Gauge(part) => outcome.part(part)?.pressure,
        ReadAt::Pump => Some(outcome.numbers()?.pump_pressure),
    }
}

/// Where the pressure is read, in words: `gauge G1` or `the pump`.
pub fn read_at_words(of: &Studied, read_at: ReadAt) -> String {
    match read_at {
        ReadAt::Gauge(part) => {
            of.routing.part(part).map_or_else(|| "the gauge".to_owned(), |part| format!("gauge {}", part.tag))
        }
        ReadAt::Pump => "the pump".to_owned(),
    }
}

/// The study as it is shown.
pub fn report(study: &ConditionsStudy, of: &Studied) -> StudyReport {
    let percent = |ratio: Option<Ratio>| {
        ratio.map_or(StudyCell::Unknown("no fed row".into()), |one| StudyCell::Number(one.si()))
    };
    let worst = |worst: Option<(RowId, u32, Ratio)>| match worst {
        Some((_, number, deviation)) => {
            [StudyCell::Words(number.to_string()), StudyCell::Signed(deviation.si())]
        }
        None => [StudyCell::Empty, StudyCell::Empty],
    };
    let planned = &study.planned;
    let [worst_row, worst_percent] = worst(planned.worst);
    let all_rows = |rows: RowsCovered| StudyCell::Words(rows_words(rows).unwrap_or_else(|| "all".to_owned()));
    let mut rows = vec![StudyRow {
        mark: StudyMark::InUse,
        row: planned.worst.map(|one| one.0),
        ..StudyRow::new(vec![
            StudyCell::Words("as planned".to_owned()),
            StudyCell::Empty,
            worst_row,
            worst_percent,
            percent(planned.cv),
            all_rows(planned.rows),
            StudyCell::Empty,
            StudyCell::Number(planned.harm.si()),
        ])
    }];
    rows.extend(study.cases.iter().map(|case| {
        let [worst_row, worst_percent] = worst(case.worst);
        let [what, change] = &case.words;
        let change = if case.is_short { format!("{change}; supply at its limit") } else { change.clone() };
        StudyRow {
            mark: if case.outside_limits { StudyMark::OutsideLimits } else { StudyMark::None },
            action: Some(StudyAction::LookAt(case.condition.clone())),
            row: case.worst.map(|one| one.0),
            ..StudyRow::new(vec![
                StudyCell::Words(what.clone()),
                StudyCell::Words(change),
                worst_row,
                worst_percent,
                percent(case.cv),
                all_rows(case.rows),
                case.gauge_change.map_or(StudyCell::Empty, |change| StudyCell::Signed(change.si())),
                StudyCell::Number(case.harm.si()),
            ])
        }
    }));
    let at = read_at_words(of, study.read_at);
    let columns = vec![
        StudyColumn::words("Case"),
        StudyColumn::words("What is changed"),
        StudyColumn::words("Worst row"),
        StudyColumn::number("From target", Measure::Percent),
        StudyColumn::number("CV of fed rows", Measure::Percent),
        StudyColumn::words("Fed rows"),
        StudyColumn::number(format!("Change at {at}"), Measure::Loss),
        StudyColumn::number("Harm", Measure::Percent),
    ];
    let title = format!("Other conditions at {}, the most harm first", of.speed_and_duty());
    let table = StudyTable::new(title, columns, rows)
        .printed(OnPaper::Whole)
        .with_notes([
            "harm: root mean square of the deviations from target over all rows that should get liquid, one that gets none \
             counting as −100 %",
            "of a fault that may befall any hose or row, the one that does the most harm is told: of all hoses and tubes, and of \
             the rows that get the most and the least with each metering; a blocked row stays in the controller's total",
        ]);
    let mut warnings = study.warnings.clone();
    warnings.extend(without_numbers(study, of));
    StudyReport::new(Study::Conditions, of, answer(study, of), warnings).with_tables([table])
}

/// Which conditions can't be solved, and why.
fn without_numbers(study: &ConditionsStudy, of: &Studied) -> impl Iterator<Item = String> {
    study.without_numbers.iter().map(|(condition, why)| format!("{}: {why}", condition.text(of)))
}

fn answer(study: &ConditionsStudy, of: &Studied) -> Vec<String> {
    let units = of.project.units;
    let limit = Measure::Percent.text(of.project.limits.row_deviation.si(), units);
    let far = |case: &Case| {
        let (_, number, deviation) = case.worst?;
        let side = if deviation.si() < 0.0 { "below" } else { "above" };
        Some(format!(
            "row {number} is then {} {side} its target",
            Measure::Percent.text(deviation.abs().si(), units)
        ))
    };
    let named = |case: &Case| format!("{}, {}", case.words[0], case.words[1]);
    let size = |case: &&Case| case.worst.map_or(0.0, |one| one.2.si().abs());
    let (faults, at_work): (Vec<&Case>, Vec<&Case>) =
        study.cases.iter().partition(|case| case.condition.is_fault());
    let mut all: Vec<String> = study.dry_rows.iter().cloned().collect();
    let fed = if study.dry_rows.is_some() { "every row that is fed" } else { "every row" };
    let outside: Vec<&&Case> = at_work.iter().filter(|case| case.outside_limits).collect();
    let of_planned = study.planned.worst.filter(|(_, _, far)| far.abs() > of.project.limits.row_deviation);
    if let Some((_, number, deviation)) = of_planned {
        let side = if deviation.si() < 0.0 { "below" } else { "above" };
        let far = Measure::Percent.text(deviation.abs().si(), units);
        all.push(format!(
            "as planned already row {number} is {far} {side} its target, outside the limit of {limit}: mend that first, then look \
             at other conditions"
        ));
    }
    if let Some(worst) = at_work.iter().max_by(|a, b| size(a).total_cmp(&size(b))) {
        let far = far(worst).unwrap_or_default();
        if outside.is_empty() {
            all.push(format!(
                "on slopes, cold or thick, worn, with a loaded filter or a section shut {fed} stays within {limit}; farthest \
                 with {}: {far}",
                named(worst)
            ));
        } else if of_planned.is_none() {
            let names: Vec<String> = outside.iter().map(|case| named(case)).collect();
            all.push(format!(
                "rows leave the limit of {limit} with {}; farthest with {}: {far}",
                words::list(&names),
                named(worst)
            ));
        } else {
            all.push(format!("farthest at work with {}: {far}", named(worst)));
        }
    }
    if let Some(worst) = faults.first() {
        let others = match worst.gauge_change {
            Some(change) => {
                let way = if change.si() < 0.0 { "falls" } else { "rises" };
                format!(
                    "; {} {way} by {}",
                    read_at_words(of, study.read_at),
                    Measure::Pressure.text(change.abs().si(), units)
                )
            }
            None => String::new(),
        };
        all.push(format!(
            "of single faults the most harm is done by {}: {}{others}",
            named(worst),
            far(worst).unwrap_or_default()
        ));
    }
    let unseen: Vec<String> = faults
        .iter()
        .filter(|case| case.outside_limits && case.gauge_change.is_some_and(|change| change.abs() < NOTICED))
        .map(|case| case.words[0].clone())
        .collect();
    if !unseen.is_empty() {
        all.push(format!(
            "{} {} {} by less than {}, which nobody notices: only a catch or a flow indicator at the row shows {}",
            words::list(&unseen),
            if unseen.len() == 1 { "changes" } else { "change" },
            read_at_words(of, study.read_at),
            Measure::Pressure.text(NOTICED.si(), units),
            if unseen.len() == 1 { "it" } else { "these" }
        ));
    }
    all
}
