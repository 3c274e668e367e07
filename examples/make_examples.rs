//! Builds the example bars and the generic catalogue, and writes them into `examples/`:
//! `cargo run --example make_examples`.
//!
//! The bars are invented; their sizes are typical of the trade (common practice, no source). All stocks and parts
//! are generic: numbers that anyone can measure, part numbers made up here, no prices. Loss coefficients are
//! ordinary handbook magnitudes, and the discharge coefficient of the orifices is one for a thick plate; both
//! are values to calibrate.

#![expect(clippy::expect_used, reason = "a tool for whoever changes the examples: it stops where it fails")]

use equirow::plan::{
    BlankingPlug, CheckValve, Fitting, FittingForm, FlowIndicator, FlowMeter, Gauge, InletFilter, Manifold,
    MeteringOrifice, SectionValve, SmallTee, Tee,
};
use std::path::Path;

use equirow::files::{write_catalogue, write_text};
use equirow::geometry::Point3;
use equirow::plan::edit::apply;
use equirow::plan::liquids::generic_liquids;
use equirow::plan::project::FIRST_DUTY;
use equirow::plan::{
    Anchors, Bar, BarPoint, Branch, Catalogue, CatchTests, CauseWeights, Control, Duties, Duty, DutyId, Edit,
    ElementItem, ElementKind, End, Entry, EntryKey, FeedElement, FeedId, FittingItem, FittingKey,
    FrameMember, Hinge, HingeCrossing, HoseStock, Item, Key, Limits, Line, Liquid, LiquidPoint,
    ManifoldInlet, Part, PartId, PartItem, PartKey, Port, PortRef, Project, ReliefValve, Routing, RoutingId,
    Row, RowFeed, RowId, RowWidths, Run, RunId, Section, SectionId, Source, Split, Spreads, StockItem,
    Supply, TagLetters, TitleBlock, TransportLimits, Tube, WettedMaterial,
};
use equirow::quantities::{
    Angle, ApplicationRate, Density, Flow, Length, Pressure, Ratio, Speed, Temperature, UnitSystem, Viscosity,
};

fn main() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    for (name, text) in all() {
        std::fs::write(folder.join(name), text).expect("the examples folder can be written");
        println!("examples/{name}");
    }
}

/// Every file this tool makes: its name and its text.
pub(crate) fn all() -> Vec<(&'static str, String)> {
    let text = |project: &Project| {
        let mut project = project.clone();
        // As an edit leaves it: coordinates to a tenth of a millimetre.
        for routing in project.routings.clone() {
            apply(&mut project, Edit::PutRouting(Box::new(routing))).expect("the example is valid");
        }
        write_text(&project).expect("the example is valid")
    };
    vec![
        ("generic-catalogue.ron", write_catalogue(&catalogue()).expect("the catalogue is valid")),
        ("nine-metre-bar.ron", text(&nine_metre_bar())),
        ("six-metre-trial-bar.ron", text(&six_metre_trial_bar())),
        ("twelve-metre-bar.ron", text(&twelve_metre_bar())),
        ("twenty-four-metre-bar.ron", text(&twenty_four_metre_bar())),
    ]
}

/// Height of the frame's rails, metres.
const RAIL: f64 = 0.9;
/// The examples keep the letters that they were first tagged with, as projects of version 1 do.
const TAG_LETTERS: TagLetters = TagLetters::TeesJRowFeedsT;
/// Height of parts and hoses on the frame, metres.
const ON_FRAME: f64 = 1.0;
/// Height of a row's outlet at work, metres.
const OUTLET: f64 = 0.05;
/// Room that a delivery tube of 6 mm bore takes to turn, metres: a little more than its least bend radius.
const TUBE_BEND: f64 = 0.045;

// The catalogue.

fn key<K: Key>(text: &str) -> K {
    K::of_entry(EntryKey::new(text))
}

const fn mm(value: f64) -> Length {
    Length::millimetres(value)
}

/// The generic catalogue.
pub(crate) fn catalogue() -> Catalogue {
    let mut entries: Vec<Entry> = Vec::new();
    let mut add = |key: String, description: String, item: Item| {
        let part_number = format!("GEN-{:03}", entries.len() + 1);
        // Rolls as they are usual (common practice, no source).
        let roll = match item {
            Item::Stock(StockItem::Hose(_)) => Some(Length::metres(30.0)),
            Item::Stock(StockItem::Tube(_)) => Some(Length::metres(100.0)),
            Item::Stock(StockItem::MeteringTube(_)) => Some(Length::metres(50.0)),
            _ => None,
        };
        let connection = connection(&item, &key);
        entries.push(Entry {
            key: EntryKey(key),
            description,
            part_number,
            connection,
            price: None,
            roll,
            materials: materials(&item),
            calibrated: None,
            item,
        });
    };
    let smooth = mm(0.0015);
    for (bore, outside, bend) in [
        (8.0, 13.0, 60.0),
        (10.0, 16.0, 80.0),
        (12.0, 19.0, 100.0),
        (16.0, 23.0, 140.0),
        (19.0, 27.0, 170.0),
        (25.0, 34.0, 230.0),
        (32.0, 42.0, 320.0),
    ] {
        let stock = HoseStock {
            bore: mm(bore),
            outside: mm(outside),
            roughness: smooth,
            bend_radius: mm(bend),
            rated: Pressure::bar(10.0),
            stiffness: None,
            weight: None,
        };
        add(format!("hose-{bore}"), format!("Hose, {bore} mm bore"), Item::Stock(StockItem::Hose(stock)));
    }
    for (bore, outside, bend) in [(4.0, 6.0, 25.0), (6.0, 8.0, 40.0), (8.0, 10.0, 60.0)] {
        let stock = HoseStock {
            bore: mm(bore),
            outside: mm(outside),
            roughness: smooth,
            bend_radius: mm(bend),
            rated: Pressure::bar(9.0),
            stiffness: None,
            weight: None,
        };
        add(
            format!("tube-{bore}"),
            format!("Delivery tube, {bore} mm bore"),
            Item::Stock(StockItem::Tube(stock)),
        );
    }
    for (bore, outside, bend) in [(1.0, 3.0, 20.0), (1.5, 3.0, 20.0), (2.0, 4.0, 25.0)] {
        let stock = HoseStock {
            bore: mm(bore),
            outside: mm(outside),
            roughness: smooth,
            bend_radius: mm(bend),
            rated: Pressure::bar(9.0),
            stiffness: None,
            weight: None,
        };
        add(
            format!("metering-tube-{bore:.1}"),
            format!("Metering tube, {bore:.1} mm bore, cut to length"),
            Item::Stock(StockItem::MeteringTube(stock)),
        );
    }
    for bore in [0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6] {
        let item = Item::Element(ElementItem::MeteringOrifice(MeteringOrifice {
            bore: mm(bore),
            cd: 0.72,
            thickness: mm(1.5),
            creeping: false,
            rated: Some(Pressure::bar(10.0)),
        }));
        add(format!("orifice-{bore:.1}"), format!("Metering orifice, {bore:.1} mm, thick plate"), item);
    }
    for (cracking, closing) in [(0.10_f64, 0.07_f64), (0.20, 0.18), (0.35, 0.30)] {
        let item = Item::Element(ElementItem::CheckValve(CheckValve {
            cracking: Pressure::from_si((cracking * 1e5).round()),
            closing: Pressure::from_si((closing * 1e5).round()),
            k: 3.0,
            bore: mm(4.0),
            rated: Pressure::bar(8.0),
        }));
        add(format!("check-valve-{cracking:.2}"), format!("Check valve, opens at {cracking:.2} bar"), item);
    }
    for (bore, opening) in [(19.0, 300.0), (25.0, 300.0), (25.0, 150.0), (32.0, 300.0)] {
        let item = Item::Part(PartItem::InletFilter(InletFilter {
            bore: mm(bore),
            k: 6.0,
            opening: Length::metres(opening / 1e6),
            rated: Pressure::bar(8.0),
        }));
        add(
            format!("filter-{bore}-{opening}"),
            format!("Inlet filter, {bore} mm ports, {opening} µm mesh"),
            item,
        );
    }
    for bore in [12.0, 19.0, 25.0, 32.0] {
        let item = Item::Part(PartItem::Tee(Tee {
            bore: mm(bore),
            k_through: 0.4,
            k_branch: 1.2,
            rated: Pressure::bar(10.0),
        }));
        add(format!("tee-{bore}"), format!("Tee, {bore} mm"), item);
    }
    for bore in [12.0, 19.0] {
        let item = Item::Part(PartItem::SectionValve(SectionValve {
            bore: mm(bore),
            k: 0.8,
            rated: Pressure::bar(10.0),
        }));
        add(format!("section-valve-{bore}"), format!("Section valve, {bore} mm"), item);
    }
    for (inlet, word, with) in
        [(ManifoldInlet::End, "end", "at its end"), (ManifoldInlet::Middle, "middle", "in its middle")]
    {
        for outlets in [6, 8, 10, 12, 14] {
            let item = Item::Part(PartItem::Manifold(Manifold {
                outlets,
                spacing: mm(50.0),
                bore: mm(20.0),
                k: 1.0,
                inlet,
                rated: Pressure::bar(8.0),
            }));
            add(
                format!("manifold-{outlets}-{word}"),
                format!("Manifold, {outlets} outlets, inlet {with}"),
                item,
            );
        }
    }
    add(
        "gauge-6".to_owned(),
        "Gauge, 0 to 6 bar".to_owned(),
        Item::Part(PartItem::Gauge(Gauge { full_scale: Pressure::bar(6.0) })),
    );
    add(
        "gauge-10".to_owned(),
        "Gauge, 0 to 10 bar".to_owned(),
        Item::Part(PartItem::Gauge(Gauge { full_scale: Pressure::bar(10.0) })),
    );
    add(
        "plug".to_owned(),
        "Blanking plug for a manifold outlet".to_owned(),
        Item::Part(PartItem::BlankingPlug(BlankingPlug { rated: Pressure::bar(10.0) })),
    );
    add(
        "small-tee-4".to_owned(),
        "Small tee, 4 mm".to_owned(),
        Item::Fitting(FittingItem::SmallTee(SmallTee {
            bore: mm(4.0),
            k: 1.3,
            rated: Some(Pressure::bar(10.0)),
        })),
    );
    for (hose, bore) in
        [(8.0, 6.0), (10.0, 8.0), (12.0, 9.5), (16.0, 13.0), (19.0, 15.5), (25.0, 21.0), (32.0, 27.0)]
    {
        add(
            format!("barb-{hose}"),
            format!("Hose barb for {hose} mm hose, {bore} mm bore"),
            Item::Fitting(FittingItem::Fitting(Fitting {
                bore: mm(bore),
                k: 0.5,
                form: FittingForm::Straight,
                rated: Some(Pressure::bar(10.0)),
            })),
        );
    }
    // Last, so that what was there before keeps its part number.
    for (bore, least, greatest) in [(12.0, 2.0, 40.0), (19.0, 5.0, 100.0)] {
        let item = Item::from(FlowMeter {
            bore: mm(bore),
            k: 1.5,
            least: Flow::litres_per_minute(least),
            greatest: Flow::litres_per_minute(greatest),
            rated: Pressure::bar(10.0),
        });
        add(
            format!("flow-meter-{bore}"),
            format!("Flow meter, {bore} mm, {least} to {greatest} L/min"),
            item,
        );
    }
    for (bore, shows) in [(3.0, 0.1), (5.0, 0.3)] {
        let item = Item::from(FlowIndicator {
            k: 3.0,
            bore: mm(bore),
            shows_from: Flow::litres_per_minute(shows),
            rated: Pressure::bar(8.0),
        });
        add(
            format!("flow-indicator-{bore}"),
            format!("Flow indicator for a row, {bore} mm, shows from {shows} L/min"),
            item,
        );
    }
    // Full scales of EN 837-1.
    for scale in [2.5, 4.0] {
        add(
            format!("gauge-{scale}"),
            format!("Gauge, 0 to {scale} bar"),
            Item::Part(PartItem::Gauge(Gauge { full_scale: Pressure::bar(scale) })),
        );
    }
    // With the thread of the next sizes of ports, and elbows, whose loss is that of a barb and a turn (invented).
    for (hose, bore, port) in [
        (8.0, 6.0, 12.0),
        (10.0, 8.0, 12.0),
        (12.0, 9.5, 19.0),
        (16.0, 13.0, 19.0),
        (19.0, 15.5, 12.0),
        (19.0, 15.5, 25.0),
        (19.0, 15.5, 32.0),
        (25.0, 21.0, 19.0),
        (25.0, 21.0, 32.0),
        (32.0, 27.0, 25.0),
    ] {
        add(
            format!("barb-{hose}-thread-{port}"),
            format!("Hose barb for {hose} mm hose, {bore} mm bore, {} thread", thread(mm(port))),
            Item::Fitting(FittingItem::Fitting(Fitting {
                bore: mm(bore),
                k: 0.5,
                form: FittingForm::Straight,
                rated: Some(Pressure::bar(10.0)),
            })),
        );
    }
    for (hose, bore, port) in [
        (8.0, 6.0, 8.0),
        (10.0, 8.0, 10.0),
        (12.0, 9.5, 12.0),
        (12.0, 9.5, 19.0),
        (16.0, 13.0, 16.0),
        (16.0, 13.0, 19.0),
        (19.0, 15.5, 19.0),
        (19.0, 15.5, 25.0),
        (25.0, 21.0, 25.0),
        (25.0, 21.0, 32.0),
        (32.0, 27.0, 32.0),
    ] {
        add(
            format!("elbow-{hose}-thread-{port}"),
            format!("Elbow for {hose} mm hose, {bore} mm bore, {} thread", thread(mm(port))),
            Item::Fitting(FittingItem::Fitting(Fitting {
                bore: mm(bore),
                k: 1.3,
                form: FittingForm::Elbow,
                rated: Some(Pressure::bar(10.0)),
            })),
        );
    }
    Catalogue { entries }
}

/// What of an item touches the liquid: invented, of what such parts are made of where nitrogen solutions are placed. Fittings,
/// whose material is the dealer's choice, say nothing.
fn materials(item: &Item) -> Vec<WettedMaterial> {
    use WettedMaterial::{Epdm, FluoroElastomer, Polyamide, Polyethylene, Polypropylene, StainlessSteel};
    match item {
        Item::Stock(StockItem::Hose(_)) => vec![Epdm],
        Item::Stock(StockItem::Tube(_)) => vec![Polyethylene],
        Item::Stock(StockItem::MeteringTube(_)) => vec![Polyamide],
        Item::Element(ElementItem::MeteringOrifice(_)) => vec![StainlessSteel, Polypropylene],
        Item::Element(ElementItem::CheckValve(_)) => vec![StainlessSteel, Polypropylene, FluoroElastomer],
        Item::Element(ElementItem::FlowIndicator(_)) => vec![Polypropylene, Epdm],
        Item::Part(PartItem::Tee(_) | PartItem::BlankingPlug(_) | PartItem::Manifold(_)) => {
            vec![Polypropylene]
        }
        Item::Part(PartItem::InletFilter(_)) => vec![StainlessSteel, Polypropylene, Epdm],
        Item::Part(PartItem::SectionValve(_) | PartItem::FlowMeter(_)) => {
            vec![StainlessSteel, Polypropylene, FluoroElastomer]
        }
        Item::Part(PartItem::Gauge(_)) => vec![StainlessSteel],
        Item::Fitting(FittingItem::SmallTee(_) | FittingItem::Fitting(_)) => Vec::new(),
    }
}

/// The pipe thread (ISO 228-1) that goes with a hose of a bore (common practice, no source).
const fn thread(bore: Length) -> &'static str {
    match (bore.si() * 1e4) as u32 {
        0..100 => "G 1/4",
        100..120 => "G 3/8",
        120..180 => "G 1/2",
        180..240 => "G 3/4",
        240..300 => "G 1",
        _ => "G 1 1/4",
    }
}

/// How the ends of an item are made: invented, for a bar that can be ordered.
fn connection(item: &Item, key: &str) -> String {
    let outside = |stock: &HoseStock| (stock.outside.si() * 1e3).round();
    match item {
        Item::Part(
            PartItem::InletFilter(InletFilter { bore, .. })
            | PartItem::SectionValve(SectionValve { bore, .. }),
        ) => {
            format!("{} internal thread, both ports", thread(*bore))
        }
        Item::Part(PartItem::FlowMeter(FlowMeter { bore, .. })) => {
            format!("{} internal thread, both ports", thread(*bore))
        }
        Item::Element(ElementItem::FlowIndicator(_)) => "push-in for 8 mm tube in, 8 mm stem out".to_owned(),
        Item::Part(PartItem::Tee(Tee { bore, .. })) => format!("{} internal thread, three", thread(*bore)),
        Item::Part(PartItem::Manifold(Manifold { bore, inlet, .. })) => {
            // With the inlet at one end there is no end without a port.
            let other = if *inlet == ManifoldInlet::Middle { "other end closed, no port; " } else { "" };
            let thread = thread(*bore);
            format!(
                "inlet {thread} internal; gauge port G 1/4 internal, plugged; far end {thread} internal, plugged; \
                 {other}outlets 8 mm push-in"
            )
        }
        Item::Part(PartItem::Gauge(_)) => "G 1/4 external thread, below".to_owned(),
        Item::Part(PartItem::BlankingPlug(_)) => "8 mm stem".to_owned(),
        Item::Stock(StockItem::Hose(stock)) => format!("plain ends, {} mm outside", outside(stock)),
        Item::Stock(StockItem::Tube(stock)) => format!("plain ends, {} mm outside", outside(stock)),
        Item::Stock(StockItem::MeteringTube(stock)) => {
            format!(
                "plain ends, {} mm outside; with end fittings: push-in for an 8 mm stem in, 8 mm stem out to the opener's \
                 outlet",
                outside(stock)
            )
        }
        Item::Element(ElementItem::MeteringOrifice(_)) => {
            "holder, push-in for an 8 mm stem in, 8 mm stem out to the opener's outlet".to_owned()
        }
        Item::Element(ElementItem::CheckValve(_)) => "push-in for 8 mm tube in, 8 mm stem out".to_owned(),
        Item::Fitting(FittingItem::SmallTee(_)) => "push-in for 8 mm tube, three".to_owned(),
        Item::Fitting(FittingItem::Fitting(_)) => {
            let mut sizes = key.split('-').filter_map(|word| word.parse().ok());
            let hose = sizes.next().unwrap_or_default();
            let port = sizes.next().unwrap_or(hose);
            format!("{} external thread, barb for {hose} mm hose", thread(mm(port)))
        }
    }
}

// Bars.

/// Width of the rails' profile, metres.
const PROFILE: f64 = 0.1;

/// What a bar is made from.
struct Shape {
    /// Row spacing, whole millimetres.
    spacing: u32,
    /// Rows of each section, left to right; an odd count of sections, the middle one the centre.
    sections: &'static [u32],
    /// Names of the sections on one side, from the centre outwards; `left` or `right` is added.
    names: &'static [&'static str],
    /// Direction of each hinge line, its height, the right side's folded angle, degrees, and the step of folding in which it
    /// turns, from the centre outwards.
    hinges: &'static [(Point3, f64, f64, u8)],
    /// How far forward each rank and the rail above it is.
    ranks: &'static [f64],
    /// The ranks of neighbouring rows, again and again.
    pattern: &'static [usize],
}

fn metres(millimetres: i64) -> f64 {
    millimetres as f64 / 1000.0
}

fn build_bar(shape: &Shape) -> Bar {
    let middle = shape.sections.len() / 2;
    let spacing = i64::from(shape.spacing);
    let half: i64 = shape.sections.iter().map(|rows| i64::from(*rows)).sum::<i64>() * spacing / 2;
    // Ends of the sections, millimetres from the centre.
    let mut edges = vec![-half];
    for rows in shape.sections {
        edges.push(edges[edges.len() - 1] + i64::from(*rows) * spacing);
    }
    // The centre first, then outwards in pairs, so that a parent stands before its children.
    let mut order = vec![middle];
    for out in 1..=middle {
        order.extend([middle - out, middle + out]);
    }
    let id_of =
        |index: usize| SectionId(order.iter().position(|one| *one == index).map_or(0, |at| at as u32 + 1));
    let (front, back) = (shape.ranks[0], shape.ranks[shape.ranks.len() - 1]);
    let sections = order
        .iter()
        .map(|&index| {
            let (left, right) = (edges[index], edges[index + 1]);
            let out = index.abs_diff(middle);
            let is_right = index > middle;
            let side = if is_right { "right" } else { "left" };
            let hinge = (out > 0).then(|| {
                let (axis, height, folded, step) = shape.hinges[out - 1];
                // A wing that folds forward closes on the front face of its frame: there is the pin, as on a door. One that folds up
                // follows the ground by 5 degrees downwards, which is the other way round on the other side.
                let is_upright = axis.z != 0.0;
                let down = if is_right { 5.0 } else { -5.0 };
                let forward = if is_upright { front + PROFILE / 2.0 } else { 0.0 };
                Hinge {
                    parent: id_of(if is_right { index - 1 } else { index + 1 }),
                    point: Point3::new(metres(if is_right { left } else { right }), forward, height),
                    axis,
                    lowest: Angle::degrees(if is_upright { 0.0 } else { down }),
                    folded: Angle::degrees(if is_right { folded } else { -folded }),
                    step,
                }
            });
            let mut members = Vec::new();
            for y in shape.ranks {
                members.push(FrameMember {
                    from: Point3::new(metres(left + 40), *y, RAIL),
                    to: Point3::new(metres(right - 40), *y, RAIL),
                    width: Length::metres(PROFILE),
                });
            }
            for x in [left + 120, i64::midpoint(left, right), right - 120] {
                members.push(FrameMember {
                    from: Point3::new(metres(x), front, RAIL),
                    to: Point3::new(metres(x), back, RAIL),
                    width: mm(80.0),
                });
            }
            Section {
                id: id_of(index),
                name: if out == 0 { "centre".to_owned() } else { format!("{} {side}", shape.names[out - 1]) },
                hinge,
                left: Length::metres(metres(left)),
                right: Length::metres(metres(right)),
                members,
            }
        })
        .collect();
    let mut rows = Vec::new();
    for (index, count) in shape.sections.iter().enumerate() {
        for _ in 0..*count {
            let number = rows.len() as u32 + 1;
            let x = -half + (i64::from(number) * 2 - 1) * spacing / 2;
            rows.push(Row {
                id: RowId(number),
                number,
                section: id_of(index),
                x: Length::metres(metres(x)),
                rank: shape.pattern[rows.len() % shape.pattern.len()],
                outlet_height: Length::metres(OUTLET),
                share: 1.0,
                left_out: false,
            });
        }
    }
    Bar {
        row_spacing: Length::metres(metres(spacing)),
        row_widths: RowWidths::Nominal,
        ranks: shape.ranks.iter().map(|y| Length::metres(*y)).collect(),
        sections,
        rows,
    }
}

/// A fore-aft hinge line: the wing folds up.
const UP: Point3 = Point3::new(0.0, 1.0, 0.0);
/// An upright hinge line: the wing folds forward.
const FORWARD: Point3 = Point3::new(0.0, 0.0, 1.0);

// Plumbing.

/// A routing in the making.
struct Plumber<'a> {
    bar: &'a Bar,
    catalogue: &'a Catalogue,
    routing: Routing,
    /// Mains run along the bar at this y.
    main_y: f64,
}

fn on_frame(x: f64, y: f64) -> Point3 {
    Point3::new(to_millimetre(x), to_millimetre(y), ON_FRAME)
}

fn to_millimetre(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

fn port(part: PartId, port: Port) -> End {
    End::Port(PortRef { part, port })
}

impl<'a> Plumber<'a> {
    fn new(bar: &'a Bar, catalogue: &'a Catalogue, id: u32, name: &str, note: &str, main_y: f64) -> Self {
        let mut routing = Routing::empty(RoutingId(id), name);
        note.clone_into(&mut routing.note);
        Self { bar, catalogue, routing, main_y }
    }

    fn part(&mut self, entry: &str, x: f64, y: f64, turn_degrees: f64) -> PartId {
        self.place(entry, on_frame(x, y), turn_degrees, None)
    }

    fn place(&mut self, entry: &str, position: Point3, turn_degrees: f64, mount: Option<PortRef>) -> PartId {
        let item = self.catalogue.item(&key::<PartKey>(entry)).expect("the catalogue has it");
        let letter = TAG_LETTERS.part(item.item_kind());
        let id = PartId::next(self.routing.parts.iter().map(|part| part.id));
        let section = self.bar.section_at(position.x).expect("the bar has sections").id;
        let tag = self.routing.free_tag(letter);
        let turn = Angle::degrees(turn_degrees);
        self.routing.parts.push(Part {
            id,
            tag,
            entry: key(entry),
            section,
            position,
            turn,
            mount,
            shut: false,
        });
        id
    }

    /// Something screwed onto a port of a part.
    fn mount(&mut self, entry: &str, host: PartId, at: Port) {
        let port = PortRef { part: host, port: at };
        let position = self.at(port).expect("the port exists");
        self.place(entry, on_frame(position.x, position.y), 0.0, Some(port));
    }

    fn at(&self, port: PortRef) -> Option<Point3> {
        let project = Project::new(self.bar.clone(), self.catalogue.clone());
        Anchors::of(&project, &self.routing).port(port).map(|at| at.place)
    }

    /// Points of a hose or tube, each on the section it lies over.
    fn over(&self, places: Vec<Point3>) -> Vec<BarPoint> {
        places.into_iter().map(|place| BarPoint::over(self.bar, place)).collect()
    }

    fn x_of(&self, end: &End) -> Option<f64> {
        Some(self.at(end.port()?)?.x)
    }

    /// A hose with a barb at each end, with each hinge it crosses computed.
    fn hose(&mut self, bore: u32, from: End, to: End, waypoints: Vec<Point3>) {
        let crossed = match (self.x_of(&from), self.x_of(&to)) {
            (Some(a), Some(b)) => {
                let section = |x| self.bar.section_at(x).expect("the bar has sections").id;
                self.bar.hinges_between(section(a), section(b))
            }
            _ => Vec::new(),
        };
        let line = Line {
            stock: key(&format!("hose-{bore}")),
            waypoints: self.over(waypoints),
            slack: Ratio::percent(3.0),
            crossings: crossed.into_iter().map(HingeCrossing::computed).collect(),
            measured: None,
        };
        let barb: FittingKey = key(&format!("barb-{bore}"));
        let id = RunId::next(self.routing.runs.iter().map(|run| run.id));
        let tag = self.routing.free_tag(TAG_LETTERS.hose());
        self.routing.runs.push(Run { id, tag, from, to, line, fittings: vec![barb.clone(), barb] });
    }

    /// A main along the bar: from its start fore-aft to the mains' line, along it past every hinge, and fore-aft
    /// to its end.
    fn main(&mut self, bore: u32, from: End, to: End) {
        let place = |end: &End| self.at(end.port().expect("a main ends on ports"));
        let (a, b) = (place(&from).expect("it exists"), place(&to).expect("it exists"));
        let mut stops = vec![on_frame(a.x, self.main_y)];
        let mut hinges: Vec<f64> =
            self.bar.sections.iter().filter_map(|one| Some(one.hinge?.point.x)).collect();
        hinges.retain(|x| *x > a.x.min(b.x) && *x < a.x.max(b.x));
        hinges.sort_by(f64::total_cmp);
        if a.x > b.x {
            hinges.reverse();
        }
        let side = (b.x - a.x).signum() * 0.15;
        for x in hinges {
            stops.extend([on_frame(x - side, self.main_y), on_frame(x + side, self.main_y)]);
        }
        stops.push(on_frame(b.x, self.main_y));
        // Where a port lies on the line already there is nothing to turn round.
        stops.retain(|stop| stop.distance(a) > 0.02 && stop.distance(b) > 0.02);
        stops.dedup();
        self.hose(bore, from, to, stops);
    }

    /// Feeds every row of the section a manifold sits on through an orifice, in the order of its outlets, and plugs what
    /// is left.
    fn feed_section(&mut self, manifold: PartId, orifice: &str, check_valve: &str) {
        self.feed_section_by(manifold, check_valve, |_| {
            FeedElement::Piece(ElementKind::MeteringOrifice, key(orifice))
        });
    }

    /// The same with any metering for each row.
    fn feed_section_by(
        &mut self,
        manifold: PartId,
        check_valve: &str,
        metering: impl Fn(&Row) -> FeedElement,
    ) {
        let part = self.routing.part(manifold).expect("it was placed").clone();
        let Some(PartItem::Manifold(Manifold { outlets, .. })) = self.catalogue.item(&part.entry).copied()
        else {
            return;
        };
        let at = |number| {
            let port = PortRef { part: manifold, port: Port::Outlet(number) };
            self.at(port).expect("the outlet exists")
        };
        let mut places: Vec<(u16, Point3)> = (1..=outlets).map(|number| (number, at(number))).collect();
        places.sort_by(|a, b| a.1.x.total_cmp(&b.1.x));
        let rows: Vec<Row> = self
            .bar
            .rows
            .iter()
            .filter(|row| row.section == part.section && !row.left_out)
            .cloned()
            .collect();
        // Spare outlets at the end that is farther from the bar's centre.
        let spare = places.len() - rows.len();
        let (fed, plugged): (Vec<_>, Vec<_>) = if part.position.x < 0.0 {
            (places[spare..].to_vec(), places[..spare].to_vec())
        } else {
            (places[..rows.len()].to_vec(), places[rows.len()..].to_vec())
        };
        for ((number, from), row) in fed.into_iter().zip(&rows) {
            let outlet = self.bar.outlet(row);
            let away = from.y + if from.y > part.position.y { 0.05 } else { -0.05 };
            let x = row.x.si();
            let mut waypoints = vec![on_frame(from.x, away), on_frame(x, away), on_frame(x, outlet.y)];
            let aside = x - from.x;
            if aside.abs() < 2.0 * TUBE_BEND && (outlet.y - part.position.y) * (away - from.y) < 0.0 {
                // Back past the manifold the tube needs room to turn round, and comes over to its row from there.
                let round = from.x + aside.signum() * 2.0 * TUBE_BEND;
                let at = |share: f64| part.position.y + (outlet.y - part.position.y) * share;
                waypoints = vec![
                    on_frame(from.x, away),
                    on_frame(round, away),
                    on_frame(round, at(0.3)),
                    on_frame(x, at(0.7)),
                    on_frame(x, outlet.y),
                ];
            }
            waypoints.dedup();
            let line = Line { waypoints: self.over(waypoints), ..Line::straight(key("tube-6")) };
            let id = FeedId::next(self.routing.feeds.iter().map(|feed| feed.id));
            self.routing.feeds.push(RowFeed {
                id,
                // A delivery tube is called like its row.
                tag: format!("{}{}", TAG_LETTERS.row_feed(), row.number),
                from: port(manifold, Port::Outlet(number)),
                trunk: Vec::new(),
                split: None,
                branches: vec![Branch {
                    row: row.id,
                    elements: vec![
                        FeedElement::Tube(Tube { line, end: None }),
                        FeedElement::Piece(ElementKind::CheckValve, key(check_valve)),
                        metering(row),
                    ],
                }],
            });
        }
        for (number, _) in plugged {
            self.mount("plug", manifold, Port::Outlet(number));
        }
    }

    /// Feeds two rows from one outlet: a tube to a small tee between them, and from there to each row its own tube,
    /// check valve and orifice.
    fn feed_pair(&mut self, manifold: PartId, outlet: u16, rows: [u32; 2], orifice: &str, check_valve: &str) {
        let from = PortRef { part: manifold, port: Port::Outlet(outlet) };
        let start = self.at(from).expect("the outlet exists");
        let rows = rows.map(|number| {
            self.bar.rows.iter().find(|row| row.number == number).expect("the bar has the row").clone()
        });
        let outlets = rows.clone().map(|row| self.bar.outlet(&row));
        let middle = f64::midpoint(outlets[0].x, outlets[1].x);
        let y = outlets[0].y + 0.1;
        let away = start.y - 0.05;
        let line = Line {
            waypoints: self.over(vec![on_frame(start.x, away), on_frame(middle, away), on_frame(middle, y)]),
            ..Line::straight(key("tube-6"))
        };
        let branch = |row: &Row| Branch {
            row: row.id,
            elements: vec![
                FeedElement::Tube(Tube { line: Line::straight(key("tube-6")), end: None }),
                FeedElement::Piece(ElementKind::CheckValve, key(check_valve)),
                FeedElement::Piece(ElementKind::MeteringOrifice, key(orifice)),
            ],
        };
        self.routing.feeds.push(RowFeed {
            id: FeedId::next(self.routing.feeds.iter().map(|feed| feed.id)),
            tag: format!("{}{}", TAG_LETTERS.row_feed(), rows[0].number),
            from: End::Port(from),
            trunk: vec![FeedElement::Tube(Tube { line, end: None })],
            split: Some(Split {
                entry: key("small-tee-4"),
                position: BarPoint::over(self.bar, Point3::new(middle, y, 0.6)),
            }),
            branches: rows.each_ref().map(branch).to_vec(),
        });
    }

    /// Feeds the rows of several manifolds, left to right.
    fn feed_sections(&mut self, manifolds: &[PartId], orifice: &str, check_valve: &str) {
        for manifold in manifolds {
            self.feed_section(*manifold, orifice, check_valve);
        }
        self.routing.feeds.sort_by_key(|feed| feed.branches[0].row);
    }
}

// The bars.

/// The first duty of a bar: rate in L/ha, speeds in km/h, flat ground.
fn duty(liquid: Liquid, rate: f64, speeds: [f64; 3], celsius: f64) -> Duty {
    let speed = Speed::kilometres_per_hour;
    Duty {
        id: DutyId(1),
        name: FIRST_DUTY.to_owned(),
        liquid,
        rate: ApplicationRate::from_si(rate / 1e7),
        slowest: speed(speeds[0]),
        usual: speed(speeds[1]),
        fastest: speed(speeds[2]),
        temperature: Temperature::from_si(celsius),
        side_slope: Angle::ZERO,
        fore_aft_slope: Angle::ZERO,
    }
}

fn title(title: &str, number: &str, notes: &str) -> TitleBlock {
    TitleBlock {
        title: title.to_owned(),
        number: number.to_owned(),
        revision: "1".to_owned(),
        notes: notes.to_owned(),
        ..TitleBlock::default()
    }
}

/// What nitrogen solutions attack, as the generic liquids say.
const NITROGEN: &[WettedMaterial] =
    &[WettedMaterial::PlainSteel, WettedMaterial::CopperAlloy, WettedMaterial::Zinc];

fn liquid(
    name: &str,
    table: &[(f64, f64, f64)],
    density_source: Source,
    salt_out: Option<f64>,
    attacks: &[WettedMaterial],
) -> Liquid {
    let point = |&(celsius, density, millipascal_seconds): &(f64, f64, f64)| LiquidPoint {
        temperature: Temperature::from_si(celsius),
        density: Density::from_si(density),
        viscosity: Viscosity::millipascal_seconds(millipascal_seconds),
    };
    Liquid {
        name: name.to_owned(),
        points: table.iter().map(point).collect(),
        density_source,
        viscosity_source: Source::Assumed,
        salt_out: salt_out.map(Temperature::from_si),
        attacks: attacks.to_vec(),
        suspension: false,
    }
}

/// A pump of `capacity` L/min, plenty for the bar that it belongs to; the relief valve opens above the control's limit.
fn supply(limit: f64, relief: f64, capacity: f64, pump: Point3, surface: f64) -> Supply {
    Supply {
        control: Control::Metered { limit: Pressure::bar(limit) },
        pump,
        tank_surface: Length::metres(surface),
        pump_rated: Pressure::bar(7.0),
        pump_capacity: Some(Flow::litres_per_minute(capacity)),
        pump_curve: Vec::new(),
        weakest_rated: Some(Pressure::bar(8.0)),
        relief_valve: ReliefValve::OpensAt(Pressure::bar(relief)),
    }
}

/// Only what the routings use, and what is offered beside it: the whole generic catalogue.
fn project(title: TitleBlock, bar: Bar, duty: Duty, supply: Supply, routings: Vec<Routing>) -> Project {
    Project {
        title,
        units: UnitSystem::Metric,
        tag_letters: TAG_LETTERS,
        bar,
        duties: Duties::new(duty),
        supply,
        limits: Limits::default(),
        transport: TransportLimits::default(),
        spreads: Spreads::default(),
        catalogue: catalogue(),
        added_lines: Vec::new(),
        routings,
        dismissed: Vec::new(),
        catch_tests: CatchTests::default(),
        cause_weights: CauseWeights::default(),
    }
}

/// 9 m, 36 rows at 25 cm, three sections, three ranks; inoculant in water; a section valve for each section.
fn nine_metre_bar() -> Project {
    let bar = build_bar(&Shape {
        spacing: 250,
        sections: &[12, 12, 12],
        names: &["wing"],
        hinges: &[(UP, 0.95, -90.0, 1)],
        ranks: &[0.7, 0.0, -0.7],
        pattern: &[0, 2, 1],
    });
    let catalogue = catalogue();
    let note = "Two tees in the middle, one section valve before each manifold";
    let mut plumber = Plumber::new(&bar, &catalogue, 1, "A", note, 0.35);
    let filter = plumber.part("filter-19-300", 0.0, 0.95, 0.0);
    let first = plumber.part("tee-12", -0.3, 0.35, 0.0);
    let second = plumber.part("tee-12", 0.3, 0.35, 0.0);
    // The outer valves lie along the mains, the middle one fore-aft over its manifold.
    let valves = [(-0.9, 0.35, 180.0), (0.0, 0.0, -90.0), (0.9, 0.35, 0.0)]
        .map(|(x, y, turn)| plumber.part("section-valve-12", x, y, turn));
    let manifolds = [-3.0, 0.0, 3.0].map(|x| plumber.part("manifold-12-middle", x, -0.32, 0.0));
    plumber.mount("gauge-2.5", manifolds[1], Port::Gauge);
    let pump = Point3::new(0.4, 3.0, 0.7);
    plumber.hose(
        19,
        End::Supply,
        port(filter, Port::In),
        vec![Point3::new(0.4, 2.0, 0.8), Point3::new(0.0, 1.5, ON_FRAME)],
    );
    plumber.hose(
        12,
        port(filter, Port::Out),
        port(first, Port::Branch),
        vec![on_frame(0.0, 0.75), on_frame(-0.3, 0.6)],
    );
    plumber.hose(12, port(first, Port::Out), port(second, Port::In), Vec::new());
    plumber.hose(12, port(first, Port::In), port(valves[0], Port::In), Vec::new());
    plumber.main(12, port(valves[0], Port::Out), port(manifolds[0], Port::In));
    plumber.hose(
        12,
        port(second, Port::Branch),
        port(valves[1], Port::In),
        vec![on_frame(0.3, 0.55), on_frame(0.0, 0.55)],
    );
    plumber.hose(12, port(valves[1], Port::Out), port(manifolds[1], Port::In), Vec::new());
    plumber.hose(12, port(second, Port::Out), port(valves[2], Port::In), Vec::new());
    plumber.main(12, port(valves[2], Port::Out), port(manifolds[2], Port::In));
    plumber.feed_sections(&manifolds, "orifice-0.7", "check-valve-0.10");
    let routing = plumber.routing;
    // Inoculant in water is taken as water, which nobody measured: "assumed" on every paper.
    let table: Vec<(f64, f64, f64)> = Liquid::water()
        .points
        .iter()
        .map(|point| (point.temperature.si(), point.density.si(), (point.viscosity.si() * 1e6).round() / 1e3))
        .collect();
    let liquid = liquid("Inoculant in water", &table, Source::Assumed, None, &[]);
    let title = title("Nine-metre bar", "EX-09", "Invented example: 36 rows at 25 cm, 3 sections, 3 ranks");
    let inoculant = Duty { name: "Inoculant".to_owned(), ..duty(liquid, 60.0, [7.0, 9.0, 10.0], 12.0) };
    let solution = generic_liquids().into_iter().find(|liquid| liquid.name.starts_with("Zinc sulphate"));
    let zinc = Duty {
        id: DutyId(2),
        name: "Zinc".to_owned(),
        ..duty(solution.unwrap_or_else(Liquid::water), 55.0, [7.0, 8.0, 9.5], 8.0)
    };
    let supply = supply(2.0, 2.25, 15.0, pump, 1.5);
    let mut project = project(title, bar, inoculant, supply, vec![routing]);
    project.duties.put(zinc);
    project
}

/// 6 m for field trials: three spacings side by side, rows in pairs on one tube, metering by orifice and by tube, and a
/// guard row that is left out. Rows take their own half-widths.
fn six_metre_trial_bar() -> Project {
    let mut bar = build_bar(&Shape {
        spacing: 250,
        sections: &[8, 8, 8],
        names: &["wing"],
        hinges: &[(UP, 0.95, -90.0, 1)],
        ranks: &[0.4, -0.4],
        pattern: &[0, 1],
    });
    // Left wing at 250 mm, centre at 325 mm and all in the rear rank, right wing at 400 mm, its outermost row left out.
    // Tenths of a millimetre, section, rank.
    let left = (0..8).map(|row| (-28_750 + 2500 * row, 2, row % 2));
    let centre = (0..6).map(|row| (-8125 + 3250 * row, 1, 1));
    let right = (0..5).map(|row| (11_500 + 4000 * row, 3, row % 2));
    bar.rows = left
        .chain(centre)
        .chain(right)
        .zip(1..)
        .map(|((x, section, rank), number)| Row {
            id: RowId(number),
            number,
            section: SectionId(section),
            x: Length::metres(f64::from(x) / 10_000.0),
            rank: usize::from(rank == 1),
            outlet_height: Length::metres(OUTLET),
            share: 1.0,
            left_out: number == 19,
        })
        .collect();
    bar.row_spacing = Length::millimetres(325.0);
    let catalogue = catalogue();
    let note = "For trials: rows at 250, 325 and 400 mm; in the centre two rows share a tube, each metered below the \
                small tee; on the right and at row 8 metering tubes cut to each row's flow; the guard row at the right end is left out";
    let mut plumber = Plumber::new(&bar, &catalogue, 1, "A", note, 0.35);
    let filter = plumber.part("filter-19-300", 0.0, 0.9, 0.0);
    let first = plumber.part("tee-12", 0.0, 0.35, 0.0);
    let second = plumber.part("tee-12", 0.4, 0.35, 180.0);
    let manifolds = [(-2.0, "8"), (0.4, "6"), (2.0, "6")]
        .map(|(x, outlets)| plumber.part(&format!("manifold-{outlets}-middle"), x, -0.05, 0.0));
    plumber.mount("gauge-2.5", manifolds[1], Port::Gauge);
    let pump = Point3::new(0.4, 2.8, 0.7);
    plumber.hose(
        19,
        End::Supply,
        port(filter, Port::In),
        vec![Point3::new(0.4, 1.9, 0.8), Point3::new(0.0, 1.4, ON_FRAME)],
    );
    plumber.hose(12, port(filter, Port::Out), port(first, Port::Branch), Vec::new());
    plumber.hose(12, port(first, Port::Out), port(second, Port::Out), Vec::new());
    plumber.main(12, port(first, Port::In), port(manifolds[0], Port::In));
    plumber.hose(12, port(second, Port::Branch), port(manifolds[1], Port::In), Vec::new());
    plumber.main(12, port(second, Port::In), port(manifolds[2], Port::In));
    // Where the spacing changes, no orifice of the catalogue fits.
    plumber.feed_section_by(manifolds[0], "check-valve-0.20", |row| match row.number {
        8 => FeedElement::MeteringTube { stock: key("metering-tube-1.0"), length: mm(131.0), coil: None },
        _ => FeedElement::Piece(ElementKind::MeteringOrifice, key("orifice-0.7")),
    });
    for (outlet, rows) in [(1, [9, 10]), (3, [11, 12]), (5, [13, 14])] {
        plumber.feed_pair(manifolds[1], outlet, rows, "orifice-0.8", "check-valve-0.20");
    }
    for outlet in [2, 4, 6] {
        plumber.mount("plug", manifolds[1], Port::Outlet(outlet));
    }
    // Cut so that each gets its share at the pressure that the orifices need.
    plumber.feed_section_by(manifolds[2], "check-valve-0.20", |row| FeedElement::MeteringTube {
        stock: key("metering-tube-1.5"),
        length: mm(if row.number == 15 { 668.0 } else { 573.0 }),
        coil: None,
    });
    let routing = plumber.routing;
    let table: Vec<(f64, f64, f64)> = Liquid::water()
        .points
        .iter()
        .map(|point| (point.temperature.si(), point.density.si(), (point.viscosity.si() * 1e6).round() / 1e3))
        .collect();
    let liquid = liquid("Trace elements in water", &table, Source::Assumed, None, &[]);
    let title = title(
        "Six-metre trial bar",
        "EX-06",
        "Invented example: 19 rows at 250, 325 and 400 mm, one left out, pairs on one tube, metering tubes",
    );
    let asked = duty(liquid, 100.0, [5.7, 6.0, 6.5], 15.0);
    bar.row_widths = RowWidths::HalfWidths;
    project(title, bar, asked, supply(2.0, 2.25, 12.0, pump, 1.3), vec![routing])
}

/// 12 m, 40 rows at 30 cm, five sections, four ranks; a nitrogen solution; two routings to weigh.
fn twelve_metre_bar() -> Project {
    let bar = build_bar(&Shape {
        spacing: 300,
        sections: &[6, 8, 12, 8, 6],
        names: &["inner wing", "outer wing"],
        hinges: &[(UP, 0.95, -90.0, 2), (UP, 0.95, -90.0, 1)],
        ranks: &[0.9, 0.3, -0.3, -0.9],
        pattern: &[0, 2, 1, 3],
    });
    let catalogue = catalogue();
    let pump = Point3::new(0.4, 3.4, 0.7);
    let routings = vec![twelve_metre_chain(&bar, &catalogue), twelve_metre_star(&bar, &catalogue)];
    // Density at 16 °C and its fall with temperature as in `plan/liquids.rs`, which names the source; the viscosities are a guess to be measured.
    let table = [(0.0, 1293.0, 5.0), (10.0, 1286.0, 3.4), (20.0, 1278.0, 2.5), (30.0, 1270.0, 1.9)];
    let liquid = liquid(
        "UAN 28 % N, urea ammonium nitrate solution",
        &table,
        Source::Published,
        Some(-18.0),
        NITROGEN,
    );
    let title = title(
        "Twelve-metre bar",
        "EX-12",
        "Invented example: 40 rows at 30 cm, 5 unequal sections, 4 ranks, two routings",
    );
    project(
        title,
        bar,
        duty(liquid, 80.0, [7.0, 9.0, 11.0], 15.0),
        supply(3.5, 3.85, 30.0, pump, 1.4),
        routings,
    )
}

const TWELVE_METRE_MANIFOLDS: [(f64, &str); 5] =
    [(-5.1, "6"), (-3.0, "10"), (0.0, "12"), (3.0, "10"), (5.1, "6")];

/// From manifold to manifold outwards, in narrow hose.
fn twelve_metre_chain(bar: &Bar, catalogue: &Catalogue) -> Routing {
    let note = "A chain from the centre outwards in 8 mm hose: little hose, but each manifold stands at a lower \
                pressure than the one before it, so the wing tips get less. A teaching case; compare with B";
    let mut plumber = Plumber::new(bar, catalogue, 1, "A", note, 0.0);
    let filter = plumber.part("filter-19-300", -0.7, 1.15, 0.0);
    let manifolds = TWELVE_METRE_MANIFOLDS.map(|(x, outlets)| {
        plumber.part(&format!("manifold-{outlets}-end"), x, 0.0, if x < 0.0 { 180.0 } else { 0.0 })
    });
    let tee = plumber.part("tee-12", 0.7, 0.0, 0.0);
    plumber.mount("gauge-4", manifolds[2], Port::Gauge);
    plumber.hose(
        19,
        End::Supply,
        port(filter, Port::In),
        vec![Point3::new(0.4, 2.4, 0.8), Point3::new(-0.7, 1.8, ON_FRAME)],
    );
    plumber.hose(
        16,
        port(filter, Port::Out),
        port(manifolds[2], Port::In),
        vec![on_frame(-0.7, 0.1), on_frame(-0.6, 0.0)],
    );
    plumber.hose(12, port(manifolds[2], Port::Out), port(tee, Port::In), Vec::new());
    // The left wing's hose goes back past the centre manifold.
    let back =
        [(0.7, 0.22), (-1.65, 0.22), (-1.95, 0.22), (-2.4, 0.22), (-2.6, 0.0)].map(|(x, y)| on_frame(x, y));
    plumber.hose(8, port(tee, Port::Branch), port(manifolds[1], Port::In), back.to_vec());
    plumber.main(8, port(manifolds[1], Port::Out), port(manifolds[0], Port::In));
    plumber.main(8, port(tee, Port::Out), port(manifolds[3], Port::In));
    plumber.main(8, port(manifolds[3], Port::Out), port(manifolds[4], Port::In));
    plumber.feed_sections(&manifolds, "orifice-0.9", "check-valve-0.20");
    plumber.routing
}

/// From tees at the centre to each manifold, in wide hose.
fn twelve_metre_star(bar: &Bar, catalogue: &Catalogue) -> Routing {
    let note = "A star from four tees at the centre, a 12 mm main to every manifold: more hose, nearly one pressure \
                at all manifolds";
    let mut plumber = Plumber::new(bar, catalogue, 2, "B", note, 0.15);
    let filter = plumber.part("filter-19-300", 0.0, 1.15, 0.0);
    let first = plumber.part("tee-19", 0.0, 0.75, -90.0);
    let second = plumber.part("tee-19", 0.0, 0.15, 0.0);
    let left = plumber.part("tee-19", -0.9, 0.15, 0.0);
    let right = plumber.part("tee-19", 0.9, 0.15, 0.0);
    // The centre manifold lies farther back, so that its hose can turn into it.
    let manifolds = TWELVE_METRE_MANIFOLDS.map(|(x, outlets)| {
        let y = if x == 0.0 { -0.2 } else { -0.1 };
        plumber.part(&format!("manifold-{outlets}-middle"), x, y, 0.0)
    });
    plumber.mount("gauge-4", manifolds[2], Port::Gauge);
    plumber.hose(
        19,
        End::Supply,
        port(filter, Port::In),
        vec![Point3::new(0.4, 2.4, 0.8), Point3::new(0.0, 1.8, ON_FRAME)],
    );
    plumber.hose(19, port(filter, Port::Out), port(first, Port::In), Vec::new());
    plumber.hose(19, port(first, Port::Out), port(second, Port::Branch), Vec::new());
    plumber.hose(
        12,
        port(first, Port::Branch),
        port(manifolds[2], Port::In),
        [(0.4, 0.75), (0.4, 0.0), (0.0, 0.0)].map(|(x, y)| on_frame(x, y)).to_vec(),
    );
    plumber.hose(19, port(second, Port::In), port(left, Port::Out), Vec::new());
    plumber.hose(19, port(second, Port::Out), port(right, Port::In), Vec::new());
    for (tee, outwards, side, inner, outer) in [
        (left, Port::In, -1.0, manifolds[1], manifolds[0]),
        (right, Port::Out, 1.0, manifolds[3], manifolds[4]),
    ] {
        plumber.main(12, port(tee, outwards), port(inner, Port::In));
        // The branch faces forward, with room for the hose to turn outwards.
        let stops = [0.9, 1.65, 1.95, 4.05, 4.35, 5.1].map(|x| on_frame(x * side, 0.35));
        plumber.hose(12, port(tee, Port::Branch), port(outer, Port::In), stops.to_vec());
    }
    plumber.feed_sections(&manifolds, "orifice-0.8", "check-valve-0.20");
    plumber.routing
}

/// 24 m, 80 rows at 30 cm, seven unequal sections, two ranks; a diluted nitrogen solution.
fn twenty_four_metre_bar() -> Project {
    let bar = build_bar(&Shape {
        spacing: 300,
        sections: &[10, 11, 12, 14, 12, 11, 10],
        names: &["inner wing", "middle wing", "outer wing"],
        // The outer wings lie down over the middle ones with their openers up, these stand up on the inner ones, and all of them
        // turn forward: in no other order do openers clear the frames.
        hinges: &[(FORWARD, 0.95, 90.0, 3), (UP, 0.95, -90.0, 2), (UP, 1.15, -175.0, 1)],
        ranks: &[0.45, -0.45],
        pattern: &[0, 1],
    });
    let catalogue = catalogue();
    let note =
        "Wide mains along the bar with a tee at each section; a 19 mm hose from each tee to its manifold";
    // Behind where the openers of the front rank trip to: the mains hang down at the hinges that fold up.
    let mains = 0.13;
    let mut plumber = Plumber::new(&bar, &catalogue, 1, "A", note, mains);
    let filter = plumber.part("filter-32-300", 0.0, 1.0, 0.0);
    let first = plumber.part("tee-32", 0.0, 0.6, -90.0);
    let second = plumber.part("tee-32", 0.0, mains, 0.0);
    let places =
        [(-10.5, "10"), (-7.35, "12"), (-3.9, "12"), (0.0, "14"), (3.9, "12"), (7.35, "12"), (10.5, "10")];
    // Tees stand with their branch towards the manifold behind them.
    let tees = [-7.35, -3.9, 3.9, 7.35].map(|x| plumber.part("tee-25", x, mains, 180.0));
    // The centre manifold lies farther back: its hose turns into it round two corners.
    let manifolds = places.map(|(x, outlets)| {
        let y = if x == 0.0 { -0.2 } else { -0.1 };
        plumber.part(&format!("manifold-{outlets}-middle"), x, y, 0.0)
    });
    plumber.mount("gauge-6", manifolds[3], Port::Gauge);
    plumber.mount("gauge-6", manifolds[6], Port::Gauge);
    plumber.hose(
        32,
        End::Supply,
        port(filter, Port::In),
        vec![Point3::new(0.5, 3.0, 0.8), Point3::new(0.0, 1.8, ON_FRAME)],
    );
    plumber.hose(32, port(filter, Port::Out), port(first, Port::In), Vec::new());
    plumber.hose(32, port(first, Port::Out), port(second, Port::Branch), Vec::new());
    plumber.hose(
        19,
        port(first, Port::Branch),
        port(manifolds[3], Port::In),
        [(0.45, 0.6), (0.45, 0.04), (0.0, 0.04)].map(|(x, y)| on_frame(x, y)).to_vec(),
    );
    // Turned round, a tee has its inlet side on the right.
    plumber.main(25, port(second, Port::In), port(tees[1], Port::In));
    plumber.main(25, port(second, Port::Out), port(tees[2], Port::Out));
    plumber.main(25, port(tees[1], Port::Out), port(tees[0], Port::In));
    plumber.main(25, port(tees[2], Port::In), port(tees[3], Port::Out));
    for (tee, manifold) in [(0, 1), (1, 2), (2, 4), (3, 5)] {
        plumber.hose(19, port(tees[tee], Port::Branch), port(manifolds[manifold], Port::In), Vec::new());
    }
    plumber.main(19, port(tees[0], Port::Out), port(manifolds[0], Port::In));
    plumber.main(19, port(tees[3], Port::In), port(manifolds[6], Port::In));
    plumber.feed_sections(&manifolds, "orifice-0.9", "check-valve-0.20");
    let routing = plumber.routing;
    let table = [(0.0, 1166.0, 3.2), (10.0, 1162.0, 2.3), (20.0, 1158.0, 1.8), (30.0, 1153.0, 1.4)];
    let liquid = liquid("UAN 32 % N, one to one with water", &table, Source::Assumed, None, NITROGEN);
    let title = title(
        "Twenty-four-metre bar",
        "EX-24",
        "Invented example: 80 rows at 30 cm, 7 unequal sections, 2 ranks",
    );
    let pump = Point3::new(0.5, 4.2, 0.7);
    project(
        title,
        bar,
        duty(liquid, 100.0, [8.0, 10.0, 11.0], 15.0),
        supply(4.0, 4.5, 75.0, pump, 1.5),
        vec![routing],
    )
}
