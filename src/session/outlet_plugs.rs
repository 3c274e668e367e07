//! Plugs on outlets that stay over, and plugs that give way where a row needs their outlet.

use std::collections::BTreeSet;

use super::refusal::RowsError;
use super::row_sharing::{add_plug, free_outlets};
use crate::plan::{Edit, Part, PartId, PartItem, Port, PortRef, Project, Routing};

/// Closes what stays over with blanking plugs once every row in use has its tube: the outlets that nothing sits on, of manifolds
/// that feed rows and that a hose leads to. How many; none while rows wait for an outlet, and where the catalogue has no plug,
/// which a finding tells.
pub(super) fn close_left_over(project: &Project, routing: &mut Routing) -> usize {
    let waits =
        project.bar.rows.iter().any(|row| {
            !row.left_out && routing.feed_of(row.id).is_none_or(|feed| feed.from.port().is_none())
        });
    if waits {
        return 0;
    }
    let fed: BTreeSet<PartId> =
        routing.feeds.iter().filter_map(|feed| Some(feed.from.port()?.part)).collect();
    let hosed: BTreeSet<PartId> = routing
        .runs
        .iter()
        .flat_map(|run| [run.from.port(), run.to.port()])
        .flatten()
        .map(|port| port.part)
        .collect();
    let mut closed = 0;
    for manifold in fed.intersection(&hosed) {
        for number in free_outlets(project, routing, *manifold, &BTreeSet::new()) {
            let port = PortRef { part: *manifold, port: Port::Outlet(number) };
            if add_plug(project, routing, port).is_err() {
                return closed;
            }
            closed += 1;
        }
    }
    closed
}

/// What a plan for rows makes of a routing; where it finds too few free outlets, of the routing with plugs giving way: those whose
/// outlets no row took are put back.
pub(super) fn giving_way(
    project: &Project,
    routing: &Routing,
    plan: impl Fn(&Routing) -> Result<Routing, RowsError>,
) -> Result<Routing, RowsError> {
    let refused = match plan(routing) {
        Err(refused @ (RowsError::TooMany { .. } | RowsError::NoOutletsToPart { .. })) => refused,
        done => return done,
    };
    let is_plug = |part: &Part| {
        part.mount.is_some_and(|port| matches!(port.port, Port::Outlet(_)))
            && matches!(project.catalogue.item(&part.entry), Some(PartItem::BlankingPlug(_)))
    };
    if !routing.parts.iter().any(is_plug) {
        return Err(refused);
    }
    let mut open = routing.clone();
    open.parts.retain(|part| !is_plug(part));
    // The numbers in a refusal are those with the plugs off: what would have to be added to those.
    let mut next = plan(&open)?;
    let taken: BTreeSet<PortRef> = next.connections().map(|(port, _)| port).collect();
    let stays = |part: &&Part| is_plug(part) && part.mount.is_some_and(|port| !taken.contains(&port));
    let mut parts: Vec<Part> =
        routing.parts.iter().filter(|part| !is_plug(part) || stays(part)).cloned().collect();
    parts.retain(|part| is_plug(part) || next.part(part.id).is_some());
    let new = next.parts.iter().filter(|part| routing.part(part.id).is_none()).cloned().collect::<Vec<_>>();
    parts.extend(new);
    next.parts = parts;
    Ok(next)
}

/// The routing that edits put in place of another; that one where they put none.
pub(super) fn put(edits: Vec<Edit>, before: &Routing) -> Routing {
    let put = edits.into_iter().find_map(|edit| match edit {
        Edit::PutRouting(routing) => Some(*routing),
        _ => None,
    });
    put.unwrap_or_else(|| before.clone())
}

/// The edits that put a routing in place of another; none where it is the same.
pub(super) fn edits(next: Routing, before: &Routing) -> Vec<Edit> {
    if next == *before { Vec::new() } else { vec![Edit::PutRouting(Box::new(next))] }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use crate::checks::Severity;
    use crate::files;
    use crate::plan::lay_out::{Layout, even_sections, lay_out, usual_hinges};
    use crate::plan::{PartItem, Port, Project};
    use crate::quantities::Length;
    use crate::session::Session;
    use crate::session::commands::{self, Command, CommandDone};

    /// Three sections of 7, 8 and 7 rows: the catalogue has manifolds of 6 and 8 outlets, so that two stay over.
    fn bar() -> Session {
        let spacing = Length::metres(0.5);
        let layout = Layout {
            sections: even_sections(22, spacing, 3),
            hinges: usual_hinges(1),
            ..Layout::even(22, spacing)
        };
        let mut session =
            Session::new(Project::new(lay_out(&layout).unwrap(), files::generic_catalogue()), None);
        run(&mut session, Command::ManifoldPerSection);
        session
    }

    fn run(session: &mut Session, command: Command) -> String {
        session.select([]);
        match commands::run(session, command).unwrap() {
            CommandDone::BySession(Some(remark)) => remark.to_string(),
            CommandDone::BySession(None) | CommandDone::LeftToWindow => String::new(),
        }
    }

    fn plugs(session: &Session) -> usize {
        let is_plug = |part: &&crate::plan::Part| {
            matches!(session.project().catalogue.item(&part.entry), Some(PartItem::BlankingPlug(_)))
                && matches!(part.mount.map(|port| port.port), Some(Port::Outlet(_)))
        };
        session.routing().parts.iter().filter(is_plug).count()
    }

    fn left_open(session: &Session) -> Vec<String> {
        let open =
            |one: &&crate::checks::Finding| one.kind.rule == "open port" && one.severity == Severity::Error;
        session.findings().iter().filter(open).map(ToString::to_string).collect()
    }

    #[test]
    fn what_stays_over_is_plugged_by_the_step_that_brings_liquid_and_undone_with_it() {
        for [first, last] in [
            [Command::NearestManifold, Command::MainsFromTees],
            [Command::MainsFromTees, Command::NearestManifold],
        ] {
            let mut session = bar();
            run(&mut session, first);
            assert_eq!(plugs(&session), 0, "{first:?}: it may go on otherwise");
            let before = session.snapshot();
            let said = run(&mut session, last);
            let count = plugs(&session);
            assert!(count > 0 && left_open(&session).is_empty(), "{:?}", left_open(&session));
            let outlets = if count == 1 { "1 outlet".to_owned() } else { format!("{count} outlets") };
            assert!(said.contains(&format!("plugged {outlets}")), "{said}");
            session.undo();
            assert_eq!(*session.project(), *before, "one step");
        }
    }

    /// Rows that are to have more outlets than are open take those of plugs, and the other plugs stay as they are.
    #[test]
    fn a_plug_gives_way_to_a_row_that_needs_its_outlet() {
        let mut session = bar();
        run(&mut session, Command::NearestManifold);
        run(&mut session, Command::MainsFromTees);
        let count = plugs(&session);
        run(&mut session, Command::PairRows);
        run(&mut session, Command::PlugOpen);
        assert!(plugs(&session) > count);
        session.select_rows();
        commands::run(&mut session, Command::PartRows).unwrap();
        assert!(session.routing().feeds.iter().all(|feed| !feed.is_shared()));
        assert_eq!((plugs(&session), session.outcome().fed_rows()), (count, 22), "{:?}", left_open(&session));
    }
}
