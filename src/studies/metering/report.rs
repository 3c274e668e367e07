//! The study of the metering as it is shown.

use super::super::asked::{Studied, Study};
use super::super::report::{StudyReport, StudyTable};
use super::answer::Says;
use super::choice::MeteringStudy;

pub use super::tables::action;

/// Words of the study.
pub fn report(found: &MeteringStudy, of: &Studied) -> StudyReport {
    let says = Says { found, of, project: of.project };
    let mut tables: Vec<StudyTable> = (0..says.duties()).map(|duty| says.choices(duty)).collect();
    tables.push(says.bores());
    StudyReport::new(Study::Metering, of, says.answer(), says.warnings())
        .with_tables(tables)
        .with_plots(says.plot())
}
