//! Names, item numbers and marks of carriers on a sheet: what finds no place is tried again before all else.

use super::letters::{NoRoom, Unnamed};
use super::pointed::Pointed;
use super::sheet_drawing::SheetDrawing;
use crate::drawing::paper::{MarkKind, PageDraft};
use crate::geometry::{Bounds, Point2};
use crate::plan::words::list;

/// So many orders are tried at most.
const MOST_ORDERS: usize = 6;

/// Which choose their places first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum First {
    #[default]
    Balloons,
    Names,
}

/// In which order all of them choose their places.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Order {
    first: First,
    /// Tags of what comes before all else, first first: it had no place otherwise.
    names: Vec<String>,
    balloons: Vec<String>,
    carriers: Vec<String>,
}

/// What has no room on a sheet.
#[derive(Default)]
struct LeftOut {
    names: Vec<Unnamed>,
    /// What letters stand for in place of names.
    letters: Vec<String>,
    /// The names that have no letter either.
    without: Vec<String>,
    balloons: Vec<Pointed>,
    /// Carriers by their marks and places.
    carriers: Vec<(String, String)>,
}

impl LeftOut {
    /// Less is better.
    fn rank(&self) -> [usize; 3] {
        [self.without.len(), self.names.len(), self.balloons.len() + self.carriers.len()]
    }

    fn is_empty(&self) -> bool {
        self.rank() == [0; 3]
    }

    fn words(&self) -> NoRoom {
        let mut without = self.without.clone();
        without.extend(self.carriers.iter().map(|(mark, place)| format!("{mark} ({place})")));
        let items: Vec<String> = self.balloons.iter().map(Pointed::words).collect();
        NoRoom { letters: self.letters.clone(), without, items: list(&items), ..NoRoom::default() }
    }
}

impl Order {
    /// The next to try; none where that would be the same.
    fn after(&self, left: &LeftOut) -> Option<Self> {
        let mut next = self.clone();
        if self.first == First::Balloons && !left.names.is_empty() {
            next.first = First::Names;
            return Some(next);
        }
        let sooner = |known: &mut Vec<String>, late: Vec<&String>| {
            let others = known.drain(..).filter(|tag| !late.contains(&tag));
            let all: Vec<String> = late.iter().map(|tag| (*tag).clone()).chain(others).collect();
            *known = all;
        };
        sooner(&mut next.names, left.names.iter().map(|one| &one.tag).collect());
        sooner(&mut next.balloons, left.balloons.iter().map(|one| &one.tag).collect());
        sooner(&mut next.carriers, left.carriers.iter().map(|one| &one.0).collect());
        (next != *self).then_some(next)
    }

    /// Where a name stands in the order: what has no place of its own comes last.
    pub(super) fn place_of(&self, tag: &str) -> usize {
        self.names.iter().position(|one| one == tag).unwrap_or(usize::MAX)
    }
}

impl<'a> SheetDrawing<'a, '_> {
    /// Writes names, and on a wing item numbers and marks of carriers, in the order that leaves out least; answers what has no
    /// room. What is left is said at `said`, as wide as that is.
    pub(super) fn name_all(
        &mut self,
        draft: &mut PageDraft<'a>,
        window: &Bounds,
        said: (Point2, f64),
    ) -> NoRoom {
        for mark in &draft.page.marks {
            if matches!(mark.kind, MarkKind::Words(_)) {
                self.places.keep_clear(mark.kind.bounds());
            }
        }
        let (start, before) = (draft.page.marks.len(), self.places.clone());
        let mut order = Order::default();
        let mut best = None;
        for _ in 0..MOST_ORDERS {
            let left = self.name_in_order(draft, window, said, &order);
            let marks = draft.page.marks.split_off(start);
            let places = std::mem::replace(&mut self.places, before.clone());
            let (is_done, next) = (left.is_empty(), order.after(&left));
            if best.as_ref().is_none_or(|(known, ..): &(LeftOut, _, _)| left.rank() < known.rank()) {
                best = Some((left, marks, places));
            }
            match next {
                Some(next) if !is_done => order = next,
                _ => break,
            }
        }
        let Some((left, marks, places)) = best else { return NoRoom::default() };
        draft.page.marks.extend(marks);
        self.places = places;
        let mut words = left.words();
        if self.is_named_elsewhere() {
            words.elsewhere = left.names.iter().map(|one| one.tag.clone()).collect();
        }
        words
    }

    /// An overview, whose parts and hoses are named on the sheets of their sections too.
    pub(super) fn is_named_elsewhere(&self) -> bool {
        !self.sheet.to_build_from && self.sheets.iter().any(|sheet| sheet.to_build_from)
    }

    fn name_in_order(
        &mut self,
        draft: &mut PageDraft<'a>,
        window: &Bounds,
        said: (Point2, f64),
        order: &Order,
    ) -> LeftOut {
        let is_wing = self.sheet.to_build_from;
        let carriers = if is_wing { self.marked_carriers(window) } else { Vec::new() };
        let (sooner, later): (Vec<_>, Vec<_>) =
            carriers.into_iter().partition(|one| order.carriers.contains(&one.mark));
        let targets = if is_wing { self.pointed(draft) } else { Vec::new() };
        let (urgent, targets): (Vec<_>, Vec<_>) =
            targets.into_iter().partition(|one| order.balloons.contains(&one.tag));
        let mut left = LeftOut::default();
        left.carriers.extend(self.carrier_marks(draft, sooner, window));
        left.balloons.extend(self.far_balloons(draft, urgent, window));
        let (early, late) = match order.first {
            First::Balloons => (targets, Vec::new()),
            First::Names => (Vec::new(), targets),
        };
        let mut far = self.balloons(draft, early, window);
        let labels = self.labels(draft, is_wing, window, order);
        left.names = self.write_labels(draft, &labels, window, said);
        far.extend(self.balloons(draft, late, window));
        left.balloons.extend(self.far_balloons(draft, far, window));
        // A letter would have to be looked up too.
        if !self.is_named_elsewhere() {
            (left.letters, left.without) = self.boxed_letters(draft, &left.names, window);
        }
        left.carriers.extend(self.carrier_marks(draft, later, window));
        left
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a name without a place sends names before balloons, then comes before the other names, the last one left out
    /// first; where nothing changes there is nothing more to try.
    #[test]
    fn what_has_no_place_comes_sooner() {
        let unnamed = |tag: &str| Unnamed {
            tag: tag.to_owned(),
            words: String::new(),
            place: String::new(),
            anchors: Vec::new(),
        };
        let left = |tag: &str| LeftOut { names: vec![unnamed(tag)], ..LeftOut::default() };
        let names_first = Order::default().after(&left("H1")).unwrap();
        assert_eq!((names_first.first, names_first.names.len()), (First::Names, 0));
        let once = names_first.after(&left("H1")).unwrap();
        let twice = once.after(&left("J2")).unwrap();
        assert_eq!(twice.names, ["J2", "H1"]);
        assert!(twice.place_of("J2") < twice.place_of("H1") && twice.place_of("H1") < twice.place_of("M1"));
        assert_eq!(twice.after(&left("J2")), None);
        assert_eq!(once.after(&left("J2")).unwrap().after(&left("H1")).unwrap().names, ["H1", "J2"]);
    }
}
