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

/// All entries a project carries, so that it opens alone.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Catalogue {
    /// The entries, in the order they are offered.
    pub entries: Vec<Entry>,
}

impl Catalogue {
    /// An entry by its key.
    pub fn entry(&self, key: &EntryKey) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.key == *key)
    }

    /// What an entry is, by its key.
    pub fn item(&self, key: &EntryKey) -> Option<&Item> {
        self.entry(key).map(|entry| &entry.item)
    }

    /// The entries that fit, each with wording to choose it by: what decides between them, the kind where kinds are
    /// mixed, of a fitting what it is, and where two would still read alike their descriptions, or else their keys.
    pub fn offered(&self, units: UnitSystem, fits: impl Fn(&Item) -> bool) -> Vec<(EntryKey, String)> {
        let fitting: Vec<&Entry> = self.entries.iter().filter(|entry| fits(&entry.item)).collect();
        let mixed = fitting.windows(2).any(|pair| pair[0].item.kind() != pair[1].item.kind());
        let plain = |entry: &Entry| {
            let wording = entry.item.choice(units);
            match entry.item {
                // A barb, an elbow or an adapter: its bore alone does not say.
                Item::Fitting { .. } if !entry.description.is_empty() => {
                    format!("{}, {wording} bore", entry.description)
                }
                Item::Fitting { .. } => format!("fitting, {wording} bore"),
                _ if mixed => format!("{wording} {}", entry.item.kind()),
                _ => wording,
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
        fitting.into_iter().map(|entry| entry.key.clone()).zip(wordings).collect()
    }

    /// The dimensions of a hose or tube stock.
    pub fn stock(&self, key: &EntryKey) -> Option<&HoseStock> {
        match self.item(key)? {
            Item::Hose(stock) | Item::Tube(stock) | Item::MeteringTube(stock) => Some(stock),
            _ => None,
        }
    }
}

/// One line of the catalogue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// What plans refer to.
    pub key: EntryKey,
    /// In words, for lists.
    pub description: String,
    /// The dealer's own number; may be empty.
    pub part_number: String,
    /// How its ends are made, in words for whoever orders: `G 3/4 external thread, barb for 19 mm hose`; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub connection: String,
    /// What it costs, if anyone said: per metre for hoses and tubes, per piece otherwise.
    pub price: Option<Price>,
    /// Length of a roll of hose or tube as it is sold, if anyone said; above 0, only for what is cut from a length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
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

/// What an entry is. All bores above 0; loss coefficients `k` refer to the velocity in the entry's own bore.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Item {
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
    /// For supply and mains.
    Hose(HoseStock),
    /// From a manifold to a row.
    Tube(HoseStock),
    /// Cut to a length that meters.
    MeteringTube(HoseStock),
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

/// What items of a kind are for: it decides where they can be placed, joined and taken into a row feed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Placed on the bar with a hose on either side; its tags begin with this letter.
    InLine(char),
    /// Placed on the bar, gives liquid to rows; its tags begin with this letter.
    ForRows(char),
    /// Placed on the bar, screwed onto a port of another part; its tags begin with this letter.
    OnPort(char),
    /// Cut to lie between parts.
    Hose,
    /// An element of a row feed.
    RowFeed,
    /// Splits a row feed.
    Split,
}

/// The list of kinds, once: whatever goes through all kinds takes it from here, and an item that is missing from it does
/// not compile.
macro_rules! kinds {
    ($($variant:ident: $words:literal, $role:expr;)*) => {
        /// The kind of an item, without its numbers.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum ItemKind {
            $(#[doc = concat!("A ", $words, ".")] $variant,)*
        }

        impl ItemKind {
            /// Every kind, in the order they are offered.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// In plain words, lower case.
            pub const fn words(self) -> &'static str {
                match self { $(Self::$variant => $words,)* }
            }

            /// What its items are for.
            pub const fn role(self) -> Role {
                match self { $(Self::$variant => $role,)* }
            }
        }

        impl Item {
            /// Its kind.
            pub const fn item_kind(&self) -> ItemKind {
                match self { $(Self::$variant { .. } => ItemKind::$variant,)* }
            }
        }
    };
}

kinds! {
    InletFilter: "inlet filter", Role::InLine('F');
    Tee: "tee", Role::InLine('J');
    SectionValve: "section valve", Role::InLine('V');
    Manifold: "manifold", Role::ForRows('M');
    Gauge: "gauge", Role::OnPort('G');
    BlankingPlug: "blanking plug", Role::OnPort('B');
    Hose: "hose", Role::Hose;
    Tube: "tube", Role::RowFeed;
    MeteringTube: "metering tube", Role::RowFeed;
    MeteringOrifice: "metering orifice", Role::RowFeed;
    CheckValve: "check valve", Role::RowFeed;
    SmallTee: "small tee", Role::Split;
    Fitting: "fitting", Role::RowFeed;
}

impl Item {
    /// The kind in plain words, lower case.
    pub const fn kind(&self) -> &'static str {
        self.item_kind().words()
    }

    /// Goes into a hose, which becomes two.
    pub const fn is_in_line(&self) -> bool {
        matches!(self.item_kind().role(), Role::InLine(_))
    }

    /// Is screwed onto a port of another part and passes nothing on.
    pub const fn is_on_port(&self) -> bool {
        matches!(self.item_kind().role(), Role::OnPort(_))
    }

    /// Has an inlet and an outlet and no other port: all that comes in goes on.
    pub const fn passes_on(&self) -> bool {
        self.is_in_line() && !matches!(self, Self::Tee { .. })
    }

    /// Sold by length and cut: a hose or a tube.
    pub const fn is_cut(&self) -> bool {
        matches!(self, Self::Hose(_) | Self::Tube(_) | Self::MeteringTube(_))
    }

    /// The letter that tags of this kind start with; none for what is not placed on the bar.
    pub const fn tag_letter(&self) -> Option<char> {
        match self.item_kind().role() {
            Role::InLine(letter) | Role::ForRows(letter) | Role::OnPort(letter) => Some(letter),
            Role::Hose | Role::RowFeed | Role::Split => None,
        }
    }

    /// Can be placed on the bar as a part.
    pub const fn is_part(&self) -> bool {
        self.tag_letter().is_some()
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
            Self::Hose(_)
            | Self::Tube(_)
            | Self::MeteringTube(_)
            | Self::MeteringOrifice { .. }
            | Self::CheckValve { .. }
            | Self::SmallTee { .. }
            | Self::Fitting { .. } => Vec::new(),
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

    /// The size people choose it by: `25 mm`, `8 outlets, 20 mm bore`, `300 µm`.
    pub fn size(&self, units: UnitSystem) -> String {
        let bore = |length: &Length| Measure::Bore.short_text(length.si(), units);
        match self {
            Self::InletFilter { bore: port, opening, .. } => {
                format!("{}, {}", bore(port), Measure::Opening.short_text(opening.si(), units))
            }
            Self::Manifold { outlets, bore: body, .. } => format!("{outlets} outlets, {} bore", bore(body)),
            Self::Gauge { full_scale } => Measure::Pressure.short_text(full_scale.si(), units),
            Self::BlankingPlug { .. } => String::new(),
            Self::Hose(stock) | Self::Tube(stock) => bore(&stock.bore),
            // Bores that meter read alike below each other.
            Self::MeteringTube(HoseStock { bore: size, .. }) | Self::MeteringOrifice { bore: size, .. } => {
                Measure::Bore.fine_text(size.si(), units)
            }
            Self::CheckValve { cracking, .. } => Measure::Pressure.short_text(cracking.si(), units),
            Self::Tee { bore: size, .. }
            | Self::SectionValve { bore: size, .. }
            | Self::SmallTee { bore: size, .. }
            | Self::Fitting { bore: size, .. } => bore(size),
        }
    }

    /// What decides between entries of its kind in a list to choose from: more than its size where that alone would not
    /// tell them apart. `12 outlets, end inlet, 20 mm bore`, `opens 0.20, shuts 0.18 bar`.
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
            Self::CheckValve { cracking, closing, .. } => {
                let opens = Measure::Pressure.short_number(cracking.si(), units);
                format!("opens {opens}, shuts {}", pressure(closing))
            }
            Self::Gauge { full_scale } => format!("0 to {}", pressure(full_scale)),
            Self::BlankingPlug { rated } => format!("rated {}", pressure(rated)),
            _ => self.size(units),
        }
    }

    /// Rated pressure, where the entry has one.
    pub const fn rated(&self) -> Option<Pressure> {
        match self {
            Self::InletFilter { rated, .. }
            | Self::Tee { rated, .. }
            | Self::SectionValve { rated, .. }
            | Self::Manifold { rated, .. }
            | Self::BlankingPlug { rated }
            | Self::CheckValve { rated, .. } => Some(*rated),
            Self::Gauge { full_scale } => Some(*full_scale),
            Self::Hose(stock) | Self::Tube(stock) | Self::MeteringTube(stock) => Some(stock.rated),
            Self::MeteringOrifice { .. } | Self::SmallTee { .. } | Self::Fitting { .. } => None,
        }
    }

    /// The narrowest opening liquid passes through, where one can plug.
    pub const fn smallest_bore(&self) -> Option<Length> {
        match self {
            Self::MeteringOrifice { bore, .. }
            | Self::CheckValve { bore, .. }
            | Self::Fitting { bore, .. } => Some(*bore),
            Self::Tube(stock) | Self::MeteringTube(stock) => Some(stock.bore),
            Self::InletFilter { .. }
            | Self::Tee { .. }
            | Self::SectionValve { .. }
            | Self::Manifold { .. }
            | Self::Gauge { .. }
            | Self::BlankingPlug { .. }
            | Self::Hose(_)
            | Self::SmallTee { .. } => None,
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
        let manifold = |inlet| Item::Manifold {
            outlets: 12,
            spacing: Length::millimetres(50.0),
            bore,
            k: 1.0,
            inlet,
            rated,
        };
        let valve = |closing| Item::CheckValve {
            cracking: Pressure::bar(0.2),
            closing: Pressure::bar(closing),
            k: 3.0,
            bore,
            rated,
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
                entry("e", "black", Item::Hose(stock)),
                entry("f", "white", Item::Hose(stock)),
                entry("g", "black", Item::Tube(stock)),
                entry("h", "black", Item::Tube(stock)),
                entry("i", "Barb for 19 mm hose", Item::Fitting { bore: Length::millimetres(15.5), k: 0.2 }),
                entry("j", "", Item::Fitting { bore: Length::millimetres(15.5), k: 0.2 }),
            ],
        };
        let texts = |fits: fn(&Item) -> bool| -> Vec<String> {
            catalogue.offered(UnitSystem::Metric, fits).into_iter().map(|(_, text)| text).collect()
        };
        assert_eq!(
            texts(|item| matches!(item, Item::Manifold { .. })),
            ["12 outlets, end inlet, 20 mm bore", "12 outlets, middle inlet, 20 mm bore"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::CheckValve { .. })),
            ["opens 0.2, shuts 0.15 bar", "opens 0.2, shuts 0.18 bar"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Hose(_) | Item::Tube(_))),
            ["20 mm hose, black", "20 mm hose, white", "20 mm tube, black, g", "20 mm tube, black, h"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Fitting { .. })),
            ["Barb for 19 mm hose, 15.5 mm bore", "fitting, 15.5 mm bore"]
        );
        assert_eq!(texts(|item| matches!(item, Item::Tee { .. })), Vec::<String>::new());
    }
}
