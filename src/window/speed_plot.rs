//! Pressures and evenness of the routing in hand over the whole range of ground speeds, as two plots.
//!
//! Solved only while it is shown, and again only when the plan or the point looked at (apart from its speed) is
//! another; while something is dragged, at fewer speeds.

use std::sync::Arc;

use eframe::egui::{self, Align2, RichText, Ui, vec2};
use egui_plot::{HLine, Line, LineStyle, Plot, PlotPoint, PlotPoints, Text, VLine};

use super::theme::Theme;
use crate::hydraulics::speed_range::{AtSpeed, speed_curve};
use crate::plan::{Control, OperatingPoint, Project, RoutingId};
use crate::quantities::{Measure, Speed, UnitSystem};
use crate::session::Session;
use crate::studies::status::rows_words_over;

/// Speeds that are solved.
const COUNT: usize = 33;
/// Speeds that are solved while something is dragged.
const FEW: usize = 9;

/// What the curves were computed from.
struct MadeFrom {
    project: Arc<Project>,
    routing: RoutingId,
    point: OperatingPoint,
    count: usize,
}

/// What the plots remember between frames.
#[derive(Default)]
pub struct SpeedPlot {
    curve: Vec<AtSpeed>,
    made_from: Option<MadeFrom>,
}

impl SpeedPlot {
    /// The curve as it was computed last.
    pub fn curve(&self) -> &[AtSpeed] {
        &self.curve
    }

    fn remake(&mut self, session: &Session) {
        let project = session.snapshot();
        let routing = session.routing().id;
        // The speed looked at does not change the curve.
        let point = OperatingPoint { speed: Speed::ZERO, ..*session.point() };
        let count = if session.is_in_step() { FEW } else { COUNT };
        let same = self.made_from.as_ref().is_some_and(|made| {
            Arc::ptr_eq(&made.project, &project)
                && made.routing == routing
                && made.point == point
                && made.count == count
        });
        if !same {
            self.curve = speed_curve(&project, session.laid(), &point, count);
            self.made_from = Some(MadeFrom { project, routing, point, count });
        }
    }

    /// Shows both plots side by side in what room there is.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        self.remake(session);
        let theme = Theme::of(ui.visuals());
        let units = session.project().units;
        let duty = session.duty();
        let from = Measure::GroundSpeed.text(duty.slowest.si(), units);
        let to = Measure::GroundSpeed.text(duty.fastest.si(), units);
        ui.horizontal(|ui| {
            ui.label(RichText::new(format!("Over ground speed, {from} to {to}")).strong().color(theme.soft));
            if self.curve.iter().all(|one| one.pump.is_none()) {
                let why = crate::studies::status::why_no_numbers(session.outcome(), session.routing());
                let why = why.unwrap_or_else(|| "no speed of the range could be solved".to_owned());
                ui.label(RichText::new(format!("No numbers: {why}")).color(theme.warning));
            } else if let Some(rows) = self.rows_words() {
                let words = format!("CV and largest deviation are over {rows}");
                ui.label(RichText::new(words).color(theme.warning));
            }
        });
        let room = ui.available_size();
        let each = vec2((room.x - 12.0) / 2.0, room.y.max(80.0));
        let limit = match session.project().supply.control {
            Control::Metered { limit } => ("Pressure limit", limit),
            Control::Held { pressure } => ("Constant pressure", pressure),
            Control::Uncontrolled => ("Pump at no flow", session.project().supply.highest_given()),
        };
        let limits = &session.project().limits;
        let pressures = SpeedFigure {
            name: "Pressure against ground speed",
            measure: Measure::Pressure,
            curves: vec![
                (
                    "Pump",
                    theme.accent,
                    LineStyle::Solid,
                    self.points(units, Measure::Pressure, |at| at.pump.map(|one| one.si())),
                ),
                (
                    "Inlet",
                    theme.ink,
                    LineStyle::dashed_dense(),
                    self.points(units, Measure::Pressure, |at| at.inlet.map(|one| one.si())),
                ),
            ],
            limits: vec![(limit.0, limit.1.si())],
        };
        let evenness = SpeedFigure {
            name: "Evenness against ground speed",
            measure: Measure::Percent,
            curves: vec![
                (
                    "CV over rows",
                    theme.accent,
                    LineStyle::Solid,
                    self.points(units, Measure::Percent, |at| at.cv.map(|one| one.si())),
                ),
                (
                    "Largest deviation, ±",
                    theme.ink,
                    LineStyle::dashed_dense(),
                    self.points(units, Measure::Percent, |at| at.farthest.map(|one| one.si())),
                ),
            ],
            limits: vec![
                ("Row limit, ±", limits.row_deviation.si()),
                ("CV limit", limits.cv_acceptable.si()),
            ],
        };
        let speeds = [("slowest", duty.slowest), ("usual", duty.usual), ("fastest", duty.fastest)];
        let here = session.point().speed;
        let mut wanted = None;
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 12.0;
            for figure in [pressures, evenness] {
                wanted = figure.show(ui, each, units, here, &speeds, &theme).or(wanted);
            }
        });
        if let Some(speed) = wanted {
            session.look_at_speed(speed);
        }
    }

    /// The rows that the evenness is over, where at some speed these are not all.
    fn rows_words(&self) -> Option<String> {
        rows_words_over(self.curve.iter().filter(|one| one.cv.is_some()).map(|one| one.rows))
    }

    /// A curve in shown units; speeds without a number are left out.
    fn points(
        &self,
        units: UnitSystem,
        measure: Measure,
        value: impl Fn(&AtSpeed) -> Option<f64>,
    ) -> Vec<[f64; 2]> {
        let shown = |at: &AtSpeed| {
            Some([Measure::GroundSpeed.shown(at.speed.si(), units), measure.shown(value(at)?, units)])
        };
        self.curve.iter().filter_map(shown).collect()
    }
}

/// One of the plots.
struct SpeedFigure {
    name: &'static str,
    measure: Measure,
    curves: Vec<(&'static str, egui::Color32, LineStyle, Vec<[f64; 2]>)>,
    limits: Vec<(&'static str, f64)>,
}

impl SpeedFigure {
    /// Shows it; the speed that was clicked.
    fn show(
        self,
        ui: &mut Ui,
        size: egui::Vec2,
        units: UnitSystem,
        here: Speed,
        speeds: &[(&str, Speed); 3],
        theme: &Theme,
    ) -> Option<Speed> {
        let (measure, speed) = (self.measure, Measure::GroundSpeed);
        let symbol = measure.unit(units).symbol;
        let summary = self.summary(units);
        let highest = self.highest(units);
        let plot = Plot::new(self.name)
            .width(size.x)
            .height(size.y)
            .allow_zoom(false)
            .allow_scroll(false)
            .allow_drag(false)
            .allow_boxed_zoom(false)
            .include_y(0.0)
            .include_y(highest * 1.15)
            // Room for the names of the curves beside their ends.
            .include_x(speed.shown((speeds[2].1 + (speeds[2].1 - speeds[0].1) * 0.22).si(), units))
            .x_axis_label(format!("ground speed, {}", speed.unit(units).symbol))
            .y_axis_label(symbol);
        let response = plot.show(ui, |plot| {
            let at = speed.shown(here.si(), units);
            plot.vline(VLine::new("Looked at", at).color(theme.accent).style(LineStyle::dotted_dense()));
            let word = |place: [f64; 2], words: &str, colour, anchor| {
                let words = RichText::new(words).size(11.0).color(colour);
                Text::new(words.text().to_owned(), PlotPoint::from(place), words).anchor(anchor)
            };
            plot.text(word([at, highest * 1.14], " looked at", theme.soft, Align2::LEFT_TOP));
            let (first, last) = (speed.shown(speeds[0].1.si(), units), speed.shown(speeds[2].1.si(), units));
            for (index, (name, limit)) in self.limits.iter().enumerate() {
                let y = measure.shown(*limit, units);
                let line = HLine::new(*name, y);
                plot.hline(line.color(theme.warning).style(LineStyle::dotted_loose()).width(1.5));
                // Two limits of one height are named at either end.
                let (x, anchor) =
                    if index == 0 { (first, Align2::LEFT_BOTTOM) } else { (last, Align2::RIGHT_BOTTOM) };
                plot.text(word([x, y], name, theme.warning, anchor));
            }
            let ends: Vec<f64> =
                self.curves.iter().filter_map(|(_, _, _, points)| Some(points.last()?[1])).collect();
            for (index, (name, colour, style, points)) in self.curves.into_iter().enumerate() {
                let last = points.last().copied();
                plot.line(Line::new(name, PlotPoints::from(points)).color(colour).style(style).width(2.0));
                if let Some(last) = last {
                    // The upper of two curves is named above its end, the lower one below.
                    let upper = ends.iter().enumerate().all(|(other, y)| other == index || *y <= last[1]);
                    // Near the axis there is no room below.
                    let anchor = if upper {
                        Align2::LEFT_BOTTOM
                    } else if last[1] < highest * 0.1 {
                        Align2::LEFT_CENTER
                    } else {
                        Align2::LEFT_TOP
                    };
                    plot.text(word(last, &format!(" {name}"), colour, anchor));
                }
            }
            plot.pointer_coordinate()
        });
        let shown = response.response;
        shown.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, &summary));
        let clicked = shown.clicked().then_some(response.inner).flatten();
        clicked.map(|at| Speed::from_si(speed.stored(at.x, units)).max(speeds[0].1).min(speeds[2].1))
    }

    /// The highest value that is shown.
    fn highest(&self, units: UnitSystem) -> f64 {
        let curves = self.curves.iter().flat_map(|(_, _, _, points)| points).map(|point| point[1]);
        let limits = self.limits.iter().map(|(_, limit)| self.measure.shown(*limit, units));
        curves.chain(limits).fold(0.0, f64::max)
    }

    /// What a screen reader says: each curve at its ends.
    fn summary(&self, units: UnitSystem) -> String {
        let mut says = vec![self.name.to_owned()];
        let symbol = self.measure.unit(units).symbol;
        for (name, _, _, points) in &self.curves {
            let ends = points.first().zip(points.last());
            says.push(ends.map_or_else(
                || format!("{name}: no numbers"),
                |(first, last)| format!("{name}: {:.2} to {:.2} {symbol}", first[1], last[1]),
            ));
        }
        says.join("; ")
    }
}
