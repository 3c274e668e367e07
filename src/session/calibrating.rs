//! What a catch test told, taken over into the project: one step that can be undone.

use super::in_hand::Session;
use super::refusal::{CalibrationError, Refusal, Reply};
use crate::plan::{
    Calibrated, CatchTestId, Edit, EntryCalibration, LiquidPoint, Project, Source, catalogue::Entry,
};
use crate::quantities::Viscosity;
use crate::sheets::Date;
use crate::studies::catch_test::calibrate::{Calibratable, ToldNumber};
use crate::studies::catch_test::nothing_judged::NothingJudged;

/// The edits that take over what a test told, on a day: for whoever has no session. A viscosity is brought to all duties with
/// that liquid, at every temperature of its table in the same ratio.
///
/// # Errors
/// Nothing of the test is judged, nothing was told, or an entry or liquid is not what it was when the test was made.
pub fn calibration_edits(
    project: &Project,
    test: CatchTestId,
    told: &[ToldNumber],
    on: Date,
) -> Result<Vec<Edit>, CalibrationError> {
    let test = project.catch_tests.get(test).ok_or(CalibrationError::TestGone)?;
    if let Some(why) = NothingJudged::of(test) {
        return Err(CalibrationError::NotJudged(why));
    }
    let tested = project.catch_tests.project_of(test).ok_or(CalibrationError::TestGone)?;
    let mut edits = Vec::new();
    let mut entries = Vec::new();
    for one in told {
        let by = Calibrated {
            on: on.to_string(),
            test: test.name.clone(),
            temperature: one.temperature,
            within: one.within,
        };
        match &one.number {
            Calibratable::Viscosity => {
                let liquid = &tested.duty(test.duty).liquid;
                let duties = || project.duties.iter().filter(|duty| duty.liquid == *liquid);
                if !duties().any(|duty| duty.id == test.duty) {
                    return Err(CalibrationError::LiquidChanged(tested.duty(test.duty).name.clone()));
                }
                let ratio = one.value / one.assumed;
                for duty in duties() {
                    let mut duty = duty.clone();
                    let thicker = |point: &LiquidPoint| LiquidPoint {
                        viscosity: Viscosity::from_si(point.viscosity.si() * ratio),
                        ..*point
                    };
                    duty.liquid.points = duty.liquid.points.iter().map(thicker).collect();
                    duty.liquid.viscosity_source = Source::Calibrated(by.clone());
                    edits.push(Edit::PutDuty(Box::new(duty)));
                }
            }
            Calibratable::Entry(key, field) => {
                let entry = project.catalogue.entry(key);
                let entry = entry.ok_or_else(|| CalibrationError::EntryGone(key.0.clone()))?;
                if tested.catalogue.any_item(key) != Some(&entry.item) {
                    return Err(CalibrationError::EntryChanged(key.0.clone()));
                }
                let set = entry.with_number(*field, one.value);
                let set = set.ok_or_else(|| CalibrationError::EntryChanged(key.0.clone()))?;
                let calibrated = Some(EntryCalibration { value: one.value, by });
                entries.push(Entry { calibrated, ..set });
            }
        }
    }
    if !entries.is_empty() {
        edits.push(Edit::PutEntries(entries));
    }
    if edits.is_empty() { Err(CalibrationError::Nothing) } else { Ok(edits) }
}

impl Session {
    /// Takes over what a test told, as one step.
    ///
    /// # Errors
    /// As [`calibration_edits`], or the plan refuses a value.
    pub fn take_calibration(&mut self, test: CatchTestId, told: &[ToldNumber], on: Date) -> Reply {
        let edits = calibration_edits(self.project(), test, told, on);
        let name = self.project().catch_tests.get(test).map_or("the test", |test| &test.name);
        let step = format!("Calibrate by {name}");
        self.edit_unless_so::<Refusal>(&step, edits.map_err(Refusal::from))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::files;
    use crate::plan::catch_test::tested_bar;
    use crate::plan::{CatchTest, ElementItem, EntryKey, Field, Item, TableDoubt};
    use crate::quantities::{Angle, Ratio, Temperature};

    const DAY: Date = Date { year: 2026, month: 11, day: 30 };

    /// The demo with a test made on it, and an orifice of its catalogue.
    fn tested() -> (Session, CatchTestId, EntryKey) {
        let project = files::demo();
        let duty = project.duties.first().clone();
        let test = CatchTest {
            name: "Yard".to_owned(),
            temperature: Some(duty.temperature),
            side_slope: Angle::ZERO,
            fore_aft_slope: Angle::ZERO,
            ..project.catch_tests.empty_at(&duty.usual_point())
        };
        let bar = tested_bar(&project, project.routings[0].id, duty.id).unwrap();
        let is_orifice = |item: &Item| matches!(item, Item::Element(ElementItem::MeteringOrifice(_)));
        let entry = bar.catalogue.entries.iter().find(|entry| is_orifice(&entry.item)).unwrap().key.clone();
        let mut session = Session::new(project, None);
        session.edit("Test", [Edit::PutCatchTestOn(Box::new(test), Arc::new(bar))]).unwrap();
        (session, CatchTestId(1), entry)
    }

    fn told(number: Calibratable, assumed: f64, value: f64) -> ToldNumber {
        ToldNumber {
            number,
            assumed,
            assumed_within: Ratio::from_si(0.2),
            value,
            within: Ratio::from_si(0.04),
            temperature: Temperature::from_si(12.0),
        }
    }

    #[test]
    fn what_a_test_told_is_taken_over_in_one_step_and_undone() {
        let (mut session, test, key) = tested();
        let before = session.snapshot();
        let entry = session.project().catalogue.entry(&key).unwrap().clone();
        let (field, coefficient) = entry.told_by_catch().unwrap();
        assert_eq!(field, Field::Discharge);
        let duty = session.project().duties.first().clone();
        let viscosity = duty.liquid.at(duty.temperature).unwrap().viscosity.si();
        let all = [
            told(Calibratable::Viscosity, viscosity, 1.3 * viscosity),
            told(Calibratable::Entry(key.clone(), field), coefficient, 0.9 * coefficient),
        ];
        session.take_calibration(test, &all, DAY).unwrap();
        let liquid = &session.project().duties.first().liquid;
        for (now, then) in liquid.points.iter().zip(&duty.liquid.points) {
            assert!((now.viscosity.si() / then.viscosity.si() - 1.3).abs() < 1e-12);
        }
        assert_eq!(liquid.viscosity_source.words(), "calibrated on 2026-11-30 from test Yard");
        let entry = session.project().catalogue.entry(&key).unwrap();
        assert_eq!(entry.told_by_catch(), Some((field, 0.9 * coefficient)));
        assert_eq!(entry.calibration().unwrap().1.test, "Yard");
        // Another number entered by hand is no calibrated one.
        assert_eq!(entry.with_number(field, 0.5).unwrap().calibration(), None);
        session.undo();
        assert_eq!(*session.project(), *before, "one step");
    }

    /// What is taken over stays in a file; entered otherwise by hand, it is calibrated no more; a
    /// name may change.
    #[test]
    fn a_calibrated_number_is_kept_until_somebody_changes_it() {
        let (mut session, test, key) = tested();
        let entry = session.project().catalogue.entry(&key).unwrap().clone();
        let (field, coefficient) = entry.told_by_catch().unwrap();
        let viscosity = told(Calibratable::Viscosity, 1e-3, 1.2e-3);
        let discharge = told(Calibratable::Entry(key.clone(), field), coefficient, 0.9 * coefficient);
        session.take_calibration(test, &[viscosity, discharge], DAY).unwrap();
        let text = files::write_text(session.project()).unwrap();
        assert_eq!(files::read_text(&text).unwrap(), *session.project());
        let calibrated = session.project().catalogue.entry(&key).unwrap().clone();
        let renamed = Entry { description: "Another name".to_owned(), ..calibrated.clone() };
        session.edit("Rename it", [Edit::PutEntry(renamed)]).unwrap();
        assert!(session.project().catalogue.entry(&key).unwrap().calibration().is_some());
        let wider = calibrated.with_number(Field::Bore, 0.002).unwrap();
        session.edit("Widen it", [Edit::PutEntry(wider)]).unwrap();
        assert_eq!(session.project().catalogue.entry(&key).unwrap().calibrated, None);
        let mut duty = session.project().duties.first().clone();
        duty.liquid.name = "Another name".to_owned();
        session.edit("Rename", [Edit::PutDuty(Box::new(duty.clone()))]).unwrap();
        assert!(session.project().duties.first().liquid.viscosity_source.calibrated().is_some());
        duty.liquid.points[0].viscosity = duty.liquid.points[0].viscosity * 1.5;
        session.edit("Thicken", [Edit::PutDuty(Box::new(duty.clone()))]).unwrap();
        assert_eq!(session.project().duties.first().liquid.viscosity_source, Source::Assumed);
        let by = Calibrated {
            on: String::new(),
            test: String::new(),
            temperature: Temperature::from_si(12.0),
            within: Ratio::from_si(0.0),
        };
        duty.liquid.viscosity_source = Source::Calibrated(by);
        let refusal = session.edit("Wrong", [Edit::PutDuty(Box::new(duty))]).unwrap_err().to_string();
        assert!(refusal.contains("within"), "{refusal}");
    }

    /// The sheet of another bar, or lines that are missing: nothing is taken over until somebody has settled it.
    #[test]
    fn nothing_is_calibrated_by_a_test_that_is_not_judged() {
        let (mut session, test, key) = tested();
        let (field, coefficient) = session.project().catalogue.entry(&key).unwrap().told_by_catch().unwrap();
        let all = [told(Calibratable::Entry(key, field), coefficient, 0.9 * coefficient)];
        for (lines, no_verdict) in [(0, Some("the sheet is of another bar".to_owned())), (1, None)] {
            let doubt = TableDoubt { row: None, lines, no_verdict, says: "line 7: what it is".to_owned() };
            session.change_catch_test("Doubt", |test| test.doubts = vec![doubt]).unwrap();
            let before = session.snapshot();
            let refusal = session.take_calibration(test, &all, DAY).unwrap_err();
            assert!(matches!(refusal, Refusal::Calibration(CalibrationError::NotJudged(_))), "{refusal}");
            assert_eq!(*session.project(), *before);
        }
        session.settle_doubts().unwrap();
        session.take_calibration(test, &all, DAY).unwrap();
    }

    #[test]
    fn what_is_not_as_it_was_tested_is_refused_and_nothing_changes() {
        let (mut session, test, key) = tested();
        let entry = session.project().catalogue.entry(&key).unwrap().clone();
        let (field, coefficient) = entry.told_by_catch().unwrap();
        let of_entry = [told(Calibratable::Entry(key.clone(), field), coefficient, 0.9 * coefficient)];
        let wider = entry.with_number(Field::Bore, 0.002).unwrap();
        session.edit("Another bore", [Edit::PutEntry(wider)]).unwrap();
        let before = session.snapshot();
        let refusal = session.take_calibration(test, &of_entry, DAY).unwrap_err();
        assert_eq!(refusal, Refusal::Calibration(CalibrationError::EntryChanged(key.0)));
        let mut duty = session.project().duties.first().clone();
        duty.liquid.points[0].viscosity = duty.liquid.points[0].viscosity * 1.1;
        session.edit("Another liquid", [Edit::PutDuty(Box::new(duty))]).unwrap();
        let thicker = [told(Calibratable::Viscosity, 1e-3, 2e-3)];
        let refusal = session.take_calibration(test, &thicker, DAY).unwrap_err();
        assert!(matches!(refusal, Refusal::Calibration(CalibrationError::LiquidChanged(_))), "{refusal}");
        assert!(session.take_calibration(test, &[], DAY).is_err());
        assert!(session.take_calibration(CatchTestId(9), &thicker, DAY).is_err());
        assert_eq!(session.project().catalogue, before.catalogue);
    }
}
