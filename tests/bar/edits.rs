//! Edits that prove only what they touch refuse what a proof of the whole routing refuses, in the same words.

use equirow::files;
use equirow::geometry::Point3;
use equirow::plan::HingeCrossing;
use equirow::plan::edit::apply;
use equirow::plan::{
    BarPoint, Edit, ElementKey, ElementKind, End, FeedElement, FittingKey, PartId, Port, PortRef, Project,
    Routing, RowFeed, RowId, Run, SectionId, Split, StockKey,
};

use equirow::quantities::{ApplicationRate, Length, Ratio};
use equirow::session::Session;
use equirow::session::commands::{self, TABLE};

/// What an edit of one thing and of the whole routing do to a project: the same, and nothing where they refuse.
fn both_ways(what: &str, project: &Project, edit: Edit, whole: Routing) -> Result<(), String> {
    let (mut by_part, mut by_whole) = (project.clone(), project.clone());
    let part = apply(&mut by_part, edit).map_err(|error| error.to_string());
    let routing = apply(&mut by_whole, Edit::PutRouting(Box::new(whole))).map_err(|error| error.to_string());
    assert_eq!(part, routing, "{what}");
    assert!(by_part == by_whole, "{what}: the projects differ");
    assert!(part.is_ok() || by_part == *project, "{what}: refused, and changed all the same");
    part
}

fn with_run(project: &Project, what: &str, change: impl Fn(&mut Run)) -> Result<(), String> {
    let mut routing = project.routings[0].clone();
    change(&mut routing.runs[3]);
    both_ways(what, project, Edit::PutRun(routing.id, routing.runs[3].clone()), routing)
}

fn with_feed(project: &Project, what: &str, change: impl Fn(&mut RowFeed)) -> Result<(), String> {
    let mut routing = project.routings[0].clone();
    change(&mut routing.feeds[5]);
    both_ways(what, project, Edit::PutFeed(routing.id, routing.feeds[5].clone()), routing)
}

/// What is wrong with a thing, and how it gets so.
type Wrong<'a, T> = (&'a str, &'a dyn Fn(&mut T));

fn nowhere() -> BarPoint {
    BarPoint { place: Point3::new(f64::NAN, 0.0, 0.0), section: SectionId(1) }
}

fn somewhere() -> BarPoint {
    BarPoint { place: Point3::new(0.1, 0.2, 1.0), section: SectionId(1) }
}

/// On a section that is none of the bar's.
fn on_no_section() -> BarPoint {
    BarPoint { section: SectionId(99), ..somewhere() }
}

fn no_port(part: PartId) -> End {
    End::Port(PortRef { part, port: Port::Outlet(99) })
}

#[test]
fn a_hose_is_refused_as_the_whole_routing_would_be() {
    let project = files::demo();
    let other = project.routings[0].runs[0].tag.clone();
    let first = project.routings[0].parts[0].id;
    assert_eq!(with_run(&project, "a waypoint", |run| run.line.waypoints.push(somewhere())), Ok(()));
    assert_eq!(with_run(&project, "a new tag", |run| run.tag = "H99".to_owned()), Ok(()));
    let wrong: [Wrong<'_, Run>; 16] = [
        ("no such part", &|run| run.from = no_port(PartId(9999))),
        ("no such port", &|run| run.to = no_port(first)),
        ("a loose end nowhere", &|run| run.to = End::Loose(nowhere())),
        ("a waypoint nowhere", &|run| run.line.waypoints.push(nowhere())),
        ("a loose end on no section", &|run| run.to = End::Loose(on_no_section())),
        ("a waypoint on no section", &|run| run.line.waypoints.push(on_no_section())),
        ("too many waypoints", &|run| run.line.waypoints = vec![somewhere(); 201]),
        ("no such stock", &|run| run.line.stock = StockKey::new("no-such-hose")),
        ("a stock that is no hose", &|run| run.line.stock = StockKey::new("barb-12")),
        ("negative slack", &|run| run.line.slack = Ratio::from_si(-0.1)),
        ("no such hinge", &|run| {
            run.line.crossings.push(HingeCrossing::computed(SectionId(99)));
        }),
        ("measured as nothing", &|run| run.line.measured = Some(Length::ZERO)),
        ("a fitting that is none", &|run| run.fittings.push(FittingKey::new("hose-12"))),
        ("too many fittings", &|run| run.fittings = vec![FittingKey::new("barb-12"); 21]),
        ("another's tag", &|run| run.tag.clone_from(&other)),
        ("no tag", &|run| run.tag.clear()),
    ];
    for (what, change) in wrong {
        assert!(with_run(&project, what, change).is_err(), "{what} is taken");
    }
}

#[test]
fn a_row_feed_is_refused_as_the_whole_routing_would_be() {
    let project = files::demo();
    let other = project.routings[0].feeds[0].tag.clone();
    let second = project.routings[0].feeds[1].branches[0].clone();
    let first = |feed: &mut RowFeed, element: FeedElement| feed.branches[0].elements.insert(0, element);
    assert_eq!(with_feed(&project, "left out", |feed| drop(feed.branches[0].elements.pop())), Ok(()));
    let wrong: [Wrong<'_, RowFeed>; 15] = [
        ("no such part", &|feed| feed.from = no_port(PartId(9999))),
        ("no row", &|feed| feed.branches.clear()),
        ("two rows without a tee", &|feed| feed.branches.push(second.clone())),
        ("a row twice", &|feed| feed.branches.push(feed.branches[0].clone())),
        ("no such row", &|feed| feed.branches[0].row = RowId(9999)),
        ("no such orifice", &|feed| {
            first(feed, FeedElement::Piece(ElementKind::MeteringOrifice, ElementKey::new("no-such")));
        }),
        ("a check valve that is none", &|feed| {
            first(feed, FeedElement::Piece(ElementKind::CheckValve, ElementKey::new("barb-12")));
        }),
        ("a metering tube of no length", &|feed| {
            let stock = StockKey::new("tube-6");
            first(feed, FeedElement::MeteringTube { stock, length: Length::ZERO, coil: None });
        }),
        ("too many elements", &|feed| {
            feed.branches[0].elements = vec![FeedElement::Fitting(FittingKey::new("barb-12")); 1000];
        }),
        ("a tube that ends nowhere", &|feed| feed.first_tube_mut().unwrap().end = Some(nowhere())),
        ("a tube that ends on no section", &|feed| {
            feed.first_tube_mut().unwrap().end = Some(on_no_section());
        }),
        ("a tube that passes no section", &|feed| {
            feed.first_tube_mut().unwrap().line.waypoints.push(on_no_section());
        }),
        ("a small tee on no section", &|feed| {
            feed.split = Some(Split { entry: FittingKey::new("small-tee-4"), position: on_no_section() });
        }),
        ("another's tag", &|feed| feed.tag.clone_from(&other)),
        ("no tag", &|feed| feed.tag.clear()),
    ];
    for (what, change) in wrong {
        assert!(with_feed(&project, what, change).is_err(), "{what} is taken");
    }
}

/// What turning and bending leave behind is not in the plan, so that files stay readable and two versions can be compared:
/// every coordinate is a whole tenth of a millimetre, whatever way it came in, and the file says what is in hand.
#[test]
fn coordinates_come_out_to_a_tenth_of_a_millimetre() {
    let noise = 1.012_922_111_285_157e-18;
    let mut project = files::demo();
    let routing = project.routings[0].clone();
    let point = |x: f64, y: f64, z: f64| Point3::new(x + 1.0 / 3.0, y + noise, z + 0.000_05 + noise);
    let riding = |x: f64| BarPoint { place: point(x, 0.1 + 0.2, 1.0), section: SectionId(1) };
    let mut run = routing.runs[3].clone();
    run.line.waypoints.push(riding(0.1));
    run.to = End::Loose(riding(0.2));
    let mut feed = routing.feeds[5].clone();
    feed.from = End::Loose(riding(-0.2));
    let mut supply = project.supply.clone();
    supply.pump = point(0.4, 3.0, 0.7);
    supply.tank_surface = Length::metres(1.400_04);
    let mut bar = project.bar.clone();
    bar.rows[7].x += Length::metres(0.000_333);
    bar.sections[1].left += Length::metres(-0.000_277);
    let turned = {
        let mut part = routing.parts.iter().find(|part| part.mount.is_none()).unwrap().clone();
        part.turn = equirow::quantities::Angle::degrees(180.0);
        part.position = point(part.position.x, part.position.y, part.position.z);
        part
    };
    for edit in [
        Edit::PutRun(routing.id, run),
        Edit::PutFeed(routing.id, feed),
        Edit::SetSupply(supply),
        Edit::SetBar(Box::new(bar)),
        Edit::PutPart(routing.id, turned.clone()),
        Edit::MovePart(routing.id, turned.id, point(1.0, 0.2, 1.0)),
        // Its hoses keep loose ends where its turned ports were.
        Edit::RemovePart(routing.id, turned.id),
    ] {
        apply(&mut project, edit).unwrap();
    }
    let mut all = Vec::new();
    let bar = &project.bar;
    all.extend(bar.rows.iter().flat_map(|row| [row.x.si(), row.outlet_height.si()]));
    all.extend(bar.sections.iter().flat_map(|section| [section.left.si(), section.right.si()]));
    all.push(project.supply.tank_surface.si());
    let mut points = vec![project.supply.pump];
    points.extend(project.routings[0].parts.iter().map(|part| part.position));
    points.extend(project.routings[0].clone().points_mut().map(|point| point.place));
    all.extend(points.iter().flat_map(|point| [point.x, point.y, point.z]));
    for value in all {
        assert_eq!(value.to_bits(), ((value * 1e4).round() / 1e4 + 0.0).to_bits(), "{value:e}");
    }
    let text = files::write_text(&project).unwrap();
    assert_eq!(files::read_text(&text).unwrap(), project);
}

/// Every command of the program over every example, with everything selected: what is saved then has no coordinate with
/// more decimals, and what a command did not mean to move stands where it stood.
#[test]
fn no_command_leaves_longer_coordinates_behind() {
    let folder = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    let mut checked = 0;
    for name in ["six-metre-trial-bar.ron", "nine-metre-bar.ron"] {
        let project = files::open(&folder.join(name)).unwrap();
        for entry in TABLE {
            let mut session = Session::new(project.clone(), None);
            session.select_all();
            if commands::obstacle(&session, entry.command).is_some()
                || commands::run(&mut session, entry.command).is_err()
            {
                continue;
            }
            let text = files::write_text(session.project()).unwrap();
            for (line, words) in text.lines().enumerate() {
                let coordinates = words.split(['(', ',', ')']).filter_map(|one| {
                    let (axis, number) = one.trim().split_once(": ")?;
                    ["x", "y", "z"].contains(&axis).then_some(number)
                });
                for number in coordinates {
                    checked += 1;
                    let decimals = number.split_once('.').map_or(0, |(_, behind)| behind.len());
                    assert!(decimals <= 4, "{name}, {}, line {}: {words}", entry.label, line + 1);
                }
            }
        }
    }
    assert!(checked > 10_000, "{checked}");
}

#[test]
fn a_rate_of_0_is_refused_and_can_be_mended_where_a_file_holds_one() {
    let mut project = files::demo();
    let mut duty = project.duties.first().clone();
    let rate = duty.rate;
    duty.rate = ApplicationRate::ZERO;
    let error = apply(&mut project, Edit::PutDuty(Box::new(duty.clone()))).unwrap_err().to_string();
    assert!(
        error.contains("application rate is 0") && error.contains("give what is to be applied"),
        "{error}"
    );
    assert_eq!(project.duties.first().rate, rate);
    project.duties.first_mut().rate = ApplicationRate::ZERO;
    let text = files::write_text(&project).unwrap();
    let mut project = files::read_text(&text).unwrap();
    duty.usual = duty.fastest;
    apply(&mut project, Edit::PutDuty(Box::new(duty.clone()))).unwrap();
    duty.rate = rate;
    apply(&mut project, Edit::PutDuty(Box::new(duty))).unwrap();
    assert_eq!(project.duties.first().rate, rate);
}
