//! What the project asks for apart from its bar: liquid, application, supply, limits, title block. The same entries
//! stand in the form of a new bar and in a window of their own, where each change is one step.

use eframe::egui;
use eframe::egui::{Context, Grid, RichText, ScrollArea, Ui};

use super::bar_form::heading;
use super::duty_choice::{self, DutyRequest};
use super::number_field::NumberField;
use super::text_field::TextField;
use super::theme::Theme;
use super::typing;
use crate::geometry::Point3;
use crate::plan::bounds::Bound;
use crate::plan::limits::TABLE;
use crate::plan::liquids::generic_liquids;
use crate::plan::{
    Control, CurvePoint, Duty, Edit, Limits, Liquid, LiquidPoint, RowWidths, Source, Supply, TitleBlock,
};
use crate::quantities::{
    Angle, ApplicationRate, Density, Flow, Length, Measure, Pressure, Quantity, Speed, Temperature,
    UnitSystem, Viscosity,
};
use crate::session::Session;

/// One page of the settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Page {
    /// Density, viscosity, salt-out.
    #[default]
    Liquid,
    /// Rate, speeds, conditions.
    Application,
    /// Control, pump, tank.
    Supply,
    /// What findings are measured against.
    Limits,
    /// Title block of papers.
    Title,
}

impl Page {
    const ALL: [Self; 5] = [Self::Liquid, Self::Application, Self::Supply, Self::Limits, Self::Title];

    const fn label(self) -> &'static str {
        match self {
            Self::Liquid => "Liquid",
            Self::Application => "Application",
            Self::Supply => "Pump and supply",
            Self::Limits => "Limits",
            Self::Title => "Title block",
        }
    }
}

/// What was asked for in the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SettingsRequest {
    /// To close it.
    Close,
    /// Something about the duties.
    Duty(DutyRequest),
}

/// The window; what was asked for, to be done once what is typed is taken.
pub fn show(ctx: &Context, session: &mut Session, page: &mut Page) -> Option<SettingsRequest> {
    let mut open = true;
    let mut request = None;
    egui::Window::new("Liquid, supply and limits")
        .open(&mut open)
        .collapsible(false)
        .resizable(false)
        .default_pos(egui::pos2(190.0, 150.0))
        .show(ctx, |ui| {
            ui.set_width(460.0);
            ui.horizontal_wrapped(|ui| {
                for one in Page::ALL {
                    ui.selectable_value(page, one, one.label());
                }
            });
            ui.separator();
            // Each page is scrolled by itself.
            ScrollArea::vertical().id_salt(page.label()).max_height(460.0).auto_shrink([false, true]).show(
                ui,
                |ui| {
                    let units = session.project().units;
                    match page {
                        Page::Liquid => {
                            request = duty_choice::line(ui, session);
                            let mut new = session.duty().clone();
                            ui.push_id(new.id, |ui| {
                                liquid_choice(ui, &mut new.liquid, units);
                                liquid_table(ui, &mut new.liquid, units);
                            });
                            apply(ui, session, "Change the liquid", &new, Session::duty, put_duty);
                        }
                        Page::Application => {
                            request = duty_choice::line(ui, session);
                            let mut new = session.duty().clone();
                            ui.push_id(new.id, |ui| application(ui, &mut new, units));
                            apply(ui, session, "Change what is asked", &new, Session::duty, put_duty);
                        }
                        Page::Supply => {
                            let mut new = session.project().supply.clone();
                            supply(ui, &mut new, units);
                            apply(
                                ui,
                                session,
                                "Change the supply",
                                &new,
                                |session| &session.project().supply,
                                Edit::SetSupply,
                            );
                        }
                        Page::Limits => {
                            let mut new = session.project().limits;
                            limits(ui, &mut new, units);
                            apply(
                                ui,
                                session,
                                "Change the limits",
                                &new,
                                |session| &session.project().limits,
                                Edit::SetLimits,
                            );
                        }
                        Page::Title => {
                            let mut new = session.project().title.clone();
                            title_block(ui, &mut new);
                            apply(
                                ui,
                                session,
                                "Change the title block",
                                &new,
                                |session| &session.project().title,
                                Edit::SetTitle,
                            );
                        }
                    }
                },
            );
        });
    if open { request.map(SettingsRequest::Duty) } else { Some(SettingsRequest::Close) }
}

fn apply<T: PartialEq + Clone>(
    ui: &Ui,
    session: &mut Session,
    name: &str,
    new: &T,
    of: impl Fn(&Session) -> &T,
    edit: impl Fn(T) -> Edit,
) {
    if new != of(session)
        && let Err(refusal) = session.edit(name, [edit(new.clone())])
    {
        typing::refuse_or_say(ui.ctx(), refusal);
    }
}

fn put_duty(duty: Duty) -> Edit {
    Edit::PutDuty(Box::new(duty))
}

fn soft(ui: &Ui, text: &str) -> RichText {
    RichText::new(text).color(Theme::of(ui.visuals()).soft)
}

fn grid(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui)) {
    Grid::new(name).num_columns(2).min_col_width(150.0).spacing([12.0, 4.0]).show(ui, contents);
}

/// A labelled number of a quantity.
fn number<Q: Quantity + Copy>(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: &mut Q,
    from: impl Fn(f64) -> Q,
    range: std::ops::RangeInclusive<f64>,
) {
    let label = ui.label(soft(ui, name)).id;
    if let Some(new) = NumberField::new(name, measure, units, Some(value.si()), range).show(ui, Some(label)) {
        *value = from(new);
    }
    ui.end_row();
}

/// A list to choose from, with its name for screen readers.
pub(super) fn combo<T: PartialEq>(
    ui: &mut Ui,
    name: &str,
    shown: &str,
    all: impl IntoIterator<Item = (T, String)>,
    value: &mut T,
) {
    combo_of_width(ui, name, shown, all, value, 190.0);
}

/// The same, so many points wide.
pub(super) fn combo_of_width<T: PartialEq>(
    ui: &mut Ui,
    name: &str,
    shown: &str,
    all: impl IntoIterator<Item = (T, String)>,
    value: &mut T,
    width: f32,
) {
    let response = egui::ComboBox::from_id_salt(name)
        .selected_text(shown)
        .width(width)
        .height(360.0)
        .truncate()
        .show_ui(ui, |ui| {
            for (one, label) in all {
                ui.selectable_value(value, one, label);
            }
        })
        .response;
    let label = format!("{name}: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, &label));
}

const fn source_label(source: Source) -> &'static str {
    match source {
        Source::Measured => "measured",
        Source::Published => "published",
        Source::Assumed => "assumed",
    }
}

/// Which of the generic liquids; one of its own stays in the list.
pub(super) fn liquid_choice(ui: &mut Ui, liquid: &mut Liquid, units: UnitSystem) {
    let mut all = generic_liquids();
    let known = all.iter().any(|one| one == liquid);
    if !known {
        all.insert(0, liquid.clone());
    }
    grid(ui, "liquid choice", |ui| {
        ui.label(soft(ui, "Liquid"));
        let mut at = all.iter().position(|one| one == liquid).unwrap_or(0);
        let before = at;
        let names = all.iter().enumerate().map(|(index, one)| {
            let own = if !known && index == 0 { " (own values)" } else { "" };
            (index, format!("{}{own}", one.name))
        });
        combo(ui, "Liquid", &liquid.name.clone(), names, &mut at);
        if at != before {
            *liquid = all[at].clone();
        }
        ui.end_row();
        if let Some(state) = liquid.at(Temperature::from_si(20.0)) {
            let at_20 = Measure::Temperature.short_text(20.0, units);
            ui.label(soft(ui, &format!("At {at_20}")));
            ui.add(
                egui::Label::new(format!(
                    "{} ({}), {} ({})",
                    Measure::Density.text(state.density.si(), units),
                    source_label(liquid.density_source),
                    Measure::Viscosity.text(state.viscosity.si(), units),
                    source_label(liquid.viscosity_source)
                ))
                .wrap(),
            );
            ui.end_row();
        }
    });
}

/// The table of properties over temperature, to change.
fn liquid_table(ui: &mut Ui, liquid: &mut Liquid, units: UnitSystem) {
    grid(ui, "liquid name", |ui| text(ui, "Name", &mut liquid.name));
    heading(ui, "Density and viscosity");
    let mut remove = None;
    Grid::new("liquid table").num_columns(4).min_col_width(96.0).spacing([10.0, 4.0]).show(ui, |ui| {
        for measure in [Measure::Temperature, Measure::Density, Measure::Viscosity] {
            ui.label(soft(ui, measure.unit(units).symbol).small());
        }
        ui.end_row();
        let last = liquid.points.len() == 1;
        for (index, point) in liquid.points.iter_mut().enumerate() {
            let at = Measure::Temperature.short_text(point.temperature.si(), units);
            ui.push_id(index, |ui| {
                if let Some(new) = cell(
                    ui,
                    units,
                    &format!("Temperature {}", index + 1),
                    Measure::Temperature,
                    point.temperature.si(),
                    -60.0..=120.0,
                ) {
                    point.temperature = Temperature::from_si(new);
                }
            });
            ui.push_id(index, |ui| {
                if let Some(new) = cell(
                    ui,
                    units,
                    &format!("Density at {at}"),
                    Measure::Density,
                    point.density.si(),
                    300.0..=3000.0,
                ) {
                    point.density = Density::from_si(new);
                }
            });
            ui.push_id(index, |ui| {
                if let Some(new) = cell(
                    ui,
                    units,
                    &format!("Viscosity at {at}"),
                    Measure::Viscosity,
                    point.viscosity.si(),
                    1e-5..=10.0,
                ) {
                    point.viscosity = Viscosity::from_si(new);
                }
            });
            let button = ui.add_enabled(!last, egui::Button::new("Remove").small());
            button.widget_info(|| {
                egui::WidgetInfo::labeled(egui::accesskit::Role::Button, !last, format!("Remove {at}"))
            });
            if button.clicked() {
                remove = Some(index);
            }
            ui.end_row();
        }
    });
    if let Some(index) = remove {
        liquid.points.remove(index);
    }
    // A line stands where its temperature says, however it came there.
    liquid.points.sort_by(|a, b| a.temperature.si().total_cmp(&b.temperature.si()));
    if ui.button("Add a temperature").clicked()
        && let Some(last) = liquid.points.last().copied()
    {
        let temperature = Temperature::from_si(last.temperature.si() + 10.0);
        liquid.points.push(LiquidPoint { temperature, ..last });
    }
    ui.add_space(4.0);
    grid(ui, "liquid sources", |ui| {
        for (name, source) in
            [("Density is", &mut liquid.density_source), ("Viscosity is", &mut liquid.viscosity_source)]
        {
            ui.label(soft(ui, name));
            let all = [Source::Measured, Source::Published, Source::Assumed];
            let shown = source_label(*source);
            combo(ui, name, shown, all.map(|one| (one, source_label(one).to_owned())), source);
            ui.end_row();
        }
        ui.label(soft(ui, "Salt-out"));
        let mut known = liquid.salt_out.is_some();
        if ui.checkbox(&mut known, "temperature known").changed() {
            liquid.salt_out = known.then_some(Temperature::from_si(0.0));
        }
        ui.end_row();
        if let Some(salt_out) = &mut liquid.salt_out {
            number(
                ui,
                units,
                "Salt-out below",
                Measure::Temperature,
                salt_out,
                Temperature::from_si,
                -60.0..=60.0,
            );
        }
    });
}

fn cell(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
) -> Option<f64> {
    NumberField { unit: false, ..NumberField::new(name, measure, units, Some(value), range) }.show(ui, None)
}

fn text(ui: &mut Ui, name: &str, value: &mut String) {
    let id = ui.make_persistent_id(("text", name));
    let label = ui.label(soft(ui, name)).id;
    let field = TextField { width: 250.0, ..TextField::new(name, value) };
    if let Some(new) = field.show(ui, id, Some(label)) {
        *value = new;
    }
    ui.end_row();
}

/// Rate, speeds and conditions.
pub(super) fn application(ui: &mut Ui, asked: &mut Duty, units: UnitSystem) {
    let steepest = 0.78;
    grid(ui, "application", |ui| {
        number(
            ui,
            units,
            "Application rate",
            Measure::Rate,
            &mut asked.rate,
            ApplicationRate::from_si,
            0.0..=1e-3,
        );
        for (name, speed) in [
            ("Slowest speed", &mut asked.slowest),
            ("Usual speed", &mut asked.usual),
            ("Fastest speed", &mut asked.fastest),
        ] {
            number(ui, units, name, Measure::GroundSpeed, speed, Speed::from_si, 0.1..=15.0);
        }
        number(
            ui,
            units,
            "Liquid temperature",
            Measure::Temperature,
            &mut asked.temperature,
            Temperature::from_si,
            -30.0..=60.0,
        );
        number(
            ui,
            units,
            "Side slope, right up",
            Measure::Slope,
            &mut asked.side_slope,
            Angle::from_si,
            -steepest..=steepest,
        );
        number(
            ui,
            units,
            "Fore-aft slope, nose up",
            Measure::Slope,
            &mut asked.fore_aft_slope,
            Angle::from_si,
            -steepest..=steepest,
        );
    });
    if !(asked.slowest <= asked.usual && asked.usual <= asked.fastest) {
        super::bar_form::warn(
            ui,
            "The speeds are not in order; slowest at most usual, usual at most fastest",
        );
    }
}

/// Which width a row's target is of.
pub(super) fn row_widths(ui: &mut Ui, widths: &mut RowWidths) {
    let label = |widths| match widths {
        RowWidths::Nominal => "the row spacing",
        RowWidths::HalfWidths => "half-way to its neighbours",
    };
    ui.label(soft(ui, "A row stands for"));
    let all = [RowWidths::Nominal, RowWidths::HalfWidths].map(|one| (one, label(one).to_owned()));
    combo(ui, "A row stands for", label(*widths), all, widths);
    ui.end_row();
}

/// Control, pump and tank.
pub(super) fn supply(ui: &mut Ui, supply: &mut Supply, units: UnitSystem) {
    grid(ui, "supply", |ui| {
        ui.label(soft(ui, "Control"));
        let pressure = supply.control.pressure().unwrap_or_else(|| supply.highest_pressure());
        ui.horizontal(|ui| {
            for (control, name, about) in [
                (
                    Control::Metered { limit: pressure },
                    "Metered",
                    "A rate controller holds the total flow up to the pressure limit",
                ),
                (Control::Held { pressure }, "Held pressure", "The pressure at the pump's outlet is held"),
                (
                    Control::Uncontrolled,
                    "On its curve",
                    "Nothing is held: the pump runs on its curve, which has to be given",
                ),
            ] {
                let can = control != Control::Uncontrolled || !supply.pump_curve.is_empty();
                let choice = egui::Button::selectable(supply.control == control, name);
                if ui.add_enabled(can, choice).on_hover_text(about).on_disabled_hover_text(about).clicked() {
                    supply.control = control;
                }
            }
        });
        ui.end_row();
        match &mut supply.control {
            Control::Metered { limit } => {
                number(ui, units, "Pressure limit", Measure::Pressure, limit, Pressure::from_si, 1e3..=1e7);
            }
            Control::Held { pressure } => {
                let name = "Pressure held";
                number(ui, units, name, Measure::Pressure, pressure, Pressure::from_si, 1e3..=1e7);
            }
            Control::Uncontrolled => {}
        }
        number(
            ui,
            units,
            "Pump rated",
            Measure::Pressure,
            &mut supply.pump_rated,
            Pressure::from_si,
            1e3..=1e8,
        );
        ui.label(soft(ui, "Largest flow"));
        let mut known = supply.pump_capacity.is_some();
        if ui.checkbox(&mut known, "of the pump known").changed() {
            supply.pump_capacity = known.then_some(Flow::litres_per_minute(60.0));
        }
        ui.end_row();
        if let Some(flow) = &mut supply.pump_capacity {
            number(ui, units, "Pump delivers", Measure::TotalFlow, flow, Flow::from_si, 1e-6..=0.1);
        }
        number(
            ui,
            units,
            "Weakest part rated",
            Measure::Pressure,
            &mut supply.weakest_rated,
            Pressure::from_si,
            1e3..=1e8,
        );
        number(
            ui,
            units,
            "Tank surface, full",
            Measure::Distance,
            &mut supply.tank_surface,
            Length::from_si,
            -5.0..=20.0,
        );
        let Point3 { x, y, z } = supply.pump;
        let mut place = [x, y, z].map(Length::metres);
        for (name, value) in
            ["Pump right of centre", "Pump forward", "Pump height"].into_iter().zip(&mut place)
        {
            number(ui, units, name, Measure::Distance, value, Length::from_si, -100.0..=100.0);
        }
        supply.pump = Point3::new(place[0].si(), place[1].si(), place[2].si());
    });
    pump_curve(ui, supply, units);
}

/// The pump's curve, to change.
fn pump_curve(ui: &mut Ui, supply: &mut Supply, units: UnitSystem) {
    heading(ui, "Pump curve");
    // The last two go together: a curve has two points or none.
    let mut remove = None;
    let kept = supply.pump_curve.len() <= 2 && supply.control == Control::Uncontrolled;
    let table = Grid::new("pump curve").num_columns(3).min_col_width(96.0).spacing([10.0, 4.0]);
    // A grid of nothing would be laid out anew in every frame.
    if !supply.pump_curve.is_empty() {
        table.show(ui, |ui| {
            for measure in [Measure::TotalFlow, Measure::Pressure] {
                ui.label(soft(ui, measure.unit(units).symbol).small());
            }
            ui.end_row();
            for index in 0..supply.pump_curve.len() {
                // A point lies between its neighbours.
                let before = index.checked_sub(1).map(|before| supply.pump_curve[before]);
                let after = supply.pump_curve.get(index + 1).copied();
                let number = index + 1;
                let point = &mut supply.pump_curve[index];
                ui.push_id(index, |ui| match before {
                    None => {
                        ui.label(soft(ui, "0, against a shut valve"));
                    }
                    Some(before) => {
                        let most = after.map_or(0.1, |after| after.flow.si());
                        let range = before.flow.si()..=most;
                        let name = format!("Flow of point {number}");
                        if let Some(new) = cell(ui, units, &name, Measure::TotalFlow, point.flow.si(), range)
                        {
                            point.flow = Flow::from_si(new);
                        }
                    }
                });
                ui.push_id(index, |ui| {
                    let least = after.map_or(0.0, |after| after.pressure.si());
                    let range = least..=before.map_or(1e8, |before| before.pressure.si());
                    let name = format!("Pressure of point {number}");
                    if let Some(new) = cell(ui, units, &name, Measure::Pressure, point.pressure.si(), range) {
                        point.pressure = Pressure::from_si(new);
                    }
                });
                let can = index > 0 && !kept;
                let button = ui.add_enabled(can, egui::Button::new("Remove").small());
                button.widget_info(|| {
                    let name = format!("Remove point {number}");
                    egui::WidgetInfo::labeled(egui::accesskit::Role::Button, can, name)
                });
                if button.clicked() {
                    remove = Some(index);
                }
                ui.end_row();
            }
        });
    }
    if let Some(index) = remove {
        supply.pump_curve.remove(index);
        if supply.pump_curve.len() == 1 {
            supply.pump_curve.clear();
        }
    }
    // A curve that has come down to nothing ends there.
    let ends = supply.pump_curve.last().is_some_and(|last| last.pressure <= Pressure::ZERO);
    let full = ends || supply.pump_curve.len() >= Bound::CurvePoints.most();
    let words = if supply.pump_curve.is_empty() { "Enter a pump curve" } else { "Add a point" };
    if ui.add_enabled(!full, egui::Button::new(words)).clicked() {
        if let [.., before, last] = supply.pump_curve[..] {
            let flow = last.flow + (last.flow - before.flow);
            supply.pump_curve.push(CurvePoint { flow, pressure: last.pressure / 2.0 });
        } else {
            let most = supply.pump_capacity.unwrap_or_else(|| Flow::litres_per_minute(60.0));
            let pressure = supply.highest_pressure();
            supply.pump_curve = vec![
                CurvePoint { flow: Flow::ZERO, pressure: pressure * 1.5 },
                CurvePoint { flow: most, pressure },
            ];
        }
    }
}

fn limits(ui: &mut Ui, limits: &mut Limits, units: UnitSystem) {
    grid(ui, "limits", |ui| {
        for limit in &TABLE {
            let label = ui.label(soft(ui, limit.name)).on_hover_text(limit.source).id;
            let (value, range) = (Some(limit.of(limits)), limit.least..=limit.most);
            let field = NumberField::new(limit.name, limit.measure, units, value, range);
            if let Some(new) = field.show(ui, Some(label)) {
                limit.set(limits, new);
            }
            ui.end_row();
        }
    });
    ui.add_space(6.0);
    if ui.button("Usual limits").on_hover_text("Common practice, as in README").clicked() {
        *limits = Limits::default();
    }
}

fn title_block(ui: &mut Ui, title: &mut TitleBlock) {
    grid(ui, "title block", |ui| {
        text(ui, "Title", &mut title.title);
        text(ui, "Owner", &mut title.owner);
        text(ui, "Drawing number", &mut title.number);
        text(ui, "Revision", &mut title.revision);
        text(ui, "Made by", &mut title.creator);
        text(ui, "Approved by", &mut title.approved_by);
        text(ui, "Notes", &mut title.notes);
    });
}
