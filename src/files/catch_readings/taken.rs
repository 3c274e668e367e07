//! What was read, on a bar: rows by their numbers, gauges by their tags.

use super::found::{ReadCatch, ReadCatches};
use crate::plan::problems::{Problem, Problems};
use crate::plan::words::{counted, list, short};
use crate::plan::{Catch, CatchSpan, CaughtLiquid, GaugeReading, Project};
use crate::quantities::{Measure, Speed};

/// Catches and readings of a table that belong to one test.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TakenCatches {
    /// The catches, in the order of the table.
    pub catches: Vec<Catch>,
    /// The readings.
    pub gauges: Vec<GaugeReading>,
    /// What of the table does not belong to the bar or to the test, and was left out.
    pub problems: Problems,
}

/// Speeds nearer than this are the same, as a part.
const SAME_SPEED: f64 = 0.01;

impl ReadCatches {
    /// What of the table was caught of a liquid, on a bar with its one routing. Amounts of which the table does not say the
    /// liquid are of this one. Readings of gauges at other speeds are not of this test; where none is given, none is taken.
    pub fn taken(&self, bar: &Project, liquid: CaughtLiquid, speed: Option<Speed>) -> TakenCatches {
        let mut taken = TakenCatches::default();
        let mut unknown: Vec<&ReadCatch> = Vec::new();
        for one in self.catches.iter().filter(|one| one.liquid.is_none_or(|of| of == liquid)) {
            let row = one.row.and_then(|number| bar.bar.rows.iter().find(|row| row.number == number));
            let Some(row) = row else {
                unknown.push(one);
                continue;
            };
            taken.catches.push(Catch {
                row: row.id,
                amount: one.amount,
                span: one.seconds.map(CatchSpan::Seconds),
                spoiled: one.spoiled.clone(),
            });
        }
        let of_test = self.catches.iter().filter(|one| one.liquid.is_none_or(|of| of == liquid)).count();
        // A table of another bar is told once.
        if unknown.len() > 3 && 2 * unknown.len() > of_test {
            taken.problem(
                "table",
                format!(
                    "{} of {} are not rows of this bar, which has {}",
                    unknown.len(),
                    counted(of_test, "amount"),
                    counted(bar.bar.rows.len(), "row")
                ),
                "was it caught on another bar? read it into that one's project",
            );
        } else {
            for one in unknown {
                let what = match one.row {
                    Some(number) => format!("row {number} is not a row of this bar"),
                    None => "an amount without a row".to_owned(),
                };
                taken.problem(&one.place, what, "give the number that is painted at the row");
            }
        }
        let Some(routing) = bar.routings.first() else { return taken };
        let mut other_speeds: Vec<String> = Vec::new();
        for reading in self.gauges.iter().filter(|one| one.liquid == liquid) {
            if !speed.is_some_and(|speed| (reading.speed / speed - 1.0).abs() <= SAME_SPEED) {
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
                None if reading.tag == "Pump" => taken.problem(
                    &reading.place,
                    "what was read at the pump is not taken: the plan has no gauge there".to_owned(),
                    "place a gauge at the pump's outlet",
                ),
                None => taken.problem(
                    &reading.place,
                    format!("the routing has no part {}", short(&reading.tag)),
                    "read it into the routing that the sheet was made of",
                ),
            }
        }
        if !other_speeds.is_empty() {
            taken.problem(
                "pressures",
                format!("readings at {} are not of this test", list(&other_speeds)),
                "give each speed a test of its own",
            );
        }
        taken
    }
}

impl TakenCatches {
    fn problem(&mut self, place: &str, what: String, advice: &str) {
        self.problems.add(|| Problem { place: place.to_owned(), what, advice: advice.to_owned() });
    }
}
