//! Findings put right: each remedy is one step.

use std::collections::BTreeMap;

use super::changes::changes;
use super::in_hand::Session;
use super::refusal::{Remark, Reply, RowsError};
use super::row_sharing::{Scope, Share, add_plug};
use crate::checks::Remedy;
use crate::checks::remedy::FittingPlace;
use crate::plan::feed::with_tube;
use crate::plan::{Edit, ElementKey, ElementKind, FeedId, FittingKey, Port, RowId, RunId, StockKey};

impl Session {
    /// Carries out what a finding proposes, in one step, and says what that changed.
    pub fn carry_out(&mut self, remedy: &Remedy) -> Reply {
        let before = self.routing().clone();
        let said = self.put_right(remedy)?;
        Ok(said.or_else(|| changes(self.project(), &before, self.routing()).map(Remark::Changed)))
    }

    fn put_right(&mut self, remedy: &Remedy) -> Reply {
        match remedy {
            Remedy::PlugOutlets(manifolds) => self.plug_open(manifolds),
            Remedy::FeedRows(rows) => self.share_rows(&Scope::Rows(rows.clone()), Share::Nearest),
            Remedy::RemoveFeeds(feeds) => {
                let edits = self.feeds_removed(feeds);
                self.edit_unless_so(&remedy.label(), edits)
            }
            Remedy::WidenHoses(hoses) | Remedy::MatchHoses(hoses) => self.fit_hoses(&remedy.label(), hoses),
            Remedy::MatchTubes(feeds, stock) => {
                self.change_whole_feeds(&remedy.label(), feeds, |feed| *feed = with_tube(feed, stock))?;
                Ok(None)
            }
            Remedy::FitElbows(places) | Remedy::MatchFittings(places) => {
                self.fit_fittings(&remedy.label(), places)
            }
            Remedy::FitPieces(rows, pieces) => self.fit_pieces(&remedy.label(), rows, pieces),
        }
    }

    /// Without these row feeds, and with plugs on the outlets of manifolds that they leave.
    fn feeds_removed(&self, feeds: &[FeedId]) -> Result<Vec<Edit>, RowsError> {
        let (project, routing) = (self.project(), self.routing());
        let mut next = routing.clone();
        next.feeds.retain(|feed| !feeds.contains(&feed.id));
        for port in feeds.iter().filter_map(|id| routing.feed(*id)?.from.port()) {
            if matches!(port.port, Port::Outlet(_)) {
                add_plug(project, &mut next, port)?;
            }
        }
        let removed = feeds.iter().map(|id| Edit::RemoveFeed(routing.id, *id));
        Ok(removed.chain([Edit::PutRouting(Box::new(next))]).collect())
    }

    /// Hoses from other stock, with the fittings that are usual for it; of two stocks for one hose the wider.
    fn fit_hoses(&mut self, name: &str, hoses: &[(RunId, StockKey)]) -> Reply {
        let bore = |stock: &StockKey| self.project().catalogue.stock(stock).map_or(0.0, |one| one.bore.si());
        let mut wanted: BTreeMap<RunId, (StockKey, Vec<FittingKey>)> = BTreeMap::new();
        for (run, stock) in hoses {
            if wanted.get(run).is_none_or(|(known, _)| bore(known) < bore(stock)) {
                wanted.insert(*run, (stock.clone(), self.usual_fittings(stock)));
            }
        }
        let runs: Vec<RunId> = wanted.keys().copied().collect();
        self.change_runs(name, &runs, |run| {
            if let Some((stock, fittings)) = wanted.get(&run.id) {
                run.line.stock = stock.clone();
                run.fittings.clone_from(fittings);
            }
        })?;
        Ok(None)
    }

    fn fit_fittings(&mut self, name: &str, places: &[FittingPlace]) -> Reply {
        let mut fitted: BTreeMap<RunId, Vec<FittingKey>> = BTreeMap::new();
        for FittingPlace { run: id, at_start, fitting } in places {
            let Some(run) = self.routing().run(*id) else { continue };
            let fittings = fitted.entry(*id).or_insert_with(|| run.fittings.clone());
            *fittings = self.with_fitting(&run.line.stock, fittings, *at_start, fitting);
        }
        let runs: Vec<RunId> = fitted.keys().copied().collect();
        self.change_runs(name, &runs, |run| {
            if let Some(fittings) = fitted.get(&run.id) {
                run.fittings.clone_from(fittings);
            }
        })?;
        Ok(None)
    }

    /// The fittings of a hose with another one at one end.
    pub(super) fn with_fitting(
        &self,
        stock: &StockKey,
        fittings: &[FittingKey],
        at_start: bool,
        fitting: &FittingKey,
    ) -> Vec<FittingKey> {
        let mut fittings = match (fittings.first(), fittings.last()) {
            (Some(first), Some(last)) => vec![first.clone(), last.clone()],
            _ => self.usual_fittings(stock),
        };
        // A hose of which nobody knows the fittings gets two of the same.
        fittings.resize(2, fitting.clone());
        fittings[usize::from(!at_start)] = fitting.clone();
        fittings
    }

    fn fit_pieces(&mut self, name: &str, rows: &[RowId], pieces: &[(ElementKind, ElementKey)]) -> Reply {
        let mut feeds: Vec<FeedId> =
            rows.iter().filter_map(|row| self.routing().feed_of(*row)).map(|feed| feed.id).collect();
        feeds.sort_unstable();
        feeds.dedup();
        self.change_whole_feeds(name, &feeds, |feed| {
            for (kind, entry) in pieces {
                feed.put_piece(*kind, entry);
            }
        })?;
        Ok(None)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::checks::Finding;
    use crate::files;
    use crate::plan::{EntryKey, Fitting, FittingForm, FittingItem, Row};
    use crate::quantities::Length;

    /// The remedy of the finding of a rule.
    fn remedy(session: &Session, rule: &str) -> Option<Remedy> {
        let of_rule = |finding: &&Finding| finding.kind.rule == rule;
        session.findings().iter().filter(of_rule).find_map(|finding| finding.remedy.clone())
    }

    /// It is found, goes in one step, and comes back with undo.
    fn is_put_right(mut session: Session, rule: &str) {
        let remedy = remedy(&session, rule).unwrap_or_else(|| panic!("{rule} has no remedy"));
        let before = session.snapshot();
        session.carry_out(&remedy).unwrap();
        assert!(
            !session.findings().iter().any(|one| one.kind.rule == rule && one.remedy.is_some()),
            "{rule}: {:?}",
            session.findings()
        );
        session.undo();
        assert_eq!(*session.project(), *before, "{rule}: one step");
    }

    fn demo() -> Session {
        Session::new(files::demo(), None)
    }

    #[test]
    fn open_outlets_are_plugged() {
        let mut session = demo();
        let (routing, feed) = (session.routing().id, session.routing().feeds[3].id);
        session.edit("Remove", [Edit::RemoveFeed(routing, feed)]).unwrap();
        is_put_right(session, "open port");
    }

    #[test]
    fn a_row_without_a_feed_is_fed_from_the_nearest_manifold() {
        let mut session = demo();
        let (routing, feed) = (session.routing().id, session.routing().feeds[3].id);
        session.edit("Remove", [Edit::RemoveFeed(routing, feed)]).unwrap();
        is_put_right(session, "not fed");
    }

    #[test]
    fn what_a_left_out_row_no_longer_needs_is_removed_and_its_outlet_plugged() {
        let mut session = demo();
        let row = Row { left_out: true, ..session.project().bar.rows[3].clone() };
        session.edit("Leave out", [Edit::PutRow(row)]).unwrap();
        let Some(Remedy::RemoveFeeds(feeds)) = remedy(&session, "left out but plumbed") else {
            panic!("{:?}", session.findings())
        };
        let port = session.routing().feed(feeds[0]).unwrap().from.port().unwrap();
        session.carry_out(&Remedy::RemoveFeeds(feeds.clone())).unwrap();
        assert!(session.routing().feed(feeds[0]).is_none());
        assert!(
            !session.findings().iter().any(|one| one.kind.rule == "open port"),
            "{:?}",
            session.findings()
        );
        assert!(session.routing().parts.iter().any(|part| part.mount == Some(port)), "a plug sits there");
    }

    #[test]
    fn rows_that_nothing_meters_get_the_metering_that_suits() {
        let mut session = demo();
        let (routing, mut feed) = (session.routing().id, session.routing().feeds[3].clone());
        feed.remove_pieces(ElementKind::MeteringOrifice);
        session.edit("Take out", [Edit::PutFeed(routing, feed)]).unwrap();
        is_put_right(session, "unmetered");
    }

    #[test]
    fn a_hose_that_is_too_narrow_gets_the_next_size_that_is_wide_enough() {
        let mut session = demo();
        let narrowest = {
            let hoses = session.project().catalogue.of::<StockKey>();
            let hoses = hoses.filter_map(|(key, item)| match item {
                crate::plan::StockItem::Hose(hose) => Some((hose.bore.si(), key)),
                _ => None,
            });
            hoses.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap().1
        };
        let run = session.routing().runs[0].id;
        session.set_stock("Narrow", &[run], &narrowest).unwrap();
        is_put_right(session, "hose velocity");
    }

    /// Tubes of 6 mm outside in outlets for 8 mm.
    #[test]
    fn tubes_that_do_not_fit_give_way_to_those_that_do() {
        let mut session = demo();
        let key = session.routing().feeds[0].first_tube().unwrap().line.stock.clone();
        let mut entry = session.project().catalogue.entry(&key).unwrap().clone();
        entry.key = EntryKey::new("thin tube");
        if let crate::plan::Item::Stock(crate::plan::StockItem::Tube(tube)) = &mut entry.item {
            tube.outside = Length::from_si(tube.outside.si() + 0.002);
        }
        entry.connection = "plain ends".to_owned();
        session.edit("Add", [Edit::PutEntry(entry)]).unwrap();
        let thin = StockKey::new("thin tube");
        let routing = session.routing().clone();
        let feeds = routing.feeds.iter().map(|feed| Edit::PutFeed(routing.id, with_tube(feed, &thin)));
        session.edit("Thin", feeds.collect::<Vec<_>>()).unwrap();
        let tubes = |session: &Session| {
            let remedies = session.findings().iter().filter_map(|one| one.remedy.clone());
            remedies.filter(|one| matches!(one, Remedy::MatchTubes(..))).collect::<Vec<_>>()
        };
        let before = session.snapshot();
        let [remedy] = &tubes(&session)[..] else { panic!("{:?}", session.findings()) };
        session.carry_out(remedy).unwrap();
        let of_tubes =
            |one: &&Finding| one.kind.rule == "ends that do not fit" && one.kind.case == "row feeds";
        assert_eq!(session.findings().iter().filter(of_tubes).count(), 0);
        assert!(tubes(&session).is_empty());
        session.undo();
        assert_eq!(*session.project(), *before, "one step");
    }

    /// The demo's mains of 8 mm on ports of G 3/4, and wider ones.
    #[test]
    fn hoses_on_ports_of_another_thread_get_barbs_that_suit_them() {
        let mut session = demo();
        session.show_routing(session.project().routings[1].id);
        let places = |session: &Session| {
            let of_hoses = session.findings().iter().find(|one| one.kind.case == "hoses")?;
            Some((of_hoses.what.clone(), of_hoses.remedy.clone()?))
        };
        let before: Vec<_> = session.routing().runs.iter().map(|run| run.line.clone()).collect();
        let Some((what, Remedy::MatchFittings(fitted))) = places(&session) else {
            panic!("{:?}", session.findings())
        };
        assert!(what.starts_with(&fitted.len().to_string()), "{what}: {fitted:?}");
        is_put_right(session, "ends that do not fit");
        let mut session = demo();
        session.show_routing(session.project().routings[1].id);
        session.carry_out(&Remedy::MatchFittings(fitted)).unwrap();
        assert_eq!(session.routing().runs.iter().map(|run| run.line.clone()).collect::<Vec<_>>(), before);
    }

    #[test]
    fn hoses_that_turn_at_a_port_get_an_elbow_where_the_catalogue_has_one() {
        let mut session = demo();
        let turns =
            |session: &Session| session.findings().iter().any(|one| one.kind.rule == "turn at a port");
        if !turns(&session) {
            let part = session.routing().runs[0].to.port().unwrap().part;
            session.select([crate::plan::Subject::Part(part)]);
            session.turn_by_quarters(1).unwrap();
        }
        assert!(turns(&session));
        let Some(Remedy::FitElbows(places)) = remedy(&session, "turn at a port") else {
            panic!("{:?}", session.findings())
        };
        let form = |key: &FittingKey| match session.project().catalogue.item(key) {
            Some(FittingItem::Fitting(Fitting { form, .. })) => Some(*form),
            _ => None,
        };
        assert!(places.iter().all(|one| form(&one.fitting) == Some(FittingForm::Elbow)), "{places:?}");
        is_put_right(session, "turn at a port");
    }
}
