//! The pictures of the folding bar, each fitted to its own room: the side that is looked at large, with the tags of its
//! parts, where it can be moved and zoomed; the others small beside it or below it, whichever leaves the large one larger.

use std::rc::Rc;
use std::sync::Arc;

use eframe::egui::accesskit::Role;
use eframe::egui::{
    CornerRadius, FontId, Galley, Painter, Pos2, Rect, Response, Sense, Stroke, StrokeKind, Ui, Vec2,
    WidgetInfo, pos2, vec2,
};

use super::{OpenFold, SceneKey};
use crate::drawing::{
    self, Detail, FoldRoom, FoldedWays, Layer, Scene, SceneOptions, SeenFrom, Shape, Subject,
};
use crate::geometry::{Point2, View};
use crate::session::Session;
use crate::window::canvas::shown::Shown;
use crate::window::canvas::view::REACH;
use crate::window::canvas::{hover_card, paint, to_bar, to_screen};
use crate::window::theme::Theme;

/// What is drawn smaller than this has a ring about it where it is selected, points.
const SMALL: f32 = 26.0;
/// Largest radius of that ring, and what it leaves free about what it marks, points.
const RING: f32 = 17.0;
const RING_AIR: f32 = 6.0;
/// In a small picture a ring is so much smaller.
const IN_SMALL: f32 = 0.5;
/// Where in the corner of a picture its name begins, points.
const NAME_IN: Vec2 = Vec2::new(8.0, 3.0);
/// Between a ring and words, points.
const OFF_WORDS: f32 = 2.0;
/// Room about a picture, points.
const MARGIN: f64 = 14.0;
/// Room about a small one, for its name above it, points.
const SMALL_MARGIN: f64 = 22.0;
/// The share of the room that the small pictures take of its width or of its height.
const SHARE: f32 = 0.3;
/// Between pictures, points.
const GAP: f32 = 6.0;
/// Less room than this shows the large picture alone, points.
const LEAST: Vec2 = Vec2::new(420.0, 150.0);

/// The small pictures have room beside the large one.
fn holds_all(room: Rect) -> bool {
    room.width() >= LEAST.x && room.height() >= LEAST.y
}

/// Points on the screen in a metre, of a picture that is fitted to its room.
fn scale(room: &FoldRoom, place: Rect, margin: f64) -> f64 {
    View::fit(room.extent, f64::from(place.width()), f64::from(place.height()), margin).scale
}

/// Where the pictures stand: that of the side that is looked at first, then the others if they are to be shown.
fn places(whole: Rect, rooms: &[FoldRoom], side: SeenFrom, all: bool) -> Vec<(SeenFrom, Rect)> {
    let others: Vec<&FoldRoom> =
        rooms.iter().filter(|room| room.seen != side && !room.extent.is_empty()).collect();
    let Some(large) = rooms.iter().find(|room| room.seen == side) else { return Vec::new() };
    if !all || others.is_empty() || !holds_all(whole) {
        return vec![(side, whole)];
    }
    let count = others.len() as f32;
    let (beside, below) = (whole.width() * SHARE, whole.height() * SHARE);
    let in_column = {
        let left = Rect::from_min_max(whole.min, pos2(whole.right() - beside - GAP, whole.bottom()));
        let high = (whole.height() - GAP * (count - 1.0)) / count;
        let small = |at: usize| {
            let top = whole.top() + (high + GAP) * at as f32;
            Rect::from_min_size(pos2(whole.right() - beside, top), Vec2::new(beside, high))
        };
        (left, (0..others.len()).map(small).collect::<Vec<_>>())
    };
    let in_row = {
        let upper = Rect::from_min_max(whole.min, pos2(whole.right(), whole.bottom() - below - GAP));
        let wide = (whole.width() - GAP * (count - 1.0)) / count;
        let small = |at: usize| {
            let left = whole.left() + (wide + GAP) * at as f32;
            Rect::from_min_size(pos2(left, whole.bottom() - below), Vec2::new(wide, below))
        };
        (upper, (0..others.len()).map(small).collect::<Vec<_>>())
    };
    let (first, small) =
        if scale(large, in_row.0, MARGIN) > scale(large, in_column.0, MARGIN) { in_row } else { in_column };
    std::iter::once((side, first)).chain(others.iter().map(|room| room.seen).zip(small)).collect()
}

impl OpenFold {
    /// All sides can be shown, as far as is known from the last frame.
    pub(super) fn has_room_for_all(&self) -> bool {
        self.room.is_none_or(holds_all)
    }

    pub(super) fn pictures(&mut self, ui: &mut Ui, rect: Rect, session: &mut Session) {
        self.room = Some(rect);
        let Some(laid) = &self.laid else { return };
        let (rooms, revision) = (laid.rooms, laid.revision);
        self.pictures = places(rect, &rooms, self.side, self.all_sides);
        for (seen, place) in self.pictures.clone() {
            let Some(room) = rooms.iter().find(|room| room.seen == seen) else { continue };
            if seen == self.pictures[0].0 {
                self.large(ui, place, room, revision, session);
            } else {
                self.small(ui, place, room, session);
            }
        }
    }

    /// The picture that is looked at.
    fn large(&mut self, ui: &mut Ui, rect: Rect, room: &FoldRoom, revision: u64, session: &mut Session) {
        let now = (rect.size(), revision, room.seen);
        let is_other = self.fitted.is_some_and(|fitted| fitted != now) || self.seen != Some(room.seen);
        if self.canvas.view.is_none() || is_other {
            let (wide, deep) = (f64::from(rect.width()), f64::from(rect.height()));
            self.canvas.view = Some(View::fit(room.extent, wide, deep, MARGIN));
            (self.fitted, self.seen) = (Some(now), Some(room.seen));
        }
        let before = self.canvas.view;
        let name = format!("The folding bar, {}", lower(room.seen));
        let response = self.canvas.ground(ui, rect, &name);
        if response.dragged() {
            let by = response.drag_delta();
            self.canvas.pan(f64::from(by.x), f64::from(by.y));
        }
        if self.canvas.view != before {
            self.fitted = None;
        }
        let Some(view) = self.canvas.view else { return };
        if response.clicked() {
            let at = response.interact_pointer_pos();
            let scene = self.scene(session, &view, room, true);
            session.select(at.and_then(|at| under(&scene, rect, &view, at)));
            ui.ctx().request_discard("a press has changed what the panels show");
        }
        self.paint(ui, rect, &view, room, true, response, session);
    }

    /// Another side: a press anywhere in it makes this the large picture, where parts are selected.
    fn small(&mut self, ui: &mut Ui, rect: Rect, room: &FoldRoom, session: &Session) {
        let (wide, deep) = (f64::from(rect.width()), f64::from(rect.height()));
        let view = View::fit(room.extent, wide, deep, SMALL_MARGIN);
        let response = ui.interact(rect, ui.scope_id().with(("fold side", room.seen)), Sense::click());
        let name = format!("Show the folding bar {} large", lower(room.seen));
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name.clone()));
        let theme = Theme::of(ui.visuals());
        let is_aimed_at = response.hovered() || response.has_focus();
        let edge = if is_aimed_at { theme.accent } else { theme.line };
        ui.painter().rect_stroke(rect, CornerRadius::same(4), Stroke::new(1.0, edge), StrokeKind::Inside);
        if response.clicked() {
            self.side = room.seen;
            ui.ctx().request_discard("a press has changed what the panels show");
        }
        self.paint(ui, rect, &view, room, false, response, session);
    }

    #[expect(clippy::too_many_arguments, reason = "what is drawn, where, and what points at it")]
    fn paint(
        &mut self,
        ui: &Ui,
        rect: Rect,
        view: &View,
        room: &FoldRoom,
        is_large: bool,
        response: Response,
        session: &Session,
    ) {
        let scene = self.scene(session, view, room, is_large);
        // A press on a small one is for the whole of it.
        let pointer = response.hover_pos().filter(|_| is_large);
        let hovered = pointer.and_then(|at| under(&scene, rect, view, at));
        let theme = Theme::of(ui.visuals());
        let highlight = paint::Highlight { selected: session.selection(), hovered };
        let painter = ui.painter_at(rect);
        let rings = rings(rect, view, &scene, session, if is_large { 1.0 } else { IN_SMALL });
        let name = name_of(&painter, rect, room.seen, &theme);
        let named = Rect::from_min_size(name_place(rect), name.size());
        let taken =
            |ring: &Ring| Rect::from_center_size(ring.centre, Vec2::splat(2.0 * (ring.radius + OFF_WORDS)));
        // Words keep off them.
        paint::scene(&painter, rect, view, &scene, &highlight, &theme, |_| {
            rings.iter().map(taken).chain([named.expand(OFF_WORDS)]).collect()
        });
        painter.rect_filled(named.expand2(vec2(3.0, 0.0)), 3.0, theme.canvas.gamma_multiply(0.88));
        painter.galley(named.min, name, theme.soft);
        for ring in rings {
            painter.circle_stroke(ring.centre, ring.radius, Stroke::new(ring.width, theme.accent));
        }
        hover_card::under_pointer(response, &Shown::of(session), hovered, None);
    }

    fn ways(&mut self, session: &Session) -> Rc<FoldedWays> {
        let key = (session.revision(), session.routing().id, self.position);
        if let Some((known, ways)) = &self.ways
            && *known == key
        {
            return ways.clone();
        }
        let ways = Rc::new(FoldedWays::of(session.project(), session.laid(), self.position));
        self.ways = Some((key, ways.clone()));
        ways
    }

    fn scene(&mut self, session: &Session, view: &View, room: &FoldRoom, is_large: bool) -> Rc<Scene> {
        let options = SceneOptions {
            units: session.project().units,
            fold: self.position,
            seen: room.seen,
            // The names of parts stand in the picture that is looked at.
            hidden: if is_large { [].into() } else { [Layer::Tags].into() },
            detail: Detail::at(view.scale),
            marked: session.selection().clone(),
            ..SceneOptions::default()
        };
        let key = SceneKey { revision: session.revision(), routing: session.routing().id, options };
        let kept = SeenFrom::ALL.iter().position(|seen| *seen == room.seen).unwrap_or_default();
        if let Some((known, scene)) = &self.scenes[kept]
            && *known == key
        {
            return scene.clone();
        }
        let outcome = Some(session.shown_outcome());
        let ways = self.ways(session);
        let scene =
            drawing::fold_scene(session.project(), session.laid(), outcome, &key.options, &ways, room);
        let scene = Rc::new(scene);
        self.scenes[kept] = Some((key, scene.clone()));
        scene
    }
}

/// What lies at a place on the screen.
fn under(scene: &Scene, rect: Rect, view: &View, at: Pos2) -> Option<Subject> {
    drawing::pick(scene, to_bar(rect, view, at), REACH / view.scale)
}

/// The side within a sentence.
fn lower(seen: SeenFrom) -> String {
    seen.label().to_lowercase()
}

/// The name of a picture.
fn name_of(painter: &Painter, rect: Rect, seen: SeenFrom, theme: &Theme) -> Arc<Galley> {
    let width = (rect.width() - 2.0 * NAME_IN.x).max(0.0);
    painter.layout(seen.label().to_owned(), FontId::proportional(13.0), theme.soft, width)
}

/// Where the name of a picture begins: in its corner, in the margin over all that is drawn, at whatever scale.
fn name_place(rect: Rect) -> Pos2 {
    rect.min + NAME_IN
}

struct Ring {
    centre: Pos2,
    radius: f32,
    width: f32,
}

/// A ring about each selected thing that is drawn so small that its colour alone would hardly be seen; `size` times as large
/// as in the large picture.
fn rings(rect: Rect, view: &View, scene: &Scene, session: &Session, size: f32) -> Vec<Ring> {
    let mut around: Vec<Ring> = Vec::new();
    for item in &scene.items {
        if !item.subject.is_some_and(|subject| session.selection().contains(&subject)) {
            continue;
        }
        let (points, reach): (&[Point2], f64) = match &item.shape {
            Shape::Line { points, .. } | Shape::Polygon { points } => (points, 0.0),
            Shape::Circle { centre, radius } => (std::slice::from_ref(centre), *radius),
            Shape::Text(_) => continue,
        };
        let drawn =
            Rect::from_points(&points.iter().map(|point| to_screen(rect, view, *point)).collect::<Vec<_>>())
                .expand((reach * view.scale) as f32);
        let is_small = drawn.width().max(drawn.height()) < SMALL * size;
        if is_small && around.iter().all(|known| known.centre.distance(drawn.center()) > RING * size) {
            let radius = (drawn.size().max_elem() / 2.0 + RING_AIR * size).min(RING * size);
            around.push(Ring { centre: drawn.center(), radius, width: 1.0 + size });
        }
    }
    around
}
