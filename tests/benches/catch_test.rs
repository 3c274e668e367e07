//! How well causes of a catch test are found, on tests invented by the model: `cargo bench --bench catch_test`.
//!
//! The truth is drawn, the faulty bar of drawn parts is solved by the engine, caught with a scatter, and explained. That tests
//! the fit and the odds, not how true the model and the weights are. Seeded: the same tables on any machine, but for the times.
//! `EQUIROW_CATCH_PART=20` makes a twentieth of the cases, `EQUIROW_CATCH_ROWS=24,80` only these bars,
//! `EQUIROW_CATCH_TIMES=20` so many times the tests that are drawn by the weights, of which few have odds far from 0 and 100 %.

#![expect(clippy::unwrap_used, reason = "a benchmark stops where its input is missing")]

#[path = "../engine/invented_bars.rs"]
mod invented_bars;
#[path = "../engine/invented_tests.rs"]
mod invented_tests;

use std::collections::BTreeMap;
use std::fmt;
use std::time::Instant;

use equirow::plan::{CauseWeights, RoutingGeometry};
use equirow::studies::catch_test::explain::invented::{Assessment, Invention, SizeHeld};
use equirow::studies::catch_test::explain::{CauseCurves, ExplainOptions, explain};
use equirow::studies::catch_test::readings::TestedRouting;
use equirow::studies::{Studied, Unwatched};
use invented_tests::{CATCHING, Reliability, SEED, Score, assess};

fn number(name: &str, usual: usize) -> usize {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// A case in a line: what was at fault, how much it showed, and what was said.
fn missed(truth: &str, found: &Assessment) -> String {
    let odds: Vec<f64> = found.groups.iter().take(3).map(|one| (one.0 * 100.0).round()).collect();
    format!(
        "{truth}, {:.1} spreads, {:.2} left: place {:?}, first {}, odds {odds:?}",
        found.effect, found.left, found.place, found.first
    )
}

/// Ranges of sizes of single faults by kind: how many, and how many of these had the true size below, within and above.
#[derive(Debug, Clone, Default)]
struct Ranges(BTreeMap<String, [usize; 3]>);

impl Ranges {
    /// All of them, whether a fault shows or not.
    fn add(&mut self, all: &[(String, Assessment)]) {
        for (truth, found) in all {
            let Some(size) = found.size else { continue };
            let kind = truth.split(' ').next().unwrap_or_default().to_owned();
            let place = match size {
                SizeHeld::Below => 0,
                SizeHeld::Within => 1,
                SizeHeld::Above => 2,
            };
            self.0.entry(kind).or_default()[place] += 1;
        }
    }
}

impl fmt::Display for Ranges {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            out,
            "{:>26} {:>6} {:>8} {:>8} {:>8}",
            "95 % range of the size", "cases", "below", "within", "above"
        )?;
        let mut sums = [0; 3];
        let line = |out: &mut fmt::Formatter<'_>, kind: &str, counts: &[usize; 3]| {
            let sum: usize = counts.iter().sum();
            let of = |count: usize| format!("{:.1} %", 100.0 * count as f64 / sum.max(1) as f64);
            let [below, within, above] = counts.map(of);
            writeln!(out, "{kind:>26} {sum:>6} {below:>8} {within:>8} {above:>8}")
        };
        for (kind, counts) in &self.0 {
            line(out, kind, counts)?;
            for (sum, count) in sums.iter_mut().zip(counts) {
                *sum += count;
            }
        }
        line(out, "all", &sums)
    }
}

fn main() {
    let part = number("EQUIROW_CATCH_PART", 1).max(1);
    let times = number("EQUIROW_CATCH_TIMES", 1).max(1);
    let rows = std::env::var("EQUIROW_CATCH_ROWS").unwrap_or_else(|_| "24,40,80,120".to_owned());
    println!(
        "Invented tests: these figures test the fit and the odds, not how true the model and the weights are."
    );
    let mut reliability = Reliability::default();
    let (mut ranges, mut by_weights) = (Ranges::default(), Ranges::default());
    for rows in rows.split(',').filter_map(|text| text.trim().parse::<u32>().ok()) {
        let sections = match rows {
            0..=30 => 3,
            31..=60 => 5,
            61..=90 => 7,
            _ => 9,
        };
        let (project, gauges) = invented_bars::plumbed(rows, sections);
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let point = project.duties.first().usual_point();
        let of = Studied { project: &project, routing: geometry.with(routing), point };
        let began = Instant::now();
        let curves = CauseCurves::solve(&of, &gauges, None, &Unwatched).unwrap();
        let solved = began.elapsed();
        let weights = CauseWeights::default();
        let one = curves.invent(Invention::One, &weights, &CATCHING, &gauges[..1], (SEED, 1)).unwrap();
        let tested =
            TestedRouting { studied: of, rows: one.rows, gauges: one.gauges, supply_sd: one.supply_sd };
        let began = Instant::now();
        let answer = explain(&tested, &weights, &ExplainOptions::default(), &Unwatched).unwrap();
        println!(
            "\n{rows} rows: all causes solved in {:.2} s; one test explained from nothing in {:.2} s, {} groups",
            solved.as_secs_f64(),
            began.elapsed().as_secs_f64(),
            answer.groups.len()
        );
        println!(
            "{:>9} {:>8} {:>6} {:>8} {:>8} {:>10} {:>10} {:>9}",
            "faults", "scatter", "cases", "first", "3 first", "its rows", "of 3 first", "s a case"
        );
        for really in [1.0, 2.0] {
            for (name, what, cases) in
                [("one", Invention::One, 1000), ("two", Invention::Two, 500), ("none", Invention::Sound, 500)]
            {
                let began = Instant::now();
                let all = assess(&curves, what, &weights, &gauges[..1], really, cases / part);
                let score = Score::of(&all, 3.0);
                println!(
                    "{name:>9} {really:>8} {:>6} {:>8} {:>8} {:>10} {:>10} {:>9.3}",
                    score.cases,
                    score.percent(score.first),
                    score.percent(score.among_three),
                    score.percent(score.rows_first),
                    score.percent(score.rows_among_three),
                    began.elapsed().as_secs_f64() / all.len().max(1) as f64,
                );
                if what == Invention::One && really == 1.0 {
                    ranges.add(&all);
                }
                if what == Invention::One && really == 1.0 && number("EQUIROW_CATCH_MISSES", 0) > 0 {
                    for (truth, assessment) in
                        all.iter().filter(|one| one.1.place != Some(0) && one.1.effect > 3.0)
                    {
                        println!("    {}", missed(truth, assessment));
                    }
                }
            }
        }
        let all = assess(&curves, Invention::ByWeights, &weights, &gauges[..1], 1.0, 500 * times / part);
        reliability.add(&all);
        by_weights.add(&all);
        if number("EQUIROW_CATCH_MISSES", 0) > 0 {
            println!("    drawn by the weights, with a group between 10 and 90 %:");
            let is_open =
                |one: &&(String, Assessment)| one.1.groups.iter().any(|(odds, _)| (0.1..0.9).contains(odds));
            for (truth, assessment) in all.iter().filter(is_open) {
                println!("    {}", missed(truth, assessment));
            }
        }
    }
    println!(
        "\nOdds of groups against how many of them held the truth, tests drawn by the weights and scatters assumed"
    );
    print!("{reliability}");
    let off = reliability.classes(20).iter().map(|(mean, held)| (mean - held).abs()).fold(0.0, f64::max);
    println!("\nSizes of one fault, scatter as assumed\n{ranges}");
    println!("Sizes of one fault, tests drawn by the weights and scatters assumed\n{by_weights}");
    println!("farthest class of 20 groups and more: {:.1} points", 100.0 * off);
}
