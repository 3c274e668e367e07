//! `equirow export PROJECT ...`: writes a solved routing as a network that other engines can check.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::asked::{Asked, Given, conditions};
use super::outputs::{self, REPLACE};
use super::raw_names::path_of;
use super::{ANSWER_IS_NO, FILE_TROUBLE, tell_notes, wrong_usage};
use crate::files::marks::{Kind, WRITTEN_BY};
use crate::files::output::{Output, look};
use crate::files::{epa_file, network_file};
use crate::hydraulics::Status;
use crate::hydraulics::workbench::{SolvedNetwork, solved_network};
use crate::plan::{OperatingPoint, Project, Routing};
use crate::quantities::{Measure, UnitSystem};
use crate::studies::status::why_no_numbers;

/// How it is called.
pub(super) const USAGE: &str = "equirow export PROJECT [--network OUT.json] [--inp OUT.inp] [--routing NAME] [--speed KMH] \
                                [--rate L_HA] [--temperature C] [--slope PERCENT] [--fore-aft-slope PERCENT] [--replace]";

const NETWORK: &str = "--network";
const INP: &str = "--inp";

/// Runs the subcommand with the arguments after its name. Both files are written, or neither.
///
/// Exit codes: 0 written; 1 the routing can't be solved, nothing is written; 2 wrong usage, also a routing that does
/// not exist; 3 a file can't be read, understood or written.
pub fn run(arguments: &[String]) -> ExitCode {
    let (mut asked, mut network, mut inp, mut replace) = (Asked::default(), None, None, false);
    let parsed = asked.parse(arguments, &[NETWORK, INP], &[REPLACE], |given| {
        match given {
            Given::Value(INP, value) => inp = Some(path_of(&value)),
            Given::Value(_, value) => network = Some(path_of(&value)),
            Given::Name(_) | Given::Flag(_) => replace = true,
        }
        Ok(())
    });
    let nothing = || Err("nothing to write; give --network OUT.json, --inp OUT.inp, or both".to_owned());
    let asks_for_one = |()| if network.is_some() || inp.is_some() { Ok(()) } else { nothing() };
    if let Err(what) = parsed.and_then(asks_for_one) {
        return wrong_usage(&what, &format!("usage: {USAGE}"));
    }
    let files = [(NETWORK, network, Kind::Network), (INP, inp, Kind::EpaNetwork)];
    let files: Vec<(&str, PathBuf, Kind)> =
        files.into_iter().filter_map(|(option, path, kind)| Some((option, path?, kind))).collect();
    let named: Vec<(&str, &Path)> = files.iter().map(|(option, path, _)| (*option, path.as_path())).collect();
    let permit = outputs::distinct(&path_of(asked.file()), &named, USAGE).and_then(|()| {
        let outputs = files.iter().map(|(_, path, kind)| Output::alone(path, *kind)).collect();
        let options: Vec<&str> = named.iter().map(|(option, _)| *option).collect();
        outputs::permit(&options.join(", "), look(outputs), replace)
    });
    let permit = match permit {
        Ok(permit) => permit,
        Err(code) => return code,
    };
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
    let texts = files.iter().map(|(_, _, kind)| match kind {
        Kind::EpaNetwork => epa_file::inp(graph, solution, &notes),
        _ => network_file::network_json(graph, solution, &notes),
    });
    match permit.write(texts.map(String::into_bytes).collect()) {
        Ok(written) => {
            tell_notes(&written.notes);
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("equirow: {error}; nothing is written");
            ExitCode::from(FILE_TROUBLE)
        }
    }
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
        format!("{WRITTEN_BY} {}", env!("CARGO_PKG_VERSION")),
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
