//! Two routings of one bar side by side: figures, what differs, rows, and a verdict in words.
//!
//! [`compare`] takes two [`Contender`]s, each a routing with its outcomes at one operating point and at the three
//! ground speeds. [`figures`] reads one of them, [`differences`] matches parts, hoses and row feeds by tag and
//! place, [`table`] writes the figures as text, and [`verdict`] says in two or three sentences what the numbers mean.
//! A figure that is not known stays unknown with its reason; it is never taken for zero and never compared.

mod by_parts;
mod compared_figure;
mod contender;
pub mod differences;
pub mod figure;
mod figures;
mod material;
pub mod table;
pub mod verdict;

pub use compared_figure::{ComparedFigure, Which};
pub use contender::Contender;
pub use differences::{Change, ItemDifference};
pub use figure::{
    Amount, Condition, Direction, Figure, FigureGroup, FigureKey, FigureUnit, FlowFigure, LineRole,
};

use super::status::why_no_numbers;
use crate::hydraulics::outcome::{RowConnection, RowOutcome, RowState};
use crate::plan::{LaidRouting, OperatingPoint, Project, RowId, words};
use crate::quantities::{Length, Measure, Ratio, UnitSystem};

/// One row of both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowDifference {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// How far right of the bar's centre.
    pub x: Length,
    /// Deviation from its target with the first; none where it has no number.
    pub a: Option<Ratio>,
    /// With the second.
    pub b: Option<Ratio>,
    /// What becomes of it with the first; `None` where it is connected and nothing was solved.
    pub a_state: Option<RowState>,
    /// With the second.
    pub b_state: Option<RowState>,
}

impl RowDifference {
    /// Deviation with the second less deviation with the first: what the row gets more, as a share of its target.
    pub fn difference(&self) -> Option<Ratio> {
        Some(self.b? - self.a?)
    }

    /// With which one it is nearer to its target, where that can be read.
    pub fn nearer(&self) -> Option<Which> {
        let rounded = |deviation: Ratio| Measure::Percent.rounded(deviation.abs().si(), UnitSystem::Metric);
        let (a, b) = (rounded(self.a?), rounded(self.b?));
        (a != b).then_some(if a < b { Which::A } else { Which::B })
    }

    /// Deviation with the second less deviation with the first, as they read.
    pub fn shown_difference(&self) -> Option<Ratio> {
        let rounded = |deviation: Ratio| Measure::Percent.rounded(deviation.si(), UnitSystem::Metric);
        Some(Ratio::from_si(rounded(self.b?) - rounded(self.a?)))
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The duty both are looked at for, where the project has several; none where they are looked at for two.
    pub duty: Option<String>,
    /// What the two are called: names of routings, with what sets them apart where both are the same routing.
    pub labels: [String; 2],
    /// The same without the ground speed, for figures at speeds of their own.
    pub labels_at_any_speed: [String; 2],
    /// Names of the two routings.
    pub names: [String; 2],
    /// A letter or two for each, for marks: the name itself where it is that short.
    pub letters: [String; 2],
    /// Why one has no numbers at the point looked at.
    pub unsolved: [Option<String>; 2],
    /// All figures, group by group.
    pub lines: Vec<ComparedFigure>,
    /// All rows in the bar's order.
    pub rows: Vec<RowDifference>,
    /// Parts, hoses and row feeds that differ.
    pub items: Vec<ItemDifference>,
    /// Two or three sentences; before them what is told of the release.
    pub verdict: String,
}

/// Whether one of the two may be built, as far as that is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReleaseSaid {
    /// It may.
    Released,
    /// It may not, with the words that say why: `not released: 1 error open (hinge H2)`.
    Held(String),
    /// Still looked for: something is dragged.
    Awaited,
}

impl Comparison {
    /// Puts before the verdict which of the two may not be built: what is more even is no better while errors are open. One
    /// without numbers is left out: the verdict says why it can't be judged.
    pub fn tell_release(&mut self, said: &[ReleaseSaid; 2]) {
        let solved = self.unsolved.each_ref().map(Option::is_none);
        let sentence = |side: usize| {
            let label = &self.labels[side];
            match &said[side] {
                _ if !solved[side] => None,
                ReleaseSaid::Released => None,
                ReleaseSaid::Held(words) => Some(format!("Routing {label} is {words}. ")),
                ReleaseSaid::Awaited => Some(format!("Whether routing {label} is released is looked for. ")),
            }
        };
        let before: String = [0, 1].into_iter().filter_map(sentence).collect();
        self.verdict.insert_str(0, &before);
    }

    /// The figures that differ.
    pub fn differing(&self) -> impl Iterator<Item = &ComparedFigure> {
        self.lines.iter().filter(|line| line.differs())
    }

    /// A line by the key of its figure.
    pub fn line(&self, key: &FigureKey) -> Option<&ComparedFigure> {
        self.lines.iter().find(|line| line.figure.key == *key)
    }

    /// What the two are called above the figures of a group: with the conditions that those figures depend on.
    pub const fn heads(&self, group: &FigureGroup) -> &[String; 2] {
        match group {
            FigureGroup::At(Condition::LookedAt, _) => &self.labels,
            FigureGroup::At(..) => &self.labels_at_any_speed,
            FigureGroup::Lengths | FigureGroup::Parts | FigureGroup::Joints | FigureGroup::Cost => {
                &self.names
            }
        }
    }

    /// The sign of a change in the list of what differs: the letter of the one that alone has it, or the change's own.
    pub fn mark(&self, change: Change) -> &str {
        match change {
            Change::Removed => &self.letters[0],
            Change::Added => &self.letters[1],
            Change::Moved => "»",
            Change::Changed => "≠",
        }
    }
}

/// Compares two routings of a project, or one routing at two operating points.
pub fn compare(project: &Project, a: &Contender<'_>, b: &Contender<'_>) -> Comparison {
    let [labels, labels_at_any_speed] = [true, false].map(|with_speed| labels(project, a, b, with_speed));
    let names = [a, b].map(|side| side.routing.name.clone());
    let letters = letters(&names);
    let lines = lines(project, a, b);
    let rows = a.outcome.each_row().zip(b.outcome.each_row()).map(|(a, b)| row(a, b)).collect();
    let items = differences::items(project, a.routing, b.routing);
    let unsolved = [a, b].map(|side| why_no_numbers(side.outcome, side.routing.routing));
    let verdict = verdict::verdict(project, a, b, &labels, &lines);
    let of_one = a.outcome.point.duty == b.outcome.point.duty;
    let duty =
        (of_one && project.duties.are_several()).then(|| project.duty(a.outcome.point.duty).name.clone());
    Comparison { duty, labels, labels_at_any_speed, names, letters, unsolved, lines, rows, items, verdict }
}

/// A letter or two for each of two names: the name itself where both are that short, else their first letters where those
/// differ, else numbers.
fn letters(names: &[String; 2]) -> [String; 2] {
    let [a, b] = names;
    let first =
        |name: &String| name.chars().next().map_or_else(String::new, |one| one.to_uppercase().collect());
    let initials = [first(a), first(b)];
    if a != b && names.iter().all(|name| (1..=2).contains(&name.chars().count())) {
        names.clone()
    } else if initials[0] != initials[1] && initials.iter().all(|one| !one.is_empty()) {
        initials
    } else {
        ["1", "2"].map(str::to_owned)
    }
}

fn row(
    (row, a): (&RowConnection, Option<&RowOutcome>),
    (other, b): (&RowConnection, Option<&RowOutcome>),
) -> RowDifference {
    RowDifference {
        row: row.row,
        number: row.number,
        x: row.x,
        a: a.and_then(|a| a.deviation),
        b: b.and_then(|b| b.deviation),
        a_state: row.state(a),
        b_state: other.state(b),
    }
}

/// Figures of both in one order; one that only the other has counts as zero if it is a length or a number of
/// things, and as unknown otherwise.
fn lines(project: &Project, a: &Contender<'_>, b: &Contender<'_>) -> Vec<ComparedFigure> {
    let here = needs_own_group(a, b);
    let absent = |figure: &Figure| match figure.unit {
        FigureUnit::Count | FigureUnit::Measured(Measure::Distance) => Amount::is(0.0),
        _ => Amount::unknown("–", "it has none"),
    };
    let mut lines: Vec<ComparedFigure> = Vec::new();
    for (mut figure, amount) in figures::figures(project, a, here) {
        if matches!(figure.group, FigureGroup::At(Condition::LookedAt, _)) {
            figure.group = FigureGroup::At(Condition::LookedAt, heading_looked_at(project, a, b));
        }
        let b = absent(&figure);
        lines.push(ComparedFigure { figure, a: amount, b });
    }
    let mut at = 0;
    for (figure, amount) in figures::figures(project, b, here) {
        if let Some(found) = lines.iter().position(|line| line.figure.key == figure.key) {
            lines[found].b = amount;
            at = found + 1;
        } else {
            let a = absent(&figure);
            lines.insert(at.min(lines.len()), ComparedFigure { figure, a, b: amount });
            at += 1;
        }
    }
    leave_fewer_rows_unmarked(&mut lines);
    lines
}

/// Where one feeds fewer rows than the other, neither is better by figures over the rows that are fed: those without liquid
/// would make it look even.
fn leave_fewer_rows_unmarked(lines: &mut [ComparedFigure]) {
    let fed = |line: &ComparedFigure| match &line.figure.key {
        FigureKey::Flow(FlowFigure::RowsFed, condition) if line.differs() => Some(*condition),
        _ => None,
    };
    let unequal: Vec<Condition> = lines.iter().filter_map(fed).collect();
    for line in lines {
        use FlowFigure::{Cv, DuLowestQuarter, FarthestRow, Inlet};
        if let FigureKey::Flow(Cv | DuLowestQuarter | FarthestRow | Inlet, condition) = &line.figure.key
            && unequal.contains(condition)
        {
            line.figure.better = Direction::Neither;
        }
    }
}

/// The speeds looked at are not one and the same of the three, so they get figures of their own.
fn needs_own_group(a: &Contender<'_>, b: &Contender<'_>) -> bool {
    a.outcome.point.speed != b.outcome.point.speed || !a.range.speeds.contains(&a.outcome.point.speed)
}

fn heading_looked_at(project: &Project, a: &Contender<'_>, b: &Contender<'_>) -> String {
    let speed =
        |one: &Contender<'_>| Measure::GroundSpeed.short_text(one.outcome.point.speed.si(), project.units);
    let (a, b) = (speed(a), speed(b));
    if a == b { format!("Looked at, {a}") } else { format!("Looked at, {a} and {b}") }
}

/// Names of routings; what sets the points apart is added where they differ, the ground speed if it is wanted.
fn labels(project: &Project, a: &Contender<'_>, b: &Contender<'_>, with_speed: bool) -> [String; 2] {
    let (one, other) = (&a.outcome.point, &b.outcome.point);
    let units = project.units;
    // Whether it is the ground speed, what it is, and as people read it.
    type Part = (bool, fn(&OperatingPoint) -> f64, fn(&OperatingPoint, UnitSystem) -> String);
    let parts: [Part; 5] = [
        (false, |point| point.rate.si(), |point, units| Measure::Rate.short_text(point.rate.si(), units)),
        (
            true,
            |point| point.speed.si(),
            |point, units| Measure::GroundSpeed.short_text(point.speed.si(), units),
        ),
        (
            false,
            |point| point.temperature.si(),
            |point, units| Measure::Temperature.short_text(point.temperature.si(), units),
        ),
        (
            false,
            |point| point.side_slope.si(),
            |point, units| format!("side slope {}", words::side_slope(point.side_slope, units)),
        ),
        (
            false,
            |point| point.fore_aft_slope.si(),
            |point, units| format!("fore-aft slope {}", words::fore_aft_slope(point.fore_aft_slope, units)),
        ),
    ];
    let differing: Vec<&Part> = parts
        .iter()
        .filter(|(by_speed, read, _)| (with_speed || !by_speed) && read(one) != read(other))
        .collect();
    let label = |routing: LaidRouting, point: &OperatingPoint| {
        let mut pieces: Vec<String> = differing.iter().map(|(.., words)| words(point, units)).collect();
        if one.duty != other.duty {
            pieces.insert(0, format!("duty {}", project.duty(point.duty).name));
        }
        if pieces.is_empty() {
            routing.name.clone()
        } else {
            format!("{} at {}", routing.name, pieces.join(", "))
        }
    };
    [label(a.routing, one), label(b.routing, other)]
}
