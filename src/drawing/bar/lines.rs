//! Hoses, row feeds and the pump: their ways, bends, lanes and colours.

use std::collections::BTreeMap;

use super::folded_ways::DrawnLine;
use super::parts::{OUTLET_RADIUS, label_place};
use super::scene_maker::SceneMaker;
use crate::drawing::harness::Harness;
use crate::drawing::pressure::{PressureClass, PressureScale};
use crate::drawing::scene::{
    Dash, DrawItem, Fill, Grow, Ink, Layer, Reach, SceneText, Shape, TextPlace, TextRole, Width,
};
use crate::drawing::scene_options::Detail;
use crate::drawing::{Subject, harness, symbols};
use crate::geometry::{Point2, Point3};
use crate::hydraulics::outcome::RowOutcome;
use crate::plan::{ElementGeometry, End, FeedElement, FeedId, Line, LineGeometry, PartId, RowFeed};
use crate::quantities::{Angle, Measure, Pressure};

/// Symbols inside row feeds appear from this scale on, picture units per metre.
const FEED_SYMBOLS_FROM: f64 = 230.0;

impl SceneMaker<'_> {
    /// As drawn on the bar at work; folded, bent at its hinges.
    fn path(&self, drawn: DrawnLine, laid: &LineGeometry) -> Vec<Point2> {
        match self.ways.way(drawn) {
            Some(places) => places.iter().map(|place| self.options.seen.flat(*place)).collect(),
            None => laid.path.iter().map(|point| self.riding(*point)).collect(),
        }
    }

    /// The drawn way of a hose or tube, bent no tighter than its stock allows where the way leaves room.
    fn bent(&self, line: &Line, path: &[Point2]) -> Vec<Point2> {
        let radius = self.project.catalogue.stock(&line.stock).map_or(0.05, |stock| stock.bend_radius.si());
        rounded(path, radius)
    }

    pub(super) fn runs(&mut self) {
        let catalogue = &self.project.catalogue;
        let joined =
            self.routing.runs.iter().flat_map(|run| [run.from, run.to]).any(|end| end == End::Supply);
        if !joined {
            // On a bar without any plumbing, as in the form of a bar, nothing is missing yet.
            let bare = self.routing.parts.is_empty() && self.routing.runs.is_empty();
            let words = if bare { "pump" } else { "pump, no hose yet" };
            let ink = if bare { Ink::Hose } else { Ink::NotFed };
            self.pump(self.options.seen.flat(self.project.supply.pump), None, ink, [words, "pump"]);
        }
        for run in &self.routing.routing.runs {
            let Some(laid) = self.routing.geometry.run(run.id) else { continue };
            let subject = Subject::Run(run.id);
            let points = self.bent(&run.line, &self.path((subject, 0), laid));
            let stock = catalogue.stock(&run.line.stock);
            let outside = stock.map_or(0.02, |stock| stock.outside.si());
            let bore_mm = stock.map_or(15.0, |stock| stock.bore.as_millimetres());
            // Kept apart by bore even where true widths would all be hairlines.
            let width = Width { metres: outside, least: 0.8 + 0.65 * bore_mm.max(0.0).sqrt() };
            let found = self.numbers.and_then(|outcome| outcome.run(run.id));
            let still = found.is_some_and(|found| found.flow.is_none_or(|flow| flow.abs().si() < 1e-12));
            let ink = if still { Ink::HoseStill } else { Ink::Hose };
            let label = label_place(&points);
            let pressures = found.and_then(|found| Some((found.pressure_from?, found.pressure_to?)));
            let shaded = self.scale.zip(pressures).filter(|_| !still);
            if let Some((scale, (from, to))) = shaded {
                for (class, piece) in shades(&points, from, to, &scale) {
                    if let Some(item) =
                        self.line(Layer::Runs, piece, width, Dash::Solid, Ink::Pressure(class))
                    {
                        item.subject = Some(subject);
                    }
                }
            } else if let Some(item) = self.line(Layer::Runs, points, width, Dash::Solid, ink) {
                item.subject = Some(subject);
            }
            self.clamps(Layer::Runs, laid, outside, subject);
            let known = laid.known_length();
            let length = known.map_or_else(
                || "being computed".to_owned(),
                |length| Measure::Distance.text(length.si(), self.options.units),
            );
            if let Some((at, places)) = label {
                let text = SceneText {
                    at,
                    places,
                    clear_x: Reach::at_least(outside / 2.0, width.least / 2.0 + 3.0),
                    clear_y: Reach::at_least(outside / 2.0, width.least / 2.0 + 2.0),
                    wordings: match shaded {
                        Some((_, (from, to))) => {
                            let (from, to) = (from.si(), to.si());
                            let (units, measure) = (self.options.units, Measure::Pressure);
                            let ends =
                                format!("{} to {}", measure.number(from, units), measure.text(to, units));
                            vec![format!("{} · {ends}", run.tag), run.tag.clone()]
                        }
                        None => vec![format!("{} · {length}", run.tag), run.tag.clone()],
                    },
                    room: Some(laid.drawn.si()),
                    role: TextRole::Dimension,
                };
                let item = DrawItem::new(Layer::Dimensions, Shape::Text(text), Ink::SoftWords).of(subject);
                self.items.push(item);
            }
            for (end, at) in [(&run.from, laid.from()), (&run.to, laid.to())] {
                self.run_end(end, self.riding(at), subject);
            }
        }
    }

    /// Marks an end that is on no part: the pump, or loose.
    fn run_end(&mut self, end: &End, at: Point2, subject: Subject) {
        match end {
            End::Port(_) => {}
            End::Supply => self.pump(at, Some(subject), Ink::Hose, ["from the pump", "pump"]),
            End::Loose(_) => {
                let grow = Grow::evenly(at, Reach { half: 0.03, least: 4.5, most: 9.0 });
                let ring =
                    DrawItem::new(Layer::Runs, Shape::Circle { centre: at, radius: 0.03 }, Ink::NotFed);
                self.items.push(ring.filled(Fill::Paper).of(subject).growing(grow));
            }
        }
    }

    /// The pump's outlet; part of the hose that starts there, if one does.
    fn pump(&mut self, at: Point2, subject: Option<Subject>, ink: Ink, wordings: [&str; 2]) {
        // A filled triangle is a source of liquid under pressure (ISO 1219-1).
        let grow = Grow::evenly(at, Reach::at_least(0.1, 8.0));
        let corners = [(-0.08, 0.14), (0.08, 0.14), (0.0, 0.0)];
        let points = corners.iter().map(|(x, y)| Point2::new(at.x + x, at.y + y)).collect();
        let mut pump = DrawItem::new(Layer::Runs, Shape::Polygon { points }, ink).filled(Fill::Ink);
        pump.subject = subject;
        self.items.push(pump.growing(grow));
        let (clear_x, clear_y) = (Reach::at_least(0.08, 7.0), Reach::at_least(0.14, 11.0));
        // Over it where hoses leave to both sides.
        let places = vec![TextPlace::Right, TextPlace::Left, TextPlace::Above];
        let wordings = wordings.map(str::to_owned).to_vec();
        let text = SceneText { at, places, clear_x, clear_y, wordings, room: None, role: TextRole::Caption };
        self.items.push(DrawItem::new(Layer::Tags, Shape::Text(text), Ink::SoftWords));
    }

    pub(super) fn feeds(&mut self) {
        let found: BTreeMap<_, &RowOutcome> =
            self.numbers.iter().flat_map(|outcome| outcome.rows()).map(|row| (row.row, row)).collect();
        let mut harness = Harness::default();
        let lanes = self.lanes();
        for feed in &self.routing.routing.feeds {
            let Some(geometry) = self.routing.geometry.feed(feed.id) else { continue };
            let moves = |row| found.get(&row).is_none_or(|row| row.flow.si() > 1e-15);
            let any = feed.branches.iter().any(|branch| moves(branch.row));
            let lane = lanes.get(&feed.id).copied();
            let mut tubes = 0;
            self.stretch((feed, &mut tubes), &feed.trunk, &geometry.trunk, any, lane, &mut harness);
            for (branch, ends) in feed.branches.iter().zip(&geometry.branches) {
                let moves = moves(branch.row);
                self.stretch((feed, &mut tubes), &branch.elements, ends, moves, lane, &mut harness);
            }
            let subject = Subject::Feed(feed.id);
            if let Some(split) = &feed.split {
                let at = self.riding(split.position);
                let grow = Grow::evenly(at, Reach { half: 0.012, least: 2.6, most: 8.0 });
                let dot = DrawItem::new(Layer::Feeds, Shape::Circle { centre: at, radius: 0.012 }, Ink::Tube);
                self.items.push(dot.filled(Fill::Ink).of(subject).growing(grow));
            }
            if matches!(feed.from, End::Loose(_)) {
                let at = self.riding(geometry.start);
                let grow = Grow::evenly(at, Reach { half: 0.02, least: 3.5, most: 8.0 });
                let ring =
                    DrawItem::new(Layer::Feeds, Shape::Circle { centre: at, radius: 0.02 }, Ink::NotFed);
                self.items.push(ring.filled(Fill::Paper).of(subject).growing(grow));
            }
        }
        for (count, from, to) in harness.bundles() {
            // Wider the more tubes lie in it, but never as wide as a hose.
            let width = Width { metres: 0.0, least: 1.2 + 0.55 * f64::from(count - 1).min(5.0) };
            self.line(Layer::Feeds, vec![from, to], width, Dash::Solid, Ink::Tube);
        }
    }

    fn is_marked(&self, feed: &RowFeed) -> bool {
        let marked = &self.options.marked;
        let host = feed.from.port().map(|port| port.part);
        marked.contains(&Subject::Feed(feed.id))
            || host.is_some_and(|host| marked.contains(&Subject::Part(host)))
            || feed.branches.iter().any(|branch| marked.contains(&Subject::Row(branch.row)))
    }

    /// Which of the ways beside each other a marked feed takes, counted away from its manifold. The tube that goes
    /// farthest keeps nearest to it, so that tubes on one side cross as little as they can.
    fn lanes(&self) -> BTreeMap<FeedId, u32> {
        let mut groups: BTreeMap<(PartId, bool), Vec<(f64, FeedId)>> = BTreeMap::new();
        for feed in self.routing.feeds.iter().filter(|feed| self.is_marked(feed)) {
            let Some(port) = feed.from.port() else { continue };
            let Some(at) = self.routing.geometry.anchors.port(port) else { continue };
            let row = feed.branches.first().and_then(|branch| self.project.bar.row(branch.row));
            let Some(row) = row else { continue };
            let leftwards = row.x.si() < at.place.x;
            let order = if leftwards { at.place.x } else { -at.place.x };
            groups.entry((port.part, leftwards)).or_default().push((order, feed.id));
        }
        let mut lanes = BTreeMap::new();
        for mut group in groups.into_values() {
            group.sort_by(|a, b| a.0.total_cmp(&b.0));
            lanes.extend(group.into_iter().zip(0u32..).map(|((_, feed), lane)| (feed, lane)));
        }
        lanes
    }

    /// A stretch of a feed, and how many of its tubes were drawn before.
    fn stretch(
        &mut self,
        (feed, tubes): (&RowFeed, &mut usize),
        elements: &[FeedElement],
        laid: &[ElementGeometry],
        moves: bool,
        lane: Option<u32>,
        harness: &mut Harness,
    ) {
        let catalogue = &self.project.catalogue;
        let subject = Subject::Feed(feed.id);
        let ink = if moves { Ink::Tube } else { Ink::TubeStill };
        let dash = if moves { Dash::Solid } else { Dash::Dashed };
        // The last tube's way, backwards from its end, is where the elements behind it are shown.
        let mut behind: Vec<Point2> = Vec::new();
        let mut along = OUTLET_RADIUS + 0.03;
        let after =
            |index: usize| elements.iter().skip(index + 1).filter(|one| !matches!(one, FeedElement::Tube(_)));
        for (index, (element, laid)) in elements.iter().zip(laid).enumerate() {
            if let (FeedElement::Tube(tube), Some(laid)) = (element, &laid.tube) {
                let host = feed.from.port().map(|port| port.part);
                let mut path = self.path((subject, *tubes), laid);
                *tubes += 1;
                match lane {
                    Some(lane) => harness::shift(&mut path, f64::from(lane) * self.options.lane),
                    None if moves => harness.add(host, &path),
                    None => {}
                }
                let points = self.bent(&tube.line, &path);
                behind = points.iter().rev().copied().collect();
                along = OUTLET_RADIUS + 0.03 + 0.045 * (after(index).count().max(1) - 1) as f64;
                let outside = catalogue.stock(&tube.line.stock).map_or(0.006, |stock| stock.outside.si());
                let width = Width { metres: outside, least: 1.2 };
                if let Some(item) = self.line(Layer::Feeds, points, width, dash, ink) {
                    item.subject = Some(subject);
                }
                self.clamps(Layer::Feeds, laid, outside, subject);
                continue;
            }
            // From afar none of them is shown.
            if self.options.detail != Detail::Overview
                && let (Some(item), Some((at, turn))) =
                    (catalogue.any_item(element.entry()), along_way(&behind, along))
            {
                // The way runs backwards here, so the liquid comes the other way.
                let at = Point3::new(at.x, at.y, 0.0);
                let turn = Angle::from_si(turn + std::f64::consts::PI);
                let symbol = symbols::in_feed(item.item_kind(), at, turn, subject);
                self.items.extend(symbol.into_iter().map(|one| one.from_scale(FEED_SYMBOLS_FROM)));
            }
            along -= 0.045;
        }
    }
}

/// A way with its corners rounded: at each corner the radius, or less where a neighbouring piece is too short.
fn rounded(points: &[Point2], radius: f64) -> Vec<Point2> {
    let Some((first, last)) = points.first().zip(points.last()) else { return Vec::new() };
    let mut way = vec![*first];
    for corner in points.windows(3) {
        let [before, at, after] = [corner[0], corner[1], corner[2]];
        let (back, on) = (at.distance(before), at.distance(after));
        if back < 1e-9 || on < 1e-9 {
            way.push(at);
            continue;
        }
        let unit = |to: Point2, size: f64| Point2::new((to.x - at.x) / size, (to.y - at.y) / size);
        let (u, v) = (unit(before, back), unit(after, on));
        let half = (u.x * v.x + u.y * v.y).clamp(-1.0, 1.0).acos() / 2.0;
        // From the corner to where the arc touches: r / tan(half the angle between the pieces).
        let touch = (radius / half.tan().max(1e-6)).min(back * 0.5).min(on * 0.5);
        if !touch.is_finite() || half > 1.54 {
            way.push(at);
            continue;
        }
        let start = Point2::new(at.x + u.x * touch, at.y + u.y * touch);
        let end = Point2::new(at.x + v.x * touch, at.y + v.y * touch);
        for step in 0..=5 {
            let t = f64::from(step) / 5.0;
            let (a, b, c) = ((1.0 - t) * (1.0 - t), 2.0 * t * (1.0 - t), t * t);
            way.push(Point2::new(a * start.x + b * at.x + c * end.x, a * start.y + b * at.y + c * end.y));
        }
    }
    way.push(*last);
    way.dedup_by(|a, b| a.distance(*b) < 1e-9);
    way
}

/// A way in pieces of one class each, with the pressure taken to change evenly along it: friction does so along one
/// bore, and what fittings at the ends take is spread over it.
fn shades(
    points: &[Point2],
    from: Pressure,
    to: Pressure,
    scale: &PressureScale,
) -> Vec<(PressureClass, Vec<Point2>)> {
    let total: f64 = points.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    let fall = to.si() - from.si();
    let mut cuts: Vec<f64> = Vec::new();
    if fall != 0.0 && total > 0.0 {
        cuts.extend(scale.edges().into_iter().map(|edge| (edge.si() - from.si()) / fall));
        cuts.retain(|share| *share > 1e-6 && *share < 1.0 - 1e-6);
        cuts.sort_by(f64::total_cmp);
    }
    cuts.push(1.0);
    let class =
        |start: f64, end: f64| scale.class(Pressure::from_si(from.si() + fall * f64::midpoint(start, end)));
    let mut pieces = Vec::new();
    let mut cuts = cuts.into_iter().peekable();
    let (mut start, mut done) = (0.0, 0.0);
    let mut piece: Vec<Point2> = points.first().copied().into_iter().collect();
    for pair in points.windows(2) {
        let size = pair[0].distance(pair[1]);
        while let Some(cut) = cuts.peek().copied().filter(|cut| *cut < 1.0 && *cut * total < done + size) {
            let t = if size > 0.0 { (cut * total - done) / size } else { 0.0 };
            let at = pair[0].towards(pair[1], t);
            piece.push(at);
            pieces.push((class(start, cut), std::mem::replace(&mut piece, vec![at])));
            start = cut;
            cuts.next();
        }
        piece.push(pair[1]);
        done += size;
    }
    pieces.push((class(start, 1.0), piece));
    pieces
}

/// The point a distance along a way and the direction there, radians; none where the way is shorter.
fn along_way(points: &[Point2], distance: f64) -> Option<(Point2, f64)> {
    let mut left = distance;
    for pair in points.windows(2) {
        let size = pair[0].distance(pair[1]);
        if left <= size && size > 0.0 {
            let t = left / size;
            let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
            return Some((Point2::new(pair[0].x + dx * t, pair[0].y + dy * t), dy.atan2(dx)));
        }
        left -= size;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_are_rounded_within_the_way() {
        let corner = [Point2::new(0.0, 0.0), Point2::new(1.0, 0.0), Point2::new(1.0, 1.0)];
        let way = rounded(&corner, 0.1);
        assert_eq!(way.first(), Some(&corner[0]));
        assert_eq!(way.last(), Some(&corner[2]));
        assert!(way.iter().all(|point| point.distance(corner[1]) > 0.03));
        assert!(way.iter().any(|point| point.distance(Point2::new(0.9, 0.0)) < 1e-9));
        // Back on itself, straight on, and twice the same point.
        for odd in [[0.0, 1.0, 0.5], [0.0, 1.0, 2.0], [0.0, 0.0, 1.0]] {
            let points = odd.map(|x| Point2::new(x, 0.0));
            assert!(rounded(&points, 0.1).iter().all(|point| point.x.is_finite() && point.y == 0.0));
        }
    }
}
