//! A condition that is looked at: said above the drawing, shown by whatever shows what flows, with a way back.

use equirow::files;
use equirow::session::Session;
use equirow::studies::conditions::Condition;

use crate::support::{button, open, says};

#[test]
fn what_is_looked_at_is_said_and_shown_until_back_to_the_plan() {
    let mut session = Session::new(files::demo(), None);
    let row = session.project().bar.rows[11].id;
    session.look_at_condition(Condition::RowBlocked(row)).unwrap();
    let mut harness = open(session);
    assert!(says(&harness, "Looking at: row 12 blocked"));
    assert!(says(&harness, "CV over rows (39 of 40 rows)"), "the figures above follow");
    button(&mut harness, "Back to the plan");
    assert!(!says(&harness, "Looking at"));
    assert!(!says(&harness, "39 of 40 rows"));
    assert!(!harness.state().session.is_changed() && harness.state().session.undo_name().is_none());
}
