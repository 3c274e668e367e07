//! What is drawn is what is solved: row feeds, joined ports, slopes and left-out rows on their way from the plan to
//! pressures and flows. The references are hydrostatics and equal networks, worked out here and not by the engine.

use equirow::plan::{CheckValve, Manifold, SmallTee};
use std::path::Path;

use equirow::checks::{Finding, all_findings};
use equirow::files::{self, network_file};
use equirow::geometry::Point3;
use equirow::hydraulics::outcome::PartOutcome;
use equirow::hydraulics::prepared::solved_network;
use equirow::hydraulics::{NoNumbers, NotFed, Outcome, RowState, solve};
use equirow::plan::edit::{Edit, apply};
use equirow::plan::{
    Anchors, Control, ElementItem, ElementKey, ElementKind, End, EntryKey, FeedElement, FittingItem, Item,
    OperatingPoint, Part, PartId, PartItem, Port, PortRef, Project, RoutingGeometry,
};

use equirow::quantities::{Angle, Flow, Pressure, Speed};
use equirow::studies::status::rows_words;
use petgraph::visit::EdgeRef;

const G: f64 = 9.80665;

fn trial_bar() -> Project {
    files::open(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/six-metre-trial-bar.ron"))).unwrap()
}

fn density(project: &Project, point: &OperatingPoint) -> f64 {
    project.duties.first().liquid.at(point.temperature).unwrap().density.si()
}

/// Height on a slope given by its tangents: x rises by the side slope, y by the fore-aft slope.
fn height(at: Point3, side: f64, fore_aft: f64) -> f64 {
    let (x, y) = (side.atan().sin(), fore_aft.atan().sin());
    at.x * x + at.y * y + at.z * (1.0 - x * x - y * y).sqrt()
}

fn on_slope(project: &Project, side: f64, fore_aft: f64) -> OperatingPoint {
    OperatingPoint {
        side_slope: Angle::from_si(side.atan()),
        fore_aft_slope: Angle::from_si(fore_aft.atan()),
        ..project.duties.first().usual_point()
    }
}

fn of_rule<'a>(findings: &'a [Finding], rule: &str) -> Vec<&'a Finding> {
    findings.iter().filter(|one| one.kind.rule == rule).collect()
}

fn findings(project: &Project, outcome: &Outcome) -> Vec<Finding> {
    all_findings(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        outcome,
        &[],
    )
}

/// Puts a gauge on a port; what was on it goes.
fn add_gauge(project: &mut Project, id: u32, on: PortRef) -> PartId {
    let routing = &mut project.routings[0];
    routing.feeds.retain(|feed| feed.from != End::Port(on));
    let like = routing.parts.iter().find(|part| part.entry.0.starts_with("gauge")).unwrap();
    let gauge = Part { id: PartId(id), tag: format!("G{id}"), mount: Some(on), ..like.clone() };
    routing.parts.push(gauge);
    PartId(id)
}

/// A feed of two rows that lost one: its small tee stands there with a leg plugged, takes `K ρ v²/2` of what passes it, and
/// the network can be written and read again.
#[test]
fn a_shared_feed_left_with_one_row_keeps_its_small_tee() {
    let mut project = trial_bar();
    let feed = project.routings[0].feeds.iter().find(|feed| feed.split.is_some()).unwrap().clone();
    let (left, gone) = (feed.branches[0].row, feed.branches[1].row);
    apply(&mut project, Edit::RemoveRow(gone)).unwrap();
    let point = project.duties.first().usual_point();
    let solved = solved_network(&project, &project.routings[0], &point).unwrap();
    let network = &solved.assembly.network;
    let json = network_file::network_json(network, &solved.solution, &[]);
    assert!(network_file::read(&json).is_ok(), "{:?}", network_file::read(&json).err());
    let tee = network
        .graph
        .edge_references()
        .find(|edge| edge.weight().name == format!("{} split 1", feed.tag))
        .unwrap();
    let split = &feed.split.unwrap().entry;
    let Some(FittingItem::SmallTee(SmallTee { bore, k, .. })) = project.catalogue.item(split).copied() else {
        panic!("{split}")
    };
    let flow = solved.solution.link_flow_m3s[tee.id().index()];
    let row = *solve(&project, &project.routings[0], &point).row(left).unwrap();
    assert_eq!((row.state, row.flow), (RowState::Fed, Flow::from_si(flow)));
    let speed = flow / (std::f64::consts::FRAC_PI_4 * bore.si().powi(2));
    let expected = k * density(&project, &point) * speed * speed / 2.0;
    let pressure = |node: petgraph::graph::NodeIndex| solved.solution.node_pressure_pa[node.index()].unwrap();
    let found = pressure(tee.source()) - pressure(tee.target());
    assert!(expected > 10.0 && (found / expected - 1.0).abs() < 1e-6, "{found} Pa, {expected} Pa");
    let outcome = solve(&project, &project.routings[0], &point);
    let told = findings(&project, &outcome);
    assert!(of_rule(&told, "open port").iter().any(|one| one.place == feed.tag), "{told:#?}");
}

/// Every check valve shut and nothing flowing: whatever the slope, each port, gauge and hose end has the pressure of the
/// liquid between it and the pump, at its own height.
#[test]
fn at_rest_every_port_reads_the_liquid_above_it_on_both_slopes() {
    let mut project = files::demo();
    let held = Pressure::bar(0.05);
    project.supply.control = Control::Held { pressure: held };
    for entry in &mut project.catalogue.entries {
        if let Item::Element(ElementItem::CheckValve(CheckValve { cracking, .. })) = &mut entry.item {
            *cracking = Pressure::bar(3.0);
        }
    }
    let manifolds: Vec<(PartId, u16)> = project.routings[0]
        .parts
        .iter()
        .filter_map(|part| match project.catalogue.item(&part.entry) {
            Some(PartItem::Manifold(Manifold { outlets, .. })) => Some((part.id, *outlets)),
            _ => None,
        })
        .collect();
    let mut gauges = Vec::new();
    for (index, (part, outlets)) in manifolds.iter().enumerate() {
        for (end, outlet) in [1, *outlets].into_iter().enumerate() {
            let port = PortRef { part: *part, port: Port::Outlet(outlet) };
            gauges.push(add_gauge(&mut project, 900 + 2 * index as u32 + end as u32, port));
        }
    }
    assert!(gauges.len() >= 10);
    let routing = &project.routings[0];
    for (side, fore_aft) in [(0.0, 0.0), (0.15, 0.0), (-0.15, 0.0), (0.0, 0.2), (0.0, -0.2), (0.1, -0.05)] {
        let point = on_slope(&project, side, fore_aft);
        let outcome = solve(&project, routing, &point);
        assert!(outcome.rows().iter().all(|row| row.state != RowState::Fed));
        let weight = density(&project, &point) * G;
        let anchors = Anchors::of(&project, routing);
        let pump = height(project.supply.pump, side, fore_aft);
        let expected = |at: Point3| held.si() + weight * (pump - height(at, side, fore_aft));
        let near = |found: Option<Pressure>, at: Point3, what: &str| {
            let (found, expected) = (found.unwrap().si(), expected(at));
            assert!(
                (found - expected).abs() < 1e-3,
                "{what} at {side}, {fore_aft}: {found} Pa, by hand {expected} Pa"
            );
        };
        for gauge in &gauges {
            let part = routing.part(*gauge).unwrap();
            let at = anchors.part(*gauge).unwrap().at;
            near(outcome.part(*gauge).unwrap().pressure, at, &part.tag);
        }
        for (manifold, _) in &manifolds {
            let port = PortRef { part: *manifold, port: Port::Gauge };
            let at = anchors.port(port).unwrap().place;
            let part: &PartOutcome = outcome.part(*manifold).unwrap();
            near(part.pressure, at, "manifold");
            assert!(part.lowest.unwrap() <= part.pressure.unwrap() && part.pressure <= part.highest);
        }
        for run in &routing.runs {
            let found = outcome.run(run.id).unwrap();
            let end = |end: &End| anchors.end(end).unwrap().place;
            near(found.pressure_from, end(&run.from), &run.tag);
            near(found.pressure_to, end(&run.to), &run.tag);
        }
    }
}

/// Over-pressure in numbers: at rest the lowest port of the lowest manifold carries the liquid above it; a rating 20 Pa below
/// that is broken by this manifold alone, one 20 Pa above by none.
#[test]
fn over_pressure_is_found_at_the_lowest_port_and_nowhere_else() {
    let mut project = files::demo();
    project.supply.control = Control::Held { pressure: Pressure::bar(0.05) };
    for entry in &mut project.catalogue.entries {
        match &mut entry.item {
            Item::Element(ElementItem::CheckValve(CheckValve { cracking, .. })) => {
                *cracking = Pressure::bar(3.0);
            }
            Item::Part(PartItem::Manifold(Manifold { rated, .. })) => *rated = Pressure::bar(50.0),
            _ => {}
        }
    }
    let (side, point) = (0.15, on_slope(&project, 0.15, 0.0));
    let weight = density(&project, &point) * G;
    let pump = height(project.supply.pump, side, 0.0);
    // Right side up: the left manifold is the lowest, and of it the lowest port.
    let lowest = project.routings[0]
        .parts
        .iter()
        .filter(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold(_))))
        .min_by(|a, b| a.position.x.total_cmp(&b.position.x))
        .unwrap()
        .clone();
    let ports = project.catalogue.item(&lowest.entry).unwrap().ports();
    let anchors = Anchors::of(&project, &project.routings[0]);
    let heights = ports.into_iter().map(|port| {
        let port = PortRef { part: lowest.id, port };
        height(anchors.port(port).unwrap().place, side, 0.0)
    });
    let highest = 0.05e5 + weight * (pump - heights.fold(f64::INFINITY, f64::min));
    for (off, over) in [(-20.0, true), (20.0, false)] {
        let mut project = project.clone();
        for entry in &mut project.catalogue.entries {
            if let Item::Part(PartItem::Manifold(Manifold { rated, .. })) = &mut entry.item {
                *rated = Pressure::from_si(highest + off);
            }
        }
        let outcome = solve(&project, &project.routings[0], &point);
        let told = findings(&project, &outcome);
        let told: Vec<&str> = of_rule(&told, "over rated pressure")
            .into_iter()
            .filter(|one| one.what.contains("manifold") && one.what.contains("up to"))
            .map(|one| one.place.as_str())
            .collect();
        assert_eq!(told, if over { vec![lowest.tag.as_str()] } else { Vec::new() }, "{off} Pa off");
    }
}

/// Nose up, the filter's inlet stands higher than its outlet and has the lower pressure at a small flow; the inlet is the
/// side that the flow comes from all the same: pump less the loss of the supply hose, less the liquid between.
#[test]
fn the_inlet_is_the_side_that_the_flow_comes_from() {
    let project = files::demo();
    let routing = &project.routings[0];
    let filter = routing
        .parts
        .iter()
        .find(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::InletFilter(_))))
        .unwrap();
    let port = |port| {
        let port = PortRef { part: filter.id, port };
        Anchors::of(&project, routing).port(port).unwrap().place
    };
    let hose = routing.runs.iter().find(|run| run.from == End::Supply).unwrap();
    let mut higher_behind = 0;
    for fore_aft in [-0.3, 0.0, 0.3] {
        let mut point = on_slope(&project, 0.0, fore_aft);
        point.speed = Speed::kilometres_per_hour(3.0);
        let outcome = solve(&project, routing, &point);
        let weight = density(&project, &point) * G;
        let rise = height(port(Port::In), 0.0, fore_aft) - height(project.supply.pump, 0.0, fore_aft);
        let loss = outcome.run(hose.id).unwrap().loss.unwrap().si();
        let expected = outcome.numbers().unwrap().pump_pressure.si() - loss - weight * rise;
        let found = outcome.numbers().unwrap().inlet_pressure.si();
        assert!((found - expected).abs() < 0.01, "{fore_aft}: {found} Pa, by hand {expected} Pa");
        assert_eq!(
            outcome.part(filter.id).unwrap().pressure,
            outcome.numbers().map(|one| one.inlet_pressure)
        );
        if outcome.part(filter.id).unwrap().highest.unwrap().si() > found + 100.0 {
            higher_behind += 1;
        }
    }
    assert!(higher_behind > 0, "no slope put the higher pressure behind the filter");
}

/// Without check valves, on a steep slope and at a low held pressure, the upper rows draw air in: they are told by name, are
/// not fed, and no figure of evenness counts them.
#[test]
fn rows_that_flow_backwards_are_a_state_of_their_own() {
    let mut project = files::demo();
    project.supply.control = Control::Held { pressure: Pressure::bar(0.15) };
    for feed in &mut project.routings[0].feeds {
        for branch in &mut feed.branches {
            branch.elements.retain(|element| !element.is(ElementKind::CheckValve));
        }
    }
    let outcome = solve(&project, &project.routings[0], &on_slope(&project, 0.5, 0.0));
    let backward: Vec<_> = outcome.rows().iter().filter(|row| row.state == RowState::FlowsBackward).collect();
    let fed = outcome.rows().iter().filter(|row| row.state == RowState::Fed).count();
    assert!(backward.len() > 5 && fed > 5, "{} backward, {fed} fed", backward.len());
    assert_eq!(backward.len() + fed, outcome.rows().len());
    for row in outcome.rows() {
        assert_eq!(row.flow.si() < 0.0, row.state == RowState::FlowsBackward, "row {}", row.number);
        assert_eq!(row.deviation.is_some(), row.state == RowState::Fed);
    }
    let evenness = outcome.evenness().unwrap();
    assert_eq!(evenness.rows, fed);
    assert!(evenness.lowest.si() >= -1.0, "no row counts with less than nothing");
    let told = findings(&project, &outcome);
    let told = of_rule(&told, "flows backwards");
    let (first, last) = (backward[0].number, backward[backward.len() - 1].number);
    assert_eq!(told.len(), 1);
    assert_eq!(told[0].place, format!("Rows {first} to {last}"));
}

/// A bar whose manifolds feed each other, solved: as drawn, with hoses drawn the other way, from an outlet in place of the
/// far end, as a ring, and with a gauge screwed on, all that lies behind the filter is strained; a way round it is told.
#[test]
fn manifolds_that_feed_manifolds_are_behind_the_filter() {
    let project = files::demo();
    let point = project.duties.first().usual_point();
    let unstrained = |project: &Project| -> Vec<String> {
        let outcome = solve(project, &project.routings[0], &point);
        let all = findings(project, &outcome);
        assert!(outcome.numbers().is_some_and(|numbers| numbers.total_flow > Flow::ZERO));
        let told = all.into_iter().filter(|one| one.kind.rule == "mesh" && one.kind.case == "no filter");
        told.map(|one| one.place).collect()
    };
    let is_manifold = |project: &Project, end: &End| {
        let part = end.port().and_then(|port| project.routings[0].part(port.part));
        part.is_some_and(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold(_))))
    };
    let chain = |project: &Project| -> Vec<usize> {
        let runs = project.routings[0].runs.iter().enumerate();
        let between =
            runs.filter(|(_, run)| is_manifold(project, &run.from) && is_manifold(project, &run.to));
        between.map(|(at, _)| at).collect()
    };
    assert!(chain(&project).len() >= 2, "routing A feeds manifolds by manifolds");
    assert_eq!(unstrained(&project), Vec::<String>::new());
    assert!(project.routings[0].parts.iter().any(|part| part.mount.is_some()), "its gauge is screwed on");

    let mut turned = project.clone();
    for at in chain(&project) {
        let run = &mut turned.routings[0].runs[at];
        std::mem::swap(&mut run.from, &mut run.to);
        run.line.waypoints.reverse();
    }
    assert_eq!(unstrained(&turned), Vec::<String>::new());

    let mut by_outlet = project.clone();
    let at = chain(&project)[0];
    let End::Port(from) = by_outlet.routings[0].runs[at].from else { panic!("a port") };
    let feeds = &mut by_outlet.routings[0].feeds;
    let feed =
        feeds.iter().position(|feed| feed.from.port().is_some_and(|port| port.part == from.part)).unwrap();
    let outlet = feeds.remove(feed).from;
    by_outlet.routings[0].runs[at].from = outlet;
    assert_eq!(unstrained(&by_outlet), Vec::<String>::new());

    let mut ring = by_outlet.clone();
    let mut back = ring.routings[0].runs[at].clone();
    back.id = equirow::plan::RunId(900);
    back.tag = "H900".to_owned();
    back.from = End::Port(from);
    let far = chain(&project).into_iter().rfind(|other| *other != at).unwrap();
    let End::Port(to) = ring.routings[0].runs[far].to else { panic!("a port") };
    back.to = End::Port(PortRef { part: to.part, port: Port::Out });
    ring.routings[0].runs.push(back.clone());
    assert_eq!(unstrained(&ring), Vec::<String>::new());

    // A way round the filter strains nothing any more: all is joined.
    back.from = End::Supply;
    let last = ring.routings[0].runs.len() - 1;
    ring.routings[0].runs[last] = back;
    let told = unstrained(&ring);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with("Rows "), "{told:?}");
}

/// What a finding says of rows that get too little comes from what differs on their way: on a slope the height, on the flat
/// the tubes, the check valves or the metering that differ.
#[test]
fn the_cause_of_unevenness_is_what_differs() {
    let mut project = files::demo();
    let b = 1;
    // Metering that takes little, so that what else differs shows.
    for feed in &mut project.routings[b].feeds {
        feed.meter(|_| Some(equirow::plan::Metering::Orifice(equirow::plan::ElementKey::new("orifice-0.9"))));
    }
    let told = |project: &Project, point: &OperatingPoint| {
        let routing = &project.routings[b];
        let outcome = solve(project, routing, point);
        let geometry = RoutingGeometry::working(project, routing);
        let all = all_findings(project, geometry.with(routing), &outcome, &[]);
        all.into_iter()
            .filter(|one| one.kind.rule == "row deviation" && one.kind.case.starts_with("too"))
            .map(|one| (one.place, one.advice))
            .collect::<Vec<_>>()
    };
    let flat = project.duties.first().usual_point();
    assert_eq!(told(&project, &flat), []);
    let slope = told(&project, &on_slope(&project, 0.2, 0.0));
    assert!(slope.len() == 2, "{slope:#?}");
    assert!(
        slope.iter().any(|(rows, advice)| rows.starts_with("Rows 1 ")
            && advice.starts_with("that is the slope")
            && advice.contains("lower than the others")),
        "{slope:#?}"
    );
    assert!(
        slope.iter().any(|(rows, advice)| rows.ends_with(" 40") && advice.contains("higher than the others")),
        "{slope:#?}"
    );

    let mut long = project.clone();
    let feed = &mut long.routings[b].feeds[7];
    feed.first_tube_mut().unwrap().line.measured = Some(equirow::quantities::Length::metres(60.0));
    let tubes = told(&long, &flat);
    assert!(
        tubes.len() == 1 && tubes[0].1.starts_with("the tubes of this row (60.00 m against "),
        "{tubes:#?}"
    );

    let mut shares = project.clone();
    shares.bar.rows[11].share = 0.5;
    let metering = told(&shares, &flat);
    assert!(metering.len() == 1 && metering[0].0 == "Row 12", "{metering:#?}");
    assert!(
        metering[0].1.starts_with("the metering of this row passes more for what it should get"),
        "{metering:#?}"
    );

    let mut hanging = project.clone();
    hanging.bar.rows[11].outlet_height = equirow::quantities::Length::metres(1.9);
    let outlets = told(&hanging, &flat);
    assert!(
        outlets.len() == 1 && outlets[0].1.starts_with("the outlet of this row hangs 1.85 m higher"),
        "{outlets:#?}"
    );
}

/// The controller asks for rate, speed and the width that is open: 80 L/ha, 9 km/h and 0.3 m are 0.36 L/min a row. It knows
/// no shares, and not which rows pass anything; rows that are not plumbed yet are left out, and that is said.
#[test]
fn a_controller_asks_for_the_open_width_however_the_rows_share_it() {
    let project = files::demo();
    let point = project.duties.first().usual_point();
    let asked = |outcome: &Outcome, rows: f64| {
        let asked = outcome.target_total.as_litres_per_minute();
        assert!((asked - rows * 0.36).abs() < 1e-9, "{asked}");
        let total = outcome.numbers().unwrap().total_flow.as_litres_per_minute();
        assert!((total - rows * 0.36).abs() < 1e-6, "{total}");
        (outcome.rows_in_total().rows, outcome.rows_in_evenness().rows)
    };
    let mean = |outcome: &Outcome| outcome.evenness().unwrap().mean_deviation.as_percent();
    let of = |project: &Project| solve(project, &project.routings[0], &point);

    let mut shares = project.clone();
    shares.bar.rows[16].share = 0.5;
    let outcome = of(&shares);
    assert_eq!(asked(&outcome, 40.0), (40, 40));
    assert!((outcome.rows()[16].target.as_litres_per_minute() - 0.18).abs() < 1e-9);
    assert!(mean(&outcome) > 1.0, "all but one get more than their targets: {}", mean(&outcome));

    let mut stuck = project.clone();
    let feed = stuck.routings[0].feeds.iter().position(|feed| feed.feeds(stuck.bar.rows[16].id)).unwrap();
    let valve = stuck.routings[0].feeds[feed]
        .elements_mut()
        .find_map(|one| match one {
            FeedElement::Piece(ElementKind::CheckValve, key) => Some(key),
            _ => None,
        })
        .unwrap();
    let mut entry = stuck.catalogue.entries.iter().find(|entry| *valve == entry.key).unwrap().clone();
    *valve = ElementKey::new("stuck");
    entry.key = EntryKey::new("stuck");
    if let Item::Element(ElementItem::CheckValve(CheckValve { cracking, closing, .. })) = &mut entry.item {
        (*cracking, *closing) = (Pressure::bar(9.0), Pressure::bar(8.0));
    }
    stuck.catalogue.entries.push(entry);
    let outcome = of(&stuck);
    assert_eq!(outcome.rows()[16].state, RowState::ValveStaysShut);
    assert_eq!(asked(&outcome, 40.0), (40, 39), "it stays in the total");
    assert!((mean(&outcome) - 100.0 / 39.0).abs() < 1e-6, "the others get its liquid: {}", mean(&outcome));
    assert_eq!(rows_words(outcome.rows_in_total()), None);
    assert_eq!(rows_words(outcome.rows_in_evenness()).as_deref(), Some("39 of 40 rows"));

    let mut bare = project.clone();
    bare.routings[0].feeds.remove(feed);
    let outcome = of(&bare);
    assert_eq!(asked(&outcome, 39.0), (39, 39));
    assert!(mean(&outcome).abs() < 1e-6, "{}", mean(&outcome));
    assert_eq!(rows_words(outcome.rows_in_total()).as_deref(), Some("39 of 40 rows"));
}

/// A row that is left out while its feed is still there runs out: the network is that of all rows, with the total of those in
/// use. Equal to all forty rows in use at 39/40 of the rate, to the last row.
#[test]
fn a_left_out_row_that_is_plumbed_runs_out() {
    let project = files::demo();
    let point = project.duties.first().usual_point();
    let mut left_out = project.clone();
    left_out.bar.rows[16].left_out = true;
    let outcome = solve(&left_out, &left_out.routings[0], &point);
    let mut less = point;
    less.rate = point.rate * (39.0 / 40.0);
    let all = solve(&project, &project.routings[0], &less);
    let mut sum = 0.0;
    for (one, other) in outcome.rows().iter().zip(all.rows()) {
        let (one, other) = (one.flow.si(), other.flow.si());
        assert!((one / other - 1.0).abs() < 1e-9, "{one} {other}");
        sum += one;
    }
    let row = outcome.rows()[16];
    assert_eq!((row.state, row.target, row.deviation), (RowState::NotFed(NotFed::LeftOut), Flow::ZERO, None));
    assert!(row.flow.as_litres_per_minute() > 0.3);
    assert!((outcome.numbers().unwrap().total_flow.si() / sum - 1.0).abs() < 1e-9);
    // 39 rows of 80 L/ha, 9 km/h and 0.3 m: 0.36 L/min each.
    assert!((outcome.target_total.as_litres_per_minute() - 39.0 * 0.36).abs() < 1e-9);
    assert_eq!(outcome.evenness().unwrap().rows, 39);
    let told = findings(&left_out, &outcome);
    let told = of_rule(&told, "left out but plumbed");
    assert!(told.len() == 1 && told[0].what.contains("L/min run out at 9 km/h"), "{told:#?}");
    // Without its feed it passes nothing and the others share all of it.
    left_out.routings[0].feeds.retain(|feed| !feed.feeds(row.row));
    let plugged = solve(&left_out, &left_out.routings[0], &point);
    assert_eq!(plugged.rows()[16].flow, Flow::ZERO);
    let in_use: f64 = plugged.rows().iter().map(|row| row.flow.si()).sum();
    assert!((in_use / outcome.target_total.si() - 1.0).abs() < 1e-9);
}

/// A row that gets nothing gets 0, not minus 0, and no network that is written has a minus 0 in it.
#[test]
fn nothing_is_printed_as_minus_nothing() {
    let mut project = files::demo();
    project.routings[0].feeds.truncate(30);
    for run in &mut project.routings[0].runs {
        run.fittings.clear();
    }
    let point = project.duties.first().usual_point();
    let outcome = solve(&project, &project.routings[0], &point);
    let dry: Vec<_> =
        outcome.rows().iter().filter(|row| row.state == RowState::NotFed(NotFed::NoFeed)).collect();
    assert_eq!(dry.len(), 10);
    assert!(dry.iter().all(|row| row.flow.si().is_sign_positive()));
    assert!(std::iter::empty::<Flow>().sum::<Flow>().si().is_sign_positive());
    let solved = solved_network(&project, &project.routings[0], &point).unwrap();
    let network = network_file::network_json(&solved.assembly.network, &solved.solution, &[]);
    let solution = network_file::solution_json(&solved.assembly.network, &solved.solution);
    for text in [network, solution] {
        let at = text.find("-0.0,").or_else(|| text.find("-0.0}"));
        assert_eq!(at.map(|at| &text[at.saturating_sub(60)..at + 5]), None);
    }
}

/// What is joined with what does not depend on the liquid.
#[test]
fn without_a_known_liquid_rows_are_connected_and_have_no_numbers() {
    let mut project = files::demo();
    project.duties.first_mut().liquid.points.clear();
    project.routings[0].feeds.pop();
    let outcome = solve(&project, &project.routings[0], &project.duties.first().usual_point());
    assert!(matches!(outcome.result, Err(NoNumbers::Failed { blame: None, .. })), "{:?}", outcome.result);
    let not_connected = outcome.connections.iter().filter_map(|row| row.connected.err());
    assert_eq!(not_connected.collect::<Vec<_>>(), [NotFed::NoFeed]);
    assert!(outcome.rows().is_empty() && outcome.evenness().is_none());
    let not_fed = findings(&project, &outcome).into_iter().filter(|one| one.kind.rule == "not fed");
    assert_eq!(not_fed.count(), 1, "the row without a feed alone");
}
