//! Studies: answers to "which is best" and "what if", from plans, solved outcomes and prepared routings that are varied.
//!
//! [`comparison`] weighs two routings of one bar, [`status`] words the state of a solve. The studies of [`Study`] take a
//! [`Studied`] routing, vary its [prepared network](crate::hydraulics::PreparedRouting), and return numbers; [`report`]
//! is the one form in which window, command line and papers show them. Never here: changing a plan (what a study
//! recommends is a [`StudyAction`], carried out by the session), threads (but in `workers.rs`, for
//! [`tolerance`] and [`catch_test`], whose answers are the same on any number of them), or how an answer is shown.

mod asked;
pub mod catch_test;
pub mod comparison;
pub mod conditions;
mod csv_record;
pub mod equalise;
pub mod metering;
pub mod pressure;
pub mod prime;
mod reliance;
pub mod report;
pub mod status;
pub mod tolerance;
pub mod trial;
mod workers;

pub use asked::{NoAnswer, Studied, Study, StudyOptions, Unwatched, Waiting};
pub use reliance::rests_on;

use report::StudyReport;

/// The answer of a study as it is shown.
pub fn answer(
    study: Study,
    of: &Studied,
    options: &StudyOptions,
    waiting: &dyn Waiting,
) -> Result<StudyReport, NoAnswer> {
    match study {
        Study::Pressure => {
            let options = pressure::PressureOptions { row: options.row };
            pressure::study(of, &options, waiting).map(|study| pressure::report(&study, of))
        }
        Study::Conditions => conditions::study(of, waiting).map(|study| conditions::report(&study, of)),
        Study::Prime => prime::study(of, waiting).map(|study| prime::report(&study, of)),
        Study::Metering => {
            let options = metering::MeteringOptions::default();
            metering::study(of, &options, waiting).map(|found| metering::report(&found, of))
        }
        Study::Equalise => {
            let options = equalise::EqualiseOptions::default();
            equalise::study(of, &options, waiting).map(|found| equalise::report(&found, of))
        }
        Study::Tolerance => {
            let usual = tolerance::ToleranceOptions::default();
            let samples = options.bars.unwrap_or(usual.samples);
            let options = tolerance::ToleranceOptions { samples, ..usual };
            tolerance::study(of, &options, waiting).map(|study| tolerance::report(&study, of))
        }
    }
}
