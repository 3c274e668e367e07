//! The promises a plan keeps: names unique, references alive, numbers finite and in range.
//!
//! A file that breaks one is not opened; an edit that would break one is refused. Each answer says where, what,
//! and what to try.

use std::collections::BTreeSet;
use std::fmt;

use super::bounds::Bound;
use super::catalogue::{Catalogue, Entry, Key};
use super::dismissal::Dismissal;
use super::feed::{FeedElement, RowFeed};
use super::kinds::{Contradiction, FittingKind, Number, Range, StockKind};
use super::letters::{self, Lines};
use super::limits;
use super::part::{Part, PortRef};
use super::problems::{Problem, Problems};
use super::project::{Project, TitleBlock};
use super::routing::Routing;
use super::run::{End, Line, Run};
use super::supply::Control;
use super::words::short;
use super::{Bar, BarPoint, Duty, Limits, Liquid, Supply};
use crate::geometry::Point3;
use crate::quantities::Quantity;

/// Farthest from the origin that anything may be, metres: beyond it a coordinate is a slip of the unit.
pub const FARTHEST: f64 = 200.0;

/// Collects problems of one place.
struct Review {
    place: String,
    problems: Problems,
}

impl Review {
    fn of(place: impl Into<String>) -> Self {
        Self { place: place.into(), problems: Problems::default() }
    }

    fn claim(&mut self, holds: bool, what: impl FnOnce() -> String, advice: &str) {
        if !holds {
            let place = &self.place;
            self.problems.add(|| Problem { place: place.clone(), what: what(), advice: advice.to_owned() });
        }
    }

    /// Not more of it than may be.
    fn bound(&mut self, bound: Bound, whose: &str, found: usize) {
        if let Some(problem) = bound.broken_by(&self.place, whose, found) {
            self.problems.push(problem);
        }
    }

    /// A text that is not too long and holds nothing that can't be seen.
    fn text(&mut self, name: &str, text: &str, bound: Bound) {
        // Bytes are counted at once; letters only where a text is near its bound.
        if text.len() > bound.most() {
            self.bound(bound, name, text.chars().count());
        }
        let lines = if bound == Bound::Note { Lines::Several } else { Lines::One };
        if let Some(letter) = letters::first_refused(text, lines) {
            self.claim(
                false,
                || format!("{name} \"{}\" holds {}", short(text), letters::named(letter)),
                "type it anew without that",
            );
        }
    }

    fn above_zero(&mut self, name: &str, value: impl Quantity) {
        self.positive(name, value.si());
    }

    fn positive(&mut self, name: &str, value: f64) {
        let advice = "give a number above zero";
        self.claim(
            value.is_finite() && value > 0.0,
            || format!("{name} is {value}, but must be above zero"),
            advice,
        );
    }

    fn not_negative(&mut self, name: &str, value: impl Quantity) {
        self.number(name, value.si(), 0.0, f64::MAX);
    }

    fn number(&mut self, name: &str, value: f64, least: f64, most: f64) {
        let advice = if most == f64::MAX {
            "give a number that is not negative".to_owned()
        } else {
            format!("give a number from {least} to {most}")
        };
        self.claim(
            value.is_finite() && value >= least && value <= most,
            || format!("{name} is {value}"),
            &advice,
        );
    }

    fn point(&mut self, name: &str, point: Point3) {
        let within = point.is_finite() && [point.x, point.y, point.z].iter().all(|one| one.abs() <= FARTHEST);
        let advice = "coordinates are metres from the bar's centre";
        self.claim(within, || format!("{name} lies at ({}, {}, {})", point.x, point.y, point.z), advice);
    }

    fn riding(&mut self, name: &str, point: BarPoint, bar: &Bar) {
        self.point(name, point.place);
        self.claim(
            bar.section(point.section).is_some(),
            || format!("{name} rides on a section with id {}, which does not exist", point.section.0),
            "name a section of the bar",
        );
    }

    fn name(&mut self, name: &str, text: &str) {
        self.claim(!text.trim().is_empty(), || format!("{name} is empty"), "give it a short name");
        self.text(name, text, Bound::Name);
    }
}

/// All broken promises of a project, in the order of its parts; none for a project that may be worked on.
///
/// Of a project that holds more of something than may be, that is all that is said: nothing else of it is looked at.
pub fn validate(project: &Project) -> Problems {
    let too_much = too_much(project);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut problems = title(&project.title);
    problems.append(bar(&project.bar));
    for one in project.duties.iter() {
        problems.append(duty(one));
    }
    problems.append(supply(&project.supply));
    problems.append(limits(&project.limits));
    problems.append(catalogue(&project.catalogue));
    let mut review = Review::of("project");
    unique(&mut review, "duty id", project.duties.iter().map(|duty| duty.id.0));
    unique(&mut review, "duty name", project.duties.iter().map(|duty| duty.name.as_str()));
    review.claim(!project.routings.is_empty(), || "it has no routing".to_owned(), "add an empty routing");
    unique(&mut review, "routing id", project.routings.iter().map(|routing| routing.id.0));
    unique(&mut review, "routing name", project.routings.iter().map(|routing| routing.name.as_str()));
    problems.append(review.problems);
    for one in &project.dismissed {
        problems.append(dismissal(one));
    }
    for one in &project.routings {
        problems.append(routing(project, one));
    }
    problems
}

/// What a project holds too much of. Takes as long as counting does.
fn too_much(project: &Project) -> Problems {
    let mut review = Review::of("project");
    review.bound(Bound::Duties, "it", project.duties.count());
    review.bound(Bound::Routings, "it", project.routings.len());
    review.bound(Bound::Dismissed, "it", project.dismissed.len());
    let mut problems = review.problems;
    problems.append(too_much_bar(&project.bar));
    for one in project.duties.iter().take(Bound::Duties.most()) {
        problems.append(too_much_liquid(&one.liquid));
    }
    problems.append(too_much_supply(&project.supply));
    problems.append(too_much_catalogue(&project.catalogue));
    for one in project.routings.iter().take(Bound::Routings.most()) {
        problems.append(too_much_routing(one));
    }
    problems
}

fn too_much_bar(bar: &Bar) -> Problems {
    let mut review = Review::of("bar");
    review.bound(Bound::Rows, "it", bar.rows.len());
    review.bound(Bound::Ranks, "it", bar.ranks.len());
    review.bound(Bound::Sections, "it", bar.sections.len());
    let mut problems = review.problems;
    for section in &bar.sections {
        let mut review = Review::of(format!("bar, section {}", short(&section.name)));
        review.bound(Bound::Members, "it", section.members.len());
        problems.append(review.problems);
    }
    problems
}

fn too_much_liquid(liquid: &Liquid) -> Problems {
    let mut review = Review::of(format!("liquid {}", short(&liquid.name)));
    review.bound(Bound::LiquidPoints, "it", liquid.points.len());
    review.problems
}

fn too_much_supply(supply: &Supply) -> Problems {
    let mut review = Review::of("supply");
    review.bound(Bound::CurvePoints, "it", supply.pump_curve.len());
    review.problems
}

fn too_much_catalogue(catalogue: &Catalogue) -> Problems {
    let mut review = Review::of("catalogue");
    review.bound(Bound::Entries, "it", catalogue.entries.len());
    review.problems
}

fn too_much_routing(routing: &Routing) -> Problems {
    let mut review = Review::of(format!("routing {}", short(&routing.name)));
    review.bound(Bound::Parts, "it", routing.parts.len());
    review.bound(Bound::Hoses, "it", routing.runs.len());
    review.bound(Bound::Feeds, "it", routing.feeds.len());
    let mut problems = review.problems;
    for run in &routing.runs {
        problems.append(too_much_run(routing, run));
    }
    for feed in &routing.feeds {
        problems.append(too_much_feed(routing, feed));
    }
    problems
}

fn too_much_run(routing: &Routing, run: &Run) -> Problems {
    let mut review = Review::of(run_place(routing, run));
    review.bound(Bound::Fittings, "it", run.fittings.len());
    too_much_line(&mut review, &run.line);
    review.problems
}

fn too_much_feed(routing: &Routing, feed: &RowFeed) -> Problems {
    let mut review = Review::of(feed_place(routing, feed));
    review.bound(Bound::Branches, "it", feed.branches.len());
    review.bound(Bound::Elements, "its common way", feed.trunk.len());
    for branch in &feed.branches {
        review.bound(Bound::Elements, "its way to a row", branch.elements.len());
    }
    for element in feed.elements() {
        if let FeedElement::Tube(tube) = element {
            too_much_line(&mut review, &tube.line);
        }
    }
    review.problems
}

fn too_much_line(review: &mut Review, line: &Line) {
    review.bound(Bound::Waypoints, "it", line.waypoints.len());
    review.bound(Bound::Allowances, "it", line.hinge_allowances.len());
}

fn run_place(routing: &Routing, run: &Run) -> String {
    format!("routing {}, run {}", short(&routing.name), short(&run.tag))
}

fn feed_place(routing: &Routing, feed: &RowFeed) -> String {
    format!("routing {}, feed {}", short(&routing.name), short(&feed.tag))
}

/// Promises of the title block.
pub fn title(title: &TitleBlock) -> Problems {
    let mut review = Review::of("title block");
    for (name, text) in [
        ("its title", &title.title),
        ("its owner", &title.owner),
        ("its number", &title.number),
        ("its revision", &title.revision),
        ("its creator", &title.creator),
        ("who approved it", &title.approved_by),
    ] {
        review.text(name, text, Bound::Words);
    }
    review.text("its notes", &title.notes, Bound::Note);
    review.problems
}

/// Promises of the list of findings that are no longer shown.
pub fn dismissed(all: &[Dismissal]) -> Problems {
    let mut review = Review::of("project");
    review.bound(Bound::Dismissed, "it", all.len());
    review.problems
}

/// Promises of a finding that is no longer shown.
pub fn dismissal(one: &Dismissal) -> Problems {
    let mut review = Review::of("hidden finding");
    review.bound(Bound::Hidden, "it", one.subjects.len());
    if !review.problems.is_empty() {
        return review.problems;
    }
    review.claim(!one.subjects.is_empty(), || "it is about nothing".to_owned(), "delete it");
    review.name("its rule", &one.kind.rule);
    review.text("its case", &one.kind.case, Bound::Name);
    review.claim(
        !one.reason.trim().is_empty(),
        || "its reason is empty".to_owned(),
        "say why it is of no concern",
    );
    review.text("its reason", &one.reason, Bound::Words);
    review.text("who hid it", &one.by, Bound::Name);
    review.problems
}

fn unique<T: Ord + Copy + fmt::Display>(review: &mut Review, name: &str, all: impl Iterator<Item = T>) {
    let mut seen = BTreeSet::new();
    for one in all {
        review.claim(
            seen.insert(one),
            || format!("two have the {name} {}", short(&one.to_string())),
            "change one of them",
        );
    }
}

/// Promises of the bar.
pub fn bar(bar: &Bar) -> Problems {
    let too_much = too_much_bar(bar);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of("bar");
    review.above_zero("row spacing", bar.row_spacing);
    unique(&mut review, "section id", bar.sections.iter().map(|section| section.id.0));
    unique(&mut review, "section name", bar.sections.iter().map(|section| section.name.as_str()));
    unique(&mut review, "row id", bar.rows.iter().map(|row| row.id.0));
    unique(&mut review, "row number", bar.rows.iter().map(|row| row.number));
    for (index, rank) in bar.ranks.iter().enumerate() {
        review.point(&format!("rank {}", index + 1), Point3::new(0.0, rank.si(), 0.0));
    }
    review.claim(!bar.sections.is_empty(), || "it has no section".to_owned(), "add a centre section");
    let mut problems = review.problems;
    let mut before = BTreeSet::new();
    for section in &bar.sections {
        let mut review = Review::of(format!("bar, section {}", short(&section.name)));
        review.name("its name", &section.name);
        let (left, right) = (section.left.si(), section.right.si());
        review.point("its left end", Point3::new(left, 0.0, 0.0));
        review.point("its right end", Point3::new(right, 0.0, 0.0));
        review.claim(
            left < right,
            || format!("its right end ({right} m) is not right of its left end ({left} m)"),
            "swap or move its ends",
        );
        match section.hinge {
            Some(hinge) => {
                let parent = hinge.parent.0;
                review.claim(
                    before.contains(&hinge.parent),
                    || format!("its parent section {parent} does not stand before it"),
                    "name a section nearer to the centre as its parent, and list that one first",
                );
                review.point("its hinge", hinge.point);
                review.point("its hinge axis", hinge.axis);
                review.claim(
                    hinge.axis != Point3::default(),
                    || "its hinge axis has no direction".to_owned(),
                    "for a wing that folds up give (0, 1, 0)",
                );
                let turn = std::f64::consts::TAU;
                review.number("its lowest angle", hinge.lowest.si(), -turn, turn);
                review.number("its folded angle", hinge.folded.si(), -turn, turn);
            }
            None => review.claim(
                before.is_empty(),
                || "it has no hinge but is not the first section".to_owned(),
                "give it a hinge on a section nearer to the centre",
            ),
        }
        for (index, member) in section.members.iter().enumerate() {
            review.point(&format!("frame member {}", index + 1), member.from);
            review.point(&format!("frame member {}", index + 1), member.to);
            review.above_zero(&format!("width of frame member {}", index + 1), member.width);
        }
        before.insert(section.id);
        problems.append(review.problems);
    }
    for row in &bar.rows {
        let mut review = Review::of(format!("bar, row {}", row.number));
        let section = row.section.0;
        review.claim(
            bar.section(row.section).is_some(),
            || format!("its section {section} does not exist"),
            "name a section of the bar",
        );
        review.claim(
            row.rank < bar.ranks.len(),
            || format!("it stands in rank {}, but the bar has {}", row.rank + 1, bar.ranks.len()),
            "add the rank or choose another",
        );
        review.point("its outlet", Point3::new(row.x.si(), 0.0, row.outlet_height.si()));
        review.claim(
            row.share.is_finite() && row.share > 0.0 && row.share <= 10.0,
            || format!("its share is {}", row.share),
            "give a share above 0, 1 for a full row",
        );
        problems.append(review.problems);
    }
    problems
}

/// Promises of a liquid.
pub fn liquid(liquid: &Liquid) -> Problems {
    let too_much = too_much_liquid(liquid);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of(format!("liquid {}", short(&liquid.name)));
    review.name("its name", &liquid.name);
    review.claim(
        !liquid.points.is_empty(),
        || "it has no properties".to_owned(),
        "add density and viscosity at one temperature at least",
    );
    for point in &liquid.points {
        let at = format!("at {} °C", point.temperature.si());
        review.number("temperature", point.temperature.si(), -60.0, 120.0);
        review.number(&format!("density {at} (kg/m³)"), point.density.si(), 300.0, 3000.0);
        review.number(&format!("viscosity {at} (Pa·s)"), point.viscosity.si(), 1e-5, 10.0);
    }
    let rising = liquid.points.windows(2).all(|pair| pair[0].temperature < pair[1].temperature);
    review.claim(
        rising,
        || "its temperatures do not rise from line to line".to_owned(),
        "sort them, each temperature once",
    );
    review.problems
}

/// Promises of a duty.
pub fn duty(duty: &Duty) -> Problems {
    let mut problems = liquid(&duty.liquid);
    let mut review = Review::of(format!("duty {}", short(&duty.name)));
    review.name("its name", &duty.name);
    review.number("rate (m³/m²)", duty.rate.si(), 0.0, 1e-2);
    for (name, speed) in [("slowest", duty.slowest), ("usual", duty.usual), ("fastest", duty.fastest)] {
        review.above_zero(&format!("{name} speed"), speed);
        review.claim(
            speed.si() < 30.0,
            || format!("{name} speed is {:.0} km/h", speed.as_kilometres_per_hour()),
            "give a speed in the field",
        );
    }
    let ordered = duty.slowest <= duty.usual && duty.usual <= duty.fastest;
    review.claim(
        ordered,
        || "its speeds are not in order".to_owned(),
        "slowest at most usual, usual at most fastest",
    );
    review.number("temperature (°C)", duty.temperature.si(), -60.0, 120.0);
    for (name, slope) in [("side slope", duty.side_slope), ("fore-aft slope", duty.fore_aft_slope)] {
        review.number(&format!("{name} (radians)"), slope.si(), -0.8, 0.8);
    }
    problems.append(review.problems);
    problems
}

/// Promises of the supply.
pub fn supply(supply: &Supply) -> Problems {
    let mut review = Review::of("supply");
    match supply.control {
        Control::Metered { limit } => review.above_zero("pressure limit", limit),
        Control::Held { pressure } => review.above_zero("held pressure", pressure),
        Control::Uncontrolled => review.claim(
            !supply.pump_curve.is_empty(),
            || "nothing is held and the pump has no curve".to_owned(),
            "enter the pump's curve, or meter the flow or hold the pressure",
        ),
    }
    review.point("pump", supply.pump);
    review.point("tank surface", Point3::new(0.0, 0.0, supply.tank_surface.si()));
    review.above_zero("rated pressure of the pump", supply.pump_rated);
    review.above_zero("rated pressure of the weakest part", supply.weakest_rated);
    if let Some(capacity) = supply.pump_capacity {
        review.above_zero("largest flow of the pump", capacity);
    }
    let curve = &supply.pump_curve;
    review.bound(Bound::CurvePoints, "it", curve.len());
    for (number, point) in curve.iter().enumerate().take(Bound::CurvePoints.most()) {
        let number = number + 1;
        review.number(
            &format!("flow of the pump's curve, point {number} (m³/s)"),
            point.flow.si(),
            0.0,
            10.0,
        );
        review.number(
            &format!("pressure of the pump's curve, point {number} (Pa)"),
            point.pressure.si(),
            0.0,
            1e9,
        );
    }
    review.claim(
        curve.len() != 1,
        || "the pump's curve has one point".to_owned(),
        "give at least two, or none",
    );
    review.claim(
        curve.first().is_none_or(|point| point.flow.si() == 0.0),
        || "the pump's curve does not begin at no flow".to_owned(),
        "give its first point at flow 0: the pressure against a shut valve",
    );
    review.claim(
        curve.windows(2).all(|pair| pair[1].flow > pair[0].flow && pair[1].pressure < pair[0].pressure),
        || "the pump's curve does not rise in flow and fall in pressure from point to point".to_owned(),
        "sort its points by flow, and leave out the part where the pressure rises",
    );
    review.problems
}

/// Promises of the limits.
pub fn limits(limits: &Limits) -> Problems {
    let mut review = Review::of("limits");
    for limit in &limits::TABLE {
        review.number(limit.name, limit.of(limits), limit.least, limit.most);
    }
    let (from, to) = (limits.reynolds_from, limits.reynolds_to);
    review.claim(
        from < to,
        || format!("Reynolds numbers from {} to {}", from.si(), to.si()),
        "give two rising numbers, 2000 and 4000 as a rule",
    );
    review.problems
}

/// Promises of the catalogue.
pub fn catalogue(catalogue: &Catalogue) -> Problems {
    let too_much = too_much_catalogue(catalogue);
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

/// Promises of one catalogue entry.
pub fn entry(entry: &Entry) -> Problems {
    let mut review = Review::of(format!("catalogue, entry {}", short(&entry.key.0)));
    review.name("its key", &entry.key.0);
    review.text("its description", &entry.description, Bound::Words);
    review.text("its part number", &entry.part_number, Bound::Words);
    review.text("its connection", &entry.connection, Bound::Words);
    if let Some(price) = &entry.price {
        review.number("price", price.amount, 0.0, 1e9);
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
        review.above_zero("roll length", roll);
        review.claim(
            roll.si() <= 10_000.0,
            || format!("its roll length is {} m", roll.si()),
            "check the unit",
        );
    }
    for Number { field, value, range } in entry.item.number_table() {
        let (name, value) = (field.name().to_lowercase(), value.unwrap_or_default());
        match range {
            Range::AboveZero => review.positive(&name, value),
            Range::NotNegative => review.number(&name, value, 0.0, f64::MAX),
            Range::Coefficient => review.number(&name, value, 0.0, 1e6),
            Range::ByItself => {}
        }
    }
    for Contradiction { what, advice } in entry.item.contradictions() {
        review.claim(false, || what, &advice);
    }
    review.problems
}

/// Promises of one routing.
pub fn routing(project: &Project, routing: &Routing) -> Problems {
    let too_much = too_much_routing(routing);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of(format!("routing {}", short(&routing.name)));
    review.name("its name", &routing.name);
    review.text("its note", &routing.note, Bound::Note);
    unique(&mut review, "part id", routing.parts.iter().map(|part| part.id.0));
    unique(&mut review, "run id", routing.runs.iter().map(|run| run.id.0));
    unique(&mut review, "feed id", routing.feeds.iter().map(|feed| feed.id.0));
    unique(&mut review, "tag", routing.tags());
    let mut problems = review.problems;
    for one in &routing.parts {
        problems.append(part(project, routing, one));
    }
    for one in &routing.runs {
        problems.append(run(project, routing, one));
    }
    for one in &routing.feeds {
        problems.append(feed(project, routing, one));
    }
    problems
}

/// Promises of one placed part.
pub fn part(project: &Project, routing: &Routing, part: &Part) -> Problems {
    let mut review = Review::of(format!("routing {}, part {}", short(&routing.name), short(&part.tag)));
    review.name("its tag", &part.tag);
    entry_exists(&mut review, &project.catalogue, &part.entry, "part");
    let section = part.section.0;
    review.claim(
        project.bar.section(part.section).is_some(),
        || format!("its section {section} does not exist"),
        "name a section of the bar",
    );
    review.point("it", part.position);
    review.number("its turn (radians)", part.turn.si(), -100.0, 100.0);
    if let Some(mount) = part.mount {
        port_exists(&mut review, project, routing, mount, "it is mounted on");
        let mut at = Some(mount.part);
        let mut steps = 0;
        while let Some(host) = at.and_then(|id| routing.part(id)) {
            steps += 1;
            if host.id == part.id {
                review.claim(
                    false,
                    || "it is mounted on itself, in a circle".to_owned(),
                    "mount it on another part",
                );
                break;
            }
            if steps > Bound::Mounts.most() {
                // Also a circle that it does not belong to itself.
                review.bound(Bound::Mounts, "it", steps);
                break;
            }
            at = host.mount.map(|mount| mount.part);
        }
    }
    review.problems
}

/// The item of a key, if the catalogue has it among the entries of that role; `role` names one of them.
fn entry_exists<'a, K: Key>(
    review: &mut Review,
    catalogue: &'a Catalogue,
    key: &K,
    role: &str,
) -> Option<&'a K::Item> {
    let item = catalogue.item(key);
    review.claim(
        item.is_some(),
        || match catalogue.any_item(key.any()) {
            Some(other) => {
                format!("it uses {} as a {role}, but that is a {}", short(&key.any().0), other.kind())
            }
            None => format!("it uses {}, which is not in the catalogue", short(&key.any().0)),
        },
        "add it to the project's catalogue or choose another",
    );
    item
}

fn port_exists(review: &mut Review, project: &Project, routing: &Routing, port: PortRef, how: &str) {
    let Some(part) = routing.part(port.part) else {
        review.claim(
            false,
            || format!("{how} part {}, which does not exist", port.part.0),
            "name a part of this routing or leave the end loose",
        );
        return;
    };
    if let Some(item) = project.catalogue.item(&part.entry) {
        review.claim(
            item.has_port(port.port),
            || format!("{how} {} of {}, which has no such port", port.port, short(&part.tag)),
            "choose another port",
        );
    }
}

fn end(review: &mut Review, project: &Project, routing: &Routing, end: &End, how: &str) {
    match end {
        End::Supply => {}
        End::Port(port) => port_exists(review, project, routing, *port, how),
        End::Loose(point) => review.riding("its loose end", *point, &project.bar),
    }
}

fn line(review: &mut Review, project: &Project, line: &Line) {
    if let Some(item) = entry_exists(review, &project.catalogue, &line.stock, "hose or tube") {
        review.claim(
            item.item_kind() != StockKind::MeteringTube,
            || format!("its stock {} is a {}", line.stock, item.kind()),
            "choose a hose or tube",
        );
    }
    for point in &line.waypoints {
        review.riding("a waypoint", *point, &project.bar);
    }
    review.number("its slack", line.slack.si(), 0.0, 10.0);
    for allowance in &line.hinge_allowances {
        review.not_negative("a hinge allowance", allowance.extra);
        let hinged = project.bar.section(allowance.section).is_some_and(|section| section.hinge.is_some());
        review.claim(
            hinged,
            || format!("it has an allowance for a hinge of section {}, which has none", allowance.section.0),
            "name the outer of the two sections",
        );
    }
    if let Some(measured) = line.measured {
        review.above_zero("its measured length", measured);
        review.claim(
            measured.si() < 1000.0,
            || format!("its measured length is {} m", measured.si()),
            "check the unit",
        );
    }
}

/// All that a run can break in a sound routing where it takes the place of one with its id and tag.
pub fn run_in_place(project: &Project, routing: &Routing, one: &Run) -> Problems {
    let too_much = too_much_run(routing, one);
    if too_much.is_empty() { run(project, routing, one) } else { too_much }
}

/// All that a row feed can break in a sound routing where it takes the place of one with its id and tag.
pub fn feed_in_place(project: &Project, routing: &Routing, one: &RowFeed) -> Problems {
    let too_much = too_much_feed(routing, one);
    if too_much.is_empty() { feed(project, routing, one) } else { too_much }
}

/// Promises of one run.
pub fn run(project: &Project, routing: &Routing, run: &Run) -> Problems {
    let mut review = Review::of(run_place(routing, run));
    review.name("its tag", &run.tag);
    end(&mut review, project, routing, &run.from, "it starts at");
    end(&mut review, project, routing, &run.to, "it ends at");
    line(&mut review, project, &run.line);
    for fitting in &run.fittings {
        if let Some(item) = entry_exists(&mut review, &project.catalogue, fitting, "fitting") {
            review.claim(
                item.item_kind() == FittingKind::Fitting,
                || format!("{fitting} is a {}", item.kind()),
                "choose a fitting",
            );
        }
    }
    review.problems
}

/// Promises of one row feed.
pub fn feed(project: &Project, routing: &Routing, feed: &RowFeed) -> Problems {
    let mut review = Review::of(feed_place(routing, feed));
    review.name("its tag", &feed.tag);
    end(&mut review, project, routing, &feed.from, "it starts at");
    review.claim(!feed.branches.is_empty(), || "it feeds no row".to_owned(), "name a row or remove it");
    let shared = feed.branches.len() > 1;
    review.claim(
        !shared || feed.split.is_some(),
        || "it feeds several rows without a small tee".to_owned(),
        "give it a small tee where it splits",
    );
    if let Some(split) = &feed.split {
        review.riding("its small tee", split.position, &project.bar);
        if let Some(item) = entry_exists(&mut review, &project.catalogue, &split.entry, "small tee") {
            review.claim(
                item.item_kind() == FittingKind::SmallTee,
                || format!("{} is a {}", split.entry, item.kind()),
                "choose a small tee",
            );
        }
    }
    unique(&mut review, "row", feed.branches.iter().map(|branch| branch.row.0));
    for branch in &feed.branches {
        let row = branch.row.0;
        review.claim(
            project.bar.row(branch.row).is_some(),
            || format!("its row with id {row} does not exist"),
            "name a row of the bar",
        );
    }
    for element in feed.elements() {
        match element {
            FeedElement::Tube(tube) => {
                line(&mut review, project, &tube.line);
                if let Some(end) = tube.end {
                    review.riding("the end of a tube", end, &project.bar);
                }
            }
            FeedElement::MeteringTube { stock, length, coil } => {
                if let Some(item) = entry_exists(&mut review, &project.catalogue, stock, "metering tube") {
                    review.claim(
                        item.item_kind() == StockKind::MeteringTube,
                        || format!("{stock} is a {}", item.kind()),
                        "choose a metering tube",
                    );
                }
                review.above_zero("length of its metering tube", *length);
                if let Some(coil) = coil {
                    review.above_zero("coil diameter of its metering tube", *coil);
                }
            }
            FeedElement::Piece(kind, key) => {
                if let Some(item) = entry_exists(&mut review, &project.catalogue, key, kind.words()) {
                    review.claim(
                        item.item_kind() == *kind,
                        || format!("{key} is a {}, not a {}", item.kind(), kind.words()),
                        "choose an entry of the right kind",
                    );
                }
            }
            FeedElement::Fitting(key) => {
                if let Some(item) = entry_exists(&mut review, &project.catalogue, key, "fitting") {
                    review.claim(
                        item.item_kind() == FittingKind::Fitting,
                        || format!("{key} is a {}", item.kind()),
                        "choose a fitting",
                    );
                }
            }
        }
    }
    review.problems
}
