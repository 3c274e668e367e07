//! `equirow export PROJECT ...`: writes a solved routing as a network that other engines can check.

use std::path::Path;
use std::process::ExitCode;

use super::asked::{Asked, conditions};
use super::raw_names::path_of;
use super::{ANSWER_IS_NO, FILE_TROUBLE, tell_notes, wrong_usage};
use crate::files::{self, epa_file, network_file};
use crate::hydraulics::Status;
use crate::hydraulics::workbench::{SolvedNetwork, solved_network};
use crate::plan::{OperatingPoint, Project, Routing};
use crate::quantities::{Measure, UnitSystem};
use crate::studies::status::why_no_numbers;

/// How it is called.
pub(super) const USAGE: &str = "equirow export PROJECT [--network OUT.json] [--inp OUT.inp] [--routing NAME] [--speed KMH] \
                                [--rate L_HA] [--temperature C] [--slope PERCENT] [--fore-aft-slope PERCENT]";

/// Runs the subcommand with the arguments after its name.
///
/// Exit codes: 0 written; 1 the routing can't be solved, nothing is written; 2 wrong usage, also a routing that does
/// not exist; 3 a file can't be read, understood or written.
pub fn run(arguments: &[String]) -> ExitCode {
    let (mut asked, mut network, mut inp) = (Asked::default(), None, None);
    let parsed = asked.parse(arguments, &["--network", "--inp"], |option, value| {
        let place = if option == "--inp" { &mut inp } else { &mut network };
        *place = Some(path_of(&value));
        Ok(())
    });
    let nothing = || Err("nothing to write; give --network OUT.json, --inp OUT.inp, or both".to_owned());
    let asks_for_one = |()| if network.is_some() || inp.is_some() { Ok(()) } else { nothing() };
    if let Err(what) = parsed.and_then(asks_for_one) {
        return wrong_usage(&what, &format!("usage: {USAGE}"));
    }
    let project = match asked.open() {
        Ok(project) => project,
        Err(code) => return code,
    };
    let (routing, point) = match asked.choose(&project, USAGE) {
        Ok(chosen) => chosen,
        Err(code) => return code,
    };
    let solved = match solved_network(&project, routing, &point) {
        Ok(solved) => solved,
        Err(outcome) => {
            let why = why_no_numbers(&outcome).unwrap_or_default();
            eprintln!("equirow: routing {}: {why}; nothing is written", routing.name);
            return ExitCode::from(ANSWER_IS_NO);
        }
    };
    let notes = notes(&project, routing, &point, &solved);
    let (graph, solution) = (&solved.assembly.network, &solved.solution);
    let texts = [
        network.map(|path| (path, network_file::network_json(graph, solution, &notes))),
        inp.map(|path| (path, epa_file::inp(graph, solution, &notes))),
    ];
    for (path, text) in texts.into_iter().flatten() {
        match files::write_whole(Path::new(&path), text.as_bytes()) {
            Ok(notes) => tell_notes(&notes),
            Err(error) => {
                eprintln!("equirow: {error}");
                return ExitCode::from(FILE_TROUBLE);
            }
        }
    }
    ExitCode::SUCCESS
}

/// What a reader of the file should know: where it comes from, and what it holds only at this point.
fn notes(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
    solved: &SolvedNetwork,
) -> Vec<String> {
    let text = |measure: Measure, value: f64| measure.text(value, UnitSystem::Metric);
    let mut notes = vec![
        format!("Written by equirow {}", env!("CARGO_PKG_VERSION")),
        format!("Project: {}; routing: {}", project.title.title, routing.name),
        format!("Conditions: {}", conditions(point, UnitSystem::Metric)),
    ];
    if let Status::AtLimit { shortfall } = solved.status {
        notes.push(format!(
            "The supply's limit, its pressure or what the pump delivers, holds the flow {} below what is asked",
            text(Measure::TotalFlow, shortfall.si())
        ));
    }
    notes
}
