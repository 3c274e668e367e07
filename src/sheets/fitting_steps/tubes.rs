//! Delivery tubes, and what stands in them.

use std::collections::BTreeMap;

use super::order::{Laid, beneath_first, laid_feed};
use super::work::{Work, counted, pumping, step};
use crate::plan::{Branch, EntryKey, FeedElement, PartId, RowFeed, words};
use crate::quantities::{Length, Measure};
use crate::sheets::cut_plan::CutPiece;
use crate::sheets::document::Step;
use crate::sheets::places;

/// What is fitted into a tube: all but tubes.
#[derive(PartialEq)]
struct Fitted<'a> {
    entry: &'a EntryKey,
    kind: &'static str,
    /// Of a metering tube.
    length: Option<Length>,
}

impl<'a> Fitted<'a> {
    fn of(element: &'a FeedElement) -> Option<Self> {
        let length = match element {
            FeedElement::Tube(_) => return None,
            FeedElement::MeteringTube { length, .. } => Some(*length),
            FeedElement::Piece(..) | FeedElement::Fitting(_) => None,
        };
        Some(Self { entry: element.entry(), kind: element.kind(), length })
    }
}

/// Puts it with those that have the same fitted in the same order; with none, where nothing is fitted.
fn group<'a, T: Ord>(groups: &mut Vec<(Vec<Fitted<'a>>, Vec<T>)>, elements: &'a [FeedElement], of: T) {
    let fitted: Vec<Fitted> = elements.iter().filter_map(Fitted::of).collect();
    if fitted.is_empty() {
        return;
    }
    if let Some((_, known)) = groups.iter_mut().find(|(other, _)| *other == fitted) {
        known.push(of);
        known.sort();
    } else {
        groups.push((fitted, vec![of]));
    }
}

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
                || "Lay the tubes that are not connected to a manifold yet".to_owned(),
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
        let own = |piece: &&CutPiece| !piece.is_metering && piece.feed == Some(feed.id);
        let mut words: Vec<String> = self
            .pieces
            .iter()
            .filter(own)
            .map(|piece| {
                // The metering is not in yet, so the tube goes to its row and ends open there.
                let to = piece.row.map_or_else(|| piece.to.clone(), |row| places::row(self.project, row));
                self.piece_words(&CutPiece { to, ..piece.clone() })
            })
            .collect();
        if let Some(split) = &feed.split {
            let rows: Vec<u32> = feed
                .branches
                .iter()
                .filter_map(|branch| Some(self.project.bar.row(branch.row)?.number))
                .collect();
            let tees = match rows.len().saturating_sub(1) {
                0 | 1 => format!("small tee{}", self.of_item(&split.entry)),
                several => {
                    format!("{several} small tees{}, one behind the other,", self.of_item(&split.entry))
                }
            };
            words.push(format!("{}: {tees} for rows {}", feed.tag, words::ranges(&rows)));
        }
        words
    }

    pub(super) fn metering(&self) -> Vec<Step> {
        if self.routing.routing.feeds.is_empty() {
            return Vec::new();
        }
        let mut steps = vec![pumping(
            "Flush the tubes with their ends open over containers, before any check valve, flow indicator or metering of a row is in",
            vec![
                "Until each runs clear and full; a tube that runs weaker than its neighbours is kinked or blocked".to_owned(),
            ],
        )];
        for section in &self.project.bar.sections {
            let mut shared: Vec<(Vec<Fitted>, Vec<String>)> = Vec::new();
            let mut single: Vec<(Vec<Fitted>, Vec<u32>)> = Vec::new();
            let number = |branch: &Branch| {
                self.project.bar.row(branch.row).filter(|row| row.section == section.id).map(|row| row.number)
            };
            for feed in &self.routing.feeds {
                if feed.branches.first().and_then(number).is_some() {
                    group(&mut shared, &feed.trunk, feed.tag.clone());
                }
                for branch in &feed.branches {
                    if let Some(number) = number(branch) {
                        group(&mut single, &branch.elements, number);
                    }
                }
            }
            if shared.is_empty() && single.is_empty() {
                continue;
            }
            let fitted_words = |all: &[Fitted]| {
                all.iter().map(|one| self.fitted_words(one)).collect::<Vec<_>>().join(", then ")
            };
            let of_shared = shared.iter().map(|(fitted, tags)| {
                let name = if tags.len() == 1 { "shared tube" } else { "shared tubes" };
                format!("{name} {}: {}", words::tags(tags), fitted_words(fitted))
            });
            let of_single = single.iter().map(|(fitted, rows)| {
                let name = if rows.len() == 1 { "row" } else { "rows" };
                format!("{name} {}: {}", words::ranges(rows), fitted_words(fitted))
            });
            let details: Vec<String> = of_shared.chain(of_single).collect();
            let mut all: Vec<u32> =
                self.routing.feeds.iter().flat_map(|feed| &feed.branches).filter_map(number).collect();
            all.sort_unstable();
            steps.push(step(
                format!(
                    "On the {}, rows {}: fit in the order the liquid passes",
                    self.section_words(section.id),
                    words::ranges(&all)
                ),
                details,
            ));
        }
        steps.push(step(
            "Check every row: the arrows of check valve and flow indicator with the flow, one metering element a row, all of the size listed",
            Vec::new(),
        ));
        steps
    }

    /// `check valve 0.2 bar (item 9)`.
    fn fitted_words(&self, fitted: &Fitted) -> String {
        let size = self
            .item(fitted.entry)
            .map_or_else(String::new, |item| format!(" {}", item.size(self.project.units)));
        let length =
            fitted.length.map_or_else(String::new, |length| format!(", cut to {}", self.cut_length(length)));
        format!("{}{size}{length}{}", fitted.kind, self.of_item(fitted.entry))
    }
}
