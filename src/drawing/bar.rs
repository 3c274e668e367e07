//! The bar to scale, seen from above, with its plumbing and what flows in it.

use std::collections::{BTreeMap, BTreeSet};

use super::Subject;
use super::deviation::{DeviationClass, signed_percent};
use super::scene::{Dash, DrawItem, Fill, Grow, Ink, Layer, Place, Reach, Role, Scene, Shape, Text, Width};
use super::symbols;
use crate::geometry::{Bounds, Point2, Point3, polyline_length};
use crate::hydraulics::outcome::{Outcome, RowOutcome};
use crate::plan::{End, FeedElement, Item, Line, Part, Project, Routing, Row, RowFeed, Section, SectionId};
use crate::quantities::{Angle, Measure, UnitSystem};

/// What to draw and how.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SceneOptions {
    /// Units of numbers.
    pub units: UnitSystem,
    /// Layers left away.
    pub hidden: BTreeSet<Layer>,
    /// How far the bar is folded: 0 working position, 1 transport position.
    pub fold: f64,
}

/// How far a section's ground reaches beyond what stands on it, metres.
const PANEL_MARGIN: f64 = 0.18;
/// Room for words in front of and behind the bar when all is shown, metres.
const CAPTION_ROOM: f64 = 0.3;
/// Symbols inside row feeds appear from this scale on, picture units per metre.
const FEED_SYMBOLS_FROM: f64 = 230.0;
/// Radius of an outlet, metres.
const OUTLET_RADIUS: f64 = 0.055;

/// The display list of a bar and one routing of it. Without an outcome, or with one that has no numbers, nothing
/// is coloured and no number is shown.
pub fn bar_scene(
    project: &Project,
    routing: &Routing,
    outcome: Option<&Outcome>,
    options: &SceneOptions,
) -> Scene {
    let mut drawing = Drawing {
        project,
        routing,
        outcome,
        numbers: outcome.filter(|outcome| outcome.status.has_numbers()),
        options,
        items: Vec::new(),
    };
    let ground = drawing.ground();
    drawing.sections(ground);
    drawing.travel(ground);
    drawing.runs();
    drawing.feeds();
    drawing.parts();
    drawing.outlets();
    let mut items = drawing.items;
    items.retain(|item| !options.hidden.contains(&item.layer));
    items.sort_by_key(|item| item.layer);
    let extent = (!ground.is_empty()).then(|| {
        let mut extent = ground.grown(0.1);
        extent.add(Point2::new(ground.min.x, ground.max.y + CAPTION_ROOM));
        extent.add(Point2::new(ground.min.x, ground.min.y - CAPTION_ROOM));
        // The travel arrow stands at the left; as much on the right keeps the bar in the middle.
        extent.add(Point2::new(ground.min.x - 0.6, ground.min.y));
        extent.add(Point2::new(ground.max.x + 0.6, ground.min.y));
        extent
    });
    Scene { items, extent }
}

struct Drawing<'a> {
    project: &'a Project,
    routing: &'a Routing,
    outcome: Option<&'a Outcome>,
    numbers: Option<&'a Outcome>,
    options: &'a SceneOptions,
    items: Vec<DrawItem>,
}

impl Drawing<'_> {
    /// Where a point that rides on a section is drawn.
    fn on(&self, section: SectionId, point: Point3) -> Point2 {
        self.project.bar.folded(section, point, self.options.fold).flat()
    }

    /// Where a point is drawn that rides on whatever section it is over.
    fn over(&self, point: Point3) -> Point3 {
        let bar = &self.project.bar;
        match bar.section_at(point.x).filter(|_| self.options.fold != 0.0) {
            Some(section) => bar.folded(section.id, point, self.options.fold),
            None => point,
        }
    }

    fn line(
        &mut self,
        layer: Layer,
        points: Vec<Point2>,
        width: Width,
        dash: Dash,
        ink: Ink,
    ) -> Option<&mut DrawItem> {
        if points.len() < 2 {
            return None;
        }
        self.items.push(DrawItem::new(layer, Shape::Line { points, width, dash }, ink));
        self.items.last_mut()
    }

    fn caption(
        &mut self,
        layer: Layer,
        role: Role,
        at: Point2,
        place: Place,
        wordings: Vec<String>,
        room: Option<f64>,
    ) {
        let none = Reach::true_to_scale(0.0);
        let ink = if role == Role::Section { Ink::Words } else { Ink::SoftWords };
        let text = Text { at, places: vec![place], clear_x: none, clear_y: none, wordings, room, role };
        self.items.push(DrawItem::new(layer, Shape::Text(text), ink));
    }

    /// The box of the bar and of the parts on it.
    fn ground(&self) -> Bounds {
        let bar = &self.project.bar;
        let mut all = Bounds::EMPTY;
        let mut add = |section: SectionId, point: Point3| all.add(self.on(section, point));
        for section in &bar.sections {
            for member in &section.members {
                add(section.id, member.from);
                add(section.id, member.to);
            }
        }
        for row in &bar.rows {
            add(row.section, bar.outlet(row));
        }
        for part in &self.routing.parts {
            add(part.section, self.routing.placement(part, &self.project.catalogue).0);
        }
        if all.is_empty() { all } else { all.grown(PANEL_MARGIN) }
    }

    fn sections(&mut self, ground: Bounds) {
        let bar = &self.project.bar;
        // Folded sections turn away from the upright panels, so only the frame itself is drawn then.
        let working = self.options.fold == 0.0;
        for section in &bar.sections {
            if working && !ground.is_empty() {
                self.panel(section, ground);
            }
            for member in &section.members {
                let points = vec![self.on(section.id, member.from), self.on(section.id, member.to)];
                let width = Width { metres: member.width.si(), least: 2.0 };
                self.line(Layer::Frame, points, width, Dash::Solid, Ink::FrameRail);
            }
            if let Some(hinge) = section.hinge {
                let at = self.on(hinge.parent, hinge.point);
                let points = if working && !ground.is_empty() {
                    vec![Point2::new(at.x, ground.min.y - 0.08), Point2::new(at.x, ground.max.y + 0.08)]
                } else {
                    let reach = hinge.axis * (0.5 / hinge.axis.distance(Point3::default()).max(1e-9));
                    vec![
                        self.on(hinge.parent, hinge.point - reach),
                        self.on(hinge.parent, hinge.point + reach),
                    ]
                };
                self.line(Layer::Hinge, points, Width::HAIRLINE, Dash::LongDashDot, Ink::HingeLine);
                // An upright axis is a pin, seen from above.
                if hinge.axis.z.abs() > hinge.axis.x.hypot(hinge.axis.y) {
                    let pin = Shape::Circle { centre: at, radius: 0.04 };
                    let grow = Grow::evenly(at, Reach::at_least(0.04, 3.0));
                    let pin =
                        DrawItem::new(Layer::Hinge, pin, Ink::HingeLine).filled(Fill::Paper).growing(grow);
                    self.items.push(pin);
                }
            }
        }
    }

    fn panel(&mut self, section: &Section, ground: Bounds) {
        let gap = 0.03;
        let (left, right) = (section.left.si() + gap, section.right.si() - gap);
        if right <= left {
            return;
        }
        let points = symbols::panel(left, right, ground.min.y, ground.max.y, 0.07);
        let panel =
            DrawItem::new(Layer::Frame, Shape::Polygon { points }, Ink::SectionPanel).filled(Fill::Ink);
        self.items.push(panel);
        let middle = f64::midpoint(left, right);
        let names = broken(&section.name);
        let front = Point2::new(middle, ground.max.y + 0.02);
        self.caption(Layer::Frame, Role::Section, front, Place::Above, names, Some(section.width().si()));
        let rows = self.project.bar.rows.iter().filter(|row| row.section == section.id).count();
        let rows = if rows == 1 { "1 row".to_owned() } else { format!("{rows} rows") };
        let width = Measure::Distance.short_text(section.width().si(), self.options.units);
        let says = vec![format!("{rows} · {width}"), format!("{rows}\n{width}"), rows];
        let back = Point2::new(middle, ground.min.y - 0.02);
        self.caption(Layer::Frame, Role::Caption, back, Place::Below, says, Some(section.width().si()));
    }

    /// An arrow forward, at the left front of the bar.
    fn travel(&mut self, ground: Bounds) {
        if ground.is_empty() {
            return;
        }
        let (x, foot) = (ground.min.x - 0.3, ground.max.y - 0.42);
        let tip = foot + 0.36;
        let about = Point2::new(x, foot);
        let grow = Grow::evenly(about, Reach { half: 0.36, least: 22.0, most: 44.0 });
        let width = Width { metres: 0.0, least: 1.6 };
        for points in [
            vec![about, Point2::new(x, tip)],
            vec![Point2::new(x - 0.1, tip - 0.12), Point2::new(x, tip), Point2::new(x + 0.1, tip - 0.12)],
        ] {
            if let Some(item) = self.line(Layer::Frame, points, width, Dash::Solid, Ink::Travel) {
                item.grow = Some(grow);
            }
        }
        self.caption(Layer::Frame, Role::Caption, about, Place::Below, vec!["travel".to_owned()], None);
    }

    /// The drawn way of a hose or tube, bent no tighter than its stock allows where the way leaves room.
    fn way(&self, line: &Line, from: Point3, to: Point3) -> Vec<Point2> {
        let radius = self.project.catalogue.stock(&line.stock).map_or(0.05, |stock| stock.bend_radius.si());
        let points: Vec<Point2> =
            line.path(from, to).into_iter().map(|point| self.over(point).flat()).collect();
        rounded(&points, radius)
    }

    fn runs(&mut self) {
        let (catalogue, supply) = (&self.project.catalogue, &self.project.supply);
        for run in &self.routing.runs {
            let ends = [&run.from, &run.to].map(|end| self.routing.end_position(end, catalogue, supply));
            let [Some(from), Some(to)] = ends else { continue };
            let subject = Subject::Run(run.id);
            let points = self.way(&run.line, from, to);
            let stock = catalogue.stock(&run.line.stock);
            let outside = stock.map_or(0.02, |stock| stock.outside.si());
            let bore_mm = stock.map_or(15.0, |stock| stock.bore.as_millimetres());
            // Kept apart by bore even where true widths would all be hairlines.
            let width = Width { metres: outside, least: 0.8 + 0.65 * bore_mm.max(0.0).sqrt() };
            let found = self.numbers.and_then(|outcome| outcome.run(run.id));
            let still = found.is_some_and(|found| found.flow.is_none_or(|flow| flow.abs().si() < 1e-12));
            let ink = if still { Ink::HoseStill } else { Ink::Hose };
            let label = label_place(&points);
            if let Some(item) = self.line(Layer::Runs, points, width, Dash::Solid, ink) {
                item.subject = Some(subject);
            }
            let length = Measure::Distance.text(run.line.length(from, to).si(), self.options.units);
            if let Some((at, places)) = label {
                let text = Text {
                    at,
                    places,
                    clear_x: Reach::at_least(outside / 2.0, width.least / 2.0 + 3.0),
                    clear_y: Reach::at_least(outside / 2.0, width.least / 2.0 + 2.0),
                    wordings: vec![format!("{} · {length}", run.tag), run.tag.clone()],
                    room: Some(polyline_length(&run.line.path(from, to))),
                    role: Role::Dimension,
                };
                let item = DrawItem::new(Layer::Dimensions, Shape::Text(text), Ink::SoftWords).of(subject);
                self.items.push(item);
            }
            for end in [(&run.from, from), (&run.to, to)] {
                self.run_end(end.0, self.over(end.1).flat(), subject);
            }
        }
    }

    /// Marks an end that is on no part: the pump, or loose.
    fn run_end(&mut self, end: &End, at: Point2, subject: Subject) {
        match end {
            End::Port(_) => {}
            End::Supply => {
                // A filled triangle is a source of liquid under pressure (ISO 1219-1).
                let grow = Grow::evenly(at, Reach::at_least(0.1, 8.0));
                let corners = [(-0.08, 0.14), (0.08, 0.14), (0.0, 0.0)];
                let points = corners.iter().map(|(x, y)| Point2::new(at.x + x, at.y + y)).collect();
                let pump = DrawItem::new(Layer::Runs, Shape::Polygon { points }, Ink::Hose).filled(Fill::Ink);
                self.items.push(pump.of(subject).growing(grow));
                let (clear_x, clear_y) = (Reach::at_least(0.08, 7.0), Reach::at_least(0.14, 11.0));
                let places = vec![Place::Right, Place::Left];
                let wordings = vec!["from the pump".to_owned(), "pump".to_owned()];
                let text = Text { at, places, clear_x, clear_y, wordings, room: None, role: Role::Caption };
                self.items.push(DrawItem::new(Layer::Tags, Shape::Text(text), Ink::SoftWords));
            }
            End::Loose(_) => {
                let grow = Grow::evenly(at, Reach { half: 0.03, least: 4.5, most: 9.0 });
                let ring =
                    DrawItem::new(Layer::Runs, Shape::Circle { centre: at, radius: 0.03 }, Ink::NotFed);
                self.items.push(ring.filled(Fill::Paper).of(subject).growing(grow));
            }
        }
    }

    fn feeds(&mut self) {
        let project = self.project;
        let found: BTreeMap<_, &RowOutcome> =
            self.numbers.iter().flat_map(|outcome| &outcome.rows).map(|row| (row.row, row)).collect();
        for feed in &self.routing.feeds {
            let geometry =
                self.routing.feed_geometry(feed, &project.bar, &project.catalogue, &project.supply);
            let Some(geometry) = geometry else { continue };
            let moves =
                |row| found.get(&row).is_none_or(|row| row.flow.is_some_and(|flow| flow.si() > 1e-15));
            let any = feed.branches.iter().any(|branch| moves(branch.row));
            self.stretch(feed, &feed.trunk, &geometry.trunk, any);
            for (branch, ends) in feed.branches.iter().zip(&geometry.branches) {
                self.stretch(feed, &branch.elements, ends, moves(branch.row));
            }
            let subject = Subject::Feed(feed.id);
            if let Some(split) = &feed.split {
                let at = self.over(split.position).flat();
                let grow = Grow::evenly(at, Reach { half: 0.012, least: 2.6, most: 8.0 });
                let dot = DrawItem::new(Layer::Feeds, Shape::Circle { centre: at, radius: 0.012 }, Ink::Tube);
                self.items.push(dot.filled(Fill::Ink).of(subject).growing(grow));
            }
            if let End::Loose(at) = feed.from {
                let at = self.over(at).flat();
                let grow = Grow::evenly(at, Reach { half: 0.02, least: 3.5, most: 8.0 });
                let ring =
                    DrawItem::new(Layer::Feeds, Shape::Circle { centre: at, radius: 0.02 }, Ink::NotFed);
                self.items.push(ring.filled(Fill::Paper).of(subject).growing(grow));
            }
        }
    }

    fn stretch(&mut self, feed: &RowFeed, elements: &[FeedElement], ends: &[(Point3, Point3)], moves: bool) {
        let catalogue = &self.project.catalogue;
        let subject = Subject::Feed(feed.id);
        let ink = if moves { Ink::Tube } else { Ink::TubeStill };
        let dash = if moves { Dash::Solid } else { Dash::Dashed };
        // The last tube's way, backwards from its end, is where the elements behind it are shown.
        let mut behind: Vec<Point2> = Vec::new();
        let mut along = OUTLET_RADIUS + 0.03;
        let after =
            |index: usize| elements.iter().skip(index + 1).filter(|one| !matches!(one, FeedElement::Tube(_)));
        for (index, (element, (from, to))) in elements.iter().zip(ends).enumerate() {
            if let FeedElement::Tube(tube) = element {
                let points = self.way(&tube.line, *from, *to);
                behind = points.iter().rev().copied().collect();
                along = OUTLET_RADIUS + 0.03 + 0.045 * (after(index).count().max(1) - 1) as f64;
                let outside = catalogue.stock(&tube.line.stock).map_or(0.006, |stock| stock.outside.si());
                let width = Width { metres: outside, least: 1.2 };
                if let Some(item) = self.line(Layer::Feeds, points, width, dash, ink) {
                    item.subject = Some(subject);
                }
                continue;
            }
            if let (Some(item), Some((at, turn))) =
                (catalogue.item(element.entry()), along_way(&behind, along))
            {
                // The way runs backwards here, so the liquid comes the other way.
                let at = Point3::new(at.x, at.y, 0.0);
                let turn = Angle::from_si(turn + std::f64::consts::PI);
                let symbol = symbols::in_feed(item, at, turn, subject);
                self.items.extend(symbol.into_iter().map(|one| one.from_scale(FEED_SYMBOLS_FROM)));
            }
            along -= 0.045;
        }
    }

    fn parts(&mut self) {
        for part in &self.routing.parts {
            self.part(part);
        }
    }

    fn part(&mut self, part: &Part) {
        let catalogue = &self.project.catalogue;
        let subject = Subject::Part(part.id);
        let (position, turn) = self.routing.placement(part, catalogue);
        let at = self.project.bar.folded(part.section, position, self.options.fold);
        let Some(item) = catalogue.item(&part.entry) else {
            let shape = Shape::Circle { centre: at.flat(), radius: 0.05 };
            let grow = Grow::evenly(at.flat(), Reach::at_least(0.05, 6.0));
            self.items.push(DrawItem::new(Layer::Parts, shape, Ink::NotFed).of(subject).growing(grow));
            return;
        };
        if let Some(stem) = part.mount.and_then(|mount| self.routing.port_position(mount, catalogue)) {
            let points = vec![self.over(stem).flat(), at.flat()];
            let width = Width { metres: 0.012, least: 1.6 };
            if let Some(item) = self.line(Layer::Parts, points, width, Dash::Solid, Ink::Part) {
                item.subject = Some(subject);
            }
        }
        self.items.extend(symbols::part(item, at, turn, part.shut, subject));
        let (along, across) = symbols::reach(item);
        // A part turned by a quarter is as deep as it was long.
        let upright = turn.si().cos().abs() < std::f64::consts::FRAC_1_SQRT_2;
        let (clear_x, clear_y) = if upright { (across, along) } else { (along, across) };
        let mut wordings = vec![part.tag.clone()];
        let mut places = vec![Place::Right, Place::Left, Place::Above, Place::Below];
        match item {
            Item::Manifold { .. } if upright => {}
            Item::Manifold { .. } => places = vec![Place::Inside, Place::Left, Place::Right, Place::Above],
            Item::Gauge { .. } => {
                let pressure = self.numbers.and_then(|outcome| outcome.part(part.id)?.pressure);
                if let Some(pressure) = pressure {
                    let reads = Measure::Pressure.text(pressure.si(), self.options.units);
                    wordings.insert(0, format!("{} · {reads}", part.tag));
                }
                places = vec![Place::Right, Place::Left, Place::Above];
            }
            Item::Tee { .. } => places = vec![Place::Above, Place::Right, Place::Left, Place::Below],
            // A plug says nothing by its tag until there is room for it.
            Item::BlankingPlug { .. } => places = vec![Place::Below, Place::Right, Place::Left],
            Item::SectionValve { .. } => {
                if part.shut {
                    wordings.insert(0, format!("{} shut", part.tag));
                }
                places = vec![Place::Above, Place::Below, Place::Right, Place::Left];
            }
            _ => {}
        }
        let text = Text { at: at.flat(), places, clear_x, clear_y, wordings, room: None, role: Role::Tag };
        let from_scale = if matches!(item, Item::BlankingPlug { .. }) { 120.0 } else { 0.0 };
        let tag =
            DrawItem::new(Layer::Tags, Shape::Text(text), Ink::Words).of(subject).from_scale(from_scale);
        self.items.push(tag);
    }

    fn outlets(&mut self) {
        let bar = &self.project.bar;
        let nearest =
            nearest_neighbour(&bar.rows.iter().map(|row| bar.outlet(row).flat()).collect::<Vec<_>>());
        let found: BTreeMap<_, &RowOutcome> =
            self.outcome.iter().flat_map(|outcome| &outcome.rows).map(|row| (row.row, row)).collect();
        for row in &bar.rows {
            self.outlet(row, found.get(&row.id).copied(), nearest);
        }
    }

    fn outlet(&mut self, row: &Row, found: Option<&RowOutcome>, nearest: f64) {
        let subject = Subject::Row(row.id);
        let at = self.on(row.section, self.project.bar.outlet(row));
        let class = match found {
            Some(found) => DeviationClass::of_row(found, &self.project.limits),
            None if row.left_out => DeviationClass::LeftOut,
            None => DeviationClass::Unknown,
        };
        let radius = OUTLET_RADIUS.min(0.45 * nearest);
        let reach = Reach { half: radius, least: 5.5, most: 13.0 };
        let grow = Grow::evenly(at, reach);
        let mut push = |shape: Shape, ink: Ink, fill: Fill| {
            self.items.push(DrawItem::new(Layer::Outlets, shape, ink).filled(fill).of(subject).growing(grow));
        };
        let piece = |from: (f64, f64), to: (f64, f64), least: f64| Shape::Line {
            points: [from, to].map(|(x, y)| Point2::new(at.x + x * radius, at.y + y * radius)).to_vec(),
            width: Width { metres: 0.0, least },
            dash: Dash::Solid,
        };
        let ring = Shape::Circle { centre: at, radius };
        match class {
            DeviationClass::LeftOut => {
                push(piece((-0.5, -0.5), (0.5, 0.5), 1.3), Ink::LeftOut, Fill::None);
                push(piece((-0.5, 0.5), (0.5, -0.5), 1.3), Ink::LeftOut, Fill::None);
            }
            DeviationClass::NotFed => {
                push(ring, Ink::NotFed, Fill::Paper);
                push(piece((-0.71, -0.71), (0.71, 0.71), 1.6), Ink::NotFed, Fill::None);
            }
            DeviationClass::Unknown => push(ring, Ink::LeftOut, Fill::Paper),
            fed => {
                push(ring, Ink::Outlet, Fill::Deviation(fed));
                // The sign is said without colour too, and heavier beyond the limit.
                let weight = if fed.is_far() { 2.4 } else { 1.3 };
                if fed.sign() != 0 {
                    push(piece((-0.5, 0.0), (0.5, 0.0), weight), Ink::OnDeviation(fed), Fill::None);
                }
                if fed.sign() > 0 {
                    push(piece((0.0, -0.5), (0.0, 0.5), weight), Ink::OnDeviation(fed), Fill::None);
                }
            }
        }
        let value = self.numbers.and(found).and_then(|found| found.deviation);
        let value = value.filter(|_| !matches!(class, DeviationClass::NotFed | DeviationClass::LeftOut));
        let words = match (value, class) {
            (Some(value), _) => vec![format!("{} %", signed_percent(value)), signed_percent(value)],
            (None, DeviationClass::NotFed) => vec!["not fed".to_owned()],
            _ => return,
        };
        // Further in, the number of the row stands beside its value.
        let mut wordings = vec![format!("row {}\n{}", row.number, words[0])];
        wordings.extend(words);
        let places = vec![Place::Below, Place::Right, Place::Left];
        let text = Text {
            at,
            places,
            clear_x: reach,
            clear_y: reach,
            wordings,
            room: (class != DeviationClass::NotFed).then(|| self.project.bar.row_spacing.si() * 1.15),
            role: Role::Value,
        };
        self.items.push(DrawItem::new(Layer::Values, Shape::Text(text), Ink::Words).of(subject));
    }
}

/// A name in one line and, if it has several words, in two.
fn broken(name: &str) -> Vec<String> {
    let mut wordings = vec![name.to_owned()];
    if let Some((first, last)) = name.rsplit_once(' ') {
        wordings.push(format!("{first}\n{last}"));
    }
    wordings
}

/// The middle of the longest straight piece and on which sides of it words stand well.
fn label_place(points: &[Point2]) -> Option<(Point2, Vec<Place>)> {
    let length = |pair: &&[Point2]| pair[0].distance(pair[1]);
    let pair = points.windows(2).max_by(|a, b| length(a).total_cmp(&length(b)))?;
    let at = Point2::new(f64::midpoint(pair[0].x, pair[1].x), f64::midpoint(pair[0].y, pair[1].y));
    let level = (pair[1].x - pair[0].x).abs() >= (pair[1].y - pair[0].y).abs();
    Some((at, if level { vec![Place::Above, Place::Below] } else { vec![Place::Right, Place::Left] }))
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

/// The smallest distance between any two of some points, metres; 1 m for fewer than two.
fn nearest_neighbour(points: &[Point2]) -> f64 {
    let pairs =
        points.iter().enumerate().flat_map(|(index, a)| points[index + 1..].iter().map(|b| a.distance(*b)));
    pairs.filter(|away| *away > 1e-6).min_by(f64::total_cmp).unwrap_or(1.0)
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
