//! Choosing the metering: every orifice and every metering-tube stock of the catalogue in all rows of a routing, solved
//! from the slowest to the fastest speed of every duty and held against the limits of the project; and the bores of hoses
//! and tubes that keep them.
//!
//! [`candidates`] says what each entry means for rows that get unequal amounts, [`tube_length`] what a metering tube is cut
//! to; [`bench`] tries one in all rows, [`pick`] chooses, [`bores`] sizes hoses and tubes; [`report()`] words it all.

mod answer;
mod bench;
mod bores;
mod candidates;
mod choice;
mod fitted;
mod ground;
mod pick;
mod report;
mod tables;
mod tube_length;
mod why_not;
mod words;

use super::asked::{NoAnswer, Studied, Waiting, too_few_fed};
use super::trial::{Requirement, points, prepared};
use crate::plan::{ElementKind, Metering, Routing, RoutingGeometry, RowId, StockKey};
use crate::quantities::Pressure;

pub use bores::with_stock;
pub use choice::{
    AtTemperature, BoreChoice, BoreTrial, CUT_ERROR, ChoiceAtDuty, MeteringChoice, MeteringOptions,
    MeteringStudy, TEMPERATURE_STEP, TwoSets, ValveChoice,
};
pub use report::{action, report};

pub(super) use candidates::most_common;
pub(super) use fitted::{fit, metering_elements};

use candidates::Candidate;
use fitted::uniform_valve;
use ground::Ground;
use pick::{nearest, recommended, two_sets};

/// Weighs the metering of the catalogue on a routing.
///
/// # Errors
/// Speeds or rate of a duty that make no range, a catalogue without metering, a routing that feeds no row, a pressure that
/// is not above zero, and where nobody waits any more.
pub fn study(
    of: &Studied,
    options: &MeteringOptions,
    waiting: &dyn Waiting,
) -> Result<MeteringStudy, NoAnswer> {
    let points = points(of)?;
    if options.pressure.is_some_and(|one| !one.is_finite() || one <= Pressure::ZERO) {
        return Err(NoAnswer::impossible("a metering can't take no pressure", "give a pressure above 0"));
    }
    let project = of.project;
    let routing = of.routing.routing;
    let candidates = candidates::all(of, &points)?;
    if candidates.is_empty() {
        return Err(NoAnswer::impossible(
            "the catalogue has no metering orifice and no metering tube",
            "add one, or bring entries in from another catalogue",
        ));
    }
    let now = prepared(project, routing, |network| network.solve(&points[0][1]));
    let rows = now.rows_in_total();
    if rows.rows == 0 {
        return Err(too_few_fed(of, "no row is fed by this routing", &now));
    }
    let bench = Ground::new(of, &points, options);
    let steps = 2 * candidates.len() + 3;
    let mut choices = Vec::new();
    for (done, candidate) in candidates.iter().enumerate() {
        heard(waiting, done, steps)?;
        choices.extend(bench.choice(candidate.clone()));
    }
    let feeds_a_row = |choice: &MeteringChoice| choice.judged().any(|one| one.rows.rows > 0);
    if !choices.iter().any(feeds_a_row) {
        return Err(NoAnswer::impossible(
            "no metering of the catalogue lets liquid through to a row: the supply does not open the check valves, at no \
             speed",
            "give the supply more pressure, or add a check valve that opens at less",
        ));
    }
    heard(waiting, candidates.len(), steps)?;
    let fitted: Vec<(RowId, Metering)> =
        project.bar.rows.iter().filter_map(|row| Some((row.id, routing.metering_of(row.id)?))).collect();
    let fitted_valves = uniform_valve(routing);
    let is_fitted = |choice: &MeteringChoice| {
        let valves = choice.valve.as_ref().is_none_or(|valve| fitted_valves.as_ref() == Some(&valve.entry));
        choice.by_row == fitted && valves
    };
    match choices.iter_mut().find(|choice| is_fitted(choice)) {
        Some(choice) => choice.in_use = true,
        None => choices.extend(bench.as_fitted(fitted)),
    }
    let recommended = recommended(project, &choices);
    let two_sets = if recommended.is_some() { None } else { two_sets(project, &choices) };
    let nearest = if recommended.is_some() { None } else { nearest(project, &choices) };
    let best = recommended
        .or(nearest)
        .and_then(|place| choices.get(place))
        .map_or_else(|| routing.clone(), |choice| with_choice(routing, choice));
    let mut bores = bores::bores(&bench, best, waiting)?;
    let mut with_wider = None;
    let wants_wider = nearest.and_then(|place| choices.get(place)).is_some_and(|choice| {
        let all_connected_are_fed = choice.judged().all(|one| one.rows.rows >= rows.rows);
        let some_wider = bores.iter().any(|one| one.least.bore > one.now.bore);
        let keep = bores.iter().all(|one| one.least.keeps);
        let limits: Vec<Requirement> =
            choice.broken.iter().copied().filter(|requirement| *requirement != Requirement::Margin).collect();
        limits == [Requirement::Rows] && all_connected_are_fed && some_wider && keep
    });
    if wants_wider {
        // Chosen anew, check valves too: what takes too little pressure with narrow hoses may suit wide ones. The bores then
        // have to be those of what is chosen, until they stay as they are.
        let mut sized = bores.clone();
        for round in 0..MOST_ROUNDS {
            let wide = bores::widened(&project.catalogue, routing, &sized);
            let geometry = RoutingGeometry::working(project, &wide);
            let of = Studied { routing: geometry.with(&wide), ..*of };
            let ground = Ground::new(&of, &points, options);
            let first = candidates.len();
            let mut all = Vec::new();
            for (done, candidate) in candidates.iter().enumerate() {
                heard(waiting, if round == 0 { first + done } else { steps - 1 }, steps)?;
                all.extend(ground.choice(candidate.clone()));
            }
            let Some(then) = pick::recommended(project, &all).map(|place| all.swap_remove(place)) else {
                break;
            };
            let own = bores::bores(&bench, with_choice(routing, &then), waiting)?;
            if !own.iter().all(|one| one.least.keeps) {
                break;
            }
            let settled = bores::widened(&project.catalogue, routing, &own) == wide;
            sized = own;
            if settled {
                (bores, with_wider) = (sized, Some(then));
                break;
            }
        }
    }
    heard(waiting, steps, steps)?;
    Ok(MeteringStudy { choices, recommended, two_sets, nearest, bores, with_wider, rows, options: *options })
}

/// How often hoses are made wider and the metering chosen anew with them at most.
const MOST_ROUNDS: usize = 4;

/// The routing with the metering and the check valves of a choice.
fn with_choice(routing: &Routing, choice: &MeteringChoice) -> Routing {
    let mut next = routing.clone();
    fit(&mut next, &choice.by_row);
    if let Some(valve) = &choice.valve {
        next.feeds.iter_mut().for_each(|feed| feed.put_piece(ElementKind::CheckValve, &valve.entry));
    }
    next
}

fn heard(waiting: &dyn Waiting, done: usize, of: usize) -> Result<(), NoAnswer> {
    if waiting.has_stopped() {
        return Err(NoAnswer::Stopped);
    }
    waiting.so_far(done as f32 / of.max(1) as f32);
    Ok(())
}

/// The metering of each row with tubes of a stock, cut as this study cuts them unless it is told a pressure.
pub(super) fn tube_rows(of: &Studied, stock: &StockKey) -> Result<Vec<(RowId, Metering)>, NoAnswer> {
    let points = points(of)?;
    let candidates = candidates::all(of, &points)?;
    let tube = candidates.into_iter().find_map(|one| match one {
        Candidate::Tube(tube) if tube.key == *stock => Some(tube),
        Candidate::Tube(_) | Candidate::Rows(_) => None,
    });
    let Some(tube) = tube else {
        return Err(NoAnswer::impossible(
            format!("{stock} is no metering tube of the catalogue"),
            "name one that is, by its key",
        ));
    };
    let bench = Ground::new(of, &points, &MeteringOptions::default());
    Ok(tube_length::cut(&bench, &mut of.routing.routing.clone(), &tube).0)
}
