//! `equirow network FILE [--time N]`: solves a network in the neutral format.
//!
//! The solution, or the refusal, goes to standard output in the neutral format; messages go to standard error. With
//! `--time N` the full solve is repeated N times from a cold guess, set-up of the topology apart, and the last line of
//! standard error is a JSON object with the median, the tenth and ninetieth percentile in microseconds, and the steps.

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Instant;

use clap::{Args, ValueHint};

use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, print};
use crate::files::network_file::{self, OpenError};
use crate::hydraulics::solver::Solver;

const MOST_REPEATS: usize = 1_000_000;

#[derive(Args)]
pub(super) struct Arguments {
    /// The network to read
    #[arg(value_hint = ValueHint::FilePath)]
    file: PathBuf,
    /// Repeats the solve, from 1 to 1000000 times, and reports how long it took
    #[arg(long, value_name = "N", value_parser = repeats)]
    time: Option<usize>,
}

/// Runs the subcommand. Exit codes: 0 solved; 1 refused or not solved; 2 wrong usage; 3 the file can't be read.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let refused = |text: &str| Err(print(text, ExitCode::from(ANSWER_IS_NO)));
    let network = match network_file::open(&arguments.file) {
        Ok(network) => network,
        Err(OpenError::Unreadable(message)) => {
            eprintln!("equirow: {message}");
            return Err(ExitCode::from(FILE_TROUBLE));
        }
        Err(OpenError::Rejected(rejection)) => {
            eprintln!("equirow: {rejection}");
            return refused(&network_file::rejection_json(&rejection));
        }
    };
    let mut solver = match Solver::new(&network) {
        Ok(solver) => solver,
        Err(failure) => {
            eprintln!("equirow: {failure}");
            return refused(&network_file::failure_json(&failure));
        }
    };
    let text = match solver.solve(&network) {
        Ok(solution) => network_file::solution_json(&network, solution),
        Err(failure) => {
            eprintln!("equirow: {failure}");
            return refused(&network_file::failure_json(&failure));
        }
    };
    let code = print(&text, ExitCode::SUCCESS);
    if let Some(repeats) = arguments.time {
        let mut microseconds = Vec::with_capacity(repeats);
        let mut steps = 0;
        for _ in 0..repeats {
            solver.forget();
            let start = Instant::now();
            let solved = solver.solve(&network);
            microseconds.push(start.elapsed().as_secs_f64() * 1e6);
            steps = solved.map_or(steps, |solution| solution.steps);
        }
        microseconds.sort_by(f64::total_cmp);
        let at = |part: f64| microseconds[((microseconds.len() - 1) as f64 * part).round() as usize];
        eprintln!(
            "{{\"solves\":{repeats},\"median_us\":{:.3},\"p10_us\":{:.3},\"p90_us\":{:.3},\"newton_steps\":{steps}}}",
            at(0.5),
            at(0.1),
            at(0.9)
        );
    }
    Ok(code)
}

fn repeats(value: &str) -> Result<usize, String> {
    let count = value.parse().ok().filter(|count| (1..=MOST_REPEATS).contains(count));
    count.ok_or_else(|| format!("\"{value}\" is no number of repeats; give one from 1 to {MOST_REPEATS}"))
}
