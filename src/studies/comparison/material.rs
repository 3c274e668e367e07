//! What a routing is made of: hose and tube by stock, parts, reducers and adapters, joints, and the liquid it holds.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use super::figure::LineRole;
use crate::plan::cutting::cut_length;
use crate::plan::joints::{AdapterPlace, adapters};
use crate::plan::{
    ElementGeometry, End, EntryKey, FeedElement, Item, LaidRouting, Manifold, PartItem, Project, StockItem,
    StockKey,
};
use crate::quantities::{Length, Volume};

/// What a routing is made of.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Material {
    /// Metres of each hose stock, as cut.
    pub(super) hoses: BTreeMap<StockKey, Length>,
    /// Metres of each tube stock.
    pub(super) tubes: BTreeMap<StockKey, Length>,
    /// Metres of each metering tube stock.
    pub(super) metering_tubes: BTreeMap<StockKey, Length>,
    /// Pieces of each kind, hoses and tubes apart.
    pub(super) parts: BTreeMap<&'static str, usize>,
    /// Pieces between ends that don't fit as they are; the catalogue has no entries for them.
    pub(super) adapters: usize,
    /// Joints of each kind.
    pub(super) joints: BTreeMap<&'static str, usize>,
    /// The longest way in tube from a manifold to a row, and the row's number.
    pub(super) longest: Option<(Length, u32)>,
    /// The shortest.
    pub(super) shortest: Option<(Length, u32)>,
    /// Hoses and row feeds that lead over at least one hinge.
    pub(super) runs_across_hinges: usize,
    /// In hoses (the supply hose too), tubes and bodies of manifolds, filled.
    pub(super) held: Volume,
    pub(super) priced_lengths: BTreeMap<EntryKey, f64>,
    pub(super) priced_pieces: BTreeMap<EntryKey, f64>,
}

/// Two hoses, or a hose and a part or fitting, meet.
const HOSE_JOINTS: &str = "hose joints";
/// A delivery or metering tube meets something.
const TUBE_JOINTS: &str = "tube joints";
/// Two parts meet without hose or tube between them.
const PART_JOINTS: &str = "part on part";

impl Material {
    /// Metres of each stock that lines of a role are cut from.
    pub(super) const fn lines(&self, role: LineRole) -> &BTreeMap<StockKey, Length> {
        match role {
            LineRole::Hose => &self.hoses,
            LineRole::Tube => &self.tubes,
            LineRole::MeteringTube => &self.metering_tubes,
        }
    }

    /// Counts a routing. A chain of pieces between two connected ends has a joint at each end and between every two
    /// neighbours; a fitting on a hose counts as one joint more, and so does a reducer or adapter; a tube's free end over the
    /// furrow is none. Hose and tube are as long as they are cut.
    pub(super) fn of(project: &Project, routing: LaidRouting) -> Self {
        let between = adapters(project, routing);
        let mut all = Self { adapters: between.len(), ..Self::default() };
        for one in &between {
            match one.at {
                AdapterPlace::Hose(..) => all.join(HOSE_JOINTS, 1),
                AdapterPlace::Feed(_) => all.join(TUBE_JOINTS, 1),
            }
        }
        for part in &routing.parts {
            all.piece(project, &part.entry);
            if part.mount.is_some() {
                all.join(PART_JOINTS, 1);
            }
            if let Some(PartItem::Manifold(Manifold { outlets, spacing, bore, .. })) =
                project.catalogue.item(&part.entry)
            {
                all.hold(*bore, *spacing * f64::from(*outlets));
            }
        }
        for run in &routing.runs {
            let laid = routing.geometry.run(run.id);
            let length = laid.map(|laid| laid.length).unwrap_or_default();
            all.length_of(project, &run.line.stock, length);
            let connected = [&run.from, &run.to].iter().filter(|end| !matches!(end, End::Loose(_))).count();
            all.join(HOSE_JOINTS, connected + run.fittings.len());
            for fitting in &run.fittings {
                all.piece(project, fitting);
            }
            all.runs_across_hinges += usize::from(laid.is_some_and(|laid| !laid.hinges.is_empty()));
        }
        for feed in &routing.feeds {
            all.feed(project, routing, feed);
        }
        all
    }

    fn feed(&mut self, project: &Project, routing: LaidRouting, feed: &crate::plan::RowFeed) {
        let bar = &project.bar;
        let Some(geometry) = routing.geometry.feed(feed.id) else { return };
        // What the next piece is joined to: a part (false), a tube (true), or nothing yet.
        let start = (!matches!(feed.from, End::Loose(_))).then_some(false);
        let mut before = start;
        let mut shared = Length::ZERO;
        for (element, laid) in feed.trunk.iter().zip(&geometry.trunk) {
            shared += self.element(project, element, laid, &mut before);
        }
        if let Some(split) = &feed.split {
            // One more row takes one more small tee.
            (1..feed.branches.len().max(2)).for_each(|_| self.piece(project, &split.entry));
            self.joint(before, false);
            before = Some(false);
        }
        for (branch, laid) in feed.branches.iter().zip(&geometry.branches) {
            let mut before = before;
            let mut own = Length::ZERO;
            for (element, laid) in branch.elements.iter().zip(laid) {
                own += self.element(project, element, laid, &mut before);
            }
            let way = shared + own;
            if let Some(row) = bar.row(branch.row).filter(|_| way > Length::ZERO) {
                if self.longest.is_none_or(|(longest, _)| way > longest) {
                    self.longest = Some((way, row.number));
                }
                if self.shortest.is_none_or(|(shortest, _)| way < shortest) {
                    self.shortest = Some((way, row.number));
                }
            }
        }
        let from = geometry.start.section;
        let crosses = feed
            .branches
            .iter()
            .filter_map(|branch| bar.row(branch.row))
            .any(|row| !bar.hinges_between(from, row.section).is_empty());
        self.runs_across_hinges += usize::from(crosses);
    }

    /// Counts one element; what it adds to the way in delivery tube.
    fn element(
        &mut self,
        project: &Project,
        element: &FeedElement,
        laid: &ElementGeometry,
        before: &mut Option<bool>,
    ) -> Length {
        let is_tube = element.is_cut();
        self.joint(*before, is_tube);
        *before = Some(is_tube);
        match element {
            FeedElement::Tube(tube) => {
                let length = laid.length.unwrap_or_default();
                self.length_of(project, &tube.line.stock, length);
                // As it is cut; what has no length is no way.
                laid.length.map_or(Length::ZERO, |length| cut_length(length, project.units, false))
            }
            FeedElement::MeteringTube { stock, length, .. } => {
                self.length_of(project, stock, *length);
                Length::ZERO
            }
            FeedElement::Piece(..) | FeedElement::Fitting(_) => {
                self.piece(project, element.entry());
                Length::ZERO
            }
        }
    }

    fn joint(&mut self, before: Option<bool>, is_tube: bool) {
        match before {
            None => {}
            Some(was_tube) if was_tube || is_tube => self.join(TUBE_JOINTS, 1),
            Some(_) => self.join(PART_JOINTS, 1),
        }
    }

    fn join(&mut self, kind: &'static str, count: usize) {
        if count > 0 {
            *self.joints.entry(kind).or_default() += count;
        }
    }

    fn piece(&mut self, project: &Project, entry: &EntryKey) {
        let kind = project.catalogue.any_item(entry).map_or("unknown", Item::kind);
        *self.parts.entry(kind).or_default() += 1;
        *self.priced_pieces.entry(entry.clone()).or_default() += 1.0;
    }

    fn length_of(&mut self, project: &Project, stock: &StockKey, length: Length) {
        let item = project.catalogue.item(stock);
        let is_metering = matches!(item, Some(StockItem::MeteringTube(_)));
        let cut = cut_length(length, project.units, is_metering);
        let kind = match item {
            Some(StockItem::Tube(_)) => &mut self.tubes,
            Some(StockItem::MeteringTube(_)) => &mut self.metering_tubes,
            Some(StockItem::Hose(_)) | None => &mut self.hoses,
        };
        *kind.entry(stock.clone()).or_default() += cut;
        *self.priced_lengths.entry(stock.any().clone()).or_default() += cut.si();
        if let Some(stock) = project.catalogue.stock(stock) {
            self.hold(stock.bore, length);
        }
    }

    /// A round bore of a length, filled: π/4·d²·L.
    fn hold(&mut self, bore: Length, length: Length) {
        self.held += Volume::from_si(PI / 4.0 * bore.si().powi(2) * length.si());
    }

    pub(super) fn priced_all(&self) -> BTreeMap<EntryKey, f64> {
        let mut all = self.priced_lengths.clone();
        for (key, count) in &self.priced_pieces {
            *all.entry(key.clone()).or_default() += count;
        }
        all
    }
}
