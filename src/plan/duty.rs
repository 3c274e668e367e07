//! What the bar is used for: a liquid, its rate, the speeds, and the conditions it must hold in. A bar that places
//! starter in spring and something else in autumn has two duties.

use serde::{Deserialize, Serialize};

use super::{DutyId, Liquid};
use crate::quantities::{Angle, ApplicationRate, Speed, Temperature};

/// One kind of work that the bar must do; saved with the project.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Duty {
    /// Identity.
    pub id: DutyId,
    /// As people call it; unique in the project.
    pub name: String,
    /// What is placed.
    pub liquid: Liquid,
    /// Liquid per area; 0 or more.
    pub rate: ApplicationRate,
    /// Slowest ground speed at work; above 0.
    pub slowest: Speed,
    /// Usual ground speed, between the other two.
    pub usual: Speed,
    /// Fastest ground speed at work.
    pub fastest: Speed,
    /// Temperature of the liquid it is designed for.
    pub temperature: Temperature,
    /// Side slope it is designed for: positive = right side up.
    pub side_slope: Angle,
    /// Fore-aft slope it is designed for: positive = nose up.
    pub fore_aft_slope: Angle,
}

/// One point at which a routing is solved. Looking at another point changes no project.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OperatingPoint {
    /// The duty: its liquid, and its slowest, usual and fastest speed. One that the project does not have counts as the
    /// project's first; outcomes name the one they were solved for.
    pub duty: DutyId,
    /// Liquid per area.
    pub rate: ApplicationRate,
    /// Ground speed.
    pub speed: Speed,
    /// Temperature of the liquid.
    pub temperature: Temperature,
    /// Positive = right side up.
    pub side_slope: Angle,
    /// Positive = nose up.
    pub fore_aft_slope: Angle,
}

impl Duty {
    /// The designed-for conditions at a speed.
    pub const fn at(&self, speed: Speed) -> OperatingPoint {
        OperatingPoint {
            duty: self.id,
            rate: self.rate,
            speed,
            temperature: self.temperature,
            side_slope: self.side_slope,
            fore_aft_slope: self.fore_aft_slope,
        }
    }

    /// The designed-for conditions at the usual speed.
    pub const fn usual_point(&self) -> OperatingPoint {
        self.at(self.usual)
    }

    /// Slowest, usual, fastest.
    pub const fn speeds(&self) -> [Speed; 3] {
        [self.slowest, self.usual, self.fastest]
    }
}

/// The duties of a project in the order they are listed: one at least.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<Duty>", into = "Vec<Duty>")]
pub struct Duties {
    first: Duty,
    others: Vec<Duty>,
}

impl Duties {
    /// A single duty.
    pub const fn new(first: Duty) -> Self {
        Self { first, others: Vec::new() }
    }

    /// The first: the one that is looked at unless another is chosen.
    pub const fn first(&self) -> &Duty {
        &self.first
    }

    /// The first, to change.
    pub const fn first_mut(&mut self) -> &mut Duty {
        &mut self.first
    }

    /// All, in order.
    pub fn iter(&self) -> impl Iterator<Item = &Duty> {
        std::iter::once(&self.first).chain(&self.others)
    }

    /// All, with another duty in place of the one of its identity.
    pub fn with(&self, other: &Duty) -> Vec<Duty> {
        self.iter().map(|duty| if duty.id == other.id { other } else { duty }).cloned().collect()
    }

    /// How many; 1 or more.
    pub const fn count(&self) -> usize {
        1 + self.others.len()
    }

    /// There is more than one, so that whoever speaks of one has to name it.
    pub const fn are_several(&self) -> bool {
        !self.others.is_empty()
    }

    /// A duty by its id.
    pub fn get(&self, id: DutyId) -> Option<&Duty> {
        self.iter().find(|duty| duty.id == id)
    }

    /// A duty by its name.
    pub fn named(&self, name: &str) -> Option<&Duty> {
        self.iter().find(|duty| duty.name == name)
    }

    /// Puts a duty in place of the one with its id, or at the end.
    pub fn put(&mut self, duty: Duty) {
        let mut all = std::iter::once(&mut self.first).chain(&mut self.others);
        match all.find(|one| one.id == duty.id) {
            Some(old) => *old = duty,
            None => self.others.push(duty),
        }
    }

    /// Removes a duty; false where it is the last or not there.
    pub fn remove(&mut self, id: DutyId) -> bool {
        if let Some(at) = self.others.iter().position(|duty| duty.id == id) {
            self.others.remove(at);
            true
        } else if self.first.id == id && !self.others.is_empty() {
            self.first = self.others.remove(0);
            true
        } else {
            false
        }
    }

    /// An id that no duty has.
    pub fn free_id(&self) -> DutyId {
        DutyId::next(self.iter().map(|duty| duty.id))
    }

    /// `Duty 2`, or the first number that no duty has.
    pub fn free_name(&self) -> String {
        let names = (self.count() + 1..).map(|number| format!("Duty {number}"));
        names.into_iter().find(|name| self.named(name).is_none()).unwrap_or_default()
    }
}

impl TryFrom<Vec<Duty>> for Duties {
    type Error = &'static str;

    fn try_from(mut duties: Vec<Duty>) -> Result<Self, Self::Error> {
        if duties.is_empty() {
            return Err("a project has at least one duty: a liquid with its rate and speeds");
        }
        let first = duties.remove(0);
        Ok(Self { first, others: duties })
    }
}

impl From<Duties> for Vec<Duty> {
    fn from(duties: Duties) -> Self {
        let mut all = duties.others;
        all.insert(0, duties.first);
        all
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Bar, Catalogue, Project};
    use super::*;

    fn duty(id: u32) -> Duty {
        let project = Project::new(Bar::default(), Catalogue::default());
        Duty { id: DutyId(id), name: format!("Work {id}"), ..project.duties.first().clone() }
    }

    #[test]
    fn the_last_duty_stays_and_any_other_goes() {
        let mut duties = Duties::new(duty(4));
        assert!(!duties.remove(DutyId(4)), "the last");
        assert!(!duties.remove(DutyId(5)), "not there");
        duties.put(duty(7));
        duties.put(Duty { name: "Autumn".to_owned(), ..duty(7) });
        assert_eq!((duties.count(), duties.free_id()), (2, DutyId(8)));
        assert!(duties.remove(DutyId(4)), "the first of two");
        assert_eq!(duties.first().name, "Autumn");
        assert!(!duties.are_several());
    }

    #[test]
    fn a_free_name_is_no_duty_s() {
        let mut duties = Duties::new(duty(1));
        assert_eq!(duties.free_name(), "Duty 2");
        duties.put(Duty { name: "Duty 3".to_owned(), ..duty(2) });
        assert_eq!(duties.free_name(), "Duty 4");
    }
}
