//! Free pieces at hinges that hang below the frame at work.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::crossing::{Hang, lowest_words};
use crate::plan::{Crossing, FoldPosition, LaidLine, SectionId};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "hinge sag",
    about: "A hose or tube whose free piece at a hinge hangs below its clamps and the frame at work: a warning below 0.5 m, where \
            crops, stones and residue catch it (common practice, no source); what hangs among openers is told by opener clearance",
    by_speed: false,
    check,
};

/// A free piece that hangs too low.
struct Low {
    tag: String,
    subject: FindingSubject,
    hinge: SectionId,
    /// How far below the frame.
    by: Length,
    /// It comes to where stubble and stones are.
    is_near_ground: bool,
    /// The lowest point of its underside above the ground, where hinges are at their lowest angles.
    height: Length,
    /// The same on level ground.
    level: Length,
    is_assumed: bool,
}

fn check(here: &Context) -> Vec<Finding> {
    let mut low: Vec<Low> = Vec::new();
    for one in here.routing.laid_lines() {
        let Some(lowest) = lowest(one) else { continue };
        // Of each feed the tube that hangs lowest.
        match low.last_mut().filter(|last| last.subject == lowest.subject) {
            Some(last) if last.by > lowest.by => {}
            Some(last) => *last = lowest,
            None => low.push(lowest),
        }
    }
    let Some(worst) = low.iter().max_by(|a, b| a.by.si().total_cmp(&b.by.si())) else { return Vec::new() };
    let tags = list(&low.iter().map(|one| one.tag.clone()).collect::<Vec<_>>());
    let numbers = |one: &Low| {
        format!(
            "{} below the frame at the hinge of {}, down to {}",
            here.text(Measure::CutLength, one.by),
            here.section_name(one.hinge),
            lowest_words(one.level, one.height, here.project.units)
        )
    };
    let of = if low.len() > 1 { format!("{} ", worst.tag) } else { String::new() };
    let assumed = if worst.is_assumed { " (its weight or stiffness assumed)" } else { "" };
    vec![Finding {
        severity: if low.iter().any(|one| one.is_near_ground) { Severity::Warning } else { Severity::Note },
        extent: Some(worst.by.si()),
        place: tags,
        what: format!("{of}hangs at work, filled, {}{assumed}", numbers(worst)),
        each: if low.len() > 1 {
            low.iter().map(|one| format!("{}: {}", one.tag, numbers(one))).collect()
        } else {
            Vec::new()
        },
        advice: "lay it higher beside the hinge, or on top of the frame, or put the clamps where less of it hangs free"
            .to_owned(),
        subjects: low.iter().map(|one| one.subject).collect(),
        fold: Some(FoldPosition::WORKING),
        ..here.finding(RULE.name, "")
    }]
}

/// The free piece of a line that hangs lowest below the frame, if any does.
fn lowest(LaidLine { of: what, tag, laid, .. }: LaidLine) -> Option<Low> {
    let of = |crossing: &Crossing, hinge: SectionId| {
        let Hang::Computed { height, level, below_clamps, below_frame } = crossing.hangs else { return None };
        // What is clamped below the frame is there on purpose: how far it hangs below its clamps is what it sags.
        let by = below_frame?.min(below_clamps);
        (by > SAGS).then(|| Low {
            tag: tag.to_owned(),
            subject: FindingSubject::from(what),
            hinge,
            is_near_ground: level < LOW,
            by,
            height,
            level,
            is_assumed: crossing.is_assumed,
        })
    };
    let all = laid.crossings.iter().filter_map(|one| of(one.computed()?, one.section));
    all.max_by(|a, b| a.by.si().total_cmp(&b.by.si()))
}

/// A piece that hangs less far below the frame than this lies along it (common practice, no source).
const SAGS: Length = Length::millimetres(50.0);

/// What hangs lower than this on level ground comes to stubble, residue and stones; above it the openers and their frame come to
/// these first (common practice, no source).
const LOW: Length = Length::millimetres(500.0);

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{BarPoint, ClampPlaces, End, FrameMember, HingeCrossing};
    use crate::quantities::{MassPerLength, Ratio};

    /// A hose level with the hinge line across it at a height, clamped 0.4 m to either side of it, and a frame of 0.1 m as high.
    fn hanging(at: f64, frame: f64) -> Sample {
        let mut sample = Sample::two_wings(4);
        sample.fold_wing(at, 90.0);
        for section in &mut sample.project.bar.sections {
            let on = |x: Length| Point3::new(x.si(), 0.5, frame);
            let (from, to) = (on(section.left), on(section.right));
            section.members = vec![FrameMember { from, to, width: Length::millimetres(100.0) }];
        }
        let loose = |x: f64, section| {
            End::Loose(BarPoint { place: Point3::new(x, 0.5, at), section: SectionId(section) })
        };
        (sample.routing.runs[2].from, sample.routing.runs[2].to) = (loose(-2.0, 1), loose(2.0, 2));
        sample.routing.runs[2].line.slack = Ratio::ZERO;
        sample.routing.runs[2].line.waypoints.clear();
        let places = ClampPlaces { before: Length::metres(0.4), behind: Length::metres(0.4) };
        sample.routing.runs[2].line.crossings =
            vec![HingeCrossing { section: SectionId(2), entered: None, clamps: Some(places) }];
        sample.resolve();
        sample
    }

    /// A free piece of some 0.95 m between clamps 0.8 m apart bulges by some 0.2 m (shallow arch: 2/π √(0.8 · 0.15) = 0.22 m), so
    /// that it hangs below a frame whose underside is as high as its clamps and not below one that is 0.4 m lower.
    #[test]
    fn a_piece_that_hangs_below_the_frame_is_told_by_how_much() {
        let mut sample = hanging(0.9, 0.95);
        let finding = sample.only(RULE);
        // At 0.9 m it stays above 0.5 m.
        assert_eq!((finding.place.as_str(), finding.severity), ("H3", Severity::Note));
        let by = finding.extent.unwrap();
        assert!((0.1..0.35).contains(&by), "{finding}: {by}");
        assert!(finding.what.contains("assumed"), "{finding}");
        // Heavier, it hangs lower.
        sample.set_item("hose", |item| {
            if let crate::plan::Item::Stock(crate::plan::StockItem::Hose(stock)) = item {
                stock.weight = Some(MassPerLength::from_si(2.0));
            }
        });
        sample.resolve();
        assert!(sample.only(RULE).extent.unwrap() > by);
        assert_eq!(hanging(0.9, 0.55).of(RULE), []);
        // 0.3 m lower it comes to some 0.4 m.
        assert_eq!(hanging(0.6, 0.65).only(RULE).severity, Severity::Warning);
    }
}
