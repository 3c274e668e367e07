//! Collects what is wrong at one place of a plan.

use std::collections::BTreeSet;
use std::fmt;

use crate::geometry::Point3;
use crate::plan::bounds::Bound;
use crate::plan::letters::{self, Lines};
use crate::plan::problems::{Problem, Problems};
use crate::plan::words::short;
use crate::plan::{Bar, BarPoint, Calibrated};
use crate::quantities::{Measure, Pressure, plain};

/// Farthest from the origin that anything may be, metres: beyond it a coordinate is a slip of the unit.
pub const FARTHEST: f64 = 200.0;

/// Above this no pressure is anything but a slip of the unit, Pa.
pub(super) const MOST_PRESSURE: f64 = 1e9;

/// Collects problems of one place.
pub(super) struct Review {
    pub(super) place: String,
    pub(super) problems: Problems,
}

impl Review {
    pub(super) fn of(place: impl Into<String>) -> Self {
        Self { place: place.into(), problems: Problems::default() }
    }

    pub(super) fn claim(&mut self, holds: bool, what: impl FnOnce() -> String, advice: &str) {
        if !holds {
            let place = &self.place;
            self.problems.add(|| Problem { place: place.clone(), what: what(), advice: advice.to_owned() });
        }
    }

    /// Not more of it than may be.
    pub(super) fn bound(&mut self, bound: Bound, whose: &str, found: usize) {
        if let Some(problem) = bound.broken_by(&self.place, whose, found) {
            self.problems.push(problem);
        }
    }

    /// A text that is not too long and holds nothing that can't be seen.
    pub(super) fn text(&mut self, name: &str, text: &str, bound: Bound) {
        // Bytes are counted at once; letters only where a text is near its bound.
        if text.len() > bound.most() {
            self.bound(bound, name, text.chars().count());
        }
        let lines = if bound == Bound::Note { Lines::Several } else { Lines::One };
        if let Some(letter) = letters::first_refused(text, lines) {
            self.claim(
                false,
                || format!("{name} \"{}\" holds {}", short(text), letters::named(letter)),
                "type it anew without that",
            );
        }
    }

    /// A pressure that something is set to or bears: above zero, and no more than anything of this trade bears by far.
    pub(super) fn pressure(&mut self, name: &str, value: Pressure) {
        self.above_zero(name, Measure::Pressure, value.si(), MOST_PRESSURE);
    }

    /// A number above zero, in the stored unit, and no larger than anything of this trade is by far.
    pub(super) fn above_zero(&mut self, name: &str, measure: Measure, value: f64, most: f64) {
        let positive = value.is_finite() && value > 0.0;
        let but = if positive { "" } else { ", but must be above zero" };
        self.claim(
            positive && value <= most,
            || format!("{name} is {}{but}", measure.text_and_stored(value)),
            &format!("give a number above zero, at most {}", measure.text_and_stored(most)),
        );
    }

    /// A number in a range, both in the stored unit.
    pub(super) fn number(&mut self, name: &str, measure: Measure, value: f64, least: f64, most: f64) {
        self.claim(
            value.is_finite() && value >= least && value <= most,
            || format!("{name} is {}", measure.text_and_stored(value)),
            &format!(
                "give a number from {} to {}",
                measure.text_and_stored(least),
                measure.text_and_stored(most)
            ),
        );
    }

    pub(super) fn point(&mut self, name: &str, point: Point3) {
        let within = point.is_finite() && [point.x, point.y, point.z].iter().all(|one| one.abs() <= FARTHEST);
        let advice = "coordinates are metres from the bar's centre";
        let place = [point.x, point.y, point.z].map(plain).join(", ");
        self.claim(within, || format!("{name} lies at ({place})"), advice);
    }

    pub(super) fn riding(&mut self, name: &str, point: BarPoint, bar: &Bar) {
        self.point(name, point.place);
        self.claim(
            bar.section(point.section).is_some(),
            || format!("{name} rides on a section with id {}, which does not exist", point.section.0),
            "name a section of the bar",
        );
    }

    /// Where a calibrated number is from.
    pub(super) fn calibrated(&mut self, by: &Calibrated) {
        self.text("the day it was calibrated", &by.on, Bound::Name);
        self.text("the test it was calibrated from", &by.test, Bound::Name);
        self.number(
            "temperature of the calibration",
            Measure::Temperature,
            by.temperature.si(),
            -60.0,
            120.0,
        );
        // As much as a thousand times itself is nothing that anybody calls known.
        self.above_zero("what a calibrated number is known within", Measure::Percent, by.within.si(), 1000.0);
    }

    pub(super) fn name(&mut self, name: &str, text: &str) {
        self.claim(!text.trim().is_empty(), || format!("{name} is empty"), "give it a short name");
        self.text(name, text, Bound::Name);
    }
}

pub(super) fn unique<T: Ord + Copy + fmt::Display>(
    review: &mut Review,
    name: &str,
    all: impl Iterator<Item = T>,
) {
    let mut seen = BTreeSet::new();
    for one in all {
        review.claim(
            seen.insert(one),
            || format!("two have the {name} {}", short(&one.to_string())),
            "change one of them",
        );
    }
}
