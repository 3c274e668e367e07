//! Catch tests in the window, driven by the names of its controls.

use eframe::egui::{Event, Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use equirow::plan::{
    CatchSpan, CaughtAmount, CaughtLiquid, Drive, Duty, DutyId, Edit, GaugeReading, Subject,
};
use equirow::quantities::{Length, Pressure, Volume};
use equirow::session::catch_answers::ExplainedState;
use equirow::sheets::SheetKind;

use crate::catch_keys::{amounts, enter, shown, test};
use crate::catch_stories::{Story, empty_test, session};
use crate::support::{Window, button, choose, fill, open, open_demo, press, says, settle};

/// Empties the field of a name.
fn empty(window: &mut Window, name: &str) {
    fill(window, name, "x");
    press(window, Modifiers::NONE, Key::Backspace);
    press(window, Modifiers::NONE, Key::Enter);
}

fn paste(window: &mut Window, text: &str) {
    window.event(Event::Paste(text.to_owned()));
    window.run_ok();
    settle(window);
}

#[test]
fn a_test_is_begun_typed_row_by_row_and_undone_step_by_step() {
    let mut window = open_demo();
    press(&mut window, Modifiers::NONE, Key::F4);
    button(&mut window, "New catch test");
    assert_eq!(test(&window).name, "Test 1");
    assert!(says(&window, "of routing A as it was"));
    enter(&mut window, "Amount of row 1", "412,5");
    // Enter goes on to the next row.
    window.event(Event::Text("14 fl oz".to_owned()));
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Enter);
    window.event(Event::Text("430 g".to_owned()));
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Enter);
    // 1 US fl oz is 29.5735 mL (NIST SP 811).
    assert_eq!(amounts(&window), [(1, 412.5), (2, 414.029), (3, 430.0)]);
    settle(&mut window);
    assert!(says(&window, "37 rows in use of 40 not caught"), "what is missing is said");
    for left in [2, 1, 0] {
        window.state_mut().session.undo();
        assert_eq!(amounts(&window).len(), left);
    }
    window.state_mut().session.undo();
    window.run_ok();
    assert!(window.state().session.catch_test().is_none());
    button(&mut window, "New catch test");
}

#[test]
fn what_is_typed_behind_enter_before_the_window_follows_goes_into_the_next_cells() {
    let mut window = shown(empty_test());
    fill(&mut window, "Amount of row 1", "411");
    let enter = |pressed| Event::Key {
        key: Key::Enter,
        physical_key: None,
        pressed,
        repeat: false,
        modifiers: Modifiers::NONE,
    };
    let typed = |text: &str| Event::Text(text.to_owned());
    let all = [enter(true), enter(false), typed("290 g"), enter(true), enter(false), typed("17")];
    // All in one frame, as a slow window gets them.
    window.input_mut().events.extend(all);
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(amounts(&window), [(1, 411.0), (2, 290.0), (3, 17.0)]);
}

#[test]
fn what_is_no_amount_stays_in_its_field_with_the_reason() {
    let mut window = shown(empty_test());
    for (typed, why) in [("some", "is no amount"), ("-3", "below 0"), ("12 oz", "fl oz, or the weight")] {
        enter(&mut window, "Amount of row 1", typed);
        assert!(test(&window).catches.is_empty(), "{typed}");
        assert!(says(&window, why), "{typed}");
        press(&mut window, Modifiers::NONE, Key::Escape);
    }
}

/// Typed without looking up: a refused amount is not left, and what follows goes into its field and to no command.
#[test]
fn what_is_typed_behind_a_refused_enter_goes_into_its_field() {
    let mut window = shown(empty_test());
    enter(&mut window, "Amount of row 7", "1,250");
    assert!(says(&window, "may be 1250 or 1.250"));
    window.event(Event::Text("333".to_owned()));
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(amounts(&window), [(7, 333.0)]);
    window.event(Event::Text("334".to_owned()));
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(amounts(&window), [(7, 333.0), (8, 334.0)]);
}

#[test]
fn a_column_is_pasted_from_the_row_in_hand_down_and_two_columns_by_row() {
    let mut window = shown(empty_test());
    let undone = window.state().session.undo_name().map(str::to_owned);
    fill(&mut window, "Amount of row 3", "");
    paste(&mut window, "410\r\n415\r\n\t\r\n");
    assert_eq!(amounts(&window), [(3, 410.0), (4, 415.0)]);
    paste(&mut window, "row\tml\n1\t400\n4\t401,5\n4\t402\n");
    assert_eq!(amounts(&window), [(3, 410.0), (1, 400.0), (4, 401.5), (4, 402.0)]);
    assert_eq!(window.state().session.undo_name(), Some("Paste catches of catch test Test 1"));
    window.state_mut().session.undo();
    assert_eq!(amounts(&window), [(3, 410.0), (4, 415.0)]);
    window.state_mut().session.undo();
    assert_eq!(window.state().session.undo_name().map(str::to_owned), undone, "a paste is one step");
    // A word alone goes into the field that is typed in.
    fill(&mut window, "Test made by", "");
    paste(&mut window, "B. Driver");
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(test(&window).by, "B. Driver");
}

#[test]
fn a_file_is_read_as_one_step_and_what_it_lacks_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("catches.csv");
    std::fs::write(&file, "row;ml\n1;410\n2;412,5\n99;400\n").unwrap();
    let mut window = shown(empty_test());
    press(&mut window, Modifiers::COMMAND | Modifiers::SHIFT, Key::I);
    fill(&mut window, "File", file.to_str().unwrap());
    button(&mut window, "Read");
    assert_eq!(amounts(&window), [(1, 410.0), (2, 412.5)]);
    assert!(says(&window, "2 amounts of 2 rows taken down"));
    assert!(says(&window, "99"), "the row that the bar does not have is named");
    assert_eq!(window.state().session.undo_name(), Some("Read catches of catch test Test 1"));
}

#[test]
fn a_row_is_caught_again_and_a_spoiled_catch_stays_on_paper_without_counting() {
    let mut window = shown(empty_test());
    enter(&mut window, "Amount of row 1", "400");
    button(&mut window, "One more catch of row 1");
    enter(&mut window, "Amount of row 1, catch 2", "440");
    assert_eq!(amounts(&window), [(1, 400.0), (1, 440.0)]);
    settle(&mut window);
    // Two catches a tenth apart, where a jug to 1 % allows 2.8 % (ISO 5725-6).
    assert!(says(&window, "catches of one row contradict each other: row 1 ("));
    enter(&mut window, "Why the catch of row 1 is spoiled", "jug knocked over");
    enter(&mut window, "Time of row 1, catch 2", "66");
    assert_eq!(test(&window).catches[0].spoiled.as_deref(), Some("jug knocked over"));
    assert_eq!(test(&window).catches[1].span, Some(CatchSpan::Seconds(66.0)));
    settle(&mut window);
    let judged = window.state().catch_tests.answers().judged().unwrap().as_ref().ok().unwrap();
    let row = &judged.judged.rows[0];
    assert_eq!(row.catches, 1);
    assert!((row.caught.si() * 66.0 - 440e-6).abs() < 1e-12, "the one that counts, over its own time");
    assert!(says(&window, "jug knocked over"));
    // What was weighed is told with its density.
    enter(&mut window, "Amount of row 2", "430 g");
    settle(&mut window);
    assert!(says(&window, "eights are volumes by a density of "));
    empty(&mut window, "Amount of row 2");
    // Emptied, it is taken out.
    empty(&mut window, "Amount of row 1");
    assert_eq!(amounts(&window), [(1, 440.0)]);
}

#[test]
fn conditions_are_entered_and_hang_together() {
    let mut window = shown(empty_test());
    choose(&mut window, "Liquid caught", "water");
    assert_eq!(test(&window).liquid, CaughtLiquid::Water);
    enter(&mut window, "Temperature", "12");
    assert_eq!(test(&window).temperature.map(|one| one.si()), Some(12.0));
    button(&mut window, "Temperature was not measured");
    assert_eq!(test(&window).temperature, None);
    choose(&mut window, "Caught for or over", "over a distance");
    enter(&mut window, "Distance of a catch", "100");
    assert_eq!(test(&window).span, CatchSpan::Distance(Length::metres(100.0)));
    // While a pressure is held nobody knows how long a distance takes.
    choose(&mut window, "Flow was set by", "at a held pressure");
    assert!(matches!(test(&window).drive, Drive::HeldPressure(_)));
    assert!(matches!(test(&window).span, CatchSpan::Seconds(_)));
    enter(&mut window, "Pressure held at the pump", "1,8");
    assert!(matches!(test(&window).drive, Drive::HeldPressure(held) if (held.si() - 1.8e5).abs() < 1e-6));
    enter(&mut window, "Jug ±", "2");
    assert!((test(&window).scatter.amount.si() - 0.02).abs() < 1e-12);
    empty(&mut window, "Test name");
    assert_eq!(test(&window).name, "Test 1", "a test keeps a name");
    press(&mut window, Modifiers::NONE, Key::Escape);
}

#[test]
fn what_no_longer_holds_is_not_shown() {
    let mut window = shown(session(Story::Sound));
    assert!(says(&window, "As drawn and within the limits"));
    let strip = "Strip of what was caught, with what was expected behind it";
    for name in ["The tested bar, coloured by what was caught", strip] {
        window.get_by_label(name);
    }
    assert!(says(&window, "Row 17, caught 0.3"), "the picture says what was caught");
    // In the very frame in which an amount is another, the verdict on the last ones is gone.
    let row = window.state().session.project().bar.rows[16].id;
    let place = equirow::session::catch_tests::CatchPlace { row, nth: 0 };
    let half = CaughtAmount::Volume(Volume::from_si(2e-4));
    window.state_mut().session.put_catch(place, Some(half)).unwrap();
    window.step();
    let answers = window.state().catch_tests.answers();
    if answers.judged().is_none() {
        assert!(!says(&window, "As drawn and within the limits"));
        assert_ne!(answers.state(), ExplainedState::UpToDate);
    }
    settle(&mut window);
    assert!(!says(&window, "As drawn and within the limits"));
    assert!(says(&window, "row 17"));
    assert!(says(&window, "outlier"));
}

#[test]
fn a_change_of_the_routing_leaves_what_a_test_says_and_is_told_by_it() {
    let mut window = shown(session(Story::Sound));
    assert!(says(&window, "Nothing: the bar is as it was tested"));
    let before = window.state().catch_tests.answers().revision();
    let session = &mut window.state_mut().session;
    let part = session.routing().parts[0].id;
    session.select([Subject::Part(part)]);
    session.delete_selection().unwrap();
    settle(&mut window);
    assert_eq!(window.state().catch_tests.answers().revision(), before, "nothing is worked out again");
    assert!(!says(&window, "Nothing: the bar is as it was tested"));
    assert!(says(&window, "As drawn and within the limits"));
}

#[test]
fn what_is_typed_is_taken_before_the_view_closes_or_says_why_not() {
    let mut window = shown(empty_test());
    fill(&mut window, "Amount of row 1", "412");
    button(&mut window, "Close");
    window.run_ok();
    assert!(!window.state().catch_tests.is_open());
    assert_eq!(amounts(&window), [(1, 412.0)]);
    press(&mut window, Modifiers::NONE, Key::F4);
    fill(&mut window, "Amount of row 2", "a lot");
    button(&mut window, "Close");
    window.run_ok();
    assert!(window.state().catch_tests.is_open());
    assert!(says(&window, "Not done: Amount of row 2"));
    press(&mut window, Modifiers::NONE, Key::Escape);
    // Whoever presses on another row has entered what was typed in this one.
    fill(&mut window, "Amount of row 3", "390");
    window.get_by_label("Amount of row 5").click();
    window.run_ok();
    assert!(amounts(&window).contains(&(3, 390.0)), "{:?}", amounts(&window));
    // What is scrolled out of sight while it is typed is taken too.
    fill(&mut window, "Amount of row 2", "400");
    window.get_by_label("Amount of row 2").scroll_down();
    for _ in 0..8 {
        window.get_by_label("Catch 1 of row 9").scroll_down();
        window.run_ok();
    }
    press(&mut window, Modifiers::COMMAND, Key::S);
    window.run_ok();
    assert!(amounts(&window).contains(&(2, 400.0)), "{:?}", amounts(&window));
}

#[test]
fn no_key_reaches_the_drawing_behind_the_tests() {
    let mut window = open(empty_test());
    let part = window.state().session.routing().parts[0].id;
    window.state_mut().session.select([Subject::Part(part)]);
    press(&mut window, Modifiers::NONE, Key::F4);
    let parts = window.state().session.routing().parts.len();
    // The first cell of a new test is typed in; Esc leaves it.
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(window.state().catch_tests.is_open());
    press(&mut window, Modifiers::NONE, Key::Delete);
    assert!(says(&window, "Delete: not done; the catch tests are shown"));
    press(&mut window, Modifiers::NONE, Key::M);
    press(&mut window, Modifiers::NONE, Key::ArrowLeft);
    assert_eq!(window.state().session.routing().parts.len(), parts);
    assert_eq!(window.state().session.undo_name(), Some("Fill in"));
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!window.state().catch_tests.is_open());
    // Other views take their place and give it back.
    press(&mut window, Modifiers::NONE, Key::F4);
    press(&mut window, Modifiers::NONE, Key::C);
    assert!(window.state().compare.is_open() && !window.state().catch_tests.is_open());
    press(&mut window, Modifiers::NONE, Key::F4);
    assert!(!window.state().compare.is_open() && window.state().catch_tests.is_open());
    press(&mut window, Modifiers::NONE, Key::F10);
    assert!(window.state().fold.is_open() && !window.state().catch_tests.is_open());
}

/// One rule gives the time: the sheet that says what to do, and the test that is begun.
#[test]
fn a_new_test_is_caught_for_as_long_as_the_commissioning_sheet_says() {
    let mut session = empty_test();
    session.add_catch_test().unwrap();
    let (project, routing) = (session.project(), session.routing());
    let geometry = equirow::plan::RoutingGeometry::working(project, routing);
    let sheet =
        equirow::sheets::commissioning::commissioning_sheet(project, geometry.with(routing), session.duty());
    let said = sheet.tables().flat_map(|table| &table.rows).find(|row| row[0].printed() == "Catch time, s");
    let said: f64 = said.unwrap()[1].printed().parse().unwrap();
    assert!(said > 30.0, "of a bar whose rows get little");
    assert_eq!(session.catch_test().unwrap().span, CatchSpan::Seconds(said));
}

/// What could not be read keeps the test from being judged until somebody has seen to it, by typing the amount or by saying so.
#[test]
fn what_could_not_be_read_is_in_doubt_until_it_is_typed_or_settled() {
    let mut window = shown(session(Story::Sound));
    assert!(says(&window, "As drawn and within the limits"));
    let amount = amounts(&window)[1].1;
    paste(&mut window, "row\tml\n2\tfull\n3\tempty\n1\t1,250\n4\t1\n");
    assert_eq!(test(&window).doubts.len(), 3, "{:?}", test(&window).doubts);
    window.state_mut().session.undo();
    settle(&mut window);
    assert!(
        test(&window).doubts.is_empty() && says(&window, "As drawn and within the limits"),
        "undone with it"
    );
    let row_4 = amounts(&window)[3].1;
    paste(&mut window, &format!("row\tml\n2\tfull\n999\t300\n4\t{row_4}\n"));
    assert!(says(&window, "Not judged: 2 lines could not be read or placed"));
    assert!(says(&window, "\"full\" is no amount"));
    enter(&mut window, "Amount of row 2", &(amount + 0.5).to_string());
    settle(&mut window);
    assert!(
        says(&window, "Not judged: 1 line could not be read or placed"),
        "what was typed settles its row"
    );
    button(&mut window, "Settled");
    settle(&mut window);
    assert!(says(&window, "As drawn and within the limits"));
    // A remark beside an amount takes nothing out by itself; a word under "Spoiled because" does, and settles it.
    paste(&mut window, &format!("row\tml\tremarks\n4\t{row_4}\thalf of it spilt\n"));
    settle(&mut window);
    assert!(says(&window, "row 4 carries the remark \"half of it spilt\" and still counts"));
    assert!(says(&window, "As drawn and within the limits"));
    enter(&mut window, "Why the catch of row 4 is spoiled", "spilt");
    settle(&mut window);
    assert!(!says(&window, "and still counts"));
    assert!(says(&window, "Not judged: 1 of "));
}

/// Esc is for what lies in front; what is typed behind it stays, focus and all.
#[test]
fn esc_closes_the_guide_over_the_tests_and_leaves_what_is_typed() {
    let mut window = shown(empty_test());
    fill(&mut window, "Amount of row 1", "41");
    press(&mut window, Modifiers::NONE, Key::F1);
    window.run_ok();
    assert!(says(&window, "Liquid under pressure"), "the guide is open");
    press(&mut window, Modifiers::NONE, Key::Escape);
    window.run_ok();
    assert!(!says(&window, "Liquid under pressure"), "Esc has closed it");
    assert!(window.state().catch_tests.is_open());
    window.event(Event::Text("2".to_owned()));
    window.run_ok();
    press(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(amounts(&window), [(1, 412.0)]);
    press(&mut window, Modifiers::NONE, Key::Escape);
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!window.state().catch_tests.is_open());
}

#[test]
fn the_sheet_of_a_test_whose_routing_is_gone_is_shown() {
    let mut window = shown(session(Story::Sound));
    let routing = window.state().session.routing().id;
    window.state_mut().session.edit("Remove", [Edit::RemoveRouting(routing)]).unwrap();
    settle(&mut window);
    button(&mut window, "Sheet of the catch test");
    settle(&mut window);
    let made = window.state().sheets.papers().unwrap().current().unwrap();
    assert_eq!(made.set.kinds.first(), Some(&SheetKind::CatchTest));
    assert!(made.set.pages.iter().all(|page| page.name.contains("Test 1")), "the paper of that test");
}

#[test]
fn tests_are_repeated_chosen_and_removed() {
    let mut window = shown(session(Story::Sound));
    press(&mut window, Modifiers::COMMAND | Modifiers::SHIFT, Key::R);
    assert_eq!(test(&window).name, "Test 2");
    assert!(test(&window).catches.is_empty() && test(&window).temperature.is_some());
    settle(&mut window);
    assert!(!says(&window, "As drawn and within the limits"), "nothing was caught yet");
    choose(&mut window, "Catch test", "Test 1, 2026-03-14");
    settle(&mut window);
    assert_eq!(test(&window).name, "Test 1");
    assert!(says(&window, "As drawn and within the limits"));
    let tests = window.state().session.project().catch_tests.clone();
    assert_eq!(tests.bars.len(), 1, "both were made on one bar");
    button(&mut window, "Remove the catch test");
    assert_eq!(test(&window).name, "Test 2");
    window.state_mut().session.undo();
    assert_eq!(window.state().session.project().catch_tests, tests);
}

#[test]
fn what_a_gauge_screwed_on_anywhere_read_is_taken_down_by_hand() {
    let mut window = shown(empty_test());
    let routing = window.state().session.routing().clone();
    let manifold = routing.parts.iter().find(|part| part.tag == "M1").unwrap();
    let entry = window.state().session.project().catalogue.item(&manifold.entry).unwrap().item_kind().words();
    choose(&mut window, "Read at another part", &format!("M1, {entry}"));
    assert!(test(&window).gauges.is_empty(), "nothing was read yet");
    enter(&mut window, "M1 reads", "1,6");
    let [read] = test(&window).gauges[..] else { panic!("one reading") };
    assert_eq!((read.part, read.pressure.si()), (manifold.id, 1.6e5));
    button(&mut window, "M1 was not read");
    assert!(test(&window).gauges.is_empty());
    window.run_ok();
    assert!(!says(&window, "M1 reads"), "the field goes with it");
}

#[test]
fn a_test_is_of_the_duty_that_the_bar_was_asked_to_do() {
    let mut session = empty_test();
    let first = session.project().duties.first().clone();
    let autumn = Duty { id: DutyId(7), name: "Autumn".to_owned(), rate: first.rate * 0.5, ..first.clone() };
    session.edit("Add a duty", [Edit::PutDuty(Box::new(autumn))]).unwrap();
    let mut window = shown(session);
    choose(&mut window, "Duty of the test", "Autumn");
    assert_eq!(test(&window).duty, DutyId(7));
    let session = &window.state().session;
    let bar = session.tested_bar(test(&window)).unwrap();
    assert_eq!((bar.duties.count(), bar.duty(DutyId(7)).rate), (1, first.rate * 0.5));
    assert_eq!(session.project().catch_tests.bars.len(), 1, "the bar under the other duty is not kept");
    window.state_mut().session.undo();
    assert_eq!(test(&window).duty, first.id);
}

#[test]
fn the_sheet_of_a_test_is_one_press_away_and_the_sheets_come_again_as_they_were_chosen() {
    let mut session = session(Story::Sound);
    let other = session.project().routings[0].id;
    session.show_routing(other);
    let mut window = shown(session);
    let kinds = |window: &Window| window.state().sheets.papers().map(|papers| papers.choice.kinds.clone());
    press(&mut window, Modifiers::COMMAND, Key::P);
    let before = kinds(&window);
    press(&mut window, Modifiers::NONE, Key::Escape);
    button(&mut window, "Sheet of the catch test");
    assert_eq!(kinds(&window), Some([SheetKind::CatchTest].into()));
    assert_ne!(window.state().session.routing().id, other, "papers are of the routing that was tested");
    settle(&mut window);
    let made = window.state().sheets.papers().unwrap().current().unwrap();
    assert_eq!(made.set.kinds.first(), Some(&SheetKind::CatchTest));
    press(&mut window, Modifiers::NONE, Key::Escape);
    assert!(window.state().catch_tests.is_open(), "back to the test");
    press(&mut window, Modifiers::COMMAND, Key::P);
    assert_eq!(kinds(&window), before);
}

#[test]
fn the_table_has_most_of_the_room() {
    for session in [empty_test(), session(Story::Sound)] {
        let window = shown(session);
        let table = window.get_by_label("Catches of the rows").rect();
        assert!(table.height() > 240.0, "{table:?}");
    }
    // What is filled in begins with its conditions in a line.
    let mut window = shown(session(Story::Sound));
    assert!(window.query_by_label("Distance of a catch").is_none() && !says(&window, "Test made by"));
    button(&mut window, "Conditions");
    window.run_ok();
    assert!(says(&window, "Test made by"));
}

#[test]
fn another_project_and_another_view_wait_for_what_is_typed() {
    for (modifiers, key) in
        [(Modifiers::COMMAND, Key::N), (Modifiers::COMMAND, Key::P), (Modifiers::NONE, Key::F10)]
    {
        let mut window = shown(empty_test());
        fill(&mut window, "Amount of row 2", "a lot");
        press(&mut window, modifiers, key);
        window.run_ok();
        assert!(says(&window, "Not done: Amount of row 2"), "{key:?}");
        assert!(window.state().catch_tests.is_open() && !window.state().sheets.is_open(), "{key:?}");
        fill(&mut window, "Amount of row 2", "411");
        press(&mut window, modifiers, key);
        window.run_ok();
        assert_eq!(amounts(&window), [(2, 411.0)], "{key:?}");
    }
}

#[test]
fn what_explains_a_blocked_orifice_is_said_with_odds_and_pointed_out() {
    let mut window = shown(session(Story::BlockedOrifice));
    let answers = window.state().catch_tests.answers();
    let explanation = answers.explained().unwrap().as_ref().unwrap();
    let first = &explanation.groups[0];
    let row = window.state().session.project().bar.rows[16].id;
    assert!(first.members.iter().all(|one| one.cause.rows == [row]), "{:?}", first.members[0].what);
    let what = equirow::plan::words::capital(&first.members[0].what);
    assert!(says(&window, &what));
    assert!(says(&window, "Odds "));
    button(&mut window, &what);
    settle(&mut window);
    button(&mut window, &what);
}

#[test]
fn a_calibration_is_asked_for_taken_over_in_one_step_and_undone() {
    let mut session = session(Story::Sound);
    // A fine gauge on each manifold: nobody doubts what it says, and it tells what an orifice passes.
    let read = |part: &equirow::plan::Part| {
        let pressure = session.outcome().part(part.id)?.pressure?;
        Some(GaugeReading { part: part.id, pressure, sd: Some(Pressure::bar(0.005)) })
    };
    let manifolds = session.routing().parts.iter().filter(|part| part.tag.starts_with('M'));
    let gauges: Vec<GaugeReading> = manifolds.filter_map(read).collect();
    assert!(!gauges.is_empty());
    session.change_catch_test("Read gauges", |test| test.gauges = gauges).unwrap();
    let mut window = shown(session);
    let before = window.state().session.snapshot();
    window.get_by_label("Calibrate").scroll_to_me();
    window.run_ok();
    button(&mut window, "Calibrate");
    settle(&mut window);
    let take = window
        .query_all_by(|node| node.label().is_some_and(|label| label.starts_with("Take over ")))
        .next()
        .and_then(|node| egui_kittest::kittest::NodeT::accesskit_node(&node).label());
    let take = take.unwrap();
    assert!(says(&window, "instead of"), "each number comes beside what was assumed");
    window.get_by_label(&take).scroll_to_me();
    window.run_ok();
    button(&mut window, &take);
    assert_ne!(window.state().session.snapshot(), before);
    window.state_mut().session.undo();
    assert_eq!(window.state().session.snapshot(), before);
}

/// Tab goes down the column, then to the next column; Shift goes back. What is typed is taken on the way, however fast.
#[test]
fn a_new_test_is_typed_from_its_first_row_down() {
    let mut window = open(empty_test());
    press(&mut window, Modifiers::NONE, Key::F4);
    let tab =
        |modifiers| Event::Key { key: Key::Tab, physical_key: None, pressed: true, repeat: false, modifiers };
    for event in [
        Event::Text("401".to_owned()),
        tab(Modifiers::NONE),
        Event::Text("402".to_owned()),
        tab(Modifiers::NONE),
        Event::Text("403".to_owned()),
        tab(Modifiers::SHIFT),
        Event::Text("412".to_owned()),
        tab(Modifiers::NONE),
    ] {
        window.event(event);
    }
    window.run_ok();
    assert_eq!(amounts(&window), [(1, 401.0), (2, 412.0), (3, 403.0)]);
}
