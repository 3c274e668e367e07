//! What explains a test: causes with their odds, and what to look at next to part them.

use eframe::egui::{self, CollapsingHeader, Label, ProgressBar, RichText, Ui};

use crate::hydraulics::ways::Passed;
use crate::plan::Subject;
use crate::plan::words::{capital, counted};
use crate::quantities::{Measure, UnitSystem};
use crate::session::catch_answers::ExplainedState;
use crate::studies::catch_test::explain::{Cause, CauseGroup, Explanation, LEAST_ODDS, NextLook};
use crate::window::theme::Theme;

/// So many causes that a test can't tell from the first are named with it; the others by themselves.
const FIRST_OTHERS: usize = 3;
/// Width of the bar of odds, points.
const BAR: f32 = 74.0;

/// What is asked of the work.
pub(super) enum Asked {
    Stop,
    Again,
}

pub(super) fn heading(ui: &mut Ui, words: &str, theme: &Theme) {
    ui.add_space(8.0);
    ui.label(RichText::new(words).strong().color(theme.accent));
}

/// The heading, and how far the work is.
pub(super) fn head(ui: &mut Ui, state: ExplainedState, theme: &Theme, mut ask: impl FnMut(Asked)) {
    heading(ui, "What explains it", theme);
    match state {
        ExplainedState::UpToDate | ExplainedState::Waiting => {}
        ExplainedState::Working(part) => {
            ui.horizontal(|ui| {
                ui.label(RichText::new("Working…").color(theme.soft));
                ui.add(ProgressBar::new(part).desired_width(120.0).show_percentage());
                if ui.button("Stop").clicked() {
                    ask(Asked::Stop);
                }
            });
        }
        ExplainedState::Stopped => {
            ui.horizontal(|ui| {
                ui.label(RichText::new("Stopped").color(theme.warning));
                if ui.button("Begin again").clicked() {
                    ask(Asked::Again);
                }
            });
        }
    }
}

fn percent(odds: f64) -> String {
    // Nothing is certain, and nothing that is listed is impossible.
    if odds > 0.995 {
        "over 99 %".to_owned()
    } else if odds < 0.005 {
        "under 1 %".to_owned()
    } else {
        format!("{} %", Measure::Plain.short_number((odds * 100.0).round(), UnitSystem::Metric))
    }
}

/// All groups in the order of their odds; the one that is pointed out in the picture.
pub(super) fn groups(
    ui: &mut Ui,
    explanation: &Explanation,
    is_as_drawn: Option<bool>,
    picked: &mut Option<usize>,
    theme: &Theme,
) {
    let (shown, rest): (Vec<_>, Vec<_>) =
        explanation.groups.iter().enumerate().partition(|(at, group)| *at == 0 || group.odds >= LEAST_ODDS);
    for (at, group) in shown {
        ui.push_id(("cause", at), |ui| group_of(ui, (at, group), is_as_drawn, picked, theme));
    }
    if !rest.is_empty() {
        let odds = rest.iter().map(|(_, group)| group.odds).sum();
        let words = format!("{} more, together {}", counted(rest.len(), "group"), percent(odds));
        ui.label(RichText::new(words).small().color(theme.soft));
    }
    for caution in &explanation.cautions {
        let words = RichText::new(format!("Note: {}", capital(caution))).small().color(theme.warning);
        ui.add(Label::new(words).wrap());
    }
}

fn group_of(
    ui: &mut Ui,
    (at, group): (usize, &CauseGroup),
    is_as_drawn: Option<bool>,
    picked: &mut Option<usize>,
    theme: &Theme,
) {
    let Some(first) = group.members.first() else { return };
    ui.add_space(4.0);
    ui.horizontal_top(|ui| {
        let odds = percent(group.odds);
        let is_one = group.members.len() == 1 && group.unlisted.is_empty();
        let bar = ProgressBar::new(group.odds as f32).desired_width(BAR).text(RichText::new(&odds).small());
        let response = ui.add(bar);
        response.widget_info(|| {
            let of = if is_one { "Odds" } else { "Odds that it is one of these" };
            egui::WidgetInfo::labeled(egui::accesskit::Role::Meter, true, format!("{of} {odds}"))
        });
        ui.vertical(|ui| {
            if !is_one {
                let words = "It is one of these, which this test can't tell apart:";
                ui.add(Label::new(RichText::new(words).color(theme.soft)).wrap());
            }
            let is_picked = *picked == Some(at);
            let words = RichText::new(capital(&first.what)).strong();
            let label = ui.add(egui::Button::selectable(is_picked, words).wrap());
            let label = label.on_hover_text("Points it out on the bar");
            if label.clicked() {
                *picked = if is_picked { None } else { Some(at) };
            }
            if !is_one {
                let soft = |ui: &mut Ui, words: String| {
                    ui.add(Label::new(RichText::new(words).color(theme.soft)).wrap());
                };
                soft(ui, format!("this alone {}", percent(first.odds)));
                let others = group.members[1..].iter();
                let mut others: Vec<String> =
                    others.map(|one| format!("or {}: {}", one.what, percent(one.odds))).collect();
                let behind = others.split_off(others.len().min(FIRST_OTHERS));
                let more = behind.len() + group.unlisted.len();
                if more > 0 {
                    let named: f64 = group.members.iter().take(FIRST_OTHERS + 1).map(|one| one.odds).sum();
                    let rest = percent((group.odds - named).max(0.0));
                    others.push(format!("or something less likely, {}: together {rest}", group.likeness()));
                }
                for words in others {
                    soft(ui, words);
                }
                if !behind.is_empty() {
                    let head = RichText::new("The less likely ones").small().color(theme.soft);
                    CollapsingHeader::new(head).id_salt("other members").show(ui, |ui| {
                        for words in &behind {
                            ui.add(Label::new(RichText::new(capital(words)).color(theme.soft)).wrap());
                        }
                        if !group.unlisted.is_empty() {
                            ui.label(RichText::new("And causes too unlikely to name").color(theme.soft));
                        }
                    });
                }
            }
            let sentence = |ui: &mut Ui, name: &str, words: &str| {
                if !words.is_empty() {
                    ui.add(Label::new(format!("{name}: {words}")).wrap());
                }
            };
            let left = group.left().unwrap_or_default();
            let more = |ui: &mut Ui| {
                sentence(ui, "Why", &first.why);
                sentence(ui, "Not explained by it", &left);
                sentence(ui, "Then also", &first.then_also);
                sentence(ui, "What to do", first.advice(is_as_drawn));
            };
            if at == 0 {
                more(ui);
            } else {
                let head = RichText::new("Why, and what to do").small().color(theme.soft);
                CollapsingHeader::new(head).id_salt("more of a cause").show(ui, more);
            }
        });
    });
}

/// What to look at next, and what each outcome would mean.
pub(super) fn next(ui: &mut Ui, explanation: &Explanation, is_as_drawn: Option<bool>, theme: &Theme) {
    heading(ui, "What to look at next", theme);
    if let Some(says) = explanation.no_look(is_as_drawn) {
        ui.add(Label::new(RichText::new(capital(says)).color(theme.soft)).wrap());
    }
    for (at, look) in explanation.next.iter().enumerate() {
        look_of(ui, at, look, theme);
    }
}

fn look_of(ui: &mut Ui, at: usize, look: &NextLook, theme: &Theme) {
    ui.add_space(3.0);
    let gain = Measure::Plain.short_number((look.gain_bits * 100.0).round() / 100.0, UnitSystem::Metric);
    let label =
        ui.add(Label::new(RichText::new(format!("{}. {}", at + 1, capital(&look.what))).strong()).wrap());
    label.on_hover_text(format!("Expected to tell {gain} bits about which cause it is"));
    for outcome in &look.outcomes {
        let words = format!("{} ({}): {}", capital(&outcome.seen), percent(outcome.odds), outcome.means);
        ui.indent(("outcome", at), |ui| ui.add(Label::new(RichText::new(words).color(theme.ink)).wrap()));
    }
}

/// What a group is about on the bar.
pub(super) fn subjects(group: &CauseGroup) -> Vec<Subject> {
    let Some(first) = group.members.first() else { return Vec::new() };
    let of = |cause: &Cause| {
        let rows = cause.rows.iter().map(|row| Subject::Row(*row));
        let places = cause.places.iter().map(|place| match *place {
            Passed::Run(id) => Subject::Run(id),
            Passed::Part(id) => Subject::Part(id),
            Passed::SmallTee(feed) => Subject::Feed(feed),
            Passed::Element(element) => Subject::Feed(element.feed()),
        });
        rows.chain(places).collect::<Vec<_>>()
    };
    let mut all = of(&first.cause);
    all.extend(first.and.iter().flat_map(of));
    all
}
