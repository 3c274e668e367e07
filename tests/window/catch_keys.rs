//! Catch tests typed by a quick hand: undo while cells are typed in, and several keys in one frame.

use eframe::egui::{Event, Key, Modifiers};
use equirow::plan::{Catch, CatchTest, CaughtAmount};
use equirow::quantities::{Mass, Volume};
use equirow::session::Session;

use crate::catch_stories::empty_test;
use crate::support::{Window, fill, open, press, says, settle};

/// The test in hand.
pub(crate) fn test(window: &Window) -> &CatchTest {
    window.state().session.catch_test().unwrap()
}

/// What was taken down in millilitres or grams, by the number of the row, in order.
pub(crate) fn amounts(window: &Window) -> Vec<(u32, f64)> {
    let session = &window.state().session;
    let bar = session.tested_bar(test(window)).unwrap();
    let amount = |amount| match amount {
        CaughtAmount::Volume(volume) => Volume::si(volume) * 1e6,
        CaughtAmount::Mass(mass) => Mass::si(mass) * 1e3,
    };
    let of =
        |catch: &Catch| (bar.bar.row(catch.row).unwrap().number, (amount(catch.amount) * 1e3).round() / 1e3);
    test(window).catches.iter().map(of).collect()
}

/// Opens a session with its catch tests in front.
pub(crate) fn shown(session: Session) -> Window {
    let mut window = open(session);
    press(&mut window, Modifiers::NONE, Key::F4);
    settle(&mut window);
    window
}

/// Types into the field of a name, and enters it.
pub(crate) fn enter(window: &mut Window, name: &str, text: &str) {
    fill(window, name, text);
    press(window, Modifiers::NONE, Key::Enter);
}

/// The field that Enter goes on to was typed in before: undo takes back what was entered last, not what that field once was.
#[test]
fn undo_in_a_cell_that_nothing_was_typed_in_takes_back_the_last_entry() {
    let mut window = shown(empty_test());
    enter(&mut window, "Amount of row 3", "805");
    for typed in ["70", "6"] {
        window.event(Event::Text(typed.to_owned()));
        window.run_ok();
    }
    press(&mut window, Modifiers::NONE, Key::Enter);
    enter(&mut window, "Amount of row 3", "611");
    assert_eq!(amounts(&window), [(3, 611.0), (4, 706.0)]);
    press(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(amounts(&window), [(3, 805.0), (4, 706.0)]);
    assert!(says(&window, "Undone: "));
    press(&mut window, Modifiers::COMMAND, Key::Y);
    assert_eq!(amounts(&window), [(3, 611.0), (4, 706.0)]);
    // What is being typed is the field's to undo, and no more than that; once the field is left it is the project's again.
    window.event(Event::Text("9".to_owned()));
    window.run_ok();
    for _ in 0..3 {
        press(&mut window, Modifiers::COMMAND, Key::Z);
        assert_eq!(amounts(&window), [(3, 611.0), (4, 706.0)]);
    }
    press(&mut window, Modifiers::NONE, Key::Escape);
    press(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(amounts(&window), [(3, 805.0), (4, 706.0)]);
    // In an empty cell too.
    enter(&mut window, "Amount of row 4", "707");
    press(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(amounts(&window), [(3, 805.0), (4, 706.0)]);
}

/// A slow window gets several keys in one frame: each amount goes into its own cell all the same.
#[test]
fn amounts_with_enter_and_tab_in_one_frame_go_into_their_own_cells() {
    let key = |key| Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::NONE,
    };
    let typed = |text: &str| Event::Text(text.to_owned());
    let all = [
        typed("906"),
        key(Key::Enter),
        typed("907"),
        key(Key::Tab),
        typed("111"),
        key(Key::Tab),
        key(Key::Enter),
        typed("113"),
        key(Key::Enter),
    ];
    // However the keys fall into frames.
    for frame in 1..=all.len() {
        let mut window = shown(empty_test());
        fill(&mut window, "Amount of row 1", "");
        for events in all.chunks(frame) {
            window.input_mut().events.extend(events.iter().cloned());
            window.step();
        }
        window.run_ok();
        let wanted = [(1, 906.0), (2, 907.0), (3, 111.0), (5, 113.0)];
        assert_eq!(amounts(&window), wanted, "{frame} in a frame");
    }
}

/// The same in the fields of the conditions, between which egui's own Tab goes.
#[test]
fn what_is_typed_around_a_tab_in_one_frame_goes_into_two_fields() {
    let mut window = shown(empty_test());
    fill(&mut window, "Test made by", "");
    let tab = Event::Key {
        key: Key::Tab,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::NONE,
    };
    window.input_mut().events.extend([Event::Text("B. Driver".to_owned()), tab]);
    window.run_ok();
    assert_eq!(test(&window).by, "B. Driver");
}
