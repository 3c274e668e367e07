//! The project in hand without a window: tools, undo, and what is never broken by any of them.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

use equirow::files;
use equirow::geometry::Point2;
use equirow::hydraulics::connectivity::ConnectionProblem;
use equirow::hydraulics::{RowState, Status};
use equirow::plan::validate::validate;
use equirow::plan::{Control, Edit, End, Item, PartId, Subject, Supply};
use equirow::quantities::{Angle, Pressure, Speed};
use equirow::session::{Session, Tool, rows};
use proptest::prelude::*;

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
    session.selection = [Subject::Part(manifold)].into();
    session.delete_selection();
    let loose = session
        .routing()
        .runs
        .iter()
        .filter(|run| [run.from, run.to].iter().any(|end| matches!(end, End::Loose(_))));
    assert!(loose.count() > 0);
    for row in &rows {
        assert_eq!(session.outcome().row(*row).unwrap().state, RowState::FeedLoose);
    }
    assert!(
        session.outcome().problems.iter().any(|problem| matches!(problem, ConnectionProblem::LooseRun(_)))
    );
    assert!(
        session.findings().iter().any(|finding| finding.key.starts_with("not fed")),
        "{:?}",
        session.findings()
    );
    // The others go on being fed, and share out what is asked of them.
    assert_eq!(session.outcome().status, Status::Solved);
    session.undo();
    assert_eq!(*session.project(), files::demo());
}

#[test]
fn a_gesture_is_cancelled_without_a_trace() {
    let mut session = demo();
    let manifold = part_named(&session, "M2");
    let at = session.routing().part(manifold).unwrap().position.flat();
    session.press(at, Some(Subject::Part(manifold)), 0.1, false);
    session.drag(Point2::new(at.x + 0.5, at.y + 0.2), None, 0.01);
    assert_ne!(*session.project(), files::demo());
    session.cancel();
    assert_eq!(*session.project(), files::demo());
    assert_eq!(session.undo_name(), None);
    // A press and release in place is no step either.
    session.press(at, Some(Subject::Part(manifold)), 0.1, false);
    session.release();
    assert_eq!(session.undo_name(), None);
}

#[test]
fn more_rows_than_outlets_are_refused_in_words() {
    let mut session = demo();
    let manifold = part_named(&session, "M1");
    let all: Vec<_> = session.project().bar.rows.iter().map(|row| row.id).collect();
    let error = session.give_rows(manifold, &all).unwrap_err();
    assert!(error.contains("outlets free"), "{error}");
    assert_eq!(*session.project(), files::demo());
}

#[test]
fn the_pressure_limit_turns_a_metered_supply_into_a_held_one() {
    let mut session = demo();
    let asked = session.outcome().target_total;
    let supply = session.project().supply;
    let control = Control::Metered { limit: Pressure::bar(1.0) };
    session.edit("Change the supply", [Edit::SetSupply(Supply { control, ..supply })]).unwrap();
    let Status::AtLimit { shortfall } = session.outcome().status else {
        panic!("{:?}", session.outcome().status)
    };
    let total = session.outcome().total_flow.unwrap();
    assert!((total.si() + shortfall.si() - asked.si()).abs() < 1e-9 * asked.si());
    assert!((session.outcome().pump_pressure.unwrap().si() - 1e5).abs() < 1e-3);
}

#[test]
fn a_side_slope_gives_the_low_side_more() {
    let mut session = demo();
    let flat: Vec<f64> = session.outcome().rows.iter().map(|row| row.flow.unwrap().si()).collect();
    session.look_at_side_slope(Angle::slope_percent(10.0));
    let tilted: Vec<f64> = session.outcome().rows.iter().map(|row| row.flow.unwrap().si()).collect();
    // Right side up: the left tip gains, the right tip loses (static head).
    assert!(tilted[0] / flat[0] > tilted[39] / flat[39]);
    assert!(!session.is_changed());
}

/// One random thing a user may do.
fn act(session: &mut Session, what: u8, which: usize, x: f64, y: f64) {
    let parts: Vec<PartId> = session.routing().parts.iter().map(|part| part.id).collect();
    let part = parts.get(which % parts.len().max(1)).copied();
    let at = Point2::new(x, y);
    match what {
        0 => {
            if let Some(part) = part {
                let from = session.routing().part(part).unwrap().position.flat();
                session.press(from, Some(Subject::Part(part)), 0.1, false);
                session.drag(at, None, 0.0);
                session.drag(Point2::new(y, x), None, 0.0);
                session.release();
            }
        }
        1 => {
            session.selection = part.map(Subject::Part).into_iter().collect();
            session.delete_selection();
        }
        2 => {
            let entries = &session.project().catalogue.entries;
            let placed: Vec<_> =
                entries.iter().filter(|entry| entry.item.is_part()).map(|entry| entry.key.clone()).collect();
            session.place(&placed[which % placed.len()], at, 2.0);
        }
        3 => {
            let hose = session.first_entry(|item| matches!(item, Item::Hose(_))).unwrap().key.clone();
            session.take(Tool::Join { stock: hose });
            session.press(at, None, 5.0, false);
            session.release();
            session.press(Point2::new(-x, y), None, 5.0, false);
            session.release();
        }
        4 => {
            if let Some(part) = part {
                let rows: Vec<_> =
                    session.project().bar.rows.iter().skip(which % 40).take(3).map(|row| row.id).collect();
                let _ = session.give_rows(part, &rows);
            }
        }
        5 => session.undo(),
        6 => session.redo(),
        7 => session.cancel(),
        8 => session.look_at_speed(Speed::kilometres_per_hour(5.0 + x.abs())),
        _ => {
            let run =
                session.routing().runs.get(which % session.routing().runs.len().max(1)).map(|run| run.id);
            session.selection = run.map(Subject::Run).into_iter().collect();
            session.delete_selection();
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is done, the plan keeps its promises, and undoing all of it gives the same file byte for byte.
    #[test]
    fn any_sequence_undone_is_as_if_it_had_not_been(
        acts in prop::collection::vec((0u8..10, 0usize..200, -6.5f64..6.5, -1.0f64..1.5), 1..25)
    ) {
        let mut session = demo();
        let start = files::write_text(session.project()).unwrap();
        for (what, which, x, y) in acts {
            act(&mut session, what, which, x, y);
            let broken = validate(session.project());
            prop_assert!(broken.is_empty(), "{broken:?}");
        }
        session.cancel();
        while session.undo_name().is_some() {
            session.undo();
        }
        prop_assert_eq!(files::write_text(session.project()).unwrap(), start);
    }
}
