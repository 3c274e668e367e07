//! The one form in which every study is shown: sentences, tables and plots, with what can be carried out from them.
//!
//! Numbers are in the stored unit of their column's measure; window, command line and papers show them in the project's units.

use std::fmt::Write as _;

use super::conditions::Condition;
use super::csv_record::record;
use super::{Studied, Study};
use crate::plan::{ElementKey, FeedId, Metering, RowId, RunId, StockKey};
use crate::quantities::{Measure, UnitSystem};

/// What a study found, ready to be shown.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyReport {
    /// Which.
    pub study: Study,
    /// The answer, most important first: sentences without a full stop.
    pub answer: Vec<String>,
    /// What to know before relying on it: assumed values, regimes that can't be predicted, rows left out.
    pub warnings: Vec<String>,
    /// The numbers.
    pub tables: Vec<StudyTable>,
    /// The pictures.
    pub plots: Vec<StudyPlot>,
}

/// A table of a study.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyTable {
    /// Its heading.
    pub title: String,
    /// The columns.
    pub columns: Vec<StudyColumn>,
    /// The rows, each with as many cells as there are columns.
    pub rows: Vec<StudyRow>,
    /// What stands below it: how it was reckoned, where values come from.
    pub notes: Vec<String>,
    /// How much of it goes on the papers.
    pub on_paper: OnPaper,
}

/// How much of a table goes on the papers, which have room for two pages of all studies together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OnPaper {
    /// Nothing.
    #[default]
    Nothing,
    /// All.
    Whole,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyColumn {
    /// Its heading, without the unit.
    pub name: String,
    /// What its numbers measure; none for a column of words.
    pub measure: Option<Measure>,
    /// It goes on the papers with its table, which have room for some ten columns.
    pub on_paper: bool,
}

impl StudyColumn {
    /// Of words.
    pub fn words(name: impl Into<String>) -> Self {
        Self { name: name.into(), measure: None, on_paper: true }
    }

    /// Of numbers.
    pub fn number(name: impl Into<String>, measure: Measure) -> Self {
        Self { name: name.into(), measure: Some(measure), on_paper: true }
    }

    /// The same, left off the papers.
    #[must_use]
    pub fn off_paper(self) -> Self {
        Self { on_paper: false, ..self }
    }

    /// The heading with its unit.
    pub fn heading(&self, units: UnitSystem) -> String {
        match self.measure.map(|measure| measure.unit(units).symbol) {
            None | Some("") => self.name.clone(),
            Some(symbol) => format!("{}, {symbol}", self.name),
        }
    }
}

/// A line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyRow {
    /// One for each column.
    pub cells: Vec<StudyCell>,
    /// What can be carried out from it.
    pub action: Option<StudyAction>,
    /// The row of the bar it is about.
    pub row: Option<RowId>,
    /// Whether it is the one recommended, or outside its limit.
    pub mark: StudyMark,
    /// It goes on the papers where its table does.
    pub on_paper: bool,
}

impl StudyRow {
    /// A line that is only read.
    pub const fn new(cells: Vec<StudyCell>) -> Self {
        Self { cells, action: None, row: None, mark: StudyMark::None, on_paper: true }
    }
}

/// How a line stands out; shown by words beside any colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum StudyMark {
    /// As any other.
    #[default]
    None,
    /// What is recommended.
    Recommended,
    /// What is there now.
    InUse,
    /// Outside a limit of the project.
    OutsideLimits,
    /// What makes the difference that is asked about.
    Cause,
    /// The last of all.
    Last,
}

impl StudyMark {
    /// The word beside the line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::None => "",
            Self::Recommended => "recommended",
            Self::InUse => "in use",
            Self::OutsideLimits => "outside limits",
            Self::Cause => "makes the difference",
            Self::Last => "last",
        }
    }
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum StudyCell {
    /// Words.
    Words(String),
    /// A number in the stored unit of its column.
    Number(f64),
    /// A number with its sign even where it is above zero.
    Signed(f64),
    /// Not known, with the reason.
    Unknown(String),
    /// Nothing belongs there.
    Empty,
}

impl StudyCell {
    /// As it is read.
    pub fn text(&self, measure: Option<Measure>, units: UnitSystem) -> String {
        let number = |value: f64| measure.unwrap_or(Measure::Plain).number(value, units);
        match self {
            Self::Words(words) => words.clone(),
            Self::Number(value) => number(*value),
            Self::Signed(value) => {
                let text = number(*value);
                let is_zero = text.chars().all(|letter| matches!(letter, '0' | '.' | '-'));
                if *value > 0.0 && !is_zero { format!("+{text}") } else { text }
            }
            Self::Unknown(_) => "?".to_owned(),
            Self::Empty => String::new(),
        }
    }
}

/// What can be carried out from a study; the session does it, as one step.
#[derive(Debug, Clone, PartialEq)]
pub enum StudyAction {
    /// The same metering in all rows, and the check valve that goes with it.
    UseMetering {
        /// The metering.
        metering: Metering,
        /// The check valve; those that are there if none.
        valve: Option<ElementKey>,
    },
    /// Metering row by row, and the check valve that goes with it.
    UseRowMetering {
        /// The metering of each row.
        rows: Vec<(RowId, Metering)>,
        /// The check valve; those that are there if none.
        valve: Option<ElementKey>,
    },
    /// Hoses or tubes from other stock.
    UseStock {
        /// Which.
        lines: Lines,
        /// The stock.
        stock: StockKey,
    },
    /// All of these, one after the other.
    Together(Vec<Self>),
    /// Looks at what flows under another condition; changes no project.
    LookAt(Condition),
}

impl StudyReport {
    /// What carries out all that its tables recommend and that changes the plan; of several sorts of metering, each for a
    /// range of speeds of its own, the first.
    pub fn recommended(&self) -> Vec<StudyAction> {
        let lines = self.tables.iter().flat_map(|table| &table.rows);
        let meant = lines.filter(|line| line.mark == StudyMark::Recommended);
        let all = meant.filter_map(|line| line.action.as_ref()).flat_map(StudyAction::each);
        let mut actions: Vec<StudyAction> = Vec::new();
        for action in all {
            if !actions.contains(action) {
                actions.push(action.clone());
            }
        }
        let mut is_metered = false;
        actions.retain(|action| match action {
            StudyAction::UseStock { .. } => true,
            StudyAction::LookAt(_) | StudyAction::Together(_) => false,
            StudyAction::UseMetering { .. } | StudyAction::UseRowMetering { .. } => {
                !std::mem::replace(&mut is_metered, true)
            }
        });
        actions
    }
}

impl StudyAction {
    /// What it is made of: itself, where it is one thing.
    pub fn each(&self) -> Vec<&Self> {
        match self {
            Self::Together(all) => all.iter().flat_map(Self::each).collect(),
            one => vec![one],
        }
    }

    /// It changes the plan, and can be carried out for some of the rows only.
    pub const fn changes_plan(&self) -> bool {
        !matches!(self, Self::LookAt(_))
    }

    /// The words on its button.
    pub const fn label(&self) -> &'static str {
        match self {
            Self::UseMetering { .. } | Self::UseRowMetering { .. } | Self::Together(_) => "Fit",
            Self::UseStock { .. } => "Use",
            Self::LookAt(_) => "Look at",
        }
    }

    /// What it does.
    pub const fn about(&self) -> &'static str {
        match self {
            Self::UseMetering { .. } => "Fits this metering, and the check valve that goes with it",
            Self::UseRowMetering { .. } => {
                "Fits each row with its own metering, and the check valve that goes with it"
            }
            Self::UseStock { .. } => {
                "Takes this size for these hoses or tubes, with fittings that go into it"
            }
            Self::Together(_) => {
                "Fits these hoses and tubes, and the metering that goes with them, in one step"
            }
            Self::LookAt(_) => "Shows on the drawing what flows then; changes nothing in the project",
        }
    }
}

/// Hoses or delivery tubes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lines {
    /// These hoses.
    Hoses(Vec<RunId>),
    /// The delivery tubes of these row feeds.
    Tubes(Vec<FeedId>),
}

/// A plot of a study.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyPlot {
    /// Its heading.
    pub title: String,
    /// Across.
    pub x: StudyColumn,
    /// Upwards.
    pub y: StudyColumn,
    /// What is drawn.
    pub series: Vec<StudySeries>,
}

/// A line, bars or points of a plot, with its name in the legend.
#[derive(Debug, Clone, PartialEq)]
pub struct StudySeries {
    /// Its name.
    pub name: String,
    /// How it is drawn.
    pub form: SeriesForm,
    /// Places in stored units.
    pub points: Vec<[f64; 2]>,
}

impl StudyPlot {
    /// A plot of the second column over the first.
    pub fn new(
        title: impl Into<String>,
        [x, y]: [StudyColumn; 2],
        series: impl IntoIterator<Item = StudySeries>,
    ) -> Self {
        Self { title: title.into(), x, y, series: series.into_iter().collect() }
    }
}

impl StudySeries {
    /// A series of places in stored units.
    pub fn new(
        name: impl Into<String>,
        form: SeriesForm,
        points: impl IntoIterator<Item = [f64; 2]>,
    ) -> Self {
        Self { name: name.into(), form, points: points.into_iter().collect() }
    }
}

/// How a series is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeriesForm {
    /// Points joined.
    Line,
    /// A bar from zero for each point.
    Bars,
    /// Points alone.
    Points,
}

impl StudyReport {
    /// What a study found; what is to be known of its liquid stands before its own warnings.
    pub fn new(study: Study, of: &Studied, answer: Vec<String>, warnings: Vec<String>) -> Self {
        let warnings = of.liquid_cautions().into_iter().chain(warnings).collect();
        Self { study, answer, warnings, tables: Vec::new(), plots: Vec::new() }
    }

    /// With its numbers.
    #[must_use]
    pub fn with_tables(self, tables: impl IntoIterator<Item = StudyTable>) -> Self {
        Self { tables: tables.into_iter().collect(), ..self }
    }

    /// With its pictures.
    #[must_use]
    pub fn with_plots(self, plots: impl IntoIterator<Item = StudyPlot>) -> Self {
        Self { plots: plots.into_iter().collect(), ..self }
    }

    /// As plain text in columns.
    pub fn text(&self, units: UnitSystem) -> String {
        let mut out = String::new();
        for line in &self.answer {
            let _ = writeln!(out, "{line}");
        }
        for line in &self.warnings {
            let _ = writeln!(out, "warning: {line}");
        }
        for table in &self.tables {
            let _ = writeln!(out, "\n{}", table.title);
            table.text(&mut out, units);
            for note in &table.notes {
                let _ = writeln!(out, "  {note}");
            }
        }
        out
    }

    /// As comma-separated values (RFC 4180): a record `answer,SENTENCE` for each sentence, `warning,SENTENCE` for each
    /// warning; then for each table, after an empty line, a record `table,TITLE`, a record `note,SENTENCE` for each note, one
    /// of headings and the lines. Numbers have a decimal point and ASCII signs, in the units that the headings name.
    pub fn csv(&self, units: UnitSystem) -> String {
        let mut out = String::new();
        let mut said = |kind: &str, sentences: &[String]| {
            for sentence in sentences {
                record(&mut out, &[kind, sentence]);
            }
        };
        said("answer", &self.answer);
        said("warning", &self.warnings);
        for table in &self.tables {
            out.push_str("\r\n");
            record(&mut out, &["table", &table.title]);
            for note in &table.notes {
                record(&mut out, &["note", note]);
            }
            let has_marks = table.has_marks();
            let mut heads: Vec<String> = table.columns.iter().map(|column| column.heading(units)).collect();
            if has_marks {
                heads.push("mark".to_owned());
            }
            record(&mut out, &heads);
            for row in &table.rows {
                let mut cells: Vec<String> = row.texts(&table.columns, units);
                if has_marks {
                    cells.push(row.mark.word().to_owned());
                }
                record(&mut out, &cells);
            }
        }
        // A spreadsheet reads no number behind the minus of typesetting.
        out.replace('\u{2212}', "-")
    }
}

impl StudyRow {
    /// Its cells as they are read.
    pub fn texts(&self, columns: &[StudyColumn], units: UnitSystem) -> Vec<String> {
        self.cells.iter().zip(columns).map(|(cell, column)| cell.text(column.measure, units)).collect()
    }
}

impl StudyTable {
    /// A table without notes that stands on no paper.
    pub fn new(title: impl Into<String>, columns: Vec<StudyColumn>, rows: Vec<StudyRow>) -> Self {
        Self { title: title.into(), columns, rows, notes: Vec::new(), on_paper: OnPaper::Nothing }
    }

    /// With what stands below it.
    #[must_use]
    pub fn with_notes(self, notes: impl IntoIterator<Item = impl Into<String>>) -> Self {
        Self { notes: notes.into_iter().map(Into::into).collect(), ..self }
    }

    /// With so much of it on the papers.
    #[must_use]
    pub fn printed(self, on_paper: OnPaper) -> Self {
        Self { on_paper, ..self }
    }

    /// Some line stands out.
    pub fn has_marks(&self) -> bool {
        self.rows.iter().any(|row| row.mark != StudyMark::None)
    }

    fn text(&self, out: &mut String, units: UnitSystem) {
        let heads: Vec<String> = self.columns.iter().map(|column| column.heading(units)).collect();
        let lines: Vec<Vec<String>> = self.rows.iter().map(|row| row.texts(&self.columns, units)).collect();
        let widths: Vec<usize> = heads
            .iter()
            .enumerate()
            .map(|(at, head)| {
                let cells = lines.iter().filter_map(|line| line.get(at)).map(|cell| cell.chars().count());
                cells.max().unwrap_or(0).max(head.chars().count())
            })
            .collect();
        let mut line = |cells: &[String], mark: &str| {
            let mut text = String::from(" ");
            for ((cell, column), width) in cells.iter().zip(&self.columns).zip(&widths) {
                let _ = match column.measure {
                    Some(_) => write!(text, " {cell:>width$} "),
                    None => write!(text, " {cell:<width$} "),
                };
            }
            let _ = write!(text, " {mark}");
            let _ = writeln!(out, "{}", text.trim_end());
        };
        line(&heads, "");
        for (row, cells) in self.rows.iter().zip(&lines) {
            line(cells, row.mark.word());
        }
    }
}
