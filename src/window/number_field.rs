//! A field for one number with its unit. What is typed stays as it is until Enter or leaving the field; what can't
//! be read is kept, marked, and said why beneath. Esc goes back.

use std::ops::RangeInclusive;

use eframe::egui::text::{CCursor, CCursorRange};
use eframe::egui::text_edit::TextEditState;
use eframe::egui::{Id, Response, RichText, TextEdit, Ui};

use super::theme::Theme;
use super::typing::TypedText;
use super::wrong_entry;
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
    /// The value, in the stored unit; none where several things differ, which is shown as "mixed", or where there is
    /// no value.
    pub value: Option<f64>,
    /// Shown in place of a value that is not there.
    pub empty: &'a str,
    /// Least and most, in the stored unit.
    pub range: RangeInclusive<f64>,
    /// Width in points.
    pub width: f32,
    /// Every value that can be read counts as soon as it is typed, not only on Enter.
    pub live: bool,
    /// Why the value is refused by what it belongs to.
    pub refused: Option<&'a str>,
    /// Only whole multiples of this, in the stored unit, are taken.
    pub whole: Option<f64>,
    /// The value is shown to two decimals more than a result, where it has no end there either.
    pub fine: bool,
    /// The unit stands behind the field; without it the heading of a column says it.
    pub unit: bool,
}

impl<'a> NumberField<'a> {
    /// A field as it stands in panels.
    pub const fn new(
        name: &'a str,
        measure: Measure,
        units: UnitSystem,
        value: Option<f64>,
        range: RangeInclusive<f64>,
    ) -> Self {
        Self {
            name,
            measure,
            units,
            value,
            empty: "mixed",
            range,
            width: 84.0,
            live: false,
            refused: None,
            whole: None,
            fine: false,
            unit: true,
        }
    }
}

impl NumberField<'_> {
    /// Shows the field with its unit behind it; the new value (stored unit) when one was entered.
    pub fn show(&self, ui: &mut Ui, label: Option<Id>) -> Option<f64> {
        let id = ui.make_persistent_id(("number", self.name));
        let mut typed = TypedText::begin(ui.ctx(), id);
        let shown = self
            .value
            .map_or_else(String::new, |value| self.measure.entered_number(value, self.units, self.fine));
        let shown = shown.replace('−', "-");
        let mut text = typed.text.clone().unwrap_or_else(|| shown.clone());
        let symbol = self.measure.unit(self.units).symbol;
        let mut result = None;
        let theme = Theme::of(ui.visuals());
        ui.vertical(|ui| {
            let response = ui
                .horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 4.0;
                    let mut edit = TextEdit::singleline(&mut text)
                        .id(id)
                        .desired_width(self.width)
                        .hint_text(self.empty);
                    if typed.why_not.is_some() || self.refused.is_some() {
                        edit = edit.text_color(theme.warning);
                    }
                    let response = ui.add(edit);
                    if self.unit {
                        ui.label(RichText::new(symbol).color(theme.soft));
                    }
                    response
                })
                .inner;
            let response = name(response, label, self.name);
            select_all_when_entered(&response, text.chars().count());
            let was_refused = typed.why_not.is_some();
            let mut handed = typed.follow(&response, &text);
            // A text that was refused and is changed, as by undo, keeps its mark until it can be taken.
            if was_refused && response.changed() && !self.live {
                if text == shown {
                    typed = TypedText::default();
                } else {
                    typed.why_not = self.read(&text).err();
                }
            }
            if self.live && response.changed() {
                match self.read(&text) {
                    Ok(value) => result = Some(value),
                    Err(why) => typed.why_not = Some(why),
                }
            }
            if let Some(text) = &handed {
                match self.read(text) {
                    // A field of mixed values that was left empty changes none of them.
                    _ if text.trim().is_empty() && self.value.is_none() => typed = TypedText::default(),
                    Ok(value) => {
                        typed = TypedText::default();
                        result = Some(value);
                    }
                    Err(why) => {
                        typed.why_not = Some(why);
                        handed = None;
                    }
                }
            }
            result = result.filter(|value| Some(*value) != self.value);
            if let Some(why) = typed.why_not.as_deref().or(self.refused) {
                wrong_entry::mark(ui, &response, self.name, why);
            }
            typed.keep(ui.ctx(), id, self.name, handed);
        });
        result
    }

    fn read(&self, text: &str) -> Result<f64, String> {
        let value = self.measure.parse(text, self.units).map_err(|error| error.to_string())?;
        let value = self.measure.within(value, &self.range, Some(text), self.units)?;
        self.whole.map_or(Ok(value), |step| self.whole_multiple(value, step, text))
    }

    /// Half of the last digit that is shown may be off.
    fn whole_multiple(&self, value: f64, step: f64, text: &str) -> Result<f64, String> {
        let digit = 10f64.powi(-i32::try_from(self.measure.unit(self.units).decimals).unwrap_or(0));
        let (stored, zero) =
            (self.measure.stored(0.6 * digit, self.units), self.measure.stored(0.0, self.units));
        let times = value / step;
        if (times - times.round()).abs() * step <= stored - zero {
            return Ok(value);
        }
        let said = |times: f64| {
            let number = self.measure.entered_number(times * step, self.units, true);
            with_symbol(&number, self.measure.unit(self.units).symbol)
        };
        // A unit that was typed stands as it was typed.
        let typed = if text.trim().ends_with(|end: char| end.is_ascii_digit()) {
            with_symbol(text.trim(), self.measure.unit(self.units).symbol)
        } else {
            text.trim().to_owned()
        };
        let near = if times < 1.0 {
            said(1.0)
        } else {
            format!("{} or {}", said(times.floor()), said(times.ceil()))
        };
        let whole =
            if step == 1.0 { "a whole number".to_owned() } else { format!("a multiple of {}", said(1.0)) };
        Err(format!("{typed} is not {whole}; type {near}"))
    }
}

/// Selects all of a field's text when it is entered, by Tab or by a first click: what is typed takes its place. A
/// second click sets the cursor as usual.
pub fn select_all_when_entered(response: &Response, characters: usize) {
    let (ctx, id) = (&response.ctx, response.id);
    let fresh = id.with("entered");
    let pressed = ctx.input(|input| input.pointer.any_down() || input.pointer.any_pressed());
    if response.gained_focus() {
        ctx.data_mut(|data| data.insert_temp(fresh, pressed));
    }
    // The press of a click sets the cursor; all is selected once it is over.
    let clicked = response.clicked() && ctx.data(|data| data.get_temp(fresh)).unwrap_or(false);
    if response.changed() || clicked {
        ctx.data_mut(|data| data.insert_temp(fresh, false));
    }
    if (response.gained_focus() && !pressed) || clicked {
        let mut state = TextEditState::load(ctx, id).unwrap_or_default();
        let all = CCursorRange::two(CCursor::new(0), CCursor::new(characters));
        state.cursor.set_char_range(Some(all));
        state.store(ctx, id);
    }
}

fn with_symbol(number: &str, symbol: &str) -> String {
    if symbol.is_empty() || number.ends_with(symbol) {
        number.to_owned()
    } else {
        format!("{number} {symbol}")
    }
}

fn name(response: Response, label: Option<Id>, name: &str) -> Response {
    if let Some(label) = label {
        response.labelled_by(label)
    } else {
        // A cell of a table has no label beside it.
        response.ctx.accesskit_node_builder(response.id, |node| node.set_label(name.to_owned()));
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refused_number_is_said_as_it_was_typed_where_rounding_would_change_it() {
        let field = NumberField::new("share", Measure::Percent, UnitSystem::Metric, None, 1e-3..=10.0);
        assert_eq!(field.read("0,01"), Err("0,01 is out of range; type 0.1 % to 1000 %".to_owned()));
        assert_eq!(field.read("2000"), Err("2000 % is out of range; type 0.1 % to 1000 %".to_owned()));
        assert_eq!(field.read("3"), Ok(0.03));
    }

    #[test]
    fn what_is_no_whole_multiple_is_refused_with_the_nearest_ones() {
        let width = NumberField {
            whole: Some(0.3),
            ..NumberField::new("width", Measure::Distance, UnitSystem::Metric, None, 0.3..=100.0)
        };
        assert_eq!(
            width.read("12.1"),
            Err("12.1 m is not a multiple of 0.3 m; type 12 m or 12.3 m".to_owned())
        );
        assert_eq!(
            width.read("60 ft"),
            Err("60 ft is not a multiple of 0.3 m; type 18 m or 18.3 m".to_owned())
        );
        assert!(width.read("12").is_ok() && width.read("39.37 ft").is_ok());
        let rows = NumberField {
            whole: Some(1.0),
            ..NumberField::new("rows", Measure::Plain, UnitSystem::Metric, None, 1.0..=400.0)
        };
        assert_eq!(rows.read("12.7"), Err("12.7 is not a whole number; type 12 or 13".to_owned()));
        assert_eq!(rows.read("13"), Ok(13.0));
    }
}
