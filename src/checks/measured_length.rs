//! Measured lengths that can't be, or that the drawing contradicts.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::{ElementGeometry, End, FeedElement, LaidRouting, Limits, LineGeometry, Project};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "measured length",
    about: "A hose or tube whose measured length is shorter than the straight distance between its ends, or much longer than drawn",
    by_speed: false,
    check,
};

/// A measured hose or tube this much longer than drawn lies in a loop somewhere, or the drawing or the length is wrong
/// (common practice, no source).
const FAR_LONGER: f64 = 1.5;

/// What a check valve, holder or fitting beside a tube may take up of its way: the catalogue does not say it, and a tube is
/// cut shorter by it (common practice, no source).
const BESIDE_A_TUBE: Length = Length::metres(0.1);

/// A hose or tube, and its length if that was measured.
struct Measured {
    tag: String,
    subject: FindingSubject,
    length: Option<Length>,
    /// It can't be shorter than this.
    least: Length,
    drawn: Length,
    /// What it may be longer for a loop at an end that moves.
    spare: Length,
}

impl Measured {
    fn new(
        tag: String,
        subject: FindingSubject,
        length: Option<Length>,
        laid: &LineGeometry,
        beside: Length,
        spare: Length,
    ) -> Self {
        let straight = Length::metres(laid.from().place.distance(laid.to().place));
        let least = (straight - beside).max(Length::ZERO);
        Self { tag, subject, length, least, drawn: laid.drawn, spare }
    }
}

/// How long each hose and tube is at the least, by its tag in the cut list: straight from end to end, less what stands beside
/// a tube.
pub fn least_lengths(project: &Project, routing: LaidRouting) -> BTreeMap<String, Length> {
    lines(&project.limits, routing).into_iter().map(|one| (one.tag, one.least)).collect()
}

/// Every hose and tube; the tubes of a row feed as the cut list numbers them.
fn lines(limits: &Limits, routing: LaidRouting) -> Vec<Measured> {
    let mut all: Vec<Measured> = Vec::new();
    for run in &routing.runs {
        let Some(laid) = routing.geometry.run(run.id) else { continue };
        all.push(Measured::new(
            run.tag.clone(),
            FindingSubject::Run(run.id),
            run.line.measured,
            laid,
            Length::ZERO,
            if [run.from, run.to].contains(&End::Supply) { limits.hitch_loop } else { Length::ZERO },
        ));
    }
    for feed in &routing.feeds {
        let Some(geometry) = routing.geometry.feed(feed.id) else { continue };
        let mut number = 0;
        let branches = feed.branches.iter().zip(&geometry.branches);
        let stretches = std::iter::once((&feed.trunk, &geometry.trunk))
            .chain(branches.map(|(branch, laid)| (&branch.elements, laid)));
        for (elements, laid) in stretches {
            let beside = |at: Option<usize>| match at.and_then(|at| elements.get(at)) {
                Some(FeedElement::Piece(..) | FeedElement::Fitting(_)) => BESIDE_A_TUBE,
                _ => Length::ZERO,
            };
            for (at, element) in elements.iter().enumerate() {
                number += usize::from(element.is_cut());
                let FeedElement::Tube(tube) = element else { continue };
                let Some(ElementGeometry { tube: Some(laid), .. }) = laid.get(at) else { continue };
                let tag = feed.piece_tag(number);
                let beside = beside(at.checked_sub(1)) + beside(Some(at + 1));
                all.push(Measured::new(
                    tag,
                    FindingSubject::Feed(feed.id),
                    tube.line.measured,
                    laid,
                    beside,
                    limits.opener_loop,
                ));
            }
        }
    }
    all
}

fn check(here: &Context) -> Vec<Finding> {
    let (mut short, mut long) = (Vec::new(), Vec::new());
    for one in lines(&here.project.limits, here.routing) {
        let Some(length) = one.length else { continue };
        if length < one.least {
            let least = one.least;
            short.push((one, least));
        } else if length > one.drawn * FAR_LONGER + one.spare && (length - one.drawn - one.spare).si() > 0.5 {
            let drawn = one.drawn;
            long.push((one, drawn));
        }
    }
    let finding = |severity, found: &[(Measured, Length)], than: &str, advice: &str| {
        let (one, other) = found.first()?;
        let of = if found.len() > 1 { format!("{}: ", one.tag) } else { String::new() };
        let place = list(&found.iter().map(|(one, _)| one.tag.clone()).collect::<Vec<_>>());
        Some(Finding {
            severity,
            place,
            what: format!(
                "{of}measured length {}, {than} {}",
                here.text(Measure::CutLength, one.length.unwrap_or_default()),
                here.text(Measure::CutLength, *other)
            ),
            advice: advice.to_owned(),
            subjects: found.iter().map(|(one, _)| one.subject).collect(),
            ..here.finding(RULE.name, "")
        })
    };
    let too_short = finding(
        Severity::Error,
        &short,
        "but the straight way between its ends takes at least",
        "measure again, or correct where its ends are drawn",
    );
    let too_long = finding(
        Severity::Warning,
        &long,
        "much more than the drawn length of",
        "measure again, or draw it as it runs, so that papers and hinges are right",
    );
    too_short.into_iter().chain(too_long).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::Anchors;

    #[test]
    fn shorter_than_straight_can_not_be() {
        let mut sample = Sample::two_wings(4);
        let run = &sample.routing.runs[2];
        let end = |end| Anchors::of(&sample.project, &sample.routing).end(end).unwrap().place;
        let straight = end(&run.from).distance(end(&run.to));
        let measured = |sample: &mut Sample, metres| {
            sample.routing.runs[2].line.measured = Some(Length::metres(metres));
            sample.of(RULE)
        };
        assert_eq!(measured(&mut sample, straight).len(), 0);
        let short = measured(&mut sample, straight - 0.01);
        assert_eq!((short.len(), short[0].severity, short[0].place.as_str()), (1, Severity::Error, "H3"));
        assert_eq!(measured(&mut sample, straight * 1.4).len(), 0);
        assert_eq!(measured(&mut sample, straight + 5.0)[0].severity, Severity::Warning);
    }

    /// 2.4 and 235 mm for a tube of metres are metres and centimetres typed as millimetres. What stands beside the tube may
    /// take up some of the way.
    #[test]
    fn tubes_of_row_feeds_are_held_to_the_same() {
        let mut sample = Sample::two_wings(4);
        let routing = sample.routing.clone();
        let laid = crate::plan::RoutingGeometry::working(&sample.project, &routing);
        let feed = &routing.feeds[0];
        let straight = laid.feed(feed.id).unwrap().tubes().next().unwrap();
        let straight = straight.from().place.distance(straight.to().place);
        let measured = |sample: &mut Sample, metres| {
            let first = sample.routing.feeds[0].elements_mut().find_map(|one| match one {
                FeedElement::Tube(tube) => Some(tube),
                _ => None,
            });
            first.unwrap().line.measured = Some(Length::metres(metres));
            sample.of(RULE)
        };
        assert_eq!(measured(&mut sample, straight).len(), 0);
        for metres in [straight / 1000.0, straight / 10.0] {
            let found = measured(&mut sample, metres);
            assert_eq!((found.len(), found[0].severity), (1, Severity::Error), "{found:?}");
            assert!(found[0].place.starts_with(&feed.tag), "{found:?}");
            assert_eq!(found[0].subjects, [FindingSubject::Feed(feed.id)]);
        }
        let found = measured(&mut sample, straight + 5.0);
        assert_eq!((found.len(), found[0].severity), (1, Severity::Warning), "{found:?}");
    }
}
