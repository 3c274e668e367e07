//! What is selected, by kind, what of it is shared, and changes of several things that are more than one value.

use super::Session;
use super::feed_ends::{FeedEnd, feed_moved};
use super::reconnecting::differences;
use super::refusal::Refusal;
use super::rows::rows_of;
use crate::plan::{Catalogue, Edit, End, EntryKey, FeedElement, FeedId, Key, PartId, RowId, RunId, Subject};

/// A value that several things share, or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Common<T> {
    /// Nothing has one.
    None,
    /// All have this.
    Same(T),
    /// They differ.
    Mixed,
}

impl<T: PartialEq> Common<T> {
    /// Of several values.
    pub fn of(values: impl IntoIterator<Item = T>) -> Self {
        let mut values = values.into_iter();
        let Some(first) = values.next() else { return Self::None };
        if values.all(|value| value == first) { Self::Same(first) } else { Self::Mixed }
    }

    /// Of several of which each may be shared or mixed itself; what has none does not count.
    pub fn together(values: impl IntoIterator<Item = Self>) -> Self {
        let mut shared = Self::None;
        for value in values {
            match value {
                Self::None => {}
                _ if shared == Self::None => shared = value,
                _ if value == shared => {}
                _ => return Self::Mixed,
            }
        }
        shared
    }

    /// What becomes of the shared value.
    pub fn map<U>(self, change: impl FnOnce(T) -> Option<U>) -> Common<U> {
        match self {
            Self::Same(value) => change(value).map_or(Common::None, Common::Same),
            Self::None => Common::None,
            Self::Mixed => Common::Mixed,
        }
    }

    /// The shared value.
    pub fn same(self) -> Option<T> {
        match self {
            Self::Same(value) => Some(value),
            Self::None | Self::Mixed => None,
        }
    }
}

/// What is selected, by kind; the feeds of selected rows count as selected feeds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Chosen {
    /// Parts.
    pub parts: Vec<PartId>,
    /// Hoses.
    pub runs: Vec<RunId>,
    /// Row feeds.
    pub feeds: Vec<FeedId>,
    /// Rows.
    pub rows: Vec<RowId>,
}

impl Session {
    /// What is selected, by kind.
    pub fn chosen(&self) -> Chosen {
        let mut chosen = Chosen::default();
        for subject in self.selection() {
            match *subject {
                Subject::Part(id) => chosen.parts.push(id),
                Subject::Run(id) => chosen.runs.push(id),
                Subject::Feed(id) => chosen.feeds.push(id),
                Subject::Row(id) => {
                    chosen.rows.push(id);
                    chosen.feeds.extend(self.routing().feed_of(id).map(|feed| feed.id));
                }
            }
        }
        chosen.feeds.sort_unstable();
        chosen.feeds.dedup();
        chosen
    }

    /// Starts a row feed from another outlet.
    pub(super) fn reconnect_feed(&mut self, step: &str, feed: FeedId, end: End) -> Result<(), Refusal> {
        let to = match end {
            End::Port(port) => FeedEnd::Outlet(port),
            End::Loose(place) => FeedEnd::Loose(place),
            End::Supply => FeedEnd::AsItWas,
        };
        let next = feed_moved(self.project(), &self.frame(), self.routing(), feed, to)?;
        self.edit(step, differences(self.routing(), next))
    }

    /// Gives rows to a manifold besides those it has, or takes them from theirs.
    pub(super) fn assign_rows(
        &mut self,
        step: &str,
        manifold: Option<PartId>,
        chosen: &[RowId],
    ) -> Result<(), Refusal> {
        if let Some(manifold) = manifold {
            let mut all = rows_of(self.project(), self.routing(), manifold);
            all.extend(chosen.iter().filter(|row| !all.contains(row)).copied().collect::<Vec<_>>());
            return self.give_rows(manifold, &all);
        }
        let routing = self.routing();
        let mut feeds: Vec<FeedId> =
            chosen.iter().filter_map(|row| routing.feed_of(*row)).map(|feed| feed.id).collect();
        feeds.sort_unstable();
        feeds.dedup();
        let edits: Vec<Edit> = feeds.iter().map(|feed| Edit::RemoveFeed(routing.id, *feed)).collect();
        self.edit(step, edits)
    }
}

/// Another entry of the same kind for an element; one of another role changes nothing.
pub fn set_entry(element: &mut FeedElement, entry: &EntryKey, catalogue: &Catalogue) {
    fn take<K: Key>(old: &mut K, entry: &EntryKey, catalogue: &Catalogue) {
        if let Some(new) = catalogue.key(entry) {
            *old = new;
        }
    }
    match element {
        FeedElement::Tube(tube) => take(&mut tube.line.stock, entry, catalogue),
        FeedElement::Piece(_, key) => take(key, entry, catalogue),
        FeedElement::Fitting(key) => take(key, entry, catalogue),
        FeedElement::MeteringTube { stock, .. } => take(stock, entry, catalogue),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;

    #[test]
    fn ends_are_offered_and_taken() {
        let mut session = Session::new(files::demo(), None);
        let run = session.routing().runs[1].clone();
        let ends = session.ends_for(run.id, false);
        assert_eq!(ends[0], run.to);
        assert!(ends.contains(&End::Supply));
        let loose = *ends.last().unwrap();
        session.reconnect(run.id, false, loose).unwrap();
        assert!(matches!(session.routing().run(run.id).unwrap().to, End::Loose(_)));
        assert!(session.ends_for(run.id, false).contains(&run.to), "what it left is free again");
        session.undo();
        let rows: Vec<RowId> = session.project().bar.rows.iter().take(2).map(|row| row.id).collect();
        session.assign_rows("Take", None, &rows).unwrap();
        assert!(rows.iter().all(|row| session.routing().feed_of(*row).is_none()));
        let manifold = super::super::ends::manifolds(&session)[0].0;
        session.assign_rows("Give", Some(manifold), &rows).unwrap();
        assert!(rows.iter().all(|row| session.routing().feed_of(*row).is_some()));
    }
}
