//! Panels, forms and tables, driven by accessible names as a screen reader would find them. No display is needed.

use std::path::Path;

use crate::support::{Window, button, choose, fill, open, open_demo, press, says, show};
use eframe::egui::{Key, Modifiers, accesskit::Role};
use egui_kittest::{
    Harness,
    kittest::{NodeT as _, Queryable as _},
};
use equirow::files::{self, recovery};
use equirow::plan::row_target::{strips_together, width as target_width};
use equirow::plan::{Control, Edit, ElementKind, PartItem, RowWidths, Subject};
use equirow::session::Session;
use equirow::session::commands::TABLE;
use equirow::session::properties::{Property, PropertyValue};
use equirow::window::app::App;

fn enter(harness: &mut Harness<'static, App>, name: &str, text: &str) {
    fill(harness, name, text);
    press(harness, Modifiers::NONE, Key::Enter);
}

fn session<'a>(harness: &'a Harness<'static, App>) -> &'a Session {
    &harness.state().session
}

#[test]
fn a_bar_is_started_from_the_form() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::N);
    enter(&mut harness, "Title", "Trial bar");
    enter(&mut harness, "Working width", "24");
    button(&mut harness, "7 sections");
    button(&mut harness, "4 ranks");
    enter(&mut harness, "Outlet height", "6 cm");
    choose(&mut harness, "Liquid", "UAN 32 % N, urea ammonium nitrate solution");
    enter(&mut harness, "Application rate", "66,6");
    button(&mut harness, "Start with this bar");
    let project = session(&harness).project();
    assert_eq!(project.title.title, "Trial bar");
    assert_eq!(project.bar.rows.len(), 80, "24 m at 0.30 m");
    assert_eq!(project.bar.sections.len(), 7);
    assert_eq!(project.bar.ranks.len(), 4);
    assert!((project.bar.rows[0].outlet_height.si() - 0.06).abs() < 1e-9);
    assert!(project.duties.first().liquid.name.contains("32 %"));
    assert!((project.duties.first().rate.as_litres_per_hectare() - 66.6).abs() < 1e-9);
    assert!(session(&harness).is_changed(), "it is in no file yet");
}

#[test]
fn the_form_shows_errors_beside_their_fields_and_starts_nothing() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::N);
    enter(&mut harness, "Centre", "3");
    assert!(says(&harness, "together"), "widths that do not add up are said");
    harness.get_by_role_and_label(Role::Button, "Divide evenly").scroll_to_me();
    harness.run_ok();
    let start = harness.get_by_role_and_label(Role::Button, "Start with this bar");
    assert!(start.accesskit_node().is_disabled());
    button(&mut harness, "Divide evenly");
    assert!(!says(&harness, "together"));
    enter(&mut harness, "Order of ranks", "1, 7");
    assert!(says(&harness, "rank 7 is not there"));
    harness.get_by_role_and_label(Role::TextInput, "Row spacing").scroll_to_me();
    harness.run_ok();
    enter(&mut harness, "Row spacing", "three");
    assert!(says(&harness, "not a number"));
    button(&mut harness, "Cancel");
    assert!(!session(&harness).is_changed());
}

#[test]
fn a_changed_bar_keeps_its_plumbing_and_says_what_goes() {
    let mut harness = open_demo();
    let feeds = session(&harness).routing().feeds.clone();
    press(&mut harness, Modifiers::COMMAND, Key::B);
    assert!(says(&harness, "All plumbing fits the changed bar"));
    enter(&mut harness, "Outlet height", "0.1");
    button(&mut harness, "Change the bar");
    assert_eq!(session(&harness).routing().feeds, feeds);
    assert!((session(&harness).project().bar.rows[3].outlet_height.si() - 0.1).abs() < 1e-9);
    assert_eq!(session(&harness).undo_name(), Some("Change the bar"));

    press(&mut harness, Modifiers::COMMAND, Key::B);
    enter(&mut harness, "Rows", "38");
    button(&mut harness, "Divide evenly");
    assert!(says(&harness, "2 rows go"), "what goes is said before it is done");
    assert_eq!(session(&harness).project().bar.rows.len(), 40);
    button(&mut harness, "Change the bar");
    assert_eq!(session(&harness).project().bar.rows.len(), 38);
    assert_eq!(session(&harness).routing().feeds.len(), feeds.len() - 2);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(session(&harness).routing().feeds, feeds, "one step");
}

#[test]
fn measured_rows_come_from_a_table() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    let mut text = String::from("x (cm);forward (cm)\n");
    for row in 0..12 {
        let forward = if row % 2 == 0 { 40 } else { -40 };
        text.push_str(
            &[(row * 25 - 138).to_string(), ",5;".to_owned(), forward.to_string(), "\n".to_owned()].concat(),
        );
    }
    text += "what;\n";
    std::fs::write(&file, text).unwrap();
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::I);
    fill(&mut harness, "File", file.to_str().unwrap());
    button(&mut harness, "Read");
    assert!(says(&harness, "line 14"), "the bad line is named");
    button(&mut harness, "Use these 12 rows");
    assert!(
        says(&harness, "line 14"),
        "nothing is taken while a line can't be read and nobody says to leave it out"
    );
    harness.get_by_label("Leave them out: their rows are not on the bar").click();
    harness.run_ok();
    button(&mut harness, "Use these 12 rows");
    assert!(says(&harness, "12 rows where measured"));
    assert!(says(&harness, "rows go"));
    button(&mut harness, "Change the bar");
    let bar = &session(&harness).project().bar;
    assert_eq!((bar.rows.len(), bar.ranks.len()), (12, 2));
    assert!((bar.row_spacing.si() - 0.25).abs() < 1e-9);
    assert!((bar.rows[0].x.si() + 1.385).abs() < 1e-9);
}

/// Rows 0.25 and 0.35 m apart by turns, from a table and as they are typed: each gets what its strip needs, and the bar what
/// its working width needs.
#[test]
fn uneven_rows_stand_for_their_own_strips_unless_someone_chooses_otherwise() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    let mut text = String::from("x (mm);forward (mm)\n");
    for row in 0..60 {
        let x = (row / 2) * 600 + (row % 2) * 250 - 8825;
        let line = [x.to_string(), if row % 2 == 0 { ";300\n" } else { ";-300\n" }.to_owned()];
        text.push_str(&line.concat());
    }
    std::fs::write(&file, text).unwrap();
    let width = |harness: &Harness<'static, App>| {
        let bar = &session(harness).project().bar;
        (bar.row_widths, strips_together(bar).si(), bar.working_width().si())
    };
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::I);
    fill(&mut harness, "File", file.to_str().unwrap());
    button(&mut harness, "Read");
    button(&mut harness, "Use these 60 rows");
    enter(&mut harness, "Working width", "18");
    button(&mut harness, "Change the bar");
    let (widths, strips, works) = width(&harness);
    assert_eq!(widths, RowWidths::HalfWidths);
    assert!((strips - 18.0).abs() < 1e-9 && (works - 18.0).abs() < 1e-9, "{strips} of {works}");
    let bar = &session(&harness).project().bar;
    assert!(bar.rows.iter().all(|row| (target_width(bar, row).si() - 0.3).abs() < 1e-9));

    // Someone who chooses the nominal spacing is told, whatever they hide.
    press(&mut harness, Modifiers::COMMAND, Key::B);
    choose(&mut harness, "A row stands for", "the row spacing");
    button(&mut harness, "Change the bar");
    let wrong = |harness: &Harness<'static, App>| {
        session(harness)
            .findings()
            .iter()
            .any(|one| one.what.contains("less than its working width of 18.00 m"))
    };
    assert!(wrong(&harness), "{:?}", session(&harness).findings());

    // They come again and again, so the form knows them as a pattern; without one the rows are even.
    press(&mut harness, Modifiers::COMMAND, Key::B);
    enter(&mut harness, "Spacing pattern", " ");
    assert!(says(&harness, "60 rows × 0.3 m = 18.00 m"));
    enter(&mut harness, "Spacing pattern", "0.25, wide");
    assert!(says(&harness, "not a number"));
    enter(&mut harness, "Spacing pattern", "0.25, 0.35");
    assert!(says(&harness, "60 rows × 0.3 m on average = 18.00 m"));
    button(&mut harness, "Change the bar");
    assert_eq!(width(&harness).0, RowWidths::HalfWidths);
    assert!((width(&harness).1 - 18.0).abs() < 1e-9);
    assert!(!wrong(&harness));
    let across: Vec<f64> = session(&harness).project().bar.rows.iter().map(|row| row.x.si()).collect();
    assert!((across[1] - across[0] - 0.25).abs() < 1e-9 && (across[2] - across[1] - 0.35).abs() < 1e-9);
}

#[test]
fn liquid_supply_limits_and_title_are_changed_in_steps() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    enter(&mut harness, "Viscosity at 20 °C", "4,5");
    let liquid = &session(&harness).project().duties.first().liquid;
    assert!(liquid.points.iter().any(|point| (point.viscosity.si() - 4.5e-3).abs() < 1e-9));
    assert_eq!(session(&harness).undo_name(), Some("Change the liquid"));
    choose(&mut harness, "Viscosity is", "measured");
    button(&mut harness, "Pump");
    button(&mut harness, "Constant pressure");
    enter(&mut harness, "Constant pressure", "30 psi");
    let Control::Held { pressure } = session(&harness).project().supply.control else { panic!("held") };
    assert!((pressure.si() - 206_842.7).abs() < 1.0);
    enter(&mut harness, "Pump height", "0,8");
    assert!((session(&harness).project().supply.pump.z - 0.8).abs() < 1e-9);
    button(&mut harness, "Limits");
    enter(&mut harness, "Row flow from target", "4");
    assert!((session(&harness).project().limits.row_deviation.si() - 0.04).abs() < 1e-9);
    button(&mut harness, "Application");
    enter(&mut harness, "Slowest speed", "40");
    assert!(says(&harness, "speeds are not in order"), "a refusal says why");
    enter(&mut harness, "Fore-aft slope, nose up", "3");
    assert!((session(&harness).point().fore_aft_slope.si() - 0.03f64.atan()).abs() < 1e-9);
    button(&mut harness, "Title block");
    enter(&mut harness, "Revision", "B");
    assert_eq!(session(&harness).project().title.revision, "B");
}

#[test]
fn spreads_and_suspensions_are_changed_in_steps_and_said() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    assert!(!says(&harness, "Pressures and flows"));
    crate::support::click(&mut harness, Role::CheckBox, "a suspension, which settles");
    assert!(session(&harness).duty().liquid.suspension);
    assert_eq!(session(&harness).undo_name(), Some("Change the liquid"));
    assert!(says(&harness, "suspension: no prediction"), "the details say so");
    button(&mut harness, "Spreads");
    enter(&mut harness, "Bore of orifices", "1,5");
    choose(&mut harness, "Shape of Bore of orifices", "rectangular");
    choose(&mut harness, "Bore of orifices is", "alike in all");
    let spread = session(&harness).project().spreads.orifice_bore;
    assert_eq!((spread.shape, spread.common), (equirow::plan::Shape::Rectangular, true));
    assert!((spread.sd - 0.015).abs() < 1e-12);
    assert_eq!(session(&harness).undo_name(), Some("Change the spreads"));
    enter(&mut harness, "Liquid's temperature", "90");
    assert!(says(&harness, "90"), "a refusal says why");
    assert!((session(&harness).project().spreads.temperature.sd - 3.0).abs() < 1e-12);
    enter(&mut harness, "Liquid's temperature", "5");
    button(&mut harness, "Usual spreads");
    assert!(session(&harness).project().spreads.are_usual());
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(!session(&harness).project().spreads.are_usual());
}

/// In the panel of one feed and of several rows, by the name that a screen reader hears.
#[test]
fn flow_indicators_are_put_into_feeds_and_taken_out_by_a_list() {
    let mut harness = open_demo();
    let feed = session(&harness).routing().feeds[0].clone();
    let property = Property::Piece(ElementKind::FlowIndicator);
    let choices = session(&harness).choices(property, &[Subject::Feed(feed.id)]);
    let words = choices[1].1.clone();
    let having = |harness: &Harness<'static, App>| {
        let feeds = session(harness).routing().feeds.iter();
        feeds.filter(|feed| feed.elements().any(|one| one.is(ElementKind::FlowIndicator))).count()
    };
    harness.state_mut().session.select([Subject::Feed(feed.id)]);
    harness.run_ok();
    assert!(says(&harness, "Flow indicator: none"));
    choose(&mut harness, "Flow indicator", &words);
    assert_eq!(having(&harness), 1);
    assert!(says(&harness, &format!("Flow indicator: {words}")));

    let rows: Vec<Subject> =
        session(&harness).project().bar.rows.iter().take(5).map(|row| Subject::Row(row.id)).collect();
    harness.state_mut().session.select(rows);
    harness.run_ok();
    assert!(says(&harness, "Flow indicator: mixed"));
    choose(&mut harness, "Flow indicator", &words);
    assert_eq!(having(&harness), 5);
    choose(&mut harness, "Flow indicator", "none");
    assert_eq!(having(&harness), 0);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(having(&harness), 5, "one step");
}

#[test]
fn several_things_show_what_they_share() {
    let mut harness = open_demo();
    let routing = session(&harness).routing().clone();
    let runs: Vec<Subject> = routing.runs.iter().map(|run| Subject::Run(run.id)).collect();
    harness.state_mut().session.select(runs);
    harness.run_ok();
    assert!(says(&harness, "Bore: mixed"));
    enter(&mut harness, "Slack", "4,5");
    assert!(session(&harness).routing().runs.iter().all(|run| (run.line.slack.si() - 0.045).abs() < 1e-9));
    choose(&mut harness, "Bore", "16 mm hose");
    let stocks: Vec<_> = session(&harness).routing().runs.iter().map(|run| &run.line.stock).collect();
    assert!(stocks.windows(2).all(|pair| pair[0] == pair[1]));

    let rows: Vec<Subject> =
        session(&harness).project().bar.rows.iter().take(5).map(|row| Subject::Row(row.id)).collect();
    harness.state_mut().session.select(rows);
    harness.run_ok();
    choose(&mut harness, "Metering", "0.6 mm metering orifice");
    let changed = session(&harness)
        .routing()
        .feeds
        .iter()
        .filter(|feed| feed.elements().any(|one| one.is_metering() && one.entry().0 == "orifice-0.6"));
    assert_eq!(changed.count(), 5);

    let manifolds: Vec<Subject> = routing
        .parts
        .iter()
        .filter(|part| {
            matches!(session(&harness).project().catalogue.item(&part.entry), Some(PartItem::Manifold(_)))
        })
        .map(|part| Subject::Part(part.id))
        .collect();
    let first = manifolds[0];
    harness.state_mut().session.select(manifolds);
    harness.run_ok();
    enter(&mut harness, "Height", "1,1 m");
    assert!(says(&harness, "5 selected"));
    harness.state_mut().session.select([first]);
    harness.run_ok();
    enter(&mut harness, "Tag", "M2");
    assert!(says(&harness, "two have the tag M2"), "the refusal stands beside the field");
}

#[test]
fn the_tables_do_what_the_canvas_does() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::T);
    button(&mut harness, "Table of hoses");
    harness.get_by_label("Line H2").click();
    harness.run_ok();
    let run = session(&harness).routing().runs.iter().find(|run| run.tag == "H2").unwrap().clone();
    assert_eq!(*session(&harness).selection(), [Subject::Run(run.id)].into());
    enter(&mut harness, "Slack of H2", "9");
    let slack =
        |harness: &Harness<'static, App>| session(harness).routing().run(run.id).unwrap().line.slack.si();
    assert!((slack(&harness) - 0.09).abs() < 1e-9);
    choose(&mut harness, "To of H2", "loose end");
    assert!(session(&harness).routing().run(run.id).unwrap().to.port().is_none());
    // What the drawing selects is selected here.
    let other = session(&harness).routing().runs[0].clone();
    harness.state_mut().session.select([Subject::Run(other.id)]);
    harness.run_ok();
    enter(&mut harness, &format!("Tag of {}", other.tag), "H99");
    assert_eq!(session(&harness).routing().run(other.id).unwrap().tag, "H99");

    button(&mut harness, "Table of rows");
    harness.get_by_label("Line 3").click();
    harness.run_ok();
    press(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    press(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    assert_eq!(session(&harness).selection().len(), 3, "Shift with an arrow selects more");
    press(&mut harness, Modifiers::NONE, Key::Delete);
    let unfed = session(&harness).project().bar.rows.iter();
    let unfed = unfed.filter(|row| session(&harness).routing().feed_of(row.id).is_none()).count();
    assert_eq!(unfed, 3);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    fill(&mut harness, "Filter", "outer left");
    assert!(says(&harness, "6 lines"));
    button(&mut harness, "Sort by deviation");
    button(&mut harness, "Select all lines");
    assert_eq!(session(&harness).selection().len(), 6);
}

#[test]
fn a_command_is_found_by_a_few_letters() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::K);
    fill(&mut harness, "Find a command", "sel ro");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(session(&harness).selection().len(), 40, "select all rows");
    press(&mut harness, Modifiers::COMMAND, Key::K);
    fill(&mut harness, "Find a command", "redo");
    assert!(says(&harness, "There is nothing to redo"), "why it can't be done now");
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(!says(&harness, "Find a command"));
}

#[test]
fn unsaved_work_is_kept_and_offered_after_a_crash() {
    let base = tempfile::tempdir().unwrap();
    let with = || App::with_recovery(Session::new(files::demo(), None), Some(base.path().to_owned()));
    let mut harness = show(with(), 1280.0, 800.0);
    press(&mut harness, Modifiers::COMMAND, Key::U);
    // The harness moves its own clock: a quarter of a second each step, five seconds in all.
    for _ in 0..20 {
        harness.step();
    }
    let work = || {
        let entries = std::fs::read_dir(base.path()).unwrap();
        entries.filter(|entry| entry.as_ref().unwrap().path().join("work.ron").is_file()).count()
    };
    // Written on a thread of its own: wait for the disk, not for the clock.
    while work() == 0 {
        harness.step();
        std::thread::yield_now();
    }
    let units = session(&harness).project().units;
    assert!(recovery::left_behind(base.path()).is_empty(), "it still runs");
    drop(harness);

    // Put off, it is offered again; opened, it is here and not saved.
    let mut harness = show(with(), 1280.0, 800.0);
    assert!(says(&harness, "Equirow did not close properly"));
    button(&mut harness, "Decide later");
    drop(harness);
    let mut harness = show(with(), 1280.0, 800.0);
    button(&mut harness, "Open it");
    assert_eq!(session(&harness).project().units, units);
    assert!(session(&harness).is_changed());
    assert!(!says(&harness, "Equirow did not close properly"));
    assert_eq!(work(), 1, "kept by this program now");
}

/// Work that a crash left: kept below a folder, belonging to a file or to none, its lock free.
fn crashed(base: &Path, title: &str, file: Option<&Path>) {
    let mut project = files::demo();
    title.clone_into(&mut project.title.title);
    let slot = recovery::Slot::take(base).unwrap();
    let origin =
        file.map(|path| recovery::Origin { path: path.to_owned(), stamp: recovery::Stamp::of(path) });
    slot.keep(&project, origin.as_ref(), &[]).unwrap();
}

fn titles(base: &Path) -> Vec<String> {
    let found = recovery::left_behind(base);
    let mut titles: Vec<String> =
        found.iter().map(|one| one.project.as_ref().unwrap().title.title.clone()).collect();
    titles.sort();
    titles
}

fn after_crash(base: &Path) -> Harness<'static, App> {
    let session = Session::new(files::demo(), None);
    show(App::with_recovery(session, Some(base.to_owned())), 1280.0, 800.0)
}

/// Killed in the middle of a word: what stood in the field is named, and the work is there.
#[test]
fn what_was_typed_and_not_entered_is_named_after_a_crash() {
    let base = tempfile::tempdir().unwrap();
    let mut harness = after_crash(base.path());
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    button(&mut harness, "Title block");
    fill(&mut harness, "Title", "A bar that nobody");
    wait_until_kept(&mut harness, base.path());
    drop(harness);
    let mut harness = after_crash(base.path());
    let said = "Typed and not entered: Title, \"A bar that nobody\"";
    assert!(says(&harness, said));
    button(&mut harness, "Open it");
    assert!(says(&harness, said));
}

/// A form that was filled in and not started is offered like any unsaved work, and is open again as it was.
#[test]
fn a_form_that_was_filled_in_is_offered_after_a_crash() {
    let base = tempfile::tempdir().unwrap();
    let mut harness = after_crash(base.path());
    press(&mut harness, Modifiers::COMMAND, Key::N);
    enter(&mut harness, "Rows", "17");
    wait_until_kept(&mut harness, base.path());
    drop(harness);
    let mut harness = after_crash(base.path());
    assert!(says(&harness, "left a form for a new bar"));
    button(&mut harness, "Open it");
    assert!(!session(&harness).is_changed(), "what is in hand stays in hand until the form is done");
    button(&mut harness, "Start with this bar");
    assert_eq!(session(&harness).project().bar.rows.len(), 17);

    // Given up with the form, nothing is left.
    let base = tempfile::tempdir().unwrap();
    let mut harness = after_crash(base.path());
    press(&mut harness, Modifiers::COMMAND, Key::N);
    fill(&mut harness, "Rows", "17");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    wait_until_kept(&mut harness, base.path());
    button(&mut harness, "Cancel");
    drop(harness);
    assert!(recovery::left_behind(base.path()).is_empty());
}

/// Of the form that changes a bar too, with what can't be built yet and what was typed last; the project, which is in its file,
/// is not offered besides.
#[test]
fn a_half_filled_form_over_a_saved_bar_is_open_again_after_a_crash() {
    let base = tempfile::tempdir().unwrap();
    let file = base.path().join("bar.ron");
    files::save(&file, &files::demo()).unwrap();
    let rows = files::demo().bar.rows.len();
    let mut harness =
        show(App::with_recovery(Session::open(&file).unwrap(), Some(base.path().to_owned())), 1280.0, 800.0);
    ask_for(&mut harness, "Change the bar");
    // Sections as wide as they are can't have so few rows.
    enter(&mut harness, "Rows", "24");
    assert!(says(&harness, "Can't be taken yet"));
    fill(&mut harness, "Row spacing", "1 furlong");
    while !kept_texts(base.path()).iter().any(|text| text.contains("furlong")) {
        harness.step();
        std::thread::yield_now();
    }
    drop(harness);
    assert_eq!(kept_works(base.path()), 1, "and no copy of what is in the file");

    let mut harness = after_crash(base.path());
    // The thread that wrote may hold the place a moment longer.
    while !says(&harness, "Equirow did not close properly") {
        harness.step();
    }
    assert!(says(&harness, "left a form that changes the bar of"));
    button(&mut harness, "Open it");
    assert_eq!(session(&harness).path(), Some(file.as_path()));
    assert!(!session(&harness).is_changed(), "the project is as it is in its file");
    assert_eq!(session(&harness).project().bar.rows.len(), rows);
    assert!(says(&harness, "Typed and not entered: Row spacing, \"1 furlong\""));
    assert!(says(&harness, "Can't be taken yet"), "24 rows, as they were entered");
    wait_until_kept(&mut harness, base.path());
    button(&mut harness, "Cancel");
    harness.step();
    drop(harness);
    assert!(recovery::left_behind(base.path()).is_empty());
}

/// A form over work that is in no file: one offer brings back both.
#[test]
fn a_form_over_unsaved_work_comes_back_with_it_in_one_offer() {
    let base = tempfile::tempdir().unwrap();
    let mut harness = after_crash(base.path());
    press(&mut harness, Modifiers::COMMAND, Key::U);
    let units = session(&harness).project().units;
    wait_for_kept(&mut harness, base.path(), 1);
    ask_for(&mut harness, "Change the bar");
    enter(&mut harness, "Rows", "24");
    wait_for_kept(&mut harness, base.path(), 2);
    drop(harness);
    let mut harness = after_crash(base.path());
    button(&mut harness, "Open it");
    assert_eq!(session(&harness).project().units, units);
    assert!(session(&harness).is_changed());
    assert!(harness.query_all_by_label("Change the bar").count() > 0);
    button(&mut harness, "Cancel");
    harness.step();
    assert!(!says(&harness, "Equirow did not close properly"), "the same work once more");
    drop(harness);
    assert_eq!(recovery::left_behind(base.path()).len(), 1);
}

/// A program that was killed may hold its place for a moment: the offer comes as soon as it is free.
#[test]
fn a_place_that_is_still_held_at_the_start_is_looked_at_again_soon() {
    let base = tempfile::tempdir().unwrap();
    let slot = recovery::Slot::take(base.path()).unwrap();
    slot.keep(&files::demo(), None, &[]).unwrap();
    let app = App::with_recovery(Session::new(files::demo(), None), Some(base.path().to_owned()));
    let mut harness = show(app.with_example_in_hand(true), 1280.0, 800.0);
    assert!(!says(&harness, "Equirow did not close properly"));
    drop(slot);
    // A quarter of a second each.
    for _ in 0..6 {
        harness.step();
    }
    assert!(says(&harness, "Equirow did not close properly"));
    assert!(!says(&harness, "Start a new bar"), "the card of what to start from waits");
    button(&mut harness, "Open it");
    assert!(!says(&harness, "Equirow did not close properly"));
}

#[test]
fn both_keys_for_redo_redo() {
    let mut harness = open_demo();
    let before = session(&harness).project().units;
    for (modifiers, key) in [(Modifiers::COMMAND, Key::Y), (Modifiers::COMMAND | Modifiers::SHIFT, Key::Z)] {
        press(&mut harness, Modifiers::COMMAND, Key::U);
        press(&mut harness, Modifiers::COMMAND, Key::Z);
        assert_eq!(session(&harness).project().units, before);
        assert!(says(&harness, "Undone: Switch units"), "what was taken back is named");
        press(&mut harness, modifiers, key);
        assert_ne!(session(&harness).project().units, before, "{key:?}");
        assert!(says(&harness, "Redone: Switch units"), "{key:?}");
        press(&mut harness, Modifiers::COMMAND, Key::Z);
    }
}

/// A command by its name, from the list of all.
fn ask_for(harness: &mut Harness<'static, App>, name: &str) {
    press(harness, Modifiers::COMMAND, Key::K);
    fill(harness, "Find a command", name);
    press(harness, Modifiers::NONE, Key::Enter);
}

fn kept_works(base: &Path) -> usize {
    kept_texts(base).len()
}

fn kept_texts(base: &Path) -> Vec<String> {
    let folders = std::fs::read_dir(base).unwrap().flatten();
    folders.filter_map(|folder| std::fs::read_to_string(folder.path().join("work.ron")).ok()).collect()
}

/// Until the program has kept something: the harness moves its own clock, and the disk is waited for.
fn wait_until_kept(harness: &mut Harness<'static, App>, base: &Path) {
    wait_for_kept(harness, base, 1);
}

fn wait_for_kept(harness: &mut Harness<'static, App>, base: &Path, works: usize) {
    while kept_works(base) < works {
        assert!(!says(harness, "is not kept"), "it would be waited for in vain");
        harness.step();
        std::thread::yield_now();
    }
}

/// What was left behind is nowhere else: deleting it is asked about.
#[test]
fn deleting_what_was_left_behind_is_confirmed() {
    let base = tempfile::tempdir().unwrap();
    crashed(base.path(), "one", None);
    let mut harness = after_crash(base.path());
    button(&mut harness, "Delete it…");
    button(&mut harness, "Keep it");
    assert!(says(&harness, "Equirow did not close properly"));
    button(&mut harness, "Delete it…");
    button(&mut harness, "Delete for good");
    assert!(!says(&harness, "Equirow did not close properly"));
    drop(harness);
    assert!(recovery::left_behind(base.path()).is_empty());
}

/// Two works left by crashes: the second waits until the first is in a file or given up, and neither is ever nowhere.
#[test]
fn recovered_work_never_takes_the_place_of_recovered_work() {
    let base = tempfile::tempdir().unwrap();
    crashed(base.path(), "one", None);
    crashed(base.path(), "two", None);
    assert_eq!(titles(base.path()), ["one", "two"]);
    let mut harness = after_crash(base.path());
    button(&mut harness, "Open it");
    let first = session(&harness).project().title.title.clone();
    assert!(!says(&harness, "Equirow did not close properly"), "the next waits");
    // A crash now: both are still there.
    drop(harness);
    assert_eq!(titles(base.path()), ["one", "two"]);

    // Saved, the next is offered; given up by name, too.
    let mut harness = after_crash(base.path());
    button(&mut harness, "Open it");
    let opened = session(&harness).project().title.title.clone();
    press(&mut harness, Modifiers::COMMAND, Key::S);
    fill(&mut harness, "File", base.path().join("saved.ron").to_str().unwrap());
    button(&mut harness, "Save");
    assert!(says(&harness, "Equirow did not close properly"), "the next is offered");
    button(&mut harness, "Open it");
    let next = session(&harness).project().title.title.clone();
    assert_ne!(opened, next);
    assert!([&opened, &next].contains(&&first));
    press(&mut harness, Modifiers::COMMAND, Key::O);
    assert!(says(&harness, &format!("The last changes to {next}")), "given up by name");
    button(&mut harness, "Do not save");
    fill(&mut harness, "File", base.path().join("saved.ron").to_str().unwrap());
    button(&mut harness, "Open");
    drop(harness);
    assert!(titles(base.path()).is_empty());
    assert_eq!(files::open(&base.path().join("saved.ron")).unwrap().title.title, opened);
}

/// Where the work can't be kept in the program's own place, it stays where it was found.
#[cfg(unix)]
#[test]
fn recovered_work_stays_where_it_was_found_until_it_is_safe() {
    let base = tempfile::tempdir().unwrap();
    crashed(base.path(), "one", None);
    let mut harness = after_crash(base.path());
    // Its own place is gone, as on a disk that was taken out: nothing can be written there.
    for entry in std::fs::read_dir(base.path()).unwrap() {
        let folder = entry.unwrap().path();
        if !folder.join("work.ron").is_file() {
            std::fs::remove_dir_all(folder).unwrap();
        }
    }
    button(&mut harness, "Open it");
    assert!(says(&harness, "Unsaved work is not kept here, only where it was found"));
    drop(harness);
    assert_eq!(titles(base.path()), ["one"], "a crash loses nothing");
    // Saved, it goes.
    let mut harness = after_crash(base.path());
    button(&mut harness, "Open it");
    press(&mut harness, Modifiers::COMMAND, Key::S);
    fill(&mut harness, "File", base.path().join("saved.ron").to_str().unwrap());
    button(&mut harness, "Save");
    harness.step();
    drop(harness);
    assert!(titles(base.path()).is_empty());
}

#[test]
fn after_a_crash_a_colleagues_change_is_not_saved_over_unasked() {
    let base = tempfile::tempdir().unwrap();
    let file = base.path().join("bar.ron");
    files::save(&file, &files::demo()).unwrap();
    crashed(base.path(), "mine", Some(&file));
    let mut theirs = files::demo();
    theirs.title.title = "a colleague's".to_owned();
    files::save(&file, &theirs).unwrap();
    let mut harness = after_crash(base.path());
    button(&mut harness, "Open it");
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(says(&harness, "The file has changed"));
    assert_eq!(files::open(&file).unwrap(), theirs);
    button(&mut harness, "Save over it");
    assert_eq!(files::open(&file).unwrap().title.title, "mine");

    // Nobody else changed it: nothing is asked.
    crashed(base.path(), "mine again", Some(&file));
    let mut harness = after_crash(base.path());
    button(&mut harness, "Open it");
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(!says(&harness, "The file has changed"));
    assert_eq!(files::open(&file).unwrap().title.title, "mine again");
}

/// Said in a line of its own as long as it holds, whatever else is said meanwhile.
#[test]
fn work_that_is_not_kept_is_said_as_long_as_that_holds() {
    let start = |base| show(App::with_recovery(Session::new(files::demo(), None), base), 1280.0, 800.0);
    let mut harness = start(None);
    assert!(says(&harness, "Unsaved work is not kept: no folder"));
    press(&mut harness, Modifiers::COMMAND, Key::Y);
    assert!(says(&harness, "Unsaved work is not kept: no folder"));

    // A file stands where the folder should be.
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path().join("state");
    std::fs::write(&base, "in the way").unwrap();
    let mut harness = start(Some(base.clone()));
    let said = format!("Unsaved work is not kept: {}", base.display());
    assert!(says(&harness, &said));
    std::fs::remove_file(&base).unwrap();
    press(&mut harness, Modifiers::COMMAND, Key::U);
    for _ in 0..80 {
        harness.step();
    }
    assert!(!says(&harness, "Unsaved work is not kept"), "it holds no more");

    // Keeping fails, and goes on as soon as it can.
    for entry in std::fs::read_dir(&base).unwrap() {
        std::fs::remove_dir_all(entry.unwrap().path()).unwrap();
    }
    press(&mut harness, Modifiers::COMMAND, Key::U);
    harness.state_mut().session.edit("Name", [Edit::SetTitle(equirow::plan::TitleBlock::default())]).unwrap();
    for _ in 0..2000 {
        harness.step();
        if says(&harness, "Unsaved work is not kept") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    assert!(says(&harness, "Unsaved work is not kept"));
    press(&mut harness, Modifiers::COMMAND, Key::Y);
    assert!(says(&harness, "Unsaved work is not kept"));
}

/// A file that was named at the start and can't be opened is said in the window, with ways on.
#[test]
fn a_file_that_can_not_be_opened_is_said_in_the_window() {
    let problems: Vec<String> =
        (0..400).map(|line| format!("bar.ron: line {line}: wrong; mend it")).collect();
    for (height, name) in [(600.0, "Open another…"), (800.0, "Start from the example"), (600.0, "Quit")] {
        let app = App::new(Session::new(files::demo(), None))
            .with_unreadable("/home/me/bar.ron".into(), problems.join("\n"));
        let mut harness = show(app, 900.0, height);
        assert!(says(&harness, "The file can't be opened") && says(&harness, "line 0: wrong"));
        for name in ["Open another…", "Start from the example", "Quit"] {
            let rect = harness.get_by_role_and_label(Role::Button, name).rect();
            assert!(rect.max.y < height && rect.min.y > 0.0, "{name} is on the screen: {rect:?}");
        }
        button(&mut harness, name);
        assert!(!says(&harness, "The file can't be opened"));
        assert_eq!(says(&harness, "Open a project"), name == "Open another…");
        assert_eq!(session(&harness).path(), None, "nothing can be saved over the broken file by mistake");
    }
}

#[test]
fn a_file_changed_by_someone_else_is_not_saved_over_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    files::save(&file, &files::demo()).unwrap();
    let mut harness = open(Session::open(&file).unwrap());
    press(&mut harness, Modifiers::COMMAND, Key::U);
    let other = std::fs::read_to_string(&file).unwrap() + "\n\n";
    std::fs::write(&file, &other).unwrap();
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(says(&harness, "The file has changed"));
    button(&mut harness, "Cancel");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), other);
    assert!(session(&harness).is_changed());
    press(&mut harness, Modifiers::COMMAND, Key::S);
    button(&mut harness, "Save over it");
    assert!(!session(&harness).is_changed());
    assert_ne!(std::fs::read_to_string(&file).unwrap(), other);
}

/// Whatever is answered, what is nowhere but here is unsaved from then on, edited here or not.
#[test]
fn work_whose_file_was_changed_by_someone_else_is_not_left_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    let theirs = {
        let mut project = files::demo();
        project.title.title = "Another bar".to_owned();
        project
    };
    let asks = |harness: &mut crate::support::Window| {
        assert!(session(harness).is_changed());
        press(harness, Modifiers::COMMAND, Key::Q);
        assert!(says(harness, "Do not save"));
    };
    // On a save, and it is left at that.
    files::save(&file, &files::demo()).unwrap();
    let mut harness = open(Session::open(&file).unwrap());
    files::save(&file, &theirs).unwrap();
    press(&mut harness, Modifiers::COMMAND, Key::S);
    button(&mut harness, "Cancel");
    asks(&mut harness);
    drop(harness);

    // On coming back to the window, and what is here is kept; or Esc is pressed.
    for keep in [true, false] {
        files::save(&file, &files::demo()).unwrap();
        let mut harness = open(Session::open(&file).unwrap());
        files::save(&file, &theirs).unwrap();
        for focused in [false, true] {
            harness.input_mut().focused = focused;
            harness.run();
        }
        assert!(says(&harness, "The file has changed"));
        // There is nothing to discard yet.
        assert!(says(&harness, "Open it as it is now"));
        if keep {
            button(&mut harness, "Keep what is here");
        } else {
            press(&mut harness, Modifiers::NONE, Key::Escape);
        }
        asks(&mut harness);
    }
}

#[test]
fn save_as_asks_before_it_replaces_another_file_and_never_for_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let (own, other) = (at("own.ron"), at("other.ron"));
    files::save(&own, &files::demo()).unwrap();
    let mut theirs = files::demo();
    theirs.title.title = "Another bar".to_owned();
    files::save(&other, &theirs).unwrap();
    let before = std::fs::read(&other).unwrap();
    let mut harness = open(Session::open(&own).unwrap());
    let save_as = |harness: &mut crate::support::Window, path: &str| {
        press(harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
        fill(harness, "File", path);
        button(harness, "Save");
    };
    // Its own file is saved at once.
    press(&mut harness, Modifiers::COMMAND, Key::U);
    save_as(
        &mut harness,
        folder.path().join("..").join(folder.path().file_name().unwrap()).join("own.ron").to_str().unwrap(),
    );
    assert!(!session(&harness).is_changed());

    // The ending that is added counts: `other` is other.ron.
    press(&mut harness, Modifiers::COMMAND, Key::U);
    save_as(&mut harness, at("other").to_str().unwrap());
    assert!(says(&harness, "other.ron is an Equirow project, \"Another bar\", saved "));
    button(&mut harness, "Cancel");
    assert_eq!(std::fs::read(&other).unwrap(), before);
    assert!(session(&harness).is_changed());

    // Changed between question and answer: asked again.
    save_as(&mut harness, other.to_str().unwrap());
    std::fs::write(&other, "notes of somebody's").unwrap();
    button(&mut harness, "Replace");
    assert!(says(&harness, "other.ron is there already, and not from Equirow"));
    assert_eq!(std::fs::read(&other).unwrap(), b"notes of somebody's");
    button(&mut harness, "Replace");
    assert_eq!(session(&harness).path(), Some(other.as_path()));
    assert_eq!(files::open(&other).unwrap(), *session(&harness).project());

    // Its own file too, once somebody else has changed it.
    let changed = std::fs::read_to_string(&other).unwrap() + "\n\n";
    std::fs::write(&other, &changed).unwrap();
    save_as(&mut harness, other.to_str().unwrap());
    assert!(says(&harness, "Replace it?"));
    button(&mut harness, "Cancel");
    assert_eq!(std::fs::read_to_string(&other).unwrap(), changed);
}

#[test]
fn both_slopes_are_live_controls() {
    let mut harness = open_demo();
    enter(&mut harness, "Fore-aft slope, nose up", "8");
    assert!((session(&harness).point().fore_aft_slope.si() - 0.08f64.atan()).abs() < 1e-9);
    assert!(!session(&harness).is_changed(), "looking changes no project");
    harness
        .state_mut()
        .session
        .edit("Rate", [Edit::SetUnits(equirow::quantities::UnitSystem::Metric)])
        .unwrap();
    assert!((session(&harness).point().fore_aft_slope.si() - 0.08f64.atan()).abs() < 1e-9);
}

/// The curves against a solve of their own at each speed, and nothing computed while they are not shown.
#[test]
fn pressures_and_evenness_are_plotted_over_ground_speed() {
    let mut harness = open_demo();
    assert!(harness.state().speeds.curve().is_empty());
    press(&mut harness, Modifiers::SHIFT, Key::P);
    assert!(says(&harness, "Pressure against ground speed; Pump:"));
    let project = session(&harness).project().clone();
    let curve = harness.state().speeds.curve().to_vec();
    assert_eq!(curve.first().unwrap().speed, project.duties.first().slowest);
    assert!((curve.last().unwrap().speed - project.duties.first().fastest).abs().si() < 1e-12);
    for at in curve.iter().step_by(8) {
        let point = equirow::plan::OperatingPoint { speed: at.speed, ..project.duties.first().usual_point() };
        let outcome = equirow::hydraulics::solve(&project, &project.routings[0], &point);
        assert_eq!(at.pump, outcome.numbers().map(|one| one.pump_pressure));
        assert_eq!(at.cv, outcome.evenness().map(|one| one.cv));
    }
    // Another speed looked at is no reason to compute anything, a changed plan is; hidden again, nothing is.
    harness.state_mut().session.look_at_speed(project.duties.first().fastest);
    harness.run_ok();
    assert_eq!(harness.state().speeds.curve(), curve);
    let hoses: Vec<Subject> =
        session(&harness).routing().runs.iter().map(|run| Subject::Run(run.id)).collect();
    let slack = PropertyValue::Number(0.3);
    harness.state_mut().session.set(Property::Slack, &hoses, slack).unwrap();
    harness.run_ok();
    assert_ne!(harness.state().speeds.curve(), curve);
    press(&mut harness, Modifiers::COMMAND, Key::U);
    assert!(says(&harness, "psi"));
    press(&mut harness, Modifiers::SHIFT, Key::P);
    assert!(!says(&harness, "Pressure against ground speed"));
}

/// Evenness over fewer than all rows says so beside its curve.
#[test]
fn curves_over_fewer_rows_say_over_how_many() {
    let mut project = files::demo();
    let feeds = &mut project.routings[0].feeds;
    feeds.truncate(feeds.len() - 1);
    for (project, says_so) in [(files::demo(), false), (project, true)] {
        let mut harness = open(Session::new(project, None));
        press(&mut harness, Modifiers::SHIFT, Key::P);
        assert!(!harness.state().speeds.curve().is_empty());
        assert_eq!(says(&harness, "CV and largest deviation are over 39 of 40 rows"), says_so);
    }
}

/// Whoever hears the names must be able to tell the controls of one view apart.
#[test]
fn no_two_controls_of_a_view_share_a_name() {
    let mut found = Vec::new();
    let mut check = |harness: &Harness<'static, App>, view: &str| {
        let mut names: Vec<String> = harness
            .query_all_by(|node| crate::names::acts(node.role()))
            .map(|node| {
                format!(
                    "{:?} {}",
                    node.accesskit_node().role(),
                    node.accesskit_node().label().unwrap_or_default()
                )
            })
            .collect();
        names.sort();
        for pair in names.windows(2).filter(|pair| pair[0] == pair[1]) {
            found.push(format!("{view}: {}", pair[0]));
        }
    };
    let mut harness = open_demo();
    check(&harness, "start");
    let routing = session(&harness).routing().clone();
    let row = session(&harness).project().bar.rows[3].id;
    let mut subjects: Vec<Subject> = routing.parts.iter().map(|part| Subject::Part(part.id)).collect();
    subjects.extend(routing.runs.iter().map(|run| Subject::Run(run.id)));
    subjects.extend([Subject::Row(row), Subject::Feed(routing.feeds[0].id)]);
    for subject in subjects {
        harness.state_mut().session.select([subject]);
        harness.run_ok();
        check(&harness, &session(&harness).tag_of(subject));
    }
    press(&mut harness, Modifiers::COMMAND, Key::T);
    for table in ["Table of hoses", "Table of row feeds", "Table of rows", "Table of parts"] {
        button(&mut harness, table);
        check(&harness, table);
    }
    press(&mut harness, Modifiers::COMMAND, Key::T);
    press(&mut harness, Modifiers::COMMAND, Key::B);
    check(&harness, "the form of the bar");
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn the_help_holds_the_guide_the_keys_and_the_cautions() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::NONE, Key::F1);
    // By the action a screen reader asks for, whatever is scrolled away.
    let unfold = |harness: &mut Window, heading: &str| {
        harness.get_by_role_and_label(Role::DisclosureTriangle, heading).click_accesskit();
        harness.run_ok();
    };
    for caution in equirow::window::help::CAUTIONS {
        harness.get_by_label(caution);
    }
    unfold(&mut harness, "Keys");
    for entry in TABLE.iter().filter(|entry| entry.keys.is_some()) {
        assert!(says(&harness, entry.label), "{}", entry.label);
    }
    unfold(&mut harness, "Keys");
    for topic in equirow::session::guide::topics() {
        unfold(&mut harness, &topic.heading);
        assert!(says(&harness, &topic.paragraphs[0]), "{}", topic.heading);
        unfold(&mut harness, &topic.heading);
    }
}

#[test]
fn sections_are_given_in_rows() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::N);
    button(&mut harness, "5 sections");
    enter(&mut harness, "Rows of each section", "6, 8, 12");
    assert!(!says(&harness, "not a list of rows"));
    enter(&mut harness, "Rows of each section", "6, 8, 12, 8");
    assert!(says(&harness, "4 sections; give an odd number"));
    enter(&mut harness, "Rows of each section", "six");
    assert!(says(&harness, "not a list of rows"));
    enter(&mut harness, "Rows of each section", "6, 8, 12, 8, 6 rows");
    assert!(!says(&harness, "not a list of rows"));
    button(&mut harness, "Start with this bar");
    let bar = &session(&harness).project().bar;
    let mut sections: Vec<_> = bar.sections.iter().collect();
    sections.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
    let rows: Vec<usize> = sections
        .iter()
        .map(|section| bar.rows.iter().filter(|row| row.section == section.id).count())
        .collect();
    assert_eq!(rows, [6, 8, 12, 8, 6]);
}

/// Rails at 0.9 m folded over about a line at 0.9 m lie in each other; about one at 1 m they lie 0.2 m apart (by hand). It is
/// said at the hinge, and the bar is drawn and can be taken all the same.
#[test]
fn wings_that_fold_into_each_other_are_said_at_their_hinge() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::N);
    button(&mut harness, "5 sections");
    let told = "outer wing left folds into inner wing left: the frames run";
    fill(&mut harness, "Hinge height of outer wing", "1");
    assert!(!says(&harness, told));
    fill(&mut harness, "Hinge height of outer wing", "0.9");
    assert!(says(&harness, told));
    button(&mut harness, "Start with this bar");
    assert_eq!(session(&harness).project().bar.sections.len(), 5);
}

/// Tab goes on from the last width to what comes next, and on from there.
#[test]
fn focus_goes_on_after_the_last_section_width() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::N);
    button(&mut harness, "5 sections");
    fill(&mut harness, "Outer wing", "1.8");
    press(&mut harness, Modifiers::NONE, Key::Tab);
    let focused = |harness: &Harness<'static, App>| {
        harness
            .query_all_by(|node| node.is_focused())
            .filter_map(|node| node.accesskit_node().label())
            .collect::<Vec<_>>()
    };
    let first = focused(&harness);
    press(&mut harness, Modifiers::NONE, Key::Tab);
    let second = focused(&harness);
    assert_eq!(first, ["Divide evenly"], "then {second:?}");
    assert_eq!(second, ["Hinge height of inner wing"]);
}

/// A project in no file is offered a name made from its title, and a click beside the dialog is no answer.
#[test]
fn saving_offers_a_name_and_a_click_beside_it_does_not_close_it() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(says(&harness, "Save the project"));
    let field = harness.get_by_role_and_label(Role::TextInput, "File");
    let offered = field.accesskit_node().value().unwrap();
    let offered = Path::new(&offered);
    assert!(offered.extension().is_some_and(|ending| ending == "ron") && offered.file_stem().is_some());
    assert!(!harness.get_by_role_and_label(Role::Button, "Save").accesskit_node().is_disabled());
    let corner = eframe::egui::pos2(20.0, 780.0);
    harness.hover_at(corner);
    harness.drag_at(corner);
    harness.drop_at(corner);
    harness.run_ok();
    assert!(says(&harness, "Save the project"));
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(!says(&harness, "Save the project"));
}

#[test]
fn a_finding_is_hidden_for_a_reason_shown_with_it_and_brought_back() {
    let mut project = files::demo();
    project.duties.first_mut().liquid.viscosity_source = equirow::plan::Source::Assumed;
    project.duties.first_mut().liquid.density_source = equirow::plan::Source::Assumed;
    project.title.creator = "D. Ealer".to_owned();
    let hide = format!(
        "Hide finding: Liquid {}, density and viscosity are assumed",
        project.duties.first().liquid.name
    );
    let mut harness = crate::support::open_project(project);
    let all = session(&harness).findings().len();
    // A list below the drawing that may be longer than its place.
    let press_in_list = |harness: &mut Harness<'static, App>, name: &str| {
        harness.get_by_label(name).scroll_to_me();
        harness.run_ok();
        harness.get_by_label(name).click();
        harness.run_ok();
    };
    press_in_list(&mut harness, &hide);
    button(&mut harness, "Accepted for this bar");
    let hidden = session(&harness).project().dismissed.clone();
    assert_eq!((hidden.len(), session(&harness).findings().len()), (1, all - 1));
    assert_eq!((hidden[0].reason.as_str(), hidden[0].by.as_str()), ("Accepted for this bar", "D. Ealer"));
    assert_eq!(session(&harness).undo_name(), Some("Hide a finding"));

    press_in_list(&mut harness, "Hidden findings");
    let words = format!(
        "Show again: assumed liquid, routing {}: Accepted for this bar; D. Ealer",
        session(&harness).routing().name
    );
    press_in_list(&mut harness, &words);
    assert_eq!(session(&harness).findings().len(), all);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(session(&harness).project().dismissed, hidden, "undone, it is hidden again");
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(session(&harness).project().dismissed.is_empty());

    // In one's own words: the field has the cursor at once, and no letter is taken for the key of a command.
    press_in_list(&mut harness, &hide);
    let tool = session(&harness).tool().clone();
    for (key, letter) in [(Key::J, "j"), (Key::U, "u"), (Key::S, "s"), (Key::T, "t")] {
        harness.key_press(key);
        harness.event(eframe::egui::Event::Text(letter.to_owned()));
        harness.run_ok();
    }
    assert_eq!(*session(&harness).tool(), tool, "a letter of the reason took up a tool");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(session(&harness).project().dismissed[0].reason, "just");
    assert_eq!(session(&harness).undo_name(), Some("Hide a finding"));
}

/// The choices of the pump's control stand within the details, whose column is narrower than all of them in one line.
#[test]
fn the_details_of_the_project_are_no_wider_than_their_panel() {
    let harness = open_demo();
    let is_choice = |label: Option<String>| label.is_some_and(|label| label == "Constant pressure");
    let found: Vec<_> = harness.query_all_by(|node| is_choice(node.label())).collect();
    assert!(!found.is_empty());
    for node in found {
        let rect = node.rect();
        assert!(rect.max.x <= 1280.0 - 10.0, "{rect:?}");
    }
}
