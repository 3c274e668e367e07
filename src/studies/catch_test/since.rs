//! What has changed since a catch test: the bar it was made on against the project of today.

use crate::plan::catalogue_merge::differences as fields;
use crate::plan::words::{ranges, short};
use crate::plan::{CatchTest, Control, Duty, Entry, Project, RoutingGeometry, Row, Supply};
use crate::quantities::{Measure, UnitSystem};
use crate::studies::comparison::differences::{in_words, items};

/// What differs of all that a catch hangs on, today against then, each a sentence without a full stop; nothing where all is as
/// it was. Limits, spreads and what else the catalogue offers are not part of the bar.
pub fn changed_since(today: &Project, test: &CatchTest) -> Vec<String> {
    let Some(then) = today.catch_tests.project_of(test) else {
        return vec!["the bar it was made on is not kept".to_owned()];
    };
    let units = today.units;
    let mut said = rows(then, today);
    if then.bar.sections != today.bar.sections || then.bar.ranks != today.bar.ranks {
        said.push("sections, hinges, frame or ranks of the bar are others".to_owned());
    }
    let strips = |project: &Project| (project.bar.row_spacing, project.bar.row_widths);
    if strips(then) != strips(today) {
        said.push("the strips that rows stand for are others".to_owned());
    }
    said.extend(supply(&then.supply, &today.supply, units));
    match today.duties.get(test.duty) {
        Some(now) => said.extend(then.duties.get(test.duty).iter().flat_map(|old| duty(old, now, units))),
        None => said.push(format!("the duty {} is gone", short(&then.duty(test.duty).name))),
    }
    let Some(old) = then.routings.first() else { return said };
    let Some(new) = today.routing(old.id) else {
        said.push(format!("routing {} is gone", short(&old.name)));
        return said;
    };
    if old.name != new.name {
        said.push(format!("routing {} is called {} now", short(&old.name), short(&new.name)));
    }
    let (old_places, new_places) =
        (RoutingGeometry::working(then, old), RoutingGeometry::working(today, new));
    // Names of what one of the two alone has in its catalogue.
    let mut both = today.clone();
    let gone = then.catalogue.entries.iter().filter(|one| today.catalogue.entry(&one.key).is_none());
    both.catalogue.entries.extend(gone.cloned());
    let differ = items(&both, old_places.with(old), new_places.with(new));
    said.extend(in_words(&differ).into_iter().map(|(_, words)| words));
    for entry in &then.catalogue.entries {
        if let Some(now) = today.catalogue.entry(&entry.key).filter(|now| now.item != entry.item) {
            said.push(entry_words(entry, now, units));
        }
    }
    said
}

/// What differs in the numbers of an entry.
fn entry_words(then: &Entry, now: &Entry, units: UnitSystem) -> String {
    let name = if now.description.is_empty() { &now.key.0 } else { &now.description };
    let with_item_of_now = Entry { item: now.item, ..then.clone() };
    let numbers: Vec<String> = fields(then, &with_item_of_now, units)
        .into_iter()
        .map(|one| {
            let words = |text: String| if text.is_empty() { "nothing".to_owned() } else { text };
            format!("{} {} instead of {}", one.field.to_lowercase(), words(one.theirs), words(one.ours))
        })
        .collect();
    let what = if numbers.is_empty() { "is another item".to_owned() } else { numbers.join(", ") };
    format!("catalogue, {}: {what}", short(name))
}

/// Rows by their ids.
fn rows(then: &Project, today: &Project) -> Vec<String> {
    let numbers = |rows: Vec<&Row>| {
        let numbers: Vec<u32> = rows.iter().map(|row| row.number).collect();
        let verb = if numbers.len() == 1 { "row" } else { "rows" };
        (!numbers.is_empty()).then(|| format!("{verb} {}", ranges(&numbers)))
    };
    let both = |differ: fn(&Row, &Row) -> bool| {
        let old = then.bar.rows.iter();
        numbers(old.filter(|row| today.bar.row(row.id).is_some_and(|now| differ(row, now))).collect())
    };
    let gone = numbers(then.bar.rows.iter().filter(|row| today.bar.row(row.id).is_none()).collect());
    let new = numbers(today.bar.rows.iter().filter(|row| then.bar.row(row.id).is_none()).collect());
    let moved = both(|old, now| {
        (old.x, old.rank, old.outlet_height, old.section) != (now.x, now.rank, now.outlet_height, now.section)
    });
    let renumbered = both(|old, now| old.number != now.number);
    let shared = both(|old, now| old.share != now.share);
    let left_out = both(|old, now| !old.left_out && now.left_out);
    let back = both(|old, now| old.left_out && !now.left_out);
    [
        (gone, "gone"),
        (new, "new"),
        (moved, "elsewhere"),
        (renumbered, "numbered otherwise now"),
        (shared, "given another share"),
        (left_out, "left out of use now"),
        (back, "back in use"),
    ]
    .into_iter()
    .filter_map(|(rows, what)| Some(format!("{}: {what}", rows?)))
    .collect()
}

fn supply(then: &Supply, now: &Supply, units: UnitSystem) -> Vec<String> {
    let words = |control: Control| match control {
        Control::Metered { limit } => format!("metered up to {}", Measure::Pressure.text(limit.si(), units)),
        Control::Held { pressure } => format!("held at {}", Measure::Pressure.text(pressure.si(), units)),
        Control::Uncontrolled => "on the pump's curve".to_owned(),
    };
    let mut said = Vec::new();
    if then.control != now.control {
        said.push(format!("the supply is {} instead of {}", words(now.control), words(then.control)));
    }
    if then.pump != now.pump {
        said.push("the pump's outlet is elsewhere".to_owned());
    }
    if (then.pump_capacity, &then.pump_curve) != (now.pump_capacity, &now.pump_curve) {
        said.push("what the pump delivers is otherwise".to_owned());
    }
    said
}

fn duty(then: &Duty, now: &Duty, units: UnitSystem) -> Vec<String> {
    let mut said = Vec::new();
    if then.liquid.name != now.liquid.name {
        said.push(format!(
            "the liquid is {} instead of {}",
            short(&now.liquid.name),
            short(&then.liquid.name)
        ));
    } else if then.liquid.points != now.liquid.points {
        said.push(format!("density or viscosity of {} are others", short(&now.liquid.name)));
    }
    if then.rate != now.rate {
        let text = |duty: &Duty| Measure::Rate.text(duty.rate.si(), units);
        said.push(format!("the rate is {} instead of {}", text(now), text(then)));
    }
    said
}
