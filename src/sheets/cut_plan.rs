//! What is cut: every piece of hose and tube with its length, and from which roll it comes.

use std::collections::BTreeMap;

use super::packing::{Packing, first_fit_decreasing};
use super::places;
use crate::checks::{Subject, bend_radius, hinge_slack};
use crate::plan::cutting::cut_length;
use crate::plan::{
    ElementGeometry, End, EntryKey, FeedElement, FeedId, LaidRouting, Line, Project, RowFeed, RowId,
    SectionId,
};
use crate::quantities::{Length, Measure};

/// What to do with a length that nobody computed through the fold.
pub(super) const THROUGH_THE_FOLD: &str = "measure through the full fold before cutting";

/// A piece of hose or tube to cut.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPiece {
    /// `H3`, `T14`; `T14.2` for the second piece of a row feed that has several.
    pub tag: String,
    /// Where it starts: `M3/4`.
    pub from: String,
    /// Where it ends: `check valve of row 14`.
    pub to: String,
    /// Hose, tube or metering tube of the catalogue.
    pub stock: EntryKey,
    /// The row feed it is part of; none for a hose.
    pub feed: Option<FeedId>,
    /// The row it leads to alone; none where it leads to several, or to no row.
    pub row: Option<RowId>,
    /// It crosses a hinge, and nobody computed its length through the fold.
    pub crosses_hinge: bool,
    /// Length to cut, rounded; none where an end is not connected.
    pub length: Option<Length>,
    /// What to know before cutting.
    pub remarks: Vec<String>,
    /// Cut to a length that meters: rounded to the nearest step, and never changed on the bar.
    pub is_metering: bool,
}

pub(super) const fn micrometres(length: u64) -> Length {
    Length::metres(length as f64 / 1e6)
}

/// Every piece of hose and tube of a routing: the runs, then the row feeds, in the routing's order.
pub fn pieces(project: &Project, routing: LaidRouting) -> Vec<CutPiece> {
    let mut pieces: Vec<CutPiece> = Vec::new();
    let too_short = hinge_slack::too_short(project, routing);
    let lacks = |subject: Subject| {
        let (_, missing) = too_short.iter().find(|(one, _)| *one == subject)?;
        let missing = Measure::CutLength.text(missing.si(), project.units);
        Some(format!(
            "Too short for the way the bar folds by {missing}: allow more at the hinge before cutting"
        ))
    };
    let tight = bend_radius::tight_bends(project, routing);
    let kinks = |subject: Subject| {
        let one = tight.iter().find(|one| one.subject == subject)?;
        Some(format!("As drawn: {}; lay it wider or fit an elbow", one.words(project.units)))
    };
    for run in &routing.runs {
        let sections = routing.carrier(&run.from).zip(routing.carrier(&run.to));
        let HingeRemarks { words: mut remarks, crosses: crosses_hinge } =
            hinge_remarks(project, &run.line, sections);
        if [run.from, run.to].iter().any(|end| matches!(end, End::Loose(_))) {
            remarks.push("Loose end: connect it before cutting".to_owned());
        }
        remarks.extend(lacks(Subject::Run(run.id)));
        remarks.extend(kinks(Subject::Run(run.id)));
        pieces.push(CutPiece {
            tag: run.tag.clone(),
            from: places::end(routing, &run.from),
            to: places::end(routing, &run.to),
            feed: None,
            row: None,
            crosses_hinge,
            stock: run.line.stock.any().clone(),
            length: routing.geometry.run(run.id).map(|laid| laid.cut(project.units)),
            remarks,
            is_metering: false,
        });
    }
    for feed in &routing.feeds {
        let mut own = feed_pieces(project, routing, feed);
        if let Some(first) = own.first_mut() {
            let subject = Subject::Feed(feed.id);
            first.remarks.extend(lacks(subject).into_iter().chain(kinks(subject)));
        }
        pieces.extend(own);
    }
    pieces
}

fn feed_pieces(project: &Project, routing: LaidRouting, feed: &RowFeed) -> Vec<CutPiece> {
    let geometry = routing.geometry.feed(feed.id);
    let is_cut =
        |element: &&FeedElement| matches!(element, FeedElement::Tube(_) | FeedElement::MeteringTube { .. });
    let several = feed.elements().filter(is_cut).count() > 1;
    let start = places::end(routing, &feed.from);
    let from_section = routing.carrier(&feed.from);
    let split = feed.split.as_ref().map(|_| format!("small tee of {}", feed.tag));
    let mut pieces: Vec<CutPiece> = Vec::new();
    let mut stretch = |elements: &[FeedElement],
                       laid: &[ElementGeometry],
                       start: &str,
                       end: &str,
                       of: &str,
                       row: Option<RowId>,
                       section: Option<SectionId>| {
        let named = |element: Option<&FeedElement>, otherwise: &str| {
            element.map_or_else(|| otherwise.to_owned(), |one| format!("{} of {of}", one.kind()))
        };
        for (index, element) in elements.iter().enumerate() {
            let (length, HingeRemarks { words: remarks, crosses: crosses_hinge }, is_metering) = match element
            {
                FeedElement::Tube(tube) => {
                    let length = laid.get(index).and_then(|laid| laid.length);
                    let hinges = hinge_remarks(project, &tube.line, from_section.zip(section));
                    (length, hinges, false)
                }
                FeedElement::MeteringTube { length, coil, .. } => {
                    let shape = match coil {
                        None => "Cut square to this length exactly; lay it straight".to_owned(),
                        Some(coil) => format!(
                            "Cut square to this length exactly; coil it to {} diameter",
                            Measure::CutLength.short_text(coil.si(), project.units)
                        ),
                    };
                    (Some(*length), HingeRemarks { words: vec![shape], crosses: false }, true)
                }
                _ => continue,
            };
            let number = pieces.len() + 1;
            pieces.push(CutPiece {
                tag: if several { format!("{}.{number}", feed.tag) } else { feed.tag.clone() },
                from: named(index.checked_sub(1).and_then(|before| elements.get(before)), start),
                to: named(elements.get(index + 1), end),
                feed: Some(feed.id),
                row,
                crosses_hinge,
                stock: element.entry().clone(),
                length: length.map(|one| cut_length(one, project.units, is_metering)),
                remarks,
                is_metering,
            });
        }
    };
    let trunk_end = split.clone().unwrap_or_else(|| "its row".to_owned());
    let trunk_section =
        feed.branches.first().and_then(|branch| project.bar.row(branch.row)).map(|row| row.section);
    stretch(
        &feed.trunk,
        geometry.map_or(&[][..], |one| &one.trunk),
        &start,
        &trunk_end,
        &feed.tag,
        None,
        trunk_section,
    );
    for (index, branch) in feed.branches.iter().enumerate() {
        let row = places::row(project, branch.row);
        let begin = split.clone().unwrap_or_else(|| match feed.trunk.last() {
            Some(last) => format!("{} of {}", last.kind(), feed.tag),
            None => start.clone(),
        });
        let section = project.bar.row(branch.row).map(|row| row.section);
        let laid = geometry.map_or(&[][..], |one| one.stretch(Some(index)));
        stretch(&branch.elements, laid, &begin, &row, &row, Some(branch.row), section);
    }
    pieces
}

/// What is to be known of a length because of hinges on its way.
struct HingeRemarks {
    words: Vec<String>,
    /// There is a hinge on the way.
    crosses: bool,
}

/// What each hinge on the way means for the length.
fn hinge_remarks(project: &Project, line: &Line, sections: Option<(SectionId, SectionId)>) -> HingeRemarks {
    let crossed = sections.map_or_else(Vec::new, |(a, b)| project.bar.hinges_between(a, b));
    let name = |section| places::section(project, section);
    if line.measured.is_some() {
        let crosses = !crossed.is_empty();
        let mut words = vec!["Measured on the bar".to_owned()];
        words.extend(crossed.into_iter().map(|section| {
            format!("Crosses the hinge of {}: {THROUGH_THE_FOLD} unless that was measured", name(section))
        }));
        return HingeRemarks { words, crosses };
    }
    let mut words: Vec<String> = line
        .hinge_allowances
        .iter()
        .map(|one| {
            let extra = Measure::CutLength.short_text(one.extra.si(), project.units);
            format!("Hinge of {}: {extra} entered, not computed; {THROUGH_THE_FOLD}", name(one.section))
        })
        .collect();
    let allowed = |section: &SectionId| line.hinge_allowances.iter().any(|one| one.section == *section);
    words.extend(crossed.into_iter().filter(|section| !allowed(section)).map(|section| {
        format!("Crosses the hinge of {} without an allowance; {THROUGH_THE_FOLD}", name(section))
    }));
    HingeRemarks { crosses: !words.is_empty(), words }
}

/// All pieces of one stock, and how they are cut from rolls.
#[derive(Debug, Clone, PartialEq)]
pub struct StockPlan {
    /// The stock.
    pub stock: EntryKey,
    /// Its pieces, by their place in [`CutPlan::pieces`].
    pub pieces: Vec<usize>,
    /// Sum of the known lengths.
    pub total: Length,
    /// Longest piece.
    pub longest: Length,
    /// From which roll each is cut, in micrometres and by place in `pieces` of this plan; none where the catalogue
    /// has no roll length.
    pub packing: Option<Packing>,
}

/// What is cut, and from what.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPlan {
    /// Every piece.
    pub pieces: Vec<CutPiece>,
    /// Each stock in use, in the catalogue's order.
    pub stocks: Vec<StockPlan>,
}

/// Plans the cutting of a routing.
pub fn cut_plan(project: &Project, routing: LaidRouting) -> CutPlan {
    let pieces = pieces(project, routing);
    let mut by_stock: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (index, piece) in pieces.iter().enumerate() {
        let at = project.catalogue.entries.iter().position(|entry| entry.key == piece.stock);
        if let Some(at) = at.filter(|_| piece.length.is_some()) {
            by_stock.entry(at).or_default().push(index);
        }
    }
    let stocks = by_stock
        .into_iter()
        .map(|(at, indices)| {
            let entry = &project.catalogue.entries[at];
            let lengths: Vec<u64> =
                indices.iter().filter_map(|index| pieces[*index].length).map(to_micrometres).collect();
            StockPlan {
                stock: entry.key.clone(),
                total: micrometres(lengths.iter().sum()),
                longest: micrometres(lengths.iter().copied().max().unwrap_or(0)),
                packing: entry.roll.map(|roll| first_fit_decreasing(&lengths, to_micrometres(roll).max(1))),
                pieces: indices,
            }
        })
        .collect();
    CutPlan { pieces, stocks }
}

fn to_micrometres(length: Length) -> u64 {
    (length.si() * 1e6).round() as u64
}

impl CutPlan {
    /// The roll a piece is cut from, from 1 within its stock.
    pub(super) fn roll_of(&self, piece: usize) -> Option<usize> {
        let plan = self.stocks.iter().find(|plan| plan.pieces.contains(&piece))?;
        let at = plan.pieces.iter().position(|one| *one == piece)?;
        let roll = plan.packing.as_ref()?.rolls.iter().position(|roll| roll.contains(&at))?;
        Some(roll + 1)
    }
}
