//! Other conditions looked at live: what flows in the routing in hand if one thing is otherwise than planned.
//!
//! Like the speed looked at it changes no project and leaves no step. Whatever shows what flows shows it
//! ([`Session::shown_outcome`]); findings, lists, papers and edits go by the plan ([`Session::outcome`]).

use super::refusal::Reply;
use super::{Obstacle, Session};
use crate::hydraulics::Outcome;
use crate::studies::conditions::Condition;

impl Session {
    /// Looks at what flows under a condition, until another one or [`Session::look_as_planned`]; changes no project.
    pub fn look_at_condition(&mut self, condition: Condition) -> Reply {
        let project = self.document.project();
        if self.solved.look_at_condition(project, Some(condition)) {
            Ok(None)
        } else {
            Err(Obstacle::ConditionNotThere.into())
        }
    }

    /// Looks at what flows as planned again.
    pub fn look_as_planned(&mut self) {
        self.solved.look_at_condition(self.document.project(), None);
    }

    /// The condition that is looked at, in words; none where it is the plan.
    pub fn looked_at(&self) -> Option<&str> {
        self.solved.looked_at()
    }

    /// What flows under the condition that is looked at, or as planned.
    pub fn shown_outcome(&self) -> &Outcome {
        self.solved.shown_outcome()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;
    use crate::hydraulics::RowState;
    use crate::plan::Edit;

    /// Looked at, everything that shows what flows follows and the project does not; it goes with its row or routing.
    #[test]
    fn a_condition_is_looked_at_without_a_step_and_goes_with_what_it_is_about() {
        let mut session = Session::new(files::demo(), None);
        let project = session.project().clone();
        let (planned, findings) = (session.outcome().clone(), session.findings().to_vec());
        let row = project.bar.rows[11].id;
        let revision = session.revision();
        assert_eq!(session.look_at_condition(Condition::RowBlocked(row)), Ok(None));
        assert!(session.looked_at().is_some_and(|words| words == "row 12 blocked"));
        assert!(session.revision() > revision, "it is drawn anew");
        let shown = session.shown_outcome().row(row).map(|row| row.state);
        assert_eq!(shown, Some(RowState::Blocked));
        assert_eq!((session.outcome(), session.findings()), (&planned, findings.as_slice()));
        assert_eq!((session.project(), session.is_changed(), session.undo_name()), (&project, false, None));
        // Looked at at another speed it is still looked at.
        session.look_at_speed(session.duty().fastest);
        assert_eq!(session.shown_outcome().row(row).map(|row| row.state), Some(RowState::Blocked));
        session.look_as_planned();
        assert_eq!((session.looked_at(), session.shown_outcome()), (None, session.outcome()));
        // Gone with its row.
        session.look_at_condition(Condition::RowBlocked(row)).unwrap();
        let without = project.routings[0].feed_of(row).unwrap().id;
        let routing = project.routings[0].id;
        session.edit("Delete", [Edit::RemoveFeed(routing, without)]).unwrap();
        assert_eq!(session.looked_at(), None);
        assert!(session.take_remark().is_some_and(|remark| remark.to_string().contains("as planned")));
        assert!(session.look_at_condition(Condition::RowBlocked(row)).is_err());
    }
}
