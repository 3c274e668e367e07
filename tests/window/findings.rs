//! The findings in the window: errors in sight, words on demand, and buttons for what puts them right. Driven by accessible
//! names; no display is needed.

use crate::support::{Window, button, open_project, press, says, show};
use eframe::egui::{self, Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use equirow::checks::Severity;
use equirow::files;
use equirow::session::Session;

fn session(harness: &Window) -> &Session {
    &harness.state().session
}

/// Three rows lose their feeds on two manifolds: plugs for one of them, then undo, then for all at once.
#[test]
fn what_puts_findings_right_is_a_button_for_one_and_for_all_alike() {
    let mut project = files::demo();
    let manifold = |feed: &equirow::plan::RowFeed| feed.from.port().unwrap().part;
    let feeds = &mut project.routings[0].feeds;
    let (first, last) = (manifold(&feeds[0]), manifold(&feeds[feeds.len() - 1]));
    assert_ne!(first, last);
    let end = feeds.len() - 1;
    feeds.remove(end);
    feeds.remove(0);
    let mut harness = open_project(project);
    let open = |harness: &Window| {
        session(harness).findings().iter().filter(|one| one.kind.rule == "open port").count()
    };
    let parts = session(&harness).routing().parts.len();
    assert_eq!(open(&harness), 2);
    let place = session(&harness).findings().iter().find(|one| one.kind.rule == "open port").unwrap();
    let about = format!("{}, {}", place.place, place.what);
    button(&mut harness, &format!("Plug open outlets: {about}"));
    assert_eq!((open(&harness), session(&harness).routing().parts.len()), (1, parts + 1));
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(open(&harness), 2);
    button(&mut harness, &format!("Plug open outlets, all 2 alike: {about}"));
    assert_eq!((open(&harness), session(&harness).routing().parts.len()), (0, parts + 2));
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!((open(&harness), session(&harness).routing().parts.len()), (2, parts), "one step");
}

/// What leaves its finding, or breaks something else, says so before it is done.
#[test]
fn a_remedy_with_harm_says_what_it_leaves_and_brings_before_it_is_done() {
    let mut tried = 0;
    for name in ["twelve-metre-bar", "twenty-four-metre-bar", "nine-metre-bar", "six-metre-trial-bar"] {
        let path = format!("{}/examples/{name}.ron", env!("CARGO_MANIFEST_DIR"));
        let project = files::open(std::path::Path::new(&path)).unwrap();
        let session_alone = Session::new(project.clone(), None);
        let offered = session_alone.findings().iter().filter_map(|one| Some((one, one.remedy.as_ref()?)));
        let harmful = offered.filter_map(|(finding, remedy)| {
            let trial = session_alone.try_out(remedy).ok().filter(|trial| !trial.is_plain())?;
            Some((finding.clone(), remedy.clone(), trial))
        });
        let Some((finding, remedy, trial)) = harmful.into_iter().next() else { continue };
        tried += 1;
        let mut harness = open_project(project);
        for _ in 0..10 {
            harness.step();
        }
        let before = session(&harness).snapshot();
        let label = session(&harness).remedy_words(&remedy);
        button(&mut harness, &format!("{label}: {}, {}; not without harm", finding.place, finding.what));
        assert_eq!(*session(&harness).project(), *before, "nothing is done before it is said");
        let first = trial.leaves.first().map(|one| format!("Leaves {one}"));
        let first = first.or_else(|| Some(format!("Brings {}", trial.brings.first()?))).unwrap();
        assert!(says(&harness, &first), "{first}");
        button(&mut harness, "Do it all the same");
        assert_ne!(*session(&harness).project(), *before);
    }
    assert!(tried > 0, "no example has a remedy with harm");
}

/// However many notes there are and however far they are scrolled: errors stay, each in one line; all words on demand.
#[test]
fn errors_are_never_scrolled_out_of_sight_and_the_words_of_a_finding_come_on_demand() {
    let mut project = files::demo();
    project.routings[0].feeds.remove(0);
    let mut harness = open_project(project);
    let error = session(&harness).findings()[0].clone();
    assert_eq!(error.severity, Severity::Error);
    let text = format!("{}: {}", error.place, error.what);
    let line = |harness: &Window| harness.get_all_by_label(&text).next().unwrap().rect();
    let at = line(&harness);
    let below = at.center() + egui::vec2(0.0, 60.0);
    harness.hover_at(below);
    for _ in 0..4 {
        harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, -200.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers: Modifiers::NONE,
        });
        harness.run_ok();
    }
    assert!((line(&harness).center() - at.center()).length() < 0.5, "the error stands where it stood");
    assert!(at.height() < 24.0, "one line");
    assert!(!says(&harness, &error.advice));
    let next = session(&harness).findings()[1].clone();
    let next = format!("{}: {}", next.place, next.what);
    let place = |harness: &Window| harness.get_all_by_label(&next).next().unwrap().rect();
    let before = place(&harness);
    button(&mut harness, &format!("More about: {}, {}", error.place, error.what));
    assert!(says(&harness, &error.advice));
    assert_eq!(place(&harness), before, "the list stays where it was");
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(!says(&harness, &error.advice));
}

/// More errors than the panel of a low window holds: it stays as it was.
#[test]
fn errors_do_not_make_their_panel_grow() {
    let app = equirow::window::app::App::new(Session::new(files::demo(), None));
    let mut harness = show(app, 1280.0, 500.0);
    let before = harness.state().canvas.place.unwrap();
    let (routing, runs) = {
        let routing = session(&harness).routing();
        (routing.id, routing.runs.iter().map(|run| run.id).collect::<Vec<_>>())
    };
    let edits = runs.iter().skip(1).map(|run| equirow::plan::Edit::RemoveRun(routing, *run));
    harness.state_mut().session.edit("Remove", edits.collect::<Vec<_>>()).unwrap();
    for _ in 0..6 {
        harness.run_ok();
    }
    let errors = session(&harness).findings().iter().filter(|one| one.severity == Severity::Error).count();
    assert!(errors >= 3, "{errors}");
    let now = harness.state().canvas.place.unwrap();
    assert!((now.height() - before.height()).abs() < 1.5, "{before} to {now}");
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    let now = harness.state().canvas.place.unwrap();
    assert!((now.height() - before.height()).abs() < 1.5, "{before} to {now}");
}

/// In a comparison the findings of the routing that is worked on can be read and put right.
#[test]
fn findings_can_be_reached_in_a_comparison() {
    let mut harness = open_project(files::demo());
    let count = session(&harness).findings().len();
    press(&mut harness, Modifiers::NONE, Key::C);
    let head = format!("Findings of routing A: {count} findings");
    assert!(says(&harness, &head), "{head}");
    harness.query_all_by(|node| node.label().as_deref() == Some(&head)).last().unwrap().click();
    harness.run_ok();
    let first = session(&harness).findings()[0].clone();
    assert!(says(&harness, &format!("More about: {}, {}", first.place, first.what)));
}
