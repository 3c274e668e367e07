//! Under which conditions a test was made: fields in lines above its table.

use std::ops::RangeInclusive;

use eframe::egui::{self, Ui};

use crate::plan::catch_amount::{CATCH_METRES, CATCH_SECONDS};
use crate::plan::{CatchSpan, CatchTest, CaughtLiquid, Drive, DutyId, Project};
use crate::quantities::{Angle, Length, Measure, Pressure, Ratio, Speed, Temperature, UnitSystem};
use crate::session::catch_amounts::span_text;
use crate::window::form::{combo_of_width, soft};
use crate::window::in_lines::in_lines;
use crate::window::number_field::NumberField;
use crate::window::text_field::TextField;

/// Between two entries, points.
pub(super) const GAP: f32 = 14.0;

/// What there is to enter, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Entry {
    Name,
    Duty,
    Date,
    By,
    Liquid,
    Temperature,
    Drive,
    Span,
    SideSlope,
    ForeAftSlope,
    Jug,
    Watch,
    Supply,
    Notes,
}

/// Shows the entries of a test and changes it where one was entered; `duties` is what it may have been made for, `pump` the
/// pressure that is expected at the pump, to begin with where a pressure is held.
pub(super) fn show(
    ui: &mut Ui,
    test: &mut CatchTest,
    bar: &Project,
    units: UnitSystem,
    duties: &[(DutyId, String)],
    pump: Option<Pressure>,
) {
    let mut entries = vec![Entry::Name];
    if duties.len() > 1 {
        entries.push(Entry::Duty);
    }
    entries.extend([
        Entry::Date,
        Entry::By,
        Entry::Liquid,
        Entry::Temperature,
        Entry::Drive,
        Entry::Span,
        Entry::SideSlope,
        Entry::ForeAftSlope,
        Entry::Jug,
        Entry::Watch,
        Entry::Supply,
        Entry::Notes,
    ]);
    let id = test.id;
    ui.push_id(("conditions of a catch test", id), |ui| {
        in_lines(ui, "conditions of a catch test", GAP, entries.len(), |ui, at| {
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = 5.0;
                entry(ui, entries[at], test, bar, units, duties, pump);
            });
        });
    });
}

/// The conditions in a line of words.
pub(super) fn summary(test: &CatchTest, bar: &Project, units: UnitSystem) -> String {
    let duty = bar.duty(test.duty);
    let liquid = match test.liquid {
        CaughtLiquid::Product => duty.liquid.name.clone(),
        CaughtLiquid::Water => "water".to_owned(),
    };
    let temperature = test.temperature.map_or_else(
        || format!("{} assumed", Measure::Temperature.short_text(duty.temperature.si(), units)),
        |one| Measure::Temperature.short_text(one.si(), units),
    );
    let drive = match test.drive {
        Drive::Speed(speed) => format!("at {}", Measure::GroundSpeed.short_text(speed.si(), units)),
        Drive::HeldPressure(held) => format!("{} held", Measure::Pressure.short_text(held.si(), units)),
    };
    format!("{liquid}, {temperature}, {drive}, caught for {}", span_text(test.span, units))
}

fn entry(
    ui: &mut Ui,
    which: Entry,
    test: &mut CatchTest,
    bar: &Project,
    units: UnitSystem,
    duties: &[(DutyId, String)],
    pump: Option<Pressure>,
) {
    match which {
        Entry::Duty => duty(ui, test, bar, duties),
        Entry::Name => text(ui, "Test name", "Name", &mut test.name, 90.0, ""),
        Entry::Date => text(ui, "Test date", "Date", &mut test.date, 88.0, "2026-11-30"),
        Entry::By => text(ui, "Test made by", "By", &mut test.by, 84.0, ""),
        Entry::Notes => text(ui, "Test notes", "Notes", &mut test.notes, 190.0, ""),
        Entry::Liquid => {
            ui.label(soft(ui, "Caught"));
            let product = &bar.duty(test.duty).liquid.name;
            let words = |one: CaughtLiquid| match one {
                CaughtLiquid::Product => product.clone(),
                CaughtLiquid::Water => "water".to_owned(),
            };
            let all = [CaughtLiquid::Product, CaughtLiquid::Water].map(|one| (one, words(one)));
            combo_of_width(ui, "Liquid caught", &words(test.liquid), all, &mut test.liquid, 130.0);
        }
        Entry::Temperature => {
            let label = ui.label(soft(ui, "Temperature")).id;
            let assumed = Measure::Temperature.short_number(bar.duty(test.duty).temperature.si(), units);
            let empty = format!("{assumed} assumed");
            let field = NumberField {
                empty: &empty,
                width: 96.0,
                ..NumberField::new(
                    "Temperature of what was caught",
                    Measure::Temperature,
                    units,
                    test.temperature.map(Temperature::si),
                    -30.0..=60.0,
                )
            };
            if let Some(new) = field.show(ui, Some(label)) {
                test.temperature = Some(Temperature::from_si(new));
            }
            if clear(ui, test.temperature.is_some(), "Temperature was not measured") {
                test.temperature = None;
            }
        }
        Entry::Drive => drive(ui, test, bar, units, pump),
        Entry::Span => span(ui, test, bar, units),
        Entry::SideSlope => slope(ui, "Side slope of the test", "Side slope", &mut test.side_slope, units),
        Entry::ForeAftSlope => {
            slope(ui, "Fore-aft slope of the test", "Fore-aft", &mut test.fore_aft_slope, units);
        }
        Entry::Jug => {
            let label = ui.label(soft(ui, "Jug ±")).on_hover_text(
                "How well an amount can be read: one standard deviation of a catch, as a part of it. Catch one row \
                 several times to know it",
            );
            let value = Some(test.scatter.amount.si());
            let field = NumberField {
                width: 34.0,
                ..NumberField::new("Scatter of the jug", Measure::Percent, units, value, 1e-4..=0.5)
            };
            if let Some(new) = field.show(ui, Some(label.id)) {
                test.scatter.amount = Ratio::from_si(new);
            }
        }
        Entry::Watch => {
            let label = ui
                .label(soft(ui, "Watch ±"))
                .on_hover_text("How well a time can be read: one standard deviation of a catch");
            let value = Some(test.scatter.seconds);
            let field = NumberField {
                width: 34.0,
                ..NumberField::new("Scatter of the watch", Measure::Duration, units, value, 0.0..=60.0)
            };
            if let Some(new) = field.show(ui, Some(label.id)) {
                test.scatter.seconds = new;
            }
        }
        Entry::Supply => {
            let label = ui.label(soft(ui, "Supply ±")).on_hover_text(
                "How closely the supply gives what it is asked for: one standard deviation, as a part of the flow where \
                 it follows the speed, of the pressure where one is held",
            );
            let value = Some(test.scatter.supply.si());
            let field = NumberField {
                width: 34.0,
                ..NumberField::new("Scatter of the supply", Measure::Percent, units, value, 0.0..=0.5)
            };
            if let Some(new) = field.show(ui, Some(label.id)) {
                test.scatter.supply = Ratio::from_si(new);
            }
        }
    }
}

/// What the bar was asked to do.
fn duty(ui: &mut Ui, test: &mut CatchTest, bar: &Project, duties: &[(DutyId, String)]) {
    ui.label(soft(ui, "Duty"));
    let words = bar.duty(test.duty).name.clone();
    combo_of_width(ui, "Duty of the test", &words, duties.iter().cloned(), &mut test.duty, 110.0);
}

fn text(ui: &mut Ui, name: &str, label: &str, value: &mut String, width: f32, hint: &str) {
    ui.label(soft(ui, label));
    let id = ui.make_persistent_id(("text", name));
    if let Some(new) = (TextField { width, hint, ..TextField::new(name, value) }).show(ui, id, None) {
        *value = new;
    }
}

/// A small button that takes a value out; true if it was pressed.
pub(super) fn clear(ui: &mut Ui, there: bool, name: &str) -> bool {
    if !there {
        return false;
    }
    let button = ui.small_button("×").on_hover_text(name);
    button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, name));
    button.clicked()
}

fn slope(ui: &mut Ui, name: &str, label: &str, value: &mut Angle, units: UnitSystem) {
    let label = ui.label(soft(ui, label)).id;
    let field = NumberField {
        width: 38.0,
        ..NumberField::new(name, Measure::Slope, units, Some(value.si()), -0.6..=0.6)
    };
    if let Some(new) = field.show(ui, Some(label)) {
        *value = Angle::from_si(new);
    }
}

fn drive(ui: &mut Ui, test: &mut CatchTest, bar: &Project, units: UnitSystem, pump: Option<Pressure>) {
    let is_held = matches!(test.drive, Drive::HeldPressure(_));
    let words = |held: bool| if held { "at a held pressure" } else { "at a ground speed" };
    let mut held = is_held;
    combo_of_width(
        ui,
        "Flow was set by",
        words(held),
        [false, true].map(|one| (one, words(one).to_owned())),
        &mut held,
        150.0,
    );
    if held != is_held {
        let speed = match test.drive {
            Drive::Speed(speed) => speed,
            Drive::HeldPressure(_) => bar.duty(test.duty).usual,
        };
        test.drive = if held {
            // Nobody knows how long a distance took while a pressure was held.
            if let CatchSpan::Distance(distance) = test.span {
                test.span = CatchSpan::Seconds(near(distance.si() / speed.si(), &CATCH_SECONDS));
            }
            Drive::HeldPressure(pump.unwrap_or(Pressure::bar(2.0)))
        } else {
            Drive::Speed(speed)
        };
    }
    match test.drive {
        Drive::Speed(speed) => {
            let name = "Ground speed of the test";
            let field = NumberField {
                width: 50.0,
                ..NumberField::new(name, Measure::GroundSpeed, units, Some(speed.si()), 0.05..=28.0)
            };
            if let Some(new) = field.show(ui, None) {
                test.drive = Drive::Speed(Speed::from_si(new));
            }
        }
        Drive::HeldPressure(pressure) => {
            let name = "Pressure held at the pump";
            let field = NumberField {
                width: 44.0,
                ..NumberField::new(name, Measure::Pressure, units, Some(pressure.si()), 1e3..=1e8)
            };
            if let Some(new) = field.show(ui, None) {
                test.drive = Drive::HeldPressure(Pressure::from_si(new));
            }
        }
    }
}

/// A whole number within a range.
fn near(value: f64, range: &RangeInclusive<f64>) -> f64 {
    value.round().clamp(*range.start(), *range.end())
}

fn span(ui: &mut Ui, test: &mut CatchTest, bar: &Project, units: UnitSystem) {
    let is_far = matches!(test.span, CatchSpan::Distance(_));
    let speed = match test.drive {
        Drive::Speed(speed) => Some(speed),
        Drive::HeldPressure(_) => None,
    };
    if speed.is_some() || is_far {
        let words = |far: bool| if far { "over" } else { "for" };
        let mut far = is_far;
        let all = [(false, "for a time".to_owned()), (true, "over a distance".to_owned())];
        combo_of_width(ui, "Caught for or over", words(far), all, &mut far, 70.0);
        if far != is_far {
            let speed = speed.unwrap_or(bar.duty(test.duty).usual).si();
            test.span = match test.span {
                CatchSpan::Seconds(seconds) => {
                    CatchSpan::Distance(Length::from_si(near(seconds * speed, &CATCH_METRES)))
                }
                CatchSpan::Distance(distance) => {
                    CatchSpan::Seconds(near(distance.si() / speed, &CATCH_SECONDS))
                }
            };
        }
    } else {
        ui.label(soft(ui, "for"));
    }
    match test.span {
        CatchSpan::Seconds(seconds) => {
            let field = NumberField {
                width: 40.0,
                ..NumberField::new("Time of a catch", Measure::Duration, units, Some(seconds), CATCH_SECONDS)
            };
            if let Some(new) = field.show(ui, None) {
                test.span = CatchSpan::Seconds(new);
            }
        }
        CatchSpan::Distance(distance) => {
            let value = Some(distance.si());
            let field = NumberField {
                width: 44.0,
                ..NumberField::new("Distance of a catch", Measure::Distance, units, value, CATCH_METRES)
            };
            if let Some(new) = field.show(ui, None) {
                test.span = CatchSpan::Distance(Length::from_si(new));
            }
        }
    }
}
