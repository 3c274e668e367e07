//! What deviations and pressures are as heights in the strip.

use eframe::egui::Rect;

use crate::drawing::PressureScale;
use crate::hydraulics::outcome::Outcome;
use crate::plan::Project;
use crate::quantities::Ratio;

/// Deviation to screen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    pub(super) lowest: f64,
    highest: f64,
    top: f32,
    bottom: f32,
}

impl Scale {
    /// Holds every bar, the mean and the band, with some air.
    pub(super) fn of(outcomes: [Option<&Outcome>; 2], project: &Project, plot: Rect) -> Self {
        let limit =
            project.limits.row_deviation.si().max(project.limits.design_deviation.si()).max(0.005) * 1.25;
        let rows = || outcomes.into_iter().flatten().flat_map(|outcome| outcome.rows());
        let values = || rows().filter_map(|row| row.deviation);
        let values = || values().map(Ratio::si).filter(|value| value.is_finite());
        let lowest = values().fold(-limit, |low, value| low.min(value * 1.08));
        let highest = values().fold(limit, |high, value| high.max(value * 1.08));
        Self { lowest, highest, top: plot.top(), bottom: plot.bottom() }
    }

    /// The same, and these deviations too.
    pub(super) fn holding(self, reach: Option<(f64, f64)>) -> Self {
        let (low, high) = reach.unwrap_or((0.0, 0.0));
        Self { lowest: self.lowest.min(low * 1.04), highest: self.highest.max(high * 1.04), ..self }
    }

    /// From the lowest edge of a class to the highest; values are pressures in Pa.
    pub(super) fn of_pressures(scale: &PressureScale, plot: Rect) -> Self {
        let edges = scale.edges();
        let (lowest, highest) =
            edges.first().zip(edges.last()).map_or((0.0, 1.0), |(low, high)| (low.si(), high.si()));
        Self { lowest, highest, top: plot.top() + 6.0, bottom: plot.bottom() - 6.0 }
    }

    pub(super) fn y(&self, deviation: f64) -> f32 {
        let share = (deviation - self.lowest) / (self.highest - self.lowest);
        self.bottom - (self.bottom - self.top) * share as f32
    }

    /// Round steps that leave room for words.
    pub(super) fn marks(&self) -> Vec<f64> {
        let per_point = (self.highest - self.lowest) / f64::from(self.bottom - self.top);
        let least = per_point * 17.0;
        let power = 10f64.powf(least.log10().floor());
        let leads = [1.0, 2.0, 2.5, 5.0, 10.0];
        let step = leads.into_iter().map(|lead| lead * power).find(|step| *step >= least).unwrap_or(least);
        let (first, last) = ((self.lowest / step).ceil() as i64, (self.highest / step).floor() as i64);
        let mut marks: Vec<f64> = (first..=last).map(|mark| mark as f64 * step).collect();
        if marks.len() < 2 {
            // A low strip: nothing and one more number are a scale still.
            let farthest = if self.highest > -self.lowest { self.highest } else { self.lowest };
            let power = 10f64.powf(farthest.abs().log10().floor());
            marks.push((farthest.abs() / power).floor() * power * farthest.signum());
        }
        marks
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round_and_within() {
        let scale = Scale { lowest: -0.0625, highest: 0.083, top: 0.0, bottom: 130.0 };
        let percent: Vec<i64> = scale.marks().iter().map(|mark| (mark * 1000.0).round() as i64).collect();
        assert_eq!(percent, [-60, -40, -20, 0, 20, 40, 60, 80]);
        assert!(scale.y(0.083) >= -1e-3 && scale.y(-0.0625) <= 130.0 + 1e-3);
    }
}
