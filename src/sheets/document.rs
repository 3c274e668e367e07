//! The document model: what a paper says, as plain data, before anyone knows on which sheet it goes.
//!
//! Numbers are already in the project's units: their text was made by [`Measure`], and a cell keeps the number
//! beside its text, so that a page, a CSV file and a spreadsheet show the same digits. A typesetter lays blocks out
//! in order; it decides fonts, sizes and page breaks and nothing else.

use super::basis::Basis;
use crate::plan::{Duty, LaidRouting, Project, Source, words};
use crate::quantities::{Measure, Quantity, UnitSystem};
use strum::EnumCount;

/// One paper.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    /// What kind of paper it is, in the title block's field for the document type: `Parts list`.
    pub title: String,
    /// What it is about: project and routing.
    pub subject: String,
    /// At the head of every page: what nobody measured; empty where there is nothing.
    pub assumed: String,
    /// At the head of every page: why pressures and flows are no prediction; empty as a rule.
    pub caution: String,
    /// How many errors and warnings are open, and where they are read; a column of its tables in files for other programs.
    /// Empty where none is, and in papers that say each of them.
    pub open: String,
    /// Whether what it is about may be built: `released`, or `not released: ` and why; the last column of its tables in
    /// files for other programs.
    pub release: String,
    /// At the head of every page: why it is not released; empty where it is.
    pub held: String,
    /// Its content, top to bottom.
    pub blocks: Vec<Block>,
    /// How much of it goes into a CSV file.
    pub csv: CsvExtent,
}

/// Which tables of a document its CSV file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CsvExtent {
    /// The first: one table is what other programs read. The others repeat or sum it up.
    #[default]
    FirstTable,
    /// All, each behind an empty line and its caption: none of them holds what another does.
    AllTables,
}

/// A piece of a document.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading; stays with what follows it.
    Heading(String),
    /// Running text.
    Paragraph(String),
    /// Names and values, one pair a line: `Liquid`, `Water`.
    Facts(Vec<(String, String)>),
    /// Numbered steps.
    Steps(Steps),
    /// Something that can hurt people.
    Caution(Caution),
    /// A table.
    Table(PaperTable),
    /// Labels to cut out and stick on.
    Labels(LabelStrip),
}

/// Steps in the order they are done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Steps {
    /// Number of the first: numbers go on over several blocks of one document.
    pub first: usize,
    /// The steps.
    pub steps: Vec<FittingStep>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FittingStep {
    /// What to do.
    pub text: String,
    /// Sub-lines: tags, lengths, counts, tools.
    pub details: Vec<String>,
    /// What to beware of in this step, shown by a sign with the letter of the caution at the head of the paper.
    pub hazards: Vec<Hazard>,
    /// What goes in during this step, by the numbers of the parts list, each number once.
    pub items: Vec<ItemPieces>,
}

/// Pieces of one item of the parts list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ItemPieces {
    /// Its number in the list.
    pub item: usize,
    /// How many: parts, or lengths that are cut.
    pub pieces: usize,
}

/// A danger of the work; its caution stands once, at the head of the fitting steps, under its letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, EnumCount)]
pub enum Hazard {
    /// Wings that fold.
    Folding,
    /// Liquid under pressure.
    Pressure,
    /// What the liquid does to skin and eyes.
    Chemicals,
    /// Folded on the road, and the electrical side.
    Road,
}

impl Hazard {
    /// All, the most serious first.
    pub const ALL: [Self; Self::COUNT] = [Self::Folding, Self::Pressure, Self::Chemicals, Self::Road];

    /// By which papers point to its caution.
    pub const fn letter(self) -> char {
        match self {
            Self::Folding => 'A',
            Self::Pressure => 'B',
            Self::Chemicals => 'C',
            Self::Road => 'D',
        }
    }
}

impl FittingStep {
    /// What goes in, in words: `Takes 3 × item 1 and 12 × item 14`; none where nothing does.
    pub fn items_words(&self) -> Option<String> {
        let pieces: Vec<String> =
            self.items.iter().map(|one| format!("{} × item {}", one.pieces, one.item)).collect();
        (!pieces.is_empty()).then(|| format!("Takes {}", words::list(&pieces)))
    }

    /// Which cautions bite, in words: `Cautions A and B`; none where none does.
    pub fn hazard_words(&self) -> Option<String> {
        let letters: Vec<String> = self.hazards.iter().map(|one| one.letter().to_string()).collect();
        let word = if letters.len() == 1 { "Caution" } else { "Cautions" };
        (!letters.is_empty()).then(|| format!("{word} {}", words::list(&letters)))
    }
}

/// A caution.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// The danger whose letter it bears; none for one that no step points to.
    pub hazard: Option<Hazard>,
    /// How bad it can get.
    pub signal: Signal,
    /// What may happen and how to keep it from happening.
    pub text: String,
}

/// Signal words for danger to people, the most serious first (the order of ISO 11684).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Signal {
    /// Death or serious injury, if not avoided.
    Danger,
    /// Death or serious injury may follow.
    Warning,
    /// Lesser injury may follow.
    Caution,
}

impl Signal {
    /// As printed before the text.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Danger => "DANGER",
            Self::Warning => "WARNING",
            Self::Caution => "CAUTION",
        }
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PaperTable {
    /// What it lists; the sheet's name in a spreadsheet.
    pub caption: String,
    /// Its columns.
    pub columns: Vec<PaperColumn>,
    /// Its lines; each has one cell a column.
    pub rows: Vec<Vec<PaperCell>>,
    /// Words above the rows of one kind, in the order of the rows; on pages only, so that what they say stands in columns
    /// for files.
    pub groups: Vec<RowGroup>,
    /// Lines below a rule: sums. Each has one cell a column.
    pub totals: Vec<Vec<PaperCell>>,
    /// Below the table: what must be known to read it.
    pub notes: Vec<String>,
}

/// Words above the rows of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowGroup {
    /// The place of the row that they stand above.
    pub before: usize,
    /// What these rows have in common.
    pub words: String,
}

/// Where a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Shown {
    /// On pages and in files.
    #[default]
    Everywhere,
    /// On pages: a box to tick.
    OnPages,
    /// In CSV and XLSX: what pages say above the rows of one kind, or on their front.
    InFiles,
    /// The same, and on sheets of a drawing's size where these are wide enough.
    InFilesAndWhereWide,
}

/// A column.
#[derive(Debug, Clone, PartialEq)]
pub struct PaperColumn {
    /// Its heading without the unit.
    pub heading: String,
    /// Unit of its numbers; empty without one.
    pub unit: String,
    /// How its cells stand.
    pub align: Align,
    /// Width relative to the other columns; above 0.
    pub width: f64,
    /// Where it stands.
    pub shown: Shown,
}

/// How the cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words: to the left, broken over lines where they are long.
    Text,
    /// Numbers: to the right, so that equal decimals stand below each other; never broken.
    Number,
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum PaperCell {
    /// Words.
    Text(String),
    /// A number.
    Number {
        /// As printed, without its unit.
        text: String,
        /// The printed number in the column's unit.
        value: f64,
    },
    /// For someone to write into: room and a line.
    FillIn,
    /// A box to tick.
    Tick,
    /// Nothing belongs there.
    Empty,
}

/// Labels for hoses and tubes.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LabelStrip {
    /// What to do with them.
    pub caption: String,
    /// The labels in order.
    pub labels: Vec<Label>,
}

/// One label, wrapped round one end of a hose or tube.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Label {
    /// Large: the tag.
    pub tag: String,
    /// Its number in the cut list.
    pub number: usize,
    /// Where this end goes.
    pub here: String,
    /// Where the other end goes.
    pub there: String,
}

/// What a paper is about: the project by `name`, the routing, and the duty where there are several.
pub(super) fn subject(name: &str, project: &Project, routing: LaidRouting, duty: &Duty) -> String {
    let routing = format!("{name}, routing {}", routing.name);
    if project.duties.are_several() { format!("{routing}, duty {}", duty.name) } else { routing }
}

/// Which duties the bar has beside the one a paper is of, with their liquids; none where there are no others.
fn other_duties(project: &Project, duty: &Duty) -> Option<String> {
    let others: Vec<String> = project
        .duties
        .iter()
        .filter(|other| other.id != duty.id)
        .map(|other| {
            let rate = Measure::Rate.short_text(other.rate.si(), project.units);
            match other.liquid.name.trim() {
                "" => format!("{} ({rate})", other.name),
                liquid => format!("{} ({liquid}, {rate})", other.name),
            }
        })
        .collect();
    (!others.is_empty()).then(|| {
        format!("This paper is of duty {}; the bar also works for {}.", duty.name, words::list(&others))
    })
}

/// Which properties of the liquid nobody measured, and from which test the others are.
fn not_measured(duty: &Duty, units: UnitSystem) -> String {
    let sources = [("density", &duty.liquid.density_source), ("viscosity", &duty.liquid.viscosity_source)];
    let assumed: Vec<String> =
        sources.iter().filter(|one| *one.1 == Source::Assumed).map(|one| one.0.to_owned()).collect();
    let mut all = Vec::new();
    if !assumed.is_empty() {
        all.push(format!("Assumed, not measured: {} of the liquid", words::list(&assumed)));
    }
    for (name, source) in sources {
        if let Source::Calibrated(by) = source {
            all.push(format!("{} of the liquid {}", words::capital(name), by.words_with_interval(units)));
        }
    }
    all.join("; ")
}

impl Document {
    /// An empty paper about a routing of a project and one of its duties.
    pub fn new(title: &str, basis: &Basis) -> Self {
        let (project, routing, duty) = (basis.project, basis.routing, basis.duty);
        let release = basis.release();
        let name = Some(project.title.title.trim()).filter(|name| !name.is_empty()).unwrap_or("Untitled bar");
        Self {
            title: title.to_owned(),
            subject: subject(name, project, routing, duty),
            assumed: not_measured(duty, project.units),
            caution: duty
                .liquid
                .caution()
                .map_or_else(String::new, |caution| words::capital(caution.sentence())),
            open: String::new(),
            release: release.words(project.units),
            held: release.warning(project.units).unwrap_or_default(),
            blocks: other_duties(project, duty).map(Block::Paragraph).into_iter().collect(),
            csv: CsvExtent::default(),
        }
    }

    /// Every table, in order.
    pub fn tables(&self) -> impl Iterator<Item = &PaperTable> {
        self.blocks
            .iter()
            .filter_map(|block| if let Block::Table(table) = block { Some(table) } else { None })
    }
}

impl PaperTable {
    /// Someone writes in it or ticks it off.
    pub fn is_filled_in(&self) -> bool {
        self.rows.iter().flatten().any(|cell| matches!(cell, PaperCell::FillIn | PaperCell::Tick))
    }

    /// As it stands on pages.
    #[must_use]
    pub fn on_pages(&self) -> Self {
        self.without(&[Shown::InFiles, Shown::InFilesAndWhereWide])
    }

    /// As it stands on the widest pages.
    #[must_use]
    pub fn on_wide_pages(&self) -> Self {
        self.without(&[Shown::InFiles])
    }

    /// As it stands in CSV and XLSX.
    #[must_use]
    pub fn in_files(&self) -> Self {
        Self { groups: Vec::new(), ..self.without(&[Shown::OnPages]) }
    }

    fn without(&self, others: &[Shown]) -> Self {
        let stays: Vec<bool> = self.columns.iter().map(|column| !others.contains(&column.shown)).collect();
        fn kept<T: Clone>(all: &[T], stays: &[bool]) -> Vec<T> {
            all.iter().zip(stays).filter(|(_, stays)| **stays).map(|(one, _)| one.clone()).collect()
        }
        let lines = |lines: &[Vec<PaperCell>]| lines.iter().map(|line| kept(line, &stays)).collect();
        Self {
            caption: self.caption.clone(),
            columns: kept(&self.columns, &stays),
            rows: lines(&self.rows),
            groups: self.groups.clone(),
            totals: lines(&self.totals),
            notes: self.notes.clone(),
        }
    }
}

impl PaperColumn {
    /// A column of words.
    pub fn text(heading: impl Into<String>, width: f64) -> Self {
        Self {
            heading: heading.into(),
            unit: String::new(),
            align: Align::Text,
            width,
            shown: Shown::default(),
        }
    }

    /// A column of plain numbers.
    pub fn count(heading: impl Into<String>, width: f64) -> Self {
        Self {
            heading: heading.into(),
            unit: String::new(),
            align: Align::Number,
            width,
            shown: Shown::default(),
        }
    }

    /// A column of numbers in the unit of a measure.
    pub fn measure(heading: impl Into<String>, measure: Measure, units: UnitSystem, width: f64) -> Self {
        let unit = measure.unit(units).symbol.to_owned();
        Self { heading: heading.into(), unit, align: Align::Number, width, shown: Shown::default() }
    }

    /// The same column in one place only.
    #[must_use]
    pub fn only(self, shown: Shown) -> Self {
        Self { shown, ..self }
    }

    /// Heading with unit: `Cut length (m)`.
    pub fn heading_with_unit(&self) -> String {
        if self.unit.is_empty() { self.heading.clone() } else { format!("{} ({})", self.heading, self.unit) }
    }
}

impl PaperCell {
    /// Words; empty words are an empty cell.
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.is_empty() { Self::Empty } else { Self::Text(text) }
    }

    /// A count.
    pub fn count(count: usize) -> Self {
        Self::Number { text: count.to_string(), value: count as f64 }
    }

    /// A quantity, rounded as its measure is shown; empty where it is not known.
    pub fn measure<Q: Quantity>(measure: Measure, value: Option<Q>, units: UnitSystem) -> Self {
        let Some(stored) = value.map(Quantity::si).filter(|stored| stored.is_finite()) else {
            return Self::Empty;
        };
        let text = measure.number(stored, units);
        // Read back from the text, so that both hold the same digits.
        let value = text.replace('−', "-").parse().unwrap_or(f64::NAN);
        Self::Number { text, value }
    }

    /// As printed.
    pub fn printed(&self) -> &str {
        match self {
            Self::Text(text) | Self::Number { text, .. } => text,
            Self::FillIn | Self::Tick | Self::Empty => "",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantities::{Length, Pressure};

    #[test]
    fn a_cell_prints_and_holds_the_same_digits() {
        let metric = UnitSystem::Metric;
        for (stored, printed) in [(1.23456, "1.23"), (-0.001, "0.00"), (-2.5, "−2.50"), (0.0, "0.00")] {
            let cell = PaperCell::measure(Measure::Distance, Some(Length::metres(stored)), metric);
            let PaperCell::Number { text, value } = cell else { panic!("{cell:?}") };
            assert_eq!(text, printed);
            assert_eq!(text.replace('−', "-").parse::<f64>().unwrap(), value);
            assert!(value != 0.0 || value.is_sign_positive());
        }
        assert_eq!(PaperCell::measure(Measure::Pressure, None::<Pressure>, metric), PaperCell::Empty);
    }

    #[test]
    fn a_heading_names_its_unit() {
        let column = PaperColumn::measure("Cut length", Measure::Distance, UnitSystem::UsCustomary, 1.0);
        assert_eq!(column.heading_with_unit(), "Cut length (ft)");
        assert_eq!(PaperColumn::text("Remarks", 1.0).heading_with_unit(), "Remarks");
    }
}
