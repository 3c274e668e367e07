//! The window on small screens and at large scales: nothing runs out of it, everything can be reached.

use std::collections::BTreeSet;

use crate::support::{Window, open_demo, press, says, show};
use crate::views::VIEWS;
use eframe::egui::{Key, Modifiers, Rect, Shape, accesskit::Role, epaint::ClippedShape};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use equirow::files;
use equirow::plan::{Duty, DutyId};
use equirow::session::Session;
use equirow::window::app::App;

/// Points of 1920 × 1080 pixels at a scale of 2.
const SMALL: [f32; 2] = [960.0, 540.0];
/// Points of 1920 × 1080 pixels at 1.5, which is a small laptop at 1 as well.
const LAPTOP: [f32; 2] = [1280.0, 720.0];
/// Points of 1920 × 1080 pixels at 1.25.
const MIDDLE: [f32; 2] = [1536.0, 864.0];
/// What rounding to whole points may cost, points.
const NEAR: f32 = 1.5;

fn is_control(role: Role) -> bool {
    matches!(
        role,
        Role::Button
            | Role::TextInput
            | Role::MultilineTextInput
            | Role::Slider
            | Role::ComboBox
            | Role::CheckBox
    )
}

fn controls_out_of(window: &Window, room: Rect) -> Vec<String> {
    let room = room.expand(NEAR);
    window
        .query_all_by(|node| is_control(node.role()))
        .filter(|node| !room.contains_rect(node.rect()))
        .map(|node| format!("{:?}", node.accesskit_node().label().or_else(|| node.accesskit_node().value())))
        .collect()
}

/// Words that are cut at the left or the right, or by the end of the window. A name may be longer than its field, in which
/// one moves along; a number may not.
fn cut_words(window: &Window, room: Rect) -> Vec<String> {
    let mut cut = Vec::new();
    // Tables are scrolled to both sides.
    let tables: Vec<Rect> =
        window.query_all_by(|node| node.role() == Role::Table).map(|node| node.rect().expand(8.0)).collect();
    for ClippedShape { clip_rect, shape, .. } in &window.output().shapes {
        if !tables.iter().any(|table| table.contains_rect(*clip_rect)) {
            collect(shape, *clip_rect, room, &mut cut);
        }
    }
    let fields: Vec<String> = window
        .query_all_by(|node| matches!(node.role(), Role::TextInput | Role::MultilineTextInput))
        .filter_map(|node| node.accesskit_node().value())
        .filter(|text| text.chars().any(char::is_alphabetic))
        .collect();
    cut.retain(|words| !fields.contains(words));
    cut
}

fn collect(shape: &Shape, clip: Rect, room: Rect, cut: &mut Vec<String>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| collect(shape, clip, room, cut)),
        Shape::Text(text) => {
            let rect = text.galley.mesh_bounds.translate(text.pos.to_vec2());
            let seen = clip.intersect(room).expand(NEAR);
            // What has been scrolled out of sight is no cut word.
            if text.angle != 0.0 || !rect.is_positive() || !seen.shrink(2.0 * NEAR).intersects(rect) {
                return;
            }
            let below = rect.bottom() > room.bottom() + NEAR && clip.bottom() > room.bottom();
            if rect.left() < seen.left() || rect.right() > seen.right() || below {
                cut.push(text.galley.text().to_owned());
            }
        }
        _ => {}
    }
}

/// Scrolls to every control that is out of sight: those that do not come into the window.
fn out_of_reach(window: &mut Window) -> Vec<String> {
    let room = window.ctx.content_rect();
    let names: BTreeSet<String> = controls_out_of(window, room).into_iter().collect();
    let mut lost = Vec::new();
    for name in names {
        let found = window.query_all_by(|node| is_control(node.role())).find(|node| {
            let own = node.accesskit_node().label().or_else(|| node.accesskit_node().value());
            format!("{own:?}") == name && !room.expand(NEAR).contains_rect(node.rect())
        });
        // Another one may have brought it along.
        let Some(found) = found else { continue };
        found.scroll_to_me();
        window.run_ok();
        if controls_out_of(window, room).contains(&name) {
            lost.push(name);
        }
    }
    lost
}

/// What runs out of the window or can't be reached, each with where that is.
fn faults(window: &mut Window, what: &str) -> Vec<String> {
    let room = window.ctx.content_rect();
    let cut = cut_words(window, room).into_iter().map(|words| format!("{what}: {words:?} is cut"));
    let lost = out_of_reach(window).into_iter().map(|name| format!("{what}: {name} can't be reached"));
    cut.chain(lost).collect()
}

fn none(faults: &[String]) {
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_view_fits_a_screen_of_960_by_540_points() {
    let all: Vec<String> = VIEWS.iter().flat_map(|view| faults(&mut view.open(SMALL), view.name)).collect();
    none(&all);
}

#[test]
fn every_large_view_fits_a_laptop_and_a_scale_of_a_quarter_more() {
    for size in [LAPTOP, MIDDLE] {
        for name in
            ["drawing", "pressures", "details", "row-table", "comparison", "bar-form", "settings-limits"]
        {
            let view = VIEWS.iter().find(|view| view.name == name).unwrap();
            none(&faults(&mut view.open(size), &format!("{name} at {size:?}")));
        }
    }
}

#[test]
fn long_names_and_other_units_push_nothing_out_of_the_window() {
    let mut project = files::demo();
    let long = "a name that somebody has given without a thought for those who have to read it".repeat(2);
    project.title.title.clone_from(&long);
    project.routings[0].name.clone_from(&long);
    project.routings[0].note.clone_from(&long);
    project.routings[1].name = format!("{long} too");
    let duty = project.duties.iter().next().unwrap().clone();
    project.duties.put(Duty { id: DutyId(7), name: long, ..duty });
    for [width, height] in [SMALL, LAPTOP] {
        let mut window = show(App::new(Session::new(project.clone(), None)), width, height);
        press(&mut window, Modifiers::COMMAND, Key::U);
        none(&faults(&mut window, "long names"));
    }
}

#[test]
fn a_key_folds_the_panels_and_the_drawing_takes_their_room() {
    let mut window = open_demo();
    let drawing = |window: &Window| window.get_by_label("Drawing of the bar").rect().width();
    let before = drawing(&window);
    press(&mut window, Modifiers::NONE, Key::F6);
    assert!(!says(&window, "Select and move"));
    let without_tools = drawing(&window);
    assert!(without_tools > before + 100.0, "{before} to {without_tools}");
    press(&mut window, Modifiers::NONE, Key::F7);
    assert!(drawing(&window) > without_tools + 200.0);
    // What is folded can be opened with the pointer.
    for name in ["Show the tools", "Show the details"] {
        window.get_by_role_and_label(Role::Button, name).click();
        window.run_ok();
    }
    assert!((drawing(&window) - before).abs() < 1.0);
    window.get_by_role_and_label(Role::Button, "Fold the details").click();
    window.run_ok();
    assert!(drawing(&window) > before + 200.0);
}

#[test]
fn what_is_typed_in_a_panel_is_taken_before_it_is_folded() {
    let mut window = open_demo();
    crate::support::fill(&mut window, "Title", "Another bar");
    press(&mut window, Modifiers::NONE, Key::F7);
    assert_eq!(window.state().session.project().title.title, "Another bar");
}
