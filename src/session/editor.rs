//! The editor: the tool in hand, the gesture that is going on, what is selected, what was copied.
//!
//! Never here: a project or an edit of one (see [`super::document`]), hydraulics, widgets, or words for people.

use super::copied::Copied;
use super::frame_cache::FrameCache;
use super::refusal::Remark;
use super::selected::Selection;
use super::snap::{Snap, SnapSettings};
use super::tool::{Gesture, Tool};
use crate::geometry::Point2;
use crate::plan::{PartKey, Project, Routing, RoutingId, Subject};
use crate::quantities::Angle;

/// What the hand of the person at work holds.
#[derive(Debug, Clone, Default)]
pub(super) struct Editor {
    /// The tool in hand.
    pub(super) tool: Tool,
    /// What is going on between a press and a release.
    pub(super) gesture: Gesture,
    /// What is selected in the routing in hand.
    pub(super) selection: Selection,
    /// What placed and dragged things snap to.
    pub(super) snapping: SnapSettings,
    /// How a part to be placed is turned.
    pub(super) placing_turn: Angle,
    /// The size of part that somebody chose for the tool in hand; none while it is the usual one.
    pub(super) chosen_size: Option<PartKey>,
    /// Where the pointer was dragged to last, and over what: as long as it rests there nothing changes.
    pub(super) dragged_to: Option<(Point2, Option<Subject>)>,
    /// What the dragged thing snapped to.
    pub(super) snapped: Option<Snap>,
    /// How near counts as hit in the gesture that is going on, metres.
    pub(super) reach: f64,
    /// What was copied last.
    pub(super) copied: Copied,
    /// What was last moved by keys, and the change that did it: the next key goes on in the same step.
    pub(super) nudged: Option<(Selection, u64)>,
    /// What was half made and given up because something else was asked for; told once.
    pub(super) given_up: Option<Remark>,
    /// The frame as a graph, for ways along it.
    pub(super) frame: FrameCache,
}

impl Editor {
    /// Nothing in hand yet, in a routing.
    pub(super) fn new(routing: RoutingId) -> Self {
        Self { selection: Selection::nothing_of(routing), ..Self::default() }
    }

    /// A gesture that undo cancels is going on; a distance that was measured only stays to be read.
    pub(super) const fn is_busy(&self) -> bool {
        !matches!(self.gesture, Gesture::None | Gesture::Measuring { .. })
    }

    /// Lets go of what is not in the routing in hand: what is selected, and what the tool is for.
    pub(super) fn keep_to(&mut self, project: &Project, routing: &Routing) {
        if let Tool::GiveRows { manifold: Some(id) } = self.tool
            && (self.selection.routing() != routing.id || routing.part(id).is_none())
        {
            self.tool = Tool::GiveRows { manifold: None };
        }
        self.selection.keep_to(project, routing);
    }
}
