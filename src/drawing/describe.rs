//! One sentence about a thing on the bar, for hover cards and screen readers.

use super::Subject;
use super::deviation::{signed_percent, why_not_fed};
use crate::hydraulics::outcome::{Outcome, RowState};
use crate::plan::kinds::Reading;
use crate::plan::{
    ElementGeometry, End, FeedElement, FeedGeometry, LaidRouting, LineGeometry, Part, Port, PortRef, Project,
    RowFeed, RowId, Run,
};
use crate::quantities::{Measure, UnitSystem};

/// What a subject is, with its numbers where they are known: `Manifold M5, 1.24 bar, feeds rows 27 to 34`.
/// A subject that is no longer there is said to be gone.
pub fn describe(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    subject: Subject,
    units: UnitSystem,
) -> String {
    let about = About { project, routing, outcome: outcome.filter(|outcome| outcome.result.is_ok()), units };
    let sentence = match subject {
        Subject::Part(id) => routing.part(id).map(|part| about.part(part)),
        Subject::Run(id) => routing.run(id).map(|run| about.run(run)),
        Subject::Feed(id) => routing.feed(id).map(|feed| about.feed(feed)),
        // Why a row gets nothing is known even where there are no numbers.
        Subject::Row(id) => about.row(id, outcome),
    };
    sentence.unwrap_or_else(|| "Not there any more".to_owned())
}

pub(super) struct About<'a> {
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    pub(super) outcome: Option<&'a Outcome>,
    pub(super) units: UnitSystem,
}

impl About<'_> {
    pub(super) fn text(&self, measure: Measure, stored: f64) -> String {
        measure.text(stored, self.units)
    }

    fn part(&self, part: &Part) -> String {
        let Some(item) = self.project.catalogue.item(&part.entry) else {
            return format!("Part {}, not in the catalogue", part.tag);
        };
        let mut says = vec![format!("{} {}", capital(item.kind()), part.tag)];
        if part.shut {
            says.push("shut".to_owned());
        }
        if let Some(found) = self.outcome.and_then(|outcome| outcome.part(part.id)) {
            if let Some(pressure) = found.pressure {
                let reads = if item.facts().reading == Some(Reading::Pressure) { "reads " } else { "" };
                says.push(format!("{reads}{}", self.text(Measure::Pressure, pressure.si())));
            }
            if let Some(flow) = found.flow.filter(|_| !item.is_on_port()) {
                let reads = if item.facts().reading == Some(Reading::Flow) { "reads " } else { "" };
                says.push(format!("{reads}{}", self.text(Measure::TotalFlow, flow.si())));
            }
            if let Some(drop) = found.drop.filter(|_| item.passes_on()) {
                says.push(format!("drop {}", self.text(Measure::Loss, drop.si())));
            }
        }
        if item.is_for_rows() {
            says.push(self.rows_of(part));
        } else if let Some(host) = part.mount.and_then(|mount| self.port(mount)) {
            says.push(format!("on {host}"));
        }
        says.join(", ")
    }

    /// The numbers of the rows that hang on a manifold, rising.
    pub(super) fn row_numbers_of(&self, part: &Part) -> Vec<u32> {
        let hangs = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == part.id);
        let rows = self.routing.feeds.iter().filter(hangs).flat_map(|feed| &feed.branches);
        let mut numbers: Vec<u32> =
            rows.filter_map(|branch| self.project.bar.row(branch.row)).map(|row| row.number).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }

    fn rows_of(&self, part: &Part) -> String {
        match self.row_numbers_of(part).as_slice() {
            [] => "feeds no row".to_owned(),
            [one] => format!("feeds row {one}"),
            several => format!("feeds rows {}", ranges(several)),
        }
    }

    fn run(&self, run: &Run) -> String {
        let mut says = vec![format!("Hose {}", run.tag)];
        if let Some(stock) = self.project.catalogue.stock(&run.line.stock) {
            says.push(Measure::Bore.short_text(stock.bore.si(), self.units));
        }
        if let Some(length) = self.routing.geometry.run(run.id).and_then(LineGeometry::known_length) {
            says.push(self.text(Measure::Distance, length.si()));
        }
        if let Some(found) = self.outcome.and_then(|outcome| outcome.run(run.id)) {
            if let Some(flow) = found.flow {
                says.push(self.text(Measure::TotalFlow, flow.si().abs()));
            }
            if let Some(velocity) = found.velocity {
                says.push(self.text(Measure::Velocity, velocity.si()));
            }
            if let Some(loss) = found.loss {
                says.push(format!("loses {}", self.text(Measure::Loss, loss.si().abs())));
            }
        }
        says.push(format!("from {} to {}", self.end(&run.from), self.end(&run.to)));
        says.join(", ")
    }

    fn feed(&self, feed: &RowFeed) -> String {
        let numbers: Vec<u32> = feed
            .branches
            .iter()
            .filter_map(|branch| self.project.bar.row(branch.row))
            .map(|row| row.number)
            .collect();
        let to = match numbers.as_slice() {
            [] => "no row".to_owned(),
            [one] => format!("row {one}"),
            several => format!("rows {}", ranges(several)),
        };
        let mut says = vec![format!("Row feed {} from {} to {to}", feed.tag, self.end(&feed.from))];
        let laid = self.routing.geometry.feed(feed.id);
        let mut lengths =
            laid.into_iter().flat_map(FeedGeometry::elements).map(ElementGeometry::known_length);
        for element in feed.elements() {
            let laid = lengths.next().flatten();
            let item = self.project.catalogue.any_item(element.entry());
            let size = item.map(|item| item.size(self.units)).unwrap_or_default();
            let length = match element {
                FeedElement::MeteringTube { length, .. } => Some(*length),
                FeedElement::Tube(_) => laid,
                FeedElement::Piece(..) | FeedElement::Fitting(_) => None,
            };
            let length = length.map(|length| format!(" × {}", self.text(Measure::Distance, length.si())));
            says.push(
                format!("{} {size}{}", element.kind(), length.unwrap_or_default()).trim_end().to_owned(),
            );
        }
        says.join(", ")
    }

    fn row(&self, id: RowId, outcome: Option<&Outcome>) -> Option<String> {
        let row = self.project.bar.row(id)?;
        let mut says = vec![format!("Row {}", row.number)];
        let Some((outcome, connection)) =
            outcome.and_then(|outcome| Some((outcome, outcome.connection(id)?)))
        else {
            says.push(if row.left_out { "left out" } else { "not solved" }.to_owned());
            return Some(says.join(", "));
        };
        let found = outcome.row(id);
        match found {
            Some(found) if found.state == RowState::Fed => {
                says.push(self.text(Measure::RowFlow, found.flow.si()));
                let target = self.text(Measure::RowFlow, found.target.si());
                match found.deviation {
                    Some(deviation) => {
                        says.push(format!("{} % from target {target}", signed_percent(deviation)));
                    }
                    None => says.push("no target".to_owned()),
                }
            }
            Some(found) if row.left_out && found.flow.si() != 0.0 => {
                let flow = self.text(Measure::RowFlow, found.flow.si());
                says.push(format!("left out, but {flow} run out there"));
            }
            _ => says.extend(why_not_fed(connection.state(found)).map(str::to_owned)),
        }
        if let Some((part, outlet)) = connection.outlet
            && let Some(port) = self.port(PortRef { part, port: Port::Outlet(outlet) })
        {
            says.push(format!("on {port}"));
        }
        Some(says.join(", "))
    }

    pub(super) fn end(&self, end: &End) -> String {
        match end {
            End::Supply => "the pump".to_owned(),
            End::Loose(_) => "a loose end".to_owned(),
            End::Port(port) => self.port(*port).unwrap_or_else(|| "nothing".to_owned()),
        }
    }

    pub(super) fn port(&self, port: PortRef) -> Option<String> {
        let host = self.routing.part(port.part)?;
        Some(self.routing.geometry.anchors.port_words(&host.tag, port))
    }
}

pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Rising numbers with neighbours drawn together: `1 to 4, 7`.
pub(super) fn ranges(numbers: &[u32]) -> String {
    let mut groups: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match groups.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(*number) => *last = *number,
            _ => groups.push((*number, *number)),
        }
    }
    let words = groups.iter().map(|(first, last)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    });
    words.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_in_words() {
        assert_eq!(ranges(&[27, 28, 29, 30]), "27 to 30");
        assert_eq!(ranges(&[1, 2, 5, 7, 8, 9]), "1, 2, 5, 7 to 9");
        assert_eq!(ranges(&[]), "");
        assert_eq!(capital("inlet filter"), "Inlet filter");
    }
}
