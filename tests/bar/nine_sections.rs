//! A bar of nine sections, four wings a side, as the form of a new bar lays it out: how it folds, against coordinates worked out
//! by hand.

use equirow::drawing::{FoldRoom, FoldedWays, SceneOptions, Shape, Subject, fold_scene};
use equirow::files;
use equirow::geometry::Point2;
use equirow::plan::clash_search::frames_that_meet;
use equirow::plan::lay_out::{Layout, MOST_SECTIONS, even_sections, lay_out, usual_hinges};
use equirow::plan::{
    Bar, BarPoint, Envelope, FoldPosition, FoldSweep, FoldedBar, PartKey, Project, RoutingGeometry,
};
use equirow::quantities::Length;
use equirow::session::Session;
use equirow::session::commands::{self, Command};

use super::ways_to_plumb::errors;

/// 72 rows 0.25 m apart in nine sections of 2 m each.
fn bar() -> Bar {
    let (rows, spacing) = (72, Length::metres(0.25));
    let layout = Layout {
        sections: even_sections(rows, spacing, MOST_SECTIONS),
        hinges: usual_hinges(MOST_SECTIONS / 2),
        ..Layout::even(rows, spacing)
    };
    lay_out(&layout).unwrap()
}

/// By hand, right of the middle, rails at 0.9 m and outlets at 0.05 m: the outer wing (7 to 9 m) is laid on the second middle one
/// about 1.1 m, then both are turned forward about 0.35 m in front, the first middle one is laid on the inner one about 1.1 m with
/// what it carries, and the inner one goes up about its own line, 1 m from the middle and 1.1 m high. A point of the inner wing at
/// (x, z) comes to (1 - (z - 1.1), 1.1 + x - 1): its outlets to 2.05 m from the middle, the ends of its rails, 0.04 m short of its
/// own end, to 3.06 m.
#[test]
fn nine_sections_fold_as_worked_out_by_hand() {
    let bar = bar();
    assert_eq!(bar.sections.len(), 9);
    assert_eq!(
        bar.fold_order_words().unwrap(),
        "outer wing left and outer wing right first, then middle wing 2 left and middle wing 2 right, then middle wing 1 left and \
         middle wing 1 right, then inner wing left and inner wing right"
    );
    let folded = FoldedBar::at(&bar, FoldPosition::TRANSPORT);
    let place = |name: &str, x: f64, y: f64, z: f64| {
        let section = bar.sections.iter().find(|one| one.name == name).unwrap().id;
        let at = folded.place(BarPoint { section, place: equirow::geometry::Point3::new(x, y, z) });
        [at.x, at.y, at.z].map(|one| (one * 1e3).round() / 1e3)
    };
    for side in [1.0, -1.0] {
        let of = |name: &str| format!("{name} {}", if side > 0.0 { "right" } else { "left" });
        let expect = |name: &str, from: [f64; 3], to: [f64; 3]| {
            let found = place(&of(name), side * from[0], from[1], from[2]);
            assert_eq!(found, [side * to[0], to[1], to[2]], "{}", of(name));
        };
        expect("inner wing", [2.96, 0.3, 0.9], [1.2, 0.3, 3.06]);
        expect("inner wing", [1.0, 0.3, 0.05], [2.05, 0.3, 1.1]);
        // Laid on the inner one: (6 - x, 2.2 - z) before that goes up.
        expect("middle wing 1", [3.04, -0.3, 0.9], [0.8, -0.3, 3.06]);
        expect("middle wing 1", [5.0, -0.3, 0.9], [0.8, -0.3, 1.1]);
        // Turned forward before: (10 - x, 0.7 - y).
        expect("middle wing 2", [5.0, 0.3, 0.9], [0.8, 0.4, 1.1]);
        expect("middle wing 2", [7.0, -0.3, 0.9], [0.8, 1.0, 3.1]);
        // And laid on that one first: (14 - x, 2.2 - z).
        expect("outer wing", [9.0, 0.3, 0.9], [1.2, 0.4, 1.1]);
        expect("outer wing", [7.0, 0.3, 0.05], [2.05, 0.4, 3.1]);
    }
    assert_eq!(frames_that_meet(&bar), [], "no section folds into another");
    let bare = Project::new(bar, files::generic_catalogue());
    let routing = &bare.routings[0];
    let geometry = RoutingGeometry::working(&bare, routing);
    let envelope = Envelope::of(&bare, geometry.with(routing), &folded);
    // Outlets are the widest, half a rail above the ends of the rails the highest.
    assert!((envelope.width().si() - 4.1).abs() < 1e-6, "{:?}", envelope.width());
    assert!((envelope.height().si() - 3.11).abs() < 1e-6, "{:?}", envelope.height());
}

/// Plumbed by commands, it is drawn whole in every position from every side, and nothing of the fold is an error.
#[test]
fn nine_sections_are_drawn_in_every_position_with_all_hoses_and_tubes() {
    let mut session = Session::new(Project::new(bar(), files::generic_catalogue()), None);
    let run = |session: &mut Session, command| {
        session.select([]);
        commands::run(session, command).unwrap();
    };
    for command in [Command::ManifoldPerSection, Command::NearestManifold] {
        run(&mut session, command);
    }
    session.place(&PartKey::new("filter-19-300"), Point2::default(), 0.15).unwrap();
    run(&mut session, Command::MainsFromTees);
    assert_eq!(errors(&session), Vec::<String>::new());
    let (project, laid) = (session.project(), session.laid());
    let rooms = FoldRoom::all(project, laid, FoldSweep::of(&project.bar).positions());
    for step in 0..=16 {
        let fold = FoldPosition::share(f64::from(step) / 16.0);
        let options = SceneOptions { fold, ..SceneOptions::default() };
        let ways = FoldedWays::of(project, laid, fold);
        let scenes = rooms
            .each_ref()
            .map(|room| fold_scene(project, laid, Some(session.outcome()), &options, &ways, room));
        // Seen along itself a straight piece is a point: from one side or another all is drawn.
        let is_drawn = |subject: Subject| {
            scenes.iter().flat_map(|scene| &scene.items).any(|item| item.subject == Some(subject))
        };
        for run in &session.routing().runs {
            assert!(is_drawn(Subject::Run(run.id)), "{} {fold:?}", run.tag);
        }
        for feed in &session.routing().feeds {
            assert!(is_drawn(Subject::Feed(feed.id)), "{} {fold:?}", feed.tag);
        }
        for scene in &scenes {
            assert!(!scene.items.is_empty(), "{fold:?}");
            let points = scene.items.iter().flat_map(|item| match &item.shape {
                Shape::Line { points, .. } | Shape::Polygon { points } => points.clone(),
                Shape::Circle { centre, .. } => vec![*centre],
                Shape::Text(text) => vec![text.at],
            });
            assert!(points.into_iter().all(|one| one.x.is_finite() && one.y.is_finite()));
        }
    }
}
