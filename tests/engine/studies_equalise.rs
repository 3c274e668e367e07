//! Equalising rows: lengths that make them equal, two sizes, when it is not worth it, and bad input. The lengths themselves
//! are checked against scipy's least squares by `tests/cross_check/equalise.py`.

use equirow::files;
use equirow::plan::{Metering, Project, RoutingGeometry, StockKey};
use equirow::quantities::{Length, Ratio};
use equirow::studies::equalise::{EqualiseOptions, EqualiseStudy, Means, PRACTICAL, action, report, study};
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
    assert!((logs(|row| &row.before) - logs(|row| &row.after)).abs() < 2e-3);
    for row in &found.rows {
        let steps = row.after.length().unwrap().as_millimetres() / 5.0;
        assert!((steps - steps.round()).abs() < 1e-6);
        // A row that got too little gets a shorter tube.
        let change = row.after.length().unwrap() - row.before.length().unwrap();
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
    assert!(after <= before + Ratio::percent(0.05) && before - after < PRACTICAL);
    assert!(!found.is_worth_it && action(&found).is_none());
    let text = words(&project, &found);
    assert!(text.starts_with("Not worth it: ") || text.starts_with("Leave the rows as they are"), "{text}");
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
}
