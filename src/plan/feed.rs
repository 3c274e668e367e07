//! Row feeds: all from a manifold outlet to the outlets of one row or of several that share a tube.

use serde::{Deserialize, Serialize};

use super::bar_point::BarPoint;
use super::catalogue::{ElementKey, EntryKey, FittingKey, StockKey};
use super::kinds::{ElementKind, FittingKind, ItemKind, PlaceAlongFeed, StockKind};
use super::run::{End, Line};
use super::{FeedId, RowId};
use crate::quantities::Length;

/// From a manifold outlet to one row, or through a shared trunk and a small tee to several.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RowFeed {
    /// Identity.
    pub id: FeedId,
    /// Short, unique in the routing: `T14`.
    pub tag: String,
    /// A manifold outlet, or loose.
    pub from: End,
    /// What the rows share, in the order the liquid passes; empty for a feed of one row.
    pub trunk: Vec<FeedElement>,
    /// The small tee at the end of the trunk; there whenever more than one row is fed.
    pub split: Option<Split>,
    /// One for each row; at least one.
    pub branches: Vec<Branch>,
}

/// The way of one row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Branch {
    /// The row.
    pub row: RowId,
    /// In the order the liquid passes, usually tube, check valve, metering.
    pub elements: Vec<FeedElement>,
}

/// A small tee that splits a shared feed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Split {
    /// The small tee.
    pub entry: FittingKey,
    /// Where it sits, working position.
    pub position: BarPoint,
}

/// One piece of a row feed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum FeedElement {
    /// A piece of delivery tube.
    Tube(Tube),
    /// A whole piece; the entry is of that kind.
    Piece(ElementKind, ElementKey),
    /// A metering tube cut to a length.
    MeteringTube {
        /// Its stock.
        stock: StockKey,
        /// Cut length; above 0.
        length: Length,
        /// Diameter of the coil it is wound to; straight without one.
        coil: Option<Length>,
    },
    /// A barb, elbow or adapter.
    Fitting(FittingKey),
}

/// A piece of delivery tube.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tube {
    /// Stock and way.
    pub line: Line,
    /// Where it ends; without one it ends at the split or at the row's outlet.
    pub end: Option<BarPoint>,
}

impl FeedElement {
    /// The catalogue entry it is made of.
    pub fn entry(&self) -> &EntryKey {
        match self {
            Self::Tube(tube) => &tube.line.stock,
            Self::Piece(_, entry) => entry,
            Self::Fitting(entry) => entry,
            Self::MeteringTube { stock, .. } => stock,
        }
    }

    /// Is cut from a length: a tube, or a tube that meters.
    pub const fn is_cut(&self) -> bool {
        matches!(self, Self::Tube(_) | Self::MeteringTube { .. })
    }

    /// Meters the flow.
    pub const fn is_metering(&self) -> bool {
        match self {
            Self::Piece(kind, _) => kind.is_metering(),
            Self::MeteringTube { .. } => true,
            Self::Tube(_) | Self::Fitting(_) => false,
        }
    }

    /// Is a whole piece of this kind.
    pub fn is(&self, wanted: ElementKind) -> bool {
        matches!(self, Self::Piece(kind, _) if *kind == wanted)
    }

    /// Its kind.
    pub const fn item_kind(&self) -> ItemKind {
        match self {
            Self::Tube(_) => ItemKind::Stock(StockKind::Tube),
            Self::Piece(kind, _) => ItemKind::Element(*kind),
            Self::MeteringTube { .. } => ItemKind::Stock(StockKind::MeteringTube),
            Self::Fitting(_) => ItemKind::Fitting(FittingKind::Fitting),
        }
    }

    /// The kind in plain words.
    pub const fn kind(&self) -> &'static str {
        self.item_kind().words()
    }
}

impl RowFeed {
    /// All elements: the trunk's, then each branch's.
    pub fn elements(&self) -> impl Iterator<Item = &FeedElement> {
        self.trunk.iter().chain(self.branches.iter().flat_map(|branch| &branch.elements))
    }

    /// What its `number`th cut piece is called, counted from 1 through all elements: `T14`, or `T14.2` where there are several.
    pub fn piece_tag(&self, number: usize) -> String {
        let several = self.elements().filter(|one| one.is_cut()).count() > 1;
        if several { format!("{}.{number}", self.tag) } else { self.tag.clone() }
    }

    /// Which of its cut pieces a tag names, from 1: the only one by the feed's own tag; none where it names another feed's.
    pub fn piece_number(&self, tag: &str) -> Option<usize> {
        match tag.strip_prefix(self.tag.as_str())? {
            "" => Some(1),
            number => number.strip_prefix('.')?.parse().ok().filter(|number| *number > 0),
        }
    }

    /// All elements, to change them.
    pub fn elements_mut(&mut self) -> impl Iterator<Item = &mut FeedElement> {
        self.trunk.iter_mut().chain(self.branches.iter_mut().flat_map(|branch| &mut branch.elements))
    }

    /// The pieces of a kind, stretch by stretch: the shared stretch where they sit in that, then or else each row's way.
    pub fn pieces(&self, kind: ElementKind) -> Vec<impl Iterator<Item = &FeedElement>> {
        let of = move |stretch: &'_ [FeedElement]| stretch.iter().any(|one| one.is(kind));
        let in_trunk = of(&self.trunk);
        let branches = self.branches.iter().map(|branch| &branch.elements).filter(|one| !in_trunk || of(one));
        let stretches = in_trunk.then_some(&self.trunk).into_iter().chain(branches);
        stretches.map(|stretch| stretch.iter().filter(move |one| one.is(kind))).collect()
    }

    /// Makes every piece of a kind of this entry, and puts one in each row's way that liquid reaches without passing one:
    /// before the first that stands behind its kind in a usual feed ([`ElementKind::place_along_feed`]), or else last.
    pub fn put_piece(&mut self, kind: ElementKind, entry: &ElementKey) {
        for element in self.elements_mut() {
            if let FeedElement::Piece(own, old) = element
                && *own == kind
            {
                *old = entry.clone();
            }
        }
        if self.trunk.iter().any(|one| one.is(kind)) {
            return;
        }
        for elements in self.branches.iter_mut().map(|branch| &mut branch.elements) {
            if elements.iter().any(|one| one.is(kind)) {
                continue;
            }
            let behind = |one: &FeedElement| match one {
                FeedElement::Piece(other, _) => other.place_along_feed() > kind.place_along_feed(),
                FeedElement::MeteringTube { .. } => PlaceAlongFeed::Metering > kind.place_along_feed(),
                FeedElement::Tube(_) | FeedElement::Fitting(_) => false,
            };
            let at = elements.iter().position(behind).unwrap_or(elements.len());
            elements.insert(at, FeedElement::Piece(kind, entry.clone()));
        }
    }

    /// Takes every piece of a kind out.
    pub fn remove_pieces(&mut self, kind: ElementKind) {
        self.trunk.retain(|one| !one.is(kind));
        self.branches.iter_mut().for_each(|branch| branch.elements.retain(|one| !one.is(kind)));
    }

    /// Its first tube.
    pub fn first_tube(&self) -> Option<&Tube> {
        self.elements().find_map(|element| match element {
            FeedElement::Tube(tube) => Some(tube),
            _ => None,
        })
    }

    /// Its first tube, to change it.
    pub fn first_tube_mut(&mut self) -> Option<&mut Tube> {
        self.elements_mut().find_map(|element| match element {
            FeedElement::Tube(tube) => Some(tube),
            _ => None,
        })
    }

    /// What a row has on its way from the outlet, as if nothing were shared: the shared stretch, then its own, with one tube
    /// where the two meet at the small tee. None for a row that it does not feed.
    pub fn own_way(&self, row: RowId) -> Option<Vec<FeedElement>> {
        let branch = self.branches.iter().find(|branch| branch.row == row)?;
        let mut all = self.trunk.clone();
        let mut own = branch.elements.iter().cloned().peekable();
        if let (Some(FeedElement::Tube(shared)), Some(FeedElement::Tube(below))) =
            (all.last_mut(), own.peek())
        {
            shared.end = below.end;
            own.next();
        }
        all.extend(own);
        Some(all)
    }

    /// Several rows share it, or did: it has a shared stretch or a small tee.
    pub const fn is_shared(&self) -> bool {
        self.branches.len() > 1 || !self.trunk.is_empty() || self.split.is_some()
    }

    /// Feeds this row.
    pub fn feeds(&self, row: RowId) -> bool {
        self.branches.iter().any(|branch| branch.row == row)
    }
}

/// Where each element of one stretch of a feed starts and ends, so that the drawing, the lengths and the hydraulics agree:
/// only tubes cover ground; whatever comes last reaches the destination.
pub(super) fn stretch(
    elements: &[FeedElement],
    from: BarPoint,
    destination: BarPoint,
) -> Vec<(BarPoint, BarPoint)> {
    let last_tube = elements.iter().rposition(|element| matches!(element, FeedElement::Tube(_)));
    let mut at = from;
    elements
        .iter()
        .enumerate()
        .map(|(index, element)| {
            let start = at;
            if let FeedElement::Tube(tube) = element {
                at = tube.end.filter(|_| Some(index) != last_tube).unwrap_or(destination);
            } else if last_tube.is_none() && index + 1 == elements.len() {
                at = destination;
            }
            (start, at)
        })
        .collect()
}

/// A feed with all its delivery tubes from one stock.
pub fn with_tube(feed: &RowFeed, stock: &StockKey) -> RowFeed {
    let mut changed = feed.clone();
    for element in changed.elements_mut() {
        if let FeedElement::Tube(tube) = element {
            tube.line.stock = stock.clone();
        }
    }
    changed
}
