//! Catch tests of the project: which one is in hand, and what is taken down in it, each change one step.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

use super::Session;
use super::papers::today;
use super::refusal::{Gone, Refusal, Remark, Reply};
use crate::files::catch_readings::{CatchChoices, ReadCatches, read_catches, read_catches_of};
use crate::plan::catch_test::tested_bar;
use crate::plan::words::counted;
use crate::plan::{
    Catch, CatchSpan, CatchTest, CatchTestId, CatchUnit, CaughtAmount, Drive, Duties, DutyId, Edit, Project,
    RowId, TableDoubt,
};
use crate::quantities::Measure;
use crate::studies::catch_test::catch_time::seconds_at;

/// Where an amount stands in the table: a row, and which of its catches, in the order they were taken down; none for one that
/// is not there yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CatchPlace {
    /// The row.
    pub row: RowId,
    /// Which of its catches, from 0; behind the last for a new one.
    pub nth: usize,
}

impl CatchPlace {
    /// Which of all catches of a test it is.
    fn index(self, test: &CatchTest) -> Option<usize> {
        let of_row = test.catches.iter().enumerate().filter(|(_, catch)| catch.row == self.row);
        of_row.map(|(at, _)| at).nth(self.nth)
    }

    /// What was taken down there.
    pub fn catch(self, test: &CatchTest) -> Option<&Catch> {
        test.catches.get(self.index(test)?)
    }
}

impl Session {
    /// The catch test in hand: the one that was chosen, as long as it is there, or the last.
    pub fn catch_test(&self) -> Option<&CatchTest> {
        let tests = &self.project().catch_tests.tests;
        let chosen = tests.iter().find(|test| Some(test.id) == self.catch_test_in_hand);
        chosen.or_else(|| tests.last())
    }

    /// Takes another test in hand; changes no project.
    pub const fn take_catch_test(&mut self, id: CatchTestId) {
        self.catch_test_in_hand = Some(id);
    }

    /// The bar that a test was made on, as it was then.
    pub fn tested_bar(&self, test: &CatchTest) -> Option<&Arc<Project>> {
        self.project().catch_tests.project_of(test)
    }

    /// Adds a test of the routing in hand as it is now, under the conditions that are looked at, and takes it in hand.
    pub fn add_catch_test(&mut self) -> Result<CatchTestId, Refusal> {
        let (point, tests) = (*self.point(), &self.project().catch_tests);
        let bar = tested_bar(self.project(), self.routing().id, point.duty).ok_or(Gone::Routing)?;
        let mut test = CatchTest { date: today().to_string(), ..tests.empty_at(&point) };
        if let Some(seconds) = seconds_at(self.project(), self.laid(), &point) {
            test.span = CatchSpan::Seconds(seconds);
        }
        let (id, step) = (test.id, format!("Add catch test {}", test.name));
        self.edit(&step, [Edit::PutCatchTestOn(Box::new(test), Arc::new(bar))])?;
        self.catch_test_in_hand = Some(id);
        Ok(id)
    }

    /// Adds a test of the same bar under the same conditions as the one in hand, with nothing caught yet.
    pub fn repeat_catch_test(&mut self) -> Result<CatchTestId, Refusal> {
        let tests = &self.project().catch_tests;
        let (id, name) = (tests.free_id(), tests.free_name());
        let like = self.catch_test().ok_or(Gone::CatchTest)?.clone();
        let step = format!("Add catch test {name}");
        let test = CatchTest {
            id,
            name,
            catches: Vec::new(),
            gauges: Vec::new(),
            date: today().to_string(),
            notes: String::new(),
            doubts: Vec::new(),
            ..like
        };
        self.edit(&step, [Edit::PutCatchTest(Box::new(test))])?;
        self.catch_test_in_hand = Some(id);
        Ok(id)
    }

    /// Removes the test in hand.
    pub fn remove_catch_test(&mut self) -> Reply {
        let test = self.catch_test().ok_or(Gone::CatchTest)?;
        let (id, step) = (test.id, format!("Remove catch test {}", test.name));
        let what = format!("Catch test {} with {}", test.name, counted(test.catches.len(), "catch"));
        self.edit(&step, [Edit::RemoveCatchTest(id)])?;
        Ok(Some(Remark::Removed { what, stays: String::new() }))
    }

    /// Changes the test in hand, in one named step.
    pub fn change_catch_test(
        &mut self,
        step: &str,
        change: impl FnOnce(&mut CatchTest),
    ) -> Result<(), Refusal> {
        let before = self.catch_test().ok_or(Gone::CatchTest)?;
        let mut test = before.clone();
        change(&mut test);
        if test == *before {
            return Ok(());
        }
        self.edit(step, [Edit::PutCatchTest(Box::new(test))])
    }

    /// What the test in hand may have been made for: its duty as it was then, and the project's others as they are now.
    pub fn duties_of_catch_test(&self) -> Vec<(DutyId, String)> {
        let Some(test) = self.catch_test() else { return Vec::new() };
        let own = self.tested_bar(test).and_then(|bar| bar.duties.get(test.duty));
        let others = self.project().duties.iter().filter(|duty| duty.id != test.duty);
        own.into_iter().chain(others).map(|duty| (duty.id, duty.name.clone())).collect()
    }

    /// The test in hand was made for another duty, as that is now; the bar stays as it was tested.
    pub fn set_duty_of_catch_test(&mut self, id: DutyId) -> Result<(), Refusal> {
        let test = self.catch_test().ok_or(Gone::CatchTest)?;
        if test.duty == id {
            return Ok(());
        }
        let duty = self.project().duties.get(id).ok_or(Gone::Duty)?.clone();
        let bar = self.tested_bar(test).ok_or(Gone::CatchTest)?;
        let bar = Project { duties: Duties::new(duty), ..Project::clone(bar) };
        let test = CatchTest { duty: id, ..test.clone() };
        let step = format!("Change catch test {}", test.name);
        self.edit(&step, [Edit::PutCatchTestOn(Box::new(test), Arc::new(bar))])
    }

    /// Takes the routing of the test in hand in hand, and looks at its duty: papers are of those. Where one is gone, the paper of
    /// the test is among those of whichever routing is in hand.
    pub fn look_at_what_was_tested(&mut self) {
        let Some(test) = self.catch_test() else { return };
        let duty = test.duty;
        let routing = self.tested_bar(test).and_then(|bar| bar.routings.first()).map(|routing| routing.id);
        let Some(routing) = routing.filter(|id| self.project().routing(*id).is_some()) else { return };
        if self.project().duties.get(duty).is_none() {
            return;
        }
        self.show_routing(routing);
        if self.duty().id != duty {
            self.look_at_duty(duty);
        }
    }

    /// Takes down an amount in the test in hand, or takes out what was taken down there.
    pub fn put_catch(&mut self, place: CatchPlace, amount: Option<CaughtAmount>) -> Result<(), Refusal> {
        let step = self.step_at(place);
        self.change_catch_test(&step, |test| {
            match (place.index(test), amount) {
                (Some(at), Some(amount)) => test.catches[at].amount = amount,
                (Some(at), None) => drop(test.catches.remove(at)),
                (None, Some(amount)) => {
                    test.catches.push(Catch { row: place.row, amount, span: None, spoiled: None });
                }
                (None, None) => {}
            }
            if amount.is_some() {
                test.settle_row(place.row);
            }
        })
    }

    /// Changes a catch that was taken down.
    pub fn change_catch(
        &mut self,
        place: CatchPlace,
        change: impl FnOnce(&mut Catch),
    ) -> Result<(), Refusal> {
        let step = self.step_at(place);
        self.change_catch_test(&step, |test| {
            if let Some(at) = place.index(test) {
                change(&mut test.catches[at]);
                if test.catches[at].spoiled.is_some() {
                    test.settle_remarks(place.row);
                }
            }
        })
    }

    /// What is in doubt of tables that were read is settled: somebody has seen to each.
    pub fn settle_doubts(&mut self) -> Result<(), Refusal> {
        self.change_catch_test("Settle what was in doubt", |test| test.doubts.clear())
    }

    /// Takes down what was copied in a spreadsheet: amounts by row, or amounts alone from a row on, the first where none is
    /// named. Rows that come with it lose what they had. Says what could not be read.
    pub fn paste_catches(
        &mut self,
        text: &str,
        from: Option<RowId>,
        unit: CatchUnit,
    ) -> Result<Remark, String> {
        let mut read = read_catches(text, &CatchChoices { unit: Some(unit), pasted: true });
        let bar = self.catch_test().and_then(|test| self.tested_bar(test));
        let rows = bar.map_or(&[][..], |bar| &bar.bar.rows);
        let first = from.and_then(|id| rows.iter().position(|row| row.id == id)).unwrap_or(0);
        for alone in read.catches.iter_mut().filter(|catch| catch.row.is_none()) {
            // A blank cell leaves its row out.
            let below = usize::try_from(alone.line).unwrap_or(usize::MAX).saturating_sub(1);
            alone.row = rows.get(first.saturating_add(below)).map(|row| row.number);
        }
        self.take_catches("Paste", &read)
    }

    /// The same of a file: a table as text, or a commissioning sheet that was filled in.
    pub fn read_catches(&mut self, file: &Path, unit: CatchUnit) -> Result<Remark, String> {
        let choices = CatchChoices { unit: Some(unit), pasted: false };
        let read = read_catches_of(file, &choices).map_err(|error| error.to_string())?;
        self.take_catches("Read", &read)
    }

    /// Takes down what was read, in one step; what a sheet says of the conditions too. Refused with the reasons where nothing
    /// of it belongs to the test.
    fn take_catches(&mut self, how: &str, read: &ReadCatches) -> Result<Remark, String> {
        let test = self.catch_test().ok_or("there is no catch test to take it down in; begin one first")?;
        let bar = self.tested_bar(test).ok_or("the tested bar is not kept; begin a new test")?;
        let liquids = read.liquids();
        let liquid = if let [one] = liquids[..] { one } else { test.liquid };
        let speed = match test.drive {
            Drive::Speed(speed) => Some(speed),
            Drive::HeldPressure(_) => None,
        };
        // What a sheet was printed for is what it was caught at.
        let speed = speed.map(|speed| read.made_of.speed.unwrap_or(speed));
        let taken = read.taken(bar, liquid, speed);
        let mut doubts = taken.doubts(read, bar);
        if taken.catches.is_empty() && taken.gauges.is_empty() {
            let said: Vec<String> = doubts.into_iter().map(|one| one.says).collect();
            return Err(if said.is_empty() {
                "there is no amount in it".to_owned()
            } else {
                said.join("\n")
            });
        }
        if liquids.len() > 1 {
            let says = "amounts of the other liquid are not of this test: give them one of their own";
            doubts.push(TableDoubt { row: None, lines: 0, no_verdict: None, says: says.to_owned() });
        }
        let rows: BTreeSet<RowId> = taken.catches.iter().map(|catch| catch.row).collect();
        let mut words = format!(
            "{} of {} taken down",
            counted(taken.catches.len(), "amount"),
            counted(rows.len(), "row")
        );
        if !taken.gauges.is_empty() {
            let _ = write!(words, ", {}", counted(taken.gauges.len(), "gauge reading"));
        }
        if let Some(printed) = speed.filter(|speed| test.drive != Drive::Speed(*speed)) {
            let at = Measure::GroundSpeed.text(printed.si(), self.project().units);
            let _ = write!(words, "; the ground speed is that of the sheet now, {at}");
        }
        match doubts.len() {
            0 => {}
            1 => words.push_str("; see what is in doubt of it"),
            some => {
                let _ = write!(words, "; see the {some} things that are in doubt of it");
            }
        }
        let step = format!("{how} catches of catch test {}", test.name);
        let done = self.change_catch_test(&step, |test| {
            test.liquid = liquid;
            test.catches.retain(|catch| !rows.contains(&catch.row));
            test.catches.extend(taken.catches);
            test.gauges.retain(|old| taken.gauges.iter().all(|new| new.part != old.part));
            test.gauges.extend(taken.gauges);
            if let Some(seconds) = read.seconds {
                test.span = CatchSpan::Seconds(seconds);
            }
            if let Some(speed) = speed {
                test.drive = Drive::Speed(speed);
            }
            test.temperature = read.temperature.or(test.temperature);
            for (field, new) in [(&mut test.date, &read.date), (&mut test.by, &read.by)] {
                if !new.is_empty() {
                    field.clone_from(new);
                }
            }
            for remark in &read.notes() {
                if !test.notes.contains(remark.as_str()) {
                    let gap = if test.notes.is_empty() { "" } else { "; " };
                    let _ = write!(test.notes, "{gap}{remark}");
                }
            }
            for row in &rows {
                test.settle_row(*row);
            }
            test.add_doubts(doubts);
        });
        done.map_err(|refusal| refusal.to_string())?;
        Ok(Remark::Taken(words))
    }

    /// What a change of a catch is called: it may be undone where no catch test is shown.
    fn step_at(&self, place: CatchPlace) -> String {
        let test = self.catch_test();
        let bar = test.and_then(|test| self.tested_bar(test));
        let row = bar.and_then(|project| project.bar.row(place.row)).map_or(place.row.0, |row| row.number);
        let name = test.map_or("", |test| test.name.as_str());
        format!("Catch of row {row} in catch test {name}")
    }
}
