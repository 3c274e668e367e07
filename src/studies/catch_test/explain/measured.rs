//! Measurements that can be made in the yard next, with what each leading explanation would make of them.
//!
//! What parts as sold and the supply did to the test just read stays with the bar: with a joint normal scatter a new reading is
//! expected where the explanation puts it and as far beside that as the readings of the test are beside what it makes of them, by
//! their covariance; only what is left of its variance is its scatter (the conditional distribution of a joint normal).

use nalgebra::{Cholesky, DMatrix, DVector};

use super::answer::LookAction;
use super::curve::{Effect, Misread};
use super::posterior::{Posterior, What};
use super::solved::{CauseCurves, misread};
use super::space::Space;
use super::words;
use crate::hydraulics::KeptSolver;
use crate::hydraulics::faulty::{Fault, FaultSolver, Shown};
use crate::hydraulics::variation::{ElementId, LiquidQuantity, Parameter};
use crate::hydraulics::ways::Passed;
use crate::plan::words::ranges;
use crate::plan::{
    Control, Gauge, Item, Metering, OperatingPoint, PartId, PartItem, Project, RowId, SpreadKind,
};
use crate::quantities::{Measure, Pressure};
use crate::studies::catch_test::prepare::GAUGE_CLASS;

/// Rows that are caught again.
const ROWS: usize = 4;
/// A row that changes by less than this part of what the first does is not caught again with it.
const WORTH: f64 = 0.2;
/// Rows whose metering may be exchanged.
const EXCHANGED: usize = 2;
/// How many times as long rows are caught again.
const LONGER: f64 = 2.0;
/// A pressure is held at this part of the one of the test (common practice, no source).
const OTHER_PRESSURE: f64 = 0.6;
/// A pressure is held at the pump by hand within this part of it: a supply as steady as one on offer (common practice, no source).
const HELD_WITHIN: f64 = 0.02;
/// How much more and less a held pressure is tried with, as a part of it.
const HELD_STEP: f64 = 0.02;
/// A row this near to what is expected gives "as expected".
const AS_EXPECTED: f64 = 0.03;
/// Rows that give alike are told together where they differ by no more than this part of what is expected.
const ALIKE: f64 = 0.05;
/// A gauge that is there is read while others would be fitted or rows caught (common practice, no source).
const IN_PLACE: f64 = 2.0;
/// A finer gauge: class 0.4 of EN 837-1 (from memory), as a part of its dial's end.
const FINE_CLASS: f64 = 0.004;
/// A gauge of more than this part of the scatter of the one that was read is no finer one.
const NO_FINER: f64 = 0.7;
/// A flow cup tells a viscosity to this part of it (common practice, no source).
const CUP: f64 = 0.05;
/// A gauge is to be read no nearer to the end of its dial than this part of it.
const OF_DIAL: f64 = 1.3;

/// A measurement with what each leading cause would make of it.
pub(super) struct Measured {
    pub(super) action: LookAction,
    pub(super) what: String,
    /// By cause: readings in standard deviations of the measurement.
    pub(super) apart: Vec<DVector<f64>>,
    pub(super) seen: Seen,
    /// How much more readily it is made than another that tells as much.
    pub(super) ease: f64,
}

/// What is seen, by cause.
pub(super) enum Seen {
    /// What a gauge of this name shows, Pa.
    Pressure(String, Vec<f64>),
    /// How thick the liquid is, as a part of what its table says.
    Viscosity(Vec<f64>),
    /// What rows give, by their places among the readings, as parts of what is expected.
    Rows(Vec<usize>, Vec<Vec<f64>>),
}

/// A leading explanation at one of the sizes that it may have.
pub(super) struct Leading {
    pub(super) what: What,
    pub(super) odds: f64,
    pub(super) effect: Effect,
    /// What there is, whatever was misread; the sound bar where it can't be solved.
    there: Shown,
    /// What it makes of the readings of the test, before whitening.
    raw: DVector<f64>,
}

impl Leading {
    pub(super) fn new(
        (what, odds, effect): (What, f64, Effect),
        of: &CauseCurves<'_>,
        space: &Space,
        solver: &mut FaultSolver<'_>,
    ) -> Self {
        let faults = if effect.faults.is_empty() { None } else { solver.solve(&effect.faults) };
        let there = faults.unwrap_or_else(|| of.sound.clone());
        let mut read = there.clone();
        misread(&mut read, &effect.misread);
        Self { what, odds, raw: space.raw(&read), effect, there }
    }

    /// What is read when rows are caught anew: what was written down wrongly of one row is not so again, of all it is.
    fn anew(&self) -> Shown {
        let mut shown = self.there.clone();
        misread(&mut shown, &self.misread_anew());
        shown
    }

    fn misread_anew(&self) -> Vec<Misread> {
        self.effect.misread.iter().filter(|one| !matches!(one, Misread::Row(..))).copied().collect()
    }
}

/// What the supply does while rows are caught anew.
enum Supply {
    /// It is as far off as in the test.
    AsInTest,
    /// It is another one: one standard deviation of it, by row, as rows count.
    Another(Vec<f64>),
}

pub(super) struct Looking<'l, 'c, 'a> {
    pub(super) of: &'l CauseCurves<'a>,
    pub(super) found: &'l Posterior<'c>,
    pub(super) leading: Vec<Leading>,
}

impl Looking<'_, '_, '_> {
    /// Places among the readings of the rows that leading causes change most, those of likelier causes first.
    pub(super) fn suspicious(&self) -> Vec<usize> {
        let space = &self.found.space;
        let size = |at: usize| -> f64 {
            self.leading.iter().map(|one| one.odds * space.spreads(at, one.raw[at])).sum()
        };
        let mut all: Vec<usize> = (0..space.rows.len()).collect();
        all.sort_by(|a, b| size(*b).total_cmp(&size(*a)));
        all.truncate(ROWS);
        // Of one row that stands out, rows that hardly change tell nothing.
        let most = all.first().map_or(0.0, |at| size(*at));
        all.retain(|at| size(*at) >= WORTH * most);
        all
    }

    fn row(&self, at: usize) -> RowId {
        self.of.of.project.bar.rows[self.found.space.rows[at]].id
    }

    /// Rows caught anew under the conditions that `shown` is of: readings by cause in standard deviations, and in words.
    fn rows_anew(
        &self,
        rows: &[usize],
        shown: &[Shown],
        sound: &Shown,
        (times, supply): (f64, &Supply),
    ) -> Option<(Vec<DVector<f64>>, Seen)> {
        let space = &self.found.space;
        let count = rows.len();
        // The supply stands last, if it is known.
        let of_parts = match supply {
            Supply::AsInTest => space.spread.ncols(),
            Supply::Another(_) => space.spread.ncols() - usize::from(space.has_supply),
        };
        let all = space.spread.columns(0, of_parts);
        let own = DMatrix::from_fn(count, of_parts, |at, column| all[(rows[at], column)]);
        let with_all = &own * all.transpose();
        let known = space.solve_all(&with_all.transpose());
        let mut covariance = &own * own.transpose() - &with_all * &known;
        for (at, row) in rows.iter().enumerate() {
            covariance[(at, at)] += space.by_reading[*row] / times;
        }
        if let Supply::Another(by_row) = supply {
            let column = DVector::from_iterator(count, rows.iter().map(|row| by_row[*row]));
            covariance += &column * column.transpose();
        }
        let covariance = covariance * self.found.scatter.powi(2);
        let factor = Cholesky::new(covariance)?;
        let flow_then = |row: usize, shown: &Shown| shown.rows[space.rows[row]];
        let expected = |row: usize| {
            let flow = flow_then(row, sound);
            if flow > 0.0 { flow } else { 1.0 }
        };
        let apart = self.leading.iter().zip(shown).map(|(leading, shown)| {
            // What parts did in the test stays with the rows.
            let stays = &with_all * space.solve(&(&space.raw_data - &leading.raw));
            let mut z = DVector::from_fn(count, |at, _| {
                Space::counted(flow_then(rows[at], shown) / expected(rows[at])) + stays[at]
            });
            factor.l_dirty().solve_lower_triangular_mut(&mut z);
            z
        });
        let shares = shown.iter().map(|shown| {
            let share = |row: &usize| flow_then(*row, shown) / expected(*row);
            rows.iter().map(share).collect::<Vec<f64>>()
        });
        Some((apart.collect(), Seen::Rows(rows.to_vec(), shares.collect())))
    }

    /// What is seen with one of these causes, in words.
    pub(super) fn words(&self, seen: &Seen, causes: &[usize]) -> String {
        let ends = |of: &dyn Fn(usize) -> f64| {
            let all = causes.iter().map(|at| of(*at));
            all.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], one| [low.min(one), high.max(one)])
        };
        match seen {
            Seen::Pressure(tag, values) => {
                let units = self.of.of.project.units;
                let [low, high] = ends(&|at| values[at]).map(|one| Measure::Pressure.text(one, units));
                if low == high {
                    format!("{tag} shows {low}")
                } else {
                    format!("{tag} shows {low} to {high}")
                }
            }
            Seen::Viscosity(times) => {
                let [low, high] = ends(&|at| times[at]).map(|one| {
                    Measure::Plain.short_number((one * 100.0).round() / 100.0, self.of.of.project.units)
                });
                match (low == high, low == "1") {
                    (true, true) => "it is as thick as its table says".to_owned(),
                    (true, false) => format!("it is {low} times as thick as its table says"),
                    (false, _) => format!("it is {low} to {high} times as thick as its table says"),
                }
            }
            Seen::Rows(rows, shares) => {
                let of = |(place, row): (usize, &usize)| (*row, ends(&|at| shares[at][place]));
                self.rows_seen(&rows.iter().enumerate().map(of).collect::<Vec<_>>())
            }
        }
    }

    /// `rows 7 and 9 give 61 % of what is expected; row 8 as expected`.
    fn rows_seen(&self, shares: &[(usize, [f64; 2])]) -> String {
        let bar = &self.of.of.project.bar;
        let number = |at: usize| bar.rows[self.found.space.rows[at]].number;
        let units = self.of.of.project.units;
        let is_near = |share: f64| (share - 1.0).abs() <= AS_EXPECTED;
        let (near, mut others): (Vec<_>, Vec<_>) =
            shares.iter().copied().partition(|one| one.1.into_iter().all(is_near));
        others.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
        let mut groups: Vec<Vec<(usize, [f64; 2])>> = Vec::new();
        for one in others {
            let is_alike = |first: &(usize, [f64; 2])| {
                one.1[0] - first.1[0] <= ALIKE && (one.1[1] - first.1[1]).abs() <= ALIKE
            };
            match groups.iter_mut().find(|group| is_alike(&group[0])) {
                Some(group) => group.push(one),
                None => groups.push(vec![one]),
            }
        }
        let named = |all: &[(usize, [f64; 2])]| {
            let mut numbers: Vec<u32> = all.iter().map(|one| number(one.0)).collect();
            numbers.sort_unstable();
            (if numbers.len() == 1 { "row" } else { "rows" }, ranges(&numbers))
        };
        let percent = |share: f64| Measure::Percent.short_text((share * 100.0).round() / 100.0, units);
        let mut all: Vec<String> = groups
            .iter()
            .map(|group| {
                let (word, numbers) = named(group);
                let low = percent(group.iter().map(|one| one.1[0]).fold(f64::INFINITY, f64::min));
                let high = percent(group.iter().map(|one| one.1[1]).fold(0.0, f64::max));
                let verb = if group.len() == 1 { "gives" } else { "give" };
                let share = if low == high { low } else { format!("{low} to {high}") };
                format!("{word} {numbers} {verb} {share} of what is expected")
            })
            .collect();
        if !near.is_empty() {
            let (word, numbers) = named(&near);
            all.push(format!("{word} {numbers} as expected"));
        }
        all.join("; ")
    }

    /// The same rows for longer.
    pub(super) fn again(&self, rows: &[usize]) -> Option<Measured> {
        let shown: Vec<Shown> = self.leading.iter().map(Leading::anew).collect();
        let (apart, seen) = self.rows_anew(rows, &shown, &self.of.sound, (LONGER, &Supply::AsInTest))?;
        let ids: Vec<RowId> = rows.iter().map(|at| self.row(*at)).collect();
        let what = format!("catch {} again for twice as long", words::rows_words(&self.of.of, &ids));
        Some(Measured {
            action: LookAction::CatchAgain { rows: ids, times: LONGER },
            what,
            apart,
            seen,
            ease: 1.0,
        })
    }

    /// The same rows into another jug, where all amounts may be written down wrongly.
    pub(super) fn with_another_jug(&self, rows: &[usize]) -> Option<Measured> {
        let is_of_all = |one: &Misread| matches!(one, Misread::All(_));
        if !self.leading.iter().any(|one| one.effect.misread.iter().any(is_of_all)) {
            return None;
        }
        let shown: Vec<Shown> = self.leading.iter().map(|one| one.there.clone()).collect();
        let (apart, seen) = self.rows_anew(rows, &shown, &self.of.sound, (1.0, &Supply::AsInTest))?;
        let ids: Vec<RowId> = rows.iter().map(|at| self.row(*at)).collect();
        let names = words::rows_words(&self.of.of, &ids);
        let what = format!("catch {names} again with another jug and watch, or weigh what comes");
        Some(Measured { action: LookAction::OtherJug(ids), what, apart, seen, ease: 1.0 })
    }

    /// Rows with metering of their own, and a neighbour with the same metering that gives what is expected.
    pub(super) fn exchanges(&self, rows: &[usize], solver: &mut FaultSolver<'_>) -> Vec<Measured> {
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
            let shown: Vec<Shown> = self
                .leading
                .iter()
                .map(|one| {
                    let faults: Vec<Fault> =
                        one.effect.faults.iter().map(|fault| moved(*fault, own, with)).collect();
                    if faults == one.effect.faults {
                        return one.anew();
                    }
                    let effect = Effect { faults, misread: one.misread_anew() };
                    self.of.shown_of(solver, &effect).unwrap_or_else(|| self.of.sound.clone())
                })
                .collect();
            let pair = [*at, other];
            let Some((apart, seen)) = self.rows_anew(&pair, &shown, &self.of.sound, (1.0, &Supply::AsInTest))
            else {
                continue;
            };
            let ids = [row, self.row(other)];
            let what = format!(
                "exchange the metering of {} and catch both again",
                words::rows_words(&self.of.of, &ids)
            );
            all.push(Measured { action: LookAction::ExchangeMetering(ids), what, apart, seen, ease: 1.0 });
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

    /// The liquid by itself, where it may be another than its table says.
    pub(super) fn viscosity(&self) -> Option<Measured> {
        let parameter = Parameter::Liquid(LiquidQuantity::Viscosity);
        let planned = self.of.solver.planned(parameter)?;
        let times = |one: &Leading| {
            let own = one.effect.faults.iter().find_map(|fault| match fault {
                Fault::Number(of, value) if *of == parameter => Some(value / planned),
                _ => None,
            });
            own.unwrap_or(1.0)
        };
        let all: Vec<f64> = self.leading.iter().map(times).collect();
        if all.iter().all(|times| *times == 1.0) {
            return None;
        }
        // One that is as its table says scatters too.
        let sd =
            self.of.of.project.spreads.of(SpreadKind::Viscosity).sd.hypot(CUP) * self.found.scatter.max(1.0);
        Some(Measured {
            action: LookAction::MeasureViscosity,
            what: "measure the liquid's viscosity at its temperature: time a cup of it".to_owned(),
            apart: all.iter().map(|times| DVector::from_element(1, times.ln() / sd)).collect(),
            seen: Seen::Viscosity(all),
            ease: 1.0,
        })
    }

    /// A pressure where none was read, and one that was read once more with a finer gauge.
    pub(super) fn pressures(&self) -> Vec<Measured> {
        let units = self.of.of.project.units;
        let space = &self.found.space;
        let level = self.of.levels.first();
        let columns = level.map_or_else(Vec::new, |level| level.columns(space.supply_sd));
        let mut all = Vec::new();
        for (place, part) in self.of.watched.iter().enumerate() {
            let sound = self.of.sound.parts[place];
            if sound <= 0.0 {
                continue;
            }
            let read = space.gauges.iter().position(|one| *one == place);
            let tag = self.of.of.tag(Passed::Part(*part));
            let (action, what, own, ease) = if let Some(read) = read {
                let dial = self.fine_dial(sound);
                let own = FINE_CLASS * dial;
                // No finer than the one that was read.
                if own >= NO_FINER * space.by_reading[space.rows.len() + read].sqrt() {
                    continue;
                }
                let dial = Measure::Pressure.short_text(dial, units);
                let what =
                    format!("read the pressure at {tag} again with a finer gauge (class 0.4, 0 to {dial})");
                (LookAction::FinerGauge(*part), what, own, 1.0)
            } else {
                let own = GAUGE_CLASS * self.dial(*part, sound);
                let action = LookAction::ReadPressure(*part);
                if self.of.is_gauge(place) {
                    (action, format!("read the pressure at {tag}"), own, IN_PLACE)
                } else {
                    (action, format!("fit a gauge at {tag} and read the pressure"), own, 1.0)
                }
            };
            let by = DVector::from_iterator(columns.len(), columns.iter().map(|one| one.parts[place]));
            let with_all = &space.spread * &by;
            let known = space.solve(&with_all);
            let by_parts = (by.norm_squared() - with_all.dot(&known)).max(0.0);
            let sd = by_parts.sqrt().hypot(own) * self.found.scatter.max(1.0);
            let is_seen = |one: &Leading| {
                let stays = known.dot(&(&space.raw_data - &one.raw));
                DVector::from_element(1, (one.there.parts[place] + stays) / sd)
            };
            all.push(Measured {
                action,
                what,
                apart: self.leading.iter().map(is_seen).collect(),
                seen: Seen::Pressure(tag, self.leading.iter().map(|one| one.there.parts[place]).collect()),
                ease,
            });
        }
        all
    }

    /// The dial's end of a gauge, or of the smallest one on offer that could be screwed on there.
    fn dial(&self, part: PartId, pressure: f64) -> f64 {
        let catalogue = &self.of.of.project.catalogue;
        let own = self.of.of.routing.routing.part(part).and_then(|part| catalogue.item(&part.entry));
        match own {
            Some(PartItem::Gauge(Gauge { full_scale })) => full_scale.si(),
            _ => self.fine_dial(pressure),
        }
    }

    /// The dial's end of the smallest gauge on offer for a pressure.
    fn fine_dial(&self, pressure: f64) -> f64 {
        let ends = self.of.of.project.catalogue.entries.iter().filter_map(|entry| match entry.item {
            Item::Part(PartItem::Gauge(Gauge { full_scale })) => Some(full_scale.si()),
            _ => None,
        });
        ends.filter(|end| *end >= OF_DIAL * pressure).reduce(f64::min).unwrap_or(2.0 * pressure)
    }

    /// The same rows at another speed, or with a pressure held.
    pub(super) fn at_other_conditions(&self, rows: &[usize]) -> Vec<Measured> {
        let of = &self.of.of;
        let ids: Vec<RowId> = rows.iter().map(|at| self.row(*at)).collect();
        let names = words::rows_words(of, &ids);
        let mut all = Vec::new();
        let held = match of.project.supply.control {
            Control::Held { pressure } => Some(pressure * OTHER_PRESSURE),
            _ => self.of.outcome.numbers().map(|numbers| numbers.pump_pressure),
        };
        if let Some(pressure) = held.filter(|pressure| *pressure > Pressure::ZERO) {
            let text = Measure::Pressure.text(pressure.si(), of.project.units);
            let what = format!("hold {text} at the pump by hand and catch {names} again");
            let action = LookAction::OtherPressure { rows: ids.clone(), pressure };
            all.extend(self.held(pressure, rows, action, what));
        }
        if matches!(of.project.supply.control, Control::Held { .. }) {
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
            all.extend(self.at(of.project, &point, rows, (action, what), &Supply::AsInTest));
        }
        all
    }

    /// With a pressure held at the pump by hand: what the controller does, and how well it does it, is out of the way.
    fn held(&self, pressure: Pressure, rows: &[usize], action: LookAction, what: String) -> Option<Measured> {
        let of = &self.of.of;
        let with = |times: f64| {
            let mut project: Project = of.project.clone();
            project.supply.control = Control::Held { pressure: pressure * times };
            project
        };
        let flows = |times: f64| -> Option<Vec<f64>> {
            let project = with(times);
            let mut kept = KeptSolver::default();
            let outcome = kept.prepare(&project, of.routing).solve(&of.point);
            let rows = self.found.space.rows.iter();
            rows.map(|place| Some(outcome.row(of.project.bar.rows[*place].id)?.flow.si())).collect()
        };
        let (more, less) = (flows(1.0 + HELD_STEP)?, flows(1.0 - HELD_STEP)?);
        let slope = |(more, less): (f64, f64)| {
            let sum = more + less;
            if sum > 0.0 { HELD_WITHIN * (more - less) / (sum * HELD_STEP) } else { 0.0 }
        };
        let supply = Supply::Another(more.into_iter().zip(less).map(slope).collect());
        self.at(&with(1.0), &of.point, rows, (action, what), &supply)
    }

    fn at(
        &self,
        project: &Project,
        point: &OperatingPoint,
        rows: &[usize],
        (action, what): (LookAction, String),
        supply: &Supply,
    ) -> Option<Measured> {
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(project, self.of.of.routing);
        let made = FaultSolver::new(project, self.of.of.routing, &mut prepared, point, &self.of.watched);
        let (_, mut solver) = made.ok()?;
        let sound = solver.solve(&[])?;
        let shown: Vec<Shown> = self
            .leading
            .iter()
            .map(|one| {
                let faults = one.effect.faults.iter().filter_map(|fault| match *fault {
                    // What the supply falls short of goes with what it is asked for; where it is asked for something else, it is
                    // as good as any.
                    Fault::Number(parameter @ Parameter::Supply(_), value) => {
                        let times = solver.planned(parameter)? / self.of.solver.planned(parameter)?;
                        Some(Fault::Number(parameter, value * times))
                    }
                    other => Some(other),
                });
                let faults: Vec<Fault> = faults.collect();
                let mut shown = solver.solve(&faults).unwrap_or_else(|| sound.clone());
                misread(&mut shown, &one.misread_anew());
                shown
            })
            .collect();
        let (apart, seen) = self.rows_anew(rows, &shown, &sound, (1.0, supply))?;
        Some(Measured { action, what, apart, seen, ease: 1.0 })
    }
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
