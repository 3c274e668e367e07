//! The panel on the right: everything about what is selected, to read and to change.

use eframe::egui;
use eframe::egui::{Grid, RichText, Ui};

use super::number_field::NumberField;
use super::panels::{self, choice};
use super::theme::Theme;
use crate::geometry::Point3;
use crate::hydraulics::RowState;
use crate::plan::{
    Control, Edit, End, EntryKey, FeedElement, FeedId, Item, Line, Part, PartId, Project, RowFeed, RowId,
    Run, RunId, Source, Subject, Supply,
};
use crate::quantities::{Length, Measure, Pressure, Ratio, Speed, UnitSystem};
use crate::session::{Session, rows};

/// Shows the details of the selection; of the project when nothing is selected.
pub fn show(ui: &mut Ui, session: &mut Session) {
    let selection: Vec<Subject> = session.selection.iter().copied().collect();
    match selection[..] {
        [] => {
            project(ui, session);
            ui.separator();
            panels::metering(ui, session);
        }
        [Subject::Part(id)] => part(ui, session, id),
        [Subject::Run(id)] => run(ui, session, id),
        [Subject::Feed(id)] => feed(ui, session, id),
        [Subject::Row(id)] => row(ui, session, id),
        _ => several(ui, session, &selection),
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
    ui.label(RichText::new(name).color(Theme::of(ui.visuals()).soft));
    ui.add(egui::Label::new(text.into()).wrap());
    ui.end_row();
}

/// A labelled number; the new value when one was entered.
fn number(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
) -> Option<f64> {
    let label = ui.label(RichText::new(name).color(Theme::of(ui.visuals()).soft)).id;
    let result = NumberField { name, measure, units, value, range, width: 84.0 }.show(ui, Some(label));
    ui.end_row();
    result
}

fn pick(ui: &mut Ui, name: &str, value: &EntryKey, entries: &[(EntryKey, String)]) -> Option<EntryKey> {
    ui.label(RichText::new(name).color(Theme::of(ui.visuals()).soft));
    let mut chosen = value.clone();
    choice(ui, name, &mut chosen, entries);
    ui.end_row();
    (chosen != *value).then_some(chosen)
}

fn entries(project: &Project, fits: impl Fn(&Item) -> bool) -> Vec<(EntryKey, String)> {
    let fitting = project.catalogue.entries.iter().filter(|entry| fits(&entry.item));
    fitting.map(|entry| (entry.key.clone(), entry.item.size(project.units))).collect()
}

fn same_kind(a: &Item, b: &Item) -> bool {
    std::mem::discriminant(a) == std::mem::discriminant(b)
}

fn grid<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    Grid::new(name).num_columns(2).max_col_width(165.0).spacing([12.0, 5.0]).show(ui, contents).inner
}

/// A refused edit says why in the message; the panel just goes on.
fn change(session: &mut Session, name: &str, edits: impl IntoIterator<Item = Edit>) {
    let _ = session.edit(name, edits);
}

fn text_field(ui: &mut Ui, name: &str, value: &str) -> Option<String> {
    let id = ui.make_persistent_id(("text", name));
    let mut typed = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(|| value.to_owned());
    let label = ui.label(RichText::new(name).color(Theme::of(ui.visuals()).soft)).id;
    let response = ui
        .add(egui::TextEdit::singleline(&mut typed).id(id.with("edit")).desired_width(150.0))
        .labelled_by(label);
    ui.end_row();
    if response.lost_focus() {
        ui.data_mut(|data| data.remove::<String>(id));
        let typed = typed.trim().to_owned();
        return (!ui.input(|input| input.key_pressed(egui::Key::Escape)) && typed != value).then_some(typed);
    }
    if response.has_focus() {
        ui.data_mut(|data| data.insert_temp(id, typed));
    }
    None
}

fn project(ui: &mut Ui, session: &mut Session) {
    let project = session.project().clone();
    let units = project.units;
    let name = if project.title.title.is_empty() { "Untitled bar" } else { &project.title.title };
    title(ui, name, "");
    grid(ui, "project", |ui| {
        if let Some(text) = text_field(ui, "Title", &project.title.title) {
            change(
                session,
                "Change the title",
                [Edit::SetTitle(crate::plan::TitleBlock { title: text, ..project.title.clone() })],
            );
        }
        let in_use = project.bar.rows.iter().filter(|row| !row.left_out).count();
        let spacing = Measure::Bore.short_text(project.bar.row_spacing.si(), units);
        fact(ui, "Bar", format!("{in_use} rows, {spacing} apart"));
        fact(ui, "Sections", project.bar.sections.len().to_string());
        fact(ui, "Liquid", &*project.liquid.name);
        if let Some(state) = session.outcome().liquid {
            let assumed = |source| if source == Source::Assumed { " (assumed)" } else { "" };
            fact(
                ui,
                "Density",
                Measure::Density.text(state.density.si(), units) + assumed(project.liquid.density_source),
            );
            let text = Measure::Viscosity.text(state.viscosity.si(), units);
            fact(ui, "Viscosity", text + assumed(project.liquid.viscosity_source));
        }
        let application = project.application;
        for (name, speed) in [
            ("Slowest speed", application.slowest),
            ("Usual speed", application.usual),
            ("Fastest speed", application.fastest),
        ] {
            if let Some(value) = number(ui, units, name, Measure::GroundSpeed, speed.si(), 0.1..=15.0) {
                let mut asked = application;
                match name {
                    "Slowest speed" => asked.slowest = Speed::from_si(value),
                    "Usual speed" => asked.usual = Speed::from_si(value),
                    _ => asked.fastest = Speed::from_si(value),
                }
                change(
                    session,
                    &format!("Change the {}", name.to_lowercase()),
                    [Edit::SetApplication(asked)],
                );
            }
        }
        supply(ui, session, &project.supply, units);
    });
    ui.separator();
    ui.label(RichText::new("All rows").strong().color(Theme::of(ui.visuals()).soft));
    let all: Vec<FeedId> = session.routing().feeds.iter().map(|feed| feed.id).collect();
    grid(ui, "all rows", |ui| stocks(ui, session, &all));
}

fn supply(ui: &mut Ui, session: &mut Session, supply: &Supply, units: UnitSystem) {
    ui.label(RichText::new("Supply").color(Theme::of(ui.visuals()).soft));
    let (metered, pressure) = match supply.control {
        Control::Metered { limit } => (true, limit),
        Control::Held { pressure } => (false, pressure),
    };
    ui.horizontal(|ui| {
        if ui
            .selectable_label(metered, "Metered")
            .on_hover_text("A rate controller holds the total flow up to the pressure limit")
            .clicked()
            && !metered
        {
            let control = Control::Metered { limit: pressure };
            change(session, "Meter the supply", [Edit::SetSupply(Supply { control, ..*supply })]);
        }
        if ui
            .selectable_label(!metered, "Held pressure")
            .on_hover_text("The pressure at the pump's outlet is held")
            .clicked()
            && metered
        {
            let control = Control::Held { pressure };
            change(session, "Hold the pressure", [Edit::SetSupply(Supply { control, ..*supply })]);
        }
    });
    ui.end_row();
    if let Some(value) = number(ui, units, "Pump rated", Measure::Pressure, supply.pump_rated.si(), 1e3..=1e7)
    {
        change(
            session,
            "Change the pump",
            [Edit::SetSupply(Supply { pump_rated: Pressure::from_si(value), ..*supply })],
        );
    }
    if let Some(value) =
        number(ui, units, "Tank surface", Measure::Distance, supply.tank_surface.si(), 0.0..=20.0)
    {
        change(
            session,
            "Change the tank",
            [Edit::SetSupply(Supply { tank_surface: Length::from_si(value), ..*supply })],
        );
    }
}

fn part(ui: &mut Ui, session: &mut Session, id: PartId) {
    let project = session.project().clone();
    let units = project.units;
    let Some(part) = session.routing().part(id).cloned() else { return };
    let Some(item) = project.catalogue.item(&part.entry).copied() else { return };
    let routing = session.routing().id;
    let section = project.bar.section(part.section).map_or("", |section| section.name.as_str()).to_owned();
    title(ui, &part.tag, &format!("{}, {section}", item.kind()));
    let place = session.routing().placement(&part, &project.catalogue).0;
    let tag = part.tag.clone();
    grid(ui, "part", |ui| {
        if let Some(text) = text_field(ui, "Tag", &part.tag) {
            change(
                session,
                &format!("Rename {tag}"),
                [Edit::PutPart(routing, Part { tag: text, ..part.clone() })],
            );
        }
        if let Some(entry) = pick(ui, "Size", &part.entry, &entries(&project, |one| same_kind(one, &item))) {
            change(
                session,
                &format!("Change {tag}"),
                [Edit::PutPart(routing, Part { entry, ..part.clone() })],
            );
        }
        let far = crate::plan::validate::FARTHEST;
        if part.mount.is_some() {
            fact(ui, "Mounted", "on another part; drag to take it off");
        } else {
            for (name, value) in [("Right of centre", place.x), ("Forward", place.y), ("Height", place.z)] {
                let Some(value) = number(ui, units, name, Measure::Distance, value, -far..=far) else {
                    continue;
                };
                let to = match name {
                    "Right of centre" => Point3::new(value, place.y, place.z),
                    "Forward" => Point3::new(place.x, value, place.z),
                    _ => Point3::new(place.x, place.y, value),
                };
                change(session, &format!("Move {tag}"), [Edit::MovePart(routing, id, to)]);
            }
        }
        if matches!(item, Item::SectionValve { .. }) {
            ui.label(RichText::new("Valve").color(Theme::of(ui.visuals()).soft));
            let mut shut = part.shut;
            if ui.checkbox(&mut shut, "shut").changed() {
                let name = if shut { format!("Shut {tag}") } else { format!("Open {tag}") };
                change(session, &name, [Edit::PutPart(routing, Part { shut, ..part.clone() })]);
            }
            ui.end_row();
        }
        if matches!(item, Item::Manifold { .. }) {
            let numbers = row_numbers(&project, &rows::rows_of(&project, session.routing(), id));
            if let Some(text) = text_field(ui, "Rows", &rows::numbers_text(&numbers)) {
                match rows::parse_rows(&project, &text) {
                    // A refusal is in the message.
                    Ok(list) => drop(session.give_rows(id, &list)),
                    Err(error) => session.message = Some(error.to_string()),
                }
            }
        }
    });
    ui.separator();
    let outcome = session.outcome().part(id).copied();
    grid(ui, "part numbers", |ui| {
        let show = |ui: &mut Ui, name: &str, measure: Measure, value: Option<f64>| {
            fact(ui, name, value.map_or_else(|| "–".to_owned(), |value| measure.text(value, units)));
        };
        let Some(outcome) = outcome else { return };
        let name = if matches!(item, Item::Gauge { .. }) { "Reads" } else { "Pressure" };
        show(ui, name, Measure::Pressure, outcome.pressure.map(|one| one.si()));
        if !matches!(item, Item::Gauge { .. } | Item::BlankingPlug { .. }) {
            show(ui, "Flow in", Measure::TotalFlow, outcome.flow.map(|one| one.si()));
        }
        if let Some(to_rows) = outcome.flow_to_rows {
            show(ui, "Flow to its rows", Measure::TotalFlow, Some(to_rows.si()));
            let on = outcome.flow.map(|flow| (flow - to_rows).max(crate::quantities::Flow::ZERO).si());
            show(ui, "Flow passed on", Measure::TotalFlow, on);
        }
        if let Some(drop) = outcome.drop {
            show(ui, "Pressure drop", Measure::Pressure, Some(drop.si()));
        }
    });
    if matches!(item, Item::Manifold { .. }) {
        let feeds: Vec<FeedId> = on_manifold(session, id).iter().map(|feed| feed.id).collect();
        if !feeds.is_empty() {
            ui.separator();
            ui.label(RichText::new("Its rows").strong().color(Theme::of(ui.visuals()).soft));
            grid(ui, "its rows", |ui| stocks(ui, session, &feeds));
        }
        outlets(ui, session, id);
    }
    remove_button(ui, session, &tag);
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
    let mut found: Vec<_> =
        session.outcome().rows.iter().filter(|row| row.outlet.is_some_and(|(part, _)| part == id)).collect();
    found.sort_by_key(|row| row.outlet);
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
        for row in found {
            ui.label(row.outlet.map_or_else(String::new, |(_, number)| number.to_string()));
            ui.label(row.number.to_string());
            let feed = row.feed.and_then(|feed| session.routing().feed(feed));
            let tube = feed.map(|feed| {
                session.routing().tube_lengths(feed, &project.bar, &project.catalogue, &project.supply)
            });
            let length: Option<Length> = tube.map(|lengths| lengths.into_iter().sum());
            ui.label(length.map_or_else(|| "–".to_owned(), |one| Measure::Distance.text(one.si(), units)));
            ui.label(row.flow.map_or_else(|| "–".to_owned(), |one| Measure::RowFlow.number(one.si(), units)));
            ui.label(state_text(row.state, row.deviation));
            ui.end_row();
        }
    });
}

fn state_text(state: RowState, deviation: Option<Ratio>) -> String {
    match (state, deviation) {
        (RowState::Fed, Some(deviation)) => {
            format!("{} %", crate::drawing::deviation::signed_percent(deviation))
        }
        (RowState::Fed, None) => "fed".to_owned(),
        (RowState::LeftOut, _) => "left out".to_owned(),
        (RowState::Unknown, _) => "–".to_owned(),
        _ => "not fed".to_owned(),
    }
}

fn length_of(ui: &mut Ui, session: &mut Session, line: &Line, computed: Length, tag: &str) -> Option<Line> {
    let units = session.project().units;
    let mut new = None;
    let bar = session.project().bar.clone();
    if let Some(value) = number(ui, units, "Slack", Measure::Percent, line.slack.si(), 0.0..=2.0) {
        new = Some(Line { slack: Ratio::from_si(value), ..line.clone() });
    }
    for (index, allowance) in line.hinge_allowances.iter().enumerate() {
        let section = bar.section(allowance.section).map_or("", |section| section.name.as_str());
        let name = format!("Hinge {section}");
        if let Some(value) = number(ui, units, &name, Measure::Distance, allowance.extra.si(), 0.0..=20.0) {
            let mut changed = line.clone();
            changed.hinge_allowances[index].extra = Length::from_si(value);
            new = Some(changed);
        }
    }
    fact(ui, "Computed length", Measure::Distance.text(computed.si(), units));
    let mut measured = line.measured.is_some();
    ui.label(RichText::new("Measured").color(Theme::of(ui.visuals()).soft));
    if ui
        .checkbox(&mut measured, "overrides")
        .on_hover_text(format!("Use a length measured on the bar for {tag}"))
        .changed()
    {
        new = Some(Line { measured: measured.then_some(computed), ..line.clone() });
    }
    ui.end_row();
    if let Some(length) = line.measured
        && let Some(value) =
            number(ui, units, "Measured length", Measure::Distance, length.si(), 0.01..=200.0)
    {
        new = Some(Line { measured: Some(Length::from_si(value)), ..line.clone() });
    }
    new
}

fn run(ui: &mut Ui, session: &mut Session, id: RunId) {
    let project = session.project().clone();
    let units = project.units;
    let Some(run) = session.routing().run(id).cloned() else { return };
    let routing = session.routing().id;
    title(ui, &run.tag, "hose");
    let tag = run.tag.clone();
    grid(ui, "run", |ui| {
        if let Some(text) = text_field(ui, "Tag", &run.tag) {
            change(
                session,
                &format!("Rename {tag}"),
                [Edit::PutRun(routing, Run { tag: text, ..run.clone() })],
            );
        }
        fact(ui, "From", end_text(session, &run.from));
        fact(ui, "To", end_text(session, &run.to));
        if let Some(stock) = pick(
            ui,
            "Bore",
            &run.line.stock,
            &entries(&project, |one| matches!(one, Item::Hose(_) | Item::Tube(_))),
        ) {
            let line = Line { stock, ..run.line.clone() };
            change(
                session,
                &format!("Change the bore of {tag}"),
                [Edit::PutRun(routing, Run { line, ..run.clone() })],
            );
        }
        let ends = (
            session.routing().end_position(&run.from, &project.catalogue, &project.supply),
            session.routing().end_position(&run.to, &project.catalogue, &project.supply),
        );
        if let (Some(from), Some(to)) = ends {
            let computed = run.line.computed_length(from, to);
            if let Some(line) = length_of(ui, session, &run.line, computed, &tag) {
                change(
                    session,
                    &format!("Change the length of {tag}"),
                    [Edit::PutRun(routing, Run { line, ..run.clone() })],
                );
            }
        }
    });
    ui.separator();
    let Some(outcome) = session.outcome().run(id).copied() else { return };
    grid(ui, "run numbers", |ui| {
        let show = |ui: &mut Ui, name: &str, measure: Measure, value: Option<f64>| {
            fact(ui, name, value.map_or_else(|| "–".to_owned(), |value| measure.text(value, units)));
        };
        show(ui, "Length", Measure::Distance, outcome.length.map(|one| one.si()));
        show(ui, "Flow", Measure::TotalFlow, outcome.flow.map(|one| one.si().abs()));
        show(ui, "Velocity", Measure::Velocity, outcome.velocity.map(|one| one.si()));
        fact(
            ui,
            "Reynolds number",
            outcome.reynolds.map_or_else(|| "–".to_owned(), |one| format!("{one:.0}")),
        );
        show(ui, "Pressure at start", Measure::Pressure, outcome.pressure_from.map(|one| one.si()));
        show(ui, "Pressure at end", Measure::Pressure, outcome.pressure_to.map(|one| one.si()));
        show(ui, "Pressure lost", Measure::Pressure, outcome.loss.map(|one| one.si().abs()));
    });
    remove_button(ui, session, &tag);
}

fn end_text(session: &Session, end: &End) -> String {
    match end {
        End::Supply => "supply".to_owned(),
        End::Loose(_) => "loose end".to_owned(),
        End::Port(port) => format!("{}, {}", session.tag_of(Subject::Part(port.part)), port.port),
    }
}

fn row(ui: &mut Ui, session: &mut Session, id: RowId) {
    let Some(found) = session.outcome().row(id).cloned() else { return };
    let units = session.project().units;
    let section =
        session.project().bar.section(found.section).map_or("", |section| section.name.as_str()).to_owned();
    title(ui, &format!("Row {}", found.number), &section);
    grid(ui, "row", |ui| {
        fact(ui, "Target", Measure::RowFlow.text(found.target.si(), units));
        fact(
            ui,
            "Flow",
            found.flow.map_or_else(|| "–".to_owned(), |flow| Measure::RowFlow.text(flow.si(), units)),
        );
        fact(ui, "Deviation", state_text(found.state, found.deviation));
        let why = crate::drawing::deviation::why_not_fed(found.state);
        if let Some(why) = why {
            fact(ui, "Why", why);
        }
        if let Some((part, number)) = found.outlet {
            fact(ui, "From", format!("{}, outlet {number}", session.tag_of(Subject::Part(part))));
        }
        let Some(row) = session.project().bar.row(id).cloned() else { return };
        ui.label(RichText::new("In use").color(Theme::of(ui.visuals()).soft));
        let mut left_out = row.left_out;
        if ui.checkbox(&mut left_out, "leave out").changed() {
            let name = format!("{} row {}", if left_out { "Leave out" } else { "Use" }, row.number);
            change(session, &name, [Edit::PutRow(crate::plan::Row { left_out, ..row })]);
        }
        ui.end_row();
    });
    if let Some(feed_id) = found.feed {
        ui.separator();
        feed(ui, session, feed_id);
    }
}

fn feed(ui: &mut Ui, session: &mut Session, id: FeedId) {
    let Some(feed) = session.routing().feed(id).cloned() else { return };
    let project = session.project().clone();
    let units = project.units;
    let routing = session.routing().id;
    let numbers = row_numbers(&project, &feed.branches.iter().map(|branch| branch.row).collect::<Vec<_>>());
    title(ui, &feed.tag, &format!("feed of row {}", rows::numbers_text(&numbers)));
    ui.label(
        RichText::new(format!("from {}", end_text(session, &feed.from))).color(Theme::of(ui.visuals()).soft),
    );
    let outcome: Vec<_> = session.outcome().elements.iter().filter(|one| one.feed == id).copied().collect();
    let mut new = feed.clone();
    let count = feed.elements().count();
    let mut swap = None;
    for (number, element) in feed.elements().enumerate() {
        ui.push_id(number, |ui| {
            ui.add_space(4.0);
            ui.horizontal(|ui| {
                ui.label(RichText::new(format!("{}. {}", number + 1, element.kind())).strong());
                let within = feed.trunk.is_empty() && feed.branches.len() == 1;
                if within
                    && number + 1 < count
                    && ui.small_button("Move later").on_hover_text("Change places with the next").clicked()
                {
                    swap = Some(number);
                }
            });
            grid(ui, "element", |ui| {
                if let Some(item) = project.catalogue.item(element.entry())
                    && let Some(entry) =
                        pick(ui, "Size", element.entry(), &entries(&project, |one| same_kind(one, item)))
                    && let Some(target) = new.elements_mut().nth(number)
                {
                    set_entry(target, &entry);
                }
                if let FeedElement::MeteringTube { length, .. } = element
                    && let Some(value) = number_of(ui, units, *length)
                    && let Some(FeedElement::MeteringTube { length, .. }) = new.elements_mut().nth(number)
                {
                    *length = Length::from_si(value);
                }
                let Some(found) = outcome.get(number) else { return };
                if let Some(length) = found.length.filter(|_| matches!(element, FeedElement::Tube(_))) {
                    fact(ui, "Length", Measure::Distance.text(length.si(), units));
                }
                fact(
                    ui,
                    "Pressure drop",
                    found.drop.map_or_else(|| "–".to_owned(), |one| Measure::Pressure.text(one.si(), units)),
                );
                if !matches!(element, FeedElement::CheckValve(_)) {
                    fact(
                        ui,
                        "Reynolds number",
                        found.reynolds.map_or_else(|| "–".to_owned(), |one| format!("{one:.0}")),
                    );
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
    if let Some((number, tube)) = tubes
        && let Some(geometry) =
            session.routing().feed_geometry(&feed, &project.bar, &project.catalogue, &project.supply)
    {
        let ends: Vec<_> = geometry.trunk.iter().chain(geometry.branches.iter().flatten()).copied().collect();
        if let Some((from, to)) = ends.get(number).copied() {
            ui.separator();
            ui.label(RichText::new("Length of its first tube").strong().color(Theme::of(ui.visuals()).soft));
            let computed = tube.line.computed_length(from, to);
            let line = grid(ui, "tube", |ui| length_of(ui, session, &tube.line, computed, &feed.tag));
            if let (Some(line), Some(FeedElement::Tube(target))) = (line, new.elements_mut().nth(number)) {
                target.line = line;
            }
        }
    }
    if new != feed {
        change(session, &format!("Change {}", feed.tag), [Edit::PutFeed(routing, new)]);
    }
    remove_button(ui, session, &feed.tag);
}

fn number_of(ui: &mut Ui, units: UnitSystem, length: Length) -> Option<f64> {
    number(ui, units, "Cut length", Measure::Distance, length.si(), 0.005..=50.0)
}

fn set_entry(element: &mut FeedElement, entry: &EntryKey) {
    match element {
        FeedElement::Tube(tube) => tube.line.stock = entry.clone(),
        FeedElement::CheckValve(key) | FeedElement::Orifice(key) | FeedElement::Fitting(key) => {
            *key = entry.clone();
        }
        FeedElement::MeteringTube { stock, .. } => *stock = entry.clone(),
    }
}

/// One list for each kind of element, setting it for all these feeds at once.
fn stocks(ui: &mut Ui, session: &mut Session, feeds: &[FeedId]) {
    let project = session.project().clone();
    let routing = session.routing().clone();
    let chosen: Vec<&RowFeed> = feeds.iter().filter_map(|id| routing.feed(*id)).collect();
    for (name, kind) in [
        ("Tube", "tube"),
        ("Check valve", "check valve"),
        ("Orifice", "metering orifice"),
        ("Metering tube", "metering tube"),
    ] {
        let used: std::collections::BTreeSet<&EntryKey> = chosen
            .iter()
            .flat_map(|feed| feed.elements())
            .filter(|one| one.kind() == kind)
            .map(FeedElement::entry)
            .collect();
        let Some(first) = used.first().copied() else { continue };
        let Some(item) = project.catalogue.item(first) else { continue };
        let mut offered = entries(&project, |one| same_kind(one, item));
        let mixed = EntryKey::new("");
        if used.len() > 1 {
            offered.insert(0, (mixed.clone(), "mixed".to_owned()));
        }
        let now = if used.len() > 1 { &mixed } else { first };
        let Some(entry) = pick(ui, name, now, &offered).filter(|entry| *entry != mixed) else { continue };
        let edits: Vec<Edit> = chosen
            .iter()
            .map(|feed| {
                let mut feed = (*feed).clone();
                for element in feed.elements_mut().filter(|one| one.kind() == kind) {
                    set_entry(element, &entry);
                }
                Edit::PutFeed(routing.id, feed)
            })
            .collect();
        change(session, &format!("Change the {} of {} rows", name.to_lowercase(), chosen.len()), edits);
    }
}

fn several(ui: &mut Ui, session: &mut Session, selection: &[Subject]) {
    title(ui, &format!("{} selected", selection.len()), "");
    let mut feeds = Vec::new();
    for subject in selection {
        match *subject {
            Subject::Feed(id) => feeds.push(id),
            Subject::Row(id) => feeds.extend(session.routing().feed_of(id).map(|feed| feed.id)),
            Subject::Part(_) | Subject::Run(_) => {}
        }
    }
    feeds.sort_unstable();
    feeds.dedup();
    if !feeds.is_empty() {
        grid(ui, "several", |ui| stocks(ui, session, &feeds));
    }
    remove_button(ui, session, "what is selected");
}

fn remove_button(ui: &mut Ui, session: &mut Session, what: &str) {
    ui.add_space(10.0);
    if ui.button(format!("Delete {what}")).clicked() {
        session.delete_selection();
    }
}
