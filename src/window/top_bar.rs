//! The operating point as live controls, and the numbers that matter.

use eframe::egui::{self, RichText, Slider, Ui};

use super::duty_choice;
use super::number_field::NumberField;
use super::status_line;
use super::theme::Theme;
use super::typing;
use crate::hydraulics::Numbers;
use crate::plan::{Control, Duty, DutyId, Edit, Supply};
use crate::quantities::{Angle, ApplicationRate, Measure, Pressure, Speed, Temperature, UnitSystem};
use crate::session::Session;

/// What a control did.
enum ControlChange {
    /// The slider is on its way to a value.
    Sliding(f64),
    /// A value was typed or stepped to.
    Set(f64),
    /// The slider was let go.
    Done,
}

/// Width that controls and figures need side by side, points; without the list of duties.
const ONE_LINE: f32 = 1860.0;
/// Width of the list of duties, points.
const DUTY_LIST: f32 = 96.0;
/// Between two controls, points.
const GAP: f32 = 18.0;

/// Controls and figures in one line; where there is no room, the figures in a line of their own. Another duty to look at,
/// if one was chosen.
pub fn show(ui: &mut Ui, session: &mut Session) -> Option<DutyId> {
    let mut chosen = None;
    let duties = if session.project().duties.are_several() { DUTY_LIST + GAP } else { 0.0 };
    if ui.available_width() >= ONE_LINE + duties {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = GAP;
            chosen = controls(ui, session);
            ui.separator();
            // Eight figures stand closer than the controls, and none may wrap.
            ui.spacing_mut().item_spacing.x = 12.0;
            ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Extend);
            figures(ui, session, false);
        });
    } else {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = GAP;
            chosen = controls(ui, session);
        });
        ui.add_space(4.0);
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 22.0;
            figures(ui, session, true);
        });
    }
    chosen
}

/// Another duty, if one was chosen.
fn controls(ui: &mut Ui, session: &mut Session) -> Option<DutyId> {
    let chosen = if session.project().duties.are_several() { duty(ui, session) } else { None };
    let units = session.project().units;
    let duty = session.duty().clone();
    let point = *session.point();

    let rate = control(ui, units, "Rate", Measure::Rate, point.rate.si(), 0.0..=2e-5, 1e-3);
    edit_duty(ui, session, "Change the rate", rate, |duty, value| {
        duty.rate = ApplicationRate::from_si(value);
    });

    let speeds = 2.0 / 3.6..=20.0 / 3.6;
    if let Some(ControlChange::Sliding(value) | ControlChange::Set(value)) =
        control(ui, units, "Ground speed", Measure::GroundSpeed, point.speed.si(), speeds, 15.0)
    {
        session.look_at_speed(Speed::from_si(value));
    }
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        ui.label(RichText::new("Look at").color(Theme::of(ui.visuals()).soft).small());
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 3.0;
            for (name, speed) in [("Slowest", duty.slowest), ("Usual", duty.usual), ("Fastest", duty.fastest)]
            {
                let text = Measure::GroundSpeed.text(speed.si(), units);
                let here = (point.speed - speed).abs().si() < 1e-9;
                let button = ui.add(egui::Button::new(RichText::new(name).small()).selected(here));
                if button.on_hover_text(format!("{name} speed, {text}")).clicked() {
                    session.look_at_speed(speed);
                }
            }
        });
    });
    if let Some(ControlChange::Sliding(value) | ControlChange::Set(value)) =
        control(ui, units, "Liquid", Measure::Temperature, point.temperature.si(), -10.0..=45.0, 60.0)
    {
        session.look_at_temperature(Temperature::from_si(value));
    }
    let steepest = 0.25f64.atan();
    if let Some(ControlChange::Sliding(value) | ControlChange::Set(value)) =
        control(ui, units, "Side slope", Measure::Slope, point.side_slope.si(), -steepest..=steepest, 0.79)
    {
        session.look_at_side_slope(Angle::from_si(value));
    }
    let along = point.fore_aft_slope.si();
    if let Some(ControlChange::Sliding(value) | ControlChange::Set(value)) =
        control(ui, units, "Fore-aft slope", Measure::Slope, along, -steepest..=steepest, 0.79)
    {
        session.look_at_fore_aft_slope(Angle::from_si(value));
    }
    supply(ui, session, units);
    chosen
}

fn duty(ui: &mut Ui, session: &Session) -> Option<DutyId> {
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        ui.label(RichText::new("Duty").color(Theme::of(ui.visuals()).soft).small());
        duty_choice::list(ui, session, DUTY_LIST)
    })
    .inner
}

fn supply(ui: &mut Ui, session: &mut Session, units: UnitSystem) {
    let supply = session.project().supply.clone();
    let (name, value) = match supply.control {
        Control::Metered { limit } => ("Pressure limit", limit),
        Control::Held { pressure } => ("Held pressure", pressure),
        Control::Uncontrolled => return,
    };
    let change = control(ui, units, name, Measure::Pressure, value.si(), 0.0..=10e5, 100e5);
    let with = move |value: f64| {
        let pressure = Pressure::from_si(value);
        let control = match supply.control {
            Control::Metered { .. } => Control::Metered { limit: pressure },
            Control::Held { .. } => Control::Held { pressure },
            Control::Uncontrolled => Control::Uncontrolled,
        };
        Edit::SetSupply(Supply { control, ..supply.clone() })
    };
    apply(ui, session, "Change the supply", change, with);
}

fn edit_duty(
    ui: &Ui,
    session: &mut Session,
    name: &str,
    change: Option<ControlChange>,
    set: impl Fn(&mut Duty, f64),
) {
    if change.is_none() {
        return;
    }
    let before = session.duty().clone();
    apply(ui, session, name, change, move |value| {
        let mut duty = before.clone();
        set(&mut duty, value);
        Edit::PutDuty(Box::new(duty))
    });
}

/// One gesture on a slider is one step; a typed value is one step.
fn apply(
    ui: &Ui,
    session: &mut Session,
    name: &str,
    change: Option<ControlChange>,
    edit: impl Fn(f64) -> Edit,
) {
    match change {
        Some(ControlChange::Sliding(value)) => {
            session.begin(name);
            status_line::say(ui.ctx(), session.change(edit(value)).map(|()| None));
        }
        Some(ControlChange::Set(value)) => {
            if let Err(refusal) = session.edit(name, [edit(value)]) {
                typing::refuse_or_say(ui.ctx(), refusal);
            }
        }
        Some(ControlChange::Done) => status_line::say_besides(ui.ctx(), session.commit().map(|()| None)),
        None => {}
    }
}

/// A name, a typed field and a slider for one number.
fn control(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    slider: std::ops::RangeInclusive<f64>,
    most: f64,
) -> Option<ControlChange> {
    let mut change = None;
    let least = if *slider.start() < 0.0 { -most } else { *slider.start() };
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        let theme = Theme::of(ui.visuals());
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            let label = ui.label(RichText::new(name).color(theme.soft)).id;
            let field = NumberField {
                width: 42.0,
                ..NumberField::new(name, measure, units, Some(value), least..=most)
            };
            if let Some(value) = field.show(ui, Some(label)) {
                change = Some(ControlChange::Set(value));
            }
        });
        let mut at = measure.shown(value, units);
        let (low, high) = (measure.shown(*slider.start(), units), measure.shown(*slider.end(), units));
        ui.spacing_mut().slider_width = 132.0;
        let step = step_of(high - low);
        let widget = Slider::new(&mut at, low..=high.max(low)).show_value(false).step_by(step);
        let response = ui.add(widget);
        response.widget_info(|| {
            egui::WidgetInfo::slider(true, measure.shown(value, units), format!("{name} slider"))
        });
        // The slider rounds to its steps by itself; only what a person does is a change.
        let by_hand = response.dragged() || response.clicked() || response.has_focus();
        if response.changed() && by_hand {
            let value = measure.stored(at, units).max(least);
            change = Some(if response.dragged() {
                ControlChange::Sliding(value)
            } else {
                ControlChange::Set(value)
            });
        } else if response.drag_stopped() {
            change = Some(ControlChange::Done);
        }
    });
    change
}

/// A round step of about a hundredth of the range.
fn step_of(range: f64) -> f64 {
    let rough = (range / 150.0).max(1e-9);
    let ten = 10f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|one| one * ten).find(|step| *step >= rough).unwrap_or(rough)
}

fn figures(ui: &mut Ui, session: &Session, flat: bool) {
    let units = session.project().units;
    let outcome = session.outcome();
    let theme = Theme::of(ui.visuals());
    let text = |measure: Measure, value: Option<f64>| {
        value.map(|value| (measure.number(value, units), measure.unit(units).symbol))
    };
    let figure = |ui: &mut Ui, name: &str, shown: Option<(String, &str)>, strong: bool| {
        let number = |ui: &mut Ui| {
            let (number, unit) = shown.unwrap_or_else(|| ("–".to_owned(), ""));
            let colour = if strong { theme.warning } else { theme.ink };
            ui.label(RichText::new(number).size(if flat { 17.0 } else { 20.0 }).color(colour));
            ui.label(RichText::new(unit).color(theme.soft));
        };
        let name = RichText::new(name).color(theme.soft);
        if flat {
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = 5.0;
                ui.label(name);
                number(ui);
            });
        } else {
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 1.0;
                ui.label(name);
                ui.horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 4.0;
                    number(ui);
                });
            });
        }
    };
    let numbers = outcome.numbers();
    figure(ui, "Total flow", text(Measure::TotalFlow, numbers.map(|one| one.total_flow.si())), false);
    let pump = numbers.map(|one| one.pump_pressure.si());
    figure(ui, "Pump", text(Measure::Pressure, pump), false);
    figure(ui, "Inlet", text(Measure::Pressure, numbers.map(|one| one.inlet_pressure.si())), false);
    let is_gauge =
        |entry| matches!(session.project().catalogue.item(entry), Some(crate::plan::PartItem::Gauge(_)));
    if let Some(part) = session.routing().parts.iter().find(|part| is_gauge(&part.entry)) {
        let reads = outcome.part(part.id).and_then(|found| found.pressure);
        figure(
            ui,
            &format!("Gauge {}", part.tag),
            text(Measure::Pressure, reads.map(|pressure| pressure.si())),
            false,
        );
    }
    let limits = &session.project().limits;
    let cv = outcome.evenness().map(|one| one.cv);
    figure(
        ui,
        "CV over rows",
        text(Measure::Percent, cv.map(|cv| cv.si())),
        cv.is_some_and(|cv| cv > limits.cv_acceptable),
    );
    let du = outcome.evenness().map(|one| one.du_lowest_quarter.si());
    figure(ui, "DU", text(Measure::Percent, du), false);
    let mean = outcome.evenness().map(|one| one.mean_deviation.si());
    figure(ui, "Mean against target", signed(mean), false);
    let farthest = numbers.and_then(Numbers::farthest_row);
    let name =
        farthest.map_or_else(|| "Farthest row".to_owned(), |row| format!("Farthest: row {}", row.number));
    let deviation = farthest.and_then(|row| row.deviation);
    let over = deviation.is_some_and(|one| one.abs() > limits.row_deviation);
    figure(ui, &name, signed(deviation.map(|one| one.si())), over);
}

fn signed(ratio: Option<f64>) -> Option<(String, &'static str)> {
    let text = Measure::Percent.number(ratio?, UnitSystem::Metric);
    let plain = text.trim_start_matches('−').trim_start_matches(['0', '.']).is_empty();
    Some((if text.starts_with('−') || plain { text } else { format!("+{text}") }, "%"))
}
