//! Measured lengths that can't be, or that the drawing contradicts.

use super::finding::{Finding, Severity, Subject};
use super::words::list;
use super::{Context, Rule};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "measured length",
    about: "A hose whose measured length is shorter than the straight distance between its ends, or much longer than drawn",
    by_speed: false,
    check,
};

/// A measured hose this much longer than drawn lies in a loop somewhere, or the drawing is wrong (common practice, no
/// source).
const FAR_LONGER: f64 = 1.5;

fn check(here: &Context) -> Vec<Finding> {
    let (mut short, mut long) = (Vec::new(), Vec::new());
    for run in &here.routing.runs {
        let laid = here.routing.geometry.run(run.id);
        let (Some(measured), Some(laid)) = (run.line.measured, laid) else { continue };
        let straight = Length::metres(laid.from().place.distance(laid.to().place));
        let drawn = laid.drawn;
        if measured < straight {
            short.push((run, measured, straight));
        } else if measured > drawn * FAR_LONGER && (measured - drawn).si() > 0.5 {
            long.push((run, measured, drawn));
        }
    }
    let finding = |severity, found: &[(&crate::plan::Run, Length, Length)], than: &str, advice: &str| {
        let (run, measured, other) = found.first()?;
        let of = if found.len() > 1 { format!("{}: ", run.tag) } else { String::new() };
        let place = list(&found.iter().map(|(run, ..)| run.tag.clone()).collect::<Vec<_>>());
        Some(Finding {
            severity,
            place,
            what: format!(
                "{of}measured length {}, {than} of {}",
                here.text(Measure::Distance, *measured),
                here.text(Measure::Distance, *other)
            ),
            advice: advice.to_owned(),
            subjects: found.iter().map(|(run, ..)| Subject::Run(run.id)).collect(),
            ..here.finding(RULE.name, "")
        })
    };
    let too_short = finding(
        Severity::Error,
        &short,
        "less than the straight distance between its ends",
        "measure again, or correct where its ends are drawn",
    );
    let too_long = finding(
        Severity::Note,
        &long,
        "much more than the drawn length",
        "draw it as it runs, so that papers and hinges are right",
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
        assert_eq!(measured(&mut sample, straight + 5.0)[0].severity, Severity::Note);
    }
}
