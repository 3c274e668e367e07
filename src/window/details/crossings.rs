//! Hoses or tubes that cross a hinge side by side, as one bundle.

use eframe::egui::Ui;

use super::elements::fact;
use crate::plan::crossing::{Gathered, gathered};
use crate::plan::{FeedGeometry, SectionId, Subject, Towards};
use crate::quantities::{Length, Measure, UnitSystem};
use crate::session::Session;
use crate::session::bulk::Common;
use crate::window::entry;

/// Each hinge with the shortest and longest piece, the clamps and the least radius of all that cross it, and fields that move
/// their clamps together.
pub(super) fn crossings(ui: &mut Ui, session: &mut Session, of: &[Subject]) {
    let project = session.snapshot();
    for bundle in bundles(session, of, project.units) {
        let hinge = bundle.hinge;
        let name = project.bar.section(hinge).map_or("", |section| section.name.as_str());
        for (what, value) in bundle.facts {
            fact(ui, &format!("Hinge, {name}: {what}"), value);
        }
        let Some(from) = bundle.from else { continue };
        let placed = match session.clamp_together(of, hinge, Towards::Centre) {
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
                session.set_clamp_together(of, hinge, (Towards::Centre, placed.then_some(from)))
            },
        );
        if placed == Common::Same(false) {
            continue;
        }
        for (towards, (least, most)) in bundle.stretches {
            let value = session.clamp_together(of, hinge, towards);
            let value = value.map(|clamp| clamp.map(Length::si));
            let name = format!("Clamp towards the {}, {name}", towards.word());
            entry::number(
                ui,
                session,
                &name,
                Measure::CutLength,
                value,
                least.si()..=most.si(),
                |session, at| session.set_clamp_together(of, hinge, (towards, Some(Length::from_si(at)))),
            );
        }
    }
}

/// What crosses one hinge together.
struct Bundle {
    hinge: SectionId,
    facts: Vec<(&'static str, String)>,
    /// Where the first of it is clamped towards the centre; none where nothing of it is computed.
    from: Option<Length>,
    /// From where to where the clamps can be on each side.
    stretches: [(Towards, (Length, Length)); 2],
}

fn bundles(session: &Session, of: &[Subject], units: UnitSystem) -> Vec<Bundle> {
    let geometry = session.geometry();
    let lines = of.iter().flat_map(|one| {
        let (run, feed) = match *one {
            Subject::Run(id) => (geometry.run(id), None),
            Subject::Feed(id) => (None, geometry.feed(id)),
            Subject::Part(_) | Subject::Row(_) => (None, None),
        };
        run.into_iter().chain(feed.into_iter().flat_map(FeedGeometry::tubes))
    });
    let bundle = |one: &Gathered<'_>| Bundle {
        hinge: one.section,
        facts: one.facts(units),
        from: one.computed.first().map(|first| first.clamp(Towards::Centre).from_hinge),
        stretches: Towards::ALL.map(|towards| (towards, one.stretch(towards))),
    };
    gathered(lines.flat_map(|line| &line.crossings)).iter().map(bundle).collect()
}
