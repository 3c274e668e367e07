//! Whether a design may be built from its papers, and what keeps it from that or stops it at the pressure test.

use super::closed_test::{ClosedTest, StopReason};
use super::finding::{Finding, Severity};
use crate::hydraulics::Outcome;
use crate::plan::{Project, words};
use crate::quantities::{Measure, Ratio, Speed, UnitSystem};

/// What keeps a design from being released.
#[derive(Debug, Clone, PartialEq)]
pub enum HoldReason {
    /// There are no flows to judge it by.
    NotSolved,
    /// Findings of severity error are open.
    Errors {
        /// How many.
        count: usize,
        /// Where they are, in words, each place once.
        places: Vec<String>,
    },
    /// Rows are expected farther from their target than the project's limit.
    RowsOutside {
        /// Their numbers, rising.
        rows: Vec<u32>,
        /// The largest deviation of them, without its sign.
        worst: Ratio,
        /// The ground speed of that.
        speed: Speed,
        /// The limit that they are held against.
        limit: Ratio,
    },
}

/// Whether a routing may be built for one duty: released, unless there is a reason against it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Release {
    /// What keeps it from being released; nothing where it is released.
    pub reasons: Vec<HoldReason>,
    /// What stops it before the pressure test; nothing where that may be asked for.
    pub stops: Vec<StopReason>,
}

impl Release {
    /// From what the checks find at a duty's speeds and slopes, and from the solves of these: the same operating points
    /// for both; and from what is known of the pressure test. Hidden findings count too.
    pub fn of<'a>(
        project: &Project,
        findings: &[Finding],
        outcomes: impl IntoIterator<Item = &'a Outcome>,
        test: Option<&ClosedTest>,
    ) -> Self {
        let mut reasons = Vec::new();
        let errors = || findings.iter().filter(|finding| finding.severity == Severity::Error);
        let mut places: Vec<String> = Vec::new();
        for finding in errors() {
            if !places.contains(&finding.place) {
                places.push(finding.place.clone());
            }
        }
        if !places.is_empty() {
            reasons.push(HoldReason::Errors { count: errors().count(), places });
        }
        let limit = project.limits.row_deviation;
        let mut rows = Vec::new();
        let mut worst: Option<(Ratio, Speed)> = None;
        let (mut solved, mut any) = (true, false);
        for outcome in outcomes {
            any = true;
            solved &= outcome.result.is_ok();
            for row in outcome.rows() {
                let Some(deviation) = row.deviation.map(Ratio::abs) else { continue };
                if !is_outside(deviation, limit, project.units) {
                    continue;
                }
                rows.push(row.number);
                if worst.is_none_or(|(known, _)| deviation > known) {
                    worst = Some((deviation, outcome.point.speed));
                }
            }
        }
        if !(solved && any) {
            reasons.push(HoldReason::NotSolved);
        }
        rows.sort_unstable();
        rows.dedup();
        if let Some((worst, speed)) = worst {
            reasons.push(HoldReason::RowsOutside { rows, worst, speed, limit });
        }
        Self { reasons, stops: test.map(|test| test.stops.clone()).unwrap_or_default() }
    }

    /// Nothing keeps it from being released; it may have to stop before the pressure test.
    pub const fn is_released(&self) -> bool {
        self.reasons.is_empty()
    }

    /// Why it stops before the pressure test, in words; none where it does not.
    pub fn stop_words(&self, units: UnitSystem) -> Option<String> {
        let why: Vec<String> = self.stops.iter().map(|one| one.words(units)).collect();
        (!why.is_empty()).then(|| format!("stop before the pressure test: {}", why.join("; ")))
    }

    /// In words for papers, lists and screens: `released`, `released, but stop before the pressure test: ` and why, or
    /// `not released: ` and why.
    pub fn words(&self, units: UnitSystem) -> String {
        let why: Vec<String> = self.reasons.iter().map(|one| one.words(units)).collect();
        match (self.is_released(), self.stop_words(units)) {
            (true, None) => "released".to_owned(),
            (true, Some(stop)) => format!("released, but {stop}"),
            (false, None) => format!("not released: {}", why.join("; ")),
            (false, Some(stop)) => format!("not released: {}; and {stop}", why.join("; ")),
        }
    }

    /// The same for a line by itself, which begins with what it is in capital letters; none where it is released and nothing
    /// stops it.
    pub fn warning(&self, units: UnitSystem) -> Option<String> {
        let words = self.words(units);
        if !self.is_released() {
            Some(words.replacen("not released", "NOT RELEASED", 1))
        } else if self.stops.is_empty() {
            None
        } else {
            Some(format!("STOP: {words}"))
        }
    }
}

impl HoldReason {
    /// Lower case, without a full stop.
    pub fn words(&self, units: UnitSystem) -> String {
        match self {
            Self::NotSolved => "the flows are not solved at every speed".to_owned(),
            Self::Errors { count, places } => {
                format!("{} open ({})", words::counted(*count, "error"), words::short_list(places, 4))
            }
            Self::RowsOutside { rows, worst, speed, limit } => format!(
                "{} expected more than {} off target, up to {} at {}",
                match rows.len() {
                    1 => format!("row {}", words::ranges(rows)),
                    many => {
                        format!("{many} rows ({})", words::short_list(&words::range_pieces(rows), 5))
                    }
                },
                Measure::Percent.short_text(limit.si(), units),
                Measure::Percent.text(worst.si(), units),
                Measure::GroundSpeed.short_text(speed.si(), units)
            ),
        }
    }
}

/// Beyond a limit as it is printed: a deviation that reads as the limit itself is within it.
pub fn is_outside(deviation: Ratio, limit: Ratio, units: UnitSystem) -> bool {
    let printed = |ratio: Ratio| Measure::Percent.rounded(ratio.si(), units);
    deviation > limit && printed(deviation) > printed(limit)
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Control, ReliefValve};
    use crate::quantities::Pressure;

    fn release(sample: &Sample) -> Release {
        let geometry = sample.geometry();
        let test = ClosedTest::of(&sample.project, geometry.with(&sample.routing), [&sample.outcome]);
        Release::of(&sample.project, &sample.all(), [&sample.outcome], test.as_ref())
    }

    #[test]
    fn a_sound_bar_is_released() {
        let mut sample = Sample::new();
        sample.add_gauge();
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(3.0) };
        sample.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(3.5));
        assert_eq!(release(&sample).words(UnitSystem::Metric), "released");
        assert_eq!(release(&sample).warning(UnitSystem::Metric), None);
    }

    #[test]
    fn rows_outside_their_limit_keep_it_back_and_are_counted_as_printed() {
        let mut sample = Sample::with_rows(12);
        sample.add_gauge();
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(3.0) };
        sample.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(3.5));
        for (row, percent) in [(0, 5.04), (3, -7.2), (4, 5.2), (7, 4.9)] {
            sample.numbers().rows[row].deviation = Some(Ratio::percent(percent));
        }
        let release = release(&sample);
        assert_eq!(
            release.words(UnitSystem::Metric),
            "not released: 2 rows (4 and 5) expected more than 5 % off target, up to 7.2 % at 9 km/h",
            "5.04 % prints as the limit"
        );
        assert!(
            release.warning(UnitSystem::Metric).is_some_and(|one| one.starts_with("NOT RELEASED: 2 rows"))
        );
    }

    #[test]
    fn errors_keep_it_back_and_hiding_them_changes_nothing() {
        let mut sample = Sample::new();
        sample.routing.feeds.pop();
        sample.resolve();
        let held = release(&sample);
        let HoldReason::Errors { count, places } = &held.reasons[0] else { panic!("{held:?}") };
        assert_eq!(*count, sample.all().iter().filter(|one| one.severity == Severity::Error).count());
        assert!(!places.is_empty() && held.words(UnitSystem::Metric).contains(&places[0]), "{held:?}");
        let error = sample.all().into_iter().find(|one| one.severity == Severity::Error).unwrap();
        sample.project.dismissed.push(error.dismissal("known", ""));
        assert_eq!(release(&sample), held);
    }

    #[test]
    fn what_is_not_solved_is_not_released() {
        let sample = Sample::new();
        let none = Release::of(&sample.project, &[], [], None);
        assert_eq!(none.reasons, [HoldReason::NotSolved]);
    }

    /// The sample has no gauge; without a word about its relief valve nothing guards it either.
    #[test]
    fn what_can_t_be_tested_is_released_with_a_stop_before_the_test() {
        let mut sample = Sample::new();
        sample.project.supply.relief_valve = ReliefValve::NotSaid;
        let release = release(&sample);
        assert!(release.is_released());
        let words = release.words(UnitSystem::Metric);
        assert_eq!(
            words,
            "released, but stop before the pressure test: nobody said whether a relief valve guards the bar; no gauge is in \
             the plan to show 4.00 bar"
        );
        assert_eq!(release.warning(UnitSystem::Metric), Some(format!("STOP: {words}")));
    }
}
