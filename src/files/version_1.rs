//! Version 1 of projects and catalogues, as it was saved until version 2: the types that differ from today's, and no
//! others, each with its way up. What they hold in common is read by the plan's own types.
//!
//! A type that changes is copied here as it was before, with all that lead to it from [`Project`] or [`Catalogue`].

use crate::plan::{
    BlankingPlug, CheckValve, Fitting, Gauge, InletFilter, Manifold, MeteringOrifice, SectionValve, SmallTee,
    Tee,
};
use serde::Deserialize;

use super::version_1_findings;
use crate::geometry::Point3;
use crate::plan::crossing::HINGE_ALLOWANCE;
use crate::plan::{
    self, BarPoint, Control, DutyId, ElementKey, ElementKind, EntryKey, FeedId, FittingForm, FittingKey,
    HingeCrossing, HoseStock, Limits, Liquid, ManifoldInlet, Part, PortRef, Price, ReliefValve, RoutingId,
    RowId, RowWidths, RunId, SectionId, StockItem, StockKey, TagLetters, TitleBlock,
};
use crate::quantities::{
    Angle, ApplicationRate, Flow, Length, Pressure, Ratio, Speed, Temperature, UnitSystem,
};

/// A project of version 1.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Project {
    title: TitleBlock,
    units: UnitSystem,
    bar: Bar,
    liquid: Liquid,
    application: Application,
    supply: Supply,
    limits: Limits,
    catalogue: Catalogue,
    routings: Vec<Routing>,
    dismissed: Vec<String>,
}

impl Project {
    /// What it means today, and what of it could not be kept, in words.
    pub(super) fn bring_up(self) -> (plan::Project, Vec<String>) {
        let old = self;
        let bar = old.bar.with(old.application.row_widths);
        let mut project = plan::Project {
            title: old.title,
            units: old.units,
            tag_letters: TagLetters::TeesJRowFeedsT,
            routings: old.routings.into_iter().map(|routing| routing.on(&bar)).collect(),
            bar,
            added_lines: Vec::new(),
            duties: plan::Duties::new(old.application.of(old.liquid)),
            supply: old.supply.into(),
            limits: old.limits,
            transport: plan::TransportLimits::default(),
            spreads: plan::Spreads::default(),
            catalogue: old.catalogue.into(),
            dismissed: Vec::new(),
            catch_tests: plan::CatchTests::default(),
            cause_weights: plan::CauseWeights::default(),
        };
        let lost = version_1_findings::bring_up(&mut project, old.dismissed);
        let note =
            |one| format!("the finding \"{one}\" was hidden and is shown again: what it names can't be told");
        (project, lost.into_iter().map(note).collect())
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Bar {
    row_spacing: Length,
    ranks: Vec<Length>,
    sections: Vec<plan::Section>,
    rows: Vec<plan::Row>,
}

impl Bar {
    fn with(self, row_widths: RowWidths) -> plan::Bar {
        plan::Bar {
            row_spacing: self.row_spacing,
            row_widths,
            ranks: self.ranks,
            sections: self.sections,
            rows: self.rows,
        }
    }
}

/// What was asked of the bar: a project had one duty without a name, and its liquid stood beside it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Application {
    rate: ApplicationRate,
    slowest: Speed,
    usual: Speed,
    fastest: Speed,
    temperature: Temperature,
    side_slope: Angle,
    fore_aft_slope: Angle,
    row_widths: RowWidths,
}

impl Application {
    fn of(self, liquid: Liquid) -> plan::Duty {
        plan::Duty {
            id: DutyId(1),
            name: plan::project::FIRST_DUTY.to_owned(),
            liquid,
            rate: self.rate,
            slowest: self.slowest,
            usual: self.usual,
            fastest: self.fastest,
            temperature: self.temperature,
            side_slope: self.side_slope,
            fore_aft_slope: self.fore_aft_slope,
        }
    }
}

/// A catalogue of version 1: entries of all roles in one list.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Catalogue {
    entries: Vec<Entry>,
}

impl From<Catalogue> for plan::Catalogue {
    fn from(old: Catalogue) -> Self {
        Self { entries: old.entries.into_iter().map(Into::into).collect() }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    key: EntryKey,
    description: String,
    part_number: String,
    #[serde(default)]
    connection: String,
    price: Option<Price>,
    #[serde(default)]
    roll: Option<Length>,
    item: Item,
}

impl From<Entry> for plan::Entry {
    fn from(old: Entry) -> Self {
        let item = old.item.bring_up(&old.description, &old.key);
        Self {
            key: old.key,
            description: old.description,
            part_number: old.part_number,
            connection: old.connection,
            price: old.price,
            roll: old.roll,
            materials: Vec::new(),
            calibrated: None,
            item,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
enum Item {
    InletFilter {
        bore: Length,
        k: f64,
        opening: Length,
        rated: Pressure,
    },
    Tee {
        bore: Length,
        k_through: f64,
        k_branch: f64,
        rated: Pressure,
    },
    SectionValve {
        bore: Length,
        k: f64,
        rated: Pressure,
    },
    Manifold {
        outlets: u16,
        spacing: Length,
        bore: Length,
        k: f64,
        inlet: ManifoldInlet,
        rated: Pressure,
    },
    Gauge {
        full_scale: Pressure,
    },
    BlankingPlug {
        rated: Pressure,
    },
    Hose(HoseStock),
    Tube(HoseStock),
    MeteringTube(HoseStock),
    MeteringOrifice {
        bore: Length,
        cd: f64,
        thickness: Length,
        #[serde(default)]
        creeping: bool,
    },
    CheckValve {
        cracking: Pressure,
        closing: Pressure,
        k: f64,
        bore: Length,
        rated: Pressure,
    },
    SmallTee {
        bore: Length,
        k: f64,
    },
    Fitting {
        bore: Length,
        k: f64,
    },
}

impl Item {
    /// What it means today. A fitting did not say whether it is an elbow: the words of its entry did.
    fn bring_up(self, description: &str, key: &EntryKey) -> plan::Item {
        match self {
            Item::InletFilter { bore, k, opening, rated } => InletFilter { bore, k, opening, rated }.into(),
            Item::Tee { bore, k_through, k_branch, rated } => Tee { bore, k_through, k_branch, rated }.into(),
            Item::SectionValve { bore, k, rated } => SectionValve { bore, k, rated }.into(),
            Item::Manifold { outlets, spacing, bore, k, inlet, rated } => {
                Manifold { outlets, spacing, bore, k, inlet, rated }.into()
            }
            Item::Gauge { full_scale } => Gauge { full_scale }.into(),
            Item::BlankingPlug { rated } => BlankingPlug { rated }.into(),
            Item::Hose(stock) => StockItem::Hose(stock).into(),
            Item::Tube(stock) => StockItem::Tube(stock).into(),
            Item::MeteringTube(stock) => StockItem::MeteringTube(stock).into(),
            Item::MeteringOrifice { bore, cd, thickness, creeping } => {
                MeteringOrifice { bore, cd, thickness, creeping, rated: None }.into()
            }
            Item::CheckValve { cracking, closing, k, bore, rated } => {
                CheckValve { cracking, closing, k, bore, rated }.into()
            }
            Item::SmallTee { bore, k } => SmallTee { bore, k, rated: None }.into(),
            Item::Fitting { bore, k } => {
                let says = |words: &str| words.to_lowercase().contains("elbow");
                let elbow = says(description) || says(&key.0);
                let form = if elbow { FittingForm::Elbow } else { FittingForm::Straight };
                Fitting { bore, k, form, rated: None }.into()
            }
        }
    }
}

/// A routing of version 1, whose points do not say which section they ride on: they ride on the one that they lie over.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Routing {
    id: RoutingId,
    name: String,
    note: String,
    parts: Vec<Part>,
    runs: Vec<Run>,
    feeds: Vec<RowFeed>,
}

impl Routing {
    fn on(self, bar: &plan::Bar) -> plan::Routing {
        plan::Routing {
            id: self.id,
            name: self.name,
            note: self.note,
            parts: self.parts,
            runs: self.runs.into_iter().map(|run| run.on(bar)).collect(),
            feeds: self.feeds.into_iter().map(|feed| feed.on(bar)).collect(),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Run {
    id: RunId,
    tag: String,
    from: End,
    to: End,
    line: Line,
    fittings: Vec<FittingKey>,
}

impl Run {
    fn on(self, bar: &plan::Bar) -> plan::Run {
        plan::Run {
            id: self.id,
            tag: self.tag,
            from: self.from.on(bar),
            to: self.to.on(bar),
            line: self.line.on(bar),
            fittings: self.fittings,
        }
    }
}

#[derive(Deserialize)]
enum End {
    Supply,
    Port(PortRef),
    Loose(Point3),
}

impl End {
    fn on(self, bar: &plan::Bar) -> plan::End {
        match self {
            Self::Supply => plan::End::Supply,
            Self::Port(port) => plan::End::Port(port),
            Self::Loose(place) => plan::End::Loose(BarPoint::over(bar, place)),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    stock: StockKey,
    waypoints: Vec<Point3>,
    slack: Ratio,
    hinge_allowances: Vec<HingeAllowance>,
    measured: Option<Length>,
}

impl Line {
    fn on(self, bar: &plan::Bar) -> plan::Line {
        plan::Line {
            stock: self.stock,
            waypoints: self.waypoints.into_iter().map(|place| BarPoint::over(bar, place)).collect(),
            slack: self.slack,
            crossings: self.hinge_allowances.into_iter().map(Into::into).collect(),
            measured: self.measured,
        }
    }
}

/// Extra length at a hinge, which version 1 never computed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HingeAllowance {
    section: SectionId,
    extra: Length,
}

impl From<HingeAllowance> for HingeCrossing {
    /// What the program filled in by itself is computed now; any other length was entered by somebody, and stays.
    fn from(old: HingeAllowance) -> Self {
        let entered = (old.extra != HINGE_ALLOWANCE).then_some(old.extra);
        Self { entered, ..Self::computed(old.section) }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RowFeed {
    id: FeedId,
    tag: String,
    from: End,
    trunk: Vec<FeedElement>,
    split: Option<Split>,
    branches: Vec<Branch>,
}

impl RowFeed {
    fn on(self, bar: &plan::Bar) -> plan::RowFeed {
        plan::RowFeed {
            id: self.id,
            tag: self.tag,
            from: self.from.on(bar),
            trunk: self.trunk.into_iter().map(|element| element.on(bar)).collect(),
            split: self.split.map(|split| split.on(bar)),
            branches: self.branches.into_iter().map(|branch| branch.on(bar)).collect(),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Split {
    entry: FittingKey,
    position: Point3,
}

impl Split {
    fn on(self, bar: &plan::Bar) -> plan::Split {
        plan::Split { entry: self.entry, position: BarPoint::over(bar, self.position) }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Branch {
    row: RowId,
    elements: Vec<FeedElement>,
}

impl Branch {
    fn on(self, bar: &plan::Bar) -> plan::Branch {
        plan::Branch {
            row: self.row,
            elements: self.elements.into_iter().map(|element| element.on(bar)).collect(),
        }
    }
}

#[derive(Deserialize)]
enum FeedElement {
    Tube(Tube),
    CheckValve(ElementKey),
    Orifice(ElementKey),
    MeteringTube { stock: StockKey, length: Length, coil: Option<Length> },
    Fitting(FittingKey),
}

impl FeedElement {
    fn on(self, bar: &plan::Bar) -> plan::FeedElement {
        match self {
            Self::Tube(tube) => plan::FeedElement::Tube(tube.on(bar)),
            Self::CheckValve(key) => plan::FeedElement::Piece(ElementKind::CheckValve, key),
            Self::Orifice(key) => plan::FeedElement::Piece(ElementKind::MeteringOrifice, key),
            Self::MeteringTube { stock, length, coil } => {
                plan::FeedElement::MeteringTube { stock, length, coil }
            }
            Self::Fitting(key) => plan::FeedElement::Fitting(key),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tube {
    line: Line,
    end: Option<Point3>,
}

impl Tube {
    fn on(self, bar: &plan::Bar) -> plan::Tube {
        plan::Tube { line: self.line.on(bar), end: self.end.map(|end| BarPoint::over(bar, end)) }
    }
}

/// A supply of version 1, which knew no pump curves.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Supply {
    control: Control,
    pump: Point3,
    tank_surface: Length,
    pump_rated: Pressure,
    pump_capacity: Option<Flow>,
    weakest_rated: Pressure,
}

impl From<Supply> for plan::Supply {
    fn from(old: Supply) -> Self {
        Self {
            control: old.control,
            pump: old.pump,
            tank_surface: old.tank_surface,
            pump_rated: old.pump_rated,
            pump_capacity: old.pump_capacity,
            pump_curve: Vec::new(),
            weakest_rated: Some(old.weakest_rated),
            relief_valve: ReliefValve::NotSaid,
        }
    }
}
