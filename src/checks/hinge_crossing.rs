//! A free piece at a hinge that bends too tight at its entered length, and one whose length is not computed.
//!
//! What is computed keeps the least radius through the fold by itself (`plan/crossing`); too short pieces are found by
//! `hinge_slack`. The shape is that of a hose with its weight, full and empty, between the clamps that are placed or suggested.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::{CrossedHinge, Crossing, CrossingBasis, FoldPosition, LaidLine, Line, LineGeometry};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "hinge crossing",
    about: "A hose or tube that bends too tight between its clamps at a hinge when the bar folds, whose length there is \
            assumed because it can't be computed, or for which something is entered at a hinge that it does not cross",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut unknown = Vec::new();
    let mut found: Vec<Finding> =
        here.routing.laid_lines().flat_map(|one| of_line(here, one, &mut unknown)).collect();
    while let Some(first) = unknown.first() {
        let why = first.why;
        let (alike, others): (Vec<_>, Vec<_>) =
            unknown.into_iter().partition(|one: &PieceNotComputed| one.why == why);
        found.push(not_computed(here, &alike));
        unknown = others;
    }
    found
}

/// A free piece whose length is not computed.
struct PieceNotComputed {
    tag: String,
    subject: FindingSubject,
    /// The section of the hinge, as people call it.
    section: String,
    severity: Severity,
    case: &'static str,
    why: &'static str,
    advice: String,
}

/// What is to be said of pieces that are not computed for the same reason.
fn not_computed(here: &Context, alike: &[PieceNotComputed]) -> Finding {
    let Some(first) = alike.first() else { return here.finding(RULE.name, "not computed") };
    let mut tags: Vec<String> = alike.iter().map(|one| one.tag.clone()).collect();
    tags.dedup();
    let mut subjects: Vec<FindingSubject> = alike.iter().map(|one| one.subject).collect();
    subjects.dedup();
    let is_one = alike.len() == 1;
    let is_one_advice = alike.iter().all(|one| one.advice == first.advice);
    Finding {
        severity: alike.iter().map(|one| one.severity).min().unwrap_or(first.severity),
        place: list(&tags),
        what: if is_one {
            format!("length at the hinge of {} not computed: {}", first.section, first.why)
        } else {
            format!("lengths at {} hinges not computed: {}", alike.len(), first.why)
        },
        advice: if is_one_advice {
            first.advice.clone()
        } else {
            "each length is assumed, as said line by line; measure through the full fold before cutting, and enter it".to_owned()
        },
        each: if is_one {
            Vec::new()
        } else {
            alike.iter().map(|one| format!("{}, hinge of {}: {}", one.tag, one.section, one.advice)).collect()
        },
        subjects,
        ..here.finding(RULE.name, first.case)
    }
}

fn of_line(
    here: &Context,
    LaidLine { of, tag, line, laid }: LaidLine,
    not_computed: &mut Vec<PieceNotComputed>,
) -> Vec<Finding> {
    let subject = FindingSubject::from(of);
    let place = |one: Finding| Finding { place: tag.to_owned(), subjects: vec![subject], ..one };
    let mut found: Vec<Finding> = idle(here, line, laid).into_iter().map(place).collect();
    // What was measured on the bar was tried there.
    if line.measured.is_some() {
        return found;
    }
    let least = here.project.catalogue.stock(&line.stock).map(|stock| stock.bend_radius);
    let kinked = |crossed: &CrossedHinge| {
        let CrossingBasis::Entered(Ok(crossing)) = &crossed.basis else { return None };
        let free = crossing.lies;
        let (radius, at) = crossing.tightest_at(free)?;
        (radius < least?).then(|| kink(here, crossing, (free, radius, at), least.unwrap_or_default()))
    };
    let unknown = |crossed: &CrossedHinge| {
        // What is under way is known in a moment, and no finding until then.
        if crossed.awaited.is_some() {
            return None;
        }
        let (why, advice) = match &crossed.basis {
            CrossingBasis::Assumed(why) => (
                why,
                format!(
                    "{} is assumed; measure through the full fold before cutting, and enter it",
                    here.short(Measure::CutLength, crossed.extra)
                ),
            ),
            // Whoever entered a length may know better, but not that a hose bends tighter than it can.
            CrossingBasis::Entered(Err(why)) if why.is_too_tight() => {
                (why, "what was entered is taken: try it through the full fold before cutting".to_owned())
            }
            CrossingBasis::Entered(_) | CrossingBasis::Computed(_) => return None,
        };
        let (severity, case) = if why.is_too_tight() {
            (Severity::Warning, "bends too tight at any length")
        } else {
            (Severity::Note, "not computed")
        };
        Some(PieceNotComputed {
            tag: tag.to_owned(),
            subject,
            section: here.section_name(crossed.section).to_owned(),
            severity,
            case,
            why: why.words(),
            advice,
        })
    };
    for crossed in &laid.crossings {
        match kinked(crossed) {
            Some(kinked) => found.push(place(kinked)),
            None => not_computed.extend(unknown(crossed)),
        }
    }
    found
}

/// What is entered for a hinge that the line does not cross, or not so often as it is entered: read and not used. Only a file
/// holds such entries: every edit brings them in line.
fn idle(here: &Context, line: &Line, laid: &LineGeometry) -> Option<Finding> {
    let chosen = |at: &usize| {
        let one = line.crossings.get(*at);
        one.is_some_and(|one| one.entered.is_some() || one.clamps.is_some())
    };
    let unused = (0..line.crossings.len()).filter(|at| laid.crossing_of(line, *at).is_none()).filter(chosen);
    let mut names: Vec<String> = unused
        .filter_map(|at| line.crossings.get(at))
        .map(|one| here.section_name(one.section).to_owned())
        .collect();
    names.dedup();
    (!names.is_empty()).then(|| Finding {
        severity: Severity::Warning,
        what: format!(
            "length or clamps entered at the hinge of {} are not used: it does not cross that hinge, or less often than they are \
             entered",
            list(&names)
        ),
        advice: "lay it over that hinge, or take the entry out of the file; the next change of it drops what is not used".to_owned(),
        ..here.finding(RULE.name, "not crossed")
    })
}

fn kink(
    here: &Context,
    crossing: &Crossing,
    (free, radius, at): (Length, Length, FoldPosition),
    least: Length,
) -> Finding {
    let length = |one: Length| here.short(Measure::CutLength, one);
    Finding {
        severity: Severity::Warning,
        what: format!(
            "bends too tight at the hinge, {}: radius {} in {} between its clamps, minimum {}",
            at.words(),
            length(radius),
            length(free),
            length(least)
        ),
        advice: format!(
            "have the length computed: {} between clamps {} keep the radius",
            length(crossing.free),
            crossing.clamp_words(here.project.units)
        ),
        fold: Some(at),
        ..here.finding(RULE.name, "bends too tight")
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{BarPoint, ClampPlaces, End, Hinge, HingeCrossing, SectionId};
    use crate::quantities::{Angle, Ratio};

    /// `H3` from the left to a wing that folds up by 180 degrees about a line along y at x 0, straight and
    /// level with it.
    fn folding() -> Sample {
        let mut sample = Sample::two_wings(4);
        sample.project.bar.sections[1].hinge = Some(Hinge {
            parent: SectionId(1),
            point: Point3::new(0.0, 0.0, 0.6),
            axis: Point3::new(0.0, 1.0, 0.0),
            lowest: Angle::ZERO,
            folded: Angle::degrees(-180.0),
            step: Hinge::FIRST_STEP,
        });
        let loose = |x: f64, section| {
            End::Loose(BarPoint { place: Point3::new(x, 0.5, 0.6), section: SectionId(section) })
        };
        (sample.routing.runs[2].from, sample.routing.runs[2].to) = (loose(-2.0, 1), loose(2.0, 2));
        sample.routing.runs[2].line.slack = Ratio::ZERO;
        sample.routing.runs[2].line.waypoints.clear();
        sample.routing.runs[2].line.crossings.clear();
        sample.resolve();
        sample
    }

    fn enter(sample: &mut Sample, extra: f64) {
        sample.routing.runs[2].line.crossings = vec![HingeCrossing {
            entered: Some(Length::metres(extra)),
            ..HingeCrossing::computed(SectionId(2))
        }];
        sample.resolve();
    }

    /// The length that is computed passes, and so it does where somebody enters it; one that is stretched straight between the
    /// same clamps folds to a fraction of the radius (a strip folded by 180 degrees needs ten radii, Peirce 1930).
    #[test]
    fn an_entered_length_that_kinks_is_told_with_the_fold_and_a_computed_one_passes() {
        let mut sample = folding();
        assert_eq!(sample.of(RULE), Vec::new());
        let geometry = sample.geometry();
        let crossed = geometry.run(sample.routing.runs[2].id).unwrap().crossings[0].clone();
        assert!(matches!(crossed.basis, CrossingBasis::Computed(_)), "{crossed:?}");
        enter(&mut sample, crossed.extra.si());
        assert_eq!(sample.of(RULE), Vec::new());
        sample.set_item("hose", |item| {
            if let crate::plan::Item::Stock(crate::plan::StockItem::Hose(stock)) = item {
                stock.bend_radius = stock.bend_radius * 3.0;
            }
        });
        let found = sample.of(RULE);
        assert!(found.iter().any(|one| one.place == "H3"), "{found:?}");
    }

    /// Clamps side by side fold a hose by 180 degrees into a loop of ten radii (Peirce 1930); no length serves clamps hard
    /// at the axis, entered or not.
    #[test]
    fn clamps_between_which_every_length_kinks_are_told_whoever_chose_the_length() {
        let mut sample = folding();
        let near = ClampPlaces { before: Length::millimetres(2.0), behind: Length::millimetres(2.0) };
        for entered in [None, Some(Length::metres(0.3))] {
            sample.routing.runs[2].line.crossings =
                vec![HingeCrossing { section: SectionId(2), entered, clamps: Some(near) }];
            sample.resolve();
            let found = sample.of(RULE);
            assert!(
                found.iter().any(|one| one.severity == Severity::Warning && one.place == "H3"),
                "{entered:?}: {found:?}"
            );
        }
    }

    #[test]
    fn a_length_that_is_not_computed_says_why() {
        let mut sample = folding();
        let hinge = sample.project.bar.sections[1].hinge.as_mut().unwrap();
        hinge.axis = Point3::new(1.0, 0.0, 0.0);
        sample.resolve();
        let found = sample.of(RULE);
        assert!(found.iter().any(|one| one.what.contains("not in one plane")), "{found:?}");
    }

    #[test]
    fn what_is_entered_for_a_hinge_that_is_not_crossed_or_twice_is_told() {
        let mut sample = folding();
        let entered = |section| HingeCrossing {
            entered: Some(Length::metres(0.3)),
            ..HingeCrossing::computed(SectionId(section))
        };
        let mut told = |crossings: Vec<HingeCrossing>| {
            sample.routing.runs[2].line.crossings = crossings;
            sample.resolve();
            sample.of(RULE).into_iter().filter(|one| one.kind.case == "not crossed").count()
        };
        assert_eq!(told(vec![entered(2)]), 0);
        assert_eq!(told(vec![entered(2), entered(2)]), 1);
        assert_eq!(told(vec![HingeCrossing::computed(SectionId(2)), entered(1)]), 1);
        assert_eq!(told(vec![HingeCrossing::computed(SectionId(1))]), 0, "nothing was chosen there");
    }
}
