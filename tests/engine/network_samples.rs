//! The neutral file format: supplied networks against their reference solutions, and everything that must be refused.
//!
//! Origin of the sample files: `tests/data/network/ORIGIN.md`.

use equirow::files::network_file::{self, OpenError};
use equirow::hydraulics::solver;
use proptest::prelude::*;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Largest difference from a reference, over the largest flow or pressure of the network.
const TOLERANCE: f64 = 1e-6;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/network")
}

fn sample_names() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder())
        .unwrap()
        .filter_map(|entry| {
            entry.unwrap().file_name().into_string().unwrap().strip_suffix(".json").map(str::to_owned)
        })
        .filter(|name| name.strip_suffix(".ref").is_none())
        .collect();
    names.sort();
    names
}

fn text(name: &str) -> String {
    std::fs::read_to_string(folder().join(format!("{name}.json"))).unwrap()
}

/// The answer of the reader and solver, in the neutral format.
fn answer(text: &str) -> Value {
    let json = match network_file::read(text) {
        Err(rejection) => network_file::rejection_json(&rejection),
        Ok(network) => match solver::solve(&network) {
            Ok(solution) => network_file::solution_json(&network, &solution),
            Err(failure) => network_file::failure_json(&failure),
        },
    };
    serde_json::from_str(&json).unwrap()
}

fn worst(found: &Value, expected: &Value) -> f64 {
    let (found, expected) = (found.as_object().unwrap(), expected.as_object().unwrap());
    assert!(found.keys().eq(expected.keys()), "other names than in the reference");
    let largest = expected.values().filter_map(Value::as_f64).fold(0.0, |a: f64, b| a.max(b.abs()));
    let mut worst: f64 = 0.0;
    for (name, expected) in expected {
        match (found[name].as_f64(), expected.as_f64()) {
            (None, None) => {}
            (Some(a), Some(b)) => {
                assert!(b != 0.0 || a == 0.0 || (a - b).abs() < TOLERANCE * largest, "{name}");
                worst = worst.max((a - b).abs() / largest);
            }
            (a, b) => panic!("{name}: {a:?} where the reference has {b:?}"),
        }
    }
    worst
}

#[test]
fn samples_agree_with_their_reference_solutions() {
    let mut compared = 0;
    for name in sample_names() {
        if name.starts_with("r_") {
            continue;
        }
        let reference: Value = serde_json::from_str(&text(&format!("{name}.ref"))).unwrap();
        let found = answer(&text(&name));
        assert_eq!(found["status"], "ok", "{name}: {found}");
        let flow = worst(&found["link_flow_m3s"], &reference["link_flow_m3s"]);
        let pressure = worst(&found["node_pressure_pa"], &reference["node_pressure_pa"]);
        println!("{name}: worst difference of flow {flow:.1e}, of pressure {pressure:.1e}");
        assert!(flow < TOLERANCE && pressure < TOLERANCE, "{name}");
        compared += 1;
    }
    assert_eq!(compared, 8);
}

#[test]
fn samples_to_refuse_are_refused() {
    for (name, reason) in [
        ("r_disconnected_node", "disconnected_node"),
        ("r_nan_literal", "bad_json"),
        ("r_negative_bore", "bad_parameter"),
        ("r_no_outlet_pressure", "no_outlet"),
        ("r_unknown_node", "unknown_node"),
    ] {
        assert_eq!(answer(&text(name))["reason"], reason, "{name}");
    }
}

const GOOD: &str = r#"{
 "format": "liquid-network/1", "fluid": {"density_kg_m3": 1000, "viscosity_dynamic_pa_s": 0.001}, "meta": {"a": [1e999]},
 "nodes": [{"id": "a", "fixed_pressure_pa": 1e5}, {"id": "b"}, {"id": "c", "fixed_pressure_pa": 0}],
 "links": [
  {"id": "p", "kind": "pipe", "from": "a", "to": "b", "length_m": 1, "bore_m": 0.01},
  {"id": "o", "kind": "orifice", "from": "b", "to": "c", "diameter_m": 0.001, "cd": 0.6, "creeping": true}]}"#;

/// The good network with one piece of text replaced.
fn reason(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from), "{from}");
    let found = answer(&GOOD.replacen(from, to, 1));
    found["reason"].as_str().unwrap_or("none").to_owned()
}

#[test]
fn every_code_of_the_format() {
    assert_eq!(answer(GOOD)["status"], "ok");
    for (from, to, code) in [
        ("\"format\": \"liquid-network/1\",", "", "missing_field"),
        ("liquid-network/1", "liquid-network/2", "unknown_format"),
        ("\"format\":", "\"friction_law\": \"blasius\", \"format\":", "unknown_friction_law"),
        ("\"density_kg_m3\": 1000, ", "", "missing_field"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": 0", "bad_parameter"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": \"1000\"", "bad_number"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": null", "bad_number"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": 1e999", "bad_number"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": -Infinity", "bad_json"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": 01000", "bad_json"),
        ("\"density_kg_m3\": 1000", "\"density_kg_m3\": 1000, \"density_kg_m3\": 1", "bad_json"),
        ("\"format\":", "\"gravity_m_s2\": -9.8, \"format\":", "bad_parameter"),
        ("\"id\": \"b\"", "\"id\": \"a\"", "duplicate_id"),
        ("\"id\": \"o\"", "\"id\": \"p\"", "duplicate_id"),
        ("\"id\": \"b\"", "\"name\": \"b\"", "missing_field"),
        ("\"id\": \"b\"", "\"id\": \"b\", \"id\": \"b\"", "bad_json"),
        ("\"id\": \"b\"", "\"id\": \"b\", \"elevation_m\": 1e999", "bad_number"),
        (
            "\"id\": \"b\"",
            "\"id\": \"b\", \"fixed_pressure_pa\": 1, \"inflow_m3s\": 0",
            "overdetermined_node",
        ),
        ("\"to\": \"b\"", "\"to\": \"x\"", "unknown_node"),
        ("\"to\": \"b\"", "\"to\": \"a\"", "self_loop"),
        ("\"kind\": \"pipe\"", "\"kind\": \"canal\"", "unknown_kind"),
        ("\"length_m\": 1,", "", "missing_field"),
        ("\"length_m\": 1", "\"length_m\": 0", "bad_parameter"),
        ("\"bore_m\": 0.01", "\"bore_m\": 0.01, \"roughness_m\": 0.005", "bad_parameter"),
        ("\"bore_m\": 0.01", "\"bore_m\": 0.01, \"k_minor\": -1", "bad_parameter"),
        ("\"cd\": 0.6", "\"cd\": 0", "bad_parameter"),
        ("\"cd\": 0.6", "\"cd\": 0.6, \"closed\": 1", "bad_parameter"),
        ("\"id\": \"b\"}", "\"id\": \"b\"}, {\"id\": \"lost\"}", "disconnected_node"),
        ("\"fixed_pressure_pa\": 1e5", "\"elevation_m\": 0", "no_outlet"),
        ("\"nodes\":", "\"knots\":", "missing_field"),
        ("[{\"id\": \"a\"", "7, [{\"id\": \"a\"", "bad_json"),
        ("]}", "]} x", "bad_json"),
    ] {
        assert_eq!(reason(from, to), code, "{from} -> {to}");
    }
    let no_level = GOOD.replace("fixed_pressure_pa", "inflow_m3s");
    assert_eq!(answer(&no_level)["reason"], "no_fixed_pressure");
    let stranded = GOOD.replacen("\"fixed_pressure_pa\": 1e5", "\"inflow_m3s\": 1e-5", 1);
    assert_eq!(answer(&stranded)["status"], "ok");
    let closed = stranded.replacen("\"cd\": 0.6", "\"cd\": 0.6, \"closed\": true", 1);
    assert_eq!(answer(&closed)["reason"], "stranded_inflow");
    assert_eq!(answer(&stranded.replacen("1e-5", "-1e-5", 1))["status"], "ok");
}

#[test]
fn hostile_files_are_refused_with_bounded_memory() {
    // An error and no crash is asserted; how long it takes is not, since that would depend on the machine.
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let start = Instant::now();
    let refused = |path: &Path| match network_file::open(path) {
        Err(OpenError::Rejected(rejection)) => rejection.reason.code(),
        Err(OpenError::Unreadable(_)) => "unreadable",
        Ok(_) => "taken",
    };
    assert_eq!(refused(&write("empty", b"")), "bad_json");
    assert_eq!(refused(&write("deep", &b"[".repeat(5_000_000))), "bad_json");
    assert_eq!(
        refused(&write("deep-meta", format!("{{\"meta\":{}", "[".repeat(100_000)).as_bytes())),
        "bad_json"
    );
    assert_eq!(refused(&write("latin", b"{\"format\": \"\xe9\"}")), "bad_json");
    assert_eq!(refused(&write("zeros", &[0; 1000])), "bad_json");
    assert_eq!(refused(&write("huge", &vec![b' '; 100 << 20])), "unreadable");
    let many = format!("{{\"nodes\": [{}7]}}", "{\"id\":\"a\"},".repeat(1_000_000));
    assert_eq!(refused(&write("many", many.as_bytes())), "bad_json");
    assert_eq!(refused(&folder.path().join("missing")), "unreadable");
    assert_eq!(refused(folder.path()), "unreadable");
    println!("nine hostile files in {:?}, writing them included", start.elapsed());
}

/// Cases for the reader's fuzz test; more with `EQUIROW_FUZZ_CASES`.
fn fuzz_cases() -> u32 {
    std::env::var("EQUIROW_FUZZ_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(500)
}

#[derive(Debug, Clone)]
enum Change {
    Cut(usize, usize),
    Byte(usize, u8),
    Token(usize, usize),
    Repeat(usize, usize, usize),
    Swap(usize, usize),
}

const TOKENS: [&str; 24] = [
    "1e999",
    "-1e999",
    "NaN",
    "Infinity",
    "-0",
    "1e-320",
    "null",
    "true",
    "\"\"",
    "{}",
    "[]",
    "{",
    "}",
    "[",
    "]",
    ",",
    ":",
    "\"\\ud800\"",
    "\\",
    "\"closed\": true,",
    "\"inflow_m3s\": 1,",
    "\"fixed_pressure_pa\": 0,",
    "1e308",
    "0.000",
];

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        (any::<usize>(), 0usize..60).prop_map(|(at, n)| Change::Cut(at, n)),
        (any::<usize>(), any::<u8>()).prop_map(|(at, byte)| Change::Byte(at, byte)),
        (any::<usize>(), 0..TOKENS.len()).prop_map(|(at, token)| Change::Token(at, token)),
        (any::<usize>(), 1usize..80, 1usize..4).prop_map(|(at, n, times)| Change::Repeat(at, n, times)),
        (any::<usize>(), any::<usize>()).prop_map(|(a, b)| Change::Swap(a, b)),
    ]
}

fn mutate(bytes: &mut Vec<u8>, change: &Change) {
    if bytes.is_empty() {
        return;
    }
    let length = bytes.len();
    match *change {
        Change::Cut(at, n) => drop(bytes.drain(at % length..(at % length + n).min(length))),
        Change::Byte(at, byte) => bytes[at % length] = byte,
        Change::Token(at, token) => {
            // Prefer the place of a value: after the next colon.
            let at = at % length;
            let colon = bytes[at..].iter().position(|&b| b == b':').map_or(at, |n| at + n + 1);
            let end =
                bytes[colon..].iter().position(|&b| b == b',' || b == b'}').map_or(colon, |n| colon + n);
            bytes.splice(colon..end, TOKENS[token].bytes());
        }
        Change::Repeat(at, n, times) => {
            let at = at % length;
            let piece = bytes[at..(at + n).min(length)].repeat(times);
            bytes.splice(at..at, piece);
        }
        Change::Swap(a, b) => bytes.swap(a % length, b % length),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: fuzz_cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mutated_samples_never_crash(sample in 0usize..14, changes in prop::collection::vec(change(), 1..6)) {
        let names = sample_names();
        let mut bytes = if sample < names.len() { text(&names[sample]) } else { GOOD.to_owned() }.into_bytes();
        // Big samples slow the search without adding kinds of text.
        if bytes.len() > 6000 && sample % 2 == 0 {
            bytes = GOOD.as_bytes().to_vec();
        }
        for change in &changes {
            mutate(&mut bytes, change);
        }
        if let Ok(text) = std::str::from_utf8(&bytes) {
            let found = answer(text);
            prop_assert!(found["status"] == "ok" || found["reason"].is_string());
            if found["status"] == "ok" {
                let flows = found["link_flow_m3s"].as_object().unwrap();
                prop_assert!(flows.values().all(Value::is_f64), "{found}");
            }
        }
    }
}
