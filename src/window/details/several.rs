//! What several selected things share, to change for all of them at once.

use eframe::egui::{RichText, Ui};

use super::crossings::crossings;
use super::elements::{fact, grid, remove_button, say, title, wide_grid};
use super::lines::stocks;
use super::shared_tubes::shared_tubes;
use crate::plan::{LineGeometry, PartItem, RunId, Subject};
use crate::quantities::{Length, Measure};
use crate::session::Session;
use crate::session::bulk::Common;
use crate::session::properties::{Property, PropertyValue};
use crate::window::entry;
use crate::window::theme::Theme;

/// Shows them; `count` is how many are selected.
pub(super) fn several(ui: &mut Ui, session: &mut Session, count: usize) {
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
        let all: Vec<Subject> = chosen.parts.iter().copied().map(Subject::Part).collect();
        grid(ui, "several parts", |ui| {
            let parts = || chosen.parts.iter().filter_map(|id| routing.part(*id));
            let items = || parts().filter_map(|part| catalogue.item(&part.entry));
            if let Common::Same(_) = Common::of(items().map(PartItem::kind)) {
                entry::property(ui, session, Property::Size, &all);
                entry::property(ui, session, Property::Shut, &all);
            } else {
                fact(ui, "Kind", "mixed");
            }
            for property in Property::PLACE {
                entry::property(ui, session, property, &all);
            }
        });
    }
    if !chosen.runs.is_empty() {
        heading(ui, many(chosen.runs.len(), "hose"));
        grid(ui, "several hoses", |ui| several_hoses(ui, session, &chosen.runs));
        let all: Vec<Subject> = chosen.runs.iter().copied().map(Subject::Run).collect();
        crossings(ui, session, &all);
    }
    if !chosen.rows.is_empty() {
        heading(ui, many(chosen.rows.len(), "row"));
        let all: Vec<Subject> = chosen.rows.iter().copied().map(Subject::Row).collect();
        grid(ui, "several rows", |ui| {
            for property in [Property::OutletHeight, Property::Share, Property::LeftOut] {
                entry::property(ui, session, property, &all);
            }
        });
    }
    shared_tubes(ui, session);
    if !chosen.feeds.is_empty() {
        heading(ui, many(chosen.feeds.len(), "row feed"));
        let all: Vec<Subject> = chosen.feeds.iter().copied().map(Subject::Feed).collect();
        wide_grid(ui, "several feeds", |ui| stocks(ui, session, &all));
        crossings(ui, session, &all);
    }
    remove_button(ui, session, "what is selected");
}

fn several_hoses(ui: &mut Ui, session: &mut Session, ids: &[RunId]) {
    let project = session.snapshot();
    let routing = session.routing_in(&project);
    let all: Vec<Subject> = ids.iter().copied().map(Subject::Run).collect();
    entry::property(ui, session, Property::Bore, &all);
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
        entry::property(ui, session, Property::Fittings, &all);
    }
    entry::property(ui, session, Property::Slack, &all);
    entry::property(ui, session, Property::MeasuredLength, &all);
    let has = ids.iter().filter_map(|id| routing.run(*id)).any(|run| run.line.measured.is_some());
    if has {
        ui.label("");
        if ui.button("Use computed lengths").clicked() {
            say(ui, session.set(Property::MeasuredLength, &all, PropertyValue::Nothing));
        }
        ui.end_row();
    }
    let laid = ids.iter().filter_map(|id| session.geometry().run(*id));
    let total: Option<Length> = laid.map(LineGeometry::known_length).sum();
    let says = total.map_or_else(
        || "being computed".to_owned(),
        |total| Measure::Distance.text(total.si(), session.project().units),
    );
    fact(ui, "Total length", says);
}
