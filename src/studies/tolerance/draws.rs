//! Random numbers of bars that are built: each bar and spread has a stream of its own, so that the same bar has the same
//! parts whichever thread draws it, and a spread left out changes no other.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal, Triangular, Uniform};

use super::scatter::Scatter;
use crate::hydraulics::fluid::Fluid;
use crate::plan::{Liquid, Shape, SpreadKind};
use crate::quantities::Temperature;

/// No part has less than this share of what it should have: it would not be built in.
const LEAST_SHARE: f64 = 0.05;

/// Draws of one piece until one can be built in.
const MOST_DRAWS: u32 = 100;

/// Streams set aside for the spreads of one bar.
const STREAMS: u64 = 64;

/// Draws of mean 0 and standard deviation 1.
#[derive(Debug, Clone, Copy)]
pub(in crate::studies) struct Draw {
    shape: Shape,
    rectangular: Option<Uniform<f64>>,
    triangular: Option<Triangular<f64>>,
}

impl Draw {
    pub(in crate::studies) fn of(shape: Shape) -> Self {
        let (flat, peaked) = (3.0_f64.sqrt(), 6.0_f64.sqrt());
        Self {
            shape,
            rectangular: Uniform::new_inclusive(-flat, flat).ok(),
            triangular: Triangular::new(-peaked, peaked, 0.0).ok(),
        }
    }

    pub(in crate::studies) fn next(&self, random: &mut ChaCha8Rng) -> f64 {
        let other = match self.shape {
            Shape::Normal => None,
            Shape::Rectangular => self.rectangular.map(|one| one.sample(random)),
            Shape::Triangular => self.triangular.map(|one| one.sample(random)),
        };
        other.unwrap_or_else(|| StandardNormal.sample(random))
    }
}

/// The parts of one bar after the other.
#[derive(Debug, Clone)]
pub(in crate::studies) struct Bars<'a> {
    scatter: &'a Scatter,
    liquid: &'a Liquid,
    temperature: Temperature,
    planned: Fluid,
    draws: Vec<Draw>,
    random: ChaCha8Rng,
    /// Of the bar drawn last: the numbers that scatter, SI.
    pub(in crate::studies) values: Vec<f64>,
    /// And its liquid.
    pub(in crate::studies) fluid: Fluid,
}

impl<'a> Bars<'a> {
    pub(in crate::studies) fn new(
        scatter: &'a Scatter,
        liquid: &'a Liquid,
        temperature: Temperature,
        planned: Fluid,
        seed: u64,
    ) -> Self {
        Self {
            scatter,
            liquid,
            temperature,
            planned,
            draws: scatter.groups.iter().map(|group| Draw::of(group.spread.shape)).collect(),
            random: ChaCha8Rng::seed_from_u64(seed),
            values: scatter.planned.clone(),
            fluid: planned,
        }
    }

    /// Draws the bar of a number; one spread may be left out.
    pub(in crate::studies) fn draw(&mut self, bar: u64, without: Option<SpreadKind>) {
        self.values.copy_from_slice(&self.scatter.planned);
        self.fluid = self.planned;
        let mut thicker = 1.0;
        for (group, draw) in self.scatter.groups.iter().zip(&self.draws) {
            if without == Some(group.kind) {
                continue;
            }
            self.random.set_stream(bar * STREAMS + group.kind as u64);
            self.random.set_word_pos(0);
            match group.kind {
                SpreadKind::Temperature => {
                    let off = draw.next(&mut self.random) * group.spread.sd;
                    if let Some(state) = self.liquid.at(Temperature::from_si(self.temperature.si() + off)) {
                        self.fluid =
                            Fluid { density_kg_m3: state.density.si(), viscosity_pa_s: state.viscosity.si() };
                    }
                }
                SpreadKind::Viscosity => {
                    thicker = above(1.0, || 1.0 + group.spread.sd * draw.next(&mut self.random));
                }
                _ if group.spread.common => {
                    let off = draw.next(&mut self.random);
                    for piece in group.pieces.clone() {
                        let planned = self.scatter.planned[piece];
                        let value = planned + off * self.scatter.sd(group, piece);
                        self.values[piece] = value.max(LEAST_SHARE * planned);
                    }
                }
                _ => {
                    for piece in group.pieces.clone() {
                        let (planned, sd) = (self.scatter.planned[piece], self.scatter.sd(group, piece));
                        self.values[piece] = above(planned, || planned + sd * draw.next(&mut self.random));
                    }
                }
            }
        }
        self.fluid.viscosity_pa_s *= thicker;
    }
}

/// Draws until a value is one that is built in.
fn above(planned: f64, mut draw: impl FnMut() -> f64) -> f64 {
    let least = LEAST_SHARE * planned;
    (0..MOST_DRAWS).map(|_| draw()).find(|value| *value >= least).unwrap_or(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 101:2008, 9.2: the sum of four inputs, its standard uncertainty, and the ends of the probabilistically
    /// symmetric 95 % interval.
    #[test]
    fn sums_are_spread_as_in_jcgm_101() {
        const COUNT: usize = 200_000;
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let (normal, flat) = (Draw::of(Shape::Normal), Draw::of(Shape::Rectangular));
        let mut check = |inputs: [(Draw, f64); 4], sd: f64, end: f64, within: f64| {
            let mut sums: Vec<f64> = (0..COUNT)
                .map(|_| inputs.iter().map(|(draw, sd)| draw.next(&mut random) * sd).sum())
                .collect();
            let found = (sums.iter().map(|sum| sum * sum).sum::<f64>() / COUNT as f64).sqrt();
            sums.sort_by(f64::total_cmp);
            let ends = [sums[COUNT * 25 / 1000], sums[COUNT * 975 / 1000]];
            assert!((found / sd - 1.0).abs() < within, "{found} against {sd}");
            assert!((ends[0] / -end - 1.0).abs() < 2.0 * within, "{ends:?} against {end}");
            assert!((ends[1] / end - 1.0).abs() < 2.0 * within, "{ends:?} against {end}");
        };
        check([(normal, 1.0); 4], 2.0, 3.92, 0.006);
        check([(flat, 1.0); 4], 2.0, 3.88, 0.006);
        check([(flat, 1.0), (flat, 1.0), (flat, 1.0), (flat, 10.0)], 10.1, 17.0, 0.01);
    }

    #[test]
    fn every_shape_has_the_standard_deviation_it_says() {
        for shape in Shape::ALL {
            let (draw, mut random) = (Draw::of(shape), ChaCha8Rng::seed_from_u64(5));
            let all: Vec<f64> = (0..100_000).map(|_| draw.next(&mut random)).collect();
            let mean = all.iter().sum::<f64>() / 1e5;
            let sd = (all.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / 1e5).sqrt();
            assert!(mean.abs() < 0.015 && (sd - 1.0).abs() < 0.01, "{shape:?}: {mean}, {sd}");
        }
    }

    #[test]
    fn no_part_is_built_in_that_is_hardly_there() {
        let mut tries = [-1.0, 0.02, 0.8].into_iter();
        assert_eq!(above(1.0, || tries.next().unwrap_or(0.0)), 0.8);
        assert_eq!(above(1.0, || -1.0), 0.05);
    }
}
