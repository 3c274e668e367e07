//! One labelled entry of a panel: a name, and a field or list.
//!
//! Every entry may stand for several things at once; where they differ it says "mixed", and what is entered is given
//! to all of them.

use std::ops::RangeInclusive;

use eframe::egui::{self, Id, RichText, Ui};

use super::number_field::NumberField;
use super::panels::choice;
use super::status_line;
use super::text_field::TextField;
use super::theme::Theme;
use super::typing;
use crate::plan::Subject;
use crate::quantities::Measure;
use crate::session::bulk::Common;
use crate::session::properties::{Input, NumberInput, Property, PropertyValue};
use crate::session::{Refusal, Session};

/// What was chosen, given to the project; why it is refused stands in the line at the bottom, since no text is left to mark.
fn carry_out(ui: &Ui, session: &mut Session, apply: impl FnOnce(&mut Session) -> Result<(), Refusal>) {
    status_line::say(ui.ctx(), apply(session).map(|()| None));
}

/// What was typed, given to the project; what it refuses stays in its field, with the reason.
fn take(ui: &Ui, session: &mut Session, apply: impl FnOnce(&mut Session) -> Result<(), Refusal>) {
    if let Err(why) = apply(session) {
        typing::refuse_or_say(ui.ctx(), why);
    }
}

/// Widest a column of names or of entries may be, so that both fit into the panel at the side.
pub const COLUMN: f32 = 160.0;
/// The same where names are as short as `Check valve`.
pub const WIDE: f32 = 194.0;
/// Widest a name may be before it goes on in the next line.
const NAME: f32 = 116.0;

/// Names of so many letters fit into one line for sure.
const ONE_LINE: usize = 17;

/// A name in the first column.
pub fn label(ui: &mut Ui, name: &str) -> Id {
    let text = RichText::new(name).color(Theme::of(ui.visuals()).soft);
    if name.chars().count() <= ONE_LINE {
        return ui.label(text).id;
    }
    ui.vertical(|ui| {
        ui.set_max_width(NAME);
        ui.add(egui::Label::new(text).wrap()).id
    })
    .inner
}

/// A number, in the stored unit.
pub fn number(
    ui: &mut Ui,
    session: &mut Session,
    name: &str,
    measure: Measure,
    value: Common<f64>,
    range: RangeInclusive<f64>,
    apply: impl FnOnce(&mut Session, f64) -> Result<(), Refusal>,
) {
    let empty = if value == Common::Mixed { "mixed" } else { "–" };
    let units = session.project().units;
    let label = label(ui, name);
    let field = NumberField { empty, ..NumberField::new(name, measure, units, value.same(), range) };
    if let Some(new) = field.show(ui, Some(label)) {
        take(ui, session, |session| apply(session, new));
    }
    ui.end_row();
}

/// Widest field of a text in a panel, points.
const WIDEST: f32 = 300.0;

/// A line of text, taken on Enter or when the field is left; Esc goes back.
pub fn text(
    ui: &mut Ui,
    session: &mut Session,
    name: &str,
    value: &str,
    apply: impl FnOnce(&mut Session, &str) -> Result<(), Refusal>,
) {
    let id = ui.make_persistent_id(("text", name));
    let label = label(ui, name);
    let plain = TextField::new(name, value);
    // A long text has what room there is.
    let field = TextField { width: ui.available_width().clamp(plain.width, WIDEST), ..plain };
    if let Some(new) = field.show(ui, id, Some(label)) {
        take(ui, session, |session| apply(session, &new));
    }
    ui.end_row();
}

/// A property of things, as it is entered, with what they share of it; nothing where none of them has it.
pub fn property(ui: &mut Ui, session: &mut Session, property: Property, subjects: &[Subject]) {
    named_property(ui, session, property, &property.name(), subjects);
}

/// The same under a name that says more.
pub fn named_property(
    ui: &mut Ui,
    session: &mut Session,
    property: Property,
    name: &str,
    subjects: &[Subject],
) {
    property_within(ui, session, property, name, subjects, None);
}

/// The same with a narrower range for its number, in stored units, where one is known.
pub fn property_within(
    ui: &mut Ui,
    session: &mut Session,
    property: Property,
    name: &str,
    subjects: &[Subject],
    within: Option<RangeInclusive<f64>>,
) {
    let value = session.shared(property, subjects);
    if value == Common::None {
        return;
    }
    match property.input() {
        Input::Words => {
            let words = match value.same() {
                Some(PropertyValue::Words(words)) => words,
                _ => String::new(),
            };
            text(ui, session, name, &words, |session, words| {
                session.set(property, subjects, PropertyValue::Words(words.to_owned()))
            });
        }
        Input::Number(NumberInput { measure, range, .. }) => {
            let range = within.unwrap_or(range);
            let value = value.map(|value| match value {
                PropertyValue::Number(number) => Some(number),
                _ => None,
            });
            number(ui, session, name, measure, value, range, |session, number| {
                session.set(property, subjects, PropertyValue::Number(number))
            });
        }
        Input::Tick(words) => {
            let value = value.map(|value| Some(value == PropertyValue::Yes(true)));
            tick(ui, session, name, words, value, |session, yes| {
                session.set(property, subjects, PropertyValue::Yes(yes))
            });
        }
        Input::List => {
            let mut offered = session.choices(property, subjects);
            // One that is offered no more is still what it is.
            if let Common::Same(value @ PropertyValue::Entry(key)) = &value
                && !offered.iter().any(|(one, _)| one == value)
            {
                offered.insert(0, (value.clone(), key.to_string()));
            }
            let list = ChoiceList { name, value, offered, beside: 0.0 };
            self::list(ui, session, list, |session, value| session.set(property, subjects, value), |_| ());
        }
    }
}

/// A list to choose one from.
pub struct ChoiceList<'a, T> {
    /// Its name.
    pub name: &'a str,
    /// What is chosen; nothing is shown where nothing has one.
    pub value: Common<T>,
    /// What is offered, with wording.
    pub offered: Vec<(T, String)>,
    /// Room that what stands beside the list takes, points.
    pub beside: f32,
}

/// Shows a list, with something more beside it.
pub fn list<T: Clone + PartialEq, R: Default>(
    ui: &mut Ui,
    session: &mut Session,
    ChoiceList { name, value, offered, beside: room }: ChoiceList<T>,
    apply: impl FnOnce(&mut Session, T) -> Result<(), Refusal>,
    beside: impl FnOnce(&mut Ui) -> R,
) -> R {
    if value == Common::None {
        return R::default();
    }
    let mixed = value == Common::Mixed;
    let now = value.same();
    let mut offered: Vec<(Option<T>, String)> =
        offered.into_iter().map(|(one, words)| (Some(one), words)).collect();
    if mixed {
        offered.insert(0, (None, "mixed".to_owned()));
    }
    label(ui, name);
    let more = ui.vertical(|ui| {
        let mut chosen = now.clone();
        let more = ui
            .horizontal(|ui| {
                ui.scope(|ui| {
                    ui.set_max_width((ui.available_width() - room).min(WIDE));
                    choice(ui, name, &mut chosen, &offered);
                });
                beside(ui)
            })
            .inner;
        if let Some(chosen) = chosen.filter(|chosen| now.as_ref() != Some(chosen)) {
            carry_out(ui, session, |session| apply(session, chosen));
        }
        more
    });
    ui.end_row();
    more.inner
}

/// A yes or no; a filled box where things differ.
pub fn tick(
    ui: &mut Ui,
    session: &mut Session,
    name: &str,
    words: &str,
    value: Common<bool>,
    apply: impl FnOnce(&mut Session, bool) -> Result<(), Refusal>,
) {
    label(ui, name);
    let mut on = value == Common::Same(true);
    let words = if value == Common::Mixed { format!("{words} (mixed)") } else { words.to_owned() };
    let ticked = ui.add(egui::Checkbox::new(&mut on, words).indeterminate(value == Common::Mixed));
    if ticked.changed() {
        carry_out(ui, session, |session| apply(session, on));
    }
    ui.end_row();
}
