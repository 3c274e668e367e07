//! What explains a catch test, and what to look at next.
//!
//! Every cause is a change of the network or of what was written down, by one number: a [`curve`] that the engine solves at some
//! sizes ([`solved`]). In a [`space`] of readings in which scatter is alike everywhere, [`evidence`] integrates the likelihood
//! along it, and [`posterior`] makes odds and groups of it. [`look`] weighs measurements by what they would tell. Never here:
//! whether the test is good enough (`judged`), or a change to a plan. Start reading at [`explain`], then [`causes`].

mod answer;
mod causes;
mod curve;
mod evidence;
pub mod invented;
mod look;
mod posterior;
mod solved;
mod space;
mod words;

use std::num::NonZeroUsize;

pub use answer::{
    Candidate, Cause, CauseGroup, CauseId, CauseSize, Explanation, LookAction, LookOutcome, NextLook,
};
pub use solved::CauseCurves;

use super::readings::TestedRouting;
use crate::hydraulics::faulty::Shown;
use crate::plan::cause_weights::{CauseKind, CauseWeights};
use crate::plan::words::list;
use crate::quantities::{Measure, Ratio};
use crate::studies::{NoAnswer, Waiting};
use posterior::{Posterior, What, posterior};

/// Members of a group that are told with all that belongs to them.
const LISTED: usize = 8;
/// What is less likely than this is not listed.
const UNLIKELY: f64 = 5e-4;
/// Readings that a reason names.
const REASONS: usize = 2;

/// What can be chosen.
#[derive(Debug, Clone, Copy, Default)]
pub struct ExplainOptions {
    /// How many threads; as many as the machine has cores without it. The answer is the same.
    pub threads: Option<NonZeroUsize>,
}

/// Explains a catch test.
///
/// # Errors
/// Where the routing has no numbers under the conditions of the test, where fewer than three rows were caught, or where whoever
/// waits stops it.
pub fn explain(
    tested: &TestedRouting<'_>,
    weights: &CauseWeights,
    options: &ExplainOptions,
    waiting: &dyn Waiting,
) -> Result<Explanation, NoAnswer> {
    let read: Vec<crate::plan::PartId> = tested.gauges.iter().map(|one| one.part).collect();
    let curves = CauseCurves::solve(&tested.studied, &read, options.threads, waiting)?;
    curves.explain(tested, weights, waiting)
}

impl CauseCurves<'_> {
    /// Explains a test of the bar that these are of, under the same conditions.
    ///
    /// # Errors
    /// As [`explain`].
    pub fn explain(
        &self,
        tested: &TestedRouting<'_>,
        weights: &CauseWeights,
        waiting: &dyn Waiting,
    ) -> Result<Explanation, NoAnswer> {
        let found = posterior(self, (&tested.rows, &tested.gauges, tested.supply_sd), weights, waiting)?;
        let mut solver = self.solver.clone();
        let mut groups = Vec::new();
        for group in found.groups.iter().filter(|group| group.odds >= UNLIKELY) {
            let listed = group.items.iter().enumerate().filter(|(at, one)| {
                *at == 0 || (*at < LISTED && one.odds >= UNLIKELY.max(0.002 * group.odds))
            });
            let listed: Vec<usize> = listed.map(|one| one.0).collect();
            let members: Vec<Candidate> = listed
                .iter()
                .map(|at| self.candidate(tested, &found, &group.items[*at], &mut solver))
                .collect();
            let rest = group.items.iter().enumerate().filter(|(at, _)| !listed.contains(at));
            let ids = |what| found.ids(what).into_iter().cloned().collect();
            let unlisted = rest.map(|(_, item)| ids(item.what)).collect();
            groups.push(CauseGroup { odds: group.odds.min(1.0), members, unlisted });
        }
        Ok(Explanation {
            groups,
            next: look::next_looks(self, &found, waiting)?,
            scatter: Ratio::from_si(found.scatter),
            cautions: self.cautions(tested),
        })
    }

    fn cautions(&self, tested: &TestedRouting<'_>) -> Vec<String> {
        let mut all = vec![
            "the odds follow from the weights of causes, which are common practice, and from the scatter that is assumed"
                .to_owned(),
        ];
        let percent = Measure::Percent.short_text(tested.supply_sd, self.of.project.units);
        all.push(format!(
            "the supply is taken to give what it is asked for within {percent} (standard deviation, as the test says): less than \
             twice that is no fault"
        ));
        if tested.gauges.is_empty() {
            all.push("without a gauge reading, what changes pressures alone does not show".to_owned());
        }
        all.extend(self.of.liquid_cautions());
        all
    }

    fn candidate(
        &self,
        tested: &TestedRouting<'_>,
        found: &Posterior<'_>,
        item: &posterior::Item,
        solver: &mut crate::hydraulics::faulty::FaultSolver<'_>,
    ) -> Candidate {
        let of = &self.of;
        let cause = |fitted: &posterior::Fitted| {
            let curve = &found.curve(fitted).curve;
            let size = curve.size(found.place(fitted));
            (
                words::what(of, &curve.id, &size),
                Cause {
                    kind: curve.id.kind,
                    rows: curve.id.rows.clone(),
                    places: curve.id.places.clone(),
                    size,
                },
            )
        };
        let whole = |kind: CauseKind| {
            let cause = Cause { kind, rows: Vec::new(), places: Vec::new(), size: CauseSize::None };
            (kind.words().to_owned(), cause)
        };
        let (first, second) = match item.what {
            What::Scatter => (whole(CauseKind::ScatterOnly), None),
            What::NoneOfThese => (whole(CauseKind::NoneOfThese), None),
            What::One(one) => (cause(&one), None),
            What::Two(one, other) => (cause(&one), Some(cause(&other))),
        };
        let effect = found.effect(item.what);
        let shown = self.shown_of(solver, &effect).unwrap_or_else(|| self.sound.clone());
        let ids = found.ids(item.what);
        let watched: Vec<(crate::plan::PartId, bool)> = self
            .watched
            .iter()
            .enumerate()
            .map(|(at, part)| (*part, found.space.gauges.contains(&at)))
            .collect();
        let to_do: Vec<String> =
            std::iter::once(&first).chain(&second).map(|one| words::to_do(one.1.kind).to_owned()).collect();
        let what = match &second {
            Some(second) => format!("{}; and {}", first.0, second.0),
            None => first.0,
        };
        Candidate {
            odds: item.odds.min(1.0),
            what,
            why: self.why(tested, found, item.what, &shown),
            then_also: match item.what {
                What::Scatter | What::NoneOfThese => "nothing that can be named".to_owned(),
                _ => words::then_also(of, &ids, &self.sound, &shown, &watched),
            },
            to_do: to_do.join("; then "),
            rows_then: found
                .space
                .rows
                .iter()
                .map(|place| {
                    (of.project.bar.rows[*place].id, crate::quantities::Flow::from_si(shown.rows[*place]))
                })
                .collect(),
            cause: first.1,
            and: second.map(|one| one.1),
        }
    }

    /// The readings that it changes most, as they were read and as it makes them.
    fn why(&self, tested: &TestedRouting<'_>, found: &Posterior<'_>, what: What, shown: &Shown) -> String {
        let space = &found.space;
        let units = self.of.project.units;
        let all = space.raw_data.len();
        let spread = |at: usize| (space.by_parts[(at, at)] + space.by_reading[at]).sqrt();
        let farthest = (0..all).map(|at| (space.raw_data[at] / spread(at)).abs()).fold(0.0, f64::max);
        match what {
            What::Scatter => {
                return format!(
                    "none of {all} readings is farther off than {} spreads of catching and of parts as sold",
                    Measure::Plain.short_number((farthest * 10.0).ceil() / 10.0, units)
                );
            }
            What::NoneOfThese => {
                return "readings are off in a way that no cause on the list makes".to_owned();
            }
            What::One(_) | What::Two(..) => {}
        }
        let change = space.raw(shown);
        let mut order: Vec<usize> = (0..all).collect();
        let size = |at: usize| (change[at] / spread(at)).abs();
        order.sort_by(|a, b| size(*b).total_cmp(&size(*a)));
        let words = |at: usize| {
            if let Some(place) = space.rows.get(at) {
                let expected = self.sound.rows[*place];
                let caught = tested
                    .rows
                    .iter()
                    .find(|row| row.row == self.of.project.bar.rows[*place].id)
                    .map_or(0.0, |row| row.flow().si());
                let number = self.of.project.bar.rows[*place].number;
                if expected <= 0.0 {
                    return format!(
                        "row {number} gave {}, where nothing is expected",
                        Measure::RowFlow.short_text(caught, units)
                    );
                }
                let percent = |flow: f64| Measure::Percent.short_text(flow / expected, units);
                format!(
                    "row {number} gave {} of what is expected, this makes it {}",
                    percent(caught),
                    percent(shown.rows[*place])
                )
            } else {
                let place = space.gauges[at - space.rows.len()];
                let pressure = |pressure: f64| Measure::Pressure.text(pressure, units);
                let read = space.raw_data[at] + space.base()[at];
                format!(
                    "{} showed {} where {} is expected, this makes it {}",
                    self.of.tag(crate::hydraulics::ways::Passed::Part(self.watched[place])),
                    pressure(read),
                    pressure(self.sound.parts[place]),
                    pressure(shown.parts[place])
                )
            }
        };
        let named: Vec<String> =
            order.iter().filter(|at| size(**at) >= 0.5).take(REASONS).map(|at| words(*at)).collect();
        if named.is_empty() {
            return "it would change no reading by as much as half a spread, so that the test says nothing of it"
                .to_owned();
        }
        list(&named)
    }
}
