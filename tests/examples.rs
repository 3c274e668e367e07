//! The examples are what their maker makes, valid, and plumbed to the last row.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::case_sensitive_file_extension_comparisons,
    reason = "a test that fails here should stop here"
)]

#[path = "../examples/make_examples.rs"]
#[expect(dead_code, reason = "its `main` writes the files")]
pub mod make_examples;

use std::fs;
use std::path::Path;

use equirow::files;
use equirow::hydraulics::{self, RowState, Status};

fn folder() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"))
}

#[test]
fn the_files_are_current() {
    for (name, text) in make_examples::all() {
        let found = fs::read_to_string(folder().join(name)).unwrap();
        assert!(found == text, "examples/{name} is old; run `cargo run --example make_examples`");
    }
}

#[test]
fn every_row_of_every_routing_is_fed_and_nothing_is_left_open() {
    // Rows and sections of the three bars (section 1 of the issue that asked for them).
    for (name, rows, sections, routings) in [
        ("nine-metre-bar.ron", 36, 3, &["A"][..]),
        ("twelve-metre-bar.ron", 40, 5, &["A", "B"]),
        ("twenty-four-metre-bar.ron", 80, 7, &["A"]),
    ] {
        let project = files::open(&folder().join(name)).unwrap();
        assert_eq!((project.bar.rows.len(), project.bar.sections.len()), (rows, sections), "{name}");
        let names: Vec<&str> = project.routings.iter().map(|routing| routing.name.as_str()).collect();
        assert_eq!(names, routings, "{name}");
        for routing in &project.routings {
            let outcome = hydraulics::solve(&project, routing, &project.application.usual_point());
            assert_eq!(outcome.status, Status::Solved, "{name}, {}", routing.name);
            assert_eq!(outcome.problems, [], "{name}, {}", routing.name);
            assert!(outcome.rows.iter().all(|row| row.state == RowState::Fed), "{name}, {}", routing.name);
        }
    }
}

#[test]
fn the_demo_shows_that_the_star_is_more_even_than_the_chain() {
    let demo = files::demo();
    let cv = |name: &str| {
        let routing = demo.routing_named(name).unwrap();
        hydraulics::solve(&demo, routing, &demo.application.usual_point()).evenness.unwrap().cv.as_percent()
    };
    let (chain, star) = (cv("A"), cv("B"));
    assert!(star < 1.0 && chain > 3.0 * star, "A {chain} %, B {star} %");
}

#[test]
fn the_generic_catalogue_is_the_one_the_examples_carry() {
    assert_eq!(files::generic_catalogue(), files::demo().catalogue);
    let text = files::write_catalogue(&files::generic_catalogue()).unwrap();
    assert_eq!(files::read_catalogue(&text).unwrap(), files::generic_catalogue());
    assert!(files::read_catalogue(&text.replacen("version: 1", "version: 2", 1)).is_err());
}
