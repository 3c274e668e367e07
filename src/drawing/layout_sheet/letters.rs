//! Boxed letters for what has no room for its name on a sheet: a letter stands by it, and the sheet says what each letter is.

use super::sheet_drawing::SheetDrawing;
use crate::drawing::label_places::Cover;
use crate::drawing::paper::{NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, sized};
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::words::letters;

/// Something whose name has no room.
pub(super) struct Unnamed {
    pub(super) tag: String,
    /// All that would stand beside it, in one line.
    pub(super) words: String,
    /// Where it is, for whoever finds no letter there either.
    pub(super) place: String,
    /// Where it is on the sheet; the best place for a leader first.
    pub(super) anchors: Vec<Point2>,
}

/// What has no room on a sheet, in words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct NoRoom {
    /// What boxed letters stand for in place of names.
    pub(super) letters: Vec<String>,
    /// What has no letter either, and carriers without a mark.
    pub(super) without: Vec<String>,
    /// The tags of what is named on the sheet of its section, if not on the overview.
    pub(super) elsewhere: Vec<String>,
    /// Parts of the sections of the sheet that stand off it and the hoses between them, with all that would stand beside them.
    pub(super) far_off: Vec<String>,
    /// Item numbers with what they are: `2 (J3) and 8 (B1)`.
    pub(super) items: String,
}

/// Side of the box of a letter, millimetres; two letters take more.
const BOX: f64 = USUAL * 1.5;

impl SheetDrawing<'_, '_> {
    /// Letters for what has no name; answers what each stands for, and what has no room for a letter either.
    pub(super) fn boxed_letters(
        &mut self,
        draft: &mut PageDraft,
        unnamed: &[Unnamed],
        window: &Bounds,
    ) -> (Vec<String>, Vec<String>) {
        let (mut explained, mut without) = (Vec::new(), Vec::new());
        let white = self.white_paper(window);
        for one in unnamed {
            let letter = letters(explained.len() as u32).to_lowercase();
            let style = Style::plain(PaperLayer::Words, USUAL);
            let width = (draft.width_of(&letter, style) + 1.2).max(BOX);
            let boxes: Vec<Bounds> = one.anchors.iter().flat_map(|at| about(*at, width)).collect();
            let bounds = if let Some(at) = self.places.place_over(&boxes, window, Cover::Nothing) {
                boxes[at]
            } else if let Some((bounds, leader)) = self.places.place_far(&one.anchors, (width, BOX), &white) {
                draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
                bounds
            } else {
                without.push(match one.place.as_str() {
                    "" => one.words.clone(),
                    place => format!("{} ({place})", one.words),
                });
                continue;
            };
            draft.area(PaperLayer::Notes, &bounds, NARROW, Some(Shade::PAPER));
            let at = Point2::new(bounds.centre().x, bounds.centre().y - USUAL / 2.0);
            draft.words(at, &letter, style.centred());
            explained.push(format!("{letter} {}", one.words));
        }
        (explained, without)
    }
}

/// Boxes so near to a point that what stands there needs no leader.
fn about(at: Point2, width: f64) -> Vec<Bounds> {
    let mut boxes = Vec::new();
    for away in [1.0, 1.8] {
        let (left, right) = (at.x - away - width, at.x + away);
        let (below, above) = (at.y - away - BOX, at.y + away);
        let (x, y) = (at.x - width / 2.0, at.y - BOX / 2.0);
        for corner in [
            (right, y),
            (left, y),
            (x, above),
            (x, below),
            (right, above),
            (left, above),
            (right, below),
            (left, below),
        ] {
            boxes.push(sized(corner.0, corner.1, width, BOX));
        }
    }
    boxes
}
