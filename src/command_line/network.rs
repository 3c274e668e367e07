//! `equirow network FILE [--time N]`: solves a network in the neutral format.
//!
//! The solution, or the refusal, goes to standard output in the neutral format; messages go to standard error. With
//! `--time N` the full solve is repeated N times from a cold guess, set-up of the topology apart, and the last line of
//! standard error is a JSON object with the median, the tenth and ninetieth percentile in microseconds, and the steps.

use super::asked::{Given, take_file, walk};
use super::raw_names::path_of;
use super::wrong_usage;
use crate::files::network_file::{self, OpenError};
use crate::hydraulics::solver::Solver;
use std::process::ExitCode;
use std::time::Instant;

/// How it is called.
pub(super) const USAGE: &str = "equirow network FILE [--time N]";
const MOST_REPEATS: usize = 1_000_000;

/// Runs the subcommand with the arguments after its name. Exit codes: 0 solved; 1 refused or not solved; 2 wrong usage;
/// 3 the file can't be read.
pub fn run(arguments: &[String]) -> ExitCode {
    let (file, repeats) = match parse(arguments) {
        Ok(request) => request,
        Err(what) => return wrong_usage(&what, &format!("usage: {USAGE}")),
    };
    let network = match network_file::open(&path_of(&file)) {
        Ok(network) => network,
        Err(OpenError::Unreadable(message)) => {
            eprintln!("equirow: {message}");
            return ExitCode::from(3);
        }
        Err(OpenError::Rejected(rejection)) => {
            eprintln!("equirow: {rejection}");
            return print(&network_file::rejection_json(&rejection), ExitCode::from(1));
        }
    };
    let mut solver = match Solver::new(&network) {
        Ok(solver) => solver,
        Err(failure) => {
            eprintln!("equirow: {failure}");
            return print(&network_file::failure_json(&failure), ExitCode::from(1));
        }
    };
    let text = match solver.solve(&network) {
        Ok(solution) => network_file::solution_json(&network, solution),
        Err(failure) => {
            eprintln!("equirow: {failure}");
            return print(&network_file::failure_json(&failure), ExitCode::from(1));
        }
    };
    let code = print(&text, ExitCode::SUCCESS);
    if let Some(repeats) = repeats {
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
    code
}

/// Writes to standard output; a reader that went away early is no fault of the network.
fn print(text: &str, code: ExitCode) -> ExitCode {
    use std::io::Write as _;
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            eprintln!("equirow: standard output can't be written: {error}");
            ExitCode::from(3)
        }
        _ => code,
    }
}

fn parse(arguments: &[String]) -> Result<(String, Option<usize>), String> {
    let (mut file, mut repeats) = (String::new(), None);
    walk(arguments, "-", &["--time"], &[], |given| match given {
        Given::Name(name) | Given::Flag(name) => take_file(&mut file, name, "FILE"),
        Given::Value(_, value) => {
            let count = value.parse().ok().filter(|count| (1..=MOST_REPEATS).contains(count));
            let refused =
                || format!("--time: \"{value}\" is no number of repeats; give one from 1 to {MOST_REPEATS}");
            repeats = Some(count.ok_or_else(refused)?);
            Ok(())
        }
    })?;
    if file.is_empty() {
        return Err("FILE: no file is given; name the network to read".to_owned());
    }
    Ok((file, repeats))
}
