//! Wrong entries: nothing starts over one, none is replaced in silence, none moves what stands around it, and the reason is
//! said once and as long as it holds. Driven by accessible names; no display is needed.

use std::collections::BTreeMap;

use crate::support::{Window, button, fill, open_demo, press, says};
use eframe::egui::{Key, Modifiers, Rect, accesskit::Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use equirow::plan::Subject;

/// In how many places it says so.
fn places(window: &Window, text: &str) -> usize {
    let holds = |words: Option<String>| words.is_some_and(|words| words.contains(text));
    window
        .query_all_by(|node| node.role() == Role::Label && (holds(node.value()) || holds(node.label())))
        .count()
}

fn value_of(window: &Window, name: &str) -> String {
    let found = window.query_all_by(|node| {
        node.role() == Role::TextInput && node.label().is_some_and(|label| label == name)
    });
    found.last().unwrap_or_else(|| panic!("no field is named {name}")).accesskit_node().value().unwrap()
}

fn is_enabled(window: &Window, name: &str) -> bool {
    let found = window.get_all_by_role_and_label(Role::Button, name).last().unwrap();
    !found.accesskit_node().is_disabled()
}

/// Where everything with a name that is pressed or typed into stands.
fn layout(window: &Window) -> BTreeMap<String, Rect> {
    let is_control = |role| matches!(role, Role::Button | Role::TextInput | Role::Slider | Role::ComboBox);
    let found = window.query_all_by(|node| is_control(node.role()) && node.label().is_some());
    found
        .enumerate()
        .map(|(at, node)| (format!("{} {at}", node.accesskit_node().label().unwrap()), node.rect()))
        .collect()
}

fn settings(window: &mut Window, page: &str) {
    press(window, Modifiers::COMMAND, Key::Comma);
    button(window, page);
}

/// How to come to a field, its name, and what is wrong in it.
type Wrong = (fn(&mut Window), &'static str, &'static str);

const WRONG: [Wrong; 7] = [
    (|_| {}, "Rate", "1e308"),
    (|_| {}, "Ground speed", "as fast as it goes, and then a little faster than that if the field is level"),
    (|window| settings(window, "Limits"), "Pump reserve", "much"),
    (|window| settings(window, "Application"), "Slowest speed", "40"),
    (|window| press(window, Modifiers::COMMAND, Key::N), "Rows", "100000"),
    (|window| press(window, Modifiers::COMMAND, Key::N), "Row spacing", "1e308"),
    (
        |window| {
            let run = window.state().session.routing().runs[0].id;
            window.state_mut().session.select([Subject::Run(run)]);
            window.run_ok();
        },
        "Slack",
        "wide",
    ),
];

#[test]
fn a_wrong_entry_moves_nothing_and_says_why_once() {
    for (reach, name, text) in WRONG {
        let mut window = open_demo();
        reach(&mut window);
        // With the focus in it, and what a press into it scrolled.
        let before = value_of(&window, name);
        fill(&mut window, name, &before);
        press(&mut window, Modifiers::NONE, Key::Enter);
        let before = layout(&window);
        fill(&mut window, name, text);
        press(&mut window, Modifiers::NONE, Key::Enter);
        assert_eq!(value_of(&window, name), text, "{name}: what was typed stays");
        let after = layout(&window);
        assert_eq!(before.keys().collect::<Vec<_>>(), after.keys().collect::<Vec<_>>(), "{name}");
        for (control, rect) in &before {
            assert!((after[control].min - rect.min).length() < 0.5, "{control} moves for {name} {text}");
        }
        assert_eq!(places(&window, &format!("{name}: ")), 1, "{name} {text}: the reason is said");
        assert_eq!(window.state().status.words(), None, "{name}: and not at the bottom as well");
    }
}

/// Values of hundreds of digits would push everything else out of the bar.
#[test]
fn no_message_has_hundreds_of_digits() {
    for typed in ["1e308", &"9".repeat(300)] {
        let mut window = open_demo();
        fill(&mut window, "Rate", typed);
        press(&mut window, Modifiers::NONE, Key::Enter);
        let long = window.query_all_by(|node| {
            let text = node.value().or(node.label()).unwrap_or_default();
            node.role() == Role::Label && text.split_whitespace().any(|word| word.len() > 60)
        });
        assert_eq!(long.count(), 0, "{typed}");
    }
}

#[test]
fn no_bar_starts_while_an_entry_of_its_form_is_wrong() {
    for (name, text) in [
        ("Rows", "100000"),
        ("Rows", "12.7"),
        ("Rows", "many"),
        ("Working width", "12.1"),
        ("Row spacing", "1e308"),
        ("Slowest speed", "30"),
        ("Application rate", "a lot"),
        ("Angle of inner wing", "271"),
    ] {
        let mut window = open_demo();
        press(&mut window, Modifiers::COMMAND, Key::N);
        assert!(is_enabled(&window, "Start with this bar"));
        let before = value_of(&window, name);
        fill(&mut window, name, text);
        press(&mut window, Modifiers::NONE, Key::Tab);
        assert_eq!(value_of(&window, name), text, "{name}: not replaced");
        assert!(!is_enabled(&window, "Start with this bar"), "{name} {text}");
        assert!(says(&window, "Can't be taken yet: "), "{name} {text}");
        fill(&mut window, name, &before);
        press(&mut window, Modifiers::NONE, Key::Tab);
        assert!(is_enabled(&window, "Start with this bar"), "{name} {before}");
    }
}

#[test]
fn a_form_keeps_the_millimetres_that_were_typed() {
    let mut window = open_demo();
    press(&mut window, Modifiers::COMMAND, Key::N);
    fill(&mut window, "Row spacing", "254 mm");
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(value_of(&window, "Row spacing"), "0.254");
    assert!(says(&window, "40 rows × 0.254 m = 10.16 m"));
}

#[test]
fn what_is_said_about_a_field_goes_when_it_is_corrected_or_given_up() {
    for corrected in [true, false] {
        let mut window = open_demo();
        fill(&mut window, "Rate", "abc");
        press(&mut window, Modifiers::COMMAND, Key::S);
        let words = window.state().status.words().unwrap().to_owned();
        assert_eq!(words, "Not done: Rate, \"abc\", can't be taken as it stands");
        assert_eq!(places(&window, "not a number"), 1, "the reason stands at the field alone");
        if corrected {
            fill(&mut window, "Rate", "120");
        }
        press(&mut window, Modifiers::NONE, if corrected { Key::Enter } else { Key::Escape });
        assert_eq!(window.state().status.words(), None);
        assert_eq!(places(&window, "not a number"), 0);
    }
}

#[test]
fn a_refused_text_keeps_its_mark_when_it_is_changed_or_undone_to_another_that_is_wrong() {
    let mut window = open_demo();
    fill(&mut window, "Rate", "1e308");
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(places(&window, "out of range"), 1);
    fill(&mut window, "Rate", "much");
    assert_eq!(places(&window, "not a number"), 1, "at once, for it was marked");
    press(&mut window, Modifiers::COMMAND, Key::Z);
    let (text, is_known) = (value_of(&window, "Rate"), value_of(&open_demo(), "Rate"));
    let marked = places(&window, "not a number") + places(&window, "out of range");
    assert_eq!(marked, usize::from(text != is_known), "{text}");
    fill(&mut window, "Rate", "120");
    assert_eq!(places(&window, "not a number") + places(&window, "out of range"), 0);
}

#[test]
fn a_duty_without_a_name_is_not_called_by_nothing() {
    let mut window = open_demo();
    settings(&mut window, "Application");
    fill(&mut window, "Name of the duty", " ");
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert!(says(&window, "duty with id 1: its name is empty"));
}

/// The reason of a wrong entry stays in sight while another field is typed in, and gives way to one that is wrong itself.
#[test]
fn a_reason_stays_while_another_field_is_typed_in() {
    let mut window = open_demo();
    fill(&mut window, "Rate", "abc");
    press(&mut window, Modifiers::NONE, Key::Tab);
    assert_eq!(places(&window, "Rate: "), 1);
    fill(&mut window, "Title", "Another bar");
    assert_eq!(places(&window, "Rate: "), 1, "while another is typed in");
    fill(&mut window, "Ground speed", "fast");
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!((places(&window, "Rate: "), places(&window, "Ground speed: ")), (0, 1));
}
