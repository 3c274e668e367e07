//! The command line, run as a person would run it.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use equirow::plan::RoutingGeometry;
use equirow::sheets::cut_list::cut_list;
use equirow::sheets::fitting_steps::fitting_steps;

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

/// The JSON of a study, with the exit code it must have.
fn study_json(study: &str, arguments: &[&str], exit: i32) -> serde_json::Value {
    let output = equirow(&[&["study", study, DEMO, "--format", "json"], arguments].concat());
    assert_eq!(code(&output), exit, "{study}: {}", err(&output));
    serde_json::from_str(&out(&output)).unwrap()
}

fn has_keys(value: &serde_json::Value, keys: &[&str]) {
    for key in keys {
        assert!(value.get(key).is_some(), "{key} is missing in {value}");
    }
}

#[test]
fn the_study_of_pressure_follows_a_row_and_the_worst_unless_one_is_named() {
    // Row 22 of routing A is farthest from its target, outside the limit: the answer is no, and it is there all the same.
    let worst = study_json("pressure", &[], 1);
    has_keys(&worst, &["row", "flow_l_min", "from_mean_percent", "pump_pressure_kpa", "height_kpa", "way"]);
    assert_eq!(worst["row"], 22);
    has_keys(&worst["way"][0], &["tag", "what", "length_m", "drop_kpa", "mean_drop_kpa"]);
    for key in ["drop_kpa", "mean_drop_kpa"] {
        let height = if key == "drop_kpa" { "height_kpa" } else { "mean_height_kpa" };
        let drops: f64 =
            worst["way"].as_array().unwrap().iter().map(|item| item[key].as_f64().unwrap()).sum();
        let pump = worst["pump_pressure_kpa"].as_f64().unwrap();
        assert!((drops + worst[height].as_f64().unwrap() - pump).abs() < 1e-3 * pump, "{key}");
    }
    let named = study_json("pressure", &["--row", "3", "--routing", "B"], 0);
    assert_eq!(named["row"], 3);
    let nobody = equirow(&["study", "pressure", DEMO, "--row", "41"]);
    assert_eq!(code(&nobody), 2);
    assert!(err(&nobody).contains("no row 41; it has rows 1 to 40"), "{}", err(&nobody));
}

#[test]
fn the_study_of_conditions_lists_cases_by_harm() {
    let json = study_json("conditions", &["--routing", "B"], 0);
    assert_eq!(json["speed_km_h"].as_f64().map(|speed| (speed * 10.0).round()), Some(90.0));
    let csv =
        out(&equirow(&["study", "conditions", DEMO, "--routing", "B", "--speed", "8", "--format", "csv"]));
    assert!(csv.contains("table,\"Other conditions at 8 km/h, the most harm first\""), "{csv}");
    let cases = json["cases"].as_array().unwrap();
    has_keys(
        &cases[0],
        &["case", "change", "cv_percent", "worst_row", "worst_percent", "pressure_change_kpa"],
    );
    let harm = |case: &serde_json::Value| case["harm_percent"].as_f64().unwrap();
    assert!(cases.windows(2).all(|pair| harm(&pair[0]) >= harm(&pair[1])));
    let names: Vec<&str> = cases.iter().map(|case| case["case"].as_str().unwrap()).collect();
    for name in ["side slope", "cold liquid", "row blocked", "orifice lost", "filter loaded", "hose crushed"]
    {
        assert!(names.contains(&name), "{name} in {names:?}");
    }
    // Uneven as planned already: the answer is no.
    study_json("conditions", &[], 1);
}

#[test]
fn the_study_of_priming_tells_when_liquid_comes() {
    let json = study_json("prime", &[], 0);
    has_keys(&json, &["first_row", "last_row", "held_l", "supplied_l", "clear_s", "lines", "pump_off"]);
    let rows = json["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 40);
    has_keys(&rows[0], &["row", "fill_s", "fill_m", "way_l", "clear_s"]);
    // Metres driven are seconds times the speed, 9 km/h.
    for row in rows {
        let (time, metres) = (row["fill_s"].as_f64().unwrap(), row["fill_m"].as_f64().unwrap());
        assert!((metres - time * 2.5).abs() < 1e-9 * metres, "{row}");
    }
}

/// Answer, warnings, and tables with their titles, each of as many cells as its headings, and numbers that a spreadsheet reads.
#[test]
fn the_csv_of_every_study_is_read_again() {
    for study in ["metering", "equalise", "pressure", "conditions", "tolerance", "prime"] {
        let samples: &[&str] = if study == "tolerance" { &["--samples", "4"] } else { &[] };
        let asked = [&["study", study, DEMO, "--slope", "-4"], samples].concat();
        let csv = equirow(&[&asked[..], &["--format", "csv"]].concat());
        let csv = out(&csv);
        assert!(!csv.contains('\u{2212}'), "{study}: {csv}");
        let groups: Vec<&str> = csv.split("\r\n\r\n").collect();
        let records = |text: &str| -> Vec<Vec<String>> {
            let mut reader =
                csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
            reader.records().map(|one| one.unwrap().iter().map(str::to_owned).collect()).collect()
        };
        let said = records(groups[0]);
        assert!(said[0][0] == "answer" && said[0].len() == 2, "{study}: {csv}");
        assert!(said.iter().all(|one| ["answer", "warning"].contains(&one[0].as_str())), "{study}: {csv}");
        // What is said in the table is said here too.
        let table = out(&equirow(&asked));
        for line in &said {
            assert!(table.replace('\u{2212}', "-").contains(&line[1]), "{study}: {line:?}");
        }
        assert!(groups.len() > 1, "{study}");
        for group in &groups[1..] {
            let lines = records(group);
            assert_eq!(lines[0][0], "table", "{study}: {group}");
            let lines: Vec<_> = lines[1..].iter().filter(|line| line[0] != "note").collect();
            let mut heads = lines[0].clone();
            assert!(lines.iter().all(|line| line.len() == heads.len()), "{study}: {group}");
            heads.sort();
            heads.dedup();
            assert_eq!(heads.len(), lines[0].len(), "{study}: a heading stands twice: {:?}", lines[0]);
            for (place, head) in lines[0].iter().enumerate().filter(|(_, head)| head.ends_with(", %")) {
                for line in &lines[1..] {
                    let is_known = !["", "?"].contains(&line[place].as_str());
                    assert!(!is_known || line[place].parse::<f64>().is_ok(), "{study}: {head}: {line:?}");
                }
            }
        }
    }
}

/// A project under another ending would be found by nobody, and a CSV under .ron be taken for a project.
#[test]
fn every_output_refuses_an_ending_that_is_not_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for (arguments, option, name, ending) in [
        (&["study", "metering", DEMO][..], "--out", "x.csv", ".ron"),
        (&["study", "equalise", DEMO], "--out", "x.json", ".ron"),
        (&["export", DEMO], "--network", "x.inp", ".json"),
        (&["export", DEMO], "--inp", "x", ".inp"),
        (&["sheet", DEMO], "--out", "x.ron", "pdf"),
        (&["parts", DEMO], "--out", "x.pdf", "csv"),
    ] {
        let file = at(name);
        let output = equirow(&[arguments, &[option, &file]].concat());
        assert_eq!(code(&output), 2, "{arguments:?}: {}", err(&output));
        let said = err(&output);
        assert!(said.contains(option) && said.contains(ending), "{arguments:?}: {said}");
        assert!(!folder.path().join(name).exists());
    }
}

/// What a study takes stands in its own usage, not in that of all studies.
#[test]
fn wrong_usage_of_a_study_shows_its_options() {
    let output = equirow(&["study", "tolerance", DEMO, "--sample", "3"]);
    assert_eq!(code(&output), 2);
    let said = err(&output);
    assert!(said.contains("did you mean --samples?") && said.contains("--seed"), "{said}");
    assert!(said.contains("Usage: equirow study tolerance"), "{said}");
    assert!(said.contains("`equirow study tolerance --help`"), "{said}");
    let output = equirow(&["study", "pressure"]);
    assert!(err(&output).contains("PROJECT: no file is given"), "{}", err(&output));
}

#[test]
fn a_study_without_an_answer_says_why_in_json_too() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bare.ron");
    let mut project = equirow::files::open(std::path::Path::new(DEMO)).unwrap();
    for routing in &mut project.routings {
        routing.runs.clear();
    }
    equirow::files::save(&file, &project).unwrap();
    for study in ["pressure", "conditions", "prime"] {
        let output = equirow(&["study", study, file.to_str().unwrap(), "--format", "json"]);
        assert_eq!(code(&output), 1, "{study}");
        let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
        assert!(json["no_answer"].as_str().unwrap().contains("no row is connected to the supply"), "{json}");
        assert!(err(&output).contains("no row is connected"), "{}", err(&output));
    }
}

#[test]
fn options_move_the_operating_point() {
    let json = solve_json(&[
        "--speed",
        "7,2",
        "--rate=100",
        "--temperature",
        "5 °C",
        "--slope",
        "-10",
        "--fore-aft-slope=6",
    ]);
    assert_eq!(json["routing"], "A");
    for (key, value) in [
        ("speed_km_h", 7.2),
        ("rate_l_ha", 100.0),
        ("temperature_c", 5.0),
        ("side_slope_percent", -10.0),
        ("fore_aft_slope_percent", 6.0),
    ] {
        assert!((json[key].as_f64().unwrap() - value).abs() < 1e-9, "{key}");
    }
    assert!((json["rows"][0]["target_l_min"].as_f64().unwrap() - 0.36).abs() < 1e-12);
}

/// The mean of rows that together get what is asked is 0, not what is left of rounding.
#[test]
fn no_percentage_is_rounding_noise() {
    for routing in ["A", "B"] {
        let json = solve_json(&["--routing", routing]);
        assert_eq!(json["mean_deviation_percent"].as_f64(), Some(0.0), "{routing}");
    }
}

#[test]
fn the_table_holds_a_line_for_each_row() {
    let text = out(&equirow(&["solve", DEMO]));
    let is_row = |line: &&str| line.split_whitespace().next().is_some_and(|word| word.parse::<u32>().is_ok());
    assert_eq!(text.lines().filter(is_row).count(), 40, "{text}");
    for word in ["Routing", "CV over rows", "Gauge G1", "Manifold M5", "bar", "L/min"] {
        assert!(text.contains(word), "{word} is missing from\n{text}");
    }
}

/// A figure over fewer than all rows of the bar says so beside it.
#[test]
fn figures_over_some_of_the_rows_say_so() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    let mut project = equirow::files::open(std::path::Path::new(DEMO)).unwrap();
    project.routings[0].feeds.pop();
    equirow::files::save(&file, &project).unwrap();
    let text = out(&equirow(&["solve", file.to_str().unwrap()]));
    for name in ["Total flow", "Mean deviation", "CV over rows", "DU, lowest quarter"] {
        let line = text.lines().find(|line| line.starts_with(name)).unwrap();
        assert!(line.ends_with(" (39 of 40 rows)"), "{line}");
    }
    assert!(!out(&equirow(&["solve", DEMO])).contains(" of 40 rows"));
    let json = out(&equirow(&["solve", file.to_str().unwrap(), "--format", "json"]));
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let count = |key: &str| json[key].as_u64();
    assert_eq!(["rows_of_the_bar", "rows_in_total", "fed_rows"].map(count), [Some(40), Some(39), Some(39)]);
}

/// What the plan says comes in 40 s, as somebody would write it down.
fn caught(change: impl Fn(u32) -> f64) -> String {
    let project = equirow::files::Example::TwentyFourMetre.project();
    let point = project.duties.first().usual_point();
    let outcome = equirow::hydraulics::solve(&project, &project.routings[0], &point);
    let line = |row: &equirow::hydraulics::outcome::RowOutcome| {
        format!("{},{:.1}\n", row.number, row.flow.si() * 40.0 * 1e6 * change(row.number))
    };
    outcome.rows().iter().map(line).fold("row,ml\n".to_owned(), |text, line| text + &line)
}

const WIDE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/twenty-four-metre-bar.ron");

/// A table of catches under that bar, in a folder of its own.
struct Yard {
    folder: tempfile::TempDir,
}

impl Yard {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn table(&self) -> PathBuf {
        self.folder.path().join("yard.csv")
    }

    fn holds(&self, text: &str) {
        fs::write(self.table(), text).unwrap();
    }

    fn catch(&self, arguments: &[&str]) -> Output {
        equirow(&[&["catch", WIDE, "--test", self.table().to_str().unwrap()], arguments].concat())
    }

    fn catch_40_s(&self, arguments: &[&str]) -> Output {
        self.catch(&[&["--seconds", "40"], arguments].concat())
    }
}

#[test]
fn a_catch_test_is_judged_and_explained() {
    let yard = Yard::new();
    yard.holds(&caught(|_| 1.0));
    let sound = yard.catch_40_s(&["--format", "json"]);
    assert_eq!(code(&sound), 0, "{}", err(&sound));
    let json: serde_json::Value = serde_json::from_str(&out(&sound)).unwrap();
    has_keys(&json, &["verdict", "rows", "candidates", "next", "gauges", "cv_percent", "remarks"]);
    assert_eq!(json["verdict"]["as_drawn"], true);
    assert_eq!(json["verdict"]["within_limits"], true);
    assert_eq!(json["rows"].as_array().unwrap().len(), 80);
    assert_eq!(json["candidates"][0]["kind"], "scatter_only");
    // A quarter comes at one row.
    yard.holds(&caught(|row| if row == 30 { 0.25 } else { 1.0 }));
    let blocked = yard.catch_40_s(&["--format", "json"]);
    assert_eq!(code(&blocked), 1, "{}", err(&blocked));
    let json: serde_json::Value = serde_json::from_str(&out(&blocked)).unwrap();
    let first = &json["candidates"][0];
    has_keys(first, &["kind", "rows", "parts", "odds", "size", "why"]);
    assert_eq!(first["rows"], serde_json::json!([30]), "{first}");
    let size = &first["size"];
    let [low, number, high] = ["low", "number", "high"].map(|key| size[key].as_f64().unwrap());
    assert!(low < number && number < high, "{size}");
    let range = format!(" ({})", size["range_words"].as_str().unwrap());
    assert!(first["what"].as_str().unwrap().ends_with(&range), "{first}");
    let odds: Vec<f64> =
        json["candidates"].as_array().unwrap().iter().map(|one| one["odds"].as_f64().unwrap()).collect();
    assert!(odds.is_sorted_by(|a, b| a >= b) && odds.iter().all(|one| (0.0..=1.0).contains(one)), "{odds:?}");
    let others = json["others"]["odds"].as_f64().unwrap();
    assert!((odds.iter().sum::<f64>() + others - 1.0).abs() < 1e-9, "{odds:?} {others}");
    let table = out(&yard.catch_40_s(&[]));
    for says in [
        "Neither as drawn nor within the limits",
        "What explains it",
        "one of these, which this test can't tell apart:",
        "not as drawn, outlier",
    ] {
        assert!(table.contains(says), "{says}: {table}");
    }
    // Weighed, with the density that is taken for it, which is the file's; a gauge with what it may show.
    yard.holds(&caught(|_| 1.0).replacen("row,ml", "row,g", 1));
    let weighed = yard.catch_40_s(&["--gauge", "G1=2.0", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&out(&weighed)).unwrap();
    let density = &json["density"];
    let kg_m3 = density["kg_m3"].as_f64().unwrap();
    let plain: serde_json::Value = serde_json::from_str(&out(&{
        yard.holds(&caught(|_| 1.0));
        yard.catch_40_s(&["--gauge", "G1=2.0", "--format", "json"])
    }))
    .unwrap();
    assert!(plain.get("density").is_none());
    let flows = [&json, &plain].map(|json| json["rows"][0]["caught_l_min"].as_f64().unwrap());
    assert!((flows[1] / flows[0] * 1000.0 / kg_m3 - 1.0).abs() < 1e-3, "{flows:?} {density}");
    has_keys(density, &["source", "temperature_c", "temperature_measured", "liquid"]);
    let gauge = &plain["gauges"][0];
    let [low, high] = [0, 1].map(|end| gauge["may_show_kpa"][end].as_f64().unwrap());
    let expected = gauge["expected_kpa"].as_f64().unwrap();
    assert!(low < expected && expected < high && gauge["as_drawn"] == true, "{gauge}");
    assert!(high - expected > 3.0 * gauge["read_sd_kpa"].as_f64().unwrap(), "{gauge}");
    let row = &plain["rows"][0];
    let [low, high] = [0, 1].map(|end| row["may_give_l_min"][end].as_f64().unwrap());
    let (gave, expected) = (row["caught_l_min"].as_f64().unwrap(), row["expected_l_min"].as_f64().unwrap());
    assert!(
        low < gave && gave < high && low < expected && expected < high && row["as_drawn"] == true,
        "{row}"
    );
    assert!(plain["notes"].to_string().contains("of 20 bars as drawn 19 are found to be"), "{plain}");
    yard.holds(&caught(|row| if row == 30 { 0.25 } else { 1.0 }));
    let rows = csv_lines(&out(&yard.catch_40_s(&["--format", "csv"])));
    assert_eq!((rows.len(), rows[30][0].as_str(), rows[30][11].as_str()), (81, "30", "yes"));
    // Two catches of a row a tenth apart, where a jug to 1 % allows 2.8 % at 95 % (ISO 5725-6, critical difference), one of them
    // with a remark that takes nothing out.
    let again = caught(|row| if row == 12 { 0.9 } else { 1.0 });
    let again = again.lines().find(|line| line.starts_with("12,")).unwrap().to_owned();
    let remarked = caught(|_| 1.0).replacen("row,ml", "row,ml,remarks", 1);
    yard.holds(&format!("{remarked}{again},half of it spilt\n"));
    let both = yard.catch_40_s(&["--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&out(&both)).unwrap();
    let remarks = json["remarks"].to_string();
    for says in [
        "catches of one row contradict each other: row 12 (",
        "ISO 5725-6",
        "row 12 carries the remark \\\"half of it spilt\\\" and still counts",
    ] {
        assert!(remarks.contains(says), "{says}: {remarks}");
    }
    let row = &json["rows"][11];
    let apart = ["catches_apart_l_min", "catches_may_differ_l_min"].map(|key| row[key].as_f64().unwrap());
    // As row 13 was caught, once.
    let sd = json["rows"][12]["catch_sd_l_min"].as_f64().unwrap();
    assert!((apart[1] / sd - 2.77).abs() < 0.08 && apart[0] > apart[1], "{apart:?} {sd}");
    // Of two alike in scatter the mean is as uncertain as half of what they differ by (Birge's ratio of two).
    let of_mean = row["catch_sd_l_min"].as_f64().unwrap();
    assert!((of_mean / (apart[0] / 2.0) - 1.0).abs() < 0.01, "{apart:?} {of_mean}");
    assert!(json["rows"][12].get("catches_apart_l_min").is_none());
    let table = yard.catch_40_s(&[]);
    assert!(out(&table).contains("catches apart"), "{}", out(&table));
    assert!(err(&table).contains("and still counts"), "{}", err(&table));
    // What can't be read is said, and the rest judged.
    yard.holds(&format!("{}999,300\nx,1\n", caught(|_| 1.0)));
    let some = yard.catch_40_s(&["--gauge", "G1=99", "--format", "csv"]);
    let said = err(&some);
    assert!(said.contains("\"x\" is no row") && said.contains("row 999 is not a row of this bar"), "{said}");
    assert!(said.contains("above its dial"), "{said}");
    // No verdict for the bar while lines of it are not known.
    assert_eq!(code(&some), 1, "{said}");
}

/// A verdict is of the whole bar, or there is none, with the reason; the reason is the same for people and programs.
/// What a test tells of what was assumed goes to another file with the test, and what rests on it says so; the project itself stays.
#[test]
fn a_catch_test_calibrates_into_another_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (project, table, new) = (path("bar.ron"), path("caught.csv"), path("calibrated.ron"));
    std::fs::copy("examples/nine-metre-bar.ron", &project).unwrap();
    let before = std::fs::read(&project).unwrap();
    let solved = equirow(&["solve", &project, "--format", "json"]);
    let solved: serde_json::Value = serde_json::from_str(&out(&solved)).unwrap();
    let of_row = |row: &serde_json::Value| {
        let flow = row["flow_l_min"].as_f64().unwrap();
        format!("{},{:.1}\n", row["row"], flow / 60.0 * 120.0 * 1000.0)
    };
    let rows: String = solved["rows"].as_array().unwrap().iter().map(of_row).collect();
    std::fs::write(&table, format!("row,ml\n{rows}")).unwrap();
    let shown = solved["gauges"][0]["pressure_kpa"].as_f64().unwrap() / 100.0;
    let gauge = format!("{}={shown:.3}±0.005", solved["gauges"][0]["tag"].as_str().unwrap());
    let usual = ["catch", &project, "--test", &table, "--seconds", "120", "--temperature", "12"];
    let told = equirow(&[&usual[..], &["--gauge", &gauge, "--calibrate", &new]].concat());
    assert!(told.status.success(), "{}", err(&told));
    let says = out(&told);
    for part in [
        "Calibrated by it",
        "Discharge coefficient of ",
        " stays assumed: ",
        "What would tell it: ",
        "is written",
    ] {
        assert!(says.contains(part), "{part}: {says}");
    }
    assert_eq!(std::fs::read(&project).unwrap(), before);
    let after = out(&equirow(&["solve", &new]));
    assert!(
        after.contains("was calibrated on ") && after.contains(" from test Test 1 at 12 °C, ±"),
        "{after}"
    );
    assert!(!out(&equirow(&["solve", &project])).contains("calibrated"));
    assert!(out(&equirow(&["catch-sheet", &new, "--out", &path("sheet.csv")])).is_empty());
    // Without a pressure a metered bar tells nothing of its orifices: what would is said, and nothing is written.
    let other = path("other.ron");
    let untold = equirow(&[&usual[..], &["--calibrate", &other, "--format", "json"]].concat());
    assert_eq!(untold.status.code(), Some(1), "{}", out(&untold));
    let json: serde_json::Value = serde_json::from_str(&out(&untold)).unwrap();
    assert_eq!(
        (&json["calibration"]["written"], json["calibration"]["told"].as_array().unwrap().len()),
        (&serde_json::json!(false), 0)
    );
    assert!(json["calibration"]["not_told"].to_string().contains("would tell it within"), "{json}");
    assert!(!std::path::Path::new(&other).exists());
    // Of another bar, with lines missing, or with a time that can't be read, nothing is calibrated, and it says what to do.
    let whole = std::fs::read_to_string(&table).unwrap();
    let with = |text: String, more: &[&str]| {
        std::fs::write(&table, text).unwrap();
        let ran = equirow(&[&usual[..], &["--gauge", &gauge, "--calibrate", &other], more].concat());
        assert!(!ran.status.success() && !std::path::Path::new(&other).exists(), "{}", out(&ran));
        let said = out(&ran) + &err(&ran);
        assert!(!said.contains("not as drawn") && !said.contains("What to look at next"), "{said}");
        said
    };
    let said = with(format!("Condition,Value\nSheet of,Another bar\n\n{whole}"), &[]);
    assert!(said.contains("is not judged: the sheet is of \"Another bar\"; read what belongs"), "{said}");
    let said = with(format!("{whole}x,1\n"), &[]);
    assert!(said.contains("is not judged: 1 line could not be read or placed (line"), "{said}");
    for (unread, why) in [("about 40", "about 40"), ("1e308", "1.000e308 s is out of range")] {
        let text =
            format!("\"Catch time, s\",60\n\"Seconds really caught, if not as asked\",{unread}\n\n{whole}");
        std::fs::write(&table, text).unwrap();
        let refused = equirow(&["catch", &project, "--test", &table, "--calibrate", &other]);
        assert_eq!(refused.status.code(), Some(2), "{}", out(&refused));
        let said = err(&refused);
        assert!(said.contains("can't be read in the table; give --seconds") && said.contains(why), "{said}");
        let given = equirow(&usual);
        let head = out(&given);
        // The time that is given counts; such lines alone are not of a whole sheet.
        assert!(head.contains("Not judged: the sheet does not say what it was printed of"), "{head}");
    }
    std::fs::write(&table, &whole).unwrap();
    for (rows, says) in [
        ("1-999999999", "the bar has no row 999999999; it has "),
        ("99", "the bar has no row 99; it has "),
        ("", "names no row"),
        ("1,,2", "is no list of rows"),
        ("9-3", "type 3-9"),
    ] {
        let said = with(whole.clone(), &["--leave-out", rows]);
        assert!(said.contains(says), "{rows}: {said}");
    }
    let alone = equirow(&[&usual[..], &["--leave-out", "3"]].concat());
    assert!(err(&alone).contains("--leave-out only goes with --calibrate NEW.ron"), "{}", err(&alone));
    let thousands = equirow(&[&usual[..], &["--gauge", "G1=1,450 kPa"]].concat());
    assert!(err(&thousands).contains("may be 1450 kPa or 1.450 kPa"), "{}", err(&thousands));
    // Neither the project nor the table is written over.
    for file in [&project, &table] {
        let refused = equirow(&[&usual[..], &["--calibrate", file]].concat());
        assert_eq!(refused.status.code(), Some(2), "{}", err(&refused));
    }
    assert_eq!(std::fs::read(&project).unwrap(), before);
}

#[test]
fn a_catch_test_with_lines_or_rows_missing_has_no_verdict() {
    let yard = Yard::new();
    let whole = caught(|_| 1.0);
    let few = whole.lines().take(2).fold(String::new(), |text, line| text + line + "\n");
    for (text, why) in [
        (format!("{whole}999,300\nx,1\n"), "2 lines could not be read or placed"),
        (few, "79 of 80 rows were not caught"),
    ] {
        yard.holds(&text);
        let output = yard.catch_40_s(&["--format", "json"]);
        assert_eq!(code(&output), 1, "{}", err(&output));
        let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
        let verdict = &json["verdict"];
        assert!(verdict["as_drawn"].is_null() && verdict["within_limits"].is_null(), "{verdict}");
        assert_eq!(verdict["not_judged"], why, "{verdict}");
        let says = verdict["says"][0].as_str().unwrap();
        assert!(says.starts_with(&format!("Not judged: {why}")), "{says}");
    }
    let table = out(&yard.catch_40_s(&[]));
    assert!(table.contains("Not judged: 79 of 80 rows were not caught"), "{table}");
    assert!(table.contains("1 caught (1 %)"), "{table}");
}

/// The commissioning sheet that we print says what it is of and how long to catch; a held pressure and the scatter of jug and
/// watch are asked for like the rest.
#[test]
fn a_catch_test_takes_what_a_sheet_says_and_what_is_asked_for() {
    let yard = Yard::new();
    let sheet = yard.folder.path().join("sheet.csv");
    let sheet = sheet.to_str().unwrap();
    assert_eq!(code(&equirow(&["commissioning", WIDE, "--out", sheet])), 0);
    let printed = fs::read_to_string(sheet).unwrap();
    for says in ["Sheet of,", "Catch at,", "\"Catch time, s\",40"] {
        assert!(printed.contains(says), "{says}: {printed}");
    }
    // Its conditions with the name of another routing, and rows behind them.
    let facts = printed.lines().take_while(|line| *line != "\"\"");
    let facts = facts.fold(String::new(), |text, line| text + line + "\n").replace("routing ", "routing X");
    yard.holds(&format!("{facts}\n\"\"\nCatch of every row\n{}", caught(|_| 1.0)));
    let output = yard.catch(&["--format", "csv"]);
    assert!(err(&output).contains("it was printed of "), "{}", err(&output));
    let output = yard.catch(&["--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    let why = json["verdict"]["not_judged"].as_str().unwrap();
    assert!(why.starts_with("the sheet is of \"") && why.contains("routing X"), "{why}");
    assert_eq!((code(&output), json["verdict"]["as_drawn"].is_null()), (1, true));
    yard.holds(&caught(|_| 1.0));
    let arguments =
        ["--pressure", "2.1", "--scatter-amount", "2", "--scatter-time", "0.5", "--format", "json"];
    let held = yard.catch_40_s(&arguments);
    let json: serde_json::Value = serde_json::from_str(&out(&held)).unwrap();
    assert_eq!(json["held_kpa"].as_f64().map(f64::round), Some(210.0));
    // What runs at a pressure held by hand says nothing of what the control doses.
    assert!(json["applied_l_ha"].is_null());
    assert_eq!(json["liquid"], "product");
    // A jug to 2 %, and half a second of 40: 1.25 % (JCGM 100:2008, 5.1.2: in squares).
    let row = &json["rows"][0];
    let sd = row["catch_sd_l_min"].as_f64().unwrap() / row["caught_l_min"].as_f64().unwrap();
    assert!((0.0235..0.0240).contains(&sd), "{sd}");
    let both = yard.catch_40_s(&["--pressure", "2", "--speed", "8"]);
    assert_eq!(code(&both), 2, "{}", err(&both));
}

#[test]
fn a_catch_test_that_can_not_be_read_says_why() {
    let yard = Yard::new();
    yard.holds("row,ml\n1,300\n");
    for (arguments, expected, says) in [
        (&["--format", "json"][..], 2, "give --seconds or --metres"),
        (&["--seconds", "0"], 2, "out of range"),
        (&["--seconds", "7200"], 2, "give 1 s to 3600 s"),
        (&["--seconds", "40", "--scatter-amount", "0"], 2, "out of range"),
        (&["--seconds", "40", "--metres", "50"], 2, "--metres"),
        (&["--seconds", "40", "--gauge", "G1"], 2, "no reading"),
        (&["--seconds", "40", "--gauge", "G99=1.5"], 2, "has no part \"G99\""),
        (&["--seconds", "40", "--gauge", "G1=21 psi±0.3"], 2, "write both, as in 21 psi±0.3 psi"),
        (&["--seconds", "40", "--gauge", "G1=1.5+/-0"], 2, "out of range"),
        (&["--seconds", "40", "--gauge", "G1=1.5±50"], 2, "which is more than its whole dial"),
        (&["--seconds", "40", "--liquid", "milk"], 2, "write product or water"),
        (&["--seconds", "40", "--routing", "Z"], 2, "has no routing \"Z\""),
    ] {
        let output = yard.catch(arguments);
        assert_eq!(code(&output), expected, "{arguments:?}: {}", err(&output));
        assert!(err(&output).contains(says), "{arguments:?}: {}", err(&output));
    }
    // Text of a spreadsheet in UTF-16, the low byte first (RFC 2781).
    let text = caught(|_| 1.0);
    let bytes: Vec<u8> =
        std::iter::once(0xFEFF).chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect();
    fs::write(yard.table(), bytes).unwrap();
    let output = yard.catch_40_s(&["--format", "csv"]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    // No test is kept: nothing is written, and that is no success.
    let sheet = yard.folder.path().join("test.csv");
    let output = equirow(&["catch-sheet", WIDE, "--out", sheet.to_str().unwrap()]);
    assert_eq!(code(&output), 1, "{}", err(&output));
    assert!(err(&output).contains("no catch test is kept of routing") && !sheet.exists(), "{}", err(&output));
    let page = yard.folder.path().join("test.pdf");
    let output = equirow(&["sheet", WIDE, "--sheets", "catch-test", "--out", page.to_str().unwrap()]);
    assert_eq!(code(&output), 1, "{}", err(&output));
    assert!(err(&output).contains("no catch test is kept of routing") && !page.exists(), "{}", err(&output));
    // Nor where it is one of several that are asked for by their names; so with hinges of a bar that has none.
    let mut rigid = equirow::files::Example::NineMetre.project();
    rigid.bar.sections.truncate(1);
    let centre = rigid.bar.sections[0].id;
    rigid.bar.rows.iter_mut().for_each(|row| row.section = centre);
    (rigid.bar.sections[0].left, rigid.bar.sections[0].right) =
        (equirow::quantities::Length::metres(-4.5), equirow::quantities::Length::metres(4.5));
    rigid.routings = vec![equirow::plan::Routing::empty(equirow::plan::RoutingId(1), "Bare")];
    let flat = yard.folder.path().join("rigid.ron");
    equirow::files::save(&flat, &rigid).unwrap();
    for (project, sheets, says) in [
        (WIDE, "layout,catch-test", "or leave catch-test out of --sheets"),
        (flat.to_str().unwrap(), "layout,hinges", "or leave hinges out of --sheets"),
        (flat.to_str().unwrap(), "hinges", "no section of the bar hangs on a hinge"),
    ] {
        let output = equirow(&["sheet", project, "--sheets", sheets, "--out", page.to_str().unwrap()]);
        assert_eq!(code(&output), 1, "{sheets}: {}", err(&output));
        assert!(err(&output).contains(says) && !page.exists(), "{sheets}: {}", err(&output));
    }
    // One in which nothing was caught has nothing to be judged: what is filled in is the commissioning sheet.
    let mut begun = equirow::files::Example::NineMetre.project();
    let duty = begun.duties.first().clone();
    let bar = equirow::plan::catch_test::tested_bar(&begun, begun.routings[0].id, duty.id).unwrap();
    let test = begun.catch_tests.empty_at(&duty.usual_point());
    equirow::plan::edit::apply(
        &mut begun,
        equirow::plan::Edit::PutCatchTestOn(Box::new(test), std::sync::Arc::new(bar)),
    )
    .unwrap();
    let kept = yard.folder.path().join("begun.ron");
    equirow::files::save(&kept, &begun).unwrap();
    let kept = kept.to_str().unwrap();
    for arguments in [
        &["catch-sheet", kept, "--out", sheet.to_str().unwrap()][..],
        &["catch-sheet", kept, "--test", "Test 1", "--out", sheet.to_str().unwrap()],
        &["sheet", kept, "--sheets", "catch-test", "--out", page.to_str().unwrap()],
    ] {
        let output = equirow(arguments);
        assert_eq!(code(&output), 1, "{arguments:?}: {}", err(&output));
        assert!(err(&output).contains("nothing caught in Test 1 counts yet"), "{}", err(&output));
        assert!(!sheet.exists() && !page.exists());
    }
    yard.holds("opener,litres\n1,300\n");
    let output = yard.catch_40_s(&[]);
    assert_eq!(code(&output), 3);
    assert!(err(&output).contains("no column is headed \"row\""), "{}", err(&output));
    let output = equirow(&["catch", WIDE, "--test", "nowhere.csv", "--seconds", "40"]);
    assert_eq!(code(&output), 3);
}

#[test]
fn code_0_for_help_and_version() {
    for argument in ["--help", "--version", "-h", "-V"] {
        let output = equirow(&[argument]);
        assert_eq!(code(&output), 0, "{argument}");
        assert!(out(&output).to_lowercase().contains("equirow"));
    }
    assert!(out(&equirow(&["solve", "--help"])).contains("--temperature <C>"));
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
        (&["solve"][..], "PROJECT: no file is given"),
        (&["solve", DEMO, "--sped", "9"], "--speed"),
        (&["solve", DEMO, "--speed"], "--speed needs a value"),
        (&["solve", DEMO, "--speed="], "--speed needs a value"),
        (&["solve", DEMO, "--speed", "--rate", "9"], "--speed needs a value"),
        (&["solve", DEMO, "--speed", "8", "--speed=9"], "--speed is given twice"),
        (&["solve", ""], "PROJECT: \"\" names no file"),
        (&["solve", DEMO, "--speed", "abc"], "--speed: \"abc\""),
        (&["solve", DEMO, "--speed", "-3"], "0.1"),
        (&["solve", DEMO, "--rate", "2.5 bar"], "L/ha"),
        (&["solve", DEMO, "--rate", "0"], "--rate: \"0\" is out of range; give 0.1 L/ha to 10000 L/ha"),
        (&["solve", DEMO, "--format", "xml"], "--format: \"xml\" is not known; write table or json"),
        (&["solve", DEMO, "--routing", "C"], "--routing: the project has no routing \"C\"; it has A, B"),
        (&["solve", DEMO, DEMO], "PROJECT: two files are given"),
        (&["--nonsense"], "usage"),
        (&[DEMO, "--speed"], "found \"--speed\""),
        (&["help", "sovle"], "found \"sovle\""),
        (&["network"], "FILE: no file is given"),
        (&["network", "a.json", "b.json"], "FILE: two files are given, a.json and b.json"),
        (
            &["network", "a.json", "--time", "0"],
            "--time: \"0\" is no number of repeats; give one from 1 to 1000000",
        ),
        (&["network", "a.json", "--often"], "--often is not known; try one of --time"),
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

fn compare_json(arguments: &[&str], expected: i32) -> serde_json::Value {
    let output = equirow(&[&["compare"], arguments, &["--format", "json"]].concat());
    assert_eq!(code(&output), expected, "{}", err(&output));
    serde_json::from_str(&out(&output)).unwrap()
}

#[test]
fn two_routings_are_compared() {
    let json = compare_json(&[DEMO, "A", "B"], 0);
    assert_eq!(json["a"]["routing"], "A");
    assert_eq!(json["speed_km_h"], 9.0);
    for key in [
        "cv_slowest_percent",
        "cv_usual_percent",
        "du_lowest_quarter_fastest_percent",
        "farthest_row_usual_percent",
        "inlet_usual_kpa",
        "highest_manifold_usual_kpa",
        "lowest_manifold_usual_kpa",
        "gauge_usual_kpa.G1",
        "hose_length_m",
        "hose_length_m.hose-12",
        "tube_length_m",
        "parts",
        "joints",
        "joints.hose_joints",
        "runs_across_hinges",
        "liquid_held_l",
        "longest_tube_m",
        "shortest_tube_m",
    ] {
        assert!(json["a"][key].is_number() && json["b"][key].is_number(), "{key}: {}", json["a"][key]);
    }
    assert!(json["a"]["cost"].is_null());
    assert!(json["a"]["cost_unknown_because"].as_str().unwrap().contains("no price"));
    let differences = json["differences"].as_array().unwrap();
    for one in differences {
        let figure = one["figure"].as_str().unwrap();
        assert_eq!(one["a"], json["a"][figure], "{figure}");
        assert_eq!(one["b"], json["b"][figure], "{figure}");
        assert!(one["better"].is_null() || one["better"] == "a" || one["better"] == "b");
        assert!(["lower", "higher", "neither"].contains(&one["better_is"].as_str().unwrap()));
    }
    let cv = differences.iter().find(|one| one["figure"] == "cv_usual_percent").unwrap();
    assert_eq!(cv["better"], "b");
    assert_eq!(json["rows"].as_array().unwrap().len(), 40);
    // The same routing solved on its own has the same figures.
    let solved = solve_json(&["--routing", "B"]);
    for (compared, alone) in [("cv_usual_percent", "cv_percent"), ("inlet_usual_kpa", "inlet_pressure_kpa")] {
        let (a, b) = (json["b"][compared].as_f64().unwrap(), solved[alone].as_f64().unwrap());
        // The last digit may go either way with the unit.
        assert!((a - b).abs() <= 1e-12 * a.abs(), "{compared}: {a} against {b}");
    }

    let same = compare_json(&[DEMO, "A", "A", "--speed", "8,5"], 0);
    assert_eq!(same["differences"].as_array().unwrap().len(), 0);
    assert!(same["a"]["cv_looked_at_percent"].is_number(), "8.5 km/h is none of the project's three speeds");

    let text = out(&equirow(&["compare", DEMO, "A", "B"]));
    assert!(text.contains("routing B is more even") && text.contains("no price"), "{text}");
    // What `equirow check` says of each is said before what is more even.
    assert_eq!((&json["a"]["released"], &json["b"]["released"]), (&false.into(), &true.into()));
    let why = json["a"]["why_not_released"].as_str().unwrap();
    assert!(out(&equirow(&["check", DEMO, "--routing", "A"])).contains(why), "{why}");
    assert!(text.starts_with(&format!("Routing A is {why}. ")), "{text}");
    let reading = |words: &str| text.lines().any(|line| line.contains(words));
    assert!(reading("CV over rows") && reading("better is") && reading("From A to B"), "{text}");
}

#[test]
fn a_comparison_that_cannot_be_made_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("half.ron");
    let mut project = equirow::files::demo();
    project.routings.push(equirow::plan::Routing::empty(equirow::plan::RoutingId(9), "Bare"));
    equirow::files::save(&path, &project).unwrap();
    let file = path.to_str().unwrap();
    let output = equirow(&["compare", file, "A", "Bare"]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("routing Bare: no row is connected to the supply"), "{}", err(&output));
    let text = out(&output);
    let cv = text.lines().find(|line| line.contains("CV over rows")).unwrap();
    assert!(cv.contains(" %") && cv.contains('–'), "the one that can be solved is shown: {text}");
    let json = compare_json(&[file, "Bare", "B"], 1);
    assert!(json["a"]["cv_usual_percent"].is_null() && json["b"]["cv_usual_percent"].is_number());
    assert_eq!(json["a"]["why_not_solved"], "no row is connected to the supply");

    for (arguments, hint) in [
        (&["compare", DEMO, "A", "C"][..], "B: the project has no routing \"C\"; it has A, B"),
        (&["compare", DEMO, "Z", "B"], "A: the project has no routing \"Z\"; it has A, B"),
        (&["compare", DEMO, "A"], "B: only \"A\" is given"),
        (&["compare", DEMO], "A: no routing is given"),
        (&["compare"], "PROJECT: no file is given"),
        (&["compare", DEMO, "A", "B", "C"], "one name too many"),
        (&["compare", DEMO, "A", "B", "--speed", "fast"], "--speed"),
        (&["compare", DEMO, "A", "B", "--rate", "9"], "--speed, --format"),
    ] {
        let output = equirow(arguments);
        assert_eq!(code(&output), 2, "{arguments:?}");
        assert!(err(&output).contains(hint), "{arguments:?}: {}", err(&output));
    }
    assert_eq!(code(&equirow(&["compare", "no such file.ron", "A", "B"])), 3);
}

fn pressures_and_flows(text: &str) -> serde_json::Value {
    let value: serde_json::Value = serde_json::from_str(text).unwrap();
    assert_eq!(value["status"], "ok", "{text}");
    value
}

#[test]
fn export_writes_a_network_that_solves_to_the_same_flows() {
    let folder = tempfile::tempdir().unwrap();
    let (json, inp) = (folder.path().join("out.json"), folder.path().join("out.inp"));
    let (json, inp) = (json.to_str().unwrap(), inp.to_str().unwrap());
    for (file, routing) in [
        ("twelve-metre-bar", "A"),
        ("twelve-metre-bar", "B"),
        ("nine-metre-bar", "A"),
        ("twenty-four-metre-bar", "A"),
    ] {
        let project = format!("{}/examples/{file}.ron", env!("CARGO_MANIFEST_DIR"));
        for point in [&["--slope", "6"][..], &["--temperature", "2", "--speed=11"]] {
            let arguments = [&["--routing", routing], point].concat();
            let export = [&["export", &project, "--network", json, "--inp", inp], &arguments[..]].concat();
            let output = equirow(&export);
            assert_eq!(code(&output), 0, "{}", err(&output));
            assert!(out(&output).is_empty());
            let solved = pressures_and_flows(&out(&equirow(&["network", json])));
            let report: serde_json::Value = serde_json::from_str(&out(&equirow(
                &[&["solve", &project, "--format", "json"], &arguments[..]].concat(),
            )))
            .unwrap();
            // Row flows of the file, by elevation-free means: what reaches nodes at the air, against the rows' own.
            let network: serde_json::Value =
                serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap();
            let air: Vec<&str> = network["nodes"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|node| node["fixed_pressure_pa"] == 0.0)
                .map(|node| node["id"].as_str().unwrap())
                .collect();
            let mut flows: Vec<f64> = network["links"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|link| air.contains(&link["to"].as_str().unwrap()))
                .map(|link| solved["link_flow_m3s"][link["id"].as_str().unwrap()].as_f64().unwrap() * 6e4)
                .collect();
            let mut rows: Vec<f64> = report["rows"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|row| row["fed"] == true)
                .map(|row| row["flow_l_min"].as_f64().unwrap())
                .collect();
            flows.retain(|flow| *flow != 0.0);
            assert_eq!(flows.len(), rows.len(), "{file} {routing}");
            flows.sort_by(f64::total_cmp);
            rows.sort_by(f64::total_cmp);
            for (flow, row) in flows.iter().zip(&rows) {
                assert!((flow / row - 1.0).abs() < 1e-9, "{file} {routing}: {flow} and {row}");
            }
            let text = fs::read_to_string(inp).unwrap();
            for word in ["[JUNCTIONS]", "[VALVES]", "; Gravity", "; Friction", "; Project: ", "Headloss D-W"]
            {
                assert!(text.contains(word), "{word}");
            }
        }
    }
}

#[test]
fn export_answers_with_codes_and_reasons() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let out_file = at("out.inp");
    for (arguments, expected, hint) in [
        (vec!["export", DEMO], 2, "nothing to write; give --network"),
        (vec!["export", DEMO, "--network"], 2, "needs a value"),
        (vec!["export", DEMO, "--svg", "x"], 2, "--inp"),
        (vec!["export", "--inp", &out_file], 2, "PROJECT: no file is given"),
        (vec!["export", DEMO, "--routing", "C", "--inp", &out_file], 2, "it has A, B"),
        (vec!["export", "no such file.ron", "--inp", &out_file], 3, "check the name"),
        (vec!["export", DEMO, "--inp", "/no/such/folder/out.inp"], 3, "a folder that exists"),
        (vec!["export", DEMO, "--network", folder.path().to_str().unwrap()], 3, "it is a folder"),
    ] {
        let output = equirow(&arguments);
        assert_eq!(code(&output), expected, "{arguments:?}: {}", err(&output));
        assert!(err(&output).contains(hint), "{arguments:?}: {}", err(&output));
    }
    let bare = at("bare.ron");
    let mut project = equirow::files::demo();
    project.routings = vec![equirow::plan::Routing::empty(equirow::plan::RoutingId(1), "Bare")];
    equirow::files::save(bare.as_ref(), &project).unwrap();
    let output = equirow(&["export", &bare, "--inp", &out_file]);
    assert_eq!(code(&output), 1, "{}", err(&output));
    assert!(err(&output).contains("nothing is written"), "{}", err(&output));
    assert!(!std::path::Path::new(&out_file).exists());
}

#[test]
fn a_metering_tube_is_exported_as_the_pipe_it_is_at_that_flow_and_says_so() {
    use equirow::plan::{FeedElement, HoseStock, Item, StockItem, StockKey};
    use equirow::quantities::{Length, Pressure};
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (file, json) = (at("tubes.ron"), at("tubes.json"));
    let mut project = equirow::files::demo();
    let key = StockKey::new("test-metering-tube");
    let mut entry = project.catalogue.entries[0].clone();
    entry.key = key.any().clone();
    entry.item = Item::Stock(StockItem::MeteringTube(HoseStock {
        bore: Length::metres(0.0015),
        outside: Length::metres(0.004),
        roughness: Length::metres(1.5e-6),
        bend_radius: Length::metres(0.02),
        rated: Pressure::from_si(1e6),
        stiffness: None,
        weight: None,
    }));
    project.catalogue.entries.push(entry);
    for (number, feed) in project.routings[0].feeds.iter_mut().enumerate() {
        for element in feed.elements_mut() {
            if element.is_metering() {
                let coil = (number % 2 == 0).then(|| Length::metres(0.06));
                *element =
                    FeedElement::MeteringTube { stock: key.clone(), length: Length::metres(0.9), coil };
            }
        }
    }
    equirow::files::save(file.as_ref(), &project).unwrap();
    let output = equirow(&["export", &file, "--network", &json]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let text = fs::read_to_string(&json).unwrap();
    assert_eq!(text.matches("\"meta\": {\"note\": \"Metering tube ").count(), 40);
    let solved = pressures_and_flows(&out(&equirow(&["network", &json])));
    let project = equirow::files::open(file.as_ref()).unwrap();
    let outcome =
        equirow::hydraulics::solve(&project, &project.routings[0], &project.duties.first().usual_point());
    let feeds = &project.routings[0].feeds;
    for one in outcome.elements().iter().filter(|one| one.length == Some(Length::metres(0.9))) {
        let feed = feeds.iter().find(|feed| feed.id == one.feed).unwrap();
        let name = format!("{} metering tube {}", feed.tag, one.index + 1);
        let flow = solved["link_flow_m3s"][&name].as_f64().unwrap();
        assert!((flow / one.flow.unwrap().si() - 1.0).abs() < 1e-9, "{name}");
    }
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
        ("joints", "joints.csv"),
        ("hinges", "hinges.csv"),
        ("labels", "labels.csv"),
        ("commissioning", "commissioning.csv"),
    ] {
        let output = equirow(&[what, NINE, "--out", &path(name)]);
        assert_eq!(
            (code(&output), err(&output).as_str(), out(&output).as_str()),
            (0, "", ""),
            "{what} {name}"
        );
        assert!(fs::metadata(path(name)).unwrap().len() > 250);
    }
    let text = fs::read_to_string(path("-cuts.csv")).unwrap();
    // A heading, nine hoses and thirty-six tubes.
    assert_eq!(text.lines().count(), 1 + 9 + 36);
    assert!(text.lines().any(|line| line.contains("measure through the full fold before cutting")));
    let text = fs::read_to_string(path("labels.csv")).unwrap();
    assert_eq!(text.lines().count(), 1 + 2 * (9 + 36), "a label for each end, once it has its last length");
    assert_eq!(text.lines().filter(|line| line.starts_with("H1,")).count(), 2, "{text}");
    assert!(text.lines().any(|line| line.starts_with("H1,pump,F1 inlet,")), "{text}");
    let text = fs::read_to_string(path("joints.csv")).unwrap();
    assert!(text.lines().any(|line| line.starts_with("F1 inlet,") && line.contains(",H1,")), "{text}");
    let text = fs::read_to_string(path("commissioning.csv")).unwrap();
    // Caption, heading, the slowest, usual and fastest speed with the two between, and three notes.
    let pressures = text.lines().skip_while(|line| !line.starts_with("\"Pressures and total flow"));
    assert_eq!(pressures.take_while(|line| *line != "\"\"").count(), 1 + 1 + 5 + 3, "{text}");
    // And, below, what to catch at each row.
    assert!(text.lines().filter(|line| line.starts_with("36,")).count() >= 1, "{text}");

    // What was there stays when the new one can't be written.
    let output = equirow(&["parts", NINE, "--out", &path("no folder/parts.csv")]);
    assert_eq!(code(&output), 3);
    assert!(err(&output).contains("choose a folder that exists"), "{}", err(&output));
    let mut permissions = fs::metadata(path("cuts.xlsx")).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(path("cuts.xlsx"), permissions).unwrap();
    let before = fs::read(path("cuts.xlsx")).unwrap();
    let output = equirow(&["cuts", NINE, "--out", &path("cuts.xlsx")]);
    assert_eq!(code(&output), 3);
    assert!(err(&output).contains("write-protected"), "{}", err(&output));
    assert_eq!(fs::read(path("cuts.xlsx")).unwrap(), before);
    fs::create_dir(path("folder.csv")).unwrap();
    assert_eq!(code(&equirow(&["parts", NINE, "--out", &path("folder.csv")])), 3);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 9, "nothing is left beside the files");
}

/// A filled-in list comes back: the project has its lengths as measured ones, its revision is raised, and the papers list what
/// differs. A list of another routing is refused line by line.
#[test]
fn lengths_as_cut_come_back_from_the_cut_list() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let twelve = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/twelve-metre-bar.ron");
    assert_eq!(code(&equirow(&["cuts", twelve, "--out", &path("cuts.csv")])), 0);
    let text = fs::read_to_string(path("cuts.csv")).unwrap();
    let mut lines = csv_lines(&text);
    let column =
        |lines: &[Vec<String>], name: &str| lines[0].iter().position(|one| one.starts_with(name)).unwrap();
    let (tag, fitted, as_cut) = (column(&lines, "Tag"), column(&lines, "Fitted"), column(&lines, "As cut"));
    let (to_cut, last) = (column(&lines, "Cut length"), column(&lines, "Final"));
    let blank = lines.clone();
    for line in &mut lines[1..] {
        match line[tag].as_str() {
            "H4" => {
                // It crosses a hinge: the list says no until it has its last length.
                assert_eq!(line[last], "no");
                line[as_cut] = "4310".to_owned();
                line[last] = "yes".to_owned();
            }
            "T1" => line[as_cut] = line[fitted].clone(),
            _ => {}
        }
    }
    let write = |name: &str, lines: &[Vec<String>]| {
        let quoted = |line: &Vec<String>| {
            line.iter().map(|one| format!("\"{}\"", one.replace('"', "\"\""))).collect::<Vec<_>>().join(";")
        };
        fs::write(path(name), lines.iter().map(quoted).collect::<Vec<_>>().join("\n")).unwrap();
    };
    write("filled.csv", &lines);
    let output = equirow(&["as-cut", twelve, "--list", &path("filled.csv"), "--out", &path("new.ron")]);
    assert_eq!((code(&output), err(&output).as_str()), (0, ""));
    assert_eq!(out(&output), "2 lengths taken, 1 differs from what was known; now revision 2\n");
    let project = equirow::files::open(&folder.path().join("new.ron")).unwrap();
    let routing = &project.routings[0];
    let run = routing.runs.iter().find(|run| run.tag == "H4").unwrap();
    assert_eq!(run.line.measured.unwrap().si(), 4.31);
    assert!(routing.feeds.iter().any(|feed| feed.first_tube().unwrap().line.measured.is_some()));
    assert_eq!(project.title.revision, "2");
    let [newest] = &project.title.changes[..] else { panic!("{:?}", project.title.changes) };
    assert_eq!((newest.index.as_str(), newest.routing.as_str()), ("2", "A"));
    assert_eq!((newest.lengths[0].tag.as_str(), newest.lengths[0].is.si()), ("H4", 4.31));
    // Once more: nothing is new, and the list now gives the length that was cut.
    let output =
        equirow(&["as-cut", &path("new.ron"), "--list", &path("filled.csv"), "--out", &path("same.ron")]);
    assert_eq!(out(&output), "2 lengths read: the project has them already\n");
    assert_eq!(code(&equirow(&["cuts", &path("new.ron"), "--out", &path("again.csv")])), 0);
    let again = csv_lines(&fs::read_to_string(path("again.csv")).unwrap());
    let of_h4 = again.iter().find(|line| line[tag] == "H4").unwrap();
    assert_eq!(of_h4[fitted], "4310");
    // A measured length is listed rounded up; the record of the next one says the length that was.
    let refill = |lines: &[Vec<String>], name: &str, length: &str| {
        let mut lines = lines.to_vec();
        lines.iter_mut().find(|line| line[tag] == "H4").unwrap()[as_cut] = length.to_owned();
        write(name, &lines);
    };
    refill(&again, "second.csv", "4303");
    let output =
        equirow(&["as-cut", &path("new.ron"), "--list", &path("second.csv"), "--out", &path("3.ron")]);
    assert_eq!(
        out(&output),
        "1 length taken, 1 differs from what was known; now revision 3\n",
        "{}",
        err(&output)
    );
    assert_eq!(code(&equirow(&["cuts", &path("3.ron"), "--out", &path("third.csv")])), 0);
    let third = csv_lines(&fs::read_to_string(path("third.csv")).unwrap());
    assert_eq!(third.iter().find(|line| line[tag] == "H4").unwrap()[fitted], "4310");
    refill(&third, "third.csv", "4320");
    let output = equirow(&["as-cut", &path("3.ron"), "--list", &path("third.csv"), "--out", &path("4.ron")]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let changes = equirow::files::open(&folder.path().join("4.ron")).unwrap().title.changes;
    let newest = &changes[0];
    assert_eq!((newest.index.as_str(), changes.len()), ("4", 3));
    let [changed] = &newest.lengths[..] else { panic!("{newest:?}") };
    assert_eq!((changed.tag.as_str(), changed.was.unwrap().si(), changed.is.si()), ("H4", 4.303, 4.32));
    let listed = blank.iter().find(|line| line[tag] == "H4").unwrap()[fitted].clone();
    let earlier =
        format!("H4 is {listed} mm long in the list and 4320 mm in routing A by now; export the list again");
    // Lists from before another length was measured: by the length they list, and by their revision where that is the same.
    for (list, into, says) in [
        ("filled.csv", "4.ron", earlier.as_str()),
        ("second.csv", "4.ron", "H4 is 4310 mm long in the list and 4320 mm"),
        (
            "late.csv",
            "3.ron",
            "the list is of revision 2, and H4 was measured by revision 3: 4303 mm; export the list again",
        ),
    ] {
        refill(&again, "late.csv", "4305");
        let output = equirow(&["as-cut", &path(into), "--list", &path(list), "--out", &path("stale.ron")]);
        assert_eq!(code(&output), 1, "{list}");
        let said = err(&output).replace('\u{202f}', "");
        assert!(said.contains(says) && !folder.path().join("stale.ron").exists(), "{said}");
    }
    // What came from the list before may come again beside new lines.
    let mut more = lines.clone();
    more.iter_mut().find(|line| line[tag] == "T2").unwrap()[as_cut] =
        more.iter().find(|line| line[tag] == "T2").unwrap()[fitted].clone();
    write("more.csv", &more);
    let output =
        equirow(&["as-cut", &path("new.ron"), "--list", &path("more.csv"), "--out", &path("more.ron")]);
    assert_eq!(
        out(&output),
        "3 lengths taken, none differs from what was known; now revision 3; the list is of revision 1, the project was of \
         revision 2\n",
        "{}",
        err(&output)
    );
    let still_rough = format!("or more: cut after the fold trial it is about {listed} mm; cut it to length");
    // A rough cut is no length as cut: it is left out and named; said to be the last one it is taken. Where the list does not
    // say, or where it is still as long as it was cut roughly, the line is refused.
    for (said, length, is_taken) in [
        ("no", "fitted", Ok(false)),
        ("no", "rough", Ok(false)),
        ("yes", "fitted", Ok(true)),
        ("", "rough", Err("H4 is cut roughly first, and Final is blank; write yes once")),
        ("", "fitted", Err("H4 is cut roughly first, and Final is blank; write yes once")),
        ("perhaps", "fitted", Err("H4: Final is \"perhaps\"; write yes once")),
        ("yes", "rough", Err(still_rough.as_str())),
    ] {
        let mut rough = blank.clone();
        let line = rough.iter_mut().find(|line| line[tag] == "H4").unwrap();
        line[as_cut] = line[if length == "rough" { to_cut } else { fitted }].clone();
        line[last] = said.to_owned();
        write("rough.csv", &rough);
        let to = path(&format!("rough-{said}-{length}.ron"));
        let output = equirow(&["as-cut", twelve, "--list", &path("rough.csv"), "--out", &to]);
        let is_taken = match is_taken {
            Ok(is_taken) => is_taken,
            Err(says) => {
                let line = err(&output).replace('\u{202f}', "");
                assert!(
                    code(&output) == 1 && line.contains("rough.csv: line ") && line.contains(says),
                    "{line}"
                );
                continue;
            }
        };
        assert_eq!(code(&output), 0, "{}", err(&output));
        let named = out(&output).starts_with(
            "no length taken; not taken, rough-cut length, not yet cut after the fold trial: H4",
        );
        assert_eq!(named, !is_taken, "{said}, {length}: {}", out(&output));
        let project = equirow::files::open(Path::new(&to)).unwrap();
        let run = project.routings[0].runs.iter().find(|run| run.tag == "H4").unwrap();
        assert_eq!(run.line.measured.is_some(), is_taken, "{said}, {length}");
    }
    // Papers of a bar with all its lengths as cut speak of no rough cut.
    let mut all = blank.clone();
    for line in &mut all[1..] {
        line[as_cut] = line[fitted].clone();
        line[last] = "yes".to_owned();
    }
    write("all.csv", &all);
    let output = equirow(&["as-cut", twelve, "--list", &path("all.csv"), "--out", &path("all.ron")]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let whole = equirow::files::open(&folder.path().join("all.ron")).unwrap();
    let geometry = RoutingGeometry::working(&whole, &whole.routings[0]);
    let (laid, duty) = (geometry.with(&whole.routings[0]), whole.duties.first());
    for paper in [cut_list(&whole, laid, duty), fitting_steps(&whole, laid, duty)] {
        let text = format!("{:?}", paper.blocks).to_lowercase();
        assert!(!text.contains("rough cut") && !text.contains("cut rough"), "{}", paper.title);
    }
    // All lengths in another unit than the heading says: refused once, with the unit that they look like.
    for (factor, likely, how) in [
        (0.1, "cm", "10.0 times shorter"),
        (0.001, "m", "1000 times shorter"),
        (1.0 / 25.4, "in", "25.4 times shorter"),
    ] {
        let mut slipped = all.clone();
        for line in &mut slipped[1..] {
            line[as_cut] = format!("{:.3}", line[fitted].parse::<f64>().unwrap() * factor);
        }
        write("unit.csv", &slipped);
        let output = equirow(&["as-cut", twelve, "--list", &path("unit.csv"), "--out", &path("unit.ron")]);
        assert_eq!(code(&output), 1);
        let said = err(&output);
        let likely = format!(
            "are about {how} than listed: they look like {likely}, and the heading says mm; put the unit"
        );
        assert!(said.contains(&likely) && said.contains("line 2: all "), "{said}");
        assert_eq!(said.lines().count(), 2, "{said}");
        assert!(!folder.path().join("unit.ron").exists());
    }
    // In inches for a project in millimetres: rounded and compared as that list rounds.
    assert_eq!(code(&equirow(&["cuts", twelve, "--units", "us", "--out", &path("inches.csv")])), 0);
    let mut inches = csv_lines(&fs::read_to_string(path("inches.csv")).unwrap());
    inches.iter_mut().skip(1).for_each(|line| line[as_cut] = line[fitted].clone());
    write("inches.csv", &inches);
    let output = equirow(&["as-cut", twelve, "--list", &path("inches.csv"), "--out", &path("inches.ron")]);
    assert!(out(&output).contains(" lengths taken, none differs from what was known"), "{}", err(&output));
    let sheets = equirow(&["cuts", &path("new.ron"), "--out", &path("new.xlsx")]);
    assert_eq!(code(&sheets), 0, "{}", err(&sheets));

    // Metres or centimetres under a heading of millimetres: not one line is taken, and each is named with both lengths.
    let listed: f64 = lines.iter().find(|line| line[tag] == "T1").unwrap()[fitted].parse().unwrap();
    for slip in [listed / 1000.0, listed / 10.0, listed * 10.0] {
        let mut slipped = lines.clone();
        slipped.iter_mut().find(|line| line[tag] == "T1").unwrap()[as_cut] = slip.to_string();
        write("slip.csv", &slipped);
        let output = equirow(&["as-cut", twelve, "--list", &path("slip.csv"), "--out", &path("slip.ron")]);
        assert_eq!(code(&output), 1, "{slip}");
        let said = err(&output);
        let listed = format!("but {listed} mm in routing A; give it in the unit of the heading");
        assert!(said.contains("slip.csv: line ") && said.contains("T1 as cut is "), "{said}");
        assert!(said.replace('\u{202f}', "").contains(&listed), "{said}");
        assert!(!folder.path().join("slip.ron").exists());
    }

    // Twice as long as listed may be meant, and is named.
    let mut twice = lines.clone();
    twice.iter_mut().find(|line| line[tag] == "T1").unwrap()[as_cut] = (listed * 2.0).to_string();
    write("twice.csv", &twice);
    let output = equirow(&["as-cut", twelve, "--list", &path("twice.csv"), "--out", &path("twice.ron")]);
    let named =
        format!("; far from the list, so look at them again, mm: T1 {} (was {listed})\n", listed * 2.0);
    assert!(out(&output).replace('\u{202f}', "").ends_with(&named), "{}{}", out(&output), err(&output));
    // Cut of another stock than the project has there.
    let stock = column(&lines, "Stock");
    let mut other = lines.clone();
    other.iter_mut().find(|line| line[tag] == "T1").unwrap()[stock] = "Tube, 9 mm bore".to_owned();
    write("other.csv", &other);
    let output = equirow(&["as-cut", twelve, "--list", &path("other.csv"), "--out", &path("other.ron")]);
    assert_eq!(code(&output), 1);
    let said = err(&output).replace('\u{a0}', " ");
    assert!(said.contains("T1 is of \"Tube, 9 mm bore\" in the list, of \"Delivery tube"), "{said}");
    assert!(!folder.path().join("other.ron").exists());

    // Of another routing: not one line is taken.
    let output = equirow(&[
        "as-cut",
        twelve,
        "--routing",
        "B",
        "--list",
        &path("filled.csv"),
        "--out",
        &path("b.ron"),
    ]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("read it into the routing that the list is of"), "{}", err(&output));
    assert!(err(&output).contains("filled.csv: line ") && !folder.path().join("b.ron").exists());
    // A list that nobody filled in.
    let output = equirow(&["as-cut", twelve, "--list", &path("cuts.csv"), "--out", &path("c.ron")]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("no length is filled in"), "{}", err(&output));
    let output = equirow(&["as-cut", twelve, "--list", &path("none.csv"), "--out", &path("c.ron")]);
    assert_eq!(code(&output), 3);
    // Each refusal says which argument it is about.
    let output = equirow(&["as-cut", twelve, "--list", &path("new.xlsx"), "--out", &path("c.ron")]);
    assert_eq!(code(&output), 3);
    assert!(err(&output).contains("it is a workbook (XLSX)"), "{}", err(&output));
    fs::copy(path("filled.csv"), path("filled.ron")).unwrap();
    for (list, to, says) in [
        ("filled.ron", "filled.ron", "is the file that is read, --list; name another"),
        ("filled.csv", "bare", "bare\" is no .ron file, as projects are; end its name in .ron"),
        ("filled.csv", "list.csv", "is no .ron file"),
    ] {
        let output = equirow(&["as-cut", twelve, "--list", &path(list), "--out", &path(to)]);
        assert_eq!(code(&output), 2, "{}", err(&output));
        assert!(err(&output).contains(says), "{}", err(&output));
    }
}

/// The cells of a CSV file.
fn csv_lines(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    reader.records().map(|record| record.unwrap().iter().map(str::to_owned).collect()).collect()
}

#[test]
fn wrong_usage_of_lists_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("list.csv").to_str().unwrap().to_owned();
    let pdf = folder.path().join("list.pdf").to_str().unwrap().to_owned();
    for (arguments, expected, says) in [
        (vec!["parts", NINE], 2, "--out is missing"),
        (vec!["parts", "--out", &list], 2, "PROJECT: no file is given"),
        (vec!["parts", NINE, "--out"], 2, "--out needs a value"),
        (vec!["parts", NINE, NINE, "--out", &list], 2, "PROJECT: two files are given"),
        (vec!["cuts", NINE, "--out", &pdf], 2, "--out: "),
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

/// Every subcommand that writes, with the options that name its files, an ending for each, and another kind of file.
const WRITERS: [(&[&str], &str, &str); 17] = [
    (&["commissioning"], "--out", "csv"),
    (&["commissioning"], "--out", "xlsx"),
    (&["parts"], "--out", "csv"),
    (&["parts"], "--out", "xlsx"),
    (&["cuts"], "--out", "csv"),
    (&["cuts"], "--out", "xlsx"),
    (&["joints"], "--out", "csv"),
    (&["joints"], "--out", "xlsx"),
    (&["hinges"], "--out", "csv"),
    (&["hinges"], "--out", "xlsx"),
    (&["labels"], "--out", "csv"),
    (&["labels"], "--out", "xlsx"),
    (&["sheet", "--sheets", "schematic"], "--out", "pdf"),
    (&["sheet", "--sheets", "schematic"], "--out", "svg"),
    (&["sheet", "--sheets", "schematic"], "--out", "png"),
    (&["export"], "--network", "json"),
    (&["export"], "--inp", "inp"),
];

#[test]
fn a_file_that_is_read_is_never_written_to() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let text = fs::read(NINE).unwrap();
    for (subcommand, option, ending) in WRITERS {
        let project = at(&format!("p.{ending}"));
        fs::write(&project, &text).unwrap();
        let round = folder
            .path()
            .join("..")
            .join(folder.path().file_name().unwrap())
            .join(format!("p.{ending}"))
            .to_str()
            .unwrap()
            .to_owned();
        let mut names = vec![project.clone(), round];
        #[cfg(unix)]
        for link in ["soft", "hard"] {
            let name = at(&format!("{link}.{ending}"));
            let _ = fs::remove_file(&name);
            match link {
                "soft" => std::os::unix::fs::symlink(&project, &name).unwrap(),
                _ => fs::hard_link(&project, &name).unwrap(),
            }
            names.push(name);
        }
        for name in &names {
            for more in [&[][..], &["--replace"]] {
                let arguments = [subcommand, &[&project, option, name], more].concat();
                let output = equirow(&arguments);
                assert_eq!(code(&output), 2, "{arguments:?}: {}", err(&output));
                let says = format!("{option}: {name} is the file that is read, PROJECT");
                assert!(err(&output).contains(&says), "{}", err(&output));
                assert_eq!(fs::read(&project).unwrap(), text, "{arguments:?}");
            }
        }
    }
    // A page gets its name from the one that is given.
    for (ending, page) in [("dxf", "q-mm.dxf"), ("svg", "q-1.svg")] {
        fs::write(at(page), &text).unwrap();
        let out = at(&format!("q.{ending}"));
        let sheets = if ending == "svg" { "schematic,parts" } else { "schematic" };
        let output = equirow(&["sheet", &at(page), "--sheets", sheets, "--out", &out, "--replace"]);
        assert_eq!(code(&output), 2, "{}", err(&output));
        assert!(err(&output).contains("--out: a page of "), "{}", err(&output));
        assert_eq!(fs::read(at(page)).unwrap(), text);
    }
}

#[test]
fn only_an_older_file_of_the_same_kind_is_replaced_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let title = "Nine-metre bar";
    for (subcommand, option, ending) in WRITERS {
        let name = at(&format!("out.{ending}"));
        let run = |more: &[&str]| equirow(&[subcommand, &[NINE, option, &name], more].concat());
        // What somebody else made, and a project.
        for (other, says) in [(b"precious".to_vec(), "not from Equirow"), (fs::read(NINE).unwrap(), title)] {
            fs::write(&name, &other).unwrap();
            let output = run(&[]);
            assert_eq!(code(&output), 3, "{subcommand:?} {option}: {}", err(&output));
            for words in [option, &name, says, "--replace"] {
                assert!(err(&output).contains(words), "{words}: {}", err(&output));
            }
            assert_eq!(fs::read(&name).unwrap(), other);
        }
        // Asked for, it is replaced; and from then on it is ours.
        assert_eq!(code(&run(&["--replace"])), 0);
        let first = fs::read(&name).unwrap();
        let output = run(&[]);
        // A table that somebody may have written into is not.
        let lists = [["commissioning"], ["cuts"], ["hinges"], ["parts"], ["joints"], ["labels"]];
        let may_be_filled_in = lists.iter().any(|one| subcommand == one) && ending == "csv";
        assert_eq!(
            code(&output),
            if may_be_filled_in { 3 } else { 0 },
            "{subcommand:?} {option}: {}",
            err(&output)
        );
        assert_eq!(err(&output).contains("may be filled in"), may_be_filled_in, "{}", err(&output));
        assert!(!first.is_empty() && fs::metadata(&name).unwrap().len() > 0);
        fs::remove_file(&name).unwrap();
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is left beside the files");
    // One list is not the other.
    for ending in ["csv", "xlsx"] {
        let name = at(&format!("list.{ending}"));
        assert_eq!(code(&equirow(&["parts", NINE, "--out", &name])), 0);
        let parts = fs::read(&name).unwrap();
        let output = equirow(&["cuts", NINE, "--out", &name]);
        assert_eq!(code(&output), 3);
        assert!(err(&output).contains("is a parts list that Equirow wrote"), "{}", err(&output));
        assert_eq!(fs::read(&name).unwrap(), parts);
    }
}

#[test]
fn a_device_is_no_place_for_a_file() {
    if cfg!(unix) {
        for more in [&[][..], &["--replace"]] {
            let output = equirow(&[&["export", NINE, "--inp", "/dev/null"], more].concat());
            assert_eq!(code(&output), 3);
            assert!(err(&output).contains("it is a device, not a file"), "{}", err(&output));
        }
    }
}

#[test]
fn two_exports_are_written_both_or_neither() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (json, inp) = (at("out.json"), at("out.inp"));
    let run = |network: &str, inp: &str, more: &[&str]| {
        equirow(&[&["export", NINE, "--network", network, "--inp", inp], more].concat())
    };
    // One file for both, under two names.
    #[cfg(unix)]
    {
        fs::write(&json, "kept").unwrap();
        std::os::unix::fs::symlink(&json, &inp).unwrap();
        let output = run(&json, &inp, &["--replace"]);
        assert_eq!(code(&output), 2, "{}", err(&output));
        assert!(err(&output).contains("--inp: ") && err(&output).contains("is given to --network too"));
        assert_eq!(fs::read_to_string(&json).unwrap(), "kept");
        fs::remove_file(&json).unwrap();
        fs::remove_file(&inp).unwrap();
    }
    // The second can't be written: the first is not either.
    fs::create_dir(&inp).unwrap();
    assert_eq!(code(&run(&json, &inp, &[])), 3);
    assert!(!folder.path().join("out.json").exists());
    fs::remove_dir(&inp).unwrap();
    fs::write(&inp, "by hand").unwrap();
    assert_eq!(code(&run(&json, &inp, &[])), 3);
    assert!(!folder.path().join("out.json").exists());
    assert_eq!(fs::read(&inp).unwrap(), b"by hand");
    assert_eq!(code(&run(&json, &inp, &["--replace"])), 0);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[test]
fn a_shorter_set_of_sheets_leaves_no_page_of_a_longer_one() {
    let folder = tempfile::tempdir().unwrap();
    let names = || {
        let mut names: Vec<String> = fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    for (ending, sheets) in
        [("svg", "layout,schematic,parts"), ("dxf", "layout,schematic,parts"), ("png", "schematic,parts")]
    {
        let out = folder.path().join(format!("x.{ending}")).to_str().unwrap().to_owned();
        let run = |sheets: &str| {
            let output = equirow(&["sheet", NINE, "--out", &out, "--sheets", sheets, "--date", "2026-03-31"]);
            assert_eq!(code(&output), 0, "{}", err(&output));
            let mut written: Vec<String> = out_names(&output);
            written.sort();
            written
        };
        let many = run(sheets);
        assert!(many.len() > 1);
        assert_eq!(names(), many, "{ending}");
        let one = run("schematic");
        assert_eq!((one.len(), names()), (1, one.clone()), "{ending}");
        // What somebody has drawn into a page stays.
        let many = run(sheets);
        assert_eq!(names(), many, "{ending}");
        let last = folder.path().join(many.last().unwrap());
        let mut bytes = fs::read(&last).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        fs::write(&last, &bytes).unwrap();
        run("schematic");
        assert_eq!(fs::read(&last).unwrap(), bytes);
        assert_eq!(names().len(), 2, "{ending}");
        for name in names() {
            fs::remove_file(folder.path().join(name)).unwrap();
        }
    }
}

/// The names of the files that were written, without their folder.
fn out_names(output: &Output) -> Vec<String> {
    let name = |line: &str| std::path::Path::new(line).file_name().unwrap().to_str().unwrap().to_owned();
    out(output).lines().map(name).collect()
}

#[test]
fn what_is_misspelt_is_answered_with_what_was_meant() {
    for (arguments, hint) in [
        (&["sovle", DEMO][..], "did you mean solve?"),
        (&["solve", DEMO, "--sped", "9"], "did you mean --speed?"),
        (&["solve", DEMO, "--format", "jsn"], "did you mean json?"),
        (&["sheet", DEMO, "--out", "x.pdf", "--sheets", "parts,layot"], "did you mean layout?"),
        (&["completions"], "SHELL: no shell is given"),
        (&["parts", DEMO, "--out", "x.csv", "--replace=yes"], "--replace stands alone"),
    ] {
        let output = equirow(arguments);
        assert_eq!(code(&output), 2, "{arguments:?}");
        assert!(err(&output).contains(hint), "{arguments:?}: {}", err(&output));
    }
    assert!(!std::path::Path::new("x.csv").exists());
}

/// The names of all subcommands, from the page of the program.
fn subcommands() -> Vec<String> {
    let help = out(&equirow(&["--help"]));
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let names = list.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    names.map(|line| line.split_whitespace().next().unwrap().to_owned()).collect()
}

#[test]
fn help_manual_and_completions_name_every_subcommand_and_option() {
    let all = subcommands();
    assert!(all.len() >= 12 && all.contains(&"solve".to_owned()), "{all:?}");
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = out(&equirow(&["completions", shell]));
        for word in all.iter().map(String::as_str).chain(["fore-aft-slope", "replace"]) {
            assert!(script.contains(word), "{word} is missing for {shell}");
        }
    }
    let page = out(&equirow(&["man"]));
    for name in &all {
        assert!(
            page.contains(&format!("equirow\\-{}", name.replace('-', "\\-"))),
            "{name} is missing from {page}"
        );
        let help = out(&equirow(&[name, "--help"]));
        assert_eq!(out(&equirow(&["help", name])), help);
        // An option stands at the begin of a line of the help.
        let of_one = out(&equirow(&["man", name])).replace("\\-", "-");
        assert!(of_one.contains(env!("CARGO_PKG_VERSION")), "{name}");
        for option in help.lines().filter_map(|line| line.trim_start().strip_prefix("--")) {
            let option = option.split_whitespace().next().unwrap();
            assert!(of_one.contains(&format!("--{option}")), "--{option} is missing from the page of {name}");
        }
    }
    assert!(out(&equirow(&["help"])).contains("Commands of the window, by menu"));
    assert_eq!(out(&equirow(&["guide"])), equirow::session::guide::text(), "what the window's help shows");
}

#[test]
fn values_and_files_may_begin_with_a_dash() {
    let folder = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_equirow")).current_dir(&folder).args(arguments).output().unwrap()
    };
    assert_eq!(code(&run(&["cuts", NINE, "--out", "-cuts.csv"])), 0);
    assert_eq!(code(&run(&["parts", NINE, "--out=--help.csv"])), 0);
    assert!(folder.path().join("-cuts.csv").is_file() && folder.path().join("--help.csv").is_file());
    fs::copy(NINE, folder.path().join("-bar.ron")).unwrap();
    let output = run(&["solve", "--slope", "-5,5", "--format", "json", "--", "-bar.ron"]);
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert!((json["side_slope_percent"].as_f64().unwrap() + 5.5).abs() < 1e-9);
    // Of a subcommand within a subcommand too.
    let output = run(&["study", "pressure", "--slope", "-5,5", "--format", "json", "--", "-bar.ron"]);
    assert_ne!(code(&output), 2, "{}", err(&output));
}

#[test]
fn check_lists_all_findings_and_says_what_is_hidden_and_why() {
    use equirow::checks::{Severity, all_findings};
    use equirow::plan::edit::apply;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.ron");
    let check = |routing: &str| {
        let file = path.to_str().unwrap();
        let output = equirow(&["check", file, "--routing", routing, "--format", "json"]);
        let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
        (code(&output), json["findings"].as_array().unwrap().clone())
    };
    let mut project = equirow::files::demo();
    project.duties.first_mut().liquid.viscosity_source = equirow::plan::Source::Assumed;
    project.routings.push(equirow::plan::Routing::empty(equirow::plan::RoutingId(9), "Bare"));
    equirow::files::save(&path, &project).unwrap();
    let (code_before, before) = check("A");
    assert_eq!(code_before, 0, "{before:?}");
    for key in
        ["rule", "severity", "where", "speed_km_h", "fold_percent", "message", "try", "dismissed", "reason"]
    {
        assert!(before.iter().all(|one| one.get(key).is_some()), "{key} is missing");
    }
    let of_liquid =
        |all: &[serde_json::Value]| all.iter().find(|one| one["rule"] == "assumed liquid").cloned().unwrap();
    let one = of_liquid(&before);
    assert_eq!((&one["severity"], &one["dismissed"]), (&"note".into(), &false.into()));
    assert!(one["reason"].is_null() && one["speed_km_h"].is_null());

    let geometry = equirow::plan::RoutingGeometry::working(&project, &project.routings[0]);
    let routing = geometry.with(&project.routings[0]);
    let outcome =
        equirow::hydraulics::solve(&project, routing.routing, &project.duties.first().usual_point());
    let finding = all_findings(&project, routing, &outcome, &[]);
    let finding = finding.iter().find(|one| one.kind.rule == "assumed liquid").unwrap();
    let hide = equirow::plan::Edit::Dismiss(finding.dismissal("measured next week", "D. Ealer"));
    apply(&mut project, hide).unwrap();
    // Under another name and another liquid's name it is the same.
    project.routings[0].name = "Front".to_owned();
    project.duties.first_mut().liquid.name = "Another".to_owned();
    equirow::files::save(&path, &project).unwrap();
    let (_, after) = check("Front");
    assert_eq!(after.len(), before.len());
    let one = of_liquid(&after);
    assert_eq!((&one["dismissed"], &one["reason"]), (&true.into(), &"measured next week".into()));
    let table = out(&equirow(&["check", path.to_str().unwrap()]));
    assert!(table.contains("hidden: measured next week"), "{table}");

    // Errors count, and the JSON is there all the same.
    let (code_bare, bare) = check("Bare");
    assert_eq!(code_bare, 1);
    assert!(bare.iter().any(|one| one["severity"] == Severity::Error.name()), "{bare:?}");
    assert!(bare.iter().all(|one| !one["where"].as_array().unwrap().is_empty()));
}

const NINE_METRE_BAR: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/nine-metre-bar.ron");

#[test]
fn the_metering_study_prints_its_keys_and_writes_what_it_recommends() {
    let folder = tempfile::tempdir().unwrap();
    let new = folder.path().join("new.ron");
    let new = new.to_str().unwrap();
    let before = folder.path().join("before.ron");
    let text = std::fs::read_to_string(NINE_METRE_BAR).unwrap();
    std::fs::write(&before, text.replace("\"check-valve-0.10\")", "\"check-valve-0.20\")")).unwrap();
    let before = before.to_str().unwrap();
    let output = equirow(&["study", "metering", before, "--format", "json", "--out", new]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    let choices = json["choices"].as_array().unwrap();
    assert_eq!(choices.len(), 14, "ten orifices, three tubes, and what is fitted");
    let warnings = json["warnings"].as_array().unwrap();
    assert!(warnings.iter().any(|one| one.as_str().unwrap().contains("does not hold")), "{warnings:?}");
    for choice in choices {
        assert!(choice["entry"].is_string() && choice["fits"].is_boolean());
        assert_eq!(choice["pressure_kpa"].as_array().unwrap().len(), 3);
        assert_eq!(choice["cv_percent"].as_array().unwrap().len(), 3);
        let is_tube = choice["entry"].as_str().unwrap().starts_with("metering-tube");
        assert_eq!(choice["length_mm"].is_number(), is_tube);
    }
    let best = choices.iter().find(|one| one["recommended"] == true).unwrap();
    assert_eq!(best["entry"], json["recommended"]);
    // What was written is what was recommended, and needs nothing more.
    let again = equirow(&["study", "metering", new, "--format", "json"]);
    let again: serde_json::Value = serde_json::from_str(&out(&again)).unwrap();
    assert_eq!(again["recommended"], json["recommended"]);
    let in_use: Vec<_> =
        again["choices"].as_array().unwrap().iter().filter(|one| one["in_use"] == true).collect();
    assert_eq!(in_use.len(), 1);
    assert_eq!(in_use[0]["entry"], json["recommended"]);
    assert_eq!(in_use[0]["cv_percent"], best["cv_percent"]);
    // A file that is there is kept unless somebody says otherwise.
    std::fs::write(new, "mine").unwrap();
    let output = equirow(&["study", "metering", before, "--out", new]);
    assert_eq!(code(&output), 3, "{}", err(&output));
    assert_eq!(std::fs::read_to_string(new).unwrap(), "mine");
}

#[test]
fn wider_hoses_and_the_metering_that_goes_with_them_are_written_in_one() {
    let folder = tempfile::tempdir().unwrap();
    let new = folder.path().join("new.ron");
    let new = new.to_str().unwrap();
    let output = equirow(&["study", "metering", DEMO, "--format", "json", "--out", new]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert!(json["recommended"].is_null() && json["nearest"].is_string());
    let then = &json["with_wider"];
    assert!(then["fits"] == true && then["margin_percent"].as_f64().unwrap() >= 5.0, "{then}");
    // Asked again, nothing is left to be changed: the project is written as it is.
    let same = folder.path().join("same.ron");
    let output = equirow(&["study", "metering", new, "--format", "json", "--out", same.to_str().unwrap()]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    assert!(err(&output).contains("nothing is to be changed"), "{}", err(&output));
    assert_eq!(std::fs::read_to_string(&same).unwrap(), std::fs::read_to_string(new).unwrap());
    let again: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert_eq!(again["recommended"], then["entry"]);
    let in_use = again["choices"].as_array().unwrap().iter().find(|one| one["in_use"] == true).unwrap();
    assert_eq!(in_use["pressure_kpa"], then["pressure_kpa"]);
    // The help says so.
    let help = out(&equirow(&["study", "metering", "--help"]));
    let words: Vec<&str> = help.split_whitespace().collect();
    assert!(words.join(" ").contains("the project as it is"), "{help}");
}

#[test]
fn a_study_whose_answer_is_no_prints_json_all_the_same_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let new = folder.path().join("new.ron");
    let weak = folder.path().join("weak.ron");
    let text = std::fs::read_to_string(NINE_METRE_BAR).unwrap();
    let limit = "Metered(limit: 200000.0)";
    assert!(text.contains(limit), "the limit as the file has it");
    std::fs::write(&weak, text.replace(limit, "Metered(limit: 50000.0)")).unwrap();
    let weak = weak.to_str().unwrap();
    let output = equirow(&["study", "metering", weak, "--format", "json", "--out", new.to_str().unwrap()]);
    assert_eq!(code(&output), 1);
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert!(json["recommended"].is_null() && json["nearest"].is_string());
    assert!(err(&output).contains("nothing is written") && !new.exists());
    let output = equirow(&["study", "equalise", NINE_METRE_BAR, "--format", "json"]);
    assert_eq!(code(&output), 1);
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert_eq!(json["worth_it"], false);
    assert!(json["warnings"].is_array());
    assert_eq!(json["rows"].as_array().unwrap().len(), 36);
}

#[test]
fn the_equalise_study_prints_its_keys_and_writes_the_lengths() {
    let folder = tempfile::tempdir().unwrap();
    let new = folder.path().join("new.ron");
    let new = new.to_str().unwrap();
    let asked = ["study", "equalise", DEMO, "--tube", "metering-tube-1.5", "--format", "json", "--out", new];
    let output = equirow(&asked);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    let rows = json["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 40);
    for row in rows {
        assert!(row["row"].is_number() && row["length_mm"].is_number() && row["flow_l_min"].is_number());
        assert_eq!(row["entry"], "metering-tube-1.5");
    }
    assert!(json["cv_percent"].as_f64().unwrap() < json["cv_before_percent"].as_f64().unwrap());
    // Solved by itself the new project gives the flows that were promised.
    let solved = equirow(&["solve", new, "--format", "json"]);
    let solved: serde_json::Value = serde_json::from_str(&out(&solved)).unwrap();
    for row in solved["rows"].as_array().unwrap() {
        let promised = rows.iter().find(|one| one["row"] == row["row"]).unwrap();
        let (a, b) = (row["flow_l_min"].as_f64().unwrap(), promised["flow_l_min"].as_f64().unwrap());
        assert!((a / b - 1.0).abs() < 1e-9, "{row}: {promised}");
    }
    let csv = equirow(&["study", "equalise", DEMO, "--tube", "metering-tube-1.5", "--format", "csv"]);
    let heads = "\r\nrow,metering,\"length now, mm\",\"length equalised, mm\"";
    assert!(out(&csv).contains(heads), "{}", out(&csv));
}

#[test]
fn a_study_says_what_it_can_not_take() {
    for (arguments, says) in [
        (&["study", "metering", DEMO, "--speed", "9"][..], "--speed"),
        (&["study", "metering", DEMO, "--pressure", "0"], "out of range"),
        (&["study", "metering", DEMO, "--pressure", "2 furlongs"], "furlongs"),
        (&["study", "equalise", DEMO, "--tube", "nothing"], "the catalogue has no hose or tube \"nothing\""),
        (&["study", "metering", DEMO, "--out", DEMO], "--out"),
        (&["study", "tolerance", DEMO, "--seed", "-1"], "no whole number from 0 to 18446744073709551615"),
        (&["study", "tolerance", DEMO, "--seed", "lucky"], "no whole number from 0 to 18446744073709551615"),
        (&["study", "pressure", DEMO, "--row", "-3"], "no whole number from 1 to "),
        (&["study", "pressure", DEMO, "--row", "left"], "no whole number from 1 to "),
        (&["study", "pressure", DEMO, "--row", "99"], "it has rows 1 to 40"),
    ] {
        let output = equirow(arguments);
        assert_eq!(code(&output), 2, "{arguments:?}: {}", err(&output));
        assert!(err(&output).contains(says), "{arguments:?}: {}", err(&output));
    }
    let output = equirow(&["study", "equalise", DEMO, "--tube", "hose-8"]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("is no metering tube of the catalogue"), "{}", err(&output));
}

/// Few bars: what is proved here is the way to the engine and back.
#[test]
fn a_tolerance_study_is_json_csv_or_a_table_and_says_no_by_its_exit_code() {
    let study = |arguments: &[&str]| equirow(&[&["study", "tolerance", DEMO], arguments].concat());
    let output = study(&["--samples", "40", "--seed", "3", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    for key in ["spreads", "cv_percent", "chance", "chance_low", "chance_high", "rows", "causes"] {
        assert!(!json[key].is_null(), "{key} is missing");
    }
    for key in ["mean", "p05", "p50", "p95", "first_order"] {
        assert!(json["cv_percent"][key].as_f64().unwrap() > 0.0, "{key}");
    }
    let spread = &json["spreads"][0];
    assert_eq!((&spread["what"], &spread["unit"]), (&"orifice_bore".into(), &"percent".into()));
    assert_eq!((&spread["shape"], &spread["common"]), (&"normal".into(), &false.into()));
    assert!((spread["sd"].as_f64().unwrap() - 0.5).abs() < 1e-12);
    let rows = json["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 40);
    assert!(rows.iter().all(|row| row["sd_percent"].as_f64().unwrap() > 0.1));
    assert!(rows.iter().all(|row| row["first_order_sd_percent"].as_f64().unwrap() > 0.1));
    let chance = |key: &str| json[key].as_f64().unwrap();
    assert!(chance("chance_low") <= chance("chance") && chance("chance") <= chance("chance_high"));
    // At each speed beside the one that is asked for; the worst decides.
    let speeds = json["speeds"].as_array().unwrap();
    assert_eq!(speeds.len(), 3);
    let usual = speeds.iter().find(|one| one["speed_km_h"] == json["speed_km_h"]).unwrap();
    assert_eq!((&usual["rows"], &usual["chance"]), (&json["rows"], &json["chance"]));
    let worst = speeds.iter().map(|one| one["chance"].as_f64().unwrap()).fold(1.0, f64::min);
    let named = speeds.iter().find(|one| one["speed_km_h"] == json["worst_speed_km_h"]).unwrap();
    assert_eq!(named["chance"], worst);
    assert_eq!(code(&output), i32::from(worst < chance("asked_chance")));

    // The same seed gives the same bytes, another one other bars.
    let again = study(&["--samples", "40", "--seed", "3", "--format", "json"]);
    assert_eq!(out(&again), out(&output));
    let other = study(&["--samples", "40", "--seed", "4", "--format", "json"]);
    assert_ne!(out(&other), out(&output));

    let table = out(&study(&["--samples", "40"]));
    assert!(
        table.contains("The same 40 bars at each speed") && table.contains("Cracking pressure"),
        "{table}"
    );
    let csv = out(&study(&["--samples", "40", "--format", "csv"]));
    assert!(csv.contains("\r\n\r\ntable,Built bars\r\n") && csv.contains("\r\n\"Speed, km/h\","), "{csv}");

    // Wide scatter is a no, and the JSON is there all the same.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wide.ron");
    let mut project = equirow::files::open(std::path::Path::new(DEMO)).unwrap();
    project.spreads.orifice_bore.sd = 0.1;
    equirow::files::save(&path, &project).unwrap();
    let wide =
        equirow(&["study", "tolerance", path.to_str().unwrap(), "--samples", "40", "--format", "json"]);
    assert_eq!(code(&wide), 1);
    let json: serde_json::Value = serde_json::from_str(&out(&wide)).unwrap();
    assert_eq!(json["chance"], 0.0);

    let none = study(&["--samples", "0"]);
    assert_eq!(code(&none), 2);
    assert!(err(&none).contains("--samples"), "{}", err(&none));
    // A file whose spread no part can have is refused where it says so.
    let text = fs::read_to_string(&path).unwrap().replace("sd: 0.1", "sd: 1.0");
    fs::write(&path, text).unwrap();
    let refused = equirow(&["study", "tolerance", path.to_str().unwrap()]);
    assert_eq!(code(&refused), 3);
    assert!(err(&refused).contains("Bore of orifices"), "{}", err(&refused));
}

/// As on a full disk: where a file may not become as large as it is, that is said, and nothing half-written is left.
#[test]
#[cfg(unix)]
fn a_file_that_may_not_become_so_large_is_a_failed_write() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("papers.pdf");
    let output = Command::new("sh")
        .args([
            "-c",
            "ulimit -f 8; exec \"$0\" \"$@\"",
            env!("CARGO_BIN_EXE_equirow"),
            "sheet",
            DEMO,
            "--out",
        ])
        .arg(&file)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(3), "{output:?}");
    assert!(err(&output).contains("papers.pdf"), "{}", err(&output));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}
