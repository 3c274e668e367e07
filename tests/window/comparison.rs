//! The comparison in the window, driven by accessible names as a screen reader would find them. No display is needed.

use crate::support::{Window, press, show};
use eframe::egui::{self, Key, Modifiers, OutputCommand, Pos2, Rect, accesskit::Role, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use equirow::files;
use equirow::plan::{End, Port, PortRef, Project, Routing, RoutingId};
use equirow::session::rows::rows_of;
use equirow::session::{Gesture, Session, Tool};
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
    let verdict = label_starting(&harness, "Routing A is not released: ").unwrap();
    assert!(verdict.contains("At 9 km/h and 15 °C on the level: routing B is more even"), "{verdict}");
    assert!(!verdict.contains("routing B is released"), "{verdict}");
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
    let verdict = label_starting(&harness, "Routing A is not released: ").unwrap();
    assert!(verdict.contains("Routing Bare can't be judged") && !verdict.contains("Bare is"), "{verdict}");
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

/// Ids mean something else in another routing, and a tag is no identity: what is selected in one drawing is neither
/// selected nor deleted in the other.
#[test]
fn a_selection_belongs_to_the_drawing_it_was_made_in() {
    let mut harness = side_by_side();
    let parts = |harness: &Window| -> Vec<usize> {
        harness.state().session.project().routings.iter().map(|routing| routing.parts.len()).collect()
    };
    let before = parts(&harness);
    let upper = rect_of(&harness, "Upper drawing, routing A");
    let lower = rect_of(&harness, "Lower drawing, routing B");
    let at = part_in(&harness, upper, "Manifold M1");
    click_at(&mut harness, at);
    assert_eq!(harness.state().session.selection().len(), 1);
    // An empty place of the other drawing, with Shift, which by itself clears nothing.
    let empty = lower.left_bottom() + vec2(30.0, -8.0);
    harness.hover_at(empty);
    harness.run();
    for pressed in [true, false] {
        let button = egui::PointerButton::Primary;
        harness.event(egui::Event::PointerButton {
            pos: empty,
            button,
            pressed,
            modifiers: Modifiers::SHIFT,
        });
        harness.run();
    }
    assert_eq!(harness.state().session.routing().name, "B");
    assert!(harness.state().session.selection().is_empty());
    press(&mut harness, Modifiers::NONE, Key::Delete);
    assert_eq!(parts(&harness), before);
}

#[test]
fn tools_work_in_the_drawing_they_are_used_in() {
    let mut harness = side_by_side();
    let lower = rect_of(&harness, "Lower drawing, routing B");
    let upper = rect_of(&harness, "Upper drawing, routing A");
    let session = |harness: &Window| -> (Vec<usize>, Vec<usize>) {
        let routings = &harness.state().session.project().routings;
        let parts = routings.iter().map(|routing| routing.parts.len()).collect();
        (parts, routings.iter().map(|routing| routing.runs.len()).collect())
    };
    let (parts, runs) = session(&harness);

    // A part, first here, then there.
    press(&mut harness, Modifiers::NONE, Key::M);
    assert!(matches!(harness.state().session.tool(), Tool::Place(_)), "{:?}", harness.state().session.tool());
    let empty = vec2(60.0, -14.0);
    click_at(&mut harness, lower.left_bottom() + empty);
    assert_eq!(session(&harness).0, [parts[0], parts[1] + 1]);
    assert_eq!(harness.state().session.routing().name, "B");
    click_at(&mut harness, upper.left_bottom() + empty);
    assert_eq!(session(&harness).0, [parts[0] + 1, parts[1] + 1]);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(session(&harness).0, parts);

    // Rows by a drag across them, to a manifold that has none: what the pointer passes counts.
    click_at(&mut harness, lower.left_bottom() + empty);
    press(&mut harness, Modifiers::NONE, Key::Escape);
    press(&mut harness, Modifiers::NONE, Key::Escape);
    press(&mut harness, Modifiers::NONE, Key::W);
    assert_eq!(*harness.state().session.tool(), Tool::GiveRows { manifold: None });
    click_at(&mut harness, lower.left_bottom() + empty);
    let Tool::GiveRows { manifold: Some(manifold) } = *harness.state().session.tool() else {
        panic!("no manifold in hand: {:?}", harness.state().session.tool())
    };
    let fed = |harness: &Window| {
        rows_of(harness.state().session.project(), harness.state().session.routing(), manifold)
    };
    assert_eq!(fed(&harness).len(), 0);
    let outlet = |row: usize| {
        let app = harness.state();
        let bar = &app.session.project().bar;
        let (x, y) = app.compare.view().unwrap().to_picture(bar.outlet(&bar.rows[row]).flat());
        lower.center() + vec2(x as f32, y as f32)
    };
    let (from, to) = (outlet(10), outlet(11));
    harness.hover_at(from);
    harness.run();
    harness.drag_at(from);
    harness.run();
    for step in 1..=6 {
        harness.hover_at(from + (to - from) * (step as f32 / 6.0));
        harness.run();
    }
    harness.drop_at(to);
    harness.run();
    assert_eq!(fed(&harness).len(), 2);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(session(&harness).0, parts);

    // A hose from place to place, ended loose; one begun in a drawing is not ended in the other.
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(harness.state().compare.is_open(), "the tool is given up first");
    press(&mut harness, Modifiers::NONE, Key::M);
    click_at(&mut harness, upper.left_bottom() + empty);
    let port = {
        let app = harness.state();
        let placed = app.session.selected_part().unwrap();
        let port = PortRef { part: placed, port: Port::In };
        let (x, y) =
            app.compare.view().unwrap().to_picture(app.session.end_place(&End::Port(port)).unwrap().flat());
        upper.center() + vec2(x as f32, y as f32)
    };
    press(&mut harness, Modifiers::NONE, Key::H);
    click_at(&mut harness, port);
    assert!(matches!(harness.state().session.gesture(), Gesture::Joining { .. }));
    click_at(&mut harness, lower.left_bottom() + empty);
    assert!(label_starting(&harness, "The hose begins in routing A").is_some());
    assert_eq!(harness.state().session.routing().name, "A");
    click_at(&mut harness, upper.left_bottom() + empty + vec2(60.0, 0.0));
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(session(&harness).1, [runs[0] + 1, runs[1]]);
}

/// What is done, or undone, is always seen: the routing in hand is in one of the drawings.
#[test]
fn the_routing_in_hand_is_in_one_of_the_drawings() {
    let mut harness = open(files::demo(), 1280.0, 800.0);
    harness.state_mut().session.add_routing(true).unwrap();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::C);
    let shown = |harness: &Window| {
        let app = harness.state();
        let sides = app.compare.pair().unwrap().sides().map(|side| side.routing);
        sides.contains(&app.session.routing().id)
    };
    assert!(shown(&harness));
    for _ in 0..3 {
        press(&mut harness, Modifiers::NONE, Key::PageUp);
        assert!(shown(&harness));
    }
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(shown(&harness));
    // What the comparison has no room for is refused in words.
    press(&mut harness, Modifiers::NONE, Key::F8);
    assert!(label_starting(&harness, "Two bands").is_some() || harness.state().status.words().is_some());
}

fn click_at(harness: &mut Window, at: Pos2) {
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    harness.drop_at(at);
    harness.run();
}
