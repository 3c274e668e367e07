//! A new bar plumbed in few steps: first choices that fit their ports, manifolds clear of what stands there, tubes that
//! follow the frame, main hoses in one step.

use equirow::checks::Severity;
use equirow::files;
use equirow::geometry::{Point2, Point3};
use equirow::plan::frame_graph::FREE_TUBE;
use equirow::plan::lay_out::{Layout, even_sections, lay_out, usual_hinges};
use equirow::plan::open_air::{HungPath, longest_free_span};
use equirow::plan::{
    Bar, BarPoint, Edit, End, EntryKey, Part, PartKey, PartKind, Port, PortRef, Project, StockItem, StockKey,
    Subject,
};
use equirow::quantities::Length;
use equirow::session::commands::{self, Command};
use equirow::session::properties::{Property, PropertyValue};
use equirow::session::{Session, Tool};
use equirow::sheets::items::{ListItem, items};

const REACH: f64 = 0.15;

/// A new bar of rows 0.3 m apart in two ranks, and the generic catalogue.
fn new_bar(rows: u32, sections: usize) -> Session {
    let spacing = Length::metres(0.3);
    let layout = Layout {
        sections: even_sections(rows, spacing, sections),
        hinges: usual_hinges(sections / 2),
        ..Layout::even(rows, spacing)
    };
    started(lay_out(&layout).unwrap())
}

fn started(bar: Bar) -> Session {
    Session::new(Project::new(bar, files::generic_catalogue()), None)
}

fn do_all(session: &mut Session, commands: &[Command]) {
    for command in commands {
        session.select([]);
        commands::run(session, *command).unwrap();
    }
}

/// The errors of the routing in hand, each as it is told.
pub(super) fn errors(session: &Session) -> Vec<String> {
    let errors = session.findings().iter().filter(|one| one.severity == Severity::Error);
    errors.map(ToString::to_string).collect()
}

fn manifolds(session: &Session) -> Vec<Part> {
    session.routing().parts.iter().filter(|part| session.is_manifold(part.id)).cloned().collect()
}

#[test]
fn a_new_bar_is_plumbed_to_even_rows_by_five_commands_and_one_click() {
    for (how, rows, sections) in [
        (Command::MainsFromTees, 20, 3),
        (Command::MainsInChain, 20, 3),
        (Command::MainsByWing, 40, 5),
        (Command::MainsByWing, 40, 7),
        (Command::MainsFromTees, 10, 1),
    ] {
        let mut session = new_bar(rows, sections);
        do_all(&mut session, &[Command::ManifoldPerSection, Command::NearestManifold, Command::PlugOpen]);
        session.place(&PartKey::new("filter-19-300"), Point2::new(0.0, 1.0), REACH).unwrap();
        do_all(&mut session, &[how]);
        assert_eq!(session.outcome().fed_rows(), rows as usize, "{how:?}, {sections} sections");
        assert_eq!(errors(&session), Vec::<String>::new(), "{how:?}, {sections} sections");
        let cv = session.outcome().evenness().unwrap().cv.si();
        assert!(cv < 0.05, "{how:?}, {sections} sections: {cv}");
    }
}

/// A filter near the place that a manifold would take: neither its body nor, at the 27 points a metre of a small window, its
/// mark lies under the manifold's.
#[test]
fn new_manifolds_keep_clear_of_the_mark_of_a_filter() {
    for (x, y) in [(0.0, 0.3), (0.0, 0.1), (0.0, -0.1), (0.15, 0.0), (0.0, 0.0)] {
        let mut session = new_bar(20, 3);
        session.place(&PartKey::new("filter-19-300"), Point2::new(x, y), REACH).unwrap();
        do_all(&mut session, &[Command::ManifoldPerSection]);
        let catalogue = &session.project().catalogue;
        let size = |part: &Part| {
            let symbol = catalogue.item(&part.entry).unwrap().symbol();
            let drawn = [symbol.along, symbol.across].map(|held| held.half.max(held.least / 27.0));
            if part.turn.si().sin().abs() > 0.7 { [drawn[1], drawn[0]] } else { drawn }
        };
        let filter = &session.routing().parts[0];
        let (own, at) = (size(filter), filter.position);
        for manifold in manifolds(&session) {
            let (other, to) = (size(&manifold), manifold.position);
            let is_clear =
                (at.x - to.x).abs() >= own[0] + other[0] || (at.y - to.y).abs() >= own[1] + other[1];
            assert!(is_clear, "{} at {to:?} lies over the filter at {at:?}", manifold.tag);
        }
    }
}

/// The outlets of the generic manifolds are push-in for 8 mm: no reducer in any row feed.
#[test]
fn the_first_tube_fits_outlets_and_valve() {
    let mut session = new_bar(20, 3);
    do_all(&mut session, &[Command::ManifoldPerSection, Command::NearestManifold]);
    let catalogue = &session.project().catalogue;
    for feed in &session.routing().feeds {
        let stock = catalogue.stock(&feed.first_tube().unwrap().line.stock).unwrap();
        assert!((stock.outside.si() - 0.008).abs() < 1e-9, "{}", feed.tag);
    }
    let not_fitting = |session: &Session| {
        let found = session.findings().iter().find(|one| one.kind.case == "row feeds");
        found.map(|one| one.what.clone())
    };
    assert_eq!(not_fitting(&session), None);
    // The narrower tube is told with the number of reducers: one at the outlet and one at the valve of each row.
    let feeds: Vec<Subject> = session.routing().feeds.iter().map(|feed| Subject::Feed(feed.id)).collect();
    let tube = PropertyValue::Entry(EntryKey::new("tube-4"));
    session.set(Property::Tube, &feeds, tube).unwrap();
    let told = not_fitting(&session).unwrap();
    assert!(told.starts_with("40 joints need a reducer or adapter"), "{told}");
}

/// Tee, valve, meter and filter, each into hoses of several bores, with the catalogue's nearest bore counted by hand.
#[test]
fn what_goes_into_a_hose_takes_its_size_unless_a_size_was_chosen() {
    for (hose, command, bore) in [
        ("hose-25", Command::Place(PartKind::Tee), 0.025),
        ("hose-12", Command::Place(PartKind::Tee), 0.012),
        ("hose-12", Command::Place(PartKind::FlowMeter), 0.012),
        ("hose-25", Command::Place(PartKind::FlowMeter), 0.019),
        ("hose-12", Command::Place(PartKind::SectionValve), 0.012),
        ("hose-32", Command::Place(PartKind::InletFilter), 0.032),
    ] {
        let mut session = new_bar(20, 3);
        // The last one placed was of another size.
        for entry in ["tee-12", "flow-meter-19", "section-valve-19", "filter-19-300"] {
            session.place(&PartKey::new(entry), Point2::new(-2.0, 1.5), REACH).unwrap();
        }
        let loose = |x: f64| {
            let place = Point3::new(x, 0.3, 1.0);
            End::Loose(BarPoint::over(&session.project().bar, place))
        };
        let ends = [loose(-1.0), loose(1.0)];
        session.join(&StockKey::new(hose), ends[0], ends[1]).unwrap();
        commands::run(&mut session, command).unwrap();
        let Tool::Place(usual) = session.tool().clone() else { panic!("a part is in hand") };
        let shown = session.ghosts(Point2::new(0.0, 0.3), REACH);
        session.place(&usual, Point2::new(0.0, 0.3), REACH).unwrap();
        let placed = session.routing().parts.last().unwrap().clone();
        let own = |session: &Session, key: &PartKey| {
            session.project().catalogue.item(key).unwrap().bore().unwrap().si()
        };
        assert!((own(&session, &placed.entry) - bore).abs() < 1e-9, "{hose} {command:?}: {:?}", placed.entry);
        assert_eq!(shown[0].entry, placed.entry, "shown as it goes in");
        assert_eq!(session.routing().runs.len(), 2);
        // A chosen size stays.
        session.undo();
        session.take_size(usual.clone());
        session.place(&usual, Point2::new(0.0, 0.3), REACH).unwrap();
        assert_eq!(session.routing().parts.last().unwrap().entry, usual);
    }
}

/// By their boxes as seen from above, on new bars of many widths of section and on the examples.
#[test]
fn new_manifolds_are_clear_of_openers_and_of_each_other() {
    let mut sessions: Vec<Session> =
        [(20, 1), (20, 3), (40, 5), (40, 9), (80, 7)].map(|(rows, sections)| new_bar(rows, sections)).into();
    for example in ["twelve-metre-bar", "nine-metre-bar", "twenty-four-metre-bar"] {
        sessions.push(started(files::open(format!("examples/{example}.ron").as_ref()).unwrap().bar));
    }
    let mut looked_at = 0;
    for mut session in sessions {
        if commands::run(&mut session, Command::ManifoldPerSection).is_err() {
            // More rows in one section than any manifold has outlets.
            continue;
        }
        let catalogue = &session.project().catalogue;
        let boxes: Vec<(Point2, f64, f64)> = manifolds(&session)
            .iter()
            .map(|part| {
                let body = catalogue.item(&part.entry).unwrap().body();
                (part.position.flat(), body.half_length, body.half_depth)
            })
            .collect();
        let bar = &session.project().bar;
        for (index, (at, half, depth)) in boxes.iter().enumerate() {
            for row in &bar.rows {
                let outlet = bar.outlet(row);
                let on = (outlet.x - at.x).abs() < half + 0.05 && (outlet.y - at.y).abs() < depth + 0.05;
                assert!(!on, "row {} under a manifold at {at:?}", row.number);
            }
            for (other, wide, deep) in &boxes[index + 1..] {
                let on = (other.x - at.x).abs() < half + wide && (other.y - at.y).abs() < depth + deep;
                assert!(!on, "manifolds at {at:?} and {other:?}");
            }
            looked_at += 1;
        }
    }
    assert!(looked_at > 20, "{looked_at}");
}

/// The frame of a new bar has a member over every rank and three across in each section: every tube can be tied.
#[test]
fn tubes_of_a_new_bar_follow_its_members_and_one_finding_tells_of_all_that_can_not() {
    let mut session = new_bar(20, 3);
    do_all(&mut session, &[Command::ManifoldPerSection, Command::NearestManifold]);
    for feed in &session.routing().feeds {
        let laid = session.geometry().feed(feed.id).unwrap();
        let tube = laid.tubes().next().unwrap();
        let free = longest_free_span(&session.project().bar, HungPath::new(&tube.path))
            .map_or(0.0, |span| span.length);
        assert!(free <= FREE_TUBE + 0.1, "{}: {free}", feed.tag);
    }
    let open = |session: &Session| {
        session
            .findings()
            .iter()
            .filter(|one| one.kind.rule == "open frame")
            .map(ToString::to_string)
            .collect::<Vec<_>>()
    };
    assert_eq!(open(&session), Vec::<String>::new());
    // Without the members across, the rear rank is reached over open frame.
    let mut bar = session.project().bar.clone();
    for section in &mut bar.sections {
        section
            .members
            .retain(|member| (member.to.x - member.from.x).abs() > (member.to.y - member.from.y).abs());
    }
    let mut session = started(bar);
    do_all(&mut session, &[Command::ManifoldPerSection, Command::NearestManifold]);
    let told = open(&session);
    assert_eq!(told.len(), 1, "{told:?}");
}

#[test]
fn hoses_of_another_size_than_their_ports_are_told_with_their_count() {
    let mut session = new_bar(20, 1);
    session.place(&PartKey::new("filter-25-300"), Point2::new(0.0, 1.0), REACH).unwrap();
    let filter = session.routing().parts[0].id;
    let port = End::Port(PortRef { part: filter, port: Port::In });
    let narrow = session
        .project()
        .catalogue
        .first(|item| matches!(item, StockItem::Hose(hose) if hose.bore.si() < 0.01));
    session.join(&narrow.unwrap(), End::Supply, port).unwrap();
    let told = session.findings().iter().find(|one| one.kind.rule == "ends that do not fit").unwrap();
    assert_eq!(
        told.what,
        "1 joint needs a reducer or adapter: 1 × Reducer G 1 external x G 1/4 internal (no entry of the catalogue stands for \
         it: choose one)"
    );
    let routing = session.routing().id;
    let edits: Vec<Edit> =
        session.routing().runs.iter().map(|run| Edit::RemoveRun(routing, run.id)).collect();
    session.edit("Bare", edits).unwrap();
    assert!(!session.findings().iter().any(|one| one.kind.rule == "ends that do not fit"));
}

/// A small tee has one outlet more than inlets: a pair takes one, a group of three two.
#[test]
fn a_group_takes_one_small_tee_less_than_it_has_rows() {
    let mut session = new_bar(20, 3);
    do_all(&mut session, &[Command::ManifoldPerSection, Command::NearestManifold]);
    let rows: Vec<_> = session.project().bar.rows.iter().map(|row| row.id).collect();
    let tees = |session: &Session| {
        let all = items(session.project(), session.laid());
        let catalogue = &session.project().catalogue;
        let is_tee = |item: &&ListItem| catalogue.any_item(&item.entry).unwrap().kind() == "small tee";
        all.iter().find(is_tee).map_or(0, |item| item.pieces)
    };
    assert_eq!(tees(&session), 0);
    session.join_rows(&rows[..2]).unwrap();
    assert_eq!(tees(&session), 1);
    session.join_rows(&rows[..3]).unwrap();
    assert_eq!(tees(&session), 2);
    session.part_rows(&rows[..3]).unwrap();
    assert_eq!(tees(&session), 0);
}
