//! The window without a display, as tests of it open, press and read it.

#![allow(
    dead_code,
    unreachable_pub,
    clippy::panic,
    reason = "shared by several test files; each uses its own part of it"
)]

use eframe::egui::{Event, Key, Modifiers, accesskit::Role, vec2};
use egui_kittest::{Harness, kittest::Queryable as _};
use equirow::files;
use equirow::plan::Project;
use equirow::session::Session;
use equirow::window::app::App;

/// The window in a test.
pub type Window = Harness<'static, App>;

/// Shows an app in a window of a size, points.
pub fn show(app: App, width: f32, height: f32) -> Window {
    let builder = Harness::builder().with_size(vec2(width, height)).with_max_steps(32);
    let mut harness = builder.build_ui_state(|ui, app: &mut App| app.show(ui), app);
    harness.run_ok();
    harness
}

/// Opens a session in a window of the smallest usual size.
pub fn open(session: Session) -> Window {
    show(App::new(session), 1280.0, 800.0)
}

/// Opens a project.
pub fn open_project(project: Project) -> Window {
    open(Session::new(project, None))
}

/// Opens the embedded bar.
pub fn open_demo() -> Window {
    open_project(files::demo())
}

/// Presses a key.
pub fn press(harness: &mut Window, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run_ok();
}

/// Clicks the last thing of a role and a name: a dialog stands behind all else in the order of what is read.
pub fn click(harness: &mut Window, role: Role, name: &str) {
    let found = harness
        .query_all_by(|node| node.role() == role && node.label().is_some_and(|label| label == name))
        .last();
    found.unwrap_or_else(|| panic!("nothing is named {name}")).click();
    harness.run_ok();
}

/// Clicks a button.
pub fn button(harness: &mut Window, name: &str) {
    click(harness, Role::Button, name);
}

/// Somewhere it says so.
pub fn says(harness: &Window, text: &str) -> bool {
    let holds = |words: Option<String>| words.is_some_and(|words| words.contains(text));
    harness.query_all_by(|node| holds(node.value()) || holds(node.label())).next().is_some()
}

/// Types into the field of a name, in place of what is in it.
pub fn fill(harness: &mut Window, name: &str, text: &str) {
    let field =
        |role, label: Option<String>| role == Role::TextInput && label.is_some_and(|label| label == name);
    let found = harness.query_all_by(|node| field(node.role(), node.label())).last();
    found.unwrap_or_else(|| panic!("no field is named {name}")).focus();
    harness.run_ok();
    press(harness, Modifiers::COMMAND, Key::A);
    harness.event(Event::Text(text.to_owned()));
    harness.run_ok();
}

/// Runs until nothing is under way any more, the papers included.
pub fn settle(harness: &mut Window) {
    harness.run_ok();
    // A quarter of a second each: a change has settled after some of them.
    for _ in 0..4 {
        harness.step();
    }
    for _ in 0..3 {
        harness.state_mut().sheets.wait();
        harness.state_mut().catch_tests.wait();
        harness.run_ok();
    }
}

/// Chooses from a list that is named `name: what is chosen now`, scrolled to if need be: a list that is out of sight does
/// not open.
pub fn choose(harness: &mut Window, name: &str, entry: &str) {
    let starts = format!("{name}: ");
    let list = |harness: &Window, scroll: bool| {
        let node = harness
            .query_all_by(|node| {
                node.role() == Role::ComboBox && node.label().is_some_and(|label| label.starts_with(&starts))
            })
            .last()
            .unwrap_or_else(|| panic!("no list is named {name}"));
        if scroll { node.scroll_to_me() } else { node.click() }
    };
    list(harness, true);
    harness.run_ok();
    list(harness, false);
    harness.run_ok();
    harness
        .query_all_by(|node| node.role() == Role::Button && node.label().is_some_and(|label| label == entry))
        .last()
        .unwrap_or_else(|| panic!("{name} offers no {entry}"))
        .scroll_to_me();
    harness.run_ok();
    button(harness, entry);
}
