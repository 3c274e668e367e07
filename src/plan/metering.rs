//! What meters a row, and row feeds that get other metering.

use super::catalogue::{Catalogue, ElementKey, EntryKey, StockKey};
use super::feed::{FeedElement, RowFeed};
use super::kinds::ElementKind;
use super::routing::Routing;
use super::{FeedId, RowId};
use crate::quantities::{Length, Measure, UnitSystem};

/// A metering orifice, or a metering tube cut to a length.
#[derive(Debug, Clone, PartialEq)]
pub enum Metering {
    /// An orifice of the catalogue.
    Orifice(ElementKey),
    /// A metering tube.
    Tube {
        /// Its stock.
        stock: StockKey,
        /// Cut length; above 0.
        length: Length,
        /// Diameter of the coil it is wound to; straight without one.
        coil: Option<Length>,
    },
}

impl Metering {
    /// What an element of a row feed meters with; none for one that does not meter.
    pub fn of(element: &FeedElement) -> Option<Self> {
        match element {
            FeedElement::Piece(ElementKind::MeteringOrifice, entry) => Some(Self::Orifice(entry.clone())),
            FeedElement::MeteringTube { stock, length, coil } => {
                Some(Self::Tube { stock: stock.clone(), length: *length, coil: *coil })
            }
            FeedElement::Piece(..) | FeedElement::Tube(_) | FeedElement::Fitting(_) => None,
        }
    }

    /// As an element of a row feed.
    pub fn element(&self) -> FeedElement {
        match self {
            Self::Orifice(entry) => FeedElement::Piece(ElementKind::MeteringOrifice, entry.clone()),
            Self::Tube { stock, length, coil } => {
                FeedElement::MeteringTube { stock: stock.clone(), length: *length, coil: *coil }
            }
        }
    }

    /// The catalogue entry it is made of.
    pub fn entry(&self) -> &EntryKey {
        match self {
            Self::Orifice(entry) => entry,
            Self::Tube { stock, .. } => stock,
        }
    }

    /// Cut length of a tube.
    pub const fn length(&self) -> Option<Length> {
        match self {
            Self::Orifice(_) => None,
            Self::Tube { length, .. } => Some(*length),
        }
    }

    /// Its bore, if the catalogue has its entry.
    pub fn bore(&self, catalogue: &Catalogue) -> Option<Length> {
        catalogue.any_item(self.entry())?.smallest_bore()
    }

    /// `0.8 mm orifice`, `1.5 mm metering tube of 640 mm`.
    pub fn words(&self, catalogue: &Catalogue, units: UnitSystem) -> String {
        let size = catalogue
            .any_item(self.entry())
            .map_or_else(|| self.entry().to_string(), |item| item.size(units));
        match self {
            Self::Orifice(_) => format!("{size} orifice"),
            Self::Tube { length, .. } => {
                format!("{size} metering tube of {}", Measure::CutLength.short_text(length.si(), units))
            }
        }
    }
}

impl RowFeed {
    /// Gives rows the metering that `of` names for them, each in place of what meters it, or last on its way.
    ///
    /// Where the shared stretch meters, its rows go together: from then on each has metering of its own, and rows that `of`
    /// names none for take that of the first that it names.
    pub fn meter(&mut self, of: impl Fn(RowId) -> Option<Metering>) {
        let wanted: Vec<Option<Metering>> = self.branches.iter().map(|branch| of(branch.row)).collect();
        let Some(first) = wanted.iter().flatten().next().cloned() else { return };
        let shared = self.trunk.iter().any(FeedElement::is_metering);
        if shared {
            self.trunk.retain(|one| !one.is_metering());
        }
        for (branch, wanted) in self.branches.iter_mut().zip(wanted) {
            let Some(metering) = wanted.or_else(|| shared.then(|| first.clone())) else { continue };
            let elements = &mut branch.elements;
            let at = elements.iter().position(FeedElement::is_metering).unwrap_or(elements.len());
            elements.retain(|one| !one.is_metering());
            elements.insert(at.min(elements.len()), metering.element());
        }
    }
}

impl Routing {
    /// What meters a row: the last on its way from the outlet; none for a row without a feed or metering.
    pub fn metering_of(&self, row: RowId) -> Option<Metering> {
        let feed = self.feed_of(row)?;
        let branch = feed.branches.iter().find(|branch| branch.row == row)?;
        feed.trunk.iter().chain(&branch.elements).rev().find_map(Metering::of)
    }

    /// The row feeds that lead to any of these rows, each once.
    pub fn feeds_to(&self, rows: &[RowId]) -> Vec<FeedId> {
        let feeds = self.feeds.iter().filter(|feed| rows.iter().any(|row| feed.feeds(*row)));
        feeds.map(|feed| feed.id).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::feed::Branch;
    use super::super::run::End;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{BarPoint, SectionId};

    fn feed(trunk: Vec<FeedElement>, branches: Vec<Vec<FeedElement>>) -> RowFeed {
        let branches =
            branches.into_iter().zip(1..).map(|(elements, row)| Branch { row: RowId(row), elements });
        let loose = BarPoint { place: Point3::new(0.0, 0.0, 1.0), section: SectionId(1) };
        RowFeed {
            id: FeedId(1),
            tag: "D1".to_owned(),
            from: End::Loose(loose),
            trunk,
            split: None,
            branches: branches.collect(),
        }
    }

    fn piece(kind: ElementKind, key: &str) -> FeedElement {
        FeedElement::Piece(kind, ElementKey::new(key))
    }

    fn tube(millimetres: f64) -> Metering {
        Metering::Tube { stock: StockKey::new("tube"), length: Length::millimetres(millimetres), coil: None }
    }

    #[test]
    fn other_metering_takes_the_place_of_what_is_there_once() {
        let (orifice, valve) =
            (piece(ElementKind::MeteringOrifice, "orifice"), piece(ElementKind::CheckValve, "valve"));
        let twice = vec![orifice.clone(), valve.clone(), orifice.clone()];
        let mut one = feed(Vec::new(), vec![twice, vec![valve.clone()]]);
        one.meter(|row| (row == RowId(1)).then(|| tube(500.0)));
        assert_eq!(one.branches[0].elements, [tube(500.0).element(), valve.clone()]);
        assert_eq!(one.branches[1].elements, std::slice::from_ref(&valve), "the other row is left alone");
        one.meter(|_| Some(tube(400.0)));
        assert_eq!(one.branches[1].elements, [valve, tube(400.0).element()]);
    }

    #[test]
    fn rows_that_a_shared_stretch_meters_get_metering_of_their_own_together() {
        let orifice = piece(ElementKind::MeteringOrifice, "orifice");
        let mut shared = feed(vec![orifice], vec![Vec::new(), Vec::new()]);
        shared.meter(|row| (row == RowId(2)).then(|| tube(500.0)));
        assert!(shared.trunk.is_empty());
        assert!(shared.branches.iter().all(|branch| branch.elements == [tube(500.0).element()]));
    }
}
