//! Changes that take long, on a thread beside the window: what is pressed meanwhile changes nothing.

use std::time::{Duration, Instant};

use eframe::egui::{Event, Key, Modifiers};
use equirow::files::Example;
use equirow::session::{MainHoses, Session};
use equirow::window::app::App;

use super::support::{Window, says, show};

fn session() -> Session {
    Session::new(Example::TwentyFourMetre.project(), None)
}

/// A window that never waits for a change, in which main hoses are being laid.
fn laying() -> Window {
    let mut window = show(App::new(session()).with_work_beside(Duration::ZERO), 1280.0, 800.0);
    window.key_press_modifiers(Modifiers::SHIFT, Key::H);
    window.step();
    assert!(says(&window, "being worked out"));
    window
}

/// Presses a key in the next frame, with all else that is pressed in it: the harness takes a frame for each otherwise, and the
/// change may be done meanwhile.
fn together(window: &mut Window, modifiers: Modifiers, key: Key) {
    window.input_mut().events.push(Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers,
    });
}

fn wait(window: &mut Window) {
    while says(window, "being worked out") {
        window.step();
    }
    window.run_ok();
}

#[test]
fn keys_pressed_meanwhile_do_nothing_to_what_comes() {
    let mut window = laying();
    let keys = [
        (Modifiers::COMMAND, Key::A),
        (Modifiers::NONE, Key::R),
        (Modifiers::NONE, Key::Delete),
        (Modifiers::COMMAND, Key::O),
    ];
    for (modifiers, key) in keys {
        together(&mut window, modifiers, key);
    }
    window.input_mut().events.push(Event::Text("r".to_owned()));
    window.step();
    wait(&mut window);
    let mut at_once = session();
    at_once.lay_main_hoses(MainHoses::FromTees).unwrap();
    assert_eq!(window.state().session.project(), at_once.project());
    assert_eq!(window.state().session.undo_name(), at_once.undo_name());
    assert!(!says(&window, "Open a project"));
}

/// Laying hoses can tell what it is at; how long it has been at it is said of everything.
#[test]
fn the_sign_says_how_far_it_is_and_for_how_long() {
    let mut window = laying();
    let (mut counts, mut seconds, began) = (false, false, Instant::now());
    while says(&window, "being worked out") {
        counts |= ["main hoses bent over hinges: ", "wider hoses tried: ", "main hoses led clear: "]
            .iter()
            .any(|what| says(&window, what));
        seconds |= says(&window, "s so far");
        window.step();
    }
    assert!(counts);
    // Seconds are counted from the first full one on, and a fast machine may need none.
    assert!(seconds || began.elapsed() < Duration::from_secs(5), "nothing said for how long");
}

#[test]
fn to_close_the_window_waits_and_asks_for_what_has_come() {
    let mut window = laying();
    together(&mut window, Modifiers::COMMAND, Key::Q);
    window.step();
    wait(&mut window);
    assert!(window.state().session.is_changed());
    assert!(says(&window, "Save the changes"));
}

#[test]
fn given_up_it_changes_nothing_and_the_window_stays() {
    let mut window = laying();
    together(&mut window, Modifiers::COMMAND, Key::Q);
    together(&mut window, Modifiers::NONE, Key::Escape);
    window.step();
    window.run_ok();
    assert_eq!(window.state().session.project(), session().project());
    assert!(says(&window, "given up, nothing has changed"));
    assert!(!says(&window, "Save the changes"));
}
