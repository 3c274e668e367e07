//! The panel on the right: everything about what is selected, to read and to change.

use eframe::egui::{Grid, RichText, Ui};

use super::entry;
use super::panels;
use super::theme::Theme;
use crate::hydraulics::{NotFed, RowState};
use crate::plan::kinds::Reading;
use crate::plan::part::outlet_words;
use crate::plan::words::counted;
use crate::plan::{
    Control, Edit, FeedGeometry, PartId, Port, PortRef, RowFeed, RowId, RowWidths, Source, Subject, Supply,
};
use crate::quantities::{Length, Measure, Ratio, Speed};
use crate::session::Session;
use crate::session::bulk::Common;
use crate::session::commands::{self, Command};
use crate::session::properties::Property;

mod crossings;
mod elements;
mod lines;
mod several;
mod shared_tubes;

use elements::{change, fact, grid, remove_button, say, title, wide_grid};
use lines::{feed, run, stocks};
use several::several;

/// Shows the details of the selection; of the project when nothing is selected.
pub fn show(ui: &mut Ui, session: &mut Session) {
    let selection: Vec<Subject> = session.selection().iter().copied().collect();
    match selection[..] {
        [] => {
            project(ui, session);
            ui.separator();
            panels::metering(ui, session);
        }
        // What is typed for one thing must never be taken for the next.
        [one] => {
            ui.push_id(one, |ui| match one {
                Subject::Part(id) => part(ui, session, id),
                Subject::Run(id) => run(ui, session, id),
                Subject::Feed(id) => feed(ui, session, id),
                Subject::Row(id) => row(ui, session, id),
            });
        }
        _ => {
            ui.push_id(&selection, |ui| several(ui, session, selection.len()));
        }
    }
}

fn project(ui: &mut Ui, session: &mut Session) {
    let (project, duty) = (session.snapshot(), session.duty().clone());
    let units = project.units;
    let name = if project.title.title.is_empty() { "Untitled bar" } else { &project.title.title };
    title(ui, name, "");
    grid(ui, "project", |ui| {
        entry::text(ui, session, "Title", &project.title.title, |session, text| {
            let title = crate::plan::TitleBlock { title: text.to_owned(), ..session.project().title.clone() };
            session.edit("Change the title", [Edit::SetTitle(title)])
        });
        let in_use = project.bar.rows.iter().filter(|row| !row.left_out).count();
        let spacing = Measure::Bore.short_text(project.bar.row_spacing.si(), units);
        let on_average = if project.bar.row_widths == RowWidths::HalfWidths { " on average" } else { "" };
        fact(ui, "Bar", format!("{}, {spacing} apart{on_average}", counted(in_use, "row")));
        fact(ui, "Sections", project.bar.sections.len().to_string());
        fact(ui, "Liquid", &*duty.liquid.name);
        if let Some(state) = session.shown_outcome().liquid {
            let marked =
                |source: &Source| source.mark(units).map_or_else(String::new, |mark| format!(" ({mark})"));
            fact(
                ui,
                "Density",
                Measure::Density.text(state.density.si(), units) + &marked(&duty.liquid.density_source),
            );
            let text = Measure::Viscosity.text(state.viscosity.si(), units);
            fact(ui, "Viscosity", text + &marked(&duty.liquid.viscosity_source));
            if let Some(caution) = duty.liquid.caution() {
                fact(ui, "Pressures and flows", format!("liquid is {}", caution.short()));
            }
        }
        for (name, speed) in
            [("Slowest speed", duty.slowest), ("Usual speed", duty.usual), ("Fastest speed", duty.fastest)]
        {
            let value = Common::Same(speed.si());
            entry::number(ui, session, name, Measure::GroundSpeed, value, 0.1..=15.0, |session, value| {
                let speed = Speed::from_si(value);
                session.change_duty(&format!("Change the {}", name.to_lowercase()), |duty| match name {
                    "Slowest speed" => duty.slowest = speed,
                    "Usual speed" => duty.usual = speed,
                    _ => duty.fastest = speed,
                })
            });
        }
        supply(ui, session, &project.supply);
    });
    ui.label(
        RichText::new("Liquid, pump and limits: see the menu Project")
            .small()
            .color(Theme::of(ui.visuals()).soft),
    );
    let all: Vec<Subject> = session.routing().feeds.iter().map(|feed| Subject::Feed(feed.id)).collect();
    if all.is_empty() {
        return;
    }
    ui.separator();
    ui.label(RichText::new("All rows").strong().color(Theme::of(ui.visuals()).soft));
    wide_grid(ui, "all rows", |ui| stocks(ui, session, &all));
}

fn supply(ui: &mut Ui, session: &mut Session, supply: &Supply) {
    ui.label(RichText::new("Pump").color(Theme::of(ui.visuals()).soft));
    let pressure = supply.control.pressure().unwrap_or_else(|| supply.highest_pressure());
    let metered = matches!(supply.control, Control::Metered { .. });
    let held = matches!(supply.control, Control::Held { .. });
    // In as many lines as the column is too narrow for.
    ui.horizontal_wrapped(|ui| {
        if ui
            .selectable_label(metered, "Metered")
            .on_hover_text("A rate controller holds the total flow up to the pressure limit")
            .clicked()
            && !metered
        {
            let control = Control::Metered { limit: pressure };
            change(ui, session, "Meter the flow", [Edit::SetSupply(Supply { control, ..supply.clone() })]);
        }
        if ui
            .selectable_label(held, "Constant pressure")
            .on_hover_text("The pressure at the pump's outlet stays the same")
            .clicked()
            && !held
        {
            let control = Control::Held { pressure };
            change(
                ui,
                session,
                "Keep the pressure constant",
                [Edit::SetSupply(Supply { control, ..supply.clone() })],
            );
        }
        if !supply.pump_curve.is_empty()
            && ui
                .selectable_label(supply.control == Control::Uncontrolled, "On its curve")
                .on_hover_text("Nothing is controlled: the pump runs on its curve")
                .clicked()
            && supply.control != Control::Uncontrolled
        {
            let control = Control::Uncontrolled;
            change(
                ui,
                session,
                "Run on the pump's curve",
                [Edit::SetSupply(Supply { control, ..supply.clone() })],
            );
        }
    });
    ui.end_row();
}

fn part(ui: &mut Ui, session: &mut Session, id: PartId) {
    let project = session.snapshot();
    let units = project.units;
    let Some(part) = session.routing().part(id).cloned() else { return };
    let Some(item) = project.catalogue.item(&part.entry).copied() else { return };
    let section = project.bar.section(part.section).map_or("", |section| section.name.as_str()).to_owned();
    title(ui, &part.tag, &format!("{}, {section}", item.kind()));
    let tag = part.tag.clone();
    wide_grid(ui, "part", |ui| {
        let this = [Subject::Part(id)];
        entry::property(ui, session, Property::Tag, &this);
        entry::property(ui, session, Property::Size, &this);
        if part.mount.is_some() {
            fact(ui, "Mounted", "mounted on another part; drag it to take it off");
        }
        for property in Property::PLACE {
            entry::property(ui, session, property, &this);
        }
        entry::property(ui, session, Property::Shut, &this);
        if item.has_port(Port::Branch) {
            let branch = PortRef { part: id, port: Port::Branch };
            ui.label(RichText::new("Branch").color(Theme::of(ui.visuals()).soft));
            ui.horizontal_wrapped(|ui| {
                let side = session.geometry().anchors.faces(branch).unwrap_or_default();
                ui.label(match side {
                    "front" => "to the front",
                    "rear" => "to the rear",
                    "left" => "to the left",
                    _ => "to the right",
                });
                let hover = entry_text(Command::BranchOver);
                if ui.button("To the other side").on_hover_text(hover).clicked() {
                    say(ui, commands::run(session, Command::BranchOver).map(drop));
                }
            });
            ui.end_row();
        }
        if item.is_for_rows() {
            entry::property(ui, session, Property::FedRows, &this);
        }
    });
    ui.separator();
    let outcome = session.shown_outcome().part(id).copied();
    grid(ui, "part numbers", |ui| {
        let show = |ui: &mut Ui, name: &str, measure: Measure, value: Option<f64>| {
            fact(ui, name, value.map_or_else(|| "–".to_owned(), |value| measure.text(value, units)));
        };
        let reads = item.facts().reading;
        let name = if reads == Some(Reading::Pressure) { "Reads" } else { "Pressure" };
        show(ui, name, Measure::Pressure, outcome.and_then(|one| one.pressure).map(|one| one.si()));
        if !item.is_on_port() {
            let name = if reads == Some(Reading::Flow) { "Reads" } else { "Flow in" };
            show(ui, name, Measure::TotalFlow, outcome.and_then(|one| one.flow).map(|one| one.si()));
        }
        let Some(outcome) = outcome else { return };
        if let Some(to_rows) = outcome.flow_to_rows {
            show(ui, "Flow to its rows", Measure::TotalFlow, Some(to_rows.si()));
            let on = outcome.flow.map(|flow| (flow - to_rows).max(crate::quantities::Flow::ZERO).si());
            show(ui, "Flow passed on", Measure::TotalFlow, on);
        }
        if let Some(drop) = outcome.drop {
            show(ui, "Pressure drop", Measure::Loss, Some(drop.si()));
        }
    });
    if item.is_for_rows() {
        let feeds = on_manifold(session, id);
        if !feeds.is_empty() {
            ui.separator();
            ui.label(RichText::new("Its rows").strong().color(Theme::of(ui.visuals()).soft));
            wide_grid(ui, "its rows", |ui| stocks(ui, session, &feeds));
        }
        outlets(ui, session, id);
    }
    remove_button(ui, session, &tag);
}

fn entry_text(command: Command) -> String {
    command.entry().map_or_else(String::new, |entry| format!("{} ({})", entry.about, entry.keys_text()))
}

fn on_manifold(session: &Session, id: PartId) -> Vec<Subject> {
    let on = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == id);
    session.routing().feeds.iter().filter(on).map(|feed| Subject::Feed(feed.id)).collect()
}

/// The outlets of a manifold with the rows they feed.
fn outlets(ui: &mut Ui, session: &Session, id: PartId) {
    let project = session.project();
    let units = project.units;
    let theme = Theme::of(ui.visuals());
    let mut found: Vec<_> = session
        .shown_outcome()
        .each_row()
        .filter(|(row, _)| row.outlet.is_some_and(|(part, _)| part == id))
        .collect();
    found.sort_by_key(|(row, _)| row.outlet);
    if found.is_empty() {
        return;
    }
    ui.separator();
    Grid::new("outlets").num_columns(5).spacing([10.0, 2.0]).striped(true).show(ui, |ui| {
        let flow_unit = Measure::RowFlow.unit(units).symbol;
        for name in ["outlet", "row", "tube", flow_unit, "deviation"] {
            ui.label(RichText::new(name).small().color(theme.soft));
        }
        ui.end_row();
        for (row, found) in found {
            ui.label(row.outlet.map_or_else(String::new, |(_, number)| number.to_string()));
            ui.label(row.number.to_string());
            let feed = row.feed.and_then(|feed| session.routing().feed(feed));
            let laid = feed.map(|feed| session.geometry().feed(feed.id));
            let tubes = |laid: Option<&FeedGeometry>| {
                laid.into_iter().flat_map(FeedGeometry::tubes).map(|tube| tube.length).sum::<Length>()
            };
            let length = laid.map(tubes);
            ui.label(length.map_or_else(|| "–".to_owned(), |one| Measure::Distance.text(one.si(), units)));
            let flow = found.map(|found| Measure::RowFlow.number(found.flow.si(), units));
            ui.label(flow.unwrap_or_else(|| "–".to_owned()));
            ui.label(state_text(row.state(found), found.and_then(|found| found.deviation)));
            ui.end_row();
        }
    });
}

fn state_text(state: Option<RowState>, deviation: Option<Ratio>) -> String {
    match (state, deviation) {
        (Some(RowState::Fed), Some(deviation)) => {
            format!("{} %", crate::drawing::deviation::signed_percent(deviation))
        }
        (Some(RowState::Fed), None) => "fed".to_owned(),
        (Some(RowState::NotFed(NotFed::LeftOut)), _) => "left out".to_owned(),
        (None, _) => "–".to_owned(),
        (Some(RowState::FlowsBackward), _) => "flows backwards".to_owned(),
        (Some(RowState::Blocked), _) => "blocked".to_owned(),
        (Some(RowState::NotFed(_) | RowState::ValveStaysShut), _) => "not fed".to_owned(),
    }
}

fn row(ui: &mut Ui, session: &mut Session, id: RowId) {
    let Some(connection) = session.shown_outcome().connection(id).copied() else { return };
    let found = session.shown_outcome().row(id).copied();
    let state = connection.state(found.as_ref());
    let units = session.project().units;
    let section = session
        .project()
        .bar
        .section(connection.section)
        .map_or("", |section| section.name.as_str())
        .to_owned();
    title(ui, &format!("Row {}", connection.number), &section);
    grid(ui, "row", |ui| {
        fact(ui, "Target", Measure::RowFlow.text(connection.target.si(), units));
        fact(
            ui,
            "Flow",
            found.map_or_else(|| "–".to_owned(), |row| Measure::RowFlow.text(row.flow.si(), units)),
        );
        fact(ui, "Deviation", state_text(state, found.and_then(|found| found.deviation)));
        let why = crate::drawing::deviation::why_not_fed(state);
        if let Some(why) = why {
            fact(ui, "Why", why);
        }
        if let Some((part, number)) = connection.outlet {
            fact(ui, "From", outlet_words(&session.tag_of(Subject::Part(part)), number));
        }
        entry::property(ui, session, Property::LeftOut, &[Subject::Row(id)]);
    });
    if let Some(feed_id) = connection.feed {
        ui.separator();
        feed(ui, session, feed_id);
    }
}
