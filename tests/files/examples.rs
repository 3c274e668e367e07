//! The examples are what their maker makes, valid, and plumbed to the last row.

#[path = "../../examples/make_examples.rs"]
#[expect(dead_code, reason = "its `main` writes the files")]
mod make_examples;

use std::fs;
use std::path::Path;

use equirow::checks::{bend_radius, hinge_slack};
use equirow::files;
use equirow::hydraulics::{self, NotFed, RowState, SupplyState};
use equirow::plan::RoutingGeometry;

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
    // Rows and sections of the bars.
    for (name, rows, sections, routings) in [
        ("nine-metre-bar.ron", 36, 3, &["A"][..]),
        ("six-metre-trial-bar.ron", 19, 3, &["A"]),
        ("twelve-metre-bar.ron", 40, 5, &["A", "B"]),
        ("twenty-four-metre-bar.ron", 80, 7, &["A"]),
    ] {
        let project = files::open(&folder().join(name)).unwrap();
        assert_eq!((project.bar.rows.len(), project.bar.sections.len()), (rows, sections), "{name}");
        let names: Vec<&str> = project.routings.iter().map(|routing| routing.name.as_str()).collect();
        assert_eq!(names, routings, "{name}");
        for routing in &project.routings {
            let outcome = hydraulics::solve(&project, routing, &project.duties.first().usual_point());
            assert_eq!(
                outcome.numbers().map(|one| one.supply),
                Some(SupplyState::AsAsked),
                "{name}, {}",
                routing.name
            );
            assert_eq!(outcome.problems, [], "{name}, {}", routing.name);
            for (row, outcome) in project.bar.rows.iter().zip(outcome.rows()) {
                let wanted = if row.left_out { RowState::NotFed(NotFed::LeftOut) } else { RowState::Fed };
                assert_eq!(outcome.state, wanted, "{name}, {}, row {}", routing.name, row.number);
            }
        }
    }
}

/// The examples that the program carries are those of the folder, under their own titles.
#[test]
fn the_program_carries_every_example() {
    let carried: Vec<_> = files::Example::ALL.iter().map(|one| one.project()).collect();
    for (name, text) in make_examples::all().into_iter().filter(|(name, _)| name.ends_with("bar.ron")) {
        let project = files::read_text(&text).unwrap();
        let found = carried.iter().position(|one| *one == project);
        let found = found.unwrap_or_else(|| panic!("the program does not carry {name}"));
        assert_eq!(files::Example::ALL[found].name(), project.title.title);
    }
    assert_eq!(carried.len(), 4);
}

/// The trial bar has what the others lack, and each row gets its share all the same.
#[test]
fn the_trial_bar_shows_shared_feeds_metering_tubes_a_row_left_out_and_uneven_spacing() {
    let project = files::open(&folder().join("six-metre-trial-bar.ron")).unwrap();
    let routing = &project.routings[0];
    let shared = routing.feeds.iter().filter(|feed| feed.branches.len() == 2 && feed.split.is_some());
    assert_eq!(shared.count(), 3);
    let elements = routing.feeds.iter().flat_map(equirow::plan::RowFeed::elements);
    let tubes = elements.filter(|one| matches!(one, equirow::plan::FeedElement::MeteringTube { .. }));
    assert_eq!(tubes.count(), 5);
    assert_eq!(project.bar.rows.iter().filter(|row| row.left_out).count(), 1);
    let mut gaps: Vec<u32> =
        project.bar.rows.windows(2).map(|pair| ((pair[1].x - pair[0].x).si() * 1e4).round() as u32).collect();
    gaps.sort_unstable();
    gaps.dedup();
    assert_eq!(gaps, [2500, 3125, 3250, 3375, 4000], "tenths of a millimetre between rows");
    assert!(!routing.note.is_empty());
    let outcome = hydraulics::solve(&project, routing, &project.duties.first().usual_point());
    for row in outcome.rows().iter().filter(|row| row.state == RowState::Fed) {
        let deviation = row.deviation.unwrap();
        assert!(
            deviation.si().abs() <= project.limits.design_deviation.si(),
            "row {}: {deviation:?}",
            row.number
        );
    }
}

/// An example is built as it is drawn: no hose is too short for the fold, none bends tighter than its least radius.
#[test]
fn hoses_and_tubes_of_the_examples_can_be_laid() {
    for (name, _) in make_examples::all() {
        if !name.ends_with("-bar.ron") {
            continue;
        }
        let project = files::open(&folder().join(name)).unwrap();
        for routing in &project.routings {
            let geometry = RoutingGeometry::working(&project, routing);
            let bends = bend_radius::tight_bends(&project, geometry.with(routing));
            assert_eq!(bends, [], "{name}, {}", routing.name);
            assert_eq!(
                hinge_slack::too_short(&project, geometry.with(routing)),
                [],
                "{name}, {}",
                routing.name
            );
        }
    }
}

#[test]
fn the_demo_shows_that_the_star_is_more_even_than_the_chain() {
    let demo = files::demo();
    let cv = |name: &str| {
        let routing = demo.routing_named(name).unwrap();
        hydraulics::solve(&demo, routing, &demo.duties.first().usual_point())
            .evenness()
            .unwrap()
            .cv
            .as_percent()
    };
    let (chain, star) = (cv("A"), cv("B"));
    assert!(star < 1.0 && chain > 3.0 * star, "A {chain} %, B {star} %");
}

#[test]
fn the_generic_catalogue_is_the_one_the_examples_carry() {
    assert_eq!(files::generic_catalogue(), files::demo().catalogue);
    let text = files::write_catalogue(&files::generic_catalogue()).unwrap();
    assert_eq!(files::read_catalogue(&text).unwrap(), files::generic_catalogue());
    assert!(files::read_catalogue(&text.replacen("version: 2", "version: 3", 1)).is_err());
}
