//! What the signs on a sheet mean.

use std::collections::BTreeMap;

use super::bundles::BUNDLE;
use super::sheet_drawing::SheetDrawing;
use super::sheets::LEGEND;
use crate::drawing::flow_arrow::flow_arrow;
use crate::drawing::paper::{
    MIDDLE, MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, sized,
};
use crate::drawing::scene::{Dash, Scene};
use crate::drawing::scene_options::Detail;
use crate::drawing::sheet_source::SheetSource;
use crate::drawing::{Subject, symbols};
use crate::geometry::{Bounds, Point2, Point3};
use crate::plan::{CrossedHinge, Crossing, Item, LaidRouting, PartItem, RowFeed};
use crate::quantities::Angle;

impl SheetDrawing<'_, '_> {
    /// What the signs mean, for those that stand on the sheet.
    pub(super) fn legend(&self, draft: &mut PageDraft) {
        let layer = PaperLayer::Sheet;
        let SheetSource { project, routing, .. } = *self.source;
        let y = self.area.min.y + LEGEND;
        let line = [Point2::new(self.area.min.x, y), Point2::new(self.area.max.x, y)];
        draft.line(layer, &line, NARROW, Dash::Solid);
        let has = |layer: PaperLayer| stands_on(draft, layer, |_| true);
        let areas = |layer: PaperLayer| stands_on(draft, layer, is_area);
        let mut signs: Vec<(&'static str, LayoutSign)> = Vec::new();
        let mut add = |there: bool, name: &'static str, sign: LayoutSign| {
            if there {
                signs.push((name, sign));
            }
        };
        add(has(PaperLayer::Frame), "frame member", LayoutSign::Frame);
        add(has(PaperLayer::Carrier), "carrier (list of joints)", LayoutSign::Carrier);
        let span = self.sheet.span;
        let hinges = project.bar.sections.iter().filter_map(|section| section.hinge);
        let hinges: Vec<_> = hinges.filter(|one| one.point.x >= span.0 && one.point.x <= span.1).collect();
        let drawn = has(PaperLayer::Hinge);
        add(drawn && hinges.iter().any(|one| !one.is_upright()), "hinge, fore and aft", LayoutSign::Hinge);
        add(
            drawn && hinges.iter().any(crate::plan::Hinge::is_upright),
            "hinge, upright",
            LayoutSign::UprightHinge,
        );
        add(areas(PaperLayer::Hose), "from the pump", LayoutSign::Pump);
        add(has(PaperLayer::Hose), "hose, and which way it flows", LayoutSign::Hose);
        add(has(PaperLayer::Tube), "delivery tube", LayoutSign::Tube);
        let clamped = computed_crossings(routing)
            .flat_map(|crossing| &crossing.clamps)
            .any(|clamp| (span.0..=span.1).contains(&clamp.at.place.x));
        add(clamped, "clamp at a hinge", LayoutSign::Clamp);
        let is_bundle = |kind: &MarkKind| matches!(kind, MarkKind::Line { width, .. } if *width == BUNDLE);
        add(stands_on(draft, PaperLayer::Tube, is_bundle), "tubes side by side", LayoutSign::Bundle);
        for (name, item) in kinds_on(draft, self.source) {
            add(true, name, LayoutSign::Part(item));
        }
        let mut in_feeds: BTreeMap<&'static str, Item> = BTreeMap::new();
        // Those of rows that stand on this sheet.
        let here = |feed: &&RowFeed| {
            feed.branches.iter().any(|branch| {
                project.bar.row(branch.row).is_some_and(|row| row.x.si() >= span.0 && row.x.si() <= span.1)
            })
        };
        for element in routing.feeds.iter().filter(here).flat_map(RowFeed::elements) {
            if let Some(item) = project
                .catalogue
                .any_item(element.entry())
                .filter(|item| symbols::is_drawn_in_feed(item.item_kind()))
            {
                in_feeds.entry(item.kind()).or_insert(*item);
            }
        }
        for (name, item) in in_feeds {
            add(areas(PaperLayer::Tube), name, LayoutSign::InFeed(item));
        }
        add(has(PaperLayer::Row), "outlet of a row", LayoutSign::Outlet);
        let balloons = self.sheet.to_build_from && has(PaperLayer::Notes);
        add(balloons, "item number in the parts list", LayoutSign::Balloon);
        let (left, right) = (self.area.min.x + 5.0, self.area.max.x - 3.0);
        write_signs(draft, &signs, Point2::new(left, self.area.min.y + LEGEND - STEP * 0.5), right);
    }
}

/// From a line of signs to the next.
const STEP: f64 = LEGEND / 3.0;

/// Signs with their names from a place on, in as many lines as it takes.
fn write_signs(draft: &mut PageDraft, signs: &[(&'static str, LayoutSign)], from: Point2, right: f64) {
    let style = Style::plain(PaperLayer::Sheet, USUAL);
    let mut at = from;
    draft.words(Point2::new(at.x, at.y - USUAL / 2.0), "Legend", style.bold());
    at.x += draft.width_of("Legend", style.bold()) + 5.0;
    for (name, sign) in signs {
        let size = 10.0 + draft.width_of(name, style) + 4.5;
        if at.x + size > right {
            at = Point2::new(from.x, at.y - STEP);
        }
        draw_sign(draft, sign, at);
        draft.words(Point2::new(at.x + 10.0, at.y - USUAL / 2.0), name, style);
        at.x += size;
    }
}

/// Room for the legend of a folded bar, millimetres.
pub(in crate::drawing) const FOLDED_LEGEND: f64 = 2.0 * STEP + 3.0;

/// What the signs on a sheet with the folded bar mean, for those that stand there: from a place on, as far as `right`.
pub(in crate::drawing) fn folded_legend(
    draft: &mut PageDraft,
    source: &SheetSource,
    from: Point2,
    right: f64,
) {
    let has = |layer: PaperLayer| stands_on(draft, layer, |_| true);
    let pins = stands_on(draft, PaperLayer::Hinge, |kind| matches!(kind, MarkKind::Circle { .. }));
    let clamped = computed_crossings(source.routing).next().is_some();
    let fixed = [
        (has(PaperLayer::Frame), "frame member", LayoutSign::Frame),
        (has(PaperLayer::Hinge), "hinge", LayoutSign::Hinge),
        (pins, "hinge seen along its pin", LayoutSign::UprightHinge),
        (stands_on(draft, PaperLayer::Hose, is_area), "from the pump", LayoutSign::Pump),
        (has(PaperLayer::Hose), "hose", LayoutSign::PlainHose),
        (has(PaperLayer::Tube), "delivery tube", LayoutSign::Tube),
        (clamped, "clamp at a hinge", LayoutSign::Clamp),
    ];
    let mut signs: Vec<(&'static str, LayoutSign)> =
        fixed.into_iter().filter(|one| one.0).map(|(_, name, sign)| (name, sign)).collect();
    signs.extend(kinds_on(draft, source).into_iter().map(|(name, item)| (name, LayoutSign::Part(item))));
    if has(PaperLayer::Row) {
        signs.push(("outlet of a row", LayoutSign::Outlet));
    }
    write_signs(draft, &signs, from, right);
}

/// A mark that is wanted stands on a layer of a page.
fn stands_on(draft: &PageDraft, layer: PaperLayer, wanted: impl Fn(&MarkKind) -> bool) -> bool {
    draft.page.marks.iter().any(|mark| mark.layer == layer && wanted(&mark.kind))
}

const fn is_area(kind: &MarkKind) -> bool {
    matches!(kind, MarkKind::Area { .. })
}

/// The hinge crossings of all hoses and tubes whose clamps are known.
fn computed_crossings(routing: LaidRouting<'_>) -> impl Iterator<Item = &Crossing> {
    routing.geometry.lines().flat_map(|laid| &laid.crossings).filter_map(CrossedHinge::computed)
}

/// The kinds of parts that stand on a page.
fn kinds_on(draft: &PageDraft, source: &SheetSource) -> BTreeMap<&'static str, PartItem> {
    let mut kinds = BTreeMap::new();
    for part in &source.routing.parts {
        if let Some(item) = source.project.catalogue.item(&part.entry)
            && draft.part_bounds(part.id).is_some()
        {
            kinds.entry(item.kind()).or_insert(*item);
        }
    }
    kinds
}

/// A sign of the legend.
enum LayoutSign {
    Frame,
    Carrier,
    Hinge,
    /// A pin seen from above.
    UprightHinge,
    Pump,
    Hose,
    /// Without the arrow of its flow.
    PlainHose,
    Tube,
    Clamp,
    Bundle,
    Part(PartItem),
    /// What sits in a row's tube.
    InFeed(Item),
    Outlet,
    Balloon,
}

/// A sign within the nine millimetres from a point on.
fn draw_sign(draft: &mut PageDraft, sign: &LayoutSign, at: Point2) {
    let layer = PaperLayer::Sheet;
    let centre = Point2::new(at.x + 4.5, at.y);
    let across = [at, Point2::new(at.x + 8.0, at.y)];
    match sign {
        LayoutSign::Frame => draft.area(layer, &sized(at.x, at.y - 1.2, 8.0, 2.4), 0.0, Some(Shade::FRAME)),
        LayoutSign::Carrier => {
            draft.area(layer, &sized(at.x, at.y - 0.8, 8.0, 1.6), NARROW, Some(Shade::PAPER));
        }
        LayoutSign::Hinge => draft.line(layer, &across, MIDDLE, Dash::LongDashDot),
        LayoutSign::UprightHinge => {
            draft.line(layer, &across, MIDDLE, Dash::LongDashDot);
            draft.circle(layer, centre, 1.0, NARROW, Some(Shade::PAPER));
        }
        LayoutSign::Pump => {
            let points = [(-1.4, 1.4), (1.4, 1.4), (0.0, -1.4)];
            let points = points.map(|(x, y)| Point2::new(centre.x + x, centre.y + y)).to_vec();
            draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
        }
        LayoutSign::Hose => {
            draft.line(layer, &across, 0.9, Dash::Solid);
            flow_arrow(draft, layer, centre, Point2::new(1.0, 0.0));
        }
        LayoutSign::PlainHose => draft.line(layer, &across, 0.9, Dash::Solid),
        LayoutSign::Tube => draft.line(layer, &across, 0.25, Dash::Solid),
        LayoutSign::Clamp => {
            draft.line(layer, &across, 0.9, Dash::Solid);
            let ends = [-1.2, 1.2].map(|by| Point2::new(centre.x, centre.y + by));
            draft.line(layer, &ends, 0.5, Dash::Solid);
        }
        LayoutSign::Bundle => {
            draft.line(layer, &across, BUNDLE, Dash::Solid);
            let stroke =
                [Point2::new(centre.x - 0.9, centre.y - 1.4), Point2::new(centre.x + 0.9, centre.y + 1.4)];
            draft.line(layer, &stroke, NARROW, Dash::Solid);
        }
        LayoutSign::Part(item) => sample(draft, item, centre),
        LayoutSign::InFeed(item) => {
            let subject = Subject::Row(crate::plan::RowId(0));
            let items = symbols::in_feed(item.item_kind(), Point3::default(), Angle::ZERO, subject);
            to_legend(draft, items, View { denominator: 10.0, origin: centre });
        }
        LayoutSign::Outlet => draft.circle(layer, centre, 1.3, NARROW, None),
        LayoutSign::Balloon => {
            draft.circle(layer, centre, 2.4, NARROW, None);
            let style = Style::plain(layer, USUAL).centred();
            draft.words(Point2::new(centre.x, centre.y - USUAL / 2.0), "n", style);
        }
    }
}

/// A part's symbol at its least size.
fn sample(draft: &mut PageDraft, item: &PartItem, at: Point2) {
    let held = item.symbol().along.least > 0.0;
    // What is true to scale is drawn small enough to be shorter than its place in the legend.
    let denominator = if held { 400.0 } else { (item.body().half_length * 1000.0 / 3.6).max(100.0) };
    let view = View { denominator, origin: at };
    let signs = symbols::part(
        item,
        Point3::default(),
        Angle::ZERO,
        false,
        Subject::Row(crate::plan::RowId(0)),
        Detail::Normal,
    );
    to_legend(draft, signs, view);
}

/// Signs of the screen in the legend, where they stand for nothing on the bar.
fn to_legend(draft: &mut PageDraft, items: Vec<crate::drawing::scene::DrawItem>, view: View) {
    let scene = Scene { items, extent: None };
    let start = draft.page.marks.len();
    let at = view.origin;
    draft.scene(&scene, &view, &Bounds { min: at, max: at }.grown(6.0));
    for mark in &mut draft.page.marks[start..] {
        mark.layer = PaperLayer::Sheet;
        mark.subject = None;
    }
}
