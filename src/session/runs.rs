//! Hoses: joining, bending, reconnecting, splitting, and their way along the frame.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Session;
use super::refusal::{Gone, Refusal, Remark, Reply};
use super::tool::Following;
use crate::geometry::{Point2, Point3};
use crate::plan::frame_graph::{nearest_on_piece, on_frame};
use crate::plan::joints::barb_for;
use crate::plan::routing_geometry::{SAME_WAY, cross_feed, cross_run, feed_way, lies_on_frame};
use crate::plan::{
    Anchors, Bar, BarPoint, Edit, End, FeedElement, FeedId, FittingItem, FittingKey, FrameGraph, FrameWay,
    Hinge, HingeCrossing, Line, PartId, Routing, RowFeed, Run, RunId, StockItem, StockKey, Subject,
};

impl Session {
    /// The frame, for any number of ways along it.
    pub(super) fn frame(&self) -> Arc<FrameGraph> {
        self.editor.frame.of(&self.project().bar)
    }

    /// A point that is laid now, at the height of the frame that it is on: on the section that it lies over, or that of the
    /// points of its line that it is beside.
    pub(super) fn riding(&self, place: Point3, beside: &[BarPoint]) -> BarPoint {
        let bar = &self.project().bar;
        on_frame(bar, BarPoint::beside(bar, beside, place))
    }

    /// A point that is put into a leg of a hose as it lies.
    pub(super) fn between(&self, run: RunId, leg: usize, place: Point3) -> BarPoint {
        let path = self.geometry().run(run).and_then(|laid| laid.path.get(leg..leg + 2));
        self.riding(place, path.unwrap_or_default())
    }

    /// A point after it was dragged, at the height of the frame that it is on then.
    pub(super) fn moved(&self, point: BarPoint, to: Point3) -> BarPoint {
        let bar = &self.project().bar;
        on_frame(bar, point.moved(bar, to))
    }

    /// Brings the allowances of a run in line with the hinges it crosses.
    pub(super) fn recross(&self, run: &mut Run) {
        self.recross_between(&self.geometry().anchors, run);
    }

    fn recross_between(&self, anchors: &Anchors, run: &mut Run) {
        cross_run(&self.project().bar, anchors, run);
    }

    /// The shortest way along the frame between two ends; none where no frame is near.
    pub fn frame_way(&self, from: &End, to: &End) -> Option<FrameWay> {
        way_on(&self.frame(), &self.geometry().anchors, from, to)
    }

    pub(super) fn frame_waypoints(&self, from: &End, to: &End) -> Option<Vec<BarPoint>> {
        self.frame_way(from, to).map(|way| way.waypoints)
    }

    /// Lays hoses, and the tubes of row feeds, the shortest way along the frame.
    pub fn follow_frame(&mut self, runs: &[RunId], feeds: &[FeedId]) -> Reply {
        let frame = self.frame();
        let mut edits = Vec::new();
        let mut without = Vec::new();
        let (routing, anchors) = (self.routing(), &self.geometry().anchors);
        for run in runs.iter().filter_map(|id| routing.run(*id)) {
            let Some(way) = way_on(&frame, anchors, &run.from, &run.to) else {
                without.push(run.tag.clone());
                continue;
            };
            let mut changed = run.clone();
            changed.line.waypoints = way.waypoints;
            self.recross(&mut changed);
            edits.push(Edit::PutRun(routing.id, changed));
        }
        for feed in feeds.iter().filter_map(|id| routing.feed(*id)) {
            let Some(changed) = self.feed_on(&frame, anchors, feed) else {
                without.push(feed.tag.clone());
                continue;
            };
            edits.push(Edit::PutFeed(routing.id, changed));
        }
        let lacking = (!without.is_empty()).then_some(Refusal::NoFrame(without));
        if edits.is_empty()
            && let Some(refusal) = lacking
        {
            return Err(refusal);
        }
        self.edit("Follow the frame", edits)?;
        Ok(lacking.map(Remark::Partly))
    }

    /// A feed with its tube along the frame, as its outlet stands now; none where there is no such way.
    fn feed_on(&self, frame: &FrameGraph, anchors: &Anchors, feed: &RowFeed) -> Option<RowFeed> {
        let way = feed_way(self.project(), frame, anchors, feed)?;
        let mut changed = feed.clone();
        changed.first_tube_mut()?.line.waypoints = way;
        cross_feed(&self.project().bar, anchors, &mut changed);
        Some(changed)
    }

    /// Takes all waypoints out of hoses.
    pub fn lay_straight(&mut self, runs: &[RunId]) -> Result<(), Refusal> {
        self.change_runs("Lay straight", runs, |run| run.line.waypoints.clear())
    }

    /// Takes back what was chosen at the hinges that the selected hoses and row feeds cross, or all if none are: their clamps
    /// are where the program suggests them, and the length between is computed. In one step.
    pub fn compute_crossings(&mut self) -> Reply {
        let (mut runs, mut feeds) = (self.selected_runs(), self.selected_feeds());
        if runs.is_empty() && feeds.is_empty() {
            runs = self.routing().runs.iter().map(|run| run.id).collect();
            feeds = self.routing().feeds.iter().map(|feed| feed.id).collect();
        }
        let routing = self.routing();
        let compute = |line: &mut Line| {
            for crossing in &mut line.crossings {
                *crossing = HingeCrossing::computed(crossing.section);
            }
        };
        let mut edits = Vec::new();
        let (mut hoses, mut tubes) = (0, 0);
        for run in runs.into_iter().filter_map(|id| routing.run(id)) {
            let mut changed = run.clone();
            compute(&mut changed.line);
            if changed != *run {
                hoses += 1;
                edits.push(Edit::PutRun(routing.id, changed));
            }
        }
        for feed in feeds.into_iter().filter_map(|id| routing.feed(id)) {
            let mut changed = feed.clone();
            for element in changed.elements_mut() {
                if let FeedElement::Tube(tube) = element {
                    compute(&mut tube.line);
                }
            }
            if changed != *feed {
                tubes += 1;
                edits.push(Edit::PutFeed(routing.id, changed));
            }
        }
        let step = "Suggested clamps and lengths at hinges";
        if edits.is_empty() {
            return Ok(Some(Remark::AlreadySo { step: step.to_owned() }));
        }
        self.edit(step, edits)?;
        Ok(Some(Remark::CrossingsTakenBack { hoses, tubes }))
    }

    /// Changes hoses in one step; the crossings follow the hinges crossed.
    pub(super) fn change_runs(
        &mut self,
        name: &str,
        runs: &[RunId],
        change: impl Fn(&mut Run),
    ) -> Result<(), Refusal> {
        let routing = self.routing();
        let mut edits = Vec::new();
        for run in runs.iter().filter_map(|id| routing.run(*id)) {
            let mut changed = run.clone();
            change(&mut changed);
            if changed.line.waypoints != run.line.waypoints {
                self.recross(&mut changed);
            }
            if changed != *run {
                edits.push(Edit::PutRun(routing.id, changed));
            }
        }
        self.edit(name, edits)
    }

    /// Gives hoses another stock, and with it another bore. Fittings that were the usual ones of the old stock become
    /// those of the new one; others stay.
    pub(super) fn set_stock(&mut self, step: &str, runs: &[RunId], stock: &StockKey) -> Result<(), Refusal> {
        let routing = self.routing();
        let mut usual: BTreeMap<StockKey, Vec<FittingKey>> = BTreeMap::new();
        for run in runs.iter().filter_map(|id| routing.run(*id)) {
            let old = &run.line.stock;
            if !usual.contains_key(old) {
                usual.insert(old.clone(), self.usual_fittings(old));
            }
        }
        let new = self.usual_fittings(stock);
        self.change_runs(step, runs, |run| {
            let old = usual.get(&run.line.stock).map(Vec::as_slice).unwrap_or_default();
            if run.line.stock != *stock && !run.fittings.is_empty() && run.fittings == old {
                run.fittings.clone_from(&new);
            }
            run.line.stock = stock.clone();
        })
    }

    /// The fittings a new hose of a stock gets, one for each end: like those of a hose of that stock that is there, or
    /// the catalogue's for that bore; none where it has none.
    pub fn usual_fittings(&self, stock: &StockKey) -> Vec<FittingKey> {
        // The last one drawn before the older ones.
        self.usual_fittings_among(stock, self.routing().runs.iter().rev())
    }

    /// The same where only some hoses of the routing in hand count, and those of the others behind them.
    pub(super) fn usual_fittings_among<'a>(
        &self,
        stock: &StockKey,
        here: impl Iterator<Item = &'a Run>,
    ) -> Vec<FittingKey> {
        let like =
            |run: &Run| (run.line.stock == *stock && run.fittings.len() == 2).then(|| run.fittings.clone());
        let others = self.project().routings.iter().filter(|routing| routing.id != self.routing().id);
        let mut elsewhere = others.flat_map(|routing| routing.runs.iter().rev());
        let by_catalogue = || {
            let fitting = barb_for(&self.project().catalogue, stock);
            fitting.map_or_else(Vec::new, |fitting| vec![fitting.clone(), fitting])
        };
        let mut here = here;
        here.find_map(like).or_else(|| elsewhere.find_map(like)).unwrap_or_else(by_catalogue)
    }

    /// Gives hoses the fittings that are usual for their stock.
    pub fn set_usual_fittings(&mut self, runs: &[RunId]) -> Result<(), Refusal> {
        let routing = self.routing();
        let usual: BTreeMap<RunId, Vec<FittingKey>> = runs
            .iter()
            .filter_map(|id| routing.run(*id))
            .map(|run| (run.id, self.usual_fittings(&run.line.stock)))
            .collect();
        if usual.values().all(Vec::is_empty) {
            return Err(Refusal::CatalogueLacks("fitting for these bores"));
        }
        self.change_runs("Change the fittings", runs, |run| {
            if let Some(usual) = usual.get(&run.id) {
                run.fittings.clone_from(usual);
            }
        })
    }

    /// Changes one fitting of a hose, or takes it away.
    pub fn set_fitting(
        &mut self,
        run: RunId,
        at: usize,
        fitting: Option<&FittingKey>,
    ) -> Result<(), Refusal> {
        let name = format!("Change a fitting of {}", self.tag_of(Subject::Run(run)));
        self.change_runs(&name, &[run], |run| match fitting {
            Some(fitting) => {
                if let Some(one) = run.fittings.get_mut(at) {
                    one.clone_from(fitting);
                }
            }
            None if at < run.fittings.len() => drop(run.fittings.remove(at)),
            None => {}
        })
    }

    /// Adds a fitting to a hose: like its last one, or the usual one of its stock, or the first of the catalogue.
    pub fn add_fitting(&mut self, run: RunId) -> Result<(), Refusal> {
        let Some(found) = self.routing().run(run) else { return Err(Gone::Hose.into()) };
        let usual = || self.usual_fittings(&found.line.stock).pop();
        let any = || self.project().catalogue.first(|item| matches!(item, FittingItem::Fitting(_)));
        let Some(fitting) = found.fittings.last().cloned().or_else(usual).or_else(any) else {
            return Err(Refusal::CatalogueLacks("fitting"));
        };
        let name = format!("Add a fitting to {}", found.tag);
        self.change_runs(&name, &[run], |run| run.fittings.push(fitting.clone()))
    }

    /// Puts a waypoint into a hose, in the leg that is nearest.
    pub fn insert_waypoint(&mut self, run: RunId, place: Point3) -> Result<(), Refusal> {
        let Some(leg) = self.leg_at(run, place.flat()) else { return Err(Gone::Hose.into()) };
        let name = format!("Bend {}", self.tag_of(Subject::Run(run)));
        let point = self.between(run, leg, place);
        self.change_runs(&name, &[run], |run| run.line.waypoints.insert(leg, point))
    }

    /// Takes a waypoint out of a hose.
    pub fn remove_waypoint(&mut self, run: RunId, index: usize) -> Result<(), Refusal> {
        let name = format!("Remove a waypoint of {}", self.tag_of(Subject::Run(run)));
        self.change_runs(&name, &[run], |run| {
            if index < run.line.waypoints.len() {
                run.line.waypoints.remove(index);
            }
        })
    }

    /// It lies as the program lays hoses along the frame, or as older projects have them: through parts, at right angles onto
    /// the frame, and over the line of each hinge, not beside it.
    pub(super) fn follows_frame(&self, frame: &FrameGraph, run: &Run) -> bool {
        let anchors = &self.geometry().anchors;
        let Some((from, to)) = anchors.ends(run) else { return false };
        let bar = &self.project().bar;
        let lies = |way: FrameWay| {
            !way.waypoints.is_empty()
                && (same_way(bar, &run.line.waypoints, &way.waypoints)
                    || same_way(bar, &run.line.waypoints, &way.aslant(from.place, to.place).waypoints))
        };
        let round = anchors.bodies_between(&run.from, &run.to);
        [round, Vec::new()].iter().filter_map(|round| frame.way(from, to, round)).any(lies)
    }

    /// Hoses and row feeds at these parts that lie along the frame, so that they can go on doing so.
    pub(super) fn following(&self, parts: &[PartId]) -> Following {
        let routing = self.routing();
        let moving: Vec<PartId> = parts.iter().flat_map(|id| routing.with_mounted(*id)).collect();
        let at = |end: &End| end.port().is_some_and(|port| moving.contains(&port.part));
        let touching = routing.runs.iter().filter(|run| at(&run.from) || at(&run.to));
        let frame = self.frame();
        let runs = touching.filter(|run| self.follows_frame(&frame, run)).map(|run| run.id).collect();
        let feeds = routing.feeds.iter().filter(|feed| {
            at(&feed.from) && lies_on_frame(self.project(), &frame, &self.geometry().anchors, feed)
        });
        Following { runs, feeds: feeds.map(|feed| feed.id).collect() }
    }

    /// A hose as it was before the step that is open, or as it is.
    pub(super) fn run_before(&self, run: RunId) -> Option<&Run> {
        self.routing_before().run(run)
    }

    /// The hose that runs nearest to a point, within reach as seen from above.
    pub(super) fn run_near(&self, at: Point2, reach: f64) -> Option<RunId> {
        let flat = |point: Point3| Point3::new(point.x, point.y, 0.0);
        let away = |run: &Run| {
            let path = &self.geometry().run(run.id)?.path;
            let feet = path.windows(2).map(|pair| {
                nearest_on_piece(Point3::new(at.x, at.y, 0.0), flat(pair[0].place), flat(pair[1].place))
            });
            feet.map(|foot| foot.flat().distance(at)).min_by(f64::total_cmp)
        };
        let near = self.routing().runs.iter().filter_map(|run| Some((away(run)?, run.id)));
        near.filter(|(away, _)| *away <= reach).min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, id)| id)
    }

    /// Applies edits to parts, and to what joins them to others, and brings their hoses along; solved once, all or none.
    pub(super) fn change_with_hoses(
        &mut self,
        before: &Routing,
        was_at: &Anchors,
        parts: &[PartId],
        following: &Following,
        edits: Vec<Edit>,
    ) -> Result<(), Refusal> {
        self.change_routing(|session| {
            session.document.apply(edits)?;
            // The hoses are laid once the parts are where they go.
            let hoses = session.hoses_after(before, was_at, parts, following);
            session.document.apply(hoses)
        })
    }

    /// Changes parts in one step, and brings their hoses along.
    pub(super) fn change_parts(
        &mut self,
        name: &str,
        parts: &[PartId],
        edits: Vec<Edit>,
    ) -> Result<(), Refusal> {
        self.give_up_gesture();
        let (before, following) = (self.routing().clone(), self.following(parts));
        let was_at = self.geometry().anchors.clone();
        self.begin(name);
        if let Err(refusal) = self.change_with_hoses(&before, &was_at, parts, &following, edits) {
            self.revert();
            return Err(refusal);
        }
        self.commit()
    }

    /// The edits that bring the hoses of changed parts along: what lay along the frame finds its way anew, and waypoints
    /// between parts that moved alike go with them.
    fn hoses_after(
        &self,
        before: &Routing,
        was_at: &Anchors,
        parts: &[PartId],
        following: &Following,
    ) -> Vec<Edit> {
        let routing = self.routing();
        let now_at = Anchors::of(self.project(), routing);
        let moving: Vec<PartId> = parts.iter().flat_map(|id| before.with_mounted(*id)).collect();
        let touched = |end: &End| end.port().is_some_and(|port| moving.contains(&port.part));
        let moved = |was: &End, now: &End| {
            Some(now_at.end(now)?.place - was_at.end(was)?.place).filter(|_| touched(now))
        };
        let frame = (*following != Following::default()).then(|| self.frame());
        let mut edits = Vec::new();
        for was in before.runs.iter().filter(|run| touched(&run.from) || touched(&run.to)) {
            let Some(now) = routing.run(was.id) else { continue };
            let mut changed = Run { from: now.from, to: now.to, ..was.clone() };
            let way = frame.as_ref().filter(|_| following.runs.contains(&was.id));
            let both = moved(&was.from, &now.from).zip(moved(&was.to, &now.to));
            if let Some(way) = way.and_then(|frame| way_on(frame, &now_at, &now.from, &now.to)) {
                changed.line.waypoints = way.waypoints;
            } else if let Some((from, to)) = both
                && from.distance(to) < SAME_WAY
            {
                for waypoint in &mut changed.line.waypoints {
                    *waypoint = waypoint.moved(&self.project().bar, waypoint.place + from);
                }
            } else if following.runs.contains(&was.id) {
                // Off the frame it hangs straight.
                changed.line.waypoints.clear();
            }
            self.recross_between(&now_at, &mut changed);
            if *now != changed {
                edits.push(Edit::PutRun(routing.id, changed));
            }
        }
        let feeds = following.feeds.iter().filter_map(|id| routing.feed(*id));
        let laid = feeds.filter_map(|feed| Some((feed, self.feed_on(frame.as_ref()?, &now_at, feed)?)));
        edits.extend(
            laid.filter(|(feed, changed)| *feed != changed)
                .map(|(_, changed)| Edit::PutFeed(routing.id, changed)),
        );
        edits
    }

    /// The hose to join with: like the last one; for the first one as wide as the inlet filter's ports, or the first of
    /// the catalogue.
    pub fn usual_hose(&self) -> Option<StockKey> {
        self.usual_hose_after(self.routing().runs.last())
    }

    /// The same where another hose was drawn last.
    pub(super) fn usual_hose_after(&self, last: Option<&Run>) -> Option<StockKey> {
        let last = last.map(|run| run.line.stock.clone());
        let catalogue = &self.project().catalogue;
        let as_wide = || {
            let bore = self.filter_bore()?.si();
            let hoses = catalogue.of::<StockKey>().filter_map(|(key, item)| match item {
                StockItem::Hose(stock) => Some(((stock.bore.si() - bore).abs(), key)),
                _ => None,
            });
            hoses.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
        };
        let first = || catalogue.first(|item| matches!(item, StockItem::Hose(_)));
        last.or_else(as_wide).or_else(first)
    }
}

/// The way of a hose along the frame between two ends; none where no frame leads.
pub(super) fn way_on(frame: &FrameGraph, anchors: &Anchors, from: &End, to: &End) -> Option<FrameWay> {
    let round = anchors.bodies_between(from, to);
    let (from, to) = (anchors.end(from)?, anchors.end(to)?);
    frame.way(from, to, &round).map(|way| way.aslant(from.place, to.place))
}

fn same_way(bar: &Bar, laid: &[BarPoint], way: &[BarPoint]) -> bool {
    let same = |laid: &BarPoint, on: &BarPoint| {
        let on_line = |hinge: Hinge| hinge.off_line(laid.place) < SAME_WAY;
        let over = || bar.sections.iter().filter_map(|section| section.hinge).any(on_line);
        laid.place.distance(on.place) < SAME_WAY
            || (laid.place.flat().distance(on.place.flat()) < SAME_WAY && over())
    };
    laid.len() == way.len() && laid.iter().zip(way).all(|(a, b)| same(a, b))
}
