//! Parts, hoses, row feeds and rows as tables below the drawing. What is selected here is selected there; whatever the
//! drawing can do to it, the line that is chosen can do too.
//!
//! The chosen line shows its cells as fields; a changed cell changes every selected line. Only lines in sight are laid
//! out. What stands in a cell and how lines are sorted belongs to [`session::listing`](crate::session::listing).

use eframe::egui::{self, Id, Key, Modifiers, Response, RichText, Sense, TextEdit, Ui, vec2};
use egui_extras::{Column as Width, TableBuilder};

use super::number_field::NumberField;
use super::status_line;
use super::text_field::TextField;
use super::theme::Theme;
use super::typing;
use crate::plan::Subject;
use crate::plan::words::counted;
use crate::quantities::{Measure, UnitSystem};
use crate::session::Session;
use crate::session::bulk::Common;
use crate::session::listing::{self, Table, TableCell, TableColumn, TableRow};
use crate::session::properties::{Input, NumberInput, Property, PropertyValue};

const LINE_HEIGHT: f32 = 22.0;

/// What lines were made from: revision, routing, table, filter, order, units.
type MadeFrom = (u64, u32, Table, String, Option<(TableColumn, bool)>, UnitSystem);

/// What the tables remember between frames.
#[derive(Default)]
pub struct Tables {
    table: Table,
    filter: String,
    order: Option<(TableColumn, bool)>,
    /// The line whose cells are fields.
    chosen: Option<Subject>,
    /// Where a range of lines starts.
    anchor: Option<Subject>,
    scroll_to: Option<usize>,
    lines: Vec<TableRow>,
    made_from: Option<MadeFrom>,
    /// The lines have the keys.
    focused: bool,
    enter: bool,
}

impl Tables {
    /// The arrows and Enter belong to the lines now.
    pub const fn has_keys(&self) -> bool {
        self.focused
    }

    /// Shows another table from its start.
    fn turn_to(&mut self, table: Table) {
        if table != self.table {
            *self = Self { table, ..Self::default() };
        }
    }

    /// Which table is shown.
    pub const fn table(&self) -> Table {
        self.table
    }

    fn remake(&mut self, session: &Session) {
        let key = (
            session.revision(),
            session.routing().id.0,
            self.table,
            self.filter.clone(),
            self.order,
            session.project().units,
        );
        if self.made_from.as_ref() != Some(&key) {
            let (by, falling) = self.order.unwrap_or((self.table.columns()[0], false));
            self.lines = listing::lines(session, self.table, &self.filter, by, falling);
            self.made_from = Some(key);
        }
        // What was selected in the drawing is the chosen line here.
        let selected = |subject: &Subject| session.selection().contains(subject);
        if self.chosen.is_none_or(|chosen| !selected(&chosen)) {
            let at = self.lines.iter().position(|line| selected(&line.subject));
            self.chosen = at.map(|at| self.lines[at].subject);
            self.anchor = self.chosen;
            self.scroll_to = at;
        }
    }

    /// Shows the tables in what room there is.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        ui.horizontal(|ui| {
            let mut table = self.table;
            for one in Table::ALL {
                let tab = ui.selectable_value(&mut table, one, one.label());
                let label = format!("Table of {}", one.label().to_lowercase());
                tab.widget_info(|| {
                    egui::WidgetInfo::selected(egui::accesskit::Role::Button, true, table == one, &label)
                });
            }
            self.turn_to(table);
            ui.add_space(12.0);
            let label = ui.label(RichText::new("Filter").color(theme.soft)).id;
            ui.add(
                TextEdit::singleline(&mut self.filter).desired_width(180.0).hint_text("words in any column"),
            )
            .labelled_by(label);
            self.remake(session);
            let selected =
                self.lines.iter().filter(|line| session.selection().contains(&line.subject)).count();
            let all = format!("{}, {selected} selected", counted(self.lines.len(), "line"));
            ui.label(RichText::new(all).color(theme.soft));
            if ui.button("Select all lines").clicked() {
                session.select(self.lines.iter().map(|line| line.subject));
            }
            if ui.add_enabled(selected > 0, egui::Button::new("Delete selected")).clicked() {
                status_line::say(ui.ctx(), session.delete_selection().map(|()| None));
            }
        });
        ui.add_space(2.0);
        let area = ui.available_rect_before_wrap();
        let keys = ui.interact(area, Id::unique("table lines"), Sense::focusable_noninteractive());
        keys.widget_info(|| {
            egui::WidgetInfo::labeled(
                egui::accesskit::Role::Table,
                true,
                format!("Table of {}", self.table.label().to_lowercase()),
            )
        });
        self.keys(ui, &keys, session);
        egui::ScrollArea::horizontal().show(ui, |ui| self.lines(ui, &theme, session, &keys));
    }

    /// Arrows walk through the lines, with Shift they select more, Enter goes into the first field.
    fn keys(&mut self, ui: &Ui, keys: &Response, session: &mut Session) {
        self.focused = keys.has_focus();
        self.enter = false;
        if !self.focused || self.lines.is_empty() {
            return;
        }
        ui.memory_mut(|memory| {
            let filter = egui::EventFilter { vertical_arrows: true, ..egui::EventFilter::default() };
            memory.set_focus_lock_filter(keys.id, filter);
        });
        let step =
            |key, modifiers| ui.input_mut(|input| input.count_and_consume_key(modifiers, key)).cast_signed();
        let extend = step(Key::ArrowDown, Modifiers::SHIFT) - step(Key::ArrowUp, Modifiers::SHIFT);
        let walk = step(Key::ArrowDown, Modifiers::NONE) - step(Key::ArrowUp, Modifiers::NONE);
        self.enter = step(Key::Enter, Modifiers::NONE) > 0;
        if extend == 0 && walk == 0 {
            return;
        }
        let last = self.lines.len() - 1;
        let now = self.position(self.chosen);
        let to = now.map_or(0, |now| now.saturating_add_signed(extend + walk).min(last));
        self.choose(session, to, extend != 0, false);
        self.scroll_to = Some(to);
    }

    fn position(&self, subject: Option<Subject>) -> Option<usize> {
        self.lines.iter().position(|line| Some(line.subject) == subject)
    }

    /// Chooses a line: alone, the lines from the last chosen one to it, or besides what is selected.
    fn choose(&mut self, session: &mut Session, to: usize, range: bool, besides: bool) {
        let Some(subject) = self.lines.get(to).map(|line| line.subject) else { return };
        if besides {
            session.toggle(subject);
            self.anchor = Some(subject);
        } else if let Some(from) = self.position(self.anchor).filter(|_| range) {
            let (low, high) = (from.min(to), from.max(to));
            session.select(self.lines[low..=high].iter().map(|line| line.subject));
        } else {
            session.select([subject]);
            self.anchor = Some(subject);
        }
        self.chosen = Some(subject).filter(|subject| session.selection().contains(subject));
    }

    fn lines(&mut self, ui: &mut Ui, theme: &Theme, session: &mut Session, keys: &Response) {
        let table = self.table;
        let columns = table.columns();
        let units = session.project().units;
        let mut order = self.order;
        let mut clicked = None;
        let mut ask = None;
        let mut builder = TableBuilder::new(ui)
            .min_scrolled_height(0.0)
            .id_salt(table.label())
            .striped(true)
            .sense(Sense::click())
            .auto_shrink([false, false])
            .cell_layout(egui::Layout::left_to_right(egui::Align::Center));
        for column in columns {
            builder =
                builder.column(Width::initial(width(*column)).at_least(44.0).resizable(true).clip(true));
        }
        builder = builder.column(Width::remainder());
        if let Some(at) = self.scroll_to.take() {
            builder = builder.scroll_to_row(at, None);
        }
        let (lines, chosen, enter) = (&self.lines, self.chosen, self.enter);
        builder
            .header(20.0, |mut header| {
                for column in columns {
                    header.col(|ui| {
                        let (by, falling) = order.unwrap_or((columns[0], false));
                        let unit = column
                            .measure(table)
                            .map_or_else(String::new, |measure| format!(" ({})", measure.unit(units).symbol));
                        // Room for the mark of the column that is sorted by.
                        let room = if by == *column { "    " } else { "" };
                        let words = format!("{}{unit}{room}", column.label());
                        let button = ui.add(
                            egui::Button::new(RichText::new(words).small().color(theme.soft)).frame(false),
                        );
                        button.widget_info(|| {
                            egui::WidgetInfo::labeled(
                                egui::accesskit::Role::Button,
                                true,
                                format!("Sort by {}", column.label().to_lowercase()),
                            )
                        });
                        if by == *column {
                            mark(ui, button.rect, falling, theme);
                        }
                        if button.on_hover_text("Sort by this column").clicked() {
                            order = Some((*column, by == *column && !falling));
                        }
                    });
                }
                header.col(|_| {});
            })
            .body(|body| {
                body.rows(LINE_HEIGHT, lines.len(), |mut row| {
                    let index = row.index();
                    let line = &lines[index];
                    row.set_selected(session.selection().contains(&line.subject));
                    let is_chosen = chosen == Some(line.subject);
                    for (at, (column, cell)) in columns.iter().zip(&line.cells).enumerate() {
                        row.col(|ui| {
                            if is_chosen
                                && let Some(found) =
                                    field(ui, session, line.subject, *column, cell, enter && at == 0)
                            {
                                ask = Some(found);
                            }
                            if !is_chosen || property_of(session, line.subject, *column).is_none() {
                                let text = match column {
                                    TableColumn::Deviation => listing::deviation_words(cell),
                                    _ => cell.text(column.measure(table), session),
                                };
                                let numbers = matches!(cell, TableCell::Number(_));
                                words(ui, &text, numbers && *column != TableColumn::Row);
                            }
                        });
                    }
                    row.col(|_| {});
                    let response = row.response();
                    response.widget_info(|| {
                        let first = line.cells.first().map(|cell| cell.text(None, session));
                        egui::WidgetInfo::labeled(
                            egui::accesskit::Role::Row,
                            true,
                            format!("Line {}", first.unwrap_or_default()),
                        )
                    });
                    if response.clicked() {
                        clicked = Some(index);
                    }
                });
            });
        self.order = order;
        if let Some(index) = clicked {
            let modifiers = ui.input(|input| input.modifiers);
            self.choose(session, index, modifiers.shift, modifiers.command);
            keys.request_focus();
        }
        if let (Some((property, value)), Some(subject)) = (ask, self.chosen) {
            let subjects = if property.is_of_one_alone() {
                vec![subject]
            } else {
                let alike = |one: &&Subject| std::mem::discriminant(*one) == std::mem::discriminant(&subject);
                session.selection().iter().filter(alike).copied().collect()
            };
            if let Err(refused) = session.set(property, &subjects, value) {
                typing::refuse_or_say(ui.ctx(), refused);
            }
        }
    }
}

/// A small triangle at the end of a heading: up for rising, down for falling.
fn mark(ui: &Ui, heading: egui::Rect, falling: bool, theme: &Theme) {
    let (middle, up) = (heading.right_center() - vec2(6.0, 0.0), if falling { -1.0 } else { 1.0 });
    let points = [vec2(-3.5, 2.5 * up), vec2(3.5, 2.5 * up), vec2(0.0, -2.5 * up)];
    let points = points.map(|corner| middle + corner).to_vec();
    ui.painter().add(egui::Shape::convex_polygon(points, theme.soft, egui::Stroke::NONE));
}

fn words(ui: &mut Ui, text: &str, right: bool) {
    let label = egui::Label::new(text).truncate().selectable(false);
    if right {
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            ui.add_space(10.0);
            ui.add(label);
        });
    } else {
        ui.add(label);
    }
}

const fn width(column: TableColumn) -> f32 {
    match column {
        TableColumn::Property(Property::Tag) | TableColumn::Row => 60.0,
        TableColumn::Section => 120.0,
        TableColumn::Property(Property::From | Property::To) => 128.0,
        TableColumn::Kind
        | TableColumn::Property(
            Property::Size
            | Property::Bore
            | Property::Fittings
            | Property::Metering
            | Property::Tube
            | Property::Piece(_),
        ) => 112.0,
        TableColumn::Property(Property::MeasuredLength) => 92.0,
        _ => 84.0,
    }
}

/// The property that a cell of a chosen line sets.
fn property_of(session: &Session, subject: Subject, column: TableColumn) -> Option<Property> {
    match column {
        TableColumn::Property(property) => Some(property).filter(|one| one.can_be_set(session, subject)),
        _ => None,
    }
}

fn number(
    ui: &mut Ui,
    session: &Session,
    name: &str,
    measure: Measure,
    value: Option<f64>,
    range: std::ops::RangeInclusive<f64>,
) -> Option<f64> {
    let field = NumberField {
        unit: false,
        width: 58.0,
        empty: "–",
        ..NumberField::new(name, measure, session.project().units, value, range)
    };
    field.show(ui, None)
}

/// A list; what is clicked in it, also where the line has that already: others that are selected may not.
fn pick(
    ui: &mut Ui,
    name: &str,
    now: Option<&PropertyValue>,
    shown: &str,
    all: Vec<(PropertyValue, String)>,
) -> Option<PropertyValue> {
    let mut chosen = None;
    let response = egui::ComboBox::from_id_salt(name)
        .selected_text(shown)
        .width(ui.available_width() - 8.0)
        .truncate()
        .show_ui(ui, |ui| {
            for (one, label) in all {
                if ui.selectable_label(now == Some(&one), label).clicked() {
                    chosen = Some(one);
                }
            }
        })
        .response;
    let label = format!("{name}: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, &label));
    chosen
}

/// A cell as a field; what it sets.
fn field(
    ui: &mut Ui,
    session: &Session,
    subject: Subject,
    column: TableColumn,
    cell: &TableCell,
    enter: bool,
) -> Option<(Property, PropertyValue)> {
    let property = property_of(session, subject, column)?;
    let tag = session.tag_of(subject);
    let name = format!("{} of {tag}", property.heading());
    let value = match property.input() {
        Input::Words => words_field(ui, &name, &cell.text(None, session), enter).map(PropertyValue::Words),
        Input::Number(NumberInput { measure, range, cleared }) => {
            let value = if let TableCell::Number(value) = cell { *value } else { None };
            let show = |ui: &mut Ui| number(ui, session, &name, measure, value, range.clone());
            let Some((hover, label)) = cleared else {
                return Some((property, PropertyValue::Number(show(ui)?)));
            };
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = 2.0;
                let mut found = show(ui).map(PropertyValue::Number);
                if value.is_some() {
                    let clear = ui.small_button("×").on_hover_text(hover);
                    clear.widget_info(|| {
                        let label = format!("{label} of {tag}");
                        egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, label)
                    });
                    if clear.clicked() {
                        found = Some(PropertyValue::Nothing);
                    }
                }
                found
            })
            .inner
        }
        Input::Tick(words) => {
            let mut yes = property.of(session, subject) == Common::Same(PropertyValue::Yes(true));
            ui.checkbox(&mut yes, words).changed().then_some(PropertyValue::Yes(yes))
        }
        Input::List => {
            let now = property.of(session, subject).same();
            let all = session.choices(property, &[subject]);
            pick(ui, &name, now.as_ref(), &cell.text(None, session), all)
        }
    };
    Some((property, value?))
}

fn words_field(ui: &mut Ui, name: &str, words: &str, enter: bool) -> Option<String> {
    let id = ui.make_persistent_id(("tag", name));
    let field = TextField { width: 50.0, in_cell: true, ..TextField::new(name, words) };
    field.show_with(ui, id, None, |response| {
        if enter {
            response.request_focus();
        }
    })
}
