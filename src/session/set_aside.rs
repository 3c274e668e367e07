//! What is half made in the hand: kept while the bar is looked at otherwise, and said where it is given up.

use std::sync::Arc;

use super::Session;
use super::refusal::Remark;
use super::tool::{Gesture, Tool};
use crate::plan::{PartKey, Project, RoutingId};
use crate::quantities::Angle;

/// The tool in hand with what is half made with it, laid aside.
#[derive(Debug)]
pub struct SetAside {
    tool: Tool,
    gesture: Gesture,
    size: Option<PartKey>,
    turn: Angle,
    routing: RoutingId,
    /// As it was when that was laid aside: half a hose begins and bends at places of this state.
    project: Arc<Project>,
}

impl Gesture {
    /// What would be lost with it, in words; none where nothing would.
    fn half_made(&self) -> Option<&'static str> {
        match self {
            Self::Joining { .. } => Some("the hose that was being drawn"),
            Self::Rows { .. } => Some("the rows that were being collected"),
            Self::MoveParts { moving: true, .. }
            | Self::MoveWaypoint { moving: true, .. }
            | Self::MoveEnd { moving: true, .. }
            | Self::MoveFeedEnd { moving: true, .. } => Some("the move that was going on"),
            Self::MoveParts { .. }
            | Self::MoveWaypoint { .. }
            | Self::MoveEnd { .. }
            | Self::MoveFeedEnd { .. }
            | Self::Box { .. }
            | Self::Measuring { .. }
            | Self::None => None,
        }
    }
}

impl SetAside {
    /// What would be lost with it, in words.
    pub fn half_made(&self) -> Option<&'static str> {
        self.gesture.half_made()
    }
}

impl Session {
    /// What is half made in the hand and would be lost with the session, in words: it is in no file before it is finished.
    pub fn half_made(&self) -> Option<&'static str> {
        self.editor.gesture.half_made()
    }

    /// Ends the gesture as if it had not been, because something else was asked for; what is lost with it is said.
    pub(super) fn give_up_gesture(&mut self) {
        let lost = self.editor.gesture.half_made();
        self.cancel_gesture();
        if let Some(lost) = lost {
            self.editor.given_up = Some(Remark::GivenUp(lost));
        }
    }

    /// Lays tool and gesture aside, so that the bar can be looked at otherwise. What is dragged ends as if it had not been:
    /// nobody holds it any more.
    pub fn set_aside(&mut self) -> SetAside {
        if self.is_in_step() {
            self.give_up_gesture();
        }
        let aside = SetAside {
            tool: std::mem::take(&mut self.editor.tool),
            gesture: std::mem::take(&mut self.editor.gesture),
            size: self.editor.chosen_size.take(),
            turn: std::mem::take(&mut self.editor.placing_turn),
            routing: self.routing().id,
            project: self.snapshot(),
        };
        self.editor.snapped = None;
        aside
    }

    /// Takes up again what was laid aside, unless another tool was taken meanwhile. Half a hose goes on only where bar and
    /// routing are as they were; else it is said that it was given up.
    pub fn take_up(&mut self, aside: SetAside) {
        let is_free = self.editor.tool == Tool::Select && self.editor.gesture == Gesture::None;
        let (before, now) = (&aside.project, self.project());
        let is_as_it_was = aside.routing == self.routing().id
            && before.bar == now.bar
            && before.routing(aside.routing) == now.routing(aside.routing);
        if is_free && is_as_it_was {
            self.editor.tool = aside.tool;
            self.editor.gesture = aside.gesture;
            self.editor.chosen_size = aside.size;
            self.editor.placing_turn = aside.turn;
        } else if let Some(lost) = aside.gesture.half_made() {
            self.editor.given_up = Some(Remark::GivenUp(lost));
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::files;
    use crate::geometry::Point2;
    use crate::plan::{Edit, End};
    use crate::quantities::UnitSystem;

    fn with_half_a_hose() -> Session {
        let mut session = Session::new(files::demo(), None);
        let stock = session.usual_hose().unwrap();
        session.take(Tool::Join { stock });
        let pump = session.end_place(&End::Supply).unwrap().flat();
        session.press(pump, None, 0.05, false).unwrap();
        session.press(Point2::new(1.0, 1.5), None, 0.05, false).unwrap();
        assert!(matches!(session.gesture(), Gesture::Joining { waypoints, .. } if waypoints.len() == 1));
        session
    }

    #[test]
    fn half_a_hose_is_there_again_after_the_bar_was_looked_at_otherwise() {
        let mut session = with_half_a_hose();
        let (tool, gesture) = (session.tool().clone(), session.gesture().clone());
        let aside = session.set_aside();
        assert_eq!((session.tool(), session.gesture()), (&Tool::Select, &Gesture::None));
        session.take_up(aside);
        assert_eq!((session.tool(), session.gesture()), (&tool, &gesture));
        assert_eq!(session.take_remark(), None);
    }

    #[test]
    fn half_a_hose_that_something_else_ends_is_said_and_one_that_is_cancelled_is_not() {
        let lost = Some(Remark::GivenUp("the hose that was being drawn"));
        let mut session = with_half_a_hose();
        session.edit("Switch units", [Edit::SetUnits(UnitSystem::UsCustomary)]).unwrap();
        assert_eq!(session.take_remark(), lost);
        let mut session = with_half_a_hose();
        session.step_routing(1);
        assert_eq!(session.take_remark(), lost);
        let mut session = with_half_a_hose();
        let aside = session.set_aside();
        session.step_routing(1);
        session.take_up(aside);
        assert_eq!(session.take_remark(), lost);
        let mut session = with_half_a_hose();
        session.cancel();
        session.cancel();
        assert_eq!(session.take_remark(), None);
        assert_eq!(*session.gesture(), Gesture::None);
        let mut session = with_half_a_hose();
        session.undo();
        assert_eq!(session.take_remark(), None);
        // Ended by Enter it is no half hose any more.
        let mut session = with_half_a_hose();
        let before = session.routing().runs.len();
        session.finish().unwrap();
        assert_eq!((session.routing().runs.len(), session.take_remark()), (before + 1, None));
    }
}
