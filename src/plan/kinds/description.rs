//! What every kind of catalogue entry says of itself. Nothing here has a default: the compiler asks each kind for all of it.

use super::numbers::{Field, Number};
use super::ports::{PartPort, Passage, Ways};
use super::symbol::{ElementSymbol, PartSymbol, SchematicForm, TagPlacing};
use crate::plan::part::Port;
use crate::quantities::{Length, Pressure, UnitSystem};

/// What holds for all entries of a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KindFacts {
    /// In plain words, lower case.
    pub words: &'static str,
    /// Its place on lists of parts, as the liquid meets the kinds; no two have the same.
    pub list_order: u8,
    /// How many to order beyond those in use.
    pub spares: Spares,
    /// The number that nobody knows well before liquid ran through one, and that a catch test can tell. Bores are measured
    /// with a pin.
    pub told_by_catch: Option<Field>,
}

/// How many pieces to order beyond those in use (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spares {
    /// None: it is large, or sold by length.
    None,
    /// One.
    One,
    /// One in twenty, at least two: it plugs, wears or gets lost.
    OneInTwenty,
}

/// What a part is plumbed as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plumbing {
    /// With a hose on either side.
    InLine,
    /// Gives liquid to rows.
    ForRows,
    /// Screwed onto a port of another part.
    OnPort,
}

/// What can be read off a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// The pressure where it is.
    Pressure,
    /// The flow through it.
    Flow,
}

/// How people take a part in hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placing {
    /// The command's wording.
    pub label: &'static str,
    /// Its key.
    pub key: &'static str,
    /// What to click, in a sentence.
    pub about: &'static str,
    /// Name of its icon.
    pub icon: &'static str,
}

/// What holds for all parts of a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartFacts {
    /// What holds for every kind.
    pub kind: KindFacts,
    /// What they are plumbed as.
    pub plumbing: Plumbing,
    /// The letter that tags start with in new projects; [`TagLetters`](crate::plan::TagLetters) knows what older ones have.
    pub tag_letter: char,
    /// How they are placed.
    pub placing: Placing,
    /// What can be read off them.
    pub reading: Option<Reading>,
    /// Can be shut.
    pub can_be_shut: bool,
    /// Closes the port that it is screwed onto.
    pub closes_ports: bool,
    /// How they stand on the schematic.
    pub schematic: SchematicForm,
    /// Where their tags stand on the drawing to scale.
    pub tag: TagPlacing,
}

/// Where the pieces of a kind stand in a usual row feed, in the order the liquid passes: tubes lead to the first of them
/// (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PlaceAlongFeed {
    /// Ahead of the check valve, which keeps it full between two passes, and of what meters, behind which the liquid may run
    /// down without filling the bore: what is looked at must stand in a full bore.
    BeforeCheckValve,
    /// Where the check valve stands: close to what meters, so that little runs out after the supply is shut.
    CheckValve,
    /// Where what meters stands, metering tubes too: last.
    Metering,
}

/// What holds for all elements of a kind.
#[derive(Debug, Clone, Copy)]
pub struct ElementFacts {
    /// What holds for every kind.
    pub kind: KindFacts,
    /// Its name on a card of numbers.
    pub short_name: &'static str,
    /// Meters the flow of a row.
    pub meters: bool,
    /// Where one stands in a usual row feed.
    pub place_along_feed: PlaceAlongFeed,
    /// Draws its symbol.
    pub symbol: fn() -> ElementSymbol,
}

/// The size of a part in the plan view, for drawing, picking and placing; metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Half its length, along its own x.
    pub half_length: f64,
    /// Half its depth, along its own y.
    pub half_depth: f64,
}

impl Body {
    /// Its middle half: symbols are drawn larger than what they stand for, and ports lie at the edges.
    #[must_use]
    pub fn middle(self) -> Self {
        Self { half_length: self.half_length / 2.0, half_depth: self.half_depth / 2.0 }
    }
}

/// How a part stands in the mirror.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mirrored {
    /// Looks the same, perhaps with ports changed over.
    Alike,
    /// Does not look the same, and is turned round instead.
    TurnedRound,
}

/// Numbers of an entry that can't be together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contradiction {
    /// What is wrong.
    pub what: String,
    /// What to try.
    pub advice: String,
}

impl Contradiction {
    /// One, unless it holds.
    pub(super) fn unless(
        holds: bool,
        what: impl FnOnce() -> String,
        advice: impl Into<String>,
    ) -> Option<Self> {
        (!holds).then(|| Self { what: what(), advice: advice.into() })
    }
}

/// What an entry of any role says of itself.
pub trait ItemDescription {
    /// Its numbers with their ranges, in the order they are defined.
    fn number_table(&self) -> Vec<Number>;

    /// What of its numbers can't be together; nothing where all is well.
    fn contradictions(&self) -> Vec<Contradiction>;

    /// The size people choose it by: `25 mm`, `8 outlets, 20 mm bore`, `300 µm`.
    fn size(&self, units: UnitSystem) -> String;

    /// What decides between entries of its kind in a list to choose from: more than its size where that alone would not
    /// tell them apart. `12 outlets, end inlet, 20 mm bore`, `opens 0.20, shuts 0.18 bar`.
    fn choice(&self, units: UnitSystem) -> String;

    /// Rated pressure, where the entry has one; of a gauge its full scale.
    fn rated(&self) -> Option<Pressure>;

    /// The narrowest opening liquid passes through on its way to a row, where one can plug.
    fn smallest_bore(&self) -> Option<Length>;

    /// The bore that a flow factor of a data sheet holds for, of what has one coefficient alone.
    fn flow_factor_bore(&self) -> Option<Length>;
}

/// What a part says of itself.
pub trait PartDescription: ItemDescription {
    /// The ports hoses, tubes, gauges and plugs go to.
    fn port_places(&self) -> Vec<PartPort>;

    /// How large it is.
    fn body(&self) -> Body;

    /// Bore of its ports, where liquid passes through it.
    fn bore(&self) -> Option<Length>;

    /// What liquid meets between its ports.
    fn ways(&self) -> Ways;

    /// The port that its pressure is read at; none for wherever liquid comes in.
    fn read_at(&self) -> Option<Port>;

    /// Its symbol.
    fn symbol(&self) -> PartSymbol;

    /// How it stands in the mirror.
    fn mirrored(&self) -> Mirrored;

    /// The port of the mirrored part that lies where the mirrored port would.
    fn mirrored_port(&self, port: Port) -> Port;
}

/// What an element of a row feed says of itself.
pub trait ElementDescription: ItemDescription {
    /// The narrowest opening liquid passes through.
    fn bore(&self) -> Length;

    /// What liquid meets in it.
    fn passage(&self) -> Passage;

    /// What stands beside its symbol on the schematic; may be empty.
    fn schematic_words(&self, units: UnitSystem) -> String;
}

/// What a fitting says of itself.
pub trait FittingDescription: ItemDescription {
    /// Its own bore.
    fn bore(&self) -> Length;

    /// Its loss coefficient at its own bore.
    fn k(&self) -> f64;
}

/// A kind of fitting.
pub trait DescribedFitting: FittingDescription {
    /// What holds for all of them.
    const FACTS: KindFacts;
}

/// A kind of part.
pub trait DescribedPart: PartDescription {
    /// What holds for all of them.
    const FACTS: PartFacts;
}

/// A kind of element of a row feed.
pub trait DescribedElement: ElementDescription {
    /// What holds for all of them.
    const FACTS: ElementFacts;
}
