//! Pictures of the window, painted without a display, in both themes and three sizes, to be looked at; or, after a change of
//! the looks that is meant, the snapshots that `tests/window/pictures.rs` compares with.
//!
//! Usage: cargo run --locked --example window_pictures -- FOLDER [VIEW...] | --bless | --readme
//!
//! `--readme` writes the picture that README shows anew, `--bless` that and the snapshots.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a tool for developers stops where something is not as it should be"
)]

use std::path::PathBuf;

use eframe::egui::Theme;

#[path = "catch_stories.rs"]
mod catch_stories;

#[path = "support.rs"]
mod support;

#[path = "views.rs"]
mod views;

use crate::views::{SIZE, VIEWS, halved, picture_of_readme, snapshot_file};

fn main() {
    let argument = std::env::args().nth(1);
    match argument.as_deref() {
        Some("--bless") => {
            bless();
            readme();
        }
        Some("--readme") => readme(),
        Some(folder) if !folder.starts_with('-') => {
            let views: Vec<String> = std::env::args().skip(2).collect();
            gallery(&PathBuf::from(folder), &views);
        }
        _ => {
            eprintln!(
                "name a folder to write pictures into, --bless to write tests/snapshots anew, or --readme"
            );
            std::process::exit(2);
        }
    }
}

/// Writes the snapshots anew, and removes those that no view is compared with any more.
fn bless() {
    let folder = snapshot_file("any").parent().unwrap().to_owned();
    if folder.exists() {
        std::fs::remove_dir_all(&folder).unwrap();
    }
    std::fs::create_dir_all(&folder).unwrap();
    for view in VIEWS {
        if let Some(theme) = view.compared {
            let bytes = halved(&view.paint(theme, SIZE, true)).png(None).unwrap();
            println!("{} ({} kB)", view.name, bytes.len() / 1000);
            std::fs::write(snapshot_file(view.name), bytes).unwrap();
        }
    }
}

/// Writes the picture of the window that README shows.
fn readme() {
    let (file, picture) = picture_of_readme();
    std::fs::write(&file, picture.png(None).unwrap()).unwrap();
    println!("{}", file.display());
}

/// Of all views, or of those that are named, in three sizes and both themes.
fn gallery(folder: &std::path::Path, names: &[String]) {
    std::fs::create_dir_all(folder).unwrap();
    for (size, points) in [("1280x800", SIZE), ("1920x1080", [1920.0, 1080.0]), ("960x540", [960.0, 540.0])] {
        for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
            for view in
                VIEWS.iter().filter(|view| names.is_empty() || names.iter().any(|name| name == view.name))
            {
                let file = folder.join(format!("{}-{size}-{name}.png", view.name));
                std::fs::write(&file, view.paint(theme, points, true).png(None).unwrap()).unwrap();
                println!("{}", file.display());
            }
        }
    }
}
