//! `equirow study metering PROJECT ...`.

use clap::Args;

use super::asked::AskedStudy;
use crate::command_line::Ended;
use crate::studies::NoAnswer;
use crate::studies::Study;
use crate::studies::report::StudyReport;

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
}

/// Runs the study.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.asked.of.open()?;
    let _ = arguments.asked.choose(&project)?;
    let answer: Result<(), NoAnswer> = Err(NoAnswer::impossible("not built yet", "wait"));
    let report = |_: &()| StudyReport {
        study: Study::ALL[0],
        answer: Vec::new(),
        warnings: Vec::new(),
        tables: Vec::new(),
        plots: Vec::new(),
    };
    Ok(arguments.asked.print(&project, answer.as_ref(), report, |_| (), false))
}
