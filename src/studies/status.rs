//! The state of a solve in words: the same ones wherever it is told.

use crate::hydraulics::outcome::{Blame, NotFed, RowState, RowsCovered};
use crate::hydraulics::{NoNumbers, Outcome, SupplyState};
use crate::plan::Routing;
use crate::plan::words::{counted, list};
use crate::quantities::{Measure, UnitSystem};

/// `39 of 40 rows`, to stand beside a figure that is over fewer than all rows of the bar; none where it is over all.
pub fn rows_words(covered: RowsCovered) -> Option<String> {
    let RowsCovered { rows, of } = covered;
    (!covered.is_all()).then(|| format!("{rows} of {of} rows"))
}

/// `39 of 40 rows`, or `37 to 39 of 40 rows`, of a figure at several points; none where it is over all rows at each of them.
pub fn rows_words_over(covered: impl IntoIterator<Item = RowsCovered>) -> Option<String> {
    let mut all = covered.into_iter().collect::<Vec<_>>();
    all.sort_by_key(|one| one.rows);
    let (fewest, most) = (*all.first()?, *all.last()?);
    match rows_words(fewest)? {
        words if fewest.rows == most.rows => Some(words),
        _ => Some(format!("{} to {} of {} rows", fewest.rows, most.rows, fewest.of)),
    }
}

/// `CV over rows`, or `CV over rows (39 of 40 rows)`: the name of a figure with the rows that it is over.
pub fn named_with_rows(name: &str, covered: RowsCovered) -> String {
    rows_words(covered).map_or_else(|| name.to_owned(), |rows| format!("{name} ({rows})"))
}

/// The state of a solve of a routing in a few words, lower case: `solved`, what is missing at the supply's limit, or why
/// there are no numbers.
pub fn status_words(outcome: &Outcome, routing: &Routing, units: UnitSystem) -> String {
    match &outcome.result {
        Ok(numbers) => match numbers.supply {
            SupplyState::AsAsked => "solved".to_owned(),
            SupplyState::AtLimit { shortfall, .. } => {
                format!(
                    "at the pump's limit, {} short",
                    Measure::TotalFlow.text_apart(shortfall.si(), 0.0, units)
                )
            }
        },
        Err(why) => no_numbers_words(why, outcome, routing),
    }
}

/// Why an outcome of a routing has no numbers, lower case; none if it has.
pub fn why_no_numbers(outcome: &Outcome, routing: &Routing) -> Option<String> {
    outcome.result.as_ref().err().map(|why| no_numbers_words(why, outcome, routing))
}

fn no_numbers_words(why: &NoNumbers, outcome: &Outcome, routing: &Routing) -> String {
    match why {
        NoNumbers::NothingFed => nothing_fed(outcome).to_owned(),
        NoNumbers::Failed { blame, why } => {
            let tag = match *blame {
                Some(Blame::Part(id)) => routing.part(id).map(|part| part.tag.as_str()),
                Some(Blame::Run(id)) => routing.run(id).map(|run| run.tag.as_str()),
                Some(Blame::Feed(id)) => routing.feed(id).map(|feed| feed.tag.as_str()),
                Some(Blame::Supply) => Some("the pump"),
                None => None,
            };
            let at = tag.map_or_else(String::new, |tag| format!(" at {tag}"));
            format!("the solve failed{at}: {why}")
        }
    }
}

/// Why so few rows are fed, as far as the rows agree, and what to try: sentences without a full stop.
pub(super) fn why_few_are_fed(outcome: &Outcome) -> (String, &'static str) {
    if outcome.numbers().is_none() {
        let used =
            || outcome.connections.iter().map(|row| row.connected).filter(|one| *one != Err(NotFed::LeftOut));
        let advice = if used().next().is_none() {
            "put rows of the bar back in use"
        } else if used().all(|one| one == Err(NotFed::SectionShut)) {
            "open the section valves"
        } else {
            "connect the pump, the manifolds and the rows first"
        };
        return (nothing_fed(outcome).to_owned(), advice);
    }
    let count = |state: fn(RowState) -> bool| outcome.rows().iter().filter(|row| state(row.state)).count();
    let causes = [
        (
            count(|state| matches!(state, RowState::ValveStaysShut | RowState::FlowsBackward)),
            "whose check valves the supply does not open",
            "give the supply more pressure, or fit check valves that open at less",
        ),
        (
            count(|state| state == RowState::NotFed(NotFed::SectionShut)),
            "behind a shut section valve",
            "open the section valves",
        ),
        (
            count(|state| state == RowState::NotFed(NotFed::LeftOut)),
            "left out",
            "put rows of the bar back in use",
        ),
        (
            count(|state| {
                matches!(state, RowState::NotFed(NotFed::NoFeed | NotFed::FeedLoose | NotFed::NoSupply))
            }),
            "not connected to the supply",
            "connect the pump, the manifolds and the rows first",
        ),
    ];
    let told = causes.iter().filter(|(rows, ..)| *rows > 0);
    let told: Vec<String> =
        told.map(|(rows, words, _)| format!("{} {words}", counted(*rows, "row"))).collect();
    // What most rows miss is mended first.
    let most = causes.iter().max_by_key(|(rows, ..)| *rows).map_or("", |(_, _, advice)| *advice);
    (list(&told), most)
}

/// Why nothing flows, as far as the rows agree.
fn nothing_fed(outcome: &Outcome) -> &'static str {
    let used =
        || outcome.connections.iter().map(|row| row.connected).filter(|one| *one != Err(NotFed::LeftOut));
    let shut = Err(NotFed::SectionShut);
    if outcome.connections.is_empty() {
        "the bar has no rows"
    } else if used().next().is_none() {
        "every row is left out"
    } else if used().all(|one| one == shut) {
        "every row is behind a shut section valve"
    } else if used().any(|one| one == shut) {
        "every row is behind a shut section valve or not connected to the supply"
    } else {
        "no row is connected to the supply"
    }
}
