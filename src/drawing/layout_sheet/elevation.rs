//! The bar seen from behind, below the overview: how high frame, parts and outlets are.

use std::collections::BTreeMap;

use super::sheet_drawing::SheetDrawing;
use crate::drawing::Subject;
use crate::drawing::label_places::spread;
use crate::drawing::paper::{MIDDLE, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE, sized};
use crate::drawing::scene::Dash;
use crate::geometry::Point2;
use crate::plan::words::tags;
use crate::quantities::Measure;

/// What is written of the tops of carriers.
const CARRIERS: &str = "tops of carriers";

/// What stands there that is no tag.
const NAMED: [&str; 4] = ["frame", "outlets", "all parts", CARRIERS];

/// Words beside the picture begin so far from it, millimetres.
const WORDS_AT: f64 = 12.0;

impl SheetDrawing<'_, '_> {
    /// Draws it in the middle of what is left between two heights, if that is enough; it is at the scale of its sheet.
    pub(super) fn elevation(&self, draft: &mut PageDraft, view: &View, top: f64, bottom: f64) {
        let (project, routing) = (self.source.project, self.source.routing);
        let (bar, units) = (&project.bar, self.source.units);
        let span = self.sheet.span;
        let here = |x: f64| (span.0..=span.1).contains(&x);
        // What stands how high, in whole millimetres.
        let mut heights: BTreeMap<i64, Vec<String>> = BTreeMap::new();
        let mut note = |height: f64, what: &str| {
            let all = heights.entry((height * 1000.0).round() as i64).or_default();
            if !all.iter().any(|known| known == what) {
                all.push(what.to_owned());
            }
        };
        let members: Vec<_> = bar.sections.iter().flat_map(|section| &section.members).collect();
        for member in &members {
            note(member.from.z, "frame");
        }
        bar.rows
            .iter()
            .filter(|row| here(row.x.si()))
            .for_each(|row| note(row.outlet_height.si(), "outlets"));
        let placed: Vec<_> = routing
            .parts
            .iter()
            .zip(routing.geometry.anchors.parts())
            .filter(|(part, placed)| part.mount.is_none() && here(placed.at.x))
            .collect();
        let height = |placed: &crate::plan::PlacedPart| (placed.at.z * 1000.0).round() as i64;
        let level = placed.windows(2).all(|pair| height(pair[0].1) == height(pair[1].1));
        for (part, placed) in &placed {
            note(placed.at.z, if level { "all parts" } else { &part.tag });
        }
        let tops = || self.carriers().map(|one| one.top().si());
        let carriers = tops().fold(None, |range: Option<(f64, f64)>, top| {
            Some(range.map_or((top, top), |(low, high)| (low.min(top), high.max(top))))
        });
        if let Some((low, high)) = carriers {
            let most = Measure::CutLength.text(high, units);
            let is_level = Measure::CutLength.text(low, units) == most;
            let what = if is_level { CARRIERS.to_owned() } else { format!("{CARRIERS}, up to {most}") };
            note(low, &what);
        }
        let highest = heights.keys().copied().max().unwrap_or(0) as f64 / 1000.0;
        let needed = (highest + 0.15) * view.millimetres() + 12.0;
        if heights.is_empty() || needed > top - bottom {
            return;
        }
        let ground = (f64::midpoint(top, bottom) - needed / 2.0 + 3.0).max(bottom + 2.0);
        let at =
            |x: f64, z: f64| Point2::new(view.at(Point2::new(x, 0.0)).x, ground + z * view.millimetres());
        let (left, right) = (at(span.0, 0.0).x, at(span.1, 0.0).x);
        let style = Style::plain(PaperLayer::Words, USUAL);
        let caption = "Seen from behind, at the same scale; heights above the ground to the middle of each";
        let above = at(0.0, highest + 0.1).y + 4.0;
        draft.words(Point2::new(left, above), caption, style.bold());
        for member in &members {
            let (from, to) = (member.from.x.max(span.0), member.to.x.min(span.1));
            let (from, to) = (from.min(to), from.max(to));
            let half = member.width.si() / 2.0 * view.millimetres();
            let (a, b) = (at(from, member.from.z), at(to, member.to.z));
            if member.from.x.max(member.to.x) < span.0 || member.from.x.min(member.to.x) > span.1 {
                continue;
            }
            let long = (b.x - a.x).max(half * 2.0);
            draft.area(PaperLayer::Frame, &sized(a.x, a.y - half, long, 2.0 * half), 0.0, Some(Shade::FRAME));
        }
        for carrier in self.carriers() {
            let [from, to] = carrier.ends.map(|end| at(end.at.x.clamp(span.0, span.1), end.at.z));
            if from.distance(to) > 0.5 {
                draft.line(PaperLayer::Carrier, &[from, to], NARROW, Dash::Solid);
            }
        }
        for row in bar.rows.iter().filter(|row| here(row.x.si())) {
            draft.circle(
                PaperLayer::Row,
                at(row.x.si(), row.outlet_height.si()),
                0.7,
                NARROW,
                Some(Shade::PAPER),
            );
        }
        for (part, placed) in &placed {
            let half = project.catalogue.item(&part.entry).map_or(0.05, |item| item.body().half_length);
            let half = (half * view.millimetres()).max(0.8);
            let centre = at(placed.at.x, placed.at.z);
            draft.subject = Some(Subject::Part(part.id));
            let bounds = sized(centre.x - half, centre.y - 0.9, 2.0 * half, 1.8);
            draft.area(PaperLayer::Notes, &bounds, MIDDLE, Some(Shade::PAPER));
            draft.subject = None;
        }
        draft.line(
            PaperLayer::Notes,
            &[Point2::new(left, ground), Point2::new(right, ground)],
            WIDE,
            Dash::Solid,
        );
        let levels: Vec<(f64, String)> = heights
            .iter()
            .map(|(height, what)| {
                let (named, tagged): (Vec<String>, Vec<String>) =
                    what.iter().cloned().partition(|one| NAMED.iter().any(|named| one.starts_with(named)));
                let mut words = named;
                if !tagged.is_empty() {
                    words.push(tags(&tagged));
                }
                let metres = *height as f64 / 1000.0;
                (metres, format!("{}: {}", Measure::CutLength.text(metres, units), words.join(", ")))
            })
            .collect();
        let wanted: Vec<f64> = levels.iter().map(|(height, _)| at(0.0, *height).y).collect();
        let room = (self.area.max.x - 3.0 - right - WORDS_AT).max(25.0);
        let lines: Vec<Vec<String>> =
            levels.iter().map(|(_, words)| draft.wrapped(words, style, room)).collect();
        let most = lines.iter().map(Vec::len).max().unwrap_or(1) as f64;
        let ys = spread(&wanted, USUAL * 1.5 * most + 0.8, ground, above);
        for ((lines, wanted), y) in lines.iter().zip(&wanted).zip(&ys) {
            let way = [
                Point2::new(right + 1.0, *wanted),
                Point2::new(right + 4.0, *wanted),
                Point2::new(right + WORDS_AT - 4.0, *y),
                Point2::new(right + WORDS_AT - 1.0, *y),
            ];
            draft.line(PaperLayer::Notes, &way, NARROW, Dash::Solid);
            for (index, line) in lines.iter().enumerate() {
                let at = Point2::new(right + WORDS_AT, y - USUAL / 2.0 - index as f64 * USUAL * 1.5);
                draft.words(at, line, style);
            }
        }
    }
}
