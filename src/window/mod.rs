//! The window: the only layer with widgets in it.
//!
//! [`app`] lays the panels around the [`canvas`]; every panel reads the [`Session`] and
//! asks it for changes. Never here: hydraulics, file formats, or a change to the plan that does not go through the
//! session. Start reading at [`app::App::show`].

mod added_lines;
pub mod app;
pub mod bar_form;
pub mod canvas;
pub mod catalogue_table;
pub mod catch_test_view;
pub mod command_list;
pub mod compare_view;
pub mod details;
pub mod dialogs;
mod duty_choice;
pub mod entry;
pub mod fallback_font;
pub mod file_questions;
pub mod findings;
pub mod fold_view;
mod form;
pub mod front;
pub mod help;
pub mod icons;
pub mod import_rows;
mod in_lines;
mod looking_at;
pub mod notices;
pub mod number_field;
pub mod panels;
pub mod picture_dialog;
pub mod recovery;
pub mod routing_bar;
pub mod settings;
pub mod sheets_view;
mod side_panels;
pub mod software_painter;
pub mod speed_plot;
pub mod start_card;
pub mod status_line;
pub mod studies_view;
mod table_sample;
pub mod tables;
pub mod text_field;
pub mod theme;
pub mod top_bar;
pub mod typing;
pub mod unreadable;
pub mod window_size;
mod work;
mod wrong_entry;

use eframe::egui;
use std::path::PathBuf;
use std::time::Duration;

use crate::files;
use crate::session::Session;

/// How long a pass stands still for a change before a sign is shown: what is done by then seems to be done at once.
const PATIENCE: Duration = Duration::from_millis(120);

/// Why no window came up, in one sentence for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RunError {
    /// The file can't be read or understood.
    Unreadable(String),
    /// There is no display, or no driver for one.
    NoDisplay(String),
}

/// Opens the window on a file, or on the embedded bar, and stays until it is closed. A file that can't be opened is
/// said in the window; where none comes up, it is the error.
pub fn run(file: Option<PathBuf>) -> Result<(), RunError> {
    let demo = || Session::new(files::demo(), None);
    let (session, unreadable) = match file.map(|path| (Session::open(&path), path)) {
        None => (demo(), None),
        Some((Ok(session), _)) => (session, None),
        Some((Err(why), path)) => (demo(), Some((path, why.to_string()))),
    };
    let is_named = unreadable.is_some() || session.path().is_some();
    let kept = files::preferences::preferences();
    let icon =
        eframe::icon_data::from_png_bytes(include_bytes!("../../icons/equirow.png")).unwrap_or_default();
    let viewport = egui::ViewportBuilder::default()
        .with_title("Equirow")
        .with_app_id("equirow")
        .with_icon(icon)
        .with_inner_size(window_size::first_size(kept))
        .with_maximized(kept.maximized)
        .with_min_inner_size(window_size::SMALLEST);
    #[cfg(feature = "wgpu")]
    let renderer = eframe::Renderer::Wgpu;
    #[cfg(not(feature = "wgpu"))]
    let renderer = eframe::Renderer::Glow;
    let options = eframe::NativeOptions { viewport, renderer, ..Default::default() };
    let mut app =
        app::App::with_recovery(session, files::recovery::recovery_folder()).with_work_beside(PATIENCE);
    if !is_named {
        app = app.with_example_in_hand(!kept.without_start_card);
    }
    if let Some((path, why)) = unreadable.clone() {
        app = app.with_unreadable(path, why);
    }
    eframe::run_native(
        "equirow",
        options,
        Box::new(|creation| {
            creation.egui_ctx.options_mut(|options| options.max_passes = app::MOST_PASSES);
            if let Some(dark) = kept.dark {
                creation.egui_ctx.set_theme(if dark { egui::Theme::Dark } else { egui::Theme::Light });
            }
            Ok(Box::new(app))
        }),
    )
    .map_err(|error| {
        // Without a window, the reason that it would have shown.
        if let Some((_, why)) = unreadable {
            return RunError::Unreadable(why);
        }
        // The drivers' own dumps are pages long and help nobody: say what is missing.
        let missing = match error {
            eframe::Error::Winit(_) | eframe::Error::WinitEventLoop(_) => "no display was found",
            _ => "no driver for OpenGL was found",
        };
        RunError::NoDisplay(format!(
            "no window can be shown here: {missing}; use `equirow solve PROJECT` for the numbers without one"
        ))
    })
}
