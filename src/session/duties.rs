//! Duties: which one is looked at, and adding, renaming, changing and removing them; each change one step.

use super::Session;
use super::refusal::{Gone, Refusal, Remark, Reply};
use crate::plan::{Duty, DutyId, Edit};

impl Session {
    /// The duty that is looked at.
    pub fn duty(&self) -> &Duty {
        self.project().duty(self.point().duty)
    }

    /// Looks at another duty, as it is designed, at its usual speed; changes no project.
    pub fn look_at_duty(&mut self, id: DutyId) {
        let duties = &self.document.project().duties;
        if let Some(duty) = duties.get(id).filter(|duty| duty.id != self.point().duty) {
            self.solved.look_at(self.document.project(), duty.usual_point());
        }
    }

    /// Looks at the duty after this one, after the last at the first.
    pub fn look_at_next_duty(&mut self) {
        let here = self.duty().id;
        let duties = &self.project().duties;
        let next = duties.iter().skip_while(|duty| duty.id != here).nth(1).unwrap_or_else(|| duties.first());
        self.look_at_duty(next.id);
    }

    /// Adds a copy of the duty that is looked at, under a name of its own, and looks at that.
    pub fn add_duty(&mut self) -> Result<DutyId, Refusal> {
        let duties = &self.project().duties;
        let (id, name) = (duties.free_id(), duties.free_name());
        let step = format!("Add duty {name}");
        let copy = Duty { id, name, ..self.duty().clone() };
        self.edit(&step, [Edit::PutDuty(Box::new(copy))])?;
        self.look_at_duty(id);
        Ok(id)
    }

    /// Changes the duty that is looked at, in one named step.
    pub fn change_duty(&mut self, step: &str, change: impl FnOnce(&mut Duty)) -> Result<(), Refusal> {
        let mut duty = self.duty().clone();
        change(&mut duty);
        self.edit(step, [Edit::PutDuty(Box::new(duty))])
    }

    /// Gives the duty that is looked at another name, which no other duty has.
    pub fn rename_duty(&mut self, name: &str) -> Result<(), Refusal> {
        let step = format!("Rename duty {}", self.duty().name);
        self.change_duty(&step, |duty| name.trim().clone_into(&mut duty.name))
    }

    /// Removes a duty, unless it is the last; where it was looked at, its neighbour is.
    pub fn remove_duty(&mut self, id: DutyId) -> Reply {
        let duties: Vec<&Duty> = self.project().duties.iter().collect();
        let at = duties.iter().position(|duty| duty.id == id).ok_or(Gone::Duty)?;
        let name = duties[at].name.clone();
        let step = format!("Remove duty {name}");
        let neighbour = duties.get(at + 1).or_else(|| duties.get(at.checked_sub(1)?)).map(|duty| duty.id);
        let neighbour = neighbour.ok_or(Refusal::LastDuty)?;
        let is_looked_at = self.duty().id == id;
        self.edit(&step, [Edit::RemoveDuty(id)])?;
        if is_looked_at {
            // The neighbour is looked at on purpose: that the duty is gone is nothing to be told.
            self.solved.take_remark();
            self.look_at_duty(neighbour);
        }
        Ok(Some(Remark::Removed { what: format!("Duty {name}"), stays: String::new() }))
    }
}
