//! A table of measured row positions, before it is taken: how it was read, what can be chosen instead, the rows, and
//! every line that can't be read.

use std::path::PathBuf;

use eframe::egui::{self, Context, Grid, Id, Modal, RichText, ScrollArea};
use egui_extras::{Column, TableBuilder};

use super::dialogs::Answer;
use super::settings::combo;
use super::theme::{self, Theme};
use crate::files::row_positions::{Choices, DELIMITERS, RowPositions, UNITS, read_row_positions, read_table};
use crate::plan::lay_out::RowPlace;
use crate::quantities::{Length, Measure, UnitSystem};

/// The preview.
pub struct ImportRows {
    file: PathBuf,
    text: String,
    choices: Choices,
    found: RowPositions,
}

/// Rows as they are taken, with their nominal spacing.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// From left to right.
    pub places: Vec<RowPlace>,
    /// The middle one of their gaps.
    pub spacing: Option<Length>,
}

const fn delimiter_label(delimiter: char) -> &'static str {
    match delimiter {
        ';' => "semicolon",
        '\t' => "tab",
        '|' => "bar |",
        _ => "comma",
    }
}

impl ImportRows {
    /// Reads a table; or why it can't be read at all.
    pub fn open(file: PathBuf) -> Result<Self, String> {
        let text = read_table(&file).map_err(|error| format!("{}: {error}", file.display()))?;
        let choices = Choices::default();
        let found = read_row_positions(&text, &choices);
        Ok(Self { file, text, choices, found })
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context, units: UnitSystem) -> Answer<Taken> {
        let mut answer = Answer::Waiting;
        let before = self.choices.clone();
        let modal = Modal::new(Id::unique("import rows")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            ui.set_width(620.0);
            let theme = Theme::of(ui.visuals());
            ui.heading("Import row positions");
            let name = self.file.file_name().map(|name| name.to_string_lossy().into_owned());
            ui.label(RichText::new(name.unwrap_or_default()).color(theme.soft));
            ui.add_space(6.0);
            Grid::new("how read").num_columns(4).spacing([12.0, 5.0]).show(ui, |ui| {
                let soft = |text: &str| RichText::new(text).color(theme.soft);
                ui.label(soft("Cells parted by"));
                let mut delimiter = self.found.delimiter;
                combo(
                    ui,
                    "Cells parted by",
                    delimiter_label(delimiter),
                    DELIMITERS.map(|one| (one, delimiter_label(one).to_owned())),
                    &mut delimiter,
                );
                if delimiter != self.found.delimiter {
                    // Other cells are other columns.
                    self.choices = Choices { delimiter: Some(delimiter), ..Choices::default() };
                }
                ui.label(soft("Unit"));
                let mut unit = self.choices.unit.unwrap_or("m");
                combo(ui, "Unit", unit, UNITS.map(|one| (one, one.to_owned())), &mut unit);
                if unit != self.choices.unit.unwrap_or("m") {
                    self.choices.unit = Some(unit);
                }
                ui.end_row();
                for (which, name) in
                    ["x, right of centre", "Forward", "Outlet height"].into_iter().enumerate()
                {
                    ui.label(soft(name));
                    let mut column = self.found.used[which];
                    let label = |column: Option<usize>| {
                        column
                            .and_then(|at| self.found.columns.get(at))
                            .map_or_else(|| "none".to_owned(), String::clone)
                    };
                    let all = (0..self.found.columns.len()).map(Some).chain([None]);
                    combo(ui, name, &label(column), all.map(|one| (one, label(one))), &mut column);
                    if column != self.found.used[which] {
                        self.choices.columns[which] = Some(column);
                    }
                    ui.label(soft(if column.is_some() { self.found.units[which] } else { "" }));
                    ui.end_row();
                }
            });
            ui.add_space(6.0);
            self.rows(ui, units, &theme);
            self.problems(ui, &theme);
            ui.add_space(8.0);
            ui.horizontal(|ui| {
                let count = self.found.rows.len();
                let take = egui::Button::new(format!("Use these {count} rows"));
                if ui.add_enabled(count > 0, take).clicked() {
                    answer = Answer::Is(Taken { places: self.found.places(), spacing: self.found.spacing() });
                }
                if ui.button("Cancel").clicked() {
                    answer = Answer::Closed;
                }
            });
        });
        if self.choices != before {
            self.found = read_row_positions(&self.text, &self.choices);
        }
        if super::dialogs::given_up(&modal) && answer == Answer::Waiting {
            answer = Answer::Closed;
        }
        answer
    }

    fn rows(&self, ui: &mut egui::Ui, units: UnitSystem, theme: &Theme) {
        let unit = Measure::Distance.unit(units).symbol;
        let spacing = self.found.spacing().map_or_else(String::new, |spacing| {
            format!(", the middle gap between them {}", Measure::Distance.text(spacing.si(), units))
        });
        ui.label(format!("{} rows{spacing}", self.found.rows.len()));
        TableBuilder::new(ui)
            .id_salt("rows of the table")
            .striped(true)
            .max_scroll_height(180.0)
            .columns(Column::exact(110.0), 4)
            .column(Column::remainder())
            .header(18.0, |mut header| {
                for name in ["line", "x", "forward", "outlet height", ""] {
                    header.col(|ui| {
                        let text = if name == "line" || name.is_empty() {
                            name.to_owned()
                        } else {
                            format!("{name} ({unit})")
                        };
                        ui.label(RichText::new(text).small().color(theme.soft));
                    });
                }
            })
            .body(|body| {
                body.rows(18.0, self.found.rows.len(), |mut row| {
                    let (line, place) = &self.found.rows[row.index()];
                    row.col(|ui| {
                        ui.label(line.to_string());
                    });
                    for value in [Some(place.x), Some(place.forward), place.height] {
                        row.col(|ui| {
                            ui.label(value.map_or_else(
                                || "as the others".to_owned(),
                                |value| Measure::Distance.number(value.si(), units),
                            ));
                        });
                    }
                    row.col(|_| {});
                });
            });
    }

    fn problems(&self, ui: &mut egui::Ui, theme: &Theme) {
        if self.found.problems.is_empty() {
            return;
        }
        ui.add_space(4.0);
        let count = self.found.problems.len();
        let lines = if count == 1 { "1 line is left out" } else { &format!("{count} lines are left out") };
        ui.label(RichText::new(lines).strong().color(theme.warning));
        ScrollArea::vertical().id_salt("problems").max_height(110.0).show(ui, |ui| {
            for problem in &self.found.problems {
                let text = format!("Line {}: {}; {}", problem.line, problem.what, problem.advice);
                ui.add(egui::Label::new(RichText::new(text).color(theme.warning)).wrap());
            }
        });
    }
}
