//! One of two pictures beside each other: the one whose routing is in hand is worked on like the drawing itself, the
//! other is looked at until it is pressed.

use eframe::egui::{Color32, PointerButton, Rect, Response, Ui, Vec2};

use super::editor::{tool_marks, tool_words};
use super::halves::Half;
use super::pointed_outlet::{outlet_words, pointed_outlet, ring_outlet};
use super::shown::Shown;
use super::view::{Canvas, REACH};
use super::{hover_card, to_bar};
use crate::drawing::{self, Scene, Subject};
use crate::geometry::Point2;
use crate::session::{Gesture, Session, Tool};
use crate::window::theme::Theme;

impl Canvas {
    /// The picture that is worked on from now on, so that what is dragged in it is followed.
    pub(in crate::window) fn work_on(&mut self, response: &Response) {
        self.grounds = vec![(response.id, response.rect, Half::Whole)];
        self.has_followed = false;
    }

    /// What lies under the pointer in a picture that is only looked at; a drag by another button than the first one
    /// moves what is shown.
    pub(in crate::window) fn look(&mut self, response: &Response, scene: &Scene) -> Option<Subject> {
        let view = self.view?;
        let by: Vec2 = response.drag_delta();
        if response.dragged_by(PointerButton::Middle) || response.dragged_by(PointerButton::Secondary) {
            self.view = Some(view.panned(f64::from(by.x), f64::from(by.y)));
            self.fitted = None;
        }
        self.pointer = response.hover_pos().map(|at| to_bar(response.rect, &view, at));
        drawing::pick(scene, self.pointer?, REACH / view.scale)
    }

    /// Paints one of the pictures. `in_hand` is the session for the picture that is worked on, with the pointer's place
    /// on the bar; the other has `hint` at the pointer, what a press there would do. Returns what the keyboard reached.
    #[expect(clippy::too_many_arguments, reason = "what is drawn, where, and what the pointer does there")]
    pub(in crate::window) fn paint_beside(
        &mut self,
        ui: &mut Ui,
        response: Response,
        rect: Rect,
        shown: &Shown<'_>,
        session: &Session,
        hit: Option<Subject>,
        pointer: Option<Point2>,
        hint: Option<String>,
    ) -> Option<Subject> {
        let theme = Theme::of(ui.visuals());
        let scene = self.scene(shown);
        let is_worked_on = hint.is_none();
        let focused = self.paint(ui, rect, shown, &scene, hit, |marks| match (hint, pointer) {
            (None, _) => tool_words(marks, session, pointer, &theme),
            (Some(hint), Some(at)) if *session.tool() != Tool::Select => {
                let below = marks.at(at) + Vec2::new(0.0, 30.0);
                let colour: Color32 = theme.soft;
                marks.word(below, hint, 11.0, colour);
            }
            _ => {}
        });
        let selects = is_worked_on && *session.tool() == Tool::Select && *session.gesture() == Gesture::None;
        let outlet = pointer.filter(|_| selects).and_then(|at| pointed_outlet(session, hit, at));
        if let Some(view) = self.view.filter(|_| is_worked_on) {
            tool_marks(&ui.painter_at(rect), rect, &view, session, pointer, &theme);
            ring_outlet(&ui.painter_at(rect), rect, &view, session, outlet, &theme);
        }
        let hit = hit.filter(|_| *session.tool() == Tool::Select && response.contains_pointer());
        let nearest = outlet.map(|port| outlet_words(session, port));
        hover_card::under_pointer(response, shown, hit, nearest.as_deref());
        focused
    }
}
