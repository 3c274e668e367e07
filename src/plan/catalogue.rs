//! The catalogue: every stock and part a project uses, as numbers that anyone can measure.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::part::Port;
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

/// The name an entry is referred to by; short, unique in a catalogue.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct EntryKey(pub String);

impl EntryKey {
    /// From text.
    pub fn new(key: impl Into<String>) -> Self {
        Self(key.into())
    }
}

impl fmt::Display for EntryKey {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.0)
    }
}

/// A key that can only name entries of one role.
pub trait Key: Clone + Ord + fmt::Debug + fmt::Display {
    /// What such an entry is.
    type Item: 'static;

    /// The same key, without its role.
    fn any(&self) -> &EntryKey;

    /// The item, if it has this role.
    fn narrow(item: &Item) -> Option<&Self::Item>;

    /// The typed key of an entry that is known to have this role.
    fn of_entry(key: EntryKey) -> Self;
}

macro_rules! keys {
    ($($(#[$doc:meta])* $Name:ident: $Role:ident($Item:ty);)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $Name(EntryKey);

        impl $Name {
            /// From text.
            pub fn new(key: impl Into<String>) -> Self {
                Self(EntryKey::new(key))
            }

            /// The same key, without its role.
            pub const fn any(&self) -> &EntryKey {
                &self.0
            }
        }

        impl fmt::Display for $Name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(out)
            }
        }

        /// Every typed key is a key of the catalogue; not the other way round.
        impl std::ops::Deref for $Name {
            type Target = EntryKey;

            fn deref(&self) -> &EntryKey {
                &self.0
            }
        }

        impl PartialEq<EntryKey> for $Name {
            fn eq(&self, other: &EntryKey) -> bool {
                self.0 == *other
            }
        }

        impl Key for $Name {
            type Item = $Item;

            fn any(&self) -> &EntryKey {
                &self.0
            }

            fn narrow(item: &Item) -> Option<&$Item> {
                if let Item::$Role(one) = item { Some(one) } else { None }
            }

            fn of_entry(key: EntryKey) -> Self {
                Self(key)
            }
        }
    )*};
}

/// Names an entry of any role, for lists of all entries.
impl Key for EntryKey {
    type Item = Item;

    fn any(&self) -> &EntryKey {
        self
    }

    fn narrow(item: &Item) -> Option<&Item> {
        Some(item)
    }

    fn of_entry(key: EntryKey) -> Self {
        key
    }
}

keys! {
    /// Names what can be placed on the bar.
    PartKey: Part(PartItem);
    /// Names what is cut from a length.
    StockKey: Stock(StockItem);
    /// Names what stands in a row feed as a whole piece.
    ElementKey: Element(ElementItem);
    /// Names what joins the others.
    FittingKey: Fitting(FittingItem);
}

/// All entries a project carries, so that it opens alone. In a file they stand in four lists, one for each role.
///
/// Two catalogues are equal if each role's entries are, in their order.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(from = "Lists", into = "Lists")]
pub struct Catalogue {
    /// The entries, in the order they are offered.
    pub entries: Vec<Entry>,
}

impl PartialEq for Catalogue {
    fn eq(&self, other: &Self) -> bool {
        Role::ALL.into_iter().all(|role| self.of_role(role).eq(other.of_role(role)))
    }
}

/// How the entries of one role stand in a file.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename = "Entry")]
struct Listed<I> {
    key: EntryKey,
    description: String,
    part_number: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    connection: String,
    price: Option<Price>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    roll: Option<Length>,
    item: I,
}

/// A catalogue as it stands in a file.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename = "Catalogue")]
struct Lists {
    stocks: Vec<Listed<StockItem>>,
    elements: Vec<Listed<ElementItem>>,
    parts: Vec<Listed<PartItem>>,
    fittings: Vec<Listed<FittingItem>>,
}

impl<I> Listed<I> {
    fn entry(self, item: impl Fn(I) -> Item) -> Entry {
        let Self { key, description, part_number, connection, price, roll, item: own } = self;
        Entry { key, description, part_number, connection, price, roll, item: item(own) }
    }

    fn of(entry: &Entry, item: I) -> Self {
        let Entry { key, description, part_number, connection, price, roll, item: _ } = entry.clone();
        Self { key, description, part_number, connection, price, roll, item }
    }
}

impl From<Lists> for Catalogue {
    fn from(lists: Lists) -> Self {
        let stocks = lists.stocks.into_iter().map(|one| one.entry(Item::Stock));
        let elements = lists.elements.into_iter().map(|one| one.entry(Item::Element));
        let parts = lists.parts.into_iter().map(|one| one.entry(Item::Part));
        let fittings = lists.fittings.into_iter().map(|one| one.entry(Item::Fitting));
        Self { entries: stocks.chain(elements).chain(parts).chain(fittings).collect() }
    }
}

impl From<Catalogue> for Lists {
    fn from(catalogue: Catalogue) -> Self {
        let mut lists =
            Self { stocks: Vec::new(), elements: Vec::new(), parts: Vec::new(), fittings: Vec::new() };
        for entry in &catalogue.entries {
            match entry.item {
                Item::Part(item) => lists.parts.push(Listed::of(entry, item)),
                Item::Stock(item) => lists.stocks.push(Listed::of(entry, item)),
                Item::Element(item) => lists.elements.push(Listed::of(entry, item)),
                Item::Fitting(item) => lists.fittings.push(Listed::of(entry, item)),
            }
        }
        lists
    }
}

impl Catalogue {
    /// An entry by its key.
    pub fn entry(&self, key: &EntryKey) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.key == *key)
    }

    /// What an entry is, by a key of its role.
    pub fn item<K: Key>(&self, key: &K) -> Option<&K::Item> {
        self.any_item(key.any()).and_then(K::narrow)
    }

    /// What an entry is, whatever its role.
    pub fn any_item(&self, key: &EntryKey) -> Option<&Item> {
        self.entry(key).map(|entry| &entry.item)
    }

    /// All entries of a role with their typed keys, in the order they are offered.
    pub fn of<K: Key>(&self) -> impl Iterator<Item = (K, &K::Item)> {
        self.entries
            .iter()
            .filter_map(|entry| Some((K::of_entry(entry.key.clone()), K::narrow(&entry.item)?)))
    }

    /// The first entry of a role that fits.
    pub fn first<K: Key>(&self, fits: impl Fn(&K::Item) -> bool) -> Option<K> {
        self.of::<K>().find(|(_, item)| fits(item)).map(|(key, _)| key)
    }

    /// The typed key of an entry that was chosen from a list of all, if it has this role.
    pub fn key<K: Key>(&self, key: &EntryKey) -> Option<K> {
        K::narrow(self.any_item(key)?).map(|_| K::of_entry(key.clone()))
    }

    fn of_role(&self, role: Role) -> impl Iterator<Item = &Entry> {
        self.entries.iter().filter(move |entry| entry.item.role() == role)
    }

    /// The entries of a role that fit, each with wording to choose it by: what decides between them, the kind where kinds
    /// are mixed, of a fitting what it is, and where two would still read alike their descriptions, or else their keys.
    pub fn offered<K: Key>(&self, units: UnitSystem, fits: impl Fn(&K::Item) -> bool) -> Vec<(K, String)> {
        let fits = |item: &Item| K::narrow(item).is_some_and(&fits);
        let fitting: Vec<&Entry> = self.entries.iter().filter(|entry| fits(&entry.item)).collect();
        let mixed = fitting.windows(2).any(|pair| pair[0].item.kind() != pair[1].item.kind());
        let plain = |entry: &Entry| {
            let wording = entry.item.choice(units);
            // A barb, an elbow or an adapter: its bore alone does not say.
            if let Item::Fitting(FittingItem::Fitting { .. }) = entry.item {
                let what = if entry.description.is_empty() { "fitting" } else { &entry.description };
                format!("{what}, {wording} bore")
            } else if mixed {
                format!("{wording} {}", entry.item.kind())
            } else {
                wording
            }
        };
        let mut wordings: Vec<String> = fitting.iter().map(|entry| plain(entry)).collect();
        let apart: [fn(&Entry) -> &str; 2] = [|entry| &entry.description, |entry| &entry.key.0];
        for more in apart {
            let twice = |at: usize, all: &[String]| all.iter().filter(|one| **one == all[at]).count() > 1;
            let alike: Vec<usize> = (0..wordings.len()).filter(|at| twice(*at, &wordings)).collect();
            for at in alike {
                wordings[at] = format!("{}, {}", wordings[at], more(fitting[at]));
            }
        }
        fitting.into_iter().map(|entry| K::of_entry(entry.key.clone())).zip(wordings).collect()
    }

    /// The dimensions of a hose or tube stock.
    pub fn stock(&self, key: &StockKey) -> Option<&HoseStock> {
        self.item(key).map(StockItem::dimensions)
    }
}

/// One line of the catalogue.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What plans refer to.
    pub key: EntryKey,
    /// In words, for lists.
    pub description: String,
    /// The dealer's own number; may be empty.
    pub part_number: String,
    /// How its ends are made, in words for whoever orders: `G 3/4 external thread, barb for 19 mm hose`; may be empty.
    pub connection: String,
    /// What it costs, if anyone said: per metre for hoses and tubes, per piece otherwise.
    pub price: Option<Price>,
    /// Length of a roll of hose or tube as it is sold, if anyone said; above 0, only for what is cut from a length.
    pub roll: Option<Length>,
    /// What it is and how it behaves.
    pub item: Item,
}

/// A price with its currency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// The amount, 0 or more.
    pub amount: f64,
    /// Three letters, as in ISO 4217.
    pub currency: String,
}

/// A hose or tube sold by length.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoseStock {
    /// Inside diameter; above 0.
    pub bore: Length,
    /// Outside diameter; above the bore.
    pub outside: Length,
    /// Absolute roughness of the wall; 0 or more, below half the bore.
    pub roughness: Length,
    /// Smallest bend radius, to the centre line.
    pub bend_radius: Length,
    /// Rated pressure at 20 °C.
    pub rated: Pressure,
}

/// Where a manifold's inlet is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ManifoldInlet {
    /// At the left end, the far end at the right (before turning).
    End,
    /// In the middle of its front side.
    Middle,
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

/// What can be placed on the bar.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum PartItem {
    /// Strainer on the bar's inlet.
    InletFilter {
        /// Bore of its ports.
        bore: Length,
        /// Loss coefficient, clean.
        k: f64,
        /// Mesh opening.
        opening: Length,
        /// Rated pressure.
        rated: Pressure,
    },
    /// Three hose ends: a straight run and a branch.
    Tee {
        /// Bore of its ports.
        bore: Length,
        /// Loss coefficient straight through.
        k_through: f64,
        /// Loss coefficient between the branch and either end of the run; at least half of `k_through`.
        k_branch: f64,
        /// Rated pressure.
        rated: Pressure,
    },
    /// Opens or shuts what is behind it.
    SectionValve {
        /// Bore, open.
        bore: Length,
        /// Loss coefficient, open.
        k: f64,
        /// Rated pressure.
        rated: Pressure,
    },
    /// A body with an inlet, a far end and outlets for rows.
    Manifold {
        /// How many outlets; 1 to 64.
        outlets: u16,
        /// From outlet to outlet along the body.
        spacing: Length,
        /// Bore of the body.
        bore: Length,
        /// Loss coefficient of its inlet.
        k: f64,
        /// Where the inlet is.
        inlet: ManifoldInlet,
        /// Rated pressure.
        rated: Pressure,
    },
    /// Pressure gauge.
    Gauge {
        /// Full scale.
        full_scale: Pressure,
    },
    /// Closes a port.
    BlankingPlug {
        /// Rated pressure.
        rated: Pressure,
    },
}

/// What is cut from a length. A metering tube is one of them: it is ordered, rolled up, cut and bent like any tube; that it
/// stands in a row feed is said by the element that it is cut for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum StockItem {
    /// For supply and mains.
    Hose(HoseStock),
    /// From a manifold to a row.
    Tube(HoseStock),
    /// Cut to a length that meters.
    MeteringTube(HoseStock),
}

/// What stands in a row feed as a whole piece.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum ElementItem {
    /// A plate with a hole that meters.
    MeteringOrifice {
        /// Diameter of the hole.
        bore: Length,
        /// Discharge coefficient, to be calibrated; above 0, at most 1.
        cd: f64,
        /// Thickness of the plate; 0 or more.
        thickness: Length,
        /// Adds the viscous loss of small Reynolds numbers, with the plate's thickness, to that of `cd` (after Sampson 1891
        /// and Dagan, Weinbaum and Pfeffer 1982; an interpolation above Re of about 10). For a `cd` measured in turbulent
        /// flow; one measured with the liquid and flow in use holds that loss already.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        creeping: bool,
    },
    /// Opens at its cracking pressure, never lets anything back.
    CheckValve {
        /// Pressure difference at which it opens; 0 or more.
        cracking: Pressure,
        /// Pressure difference at which it shuts again; at most the cracking pressure.
        closing: Pressure,
        /// Loss coefficient, open.
        k: f64,
        /// Bore.
        bore: Length,
        /// Rated pressure.
        rated: Pressure,
    },
}

/// What joins the others.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum FittingItem {
    /// Splits a shared row feed near the openers.
    SmallTee {
        /// Bore of its ports.
        bore: Length,
        /// Loss coefficient from the inlet to either outlet.
        k: f64,
    },
    /// A barb, elbow or adapter whose own bore counts.
    Fitting {
        /// Bore.
        bore: Length,
        /// Loss coefficient.
        k: f64,
    },
}

/// What an entry can be used for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
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
    pub const ALL: [Self; 4] = [Self::Part, Self::Stock, Self::Element, Self::Fitting];
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

/// The lists of kinds, once: whatever goes through all kinds takes them from here, and an item that is missing from them
/// does not compile.
macro_rules! kinds {
    ($($Role:ident, $Kind:ident of $Items:ident { $($variant:ident: $words:literal;)* })*) => {
        $(
            /// The kind of an item of this role, without its numbers.
            #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
            pub enum $Kind {
                $(#[doc = concat!("A ", $words, ".")] $variant,)*
            }

            impl $Kind {
                /// Every kind, in the order they are offered.
                pub const ALL: &'static [Self] = &[$(Self::$variant),*];

                /// In plain words, lower case.
                pub const fn words(self) -> &'static str {
                    match self { $(Self::$variant => $words,)* }
                }
            }

            impl $Items {
                /// Its kind.
                pub const fn item_kind(&self) -> $Kind {
                    match self { $(Self::$variant { .. } => $Kind::$variant,)* }
                }

                /// The kind in plain words, lower case.
                pub const fn kind(&self) -> &'static str {
                    self.item_kind().words()
                }
            }
        )*

        /// The kind of an item of any role.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum ItemKind {
            $(#[doc = concat!("A kind of ", stringify!($Role), ".")] $Role($Kind),)*
        }

        impl ItemKind {
            /// Every kind, role by role.
            pub const ALL: &'static [Self] = &[$($(Self::$Role($Kind::$variant),)*)*];

            /// In plain words, lower case.
            pub const fn words(self) -> &'static str {
                match self { $(Self::$Role(kind) => kind.words(),)* }
            }

            /// What its items are for.
            pub const fn role(self) -> Role {
                match self { $(Self::$Role(_) => Role::$Role,)* }
            }
        }

        impl Item {
            /// Its kind.
            pub const fn item_kind(&self) -> ItemKind {
                match self { $(Self::$Role(one) => ItemKind::$Role(one.item_kind()),)* }
            }

            /// The size people choose it by: `25 mm`, `8 outlets, 20 mm bore`, `300 µm`.
            pub fn size(&self, units: UnitSystem) -> String {
                match self { $(Self::$Role(one) => one.size(units),)* }
            }

            /// What decides between entries of its kind in a list to choose from: more than its size where that alone would
            /// not tell them apart. `12 outlets, end inlet, 20 mm bore`, `opens 0.20, shuts 0.18 bar`.
            pub fn choice(&self, units: UnitSystem) -> String {
                match self { $(Self::$Role(one) => one.choice(units),)* }
            }

            /// Rated pressure, where the entry has one.
            pub const fn rated(&self) -> Option<Pressure> {
                match self { $(Self::$Role(one) => one.rated(),)* }
            }
        }

        $(
            impl From<$Items> for Item {
                fn from(item: $Items) -> Self {
                    Self::$Role(item)
                }
            }
        )*
    };
}

kinds! {
    Part, PartKind of PartItem {
        InletFilter: "inlet filter";
        Tee: "tee";
        SectionValve: "section valve";
        Manifold: "manifold";
        Gauge: "gauge";
        BlankingPlug: "blanking plug";
    }
    Stock, StockKind of StockItem {
        Hose: "hose";
        Tube: "tube";
        MeteringTube: "metering tube";
    }
    Element, ElementKind of ElementItem {
        MeteringOrifice: "metering orifice";
        CheckValve: "check valve";
    }
    Fitting, FittingKind of FittingItem {
        SmallTee: "small tee";
        Fitting: "fitting";
    }
}

impl Item {
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

    /// The narrowest opening liquid passes through on its way to a row, where one can plug.
    pub const fn smallest_bore(&self) -> Option<Length> {
        match self {
            Self::Element(one) => Some(one.bore()),
            Self::Stock(StockItem::Tube(stock) | StockItem::MeteringTube(stock)) => Some(stock.bore),
            Self::Fitting(FittingItem::Fitting { bore, .. }) => Some(*bore),
            Self::Part(_) | Self::Stock(StockItem::Hose(_)) | Self::Fitting(FittingItem::SmallTee { .. }) => {
                None
            }
        }
    }
}

impl PartKind {
    /// What its parts are plumbed as.
    pub const fn plumbing(self) -> Plumbing {
        match self {
            Self::InletFilter | Self::Tee | Self::SectionValve => Plumbing::InLine,
            Self::Manifold => Plumbing::ForRows,
            Self::Gauge | Self::BlankingPlug => Plumbing::OnPort,
        }
    }

    /// The letter that tags of this kind start with.
    pub const fn tag_letter(self) -> char {
        match self {
            Self::InletFilter => 'F',
            Self::Tee => 'J',
            Self::SectionValve => 'V',
            Self::Manifold => 'M',
            Self::Gauge => 'G',
            Self::BlankingPlug => 'B',
        }
    }
}

impl PartItem {
    /// What it is plumbed as.
    pub const fn plumbing(&self) -> Plumbing {
        self.item_kind().plumbing()
    }

    /// Goes into a hose, which becomes two.
    pub const fn is_in_line(&self) -> bool {
        matches!(self.plumbing(), Plumbing::InLine)
    }

    /// Is screwed onto a port of another part and passes nothing on.
    pub const fn is_on_port(&self) -> bool {
        matches!(self.plumbing(), Plumbing::OnPort)
    }

    /// Has an inlet and an outlet and no other port: all that comes in goes on.
    pub const fn passes_on(&self) -> bool {
        self.is_in_line() && !matches!(self, Self::Tee { .. })
    }

    /// The letter that tags of this kind start with.
    pub const fn tag_letter(&self) -> char {
        self.item_kind().tag_letter()
    }

    /// The ports hoses, tubes, gauges and plugs go to.
    pub fn ports(&self) -> Vec<Port> {
        match self {
            Self::InletFilter { .. } | Self::SectionValve { .. } => vec![Port::In, Port::Out],
            Self::Tee { .. } => vec![Port::In, Port::Out, Port::Branch],
            Self::Manifold { outlets, .. } => {
                let mut ports = vec![Port::In, Port::Out, Port::Gauge];
                ports.extend((1..=*outlets).map(Port::Outlet));
                ports
            }
            Self::Gauge { .. } | Self::BlankingPlug { .. } => vec![Port::In],
        }
    }

    /// Has this port.
    pub fn has_port(&self, port: Port) -> bool {
        match (self, port) {
            (Self::Manifold { outlets, .. }, Port::Outlet(number)) => (1..=*outlets).contains(&number),
            (_, Port::Outlet(_)) => false,
            _ => self.ports().contains(&port),
        }
    }

    /// The size people choose it by.
    pub fn size(&self, units: UnitSystem) -> String {
        let bore = |length: &Length| Measure::Bore.short_text(length.si(), units);
        match self {
            Self::InletFilter { bore: port, opening, .. } => {
                format!("{}, {}", bore(port), Measure::Opening.short_text(opening.si(), units))
            }
            Self::Manifold { outlets, bore: body, .. } => format!("{outlets} outlets, {} bore", bore(body)),
            Self::Gauge { full_scale } => Measure::Pressure.short_text(full_scale.si(), units),
            Self::BlankingPlug { .. } => String::new(),
            Self::Tee { bore: size, .. } | Self::SectionValve { bore: size, .. } => bore(size),
        }
    }

    /// What decides between entries of its kind in a list to choose from.
    pub fn choice(&self, units: UnitSystem) -> String {
        let pressure = |one: &Pressure| Measure::Pressure.short_text(one.si(), units);
        match self {
            Self::Manifold { outlets, bore, inlet, .. } => {
                let inlet = match inlet {
                    ManifoldInlet::End => "end inlet",
                    ManifoldInlet::Middle => "middle inlet",
                };
                format!("{outlets} outlets, {inlet}, {} bore", Measure::Bore.short_text(bore.si(), units))
            }
            Self::Gauge { full_scale } => format!("0 to {}", pressure(full_scale)),
            Self::BlankingPlug { rated } => format!("rated {}", pressure(rated)),
            Self::InletFilter { .. } | Self::Tee { .. } | Self::SectionValve { .. } => self.size(units),
        }
    }

    /// Rated pressure; of a gauge its full scale.
    pub const fn rated(&self) -> Option<Pressure> {
        match self {
            Self::InletFilter { rated, .. }
            | Self::Tee { rated, .. }
            | Self::SectionValve { rated, .. }
            | Self::Manifold { rated, .. }
            | Self::BlankingPlug { rated } => Some(*rated),
            Self::Gauge { full_scale } => Some(*full_scale),
        }
    }

    /// Bore of its ports, where liquid passes through it.
    pub const fn bore(&self) -> Option<Length> {
        match self {
            Self::InletFilter { bore, .. }
            | Self::Tee { bore, .. }
            | Self::SectionValve { bore, .. }
            | Self::Manifold { bore, .. } => Some(*bore),
            Self::Gauge { .. } | Self::BlankingPlug { .. } => None,
        }
    }
}

impl StockItem {
    /// Its dimensions.
    pub const fn dimensions(&self) -> &HoseStock {
        match self {
            Self::Hose(stock) | Self::Tube(stock) | Self::MeteringTube(stock) => stock,
        }
    }

    /// The size people choose it by.
    pub fn size(&self, units: UnitSystem) -> String {
        let bore = self.dimensions().bore.si();
        match self {
            Self::Hose(_) | Self::Tube(_) => Measure::Bore.short_text(bore, units),
            // Bores that meter read alike below each other.
            Self::MeteringTube(_) => Measure::Bore.fine_text(bore, units),
        }
    }

    /// What decides between entries of its kind in a list to choose from.
    pub fn choice(&self, units: UnitSystem) -> String {
        self.size(units)
    }

    /// Rated pressure.
    pub const fn rated(&self) -> Option<Pressure> {
        Some(self.dimensions().rated)
    }
}

impl ElementItem {
    /// The size people choose it by.
    pub fn size(&self, units: UnitSystem) -> String {
        match self {
            Self::MeteringOrifice { bore, .. } => Measure::Bore.fine_text(bore.si(), units),
            Self::CheckValve { cracking, .. } => Measure::Pressure.short_text(cracking.si(), units),
        }
    }

    /// What decides between entries of its kind in a list to choose from.
    pub fn choice(&self, units: UnitSystem) -> String {
        match self {
            Self::MeteringOrifice { .. } => self.size(units),
            Self::CheckValve { cracking, closing, .. } => {
                let opens = Measure::Pressure.short_number(cracking.si(), units);
                format!("opens {opens}, shuts {}", Measure::Pressure.short_text(closing.si(), units))
            }
        }
    }

    /// Rated pressure, where the entry has one.
    pub const fn rated(&self) -> Option<Pressure> {
        match self {
            Self::CheckValve { rated, .. } => Some(*rated),
            Self::MeteringOrifice { .. } => None,
        }
    }

    /// The narrowest opening liquid passes through.
    pub const fn bore(&self) -> Length {
        match self {
            Self::MeteringOrifice { bore, .. } | Self::CheckValve { bore, .. } => *bore,
        }
    }
}

impl ElementKind {
    /// Its name on a card of numbers.
    pub const fn short_name(self) -> &'static str {
        match self {
            Self::MeteringOrifice => "Orifice",
            Self::CheckValve => "Check valve",
        }
    }

    /// Meters the flow.
    pub const fn is_metering(self) -> bool {
        match self {
            Self::MeteringOrifice => true,
            Self::CheckValve => false,
        }
    }
}

impl FittingItem {
    /// The size people choose it by.
    pub fn size(&self, units: UnitSystem) -> String {
        Measure::Bore.short_text(self.bore().si(), units)
    }

    /// What decides between entries of its kind in a list to choose from.
    pub fn choice(&self, units: UnitSystem) -> String {
        self.size(units)
    }

    /// None has a rated pressure.
    pub const fn rated(&self) -> Option<Pressure> {
        None
    }

    /// Its own bore.
    pub const fn bore(&self) -> Length {
        match self {
            Self::SmallTee { bore, .. } | Self::Fitting { bore, .. } => *bore,
        }
    }

    /// Its loss coefficient at its own bore.
    pub const fn k(&self) -> f64 {
        match self {
            Self::SmallTee { k, .. } | Self::Fitting { k, .. } => *k,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two manifolds that differ in their inlet alone, two check valves that differ in closing alone, a hose and a
    /// tube of one bore, and two hoses of one bore and two makers.
    #[test]
    fn no_two_entries_read_alike_in_a_list_to_choose_from() {
        let (bore, rated) = (Length::millimetres(20.0), Pressure::bar(8.0));
        let manifold = |inlet| {
            Item::from(PartItem::Manifold {
                outlets: 12,
                spacing: Length::millimetres(50.0),
                bore,
                k: 1.0,
                inlet,
                rated,
            })
        };
        let valve = |closing| {
            Item::from(ElementItem::CheckValve {
                cracking: Pressure::bar(0.2),
                closing: Pressure::bar(closing),
                k: 3.0,
                bore,
                rated,
            })
        };
        let stock = HoseStock {
            bore,
            outside: Length::millimetres(27.0),
            roughness: Length::ZERO,
            bend_radius: Length::millimetres(170.0),
            rated,
        };
        let entry = |key: &str, description: &str, item| Entry {
            key: EntryKey::new(key),
            description: description.to_owned(),
            part_number: String::new(),
            connection: String::new(),
            price: None,
            roll: None,
            item,
        };
        let catalogue = Catalogue {
            entries: vec![
                entry("a", "", manifold(ManifoldInlet::End)),
                entry("b", "", manifold(ManifoldInlet::Middle)),
                entry("c", "", valve(0.15)),
                entry("d", "", valve(0.18)),
                entry("e", "black", StockItem::Hose(stock).into()),
                entry("f", "white", StockItem::Hose(stock).into()),
                entry("g", "black", StockItem::Tube(stock).into()),
                entry("h", "black", StockItem::Tube(stock).into()),
                entry(
                    "i",
                    "Barb for 19 mm hose",
                    FittingItem::Fitting { bore: Length::millimetres(15.5), k: 0.2 }.into(),
                ),
                entry("j", "", FittingItem::Fitting { bore: Length::millimetres(15.5), k: 0.2 }.into()),
            ],
        };
        let texts = |fits: fn(&Item) -> bool| -> Vec<String> {
            catalogue
                .offered::<EntryKey>(UnitSystem::Metric, fits)
                .into_iter()
                .map(|(_, text)| text)
                .collect()
        };
        assert_eq!(
            texts(|item| matches!(item, Item::Part(PartItem::Manifold { .. }))),
            ["12 outlets, end inlet, 20 mm bore", "12 outlets, middle inlet, 20 mm bore"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Element(ElementItem::CheckValve { .. }))),
            ["opens 0.2, shuts 0.15 bar", "opens 0.2, shuts 0.18 bar"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Stock(StockItem::Hose(_) | StockItem::Tube(_)))),
            ["20 mm hose, black", "20 mm hose, white", "20 mm tube, black, g", "20 mm tube, black, h"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Fitting(FittingItem::Fitting { .. }))),
            ["Barb for 19 mm hose, 15.5 mm bore", "fitting, 15.5 mm bore"]
        );
        assert_eq!(texts(|item| matches!(item, Item::Part(PartItem::Tee { .. }))), Vec::<String>::new());
    }
}
