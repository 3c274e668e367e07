//! The numbers of one thing on the bar, as a short table: for the card that shows up under the pointer.

use super::Subject;
use super::describe::{About, capital, ranges};
use super::deviation::{signed_percent, why_not_fed};
use super::pressure::rows_ahead_of_metering;
use crate::hydraulics::losses::reynolds::{LAMINAR_END, TURBULENT_START};
use crate::hydraulics::outcome::{Outcome, RowState, RunOutcome};
use crate::plan::kinds::Reading;
use crate::plan::{
    FeedElement, HoseStock, LaidRouting, LineGeometry, Part, PartId, Port, PortRef, Project, RowId, Run,
};
use crate::quantities::{Length, Measure, UnitSystem};

/// A title, and what is known about it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Card {
    /// Its tag: `M5`.
    pub tag: String,
    /// What it is: `manifold, 8 outlets, 20 mm bore`.
    pub kind: String,
    /// What stands out before any number: `shut`, `not fed: a section valve is shut`.
    pub notice: Option<String>,
    /// Names and values, the most asked for first.
    pub facts: Vec<(&'static str, String)>,
}

/// Laminar, turbulent or between, by the Reynolds numbers at which the losses change (a straight, round bore).
pub fn regime(reynolds: f64) -> &'static str {
    if reynolds <= LAMINAR_END {
        "laminar"
    } else if reynolds < TURBULENT_START {
        "in transition"
    } else {
        "turbulent"
    }
}

/// The card of a subject; none for one that is no longer there. Numbers that are not known are left away.
pub fn card(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    subject: Subject,
    units: UnitSystem,
) -> Option<Card> {
    let numbers = outcome.filter(|outcome| outcome.result.is_ok());
    let about = About { project, routing, outcome: numbers, units };
    match subject {
        Subject::Part(id) => routing.part(id).map(|part| about.part_card(part)),
        Subject::Run(id) => routing.run(id).map(|run| about.run_card(run)),
        Subject::Row(id) => about.row_card(id, outcome),
        Subject::Feed(id) => {
            let feed = routing.feed(id)?;
            match feed.branches.as_slice() {
                [one] => {
                    let mut card = about.row_card(one.row, outcome)?;
                    card.kind = format!("row feed of {}", card.tag.to_lowercase());
                    card.tag.clone_from(&feed.tag);
                    Some(card)
                }
                several => {
                    let numbers = several.iter().filter_map(|branch| project.bar.row(branch.row));
                    let numbers: Vec<u32> = numbers.map(|row| row.number).collect();
                    let mut card =
                        Card { tag: feed.tag.clone(), kind: "shared row feed".to_owned(), ..Card::default() };
                    card.facts.push(("Feeds rows", ranges(&numbers)));
                    card.facts.push(("From", about.end(&feed.from)));
                    about.tubes(&mut card, feed.id, None);
                    Some(card)
                }
            }
        }
    }
}

/// What a length of a bore holds, m³.
fn volume(stock: &HoseStock, length: Length) -> f64 {
    std::f64::consts::FRAC_PI_4 * stock.bore.si() * stock.bore.si() * length.si()
}

impl About<'_> {
    fn part_card(&self, part: &Part) -> Card {
        let mut card = Card { tag: part.tag.clone(), ..Card::default() };
        let Some(item) = self.project.catalogue.item(&part.entry) else {
            "not in the catalogue".clone_into(&mut card.kind);
            return card;
        };
        let size = item.size(self.units);
        card.kind = if size.is_empty() { item.kind().to_owned() } else { format!("{}, {size}", item.kind()) };
        card.notice = part.shut.then(|| "shut".to_owned());
        let found = self.outcome.and_then(|outcome| outcome.part(part.id));
        if let Some(pressure) = found.and_then(|found| found.pressure) {
            let name = if item.facts().reading == Some(Reading::Pressure) {
                "Reads"
            } else if item.passes_on() || item.is_for_rows() {
                "Pressure in"
            } else {
                "Pressure"
            };
            card.facts.push((name, self.text(Measure::Pressure, pressure.si())));
            if let Some(drop) = found.and_then(|found| found.drop).filter(|_| item.passes_on()) {
                let out = pressure.si() - drop.si();
                card.facts.push(("Pressure out", self.text(Measure::Pressure, out)));
                card.facts.push(("Takes", self.text(Measure::Loss, drop.si())));
            }
        }
        if let Some(found) = found.filter(|_| !item.is_on_port()) {
            if let Some(flow) = found.flow {
                let name = if item.facts().reading == Some(Reading::Flow) { "Reads" } else { "Flow in" };
                card.facts.push((name, self.text(Measure::TotalFlow, flow.si())));
            }
            if let Some(rows) = found.flow_to_rows.filter(|_| item.is_for_rows()) {
                card.facts.push(("To its rows", self.text(Measure::TotalFlow, rows.si())));
                if let Some(flow) = found.flow {
                    let on = (flow.si() - rows.si()).max(0.0);
                    card.facts.push(("Passed on", self.text(Measure::TotalFlow, on)));
                }
            }
        }
        if item.is_for_rows() {
            let numbers = self.row_numbers_of(part);
            let rows = if numbers.is_empty() { "none".to_owned() } else { ranges(&numbers) };
            card.facts.push(("Rows", rows));
        }
        if let Some(host) = part.mount.and_then(|mount| self.port(mount)) {
            card.facts.push(("On", host));
        } else if let Some(feeder) = self.fed_by(part.id) {
            card.facts.push(("Fed by", feeder));
        }
        card
    }

    /// The hose that liquid comes through into a part, with where it comes from.
    fn fed_by(&self, part: PartId) -> Option<String> {
        let is_on = |port: Option<PortRef>| port.is_some_and(|port| port.part == part);
        self.routing.runs.iter().find_map(|run| {
            let flow = self.outcome?.run(run.id)?.flow?.si();
            let source = if flow > 0.0 && is_on(run.to.port()) {
                &run.from
            } else if flow < 0.0 && is_on(run.from.port()) {
                &run.to
            } else {
                return None;
            };
            Some(format!("{} from {}", run.tag, self.end(source)))
        })
    }

    fn run_card(&self, run: &Run) -> Card {
        let stock = self.project.catalogue.stock(&run.line.stock);
        let bore = stock.map(|stock| Measure::Bore.short_text(stock.bore.si(), self.units));
        let kind = bore.map_or_else(|| "hose".to_owned(), |bore| format!("hose, {bore} bore"));
        let mut card = Card { tag: run.tag.clone(), kind, ..Card::default() };
        let found: Option<&RunOutcome> = self.outcome.and_then(|outcome| outcome.run(run.id));
        // Liquid that runs the other way is told the way it runs.
        let backwards = found.and_then(|found| found.flow).is_some_and(|flow| flow.si() < 0.0);
        if let Some(found) = found {
            let ends = if backwards {
                (found.pressure_to, found.pressure_from)
            } else {
                (found.pressure_from, found.pressure_to)
            };
            for (name, pressure) in [("Pressure in", ends.0), ("Pressure out", ends.1)] {
                if let Some(pressure) = pressure {
                    card.facts.push((name, self.text(Measure::Pressure, pressure.si())));
                }
            }
            if let Some(loss) = found.loss {
                card.facts.push(("Takes", self.text(Measure::Loss, loss.si().abs())));
            }
            if let Some(flow) = found.flow {
                card.facts.push(("Flow", self.text(Measure::TotalFlow, flow.si().abs())));
            }
            if let Some(velocity) = found.velocity {
                card.facts.push(("Velocity", self.text(Measure::Velocity, velocity.si())));
            }
            if let Some(reynolds) = found.reynolds {
                card.facts.push(("Reynolds number", reynolds_words(reynolds)));
            }
        }
        if let Some(length) = self.routing.geometry.run(run.id).and_then(LineGeometry::known_length) {
            let measured = if run.line.measured.is_some() { " (measured)" } else { "" };
            card.facts.push(("Length", format!("{}{measured}", self.text(Measure::Distance, length.si()))));
            if let Some(stock) = stock {
                card.facts.push(("Holds", self.text(Measure::Volume, volume(stock, length))));
            }
        }
        let (from, to) = if backwards { (&run.to, &run.from) } else { (&run.from, &run.to) };
        card.facts.push(("From", self.end(from)));
        card.facts.push(("To", self.end(to)));
        card
    }

    fn row_card(&self, id: RowId, outcome: Option<&Outcome>) -> Option<Card> {
        let row = self.project.bar.row(id)?;
        let section = self.project.bar.section(row.section).map(|section| section.name.clone());
        let mut card = Card {
            tag: format!("Row {}", row.number),
            kind: section.unwrap_or_default(),
            notice: row.left_out.then(|| "left out".to_owned()),
            ..Card::default()
        };
        let Some(outcome) = outcome else { return Some(card) };
        let Some(connection) = outcome.connection(id) else { return Some(card) };
        let found = outcome.row(id);
        if let Some(why) = why_not_fed(connection.state(found)) {
            card.notice = Some(why.to_owned());
        }
        // A row that is left out but still plumbed runs out, one that flows backwards has less than nothing.
        if let Some(found) = found.filter(|one| one.state == RowState::Fed || one.flow.si() != 0.0) {
            card.facts.push(("Flow", self.text(Measure::RowFlow, found.flow.si())));
        }
        if connection.target.si() > 0.0 {
            card.facts.push(("Target", self.text(Measure::RowFlow, connection.target.si())));
        }
        if let Some(deviation) = found.and_then(|found| found.deviation) {
            card.facts.push(("Deviation", format!("{} %", signed_percent(deviation))));
        }
        if let Some(outcome) = self.outcome {
            // Only this feed's drops are wanted, but rows are few and the card is made for one at a time.
            let ahead = rows_ahead_of_metering(self.project, self.routing, outcome);
            if let Some(pressure) = ahead.get(&id) {
                card.facts.push(("Ahead of metering", self.text(Measure::Pressure, pressure.si())));
            }
        }
        if let Some(feed) = self.routing.feed_of(id) {
            self.tubes(&mut card, feed.id, Some(id));
        }
        if let Some((part, outlet)) = connection.outlet
            && let Some(port) = self.port(PortRef { part, port: Port::Outlet(outlet) })
        {
            card.facts.push(("Fed by", port));
        }
        Some(card)
    }

    /// Tube and metering of a feed: of one of its rows with the shared trunk, or of the trunk alone.
    fn tubes(&self, card: &mut Card, feed: crate::plan::FeedId, row: Option<RowId>) {
        let routing = self.routing.routing;
        let Some(feed) = routing.feed(feed) else { return };
        let laid = self.routing.geometry.feed(feed.id);
        let branches = feed.branches.iter().enumerate();
        let all = feed.trunk.iter().enumerate().map(|(index, element)| (None, index, element)).chain(
            branches.flat_map(|(at, branch)| {
                branch.elements.iter().enumerate().map(move |(index, element)| (Some(at), index, element))
            }),
        );
        for (branch, index, element) in all {
            let length = match element {
                FeedElement::MeteringTube { length, .. } => Some(*length),
                FeedElement::Tube(_) => laid.and_then(|laid| laid.stretch(branch).get(index)?.known_length()),
                FeedElement::Piece(..) | FeedElement::Fitting(_) => None,
            };
            let wanted = branch.is_none_or(|at| feed.branches.get(at).map(|one| one.row) == row);
            if !wanted {
                continue;
            }
            let size = self.project.catalogue.any_item(element.entry()).map(|item| item.size(self.units));
            let mut says = size.unwrap_or_default();
            if let Some(length) = length {
                says = format!("{says} × {}", self.text(Measure::Distance, length.si()));
            }
            let found = self.outcome.and_then(|outcome| {
                outcome
                    .elements()
                    .iter()
                    .find(|one| one.feed == feed.id && one.branch == branch && one.index == index)
            });
            if let Some(drop) = found.and_then(|found| found.drop) {
                says = format!("{says}, takes {}", self.text(Measure::Loss, drop.si()));
            }
            let name = match element {
                FeedElement::Tube(_) => "Tube",
                FeedElement::Piece(kind, _) => kind.short_name(),
                FeedElement::MeteringTube { .. } => "Metering tube",
                FeedElement::Fitting(_) => "Fitting",
            };
            card.facts.push((name, says));
            let in_tube = element.is_cut();
            if let Some(reynolds) = found.and_then(|found| found.reynolds).filter(|_| in_tube) {
                card.facts.push(("Reynolds number", reynolds_words(reynolds)));
            }
        }
    }
}

fn reynolds_words(reynolds: f64) -> String {
    format!("{}, {}", thousands(reynolds), regime(reynolds))
}

/// A whole number with its thousands set apart: `12,300`.
fn thousands(number: f64) -> String {
    let digits = format!("{:.0}", number.abs());
    let mut words = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at) % 3 == 0 {
            words.push(',');
        }
        words.push(digit);
    }
    words
}

impl Card {
    /// Title in one line, for places without a table.
    pub fn title(&self) -> String {
        if self.kind.is_empty() { capital(&self.tag) } else { format!("{} {}", self.tag, self.kind) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The edges that O. Reynolds' experiments and every handbook give for a straight pipe: laminar to about 2,000,
    /// turbulent from about 4,000.
    #[test]
    fn regimes() {
        assert_eq!(regime(1999.0), "laminar");
        assert_eq!(regime(3000.0), "in transition");
        assert_eq!(regime(4000.0), "turbulent");
        assert_eq!(thousands(12345.6), "12,346");
        assert_eq!(thousands(999.0), "999");
    }
}
