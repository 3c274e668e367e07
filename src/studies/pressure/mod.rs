//! Where the pressure goes on the way to a row, beside the mean row: why one row gets less than another.
//!
//! The way is that of the liquid, against the flow from the outlet to the pump, in rings too. What a row's way takes adds up
//! to the pressure at the pump, and so does what the mean row's takes: what a row loses more before its metering is missing
//! there. The mean row is the mean of all fed rows: the first hose of its way is the mean of all their first hoses, and so
//! on; what has no counterpart on the row's own way stands as a line of its own.
//!
//! [`study`] follows the way, [`report`] shows it.

mod shown;
mod way;

pub use shown::report;
pub use way::{Cause, PressureOptions, PressureStudy, WayItem, Wider, study};
