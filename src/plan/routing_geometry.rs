//! Where everything of a routing lies, and how long it is: worked out once, and read by whoever needs it.
//!
//! Built from a project and one of its routings, in working position, from where [`FoldedBar`](super::FoldedBar) moves what
//! rides on its sections; valid for as long as they stay as they are. Start reading at [`RoutingGeometry`].

use std::ops::Deref;

use super::anchors::{Anchors, find, index};
use super::bar::Bar;
use super::bar_point::BarPoint;
use super::clash::Clashes;
use super::connection_graph::ConnectionGraph;
use super::crossing::{Awaited, CrossedHinge, HoseBend, Unknown, crossings};
use super::cutting::{MovingEnd, cut_length};
use super::feed::{FeedElement, RowFeed, stretch};
use super::fold::{FoldPosition, FoldedBar};
use super::frame_graph::FrameGraph;
use super::frame_way::FrameWay;
use super::held::Held;
use super::kept::Kept;
use super::project::Project;
use super::routing::Routing;
use super::run::{End, Line, Run};
use super::stock_bending::StockBending;
use super::{FeedId, RunId, SectionId, StockKey, Subject};
use crate::geometry::Point3;
use crate::quantities::Length;

/// A hose or a piece of tube as it lies between its two ends.
#[derive(Debug, Clone, PartialEq)]
pub struct LineGeometry {
    /// Its ends and the points between them, each with the section that carries it; two or more.
    pub path: Vec<BarPoint>,
    /// The hinges that it crosses, in order, each named by the section that hangs on it; one that is crossed there and
    /// back comes twice.
    pub hinges: Vec<SectionId>,
    /// The way through its points.
    pub drawn: Length,
    /// Added as slack.
    pub slack: Length,
    /// What is added at each hinge that it crosses, in order, and where that is from.
    pub crossings: Vec<CrossedHinge>,
    /// Added for hinges in all; below 0 where slack alone is more than the fold needs.
    pub allowance: Length,
    /// The way with slack and what the hinges need, whatever was measured.
    pub computed: Length,
    /// Its length: measured on the bar if it was, otherwise computed.
    pub length: Length,
    /// What moves at its end, so that it is cut longer for a loop there; none where it was measured.
    pub moving_end: Option<MovingEnd>,
}

impl LineGeometry {
    /// A line between two ends, of which one may move.
    fn new(
        project: &Project,
        line: &Line,
        (from, to): (BarPoint, BarPoint),
        moving: Option<MovingEnd>,
        unknown: Unknown,
    ) -> Self {
        let bar = &project.bar;
        let path = path_through(line, from, to);
        let hinges = bar.hinges_along(&path);
        let drawn =
            Length::metres(path.windows(2).map(|pair| pair[0].place.distance(pair[1].place)).sum::<f64>());
        // Most lines stay on their section.
        let crossings = if hinges.is_empty() {
            Vec::new()
        } else {
            crossings(bar, line, &path, hose_bend(project, &line.stock), unknown)
        };
        let allowance = crossings.iter().map(|one| one.extra).sum();
        let computed = drawn * (1.0 + line.slack.si()) + allowance;
        Self {
            path,
            hinges,
            drawn,
            slack: drawn * line.slack.si(),
            crossings,
            allowance,
            computed,
            length: line.measured.unwrap_or(computed),
            moving_end: moving.filter(|_| line.measured.is_none()),
        }
    }

    /// Where it lies in a position of the fold: its points as its sections carry them, and bent between its clamps at the
    /// hinges whose crossings are computed.
    pub fn folded(&self, bar: &Bar, folded: &FoldedBar, position: FoldPosition) -> Vec<Point3> {
        let mut bent = Vec::new();
        for crossing in self.crossings.iter().filter_map(CrossedHinge::computed) {
            if let Some(points) = crossing.bent(bar, folded, position) {
                bent.push((crossing.span, points));
            }
        }
        let mut bent = bent.into_iter().peekable();
        let mut places = Vec::with_capacity(self.path.len());
        let mut walked = Length::ZERO;
        let mut free_until = None;
        for (at, point) in self.path.iter().enumerate() {
            if let Some(before) = at.checked_sub(1).and_then(|before| self.path.get(before)) {
                walked += Length::metres(before.place.distance(point.place));
            }
            while let Some((span, points)) = bent.next_if(|(span, _)| span.0 <= walked) {
                places.extend(points);
                free_until = Some(span.1);
            }
            if free_until.is_none_or(|until| until < walked) {
                places.push(folded.place(*point));
            }
        }
        places
    }

    /// The crossing that an entry of what is chosen for its line is about: entries of one hinge are taken in the order in which
    /// the line crosses it. None where it is not crossed, or not so often.
    pub fn crossing_of(&self, line: &Line, entry: usize) -> Option<&CrossedHinge> {
        let section = line.crossings.get(entry)?.section;
        let before = line.crossings.iter().take(entry).filter(|one| one.section == section).count();
        self.crossings.iter().filter(|one| one.section == section).nth(before)
    }

    /// A length at a hinge is still being computed, so that its own length is none yet.
    pub fn is_being_computed(&self) -> bool {
        self.crossings.iter().any(|one| one.awaited.is_some())
    }

    /// Its length, once those at its hinges are computed.
    pub fn known_length(&self) -> Option<Length> {
        (!self.is_being_computed() || self.length != self.computed).then_some(self.length)
    }

    /// The places of its points.
    pub fn places(&self) -> Vec<Point3> {
        self.path.iter().map(|point| point.place).collect()
    }

    /// Where it starts.
    pub fn from(&self) -> BarPoint {
        self.path.first().copied().unwrap_or_default()
    }

    /// Where it ends.
    pub fn to(&self) -> BarPoint {
        self.path.last().copied().unwrap_or_default()
    }

    /// What it is cut to in the end, in every list and drawing alike: its length with the loop at an end that moves,
    /// rounded. A rough cut has more over at first (`sheets::cut_plan`).
    pub fn cut(&self, project: &Project) -> Length {
        let spare = self.moving_end.map_or(Length::ZERO, |end| end.spare(&project.limits));
        cut_length(self.length + spare, project.units, false)
    }
}

/// Where an element of a row feed starts and ends.
#[derive(Debug, Clone, PartialEq)]
pub struct ElementGeometry {
    /// Where it starts.
    pub from: BarPoint,
    /// Where it ends; all but tubes end where they start, or reach the outlet where no tube is left to do so.
    pub to: BarPoint,
    /// How it lies, if it is a tube.
    pub tube: Option<LineGeometry>,
    /// Length of a tube or metering tube; none of what has no length that matters.
    pub length: Option<Length>,
}

impl ElementGeometry {
    /// Its length, once those at its hinges are computed.
    pub fn known_length(&self) -> Option<Length> {
        self.tube.as_ref().map_or(self.length, LineGeometry::known_length)
    }
}

/// Where a row feed lies.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedGeometry {
    /// Where it starts.
    pub start: BarPoint,
    /// Of the elements of the trunk.
    pub trunk: Vec<ElementGeometry>,
    /// Of the elements of each branch.
    pub branches: Vec<Vec<ElementGeometry>>,
}

impl FeedGeometry {
    /// A feed from its start, `None` if its start or one of its rows is nowhere.
    pub fn new(project: &Project, anchors: &Anchors, feed: &RowFeed, unknown: Unknown) -> Option<Self> {
        let start = anchors.end(&feed.from)?;
        let is_tube = |element: &FeedElement| matches!(element, FeedElement::Tube(_));
        let mut ends = feed_stretches(anchors, feed)?.into_iter();
        let mut lay = |elements: &[FeedElement], to_opener: bool| -> Vec<ElementGeometry> {
            let last_tube = elements.iter().rposition(is_tube).filter(|_| to_opener);
            let laid = elements.iter().zip(ends.by_ref().take(elements.len())).enumerate();
            let geometry = |(at, (element, (from, to))): (usize, (&FeedElement, (BarPoint, BarPoint)))| {
                let moving = (last_tube == Some(at)).then_some(MovingEnd::Opener);
                let tube = match element {
                    FeedElement::Tube(tube) => {
                        Some(LineGeometry::new(project, &tube.line, (from, to), moving, unknown))
                    }
                    FeedElement::Piece(..) | FeedElement::MeteringTube { .. } | FeedElement::Fitting(_) => {
                        None
                    }
                };
                let length = match element {
                    FeedElement::MeteringTube { length, .. } => Some(*length),
                    FeedElement::Tube(_) | FeedElement::Piece(..) | FeedElement::Fitting(_) => {
                        tube.as_ref().map(|tube| tube.length)
                    }
                };
                ElementGeometry { from, to, tube, length }
            };
            laid.map(geometry).collect()
        };
        // Of a branch without a tube of its own, the shared one ends at the opener.
        let ends_trunk = feed.branches.iter().any(|branch| !branch.elements.iter().any(is_tube));
        let trunk = lay(&feed.trunk, ends_trunk);
        let branches = feed.branches.iter().map(|branch| lay(&branch.elements, true)).collect();
        Some(Self { start, trunk, branches })
    }

    /// The elements of the trunk, or those of a branch.
    pub fn stretch(&self, branch: Option<usize>) -> &[ElementGeometry] {
        match branch {
            None => &self.trunk,
            Some(branch) => self.branches.get(branch).map_or(&[], Vec::as_slice),
        }
    }

    /// All elements: the trunk's, then each branch's.
    pub fn elements(&self) -> impl Iterator<Item = &ElementGeometry> {
        self.trunk.iter().chain(self.branches.iter().flatten())
    }

    /// Its tubes, in the order of its elements.
    pub fn tubes(&self) -> impl Iterator<Item = &LineGeometry> {
        self.elements().filter_map(|element| element.tube.as_ref())
    }
}

/// Where all of a routing lies.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RoutingGeometry {
    /// Parts, ports, outlets and the pump.
    pub anchors: Anchors,
    /// What is joined with what.
    pub connections: ConnectionGraph,
    /// In the routing's order; none where an end is nowhere.
    runs: Vec<Option<LineGeometry>>,
    run_index: Vec<(RunId, usize)>,
    feeds: Vec<Option<FeedGeometry>>,
    feed_index: Vec<(FeedId, usize)>,
    /// What the fold brings too near to each other, once somebody has looked.
    pub(super) clashes: Kept<Clashes>,
    /// What holds it where the frame alone does not, once somebody has asked.
    pub(super) held: Kept<Held>,
}

impl RoutingGeometry {
    /// Works out where a routing lies, in working position.
    pub fn working(project: &Project, routing: &Routing) -> Self {
        Self::new(project, routing, Unknown::Compute)
    }

    /// The same at once, while something is dragged: lengths at hinges that are not known yet are left ([`Self::awaited`]).
    pub fn without_waiting(project: &Project, routing: &Routing) -> Self {
        Self::new(project, routing, Unknown::Leave)
    }

    fn new(project: &Project, routing: &Routing, unknown: Unknown) -> Self {
        let anchors = Anchors::new(&project.bar, &project.catalogue, &project.supply, &routing.parts);
        let run = |run: &Run| laid_between(project, &anchors, run, unknown);
        let feed = |feed: &RowFeed| FeedGeometry::new(project, &anchors, feed, unknown);
        Self {
            runs: routing.runs.iter().map(run).collect(),
            run_index: index(routing.runs.iter().map(|run| run.id)),
            feeds: routing.feeds.iter().map(feed).collect(),
            feed_index: index(routing.feeds.iter().map(|feed| feed.id)),
            anchors,
            connections: ConnectionGraph::new(routing),
            clashes: Kept::default(),
            held: Kept::default(),
        }
    }

    /// The crossings that are still to be computed.
    pub fn awaited(&self) -> Vec<Awaited> {
        let crossings = self.lines().flat_map(|line| &line.crossings);
        crossings.filter_map(|one| one.awaited.as_deref().cloned()).collect()
    }

    /// All hoses, then all delivery tubes.
    pub fn lines(&self) -> impl Iterator<Item = &LineGeometry> {
        let tubes = self.feeds.iter().flatten().flat_map(FeedGeometry::tubes);
        self.runs.iter().flatten().chain(tubes)
    }

    /// How a run lies; none for one that is not there, or with an end that is nowhere.
    pub fn run(&self, id: RunId) -> Option<&LineGeometry> {
        self.runs.get(find(&self.run_index, id)?)?.as_ref()
    }

    /// How a row feed lies; none for one that is not there, or that starts or ends nowhere.
    pub fn feed(&self, id: FeedId) -> Option<&FeedGeometry> {
        self.feeds.get(find(&self.feed_index, id)?)?.as_ref()
    }

    /// The routing with this, its geometry.
    pub const fn with<'a>(&'a self, routing: &'a Routing) -> LaidRouting<'a> {
        LaidRouting { routing, geometry: self }
    }

    /// All runs, in the routing's order.
    pub fn runs(&self) -> &[Option<LineGeometry>] {
        &self.runs
    }

    /// All row feeds, in the routing's order.
    pub fn feeds(&self) -> &[Option<FeedGeometry>] {
        &self.feeds
    }
}

/// What a hinge asks of a stock; none where it is not in the catalogue.
fn hose_bend(project: &Project, key: &StockKey) -> Option<HoseBend> {
    let stock = project.catalogue.stock(key)?;
    let bending = StockBending::of(&project.catalogue, key)?;
    let masses = [bending.filled(project.heaviest_liquid()), bending.empty.value];
    Some(HoseBend {
        radius: stock.bend_radius,
        outside: stock.outside,
        slack: project.limits.hinge_slack,
        loads: masses.map(|mass| bending.load(mass)),
        is_assumed: bending.is_assumed(),
        stiffness: bending.stiffness,
    })
}

/// How a run lies between the ends that it is on, whether it belongs to the routing yet or not; what is not known of its hinges
/// is left.
pub fn run_between(project: &Project, anchors: &Anchors, run: &Run) -> Option<LineGeometry> {
    laid_between(project, anchors, run, Unknown::Leave)
}

/// The same, with its hinges computed at once.
pub fn run_computed(project: &Project, anchors: &Anchors, run: &Run) -> Option<LineGeometry> {
    laid_between(project, anchors, run, Unknown::Compute)
}

fn laid_between(project: &Project, anchors: &Anchors, run: &Run, unknown: Unknown) -> Option<LineGeometry> {
    let (from, to) = anchors.ends(run)?;
    let moving = [run.from, run.to].contains(&End::Supply).then_some(MovingEnd::Hitch);
    Some(LineGeometry::new(project, &run.line, (from, to), moving, unknown))
}

/// Brings the crossings of a run in line with the hinges that it crosses: what was chosen for hinges that are still crossed
/// stays. The run need not be part of the routing yet.
pub fn cross_run(bar: &Bar, anchors: &Anchors, run: &mut Run) {
    if let Some((from, to)) = anchors.ends(run) {
        let path = path_through(&run.line, from, to);
        run.line.cross(&bar.hinges_along(&path));
    }
}

/// The points of a line between two ends.
fn path_through(line: &Line, from: BarPoint, to: BarPoint) -> Vec<BarPoint> {
    let mut path = Vec::with_capacity(line.waypoints.len() + 2);
    path.push(from);
    path.extend(line.waypoints.iter().copied());
    path.push(to);
    path
}

/// Where each element of a row feed starts and ends, the trunk's and then each branch's; none if its start or one of its
/// rows is nowhere.
fn feed_stretches(anchors: &Anchors, feed: &RowFeed) -> Option<Vec<(BarPoint, BarPoint)>> {
    let start = anchors.end(&feed.from)?;
    let split = feed.split.as_ref().map(|split| split.position);
    let mut ends = stretch(&feed.trunk, start, split.unwrap_or(start));
    let below = split.or(ends.last().map(|last| last.1)).unwrap_or(start);
    for branch in &feed.branches {
        ends.extend(stretch(&branch.elements, below, anchors.outlet(branch.row)?));
    }
    Some(ends)
}

/// The same for every tube of a row feed.
pub fn cross_feed(bar: &Bar, anchors: &Anchors, feed: &mut RowFeed) {
    let Some(ends) = feed_stretches(anchors, feed) else { return };
    for (element, (from, to)) in feed.elements_mut().zip(ends) {
        if let FeedElement::Tube(tube) = element {
            let path = path_through(&tube.line, from, to);
            tube.line.cross(&bar.hinges_along(&path));
        }
    }
}

/// The way along the frame of the tube that leaves the outlet of a feed: down to the opener of its one row, if that is
/// its only tube, or to the small tee of a shared feed, with room for the bends of its stock where the way gives some. None for
/// other feeds, and where no frame is near.
pub fn feed_way(
    project: &Project,
    frame: &FrameGraph,
    anchors: &Anchors,
    feed: &RowFeed,
) -> Option<Vec<BarPoint>> {
    let (from, to) = feed_ends(anchors, feed)?;
    let way = frame.tube_way(from, to, &anchors.bodies_between(&feed.from, &feed.from))?;
    Some(eased(project, feed, way, from, to).waypoints)
}

/// A way with room for the bends of the tube of a feed that takes it.
fn eased(project: &Project, feed: &RowFeed, way: FrameWay, from: BarPoint, to: BarPoint) -> FrameWay {
    match feed.first_tube().and_then(|tube| project.catalogue.stock(&tube.line.stock)) {
        Some(stock) => way.eased(from.place, to.place, stock.bend_radius),
        None => way,
    }
}

/// The first tube of a feed lies along the frame as the program lays tubes, or as it laid them before: through parts, as
/// hoses, which cross wider gaps, and round corners that are too tight for it.
pub fn lies_on_frame(project: &Project, frame: &FrameGraph, anchors: &Anchors, feed: &RowFeed) -> bool {
    let (Some((from, to)), Some(tube)) = (feed_ends(anchors, feed), feed.first_tube()) else { return false };
    let laid = &tube.line.waypoints;
    let same = |way: Vec<BarPoint>| {
        way.len() == laid.len() && way.iter().zip(laid).all(|(a, b)| a.place.distance(b.place) < SAME_WAY)
    };
    let round = anchors.bodies_between(&feed.from, &feed.from);
    let ways = [frame.tube_way(from, to, &round), frame.tube_way(from, to, &[]), frame.way(from, to, &[])];
    let same_or_eased =
        |way: FrameWay| same(way.waypoints.clone()) || same(eased(project, feed, way, from, to).waypoints);
    ways.into_iter().flatten().any(same_or_eased)
}

/// Ways that lie as near to each other as this are the same, metres: a mirrored or split one is not the same to the
/// last digit.
pub const SAME_WAY: f64 = 1e-3;

/// Where the tube begins and ends that leaves the outlet of a feed, if it is the only one of its stretch.
fn feed_ends(anchors: &Anchors, feed: &RowFeed) -> Option<(BarPoint, BarPoint)> {
    let tubes = |elements: &[FeedElement]| {
        elements.iter().filter(|element| matches!(element, FeedElement::Tube(_))).count()
    };
    feed.from.port()?;
    let to = match (&feed.split, &feed.branches[..]) {
        (Some(split), _) if tubes(&feed.trunk) == 1 => split.position,
        (None, [branch]) if feed.trunk.is_empty() && tubes(&branch.elements) == 1 => {
            anchors.outlet(branch.row)?
        }
        _ => return None,
    };
    Some((anchors.end(&feed.from)?, to))
}

/// A routing and where all of it lies.
#[derive(Debug, Clone, Copy)]
pub struct LaidRouting<'a> {
    /// The routing.
    pub routing: &'a Routing,
    /// Where it lies; worked out from this state of it.
    pub geometry: &'a RoutingGeometry,
}

/// A hose, or a piece of tube of a row feed, and how it lies.
#[derive(Debug, Clone, Copy)]
pub struct LaidLine<'a> {
    /// The hose, or the row feed that it is a tube of.
    pub of: Subject,
    /// The tag of that.
    pub tag: &'a str,
    /// Its stock and its way.
    pub line: &'a Line,
    /// How it lies.
    pub laid: &'a LineGeometry,
}

impl<'a> LaidRouting<'a> {
    /// Every hose and piece of tube that lies somewhere: the hoses, then the tubes of each row feed, in the routing's order.
    pub fn laid_lines(self) -> impl Iterator<Item = LaidLine<'a>> {
        let Self { routing, geometry } = self;
        let hose = move |run: &'a Run| {
            let laid = geometry.run(run.id)?;
            Some(LaidLine { of: Subject::Run(run.id), tag: &run.tag, line: &run.line, laid })
        };
        let tubes = move |feed: &'a RowFeed| {
            let laid = geometry.feed(feed.id).into_iter().flat_map(FeedGeometry::elements);
            feed.elements().zip(laid).filter_map(|(element, lies)| {
                let (FeedElement::Tube(tube), Some(laid)) = (element, &lies.tube) else { return None };
                Some(LaidLine { of: Subject::Feed(feed.id), tag: &feed.tag, line: &tube.line, laid })
            })
        };
        routing.runs.iter().filter_map(hose).chain(routing.feeds.iter().flat_map(tubes))
    }
}

impl Deref for LaidRouting<'_> {
    type Target = Routing;

    fn deref(&self) -> &Routing {
        self.routing
    }
}
