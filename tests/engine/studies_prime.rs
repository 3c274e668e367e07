//! Priming whole bars: volumes by hand, and what the pump gives is what the lines take.

use std::f64::consts::FRAC_PI_4;

use equirow::hydraulics::{RowState, solve};
use equirow::plan::{
    BarPoint, ElementItem, ElementKey, ElementKind, EntryKey, FeedElement, FoldPosition, FoldedBar, Item,
    OperatingPoint, Project, RoutingGeometry,
};
use equirow::quantities::{Angle, Length, Pressure};
use equirow::studies::prime::{Holds, PrimeStudy, study};
use equirow::studies::{NoAnswer, Studied, Unwatched, Waiting};

use crate::studies_pressure::{EXAMPLES, example};

fn primed(project: &Project) -> PrimeStudy {
    primed_at(project, project.duties.first().usual_point())
}

fn primed_at(project: &Project, point: OperatingPoint) -> PrimeStudy {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    study(&Studied { project, routing: geometry.with(routing), point }, &Unwatched).unwrap()
}

fn circle(bore: Length) -> f64 {
    FRAC_PI_4 * bore.si() * bore.si()
}

/// Hoses and tubes hold π/4 d² L each, worked out here from the lengths of the solve and the bores of the catalogue.
#[test]
fn lines_hold_their_section_times_their_length() {
    for name in EXAMPLES {
        let project = example(name);
        let routing = &project.routings[0];
        let outcome = solve(&project, routing, &project.duties.first().usual_point());
        let told = primed(&project).by_kind();
        let hoses: f64 = routing
            .runs
            .iter()
            .filter_map(|run| {
                let length = outcome.run(run.id)?.flow.and(outcome.run(run.id)?.length)?;
                Some(circle(project.catalogue.stock(&run.line.stock)?.bore) * length.si())
            })
            .sum();
        assert!((told[&Holds::Hoses].si() / hoses - 1.0).abs() < 1e-9, "{name}");
        let tubes: f64 = outcome
            .elements()
            .iter()
            .filter_map(|one| {
                let feed = routing.feed(one.feed)?;
                let element = match one.branch {
                    None => &feed.trunk[one.index],
                    Some(branch) => &feed.branches[branch].elements[one.index],
                };
                let FeedElement::Tube(tube) = element else { return None };
                one.flow?;
                Some(circle(project.catalogue.stock(&tube.line.stock)?.bore) * one.length?.si())
            })
            .sum();
        assert!((told[&Holds::Tubes].si() / tubes - 1.0).abs() < 1e-9, "{name}");
    }
}

/// A metered pump gives its flow from the beginning: by the time the last front has come to its end it has given as much as
/// the lines hold, and what the first rows let go meanwhile.
#[test]
fn what_the_pump_gives_is_in_the_lines_or_has_left() {
    for name in EXAMPLES {
        let project = example(name);
        let outcome = solve(&project, &project.routings[0], &project.duties.first().usual_point());
        let told = primed(&project);
        let [first, last] = told.first_and_last().unwrap();
        let (first, last) = (first.fill_s.unwrap(), last.fill_s.unwrap());
        assert!(0.0 < first && first < last, "{name}: {first} to {last} s");
        let flow = outcome.numbers().unwrap().total_flow.si();
        assert!((told.supplied.si() / (flow * last) - 1.0).abs() < 1e-3, "{name}");
        assert!(told.supplied.si() >= told.held.si() * 0.999, "{name}");
        // No row has liquid before its own way is full at the whole flow, and none after all lines are at its own.
        for row in &told.rows {
            assert!(row.fill_s.is_none_or(|time| time >= row.way.si() / flow), "{name} row {}", row.number);
        }
        assert_eq!(told, primed(&project), "the same each time");
    }
}

/// Air locks nothing in that flows once it is full: each row that is fed comes to have liquid, however slow, on slopes too.
#[test]
fn every_row_that_is_fed_comes_to_have_liquid() {
    for (name, cases) in [
        (EXAMPLES[0], &[(0.2, 0.0), (0.5, 0.1), (1.0, -0.15)][..]),
        (EXAMPLES[1], &[(0.2, 0.0), (1.0, -0.15)]),
        (EXAMPLES[2], &[(0.2, 0.0)]),
    ] {
        let project = example(name);
        let usual = project.duties.first().usual_point();
        for (speed, slope) in cases.iter().copied() {
            let point =
                OperatingPoint { speed: usual.speed * speed, side_slope: Angle::from_si(slope), ..usual };
            let outcome = solve(&project, &project.routings[0], &point);
            let fed = outcome.rows().iter().filter(|row| row.state == RowState::Fed);
            let dry = primed_at(&project, point).dry_rows();
            for row in fed {
                assert!(!dry.contains(&row.number), "{name} at {speed} on {slope}: row {}", row.number);
            }
        }
    }
}

/// Twice the flow fills in half the time, but for what heights do to the lines that fill together.
#[test]
fn at_twice_the_flow_it_takes_nearly_half_as_long() {
    let project = example("nine-metre-bar.ron");
    let mut fast = project.clone();
    fast.duties.first_mut().rate = project.duties.first().rate * 2.0;
    let time = |project: &Project| primed(project).first_and_last().unwrap()[1].fill_s.unwrap();
    let ratio = time(&project) / time(&fast);
    assert!((1.8..=2.05).contains(&ratio), "{ratio}");
}

/// With the pump off: valves that shut above what stands on them hold, valves that don't let the lines run out.
#[test]
fn a_bar_drains_where_its_valves_do_not_hold() {
    let mut project = example("nine-metre-bar.ron");
    let mut closing = |pressure: Pressure| {
        for entry in &mut project.catalogue.entries {
            if let Item::Element(ElementItem::CheckValve(valve)) = &mut entry.item {
                valve.closing = pressure;
            }
        }
        primed(&project)
    };
    let held = closing(Pressure::bar(0.5));
    assert!(held.drained.iter().all(|one| one.open_rows.is_empty() && one.above_level.si() == 0.0));
    let open = closing(Pressure::bar(0.0));
    let level = &open.drained[0];
    assert_eq!(level.open_rows.len(), 36);
    assert!(level.above_level.si() > 0.5 * open.held.si(), "{:?}", level.above_level);
    // Closing at what stands on the valves less a little: the level sinks a little only.
    let partly = closing(Pressure::bar(0.05));
    assert!(partly.drained[0].above_level <= level.above_level);
    // What hangs below the valves is there either way.
    assert_eq!(held.drained[0].below_valves, level.below_valves);
}

/// Place by place along every straight piece of every hose and tube, 2000 in each: what lies over the level at which the valves,
/// all 0.05 m high, shut. Between the ends of the lines alone it would be a quarter less. Bodies of parts come on top.
#[test]
fn what_drains_is_reckoned_along_the_way_as_drawn() {
    let project = example("nine-metre-bar.ron");
    let study = primed(&project);
    let level = &study.drained[0];
    assert_eq!(level.open_rows.len(), project.bar.rows.len(), "all drain");
    let outcome = solve(&project, &project.routings[0], &project.duties.first().usual_point());
    let density = outcome.liquid.unwrap().density.si();
    let closing = project.catalogue.entries.iter().find_map(|entry| match &entry.item {
        Item::Element(ElementItem::CheckValve(valve)) if entry.key == EntryKey::new("check-valve-0.10") => {
            Some(valve.closing)
        }
        _ => None,
    });
    let shuts = 0.05 + closing.unwrap().si() / (density * 9.80665);
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let above = |path: &[BarPoint]| {
        let (mut above, mut all) = (0.0, 0.0);
        for pair in path.windows(2) {
            let length = pair[0].place.distance(pair[1].place);
            let (from, to) = (pair[0].place.z, pair[1].place.z);
            let places = (0..2000).map(|at| from + (to - from) * (f64::from(at) + 0.5) / 2000.0);
            above += length * places.filter(|z| *z > shuts).count() as f64 / 2000.0;
            all += length;
        }
        above / all
    };
    let bore = |key| project.catalogue.stock(key).unwrap().bore;
    let mut expected = 0.0;
    for run in &routing.runs {
        let laid = geometry.run(run.id).unwrap();
        expected += circle(bore(&run.line.stock)) * laid.length.si() * above(&laid.path);
    }
    for feed in &routing.feeds {
        for (element, laid) in feed.elements().zip(geometry.feed(feed.id).unwrap().elements()) {
            let (FeedElement::Tube(tube), Some(laid)) = (element, &laid.tube) else { continue };
            expected += circle(bore(&tube.line.stock)) * laid.length.si() * above(&laid.path);
        }
    }
    let (litres, expected) = (level.above_level.si() * 1e3, expected * 1e3);
    let lines = [Holds::Hoses, Holds::Tubes];
    let bodies = study.by_kind().into_iter().filter(|(of, _)| !lines.contains(of));
    let bodies: f64 = bodies.map(|(_, volume)| volume.si() * 1e3).sum();
    assert!(expected > 2.7, "{expected} L");
    let (extra, steps) = (litres - expected, 1e-3 * expected);
    assert!((-steps..=bodies + steps).contains(&extra), "{litres} L, {expected} L and {bodies} L");
}

/// A line that ends at a valve that holds stays full: nothing lets air in.
#[test]
fn lines_to_valves_that_hold_do_not_drain() {
    let mut project = example("nine-metre-bar.ron");
    let mut holding = None;
    for entry in &mut project.catalogue.entries {
        if let Item::Element(ElementItem::CheckValve(valve)) = &mut entry.item {
            valve.closing = Pressure::ZERO;
            holding = Some(entry.clone());
        }
    }
    let open = primed(&project);
    let mut entry = holding.unwrap();
    entry.key = EntryKey::new("valve-that-holds");
    if let Item::Element(ElementItem::CheckValve(valve)) = &mut entry.item {
        valve.closing = Pressure::bar(0.5);
    }
    project.catalogue.entries.push(entry);
    let key = project.catalogue.key::<ElementKey>(&EntryKey::new("valve-that-holds")).unwrap();
    let feed = &mut project.routings[0].feeds[4];
    let tag = feed.tag.clone();
    for element in &mut feed.branches[0].elements.iter_mut().chain(&mut feed.trunk) {
        if let FeedElement::Piece(ElementKind::CheckValve, entry) = element {
            *entry = key.clone();
        }
    }
    let held = primed(&project);
    assert_eq!(held.drained[0].open_rows.len(), open.drained[0].open_rows.len() - 1);
    let line = open.lines.iter().find(|line| line.tag == tag && line.what == Holds::Tubes).unwrap();
    let stays = open.drained[0].above_level - held.drained[0].above_level;
    assert!(stays.si() > 0.0 && stays.si() <= line.volume.si() * (1.0 + 1e-9), "{stays:?} of {line:?}");
    // And of all positions the worst is told, not the first that fails.
    let worst = held.worst_drained().unwrap().above_level;
    assert!(held.drained.iter().all(|one| one.above_level <= worst));
}

#[test]
fn whoever_waits_can_stop_and_what_is_not_plumbed_is_refused() {
    struct Impatient;
    impl Waiting for Impatient {
        fn so_far(&self, _: f32) {}
        fn has_stopped(&self) -> bool {
            true
        }
    }
    let mut project = example("six-metre-trial-bar.ron");
    let ask = |project: &Project, waiting: &dyn Waiting| {
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(project, routing);
        let point = project.duties.first().usual_point();
        study(&Studied { project, routing: geometry.with(routing), point }, waiting)
    };
    assert_eq!(ask(&project, &Impatient), Err(NoAnswer::Stopped));
    project.routings[0].runs.clear();
    assert!(matches!(ask(&project, &Unwatched), Err(NoAnswer::Impossible { .. })));
}

/// Folded for the road, with valves that hold: what stands above the tank's surface, by 2000 places along every straight piece of
/// hose and delivery tube at the heights that the fold gives; bodies of manifolds come on top.
#[test]
fn what_stands_above_the_tank_on_the_road_is_what_lies_higher_place_by_place() {
    for name in ["six-metre-trial-bar.ron", "nine-metre-bar.ron"] {
        let mut project = example(name);
        for entry in &mut project.catalogue.entries {
            if let Item::Element(ElementItem::CheckValve(valve)) = &mut entry.item {
                valve.closing = Pressure::bar(0.9);
            }
        }
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let transport = FoldedBar::at(&project.bar, FoldPosition::TRANSPORT);
        let surface = project.supply.tank_surface.si();
        let share = |path: &[BarPoint]| {
            let (mut above, mut all) = (0.0, 0.0);
            for pair in path.windows(2) {
                let length = pair[0].place.distance(pair[1].place);
                let (from, to) = (transport.place(pair[0]).z, transport.place(pair[1]).z);
                let places = (0..2000).map(|at| from + (to - from) * (f64::from(at) + 0.5) / 2000.0);
                above += length * places.filter(|z| *z > surface).count() as f64 / 2000.0;
                all += length;
            }
            above / all
        };
        let mut expected = 0.0;
        for run in &routing.runs {
            let laid = geometry.run(run.id).unwrap();
            let bore = project.catalogue.stock(&run.line.stock).unwrap().bore;
            expected += circle(bore) * laid.length.si() * share(&laid.path);
        }
        for feed in &routing.feeds {
            let lies = geometry.feed(feed.id).unwrap();
            for (element, laid) in feed.elements().zip(lies.elements()) {
                let (FeedElement::Tube(tube), Some(laid)) = (element, &laid.tube) else { continue };
                let bore = project.catalogue.stock(&tube.line.stock).unwrap().bore;
                expected += circle(bore) * laid.length.si() * share(&laid.path);
            }
        }
        let study = primed(&project);
        let told = study.folded().unwrap();
        assert!(
            told.open_rows.is_empty() && told.air_rows.is_empty() && told.above_level.si() == 0.0,
            "{told:?}"
        );
        let bodies = study.by_kind()[&Holds::Manifolds].si();
        let extra = told.held_above.si() - expected;
        assert!(expected > 1e-4, "{name}: wings stand above the tank");
        assert!((-1e-3 * expected..=bodies).contains(&extra), "{name}: {} {expected}", told.held_above.si());
        assert!(!told.air_collects.is_empty());
    }
}

/// With valves as they are the centre of the nine-metre bar drains on the road and its wings, which stand up with all their
/// valves shut, hang: their manifolds (bodies of 12 outlets, 50 mm apart, 20 mm bore, by hand) are among what is held.
#[test]
fn wings_whose_rows_all_hold_keep_their_hoses_and_manifolds_while_the_centre_drains() {
    let study = primed(&example("nine-metre-bar.ron"));
    let told = study.folded().unwrap();
    assert!(
        !told.open_rows.is_empty() && told.open_rows.iter().all(|row| (13..=24).contains(row)),
        "{told:?}"
    );
    let body = std::f64::consts::PI / 4.0 * 0.02_f64.powi(2) * 11.0 * 0.05;
    assert!(told.held_above.si() > 2.0 * body, "{told:?}");
}

/// Without a check valve on its outermost row air comes in at the top of a wing that stands up, and what stood above the tank's
/// surface on that way sinks back.
#[test]
fn an_open_row_above_the_tank_lets_the_wing_run_empty_on_the_road() {
    let mut project = example("six-metre-trial-bar.ron");
    for feed in &mut project.routings[0].feeds {
        for branch in &mut feed.branches {
            branch.elements.retain(|one| !matches!(one, FeedElement::Piece(ElementKind::CheckValve, _)));
        }
    }
    let study = primed(&project);
    let told = study.folded().unwrap();
    let surface = project.supply.tank_surface.si();
    let transport = FoldedBar::at(&project.bar, FoldPosition::TRANSPORT);
    let high = project.bar.rows.iter().filter(|row| !row.left_out).filter(|row| {
        let at = BarPoint { place: project.bar.outlet(row), section: row.section };
        transport.place(at).z > surface
    });
    let high: Vec<u32> = high.map(|row| row.number).collect();
    assert!(!high.is_empty());
    assert_eq!(told.air_rows, high);
    assert!(told.above_level.si() > 0.0, "{told:?}");
    let plumbed = project.bar.rows.iter().filter(|row| !row.left_out).count();
    assert_eq!(told.without_valve.len(), plumbed);
}
