//! `equirow study STUDY PROJECT ...`: answers to "which is best" and "what if" about one routing; one file a study.

mod asked;
mod carry_out;
mod conditions;
mod equalise;
mod metering;
mod pressure;
mod prime;
mod tolerance;

use clap::Args;

use super::Ended;
#[derive(Args)]
pub(super) struct Arguments {
    #[command(subcommand)]
    study: StudySubcommand,
}

#[derive(clap::Subcommand)]
enum StudySubcommand {
    /// Weighs every metering element of the catalogue on this routing, from the slowest to the fastest speed
    Metering(metering::Arguments),
    /// Works out metering of its own for each row, so that all get the same
    Equalise(equalise::Arguments),
    /// Shows where the pressure goes on the way to a row, beside the mean row
    Pressure(pressure::Arguments),
    /// Shows what slopes, cold, wear and single faults do to the rows
    Conditions(conditions::Arguments),
    /// Shows how even the bar will be, built of parts as they are sold and cut
    Tolerance(tolerance::Arguments),
    /// Tells how long until liquid comes to each row, and what the lines hold
    Prime(prime::Arguments),
}

/// Runs the subcommand.
///
/// Exit codes: 0 answered, and nothing is outside the limits; 1 not answered, or the answer is no (JSON is printed all the
/// same); 2 wrong usage; 3 a file can't be read, understood or written.
pub(super) fn run(arguments: &Arguments) -> Ended {
    match &arguments.study {
        StudySubcommand::Metering(arguments) => metering::run(arguments),
        StudySubcommand::Equalise(arguments) => equalise::run(arguments),
        StudySubcommand::Pressure(arguments) => pressure::run(arguments),
        StudySubcommand::Conditions(arguments) => conditions::run(arguments),
        StudySubcommand::Tolerance(arguments) => tolerance::run(arguments),
        StudySubcommand::Prime(arguments) => prime::run(arguments),
    }
}
