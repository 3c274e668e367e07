//! Hoses or tubes that cross a hinge side by side, as one bundle.

use eframe::egui::{CollapsingHeader, RichText, Ui};

use super::elements::{fact, grid};
use crate::plan::crossing::{Gathered, gathered};
use crate::plan::words::{capital, counted};
use crate::plan::{FeedGeometry, SectionId, Subject, Towards};
use crate::quantities::{Length, Measure, UnitSystem};
use crate::session::Session;
use crate::session::bulk::Common;
use crate::window::entry;
use crate::window::theme::Theme;

/// Each hinge below a heading that opens it: the shortest and longest piece, the clamps and the least radius of all that cross
/// it, and fields that move their clamps together.
pub(super) fn crossings(ui: &mut Ui, session: &mut Session, of: &[Subject]) {
    let project = session.snapshot();
    let bundles = bundles(session, of, project.units);
    let is_one = bundles.len() == 1;
    for bundle in bundles {
        let name = project.bar.section(bundle.hinge).map_or("", |section| section.name.as_str());
        let title = format!("Hinge, {name}: {}", counted(bundle.lines, "line"));
        let words = RichText::new(title).color(Theme::of(ui.visuals()).soft);
        let heading =
            CollapsingHeader::new(words).id_salt(("hinge", bundle.hinge, of.first())).default_open(is_one);
        heading.show(ui, |ui| grid(ui, "hinge", |ui| at_hinge(ui, session, of, name, bundle)));
    }
}

/// What stands below the heading of a hinge.
fn at_hinge(ui: &mut Ui, session: &mut Session, of: &[Subject], name: &str, bundle: Bundle) {
    let hinge = bundle.hinge;
    for (what, value) in bundle.facts {
        fact(ui, &capital(what), value);
    }
    let Some(from) = bundle.from else { return };
    let placed = match session.clamp_together(of, hinge, Towards::Centre) {
        Common::Same(clamp) => Common::Same(clamp.is_some()),
        Common::Mixed => Common::Mixed,
        Common::None => return,
    };
    entry::tick(ui, session, "Clamps", "place them together", placed, |session, placed| {
        session.set_clamp_together(of, hinge, (Towards::Centre, placed.then_some(from)))
    });
    if placed == Common::Same(false) {
        return;
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

/// What crosses one hinge together.
struct Bundle {
    hinge: SectionId,
    lines: usize,
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
        lines: one.count,
        facts: one.facts(units),
        from: one.computed.first().map(|first| first.clamp(Towards::Centre).from_hinge),
        stretches: Towards::ALL.map(|towards| (towards, one.stretch(towards))),
    };
    gathered(lines.flat_map(|line| &line.crossings)).iter().map(bundle).collect()
}
