//! Duties: which one is looked at, and adding, renaming, changing and removing them; each change one step.

use super::{Geometry, Session};
use crate::plan::{Duty, DutyId, Edit, Project};

impl Session {
    /// The duty that is looked at.
    pub fn duty(&self) -> &Duty {
        self.project.duty(self.point.duty)
    }

    /// Looks at another duty, as it is designed, at its usual speed; changes no project.
    pub fn look_at_duty(&mut self, id: DutyId) {
        let Some(duty) = self.project.duties.get(id).filter(|duty| duty.id != self.point.duty) else {
            return;
        };
        self.point = duty.usual_point();
        self.refresh(Geometry::Stays);
    }

    /// Looks at the duty after this one, after the last at the first.
    pub fn look_at_next_duty(&mut self) {
        let here = self.duty().id;
        let duties = &self.project.duties;
        let next = duties.iter().skip_while(|duty| duty.id != here).nth(1).unwrap_or_else(|| duties.first());
        self.look_at_duty(next.id);
    }

    /// Adds a copy of the duty that is looked at, under a name of its own, and looks at that.
    pub fn add_duty(&mut self) -> Result<DutyId, String> {
        let duties = &self.project.duties;
        let (id, name) = (duties.free_id(), duties.free_name());
        let step = format!("Add duty {name}");
        let copy = Duty { id, name, ..self.duty().clone() };
        self.edit(&step, [Edit::PutDuty(Box::new(copy))]).map_err(|error| error.to_string())?;
        self.look_at_duty(id);
        Ok(id)
    }

    /// Changes the duty that is looked at, in one named step.
    pub fn change_duty(&mut self, step: &str, change: impl FnOnce(&mut Duty)) -> Result<(), String> {
        let mut duty = self.duty().clone();
        change(&mut duty);
        self.edit(step, [Edit::PutDuty(Box::new(duty))]).map_err(|error| error.to_string())
    }

    /// Gives the duty that is looked at another name, which no other duty has.
    pub fn rename_duty(&mut self, name: &str) -> Result<(), String> {
        let step = format!("Rename duty {}", self.duty().name);
        self.change_duty(&step, |duty| name.trim().clone_into(&mut duty.name))
    }

    /// Removes a duty, unless it is the last; where it was looked at, its neighbour is.
    pub fn remove_duty(&mut self, id: DutyId) -> Result<(), String> {
        let duties: Vec<&Duty> = self.project.duties.iter().collect();
        let Some(at) = duties.iter().position(|duty| duty.id == id) else {
            return self.refuse("That duty does not exist any more; choose another");
        };
        let step = format!("Remove duty {}", duties[at].name);
        let neighbour = duties.get(at + 1).or_else(|| duties.get(at.checked_sub(1)?)).map(|duty| duty.id);
        let Some(neighbour) = neighbour else {
            return self.refuse("A project keeps one duty at least; add another before removing this one");
        };
        let is_looked_at = self.duty().id == id;
        self.edit(&step, [Edit::RemoveDuty(id)]).map_err(|error| error.to_string())?;
        if is_looked_at {
            self.look_at_duty(neighbour);
        }
        Ok(())
    }

    /// What was undone or done again is shown: where that left the duty that is looked at as it was and changed or
    /// brought back another, that one is looked at.
    pub(super) fn show_changed_duty(&mut self, before: &Project) {
        let is_new = |duty: &&Duty| before.duties.get(duty.id) != Some(*duty);
        let mut changed = self.project.duties.iter().filter(is_new);
        if self.project.duties.get(self.point.duty).as_ref().is_some_and(is_new) {
            return;
        }
        if let Some(changed) = changed.next() {
            self.point = changed.usual_point();
        }
    }

    /// Where the duty that was looked at is gone, the first is looked at, and the message says so.
    pub(super) fn leave_missing_duty(&mut self, before: &Project) {
        if self.project.duties.get(self.point.duty).is_some() {
            return;
        }
        let gone = before.duty(self.point.duty).name.clone();
        self.point = self.project.duties.first().usual_point();
        let shown = &self.project.duties.first().name;
        self.message = Some(format!("Duty {gone} is no longer in the project; duty {shown} is shown"));
    }
}
