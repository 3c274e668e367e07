//! What comes into the program from outside: each with a reason and a notice, from one source, in the versions that
//! Cargo.lock names. `.ci/supply_chain` checks licences and known faults by `.deny.toml`.

#[path = "../../examples/make_notices.rs"]
#[expect(dead_code, reason = "its `main` writes the file")]
mod make_notices;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use equirow::files::notices;

fn read(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// Every crate that `cargo tree` names for the program stands in the notices with its version, its licence and at least
/// one text, and nothing that is gone stands there any more.
#[test]
fn the_notices_are_current() {
    let components = notices::components();
    let crates = make_notices::crates();
    assert!(crates.len() > 100, "only {} crates", crates.len());
    for one in &crates {
        let name = format!("{} {}", one.name, one.version);
        let found = components.iter().find(|component| component.name == name);
        let found =
            found.unwrap_or_else(|| panic!("{name} has no notice; run `cargo run --example make_notices`"));
        assert_eq!(found.licence, one.licence, "{name}");
        assert!(found.texts.iter().any(|text| text.len() > 200), "{name} has no text of its licence");
    }
    let made = make_notices::notices();
    assert!(notices::text() == made, "src/files/notices.txt is old; run `cargo run --example make_notices`");
}

#[test]
fn fonts_and_colours_have_notices() {
    for (name, words) in [
        ("DejaVu Sans Condensed", "Bitstream Vera"),
        ("epaint_default_fonts", "UBUNTU FONT LICENCE"),
        ("epaint_default_fonts", "SIL OPEN FONT LICENSE"),
        ("ColorBrewer", "Cynthia Brewer"),
        ("libmimalloc-sys", "Microsoft"),
    ] {
        let found =
            notices::components().into_iter().find(|component| component.name.starts_with(name)).unwrap();
        assert!(found.texts.iter().any(|text| text.contains(words)), "{name}: nothing of {words}");
    }
}

/// Names of direct dependencies in a manifest.
fn direct(manifest: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    let mut inside = false;
    for line in manifest.lines() {
        if line.starts_with('[') {
            inside = line.ends_with("dependencies]");
        } else if let Some((name, _)) = line.split_once('=').filter(|_| inside && !line.starts_with('#')) {
            names.insert(name.trim().to_owned());
        }
    }
    names
}

#[test]
fn each_direct_dependency_has_its_reason() {
    let developers = read("DEVELOPERS.md");
    let table =
        developers.split("\n## What comes from outside").nth(1).unwrap().split("\n## ").next().unwrap();
    let mut listed = BTreeSet::new();
    for line in table.lines().filter(|line| line.starts_with("| `")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        assert!(cells.len() == 2 && cells[1].len() > 5, "{line} gives no reason");
        assert!(listed.insert(cells[0].trim_matches('`').to_owned()), "{line} stands there twice");
    }
    let direct = direct(&read("Cargo.toml"));
    assert!(["egui_kittest", "rustix", "serde"].iter().all(|name| direct.contains(*name)), "{direct:?}");
    let missing: Vec<_> = direct.difference(&listed).collect();
    let stale: Vec<_> = listed.difference(&direct).collect();
    assert!(
        missing.is_empty() && stale.is_empty(),
        "DEVELOPERS.md lacks {missing:?} and has {stale:?} too many"
    );
}

/// Calls of cargo, in scripts and in the commands of the manuals, that may change Cargo.lock.
fn unlocked(text: &str) -> Vec<String> {
    const RESOLVING: [&str; 8] = ["build", "run", "test", "check", "clippy", "bench", "install", "tree"];
    let calls = text.split("cargo ").skip(1).filter_map(|rest| {
        let end = rest.find(['`', '\n', '#', '&', '|']).unwrap_or(rest.len());
        let call = &rest[..end];
        let first = call.split_whitespace().next()?;
        (RESOLVING.contains(&first) && !call.contains("--locked")).then(|| format!("cargo {call}"))
    });
    calls.collect()
}

#[test]
fn cargo_takes_the_versions_of_the_lock_file() {
    let mut files = vec!["README.md".to_owned(), "DEVELOPERS.md".to_owned()];
    for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(".ci")).unwrap() {
        files.push(format!(".ci/{}", entry.unwrap().file_name().into_string().unwrap()));
    }
    for name in files {
        // A line that ends in a backslash goes on.
        assert_eq!(unlocked(&read(&name).replace("\\\n", " ")), Vec::<String>::new(), "{name}");
    }
    assert_eq!(unlocked("x\ncargo test\n`cargo run --release --`").len(), 2);
}

#[test]
fn every_crate_is_from_one_registry() {
    let lock = read("Cargo.lock");
    let sources: BTreeSet<&str> = lock.lines().filter_map(|line| line.strip_prefix("source = ")).collect();
    assert_eq!(
        sources.into_iter().collect::<Vec<_>>(),
        ["\"registry+https://github.com/rust-lang/crates.io-index\""]
    );
    assert!(!lock.contains("name = \"ttf-parser\""), "RUSTSEC-2026-0192: no longer maintained");
}

/// By the menu, in words that a screen reader has: the list, a search, and the text of what was found.
#[cfg(feature = "window")]
#[test]
fn the_window_shows_and_searches_the_notices() {
    use egui_kittest::Harness;
    use egui_kittest::kittest::Queryable as _;
    use equirow::window::app::App;

    let app = App::new(equirow::session::Session::new(equirow::files::demo(), None));
    let mut harness = Harness::builder()
        .with_size(eframe::egui::vec2(1280.0, 800.0))
        .build_ui_state(|ui, app: &mut App| app.show(ui), app);
    harness.run_steps(3);
    harness.get_by_label("Help").click();
    harness.run_steps(3);
    harness.get_by_label("Third-party notices").click();
    harness.run_steps(3);
    let many = notices::components().len();
    let count = |found: usize| format!("{found} of {many} parts of the program that are the work of others");
    assert!(harness.query_by_label(&count(many)).is_some());
    let field = harness.get_by_label("Find by name, licence or words of its text");
    field.focus();
    harness.run_steps(2);
    harness.get_by_label("Find by name, licence or words of its text").type_text("Cynthia Brewer");
    harness.run_steps(3);
    assert!(harness.query_by_label(&count(1)).is_some());
    harness.get_by_label_contains("ColorBrewer PuOr").click();
    harness.run_steps(20);
    assert!(harness.query_by_label_contains("This product includes color specifications").is_some());
}
