//! Readers fed with files that were sound before: one target for each reader, changes by a fixed seed.
//!
//! Some changes know the structure (a line doubled, a number or a text replaced by one that is out of bounds, brackets
//! repeated), the others are raw bytes.

#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    reason = "shared by a test and a tool; each uses its own part of it, and stops where something is not as it should be"
)]

use std::time::{Duration, Instant};

use equirow::command_line;
use equirow::files::catalogue_file::{read_catalogue_csv, write_catalogue_csv};
use equirow::files::catch_readings::{CatchChoices, read_catches, read_catches_from};
use equirow::files::network_file;
use equirow::files::row_positions::{Choices, read_row_positions};
use equirow::files::{demo, read_catalogue, read_text, write_catalogue, write_text};
use equirow::hydraulics::{self, solver};
use equirow::plan::problems::SHOWN;
use equirow::plan::{CatchUnit, CaughtLiquid, Project};

/// What a run over one target found.
#[derive(Debug, Clone, Default)]
pub struct Report {
    /// Files that were read.
    pub taken: u64,
    /// Files that were refused.
    pub refused: u64,
    /// The slowest case.
    pub slowest: Duration,
    /// Its number, from 0.
    pub slowest_case: u64,
    /// Most problems kept of one file.
    pub most_kept: usize,
}

/// A reader.
pub struct Target {
    /// Its name.
    pub name: &'static str,
    /// A sound file.
    sound: fn() -> Vec<u8>,
    /// Reads a file: whether it was taken, and how many problems are kept.
    read: fn(&[u8]) -> (bool, usize),
}

/// All readers.
pub const TARGETS: [Target; 8] = [
    Target { name: "project", sound: || write_text(&small_project()).unwrap().into_bytes(), read: project },
    Target {
        name: "catalogue",
        sound: || write_catalogue(&small_project().catalogue).unwrap().into_bytes(),
        read: |bytes| kept(read_catalogue(&String::from_utf8_lossy(bytes)).map(drop)),
    },
    Target {
        name: "catalogue table",
        sound: || write_catalogue_csv(&small_project().catalogue).into_bytes(),
        read: |bytes| kept(read_catalogue_csv(&String::from_utf8_lossy(bytes)).map(drop)),
    },
    Target { name: "row table", sound: row_table, read: rows },
    Target { name: "catch table", sound: || CATCHES.as_bytes().to_vec(), read: catches },
    Target { name: "catch workbook", sound: catch_workbook, read: catches },
    Target { name: "network", sound: || NETWORK.as_bytes().to_vec(), read: network },
    Target { name: "arguments", sound: || ARGUMENTS.as_bytes().to_vec(), read: arguments },
];

/// A project with one of each thing, so that many of them can be read.
fn small_project() -> Project {
    let mut project = demo();
    project.routings.truncate(1);
    let routing = &mut project.routings[0];
    routing.feeds.truncate(3);
    let fed: Vec<_> = routing.feeds.iter().flat_map(|feed| &feed.branches).map(|branch| branch.row).collect();
    project.bar.rows.retain(|row| fed.contains(&row.id));
    "two\nlines".clone_into(&mut project.title.notes);
    project
}

fn kept(read: Result<(), equirow::files::ReadError>) -> (bool, usize) {
    match read {
        Ok(()) => (true, 0),
        Err(error) => {
            assert!(!error.problems.is_empty(), "refused without a reason");
            assert!(error.to_string().len() < 40_000, "a message that nobody reads");
            (false, error.problems.shown().len())
        }
    }
}

fn project(bytes: &[u8]) -> (bool, usize) {
    match read_text(&String::from_utf8_lossy(bytes)) {
        Ok(project) => {
            // What is taken can be worked with: written again, and solved or refused with a reason.
            assert!(write_text(&project).is_ok(), "what was read can't be written");
            if bytes.len().is_multiple_of(8) {
                for routing in &project.routings {
                    let _ = hydraulics::solve(&project, routing, &project.duties.first().usual_point());
                }
            }
            (true, 0)
        }
        Err(error) => kept(Err(error)),
    }
}

fn row_table() -> Vec<u8> {
    let line = |row: i32| format!("{row};{};\"{},5\";5 cm\r\n", (row - 6) * 300, row % 2);
    ("row;x (mm);forward;height\r\n".to_owned() + &(1..=12).map(line).collect::<String>()).into_bytes()
}

fn rows(bytes: &[u8]) -> (bool, usize) {
    let found = read_row_positions(&String::from_utf8_lossy(bytes), &Choices::default());
    assert!(!found.rows.is_empty() || !found.problems.is_empty(), "neither a row nor a reason");
    assert!(found.problems.to_string().len() < 40_000, "a message that nobody reads");
    (!found.rows.is_empty(), found.problems.shown().len())
}

/// Catches, as the commissioning sheet has them.
const CATCHES: &str = "\u{feff}Condition,Value\r\n\"Catch time, s\",40\r\n\r\n\"Pressures and total flow, water\"\r\n\
    Speed (km/h),Pump read (bar),G1 read (bar)\r\n7.0,1.2,1.0\r\n9.0,,\"1,5 bar\"\r\n\r\nOn the day\r\n\
    What,Read,What else,Read\r\n\"Date, place\",2026-11-30,Tested by,a\r\nLiquid temperature,12 °C,,\r\n\r\nCatch\r\n\
    Row,Target (mL),Liquid caught (mL),Water caught (mL),seconds,spoiled,Remarks\r\n1,340,350.5,,40,,\r\n\
    2,340,12 fl oz,350,,yes,windy\r\n3,340,0,,,,\r\n4,340,\"340,5\",0.75 lb,41 s,,\r\n";

fn catch_workbook() -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for (at, cells) in (0..).zip([["row", "g"], ["1", "350"], ["2", "0.4 kg"], ["3", ""]]) {
        sheet.write_string(at, 0, cells[0]).unwrap();
        sheet.write_string(at, 1, cells[1]).unwrap();
    }
    sheet.write_number(4, 0, 4.0).unwrap();
    sheet.write_number(4, 1, 351.5).unwrap();
    book.save_to_buffer().unwrap()
}

fn catches(bytes: &[u8]) -> (bool, usize) {
    let found = match read_catches_from(bytes, &CatchChoices::default()) {
        Ok(found) => found,
        Err(error) => return kept(Err(error)),
    };
    assert!(!found.catches.is_empty() || !found.problems.is_empty(), "neither a catch nor a reason");
    assert!(found.problems.to_string().len() < 40_000, "a message that nobody reads");
    assert!(found.remarks.iter().all(|one| one.len() < 4_000), "a remark that nobody reads");
    let taken = found.taken(&demo(), CaughtLiquid::Product, None);
    assert!(taken.problems.to_string().len() < 40_000, "a message that nobody reads");
    let pasted = CatchChoices { unit: Some(CatchUnit::Gram), pasted: true };
    let _ = read_catches(&String::from_utf8_lossy(bytes), &pasted);
    (!found.catches.is_empty(), found.problems.problems().shown().len())
}

const NETWORK: &str = r#"{"format": "liquid-network/1", "gravity_m_s2": 9.81, "friction_law": "churchill",
 "fluid": {"density_kg_m3": 1000, "viscosity_dynamic_pa_s": 0.001}, "meta": {"a": [1e999, null]},
 "nodes": [{"id": "a", "fixed_pressure_pa": 1e5}, {"id": "b", "elevation_m": 0.5}, {"id": "c", "fixed_pressure_pa": 0},
  {"id": "d", "inflow_m3s": 1e-5}],
 "links": [
  {"id": "p", "kind": "pipe", "from": "a", "to": "b", "length_m": 1, "bore_m": 0.01, "roughness_m": 1e-6, "k_minor": 2},
  {"id": "f", "kind": "fitting", "from": "d", "to": "b", "k": 3.5, "bore_m": 0.008},
  {"id": "v", "kind": "check_valve", "from": "b", "to": "c", "crack_pressure_pa": 2e4, "k": 5, "bore_m": 0.005},
  {"id": "o", "kind": "orifice", "from": "b", "to": "c", "diameter_m": 0.001, "cd": 0.6, "creeping": true,
   "thickness_m": 0.001, "closed": false}]}"#;

fn network(bytes: &[u8]) -> (bool, usize) {
    match network_file::read(&String::from_utf8_lossy(bytes)) {
        Ok(network) => {
            let _ = solver::solve(&network);
            (true, 0)
        }
        Err(rejection) => {
            assert!(rejection.to_string().len() < 4000, "a message that nobody reads");
            (false, 1)
        }
    }
}

/// Command lines, one a line; no project of this name is there, so nothing is written.
const ARGUMENTS: &str = "\
solve no-such-project.ron --routing B --speed 7,2 --rate=100 --temperature 5°C --slope -10 --format json
compare no-such-project.ron A B --format table --speed 9
sheet no-such-project.ron --out /no/such/folder/x.pdf --sheets layout,parts --paper A3 --scale 1:50 --units us --flows --date 2026-03-31
parts no-such-project.ron --out /no/such/folder/x.csv --routing A
cuts no-such-project.ron --out /no/such/folder/x.xlsx --units metric
export no-such-project.ron --network /no/such/folder/x.json --inp /no/such/folder/x.inp
network no-such-network.json --time 10
no-such-project.ron
--no-such-option
";

fn arguments(bytes: &[u8]) -> (bool, usize) {
    let text = String::from_utf8_lossy(bytes);
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        // These print whole pages.
        if words
            .iter()
            .any(|word| ["--help", "-h", "help", "man", "completions", "--version", "-V"].contains(word))
        {
            continue;
        }
        let _ = command_line::run(words.into_iter().map(Into::into).collect());
    }
    (true, 0)
}

/// Numbers that follow from a seed (Steele, Lea and Flood 2014, "SplitMix").
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, many: usize) -> usize {
        (self.next() % many.max(1) as u64) as usize
    }

    fn of<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

const NUMBERS: [&str; 16] = [
    "0",
    "-0.0",
    "-1",
    "1e308",
    "-1e308",
    "1e999",
    "5e-324",
    "NaN",
    "inf",
    "65536",
    "4294967296",
    "18446744073709551616",
    "0.1e",
    "1,5",
    "1/0",
    "1e-18",
];

const TEXTS: [&str; 12] = [
    "",
    " ",
    "\n",
    "\u{1b}[2J",
    "\u{202e}abc",
    "=1+1",
    "\\u{0}",
    "\"",
    "a\u{0}b",
    "\u{ffff}",
    "None",
    "ümläut 漢字 😀",
];

const PIECES: [&str; 20] = [
    "(", ")", "[", "]", "{", "}", ",", ";", ":", "\"", "//", "/*", "*/", "Some(", "()", "null", "--", "=",
    "\t", "r#\"",
];

/// Changes a file a little or much.
pub fn change(bytes: &mut Vec<u8>, random: &mut Random) {
    for _ in 0..=random.below(4) {
        let at = random.below(bytes.len() + 1);
        // From a place in the file to the end of the word, number or text there.
        let word = |bytes: &[u8], at: usize| {
            let same = |a: u8, b: u8| {
                (a.is_ascii_alphanumeric() || b".-_".contains(&a))
                    && (b.is_ascii_alphanumeric() || b".-_".contains(&b))
            };
            let mut end = at;
            while end < bytes.len() && (end == at || same(bytes[end - 1], bytes[end])) {
                end += 1;
            }
            end
        };
        // The lines of the file.
        let line = |bytes: &[u8], at: usize| {
            let start = bytes[..at].iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
            let end =
                bytes[at..].iter().position(|byte| *byte == b'\n').map_or(bytes.len(), |more| at + more + 1);
            (start, end)
        };
        let next = |bytes: &[u8], wanted: fn(u8) -> bool| {
            bytes[at..].iter().position(|byte| wanted(*byte)).map_or(at, |more| at + more)
        };
        match random.below(12) {
            0 => {
                let start = next(bytes, |byte| byte.is_ascii_digit() || byte == b'-');
                let end = word(bytes, start);
                bytes.splice(start..end, random.of(&NUMBERS).bytes());
            }
            1 => {
                let start = (next(bytes, |byte| byte == b'"') + 1).min(bytes.len());
                let end =
                    bytes[start..].iter().position(|byte| *byte == b'"').map_or(start, |more| start + more);
                bytes.splice(start..end, random.of(&TEXTS).bytes());
            }
            2 => drop(bytes.splice(at..at, random.of(&PIECES).bytes())),
            3 => {
                let piece = random.of(&PIECES).repeat(1 << random.below(11));
                bytes.splice(at..at, piece.bytes());
            }
            4 => {
                let (start, end) = line(bytes, at);
                let copies = bytes[start..end].repeat(1 + random.below(40));
                bytes.splice(end..end, copies);
            }
            5 => {
                let (start, end) = line(bytes, at);
                bytes.drain(start..end);
            }
            6 => {
                let (start, end) = line(bytes, at);
                let moved: Vec<u8> = bytes.drain(start..end).collect();
                let (to, _) = line(bytes, random.below(bytes.len() + 1));
                bytes.splice(to..to, moved);
            }
            7 => {
                let end = word(bytes, at);
                let other = random.below(bytes.len() + 1);
                let copy = bytes[other..word(bytes, other)].to_vec();
                bytes.splice(at..end, copy);
            }
            8 => bytes.truncate(at),
            9 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = random.next() as u8;
                }
            }
            10 => {
                let end = (at + random.below(60)).min(bytes.len());
                bytes.drain(at..end);
            }
            _ => {
                let raw: Vec<u8> = (0..random.below(30)).map(|_| random.next() as u8).collect();
                bytes.splice(at..at, raw);
            }
        }
    }
}

/// Reads a file with a word of a hundred thousand letters in place of each of its words in turn. The readers above look at
/// the length of what is said.
pub fn with_long_words(target: &Target) -> usize {
    let sound = (target.sound)();
    let is_word = |byte: &u8| byte.is_ascii_alphanumeric() || b".-_".contains(byte);
    let starts = (0..sound.len()).filter(|at| is_word(&sound[*at]) && (*at == 0 || !is_word(&sound[at - 1])));
    // The same words come again and again.
    let mut seen = std::collections::BTreeSet::new();
    let mut refused = 0;
    for start in starts {
        let end =
            sound[start..].iter().position(|byte| !is_word(byte)).map_or(sound.len(), |more| start + more);
        if !seen.insert(&sound[start..end]) || seen.len() > 60 {
            continue;
        }
        for letter in ["x", "7", "\u{1b}"] {
            let mut bytes = sound[..start].to_vec();
            bytes.extend(letter.repeat(100_000).bytes());
            bytes.extend(&sound[end..]);
            refused += usize::from(!(target.read)(&bytes).0);
        }
    }
    refused
}

/// Reads so many changed files, from a case on; `on_case` hears of each before it is read.
pub fn run(target: &Target, cases: std::ops::Range<u64>, seed: u64, mut on_case: impl FnMut(u64)) -> Report {
    let sound = (target.sound)();
    let mut report = Report::default();
    let taken = (target.read)(&sound).0;
    assert!(taken, "{}: the sound file is refused", target.name);
    for case in cases {
        on_case(case);
        let mut random = Random(seed ^ case.wrapping_mul(0x2545_f491_4f6c_dd1d));
        let mut bytes = sound.clone();
        change(&mut bytes, &mut random);
        let start = Instant::now();
        let (taken, kept) = (target.read)(&bytes);
        let time = start.elapsed();
        assert!(kept <= SHOWN, "{}, case {case}: {kept} problems kept", target.name);
        report.most_kept = report.most_kept.max(kept);
        if taken {
            report.taken += 1;
        } else {
            report.refused += 1;
        }
        if time > report.slowest {
            report.slowest = time;
            report.slowest_case = case;
        }
    }
    report
}
