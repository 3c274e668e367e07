//! The set of sheets of one routing: which there are, in which order, numbered as a whole.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::basis::Basis;
use super::date::Date;
use super::document::{Block, Document, PaperCell, PaperColumn, PaperTable, subject};
use super::error::SheetError;
use super::extras::by_place;
use super::font::{Face, Fonts, font};
use super::pdf::FileDescription;
use super::typeset::typeset;
use super::{
    behaviour, catch_test, commissioning, cut_list, fitting_steps, hinge_crossings, joint_list, parts_list,
};
use crate::drawing::crossing_picture::crossing_pages;
use crate::drawing::crossing_table::crossing_table;
use crate::drawing::customer_sheet::customer_sheet;
use crate::drawing::folded_sheet::folded_sheet;
use crate::drawing::layout_sheet::{layout_sheet, needs_row_table, sheets_of};
use crate::drawing::layout_tables::row_table;
use crate::drawing::paper::{MarkKind, Page, PageDraft};
use crate::drawing::sheet_frame::{
    Paper, TitleFields, border, continued_frame, footer_line, frame, title_block,
};
use crate::drawing::sheet_source::SheetSource;
use crate::plan::{Duty, DutyId, EntryKey, LaidRouting, Project, RoutingId, Source, TitleBlock};
use crate::quantities::Measure;
use strum::EnumCount;

/// A kind of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum SheetKind {
    /// To scale: the bar, and each section.
    Layout,
    /// Where hoses and tubes are clamped at hinges, and the folded bar to scale.
    Hinges,
    /// Not to scale: what is connected with what.
    Schematic,
    /// What to order.
    Parts,
    /// Hoses and tubes to cut, and their labels.
    Cuts,
    /// How to fit it.
    Steps,
    /// What to expect and to write down.
    Commissioning,
    /// What was caught, and what that says.
    CatchTest,
    /// What the bar does at other speeds, in other conditions, built of real parts.
    Behaviour,
    /// One page for the customer: the bar, what it is made of and what to expect of it.
    Customer,
}

impl SheetKind {
    /// All, in the order they are bound.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Layout,
        Self::Hinges,
        Self::Schematic,
        Self::Parts,
        Self::Cuts,
        Self::Steps,
        Self::Commissioning,
        Self::CatchTest,
        Self::Behaviour,
        Self::Customer,
    ];

    /// What is built from, which is what is printed unless somebody chooses: the customer's page goes to somebody else, and
    /// how the bar behaves is for whoever sets it up, and a catch test comes after. Hinges are left out where the bar has none (see [`sheet_set_of`]).
    pub const TO_BUILD_FROM: [Self; 7] = [
        Self::Layout,
        Self::Hinges,
        Self::Schematic,
        Self::Parts,
        Self::Cuts,
        Self::Steps,
        Self::Commissioning,
    ];

    /// As it is asked for.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Layout => "layout",
            Self::Hinges => "hinges",
            Self::Schematic => "schematic",
            Self::Parts => "parts",
            Self::Cuts => "cuts",
            Self::Steps => "steps",
            Self::Commissioning => "commissioning",
            Self::CatchTest => "catch-test",
            Self::Behaviour => "behaviour",
            Self::Customer => "customer",
        }
    }

    /// As people read it.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Layout => "Layout",
            Self::Hinges => "Hinge crossings and folded bar",
            Self::Schematic => "Schematic",
            Self::Parts => "Parts list",
            Self::Cuts => "Cut list and labels",
            Self::Steps => "Fitting steps",
            Self::Commissioning => "Commissioning sheet",
            Self::CatchTest => "Catch test",
            Self::Behaviour => "How the bar behaves",
            Self::Customer => "Customer sheet",
        }
    }

    /// There is something to print: sheets of hinges of a bar that has some, of catch tests where one is kept, the others always.
    pub fn is_there(self, project: &Project, routing: RoutingId, duty: DutyId) -> bool {
        match self {
            Self::Hinges => has_hinges(project),
            Self::CatchTest => catch_test::has_paper(project, routing, duty),
            _ => true,
        }
    }

    /// By its name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name.trim().to_lowercase())
    }
}

impl fmt::Display for SheetKind {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.name())
    }
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetOptions {
    /// The kinds of sheets; they come in the order of [`SheetKind::ALL`] whatever the order here.
    pub kinds: Vec<SheetKind>,
    /// Paper of drawings; lists come on A4, or on US Letter where that goes with it.
    pub paper: Paper,
    /// 50 for 1:50; the largest that fits where nothing is asked.
    pub scale: Option<f64>,
    /// Flows and pressures at the usual speed are noted in the drawings.
    pub flows: bool,
    /// Date of issue.
    pub date: Date,
    /// The duty they are of; the project's first where it has no such.
    pub duty: DutyId,
    /// What letters are set in.
    pub fonts: Fonts,
}

impl SheetOptions {
    /// What is built from, on the paper that is usual for the project's units.
    pub fn all(project: &Project, date: Date) -> Self {
        let paper = Paper::usual(project.units);
        Self {
            kinds: SheetKind::TO_BUILD_FROM.to_vec(),
            paper,
            scale: None,
            flows: false,
            date,
            duty: project.duties.first().id,
            fonts: Fonts::default(),
        }
    }
}

/// Pages ready to be written.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SheetSet {
    /// In order, numbered.
    pub pages: Vec<Page>,
    /// What kind of paper each page belongs to.
    pub kinds: Vec<SheetKind>,
    /// What a file of them says of itself.
    pub about: FileDescription,
    /// What had to be cut short or set in fonts that are not ours, and why it is not released, in words for people.
    pub warnings: Vec<String>,
    /// What letters are set in.
    pub fonts: Fonts,
}

/// A page with what its title block needs.
struct Unnumbered<'a> {
    kind: SheetKind,
    draft: PageDraft<'a>,
    document_type: String,
    subject: String,
    form: SheetForm,
}

/// How a sheet is made.
#[derive(Clone, Copy, PartialEq, Eq)]
enum SheetForm {
    /// Drawn.
    Drawing,
    /// A further sheet of a drawing.
    ContinuedDrawing,
    /// The first sheet of words and tables.
    List,
    /// A further sheet of them.
    Continuation,
}

/// Draws the sheets of a routing.
pub fn sheet_set(
    project: &Project,
    routing: LaidRouting,
    options: &SheetOptions,
) -> Result<SheetSet, SheetError> {
    sheet_set_of(&Basis::new(project, routing, project.duty(options.duty)), options)
}

/// The same, from what other papers may have worked out already, of the duty they are of. Of a bar without hinges the sheets
/// of hinges are left out, unless nothing else is asked for: then they say so.
pub fn sheet_set_of(basis: &Basis, options: &SheetOptions) -> Result<SheetSet, SheetError> {
    let (project, routing) = (basis.project, basis.routing);
    let items: BTreeMap<EntryKey, usize> =
        basis.items().iter().map(|item| (item.entry.clone(), item.number)).collect();
    let outcome = options.flows.then(|| basis.usual()).flatten().filter(|outcome| outcome.result.is_ok());
    let mut warnings = Vec::new();
    if options.flows && outcome.is_none() {
        warnings.push("flows and pressures: the routing can't be solved, so none are noted".to_owned());
    }
    let beside = by_place(basis.extras());
    let source = SheetSource {
        project,
        routing,
        outcome,
        units: project.units,
        items: &items,
        beside: &beside,
        size: options.paper.lying(),
        letters: &options.fonts,
    };
    let list_size = options.paper.for_lists();
    let of_duty =
        if project.duties.are_several() { format!(", duty {}", basis.duty.name) } else { String::new() };
    let of_routing = format!("Routing {}{of_duty}", routing.name);
    let mut pages: Vec<Unnumbered> = Vec::new();
    for kind in SheetKind::ALL.into_iter().filter(|kind| options.kinds.contains(kind)) {
        let first = pages.len() + 1;
        match kind {
            _ if options.kinds.len() > 1 && !kind.is_there(project, routing.routing.id, basis.duty.id) => {}
            SheetKind::Hinges => {
                let (table, drawn) = hinge_crossings::on_sheets(basis);
                let mut push = |draft, document_type: &str, form| {
                    let (subject, document_type) = (of_routing.clone(), document_type.to_owned());
                    pages.push(Unnumbered { kind, draft, document_type, subject, form });
                };
                let (mut tables, free) = crossing_table(&source, &table);
                let beside = tables.last_mut().map(|draft| (draft, &free));
                let pictures = crossing_pages(&source, &drawn, beside);
                for draft in tables {
                    push(draft, "Hinge crossings", SheetForm::Drawing);
                }
                for draft in pictures {
                    push(draft, "Hinge crossing", SheetForm::ContinuedDrawing);
                }
                push(folded_sheet(&source), "Folded bar", SheetForm::Drawing);
            }
            SheetKind::Layout => {
                let sheets = sheets_of(&source, options.scale);
                for (index, sheet) in sheets.iter().enumerate() {
                    let draft = layout_sheet(&source, &sheets, index, first);
                    let subject = format!("{}; {of_routing}", sheet.name);
                    let document_type = "Layout".to_owned();
                    let form = if sheet.continues { SheetForm::ContinuedDrawing } else { SheetForm::Drawing };
                    pages.push(Unnumbered { kind, draft, document_type, subject, form });
                }
                // What the drawings have no room for; they name its first sheet.
                let table = needs_row_table(&source, &sheets).then(|| row_figures(&source, basis));
                for (draft, form) in list_sheets(table.as_slice(), list_size, &options.fonts) {
                    let subject = format!("rows in figures; {of_routing}");
                    let document_type = "Layout".to_owned();
                    pages.push(Unnumbered { kind, draft, document_type, subject, form });
                }
            }
            SheetKind::Schematic => {
                for draft in crate::drawing::schematic::schematic(&source, first) {
                    let subject = format!("{}; {of_routing}", draft.page.name);
                    let document_type = "Schematic".to_owned();
                    pages.push(Unnumbered { kind, draft, document_type, subject, form: SheetForm::Drawing });
                }
            }
            SheetKind::Customer => {
                let draft = customer_sheet(&source, &super::customer::facts(basis));
                let subject = of_routing.clone();
                let document_type = kind.label().to_owned();
                pages.push(Unnumbered { kind, draft, document_type, subject, form: SheetForm::Drawing });
            }
            SheetKind::CatchTest => {
                for paper in catch_test::from_basis(basis) {
                    let subject = paper.of.unwrap_or_else(|| of_routing.clone());
                    for (draft, form) in list_sheets(&[paper.document], list_size, &options.fonts) {
                        let document_type = draft.page.name.clone();
                        pages.push(Unnumbered { kind, draft, document_type, subject: subject.clone(), form });
                    }
                }
            }
            _ => {
                for (draft, form) in list_sheets(&documents(kind, basis), list_size, &options.fonts) {
                    let document_type = draft.page.name.clone();
                    pages.push(Unnumbered { kind, draft, document_type, subject: of_routing.clone(), form });
                }
            }
        }
    }
    let many = pages.len();
    let block = TitleBlock { number: project.document_number(&routing), ..project.title.clone() };
    let date = options.date.to_string();
    let made_for = made_for(project, basis.duty);
    let held = basis.release().warning(project.units).unwrap_or_default();
    warnings.extend(basis.release().warning(project.units));
    let mut set = SheetSet { warnings, ..SheetSet::default() };
    for (index, page) in pages.into_iter().enumerate() {
        let Unnumbered { kind, mut draft, document_type, subject, form } = page;
        let scale = match (&draft.page.view, form) {
            (Some(view), _) => view.text(),
            (None, SheetForm::Drawing | SheetForm::ContinuedDrawing) => "not to scale".to_owned(),
            (None, SheetForm::List | SheetForm::Continuation) => "–".to_owned(),
        };
        let sheet = (index + 1, many);
        let fields = TitleFields {
            block: &block,
            kind: document_type,
            subject,
            date: &date,
            scale,
            sheet,
            made_for: &made_for,
            // The customer's sheet says why in a box of its own.
            held: if kind == SheetKind::Customer && !basis.release().is_released() { "" } else { &held },
        };
        match form {
            SheetForm::Drawing => frame(&mut draft, &fields, project.units),
            SheetForm::ContinuedDrawing => continued_frame(&mut draft, &fields, project.units),
            SheetForm::List => {
                border(&mut draft);
                title_block(&mut draft, &fields);
            }
            SheetForm::Continuation => {
                border(&mut draft);
                footer_line(&mut draft, &fields);
            }
        }
        for (place, words) in std::mem::take(&mut draft.cut) {
            let many = words.chars().count();
            let warning = format!("{place}: its {many} characters do not fit their place and are cut short");
            if !set.warnings.contains(&warning) {
                set.warnings.push(warning);
            }
        }
        writable(&draft.page, &options.fonts)?;
        set.pages.push(draft.page);
        set.kinds.push(kind);
    }
    set.fonts = options.fonts.clone();
    set.warnings.extend(borrowed(&set.pages, &set.fonts));
    let title = if project.title.title.is_empty() { "Untitled bar" } else { &project.title.title };
    set.about = FileDescription {
        title: subject(title, project, routing, basis.duty),
        author: project.title.creator.clone(),
        date: options.date,
    };
    Ok(set)
}

/// A section of its bar hangs on a hinge.
fn has_hinges(project: &Project) -> bool {
    project.bar.sections.iter().any(|section| section.hinge.is_some())
}

/// Documents that belong together as sheets: the first with a title block, the others with a line in its place.
fn list_sheets<'a>(
    documents: &[Document],
    size: (f64, f64),
    fonts: &'a Fonts,
) -> Vec<(PageDraft<'a>, SheetForm)> {
    if documents.is_empty() {
        return Vec::new();
    }
    let forms = std::iter::once(SheetForm::List).chain(std::iter::repeat(SheetForm::Continuation));
    typeset(documents, size, fonts).into_iter().zip(forms).collect()
}

/// The liquid and what is asked of the bar, with what nobody measured marked.
fn made_for(project: &Project, duty: &Duty) -> String {
    let (liquid, units) = (&duty.liquid, project.units);
    let marked = |source: &Source| source.mark(units).map_or_else(String::new, |mark| format!(" ({mark})"));
    let asked = format!(
        "{} at {}",
        Measure::Rate.short_text(duty.rate.si(), units),
        Measure::GroundSpeed.short_text(duty.usual.si(), units)
    );
    let caution = liquid.caution().map_or_else(String::new, |caution| format!(" ({})", caution.short()));
    let made_for = match liquid.at(duty.temperature) {
        Some(state) => format!(
            "{}: {}{}, {}{} at {}{caution}; {asked}",
            liquid.name,
            Measure::Density.text(state.density.si(), units),
            marked(&liquid.density_source),
            Measure::Viscosity.text(state.viscosity.si(), units),
            marked(&liquid.viscosity_source),
            Measure::Temperature.short_text(duty.temperature.si(), units)
        ),
        None => asked,
    };
    if project.duties.are_several() { format!("{}: {made_for}", duty.name) } else { made_for }
}

/// The figures of the rows, as a document.
fn row_figures(source: &SheetSource, basis: &Basis) -> Document {
    let mut document = Document::new("Rows in figures", basis);
    let table = row_table(source);
    let columns = table.heading.iter().enumerate().map(|(at, heading)| {
        let longest = table.lines.iter().map(|line| line[at].chars().count()).max().unwrap_or(0);
        let longest_word = heading.split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
        PaperColumn::text(heading.as_str(), longest.max(longest_word) as f64 + 1.0)
    });
    document.blocks.push(Block::Table(PaperTable {
        caption: table.caption.to_owned(),
        columns: columns.collect(),
        rows: table.lines.iter().map(|line| line.iter().map(PaperCell::text).collect()).collect(),
        totals: Vec::new(),
        groups: Vec::new(),
        notes: Some(table.note).filter(|note| !note.is_empty()).into_iter().collect(),
    }));
    document
}

/// The documents of a kind of paper.
fn documents(kind: SheetKind, basis: &Basis) -> Vec<Document> {
    match kind {
        SheetKind::Parts => vec![parts_list::from_basis(basis), joint_list::from_basis(basis)],
        SheetKind::Cuts => vec![cut_list::from_basis(basis), cut_list::labels_from_basis(basis)],
        SheetKind::Steps => vec![fitting_steps::from_basis(basis)],
        SheetKind::Commissioning => vec![commissioning::from_basis(basis)],
        SheetKind::Behaviour => vec![behaviour::from_basis(basis)],
        // Drawings, and papers that are not all of this routing.
        SheetKind::Layout
        | SheetKind::Hinges
        | SheetKind::Schematic
        | SheetKind::CatchTest
        | SheetKind::Customer => Vec::new(),
    }
}

/// Every letter of a page can be printed.
fn writable(page: &Page, fonts: &Fonts) -> Result<(), SheetError> {
    for mark in &page.marks {
        if let MarkKind::Words(words) = &mark.kind
            && let Some(letter) = fonts.unwritable(&words.text, words.bold)
        {
            return Err(SheetError::Unwritable {
                sheet: page.name.clone(),
                words: words.text.clone(),
                letter,
            });
        }
    }
    Ok(())
}

/// Which letters are set in fonts that are not ours: they may look different, or be missing, elsewhere.
fn borrowed(pages: &[Page], fonts: &Fonts) -> Vec<String> {
    if fonts.others().is_empty() {
        return Vec::new();
    }
    let mut letters: BTreeMap<usize, BTreeSet<char>> = BTreeMap::new();
    for mark in pages.iter().flat_map(|page| &page.marks) {
        let MarkKind::Words(words) = &mark.kind else { continue };
        if words.text.is_ascii() {
            continue;
        }
        for piece in fonts.set(&words.text, words.bold) {
            let Face::Other(at) = piece.face else { continue };
            let ranges = piece.glyphs.into_iter().filter_map(|glyph| words.text.get(glyph.range));
            letters.entry(at).or_default().extend(ranges.flat_map(str::chars));
        }
    }
    let warning = |(at, letters): (usize, BTreeSet<char>)| {
        let lacked = || letters.iter().filter(|letter| !font(false).has(**letter));
        let mut shown: String = lacked().take(8).collect();
        if lacked().count() > 8 {
            shown.push('…');
        }
        let family = &fonts.others().get(at)?.family;
        Some(format!(
            "letters that our font lacks ({shown}) are set in this system's font \"{family}\": the same project gives \
             other files on a machine with other fonts"
        ))
    };
    letters.into_iter().filter_map(warning).collect()
}
