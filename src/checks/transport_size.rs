//! The folded bar is wider or higher than what someone entered as allowed on the road.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::words::list;
use crate::plan::{Envelope, FoldPosition, FoldedBar};
use crate::quantities::Measure;

/// Frame, outlets, parts and hoses in transport position within the width and height that are entered; rules of the road are
/// local, so there is no default.
pub(super) const RULE: Rule = Rule {
    name: "transport-size",
    about: "The bar in transport position is wider or higher than what was entered as allowed on the road",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let limits = here.project.transport;
    if limits.are_missing() {
        return Vec::new();
    }
    let folded = FoldedBar::at(&here.project.bar, FoldPosition::TRANSPORT);
    let beyond = limits.exceeded_by(&Envelope::of(here.project, here.routing, &folded));
    if beyond.is_empty() {
        return Vec::new();
    }
    let over: Vec<String> =
        beyond.iter().map(|(by, word)| format!("{} too {word}", here.text(Measure::Distance, *by))).collect();
    let order = here.project.bar.fold_order_words();
    let order = order.map_or_else(String::new, |order| format!(" (now {order})"));
    vec![Finding {
        severity: Severity::Warning,
        what: format!("folded for the road {}", list(&over)),
        place: "Bar".to_owned(),
        advice: format!(
            "fold farther or in another order{order}, move what stands out, or correct what the road allows; rules are local, and \
             openers, wheels and hitch are not counted: measure the machine"
        ),
        subjects: vec![FindingSubject::Project],
        fold: Some(FoldPosition::TRANSPORT),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Length;

    #[test]
    fn what_is_beyond_what_was_entered_is_told_and_nothing_where_nobody_entered_anything() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        let bar = FoldedBar::at(&sample.project.bar, FoldPosition::TRANSPORT);
        let geometry = sample.geometry();
        let envelope = Envelope::of(&sample.project, geometry.with(&sample.project.routings[0]), &bar);
        let (width, height) = (envelope.width(), envelope.height());
        sample.project.transport.width = Some(width + Length::metres(0.01));
        assert!(sample.of(RULE).is_empty());
        sample.project.transport.width = Some(width - Length::metres(0.5));
        sample.project.transport.height = Some(height - Length::metres(0.25));
        let what = sample.only(RULE).what;
        assert!(what.contains("0.50 m too wide") && what.contains("0.25 m too high"), "{what}");
    }
}
