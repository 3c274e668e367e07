//! The band behind each row in the strip: what parts as they are sold and cut may add to its deviation, to first order.

use std::collections::BTreeMap;
use std::rc::Rc;
use std::time::{Duration, Instant};

use eframe::egui::{Painter, Rangef, Rect, Stroke, Ui};

use super::shown::Shown;
use crate::hydraulics::outcome::Outcome;
use crate::plan::{RoutingId, RowId};
use crate::quantities::{Measure, Ratio};
use crate::studies::tolerance::first_order;
use crate::window::theme::Theme;

/// What takes longer waits until nothing is dragged: the frame has other things to do.
const IN_A_DRAG: Duration = Duration::from_millis(4);

/// Standard deviations from the middle of a band to its edge: 95 of 100 built bars are within.
const EDGE: f64 = 2.0;

/// Standard deviation of each row's deviation.
pub(super) type RowScatter = BTreeMap<RowId, Ratio>;

/// The bands of the pictures that a canvas draws.
#[derive(Debug, Default)]
pub(super) struct Bands {
    /// By picture: of which revision and routing, and the rows where there are numbers.
    kept: BTreeMap<usize, (u64, RoutingId, Option<Rc<RowScatter>>)>,
    /// The last ones took too long for a frame in which something is dragged.
    are_slow: bool,
}

/// What the strip shows of it.
#[derive(Debug, Clone, Default)]
pub struct Band {
    /// Of each row; none where it is not asked for or not known.
    pub(super) rows: Option<Rc<RowScatter>>,
    /// It is asked for, and comes when what is dragged is let go.
    pub(super) waits: bool,
}

impl Bands {
    /// The band of what is shown.
    pub(super) fn of(&mut self, ui: &Ui, shown: &Shown<'_>) -> Band {
        if let Some((revision, routing, rows)) = self.kept.get(&shown.slot)
            && (*revision, *routing) == (shown.revision, shown.routing.id)
        {
            return Band { rows: rows.clone(), waits: false };
        }
        if self.are_slow && ui.input(|input| input.pointer.is_decidedly_dragging()) {
            return Band { rows: None, waits: true };
        }
        let started = Instant::now();
        let rows = shown.outcome.filter(|outcome| outcome.result.is_ok()).and_then(|outcome| {
            let found = first_order(shown.project, shown.routing, &outcome.point).ok()?;
            Some(Rc::new(found.rows.iter().map(|row| (row.row, row.sd)).collect()))
        });
        self.are_slow = started.elapsed() > IN_A_DRAG;
        self.kept.insert(shown.slot, (shown.revision, shown.routing.id, rows.clone()));
        Band { rows, waits: false }
    }
}

impl Band {
    /// From the lowest edge to the highest, as deviations.
    pub(super) fn reach(&self, outcome: &Outcome) -> Option<(f64, f64)> {
        let rows = self.rows.as_ref()?;
        let edges = outcome.rows().iter().filter_map(|row| {
            let (middle, by) = (row.deviation?.si(), rows.get(&row.row)?.si() * EDGE);
            Some((middle - by, middle + by))
        });
        edges.reduce(|all, one| (all.0.min(one.0), all.1.max(one.1)))
    }

    /// What it says of a row, as a line below its value.
    pub(super) fn words(&self, row: RowId) -> Option<String> {
        if self.waits {
            return Some("Scatter of parts: let go to see it".to_owned());
        }
        let edge = self.rows.as_ref()?.get(&row)?.si() * EDGE;
        let edge = Measure::Percent.number(edge, crate::quantities::UnitSystem::Metric);
        Some(format!("±{edge} % by parts, 95 of 100"))
    }

    /// Paints it behind the bars of rows that are so wide: wider than these, with an edge at both ends. `x` and `y` say
    /// where metres and deviations are on the screen, `room` from where to where the strip goes.
    pub(super) fn paint(
        &self,
        outcome: &Outcome,
        (painter, theme): (&Painter, &Theme),
        wide: f32,
        room: Rangef,
        (x, y): (impl Fn(f64) -> f32, impl Fn(f64) -> f32),
    ) {
        let Some(rows) = &self.rows else { return };
        let edge = Stroke::new(1.5, theme.soft);
        for row in outcome.rows() {
            let Some((middle, sd)) = row.deviation.zip(rows.get(&row.row)) else { continue };
            let at = x(row.x.si());
            if !room.expand(wide).contains(at) {
                continue;
            }
            let [top, bottom] = [EDGE, -EDGE].map(|edges| y(middle.si() + edges * sd.si()));
            let half = (wide * 0.75).max(2.0);
            let across = at - half..=at + half;
            let band = Rect::from_x_y_ranges(across.clone(), top..=bottom);
            painter.rect_filled(band, 0.0, theme.soft.gamma_multiply(0.3));
            painter.hline(across.clone(), top, edge);
            painter.hline(across, bottom, edge);
        }
    }
}
