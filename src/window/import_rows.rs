//! A table of measured row positions, before it is taken: how it was read, what can be chosen instead, the rows, and
//! every line that can't be read.

use std::path::PathBuf;

use eframe::egui::{self, Context, Grid, Id, Modal, RichText, ScrollArea};
use egui_extras::{Column, TableBuilder};

use super::dialogs::DialogAnswer;
use super::form::combo;
use super::theme::{self, Theme};
use crate::files::row_positions::{Choices, DELIMITERS, RowPositions, UNITS, read_row_positions, read_table};
use crate::files::visible_path;
use crate::plan::lay_out::RowPlace;
use crate::plan::words::counted;
use crate::plan::words::{count, short};
use crate::quantities::{Length, Measure, UnitSystem};

/// Height of the table of rows before it scrolls, points.
const PREVIEW: f32 = 180.0;
/// Height of what never scrolls away: heading, file, buttons and the dialog's margins, points.
const HEAD_AND_BUTTONS: f32 = 170.0;
/// Least height of what scrolls, points.
const LEAST_BODY: f32 = 120.0;

/// The preview.
pub struct ImportRows {
    file: PathBuf,
    text: String,
    choices: Choices,
    found: RowPositions,
    /// Lines that can't be read are left out: somebody has said so.
    leaves_out: bool,
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
        let text = read_table(&file).map_err(|error| error.to_string())?;
        let choices = Choices::default();
        let found = read_row_positions(&text, &choices);
        Ok(Self { file, text, choices, found, leaves_out: false })
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context, units: UnitSystem) -> DialogAnswer<Taken> {
        let mut answer = DialogAnswer::Waiting;
        let before = self.choices.clone();
        let modal = Modal::new(Id::unique("import rows")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            ui.set_width(620.0);
            let theme = Theme::of(ui.visuals());
            ui.heading("Import row positions");
            let name = self.file.file_name().map(|name| visible_path(name.as_ref()));
            ui.label(RichText::new(short(&name.unwrap_or_default())).color(theme.soft));
            ui.add_space(6.0);
            // All but the heading and the buttons scrolls, so that these are always there to press.
            let body = (ctx.content_rect().height() - HEAD_AND_BUTTONS).max(LEAST_BODY);
            ScrollArea::vertical().id_salt("table read").max_height(body).show(ui, |ui| {
                self.how_read(ui, &theme);
                ui.add_space(6.0);
                self.rows(ui, units, &theme);
                self.problems(ui, &theme);
            });
            ui.add_space(8.0);
            ui.horizontal(|ui| {
                let count = self.found.rows.len();
                let take = egui::Button::new(format!("Use these {count} rows"));
                let ready = count > 0 && (self.found.problems.is_empty() || self.leaves_out);
                if ui.add_enabled(ready, take).clicked() {
                    answer = DialogAnswer::Is(Taken {
                        places: self.found.places(),
                        spacing: self.found.spacing(),
                    });
                }
                if ui.button("Cancel").clicked() {
                    answer = DialogAnswer::Closed;
                }
            });
        });
        if self.choices != before {
            self.found = read_row_positions(&self.text, &self.choices);
            self.leaves_out = false;
        }
        answer.or_closed(super::dialogs::given_up(&modal))
    }

    fn how_read(&mut self, ui: &mut egui::Ui, theme: &Theme) {
        Grid::new("how read").num_columns(4).spacing([12.0, 5.0]).show(ui, |ui| {
            let soft = |text: &str| RichText::new(text).color(theme.soft);
            ui.label(soft("Cells separated by"));
            let mut delimiter = self.found.delimiter;
            combo(
                ui,
                "Cells separated by",
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
            for (which, name) in ["x, right of centre", "Forward", "Outlet height"].into_iter().enumerate() {
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
    }

    fn rows(&self, ui: &mut egui::Ui, units: UnitSystem, theme: &Theme) {
        let unit = Measure::Distance.unit(units).symbol;
        let spacing = self.found.spacing().map_or_else(String::new, |spacing| {
            let number = Measure::Distance.entered_number(spacing.si(), units, true);
            format!(", the middle gap between them {number} {unit}")
        });
        ui.label(format!("{}{spacing}", counted(self.found.rows.len(), "row")));
        TableBuilder::new(ui)
            .id_salt("rows of the table")
            .striped(true)
            .max_scroll_height(PREVIEW)
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
                                |value| Measure::Distance.entered_number(value.si(), units, true),
                            ));
                        });
                    }
                    row.col(|_| {});
                });
            });
    }

    fn problems(&mut self, ui: &mut egui::Ui, theme: &Theme) {
        if self.found.problems.is_empty() {
            return;
        }
        ui.add_space(4.0);
        let lines = match self.found.problems.total() {
            1 => "1 line can't be read".to_owned(),
            many => format!("{} lines can't be read", count(many)),
        };
        ui.label(RichText::new(lines).strong().color(theme.warning));
        let words = "Leave them out: their rows are not on the bar";
        ui.checkbox(&mut self.leaves_out, words);
        for line in self.found.problems.lines() {
            ui.add(egui::Label::new(RichText::new(line).color(theme.warning)).wrap());
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::window::table_sample::SAMPLE;
    use eframe::egui::{Rect, vec2};
    use egui_kittest::{
        Harness,
        kittest::{NodeT as _, Queryable as _},
    };

    fn dialog(text: &str, height: f32) -> Harness<'static, ImportRows> {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("rows\u{1b}.csv");
        std::fs::write(&file, text).unwrap();
        let import = ImportRows::open(file).unwrap();
        let builder = Harness::builder().with_size(vec2(1280.0, height)).with_max_steps(32);
        let show = |ui: &mut egui::Ui, import: &mut ImportRows| {
            import.show(ui.ctx(), UnitSystem::Metric);
        };
        let mut harness = builder.build_ui_state(show, import);
        harness.run_ok();
        harness
    }

    /// Whoever writes a table like it gets its rows, to the millimetre.
    #[test]
    fn the_sample_is_read_as_it_stands() {
        let found = read_row_positions(SAMPLE, &Choices::default());
        assert!(found.problems.is_empty());
        let places = found.places();
        assert_eq!(places.len(), 3);
        assert!((places[0].x.si() + 5.85).abs() < 1e-9 && (places[1].forward.si() + 0.3).abs() < 1e-9);
        assert_eq!(places[0].height.map(|height| (height.si() * 1e3).round()), Some(50.0));
        assert_eq!(places[2].height, None);
        let harness = dialog("x (mm)\n-1524\n-1270\n-1016\n", 800.0);
        harness.get_by_label("3 rows, the middle gap between them 0.254 m");
        harness.get_by_label("−1.524");
    }

    #[test]
    fn the_buttons_stay_on_the_screen_however_much_is_wrong() {
        let long = "a cell that is far too long for a line of a dialog ".repeat(2);
        let rows: Vec<String> =
            (0..1000).map(|row| format!("{};0;0.05", f64::from(row) * 0.03 - 15.0)).collect();
        let rows = rows.join("\n") + "\n";
        let text = format!("x;forward;height\n{rows}{}", format!("{long};b\n").repeat(20_000));
        for height in [800.0, 480.0] {
            let harness = dialog(&text, height);
            assert!(harness.get_by_label("Use these 1000 rows").accesskit_node().is_disabled());
            let screen = Rect::from_min_size(egui::Pos2::ZERO, vec2(1280.0, height));
            for name in ["Use these 1000 rows", "Cancel"] {
                let button = harness.get_by_label(name).rect();
                assert!(screen.contains_rect(button), "{name} at {button:?} in {height}");
            }
            harness.get_by_label("20,000 lines can't be read");
            harness.get_by_label("and 19,980 more");
            harness.get_by_label("rows\\u{1b}.csv");
        }
    }
}
