//! The table of hinge crossings on sheets of a drawing's size, lettered as drawings are: it is read at the bar.

use super::paper::{Anchor, LARGE, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, WIDE, sized};
use super::scene::Dash;
use super::sheet_frame::drawing_area;
use super::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2};

/// What the table says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CrossingTable {
    /// Its columns.
    pub columns: Vec<CrossingColumn>,
    /// Its lines by the hinge that they cross.
    pub hinges: Vec<HingeLines>,
    /// What must be known to read it, and of single lines.
    pub notes: Vec<String>,
    /// What the columns say that are left out where there is no room for all.
    pub in_their_place: Option<String>,
}

impl CrossingTable {
    /// Without the columns that may be left out.
    fn narrowed(&self) -> Self {
        let stays = |at: usize| self.columns.get(at).is_some_and(|column| !column.needs_room);
        let kept = |line: &Vec<String>| {
            let cells = line.iter().enumerate().filter(|(at, _)| stays(*at));
            cells.map(|(_, cell)| cell.clone()).collect()
        };
        let hinges = self.hinges.iter().map(|hinge| HingeLines {
            words: hinge.words.clone(),
            lines: hinge.lines.iter().map(kept).collect(),
        });
        Self {
            columns: self.columns.iter().filter(|column| !column.needs_room).cloned().collect(),
            hinges: hinges.collect(),
            notes: self.notes.iter().chain(&self.in_their_place).cloned().collect(),
            in_their_place: None,
        }
    }
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CrossingColumn {
    /// With its unit.
    pub heading: String,
    /// Its cells are numbers, which stand to the right and are not broken.
    pub is_number: bool,
    /// It is left out where a sheet is too narrow for all columns.
    pub needs_room: bool,
}

/// The crossings of a hinge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HingeLines {
    /// Which hinge it is.
    pub words: String,
    /// One line a crossing or bundle, each with one cell a column.
    pub lines: Vec<Vec<String>>,
}

/// Between two columns, millimetres.
const GAP: f64 = 1.9;
/// A column is wider than it has to be by so much at most, millimetres.
const MOST_AIR: f64 = 7.0;
/// From one line of words to the next.
const FEED: f64 = USUAL * 1.55;
/// Between two rows.
const ROW_GAP: f64 = 0.8;
/// Caption over the heading.
const CAPTION: f64 = 9.0;

/// What is set, line by line.
enum Set {
    Hinge(String),
    Row(Vec<Vec<String>>),
    Note(String),
}

/// Draws it on as many sheets as it takes, one at least, and says what is left free below it on the last.
pub fn crossing_table<'a>(source: &SheetSource<'a>, table: &CrossingTable) -> (Vec<PageDraft<'a>>, Bounds) {
    let (width, height) = source.size;
    let area = drawing_area(width, height);
    let room = sized(area.min.x + 6.5, area.min.y + 2.0, area.width() - 13.0, area.depth() - 4.0);
    let blank = || PageDraft::new("Hinge crossings", width, height, source.letters);
    let draft = blank();
    let style = Style::plain(PaperLayer::Words, USUAL);
    let narrowed = table.narrowed();
    let table = if spare(&least_widths(&draft, table), room.width()) < 0.0 { &narrowed } else { table };
    let widths = widths(&draft, table, room.width());
    let headings: Vec<Vec<String>> = table
        .columns
        .iter()
        .zip(&widths)
        .map(|(column, width)| draft.wrapped(&column.heading, style, *width))
        .collect();
    let heading = headings.iter().map(Vec::len).max().unwrap_or(0) as f64 * FEED + 1.5;
    let mut all = Vec::new();
    for hinge in &table.hinges {
        all.push(Set::Hinge(hinge.words.clone()));
        for line in &hinge.lines {
            let cells = line.iter().zip(&widths).map(|(cell, width)| draft.wrapped(cell, style, *width));
            all.push(Set::Row(cells.collect()));
        }
    }
    let has_rows = !all.is_empty();
    for note in &table.notes {
        all.extend(draft.wrapped(note, style, room.width()).into_iter().map(Set::Note));
    }
    let depth = |set: &Set| match set {
        Set::Hinge(_) => FEED + 1.3,
        Set::Row(cells) => cells.iter().map(Vec::len).max().unwrap_or(1).max(1) as f64 * FEED + ROW_GAP,
        Set::Note(_) => USUAL * 1.5,
    };
    let mut pages = Vec::new();
    let mut left = all.as_slice();
    loop {
        let mut draft = blank();
        let mut y = room.max.y - CAPTION;
        let caption = if pages.is_empty() { "Hinge crossings" } else { "Hinge crossings, continued" };
        let title = Style::plain(PaperLayer::Words, LARGE).bold();
        draft.words(Point2::new(room.min.x, y + 3.0), caption, title);
        if has_rows && !matches!(left.first(), Some(Set::Note(_))) {
            heads(&mut draft, &room, y, table, &widths, &headings);
            y -= heading;
        }
        let mut took = 0;
        while let Some(set) = left.get(took) {
            // The words of a hinge stay with its first line.
            let with_next =
                if matches!(set, Set::Hinge(_)) { left.get(took + 1).map_or(0.0, depth) } else { 0.0 };
            let is_first_note = matches!(set, Set::Note(_))
                && took.checked_sub(1).is_some_and(|before| !matches!(left[before], Set::Note(_)));
            let apart = if is_first_note { 2.5 } else { 0.0 };
            if y - depth(set) - with_next - apart < room.min.y && took > 0 {
                break;
            }
            y -= apart;
            row(&mut draft, &room, y, set, table, &widths);
            y -= depth(set);
            took += 1;
        }
        left = &left[took..];
        pages.push(draft);
        if left.is_empty() {
            let depth = (y - 3.0 - room.min.y).max(0.0);
            return (pages, sized(room.min.x, room.min.y, room.width(), depth));
        }
    }
}

/// The least and the wanted width of each column: its numbers and the longest word of its heading, and all words of a cell in a line.
fn least_widths(draft: &PageDraft, table: &CrossingTable) -> Vec<(f64, f64)> {
    let style = Style::plain(PaperLayer::Words, USUAL);
    let word =
        |words: &str| words.split_whitespace().map(|word| draft.width_of(word, style)).fold(0.0, f64::max);
    let of = |(at, column): (usize, &CrossingColumn)| {
        let lines = table.hinges.iter().flat_map(|hinge| &hinge.lines);
        let cells = || lines.clone().filter_map(|line| line.get(at)).map(String::as_str);
        let heading = word(&column.heading);
        let whole = cells().map(|cell| draft.width_of(cell, style)).fold(heading, f64::max);
        let broken = cells().map(word).fold(heading, f64::max);
        (0.1 + if column.is_number { whole } else { broken }, 0.1 + whole)
    };
    table.columns.iter().enumerate().map(of).collect()
}

/// What columns with these least widths leave of a room; below 0 where it is too narrow for them.
fn spare(columns: &[(f64, f64)], room: f64) -> f64 {
    let least: f64 = columns.iter().map(|one| one.0).sum();
    room - least - GAP * (columns.len().max(1) - 1) as f64
}

/// Each column as wide as it has to be at least; what is left goes to columns of words, by how much they hold, then to all.
fn widths(draft: &PageDraft, table: &CrossingTable, room: f64) -> Vec<f64> {
    let columns = least_widths(draft, table);
    let spare = spare(&columns, room);
    let (least, wanted): (Vec<f64>, Vec<f64>) = columns.into_iter().unzip();
    let lacks: f64 = wanted.iter().zip(&least).map(|(wanted, least)| wanted - least).sum();
    let share = if lacks > 0.0 { (spare / lacks).clamp(0.0, 1.0) } else { 0.0 };
    // Narrower than its words where the sheet is too narrow for all of them.
    let squeeze = if spare < 0.0 { (1.0 + spare / least.iter().sum::<f64>()).max(0.2) } else { 1.0 };
    // What is left sets the columns apart, so that headings take fewer lines.
    let air = ((spare - lacks) / least.len().max(1) as f64).clamp(0.0, MOST_AIR);
    let wide = |(least, wanted): (&f64, &f64)| (least + (wanted - least) * share) * squeeze + air;
    least.iter().zip(&wanted).map(wide).collect()
}

fn heads(
    draft: &mut PageDraft,
    room: &Bounds,
    top: f64,
    table: &CrossingTable,
    widths: &[f64],
    headings: &[Vec<String>],
) {
    let style = Style::plain(PaperLayer::Words, USUAL);
    let lines = headings.iter().map(Vec::len).max().unwrap_or(0);
    let bottom = top - lines as f64 * FEED - 0.5;
    let ground = sized(room.min.x - 1.0, bottom, room.width() + 2.0, top - bottom + 0.8);
    draft.area(PaperLayer::Sheet, &ground, 0.0, Some(Shade::GROUND));
    let mut x = room.min.x;
    for ((words, width), column) in headings.iter().zip(widths).zip(&table.columns) {
        // Headings stand on the line under them.
        for (index, line) in words.iter().rev().enumerate() {
            let y = bottom + 1.2 + index as f64 * FEED;
            cell(draft, x, y, *width, line, column.is_number, style);
        }
        x += width + GAP;
    }
    let line = [Point2::new(room.min.x - 1.0, bottom), Point2::new(room.max.x + 1.0, bottom)];
    draft.line(PaperLayer::Sheet, &line, WIDE, Dash::Solid);
}

fn row(draft: &mut PageDraft, room: &Bounds, top: f64, set: &Set, table: &CrossingTable, widths: &[f64]) {
    let style = Style::plain(PaperLayer::Words, USUAL);
    let base = top - USUAL - 1.0;
    match set {
        Set::Hinge(words) => {
            let room = sized(room.min.x, base - 1.4, room.width(), USUAL + 0.6);
            draft.words_within("Hinge crossings", &room, words, style.bold());
        }
        Set::Row(cells) => {
            let mut x = room.min.x;
            for ((lines, width), column) in cells.iter().zip(widths).zip(&table.columns) {
                for (index, line) in lines.iter().enumerate() {
                    let y = base - index as f64 * FEED;
                    cell(draft, x, y, *width, line, column.is_number, style);
                }
                x += width + GAP;
            }
            let deep = cells.iter().map(Vec::len).max().unwrap_or(1).max(1) as f64;
            let y = top - deep * FEED - ROW_GAP / 2.0;
            let line = [Point2::new(room.min.x - 1.0, y), Point2::new(room.max.x + 1.0, y)];
            draft.shaded_line(PaperLayer::Sheet, &line, NARROW, Dash::Solid, Shade::BEHIND);
        }
        Set::Note(words) => {
            draft.words(Point2::new(room.min.x, base), words, style);
        }
    }
}

fn cell(draft: &mut PageDraft, x: f64, y: f64, width: f64, words: &str, is_number: bool, style: Style) {
    if is_number {
        draft.words(Point2::new(x + width, y), words, style.anchor(Anchor::Right));
    } else {
        draft.words(Point2::new(x, y), words, style);
    }
}
