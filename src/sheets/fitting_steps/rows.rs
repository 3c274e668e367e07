//! Delivery tubes, and what stands in them.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::order::{Laid, beneath_first, laid_feed};
use super::watch::OnTheBar;
use super::work::{CutDuring, METERING, Tally, Work, folding, pumping, step};
use crate::plan::cutting::{MovingEnd, cut_length};
use crate::plan::{EntryKey, FeedElement, PartId, RowFeed, words};
use crate::quantities::{Length, Measure};
use crate::sheets::cut_plan::CutPiece;
use crate::sheets::document::{FittingStep, Hazard};
use crate::sheets::extras::{ExtraKind, TUBE_SUPPORTS};

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
    /// A line a manifold, from the pump outwards, its tubes as they lie over each other.
    pub(super) fn tubes(&self) -> Vec<FittingStep> {
        let mut by_part: BTreeMap<(u64, Option<PartId>), Vec<&RowFeed>> = BTreeMap::new();
        for feed in &self.routing.routing.feeds {
            let part = feed.from.port().map(|port| port.part);
            let way = part.map_or(u64::MAX, |part| self.way_to(part));
            by_part.entry((way, part)).or_default().push(feed);
        }
        if by_part.is_empty() {
            return Vec::new();
        }
        let mut tally = Tally::default();
        let is_tube = |piece: &&CutPiece| piece.feed.is_some() && !piece.is_metering;
        for piece in self.pieces.iter().filter(is_tube) {
            self.tally_piece(&mut tally, piece);
        }
        self.tally_extras(&mut tally, |kind| *kind == ExtraKind::RowAdapter);
        let mut details = Vec::new();
        let mut split: BTreeMap<Option<usize>, Vec<String>> = BTreeMap::new();
        for ((_, part), feeds) in by_part {
            let laid: Vec<Laid> = feeds.iter().map(|feed| laid_feed(self.routing, feed)).collect();
            let tags: Vec<String> =
                beneath_first(&laid).into_iter().map(|at| feeds[at].tag.clone()).collect();
            let rows: Vec<u32> = feeds.iter().flat_map(|feed| self.rows_of(feed)).collect();
            let to =
                if rows.is_empty() { String::new() } else { format!(" to rows {}", words::ranges(&rows)) };
            details.push(part.and_then(|part| self.routing.part(part)).map_or_else(
                || format!("Not joined to a manifold yet: {}{to}", words::tags(&tags)),
                |part| {
                    let section = self.section_words(part.section);
                    format!("{} on the {section}: {}{to}", part.tag, words::tags(&tags))
                },
            ));
            for feed in feeds {
                let Some(tee) = &feed.split else { continue };
                let number = self.number(&tee.entry);
                // One more row takes one more small tee.
                let tees = feed.branches.len().max(2) - 1;
                tally.add(number, tees);
                let many = if tees == 1 { String::new() } else { format!(" ({tees} behind each other)") };
                split.entry(number).or_default().push(format!("{}{many}", feed.tag));
            }
        }
        for (number, tags) in split {
            let item = number.map_or_else(String::new, |number| format!(" (item {number})"));
            details.push(format!("Small tee{item} near the openers in {}", words::tags(&tags)));
        }
        let apart = Measure::CutLength.short_text(TUBE_SUPPORTS, self.project.units);
        details.push(format!(
            "Pushed in to the mark (how deep stands below the cut list) and pulled on once; a clip or tie about every {apart}, none on a bend, no loop higher than \
             the manifold; {}",
            self.least_radii(self.routing.routing.feeds.iter().flat_map(RowFeed::elements).filter_map(|element| {
                match element {
                    FeedElement::Tube(tube) => Some(&tube.line.stock),
                    _ => None,
                }
            }))
        ));
        details.extend(self.where_tubes_are_tied());
        let across = self.tubes_across();
        let hinged = self.project.bar.sections.iter().filter(|section| section.hinge.is_some());
        details.extend(hinged.filter_map(|section| self.clamps_at(&across, section.id)));
        if !across.is_empty() {
            details.push(self.fasten_words(&across));
        }
        let to_cut = self.tags_cut(CutDuring::RowTubes);
        let cut = if to_cut.is_empty() {
            "their lengths were measured with it".to_owned()
        } else {
            format!(
                "hold each tube in place with its loop, only then cut it to length and label both ends; {}",
                self.loop_in_length(&to_cut)
            )
        };
        details.push(format!(
            "Openers rise, trip and float: leave a loop at each, and move one opener of each kind through all its travel before \
             the tubes are tied; {cut}"
        ));
        let waits = |piece: &&CutPiece| is_tube(piece) && piece.crosses_hinge;
        let crossing: Vec<String> = self.pieces.iter().filter(waits).map(|piece| piece.tag.clone()).collect();
        self.tally_labels(&mut tally, self.tags_cut(CutDuring::RowTubes).len() - crossing.len());
        let mut steps =
            vec![tally.of(step("Push in the tubes and lay them to their rows, in this order", details))];
        if !crossing.is_empty() {
            let mut labels = Tally::default();
            self.tally_labels(&mut labels, crossing.len());
            let mut watched = vec![
                "No tube stretched, kinked or pinched; wings locked before anything is cut; write the lengths as cut into the cut \
                 list"
                    .to_owned(),
            ];
            watched.extend(self.watch_in_fold(&[OnTheBar::Tubes]));
            steps.push(labels.of(folding(
                format!(
                    "Fold slowly and watch {} at the hinges; then cut them to length",
                    words::tags(&crossing)
                ),
                watched,
            )));
        }
        steps
    }

    /// Which cuts hold the loop at the opener, and which end at none.
    fn loop_in_length(&self, to_cut: &[String]) -> String {
        let own = self.pieces.iter().filter(|piece| to_cut.contains(&piece.tag));
        let (looped, others): (Vec<&CutPiece>, Vec<&CutPiece>) =
            own.partition(|piece| piece.moving_end == Some(MovingEnd::Opener));
        let tags = |pieces: Vec<&CutPiece>| -> Vec<String> {
            pieces.into_iter().map(|piece| piece.tag.clone()).collect()
        };
        let (looped, others) = (tags(looped), tags(others));
        let spare = Measure::CutLength.short_text(self.project.limits.opener_loop.si(), self.project.units);
        if looped.is_empty() {
            return format!("no length of the cut list{} holds any for the loop", self.cut_numbers(&others));
        }
        let mut says =
            format!("the cut list's length{} holds {spare} for the loop", self.cut_numbers(&looped));
        if !others.is_empty() {
            let (ends, which) = if others.len() == 1 { ("ends", "holds") } else { ("end", "hold") };
            let _ = write!(
                says,
                "; {}{} {ends} at no opener and {which} none",
                words::tags(&others),
                self.cut_numbers(&others)
            );
        }
        says
    }

    /// The numbers of the rows that a feed leads to.
    fn rows_of(&self, feed: &RowFeed) -> Vec<u32> {
        feed.branches.iter().filter_map(|branch| Some(self.project.bar.row(branch.row)?.number)).collect()
    }

    pub(super) fn rows(&self) -> Vec<FittingStep> {
        if self.routing.routing.feeds.is_empty() {
            return Vec::new();
        }
        let kinds = self.row_kinds();
        let before =
            if kinds.is_empty() { String::new() } else { format!(", before {} go in", words::list(&kinds)) };
        let mut steps = vec![pumping(
            format!("Flush the tubes with their ends open over containers{before}"),
            vec![
                "Until each runs clear and full; a tube that runs weaker than its neighbours is kinked or blocked".to_owned(),
            ],
        )];
        let mut tally = Tally::default();
        let mut shared: Vec<(Vec<Fitted>, Vec<String>)> = Vec::new();
        let mut single: Vec<(Vec<Fitted>, Vec<u32>)> = Vec::new();
        for feed in &self.routing.routing.feeds {
            for fitted in feed.elements().filter_map(Fitted::of) {
                tally.add(self.number(fitted.entry), 1);
            }
            group(&mut shared, &feed.trunk, feed.tag.clone());
            for branch in &feed.branches {
                if let Some(row) = self.project.bar.row(branch.row) {
                    group(&mut single, &branch.elements, row.number);
                }
            }
        }
        self.tally_extras(&mut tally, |kind| {
            matches!(kind, ExtraKind::MeteringEnds | ExtraKind::OpenerOutlet)
        });
        single.sort_by(|a, b| a.1.cmp(&b.1));
        let fitted_words =
            |all: &[Fitted]| all.iter().map(|one| self.fitted_words(one)).collect::<Vec<_>>().join(", then ");
        let mut details: Vec<String> = shared
            .iter()
            .map(|(fitted, tags)| {
                let name = if tags.len() == 1 { "shared tube" } else { "shared tubes" };
                format!("{name} {}: {}", words::tags(tags), fitted_words(fitted))
            })
            .collect();
        details.extend(single.iter().map(|(fitted, rows)| {
            let name = if rows.len() == 1 { "row" } else { "rows" };
            format!("{name} {}: {}", words::ranges(rows), fitted_words(fitted))
        }));
        let arrows: Vec<String> = kinds.iter().filter(|kind| *kind != METERING).cloned().collect();
        let mut last = "Then the outlet at the opener".to_owned();
        if !arrows.is_empty() {
            last.push_str(". Arrows of ");
            last.push_str(&words::list(&arrows));
            last.push_str(" with the flow");
        }
        if kinds.iter().any(|kind| kind == METERING) {
            last.push_str(". One metering element a row, all of the size listed");
        }
        details.push(last);
        details.push(
            "Before a tube is opened: pump off, supply shut, pressure off at the lowest joint; flush water from a used tank \
             still holds what was in it"
                .to_owned(),
        );
        let mut fit = pumping("Fit into each row, in the order the liquid passes", details);
        fit.hazards.extend([Hazard::Chemicals].into_iter().filter(|one| self.applies(*one)));
        steps.push(tally.of(fit));
        steps
    }

    /// `check valve 0.2 bar (item 9)`.
    fn fitted_words(&self, fitted: &Fitted) -> String {
        let size = self
            .item(fitted.entry)
            .map_or_else(String::new, |item| format!(" {}", item.size(self.project.units)));
        let length = fitted.length.map_or_else(String::new, |length| {
            let cut = cut_length(length, self.project.units, true);
            format!(", cut to {}", self.cut_length(cut))
        });
        format!("{}{size}{length}{}", fitted.kind, self.of_item(fitted.entry))
    }
}
