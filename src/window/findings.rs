//! The findings: each in a line, errors always in sight; the rest of its words, what puts it right and what hides it on
//! demand.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use eframe::egui;
use eframe::egui::accesskit::Role;
use eframe::egui::containers::menu::{MenuButton, MenuConfig};
use eframe::egui::{Align, Context, Id, Label, Layout, RichText, ScrollArea, Sense, Ui, WidgetInfo};

use super::text_field::TextField;
use super::theme::Theme;
use super::{form, status_line};
use crate::checks::{Finding, Remedy, Severity, hidden_words};
use crate::plan::dismissal::Dismissal;
use crate::plan::words::counted;
use crate::plan::{Edit, FoldPosition, Subject};
use crate::session::Session;
use crate::session::remedy_trial::{RemedyTrial, RemedyTrials, Tried};
use crate::session::tool::Gesture;

/// Room that is left for what is no error, points: two lines of it.
const ROOM_FOR_OTHERS: f32 = 2.0 * FINDING;

/// Findings that are in sight before anybody makes room for more.
const IN_SIGHT: f32 = 6.0;
/// Width of all words of a finding, points.
const WORDS: f32 = 420.0;
/// In a list narrower than this the line is for what is found, points: what puts it right is behind "More".
const NARROW: f32 = 560.0;
/// Height of a finding, points.
const FINDING: f32 = 23.0;

/// Room for six findings: the same however many there are, since a drawing that moves while something is dragged could
/// not be aimed at.
pub const ROOM: f32 = FINDING * IN_SIGHT + 14.0;

/// What a click asks for; done after the frame's borrow of the session ends.
enum FindingRequest {
    Select(Vec<Subject>),
    Hide(Box<Dismissal>),
    CarryOut(Remedy),
    /// Only if it does no harm, which is not known yet.
    CarryOutUnharmed(Remedy),
    ShowFolded(FoldPosition, Vec<Subject>),
}

/// Findings, the most serious first, in what room there is. Errors stand above the rest and are not scrolled away with
/// it. A click selects what a finding is about. Answers with how far folded somebody asks to see the bar.
pub fn show(ui: &mut Ui, session: &mut Session) -> Option<FoldPosition> {
    let theme = Theme::of(ui.visuals());
    let mut request = None;
    let errors = errors(session);
    let (first, others) = session.findings().split_at(errors);
    if errors > 0 {
        let most = (ui.available_height() - ROOM_FOR_OTHERS).max(ROOM_FOR_OTHERS);
        list(ui, "errors", most, [false, true], |ui| {
            for (index, finding) in first.iter().enumerate() {
                line(ui, session, finding, index, &theme, &mut request);
            }
        });
    }
    let mut recall = Vec::new();
    list(ui, "findings", f32::INFINITY, [false, false], |ui| {
        if session.project().duties.are_several() {
            ui.label(RichText::new(format!("For duty {}", session.duty().name)).color(theme.soft));
        }
        if session.findings().is_empty() {
            ui.label(RichText::new("No findings").color(theme.soft));
        }
        for (index, finding) in others.iter().enumerate() {
            line(ui, session, finding, errors + index, &theme, &mut request);
        }
        recall = hidden_findings(ui, session);
    });
    carry_out(ui, session, request, recall)
}

fn errors(session: &Session) -> usize {
    session.findings().iter().filter(|one| one.severity == Severity::Error).count()
}

/// The findings of the routing in hand below a heading with their number, as part of a longer list: open from the start
/// where there is an error. Answers as [`show`] does.
pub fn folded(ui: &mut Ui, session: &mut Session) -> Option<FoldPosition> {
    let theme = Theme::of(ui.visuals());
    let (mut request, mut recall) = (None, Vec::new());
    let title = format!(
        "Findings of routing {}: {}",
        session.routing().name,
        counted(session.findings().len(), "finding")
    );
    egui::CollapsingHeader::new(title)
        .id_salt("findings of the routing in hand")
        .default_open(errors(session) > 0)
        .show(ui, |ui| {
            for (index, finding) in session.findings().iter().enumerate() {
                line(ui, session, finding, index, &theme, &mut request);
            }
            recall = hidden_findings(ui, session);
        });
    carry_out(ui, session, request, recall)
}

/// Does what was clicked; what is for others to do is handed on.
fn carry_out(
    ui: &Ui,
    session: &mut Session,
    request: Option<FindingRequest>,
    recall: Vec<Dismissal>,
) -> Option<FoldPosition> {
    let mut look_at = None;
    match request {
        None => {}
        Some(FindingRequest::ShowFolded(position, subjects)) => {
            session.select(subjects);
            look_at = Some(position);
        }
        Some(FindingRequest::Select(subjects)) => session.select(subjects),
        Some(FindingRequest::Hide(new)) => {
            let done = session.edit("Hide a finding", [Edit::Dismiss(*new)]);
            status_line::say(ui.ctx(), done.map(|()| None));
        }
        Some(FindingRequest::CarryOutUnharmed(remedy)) => {
            let done = session.carry_out_without_harm(&remedy);
            status_line::say(ui.ctx(), done);
        }
        Some(FindingRequest::CarryOut(remedy)) => status_line::say(ui.ctx(), session.carry_out(&remedy)),
    }
    if !recall.is_empty() {
        let done = session.edit("Show hidden findings", recall.into_iter().map(Edit::Recall));
        status_line::say(ui.ctx(), done.map(|()| None));
    }
    look_at
}

/// A list that is scrolled by itself.
fn list(ui: &mut Ui, name: &str, most: f32, shrink: [bool; 2], contents: impl FnOnce(&mut Ui)) {
    let area = ScrollArea::vertical().id_salt(name).max_height(most).auto_shrink(shrink);
    // With a least height of its own it would push the panel to a height that this keeps.
    let area = area.min_scrolled_height(0.0);
    let shown = area.show(ui, |ui| {
        let top = ui.min_rect().top();
        ui.spacing_mut().item_spacing.y = 2.0;
        ui.spacing_mut().interact_size.y = FINDING - 2.0;
        contents(ui);
        top
    });
    // Where the list has become shorter, egui comes back to its end only in the next pass.
    let scrolled = shown.inner_rect.top() - shown.inner;
    let farthest = (shown.content_size.y - shown.inner_rect.height()).max(0.0);
    if scrolled > farthest + 0.5 {
        ui.ctx().request_discard("the list of findings is shorter");
    }
}

/// One finding in a line; all of its words lie over the list where they are asked for.
fn line(
    ui: &mut Ui,
    session: &Session,
    finding: &Finding,
    index: usize,
    theme: &Theme,
    request: &mut Option<FindingRequest>,
) {
    let about = format!("{}, {}", finding.place, finding.what);
    ui.push_id(("finding", index), |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 8.0;
            let is_narrow = ui.available_width() < NARROW;
            badge(ui, finding.severity, theme);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                hide(ui, session, finding, request);
                // Over the list, which stays as it is: the line below must not move away from the pointer.
                let stays = MenuConfig::new().close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside);
                let cut = ui.scope_id().with("cut off");
                let (more, _) = MenuButton::new(RichText::new("More").small()).config(stays).ui(ui, |ui| {
                    // What the line says already is not said once more.
                    let is_cut = ui.data(|data| data.get_temp::<bool>(cut)).unwrap_or(true);
                    words(ui, finding, is_cut, theme);
                    if is_narrow {
                        show_folded(ui, finding, &about, request);
                        remedies(ui, session, finding, &about, request);
                    }
                    other_ways(ui, session, finding, request);
                });
                more.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("More about: {about}")));
                more.on_hover_text("All of its words, and what to try");
                if !is_narrow {
                    show_folded(ui, finding, &about, request);
                    remedies(ui, session, finding, &about, request);
                }
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    let text = format!("{}: {}", finding.place, finding.what);
                    // One tooltip: it says what is cut off too.
                    let label =
                        Label::new(text).truncate().show_tooltip_when_elided(false).sense(Sense::click());
                    let response = ui.add(label);
                    let is_cut =
                        response.intrinsic_size().is_some_and(|size| size.x > response.rect.width() + 0.5);
                    ui.data_mut(|data| data.insert_temp(cut, is_cut));
                    let response = response.on_hover_ui(|ui| words(ui, finding, is_cut, theme));
                    if response.clicked() {
                        *request = Some(FindingRequest::Select(subjects(finding)));
                    }
                });
            });
        });
    });
}

/// The way to the fold position at which a finding holds.
fn show_folded(ui: &mut Ui, finding: &Finding, about: &str, request: &mut Option<FindingRequest>) {
    let Some(at) = finding.fold else { return };
    let label = format!("Show {}", at.words());
    let button = ui.button(RichText::new(&label).small());
    button.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("{label}: {about}")));
    let hover = "Show at this fold position: opens the folded bar there, with what it is about selected";
    if button.on_hover_text(hover).clicked() {
        *request = Some(FindingRequest::ShowFolded(at, subjects(finding)));
    }
}

/// What to try about a finding, after what its line says where that `is_cut` off.
fn words(ui: &mut Ui, finding: &Finding, is_cut: bool, theme: &Theme) {
    ui.with_layout(Layout::top_down(Align::Min), |ui| {
        ui.set_max_width(WORDS);
        if is_cut {
            ui.add(Label::new(format!("{}: {}", finding.place, finding.what)).wrap());
        }
        for line in finding.each.iter().take(MOST_EACH) {
            ui.add(Label::new(RichText::new(line).color(theme.soft)).wrap());
        }
        if let Some(more) = finding.each.len().checked_sub(MOST_EACH).filter(|more| *more > 0) {
            ui.label(RichText::new(format!("and {more} more")).color(theme.soft));
        }
        ui.add(Label::new(RichText::new(&finding.advice).color(theme.accent)).wrap());
    });
}

/// Buttons for what puts a finding right, and for all findings that the same does.
fn remedies(
    ui: &mut Ui,
    session: &Session,
    finding: &Finding,
    about: &str,
    request: &mut Option<FindingRequest>,
) {
    let Some(remedy) = &finding.remedy else { return };
    let alike = session.findings().iter().filter_map(|one| one.remedy.as_ref()?.with(remedy));
    let (mut all, mut count) = (remedy.clone(), 0);
    for one in alike {
        all = all.with(&one).unwrap_or(all);
        count += 1;
    }
    let label = session.remedy_words(remedy);
    if count > 1 {
        let name = format!("{}, all {count} alike: {about}", remedy.label());
        let hover = format!("{} for all {count} findings, in one step", remedy.label());
        one_remedy(ui, session, &all, &format!("All {count} alike"), &name, &hover, request);
    }
    let name = format!("{label}: {about}");
    let hover = "Puts this right, in one step that undo takes back";
    one_remedy(ui, session, remedy, &label, &name, hover, request);
}

/// The button of one remedy; where it leaves something of what it is for or brings harm, that is said before it is done.
fn one_remedy(
    ui: &mut Ui,
    session: &Session,
    remedy: &Remedy,
    label: &str,
    name: &str,
    hover: &str,
    request: &mut Option<FindingRequest>,
) {
    let harm = match trial(ui, session, remedy) {
        Tried::Impossible => return,
        Tried::Done(trial) if !trial.is_plain() => trial,
        tried @ (Tried::Done(_) | Tried::NotYet) => {
            // As high as those beside it that open a menu.
            let button = ui.button(RichText::new(label).small());
            button.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
            let (hover, chosen): (_, fn(Remedy) -> FindingRequest) = match tried {
                Tried::Done(RemedyTrial { changes: Some(changes), .. }) => {
                    (format!("{hover}: {changes}"), FindingRequest::CarryOut)
                }
                Tried::Done(_) => (hover.to_owned(), FindingRequest::CarryOut),
                _ => (format!("{hover}; what it brings is being solved"), FindingRequest::CarryOutUnharmed),
            };
            if button.on_hover_text(hover).clicked() {
                *request = Some(chosen(remedy.clone()));
                ui.close();
            }
            return;
        }
    };
    let stays = MenuConfig::new().close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside);
    let text = RichText::new(format!("{label}…")).small();
    let (button, _) = MenuButton::new(text).config(stays).ui(ui, |ui| {
        ui.set_max_width(WORDS);
        if let Some(changes) = &harm.changes {
            ui.add(Label::new(changes.as_str()).wrap());
        }
        let colour = Theme::of(ui.visuals()).warning;
        for (word, lines) in [("Leaves", &harm.leaves), ("Brings", &harm.brings)] {
            for line in lines.iter().take(MOST_LINES) {
                ui.add(Label::new(RichText::new(format!("{word} {line}")).color(colour)).wrap());
            }
            if let Some(more) = lines.len().checked_sub(MOST_LINES).filter(|more| *more > 0) {
                ui.label(format!("and {more} more"));
            }
        }
        if ui.button("Do it all the same").clicked() {
            *request = Some(FindingRequest::CarryOut(remedy.clone()));
            ui.close();
        }
    });
    button.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("{name}; not without harm")));
    button.on_hover_text("Shows what this leaves as it is and what it brings, before anything is done");
}

/// What else would put a finding right, each with what came of it when it was solved.
fn other_ways(ui: &mut Ui, session: &Session, finding: &Finding, request: &mut Option<FindingRequest>) {
    if finding.others.is_empty() {
        return;
    }
    let theme = Theme::of(ui.visuals());
    ui.separator();
    ui.label(RichText::new("Other ways, each solved for every duty").color(theme.soft));
    for remedy in &finding.others {
        let name = session.remedy_detail(remedy);
        match trial(ui, session, remedy) {
            Tried::NotYet => {
                ui.label(RichText::new(format!("{name}: being solved")).color(theme.soft));
            }
            Tried::Impossible => {}
            Tried::Done(came) => {
                if ui.button(&name).clicked() {
                    *request = Some(FindingRequest::CarryOut(remedy.clone()));
                    ui.close();
                }
                let harm: Vec<String> = came.harm().collect();
                let (text, colour) = if harm.is_empty() {
                    ("puts it right and brings no other harm".to_owned(), theme.soft)
                } else {
                    (harm.iter().take(MOST_LINES).cloned().collect::<Vec<_>>().join("; "), theme.warning)
                };
                ui.add(Label::new(RichText::new(text).small().color(colour)).wrap());
            }
        }
    }
}

/// So many of several things are shown each with its own numbers.
const MOST_EACH: usize = 12;

/// So many lines of what a remedy leaves or brings are shown.
const MOST_LINES: usize = 4;

/// Remedies that are tried out, and how long a frame waits for one.
struct Trials {
    trials: RemedyTrials,
    patience: Duration,
}

impl Trials {
    fn of_window(ctx: &Context) -> Arc<Mutex<Self>> {
        // Where nobody looks, a frame stands still until it is known.
        let new = || {
            Arc::new(Mutex::new(Self { trials: RemedyTrials::default(), patience: Duration::from_hours(1) }))
        };
        ctx.data_mut(|data| data.get_temp_mut_or_insert_with(Id::unique("trials of remedies"), new).clone())
    }
}

/// As long as a frame may wait for what comes of a remedy.
pub const TRIAL: Duration = Duration::from_millis(4);

/// Frames wait no longer than this for what comes of a remedy.
pub fn wait_for_trials(ctx: &Context, patience: Duration) {
    Trials::of_window(ctx).lock().unwrap_or_else(PoisonError::into_inner).patience = patience;
}

/// What comes of a remedy, tried once for each state of the project.
fn trial(ui: &Ui, session: &Session, remedy: &Remedy) -> Tried {
    if !matches!(session.gesture(), Gesture::None) {
        return Tried::NotYet;
    }
    let ctx = ui.ctx().clone();
    let trials = Trials::of_window(&ctx);
    let mut trials = trials.lock().unwrap_or_else(PoisonError::into_inner);
    let patience = trials.patience;
    trials.trials.of(session, remedy, patience, move || ctx.request_repaint())
}

/// What hides a finding; an error can't be hidden.
fn hide(ui: &mut Ui, session: &Session, finding: &Finding, request: &mut Option<FindingRequest>) {
    if finding.severity == Severity::Error {
        return;
    }
    // A click into the field for the reason leaves it open.
    let stays = MenuConfig::new().close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside);
    let (hide, _) = MenuButton::new(RichText::new("Hide").small()).config(stays).ui(ui, |ui| {
        if let Some(reason) = reason_to_hide(ui) {
            let by = &session.project().title.creator;
            *request = Some(FindingRequest::Hide(Box::new(finding.dismissal(reason, by))));
            ui.close();
        }
    });
    hide.widget_info(|| {
        WidgetInfo::labeled(Role::Button, true, format!("Hide finding: {}, {}", finding.place, finding.what))
    });
    hide.on_hover_text("Do not show this finding again in this project, for a reason");
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
    form::like_fields(ui);
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
fn hidden_findings(ui: &mut Ui, session: &Session) -> Vec<Dismissal> {
    let hidden = &session.project().dismissed;
    if hidden.is_empty() {
        return Vec::new();
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
                show.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("Show again: {what}")));
                if show.clicked() {
                    recall.push(one.clone());
                }
            });
        }
    });
    recall
}

fn subjects(finding: &Finding) -> Vec<Subject> {
    use crate::checks::FindingSubject as About;
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
