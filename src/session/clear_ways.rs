//! Ways that stay clear of what comes to them when the bar folds, and of openers.

use std::collections::{BTreeMap, BTreeSet};

use crate::checks::opener_clearance::among_openers;
use crate::checks::through_part::times_through;
use crate::geometry::Point3;
use crate::plan::clash_search::clashes;
use crate::plan::frame_graph::ABOVE_MEMBER;
use crate::plan::routing_geometry::{cross_feed, feed_way};
use crate::plan::{
    Anchors, Bar, BarPoint, FeedGeometry, FeedId, FrameGraph, FrameMember, Project, Routing, RoutingGeometry,
    SectionId, Subject,
};
use crate::session::how_far::goes_on;

/// A line this near to a member, seen from above, lies along it, metres.
const ALONG: f64 = 0.16;

/// A line on short brackets lies so far in front of the middle of its member or behind it, metres: a little less than these reach
/// (`open_air::TIED`; common practice, no source).
const ASIDE: f64 = 0.14;

/// What a hose or tube that hangs among openers counts for beside what room is lacking in the fold, metres.
const AN_OPENER: f64 = 0.1;

/// Of the hoses and tubes of a routing those that something comes too near to in the fold, or that are in an opener's way, each
/// with how bad that is: the metres that are lacking, and something for each opener.
pub(super) fn not_clear(project: &Project, routing: &Routing) -> BTreeMap<Subject, f64> {
    let geometry = RoutingGeometry::working(project, routing);
    let laid = geometry.with(routing);
    let clearance = project.limits.fold_clearance.si();
    let mut found: BTreeMap<Subject, f64> = BTreeMap::new();
    for clash in &clashes(project, laid).plumbing {
        *found.entry(clash.caught).or_default() += clearance - clash.gap.si();
    }
    for (of, _) in among_openers(project, laid) {
        *found.entry(of).or_default() += AN_OPENER;
    }
    found.retain(|of, _| matches!(of, Subject::Run(_) | Subject::Feed(_)));
    found
}

/// How often hoses and tubes of a routing are drawn through parts on which they don't end: another way must not bring that.
pub(super) fn parts_passed(project: &Project, routing: &Routing) -> usize {
    let geometry = RoutingGeometry::working(project, routing);
    times_through(geometry.with(routing))
}

/// The frame of a bar without one of the members that a line lies along, for each of these, the one with most points on it first:
/// another way for that line.
pub(super) fn frames_beside<'a>(
    bar: &'a Bar,
    path: &[BarPoint],
) -> impl Iterator<Item = FrameGraph> + use<'a> {
    let on = |section: SectionId, member: &FrameMember| {
        let near = |point: &&BarPoint| {
            point.section == section
                && point.place.flat().distance_to_piece(member.from.flat(), member.to.flat()) < ALONG
        };
        path.iter().filter(near).count()
    };
    let all = bar.sections.iter().enumerate().flat_map(|(at, section)| {
        section.members.iter().enumerate().map(move |(index, member)| (at, index, section.id, member))
    });
    let mut along: Vec<(usize, usize, usize)> =
        all.map(|(at, index, id, member)| (on(id, member), at, index)).filter(|one| one.0 > 0).collect();
    along.sort_by_key(|one| std::cmp::Reverse(one.0));
    along.into_iter().map(move |(_, section, member)| {
        let mut other = bar.clone();
        other.sections[section].members.remove(member);
        FrameGraph::new(&other)
    })
}

/// The same way on short brackets in front of the members and behind them, between the openers of two ranks; then beside the
/// members and under them, not on top of them: a wing that is laid on another comes down on top.
pub(super) fn on_brackets(way: &[BarPoint]) -> impl Iterator<Item = Vec<BarPoint>> + '_ {
    let lower = [0.0, ABOVE_MEMBER, 2.0 * ABOVE_MEMBER].into_iter();
    let moves = lower.flat_map(|down| [ASIDE, -ASIDE, 0.0].map(|aside| (aside, down)));
    let moves = moves.filter(|one| !way.is_empty() && *one != (0.0, 0.0));
    moves.map(|(aside, down)| {
        let by = Point3::new(0.0, aside, -down);
        way.iter().map(|point| BarPoint { place: point.place + by, ..*point }).collect()
    })
}

/// The same way of a tube on to a place over its end, at the height at which it comes, and straight down from there: aslant beside
/// its member it is in the way of a frame that is laid against that.
fn over_its_end(way: &[BarPoint], path: &[BarPoint]) -> Option<Vec<BarPoint>> {
    let [.., before, end] = path else { return None };
    let over = BarPoint { place: Point3 { z: before.place.z, ..end.place }, ..*end };
    let is_aslant = before.section == end.section && before.place.distance(over.place) > ABOVE_MEMBER / 2.0;
    is_aslant.then(|| way.iter().copied().chain([over]).collect())
}

/// Of tubes that were not clear, the feeds that are led clear, and those that stay.
#[derive(Debug, Default)]
pub(super) struct Led {
    pub(super) clear: Vec<FeedId>,
    pub(super) caught: Vec<FeedId>,
}

/// Leads the tubes of these feeds that are not clear along other members, or under those that they lie on, where that is clear.
pub(super) fn led_clear(project: &Project, routing: &mut Routing, feeds: &BTreeSet<FeedId>) -> Led {
    let alone = |routing: &Routing, keeps: &dyn Fn(FeedId) -> bool| {
        let mut alone = routing.clone();
        alone.runs.clear();
        alone.feeds.retain(|feed| keeps(feed.id));
        alone
    };
    let faults = not_clear(project, &alone(routing, &|id| feeds.contains(&id)));
    let anchors = Anchors::of(project, routing);
    let mut led = Led::default();
    let all = faults.len();
    for (done, of) in faults.into_keys().enumerate() {
        if !goes_on("tubes led clear", done, Some(all)) {
            break;
        }
        let Subject::Feed(id) = of else { continue };
        let only = alone(routing, &|other| other == id);
        let Some(feed) = only.feeds.first() else { continue };
        let geometry = RoutingGeometry::working(project, &only);
        let path: Vec<BarPoint> = geometry
            .feed(id)
            .into_iter()
            .flat_map(FeedGeometry::tubes)
            .flat_map(|tube| tube.path.iter().copied())
            .collect();
        let Some(own) = feed.first_tube().map(|tube| tube.line.waypoints.clone()) else { continue };
        let beside = frames_beside(&project.bar, &path);
        let first = geometry.feed(id).and_then(|feed| feed.tubes().next());
        let mut ways = first
            .and_then(|tube| over_its_end(&own, &tube.path))
            .into_iter()
            .chain(beside.filter_map(|frame| feed_way(project, &frame, &anchors, feed)))
            .chain(on_brackets(&own));
        let passed_before = parts_passed(project, &only);
        let another = ways.find_map(|way| {
            let mut feed = feed.clone();
            feed.first_tube_mut()?.line.waypoints = way;
            cross_feed(&project.bar, &anchors, &mut feed);
            let tried = Routing { feeds: vec![feed.clone()], ..only.clone() };
            let is_clear =
                not_clear(project, &tried).is_empty() && parts_passed(project, &tried) <= passed_before;
            is_clear.then_some(feed)
        });
        match (another, routing.feeds.iter_mut().find(|one| one.id == id)) {
            (Some(another), Some(own)) => {
                *own = another;
                led.clear.push(id);
            }
            _ => led.caught.push(id),
        }
    }
    led
}
