//! The figures as text: columns to read or paste, and comma-separated values.

use std::fmt::Write as _;

use super::super::csv_record::record;
use super::figure::{Amount, FigureGroup, FigureUnit};
use super::{ComparedFigure, Comparison, Which, differences};
use crate::hydraulics::outcome::{NotFed, RowState};
use crate::quantities::{Measure, UnitSystem};

/// The sign that stands beside the better value.
pub const BETTER: &str = "*";

/// What the sign says.
pub const WHAT_IS_MARKED: &str = "the better value, where the difference matters: from 0.5 points of CV or DU and 1.5 points of the largest deviation on";

/// The column of differences: second less first with its sign; empty where there is none to read.
pub fn difference_text(line: &ComparedFigure, units: UnitSystem) -> String {
    let Some(difference) = line.shown_difference(units).filter(|_| line.differs()) else {
        return String::new();
    };
    let number = line.figure.unit.number(difference, units);
    let sign = if difference > 0.0 { "+" } else { "" };
    match line.figure.unit.symbol(units) {
        "" => format!("{sign}{number}"),
        // Two percentages differ by points, not by per cent of each other.
        "%" => format!("{sign}{number} points"),
        symbol => format!("{sign}{number} {symbol}"),
    }
}

fn marked(line: &ComparedFigure, which: Which, units: UnitSystem) -> String {
    let amount = if which == Which::A { &line.a } else { &line.b };
    let text = amount.text(line.figure.unit, units);
    if line.better() == Some(which) { format!("{text} {BETTER}") } else { format!("{text}  ") }
}

/// Verdict, all figures in columns, and what differs, as plain text.
pub fn text(comparison: &Comparison, units: UnitSystem) -> String {
    let mut out = format!("{}\n", comparison.verdict);
    let [a, b] = &comparison.labels;
    for (label, why) in comparison.labels.iter().zip(&comparison.unsolved) {
        if let Some(why) = why {
            let _ = writeln!(out, "\nRouting {label} has no flows or pressures: {why}");
        }
    }
    let widths = |read: &dyn Fn(&ComparedFigure) -> String, least: usize| {
        comparison.lines.iter().map(|line| read(line).chars().count()).max().unwrap_or(0).max(least)
    };
    let name = widths(&|line| line.figure.name.clone(), 0) + 2;
    let head = |at: usize| {
        comparison.lines.iter().map(|line| comparison.heads(&line.figure.group)[at].chars().count() + 2).max()
    };
    let wide_a = widths(&|line| marked(line, Which::A, units), head(0).unwrap_or(0));
    let wide_b = widths(&|line| marked(line, Which::B, units), head(1).unwrap_or(0));
    let wide = widths(&|line| difference_text(line, units), 10);
    let mut group: Option<&FigureGroup> = None;
    for line in comparison.lines.iter().filter(|line| line.speaks()) {
        if group != Some(&line.figure.group) {
            group = Some(&line.figure.group);
            let [a, b] = comparison.heads(&line.figure.group);
            let _ = writeln!(
                out,
                "\n{:<name$}  {:>wide_a$}  {:>wide_b$}  {:>wide$}  better is",
                line.figure.group.heading(),
                format!("{a}  "),
                format!("{b}  "),
                "difference",
                name = name + 2
            );
        }
        let _ = writeln!(
            out,
            "  {:<name$}  {:>wide_a$}  {:>wide_b$}  {:>wide$}  {}",
            line.figure.name,
            marked(line, Which::A, units),
            marked(line, Which::B, units),
            difference_text(line, units),
            line.figure.better.word(),
        );
    }
    let _ = writeln!(out, "\n{BETTER} {WHAT_IS_MARKED}\nA difference is {b} less {a}");
    let mut whys: Vec<String> = Vec::new();
    for (label, read) in [(a, (|line| &line.a) as fn(&ComparedFigure) -> &Amount), (b, |line| &line.b)] {
        for line in &comparison.lines {
            if let (Amount::Unknown { why, .. }, FigureUnit::Money) = (read(line), line.figure.unit) {
                let says = format!("{label}, {}: {why}", line.figure.name.to_lowercase());
                whys.push(says);
            }
        }
    }
    for why in whys {
        let _ = writeln!(out, "{why}");
    }
    let items = differences::in_words(&comparison.items);
    if !items.is_empty() {
        let _ = writeln!(out, "\nFrom {a} to {b}");
        for (change, words) in items {
            let _ = writeln!(out, "  {} {words}", comparison.mark(change));
        }
    }
    out
}

/// Every figure and every row as comma-separated values (RFC 4180), numbers with a decimal point in the units shown.
pub fn csv(comparison: &Comparison, units: UnitSystem) -> String {
    let mut out = String::new();
    let [a, b] = &comparison.labels;
    record(
        &mut out,
        &[
            "group",
            "figure",
            "unit",
            &format!("a: {a}"),
            &format!("b: {b}"),
            "b less a",
            "better is",
            "better",
            "note a",
            "note b",
        ],
    );
    if let Some(duty) = &comparison.duty {
        record(&mut out, &["Duty", duty, "", "", "", "", "", "", "", ""]);
    }
    for line in &comparison.lines {
        let unit = line.figure.unit;
        let number = |value: f64| unit.number(value, units).replace('−', "-");
        let cell = |amount: &Amount| match amount {
            Amount::Is { value, .. } => number(*value),
            Amount::Unknown { .. } => String::new(),
        };
        let note = |amount: &Amount| match amount {
            Amount::Is { note, .. } => note.clone(),
            Amount::Unknown { why, .. } => why.clone(),
        };
        let difference = line.shown_difference(units).map(number).unwrap_or_default();
        record(
            &mut out,
            &[
                line.figure.group.heading(),
                &line.figure.name,
                unit.symbol(units),
                &cell(&line.a),
                &cell(&line.b),
                &difference,
                line.figure.better.word(),
                line.better().map_or("", Which::key),
                &note(&line.a),
                &note(&line.b),
            ],
        );
    }
    let percent = |value: Option<crate::quantities::Ratio>| {
        value.map_or_else(String::new, |value| Measure::Percent.number(value.si(), units).replace('−', "-"))
    };
    for row in &comparison.rows {
        record(
            &mut out,
            &[
                "Rows, off target",
                &format!("row {}", row.number),
                "%",
                &percent(row.a),
                &percent(row.b),
                &percent(row.shown_difference()),
                "nearer to 0",
                row.nearer().map_or("", Which::key),
                state_note(row.a_state),
                state_note(row.b_state),
            ],
        );
    }
    out
}

/// Why a row has no number, for a list; empty for one that is fed.
const fn state_note(state: Option<RowState>) -> &'static str {
    match state {
        Some(RowState::Fed) => "",
        Some(RowState::NotFed(NotFed::LeftOut)) => "left out",
        Some(RowState::NotFed(_) | RowState::ValveStaysShut | RowState::Blocked) => "not fed",
        Some(RowState::FlowsBackward) => "flows backwards",
        None => "not solved",
    }
}
