//! `equirow export PROJECT ...`: writes a solved routing as a network that other engines can check.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::builder::{PathBufValueParser, TypedValueParser as _};
use clap::{Args, ValueHint};

use super::arguments::{AskedPoint, OneRouting, conditions, ending_in};
use super::outputs::{self, Outputs};
use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, tell_notes, wrong_usage};
use crate::files::marks::{Kind, WRITTEN_BY};
use crate::files::output::{Output, look};
use crate::files::{epa_file, network_file};
use crate::hydraulics::SupplyState;
use crate::hydraulics::prepared::{SolvedNetwork, solved_network};
use crate::hydraulics::supply_law::{Regime, SupplyPoint};
use crate::plan::{OperatingPoint, Project, Routing};
use crate::quantities::{Measure, UnitSystem};
use crate::studies::status::why_no_numbers;

/// The subcommand.
const NAME: &str = "export";
const NETWORK: &str = "--network";
const INP: &str = "--inp";

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    of: OneRouting,
    #[command(flatten)]
    at: AskedPoint,
    /// The network in the neutral format; give this, --inp or both
    #[arg(long, value_name = "OUT.json", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(|path| ending_in(path, "json", "neutral networks")))]
    network: Option<PathBuf>,
    /// The network in the text format of the EPA network solver
    #[arg(long, value_name = "OUT.inp", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(|path| ending_in(path, "inp", "networks for that solver")))]
    inp: Option<PathBuf>,
    #[command(flatten)]
    outputs: Outputs,
}

/// Runs the subcommand. Both files are written, or neither.
///
/// Exit codes: 0 written; 1 the routing can't be solved, nothing is written; 2 wrong usage, also a routing that does
/// not exist; 3 a file can't be read, understood or written.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let files = [(NETWORK, &arguments.network, Kind::Network), (INP, &arguments.inp, Kind::EpaNetwork)];
    let files: Vec<(&str, &Path, Kind)> =
        files.into_iter().filter_map(|(option, path, kind)| Some((option, path.as_deref()?, kind))).collect();
    if files.is_empty() {
        let what = "nothing to write; give --network OUT.json, --inp OUT.inp, or both";
        return Err(wrong_usage(Some(NAME), what));
    }
    let named: Vec<(&str, &Path)> = files.iter().map(|(option, path, _)| (*option, *path)).collect();
    outputs::distinct(&arguments.of.file, &named, NAME)?;
    let options: Vec<&str> = named.iter().map(|(option, _)| *option).collect();
    let standing = look(files.iter().map(|(_, path, kind)| Output::alone(path, *kind)).collect());
    let permit = arguments.outputs.permit(&options.join(", "), standing)?;
    let project = arguments.of.open()?;
    let routing = arguments.of.choose(&project, NAME)?;
    let point = arguments.at.of(arguments.of.duty(&project, NAME)?);
    let solved = solved_network(&project, routing, &point).map_err(|outcome| {
        let why = why_no_numbers(&outcome, routing).unwrap_or_default();
        eprintln!("equirow: routing {}: {why}; nothing is written", routing.name);
        ExitCode::from(ANSWER_IS_NO)
    })?;
    let notes = notes(&project, routing, &point, &solved);
    let (graph, solution) = (&solved.assembly.network, &solved.solution);
    let texts = files.iter().map(|(_, _, kind)| match kind {
        Kind::EpaNetwork => epa_file::inp(graph, solution, &notes),
        _ => network_file::network_json(graph, solution, &notes),
    });
    let written = permit.write(texts.map(String::into_bytes).collect()).map_err(|error| {
        eprintln!("equirow: {error}; nothing is written");
        ExitCode::from(FILE_TROUBLE)
    })?;
    tell_notes(&written.notes);
    Ok(ExitCode::SUCCESS)
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
        format!("Conditions: {}", conditions(project, point, UnitSystem::Metric)),
    ];
    if let SupplyState::AtLimit { shortfall, .. } = solved.supply {
        notes.push(format!(
            "The pump's limit, its pressure or what it delivers, holds the flow {} below what is asked",
            text(Measure::TotalFlow, shortfall.si())
        ));
    }
    if let Some(SupplyPoint { regime: Regime::Curve, flow_m3s, .. }) = solved.solution.supply {
        notes.push(format!(
            "The pump runs on its curve, which this format does not know: its flow here, {}, is written as given",
            text(Measure::TotalFlow, flow_m3s)
        ));
    }
    notes
}
