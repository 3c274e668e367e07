//! What reading costs: `readers read KIND FILE` reads one file, `readers mutate COUNT [SEED]` so many changed files.
//!
//! Both print what they found, the time and the most memory that the process ever held. `readers.py` beside this makes
//! the largest permitted and the first refused file of each reader and runs it on them.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a tool for developers stops where something is not as it should be"
)]

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

use equirow::files::network_file::{self, OpenError};
use equirow::files::row_positions::{Choices, read_row_positions, read_table};
use equirow::files::{open, open_catalogue};

#[path = "mutations.rs"]
mod mutations;

use mutations::{Report, TARGETS};

/// Most memory ever held, MiB (Linux; elsewhere it is not known).
fn peak_mib() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kib = line.and_then(|line| line.trim().strip_suffix(" kB")?.trim().parse::<f64>().ok());
    kib.map_or(f64::NAN, |kib| kib / 1024.0)
}

fn read(kind: &str, file: &Path) -> String {
    let first = |message: String| message.lines().next().unwrap_or_default().to_owned();
    let refused = |message: String| format!("refused: {}", first(message));
    match kind {
        "project" => open(file).map_or_else(|error| refused(error.to_string()), |_| "read".to_owned()),
        "catalogue" => {
            open_catalogue(file).map_or_else(|error| refused(error.to_string()), |_| "read".to_owned())
        }
        "rows" => match read_table(file) {
            Err(error) => refused(error.to_string()),
            Ok(text) => {
                let found = read_row_positions(&text, &Choices::default());
                format!(
                    "{} rows, {} problems: {}",
                    found.rows.len(),
                    found.problems.total(),
                    first(found.problems.to_string())
                )
            }
        },
        "network" => match network_file::open(file) {
            Ok(network) => format!("{} nodes", network.graph.node_count()),
            Err(OpenError::Unreadable(message)) => refused(message),
            Err(OpenError::Rejected(rejection)) => refused(rejection.to_string()),
        },
        other => panic!("{other}: say project, catalogue, rows or network"),
    }
}

fn mutate(count: u64, seed: u64) {
    let each = count.div_ceil(TARGETS.len() as u64);
    let mut panics = 0_u64;
    for target in &TARGETS {
        let start = Instant::now();
        let (mut total, mut from) = (Report::default(), 0);
        while from < each {
            let mut at = from;
            let part = catch_unwind(AssertUnwindSafe(|| {
                mutations::run(target, from..(from + 5000).min(each), seed, |case| at = case)
            }));
            if let Ok(part) = part {
                from = (from + 5000).min(each);
                total.taken += part.taken;
                total.refused += part.refused;
                total.most_kept = total.most_kept.max(part.most_kept);
                if part.slowest > total.slowest {
                    (total.slowest, total.slowest_case) = (part.slowest, part.slowest_case);
                }
            } else {
                println!("PANIC in {}, case {at}, seed {seed}", target.name);
                panics += 1;
                from = at + 1;
            }
        }
        println!(
            "{:16} {:7} taken, {:7} refused, slowest {:.1} ms (case {}), {:.0} s in all, peak {:.0} MiB so far",
            target.name,
            total.taken,
            total.refused,
            total.slowest.as_secs_f64() * 1e3,
            total.slowest_case,
            start.elapsed().as_secs_f64(),
            peak_mib()
        );
    }
    println!("{} changed files, {panics} panics, seed {seed}", each * TARGETS.len() as u64);
    if panics > 0 {
        std::process::exit(1);
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["read", kind, file] => {
            let start = Instant::now();
            let found = read(kind, Path::new(file));
            let time: Duration = start.elapsed();
            println!("{:.2} s, {:.0} MiB, {found}", time.as_secs_f64(), peak_mib());
        }
        ["mutate", count] => mutate(count.parse().unwrap(), 1),
        ["mutate", count, seed] => mutate(count.parse().unwrap(), seed.parse().unwrap()),
        _ => {
            println!("usage: readers read project|catalogue|rows|network FILE | readers mutate COUNT [SEED]");
        }
    }
}
