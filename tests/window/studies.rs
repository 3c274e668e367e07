//! The studies below the drawing: each is answered, holds until something changes, and what a line offers is one step.

use eframe::egui::accesskit::Role;
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use equirow::files;
use equirow::quantities::UnitSystem;
use equirow::session::Session;
use equirow::session::studies::StudyState;
use equirow::studies::Study;

use crate::support::{Window, button, open, press, says, show};

/// Waits for the study that is shown.
fn answered(harness: &mut Window) {
    harness.run_ok();
    for _ in 0..4 {
        harness.step();
    }
    harness.state_mut().studies.studies.wait();
    harness.run_ok();
    assert_eq!(harness.state().studies.studies.state(), StudyState::UpToDate);
}

fn first_sentence(harness: &Window) -> String {
    let answer = harness.state().studies.studies.answer().unwrap().as_ref().unwrap();
    answer.answer[0].clone()
}

#[test]
fn every_study_is_answered_below_the_drawing_in_either_system_of_units() {
    for units in UnitSystem::ALL {
        let mut project = files::demo();
        project.units = units;
        let mut harness = open(Session::new(project, None));
        press(&mut harness, Modifiers::NONE, Key::F9);
        for study in Study::ALL {
            button(&mut harness, study.title());
            answered(&mut harness);
            let sentence = first_sentence(&harness);
            // Its first letter is a large one on the screen.
            assert!(says(&harness, &sentence[1..]), "{study:?}: {sentence}");
            let report = harness.state().studies.studies.answer().unwrap().as_ref().unwrap();
            assert!(
                !report.tables.is_empty() && report.tables.iter().all(|one| !one.rows.is_empty()),
                "{study:?}"
            );
            for table in &report.tables {
                assert!(table.rows.iter().all(|row| row.cells.len() == table.columns.len()), "{study:?}");
            }
        }
        press(&mut harness, Modifiers::NONE, Key::F9);
        assert!(!says(&harness, Study::Prime.title()), "closed by the same key");
    }
}

#[test]
fn metering_that_a_line_offers_is_fitted_as_one_step_and_the_answer_is_made_anew() {
    let mut harness = show(equirow::window::app::App::new(Session::new(files::demo(), None)), 1920.0, 1080.0);
    press(&mut harness, Modifiers::NONE, Key::F9);
    answered(&mut harness);
    let before = harness.state().session.snapshot();
    harness
        .query_all_by(|node| node.role() == Role::Button && node.label().as_deref() == Some("Fit"))
        .next()
        .unwrap()
        .click();
    harness.run_ok();
    let session = &harness.state().session;
    assert!(session.undo_name().is_some_and(|name| name.starts_with("Fit ")), "{:?}", session.undo_name());
    assert_ne!(*session.project(), *before);
    // What was found no longer holds, and nothing is carried out from it.
    assert_ne!(harness.state().studies.studies.state(), StudyState::UpToDate);
    answered(&mut harness);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(*harness.state().session.project(), *before);
}

#[test]
fn the_selected_row_is_the_one_whose_way_is_followed() {
    let mut session = Session::new(files::demo(), None);
    let row = session.project().bar.rows[2].id;
    session.select([equirow::plan::Subject::Row(row)]);
    let mut harness = open(session);
    press(&mut harness, Modifiers::NONE, Key::F9);
    button(&mut harness, Study::Pressure.title());
    answered(&mut harness);
    assert!(first_sentence(&harness).starts_with("row 3 "), "{}", first_sentence(&harness));
}

/// In the smallest usual window, and in one as it opens on that desktop, whatever the answer holds: the drawing stays of use.
#[test]
fn a_study_leaves_the_drawing_its_room_and_one_band() {
    for (width, height) in [(1280.0, 800.0), (1203.0, 704.0)] {
        let app = equirow::window::app::App::new(Session::new(files::demo(), None));
        let mut harness = show(app, width, height);
        let rows = harness.state().canvas.view.unwrap().scale;
        press(&mut harness, Modifiers::NONE, Key::F9);
        for study in [Study::Metering, Study::Conditions, Study::Prime] {
            button(&mut harness, study.title());
            answered(&mut harness);
            let canvas = &harness.state().canvas;
            let place = canvas.place.unwrap();
            assert!(place.height() >= 110.0, "{study:?} at {width} x {height}: {place}");
            assert!(!canvas.is_split(), "{study:?} at {width} x {height}");
            let scale = canvas.view.unwrap().scale;
            assert!(scale >= 0.4 * rows, "{study:?} at {width} x {height}: {scale} of {rows}");
        }
    }
}
