//! The signs of the schematic: lines, dots, parts, plugs, the pump, flags to other sheets.

use crate::drawing::paper::{
    LARGE, MIDDLE, MarkKind, NARROW, NotedSign, PageDraft, PaperLayer, Shade, Style, USUAL, WIDE, sized,
};
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::kinds::ElementSymbol;
use crate::plan::kinds::symbol::{Drawn, Filling, Mark, MarkShape as MarkForm, SchematicForm, Weight};
use crate::plan::{FeedElement, PartItem, Port};

/// Radius of the dot of a connection.
const DOT: f64 = 0.8;

/// A hose is a wide line and a tube a narrow one, which are different types of line (ISO 128, at least 2 to 1).
pub(super) const HOSE: f64 = 0.7;

pub(super) const TUBE: f64 = 0.25;

pub(super) fn wire(draft: &mut PageDraft, layer: PaperLayer, points: &[Point2], width: f64) {
    let mut points = points.to_vec();
    points.dedup_by(|a, b| a.distance(*b) < 1e-9);
    draft.line(layer, &points, width, Dash::Solid);
}

pub(super) fn dot(draft: &mut PageDraft, layer: PaperLayer, at: Point2) {
    draft.signs.insert(NotedSign::Connection);
    draft.circle(layer, at, DOT, 0.0, Some(Shade::INK));
}

pub(super) fn sign(draft: &mut PageDraft, points: &[(f64, f64)], at: Point2) {
    let points: Vec<Point2> = points.iter().map(|(x, y)| Point2::new(at.x + x, at.y + y)).collect();
    draft.line(PaperLayer::Part, &points, MIDDLE, Dash::Solid);
}

pub(super) fn closed(draft: &mut PageDraft, points: &[(f64, f64)], at: Point2, fill: Shade) {
    let points = points.iter().map(|(x, y)| Point2::new(at.x + x, at.y + y)).collect();
    draft.mark(
        PaperLayer::Part,
        MarkKind::Area { points, line: Some((MIDDLE, Shade::INK)), fill: Some(fill) },
    );
}

/// Half the length of a part's symbol that stands in a line, mm, and of one at the end of a line.
pub(super) const HALF_IN_LINE: f64 = 4.0;

const HALF_ON_PORT: f64 = 3.2;

/// The same in the legend.
pub(super) const HALF_IN_LEGEND: f64 = 2.4;

/// A part that stands as a dot where its lines meet.
pub(super) fn is_dot(item: &PartItem) -> bool {
    item.facts().schematic == SchematicForm::Dot
}

/// Half the length of a part's symbol, mm.
pub(super) const fn half_of(item: &PartItem) -> f64 {
    if item.is_on_port() { HALF_ON_PORT } else { HALF_IN_LINE }
}

/// How a symbol stands on the sheet.
pub(super) struct Stand {
    /// The symbol's middle.
    pub(super) at: Point2,
    /// Millimetres of one of its units.
    pub(super) scale: f64,
    /// Where its own x points to, a unit vector.
    pub(super) along: Point2,
    /// The part is shut.
    pub(super) shut: bool,
}

/// The marks of a symbol.
pub(super) fn symbol_marks(draft: &mut PageDraft, marks: &[Mark], stand: &Stand) {
    let Stand { at, scale, along, shut } = *stand;
    let place = |(x, y): (f64, f64)| {
        let (x, y) = (x * scale, y * scale);
        Point2::new(at.x + x * along.x - y * along.y, at.y + x * along.y + y * along.x)
    };
    let shade = |filling| match filling {
        Filling::Ink => Shade::INK,
        Filling::InkWhereShut if shut => Shade::INK,
        Filling::InkWhereShut | Filling::Paper => Shade::PAPER,
    };
    for mark in marks.iter().filter(|mark| shut || mark.drawn != Drawn::WhileShut) {
        match &mark.form {
            MarkForm::Line { points, weight, dashed } => {
                let points: Vec<Point2> = points.iter().map(|point| place(*point)).collect();
                let width = match weight {
                    Weight::Plain => MIDDLE,
                    Weight::Strong | Weight::Pipe(_) => WIDE,
                };
                let dash = if *dashed { Dash::Dashed } else { Dash::Solid };
                draft.line(PaperLayer::Part, &points, width, dash);
            }
            MarkForm::Area { points, filling } => {
                let points = points.iter().map(|point| place(*point)).collect();
                let (line, fill) = (Some((MIDDLE, Shade::INK)), Some(shade(*filling)));
                draft.mark(PaperLayer::Part, MarkKind::Area { points, line, fill });
            }
            MarkForm::Circle { centre, radius, filling } => {
                draft.circle(PaperLayer::Part, place(*centre), radius * scale, MIDDLE, Some(shade(*filling)));
            }
            // The body of what stands here as a line with taps.
            MarkForm::RoundedBox { .. } => {}
        }
    }
}

/// The symbol of a part about its middle; liquid passes from above to below.
pub(super) fn part_symbol(draft: &mut PageDraft, item: &PartItem, at: Point2, shut: bool) {
    match item.facts().schematic {
        SchematicForm::Symbol { .. } => {
            // What is screwed onto a port stands upright; anything else with its inlet above.
            let inlet = item.port(Port::In).filter(|_| !item.is_on_port()).map(|port| port.facing);
            let inlet = inlet.unwrap_or_else(|| Point2::new(0.0, 1.0));
            let along = Point2::new(inlet.y, inlet.x);
            symbol_marks(draft, &item.symbol().marks, &Stand { at, scale: half_of(item), along, shut });
        }
        SchematicForm::Stroke => plug(draft, Point2::new(at.x, at.y + HALF_IN_LINE)),
        // A tee is a dot, a manifold a line with taps.
        SchematicForm::Dot | SchematicForm::Header => {}
    }
}

/// What is screwed onto the upper or lower end of a line: its symbol beyond the end, or a stroke across it.
pub(super) fn on_line_end(draft: &mut PageDraft, item: Option<&PartItem>, end: Point2, above: bool) {
    match item {
        Some(item) if matches!(item.facts().schematic, SchematicForm::Symbol { .. }) => {
            let away = if above { HALF_ON_PORT } else { -HALF_ON_PORT };
            part_symbol(draft, item, Point2::new(end.x, end.y + away), false);
        }
        _ => plug(draft, end),
    }
}

/// Half the length of the stroke that closes a line.
const STROKE: f64 = 1.3;

/// Closes the end of an upright line.
pub(super) fn plug(draft: &mut PageDraft, at: Point2) {
    draft.signs.insert(NotedSign::Plug);
    draft.line(
        PaperLayer::Part,
        &[Point2::new(at.x - STROKE, at.y), Point2::new(at.x + STROKE, at.y)],
        WIDE,
        Dash::Solid,
    );
}

pub(super) fn pump(draft: &mut PageDraft, at: Point2) {
    draft.signs.insert(NotedSign::Pump);
    draft.circle(PaperLayer::Part, at, 4.0, MIDDLE, Some(Shade::PAPER));
    closed(draft, &[(0.0, -4.0), (-2.0, -0.6), (2.0, -0.6)], at, Shade::INK);
}

/// A flag that goes on on another sheet, standing on the end of a line or hanging below it.
pub(super) fn flag(draft: &mut PageDraft, at: Point2, tag: &str, sheet: usize, above: bool) -> Bounds {
    let bottom = if above { at.y } else { at.y - FLAG };
    flag_in(draft, (at.x, bottom), tag, sheet, f64::NEG_INFINITY)
}

/// The same, standing on the end of a line, and no farther left than some place.
pub(super) fn flag_from(draft: &mut PageDraft, at: Point2, tag: &str, sheet: usize, left: f64) -> Bounds {
    flag_in(draft, (at.x, at.y), tag, sheet, left)
}

/// Height of a flag.
const FLAG: f64 = 4.4;

fn flag_in(draft: &mut PageDraft, (x, bottom): (f64, f64), tag: &str, sheet: usize, left: f64) -> Bounds {
    draft.signs.insert(NotedSign::GoesOn);
    let words = format!("{tag}, sheet {sheet}");
    let style = Style::plain(PaperLayer::Words, USUAL).centred();
    let width = draft.width_of(&words, style) + 3.0;
    let bounds = sized((x - width / 2.0).max(left), bottom, width, FLAG);
    draft.area(PaperLayer::Part, &bounds, NARROW, Some(Shade::PAPER));
    draft.words(Point2::new(bounds.centre().x, bottom + 1.3), &words, style);
    bounds
}

/// Height of the symbol of an element in a row's column.
pub(super) fn element_height(element: &FeedElement) -> f64 {
    element.item_kind().feed_symbol().map_or(0.0, |symbol| symbol.schematic_length)
}

/// The symbol of an element from a point downwards.
pub(super) fn element_symbol(draft: &mut PageDraft, symbol: &ElementSymbol, top: Point2) {
    let scale = symbol.schematic_length / 2.0;
    let at = Point2::new(top.x, top.y - scale);
    symbol_marks(draft, &symbol.marks, &Stand { at, scale, along: Point2::new(0.0, -1.0), shut: false });
}

/// Two lines of hoses or tubes cross on the sheet, away from their ends.
pub(super) fn crossing(draft: &PageDraft) -> bool {
    let mut pieces: Vec<(Point2, Point2)> = Vec::new();
    for mark in &draft.page.marks {
        if let (MarkKind::Line { points, .. }, PaperLayer::Hose | PaperLayer::Tube) = (&mark.kind, mark.layer)
        {
            pieces.extend(points.windows(2).map(|pair| (pair[0], pair[1])));
        }
    }
    let level = |(a, b): &&(Point2, Point2)| (a.y - b.y).abs() < 1e-9;
    let inside = |value: f64, a: f64, b: f64| value > a.min(b) + 0.1 && value < a.max(b) - 0.1;
    pieces.iter().filter(level).any(|(a, b)| {
        let upright = pieces.iter().filter(|piece| (piece.0.x - piece.1.x).abs() < 1e-9);
        upright.into_iter().any(|(c, d)| inside(c.x, a.x, b.x) && inside(a.y, c.y, d.y))
    })
}

/// A tag with words behind it in the height of dimensions: what it takes, and how it is written into a box.
pub(super) struct Tagged<'t> {
    pub(super) tag: &'t str,
    pub(super) behind: &'t str,
}

impl Tagged<'_> {
    /// Height of the box.
    pub(super) const HEIGHT: f64 = LARGE * 1.25;
    const GAP: f64 = 1.2;

    const TAG: Style = Style::plain(PaperLayer::Words, LARGE).bold();

    pub(super) fn width(&self, draft: &PageDraft) -> f64 {
        let behind = draft.width_of(self.behind, Style::plain(PaperLayer::Words, USUAL));
        draft.width_of(self.tag, Self::TAG) + if self.behind.is_empty() { 0.0 } else { Self::GAP + behind }
    }

    pub(super) fn write(&self, draft: &mut PageDraft, bounds: &Bounds, upright: bool) {
        let plain = Style::plain(PaperLayer::Words, USUAL);
        let behind = draft.width_of(self.tag, Self::TAG) + Self::GAP;
        if upright {
            let x = bounds.max.x - LARGE * 0.2;
            draft.words_up(Point2::new(x, bounds.min.y), self.tag, Self::TAG);
            draft.words_up(Point2::new(x, bounds.min.y + behind), self.behind, plain);
        } else {
            let y = bounds.min.y + LARGE * 0.2;
            draft.words(Point2::new(bounds.min.x, y), self.tag, Self::TAG);
            draft.words(Point2::new(bounds.min.x + behind, y), self.behind, plain);
        }
    }
}
