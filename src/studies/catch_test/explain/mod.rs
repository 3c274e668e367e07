//! What explains a catch test, and what to look at next. Start reading at [`answer`].

mod answer;

pub use answer::{Candidate, Cause, CauseGroup, CauseSize, Explanation, LookAction, LookOutcome, NextLook};
