//! Two catalogues side by side: what another one would add to ours or change in it, before anything is changed.
//!
//! The same comparison serves merging a dealer's list into a catalogue and bringing the parts of a project up to
//! date from one: in both cases each difference is shown, and each entry is taken or kept.

use super::catalogue::{Catalogue, Entry, Price};
use super::kinds::Field;
use super::wetted_material::listed;
use crate::quantities::{Measure, UnitSystem, decimals};

/// One entry of the other catalogue, and how it stands to ours.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The other one's entry.
    pub entry: Entry,
    /// How it stands to ours.
    pub standing: Standing,
}

/// How an entry of another catalogue stands to ours.
#[derive(Debug, Clone, PartialEq)]
pub enum Standing {
    /// We have none of this key.
    Added,
    /// Ours says the same.
    Unchanged,
    /// Ours says something else.
    Changed(Vec<Difference>),
    /// Taking it would make two things one or one thing two: a person must decide.
    Conflict(Conflict),
}

/// Why an entry can't just be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Conflict {
    /// Ours of the same key is of another kind; what is plumbed with it would no longer fit.
    OtherKind {
        /// Kind of ours.
        ours: &'static str,
        /// Kind of theirs.
        theirs: &'static str,
    },
    /// Its part number is that of another entry of ours, by key.
    PartNumberTaken(String),
}

/// One field that differs, as people read it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// The field's name.
    pub field: &'static str,
    /// What ours says; empty for nothing.
    pub ours: String,
    /// What theirs says.
    pub theirs: String,
}

/// Every entry of another catalogue, in its order, against ours. Numbers that differ by less than a thousand
/// millionth are the same: another program's list went through other units.
pub fn compare(ours: &Catalogue, theirs: &Catalogue, units: UnitSystem) -> Vec<Compared> {
    let standing = |entry: &Entry| {
        let number = entry.part_number.trim();
        let holder = ours
            .entries
            .iter()
            .find(|one| one.key != entry.key && !number.is_empty() && one.part_number.trim() == number);
        let known = ours.entry(&entry.key);
        if let Some(known) = known.filter(|known| known.item.kind() != entry.item.kind()) {
            let (ours, theirs) = (known.item.kind(), entry.item.kind());
            return Standing::Conflict(Conflict::OtherKind { ours, theirs });
        }
        // A part number that moved between two of their entries is only a conflict if ours keeps it.
        let kept = holder.filter(|holder| {
            theirs.entry(&holder.key).is_none_or(|moved| moved.part_number.trim() == number)
        });
        if let Some(holder) = kept {
            return Standing::Conflict(Conflict::PartNumberTaken(holder.key.0.clone()));
        }
        let Some(known) = known else { return Standing::Added };
        let differences = differences(known, entry, units);
        if differences.is_empty() { Standing::Unchanged } else { Standing::Changed(differences) }
    };
    let taken = |entry: &Entry| {
        // A list does not say what was calibrated: what we know of a number that it has too stays.
        let ours = ours.entry(&entry.key).and_then(|ours| ours.calibrated.clone());
        let with = Entry { calibrated: entry.calibrated.clone().or(ours), ..entry.clone() };
        if with.calibration().is_some() { with } else { entry.clone() }
    };
    theirs.entries.iter().map(|entry| Compared { entry: taken(entry), standing: standing(entry) }).collect()
}

/// The fields in which two entries of one key and kind differ.
pub fn differences(ours: &Entry, theirs: &Entry, units: UnitSystem) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut words = |field, ours: String, theirs: String| {
        if ours != theirs {
            found.push(Difference { field, ours, theirs });
        }
    };
    words("Description", ours.description.clone(), theirs.description.clone());
    words("Part number", ours.part_number.clone(), theirs.part_number.clone());
    words("Connection", ours.connection.clone(), theirs.connection.clone());
    words("Wetted material", listed(&ours.materials), listed(&theirs.materials));
    words("Price", price(ours.price.as_ref()), price(theirs.price.as_ref()));
    let roll = |entry: &Entry| entry.roll.map(|roll| roll.si());
    number("Roll length", Measure::Distance, roll(ours), roll(theirs), units, &mut found);
    let (a, b) = (ours.item.numbers(), theirs.item.numbers());
    let of = |numbers: &[(Field, f64)], field| numbers.iter().find(|one| one.0 == field).map(|one| one.1);
    for field in Field::ALL {
        number(field.name(), field.measure(), of(&a, field), of(&b, field), units, &mut found);
    }
    found
}

fn number(
    field: &'static str,
    measure: Measure,
    ours: Option<f64>,
    theirs: Option<f64>,
    units: UnitSystem,
    found: &mut Vec<Difference>,
) {
    let same = match (ours, theirs) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(b.abs()),
        (a, b) => a.is_none() && b.is_none(),
    };
    if same {
        return;
    }
    let text = |value: Option<f64>| value.map_or_else(String::new, |value| measure.short_text(value, units));
    let (mut a, mut b) = (text(ours), text(theirs));
    if a == b {
        // They differ below the decimals shown; then all digits are.
        let exact = |value: Option<f64>| {
            let unit = measure.unit(units).symbol;
            value.map_or_else(String::new, |value| format!("{} {unit}", measure.shown(value, units)))
        };
        (a, b) = (exact(ours), exact(theirs));
    }
    found.push(Difference { field, ours: a, theirs: b });
}

/// `12.50 EUR`.
fn price(price: Option<&Price>) -> String {
    price.map_or_else(String::new, |price| format!("{} {}", decimals(price.amount, 2), price.currency))
}

/// Takes entries over: in place of ours of the same key, or at the end.
pub fn take(ours: &mut Catalogue, entries: impl IntoIterator<Item = Entry>) {
    for entry in entries {
        match ours.entries.iter_mut().find(|one| one.key == entry.key) {
            Some(old) => *old = entry,
            None => ours.entries.push(entry),
        }
    }
}

/// The currencies of a catalogue's prices, in alphabetical order: none, one, or a mix that does not add up.
pub fn currencies(catalogue: &Catalogue) -> Vec<String> {
    let mut all: Vec<String> =
        catalogue.entries.iter().filter_map(|entry| Some(entry.price.as_ref()?.currency.clone())).collect();
    all.sort();
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::super::catalogue::EntryKey;
    use super::*;
    use crate::plan::{BlankingPlug, Gauge, MeteringOrifice};
    use crate::plan::{ElementItem, PartItem};
    use crate::quantities::{Length, Pressure};

    fn gauge(key: &str, number: &str, bar: f64) -> Entry {
        Entry {
            key: EntryKey::new(key),
            description: "Gauge".to_owned(),
            part_number: number.to_owned(),
            connection: String::new(),
            price: None,
            roll: None,
            materials: Vec::new(),
            calibrated: None,
            item: PartItem::Gauge(Gauge { full_scale: Pressure::bar(bar) }).into(),
        }
    }

    fn of(ours: Vec<Entry>, theirs: Vec<Entry>) -> Vec<Standing> {
        let catalogue = |entries| Catalogue { entries };
        let compared = compare(&catalogue(ours), &catalogue(theirs), UnitSystem::Metric);
        compared.into_iter().map(|one| one.standing).collect()
    }

    #[test]
    fn added_unchanged_and_changed() {
        let ours = vec![gauge("a", "1", 6.0), gauge("b", "2", 6.0)];
        let mut dearer = gauge("b", "2", 10.0);
        dearer.price = Some(Price { amount: 12.5, currency: "EUR".to_owned() });
        let standings = of(ours, vec![gauge("a", "1", 6.0 * (1.0 + 1e-12)), dearer, gauge("c", "3", 6.0)]);
        let difference = |field, ours: &str, theirs: &str| Difference {
            field,
            ours: ours.to_owned(),
            theirs: theirs.to_owned(),
        };
        let changed = vec![difference("Price", "", "12.50 EUR"), difference("Full scale", "6 bar", "10 bar")];
        assert_eq!(standings, [Standing::Unchanged, Standing::Changed(changed), Standing::Added]);
    }

    #[test]
    fn what_is_below_the_decimals_is_still_shown() {
        let orifice = |bore| Entry {
            item: ElementItem::MeteringOrifice(MeteringOrifice {
                bore: Length::millimetres(bore),
                cd: 0.7,
                thickness: Length::millimetres(1.0),
                creeping: false,
                rated: None,
            })
            .into(),
            ..gauge("o", "", 1.0)
        };
        let [difference] = &differences(&orifice(0.8), &orifice(0.801), UnitSystem::Metric)[..] else {
            panic!()
        };
        assert_ne!(difference.ours, difference.theirs);
        assert!(difference.theirs.starts_with("0.801"), "{difference:?}");
    }

    #[test]
    fn conflicts_are_named() {
        let plug = Entry {
            item: PartItem::BlankingPlug(BlankingPlug { rated: Pressure::bar(10.0) }).into(),
            ..gauge("a", "", 6.0)
        };
        let kinds = Conflict::OtherKind { ours: "gauge", theirs: "blanking plug" };
        assert_eq!(of(vec![gauge("a", "", 6.0)], vec![plug]), [Standing::Conflict(kinds)]);
        let taken = Conflict::PartNumberTaken("a".to_owned());
        assert_eq!(of(vec![gauge("a", "7", 6.0)], vec![gauge("b", "7", 6.0)]), [Standing::Conflict(taken)]);
        // Their a gave the number up, so b may have it; empty numbers never clash.
        let moved = of(vec![gauge("a", "7", 6.0)], vec![gauge("a", "8", 6.0), gauge("b", "7", 6.0)]);
        assert!(!moved.iter().any(|one| matches!(one, Standing::Conflict(_))), "{moved:?}");
        assert_eq!(of(vec![gauge("a", "", 6.0)], vec![gauge("b", "", 6.0)]), [Standing::Added]);
    }

    #[test]
    fn taking_replaces_in_place_and_adds_at_the_end() {
        let mut ours = Catalogue { entries: vec![gauge("a", "1", 6.0), gauge("b", "2", 6.0)] };
        take(&mut ours, [gauge("c", "3", 6.0), gauge("a", "1", 10.0)]);
        let keys: Vec<&str> = ours.entries.iter().map(|entry| entry.key.0.as_str()).collect();
        assert_eq!(keys, ["a", "b", "c"]);
        assert_eq!(ours.entries[0], gauge("a", "1", 10.0));
    }
}
