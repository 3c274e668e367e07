//! What is typed and not entered yet is never lost in silence: it is taken before anything that reads the project, or
//! it is said why not. Driven by accessible names; no display is needed.

use std::path::PathBuf;

use crate::support::{Window, button, click, fill, open, press, says};
use eframe::egui::{self, Key, Modifiers, ViewportCommand, ViewportEvent, accesskit::Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use equirow::files;
use equirow::plan::{EntryKey, Project, Subject};
use equirow::session::Session;
use equirow::session::commands::{self, Command, Keys, TABLE};

/// A kind of field: how to come to it, its name, what is typed there, and whether a project holds that.
struct Kind {
    what: &'static str,
    reach: fn(&mut Window),
    name: fn(&Window) -> String,
    text: &'static str,
    holds: fn(&Project) -> bool,
    /// What can't be taken, where anything at all can be refused.
    refused: Option<&'static str>,
}

fn select(harness: &mut Window, subject: Subject) {
    harness.state_mut().session.select([subject]);
    harness.run_ok();
}

fn select_part(harness: &mut Window) {
    let part = harness.state().session.routing().parts[1].id;
    select(harness, Subject::Part(part));
}

fn select_hose(harness: &mut Window) {
    let run = harness.state().session.routing().runs[0].id;
    select(harness, Subject::Run(run));
}

fn part_line(harness: &mut Window) {
    press(harness, Modifiers::COMMAND, Key::T);
    select_part(harness);
}

fn part_tag(harness: &Window) -> String {
    harness.state().session.routing().parts[1].tag.clone()
}

fn settings(harness: &mut Window, page: &str) {
    press(harness, Modifiers::COMMAND, Key::Comma);
    button(harness, page);
}

fn pump_curve(harness: &mut Window) {
    settings(harness, "Pump");
    harness.get_by_label("Enter a pump curve").scroll_to_me();
    harness.run_ok();
    button(harness, "Enter a pump curve");
}

fn catalogue(harness: &mut Window) {
    press(harness, Modifiers::COMMAND, Key::G);
    click(harness, Role::Button, "hose, hose-8");
}

fn kinds() -> Vec<Kind> {
    vec![
        Kind {
            what: "the controls at the top",
            reach: |_| {},
            name: |_| "Rate".to_owned(),
            text: "120",
            holds: |project| (project.duties.first().rate.as_litres_per_hectare() - 120.0).abs() < 1e-9,
            refused: Some("a lot"),
        },
        Kind {
            what: "a text of the panel",
            reach: |_| {},
            name: |_| "Title".to_owned(),
            text: "Typed title",
            holds: |project| project.title.title == "Typed title",
            refused: None,
        },
        Kind {
            what: "a tag in the panel",
            reach: select_part,
            name: |_| "Tag".to_owned(),
            text: "X77",
            holds: |project| project.routings[0].parts[1].tag == "X77",
            refused: Some("M2"),
        },
        Kind {
            what: "a number of the panel",
            reach: select_hose,
            name: |_| "Slack".to_owned(),
            text: "9",
            holds: |project| (project.routings[0].runs[0].line.slack.si() - 0.09).abs() < 1e-9,
            refused: Some("wide"),
        },
        Kind {
            what: "an amount of a catch test",
            reach: |harness| press(harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::N),
            name: |_| "Amount of row 2".to_owned(),
            text: "412",
            holds: |project| project.catch_tests.tests.iter().any(|test| test.catches.len() == 1),
            refused: Some("a lot"),
        },
        Kind {
            what: "a condition of a catch test",
            reach: |harness| press(harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::N),
            name: |_| "Test made by".to_owned(),
            text: "Typed driver",
            holds: |project| project.catch_tests.tests.iter().any(|test| test.by == "Typed driver"),
            refused: None,
        },
        Kind {
            what: "the name of a duty",
            reach: |harness| settings(harness, "Application"),
            name: |_| "Name of the duty".to_owned(),
            text: "Typed duty",
            holds: |project| project.duties.first().name == "Typed duty",
            refused: Some(" "),
        },
        Kind {
            what: "a text of the settings",
            reach: |harness| settings(harness, "Title block"),
            name: |_| "Owner".to_owned(),
            text: "Typed owner",
            holds: |project| project.title.owner == "Typed owner",
            refused: None,
        },
        Kind {
            what: "a number of the settings",
            reach: |harness| settings(harness, "Limits"),
            name: |_| "Pump reserve".to_owned(),
            text: "33",
            holds: |project| (project.limits.pump_reserve.si() - 0.33).abs() < 1e-9,
            refused: Some("much"),
        },
        Kind {
            what: "a pressure of the pump's curve",
            reach: pump_curve,
            name: |_| "Pressure of point 2".to_owned(),
            text: "1.25",
            holds: |project| {
                let second = project.supply.pump_curve.get(1);
                second.is_some_and(|point| (point.pressure.si() - 1.25e5).abs() < 1e-3)
            },
            refused: Some("low"),
        },
        Kind {
            what: "a flow of the pump's curve",
            reach: pump_curve,
            name: |_| "Flow of point 2".to_owned(),
            text: "21.5",
            holds: |project| {
                let second = project.supply.pump_curve.get(1);
                second.is_some_and(|point| (point.flow.as_litres_per_minute() - 21.5).abs() < 1e-9)
            },
            refused: Some("little"),
        },
        Kind {
            what: "a tag in the table",
            reach: part_line,
            name: |harness| format!("Tag of {}", part_tag(harness)),
            text: "X78",
            holds: |project| project.routings[0].parts[1].tag == "X78",
            refused: Some("M2"),
        },
        Kind {
            what: "a number in the table",
            reach: part_line,
            name: |harness| format!("Height of {}", part_tag(harness)),
            text: "1.23",
            holds: |project| (project.routings[0].parts[1].position.z - 1.23).abs() < 1e-9,
            refused: Some("high"),
        },
        Kind {
            what: "a cell of the catalogue",
            reach: catalogue,
            name: |_| "Price of hose-8".to_owned(),
            text: "2.50 EUR",
            holds: |project| {
                project.catalogue.entry(&EntryKey::new("hose-8")).is_some_and(|entry| entry.price.is_some())
            },
            refused: Some("cheap"),
        },
        Kind {
            what: "the name of a routing",
            reach: |harness| button(harness, "Change…"),
            name: |_| "Name".to_owned(),
            text: "Typed name",
            holds: |project| project.routings[0].name == "Typed name",
            refused: Some(" "),
        },
    ]
}

struct Open {
    harness: Window,
    file: PathBuf,
    _folder: tempfile::TempDir,
}

fn open_file() -> Open {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    files::save(&file, &files::demo()).unwrap();
    let mut session = Session::open(&file).unwrap();
    // Two routings, so that there is one to switch to.
    let _ = session.add_routing(true);
    let first = session.project().routings[0].id;
    session.show_routing(first);
    session.save(&file).unwrap();
    Open { harness: open(session), file, _folder: folder }
}

fn save(harness: &mut Window) {
    press(harness, Modifiers::COMMAND, Key::S);
}

fn value_of(harness: &Window, name: &str) -> Option<String> {
    let found = harness.query_all_by(|node| {
        node.role() == Role::TextInput && node.label().is_some_and(|label| label == name)
    });
    found.last().and_then(|node| node.accesskit_node().value())
}

fn is_focused(harness: &Window, name: &str) -> bool {
    harness.query_all_by(|node| node.is_focused() && node.label().is_some_and(|label| label == name)).count()
        > 0
}

#[test]
fn what_is_typed_in_any_field_is_saved_without_enter() {
    for kind in kinds() {
        let mut open = open_file();
        let harness = &mut open.harness;
        (kind.reach)(harness);
        let name = (kind.name)(harness);
        fill(harness, &name, kind.text);
        assert!(!(kind.holds)(&files::open(&open.file).unwrap()), "{}", kind.what);
        save(harness);
        assert!((kind.holds)(&files::open(&open.file).unwrap()), "{}: {name}", kind.what);
        assert!(!harness.state().session.is_changed(), "{}", kind.what);
        assert!(says(harness, "Saved"), "{}", kind.what);
    }
}

#[test]
fn what_can_not_be_taken_stops_a_save_says_why_and_stays_in_its_field() {
    for kind in kinds() {
        let Some(text) = kind.refused else { continue };
        let mut open = open_file();
        let harness = &mut open.harness;
        let before = std::fs::read(&open.file).unwrap();
        (kind.reach)(harness);
        let name = (kind.name)(harness);
        // Something else is unsaved, so that a save would write.
        harness
            .state_mut()
            .session
            .edit("Switch", [equirow::plan::Edit::SetTitle(equirow::plan::TitleBlock::default())])
            .unwrap();
        fill(harness, &name, text);
        save(harness);
        assert!(
            says(harness, &format!("Not done: {name}, \"{text}\", can't be taken as it stands")),
            "{}",
            kind.what
        );
        assert_eq!(std::fs::read(&open.file).unwrap(), before, "{}", kind.what);
        assert!(harness.state().session.is_changed(), "{}", kind.what);
        assert_eq!(value_of(harness, &name).as_deref(), Some(text), "{}", kind.what);
        assert!(is_focused(harness, &name), "{}", kind.what);
        // Left and come back to, it still stops.
        press(harness, Modifiers::NONE, Key::Tab);
        save(harness);
        assert_eq!(std::fs::read(&open.file).unwrap(), before, "{}", kind.what);
        // The way out: Esc goes back to what the project says.
        press(harness, Modifiers::NONE, Key::Escape);
        if kind.what != "the name of a routing" {
            save(harness);
            assert_ne!(std::fs::read(&open.file).unwrap(), before, "{}", kind.what);
        }
    }
}

#[test]
fn a_menu_and_the_list_of_commands_take_what_is_typed_too() {
    let rate = |file: &PathBuf| files::open(file).unwrap().duties.first().rate.as_litres_per_hectare();
    let mut open = open_file();
    fill(&mut open.harness, "Rate", "120");
    button(&mut open.harness, "File");
    click(&mut open.harness, Role::Button, "Save");
    assert!((rate(&open.file) - 120.0).abs() < 1e-9);
    fill(&mut open.harness, "Rate", "130");
    press(&mut open.harness, Modifiers::COMMAND, Key::K);
    fill(&mut open.harness, "Find a command", "save");
    press(&mut open.harness, Modifiers::NONE, Key::Enter);
    assert!((rate(&open.file) - 130.0).abs() < 1e-9);
}

#[test]
fn nothing_that_reads_the_project_goes_on_over_what_can_not_be_read() {
    let modifiers =
        |keys: &Keys| Modifiers { command: keys.ctrl, ctrl: keys.ctrl, shift: keys.shift, ..Modifiers::NONE };
    // Keys that a field has for itself: its undo and clipboard, and to select by words.
    let own = [
        Command::Undo,
        Command::Redo,
        Command::Cut,
        Command::Copy,
        Command::Paste,
        Command::SelectAll,
        Command::MirrorToRight,
        Command::MirrorToLeft,
    ];
    let looks = [
        Command::CommandList,
        Command::FitToWindow,
        Command::FitSelection,
        Command::FitNextSection,
        Command::ZoomIn,
        Command::ZoomOut,
        Command::PanLeft,
        Command::PanRight,
        Command::PanForward,
        Command::PanBack,
        Command::SwitchColours,
        Command::SwitchTheme,
    ];
    let mut stopped = Vec::new();
    for entry in TABLE {
        let Some(keys) = entry.keys.filter(|keys| keys.ctrl) else { continue };
        if own.contains(&entry.command) || looks.contains(&entry.command) {
            continue;
        }
        let mut open = open_file();
        let harness = &mut open.harness;
        fill(harness, "Rate", "abc");
        let before = harness.state().session.snapshot();
        let (edits, routing) = (harness.state().session.edits(), harness.state().session.routing().id);
        press(harness, modifiers(&keys), Key::from_name(keys.key).unwrap());
        assert!(says(harness, "Not done: Rate, \"abc\""), "{}", entry.label);
        assert_eq!(harness.state().session.edits(), edits, "{}", entry.label);
        assert_eq!(harness.state().session.routing().id, routing, "{}", entry.label);
        assert_eq!(*harness.state().session.project(), *before, "{}", entry.label);
        assert!(!harness.state().compare.is_open() && !harness.state().sheets.is_open(), "{}", entry.label);
        assert!(!says(harness, "Cancel"), "{}: no dialog came up", entry.label);
        stopped.push(entry.command);
    }
    for needed in
        [Command::Save, Command::SaveAs, Command::Open, Command::New, Command::Quit, Command::Sheets]
    {
        assert!(stopped.contains(&needed), "{needed:?} has keys and was tried");
    }
}

#[test]
fn another_routing_and_another_view_wait_for_what_is_typed() {
    let mut open = open_file();
    let harness = &mut open.harness;
    let names: Vec<String> =
        harness.state().session.project().routings.iter().map(|routing| routing.name.clone()).collect();
    let first = harness.state().session.routing().id;
    fill(harness, "Rate", "abc");
    button(harness, &names[1]);
    assert_eq!(harness.state().session.routing().id, first, "not switched");
    assert!(says(harness, "Not done: Rate"));
    button(harness, "Compare");
    assert!(!harness.state().compare.is_open());
    fill(harness, "Rate", "120");
    button(harness, &names[1]);
    assert_ne!(harness.state().session.routing().id, first);
    assert!(
        (harness.state().session.project().duties.first().rate.as_litres_per_hectare() - 120.0).abs() < 1e-9
    );
    fill(harness, "Rate", "130");
    button(harness, "Compare");
    assert!(harness.state().compare.is_open());
    assert!(
        (harness.state().session.project().duties.first().rate.as_litres_per_hectare() - 130.0).abs() < 1e-9
    );
    // A field of the comparison itself.
    harness.get_by_label("Lower: own conditions").click();
    harness.run_ok();
    fill(harness, "Lower ground speed", "abc");
    button(harness, "Close");
    assert!(harness.state().compare.is_open(), "it stays open");
    assert!(says(harness, "Not done: Lower ground speed"));
    fill(harness, "Lower ground speed", "7");
    button(harness, "Close");
    assert!(!harness.state().compare.is_open());
}

fn close_window(harness: &mut Window) -> bool {
    let viewport = harness.input().viewport_id;
    harness.input_mut().viewports.get_mut(&viewport).unwrap().events.push(ViewportEvent::Close);
    let mut closes = None;
    for _ in 0..8 {
        harness.step();
        for output in harness.output().viewport_output.values() {
            for command in &output.commands {
                match command {
                    ViewportCommand::Close => closes = Some(true),
                    ViewportCommand::CancelClose => closes = Some(false),
                    _ => {}
                }
            }
        }
        harness.input_mut().viewports.get_mut(&viewport).unwrap().events.clear();
    }
    closes.unwrap()
}

#[test]
fn the_close_button_of_the_window_waits_for_what_is_typed() {
    let mut open = open_file();
    fill(&mut open.harness, "Rate", "abc");
    assert!(!close_window(&mut open.harness));
    assert!(says(&open.harness, "Not done: Rate, \"abc\""));
    fill(&mut open.harness, "Rate", "120");
    assert!(!close_window(&mut open.harness));
    assert!(says(&open.harness, "Save the changes?"), "what was typed is a change that is asked about");
    button(&mut open.harness, "Cancel");
    save(&mut open.harness);
    assert!(close_window(&mut open.harness));
}

#[test]
fn a_form_that_is_filled_in_is_not_closed_with_the_window() {
    let mut open = open_file();
    press(&mut open.harness, Modifiers::COMMAND, Key::B);
    assert!(says(&open.harness, "Change the bar"));
    fill(&mut open.harness, "Rows", "38");
    assert!(!close_window(&mut open.harness));
    assert!(says(&open.harness, "Discard the bar in the form?"));
    button(&mut open.harness, "Back to the form");
    assert_eq!(value_of(&open.harness, "Rows").as_deref(), Some("38"));
    assert!(!close_window(&mut open.harness));
    button(&mut open.harness, "Discard");
    assert!(!says(&open.harness, "Discard the bar in the form?"));
}

#[test]
fn a_form_that_nothing_was_entered_in_closes_with_the_window() {
    let mut open = open_file();
    press(&mut open.harness, Modifiers::COMMAND, Key::B);
    assert!(close_window(&mut open.harness));
}

#[test]
fn a_form_does_not_go_on_over_what_can_not_be_read() {
    let mut open = open_file();
    let harness = &mut open.harness;
    press(harness, Modifiers::COMMAND, Key::N);
    button(harness, "5 sections");
    fill(harness, "Rows of each section", "six");
    button(harness, "Start with this bar");
    assert!(says(harness, "Rows of each section: not a list of rows"));
    assert!(is_focused(harness, "Rows of each section"));
    assert!(says(harness, "Start a bar"), "the form is still there");
    fill(harness, "Rows", "many");
    button(harness, "Start with this bar");
    assert!(says(harness, "Start a bar"), "the form is still there");
    fill(harness, "Rows", "40");
    fill(harness, "Rows of each section", "6, 8, 12, 8, 6");
    button(harness, "Start with this bar");
    assert!(!says(harness, "Start a bar"));
    let bar = &harness.state().session.project().bar;
    assert_eq!((bar.rows.len(), bar.sections.len()), (40, 5));
}

#[test]
fn what_is_typed_for_one_thing_is_said_when_its_field_goes() {
    let mut open = open_file();
    let harness = &mut open.harness;
    select_hose(harness);
    fill(harness, "Slack", "7");
    let before = harness.state().session.snapshot();
    let other = harness.state().session.routing().runs[1].id;
    select(harness, Subject::Run(other));
    assert!(says(harness, "Not taken: Slack, \"7\""));
    assert_eq!(*harness.state().session.project(), *before, "and never given to the next");
    // Gone for good: nothing stops over a field that nobody sees.
    press(harness, Modifiers::COMMAND, Key::U);
    save(harness);
    assert!(!harness.state().session.is_changed());
}

#[test]
fn two_commands_in_a_row_are_done_in_their_order() {
    let mut open = open_file();
    fill(&mut open.harness, "Rate", "120");
    open.harness.key_press_modifiers(Modifiers::COMMAND, Key::S);
    open.harness.key_press_modifiers(Modifiers::COMMAND, Key::Q);
    open.harness.run_ok();
    let rate = files::open(&open.file).unwrap().duties.first().rate.as_litres_per_hectare();
    assert!((rate - 120.0).abs() < 1e-9);
    assert!(!says(&open.harness, "Save the changes?"), "it was saved before it quits");
}

#[test]
fn a_click_into_a_field_of_the_routings_leaves_the_field_in_hand() {
    let mut open = open_file();
    let harness = &mut open.harness;
    button(harness, "Change…");
    let name = harness.get_by_label("Name").rect().center();
    for pressed in [true, false] {
        harness.event(egui::Event::PointerMoved(name));
        harness.event(egui::Event::PointerButton {
            pos: name,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
        harness.run_ok();
    }
    harness.event(egui::Event::Text("chain".to_owned()));
    harness.run_ok();
    press(harness, Modifiers::COMMAND, Key::S);
    harness.run_ok();
    assert!(
        harness.state().session.routing().name.contains("chain"),
        "{}",
        harness.state().session.routing().name
    );
}

/// What has a field to type into, besides those that hold something of the project: how to come there, and its name.
type Plain = (fn(&mut Window), &'static str);

/// Searches, and the file of a catalogue.
const PLAIN: [Plain; 3] = [
    (|harness| press(harness, Modifiers::COMMAND, Key::T), "Filter"),
    (|harness| press(harness, Modifiers::COMMAND, Key::G), "Find"),
    (|harness| press(harness, Modifiers::COMMAND, Key::G), "File, RON or CSV"),
];

/// Fields of what lies over everything, where nothing of the project is undone at all.
const OVER_ALL: [Plain; 2] = [
    (|harness| press(harness, Modifiers::COMMAND, Key::K), "Find a command"),
    (|harness| press(harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::S), "File"),
];

/// Undo in a field: what is typed there, and never more; where nothing is typed, the last step of the project, which is named.
#[test]
fn undo_in_any_field_takes_back_what_is_typed_there_and_nothing_else() {
    let undo = |harness: &mut Window| press(harness, Modifiers::COMMAND, Key::Z);
    let kinds = kinds();
    let entries = kinds.iter().map(|kind| (kind.reach, (kind.name)(&open_demo_at(kind))));
    let plain = PLAIN.iter().map(|(reach, name)| (*reach, (*name).to_owned()));
    for (reach, name) in entries.chain(plain) {
        let mut harness = open_file().harness;
        reach(&mut harness);
        let before = value_of(&harness, &name);
        // Typed over earlier typing that was taken or left.
        fill(&mut harness, &name, &before.clone().unwrap_or_default());
        press(&mut harness, Modifiers::NONE, Key::Escape);
        reach_again(&mut harness, reach, &name);
        let project = harness.state().session.snapshot();
        fill(&mut harness, &name, "7");
        for _ in 0..3 {
            undo(&mut harness);
            assert_eq!(
                *harness.state().session.project(),
                *project,
                "{name}: a step of the project was undone"
            );
        }
        assert_eq!(value_of(&harness, &name), before, "{name}: what was typed is undone");
        press(&mut harness, Modifiers::NONE, Key::Escape);
        if name == "Name" {
            // It stands in a list that lies over the window and has the keys.
            continue;
        }
        // A step of the project, then a field in which nothing is typed.
        commands::run(&mut harness.state_mut().session, Command::SwitchUnits).unwrap();
        harness.run_ok();
        reach_again(&mut harness, reach, &name);
        undo(&mut harness);
        assert_eq!(harness.state().session.project().units, project.units, "{name}: the step is undone");
        assert!(says(&harness, "Undone: "), "{name}: and named");
    }
    for (reach, name) in OVER_ALL {
        let mut harness = open_file().harness;
        commands::run(&mut harness.state_mut().session, Command::SwitchUnits).unwrap();
        let units = harness.state().session.project().units;
        reach(&mut harness);
        let before = value_of(&harness, name);
        fill(&mut harness, name, "7");
        for _ in 0..3 {
            undo(&mut harness);
        }
        assert_eq!(value_of(&harness, name), before, "{name}");
        assert_eq!(harness.state().session.project().units, units, "{name}: nothing is undone behind it");
    }
}

/// The window at a kind of field.
fn open_demo_at(kind: &Kind) -> Window {
    let mut harness = open_file().harness;
    (kind.reach)(&mut harness);
    harness
}

/// Has the field, which may have gone meanwhile, in hand again with nothing typed in it.
fn reach_again(harness: &mut Window, reach: fn(&mut Window), name: &str) {
    if value_of(harness, name).is_none() {
        reach(harness);
    }
    let found = harness.query_all_by(|node| {
        node.role() == Role::TextInput && node.label().is_some_and(|label| label == name)
    });
    found.last().unwrap_or_else(|| panic!("no field is named {name}")).focus();
    harness.run_ok();
}
