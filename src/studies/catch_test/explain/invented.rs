//! Catch tests invented by the model itself, with a known truth: to see how often the true cause is found, and whether odds
//! hold. That tests the fit and the arithmetic of odds; it says nothing of how true the model or the weights are.
//!
//! Each test is a bar of drawn parts with drawn faults, solved whole by the engine, and caught with a scatter. A test of the same
//! seed and number is the same, on any machine.

use nalgebra::DVector;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use rand_distr::{Distribution as _, StandardNormal};

use super::answer::{CauseId, CauseSize};
use super::curve::{At, Effect};
use super::evidence::{SCATTER, UNKNOWN, White};
use super::posterior::{Posterior, What, effect, posterior};
use super::size_range::sizes;
use super::solved::{CauseCurves, misread};
use super::space::Space;
use crate::hydraulics::faulty::Fault;
use crate::hydraulics::variation::{LiquidQuantity, Parameter};
use crate::plan::cause_weights::{CauseKind, CauseWeights};
use crate::quantities::{Flow, Pressure};
use crate::studies::catch_test::readings::{CaughtFlow, PressureReading, RowReading};
use crate::studies::catch_test::supply::supply_quantity;
use crate::studies::tolerance::draws::Bars;
use crate::studies::{NoAnswer, Unwatched};

/// What is invented.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Invention {
    /// A sound bar.
    Sound,
    /// One fault, drawn by the weights of faults.
    One,
    /// Two faults.
    Two,
    /// None, one, two, three or something that is not on the list, and a scatter, drawn by all weights that are assumed.
    ByWeights,
}

/// How a test is caught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Catching {
    /// How long each row is caught, s.
    pub seconds: f64,
    /// Standard deviations that are assumed: of an amount, as a part of it, and of a time, s.
    pub amount: f64,
    /// See `amount`.
    pub time: f64,
    /// Of a gauge, Pa.
    pub gauge: f64,
    /// Of what the supply gives, as a part of what it is asked for.
    pub supply: f64,
    /// How many times as large those of catching really are.
    pub really: f64,
}

/// An invented test.
#[derive(Debug, Clone, PartialEq)]
pub struct InventedTest {
    /// What is at fault.
    pub truth: Vec<CauseId>,
    /// Something that is not on the list; three that show are none of these too.
    pub is_unknown: bool,
    /// Rows as they were caught.
    pub rows: Vec<RowReading>,
    /// Gauges as they were read.
    pub gauges: Vec<PressureReading>,
    /// Standard deviation of the supply, as a part of what it is asked for.
    pub supply_sd: f64,
    /// What each fault does by itself to the sound bar.
    effects: Vec<Effect>,
    /// Of each fault its curve and the place on it.
    places: Vec<(usize, At)>,
}

/// What came of an invented test.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// How many spreads what was at fault moved the readings, both faults together.
    pub effect: f64,
    /// The same of the fault that moved them less.
    pub least_effect: f64,
    /// The place of the group that holds the truth, from 0.
    pub place: Option<usize>,
    /// The place of the first group that is about the same rows or the same part.
    pub place_of_rows: Option<usize>,
    /// Odds of each group, and whether it holds the truth.
    pub groups: Vec<(f64, bool)>,
    /// Nothing but scatter is the likeliest.
    pub is_called_sound: bool,
    /// Root mean square of what is left of the readings beside the truth, in spreads: about 1 where scatter is as assumed.
    pub left: f64,
    /// What the likeliest group is led by.
    pub first: String,
    /// Of a single fault, whether the range that the readings leave its size holds the true one; none of what has no range.
    pub size: Option<SizeHeld>,
}

/// A true size beside its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SizeHeld {
    /// Within.
    Within,
    /// Smaller than the smallest.
    Below,
    /// Larger than the largest.
    Above,
}

/// A stream of random numbers for each part of a test.
const STREAMS: u64 = 8;

fn stream((seed, number): (u64, u64), part: u64) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(number * STREAMS + part);
    random
}

impl CauseCurves<'_> {
    /// Invents a test; none where the drawn bar can't be solved.
    pub fn invent(
        &self,
        what: Invention,
        weights: &CauseWeights,
        catching: &Catching,
        gauges: &[crate::plan::PartId],
        drawn: (u64, u64),
    ) -> Option<InventedTest> {
        let mut random = stream(drawn, 0);
        let mut uniform = move || (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        let read: Vec<usize> =
            gauges.iter().filter_map(|part| self.watched.iter().position(|one| one == part)).collect();
        let caught: Vec<usize> =
            (0..self.sound.rows.len()).filter(|place| self.sound.rows[*place] > 0.0).collect();
        let own = self.of_readings(&caught, &read);
        let own = own.iter().map(|one| &one.curve);
        let all: Vec<_> = self.curves.iter().map(|one| &one.curve).chain(own).collect();
        let before: Vec<f64> = all.iter().map(|one| weights.of(one.id.kind) * one.share).collect();
        let sum: f64 = before.iter().sum();
        let scatter_only = weights.of(CauseKind::ScatterOnly);
        // Independent causes, no more than three: odds of none, one, two and three, and of what is not on the list.
        let odds = sum / scatter_only;
        let by_number = [1.0, odds, odds.powi(2) / 2.0, odds.powi(3) / 6.0];
        let unknown = weights.of(CauseKind::NoneOfThese) / scatter_only;
        let (is_unknown, chosen) = loop {
            let faults = match what {
                Invention::Sound => Some(0),
                Invention::One => Some(1),
                Invention::Two => Some(2),
                Invention::ByWeights => {
                    let mut at = uniform() * (by_number.iter().sum::<f64>() + unknown);
                    by_number.iter().position(|part| {
                        at -= part;
                        at < 0.0
                    })
                }
            };
            let one = |_: usize| {
                let mut at = uniform() * sum;
                let one = before.iter().position(|part| {
                    at -= part;
                    at < 0.0
                });
                one.unwrap_or(all.len() - 1)
            };
            let chosen: Vec<usize> = (0..faults.unwrap_or(0)).map(one).collect();
            // What changes the same thing is no two causes: all is drawn anew, so that those that are keep their odds.
            let is_same = |at: usize| {
                chosen[..at].iter().any(|other| all[*other].is_of_the_same_thing(all[chosen[at]]))
            };
            if !(0..chosen.len()).any(is_same) {
                break (faults.is_none(), chosen);
            }
        };
        let mut scatter = 1.0;
        if what == Invention::ByWeights {
            let at = uniform();
            let mut so_far = 0.0;
            for (one, part) in SCATTER {
                if at >= so_far {
                    scatter = one;
                }
                so_far += part;
            }
            if is_unknown {
                scatter = UNKNOWN[((uniform() * UNKNOWN.len() as f64) as usize).min(UNKNOWN.len() - 1)];
            }
        }
        let places: Vec<(usize, At)> =
            chosen.iter().map(|one| (*one, drawn_place(all[*one], &mut uniform))).collect();
        let effects: Vec<Effect> = places.iter().map(|(one, place)| all[*one].effect(*place)).collect();
        let both = effects.iter().cloned().fold(Effect::default(), Effect::and);
        let mut shown = self.built(&both, drawn, (scatter, catching.supply))?;
        misread(&mut shown, &both.misread);
        let mut random = stream(drawn, 1);
        let mut normal = || -> f64 { StandardNormal.sample(&mut random) };
        let typical = self.sound.rows.iter().sum::<f64>() / caught.len().max(1) as f64;
        let really = catching.really * scatter;
        let rows = caught
            .iter()
            .map(|place| {
                let flow = shown.rows[*place];
                let sd = |flow: f64| {
                    (catching.amount * flow.max(typical)).hypot(flow * catching.time / catching.seconds)
                };
                let read = (flow + really * sd(flow) * normal()).max(0.0);
                // A jug below which nothing comes holds nothing.
                let read = if flow > 0.0 { read } else { 0.0 };
                let one = CaughtFlow {
                    flow: Flow::from_si(read),
                    seconds: catching.seconds,
                    sd: Flow::from_si(sd(read)),
                };
                RowReading { row: self.of.project.bar.rows[*place].id, catches: vec![one] }
            })
            .collect();
        let gauges = read
            .iter()
            .map(|at| PressureReading {
                part: self.watched[*at],
                pressure: Pressure::from_si((shown.parts[*at] + really * catching.gauge * normal()).max(0.0)),
                sd: Pressure::from_si(catching.gauge),
            })
            .collect();
        let truth = chosen.iter().map(|one| all[*one].id.clone()).collect();
        Some(InventedTest { truth, is_unknown, rows, gauges, supply_sd: catching.supply, effects, places })
    }

    /// A bar of drawn parts, with faults; parts differ so many times as much as they are sold.
    fn built(
        &self,
        effect: &Effect,
        (seed, number): (u64, u64),
        (times, supply_sd): (f64, f64),
    ) -> Option<crate::hydraulics::faulty::Shown> {
        let duty = self.of.project.duty(self.of.point.duty);
        let fluid = self.solver.fluid();
        let mut bars = Bars::new(&self.scatter, &duty.liquid, self.of.point.temperature, fluid, seed);
        bars.draw(number, None);
        let mut values: std::collections::BTreeMap<Parameter, f64> = self
            .scatter
            .numbers
            .iter()
            .zip(&bars.values)
            .zip(&self.scatter.planned)
            .map(|((parameter, value), planned)| {
                (*parameter, (planned + times * (value - planned)).max(0.05 * planned))
            })
            .collect();
        let thicker = (bars.fluid.viscosity_pa_s / fluid.viscosity_pa_s).powf(times);
        let denser = (bars.fluid.density_kg_m3 / fluid.density_kg_m3).powf(times);
        let liquid = |quantity| Parameter::Liquid(quantity);
        values.insert(liquid(LiquidQuantity::Viscosity), fluid.viscosity_pa_s * thicker);
        values.insert(liquid(LiquidQuantity::Density), fluid.density_kg_m3 * denser);
        let off: f64 = StandardNormal.sample(&mut stream((seed, number), 2));
        let supply = Parameter::Supply(supply_quantity(&self.of));
        if let Some(planned) = self.solver.planned(supply) {
            values.insert(supply, planned * (times * supply_sd * off).exp());
        }
        let mut faults = Vec::new();
        for fault in &effect.faults {
            match fault {
                // What is wrong is wrong about the drawn part.
                Fault::Number(parameter, value) => {
                    let planned = self.solver.planned(*parameter)?;
                    let drawn = values.get(parameter).copied().unwrap_or(planned);
                    let off = if planned > 0.0 { drawn / planned } else { 1.0 };
                    values.insert(*parameter, value * off);
                }
                // The solver does that to what was drawn.
                other => faults.push(*other),
            }
        }
        faults.extend(values.into_iter().map(|(parameter, value)| Fault::Number(parameter, value)));
        self.solver.clone().solve(&faults)
    }

    /// Explains an invented test and holds it against the truth.
    ///
    /// # Errors
    /// As [`explain`](super::explain).
    pub fn assess(&self, test: &InventedTest, weights: &CauseWeights) -> Result<Assessment, NoAnswer> {
        let found = posterior(self, (&test.rows, &test.gauges, test.supply_sd), weights, &Unwatched)?;
        let mut solver = self.solver.clone();
        // Whitened, as a difference from the sound bar; nothing where it can't be solved.
        let mut change = |effect: &Effect| {
            let shown = self.shown_of(&mut solver, effect);
            shown.map_or_else(
                || DVector::zeros(found.space.count()),
                |shown| found.space.whiten(&found.space.raw(&shown)),
            )
        };
        let sizes: Vec<f64> = test.effects.iter().map(|effect| change(effect).norm()).collect();
        let all = change(&test.effects.iter().cloned().fold(Effect::default(), Effect::and));
        let left = (&found.space.data - &all).norm() / (found.space.count() as f64).sqrt();
        // One that moves nothing beside another is not there as far as any reading goes: by the measure that odds go by.
        let telling: Vec<&CauseId> = test
            .truth
            .iter()
            .zip(&sizes)
            .filter(|(_, size)| test.truth.len() == 1 || **size >= super::posterior::APART * found.scatter)
            .map(|(id, _)| id)
            .collect();
        let holds = |place: usize| holds(&found, place, &telling, test);
        let groups: Vec<(f64, bool)> =
            (0..found.groups.len()).map(|place| (found.groups[place].odds, holds(place))).collect();
        let is_about = |place: &usize| {
            let Some(item) = found.groups[*place].items.first() else { return false };
            let ids = found.ids(item.what);
            !telling.is_empty()
                && telling.iter().all(|truth| {
                    ids.iter().any(|id| {
                        (!truth.rows.is_empty() && id.rows == truth.rows)
                            || id.places.iter().any(|one| truth.places.contains(one))
                            || *id == *truth
                    })
                })
        };
        let place = groups.iter().position(|one| one.1);
        let of_rows = (0..groups.len()).find(is_about);
        let first = found.groups.first().and_then(|group| group.items.first());
        let size = self.size_held(test);
        Ok(Assessment {
            size,
            effect: all.norm(),
            left,
            least_effect: sizes.iter().copied().fold(f64::INFINITY, f64::min),
            place,
            place_of_rows: [place, of_rows].into_iter().flatten().min(),
            is_called_sound: found
                .groups
                .first()
                .is_some_and(|group| group.items.iter().any(|item| item.what == What::Scatter)),
            first: first.map_or_else(String::new, |item| {
                let ids = found.ids(item.what);
                ids.iter().map(|id| id.kind.key()).collect::<Vec<_>>().join("+")
            }),
            groups,
        })
    }
}

impl CauseCurves<'_> {
    /// Of a test with one fault, whether the range that the readings leave its size, if it is that, holds the true one; none where it
    /// has no range.
    pub fn size_held(&self, test: &InventedTest) -> Option<SizeHeld> {
        let [(curve, place)] = *test.places.as_slice() else { return None };
        let space = Space::new(self, &test.rows, &test.gauges, test.supply_sd).ok()?;
        let own = self.of_readings(&space.rows, &space.gauges);
        let one = self.curves.iter().chain(&own).nth(curve)?;
        let white = White::new(&space, &[one]);
        let residual = white.residual(&space.data);
        let fits = SCATTER.map(|(scatter, part)| {
            let (ln, best) = white.evidence(0, one, &residual, scatter);
            (ln - space.count() as f64 * scatter.ln() + part.ln(), best)
        });
        let (_, best) = fits.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let shown = self.shown_of(&mut self.solver.clone(), &effect(one, best))?;
        let range = sizes(&space, (one, best), None, &shown).range()?;
        let end = |end: Option<CauseSize>| end.and_then(|one| one.number());
        let truth = one.curve.size(place).number()?;
        let near = 1e-9 * truth.abs();
        Some(match (end(range.low), end(range.high)) {
            (Some(low), _) if truth < low - near => SizeHeld::Below,
            (_, Some(high)) if truth > high + near => SizeHeld::Above,
            _ => SizeHeld::Within,
        })
    }
}

/// A group holds the truth.
fn holds(found: &Posterior<'_>, place: usize, truth: &[&CauseId], test: &InventedTest) -> bool {
    // Three that show are not on the list.
    let is_unknown = test.is_unknown || truth.len() > 2;
    found.groups[place].items.iter().any(|item| match item.what {
        What::Scatter => truth.is_empty() && !is_unknown,
        What::NoneOfThese => is_unknown,
        What::One(_) | What::Two(..) => {
            let ids = found.ids(item.what);
            !truth.is_empty() && ids.len() == truth.len() && truth.iter().all(|one| ids.contains(one))
        }
    })
}

/// A place on a curve, drawn by how likely its sizes are.
fn drawn_place(curve: &super::curve::Curve, uniform: &mut impl FnMut() -> f64) -> At {
    let mut at = uniform();
    for place in 0..curve.places.len() {
        if at < curve.at[place] {
            return curve.places[place];
        }
        at -= curve.at[place];
        if at < curve.between[place] {
            return curve.place_between(place, at / curve.between[place]);
        }
        at -= curve.between[place];
    }
    curve.places[curve.places.len() - 1]
}
