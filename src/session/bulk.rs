//! One change to one thing or to many at once, each in a single named step: panels and tables ask for these.

use super::Session;
use super::feed_ends::{FeedEnd, feed_moved};
use super::reconnecting::differences;
use super::refusal::Refusal;
use super::rows::rows_of;
use crate::geometry::Point3;
use crate::plan::{
    Catalogue, Edit, ElementItem, ElementKey, ElementKind, End, EntryKey, FeedElement, FeedId, Key, Part,
    PartId, PartItem, PartKey, Port, PortRef, Row, RowFeed, RowId, Run, RunId, StockKey, Subject,
};
use crate::quantities::Length;

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

/// An axis of a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// To the right.
    Right,
    /// Forward.
    Forward,
    /// Up.
    Up,
}

impl Axis {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Right, Self::Forward, Self::Up];

    /// As people read it.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Right => "Right of centre",
            Self::Forward => "Forward",
            Self::Up => "Height",
        }
    }

    /// Its coordinate.
    pub const fn of(self, point: Point3) -> f64 {
        match self {
            Self::Right => point.x,
            Self::Forward => point.y,
            Self::Up => point.z,
        }
    }

    const fn with(self, point: Point3, value: f64) -> Point3 {
        match self {
            Self::Right => Point3::new(value, point.y, point.z),
            Self::Forward => Point3::new(point.x, value, point.z),
            Self::Up => Point3::new(point.x, point.y, value),
        }
    }
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

    /// Gives something another tag.
    pub fn rename(&mut self, subject: Subject, tag: &str) -> Result<(), Refusal> {
        let tag = tag.trim().to_owned();
        let routing = self.routing();
        let id = routing.id;
        let edit = match subject {
            Subject::Part(part) => {
                routing.part(part).map(|part| Edit::PutPart(id, Part { tag, ..part.clone() }))
            }
            Subject::Run(run) => routing.run(run).map(|run| Edit::PutRun(id, Run { tag, ..run.clone() })),
            Subject::Feed(feed) => {
                routing.feed(feed).map(|feed| Edit::PutFeed(id, RowFeed { tag, ..feed.clone() }))
            }
            Subject::Row(_) => None,
        };
        let name = format!("Rename {}", self.tag_of(subject));
        self.edit(&name, edit)
    }

    /// Gives parts another entry of the catalogue.
    pub fn set_part_entry(&mut self, parts: &[PartId], entry: &PartKey) -> Result<(), Refusal> {
        let (routing, name) = (self.routing(), self.step_name("Change", parts, Subject::Part));
        let edits: Vec<Edit> = parts
            .iter()
            .filter_map(|id| routing.part(*id))
            .map(|part| Edit::PutPart(routing.id, Part { entry: entry.clone(), ..part.clone() }))
            .collect();
        self.change_parts(&name, parts, edits)
    }

    /// Puts one coordinate of parts that are not mounted on others.
    pub fn set_place(&mut self, parts: &[PartId], axis: Axis, metres: f64) -> Result<(), Refusal> {
        let (routing, name) = (self.routing(), self.step_name("Move", parts, Subject::Part));
        let edits: Vec<Edit> = parts
            .iter()
            .filter_map(|id| routing.part(*id))
            .filter(|part| part.mount.is_none())
            .map(|part| Edit::MovePart(routing.id, part.id, axis.with(part.position, metres)))
            .collect();
        self.change_parts(&name, parts, edits)
    }

    /// Shuts or opens section valves.
    pub fn set_shut(&mut self, parts: &[PartId], shut: bool) -> Result<(), Refusal> {
        let what = if shut { "Shut" } else { "Open" };
        let (routing, name) = (self.routing(), self.step_name(what, parts, Subject::Part));
        let edits: Vec<Edit> = parts
            .iter()
            .filter_map(|id| routing.part(*id))
            .map(|part| Edit::PutPart(routing.id, Part { shut, ..part.clone() }))
            .collect();
        self.edit(&name, edits)
    }

    /// Starts a row feed from another outlet.
    pub fn reconnect_feed(&mut self, feed: FeedId, end: End) -> Result<(), Refusal> {
        let to = match end {
            End::Port(port) => FeedEnd::Outlet(port),
            End::Loose(place) => FeedEnd::Loose(place),
            End::Supply => FeedEnd::AsItWas,
        };
        let name = format!("Reconnect {}", self.tag_of(Subject::Feed(feed)));
        let next = feed_moved(self.project(), &self.frame(), self.routing(), feed, to)?;
        self.edit(&name, differences(self.routing(), next))
    }

    /// Takes another stock for every tube of row feeds.
    pub fn set_tubes(&mut self, feeds: &[FeedId], stock: &StockKey) -> Result<(), Refusal> {
        self.change_feeds(feeds, "Change the tube of", |element| {
            if let FeedElement::Tube(tube) = element {
                tube.line.stock = stock.clone();
            }
        })
    }

    /// Takes another entry for every piece of a kind in row feeds.
    pub fn set_pieces(
        &mut self,
        feeds: &[FeedId],
        kind: ElementKind,
        entry: &ElementKey,
    ) -> Result<(), Refusal> {
        self.change_feeds(feeds, &format!("Change the {} of", kind.words()), |element| {
            if let FeedElement::Piece(own, key) = element
                && *own == kind
            {
                *key = entry.clone();
            }
        })
    }

    /// Cuts every metering tube of row feeds to a length.
    pub fn set_cut_length(&mut self, feeds: &[FeedId], cut: Length) -> Result<(), Refusal> {
        self.change_feeds(feeds, "Cut the metering tube of", |element| {
            if let FeedElement::MeteringTube { length, .. } = element {
                *length = cut;
            }
        })
    }

    /// Puts another metering element in the place of whatever meters now; a metering tube keeps its length.
    pub fn set_metering(&mut self, feeds: &[FeedId], entry: &EntryKey) -> Result<(), Refusal> {
        let catalogue = &self.project().catalogue;
        let (stock, piece) = (catalogue.key::<StockKey>(entry), catalogue.key::<ElementKey>(entry));
        let kind = piece.as_ref().and_then(|key| catalogue.item(key)).map(ElementItem::item_kind);
        self.change_feeds(feeds, "Change the metering of", |element| {
            if !element.is_metering() {
                return;
            }
            if let Some(stock) = &stock {
                // A length to start from, about what a metering tube is cut to.
                let (length, coil) = match element {
                    FeedElement::MeteringTube { length, coil, .. } => (*length, *coil),
                    _ => (Length::metres(1.0), None),
                };
                *element = FeedElement::MeteringTube { stock: stock.clone(), length, coil };
            } else if let (Some(kind), Some(piece)) = (kind, &piece) {
                *element = FeedElement::Piece(kind, piece.clone());
            }
        })
    }

    fn change_feeds(
        &mut self,
        feeds: &[FeedId],
        what: &str,
        change: impl Fn(&mut FeedElement),
    ) -> Result<(), Refusal> {
        let (routing, name) = (self.routing(), self.step_name(what, feeds, Subject::Feed));
        let edits: Vec<Edit> = feeds
            .iter()
            .filter_map(|id| routing.feed(*id))
            .map(|feed| {
                let mut feed = feed.clone();
                feed.elements_mut().for_each(&change);
                Edit::PutFeed(routing.id, feed)
            })
            .collect();
        self.edit(&name, edits)
    }

    /// Gives rows to a manifold besides those it has, or takes them from theirs.
    pub fn assign_rows(&mut self, manifold: Option<PartId>, chosen: &[RowId]) -> Result<(), Refusal> {
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
        let name = self.step_name("Take rows from", &feeds, Subject::Feed);
        let edits: Vec<Edit> = feeds.iter().map(|feed| Edit::RemoveFeed(routing.id, *feed)).collect();
        self.edit(&name, edits)
    }

    /// Changes rows of the bar: height of their outlets, share, use.
    pub fn change_rows(&mut self, chosen: &[RowId], change: impl Fn(&mut Row)) -> Result<(), Refusal> {
        let name = self.step_name("Change", chosen, Subject::Row);
        let edits: Vec<Edit> = chosen
            .iter()
            .filter_map(|id| self.project().bar.row(*id))
            .map(|row| {
                let mut row = row.clone();
                change(&mut row);
                Edit::PutRow(row)
            })
            .collect();
        self.edit(&name, edits)
    }

    /// Ends a hose may be connected to: its own, every free port that takes a hose, the supply, and a loose end where
    /// it is now.
    pub fn ends_for(&self, run: RunId, at_start: bool) -> Vec<End> {
        let routing = self.routing();
        let Some(run) = routing.run(run) else { return Vec::new() };
        let now = if at_start { run.from } else { run.to };
        let mut ends = vec![now];
        ends.extend([End::Supply].into_iter().filter(|end| *end != now));
        ends.extend(
            self.free_ports(|port| !matches!(port, Port::Outlet(_) | Port::Gauge)).into_iter().map(End::Port),
        );
        if !matches!(now, End::Loose(_)) {
            ends.extend(self.geometry().anchors.end(&now).map(End::Loose));
        }
        ends
    }

    /// Outlets a row feed may start from: its own, and every free one.
    pub fn outlets_for(&self, feed: FeedId) -> Vec<End> {
        let now = self.routing().feed(feed).map(|feed| feed.from);
        let free = self.free_ports(|port| matches!(port, Port::Outlet(_)));
        now.into_iter().chain(free.into_iter().map(End::Port)).collect()
    }

    fn free_ports(&self, fits: impl Fn(Port) -> bool) -> Vec<PortRef> {
        let routing = self.routing();
        let taken: std::collections::BTreeSet<PortRef> =
            routing.connections().map(|(port, _)| port).collect();
        let ports = routing.parts.iter().flat_map(|part| {
            let item = self.project().catalogue.item(&part.entry);
            let ports = item.filter(|item| is_plumbed(item)).map(PartItem::ports).unwrap_or_default();
            ports.into_iter().map(|port| PortRef { part: part.id, port })
        });
        ports.filter(|port| fits(port.port) && !taken.contains(port)).collect()
    }

    /// `Change H3`, or `Change 12 hoses`.
    fn step_name<T: Copy>(&self, what: &str, ids: &[T], subject: impl Fn(T) -> Subject) -> String {
        if let [one] = ids {
            return format!("{what} {}", self.tag_of(subject(*one)));
        }
        let kind = match ids.first().map(|one| subject(*one)) {
            Some(Subject::Part(_)) => "parts",
            Some(Subject::Run(_)) => "hoses",
            Some(Subject::Feed(_)) => "row feeds",
            _ => "rows",
        };
        format!("{what} {} {kind}", ids.len())
    }
}

/// Takes hoses on its ports.
const fn is_plumbed(item: &PartItem) -> bool {
    !item.is_on_port()
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
    use crate::plan::StockItem;
    use crate::quantities::Ratio;

    #[test]
    fn many_change_in_one_step() {
        let mut session = Session::new(files::demo(), None);
        let runs: Vec<RunId> = session.routing().runs.iter().map(|run| run.id).collect();
        session.set_slack(&runs, Ratio::percent(7.0)).unwrap();
        assert_eq!(
            Common::of(session.routing().runs.iter().map(|run| run.line.slack)),
            Common::Same(Ratio::percent(7.0))
        );
        assert_eq!(session.undo_name(), Some("Change the slack"));
        let feeds: Vec<FeedId> = session.routing().feeds.iter().map(|feed| feed.id).collect();
        let tube =
            session.project().catalogue.first::<StockKey>(|item| matches!(item, StockItem::MeteringTube(_)));
        let tube = tube.unwrap();
        session.set_metering(&feeds[..3], &tube).unwrap();
        let kinds = |session: &Session| {
            Common::of(
                session
                    .routing()
                    .feeds
                    .iter()
                    .flat_map(RowFeed::elements)
                    .filter(|one| one.is_metering())
                    .map(FeedElement::kind),
            )
        };
        assert_eq!(kinds(&session), Common::Mixed);
        session.undo();
        assert_eq!(kinds(&session), Common::Same("metering orifice"));
        session.undo();
        assert!(!session.is_changed());
    }

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
        session.assign_rows(None, &rows).unwrap();
        assert!(rows.iter().all(|row| session.routing().feed_of(*row).is_none()));
        let manifold = super::super::listing::manifolds(&session)[0].0;
        session.assign_rows(Some(manifold), &rows).unwrap();
        assert!(rows.iter().all(|row| session.routing().feed_of(*row).is_some()));
    }

    #[test]
    fn a_refused_tag_says_why() {
        let mut session = Session::new(files::demo(), None);
        let subject = Subject::Part(session.routing().parts[1].id);
        let taken = session.routing().parts[0].tag.clone();
        assert!(session.rename(subject, &taken).unwrap_err().to_string().contains("tag"));
        assert!(session.rename(subject, "  ").is_err());
        assert!(!session.is_changed());
    }
}
