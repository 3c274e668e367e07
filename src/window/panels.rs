//! The panels around the picture: what can be placed, metering in use, the line at the bottom.

use std::fmt::Write as _;
use std::time::Duration;

use eframe::egui;
use eframe::egui::{RichText, Ui};

use super::icons;
use super::status_line::StatusLine;
use super::theme::Theme;
use crate::checks::Severity;
use crate::hydraulics::SupplyState;
use crate::plan::words::{capital, counted};
use crate::plan::{PartItem, PartKey, PartKind, StockItem, StockKey};
use crate::quantities::Measure;
use crate::session::commands::Command;
use crate::session::{Session, Tool};
use crate::studies::status::status_words;

/// The list of tools.
pub fn palette(ui: &mut Ui, session: &mut Session) {
    let units = session.project().units;
    heading(ui, "Tools");
    tool_button(ui, session, "Select and move", Command::Select, Tool::Select);
    heading(ui, "Place");
    let mut active = None;
    let placed = PartKind::ALL.iter().map(|kind| (*kind, Command::Place(*kind)));
    for (kind, command) in placed {
        let name = &capital(kind.words());
        let fits = |item: &PartItem| item.item_kind() == kind;
        let entries: Vec<(PartKey, String)> = session.project().catalogue.offered(units, fits);
        let Some(usual) = session.usual_entry(fits) else { continue };
        let chosen = match session.tool() {
            Tool::Place(key) if entries.iter().any(|(entry, _)| entry == key) => key.clone(),
            _ => usual,
        };
        tool_button(ui, session, name, command, Tool::Place(chosen.clone()));
        if matches!(session.tool(), Tool::Place(key) if *key == chosen) {
            active = Some((name.clone(), chosen, entries));
        }
    }
    // Always in one place, so that nothing below jumps when a tool is taken.
    if let Some((name, chosen, entries)) = active {
        let mut pick = chosen.clone();
        choice(ui, &format!("{name} size"), &mut pick, &entries);
        if pick != chosen {
            session.take_size(pick);
        }
    } else {
        let room = egui::vec2(ui.available_width(), ui.spacing().interact_size.y);
        let hint = RichText::new("choose a part to place").small().color(Theme::of(ui.visuals()).soft);
        ui.add_sized(room, egui::Label::new(hint));
    }
    heading(ui, "Join");
    let hoses: Vec<(StockKey, String)> =
        session.project().catalogue.offered(units, |item| matches!(item, StockItem::Hose(_)));
    for (key, size) in hoses {
        tool_button(ui, session, &format!("Hose {size}"), Command::JoinHose, Tool::Join { stock: key });
    }
    heading(ui, "Rows");
    let manifold = session.selected_part();
    let active = matches!(session.tool(), Tool::GiveRows { .. });
    if wide_button(ui, Command::GiveRows, "Connect rows", active).clicked() {
        session.take(Tool::GiveRows { manifold });
    }
}

fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(6.0);
    ui.label(RichText::new(text).strong().color(Theme::of(ui.visuals()).soft));
}

fn wide_button(ui: &mut Ui, command: Command, text: &str, selected: bool) -> egui::Response {
    let size = egui::vec2(ui.available_width(), 24.0);
    let button = icons::button(ui, true, icons::icon_of(command), text, |button| {
        button.selected(selected).min_size(size)
    });
    command.entry().map_or(button.clone(), |entry| {
        button.on_hover_text(format!("{} ({})", entry.about, entry.keys_text()))
    })
}

fn tool_button(ui: &mut Ui, session: &mut Session, name: &str, command: Command, tool: Tool) {
    let selected = *session.tool() == tool;
    if wide_button(ui, command, name, selected).clicked() {
        session.take(tool);
    }
}

/// A list to choose from, with its name for screen readers.
pub fn choice<T: Clone + PartialEq>(ui: &mut Ui, name: &str, value: &mut T, entries: &[(T, String)]) {
    let text =
        entries.iter().find(|(one, _)| one == value).map_or_else(String::new, |(_, text)| text.clone());
    let response = egui::ComboBox::from_id_salt(name)
        .selected_text(&text)
        .width((ui.available_width() - 8.0).clamp(60.0, 186.0))
        .height(360.0)
        // In two lines rather than without its end, which may be what tells two entries apart.
        .wrap()
        .show_ui(ui, |ui| {
            for (key, text) in entries {
                ui.selectable_value(value, key.clone(), text);
            }
        })
        .response;
    response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, format!("{name}: {text}"))
    });
}

/// The metering in use: pressure over it at the slowest, usual and fastest speed.
pub fn metering(ui: &mut Ui, session: &Session) {
    let theme = Theme::of(ui.visuals());
    let units = session.project().units;
    let range = session.range();
    heading(ui, "Metering in use");
    if range.metering.is_empty() {
        ui.label(RichText::new("No metering yet").color(theme.soft));
        return;
    }
    let symbol = Measure::Pressure.unit(units).symbol;
    egui::Grid::new("metering").num_columns(4).spacing([8.0, 3.0]).striped(true).show(ui, |ui| {
        let soft = |ui: &mut Ui, text: String| {
            ui.label(RichText::new(text).small().color(theme.soft));
        };
        soft(ui, "metering".to_owned());
        for speed in range.speeds {
            soft(ui, Measure::GroundSpeed.short_text(speed.si(), units));
        }
        ui.end_row();
        for one in &range.metering {
            let size = session
                .project()
                .catalogue
                .item(&one.entry)
                .map_or_else(String::new, |item| item.size(units));
            let size = match one.length {
                Some(length) => format!("{size} × {}", Measure::Distance.short_text(length.si(), units)),
                None => size,
            };
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                ui.label(size);
                let rows = counted(one.rows, "row");
                soft(ui, rows);
            });
            for drop in one.drops {
                let text = drop.map_or_else(
                    || "–".to_owned(),
                    |(low, high)| {
                        let (low, high) = (
                            Measure::Pressure.number(low.si(), units),
                            Measure::Pressure.number(high.si(), units),
                        );
                        if low == high { low } else { format!("{low}–{high}") }
                    },
                );
                ui.label(RichText::new(text).size(12.0));
            }
            ui.end_row();
        }
    });
    soft_line(ui, &format!("pressure drop over the metering, {symbol}"));
}

fn soft_line(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).small().color(Theme::of(ui.visuals()).soft));
}

/// Findings are behind what is dragged, or were a moment ago: words that come and go with every move could not be read.
fn finds_for_a_drag(ui: &Ui, session: &Session) -> bool {
    const LINGERS: Duration = Duration::from_millis(400);
    let (id, now) = (egui::Id::unique("findings behind a drag"), ui.input(|input| input.time));
    if session.follows_drag() && !session.has_found() {
        ui.data_mut(|data| data.insert_temp(id, now));
    }
    let last: Option<f64> = ui.data(|data| data.get_temp(id));
    let lingers = session.follows_drag() && last.is_some_and(|last| now - last < LINGERS.as_secs_f64());
    if lingers && session.has_found() {
        ui.ctx().request_repaint_after(LINGERS);
    }
    lingers
}

/// The line at the bottom: findings counted, state of the solve, what was last refused, where the pointer is.
pub fn status(
    ui: &mut Ui,
    session: &Session,
    pointer: Option<crate::geometry::Point2>,
    said: &StatusLine,
    saved: &str,
    trouble: Option<&str>,
) {
    let theme = Theme::of(ui.visuals());
    let count = |severity| session.findings().iter().filter(|finding| finding.severity == severity).count();
    let many =
        |count: usize, word: &str| if count == 1 { format!("1 {word}") } else { format!("{count} {word}s") };
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 24.0;
        ui.label(format!(
            "{} · {} · {}",
            many(count(Severity::Error), "error"),
            many(count(Severity::Warning), "warning"),
            many(count(Severity::Note), "note")
        ));
        let units = session.project().units;
        let fine = session.shown_outcome().numbers().is_some_and(|one| one.supply == SupplyState::AsAsked);
        let mut state = capital(&status_words(session.shown_outcome(), session.routing(), units));
        let open = [
            session.awaits_lengths().then_some("lengths at hinges"),
            finds_for_a_drag(ui, session).then_some("findings"),
        ];
        let open: Vec<&str> = open.into_iter().flatten().collect();
        if !open.is_empty() {
            let _ = write!(state, "; {} are being worked out", open.join(" and "));
        }
        // Where the pointer is stands at the right, so that nothing moves with it; what is said takes what is left, and
        // is shown whole where it is pointed at.
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            ui.label(RichText::new(saved).color(theme.soft));
            if let Some(at) = pointer {
                let side = if at.x < 0.0 { "left" } else { "right" };
                let way = if at.y < 0.0 { "back" } else { "forward" };
                let text = |metres: f64| Measure::Distance.text(metres.abs(), units);
                let words = format!("{} {side}, {} {way}", text(at.x), text(at.y));
                ui.label(RichText::new(words).color(theme.soft));
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let colour = if fine { theme.soft } else { theme.warning };
                let tone = if said.is_news() { theme.ink } else { theme.warning };
                let says = said.words().map(|said| (said.to_owned(), tone));
                let says = says.or_else(|| session.hint().map(|hint| (hint, theme.accent)));
                ui.scope(|ui| {
                    if let Some((words, _)) = &says {
                        // What is said shortly leaves the rest to the state.
                        let font = egui::TextStyle::Body.resolve(ui.style());
                        let said = ui.painter().layout_no_wrap(words.clone(), font, theme.ink).size().x;
                        let (all, gap) = (ui.available_width(), ui.spacing().item_spacing.x);
                        ui.set_max_width((all - said - gap).max(all * 0.4));
                    }
                    ui.add(egui::Label::new(RichText::new(state).color(colour)).truncate());
                });
                if let Some((words, colour)) = says {
                    ui.add(egui::Label::new(RichText::new(words).color(colour)).truncate());
                }
            });
        });
    });
    // In a line of its own, so that no message takes its place.
    if let Some(trouble) = trouble {
        ui.add(egui::Label::new(RichText::new(trouble).color(theme.error)).truncate());
    }
}
