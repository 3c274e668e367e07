//! Which readings would tell a number that these can't.

use nalgebra::DMatrix;

use super::bench::{Bench, Place};
use super::found::{Calibratable, CalibrationAsked};
use super::readings::{Reading, would_be};
use crate::plan::kinds::Reading as Shows;
use crate::plan::words::list;
use crate::plan::{CaughtLiquid, HALF_OF_95, Item, PartItem};
use crate::quantities::Measure;
use crate::studies::Studied;
use crate::studies::catch_test::prepare::GAUGE_CLASS;

/// A finer gauge reads so many times as well: class 0.4 beside 1.6 (EN 837-1, from memory).
const FINER: f64 = 4.0;

/// Scatter of a catch that nobody made, as a part of it.
const CATCH_SD: f64 = 0.01;

/// Readings that could be taken besides.
#[derive(Clone)]
struct More {
    readings: Vec<Reading>,
    words: String,
}

impl More {
    /// The same by a finer gauge.
    fn finer(&self) -> Self {
        let finer = |one: &Reading| Reading { sd: one.sd / FINER, ..*one };
        Self {
            readings: self.readings.iter().map(finer).collect(),
            words: format!("{} of class 0.4", self.words),
        }
    }
}

/// All twos of them.
fn pairs(singles: &[More]) -> impl Iterator<Item = More> {
    singles.iter().enumerate().flat_map(|(place, one)| {
        singles[place + 1..].iter().map(|other| More {
            readings: one.readings.iter().chain(&other.readings).copied().collect(),
            words: list(&[one.words.clone(), other.words.clone()]),
        })
    })
}

/// Which readings would tell a number better than it is assumed, besides those that are told: the fewest, of these the best.
/// A sentence without a full stop.
pub(super) fn words(
    of: &Studied<'_>,
    asked: &CalibrationAsked,
    bench: &Bench<'_, '_>,
    told: &[usize],
    at: usize,
    readings: &[Reading],
) -> String {
    let mut free = told.to_vec();
    free.push(at);
    let number = &bench.numbers[at];
    let of_bench = bench.covariance(&free);
    let within = |more: &[Reading], free: &[usize], of_bench: &DMatrix<f64>| {
        let all: Vec<Reading> = readings.iter().chain(more).copied().collect();
        let covariance = would_be(bench, free, of_bench, &all)?;
        let last = free.len() - 1;
        let sd = covariance[(last, last)].sqrt();
        (sd < number.sd).then_some(HALF_OF_95 * sd)
    };
    let percent = |part: f64| Measure::Percent.text(part, of.project.units);
    let singles = singles(of, bench, readings);
    let best = |offers: &mut dyn Iterator<Item = More>| {
        offers
            .filter_map(|one| Some((within(&one.readings, &free, &of_bench)?, one.words)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let found = best(&mut singles.iter().cloned())
        .or_else(|| best(&mut pairs(&singles).chain(singles.iter().map(More::finer))));
    if let Some((within, words)) = found {
        return format!("{words} would tell it within ±{}", percent(within));
    }
    // Water's viscosity is known: what an orifice or filter takes of it is told alone.
    let viscosity = bench.numbers.iter().position(|one| one.is == Some(Calibratable::Viscosity));
    if let (CaughtLiquid::Product, Some(viscosity)) = (asked.liquid, viscosity)
        && at != viscosity
    {
        let alone: Vec<usize> = free.iter().copied().filter(|one| *one != viscosity).collect();
        // As if it were fitted, a viscosity that is known adds nothing.
        let known: Vec<usize> = alone.iter().copied().chain([viscosity]).collect();
        let of_water = bench.covariance(&known);
        let found =
            singles.iter().filter_map(|one| Some((within(&one.readings, &alone, &of_water)?, &one.words)));
        if let Some((within, words)) = found.min_by(|a, b| a.0.total_cmp(&b.0)) {
            return format!(
                "the same with clean water, whose viscosity is known, and {words} would tell it within ±{}",
                percent(within)
            );
        }
    }
    match number.is {
        Some(Calibratable::Viscosity) => {
            "no catch or gauge on this bar would: time a cup, or take it from the product's sheet".to_owned()
        }
        _ => "no catch or gauge on this bar would: measure it by itself on a bench, with a fine gauge before and behind it"
            .to_owned(),
    }
}

/// Each gauge that could be read, and the rows that were not caught.
fn singles(of: &Studied<'_>, bench: &Bench<'_, '_>, readings: &[Reading]) -> Vec<More> {
    let is_read = |place: usize| readings.iter().any(|one| one.place == place);
    let mut all = Vec::new();
    let mut rows = Vec::new();
    for (place, what) in bench.places.iter().enumerate().filter(|(place, _)| !is_read(*place)) {
        let shown = bench.assumed[place];
        let words = match what {
            Place::Row(_) => {
                rows.push(Reading { place, shown, sd: CATCH_SD * shown });
                continue;
            }
            Place::Pump => "a gauge at the pump's outlet".to_owned(),
            Place::Part(id) => {
                let part = of.routing.routing.part(*id);
                let item = part.and_then(|part| of.project.catalogue.item(&part.entry));
                // Where no gauge is or goes, none is asked for.
                let (Some(part), Some(item)) = (part, item.filter(|item| bears_gauge(item))) else {
                    continue;
                };
                match item.facts().reading {
                    Some(Shows::Pressure) => format!("reading gauge {}", part.tag),
                    _ => format!("a gauge at {}", part.tag),
                }
            }
        };
        let sd = GAUGE_CLASS * full_scale(of, shown);
        all.push(More {
            readings: vec![Reading { place, shown, sd }],
            words: format!("{words} ({})", scale_words(of, full_scale(of, shown))),
        });
    }
    if !rows.is_empty() {
        all.push(More { readings: rows, words: "catching the rows that were not caught".to_owned() });
    }
    all
}

/// It is a gauge, or one goes onto it.
fn bears_gauge(item: &PartItem) -> bool {
    item.read_at().is_some() || item.facts().reading == Some(Shows::Pressure)
}

/// Full scale of the smallest gauge of the catalogue that bears a pressure, or half as much again where it has none. Pa.
fn full_scale(of: &Studied<'_>, pressure: f64) -> f64 {
    let gauges = of.project.catalogue.entries.iter().filter_map(|entry| match entry.item {
        Item::Part(PartItem::Gauge(gauge)) => Some(gauge.full_scale.si()),
        _ => None,
    });
    gauges.filter(|scale| *scale >= pressure).min_by(f64::total_cmp).unwrap_or(1.5 * pressure)
}

fn scale_words(of: &Studied<'_>, scale: f64) -> String {
    format!("0 to {}", Measure::Pressure.short_text(scale, of.project.units))
}
