//! Everything of the routing in hand as tables: what stands in each cell as text, how it is sorted, and which lines a
//! filter leaves. Numbers are sorted as numbers.

use std::sync::LazyLock;

use super::bulk::Common;
use super::ends::end_words;
use super::properties::{Input, Property, PropertyValue};
use super::{Session, rows};
use crate::drawing::deviation::signed_percent;
use crate::plan::part::outlet_words;
use crate::plan::words::natural_order;
use crate::plan::{
    ElementKind, FeedElement, FeedGeometry, FittingKey, LineGeometry, PartItem, PartKey, RowFeed, RowId,
    Subject,
};
use crate::quantities::{Length, Measure};
use strum::EnumCount;

/// Which table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, EnumCount)]
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
    pub const ALL: [Self; Self::COUNT] = [Self::Parts, Self::Hoses, Self::Feeds, Self::Rows];

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
    pub fn columns(self) -> &'static [TableColumn] {
        use TableColumn::{self as C, Property as P};
        /// Every kind of piece that a feed may have or not has a column.
        static FEEDS: LazyLock<Vec<TableColumn>> = LazyLock::new(|| {
            let mut columns = vec![P(Property::Tag), C::Rows, P(Property::From), P(Property::Tube)];
            let may_have = ElementKind::ALL.iter().copied().filter(|kind| !kind.is_metering());
            columns.extend(may_have.map(|kind| P(Property::Piece(kind))));
            columns.extend([P(Property::Metering), C::Length]);
            columns
        });
        match self {
            Self::Parts => &[
                P(Property::Tag),
                C::Kind,
                P(Property::Size),
                C::Section,
                P(Property::Right),
                P(Property::Forward),
                P(Property::Height),
                C::Pressure,
                C::Flow,
            ],
            Self::Hoses => &[
                P(Property::Tag),
                P(Property::Bore),
                P(Property::Fittings),
                P(Property::From),
                P(Property::To),
                P(Property::Slack),
                C::Length,
                P(Property::MeasuredLength),
                C::Flow,
                C::Velocity,
                C::Loss,
            ],
            Self::Feeds => &FEEDS,
            Self::Rows => &[
                C::Row,
                C::Section,
                P(Property::Right),
                P(Property::Forward),
                P(Property::OutletHeight),
                P(Property::FedFrom),
                P(Property::Metering),
                C::Target,
                C::Flow,
                C::Deviation,
            ],
        }
    }
}

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableColumn {
    /// A property, which can be set in its cells.
    Property(Property),
    /// Number of a row.
    Row,
    /// Kind of a part.
    Kind,
    /// The section that carries it.
    Section,
    /// Gauge pressure.
    Pressure,
    /// Flow through it.
    Flow,
    /// Length with slack and allowances, or as measured.
    Length,
    /// Velocity.
    Velocity,
    /// Pressure lost.
    Loss,
    /// Numbers of rows.
    Rows,
    /// What a row should get.
    Target,
    /// Deviation from it.
    Deviation,
}

impl TableColumn {
    /// Its wording.
    pub fn label(self) -> String {
        let label = match self {
            Self::Property(property) => return property.heading(),
            Self::Row => "Row",
            Self::Kind => "Kind",
            Self::Section => "Section",
            Self::Pressure => "Pressure",
            Self::Flow => "Flow",
            Self::Length => "Length",
            Self::Velocity => "Velocity",
            Self::Loss => "Loss",
            Self::Rows => "Rows",
            Self::Target => "Target",
            Self::Deviation => "Deviation",
        };
        label.to_owned()
    }

    /// What its numbers measure in a table; none for words.
    pub fn measure(self, table: Table) -> Option<Measure> {
        match self {
            Self::Property(property) => property.measure(),
            Self::Length => Some(Measure::Distance),
            Self::Pressure => Some(Measure::Pressure),
            Self::Loss => Some(Measure::Loss),
            Self::Flow if matches!(table, Table::Rows) => Some(Measure::RowFlow),
            Self::Flow => Some(Measure::TotalFlow),
            Self::Target => Some(Measure::RowFlow),
            Self::Deviation => Some(Measure::Percent),
            Self::Velocity => Some(Measure::Velocity),
            Self::Row | Self::Kind | Self::Section | Self::Rows => None,
        }
    }
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum TableCell {
    /// Words.
    Words(String),
    /// A number in the stored unit; none where there is none.
    Number(Option<f64>),
}

impl TableCell {
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
pub struct TableRow {
    /// What it is about.
    pub subject: Subject,
    /// One for each column.
    pub cells: Vec<TableCell>,
}

/// All lines of a table, filtered and sorted.
pub fn lines(session: &Session, table: Table, filter: &str, by: TableColumn, falling: bool) -> Vec<TableRow> {
    let columns = table.columns();
    let routing = session.routing();
    let subjects: Vec<Subject> = match table {
        Table::Parts => routing.parts.iter().map(|part| Subject::Part(part.id)).collect(),
        Table::Hoses => routing.runs.iter().map(|run| Subject::Run(run.id)).collect(),
        Table::Feeds => routing.feeds.iter().map(|feed| Subject::Feed(feed.id)).collect(),
        Table::Rows => session.project().bar.rows.iter().map(|row| Subject::Row(row.id)).collect(),
    };
    let words: Vec<String> = filter.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let mut lines: Vec<TableRow> = subjects
        .into_iter()
        .map(|subject| TableRow {
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
fn compare(a: &TableCell, b: &TableCell) -> std::cmp::Ordering {
    match (a, b) {
        (TableCell::Number(a), TableCell::Number(b)) => {
            let value = |one: &Option<f64>| one.unwrap_or(f64::INFINITY);
            value(a).total_cmp(&value(b))
        }
        (TableCell::Words(a), TableCell::Words(b)) => natural_order(a).cmp(&natural_order(b)),
        (TableCell::Number(_), TableCell::Words(_)) => std::cmp::Ordering::Less,
        (TableCell::Words(_), TableCell::Number(_)) => std::cmp::Ordering::Greater,
    }
}

fn cell(session: &Session, subject: Subject, column: TableColumn) -> TableCell {
    let project = session.project();
    let routing = session.routing();
    let words = |text: &str| TableCell::Words(text.to_owned());
    let section = |id| words(project.bar.section(id).map_or("", |section| section.name.as_str()));
    if let TableColumn::Property(property) = column {
        return match property.of(session, subject) {
            _ if property.input() == Input::List => TableCell::Words(list_words(session, subject, property)),
            Common::Same(PropertyValue::Words(words)) => TableCell::Words(words),
            Common::Same(PropertyValue::Number(number)) => TableCell::Number(Some(number)),
            _ => TableCell::Number(None),
        };
    }
    let found = match subject {
        Subject::Part(id) => routing.part(id).map(|part| {
            let outcome = session.outcome().part(id);
            match column {
                TableColumn::Kind => words(project.catalogue.item(&part.entry).map_or("", PartItem::kind)),
                TableColumn::Section => section(part.section),
                TableColumn::Pressure => {
                    TableCell::Number(outcome.and_then(|one| one.pressure).map(|one| one.si()))
                }
                _ => TableCell::Number(outcome.and_then(|one| one.flow).map(|one| one.si())),
            }
        }),
        Subject::Run(id) => routing.run(id).map(|_| {
            let outcome = session.outcome().run(id);
            match column {
                TableColumn::Length => TableCell::Number(
                    session.geometry().run(id).and_then(LineGeometry::known_length).map(|length| length.si()),
                ),
                TableColumn::Flow => {
                    TableCell::Number(outcome.and_then(|one| one.flow).map(|one| one.si().abs()))
                }
                TableColumn::Velocity => {
                    TableCell::Number(outcome.and_then(|one| one.velocity).map(|one| one.si()))
                }
                _ => TableCell::Number(outcome.and_then(|one| one.loss).map(|one| one.si().abs())),
            }
        }),
        Subject::Feed(id) => routing.feed(id).map(|feed| {
            if column == TableColumn::Rows {
                return TableCell::Words(feed_rows(session, feed));
            }
            let tubes = session.geometry().feed(id).into_iter().flat_map(FeedGeometry::tubes);
            let sum = tubes.map(LineGeometry::known_length).sum::<Option<Length>>().map(|sum| sum.si());
            TableCell::Number(sum.filter(|sum| *sum > 0.0))
        }),
        Subject::Row(id) => project.bar.row(id).map(|row| {
            let connection = session.outcome().connection(id);
            let outcome = session.outcome().row(id);
            match column {
                TableColumn::Row => TableCell::Number(Some(f64::from(row.number))),
                TableColumn::Section => section(row.section),
                TableColumn::Target => TableCell::Number(connection.map(|one| one.target.si())),
                TableColumn::Flow => TableCell::Number(outcome.map(|one| one.flow.si())),
                _ => TableCell::Number(outcome.and_then(|one| one.deviation).map(|one| one.si())),
            }
        }),
    };
    found.unwrap_or(TableCell::Number(None))
}

/// A property that is chosen from a list, in the few words of a cell.
fn list_words(session: &Session, subject: Subject, property: Property) -> String {
    let project = session.project();
    let routing = session.routing();
    let feed = match subject {
        Subject::Feed(id) => routing.feed(id),
        Subject::Row(id) => routing.feed_of(id),
        Subject::Part(_) | Subject::Run(_) => None,
    };
    let of_feed = |fits: &dyn Fn(&FeedElement) -> bool| {
        feed.map_or_else(String::new, |feed| elements(session, feed, fits))
    };
    match (property, subject, property.of(session, subject)) {
        (Property::Fittings, Subject::Run(id), _) => {
            routing.run(id).map_or_else(String::new, |run| fitting_words(session, &run.fittings))
        }
        (Property::Tube, ..) => of_feed(&|one| matches!(one, FeedElement::Tube(_))),
        (Property::Piece(_), _, Common::Same(PropertyValue::Nothing)) => "none".to_owned(),
        (Property::Piece(kind), ..) => of_feed(&|one| one.is(kind)),
        (Property::Metering, ..) => of_feed(&FeedElement::is_metering),
        (Property::FedFrom, Subject::Row(id), _) => fed_from(session, id),
        (Property::Size, _, Common::Same(PropertyValue::Entry(key))) => {
            let item =
                project.catalogue.key::<PartKey>(&key).and_then(|key| project.catalogue.item(&key).copied());
            item.map_or_else(String::new, |item| item.choice(project.units))
        }
        (_, _, Common::Same(PropertyValue::Entry(key))) => {
            project.catalogue.any_item(&key).map_or_else(String::new, |item| item.size(project.units))
        }
        (_, _, Common::Same(PropertyValue::End(end))) => end_words(session, &end),
        _ => String::new(),
    }
}

/// The outlet that feeds a row, or why none does.
fn fed_from(session: &Session, id: RowId) -> String {
    let row = session.project().bar.row(id);
    match session.outcome().connection(id).and_then(|one| one.outlet) {
        Some((part, number)) => outlet_words(&session.tag_of(Subject::Part(part)), number),
        None if row.is_some_and(|row| row.left_out) => "left out".to_owned(),
        None => {
            let feed = session.routing().feed_of(id);
            feed.map_or_else(|| "not fed".to_owned(), |feed| end_words(session, &feed.from))
        }
    }
}

/// A deviation with its sign, or why there is none.
pub fn deviation_words(cell: &TableCell) -> String {
    match cell {
        TableCell::Number(Some(value)) => signed_percent(crate::quantities::Ratio::from_si(*value)),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;

    const TAG: TableColumn = TableColumn::Property(Property::Tag);

    #[test]
    fn tables_hold_everything_and_sort_and_filter() {
        let session = Session::new(files::demo(), None);
        let all = |table, filter: &str, by, falling| lines(&session, table, filter, by, falling);
        assert_eq!(all(Table::Rows, "", TableColumn::Row, false).len(), 40);
        assert_eq!(all(Table::Feeds, "", TAG, false).len(), session.routing().feeds.len());
        assert_eq!(all(Table::Parts, "", TAG, false).len(), session.routing().parts.len());
        let tags: Vec<String> =
            all(Table::Feeds, "", TAG, false).iter().map(|line| line.cells[0].text(None, &session)).collect();
        let at = |tag: &str| tags.iter().position(|one| one == tag).unwrap();
        assert!(at("T2") < at("T10"), "numbers in tags count as numbers");
        let rows = all(Table::Rows, "", TableColumn::Deviation, true);
        let deviations: Vec<f64> = rows
            .iter()
            .filter_map(|line| match line.cells.last() {
                Some(TableCell::Number(value)) => *value,
                _ => None,
            })
            .collect();
        assert_eq!(deviations.len(), 40);
        assert!(deviations.windows(2).all(|pair| pair[0] >= pair[1]));
        let manifolds = all(Table::Parts, "manifold centre", TAG, false);
        assert!(!manifolds.is_empty() && manifolds.len() < session.routing().parts.len());
        assert!(all(Table::Rows, "no such words", TableColumn::Row, false).is_empty());
    }

    #[test]
    fn every_column_has_a_cell_and_words_or_a_measure() {
        let session = Session::new(files::demo(), None);
        for table in Table::ALL {
            for line in lines(&session, table, "", table.columns()[0], false) {
                assert_eq!(line.cells.len(), table.columns().len());
                for (cell, column) in line.cells.iter().zip(table.columns()) {
                    let numbers = matches!(cell, TableCell::Number(_));
                    assert_eq!(
                        numbers,
                        column.measure(table).is_some() || *column == TableColumn::Row,
                        "{table:?} {column:?}"
                    );
                }
            }
        }
    }
}
