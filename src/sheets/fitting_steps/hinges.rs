//! Where each hose and tube is clamped beside the hinges that it crosses, and how much of it is free between.

use super::work::Work;
use crate::plan::{
    Clamp, CrossedHinge, CrossingBasis, FeedElement, Line, LineGeometry, RowFeed, Run, SectionId, words,
};
use crate::quantities::Length;
use crate::sheets::extras::ExtraKind;
use crate::sheets::holding::{ClampOn, Holder};

/// How near to a hinge a hose is held where nobody computed a place (common practice, no source).
const NEAR_A_HINGE: Length = Length::metres(0.1);

/// A hose or tube with its tag, as it is drawn and as it lies.
pub(super) struct CrossingLine<'a> {
    pub(super) tag: String,
    line: &'a Line,
    laid: &'a LineGeometry,
}

impl<'a> Work<'a> {
    pub(super) fn lines_of_runs(&self, runs: &[&'a Run]) -> Vec<CrossingLine<'a>> {
        let of = |run: &&'a Run| {
            let laid = self.routing.geometry.run(run.id)?;
            Some(CrossingLine { tag: run.tag.clone(), line: &run.line, laid })
        };
        runs.iter().filter_map(of).collect()
    }

    /// The tubes of all row feeds that cross a hinge, each with the tag of the cut list.
    pub(super) fn tubes_across(&self) -> Vec<CrossingLine<'a>> {
        let all = self.routing.routing.feeds.iter().flat_map(|feed| self.lines_of_feed(feed));
        all.filter(|one| !one.laid.crossings.is_empty()).collect()
    }

    fn lines_of_feed(&self, feed: &'a RowFeed) -> Vec<CrossingLine<'a>> {
        let Some(geometry) = self.routing.geometry.feed(feed.id) else { return Vec::new() };
        let cut = feed.elements().zip(geometry.elements()).filter(|(element, _)| element.is_cut());
        let of = |(at, (element, laid)): (usize, (&'a FeedElement, &'a crate::plan::ElementGeometry))| {
            let FeedElement::Tube(tube) = element else { return None };
            Some(CrossingLine { tag: feed.piece_tag(at + 1), line: &tube.line, laid: laid.tube.as_ref()? })
        };
        cut.enumerate().filter_map(of).collect()
    }

    /// What all these lines need at the hinge of a section, those with the same places said together; none where none crosses
    /// it.
    pub(super) fn clamps_at(&self, lines: &[CrossingLine], hinge: SectionId) -> Option<String> {
        let mut said: Vec<(String, Vec<String>)> = Vec::new();
        for one in lines {
            let crossed = one.laid.crossings.iter().filter(|crossed| crossed.section == hinge);
            let ways: Vec<String> =
                crossed.map(|crossed| self.crossing_words(&one.tag, one.line, crossed)).collect();
            if ways.is_empty() {
                continue;
            }
            let words = ways.join(", there and back ");
            match said.iter_mut().find(|(known, _)| *known == words) {
                Some((_, tags)) => tags.push(one.tag.clone()),
                None => said.push((words, vec![one.tag.clone()])),
            }
        }
        let said: Vec<String> =
            said.into_iter().map(|(words, tags)| format!("{}: {words}", words::tags(&tags))).collect();
        (!said.is_empty()).then(|| format!("Hinge of the {}: {}", self.section_words(hinge), said.join("; ")))
    }

    /// Where the clamps are and what is free between them.
    fn crossing_words(&self, tag: &str, line: &Line, crossed: &CrossedHinge) -> String {
        let Some(crossing) = crossed.computed() else {
            return format!("not computed, clamps within {} of it", self.cut_length(NEAR_A_HINGE));
        };
        let [inner, outer] = crossing.inner_and_outer();
        let free = match &crossed.basis {
            // Its length is what it was cut to: the rest of it lies free.
            _ if line.measured.is_some() => format!("at least {} free", self.cut_length(crossing.free)),
            basis => {
                let free = self.cut_length(crossed.free().unwrap_or(crossing.free));
                let entered = if matches!(basis, CrossingBasis::Entered(_)) { ", as entered," } else { "" };
                format!("{free} free{entered}")
            }
        };
        let place = |clamp: &Clamp| {
            let held = match self.holding.clamp_on(tag, crossed.section, &clamp.at) {
                Some(ClampOn::Bracket) => {
                    format!(", on a bracket{}", self.of_extra(&ExtraKind::Held(Holder::ClampBracket)))
                }
                Some(ClampOn::Carrier(mark)) => format!(", on carrier {mark}"),
                None => String::new(),
            };
            let section = self.section_words(clamp.at.section);
            (self.cut_length(clamp.from_hinge), format!("on the {section}{held}"))
        };
        let [(near, on), (far, on_other)] = [inner, outer].map(place);
        format!("{free} between clamps {near} from it {on} and {far} {on_other}")
    }

    /// How hoses are fastened at hinges whose clamps are named, and at those whose are not.
    pub(super) fn fasten_words(&self, lines: &[CrossingLine]) -> String {
        let mut all = lines.iter().flat_map(|one| &one.laid.crossings);
        let near = self.cut_length(NEAR_A_HINGE);
        let at = if all.clone().all(|crossed| crossed.computed().is_some()) {
            "at the clamp places named here, measured along the hose from the hinge".to_owned()
        } else if all.any(|crossed| crossed.computed().is_some()) {
            format!(
                "at the clamp places named here, measured along the hose from the hinge (within {near} of it only where none is computed)"
            )
        } else {
            format!("within {near} of the hinge")
        };
        format!(
            "Fasten on the inner side, then on the outer, {at}; no tie between the hinge clamps; form the free loop last, in \
             a direction that the hinge does not pinch"
        )
    }
}
