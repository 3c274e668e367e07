//! Whether a design may be built from its papers, and what keeps it from that.

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
}

impl Release {
    /// From what the checks find at a duty's speeds and slopes, and from the solves of these: the same operating points
    /// for both. Hidden findings count too.
    pub fn of<'a>(
        project: &Project,
        findings: &[Finding],
        outcomes: impl IntoIterator<Item = &'a Outcome>,
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
        Self { reasons }
    }

    /// Nothing keeps it from being released.
    pub const fn is_released(&self) -> bool {
        self.reasons.is_empty()
    }

    /// In words for papers, lists and screens: `released`, or `not released: ` and why.
    pub fn words(&self, units: UnitSystem) -> String {
        if self.is_released() {
            return "released".to_owned();
        }
        let why: Vec<String> = self.reasons.iter().map(|one| one.words(units)).collect();
        format!("not released: {}", why.join("; "))
    }

    /// The same for a line by itself, with a capital letter; none where it is released.
    pub fn warning(&self, units: UnitSystem) -> Option<String> {
        (!self.is_released()).then(|| self.words(units).replacen("not released", "NOT RELEASED", 1))
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

    fn release(sample: &Sample) -> Release {
        Release::of(&sample.project, &sample.all(), [&sample.outcome])
    }

    #[test]
    fn a_sound_bar_is_released() {
        let sample = Sample::new();
        assert_eq!(release(&sample).words(UnitSystem::Metric), "released");
        assert_eq!(release(&sample).warning(UnitSystem::Metric), None);
    }

    #[test]
    fn rows_outside_their_limit_keep_it_back_and_are_counted_as_printed() {
        let mut sample = Sample::with_rows(12);
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
        let none = Release::of(&sample.project, &[], []);
        assert_eq!(none.reasons, [HoldReason::NotSolved]);
    }
}
