//! Where no carrier can stand beneath what hangs, and what keeps it out.

use super::Context;
use super::finding::FindingSubject;
use crate::plan::Subject;
use crate::plan::holding::{held, why_uncarried};
use crate::plan::words::tags;

/// Where no carrier can stand beneath some hoses or tubes, and why, as the end of a sentence; and what is in the way. None where
/// carriers can bear all of them.
pub(super) fn no_carrier(
    here: &Context,
    wanted: impl Fn(Subject) -> bool,
) -> Option<(String, Vec<FindingSubject>)> {
    let mut by_why: Vec<(String, Vec<String>)> = Vec::new();
    let mut in_the_way = Vec::new();
    let uncarried = &held(here.project, here.routing).uncarried;
    for one in uncarried.iter().filter(|one| wanted(one.line.of)) {
        let why = why_uncarried(here.project, here.routing, one);
        match by_why.iter_mut().find(|known| known.0 == why) {
            Some(known) => known.1.push(one.line.tag.clone()),
            None => by_why.push((why, vec![one.line.tag.clone()])),
        }
        let subject = one.why.as_ref().and_then(|why| why.subject()).map(FindingSubject::from);
        in_the_way.extend(subject.filter(|one| !in_the_way.contains(one)));
    }
    let said: Vec<String> =
        by_why.iter().map(|(why, lines)| format!("under {}: {why}", tags(lines))).collect();
    (!said.is_empty()).then(|| (format!("; no carrier can stand everywhere {}", said.join("; ")), in_the_way))
}
