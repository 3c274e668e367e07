//! What every sheet of paper has: size, border, title block, cautions, check line and scale bar.
//!
//! Sizes after ISO 216 (A series) and ANSI/ASME Y14.1 (Letter and Tabloid are its A and B); borders, centring marks
//! and grid references after ISO 5457:1999; fields of the title block after ISO 7200:2004; scales of the series of
//! ISO 5455:1979. Sizes of borders, fields of the grid and the width of the title block are from memory.

use super::paper::{Anchor, LARGE, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, WIDE, sized};
use super::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::TitleBlock;
use crate::quantities::UnitSystem;
use strum::EnumCount;

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, EnumCount)]
pub enum Paper {
    /// 210 mm × 297 mm.
    A4,
    /// 297 mm × 420 mm.
    A3,
    /// 420 mm × 594 mm.
    A2,
    /// 8.5 in × 11 in.
    Letter,
    /// 11 in × 17 in.
    Tabloid,
}

impl Paper {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [Self::A4, Self::A3, Self::A2, Self::Letter, Self::Tabloid];

    /// As people call it.
    pub const fn label(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::A2 => "A2",
            Self::Letter => "US Letter",
            Self::Tabloid => "Tabloid",
        }
    }

    /// Reads a name as typed: `A3`, `letter`, `US Letter`.
    pub fn named(name: &str) -> Option<Self> {
        let name = name.trim().to_lowercase().replace(['-', '_'], " ");
        let name = name.strip_prefix("us ").unwrap_or(&name);
        Self::ALL.into_iter().find(|paper| {
            let label = paper.label().to_lowercase();
            label.strip_prefix("us ").unwrap_or(&label) == name
        })
    }

    /// Short and long side, millimetres.
    pub const fn sides(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::A3 => (297.0, 420.0),
            Self::A2 => (420.0, 594.0),
            Self::Letter => (215.9, 279.4),
            Self::Tabloid => (279.4, 431.8),
        }
    }

    /// Width and height of a drawing, which lies on its long side.
    pub const fn lying(self) -> (f64, f64) {
        let (short, long) = self.sides();
        (long, short)
    }

    /// Width and height of the sheets for words and tables that go with it: standing, of a size any printer takes.
    pub const fn for_lists(self) -> (f64, f64) {
        match self {
            Self::A4 | Self::A3 | Self::A2 => Self::A4.sides(),
            Self::Letter | Self::Tabloid => Self::Letter.sides(),
        }
    }

    /// What people of a unit system print drawings on.
    pub const fn usual(units: UnitSystem) -> Self {
        match units {
            UnitSystem::Metric => Self::A3,
            UnitSystem::UsCustomary => Self::Tabloid,
        }
    }
}

/// Reductions of ISO 5455 that a bar may need, and the enlargements and full size nobody needs for one, largest
/// first: 1, 2 and 5 times powers of ten.
pub const SCALES: [f64; 10] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];

/// Border on the side that is filed (ISO 5457).
const FILING: f64 = 20.0;
/// Border on the other sides.
const BORDER: f64 = 10.0;
/// Strip of the grid reference outside the border line.
const STRIP: f64 = 5.0;
/// One field of the grid reference.
const FIELD: f64 = 50.0;
/// Width of the title block (ISO 7200).
pub const BLOCK_WIDTH: f64 = 180.0;
/// Height of the title block.
pub const BLOCK_HEIGHT: f64 = 36.0;

/// What stands in the title block.
#[derive(Debug, Clone, PartialEq)]
pub struct TitleFields<'a> {
    /// The project's own fields.
    pub block: &'a TitleBlock,
    /// Document type: `Layout`, `Parts list`.
    pub kind: String,
    /// Supplementary title: section and routing.
    pub subject: String,
    /// Date of issue, as it is printed.
    pub date: &'a str,
    /// `1:20`, `not to scale`, or nothing for lists.
    pub scale: String,
    /// Number of this sheet and how many there are.
    pub sheet: (usize, usize),
    /// The liquid that lengths and metering are meant for, what of it is assumed, and what is asked.
    pub made_for: &'a str,
    /// Why it is not released; empty where it is.
    pub held: &'a str,
}

/// The box within the border of a sheet.
pub fn inside(width: f64, height: f64) -> Bounds {
    sized(FILING, BORDER, width - FILING - BORDER, height - 2.0 * BORDER)
}

/// Border, centring marks and grid reference.
pub fn border(draft: &mut PageDraft) {
    let layer = PaperLayer::Sheet;
    let (width, height) = (draft.page.width, draft.page.height);
    let inner = inside(width, height);
    let outer = inner.grown(STRIP);
    draft.area(layer, &inner, 0.7, None);
    draft.area(layer, &outer, NARROW, None);
    // The axes of symmetry of the trimmed sheet, from which its fields are counted.
    let middle = Point2::new(width / 2.0, height / 2.0);
    for points in [
        [Point2::new(middle.x, outer.max.y), Point2::new(middle.x, inner.max.y - 5.0)],
        [Point2::new(outer.max.x, middle.y), Point2::new(inner.max.x - 5.0, middle.y)],
        [Point2::new(middle.x, outer.min.y), Point2::new(middle.x, inner.min.y + 3.0)],
        [Point2::new(outer.min.x, middle.y), Point2::new(inner.min.x + 5.0, middle.y)],
    ] {
        draft.line(layer, &points, 0.7, Dash::Solid);
    }
    // A4 has its references along the top and the right side only.
    let small = width.min(height) < 250.0;
    let style = Style::plain(layer, USUAL).shade(Shade::SOFT).centred();
    for (index, (from, to)) in fields(inner.min.x, middle.x, inner.max.x).into_iter().enumerate() {
        let x = f64::midpoint(from, to);
        for (line, edge) in [(inner.max.y, outer.max.y), (inner.min.y, outer.min.y)] {
            if small && edge < line {
                continue;
            }
            let y = f64::midpoint(line, edge);
            draft.words(Point2::new(x, y - USUAL / 2.0), &(index + 1).to_string(), style);
            if to < inner.max.x - 1e-6 {
                draft.line(layer, &[Point2::new(to, line), Point2::new(to, edge)], NARROW, Dash::Solid);
            }
        }
    }
    for (index, (from, to)) in fields(inner.min.y, middle.y, inner.max.y).into_iter().rev().enumerate() {
        let y = f64::midpoint(from, to);
        // I and O are left away, which look like figures.
        let Some(letter) = "ABCDEFGHJKLMNPQRSTUVWXYZ".chars().nth(index) else { break };
        for (line, edge) in [(inner.max.x, outer.max.x), (inner.min.x, outer.min.x)] {
            if small && edge < line {
                continue;
            }
            let x = f64::midpoint(line, edge);
            draft.words(Point2::new(x, y - USUAL / 2.0), &letter.to_string(), style);
            if to < inner.max.y - 1e-6 {
                draft.line(layer, &[Point2::new(line, to), Point2::new(edge, to)], NARROW, Dash::Solid);
            }
        }
    }
}

/// Fields of the grid reference, 50 mm each from the middle outwards; what remains at the ends is a field too
/// (ISO 5457, 4.5: 8 by 6 of them on A3, 6 by 4 on A4; from memory).
fn fields(from: f64, middle: f64, to: f64) -> Vec<(f64, f64)> {
    let many = |room: f64| ((room / FIELD - 1e-6).ceil() as i32).max(1);
    let edge = |step: i32| (middle + f64::from(step) * FIELD).clamp(from, to);
    (-many(middle - from)..many(to - middle)).map(|step| (edge(step), edge(step + 1))).collect()
}

/// Where the title block stands: lower right corner.
pub fn block_bounds(width: f64, height: f64) -> Bounds {
    let inner = inside(width, height);
    sized(inner.max.x - BLOCK_WIDTH, inner.min.y, BLOCK_WIDTH, BLOCK_HEIGHT)
}

/// The title block.
pub fn title_block(draft: &mut PageDraft, fields: &TitleFields) {
    let layer = PaperLayer::Sheet;
    let bounds = block_bounds(draft.page.width, draft.page.height);
    draft.area(layer, &bounds, 0.7, Some(Shade::PAPER));
    let (left, bottom) = (bounds.min.x, bounds.min.y);
    let cell = |x: f64, y: f64, width: f64, height: f64| sized(left + x, bottom + y, width, height);
    let block = fields.block;
    let sheet = format!("{} / {}", fields.sheet.0, fields.sheet.1);
    let cells: [(&str, &str, Bounds, f64, bool); 11] = [
        ("Legal owner", &block.owner, cell(0.0, 24.0, 56.0, 12.0), USUAL, false),
        ("Created by", &block.creator, cell(0.0, 12.0, 56.0, 12.0), USUAL, false),
        ("Approved by", &block.approved_by, cell(0.0, 0.0, 56.0, 12.0), USUAL, false),
        ("Document type", &fields.kind, cell(56.0, 26.0, 76.0, 10.0), USUAL, false),
        ("Title", &block.title, cell(56.0, 13.0, 76.0, 13.0), LARGE, true),
        ("Supplementary title", &fields.subject, cell(56.0, 0.0, 76.0, 13.0), USUAL, false),
        ("Identification number", &block.number, cell(132.0, 24.0, 48.0, 12.0), USUAL, true),
        ("Revision", &block.revision, cell(132.0, 12.0, 16.0, 12.0), USUAL, false),
        ("Date of issue", fields.date, cell(148.0, 12.0, 32.0, 12.0), USUAL, false),
        ("Scale", &fields.scale, cell(132.0, 0.0, 26.0, 12.0), USUAL, false),
        ("Sheet", &sheet, cell(158.0, 0.0, 22.0, 12.0), USUAL, true),
    ];
    for (name, value, bounds, height, bold) in cells {
        draft.area(layer, &bounds, NARROW, None);
        let label = Style::plain(layer, USUAL).shade(Shade::SOFT);
        draft.words(Point2::new(bounds.min.x + 1.2, bounds.max.y - 3.5), name, label);
        let room = Bounds {
            min: Point2::new(bounds.min.x + 1.2, bounds.min.y + 1.0),
            max: Point2::new(bounds.max.x - 1.2, bounds.max.y - 4.6),
        };
        let style = Style { bold, ..Style::plain(layer, height) };
        draft.words_within(name, &room, value, style);
    }
}

/// Height of the line in place of the title block on sheets that continue a list.
pub const FOOTER_HEIGHT: f64 = 6.0;

/// In place of the title block on a sheet that continues another: the fields that ISO 7200 asks for, and the scale of a drawing, in
/// one line.
pub fn footer_line(draft: &mut PageDraft, fields: &TitleFields) {
    let layer = PaperLayer::Sheet;
    let inner = inside(draft.page.width, draft.page.height);
    let bounds = sized(inner.min.x, inner.min.y, inner.width(), FOOTER_HEIGHT);
    draft.area(layer, &bounds, NARROW, Some(Shade::PAPER));
    let block = fields.block;
    let revision = format!("rev. {}", block.revision);
    let scale = if fields.scale.contains(':') { format!("scale {}", fields.scale) } else { String::new() };
    let says = [&block.number, &block.title, &fields.kind, &fields.subject, &scale, &revision, fields.date];
    let says: Vec<&str> = says.into_iter().filter(|one| !one.trim().is_empty()).collect();
    let sheet = format!("{} / {}", fields.sheet.0, fields.sheet.1);
    let style = Style::plain(layer, USUAL);
    let of_sheet = draft.width_of(&sheet, style.bold()) + 4.0;
    let room =
        sized(bounds.min.x + 3.0, bounds.min.y + 0.6, bounds.width() - 6.0 - of_sheet, FOOTER_HEIGHT - 1.2);
    draft.words_within("footer", &room, &says.join("  ·  "), style);
    let at = Point2::new(bounds.max.x - 3.0, bounds.min.y + (FOOTER_HEIGHT - USUAL) / 2.0);
    draft.words(at, &sheet, style.bold().anchor(Anchor::Right));
}

/// The usual cautions, short enough for every drawing; local codes come first.
pub const CAUTIONS: [(&str, &str); 3] = [
    (
        "WARNING",
        "Lock and support folding wings before working beneath; keep clear of pinch points and power lines",
    ),
    (
        "WARNING",
        "Liquid under pressure: relieve before opening. Chemicals: read label and data sheet, protect eyes and hands",
    ),
    (
        "NOTE",
        "Local codes, makers' instructions and licensed practice come first. Confirm predictions by a catch test before \
         seeding",
    ),
];

/// The same on a narrow sheet, whose frame has room for no more at a height that can be read.
const CAUTIONS_IN_SHORT: (&str, &str) = (
    "CAUTIONS",
    "Lock and support wings, relieve pressure, protect eyes and hands, local codes first, catch test before seeding",
);

/// What is left for the drawing itself once border, title block, cautions and measures stand.
pub fn drawing_area(width: f64, height: f64) -> Bounds {
    let inner = inside(width, height);
    let footer = BLOCK_HEIGHT + if has_room_beside(width) { 0.0 } else { MEASURES_HEIGHT + HELD_HEIGHT };
    Bounds { min: Point2::new(inner.min.x, inner.min.y + footer), max: Point2::new(inner.max.x, inner.max.y) }
}

/// What is left for the drawing on a sheet that continues another: a line stands in place of the title block where that would
/// take a good part of the height.
pub fn continued_area(width: f64, height: f64) -> Bounds {
    if has_room_beside(width) {
        return drawing_area(width, height);
    }
    let inner = inside(width, height);
    let footer = FOOTER_HEIGHT + continued_measures(inner.width()) + HELD_AND_MADE_FOR_HEIGHT;
    Bounds { min: Point2::new(inner.min.x, inner.min.y + footer), max: Point2::new(inner.max.x, inner.max.y) }
}

/// Height of the band with check line and scale bar on a narrow sheet.
const MEASURES_HEIGHT: f64 = 12.0;

/// What check line and scale bar take of the width of a sheet with the cautions beside them.
const MEASURES_WIDTH: f64 = 170.0;

/// Height of that band: beside it the cautions take three lines, and four on the narrowest papers.
fn continued_measures(width: f64) -> f64 {
    if width - MEASURES_WIDTH < 90.0 { MEASURES_HEIGHT + 3.0 } else { MEASURES_HEIGHT }
}

/// Height of the line above them that says why a design is not released.
const HELD_HEIGHT: f64 = 4.5;

/// Height of that line and one more on a sheet without a title block: what the design is made for stands on each.
const HELD_AND_MADE_FOR_HEIGHT: f64 = HELD_HEIGHT + USUAL * CLOSE;

/// What check line and scale bar take beside the title block.
const CHECK_HEIGHT: f64 = 9.5;

/// The check line fits beside the title block.
fn has_room_beside(width: f64) -> bool {
    width - FILING - BORDER - BLOCK_WIDTH > 130.0
}

/// Border, title block, cautions, check line and, for a drawing to scale, the scale bar.
pub fn frame(draft: &mut PageDraft, fields: &TitleFields, units: UnitSystem) {
    border(draft);
    title_block(draft, fields);
    let inner = inside(draft.page.width, draft.page.height);
    let beside = inner.width() - BLOCK_WIDTH;
    let wide = has_room_beside(draft.page.width);
    let layer = PaperLayer::Sheet;
    let top = inner.min.y + BLOCK_HEIGHT;
    draft.line(
        layer,
        &[Point2::new(inner.min.x, top), Point2::new(inner.max.x - BLOCK_WIDTH, top)],
        NARROW,
        Dash::Solid,
    );
    let (measures, low) = if wide {
        (sized(inner.min.x, inner.min.y, beside, CHECK_HEIGHT), inner.min.y + CHECK_HEIGHT)
    } else {
        (sized(inner.min.x, top, inner.width(), MEASURES_HEIGHT), inner.min.y + 1.0)
    };
    check_line_and_scale_bar(draft, &measures, units);
    // What keeps it from being built stands first; its own words begin with what it is.
    let held = fields.held.split_once(": ").filter(|(name, _)| !name.is_empty());
    let made_for = ("MADE FOR", fields.made_for);
    let says: Vec<(&str, &str)> = if wide {
        held.into_iter().chain(CAUTIONS).chain([made_for]).collect()
    } else {
        let line = sized(inner.min.x + 2.0, top + MEASURES_HEIGHT, inner.width() - 4.0, HELD_HEIGHT - 0.5);
        named_lines(draft, &line, held.as_slice());
        vec![CAUTIONS_IN_SHORT, made_for]
    };
    named_lines(draft, &sized(inner.min.x + 2.0, low, beside - 4.0, top - 1.5 - low), &says);
}

/// The same on a sheet that continues another drawing: see [`continued_area`].
pub fn continued_frame(draft: &mut PageDraft, fields: &TitleFields, units: UnitSystem) {
    if has_room_beside(draft.page.width) {
        frame(draft, fields, units);
        return;
    }
    border(draft);
    footer_line(draft, fields);
    let inner = inside(draft.page.width, draft.page.height);
    let top = inner.min.y + FOOTER_HEIGHT;
    let deep = continued_measures(inner.width());
    let measures = sized(inner.min.x, top, MEASURES_WIDTH, deep);
    check_line_and_scale_bar(draft, &measures, units);
    let lines = sized(inner.min.x + 2.0, top + deep, inner.width() - 4.0, HELD_AND_MADE_FOR_HEIGHT - 0.5);
    let held = fields.held.split_once(": ").filter(|(name, _)| !name.is_empty());
    let says: Vec<(&str, &str)> = held.into_iter().chain([("MADE FOR", fields.made_for)]).collect();
    named_lines(draft, &lines, &says);
    let beside = inner.width() - MEASURES_WIDTH - 2.0;
    let room = sized(measures.max.x, top + 0.8, beside, deep - 1.6);
    named_lines(draft, &room, &[CAUTIONS_IN_SHORT]);
}

/// Capital heights from line to line: closer than in lists, so that all of it is as high as lettering has to be.
const CLOSE: f64 = 1.35;

/// Lines of words, each behind its name, at the largest height at which they fit.
fn named_lines(draft: &mut PageDraft, room: &Bounds, says: &[(&str, &str)]) {
    let layer = PaperLayer::Sheet;
    let widest = says.iter().map(|(name, _)| *name).max_by_key(|name| name.len()).unwrap_or_default();
    for height in [USUAL, 1.8, 1.5, 1.3, 1.1] {
        let plain = Style::plain(layer, height);
        let feed = height * CLOSE;
        let heading = draft.width_of(widest, plain.bold()) + 2.0;
        let lines: Vec<(usize, String)> = says
            .iter()
            .enumerate()
            .flat_map(|(index, (_, says))| {
                draft.wrapped(says, plain, room.width() - heading).into_iter().map(move |line| (index, line))
            })
            .collect();
        let takes = lines.len().saturating_sub(1) as f64 * feed + height;
        if takes > room.depth() && height > 1.1 {
            continue;
        }
        let mut y = room.max.y - height;
        let mut said = None;
        for (index, line) in lines {
            if said != Some(index) {
                draft.words(Point2::new(room.min.x, y), says[index].0, plain.bold());
                said = Some(index);
            }
            draft.words(Point2::new(room.min.x + heading, y), &line, plain);
            y -= feed;
        }
        return;
    }
}

/// A line of exactly 100 mm to check the print with, and a bar that shows the scale.
fn check_line_and_scale_bar(draft: &mut PageDraft, room: &Bounds, units: UnitSystem) {
    let layer = PaperLayer::Sheet;
    let y = room.min.y + 3.0;
    let left = room.min.x + 4.0;
    let style = Style::plain(layer, USUAL);
    for (at, width) in [(0.0, WIDE), (50.0, NARROW), (100.0, WIDE)] {
        draft.line(
            layer,
            &[Point2::new(left + at, y - 1.5), Point2::new(left + at, y + 1.5)],
            width,
            Dash::Solid,
        );
    }
    draft.line(layer, &[Point2::new(left, y), Point2::new(left + 100.0, y)], WIDE, Dash::Solid);
    draft.words(Point2::new(left, y + 2.6), "Check line, 100 mm: print at 100 %, do not fit to page", style);
    let Some(view) = draft.page.view else { return };
    // The longest of 1, 2, 5 times powers of ten that fits.
    let room = (room.max.x - left - 112.0).min(90.0);
    let (unit, symbol) = match units {
        UnitSystem::Metric => (1.0, "m"),
        UnitSystem::UsCustomary => (0.3048, "ft"),
    };
    let lengths = [100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01];
    let long = |length: f64| length * unit * view.millimetres();
    let Some(length) = lengths.into_iter().find(|length| long(*length) <= room) else { return };
    let left = left + 112.0;
    let size = long(length);
    for step in 0..4 {
        let bounds = sized(left + size * f64::from(step) / 4.0, y - 0.8, size / 4.0, 1.6);
        let fill = if step % 2 == 0 { Shade::INK } else { Shade::PAPER };
        draft.area(layer, &bounds, NARROW, Some(fill));
    }
    draft.words(Point2::new(left, y + 2.6), &format!("Scale {}", view.text()), style);
    let text = format!("{length} {symbol}");
    draft.words(Point2::new(left + size, y + 2.6), &text, style.anchor(Anchor::Right));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_are_read_by_name() {
        assert_eq!(Paper::named("a3"), Some(Paper::A3));
        assert_eq!(Paper::named("US Letter"), Some(Paper::Letter));
        assert_eq!(Paper::named("letter"), Some(Paper::Letter));
        assert_eq!(Paper::named("tabloid"), Some(Paper::Tabloid));
        assert_eq!(Paper::named("B4"), None);
    }

    /// ISO 216: A sizes have sides as 1 to the root of 2, and each is half the next; ASME Y14.1 A and B in inches.
    #[test]
    fn sizes_are_those_of_the_standards() {
        for (small, large) in [(Paper::A4, Paper::A3), (Paper::A3, Paper::A2)] {
            assert_eq!(small.sides().1, large.sides().0);
            assert_eq!(small.sides().0 * 2.0, large.sides().1);
            assert!((small.sides().1 / small.sides().0 - 2f64.sqrt()).abs() < 0.002);
        }
        for (paper, inches) in [(Paper::Letter, (8.5, 11.0)), (Paper::Tabloid, (11.0, 17.0))] {
            let (short, long) = paper.sides();
            assert!((short - inches.0 * 25.4).abs() < 1e-9 && (long - inches.1 * 25.4).abs() < 1e-9);
        }
        // The title block fits within the border of every sheet (180 mm, ISO 7200).
        for paper in Paper::ALL {
            for (width, height) in [paper.lying(), paper.for_lists()] {
                assert!(inside(width, height).width() >= BLOCK_WIDTH - 1e-9, "{paper:?}");
            }
        }
    }

    /// ISO 5457:1999, 4.5 (from memory): A2 has 12 by 8 fields, A3 8 by 6, A4 6 by 4.
    #[test]
    fn fields_of_the_grid_cover_the_border() {
        for (paper, wanted) in [(Paper::A2, (12, 8)), (Paper::A3, (8, 6)), (Paper::A4, (6, 4))] {
            let (width, height) = paper.lying();
            let inner = inside(width, height);
            let across = fields(inner.min.x, width / 2.0, inner.max.x);
            let up = fields(inner.min.y, height / 2.0, inner.max.y);
            assert_eq!((across.len(), up.len()), wanted, "{paper:?}");
            assert_eq!((across[0].0, across[across.len() - 1].1), (inner.min.x, inner.max.x));
            assert!(across.windows(2).all(|pair| pair[0].1 == pair[1].0));
        }
    }
}
