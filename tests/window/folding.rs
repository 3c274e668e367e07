//! The folding bar: folded by slider, keys and play, looked at from each side, selected in, and held against what the road
//! allows.

use eframe::egui::accesskit::Role;
use eframe::egui::{Event, Key, Modifiers, PointerButton, pos2};
use egui_kittest::kittest::Queryable as _;
use equirow::drawing::{self, FoldRoom, FoldedWays, SceneOptions, SeenFrom, Shape};
use equirow::files;
use equirow::geometry::{Point2, View};
use equirow::plan::{End, FoldPosition, FoldSweep, Subject};
use equirow::session::{Gesture, Session};

use crate::support::{Window, button, open_demo, press, says, show};

const NONE: Modifiers = Modifiers::NONE;

fn share(harness: &Window) -> f64 {
    harness.state().fold.position().unwrap().as_share()
}

#[test]
fn keys_buttons_and_play_fold_the_bar_and_idle_costs_no_frame() {
    let mut harness = open_demo();
    press(&mut harness, NONE, Key::F10);
    assert_eq!(share(&harness), 0.0, "opens as the bar works");
    button(&mut harness, "Transport");
    assert_eq!(share(&harness), 1.0);
    press(&mut harness, NONE, Key::Comma);
    press(&mut harness, NONE, Key::Comma);
    assert!((share(&harness) - 0.9).abs() < 1e-9);
    press(&mut harness, NONE, Key::Period);
    assert!((share(&harness) - 0.95).abs() < 1e-9);
    button(&mut harness, "Work");
    button(&mut harness, "Fold");
    for _ in 0..3 {
        harness.step();
    }
    let on_the_way = share(&harness);
    assert!(on_the_way > 0.0 && on_the_way < 1.0, "{on_the_way}");
    // It plays on by itself to the end, and stops there.
    harness.set_size(eframe::egui::vec2(1280.0, 800.0));
    for _ in 0..200 {
        harness.step();
    }
    assert_eq!(share(&harness), 1.0);
    harness.run();
    press(&mut harness, NONE, Key::Escape);
    assert!(!harness.state().fold.is_open());
}

#[test]
fn what_the_road_allows_is_entered_undone_and_told_where_it_is_exceeded() {
    let mut harness = show(equirow::window::app::App::new(Session::new(files::demo(), None)), 1500.0, 900.0);
    press(&mut harness, NONE, Key::F10);
    assert!(!says(&harness, "too wide"));
    crate::support::fill(&mut harness, "Width allowed", "3,00");
    press(&mut harness, NONE, Key::Enter);
    let width = harness.state().session.project().transport.width;
    assert_eq!(width.map(|one| one.si()), Some(3.0));
    assert!(says(&harness, "too wide"));
    crate::support::click(&mut harness, Role::Button, "Clear width allowed");
    assert!(harness.state().session.project().transport.are_missing());
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(harness.state().session.project().transport.width, width);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert!(harness.state().session.project().transport.are_missing());
}

/// Where the middle of something is on the screen in each picture that is shown, the large one first.
fn places(harness: &Window, subject: Subject, position: FoldPosition) -> Vec<(SeenFrom, f32, f32)> {
    let session = &harness.state().session;
    let (project, laid) = (session.project(), session.laid());
    let rooms = FoldRoom::all(project, laid, FoldSweep::of(&project.bar).positions());
    let options = SceneOptions { fold: position, ..SceneOptions::default() };
    let ways = FoldedWays::of(project, laid, position);
    let mut found = Vec::new();
    for (at, (seen, rect)) in harness.state().fold.pictures().iter().enumerate() {
        let room = rooms.iter().find(|room| room.seen == *seen).unwrap();
        let scene = drawing::fold_scene(project, laid, None, &options, &ways, room);
        let margin = if at == 0 { 14.0 } else { 22.0 };
        let view = View::fit(room.extent, f64::from(rect.width()), f64::from(rect.height()), margin);
        let middle = scene.items.iter().filter(|item| item.subject == Some(subject)).find_map(|item| {
            if matches!(item.shape, Shape::Text(_)) { None } else { Some(item.grow?.about) }
        });
        let (x, y) = view.to_picture(middle.unwrap());
        found.push((*seen, rect.center().x + x as f32, rect.center().y + y as f32));
    }
    found
}

fn click(harness: &mut Window, x: f32, y: f32) {
    for pressed in [true, false] {
        harness.event(Event::PointerMoved(pos2(x, y)));
        harness.event(Event::PointerButton {
            pos: pos2(x, y),
            button: PointerButton::Primary,
            pressed,
            modifiers: NONE,
        });
    }
    harness.run_ok();
}

/// One side is large, whatever the size of the window, and fills more than half of the room; a press on another one
/// changes them over.
#[test]
fn one_side_is_large_and_the_others_are_changed_over_with_it() {
    for [width, height] in [[1280.0, 800.0], [1920.0, 1080.0]] {
        let mut harness =
            show(equirow::window::app::App::new(Session::new(files::demo(), None)), width, height);
        press(&mut harness, NONE, Key::F10);
        let area = |harness: &Window| {
            let pictures = harness.state().fold.pictures();
            pictures.iter().map(|(_, rect)| rect.area()).collect::<Vec<_>>()
        };
        let areas = area(&harness);
        assert_eq!(areas.len(), 3);
        assert!(areas[0] > areas[1] + areas[2], "{areas:?}");
        let (seen, rect) = harness.state().fold.pictures()[1];
        click(&mut harness, rect.left() + 3.0, rect.bottom() - 3.0);
        assert_eq!(harness.state().fold.pictures()[0].0, seen);
        assert_eq!(harness.state().fold.pictures().len(), 3);
        button(&mut harness, "All sides");
        assert_eq!(harness.state().fold.pictures().len(), 1);
        assert!(area(&harness)[0] > areas[0]);
    }
}

#[test]
fn a_part_is_selected_where_it_stands_folded_in_the_large_picture_and_shown_in_the_details() {
    let mut harness = show(equirow::window::app::App::new(Session::new(files::demo(), None)), 1920.0, 1080.0);
    let part = harness.state().session.routing().parts.iter().find(|part| part.tag == "M1").unwrap().id;
    let subject = Subject::Part(part);
    press(&mut harness, NONE, Key::F10);
    button(&mut harness, "Transport");
    for side in SeenFrom::ALL {
        button(&mut harness, side.label());
        let found = places(&harness, subject, FoldPosition::TRANSPORT);
        assert_eq!(found.len(), 3, "{side:?}");
        assert_eq!(found[0].0, side);
        harness.state_mut().session.select([]);
        let (seen, x, y) = found[0];
        click(&mut harness, x, y);
        let selected = harness.state().session.selection().clone();
        // Folded, one part may stand over another: then the picture shows the one in front.
        assert_eq!(selected.len(), 1, "{side:?} {x} {y}");
        if seen == SeenFrom::Behind {
            assert!(selected.contains(&subject), "{side:?}: {selected:?}");
            assert!(harness.query_by_label("M1").is_some() || says(&harness, "M1"));
        }
        // A small picture is changed over wherever it is pressed, on a part too.
        harness.state_mut().session.select([]);
        let (seen, x, y) = found[1];
        click(&mut harness, x, y);
        assert!(harness.state().session.selection().is_empty(), "{side:?} {seen:?}");
        assert_eq!(harness.state().fold.pictures()[0].0, seen);
    }
}

/// A finding of the fold opens the folding bar at its position, with what it is about selected; from a comparison too.
#[test]
fn a_finding_leads_to_the_fold_position_at_which_it_holds() {
    let mut project = files::demo();
    for line in project.routings[0].runs.iter_mut().map(|run| &mut run.line) {
        line.crossings.iter_mut().for_each(|one| one.entered = Some(equirow::quantities::Length::ZERO));
    }
    for comparing in [false, true] {
        let mut harness = crate::support::open_project(project.clone());
        let findings = harness.state().session.findings();
        let found = findings.iter().find(|one| one.kind.rule == "hinge slack").unwrap().clone();
        let at = found.fold.unwrap();
        if comparing {
            press(&mut harness, NONE, Key::C);
            assert!(harness.state().compare.is_open());
            let head =
                format!("Findings of routing A: {} findings", harness.state().session.findings().len());
            harness.query_all_by(|node| node.label().as_deref() == Some(&head)).last().unwrap().click();
            harness.run_ok();
            // In a narrow list the line is for what is found.
            button(&mut harness, &format!("More about: {}, {}", found.place, found.what));
        }
        button(&mut harness, &format!("Show {}: {}, {}", at.words(), found.place, found.what));
        assert_eq!(harness.state().fold.position(), Some(at));
        assert!(!harness.state().compare.is_open());
        assert_eq!(harness.state().session.selection().len(), found.subjects.len());
    }
}

/// Half a hose is there again when the drawing is, and the folded bar has no tool meanwhile.
#[test]
fn half_a_hose_outlasts_a_look_at_the_folded_bar_and_at_two_routings() {
    let mut harness = open_demo();
    press(&mut harness, NONE, Key::H);
    let session = &mut harness.state_mut().session;
    let pump = session.end_place(&End::Supply).unwrap().flat();
    session.press(pump, None, 0.05, false).unwrap();
    session.press(Point2::new(1.0, 1.5), None, 0.05, false).unwrap();
    let half = session.gesture().clone();
    assert!(matches!(half, Gesture::Joining { .. }));
    for (key, close) in [(Key::F10, Key::F10), (Key::F10, Key::Escape), (Key::C, Key::C)] {
        press(&mut harness, NONE, key);
        press(&mut harness, NONE, close);
        assert_eq!(*harness.state().session.gesture(), half, "{key:?}, {close:?}");
    }
    // What ends it says so.
    press(&mut harness, Modifiers::COMMAND, Key::U);
    assert_eq!(*harness.state().session.gesture(), Gesture::None);
    assert!(says(&harness, "Not finished and given up: the hose that was being drawn"));
}
