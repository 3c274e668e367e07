//! The panel on the right: everything about what is selected, to read and to change.

use eframe::egui;
use eframe::egui::{Grid, RichText, Ui};

use super::entry;
use super::panels::{self, choice};
use super::status_line;
use super::theme::Theme;
use crate::hydraulics::{NotFed, RowState};
use crate::plan::{
    Control, Edit, ElementItem, ElementKind, EntryKey, FeedElement, FeedGeometry, FeedId, FittingItem,
    FittingKey, Item, Line, PartId, PartItem, Port, PortRef, Project, RowFeed, RowId, Run, RunId, Source,
    StockItem, Subject, Supply,
};
use crate::quantities::{Length, Measure, Ratio, Speed};
use crate::session::bulk::{Axis, Common, set_entry};
use crate::session::commands::{self, Command};
use crate::session::{Refusal, Session, listing, rows};

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

fn title(ui: &mut Ui, tag: &str, what: &str) {
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(tag).size(17.0).strong());
        ui.label(RichText::new(what).size(15.0).color(Theme::of(ui.visuals()).soft));
    });
    ui.add_space(4.0);
}

fn fact(ui: &mut Ui, name: &str, text: impl Into<String>) {
    entry::label(ui, name);
    ui.add(egui::Label::new(text.into()).wrap());
    ui.end_row();
}

fn pick(ui: &mut Ui, name: &str, value: &EntryKey, entries: &[(EntryKey, String)]) -> Option<EntryKey> {
    ui.label(RichText::new(name).color(Theme::of(ui.visuals()).soft));
    let mut chosen = value.clone();
    choice(ui, name, &mut chosen, entries);
    ui.end_row();
    (chosen != *value).then_some(chosen)
}

/// A grid of short names, whose lists take what the names leave.
fn wide_grid<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    Grid::new(name).num_columns(2).max_col_width(entry::WIDE).spacing([10.0, 5.0]).show(ui, contents).inner
}

fn grid<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    Grid::new(name).num_columns(2).max_col_width(entry::COLUMN).spacing([12.0, 5.0]).show(ui, contents).inner
}

/// A refused edit says why in the line at the bottom; the panel just goes on.
fn change(ui: &Ui, session: &mut Session, name: &str, edits: impl IntoIterator<Item = Edit>) {
    say(ui, session.edit(name, edits));
}

fn say(ui: &Ui, done: Result<(), Refusal>) {
    status_line::say(ui.ctx(), done.map(|()| None));
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
        fact(ui, "Bar", format!("{in_use} rows, {spacing} apart"));
        fact(ui, "Sections", project.bar.sections.len().to_string());
        fact(ui, "Liquid", &*duty.liquid.name);
        if let Some(state) = session.outcome().liquid {
            let assumed = |source| if source == Source::Assumed { " (assumed)" } else { "" };
            fact(
                ui,
                "Density",
                Measure::Density.text(state.density.si(), units) + assumed(duty.liquid.density_source),
            );
            let text = Measure::Viscosity.text(state.viscosity.si(), units);
            fact(ui, "Viscosity", text + assumed(duty.liquid.viscosity_source));
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
    ui.separator();
    ui.label(RichText::new("All rows").strong().color(Theme::of(ui.visuals()).soft));
    let all: Vec<FeedId> = session.routing().feeds.iter().map(|feed| feed.id).collect();
    wide_grid(ui, "all rows", |ui| stocks(ui, session, &all));
}

fn supply(ui: &mut Ui, session: &mut Session, supply: &Supply) {
    ui.label(RichText::new("Supply").color(Theme::of(ui.visuals()).soft));
    let pressure = supply.control.pressure().unwrap_or_else(|| supply.highest_pressure());
    let metered = matches!(supply.control, Control::Metered { .. });
    let held = matches!(supply.control, Control::Held { .. });
    ui.horizontal(|ui| {
        if ui
            .selectable_label(metered, "Metered")
            .on_hover_text("A rate controller holds the total flow up to the pressure limit")
            .clicked()
            && !metered
        {
            let control = Control::Metered { limit: pressure };
            change(ui, session, "Meter the supply", [Edit::SetSupply(Supply { control, ..supply.clone() })]);
        }
        if ui
            .selectable_label(held, "Held pressure")
            .on_hover_text("The pressure at the pump's outlet is held")
            .clicked()
            && !held
        {
            let control = Control::Held { pressure };
            change(ui, session, "Hold the pressure", [Edit::SetSupply(Supply { control, ..supply.clone() })]);
        }
        if !supply.pump_curve.is_empty()
            && ui
                .selectable_label(supply.control == Control::Uncontrolled, "On its curve")
                .on_hover_text("Nothing is held: the pump runs on its curve")
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
        tag_entry(ui, session, Subject::Part(id));
        let size = Common::Same(part.entry.clone());
        entry::stock(
            ui,
            session,
            "Size",
            size,
            |one: &PartItem| one.item_kind() == item.item_kind(),
            |session, entry| session.set_part_entry(&[id], entry),
        );
        if part.mount.is_some() {
            fact(ui, "Mounted", "on another part; drag to take it off");
        } else {
            place_entries(ui, session, &[id]);
        }
        match item {
            PartItem::SectionValve(_) => {
                entry::tick(ui, session, "Valve", "shut", Common::Same(part.shut), |session, shut| {
                    session.set_shut(&[id], shut)
                });
            }
            PartItem::Tee(_) => {
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
            PartItem::Manifold(_) => {
                let numbers = row_numbers(&project, &rows::rows_of(&project, session.routing(), id));
                entry::text(ui, session, "Rows", &rows::numbers_text(&numbers), |session, text| {
                    let list = rows::parse_rows(session.project(), text)?;
                    session.give_rows(id, &list)
                });
            }
            // Nothing of their own to set.
            PartItem::InletFilter(_) | PartItem::Gauge(_) | PartItem::BlankingPlug(_) => {}
        }
    });
    ui.separator();
    let outcome = session.outcome().part(id).copied();
    grid(ui, "part numbers", |ui| {
        let show = |ui: &mut Ui, name: &str, measure: Measure, value: Option<f64>| {
            fact(ui, name, value.map_or_else(|| "–".to_owned(), |value| measure.text(value, units)));
        };
        let name = if matches!(item, PartItem::Gauge(_)) { "Reads" } else { "Pressure" };
        show(ui, name, Measure::Pressure, outcome.and_then(|one| one.pressure).map(|one| one.si()));
        if !item.is_on_port() {
            show(ui, "Flow in", Measure::TotalFlow, outcome.and_then(|one| one.flow).map(|one| one.si()));
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
    if matches!(item, PartItem::Manifold(_)) {
        let feeds: Vec<FeedId> = on_manifold(session, id).iter().map(|feed| feed.id).collect();
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

fn on_manifold(session: &Session, id: PartId) -> Vec<RowFeed> {
    let on = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == id);
    session.routing().feeds.iter().filter(on).cloned().collect()
}

fn row_numbers(project: &Project, ids: &[RowId]) -> Vec<u32> {
    ids.iter().filter_map(|id| project.bar.row(*id)).map(|row| row.number).collect()
}

/// The outlets of a manifold with the rows they feed.
fn outlets(ui: &mut Ui, session: &Session, id: PartId) {
    let project = session.project();
    let units = project.units;
    let theme = Theme::of(ui.visuals());
    let mut found: Vec<_> = session
        .outcome()
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
        (Some(RowState::NotFed(_) | RowState::ValveStaysShut), _) => "not fed".to_owned(),
    }
}

/// Slack, hinges and measured length of a line; a changed line goes to `apply`.
fn length_of(
    ui: &mut Ui,
    session: &mut Session,
    line: &Line,
    computed: Length,
    tag: &str,
    apply: impl Fn(&mut Session, Line) -> Result<(), Refusal>,
) {
    let units = session.project().units;
    let slack = Common::Same(line.slack.si());
    entry::number(ui, session, "Slack", Measure::Percent, slack, 0.0..=2.0, |session, value| {
        apply(session, Line { slack: Ratio::from_si(value), ..line.clone() })
    });
    for (index, allowance) in line.hinge_allowances.iter().enumerate() {
        let section = session.project().bar.section(allowance.section);
        let name = format!("Hinge, {}", section.map_or("", |section| section.name.as_str()));
        let extra = Common::Same(allowance.extra.si());
        entry::number(ui, session, &name, Measure::Distance, extra, 0.0..=20.0, |session, value| {
            let mut changed = line.clone();
            changed.hinge_allowances[index].extra = Length::from_si(value);
            apply(session, changed)
        });
    }
    fact(ui, "Computed length", Measure::Distance.text(computed.si(), units));
    let measured = Common::Same(line.measured.is_some());
    let words = format!("overrides it for {tag}");
    entry::tick(ui, session, "Measured", &words, measured, |session, measured| {
        apply(session, Line { measured: measured.then_some(computed), ..line.clone() })
    });
    if let Some(length) = line.measured {
        let value = Common::Same(length.si());
        entry::number(
            ui,
            session,
            "Measured length",
            Measure::Distance,
            value,
            0.01..=200.0,
            |session, value| apply(session, Line { measured: Some(Length::from_si(value)), ..line.clone() }),
        );
    }
}

fn tag_entry(ui: &mut Ui, session: &mut Session, subject: Subject) {
    let tag = session.tag_of(subject);
    entry::text(ui, session, "Tag", &tag, |session, text| session.rename(subject, text));
}

/// Coordinates of parts that stand on the bar.
fn place_entries(ui: &mut Ui, session: &mut Session, parts: &[PartId]) {
    let far = crate::plan::validate::FARTHEST;
    for axis in Axis::ALL {
        let routing = session.routing();
        let places = parts.iter().filter_map(|id| routing.part(*id)).filter(|part| part.mount.is_none());
        let value = Common::of(places.map(|part| axis.of(part.position)));
        if value == Common::None {
            return;
        }
        entry::number(ui, session, axis.label(), Measure::Distance, value, -far..=far, |session, value| {
            session.set_place(parts, axis, value)
        });
    }
}

fn run(ui: &mut Ui, session: &mut Session, id: RunId) {
    let project = session.snapshot();
    let units = project.units;
    let Some(run) = session.routing().run(id).cloned() else { return };
    title(ui, &run.tag, "hose");
    let tag = run.tag.clone();
    grid(ui, "run", |ui| {
        tag_entry(ui, session, Subject::Run(id));
        fact(ui, "From", listing::end_words(session, &run.from));
        fact(ui, "To", listing::end_words(session, &run.to));
        let stock = Common::Same(run.line.stock.clone());
        let hoses = |one: &StockItem| matches!(one, StockItem::Hose(_) | StockItem::Tube(_));
        entry::stock(ui, session, "Bore", stock, hoses, |session, stock| session.set_stock(&[id], stock));
        fittings(ui, session, id, &run.fittings);
        if let Some(computed) = session.geometry().run(id).map(|laid| laid.computed) {
            length_of(ui, session, &run.line, computed, &tag, |session, line| {
                session.change_runs(&format!("Change the length of {tag}"), &[id], |run| {
                    run.line.clone_from(&line);
                })
            });
        }
    });
    ui.separator();
    let outcome = session.outcome().run(id).copied();
    let length = session.geometry().run(id).map(|laid| laid.length.si());
    grid(ui, "run numbers", |ui| {
        let show = |ui: &mut Ui, name: &str, measure: Measure, value: Option<f64>| {
            fact(ui, name, value.map_or_else(|| "–".to_owned(), |value| measure.text(value, units)));
        };
        show(ui, "Length", Measure::Distance, length);
        let flow = outcome.and_then(|one| one.flow);
        show(ui, "Flow", Measure::TotalFlow, flow.map(|one| one.si().abs()));
        let velocity = outcome.and_then(|one| one.velocity);
        show(ui, "Velocity", Measure::Velocity, velocity.map(|one| one.si()));
        let reynolds = outcome.and_then(|one| one.reynolds);
        fact(ui, "Reynolds number", reynolds.map_or_else(|| "–".to_owned(), |one| format!("{one:.0}")));
        let start = outcome.and_then(|one| one.pressure_from);
        show(ui, "Pressure at start", Measure::Pressure, start.map(|one| one.si()));
        let end = outcome.and_then(|one| one.pressure_to);
        show(ui, "Pressure at end", Measure::Pressure, end.map(|one| one.si()));
        let loss = outcome.and_then(|one| one.loss);
        show(ui, "Pressure lost", Measure::Loss, loss.map(|one| one.si().abs()));
    });
    remove_button(ui, session, &tag);
}

/// Each fitting of a hose to change or take away, and a button to add one.
fn fittings(ui: &mut Ui, session: &mut Session, id: RunId, fittings: &[FittingKey]) {
    let fits = |one: &FittingItem| matches!(one, FittingItem::Fitting(_));
    for (at, fitting) in fittings.iter().enumerate() {
        let name = Run::fitting_place(at, fittings.len());
        let remove = entry::stock_with(
            ui,
            session,
            &name,
            Common::Same(fitting.clone()),
            fits,
            |session, entry| session.set_fitting(id, at, Some(entry)),
            |ui| {
                let button = ui.small_button("×").on_hover_text("Take this fitting away");
                let label = format!("Remove {}", name.to_lowercase());
                button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &label));
                button.clicked()
            },
        );
        if remove {
            say(ui, session.set_fitting(id, at, None));
        }
    }
    let none = if fittings.is_empty() { "Fittings" } else { "" };
    ui.label(RichText::new(none).color(Theme::of(ui.visuals()).soft));
    ui.horizontal(|ui| {
        if fittings.is_empty() {
            ui.label("none");
        }
        if ui.small_button("Add a fitting").clicked() {
            say(ui, session.add_fitting(id));
        }
    });
    ui.end_row();
}

fn row(ui: &mut Ui, session: &mut Session, id: RowId) {
    let Some(connection) = session.outcome().connection(id).copied() else { return };
    let found = session.outcome().row(id).copied();
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
            fact(ui, "From", format!("{}, outlet {number}", session.tag_of(Subject::Part(part))));
        }
        let Some(row) = session.project().bar.row(id).cloned() else { return };
        ui.label(RichText::new("In use").color(Theme::of(ui.visuals()).soft));
        let mut left_out = row.left_out;
        if ui.checkbox(&mut left_out, "leave out").changed() {
            let name = format!("{} row {}", if left_out { "Leave out" } else { "Use" }, row.number);
            change(ui, session, &name, [Edit::PutRow(crate::plan::Row { left_out, ..row })]);
        }
        ui.end_row();
    });
    if let Some(feed_id) = connection.feed {
        ui.separator();
        feed(ui, session, feed_id);
    }
}

fn feed(ui: &mut Ui, session: &mut Session, id: FeedId) {
    let Some(feed) = session.routing().feed(id).cloned() else { return };
    let project = session.snapshot();
    let units = project.units;
    let routing = session.routing().id;
    let numbers = row_numbers(&project, &feed.branches.iter().map(|branch| branch.row).collect::<Vec<_>>());
    title(ui, &feed.tag, &format!("feed of row {}", rows::numbers_text(&numbers)));
    ui.label(
        RichText::new(format!("from {}", listing::end_words(session, &feed.from)))
            .color(Theme::of(ui.visuals()).soft),
    );
    let outcome: Vec<_> = session.outcome().elements().iter().filter(|one| one.feed == id).copied().collect();
    let laid = session.geometry().feed(id);
    let laid: Vec<Option<Length>> =
        laid.into_iter().flat_map(FeedGeometry::elements).map(|laid| laid.length).collect();
    let mut new = feed.clone();
    let count = feed.elements().count();
    let mut swap = None;
    for (number, element) in feed.elements().enumerate() {
        ui.push_id(number, |ui| {
            ui.add_space(4.0);
            ui.horizontal(|ui| {
                ui.label(RichText::new(format!("{}. {}", number + 1, element.kind())).strong());
                let within = feed.trunk.is_empty() && feed.branches.len() == 1;
                if within && number + 1 < count {
                    let later = ui.small_button("Move later").on_hover_text("Change places with the next");
                    let label = format!("Move {} {} later", number + 1, element.kind());
                    later.widget_info(|| {
                        egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &label)
                    });
                    if later.clicked() {
                        swap = Some(number);
                    }
                }
            });
            wide_grid(ui, "element", |ui| {
                if let Some(item) = project.catalogue.any_item(element.entry())
                    && let Some(entry) = pick(
                        ui,
                        "Size",
                        element.entry(),
                        &project.catalogue.offered(units, |one: &Item| one.item_kind() == item.item_kind()),
                    )
                    && let Some(target) = new.elements_mut().nth(number)
                {
                    set_entry(target, &entry, &project.catalogue);
                }
                if let FeedElement::MeteringTube { length, .. } = element {
                    cut_length(ui, session, &[id], Common::Same(*length));
                }
                let found = outcome.get(number);
                let laid = laid.get(number).copied().flatten();
                if let Some(length) = laid.filter(|_| matches!(element, FeedElement::Tube(_))) {
                    fact(ui, "Length", Measure::Distance.text(length.si(), units));
                }
                let drop = found.and_then(|found| found.drop);
                let drop = drop.map(|one| Measure::Loss.text(one.si(), units));
                fact(ui, "Pressure drop", drop.unwrap_or_else(|| "–".to_owned()));
                if !element.is(ElementKind::CheckValve) {
                    let reynolds = found.and_then(|found| found.reynolds).map(|one| format!("{one:.0}"));
                    fact(ui, "Reynolds number", reynolds.unwrap_or_else(|| "–".to_owned()));
                }
            });
        });
    }
    if let (Some(at), [branch]) = (swap, &mut new.branches[..]) {
        branch.elements.swap(at, at + 1);
    }
    let tubes = feed.elements().enumerate().find_map(|(number, element)| match element {
        FeedElement::Tube(tube) => Some((number, tube.clone())),
        _ => None,
    });
    let computed = |number| {
        session.geometry().feed(feed.id)?.elements().nth(number)?.tube.as_ref().map(|tube| tube.computed)
    };
    if let Some((number, tube)) = tubes
        && let Some(computed) = computed(number)
    {
        ui.separator();
        ui.label(RichText::new("Length of its first tube").strong().color(Theme::of(ui.visuals()).soft));
        grid(ui, "tube", |ui| {
            length_of(ui, session, &tube.line, computed, &feed.tag, |session, line| {
                let mut changed = feed.clone();
                if let Some(FeedElement::Tube(target)) = changed.elements_mut().nth(number) {
                    target.line = line;
                }
                session.edit(&format!("Change {}", feed.tag), [Edit::PutFeed(routing, changed)])
            });
        });
    }
    if new != feed {
        change(ui, session, &format!("Change {}", feed.tag), [Edit::PutFeed(routing, new)]);
    }
    remove_button(ui, session, &feed.tag);
}

fn cut_length(ui: &mut Ui, session: &mut Session, feeds: &[FeedId], length: Common<Length>) {
    let value = match length {
        Common::Same(length) => Common::Same(length.si()),
        Common::Mixed => Common::Mixed,
        Common::None => return,
    };
    entry::number(ui, session, "Cut length", Measure::Distance, value, 0.005..=50.0, |session, value| {
        session.set_cut_length(feeds, Length::from_si(value))
    });
}

/// One list for each kind of element, setting it for all these feeds at once.
fn stocks(ui: &mut Ui, session: &mut Session, feeds: &[FeedId]) {
    let project = session.snapshot();
    let routing = session.routing_in(&project);
    let elements = || feeds.iter().filter_map(|id| routing.feed(*id)).flat_map(RowFeed::elements);
    let tubes = Common::of(elements().filter_map(|one| match one {
        FeedElement::Tube(tube) => Some(tube.line.stock.clone()),
        FeedElement::Piece(..) | FeedElement::MeteringTube { .. } | FeedElement::Fitting(_) => None,
    }));
    let is_tube = |one: &StockItem| matches!(one, StockItem::Tube(_));
    entry::stock(ui, session, "Tube", tubes, is_tube, |session, stock| session.set_tubes(feeds, stock));
    // What meters has a list of its own, with metering tubes in it.
    for kind in ElementKind::ALL.iter().copied().filter(|kind| !kind.is_metering()) {
        let used = Common::of(elements().filter_map(|one| match one {
            FeedElement::Piece(own, key) if *own == kind => Some(key.clone()),
            _ => None,
        }));
        let fits = |one: &ElementItem| one.item_kind() == kind;
        entry::stock(ui, session, &super::panels::capital(kind.words()), used, fits, |session, entry| {
            session.set_pieces(feeds, kind, entry)
        });
    }
    let metering = Common::of(elements().filter(|one| one.is_metering()).map(|one| one.entry().clone()));
    let fits = Item::is_metering;
    entry::stock(ui, session, "Metering", metering, fits, |session, entry| {
        session.set_metering(feeds, entry)
    });
    let lengths = Common::of(elements().filter_map(|one| match one {
        FeedElement::MeteringTube { length, .. } => Some(*length),
        _ => None,
    }));
    cut_length(ui, session, feeds, lengths);
}

/// What several things share, to change for all of them at once.
fn several(ui: &mut Ui, session: &mut Session, count: usize) {
    title(ui, &format!("{count} selected"), "");
    let chosen = session.chosen();
    let project = session.snapshot();
    let (routing, catalogue) = (session.routing_in(&project), &project.catalogue);
    let many = |count: usize, word: &str| format!("{count} {word}{}", if count == 1 { "" } else { "s" });
    let heading = |ui: &mut Ui, text: String| {
        ui.add_space(4.0);
        ui.label(RichText::new(text).strong().color(Theme::of(ui.visuals()).soft));
    };
    if !chosen.parts.is_empty() {
        heading(ui, many(chosen.parts.len(), "part"));
        grid(ui, "several parts", |ui| {
            let parts = || chosen.parts.iter().filter_map(|id| routing.part(*id));
            let items = || parts().filter_map(|part| catalogue.item(&part.entry));
            if let Common::Same(kind) = Common::of(items().map(PartItem::kind)) {
                let entries = Common::of(parts().map(|part| part.entry.clone()));
                entry::stock(
                    ui,
                    session,
                    "Size",
                    entries,
                    |one: &PartItem| one.kind() == kind,
                    |session, entry| session.set_part_entry(&chosen.parts, entry),
                );
                if items().any(|item| matches!(item, PartItem::SectionValve(_))) {
                    let shut = Common::of(parts().map(|part| part.shut));
                    entry::tick(ui, session, "Valves", "shut", shut, |session, shut| {
                        session.set_shut(&chosen.parts, shut)
                    });
                }
            } else {
                fact(ui, "Kind", "mixed");
            }
            place_entries(ui, session, &chosen.parts);
        });
    }
    if !chosen.runs.is_empty() {
        heading(ui, many(chosen.runs.len(), "hose"));
        grid(ui, "several hoses", |ui| several_hoses(ui, session, &chosen.runs));
    }
    if !chosen.rows.is_empty() {
        heading(ui, many(chosen.rows.len(), "row"));
        let rows = || project.bar.rows.iter().filter(|row| chosen.rows.contains(&row.id));
        grid(ui, "several rows", |ui| {
            let heights = Common::of(rows().map(|row| row.outlet_height.si()));
            entry::number(
                ui,
                session,
                "Outlet height",
                Measure::Distance,
                heights,
                -5.0..=20.0,
                |session, value| {
                    let height = Length::from_si(value);
                    session.change_rows(&chosen.rows, |row| row.outlet_height = height)
                },
            );
            let shares = Common::of(rows().map(|row| row.share));
            entry::number(ui, session, "Share", Measure::Plain, shares, 0.001..=10.0, |session, value| {
                session.change_rows(&chosen.rows, |row| row.share = value)
            });
            let left_out = Common::of(rows().map(|row| row.left_out));
            entry::tick(ui, session, "In use", "leave out", left_out, |session, left_out| {
                session.change_rows(&chosen.rows, |row| row.left_out = left_out)
            });
        });
    }
    if !chosen.feeds.is_empty() {
        heading(ui, many(chosen.feeds.len(), "row feed"));
        wide_grid(ui, "several feeds", |ui| stocks(ui, session, &chosen.feeds));
    }
    remove_button(ui, session, "what is selected");
}

fn several_hoses(ui: &mut Ui, session: &mut Session, ids: &[RunId]) {
    let project = session.snapshot();
    let routing = session.routing_in(&project);
    let lines = || ids.iter().filter_map(|id| routing.run(*id)).map(|run| &run.line);
    let stocks = Common::of(lines().map(|line| line.stock.clone()));
    let hoses = |one: &StockItem| matches!(one, StockItem::Hose(_) | StockItem::Tube(_));
    entry::stock(ui, session, "Bore", stocks, hoses, |session, stock| session.set_stock(ids, stock));
    let fittings =
        Common::of(ids.iter().filter_map(|id| routing.run(*id)).map(|run| match &run.fittings[..] {
            [first, rest @ ..] if rest.iter().all(|one| one == first) => Some(first.clone()),
            _ => None,
        }));
    let shared = match fittings {
        Common::Same(Some(one)) => Common::Same(one),
        _ => Common::Mixed,
    };
    if ids.iter().filter_map(|id| routing.run(*id)).all(|run| run.fittings.is_empty()) {
        ui.label(RichText::new("Fittings").color(Theme::of(ui.visuals()).soft));
        ui.horizontal(|ui| {
            ui.label("none");
            if ui.small_button("Add the usual ones").clicked() {
                say(ui, session.set_usual_fittings(ids));
            }
        });
        ui.end_row();
    } else {
        let fits = |one: &FittingItem| matches!(one, FittingItem::Fitting(_));
        entry::stock(ui, session, "Fittings", shared, fits, |session, entry| {
            session.set_fittings(ids, Some(entry))
        });
    }
    let slack = Common::of(lines().map(|line| line.slack.si()));
    entry::number(ui, session, "Slack", Measure::Percent, slack, 0.0..=2.0, |session, value| {
        session.set_slack(ids, Ratio::from_si(value))
    });
    let measured = match Common::of(lines().map(|line| line.measured.map(Length::si))) {
        Common::Same(Some(length)) => Common::Same(length),
        Common::Same(None) | Common::None => Common::None,
        Common::Mixed => Common::Mixed,
    };
    let has = measured != Common::None;
    entry::number(
        ui,
        session,
        "Measured length",
        Measure::Distance,
        measured,
        0.01..=200.0,
        |session, value| session.set_measured(ids, Some(Length::from_si(value))),
    );
    if has {
        ui.label("");
        if ui.button("Use computed lengths").clicked() {
            say(ui, session.set_measured(ids, None));
        }
        ui.end_row();
    }
    let total: Length = ids.iter().filter_map(|id| session.geometry().run(*id)).map(|laid| laid.length).sum();
    fact(ui, "Length together", Measure::Distance.text(total.si(), session.project().units));
}

fn remove_button(ui: &mut Ui, session: &mut Session, what: &str) {
    ui.add_space(10.0);
    if ui.button(format!("Delete {what}")).clicked() {
        say(ui, session.delete_selection());
    }
}
