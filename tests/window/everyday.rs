//! The window, driven by accessible names as a screen reader would find them. No display is needed.

use crate::support::{open_demo, press, says, show};
use eframe::egui::{self, Key, Modifiers, Pos2, Rect, accesskit::Role, vec2};
use egui_kittest::{
    Harness,
    kittest::{NodeT as _, Queryable as _},
};
use equirow::files;
use equirow::geometry::Point2;
use equirow::hydraulics::{NotFed, RowState};
use equirow::plan::{Bar, Port, PortRef, Project, RowId, StockItem, Subject};
use equirow::session::{Session, Tool};
use equirow::window::app::App;
use equirow::window::canvas::to_screen;

fn open(session: Session, width: f32, height: f32) -> Harness<'static, App> {
    show(App::new(session), width, height)
}

/// Where something on the canvas is, by the start of what a screen reader reads for it.
fn place_of(harness: &Harness<'static, App>, starts: &str) -> Pos2 {
    let node = harness.get_by(|node| {
        node.role() == Role::Button && node.label().is_some_and(|label| label.starts_with(starts))
    });
    node.rect().center()
}

fn canvas_rect(harness: &Harness<'static, App>) -> Rect {
    harness.get_by_label("Drawing of the bar").rect()
}

fn on_screen(harness: &Harness<'static, App>, at: Point2) -> Pos2 {
    to_screen(canvas_rect(harness), &harness.state().canvas.view.unwrap(), at)
}

fn click(harness: &mut Harness<'static, App>, at: Pos2) {
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    harness.drop_at(at);
    harness.run();
}

fn deviation(harness: &Harness<'static, App>, number: u32) -> f64 {
    let rows = harness.state().session.outcome().rows();
    rows.iter().find(|row| row.number == number).unwrap().deviation.unwrap().si()
}

#[test]
fn parts_hoses_and_rows_can_be_found_and_described() {
    let harness = open_demo();
    place_of(&harness, "Manifold M1");
    place_of(&harness, "Row 1,");
    place_of(&harness, "Row 40,");
    assert!(!harness.state().session.is_changed(), "opening must not change the project");
}

#[test]
fn dragging_a_manifold_changes_a_row_and_undo_brings_it_back() {
    let mut harness = open_demo();
    let (first, saved) = (deviation(&harness, 1), harness.state().session.project().clone());
    let at = place_of(&harness, "Manifold M1");
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    for step in 1..=4 {
        harness.hover_at(at + vec2(0.0, -10.0 * step as f32));
        harness.run();
    }
    // The solve follows while the button is still down.
    assert_ne!(deviation(&harness, 1), first);
    harness.drop_at(at + vec2(0.0, -40.0));
    harness.run();
    assert_eq!(harness.state().session.undo_name(), Some("Move M1"));
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(deviation(&harness, 1), first);
    assert_eq!(*harness.state().session.project(), saved);
    assert_eq!(harness.state().session.undo_name(), None, "one gesture is one step");
}

#[test]
fn arrow_keys_move_the_selected_part_and_leave_sliders_alone() {
    let mut harness = open_demo();
    let at = place_of(&harness, "Manifold M1");
    click(&mut harness, at);
    let x = |harness: &Harness<'static, App>| {
        let routing = harness.state().session.routing();
        routing.parts.iter().find(|part| part.tag == "M1").unwrap().position.x
    };
    let was = x(&harness);
    for _ in 0..3 {
        press(&mut harness, Modifiers::NONE, Key::ArrowRight);
    }
    assert!((x(&harness) - was - 0.03).abs() < 1e-9, "{}", x(&harness) - was);
    press(&mut harness, Modifiers::SHIFT, Key::ArrowLeft);
    assert!((x(&harness) - was + 0.07).abs() < 1e-9);
    assert_eq!(harness.state().session.undo_name(), Some("Move M1"));
    // Several keys of one slow frame are as many steps, in their order.
    let now = x(&harness);
    for key in [Key::ArrowRight, Key::ArrowRight, Key::ArrowLeft, Key::ArrowRight, Key::ArrowRight] {
        harness.key_press(key);
    }
    harness.run();
    assert!((x(&harness) - now - 0.03).abs() < 1e-9, "{}", x(&harness) - now);
    let now = x(&harness);
    harness
        .get_by(|node| node.role() == Role::Slider && node.label().is_some_and(|one| one == "Rate slider"))
        .focus();
    harness.run();
    press(&mut harness, Modifiers::NONE, Key::ArrowRight);
    assert_eq!(x(&harness), now, "the slider has the keys");
}

#[test]
fn a_manifold_is_placed_joined_and_given_rows() {
    // The demo's bar with nothing placed on it.
    let demo = files::demo();
    let project = Project::new(demo.bar.clone(), files::generic_catalogue());
    let mut harness = open(Session::new(project, None), 1280.0, 800.0);
    assert!(
        harness
            .state()
            .session
            .outcome()
            .rows()
            .iter()
            .all(|row| row.state == RowState::NotFed(NotFed::NoFeed))
    );

    harness.get_by_role_and_label(Role::Button, "Manifold").click();
    harness.run();
    let at = on_screen(&harness, Point2::new(0.3, 0.3));
    click(&mut harness, at);
    let manifold = harness.state().session.selected_part().expect("the new manifold is selected");
    let tag = harness.state().session.tag_of(Subject::Part(manifold));
    assert_eq!(tag, "M1");

    let hose =
        harness.state().session.project().catalogue.first(|item| matches!(item, StockItem::Hose(_))).unwrap();
    harness.state_mut().session.take(Tool::Join { stock: hose });
    let inlet = {
        let session = &harness.state().session;
        let port = PortRef { part: manifold, port: Port::In };
        session.geometry().anchors.port(port).unwrap().place.flat()
    };
    let pump = harness.state().session.project().supply.pump.flat();
    // Nearer, so that the pump is on the screen.
    press(&mut harness, Modifiers::COMMAND, Key::Minus);
    let (from, to) = (on_screen(&harness, pump), on_screen(&harness, inlet));
    click(&mut harness, from);
    click(&mut harness, to);
    assert_eq!(harness.state().session.routing().runs.len(), 1);

    press(&mut harness, Modifiers::NONE, Key::Escape);
    press(&mut harness, Modifiers::NONE, Key::W);
    let middle = place_of(&harness, "Manifold M1");
    click(&mut harness, middle);
    let rows: Vec<RowId> = demo.bar.rows.iter().skip(18).take(3).map(|row| row.id).collect();
    for row in &rows {
        let outlet = demo.bar.outlet(demo.bar.row(*row).unwrap()).flat();
        let at = on_screen(&harness, outlet);
        click(&mut harness, at);
    }
    let session = &harness.state().session;
    for row in &rows {
        let found = session.outcome().row(*row).unwrap();
        assert_eq!(found.state, RowState::Fed, "row {}", found.number);
    }
    // A metered supply gives the three rows together what they ask for, or says what is missing at its limit.
    let total: f64 = rows.iter().map(|row| session.outcome().row(*row).unwrap().flow.si()).sum();
    assert!(session.outcome().result.is_ok());
    let missing = session.outcome().at_limit().map_or(0.0, |(shortfall, _)| shortfall.si());
    assert!(((total + missing) / session.outcome().target_total.si() - 1.0).abs() < 1e-6);
}

fn type_rate(harness: &mut Harness<'static, App>, text: &str) {
    harness
        .get_by(|node| node.role() == Role::TextInput && node.value().is_some_and(|value| value == "80"))
        .focus();
    harness.run();
    press(harness, Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text(text.to_owned()));
    harness.run();
    press(harness, Modifiers::NONE, Key::Enter);
}

#[test]
fn a_number_with_a_comma_is_read_and_nonsense_is_kept_and_explained() {
    let mut harness = open_demo();
    type_rate(&mut harness, "66,6");
    let rate = harness.state().session.project().duties.first().rate.as_litres_per_hectare();
    assert!((rate - 66.6).abs() < 1e-9, "{rate}");
    press(&mut harness, Modifiers::COMMAND, Key::Z);

    for (text, answer) in [("abc", "is not a number"), ("2.5 bar", "the unit \"bar\" is not known here")] {
        let mut harness = open_demo();
        type_rate(&mut harness, text);
        assert!(says(&harness, answer), "{text} should be answered with: {answer}");
        harness
            .get_by(|node| node.role() == Role::TextInput && node.value().is_some_and(|value| value == text));
        assert!(!harness.state().session.is_changed());
    }
}

#[test]
fn units_switch_at_any_time_and_speed_buttons_look_at_speeds() {
    let mut harness = open_demo();
    harness.get_by_role_and_label(Role::Button, "Fastest").click();
    harness.run();
    let session = &harness.state().session;
    assert_eq!(session.point().speed, session.project().duties.first().fastest);
    assert!(!session.is_changed(), "looking at a speed changes no project");
    press(&mut harness, Modifiers::COMMAND, Key::U);
    assert!(says(&harness, "gal/ac"));
}

#[test]
fn unsaved_work_is_asked_about() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::U);
    press(&mut harness, Modifiers::COMMAND, Key::N);
    harness.get_by_role_and_label(Role::Button, "Do not save");
    harness.get_by_role_and_label(Role::Button, "Cancel").click();
    harness.run();
    assert!(harness.state().session.is_changed());
    assert_eq!(harness.state().session.project().title, files::demo().title);
}

#[test]
fn a_bar_without_anything_is_shown_as_not_fed() {
    let project = Project::new(Bar { ..files::demo().bar }, files::generic_catalogue());
    let harness = open(Session::new(project, None), 1280.0, 800.0);
    assert!(says(&harness, "No row is connected to the supply"));
    let row = harness.get_by(|node| {
        node.role() == Role::Button && node.label().is_some_and(|label| label.starts_with("Row 1,"))
    });
    assert!(row.accesskit_node().label().unwrap().contains("not fed"));
}
