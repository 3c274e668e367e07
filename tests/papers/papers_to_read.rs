//! Writes all papers of the example bars as text, one file a bar, to read them.
//!
//! Usage: cargo run --locked --example papers_to_read -- FOLDER

#![allow(clippy::unwrap_used, reason = "a tool for developers stops where something is not as it should be")]

use std::path::{Path, PathBuf};

#[path = "words_of_papers.rs"]
mod words_of_papers;

use equirow::files;
use words_of_papers::{papers, words};

fn main() {
    let Some(folder) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("name a folder to write into");
        std::process::exit(2);
    };
    std::fs::create_dir_all(&folder).unwrap();
    for entry in std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("examples")).unwrap() {
        let bar = entry.unwrap().path();
        let name = bar.file_name().unwrap().to_str().unwrap().to_owned();
        if name.ends_with("-bar.ron") {
            let texts: Vec<String> = papers(&files::open(&bar).unwrap()).iter().map(words).collect();
            std::fs::write(folder.join(format!("{name}.txt")), texts.join("\n\n")).unwrap();
        }
    }
}
