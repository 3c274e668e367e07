//! Names of ends and places, as papers call them.

use super::document::RowGroup;
use crate::plan::{End, LaidRouting, PortRef, Project, RowId, SectionId};

/// `pump`, `M3/4`, `F1 inlet`, `J2 left end`, `loose end`.
pub(super) fn end(routing: LaidRouting, end: &End) -> String {
    match end {
        End::Supply => "pump".to_owned(),
        End::Port(port) => routing.geometry.anchors.port_words(tag(routing, *port), *port),
        End::Loose(_) => "loose end".to_owned(),
    }
}

fn tag(routing: LaidRouting<'_>, port: PortRef) -> &str {
    routing.routing.part(port.part).map_or("?", |part| &part.tag)
}

/// A port without its part.
pub(super) fn port(routing: LaidRouting, port: PortRef) -> String {
    routing.geometry.anchors.port_name(port)
}

/// `row 14`.
pub(super) fn row(project: &Project, row: RowId) -> String {
    project.bar.row(row).map_or_else(|| "row ?".to_owned(), |row| format!("row {}", row.number))
}

/// Where a section stands among those of the bar, which are listed from the centre outwards.
pub(super) fn order(project: &Project, section: SectionId) -> Option<usize> {
    project.bar.sections.iter().position(|one| one.id == section)
}

/// A heading before the first line of each section, of lines on these sections.
pub(super) fn headings(
    sections: impl Iterator<Item = SectionId>,
    words: impl Fn(SectionId) -> String,
) -> Vec<RowGroup> {
    let mut last = None;
    let begins = sections.enumerate().filter(|(_, section)| last.replace(*section) != Some(*section));
    begins.map(|(before, section)| RowGroup { before, words: words(section) }).collect()
}

/// A section's name.
pub(super) fn section(project: &Project, section: SectionId) -> &str {
    project.bar.section(section).map_or("?", |section| &section.name)
}
