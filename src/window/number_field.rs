//! A field for one number with its unit. What is typed stays as it is until Enter or leaving the field; what can't
//! be read is kept, marked, and said why. Esc goes back.

use eframe::egui::{Id, Key, Response, RichText, TextEdit, Ui};

use super::theme::Theme;
use crate::quantities::{Measure, UnitSystem};

/// What a number field edits.
#[derive(Debug, Clone)]
pub struct NumberField<'a> {
    /// Its name, for the label and screen readers.
    pub name: &'a str,
    /// What it measures.
    pub measure: Measure,
    /// Units shown.
    pub units: UnitSystem,
    /// The value, in the stored unit.
    pub value: f64,
    /// Least and most, in the stored unit.
    pub range: std::ops::RangeInclusive<f64>,
    /// Width in points.
    pub width: f32,
}

#[derive(Clone, Default)]
struct Typed {
    text: Option<String>,
    error: Option<String>,
}

impl NumberField<'_> {
    /// Shows the field with its unit behind it; the new value (stored unit) when one was entered.
    pub fn show(&self, ui: &mut Ui, label: Option<Id>) -> Option<f64> {
        let id = ui.make_persistent_id(("number", self.name));
        let mut typed: Typed = ui.data(|data| data.get_temp(id)).unwrap_or_default();
        let shown = self.measure.short_number(self.value, self.units).replace('−', "-");
        let mut text = typed.text.clone().unwrap_or_else(|| shown.clone());
        let symbol = self.measure.unit(self.units).symbol;
        let mut result = None;
        let theme = Theme::of(ui.visuals());
        ui.vertical(|ui| {
            let response = ui
                .horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 4.0;
                    let mut edit = TextEdit::singleline(&mut text).id(id).desired_width(self.width);
                    if typed.error.is_some() {
                        edit = edit.text_color(theme.warning);
                    }
                    let response = ui.add(edit);
                    ui.label(RichText::new(symbol).color(theme.soft));
                    response
                })
                .inner;
            let response = name(response, label, self.name, symbol);
            if response.changed() {
                typed.text = Some(text.clone());
                typed.error = None;
            }
            let left = response.lost_focus();
            if left && ui.input(|input| input.key_pressed(Key::Escape)) {
                typed = Typed::default();
            } else if left && typed.text.is_some() {
                match self.read(&text) {
                    Ok(value) => {
                        typed = Typed::default();
                        result = Some(value).filter(|value| *value != self.value);
                    }
                    Err(error) => typed.error = Some(error),
                }
            }
            if let Some(error) = &typed.error {
                ui.label(RichText::new(format!("{}: {error}", self.name)).color(theme.warning).small());
            }
        });
        ui.data_mut(|data| data.insert_temp(id, typed));
        result
    }

    fn read(&self, text: &str) -> Result<f64, String> {
        let value = self.measure.parse(text, self.units).map_err(|error| error.to_string())?;
        if self.range.contains(&value) {
            Ok(value)
        } else {
            let (least, most) = (*self.range.start(), *self.range.end());
            Err(format!(
                "{} is out of range; type {} to {}",
                self.measure.short_text(value, self.units),
                self.measure.short_text(least, self.units),
                self.measure.short_text(most, self.units)
            ))
        }
    }
}

fn name(response: Response, label: Option<Id>, name: &str, symbol: &str) -> Response {
    let response = match label {
        Some(label) => response.labelled_by(label),
        None => response,
    };
    let text = if symbol.is_empty() { name.to_owned() } else { format!("{name} ({symbol})") };
    response.on_hover_text(text)
}
