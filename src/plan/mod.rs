//! The plan: the bar, its duties (what it is used for), the catalogue, and the routings that plumb it, with every
//! edit that may change them.
//!
//! A [`Project`] is plain data. The only way to change one in a running program is [`edit::apply`] with an
//! [`Edit`]; it keeps the rules that [`validate`](validate::validate) lists (names unique, references alive,
//! numbers finite and in range), so that everything above may rely on them. A half-drawn routing is a valid
//! plan: a loose hose end or a row without a feed is a finding for later layers, never an error here.
//!
//! Coordinates are those of the bar in working position everywhere (x right, y forward, z up, metres); folding
//! turns what rides on a section about its hinge, starting from there.
//!
//! Never here: files, clocks, threads, widgets, hydraulics. Start reading at [`project`].

pub mod added_line;
pub mod anchors;
pub mod bar;
mod bar_point;
pub mod bounds;
mod calibrated;
mod carried_along;
mod carrier_choices;
mod carrier_room;
mod carriers;
pub mod catalogue;
pub mod catalogue_index;
pub mod catalogue_merge;
pub mod catch_amount;
pub mod catch_test;
pub mod cause_weights;
pub mod clash;
pub mod clash_search;
pub mod connection_graph;
pub mod crossing;
pub mod cutting;
pub mod dismissal;
pub mod duty;
pub mod edit;
mod envelope;
pub mod feed;
pub mod flushing;
mod fold;
pub mod frame_graph;
mod frame_way;
pub mod frames_met;
mod free_clash;
pub mod held;
pub mod high_points;
mod hinge_crossing;
pub mod holding;
pub mod hung_line;
mod ids;
pub mod joints;
mod kept;
pub mod kinds;
pub mod lay_out;
pub mod letters;
pub mod limits;
pub mod liquid;
pub mod liquids;
pub mod metering;
pub mod open_air;
pub mod part;
pub mod place_words;
pub mod pressure_bound;
pub mod problems;
pub mod project;
pub mod ratings;
pub mod refit;
pub mod revision;
mod riding;
mod rounding;
pub mod routing;
pub mod routing_geometry;
pub mod row;
pub mod row_target;
pub mod run;
mod settings_table;
pub mod solids;
pub mod spreads;
pub mod stock_bending;
pub mod supply;
mod tag_letters;
pub mod through_body;
pub mod through_frame;
mod transport_limits;
pub mod validate;
pub mod wetted_material;
pub mod words;
pub use added_line::AddedLine;
pub use anchors::{Anchors, PlacedPart, PlacedPort};
pub use bar::{Bar, FrameMember, Hinge, RowWidths, Section};
pub use bar_point::BarPoint;
pub use calibrated::{Calibrated, EntryCalibration, HALF_OF_95};
pub use catalogue::{Catalogue, ElementKey, Entry, EntryKey, FittingKey, Key, PartKey, Price, StockKey};
pub use catch_amount::{CatchSpan, CatchUnit, CaughtAmount};
pub use catch_test::{
    Catch, CatchScatter, CatchTest, CatchTests, CaughtLiquid, Drive, GaugeReading, TableDoubt, TestedBar,
};
pub use cause_weights::{CauseKind, CauseWeights};
pub use connection_graph::ConnectionGraph;
pub use crossing::{Awaited, Clamp, CrossedHinge, Crossing, CrossingBasis, NotComputed};
pub use duty::{Duties, Duty, OperatingPoint};
pub use edit::{Edit, EditError};
pub use envelope::Envelope;
pub use feed::{Branch, FeedElement, RowFeed, Split, Tube};
pub use fold::{FoldPosition, FoldSweep, FoldedBar};
pub use frame_graph::FrameGraph;
pub use frame_way::FrameWay;
pub use hinge_crossing::{ClampPlaces, ClampSide, HingeCrossing, Towards};
pub use ids::{
    CatchTestId, DutyId, FeedId, PartId, RoutingId, RowId, RunId, SectionId, Subject, TestedBarId,
};
pub use kinds::{
    BlankingPlug, CheckValve, ElementItem, ElementKind, Field, Fitting, FittingForm, FittingItem,
    FittingKind, FlowIndicator, FlowMeter, Gauge, HoseStock, InletFilter, Item, ItemKind, Manifold,
    ManifoldInlet, MeteringOrifice, PartItem, PartKind, Plumbing, Role, SectionValve, SmallTee, StockItem,
    StockKind, Tee,
};
pub use limits::Limits;
pub use liquid::{Liquid, LiquidCaution, LiquidPoint, LiquidState, Source};
pub use metering::Metering;
pub use part::{Part, Port, PortRef};
pub use project::{Project, TitleBlock};
pub use revision::{ChangedLength, Revision};
pub use routing::Routing;
pub use routing_geometry::{
    ElementGeometry, FeedGeometry, LaidLine, LaidRouting, LineGeometry, RoutingGeometry,
};
pub use row::Row;
pub use run::{End, Line, Run};
pub use spreads::{Shape, Spread, SpreadKind, Spreads};
pub use stock_bending::StockBending;
pub use supply::{Control, CurvePoint, ReliefValve, Supply};
pub use tag_letters::TagLetters;
pub use transport_limits::TransportLimits;
pub use wetted_material::WettedMaterial;
