//! What to look at next: measurements that can be made in the yard, each weighed by how much it would tell of which cause it is.
//!
//! For each leading cause the engine gives what a measurement would show; what parts as sold did to the test just read stays
//! with the bar and is taken along. The information that is expected is the mutual information of cause and measurement, by the
//! lower bound of Kolchinsky and Tracey (2017, "Estimating mixture entropy with pairwise distances", from memory): with odds `p`
//! and normal outcomes of one covariance, `-Σ pᵢ ln Σ pⱼ exp(-dᵢⱼ²/8)`, `d` being distances in standard deviations.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::answer::{LookAction, LookOutcome, NextLook};
use super::curve::{Effect, Misread};
use super::posterior::{Posterior, What};
use super::solved::CauseCurves;
use super::space::Space;
use super::words;
use crate::hydraulics::KeptSolver;
use crate::hydraulics::faulty::{Fault, FaultSolver, Shown};
use crate::hydraulics::variation::{ElementId, Parameter};
use crate::hydraulics::ways::Passed;
use crate::plan::words::ranges;
use crate::plan::{Control, Gauge, Item, Metering, OperatingPoint, PartItem, Project, RowId};
use crate::quantities::Measure;
use crate::studies::catch_test::prepare::GAUGE_CLASS;
use crate::studies::{NoAnswer, Waiting};

/// Causes that are told apart.
const LEADING: usize = 12;
/// Of one group.
const OF_A_GROUP: usize = 5;
/// A cause less likely than this is left out.
const LEAST: f64 = 0.01;
/// Rows that are caught again.
const ROWS: usize = 4;
/// Rows whose metering may be exchanged.
const EXCHANGED: usize = 2;
/// Outcomes so many spreads of the measurement apart are told apart by a person: what lies half way is two from either.
const TOLD: f64 = 4.0;
/// Causes that an outcome names.
const NAMED: usize = 3;
/// Looks that are offered.
const OFFERED: usize = 3;
/// A look that tells less is not worth the way, bits.
const LEAST_BITS: f64 = 0.05;
/// How many times as long rows are caught again.
const LONGER: f64 = 2.0;
/// A pressure is held at this part of the one of the test (common practice, no source).
const OTHER_PRESSURE: f64 = 0.6;
/// A row this near to what is expected gives "as expected".
const AS_EXPECTED: f64 = 0.03;

/// A measurement with what each leading cause would make of it.
struct Measured {
    action: LookAction,
    what: String,
    /// By cause: readings in standard deviations of the measurement.
    apart: Vec<DVector<f64>>,
    /// By cause: in words.
    seen: Vec<String>,
}

struct Looking<'l, 'c, 'a> {
    of: &'l CauseCurves<'a>,
    found: &'l Posterior<'c>,
    leading: Vec<(What, f64)>,
    /// Of each, what it would show in the test, before whitening.
    raw: Vec<DVector<f64>>,
}

/// The measurements that tell most, the most telling first.
pub(super) fn next_looks(
    of: &CauseCurves<'_>,
    found: &Posterior<'_>,
    waiting: &dyn Waiting,
) -> Result<Vec<NextLook>, NoAnswer> {
    let mut leading: Vec<(What, f64)> = Vec::new();
    for group in found.groups.iter().filter(|group| group.odds >= LEAST) {
        if let Some(scatter) = group.items.iter().find(|item| item.what == What::Scatter) {
            // Members of that group differ from it by less than what any reading shows.
            leading.push((scatter.what, group.odds));
            continue;
        }
        // The likeliest stand for all of a group, which may be many that are unlikely each by itself.
        let items = || group.items.iter().filter(|item| item.what != What::NoneOfThese).take(OF_A_GROUP);
        let sum: f64 = items().map(|item| item.odds).sum();
        leading.extend(items().map(|item| (item.what, item.odds / sum * group.odds)));
    }
    leading.retain(|one| one.1 >= LEAST);
    leading.sort_by(|a, b| b.1.total_cmp(&a.1));
    leading.truncate(LEADING);
    let sum: f64 = leading.iter().map(|one| one.1).sum();
    for one in &mut leading {
        one.1 /= sum;
    }
    if leading.len() < 2 {
        return Ok(Vec::new());
    }
    let mut solver = of.solver.clone();
    let raw = leading
        .iter()
        .map(|(what, _)| {
            let shown = of.shown_of(&mut solver, &found.effect(*what));
            found.space.raw(&shown.unwrap_or_else(|| of.sound.clone()))
        })
        .collect();
    let looking = Looking { of, found, leading, raw };
    let rows = looking.suspicious();
    let anew: Vec<Option<Shown>> =
        looking.leading.iter().map(|(what, _)| of.shown_of(&mut solver, &looking.anew(*what))).collect();
    waiting.so_far(0.3);
    let mut all: Vec<Measured> = looking.pressures(&anew);
    all.extend(looking.again(&rows, &anew));
    if waiting.has_stopped() {
        return Err(NoAnswer::Stopped);
    }
    all.extend(looking.exchanges(&rows, &mut solver));
    waiting.so_far(0.6);
    all.extend(looking.at_other_conditions(&rows));
    if waiting.has_stopped() {
        return Err(NoAnswer::Stopped);
    }
    let mut looks: Vec<NextLook> = all.into_iter().map(|one| looking.weighed(one)).collect();
    // What has one outcome tells nothing, however likely that is.
    looks.retain(|look| look.gain_bits >= LEAST_BITS && look.outcomes.len() > 1);
    looks.sort_by(|a, b| b.gain_bits.total_cmp(&a.gain_bits));
    // The best of each sort first: three pressures of one line tell the same.
    let mut offered: Vec<NextLook> = Vec::new();
    for look in looks {
        if offered.len() < OFFERED && offered.iter().all(|one| one.action.key() != look.action.key()) {
            offered.push(look);
        }
    }
    Ok(offered)
}

impl Looking<'_, '_, '_> {
    /// Places among the readings of the rows that leading causes change most, those of likelier causes first.
    fn suspicious(&self) -> Vec<usize> {
        let space = &self.found.space;
        let size = |at: usize| -> f64 {
            let all = self.raw.iter().zip(&self.leading);
            all.map(|(raw, one)| one.1 * space.spreads(at, raw[at])).sum()
        };
        let mut all: Vec<usize> = (0..space.rows.len()).collect();
        all.sort_by(|a, b| size(*b).total_cmp(&size(*a)));
        all.truncate(ROWS);
        all
    }

    /// What a cause changes when rows are caught anew: what was written down wrongly of one row is not so again.
    fn anew(&self, what: What) -> Effect {
        let mut effect = self.found.effect(what);
        effect.misread.retain(|one| !matches!(one, Misread::Row(..)));
        effect
    }

    fn row(&self, at: usize) -> RowId {
        self.of.of.project.bar.rows[self.found.space.rows[at]].id
    }

    /// Rows caught anew under the conditions that `shown` is of: readings by cause in standard deviations, and in words.
    fn rows_anew(
        &self,
        rows: &[usize],
        shown: &[Option<Shown>],
        sound: &Shown,
        times: f64,
    ) -> Option<(Vec<DVector<f64>>, Vec<String>)> {
        let space = &self.found.space;
        let count = rows.len();
        let own = DMatrix::from_fn(count, count, |a, b| space.by_parts[(rows[a], rows[b])]);
        let with_all = DMatrix::from_fn(count, space.count(), |a, b| space.by_parts[(rows[a], b)]);
        let known = space.solve_all(&with_all.transpose());
        let mut covariance = own - &with_all * &known;
        for (at, row) in rows.iter().enumerate() {
            covariance[(at, at)] += space.by_reading[*row] / times;
        }
        let covariance = covariance * self.found.scatter.powi(2);
        let factor = Cholesky::new(covariance)?;
        let flow_then = |row: usize, shown: &Shown| shown.rows[space.rows[row]];
        let expected = |row: usize| {
            let flow = flow_then(row, sound);
            if flow > 0.0 { flow } else { 1.0 }
        };
        let apart = self.raw.iter().zip(shown).map(|(raw, shown)| {
            // What parts did in the test stays with the rows.
            let stays = &with_all * space.solve(&(&space.raw_data - raw));
            let mut z = DVector::from_fn(count, |at, _| {
                let shown = shown.as_ref().unwrap_or(sound);
                Space::counted(flow_then(rows[at], shown) / expected(rows[at])) + stays[at]
            });
            factor.l_dirty().solve_lower_triangular_mut(&mut z);
            z
        });
        let words = shown.iter().map(|shown| {
            let shown = shown.as_ref().unwrap_or(sound);
            self.rows_seen(rows, &|row| flow_then(row, shown) / expected(row))
        });
        Some((apart.collect(), words.collect()))
    }

    /// `row 7 gives 61 % of what is expected; row 8 as expected`.
    fn rows_seen(&self, rows: &[usize], share: &dyn Fn(usize) -> f64) -> String {
        let bar = &self.of.of.project.bar;
        let number = |at: usize| bar.rows[self.found.space.rows[at]].number;
        let units = self.of.of.project.units;
        let mut near: Vec<u32> = Vec::new();
        let mut all: Vec<String> = Vec::new();
        for row in rows {
            let share = share(*row);
            if (share - 1.0).abs() <= AS_EXPECTED {
                near.push(number(*row));
            } else {
                let percent = Measure::Percent.short_text(share, units);
                all.push(format!("row {} gives {percent} of what is expected", number(*row)));
            }
        }
        if !near.is_empty() {
            near.sort_unstable();
            let word = if near.len() == 1 { "row" } else { "rows" };
            all.push(format!("{word} {} as expected", ranges(&near)));
        }
        all.join("; ")
    }

    fn again(&self, rows: &[usize], shown: &[Option<Shown>]) -> Option<Measured> {
        let (apart, seen) = self.rows_anew(rows, shown, &self.of.sound, LONGER)?;
        let ids: Vec<RowId> = rows.iter().map(|at| self.row(*at)).collect();
        let what = format!("catch {} again for twice as long", words::rows_words(&self.of.of, &ids));
        Some(Measured { action: LookAction::CatchAgain { rows: ids, times: LONGER }, what, apart, seen })
    }

    /// Rows with metering of their own, and a neighbour with the same metering that gives what is expected.
    fn exchanges(&self, rows: &[usize], solver: &mut FaultSolver<'_>) -> Vec<Measured> {
        let space = &self.found.space;
        let mut all = Vec::new();
        for at in rows {
            if all.len() >= EXCHANGED {
                break;
            }
            let row = self.row(*at);
            let Some((own, metering)) = self.metering(row) else { continue };
            let mut others: Vec<usize> = (0..space.rows.len())
                .filter(|other| !rows.contains(other))
                .filter(|other| self.metering(self.row(*other)).is_some_and(|one| one.1 == metering))
                .collect();
            others.sort_by_key(|other| other.abs_diff(*at));
            let Some(other) = others.first().copied() else { continue };
            let Some((with, _)) = self.metering(self.row(other)) else { continue };
            let shown: Vec<Option<Shown>> = self
                .leading
                .iter()
                .map(|(what, _)| {
                    let mut effect = self.anew(*what);
                    effect.faults.iter_mut().for_each(|fault| *fault = moved(*fault, own, with));
                    self.of.shown_of(solver, &effect)
                })
                .collect();
            let pair = [*at, other];
            let Some((apart, seen)) = self.rows_anew(&pair, &shown, &self.of.sound, 1.0) else { continue };
            let ids = [row, self.row(other)];
            let what = format!(
                "exchange the metering of {} and catch both again",
                words::rows_words(&self.of.of, &ids)
            );
            all.push(Measured { action: LookAction::ExchangeMetering(ids), what, apart, seen });
        }
        all
    }

    /// The only metering of a row, if that is its own.
    fn metering(&self, row: RowId) -> Option<(ElementId, Metering)> {
        let feed = self.of.of.routing.routing.feed_of(row)?;
        let (place, branch) = feed.branches.iter().enumerate().find(|(_, branch)| branch.row == row)?;
        let mut own = branch.elements.iter().enumerate().filter_map(|(index, element)| {
            Some((ElementId::new(feed.id, Some(place), index), Metering::of(element)?))
        });
        let one = own.next()?;
        (own.next().is_none() && !feed.trunk.iter().any(|element| element.is_metering())).then_some(one)
    }

    fn pressures(&self, shown: &[Option<Shown>]) -> Vec<Measured> {
        let units = self.of.of.project.units;
        let level = self.of.levels.first();
        let columns = level.map_or_else(Vec::new, |level| level.columns(self.found.space.supply_sd));
        let mut all = Vec::new();
        for (place, part) in self.of.watched.iter().enumerate() {
            let sound = self.of.sound.parts[place];
            if self.found.space.gauges.contains(&place) || sound <= 0.0 {
                continue;
            }
            let by_parts: f64 = columns.iter().map(|one| one.parts[place].powi(2)).sum();
            let sd =
                by_parts.sqrt().hypot(GAUGE_CLASS * self.dial(*part, sound)) * self.found.scatter.max(1.0);
            let pressure = |shown: &Option<Shown>| shown.as_ref().map_or(sound, |shown| shown.parts[place]);
            let tag = self.of.of.tag(Passed::Part(*part));
            all.push(Measured {
                action: LookAction::ReadPressure(*part),
                what: format!("read the pressure at {tag}"),
                apart: shown.iter().map(|shown| DVector::from_element(1, pressure(shown) / sd)).collect(),
                seen: shown
                    .iter()
                    .map(|shown| format!("{tag} shows {}", Measure::Pressure.text(pressure(shown), units)))
                    .collect(),
            });
        }
        all
    }

    /// The dial's end of a gauge, or of the smallest one on offer that could be screwed on there.
    fn dial(&self, part: crate::plan::PartId, pressure: f64) -> f64 {
        let catalogue = &self.of.of.project.catalogue;
        let own = self.of.of.routing.routing.part(part).and_then(|part| catalogue.item(&part.entry));
        if let Some(PartItem::Gauge(Gauge { full_scale })) = own {
            return full_scale.si();
        }
        let ends = catalogue.entries.iter().filter_map(|entry| match entry.item {
            Item::Part(PartItem::Gauge(Gauge { full_scale })) => Some(full_scale.si()),
            _ => None,
        });
        ends.filter(|end| *end >= 1.3 * pressure).reduce(f64::min).unwrap_or(2.0 * pressure)
    }

    fn at_other_conditions(&self, rows: &[usize]) -> Vec<Measured> {
        let of = &self.of.of;
        let ids: Vec<RowId> = rows.iter().map(|at| self.row(*at)).collect();
        let names = words::rows_words(of, &ids);
        let mut all = Vec::new();
        if let Control::Held { pressure } = of.project.supply.control {
            let other = pressure * OTHER_PRESSURE;
            let mut project: Project = of.project.clone();
            project.supply.control = Control::Held { pressure: other };
            let text = Measure::Pressure.text(other.si(), of.project.units);
            let action = LookAction::OtherPressure { rows: ids, pressure: other };
            let what = format!("hold {text} and catch {names} again");
            all.extend(self.at(&project, &of.point, rows, action, what));
            return all;
        }
        let duty = of.project.duty(of.point.duty);
        for speed in [duty.slowest, duty.fastest] {
            if (speed.si() / of.point.speed.si() - 1.0).abs() < 0.1 {
                continue;
            }
            let point = OperatingPoint { speed, ..of.point };
            let text = Measure::GroundSpeed.short_text(speed.si(), of.project.units);
            let action = LookAction::OtherSpeed { rows: ids.clone(), speed };
            let what = format!("catch {names} again at {text}");
            all.extend(self.at(of.project, &point, rows, action, what));
        }
        all
    }

    fn at(
        &self,
        project: &Project,
        point: &OperatingPoint,
        rows: &[usize],
        action: LookAction,
        what: String,
    ) -> Option<Measured> {
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(project, self.of.of.routing);
        let made = FaultSolver::new(project, self.of.of.routing, &mut prepared, point, &self.of.watched);
        let (_, mut solver) = made.ok()?;
        let sound = solver.solve(&[])?;
        let shown: Vec<Option<Shown>> = self
            .leading
            .iter()
            .map(|(what, _)| {
                let mut effect = self.anew(*what);
                for fault in &mut effect.faults {
                    // What the supply falls short of goes with what it is asked for.
                    if let Fault::Number(parameter @ Parameter::Supply(_), value) = fault {
                        let now = self.of.solver.planned(*parameter)?;
                        *value *= solver.planned(*parameter)? / now;
                    }
                }
                let mut shown = solver.solve(&effect.faults)?;
                super::solved::misread(&mut shown, &effect.misread);
                Some(shown)
            })
            .collect();
        let (apart, seen) = self.rows_anew(rows, &shown, &sound, 1.0)?;
        Some(Measured { action, what, apart, seen })
    }

    /// What it tells, and what each outcome would mean.
    fn weighed(&self, measured: Measured) -> NextLook {
        let odds: Vec<f64> = self.leading.iter().map(|one| one.1).collect();
        let gain_bits = information(&odds, &measured.apart) / std::f64::consts::LN_2;
        let mut outcomes: Vec<(usize, Vec<usize>)> = Vec::new();
        for at in 0..odds.len() {
            let near = |one: &&mut (usize, Vec<usize>)| {
                let apart = (&measured.apart[one.0] - &measured.apart[at]).norm();
                apart <= TOLD || measured.seen[one.0] == measured.seen[at]
            };
            match outcomes.iter_mut().find(near) {
                Some(known) => known.1.push(at),
                None => outcomes.push((at, vec![at])),
            }
        }
        let mut outcomes: Vec<LookOutcome> = outcomes
            .into_iter()
            .map(|(first, all)| {
                let mut names: Vec<String> = Vec::new();
                for name in all.iter().map(|at| self.name(self.leading[*at].0)) {
                    if !names.contains(&name) {
                        names.push(name);
                    }
                }
                LookOutcome {
                    seen: measured.seen[first].clone(),
                    means: one_of(&names),
                    odds: all.iter().map(|at| odds[*at]).sum(),
                }
            })
            .collect();
        outcomes.sort_by(|a, b| b.odds.total_cmp(&a.odds));
        NextLook { action: measured.action, what: measured.what, gain_bits, outcomes }
    }

    fn name(&self, what: What) -> String {
        let ids = self.found.ids(what);
        if ids.is_empty() {
            return "nothing but scatter".to_owned();
        }
        let names: Vec<String> =
            ids.iter().map(|id| words::what(&self.of.of, id, &super::answer::CauseSize::None)).collect();
        names.join(" together with ")
    }
}

/// `this; or that; or one of 3 others`.
fn one_of(names: &[String]) -> String {
    let mut all: Vec<String> = names.iter().take(NAMED).cloned().collect();
    match names.len().saturating_sub(NAMED) {
        0 => {}
        1 => all.push("one other cause".to_owned()),
        others => all.push(format!("one of {others} others")),
    }
    all.join("; or ")
}

/// A fault of the metering of one row, once it stands in the other.
fn moved(fault: Fault, one: ElementId, other: ElementId) -> Fault {
    let to = |id: ElementId| {
        if id == one {
            other
        } else if id == other {
            one
        } else {
            id
        }
    };
    match fault {
        Fault::Number(Parameter::Element(id, quantity), value) => {
            Fault::Number(Parameter::Element(to(id), quantity), value)
        }
        Fault::Times(Parameter::Element(id, quantity), times) => {
            Fault::Times(Parameter::Element(to(id), quantity), times)
        }
        Fault::ElementClosed(id) => Fault::ElementClosed(to(id)),
        fault => fault,
    }
}

/// The least information about which of several causes it is that one of several outcomes brings, nats; see the module.
fn information(odds: &[f64], apart: &[DVector<f64>]) -> f64 {
    let of = |at: usize| -> f64 {
        let all = odds.iter().zip(apart);
        all.map(|(odds, other)| odds * (-(&apart[at] - other).norm_squared() / 8.0).exp()).sum()
    };
    -odds.iter().enumerate().filter(|one| *one.1 > 0.0).map(|(at, odds)| odds * of(at).ln()).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: outcomes that are alike tell nothing, outcomes far apart tell all there is to know (the entropy of the odds);
    /// two causes of even odds two standard deviations apart give `-ln((1 + exp(-1/2))/2)` = 0.2191 nats, below the 0.336 nats
    /// that a channel of two signals of that distance carries at most (Gaussian noise, from memory).
    #[test]
    fn information_lies_between_nothing_and_all() {
        let at = |x: f64| DVector::from_element(1, x);
        assert!(information(&[0.3, 0.7], &[at(1.0), at(1.0)]).abs() < 1e-12);
        let entropy = -(0.3_f64 * 0.3_f64.ln() + 0.7 * 0.7_f64.ln());
        assert!((information(&[0.3, 0.7], &[at(0.0), at(50.0)]) - entropy).abs() < 1e-9);
        let two = information(&[0.5, 0.5], &[at(0.0), at(2.0)]);
        assert!((two - 0.2191).abs() < 1e-3, "{two}");
    }
}
