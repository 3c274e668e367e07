//! Delivery tubes, and what stands in them.

use std::collections::BTreeMap;

use super::order::{Laid, beneath_first, laid_feed};
use super::work::{Work, counted, pumping, step};
use crate::plan::{EntryKey, FeedElement, PartId, RowFeed, words};
use crate::quantities::{Length, Measure};
use crate::sheets::cut_plan::CutPiece;
use crate::sheets::document::Step;

impl Work<'_> {
    /// One step a manifold, from the pump outwards, its tubes as they lie over each other.
    pub(super) fn tubes(&self) -> Vec<Step> {
        let mut by_part: BTreeMap<(u64, Option<PartId>), Vec<&RowFeed>> = BTreeMap::new();
        for feed in &self.routing.routing.feeds {
            let part = feed.from.port().map(|port| port.part);
            let way = part.map_or(u64::MAX, |part| self.way_to(part));
            by_part.entry((way, part)).or_default().push(feed);
        }
        let mut steps = Vec::new();
        for ((_, part), feeds) in by_part {
            let laid: Vec<Laid> = feeds.iter().map(|feed| laid_feed(self.routing, feed)).collect();
            let details =
                beneath_first(&laid).into_iter().flat_map(|at| self.feed_words(feeds[at])).collect();
            let place = part.and_then(|part| self.routing.part(part)).map_or_else(
                || "Lay the tubes that hang on no manifold yet".to_owned(),
                |part| {
                    let count = counted(feeds.len(), "tube");
                    format!(
                        "At {} on the {}, push in {count} and lay them to the rows",
                        part.tag,
                        self.section_words(part.section)
                    )
                },
            );
            steps.push(step(place, details));
        }
        if !steps.is_empty() {
            let apart = Measure::CutLength.short_text(0.3, self.project.units);
            steps.push(step(
                "Fasten the tubes",
                vec![
                    format!("A clip or tie about every {apart}; no tie on a bend, no loop higher than the manifold"),
                    self.least_radii(self.routing.routing.feeds.iter().flat_map(RowFeed::elements).filter_map(
                        |element| match element {
                            FeedElement::Tube(tube) => Some(&tube.line.stock),
                            _ => None,
                        },
                    )),
                    "Push each end in to its mark and pull on it once".to_owned(),
                ],
            ));
        }
        steps
    }

    fn feed_words(&self, feed: &RowFeed) -> Vec<String> {
        let own = |piece: &&CutPiece| {
            !piece.is_metering
                && (piece.tag == feed.tag
                    || piece.tag.strip_prefix(feed.tag.as_str()).is_some_and(|rest| rest.starts_with('.')))
        };
        let mut words: Vec<String> = self
            .pieces
            .iter()
            .filter(own)
            .map(|piece| {
                // The metering is not in yet, so the tube goes to its row and ends open there.
                let to = piece.to.rsplit_once(" of ").map_or(piece.to.as_str(), |(_, row)| row);
                let to = if to.starts_with("row ") { to } else { piece.to.as_str() };
                self.piece_words(&CutPiece { to: to.to_owned(), ..piece.clone() })
            })
            .collect();
        if let Some(split) = &feed.split {
            let rows: Vec<u32> = feed
                .branches
                .iter()
                .filter_map(|branch| Some(self.project.bar.row(branch.row)?.number))
                .collect();
            words.push(format!(
                "{}: small tee{} for rows {}",
                feed.tag,
                self.of_item(&split.entry),
                words::ranges(&rows)
            ));
        }
        words
    }

    pub(super) fn metering(&self) -> Vec<Step> {
        if self.routing.routing.feeds.is_empty() {
            return Vec::new();
        }
        let mut steps = vec![pumping(
            "Flush the tubes with their ends open over containers, before any check valve or metering is in",
            vec![
                "Until each runs clear and full; a tube that runs weaker than its neighbours is kinked or blocked".to_owned(),
            ],
        )];
        // What is fitted, counted by section, in the order the liquid passes.
        for section in &self.project.bar.sections {
            let mut counts: Vec<(usize, &EntryKey, &'static str, Option<Length>, usize)> = Vec::new();
            let mut rows: Vec<u32> = Vec::new();
            for feed in &self.routing.routing.feeds {
                for branch in &feed.branches {
                    let Some(row) = self.project.bar.row(branch.row).filter(|row| row.section == section.id)
                    else {
                        continue;
                    };
                    rows.push(row.number);
                    let trunk = if branch.row == feed.branches[0].row { feed.trunk.as_slice() } else { &[] };
                    for (place, element) in trunk.iter().chain(&branch.elements).enumerate() {
                        if matches!(element, FeedElement::Tube(_)) {
                            continue;
                        }
                        let length = if let FeedElement::MeteringTube { length, .. } = element {
                            Some(*length)
                        } else {
                            None
                        };
                        let same = counts.iter_mut().find(|one| one.1 == element.entry() && one.3 == length);
                        match same {
                            // In a shared feed the same part comes after more pieces.
                            Some(one) => *one = (one.0.min(place), one.1, one.2, one.3, one.4 + 1),
                            None => counts.push((place, element.entry(), element.kind(), length, 1)),
                        }
                    }
                }
            }
            if counts.is_empty() {
                continue;
            }
            counts.sort_by_key(|one| one.0);
            let details = counts
                .into_iter()
                .map(|(_, entry, kind, length, count)| {
                    let size =
                        self.item(entry).map_or_else(String::new, |item| item.size(self.project.units));
                    let length = length
                        .map_or_else(String::new, |length| format!(", cut to {}", self.cut_length(length)));
                    format!("{count} × {kind} {size}{length}{}", self.of_item(entry))
                })
                .collect();
            steps.push(step(
                format!(
                    "On the {}, rows {}: fit in the order the liquid passes",
                    self.section_words(section.id),
                    words::ranges(&rows)
                ),
                details,
            ));
        }
        steps.push(step(
            "Check every row: the check valve's arrow with the flow, one metering element a row, all of the size listed",
            Vec::new(),
        ));
        steps
    }
}
