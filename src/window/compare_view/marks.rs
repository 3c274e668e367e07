//! What differs, marked in both drawings: a line along what is there, and a badge with a sign.
//!
//! What only one of the two has bears the letter of that one, the first on a dark disc and the second on a light one, as
//! their bars in the strip of differences are filled and open. The hues are neutral: none of them says which is better.

use std::sync::Arc;

use eframe::egui::{Align2, Color32, FontId, Galley, Painter, Pos2, Rect, Stroke, Vec2, pos2};

use crate::geometry::{Point3, View};
use crate::plan::{LineGeometry, Subject};
use crate::studies::comparison::{Change, Comparison, ItemDifference};
use crate::window::canvas::paint::PlacedWords;
use crate::window::canvas::shown::Shown;
use crate::window::canvas::to_screen;
use crate::window::theme::Theme;

/// Signs at the outlets of row feeds appear from this scale on, points per metre.
const SIGNS_AT_ROWS_FROM: f64 = 60.0;

/// The disc of a change, and what stands on it.
const fn colours(change: Change, theme: &Theme) -> (Color32, Color32) {
    match change {
        Change::Removed => (theme.ink, theme.canvas),
        Change::Added => (theme.canvas, theme.ink),
        Change::Moved | Change::Changed => (theme.hose, theme.canvas),
    }
}

/// The sign of a change on a disc.
pub(super) fn badge(
    painter: &Painter,
    at: Pos2,
    size: f32,
    change: Change,
    letters: &[String; 2],
    theme: &Theme,
) {
    let (ground, ink) = colours(change, theme);
    let edge = if change == Change::Added { theme.ink } else { theme.canvas };
    painter.circle(at, 7.0 * size, ground, Stroke::new(1.0, edge));
    sign(painter, at, size, change, letters, ink);
}

/// Height of the line that says what the signs mean, points.
pub(super) const LEGEND: f32 = 20.0;

/// Says what the signs mean, from the left of a rectangle.
pub(super) fn legend(painter: &Painter, rect: Rect, comparison: &Comparison, theme: &Theme) {
    let words = |text: String| painter.layout_no_wrap(text, FontId::proportional(11.0), theme.soft);
    let [a, b] = &comparison.names;
    let signs = [
        (Change::Removed, format!("only in {a}")),
        (Change::Added, format!("only in {b}")),
        (Change::Moved, "moved".to_owned()),
        (Change::Changed, "otherwise changed".to_owned()),
    ];
    let mut x = rect.left();
    let mut put = |galley: Arc<Galley>| {
        let wide = galley.size().x;
        painter.galley(pos2(x, rect.center().y - galley.size().y / 2.0), galley, theme.soft);
        x += wide + 16.0;
        x
    };
    let mut at = put(words("What differs".to_owned()));
    for (change, text) in signs {
        badge(painter, pos2(at + 6.0, rect.center().y), 0.85, change, &comparison.letters, theme);
        // Room for the sign stands before its words.
        at = put(words(format!("      {text}")));
    }
}

/// The bare sign.
fn sign(painter: &Painter, at: Pos2, size: f32, change: Change, letters: &[String; 2], ink: Color32) {
    let stroke = Stroke::new(1.6 * size.max(0.8), ink);
    let piece = |from: (f32, f32), to: (f32, f32)| {
        let place = |(x, y): (f32, f32)| pos2(at.x + x * size, at.y + y * size);
        painter.line_segment([place(from), place(to)], stroke);
    };
    match change {
        Change::Removed | Change::Added => {
            let letters = &letters[usize::from(change == Change::Added)];
            let points = if letters.chars().count() > 1 { 8.5 } else { 10.5 };
            painter.text(at, Align2::CENTER_CENTER, letters, FontId::proportional(points * size), ink);
        }
        Change::Moved => {
            piece((-3.5, 0.0), (3.5, 0.0));
            piece((0.8, -2.8), (3.5, 0.0));
            piece((0.8, 2.8), (3.5, 0.0));
        }
        Change::Changed => {
            piece((-3.2, -1.6), (3.2, -1.6));
            piece((-3.2, 1.6), (3.2, 1.6));
            piece((-1.8, 3.8), (1.8, -3.8));
        }
    }
}

/// Where a badge may stand beside its thing, points; and how many times as far off.
const OFFSETS: [(f32, f32); 8] = [
    (-16.0, -14.0),
    (16.0, -14.0),
    (0.0, -20.0),
    (-16.0, 14.0),
    (16.0, 14.0),
    (0.0, 20.0),
    (-21.0, 0.0),
    (21.0, 0.0),
];
const DISTANCES: [f32; 4] = [1.0, 1.5, 2.1, 2.8];

/// Where the sign of a row feed may stand beside its outlet, as shares of those of a badge.
const AT_ROW: f32 = 0.8;

/// Marks in one drawing what differs from the other; no badge lies over `words`, nor, where there is room, over `symbols`.
#[expect(clippy::too_many_arguments, reason = "what is marked, where, and what is in the way")]
pub(super) fn paint(
    painter: &Painter,
    rect: Rect,
    view: &View,
    shown: &Shown<'_>,
    comparison: &Comparison,
    side: usize,
    words: &[PlacedWords],
    symbols: &[Rect],
    theme: &Theme,
) {
    let letters = &comparison.letters;
    let own = |item: &ItemDifference| if side == 0 { item.a } else { item.b };
    // Small pictures get small badges, and no sign at every row: the list beside the drawings names those.
    let size = ((view.scale / 70.0) as f32).clamp(0.72, 1.0);
    let at_rows = view.scale >= SIGNS_AT_ROWS_FROM;
    let mut taken: Vec<Pos2> = Vec::new();
    let mut badges: Vec<(Pos2, Change)> = Vec::new();
    let mut signs: Vec<(Pos2, Change)> = Vec::new();
    for item in &comparison.items {
        let Some(subject) = own(item) else { continue };
        let (way, at) = place(shown, subject);
        let ink = theme.outline;
        let points: Vec<Pos2> = way.iter().map(|point| to_screen(rect, view, point.flat())).collect();
        let wide = if matches!(subject, Subject::Feed(_)) { 2.0 } else { 5.0 };
        for pair in points.windows(2) {
            painter.line_segment([pair[0], pair[1]], Stroke::new(wide, ink.gamma_multiply(0.4)));
        }
        let Some(at) = at.map(|at| to_screen(rect, view, at.flat())) else { continue };
        match subject {
            // Rows stand close together: a small sign at the outlet, without a disc.
            Subject::Feed(_) if !at_rows => {}
            Subject::Feed(_) => signs.push((at, item.change)),
            _ => badges.push((at, item.change)),
        }
    }
    // Beside the thing, and never on another badge or on words; farther off where nothing nearer is free.
    let beside = |at: Pos2, times: f32, wide: f32, taken: &[Pos2]| {
        let disc = |place: &Pos2| Rect::from_center_size(*place, Vec2::splat(wide));
        let off_words = |place: &Pos2| {
            taken.iter().all(|other| other.distance(*place) > wide)
                && words.iter().all(|word| !word.rect.intersects(disc(place)))
        };
        let off_all =
            |place: &Pos2| off_words(place) && symbols.iter().all(|symbol| !symbol.intersects(disc(place)));
        let places = || {
            DISTANCES.iter().flat_map(move |far| {
                OFFSETS.iter().map(move |(x, y)| pos2(at.x + x * far * times, at.y + y * far * times))
            })
        };
        places().find(off_all).or_else(|| places().find(off_words))
    };
    for (at, change) in badges {
        let Some(at) = beside(at, size, 15.0 * size, &taken) else { continue };
        taken.push(at);
        badge(painter, at, size, change, letters, theme);
    }
    for (at, change) in signs {
        let Some(at) = beside(at, AT_ROW, 11.0, &taken) else { continue };
        taken.push(at);
        sign(painter, at, 0.9, change, letters, theme.outline);
    }
}

/// The way of a thing, and where its badge belongs.
fn place(shown: &Shown<'_>, subject: Subject) -> (Vec<Point3>, Option<Point3>) {
    let (geometry, bar) = (shown.routing.geometry, &shown.project.bar);
    match subject {
        Subject::Part(id) => (Vec::new(), geometry.anchors.part(id).map(|part| part.at)),
        Subject::Run(id) => {
            let way = geometry.run(id).map(LineGeometry::places).unwrap_or_default();
            let at = middle(&way);
            (way, at)
        }
        Subject::Feed(id) => {
            let (Some(feed), Some(laid)) = (shown.routing.feed(id), geometry.feed(id)) else {
                return (Vec::new(), None);
            };
            let row = feed.branches.first().and_then(|branch| bar.row(branch.row));
            (laid.tubes().flat_map(LineGeometry::places).collect(), row.map(|row| bar.outlet(row)))
        }
        Subject::Row(id) => (Vec::new(), bar.row(id).map(|row| bar.outlet(row))),
    }
}

/// Half-way along a line.
fn middle(way: &[Point3]) -> Option<Point3> {
    let whole: f64 = way.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    let mut left = whole / 2.0;
    for pair in way.windows(2) {
        let piece = pair[0].distance(pair[1]);
        if piece >= left && piece > 0.0 {
            return Some(pair[0].towards(pair[1], left / piece));
        }
        left -= piece;
    }
    way.first().copied()
}
