//! A prepared routing with other numbers gives what the edited project gives, and its derivatives are those of full solves.

use crate::random_networks::Random;
use equirow::files;
use equirow::hydraulics::outcome::{ElementOutcome, Outcome, SupplyState};
use equirow::hydraulics::prepared::{KeptSolver, PreparedRouting};
use equirow::hydraulics::resistance::VariedQuantity;
use equirow::hydraulics::solver::response::Derivative;
use equirow::hydraulics::variation::{CannotVary, ElementId, LiquidQuantity, Parameter, SupplyQuantity};
use equirow::hydraulics::{SupplyLimit, solve};
use equirow::plan::{CheckValve, Fitting, InletFilter, Manifold, MeteringOrifice, SectionValve, Tee};
use equirow::plan::{
    Control, CurvePoint, ElementItem, ElementKey, ElementKind, EntryKey, FeedElement, FittingItem,
    FittingKey, Item, Key as _, LiquidPoint, OperatingPoint, PartItem, PartKey, Project, Routing,
    RoutingGeometry, StockItem, StockKey, validate,
};
use equirow::quantities::{Angle, Density, Flow, Length, Pressure, Viscosity};
use equirow::sheets::commissioning::commissioning_sheet;
use std::path::Path;

fn example(name: &str) -> Project {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    files::open(&folder.join(name)).unwrap()
}

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn curve(points: &[(f64, f64)]) -> Vec<CurvePoint> {
    let point = |(flow, pressure): &(f64, f64)| CurvePoint {
        flow: Flow::litres_per_minute(*flow),
        pressure: Pressure::bar(*pressure),
    };
    points.iter().map(point).collect()
}

/// The examples, and what is hard: valves that hardly open, a supply at its limits, a pump on its curve, coiled tubes.
fn cases() -> Vec<(String, Project)> {
    let mut cases: Vec<(String, Project)> =
        EXAMPLES.into_iter().map(|name| (name.to_owned(), example(name))).collect();
    let demo = example("twelve-metre-bar.ron");
    let asked = solve(&demo, &demo.routings[0], &demo.duties.first().usual_point());
    let (pump, total) = (asked.numbers().unwrap().pump_pressure, asked.numbers().unwrap().total_flow);
    let mut add = |name: &str, change: &dyn Fn(&mut Project)| {
        let mut project = demo.clone();
        change(&mut project);
        assert!(validate::supply(&project.supply).is_empty(), "{name}");
        cases.push((name.to_owned(), project));
    };
    add("nearly closed valves", &|project| {
        for entry in &mut project.catalogue.entries {
            if let Item::Element(ElementItem::CheckValve(CheckValve { cracking, .. })) = &mut entry.item {
                *cracking = pump * 1.5;
            }
        }
        project.duties.first_mut().rate = project.duties.first().rate * 0.02;
        project.supply.control = Control::Metered { limit: pump * 4.0 };
    });
    add("at its pressure limit", &|project| project.supply.control = Control::Metered { limit: pump * 0.7 });
    add("at its capacity", &|project| project.supply.pump_capacity = Some(total * 0.8));
    add("held", &|project| {
        project.supply.control = Control::Held { pressure: pump * 0.9 };
        project.supply.pump_capacity = None;
    });
    add("held beyond its capacity", &|project| {
        project.supply.control = Control::Held { pressure: pump * 2.0 };
        project.supply.pump_capacity = Some(total * 0.9);
    });
    let points = |at: f64| {
        vec![
            CurvePoint { flow: Flow::ZERO, pressure: pump * (at + 0.8) },
            CurvePoint { flow: total * 0.6, pressure: pump * (at + 0.3) },
            CurvePoint { flow: total * 2.0, pressure: pump * 0.1 },
        ]
    };
    add("metered on a weak pump", &|project| project.supply.pump_curve = points(0.5));
    add("on its curve", &|project| {
        project.supply.pump_curve = points(1.0);
        project.supply.control = Control::Uncontrolled;
        project.supply.pump_capacity = None;
    });
    add("coiled tubes", &|project| {
        let is_metering = |item: &StockItem| matches!(item, StockItem::MeteringTube(_));
        let tube: StockKey = project.catalogue.first(is_metering).unwrap();
        for feed in &mut project.routings[0].feeds {
            for element in feed.branches.iter_mut().flat_map(|branch| &mut branch.elements) {
                if let FeedElement::Piece(ElementKind::MeteringOrifice, _) = element {
                    *element = FeedElement::MeteringTube {
                        stock: tube.clone(),
                        length: Length::metres(1.7),
                        coil: Some(Length::metres(0.06)),
                    };
                }
            }
        }
        project.supply.control = Control::Metered { limit: Pressure::bar(40.0) };
    });
    cases
}

fn points(project: &Project) -> [OperatingPoint; 2] {
    let usual = project.duties.first().usual_point();
    let slope = Angle::degrees(4.0);
    [usual, OperatingPoint { side_slope: slope, fore_aft_slope: slope * -0.5, ..usual }]
}

fn flows(outcome: &Outcome) -> Vec<f64> {
    outcome.rows().iter().map(|row| row.flow.si()).collect()
}

fn pressures(outcome: &Outcome) -> Vec<f64> {
    let parts = outcome.parts().iter().map(|part| part.pressure.map_or(0.0, Pressure::si));
    parts.chain(outcome.numbers().map(|one| one.pump_pressure.si())).collect()
}

/// Differences of the fourth order over full solves. Their own error is that of the solves (1e-10 of the largest flow or
/// pressure, over the step), which is allowed, with 2e-6 of the derivative and 1e-6 of the largest one that the same number
/// makes. The step is 1e-4 of the number, but 1e-6 where valves hardly open: what flows there bends within some Pa.
#[test]
fn derivatives_are_those_of_full_solves() {
    let mut compared = 0;
    for (name, project) in cases() {
        for routing in &project.routings {
            for point in points(&project) {
                let mut kept = KeptSolver::default();
                let geometry = RoutingGeometry::working(&project, routing);
                let mut prepared = kept.prepare(&project, geometry.with(routing));
                let all = prepared.parameters();
                // Of several hundred alike every so many, and all of the liquid and the supply.
                let few: Vec<Parameter> = all
                    .iter()
                    .enumerate()
                    .filter(|(number, one)| {
                        number % (1 + all.len() / 40) == 0
                            || matches!(one, Parameter::Liquid(_) | Parameter::Supply(_))
                    })
                    .map(|(_, one)| *one)
                    .collect();
                let derivatives = prepared.derivatives(&point, &few).unwrap();
                // A part through which nothing flows is read at whichever of its ports rounding makes the first.
                let planned = prepared.solve(&point);
                let total = planned.numbers().unwrap().total_flow.si();
                let moves = |id| {
                    planned.part(id).and_then(|part| part.flow).is_some_and(|flow| flow.si() > 1e-6 * total)
                };
                assert_eq!(derivatives.len(), few.len());
                for found in &derivatives {
                    let value = prepared.value(found.parameter, &point).unwrap();
                    let step = if name.starts_with("nearly") { 1e-6 } else { 1e-4 } * value;
                    if step == 0.0 {
                        continue;
                    }
                    let mut at = |value: f64| {
                        prepared.set(found.parameter, value).unwrap();
                        let outcome = prepared.solve(&point);
                        prepared.reset();
                        (flows(&outcome), pressures(&outcome))
                    };
                    let four = [-2.0, -1.0, 1.0, 2.0].map(|steps| at(value + steps * step));
                    let rows_of: Vec<&[f64]> = four.iter().map(|one| one.0.as_slice()).collect();
                    let parts_of: Vec<&[f64]> = four.iter().map(|one| one.1.as_slice()).collect();
                    let rows = routing_rows(&project).map(|row| found.row(row).unwrap());
                    let parts =
                        routing.parts.iter().map(|part| found.part(part.id).filter(|_| moves(part.id)));
                    let pump = std::iter::once(found.pump);
                    let what = format!("{name}, {}, {:?}", routing.name, found.parameter);
                    near(&what, rows.map(Some), &rows_of, step);
                    near(&what, parts.chain(pump), &parts_of, step);
                    compared += 1;
                }
            }
        }
    }
    assert!(compared > 500, "{compared}");
    println!("{compared} numbers");
}

fn routing_rows(project: &Project) -> impl Iterator<Item = equirow::plan::RowId> {
    project.bar.rows.iter().map(|row| row.id)
}

#[track_caller]
fn near(what: &str, found: impl Iterator<Item = Option<Derivative>>, four: &[&[f64]], step: f64) {
    let by: Vec<f64> = (0..four[0].len())
        .map(|at| (8.0 * (four[2][at] - four[1][at]) - (four[3][at] - four[0][at])) / (12.0 * step))
        .collect();
    let found: Vec<Option<Derivative>> = found.collect();
    let known = by.iter().zip(&found).filter(|(_, found)| found.is_some());
    let largest = known.fold(0.0, |a: f64, (b, _)| a.max(b.abs()));
    let size = four[3].iter().fold(0.0, |a: f64, b| a.max(b.abs()));
    let noise = 1e-10 * size / step;
    for (number, (found, by)) in found.into_iter().zip(&by).enumerate() {
        let Some(found) = found else { continue };
        let Derivative::Smooth(found) = found else { panic!("{what}: a kink at {number}: {found:?}") };
        assert!(
            (found - by).abs() <= 2e-6 * by.abs() + 1e-6 * largest + noise,
            "{what}, number {number}: {found} {by}, largest {largest}, {:?}",
            four.iter().map(|one| one[number]).collect::<Vec<_>>()
        );
    }
}

/// At the pressure at which a check valve just opens, a row gains as that rises and loses nothing as it falls.
#[test]
fn at_the_opening_point_of_a_valve_the_derivative_has_two_sides() {
    let mut project = example("twelve-metre-bar.ron");
    project.supply.control = Control::Held { pressure: Pressure::bar(1.0) };
    project.supply.pump_capacity = None;
    let point = project.duties.first().usual_point();
    // One row's valve opens at exactly what stands on it while it is shut.
    let mut kept = KeptSolver::default();
    let routing = project.routings[0].clone();
    let geometry = RoutingGeometry::working(&project, &routing);
    let mut prepared = kept.prepare(&project, geometry.with(&routing));
    let outcome = prepared.solve(&point);
    let valve = outcome
        .elements()
        .iter()
        .find(|one| {
            prepared.value(Parameter::Element(one.id(), VariedQuantity::CrackingPressure), &point).is_some()
        })
        .unwrap();
    let crack = Parameter::Element(valve.id(), VariedQuantity::CrackingPressure);
    let row = routing.feed(valve.feed).unwrap().branches[0].row;
    let (mut open, mut shut) = (0.0, 1e6);
    for _ in 0..200 {
        let middle = 0.5 * (open + shut);
        prepared.set(crack, middle).unwrap();
        let flows = prepared.solve(&point).row(row).unwrap().flow.si() > 0.0;
        if flows { open = middle } else { shut = middle }
    }
    prepared.set(crack, shut).unwrap();
    let supply = Parameter::Supply(SupplyQuantity::Pressure);
    let found = prepared.derivatives(&point, &[supply, crack]).unwrap();
    let Some(Derivative::Kink { falling, rising }) = found[0].row(row) else {
        panic!("{:?}", found[0].row(row))
    };
    assert_eq!(falling, 0.0);
    let step = 5.0;
    let at = |prepared: &mut PreparedRouting, by: f64| {
        prepared.set(supply, 1e5 + by).unwrap();
        prepared.solve(&point).row(row).unwrap().flow.si()
    };
    let one_sided = at(&mut prepared, step) / step;
    // Behind the valve an orifice takes the square: the difference bends by some per cent over the step.
    assert!(rising > 0.0 && (one_sided / rising - 1.0).abs() < 0.1, "{one_sided} {rising}");
    assert_eq!(at(&mut prepared, -step), 0.0);
    // A higher cracking pressure keeps it shut, a lower one opens it.
    let Some(Derivative::Kink { falling, rising }) = found[1].row(row) else {
        panic!("{:?}", found[1].row(row))
    };
    assert_eq!(rising, 0.0);
    assert!(falling < 0.0);
}

/// Exactly at the limit of a metered supply its flow no longer rises with what is asked, and falls with it.
#[test]
fn at_a_supply_limit_the_derivative_has_two_sides() {
    let mut project = example("twelve-metre-bar.ron");
    let point = project.duties.first().usual_point();
    let routing = project.routings[0].clone();
    let limit = solve(&project, &routing, &point).numbers().unwrap().pump_pressure;
    project.supply.control = Control::Metered { limit };
    let mut kept = KeptSolver::default();
    let geometry = RoutingGeometry::working(&project, &routing);
    let mut prepared = kept.prepare(&project, geometry.with(&routing));
    let asked = Parameter::Supply(SupplyQuantity::MeteredFlow);
    let found = prepared.derivatives(&point, &[asked]).unwrap();
    let row = project.bar.rows[0].id;
    let Some(Derivative::Kink { falling, rising }) = found[0].row(row) else {
        panic!("{:?}", found[0].row(row))
    };
    assert!(rising.abs() < 1e-6 * falling && falling > 0.0, "{falling} {rising}");
    let sum = |side: fn(&Derivative) -> f64| {
        routing_rows(&project).map(|row| side(&found[0].row(row).unwrap())).sum::<f64>()
    };
    assert!((sum(Derivative::falling) - 1.0).abs() < 1e-9, "{}", sum(Derivative::falling));
}

/// One thing of a routing in a project of its own entry, so that an edit changes it alone.
fn own_entry(project: &mut Project, key: &EntryKey, change: impl FnOnce(&mut Item)) -> EntryKey {
    let mut entry = project.catalogue.entries.iter().find(|entry| entry.key == *key).unwrap().clone();
    entry.key = EntryKey::new(format!("{} changed", key.0));
    change(&mut entry.item);
    let own = entry.key.clone();
    project.catalogue.entries.push(entry);
    own
}

#[track_caller]
fn same(project: &Project, edited: &Project, routing: usize, set: &[(Parameter, f64)]) {
    for point in points(project) {
        let mut kept = KeptSolver::default();
        let geometry = RoutingGeometry::working(project, &project.routings[routing]);
        let mut prepared = kept.prepare(project, geometry.with(&project.routings[routing]));
        let before = prepared.solve(&point);
        for (parameter, value) in set {
            prepared.set(*parameter, *value).unwrap();
        }
        let varied = prepared.solve(&point);
        assert!(varied != before, "{set:?} changes something");
        let wanted = solve(edited, &edited.routings[routing], &point);
        assert!(varied == wanted, "{set:?}: {:?} {:?}", varied.result, wanted.result);
        prepared.reset();
        assert!(prepared.solve(&point) == before, "{set:?} taken back");
    }
}

/// Bit for bit: the network is the same number by number, and each solve starts from a cold guess.
#[test]
fn varied_and_solved_is_edited_and_solved() {
    for name in EXAMPLES {
        let project = example(name);
        let routing = &project.routings[0];
        let run = &routing.runs[1];
        let mut edited = project.clone();
        edited.routings[0].runs[1].line.measured = Some(Length::metres(3.21));
        same(&project, &edited, 0, &[(Parameter::Run(run.id, VariedQuantity::Length), 3.21)]);

        let mut edited = project.clone();
        let own = own_entry(&mut edited, &run.line.stock, |item| {
            let Item::Stock(StockItem::Hose(stock) | StockItem::Tube(stock) | StockItem::MeteringTube(stock)) =
                item
            else {
                panic!()
            };
            stock.bore = Length::metres(0.0123);
        });
        edited.routings[0].runs[1].line.stock = StockKey::of_entry(own);
        same(&project, &edited, 0, &[(Parameter::Run(run.id, VariedQuantity::Bore), 0.0123)]);

        for (place, part) in routing.parts.iter().enumerate() {
            let bore = Length::metres(0.0111);
            let mut edited = project.clone();
            let own = own_entry(&mut edited, &part.entry, |item| match item {
                Item::Part(
                    PartItem::InletFilter(InletFilter { bore: own, k, .. })
                    | PartItem::SectionValve(SectionValve { bore: own, k, .. }),
                ) => {
                    (*own, *k) = (bore, 7.5);
                }
                Item::Part(PartItem::Tee(Tee { bore: own, k_through, .. })) => {
                    (*own, *k_through) = (bore, 0.75);
                }
                Item::Part(PartItem::Manifold(Manifold { bore: own, k, .. })) => (*own, *k) = (bore, 7.5),
                _ => {}
            });
            edited.routings[0].parts[place].entry = PartKey::of_entry(own);
            let k = match project.catalogue.item(&part.entry).unwrap() {
                PartItem::Tee(_) => 0.75,
                PartItem::InletFilter(_) | PartItem::SectionValve(_) | PartItem::Manifold(_) => 7.5,
                _ => continue,
            };
            let set = [(VariedQuantity::Bore, bore.si()), (VariedQuantity::Coefficient, k)];
            let set = set.map(|(quantity, value)| (Parameter::Part(part.id, quantity), value));
            same(&project, &edited, 0, &set);
        }

        let mut edited = project.clone();
        // One line of the table, so that nothing is rounded between two.
        edited.duties.first_mut().liquid.points.truncate(1);
        edited.duties.first_mut().liquid.points[0] = LiquidPoint {
            temperature: project.duties.first().usual_point().temperature,
            density: Density::from_si(1077.0),
            viscosity: Viscosity::from_si(0.0033),
        };
        let set = [(LiquidQuantity::Density, 1077.0), (LiquidQuantity::Viscosity, 0.0033)];
        same(&project, &edited, 0, &set.map(|(quantity, value)| (Parameter::Liquid(quantity), value)));

        let mut edited = project.clone();
        edited.supply.control = Control::Metered { limit: Pressure::bar(0.6) };
        same(&project, &edited, 0, &[(Parameter::Supply(SupplyQuantity::Pressure), 0.6e5)]);
        let few = Flow::litres_per_minute(3.0);
        edited.supply = project.supply.clone();
        edited.supply.pump_capacity = Some(few);
        same(&project, &edited, 0, &[(Parameter::Supply(SupplyQuantity::Capacity), few.si())]);
    }
}

/// The elements of one row feed, one after the other.
#[test]
fn a_varied_row_feed_is_an_edited_one() {
    let mut kinds = Vec::new();
    for name in EXAMPLES {
        let project = example(name);
        for (number, routing) in project.routings.iter().enumerate() {
            let outcome = solve(&project, routing, &project.duties.first().usual_point());
            let places = [2, routing.feeds.len() - 1];
            let own = |one: &&ElementOutcome| places.iter().any(|at| routing.feeds[*at].id == one.feed);
            for one in outcome.elements().iter().filter(own) {
                let place = routing.feeds.iter().position(|feed| feed.id == one.feed).unwrap();
                let element = element(routing, place, one.branch, one.index);
                let id: ElementId = one.id();
                let mut edited = project.clone();
                let mut set = Vec::new();
                let key = element.entry().clone();
                let own = own_entry(&mut edited, &key, |item| {
                    let mut take = |quantity, value| set.push((Parameter::Element(id, quantity), value));
                    match item {
                        Item::Stock(
                            StockItem::Tube(stock) | StockItem::Hose(stock) | StockItem::MeteringTube(stock),
                        ) => {
                            stock.bore = stock.bore * 0.9;
                            take(VariedQuantity::Bore, stock.bore.si());
                        }
                        Item::Element(ElementItem::CheckValve(CheckValve { cracking, k, bore, .. })) => {
                            (*cracking, *k, *bore) = (*cracking * 1.1, *k + 1.0, *bore * 0.9);
                            take(VariedQuantity::CrackingPressure, cracking.si());
                            take(VariedQuantity::Coefficient, *k);
                            take(VariedQuantity::Bore, bore.si());
                        }
                        Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore, cd, .. })) => {
                            (*bore, *cd) = (*bore * 0.9, *cd * 1.02);
                            take(VariedQuantity::Bore, bore.si());
                            take(VariedQuantity::DischargeCoefficient, *cd);
                        }
                        Item::Fitting(FittingItem::Fitting(Fitting { bore, k, .. })) => {
                            (*bore, *k) = (*bore * 0.9, *k + 1.0);
                            take(VariedQuantity::Bore, bore.si());
                            take(VariedQuantity::Coefficient, *k);
                        }
                        _ => {}
                    }
                });
                kinds.push(element.kind());
                let feed = &mut edited.routings[number].feeds[place];
                let list = match one.branch {
                    None => &mut feed.trunk,
                    Some(branch) => &mut feed.branches[branch].elements,
                };
                match &mut list[one.index] {
                    FeedElement::Tube(tube) => {
                        tube.line.stock = StockKey::of_entry(own);
                        tube.line.measured = Some(Length::metres(1.43));
                        set.push((Parameter::Element(id, VariedQuantity::Length), 1.43));
                    }
                    FeedElement::MeteringTube { stock, length, .. } => {
                        (*stock, *length) = (StockKey::of_entry(own), Length::metres(0.77));
                        set.push((Parameter::Element(id, VariedQuantity::Length), 0.77));
                    }
                    FeedElement::Piece(_, entry) => *entry = ElementKey::of_entry(own),
                    FeedElement::Fitting(entry) => *entry = FittingKey::of_entry(own),
                }
                same(&project, &edited, number, &set);
            }
        }
    }
    kinds.sort_unstable();
    kinds.dedup();
    assert!(kinds.len() >= 4, "{kinds:?}");
}

fn element(routing: &Routing, feed: usize, branch: Option<usize>, index: usize) -> &FeedElement {
    let feed = &routing.feeds[feed];
    match branch {
        None => &feed.trunk[index],
        Some(branch) => &feed.branches[branch].elements[index],
    }
}

#[test]
fn what_can_not_be_varied_is_refused_and_changes_nothing() {
    let project = example("twelve-metre-bar.ron");
    let point = project.duties.first().usual_point();
    let mut kept = KeptSolver::default();
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let mut prepared = kept.prepare(&project, geometry.with(routing));
    let before = prepared.solve(&point);
    let length = Parameter::Run(routing.runs[0].id, VariedQuantity::Length);
    for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(prepared.set(length, value), Err(CannotVary::OutOfRange));
    }
    let nowhere = Parameter::Run(routing.runs[0].id, VariedQuantity::CrackingPressure);
    assert_eq!(prepared.set(nowhere, 1.0), Err(CannotVary::NotThere));
    assert_eq!(
        prepared.set(Parameter::Supply(SupplyQuantity::CurvePressure), 0.9),
        Err(CannotVary::NotThere)
    );
    let filter = routing
        .parts
        .iter()
        .find(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::InletFilter(_))))
        .unwrap();
    let k = Parameter::Part(filter.id, VariedQuantity::Coefficient);
    assert_eq!(prepared.set(k, 0.0), Err(CannotVary::TakesNothing));
    assert_eq!(prepared.solve(&point), before);
}

/// Where a pump's curve meets what the bar takes: found by halving over held flows, which know nothing of curves.
#[test]
fn a_pump_runs_where_its_curve_meets_the_bar() {
    let project = example("twelve-metre-bar.ron");
    let random = &mut Random::new(11);
    for (number, routing) in project.routings.iter().enumerate() {
        for point in points(&project) {
            let usual = solve(&project, routing, &point);
            let (pump, total) = (usual.numbers().unwrap().pump_pressure, usual.numbers().unwrap().total_flow);
            let mut on_curve = project.clone();
            on_curve.supply.control = Control::Uncontrolled;
            on_curve.supply.pump_capacity = None;
            let bend = random.between(0.3, 1.2);
            on_curve.supply.pump_curve = vec![
                CurvePoint { flow: Flow::ZERO, pressure: pump * random.between(1.3, 3.0) },
                CurvePoint { flow: total * bend, pressure: pump * random.between(0.7, 1.2) },
                CurvePoint { flow: total * (bend + 1.5), pressure: pump * 0.05 },
            ];
            let outcome = solve(&on_curve, &on_curve.routings[number], &point);
            assert_eq!(outcome.numbers().map(|one| one.supply), Some(SupplyState::AsAsked));
            let at_flow = |flow: f64| {
                let mut kept = KeptSolver::default();
                let geometry = RoutingGeometry::working(&project, routing);
                let mut prepared = kept.prepare(&project, geometry.with(routing));
                prepared.set(Parameter::Supply(SupplyQuantity::Pressure), 1e8).unwrap();
                prepared.set(Parameter::Supply(SupplyQuantity::Capacity), 1.0).unwrap();
                prepared.set(Parameter::Supply(SupplyQuantity::MeteredFlow), flow).unwrap();
                prepared.solve(&point).numbers().unwrap().pump_pressure.si()
            };
            let gives = |flow: f64| {
                let pair =
                    on_curve.supply.pump_curve.windows(2).find(|pair| flow <= pair[1].flow.si()).unwrap();
                let (from, to) = (pair[0], pair[1]);
                let part = (flow - from.flow.si()) / (to.flow.si() - from.flow.si());
                from.pressure.si() + part * (to.pressure.si() - from.pressure.si())
            };
            let (mut low, mut high) = (1e-3 * total.si(), (bend + 1.5) * total.si());
            for _ in 0..45 {
                let middle = 0.5 * (low + high);
                if at_flow(middle) < gives(middle) { low = middle } else { high = middle }
            }
            let found = outcome.numbers().unwrap().total_flow.si();
            assert!((found / low - 1.0).abs() < 1e-8, "{found} {low}");
            let pressure = outcome.numbers().unwrap().pump_pressure.si();
            assert!((pressure / gives(low) - 1.0).abs() < 1e-8, "{pressure} {}", gives(low));
        }
    }
}

/// The same pump under each control: what holds it is said, and its pressure is never above any of its limits.
#[test]
fn what_limits_a_supply_is_said() {
    let project = example("twelve-metre-bar.ron");
    let (routing, point) = (&project.routings[0], project.duties.first().usual_point());
    let usual = solve(&project, routing, &point);
    let (pump, total) =
        (usual.numbers().unwrap().pump_pressure.si() / 1e5, usual.numbers().unwrap().total_flow);
    let litres = total.as_litres_per_minute();
    let with = |control: Control, points: &[(f64, f64)], capacity: Option<Flow>| {
        let mut project = project.clone();
        project.supply.control = control;
        project.supply.pump_curve = curve(points);
        project.supply.pump_capacity = capacity;
        assert!(validate::supply(&project.supply).is_empty());
        solve(&project, &project.routings[0], &point)
    };
    let by = |outcome: &Outcome| outcome.at_limit().map(|(_, by)| by);
    let supply = |outcome: &Outcome| outcome.numbers().map(|numbers| numbers.supply);
    let metered = |limit: f64| Control::Metered { limit: Pressure::bar(limit) };
    let strong = [(0.0, 3.0 * pump), (2.0 * litres, 2.0 * pump)];
    let weak = [(0.0, 1.5 * pump), (0.5 * litres, 0.8 * pump), (2.0 * litres, 0.1 * pump)];
    // A strong pump changes nothing of a metered flow, to the last digit.
    let same = with(metered(4.0), &strong, None);
    assert_eq!((supply(&same), flows(&same)), (Some(SupplyState::AsAsked), flows(&usual)));
    assert_eq!(by(&with(metered(4.0), &weak, None)), Some(SupplyLimit::PumpCurve));
    assert_eq!(by(&with(metered(0.6 * pump), &strong, None)), Some(SupplyLimit::Pressure));
    assert_eq!(by(&with(metered(4.0), &strong, Some(total * 0.5))), Some(SupplyLimit::Capacity));
    // Ends of its curve bound its flow.
    let short = [(0.0, 9.0 * pump), (0.6 * litres, 8.0 * pump)];
    let ended = with(metered(4.0), &short, None);
    assert_eq!(by(&ended), Some(SupplyLimit::Capacity));
    assert!((ended.numbers().unwrap().total_flow / total - 0.6).abs() < 1e-9);
    let held = |pressure: f64| Control::Held { pressure: Pressure::bar(pressure) };
    assert_eq!(supply(&with(held(pump), &strong, None)), Some(SupplyState::AsAsked));
    assert_eq!(by(&with(held(pump), &weak, None)), Some(SupplyLimit::PumpCurve));
    let (shortfall, by) = with(held(pump), &[], Some(total * 0.7)).at_limit().unwrap();
    assert_eq!(by, SupplyLimit::Capacity);
    assert!((shortfall / total - 0.3).abs() < 1e-6, "{}", shortfall / total);
    assert_eq!(supply(&with(Control::Uncontrolled, &weak, None)), Some(SupplyState::AsAsked));
}

#[test]
fn a_pump_curve_that_is_none_is_refused_with_what_to_try() {
    let supply = |points: &[(f64, f64)], control: Control| {
        let mut supply = example("twelve-metre-bar.ron").supply;
        supply.pump_curve = curve(points);
        supply.control = control;
        validate::supply(&supply).lines().collect::<Vec<_>>().join("\n")
    };
    let metered = Control::Metered { limit: Pressure::bar(4.0) };
    for (points, word) in [
        (&[(0.0, 3.0)][..], "one point"),
        (&[(1.0, 3.0), (2.0, 2.0)], "begin at no flow"),
        (&[(0.0, 3.0), (2.0, 3.0)], "fall in pressure"),
        (&[(0.0, 3.0), (2.0, 2.0), (2.0, 1.0)], "rise in flow"),
        (&[(0.0, 3.0), (2.0, -1.0)], "pressure of the pump's curve, point 2"),
        (&[(0.0, f64::INFINITY), (2.0, 1.0)], "point 1"),
        (&[(0.0, f64::NAN), (2.0, 1.0)], "point 1"),
    ] {
        let told = supply(points, metered);
        assert!(told.contains(word) && told.contains("; "), "{points:?}: {told}");
    }
    assert!(supply(&[], Control::Uncontrolled).contains("no curve"));
    assert_eq!(supply(&[(0.0, 3.0), (2.0, 0.0)], Control::Uncontrolled), "");
    let many: Vec<(f64, f64)> = (0..51).map(|n| (f64::from(n), 100.0 - f64::from(n))).collect();
    assert!(supply(&many, metered).contains("50"), "{}", supply(&many, metered));
}

/// The commissioning sheet says what controls the pump and gives its curve point by point; without one it says nothing.
#[test]
fn the_commissioning_sheet_gives_the_pump_curve() {
    let mut project = example("twelve-metre-bar.ron");
    let words = |project: &Project| {
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(project, routing);
        format!("{:?}", commissioning_sheet(project, geometry.with(routing), project.duties.first()))
    };
    assert!(!words(&project).contains("Pump curve"));
    project.supply.pump_curve = curve(&[(0.0, 3.5), (12.5, 2.25), (31.0, 0.5)]);
    assert!(
        words(&project).contains("3.50 bar at 0.0 L/min, 2.25 bar at 12.5 L/min, 0.50 bar at 31.0 L/min")
    );
    assert!(words(&project).contains("metered flow"));
    project.supply.control = Control::Uncontrolled;
    assert!(words(&project).contains("nothing controlled: the pump runs on its curve"));
}
