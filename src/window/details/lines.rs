//! The details of a hose and of a row feed.

use eframe::egui;
use eframe::egui::{RichText, Ui};

use super::elements::{change, fact, grid, remove_button, row_numbers, say, title, wide_grid};
use super::shared_tubes::shared_tubes;
use crate::plan::{
    ClampSide, CrossedHinge, Edit, ElementGeometry, ElementKind, EntryKey, FeedElement, FeedGeometry, FeedId,
    FittingItem, FittingKey, Item, Line, LineGeometry, Run, RunId, Subject, Towards, crossing,
};
use crate::quantities::{Length, Measure};
use crate::session::bulk::{Common, set_entry};
use crate::session::properties::{Property, PropertyValue};
use crate::session::{Session, ends, rows};
use crate::window::entry::{self, ChoiceList};
use crate::window::panels::choice;
use crate::window::status_line;
use crate::window::theme::Theme;

/// Room that the button beside a list takes, with the space before it, points.
const BUTTON: f32 = 36.0;

/// Slack, hinges and measured length of a hose, or of the first tube of a row feed.
fn length_of(ui: &mut Ui, session: &mut Session, subject: Subject, line: &Line, laid: &LineGeometry) {
    let computed = laid.computed;
    let units = session.project().units;
    let this = [subject];
    entry::property(ui, session, Property::Slack, &this);
    for (at, crossing) in line.crossings.iter().enumerate() {
        let property = Property::HingeAllowance(at);
        let section = session.project().bar.section(crossing.section).cloned();
        let section = section.as_ref();
        let name = format!("{}, {}", property.name(), section.map_or("", |section| section.name.as_str()));
        let crossed = laid.crossing_of(line, at);
        if let Some(crossed) = crossed {
            for (what, value) in crossing::facts(crossed, units) {
                fact(ui, &format!("{name}: {what}"), value);
            }
            let places = crossed.computed().map(|computed| computed.places().before.si());
            let placed = Common::Same(crossing.clamps.is_some());
            if let Some(before) = places.or(crossing.clamps.map(|clamps| clamps.before.si())) {
                let words = format!("{name}: clamps");
                entry::tick(ui, session, &words, "place them by hand", placed, |session, placed| {
                    let value = if placed { PropertyValue::Number(before) } else { PropertyValue::Nothing };
                    session.set(Property::Clamp(ClampSide::Before, at), &this, value)
                });
            }
            let extra = crossed.extra.max(Length::ZERO);
            let entered = Common::Same(crossing.entered.is_some());
            entry::tick(ui, session, &name, "enter its extra length", entered, |session, entered| {
                let value = if entered { PropertyValue::Number(extra.si()) } else { PropertyValue::Nothing };
                session.set(property, &this, value)
            });
        }
        let comes_from_tip = crossed.is_some_and(|one| one.from_tip);
        for towards in Towards::ALL.into_iter().filter(|_| crossing.clamps.is_some()) {
            let clamp = Property::Clamp(towards.side(comes_from_tip), at);
            let section = section.map_or("", |section| section.name.as_str());
            let name = format!("{} towards the {}, {section}", clamp.name(), towards.word());
            // It can be as far from the hinge as the hose is straight there.
            let stretch = crossed.and_then(CrossedHinge::computed).map(|one| one.clamp(towards).stretch);
            let within = stretch.map(|(least, most)| least.si()..=most.si());
            entry::property_within(ui, session, clamp, &name, &this, within);
        }
        let is_last = at + 1 == line.crossings.len();
        let bundle = if is_last { session.bundled(this).len() } else { 0 };
        if bundle > 1 {
            ui.label("");
            let words = format!("Select its bundle of {bundle}");
            if ui.button(words).on_hover_text("All of its kind and stock over the same hinge").clicked() {
                session.select_bundle();
            }
            ui.end_row();
        }
        if crossing.entered.is_some() {
            entry::named_property(ui, session, property, &name, &this);
        }
    }
    let says = if laid.is_being_computed() {
        "being computed".to_owned()
    } else {
        Measure::Distance.text(computed.si(), units)
    };
    fact(ui, "Computed length", says);
    let measured = Common::Same(line.measured.is_some());
    entry::tick(ui, session, "Measured", "use measured length", measured, |session, measured| {
        let length = if measured { PropertyValue::Number(computed.si()) } else { PropertyValue::Nothing };
        session.set(Property::MeasuredLength, &this, length)
    });
    if line.measured.is_some() {
        entry::property(ui, session, Property::MeasuredLength, &this);
    }
}

pub(super) fn run(ui: &mut Ui, session: &mut Session, id: RunId) {
    let project = session.snapshot();
    let units = project.units;
    let Some(run) = session.routing().run(id).cloned() else { return };
    title(ui, &run.tag, "hose");
    let tag = run.tag.clone();
    grid(ui, "run", |ui| {
        entry::property(ui, session, Property::Tag, &[Subject::Run(id)]);
        fact(ui, "From", ends::end_words(session, &run.from));
        fact(ui, "To", ends::end_words(session, &run.to));
        entry::property(ui, session, Property::Bore, &[Subject::Run(id)]);
        fittings(ui, session, id, &run.fittings);
        if let Some(laid) = session.geometry().run(id).cloned() {
            length_of(ui, session, Subject::Run(id), &run.line, &laid);
        }
    });
    ui.separator();
    let outcome = session.shown_outcome().run(id).copied();
    let length = session.geometry().run(id).and_then(LineGeometry::known_length).map(|length| length.si());
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
        let offered = session.project().catalogue.offered(session.project().units, fits);
        let list = ChoiceList { name: &name, value: Common::Same(fitting.clone()), offered, beside: BUTTON };
        let remove = entry::list(
            ui,
            session,
            list,
            |session, entry| session.set_fitting(id, at, Some(&entry)),
            |ui| {
                let button = ui.small_button("×").on_hover_text("Remove this fitting");
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

pub(super) fn feed(ui: &mut Ui, session: &mut Session, id: FeedId) {
    let Some(feed) = session.routing().feed(id).cloned() else { return };
    let project = session.snapshot();
    let units = project.units;
    let routing = session.routing().id;
    let numbers = row_numbers(&project, &feed.branches.iter().map(|branch| branch.row).collect::<Vec<_>>());
    title(ui, &feed.tag, &format!("feed of row {}", rows::numbers_text(&numbers)));
    ui.label(
        RichText::new(format!("from {}", ends::end_words(session, &feed.from)))
            .color(Theme::of(ui.visuals()).soft),
    );
    let this = [Subject::Feed(id)];
    wide_grid(ui, "pieces", |ui| pieces(ui, session, &this));
    if feed.is_shared() {
        shared_tubes(ui, session);
    }
    let outcome: Vec<_> =
        session.shown_outcome().elements().iter().filter(|one| one.feed == id).copied().collect();
    let laid = session.geometry().feed(id);
    let laid: Vec<Option<Length>> =
        laid.into_iter().flat_map(FeedGeometry::elements).map(ElementGeometry::known_length).collect();
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
                // What the list above sets for all of its kind needs none here.
                let set_above = match element {
                    FeedElement::Piece(kind, _) if !kind.is_metering() => {
                        matches!(session.shared(Property::Piece(*kind), &this), Common::Same(_))
                    }
                    _ => false,
                };
                if !set_above
                    && let Some(item) = project.catalogue.any_item(element.entry())
                    && let Some(entry) = pick(
                        ui,
                        &format!("Size of {}. {}", number + 1, element.kind()),
                        element.entry(),
                        &project.catalogue.offered(units, |one: &Item| one.item_kind() == item.item_kind()),
                    )
                    && let Some(target) = new.elements_mut().nth(number)
                {
                    set_entry(target, &entry, &project.catalogue);
                }
                if matches!(element, FeedElement::MeteringTube { .. }) {
                    entry::property(ui, session, Property::CutLength, &[Subject::Feed(id)]);
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
    let laid = session.geometry().feed(id).and_then(|laid| laid.tubes().next()).cloned();
    if let Some((tube, laid)) = feed.first_tube().zip(laid) {
        ui.separator();
        ui.label(RichText::new("Length of its first tube").strong().color(Theme::of(ui.visuals()).soft));
        grid(ui, "tube", |ui| length_of(ui, session, Subject::Feed(id), &tube.line, &laid));
    }
    if new != feed {
        change(ui, session, &format!("Change {}", feed.tag), [Edit::PutFeed(routing, new)]);
    }
    remove_button(ui, session, &feed.tag);
}

/// Everything that row feeds are made of, to set for all of them at once.
pub(super) fn stocks(ui: &mut Ui, session: &mut Session, feeds: &[Subject]) {
    entry::property(ui, session, Property::Tube, feeds);
    pieces(ui, session, feeds);
    // What meters has a list of its own, with metering tubes in it.
    let had_length = session.shared(Property::CutLength, feeds);
    entry::property(ui, session, Property::Metering, feeds);
    let length = session.shared(Property::CutLength, feeds);
    if let (Common::None, Common::Same(PropertyValue::Number(length))) = (had_length, length) {
        // Nobody chose it: tubes were put in the place of orifices.
        let length = Measure::Distance.text(length, session.project().units);
        let words = format!(
            "The cut length of {length} is assumed: enter yours, or choose metering under Studies (F9)"
        );
        status_line::say_words(ui.ctx(), words);
    }
    entry::property(ui, session, Property::CutLength, feeds);
}

/// Each kind of piece that a row feed may have or not, to add, change or take out.
fn pieces(ui: &mut Ui, session: &mut Session, feeds: &[Subject]) {
    for kind in ElementKind::ALL.iter().copied().filter(|kind| !kind.is_metering()) {
        entry::property(ui, session, Property::Piece(kind), feeds);
    }
}

/// A list of sizes; `name` tells it apart from the others of one feed.
fn pick(ui: &mut Ui, name: &str, value: &EntryKey, entries: &[(EntryKey, String)]) -> Option<EntryKey> {
    ui.label(RichText::new("Size").color(Theme::of(ui.visuals()).soft));
    let mut chosen = value.clone();
    choice(ui, name, &mut chosen, entries);
    ui.end_row();
    (chosen != *value).then_some(chosen)
}
