//! Equalising rows: lengths that make them equal, two sizes, when it is not worth it, and bad input. The lengths themselves
//! are checked against scipy's least squares by `tests/cross_check/equalise.py`.

use equirow::files;
use equirow::plan::{Metering, Project, RoutingGeometry, StockKey};
use equirow::quantities::{Length, Ratio};
use equirow::studies::equalise::{EqualiseOptions, EqualiseStudy, Means, PRACTICAL, action, report, study};
use equirow::studies::report::StudyMark;
use equirow::studies::{NoAnswer, Studied, Unwatched, Waiting};
use std::path::Path;

fn example(name: &str) -> Project {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    files::open(&folder.join(name)).unwrap()
}

fn asked(project: &Project, tube: Option<&str>, waiting: &dyn Waiting) -> Result<EqualiseStudy, NoAnswer> {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let point = project.duties.first().usual_point();
    let of = Studied { project, routing: geometry.with(routing), point };
    study(&of, &EqualiseOptions { tube: tube.map(StockKey::new) }, waiting)
}

fn words(project: &Project, found: &EqualiseStudy) -> String {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let point = project.duties.first().usual_point();
    report(found, &Studied { project, routing: geometry.with(routing), point }).text(project.units)
}

#[test]
fn cut_lengths_make_rows_equal_that_narrow_mains_make_unequal() {
    let project = example("twelve-metre-bar.ron");
    let found = asked(&project, Some("metering-tube-1.5"), &Unwatched).unwrap();
    assert_eq!(found.means, Means::Lengths);
    let [before, after] = found.cv().map(Option::unwrap);
    assert!(before > Ratio::percent(3.0) && after < before * 0.5, "{before:?} {after:?}");
    assert!(found.is_worth_it);
    let logs = |of: fn(&equirow::studies::equalise::EqualisedRow) -> &Metering| {
        found.rows.iter().map(|row| of(row).length().unwrap().si().ln()).sum::<f64>()
            / found.rows.len() as f64
    };
    // The mean of the logarithms stays, but for the rounding.
    assert!((logs(|row| &row.start) - logs(|row| &row.after)).abs() < 2e-3);
    for row in &found.rows {
        let steps = row.after.length().unwrap().as_millimetres() / 5.0;
        assert!((steps - steps.round()).abs() < 1e-6);
        // A row that got too little gets a shorter tube.
        let change = row.after.length().unwrap() - row.start.length().unwrap();
        let [was, is] = row.deviation.map(Option::unwrap);
        if was.abs() > Ratio::percent(3.0) {
            assert_eq!(change > Length::ZERO, was > Ratio::ZERO, "{row:?}");
            assert!(is.abs() < was.abs());
        }
    }
    assert!(action(&found).is_some());
    let text = words(&project, &found);
    assert!(text.starts_with("Cut the metering tubes of rows "), "{text}");
    assert_eq!(text, words(&project, &asked(&project, Some("metering-tube-1.5"), &Unwatched).unwrap()));
}

#[test]
fn a_gain_below_what_catch_tests_differ_by_is_not_worth_it() {
    let project = example("nine-metre-bar.ron");
    let found = asked(&project, Some("metering-tube-1.0"), &Unwatched).unwrap();
    let [before, after] = found.cv().map(Option::unwrap);
    assert!(before - after < PRACTICAL);
    assert!(!found.is_worth_it && action(&found).is_none());
    let text = words(&project, &found);
    assert!(
        text.starts_with(if after > before { "Keep what is fitted: CV rises" } else { "Not worth it: " }),
        "{text}"
    );
}

/// An example whose right half gets a fifth more by its wider orifices: another size for one half puts it right.
#[test]
fn two_sizes_of_orifices_are_shared_out_where_they_help() {
    let project = example("twelve-metre-bar.ron");
    let found = asked(&project, None, &Unwatched).unwrap();
    assert!(matches!(found.means, Means::TwoSizes | Means::NoSizes));
    let [before, after] = found.cv().map(Option::unwrap);
    assert!(after <= before);
    let mut sizes: Vec<&Metering> = Vec::new();
    for row in &found.rows {
        if !sizes.contains(&&row.after) {
            sizes.push(&row.after);
        }
    }
    assert!(sizes.len() <= 2, "{sizes:?}");
    if found.means == Means::NoSizes {
        assert_eq!(found.touched(), 0);
        assert!(action(&found).is_none());
    }
    // Narrow orifices in the first six rows: the size that the others have puts them right.
    let mut uneven = project;
    let other = equirow::plan::ElementKey::new("orifice-0.7");
    for feed in uneven.routings[0].feeds.iter_mut().take(6) {
        feed.meter(|_| Some(Metering::Orifice(other.clone())));
    }
    let found = asked(&uneven, None, &Unwatched).unwrap();
    assert_eq!(found.means, Means::TwoSizes);
    assert!(found.is_worth_it && found.touched() >= 6, "{}", found.touched());
}

/// Rows that are left or put outside the limit at any speed are said and marked, with the figures of a solve of their own.
#[test]
fn rows_outside_the_limit_are_marked() {
    let project = example("twelve-metre-bar.ron");
    let found = asked(&project, None, &Unwatched).unwrap();
    let limit = project.limits.row_deviation;
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let point = project.duties.first().usual_point();
    let shown = report(&found, &Studied { project: &project, routing: geometry.with(routing), point });
    let mut changed = project.clone();
    if let Some(action) = action(&found) {
        for edit in equirow::session::study_actions::edits_of(&project, routing, &action) {
            equirow::plan::edit::apply(&mut changed, edit).unwrap();
        }
    }
    let mut outside = 0;
    for (row, line) in found.rows.iter().zip(&shown.tables[0].rows) {
        let far = project.duties.first().speeds().map(|speed| {
            let point = equirow::plan::OperatingPoint { speed, ..point };
            let outcome = equirow::hydraulics::solve(&changed, &changed.routings[0], &point);
            outcome.row(row.row).and_then(|one| one.deviation).unwrap().si().abs()
        });
        let is_outside = far.into_iter().fold(0.0, f64::max) > limit.si();
        outside += usize::from(is_outside);
        assert_eq!(line.mark == StudyMark::OutsideLimits, is_outside, "{row:?}");
    }
    assert!(outside > 0, "the mains are too narrow for orifices");
    assert!(
        shown.answer.iter().any(|one| one.starts_with("Outside the limit of 5 % from target")),
        "{shown:?}"
    );
}

/// "Now" is what is fitted, whatever tube is asked for; and where that flows between laminar and turbulent it is said.
#[test]
fn a_tube_that_is_asked_for_is_held_against_what_is_fitted_and_its_zone_is_said() {
    let project = example("twelve-metre-bar.ron");
    let fitted = asked(&project, None, &Unwatched).unwrap();
    let found = asked(&project, Some("metering-tube-1.5"), &Unwatched).unwrap();
    assert_eq!(found.before, fitted.before);
    assert!(found.rows.iter().all(|row| matches!(row.before, Some(Metering::Orifice(_)))));
    // Re 1,735 to 2,740 in this bore, as the study of the metering finds too.
    assert!(words(&project, &found).contains("Flow can't be predicted at "), "{}", words(&project, &found));
}

#[test]
fn a_table_of_the_liquid_that_is_left_is_said_in_the_words_of_every_study() {
    let mut project = example("nine-metre-bar.ron");
    project.duties.first_mut().liquid.points.truncate(1);
    let text = words(&project, &asked(&project, None, &Unwatched).unwrap());
    assert!(
        text.contains("warning: Inoculant in water has no values at 12.0 °C: the nearest are used"),
        "{text}"
    );
}

struct Gone;

impl Waiting for Gone {
    fn so_far(&self, _: f32) {}

    fn has_stopped(&self) -> bool {
        true
    }
}

#[test]
fn bad_input_and_lost_patience_are_plain_sentences() {
    let mut project = example("nine-metre-bar.ron");
    let why = |project: &Project, tube| asked(project, tube, &Unwatched).unwrap_err().to_string();
    assert!(why(&project, Some("hose-8")).contains("hose-8 is no metering tube of the catalogue"));
    assert_eq!(asked(&project, None, &Gone), Err(NoAnswer::Stopped));
    let feeds = std::mem::take(&mut project.routings[0].feeds);
    assert!(why(&project, None).contains("nothing meters the rows"));
    project.routings[0].feeds = feeds.into_iter().take(1).collect();
    assert!(why(&project, None).contains("fewer than two rows are fed"));
    let mut weak = example("nine-metre-bar.ron");
    weak.supply.control = equirow::plan::Control::Metered { limit: equirow::quantities::Pressure::bar(0.01) };
    let why = why(&weak, None);
    assert!(
        why.contains("36 rows whose check valves the supply does not open; give the supply more pressure"),
        "{why}"
    );
}
