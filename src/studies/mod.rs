//! Studies: answers to "which is best" and "what if", read from plans and solved outcomes.
//!
//! [`comparison`] weighs two routings of one bar, [`status`] words the state of a solve. A study takes a project and outcomes that were already solved, and
//! gives numbers, and words made from those numbers. Never here: solving behind the caller's back, changing a plan,
//! or anything about how an answer is shown.

pub mod comparison;
pub mod status;
