//! What is cut: every piece of hose and tube with its length, and from which roll it comes.

use std::collections::BTreeMap;

use super::packing::{Packing, first_fit_decreasing};
use super::places;
use crate::checks::{FindingSubject, bend_radius, hinge_slack};
use crate::plan::cutting::{MovingEnd, cut_length};
use crate::plan::limits::BARB_IN_BORES;
use crate::plan::{
    CrossedHinge, CrossingBasis, ElementGeometry, End, EntryKey, FeedElement, FeedId, Item, LaidRouting,
    Limits, Line, LineGeometry, Project, Routing, RoutingGeometry, RowFeed, RowId, SectionId, StockItem,
};
use crate::quantities::{Length, Measure};

/// What to do with a length that nobody tried through the fold.
const THROUGH_THE_FOLD: &str = "measure through the full fold before cutting to length";

/// Labels of a piece, one round each end; they go on when it has its last length, so that none is cut off again.
pub const LABELS_A_PIECE: usize = 2;

/// A piece of hose or tube to cut.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPiece {
    /// `H3`, `T14`; `T14.2` for the second piece of a row feed that has several.
    pub tag: String,
    /// Where it starts: `M3/4`.
    pub from: String,
    /// Where it ends: `check valve of row 14`.
    pub to: String,
    /// The same in two, where it ends at an element of a row feed: `check valve`, `row 14`.
    pub to_element: Option<(&'static str, String)>,
    /// Hose, tube or metering tube of the catalogue.
    pub stock: EntryKey,
    /// The row feed it is part of; none for a hose.
    pub feed: Option<FeedId>,
    /// The row it leads to alone; none where it leads to several, or to no row.
    pub row: Option<RowId>,
    /// It crosses a hinge.
    pub crosses_hinge: bool,
    /// Clamps beside hinges, two at each that it crosses, whether its length was measured or not.
    pub hinge_clamps: usize,
    /// How much of its length hangs free between the clamps of hinges, where it is tied to nothing; without those that are not
    /// computed.
    pub hinge_free: Length,
    /// What moves at its end: the loop for that is in its length, unless it was measured.
    pub moving_end: Option<MovingEnd>,
    /// Length as it is fitted, with its loop, rounded; none where an end is not connected.
    pub length: Option<Length>,
    /// When it is cut, and with how much over.
    pub cutting: Cutting,
    /// Its length was measured on the bar.
    pub is_measured: bool,
    /// What to know before cutting.
    pub remarks: Vec<String>,
    /// Cut to a length that meters: rounded to the nearest step, and never changed on the bar.
    pub is_metering: bool,
}

/// With how much a piece is cut longer, and whether anybody chose that.
fn loop_remark(end: MovingEnd, project: &Project) -> String {
    let spare = end.spare(&project.limits);
    let (at, way) = match end {
        MovingEnd::Opener => ("opener", "rises and trips"),
        MovingEnd::Hitch => ("hitch", "turns and lifts"),
    };
    let assumed = if spare == end.spare(&Limits::default()) { ", ASSUMED" } else { "" };
    let spare = Measure::CutLength.short_text(spare.si(), project.units);
    format!("With {spare}{assumed}, for the loop at the {at}, which {way}")
}

/// When a piece is cut, in the order in which that is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cutting {
    /// At once, to its length.
    Finished,
    /// Its length waits for the fold trial: cut with so much over, and to length afterwards.
    Rough {
        /// Cut longer than its length by this.
        excess: Length,
    },
    /// The supply hose: last, when the bar hangs on the tractor.
    Last,
}

impl Cutting {
    /// The place in the order: what is finished, what is rough, what is last.
    pub(super) const fn stage(self) -> u8 {
        match self {
            Self::Finished => 0,
            Self::Rough { .. } => 1,
            Self::Last => 2,
        }
    }

    fn excess(self) -> Length {
        match self {
            Self::Rough { excess } => excess,
            Self::Finished | Self::Last => Length::ZERO,
        }
    }
}

impl CutPiece {
    /// What is cut from the roll: the length as it is fitted, and what a rough cut has over.
    pub fn length_to_cut(&self) -> Option<Length> {
        self.length.map(|length| length + self.cutting.excess())
    }
}

/// How a piece whose ends lie so is cut: roughly if it crosses hinges, last if it comes from the pump, unless somebody measured
/// it.
fn cutting(project: &Project, line: &Line, crossings: usize, is_supply: bool) -> Cutting {
    if line.measured.is_some() {
        // It is cut already.
        Cutting::Finished
    } else if is_supply {
        Cutting::Last
    } else if crossings > 0 {
        Cutting::Rough { excess: rough_excess(project) * crossings as f64 }
    } else {
        Cutting::Finished
    }
}

/// What a rough cut has over for each hinge, as a tape measure shows it: twice as much for two hinges reads as twice.
pub(super) fn rough_excess(project: &Project) -> Length {
    cut_length(project.limits.rough_cut, project.units, false)
}

pub(super) const fn micrometres(length: u64) -> Length {
    Length::metres(length as f64 / 1e6)
}

/// A tube shorter than so many of its outside diameters can't be pushed into both its ends (common practice, no source).
const LEAST_TUBE: f64 = 10.0;

/// A piece that is too short to be fitted at both its ends.
fn stub(project: &Project, piece: &CutPiece) -> Option<String> {
    let own_loop = piece.moving_end.map_or(Length::ZERO, |end| end.spare(&project.limits));
    let length = piece.length.filter(|_| !piece.is_metering)? - own_loop;
    let Item::Stock(item) = project.catalogue.any_item(&piece.stock)? else { return None };
    let least = match item {
        StockItem::Hose(hose) => hose.bore * (2.0 * BARB_IN_BORES),
        StockItem::Tube(tube) | StockItem::MeteringTube(tube) => tube.outside * LEAST_TUBE,
    };
    (length < least).then(|| {
        let least = Measure::CutLength.short_text(least.si(), project.units);
        format!("Too short to be fitted at both ends, which takes about {least}: move the parts apart, or join them directly")
    })
}

/// Every piece of hose and tube of a routing: the runs, then the row feeds, in the routing's order.
pub fn pieces(project: &Project, routing: LaidRouting) -> Vec<CutPiece> {
    let mut pieces: Vec<CutPiece> = Vec::new();
    let too_short = hinge_slack::too_short(project, routing);
    let lacks = |subject: FindingSubject| {
        let (_, missing) = too_short.iter().find(|(one, _)| *one == subject)?;
        let missing = Measure::CutLength.text(missing.si(), project.units);
        Some(format!(
            "Too short for the way the bar folds by {missing}: allow more at the hinge before cutting"
        ))
    };
    let tight = bend_radius::tight_bends(project, routing);
    let kinks = |subject: FindingSubject| {
        let one = tight.iter().find(|one| one.subject == subject)?;
        Some(format!("As drawn: {}; lay it wider or fit an elbow", one.words(project.units)))
    };
    for run in &routing.runs {
        let sections = routing.carrier(&run.from).zip(routing.carrier(&run.to));
        let laid = routing.geometry.run(run.id);
        let HingeRemarks { words: mut remarks, crosses: crosses_hinge } =
            hinge_remarks(project, &run.line, laid, sections);
        if [run.from, run.to].iter().any(|end| matches!(end, End::Loose(_))) {
            remarks.push("Loose end: connect it before cutting".to_owned());
        }
        remarks.extend(lacks(FindingSubject::Run(run.id)));
        remarks.extend(kinks(FindingSubject::Run(run.id)));
        let is_supply = [run.from, run.to].contains(&End::Supply);
        let crossings = laid.map_or(0, |laid| laid.hinges.len());
        pieces.push(CutPiece {
            moving_end: laid.and_then(|laid| laid.moving_end),
            cutting: cutting(project, &run.line, crossings, is_supply),
            is_measured: run.line.measured.is_some(),
            to_element: None,
            tag: run.tag.clone(),
            from: places::end(routing, &run.from),
            to: places::end(routing, &run.to),
            feed: None,
            row: None,
            crosses_hinge,
            hinge_clamps: laid.map_or(0, hinge_clamps),
            hinge_free: laid.map_or(Length::ZERO, hinge_free),
            stock: run.line.stock.any().clone(),
            length: laid.map(|laid| laid.cut(project)),
            remarks,
            is_metering: false,
        });
    }
    for feed in &routing.feeds {
        let mut own = feed_pieces(project, routing, feed);
        if let Some(first) = own.first_mut() {
            let subject = FindingSubject::Feed(feed.id);
            first.remarks.extend(lacks(subject).into_iter().chain(kinks(subject)));
        }
        pieces.extend(own);
    }
    for piece in &mut pieces {
        piece.remarks.extend(piece.moving_end.map(|end| loop_remark(end, project)));
        piece.remarks.extend(stub(project, piece));
    }
    pieces
}

fn feed_pieces(project: &Project, routing: LaidRouting, feed: &RowFeed) -> Vec<CutPiece> {
    let geometry = routing.geometry.feed(feed.id);
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
            let mut moving_end = None;
            let (mut clamps, mut free) = (0, Length::ZERO);
            let (length, HingeRemarks { words: remarks, crosses: crosses_hinge }, cutting) = match element {
                FeedElement::Tube(tube) => {
                    let laid = laid.get(index).and_then(|laid| laid.tube.as_ref());
                    let hinges = hinge_remarks(project, &tube.line, laid, from_section.zip(section));
                    let crossings = laid.map_or(0, |laid| laid.hinges.len());
                    let cutting = cutting(project, &tube.line, crossings, false);
                    moving_end = laid.and_then(|laid| laid.moving_end);
                    clamps = laid.map_or(0, hinge_clamps);
                    free = laid.map_or(Length::ZERO, hinge_free);
                    (laid.map(|laid| laid.cut(project)), hinges, cutting)
                }
                FeedElement::MeteringTube { length, coil, .. } => {
                    let shape = match coil {
                        None => "Cut square to this length exactly; lay it straight".to_owned(),
                        Some(coil) => format!(
                            "Cut square to this length exactly; coil it to {} diameter",
                            Measure::CutLength.short_text(coil.si(), project.units)
                        ),
                    };
                    (
                        Some(cut_length(*length, project.units, true)),
                        HingeRemarks { words: vec![shape], crosses: false },
                        Cutting::Finished,
                    )
                }
                _ => continue,
            };
            let is_metering = matches!(element, FeedElement::MeteringTube { .. });
            let number = pieces.len() + 1;
            pieces.push(CutPiece {
                tag: feed.piece_tag(number),
                from: named(index.checked_sub(1).and_then(|before| elements.get(before)), start),
                to: named(elements.get(index + 1), end),
                to_element: elements.get(index + 1).map(|one| (one.kind(), of.to_owned())),
                cutting,
                is_measured: matches!(element, FeedElement::Tube(tube) if tube.line.measured.is_some()),
                feed: Some(feed.id),
                row,
                crosses_hinge,
                hinge_clamps: clamps,
                hinge_free: free,
                moving_end,
                stock: element.entry().clone(),
                length,
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

/// Clamps beside the hinges that a line crosses.
const fn hinge_clamps(laid: &LineGeometry) -> usize {
    2 * laid.crossings.len()
}

/// What lies free between the clamps beside these hinges, where they are computed.
fn hinge_free(laid: &LineGeometry) -> Length {
    laid.crossings.iter().filter_map(CrossedHinge::free).sum()
}

/// What is to be known of a length because of hinges on its way.
struct HingeRemarks {
    words: Vec<String>,
    /// There is a hinge on the way.
    crosses: bool,
}

/// What each hinge on the way means for the length.
fn hinge_remarks(
    project: &Project,
    line: &Line,
    laid: Option<&LineGeometry>,
    sections: Option<(SectionId, SectionId)>,
) -> HingeRemarks {
    let crossed = match laid {
        Some(laid) => laid.hinges.clone(),
        None => sections.map_or_else(Vec::new, |(a, b)| project.bar.hinges_between(a, b)),
    };
    let name = |section| places::section(project, section);
    if line.measured.is_some() {
        let mut words = vec!["Measured on the bar".to_owned()];
        words.extend(
            crossed
                .into_iter()
                .map(|section| format!("Crosses the hinge of {}: watch it in the fold trial", name(section))),
        );
        return HingeRemarks { words, crosses: false };
    }
    let length = |one: Length| Measure::CutLength.short_text(one.si(), project.units);
    let at_hinge = |one: &CrossedHinge| {
        let says = match &one.basis {
            CrossingBasis::Entered(_) => format!("{} entered, not computed", length(one.extra)),
            CrossingBasis::Computed(crossing) => {
                format!(
                    "{} free between clamps {}, computed through the fold without set and twist",
                    length(crossing.free),
                    crossing.clamp_words(project.units)
                )
            }
            CrossingBasis::Assumed(why) => {
                format!("{} ASSUMED, not computed ({})", length(one.extra), why.words())
            }
        };
        format!("Hinge of {}: {says}; {THROUGH_THE_FOLD}", name(one.section))
    };
    let mut words: Vec<String> =
        laid.map_or_else(Vec::new, |laid| laid.crossings.iter().map(at_hinge).collect());
    if laid.is_none() {
        words.extend(
            crossed
                .into_iter()
                .map(|section| format!("Crosses the hinge of {}: {THROUGH_THE_FOLD}", name(section))),
        );
    }
    HingeRemarks { crosses: !words.is_empty(), words }
}

/// All pieces of one stock, and how they are cut from rolls.
#[derive(Debug, Clone, PartialEq)]
pub struct StockPlan {
    /// The stock.
    pub stock: EntryKey,
    /// Its pieces, by their place in [`CutPlan::pieces`].
    pub pieces: Vec<usize>,
    /// Sum of the known lengths to cut, with the trim of each.
    pub total: Length,
    /// Sum of the known lengths as they are fitted, without what rough cuts have over.
    pub fitted: Length,
    /// Longest piece to cut, with its trim.
    pub longest: Length,
    /// From which roll each is cut, in micrometres and by place in `pieces` of this plan; none where the catalogue
    /// has no roll length. Finished lengths are packed by themselves; rough cuts and the supply hose, whose lengths may
    /// still change, come off what is left of these rolls, or off further ones.
    pub packing: Option<Packing>,
}

/// What is cut, and from what.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPlan {
    /// Every piece, in the order of the routing.
    pub pieces: Vec<CutPiece>,
    /// Each stock in use, in the catalogue's order.
    pub stocks: Vec<StockPlan>,
    /// The cuts in the order they are made.
    pub cuts: Vec<Cut>,
}

/// One cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cut {
    /// The piece, by its place in [`CutPlan::pieces`].
    pub piece: usize,
    /// Its number, from 1 in the order of cutting; lengths that are measured on the bar don't change it, for its labels are
    /// there by then.
    pub number: usize,
    /// The roll it comes off, from 1 within its stock; none where no roll gives it.
    pub roll: Option<usize>,
}

/// Plans the cutting of a routing.
pub fn cut_plan(project: &Project, routing: LaidRouting) -> CutPlan {
    let mut plan = plan_of(project, pieces(project, routing));
    let bare = not_measured(project, routing.routing);
    if bare != *routing.routing {
        let geometry = RoutingGeometry::working(project, &bare);
        let first = plan_of(project, pieces(project, geometry.with(&bare)));
        for cut in &mut plan.cuts {
            if let Some(same) = first.cuts.iter().find(|one| one.piece == cut.piece) {
                cut.number = same.number;
            }
        }
    }
    plan
}

/// The routing as it was before anything was measured; metering tubes by what the revisions say they were.
fn not_measured(project: &Project, routing: &Routing) -> Routing {
    let mut bare = routing.clone();
    let own = project.title.changes.iter().filter(|one| one.routing == routing.name);
    for changed in own.flat_map(|one| &one.lengths) {
        // Newest first: each takes back what it changed, unless somebody chose another length since.
        if let (Some(FeedElement::MeteringTube { length, .. }), Some(was)) =
            (bare.cut_element_mut(&changed.tag), changed.was)
            && *length == changed.is
        {
            *length = was;
        }
    }
    for run in &mut bare.runs {
        run.line.measured = None;
    }
    for element in bare.feeds.iter_mut().flat_map(RowFeed::elements_mut) {
        if let FeedElement::Tube(tube) = element {
            tube.line.measured = None;
        }
    }
    bare
}

fn plan_of(project: &Project, pieces: Vec<CutPiece>) -> CutPlan {
    let mut by_stock: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let place =
        |piece: &CutPiece| project.catalogue.entries.iter().position(|entry| entry.key == piece.stock);
    for (index, piece) in pieces.iter().enumerate() {
        if let Some(at) = place(piece).filter(|_| piece.length.is_some()) {
            by_stock.entry(at).or_default().push(index);
        }
    }
    let stocks: Vec<StockPlan> = by_stock
        .into_iter()
        .map(|(at, indices)| {
            let entry = &project.catalogue.entries[at];
            let lengths: Vec<u64> = indices
                .iter()
                .filter_map(|index| pieces[*index].length_to_cut())
                .map(|length| to_micrometres(length + project.limits.cut_trim))
                .collect();
            let stages: Vec<u8> = indices.iter().map(|index| pieces[*index].cutting.stage()).collect();
            let pack = |roll: Length| first_fit_decreasing(&lengths, &stages, to_micrometres(roll).max(1));
            StockPlan {
                stock: entry.key.clone(),
                total: micrometres(lengths.iter().sum()),
                fitted: indices.iter().filter_map(|index| pieces[*index].length).sum(),
                longest: micrometres(lengths.iter().copied().max().unwrap_or(0)),
                packing: entry.roll.map(pack),
                pieces: indices,
            }
        })
        .collect();
    let cuts = cuts(&pieces, &stocks);
    CutPlan { pieces, stocks, cuts }
}

/// Every cut in its order: what is finished before what is rough and what is last; within each stock by stock and roll,
/// the longest of a roll first. What has no length yet comes at the end.
fn cuts(pieces: &[CutPiece], stocks: &[StockPlan]) -> Vec<Cut> {
    let mut ordered: Vec<(u8, usize, usize, usize, Cut)> = Vec::new();
    for (stock_at, stock) in stocks.iter().enumerate() {
        let mut rolls: Vec<(usize, Option<usize>, usize)> = Vec::new();
        if let Some(packing) = &stock.packing {
            for (number, roll) in packing.rolls.iter().enumerate() {
                let each = roll.iter().enumerate();
                rolls.extend(each.map(|(turn, at)| (*at, Some(number + 1), turn)));
            }
            let too_long = packing.too_long.iter().enumerate();
            rolls.extend(too_long.map(|(turn, at)| (*at, None, turn)));
        } else {
            let length = |at: &usize| pieces[stock.pieces[*at]].length_to_cut().map(to_micrometres);
            let mut longest_first: Vec<usize> = (0..stock.pieces.len()).collect();
            longest_first.sort_by_key(|at| std::cmp::Reverse(length(at)));
            rolls.extend(longest_first.into_iter().enumerate().map(|(turn, at)| (at, None, turn)));
        }
        ordered.extend(rolls.into_iter().map(|(at, roll, turn)| {
            let piece = stock.pieces[at];
            let stage = pieces[piece].cutting.stage();
            (stage, stock_at, roll.unwrap_or(0), turn, Cut { piece, number: 0, roll })
        }));
    }
    ordered.sort_by_key(|one| (one.0, one.1, one.2, one.3));
    let mut cuts: Vec<Cut> = ordered.into_iter().map(|one| one.4).collect();
    let unknown = (0..pieces.len()).filter(|piece| !cuts.iter().any(|cut| cut.piece == *piece));
    let unknown: Vec<Cut> = unknown.map(|piece| Cut { piece, number: 0, roll: None }).collect();
    cuts.extend(unknown);
    for (number, cut) in (1..).zip(&mut cuts) {
        cut.number = number;
    }
    cuts
}

pub(super) fn to_micrometres(length: Length) -> u64 {
    (length.si() * 1e6).round() as u64
}

impl CutPlan {
    /// No roll is long enough for a piece.
    pub(super) fn is_too_long(&self, piece: usize) -> bool {
        self.stocks.iter().any(|stock| {
            let at = stock.pieces.iter().position(|one| *one == piece);
            at.zip(stock.packing.as_ref()).is_some_and(|(at, packing)| packing.too_long.contains(&at))
        })
    }
}
