//! Two routings weighed against each other: against themselves, mirrored, counted by hand, and against networks computed
//! with EPANET 2.2.

use equirow::plan::{CheckValve, Fitting, FittingForm, Gauge, InletFilter, Manifold, MeteringOrifice};
use std::f64::consts::PI;
use std::path::Path;

use equirow::files;
use equirow::geometry::Point3;
use equirow::hydraulics::outcome::{Blame, NoNumbers, Outcome};
use equirow::hydraulics::speed_range::SpeedRange;
use equirow::hydraulics::{KeptSolver, solve};
use equirow::plan::problems::Problems;
use equirow::plan::validate::validate;
use equirow::plan::{
    Bar, BarPoint, Branch, Catalogue, Control, Duty, ElementItem, ElementKind, End, Entry, EntryKey,
    FeedElement, FeedId, FittingItem, Hinge, HoseStock, Item, Key, Line, Liquid, LiquidPoint, ManifoldInlet,
    OperatingPoint, Part, PartId, PartItem, Port, PortRef, Price, Project, Routing, RoutingGeometry,
    RoutingId, Row, RowFeed, RowId, RowWidths, Run, RunId, Section, SectionId, Source, StockItem, Tube,
};
use equirow::quantities::{
    Angle, Density, GRAVITY_M_S2, Length, Pressure, Ratio, Temperature, UnitSystem, Viscosity,
};
use equirow::studies::comparison::{
    Amount, Change, ComparedFigure as Figures, Comparison, Contender, Direction, Which, compare, differences,
    table,
};
use equirow::studies::status::{status_words, why_no_numbers};

fn solved(project: &Project, routing: &Routing, point: &OperatingPoint) -> (Outcome, SpeedRange) {
    let geometry = RoutingGeometry::working(project, routing);
    let mut bench = KeptSolver::default();
    let mut prepared = bench.prepare(project, geometry.with(routing));
    let outcome = prepared.solve(point);
    let range = prepared.speed_range(point, Some(&outcome));
    (outcome, range)
}

fn compared(project: &Project, a: &Routing, b: &Routing) -> Comparison {
    let point = project.duties.first().usual_point();
    let (one, other) = (solved(project, a, &point), solved(project, b, &point));
    let places = [a, b].map(|routing| RoutingGeometry::working(project, routing));
    compare(
        project,
        &Contender { routing: places[0].with(a), outcome: &one.0, range: &one.1 },
        &Contender { routing: places[1].with(b), outcome: &other.0, range: &other.1 },
    )
}

fn line<'a>(comparison: &'a Comparison, key: &str) -> &'a Figures {
    comparison
        .lines
        .iter()
        .find(|line| line.figure.key.to_string() == key)
        .unwrap_or_else(|| panic!("there is no figure {key}"))
}

fn value(comparison: &Comparison, key: &str) -> (f64, f64) {
    let line = line(comparison, key);
    (line.a.value().unwrap(), line.b.value().unwrap())
}

fn examples() -> Vec<Project> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    ["twelve-metre-bar.ron", "nine-metre-bar.ron", "twenty-four-metre-bar.ron"]
        .into_iter()
        .map(|name| files::open(&folder.join(name)).unwrap())
        .collect()
}

// A small bar, made here: one manifold, rows 0.3 m apart, everything at one height so that nothing but friction and
// orifices counts.

const HEIGHT: f64 = 1.0;

fn key<K: Key>(text: &str) -> K {
    K::of_entry(EntryKey::new(text))
}

fn at(x: f64, y: f64) -> Point3 {
    Point3::new(x, y, HEIGHT)
}

fn stock(bore_mm: f64) -> HoseStock {
    HoseStock {
        bore: Length::millimetres(bore_mm),
        outside: Length::millimetres(bore_mm + 4.0),
        roughness: Length::millimetres(0.0015),
        bend_radius: Length::millimetres(50.0),
        rated: Pressure::bar(10.0),
        stiffness: None,
        weight: None,
    }
}

fn manifold(outlets: u16, spacing: f64, bore_mm: f64, inlet: ManifoldInlet) -> Item {
    Item::Part(PartItem::Manifold(Manifold {
        outlets,
        spacing: Length::metres(spacing),
        bore: Length::millimetres(bore_mm),
        k: 0.0,
        inlet,
        rated: Pressure::bar(10.0),
    }))
}

fn catalogue(entries: &[(&str, Item)]) -> Catalogue {
    let entries = entries.iter().map(|(name, item)| Entry {
        key: key(name),
        description: (*name).to_owned(),
        part_number: String::new(),
        connection: String::new(),
        price: None,
        roll: None,
        materials: Vec::new(),
        calibrated: None,
        item: *item,
    });
    Catalogue { entries: entries.collect() }
}

fn bar(rows: u32, hinge: bool) -> Bar {
    let half = f64::from(rows) * 0.15;
    let section = |id, name: &str, hinge, left, right| Section {
        id: SectionId(id),
        name: name.to_owned(),
        hinge,
        left: Length::metres(left),
        right: Length::metres(right),
        members: Vec::new(),
    };
    let sections = if hinge {
        let hinge = Hinge {
            parent: SectionId(1),
            point: at(0.0, 0.0),
            axis: Point3::new(0.0, 1.0, 0.0),
            lowest: Angle::ZERO,
            folded: Angle::degrees(-90.0),
            step: Hinge::FIRST_STEP,
        };
        vec![section(1, "left", None, -half, 0.0), section(2, "right", Some(hinge), 0.0, half)]
    } else {
        vec![section(1, "centre", None, -half, half)]
    };
    let row = |index: u32| {
        let x = 0.3 * f64::from(index) + 0.15 - half;
        Row {
            id: RowId(index + 1),
            number: index + 1,
            section: SectionId(if hinge && x > 0.0 { 2 } else { 1 }),
            x: Length::metres(x),
            rank: 0,
            outlet_height: Length::metres(HEIGHT),
            share: 1.0,
            left_out: false,
        }
    };
    Bar {
        row_spacing: Length::metres(0.3),
        row_widths: RowWidths::Nominal,
        ranks: vec![Length::ZERO],
        sections,
        rows: (0..rows).map(row).collect(),
    }
}

fn part(id: u32, tag: &str, entry: &str, x: f64, turn: f64) -> Part {
    Part {
        id: PartId(id),
        tag: tag.to_owned(),
        entry: key(entry),
        section: SectionId(1),
        position: at(x, 0.5),
        turn: Angle::degrees(turn),
        mount: None,
        shut: false,
    }
}

fn port(part: u32, port: Port) -> End {
    End::Port(PortRef { part: PartId(part), port })
}

fn hose(id: u32, stock: &str, from: End, to: End, measured: Option<f64>) -> Run {
    Run {
        id: RunId(id),
        tag: format!("H{id}"),
        from,
        to,
        line: Line { measured: measured.map(Length::metres), ..Line::straight(key(stock)) },
        fittings: Vec::new(),
    }
}

fn feed(row: u32, part: u32, outlet: u16, elements: Vec<FeedElement>) -> RowFeed {
    RowFeed {
        id: FeedId(row),
        tag: format!("T{row}"),
        from: port(part, Port::Outlet(outlet)),
        trunk: Vec::new(),
        split: None,
        branches: vec![Branch { row: RowId(row), elements }],
    }
}

/// Case 1 of the whole networks in `tests/engine/published_hydraulics.rs` (EPANET 2.2, public domain, US EPA, and an
/// independent solver, which agree within 0.02 %), as routings: the manifold's body is the header with ten outlets
/// 0.30 m apart, the hose the inlet run of 0.30 m, and a row feed nothing but its orifice of 1.2 mm, Cd 0.62.
fn header(bore_mm: f64) -> Project {
    let mut project = Project::new(
        bar(10, false),
        catalogue(&[
            ("hose", Item::Stock(StockItem::Hose(stock(bore_mm)))),
            ("header-end", manifold(10, 0.3, bore_mm, ManifoldInlet::End)),
            ("header-middle", manifold(10, 0.3, bore_mm, ManifoldInlet::Middle)),
            (
                "orifice",
                Item::Element(ElementItem::MeteringOrifice(MeteringOrifice {
                    bore: Length::millimetres(1.2),
                    cd: 0.62,
                    thickness: Length::millimetres(1.0),
                    creeping: false,
                    rated: None,
                })),
            ),
        ]),
    );
    project.duties.first_mut().liquid = Liquid {
        name: "water of that case".to_owned(),
        points: vec![LiquidPoint {
            temperature: Temperature::from_si(15.0),
            density: Density::from_si(1000.0),
            viscosity: Viscosity::from_si(1000.0 * 1.0219e-6),
        }],
        density_source: Source::Published,
        viscosity_source: Source::Published,
        salt_out: None,
        attacks: Vec::new(),
        suspension: false,
    };
    project.supply.pump = at(0.0, 2.0);
    project.supply.control = Control::Held { pressure: Pressure::from_si(10.0 * 1000.0 * GRAVITY_M_S2) };
    let routing = |id, name: &str, entry: &str, turn: f64, mirrored: bool| {
        let feeds = (1..=10u16).map(|row| {
            let outlet = if mirrored { 11 - row } else { row };
            feed(
                u32::from(row),
                1,
                outlet,
                vec![FeedElement::Piece(ElementKind::MeteringOrifice, key("orifice"))],
            )
        });
        Routing {
            parts: vec![part(1, "M1", entry, 0.0, turn)],
            runs: vec![hose(1, "hose", End::Supply, port(1, Port::In), Some(0.30))],
            feeds: feeds.collect(),
            ..Routing::empty(RoutingId(id), name)
        }
    };
    project.routings = vec![
        routing(1, "End", "header-end", 0.0, false),
        routing(2, "Centre", "header-middle", 0.0, false),
        routing(3, "Mirrored", "header-end", 180.0, true),
        Routing::empty(RoutingId(4), "Bare"),
    ];
    assert_eq!(validate(&project), Problems::default());
    project
}

#[test]
fn a_routing_compared_with_itself_differs_in_nothing() {
    for project in examples() {
        for routing in &project.routings {
            let comparison = compared(&project, routing, routing);
            assert_eq!(comparison.differing().count(), 0, "{} {}", project.title.title, routing.name);
            assert_eq!(comparison.items, Vec::new());
            assert!(comparison.lines.iter().all(|line| line.better().is_none()));
            for row in &comparison.rows {
                assert_eq!(row.difference().unwrap().si(), 0.0);
                assert_eq!(row.nearer(), None);
            }
            assert!(
                comparison.verdict.contains("no practical difference in evenness"),
                "{}",
                comparison.verdict
            );
            assert!(comparison.verdict.contains("same plumbing"), "{}", comparison.verdict);
        }
    }
}

#[test]
fn its_mirror_image_has_mirrored_rows() {
    let project = header(8.0);
    let comparison = compared(&project, &project.routings[0], &project.routings[2]);
    let rows = &comparison.rows;
    for (row, opposite) in rows.iter().zip(rows.iter().rev()) {
        let (a, b) = (row.a.unwrap().si(), opposite.b.unwrap().si());
        assert!((a - b).abs() < 1e-9, "row {}: {a} against {b}", row.number);
        let (here, there) = (row.difference().unwrap().si(), opposite.difference().unwrap().si());
        assert!((here + there).abs() < 1e-9);
    }
    assert!(rows[0].difference().unwrap().si() < -0.01, "the end that was fed gets less now");
    assert_eq!(line(&comparison, "cv_usual").better(), None, "both are equally even");
    assert_eq!(line(&comparison, "hose_length").better(), None);
    assert!(comparison.verdict.contains("no practical difference in evenness"), "{}", comparison.verdict);
}

/// The end-fed header is less even than the one fed from its centre, by the ratio that EPANET 2.2 gives (see `header`; not
/// published, computed with it): 1.052 % over 0.150 %, 0.366 % over 0.051 % and 0.118 % over 0.015 %. A CV is noted with
/// three decimals, so the ratio is known to half a unit of the last one of the smaller. What is left of a gap is the
/// friction law: Swamee and Jain there, Colebrook here, which part by up to 1 % of a friction factor.
#[test]
fn fed_from_one_end_against_fed_from_the_centre() {
    for (bore_mm, end, centre, total_end, total_centre) in [
        (8.0, 1.052, 0.150, 5.7079, 5.8086),
        (10.0, 0.366, 0.051, 5.8265, 5.8629),
        (12.7, 0.118, 0.015, 5.8708, 5.8828),
    ] {
        let project = header(bore_mm);
        let (a, b) = (&project.routings[0], &project.routings[1]);
        let comparison = compared(&project, a, b);
        let (ours_end, ours_centre) = value(&comparison, "cv_usual");
        assert!(ours_end > ours_centre);
        for (ours, theirs) in [(ours_end, end), (ours_centre, centre)] {
            assert!((ours * 100.0 - theirs).abs() < 0.005, "{bore_mm} mm: {ours} against {theirs} %");
        }
        let ratio = ours_end / ours_centre;
        let (least, most) = ((end - 0.0005) / (centre + 0.0005), (end + 0.0005) / (centre - 0.0005));
        // The two solvers behind the values differ by 0.02 % of a flow.
        assert!(
            ratio > least * 0.98 && ratio < most * 1.02,
            "{bore_mm} mm: {ratio}, EPANET {least} to {most}"
        );
        let point = project.duties.first().usual_point();
        for (routing, total) in [(a, total_end), (b, total_centre)] {
            let flow = solve(&project, routing, &point).numbers().unwrap().total_flow.as_litres_per_minute();
            assert!((flow / total - 1.0).abs() < 1e-3, "{bore_mm} mm: {flow} against {total} L/min");
        }
        if bore_mm < 9.0 {
            assert_eq!(line(&comparison, "cv_usual").better(), Some(Which::B));
            assert!(comparison.verdict.contains(": routing Centre is more even"), "{}", comparison.verdict);
        }
    }
}

/// A bar small enough to be counted on paper.
fn counted() -> Project {
    let mut project = Project::new(
        bar(4, true),
        catalogue(&[
            ("hose-25", Item::Stock(StockItem::Hose(stock(25.0)))),
            ("hose-16", Item::Stock(StockItem::Hose(stock(16.0)))),
            ("tube-4", Item::Stock(StockItem::Tube(stock(4.0)))),
            (
                "filter",
                Item::Part(PartItem::InletFilter(InletFilter {
                    bore: Length::millimetres(25.0),
                    k: 3.0,
                    opening: Length::millimetres(0.3),
                    rated: Pressure::bar(10.0),
                })),
            ),
            ("manifold", manifold(4, 0.06, 20.0, ManifoldInlet::Middle)),
            ("gauge", Item::Part(PartItem::Gauge(Gauge { full_scale: Pressure::bar(6.0) }))),
            (
                "barb",
                Item::Fitting(FittingItem::Fitting(Fitting {
                    bore: Length::millimetres(14.0),
                    k: 0.5,
                    form: FittingForm::Straight,
                    rated: None,
                })),
            ),
            (
                "valve",
                Item::Element(ElementItem::CheckValve(CheckValve {
                    cracking: Pressure::bar(0.2),
                    closing: Pressure::bar(0.15),
                    k: 2.0,
                    bore: Length::millimetres(4.0),
                    rated: Pressure::bar(10.0),
                })),
            ),
            (
                "orifice",
                Item::Element(ElementItem::MeteringOrifice(MeteringOrifice {
                    bore: Length::millimetres(1.0),
                    cd: 0.72,
                    thickness: Length::millimetres(1.5),
                    creeping: false,
                    rated: None,
                })),
            ),
        ]),
    );
    let elements = |length: f64| {
        let line = Line { measured: Some(Length::metres(length)), ..Line::straight(key("tube-4")) };
        vec![
            FeedElement::Tube(Tube { line, end: None }),
            FeedElement::Piece(ElementKind::CheckValve, key("valve")),
            FeedElement::Piece(ElementKind::MeteringOrifice, key("orifice")),
        ]
    };
    let lengths = [(1u16, 0.80), (2, 0.90), (3, 1.00), (4, 1.10)];
    let mut second = hose(2, "hose-16", port(1, Port::Out), port(2, Port::In), Some(1.20));
    second.fittings = vec![key("barb"), key("barb")];
    let gauge = Part {
        mount: Some(PortRef { part: PartId(2), port: Port::Gauge }),
        ..part(3, "G1", "gauge", -0.3, 0.0)
    };
    project.routings[0] = Routing {
        parts: vec![part(1, "F1", "filter", -0.3, 0.0), part(2, "M1", "manifold", -0.3, 0.0), gauge],
        runs: vec![hose(1, "hose-25", End::Supply, port(1, Port::In), Some(2.50)), second],
        feeds: lengths.iter().map(|(row, long)| feed(u32::from(*row), 2, *row, elements(*long))).collect(),
        ..Routing::empty(RoutingId(1), "A")
    };
    assert_eq!(validate(&project), Problems::default());
    project
}

/// Own arithmetic.
#[test]
fn metres_counts_and_volume_equal_a_count_by_hand() {
    let project = counted();
    let routing = &project.routings[0];
    let comparison = compared(&project, routing, routing);
    for (key, by_hand) in [
        // H1 2.50 m of 25 mm, H2 1.20 m of 16 mm.
        ("hose_length", 3.70),
        ("hose_length.hose-25", 2.50),
        ("hose_length.hose-16", 1.20),
        // 0.80 + 0.90 + 1.00 + 1.10 m.
        ("tube_length", 3.80),
        ("tube_length.tube-4", 3.80),
        ("longest_tube", 1.10),
        ("shortest_tube", 0.80),
        // Filter, manifold and gauge; two barbs; four check valves and four orifices.
        ("parts", 13.0),
        ("parts.inlet_filter", 1.0),
        ("parts.manifold", 1.0),
        ("parts.gauge", 1.0),
        ("parts.fitting", 2.0),
        ("parts.check_valve", 4.0),
        ("parts.metering_orifice", 4.0),
        // H1: pump and filter. H2: filter, manifold, and one more for each of two barbs and of two reducers.
        ("joints.hose_joints", 8.0),
        // Four tubes, each at its outlet and at its check valve.
        ("joints.tube_joints", 8.0),
        // Four orifices on check valves, and the gauge on the manifold.
        ("joints.part_on_part", 5.0),
        ("joints", 21.0),
        // The manifold rides left of the hinge; the tubes of rows 3 and 4 cross it.
        ("runs_across_hinges", 2.0),
        ("rows_fed_usual", 4.0),
        // H2 of 16 mm between the ports of a 25 mm filter and of a 20 mm manifold.
        ("reducers_and_adapters", 2.0),
    ] {
        let (ours, _) = value(&comparison, key);
        assert!((ours - by_hand).abs() < 1e-9, "{key}: {ours}, by hand {by_hand}");
    }
    // pi/4 d^2 L: 25 mm x 2.50 m, 16 mm x 1.20 m, 4 mm x 3.80 m, manifold 20 mm x 4 x 0.06 m.
    let litres = PI / 4.0 * (0.625 * 2.50 + 0.256 * 1.20 + 0.016 * 3.80 + 0.4 * 0.24);
    let (held, _) = value(&comparison, "liquid_held");
    assert!((held * 1e3 - litres).abs() < 1e-9, "{held} against {litres} L");
}

#[test]
fn a_cost_is_whole_or_it_is_not_there() {
    let mut project = counted();
    let price = |project: &mut Project, name: &str, amount: f64, currency: &str| {
        let entry = project.catalogue.entries.iter_mut().find(|entry| entry.key.0 == name).unwrap();
        entry.price = Some(Price { amount, currency: currency.to_owned() });
    };
    let cost = |project: &Project, key: &str| {
        let comparison = compared(project, &project.routings[0], &project.routings[0]);
        line(&comparison, key).a.clone()
    };
    let is_unknown =
        |amount: &Amount, words: &str| matches!(amount, Amount::Unknown { short, .. } if *short == words);
    assert!(is_unknown(&cost(&project, "cost"), "no price"));
    for (name, amount) in [("hose-25", 3.0), ("hose-16", 2.0), ("tube-4", 0.5)] {
        price(&mut project, name, amount, "EUR");
    }
    // By hand: 2.50 x 3.00 + 1.20 x 2.00 + 3.80 x 0.50 = 7.50 + 2.40 + 1.90.
    let hoses = cost(&project, "cost_hose_and_tube");
    assert!((hoses.value().unwrap() - 11.80).abs() < 1e-9, "{hoses:?}");
    assert!(is_unknown(&cost(&project, "cost"), "no price"), "parts have none, so the whole has none");
    let parts = [("filter", 40.0), ("manifold", 25.0), ("gauge", 15.0), ("barb", 0.8), ("valve", 4.0)];
    for (name, amount) in parts {
        price(&mut project, name, amount, "EUR");
    }
    match cost(&project, "cost_parts") {
        Amount::Unknown { short: "no price", why } => assert!(why.contains("1 of the 6"), "{why}"),
        other => panic!("the orifice has no price, yet {other:?}"),
    }
    price(&mut project, "orifice", 1.5, "EUR");
    // By hand: 40 + 25 + 15 + 2 x 0.80 + 4 x 4.00 + 4 x 1.50 = 103.60, and 11.80 of hose and tube.
    let all = cost(&project, "cost");
    assert!((all.value().unwrap() - 115.40).abs() < 1e-9, "{all:?}");
    price(&mut project, "orifice", 1.5, "CAD");
    assert!(is_unknown(&cost(&project, "cost"), "several currencies"));
}

#[test]
fn every_line_says_which_value_is_better_and_the_sides_agree() {
    let project = files::demo();
    let (a, b) = (&project.routings[0], &project.routings[1]);
    let (there, back) = (compared(&project, a, b), compared(&project, b, a));
    for one in &there.lines {
        let other = back.line(&one.figure.key).unwrap();
        let turned = one.better().map(|which| if which == Which::A { Which::B } else { Which::A });
        assert_eq!(other.better(), turned, "{}", one.figure.key);
        if one.figure.better == Direction::Neither {
            assert_eq!(one.better(), None);
        }
    }
    assert_eq!(line(&there, "cv_usual").better(), Some(Which::B));
    assert_eq!(line(&there, "hose_length").better(), Some(Which::A));
    assert_eq!(line(&there, "hose_length.hose-8").better(), None);
    let added = |comparison: &Comparison| {
        let of = |change| comparison.items.iter().filter(|item| item.change == change).count();
        (of(Change::Added), of(Change::Removed))
    };
    let (plus, minus) = added(&there);
    assert_eq!(added(&back), (minus, plus));
    let starts = "At 9 km/h and 15 °C on the level: routing B is more even";
    assert!(there.verdict.starts_with(starts), "{}", there.verdict);
    assert!((3..=4).contains(&there.verdict.matches(". ").count().saturating_add(1)), "{}", there.verdict);
}

#[test]
fn what_differs_is_matched_by_tag_and_place() {
    let project = files::demo();
    let a = &project.routings[0];
    let one_change = |change: &dyn Fn(&mut Routing)| {
        let mut b = a.clone();
        change(&mut b);
        let places = [a, &b].map(|routing| RoutingGeometry::working(&project, routing));
        let items = differences::items(&project, places[0].with(a), places[1].with(&b));
        assert!(!items.is_empty());
        items
    };
    let index = a.parts.iter().position(|part| part.tag == "M3").unwrap();
    let moved = one_change(&|b| b.parts[index].position.y += 0.2);
    let manifold = moved.iter().find(|item| item.tag == "M3").unwrap();
    assert_eq!((manifold.change, manifold.what.as_str()), (Change::Moved, "moved 0.20 m"));
    assert!(moved.iter().all(|item| item.change == Change::Moved), "{moved:?}");

    let renamed = one_change(&|b| b.parts[index].tag = "M9".to_owned());
    let manifold = renamed.iter().find(|item| item.tag == "M3").unwrap();
    assert_eq!((manifold.change, manifold.what.as_str()), (Change::Changed, "tagged M9 instead of M3"));

    let wider = one_change(&|b| b.runs[3].line.stock = key("hose-16"));
    assert_eq!(wider.len(), 1, "{wider:?}");
    // A wider hose bends wider, and needs more length at the hinge that it crosses.
    let text = wider[0].text();
    assert!(
        text.starts_with("hose H4: 16 mm instead of 8 mm; ") && text.contains(" long instead of "),
        "{text}"
    );

    // Tags given again do not make another hose the same: what joins the same places is the same hose.
    let swapped = one_change(&|b| {
        let (first, second) = (b.runs[2].tag.clone(), b.runs[3].tag.clone());
        (b.runs[2].tag, b.runs[3].tag) = (second, first);
    });
    let words: Vec<String> = swapped.iter().map(differences::ItemDifference::text).collect();
    assert_eq!(words, ["hose H3: tagged H4 instead of H3", "hose H4: tagged H3 instead of H4"]);

    // The tag of one that was taken away, given to one that joins other ports.
    let again = one_change(&|b| {
        let tag = b.runs.remove(3).tag;
        let (from, to) = (at(0.0, 3.0), at(1.0, 3.0));
        let id = RunId(900);
        b.runs.push(Run {
            id,
            tag,
            ..hose(
                900,
                "hose-16",
                End::Loose(BarPoint::over(&project.bar, from)),
                End::Loose(BarPoint::over(&project.bar, to)),
                None,
            )
        });
    });
    let words: Vec<String> = again.iter().map(differences::ItemDifference::text).collect();
    assert_eq!(words, ["hose H4 removed", "hose H4 added"]);

    let gone = one_change(&|b| {
        b.feeds.remove(0);
    });
    assert_eq!(gone[0].change, Change::Removed);
    assert_eq!(gone[0].text(), format!("row feed {} removed", a.feeds[0].tag));
}

/// A tee is what it joins: one elsewhere that bears the tag of another is new, and the other is gone; shifted with its
/// hoses it is the same.
#[test]
fn a_new_tee_is_not_one_that_moved() {
    let project = files::demo();
    let a = &project.routings[1];
    let is_tee = |part: &&Part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Tee(_)));
    let tees: Vec<&Part> = a.parts.iter().filter(is_tee).collect();
    let (first, last) = (tees[0], tees[tees.len() - 1]);
    let of_tees = |change: &dyn Fn(&mut Routing)| {
        let mut b = a.clone();
        change(&mut b);
        let places = [a, &b].map(|routing| RoutingGeometry::working(&project, routing));
        let items = differences::items(&project, places[0].with(a), places[1].with(&b));
        let tees = items.iter().filter(|one| one.kind == "tee");
        tees.map(differences::ItemDifference::text).collect::<Vec<_>>()
    };
    let shifted = of_tees(&|b| {
        let tee = b.parts.iter_mut().find(|part| part.id == first.id).unwrap();
        tee.position.x += 0.5;
    });
    assert_eq!(shifted, [format!("tee {}: moved 0.50 m", first.tag)]);
    let new = of_tees(&|b| {
        b.parts.retain(|part| part.id != last.id);
        let tee = b.parts.iter_mut().find(|part| part.id == first.id).unwrap();
        tee.tag.clone_from(&last.tag);
        tee.position.x += 0.5;
    });
    let words = ["removed", "removed", "added"].into_iter().zip([first, last, last]);
    assert_eq!(new, words.map(|(what, tee)| format!("tee {} {what}", tee.tag)).collect::<Vec<_>>());
}

#[test]
fn one_that_cannot_be_solved_stands_beside_one_that_can() {
    let project = header(8.0);
    let (good, bare) = (&project.routings[0], &project.routings[3]);
    let comparison = compared(&project, good, bare);
    let cv = line(&comparison, "cv_usual");
    assert!(cv.a.value().is_some());
    match &cv.b {
        Amount::Unknown { why, .. } => assert!(why.contains("no row is connected"), "{why}"),
        Amount::Is { .. } => panic!("an empty routing has no evenness"),
    }
    assert_eq!(cv.better(), None);
    assert_eq!(comparison.unsolved, [None, Some("no row is connected to the supply".to_owned())]);
    assert!(comparison.verdict.contains("Routing Bare can't be judged"), "{}", comparison.verdict);
    assert!(comparison.verdict.contains("routing End feeds 10 of 10 rows"), "{}", comparison.verdict);

    let point = project.duties.first().usual_point();
    let ((mut outcome, range), other) = (solved(&project, good, &point), solved(&project, good, &point));
    let blame = good.parts.iter().find(|part| part.tag == "M1").map(|part| Blame::Part(part.id));
    assert!(blame.is_some());
    outcome.result = Err(NoNumbers::Failed { blame, why: "the pressures do not settle".to_owned() });
    let geometry = RoutingGeometry::working(&project, good);
    let good = geometry.with(good);
    let a = Contender { routing: good, outcome: &outcome, range: &range };
    let b = Contender { routing: good, outcome: &other.0, range: &other.1 };
    let comparison = compare(&project, &a, &b);
    assert!(comparison.verdict.contains("the solve failed at M1"), "{}", comparison.verdict);
    let text = table::text(&comparison, UnitSystem::Metric);
    assert!(text.contains("has no flows or pressures: the solve failed at M1"), "{text}");
}

#[test]
fn one_routing_at_two_operating_points() {
    let project = files::demo();
    let routing = &project.routings[0];
    let points = [project.duties.first().slowest, project.duties.first().fastest]
        .map(|speed| project.duties.first().at(speed));
    let both = points.map(|point| solved(&project, routing, &point));
    let geometry = RoutingGeometry::working(&project, routing);
    let routing = geometry.with(routing);
    let [a, b] =
        [0, 1].map(|side: usize| Contender { routing, outcome: &both[side].0, range: &both[side].1 });
    let comparison = compare(&project, &a, &b);
    assert_eq!(comparison.labels, ["A at 7 km/h", "A at 11 km/h"]);
    let inlet = line(&comparison, "inlet_looked_at");
    assert!(inlet.a.value().unwrap() < inlet.b.value().unwrap());
    assert_eq!(inlet.figure.group.heading(), "Looked at, 7 km/h and 11 km/h");
    assert!(!line(&comparison, "inlet_usual").differs());
    // What stands above the figures is what they are of: only those looked at are of two speeds.
    assert_eq!(comparison.heads(&inlet.figure.group), &comparison.labels);
    assert_eq!(comparison.heads(&line(&comparison, "inlet_usual").figure.group), &["A", "A"]);
    assert_eq!(comparison.items, Vec::new());
    assert!(comparison.verdict.contains("same plumbing"), "{}", comparison.verdict);
}

#[test]
fn text_and_csv_hold_every_figure() {
    let project = files::demo();
    let comparison = compared(&project, &project.routings[0], &project.routings[1]);
    let text = table::text(&comparison, UnitSystem::Metric);
    let csv = table::csv(&comparison, UnitSystem::Metric);
    for line in comparison.lines.iter().filter(|line| line.speaks()) {
        assert!(text.contains(&line.figure.name), "{}", line.figure.name);
    }
    let records: Vec<&str> = csv.split("\r\n").filter(|record| !record.is_empty()).collect();
    assert_eq!(records.len(), 1 + comparison.lines.len() + comparison.rows.len());
    assert!(
        records
            .iter()
            .any(|record| record.starts_with("Rows, off target") || record.starts_with("\"Rows, off"))
    );
    let cv = line(&comparison, "cv_usual");
    let number = |amount: &Amount| format!("{:.1}", amount.value().unwrap() * 100.0);
    let starts = format!("CV over rows,%,{},{},", number(&cv.a), number(&cv.b));
    let found = records.iter().find(|record| record.contains(&starts) && record.contains("lower,b"));
    assert!(found.is_some(), "{starts} is not in\n{csv}");
}

#[test]
fn what_stands_in_the_way_of_all_rows_is_told_in_the_same_words_everywhere() {
    let mut project = files::demo();
    let told = |project: &Project| {
        let outcome = solve(project, &project.routings[0], &project.duties.first().usual_point());
        (
            why_no_numbers(&outcome, &project.routings[0]),
            status_words(&outcome, &project.routings[0], UnitSystem::Metric),
        )
    };
    assert_eq!(told(&project), (None, "solved".to_owned()));
    let whole = project.clone();
    project.routings[0].runs.clear();
    assert_eq!(told(&project).1, "no row is connected to the supply");
    for row in &mut project.bar.rows {
        row.left_out = true;
    }
    assert_eq!(told(&project).1, "every row is left out");
    // A section valve in place of the inlet filter, shut: liquid would come, if it were open.
    project = whole;
    let is_valve = |item: &PartItem| matches!(item, PartItem::SectionValve(_));
    let valve = project.catalogue.first(is_valve).unwrap();
    let is_filter =
        |part: &Part| matches!(project.catalogue.item(&part.entry), Some(PartItem::InletFilter(_)));
    let at = project.routings[0].parts.iter().position(is_filter).unwrap();
    project.routings[0].parts[at].entry = valve;
    project.routings[0].parts[at].shut = true;
    assert_eq!(told(&project).1, "every row is behind a shut section valve");
    let mut outcome = solve(&project, &project.routings[0], &project.duties.first().usual_point());
    let why = "no balance was found".to_owned();
    let hose = project.routings[0].runs.iter().find(|run| run.tag == "H2").unwrap();
    outcome.result = Err(NoNumbers::Failed { blame: Some(Blame::Run(hose.id)), why });
    assert_eq!(
        why_no_numbers(&outcome, &project.routings[0]).as_deref(),
        Some("the solve failed at H2: no balance was found")
    );
}

/// The outcome of a solve with another evenness, and one row far off.
fn as_if(solved: &(Outcome, SpeedRange), cv: f64, farthest: f64) -> (Outcome, SpeedRange) {
    let (mut outcome, mut range) = solved.clone();
    for one in std::iter::once(&mut outcome).chain(&mut range.outcomes) {
        let numbers = one.result.as_mut().unwrap();
        numbers.evenness.as_mut().unwrap().cv = Ratio::percent(cv);
        for row in &mut numbers.rows {
            row.deviation = Some(Ratio::ZERO);
        }
        numbers.rows[0].deviation = Some(Ratio::percent(farthest));
    }
    (outcome, range)
}

/// 0.5 points of CV, 1.5 points of the farthest row: common practice, no source.
#[test]
fn a_winner_is_named_only_where_the_difference_matters() {
    let project = header(8.0);
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let routing = geometry.with(routing);
    let solve = solved(&project, routing.routing, &project.duties.first().usual_point());
    let weigh = |(cv, farthest): (f64, f64)| {
        let sides = [as_if(&solve, 3.0, 6.0), as_if(&solve, cv, farthest)];
        let [a, b] =
            [0, 1].map(|at: usize| Contender { routing, outcome: &sides[at].0, range: &sides[at].1 });
        compare(&project, &a, &b)
    };
    for (other, says, better) in [
        ((3.1, 6.1), ": there is no practical difference in evenness", None),
        ((3.44, 7.4), ": there is no practical difference in evenness", None),
        ((2.6, 7.5), ": over all rows there is no practical difference in evenness", None),
        ((3.5, 6.0), ": routing End is more even", Some(Which::A)),
        ((2.5, 6.0), ": routing End is more even", Some(Which::B)),
    ] {
        let comparison = weigh(other);
        assert!(comparison.verdict.contains(says), "{other:?}: {}", comparison.verdict);
        assert_eq!(line(&comparison, "cv_usual").better(), better, "{other:?}");
    }
    assert_eq!(line(&weigh((3.0, 7.4)), "farthest_row_usual").better(), None);
    assert_eq!(line(&weigh((3.0, 7.5)), "farthest_row_usual").better(), Some(Which::A));
    // Beyond a limit by less than is shown elsewhere: the digits that say so are printed.
    let verdict = weigh((5.04, 6.0)).verdict;
    assert!(verdict.contains("beyond the 5 % that is acceptable (5.04 %)"), "{verdict}");
}

/// Without its last row feed a routing may be the more even one: it is never praised for that.
#[test]
fn a_routing_that_leaves_rows_without_liquid_is_never_called_better() {
    let mut project = header(8.0);
    let mut less = project.routings[0].clone();
    (less.id, less.name) = (RoutingId(9), "Less".to_owned());
    less.feeds.truncate(less.feeds.len() - 2);
    project.routings.push(less);
    let last = project.routings.len() - 1;
    for (first, second, letter) in [(0, last, "B"), (last, 0, "A")] {
        let comparison = compared(&project, &project.routings[first], &project.routings[second]);
        let verdict = &comparison.verdict;
        assert!(verdict.starts_with("Routing Less leaves 2 rows without liquid. "), "{letter}: {verdict}");
        assert!(verdict.contains(": the rows that are fed differ by "), "{verdict}");
        assert!(!verdict.contains("more even") && !verdict.contains("counts as good"), "{verdict}");
        for key in ["cv_usual", "du_lowest_quarter_usual", "farthest_row_usual"] {
            assert_eq!(line(&comparison, key).better(), None, "{key}");
        }
        assert!(line(&comparison, "rows_fed_usual").better().is_some());
    }
}

#[test]
fn the_verdict_says_under_which_conditions_it_holds() {
    let project = files::demo();
    let (a, b) = (&project.routings[0], &project.routings[1]);
    let starts = |project: &Project, slopes: [f64; 2]| {
        let mut point = project.duties.first().usual_point();
        point.side_slope = Angle::from_si(slopes[0].atan());
        point.fore_aft_slope = Angle::from_si(slopes[1].atan());
        let (one, other) = (solved(project, a, &point), solved(project, b, &point));
        let places = [a, b].map(|routing| RoutingGeometry::working(project, routing));
        let verdict = compare(
            project,
            &Contender { routing: places[0].with(a), outcome: &one.0, range: &one.1 },
            &Contender { routing: places[1].with(b), outcome: &other.0, range: &other.1 },
        )
        .verdict;
        verdict.split(": ").next().unwrap().to_owned()
    };
    assert_eq!(starts(&project, [0.0, 0.0]), "At 9 km/h and 15 °C on the level");
    assert_eq!(starts(&project, [0.05, 0.0]), "At 9 km/h and 15 °C on a side slope of 5.0 % (right side up)");
    assert_eq!(
        starts(&project, [-0.05, -0.02]),
        "At 9 km/h and 15 °C on a side slope of 5.0 % (left side up) and a fore-aft slope of 2.0 % (nose down)"
    );
    let mut two = project.clone();
    let copy = Duty { id: two.duties.free_id(), name: "Autumn".to_owned(), ..two.duties.first().clone() };
    two.duties.put(copy);
    let name = two.duties.first().name.clone();
    assert_eq!(starts(&two, [0.0, 0.0]), format!("For duty {name} at 9 km/h and 15 °C on the level"));
}

#[test]
fn hose_is_told_by_bore_and_adapters_are_counted() {
    let mut project = counted();
    let mut other = project.routings[0].clone();
    (other.id, other.name) = (RoutingId(2), "Wide mains".to_owned());
    other.runs[1].line.stock = key("hose-25");
    project.routings.push(other);
    let comparison = compared(&project, &project.routings[0], &project.routings[1]);
    // By hand: 1.20 m of the wider hose in place of the narrower one, which fits the filter as it is.
    assert!(
        comparison.verdict.contains(
            "outing Wide mains takes 1.20 m more 25 mm hose, 1.20 m less 16 mm hose, 1 fewer reducer or adapter and 1 \
             fewer joint"
        ),
        "{}",
        comparison.verdict
    );
    assert_eq!(comparison.letters, ["A", "W"]);
    assert_eq!((comparison.mark(Change::Removed), comparison.mark(Change::Added)), ("A", "W"));
}

#[test]
fn a_difference_is_that_of_the_numbers_shown() {
    let project = files::demo();
    let comparison = compared(&project, &project.routings[0], &project.routings[1]);
    for line in comparison.lines.iter().filter(|line| line.differs()) {
        let Some((a, b)) = line.a.value().zip(line.b.value()) else { continue };
        let read = |value: f64| {
            line.figure.unit.number(value, UnitSystem::Metric).replace('−', "-").parse::<f64>().unwrap()
        };
        let text = table::difference_text(line, UnitSystem::Metric).replace('−', "-");
        let by: f64 = text.split(' ').next().unwrap().parse().unwrap();
        assert!((by - (read(b) - read(a))).abs() < 1e-9, "{}: {text}", line.figure.key);
    }
}

/// Every figure of the verdict rests on the viscosity: with a suspension it says so, once.
#[test]
fn the_verdict_on_a_suspension_says_that_it_is_no_prediction() {
    let mut project = files::demo();
    let (a, b) = (project.routings[0].clone(), project.routings[1].clone());
    let before = compared(&project, &a, &b).verdict;
    assert!(!before.contains("suspension"), "{before}");
    project.duties.first_mut().liquid.suspension = true;
    let verdict = compared(&project, &a, &b).verdict;
    let said = verdict.strip_prefix(&before).unwrap();
    assert!(
        said.starts_with(" The liquid is a suspension") && said.ends_with("go by a catch test."),
        "{verdict}"
    );
    assert_eq!(verdict.matches("suspension").count(), 1, "{verdict}");
}

/// What is more even as planned is called so of built bars only where parts scatter less than the two are apart.
#[test]
fn the_verdict_says_whether_parts_scatter_more_than_the_two_are_apart() {
    let mut project = files::demo();
    let (a, b) = (project.routings[0].clone(), project.routings[1].clone());
    let verdict = compared(&project, &a, &b).verdict;
    assert!(verdict.contains(". Built of parts as they are sold the rows differ by"), "{verdict}");
    assert!(verdict.contains("more than what parts scatter"), "{verdict}");
    project.spreads.orifice_bore.sd = 0.2;
    let verdict = compared(&project, &a, &b).verdict;
    assert!(verdict.contains("either may turn out more even"), "{verdict}");
    for kind in equirow::plan::SpreadKind::ALL {
        let none = equirow::plan::Spread { sd: 0.0, ..kind.entry().usual };
        kind.entry().set(&mut project.spreads, none);
    }
    let verdict = compared(&project, &a, &b).verdict;
    assert!(verdict.contains("more than what parts scatter (0.0 points)"), "{verdict}");
    let itself = compared(&project, &a, &a).verdict;
    assert!(!itself.contains("as they are sold"), "{itself}");
}
