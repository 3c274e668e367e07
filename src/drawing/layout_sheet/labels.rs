//! Names of parts, hoses, sections and outlets, where there is room for them.

use super::sheet_drawing::SheetDrawing;
use super::sheets::{ABOVE_DRAWING, LEGEND, STRIP_GAP};
use super::small_tables::{TABLE_LINE, small_table, small_table_widths};
use crate::drawing::Subject;
use crate::drawing::label_places::along;
use crate::drawing::layout_tables::{places_of, row_heading, without_balloons};
use crate::drawing::paper::{MarkKind, NARROW, PageDraft, PaperLayer, SMALL, Shade, Style, View};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2};
use crate::plan::kinds::Reading;
use crate::plan::part::place_offset;
use crate::plan::{Manifold, PartItem, Port};
use crate::quantities::Measure;

/// Something with a tag or a length to write beside it.
pub(super) struct PlacedLabel {
    pub(super) candidates: Vec<(Bounds, bool)>,
    pub(super) words: String,
    pub(super) from: Point2,
    /// What it belongs to, in boxes: a part's symbol, or the stretches of a hose.
    pub(super) own: Vec<Bounds>,
    /// Names a hose; a part otherwise.
    pub(super) is_hose: bool,
}

/// From box to box, 0 where they meet.
fn gap(a: &Bounds, b: &Bounds) -> f64 {
    let across = (a.min.x - b.max.x).max(b.min.x - a.max.x).max(0.0);
    let along = (a.min.y - b.max.y).max(b.min.y - a.max.y).max(0.0);
    across.hypot(along)
}

impl PlacedLabel {
    /// How far from words in a box to what they name.
    fn away(&self, words: &Bounds) -> f64 {
        self.own.iter().map(|own| gap(own, words)).fold(f64::INFINITY, f64::min)
    }
}

impl<'a> SheetDrawing<'a, '_> {
    /// Writes labels, the ones with the fewest places first; those without a place are left away and counted.
    pub(super) fn write_labels(&mut self, draft: &mut PageDraft, labels: Vec<PlacedLabel>, window: &Bounds) {
        let layer = PaperLayer::Words;
        let style = Style::plain(layer, SMALL);
        for mark in &draft.page.marks {
            if matches!(mark.kind, MarkKind::Words(_)) {
                self.places.keep_clear(mark.kind.bounds());
            }
        }
        for label in &labels {
            let boxes: Vec<Bounds> = label.candidates.iter().map(|(bounds, _)| *bounds).collect();
            let Some((index, crosses)) = self.places.place(&boxes, &window.grown(6.0)) else { continue };
            let (bounds, upright) = label.candidates[index];
            if crosses {
                // Lines end at the words instead of running through them.
                draft.area(layer, &bounds.grown(0.2), 0.0, Some(Shade::PAPER));
            }
            if upright {
                draft.words_up(Point2::new(bounds.max.x - SMALL * 0.3, bounds.min.y), &label.words, style);
            } else {
                draft.words(Point2::new(bounds.min.x, bounds.min.y + SMALL * 0.3), &label.words, style);
            }
            // Far off, or as near to another of its kind, a leader says what it belongs to.
            let near = Point2::new(
                label.from.x.clamp(bounds.min.x, bounds.max.x),
                label.from.y.clamp(bounds.min.y, bounds.max.y),
            );
            let away = label.away(&bounds);
            let mistaken = labels
                .iter()
                .filter(|other| other.is_hose == label.is_hose && other.words != label.words)
                .any(|other| other.away(&bounds) < away + 0.4);
            if away > 4.0 || mistaken && near.distance(label.from) > 1.5 {
                draft.line(PaperLayer::Notes, &[near, label.from], NARROW, Dash::Solid);
            }
        }
    }

    pub(super) fn labels(&self, draft: &PageDraft, long: bool, window: &Bounds) -> Vec<PlacedLabel> {
        let routing = self.source.routing;
        let catalogue = &self.source.project.catalogue;
        let height = SMALL * 1.3;
        let mut labels = Vec::new();
        for part in &routing.parts {
            let Some(bounds) = Self::part_bounds(draft, Subject::Part(part.id)) else { continue };
            let mut words = part.tag.clone();
            let item = catalogue.item(&part.entry);
            if long {
                let size = item.map(|item| item.size(self.source.units)).unwrap_or_default();
                if !size.is_empty()
                    && !item.is_some_and(|item| item.facts().reading == Some(Reading::Pressure))
                {
                    words = format!("{words} {size}");
                }
                let pressure = self.source.outcome.and_then(|outcome| outcome.part(part.id)?.pressure);
                if let Some(pressure) = pressure
                    && item.is_some_and(|item| {
                        item.is_for_rows() || item.facts().reading == Some(Reading::Pressure)
                    })
                {
                    words = format!("{words}, {}", Measure::Pressure.text(pressure.si(), self.source.units));
                }
            }
            let width = self.source.letters.width(&words, false) * SMALL;
            labels.push(PlacedLabel {
                candidates: Self::around(&bounds, width, height),
                words,
                from: bounds.centre(),
                own: vec![bounds],
                is_hose: false,
            });
        }
        for run in &routing.runs {
            let pieces: Vec<Vec<Point2>> = draft
                .page
                .marks
                .iter()
                .filter(|mark| mark.subject == Some(Subject::Run(run.id)))
                .filter_map(|mark| match &mark.kind {
                    MarkKind::Line { points, .. } => Some(points.clone()),
                    _ => None,
                })
                .collect();
            if pieces.is_empty() {
                continue;
            }
            let mut words = run.tag.clone();
            if long {
                words = self.hose_words(run);
            }
            let width = self.source.letters.width(&words, false) * SMALL;
            let stock = catalogue.stock(&run.line.stock);
            let outside = stock.map_or(0.02, |stock| stock.outside.si()) * 1000.0 / self.sheet.denominator;
            let candidates = along(&pieces, width, height, (outside / 2.0).max(0.5) + 0.6);
            let from = pieces
                .iter()
                .flat_map(|piece| piece.windows(2))
                .max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1])))
                .map_or(window.centre(), |pair| {
                    Point2::new(f64::midpoint(pair[0].x, pair[1].x), f64::midpoint(pair[0].y, pair[1].y))
                });
            let stretches = pieces.iter().flat_map(|piece| piece.windows(2));
            let own = stretches.map(|pair| Bounds::around(pair.iter().copied())).collect();
            labels.push(PlacedLabel { candidates, words, from, own, is_hose: true });
        }
        // Who has the least choice chooses first.
        labels.sort_by_key(|label| label.candidates.len());
        labels
    }

    /// `H3 Ø25 mm, 4520 mm`, with the flow where it is asked for.
    fn hose_words(&self, run: &crate::plan::Run) -> String {
        let SheetSource { project, routing, units, .. } = *self.source;
        let stock = project.catalogue.stock(&run.line.stock);
        let bore = stock.map_or_else(String::new, |stock| {
            format!(" Ø{}", Measure::Bore.short_text(stock.bore.si(), units))
        });
        let length = routing.geometry.run(run.id).map_or_else(String::new, |laid| {
            format!(", {}", Measure::CutLength.short_text(laid.cut(units).si(), units))
        });
        let flow = self
            .source
            .outcome
            .and_then(|outcome| outcome.run(run.id)?.flow)
            .map_or_else(String::new, |flow| {
                format!(", {}", Measure::TotalFlow.text(flow.si().abs(), units))
            });
        format!("{}{bore}{length}{flow}", run.tag)
    }

    pub(super) fn section(&mut self, draft: &mut PageDraft<'a>) {
        let depth = self.depth(0.45);
        let scale = 1000.0 / self.sheet.denominator;
        let strip_height = row_heading(self.source).len() as f64 * SMALL * 2.0 + 4.0;
        let places = self.sheet.section.map(|id| places_of(self.source, id)).unwrap_or_default();
        let places_height =
            if places.lines.is_empty() { 0.0 } else { (places.lines.len() + 1) as f64 * TABLE_LINE + 5.0 };
        // Balloons over the drawing, figures of the rows and places of the parts under it, all in the middle of what is
        // left; the places go to the sheet of tables where they have no room here.
        let free = self.area.depth() - LEGEND - 4.0;
        let needed = (depth.1 - depth.0) * scale + ABOVE_DRAWING + STRIP_GAP + strip_height;
        let shows_places = places_height > 0.0 && needed + places_height <= free;
        let needed = needed + if shows_places { places_height } else { 0.0 };
        let spare = (free - needed).max(0.0);
        let top = self.area.max.y - ABOVE_DRAWING - spare / 2.0;
        let view = self.view(top, depth.1);
        let lowest = self.area.min.y + LEGEND + strip_height + STRIP_GAP;
        let mut window = self.window(&view, depth);
        self.cut_off(draft, &mut window, lowest);
        self.head(draft, &self.heading(), &[self.reading(), without_balloons(self.source)]);
        self.travel(draft);
        let strip_top = window.min.y - STRIP_GAP;
        self.row_strip(draft, &view, &window, strip_top);
        if shows_places {
            let widths = small_table_widths(draft, &places);
            let width: f64 = widths.iter().sum();
            let left = (window.centre().x - width / 2.0).min(self.area.max.x - 4.0 - width);
            let at = Point2::new(left.max(self.area.min.x + 4.0), strip_top - strip_height - 1.0);
            small_table(draft, at, &places, &widths);
        }
        self.shapes(draft, &view, &window);
        self.outlet_numbers(draft, &view);
        self.match_lines(draft, &view, &window);
        self.balloons(draft, &window);
        let labels = self.labels(draft, true, &window);
        self.write_labels(draft, labels, &window);
        self.legend(draft);
    }

    /// Numbers of the outlets on the manifolds; where they would be too small to read, of the first and last.
    fn outlet_numbers(&self, draft: &mut PageDraft, view: &View) {
        let SheetSource { project, routing, .. } = *self.source;
        for part in &routing.parts {
            let Some(item @ PartItem::Manifold(Manifold { outlets, spacing, .. })) =
                project.catalogue.item(&part.entry)
            else {
                continue;
            };
            if Self::part_bounds(draft, Subject::Part(part.id)).is_none() {
                continue;
            }
            let Some(placed) = routing.geometry.anchors.part(part.id) else { continue };
            let apart = spacing.si() * view.millimetres();
            let all = apart >= 2.2;
            let height = if all { (apart * 0.5).min(1.3) } else { 1.2 };
            let style = Style::plain(PaperLayer::Words, height).centred();
            for number in (1..=*outlets).filter(|number| all || *number == 1 || number == outlets) {
                let offset = item.port_offset(Port::Outlet(number));
                let inside = Point2::new(offset.x, offset.y * 0.45);
                let centre = view.at(place_offset(placed.at, placed.turn, inside).flat());
                draft.words(Point2::new(centre.x, centre.y - height / 2.0), &number.to_string(), style);
            }
        }
    }
}
