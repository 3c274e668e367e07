//! Documents for spreadsheets and order systems: CSV and XLSX. Same document, same bytes.
//!
//! Numbers are numbers, with the digits of the paper and the unit in the heading. A CSV file holds one table and
//! nothing else, the first of the document, in UTF-8 with a mark at its start (spreadsheets would otherwise misread
//! µ and Ø) and lines after RFC 4180. An XLSX file holds every table on a sheet of its own, and on the last sheet
//! what else the paper says, cautions first.

use std::collections::BTreeSet;
use std::fmt;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet};
use strum::EnumCount;

use crate::plan::letters::on_lines;
use crate::plan::words::no_formula;

use super::document::{Align, Block, Caution, CsvExtent, Document, PaperCell, PaperTable};

/// A document can't be put into a file of this kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpreadsheetError(String);

impl fmt::Display for SpreadsheetError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}; shorten the list or write it as CSV", self.0)
    }
}

impl std::error::Error for SpreadsheetError {}

/// What a file of a list is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, EnumCount)]
pub enum ListFormat {
    /// The first table, comma-separated.
    Csv,
    /// Every table on a sheet of its own, with notes and cautions.
    Xlsx,
}

impl ListFormat {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [Self::Csv, Self::Xlsx];

    /// How such a file's name ends.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Xlsx => "xlsx",
        }
    }

    /// By the ending of a file's name, whatever its case.
    pub fn by_ending(ending: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.ending().eq_ignore_ascii_case(ending))
    }

    /// The file of a document.
    pub fn bytes(self, document: &Document, author: &str) -> Result<Vec<u8>, SpreadsheetError> {
        match self {
            Self::Csv => csv(document),
            Self::Xlsx => xlsx(document, author),
        }
    }
}

/// What pages say at their head or in their title block, as the last columns of every table, each with its heading: what
/// nobody measured where there is such, what the checks have against it, and whether what is listed may be built.
fn closing(document: &Document) -> Vec<(&'static str, &str)> {
    let all = [
        ("Assumed", document.assumed.as_str()),
        ("Caution", document.caution.as_str()),
        ("Open findings", document.open.as_str()),
        ("Release", document.release.as_str()),
    ];
    all.into_iter().filter(|(_, words)| !words.is_empty()).collect()
}

fn failed(error: impl fmt::Display) -> SpreadsheetError {
    SpreadsheetError(error.to_string())
}

/// The tables of a document as CSV, as many as [`CsvExtent`] says, several with their notes below each; a document without a table gives a file without
/// lines.
pub fn csv(document: &Document) -> Result<Vec<u8>, SpreadsheetError> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .flexible(true)
        .from_writer("\u{feff}".as_bytes().to_vec());
    let most = match document.csv {
        CsvExtent::FirstTable => 1,
        CsvExtent::AllTables => usize::MAX,
    };
    for (number, table) in document.tables().take(most).map(PaperTable::in_files).enumerate() {
        if number > 0 {
            writer.write_record([""]).map_err(failed)?;
            writer.write_record([plain(&PaperCell::text(&table.caption))]).map_err(failed)?;
        }
        let closing = closing(document);
        let headings = table.columns.iter().map(super::document::PaperColumn::heading_with_unit);
        let own = closing.iter().map(|one| one.0.to_owned());
        writer.write_record(headings.chain(own)).map_err(failed)?;
        for row in table.rows.iter().chain(&table.totals) {
            let own = closing.iter().map(|one| plain(&PaperCell::text(one.1)));
            writer.write_record(row.iter().map(plain).chain(own)).map_err(failed)?;
        }
        // Where several tables are for a reader; one alone is for a program, to which these would be rows.
        if document.csv == CsvExtent::AllTables {
            for note in &table.notes {
                writer.write_record([plain(&PaperCell::text(note))]).map_err(failed)?;
            }
        }
    }
    writer.into_inner().map_err(failed)
}

/// A cell for a program to read: a minus sign that it knows, no words that a spreadsheet would run, and no letters that
/// can't be seen.
fn plain(cell: &PaperCell) -> String {
    match cell {
        PaperCell::Number { text, .. } => text.replace('−', "-"),
        PaperCell::Text(text) => on_lines(&no_formula(text)).into_owned(),
        PaperCell::FillIn | PaperCell::Tick | PaperCell::Empty => String::new(),
    }
}

/// Longest text of a cell, characters: the format allows 32 767.
const LONGEST_TEXT: usize = 32_000;

/// A document as XLSX. The author goes into the file's properties; the date there is fixed, since a file of the same
/// project must have the same bytes.
pub fn xlsx(document: &Document, author: &str) -> Result<Vec<u8>, SpreadsheetError> {
    let mut book = Workbook::new();
    let date = ExcelDateTime::from_ymd(2000, 1, 1).map_err(failed)?;
    let properties = DocProperties::new()
        .set_title(cut(&format!("{}: {}", document.title, document.subject), 250))
        .set_author(cut(author, 250))
        .set_creation_datetime(&date);
    book.set_properties(&properties);
    let mut names = BTreeSet::new();
    for table in document.tables() {
        let sheet = book.add_worksheet();
        sheet.set_name(sheet_name(&table.caption, &mut names)).map_err(failed)?;
        write_table(sheet, &table.in_files(), &closing(document)).map_err(failed)?;
    }
    let sheet = book.add_worksheet();
    sheet.set_name(sheet_name("Notes and cautions", &mut names)).map_err(failed)?;
    write_words(sheet, document).map_err(failed)?;
    book.save_to_buffer().map_err(failed)
}

/// A caption as a sheet's name: at most 31 characters, none of those the format forbids, each name once.
fn sheet_name(caption: &str, taken: &mut BTreeSet<String>) -> String {
    let allowed = |c: char| if "[]:*?/\\'".contains(c) || c.is_control() { ' ' } else { c };
    let clean: String = caption.chars().map(allowed).collect();
    let clean = Some(clean.trim()).filter(|clean| !clean.is_empty()).unwrap_or("List");
    // Sheets whose names differ in their case alone count as one.
    let mut name = cut(clean, 31);
    let mut number = 2;
    while !taken.insert(name.to_lowercase()) {
        name = format!("{} {number}", cut(clean, 27));
        number += 1;
    }
    name
}

/// A text for a cell or a property, without letters that XML forbids or that can't be seen.
fn cut(text: &str, longest: usize) -> String {
    let text = &*on_lines(text);
    if text.encode_utf16().count() <= longest {
        return text.to_owned();
    }
    let mut units = 1; // the ellipsis
    let fits = |c: &char| {
        units += c.len_utf16();
        units <= longest
    };
    let mut short: String = text.chars().take_while(fits).collect();
    short.push('…');
    short
}

fn write_table(
    sheet: &mut Worksheet,
    table: &PaperTable,
    closing: &[(&str, &str)],
) -> Result<(), rust_xlsxwriter::XlsxError> {
    let heading = Format::new().set_bold().set_text_wrap().set_border_bottom(FormatBorder::Thin);
    let widest: f64 = table.columns.iter().map(|column| column.width).sum();
    for (at, column) in (0u16..).zip(&table.columns) {
        let align = match column.align {
            Align::Text => FormatAlign::Left,
            Align::Number => FormatAlign::Right,
        };
        sheet.write_string_with_format(
            0,
            at,
            column.heading_with_unit(),
            &heading.clone().set_align(align),
        )?;
        // Together as wide as a landscape page shows, in characters.
        sheet.set_column_width(at, (column.width / widest * 150.0).clamp(8.0, 60.0))?;
    }
    let behind = u16::try_from(table.columns.len()).unwrap_or(u16::MAX);
    let closing = || (behind..).zip(closing);
    for (at, (name, _)) in closing() {
        sheet.write_string_with_format(0, at, *name, &heading)?;
        sheet.set_column_width(at, 30.0)?;
    }
    let total = Format::new().set_bold().set_border_top(FormatBorder::Thin);
    let lines = table.rows.iter().map(|row| (row, Format::new()));
    let totals = table.totals.iter().map(|row| (row, total.clone()));
    for (line, (row, format)) in (1u32..).zip(lines.chain(totals)) {
        for (at, cell) in (0u16..).zip(row) {
            let format = format.clone().set_align(FormatAlign::Top);
            match cell {
                PaperCell::Text(text) => {
                    sheet.write_string_with_format(
                        line,
                        at,
                        cut(text, LONGEST_TEXT),
                        &format.set_text_wrap(),
                    )?;
                }
                PaperCell::Number { text, value } => {
                    let decimals = text.split_once('.').map_or(0, |(_, behind)| behind.len());
                    let shown =
                        if decimals == 0 { "0".to_owned() } else { format!("0.{}", "0".repeat(decimals)) };
                    sheet.write_number_with_format(line, at, *value, &format.set_num_format(shown))?;
                }
                PaperCell::FillIn => {
                    sheet.write_blank(line, at, &format.set_border_bottom(FormatBorder::Dotted))?;
                }
                PaperCell::Tick | PaperCell::Empty => {}
            }
        }
        for (at, (_, words)) in closing() {
            sheet.write_string(line, at, cut(words, LONGEST_TEXT))?;
        }
    }
    sheet.set_freeze_panes(1, 0)?;
    sheet.set_repeat_rows(0, 0)?;
    sheet.set_landscape().set_print_fit_to_pages(1, 0);
    Ok(())
}

/// What a document says beside its tables, one line a row.
fn write_words(sheet: &mut Worksheet, document: &Document) -> Result<(), rust_xlsxwriter::XlsxError> {
    let (plain, bold) = (Format::new().set_text_wrap(), Format::new().set_bold().set_text_wrap());
    let mut lines: Vec<(String, bool)> = vec![(format!("{}: {}", document.title, document.subject), true)];
    let caution = |caution: &Caution| {
        let letter = caution.hazard.map_or_else(String::new, |hazard| format!(" {}", hazard.letter()));
        (format!("{}{letter}: {}", caution.signal.word(), caution.text), false)
    };
    for block in &document.blocks {
        match block {
            Block::Heading(text) => lines.push((text.clone(), true)),
            Block::Paragraph(text) => lines.push((text.clone(), false)),
            Block::Facts(facts) => {
                lines.extend(facts.iter().map(|(name, value)| (format!("{name}: {value}"), false)));
            }
            Block::Caution(one) => lines.push(caution(one)),
            Block::Steps(steps) => {
                for (number, step) in (steps.first..).zip(&steps.steps) {
                    lines.push((format!("{number}. {}", step.text), false));
                    lines.extend(step.details.iter().map(|detail| (format!("   {detail}"), false)));
                    let more = [step.items_words(), step.hazard_words()].into_iter().flatten();
                    lines.extend(more.map(|words| (format!("   {words}"), false)));
                }
            }
            Block::Table(table) => {
                if !table.notes.is_empty() {
                    lines.push((table.caption.clone(), true));
                    lines.extend(table.notes.iter().map(|note| (note.clone(), false)));
                }
            }
            Block::Labels(strip) => {
                lines.push((strip.caption.clone(), true));
                lines.extend(strip.labels.iter().map(|label| {
                    (format!("{}: {}, other end {}", label.tag, label.here, label.there), false)
                }));
            }
        }
    }
    sheet.set_column_width(0, 110)?;
    for (row, (text, is_heading)) in (0u32..).zip(lines) {
        let format = if is_heading { &bold } else { &plain };
        sheet.write_string_with_format(row, 0, cut(&text, LONGEST_TEXT), format)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::document::PaperColumn;
    use super::*;

    fn document() -> Document {
        Document {
            title: "List".to_owned(),
            subject: "Bar, routing A".to_owned(),
            assumed: String::new(),
            caution: String::new(),
            open: String::new(),
            release: String::new(),
            held: String::new(),
            csv: CsvExtent::default(),
            blocks: vec![Block::Table(PaperTable {
                caption: "A list".to_owned(),
                columns: vec![PaperColumn::text("Name", 2.0), PaperColumn::count("Number", 1.0)],
                rows: vec![
                    vec![
                        PaperCell::text("a \"quoted\", text\nof two lines"),
                        PaperCell::Number { text: "−1.50".to_owned(), value: -1.5 },
                    ],
                    vec![PaperCell::Empty, PaperCell::FillIn],
                ],
                ..PaperTable::default()
            })],
        }
    }

    #[test]
    fn csv_is_quoted_after_rfc_4180() {
        let text = String::from_utf8(csv(&document()).unwrap()).unwrap();
        assert_eq!(text, "\u{feff}Name,Number\r\n\"a \"\"quoted\"\", text\nof two lines\",-1.50\r\n,\r\n");
        assert_eq!(csv(&Document::default()).unwrap(), "\u{feff}".as_bytes());
    }

    #[test]
    fn what_pages_say_at_their_head_stands_in_the_last_columns() {
        let mut document = document();
        document.assumed = "Assumed, not measured: density".to_owned();
        document.release = "released".to_owned();
        let text = String::from_utf8(csv(&document).unwrap()).unwrap();
        let mut lines = text.lines();
        assert!(lines.next().is_some_and(|line| line.ends_with("Name,Number,Assumed,Release")), "{text}");
        let last = "\"Assumed, not measured: density\",released";
        assert!(
            lines.clone().count() > 1
                && text.matches(last).count() == document.tables().next().unwrap().rows.len()
        );
        assert_ne!(xlsx(&document, "").unwrap(), xlsx(&self::document(), "").unwrap());
    }

    #[test]
    fn all_tables_stand_in_the_csv_of_a_paper_whose_tables_differ() {
        let mut document = document();
        let Block::Table(table) = &mut document.blocks[0] else { panic!() };
        table.notes = vec!["NO CARRIER, under H3".to_owned()];
        document.blocks.push(document.blocks[0].clone());
        assert_eq!(csv(&document).unwrap(), csv(&self::document()).unwrap(), "one alone, without its notes");
        document.csv = CsvExtent::AllTables;
        let text = String::from_utf8(csv(&document).unwrap()).unwrap();
        assert_eq!(text.matches("Name,Number\r\n").count(), 2);
        assert!(text.contains("\r\n\"NO CARRIER, under H3\"\r\n\"\"\r\n"), "{text}");
    }

    /// First signs that start a formula: OWASP, "CSV injection".
    #[test]
    fn words_never_become_a_formula() {
        let mut document = document();
        let Block::Table(table) = &mut document.blocks[0] else { panic!() };
        let number = PaperCell::Number { text: "−1.50".to_owned(), value: -1.5 };
        table.rows = ["=1+1", "+49 30", "-x", "@here", "\tx", "a=b"]
            .map(|words| vec![PaperCell::text(words), number.clone()])
            .to_vec();
        let text = String::from_utf8(csv(&document).unwrap()).unwrap();
        let lines: Vec<&str> = text.lines().skip(1).collect();
        assert_eq!(
            lines,
            ["'=1+1,-1.50", "'+49 30,-1.50", "'-x,-1.50", "'@here,-1.50", "' x,-1.50", "a=b,-1.50"]
        );
    }

    #[test]
    fn the_same_document_gives_the_same_bytes() {
        let bytes = xlsx(&document(), "nobody").unwrap();
        assert!(bytes.starts_with(b"PK"));
        assert_eq!(bytes, xlsx(&document(), "nobody").unwrap());
    }

    #[test]
    fn odd_captions_and_long_texts_are_taken() {
        let mut document = document();
        let Block::Table(table) = &mut document.blocks[0] else { panic!() };
        table.caption = "[x]: a/b ".repeat(9);
        table.rows[0][0] = PaperCell::text("\u{1f33e}\u{0}".repeat(40_000));
        let second = document.blocks[0].clone();
        document.blocks.push(second);
        assert!(xlsx(&document, &"long ".repeat(500)).is_ok());
        let mut names = BTreeSet::new();
        let list: Vec<String> = ["A/B", "a b", ""].iter().map(|one| sheet_name(one, &mut names)).collect();
        assert_eq!(list, ["A B", "a b 2", "List"]);
    }
}
