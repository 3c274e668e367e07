//! Names on the drawing at the size of a usual laptop: none runs into another, every part has its own, and what is out of
//! sight can be found. No display is needed.

use eframe::egui::{Key, Modifiers, Rect, accesskit::Role, vec2};
use egui_kittest::kittest::Queryable as _;
use equirow::drawing::{Detail, SceneOptions, Shape, Subject, TextRole, bar_scene};
use equirow::files::Example;
use equirow::geometry::{Point2, View};
use equirow::plan::{Project, RoutingGeometry, RoutingId};
use equirow::session::Session;
use equirow::window::app::App;
use equirow::window::canvas::paint::PlacedWords;
use equirow::window::canvas::to_screen;

use super::support::{Window, open, press, says};

/// Nearer to each other on one line two names read as one word, points; common practice, no source: about the width of a
/// letter of these words.
const APART: f32 = 5.0;

/// The parts that have a tag at the scale of a view and stand in a picture.
fn tagged(project: &Project, routing: RoutingId, rect: Rect, view: &View) -> Vec<(Subject, String)> {
    let routing = project.routing(routing).unwrap();
    let geometry = RoutingGeometry::working(project, routing);
    let options = SceneOptions { detail: Detail::at(view.scale), ..SceneOptions::default() };
    let scene = bar_scene(project, geometry.with(routing), None, &options);
    let tags = scene.items.iter().filter(|item| item.from_scale <= view.scale).filter_map(|item| {
        let Shape::Text(text) = &item.shape else { return None };
        let is_seen = rect.shrink(12.0).contains(to_screen(rect, view, text.at));
        (text.role == TextRole::Tag && is_seen)
            .then(|| (item.subject.unwrap(), text.wordings.last().unwrap().clone()))
    });
    tags.collect()
}

fn faults(what: &str, labels: &[PlacedWords], tagged: &[(Subject, String)]) -> Vec<String> {
    let mut faults = Vec::new();
    for (at, one) in labels.iter().enumerate() {
        for other in &labels[at + 1..] {
            let names = |label: &PlacedWords| matches!(label.role, TextRole::Tag | TextRole::Dimension);
            let air = if names(one) || names(other) { APART - 1.0 } else { 0.0 };
            if one.rect.expand2(vec2(air, 0.0)).intersects(other.rect) {
                faults.push(format!("{what}: {} and {} run together", one.words, other.words));
            }
        }
    }
    for (subject, tag) in tagged {
        let has_own = labels.iter().any(|label| {
            label.role == TextRole::Tag && label.subject == Some(*subject) && label.words.starts_with(tag)
        });
        if !has_own {
            faults.push(format!("{what}: {tag} has no tag"));
        }
    }
    faults
}

/// All examples, every routing, alone and in both pictures of a comparison.
#[test]
fn no_names_run_together_and_every_part_has_its_own() {
    let mut all = Vec::new();
    for example in Example::ALL {
        let project = example.project();
        for routing in project.routings.iter().map(|routing| routing.id) {
            let mut session = Session::new(project.clone(), None);
            session.show_routing(routing);
            let mut window = open(session);
            let canvas = &window.state().canvas;
            let (rect, view) = (canvas.place.unwrap(), canvas.view.unwrap());
            if canvas.labels[1].is_empty() {
                let parts = tagged(&project, routing, rect, &view);
                all.extend(faults(&format!("{example:?}"), &canvas.labels[0], &parts));
            } else {
                // In two bands a part stands in one of them.
                for labels in &canvas.labels {
                    all.extend(faults(&format!("{example:?} in two bands"), labels, &[]));
                }
            }
            press(&mut window, Modifiers::NONE, Key::C);
            let compare = &window.state().compare;
            let view = compare.view().unwrap();
            let sides = compare.pair().unwrap().sides();
            for (side, of) in sides.iter().enumerate() {
                let rect = compare.picture(side).unwrap();
                let mut parts = tagged(&project, of.routing, rect, &view);
                // Two low pictures have no room for the tag of a gauge beside that of the manifold under it.
                let routing = project.routing(of.routing).unwrap();
                let is_mounted = |subject: &Subject| {
                    let part = routing.parts.iter().find(|part| Subject::Part(part.id) == *subject);
                    part.is_some_and(|part| part.mount.is_some())
                };
                parts.retain(|(subject, _)| !is_mounted(subject));
                assert!(!parts.is_empty());
                all.extend(faults(&format!("{example:?} compared, {side}"), compare.labels(side), &parts));
            }
        }
    }
    assert!(all.is_empty(), "{all:#?}");
}

fn select(window: &mut Window, tag: &str) -> Point2 {
    let session = &mut window.state_mut().session;
    let part = session.routing().parts.iter().find(|part| part.tag == tag).unwrap().id;
    session.select([Subject::Part(part)]);
    let at = session.geometry().anchors.part(part).unwrap().at.flat();
    window.run_ok();
    at
}

fn is_in_sight(window: &Window, at: Point2) -> bool {
    let canvas = &window.state().canvas;
    let rect = canvas.place.unwrap();
    rect.contains(to_screen(rect, &canvas.view.unwrap(), at))
}

/// A selected part that is out of sight has a mark that names it; the mark, and a key, bring it back and leave it selected.
#[test]
fn what_is_selected_and_out_of_sight_is_marked_and_comes_back() {
    let name = "Bring M1 into sight";
    for by_key in [false, true] {
        let mut window =
            super::support::show(App::new(Session::new(Example::TwelveMetre.project(), None)), 1280.0, 800.0);
        let at = select(&mut window, "M1");
        assert!(is_in_sight(&window, at) && !says(&window, name));
        for step in 0..40 {
            if !is_in_sight(&window, at) {
                break;
            }
            assert!(step < 39);
            press(&mut window, Modifiers::COMMAND, Key::ArrowRight);
        }
        assert!(says(&window, name));
        if by_key {
            press(&mut window, Modifiers::NONE, Key::Z);
        } else {
            window.get_by_role_and_label(Role::Button, name).click();
            window.run_ok();
        }
        assert!(is_in_sight(&window, at) && !says(&window, name));
        assert_eq!(window.state().session.selection().len(), 1, "it stays selected");
        // Of what nobody has selected nothing is said.
        window.state_mut().session.select([]);
        press(&mut window, Modifiers::COMMAND, Key::ArrowRight);
        assert!(!says(&window, "into sight"));
    }
}
