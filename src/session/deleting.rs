//! Deleting what is selected.

use super::in_hand::Session;
use super::refusal::Refusal;
use crate::plan::{Edit, Subject};

impl Session {
    /// Removes what is selected: parts, hoses and row feeds, in one step. Where a tee, valve or filter sat between two
    /// hoses of one stock, these become one again.
    pub fn delete_selection(&mut self) -> Result<(), Refusal> {
        let routing = self.routing().id;
        let mut healed = self.routing().clone();
        let kept = |run| !self.selection().contains(&Subject::Run(run));
        let mut any = false;
        for subject in self.selection() {
            if let Subject::Part(id) = *subject {
                any |= self.heal(&mut healed, id, kept);
            }
        }
        let mut edits = Vec::new();
        if any {
            edits.push(Edit::PutRouting(Box::new(healed.clone())));
        }
        let mut names = Vec::new();
        for subject in self.selection() {
            let edit = match *subject {
                Subject::Part(id) => {
                    Some(Edit::RemovePart(routing, id)).filter(|_| healed.part(id).is_some())
                }
                Subject::Run(id) => Some(Edit::RemoveRun(routing, id)),
                Subject::Feed(id) => Some(Edit::RemoveFeed(routing, id)),
                // A row belongs to the bar, not to the routing: what goes is its feed.
                Subject::Row(id) => match self.routing().feed_of(id) {
                    Some(feed) => Some(Edit::RemoveFeed(routing, feed.id)),
                    None => continue,
                },
            };
            names.push(self.tag_of(*subject));
            if let Some(edit) = edit.filter(|edit| !edits.contains(edit)) {
                edits.push(edit);
            }
        }
        if edits.is_empty() {
            return Ok(());
        }
        let name = if names.len() == 1 {
            format!("Delete {}", names[0])
        } else {
            format!("Delete {} things", names.len())
        };
        self.edit(&name, edits)
    }
}
