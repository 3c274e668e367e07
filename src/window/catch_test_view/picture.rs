//! The tested bar as it was, in the colours of what was caught, and the strip with what was expected behind that.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use eframe::egui::{Rect, Ui, Vec2, pos2};

use crate::drawing::Colouring;
use crate::drawing::deviation::signed_percent;
use crate::plan::words::counted;
use crate::plan::{Project, RoutingGeometry, RowId, Subject};
use crate::quantities::{Measure, Ratio, UnitSystem};
use crate::session::catch_answers::{CatchAnswers, JudgedTest};
use crate::studies::catch_test::judged::JudgedRow;
use crate::window::canvas::caught::Caught;
use crate::window::canvas::shown::Shown;
use crate::window::canvas::view::Canvas;

/// Least and most height of the strip, and its share of the room, points.
const STRIP: (f32, f32, f32) = (70.0, 140.0, 0.36);
/// Least height of the bar; with less it is left away.
const BAR: f32 = 64.0;
/// Most height of both.
const MOST: f32 = 520.0;

/// The picture, and what it was made of last.
pub(super) struct Picture {
    pub(super) canvas: Canvas,
    /// Where the tested bar lies.
    laid: Option<(Arc<Project>, RoutingGeometry)>,
    caught: Option<(u64, Caught)>,
}

impl Default for Picture {
    fn default() -> Self {
        let mut canvas = Canvas::default();
        (canvas.colouring, canvas.extras.rulers) = (Colouring::Caught, false);
        Self { canvas, laid: None, caught: None }
    }
}

impl Picture {
    /// Shows it in at most so much height; the row that was pressed.
    pub(super) fn show(
        &mut self,
        ui: &mut Ui,
        room: f32,
        bar: &Arc<Project>,
        answers: &CatchAnswers,
        selected: &BTreeSet<Subject>,
        units: UnitSystem,
    ) -> Option<RowId> {
        if room < STRIP.0 {
            return None;
        }
        if !self.laid.as_ref().is_some_and(|(of, _)| Arc::ptr_eq(of, bar)) {
            let routing = bar.routings.first()?;
            self.laid = Some((Arc::clone(bar), RoutingGeometry::working(bar, routing)));
            self.canvas.fit();
        }
        let test = answers.judged().and_then(|judged| judged.as_ref().ok());
        if self.caught.as_ref().is_none_or(|(revision, _)| *revision != answers.revision()) {
            self.caught = test.map(|test| (answers.revision(), caught(test, units)));
        }
        let (of, geometry) = self.laid.as_ref()?;
        let routing = geometry.with(of.routings.first()?);
        let studied = test.map(|test| test.prepared.studied());
        // Before anything was caught.
        let nothing = Caught::default();
        let shown = Shown {
            project: studied.as_ref().map_or(of, |studied| studied.project),
            routing: studied.as_ref().map_or(routing, |studied| studied.routing),
            outcome: test.map(|test| &test.caught),
            beside: None,
            caught: Some(test.and(self.caught.as_ref()).map_or(&nothing, |(_, caught)| caught)),
            revision: answers.revision(),
            slot: 0,
            selected,
        };
        let room = room.min(MOST);
        let strip = (room * STRIP.2).clamp(STRIP.0, STRIP.1);
        let width = ui.available_width();
        let legend = self.canvas.legend_height(ui, width - 16.0, &shown) + 4.0;
        let drawing = room - strip - legend;
        let has_drawing = drawing >= BAR;
        let height = if has_drawing { room } else { strip };
        let (_, whole) = ui.allocate_space(Vec2::new(width, height));
        let mut top = whole.top();
        let mut band = |height: f32| {
            let rect = Rect::from_min_max(pos2(whole.left(), top), pos2(whole.right(), top + height));
            top += height;
            rect
        };
        let mut pressed = None;
        if has_drawing {
            let place = band(drawing);
            let name = "The tested bar, coloured by what was caught";
            let pointed = self.canvas.picture(ui, place, &shown, name);
            if let Some(Subject::Row(row)) = pointed.chosen {
                pressed = Some(row);
            }
        } else {
            // The strip stands alone: as wide as the room, however low that is.
            let scene = self.canvas.scene(&shown);
            let place = Rect::from_min_size(whole.min, Vec2::splat(width));
            self.canvas.keep_fitted(place, &scene, &shown);
        }
        let place = band(strip);
        let name = "Strip of what was caught, with what was expected behind it";
        let pointed = self.canvas.strip(ui, place, &shown, name);
        if pointed.is_some() && ui.input(|input| input.pointer.primary_pressed()) {
            pressed = pointed;
        }
        if has_drawing {
            self.canvas.legend(ui, band(legend).shrink2(Vec2::new(8.0, 2.0)), &shown);
        }
        ui.advance_cursor_after_rect(whole);
        pressed
    }
}

/// What is shown beside the flows that were caught.
fn caught(test: &JudgedTest, units: UnitSystem) -> Caught {
    let judged = &test.judged;
    let mut expected = BTreeMap::new();
    let mut rows = BTreeMap::new();
    // Where what is asked is the target of each row that was caught, it is that of the others too.
    let is_target = judged.rows.iter().all(|row| row.asked == Some(row.target));
    for found in judged.expected.rows() {
        let row = judged.row(found.row);
        let from_asked = match row {
            Some(row) => row.asked.filter(|asked| asked.si() > 0.0).map(|asked| row.expected / asked - 1.0),
            None if is_target => found.deviation.map(Ratio::si),
            None => None,
        };
        if let Some(from_asked) = from_asked {
            expected.insert(found.row, Ratio::from_si(from_asked));
        }
        let expects = format!("expected {}", Measure::RowFlow.text(found.flow.si(), units));
        let lines = row.map_or_else(|| vec!["not caught".to_owned(), expects], |row| lines(row, units));
        rows.insert(found.row, lines);
    }
    Caught { expected, rows }
}

fn lines(row: &JudgedRow, units: UnitSystem) -> Vec<String> {
    let flow = |flow: f64| Measure::RowFlow.text(flow, units);
    let from = |from: Option<Ratio>| {
        from.map_or_else(String::new, |from| format!(", {} % from it", signed_percent(from)))
    };
    let mut lines = vec![format!("caught {}", flow(row.caught.si()))];
    if row.catches > 1 {
        lines.push(format!("mean of {}", counted(row.catches, "catch")));
    }
    if let Some(asked) = row.asked {
        lines.push(format!("asked {}{}", flow(asked.si()), from(row.from_asked)));
    }
    lines.push(format!("expected {}{}", flow(row.expected.si()), from(row.from_expected)));
    if row.is_outlier {
        lines.push("an outlier".to_owned());
    }
    lines
}
