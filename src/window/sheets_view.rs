//! The papers as they will print: a list of pages, one page large, what is chosen, and export.
//!
//! What is drawn, and whether it still holds, is the session's ([`papers`](crate::session::papers)); here are widgets,
//! and the pixels of pages as textures. Both go when the view is closed.

mod choices;
mod export;
mod pages;

use eframe::egui;
use std::collections::BTreeSet;
use std::time::Duration;

use eframe::egui::{CentralPanel, Frame, Margin, Panel, RichText, ScrollArea, Ui, Vec2};

use self::export::ExportPanel;
use self::pages::Pages;
use super::theme::Theme;
use super::typing::AfterTyping;
use crate::plan::RoutingId;
use crate::session::Session;
use crate::session::commands::Command;
use crate::session::paper_export::ExportRequest;
use crate::session::papers::{PaperChoice, Papers, PapersState, today};
use crate::sheets::{Date, SheetKind};

/// How far a key moves a page, points.
const PAN_STEP: f32 = 80.0;

/// The sheets view; nothing but what was chosen while it is closed.
pub struct SheetsView {
    /// The date that papers bear.
    pub today: fn() -> Date,
    choice: PaperChoice,
    aside: Option<Aside>,
    open: Option<OpenSheets>,
}

impl Default for SheetsView {
    fn default() -> Self {
        Self { today, choice: PaperChoice::default(), aside: None, open: None }
    }
}

/// One kind of sheet that was asked for alone.
struct Aside {
    at: SheetKind,
    /// What was chosen before.
    before: BTreeSet<SheetKind>,
}

struct OpenSheets {
    papers: Papers,
    pages: Pages,
    export: ExportPanel,
    after: AfterTyping<SheetsRequest>,
}

/// What is asked for, once what is typed is taken.
enum SheetsRequest {
    Close,
    Routing(RoutingId),
    Export(ExportRequest),
}

impl SheetsView {
    /// It is shown.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Opens it, or closes it.
    pub fn toggle(&mut self) {
        match self.open.take() {
            Some(open) => {
                self.choice = open.papers.choice;
                // One kind alone was a look aside: the sheets come again as they were chosen.
                if let Some(aside) = self.aside.take()
                    && self.choice.kinds == [aside.at].into()
                {
                    self.choice.kinds = aside.before;
                }
            }
            None => drop(self.opened()),
        }
    }

    /// Opens it with one kind of sheet alone.
    pub fn show_alone(&mut self, at: SheetKind) {
        let papers = &mut self.opened().papers;
        let before = std::mem::replace(&mut papers.choice.kinds, [at].into());
        papers.draw_now();
        self.aside = match self.aside.take() {
            Some(last) if before == [last.at].into() => Some(Aside { at, ..last }),
            _ if before == [at].into() => None,
            _ => Some(Aside { at, before }),
        };
    }

    fn opened(&mut self) -> &mut OpenSheets {
        self.open.get_or_insert_with(|| OpenSheets {
            papers: Papers::new(self.choice.clone()),
            pages: Pages::default(),
            export: ExportPanel::default(),
            after: AfterTyping::default(),
        })
    }

    /// Asks where to write all pages to; opened if it is not.
    pub fn ask_sheets(&mut self, session: &Session) {
        let open = self.opened();
        open.export.ask_sheets(session, &open.papers, open.pages.page());
    }

    /// Asks where to write a list to; opened if it is not.
    pub fn ask_list(&mut self, session: &Session) {
        let open = self.opened();
        open.export.ask_list(session, &open.papers);
    }

    /// What is drawn, while it is open.
    pub fn papers(&self) -> Option<&Papers> {
        self.open.as_ref().map(|open| &open.papers)
    }

    /// Number of the page shown, from 0.
    pub fn page(&self) -> Option<usize> {
        self.open.as_ref().map(|open| open.pages.page())
    }

    /// Stands still until nothing is under way; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        if let Some(open) = &mut self.open {
            open.papers.wait();
            open.export.wait();
        }
    }

    /// A dialog of its own is open, which owns the keys.
    pub fn is_modal(&self) -> bool {
        self.open.as_ref().is_some_and(|open| open.export.is_asking())
    }

    /// Carries out a command that is meant for the pages; false if it is for others.
    pub fn run(&mut self, command: Command) -> bool {
        let Some(open) = &mut self.open else { return false };
        let pages = &mut open.pages;
        match command {
            Command::Cancel => self.toggle(),
            Command::PreviousRouting => pages.turn(-1),
            Command::NextRouting => pages.turn(1),
            Command::FitToWindow => pages.fit_page(),
            Command::FitSelection => pages.fit_width(),
            Command::ZoomIn => pages.zoom(1.25),
            Command::ZoomOut => pages.zoom(0.8),
            Command::PanLeft => pages.pan(Vec2::new(-PAN_STEP, 0.0)),
            Command::PanRight => pages.pan(Vec2::new(PAN_STEP, 0.0)),
            Command::PanForward => pages.pan(Vec2::new(0.0, -PAN_STEP)),
            Command::PanBack => pages.pan(Vec2::new(0.0, PAN_STEP)),
            _ => return false,
        }
        true
    }

    /// Shows it in all the room there is; false, and nothing shown, while it is closed.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) -> bool {
        let Some(open) = &mut self.open else { return false };
        if open.show(ui, session, (self.today)()) {
            self.toggle();
        }
        true
    }
}

impl OpenSheets {
    /// True if it is to be closed.
    fn show(&mut self, ui: &mut Ui, session: &mut Session, today: Date) -> bool {
        let ctx = ui.ctx().clone();
        let now = Duration::from_secs_f64(ctx.input(|input| input.time).max(0.0));
        let wake = {
            let ctx = ctx.clone();
            move || ctx.request_repaint()
        };
        if let Some(wait) = self.papers.follow(session, now, today, wake) {
            ctx.request_repaint_after(wait);
        }
        self.pages.take(&ctx, &mut self.papers);
        let theme = Theme::of(ui.visuals());
        let side = Frame::new().fill(theme.panel).inner_margin(Margin::symmetric(12, 8));
        Panel::right("sheets").frame(side).exact_size(292.0).resizable(false).show(ui, |ui| {
            ui.horizontal(|ui| {
                ui.heading("Sheets");
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    if ui.button("Close").on_hover_text("Back to the drawing (Esc)").clicked() {
                        self.after.ask(SheetsRequest::Close);
                    }
                });
            });
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                let routing = choices::show(ui, session, &mut self.papers).map(SheetsRequest::Routing);
                ui.add_space(8.0);
                let wanted = self.export.show(ui, &self.papers, self.pages.page()).map(SheetsRequest::Export);
                if let Some(asked) = routing.or(wanted) {
                    self.after.ask(asked);
                }
            });
        });
        let list = Frame::new().fill(theme.panel).inner_margin(Margin::symmetric(8, 6));
        Panel::left("pages").frame(list).exact_size(176.0).resizable(false).show(ui, |ui| {
            self.state(ui);
            self.pages.list(ui, &self.papers);
        });
        let desk = Frame::new().fill(theme.ground).inner_margin(Margin::symmetric(8, 4));
        CentralPanel::default().frame(desk).show(ui, |ui| {
            self.pages.bar(ui, &self.papers);
            if let PapersState::Refused(why) = self.papers.state() {
                card(ui, |ui| {
                    let theme = Theme::of(ui.visuals());
                    ui.label(RichText::new("No sheets").strong().color(theme.warning));
                    ui.add(egui::Label::new(why).wrap());
                });
            }
            self.pages.large(ui, &mut self.papers);
        });
        self.export.dialog(&ctx, session, &self.papers, self.pages.page());
        match self.after.step(&ctx) {
            Some(SheetsRequest::Close) => return true,
            Some(SheetsRequest::Routing(id)) => {
                session.show_routing(id);
                self.papers.draw_now();
            }
            Some(SheetsRequest::Export(wanted)) => self.export.ask(wanted, session, &self.papers),
            None => {}
        }
        false
    }

    /// How the pages stand. The same room whatever is said, so that nothing jumps.
    fn state(&mut self, ui: &mut Ui) {
        let theme = Theme::of(ui.visuals());
        let (words, colour, button) = match self.papers.state() {
            PapersState::UpToDate => ("Up to date".to_owned(), theme.soft, None),
            PapersState::Refused(_) => ("No sheets".to_owned(), theme.warning, None),
            PapersState::OutOfDate => ("Out of date".to_owned(), theme.warning, Some("Draw now")),
            PapersState::Stopped => ("Stopped".to_owned(), theme.warning, Some("Draw now")),
            PapersState::Drawing(None) => ("Drawing…".to_owned(), theme.soft, Some("Stop")),
            PapersState::Drawing(Some((done, many))) => {
                (format!("{done} of {many} ready"), theme.soft, Some("Stop"))
            }
        };
        let share = match self.papers.state() {
            PapersState::Drawing(Some((done, many))) => done as f32 / many.max(1) as f32,
            _ => 0.0,
        };
        let room = Vec2::new(ui.available_width(), 26.0);
        ui.allocate_ui_with_layout(room, egui::Layout::left_to_right(egui::Align::Center), |ui| {
            ui.set_min_size(room);
            let label = ui.label(RichText::new(words).color(colour));
            if self.papers.state() == PapersState::OutOfDate {
                label.on_hover_text("Something has changed: drawn again when editing pauses");
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if button.is_some_and(|button| ui.button(button).clicked()) {
                    match self.papers.state() {
                        PapersState::Drawing(_) => self.papers.stop(),
                        _ => self.papers.draw_now(),
                    }
                }
            });
        });
        let (line, _) = ui.allocate_exact_size(Vec2::new(room.x, 3.0), egui::Sense::hover());
        if share > 0.0 {
            let done = egui::Rect::from_min_size(line.min, Vec2::new(line.width() * share, line.height()));
            ui.painter().rect_filled(line, 1.5, theme.line);
            ui.painter().rect_filled(done, 1.5, theme.accent);
        }
    }
}

/// A card for what must be read.
fn card(ui: &mut Ui, content: impl FnOnce(&mut Ui)) {
    let theme = Theme::of(ui.visuals());
    let frame = Frame::new().fill(theme.paper).inner_margin(Margin::same(12)).corner_radius(6.0);
    frame.show(ui, |ui| {
        ui.set_max_width(ui.available_width().min(520.0));
        content(ui);
    });
}
