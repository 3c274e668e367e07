//! Two routings of one bar side by side: figures, what differs, rows, and a verdict in words.
//!
//! [`compare`] takes two [`Contender`]s, each a routing with its outcomes at one operating point and at the three
//! ground speeds. [`figures`] reads one of them, [`differences`] matches parts, hoses and row feeds by tag and
//! place, [`table`] writes the figures as text, and [`verdict`] says in two or three sentences what the numbers mean.
//! A figure that is not known stays unknown with its reason; it is never taken for zero and never compared.

mod compared_figure;
mod contender;
pub mod differences;
pub mod figures;
pub mod table;
pub mod verdict;

pub use compared_figure::{ComparedFigure, Which};
pub use contender::Contender;
pub use differences::{Change, ItemDifference};
pub use figures::{Amount, Condition, Direction, Figure, Group, Unit};

use compared_figure::reads;

use super::status::why_no_numbers;
use crate::hydraulics::outcome::{RowConnection, RowOutcome, RowState};
use crate::plan::{LaidRouting, OperatingPoint, Project, RowId};
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
        let (a, b) = (self.a?.abs(), self.b?.abs());
        reads(&Measure::Percent.number((b - a).si(), UnitSystem::Metric)).then_some(if a < b {
            Which::A
        } else {
            Which::B
        })
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The duty both are looked at for, where the project has several; none where they are looked at for two.
    pub duty: Option<String>,
    /// What the two are called: names of routings, with what sets them apart where both are the same routing.
    pub labels: [String; 2],
    /// Why one has no numbers at the point looked at.
    pub unsolved: [Option<String>; 2],
    /// All figures, group by group.
    pub lines: Vec<ComparedFigure>,
    /// All rows in the bar's order.
    pub rows: Vec<RowDifference>,
    /// Parts, hoses and row feeds that differ.
    pub items: Vec<ItemDifference>,
    /// Two or three sentences.
    pub verdict: String,
}

impl Comparison {
    /// The figures that differ.
    pub fn differing(&self) -> impl Iterator<Item = &ComparedFigure> {
        self.lines.iter().filter(|line| line.differs())
    }

    /// A line by the key of its figure.
    pub fn line(&self, key: &str) -> Option<&ComparedFigure> {
        self.lines.iter().find(|line| line.figure.key == key)
    }
}

/// Compares two routings of a project, or one routing at two operating points.
pub fn compare(project: &Project, a: &Contender<'_>, b: &Contender<'_>) -> Comparison {
    let labels = labels(project, a, b);
    let lines = lines(project, a, b);
    let rows = a.outcome.each_row().zip(b.outcome.each_row()).map(|(a, b)| row(a, b)).collect();
    let items = differences::items(project, a.routing, b.routing);
    let unsolved = [a, b].map(|side| why_no_numbers(side.outcome, side.routing.routing));
    let verdict = verdict::verdict(project, a, b, &labels, &lines);
    let of_one = a.outcome.point.duty == b.outcome.point.duty;
    let duty =
        (of_one && project.duties.are_several()).then(|| project.duty(a.outcome.point.duty).name.clone());
    let verdict = match &duty {
        Some(name) => format!("Duty {name}: {verdict}"),
        None => verdict,
    };
    Comparison { duty, labels, unsolved, lines, rows, items, verdict }
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
        Unit::Count | Unit::Measured(Measure::Distance) => Amount::is(0.0),
        _ => Amount::unknown("–", "it has none"),
    };
    let mut lines: Vec<ComparedFigure> = Vec::new();
    for (mut figure, amount) in figures::figures(project, a, here) {
        if matches!(figure.group, Group::At(Condition::LookedAt, _)) {
            figure.group = Group::At(Condition::LookedAt, heading_looked_at(project, a, b));
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
    lines
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

/// Names of routings; what sets the points apart is added where they differ.
fn labels(project: &Project, a: &Contender<'_>, b: &Contender<'_>) -> [String; 2] {
    let (one, other) = (&a.outcome.point, &b.outcome.point);
    let units = project.units;
    type Part = (Measure, fn(&OperatingPoint) -> f64, &'static str);
    let parts: [Part; 5] = [
        (Measure::Rate, |point| point.rate.si(), ""),
        (Measure::GroundSpeed, |point| point.speed.si(), ""),
        (Measure::Temperature, |point| point.temperature.si(), ""),
        (Measure::Slope, |point| point.side_slope.si(), " side slope"),
        (Measure::Slope, |point| point.fore_aft_slope.si(), " fore-and-aft slope"),
    ];
    let differing: Vec<&Part> = parts.iter().filter(|(_, read, _)| read(one) != read(other)).collect();
    let label = |routing: LaidRouting, point: &OperatingPoint| {
        let mut pieces: Vec<String> = differing
            .iter()
            .map(|(measure, read, what)| format!("{}{what}", measure.short_text(read(point), units)))
            .collect();
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
