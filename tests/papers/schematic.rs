//! The schematic read back: which port of which part each drawn line ends on, compared with the plan, for the examples
//! and for a thousand random routings. A line is named by its mark, as a person reads its tag; what it is connected with
//! comes from where ends, dots, symbols and flags lie and from nothing else.

use equirow::plan::Manifold;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use crate::random_networks::Random;
use equirow::drawing::paper::{Mark, MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::{Paper, drawing_area};
use equirow::geometry::{Bounds, Point2, Point3};
use equirow::plan::routing::Connection;
use equirow::plan::{
    BarPoint, Branch, ElementKey, ElementKind, End, Entry, FeedElement, FeedId, FittingKey, Line,
    ManifoldInlet, Part, PartId, PartItem, PartKey, Port, PortRef, Project, Routing, RoutingGeometry,
    RowFeed, RowId, Run, RunId, Split, StockKey, Subject, Tube,
};

use equirow::quantities::{Angle, Length, Pressure};
use equirow::sheets::{Date, SheetKind, SheetOptions, sheet_set};

fn example(name: &str) -> Project {
    equirow::files::open(&Path::new("examples").join(name)).unwrap()
}

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn drawn(project: &Project, routing: &Routing, paper: Paper) -> Vec<Page> {
    let all = SheetOptions::all(project, Date::parse("2026-03-31").unwrap());
    let options = SheetOptions { kinds: vec![SheetKind::Schematic], paper, ..all };
    sheet_set(project, RoutingGeometry::working(project, routing).with(routing), &options).unwrap().pages
}

// ----------------------------------------------------------------------------------------------------------------
// Reading.

/// Where a drawn line ends.
#[derive(Debug, Clone, PartialEq)]
enum Place {
    Pump,
    /// Hangs on nothing.
    Loose,
    /// Goes on at another flag with the same words.
    Flag(String),
    At(PartId, Side),
    /// On nothing that says what it is.
    Nowhere(Point2),
}

/// Which port of a part, as far as a drawing tells.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Side {
    /// Of a symbol with two ports.
    Upper,
    Lower,
    /// A gauge or plug has one port.
    Only,
    /// The way a line leaves a tee's dot.
    Way(i8, i8),
    /// A manifold's ports stand in the order inlet, gauge port, far end; its outlets are numbered.
    Named(Port),
}

/// Both ends of each line, and the start of each row's feed.
#[derive(Debug, Default)]
struct Netlist {
    lines: BTreeMap<Subject, Vec<[Place; 2]>>,
    rows: BTreeMap<RowId, Vec<Place>>,
}

fn near(a: Point2, b: Point2) -> bool {
    a.distance(b) < 1e-6
}

fn on_line(point: Point2, points: &[Point2]) -> bool {
    points.windows(2).any(|pair| point.distance_to_piece(pair[0], pair[1]) < 1e-6)
}

/// What is drawn on a page, sorted.
struct Reader<'a> {
    page: &'a Page,
    /// Lines of hoses and tubes.
    wires: Vec<(&'a Mark, &'a [Point2])>,
    dots: Vec<(Option<Subject>, Point2)>,
    symbols: BTreeMap<PartId, Bounds>,
    /// The line of each manifold.
    bodies: BTreeMap<PartId, &'a [Point2]>,
    items: BTreeMap<PartId, PartItem>,
}

impl<'a> Reader<'a> {
    fn new(page: &'a Page, project: &Project, routing: &Routing) -> Self {
        let items: BTreeMap<PartId, PartItem> = routing
            .parts
            .iter()
            .map(|part| (part.id, *project.catalogue.item(&part.entry).unwrap()))
            .collect();
        let is_manifold = |part: &PartId| matches!(items[part], PartItem::Manifold(_));
        let is_wire = |mark: &&Mark| matches!(mark.layer, PaperLayer::Hose | PaperLayer::Tube);
        let wires: Vec<(&Mark, &[Point2])> = page
            .marks
            .iter()
            .filter(is_wire)
            .filter_map(|mark| match &mark.kind {
                MarkKind::Line { points, .. } => Some((mark, &points[..])),
                _ => None,
            })
            .collect();
        let dots = page.marks.iter().filter(is_wire).filter_map(|mark| match mark.kind {
            MarkKind::Circle { centre, .. } => Some((mark.subject, centre)),
            _ => None,
        });
        let mut symbols: BTreeMap<PartId, Bounds> = BTreeMap::new();
        for mark in page.marks.iter().filter(|mark| mark.layer == PaperLayer::Part) {
            let Some(Subject::Part(part)) = mark.subject.filter(|one| match one {
                Subject::Part(part) => !is_manifold(part),
                _ => false,
            }) else {
                continue;
            };
            let bounds = mark.kind.bounds();
            let all = symbols.entry(part).or_insert(bounds);
            *all = Bounds::around([all.min, all.max, bounds.min, bounds.max]);
        }
        let mut bodies = BTreeMap::new();
        for (mark, points) in &wires {
            if let Some(Subject::Part(part)) = mark.subject
                && is_manifold(&part)
                && (points[0].y - points[1].y).abs() < 1e-9
            {
                bodies.insert(part, *points);
            }
        }
        let dots = dots.collect();
        Self { page, wires, dots, symbols, bodies, items }
    }

    fn is_body(&self, mark: &Mark) -> bool {
        matches!(mark.subject, Some(Subject::Part(part)) if matches!(self.items[&part], PartItem::Manifold(_)))
    }

    /// The upper ports of a manifold by where something stands on its line, from left to right.
    fn stubs(&self, manifold: PartId) -> Vec<f64> {
        let body = self.bodies[&manifold];
        let ends = self
            .wires
            .iter()
            .filter(|(mark, _)| mark.layer == PaperLayer::Hose && !self.is_body(mark))
            .flat_map(|(_, points)| [points[0], points[points.len() - 1]])
            .filter(|end| on_line(*end, body));
        let signs =
            self.page.marks.iter().filter(|mark| {
                mark.layer == PaperLayer::Part && mark.subject == Some(Subject::Part(manifold))
            });
        let signs = signs.filter_map(|mark| match &mark.kind {
            MarkKind::Line { points, .. } if on_line(points[0], body) => Some(points[0]),
            _ => None,
        });
        let mut all: Vec<f64> = ends.chain(signs).map(|point| point.x).collect();
        all.sort_by(f64::total_cmp);
        all
    }

    fn words_in(&self, bounds: &Bounds) -> Option<&'a str> {
        self.page.marks.iter().find_map(|mark| match &mark.kind {
            MarkKind::Words(words) if bounds.contains(words.bounds().centre()) => Some(words.text.as_str()),
            _ => None,
        })
    }

    /// What an end is on; `next` is the point before it on its line.
    fn place(&self, end: Point2, next: Point2, layer: PaperLayer) -> Place {
        if let Some((manifold, body)) = self.bodies.iter().find(|(_, body)| on_line(end, body)) {
            let port = if layer == PaperLayer::Tube {
                // The number of an outlet stands right below its dot.
                let beside =
                    Bounds { min: Point2::new(end.x, end.y - 3.2), max: Point2::new(end.x + 3.2, end.y) };
                self.words_in(&beside).and_then(|words| Some(Port::Outlet(words.parse().ok()?)))
            } else {
                let at = self.stubs(*manifold).iter().position(|x| (x - end.x).abs() < 1e-6);
                let names = [Port::In, Port::Gauge, Port::Out];
                assert_eq!(self.stubs(*manifold).len(), 3, "{}: {body:?}", self.page.name);
                at.map(|at| names[at])
            };
            return port.map_or(Place::Nowhere(end), |port| Place::At(*manifold, Side::Named(port)));
        }
        let on_symbol = self.symbols.iter().find(|(_, bounds)| bounds.grown(1e-6).contains(end));
        if let Some((part, bounds)) = on_symbol {
            let side = match self.items[part] {
                PartItem::Gauge(_) | PartItem::BlankingPlug(_) => Side::Only,
                _ if end.y > bounds.centre().y + 1.0 => Side::Upper,
                _ if end.y < bounds.centre().y - 1.0 => Side::Lower,
                _ => return Place::Nowhere(end),
            };
            return Place::At(*part, side);
        }
        for (subject, at) in &self.dots {
            if let (Some(Subject::Part(part)), true) = (subject, near(*at, end))
                && matches!(self.items[part], PartItem::Tee(_))
            {
                let sign = |value: f64| if value.abs() < 1e-6 { 0 } else { value.signum() as i8 };
                return Place::At(*part, Side::Way(sign(next.x - end.x), sign(next.y - end.y)));
            }
        }
        for mark in self.page.marks.iter().filter(|mark| mark.layer == PaperLayer::Part) {
            match &mark.kind {
                MarkKind::Circle { centre, radius, .. } if (centre.distance(end) - radius).abs() < 1e-6 => {
                    if (*radius - 4.0).abs() < 1e-9 && mark.subject.is_none() {
                        return Place::Pump;
                    }
                    if (*radius - 0.9).abs() < 1e-9 {
                        return Place::Loose;
                    }
                }
                MarkKind::Area { .. } if mark.kind.bounds().grown(1e-6).contains(end) => {
                    if let Some(words) = self.words_in(&mark.kind.bounds()) {
                        return Place::Flag(words.split(", sheet").next().unwrap_or_default().to_owned());
                    }
                }
                _ => {}
            }
        }
        Place::Nowhere(end)
    }

    fn read(&self, list: &mut Netlist) {
        for (mark, points) in self.wires.iter().filter(|(mark, _)| !self.is_body(mark)) {
            let subject = match mark.subject {
                Some(subject @ (Subject::Run(_) | Subject::Part(_))) => subject,
                Some(subject @ Subject::Feed(_)) if mark.layer == PaperLayer::Hose => subject,
                _ => continue,
            };
            let last = points.len() - 1;
            let ends = [
                self.place(points[0], points[1], mark.layer),
                self.place(points[last], points[last - 1], mark.layer),
            ];
            list.lines.entry(subject).or_default().push(ends);
        }
        for mark in self.page.marks.iter().filter(|mark| mark.layer == PaperLayer::Row) {
            if let (Some(Subject::Row(row)), MarkKind::Area { points, .. }) = (mark.subject, &mark.kind) {
                let bounds = Bounds::around(points.iter().copied());
                let start = self.up(Point2::new(bounds.centre().x, bounds.max.y));
                list.rows.entry(row).or_default().push(start);
            }
        }
    }

    /// From a row's sign upwards, through wires and the symbols that stand on them.
    fn up(&self, from: Point2) -> Place {
        let mut at = from;
        for _ in 0..60 {
            let wire = self.wires.iter().filter(|(mark, _)| mark.layer == PaperLayer::Tube).find_map(
                |(_, points)| {
                    let (first, last) = (points[0], points[points.len() - 1]);
                    match () {
                        () if near(last, at) => Some(first),
                        // A dot on a level line: along it to where that line begins.
                        () if !near(first, at)
                            && on_line(at, points)
                            && self.dots.iter().any(|(_, dot)| near(*dot, at)) =>
                        {
                            Some(first)
                        }
                        () => None,
                    }
                },
            );
            let symbol = || {
                let mut top = at;
                for mark in self.page.marks.iter().filter(|mark| mark.layer == PaperLayer::Part) {
                    let bounds = mark.kind.bounds();
                    let stands_on_it = (bounds.centre().x - at.x).abs() < 0.9
                        && bounds.min.y >= at.y - 1e-6
                        && bounds.max.y - at.y < 6.1;
                    if matches!(mark.subject, Some(Subject::Feed(_)))
                        && !matches!(mark.kind, MarkKind::Area { .. })
                        && (stands_on_it || bounds.grown(1e-6).contains(at))
                        && bounds.max.y > top.y
                    {
                        top = Point2::new(at.x, bounds.max.y);
                    }
                }
                (top.y > at.y + 1e-6).then_some(top)
            };
            let place = self.place(at, at, PaperLayer::Tube);
            if !near(at, from) && !matches!(place, Place::Nowhere(_)) {
                return place;
            }
            match wire.or_else(symbol) {
                Some(next) => at = next,
                None => break,
            }
        }
        self.place(at, at, PaperLayer::Tube)
    }

    /// What would be read wrongly: lines that lie on each other, corners that touch another line, lines under symbols.
    fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        for (index, (a, a_points)) in self.wires.iter().enumerate() {
            for (b, b_points) in &self.wires[index + 1..] {
                if a.subject == b.subject {
                    continue;
                }
                for p in a_points.windows(2) {
                    for q in b_points.windows(2) {
                        if overlap(p, q) {
                            faults.push(format!("{:?} lies on {:?}", a.subject, b.subject));
                        }
                    }
                }
                for ((one, points), (other, others)) in
                    [((a, a_points), (b, b_points)), ((b, b_points), (a, a_points))]
                {
                    for (at, point) in points.iter().enumerate() {
                        let is_end = at == 0 || at + 1 == points.len();
                        let meets = is_end
                            && (self.is_body(other)
                                || near(others[0], *point)
                                || near(others[others.len() - 1], *point));
                        if on_line(*point, others) && !meets {
                            faults.push(format!("{:?} touches {:?}", one.subject, other.subject));
                        }
                    }
                }
            }
        }
        let flags = self.page.marks.iter().filter(|mark| {
            mark.layer == PaperLayer::Part
                && mark.subject.is_none()
                && matches!(mark.kind, MarkKind::Area { .. })
        });
        let flags = flags.map(|mark| mark.kind.bounds());
        for bounds in self.symbols.values().copied().chain(flags) {
            for (mark, points) in self.wires.iter().filter(|(mark, _)| mark.layer == PaperLayer::Hose) {
                for pair in points.windows(2) {
                    let piece = Bounds::around(pair.iter().copied());
                    let inner = bounds.grown(-0.2);
                    if piece.max.x > inner.min.x
                        && piece.min.x < inner.max.x
                        && piece.max.y > inner.min.y
                        && piece.min.y < inner.max.y
                    {
                        faults.push(format!("{:?} runs under what stands at {bounds:?}", mark.subject));
                    }
                }
            }
        }
        let area = drawing_area(self.page.width, self.page.height);
        for (mark, points) in &self.wires {
            if points.iter().any(|point| !area.grown(0.1).contains(*point)) {
                faults.push(format!("{:?} leaves the sheet", mark.subject));
            }
        }
        faults
    }
}

fn overlap(p: &[Point2], q: &[Point2]) -> bool {
    let upright = |piece: &[Point2]| (piece[0].x - piece[1].x).abs() < 1e-9;
    if upright(p) != upright(q) {
        return false;
    }
    let along = |point: Point2| if upright(p) { (point.x, point.y) } else { (point.y, point.x) };
    let ((across, p1), (_, p2)) = (along(p[0]), along(p[1]));
    let ((other, q1), (_, q2)) = (along(q[0]), along(q[1]));
    (across - other).abs() < 1e-6 && p1.max(p2).min(q1.max(q2)) - p1.min(p2).max(q1.min(q2)) > 1e-6
}

// ----------------------------------------------------------------------------------------------------------------
// Comparing.

/// What an end of the plan is drawn as: the kind of place, the part, and the port where the drawing names it.
fn fits(end: &End, place: &Place, items: &BTreeMap<PartId, PartItem>) -> bool {
    match (end, place) {
        (End::Supply, Place::Pump) | (End::Loose(_), Place::Loose) => true,
        (End::Port(port), Place::At(part, side)) => {
            port.part == *part
                && match side {
                    Side::Named(named) => *named == port.port,
                    _ => !matches!(items[part], PartItem::Manifold(_)),
                }
        }
        _ => false,
    }
}

/// Lines on the ports of a part that has no names in the drawing: two ports are its two sides, and a tee's branch
/// stands across its run.
fn sides_fit(item: &PartItem, used: &[(Port, Side)]) -> bool {
    used.iter().enumerate().all(|(index, (port, side))| {
        used[..index].iter().all(|(other_port, other)| match (item, side, other) {
            (PartItem::Tee(_), Side::Way(x, y), Side::Way(other_x, other_y)) => {
                let straight = i16::from(*x) * i16::from(*other_x) + i16::from(*y) * i16::from(*other_y);
                let across = (*port == Port::Branch) != (*other_port == Port::Branch);
                if across { straight == 0 } else { straight == if port == other_port { 1 } else { -1 } }
            }
            _ => (port == other_port) == (side == other),
        })
    })
}

/// Where the drawing says another thing than the plan; empty if both agree.
fn differences(pages: &[Page], project: &Project, routing: &Routing) -> Vec<String> {
    let mut list = Netlist::default();
    let mut wrong = Vec::new();
    let mut items = BTreeMap::new();
    for page in pages {
        let reader = Reader::new(page, project, routing);
        reader.read(&mut list);
        wrong.extend(reader.faults().into_iter().map(|fault| format!("{}: {fault}", page.name)));
        items = reader.items;
    }
    // By part, what may be the ports of the lines on it; a hose from a part to itself can be read both ways.
    let mut used: BTreeMap<PartId, Vec<Vec<(Port, Side)>>> =
        items.keys().map(|part| (*part, vec![Vec::new()])).collect();
    let mut lines: Vec<(Subject, [End; 2])> =
        routing.runs.iter().map(|run| (Subject::Run(run.id), [run.from, run.to])).collect();
    for part in &routing.parts {
        if let Some(mount) = part.mount {
            let stem = End::Port(PortRef { part: part.id, port: Port::In });
            lines.push((Subject::Part(part.id), [End::Port(mount), stem]));
        }
    }
    let known: BTreeSet<Subject> = lines
        .iter()
        .map(|(subject, _)| *subject)
        .chain(routing.feeds.iter().map(|feed| Subject::Feed(feed.id)))
        .collect();
    wrong.extend(
        list.lines
            .keys()
            .filter(|line| !known.contains(line))
            .map(|line| format!("{line:?} is not in the plan")),
    );
    for (subject, ends) in lines {
        let (places, broken) = joined(list.lines.get(&subject));
        let [one, other] = &places[..] else {
            wrong.push(format!("{subject:?} has the ends {places:?}"));
            continue;
        };
        if broken {
            wrong.push(format!("{subject:?}: its flags do not pair"));
        }
        let ways = [(one, other), (other, one)];
        let right: Vec<_> =
            ways.iter().filter(|(a, b)| fits(&ends[0], a, &items) && fits(&ends[1], b, &items)).collect();
        if right.is_empty() {
            wrong.push(format!(
                "{subject:?} is drawn from {one:?} to {other:?}, planned from {:?} to {:?}",
                ends[0], ends[1]
            ));
            continue;
        }
        let same = ends[0].port().zip(ends[1].port()).is_some_and(|(a, b)| a.part == b.part);
        let right = if same { &right[..] } else { &right[..1] };
        let before = used.clone();
        for lists in used.values_mut() {
            lists.clear();
        }
        for (a, b) in right {
            let mut next = before.clone();
            for (end, place) in [(&ends[0], a), (&ends[1], b)] {
                note(&mut next, end, place);
            }
            for (part, lists) in next {
                for list in lists {
                    let all = used.entry(part).or_default();
                    if !all.contains(&list) {
                        all.push(list);
                    }
                }
            }
        }
    }
    for feed in &routing.feeds {
        let (places, _) = joined(list.lines.get(&Subject::Feed(feed.id)));
        for branch in &feed.branches {
            let starts = list.rows.remove(&branch.row).unwrap_or_default();
            let [start] = &starts[..] else {
                wrong.push(format!("row {:?} is drawn {} times", branch.row, starts.len()));
                continue;
            };
            let start = match (start, &places[..]) {
                (Place::Flag(tag), [at]) if *tag == feed.tag => at,
                (other, _) => other,
            };
            if !fits(&feed.from, start, &items) {
                wrong.push(format!(
                    "{} of row {:?} starts at {start:?}, planned {:?}",
                    feed.tag, branch.row, feed.from
                ));
            }
        }
        if let [place] = &places[..] {
            note(&mut used, &feed.from, place);
        }
    }
    wrong.extend(list.rows.keys().map(|row| format!("row {row:?} is fed in the drawing alone")));
    for (part, lists) in used {
        if !lists.iter().any(|one| sides_fit(&items[&part], one)) {
            wrong.push(format!("{part:?}, a {}: {lists:?}", items[&part].kind()));
        }
    }
    wrong
}

fn note(used: &mut BTreeMap<PartId, Vec<Vec<(Port, Side)>>>, end: &End, place: &Place) {
    if let (End::Port(port), Place::At(part, side)) = (end, place) {
        used.entry(*part).or_default().iter_mut().for_each(|list| list.push((port.port, *side)));
    }
}

/// The ends of a line over all its pieces: flags with the same words are one place. True if one of them has no fellow.
fn joined(pieces: Option<&Vec<[Place; 2]>>) -> (Vec<Place>, bool) {
    let all: Vec<Place> = pieces.into_iter().flatten().flatten().cloned().collect();
    let mut flags: BTreeMap<String, usize> = BTreeMap::new();
    let mut places = Vec::new();
    for place in all {
        match place {
            Place::Flag(words) => *flags.entry(words).or_default() += 1,
            other => places.push(other),
        }
    }
    (places, flags.values().any(|count| *count != 2))
}

// ----------------------------------------------------------------------------------------------------------------
// Random routings.

fn manifold_key(outlets: u16, inlet: ManifoldInlet) -> PartKey {
    PartKey::new(format!("manifold of {outlets}, {inlet:?}"))
}

/// A bar without plumbing, and manifolds of 1 to 8 outlets.
pub(crate) fn bare_bar() -> Project {
    let mut project = example("twelve-metre-bar.ron");
    project.routings.truncate(1);
    project.routings[0].parts.clear();
    project.routings[0].runs.clear();
    project.routings[0].feeds.clear();
    for outlets in 1..=8 {
        for inlet in [ManifoldInlet::End, ManifoldInlet::Middle] {
            let item = PartItem::Manifold(Manifold {
                outlets,
                spacing: Length::millimetres(40.0),
                bore: Length::millimetres(20.0),
                k: 1.0,
                inlet,
                rated: Pressure::bar(8.0),
            });
            project.catalogue.entries.push(Entry {
                key: manifold_key(outlets, inlet).any().clone(),
                description: String::new(),
                part_number: String::new(),
                connection: String::new(),
                price: None,
                roll: None,
                materials: Vec::new(),
                calibrated: None,
                item: item.into(),
            });
        }
    }
    project
}

struct Maker<'a> {
    project: &'a Project,
    random: Random,
    routing: Routing,
    /// Ends that a hose may start at.
    open: Vec<End>,
    rows: Vec<RowId>,
}

impl Maker<'_> {
    fn place(&mut self) -> Point3 {
        Point3::new(self.random.between(-5.9, 5.9), self.random.between(-1.0, 1.0), 0.9)
    }

    fn part(&mut self, letter: char, key: PartKey) -> PartId {
        let position = self.place();
        let id = PartId(self.routing.parts.len() as u32 + 1);
        self.routing.parts.push(Part {
            id,
            tag: self.routing.free_tag(letter),
            entry: key,
            section: self.project.bar.section_at(position.x).unwrap().id,
            position,
            turn: Angle::degrees(90.0 * self.random.below(4) as f64),
            mount: None,
            shut: letter == 'V' && self.random.chance(0.2),
        });
        id
    }

    fn hose(&mut self, from: End, to: End) {
        let (from, to) = if self.random.chance(0.3) { (to, from) } else { (from, to) };
        self.routing.runs.push(Run {
            id: RunId(self.routing.runs.len() as u32 + 1),
            tag: self.routing.free_tag('H'),
            from,
            to,
            line: Line::straight(StockKey::new("hose-25")),
            fittings: Vec::new(),
        });
    }

    fn loose(&mut self) -> End {
        End::Loose(BarPoint::over(&self.project.bar, self.place()))
    }

    fn take(&mut self) -> Option<End> {
        if self.open.is_empty() {
            return None;
        }
        let at = self.random.below(self.open.len());
        Some(self.open.swap_remove(at))
    }

    fn feed(&mut self, from: End) {
        let many = if self.random.chance(0.15) { 2 + self.random.below(2) } else { 1 };
        if self.rows.len() < many {
            return;
        }
        let rows = self.rows.split_off(self.rows.len() - many);
        let tube = || FeedElement::Tube(Tube { line: Line::straight(StockKey::new("tube-6")), end: None });
        let own = || {
            vec![
                tube(),
                FeedElement::Piece(ElementKind::CheckValve, ElementKey::new("check-valve-0.20")),
                FeedElement::Piece(ElementKind::MeteringOrifice, ElementKey::new("orifice-1.0")),
            ]
        };
        let position = BarPoint::over(&self.project.bar, self.place());
        self.routing.feeds.push(RowFeed {
            id: FeedId(self.routing.feeds.len() as u32 + 1),
            tag: self.routing.free_tag('T'),
            from,
            trunk: if many > 1 { vec![tube()] } else { Vec::new() },
            split: (many > 1).then(|| Split { entry: FittingKey::new("small-tee-4"), position }),
            branches: rows.into_iter().map(|row| Branch { row, elements: own() }).collect(),
        });
    }
}

/// Chains, stars, rings and pieces that hang on nothing: whatever a hose can join, parts fed from any of their ports,
/// turned any way; taps of manifolds with row feeds, shared ones too, hoses, gauges, plugs, or open.
pub(crate) fn random_routing(project: &Project, seed: u64) -> Routing {
    let random = Random::new(seed);
    let mut rows: Vec<RowId> = project.bar.rows.iter().map(|row| row.id).collect();
    rows.reverse();
    let mut make =
        Maker { project, random, routing: project.routings[0].clone(), open: vec![End::Supply], rows };
    let mut kinds = Vec::new();
    for (letter, most) in [('M', 5), ('J', 4), ('V', 4), ('F', 2)] {
        let many = make.random.below(most + 1);
        kinds.extend(std::iter::repeat_n(letter, many));
    }
    for at in (1..kinds.len()).rev() {
        kinds.swap(at, make.random.below(at + 1));
    }
    let wild = make.random.chance(0.2);
    for letter in kinds {
        let inlet = if make.random.chance(0.5) { ManifoldInlet::End } else { ManifoldInlet::Middle };
        let key = match letter {
            'M' => manifold_key(1 + make.random.below(8) as u16, inlet),
            'J' => PartKey::new("tee-25"),
            'V' => PartKey::new("section-valve-19"),
            _ => PartKey::new("filter-25-300"),
        };
        let item = *project.catalogue.item(&key).unwrap();
        let id = make.part(letter, key);
        let mut ports = item.ports();
        let by = if make.random.chance(0.6) { 0 } else { make.random.below(ports.len()) };
        let joins = !wild && make.random.chance(0.93);
        let from = if joins { make.take() } else { None };
        if let Some(from) = from {
            let port = PortRef { part: id, port: ports.swap_remove(by) };
            match from {
                // Screwed on, now and then.
                End::Port(host) if port.port == Port::In && letter != 'M' && make.random.chance(0.07) => {
                    make.routing.parts.last_mut().unwrap().mount = Some(host);
                }
                from => make.hose(from, End::Port(port)),
            }
        }
        for port in ports {
            let chance = match port {
                Port::Outlet(_) => 0.12,
                Port::Gauge => 0.3,
                _ => 1.0,
            };
            if make.random.chance(chance) {
                make.open.push(End::Port(PortRef { part: id, port }));
            }
        }
    }
    let mut more = if wild { 0.9 } else { 0.4 };
    while make.open.len() > 1 && make.random.chance(more) {
        if let (Some(from), Some(to)) = (make.take(), make.take()) {
            make.hose(from, to);
        }
        more *= 0.9;
    }
    for chance in [0.3, 0.2] {
        if make.random.chance(chance)
            && let Some(from) = make.take()
        {
            let to = make.loose();
            make.hose(from, to);
        }
    }
    if make.random.chance(0.05) {
        let (from, to) = (make.loose(), make.loose());
        make.hose(from, to);
    }
    // Gauges, plugs and row feeds on what is free.
    let all = make.routing.parts.clone().into_iter().flat_map(|part| {
        let ports = project.catalogue.item(&part.entry).unwrap().ports();
        ports.into_iter().map(move |port| PortRef { part: part.id, port })
    });
    let mut free: Vec<PortRef> = all.filter(|port| make.routing.on_port(*port).is_empty()).collect();
    for (letter, key, most) in [('G', "gauge-6", 4), ('B', "plug", 3)] {
        for _ in 0..make.random.below(most) {
            if free.is_empty() {
                break;
            }
            let port = free.swap_remove(make.random.below(free.len()));
            let id = make.part(letter, PartKey::new(key));
            if make.random.chance(0.7) {
                make.routing.parts.last_mut().unwrap().mount = Some(port);
            } else {
                make.hose(End::Port(port), End::Port(PortRef { part: id, port: Port::In }));
            }
        }
    }
    for port in free {
        let chance = if matches!(port.port, Port::Outlet(_)) { 0.8 } else { 0.06 };
        if make.random.chance(chance) {
            make.feed(End::Port(port));
        }
    }
    if make.random.chance(0.15) {
        let from = make.loose();
        make.feed(from);
    }
    if !make.routing.runs.iter().any(|run| run.from == End::Supply || run.to == End::Supply)
        && make.random.chance(0.2)
    {
        make.feed(End::Supply);
    }
    make.routing
}

// ----------------------------------------------------------------------------------------------------------------
// Tests.

#[test]
fn the_schematic_of_every_example_says_what_the_plan_says() {
    for name in EXAMPLES {
        let project = example(name);
        for routing in &project.routings {
            for paper in [Paper::A4, Paper::A3, Paper::Tabloid] {
                let wrong = differences(&drawn(&project, routing, paper), &project, routing);
                assert!(wrong.is_empty(), "{name} {} on {paper:?}: {wrong:#?}", routing.name);
            }
        }
    }
}

const PAPERS: [Paper; 4] = [Paper::A4, Paper::A3, Paper::Letter, Paper::Tabloid];

/// On small paper, where the manifolds take several sheets, the pump and what its hose leads to stand with the manifold of the
/// centre, above which they are on the bar.
#[test]
fn the_pump_stands_on_the_sheet_of_what_it_leads_to() {
    for (name, wanted) in
        [("twelve-metre-bar.ron", ["F1", "M3"]), ("twenty-four-metre-bar.ron", ["F1", "M4"])]
    {
        let project = example(name);
        let pages = drawn(&project, &project.routings[0], Paper::A4);
        let says = |page: &Page, wanted: &str| {
            page.marks.iter().any(|mark| {
                matches!(&mark.kind, MarkKind::Words(words) if words.text == wanted && mark.layer != PaperLayer::Sheet)
            })
        };
        let with_pump: Vec<&Page> = pages.iter().filter(|page| says(page, "pump")).collect();
        assert_eq!(with_pump.len(), 1, "{name}");
        for wanted in wanted {
            assert!(says(with_pump[0], wanted), "{name}: {wanted} is not on {}", with_pump[0].name);
        }
        if name.starts_with("twenty") {
            assert!(pages.len() > 3, "{name}: {}", pages.len());
        }
    }
}

/// A quarter of the thousand, so that four threads share them; each on one paper, or on all four with
/// `EQUIROW_SCHEMATICS=all`.
fn quarter(number: u64) {
    let project = bare_bar();
    let on_all = std::env::var("EQUIROW_SCHEMATICS").is_ok_and(|value| value == "all");
    let mut wrong = BTreeMap::new();
    for seed in (0..1000).filter(|seed| seed % 4 == number) {
        let routing = random_routing(&project, seed);
        let broken = equirow::plan::validate::routing(&project, &routing);
        assert!(broken.is_empty(), "seed {seed}: {broken:?}");
        let own = (seed / 4 % 4) as usize;
        for paper in
            PAPERS.into_iter().enumerate().filter(|(at, _)| on_all || *at == own).map(|(_, paper)| paper)
        {
            let found = differences(&drawn(&project, &routing, paper), &project, &routing);
            if !found.is_empty() {
                wrong.insert((seed, paper.label()), found);
            }
        }
    }
    let all: Vec<_> = wrong.keys().collect();
    let first: Vec<_> = wrong.iter().take(3).collect();
    assert!(wrong.is_empty(), "{all:?}, of which {first:#?}");
}

#[test]
fn random_routings_are_drawn_as_planned_first_quarter() {
    quarter(0);
}

#[test]
fn random_routings_are_drawn_as_planned_second_quarter() {
    quarter(1);
}

#[test]
fn random_routings_are_drawn_as_planned_third_quarter() {
    quarter(2);
}

#[test]
fn random_routings_are_drawn_as_planned_fourth_quarter() {
    quarter(3);
}

/// The thousand hold what they are said to hold: otherwise their agreement would prove nothing.
#[test]
fn random_routings_hold_every_way_of_joining() {
    let project = bare_bar();
    let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
    for seed in 0..1000 {
        let routing = random_routing(&project, seed);
        let item = |id: PartId| *project.catalogue.item(&routing.part(id).unwrap().entry).unwrap();
        let is_manifold =
            |end: &End| end.port().is_some_and(|port| matches!(item(port.part), PartItem::Manifold(_)));
        let port = |end: &End| end.port().map(|port| port.port);
        let mut saw = |what, holds: bool| *seen.entry(what).or_default() += usize::from(holds);
        for run in &routing.runs {
            let ends = [run.from, run.to];
            saw("manifold to manifold", ends.iter().all(is_manifold));
            saw(
                "manifold's far end",
                ends.iter().any(|end| is_manifold(end) && port(end) == Some(Port::Out)),
            );
            saw("manifold's outlet", ends.iter().any(|end| matches!(port(end), Some(Port::Outlet(_)))));
            saw("loose end", ends.iter().any(|end| matches!(end, End::Loose(_))));
            saw("part to itself", run.from.port().zip(run.to.port()).is_some_and(|(a, b)| a.part == b.part));
            let far_end_valve = [ends, [run.to, run.from]].iter().any(|[a, b]| {
                is_manifold(a)
                    && port(a) == Some(Port::Out)
                    && b.port().is_some_and(|port| matches!(item(port.part), PartItem::SectionValve(_)))
            });
            saw("valve behind a manifold's far end", far_end_valve);
        }
        saw("screwed on", routing.parts.iter().any(|part| part.mount.is_some()));
        saw("shared feed", routing.feeds.iter().any(|feed| feed.branches.len() > 1));
        saw("feed on nothing", routing.feeds.iter().any(|feed| matches!(feed.from, End::Loose(_))));
        saw(
            "feed on a far port",
            routing
                .feeds
                .iter()
                .any(|feed| feed.from.port().is_some_and(|port| !matches!(port.port, Port::Outlet(_)))),
        );
        // A hose between two parts that are joined already closes a ring.
        let mut group: BTreeMap<PartId, PartId> = BTreeMap::new();
        let mut ring = false;
        for run in &routing.runs {
            if let (Some(a), Some(b)) = (run.from.port(), run.to.port()) {
                let of = |group: &BTreeMap<PartId, PartId>, part| group.get(&part).copied().unwrap_or(part);
                let (one, other) = (of(&group, a.part), of(&group, b.part));
                ring |= one == other && a.part != b.part;
                for part in &routing.parts {
                    if of(&group, part.id) == other {
                        group.insert(part.id, one);
                    }
                }
            }
        }
        saw("ring", ring);
        let free = routing.connections().all(|(port, _)| {
            let there: Vec<Connection> = routing.on_port(port);
            there.len() == 1
        });
        assert!(free, "seed {seed}: a port has two things on it");
    }
    assert!(seen.values().all(|count| *count >= 10), "{seen:?}");
}

/// The hose from M3's far end to J1, with a section valve in it.
fn valve_behind_far_end() -> (Project, PartId) {
    let mut project = example("twelve-metre-bar.ron");
    let routing = &mut project.routings[0];
    let m3 = routing.parts.iter().find(|part| part.tag == "M3").unwrap().clone();
    let far = End::Port(PortRef { part: m3.id, port: Port::Out });
    let at = routing.runs.iter().position(|run| run.from == far || run.to == far).unwrap();
    let valve = PartId(routing.parts.iter().map(|part| part.id.0).max().unwrap() + 1);
    let tag = routing.free_tag('V');
    routing.parts.push(Part {
        id: valve,
        tag,
        entry: PartKey::new("section-valve-19"),
        mount: None,
        shut: false,
        ..m3
    });
    let mut second = routing.runs[at].clone();
    second.id = RunId(routing.runs.iter().map(|run| run.id.0).max().unwrap() + 1);
    second.tag = routing.free_tag('H');
    let port = |port| End::Port(PortRef { part: valve, port });
    let first = &mut routing.runs[at];
    if first.from == far {
        first.to = port(Port::In);
        second.from = port(Port::Out);
    } else {
        first.from = port(Port::Out);
        second.to = port(Port::In);
    }
    routing.runs.push(second);
    (project, valve)
}

#[test]
fn a_valve_behind_a_manifolds_far_end_is_drawn_between_its_hoses() {
    let (project, _) = valve_behind_far_end();
    for paper in Paper::ALL {
        let pages = drawn(&project, &project.routings[0], paper);
        let wrong = differences(&pages, &project, &project.routings[0]);
        assert!(wrong.is_empty(), "{paper:?}: {wrong:#?}");
    }
}

/// Wrong drawings are noticed: both hoses on one side of a valve, a tee with its branch in line, two ports of a manifold
/// changed over, a line that leads nowhere, one that is missing, one too many, a row on another outlet.
#[test]
fn a_wrong_drawing_is_noticed() {
    let (project, valve) = valve_behind_far_end();
    let routing = &project.routings[0];
    let right = drawn(&project, routing, Paper::A3);
    let noticed = |what: &str, spoil: &mut dyn FnMut(&mut Page) -> bool| {
        let mut pages = right.clone();
        assert!(pages.iter_mut().any(spoil), "{what}: nothing to spoil");
        assert!(!differences(&pages, &project, routing).is_empty(), "{what}");
    };
    let symbol = |page: &Page| {
        let marks = page.marks.iter().filter(|mark| mark.subject == Some(Subject::Part(valve)));
        let parts = marks.filter(|mark| mark.layer == PaperLayer::Part).map(|mark| mark.kind.bounds());
        Bounds::around(parts.flat_map(|bounds| [bounds.min, bounds.max]))
    };
    fn ends(mark: &mut Mark) -> Option<&mut Vec<Point2>> {
        match (mark.subject, &mut mark.kind) {
            (Some(Subject::Run(_)), MarkKind::Line { points, .. }) => Some(points),
            _ => None,
        }
    }
    noticed("both hoses of a valve on its lower port", &mut |page| {
        let bounds = symbol(page);
        if bounds.is_empty() {
            return false;
        }
        let (x, y) = (bounds.centre().x, bounds.max.y);
        page.marks.iter_mut().filter_map(ends).any(|points| {
            let is_there = points.iter().any(|point| near(*point, Point2::new(x, y)));
            for point in points.iter_mut().filter(|point| is_there && (point.y - y).abs() < 1e-6) {
                point.y = bounds.min.y;
            }
            is_there
        })
    });
    noticed("a tee's branch in line with its run", &mut |page| {
        let tees: Vec<Point2> = page
            .marks
            .iter()
            .filter(|mark| mark.layer == PaperLayer::Hose && matches!(mark.subject, Some(Subject::Part(_))))
            .filter_map(|mark| match mark.kind {
                MarkKind::Circle { centre, .. } => Some(centre),
                _ => None,
            })
            .collect();
        page.marks.iter_mut().filter_map(ends).any(|points| {
            let level = (points[0].y - points[1].y).abs() < 1e-9;
            let there = tees.iter().any(|tee| near(*tee, points[0])) && level;
            if there {
                points.insert(1, Point2::new(points[0].x, points[0].y + 1.0));
            }
            there
        })
    });
    noticed("two ports of a manifold changed over", &mut |page| {
        let m3 = routing.parts.iter().find(|part| part.tag == "M3").unwrap().id;
        let reader = Reader::new(page, &project, routing);
        let Some(y) = reader.bodies.get(&m3).map(|body| body[0].y) else { return false };
        let stubs = reader.stubs(m3);
        let [first, _, last] = stubs[..] else { return false };
        for points in page.marks.iter_mut().filter_map(ends) {
            for point in points.iter_mut().filter(|point| (point.y - y).abs() < 1e-6) {
                if (point.x - first).abs() < 1e-6 {
                    point.x = last;
                } else if (point.x - last).abs() < 1e-6 {
                    point.x = first;
                }
            }
        }
        true
    });
    noticed("an end that leads nowhere", &mut |page| {
        page.marks.iter_mut().find_map(ends).is_some_and(|points| {
            points[0].x += 1.0;
            true
        })
    });
    noticed("a hose left out", &mut |page| {
        let at = page.marks.iter_mut().position(|mark| ends(mark).is_some());
        at.map(|at| page.marks.remove(at)).is_some()
    });
    noticed("a hose that is in no plan", &mut |page| {
        let is_hose = |mark: &&Mark| {
            matches!((mark.subject, &mark.kind), (Some(Subject::Run(_)), MarkKind::Line { .. }))
        };
        let mark = page.marks.iter().find(is_hose).cloned();
        mark.is_some_and(|mark| {
            page.marks.push(Mark { subject: Some(Subject::Run(RunId(9999))), ..mark });
            true
        })
    });
    noticed("a row on another outlet", &mut |page| {
        let mut numbers = page.marks.iter_mut().filter_map(|mark| match &mut mark.kind {
            MarkKind::Words(words)
                if mark.layer != PaperLayer::Sheet
                    && (words.height - 2.5).abs() < 1e-9
                    && !words.bold
                    && words.text == "2" =>
            {
                Some(words)
            }
            _ => None,
        });
        numbers.next().is_some_and(|words| {
            words.text = "7".to_owned();
            true
        })
    });
}
