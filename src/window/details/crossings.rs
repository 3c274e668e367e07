//! Hoses or tubes that cross a hinge side by side, as one bundle.

use eframe::egui::Ui;

use super::elements::fact;
use crate::plan::crossing::gathered;
use crate::plan::{LineGeometry, Subject, Towards};
use crate::quantities::{Length, Measure};
use crate::session::Session;
use crate::session::bulk::Common;
use crate::window::entry;

/// Each hinge with the shortest and longest piece, the clamps and the least radius of all that cross it, and fields that move
/// their clamps together.
pub(super) fn crossings(ui: &mut Ui, session: &mut Session, of: &[Subject]) {
    let project = session.snapshot();
    let lines: Vec<LineGeometry> = of.iter().flat_map(|one| lines(session, *one)).collect();
    for one in gathered(lines.iter().flat_map(|line| &line.crossings)) {
        let name = project.bar.section(one.section).map_or("", |section| section.name.as_str());
        for (what, value) in one.facts(project.units) {
            fact(ui, &format!("Hinge, {name}: {what}"), value);
        }
        let Some(first) = one.computed.first() else { continue };
        let from = first.clamp(Towards::Centre).from_hinge;
        let placed = match session.clamp_together(of, one.section, Towards::Centre) {
            Common::Same(clamp) => Common::Same(clamp.is_some()),
            Common::Mixed => Common::Mixed,
            Common::None => continue,
        };
        entry::tick(
            ui,
            session,
            &format!("Hinge, {name}: clamps"),
            "place them together",
            placed,
            |session, placed| {
                session.set_clamp_together(of, one.section, (Towards::Centre, placed.then_some(from)))
            },
        );
        if placed == Common::Same(false) {
            continue;
        }
        for towards in Towards::ALL {
            let value = session.clamp_together(of, one.section, towards);
            let value = value.map(|clamp| clamp.map(Length::si));
            let (least, most) = one.stretch(towards);
            let name = format!("Clamp towards the {}, {name}", towards.word());
            entry::number(
                ui,
                session,
                &name,
                Measure::CutLength,
                value,
                least.si()..=most.si(),
                |session, at| {
                    session.set_clamp_together(of, one.section, (towards, Some(Length::from_si(at))))
                },
            );
        }
    }
}

fn lines(session: &Session, of: Subject) -> Vec<LineGeometry> {
    match of {
        Subject::Run(id) => session.geometry().run(id).cloned().into_iter().collect(),
        Subject::Feed(id) => session
            .geometry()
            .feed(id)
            .into_iter()
            .flat_map(|feed| feed.tubes().cloned().collect::<Vec<_>>())
            .collect(),
        Subject::Part(_) | Subject::Row(_) => Vec::new(),
    }
}
