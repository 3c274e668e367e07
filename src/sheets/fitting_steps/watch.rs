//! What the checks found that whoever folds, lays or ties has to look at, told in the step in which it shows.

use super::work::Work;
use crate::checks::{self, Finding, FindingSubject};
use crate::plan::{BarPoint, FoldPosition, FoldedBar, Run, Subject, words};

/// What hangs on the bar when it folds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OnTheBar {
    /// Frames and parts, no hose.
    Parts,
    /// Hoses, no tube.
    Hoses,
    /// Tubes, so that all is on it.
    Tubes,
}

impl OnTheBar {
    /// The first fold in which what a finding is about can be seen.
    const fn of(subject: FindingSubject) -> Self {
        match subject {
            FindingSubject::Part(_) | FindingSubject::Project | FindingSubject::Routing => Self::Parts,
            FindingSubject::Run(_) => Self::Hoses,
            FindingSubject::Feed(_) | FindingSubject::Row(_) => Self::Tubes,
        }
    }
}

impl Work<'_> {
    /// What meets, is caught, stretched or kinked when the bar folds with all that is on it by then, with how far it is folded.
    pub(super) fn watch_in_fold(&self, first_seen: &[OnTheBar]) -> Vec<String> {
        let in_fold = self.findings.iter().filter_map(|finding| {
            let at = finding.fold.filter(|at| !at.is_working())?;
            let is_liquid = checks::FOLDED_LIQUID == finding.kind.rule;
            let is_seen = finding.subjects.iter().any(|one| first_seen.contains(&OnTheBar::of(*one)));
            (is_seen && !is_liquid).then_some((at, finding))
        });
        let mut details: Vec<String> = in_fold
            .map(|(at, finding)| {
                format!("Watch at {} % folded: {}: {}", at.percent(), finding.place, finding.what)
            })
            .collect();
        if !details.is_empty() {
            details.push(
                "Stop before anything meets or stretches: what does not clear goes back to whoever designed it".to_owned(),
            );
        }
        details
    }

    /// What the liquid does in the folded bar: where it stands above the tank, and what the checks found.
    pub(super) fn folded_liquid(&self) -> Vec<String> {
        let is_liquid = |finding: &&Finding| checks::FOLDED_LIQUID == finding.kind.rule;
        let mut details: Vec<String> = self
            .findings
            .iter()
            .filter(is_liquid)
            .map(|finding| format!("{}: {}", finding.place, finding.what))
            .collect();
        let folded = FoldedBar::at(&self.project.bar, FoldPosition::TRANSPORT);
        let surface = self.project.supply.tank_surface.si();
        let joined = self.from_pump.keys().filter_map(|id| self.routing.part(*id));
        let (mut above, mut below) = (Vec::new(), Vec::new());
        for part in joined.filter(|part| !self.is_screwed_on(part)) {
            let Some(placed) = self.routing.geometry.anchors.part(part.id) else { continue };
            let at = folded.place(BarPoint { section: part.section, place: placed.at });
            if at.z > surface { &mut above } else { &mut below }.push(part.tag.clone());
        }
        if !above.is_empty() {
            details.push(format!(
                "Folded, above the tank's surface: {}; what stands in them runs down, and out at a joint that is opened lower",
                words::tags(&above)
            ));
        }
        if !below.is_empty() {
            details.push(format!(
                "Folded, below the tank's surface: {}; a joint opened there lets the hoses above it run out, and with the supply \
                 open the tank too",
                words::tags(&below)
            ));
        }
        details
    }

    /// What hoses need where they are tied: those on carriers, and those that are drawn through a part.
    pub(super) fn where_tied(&self, runs: &[&Run]) -> Vec<String> {
        let is_laid = |subject: &FindingSubject| match subject {
            FindingSubject::Run(id) => runs.iter().any(|run| run.id == *id),
            _ => false,
        };
        let is_run = |of: &Subject| matches!(of, Subject::Run(id) if runs.iter().any(|run| run.id == *id));
        let carried = self.on_carriers(is_run).into_iter();
        carried.chain(self.tied(&[checks::THROUGH_PART], is_laid)).collect()
    }

    /// The same of tubes.
    pub(super) fn where_tubes_are_tied(&self) -> Vec<String> {
        let is_tube = |subject: &FindingSubject| matches!(subject, FindingSubject::Feed(_));
        let is_feed = |of: &Subject| matches!(of, Subject::Feed(_));
        let carried = self.on_carriers(is_feed).into_iter();
        carried.chain(self.tied(&[checks::THROUGH_PART], is_tube)).collect()
    }

    fn tied(&self, rules: &[&str], is_laid: impl Fn(&FindingSubject) -> bool) -> Vec<String> {
        let wanted = |finding: &&Finding| {
            rules.contains(&finding.kind.rule.as_str()) && finding.subjects.iter().any(&is_laid)
        };
        let told = self.findings.iter().filter(wanted).map(|finding| {
            let what = if finding.each.is_empty() {
                format!("{}: {}", finding.place, finding.what)
            } else {
                finding.each.join("; ")
            };
            format!("{what}; {}", finding.advice)
        });
        told.collect()
    }
}
