//! The layout, to scale: an overview of the bar, and each section large enough to build from.
//!
//! A bar too wide for its sheet at the scale asked for is split over sheets with match lines; it is never shrunk
//! below what the title block states. The shapes are those of the screen ([`bar_scene`]); words have places of their
//! own, so that none covers another.

mod figures;
mod labels;
mod legend;
mod sheet_drawing;
mod sheets;
mod small_tables;

use crate::drawing::bar::bar_scene;
use crate::drawing::label_places::Places;
use crate::drawing::paper::{LARGE, PageDraft, PaperLayer, Style, View};
use crate::drawing::scene::Layer;
use crate::drawing::scene_options::SceneOptions;
use crate::drawing::sheet_frame::drawing_area;
use crate::drawing::sheet_source::SheetSource;
use sheet_drawing::SheetDrawing;
pub use sheets::{LayoutSheet, layout_sheets};

/// Draws one of the sheets; `first` is the number that the first of them has in the whole set, and the sheet behind the
/// last of them holds the tables.
pub fn layout_sheet<'a>(
    source: &SheetSource<'a>,
    sheets: &[LayoutSheet],
    index: usize,
    first: usize,
) -> PageDraft<'a> {
    let name = sheets.get(index).map_or_else(String::new, |sheet| format!("Layout, {}", sheet.name));
    let mut draft = PageDraft::new(name, source.size.0, source.size.1, source.letters);
    let Some(sheet) = sheets.get(index) else { return draft };
    draft.page.section = sheet.section;
    let area = drawing_area(source.size.0, source.size.1);
    let mut options = SceneOptions { units: source.units, ..SceneOptions::default() };
    options.hidden.extend([Layer::Tags, Layer::Values, Layer::Dimensions]);
    let scene = bar_scene(source.project, source.routing, None, &options);
    let mut sheet_drawing =
        SheetDrawing { source, sheet, sheets, index, first, area, places: Places::default(), scene: &scene };
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
    if sheet.section.is_some() {
        sheet_drawing.section(&mut draft);
    } else {
        sheet_drawing.overview(&mut draft);
    }
    draft
}
