//! Bars of any number of rows, plumbed by the program's own commands, for studies that need many.

use equirow::files;
use equirow::geometry::Point2;
use equirow::plan::lay_out::{Layout, even_sections, lay_out, usual_hinges};
use equirow::plan::{Edit, EntryKey, Item, Part, PartId, PartItem, PartKey, Port, PortRef, Project};
use equirow::quantities::Length;
use equirow::session::Session;
use equirow::session::commands::{self, Command};

/// A bar of rows 0.3 m apart with a manifold and a gauge in each section; its gauges.
pub(crate) fn plumbed(rows: u32, sections: usize) -> (Project, Vec<PartId>) {
    let spacing = Length::metres(0.3);
    let layout = Layout {
        sections: even_sections(rows, spacing, sections),
        hinges: usual_hinges(sections / 2),
        ..Layout::even(rows, spacing)
    };
    let bar = lay_out(&layout).unwrap();
    let mut catalogue = files::generic_catalogue();
    // A section of more rows than the largest manifold there has outlets.
    let mut larger = catalogue.entries.iter().find(|entry| entry.key.0 == "manifold-12-end").unwrap().clone();
    if let Item::Part(PartItem::Manifold(manifold)) = &mut larger.item {
        manifold.outlets = 16;
    }
    larger.key = EntryKey("manifold-16-end".to_owned());
    catalogue.entries.push(larger);
    let mut session = Session::new(Project::new(bar, catalogue), None);
    let run = |commands: &[Command], session: &mut Session| {
        for command in commands {
            session.select([]);
            commands::run(session, *command).unwrap();
        }
    };
    run(&[Command::ManifoldPerSection, Command::NearestManifold, Command::PlugOpen], &mut session);
    session.place(&PartKey::new("filter-19-300"), Point2::new(0.0, 1.0), 0.15).unwrap();
    run(&[Command::MainsFromTees], &mut session);
    let mut project = session.project().clone();
    let routing = project.routings[0].clone();
    let entry = project.catalogue.entries.iter().find(|entry| {
        matches!(project.catalogue.item(&PartKey::new(entry.key.0.clone())), Some(PartItem::Gauge(_)))
    });
    let key: EntryKey = entry.unwrap().key.clone();
    let mut gauges = Vec::new();
    let mut free = routing.parts.iter().map(|part| part.id.0).max().unwrap_or(0);
    for part in &routing.parts {
        let item = project.catalogue.item(&part.entry).copied();
        if !matches!(item, Some(PartItem::Manifold(_))) {
            continue;
        }
        free += 1;
        let gauge = Part {
            id: PartId(free),
            tag: format!("G{free}"),
            entry: PartKey::new(key.0.clone()),
            mount: Some(PortRef { part: part.id, port: Port::Gauge }),
            ..part.clone()
        };
        gauges.push(gauge.id);
        let edit = Edit::PutPart(routing.id, gauge);
        equirow::plan::edit::apply(&mut project, edit).unwrap();
    }
    (project, gauges)
}
