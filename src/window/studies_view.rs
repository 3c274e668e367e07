//! The studies below the drawing: which one, its answer in words, its tables and plots, and what can be carried out from a
//! line of them.
//!
//! What is worked out, and whether it still holds, is the session's ([`studies`](crate::session::studies)).

use std::time::Duration;

use eframe::egui::{self, Align, Layout, RichText, ScrollArea, Ui, vec2};
use egui_extras::{Column, TableBuilder};
use egui_plot::{Bar, BarChart, Line, LineStyle, Plot, Points};

use super::status_line;
use super::theme::Theme;
use crate::drawing::Subject;
use crate::plan::SectionId;
use crate::plan::words::capital;
use crate::quantities::UnitSystem;
use crate::session::Session;
use crate::session::studies::{Studies, StudyState};
use crate::session::study_actions::ActionScope;
use crate::studies::report::{
    SeriesForm, StudyAction, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyReport, StudyTable,
};
use crate::studies::{NoAnswer, Study};

/// Height of a line of a table, points.
const LINE_HEIGHT: f32 = 20.0;
/// Width of the words beside the numbers, as a part of what there is, and at least and most, points.
const WORDS: (f32, f32, f32) = (0.26, 230.0, 420.0);
/// The same of the plots.
const PLOTS: (f32, f32, f32) = (0.27, 260.0, 560.0);
/// In less room than this, points, a plot takes the place of a table in turn instead of standing beside it.
const PLOT_BESIDE: f32 = 1500.0;
/// Mean width of a letter in a cell, points.
const LETTER: f32 = 7.0;
/// Mean width of a small letter, as in heads, points.
const SMALL_LETTER: f32 = 6.0;
/// Widths of columns, points: what is longer is cut, and shown whole while it is pointed at.
const COLUMN: (f32, f32) = (40.0, 460.0);

/// The studies view: what is chosen in it and what was worked out.
pub struct StudiesView {
    /// What is worked out.
    pub studies: Studies,
    /// Which table of the answer is shown.
    table: usize,
    /// What is carried out is carried out for these.
    scope: ActionScope,
}

impl Default for StudiesView {
    fn default() -> Self {
        Self { studies: Studies::new(Study::Metering), table: 0, scope: ActionScope::AllRows }
    }
}

impl StudiesView {
    /// Shows them in what room there is.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let ctx = ui.ctx().clone();
        // Whatever is said, the panel is as large as it was drawn, so that the drawing above it does not jump.
        ui.set_min_size(ui.available_size());
        let theme = Theme::of(ui.visuals());
        let chosen = ui.horizontal(|ui| self.head(ui, session, &theme)).inner;
        if let Some(study) = chosen {
            self.studies.turn_to(study);
            self.table = 0;
        }
        // A study that asks for no row does not become out of date when another one is selected.
        let asks_for_row = self.studies.study == Study::Pressure;
        self.studies.options.row = session.selected_rows().first().copied().filter(|_| asks_for_row);
        let now = Duration::from_secs_f64(ctx.input(|input| input.time).max(0.0));
        let wake = {
            let ctx = ctx.clone();
            move || ctx.request_repaint()
        };
        if let Some(wait) = self.studies.follow(session, now, wake) {
            ctx.request_repaint_after(wait);
        }
        ui.add_space(2.0);
        let holds = self.studies.state() == StudyState::UpToDate;
        let units = session.project().units;
        let sections: Vec<(SectionId, String)> =
            session.project().bar.sections.iter().map(|one| (one.id, one.name.clone())).collect();
        if let ActionScope::Section(id) = self.scope
            && !sections.iter().any(|one| one.0 == id)
        {
            self.scope = ActionScope::AllRows;
        }
        let wanted = match self.studies.answer() {
            None => None,
            Some(Err(why)) => {
                no_answer(ui, why, &theme);
                None
            }
            Some(Ok(report)) => {
                let mut table = self.table;
                let shown = Shown { report, holds, units, theme: &theme, sections: &sections, session };
                let wanted = shown.answer(ui, &mut table, &mut self.scope);
                self.table = table;
                wanted
            }
        };
        match wanted {
            None => {}
            Some(Wanted::Row(row)) => session.select([Subject::Row(row)]),
            Some(Wanted::Action(action)) => {
                status_line::say(&ctx, session.carry_out_study(&action, self.scope));
            }
        }
    }

    /// The studies to choose from, and how the answer stands; the one that was chosen.
    fn head(&mut self, ui: &mut Ui, session: &Session, theme: &Theme) -> Option<Study> {
        let mut chosen = None;
        for study in Study::ALL {
            let tab = ui.selectable_label(self.studies.study == study, study.title());
            if tab.on_hover_text(study.question()).clicked() {
                chosen = Some(study);
            }
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| match self.studies.state() {
            StudyState::UpToDate => {
                let report = self.studies.answer().and_then(|answer| answer.as_ref().ok());
                if let Some(report) = report.filter(|report| self.table < report.tables.len()) {
                    let copy = ui.button("Copy table");
                    if copy.on_hover_text("As columns for a spreadsheet").clicked() {
                        ui.ctx().copy_text(copied(report, self.table, session.project().units));
                    }
                }
            }
            StudyState::Working(part) => {
                if ui.button("Stop").clicked() {
                    self.studies.stop();
                }
                let bar = egui::ProgressBar::new(part).desired_width(120.0).show_percentage();
                ui.add(bar);
                ui.label(RichText::new("Working…").color(theme.soft));
            }
            StudyState::Stopped => {
                if ui.button("Begin again").clicked() {
                    self.studies.begin_now();
                }
                ui.label(RichText::new("Stopped").color(theme.warning));
            }
            StudyState::OutOfDate => {
                let words = RichText::new("Out of date").color(theme.warning);
                ui.label(words).on_hover_text("Something has changed: worked out again when editing pauses");
            }
        });
        chosen
    }
}

/// What was asked for in an answer.
enum Wanted {
    Row(crate::plan::RowId),
    Action(StudyAction),
}

fn no_answer(ui: &mut Ui, why: &NoAnswer, theme: &Theme) {
    let (words, advice) = match why {
        NoAnswer::Stopped => ("Stopped before its end", ""),
        NoAnswer::Impossible { why, advice } => (why.as_str(), advice.as_str()),
    };
    ui.add(egui::Label::new(RichText::new(capital(words)).strong().color(theme.warning)).wrap());
    if !advice.is_empty() {
        ui.add(egui::Label::new(format!("What to try: {advice}")).wrap());
    }
}

/// An answer, and how it is shown.
struct Shown<'a> {
    report: &'a StudyReport,
    /// It is of what is in hand.
    holds: bool,
    units: UnitSystem,
    theme: &'a Theme,
    sections: &'a [(SectionId, String)],
    session: &'a Session,
}

impl Shown<'_> {
    /// Words at the left, the table beside them, the plot at the right; what was asked for in a line.
    fn answer(&self, ui: &mut Ui, table: &mut usize, scope: &mut ActionScope) -> Option<Wanted> {
        let report = self.report;
        let room = ui.available_size();
        let share = |(part, least, most): (f32, f32, f32)| (room.x * part).clamp(least, most);
        let words = share(WORDS);
        let beside = room.x >= PLOT_BESIDE && !report.plots.is_empty();
        let plots = if beside { share(PLOTS) } else { 0.0 };
        let pages = report.tables.len() + if beside { 0 } else { report.plots.len() };
        *table = (*table).min(pages.saturating_sub(1));
        let numbers = (room.x - words - plots - 24.0).max(160.0);
        let mut wanted = None;
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 12.0;
            ui.allocate_ui_with_layout(vec2(words, room.y), Layout::top_down(Align::Min), |ui| {
                ui.set_min_width(words);
                let recommended = report.recommended();
                if !recommended.is_empty() {
                    // Nothing is carried out from figures that no longer hold.
                    let button = ui.add_enabled(self.holds, egui::Button::new("Use what is recommended"));
                    let together = StudyAction::Together(recommended);
                    let hover = |ui: &mut Ui| {
                        let what = self.session.study_changes(&together, *scope);
                        let what = what.unwrap_or_else(|| "nothing to change".to_owned());
                        ui.label(format!("All that the tables mark as recommended, in one step: {what}"));
                    };
                    if button.on_hover_ui(hover).clicked() {
                        wanted = Some(Wanted::Action(together));
                    }
                    ui.add_space(3.0);
                }
                let scroll = ScrollArea::vertical().id_salt("words of the study").auto_shrink([false, false]);
                scroll.show(ui, |ui| self.spoken(ui, *table));
            });
            ui.allocate_ui_with_layout(vec2(numbers, room.y), Layout::top_down(Align::Min), |ui| {
                ui.set_max_width(numbers);
                wanted = self.pages(ui, table, pages, scope).or(wanted.take());
            });
            if beside {
                ui.allocate_ui_with_layout(vec2(plots, room.y), Layout::top_down(Align::Min), |ui| {
                    let each = (room.y / report.plots.len() as f32).max(90.0);
                    for one in &report.plots {
                        plot(ui, one, vec2(plots, each - 4.0), self.units, self.theme);
                    }
                });
            }
        });
        wanted
    }

    /// The sentences.
    fn spoken(&self, ui: &mut Ui, table: usize) {
        let (report, theme) = (self.report, self.theme);
        let ink = if self.holds { theme.ink } else { theme.soft };
        for (at, line) in report.answer.iter().enumerate() {
            let text = RichText::new(capital(line)).color(ink);
            ui.add(egui::Label::new(if at == 0 { text.strong() } else { text }).wrap());
            ui.add_space(3.0);
        }
        for line in &report.warnings {
            let text = RichText::new(format!("Note: {line}")).color(theme.warning);
            ui.add(egui::Label::new(text).wrap());
            ui.add_space(3.0);
        }
        let notes = report.tables.get(table).map(|one| one.notes.as_slice()).unwrap_or_default();
        for line in notes {
            ui.add(egui::Label::new(RichText::new(capital(line)).small().color(theme.soft)).wrap());
        }
    }

    /// The tables, and what plots do not stand beside them, one at a time.
    fn pages(&self, ui: &mut Ui, page: &mut usize, pages: usize, scope: &mut ActionScope) -> Option<Wanted> {
        let (tables, plots) = (&self.report.tables, &self.report.plots);
        let titles = tables.iter().map(|one| &one.title).chain(plots.iter().map(|one| &one.title));
        let changes_plan = |action: &StudyAction| action.changes_plan();
        let offers =
            |one: &StudyTable| one.rows.iter().filter_map(|row| row.action.as_ref()).any(changes_plan);
        ui.horizontal_wrapped(|ui| {
            for (at, title) in titles.take(pages).enumerate() {
                if pages == 1 {
                    ui.label(RichText::new(title).color(self.theme.soft));
                } else if ui.selectable_label(*page == at, title).clicked() {
                    *page = at;
                }
            }
            if tables.get(*page).is_some_and(offers) {
                self.scopes(ui, scope);
            }
        });
        let Some(one) = tables.get(*page) else {
            let plot_of = plots.get(page.saturating_sub(tables.len()))?;
            plot(ui, plot_of, ui.available_size(), self.units, self.theme);
            return None;
        };
        let id = format!("{} {}", self.report.study.key(), one.title);
        let left = ui.available_rect_before_wrap().left();
        let scroll = ScrollArea::horizontal().id_salt(&id);
        scroll.show(ui, |ui| lines(ui, &id, one, left, self.holds, self.units, self.theme)).inner
    }

    /// What a button in a line is carried out for.
    fn scopes(&self, ui: &mut Ui, scope: &mut ActionScope) {
        let name = |scope: ActionScope| match scope {
            ActionScope::AllRows => "all rows",
            ActionScope::Selection => "what is selected",
            ActionScope::Section(id) => {
                self.sections.iter().find(|one| one.0 == id).map_or("a section", |one| one.1.as_str())
            }
        };
        let label = ui.label(RichText::new("Carried out for").color(self.theme.soft)).id;
        let list = egui::ComboBox::from_id_salt("scope of a study").selected_text(name(*scope)).width(150.0);
        let response = list
            .show_ui(ui, |ui| {
                let sections = self.sections.iter().map(|one| ActionScope::Section(one.0));
                for one in [ActionScope::AllRows, ActionScope::Selection].into_iter().chain(sections) {
                    ui.selectable_value(scope, one, name(one));
                }
            })
            .response;
        response.labelled_by(label);
    }
}

/// Widths that hold heads and cells.
fn widths(table: &StudyTable, units: UnitSystem) -> Vec<f32> {
    let wide = |text: &str, letter: f32| text.chars().count() as f32 * letter + 14.0;
    let heads = table.columns.iter().map(|column| wide(&column.heading(units), SMALL_LETTER));
    let mut widths: Vec<f32> = heads.collect();
    for row in &table.rows {
        for (width, text) in widths.iter_mut().zip(row.texts(&table.columns, units)) {
            *width = width.max(wide(&text, LETTER));
        }
    }
    widths.into_iter().map(|width| width.clamp(COLUMN.0, COLUMN.1)).collect()
}

/// What a line is about stands in its first column, and stays in sight at `left` when the table is scrolled sideways.
struct NameColumn<'a> {
    left: f32,
    width: f32,
    theme: &'a Theme,
    /// Where it lies in the table, in this pass.
    own: f32,
}

impl NameColumn<'_> {
    /// Paints it over what has come in its place; called in the last cell of a line, which nothing clips but the table.
    fn paint(&self, ui: &Ui, text: RichText) {
        if self.own >= self.left - 1.0 {
            return;
        }
        // With the gap to the line above: what has come in its place shows in it.
        let line = ui.max_rect().y_range();
        let line = egui::Rangef::new(line.min - ui.spacing().item_spacing.y, line.max);
        let room = egui::Rect::from_x_y_ranges(self.left..=self.left + self.width, line);
        let seen = egui::Rect::from_x_y_ranges(room.x_range(), ui.clip_rect().y_range());
        let painter = ui.ctx().layer_painter(ui.layer_id()).with_clip_rect(seen);
        painter.rect_filled(room, 0.0, self.theme.paper);
        painter.vline(room.right() - 1.0, room.y_range(), egui::Stroke::new(1.0, self.theme.line));
        let galley = egui::WidgetText::from(text).into_galley(
            ui,
            Some(egui::TextWrapMode::Truncate),
            self.width - 8.0,
            egui::TextStyle::Body,
        );
        let at = egui::pos2(room.left(), room.center().y - galley.size().y / 2.0);
        painter.galley(at, galley, self.theme.ink);
    }
}

fn lines(
    ui: &mut Ui,
    id: &str,
    table: &StudyTable,
    left: f32,
    holds: bool,
    units: UnitSystem,
    theme: &Theme,
) -> Option<Wanted> {
    let mut wanted = None;
    let has_marks = table.has_marks();
    let labels = table.rows.iter().filter_map(|row| row.action.as_ref()).map(|action| action.label());
    let longest = labels.map(|label| label.chars().count()).max();
    let has_actions = longest.is_some();
    let actions = longest.unwrap_or(0) as f32 * LETTER + 24.0;
    ui.spacing_mut().item_spacing.y = 1.0;
    let ui_width = ui.available_width();
    let mut builder = TableBuilder::new(ui)
        .id_salt(id)
        .striped(true)
        .sense(egui::Sense::click())
        .auto_shrink([false, false])
        // With a least height of its own it would push the panel up over the drawing.
        .min_scrolled_height(0.0)
        .cell_layout(Layout::left_to_right(Align::Center));
    if has_actions {
        builder = builder.column(Column::initial(actions));
    }
    if has_marks {
        let longest = table.rows.iter().map(|row| row.mark.word().chars().count()).max().unwrap_or(0);
        builder = builder.column(Column::initial(longest as f32 * SMALL_LETTER + 16.0));
    }
    let widths = widths(table, units);
    let width = widths.first().copied().unwrap_or(COLUMN.0).min(ui_width * 0.5);
    let mut name = NameColumn { left, width, theme, own: left };
    for width in widths {
        builder = builder.column(Column::initial(width).at_least(40.0).resizable(true).clip(true));
    }
    builder = builder.column(Column::remainder());
    let ink = if holds { theme.ink } else { theme.soft };
    builder
        .header(LINE_HEIGHT, |mut header| {
            for _ in 0..usize::from(has_actions) + usize::from(has_marks) {
                header.col(|_| {});
            }
            let head = |column: &StudyColumn| RichText::new(column.heading(units)).small().color(theme.soft);
            for (at, column) in table.columns.iter().enumerate() {
                header.col(|ui| {
                    if at == 0 {
                        name.own = ui.max_rect().left();
                    }
                    cell(ui, head(column), column.measure.is_some());
                });
            }
            header.col(|ui| {
                if let Some(first) = table.columns.first() {
                    name.paint(ui, head(first));
                }
            });
        })
        .body(|body| {
            body.rows(LINE_HEIGHT, table.rows.len(), |mut line| {
                let row = &table.rows[line.index()];
                if has_actions {
                    line.col(|ui| {
                        let Some(action) = &row.action else { return };
                        // Nothing is carried out from figures that no longer hold.
                        let button = ui.add_enabled(holds, egui::Button::new(action.label()).small());
                        if button.on_hover_text(action.about()).clicked() {
                            wanted = Some(Wanted::Action(action.clone()));
                        }
                    });
                }
                if has_marks {
                    line.col(|ui| {
                        let colour = match row.mark {
                            StudyMark::OutsideLimits => theme.warning,
                            _ => theme.accent,
                        };
                        cell(ui, RichText::new(row.mark.word()).small().color(colour), false);
                    });
                }
                for (one, column) in row.cells.iter().zip(&table.columns) {
                    line.col(|ui| {
                        let text = RichText::new(one.text(column.measure, units)).color(ink);
                        let response = cell(ui, text, column.measure.is_some());
                        if let StudyCell::Unknown(why) = one {
                            response.on_hover_text(why);
                        }
                    });
                }
                line.col(|ui| {
                    if let Some((first, column)) = row.cells.first().zip(table.columns.first()) {
                        name.paint(ui, RichText::new(first.text(column.measure, units)).color(ink));
                    }
                });
                let response = line.response();
                response.widget_info(|| {
                    let texts = row.texts(&table.columns, units).join(", ");
                    egui::WidgetInfo::labeled(egui::accesskit::Role::Row, true, texts)
                });
                if response.clicked()
                    && let Some(row) = row.row
                {
                    wanted = Some(Wanted::Row(row));
                }
            });
        });
    wanted
}

fn cell(ui: &mut Ui, text: RichText, right: bool) -> egui::Response {
    let label = egui::Label::new(text).truncate().selectable(false);
    if right {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.add_space(8.0);
            ui.add(label)
        })
        .inner
    } else {
        ui.add(label)
    }
}

fn plot(ui: &mut Ui, one: &StudyPlot, size: egui::Vec2, units: UnitSystem, theme: &Theme) {
    let shown = |column: &crate::studies::report::StudyColumn, value: f64| {
        column.measure.map_or(value, |measure| measure.shown(value, units))
    };
    let top = ui.cursor().top();
    ui.label(RichText::new(&one.title).small().color(theme.soft));
    let colours = [theme.accent, theme.ink, theme.warning, theme.soft];
    let styles = [LineStyle::Solid, LineStyle::dashed_dense(), LineStyle::dotted_dense()];
    // Over the plot, where no curve runs below it.
    ui.horizontal_wrapped(|ui| {
        ui.set_max_width(size.x);
        ui.spacing_mut().item_spacing.y = 1.0;
        for (at, series) in one.series.iter().enumerate() {
            let (rect, _) = ui.allocate_exact_size(vec2(22.0, 12.0), egui::Sense::hover());
            let line = [rect.left_center(), rect.right_center()];
            let stroke = egui::Stroke::new(1.6, colours[at % colours.len()]);
            match (series.form, styles[at % styles.len()]) {
                (SeriesForm::Bars, _) => {
                    ui.painter().rect_filled(rect.shrink2(vec2(5.0, 1.0)), 0.0, stroke.color);
                }
                (SeriesForm::Points, _) => {
                    ui.painter().circle_filled(rect.center(), 2.5, stroke.color);
                }
                (SeriesForm::Line, LineStyle::Dashed { .. }) => {
                    ui.painter().extend(egui::Shape::dashed_line(&line, stroke, 5.0, 3.0));
                }
                (SeriesForm::Line, LineStyle::Dotted { .. }) => {
                    ui.painter().extend(egui::Shape::dotted_line(&line, stroke.color, 4.0, 1.2));
                }
                (SeriesForm::Line, LineStyle::Solid) => {
                    ui.painter().line_segment(line, stroke);
                }
            }
            ui.label(RichText::new(&series.name).small().color(theme.soft));
        }
    });
    let used = ui.cursor().top() - top;
    let response = Plot::new(&one.title)
        .width(size.x)
        .height((size.y - used).max(70.0))
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_drag(false)
        .allow_boxed_zoom(false)
        .x_axis_label(one.x.heading(units))
        .y_axis_label(one.y.heading(units))
        .show(ui, |plot| {
            for (at, series) in one.series.iter().enumerate() {
                let (colour, style) = (colours[at % colours.len()], styles[at % styles.len()]);
                let mut points: Vec<[f64; 2]> =
                    series.points.iter().map(|[x, y]| [shown(&one.x, *x), shown(&one.y, *y)]).collect();
                // A line has no direction where two of its points are one.
                points.dedup();
                match series.form {
                    SeriesForm::Line => {
                        plot.line(Line::new(&series.name, points).color(colour).style(style).width(1.6));
                    }
                    SeriesForm::Points => {
                        plot.points(Points::new(&series.name, points).color(colour).radius(2.5));
                    }
                    SeriesForm::Bars => {
                        let step = points.windows(2).map(|pair| (pair[1][0] - pair[0][0]).abs());
                        let width = step.fold(f64::INFINITY, f64::min);
                        let width = if width.is_finite() { width * 0.8 } else { 0.8 };
                        let bars = points.iter().map(|[x, y]| Bar::new(*x, *y).width(width)).collect();
                        plot.bar_chart(BarChart::new(&series.name, bars).color(colour));
                    }
                }
            }
        });
    response.response.widget_info(|| {
        let names: Vec<&str> = one.series.iter().map(|series| series.name.as_str()).collect();
        let text = format!("{}: {}", one.title, names.join(", "));
        egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, text)
    });
}

/// A table as columns parted by tabs, as spreadsheets take them.
fn copied(report: &StudyReport, table: usize, units: UnitSystem) -> String {
    let Some(table) = report.tables.get(table).or(report.tables.first()) else { return String::new() };
    let heads: Vec<String> = table.columns.iter().map(|column| column.heading(units)).collect();
    let mut out = heads.join("\t");
    for row in &table.rows {
        out.push('\n');
        out.push_str(&row.texts(&table.columns, units).join("\t"));
    }
    out
}
