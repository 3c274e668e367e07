//! The bar seen from behind, below the overview: how high frame, parts and outlets are.

use std::collections::BTreeMap;

use super::sheet_drawing::SheetDrawing;
use crate::drawing::Subject;
use crate::drawing::label_places::spread;
use crate::drawing::paper::{MIDDLE, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE, sized};
use crate::drawing::scene::Dash;
use crate::geometry::Point2;
use crate::plan::words::tags;
use crate::plan::{Part, PlacedPart};
use crate::quantities::Measure;

/// Heights that print alike are one in steps of a hundredth of a millimetre.
const HEIGHT_STEPS: f64 = 1e5;

/// What is written of the tops of carriers.
const CARRIERS: &str = "tops of carriers";

/// What stands there that is no tag.
const NAMED: [&str; 4] = ["frame", "outlets", "all parts", CARRIERS];

/// Words beside the picture begin so far from it, millimetres.
const WORDS_AT: f64 = 12.0;

/// Words beside the picture are no narrower, millimetres.
const LEAST_BESIDE: f64 = 25.0;

/// From one of their lines to the next, millimetres.
const NEXT_LINE: f64 = USUAL * 1.5;

/// Left free between the words of two heights, millimetres.
const BETWEEN: f64 = 0.8;

/// Where the words of its heights stand.
enum Heights {
    /// Beside the picture, each at the end of a leader: lines of each, lowest first.
    Beside(Vec<Vec<String>>),
    /// Below the caption, where there is no room beside.
    Above(Vec<String>),
}

/// How it stands on a sheet.
struct Elevation {
    /// Heights above the ground in metres, lowest first, with what stands there.
    levels: Vec<(f64, String)>,
    heights: Heights,
    /// From the ground up to its caption, millimetres.
    deep: f64,
    /// All of it, millimetres.
    needed: f64,
}

impl SheetDrawing<'_, '_> {
    /// There is enough between two heights of a sheet to draw it.
    pub(super) fn has_room_for_elevation(
        &self,
        draft: &PageDraft,
        view: &View,
        (top, bottom): (f64, f64),
    ) -> bool {
        self.elevation_within(draft, view, top - bottom).is_none_or(|one| one.needed <= top - bottom)
    }

    /// How it stands within so much height, or would if that were enough; none where nothing has a height.
    fn elevation_within(&self, draft: &PageDraft, view: &View, free: f64) -> Option<Elevation> {
        let levels = self.levels();
        let style = Style::plain(PaperLayer::Words, USUAL);
        let across = |x: f64| view.at(Point2::new(x, 0.0)).x;
        let (left, right) = (across(self.sheet.span.0), across(self.sheet.span.1));
        let room = self.area.max.x - 3.0 - right - WORDS_AT;
        let has_room_beside = room >= LEAST_BESIDE;
        let lines: Vec<Vec<String>> =
            levels.iter().map(|(_, words)| draft.wrapped(words, style, room.max(LEAST_BESIDE))).collect();
        let column: f64 = lines.iter().map(|lines| lines.len() as f64 * NEXT_LINE + BETWEEN).sum();
        let highest = levels.last()?.0.max(0.0);
        // The picture from the ground up to its caption, or its words where these take more.
        let picture = (highest + 0.1) * view.millimetres() + 4.0;
        let around = 0.05 * view.millimetres() + 8.0;
        if has_room_beside && picture.max(column) + around <= free {
            let deep = picture.max(column);
            return Some(Elevation { levels, heights: Heights::Beside(lines), deep, needed: deep + around });
        }
        let all: Vec<&str> = levels.iter().rev().map(|(_, words)| words.as_str()).collect();
        let above = draft.wrapped(&all.join("; "), style, self.area.max.x - 3.0 - left);
        let deep = picture + above.len() as f64 * NEXT_LINE;
        Some(Elevation { levels, heights: Heights::Above(above), deep, needed: deep + around })
    }

    /// The parts that stand here, screwed onto no other.
    fn placed(&self) -> impl Iterator<Item = (&Part, &PlacedPart)> {
        let routing = self.source.routing;
        let all = routing.routing.parts.iter().zip(routing.geometry.anchors.parts());
        all.filter(|(part, placed)| {
            part.mount.is_none() && (self.sheet.span.0..=self.sheet.span.1).contains(&placed.at.x)
        })
    }

    /// What stands how high, in words.
    fn levels(&self) -> Vec<(f64, String)> {
        let (bar, units) = (&self.source.project.bar, self.source.units);
        let span = self.sheet.span;
        let here = |x: f64| (span.0..=span.1).contains(&x);
        // What stands how high, in steps of a hundredth of a millimetre, rounded as lists print it.
        let mut heights: BTreeMap<i64, Vec<String>> = BTreeMap::new();
        let mut note = |height: f64, what: &str| {
            let all = heights
                .entry((Measure::CutLength.rounded(height, units) * HEIGHT_STEPS).round() as i64)
                .or_default();
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
        let placed: Vec<_> = self.placed().collect();
        let height = |placed: &PlacedPart| (placed.at.z * 1000.0).round() as i64;
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
        heights
            .iter()
            .map(|(height, what)| {
                let (named, tagged): (Vec<String>, Vec<String>) =
                    what.iter().cloned().partition(|one| NAMED.iter().any(|named| one.starts_with(named)));
                let mut words = named;
                if !tagged.is_empty() {
                    words.push(tags(&tagged));
                }
                let metres = *height as f64 / HEIGHT_STEPS;
                (metres, format!("{}: {}", Measure::CutLength.text(metres, units), words.join(", ")))
            })
            .collect()
    }

    /// Draws it in the middle of what is left between two heights, if that is enough; it is at the scale of its sheet.
    pub(super) fn elevation(&self, draft: &mut PageDraft, view: &View, top: f64, bottom: f64) {
        let project = self.source.project;
        let bar = &project.bar;
        let span = self.sheet.span;
        let here = |x: f64| (span.0..=span.1).contains(&x);
        let Some(Elevation { levels, heights, deep, needed }) =
            self.elevation_within(draft, view, top - bottom).filter(|one| one.needed <= top - bottom)
        else {
            return;
        };
        let across = |x: f64| view.at(Point2::new(x, 0.0)).x;
        let (left, right) = (across(span.0), across(span.1));
        let style = Style::plain(PaperLayer::Words, USUAL);
        let ground = (f64::midpoint(top, bottom) - needed / 2.0 + 3.0).max(bottom + 2.0);
        let at = |x: f64, z: f64| Point2::new(across(x), ground + z * view.millimetres());
        let caption = "Seen from behind, at the same scale; heights above the ground to the middle of each";
        let above = ground + deep;
        draft.words(Point2::new(left, above), caption, style.bold());
        for member in bar.sections.iter().flat_map(|section| &section.members) {
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
        for (part, placed) in self.placed() {
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
        let lines = match heights {
            Heights::Beside(lines) => lines,
            Heights::Above(lines) => {
                for (index, line) in (1..).zip(&lines) {
                    draft.words(Point2::new(left, above - f64::from(index) * NEXT_LINE), line, style);
                }
                return;
            }
        };
        let depths: Vec<f64> = lines.iter().map(|lines| lines.len() as f64 * NEXT_LINE).collect();
        let wanted: Vec<f64> = levels.iter().map(|(height, _)| at(0.0, *height).y).collect();
        let ys = spread_blocks(&wanted, &depths, ground + NEXT_LINE / 2.0, above - NEXT_LINE / 2.0);
        for ((lines, wanted), y) in lines.iter().zip(&wanted).zip(&ys) {
            let way = [
                Point2::new(right + 1.0, *wanted),
                Point2::new(right + 4.0, *wanted),
                Point2::new(right + WORDS_AT - 4.0, *y),
                Point2::new(right + WORDS_AT - 1.0, *y),
            ];
            draft.line(PaperLayer::Notes, &way, NARROW, Dash::Solid);
            for (index, line) in lines.iter().enumerate() {
                let at = Point2::new(right + WORDS_AT, y - USUAL / 2.0 - index as f64 * NEXT_LINE);
                draft.words(at, line, style);
            }
        }
    }
}

/// Where the first lines of words for these heights on the sheet are, lowest first: blocks so deep, hanging from the middle of
/// their first line, none over another where there is room, each as near to its height as that allows.
fn spread_blocks(wanted: &[f64], depths: &[f64], from: f64, to: f64) -> Vec<f64> {
    let mut passed = 0.0;
    // With what lies between them taken out, they only have to be in order.
    let offsets: Vec<f64> = depths
        .iter()
        .enumerate()
        .map(|(index, depth)| {
            passed += if index == 0 { depth - NEXT_LINE } else { depth + BETWEEN };
            passed
        })
        .collect();
    let free: Vec<f64> = wanted.iter().zip(&offsets).map(|(at, offset)| at - offset).collect();
    let places = spread(&free, 0.0, from, to - passed);
    places.iter().zip(&offsets).map(|(at, offset)| at + offset).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of one line, of two and of one, at the same height: each ends 0.8 mm over the one below it.
    #[test]
    fn words_of_heights_that_are_near_each_other_stand_over_each_other() {
        let [one, two] = [NEXT_LINE, 2.0 * NEXT_LINE];
        let at = spread_blocks(&[50.0, 50.0, 50.0], &[one, two, one], 0.0, 100.0);
        assert!((at[1] - at[0] - two - BETWEEN).abs() < 1e-9, "{at:?}");
        assert!((at[2] - at[1] - one - BETWEEN).abs() < 1e-9, "{at:?}");
        assert_eq!(spread_blocks(&[10.0, 50.0], &[one, two], 0.0, 100.0), [10.0, 50.0]);
        // No lower than there is room for a second line.
        assert_eq!(spread_blocks(&[0.0], &[two], 0.0, 100.0), [NEXT_LINE]);
    }
}
