//! Rules of the catalogue and of each of its entries.

use super::review::{Review, unique};
use super::size::catalogue_size;
use crate::plan::bounds::Bound;
use crate::plan::kinds::{Contradiction, Field, Number, Range};
use crate::plan::problems::Problems;
use crate::plan::wetted_material::{is_in_order, listed};
use crate::plan::words::short;
use crate::plan::{Catalogue, Entry};
use crate::quantities::Measure;

/// Rules of the catalogue.
pub fn catalogue(catalogue: &Catalogue) -> Problems {
    let too_much = catalogue_size(catalogue);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of("catalogue");
    unique(&mut review, "key", catalogue.entries.iter().map(|entry| &entry.key));
    let mut problems = review.problems;
    for one in &catalogue.entries {
        problems.append(entry(one));
    }
    problems
}

/// By its key, or where it has none by what it is.
fn entry_place(entry: &Entry) -> String {
    let key = &entry.key.0;
    if key.trim().is_empty() {
        format!("catalogue, {} without a key, \"{}\"", entry.item.kind(), short(&entry.description))
    } else {
        format!("catalogue, entry {}", short(key))
    }
}

/// Rules of one catalogue entry.
pub fn entry(entry: &Entry) -> Problems {
    let mut review = Review::of(entry_place(entry));
    review.name("its key", &entry.key.0);
    review.text("its description", &entry.description, Bound::Words);
    review.text("its part number", &entry.part_number, Bound::Words);
    review.text("its connection", &entry.connection, Bound::Words);
    review.claim(
        is_in_order(&entry.materials),
        || format!("its materials are \"{}\"", short(&listed(&entry.materials))),
        "name each once, in the order in which the program offers them",
    );
    if let Some(price) = &entry.price {
        review.number("price", Measure::Plain, price.amount, 0.0, 1e9);
        let three_letters =
            price.currency.len() == 3 && price.currency.chars().all(|c| c.is_ascii_uppercase());
        review.claim(
            three_letters,
            || format!("currency \"{}\"", short(&price.currency)),
            "three capital letters, as in ISO 4217",
        );
    }
    if let Some(roll) = entry.roll {
        review.claim(
            entry.item.is_cut(),
            || format!("it is a {} with a roll length", entry.item.kind()),
            "leave the roll length out; only hoses and tubes have one",
        );
        review.above_zero("roll length", Measure::Distance, roll.si(), 10_000.0);
    }
    if let Some(calibrated) = &entry.calibrated {
        review.claim(
            entry.item.item_kind().common().told_by_catch.is_some(),
            || format!("it is a {} that was calibrated", entry.item.kind()),
            "leave that out; no catch test tells any of its numbers",
        );
        // A discharge coefficient or a loss coefficient.
        review.number("calibrated value", Measure::Plain, calibrated.value, 0.0, Field::Loss.most());
        review.calibrated(&calibrated.by);
    }
    for Number { field, value, range } in entry.item.number_table() {
        if range == Range::AboveZeroIfKnown && value.is_none() {
            continue;
        }
        let (name, value) = (field.name().to_lowercase(), value.unwrap_or_default());
        let (measure, most) = (field.measure(), field.most());
        match range {
            Range::AboveZero | Range::AboveZeroIfKnown => review.above_zero(&name, measure, value, most),
            Range::NotNegative | Range::Coefficient => review.number(&name, measure, value, 0.0, most),
            Range::ByItself => {}
        }
    }
    for Contradiction { what, advice } in entry.item.contradictions() {
        review.claim(false, || what, &advice);
    }
    review.problems
}
