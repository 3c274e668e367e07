//! Export: what, as what, to where; and what came of it.

use eframe::egui;
use eframe::egui::{Context, RichText, Ui};
use std::path::PathBuf;

use crate::session::Session;
use crate::session::paper_export::{self, ExportEvent, ExportRequest, PaperList, written_words};
use crate::session::papers::Papers;
use crate::session::task::Task;
use crate::sheets::SheetFormat;
use crate::sheets::spreadsheet::ListFormat;
use crate::window::dialogs::{DialogAnswer, PathDialog, Purpose};
use crate::window::theme::Theme;

/// What is being exported.
pub(super) struct ExportPanel {
    one_page: bool,
    list: PaperList,
    dialog: Option<(ExportRequest, PathDialog)>,
    writing: Option<(ExportRequest, Task<ExportEvent>)>,
    progress: Option<(usize, usize)>,
    said: Option<Result<String, String>>,
    /// The folder written to last.
    folder: Option<PathBuf>,
}

impl Default for ExportPanel {
    fn default() -> Self {
        Self {
            one_page: false,
            list: PaperList::Parts,
            dialog: None,
            writing: None,
            progress: None,
            said: None,
            folder: None,
        }
    }
}

impl ExportPanel {
    pub(super) const fn is_asking(&self) -> bool {
        self.dialog.is_some()
    }

    /// Stands still until nothing is being written.
    pub(super) fn wait(&mut self) {
        if let Some((_, task)) = &mut self.writing {
            task.wait();
        }
    }

    /// Asks where to write the pages to, as PDF at first.
    pub(super) fn ask_sheets(&mut self, session: &Session, papers: &Papers, page: usize) {
        let page = self.one_page.then_some(page);
        self.ask(ExportRequest::Sheets(SheetFormat::Pdf, page), session, papers);
    }

    /// Asks where to write the list to.
    pub(super) fn ask_list(&mut self, session: &Session, papers: &Papers) {
        self.ask(ExportRequest::List(self.list, ListFormat::Xlsx), session, papers);
    }

    /// Asks where to write it to.
    pub(super) fn ask(&mut self, wanted: ExportRequest, session: &Session, papers: &Papers) {
        let of_project = session.path().and_then(|path| path.parent()).map(Into::into);
        let folder = self.folder.clone().or(of_project).or_else(std::env::home_dir).unwrap_or_default();
        let name = wanted.file_name(session, papers.made().map(|made| &**made));
        let purpose = Purpose::ExportPapers(wanted.ending());
        self.dialog = Some((wanted, PathDialog::new(purpose, Some(folder.join(name)))));
        self.said = None;
    }

    /// Shows what can be exported; what is asked for.
    pub(super) fn show(&mut self, ui: &mut Ui, papers: &Papers, page: usize) -> Option<ExportRequest> {
        let theme = Theme::of(ui.visuals());
        ui.separator();
        ui.label(RichText::new("Export").strong().color(theme.soft));
        let free = self.writing.is_none();
        let ready = papers.current().is_some() && free;
        let mut asked = None;
        let many = papers.current().map_or(0, |made| made.set.pages.len());
        ui.horizontal(|ui| {
            let all = if many > 0 { format!("All {many} pages") } else { "All pages".to_owned() };
            ui.radio_value(&mut self.one_page, false, all);
            ui.radio_value(&mut self.one_page, true, format!("Page {}", page + 1));
        });
        let of_pages = self.one_page.then_some(page);
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            for format in SheetFormat::ALL {
                let wanted = ExportRequest::Sheets(format, of_pages);
                if button(ui, ready, wanted, "Export sheets as") {
                    asked = Some(wanted);
                }
            }
        });
        ui.add_space(6.0);
        let chosen = self.list.label();
        let combo = egui::ComboBox::from_id_salt("list").selected_text(chosen).width(200.0);
        let response = combo
            .show_ui(ui, |ui| {
                for list in PaperList::ALL {
                    ui.selectable_value(&mut self.list, list, list.label());
                }
            })
            .response;
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, format!("List: {chosen}"))
        });
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            for format in ListFormat::ALL {
                let wanted = ExportRequest::List(self.list, format);
                if button(ui, free, wanted, "Export list as") {
                    asked = Some(wanted);
                }
            }
        });
        self.progress(ui);
        asked
    }

    /// What is being written, and what came of it.
    fn progress(&mut self, ui: &mut Ui) {
        let theme = Theme::of(ui.visuals());
        self.take();
        if let Some((wanted, task)) = &self.writing {
            let mut stop = false;
            ui.horizontal(|ui| {
                let words = match self.progress {
                    Some((done, many)) if many > 1 => format!("Writing file {} of {many}…", done + 1),
                    _ => format!("Writing {}…", wanted.words()),
                };
                ui.label(RichText::new(words).color(theme.soft));
                stop = ui.button("Stop writing").clicked();
            });
            if stop {
                task.stop();
            }
        }
        let (words, colour) = match &self.said {
            Some(Ok(said)) => (said, theme.ink),
            Some(Err(said)) => (said, theme.error),
            None => return,
        };
        ui.add_space(4.0);
        ui.add(egui::Label::new(RichText::new(words).color(colour)).wrap());
    }

    fn take(&mut self) {
        while let Some((_, task)) = &mut self.writing {
            match task.next(false) {
                Some(ExportEvent::File(done, many)) => self.progress = Some((done, many)),
                Some(ExportEvent::Done(done)) => {
                    self.said = Some(match done {
                        Ok(written) => {
                            self.folder =
                                written.files.first().and_then(|path| path.parent()).map(Into::into);
                            Ok(written_words(&written))
                        }
                        Err(why) => Err(format!("Nothing was written: {why}")),
                    });
                    self.writing = None;
                }
                None if task.has_ended() => {
                    self.said = Some(Err("Stopped: nothing was written".to_owned()));
                    self.writing = None;
                }
                None => return,
            }
        }
    }

    /// The question where to.
    pub(super) fn dialog(&mut self, ctx: &Context, session: &Session, papers: &Papers, page: usize) {
        let Some((wanted, dialog)) = &mut self.dialog else { return };
        let one_page = &mut self.one_page;
        let list = &mut self.list;
        let answer = dialog.show_with(ctx, |ui| {
            more(ui, wanted, one_page, list, page);
        });
        let path = match answer {
            DialogAnswer::Waiting => return,
            DialogAnswer::Closed => {
                self.dialog = None;
                return;
            }
            DialogAnswer::Is(path) => path,
        };
        let made = papers.current().cloned();
        if made.is_none() && matches!(wanted, ExportRequest::Sheets(..)) {
            dialog.error = Some("The pages are not ready: look at them first, and try again".to_owned());
            return;
        }
        match wanted.at(&path) {
            Err(why) => dialog.error = Some(why),
            Ok((wanted, out)) => {
                let many = made.as_ref().map_or(0, |made| made.set.pages.len());
                if let Some(permit) = dialog.permit(wanted.look(&out, many), session.path()) {
                    let ctx = ctx.clone();
                    let task =
                        paper_export::write(wanted, permit, session, made, move || ctx.request_repaint());
                    self.writing = Some((wanted, task));
                    self.progress = None;
                    self.dialog = None;
                }
            }
        }
    }
}

/// What else can be chosen beside the path.
fn more(ui: &mut Ui, wanted: &mut ExportRequest, one_page: &mut bool, list: &mut PaperList, page: usize) {
    let theme = Theme::of(ui.visuals());
    match wanted {
        ExportRequest::Sheets(_, of_pages) => {
            ui.horizontal(|ui| {
                ui.radio_value(of_pages, None, "All pages");
                ui.radio_value(of_pages, Some(page), format!("Page {} only", page + 1));
            });
            *one_page = of_pages.is_some();
            let words = "The ending decides: .pdf is one file; .svg, .dxf and .png are one file a page";
            ui.label(RichText::new(words).color(theme.soft));
        }
        ExportRequest::List(of, _) => {
            ui.horizontal_wrapped(|ui| {
                for one in PaperList::ALL {
                    ui.radio_value(of, one, one.label());
                }
            });
            *list = *of;
            let words =
                "The ending decides: .xlsx holds every table with notes and cautions, .csv the first table";
            ui.label(RichText::new(words).color(theme.soft));
        }
    }
}

fn button(ui: &mut Ui, ready: bool, wanted: ExportRequest, name: &str) -> bool {
    let ending = wanted.ending().to_uppercase();
    let response = ui.add_enabled(ready, egui::Button::new(format!("{ending}…")));
    let name = format!("{name} {ending}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, ready, name.clone()));
    let response = response.on_disabled_hover_text("Not ready yet");
    response.on_hover_text(format!("Write {}", wanted.words())).clicked()
}
