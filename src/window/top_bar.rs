//! The operating point as live controls, and the numbers that matter.

use eframe::egui::{self, RichText, Slider, Ui};

use super::duty_choice;
use super::in_lines::in_lines;
use super::number_field::NumberField;
use super::settings::LEAST_RATE;
use super::status_line;
use super::theme::Theme;
use super::typing;
use crate::hydraulics::Numbers;
use crate::plan::{Control, Duty, DutyId, Edit, Supply};
use crate::quantities::{Angle, ApplicationRate, Measure, Pressure, Speed, Temperature, UnitSystem};
use crate::session::Session;
use crate::studies::status::named_with_rows;

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
const ONE_LINE: f32 = 2300.0;
/// Width of the list of duties, points.
const DUTY_LIST: f32 = 96.0;
/// Between two controls, points.
const GAP: f32 = 18.0;
/// Width of a field, at least; and of what stands beside the number in it, points.
const FIELD: f32 = 42.0;
const FIELD_EDGES: f32 = 20.0;
/// In a lower window, points, the drawing needs the room of the sliders.
const LOW: f32 = 640.0;

/// Something with which the operating point is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LiveControl {
    Duty,
    Rate,
    Speed,
    LookAt,
    Temperature,
    SideSlope,
    ForeAftSlope,
    Supply,
}

/// Controls and figures in one line; where there is no room, the figures below the controls, and both in as many lines as
/// they need. Another duty to look at, if one was chosen.
pub fn show(ui: &mut Ui, session: &mut Session) -> Option<DutyId> {
    let mut chosen = None;
    let controls = controls(session);
    let several = session.project().duties.are_several();
    let sliders = ui.ctx().content_rect().height() >= LOW;
    let wide = ONE_LINE + if several { DUTY_LIST + GAP } else { 0.0 };
    if ui.available_width() >= wide {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = GAP;
            for control in controls {
                chosen = show_control(ui, session, control, sliders).or(chosen);
            }
            ui.separator();
            // Eight figures stand closer than the controls, and none may wrap.
            ui.spacing_mut().item_spacing.x = 12.0;
            ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Extend);
            for one in figures(session) {
                show_figure(ui, &one, false);
            }
        });
    } else {
        let gap = if sliders { GAP } else { 14.0 };
        in_lines(ui, "controls", gap, controls.len(), |ui, at| {
            chosen = show_control(ui, session, controls[at], sliders).or(chosen);
        });
        ui.add_space(if sliders { 4.0 } else { 0.0 });
        let figures = figures(session);
        in_lines(ui, "figures", if sliders { 22.0 } else { 16.0 }, figures.len(), |ui, at| {
            show_figure(ui, &figures[at], true);
        });
    }
    chosen
}

/// The controls that this project has, from left to right.
fn controls(session: &Session) -> Vec<LiveControl> {
    let held = session.project().supply.control.pressure().is_some();
    let duty = session.project().duties.are_several().then_some(LiveControl::Duty);
    let point = [
        LiveControl::Rate,
        LiveControl::Speed,
        LiveControl::LookAt,
        LiveControl::Temperature,
        LiveControl::SideSlope,
        LiveControl::ForeAftSlope,
    ];
    duty.into_iter().chain(point).chain(held.then_some(LiveControl::Supply)).collect()
}

/// Another duty, if one was chosen.
fn show_control(ui: &mut Ui, session: &mut Session, which: LiveControl, sliders: bool) -> Option<DutyId> {
    let units = session.project().units;
    let point = *session.point();
    let steepest = 0.25f64.atan();
    let slopes = -steepest..=steepest;
    let value = |change: Option<ControlChange>| match change {
        Some(ControlChange::Sliding(value) | ControlChange::Set(value)) => Some(value),
        Some(ControlChange::Done) | None => None,
    };
    let control = |ui: &mut Ui, name: &str, measure, value: f64, slider, most| {
        control(ui, units, name, measure, value, slider, most, sliders)
    };
    match which {
        LiveControl::Duty => return duty(ui, session, sliders),
        LiveControl::Rate => {
            let rate = control(ui, "Rate", Measure::Rate, point.rate.si(), LEAST_RATE..=2e-5, 1e-3);
            edit_duty(ui, session, "Change the rate", rate, |duty, value| {
                duty.rate = ApplicationRate::from_si(value);
            });
        }
        LiveControl::Speed => {
            let speeds = 2.0 / 3.6..=20.0 / 3.6;
            let now = point.speed.si();
            if let Some(value) = value(control(ui, "Ground speed", Measure::GroundSpeed, now, speeds, 15.0)) {
                session.look_at_speed(Speed::from_si(value));
            }
        }
        LiveControl::LookAt => look_at(ui, session, sliders),
        LiveControl::Temperature => {
            let now = point.temperature.si();
            if let Some(value) = value(control(ui, "Liquid", Measure::Temperature, now, -10.0..=45.0, 60.0)) {
                session.look_at_temperature(Temperature::from_si(value));
            }
        }
        LiveControl::SideSlope => {
            let now = point.side_slope.si();
            if let Some(value) = value(control(ui, "Side slope, right up", Measure::Slope, now, slopes, 0.79))
            {
                session.look_at_side_slope(Angle::from_si(value));
            }
        }
        LiveControl::ForeAftSlope => {
            let now = point.fore_aft_slope.si();
            if let Some(value) =
                value(control(ui, "Fore-aft slope, nose up", Measure::Slope, now, slopes, 0.79))
            {
                session.look_at_fore_aft_slope(Angle::from_si(value));
            }
        }
        LiveControl::Supply => supply(ui, session, units, sliders),
    }
    None
}

/// A name with what it stands for below it; in a low window before it.
fn named(ui: &mut Ui, name: &str, below: bool, contents: impl FnOnce(&mut Ui)) {
    let label = RichText::new(name).color(Theme::of(ui.visuals()).soft).small();
    if below {
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            ui.label(label);
            ui.horizontal(contents);
        });
    } else {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            ui.label(label);
            contents(ui);
        });
    }
}

/// The speeds that the duty names.
fn look_at(ui: &mut Ui, session: &mut Session, sliders: bool) {
    let units = session.project().units;
    let duty = session.duty().clone();
    let point = *session.point();
    named(ui, "Look at", sliders, |ui| {
        ui.spacing_mut().item_spacing.x = 3.0;
        for (name, speed) in [("Slowest", duty.slowest), ("Usual", duty.usual), ("Fastest", duty.fastest)] {
            let text = Measure::GroundSpeed.text(speed.si(), units);
            let here = (point.speed - speed).abs().si() < 1e-9;
            let button = ui.add(egui::Button::new(RichText::new(name).small()).selected(here));
            if button.on_hover_text(format!("{name} speed, {text}")).clicked() {
                session.look_at_speed(speed);
            }
        }
    });
}

fn duty(ui: &mut Ui, session: &Session, sliders: bool) -> Option<DutyId> {
    let mut chosen = None;
    named(ui, "Duty", sliders, |ui| chosen = duty_choice::list(ui, session, DUTY_LIST));
    chosen
}

fn supply(ui: &mut Ui, session: &mut Session, units: UnitSystem, sliders: bool) {
    let supply = session.project().supply.clone();
    let (name, value) = match supply.control {
        Control::Metered { limit } => ("Pressure limit", limit),
        Control::Held { pressure } => ("Constant pressure", pressure),
        Control::Uncontrolled => return,
    };
    let change = control(ui, units, name, Measure::Pressure, value.si(), 0.0..=10e5, 100e5, sliders);
    let with = move |value: f64| {
        let pressure = Pressure::from_si(value);
        let control = match supply.control {
            Control::Metered { .. } => Control::Metered { limit: pressure },
            Control::Held { .. } => Control::Held { pressure },
            Control::Uncontrolled => Control::Uncontrolled,
        };
        Edit::SetSupply(Supply { control, ..supply.clone() })
    };
    apply(ui, session, "Change the pump", change, with);
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

/// A name, a typed field and, where there is room, a slider for one number.
#[expect(
    clippy::too_many_arguments,
    reason = "one number with all that is shown of it; a struct would only rename them"
)]
fn control(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    slider: std::ops::RangeInclusive<f64>,
    most: f64,
    sliders: bool,
) -> Option<ControlChange> {
    let mut change = None;
    let least = if *slider.start() < 0.0 { -most } else { *slider.start() };
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        let theme = Theme::of(ui.visuals());
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            let label = ui.label(RichText::new(name).color(theme.soft)).id;
            let number = measure.short_number(value, units);
            let font = egui::TextStyle::Body.resolve(ui.style());
            let wide = ui.painter().layout_no_wrap(number, font, theme.ink).size().x;
            let field = NumberField {
                width: FIELD.max(wide + FIELD_EDGES),
                ..NumberField::new(name, measure, units, Some(value), least..=most)
            };
            if let Some(value) = field.show(ui, Some(label)) {
                change = Some(ControlChange::Set(value));
            }
        });
        if !sliders {
            return;
        }
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

/// A number that matters.
struct Figure {
    name: String,
    /// The number and its unit; none where it is not known.
    shown: Option<(String, &'static str)>,
    /// It is beyond what the project accepts.
    over: bool,
}

fn show_figure(ui: &mut Ui, figure: &Figure, flat: bool) {
    let theme = Theme::of(ui.visuals());
    let number = |ui: &mut Ui| {
        let (number, unit) = figure.shown.as_ref().map_or(("–", ""), |(number, unit)| (number, *unit));
        let colour = if figure.over { theme.warning } else { theme.ink };
        ui.label(RichText::new(number).size(if flat { 17.0 } else { 20.0 }).color(colour));
        ui.label(RichText::new(unit).color(theme.soft));
    };
    let name = RichText::new(&figure.name).color(theme.soft);
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
}

fn figures(session: &Session) -> Vec<Figure> {
    let units = session.project().units;
    let outcome = session.shown_outcome();
    // A suspension's figures are no prediction; why, a finding says.
    let about = if session.duty().liquid.caution().is_some() { "≈ " } else { "" };
    let of = |name: &str, measure: Measure, value: Option<f64>| Figure {
        name: name.to_owned(),
        shown: value.map(|value| {
            // What a controller meters does not rest on viscosity.
            let about = if measure == Measure::TotalFlow { "" } else { about };
            (format!("{about}{}", measure.number(value, units)), measure.unit(units).symbol)
        }),
        over: false,
    };
    let numbers = outcome.numbers();
    let in_total = named_with_rows("Total flow", outcome.rows_in_total());
    let mut all = vec![
        of(&in_total, Measure::TotalFlow, numbers.map(|one| one.total_flow.si())),
        of("Pump", Measure::Pressure, numbers.map(|one| one.pump_pressure.si())),
        of("Inlet", Measure::Pressure, numbers.map(|one| one.inlet_pressure.si())),
    ];
    let is_gauge =
        |entry| matches!(session.project().catalogue.item(entry), Some(crate::plan::PartItem::Gauge(_)));
    if let Some(part) = session.routing().parts.iter().find(|part| is_gauge(&part.entry)) {
        let reads = outcome.part(part.id).and_then(|found| found.pressure);
        let name = format!("Gauge {}", part.tag);
        all.push(of(&name, Measure::Pressure, reads.map(|pressure| pressure.si())));
    }
    let limits = &session.project().limits;
    let over_fed = |name| named_with_rows(name, outcome.rows_in_evenness());
    let cv = outcome.evenness().map(|one| one.cv);
    all.push(Figure {
        over: cv.is_some_and(|cv| cv > limits.cv_acceptable),
        ..of(&over_fed("CV over rows"), Measure::Percent, cv.map(|cv| cv.si()))
    });
    all.push(of(&over_fed("DU"), Measure::Percent, outcome.evenness().map(|one| one.du_lowest_quarter.si())));
    let mean = outcome.evenness().map(|one| one.mean_deviation.si());
    all.push(Figure { name: over_fed("Mean against target"), shown: signed(mean, about), over: false });
    let farthest = numbers.and_then(Numbers::farthest_row);
    let name = farthest.map_or_else(
        || "Largest deviation".to_owned(),
        |row| format!("Largest deviation: row {}", row.number),
    );
    let deviation = farthest.and_then(|row| row.deviation);
    let over = deviation.is_some_and(|one| one.abs() > limits.row_deviation);
    all.push(Figure { name, shown: signed(deviation.map(|one| one.si()), about), over });
    all
}

fn signed(ratio: Option<f64>, about: &str) -> Option<(String, &'static str)> {
    let text = Measure::Percent.number(ratio?, UnitSystem::Metric);
    let plain = text.trim_start_matches('−').trim_start_matches(['0', '.']).is_empty();
    let sign = if text.starts_with('−') || plain { "" } else { "+" };
    Some((format!("{about}{sign}{text}"), "%"))
}
