//! The bar to scale, seen from above, with its plumbing and what flows in it.

use crate::plan::Manifold;
use std::collections::{BTreeMap, BTreeSet};

use super::Subject;
use super::deviation::{BACKWARD_ARROW, DeviationClass, signed_percent};
use super::harness::{self, Harness};
use super::pressure::{self, PressureClass, PressureScale, rows_ahead_of_metering};
use super::scene::{Dash, DrawItem, Fill, Grow, Ink, Layer, Place, Reach, Role, Scene, Shape, Text, Width};
use super::symbols;
use crate::geometry::{Bounds, Point2, Point3};
use crate::hydraulics::outcome::{Outcome, RowOutcome, RowState};
use crate::plan::kinds::Reading;
use crate::plan::kinds::symbol::{Beside, TagFrom};
use crate::plan::part::place_offset;
use crate::plan::{
    BarPoint, ElementGeometry, End, FeedElement, FeedId, LaidRouting, Line, LineGeometry, Part, PartId,
    PartItem, PlacedPart, Port, Project, Row, RowFeed, RowId, Section, SectionId,
};
use crate::quantities::{Angle, Measure, Pressure, Ratio, UnitSystem};

/// What to draw and how.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SceneOptions {
    /// Units of numbers.
    pub units: UnitSystem,
    /// Layers left away.
    pub hidden: BTreeSet<Layer>,
    /// How far the bar is folded: 0 working position, 1 transport position.
    pub fold: f64,
    /// What colours stand for.
    pub colouring: Colouring,
    /// How much is shown.
    pub detail: Detail,
    /// What is selected or pointed at: its row feeds are drawn apart, its outlets are numbered.
    pub marked: BTreeSet<Subject>,
    /// How far apart row feeds that share a way are then drawn, metres.
    pub lane: f64,
}

/// What colours stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Colouring {
    /// How far each row is from its target.
    #[default]
    Deviation,
    /// Gauge pressure of hoses, manifolds and rows.
    Pressure,
}

/// How much is shown, by how large it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Detail {
    /// From afar: smaller symbols.
    Overview,
    /// At reading size, and on papers.
    #[default]
    Normal,
    /// So near that a manifold's outlets have room for their numbers.
    Close,
}

impl Detail {
    /// At a scale, screen points per metre.
    pub const fn at(scale: f64) -> Self {
        if scale < OVERVIEW_BELOW {
            Self::Overview
        } else if scale < 260.0 {
            Self::Normal
        } else {
            Self::Close
        }
    }
}

/// How far a section's ground reaches beyond what stands on it, metres.
const PANEL_MARGIN: f64 = 0.18;
/// Room for words in front of and behind the bar when all is shown, metres.
pub const CAPTION_ROOM: f64 = 0.3;
/// Symbols inside row feeds appear from this scale on, picture units per metre.
const FEED_SYMBOLS_FROM: f64 = 230.0;
/// Radius of an outlet, metres.
const OUTLET_RADIUS: f64 = 0.055;
/// The scale below which the whole bar is seen from afar, screen points per metre.
const OVERVIEW_BELOW: f64 = 44.0;
/// Radius of an outlet's mark from afar, metres: it grows into its normal size as the picture does.
const OUTLET_MARK: f64 = 0.095;

/// The display list of a bar and one routing of it. Without an outcome, or with one that has no numbers, nothing
/// is coloured and no number is shown.
pub fn bar_scene(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    options: &SceneOptions,
) -> Scene {
    let mut drawing = Drawing {
        project,
        routing,
        outcome,
        numbers: outcome.filter(|outcome| outcome.result.is_ok()),
        scale: None,
        ahead: BTreeMap::new(),
        options,
        items: Vec::with_capacity(16 * project.bar.rows.len()),
    };
    if let Some(numbers) = drawing.numbers.filter(|_| options.colouring == Colouring::Pressure) {
        drawing.scale = PressureScale::of(project, routing, numbers);
        drawing.ahead = rows_ahead_of_metering(project, routing, numbers);
    }
    let ground = drawing.ground();
    drawing.sections(ground);
    drawing.travel(ground);
    drawing.runs();
    drawing.feeds();
    drawing.parts();
    drawing.outlets();
    let mut items = drawing.items;
    if !options.hidden.is_empty() {
        items.retain(|item| !options.hidden.contains(&item.layer));
    }
    // Items are large: the order is found first, and each is moved once.
    items.sort_by_cached_key(|item| item.layer);
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
    routing: LaidRouting<'a>,
    outcome: Option<&'a Outcome>,
    numbers: Option<&'a Outcome>,
    /// There when pressures are shown and known.
    scale: Option<PressureScale>,
    /// Gauge pressures ahead of the rows' metering, when pressures are shown.
    ahead: BTreeMap<RowId, Pressure>,
    options: &'a SceneOptions,
    items: Vec<DrawItem>,
}

impl Drawing<'_> {
    /// Where a point that rides on a section is drawn.
    fn on(&self, section: SectionId, point: Point3) -> Point2 {
        self.project.bar.folded(section, point, self.options.fold).flat()
    }

    /// Where a point of a hose or tube is drawn.
    fn riding(&self, point: BarPoint) -> Point2 {
        if self.options.fold == 0.0 { point.place.flat() } else { self.on(point.section, point.place) }
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
        for part in self.routing.geometry.anchors.parts() {
            add(part.section, part.at);
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
                if hinge.is_upright() {
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
        self.section_values(section, back);
    }

    /// What the rows of a section get, from the least to the most: a useful number where single rows have no room.
    fn section_values(&mut self, section: &Section, at: Point2) {
        if self.is_dry(section.id) {
            self.section_words(section, at, vec!["not fed".to_owned()]);
            return;
        }
        let Some(outcome) = self.numbers else { return };
        let fed = outcome.rows().iter().filter(|row| row.section == section.id && row.state == RowState::Fed);
        let mut values: Vec<f64> = match self.options.colouring {
            Colouring::Deviation => fed.filter_map(|row| row.deviation).map(|one| one.si()).collect(),
            Colouring::Pressure => {
                fed.filter_map(|row| self.ahead.get(&row.row)).map(|one| one.si()).collect()
            }
        };
        values.retain(|value| value.is_finite());
        values.sort_by(f64::total_cmp);
        let (Some(low), Some(high)) = (values.first(), values.last()) else { return };
        let units = self.options.units;
        let (low, high, symbol) = match self.options.colouring {
            Colouring::Deviation => {
                let percent = |value: f64| signed_percent(Ratio::from_si(value));
                (percent(*low), percent(*high), "%")
            }
            Colouring::Pressure => {
                let number = |value: f64| Measure::Pressure.number(value, units);
                (number(*low), number(*high), Measure::Pressure.unit(units).symbol)
            }
        };
        let wordings = if low == high {
            vec![format!("{low} {symbol}")]
        } else {
            vec![format!("{low} to {high} {symbol}"), format!("{low} to\n{high} {symbol}")]
        };
        self.section_words(section, at, wordings);
    }

    /// None of the rows of a section that are in use gets anything.
    fn is_dry(&self, section: SectionId) -> bool {
        let rows = self.outcome.iter().flat_map(|outcome| outcome.each_row());
        let mut used = rows
            .filter(|(row, _)| row.section == section)
            .map(|(row, found)| DeviationClass::of_row(row, found, &self.project.limits))
            .filter(|class| *class != DeviationClass::LeftOut)
            .peekable();
        used.peek().is_some() && used.all(|class| class == DeviationClass::NotFed)
    }

    /// Words behind a section, below its rows and width.
    fn section_words(&mut self, section: &Section, at: Point2, wordings: Vec<String>) {
        let clear = Reach { half: 0.0, least: 15.0, most: 15.0 };
        let text = Text {
            at,
            places: vec![Place::Below],
            clear_x: Reach::true_to_scale(0.0),
            clear_y: clear,
            wordings,
            room: Some(section.width().si()),
            role: Role::Caption,
        };
        self.items.push(DrawItem::new(Layer::Values, Shape::Text(text), Ink::Words));
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
    fn way(&self, line: &Line, laid: &LineGeometry) -> Vec<Point2> {
        self.bent(line, &self.path(laid))
    }

    fn path(&self, laid: &LineGeometry) -> Vec<Point2> {
        laid.path.iter().map(|point| self.riding(*point)).collect()
    }

    fn bent(&self, line: &Line, path: &[Point2]) -> Vec<Point2> {
        let radius = self.project.catalogue.stock(&line.stock).map_or(0.05, |stock| stock.bend_radius.si());
        rounded(path, radius)
    }

    fn runs(&mut self) {
        let catalogue = &self.project.catalogue;
        let joined =
            self.routing.runs.iter().flat_map(|run| [run.from, run.to]).any(|end| end == End::Supply);
        if !joined {
            // On a bar without any plumbing, as in the form of a bar, nothing is missing yet.
            let bare = self.routing.parts.is_empty() && self.routing.runs.is_empty();
            let words = if bare { "pump" } else { "pump, no hose yet" };
            let ink = if bare { Ink::Hose } else { Ink::NotFed };
            self.pump(self.project.supply.pump.flat(), None, ink, [words, "pump"]);
        }
        for run in &self.routing.routing.runs {
            let Some(laid) = self.routing.geometry.run(run.id) else { continue };
            let subject = Subject::Run(run.id);
            let points = self.way(&run.line, laid);
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
            let length = Measure::Distance.text(laid.length.si(), self.options.units);
            if let Some((at, places)) = label {
                let text = Text {
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
                    role: Role::Dimension,
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
        let places = vec![Place::Right, Place::Left];
        let wordings = wordings.map(str::to_owned).to_vec();
        let text = Text { at, places, clear_x, clear_y, wordings, room: None, role: Role::Caption };
        self.items.push(DrawItem::new(Layer::Tags, Shape::Text(text), Ink::SoftWords));
    }

    fn feeds(&mut self) {
        let found: BTreeMap<_, &RowOutcome> =
            self.numbers.iter().flat_map(|outcome| outcome.rows()).map(|row| (row.row, row)).collect();
        let mut harness = Harness::default();
        let lanes = self.lanes();
        for feed in &self.routing.routing.feeds {
            let Some(geometry) = self.routing.geometry.feed(feed.id) else { continue };
            let moves = |row| found.get(&row).is_none_or(|row| row.flow.si() > 1e-15);
            let any = feed.branches.iter().any(|branch| moves(branch.row));
            let lane = lanes.get(&feed.id).copied();
            self.stretch(feed, &feed.trunk, &geometry.trunk, any, lane, &mut harness);
            for (branch, ends) in feed.branches.iter().zip(&geometry.branches) {
                self.stretch(feed, &branch.elements, ends, moves(branch.row), lane, &mut harness);
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

    fn stretch(
        &mut self,
        feed: &RowFeed,
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
                let mut path = self.path(laid);
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

    fn parts(&mut self) {
        for part in &self.routing.routing.parts {
            self.part(part);
        }
    }

    fn part(&mut self, part: &Part) {
        let catalogue = &self.project.catalogue;
        let subject = Subject::Part(part.id);
        let anchors = &self.routing.geometry.anchors;
        let Some(&PlacedPart { at: position, turn, .. }) = anchors.part(part.id) else { return };
        let at = self.project.bar.folded(part.section, position, self.options.fold);
        let Some(item) = catalogue.item(&part.entry) else {
            let shape = Shape::Circle { centre: at.flat(), radius: 0.05 };
            let grow = Grow::evenly(at.flat(), Reach::at_least(0.05, 6.0));
            self.items.push(DrawItem::new(Layer::Parts, shape, Ink::NotFed).of(subject).growing(grow));
            return;
        };
        if let Some(stem) = part.mount.and_then(|mount| anchors.port(mount)) {
            let points = vec![self.riding(stem), at.flat()];
            let width = Width { metres: 0.012, least: 1.6 };
            if let Some(item) = self.line(Layer::Parts, points, width, Dash::Solid, Ink::Part) {
                item.subject = Some(subject);
            }
        }
        let mut symbol = symbols::part(item, at, turn, part.shut, subject, self.options.detail);
        let pressure = self.numbers.and_then(|outcome| outcome.part(part.id)?.pressure);
        let shade = self.scale.zip(pressure).map(|(scale, pressure)| scale.class(pressure));
        let shade = shade.filter(|_| pressure::is_filled(item));
        if let Some(class) = shade {
            for one in symbol.iter_mut().filter(|one| one.fill == Fill::Paper) {
                one.fill = Fill::Pressure(class);
            }
        }
        self.items.extend(symbol);
        if let PartItem::Manifold(Manifold { outlets, .. }) = item {
            self.outlet_numbers(part, item, *outlets, (position, turn), shade);
        }
        let (along, across) = symbols::reach(item, self.options.detail);
        // A part turned by a quarter is as deep as it was long.
        let upright = turn.si().cos().abs() < std::f64::consts::FRAC_1_SQRT_2;
        let (clear_x, clear_y) = if upright { (across, along) } else { (along, across) };
        let facts = item.facts();
        let mut wordings = vec![part.tag.clone()];
        let mut places: Vec<Place> = facts.tag.sides.iter().map(|side| place_beside(*side)).collect();
        let numbered = self.options.detail == Detail::Close || self.options.marked.contains(&subject);
        if item.is_for_rows() && !upright {
            // Where the body is not for the numbers of its outlets, the tag stands in it.
            places = vec![Place::Left, Place::Right, Place::Above];
            if numbered {
                places.push(Place::Below);
            } else {
                places.insert(0, Place::Inside);
            }
        }
        let flow = self.numbers.and_then(|outcome| outcome.part(part.id)?.flow);
        let reads = match facts.reading {
            Some(Reading::Pressure) => {
                pressure.map(|one| Measure::Pressure.text(one.si(), self.options.units))
            }
            Some(Reading::Flow) => flow.map(|one| Measure::TotalFlow.text(one.si(), self.options.units)),
            None => None,
        };
        if let Some(reads) = reads {
            wordings.insert(0, format!("{} · {reads}", part.tag));
        }
        if part.shut && facts.can_be_shut {
            wordings.insert(0, format!("{} shut", part.tag));
        }
        if let Some(pressure) = pressure.filter(|_| shade.is_some()) {
            let reads = Measure::Pressure.text(pressure.si(), self.options.units);
            wordings.insert(0, format!("{} · {reads}", part.tag));
        }
        let text = Text { at: at.flat(), places, clear_x, clear_y, wordings, room: None, role: Role::Tag };
        let ink = shade.map_or(Ink::Words, Ink::OnPressure);
        let from_scale = match facts.tag.from {
            TagFrom::Near => 120.0,
            TagFrom::Nearer => OVERVIEW_BELOW,
            TagFrom::Afar => 0.0,
        };
        let tag = DrawItem::new(Layer::Tags, Shape::Text(text), ink).of(subject).from_scale(from_scale);
        self.items.push(tag);
    }

    /// The numbers of a manifold's row outlets, in its body beside their taps, where they have room.
    fn outlet_numbers(
        &mut self,
        part: &Part,
        item: &PartItem,
        outlets: u16,
        (middle, turn): (Point3, Angle),
        shade: Option<PressureClass>,
    ) {
        let marked = self.options.marked.contains(&Subject::Part(part.id));
        if self.options.detail != Detail::Close && !marked {
            return;
        }
        let ink = shade.map_or(Ink::SoftWords, Ink::OnPressure);
        for number in 1..=outlets {
            let tap = item.port_offset(Port::Outlet(number));
            // Two digits stand in two lines by turns, or neighbours would touch long before single digits do.
            let deep = if number > 9 && number % 2 == 1 { -0.2 } else { 0.42 };
            let inside = Point2::new(tap.x, tap.y * deep);
            let at =
                self.project.bar.folded(part.section, place_offset(middle, turn, inside), self.options.fold);
            // Wider than a tap's share of the body: two digits may reach over, as long as they touch no others.
            let clear = Reach::true_to_scale(0.04);
            let text = Text {
                at: at.flat(),
                places: vec![Place::Inside],
                clear_x: clear,
                clear_y: clear,
                wordings: vec![number.to_string()],
                room: None,
                role: Role::OutletNumber,
            };
            let number = DrawItem::new(Layer::Tags, Shape::Text(text), ink).of(Subject::Part(part.id));
            self.items.push(number);
        }
    }

    fn outlets(&mut self) {
        let bar = &self.project.bar;
        let nearest =
            nearest_neighbour(&bar.rows.iter().map(|row| bar.outlet(row).flat()).collect::<Vec<_>>());
        let limits = &self.project.limits;
        let rows = self.outcome.iter().flat_map(|outcome| outcome.each_row());
        let found: BTreeMap<_, _> = rows.map(|(row, found)| (row.row, (row, found))).collect();
        for row in &bar.rows {
            match found.get(&row.id) {
                Some((connection, found)) => {
                    let class = DeviationClass::of_row(connection, *found, limits);
                    let deviation = found.and_then(|found| found.deviation);
                    self.outlet(row, class, deviation, connection.outlet, nearest);
                }
                None if row.left_out => self.outlet(row, DeviationClass::LeftOut, None, None, nearest),
                None => self.outlet(row, DeviationClass::Unknown, None, None, nearest),
            }
        }
    }

    fn outlet(
        &mut self,
        row: &Row,
        class: DeviationClass,
        deviation: Option<Ratio>,
        outlet: Option<(PartId, u16)>,
        nearest: f64,
    ) {
        let subject = Subject::Row(row.id);
        let at = self.on(row.section, self.project.bar.outlet(row));
        let radius = OUTLET_MARK.min(0.45 * nearest);
        let reach = Reach { half: radius, least: 4.2, most: 13.0 };
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
            DeviationClass::FlowsBackward => {
                push(ring, Ink::NotFed, Fill::Paper);
                // An arrow into the tube.
                for (from, to) in BACKWARD_ARROW {
                    push(piece(from, to, 1.6), Ink::NotFed, Fill::None);
                }
            }
            DeviationClass::Unknown => push(ring, Ink::LeftOut, Fill::Paper),
            _ if self.options.colouring == Colouring::Pressure => match (self.scale, self.ahead.get(&row.id))
            {
                (Some(scale), Some(pressure)) => {
                    push(ring, Ink::Outlet, Fill::Pressure(scale.class(*pressure)));
                }
                _ => push(ring, Ink::LeftOut, Fill::Paper),
            },
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
        let units = self.options.units;
        let no_value = !class.is_fed() && class != DeviationClass::Unknown;
        let value = match self.options.colouring {
            Colouring::Deviation => {
                deviation.map(|value| vec![format!("{} %", signed_percent(value)), signed_percent(value)])
            }
            Colouring::Pressure => self.ahead.get(&row.id).map(|value| {
                let (value, measure) = (value.si(), Measure::Pressure);
                vec![measure.text(value, units), measure.number(value, units)]
            }),
        };
        let words = match (value.filter(|_| !no_value), class) {
            (Some(words), _) => words,
            // Where the whole section is dry it says so once; the sign at the row stands for itself.
            (None, DeviationClass::NotFed)
                if self.is_dry(row.section) && !self.options.marked.contains(&subject) =>
            {
                return;
            }
            (None, DeviationClass::NotFed) => vec!["not fed".to_owned()],
            (None, DeviationClass::FlowsBackward) => {
                vec!["flows backwards".to_owned(), "backwards".to_owned()]
            }
            _ => return,
        };
        // Further in, the number of the row stands beside its value.
        let mut wordings = vec![format!("row {}\n{}", row.number, words[0])];
        // Of a manifold that is selected or pointed at, each row says which outlet it hangs on.
        let outlet = outlet.filter(|(part, _)| self.options.marked.contains(&Subject::Part(*part)));
        if let Some((_, outlet)) = outlet {
            wordings.insert(0, format!("row {}, outlet {outlet}\n{}", row.number, words[0]));
            wordings.push(format!("outlet {outlet}"));
        }
        wordings.extend(words);
        let places = vec![Place::Below, Place::Right, Place::Left];
        let text = Text {
            at,
            places,
            clear_x: reach,
            clear_y: reach,
            wordings,
            room: (!matches!(class, DeviationClass::NotFed | DeviationClass::FlowsBackward))
                .then(|| self.project.bar.row_spacing.si() * 1.7),
            role: Role::Value,
        };
        self.items.push(DrawItem::new(Layer::Values, Shape::Text(text), Ink::Words).of(subject));
    }
}

/// A name in one line and, if it has several words, in two, then without the words between the first and the last.
fn broken(name: &str) -> Vec<String> {
    let mut wordings = vec![name.to_owned()];
    if let Some((first, last)) = name.rsplit_once(' ') {
        wordings.push(format!("{first}\n{last}"));
        // `outer right` of `outer wing right`: the side and how far out tell sections apart.
        if let Some((place, _)) = first.split_once(' ') {
            wordings.push(format!("{place} {last}"));
        }
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
            let at =
                Point2::new(pair[0].x + (pair[1].x - pair[0].x) * t, pair[0].y + (pair[1].y - pair[0].y) * t);
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

/// The smallest distance between any two of some points, metres; 1 m for fewer than two.
fn nearest_neighbour(points: &[Point2]) -> f64 {
    let pairs =
        points.iter().enumerate().flat_map(|(index, a)| points[index + 1..].iter().map(|b| a.distance(*b)));
    pairs.filter(|away| *away > 1e-6).min_by(f64::total_cmp).unwrap_or(1.0)
}

const fn place_beside(side: Beside) -> Place {
    match side {
        Beside::Right => Place::Right,
        Beside::Left => Place::Left,
        Beside::Above => Place::Above,
        Beside::Below => Place::Below,
    }
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
