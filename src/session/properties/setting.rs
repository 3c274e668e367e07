//! Setting a property: one change to one thing or to many at once, each in a single named step.

use super::{Input, NumberInput, Property, PropertyValue, feed_of, geometry_of, line_of};
use crate::geometry::Point3;
use crate::plan::{
    ClampPlaces, Edit, ElementItem, ElementKey, EntryKey, FeedElement, FeedId, FittingKey, Line, Part,
    PartId, PartItem, PartKey, Row, RowFeed, RowId, Run, RunId, StockKey, Subject,
};
use crate::quantities::{Length, Ratio};
use crate::session::rows::parse_rows;
use crate::session::{Refusal, Session};

impl Property {
    /// What the step is called that sets it: `Change the slack of H3`, `Change the slack of 12 hoses`.
    fn step(self, value: &PropertyValue, of: &str) -> String {
        let yes = *value == PropertyValue::Yes(true);
        let what = match self {
            Self::Tag => "Rename",
            Self::Size => "Change",
            Self::Right | Self::Forward | Self::Height => "Move",
            Self::Shut if yes => "Shut",
            Self::Shut => "Open",
            Self::LeftOut if yes => "Leave out",
            Self::LeftOut => "Use",
            Self::From | Self::To => "Reconnect",
            Self::CutLength => "Cut the metering tube of",
            Self::HingeAllowance(_) if *value == PropertyValue::Nothing => "Compute the length at a hinge of",
            Self::HingeAllowance(_) => "Change the hinge allowance of",
            Self::Clamp(..) if *value == PropertyValue::Nothing => "Suggest the clamps of",
            Self::Clamp(..) => "Move a clamp of",
            Self::MeasuredLength if *value == PropertyValue::Nothing => "Compute the length of",
            Self::Piece(kind) if *value == PropertyValue::Nothing => {
                return format!("Take the {} out of {of}", kind.words());
            }
            Self::FedRows
            | Self::Bore
            | Self::Fittings
            | Self::Slack
            | Self::MeasuredLength
            | Self::Tube
            | Self::Piece(_)
            | Self::Metering
            | Self::OutletHeight
            | Self::Share
            | Self::FedFrom => return format!("Change the {} of {of}", self.name().to_lowercase()),
        };
        format!("{what} {of}")
    }

    /// A place with this coordinate.
    const fn placed(self, at: Point3, metres: f64) -> Point3 {
        match self {
            Self::Right => Point3 { x: metres, ..at },
            Self::Forward => Point3 { y: metres, ..at },
            Self::Height => Point3 { z: metres, ..at },
            _ => at,
        }
    }
}

impl Session {
    /// Sets a property of things in one step; those of which it can't be set stay as they are. The reason where it is
    /// refused.
    pub fn set(
        &mut self,
        property: Property,
        subjects: &[Subject],
        value: PropertyValue,
    ) -> Result<(), Refusal> {
        use PropertyValue as V;
        if let (Input::Number(NumberInput { measure, range, .. }), V::Number(number)) =
            (property.input(), &value)
            && let Err(why) = measure.within(*number, &range, None, self.project().units)
        {
            return Err(Refusal::OutOfRange { property: property.name(), why });
        }
        let subjects: Vec<Subject> =
            subjects.iter().copied().filter(|one| property.can_be_set(self, *one)).collect();
        let Some(first) = subjects.first().copied() else { return Ok(()) };
        let step = property.step(&value, &self.counted(&subjects));
        match (property, value) {
            (Property::Tag, V::Words(tag)) => self.rename(&step, first, &tag),
            (Property::Size, V::Entry(key)) => self.set_size(&step, &parts(&subjects), &key),
            (Property::Right | Property::Forward | Property::Height, V::Number(at)) => {
                let (routing, parts) = (self.routing(), parts(&subjects));
                let edits = parts
                    .iter()
                    .filter_map(|id| routing.part(*id))
                    .map(|part| Edit::MovePart(routing.id, part.id, property.placed(part.position, at)));
                let edits = edits.collect();
                self.change_parts(&step, &parts, edits)
            }
            (Property::Shut, V::Yes(shut)) => {
                let routing = self.routing();
                let parts = parts(&subjects).into_iter().filter_map(|id| routing.part(id));
                let edits = parts.map(|part| Edit::PutPart(routing.id, Part { shut, ..part.clone() }));
                let edits: Vec<Edit> = edits.collect();
                self.edit(&step, edits)
            }
            (Property::FedRows, V::Words(words)) => {
                let Subject::Part(id) = first else { return Ok(()) };
                let rows = parse_rows(self.project(), &words)?;
                self.give_rows(id, &rows)
            }
            (Property::Bore, V::Entry(key)) => match self.project().catalogue.key(&key) {
                Some(stock) => self.set_stock(&step, &runs(&subjects), &stock),
                None => Err(Refusal::NotOfThisKind(key)),
            },
            (Property::Fittings, V::Nothing) => {
                self.change_runs(&step, &runs(&subjects), |run| run.fittings.clear())
            }
            (Property::Fittings, V::Entry(key)) => match self.project().catalogue.key::<FittingKey>(&key) {
                Some(one) => self.change_runs(&step, &runs(&subjects), |run| {
                    run.fittings = vec![one.clone(), one.clone()];
                }),
                None => Err(Refusal::NotOfThisKind(key)),
            },
            (Property::From | Property::To, V::End(end)) => match first {
                Subject::Run(id) => self.reconnect(id, property == Property::From, end),
                Subject::Feed(id) => self.reconnect_feed(&step, id, end),
                Subject::Part(_) | Subject::Row(_) => Ok(()),
            },
            (Property::Slack, V::Number(slack)) => {
                self.change_lines(&step, &subjects, |line| line.slack = Ratio::from_si(slack))
            }
            (Property::HingeAllowance(at), V::Number(extra)) => self.change_lines(&step, &subjects, |line| {
                if let Some(one) = line.crossings.get_mut(at) {
                    one.entered = Some(Length::from_si(extra));
                }
            }),
            (Property::HingeAllowance(at), V::Nothing) => self.change_lines(&step, &subjects, |line| {
                if let Some(one) = line.crossings.get_mut(at) {
                    one.entered = None;
                }
            }),
            (Property::Clamp(side, at), V::Number(from_hinge)) => {
                let from_hinge = Length::from_si(from_hinge);
                // The other one stays where it is, or is suggested.
                let suggested = subjects.iter().find_map(|subject| self.suggested_clamps(*subject, at));
                let both = ClampPlaces { before: from_hinge, behind: from_hinge };
                self.change_lines(&step, &subjects, |line| {
                    if let Some(one) = line.crossings.get_mut(at) {
                        one.clamps = Some(one.clamps.or(suggested).unwrap_or(both).with(side, from_hinge));
                    }
                })
            }
            (Property::Clamp(_, at), V::Nothing) => self.change_lines(&step, &subjects, |line| {
                if let Some(one) = line.crossings.get_mut(at) {
                    one.clamps = None;
                }
            }),
            (Property::MeasuredLength, V::Number(length)) => {
                self.change_lines(&step, &subjects, |line| line.measured = Some(Length::from_si(length)))
            }
            (Property::MeasuredLength, V::Nothing) => {
                self.change_lines(&step, &subjects, |line| line.measured = None)
            }
            (Property::Tube, V::Entry(key)) => match self.project().catalogue.key::<StockKey>(&key) {
                Some(stock) => self.change_feeds(&step, &feeds(self, &subjects), |element| {
                    if let FeedElement::Tube(tube) = element {
                        tube.line.stock = stock.clone();
                    }
                }),
                None => Err(Refusal::NotOfThisKind(key)),
            },
            (Property::Piece(kind), V::Entry(key)) => {
                match self.project().catalogue.key::<ElementKey>(&key) {
                    Some(piece) => self.change_whole_feeds(&step, &feeds(self, &subjects), |feed| {
                        feed.put_piece(kind, &piece);
                    }),
                    None => Err(Refusal::NotOfThisKind(key)),
                }
            }
            (Property::Piece(kind), V::Nothing) if !kind.is_metering() => {
                self.change_whole_feeds(&step, &feeds(self, &subjects), |feed| feed.remove_pieces(kind))
            }
            (Property::Metering, V::Entry(key)) => self.set_metering(&step, &feeds(self, &subjects), &key),
            (Property::CutLength, V::Number(cut)) => {
                self.change_feeds(&step, &feeds(self, &subjects), |element| {
                    if let FeedElement::MeteringTube { length, .. } = element {
                        *length = Length::from_si(cut);
                    }
                })
            }
            (Property::OutletHeight, V::Number(height)) => {
                self.change_rows(&step, &subjects, |row| row.outlet_height = Length::from_si(height))
            }
            (Property::Share, V::Number(share)) => {
                self.change_rows(&step, &subjects, |row| row.share = share)
            }
            (Property::LeftOut, V::Yes(left_out)) => {
                self.change_rows(&step, &subjects, |row| row.left_out = left_out)
            }
            (Property::FedFrom, V::Manifold(manifold)) => {
                self.assign_rows(&step, Some(manifold), &rows_in(&subjects))
            }
            (Property::FedFrom, V::Nothing) => self.assign_rows(&step, None, &rows_in(&subjects)),
            (property, _) => Err(Refusal::NoSuchValue(property.name())),
        }
    }

    /// `H3`, or `12 hoses`.
    pub(in crate::session) fn counted(&self, subjects: &[Subject]) -> String {
        if let [one] = subjects {
            return self.tag_of(*one);
        }
        let kind = match subjects.first() {
            Some(Subject::Part(_)) => "parts",
            Some(Subject::Run(_)) => "hoses",
            Some(Subject::Feed(_)) => "row feeds",
            Some(Subject::Row(_)) | None => "rows",
        };
        format!("{} {kind}", subjects.len())
    }

    fn rename(&mut self, step: &str, subject: Subject, tag: &str) -> Result<(), Refusal> {
        let tag = tag.trim().to_owned();
        let routing = self.routing();
        let id = routing.id;
        let edit = match subject {
            Subject::Part(part) => {
                routing.part(part).map(|part| Edit::PutPart(id, Part { tag, ..part.clone() }))
            }
            Subject::Run(run) => routing.run(run).map(|run| Edit::PutRun(id, Run { tag, ..run.clone() })),
            Subject::Feed(feed) => {
                routing.feed(feed).map(|feed| Edit::PutFeed(id, RowFeed { tag, ..feed.clone() }))
            }
            Subject::Row(_) => None,
        };
        self.edit(step, edit)
    }

    /// Gives those of the parts that are of an entry's kind that entry.
    fn set_size(&mut self, step: &str, parts: &[PartId], key: &EntryKey) -> Result<(), Refusal> {
        let catalogue = &self.project().catalogue;
        let Some(entry) = catalogue.key::<PartKey>(key) else {
            return Err(Refusal::NotOfThisKind(key.clone()));
        };
        let kind = |key: &PartKey| catalogue.item(key).map(PartItem::item_kind);
        let routing = self.routing();
        let same = parts.iter().filter_map(|id| routing.part(*id));
        let same: Vec<&Part> = same.filter(|part| kind(&part.entry) == kind(&entry)).collect();
        let parts: Vec<PartId> = same.iter().map(|part| part.id).collect();
        let put = |part: &Part| Edit::PutPart(routing.id, Part { entry: entry.clone(), ..part.clone() });
        let edits = same.into_iter().map(put).collect();
        self.change_parts(step, &parts, edits)
    }

    /// Puts another metering element in the place of whatever meters now; a metering tube keeps its length.
    fn set_metering(&mut self, step: &str, feeds: &[FeedId], entry: &EntryKey) -> Result<(), Refusal> {
        let catalogue = &self.project().catalogue;
        let (stock, piece) = (catalogue.key::<StockKey>(entry), catalogue.key::<ElementKey>(entry));
        let kind = piece.as_ref().and_then(|key| catalogue.item(key)).map(ElementItem::item_kind);
        self.change_feeds(step, feeds, |element| {
            if !element.is_metering() {
                return;
            }
            if let Some(stock) = &stock {
                // A length to start from, about what a metering tube is cut to.
                let (length, coil) = match element {
                    FeedElement::MeteringTube { length, coil, .. } => (*length, *coil),
                    _ => (Length::metres(1.0), None),
                };
                *element = FeedElement::MeteringTube { stock: stock.clone(), length, coil };
            } else if let (Some(kind), Some(piece)) = (kind, &piece) {
                *element = FeedElement::Piece(kind, piece.clone());
            }
        })
    }

    /// Where the program clamps a hose, or the first tube of a row feed, at a hinge that it crosses.
    fn suggested_clamps(&self, subject: Subject, at: usize) -> Option<ClampPlaces> {
        let line = line_of(self, subject)?;
        Some(geometry_of(self, subject)?.crossing_of(line, at)?.computed()?.places())
    }

    /// Changes the lines of hoses, and of the first tubes of row feeds.
    fn change_lines(
        &mut self,
        step: &str,
        subjects: &[Subject],
        change: impl Fn(&mut Line),
    ) -> Result<(), Refusal> {
        let edits: Vec<Edit> =
            subjects.iter().filter_map(|subject| self.line_edit(*subject, &change)).collect();
        self.edit(step, edits)
    }

    /// The edit that changes the line of a hose, or of the first tube of a row feed.
    pub(in crate::session) fn line_edit(&self, of: Subject, change: impl FnOnce(&mut Line)) -> Option<Edit> {
        let routing = self.routing();
        match of {
            Subject::Run(id) => {
                let mut run = routing.run(id)?.clone();
                change(&mut run.line);
                Some(Edit::PutRun(routing.id, run))
            }
            Subject::Feed(id) => {
                let mut feed = routing.feed(id)?.clone();
                change(&mut feed.first_tube_mut()?.line);
                Some(Edit::PutFeed(routing.id, feed))
            }
            Subject::Part(_) | Subject::Row(_) => None,
        }
    }

    fn change_feeds(
        &mut self,
        step: &str,
        feeds: &[FeedId],
        change: impl Fn(&mut FeedElement),
    ) -> Result<(), Refusal> {
        self.change_whole_feeds(step, feeds, |feed| feed.elements_mut().for_each(&change))
    }

    pub(in crate::session) fn change_whole_feeds(
        &mut self,
        step: &str,
        feeds: &[FeedId],
        change: impl Fn(&mut RowFeed),
    ) -> Result<(), Refusal> {
        let routing = self.routing();
        let edits = feeds.iter().filter_map(|id| routing.feed(*id)).map(|feed| {
            let mut feed = feed.clone();
            change(&mut feed);
            Edit::PutFeed(routing.id, feed)
        });
        let edits: Vec<Edit> = edits.collect();
        self.edit(step, edits)
    }

    fn change_rows(
        &mut self,
        step: &str,
        subjects: &[Subject],
        change: impl Fn(&mut Row),
    ) -> Result<(), Refusal> {
        let rows = rows_in(subjects).into_iter().filter_map(|id| self.project().bar.row(id));
        let edits = rows.map(|row| {
            let mut row = row.clone();
            change(&mut row);
            Edit::PutRow(row)
        });
        let edits: Vec<Edit> = edits.collect();
        self.edit(step, edits)
    }
}

fn parts(subjects: &[Subject]) -> Vec<PartId> {
    let part = |one: &Subject| if let Subject::Part(id) = one { Some(*id) } else { None };
    subjects.iter().filter_map(part).collect()
}

fn runs(subjects: &[Subject]) -> Vec<RunId> {
    let run = |one: &Subject| if let Subject::Run(id) = one { Some(*id) } else { None };
    subjects.iter().filter_map(run).collect()
}

fn rows_in(subjects: &[Subject]) -> Vec<RowId> {
    let row = |one: &Subject| if let Subject::Row(id) = one { Some(*id) } else { None };
    subjects.iter().filter_map(row).collect()
}

/// Row feeds, those of rows among them, each once.
fn feeds(session: &Session, subjects: &[Subject]) -> Vec<FeedId> {
    let mut feeds: Vec<FeedId> =
        subjects.iter().filter_map(|one| feed_of(session, *one)).map(|feed| feed.id).collect();
    feeds.sort_unstable();
    feeds.dedup();
    feeds
}
