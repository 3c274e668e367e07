//! One sheet with the bar folded for the road, to scale, from behind and from the right.

use super::bar::FoldedWays;
use super::dimension;
use super::fold_scene::{FoldRoom, fold_scene};
use super::layout_sheet::{FOLDED_LEGEND, folded_legend};
use super::paper::{LARGE, LINE_FEED, PageDraft, PaperLayer, Style, USUAL, View, scale_text};
use super::scene::Layer;
use super::scene_options::SceneOptions;
use super::sheet_frame::{SCALES, drawing_area};
use super::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2, Point3};
use crate::plan::{Envelope, FoldPosition, FoldedBar};
use crate::quantities::{Length, Measure};

/// Title over the pictures, and the name of each, millimetres.
const HEAD: f64 = 15.0;
/// Dimensions under the pictures.
const UNDER: f64 = 12.0;
/// Left of the first picture: its height.
const LEFT: f64 = 20.0;
/// Between both pictures.
const BETWEEN: f64 = 12.0;
/// Over a picture that stands under another: its name.
const NAME: f64 = 6.0;
/// Shown around the bar, metres.
const AROUND: f64 = 0.1;

/// Draws it. Of a bar without sections it says that there is nothing to fold.
pub fn folded_sheet<'a>(source: &SheetSource<'a>) -> PageDraft<'a> {
    let (width, height) = source.size;
    let mut draft = PageDraft::new("Folded bar", width, height, source.letters);
    let area = drawing_area(width, height);
    let style = Style::plain(PaperLayer::Words, USUAL);
    let left = area.min.x + 5.0;
    let title = Style::plain(PaperLayer::Words, LARGE).bold();
    let head = Point2::new(left, area.max.y - 6.5);
    if source.project.bar.sections.iter().all(|section| section.hinge.is_none()) {
        draft.words(head, "The bar has no hinges: it does not fold", title);
        return draft;
    }
    draft.words(head, "Folded for the road", title);
    let folded = FoldedBar::at(&source.project.bar, FoldPosition::TRANSPORT);
    let envelope = Envelope::of(source.project, source.routing, &folded);
    let Some((least, most)) = envelope.corners() else { return draft };
    let right = area.max.x - 5.0;
    let lines = draft.wrapped(&words(source, &envelope), style, right - left);
    let y = area.min.y + 3.5 + lines.len() as f64 * USUAL * LINE_FEED + FOLDED_LEGEND;
    let room = Bounds { min: Point2::new(left, y), max: Point2::new(right, area.max.y - HEAD) };
    let mut y = views(&mut draft, source, (FoldPosition::TRANSPORT, folded), (least, most), &room);
    for line in &lines {
        y -= USUAL * LINE_FEED;
        draft.words(Point2::new(left, y), line, style);
    }
    folded_legend(&mut draft, source, Point2::new(left, y - 6.0), right);
    draft
}

/// What is in the sizes and what is not, and what somebody entered as allowed.
fn words(source: &SheetSource, envelope: &Envelope) -> String {
    let text = |length: Length| Measure::Distance.text(length.si(), source.units);
    let limits = &source.project.transport;
    let allowed = |one: Option<Length>| one.map_or("not entered".to_owned(), text);
    let order = source.project.bar.fold_order_words();
    let order = order.map_or_else(String::new, |order| format!(" It folds {order}."));
    format!(
        "Folded {} wide and {} high: frame, outlets, parts, hoses and tubes. Openers, wheels and hitch are not in it: \
         measure the machine. Allowed on the road: width {}, height {}; road rules are local.{order}",
        text(envelope.width()),
        text(envelope.height()),
        allowed(limits.width),
        allowed(limits.height)
    )
}

/// The bar from behind and from the right, side by side on one ground or one under the other, at the largest scale that fits; how
/// far down that reaches.
fn views(
    draft: &mut PageDraft,
    source: &SheetSource,
    position: (FoldPosition, FoldedBar),
    (least, most): (Point3, Point3),
    room: &Bounds,
) -> f64 {
    let (project, units) = (source.project, source.units);
    let limits = &project.transport;
    let half = limits.width.map_or(0.0, |width| width.si() / 2.0);
    // What the road allows is in sight.
    let (from, to) = (least.x.min(-half), most.x.max(half));
    let low = least.z.min(0.0);
    let high = most.z.max(limits.height.map_or(0.0, Length::si));
    let (wide, deep, tall) = (to - from, most.y - least.y, high - low + 2.0 * AROUND);
    let beside_fits = |scale: &f64| {
        let metre = 1000.0 / scale;
        (wide + deep + 4.0 * AROUND) * metre + LEFT + BETWEEN + 4.0 <= room.width()
            && tall * metre + UNDER <= room.depth()
    };
    let under_fits = |scale: &f64| {
        let metre = 1000.0 / scale;
        (wide.max(deep) + 2.0 * AROUND) * metre + LEFT + 4.0 <= room.width()
            && 2.0 * (tall * metre + UNDER) + NAME <= room.depth()
    };
    let largest = SCALES[SCALES.len() - 1];
    let scales = || SCALES.into_iter().filter(|scale| *scale >= 5.0);
    let side_by_side = scales().find(beside_fits).unwrap_or(largest);
    // One under the other, where both are larger so.
    let one_under = scales().find(under_fits).filter(|scale| *scale < side_by_side);
    let denominator = one_under.unwrap_or(side_by_side);
    let metre = 1000.0 / denominator;
    let ground = room.max.y - (high + AROUND) * metre;
    let at = room.min.x + LEFT + AROUND * metre;
    let behind = View { denominator, origin: Point2::new(at - from * metre, ground) };
    let beside = if one_under.is_some() {
        let origin = Point2::new(at - least.y * metre, ground - tall * metre - UNDER - NAME);
        View { denominator, origin }
    } else {
        let at = behind.at(Point2::new(to + 2.0 * AROUND, 0.0)).x + BETWEEN;
        View { denominator, origin: Point2::new(at - least.y * metre, ground) }
    };
    draft.page.view = Some(behind);
    let style = Style::plain(PaperLayer::Words, USUAL).bold();
    let text = |size: f64| Measure::Distance.text(size, units);
    let ways = FoldedWays::of(project, source.routing, FoldPosition::TRANSPORT);
    let [_, room_behind, room_beside] = FoldRoom::all(project, source.routing, &[position]);
    let bottom_of = |view: &View| view.at(Point2::new(0.0, low)).y - AROUND * metre - 3.0;
    for (room, view, edges, own) in [
        (room_behind, behind, (from, to), (least.x, most.x)),
        (room_beside, beside, (least.y, most.y), (least.y, most.y)),
    ] {
        let window = Bounds {
            min: view.at(Point2::new(edges.0 - AROUND, low - AROUND)),
            max: view.at(Point2::new(edges.1 + AROUND, high + AROUND)),
        };
        let options = SceneOptions {
            units,
            fold: FoldPosition::TRANSPORT,
            hidden: [Layer::Tags, Layer::Values, Layer::Dimensions].into(),
            ..SceneOptions::default()
        };
        draft.scene(&fold_scene(project, source.routing, None, &options, &ways, &room), &view, &window);
        let bottom = bottom_of(&view);
        let name = format!("{}, {}", room.seen.label(), scale_text(denominator));
        draft.words(Point2::new(window.min.x, window.max.y + 2.0), &name, style);
        let ends = [own.0, own.1].map(|x| Point2::new(view.at(Point2::new(x, 0.0)).x, bottom + 2.5));
        dimension::level(draft, ends[0], ends[1], bottom, &text(own.1 - own.0));
    }
    let side = behind.at(Point2::new(from - AROUND, 0.0)).x;
    let ends = [0.0, most.z].map(|z| Point2::new(side - 0.5, behind.at(Point2::new(0.0, z)).y));
    dimension::upright(draft, ends[0], ends[1], side - 5.0, &text(most.z.max(0.0)));
    bottom_of(&behind).min(bottom_of(&beside)) - UNDER / 2.0
}
