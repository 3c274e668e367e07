//! The comparison in the window, driven by accessible names as a screen reader would find them. No display is needed.

use crate::support::{Window, press, show};
use eframe::egui::{self, Key, Modifiers, OutputCommand, Pos2, Rect, accesskit::Role, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use equirow::files;
use equirow::plan::{Project, Routing, RoutingId};
use equirow::session::Session;
use equirow::studies::comparison::{Comparison, Condition, FigureKey, FlowFigure};
use equirow::window::app::App;

fn open(project: Project, width: f32, height: f32) -> Window {
    show(App::new(Session::new(project, None)), width, height)
}

/// The demo, its routings A and B side by side.
fn side_by_side() -> Window {
    let mut harness = open(files::demo(), 1280.0, 800.0);
    press(&mut harness, Modifiers::NONE, Key::C);
    harness
}

fn comparison(harness: &Window) -> &Comparison {
    harness.state().compare.pair().unwrap().comparison().unwrap()
}

fn label_starting(harness: &Window, starts: &str) -> Option<String> {
    harness
        .query_all_by(|node| node.label().or(node.value()).is_some_and(|label| label.starts_with(starts)))
        .next()
        .and_then(|node| node.accesskit_node().label().or(node.accesskit_node().value()))
}

fn rect_of(harness: &Window, name: &str) -> Rect {
    harness.get_by_label(name).rect()
}

/// A part of one of the two drawings.
fn part_in(harness: &Window, drawing: Rect, starts: &str) -> Pos2 {
    let mut found = harness.query_all_by(|node| {
        node.role() == Role::Button && node.label().is_some_and(|label| label.starts_with(starts))
    });
    found.find(|node| drawing.contains(node.rect().center())).unwrap().rect().center()
}

fn cv(harness: &Window) -> (Option<f64>, Option<f64>) {
    let comparison = comparison(harness);
    let cv = |at| comparison.line(&FigureKey::Flow(FlowFigure::Cv, at));
    let line = cv(Condition::LookedAt).or_else(|| cv(Condition::Usual)).unwrap();
    (line.a.value(), line.b.value())
}

#[test]
fn both_routings_the_strips_the_verdict_and_the_figures_are_there() {
    let harness = side_by_side();
    for name in [
        "Upper drawing, routing A",
        "Upper strip of row flows, routing A",
        "Strip of differences row by row: B less A",
        "Lower drawing, routing B",
        "Lower strip of row flows, routing B",
    ] {
        harness.get_by_label(name);
    }
    // One x-axis: all five have the same left and right.
    let upper = rect_of(&harness, "Upper drawing, routing A");
    let lower = rect_of(&harness, "Lower drawing, routing B");
    let between = rect_of(&harness, "Strip of differences row by row: B less A");
    assert_eq!((upper.left(), upper.right()), (lower.left(), lower.right()));
    assert_eq!((upper.left(), upper.right()), (between.left(), between.right()));
    assert!(upper.bottom() <= between.top() && between.bottom() <= lower.top());
    assert!(label_starting(&harness, "At 9 km/h and 15 °C on the level: routing B is more even").is_some());
    let better = label_starting(&harness, "CV over rows, B: ").unwrap();
    assert!(better.ends_with(" %, better"), "{better}");
    let worse = label_starting(&harness, "CV over rows, A: ").unwrap();
    assert!(!worse.ends_with("better"), "{worse}");
    assert!(label_starting(&harness, "Together, A: no price").is_some());
    assert!(label_starting(&harness, "tee J2 added").is_some());
    assert!(!harness.state().session.is_changed(), "looking changes no project");
}

#[test]
fn a_part_dragged_in_either_drawing_and_the_speed_are_followed_by_both() {
    let mut harness = side_by_side();
    let before = cv(&harness);
    let solves = harness.state().compare.pair().unwrap().solves();
    let view = harness.state().compare.view().unwrap();
    let lower = rect_of(&harness, "Lower drawing, routing B");
    let at = part_in(&harness, lower, "Manifold M3");
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    for step in 1..=4 {
        harness.hover_at(at + vec2(0.0, -6.0 * step as f32));
        harness.run();
    }
    // Followed while the button is still down; only B has changed.
    let during = cv(&harness);
    assert_eq!(during.0, before.0);
    assert_ne!(during.1, before.1);
    harness.drop_at(at + vec2(0.0, -24.0));
    harness.run();
    assert_eq!(harness.state().session.routing().name, "B");
    assert_eq!(harness.state().session.undo_name(), Some("Move M3"));
    assert_eq!(harness.state().compare.view().unwrap(), view, "the picture stays while a part moves");
    assert!(
        harness.state().compare.pair().unwrap().solves() <= solves + 1,
        "A is solved when B is taken in hand, and not again with every move"
    );
    assert!(comparison(&harness).items.iter().any(|item| item.tag == "M3"));

    let upper = rect_of(&harness, "Upper drawing, routing A");
    let at = part_in(&harness, upper, "Manifold M1");
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    for step in 1..=4 {
        harness.hover_at(at + vec2(0.0, -8.0 * step as f32));
        harness.run();
    }
    harness.drop_at(at + vec2(0.0, -32.0));
    harness.run();
    assert_eq!(harness.state().session.routing().name, "A");
    assert_ne!(cv(&harness).0, before.0);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(cv(&harness), before);

    harness.get_by_role_and_label(Role::Button, "Fastest").click();
    harness.run();
    let pair = harness.state().compare.pair().unwrap();
    let session = &harness.state().session;
    for side in 0..2 {
        assert_eq!(pair.outcome(session, side).point.speed, session.project().duties.first().fastest);
    }
}

#[test]
fn zoom_is_shared_and_fit_shows_all_again() {
    let mut harness = side_by_side();
    let fitted = harness.state().compare.view().unwrap();
    press(&mut harness, Modifiers::COMMAND, Key::Plus);
    assert!(harness.state().compare.view().unwrap().scale > fitted.scale * 1.2);
    press(&mut harness, Modifiers::NONE, Key::F);
    assert_eq!(harness.state().compare.view().unwrap(), fitted);
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(!harness.state().compare.is_open());
    harness.get_by_label("Drawing of the bar");
}

#[test]
fn the_same_routing_under_its_own_conditions() {
    let mut harness = side_by_side();
    harness.get_by_label("Lower routing, B").click();
    harness.run();
    let choice = harness.query_all_by(|node| node.label().is_some_and(|label| label.starts_with("A: ")));
    choice.last().unwrap().click();
    harness.run();
    harness.get_by_label("Lower drawing, routing A");
    assert_eq!(comparison(&harness).differing().count(), 0);
    harness.get_by_label("Lower: own conditions").click();
    harness.run();
    let fields = harness.query_all_by(|node| {
        node.role() == Role::TextInput && node.value().is_some_and(|value| value == "9")
    });
    // The first one is the live control at the top.
    fields.last().unwrap().focus();
    harness.run();
    press(&mut harness, Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text("11".to_owned()));
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(comparison(&harness).labels, ["A at 9 km/h", "A at 11 km/h"]);
    assert!(
        label_starting(&harness, "Strip of differences row by row: A at 11 km/h less A at 9 km/h").is_some()
    );
}

#[test]
fn swap_copy_and_export() {
    let mut harness = side_by_side();
    harness.get_by_role_and_label(Role::Button, "Swap").click();
    harness.run();
    assert_eq!(comparison(&harness).labels, ["B", "A"]);
    harness.get_by_role_and_label(Role::Button, "Copy as text").click();
    harness.step();
    let copied = harness.output().platform_output.commands.iter().find_map(|command| match command {
        OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    let copied = copied.expect("the table is on the clipboard");
    assert!(copied.contains("routing B is more even") && copied.contains("CV over rows"), "{copied}");
    harness.run();

    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("table");
    harness.get_by_role_and_label(Role::Button, "Export CSV…").click();
    harness.run();
    harness.get_by_role_and_label(Role::TextInput, "File").focus();
    harness.run();
    harness.event(egui::Event::Text(path.display().to_string()));
    harness.run();
    harness.get_by_role_and_label(Role::Button, "Export").click();
    harness.run();
    let text = std::fs::read_to_string(path.with_extension("csv")).unwrap();
    assert!(text.starts_with("group,figure,unit,a: B,b: A,"), "{text}");
    assert!(label_starting(&harness, "Written to").is_some());

    // Again, over what somebody made of it: asked first.
    std::fs::write(path.with_extension("csv"), "notes").unwrap();
    harness.get_by_role_and_label(Role::Button, "Export CSV…").click();
    harness.run();
    harness.get_by_role_and_label(Role::TextInput, "File").focus();
    harness.run();
    harness.event(egui::Event::Text(path.display().to_string()));
    harness.run();
    harness.get_by_role_and_label(Role::Button, "Export").click();
    harness.run();
    assert!(label_starting(&harness, "table.csv is there already, and not from Equirow").is_some());
    assert_eq!(std::fs::read(path.with_extension("csv")).unwrap(), b"notes");
    harness.get_by_role_and_label(Role::Button, "Replace").click();
    harness.run();
    assert_eq!(std::fs::read_to_string(path.with_extension("csv")).unwrap(), text);
}

#[test]
fn one_that_cannot_be_solved_is_shown_as_such() {
    let mut project = files::demo();
    project.routings.insert(1, Routing::empty(RoutingId(9), "Bare"));
    let mut harness = open(project, 1280.0, 800.0);
    press(&mut harness, Modifiers::NONE, Key::C);
    harness.get_by_label("Lower drawing, routing Bare");
    assert!(label_starting(&harness, "Routing Bare can't be judged").is_some());
    assert!(label_starting(&harness, "No flows or pressures for Bare: no row is connected").is_some());
    assert!(label_starting(&harness, "CV over rows, A: ").unwrap().ends_with('%'));
    assert!(label_starting(&harness, "CV over rows, Bare: –, no row is connected").is_some());
}

#[test]
fn routings_are_added_copied_renamed_moved_and_deleted() {
    let mut harness = open(files::demo(), 1280.0, 800.0);
    let names = |harness: &Window| -> Vec<String> {
        harness.state().session.project().routings.iter().map(|routing| routing.name.clone()).collect()
    };
    let choose = |harness: &mut Window, item: &str| {
        harness.get_by_role_and_label(Role::Button, "Change…").click();
        harness.run();
        harness.get_by_role_and_label(Role::Button, item).click();
        harness.run();
    };
    choose(&mut harness, "Add a copy of A");
    assert_eq!(names(&harness), ["A", "B", "C"]);
    assert_eq!(harness.state().session.routing().name, "C");
    assert_eq!(harness.state().session.routing().feeds.len(), 40);
    choose(&mut harness, "Move C to the left");
    assert_eq!(names(&harness), ["A", "C", "B"]);

    harness.get_by_role_and_label(Role::Button, "Change…").click();
    harness.run();
    harness.get_by_role_and_label(Role::TextInput, "Name").focus();
    harness.run();
    press(&mut harness, Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text("Wider mains".to_owned()));
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(names(&harness), ["A", "Wider mains", "B"]);
    press(&mut harness, Modifiers::NONE, Key::Escape);

    choose(&mut harness, "Delete Wider mains");
    assert_eq!(names(&harness), ["A", "B"]);
    for _ in 0..4 {
        press(&mut harness, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(*harness.state().session.project(), files::demo(), "four steps, four times undo");
}
