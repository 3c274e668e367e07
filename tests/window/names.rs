//! Whoever hears the window rather than sees it: every control of every view has a name, and no two of a view share one.

use eframe::egui::{Key, Modifiers, accesskit::Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};

use crate::catch_stories::{Story, session};
use crate::keys::things_over_the_drawing;
use crate::support::{Window, button, open_demo, press, settle};

/// Roles of what is pressed, typed into or chosen from.
pub(crate) const fn acts(role: Role) -> bool {
    matches!(
        role,
        Role::Button
            | Role::CheckBox
            | Role::ComboBox
            | Role::Slider
            | Role::SpinButton
            | Role::TextInput
            | Role::MultilineTextInput
            | Role::RadioButton
            | Role::Link
    )
}

/// Roles and names of the controls of a window, in order.
fn named(window: &Window) -> Vec<(String, String)> {
    let mut names: Vec<(String, String)> = window
        .query_all_by(|node| acts(node.role()))
        .map(|node| {
            let node = node.accesskit_node();
            (format!("{:?}", node.role()), node.label().unwrap_or_default())
        })
        .collect();
    names.sort();
    names
}

/// What is wrong with the names of a view. What lies `behind` a dialog can't be reached, and counts with the dialog for none.
fn wrong(window: &Window, view: &str, behind: &[(String, String)]) -> Vec<String> {
    let mut names = named(window);
    if window.ctx.memory(|memory| memory.top_modal_layer()).is_some() {
        for one in behind {
            if let Some(at) = names.iter().position(|name| name == one) {
                names.remove(at);
            }
        }
    }
    let nameless = names.iter().filter(|(_, name)| name.trim().is_empty());
    let mut found: Vec<String> =
        nameless.map(|(role, _)| format!("{view}: a {role} without a name")).collect();
    let twice = names.windows(2).filter(|pair| pair[0] == pair[1] && !pair[0].1.trim().is_empty());
    found.extend(twice.map(|pair| format!("{view}: two of {} \"{}\"", pair[0].0, pair[0].1)));
    found
}

fn keys(modifiers: Modifiers, key: Key) -> Window {
    let mut window = open_demo();
    press(&mut window, modifiers, key);
    settle(&mut window);
    window
}

#[test]
fn every_control_of_every_view_has_a_name_of_its_own() {
    const PLAIN: Modifiers = Modifiers::NONE;
    let mut found = Vec::new();
    for (view, modifiers, key) in [
        ("the drawing", PLAIN, Key::Escape),
        ("a comparison", PLAIN, Key::C),
        ("the folded bar", PLAIN, Key::F10),
        ("studies", PLAIN, Key::F9),
        ("speeds", Modifiers::SHIFT, Key::P),
        ("tables", Modifiers::COMMAND, Key::T),
        ("catch tests before there is one", PLAIN, Key::F4),
    ] {
        found.extend(wrong(&keys(modifiers, key), view, &[]));
    }
    for story in [Story::Sound, Story::BlockedOrifice] {
        let mut window = crate::support::open(session(story));
        press(&mut window, PLAIN, Key::F4);
        settle(&mut window);
        found.extend(wrong(&window, "a catch test", &[]));
        button(&mut window, "Calibrate");
        settle(&mut window);
        found.extend(wrong(&window, "a catch test that calibrates", &[]));
    }
    let behind = named(&open_demo());
    for over in things_over_the_drawing() {
        found.extend(wrong(&(over.open)(), over.what, &behind));
    }
    found.sort();
    found.dedup();
    assert!(found.is_empty(), "{found:#?}");
}
