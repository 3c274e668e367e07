//! The project in hand without a window: tools, undo, and what is never broken by any of them.

use equirow::checks;
use equirow::files;
use equirow::geometry::Point2;
use equirow::hydraulics::connectivity::ConnectionProblem;
use equirow::hydraulics::{NotFed, SupplyState};
use equirow::plan::validate::validate;
use equirow::plan::{
    Control, Edit, End, Item, PartId, PartItem, PartKey, Port, PortRef, Project, RoutingGeometry, RowId,
    StockItem, StockKey, Subject, Supply,
};
use equirow::quantities::{Angle, Length, Pressure, Speed};
use equirow::session::commands::{self, TABLE};
use equirow::session::snap::SnapSettings;
use equirow::session::{Gesture, Scope, Session, Tool, rows};

fn demo() -> Session {
    Session::new(files::demo(), None)
}

fn part_named(session: &Session, tag: &str) -> PartId {
    session.routing().parts.iter().find(|part| part.tag == tag).unwrap().id
}

#[test]
fn a_part_removed_under_its_hoses_leaves_loose_ends_and_rows_not_fed() {
    let mut session = demo();
    let manifold = part_named(&session, "M1");
    let rows = rows::rows_of(session.project(), session.routing(), manifold);
    assert!(!rows.is_empty());
    session.select([Subject::Part(manifold)]);
    session.delete_selection().unwrap();
    let loose = session
        .routing()
        .runs
        .iter()
        .filter(|run| [run.from, run.to].iter().any(|end| matches!(end, End::Loose(_))));
    assert!(loose.count() > 0);
    for row in &rows {
        assert_eq!(session.outcome().connection(*row).unwrap().connected, Err(NotFed::FeedLoose));
    }
    assert!(
        session.outcome().problems.iter().any(|problem| matches!(problem, ConnectionProblem::LooseRun(_)))
    );
    assert!(
        session.findings().iter().any(|finding| finding.kind.rule == "not fed"),
        "{:?}",
        session.findings()
    );
    // The others go on being fed, and share out what is asked of them.
    assert_eq!(session.outcome().numbers().map(|one| one.supply), Some(SupplyState::AsAsked));
    session.undo();
    assert_eq!(*session.project(), files::demo());
}

#[test]
fn a_gauge_goes_onto_the_gauge_port_before_any_other() {
    let mut session = demo();
    let catalogue = session.project().catalogue.clone();
    let gauge: PartKey = catalogue.first(|item| matches!(item, PartItem::Gauge(_))).unwrap();
    let manifold = part_named(&session, "M2");
    let place = |session: &Session, port| {
        let port = PortRef { part: manifold, port };
        session.geometry().anchors.port(port).unwrap().place.flat()
    };
    session.take(Tool::Place(gauge.clone()));
    let gauge_port = PortRef { part: manifold, port: Port::Gauge };
    assert!(session.mounts_in_hand().contains(&gauge_port), "it is shown");
    assert!(session.mounts_in_hand().iter().all(|port| session.routing().on_port(*port).is_empty()));
    // Over the body of the manifold, at its end, and with reach for two ports.
    let middle = session.routing().part(manifold).unwrap().position.flat();
    for (at, reach) in [(middle, 0.02), (place(&session, Port::Out), 0.5)] {
        let ghosts = session.ghosts(at, reach);
        assert_eq!(ghosts[0].mount, Some(gauge_port));
        assert!(session.snap_text(&ghosts[0].snap).unwrap().contains("M2 gauge port"));
    }
    let remark = session.place(&gauge, place(&session, Port::Out), 0.5).unwrap().unwrap();
    let tag = session.routing().parts.last().unwrap().tag.clone();
    assert_eq!(session.routing().parts.last().unwrap().mount, Some(gauge_port));
    assert_eq!(remark.to_string(), format!("{tag} is mounted on M2 gauge port"));
    // A second one takes what is left.
    assert!(!session.mounts_in_hand().contains(&gauge_port));
    let next = session.ghosts(place(&session, Port::Out), 0.05)[0].mount;
    assert_ne!(next, Some(gauge_port));
}

#[test]
fn a_gesture_is_cancelled_without_a_trace() {
    let mut session = demo();
    let manifold = part_named(&session, "M2");
    let at = session.routing().part(manifold).unwrap().position.flat();
    session.press(at, Some(Subject::Part(manifold)), 0.1, false).unwrap();
    session.drag(Point2::new(at.x + 0.5, at.y + 0.2), None, 0.01).unwrap();
    assert_ne!(*session.project(), files::demo());
    session.cancel();
    assert_eq!(*session.project(), files::demo());
    assert_eq!(session.undo_name(), None);
    // A press and release in place is no step either.
    session.press(at, Some(Subject::Part(manifold)), 0.1, false).unwrap();
    session.release().unwrap();
    assert_eq!(session.undo_name(), None);
}

#[test]
fn more_rows_than_outlets_are_refused_in_words() {
    let mut session = demo();
    let manifold = part_named(&session, "M1");
    let all: Vec<_> = session.project().bar.rows.iter().map(|row| row.id).collect();
    let error = session.give_rows(manifold, &all).unwrap_err().to_string();
    assert!(error.contains("outlets free"), "{error}");
    assert_eq!(*session.project(), files::demo());
}

#[test]
fn the_pressure_limit_turns_a_metered_supply_into_a_held_one() {
    let mut session = demo();
    let asked = session.outcome().target_total;
    let supply = session.project().supply.clone();
    let control = Control::Metered { limit: Pressure::bar(1.0) };
    session.edit("Change the pump", [Edit::SetSupply(Supply { control, ..supply.clone() })]).unwrap();
    let Some((shortfall, _)) = session.outcome().at_limit() else { panic!("{:?}", session.outcome().result) };
    let total = session.outcome().numbers().unwrap().total_flow;
    assert!((total.si() + shortfall.si() - asked.si()).abs() < 1e-9 * asked.si());
    assert!((session.outcome().numbers().unwrap().pump_pressure.si() - 1e5).abs() < 1e-3);
}

#[test]
fn a_pump_gives_no_more_than_it_delivers() {
    let mut session = demo();
    let asked = session.outcome().target_total;
    let supply = session.project().supply.clone();
    let pump_capacity = Some(asked * 0.8);
    session.edit("Change the pump", [Edit::SetSupply(Supply { pump_capacity, ..supply.clone() })]).unwrap();
    let Some((shortfall, _)) = session.outcome().at_limit() else { panic!("{:?}", session.outcome().result) };
    let near = |one: f64, other: f64| (one - other).abs() < 1e-9 * asked.si();
    assert!(near(shortfall.si(), 0.2 * asked.si()));
    assert!(near(session.outcome().numbers().unwrap().total_flow.si(), 0.8 * asked.si()));
    // Held pressure falls until the flow fits the pump.
    let control = Control::Held { pressure: Pressure::bar(3.0) };
    session
        .edit("Change the pump", [Edit::SetSupply(Supply { control, pump_capacity, ..supply.clone() })])
        .unwrap();
    assert!(session.outcome().at_limit().is_some());
    assert!(near(session.outcome().numbers().unwrap().total_flow.si(), 0.8 * asked.si()));
    assert!(session.outcome().numbers().unwrap().pump_pressure < Pressure::bar(3.0));
}

#[test]
fn a_side_slope_gives_the_low_side_more() {
    let mut session = demo();
    let flat: Vec<f64> = session.outcome().rows().iter().map(|row| row.flow.si()).collect();
    session.look_at_side_slope(Angle::from_si(0.1_f64.atan()));
    let tilted: Vec<f64> = session.outcome().rows().iter().map(|row| row.flow.si()).collect();
    // Right side up: the left tip gains, the right tip loses (static head).
    assert!(tilted[0] / flat[0] > tilted[39] / flat[39]);
    assert!(!session.is_changed());
}

/// Numbers that look random and are the same in every run (Marsaglia's xorshift, 64 bits).
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, most: usize) -> usize {
        (self.roll() % most.max(1) as u64) as usize
    }

    fn within(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * (self.roll() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn place(&mut self) -> Point2 {
        // Now and then far beyond anything.
        let far = if self.below(40) == 0 { 100.0 } else { 1.0 };
        Point2::new(self.within(-6.5, 6.5) * far, self.within(-1.2, 2.5) * far)
    }
}

/// Somewhere a hand might aim at, and what lies there: a thing of the plan, or an empty place.
fn aim(session: &Session, dice: &mut Dice) -> (Point2, Option<Subject>) {
    let routing = session.routing();
    let catalogue = &session.project().catalogue;
    let bar = &session.project().bar;
    match dice.below(6) {
        0 | 1 if !routing.parts.is_empty() => {
            let part = &routing.parts[dice.below(routing.parts.len())];
            (session.geometry().anchors.part(part.id).unwrap().at.flat(), Some(Subject::Part(part.id)))
        }
        2 if !routing.parts.is_empty() => {
            let part = &routing.parts[dice.below(routing.parts.len())];
            let ports = catalogue.item(&part.entry).map(PartItem::ports).unwrap_or_default();
            let port = ports[dice.below(ports.len())];
            let place = session.geometry().anchors.port(PortRef { part: part.id, port }).unwrap().place;
            (place.flat(), Some(Subject::Part(part.id)))
        }
        3 if !routing.runs.is_empty() => {
            let run = &routing.runs[dice.below(routing.runs.len())];
            let path = session.geometry().run(run.id).unwrap().places();
            let leg = dice.below(path.len() - 1);
            let place = path[leg].towards(path[leg + 1], dice.within(0.0, 1.0));
            (place.flat(), Some(Subject::Run(run.id)))
        }
        4 => {
            let row = &bar.rows[dice.below(bar.rows.len())];
            (bar.outlet(row).flat(), Some(Subject::Row(row.id)))
        }
        _ => (dice.place(), None),
    }
}

/// One random thing a user may do, refused or not, with pointer and keys, in whatever state things are.
fn gesture(session: &mut Session, dice: &mut Dice) {
    let reach = dice.within(0.01, 0.4);
    match dice.below(20) {
        0..=8 => {
            // A press, perhaps moves, perhaps a release: the next press may come without one.
            let (at, hit) = aim(session, dice);
            let _ = session.press(at, hit, reach, dice.below(4) == 0);
            for _ in 0..dice.below(4) {
                let (to, under) = aim(session, dice);
                let _ = session.drag(to, under, 0.01);
                if dice.below(12) == 0 {
                    session.undo();
                }
            }
            match dice.below(12) {
                0 => session.cancel(),
                1 => {}
                _ => drop(session.release()),
            }
        }
        9 => {
            let (at, hit) = aim(session, dice);
            let _ = session.double_click(at, hit, reach);
        }
        10..=12 => {
            let parts: Vec<_> = session
                .project()
                .catalogue
                .entries
                .iter()
                .filter(|entry| matches!(entry.item, Item::Part(_) | Item::Stock(StockItem::Hose(_))))
                .map(|entry| entry.key.clone())
                .collect();
            let entry = parts[dice.below(parts.len())].clone();
            let catalogue = &session.project().catalogue;
            let (hose, part) = (catalogue.key::<StockKey>(&entry), catalogue.key::<PartKey>(&entry));
            let tool = match dice.below(7) {
                0 => Tool::Select,
                1 => Tool::Paste,
                2 => Tool::Split { tee: None },
                3 => Tool::GiveRows { manifold: None },
                _ => match (hose, part) {
                    (Some(stock), _) => Tool::Join { stock },
                    (None, Some(part)) => Tool::Place(part),
                    (None, None) => Tool::Select,
                },
            };
            session.take(tool);
        }
        13 => {
            let look = Speed::kilometres_per_hour(dice.within(4.0, 12.0));
            session.look_at_speed(look);
        }
        14 => session.set_snapping(SnapSettings {
            grid: (dice.below(2) == 0).then(|| Length::millimetres(50.0)),
            ..session.snapping()
        }),
        _ => {
            // Any command of the table; those that wait for the window do nothing here.
            let entry = &TABLE[dice.below(TABLE.len())];
            let _ = commands::run(session, entry.command);
            if dice.below(3) == 0 {
                // What was selected by it is worked on.
                let entry = &TABLE[dice.below(TABLE.len())];
                let _ = commands::run(session, entry.command);
            }
        }
    }
}

/// A bar with few rows, so that thousands of gestures are solved in the time there is.
fn small() -> Project {
    let mut project = files::demo();
    let kept: Vec<RowId> = project.bar.rows.iter().step_by(4).map(|row| row.id).collect();
    let gone: Vec<RowId> =
        project.bar.rows.iter().map(|row| row.id).filter(|id| !kept.contains(id)).collect();
    for row in gone {
        equirow::plan::edit::apply(&mut project, Edit::RemoveRow(row)).unwrap();
    }
    project
}

/// Ten random users, each from their own fixed seed, make three hundred gestures each. Nothing panics; after every
/// gesture the plan keeps its promises and what is solved is of the plan in hand; and when each has undone all of it
/// (as far as steps are kept), the file is the one they began with, byte for byte.
fn random_users_break_nothing_and_can_undo_it_all(seeds: std::ops::RangeInclusive<u64>) {
    let mut steps = 0;
    for seed in seeds {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let plumbed = Session::new(small(), None);
        let bare = Project::new(small().bar, files::generic_catalogue());
        let mut session = if seed % 3 == 0 { Session::new(bare, None) } else { plumbed };
        // Steps beyond the oldest that is kept can't be undone: stop well before.
        for part in 0..3 {
            let start = files::write_text(session.project()).unwrap();
            let mut fresh = Session::new(session.project().clone(), None);
            std::mem::swap(&mut session, &mut fresh);
            for turn in 0..100 {
                gesture(&mut session, &mut dice);
                let broken = validate(session.project());
                assert!(broken.is_empty(), "seed {seed}, gesture {part}/{turn}: {broken:?}");
                assert_eq!(session.outcome().connections.len(), session.project().bar.rows.len());
                // A drag that goes on leaves lengths at hinges and findings to threads; nothing else does.
                let awaits = session.awaits_lengths() || !session.has_found();
                assert!(!awaits || *session.gesture() != Gesture::None, "seed {seed}, gesture {part}/{turn}");
                while session.keep_computing(|| {}) {
                    std::thread::yield_now();
                }
                let anew = RoutingGeometry::working(session.project(), session.routing());
                assert!(*session.geometry() == anew, "seed {seed}, gesture {part}/{turn}: it lies elsewhere");
                if turn % 10 == 0 {
                    let laid = session.geometry().with(session.routing());
                    let (outcome, range) = (session.outcome(), session.range());
                    let found = checks::findings(session.project(), laid, outcome, &range.outcomes);
                    assert!(
                        session.findings() == found,
                        "seed {seed}, gesture {part}/{turn}: findings differ"
                    );
                }
                let differs = *session.project() != *fresh.project();
                assert_eq!(session.is_changed(), differs, "seed {seed}, gesture {part}/{turn}");
            }
            while *session.gesture() != Gesture::None {
                session.cancel();
            }
            let end = files::write_text(session.project()).unwrap();
            let mut undone = 0;
            while session.undo_name().is_some() {
                session.undo();
                undone += 1;
            }
            steps += undone;
            // Text against text, and no more of it than says where: a project in full would fill the screen.
            let same = files::write_text(session.project()).unwrap() == start;
            assert!(same && !session.is_changed(), "seed {seed}, part {part}: undone");
            for _ in 0..undone {
                session.redo();
            }
            assert!(files::write_text(session.project()).unwrap() == end, "seed {seed}, part {part}: redone");
        }
    }
    // They did do something.
    assert!(steps > 250, "{steps}");
}

#[test]
fn random_users_break_nothing_and_can_undo_it_all_first_half() {
    random_users_break_nothing_and_can_undo_it_all(1..=5);
}

#[test]
fn random_users_break_nothing_and_can_undo_it_all_second_half() {
    random_users_break_nothing_and_can_undo_it_all(6..=10);
}

/// Joining rows takes tubes away, and with them part of what is selected; undo brings back both, redo what came of it.
#[test]
fn undo_brings_back_what_was_selected() {
    let mut session = Session::new(files::demo(), None);
    session.select_feeds();
    let all = session.selection().clone();
    session.pair_rows(&Scope::Bar).unwrap();
    assert!(session.selection().len() < all.len());
    let paired = session.selection().clone();
    session.undo();
    assert_eq!(*session.selection(), all);
    session.redo();
    assert_eq!(*session.selection(), paired);
}

/// Rows belong to the bar; parts, hoses and row feeds to their routing, whatever their tags.
#[test]
fn nothing_but_rows_stays_selected_in_another_routing() {
    let mut session = Session::new(files::demo(), None);
    let first = session.routing().id;
    session.add_routing(true).unwrap();
    session.select_all();
    let row = Subject::Row(session.project().bar.rows[3].id);
    session.toggle(row);
    session.take(Tool::GiveRows { manifold: session.selected_parts().first().copied() });
    session.show_routing(first);
    assert_eq!(session.selection().iter().copied().collect::<Vec<_>>(), [row]);
    assert_eq!(*session.tool(), Tool::GiveRows { manifold: None });
    // Undo shows the routing the step was done in, and what was selected there.
    session.undo();
    assert_eq!(session.selection().len(), 0);
}
