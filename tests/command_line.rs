//! The command line, run as a person would run it.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

use std::fs;
use std::process::{Command, Output};

fn equirow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_equirow"))
        .args(arguments)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/twelve-metre-bar.ron");

fn solve_json(arguments: &[&str]) -> serde_json::Value {
    let output = equirow(&[&["solve", DEMO, "--format", "json"], arguments].concat());
    assert!(code(&output) < 2, "{}", err(&output));
    serde_json::from_str(&out(&output)).unwrap()
}

#[test]
fn the_json_holds_what_was_promised() {
    let json = solve_json(&["--routing", "B"]);
    for key in [
        "routing",
        "status",
        "total_flow_l_min",
        "inlet_pressure_kpa",
        "gauges",
        "manifolds",
        "mean_deviation_percent",
        "cv_percent",
        "du_lq_percent",
        "rows",
        "findings",
    ] {
        assert!(!json[key].is_null(), "{key} is missing");
    }
    assert_eq!(json["routing"], "B");
    assert_eq!(json["status"], "solved");
    assert_eq!(json["rows"].as_array().unwrap().len(), 40);
    assert_eq!(json["manifolds"].as_array().unwrap().len(), 5);
    assert!(json["gauges"][0]["tag"] == "G1" && json["gauges"][0]["pressure_kpa"].as_f64().unwrap() > 50.0);
    let row = &json["rows"][0];
    for key in ["row", "x_m", "fed", "target_l_min", "flow_l_min", "deviation_percent", "outlet"] {
        assert!(!row[key].is_null(), "rows[0].{key} is missing");
    }
    // L/min = L/ha · km/h · m / 600 (extension services' formula): 80 · 9 · 0.3 / 600.
    assert!((row["target_l_min"].as_f64().unwrap() - 0.36).abs() < 1e-12);
    // A metered supply delivers the sum of the targets.
    assert!((json["total_flow_l_min"].as_f64().unwrap() - 14.4).abs() < 1e-6);
    let sum: f64 =
        json["rows"].as_array().unwrap().iter().map(|row| row["flow_l_min"].as_f64().unwrap()).sum();
    assert!((sum - 14.4).abs() < 1e-6, "{sum}");
}

#[test]
fn options_move_the_operating_point() {
    let json = solve_json(&["--speed", "7,2", "--rate=100", "--temperature", "5 °C", "--slope", "-10"]);
    assert_eq!(json["routing"], "A");
    for (key, value) in
        [("speed_km_h", 7.2), ("rate_l_ha", 100.0), ("temperature_c", 5.0), ("side_slope_percent", -10.0)]
    {
        assert!((json[key].as_f64().unwrap() - value).abs() < 1e-9, "{key}");
    }
    assert!((json["rows"][0]["target_l_min"].as_f64().unwrap() - 0.36).abs() < 1e-12);
}

#[test]
fn the_table_holds_a_line_for_each_row() {
    let text = out(&equirow(&["solve", DEMO]));
    let is_row = |line: &&str| line.split_whitespace().next().is_some_and(|word| word.parse::<u32>().is_ok());
    assert_eq!(text.lines().filter(is_row).count(), 40, "{text}");
    for word in ["Routing", "CV, all rows", "Gauge G1", "Manifold M5", "bar", "L/min"] {
        assert!(text.contains(word), "{word} is missing from\n{text}");
    }
}

#[test]
fn code_0_for_help_and_version() {
    for argument in ["--help", "--version", "-h", "-V"] {
        let output = equirow(&[argument]);
        assert_eq!(code(&output), 0, "{argument}");
        assert!(out(&output).to_lowercase().contains("equirow"));
    }
    assert!(out(&equirow(&["solve", "--help"])).contains("--temperature C"));
}

#[test]
fn code_1_where_the_answer_is_no() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("unplumbed.ron");
    let mut project = equirow::files::demo();
    project.routings = vec![equirow::plan::Routing::empty(equirow::plan::RoutingId(1), "Bare")];
    equirow::files::save(&path, &project).unwrap();
    let output = equirow(&["solve", path.to_str().unwrap()]);
    assert_eq!(code(&output), 1, "{}", err(&output));
    assert!(out(&output).contains("no row is connected to the supply"));
    assert!(out(&output).contains("not fed"));
}

#[test]
fn code_2_for_wrong_usage_with_a_hint() {
    for (arguments, hint) in [
        (&["solve"][..], "no project file"),
        (&["solve", DEMO, "--sped", "9"], "--speed"),
        (&["solve", DEMO, "--speed"], "needs a value"),
        (&["solve", DEMO, "--speed", "abc"], "abc"),
        (&["solve", DEMO, "--speed", "-3"], "0.1"),
        (&["solve", DEMO, "--rate", "2.5 bar"], "L/ha"),
        (&["solve", DEMO, "--format", "xml"], "table or json"),
        (&["solve", DEMO, "--routing", "C"], "it has A, B"),
        (&["solve", DEMO, DEMO], "two files"),
        (&["--nonsense"], "usage"),
    ] {
        let output = equirow(arguments);
        assert_eq!(code(&output), 2, "{arguments:?}");
        assert!(err(&output).contains(hint), "{arguments:?}: {}", err(&output));
        assert!(out(&output).is_empty(), "{arguments:?}");
    }
}

#[test]
fn code_3_for_a_file_that_cannot_be_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bad.ron");
    fs::write(&path, "(version: 9)").unwrap();
    for (file, hint) in [("no such file.ron", "check the name"), (path.to_str().unwrap(), "version 9")] {
        let output = equirow(&["solve", file]);
        assert_eq!(code(&output), 3, "{file}");
        assert!(err(&output).contains(hint) && err(&output).contains(file), "{}", err(&output));
    }
}

/// On a system whose window needs a display server, named by these variables, a start without one says so.
#[cfg(target_os = "linux")]
#[test]
fn without_a_display_one_sentence_names_the_command() {
    let output = equirow(&[]);
    assert_eq!(code(&output), 1);
    let message = err(&output);
    assert_eq!(message.trim().lines().count(), 1, "{message}");
    assert!(message.contains("equirow solve"), "{message}");
}

const NINE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/nine-metre-bar.ron");

#[test]
fn lists_are_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for (what, name) in [
        ("parts", "a list µ \"x\".csv"),
        ("parts", "LIST.XLSX"),
        ("cuts", "-cuts.csv"),
        ("cuts", "cuts.xlsx"),
    ] {
        let output = equirow(&[what, NINE, "--out", &path(name)]);
        assert_eq!(
            (code(&output), err(&output).as_str(), out(&output).as_str()),
            (0, "", ""),
            "{what} {name}"
        );
        assert!(fs::metadata(path(name)).unwrap().len() > 500);
    }
    let text = fs::read_to_string(path("-cuts.csv")).unwrap();
    // A heading, nine hoses and thirty-six tubes.
    assert_eq!(text.lines().count(), 1 + 9 + 36);
    assert!(text.lines().any(|line| line.contains("measure through the full fold before cutting")));

    // What was there stays when the new one can't be written.
    let output = equirow(&["parts", NINE, "--out", &path("no folder/parts.csv")]);
    assert_eq!(code(&output), 3);
    assert!(err(&output).contains("choose a folder that exists"), "{}", err(&output));
    let mut permissions = fs::metadata(path("cuts.xlsx")).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(path("cuts.xlsx"), permissions).unwrap();
    let before = fs::read(path("cuts.xlsx")).unwrap();
    let output = equirow(&["parts", NINE, "--out", &path("cuts.xlsx")]);
    assert_eq!(code(&output), 3);
    assert!(err(&output).contains("write-protected"), "{}", err(&output));
    assert_eq!(fs::read(path("cuts.xlsx")).unwrap(), before);
    fs::create_dir(path("folder.csv")).unwrap();
    assert_eq!(code(&equirow(&["parts", NINE, "--out", &path("folder.csv")])), 3);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 5, "nothing is left beside the files");
}

#[test]
fn wrong_usage_of_lists_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("list.csv").to_str().unwrap().to_owned();
    let pdf = folder.path().join("list.pdf").to_str().unwrap().to_owned();
    for (arguments, expected, says) in [
        (vec!["parts", NINE], 2, "give --out"),
        (vec!["parts", "--out", &list], 2, "no project file is named"),
        (vec!["parts", NINE, "--out"], 2, "--out needs a value"),
        (vec!["parts", NINE, NINE, "--out", &list], 2, "two projects are named"),
        (vec!["cuts", NINE, "--out", &pdf], 2, "neither a .csv nor a .xlsx"),
        (vec!["cuts", NINE, "--out", &list, "--colour", "red"], 2, "--colour is not known"),
        (vec!["cuts", NINE, "--out", &list, "--routing", "Z"], 2, "no routing \"Z\"; it has A"),
        (vec!["cuts", "nowhere.ron", "--out", &list], 3, "nowhere.ron"),
    ] {
        let output = equirow(&arguments);
        assert_eq!(code(&output), expected, "{arguments:?}");
        assert!(err(&output).contains(says), "{arguments:?}: {}", err(&output));
    }
    assert!(!folder.path().join("list.csv").exists());
}
