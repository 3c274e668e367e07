//! Hoses and tubes drawn tighter than they bend.
//!
//! The limit is the least bend radius of the catalogue entry. What the drawn way leaves room for is geometry alone
//! ([`tightest_bend`]). Assumed: the hose lies as drawn, in its working position, rounded at each corner by one arc;
//! each end points the way the hose leaves it (an elbow where it does not; `port_turn` tells of those). Slack and the
//! way through a fold are not looked at.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::geometry::{Bend, tightest_bend};
use crate::plan::{FeedElement, LaidRouting, Line, LineGeometry, Project, StockKey};
use crate::quantities::{Length, Measure, UnitSystem};

pub(super) const RULE: Rule = Rule {
    name: "bend radius",
    about: "A hose or tube drawn with a tighter bend than its catalogue entry allows, or a metering tube coiled too \
            tight: it kinks, and what has kinked passes less",
    by_speed: false,
    check,
};

/// A hose or tube that bends too tight.
#[derive(Debug, Clone, PartialEq)]
pub struct TightBend {
    /// Run or row feed.
    pub subject: FindingSubject,
    /// Its tag.
    pub tag: String,
    /// Where, how far it turns, and the radius there is room for; none for a coil.
    pub bend: Option<Bend>,
    /// The radius it has.
    pub has: Length,
    /// The least radius of its stock.
    pub needs: Length,
}

/// The hoses, tubes and coils of a routing that bend too tight, each at its tightest place, in the routing's order.
pub fn tight_bends(project: &Project, routing: LaidRouting) -> Vec<TightBend> {
    let tight = |subject, tag: &str, line: &Line, laid: &LineGeometry| {
        let needs = project.catalogue.stock(&line.stock)?.bend_radius;
        // The last digit of a sum is no reason for a finding.
        let bend = tightest_bend(&laid.places(), needs.si() * (1.0 - 1e-9))?;
        let has = Length::metres(bend.radius);
        Some(TightBend { subject, tag: tag.to_owned(), bend: Some(bend), has, needs })
    };
    let mut found = Vec::new();
    for run in &routing.runs {
        let Some(laid) = routing.geometry.run(run.id) else { continue };
        found.extend(tight(FindingSubject::Run(run.id), &run.tag, &run.line, laid));
    }
    for feed in &routing.feeds {
        let subject = FindingSubject::Feed(feed.id);
        let coils = feed.elements().filter_map(|element| match element {
            FeedElement::MeteringTube { stock, coil, .. } => coiled(project, stock, (*coil)?),
            _ => None,
        });
        let coils =
            coils.map(|(has, needs)| TightBend { subject, tag: feed.tag.clone(), bend: None, has, needs });
        let mut own: Vec<TightBend> = coils.collect();
        if let Some(geometry) = routing.geometry.feed(feed.id) {
            own.extend(feed.elements().zip(geometry.elements()).filter_map(
                |(element, laid)| match element {
                    FeedElement::Tube(tube) => tight(subject, &feed.tag, &tube.line, laid.tube.as_ref()?),
                    _ => None,
                },
            ));
        }
        let short = |one: &TightBend| one.has / one.needs;
        found.extend(own.into_iter().min_by(|a, b| short(a).total_cmp(&short(b))));
    }
    found
}

/// Radius of a coil and the least its stock allows, where it is too tight.
fn coiled(project: &Project, stock: &StockKey, coil: Length) -> Option<(Length, Length)> {
    let (has, needs) = (coil / 2.0, project.catalogue.stock(stock)?.bend_radius);
    (has.si() < needs.si() * (1.0 - 1e-9)).then_some((has, needs))
}

impl TightBend {
    /// `bend too tight: radius 125 mm in a turn of 90°, minimum 170 mm`.
    pub fn words(&self, units: UnitSystem) -> String {
        let radius = |length: Length| Measure::CutLength.short_text(length.si(), units);
        let (has, needs) = (radius(self.has), radius(self.needs));
        match self.bend {
            Some(bend) => {
                let turn = Measure::Angle.number(bend.turn, units);
                let turn = turn.trim_end_matches(".0");
                format!("bend too tight: radius {has} in a turn of {turn}°, minimum {needs}")
            }
            None => format!("coil too tight: radius {has}, minimum {needs}"),
        }
    }

    /// Where it is on the bar: `2.15 m left, 0.35 m forward`; nothing for a coil.
    fn place(&self, units: UnitSystem) -> Option<String> {
        let at = self.bend?.at;
        let side = |value: f64, more: &str, less: &str| {
            let word = if value < 0.0 { less } else { more };
            format!("{} {word}", Measure::Distance.text(value.abs(), units))
        };
        Some(format!("{}, {}", side(at.x, "right", "left"), side(at.y, "forward", "back")))
    }
}

fn check(here: &Context) -> Vec<Finding> {
    let (hoses, feeds): (Vec<_>, Vec<_>) = tight_bends(here.project, here.routing)
        .into_iter()
        .partition(|one| matches!(one.subject, FindingSubject::Run(_)));
    [hoses, feeds].into_iter().filter_map(|tight| finding(here, &tight)).collect()
}

fn finding(here: &Context, tight: &[TightBend]) -> Option<Finding> {
    let short = |one: &&TightBend| one.has / one.needs;
    let worst = tight.iter().min_by(|a, b| short(a).total_cmp(&short(b)))?;
    let tags = list(&tight.iter().map(|one| one.tag.clone()).collect::<Vec<_>>());
    let place = worst.place(here.units());
    let each = |one: &TightBend| {
        let at = one.place(here.units()).map_or_else(String::new, |place| format!(" ({place})"));
        format!("{}: {}{at}", one.tag, one.words(here.units()))
    };
    // A single one is named by its place.
    let most = if tight.len() > 1 { format!("{} the tightest, ", worst.tag) } else { String::new() };
    Some(Finding {
        severity: Severity::Warning,
        what: format!("{most}{}", worst.words(here.units())),
        each: if tight.len() > 1 { tight.iter().map(each).collect() } else { Vec::new() },
        place: tags,
        advice: match place {
            Some(place) => format!(
                "draw a wider curve there ({place}), {}, or choose a hose that bends tighter; the radius is that of \
                 the line as drawn",
                here.elbow()
            ),
            None => "wind it to a wider coil".to_owned(),
        },
        subjects: tight.iter().map(|one| one.subject).collect(),
        ..here.finding(RULE.name, "")
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::Anchors;
    use crate::plan::RowFeed;

    /// `H3` from `M1` to `M2`, both at y 0.5, with a least radius of 100 mm; bent into a bay `deep` and 0.5 m wide.
    fn bay(deep: f64) -> Sample {
        let mut sample = Sample::two_wings(4);
        let run = &sample.routing.runs[2];
        let end = |end| Anchors::of(&sample.project, &sample.routing).end(end).unwrap().place;
        let (from, to) = (end(&run.from), end(&run.to));
        let y = from.y.max(to.y) + deep;
        sample.routing.runs[2].line.waypoints =
            sample.over(&[Point3::new(from.x, y, from.z), Point3::new(to.x, y, to.z)]);
        sample.resolve();
        sample
    }

    /// A right angle takes its radius on both sides (geometry), so that a bay must be as deep as the radius.
    #[test]
    fn a_bay_as_deep_as_the_radius_is_just_wide_enough() {
        assert_eq!(bay(0.100).of(RULE).len(), 0);
        let finding = bay(0.080).only(RULE);
        assert!(finding.each.is_empty(), "the line says all");
        assert_eq!(finding.place, "H3");
        assert!(finding.what == "bend too tight: radius 80 mm in a turn of 90°, minimum 100 mm", "{finding}");
        let mut wider = bay(0.080);
        wider.set_item("hose", |item| {
            if let crate::plan::Item::Stock(crate::plan::StockItem::Hose(stock)) = item {
                stock.bend_radius = Length::millimetres(80.0);
            }
        });
        assert_eq!(wider.of(RULE).len(), 0);
    }

    /// A coil's radius is half its diameter.
    #[test]
    fn a_coil_has_its_least_radius_too() {
        let mut sample = Sample::new();
        sample.meter_with_tubes();
        let coil = |sample: &mut Sample, millimetres: f64| {
            for element in sample.routing.feeds.iter_mut().flat_map(RowFeed::elements_mut) {
                if let FeedElement::MeteringTube { coil, .. } = element {
                    *coil = Some(Length::millimetres(millimetres));
                }
            }
            sample.of(RULE)
        };
        assert_eq!(coil(&mut sample, 200.0).len(), 0);
        let found = coil(&mut sample, 190.0);
        assert_eq!((found.len(), found[0].subjects.len()), (1, 4));
        assert!(found[0].what.contains("95 mm"), "{}", found[0]);
    }
}
