//! The layout, to scale: an overview of the bar with its supply and heights, and the wings large enough to build from.
//!
//! A bar too wide for its sheet at the scale asked for is split over sheets with match lines; it is never shrunk
//! below what the title block states. The shapes are those of the screen ([`bar_scene`]); words have places of their
//! own, so that none covers another.

mod bundles;
mod carriers;
mod cut_ends;
mod elevation;
mod figures;
mod labels;
mod legend;
mod letters;
mod naming;
mod pointed;
mod row_strip;
mod sheet_drawing;
mod sheets;
mod strip_drawing;

use crate::drawing::bar::bar_scene;
use crate::drawing::label_places::Places;
use crate::drawing::layout_tables::common_height;
use crate::drawing::paper::{LARGE, PageDraft, PaperLayer, Style, View};
use crate::drawing::scene::{Layer, Scene};
use crate::drawing::scene_options::SceneOptions;
use crate::drawing::sheet_source::SheetSource;
pub(super) use legend::{FOLDED_LEGEND, folded_legend};
use row_strip::RowStrip;
use sheet_drawing::SheetDrawing;
pub use sheets::{LayoutSheet, layout_sheets};
use sheets::{from_behind, parts_beyond};

/// A sheet on which not all figures of the rows have room, at this paper and scale; all of them stand in a table then.
pub fn needs_row_table(source: &SheetSource, sheets: &[LayoutSheet]) -> bool {
    let bar = &source.project.bar;
    let has_rows = |sheet: &LayoutSheet| bar.rows.iter().any(|row| sheet.sections.contains(&row.section));
    sheets.iter().any(|sheet| {
        sheet.to_build_from && has_rows(sheet) && !strip(source, sheet).is_some_and(|strip| strip.is_whole)
    })
}

fn strip<'a>(source: &SheetSource<'a>, sheet: &LayoutSheet) -> Option<RowStrip<'a>> {
    if !sheet.to_build_from {
        return None;
    }
    let bounds = source.project.bar.bounds();
    let depth = bounds.depth() + 0.4 + parts_beyond(source.project, &bounds, &sheet.sections).shown_on(sheet);
    RowStrip::of(source, sheet, depth)
}

/// Which sheets show a routing on its bar: as [`layout_sheets`] says, and behind the overviews the bar seen from behind where one of
/// them has no room for that.
pub fn sheets_of(source: &SheetSource, scale: Option<f64>) -> Vec<LayoutSheet> {
    let mut sheets = layout_sheets(source.project, source.size, scale);
    if source.project.bar.bounds().is_empty() {
        return sheets;
    }
    let scene = scene_of(source);
    let draft = PageDraft::new("", source.size.0, source.size.1, source.letters);
    let overviews = sheets.iter().enumerate().filter(|(_, sheet)| !sheet.to_build_from);
    let lacking = overviews
        .filter(|(index, sheet)| {
            drawing_of(source, &sheets, sheet, (*index, 1), &scene).lacks_elevation(&draft)
        })
        .map(|(_, sheet)| from_behind(sheet, source.size));
    let lacking: Vec<LayoutSheet> = lacking.collect();
    let behind = sheets.iter().take_while(|sheet| !sheet.to_build_from).count();
    sheets.splice(behind..behind, lacking);
    sheets
}

/// The bar as it is drawn, without names.
fn scene_of(source: &SheetSource) -> Scene {
    let mut options = SceneOptions { units: source.units, ..SceneOptions::default() };
    options.hidden.extend([Layer::Tags, Layer::Values, Layer::Dimensions]);
    bar_scene(source.project, source.routing, None, &options)
}

fn drawing_of<'a, 'b>(
    source: &'b SheetSource<'a>,
    sheets: &'b [LayoutSheet],
    sheet: &'b LayoutSheet,
    (index, first): (usize, usize),
    scene: &'b Scene,
) -> SheetDrawing<'a, 'b> {
    SheetDrawing {
        source,
        sheet,
        sheets,
        index,
        first,
        area: sheet.area(source.size),
        places: Places::default(),
        scene,
        view: None,
        strip: strip(source, sheet),
        height: common_height(source),
    }
}

/// Draws one of the sheets; `first` is the number that the first of them has in the whole set. The sheet behind the last
/// of them holds the table of rows where [`needs_row_table`].
pub fn layout_sheet<'a>(
    source: &SheetSource<'a>,
    sheets: &[LayoutSheet],
    index: usize,
    first: usize,
) -> PageDraft<'a> {
    let name = sheets.get(index).map_or_else(String::new, |sheet| format!("Layout, {}", sheet.name));
    let mut draft = PageDraft::new(name, source.size.0, source.size.1, source.letters);
    let Some(sheet) = sheets.get(index) else { return draft };
    draft.page.shows_part = sheet.to_build_from && sheets.len() > 1;
    let scene = scene_of(source);
    let mut sheet_drawing = drawing_of(source, sheets, sheet, (index, first), &scene);
    let area = sheet_drawing.area;
    if source.project.bar.bounds().is_empty() {
        let at = area.centre();
        draft.words(
            at,
            "The bar has no frame and no rows yet",
            Style::plain(PaperLayer::Words, LARGE).centred(),
        );
        draft.page.view = Some(View { denominator: sheet.denominator, origin: at });
        return draft;
    }
    if sheet.to_build_from {
        sheet_drawing.wing(&mut draft);
    } else if sheet.from_behind {
        sheet_drawing.behind(&mut draft);
    } else {
        sheet_drawing.overview(&mut draft);
    }
    draft
}
