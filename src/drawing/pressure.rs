//! Gauge pressures sorted into classes between round edges, which colours stand for.

use std::collections::BTreeMap;

use crate::hydraulics::outcome::{Outcome, RowState};
use crate::plan::{FeedElement, FeedId, LaidRouting, PartItem, Project, RowId};
use crate::quantities::{Measure, Pressure, UnitSystem};

/// One class of a [`PressureScale`]: 0 is the lowest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PressureClass {
    /// Its place, from 0.
    pub index: u8,
    /// How many classes the scale has, above 0.
    pub count: u8,
}

impl PressureClass {
    /// Its place on a colour map, 0 (lowest) to 1.
    pub fn share(self) -> f64 {
        if self.count < 2 {
            0.5
        } else {
            f64::from(self.index.min(self.count - 1)) / f64::from(self.count - 1)
        }
    }
}

/// Classes of equal width whose edges are round numbers in the units shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureScale {
    units: UnitSystem,
    /// Width of a class in the unit shown.
    step: f64,
    /// The lowest edge, in steps.
    first: i64,
    count: u8,
}

/// A legend with more classes than this is not read at a glance.
const MOST_CLASSES: i64 = 7;

impl PressureScale {
    /// Holds every pressure of the parts, runs and rows that have one; none where nothing has.
    pub fn of(project: &Project, routing: LaidRouting, outcome: &Outcome) -> Option<Self> {
        let numbers = outcome.numbers()?;
        let parts = numbers.parts.iter().filter_map(|part| part.pressure);
        let runs = numbers.runs.iter().flat_map(|run| [run.pressure_from, run.pressure_to]).flatten();
        let rows = rows_ahead_of_metering(project, routing, outcome);
        Self::around(parts.chain(runs).chain(rows.into_values()), project.units)
    }

    /// Holds all of some pressures.
    pub fn around(pressures: impl IntoIterator<Item = Pressure>, units: UnitSystem) -> Option<Self> {
        let mut range: Option<(f64, f64)> = None;
        for pressure in pressures.into_iter().filter(|one| one.is_finite()) {
            let value = Measure::Pressure.shown(pressure.si(), units);
            range = Some(range.map_or((value, value), |(low, high)| (low.min(value), high.max(value))));
        }
        let (low, high) = range?;
        // The smallest round step that needs few enough classes; never finer than the numbers are written.
        let finest = 0.1f64.powf(Measure::Pressure.unit(units).decimals as f64);
        let steps =
            (0u8..40).map(|at| [1.0, 2.0, 5.0][usize::from(at % 3)] * 10f64.powi(i32::from(at / 3)) * finest);
        let fits = |step: f64| {
            let (first, last) = ((low / step + 1e-9).floor() as i64, (high / step - 1e-9).ceil() as i64);
            (last - first <= MOST_CLASSES).then_some((step, first, (last - first).max(1)))
        };
        let (step, first, count) = steps.into_iter().find_map(fits)?;
        Some(Self { units, step, first, count: u8::try_from(count).ok()? })
    }

    /// The class of a pressure; one outside the scale takes the nearest.
    pub fn class(&self, pressure: Pressure) -> PressureClass {
        let shown = Measure::Pressure.shown(pressure.si(), self.units);
        let index = (shown / self.step + 1e-9).floor() as i64 - self.first;
        PressureClass { index: index.clamp(0, i64::from(self.count) - 1) as u8, count: self.count }
    }

    /// All classes from the lowest to the highest.
    pub fn classes(&self) -> impl Iterator<Item = PressureClass> + use<> {
        let count = self.count;
        (0..count).map(move |index| PressureClass { index, count })
    }

    /// The edges between classes and at both ends, rising: one more than there are classes.
    pub fn edges(&self) -> Vec<Pressure> {
        let stored = |edge: i64| Measure::Pressure.stored(edge as f64 * self.step, self.units);
        (self.first..=self.first + i64::from(self.count))
            .map(|edge| Pressure::from_si(stored(edge)))
            .collect()
    }

    /// The words of a legend: `1.2 to 1.4 bar`.
    pub fn legend(&self, class: PressureClass) -> String {
        let edges = self.edges();
        let edge = |index: usize| edges.get(index).map_or(0.0, |edge| edge.si());
        let index = usize::from(class.index);
        format!(
            "{} to {}",
            Measure::Pressure.number(edge(index), self.units),
            Measure::Pressure.text(edge(index + 1), self.units)
        )
    }
}

/// The gauge pressure ahead of the metering of every fed row. Where check valve and metering end the feed it is the
/// sum of what they take, for they open to the air; where they sit on the manifold and tube follows, it is the
/// manifold's. A row that has neither is left out.
pub fn rows_ahead_of_metering(
    project: &Project,
    routing: LaidRouting,
    outcome: &Outcome,
) -> BTreeMap<RowId, Pressure> {
    let mut drops: BTreeMap<(FeedId, Option<usize>, usize), Option<Pressure>> = BTreeMap::new();
    for element in outcome.elements() {
        drops.insert((element.feed, element.branch, element.index), element.drop);
    }
    let mut found = BTreeMap::new();
    for row in outcome.rows() {
        if row.state != RowState::Fed {
            continue;
        }
        let Some(feed) = row.feed.and_then(|id| routing.feed(id)) else { continue };
        let Some(at) = feed.branches.iter().position(|branch| branch.row == row.row) else { continue };
        let elements = &feed.branches[at].elements;
        let is_tube = |element: &FeedElement| matches!(element, FeedElement::Tube(_));
        let after = elements.iter().rposition(is_tube).map_or(0, |last| last + 1);
        let pressure = if after < elements.len() {
            let ends =
                (after..elements.len()).map(|index| drops.get(&(feed.id, Some(at), index)).copied()?);
            ends.sum::<Option<Pressure>>()
        } else if feed.trunk.is_empty() && !elements.first().is_none_or(is_tube) {
            row.outlet.and_then(|(part, _)| outcome.part(part)?.pressure)
        } else {
            None
        };
        if let Some(pressure) = pressure.filter(|one| one.is_finite()) {
            found.insert(row.row, pressure);
        }
    }
    // Only rows that the project still has.
    found.retain(|row, _| project.bar.row(*row).is_some());
    found
}

/// A part whose body is filled with the colour of its pressure.
pub(super) const fn is_filled(item: &PartItem) -> bool {
    matches!(item, PartItem::Manifold(_))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale(low: f64, high: f64, units: UnitSystem) -> PressureScale {
        PressureScale::around([Pressure::bar(low), Pressure::bar(high)], units).unwrap()
    }

    #[test]
    fn edges_are_round_and_hold_all() {
        for (low, high, first, last, count) in [
            (0.93, 1.58, 0.9, 1.6, 7),
            (0.0, 4.0, 0.0, 4.0, 4),
            (1.21, 1.214, 1.21, 1.22, 1),
            (0.5, 0.5, 0.5, 0.51, 1),
        ] {
            let scale = scale(low, high, UnitSystem::Metric);
            let edges = scale.edges();
            let near = |edge: Pressure, bar: f64| (edge.si() / 1e5 - bar).abs() < 1e-9;
            assert!(
                near(edges[0], first) && near(edges[edges.len() - 1], last),
                "{low} to {high}: {edges:?}"
            );
            assert_eq!(scale.classes().count(), count, "{low} to {high}");
            assert_eq!(scale.class(Pressure::bar(low)).index, 0);
            assert_eq!(usize::from(scale.class(Pressure::bar(high)).index) + 1, count);
        }
        assert!(PressureScale::around([], UnitSystem::Metric).is_none());
        assert!(PressureScale::around([Pressure::from_si(f64::NAN)], UnitSystem::Metric).is_none());
    }

    #[test]
    fn words_are_in_the_units_shown() {
        let metric = scale(0.93, 1.58, UnitSystem::Metric);
        assert_eq!(metric.legend(metric.class(Pressure::bar(1.25))), "1.20 to 1.30 bar");
        let customary = scale(0.93, 1.58, UnitSystem::UsCustomary);
        assert_eq!(customary.legend(customary.class(Pressure::bar(1.25))), "18.0 to 20.0 psi");
    }
}
