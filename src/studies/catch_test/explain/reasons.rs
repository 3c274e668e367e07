//! What in the readings speaks for an explanation, and what it leaves.

use std::fmt::Write as _;

use nalgebra::DVector;

use super::answer::{Reading, Unexplained, in_a_line};
use super::evidence::Fitted;
use super::posterior::{Posterior, What};
use super::solved::CauseCurves;
use super::space::SHOWS;
use super::words;
use crate::hydraulics::faulty::Shown;
use crate::hydraulics::losses::reynolds::{LAMINAR_END, TURBULENT_START};
use crate::hydraulics::ways::Passed;
use crate::plan::RowId;
use crate::plan::cause_weights::CauseKind;
use crate::quantities::Measure;
use crate::studies::catch_test::expectation::{Beside, Expectation, Of};
use crate::studies::catch_test::readings::{RowReading, TestedRouting};

/// Readings that a reason names.
const REASONS: usize = 2;
/// What is wrong for so many rows and more is told by how they came on average.
const MANY: usize = 3;
/// A reading more spreads than this from what an explanation makes of it is not explained by it.
const LEFT: f64 = 3.0;
/// A row of which an explanation makes less than this part of what is expected gives next to nothing then.
const AS_NOTHING: f64 = 0.02;

impl CauseCurves<'_> {
    /// The readings by which it gains most over a sound bar, as they were read and as it makes them.
    pub(super) fn why(
        &self,
        tested: &TestedRouting<'_>,
        found: &Posterior<'_>,
        what: What,
        shown: &Shown,
    ) -> String {
        let space = &found.space;
        let units = self.of.project.units;
        let all = space.raw_data.len();
        match what {
            What::Scatter => return self.why_scatter(tested, found),
            What::NoneOfThese => return self.why_none(tested, found),
            What::One(_) | What::Two(..) => {}
        }
        let change = space.raw(shown);
        let mut order: Vec<usize> = (0..all).collect();
        let size = |at: usize| space.spreads(at, change[at]);
        // By how much it meets a reading better than a sound bar does.
        let gain = |at: usize| {
            let off = |off: f64| space.spreads(at, off).powi(2);
            off(space.raw_data[at]) - off(space.raw_data[at] - change[at])
        };
        order.sort_by(|a, b| gain(*b).total_cmp(&gain(*a)));
        let in_words = |at: usize| {
            if let Some(place) = space.rows.get(at) {
                let expected = self.sound.rows[*place];
                let row = &self.of.project.bar.rows[*place];
                let (number, caught) = (row.number, tested.caught(row.id).si());
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
                    self.of.tag(Passed::Part(self.watched[place])),
                    pressure(read),
                    pressure(self.sound.parts[place]),
                    pressure(shown.parts[place])
                )
            }
        };
        let mut named: Vec<String> = self.means(tested, found, what, shown);
        let single = if named.is_empty() { REASONS } else { 1 };
        let telling = order.iter().filter(|at| size(**at) >= SHOWS && gain(**at) > 0.0);
        named.extend(telling.take(single).map(|at| in_words(*at)));
        if !named.is_empty() {
            return named
                .into_iter()
                .chain(self.either_way(found, what, &change))
                .collect::<Vec<_>>()
                .join("; ");
        }
        if space.is_shown(&change) {
            return "no reading by itself is met better than by a sound bar; how the readings differ from each other speaks for it".to_owned();
        }
        "it would change no reading by as much as half a spread, so that the test says nothing of it"
            .to_owned()
    }

    /// Why nothing but scatter: the reading that is farthest off beside the others, and how often chance makes one so.
    fn why_scatter(&self, tested: &TestedRouting<'_>, found: &Posterior<'_>) -> String {
        let place_of = |row: &RowReading| self.row_place(row.row).filter(|at| self.sound.rows[*at] > 0.0);
        let rows = tested.rows.iter().filter_map(|row| {
            let place = place_of(row)?;
            let (read, sd) = (row.flow().si(), row.sd().si());
            Some(Beside { of: Of::Row(place), read, expected: self.sound.rows[place], sd })
        });
        let gauges = tested.gauges.iter().filter_map(|gauge| {
            let place = self.watched.iter().position(|part| *part == gauge.part)?;
            let (read, sd) = (gauge.pressure.si(), gauge.sd.si());
            Some(Beside { of: Of::Part(place), read, expected: self.sound.parts[place], sd })
        });
        let readings: Vec<Beside> = rows.chain(gauges).collect();
        let count = readings.len();
        let level = self.levels.first();
        let columns = level.map_or_else(Vec::new, |level| level.columns(found.space.supply_sd));
        let all = Expectation::of(readings, &columns);
        let Some((one, farthest)) = all.and_then(|all| all.farthest()) else {
            return "no reading speaks against it".to_owned();
        };
        let units = self.of.project.units;
        let which = match one.of {
            Of::Row(place) => format!(
                "row {} with {} of what is expected",
                self.of.project.bar.rows[place].number,
                Measure::Percent.short_text(one.read / one.expected, units)
            ),
            Of::Part(place) => format!(
                "{} with {}, {} expected",
                self.of.tag(Passed::Part(self.watched[place])),
                Measure::Pressure.text(one.read, units),
                Measure::Pressure.text_apart(one.expected, one.read, units)
            ),
        };
        let times = Measure::Plain.short_number((farthest.spreads * 10.0).round() / 10.0, units);
        let of_100 = Measure::Plain.short_number((100.0 * farthest.chance).round().clamp(1.0, 99.0), units);
        let stands = if farthest.stands_out { "one reading stands out" } else { "no reading stands out" };
        if farthest.by_others {
            format!(
                "{stands}: the one that fits the others least is {which}, {times} times the scatter that is usual beside them; of \
                 {count} readings of a sound bar chance makes one as rare in about {of_100} of 100 tests"
            )
        } else {
            format!(
                "{stands}: they fit each other, and what they have in common shows most at {which}, {times} times the scatter that is \
                 usual by supply, parts and liquid; with a sound bar chance makes something as rare in about {of_100} of 100 tests"
            )
        }
    }

    /// Of what is wrong for many rows at once, how they and the others came on average: none of them need be off by itself.
    fn means(
        &self,
        tested: &TestedRouting<'_>,
        found: &Posterior<'_>,
        what: What,
        shown: &Shown,
    ) -> Vec<String> {
        let rows = |places: &[usize]| -> Vec<RowId> {
            places.iter().map(|place| self.of.project.bar.rows[*place].id).collect()
        };
        let caught: Vec<usize> =
            found.space.rows.iter().copied().filter(|place| self.sound.rows[*place] > 0.0).collect();
        let mean = |places: &[usize], of: &dyn Fn(usize) -> f64| {
            places.iter().map(|place| of(*place) / self.sound.rows[*place]).sum::<f64>() / places.len() as f64
        };
        let came = |place: usize| tested.caught(self.of.project.bar.rows[place].id).si();
        let percent = |share: f64| Measure::Percent.short_text(share, self.of.project.units);
        let both = |places: &[usize]| {
            let (came, then) = (mean(places, &came), mean(places, &|place| shown.rows[place]));
            (percent(came), percent(then), (then - 1.0).abs())
        };
        let mut all = Vec::new();
        for id in found.ids(what) {
            let is_own =
                |place: &usize| id.rows.is_empty() || id.rows.contains(&self.of.project.bar.rows[*place].id);
            let (own, others): (Vec<usize>, Vec<usize>) = caught.iter().copied().partition(is_own);
            if own.len() < MANY {
                continue;
            }
            let (gave, then, change) = both(&own);
            if change < words::NOTICED {
                continue;
            }
            let in_use = self.sound.rows.iter().filter(|flow| **flow > 0.0).count();
            let are_all_caught = caught.len() == in_use;
            let which = match (others.is_empty(), are_all_caught) {
                (true, true) => "all rows".to_owned(),
                (true, false) => format!("the {} rows caught", own.len()),
                (false, _) => words::rows_words(&self.of, &rows(&own)),
            };
            all.push(format!("{which} gave {gave} of what is expected on average, this makes them {then}"));
            if !others.is_empty() {
                let which = if are_all_caught { "the other rows" } else { "the other rows caught" };
                let (gave, then, _) = both(&others);
                all.push(format!("{which} {gave}, this makes them {then}"));
            }
        }
        all.dedup();
        all
    }

    /// Of a liquid that is thicker or thinner: rows that the other would change the same way, which only a flow between laminar
    /// and turbulent does.
    fn either_way(&self, found: &Posterior<'_>, what: What, change: &DVector<f64>) -> Option<String> {
        let What::One(one) = what else { return None };
        let (other, called) = match found.curve(&one).curve.id.kind {
            CauseKind::LiquidThicker => (CauseKind::LiquidThinner, "a thinner liquid"),
            CauseKind::LiquidThinner => (CauseKind::LiquidThicker, "a thicker liquid"),
            _ => return None,
        };
        let all = found.groups.iter().flat_map(|group| &group.items).map(|item| item.what);
        let opposite = all
            .filter(|what| matches!(what, What::One(_)))
            .find(|what| what.fitted().iter().any(|fitted| found.curve(fitted).curve.id.kind == other))?;
        let shown = self.shown_of(&mut self.solver.clone(), &found.effect(opposite))?;
        let space = &found.space;
        let then = space.raw(&shown);
        let is_alike = |at: &usize| {
            change[*at] * then[*at] > 0.0
                && space.spreads(*at, change[*at]) >= SHOWS
                && space.spreads(*at, then[*at]) >= SHOWS
        };
        let rows: Vec<RowId> = (0..space.rows.len())
            .filter(is_alike)
            .map(|at| self.of.project.bar.rows[space.rows[at]].id)
            .collect();
        (!rows.is_empty()).then(|| {
            format!(
                "{called} would change {} the same way: where flow is between laminar and turbulent (Re {} to {}) both \
                 signs look alike, and losses are known to some 30 % at best",
                words::rows_words(&self.of, &rows),
                Measure::Plain.short_number(LAMINAR_END, self.of.project.units),
                Measure::Plain.short_number(TURBULENT_START, self.of.project.units),
            )
        })
    }

    /// Why none of these: with what comes nearest, and what that leaves.
    fn why_none(&self, tested: &TestedRouting<'_>, found: &Posterior<'_>) -> String {
        let mut none = "readings are off in a way that no cause on the list makes".to_owned();
        let off = in_a_line(&self.unexplained(tested, found, &self.sound));
        if !off.is_empty() {
            let _ = write!(none, "; off by themselves: {off}");
        }
        let firsts = found.groups.iter().filter_map(|group| group.items.first());
        let Some(nearest) = firsts.map(|item| item.what).find(|what| !what.fitted().is_empty()) else {
            return none;
        };
        let Some(shown) = self.shown_of(&mut self.solver.clone(), &found.effect(nearest)) else {
            return none;
        };
        let left = in_a_line(&self.unexplained(tested, found, &shown));
        if left.is_empty() {
            return none;
        }
        let of = |fitted: &Fitted| {
            let curve = &found.curve(fitted).curve;
            words::what(&self.of, &curve.id, &curve.size(found.place(fitted)))
        };
        let named: Vec<String> = nearest.fitted().iter().map(of).collect();
        format!(
            "{none}; three causes and more may be at work at once: nearest comes {}, which leaves {left}",
            named.join("; and ")
        )
    }

    /// The readings that are more than [`LEFT`] spreads from what an explanation makes of them, the farthest first.
    pub(super) fn unexplained(
        &self,
        tested: &TestedRouting<'_>,
        found: &Posterior<'_>,
        shown: &Shown,
    ) -> Vec<Unexplained> {
        let space = &found.space;
        let units = self.of.project.units;
        let left = &space.raw_data - space.raw(shown);
        let far = |at: usize| space.spreads(at, left[at]);
        let mut all: Vec<usize> = (0..space.count()).filter(|at| far(*at) > LEFT).collect();
        all.sort_by(|a, b| far(*b).total_cmp(&far(*a)));
        let signed = |words: String, is_more: bool| if is_more { format!("+{words}") } else { words };
        let of = |at: usize| {
            let Some(place) = space.rows.get(at) else {
                let place = space.gauges[at - space.rows.len()];
                let part = self.watched[place];
                let off = Measure::Pressure.text(left[at], units);
                let tag = self.of.tag(Passed::Part(part));
                let what = format!("gauge {tag} ({})", signed(off, left[at] > 0.0));
                return Unexplained { reading: Reading::Gauge(part), what };
            };
            let row = &self.of.project.bar.rows[*place];
            let caught = tested.caught(row.id).si();
            let then = shown.rows[*place];
            let off = if then > AS_NOTHING * self.sound.rows[*place] && then > 0.0 {
                signed(Measure::Percent.short_text(caught / then - 1.0, units), caught > then)
            } else {
                format!("{} where next to nothing is expected", Measure::RowFlow.short_text(caught, units))
            };
            Unexplained { reading: Reading::Row(row.id), what: format!("row {} ({off})", row.number) }
        };
        all.into_iter().map(of).collect()
    }
}
