//! The panels around the picture: what can be placed, findings, metering in use, the line at the bottom.

use eframe::egui;
use eframe::egui::containers::menu::{MenuButton, MenuConfig};
use eframe::egui::{RichText, Ui};

use super::icons;
use super::status_line;
use super::text_field::TextField;
use super::theme::Theme;
use crate::checks::{Finding, Severity, hidden_words};
use crate::hydraulics::SupplyState;
use crate::plan::words::{capital, counted};
use crate::plan::{Edit, PartItem, PartKey, PartKind, StockItem, StockKey, Subject};
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
        let hint = RichText::new("nothing selected").small().color(Theme::of(ui.visuals()).soft);
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

/// Findings that are in sight before anybody makes room for more.
const IN_SIGHT: f32 = 5.0;
/// Height of a finding, points.
const FINDING: f32 = 25.0;

/// Room for five findings: the same however many there are, since a drawing that moves while something is dragged could
/// not be aimed at.
pub const FINDINGS_ROOM: f32 = FINDING * IN_SIGHT + 14.0;

/// Findings, the most serious first; a click selects what one is about.
pub fn findings(ui: &mut Ui, session: &mut Session) {
    let theme = Theme::of(ui.visuals());
    let mut dismiss = None;
    let mut select = None;
    if session.project().duties.are_several() {
        ui.label(RichText::new(format!("For duty {}", session.duty().name)).color(theme.soft));
    }
    if session.findings().is_empty() {
        ui.label(RichText::new("No findings").color(theme.soft));
    }
    for finding in session.findings() {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 8.0;
            badge(ui, finding.severity, &theme);
            let text = format!("{}: {}", finding.place, finding.what);
            let response = ui.add(egui::Label::new(text).sense(egui::Sense::click()));
            if response.on_hover_text("Select what this is about").clicked() {
                select = Some(finding.clone());
            }
            ui.label(RichText::new(&finding.advice).color(theme.accent));
            // An error can't be hidden.
            if finding.severity == Severity::Error {
                return;
            }
            // A click into the field for the reason leaves it open.
            let stays = MenuConfig::new().close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside);
            let (hide, _) = MenuButton::new(RichText::new("Hide").small()).config(stays).ui(ui, |ui| {
                if let Some(reason) = reason_to_hide(ui) {
                    dismiss = Some(finding.dismissal(reason, &session.project().title.creator));
                    ui.close();
                }
            });
            hide.widget_info(|| {
                egui::WidgetInfo::labeled(
                    egui::accesskit::Role::Button,
                    true,
                    format!("Hide finding: {}, {}", finding.place, finding.what),
                )
            });
            hide.on_hover_text("Do not show this finding again in this project, for a reason");
        });
    }
    if let Some(new) = dismiss {
        // A refusal is in the message.
        let done = session.edit("Hide a finding", [Edit::Dismiss(new)]);
        status_line::say(ui.ctx(), done.map(|()| None));
    }
    hidden_findings(ui, session);
    if let Some(finding) = select {
        session.select(subjects(&finding));
    }
}

/// The reasons that are offered, the usual one first, and a field for another; what was chosen.
fn reason_to_hide(ui: &mut Ui) -> Option<String> {
    const OFFERED: [&str; 3] = [
        "Accepted for this bar",
        "Will be dealt with when fitting",
        "Does not apply to how this bar is used",
    ];
    ui.label("Why can it be hidden?");
    let mut chosen = None;
    for reason in OFFERED {
        if ui.button(reason).clicked() {
            chosen = Some(reason.to_owned());
        }
    }
    let own = TextField {
        hint: "another reason, then Enter",
        width: 220.0,
        ..TextField::new("Another reason", "")
    };
    // Whoever starts typing means the reason.
    let nobody = ui.memory(|memory| memory.focused().is_none());
    let typed = own.show_with(ui, ui.scope_id().with("reason to hide"), None, |field| {
        if nobody {
            field.request_focus();
        }
    });
    chosen.or(typed.filter(|reason| !reason.is_empty()))
}

/// What is hidden, by whom and why, each with the way back.
fn hidden_findings(ui: &mut Ui, session: &mut Session) {
    let hidden = &session.project().dismissed;
    if hidden.is_empty() {
        return;
    }
    let soft = Theme::of(ui.visuals()).soft;
    let text = match hidden.len() {
        1 => "1 finding is hidden where it occurs".to_owned(),
        many => format!("{many} findings are hidden where they occur"),
    };
    let mut recall = Vec::new();
    ui.horizontal(|ui| {
        ui.label(RichText::new(text).color(soft));
        if ui.small_button("Show them again").clicked() {
            recall.clone_from(hidden);
        }
    });
    egui::CollapsingHeader::new("Hidden findings").show(ui, |ui| {
        for one in hidden {
            ui.horizontal_wrapped(|ui| {
                let what = hidden_words(session.project(), one);
                ui.label(RichText::new(&what).color(soft));
                let show = ui.small_button("Show again");
                show.widget_info(|| {
                    egui::WidgetInfo::labeled(
                        egui::accesskit::Role::Button,
                        true,
                        format!("Show again: {what}"),
                    )
                });
                if show.clicked() {
                    recall.push(one.clone());
                }
            });
        }
    });
    if !recall.is_empty() {
        let done = session.edit("Show hidden findings", recall.into_iter().map(Edit::Recall));
        status_line::say(ui.ctx(), done.map(|()| None));
    }
}

fn subjects(finding: &Finding) -> Vec<Subject> {
    use crate::checks::Subject as About;
    finding
        .subjects
        .iter()
        .chain(&finding.also)
        .filter_map(|subject| match *subject {
            About::Row(id) => Some(Subject::Row(id)),
            About::Part(id) => Some(Subject::Part(id)),
            About::Run(id) => Some(Subject::Run(id)),
            About::Feed(id) => Some(Subject::Feed(id)),
            About::Routing | About::Project => None,
        })
        .collect()
}

fn badge(ui: &mut Ui, severity: Severity, theme: &Theme) {
    let colour = match severity {
        Severity::Error => theme.error,
        Severity::Warning => theme.warning,
        Severity::Note => theme.soft,
    };
    egui::Frame::new()
        .stroke(egui::Stroke::new(1.0, colour))
        .corner_radius(8.0)
        .inner_margin(egui::Margin::symmetric(7, 1))
        .show(ui, |ui| ui.label(RichText::new(severity.label()).small().strong().color(colour)));
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

/// The line at the bottom: findings counted, state of the solve, what was last refused, where the pointer is.
pub fn status(
    ui: &mut Ui,
    session: &Session,
    pointer: Option<crate::geometry::Point2>,
    said: Option<&str>,
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
        let fine = session.outcome().numbers().is_some_and(|one| one.supply == SupplyState::AsAsked);
        let state = capital(&status_words(session.outcome(), session.routing(), units));
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
                let says = said.map(|said| (said.to_owned(), theme.warning));
                let says = says.or_else(|| session.hint().map(|hint| (hint, theme.accent)));
                ui.scope(|ui| {
                    if says.is_some() {
                        ui.set_max_width(ui.available_width() * 0.4);
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
