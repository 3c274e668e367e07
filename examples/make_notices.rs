//! Collects the notices of all that is not ours but goes into the program, and writes them into `src/files/notices.txt`:
//! `cargo run --locked --example make_notices`.
//!
//! Which crates there are comes from `cargo tree` (normal dependencies on Linux, with the features that are on without
//! asking), their licences from the files in their packages. What crates carry of others lies in files below: fonts,
//! character maps, C sources. Where a licence leaves a choice and MIT is one, MIT is taken.

#![expect(clippy::expect_used, reason = "a tool for whoever changes dependencies: it stops where it fails")]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What is not a crate: name, licence, file of its licence, and how much of that file.
const BESIDES: [(&str, &str, Text); 4] = [
    (
        "DejaVu Sans Condensed 2.37 (font of the papers)",
        "Bitstream-Vera",
        Text::File("src/sheets/DejaVuSansCondensed-LICENCE.txt"),
    ),
    (
        "ColorBrewer PuOr (colours of deviations)",
        "Apache-2.0",
        Text::Own(
            "This product includes color specifications and designs developed by Cynthia Brewer \
             (http://colorbrewer.org/). Copyright (c) 2002 Cynthia Brewer, Mark Harrower, and The Pennsylvania State \
             University. Licensed under the Apache License, Version 2.0.",
        ),
    ),
    (
        "viridis (colours of pressures)",
        "CC0-1.0",
        Text::Own("By Stéfan van der Walt and Nathaniel Smith, given to the public domain (CC0 1.0)."),
    ),
    (
        "Rust standard library",
        "MIT OR Apache-2.0",
        Text::Own(
            "Copyright (c) The Rust Project Contributors. Licensed under the Apache License, Version 2.0, or the MIT \
             licence, at your choice; taken here under the Apache License.",
        ),
    ),
];

/// The text of a licence of [`BESIDES`].
enum Text {
    /// A file of this package.
    File(&'static str),
    /// These words; the licence itself stands among the texts in any case.
    Own(&'static str),
}

fn main() {
    std::fs::write(package().join("src/files/notices.txt"), notices()).expect("the file can be written");
    println!("src/files/notices.txt");
}

fn package() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A crate that goes into the program.
pub(crate) struct Crate {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its licence as an SPDX expression.
    pub licence: String,
}

/// Every crate that goes into the program, in the order of their names.
pub(crate) fn crates() -> Vec<Crate> {
    let form = ["--edges", "normal", "--prefix", "none", "--format", "{p}|{l}"];
    let listed = cargo(
        &[&["tree", "--locked", "--offline", "--target", "x86_64-unknown-linux-gnu"], &form[..]].concat(),
    );
    let lines: BTreeSet<&str> = listed.lines().map(|line| line.trim_end_matches(" (*)")).collect();
    let crates = lines.into_iter().filter_map(|line| {
        let (package, licence) = line.split_once('|')?;
        let mut words = package.split(' ');
        let (name, version) = (words.next()?, words.next()?.trim_start_matches('v'));
        let one = Crate { name: name.into(), version: version.into(), licence: licence.into() };
        (name != "equirow").then_some(one)
    });
    crates.collect()
}

/// The whole text.
pub(crate) fn notices() -> String {
    let folders = folders();
    let mut texts = Texts::default();
    let mut index = String::new();
    let apache =
        std::fs::read_to_string(package().join("LICENSE-APACHE")).expect("it stands at the top level");
    for (name, licence, text) in &BESIDES {
        let text = match text {
            Text::File(path) => {
                std::fs::read_to_string(package().join(path)).expect("it is part of the sources")
            }
            Text::Own(words) => (*words).to_owned(),
        };
        let mut numbers = vec![texts.number(&text)];
        if licence.contains("Apache-2.0") {
            numbers.push(texts.number(&apache));
        }
        line(&mut index, name, licence, &numbers);
    }
    for one in crates() {
        let (folder, authors) = &folders[&(one.name.clone(), one.version.clone())];
        let files = licence_files(folder, &one.licence);
        let mut numbers: BTreeSet<usize> = BTreeSet::new();
        for file in &files {
            let bytes = std::fs::read(file).expect("a file just listed can be read");
            numbers.insert(texts.number(&String::from_utf8_lossy(&bytes)));
        }
        // The package names its licence and carries no text of it.
        if !files.iter().any(|file| file.parent() == Some(folder)) {
            assert!(
                one.licence.contains("Apache-2.0"),
                "{} has no text of its licence {}",
                one.name,
                one.licence
            );
            numbers.insert(texts.number(&apache));
            let by = if authors.is_empty() { "its authors" } else { authors };
            let words = format!("{} is by {by}, taken under the Apache License, Version 2.0.", one.name);
            numbers.insert(texts.number(&words));
        }
        let numbers: Vec<usize> = numbers.into_iter().collect();
        line(&mut index, &format!("{} {}", one.name, one.version), &one.licence, &numbers);
    }
    let mut out = format!(
        "Equirow contains the work of others. Each line names one, its licence, and which of the texts below belong \
         to it.\n\n{index}"
    );
    for (at, text) in texts.all.iter().enumerate() {
        let _ = write!(out, "\n==== Text {} ====\n\n{text}\n", at + 1);
    }
    out
}

fn line(index: &mut String, name: &str, licence: &str, numbers: &[usize]) {
    let numbers: Vec<String> = numbers.iter().map(usize::to_string).collect();
    let _ = writeln!(index, "{name} | {licence} | {}", numbers.join(", "));
}

/// Texts, each kept once however its lines are broken.
#[derive(Default)]
struct Texts {
    all: Vec<String>,
    known: BTreeMap<String, usize>,
}

impl Texts {
    /// The number of a text, from 1.
    fn number(&mut self, text: &str) -> usize {
        let lines: Vec<&str> = text.trim_start_matches('\u{feff}').lines().map(str::trim_end).collect();
        let plain =
            lines.join("\n").trim_matches('\n').replace(|one: char| one.is_control() && one != '\n', " ");
        let words = plain.split_whitespace().collect::<Vec<_>>().join(" ");
        *self.known.entry(words).or_insert_with(|| {
            self.all.push(plain);
            self.all.len()
        })
    }
}

/// The files of a package that hold licences it is used under.
fn licence_files(folder: &Path, expression: &str) -> Vec<PathBuf> {
    const BEGINNINGS: [&str; 8] =
        ["licen", "copying", "notice", "unlicen", "copyright", "ofl", "ufl", "authors"];
    let mut found = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(&folder).expect("a package's folder can be read") {
            let path = entry.expect("it can be listed").path();
            let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
            let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
            let is_code = ["rs", "json", "toml"].contains(&ending.as_str());
            let is_font_text = folder.ends_with("fonts") && ending == "txt";
            if path.is_dir() {
                if !["tests", "target", "examples", "benches"].contains(&name.as_str()) {
                    open.push(path);
                }
            } else if !is_code && (is_font_text || BEGINNINGS.iter().any(|one| name.starts_with(one))) {
                found.push(path);
            }
        }
    }
    found.sort();
    // Others to choose from are left away, never what comes on top.
    let at_top = |path: &Path| path.parent() == Some(folder);
    let named = |path: &Path, word: &str| {
        path.file_name().is_some_and(|name| name.to_string_lossy().to_uppercase().contains(word))
    };
    let is_mit = |path: &Path| at_top(path) && named(path, "MIT") && !named(path, "LIBM");
    if expression.contains("MIT") && found.iter().any(|path| is_mit(path)) {
        const OTHERS: [&str; 9] =
            ["APACHE", "ZLIB", "BOOST", "GPL", "CC0", "0BSD", "UNLICENSE", "BSD", "LLVM"];
        found.retain(|path| !(at_top(path) && OTHERS.iter().any(|word| named(path, word))));
    }
    found.retain(|path| !(at_top(path) && named(path, "GPL") && expression.contains(" OR ")));
    found
}

/// Folder and authors of each package, by name and version.
fn folders() -> BTreeMap<(String, String), (PathBuf, String)> {
    let told = cargo(&[
        "metadata",
        "--locked",
        "--offline",
        "--format-version",
        "1",
        "--filter-platform",
        "x86_64-unknown-linux-gnu",
    ]);
    let told: serde_json::Value = serde_json::from_str(&told).expect("cargo writes JSON");
    let packages = told["packages"].as_array().expect("it lists packages");
    let text = |value: &serde_json::Value| value.as_str().unwrap_or_default().to_owned();
    let each = packages.iter().map(|package| {
        let folder = Path::new(package["manifest_path"].as_str().unwrap_or_default()).with_file_name("");
        let authors: Vec<String> = package["authors"].as_array().into_iter().flatten().map(text).collect();
        let folder = folder.components().collect::<PathBuf>();
        ((text(&package["name"]), text(&package["version"])), (folder, authors.join(", ")))
    });
    each.collect()
}

fn cargo(arguments: &[&str]) -> String {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let done = Command::new(cargo).args(arguments).current_dir(package()).output().expect("cargo can be run");
    assert!(done.status.success(), "cargo {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).expect("cargo writes UTF-8")
}
