//! The folding bar: folded by slider, keys and play, looked at from each side, selected in, and held against what the road
//! allows.

use eframe::egui::accesskit::Role;
use eframe::egui::{Event, Key, Modifiers, PointerButton, pos2};
use egui_kittest::kittest::Queryable as _;
use equirow::drawing::{self, FoldRooms, SceneOptions, SeenFrom, Shape};
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

/// Where the middle of something is on the screen, from each side.
fn places(
    harness: &Window,
    subject: Subject,
    position: FoldPosition,
    side: Option<SeenFrom>,
) -> Vec<(f32, f32)> {
    let session = &harness.state().session;
    let (project, laid) = (session.project(), session.laid());
    let rooms = FoldRooms::new(project, laid, FoldSweep::of(&project.bar).positions(), side);
    let options = SceneOptions { fold: position, ..SceneOptions::default() };
    let scene = drawing::fold_scene(project, laid, None, &options, &rooms);
    let rect = harness.state().fold.picture().unwrap();
    let view = View::fit(rooms.extent, f64::from(rect.width()), f64::from(rect.height()), 14.0);
    let about = scene.items.iter().filter(|item| item.subject == Some(subject)).filter_map(|item| {
        let middle = match &item.shape {
            Shape::Text(_) => return None,
            _ => item.grow?.about,
        };
        let (x, y) = view.to_picture(middle);
        Some((rect.center().x + x as f32, rect.center().y + y as f32))
    });
    let mut found: Vec<(f32, f32)> = about.collect();
    found.dedup();
    found
}

/// Each picture has its name over its middle, above all that it may show in any position, and inside the room of the drawing.
#[test]
fn the_name_of_each_picture_stands_above_it() {
    let harness = open_demo();
    let session = &harness.state().session;
    let (project, laid) = (session.project(), session.laid());
    let rooms = FoldRooms::new(project, laid, FoldSweep::of(&project.bar).positions(), None);
    let mut names = Vec::new();
    for position in [FoldPosition::WORKING, FoldPosition::TRANSPORT] {
        let options = SceneOptions { fold: position, ..SceneOptions::default() };
        let scene = drawing::fold_scene(project, laid, None, &options, &rooms);
        let titles = scene.items.iter().filter_map(|item| match &item.shape {
            Shape::Text(text) if text.role == drawing::TextRole::Title => Some(text.clone()),
            _ => None,
        });
        let titles: Vec<_> = titles.collect();
        assert_eq!(titles.len(), 3);
        for title in &titles {
            assert!(rooms.extent.contains(title.at), "{title:?}");
            assert_eq!(title.places, [drawing::TextPlace::Above]);
        }
        names.push(titles.iter().map(|title| (title.wordings.clone(), title.at)).collect::<Vec<_>>());
    }
    assert_eq!(names[0], names[1], "they do not move as the bar folds");
}

#[test]
fn a_part_is_selected_where_it_stands_folded_from_every_side_and_shown_in_the_details() {
    let mut harness = show(equirow::window::app::App::new(Session::new(files::demo(), None)), 1920.0, 1080.0);
    let part = harness.state().session.routing().parts.iter().find(|part| part.tag == "M1").unwrap().id;
    let subject = Subject::Part(part);
    press(&mut harness, NONE, Key::F10);
    button(&mut harness, "Transport");
    for side in [None, Some(SeenFrom::Above), Some(SeenFrom::Behind), Some(SeenFrom::Right)] {
        button(&mut harness, side.map_or("All sides", SeenFrom::label));
        let found = places(&harness, subject, FoldPosition::TRANSPORT, side);
        assert_eq!(found.len(), if side.is_none() { 3 } else { 1 }, "{side:?}");
        for (x, y) in found {
            harness.state_mut().session.select([]);
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
            let selected = harness.state().session.selection().clone();
            // Folded, one part may stand over another: then the picture shows the one in front.
            assert_eq!(selected.len(), 1, "{side:?} {x} {y}");
            if side == Some(SeenFrom::Behind) {
                assert!(selected.contains(&subject), "{side:?}: {selected:?}");
                assert!(harness.query_by_label("M1").is_some() || says(&harness, "M1"));
            }
        }
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
