//! The display list of the embedded bar: what is drawn is what the plan and the outcome say. Invented data.

use equirow::drawing::deviation::why_not_fed;
use equirow::drawing::{
    DeviationClass, Fill, Layer, SceneOptions, Shape, Subject, bar_scene, describe, pick,
};
use equirow::files;
use equirow::hydraulics::{NotFed, RowState, solve};
use equirow::plan::RoutingGeometry;
use equirow::quantities::UnitSystem;

#[test]
fn every_part_hose_feed_and_row_is_drawn_and_described() {
    let project = files::demo();
    let routing = &project.routings[0];
    let outcome = solve(&project, routing, &project.duties.first().usual_point());
    let scene = bar_scene(
        &project,
        RoutingGeometry::working(&project, routing).with(routing),
        Some(&outcome),
        &SceneOptions::default(),
    );
    let mut all: Vec<Subject> = routing.parts.iter().map(|part| Subject::Part(part.id)).collect();
    all.extend(routing.runs.iter().map(|run| Subject::Run(run.id)));
    all.extend(routing.feeds.iter().map(|feed| Subject::Feed(feed.id)));
    all.extend(project.bar.rows.iter().map(|row| Subject::Row(row.id)));
    for subject in all {
        assert!(scene.items.iter().any(|item| item.subject == Some(subject)), "{subject:?} is not drawn");
        let words = describe(
            &project,
            RoutingGeometry::working(&project, routing).with(routing),
            Some(&outcome),
            subject,
            UnitSystem::Metric,
        );
        assert!(words.len() > 4 && !words.contains("not there"), "{subject:?}: {words}");
    }
    let layers: Vec<Layer> = scene.items.iter().map(|item| item.layer).collect();
    assert!(layers.is_sorted());
}

#[test]
fn a_row_without_a_feed_is_drawn_and_described_as_not_fed() {
    let mut project = files::demo();
    let row = project.bar.rows[0].clone();
    project.routings[0].feeds.retain(|feed| !feed.feeds(row.id));
    let routing = &project.routings[0];
    let outcome = solve(&project, routing, &project.duties.first().usual_point());
    assert_eq!(outcome.connection(row.id).unwrap().connected, Err(NotFed::NoFeed));
    let scene = bar_scene(
        &project,
        RoutingGeometry::working(&project, routing).with(routing),
        Some(&outcome),
        &SceneOptions::default(),
    );
    let fills = |subject: Subject| {
        let own = scene.items.iter().filter(move |item| item.subject == Some(subject));
        own.filter(|item| matches!(item.shape, Shape::Circle { .. }))
            .map(|item| item.fill)
            .collect::<Vec<_>>()
    };
    assert_eq!(fills(Subject::Row(row.id)), [Fill::Paper]);
    let fed = outcome.rows().iter().find(|row| row.state == RowState::Fed).unwrap();
    let class = DeviationClass::of_row(fed, Some(fed), &project.limits);
    assert_eq!(fills(Subject::Row(fed.row)), [Fill::Deviation(class)]);
    let words = describe(
        &project,
        RoutingGeometry::working(&project, routing).with(routing),
        Some(&outcome),
        Subject::Row(row.id),
        UnitSystem::Metric,
    );
    assert!(words.contains(why_not_fed(Some(RowState::NotFed(NotFed::NoFeed))).unwrap()), "{words}");
    // At the outlet the row is found, away from everything nothing is.
    let outlet = project.bar.outlet(&row).flat();
    assert_eq!(pick(&scene, outlet, 0.01), Some(Subject::Row(row.id)));
    assert_eq!(pick(&scene, equirow::geometry::Point2::new(100.0, 100.0), 0.1), None);
}

#[test]
fn without_numbers_nothing_is_coloured() {
    let project = files::demo();
    let scene = bar_scene(
        &project,
        RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
        None,
        &SceneOptions::default(),
    );
    assert!(!scene.items.iter().any(|item| matches!(item.fill, Fill::Deviation(_))));
    assert!(!scene.items.iter().any(|item| item.layer == Layer::Values));
}
