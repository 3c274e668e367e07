//! The rows of a judged test as CSV.

use std::fmt::Write as _;

use crate::command_line::percent;
use crate::quantities::{Flow, Ratio};
use crate::studies::catch_test::judged::Judged;

/// The rows of a judged test for a spreadsheet, in metric units.
pub(super) fn csv(judged: &Judged) -> String {
    let mut out = "row,catches,caught_l_min,target_l_min,asked_l_min,expected_l_min,may_give_from_l_min,may_give_to_l_min,\
                   from_asked_percent,from_expected_percent,from_mean_percent,outlier,catches_apart,as_drawn,within_limit\r\n"
        .to_owned();
    let flow = |flow: Flow| format!("{:.6}", flow.as_litres_per_minute());
    let ratio = |ratio: Option<Ratio>| ratio.map_or_else(String::new, |one| format!("{:.3}", percent(one)));
    let yes = |yes: bool| if yes { "yes" } else { "no" };
    for row in &judged.rows {
        let _ = write!(
            out,
            "{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}\r\n",
            row.number,
            row.catches,
            flow(row.caught),
            flow(row.target),
            row.asked.map_or_else(String::new, flow),
            flow(row.expected),
            row.may_give.map_or_else(String::new, |one| flow(one.low)),
            row.may_give.map_or_else(String::new, |one| flow(one.high)),
            ratio(row.from_asked),
            ratio(row.from_expected),
            ratio(row.from_mean),
            yes(row.is_outlier),
            yes(row.apart.is_some()),
            yes(row.as_drawn),
            yes(row.within_limit),
        );
    }
    out
}
