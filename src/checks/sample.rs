//! A small sound bar with made-up outcomes, for the rules to be tried on: water at 15 °C, rows 0.3 m apart with
//! their outlets at 0.1 m, parts at 0.6 m, tank surface at 1.0 m; row feeds of tube, check valve and orifice.

use super::{Context, Finding, Rule, all_findings};
use crate::geometry::Point3;
use crate::hydraulics::connectivity::connection_problems;
use crate::hydraulics::evenness::evenness;
use crate::hydraulics::outcome::{
    ElementOutcome, NotFed, Numbers, Outcome, PartOutcome, RowConnection, RowOutcome, RowState, RunOutcome,
    SupplyState,
};
use crate::plan::{
    Bar, BarPoint, Branch, Catalogue, ElementItem, ElementKind, End, Entry, EntryKey, FeedElement, FeedId,
    FittingItem, HoseStock, Item, Line, ManifoldInlet, Part, PartId, PartItem, Port, PortRef, Project,
    ReliefValve, Routing, RoutingGeometry, Row, RowFeed, RowId, RowWidths, Run, RunId, Section, SectionId,
    Split, StockItem, Tube, row_target,
};
use crate::plan::{CheckValve, Gauge, Hinge, InletFilter, Manifold, MeteringOrifice, SmallTee};
use crate::quantities::{Angle, Flow, Length, Pressure, Ratio, Speed, Temperature};

/// `F1`.
pub(super) const FILTER: PartId = PartId(1);
/// `M1`.
pub(super) const MANIFOLD: PartId = PartId(2);
/// `M2` of [`Sample::two_wings`].
pub(super) const SECOND_MANIFOLD: PartId = PartId(3);
const GAUGE: PartId = PartId(9);

/// A project, one routing of it, and an outcome to be bent by a test.
pub(super) struct Sample {
    pub project: Project,
    pub routing: Routing,
    pub outcome: Outcome,
}

impl Sample {
    pub(super) fn new() -> Self {
        Self::with_rows(4)
    }

    /// One section, one manifold.
    pub(super) fn with_rows(count: u16) -> Self {
        Self::build(count, false)
    }

    /// Two sections; the left half of the rows on `M1`, the right half on `M2`, which `H3` feeds from the far end
    /// of `M1`.
    pub(super) fn two_wings(count: u16) -> Self {
        Self::build(count, true)
    }

    /// The right section turns up about a line along the way at x = 0, so high over the ground, metres.
    pub(super) fn fold_wing(&mut self, height: f64, degrees: f64) {
        self.project.bar.sections[1].hinge = Some(Hinge {
            parent: SectionId(1),
            point: Point3::new(0.0, 0.0, height),
            axis: Point3::new(0.0, -1.0, 0.0),
            lowest: Angle::ZERO,
            folded: Angle::degrees(degrees),
            step: Hinge::FIRST_STEP,
        });
    }

    fn build(count: u16, two: bool) -> Self {
        let half = f64::from(count) * 0.15;
        let section = |id, name: &str, left, right| Section {
            id: SectionId(id),
            name: name.into(),
            hinge: None,
            left: Length::metres(left),
            right: Length::metres(right),
            members: Vec::new(),
        };
        let sections = if two {
            vec![section(1, "left", -half, 0.0), section(2, "right", 0.0, half)]
        } else {
            vec![section(1, "centre", -half, half)]
        };
        let on_second = |index: u16| two && index >= count / 2;
        let rows = (0..count).map(|index| Row {
            id: RowId(u32::from(index) + 1),
            number: u32::from(index) + 1,
            section: SectionId(if on_second(index) { 2 } else { 1 }),
            x: Length::metres(0.3 * f64::from(index) + 0.15 - half),
            rank: 0,
            outlet_height: Length::metres(0.1),
            share: 1.0,
            left_out: false,
        });
        let bar = Bar {
            row_spacing: Length::metres(0.3),
            row_widths: RowWidths::Nominal,
            ranks: vec![Length::ZERO],
            sections,
            rows: rows.collect(),
        };
        let each = if two { count / 2 } else { count };
        let mut project = Project::new(bar, catalogue(each));
        project.supply.tank_surface = Length::metres(1.0);
        project.supply.weakest_rated = Some(Pressure::bar(10.0));
        project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(5.4));
        project.supply.pump_capacity = Some(Flow::litres_per_minute(100.0));
        let mut routing = project.routings[0].clone();
        let middle = if two { 0.45 } else { 0.0 };
        routing.parts =
            vec![before(part(FILTER, "F1", "filter", 1, 0.0)), part(MANIFOLD, "M1", "manifold", 1, -middle)];
        let port = |part, port| End::Port(PortRef { part, port });
        routing.runs = vec![
            run(1, End::Supply, port(FILTER, Port::In)),
            run(2, port(FILTER, Port::Out), port(MANIFOLD, Port::In)),
        ];
        if two {
            routing.parts.push(part(SECOND_MANIFOLD, "M2", "manifold", 2, middle));
            routing.runs.push(run(3, port(MANIFOLD, Port::Out), port(SECOND_MANIFOLD, Port::In)));
        }
        // Hoses leave their ports straight, with room to bend.
        routing.parts[0].position.y = 1.0;
        let over = |points: &[(f64, f64)]| {
            let over = |(x, y): &(f64, f64)| BarPoint::over(&project.bar, Point3::new(*x, *y, 0.6));
            points.iter().map(over).collect()
        };
        if two {
            routing.runs[1].line.waypoints = over(&[(0.0, 0.75), (-middle, 0.75)]);
            routing.runs[2].line.waypoints = over(&[(0.0, 0.5), (0.0, 0.75), (middle, 0.75)]);
        }
        for index in 0..count {
            let (on, outlet) =
                if on_second(index) { (SECOND_MANIFOLD, index - each + 1) } else { (MANIFOLD, index + 1) };
            routing.feeds.push(RowFeed {
                id: FeedId(u32::from(index) + 1),
                tag: format!("T{}", index + 1),
                from: port(on, Port::Outlet(outlet)),
                trunk: Vec::new(),
                split: None,
                branches: vec![Branch {
                    row: RowId(u32::from(index) + 1),
                    elements: vec![
                        tube(),
                        FeedElement::Piece(ElementKind::CheckValve, key("valve")),
                        FeedElement::Piece(ElementKind::MeteringOrifice, key("orifice")),
                    ],
                }],
            });
        }
        let point = project.duties.first().usual_point();
        let outcome = Outcome {
            point,
            liquid: project.duties.first().liquid.at(point.temperature),
            target_total: Flow::ZERO,
            connections: Vec::new(),
            problems: Vec::new(),
            result: Ok(Numbers {
                supply: SupplyState::AsAsked,
                total_flow: Flow::ZERO,
                pump_pressure: Pressure::bar(2.5),
                inlet_pressure: Pressure::bar(2.4),
                rows: Vec::new(),
                parts: Vec::new(),
                runs: Vec::new(),
                elements: Vec::new(),
                evenness: None,
            }),
        };
        let mut sample = Self { project, routing, outcome };
        sample.resolve();
        sample
    }

    /// Sound numbers for the routing as it stands now; nothing is computed but connections and targets.
    pub(super) fn resolve(&mut self) {
        let (project, routing, point) = (&self.project, &self.routing, self.outcome.point);
        let target = |row| row_target::target(&project.bar, row, &point);
        let connections: Vec<RowConnection> = project
            .bar
            .rows
            .iter()
            .map(|row| {
                let feed = routing.feed_of(row.id);
                RowConnection {
                    row: row.id,
                    number: row.number,
                    x: row.x,
                    section: row.section,
                    target: target(row),
                    connected: feed.map(|_| ()).ok_or(NotFed::NoFeed),
                    feed: feed.map(|feed| feed.id),
                    outlet: feed.and_then(|feed| match feed.from.port()? {
                        PortRef { part, port: Port::Outlet(number) } => Some((part, number)),
                        PortRef { .. } => None,
                    }),
                }
            })
            .collect();
        let rows: Vec<RowOutcome> = connections
            .iter()
            .map(|row| match row.connected {
                Ok(()) => RowOutcome {
                    connection: *row,
                    state: RowState::Fed,
                    flow: row.target,
                    deviation: Some(Ratio::ZERO),
                },
                Err(why) => RowOutcome {
                    connection: *row,
                    state: RowState::NotFed(why),
                    flow: Flow::ZERO,
                    deviation: None,
                },
            })
            .collect();
        let total: Flow = rows.iter().map(|row| row.flow).sum();
        self.outcome.target_total = total;
        self.outcome.connections = connections;
        self.outcome.problems = connection_problems(project, routing);
        let numbers = self.outcome.result.as_mut().unwrap();
        numbers.rows = rows;
        numbers.total_flow = total;
        numbers.parts = routing
            .parts
            .iter()
            .map(|part| PartOutcome {
                part: part.id,
                pressure: Some(Pressure::bar(2.0)),
                lowest: Some(Pressure::bar(2.0)),
                highest: Some(Pressure::bar(2.0)),
                flow: Some(total),
                flow_to_rows: None,
                drop: Some(Pressure::kilopascals(1.0)),
            })
            .collect();
        numbers.runs = routing
            .runs
            .iter()
            .map(|run| RunOutcome {
                run: run.id,
                length: Some(Length::metres(6.0)),
                flow: Some(total),
                velocity: Some(Speed::from_si(1.0)),
                reynolds: Some(2e4),
                pressure_from: Some(Pressure::bar(2.1)),
                pressure_to: Some(Pressure::bar(2.0)),
                loss: Some(Pressure::bar(0.1)),
            })
            .collect();
        numbers.elements.clear();
        for feed in &routing.feeds {
            let trunk = feed.trunk.iter().enumerate().map(|(index, element)| (None, index, element));
            let own = feed.branches.iter().enumerate().flat_map(|(branch, one)| {
                one.elements.iter().enumerate().map(move |(index, element)| (Some(branch), index, element))
            });
            numbers.elements.extend(trunk.chain(own).map(|(branch, index, element)| ElementOutcome {
                feed: feed.id,
                branch,
                index,
                length: None,
                flow: None,
                velocity: None,
                reynolds: Some(8000.0),
                drop: Some(match element {
                    FeedElement::Tube(_)
                    | FeedElement::Fitting(_)
                    | FeedElement::Piece(ElementKind::FlowIndicator, _) => Pressure::kilopascals(0.1),
                    FeedElement::Piece(ElementKind::CheckValve, _) => Pressure::bar(0.25),
                    FeedElement::Piece(ElementKind::MeteringOrifice, _)
                    | FeedElement::MeteringTube { .. } => Pressure::bar(1.5),
                }),
            }));
        }
        numbers.evenness = evenness(&vec![1.0; routing.feeds.len()]);
    }

    /// Pressures and flows, to be changed.
    pub(super) fn numbers(&mut self) -> &mut Numbers {
        self.outcome.result.as_mut().unwrap()
    }

    /// Points of hoses, each on the section it lies over.
    pub(super) fn over(&self, places: &[Point3]) -> Vec<BarPoint> {
        places.iter().map(|place| BarPoint::over(&self.project.bar, *place)).collect()
    }

    /// Where the routing lies as it stands now.
    pub(super) fn geometry(&self) -> RoutingGeometry {
        RoutingGeometry::working(&self.project, &self.routing)
    }

    /// The findings of one rule.
    pub(super) fn of(&self, rule: Rule) -> Vec<Finding> {
        let found =
            (rule.check)(&Context::new(&self.project, self.geometry().with(&self.routing), &self.outcome));
        for finding in &found {
            assert_eq!((finding.kind.rule.as_str(), finding.routing), (rule.name, self.routing.id));
            assert!(!finding.place.is_empty() && !finding.what.is_empty() && !finding.advice.is_empty());
            assert!(!finding.subjects.is_empty(), "{finding}");
        }
        found
    }

    /// The one finding of a rule.
    pub(super) fn only(&self, rule: Rule) -> Finding {
        let mut found = self.of(rule);
        assert_eq!(found.len(), 1, "{found:#?}");
        found.remove(0)
    }

    /// The findings of all rules, dismissed ones too.
    pub(super) fn all(&self) -> Vec<Finding> {
        all_findings(&self.project, self.geometry().with(&self.routing), &self.outcome, &[])
    }

    pub(super) fn set_item(&mut self, entry: &str, change: impl FnOnce(&mut Item)) {
        let found = self.project.catalogue.entries.iter_mut().find(|one| one.key.0 == entry).unwrap();
        change(&mut found.item);
    }

    pub(super) fn set_part_pressure(&mut self, id: PartId, pressure: Option<Pressure>) {
        let found = self.numbers().parts.iter_mut().find(|one| one.part == id).unwrap();
        (found.pressure, found.lowest, found.highest) = (pressure, pressure, pressure);
    }

    pub(super) fn at_temperature(&mut self, celsius: f64) {
        self.outcome.point.temperature = Temperature::from_si(celsius);
        self.outcome.liquid = self.project.duties.first().liquid.at(self.outcome.point.temperature);
    }

    /// `G1`, full scale 4 bar, on the gauge port of `M1`.
    pub(super) fn add_gauge(&mut self) -> PartId {
        let mut gauge = part(GAUGE, "G1", "gauge", 1, 0.0);
        gauge.mount = Some(PortRef { part: MANIFOLD, port: Port::Gauge });
        self.routing.parts.push(gauge);
        self.resolve();
        GAUGE
    }

    /// Metering tubes in place of the orifices.
    pub(super) fn meter_with_tubes(&mut self) {
        let tube = FeedElement::MeteringTube {
            stock: key("metering tube"),
            length: Length::metres(0.5),
            coil: None,
        };
        for element in self.routing.feeds.iter_mut().flat_map(RowFeed::elements_mut) {
            if element.is_metering() {
                *element = tube.clone();
            }
        }
        self.resolve();
    }

    /// Check valve and orifice at the manifold, the tube below them.
    pub(super) fn meter_at_the_manifold(&mut self) {
        for feed in &mut self.routing.feeds {
            feed.branches[0].elements.rotate_left(1);
        }
        self.resolve();
    }

    /// Rows 1 and 2 on one tube with a small tee; outlet 2 comes free.
    pub(super) fn share_first_two(&mut self) {
        let second = self.routing.feeds.remove(1).branches.remove(0);
        let feed = &mut self.routing.feeds[0];
        feed.branches.push(second);
        for branch in &mut feed.branches {
            branch.elements.remove(0);
        }
        feed.trunk = vec![tube()];
        feed.split = Some(Split {
            entry: key("small tee"),
            position: BarPoint::over(&self.project.bar, Point3::new(-0.3, 0.0, 0.2)),
        });
        self.resolve();
    }
}

fn key<K: crate::plan::Key>(name: &str) -> K {
    K::of_entry(EntryKey::new(name))
}

fn tube() -> FeedElement {
    FeedElement::Tube(Tube { line: Line::straight(key("tube")), end: None })
}

fn part(id: PartId, tag: &str, entry: &str, section: u32, x: f64) -> Part {
    Part {
        id,
        tag: tag.into(),
        entry: key(entry),
        section: SectionId(section),
        position: Point3::new(x, 0.5, 0.6),
        turn: Angle::ZERO,
        mount: None,
        shut: false,
    }
}

/// In front of the manifolds, clear of them.
fn before(part: Part) -> Part {
    Part { position: Point3 { y: part.position.y + 0.3, ..part.position }, ..part }
}

fn run(number: u32, from: End, to: End) -> Run {
    Run {
        id: RunId(number),
        tag: format!("H{number}"),
        from,
        to,
        line: Line::straight(key("hose")),
        fittings: vec![],
    }
}

fn catalogue(outlets: u16) -> Catalogue {
    let mm = Length::millimetres;
    let stock = |bore, outside, rated| HoseStock {
        bore: mm(bore),
        outside: mm(outside),
        roughness: mm(0.0015),
        bend_radius: mm(100.0),
        rated: Pressure::bar(rated),
        stiffness: None,
        weight: None,
    };
    let items = [
        (
            "filter",
            Item::Part(PartItem::InletFilter(InletFilter {
                bore: mm(19.0),
                k: 3.0,
                opening: Length::from_si(300e-6),
                rated: Pressure::bar(10.0),
            })),
        ),
        (
            "manifold",
            Item::Part(PartItem::Manifold(Manifold {
                outlets,
                spacing: mm(40.0),
                bore: mm(19.0),
                k: 1.0,
                inlet: ManifoldInlet::Middle,
                rated: Pressure::bar(8.0),
            })),
        ),
        ("gauge", Item::Part(PartItem::Gauge(Gauge { full_scale: Pressure::bar(4.0) }))),
        ("hose", Item::Stock(StockItem::Hose(stock(19.0, 26.0, 10.0)))),
        ("tube", Item::Stock(StockItem::Tube(stock(6.0, 8.0, 8.0)))),
        ("metering tube", Item::Stock(StockItem::MeteringTube(stock(1.5, 4.0, 8.0)))),
        (
            "orifice",
            Item::Element(ElementItem::MeteringOrifice(MeteringOrifice {
                bore: mm(1.0),
                cd: 0.62,
                thickness: mm(0.3),
                creeping: false,
                rated: Some(Pressure::bar(10.0)),
            })),
        ),
        (
            "valve",
            Item::Element(ElementItem::CheckValve(CheckValve {
                cracking: Pressure::bar(0.2),
                closing: Pressure::bar(0.15),
                k: 5.0,
                bore: mm(4.0),
                rated: Pressure::bar(10.0),
            })),
        ),
        (
            "small tee",
            Item::Fitting(FittingItem::SmallTee(SmallTee {
                bore: mm(4.0),
                k: 1.0,
                rated: Some(Pressure::bar(10.0)),
            })),
        ),
    ];
    let entries = items.into_iter().map(|(name, item)| Entry {
        key: key(name),
        description: name.into(),
        part_number: String::new(),
        connection: String::new(),
        price: None,
        roll: None,
        materials: Vec::new(),
        calibrated: None,
        item,
    });
    Catalogue { entries: entries.collect() }
}
