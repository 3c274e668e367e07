//! What the numbers mean, in two or three sentences that can be read to a customer.
//!
//! Every sentence is made from figures of the table: which of the two is more even at the point looked at, how both
//! fare from the slowest to the fastest speed, and what the more even one takes more or less of.

use super::compared_figure::{ComparedFigure, reads};
use super::contender::Contender;
use super::figures::Amount;
use crate::hydraulics::outcome::{Outcome, SupplyLimit};
use crate::plan::Project;
use crate::quantities::{Measure, Ratio};
use crate::studies::status::why_no_numbers;

/// The verdict on two contenders and their figures.
pub(super) fn verdict(
    project: &Project,
    a: &Contender<'_>,
    b: &Contender<'_>,
    labels: &[String; 2],
    lines: &[ComparedFigure],
) -> String {
    let speaker = Speaker { project, sides: [a, b], labels, lines };
    let sentences = match [a, b].map(|side| why_no_numbers(side.outcome, side.routing.routing)) {
        [Some(why_a), Some(why_b)] => vec![
            "Neither can be judged".to_owned(),
            format!("{}: {why_a}", speaker.name(0)),
            format!("{}: {why_b}", speaker.name(1)),
        ],
        [Some(why), None] => speaker.only(1, 0, &why),
        [None, Some(why)] => speaker.only(0, 1, &why),
        [None, None] => speaker.both(),
    };
    let mut text = sentences.join(". ");
    text.push('.');
    text
}

struct Speaker<'a> {
    project: &'a Project,
    sides: [&'a Contender<'a>; 2],
    labels: &'a [String; 2],
    lines: &'a [ComparedFigure],
}

/// How a coefficient of variation counts against the project's limits.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Grade {
    Good,
    Acceptable,
    Beyond,
}

impl Speaker<'_> {
    fn name(&self, side: usize) -> String {
        format!("Routing {}", self.labels[side])
    }

    /// In the middle of a sentence.
    fn named(&self, side: usize) -> String {
        format!("routing {}", self.labels[side])
    }

    fn text(&self, measure: Measure, value: f64) -> String {
        measure.text(value, self.project.units)
    }

    fn short(&self, measure: Measure, value: f64) -> String {
        measure.short_text(value, self.project.units)
    }

    fn percent(&self, ratio: Ratio) -> String {
        self.text(Measure::Percent, ratio.si())
    }

    fn speed(&self, outcome: &Outcome) -> String {
        self.short(Measure::GroundSpeed, outcome.point.speed.si())
    }

    /// `at 9 km/h, ` where both are looked at there; nothing where the labels say it.
    fn where_looked_at(&self) -> String {
        let [a, b] = self.sides.map(|side| side.outcome);
        if a.point.speed == b.point.speed { format!("at {} ", self.speed(a)) } else { String::new() }
    }

    fn only(&self, solved: usize, other: usize, why: &str) -> Vec<String> {
        let mut sentences = vec![format!("{} can't be judged: {why}", self.name(other))];
        let outcome = self.sides[solved].outcome;
        let fed = outcome.fed_rows();
        let of = outcome.rows_in_use();
        let evenness = outcome.evenness().map_or_else(String::new, |evenness| {
            format!(
                "; {}its rows differ by {} (coefficient of variation) and the farthest is {} off target",
                self.where_looked_at(),
                self.percent(evenness.cv),
                self.percent(farthest(outcome))
            )
        });
        sentences.push(format!("{} feeds {fed} of {of} rows{evenness}", self.name(solved)));
        sentences
    }

    fn both(&self) -> Vec<String> {
        let [a, b] = self.sides.map(|side| side.outcome);
        let mut sentences = Vec::new();
        let (Some(even_a), Some(even_b)) = (a.evenness(), b.evenness()) else {
            return vec!["No row gets anything, so there is nothing to weigh".to_owned()];
        };
        let same = self.percent(even_a.cv) == self.percent(even_b.cv);
        let better = usize::from(even_b.cv < even_a.cv);
        let worse = 1 - better;
        let place = self.where_looked_at();
        if same {
            let (off_a, off_b) = (self.percent(farthest(a)), self.percent(farthest(b)));
            let off = if off_a == off_b {
                format!("{off_a} off target with either")
            } else {
                format!("{off_a} off target with {}, {off_b} with {}", self.labels[0], self.labels[1])
            };
            sentences.push(format!(
                "{} and {} are equally even: {place}their rows differ by {} (coefficient of variation), and the \
                 farthest row is {off}",
                self.name(0),
                self.named(1),
                self.percent(even_a.cv),
            ));
        } else {
            let cv = [even_a.cv, even_b.cv];
            let off = [farthest(a), farthest(b)];
            let joined = if off[better] <= off[worse] {
                format!(
                    ", and its farthest row is {} off target instead of {}",
                    self.percent(off[better]),
                    self.percent(off[worse])
                )
            } else {
                format!(
                    ", although its farthest row is {} off target against {}",
                    self.percent(off[better]),
                    self.percent(off[worse])
                )
            };
            sentences.push(format!(
                "{} is more even: {place}its rows differ by {} (coefficient of variation) instead of {}{joined}",
                self.name(better),
                self.percent(cv[better]),
                self.percent(cv[worse]),
            ));
        }
        let second =
            self.not_fed().or_else(|| self.short_of_rate()).or_else(|| self.over_speeds(better, same));
        sentences.extend(second);
        // Where both are even, what the second one takes is told against the first.
        let (of, against) = if same { (1, 0) } else { (better, worse) };
        sentences.push(self.takes(of, against));
        sentences
    }

    fn not_fed(&self) -> Option<String> {
        let count = |side: usize| {
            let outcome = self.sides[side].outcome;
            outcome.rows_in_use() - outcome.fed_rows()
        };
        let rows = |count: usize| if count == 1 { "1 row".to_owned() } else { format!("{count} rows") };
        let (a, b) = (count(0), count(1));
        let rest = "the figures cover only the rows that are fed";
        match (a, b) {
            (0, 0) => None,
            (_, 0) => Some(format!("{} leaves {} without liquid; {rest}", self.name(0), rows(a))),
            (0, _) => Some(format!("{} leaves {} without liquid; {rest}", self.name(1), rows(b))),
            _ => Some(format!(
                "{} leaves {} without liquid and {} leaves {}; {rest}",
                self.name(0),
                rows(a),
                self.named(1),
                rows(b)
            )),
        }
    }

    /// Who can't reach the rate at some speed.
    fn short_of_rate(&self) -> Option<String> {
        let missing = |side: usize| {
            let own = std::iter::once(self.sides[side].outcome);
            own.chain(&self.sides[side].range.outcomes)
                .filter_map(|outcome| outcome.at_limit().map(|(shortfall, by)| (outcome, shortfall, by)))
                .max_by(|a, b| a.1.si().total_cmp(&b.1.si()))
        };
        let mut limits = Vec::new();
        let says: Vec<String> = (0..2)
            .filter_map(|side| {
                let (outcome, shortfall, by) = missing(side)?;
                limits.push(by);
                let name = if side == 0 { self.name(0) } else { self.named(1) };
                Some(format!(
                    "{name} is {} short of the rate at {}",
                    self.text(Measure::TotalFlow, shortfall.si()),
                    self.speed(outcome)
                ))
            })
            .collect();
        let joined = says.join(" and ");
        let mut letters = joined.chars();
        let first = letters.next()?;
        Some(format!(
            "{}{} because {}",
            first.to_uppercase(),
            letters.as_str(),
            if limits.iter().all(|by| *by == SupplyLimit::Pressure) {
                "the pump's pressure limit is reached"
            } else {
                "the pump gives no more"
            }
        ))
    }

    fn grade(&self, cv: Ratio) -> Grade {
        let limits = &self.project.limits;
        if cv <= limits.cv_good {
            Grade::Good
        } else if cv <= limits.cv_acceptable {
            Grade::Acceptable
        } else {
            Grade::Beyond
        }
    }

    fn grade_words(&self, grade: Grade) -> String {
        let limits = &self.project.limits;
        let percent = |ratio: Ratio| self.short(Measure::Percent, ratio.si());
        match grade {
            Grade::Good => format!("within the {} that counts as good", percent(limits.cv_good)),
            Grade::Acceptable => format!("within the {} that is acceptable", percent(limits.cv_acceptable)),
            Grade::Beyond => format!("beyond the {} that is acceptable", percent(limits.cv_acceptable)),
        }
    }

    /// How both fare from the slowest to the fastest speed.
    fn over_speeds(&self, better: usize, same: bool) -> Option<String> {
        let range = |side: usize| -> Option<(Ratio, Ratio)> {
            let all: Option<Vec<Ratio>> = self.sides[side]
                .range
                .outcomes
                .iter()
                .map(|outcome| outcome.evenness().map(|evenness| evenness.cv))
                .collect();
            let all = all?;
            Some((all.iter().copied().reduce(Ratio::min)?, all.iter().copied().reduce(Ratio::max)?))
        };
        let outcomes = |side: usize| &self.sides[side].range.outcomes;
        // A speed where the other one leads.
        let lead = outcomes(better).iter().zip(outcomes(1 - better)).find_map(|(own, other)| {
            let (own_cv, other_cv) = (own.evenness()?.cv, other.evenness()?.cv);
            let turned = other_cv < own_cv && self.percent(own_cv) != self.percent(other_cv);
            turned.then_some((own, own_cv, other_cv))
        });
        if let Some((at, own, other)) = lead.filter(|_| !same) {
            return Some(format!(
                "At {} it is the other way round: {} with {}, {} with {}",
                self.speed(at),
                self.percent(own),
                self.named(better),
                self.percent(other),
                self.named(1 - better)
            ));
        }
        let (low_a, high_a) = range(0)?;
        let (low_b, high_b) = range(1)?;
        let span = |low: Ratio, high: Ratio| {
            let (from, to) = (Measure::Percent.number(low.si(), self.project.units), self.percent(high));
            if Measure::Percent.number(high.si(), self.project.units) == from {
                to
            } else {
                format!("{from} to {to}")
            }
        };
        let [slowest, _, fastest] = &self.sides[0].range.speeds;
        let speeds = format!(
            "From {} to {}",
            Measure::GroundSpeed.short_number(slowest.si(), self.project.units),
            self.short(Measure::GroundSpeed, fastest.si())
        );
        let (spans, grades) =
            ([span(low_a, high_a), span(low_b, high_b)], [self.grade(high_a), self.grade(high_b)]);
        let worse = 1 - better;
        Some(if grades[0] == grades[1] && spans[0] == spans[1] {
            format!("{speeds} both are {} ({} each)", self.grade_words(grades[0]), spans[0])
        } else if grades[0] == grades[1] {
            format!(
                "{speeds} both are {} ({} with {}, {} with {})",
                self.grade_words(grades[0]),
                spans[better],
                self.named(better),
                spans[worse],
                self.named(worse)
            )
        } else {
            format!(
                "{speeds} it is {} ({}), while {} is {} ({})",
                self.grade_words(grades[better]),
                spans[better],
                self.named(worse),
                self.grade_words(grades[worse]),
                spans[worse]
            )
        })
    }

    /// What one takes more or less of than the other.
    fn takes(&self, of: usize, against: usize) -> String {
        if self.sides[0].routing.id == self.sides[1].routing.id {
            return "It is the same plumbing, so hose, parts and cost are the same".to_owned();
        }
        let own = |key: &str| self.amounts(key, of, against);
        let mut takes = Vec::new();
        for (key, noun) in [("hose_length", "hose"), ("tube_length", "tube")] {
            let Some((one, other)) =
                own(key).filter(|(one, other)| self.reads_apart(Measure::Distance, *one, *other))
            else {
                continue;
            };
            takes.push(format!(
                "{} {} {noun}",
                self.text(Measure::Distance, (one - other).abs()),
                more(one, other)
            ));
        }
        for (key, one_noun, nouns) in [("parts", "part", "parts"), ("joints", "joint", "joints")] {
            let Some((one, other)) = own(key).filter(|(one, other)| one != other) else { continue };
            let count = (one - other).abs();
            let fewer = if one > other { "more" } else { "fewer" };
            takes.push(format!("{count:.0} {fewer} {}", if count == 1.0 { one_noun } else { nouns }));
        }
        let mut clauses = Vec::new();
        if !takes.is_empty() {
            clauses.push(format!("takes {}", list(&takes)));
        }
        if let Some((one, other)) = own("runs_across_hinges").filter(|(one, other)| one != other) {
            let count = |number: f64| format!("{number:.0}");
            clauses.push(format!("leads {} runs across hinges instead of {}", count(one), count(other)));
        }
        if let Some((one, other)) =
            own("liquid_held").filter(|(one, other)| self.reads_apart(Measure::Volume, *one, *other))
        {
            let by = self.text(Measure::Volume, (one - other).abs());
            clauses.push(format!("holds {by} {} liquid", more(one, other)));
        }
        if let Some((one, other)) =
            self.inlet(of, against).filter(|(one, other)| self.reads_apart(Measure::Pressure, *one, *other))
        {
            clauses.push(format!(
                "needs {} {} at the inlet",
                self.text(Measure::Pressure, (one - other).abs()),
                more(one, other)
            ));
        }
        let says = if clauses.is_empty() {
            format!("{} takes the same hose, parts and pressure as {}", self.name(of), self.named(against))
        } else {
            format!("{} {}", self.name(of), list(&clauses))
        };
        format!("{says}; {}", self.money(of, against))
    }

    fn money(&self, of: usize, against: usize) -> String {
        let Some(line) = self.lines.iter().find(|line| line.figure.key == "cost") else {
            return String::new();
        };
        let pair = [&line.a, &line.b];
        match (pair[of], pair[against]) {
            (Amount::Is { value, note }, Amount::Is { value: other, note: other_note })
                if note == other_note =>
            {
                if line.differs() {
                    let (by, more) = ((value - other).abs(), if value > other { "more" } else { "less" });
                    format!(
                        "its hose and parts cost {by:.2} {note} {more} ({value:.2} instead of {other:.2} {note})"
                    )
                } else {
                    format!("hose and parts cost the same, {value:.2} {note}")
                }
            }
            (Amount::Is { .. }, Amount::Is { .. }) => {
                "the prices are in different currencies and are not compared".to_owned()
            }
            _ => "prices are missing in the catalogue, so the cost in money is open".to_owned(),
        }
    }

    fn amounts(&self, key: &str, of: usize, against: usize) -> Option<(f64, f64)> {
        let line = self.lines.iter().find(|line| line.figure.key == key)?;
        let pair = [line.a.value()?, line.b.value()?];
        Some((pair[of], pair[against]))
    }

    fn inlet(&self, of: usize, against: usize) -> Option<(f64, f64)> {
        let read =
            |side: usize| self.sides[side].outcome.numbers().map(|numbers| numbers.inlet_pressure.si());
        Some((read(of)?, read(against)?))
    }

    fn reads_apart(&self, measure: Measure, one: f64, other: f64) -> bool {
        reads(&measure.number(one - other, self.project.units))
    }
}

const fn more(one: f64, other: f64) -> &'static str {
    if one > other { "more" } else { "less" }
}

fn farthest(outcome: &Outcome) -> Ratio {
    outcome.numbers().and_then(|numbers| numbers.farthest_row()?.deviation).map_or(Ratio::ZERO, Ratio::abs)
}

/// `A`, `A and B`, `A, B and C`.
fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
