//! What a metering tube is cut to.
//!
//! Longer tubes take more pressure: rows are more even and the check valves' scatter shows less, until the supply can't push
//! what is asked. The shortest that does and the longest that goes are looked for on the routing itself, in steps of what
//! tubes are cut to; unless a pressure was asked for, the cut is their geometric mean, so that both have the same to spare.

use super::super::trial::{Judge, Judged, Requirement, prepared};
use super::candidates::TubeCandidate;
use super::fitted::{fit, metering_elements};
use super::ground::Ground;
use crate::hydraulics::PreparedRouting;
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::{ElementId, Parameter};
use crate::plan::{Metering, OperatingPoint, Routing, RowId};
use crate::quantities::{Length, Pressure, Ratio};

/// Shorter than so many bores it is an orifice rather than a tube (common practice, no source).
const SHORTEST_IN_BORES: f64 = 50.0;
/// The longest that anyone winds up beside an opener, metres (common practice, no source).
const LONGEST: f64 = 10.0;

/// What each row gets, and the shortest and longest length that do.
pub(super) type Cut = (Vec<(RowId, Metering)>, Option<(Length, Length)>);

/// What each row gets, and the shortest and longest length that do for rows of the most common target, where there are any.
pub(super) fn cut(ground: &Ground, routing: &mut Routing, tube: &TubeCandidate) -> Cut {
    let project = ground.project();
    let step = project.limits.cut_step;
    let least = ((tube.stock.bore.si() * SHORTEST_IN_BORES / step.si()).ceil()).max(1.0);
    let most = (LONGEST / step.si()).floor().max(least);
    let start = tube.rows_at(Length::from_si(most * step.si()), step);
    fit(routing, &start);
    let judge = Judge::new(project, routing, ground.bound.as_ref());
    let (chosen, window) = prepared(project, routing, |network| {
        let outcome = network.solve(&ground.points[0][1]);
        let elements = metering_elements(routing, &outcome);
        let mut trial = Trial { ground, tube, network, elements, judge: &judge, step };
        let controlled = project.supply.follows_speed();
        let even = first_from(least, most, |steps| trial.is_even(steps));
        // The margin below what bounds the pressure too, where a length has it that keeps the rows even.
        let with_margin = even.and_then(|even| {
            last_to(least, most, |steps| trial.is_pushed(steps, true)).filter(|to| even <= *to)
        });
        let pushed = with_margin.or_else(|| last_to(least, most, |steps| trial.is_pushed(steps, false)));
        // Where nothing meters the flow, another length is another flow.
        let window = even.zip(pushed).filter(|(even, pushed)| controlled && even <= pushed);
        let chosen = match ground.options.pressure {
            Some(pressure) => first_from(least, most, |steps| trial.takes(steps) >= pressure).unwrap_or(most),
            // Where nothing meters the flow there is one length that gives the usual speed its target.
            None if !controlled => {
                first_from(least, most, |steps| trial.gives_too_little(steps)).unwrap_or(most)
            }
            None => match window {
                Some((even, pushed)) => (even * pushed).sqrt().round(),
                None => pushed.unwrap_or(least),
            },
        };
        (chosen, window)
    });
    let length = |steps: f64| Length::from_si(steps * step.si());
    (tube.rows_at(length(chosen), step), window.map(|(even, pushed)| (length(even), length(pushed))))
}

/// The first of a row of numbers for which something holds that holds from there on; none where it never does.
fn first_from(least: f64, most: f64, mut holds: impl FnMut(f64) -> bool) -> Option<f64> {
    if holds(least) {
        return Some(least);
    }
    if !holds(most) {
        return None;
    }
    let (mut not, mut yes) = (least, most);
    while yes - not > 1.0 {
        let middle = (not * yes).sqrt().round().clamp(not + 1.0, yes - 1.0);
        if holds(middle) { yes = middle } else { not = middle }
    }
    Some(yes)
}

/// The last of a row of numbers for which something holds that holds up to there; none where it never does.
fn last_to(least: f64, most: f64, mut holds: impl FnMut(f64) -> bool) -> Option<f64> {
    match first_from(least, most, |steps| !holds(steps)) {
        None => Some(most),
        Some(first) => (first > least).then_some(first - 1.0),
    }
}

struct Trial<'a, 'b, 'c> {
    ground: &'a Ground<'a>,
    tube: &'a TubeCandidate,
    network: &'b mut PreparedRouting<'c>,
    elements: Vec<(RowId, ElementId)>,
    judge: &'a Judge<'a>,
    step: Length,
}

impl Trial<'_, '_, '_> {
    fn judged(&mut self, steps: f64, point: &OperatingPoint) -> Judged {
        let rows = self.tube.rows_at(Length::from_si(steps * self.step.si()), self.step);
        for (row, element) in &self.elements {
            let wanted = rows.iter().find(|one| one.0 == *row).and_then(|one| one.1.length());
            if let Some(length) = wanted {
                // A length above 0 of an element that the outcome names is always taken.
                let _ = self.network.set(Parameter::Element(*element, VariedQuantity::Length), length.si());
            }
        }
        self.judge.of(&self.network.solve(point))
    }

    /// Drowns the scatter of the check valves and keeps rows within the limit of a design about their mean, at every speed:
    /// the slowest decides of the one, any of the other.
    fn is_even(&mut self, steps: f64) -> bool {
        let limit = self.ground.project().limits.design_deviation;
        self.ground.points.iter().flatten().all(|point| {
            let judged = self.judged(steps, point);
            let even = judged.spread.is_some_and(|spread| spread <= limit);
            even && !judged.broken.contains(&Requirement::Scatter)
        })
    }

    /// The supply gives what is asked at the fastest speed, and has its margin there where that is wanted.
    fn is_pushed(&mut self, steps: f64, with_margin: bool) -> bool {
        self.ground.points.iter().all(|[_, _, fastest]| {
            let broken = self.judged(steps, fastest).broken;
            let lacks_margin = with_margin && broken.contains(&Requirement::Margin);
            !(broken.contains(&Requirement::Pressure) || lacks_margin)
        })
    }

    /// What it takes at the usual speed at least.
    fn takes(&mut self, steps: f64) -> Pressure {
        let usual = self.ground.points[0][1];
        self.judged(steps, &usual).metering.map_or(Pressure::ZERO, |(least, _)| least)
    }

    fn gives_too_little(&mut self, steps: f64) -> bool {
        let usual = self.ground.points[0][1];
        self.judged(steps, &usual).mean.is_none_or(|mean| mean <= Ratio::ZERO)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_of_a_range_of_lengths_are_found_to_the_step() {
        assert_eq!(first_from(15.0, 2000.0, |steps| steps >= 137.0), Some(137.0));
        assert_eq!(first_from(15.0, 2000.0, |steps| steps >= 10.0), Some(15.0));
        assert_eq!(first_from(15.0, 2000.0, |_| false), None);
        assert_eq!(last_to(15.0, 2000.0, |steps| steps <= 1999.0), Some(1999.0));
        assert_eq!(last_to(15.0, 2000.0, |steps| steps <= 15.0), Some(15.0));
        assert_eq!(last_to(15.0, 2000.0, |steps| steps <= 14.0), None);
        assert_eq!(last_to(15.0, 2000.0, |_| true), Some(2000.0));
    }
}
