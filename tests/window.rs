//! The window, driven by accessible names as a screen reader would find them. No display is needed.
#![cfg(feature = "window")]

use eframe::egui::{self, accesskit::Role, vec2};
use egui_kittest::{Harness, kittest::Queryable as _};
use equirow::files;
use equirow::session::Session;
use equirow::window::app::App;

fn open_demo(width: f32, height: f32) -> Harness<'static, App> {
    let app = App::new(Session::new(files::demo(), None));
    let mut harness = Harness::builder()
        .with_size(vec2(width, height))
        .build_ui_state(|ui, app: &mut App| app.show(ui), app);
    harness.run();
    harness
}

/// Pictures to look at: `EQUIROW_PICTURES=/tmp/pictures cargo test --test window pictures`.
#[test]
fn pictures() {
    let Some(folder) = std::env::var_os("EQUIROW_PICTURES").map(std::path::PathBuf::from) else { return };
    std::fs::create_dir_all(&folder).unwrap();
    for (name, width, height) in [("1280x800", 1280.0, 800.0), ("1920x1080", 1920.0, 1080.0)] {
        for dark in [false, true] {
            let mut harness = open_demo(width, height);
            harness.ctx.set_theme(if dark { egui::Theme::Dark } else { egui::Theme::Light });
            harness.run();
            let theme = if dark { "dark" } else { "light" };
            harness.render().unwrap().save(folder.join(format!("{name}-{theme}.png"))).unwrap();
        }
    }
}

fn role_of(harness: &Harness<'static, App>, starts: &str) -> egui::Rect {
    harness
        .get_by(|node| {
            node.role() == Role::Button && node.label().is_some_and(|label| label.starts_with(starts))
        })
        .rect()
}

#[test]
fn parts_rows_and_hoses_can_be_found_and_described() {
    let harness = open_demo(1280.0, 800.0);
    role_of(&harness, "Manifold M1");
    role_of(&harness, "Row 1,");
    role_of(&harness, "Row 40,");
}
