//! Free pieces at hinges that keep the least bend radius only as stiff as their stock is assumed to be.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::crossing::IfUnlikeAssumed;
use crate::plan::{Crossing, LaidLine, SectionId};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "assumed stiffness",
    about: "A hose or tube whose free piece at a hinge bends tighter than its stock allows if that is half or twice as stiff as \
            assumed; grades of one material differ by as much (magnitudes of handbooks, from memory)",
    by_speed: false,
    check,
};

/// A free piece that may bend too tight.
struct Unsure<'a> {
    tag: &'a str,
    subject: FindingSubject,
    hinge: SectionId,
    crossing: &'a Crossing,
    other: IfUnlikeAssumed,
}

impl Unsure<'_> {
    fn words(&self, here: &Context) -> String {
        let length = |one: Length| here.short(Measure::CutLength, one);
        format!(
            "{} it bends to {} at the hinge of {}, {}; its stock allows {}",
            self.other.factor_words(),
            length(self.other.radius),
            here.section_name(self.hinge),
            self.other.at.words(),
            length(self.crossing.least_radius())
        )
    }

    fn share(&self) -> f64 {
        self.other.radius.si() / self.crossing.least_radius().si()
    }
}

fn of_line(LaidLine { of, tag, line, laid }: LaidLine) -> Vec<Unsure> {
    // What was measured on the bar was tried there.
    if line.measured.is_some() {
        return Vec::new();
    }
    let mut all = Vec::new();
    for crossed in &laid.crossings {
        let Some(crossing) = crossed.computed() else { continue };
        if let Some(other) = crossing.if_unlike_assumed() {
            let (subject, hinge) = (FindingSubject::from(of), crossed.section);
            all.push(Unsure { tag, subject, hinge, crossing, other });
        }
    }
    all
}

fn check(here: &Context) -> Vec<Finding> {
    let all: Vec<Unsure> = here.routing.laid_lines().flat_map(of_line).collect();
    let Some(worst) = all.iter().min_by(|a, b| a.share().total_cmp(&b.share())) else { return Vec::new() };
    let mut tags: Vec<String> = all.iter().map(|one| one.tag.to_owned()).collect();
    tags.dedup();
    let mut subjects: Vec<FindingSubject> = all.iter().map(|one| one.subject).collect();
    subjects.dedup();
    let of = if tags.len() > 1 { format!("{}: ", worst.tag) } else { String::new() };
    vec![Finding {
        severity: Severity::Note,
        extent: Some((1.0 - worst.share()).max(f64::MIN_POSITIVE)),
        place: list(&tags),
        what: format!("{of}{}", worst.words(here)),
        each: if all.len() > 1 {
            all.iter().map(|one| format!("{}: {}", one.tag, one.words(here))).collect()
        } else {
            Vec::new()
        },
        advice: "measure the stiffness of the stock and enter it in the catalogue, choose clamps or a stock with more room, or try \
                 the piece through the whole fold before cutting"
            .to_owned(),
        subjects,
        fold: Some(worst.other.at),
        ..here.finding(RULE.name, "")
    }]
}
