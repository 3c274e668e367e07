//! What several selected hoses or tubes need at the hinges that they cross.

use eframe::egui::Ui;

use super::elements::fact;
use crate::plan::LineGeometry;
use crate::plan::crossing::gathered;
use crate::session::Session;

/// Each hinge with the shortest and longest piece, the clamps and the least radius of all that cross it.
pub(super) fn crossings(ui: &mut Ui, session: &Session, lines: &[&LineGeometry]) {
    let project = session.project();
    for one in gathered(lines.iter().flat_map(|line| &line.crossings)) {
        let name = project.bar.section(one.section).map_or("", |section| section.name.as_str());
        for (what, value) in one.facts(project.units) {
            fact(ui, &format!("Hinge, {name}: {what}"), value);
        }
    }
}
