//! What is not connected as it should be, found and named before any number is computed.

use std::collections::BTreeMap;

use crate::plan::routing::Connection;
use crate::plan::{End, FeedId, PartId, Port, PortRef, Project, Routing, RowId, RunId};

/// Something in a routing that is not connected as it should be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ConnectionProblem {
    /// No run starts at the supply.
    NoSupplyHose,
    /// An end of a run lies loose.
    LooseRun(RunId),
    /// A row feed hangs on nothing.
    LooseFeed(FeedId),
    /// A row feed sits on something that is not a manifold outlet.
    FeedNotOnOutlet(FeedId),
    /// Both ends of a run are on one part.
    RunInCircle(RunId),
    /// More than one hose, tube or part sits on a port.
    PortTakenTwice(PortRef),
    /// Ports that would spray: nothing is on them and no plug closes them. One entry for each part.
    OpenPorts(PartId, Vec<Port>),
    /// A part with no way to the supply.
    NotSupplied(PartId),
    /// A row without a feed.
    RowWithoutFeed(RowId),
    /// A row with more than one feed.
    RowFedTwice(RowId, Vec<FeedId>),
    /// A gauge or plug that sits on nothing.
    Unmounted(PartId),
}

/// Everything that can be told from the connections alone; reaching the supply is added by the assembly.
pub fn connection_problems(project: &Project, routing: &Routing) -> Vec<ConnectionProblem> {
    let mut problems = Vec::new();
    let at_supply = |end: &End| matches!(end, End::Supply);
    if !routing.runs.iter().any(|run| at_supply(&run.from) || at_supply(&run.to)) {
        problems.push(ConnectionProblem::NoSupplyHose);
    }
    let on_port = connections(routing);
    for run in &routing.runs {
        if [run.from, run.to].iter().any(|end| matches!(end, End::Loose(_))) {
            problems.push(ConnectionProblem::LooseRun(run.id));
        }
        let same_part = run.from.port().zip(run.to.port()).is_some_and(|(from, to)| from.part == to.part);
        if same_part || (at_supply(&run.from) && at_supply(&run.to)) {
            problems.push(ConnectionProblem::RunInCircle(run.id));
        }
    }
    for feed in &routing.feeds {
        match feed.from {
            End::Loose(_) => problems.push(ConnectionProblem::LooseFeed(feed.id)),
            End::Port(PortRef { port: Port::Outlet(_), .. }) => {}
            End::Port(_) | End::Supply => problems.push(ConnectionProblem::FeedNotOnOutlet(feed.id)),
        }
    }
    problems.extend(
        on_port
            .iter()
            .filter(|(_, all)| all.len() > 1)
            .map(|(port, _)| ConnectionProblem::PortTakenTwice(*port)),
    );
    for part in &routing.parts {
        let Some(item) = project.catalogue.item(&part.entry) else { continue };
        let taken = |port: &Port| on_port.contains_key(&PortRef { part: part.id, port: *port });
        if item.is_on_port() {
            if !taken(&Port::In) {
                problems.push(ConnectionProblem::Unmounted(part.id));
            }
            continue;
        }
        let ports = item.port_places().into_iter().filter(|one| !one.comes_plugged).map(|one| one.port);
        let open: Vec<Port> = ports.filter(|port| !taken(port)).collect();
        if !open.is_empty() {
            problems.push(ConnectionProblem::OpenPorts(part.id, open));
        }
    }
    let mut feeds_of: BTreeMap<RowId, Vec<FeedId>> = BTreeMap::new();
    for feed in &routing.feeds {
        for branch in &feed.branches {
            feeds_of.entry(branch.row).or_default().push(feed.id);
        }
    }
    for row in project.bar.rows.iter().filter(|row| !row.left_out) {
        match feeds_of.remove(&row.id) {
            None => problems.push(ConnectionProblem::RowWithoutFeed(row.id)),
            Some(feeds) if feeds.len() > 1 => problems.push(ConnectionProblem::RowFedTwice(row.id, feeds)),
            Some(_) => {}
        }
    }
    problems
}

/// What sits on each port that anything sits on.
pub fn connections(routing: &Routing) -> BTreeMap<PortRef, Vec<Connection>> {
    let mut all: BTreeMap<PortRef, Vec<Connection>> = BTreeMap::new();
    for (port, what) in routing.connections() {
        all.entry(port).or_default().push(what);
    }
    all
}
