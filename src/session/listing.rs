//! Everything of the routing in hand as tables: what stands in each cell as text, how it is sorted, and which lines a
//! filter leaves. Numbers are sorted as numbers.

use super::{Session, rows};
use crate::drawing::deviation::signed_percent;
use crate::plan::Manifold;
use crate::plan::{
    ElementKind, End, EntryKey, FeedElement, FeedGeometry, FittingKey, PartId, PartItem, RowFeed, Subject,
};
use crate::quantities::{Length, Measure};

/// Which table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Table {
    /// Placed parts.
    #[default]
    Parts,
    /// Hoses.
    Hoses,
    /// Row feeds.
    Feeds,
    /// Rows of the bar.
    Rows,
}

impl Table {
    /// All, in the order they are offered.
    pub const ALL: [Self; 4] = [Self::Parts, Self::Hoses, Self::Feeds, Self::Rows];

    /// Its wording.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Parts => "Parts",
            Self::Hoses => "Hoses",
            Self::Feeds => "Row feeds",
            Self::Rows => "Rows",
        }
    }

    /// Its columns, without units.
    pub const fn columns(self) -> &'static [Column] {
        use Column as C;
        match self {
            Self::Parts => {
                &[C::Tag, C::Kind, C::Size, C::Section, C::Right, C::Forward, C::Height, C::Pressure, C::Flow]
            }
            Self::Hoses => &[
                C::Tag,
                C::Size,
                C::Fittings,
                C::From,
                C::To,
                C::Slack,
                C::Length,
                C::Measured,
                C::Flow,
                C::Velocity,
                C::Loss,
            ],
            Self::Feeds => &[C::Tag, C::Rows, C::From, C::Tube, C::Valve, C::Metering, C::Length],
            Self::Rows => &[
                C::Row,
                C::Section,
                C::Right,
                C::Forward,
                C::Height,
                C::Manifold,
                C::Metering,
                C::Target,
                C::Flow,
                C::Deviation,
            ],
        }
    }
}

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// The tag people read.
    Tag,
    /// Number of a row.
    Row,
    /// Kind of a part.
    Kind,
    /// Size of a part or bore of a hose.
    Size,
    /// The section that carries it.
    Section,
    /// Metres right of the centre.
    Right,
    /// Metres forward.
    Forward,
    /// Metres above the ground.
    Height,
    /// Gauge pressure.
    Pressure,
    /// Flow through it.
    Flow,
    /// Fittings at the ends of a hose and along it.
    Fittings,
    /// Where it starts.
    From,
    /// Where it ends.
    To,
    /// Slack.
    Slack,
    /// Length with slack and allowances, or as measured.
    Length,
    /// Length measured on the bar.
    Measured,
    /// Velocity.
    Velocity,
    /// Pressure lost.
    Loss,
    /// Numbers of rows.
    Rows,
    /// Delivery tube.
    Tube,
    /// Check valve.
    Valve,
    /// Metering element.
    Metering,
    /// Manifold and outlet that feed a row.
    Manifold,
    /// What a row should get.
    Target,
    /// Deviation from it.
    Deviation,
}

impl Column {
    /// Its wording.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Tag => "Tag",
            Self::Row => "Row",
            Self::Kind => "Kind",
            Self::Size => "Size",
            Self::Section => "Section",
            Self::Right => "Right",
            Self::Forward => "Forward",
            Self::Height => "Height",
            Self::Pressure => "Pressure",
            Self::Flow => "Flow",
            Self::Fittings => "Fittings",
            Self::From => "From",
            Self::To => "To",
            Self::Slack => "Slack",
            Self::Length => "Length",
            Self::Measured => "Measured",
            Self::Velocity => "Velocity",
            Self::Loss => "Loss",
            Self::Rows => "Rows",
            Self::Tube => "Tube",
            Self::Valve => "Check valve",
            Self::Metering => "Metering",
            Self::Manifold => "Fed from",
            Self::Target => "Target",
            Self::Deviation => "Deviation",
        }
    }

    /// What its numbers measure in a table; none for words.
    pub const fn measure(self, table: Table) -> Option<Measure> {
        match self {
            Self::Right | Self::Forward | Self::Height | Self::Length | Self::Measured => {
                Some(Measure::Distance)
            }
            Self::Pressure => Some(Measure::Pressure),
            Self::Loss => Some(Measure::Loss),
            Self::Flow if matches!(table, Table::Rows) => Some(Measure::RowFlow),
            Self::Flow => Some(Measure::TotalFlow),
            Self::Target => Some(Measure::RowFlow),
            Self::Slack | Self::Deviation => Some(Measure::Percent),
            Self::Velocity => Some(Measure::Velocity),
            _ => None,
        }
    }
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Words(String),
    /// A number in the stored unit; none where there is none.
    Number(Option<f64>),
}

impl Cell {
    /// As shown, without a unit.
    pub fn text(&self, measure: Option<Measure>, session: &Session) -> String {
        match (self, measure) {
            (Self::Words(words), _) => words.clone(),
            (Self::Number(Some(value)), Some(measure)) => measure.number(*value, session.project().units),
            (Self::Number(Some(value)), None) => format!("{value:.0}"),
            (Self::Number(None), _) => "–".to_owned(),
        }
    }
}

/// A line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What it is about.
    pub subject: Subject,
    /// One for each column.
    pub cells: Vec<Cell>,
}

/// All lines of a table, filtered and sorted.
pub fn lines(session: &Session, table: Table, filter: &str, by: Column, falling: bool) -> Vec<Line> {
    let columns = table.columns();
    let routing = session.routing();
    let subjects: Vec<Subject> = match table {
        Table::Parts => routing.parts.iter().map(|part| Subject::Part(part.id)).collect(),
        Table::Hoses => routing.runs.iter().map(|run| Subject::Run(run.id)).collect(),
        Table::Feeds => routing.feeds.iter().map(|feed| Subject::Feed(feed.id)).collect(),
        Table::Rows => session.project().bar.rows.iter().map(|row| Subject::Row(row.id)).collect(),
    };
    let words: Vec<String> = filter.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let mut lines: Vec<Line> = subjects
        .into_iter()
        .map(|subject| Line {
            subject,
            cells: columns.iter().map(|column| cell(session, subject, *column)).collect(),
        })
        .filter(|line| {
            let text = || {
                let all = line.cells.iter().zip(columns);
                all.map(|(cell, column)| cell.text(column.measure(table), session).to_lowercase())
                    .collect::<Vec<_>>()
            };
            words.is_empty() || {
                let text = text();
                words.iter().all(|word| text.iter().any(|cell| cell.contains(word)))
            }
        })
        .collect();
    if let Some(at) = columns.iter().position(|column| *column == by) {
        lines.sort_by(|a, b| {
            let order = compare(&a.cells[at], &b.cells[at]);
            if falling { order.reverse() } else { order }
        });
    }
    lines
}

/// Numbers by size, words with numbers in them by those (`M2` before `M10`), nothing last.
fn compare(a: &Cell, b: &Cell) -> std::cmp::Ordering {
    match (a, b) {
        (Cell::Number(a), Cell::Number(b)) => {
            let value = |one: &Option<f64>| one.unwrap_or(f64::INFINITY);
            value(a).total_cmp(&value(b))
        }
        (Cell::Words(a), Cell::Words(b)) => natural(a).cmp(&natural(b)),
        (Cell::Number(_), Cell::Words(_)) => std::cmp::Ordering::Less,
        (Cell::Words(_), Cell::Number(_)) => std::cmp::Ordering::Greater,
    }
}

/// Pieces of letters and numbers.
fn natural(text: &str) -> Vec<(String, u64)> {
    let mut pieces: Vec<(String, u64)> = vec![(String::new(), 0)];
    let mut in_number = false;
    for c in text.chars() {
        if let Some(digit) = c.to_digit(10) {
            in_number = true;
            if let Some(last) = pieces.last_mut() {
                last.1 = last.1.saturating_mul(10).saturating_add(u64::from(digit));
            }
        } else {
            if in_number {
                pieces.push((String::new(), 0));
                in_number = false;
            }
            if let Some(last) = pieces.last_mut() {
                last.0.extend(c.to_lowercase());
            }
        }
    }
    pieces
}

/// The words for an end of a hose or feed.
pub fn end_words(session: &Session, end: &End) -> String {
    match end {
        End::Supply => "supply".to_owned(),
        End::Loose(_) => "loose end".to_owned(),
        End::Port(port) => {
            let name = session.geometry().anchors.port_name(*port);
            format!("{}, {name}", session.tag_of(Subject::Part(port.part)))
        }
    }
}

fn cell(session: &Session, subject: Subject, column: Column) -> Cell {
    let project = session.project();
    let routing = session.routing();
    let size = |entry: &EntryKey| {
        project.catalogue.any_item(entry).map_or_else(String::new, |item| item.size(project.units))
    };
    let words = |text: &str| Cell::Words(text.to_owned());
    let section = |id| words(project.bar.section(id).map_or("", |section| section.name.as_str()));
    let found = match subject {
        Subject::Part(id) => routing.part(id).map(|part| {
            let outcome = session.outcome().part(id);
            let place = session.geometry().anchors.part(id).map_or(part.position, |placed| placed.at);
            match column {
                Column::Tag => words(&part.tag),
                Column::Kind => words(project.catalogue.item(&part.entry).map_or("", PartItem::kind)),
                Column::Size => Cell::Words(
                    project
                        .catalogue
                        .item(&part.entry)
                        .map_or_else(String::new, |item| item.choice(project.units)),
                ),
                Column::Section => section(part.section),
                Column::Right => Cell::Number(Some(place.x)),
                Column::Forward => Cell::Number(Some(place.y)),
                Column::Height => Cell::Number(Some(place.z)),
                Column::Pressure => Cell::Number(outcome.and_then(|one| one.pressure).map(|one| one.si())),
                _ => Cell::Number(outcome.and_then(|one| one.flow).map(|one| one.si())),
            }
        }),
        Subject::Run(id) => routing.run(id).map(|run| {
            let outcome = session.outcome().run(id);
            match column {
                Column::Tag => words(&run.tag),
                Column::Size => Cell::Words(size(&run.line.stock)),
                Column::Fittings => Cell::Words(fitting_words(session, &run.fittings)),
                Column::From => Cell::Words(end_words(session, &run.from)),
                Column::To => Cell::Words(end_words(session, &run.to)),
                Column::Slack => Cell::Number(Some(run.line.slack.si())),
                Column::Length => Cell::Number(session.geometry().run(id).map(|laid| laid.length.si())),
                Column::Measured => Cell::Number(run.line.measured.map(Length::si)),
                Column::Flow => Cell::Number(outcome.and_then(|one| one.flow).map(|one| one.si().abs())),
                Column::Velocity => Cell::Number(outcome.and_then(|one| one.velocity).map(|one| one.si())),
                _ => Cell::Number(outcome.and_then(|one| one.loss).map(|one| one.si().abs())),
            }
        }),
        Subject::Feed(id) => routing.feed(id).map(|feed| match column {
            Column::Tag => words(&feed.tag),
            Column::Rows => Cell::Words(feed_rows(session, feed)),
            Column::From => Cell::Words(end_words(session, &feed.from)),
            Column::Tube => Cell::Words(elements(session, feed, |one| matches!(one, FeedElement::Tube(_)))),
            Column::Valve => Cell::Words(elements(session, feed, |one| one.is(ElementKind::CheckValve))),
            Column::Metering => Cell::Words(elements(session, feed, FeedElement::is_metering)),
            _ => {
                let tubes = session.geometry().feed(id).into_iter().flat_map(FeedGeometry::tubes);
                let sum = tubes.map(|tube| tube.length).sum::<Length>().si();
                Cell::Number(Some(sum).filter(|sum| *sum > 0.0))
            }
        }),
        Subject::Row(id) => project.bar.row(id).map(|row| {
            let connection = session.outcome().connection(id);
            let outcome = session.outcome().row(id);
            let place = project.bar.outlet(row);
            match column {
                Column::Row => Cell::Number(Some(f64::from(row.number))),
                Column::Section => section(row.section),
                Column::Right => Cell::Number(Some(place.x)),
                Column::Forward => Cell::Number(Some(place.y)),
                Column::Height => Cell::Number(Some(place.z)),
                Column::Manifold => Cell::Words(match connection.and_then(|one| one.outlet) {
                    Some((part, number)) => format!("{}.{number}", session.tag_of(Subject::Part(part))),
                    None if row.left_out => "left out".to_owned(),
                    None => routing
                        .feed_of(id)
                        .map_or_else(|| "not fed".to_owned(), |feed| end_words(session, &feed.from)),
                }),
                Column::Metering => Cell::Words(
                    routing
                        .feed_of(id)
                        .map_or_else(String::new, |feed| elements(session, feed, FeedElement::is_metering)),
                ),
                Column::Target => Cell::Number(connection.map(|one| one.target.si())),
                Column::Flow => Cell::Number(outcome.map(|one| one.flow.si())),
                _ => Cell::Number(outcome.and_then(|one| one.deviation).map(|one| one.si())),
            }
        }),
    };
    found.unwrap_or(Cell::Number(None))
}

/// A deviation with its sign, or why there is none.
pub fn deviation_words(cell: &Cell) -> String {
    match cell {
        Cell::Number(Some(value)) => signed_percent(crate::quantities::Ratio::from_si(*value)),
        _ => "–".to_owned(),
    }
}

fn feed_rows(session: &Session, feed: &RowFeed) -> String {
    let bar = &session.project().bar;
    let numbers: Vec<u32> =
        feed.branches.iter().filter_map(|branch| bar.row(branch.row)).map(|row| row.number).collect();
    rows::numbers_text(&numbers)
}

/// Fittings of a hose: `2 × 15.5 mm`, `15.5 mm, 13 mm`, `none`.
fn fitting_words(session: &Session, fittings: &[FittingKey]) -> String {
    let project = session.project();
    let size = |key: &FittingKey| {
        project.catalogue.item(key).map_or_else(|| key.to_string(), |item| item.size(project.units))
    };
    match fittings {
        [] => "none".to_owned(),
        [one] => size(one),
        [first, rest @ ..] if rest.iter().all(|one| one == first) => {
            format!("{} × {}", fittings.len(), size(first))
        }
        all => all.iter().map(size).collect::<Vec<_>>().join(", "),
    }
}

fn elements(session: &Session, feed: &RowFeed, fits: impl Fn(&FeedElement) -> bool) -> String {
    let project = session.project();
    let mut sizes: Vec<String> = feed
        .elements()
        .filter(|element| fits(element))
        .filter_map(|element| {
            let size = project.catalogue.any_item(element.entry())?.size(project.units);
            Some(match element {
                FeedElement::MeteringTube { length, .. } => {
                    format!("{size} × {}", Measure::Distance.short_text(length.si(), project.units))
                }
                _ => size,
            })
        })
        .collect();
    sizes.dedup();
    sizes.join(", ")
}

/// Manifolds of the routing by tag, with how many outlets are free.
pub fn manifolds(session: &Session) -> Vec<(PartId, String, usize)> {
    let routing = session.routing();
    let taken = |id: PartId| {
        let ports = routing.connections().filter(|(port, _)| port.part == id);
        ports.filter(|(port, _)| matches!(port.port, crate::plan::Port::Outlet(_))).count()
    };
    let mut all: Vec<(PartId, String, usize)> = routing
        .parts
        .iter()
        .filter_map(|part| match session.project().catalogue.item(&part.entry) {
            Some(PartItem::Manifold(Manifold { outlets, .. })) => {
                let free = usize::from(*outlets).saturating_sub(taken(part.id));
                Some((part.id, part.tag.clone(), free))
            }
            _ => None,
        })
        .collect();
    all.sort_by_key(|(_, tag, _)| natural(tag));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;

    #[test]
    fn tables_hold_everything_and_sort_and_filter() {
        let session = Session::new(files::demo(), None);
        let all = |table, filter: &str, by, falling| lines(&session, table, filter, by, falling);
        assert_eq!(all(Table::Rows, "", Column::Row, false).len(), 40);
        assert_eq!(all(Table::Feeds, "", Column::Tag, false).len(), session.routing().feeds.len());
        assert_eq!(all(Table::Parts, "", Column::Tag, false).len(), session.routing().parts.len());
        let tags: Vec<String> = all(Table::Feeds, "", Column::Tag, false)
            .iter()
            .map(|line| line.cells[0].text(None, &session))
            .collect();
        let at = |tag: &str| tags.iter().position(|one| one == tag).unwrap();
        assert!(at("T2") < at("T10"), "numbers in tags count as numbers");
        let rows = all(Table::Rows, "", Column::Deviation, true);
        let deviations: Vec<f64> = rows
            .iter()
            .filter_map(|line| match line.cells.last() {
                Some(Cell::Number(value)) => *value,
                _ => None,
            })
            .collect();
        assert_eq!(deviations.len(), 40);
        assert!(deviations.windows(2).all(|pair| pair[0] >= pair[1]));
        let manifolds = all(Table::Parts, "manifold centre", Column::Tag, false);
        assert!(!manifolds.is_empty() && manifolds.len() < session.routing().parts.len());
        assert!(all(Table::Rows, "no such words", Column::Row, false).is_empty());
    }

    #[test]
    fn every_column_has_a_cell_and_words_or_a_measure() {
        let session = Session::new(files::demo(), None);
        for table in Table::ALL {
            for line in lines(&session, table, "", table.columns()[0], false) {
                assert_eq!(line.cells.len(), table.columns().len());
                for (cell, column) in line.cells.iter().zip(table.columns()) {
                    let numbers = matches!(cell, Cell::Number(_));
                    assert_eq!(
                        numbers,
                        column.measure(table).is_some() || *column == Column::Row,
                        "{table:?} {column:?}"
                    );
                }
            }
        }
    }
}
