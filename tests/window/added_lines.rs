//! The lines added to the parts list, driven by accessible names. No display is needed.

use crate::support::{Window, button, fill, open_demo, open_project, press, says};
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use equirow::files;
use equirow::plan::AddedLine;

fn open() -> Window {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::G);
    harness
}

fn enter(harness: &mut Window, field: &str, text: &str) {
    fill(harness, field, text);
    press(harness, Modifiers::NONE, Key::Enter);
}

fn lines(harness: &Window) -> &[AddedLine] {
    &harness.state().session.project().added_lines
}

#[test]
fn lines_are_typed_changed_removed_and_taken_back_step_by_step() {
    let mut harness = open();
    enter(&mut harness, "Description of a new line", "Bracket for a manifold");
    assert_eq!(lines(&harness), [AddedLine::new("Bracket for a manifold")]);
    enter(&mut harness, "Quantity of added line 1", "10");
    enter(&mut harness, "Part number of added line 1", "K-12");
    enter(&mut harness, "Unit of added line 1", "sets");
    enter(&mut harness, "Note of added line 1", "two for each manifold");
    harness.get_by_label("Added line 1 is wetted").click();
    harness.run_ok();
    let typed = AddedLine {
        description: "Bracket for a manifold".to_owned(),
        part_number: "K-12".to_owned(),
        quantity: 10,
        unit: "sets".to_owned(),
        note: "two for each manifold".to_owned(),
        is_wetted: true,
    };
    assert_eq!(lines(&harness), std::slice::from_ref(&typed));

    enter(&mut harness, "Quantity of added line 1", "2.5");
    assert!(says(&harness, "2.5 is not a whole number"));
    assert_eq!(lines(&harness), std::slice::from_ref(&typed));
    press(&mut harness, Modifiers::NONE, Key::Escape);

    enter(&mut harness, "Description of a new line", "Tank valve");
    assert_eq!(lines(&harness).len(), 2);
    button(&mut harness, "Remove added line 1");
    assert_eq!(lines(&harness), [AddedLine::new("Tank valve")]);
    harness.state_mut().session.undo();
    assert_eq!(lines(&harness), [typed, AddedLine::new("Tank valve")]);
}

#[test]
fn the_same_thing_is_refused_at_its_field() {
    let mut harness = open();
    enter(&mut harness, "Description of a new line", "Ties");
    enter(&mut harness, "Description of a new line", "Ties");
    assert_eq!(lines(&harness).len(), 1);
    assert!(says(&harness, "stands in line 1 already"));
}

#[test]
fn lines_of_another_project_are_copied_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("dealer.ron");
    let mut dealer = files::demo();
    dealer.added_lines = vec![AddedLine::new("Bracket"), AddedLine::new("Tank valve")];
    files::save(&path, &dealer).unwrap();
    let empty = folder.path().join("empty.ron");
    files::save(&empty, &files::demo()).unwrap();

    let mut project = files::demo();
    project.added_lines = vec![AddedLine { quantity: 6, ..AddedLine::new("Bracket") }];
    let mut harness = open_project(project.clone());
    take(&mut harness, empty.to_str().unwrap());
    assert!(says(&harness, "adds no lines to its parts list"));
    press(&mut harness, Modifiers::NONE, Key::Escape);
    take(&mut harness, path.to_str().unwrap());
    let expected = [project.added_lines[0].clone(), AddedLine::new("Tank valve")];
    assert_eq!(lines(&harness), expected);
    assert!(says(&harness, "1 line added to the parts list; 1 was there already"));
    take(&mut harness, path.to_str().unwrap());
    assert_eq!(lines(&harness), expected);
    harness.state_mut().session.undo();
    assert_eq!(lines(&harness), project.added_lines, "taking nothing was no step");
}

fn take(harness: &mut Window, path: &str) {
    press(harness, Modifiers::COMMAND, Key::K);
    fill(harness, "Find a command", "Take added lines");
    press(harness, Modifiers::NONE, Key::Enter);
    fill(harness, "File", path);
    press(harness, Modifiers::NONE, Key::Enter);
}
