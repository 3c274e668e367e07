//! Bars that are wrong on purpose: each rule of the findings has one on which it speaks. A rule without one fails here.

use std::path::Path;

use equirow::checks::{RULES, all_findings};
use equirow::files;
use equirow::geometry::Point3;
use equirow::hydraulics::solve;
use equirow::plan::{
    BarPoint, CheckValve, Control, ElementItem, ElementKey, ElementKind, End, Entry, EntryKey, FeedElement,
    FlowIndicator, FlowMeter, FrameMember, HoseStock, Item, PartId, PartItem, Project, ReliefValve,
    RoutingGeometry, RowFeed, RunId, StockItem, WettedMaterial,
};
use equirow::quantities::{Angle, Flow, Length, Pressure, Ratio, Speed, Temperature, Viscosity};

const TWELVE: &str = "twelve-metre-bar.ron";
const SIX: &str = "six-metre-trial-bar.ron";
const TWENTY_FOUR: &str = "twenty-four-metre-bar.ron";

/// The rule, the example that is spoilt, and how; an example may be bad enough as it is.
type BadBar = (&'static str, &'static str, fn(&mut Project));

const AS_IT_IS: fn(&mut Project) = |_| {};

const BAD_BARS: &[BadBar] = &[
    ("not solved", TWELVE, |bad| stocks(bad, |stock| dimensions(stock).bore = Length::ZERO)),
    ("not supplied", TWELVE, |bad| bad.routings[0].runs.retain(|run| run.from != End::Supply)),
    ("loose end", TWELVE, |bad| bad.routings[0].runs[1].to = End::Loose(BarPoint::default())),
    ("port taken twice", TWELVE, |bad| {
        let mut twin = bad.routings[0].runs[1].clone();
        twin.id = RunId(900);
        bad.routings[0].runs.push(twin);
    }),
    ("open port", TWELVE, |bad| drop(bad.routings[0].feeds.remove(0))),
    ("not fed", TWELVE, |bad| drop(bad.routings[0].feeds.remove(0))),
    ("fed twice", TWELVE, |bad| {
        let row = bad.routings[0].feeds[0].branches[0].row;
        bad.routings[0].feeds[1].branches[0].row = row;
    }),
    ("left out but plumbed", TWELVE, |bad| bad.bar.rows[0].left_out = true),
    ("valve stays shut", TWELVE, |bad| valves(bad, |valve| valve.cracking = Pressure::bar(50.0))),
    ("flows backwards", TWELVE, |bad| {
        without(&mut bad.routings[0].feeds[0], is_valve);
        bad.bar.rows[0].outlet_height = Length::metres(90.0);
        bad.supply.control = Control::Held { pressure: Pressure::bar(2.0) };
    }),
    ("over rated pressure", TWELVE, |bad| stocks(bad, |stock| dimensions(stock).rated = Pressure::bar(0.1))),
    ("relief valve", TWELVE, |bad| bad.supply.relief_valve = ReliefValve::NotSaid),
    ("at limit", TWELVE, |bad| bad.supply.control = Control::Metered { limit: Pressure::bar(0.3) }),
    ("pump reserve", TWELVE, |bad| bad.supply.pump_capacity = Some(Flow::litres_per_minute(1.0))),
    ("pressure margin", TWELVE, |bad| {
        let outcome = solve(bad, &bad.routings[0], &bad.duties.first().usual_point());
        let pressure = outcome.numbers().unwrap().pump_pressure;
        bad.supply.control = Control::Metered { limit: Pressure::from_si(pressure.si() * 1.02) };
    }),
    ("row deviation", TWELVE, |bad| {
        bad.limits.row_deviation = Ratio::percent(0.1);
        bad.limits.design_deviation = Ratio::percent(0.1);
    }),
    ("mean deviation", TWELVE, |bad| bad.supply.control = Control::Held { pressure: Pressure::bar(6.0) }),
    ("uneven", TWELVE, |bad| bad.limits.cv_acceptable = Ratio::percent(0.1)),
    ("unequal mains", TWELVE, |bad| drop(bad.routings.remove(0))),
    ("shared without metering", TWELVE, |bad| {
        let second = bad.routings[0].feeds.remove(1);
        bad.routings[0].feeds[0].branches.extend(second.branches);
        without(&mut bad.routings[0].feeds[0], FeedElement::is_metering);
    }),
    ("unmetered", TWELVE, |bad| without(&mut bad.routings[0].feeds[0], FeedElement::is_metering)),
    ("metering over cracking", TWELVE, |bad| valves(bad, |valve| valve.cracking = Pressure::bar(1.0))),
    ("closing pressure", TWELVE, |bad| bad.supply.tank_surface = Length::metres(4.0)),
    ("folded liquid", TWELVE, |bad| without(&mut bad.routings[0].feeds[0], is_valve)),
    ("negative pressure", TWELVE, |bad| {
        for part in &mut bad.routings[0].parts {
            part.position.z = 60.0;
        }
    }),
    ("Reynolds zone", SIX, |bad| {
        (bad.limits.reynolds_from, bad.limits.reynolds_to) = (Ratio::from_si(1.0), Ratio::from_si(1e6));
    }),
    ("orifice zone", TWELVE, |bad| {
        for point in &mut bad.duties.first_mut().liquid.points {
            point.viscosity = Viscosity::from_si(point.viscosity.si() * 30.0);
        }
    }),
    ("straight tube assumed", SIX, AS_IT_IS),
    ("hose velocity", TWELVE, |bad| {
        stocks(bad, |stock| {
            if matches!(stock, StockItem::Hose(_)) {
                dimensions(stock).bore = Length::millimetres(5.0);
            }
        });
    }),
    ("high point", TWELVE, |bad| {
        let (from, to) = (Point3::new(0.3, 2.5, 3.0), Point3::new(0.2, 2.2, 1.0));
        let section = bad.bar.sections[0].id;
        bad.routings[0].runs[0].line.waypoints = [from, to].map(|place| BarPoint { place, section }).to_vec();
        bad.duties.first_mut().rate = bad.duties.first().rate * 0.2;
    }),
    ("hinge slack", TWELVE, |bad| entered(bad, Length::ZERO)),
    ("hinge crossing", TWELVE, |bad| {
        let section = bad.bar.rows[0].section;
        let place = bad.bar.outlet(&bad.bar.rows[0]) + Point3::new(0.0, 0.0, 0.3);
        bad.routings[0].runs[1].line.waypoints = vec![BarPoint { place, section }];
    }),
    ("hinge sag", TWELVE, |bad| {
        // The frame is far above what hangs at its hinges.
        for member in bad.bar.sections.iter_mut().flat_map(|section| &mut section.members) {
            member.from.z += 1.0;
            member.to.z += 1.0;
        }
    }),
    // Mains of 19 and 25 mm with little over the radius that their stock allows.
    ("assumed stiffness", TWENTY_FOUR, AS_IT_IS),
    ("bend radius", TWELVE, |bad| stocks(bad, |stock| dimensions(stock).bend_radius = Length::metres(5.0))),
    ("turn at a port", TWELVE, |bad| bad.routings[0].parts[0].turn = Angle::degrees(170.0)),
    ("short hose", TWELVE, |bad| bad.routings[0].runs[1].line.measured = Some(Length::millimetres(10.0))),
    ("measured length", TWELVE, |bad| {
        bad.routings[0].runs[0].line.measured = Some(Length::millimetres(200.0));
    }),
    ("ends that do not fit", TWELVE, AS_IT_IS),
    ("open frame", TWELVE, AS_IT_IS),
    ("supports", TWELVE, AS_IT_IS),
    // With the tees of the mains farther forward, where a tube passes.
    ("through a part", TWENTY_FOUR, |bad| {
        for part in bad.routings[0].parts.iter_mut().filter(|part| part.position.y == 0.13) {
            part.position.y = 0.2;
        }
    }),
    // The members as high as what lies on them.
    ("through the frame", TWELVE, |bad| {
        for member in bad.bar.sections.iter_mut().flat_map(|section| &mut section.members) {
            member.from.z += 0.1;
            member.to.z += 0.1;
        }
    }),
    ("part in the frame", TWELVE, |bad| {
        let at = manifold(bad).0.position;
        let section = manifold(bad).0.section;
        let own = bad.bar.sections.iter_mut().find(|one| one.id == section).unwrap();
        let end = |y: f64| at + Point3::new(0.0, y, 0.0);
        let width = Length::millimetres(100.0);
        own.members.push(FrameMember { from: end(-0.5), to: end(0.5), width });
    }),
    ("parts in each other", TWELVE, |bad| {
        let (part, id) = manifold(bad);
        let (section, position) = (part.section, part.position);
        let other = bad.routings[0].parts.iter_mut().find(|part| part.id != id && part.mount.is_none());
        let other = other.unwrap();
        (other.section, other.position) = (section, position);
    }),
    ("material", TWELVE, |bad| {
        bad.duties.first_mut().liquid.attacks = vec![WettedMaterial::Zinc];
        for entry in &mut bad.catalogue.entries {
            entry.materials = vec![WettedMaterial::Zinc];
        }
    }),
    ("mesh", TWELVE, |bad| {
        parts(bad, |item| {
            if let PartItem::InletFilter(filter) = item {
                filter.opening = Length::millimetres(5.0);
            }
        });
    }),
    ("gauge range", TWELVE, |bad| {
        parts(bad, |item| {
            if let PartItem::Gauge(gauge) = item {
                gauge.full_scale = Pressure::bar(0.2);
            }
        });
    }),
    ("flow meter range", TWELVE, |bad| {
        parts(bad, |item| {
            if let PartItem::InletFilter(filter) = *item {
                *item = PartItem::FlowMeter(FlowMeter {
                    bore: filter.bore,
                    k: filter.k,
                    least: Flow::litres_per_minute(900.0),
                    greatest: Flow::litres_per_minute(990.0),
                    rated: filter.rated,
                });
            }
        });
    }),
    ("flow indicator", TWELVE, |bad| {
        let indicator = FlowIndicator {
            k: 1.0,
            bore: Length::millimetres(6.0),
            shows_from: Flow::litres_per_minute(50.0),
            rated: Pressure::bar(8.0),
        };
        let entry = Entry {
            key: EntryKey::new("indicator"),
            item: Item::Element(ElementItem::FlowIndicator(indicator)),
            ..bad.catalogue.entries[0].clone()
        };
        bad.catalogue.entries.push(entry);
        let piece = FeedElement::Piece(ElementKind::FlowIndicator, ElementKey::new("indicator"));
        bad.routings[0].feeds[0].branches[0].elements.insert(1, piece);
    }),
    ("salt-out", TWELVE, |bad| {
        let temperature = bad.duties.first().temperature;
        bad.duties.first_mut().liquid.salt_out = Some(temperature);
    }),
    // The outer wings laid back over middle ones that already lie on the inner ones: openers go through frames.
    ("fold clearance", TWENTY_FOUR, |bad| {
        for section in &mut bad.bar.sections {
            let (height, degrees, step) = match section.name.split_once(' ') {
                Some(("middle", _)) => (1.15, -175.0, 1),
                Some(("outer", _)) => (0.75, 175.0, 2),
                _ => continue,
            };
            let side = (section.left.si() + section.right.si()).signum();
            let hinge = section.hinge.as_mut().unwrap();
            (hinge.point.z, hinge.folded, hinge.step) = (height, Angle::degrees(side * degrees), step);
        }
    }),
    ("frames meet", TWELVE, |bad| {
        for section in &mut bad.bar.sections {
            if let Some(hinge) = &mut section.hinge {
                hinge.folded = Angle::degrees(if section.left.si() < 0.0 { 178.0 } else { -178.0 });
                hinge.point.z = 0.85;
            }
        }
    }),
    ("hinge angles", TWELVE, |bad| {
        bad.bar.sections[1].hinge.as_mut().unwrap().lowest = Angle::degrees(57.0);
    }),
    ("opener clearance", TWELVE, |bad| {
        let row = bad.bar.rows[0].clone();
        let place = bad.bar.outlet(&row) + Point3::new(0.0, 0.0, 0.3);
        let (part, _) = manifold(bad);
        (part.section, part.position) = (row.section, place);
    }),
    ("across a hinge", TWELVE, |bad| {
        let (wing, hinge) = (bad.bar.sections[1].id, bad.bar.sections[1].hinge.unwrap());
        let (part, _) = manifold(bad);
        (part.section, part.position.x) = (wing, hinge.point.x);
    }),
    ("beyond the folded frame", SIX, |bad| {
        let wing = bad.bar.sections[1].clone();
        let (part, _) = manifold(bad);
        part.section = wing.id;
        let side = wing.left.si().signum();
        part.position.x = if side < 0.0 { wing.left.si() - 0.6 } else { wing.right.si() + 0.6 };
    }),
    ("transport-size", TWELVE, |bad| bad.transport.width = Some(Length::metres(0.6))),
    ("liquid outside table", TWELVE, |bad| bad.duties.first_mut().temperature = Temperature::from_si(55.0)),
    ("assumed liquid", TWELVE, AS_IT_IS),
    ("suspension", TWELVE, |bad| bad.duties.first_mut().liquid.suspension = true),
    ("row off its section", TWELVE, |bad| bad.bar.rows[0].x = Length::metres(40.0)),
    ("uneven spacing", TWELVE, |bad| bad.bar.row_spacing = bad.bar.row_spacing * 1.5),
    ("range of speeds", TWELVE, |bad| bad.duties.first_mut().slowest = Speed::kilometres_per_hour(1.0)),
];

fn stocks(bad: &mut Project, change: impl Fn(&mut StockItem)) {
    for entry in &mut bad.catalogue.entries {
        if let Item::Stock(stock) = &mut entry.item {
            change(stock);
        }
    }
}

fn dimensions(stock: &mut StockItem) -> &mut HoseStock {
    match stock {
        StockItem::Hose(all) | StockItem::Tube(all) | StockItem::MeteringTube(all) => all,
    }
}

/// A length of its own at every hinge.
fn entered(bad: &mut Project, extra: Length) {
    for crossing in bad.routings[0].runs.iter_mut().flat_map(|run| &mut run.line.crossings) {
        crossing.entered = Some(extra);
    }
}

fn parts(bad: &mut Project, change: impl Fn(&mut PartItem)) {
    for entry in &mut bad.catalogue.entries {
        if let Item::Part(part) = &mut entry.item {
            change(part);
        }
    }
}

fn valves(bad: &mut Project, change: impl Fn(&mut CheckValve)) {
    for entry in &mut bad.catalogue.entries {
        if let Item::Element(ElementItem::CheckValve(valve)) = &mut entry.item {
            change(valve);
        }
    }
}

fn is_valve(element: &FeedElement) -> bool {
    matches!(element, FeedElement::Piece(ElementKind::CheckValve, _))
}

fn without(feed: &mut RowFeed, what: impl Fn(&FeedElement) -> bool) {
    feed.trunk.retain(|one| !what(one));
    for branch in &mut feed.branches {
        branch.elements.retain(|one| !what(one));
    }
}

/// The first manifold of the first routing.
fn manifold(bad: &mut Project) -> (&mut equirow::plan::Part, PartId) {
    let catalogue = &bad.catalogue;
    let is_one =
        |part: &&mut equirow::plan::Part| matches!(catalogue.item(&part.entry), Some(PartItem::Manifold(_)));
    let part = bad.routings[0].parts.iter_mut().find(is_one).unwrap();
    let id = part.id;
    (part, id)
}

#[test]
fn every_rule_speaks_on_a_bar_that_is_bad_in_its_way() {
    let mut silent = Vec::new();
    for rule in RULES {
        let Some((name, example, spoil)) = BAD_BARS.iter().find(|bad| bad.0 == rule.name) else {
            silent.push(format!("{}: no bar is bad in its way", rule.name));
            continue;
        };
        let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples")).join(example);
        let mut bad = files::open(&path).unwrap();
        spoil(&mut bad);
        let routing = &bad.routings[0];
        let geometry = RoutingGeometry::working(&bad, routing);
        let outcome = solve(&bad, routing, &bad.duties.first().usual_point());
        let all = all_findings(&bad, geometry.with(routing), &outcome, &[]);
        let found = all.iter().filter(|one| one.kind.rule == *name);
        // Where in the fold is said by the sentence alone, on every front.
        for one in found.clone().filter(|one| one.fold.is_some()) {
            let says = ["folded", "on the road", "at work", "over the hinge"];
            assert!(says.iter().any(|words| one.what.contains(words)), "{one}");
        }
        let told =
            found.filter(|one| !one.what.is_empty() && !one.advice.is_empty() && !one.place.is_empty());
        if told.count() == 0 {
            let others: Vec<&str> = all.iter().map(|one| one.kind.rule.as_str()).collect();
            silent.push(format!("{name}: silent; others: {others:?}; {:?}", outcome.result.as_ref().err()));
        }
    }
    assert!(silent.is_empty(), "{silent:#?}");
    let gone: Vec<&str> =
        BAD_BARS.iter().map(|bad| bad.0).filter(|name| RULES.iter().all(|rule| rule.name != *name)).collect();
    assert!(gone.is_empty(), "no rule has these names any more: {gone:?}");
}

/// What the fold brings is told with where in the fold it is; of the examples as they are nothing is an error.
#[test]
fn no_example_has_an_error_and_all_findings_of_the_fold_say_where() {
    for example in [SIX, "nine-metre-bar.ron", TWELVE, TWENTY_FOUR] {
        let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples")).join(example);
        let project = files::open(&path).unwrap();
        for routing in &project.routings {
            let geometry = RoutingGeometry::working(&project, routing);
            let outcome = solve(&project, routing, &project.duties.first().usual_point());
            for finding in all_findings(&project, geometry.with(routing), &outcome, &[]) {
                assert!(finding.severity != equirow::checks::Severity::Error, "{example}: {finding}");
                let of_fold = ["hinge slack", "fold clearance", "folded liquid", "transport-size"];
                if of_fold.contains(&finding.kind.rule.as_str()) {
                    assert!(finding.fold.is_some(), "{example}: {finding}");
                }
            }
        }
    }
}
