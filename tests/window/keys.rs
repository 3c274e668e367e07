//! Keys belong to what lies in front: behind a dialog, an open list, a window or the sheets they change nothing of the
//! drawing. Driven by accessible names; no display is needed.

use std::path::PathBuf;

use crate::support::{Window, button, open, press, says, settle, show};
use eframe::egui::{Key, Modifiers, Pos2, accesskit::Role};
use egui_kittest::kittest::Queryable as _;
use equirow::files;
use equirow::plan::{Edit, Subject, TitleBlock};
use equirow::session::Session;
use equirow::session::commands::{CommandEntry, TABLE};
use equirow::window::app::App;
use equirow::window::canvas::to_screen;

/// A project with a part selected, so that most commands of the drawing can be carried out.
fn session() -> Session {
    let mut session = Session::new(files::demo(), None);
    let parts: Vec<Subject> = session.routing().parts.iter().map(|part| Subject::Part(part.id)).collect();
    session.select(parts[1..3].iter().copied());
    session
}

/// What keys of the drawing could change.
fn state(window: &Window) -> String {
    let session = &window.state().session;
    format!(
        "{} {:?} {:?} {:?} {}",
        session.edits(),
        session.selection(),
        session.tool(),
        session.gesture(),
        session.routing().id.0
    )
}

fn modifiers(entry: &CommandEntry) -> Modifiers {
    let keys = entry.keys.unwrap();
    Modifiers { command: keys.ctrl, ctrl: keys.ctrl, shift: keys.shift, ..Modifiers::NONE }
}

/// The commands of the drawing with keys that no dialog has a use of its own for: Enter answers one.
fn commands_of_the_drawing() -> impl Iterator<Item = &'static CommandEntry> {
    TABLE.iter().filter(|entry| entry.acts_on_drawing() && entry.keys.is_some_and(|keys| keys.key != "Enter"))
}

fn press_all(window: &mut Window) {
    for entry in commands_of_the_drawing() {
        window.key_press_modifiers(modifiers(entry), Key::from_name(entry.keys.unwrap().key).unwrap());
        window.step();
    }
    window.run_ok();
}

/// Something that lies over the drawing: how it comes up, and words that it shows.
pub(crate) struct Over {
    pub(crate) what: &'static str,
    pub(crate) open: fn() -> Window,
    shows: &'static str,
}

fn with_keys(modifiers: Modifiers, key: Key) -> Window {
    let mut window = open(session());
    press(&mut window, modifiers, key);
    window
}

fn with_button(name: &str) -> Window {
    let mut window = open(session());
    button(&mut window, name);
    window
}

pub(crate) fn things_over_the_drawing() -> Vec<Over> {
    const CTRL: Modifiers = Modifiers::COMMAND;
    vec![
        Over { what: "a new bar", open: || with_keys(CTRL, Key::N), shows: "Start with this bar" },
        Over { what: "the form of the bar", open: || with_keys(CTRL, Key::B), shows: "Divide evenly" },
        Over { what: "the dialog to open", open: || with_keys(CTRL, Key::O), shows: "Browse…" },
        Over { what: "the dialog to save", open: || with_keys(CTRL, Key::S), shows: "Browse…" },
        Over { what: "the dialog of a table", open: || with_keys(CTRL, Key::I), shows: "Browse…" },
        Over {
            what: "the dialog of a picture",
            open: || with_keys(CTRL | Modifiers::SHIFT, Key::P),
            shows: "1920 pixels",
        },
        Over { what: "the list of commands", open: || with_keys(CTRL, Key::K), shows: "Find a command" },
        Over {
            what: "the question about changes",
            open: || {
                let mut session = session();
                session.edit("Title", [Edit::SetTitle(TitleBlock::default())]).unwrap();
                let mut window = open(session);
                press(&mut window, CTRL, Key::Q);
                window
            },
            shows: "Save the changes?",
        },
        Over {
            what: "a file that can't be opened",
            open: || {
                let app = App::new(session());
                show(app.with_unreadable(PathBuf::from("bar.ron"), "it is empty".to_owned()), 1280.0, 800.0)
            },
            shows: "The file can't be opened",
        },
        Over { what: "the catalogue", open: || with_keys(CTRL, Key::G), shows: "Only what is in use" },
        Over {
            what: "the lines added to the parts list",
            open: || with_keys(CTRL | Modifiers::SHIFT, Key::G),
            shows: "Part number",
        },
        Over { what: "the settings", open: || with_keys(CTRL, Key::Comma), shows: "Title block" },
        Over { what: "the help", open: || with_keys(Modifiers::NONE, Key::F1), shows: "Guide and keys" },
        Over {
            what: "the notices",
            open: || {
                let mut window = with_button("Help");
                button(&mut window, "Third-party notices");
                window
            },
            shows: "Find by name, licence or words of its text",
        },
        Over { what: "a menu", open: || with_button("Project"), shows: "Change the bar…" },
        Over {
            what: "the menu of routings", open: || with_button("Change…"), shows: "Add an empty routing"
        },
        Over {
            what: "a list to choose from",
            open: || {
                let mut window = open(session());
                window.state_mut().session.select([Subject::Run(files::demo().routings[0].runs[0].id)]);
                window.run_ok();
                let list = window.query_all_by(|node| node.role() == Role::ComboBox).next().unwrap();
                list.click();
                window.run_ok();
                window
            },
            shows: "Hose",
        },
        Over {
            what: "the sheets",
            open: || {
                let mut window = with_keys(CTRL, Key::P);
                settle(&mut window);
                window
            },
            shows: "Close",
        },
    ]
}

/// Nothing lies over the drawing: the keys change it, so that the next test can fail.
#[test]
fn without_anything_in_front_the_keys_act_on_the_drawing() {
    for name in ["Delete", "A", "M", "R", "ArrowLeft"] {
        let mut window = open(session());
        let before = state(&window);
        let found = commands_of_the_drawing().find(|entry| entry.keys.unwrap().key == name);
        let entry = found.unwrap_or_else(|| panic!("{name}"));
        press(&mut window, modifiers(entry), Key::from_name(name).unwrap());
        assert_ne!(state(&window), before, "{name}");
    }
}

#[test]
fn no_key_reaches_the_drawing_behind_what_lies_in_front_of_it() {
    for over in things_over_the_drawing() {
        let mut window = (over.open)();
        assert!(says(&window, over.shows), "{} is shown", over.what);
        let before = state(&window);
        press_all(&mut window);
        assert_eq!(state(&window), before, "behind {}", over.what);
        assert!(says(&window, over.shows), "{} is still shown", over.what);
    }
}

fn on_screen(window: &Window, x: f64, y: f64) -> Pos2 {
    let rect = window.get_by_label("Drawing of the bar").rect();
    let view = window.state().canvas.view.unwrap();
    to_screen(rect, &view, equirow::geometry::Point2::new(x, y))
}

/// A window that one works beside: whatever was pressed last has the keys.
#[test]
fn a_press_on_the_drawing_gives_it_the_keys_and_one_on_the_window_takes_them_back() {
    let mut window = with_keys(Modifiers::COMMAND, Key::Comma);
    press(&mut window, Modifiers::NONE, Key::Delete);
    assert!(says(&window, "Delete: not done; a window lies over the drawing"));
    // An empty place beside the window.
    let empty = on_screen(&window, 5.5, 1.4);
    window.drag_at(empty);
    window.step();
    window.drop_at(empty);
    window.run_ok();
    let before = state(&window);
    press(&mut window, Modifiers::COMMAND, Key::A);
    assert_ne!(state(&window), before, "the drawing has the keys");
    let before = state(&window);
    let page = window.get_by_label("Limits").rect().center();
    window.drag_at(page);
    window.step();
    window.drop_at(page);
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Delete);
    assert_eq!(state(&window), before, "the window has them again");
}

#[test]
fn esc_closes_the_window_in_front_and_then_the_next() {
    let mut window = open(session());
    let selected = window.state().session.selection().clone();
    press(&mut window, Modifiers::COMMAND, Key::G);
    press(&mut window, Modifiers::NONE, Key::F1);
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!says(&window, "Guide and keys") && says(&window, "Only what is in use"));
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!says(&window, "Only what is in use"), "the catalogue is closed");
    assert_eq!(*window.state().session.selection(), selected, "and nothing else was given up");
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(window.state().session.selection().is_empty());
}

#[test]
fn an_open_list_closes_when_a_dialog_comes_up() {
    let mut window = with_button("Change…");
    assert!(says(&window, "Add an empty routing"));
    press(&mut window, Modifiers::COMMAND, Key::O);
    assert!(says(&window, "Browse…"));
    assert!(!says(&window, "Add an empty routing"), "the menu is closed");
}

/// The pointer rests on a button of the panel while a form comes up over it.
#[test]
fn a_tooltip_goes_when_a_form_covers_its_panel() {
    let mut window = open(session());
    let tool = window.get_by_role_and_label(Role::Button, "Select and move").rect().center();
    window.hover_at(tool);
    for _ in 0..6 {
        window.step();
    }
    let hint = "Select parts and hoses, drag parts";
    assert!(says(&window, hint));
    press(&mut window, Modifiers::COMMAND, Key::B);
    for _ in 0..6 {
        window.step();
    }
    assert!(says(&window, "Divide evenly"));
    assert!(!says(&window, hint));
    // And tooltips come again.
    press(&mut window, Modifiers::NONE, Key::Escape);
    window.hover_at(tool + eframe::egui::vec2(2.0, 0.0));
    for _ in 0..6 {
        window.step();
    }
    assert!(says(&window, hint));
}
