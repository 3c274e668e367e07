//! The schematic, not to scale: what is connected with what.
//!
//! Lines that meet at a dot, or end on each other, are connected; lines that only cross are not, and the level one jumps over the
//! other where it has room to. Symbols are after
//! ISO 1219-1 where it has one (all from memory): pump, filter, gauge, spring-loaded check valve, fixed restriction; a
//! plugged port is a short stroke across the end of its line. A shut-off valve is two triangles tip to tip (ISO 14617).
//! No standard has a manifold with many outlets: it is drawn as a line with taps in a chain-line frame. The legend shows
//! what its own sheet holds.
//!
//! Hoses run down from the pump in layers of parts, each turn on a track of its own, to the manifolds in a row below.
//! Every port has an x of its own, and parts stand in columns of their own, so that no two lines can lie on each other
//! and be taken for connected. Where the rows do not fit beside each other, the manifolds are drawn once more on sheets
//! of their own; a flag with the manifold's tag and the number of the other sheet joins them.

mod columns;
mod heads;
mod jumps;
mod legend;
mod names;
mod rows;
mod signs;
mod tree;
mod tree_drawing;

use crate::drawing::Subject;
use crate::drawing::paper::{LARGE, PageDraft, PaperLayer, Style, USUAL};
use crate::drawing::sheet_frame::drawing_area;
use crate::drawing::sheet_source::{SheetSource, capital};
use crate::geometry::{Bounds, Point2};
use crate::plan::words::{list, ranges};
use heads::{
    ABOVE_HEAD, BELOW_ROWS, HEAD_ROOM, Head, ROW_DEPTH, SHORT_HEAD, SheetPlaces, groups, heads, inlet_at,
    parts_of_head,
};
use legend::{LEGEND, legend};
use rows::Rows;
use signs::{HOSE, dot, flag_from, wire};
use tree::{HeadForm, Tree};

/// The sheets of the schematic; `first` is the number of the first of them in the whole set.
pub fn schematic<'a>(source: &SheetSource<'a>, first: usize) -> Vec<PageDraft<'a>> {
    let area = drawing_area(source.size.0, source.size.1);
    let mut room = Bounds { min: Point2::new(area.min.x + 6.0, area.min.y + LEGEND), max: area.max };
    room.max.x -= 6.0;
    room.max.y -= 14.0;
    let heads = heads(source);
    let mut sheets = Vec::new();
    let whole: f64 = heads.iter().map(Head::width).sum();
    let tree_room = room.depth() - ROW_DEPTH - ABOVE_HEAD - BELOW_ROWS;
    let fits = whole <= room.width() && {
        let tree = Tree::new(source, &heads, &room, HeadForm::Whole);
        !tree.crowded && tree.levels(room.depth()).height <= tree_room
    };
    if fits {
        let mut draft = new_sheet(source, "whole routing");
        let left = Tree::new(source, &heads, &room, HeadForm::Whole).draw(&mut draft, tree_room);
        finish(source, &mut draft, &area, &left);
        return vec![draft];
    }
    // Rows in bands below each other, as many as a sheet takes.
    let band = ROW_DEPTH + 15.0 + BELOW_ROWS;
    let bands_a_sheet = ((room.depth() / band).floor() as usize).max(1);
    let with_rows: Vec<&Head> = heads.iter().filter(|head| !head.taps.is_empty()).collect();
    let mut bands: Vec<Vec<&Head>> = Vec::new();
    let mut wide: Vec<Head> = Vec::new();
    // A manifold wider than a sheet goes on in the next band.
    for head in &with_rows {
        wide.extend(parts_of_head(head, room.width()));
    }
    let mut used = f64::INFINITY;
    for head in &wide {
        if used + head.width() > room.width() {
            bands.push(Vec::new());
            used = 0.0;
        }
        used += head.width();
        if let Some(last) = bands.last_mut() {
            last.push(head);
        }
    }
    let band_sheets: Vec<&[Vec<&Head>]> = bands.chunks(bands_a_sheet).collect();
    let a_sheet = ((room.width() / SHORT_HEAD).floor() as usize).max(1);
    // Much alike, rather than one manifold alone on the last sheet.
    let a_sheet = heads.len().div_ceil(heads.len().div_ceil(a_sheet).max(1)).max(1);
    let mut groups = groups(source, &heads, a_sheet);
    let tree_depth = room.depth() - 44.0;
    let places = loop {
        let places = SheetPlaces::new(source, &groups, &band_sheets, first);
        // As many sheets as it takes: one on which something has no room is divided.
        let halves = groups.iter().enumerate().find_map(|(index, group)| {
            let form = HeadForm::Short { places: &places, own: first + index };
            let tree = Tree::new(source, &group.heads, &room, form);
            let fits = !tree.crowded && tree.levels(tree_depth).height <= tree_depth + 0.5;
            if fits { None } else { Some((index, group.halves(source)?)) }
        });
        let Some((index, halves)) = halves else { break places };
        groups.splice(index..=index, halves);
    };
    let tree_sheets = groups.len();
    for (index, group) in groups.iter().enumerate() {
        let name = if tree_sheets == 1 {
            "supply and manifolds".to_owned()
        } else {
            format!("supply and manifolds, part {} of {tree_sheets}", index + 1)
        };
        let mut draft = new_sheet(source, &name);
        let form = HeadForm::Short { places: &places, own: first + index };
        let left = Tree::new(source, &group.heads, &room, form).draw(&mut draft, tree_depth);
        finish(source, &mut draft, &area, &left);
        sheets.push(draft);
    }
    let many = band_sheets.len();
    for (index, sheet) in band_sheets.iter().enumerate() {
        let name = if many == 1 { "rows".to_owned() } else { format!("rows, part {} of {many}", index + 1) };
        let mut draft = new_sheet(source, &name);
        let spare = (room.depth() - sheet.len() as f64 * band) / sheet.len().max(1) as f64;
        let mut y = room.max.y - 18.0;
        for heads in *sheet {
            let total: f64 = heads.iter().map(|head| head.width()).sum();
            let gap = ((room.width() - total) / (heads.len() + 1) as f64).clamp(0.0, 30.0);
            let mut x = room.min.x + (room.width() - total - gap * (heads.len() - 1) as f64).max(0.0) / 2.0;
            for head in heads {
                let depth = ROW_DEPTH + (spare - 4.0).clamp(0.0, 40.0);
                let mut rows = Rows { source, draft: &mut draft, depth, places: Some(&places) };
                let at = inlet_at(head, x + HEAD_ROOM / 2.0 - 2.0, x + head.width() - HEAD_ROOM / 2.0 + 2.0);
                rows.head(head, x, y, &[at]);
                if let Some((part, _)) = head.part {
                    let sheet = places.upper.get(&part.id).copied().unwrap_or(first);
                    draft.subject = Some(Subject::Part(part.id));
                    wire(&mut draft, PaperLayer::Hose, &[Point2::new(at, y), Point2::new(at, y + 7.0)], HOSE);
                    dot(&mut draft, PaperLayer::Hose, Point2::new(at, y));
                    draft.subject = None;
                    // Not over what stands beside the manifold before.
                    flag_from(&mut draft, Point2::new(at, y + 7.0), &part.tag, sheet, x + 2.5);
                }
                x += head.width() + gap;
            }
            y -= band + spare;
        }
        finish(source, &mut draft, &area, &[]);
        sheets.push(draft);
    }
    sheets
}

fn new_sheet<'a>(source: &SheetSource<'a>, name: &str) -> PageDraft<'a> {
    PageDraft::new(format!("Schematic, {name}"), source.size.0, source.size.1, source.letters)
}

/// Heading and legend, and what has no room in the drawing.
fn finish(source: &SheetSource, draft: &mut PageDraft, area: &Bounds, left: &[String]) {
    let heading = draft.page.name.trim_start_matches("Schematic, ").to_owned();
    let at = Point2::new(area.min.x + 5.0, area.max.y - 9.0);
    let style = Style::plain(PaperLayer::Words, LARGE).bold();
    draft.words(at, &format!("{}, not to scale", capital(&heading)), style);
    let without: Vec<u32> = source
        .project
        .bar
        .rows
        .iter()
        .filter(|row| !row.left_out && source.routing.feed_of(row.id).is_none())
        .map(|row| row.number)
        .collect();
    let mut said = Vec::new();
    if !without.is_empty() {
        said.push(format!("Rows without a feed: {}", ranges(&without)));
    }
    if !left.is_empty() {
        said.push(format!("No room beside them for {}", list(left)));
    }
    let plain = Style::plain(PaperLayer::Words, USUAL);
    let lines = if said.is_empty() {
        Vec::new()
    } else {
        draft.wrapped(&said.join(". "), plain, area.width() - 10.0)
    };
    for (index, line) in lines.iter().enumerate() {
        draft.words(Point2::new(at.x, at.y - 5.5 - index as f64 * USUAL * 1.5), line, plain);
    }
    legend(source, draft, area);
}
