//! What was read, on a bar: rows by their numbers, gauges by their tags.

use std::collections::BTreeSet;

use super::found::{ReadCatch, ReadCatches, SheetFacts};
use super::missing::{MissingLines, doubt};
use crate::plan::letters::visible_within;
use crate::plan::words::{counted, list, range_pieces, ranges, short, short_list};
use crate::plan::{Catch, CatchSpan, CaughtLiquid, GaugeReading, Project, TableDoubt};
use crate::quantities::{Measure, Speed};
use crate::studies::catch_test::sheet_facts::{SHEET_OF, is_of, outlet_of, sheet_of};

/// Catches and readings of a table that belong to one test.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TakenCatches {
    /// The catches, in the order of the table.
    pub catches: Vec<Catch>,
    /// The readings.
    pub gauges: Vec<GaugeReading>,
    /// What of the table could be read and has no place in the test.
    pub problems: MissingLines,
    /// What of the sheet is not of this bar or these conditions, and what was not taken by intent: nothing is missing by it.
    pub misfits: Vec<TableDoubt>,
    /// Catches that count though somebody wrote a remark beside them.
    pub remarked: Vec<TableDoubt>,
}

/// Speeds and rates nearer than this are the same, as a part: sheets print them rounded.
const SAME: f64 = 0.01;

/// Most letters that are shown of what a sheet is of.
const MOST_SHOWN: usize = 160;

/// Most stretches of rows that are named in one sentence.
const MOST_RANGES: usize = 12;

impl TakenCatches {
    /// All that is in doubt of a table that was read and taken, as a test keeps it until each is settled: that it is of another
    /// bar comes first, since the rest may follow from that.
    pub fn doubts(&self, read: &ReadCatches, bar: &Project) -> Vec<TableDoubt> {
        let (mut doubts, misfits): (Vec<_>, Vec<_>) =
            self.misfits.iter().cloned().partition(|one| one.no_verdict.is_some());
        // Of catches that each bring their own time, none needs another.
        if self.catches.iter().any(|one| one.span.is_none()) {
            let unread = read.time_unread.doubts(&bar.bar);
            let why = "how long was caught is written and can't be read";
            doubts.extend(unread.into_iter().map(|one| without_verdict(why.to_owned(), &one.says)));
        }
        doubts.extend(read.problems.doubts(&bar.bar));
        doubts.extend(self.problems.doubts(&bar.bar));
        doubts.extend(misfits);
        doubts.extend(self.remarked.iter().cloned());
        doubts
    }

    fn misfit(&mut self, says: &str) {
        self.misfits.push(doubt(None, 0, says));
    }
}

impl ReadCatches {
    /// What of the table was caught of a liquid, on a bar with its one routing. Amounts of which the table does not say the
    /// liquid are of this one. Readings of gauges at other speeds are not of this test; where none is given, none is taken.
    pub fn taken(&self, bar: &Project, liquid: CaughtLiquid, speed: Option<Speed>) -> TakenCatches {
        let mut taken = TakenCatches::default();
        let mut unknown: Vec<&ReadCatch> = Vec::new();
        for one in self.catches.iter().filter(|one| one.liquid.is_none_or(|of| of == liquid)) {
            let row = one.row.and_then(|number| bar.bar.row_numbered(number));
            let Some(row) = row else {
                unknown.push(one);
                continue;
            };
            if !one.remark.is_empty() {
                let says = format!(
                    "{}: row {} carries the remark \"{}\" and still counts; mark that catch as spoiled (a column headed spoiled, or \
                     in the window) to leave it out",
                    one.place,
                    row.number,
                    short(&one.remark)
                );
                taken.remarked.push(doubt(Some(row.id), 0, &says));
            }
            taken.catches.push(Catch {
                row: row.id,
                amount: one.amount,
                span: one.seconds.map(CatchSpan::Seconds),
                spoiled: one.spoiled.clone(),
            });
        }
        let of_test = self.catches.iter().filter(|one| one.liquid.is_none_or(|of| of == liquid)).count();
        // A table of another bar is told once.
        if unknown.len() > 3 {
            let numbers: BTreeSet<u32> = unknown.iter().filter_map(|one| one.row).collect();
            let numbers: Vec<u32> = numbers.into_iter().collect();
            let pieces = range_pieces(&numbers);
            let which = if pieces.is_empty() {
                String::new()
            } else {
                format!(" ({})", short_list(&pieces, MOST_RANGES))
            };
            let what = format!(
                "{} of {}{which} are not rows of this bar, which has {}",
                unknown.len(),
                counted(of_test, "amount"),
                counted(bar.bar.rows.len(), "row")
            );
            let advice = "was it caught on another bar? read it into that one's project";
            let lines = u32::try_from(unknown.len()).unwrap_or(u32::MAX);
            taken.problems.add("table", None, lines, what, advice);
        } else {
            for one in unknown {
                let what = match one.row {
                    Some(number) => format!("row {number} is not a row of this bar"),
                    None => "an amount without a row".to_owned(),
                };
                taken.problems.add(&one.place, None, 1, what, "give the number that is painted at the row");
            }
        }
        taken.misfits = self.made_of.misfits(bar, speed);
        let Some(routing) = bar.routings.first() else { return taken };
        let mut other_speeds: Vec<String> = Vec::new();
        for reading in self.gauges.iter().filter(|one| one.liquid == liquid) {
            if !speed.is_some_and(|speed| is_same(reading.speed.si(), speed.si())) {
                let said = Measure::GroundSpeed.short_text(reading.speed.si(), bar.units);
                if !other_speeds.contains(&said) {
                    other_speeds.push(said);
                }
                continue;
            }
            match routing.parts.iter().find(|part| part.tag == reading.tag) {
                Some(part) => {
                    taken.gauges.push(GaugeReading { part: part.id, pressure: reading.pressure, sd: None });
                }
                None if reading.tag == "Pump" => taken.misfit(&format!(
                    "{}: what was read at the pump is not taken: the plan has no gauge there; place a gauge at the pump's outlet",
                    reading.place
                )),
                None => {
                    let what = format!("the routing has no part {}", short(&reading.tag));
                    let advice = "read it into the routing that the sheet was made of";
                    taken.problems.add(&reading.place, None, 1, what, advice);
                }
            }
        }
        if !other_speeds.is_empty() {
            taken.misfit(&format!(
                "pressures: readings at {} are not of this test; give each speed a test of its own",
                list(&other_speeds)
            ));
        }
        taken
    }
}

/// What does not fit in such a way that nobody can say of which bar the amounts are.
fn without_verdict(why: String, says: &str) -> TableDoubt {
    TableDoubt { no_verdict: Some(why), ..doubt(None, 0, says) }
}

fn is_same(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() <= SAME
}

impl SheetFacts {
    /// What of it is not of a bar with its one routing and duty, or not at a ground speed (none: a pressure was held), a
    /// sentence each.
    fn misfits(&self, bar: &Project, speed: Option<Speed>) -> Vec<TableDoubt> {
        let Some(routing) = bar.routings.first() else { return Vec::new() };
        let (units, duty) = (bar.units, bar.duties.first());
        let mut said = Vec::new();
        if self.of.is_none() && self.is_sheet {
            let says = format!(
                "sheet: its line \"{SHEET_OF}\" is missing, so that nobody knows what it was printed of; put that line back, or read \
                 row and amount alone as a table of your own"
            );
            said.push(without_verdict("the sheet does not say what it was printed of".to_owned(), &says));
        }
        if let Some(of) = self.of.as_ref().filter(|of| !is_of(of, bar, routing, duty)) {
            let here = sheet_of(bar, routing, Some(duty));
            let of = visible_within(of, MOST_SHOWN);
            let says = format!(
                "sheet: it was printed of \"{of}\", and this test is of \"{}\"; read it into the test of what it was printed of",
                visible_within(&here, MOST_SHOWN)
            );
            said.push(without_verdict(format!("the sheet is of \"{of}\""), &says));
        }
        if let Some(printed) =
            self.speed.filter(|printed| !speed.is_some_and(|one| is_same(printed.si(), one.si())))
        {
            let text = |speed: Speed| Measure::GroundSpeed.text(speed.si(), units);
            let here =
                speed.map_or_else(|| "with a held pressure".to_owned(), |one| format!("at {}", text(one)));
            let says = format!(
                "sheet: it asks to catch at {}, and this test is {here}; correct the one that is wrong",
                text(printed)
            );
            said.push(doubt(None, 0, &says));
        }
        if let Some(printed) = self.rate.filter(|printed| !is_same(printed.si(), duty.rate.si())) {
            let text = |rate: f64| Measure::Rate.text(rate, units);
            let says = format!(
                "sheet: it was printed for {}, and this test is for {}; what it expects of each row is another",
                text(printed.si()),
                text(duty.rate.si())
            );
            said.push(doubt(None, 0, &says));
        }
        // Outlets that somebody calls otherwise are no names of ours.
        let ours: BTreeSet<String> =
            bar.bar.rows.iter().filter_map(|row| outlet_of(routing, row.id)).collect();
        let are_ours = self.is_sheet || self.outlets.iter().any(|(_, outlet)| ours.contains(outlet));
        let elsewhere: Vec<(u32, &str)> = self
            .outlets
            .iter()
            .filter(|_| are_ours)
            .filter_map(|(number, outlet)| {
                let row = bar.bar.row_numbered(*number)?;
                (outlet_of(routing, row.id).as_ref() != Some(outlet)).then_some((*number, outlet.as_str()))
            })
            .collect();
        if let Some((first, outlet)) = elsewhere.first() {
            let rows: Vec<u32> = elsewhere.iter().map(|(number, _)| *number).collect();
            let hang = if rows.len() == 1 { "row" } else { "rows" };
            let says = format!(
                "sheet: {hang} {} on other outlets than here (row {first} on {}); were tubes changed over since it was printed?",
                ranges(&rows),
                short(outlet)
            );
            let why = format!(
                "the sheet has {hang} {} on other outlets",
                short_list(&range_pieces(&rows), MOST_RANGES)
            );
            said.push(without_verdict(why, &says));
        }
        said
    }
}
