//! The catalogue: every stock and part a project uses, as numbers that anyone can measure.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::calibrated::{Calibrated, EntryCalibration};
use super::kinds::{ElementItem, Field, FittingItem, HoseStock, Item, PartItem, Role, StockItem};
use super::wetted_material::WettedMaterial;
use crate::quantities::{Length, UnitSystem};

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
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    materials: Vec<WettedMaterial>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    calibrated: Option<EntryCalibration>,
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
        let Self { key, description, part_number, connection, price, roll, materials, calibrated, item: own } =
            self;
        Entry {
            key,
            description,
            part_number,
            connection,
            price,
            roll,
            materials,
            calibrated,
            item: item(own),
        }
    }

    fn of(entry: &Entry, item: I) -> Self {
        let Entry { key, description, part_number, connection, price, roll, materials, calibrated, item: _ } =
            entry.clone();
        Self { key, description, part_number, connection, price, roll, materials, calibrated, item }
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
            if let Item::Fitting(FittingItem::Fitting(_)) = entry.item {
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
    /// What of it touches the liquid, in the order of [`WettedMaterial::ALL`]; empty where nobody said.
    pub materials: Vec<WettedMaterial>,
    /// Where that number of its item is from which a catch test told; read it by [`Entry::calibration`].
    pub calibrated: Option<EntryCalibration>,
    /// What it is and how it behaves.
    pub item: Item,
}

/// Numbers that the liquid does not meet.
const NOT_MET: [Field; 3] = [Field::Rated, Field::Stiffness, Field::Weight];

impl Entry {
    /// The number that a catch test can tell, with its value in the stored unit.
    pub fn told_by_catch(&self) -> Option<(Field, f64)> {
        let field = self.item.item_kind().common().told_by_catch?;
        let value = self.item.numbers().into_iter().find(|one| one.0 == field)?.1;
        Some((field, value))
    }

    /// What was calibrated of the entry that it takes the place of is calibrated no more once somebody changed a number that
    /// liquid meets.
    pub(super) fn settle(&mut self, old: &Self) {
        let met = |entry: &Self| {
            let numbers = entry.item.numbers().into_iter();
            numbers.filter(|number| !NOT_MET.contains(&number.0)).collect::<Vec<_>>()
        };
        if self.calibrated.is_some() && self.calibrated == old.calibrated && met(self) != met(old) {
            self.calibrated = None;
        }
    }

    /// The same entry with another number; none where its kind has no such number or can't take it. Whether it is in range is
    /// for [`validate::entry`](super::validate::entry) to say.
    #[must_use]
    pub fn with_number(&self, field: Field, value: f64) -> Option<Self> {
        let numbers = self.item.numbers();
        let known = |wanted| numbers.iter().find(|one| one.0 == wanted).map(|one| one.1);
        known(field)?;
        let of = |wanted: Field| if wanted == field { Some(value) } else { known(wanted) };
        let item = Item::from_numbers(self.item.kind(), of).ok()?;
        Some(Self { item, ..self.clone() })
    }

    /// The number that was calibrated, and from which test; none where somebody has entered another since.
    pub fn calibration(&self) -> Option<(Field, &Calibrated)> {
        let calibrated = self.calibrated.as_ref()?;
        let (field, value) = self.told_by_catch()?;
        let is_so = (value - calibrated.value).abs() <= 1e-9 * calibrated.value.abs();
        is_so.then_some((field, &calibrated.by))
    }

    /// The end fittings that its connection names, which come with it and have no entry: of a tube, what stands behind `with `.
    pub fn end_fittings(&self) -> Option<&str> {
        self.connection.split(';').find_map(|one| one.trim().strip_prefix("with "))
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{CheckValve, Fitting, FittingForm, Manifold, ManifoldInlet};
    use crate::quantities::Pressure;

    /// Two manifolds that differ in their inlet alone, two check valves that differ in closing alone, a hose and a
    /// tube of one bore, and two hoses of one bore and two makers.
    #[test]
    fn no_two_entries_read_alike_in_a_list_to_choose_from() {
        let (bore, rated) = (Length::millimetres(20.0), Pressure::bar(8.0));
        let manifold = |inlet| {
            Item::from(PartItem::Manifold(Manifold {
                outlets: 12,
                spacing: Length::millimetres(50.0),
                bore,
                k: 1.0,
                inlet,
                rated,
            }))
        };
        let valve = |closing| {
            Item::from(ElementItem::CheckValve(CheckValve {
                cracking: Pressure::bar(0.2),
                closing: Pressure::bar(closing),
                k: 3.0,
                bore,
                rated,
            }))
        };
        let stock = HoseStock {
            bore,
            outside: Length::millimetres(27.0),
            roughness: Length::ZERO,
            bend_radius: Length::millimetres(170.0),
            rated,
            stiffness: None,
            weight: None,
        };
        let entry = |key: &str, description: &str, item| Entry {
            key: EntryKey::new(key),
            description: description.to_owned(),
            part_number: String::new(),
            connection: String::new(),
            price: None,
            roll: None,
            materials: Vec::new(),
            calibrated: None,
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
                    FittingItem::Fitting(Fitting {
                        bore: Length::millimetres(15.5),
                        k: 0.2,
                        form: FittingForm::Straight,
                        rated: None,
                    })
                    .into(),
                ),
                entry(
                    "j",
                    "",
                    FittingItem::Fitting(Fitting {
                        bore: Length::millimetres(15.5),
                        k: 0.2,
                        form: FittingForm::Straight,
                        rated: None,
                    })
                    .into(),
                ),
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
            texts(|item| matches!(item, Item::Part(PartItem::Manifold(_)))),
            ["12 outlets, end inlet, 20 mm bore", "12 outlets, middle inlet, 20 mm bore"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Element(ElementItem::CheckValve(_)))),
            ["opens 0.2, shuts 0.15 bar", "opens 0.2, shuts 0.18 bar"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Stock(StockItem::Hose(_) | StockItem::Tube(_)))),
            ["20 mm hose, black", "20 mm hose, white", "20 mm tube, black, g", "20 mm tube, black, h"]
        );
        assert_eq!(
            texts(|item| matches!(item, Item::Fitting(FittingItem::Fitting(_)))),
            ["Barb for 19 mm hose, 15.5 mm bore", "fitting, 15.5 mm bore"]
        );
        assert_eq!(texts(|item| matches!(item, Item::Part(PartItem::Tee(_)))), Vec::<String>::new());
    }
}
