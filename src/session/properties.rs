//! What can be read and set of a part, hose, row feed or row, each property described once: its name, what it measures and
//! from where to where, where it can be had, how it is read and set, and what the step is called. The panel of details, the
//! tables and changes of several things at once all work from here.
//!
//! Start reading at [`Property`]; [`Session::set`] sets one for any number of things in one step.

use std::ops::RangeInclusive;

use super::bulk::Common;
use super::{Session, ends, rows};
use crate::plan::validate::FARTHEST;
use crate::plan::words::capital;
use crate::plan::{
    ClampSide, ElementKey, ElementKind, End, EntryKey, FeedElement, FittingItem, FittingKey, Item, Line,
    LineGeometry, Part, PartId, PartItem, PartKey, Row, RowFeed, Run, StockItem, StockKey, Subject,
};
use crate::quantities::Measure;

mod setting;

/// Something of a part, hose, row feed or row that can be read and set by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Property {
    /// The tag people read.
    Tag,
    /// Which part of its kind a part is.
    Size,
    /// Metres right of the centre, of a part's middle or a row's outlet.
    Right,
    /// Metres forward of the same.
    Forward,
    /// Metres above the ground, of a part.
    Height,
    /// A section valve is shut.
    Shut,
    /// The rows a manifold feeds.
    FedRows,
    /// The stock a hose is made of.
    Bore,
    /// One and the same fitting at both ends of a hose.
    Fittings,
    /// Where a hose or row feed starts.
    From,
    /// Where a hose ends.
    To,
    /// Slack of a hose, or of the first tube of a row feed.
    Slack,
    /// Extra length for a hinge that the same crosses, by its place among them.
    HingeAllowance(usize),
    /// How far a clamp is from beside such a hinge, along the hose; nothing where the program suggests it.
    Clamp(ClampSide, usize),
    /// Length of the same as measured on the bar; nothing where the computed one counts.
    MeasuredLength,
    /// Stock of the delivery tubes of a row feed.
    Tube,
    /// The pieces of a kind in a row feed; nothing where it has none. One that does not meter can be added and taken out.
    Piece(ElementKind),
    /// What meters in a row feed, of whatever kind.
    Metering,
    /// Length that metering tubes of a row feed are cut to.
    CutLength,
    /// Height of a row's outlet above the ground.
    OutletHeight,
    /// Share of a full row that a row gets.
    Share,
    /// A row is left out.
    LeftOut,
    /// The manifold that feeds a row.
    FedFrom,
}

/// A value of a property.
#[derive(Debug, Clone, PartialEq)]
pub enum PropertyValue {
    /// Words.
    Words(String),
    /// A number in the stored unit.
    Number(f64),
    /// Yes or no.
    Yes(bool),
    /// An entry of the catalogue.
    Entry(EntryKey),
    /// Where a hose or row feed starts or ends.
    End(End),
    /// A manifold.
    Manifold(PartId),
    /// None.
    Nothing,
}

/// How a property is entered.
#[derive(Debug, Clone, PartialEq)]
pub enum Input {
    /// A line of words.
    Words,
    /// A number.
    Number(NumberInput),
    /// A tick, with the words beside it.
    Tick(&'static str),
    /// One of the [`Session::choices`].
    List,
}

/// A number that is entered.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberInput {
    /// What it measures.
    pub measure: Measure,
    /// Least and most, in the stored unit. What a file may hold reaches farther: these keep out what was mistyped.
    pub range: RangeInclusive<f64>,
    /// Its value can be taken away again: what that does, and the same for screen readers, before the tag.
    pub cleared: Option<(&'static str, &'static str)>,
}

impl Property {
    /// The coordinates of a place.
    pub const PLACE: [Self; 3] = [Self::Right, Self::Forward, Self::Height];

    /// Its name in a panel.
    pub fn name(self) -> String {
        let name = match self {
            Self::Tag => "Tag",
            Self::Size => "Size",
            Self::Right => "Right of centre",
            Self::Forward => "Forward",
            Self::Height => "Height",
            Self::Shut => "Valve",
            Self::FedRows => "Rows",
            Self::Bore => "Bore",
            Self::Fittings => "Fittings",
            Self::From => "From",
            Self::To => "To",
            Self::Slack => "Slack",
            Self::HingeAllowance(_) => "Hinge",
            // On which side of the hinge it is depends on where the hose comes from: whoever shows one says it.
            Self::Clamp(..) => "Clamp",
            Self::MeasuredLength => "Measured length",
            Self::Tube => "Tube",
            Self::Piece(kind) => return capital(kind.words()),
            Self::Metering => "Metering",
            Self::CutLength => "Cut length",
            Self::OutletHeight => "Outlet height",
            Self::Share => "Share",
            Self::LeftOut => "Left out",
            Self::FedFrom => "Fed from",
        };
        name.to_owned()
    }

    /// The same as the heading of a narrow column, where the table says what it is about.
    pub fn heading(self) -> String {
        match self {
            Self::Right => "Right".to_owned(),
            Self::OutletHeight => "Height".to_owned(),
            Self::MeasuredLength => "Measured".to_owned(),
            Self::Bore => "Size".to_owned(),
            other => other.name(),
        }
    }

    /// How it is entered. The ranges are common practice, without a source.
    pub fn input(self) -> Input {
        let number = |measure, range| Input::Number(NumberInput { measure, range, cleared: None });
        match self {
            Self::Tag | Self::FedRows => Input::Words,
            Self::Right | Self::Forward => number(Measure::Distance, -FARTHEST..=FARTHEST),
            Self::Height | Self::OutletHeight => number(Measure::Distance, -5.0..=20.0),
            Self::Slack => number(Measure::Percent, 0.0..=2.0),
            Self::HingeAllowance(_) => Input::Number(NumberInput {
                measure: Measure::Distance,
                range: 0.0..=20.0,
                cleared: Some(("Compute the length at the hinge again", "Compute length")),
            }),
            Self::Clamp(..) => Input::Number(NumberInput {
                measure: Measure::CutLength,
                range: 0.01..=5.0,
                cleared: Some(("Clamp where the program suggests it", "Suggest clamps")),
            }),
            Self::MeasuredLength => Input::Number(NumberInput {
                measure: Measure::Distance,
                range: 0.01..=200.0,
                cleared: Some(("Use the computed length again", "Compute length")),
            }),
            Self::CutLength => number(Measure::Distance, 0.005..=50.0),
            Self::Share => number(Measure::Plain, 0.001..=10.0),
            Self::Shut => Input::Tick("shut"),
            Self::LeftOut => Input::Tick("not sown"),
            Self::Size
            | Self::Bore
            | Self::Fittings
            | Self::From
            | Self::To
            | Self::Tube
            | Self::Piece(_)
            | Self::Metering
            | Self::FedFrom => Input::List,
        }
    }

    /// What it measures; none for all but numbers.
    pub fn measure(self) -> Option<Measure> {
        match self.input() {
            Input::Number(number) => Some(number.measure),
            Input::Words | Input::Tick(_) | Input::List => None,
        }
    }

    /// It belongs to one thing alone: no two can be given the same.
    pub const fn is_of_one_alone(self) -> bool {
        matches!(self, Self::Tag | Self::FedRows | Self::From | Self::To)
    }

    /// Whether it can be set of a thing as that is now.
    pub fn can_be_set(self, session: &Session, subject: Subject) -> bool {
        let routing = session.routing();
        let part = match subject {
            Subject::Part(id) => routing.part(id),
            _ => None,
        };
        let item = part.and_then(|part| session.project().catalogue.item(&part.entry));
        let feed = feed_of(session, subject);
        let has = |fits: &dyn Fn(&FeedElement) -> bool| feed.is_some_and(|feed| feed.elements().any(fits));
        match self {
            Self::Tag => !matches!(subject, Subject::Row(_)),
            Self::Size => part.is_some(),
            Self::Right | Self::Forward | Self::Height => part.is_some_and(|part| part.mount.is_none()),
            Self::Shut => matches!(item, Some(PartItem::SectionValve(_))),
            Self::FedRows => matches!(item, Some(PartItem::Manifold(_))),
            Self::Bore | Self::Fittings | Self::To => matches!(subject, Subject::Run(_)),
            Self::From => matches!(subject, Subject::Run(_) | Subject::Feed(_)),
            Self::Slack | Self::MeasuredLength => line_of(session, subject).is_some(),
            Self::HingeAllowance(at) | Self::Clamp(_, at) => {
                line_of(session, subject).is_some_and(|line| at < line.crossings.len())
            }
            Self::Tube => has(&|one| matches!(one, FeedElement::Tube(_))),
            Self::Piece(kind) => has(&|one| one.is(kind)) || feed.is_some() && can_be_added(session, kind),
            Self::Metering => has(&FeedElement::is_metering),
            Self::CutLength => has(&|one| matches!(one, FeedElement::MeteringTube { .. })),
            Self::OutletHeight | Self::Share | Self::LeftOut | Self::FedFrom => {
                matches!(subject, Subject::Row(_))
            }
        }
    }

    /// Its value of one thing, whether it can be set or not; mixed where parts of the thing differ.
    pub fn of(self, session: &Session, subject: Subject) -> Common<PropertyValue> {
        let routing = session.routing();
        match subject {
            Subject::Part(id) => routing.part(id).map_or(Common::None, |part| self.of_part(session, part)),
            Subject::Run(id) => routing.run(id).map_or(Common::None, |run| self.of_run(run)),
            Subject::Feed(id) => routing.feed(id).map_or(Common::None, |feed| self.of_feed(feed)),
            Subject::Row(id) => {
                session.project().bar.row(id).map_or(Common::None, |row| self.of_row(session, row))
            }
        }
    }

    fn of_part(self, session: &Session, part: &Part) -> Common<PropertyValue> {
        let place = || session.geometry().anchors.part(part.id).map_or(part.position, |placed| placed.at);
        Common::Same(match self {
            Self::Tag => PropertyValue::Words(part.tag.clone()),
            Self::Size => entry(&part.entry),
            Self::Right => PropertyValue::Number(place().x),
            Self::Forward => PropertyValue::Number(place().y),
            Self::Height => PropertyValue::Number(place().z),
            Self::Shut => PropertyValue::Yes(part.shut),
            Self::FedRows => {
                let on = rows::rows_of(session.project(), session.routing(), part.id);
                let numbers = on.iter().filter_map(|row| session.project().bar.row(*row));
                PropertyValue::Words(rows::numbers_text(&numbers.map(|row| row.number).collect::<Vec<_>>()))
            }
            _ => return Common::None,
        })
    }

    fn of_run(self, run: &Run) -> Common<PropertyValue> {
        Common::Same(match self {
            Self::Tag => PropertyValue::Words(run.tag.clone()),
            Self::Bore => entry(&run.line.stock),
            Self::Fittings => match Common::of(&run.fittings) {
                Common::Same(fitting) => entry(fitting),
                Common::None => PropertyValue::Nothing,
                Common::Mixed => return Common::Mixed,
            },
            Self::From => PropertyValue::End(run.from),
            Self::To => PropertyValue::End(run.to),
            other => return other.of_line(&run.line),
        })
    }

    fn of_line(self, line: &Line) -> Common<PropertyValue> {
        let number = |value: f64| Common::Same(PropertyValue::Number(value));
        match self {
            Self::Slack => number(line.slack.si()),
            Self::HingeAllowance(at) => line.crossings.get(at).map_or(Common::None, |one| {
                one.entered.map_or(Common::Same(PropertyValue::Nothing), |extra| number(extra.si()))
            }),
            Self::Clamp(side, at) => line.crossings.get(at).map_or(Common::None, |one| {
                let placed = one.clamps.map(|clamps| clamps.of(side));
                placed.map_or(Common::Same(PropertyValue::Nothing), |from_hinge| number(from_hinge.si()))
            }),
            Self::MeasuredLength => {
                line.measured.map_or(Common::Same(PropertyValue::Nothing), |length| number(length.si()))
            }
            _ => Common::None,
        }
    }

    fn of_feed(self, feed: &RowFeed) -> Common<PropertyValue> {
        let among = |value: &dyn Fn(&FeedElement) -> Option<PropertyValue>| {
            Common::of(feed.elements().filter_map(value))
        };
        match self {
            Self::Tag => Common::Same(PropertyValue::Words(feed.tag.clone())),
            Self::From => Common::Same(PropertyValue::End(feed.from)),
            Self::Tube => among(&|one| match one {
                FeedElement::Tube(tube) => Some(entry(&tube.line.stock)),
                _ => None,
            }),
            Self::Piece(kind) => Common::of(feed.pieces(kind).into_iter().flat_map(|stretch| {
                let entries: Vec<_> = stretch.map(|one| entry(one.entry())).collect();
                if entries.is_empty() { vec![PropertyValue::Nothing] } else { entries }
            })),
            Self::Metering => among(&|one| one.is_metering().then(|| entry(one.entry()))),
            Self::CutLength => among(&|one| match one {
                FeedElement::MeteringTube { length, .. } => Some(PropertyValue::Number(length.si())),
                _ => None,
            }),
            other => feed.first_tube().map_or(Common::None, |tube| other.of_line(&tube.line)),
        }
    }

    fn of_row(self, session: &Session, row: &Row) -> Common<PropertyValue> {
        let outlet = || session.project().bar.outlet(row);
        Common::Same(match self {
            Self::Right => PropertyValue::Number(outlet().x),
            Self::Forward => PropertyValue::Number(outlet().y),
            Self::OutletHeight => PropertyValue::Number(row.outlet_height.si()),
            Self::Share => PropertyValue::Number(row.share),
            Self::LeftOut => PropertyValue::Yes(row.left_out),
            Self::FedFrom => {
                let start = session.routing().feed_of(row.id).and_then(|feed| feed.from.port());
                start.map_or(PropertyValue::Nothing, |port| PropertyValue::Manifold(port.part))
            }
            Self::Tube | Self::Piece(_) | Self::Metering | Self::CutLength => {
                let feed = session.routing().feed_of(row.id);
                return feed.map_or(Common::None, |feed| self.of_feed(feed));
            }
            _ => return Common::None,
        })
    }
}

fn entry(key: &EntryKey) -> PropertyValue {
    PropertyValue::Entry(key.clone())
}

/// Pieces of this kind may be in a row feed or not, and the catalogue has one. What meters is exchanged, never taken out.
fn can_be_added(session: &Session, kind: ElementKind) -> bool {
    let catalogue = &session.project().catalogue;
    !kind.is_metering() && catalogue.first::<ElementKey>(|one| one.item_kind() == kind).is_some()
}

/// The row feed that a row feed or row is about.
fn feed_of(session: &Session, subject: Subject) -> Option<&RowFeed> {
    match subject {
        Subject::Feed(id) => session.routing().feed(id),
        Subject::Row(id) => session.routing().feed_of(id),
        Subject::Part(_) | Subject::Run(_) => None,
    }
}

/// The line of a hose, or of the first tube of a row feed.
pub(super) fn line_of(session: &Session, subject: Subject) -> Option<&Line> {
    match subject {
        Subject::Run(id) => session.routing().run(id).map(|run| &run.line),
        Subject::Feed(id) => session.routing().feed(id)?.first_tube().map(|tube| &tube.line),
        Subject::Part(_) | Subject::Row(_) => None,
    }
}

/// How that line lies.
pub(super) fn geometry_of(session: &Session, subject: Subject) -> Option<&LineGeometry> {
    match subject {
        Subject::Run(id) => session.geometry().run(id),
        Subject::Feed(id) => session.geometry().feed(id)?.tubes().next(),
        Subject::Part(_) | Subject::Row(_) => None,
    }
}

impl Session {
    /// A property as several things have it; only those count of which it can be set.
    pub fn shared(&self, property: Property, subjects: &[Subject]) -> Common<PropertyValue> {
        let of = subjects.iter().filter(|one| property.can_be_set(self, **one));
        Common::together(of.map(|one| property.of(self, *one)))
    }

    /// What a property that is chosen from a list can be of these things, with wording.
    pub fn choices(&self, property: Property, subjects: &[Subject]) -> Vec<(PropertyValue, String)> {
        let (catalogue, units) = (&self.project().catalogue, self.project().units);
        let Some(first) = subjects.iter().copied().find(|one| property.can_be_set(self, *one)) else {
            return Vec::new();
        };
        match property {
            Property::Size => {
                let Subject::Part(id) = first else { return Vec::new() };
                let kind = |id| Some(catalogue.item(&self.routing().part(id)?.entry)?.item_kind());
                let kind = kind(id);
                entries(catalogue.offered::<PartKey>(units, |one| Some(one.item_kind()) == kind))
            }
            Property::Bore => entries(
                catalogue
                    .offered::<StockKey>(units, |one| matches!(one, StockItem::Hose(_) | StockItem::Tube(_))),
            ),
            Property::Fittings => {
                let fits = |one: &FittingItem| matches!(one, FittingItem::Fitting(_));
                let both = entries(catalogue.offered::<FittingKey>(units, fits));
                let both = both.into_iter().map(|(key, size)| (key, format!("2 × {size}")));
                both.chain([(PropertyValue::Nothing, "none".to_owned())]).collect()
            }
            Property::Tube => {
                entries(catalogue.offered::<StockKey>(units, |one| matches!(one, StockItem::Tube(_))))
            }
            Property::Piece(kind) => {
                let none = (!kind.is_metering()).then(|| (PropertyValue::Nothing, "none".to_owned()));
                let offered = entries(catalogue.offered::<ElementKey>(units, |one| one.item_kind() == kind));
                none.into_iter().chain(offered).collect()
            }
            Property::Metering => {
                let offered = catalogue.offered::<EntryKey>(units, Item::is_metering);
                offered.into_iter().map(|(key, words)| (PropertyValue::Entry(key), words)).collect()
            }
            Property::From | Property::To => {
                let ends = match first {
                    Subject::Run(id) => self.ends_for(id, property == Property::From),
                    Subject::Feed(id) => self.outlets_for(id),
                    Subject::Part(_) | Subject::Row(_) => Vec::new(),
                };
                let words = |end: End| (PropertyValue::End(end), ends::end_words(self, &end));
                ends.into_iter().map(words).collect()
            }
            Property::FedFrom => {
                let manifolds = ends::manifolds(self).into_iter();
                let manifolds = manifolds
                    .map(|(id, tag, free)| (PropertyValue::Manifold(id), format!("{tag}, {free} free")));
                manifolds.chain([(PropertyValue::Nothing, "no manifold".to_owned())]).collect()
            }
            _ => Vec::new(),
        }
    }
}

fn entries<K: std::ops::Deref<Target = EntryKey>>(offered: Vec<(K, String)>) -> Vec<(PropertyValue, String)> {
    offered.into_iter().map(|(key, words)| (entry(&key), words)).collect()
}

#[cfg(test)]
mod tests;
