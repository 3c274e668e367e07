//! What a catch test says: each row against target, mean and what the model expects, what explains it, and what to look at
//! next. Start reading at [`readings`], made by [`prepare`] from what was taken down; [`judged`] holds them against the plan,
//! and [`verdict_words`] says it in sentences.

pub mod calibrate;
pub mod catch_time;
pub mod cv;
mod expectation;
pub mod explain;
mod joint;
pub mod judged;
pub mod nothing_judged;
pub mod outliers;
pub mod prepare;
pub mod readings;
mod repeatability;
pub mod sheet_facts;
pub mod since;
mod spread_columns;
mod supply;
pub mod verdict_words;
