//! The rules of the house, proved on the source itself: imports run downward only, effects stand at the edges,
//! egui stays in the window, every folder says what it is for, the top level holds only what belongs there, no two files
//! import each other, and long files are listed with their reason.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The layers, bottom to top; folders of one layer never import each other.
const LAYERS: [&[&str]; 7] = [
    &["quantities", "geometry"],
    &["plan"],
    &["hydraulics"],
    &["checks", "studies", "drawing"],
    &["files", "sheets"],
    &["session"],
    &["window", "command_line"],
];

/// Folders that may touch files, the environment and the clock.
const EDGES: [&str; 3] = ["files", "command_line", "window"];

/// The first layer that may look at a clock or start a thread.
const SESSION: usize = 5;

/// Starts threads below it, and gives the same answer whatever their number.
const SHARES_WORK: &str = "studies/workers.rs";

const TOP_LEVEL: [&str; 9] =
    ["Cargo.toml", "Cargo.lock", "README.md", "DEVELOPERS.md", "src", "tests", "examples", "icons", "target"];

fn layer(folder: &str) -> Option<usize> {
    LAYERS.iter().position(|folders| folders.contains(&folder))
}

/// The source without comments and without the insides of string and character literals, line breaks kept.
fn code_only(source: &str) -> String {
    let text: Vec<char> = source.chars().collect();
    let mut code = String::with_capacity(source.len());
    let mut at = 0;
    while at < text.len() {
        let rest = &text[at..];
        let end = if rest.starts_with(&['/', '/']) {
            rest.iter().position(|c| *c == '\n').unwrap_or(rest.len())
        } else if rest.starts_with(&['/', '*']) {
            block_comment(rest)
        } else if rest[0] == '"' {
            string(rest)
        } else if let Some(end) = raw_string(rest, at.checked_sub(1).map(|before| text[before])) {
            end
        } else if let Some(end) = character(rest) {
            end
        } else {
            code.push(rest[0]);
            at += 1;
            continue;
        };
        code.push(' ');
        code.extend(rest[..end].iter().filter(|c| **c == '\n'));
        at += end;
    }
    code
}

fn block_comment(text: &[char]) -> usize {
    let (mut depth, mut at) = (0usize, 0);
    while at < text.len() {
        if text[at..].starts_with(&['/', '*']) {
            depth += 1;
            at += 2;
        } else if text[at..].starts_with(&['*', '/']) {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += 1;
        }
    }
    text.len()
}

fn string(text: &[char]) -> usize {
    let mut at = 1;
    while at < text.len() {
        match text[at] {
            '\\' => at += 2,
            '"' => return at + 1,
            _ => at += 1,
        }
    }
    text.len()
}

fn raw_string(text: &[char], before: Option<char>) -> Option<usize> {
    if text[0] != 'r' || before.is_some_and(|c| c.is_alphanumeric() && c != 'b' || c == '_') {
        return None;
    }
    let hashes = text[1..].iter().take_while(|c| **c == '#').count();
    if text.get(1 + hashes) != Some(&'"') {
        return None;
    }
    let mut close = vec!['"'];
    close.extend(std::iter::repeat_n('#', hashes));
    let body = 2 + hashes;
    let length = text[body..].windows(close.len()).position(|part| part == close)?;
    Some(body + length + close.len())
}

/// A character literal, as against a lifetime.
fn character(text: &[char]) -> Option<usize> {
    match text {
        ['\'', '\\', ..] => Some(3 + text[3..].iter().position(|c| *c == '\'')?),
        ['\'', _, '\'', ..] => Some(3),
        _ => None,
    }
}

/// Every path in the code, with grouped imports written out: `use a::{b, c::d}` gives `a::b` and `a::c::d`.
fn paths(code: &str) -> BTreeSet<String> {
    let tokens = tokens(code);
    let mut found = BTreeSet::new();
    let mut at = 0;
    while at < tokens.len() {
        if is_word(&tokens[at]) {
            at = path(&tokens, at, "", &mut found).max(at + 1);
        } else {
            at += 1;
        }
    }
    found
}

/// Words, `::`, and every other sign alone.
fn tokens(code: &str) -> Vec<String> {
    let mut tokens: Vec<String> = Vec::new();
    let mut word = String::new();
    for c in code.chars() {
        if c.is_alphanumeric() || c == '_' {
            word.push(c);
            continue;
        }
        if !word.is_empty() {
            tokens.push(std::mem::take(&mut word));
        }
        if c == ':' && tokens.last().is_some_and(|last| last == ":") {
            tokens.pop();
            tokens.push("::".to_owned());
        } else if !c.is_whitespace() {
            tokens.push(c.to_string());
        }
    }
    tokens.extend((!word.is_empty()).then_some(word));
    tokens
}

/// Names declared as a hash map or set (`name: HashMap<..>`, `let name = HashSet::new()`) that the file walks
/// through; looking up is fine.
fn hash_walks(tokens: &[String]) -> BTreeSet<String> {
    const WALKS: [&str; 9] =
        ["iter", "iter_mut", "into_iter", "keys", "values", "values_mut", "drain", "retain", "into_values"];
    let is = |at: usize, what: &str| tokens.get(at).is_some_and(|token| token == what);
    let mut names = BTreeSet::new();
    for (at, _) in tokens.iter().enumerate().filter(|(_, token)| *token == "HashMap" || *token == "HashSet") {
        let mut before = at;
        while before > 0
            && (tokens[before - 1] == "::"
                || matches!(tokens[before - 1].as_str(), "std" | "collections" | "&" | "mut"))
        {
            before -= 1;
        }
        if before >= 2 && (is(before - 1, ":") || is(before - 1, "=")) && is_word(&tokens[before - 2]) {
            names.insert(tokens[before - 2].clone());
        }
    }
    let walked = |name: &String| {
        tokens.iter().enumerate().any(|(at, token)| {
            let called =
                is(at + 1, ".") && tokens.get(at + 2).is_some_and(|call| WALKS.contains(&call.as_str()));
            let mut start = at;
            while start > 0 && matches!(tokens[start - 1].as_str(), "&" | "mut" | "." | "self") {
                start -= 1;
            }
            token == name && (called || (start > 0 && is(start - 1, "in")))
        })
    };
    names.into_iter().filter(walked).collect()
}

fn is_word(token: &str) -> bool {
    token.starts_with(|c: char| c.is_alphabetic() || c == '_')
}

/// Reads one path with its groups; answers where it ends.
fn path(tokens: &[String], mut at: usize, prefix: &str, found: &mut BTreeSet<String>) -> usize {
    let mut whole = prefix.to_owned();
    while let Some(token) = tokens.get(at) {
        if is_word(token) || token == "*" {
            if !whole.is_empty() {
                whole.push_str("::");
            }
            whole.push_str(token);
            at += 1;
        } else if token == "{" && !whole.is_empty() {
            at += 1;
            while tokens.get(at).is_some_and(|token| token != "}") {
                at = path(tokens, at, &whole, found).max(at + 1);
            }
            return at + 1;
        } else {
            break;
        }
        if tokens.get(at).is_some_and(|token| token == "::") {
            at += 1;
        } else {
            break;
        }
    }
    // `name as other` needs nothing more: the other name is a word that stands alone.
    if whole.contains("::") {
        found.insert(whole);
    }
    at
}

/// What a file does that its layer forbids. `place` is its path below `src`, with `/`.
fn breaches(place: &str, source: &str) -> Vec<String> {
    let code = code_only(source);
    let pieces: Vec<&str> = place.split('/').collect();
    let folder = if pieces.len() > 1 { pieces[0] } else { "" };
    let own = layer(folder);
    let mut found = Vec::new();
    if !folder.is_empty() && own.is_none() {
        found.push(format!("{place}: the folder {folder} stands in no layer"));
    }
    // How many modules below the crate the file's own module is.
    let is_folder_module = pieces.last().is_some_and(|name| *name == "mod.rs");
    let depth = pieces.len() - usize::from(is_folder_module);
    // A file's own tests may write what they read.
    let written = paths(code.split("#[cfg(test)]").next().unwrap_or_default());
    for path in paths(&code) {
        let mut steps: Vec<&str> = path.split("::").collect();
        let climbs = steps.iter().take_while(|step| **step == "super").count();
        let target = match steps[0] {
            "crate" | "equirow" => steps.get(1).copied(),
            // A test module inside the file climbs once more than the file itself.
            "super" if climbs >= depth && !folder.is_empty() => steps.drain(climbs..).next(),
            _ => None,
        };
        if let (Some(target), Some(own)) = (target, own)
            && target != folder
            && let Some(theirs) = layer(target)
            && theirs >= own
        {
            let how = if theirs == own { "beside" } else { "above" };
            found.push(format!("{place}: {path} imports {target}, {how} {folder}"));
        }
        let steps: Vec<&str> = path.split("::").collect();
        let has = |a: &str, b: &str| steps.windows(2).any(|pair| pair == [a, b]);
        if (has("std", "fs") || has("std", "env")) && !EDGES.contains(&folder) && place != "main.rs" {
            found.push(format!("{place}: {path} touches the disk or the environment"));
        }
        let writes = has("File", "create") || steps.contains(&"OpenOptions");
        let changes = ["write", "rename", "copy", "remove_file", "create_dir", "create_dir_all"];
        let in_tests = !written.contains(&path);
        if (writes || changes.iter().any(|one| has("fs", one))) && folder != "files" && !in_tests {
            found.push(format!("{place}: {path} writes to the disk beside files/, which asks first"));
        }
        if own.is_some_and(|own| own < SESSION && folder != "files")
            && (steps.contains(&"Instant")
                || steps.contains(&"SystemTime")
                || (has("std", "thread") && place != SHARES_WORK))
        {
            found.push(format!("{place}: {path} looks at the clock or starts a thread"));
        }
        if steps.iter().any(|step| step.starts_with("egui") || *step == "eframe" || *step == "rfd")
            && folder != "window"
            && place != "main.rs"
        {
            found.push(format!("{place}: {path} knows of egui"));
        }
    }
    // Hash order differs from run to run: below the session nothing may walk through a hash map or set.
    if own.is_some_and(|own| own < SESSION) {
        for name in hash_walks(&tokens(&code)) {
            found.push(format!("{place}: walks through {name} in hash order; use a BTreeMap or BTreeSet"));
        }
    }
    found
}

fn package() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

#[expect(clippy::unwrap_used, reason = "a test that cannot read the source must fail")]
fn walk(folder: &Path, visit: &mut dyn FnMut(&Path)) {
    let mut entries: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for entry in entries {
        visit(&entry);
        if entry.is_dir() {
            walk(&entry, visit);
        }
    }
}

#[test]
fn imports_run_downward_and_effects_stand_at_the_edges() {
    let files = sources();
    let found: Vec<String> = files.iter().flat_map(|(place, source)| breaches(place, source)).collect();
    assert!(files.len() > 30, "only {} files were read", files.len());
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn every_folder_says_what_it_is_for() {
    let src = package().join("src");
    walk(&src, &mut |path| {
        let holds_code = |folder: &Path| {
            let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
            entries.into_iter().any(|entry| entry.extension().is_some_and(|one| one == "rs"))
        };
        // A folder of fonts needs no module.
        if path.is_dir() && (holds_code(path) || path == src) {
            let header = path.join("mod.rs");
            let beside = path.with_extension("rs");
            let text = fs::read_to_string(&header).or_else(|_| fs::read_to_string(&beside));
            let text = text.unwrap_or_else(|_| panic!("{} has no module file", path.display()));
            assert!(text.starts_with("//! "), "{} starts without a module header", path.display());
        }
    });
}

#[test]
fn the_top_level_holds_only_what_belongs_there() {
    for entry in fs::read_dir(package()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let known =
            TOP_LEVEL.contains(&name.as_str()) || name.starts_with('.') || name.starts_with("LICENSE");
        assert!(known, "{name} does not belong at the top level");
    }
}

#[test]
fn made_up_breaches_are_caught() {
    for (place, source, says) in [
        ("plan/row.rs", "use crate::hydraulics::outcome::Outcome;", "imports hydraulics, above plan"),
        (
            "plan/row.rs",
            "use crate::{geometry::Point3, session::{History, tools}};",
            "imports session, above plan",
        ),
        ("plan/row.rs", "fn f() { crate::files::open() }", "imports files, above plan"),
        ("plan/row.rs", "use super::super::checks::Finding;", "imports checks, above plan"),
        ("plan/mod.rs", "use super::checks::Finding;", "imports checks, above plan"),
        ("checks/mesh.rs", "use crate::drawing::shapes;", "imports drawing, beside checks"),
        ("geometry/point.rs", "use crate::quantities::Length;", "imports quantities, beside geometry"),
        ("session/mod.rs", "use crate::window::app;", "imports window, above session"),
        (
            "hydraulics/losses/pipe.rs",
            "use super::super::super::studies;",
            "imports studies, above hydraulics",
        ),
        ("plan/edit.rs", "fn f() { std::fs::read(\"x\"); }", "touches the disk"),
        ("session/mod.rs", "use std::{env, fmt};", "the environment"),
        ("hydraulics/solver/mod.rs", "use std::time::Instant;", "looks at the clock"),
        ("drawing/mod.rs", "use std::thread::spawn;", "starts a thread"),
        ("sheets/mod.rs", "use std::time::{Duration, SystemTime};", "looks at the clock"),
        ("checks/mod.rs", "fn f(all: &HashMap<u8, u8>) { all.values().sum() }", "hash order"),
        ("plan/mod.rs", "let mut all = std::collections::HashSet::new(); for one in &all {}", "hash order"),
        ("command_line/export.rs", "fn f() { std::fs::write(\"a\", \"b\"); }", "writes to the disk"),
        ("window/app.rs", "use std::fs; fn f() { fs::rename(a, b); }", "writes to the disk"),
        ("window/app.rs", "use std::fs::File; fn f() { File::create(a); }", "writes to the disk"),
        ("session/tools.rs", "use eframe::egui::Pos2;", "knows of egui"),
        ("extras/mod.rs", "", "stands in no layer"),
    ] {
        let found = breaches(place, source);
        assert!(found.iter().any(|one| one.contains(says)), "{place}: {source} gave {found:?}");
    }
}

#[test]
fn what_is_allowed_passes() {
    for (place, source) in [
        (
            "plan/row.rs",
            "use crate::quantities::Length; use super::bar::Bar; use super::super::geometry::Point3;",
        ),
        (
            "plan/row.rs",
            "// use crate::session::History;\n/* crate::files */ const A: &str = \"crate::window\";",
        ),
        ("plan/row.rs", "const A: &str = r#\"std::fs \"quoted\" \"#; fn f<'a>(x: &'a str) -> char { '\"' }"),
        ("checks/mesh.rs", "mod tests { use super::super::sample::Sample; }"),
        ("files/mod.rs", "use std::fs; use crate::plan::Project;"),
        ("files/mod.rs", "let mut seen = HashSet::new(); if !seen.insert(1) {} for one in &others {}"),
        ("window/app.rs", "use eframe::egui; use crate::session::Session; use std::time::Instant;"),
        ("main.rs", "use equirow::window; fn main() { std::env::args(); }"),
        ("session/mod.rs", "use std::thread; use crate::checks::{self, Finding};"),
    ] {
        assert_eq!(breaches(place, source), Vec::<String>::new(), "{place}");
    }
}

/// Solves, findings, items and the cut plan come from `sheets::Basis`, which works each out once.
#[test]
fn no_paper_solves_or_checks_by_itself() {
    let mut looked_at = 0;
    walk(&package().join("src/sheets"), &mut |path| {
        if path.extension().is_none_or(|ending| ending != "rs") || path.ends_with("basis.rs") {
            return;
        }
        let text = fs::read_to_string(path).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        for call in ["prepare(project", "::solve(", "all_findings(", " cut_plan(project", " items(project"] {
            let calls = code.matches(call).count() - code.matches(&format!("fn{call}")).count();
            assert_eq!(calls, 0, "{} calls{call}", path.display());
        }
        looked_at += 1;
    });
    assert!(looked_at > 15, "{looked_at}");
}

/// Lines of a file beyond which it holds more than one matter, as a rule.
const MOST_LINES: usize = 600;

/// The source files by their module, `["plan", "row"]`: path below `src` and code, without comments and tests.
type Modules = BTreeMap<Vec<String>, (String, String)>;

fn modules<'a>(files: impl IntoIterator<Item = (&'a str, &'a str)>) -> Modules {
    let module = |place: &str| {
        let mut steps: Vec<String> = place.trim_end_matches(".rs").split('/').map(str::to_owned).collect();
        if steps.last().is_some_and(|last| last == "mod" || last == "lib") {
            steps.pop();
        }
        steps
    };
    let without_tests = |source: &str| {
        let code = code_only(source);
        // Other attributes may stand between.
        let is_of_tests = |below: &str| {
            let attributes = below.split("mod tests").next().unwrap_or_default();
            let attributes = attributes.trim().trim_end_matches("pub(super)").trim_end();
            let is_attribute = |text: &str| text.starts_with("#[") && text.ends_with(']');
            attributes.is_empty() || (is_attribute(attributes) && !attributes.contains([';', '{']))
        };
        let mark = "#[cfg(test)]";
        let end = code.match_indices(mark).find(|(at, _)| is_of_tests(&code[at + mark.len()..]));
        code[..end.map_or(code.len(), |(at, _)| at)].to_owned()
    };
    let files = files.into_iter().filter(|(place, _)| *place != "main.rs");
    files.map(|(place, source)| (module(place), (place.to_owned(), without_tests(source)))).collect()
}

/// Every name that a file imports, with the path that it stands for.
fn imported(tokens: &[String]) -> BTreeMap<String, Vec<String>> {
    fn tree(
        tokens: &[String],
        mut at: usize,
        prefix: &[String],
        found: &mut BTreeMap<String, Vec<String>>,
    ) -> usize {
        let mut whole = prefix.to_vec();
        while let Some(token) = tokens.get(at) {
            match token.as_str() {
                "::" => at += 1,
                "{" => {
                    at += 1;
                    while tokens.get(at).is_some_and(|token| token != "}") {
                        at = tree(tokens, at, &whole, found);
                        at += usize::from(tokens.get(at).is_some_and(|token| token == ","));
                    }
                    return at + 1;
                }
                "as" => {
                    found.extend(tokens.get(at + 1).map(|name| (name.clone(), whole.clone())));
                    return at + 2;
                }
                "self" if !prefix.is_empty() => at += 1,
                word if is_word(word) => {
                    whole.push(token.clone());
                    at += 1;
                }
                "*" => return at + 1,
                _ => break,
            }
        }
        found.extend(whole.last().map(|name| (name.clone(), whole.clone())));
        at
    }
    let mut found = BTreeMap::new();
    for (at, _) in tokens.iter().enumerate().filter(|(_, token)| *token == "use") {
        tree(tokens, at + 1, &[], &mut found);
    }
    found
}

/// What each module imports.
type Imports<'a> = BTreeMap<&'a Vec<String>, BTreeMap<String, Vec<String>>>;

/// The module that a path leads to from another one; none outside of the crate.
fn lead(
    files: &Modules,
    names: &Imports<'_>,
    from: &[String],
    path: &[String],
    steps: usize,
) -> Option<Vec<String>> {
    let mut at = from.to_vec();
    let mut rest = path;
    match rest.first()?.as_str() {
        "crate" | "equirow" => {
            at.clear();
            rest = &rest[1..];
        }
        "self" => rest = &rest[1..],
        "super" => {
            while rest.first().is_some_and(|step| step == "super") {
                at.pop();
                rest = &rest[1..];
            }
        }
        first => {
            let child = [from, &[first.to_owned()]].concat();
            if !files.contains_key(&child) && !names.get(&at)?.contains_key(first) {
                return None;
            }
        }
    }
    while let Some(step) = rest.first() {
        let child = [&at[..], std::slice::from_ref(step)].concat();
        if !files.contains_key(&child) {
            break;
        }
        at = child;
        rest = &rest[1..];
    }
    let import = rest.first().and_then(|step| names.get(&at)?.get(step));
    match import.filter(|import| steps > 0 && (at != from || *import != path)) {
        Some(import) => {
            let whole = [&import[..], &rest[1..]].concat();
            lead(files, names, &at, &whole, steps - 1)
        }
        None => Some(at),
    }
}

/// Pairs of files that import each other, imports through re-exports of a third file included.
fn pairs(files: &Modules) -> BTreeSet<(String, String)> {
    let read: BTreeMap<&Vec<String>, Vec<String>> = files
        .iter()
        .map(|(module, (_, code))| {
            let tokens = tokens(code);
            // `pub(in path)` says who may see something, and imports nothing.
            let starts = |at: usize| at > 1 && tokens[at - 2] == "(" && tokens[at - 1] == "in";
            let mut kept = Vec::new();
            let mut hidden = false;
            for (at, token) in tokens.iter().enumerate() {
                hidden = (hidden || starts(at)) && token != ")";
                kept.extend((!hidden).then(|| token.clone()));
            }
            (module, kept)
        })
        .collect();
    let names: Imports = read.iter().map(|(module, tokens)| (*module, imported(tokens))).collect();
    let mut edges = BTreeSet::new();
    for (module, tokens) in &read {
        let mut found = BTreeSet::new();
        let mut at = 0;
        while at < tokens.len() {
            at = if is_word(&tokens[at]) { path(tokens, at, "", &mut found).max(at + 1) } else { at + 1 };
        }
        for path in found {
            let steps: Vec<String> = path.split("::").map(str::to_owned).collect();
            if let Some(target) = lead(files, &names, module, &steps, 8).filter(|target| target != *module) {
                edges.insert(((*module).clone(), target));
            }
        }
    }
    let name = |module: &Vec<String>| files.get(module).map(|(place, _)| place.clone());
    let both = edges.iter().filter(|(a, b)| a < b && edges.contains(&(b.clone(), a.clone())));
    both.filter_map(|(a, b)| Some((name(a)?, name(b)?))).collect()
}

/// The first column of the table below a heading of DEVELOPERS.md; every line of it gives a reason.
#[expect(clippy::unwrap_used, reason = "a test that cannot read the document must fail")]
fn listed(heading: &str) -> BTreeSet<String> {
    let text = fs::read_to_string(package().join("DEVELOPERS.md")).unwrap();
    let (_, below) = text.split_once(&format!("\n### {heading}\n")).unwrap();
    // No table: none is listed.
    let below = below.split("\n#").next().unwrap();
    let lines =
        below.lines().skip_while(|line| !line.starts_with('|')).take_while(|line| line.starts_with('|'));
    let lines = lines.skip(2).map(|line| line.trim_matches('|').split_once('|').unwrap());
    lines
        .map(|(files, why)| {
            assert!(!why.trim().is_empty(), "{files} is listed without a reason");
            files.trim().replace('`', "")
        })
        .collect()
}

/// What is there and not listed, and what is listed and not there any more.
fn differences(what: &str, found: &BTreeSet<String>, listed: &BTreeSet<String>) -> Vec<String> {
    let new = found.difference(listed).map(|one| format!("{one}: {what}, and not listed in DEVELOPERS.md"));
    let gone =
        listed.difference(found).map(|one| format!("{one}: not {what} any more; take it off the list"));
    new.chain(gone).collect()
}

fn is_long(source: &str) -> bool {
    source.lines().count() > MOST_LINES
}

/// All source files: path below `src`, with `/`, and text.
#[expect(clippy::unwrap_used, reason = "a test that cannot read the source must fail")]
fn sources() -> Vec<(String, String)> {
    let src = package().join("src");
    let mut files = Vec::new();
    walk(&src, &mut |path| {
        if path.extension().is_some_and(|end| end == "rs") {
            let below = path.strip_prefix(&src).unwrap();
            let place: Vec<_> = below.iter().map(|piece| piece.to_str().unwrap()).collect();
            files.push((place.join("/"), fs::read_to_string(path).unwrap()));
        }
    });
    files
}

/// Files that no other one declares as a module: the compiler never reads them.
fn undeclared(files: &Modules) -> Vec<String> {
    let is_declared = |module: &[String]| {
        let Some((name, folder)) = module.split_last() else { return true };
        let tokens = files.get(folder).map(|(_, code)| tokens(code)).unwrap_or_default();
        tokens.windows(2).any(|pair| pair[0] == "mod" && pair[1] == *name)
    };
    let left = files.iter().filter(|(module, _)| !is_declared(module));
    left.map(|(_, (place, _))| place.clone()).collect()
}

#[test]
fn every_file_is_a_module_of_its_folder() {
    let sources = sources();
    let files = modules(sources.iter().map(|(place, source)| (place.as_str(), source.as_str())));
    // A file of tests is declared where only tests read it.
    let holds_tests = |place: &str| {
        let source = sources.iter().find(|(other, _)| other == place).map(|(_, source)| source);
        source.is_some_and(|source| source.contains("#[cfg(test)]\nmod tests;"))
    };
    let is_tests = |place: &String| {
        let owner = place.strip_suffix("/tests.rs");
        owner.is_some_and(|it| holds_tests(&format!("{it}.rs")) || holds_tests(&format!("{it}/mod.rs")))
    };
    let left: Vec<String> = undeclared(&files).into_iter().filter(|place| !is_tests(place)).collect();
    assert_eq!(left, Vec::<String>::new());
    let made_up = [
        ("lib.rs", "mod plan;"),
        ("plan/mod.rs", "// mod row;\nmod bar;"),
        ("plan/bar.rs", ""),
        ("plan/row.rs", ""),
    ];
    assert_eq!(undeclared(&modules(made_up)), ["plan/row.rs"]);
}

#[test]
fn long_files_are_listed_with_their_reason() {
    let files = sources();
    let long = files.iter().filter(|(_, source)| is_long(source)).map(|(place, _)| place.clone()).collect();
    let found = differences("longer than 600 lines", &long, &listed("Files that are long"));
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn no_two_files_import_each_other() {
    let files = sources();
    let files = modules(files.iter().map(|(place, source)| (place.as_str(), source.as_str())));
    let pairs = pairs(&files).into_iter().map(|(a, b)| format!("{a}, {b}")).collect();
    let found = differences("import each other", &pairs, &listed("Files that import each other"));
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn made_up_circles_and_long_files_are_caught() {
    let pair =
        |files: &[(&str, &str)]| pairs(&modules(files.iter().copied())).into_iter().collect::<Vec<_>>();
    let both = vec![("plan/bar.rs".to_owned(), "plan/row.rs".to_owned())];
    let row = "use super::bar::Bar;";
    for bar in [
        "use super::row::Row;",
        "use crate::{geometry::Point3, plan::row::{Row, target as wanted}};",
        "fn f() -> u8 { super::row::count() }",
        "use super::Row;",
        "use super::rows; fn f() { rows::count() }",
        "use super::rows::*;",
    ] {
        let folder = "mod bar; mod row; pub use row::Row; pub use row as rows;";
        assert_eq!(
            pair(&[("plan/mod.rs", folder), ("plan/bar.rs", bar), ("plan/row.rs", row)]),
            both,
            "{bar}"
        );
    }
    let folder = ("plan/mod.rs", "mod bar; mod row; pub use row::Row; fn f() -> Row { row::one() }");
    let own = vec![("plan/mod.rs".to_owned(), "plan/row.rs".to_owned())];
    assert_eq!(pair(&[folder, ("plan/row.rs", "use super::Limit;")]), own, "a type of the folder's own file");
    for bar in [
        "// use super::row::Row;\nuse crate::geometry::Point3;",
        "pub(in crate::plan::row) fn f() {}",
        "fn f() {}\n#[cfg(test)]\nmod tests { use super::super::row::Row; }",
        "fn f() {}\n#[cfg(test)]\n#[allow(dead_code, reason = \"so\")]\nmod tests { use super::super::row::Row; }",
    ] {
        assert_eq!(pair(&[folder, ("plan/bar.rs", bar), ("plan/row.rs", row)]), vec![], "{bar}");
    }
    let beside = "#[cfg(test)]\nuse super::row::Row;\n#[cfg(test)]\nmod tests {}";
    assert_eq!(
        pair(&[folder, ("plan/bar.rs", beside), ("plan/row.rs", row)]),
        both,
        "an import of tests only"
    );
    assert!(is_long(&"x\n".repeat(MOST_LINES + 1)) && !is_long(&"x\n".repeat(MOST_LINES)));
    let (a, b) = (BTreeSet::from(["a.rs".to_owned()]), BTreeSet::from(["b.rs".to_owned()]));
    assert_eq!(differences("long", &a, &b).len(), 2, "one that is new, and one that is listed in vain");
    assert_eq!(differences("long", &a, &a), Vec::<String>::new());
}
