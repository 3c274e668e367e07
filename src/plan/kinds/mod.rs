//! The kinds of catalogue entries, one file a kind: its numbers, its ports and size, what liquid meets in it, its symbol,
//! its words and how it is placed. Everything else reads what a kind says here and names no kind.
//!
//! To add one: a file here, and its name in the lists below. Start reading at [`description`], then [`section_valve`].

mod blanking_plug;
mod check_valve;
pub mod description;
mod fitting;
mod flow_indicator;
mod flow_meter;
mod gauge;
mod hose_stock;
mod inlet_filter;
mod manifold;
mod metering_orifice;
pub mod numbers;
pub mod ports;
mod section_valve;
mod small_tee;
mod stocks;
pub mod symbol;
mod tee;

use std::ops::Deref;

use serde::{Deserialize, Serialize};
use strum::EnumCount;

pub use blanking_plug::BlankingPlug;
pub use check_valve::CheckValve;
pub use description::{
    Body, Contradiction, DescribedElement, DescribedFitting, DescribedPart, ElementDescription, ElementFacts,
    FittingDescription, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts, PlaceAlongFeed,
    Placing, Plumbing, Reading, Spares,
};
pub use fitting::{Fitting, FittingForm};
pub use flow_indicator::FlowIndicator;
pub use flow_meter::FlowMeter;
pub use gauge::Gauge;
pub use hose_stock::HoseStock;
pub use inlet_filter::InletFilter;
pub use manifold::{Manifold, ManifoldInlet};
pub use metering_orifice::MeteringOrifice;
use numbers::FromNumbers;
pub use numbers::{Field, ItemError, Number, Range};
pub use ports::{PartPort, Passage, PortName, Way, WayEnd, WayName, Ways};
pub use section_valve::SectionValve;
pub use small_tee::SmallTee;
pub use symbol::{ElementSymbol, PartSymbol};
pub use tee::Tee;

use super::part::Port;
use crate::geometry::Point2;

/// The kinds of one role: an enum of their items and an enum of the kinds alone.
macro_rules! role {
    (
        $(#[$doc:meta])* $Items:ident: $Role:ident;
        $(#[$kind_doc:meta])* $Kind:ident;
        $($(#[$variant_doc:meta])* $Variant:ident($Item:ident);)*
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
        pub enum $Items {
            $($(#[$variant_doc])* $Variant($Item),)*
        }

        $(#[$kind_doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $Kind {
            $($(#[$variant_doc])* $Variant,)*
        }

        impl $Kind {
            /// Every kind, in the order they are offered.
            pub const ALL: &'static [Self] = &[$(Self::$Variant),*];

            /// In plain words, lower case.
            pub const fn words(self) -> &'static str {
                self.common().words
            }

            /// An item of this kind from its numbers.
            fn item_of(self, given: numbers::Given) -> Result<$Items, ItemError> {
                Ok(match self { $(Self::$Variant => $Items::$Variant($Item::from_numbers(given)?),)* })
            }
        }

        impl $Items {
            /// Its kind.
            pub const fn item_kind(&self) -> $Kind {
                match self { $(Self::$Variant(_) => $Kind::$Variant,)* }
            }

            /// The kind in plain words, lower case.
            pub const fn kind(&self) -> &'static str {
                self.item_kind().words()
            }
        }

        impl From<$Items> for Item {
            fn from(item: $Items) -> Self {
                Self::$Role(item)
            }
        }
    };
}

/// The same, of kinds that each have a type and facts of their own.
macro_rules! described_role {
    (
        $Facts:ident of $Described:ident;
        $(#[$doc:meta])* $Items:ident: $Role:ident as dyn $Description:ident;
        $(#[$kind_doc:meta])* $Kind:ident;
        $($(#[$variant_doc:meta])* $Variant:ident;)*
    ) => {
        role! {
            $(#[$doc])* $Items: $Role;
            $(#[$kind_doc])* $Kind;
            $($(#[$variant_doc])* $Variant($Variant);)*
        }

        /// What its kind says of it.
        impl Deref for $Items {
            type Target = dyn $Description;

            fn deref(&self) -> &Self::Target {
                match self { $(Self::$Variant(one) => one,)* }
            }
        }

        impl $Kind {
            /// What holds for all of this kind.
            pub const fn facts(self) -> &'static $Facts {
                match self { $(Self::$Variant => &<$Variant as $Described>::FACTS,)* }
            }
        }

        $(
            impl From<$Variant> for Item {
                fn from(item: $Variant) -> Self {
                    Self::$Role($Items::$Variant(item))
                }
            }
        )*
    };
}

described_role! {
    PartFacts of DescribedPart;
    /// What can be placed on the bar.
    PartItem: Part as dyn PartDescription;
    /// The kind of a part, without its numbers.
    PartKind;
    /// Strainer on the bar's inlet.
    InletFilter;
    /// Three hose ends: a straight run and a branch.
    Tee;
    /// Opens or shuts what is behind it.
    SectionValve;
    /// Shows the flow through it.
    FlowMeter;
    /// A body with an inlet, a far end and outlets for rows.
    Manifold;
    /// Pressure gauge.
    Gauge;
    /// Closes a port.
    BlankingPlug;
}

role! {
    /// What is cut from a length. A metering tube is one of them: it is ordered, rolled up, cut and bent like any tube; that
    /// it stands in a row feed is said by the element that it is cut for.
    StockItem: Stock;
    /// The kind of a stock, without its numbers.
    StockKind;
    /// For supply and mains.
    Hose(HoseStock);
    /// From a manifold to a row.
    Tube(HoseStock);
    /// Cut to a length that meters.
    MeteringTube(HoseStock);
}

described_role! {
    ElementFacts of DescribedElement;
    /// What stands in a row feed as a whole piece.
    ElementItem: Element as dyn ElementDescription;
    /// The kind of an element, without its numbers.
    ElementKind;
    /// A plate with a hole that meters.
    MeteringOrifice;
    /// Opens at its cracking pressure, never lets anything back.
    CheckValve;
    /// Shows whether its row flows.
    FlowIndicator;
}

described_role! {
    KindFacts of DescribedFitting;
    /// What joins the others.
    FittingItem: Fitting as dyn FittingDescription;
    /// The kind of a fitting, without its numbers.
    FittingKind;
    /// Splits a shared row feed near the openers.
    SmallTee;
    /// A barb, elbow or adapter whose own bore counts.
    Fitting;
}

/// What an entry is, by its role: what can be done with it. All bores above 0; loss coefficients `k` refer to the velocity
/// in the entry's own bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Item {
    /// Is placed on the bar.
    Part(PartItem),
    /// Is cut from a length.
    Stock(StockItem),
    /// Stands in a row feed as a whole piece.
    Element(ElementItem),
    /// Joins the others.
    Fitting(FittingItem),
}

/// What an entry can be used for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, EnumCount)]
pub enum Role {
    /// Is placed on the bar.
    Part,
    /// Is cut from a length.
    Stock,
    /// Stands in a row feed as a whole piece.
    Element,
    /// Joins the others.
    Fitting,
}

impl Role {
    /// All, in the order of a file's lists.
    pub const ALL: [Self; Self::COUNT] = [Self::Part, Self::Stock, Self::Element, Self::Fitting];
}

/// The kind of an item of any role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ItemKind {
    /// A kind of part.
    Part(PartKind),
    /// A kind of stock.
    Stock(StockKind),
    /// A kind of element.
    Element(ElementKind),
    /// A kind of fitting.
    Fitting(FittingKind),
}

impl PartKind {
    const fn common(self) -> &'static KindFacts {
        &self.facts().kind
    }
}

impl ElementKind {
    const fn common(self) -> &'static KindFacts {
        &self.facts().kind
    }

    /// Its name on a card of numbers.
    pub const fn short_name(self) -> &'static str {
        self.facts().short_name
    }

    /// Meters the flow.
    pub const fn is_metering(self) -> bool {
        self.facts().meters
    }

    /// Where one stands in a usual row feed.
    pub const fn place_along_feed(self) -> PlaceAlongFeed {
        self.facts().place_along_feed
    }
}

impl FittingKind {
    const fn common(self) -> &'static KindFacts {
        self.facts()
    }
}

impl ItemKind {
    /// Every kind, role by role.
    pub fn all() -> impl Iterator<Item = Self> {
        let parts = PartKind::ALL.iter().copied().map(Self::Part);
        let stocks = StockKind::ALL.iter().copied().map(Self::Stock);
        let elements = ElementKind::ALL.iter().copied().map(Self::Element);
        let fittings = FittingKind::ALL.iter().copied().map(Self::Fitting);
        parts.chain(stocks).chain(elements).chain(fittings)
    }

    /// What holds for all of this kind.
    pub const fn common(self) -> &'static KindFacts {
        match self {
            Self::Part(kind) => kind.common(),
            Self::Stock(kind) => kind.common(),
            Self::Element(kind) => kind.common(),
            Self::Fitting(kind) => kind.common(),
        }
    }

    /// In plain words, lower case.
    pub const fn words(self) -> &'static str {
        self.common().words
    }

    /// What its items are for.
    pub const fn role(self) -> Role {
        match self {
            Self::Part(_) => Role::Part,
            Self::Stock(_) => Role::Stock,
            Self::Element(_) => Role::Element,
            Self::Fitting(_) => Role::Fitting,
        }
    }

    /// Its symbol in a row feed, where it has one.
    pub fn feed_symbol(self) -> Option<ElementSymbol> {
        match self {
            Self::Part(_) | Self::Fitting(FittingKind::SmallTee) => None,
            Self::Stock(kind) => kind.feed_symbol(),
            Self::Element(kind) => Some((kind.facts().symbol)()),
            Self::Fitting(FittingKind::Fitting) => Some(fitting::symbol()),
        }
    }

    fn item_of(self, given: numbers::Given) -> Result<Item, ItemError> {
        Ok(match self {
            Self::Part(kind) => kind.item_of(given)?.into(),
            Self::Stock(kind) => kind.item_of(given)?.into(),
            Self::Element(kind) => kind.item_of(given)?.into(),
            Self::Fitting(kind) => kind.item_of(given)?.into(),
        })
    }
}

impl PartItem {
    /// What holds for all of its kind.
    pub const fn facts(&self) -> &'static PartFacts {
        self.item_kind().facts()
    }

    /// What it is plumbed as.
    pub const fn plumbing(&self) -> Plumbing {
        self.facts().plumbing
    }

    /// Goes into a hose, which becomes two.
    pub const fn is_in_line(&self) -> bool {
        matches!(self.plumbing(), Plumbing::InLine)
    }

    /// Is screwed onto a port of another part and passes nothing on.
    pub const fn is_on_port(&self) -> bool {
        matches!(self.plumbing(), Plumbing::OnPort)
    }

    /// Gives liquid to rows.
    pub const fn is_for_rows(&self) -> bool {
        matches!(self.plumbing(), Plumbing::ForRows)
    }

    /// Has an inlet and an outlet and no other port: all that comes in goes on.
    pub fn passes_on(&self) -> bool {
        self.is_in_line() && self.port_places().len() == 2
    }

    /// Its ports, in the order of [`port_places`](PartDescription::port_places).
    pub fn ports(&self) -> Vec<Port> {
        self.port_places().into_iter().map(|one| one.port).collect()
    }

    /// Has this port.
    pub fn has_port(&self, port: Port) -> bool {
        self.port(port).is_some()
    }

    /// A port of it.
    pub fn port(&self, port: Port) -> Option<PartPort> {
        self.port_places().into_iter().find(|one| one.port == port)
    }

    /// Where a port is, from the part's middle before it is turned, metres; the middle itself for a port it has not.
    pub fn port_offset(&self, port: Port) -> Point2 {
        self.port(port).map_or_else(Point2::default, |one| one.offset)
    }
}

impl Item {
    /// Its kind.
    pub const fn item_kind(&self) -> ItemKind {
        match self {
            Self::Part(one) => ItemKind::Part(one.item_kind()),
            Self::Stock(one) => ItemKind::Stock(one.item_kind()),
            Self::Element(one) => ItemKind::Element(one.item_kind()),
            Self::Fitting(one) => ItemKind::Fitting(one.item_kind()),
        }
    }

    /// The kind in plain words, lower case.
    pub const fn kind(&self) -> &'static str {
        self.item_kind().words()
    }

    /// What it is for.
    pub const fn role(&self) -> Role {
        self.item_kind().role()
    }

    /// Sold by length and cut: a hose or a tube.
    pub const fn is_cut(&self) -> bool {
        matches!(self, Self::Stock(_))
    }

    /// Meters the flow of a row.
    pub const fn is_metering(&self) -> bool {
        match self {
            Self::Element(one) => one.item_kind().is_metering(),
            Self::Stock(StockItem::MeteringTube(_)) => true,
            Self::Part(_) | Self::Fitting(_) | Self::Stock(StockItem::Hose(_) | StockItem::Tube(_)) => false,
        }
    }

    /// Every number it has, in the order of [`Field::ALL`], in stored units (SI).
    pub fn numbers(&self) -> Vec<(Field, f64)> {
        let table = self.number_table();
        let value = |field| table.iter().find(|one| one.field == field)?.value;
        Field::ALL.into_iter().filter_map(|field| Some((field, value(field)?))).collect()
    }

    /// An item of a kind from its numbers in stored units. Whether they are in range is for
    /// [`validate::entry`](super::validate::entry) to say.
    pub fn from_numbers(kind: &str, number: impl Fn(Field) -> Option<f64>) -> Result<Self, ItemError> {
        let kind = ItemKind::all().find(|one| one.words() == kind).ok_or(ItemError::UnknownKind)?;
        kind.item_of(&number)
    }
}

/// What its kind says of it, whatever its role.
impl Deref for Item {
    type Target = dyn ItemDescription;

    fn deref(&self) -> &Self::Target {
        match self {
            Self::Part(one) => &**one,
            Self::Stock(one) => one,
            Self::Element(one) => &**one,
            Self::Fitting(one) => &**one,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_kinds_have_the_same_place_on_lists_or_the_same_words() {
        let kinds: Vec<ItemKind> = ItemKind::all().collect();
        for (index, one) in kinds.iter().enumerate() {
            for other in &kinds[..index] {
                assert_ne!(one.common().list_order, other.common().list_order, "{one:?} and {other:?}");
                assert_ne!(one.words(), other.words(), "{one:?} and {other:?}");
            }
        }
    }
}
