//! What is refused is said, and said once: by commands, tools, drags and saving, whoever asks. And what Esc and a press mean
//! while something is typed. Driven by accessible names; no display is needed.

use crate::support::{Window, button, fill, open, open_demo, press};
use eframe::egui::{Key, Modifiers, Pos2, accesskit::Role, vec2};
use egui_kittest::kittest::Queryable as _;
use equirow::files;
use equirow::geometry::Point2;
use equirow::plan::Subject;
use equirow::session::commands::{self, Keys, TABLE};
use equirow::session::{Obstacle, Session, Tool};
use equirow::window::app::App;
use equirow::window::canvas::to_screen;

/// In how many places it says so.
fn places(harness: &Window, text: &str) -> usize {
    let holds = |words: Option<String>| words.is_some_and(|words| words.contains(text));
    let is_said = |role: Role, words: Option<String>| role == Role::Label && holds(words);
    harness.query_all_by(|node| is_said(node.role(), node.value())).count()
}

fn press_keys(harness: &mut Window, keys: Keys) {
    let held = if keys.ctrl { Modifiers::COMMAND } else { Modifiers::NONE };
    let held = if keys.shift { held | Modifiers::SHIFT } else { held };
    press(harness, held, Key::from_name(keys.key).unwrap());
}

fn on_screen(harness: &Window, at: Point2) -> Pos2 {
    let rect = harness.get_by_label("Drawing of the bar").rect();
    to_screen(rect, &harness.state().canvas.view.unwrap(), at)
}

fn part_at(harness: &Window, tag: &str) -> (Subject, Pos2) {
    let session = &harness.state().session;
    let part = session.routing().parts.iter().find(|part| part.tag == tag).unwrap();
    (Subject::Part(part.id), on_screen(harness, part.position.flat()))
}

/// Every command with keys of its own whose obstacle stands in the way, and the words of that obstacle stand in one place.
/// Keys that sliders and buttons share ask for nothing then, so that nothing is said.
#[test]
fn a_command_that_is_refused_says_so_once() {
    let mut harness = open_demo();
    let mut said = 0;
    for entry in TABLE {
        let Some(keys) = entry.keys else { continue };
        let Some(why) = commands::obstacle(&harness.state().session, entry.command) else { continue };
        let is_shared = !keys.ctrl && (keys.key == "Enter" || keys.key.starts_with("Arrow"));
        press_keys(&mut harness, keys);
        let words = harness.state().status.words().map(str::to_owned);
        if is_shared {
            continue;
        }
        assert_eq!(words.as_deref(), Some(why.words()), "{}", entry.label);
        assert_eq!(places(&harness, why.words()), 1, "{}", entry.label);
        said += 1;
    }
    assert!(said > 8, "{said}");
}

/// What a tool can't do at a place is said once, holds until the next action, and goes with it.
#[test]
fn a_tool_that_is_refused_says_so_once_until_the_next_action() {
    let mut harness = open_demo();
    let nowhere = on_screen(&harness, Point2::new(-2.0, 1.6));
    let words = "A hose starts at a port or goes on from a loose end; click nearer to one";
    let stock = harness.state().session.usual_hose().unwrap();
    harness.state_mut().session.take(Tool::Join { stock });
    harness.hover_at(nowhere);
    harness.run();
    harness.drag_at(nowhere);
    harness.run();
    assert_eq!(places(&harness, words), 1);
    harness.drop_at(nowhere);
    harness.run();
    assert_eq!(places(&harness, words), 1, "the end of the click says nothing more");
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert_eq!(places(&harness, words), 0);
}

/// A value that the plan refuses is said beneath its field and nowhere else, in the settings as at the side.
#[test]
fn a_refused_field_says_why_in_one_place() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    button(&mut harness, "Application");
    fill(&mut harness, "Slowest speed", "40");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(places(&harness, "speeds are not in order"), 1);
    assert_eq!(harness.state().status.words(), None);
}

/// Saving while a part is dragged would save a place that nobody has settled on.
#[test]
fn saving_in_the_middle_of_a_drag_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    let mut session = Session::new(files::demo(), None);
    session.save(&file).unwrap();
    let before = std::fs::read(&file).unwrap();
    let mut harness = open(session);
    let at = part_at(&harness, "M2").1;
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    harness.hover_at(at + vec2(40.0, 12.0));
    harness.run();
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert_eq!(harness.state().status.words(), Some(Obstacle::Held.words()));
    assert_eq!(std::fs::read(&file).unwrap(), before);
    assert!(harness.state().session.is_in_step(), "the drag goes on");
    harness.drop_at(at + vec2(40.0, 12.0));
    harness.run();
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert_ne!(std::fs::read(&file).unwrap(), before);
    assert!(!harness.state().session.is_changed());
}

/// Esc takes back what is typed, in the field and after it was refused; only then does it close the window of the limits.
#[test]
fn esc_gives_up_a_refused_text_before_it_closes_anything() {
    let field = |harness: &Window| {
        harness.get_all_by_role_and_label(Role::TextInput, "Row flow from target").last().unwrap().value()
    };
    for entered in [false, true] {
        let mut harness = open_demo();
        press(&mut harness, Modifiers::COMMAND, Key::Comma);
        button(&mut harness, "Limits");
        let before = field(&harness);
        fill(&mut harness, "Row flow from target", "wide");
        if entered {
            press(&mut harness, Modifiers::NONE, Key::Enter);
        }
        assert_eq!(field(&harness).as_deref(), Some("wide"));
        press(&mut harness, Modifiers::NONE, Key::Escape);
        assert_eq!(field(&harness), before, "the text is given up");
        press(&mut harness, Modifiers::NONE, Key::Escape);
        let open = harness.query_all_by(|node| node.label().is_some_and(|one| one == "Row flow from target"));
        assert_eq!(open.count(), 0, "the next Esc closes the window");
    }
}

/// In the very frame of a press on a part the details are of that part, and the number that was typed is taken.
#[test]
fn a_press_while_a_number_is_typed_shows_one_state() {
    let mut harness: Window = open_demo();
    let (part, at) = part_at(&harness, "M2");
    harness.hover_at(at);
    harness.run();
    fill(&mut harness, "Rate", "120");
    // As the window itself has it: new panels take a pass to know their sizes.
    harness.ctx.options_mut(|options| options.max_passes = 3.try_into().unwrap());
    harness.drag_at(at);
    harness.step();
    let app: &App = harness.state();
    assert!(app.session.selection().contains(&part));
    assert!((app.session.point().rate.as_litres_per_hectare() - 120.0).abs() < 1e-9);
    let tags = harness
        .query_all_by(|node| node.role() == Role::TextInput && node.label().is_some_and(|one| one == "Tag"));
    let tags: Vec<_> = tags.map(|node| node.value().unwrap()).collect();
    assert_eq!(tags, ["M2"], "the details are of what is selected");
    harness.drop_at(at);
    harness.run();
}
