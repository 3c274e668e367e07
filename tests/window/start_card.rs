//! The card one starts from: what it offers, by keys and by accessible names, and how it goes for good.

use crate::support::{Window, click, press, says, show};
use eframe::egui::accesskit::Role;
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use equirow::files::{Example, demo};
use equirow::session::Session;
use equirow::window::app::App;

const AT_START: &str = "Show this card when the program starts";

fn started(with_card: bool) -> Window {
    let app = App::new(Session::new(demo(), None)).with_example_in_hand(with_card);
    let mut window = show(app, 1280.0, 800.0);
    window.run_ok();
    window
}

fn is_open(window: &Window) -> bool {
    window.query_by_label(AT_START).is_some()
}

fn open_by_name(window: &mut Window) {
    press(window, Modifiers::COMMAND, Key::K);
    crate::support::fill(window, "Find a command", "start card");
    press(window, Modifiers::NONE, Key::Enter);
}

#[test]
fn every_example_opens_from_the_card_and_the_card_goes() {
    for example in Example::ALL {
        let mut window = started(true);
        assert!(is_open(&window));
        click(&mut window, Role::Link, &format!("{}: {}", example.name(), example.about()));
        assert_eq!(window.state().session.project(), &example.project());
        assert!(!is_open(&window), "{}", example.name());
    }
}

/// Esc closes it, a command brings it back, and it says which bar is uneven on purpose, as the status line does.
#[test]
fn the_card_closes_by_esc_and_comes_back_by_a_command() {
    let mut window = started(true);
    assert!(says(&window, "uneven on purpose, the findings say why"));
    assert!(says(&window, "A is uneven on purpose, B mends it"));
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!is_open(&window));
    open_by_name(&mut window);
    assert!(is_open(&window));
}

/// The keyboard alone: Enter on what has the focus opens the form of a new bar.
#[test]
fn enter_starts_a_new_bar() {
    let mut window = started(true);
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert!(!is_open(&window));
    assert!(says(&window, "Start a bar"), "the form of a bar is open");
}

#[test]
fn who_has_done_without_the_card_sees_none_but_is_told_of_the_example() {
    let window = started(false);
    assert!(!is_open(&window));
    assert!(says(&window, "uneven on purpose"));
}

/// An example in place of a bar that was worked on: it is asked first.
#[test]
fn unsaved_work_is_asked_about_before_an_example_replaces_it() {
    let mut window = started(false);
    let session = &mut window.state_mut().session;
    session.manifold_per_section().unwrap_err();
    let part = session.routing().parts[0].id;
    session.select([equirow::plan::Subject::Part(part)]);
    press(&mut window, Modifiers::NONE, Key::Delete);
    assert!(window.state().session.is_changed());
    let before = window.state().session.project().clone();
    open_by_name(&mut window);
    let example = Example::NineMetre;
    click(&mut window, Role::Link, &format!("{}: {}", example.name(), example.about()));
    assert!(says(&window, "Save the changes?"));
    assert_eq!(window.state().session.project(), &before);
    click(&mut window, Role::Button, "Do not save");
    assert_eq!(window.state().session.project(), &example.project());
}
