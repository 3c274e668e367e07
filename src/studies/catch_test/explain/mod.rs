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
mod measured;
mod pair;
mod posterior;
mod reasons;
mod size_range;
mod solved;
mod space;
mod third;
mod words;

use std::num::NonZeroUsize;

pub use answer::{
    Candidate, Cause, CauseGroup, CauseId, CauseSize, Explanation, LEAST_ODDS, LookAction, LookOutcome,
    NextLook, Reading, SizeRange, Unexplained,
};
pub use solved::CauseCurves;

use super::readings::TestedRouting;
use crate::hydraulics::faulty::Shown;
use crate::hydraulics::ways::Passed;
use crate::plan::PartItem;
use crate::plan::cause_weights::{CauseKind, CauseWeights};
use crate::quantities::{Measure, Ratio};
use crate::studies::asked::PartOfWait;
use crate::studies::catch_test::prepare::{dial, usual_gauge_sd};
use crate::studies::{NoAnswer, Waiting};
use evidence::Fitted;
use posterior::{Group, Posterior, What, posterior};
use space::SHOWS;

/// Members of a group that are told with all that belongs to them.
const LISTED: usize = 8;
/// What is less likely than this is not listed.
const UNLIKELY: f64 = 5e-4;

/// Rows that change by less than this part show nothing of a liquid.
const HIDDEN: f64 = 0.03;
/// Crusted metering, with the place on its curve at which it is asked whether anything would show: 30 % closed.
const CRUSTED: (CauseKind, usize) = (CauseKind::AllMeteringBlocked, 3);
/// What is wrong with all metering alike.
const OF_ALL_METERING: [CauseKind; 3] =
    [CauseKind::AllMeteringWorn, CauseKind::AllMeteringBlocked, CauseKind::AllMeteringOtherSize];
/// How much of the time causes are solved, and how much of the rest goes to what to look at next.
const SOLVING: f32 = 0.6;
const LOOKING: f32 = 0.4;

/// A cause that nothing that was read shows.
struct Hidden<'c> {
    /// What it would make of the bar.
    then: &'c Shown,
    /// At this size.
    size: CauseSize,
    /// The part at whose pressure it would show best, by its place among the watched ones; none where it would at none.
    best: Option<usize>,
}

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
    let solving = PartOfWait { of: waiting, from: 0.0, share: SOLVING };
    let curves = CauseCurves::solve(&tested.studied, &read, options.threads, &solving)?;
    let weighing = PartOfWait { of: waiting, from: SOLVING, share: 1.0 - SOLVING };
    curves.explain(tested, weights, &weighing)
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
        let part = |from, share| PartOfWait { of: waiting, from, share };
        let readings = (tested.rows.as_slice(), tested.gauges.as_slice(), tested.supply_sd);
        let found = posterior(self, readings, weights, &part(0.0, 1.0 - LOOKING))?;
        let mut solver = self.solver.clone();
        let mut groups = Vec::new();
        // None of these is always told: it is one of all that is possible.
        let is_told = |group: &&Group| {
            group.odds >= UNLIKELY || group.items.iter().any(|item| item.what == What::NoneOfThese)
        };
        for group in found.groups.iter().filter(is_told) {
            let holds_scatter = group.items.iter().any(|item| item.what == What::Scatter);
            let (mut members, mut unlisted, mut unexplained) = (Vec::new(), Vec::new(), Vec::new());
            for (at, item) in group.items.iter().enumerate() {
                let is_likely = at == 0 || (at < LISTED && item.odds >= UNLIKELY.max(0.002 * group.odds));
                let shown = is_likely.then(|| {
                    let shown = self.shown_of(&mut solver, &found.effect(item.what));
                    shown.unwrap_or_else(|| self.sound.clone())
                });
                // Beside nothing but scatter, what would change nothing is no change that is worth a word.
                let is_scatter = item.what == What::Scatter;
                match shown.filter(|shown| {
                    is_scatter || !holds_scatter || found.space.is_shown(&found.space.raw(shown))
                }) {
                    Some(shown) => {
                        if members.is_empty() && item.what != What::NoneOfThese {
                            unexplained = self.unexplained(tested, &found, &shown);
                        }
                        members.push(self.candidate(tested, &found, item, &shown));
                    }
                    None => unlisted.push(found.ids(item.what).into_iter().cloned().collect()),
                }
            }
            groups.push(CauseGroup { odds: group.odds.min(1.0), members, unlisted, unexplained });
        }
        let of_members = groups.iter().flat_map(|group: &CauseGroup| &group.members);
        let mut causes = of_members.flat_map(|one| std::iter::once(&one.cause).chain(&one.and));
        let has_range = causes.any(|cause| cause.range.is_some());
        let mut next = look::next_looks(self, &found, &part(1.0 - LOOKING, LOOKING))?;
        if next.is_empty() && groups.first().is_some_and(CauseGroup::holds_scatter) {
            next.extend(self.unread_gauge(tested, &found));
        }
        Ok(Explanation {
            groups,
            next,
            scatter: Ratio::from_si(found.scatter),
            cautions: self.cautions(tested, &found, has_range),
        })
    }

    /// A cause of the whole bar that neither rows nor gauges show here, at a size; none where something shows it: a controller
    /// that keeps the total hides it.
    fn hidden(&self, found: &Posterior<'_>, (kind, place): (CauseKind, usize)) -> Option<Hidden<'_>> {
        let solved = self.curves.iter().find(|one| one.curve.id.kind == kind)?;
        let place = place.min(solved.shown.len().checked_sub(1)?);
        let (then, place) = (&solved.shown[place], &solved.curve.places[place]);
        let rows = then.rows.iter().zip(&self.sound.rows).filter(|one| *one.1 > 0.0);
        let most = rows.map(|(then, sound)| (then / sound - 1.0).abs()).fold(0.0, f64::max);
        if most > HIDDEN {
            return None;
        }
        let change = |at: &usize| (then.parts[*at] - self.sound.parts[*at]).abs();
        let space = &found.space;
        let mut read = space.gauges.iter().enumerate();
        if read.any(|(at, place)| space.spreads(space.rows.len() + at, change(place)) >= SHOWS) {
            return None;
        }
        let all = (0..self.watched.len()).filter(|at| !space.gauges.contains(at));
        // Nor does it help where a gauge that is screwed on there reads no better than that.
        let read_sd = |at: &usize| {
            let part = self.of.routing.routing.part(self.watched[*at]);
            usual_gauge_sd(self.of.project, part.and_then(|part| dial(self.of.project, part))).si()
        };
        let noticed = all.filter(|at| change(at) >= words::NOTICED_PA.max(posterior::APART * read_sd(at)));
        // Where a gauge stands nobody has to screw one on.
        let best = noticed.max_by(|a, b| {
            let of = |at: &usize| (self.is_gauge(*at), change(at));
            of(a).0.cmp(&of(b).0).then(of(a).1.total_cmp(&of(b).1))
        });
        Some(Hidden { then, size: solved.curve.size(*place), best })
    }

    /// A gauge stands at one of the watched parts.
    pub(super) fn is_gauge(&self, at: usize) -> bool {
        let part = self.of.routing.routing.part(self.watched[at]);
        let item = part.and_then(|part| self.of.project.catalogue.item(&part.entry));
        matches!(item, Some(PartItem::Gauge(_)))
    }

    /// What a cause of the whole bar would show, where rows hardly do.
    fn unseen(&self, found: &Posterior<'_>, cause: (CauseKind, usize), with: &str) -> Option<String> {
        let Hidden { then, size, best } = self.hidden(found, cause)?;
        let units = self.of.project.units;
        let size = match size {
            CauseSize::Times(times) => {
                format!("with a liquid {} times as thick", Measure::Plain.short_number(times.si(), units))
            }
            size => format!("with {}", size.words(units, |key| key.0.clone())),
        };
        let hidden = format!("what the rows give hardly changes with {with} here");
        Some(match best {
            Some(at) => format!(
                "{hidden}; a pressure would show it: {} {} ({} as expected, {} {size})",
                if self.is_gauge(at) { "read" } else { "fit a gauge at" },
                self.of.tag(Passed::Part(self.watched[at])),
                Measure::Pressure.text(self.sound.parts[at], units),
                Measure::Pressure.text(then.parts[at], units),
            ),
            None => {
                format!("{hidden}, and no gauge as usual on machines would show it at a gauge port either")
            }
        })
    }

    /// A gauge of the drawing that nobody has read, where it alone would show metering that is off as a whole: such a bar looks
    /// sound, and by its odds no look would be worth the way.
    fn unread_gauge(&self, tested: &TestedRouting<'_>, found: &Posterior<'_>) -> Option<NextLook> {
        if !tested.gauges.is_empty() {
            return None;
        }
        let Hidden { then, best, .. } = self.hidden(found, CRUSTED)?;
        let at = best.filter(|at| self.is_gauge(*at))?;
        let is_of_all = |what: What| found.ids(what).iter().any(|id| OF_ALL_METERING.contains(&id.kind));
        let items = found.groups.iter().flat_map(|group| &group.items);
        let odds: f64 = items.filter(|item| is_of_all(item.what)).map(|item| item.odds).sum();
        let odds = odds.clamp(0.0, 1.0);
        let (part, units) = (self.watched[at], self.of.project.units);
        let tag = self.of.tag(Passed::Part(part));
        let shows = |shown: &Shown| Measure::Pressure.text(shown.parts[at], units);
        let bits = |odds: f64| if odds > 0.0 { -odds * odds.log2() } else { 0.0 };
        Some(NextLook {
            action: LookAction::ReadPressure(part),
            what: format!(
                "read the pressure at {tag}: a pressure alone would show metering that is off as a whole"
            ),
            gain_bits: bits(odds) + bits(1.0 - odds),
            outcomes: vec![
                LookOutcome {
                    seen: format!("{tag} shows {}", shows(&self.sound)),
                    means: "no metering that is off as a whole".to_owned(),
                    odds: 1.0 - odds,
                },
                LookOutcome {
                    seen: format!("{tag} shows another, {} where metering is crusted", shows(then)),
                    means: "metering that is off as a whole: worn, crusted or of another size".to_owned(),
                    odds,
                },
            ],
        })
    }

    fn cautions(&self, tested: &TestedRouting<'_>, found: &Posterior<'_>, has_range: bool) -> Vec<String> {
        let mut all = vec![
            "the odds follow from the weights of causes, which are common practice, and from the scatter that is assumed"
                .to_owned(),
        ];
        let percent = Measure::Percent.short_text(tested.supply_sd, self.of.project.units);
        all.push(format!(
            "the supply is taken to give what it is asked for within {percent} (standard deviation, as the test says): less than \
             twice that is no fault"
        ));
        if has_range {
            all.push(
                "in brackets behind a size stands the range that the readings leave it at 95 %, if that is the cause: by the \
                 spreads of jug, watch, gauges, supply and parts, which are assumed unless somebody measured them"
                    .to_owned(),
            );
        }
        if tested.gauges.is_empty() {
            all.push("without a gauge reading, what changes pressures alone does not show".to_owned());
        }
        all.extend(self.unseen(found, (CauseKind::LiquidThicker, usize::MAX), "the liquid's viscosity"));
        let metering = "how worn or crusted all metering alike is";
        all.extend(self.unseen(found, CRUSTED, metering));
        all.extend(self.of.liquid_cautions());
        all
    }

    fn candidate(
        &self,
        tested: &TestedRouting<'_>,
        found: &Posterior<'_>,
        item: &posterior::Item,
        shown: &Shown,
    ) -> Candidate {
        let of = &self.of;
        let cause = |fitted: &Fitted, beside: Option<&Fitted>| {
            let curve = &found.curve(fitted).curve;
            let size = curve.size(found.place(fitted));
            let best_of = |fitted: &Fitted| (found.curve(fitted), fitted.best);
            let range = size_range::sizes(&found.space, best_of(fitted), beside.map(best_of), shown).range();
            let within = range
                .as_ref()
                .map_or_else(String::new, |range| format!(" ({})", range.words(of.project.units)));
            (
                format!("{}{within}", words::what(of, &curve.id, &size)),
                Cause {
                    kind: curve.id.kind,
                    rows: curve.id.rows.clone(),
                    places: curve.id.places.clone(),
                    size,
                    range,
                },
            )
        };
        let whole = |kind: CauseKind| {
            let cause =
                Cause { kind, rows: Vec::new(), places: Vec::new(), size: CauseSize::None, range: None };
            (kind.words().to_owned(), cause)
        };
        let (first, second) = match item.what {
            What::Scatter => (whole(CauseKind::ScatterOnly), None),
            What::NoneOfThese => (whole(CauseKind::NoneOfThese), None),
            What::One(one) => (cause(&one, None), None),
            What::Two(one, other) => (cause(&one, Some(&other)), Some(cause(&other, Some(&one)))),
        };
        let ids = found.ids(item.what);
        let watched: Vec<(crate::plan::PartId, bool)> = self
            .watched
            .iter()
            .enumerate()
            .map(|(at, part)| (*part, found.space.gauges.contains(&at)))
            .collect();
        let mut to_do: Vec<&str> =
            std::iter::once(&first).chain(&second).map(|one| words::to_do(one.1.kind)).collect();
        to_do.dedup();
        let what = match &second {
            Some(second) => format!("{}; and {}", first.0, second.0),
            None => first.0,
        };
        Candidate {
            odds: item.odds.min(1.0),
            what,
            why: self.why(tested, found, item.what, shown),
            then_also: match item.what {
                What::Scatter | What::NoneOfThese => "nothing that can be named".to_owned(),
                _ => words::then_also(of, &ids, &self.sound, shown, &watched),
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
}
