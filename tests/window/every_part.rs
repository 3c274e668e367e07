//! No kind of part can be forgotten: each kind of the lists (`PartKind::ALL`, `ItemKind::ALL`) goes through everything that the program does
//! with parts, from the list of tools to the papers, and each of those that leaves a kind out is named.

use equirow::plan::{
    CheckValve, Fitting, FlowIndicator, FlowMeter, InletFilter, Manifold, MeteringOrifice, SectionValve,
    SmallTee, Tee,
};
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::PI;

use equirow::drawing::paper::{MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::Paper;
use equirow::drawing::{Detail, DrawItem, SceneOptions, Shape, bar_scene, card, describe, symbol};
use equirow::files;
use equirow::geometry::{Point2, Point3};
use equirow::hydraulics::{Outcome, solve};
use equirow::plan::routing::Connection;
use equirow::plan::validate::validate;
use equirow::plan::{
    Anchors, BarPoint, Branch, Edit, ElementItem, ElementKey, ElementKind, End, EntryKey, FeedElement,
    FeedId, FittingItem, FittingKey, FittingKind, Item, ItemKind, Line, PartId, PartItem, PartKey, PartKind,
    Plumbing, Port, PortRef, Project, RoutingGeometry, RowFeed, Split, StockItem, StockKey, StockKind,
    Subject, Tube,
};

use equirow::quantities::{Angle, Length, Measure, UnitSystem};
use equirow::session::commands::{self, Command};
use equirow::session::snap::SnapSettings;
use equirow::session::{Session, Side, Tool};
use equirow::sheets::document::{Block, Document};
use equirow::sheets::{
    Date, SheetKind, SheetOptions, cut_plan, fitting_steps, items, joint_list, parts_list, sheet_set,
};

const REACH: f64 = 0.15;

fn placed() -> impl Iterator<Item = PartKind> {
    PartKind::ALL.iter().copied()
}

/// A bar without plumbing, the pump, and the whole catalogue.
fn bare() -> Session {
    let demo = files::demo();
    let catalogue = files::generic_catalogue();
    let mut session =
        Session::new(Project { supply: demo.supply, ..Project::new(demo.bar, catalogue) }, None);
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    session
}

fn click(session: &mut Session, at: Point2) {
    session.press(at, None, REACH, false).unwrap();
    session.release().unwrap();
}

fn item(session: &Session, id: PartId) -> PartItem {
    *session.project().catalogue.item(&session.routing().part(id).unwrap().entry).unwrap()
}

/// Places a part of a kind as people do: the command takes it in hand, a click places it.
fn place(session: &mut Session, kind: PartKind, at: Point2) -> PartId {
    let before = session.routing().parts.len();
    let command = Command::Place(kind);
    commands::run(session, command).unwrap();
    assert!(matches!(session.tool(), Tool::Place(_)), "{kind:?} is not in hand");
    click(session, at);
    assert_eq!(session.routing().parts.len(), before + 1, "{kind:?} is not placed");
    session.take(Tool::Select);
    let part = session.routing().parts.last().unwrap();
    assert!(
        part.tag.starts_with(session.project().tag_letters.part(kind)),
        "{kind:?} is called {}",
        part.tag
    );
    part.id
}

/// The pump, a hose, a manifold on the left wing, three rows: what every part is put into.
fn plumbed() -> (Session, PartId) {
    let mut session = bare();
    let pump = session.project().supply.pump.flat();
    let manifold = place(&mut session, PartKind::Manifold, Point2::new(-4.0, 0.6));
    let inlet = PortRef { part: manifold, port: Port::In };
    let goal = session.geometry().anchors.port(inlet).unwrap().place.flat();
    let stock = session.usual_hose().unwrap();
    session.take(Tool::Join { stock });
    click(&mut session, pump);
    click(&mut session, Point2::new(-1.2, 0.6));
    click(&mut session, goal);
    session.take(Tool::Select);
    assert_eq!(session.routing().runs.len(), 1);
    assert_eq!(session.routing().runs[0].to, End::Port(inlet), "a manifold takes no hose");
    let mut rows: Vec<_> = session.project().bar.rows.iter().filter(|row| row.x.si() < -3.0).collect();
    rows.sort_by(|a, b| (a.x.si() + 4.0).abs().total_cmp(&(b.x.si() + 4.0).abs()));
    let rows: Vec<_> = rows.iter().take(3).map(|row| row.id).collect();
    session.give_rows(manifold, &rows).unwrap();
    (session, manifold)
}

/// The plumbed bar with a part of a kind in it.
fn with(kind: PartKind) -> (Session, PartId) {
    let (mut session, manifold) = plumbed();
    let part = match kind.facts().plumbing {
        Plumbing::ForRows => manifold,
        Plumbing::InLine => place(&mut session, kind, Point2::new(-2.6, 0.6)),
        Plumbing::OnPort => {
            let name = if kind == PartKind::Gauge { Port::Gauge } else { Port::Out };
            let port = PortRef { part: manifold, port: name };
            let at = session.geometry().anchors.port(port).unwrap().place;
            place(&mut session, kind, at.flat())
        }
    };
    let broken = validate(session.project());
    assert!(broken.is_empty(), "{kind:?}: {broken:?}");
    (session, part)
}

fn solved(project: &Project) -> Outcome {
    let outcome = solve(project, &project.routings[0], &project.duties.first().usual_point());
    assert!(outcome.result.is_ok(), "{:?}", outcome.result);
    outcome
}

/// How much more the pump has to give when an entry is changed, Pa, and the outcome before.
fn dearer(project: &Project, key: &EntryKey, change: impl FnOnce(&mut Item)) -> (f64, Outcome) {
    let before = solved(project);
    let mut other = project.clone();
    change(&mut other.catalogue.entries.iter_mut().find(|entry| entry.key == *key).unwrap().item);
    let after = solved(&other);
    (after.numbers().unwrap().pump_pressure.si() - before.numbers().unwrap().pump_pressure.si(), before)
}

/// The loss of a coefficient at a flow through a bore: k ρ v²/2.
fn loss(outcome: &Outcome, k: f64, flow: f64, bore: Length) -> f64 {
    let velocity = flow / (PI / 4.0 * bore.si() * bore.si());
    k * outcome.liquid.as_ref().unwrap().density.si() * velocity * velocity / 2.0
}

#[test]
fn every_part_that_is_placed_stands_in_hoses_and_in_the_network() {
    for kind in placed() {
        let (session, id) = with(kind);
        let (project, routing) = (session.project(), session.routing());
        let item = item(&session, id);
        // Its ports are where they belong: apart from each other, and each takes something.
        let ports = item.ports();
        assert!(!ports.is_empty(), "{kind:?} has no ports");
        for (index, port) in ports.iter().enumerate() {
            for other in &ports[..index] {
                let apart = item.port_offset(*port).distance(item.port_offset(*other));
                assert!(apart > 0.01, "{kind:?}: {port} and {other} lie on each other");
            }
        }
        let on = |port| routing.on_port(PortRef { part: id, port });
        let outcome = solved(project);
        let found = outcome.part(id).unwrap();
        assert!(found.pressure.is_some_and(|one| one.si() > 1000.0), "{kind:?} is not in the network");
        match kind.facts().plumbing {
            Plumbing::InLine => {
                assert_eq!(routing.runs.len(), 2, "{kind:?} did not go into the hose");
                let run = |port| matches!(on(port)[..], [Connection::Run(_)]);
                assert!(run(Port::In) && run(Port::Out), "{kind:?} is not between its hoses");
                assert!(
                    outcome.rows().iter().any(|row| row.flow.si() != 0.0),
                    "{kind:?} lets nothing through"
                );
            }
            Plumbing::OnPort => {
                assert!(routing.part(id).unwrap().mount.is_some(), "{kind:?} is on no port");
            }
            Plumbing::ForRows => assert_eq!(on(Port::In).len(), 1),
        }
        // Its loss is in the pressures: with its coefficient doubled the pump gives what the formula says more.
        let (k, bore) = match item {
            PartItem::InletFilter(InletFilter { k, bore, .. })
            | PartItem::SectionValve(SectionValve { k, bore, .. })
            | PartItem::FlowMeter(FlowMeter { k, bore, .. })
            | PartItem::Manifold(Manifold { k, bore, .. }) => (k, bore),
            PartItem::Tee(Tee { k_through, bore, .. }) => (k_through, bore),
            PartItem::Gauge(_) | PartItem::BlankingPlug(_) => continue,
        };
        assert!(k > 0.0, "{kind:?}: a coefficient of 0 proves nothing");
        let (more, before) = dearer(project, &routing.part(id).unwrap().entry, |item| match item {
            Item::Part(
                PartItem::InletFilter(InletFilter { k, .. })
                | PartItem::SectionValve(SectionValve { k, .. })
                | PartItem::FlowMeter(FlowMeter { k, .. })
                | PartItem::Manifold(Manifold { k, .. }),
            ) => {
                *k *= 2.0;
            }
            Item::Part(PartItem::Tee(Tee { k_through, k_branch, .. })) => {
                *k_through *= 2.0;
                *k_branch *= 2.0;
            }
            _ => unreachable!(),
        });
        let expected = loss(&before, k, before.numbers().unwrap().total_flow.si(), bore);
        assert!(
            (more - expected).abs() < 1e-3 * expected + 1e-3,
            "{kind:?}: its loss is {expected} Pa, the pump gives {more} Pa more"
        );
    }
}

/// What a symbol is made of, so that two kinds are told apart.
fn looks(items: &[DrawItem]) -> Vec<(&'static str, usize, String)> {
    items
        .iter()
        .map(|item| match &item.shape {
            Shape::Line { points, dash, .. } => ("line", points.len(), format!("{dash:?}")),
            Shape::Polygon { points } => ("polygon", points.len(), format!("{:?}", item.fill)),
            Shape::Circle { .. } => ("circle", 0, format!("{:?}", item.fill)),
            Shape::Text(_) => ("text", 0, String::new()),
        })
        .collect()
}

#[test]
fn every_part_that_is_placed_is_drawn_and_described() {
    let mut seen: BTreeMap<Vec<(&str, usize, String)>, PartKind> = BTreeMap::new();
    for kind in placed() {
        let (session, id) = with(kind);
        let (project, routing) = (session.project(), session.routing());
        let item = item(&session, id);
        let subject = Subject::Part(id);
        let outcome = solved(project);
        let scene = bar_scene(
            project,
            RoutingGeometry::working(project, routing).with(routing),
            Some(&outcome),
            &SceneOptions::default(),
        );
        assert!(scene.items.iter().any(|item| item.subject == Some(subject)), "{kind:?} is not drawn");
        let signs = symbol(&item, Point3::default(), Angle::ZERO, Detail::Close);
        assert!(!signs.is_empty(), "{kind:?} has no symbol");
        if let Some(other) = seen.insert(looks(&signs), kind) {
            panic!("{kind:?} is drawn as {other:?} is");
        }
        let tag = &routing.part(id).unwrap().tag;
        let words = describe(
            project,
            RoutingGeometry::working(project, routing).with(routing),
            Some(&outcome),
            subject,
            UnitSystem::Metric,
        );
        assert!(words.to_lowercase().starts_with(kind.words()) && words.contains(tag), "{kind:?}: {words}");
        let card = card(
            project,
            RoutingGeometry::working(project, routing).with(routing),
            Some(&outcome),
            subject,
            UnitSystem::Metric,
        )
        .unwrap();
        assert!(card.kind.starts_with(kind.words()), "{kind:?}: {card:?}");
        let fact = |name| card.facts.iter().any(|(one, _)| *one == name);
        if item.passes_on() {
            assert!(words.contains("drop "), "{kind:?} passes liquid on, its loss is not described: {words}");
            assert!(
                fact("Takes") && (fact("Flow in") || fact("Reads")),
                "{kind:?} has no loss on its card: {card:?}"
            );
        }
        let linked = if kind.facts().plumbing == Plumbing::OnPort { "On" } else { "Fed by" };
        assert!(fact(linked), "{kind:?}: its card says not what it is on: {card:?}");
        let shown = shown(kind);
        let names: BTreeSet<&str> = card.facts.iter().map(|(name, _)| *name).collect();
        assert_eq!(names, shown.card.iter().copied().collect(), "{kind:?} on its card");
        for one in shown.says {
            assert!(words.contains(one), "{kind:?} is not described with {one}: {words}");
        }
    }
}

/// Half the length and half the depth of a kind that is placed, metres, and the size below which its symbol does not
/// shrink, points; by hand, so that a new kind is thought of. None where they follow from the entry.
const fn size_of(kind: PartKind) -> (Option<f64>, f64, f64) {
    match kind {
        PartKind::InletFilter => (Some(0.10), 0.10, 10.0),
        PartKind::Tee => (Some(0.06), 0.06, 3.6),
        PartKind::SectionValve => (Some(0.06), 0.06, 8.5),
        PartKind::FlowMeter => (Some(0.07), 0.07, 8.0),
        PartKind::Manifold => (None, 0.05, 8.5),
        PartKind::Gauge => (Some(0.06), 0.06, 8.0),
        PartKind::BlankingPlug => (Some(0.03), 0.03, 3.5),
    }
}

/// How far symbols reach along and across, metres.
fn reaches<'a>(items: impl Iterator<Item = &'a DrawItem>) -> (f64, f64) {
    let mut most = (0.0f64, 0.0f64);
    let mut take = |point: Point2, more: f64| {
        most = (most.0.max(point.x.abs() + more), most.1.max(point.y.abs() + more));
    };
    for item in items {
        match &item.shape {
            Shape::Line { points, .. } | Shape::Polygon { points } => {
                for point in points {
                    take(*point, 0.0);
                }
            }
            Shape::Circle { centre, radius } => take(*centre, *radius),
            Shape::Text(_) => {}
        }
    }
    most
}

/// What a part is picked and placed by is what is drawn of it: the symbol lies within its size and reaches its ends,
/// its ports are on that outline, and what grows is stretched by its own size.
#[test]
fn every_part_that_is_placed_is_as_large_as_it_is_drawn() {
    let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let catalogue = files::generic_catalogue();
    let mut wrong = Vec::new();
    let mut check = |right: bool, words: String| {
        if !right {
            wrong.push(words);
        }
    };
    for (key, item) in catalogue.of::<PartKey>() {
        let kind = item.item_kind();
        let (long, deep) = (item.body().half_length, item.body().half_depth);
        let (length, depth, least) = size_of(kind);
        let length = length.unwrap_or_else(|| match item {
            PartItem::Manifold(Manifold { outlets, spacing, .. }) => f64::from(*outlets) * spacing.si() / 2.0,
            _ => panic!("{key} has no length"),
        });
        check(close(long, length), format!("{key} is {long} m long"));
        check(close(deep, depth), format!("{key} is {deep} m deep"));
        let signs = symbol(item, Point3::default(), Angle::ZERO, Detail::Close);
        let (along, across) = reaches(signs.iter());
        check(close(along, long), format!("{key} is {long} m long and drawn {along} m long"));
        // Valves and plugs are slender, and are pointed at as if they were as deep as long.
        let fits = close(across, deep) || across < deep && close(deep, long);
        check(fits, format!("{key} is {deep} m deep and drawn {across} m deep"));
        for port in item.ports() {
            let at = item.port_offset(port);
            let (x, y) = (at.x.abs(), at.y.abs());
            let on = if kind.facts().plumbing == Plumbing::OnPort {
                // The stem is where the part is.
                at == Point2::default()
            } else {
                (close(x, long) && y < deep + 1e-9) || (close(y, deep) && x < long + 1e-9)
            };
            check(on, format!("{key}: its {port} at {at:?} is not on its outline"));
        }
        // What keeps readable is as large as it says, and from afar two thirds of that.
        for (detail, share) in [(Detail::Close, 1.0), (Detail::Overview, 0.66)] {
            let signs = symbol(item, Point3::default(), Angle::ZERO, detail);
            let grown = || signs.iter().filter(|one| one.grow.is_some());
            let grow = grown().next().and_then(|one| one.grow).unwrap();
            let (along, across) = reaches(grown());
            check(close(grow.along.half, along), format!("{key}: {grow:?}, drawn {along} m long"));
            let fits =
                close(grow.across.half, across) || across < deep && close(grow.across.half, grow.along.half);
            check(fits, format!("{key}: {grow:?}, drawn {across} m deep"));
            // A manifold's taps stay at their tubes.
            let lengthwise = if kind == PartKind::Manifold { 0.0 } else { least * share };
            check(close(grow.along.least, lengthwise), format!("{key}: {grow:?} shrinks too far along"));
            check(close(grow.across.least, least * share), format!("{key}: {grow:?} shrinks too far across"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// What a kind shows of itself.
struct Shown {
    /// All facts on its card.
    card: &'static [&'static str],
    /// Besides its name, for screen readers.
    says: &'static [&'static str],
    /// Which of its sides the layout's tables tell; empty where the port it is on tells it.
    turned: &'static str,
    /// Numbers that only some panels have.
    numbers: &'static [&'static str],
    /// Fields and ticks that only some panels have.
    set: &'static [&'static str],
    /// Buttons that only some panels have.
    buttons: &'static [&'static str],
}

/// By hand for every kind, so that a new one is thought of.
const fn shown(kind: PartKind) -> Shown {
    match kind {
        PartKind::InletFilter => Shown {
            card: &["Pressure in", "Pressure out", "Takes", "Flow in", "Fed by"],
            says: &["drop "],
            turned: "inlet faces",
            numbers: &["Pressure", "Flow in", "Pressure drop"],
            set: &[],
            buttons: &[],
        },
        PartKind::Tee => Shown {
            card: &["Pressure", "Flow in", "Fed by"],
            says: &["L/min"],
            turned: "branch faces",
            numbers: &["Pressure", "Flow in", "Pressure drop"],
            set: &[],
            buttons: &["To the other side"],
        },
        PartKind::FlowMeter => Shown {
            card: &["Pressure in", "Pressure out", "Takes", "Reads", "Fed by"],
            says: &["drop ", "reads "],
            turned: "inlet faces",
            numbers: &["Pressure", "Reads", "Pressure drop"],
            set: &[],
            buttons: &[],
        },
        PartKind::SectionValve => Shown {
            card: &["Pressure in", "Pressure out", "Takes", "Flow in", "Fed by"],
            says: &["drop "],
            turned: "inlet faces",
            numbers: &["Pressure", "Flow in", "Pressure drop"],
            set: &["shut"],
            buttons: &[],
        },
        PartKind::Manifold => Shown {
            card: &["Pressure in", "Flow in", "To its rows", "Passed on", "Rows", "Fed by"],
            says: &["feeds rows "],
            turned: "outlets face",
            numbers: &["Pressure", "Flow in", "Flow to its rows", "Flow passed on", "Its rows", "outlet"],
            set: &["Rows"],
            buttons: &[],
        },
        PartKind::Gauge => Shown {
            card: &["Reads", "On"],
            says: &["reads ", "on M1"],
            turned: "",
            numbers: &["Reads"],
            set: &[],
            buttons: &[],
        },
        PartKind::BlankingPlug => Shown {
            card: &["Pressure", "On"],
            says: &["on M1"],
            turned: "",
            numbers: &["Pressure"],
            set: &[],
            buttons: &[],
        },
    }
}

/// The fittings of a hose say by their threads how they join; without them, its bore decides.
#[test]
fn a_hose_of_another_bore_is_asked_about_at_every_part_that_takes_hoses() {
    for kind in placed().filter(|kind| kind.facts().plumbing != Plumbing::OnPort) {
        let (session, id) = with(kind);
        let mut project = session.project().clone();
        let tag = project.routings[0].part(id).unwrap().tag.clone();
        let stocks: Vec<StockKey> =
            project.routings[0].runs.iter().map(|run| run.line.stock.clone()).collect();
        for run in &mut project.routings[0].runs {
            run.fittings.clear();
        }
        for entry in &mut project.catalogue.entries {
            if let Item::Stock(StockItem::Hose(stock)) = &mut entry.item
                && stocks.iter().any(|key| *key == entry.key)
            {
                stock.bore = stock.bore * 0.5;
            }
        }
        let list = parts_list::parts_list(
            &project,
            RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
            project.duties.first(),
        );
        let lines = list.blocks.iter().filter_map(|block| match block {
            Block::Table(table) => Some(table.rows.iter()),
            _ => None,
        });
        let asked: Vec<String> = lines
            .flatten()
            .map(|cells| format!("{cells:?}"))
            .filter(|line| line.contains("Reducer or adapter: ask before ordering"))
            .collect();
        assert!(asked.iter().any(|line| line.contains(&tag)), "{kind:?}, {tag}, joins any hose: {asked:?}");
    }
}

fn pages(project: &Project, kind: SheetKind) -> Vec<Page> {
    let all = SheetOptions::all(project, Date::parse("2026-03-31").unwrap());
    let options = SheetOptions { kinds: vec![kind], paper: Paper::A3, ..all };
    sheet_set(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
    .unwrap()
    .pages
}

fn words(page: &Page) -> impl Iterator<Item = &str> {
    page.marks.iter().filter_map(|mark| match &mark.kind {
        MarkKind::Words(words) => Some(words.text.as_str()),
        _ => None,
    })
}

/// What the schematic's legend calls a part of a kind; a manifold is named in its frame.
const fn part_in_legend(kind: PartKind) -> &'static str {
    match kind {
        PartKind::InletFilter => "filter",
        PartKind::Tee => "connected",
        PartKind::SectionValve => "shut-off valve, open",
        PartKind::FlowMeter => "flow meter",
        PartKind::Manifold => "pump",
        PartKind::Gauge => "gauge",
        PartKind::BlankingPlug => "plugged",
    }
}

/// What the schematic's legend calls what a row feed is made of.
const fn in_legend(kind: ItemKind) -> &'static str {
    match kind {
        ItemKind::Part(kind) => part_in_legend(kind),
        ItemKind::Stock(StockKind::MeteringTube) => "metering tube",
        ItemKind::Element(ElementKind::MeteringOrifice) => "metering orifice",
        ItemKind::Element(ElementKind::FlowIndicator) => "flow indicator, with the least flow it shows",
        ItemKind::Element(ElementKind::CheckValve) => "check valve with spring, opens downwards",
        ItemKind::Fitting(FittingKind::Fitting) => "fitting",
        ItemKind::Stock(StockKind::Hose | StockKind::Tube) | ItemKind::Fitting(FittingKind::SmallTee) => {
            "row outlet"
        }
    }
}

/// Kinds that a row feed is made of.
fn of_feeds() -> impl Iterator<Item = ItemKind> {
    ItemKind::all().filter(|kind| match kind {
        ItemKind::Part(_) | ItemKind::Stock(StockKind::Hose) => false,
        ItemKind::Stock(StockKind::Tube | StockKind::MeteringTube)
        | ItemKind::Element(_)
        | ItemKind::Fitting(_) => true,
    })
}

#[test]
fn every_part_that_is_placed_is_on_schematic_and_layout() {
    for kind in placed() {
        let (session, id) = with(kind);
        let (project, routing) = (session.project(), session.routing());
        let part = routing.part(id).unwrap();
        let tag = &part.tag;
        let item = item(&session, id);
        let schematic = pages(project, SheetKind::Schematic);
        let symbol = schematic.iter().flat_map(|page| &page.marks).any(|mark| {
            let layer = if matches!(item, PartItem::Tee(_) | PartItem::Manifold(_)) {
                PaperLayer::Hose
            } else {
                PaperLayer::Part
            };
            mark.subject == Some(Subject::Part(id)) && mark.layer == layer
        });
        assert!(symbol, "{kind:?} has no sign on the schematic");
        assert!(
            schematic.iter().flat_map(words).any(|one| one.contains(tag.as_str())),
            "{kind:?} is not named on it"
        );
        assert!(
            schematic.iter().flat_map(words).any(|one| one == part_in_legend(kind)),
            "{kind:?} is not in its legend"
        );
        let layout = pages(project, SheetKind::Layout);
        let drawn = layout.iter().flat_map(|page| &page.marks);
        assert!(
            drawn
                .clone()
                .any(|mark| mark.subject == Some(Subject::Part(id)) && mark.layer == PaperLayer::Part),
            "{kind:?} is not on the layout"
        );
        if kind.facts().plumbing != Plumbing::OnPort {
            // Its tag, what it is, and where it is to be fitted.
            let all: Vec<&str> = layout.iter().flat_map(words).collect();
            // Beside it, or in the line of what has no room beside its part.
            let is_place = |one: &&str| one.starts_with("H ") || one.starts_with("C ");
            let mut named = (0..all.len()).filter(|at| all[*at] == tag.as_str());
            let beside = named.any(|at| all[at + 1..].iter().take(2).any(is_place));
            let said = all.join(" ");
            let opening = format!("{tag} (");
            let mut apart = said.split(opening.as_str()).skip(1).filter_map(|rest| rest.split(')').next());
            let apart = apart.any(|own| own.split("; ").any(|one| is_place(&one)));
            assert!(beside || apart, "{kind:?}: the layout says not where {tag} is");
            let turned = equirow::drawing::layout_tables::turned(
                project,
                RoutingGeometry::working(project, routing).with(routing),
                part,
            );
            let wanted = shown(kind).turned;
            assert!(
                !wanted.is_empty() && turned.starts_with(wanted),
                "{kind:?}: the papers say not which way it is turned: {turned}"
            );
        }
        let number = items::number_of(
            &items::items(project, RoutingGeometry::working(project, routing).with(routing)),
            &part.entry,
        );
        let number = number.unwrap_or_else(|| panic!("{kind:?} has no item number")).to_string();
        assert!(layout.iter().flat_map(words).any(|one| one == number), "{kind:?}: no balloon {number}");
    }
}

#[test]
fn every_part_that_is_placed_is_mirrored_copied_saved_and_removed() {
    for kind in placed() {
        let (mut session, id) = with(kind);
        let count = |session: &Session| {
            let routing = session.routing();
            let of = |part: &&equirow::plan::Part| {
                session.project().catalogue.item(&part.entry).map(PartItem::item_kind) == Some(kind)
            };
            routing.parts.iter().filter(of).count()
        };
        let text = files::write_text(session.project()).unwrap();
        let read = files::read_text(&text).unwrap();
        assert_eq!(read, *session.project(), "{kind:?} is not read back as it was saved");
        // In the mirror each hose ends where the mirrored port is.
        let before = session.routing().clone();
        session.mirror(Side::Left).unwrap();
        assert_eq!(count(&session), 2, "{kind:?} has no counterpart on the other wing");
        let catalogue = session.project().catalogue.clone();
        let twin = session
            .routing()
            .parts
            .iter()
            .find(|part| {
                before.part(part.id).is_none()
                    && catalogue.item(&part.entry).map(PartItem::item_kind) == Some(kind)
            })
            .unwrap();
        let routing = session.routing();
        let stood = Anchors::of(session.project(), &before);
        for port in before
            .connections()
            .filter(|(port, what)| port.part == id && matches!(what, Connection::Run(_)))
            .map(|one| one.0)
        {
            let wanted = stood.port(port).unwrap().place;
            let ports = catalogue.item(&twin.entry).unwrap().ports().into_iter();
            let used = ports
                .map(|port| PortRef { part: twin.id, port })
                .filter(|port| routing.on_port(*port).iter().any(|one| matches!(one, Connection::Run(_))));
            let mut places = used.filter_map(|port| session.geometry().anchors.port(port)).map(|at| at.place);
            assert!(
                places.any(|at| at.distance(Point3::new(-wanted.x, wanted.y, wanted.z)) < 1e-6),
                "{kind:?}: {} is not where the mirror shows it",
                port.port
            );
        }
        session.undo();
        session.select([Subject::Part(id)]);
        session.copy_selection().unwrap();
        session.paste().unwrap();
        click(&mut session, Point2::new(-4.6, -0.8));
        assert_eq!(count(&session), 2, "{kind:?} is not pasted");
        session.undo();
        session.take(Tool::Select);
        assert_eq!(count(&session), 1);
        session.select([Subject::Part(id)]);
        session.delete_selection().unwrap();
        assert_eq!(count(&session), 0, "{kind:?} is not removed");
        if kind.facts().plumbing == Plumbing::InLine {
            let runs = &session.routing().runs;
            assert!(
                matches!(&runs[..], [run] if matches!((run.from, run.to), (End::Supply, End::Port(_)) | (End::Port(_), End::Supply))),
                "{kind:?}: its hoses are not one again"
            );
        }
    }
}

fn text(document: &Document) -> String {
    use std::fmt::Write as _;
    let mut all = String::new();
    for block in &document.blocks {
        let _ = writeln!(all, "{block:?}");
        if let Block::Table(table) = block {
            let _ = writeln!(all, "{table:?}");
        }
    }
    all
}

#[test]
fn every_part_that_is_placed_is_on_the_lists() {
    for kind in placed() {
        let (session, id) = with(kind);
        let (project, routing) = (session.project(), session.routing());
        let part = routing.part(id).unwrap();
        let items = items::items(project, RoutingGeometry::working(project, routing).with(routing));
        let own = items.iter().find(|item| part.entry == item.entry).unwrap();
        assert!(own.pieces == 1 && own.tags == [part.tag.clone()], "{kind:?} is counted wrongly: {own:?}");
        let description = &project.catalogue.entry(&part.entry).unwrap().description;
        let list = text(&parts_list::parts_list(
            project,
            RoutingGeometry::working(project, routing).with(routing),
            project.duties.first(),
        ));
        assert!(list.contains(description.as_str()), "{kind:?} is not on the parts list");
        for (paper, document) in [
            (
                "list of joints",
                joint_list::joint_list(
                    project,
                    RoutingGeometry::working(project, routing).with(routing),
                    project.duties.first(),
                ),
            ),
            (
                "fitting steps",
                fitting_steps::fitting_steps(
                    project,
                    RoutingGeometry::working(project, routing).with(routing),
                    project.duties.first(),
                ),
            ),
        ] {
            assert!(text(&document).contains(&part.tag), "{kind:?}, {}, is not in the {paper}", part.tag);
        }
        // What goes between it and its hoses.
        if kind.facts().plumbing == Plumbing::InLine {
            let joints = text(&joint_list::joint_list(
                project,
                RoutingGeometry::working(project, routing).with(routing),
                project.duties.first(),
            ));
            let ends = routing.runs.iter().filter(|run| joints.contains(&run.tag)).count();
            assert_eq!(ends, 2, "{kind:?}: its hoses are not on the list of joints");
        }
    }
}

// ----------------------------------------------------------------------------------------------------------------
// What a row's liquid passes.

/// A feed of two rows with a part of every kind that goes into one.
fn shared() -> Session {
    let (mut session, manifold) = plumbed();
    let catalogue = files::generic_catalogue();
    let tube = || {
        let stock = catalogue.first(|item: &StockItem| item.item_kind() == StockKind::Tube).unwrap();
        FeedElement::Tube(Tube { line: Line::straight(stock), end: None })
    };
    let fitting = |kind: FittingKind| -> FittingKey {
        catalogue.first(|item: &FittingItem| item.item_kind() == kind).unwrap()
    };
    let trunk = vec![tube(), FeedElement::Fitting(fitting(FittingKind::Fitting))];
    let mut own: Vec<FeedElement> = ElementKind::ALL
        .iter()
        .map(|kind| {
            // An orifice wide enough to leave room for the metering tube behind it.
            let wide = |item: &ElementItem| !kind.is_metering() || item.bore().si() > 1.5e-3;
            let key: ElementKey =
                catalogue.first(|item: &ElementItem| item.item_kind() == *kind && wide(item)).unwrap();
            FeedElement::Piece(*kind, key)
        })
        .collect();
    let metering = FeedElement::MeteringTube {
        stock: StockKey::new("metering-tube-2.0"),
        length: Length::metres(0.5),
        coil: None,
    };
    own.insert(0, metering);
    let split = fitting(FittingKind::SmallTee);
    let rows: Vec<_> =
        session.routing().feeds.iter().flat_map(|feed| &feed.branches).map(|one| one.row).collect();
    let position = BarPoint::over(&session.project().bar, Point3::new(-4.0, 0.2, 0.6));
    let feed = RowFeed {
        id: FeedId(77),
        tag: "T77".to_owned(),
        from: End::Port(PortRef { part: manifold, port: Port::Outlet(1) }),
        trunk,
        split: Some(Split { entry: split, position }),
        branches: rows[..2]
            .iter()
            .map(|row| {
                let mut elements = vec![tube()];
                elements.extend(own.clone());
                Branch { row: *row, elements }
            })
            .collect(),
    };
    let mut routing = session.routing().clone();
    routing.feeds = vec![feed];
    session.edit("Share", [Edit::PutRouting(Box::new(routing))]).unwrap();
    session
}

#[test]
fn every_element_of_a_row_feed_is_in_the_network_on_the_drawings_and_on_the_lists() {
    let session = shared();
    let (project, routing) = (session.project(), session.routing());
    let feed = &routing.feeds[0];
    let outcome = solved(project);
    assert_eq!(outcome.rows().iter().filter(|row| row.flow.si() > 0.0).count(), 2);
    let words_of = describe(
        project,
        RoutingGeometry::working(project, routing).with(routing),
        Some(&outcome),
        Subject::Feed(feed.id),
        UnitSystem::Metric,
    );
    let items = items::items(project, RoutingGeometry::working(project, routing).with(routing));
    let list = text(&parts_list::parts_list(
        project,
        RoutingGeometry::working(project, routing).with(routing),
        project.duties.first(),
    ));
    let schematic = pages(project, SheetKind::Schematic);
    let layout = pages(project, SheetKind::Layout);
    let steps = text(&fitting_steps::fitting_steps(
        project,
        RoutingGeometry::working(project, routing).with(routing),
        project.duties.first(),
    ));
    let read = files::read_text(&files::write_text(project).unwrap()).unwrap();
    assert_eq!(read, *project, "a row feed is not read back as it was saved");
    let row_card = card(
        project,
        RoutingGeometry::working(project, routing).with(routing),
        Some(&outcome),
        Subject::Row(feed.branches[0].row),
        UnitSystem::Metric,
    )
    .unwrap();
    let total = outcome.numbers().unwrap().total_flow.si();
    for kind in of_feeds() {
        let key = feed
            .elements()
            .map(FeedElement::entry)
            .chain(feed.split.iter().map(|split| split.entry.any()))
            .find(|key| project.catalogue.any_item(key).unwrap().item_kind() == kind)
            .unwrap_or_else(|| panic!("{kind:?} is in no feed of this test"));
        // Its loss: what the pump gives more when it is made worse.
        let flow = total / 2.0;
        let (more, expected) = match *project.catalogue.any_item(key).unwrap() {
            Item::Fitting(FittingItem::Fitting(Fitting { k, bore, .. })) => {
                let more = dearer(project, key, |item| {
                    if let Item::Fitting(FittingItem::Fitting(Fitting { k, .. })) = item {
                        *k *= 2.0;
                    }
                })
                .0;
                // The hose from the pump has fittings of the same entry at its ends.
                let on_hoses =
                    routing.runs.iter().flat_map(|run| &run.fittings).filter(|one| **one == *key).count();
                (more, loss(&outcome, k, total, bore) * (1 + on_hoses) as f64)
            }
            Item::Element(ElementItem::CheckValve(CheckValve { k, bore, .. })) => {
                let more = dearer(project, key, |item| {
                    if let Item::Element(ElementItem::CheckValve(CheckValve { k, .. })) = item {
                        *k *= 2.0;
                    }
                })
                .0;
                (more, loss(&outcome, k, flow, bore))
            }
            Item::Element(ElementItem::FlowIndicator(FlowIndicator { k, bore, .. })) => {
                let more = dearer(project, key, |item| {
                    if let Item::Element(ElementItem::FlowIndicator(FlowIndicator { k, .. })) = item {
                        *k *= 2.0;
                    }
                })
                .0;
                (more, loss(&outcome, k, flow, bore))
            }
            Item::Fitting(FittingItem::SmallTee(SmallTee { k, bore, .. })) => {
                let more = dearer(project, key, |item| {
                    if let Item::Fitting(FittingItem::SmallTee(SmallTee { k, .. })) = item {
                        *k *= 2.0;
                    }
                })
                .0;
                (more, loss(&outcome, k, flow, bore))
            }
            Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { cd, bore, .. })) => {
                // Twice the loss at 1/√2 of the coefficient.
                let more = dearer(project, key, |item| {
                    if let Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { cd, .. })) = item {
                        *cd /= std::f64::consts::SQRT_2;
                    }
                })
                .0;
                (more, loss(&outcome, 1.0 / (cd * cd), flow, bore))
            }
            Item::Stock(StockItem::Tube(_) | StockItem::MeteringTube(_)) => {
                // Narrower by a tenth: far more, how much the losses of pipes say and are checked by themselves.
                let more = dearer(project, key, |item| {
                    if let Item::Stock(StockItem::Tube(stock) | StockItem::MeteringTube(stock)) = item {
                        stock.bore = stock.bore * 0.9;
                    }
                })
                .0;
                assert!(more > 10.0, "{kind:?}: narrower by a tenth costs {more} Pa");
                (more, more)
            }
            other @ (Item::Part(_) | Item::Stock(StockItem::Hose(_))) => panic!("{other:?} in a row feed"),
        };
        // Both rows are nearly alike, not to the last digit.
        assert!(
            (more - expected).abs() < 0.02 * expected + 0.5,
            "{kind:?}: its loss is {expected} Pa, the pump gives {more} Pa more"
        );
        if kind != ItemKind::Fitting(FittingKind::SmallTee) {
            assert!(words_of.contains(kind.words()), "{kind:?} is not described: {words_of}");
            let last = kind.words().split(' ').next_back().unwrap();
            let facts = format!("{:?}", row_card.facts).to_lowercase();
            assert!(facts.contains(last), "{kind:?} is not on the row's card: {facts}");
            if kind == ItemKind::Stock(StockKind::MeteringTube) {
                let length = format!("× {}", Measure::Distance.text(0.5, UnitSystem::Metric));
                assert!(words_of.contains(&length), "its length is not described: {words_of}");
                assert!(facts.contains(&length), "its length is not on the row's card: {facts}");
            }
        }
        assert!(
            schematic.iter().flat_map(words).any(|one| one == in_legend(kind)),
            "{kind:?} is not in the schematic's legend"
        );
        let number = items::number_of(&items, key).unwrap_or_else(|| panic!("{kind:?} has no item number"));
        let numbers = |one: &str| one.split(' ').any(|one| one == number.to_string());
        assert!(layout.iter().flat_map(words).any(numbers), "{kind:?}, item {number}, is not on the layout");
        let entry = project.catalogue.entry(key).unwrap();
        assert!(list.contains(&entry.description), "{kind:?} is not on the parts list");
        assert!(steps.contains(&number.to_string()), "{kind:?} is not in the fitting steps");
        if entry.item.is_cut() {
            let pieces = cut_plan::pieces(project, RoutingGeometry::working(project, routing).with(routing));
            assert!(pieces.iter().any(|piece| piece.stock == *key), "{kind:?} is not on the cut list");
        }
    }
}

/// A catalogue of one's own may say of tubes no more than that their ends are plain: outside they are a stem and inside a
/// bore, by their own sizes.
#[test]
fn a_tube_whose_words_give_no_size_is_joined_by_its_own() {
    let (session, _) = plumbed();
    let list = |tube: &str, outlets: &str| {
        let mut project = session.project().clone();
        let tube = StockKey::new(tube);
        for entry in &mut project.catalogue.entries {
            if tube == entry.key {
                "plain ends".clone_into(&mut entry.connection);
            }
            if matches!(entry.item, Item::Part(PartItem::Manifold(_))) {
                entry.connection = format!("outlets {outlets}");
            }
        }
        let element = match project.catalogue.item(&tube).unwrap() {
            StockItem::MeteringTube(_) => {
                FeedElement::MeteringTube { stock: tube, length: Length::metres(0.5), coil: None }
            }
            StockItem::Hose(_) | StockItem::Tube(_) => {
                FeedElement::Tube(Tube { line: Line::straight(tube), end: None })
            }
        };
        let feed = &mut project.routings[0].feeds[0];
        feed.trunk = vec![element];
        feed.split = None;
        feed.branches.truncate(1);
        feed.branches[0].elements.clear();
        let feed = feed.clone();
        project.routings[0].feeds = vec![feed];
        let routing = &project.routings[0];
        text(&parts_list::parts_list(
            &project,
            RoutingGeometry::working(&project, routing).with(routing),
            project.duties.first(),
        ))
    };
    let mut wrong = Vec::new();
    // Outside and bore in millimetres.
    for (tube, outside, bore) in [("tube-4", 6, 4), ("metering-tube-2.0", 4, 2)] {
        let reducer = format!("Push-in reducer 8 mm stem x push-in for {outside} mm tube");
        for (outlets, reduced, asked) in [
            ("8 mm push-in".to_owned(), true, false),
            (format!("{outside} mm push-in"), false, false),
            (format!("barb for {bore} mm tube"), false, false),
            (format!("barb for {outside} mm tube"), false, true),
        ] {
            let list = list(tube, &outlets);
            let found = (list.contains(&reducer), list.contains("joins the port"));
            if found != (reduced, asked) {
                wrong.push(format!("{tube} on {outlets}: reduced and asked about {found:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The signs of row feeds on the schematic: without an element its sign goes.
#[test]
fn every_element_of_a_row_feed_has_a_sign_on_the_schematic() {
    let session = shared();
    let marks = |project: &Project| {
        let pages = pages(project, SheetKind::Schematic);
        let feed = |mark: &&equirow::drawing::paper::Mark| {
            matches!(mark.subject, Some(Subject::Feed(_))) && mark.layer == PaperLayer::Part
        };
        pages.iter().flat_map(|page| page.marks.iter().filter(feed)).count()
    };
    let all = marks(session.project());
    let without_sign = [ItemKind::Stock(StockKind::Tube), ItemKind::Fitting(FittingKind::SmallTee)];
    for kind in of_feeds().filter(|kind| !without_sign.contains(kind)) {
        let mut project = session.project().clone();
        let catalogue = project.catalogue.clone();
        let keep = |one: &FeedElement| catalogue.any_item(one.entry()).unwrap().item_kind() != kind;
        let feed = &mut project.routings[0].feeds[0];
        feed.trunk.retain(keep);
        for branch in &mut feed.branches {
            branch.elements.retain(keep);
        }
        assert!(marks(&project) < all, "{kind:?} has no sign of its own");
    }
}

/// The same on the drawing to scale. A fitting is as wide as its tube, and a tube is its line.
#[test]
fn every_element_of_a_row_feed_has_a_symbol_on_the_drawing_to_scale() {
    let session = shared();
    let marks = |project: &Project, lines: bool| {
        let options = SceneOptions { detail: Detail::Close, ..SceneOptions::default() };
        let scene = bar_scene(
            project,
            RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
            None,
            &options,
        );
        let mark = |item: &&DrawItem| {
            matches!(item.subject, Some(Subject::Feed(_)))
                && matches!(item.shape, Shape::Line { .. }) == lines
        };
        scene.items.iter().filter(mark).count()
    };
    for kind in ItemKind::all() {
        let drawn = match kind {
            ItemKind::Stock(StockKind::MeteringTube | StockKind::Tube) | ItemKind::Element(_) => true,
            ItemKind::Fitting(FittingKind::Fitting) => false,
            ItemKind::Part(
                PartKind::InletFilter
                | PartKind::Tee
                | PartKind::SectionValve
                | PartKind::FlowMeter
                | PartKind::Manifold
                | PartKind::Gauge
                | PartKind::BlankingPlug,
            )
            | ItemKind::Stock(StockKind::Hose) => continue,
            // A dot where it sits.
            ItemKind::Fitting(FittingKind::SmallTee) => {
                let project = session.project();
                let scene = bar_scene(
                    project,
                    RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
                    None,
                    &SceneOptions::default(),
                );
                let at = project.routings[0].feeds[0].split.as_ref().unwrap().position.place.flat();
                let dot = |item: &DrawItem| {
                    matches!(item.shape, Shape::Circle { centre, .. } if centre.distance(at) < 1e-9)
                        && matches!(item.subject, Some(Subject::Feed(_)))
                };
                assert!(scene.items.iter().any(dot), "a small tee has no dot");
                continue;
            }
        };
        let mut project = session.project().clone();
        let catalogue = project.catalogue.clone();
        let other = |key: &EntryKey| catalogue.any_item(key).unwrap().item_kind() != kind;
        let feed = &mut project.routings[0].feeds[0];
        feed.trunk.retain(|one| other(one.entry()));
        for branch in &mut feed.branches {
            branch.elements.retain(|one| other(one.entry()));
        }
        let lines = kind == ItemKind::Stock(StockKind::Tube);
        let less = marks(&project, lines) < marks(session.project(), lines);
        assert_eq!(less, drawn, "{kind:?} on the drawing to scale");
    }
}

/// What meters a row stands beside its sign on the schematic and in the layout's table of rows.
#[test]
fn every_metering_element_has_its_size_on_schematic_and_layout() {
    let session = shared();
    for (kind, on_schematic, in_table) in [
        (ItemKind::Element(ElementKind::MeteringOrifice), "Ø1.6", "1.6"),
        (ItemKind::Stock(StockKind::MeteringTube), "Ø2.0 × 500", "2.0 × 500"),
    ] {
        let mut project = session.project().clone();
        let catalogue = project.catalogue.clone();
        for branch in &mut project.routings[0].feeds[0].branches {
            branch.elements.retain(|one| {
                !one.is_metering() || catalogue.any_item(one.entry()).unwrap().item_kind() == kind
            });
        }
        let schematic = pages(&project, SheetKind::Schematic);
        assert!(
            schematic.iter().flat_map(words).any(|one| one == on_schematic),
            "{kind:?}: no {on_schematic}"
        );
        let layout = pages(&project, SheetKind::Layout);
        let mut all = layout.iter().flat_map(words);
        assert!(all.any(|one| one.contains(in_table)), "{kind:?}: no {in_table} on the layout");
    }
}

#[test]
fn a_shut_valve_is_another_sign_of_the_legend() {
    let (session, id) = with(PartKind::SectionValve);
    let mut project = session.project().clone();
    for shut in [false, true] {
        project.routings[0].parts.iter_mut().find(|part| part.id == id).unwrap().shut = shut;
        let schematic = pages(&project, SheetKind::Schematic);
        for (name, wanted) in [("shut-off valve, shut", shut), ("shut-off valve, open", !shut)] {
            assert_eq!(
                schematic.iter().flat_map(words).any(|one| one == name),
                wanted,
                "{name}, shut: {shut}"
            );
        }
    }
}

/// The list of tools has a button for every kind, and what is selected is called what it is.
mod window {
    use egui_kittest::kittest::Queryable as _;

    use eframe::egui::accesskit::Role;

    use equirow::plan::{PartId, Plumbing};
    use equirow::session::Session;
    use equirow::session::properties::{Property, PropertyValue};

    use super::{BTreeSet, PartKind, Point2, Port, PortRef, Subject, place, placed, shown, with};

    #[test]
    fn every_part_that_is_placed_is_in_the_list_of_tools_and_named_in_the_details() {
        for kind in placed() {
            let (mut session, id) = with(kind);
            session.select([Subject::Part(id)]);
            let tag = session.routing().part(id).unwrap().tag.clone();
            let harness = crate::support::open(session);
            let name = kind.words();
            let name = name[..1].to_uppercase() + &name[1..];
            assert!(
                harness.query_all_by_label(&name).next().is_some(),
                "{kind:?} is not in the list of tools"
            );
            assert!(crate::support::says(&harness, &tag), "{tag} is not named");
        }
    }
    #[test]
    fn every_part_that_is_placed_has_its_own_numbers_and_settings_in_the_details() {
        let all = |of: fn(PartKind) -> &'static [&'static str]| -> BTreeSet<&str> {
            placed().flat_map(of).copied().collect()
        };
        let (numbers, set) = (all(|kind| shown(kind).numbers), all(|kind| shown(kind).set));
        let buttons = all(|kind| shown(kind).buttons);
        for kind in placed() {
            let (mut session, id) = with(kind);
            session.select([Subject::Part(id)]);
            let harness = crate::support::open(session);
            let there = |name: &str, roles: &[Role]| {
                let is = |words: Option<String>| words.is_some_and(|words| words == name);
                let found = harness.query_all_by(|node| {
                    roles.contains(&node.role()) && (is(node.label()) || is(node.value()))
                });
                found.count() > 0
            };
            for name in &numbers {
                let wanted = shown(kind).numbers.contains(name);
                assert_eq!(there(name, &[Role::Label]), wanted, "{kind:?}: {name} in its panel");
            }
            for name in &set {
                let wanted = shown(kind).set.contains(name);
                assert_eq!(
                    there(name, &[Role::TextInput, Role::CheckBox]),
                    wanted,
                    "{kind:?}: {name} can be set in its panel"
                );
            }
            for name in &buttons {
                let wanted = shown(kind).buttons.contains(name);
                assert_eq!(there(name, &[Role::Button]), wanted, "{kind:?}: the button {name} in its panel");
            }
        }
    }

    /// Two parts of a kind.
    fn two(kind: PartKind) -> (Session, [PartId; 2]) {
        let (mut session, one) = with(kind);
        let at = match kind.facts().plumbing {
            Plumbing::InLine => Point2::new(-1.8, 0.6),
            Plumbing::OnPort => {
                // The other of the manifold's two free ports.
                let port = if kind == PartKind::Gauge { Port::Out } else { Port::Gauge };
                let part = session.routing().parts[0].id;
                session.geometry().anchors.port(PortRef { part, port }).unwrap().place.flat()
            }
            Plumbing::ForRows => Point2::new(-4.6, -0.8),
        };
        let other = place(&mut session, kind, at);
        (session, [one, other])
    }

    /// The tick of a name: none where there is none.
    fn tick(harness: &crate::support::Window, name: &str) -> bool {
        let named = |label: Option<String>| label.is_some_and(|label| label == name);
        harness.query_all_by(|node| node.role() == Role::CheckBox && named(node.label())).next().is_some()
    }

    #[test]
    fn several_parts_of_every_kind_are_set_together() {
        for kind in placed() {
            let (mut session, both) = two(kind);
            session.select(both.map(Subject::Part));
            let harness = crate::support::open(session);
            assert!(crate::support::says(&harness, "2 parts"), "{kind:?}");
            let sizes = harness.query_all_by(|node| {
                node.role() == Role::ComboBox && node.label().is_some_and(|label| label.starts_with("Size: "))
            });
            assert_eq!(sizes.count(), 1, "{kind:?}: several have no list of sizes");
            let wanted = shown(kind).set.contains(&"shut");
            assert_eq!(tick(&harness, "shut"), wanted, "{kind:?}: several are shut together");
        }
    }

    #[test]
    fn several_valves_are_shut_and_opened_in_one_step() {
        let (mut session, both) = two(PartKind::SectionValve);
        session.set(Property::Shut, &[Subject::Part(both[0])], PropertyValue::Yes(true)).unwrap();
        session.select(both.map(Subject::Part));
        let mut harness = crate::support::open(session);
        let shut = |harness: &crate::support::Window| {
            both.map(|id| harness.state().session.routing().part(id).unwrap().shut)
        };
        assert!(tick(&harness, "shut (mixed)"), "one is open and one is shut");
        crate::support::click(&mut harness, Role::CheckBox, "shut (mixed)");
        assert_eq!(shut(&harness), [true, true]);
        crate::support::click(&mut harness, Role::CheckBox, "shut");
        assert_eq!(shut(&harness), [false, false]);
        harness.state_mut().session.undo();
        assert_eq!(shut(&harness), [true, true], "one step");
        // With another kind among them there is nothing to shut.
        let manifold = harness.state().session.routing().parts[0].id;
        harness.state_mut().session.select([both[0], manifold].map(Subject::Part));
        harness.run_ok();
        assert!(!tick(&harness, "shut") && !tick(&harness, "shut (mixed)"));
    }
}
