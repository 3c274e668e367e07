//! What was caught under the rows in a catch test, in place of what is predicted: what was expected stands behind it.

use std::collections::BTreeMap;

use eframe::egui::{Painter, Rangef, Rect, Stroke, StrokeKind};

use crate::plan::{Project, RowId};
use crate::quantities::Ratio;
use crate::window::theme::Theme;

/// What is known of a catch test beside the flows that were caught.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Caught {
    /// What the model expects under the same conditions, from what is asked of the row.
    pub expected: BTreeMap<RowId, Ratio>,
    /// What is said of each row of the bar, in short lines: what was caught, and how far that is from what.
    pub rows: BTreeMap<RowId, Vec<String>>,
}

impl Caught {
    /// What is said of a row, a line each.
    pub(super) fn lines(&self, row: RowId) -> Option<String> {
        self.rows.get(&row).map(|lines| lines.join("\n"))
    }

    /// The same in one sentence, for screen readers.
    pub(super) fn sentence(&self, row: RowId) -> Option<String> {
        self.rows.get(&row).map(|lines| lines.join(", "))
    }

    /// From the lowest expected deviation to the highest.
    pub(super) fn reach(&self) -> Option<(f64, f64)> {
        let all = self.expected.values().map(|one| one.si()).filter(|one| one.is_finite());
        all.map(|one| (one, one)).reduce(|all, one| (all.0.min(one.0), all.1.max(one.1)))
    }

    /// Paints what was expected as frames behind bars that are so wide. `x` and `y` say where metres and deviations are on the
    /// screen, `room` from where to where the strip goes.
    pub(super) fn paint_expected(
        &self,
        project: &Project,
        (painter, theme): (&Painter, &Theme),
        wide: f32,
        room: Rangef,
        (x, y): (impl Fn(f64) -> f32, impl Fn(f64) -> f32),
    ) {
        let edge = Stroke::new(1.2, theme.soft);
        for row in &project.bar.rows {
            let Some(value) = self.expected.get(&row.id).map(|one| one.si()).filter(|one| one.is_finite())
            else {
                continue;
            };
            let at = x(row.x.si());
            if !room.expand(wide).contains(at) {
                continue;
            }
            let (zero, height) = (y(0.0), y(value));
            let half = (wide * 0.75).max(2.0);
            let (top, bottom) = (height.min(zero - 1.0), height.max(zero + 1.0));
            let frame = Rect::from_x_y_ranges(at - half..=at + half, top..=bottom);
            painter.rect(frame, 0.0, theme.soft.gamma_multiply(0.16), edge, StrokeKind::Middle);
        }
    }
}
