//! What the signs on a sheet mean.

use std::collections::BTreeMap;

use super::jumps::with_jumps;
use super::signs::{
    HALF_IN_LEGEND, HOSE, Stand, TUBE, closed, crossing, dot, element_symbol, plug, sign, symbol_marks, wire,
};
use crate::drawing::Subject;
use crate::drawing::flow_arrow::flow_arrow;
use crate::drawing::paper::{MIDDLE, NARROW, NotedSign, PageDraft, PaperLayer, Shade, Style, USUAL};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2};
use crate::plan::kinds::ElementSymbol;
use crate::plan::kinds::symbol::SchematicForm;
use crate::plan::{ItemKind, PartItem, RowFeed};

/// Height of the legend.
pub(super) const LEGEND: f64 = 18.0;

/// A sign of the legend.
enum LegendSign {
    Hose,
    Tube,
    Connection,
    /// Two lines that cross; the level one jumps over the other.
    Crossing(bool),
    Pump,
    /// A part, perhaps shut.
    Part(PartItem, bool),
    Plug,
    Element(ElementSymbol),
    RowOutlet,
}

impl LegendSign {
    pub(super) fn name(&self) -> &'static str {
        match self {
            Self::Hose => "hose, and which way it flows",
            Self::Tube => "delivery tube",
            Self::Connection => "connected",
            Self::Crossing(_) => "crossing, not connected",
            Self::Pump => "pump",
            Self::Part(item, shut) => match item.facts().schematic {
                SchematicForm::Symbol { legend, legend_shut } => {
                    legend_shut.filter(|_| *shut).unwrap_or(legend)
                }
                // They have no symbol of their own.
                SchematicForm::Dot | SchematicForm::Header | SchematicForm::Stroke => "",
            },
            Self::Plug => "plugged",
            Self::Element(symbol) => symbol.legend,
            Self::RowOutlet => "row outlet",
        }
    }

    /// About a point.
    pub(super) fn draw(&self, draft: &mut PageDraft, at: Point2) {
        match self {
            Self::Hose => {
                let ends = [-3.5, 3.5].map(|x| Point2::new(at.x + x, at.y));
                wire(draft, PaperLayer::Sheet, &ends, HOSE);
                flow_arrow(draft, PaperLayer::Sheet, at, Point2::new(1.0, 0.0));
            }
            Self::Tube => {
                let ends = [-3.5, 3.5].map(|x| Point2::new(at.x + x, at.y));
                wire(draft, PaperLayer::Sheet, &ends, TUBE);
            }
            Self::Connection => {
                sign(draft, &[(-3.0, 0.0), (3.0, 0.0)], at);
                sign(draft, &[(0.0, 0.0), (0.0, -2.4)], at);
                dot(draft, PaperLayer::Sheet, at);
            }
            Self::Crossing(jumps) => {
                let upright =
                    [(0.0, 2.4), (0.0, -2.4)].map(|(x, y)| Point2::new(at.x + x, at.y + y)).to_vec();
                let level = [-3.0, 3.0].map(|x| Point2::new(at.x + x, at.y));
                let others = if *jumps { std::slice::from_ref(&upright) } else { &[] };
                for line in [&with_jumps(&level, others).0, &upright] {
                    draft.line(PaperLayer::Part, line, MIDDLE, Dash::Solid);
                }
            }
            Self::Pump => {
                draft.circle(PaperLayer::Part, at, 2.6, MIDDLE, Some(Shade::PAPER));
                closed(draft, &[(0.0, -2.6), (-1.3, -0.4), (1.3, -0.4)], at, Shade::INK);
            }
            Self::Part(item, shut) => {
                let along = Point2::new(1.0, 0.0);
                let stand = Stand { at, scale: HALF_IN_LEGEND, along, shut: *shut };
                symbol_marks(draft, &item.symbol().marks, &stand);
            }
            Self::Plug => {
                sign(draft, &[(0.0, -2.0), (0.0, 1.0)], at);
                plug(draft, Point2::new(at.x, at.y + 1.0));
            }
            Self::Element(symbol) => {
                let half = symbol.schematic_length / 2.0;
                element_symbol(draft, symbol, Point2::new(at.x, at.y + half));
            }
            Self::RowOutlet => closed(draft, &[(-1.6, 1.2), (1.6, 1.2), (0.0, -1.6)], at, Shade::PAPER),
        }
    }
}

/// The signs that a sheet holds.
fn signs_of(source: &SheetSource, draft: &PageDraft) -> Vec<LegendSign> {
    let (project, routing) = (source.project, source.routing);
    let drawn: Vec<Subject> = draft
        .page
        .marks
        .iter()
        .filter(|mark| mark.layer == PaperLayer::Part)
        .filter_map(|mark| mark.subject)
        .collect();
    let mut signs = Vec::new();
    let lines_of = |layer, wanted: fn(Subject) -> bool| {
        draft.page.marks.iter().any(|mark| mark.layer == layer && mark.subject.is_some_and(wanted))
    };
    if lines_of(PaperLayer::Hose, |subject| matches!(subject, Subject::Run(_))) {
        signs.push(LegendSign::Hose);
    }
    if lines_of(PaperLayer::Tube, |subject| matches!(subject, Subject::Feed(_))) {
        signs.push(LegendSign::Tube);
    }
    let noted = |sign| draft.signs.contains(&sign);
    if noted(NotedSign::Connection) {
        signs.push(LegendSign::Connection);
    }
    if noted(NotedSign::Jump) || crossing(draft) {
        signs.push(LegendSign::Crossing(noted(NotedSign::Jump)));
    }
    if noted(NotedSign::Pump) {
        signs.push(LegendSign::Pump);
    }
    // Of each kind the first, open and shut apart.
    let mut parts: BTreeMap<(u8, bool), PartItem> = BTreeMap::new();
    for part in routing.parts.iter().filter(|part| drawn.contains(&Subject::Part(part.id))) {
        let Some(item) = project.catalogue.item(&part.entry) else { continue };
        if let SchematicForm::Symbol { legend_shut, .. } = item.facts().schematic {
            let shut = part.shut && legend_shut.is_some();
            parts.entry((item.facts().kind.list_order, shut)).or_insert(*item);
        }
    }
    signs.extend(parts.into_iter().map(|((_, shut), item)| LegendSign::Part(item, shut)));
    if noted(NotedSign::Plug) {
        signs.push(LegendSign::Plug);
    }
    let rows = || routing.feeds.iter().filter(|feed| drawn.contains(&Subject::Feed(feed.id)));
    let kinds: BTreeMap<u8, ItemKind> = rows()
        .flat_map(RowFeed::elements)
        .map(|element| (element.item_kind().common().list_order, element.item_kind()))
        .collect();
    signs.extend(kinds.into_values().filter_map(ItemKind::feed_symbol).map(LegendSign::Element));
    if rows().next().is_some() {
        signs.push(LegendSign::RowOutlet);
    }
    signs
}

/// The signs and what they mean.
pub(super) fn legend(source: &SheetSource, draft: &mut PageDraft, area: &Bounds) {
    let signs = signs_of(source, draft);
    let top = area.min.y + LEGEND;
    let layer = PaperLayer::Sheet;
    draft.line(layer, &[Point2::new(area.min.x, top), Point2::new(area.max.x, top)], NARROW, Dash::Solid);
    let style = Style::plain(layer, USUAL);
    let (left, right) = (area.min.x + 5.0, area.max.x - 3.0);
    let mut at = Point2::new(left, area.min.y + LEGEND * 5.0 / 6.0);
    draft.words(Point2::new(at.x, at.y - USUAL / 2.0), "Legend", style.bold());
    at.x += draft.width_of("Legend", style.bold()) + 4.0;
    let start = draft.page.marks.len();
    let step = LEGEND / 3.0;
    for own in signs {
        let name = own.name();
        let size = 8.0 + draft.width_of(name, style) + 5.0;
        if at.x + size > right {
            at = Point2::new(left, at.y - step);
        }
        own.draw(draft, Point2::new(at.x + 3.5, at.y));
        draft.words(Point2::new(at.x + 8.0, at.y - USUAL / 2.0), name, style);
        at.x += size;
    }
    let says = if draft.signs.contains(&NotedSign::GoesOn) {
        "Ø inside of a hose; outside × inside of a tube; lengths with slack; a flag goes on at the same flag on the sheet it names"
    } else {
        "Ø inside of a hose; outside × inside of a tube; lengths with slack"
    };
    let size = draft.width_of(says, style);
    if at.x + size > right {
        at = Point2::new(left, at.y - step);
    }
    draft.words(Point2::new(at.x, at.y - USUAL / 2.0), says, style.shade(Shade::SOFT));
    for mark in &mut draft.page.marks[start..] {
        mark.layer = PaperLayer::Sheet;
    }
}
