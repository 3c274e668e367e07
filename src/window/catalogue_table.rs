//! The catalogue as a table: descriptions, part numbers, prices and roll lengths to edit, another catalogue to compare
//! with and take from, and a file to export to.
//!
//! What is edited is the catalogue that the project carries. Every change is one step that undo takes back.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};

use eframe::egui::{self, Align, Button, Context, Id, Layout, RichText, ScrollArea, TextEdit, Ui, vec2};

use super::dialogs::ReplaceQuestion;
use super::form::material_choice;
use super::front::OverDrawing;
use super::number_field::NumberField;
use super::text_field::TextField;
use super::theme::Theme;
use super::typing::{self, AfterTyping};
use crate::files;
use crate::files::output::look;
use crate::hydraulics::losses::fitting;
use crate::plan::catalogue_merge::{Compared, Standing, compare, currencies};
use crate::plan::kinds::{Field, Range};
use crate::plan::{Edit, Entry, EntryKey, Item, Price, Project, Routing};
use crate::quantities::{Length, Measure, UnitSystem};
use crate::session::Session;

mod compared;

use compared::CatalogueComparison;

/// The window of the catalogue.
#[derive(Debug, Default)]
pub struct CatalogueTable {
    /// It is shown.
    pub is_open: bool,
    search: String,
    in_use_only: bool,
    selected: Option<EntryKey>,
    file: String,
    system: Option<Receiver<Option<PathBuf>>>,
    message: Option<String>,
    question: ReplaceQuestion,
    comparison: Option<CatalogueComparison>,
    after: AfterTyping<CatalogueRequest>,
}

/// What is asked for, once what is typed is taken.
#[derive(Debug)]
enum CatalogueRequest {
    Close,
    Compare,
    Export,
}

/// A column of the table that is edited in place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum EditedColumn {
    Description,
    PartNumber,
    Price,
    Currency,
    Roll,
}

const EDITED_COLUMNS: [(EditedColumn, &str, f32); 5] = [
    (EditedColumn::Description, "Description", 290.0),
    (EditedColumn::PartNumber, "Part number", 100.0),
    (EditedColumn::Price, "Price", 58.0),
    (EditedColumn::Currency, "Currency", 52.0),
    (EditedColumn::Roll, "Roll", 64.0),
];
const KIND_WIDTH: f32 = 112.0;
const SIZE_WIDTH: f32 = 120.0;
const USED_WIDTH: f32 = 40.0;

impl CatalogueTable {
    /// Shows it, if it is open.
    pub fn show(&mut self, ctx: &Context, session: &mut Session) {
        if let Some(path) = self.system.as_ref().and_then(|system| system.try_recv().ok()) {
            self.system = None;
            match path {
                Some(path) => self.file = path.display().to_string(),
                None => self.message = Some("No file was chosen; type its path".to_owned()),
            }
        }
        let mut is_open = self.is_open;
        egui::Window::new("Catalogue")
            .id(OverDrawing::Catalogue.id())
            .constrain_to(OverDrawing::room(ctx))
            .open(&mut is_open)
            .collapsible(false)
            .default_size(vec2(920.0, 560.0).min(ctx.content_rect().size() - vec2(30.0, 70.0)))
            .max_size(ctx.content_rect().size() - vec2(30.0, 70.0))
            .show(ctx, |ui| {
                self.head(ui, session);
                ui.separator();
                if let Some(comparison) = &mut self.comparison {
                    match comparison.show(ui, session) {
                        None => {}
                        Some(Ok(())) => self.comparison = None,
                        Some(Err(refused)) => self.message = Some(refused.to_string()),
                    }
                } else {
                    self.table(ui, session);
                }
            });
        if self.is_open && !is_open {
            self.after.ask(CatalogueRequest::Close);
        }
        match self.after.step(ctx) {
            Some(CatalogueRequest::Close) => self.is_open = false,
            Some(CatalogueRequest::Compare) => self.compare(session.project()),
            Some(CatalogueRequest::Export) => self.export(session),
            None => {}
        }
    }

    fn head(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        ui.horizontal(|ui| {
            let label = ui.label(RichText::new("Find").color(theme.soft)).id;
            ui.add(TextEdit::singleline(&mut self.search).desired_width(150.0)).labelled_by(label);
            ui.checkbox(&mut self.in_use_only, "Only what is in use");
            let currencies = currencies(&session.project().catalogue);
            let words = match currencies.as_slice() {
                [] => "No prices".to_owned(),
                [one] => format!("Prices in {one}"),
                several => format!("Prices in {}: they do not add up", several.join(" and ")),
            };
            let colour = if currencies.len() > 1 { theme.warning } else { theme.soft };
            ui.label(RichText::new(words).color(colour));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| self.add(ui, session));
        });
        ui.horizontal(|ui| {
            let label = ui.label(RichText::new("File, RON or CSV").color(theme.soft)).id;
            ui.add(
                TextEdit::singleline(&mut self.file).desired_width(330.0).hint_text("/home/me/catalogue.csv"),
            )
            .labelled_by(label);
            if ui.add_enabled(self.system.is_none(), Button::new("Browse catalogue…")).clicked() {
                self.browse(ui.ctx());
            }
            let ready = !self.file.trim().is_empty();
            if ui
                .add_enabled(ready, Button::new("Compare with it"))
                .on_hover_text("Shows what the file would add or change, before anything is changed")
                .clicked()
            {
                self.after.ask(CatalogueRequest::Compare);
            }
            let question = self.question.words(&self.file);
            let export = if question.is_some() { "Replace it" } else { "Export to it" };
            if ui
                .add_enabled(ready, Button::new(export))
                .on_hover_text("Writes this catalogue, as CSV if the name ends in .csv")
                .clicked()
            {
                self.after.ask(CatalogueRequest::Export);
            }
        });
        if let Some(question) = self.question.words(&self.file) {
            ui.add(egui::Label::new(RichText::new(question).color(theme.warning)).wrap());
        }
        if let Some(message) = &self.message {
            ui.add(egui::Label::new(RichText::new(message).color(theme.warning)).wrap());
        }
    }

    /// A new entry of a kind, like the first of that kind, to be changed below the table.
    fn add(&mut self, ui: &mut Ui, session: &mut Session) {
        let mut wanted = None;
        ui.menu_button("Add an entry", |ui| {
            let mut kinds = BTreeSet::new();
            for entry in &session.project().catalogue.entries {
                let kind = entry.item.kind();
                if kinds.insert(kind) && ui.button(kind).clicked() {
                    wanted = Some(entry.key.clone());
                    ui.close();
                }
            }
        })
        .response
        .on_hover_text("Choose its kind; then give it its numbers below the table");
        if let Some(copy) = wanted.and_then(|key| self.copy_of(session.project(), &key)) {
            self.in_use_only = false;
            self.search.clone_from(&copy.key.0);
            let refused = session.edit("Change the catalogue", [Edit::PutEntry(copy)]).err();
            self.message = refused.map(|refusal| refusal.to_string());
        }
    }

    /// A copy of an entry under a key of its own, which is selected; what it is ordered by is not copied.
    fn copy_of(&mut self, project: &Project, key: &EntryKey) -> Option<Entry> {
        let mut copy = project.catalogue.entry(key)?.clone();
        copy.key = free_key(project, key);
        copy.part_number = String::new();
        copy.price = None;
        copy.calibrated = None;
        self.selected = Some(copy.key.clone());
        Some(copy)
    }

    /// Writes this catalogue, once it was asked about what is there.
    fn export(&mut self, session: &Session) {
        let path = PathBuf::from(self.file.trim());
        let standing = look(vec![files::catalogue_output(&path)]);
        self.message = match self.question.permit(&self.file, standing, session.path(), false) {
            Ok(None) => None,
            Ok(Some(permit)) => {
                let bytes = files::catalogue_bytes(&path, &session.project().catalogue);
                Some(match bytes.and_then(|bytes| permit.write(vec![bytes])) {
                    Ok(written) => written.notes.behind(&format!("Written to {}", path.display())),
                    Err(error) => error.to_string(),
                })
            }
            Err(why) => Some(why),
        };
    }

    fn compare(&mut self, project: &Project) {
        let path = PathBuf::from(self.file.trim());
        match files::open_catalogue(&path) {
            Ok(theirs) => {
                let lines = compare(&project.catalogue, &theirs, project.units);
                let news = |line: &&Compared| matches!(line.standing, Standing::Added | Standing::Changed(_));
                let take = lines.iter().filter(news).map(|line| line.entry.key.clone()).collect();
                self.comparison =
                    Some(CatalogueComparison { from: self.file.trim().to_owned(), lines, take });
                self.message = None;
            }
            Err(error) => self.message = Some(error.to_string()),
        }
    }

    /// The system's dialog, off the frame.
    fn browse(&mut self, ctx: &Context) {
        let (send, receive) = channel();
        self.system = Some(receive);
        self.message = None;
        let ctx = ctx.clone();
        std::thread::spawn(move || {
            let path = rfd::FileDialog::new().add_filter("Catalogue", &["ron", "csv"]).pick_file();
            // The window may be gone by now; then nobody waits for the answer.
            let _ = send.send(path);
            ctx.request_repaint();
        });
    }

    fn table(&mut self, ui: &mut Ui, session: &mut Session) {
        let project = session.project();
        let units = project.units;
        let used = use_counts(project);
        let wanted = self.search.trim().to_lowercase();
        let shown: Vec<(Entry, usize)> = project
            .catalogue
            .entries
            .iter()
            .map(|entry| (entry, used.iter().filter(|key| **key == entry.key).count()))
            .filter(|(entry, count)| {
                let text = format!(
                    "{} {} {} {}",
                    entry.key,
                    entry.item.kind(),
                    entry.description,
                    entry.part_number
                );
                text.to_lowercase().contains(&wanted) && (*count > 0 || !self.in_use_only)
            })
            .map(|(entry, count)| (entry.clone(), count))
            .collect();
        let theme = Theme::of(ui.visuals());
        ui.horizontal(|ui| {
            let heading = |ui: &mut Ui, text: String, width: f32| {
                ui.add_sized(
                    vec2(width, 18.0),
                    egui::Label::new(RichText::new(text).strong().color(theme.soft)).truncate(),
                );
            };
            heading(ui, "Kind".to_owned(), KIND_WIDTH);
            heading(ui, "Size".to_owned(), SIZE_WIDTH);
            for (cell, name, width) in EDITED_COLUMNS {
                let unit = if cell == EditedColumn::Roll {
                    format!(" ({})", Measure::Distance.unit(units).symbol)
                } else {
                    String::new()
                };
                heading(ui, format!("{name}{unit}"), width);
            }
            heading(ui, "Used".to_owned(), USED_WIDTH);
        });
        let mut changed: Option<Entry> = None;
        let detail = if self.selected.is_some() { 244.0 } else { 28.0 };
        let height = (ui.available_height() - detail).max(120.0);
        ScrollArea::both().max_height(height).auto_shrink([false, false]).id_salt("entries").show_rows(
            ui,
            24.0,
            shown.len(),
            |ui, range| {
                for (entry, count) in &shown[range] {
                    ui.horizontal(|ui| {
                        let is_selected = self.selected.as_ref() == Some(&entry.key);
                        let kind = Button::selectable(is_selected, entry.item.kind())
                            .truncate()
                            .min_size(vec2(KIND_WIDTH, 20.0));
                        let response = ui.add_sized(vec2(KIND_WIDTH, 20.0), kind).on_hover_text(&entry.key.0);
                        name(ui, response.id, format!("{}, {}", entry.item.kind(), entry.key));
                        if response.clicked() {
                            self.selected = (!is_selected).then(|| entry.key.clone());
                        }
                        ui.add_sized(
                            vec2(SIZE_WIDTH, 20.0),
                            egui::Label::new(entry.item.size(units)).truncate(),
                        );
                        for (cell, heading, width) in EDITED_COLUMNS {
                            if cell == EditedColumn::Roll && !entry.item.is_cut() {
                                ui.add_space(width + ui.spacing().item_spacing.x);
                                continue;
                            }
                            let value = cell_text(entry, cell, units);
                            if let Some(typed) = text_cell(ui, &entry.key, heading, &value, width) {
                                match with_cell(entry, cell, &typed, session.project()) {
                                    Ok(entry) => changed = Some(entry),
                                    Err(error) => drop(typing::refuse(ui.ctx(), error)),
                                }
                            }
                        }
                        ui.add_sized(vec2(USED_WIDTH, 20.0), egui::Label::new(count.to_string()));
                    });
                }
            },
        );
        if self.selected.is_none() {
            let hint = "Type into a cell to change it; press the kind of an entry for its numbers, to copy or to remove it";
            ui.label(RichText::new(hint).color(theme.soft));
        }
        if let Some(key) = self.selected.clone() {
            ui.separator();
            changed = changed.or(self.detail(ui, session, &key));
        }
        if let Some(entry) = changed {
            let refused = session.edit("Change the catalogue", [Edit::PutEntry(entry)]).err();
            // Said at the field; here where it came from none.
            let refused = refused.filter(|refusal| !typing::refuse(ui.ctx(), refusal));
            self.message = refused.map(|refusal| refusal.to_string());
        }
    }

    /// The numbers of the selected entry; a changed one is handed back.
    fn detail(&mut self, ui: &mut Ui, session: &mut Session, key: &EntryKey) -> Option<Entry> {
        let units = session.project().units;
        let Some(entry) = session.project().catalogue.entry(key).cloned() else {
            self.selected = None;
            return None;
        };
        let mut result = None;
        ui.horizontal(|ui| {
            ui.label(RichText::new(format!("{key}: {}", entry.item.kind())).strong());
            if ui.button("Copy as a new entry").clicked() {
                result = self.copy_of(session.project(), key);
            }
            if ui.button("Remove").on_hover_text("Only an entry that nothing uses").clicked() {
                let removed = session.edit("Remove from the catalogue", [Edit::RemoveEntry(key.clone())]);
                self.message = removed.err().map(|error| error.to_string());
            }
        });
        ui.horizontal(|ui| {
            ui.label("Connection")
                .on_hover_text("Threads, ends and what they take, as the parts list names them");
            if let Some(typed) = text_cell(ui, key, "Connection", &entry.connection, 420.0) {
                result = Some(Entry { connection: typed, ..entry.clone() });
            }
        });
        ui.horizontal(|ui| {
            ui.label("Wetted material")
                .on_hover_text("What of it touches the liquid; without a word the parts list says ask");
            let mut materials = entry.materials.clone();
            if material_choice(ui, "Wetted material", &mut materials) {
                result = Some(Entry { materials, ..entry.clone() });
            }
        });
        if let Some((field, by)) = entry.calibration() {
            let words = format!("{} {}", field.name(), by.words_with_interval(units));
            ui.label(RichText::new(words).color(Theme::of(ui.visuals()).soft));
        }
        let numbers = entry.item.numbers();
        egui::Grid::new("numbers of an entry").num_columns(6).spacing([12.0, 5.0]).show(ui, |ui| {
            let mut cells = 0;
            // What may be unknown has a field all the same, to be entered.
            let unknown = entry.item.number_table().into_iter().filter_map(|number| {
                let is_missing = number.range == Range::AboveZeroIfKnown && number.value.is_none();
                is_missing.then_some((number.field, None))
            });
            let known = numbers.iter().map(|(field, value)| (*field, Some(*value)));
            for (field, given) in &known.chain(unknown).collect::<Vec<_>>() {
                let value = &given.unwrap_or_default();
                let label = ui.label(field.name()).id;
                let new = if *field == Field::Inlet {
                    let mut at_end = *value == 0.0;
                    ui.checkbox(&mut at_end, "at an end").changed().then_some(if at_end { 0.0 } else { 1.0 })
                } else {
                    let name = field.name();
                    let measure = field.measure();
                    NumberField {
                        width: 80.0,
                        empty: "not known",
                        ..NumberField::new(name, measure, units, *given, 0.0..=1e9)
                    }
                    .show(ui, Some(label))
                };
                cells += 1;
                let mut new = new;
                if let Some(bore) = entry.item.flow_factor_bore().filter(|_| *field == Field::Loss) {
                    cells += 1;
                    new = new.or(flow_factor(ui, bore, *value, units));
                }
                if let Some(new) = new {
                    let of = |wanted: Field| {
                        let known = numbers.iter().find(|one| one.0 == wanted).map(|one| one.1);
                        if wanted == *field { Some(new) } else { known }
                    };
                    if let Ok(item) = Item::from_numbers(entry.item.kind(), of) {
                        result = Some(Entry { item, ..entry.clone() });
                    } else {
                        typing::refuse(ui.ctx(), "give a whole number");
                    }
                }
                if cells >= 3 {
                    cells = 0;
                    ui.end_row();
                }
            }
        });
        result
    }
}

/// The flow factor beside a loss coefficient, as data sheets give it: the same number, said in another way. The
/// coefficient, when one was entered.
fn flow_factor(ui: &mut Ui, bore: Length, k: f64, units: UnitSystem) -> Option<f64> {
    let name = match units {
        UnitSystem::Metric => "or Kv",
        UnitSystem::UsCustomary => "or Cv",
    };
    let label = ui.label(name).on_hover_text(
        "Flow of water at 1 bar (Kv, m³/h) or at 1 psi (Cv, gal/min), IEC 60534, through the bore of this entry",
    );
    let entered = NumberField {
        width: 80.0,
        empty: "no loss",
        ..NumberField::new(name, Measure::FlowFactor, units, fitting::kv_from_k(k, bore.si()), 1e-6..=1e6)
    }
    .show(ui, Some(label.id));
    entered.map(|kv| fitting::k_from_kv(kv, bore.si()))
}

fn name(ui: &Ui, id: Id, text: String) {
    ui.ctx().accesskit_node_builder(id, |node| node.set_label(text));
}

/// A cell to type into; what was typed once Enter or leaving it ended that.
fn text_cell(ui: &mut Ui, key: &EntryKey, heading: &str, value: &str, width: f32) -> Option<String> {
    let name = format!("{heading} of {key}");
    TextField::new(&name, value).show_in_cell(ui, Id::unique(("catalogue cell", &key.0, heading)), width)
}

fn cell_text(entry: &Entry, cell: EditedColumn, units: UnitSystem) -> String {
    let price = entry.price.as_ref();
    match cell {
        EditedColumn::Description => entry.description.clone(),
        EditedColumn::PartNumber => entry.part_number.clone(),
        EditedColumn::Price => price.map_or_else(String::new, |price| price.amount.to_string()),
        EditedColumn::Currency => price.map_or_else(String::new, |price| price.currency.clone()),
        EditedColumn::Roll => {
            entry.roll.map_or_else(String::new, |roll| Measure::Distance.short_number(roll.si(), units))
        }
    }
}

/// The entry with one cell changed. A first price takes the catalogue's currency, if there is one alone.
fn with_cell(entry: &Entry, cell: EditedColumn, typed: &str, project: &Project) -> Result<Entry, String> {
    let mut entry = entry.clone();
    match cell {
        EditedColumn::Description => typed.clone_into(&mut entry.description),
        EditedColumn::PartNumber => typed.clone_into(&mut entry.part_number),
        EditedColumn::Price if typed.is_empty() => entry.price = None,
        EditedColumn::Price => {
            // `12.50 EUR` gives both at once.
            let letters = |c: char| c.is_alphabetic();
            let (number, currency) = match typed.find(letters) {
                Some(at) => (typed[..at].trim(), Some(typed[at..].trim().to_uppercase())),
                None => (typed, None),
            };
            let amount = Measure::Plain.parse(number, project.units).map_err(|error| error.to_string())?;
            let known = entry.price.as_ref().map(|price| price.currency.clone());
            let alone = match currencies(&project.catalogue).as_slice() {
                [one] => Some(one.clone()),
                _ => None,
            };
            let currency = currency
                .or(known)
                .or(alone)
                .ok_or("type the price with its currency, three letters as in ISO 4217: 12.50 EUR")?;
            entry.price = Some(Price { amount, currency });
        }
        EditedColumn::Currency => match &mut entry.price {
            Some(price) => price.currency = typed.to_uppercase(),
            None => return Err("there is no price yet; type it with its currency: 12.50 EUR".to_owned()),
        },
        EditedColumn::Roll if typed.is_empty() => entry.roll = None,
        EditedColumn::Roll => {
            let roll = Measure::Distance.parse(typed, project.units).map_err(|error| error.to_string())?;
            entry.roll = Some(Length::from_si(roll));
        }
    }
    Ok(entry)
}

fn free_key(project: &Project, key: &EntryKey) -> EntryKey {
    let taken = |key: &EntryKey| project.catalogue.entry(key).is_some();
    let candidates = (2..=u32::MAX).map(|number| EntryKey(format!("{key}-{number}")));
    candidates.into_iter().find(|key| !taken(key)).unwrap_or_else(|| key.clone())
}

/// The entry of every use in every routing.
fn use_counts(project: &Project) -> Vec<EntryKey> {
    project.routings.iter().flat_map(Routing::entries).cloned().collect()
}
