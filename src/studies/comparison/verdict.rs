//! What the numbers mean, in two or three sentences that can be read to a customer.
//!
//! Every sentence is made from figures of the table: under which conditions they hold, which of the two is more even
//! there, if the difference matters, how both fare from the slowest to the fastest speed, and what the more even one
//! takes more or less of.

use super::by_parts;
use super::compared_figure::{ComparedFigure, ROUNDING, Which};
use super::contender::Contender;
use super::figure::{Amount, Condition, FigureKey, FlowFigure, LineRole};
use crate::hydraulics::outcome::{Outcome, SupplyLimit};
use crate::plan::words::{capital, counted, fore_aft_slope, list, side_slope};
use crate::plan::{OperatingPoint, Project};
use crate::quantities::{Angle, Length, Measure, Ratio, decimals};
use crate::studies::status::why_no_numbers;
use crate::studies::tolerance::FirstOrder;

/// The verdict on two contenders and their figures.
pub(super) fn verdict(
    project: &Project,
    a: &Contender<'_>,
    b: &Contender<'_>,
    labels: &[String; 2],
    lines: &[ComparedFigure],
) -> String {
    let scatter = by_parts::scatter(project, [a, b]);
    let speaker = Speaker { project, sides: [a, b], labels, lines, scatter };
    let mut sentences = match [a, b].map(|side| why_no_numbers(side.outcome, side.routing.routing)) {
        [Some(why_a), Some(why_b)] => vec![
            "neither can be judged".to_owned(),
            format!("{}: {why_a}", speaker.named(0)),
            format!("{}: {why_b}", speaker.named(1)),
        ],
        [Some(why), None] => speaker.only(1, 0, &why),
        [None, Some(why)] => speaker.only(0, 1, &why),
        [None, None] => speaker.both(),
    };
    if [a, b].iter().any(|side| side.outcome.numbers().is_some()) {
        sentences.extend(speaker.cautions());
    }
    let mut text = sentences.iter().map(|sentence| capital(sentence)).collect::<Vec<_>>().join(". ");
    text.push('.');
    text
}

/// A difference of a figure is one that matters in the field.
fn matters(key: &FigureKey, by: f64) -> bool {
    key.practical().is_none_or(|least| by.abs() >= least.si() - ROUNDING)
}

/// The figures by which the two are weighed, at the point looked at.
const CV: FigureKey = FigureKey::Flow(FlowFigure::Cv, Condition::LookedAt);
const FARTHEST: FigureKey = FigureKey::Flow(FlowFigure::FarthestRow, Condition::LookedAt);

/// Differences in the length of a size of hose or tube that are worth words, metres (common practice, no source).
const LEAST_LENGTH: f64 = 0.1;

struct Speaker<'a> {
    project: &'a Project,
    sides: [&'a Contender<'a>; 2],
    labels: &'a [String; 2],
    lines: &'a [ComparedFigure],
    /// What parts as they are sold make of both.
    scatter: Option<[FirstOrder; 2]>,
}

/// How a coefficient of variation counts against the project's limits.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Grade {
    Good,
    Acceptable,
    Beyond,
}

impl Speaker<'_> {
    fn named(&self, side: usize) -> String {
        format!("routing {}", self.labels[side])
    }

    fn text(&self, measure: Measure, value: f64) -> String {
        measure.text(value, self.project.units)
    }

    fn short(&self, measure: Measure, value: f64) -> String {
        measure.short_text(value, self.project.units)
    }

    /// That flows and pressures rest on the viscosity of a liquid which none can be told of; once where both have it.
    fn cautions(&self) -> Vec<String> {
        let of = |side: &Contender<'_>| self.project.duty(side.outcome.point.duty).liquid.caution();
        let mut all: Vec<String> =
            self.sides.iter().filter_map(|side| of(side)).map(|one| one.sentence().to_owned()).collect();
        all.dedup();
        all
    }

    fn percent(&self, ratio: Ratio) -> String {
        self.text(Measure::Percent, ratio.si())
    }

    fn speed(&self, outcome: &Outcome) -> String {
        self.short(Measure::GroundSpeed, outcome.point.speed.si())
    }

    /// The conditions that both are looked at under, where they are the same: `for duty Starter at 9 km/h and 15 °C on the
    /// level`. What differs stands in the labels.
    fn conditions(&self) -> String {
        let [a, b] = self.sides.map(|side| &side.outcome.point);
        let same = |read: fn(&OperatingPoint) -> f64| read(a) == read(b);
        let mut words = Vec::new();
        if a.duty == b.duty && self.project.duties.are_several() {
            words.push(format!("for duty {}", self.project.duty(a.duty).name));
        }
        let mut at = Vec::new();
        if same(|point| point.speed.si()) {
            at.push(self.short(Measure::GroundSpeed, a.speed.si()));
        }
        if same(|point| point.temperature.si()) {
            at.push(self.short(Measure::Temperature, a.temperature.si()));
        }
        if !at.is_empty() {
            words.push(format!("at {}", list(&at)));
        }
        let same_slopes = [same(|point| point.side_slope.si()), same(|point| point.fore_aft_slope.si())];
        let units = self.project.units;
        let slopes = [
            ("side slope", a.side_slope, side_slope(a.side_slope, units)),
            ("fore-aft slope", a.fore_aft_slope, fore_aft_slope(a.fore_aft_slope, units)),
        ];
        let slopes: Vec<String> = slopes
            .into_iter()
            .zip(same_slopes)
            .filter(|((_, angle, _), same)| *same && *angle != Angle::ZERO)
            .map(|((what, _, words), _)| format!("a {what} of {words}"))
            .collect();
        if !slopes.is_empty() {
            words.push(format!("on {}", list(&slopes)));
        } else if same_slopes == [true; 2] {
            words.push("on the level".to_owned());
        }
        words.join(" ")
    }

    /// A sentence with the conditions it holds under.
    fn there(&self, sentence: &str) -> String {
        let conditions = self.conditions();
        if conditions.is_empty() { sentence.to_owned() } else { format!("{conditions}: {sentence}") }
    }

    fn only(&self, solved: usize, other: usize, why: &str) -> Vec<String> {
        let mut sentences = vec![format!("{} can't be judged: {why}", self.named(other))];
        let outcome = self.sides[solved].outcome;
        let fed = outcome.fed_rows();
        let of = outcome.rows_in_use();
        let evenness = outcome.evenness().map_or_else(String::new, |evenness| {
            format!(
                "; its rows differ by {} (coefficient of variation) and the largest deviation is {}",
                self.percent(evenness.cv),
                self.percent(farthest(outcome))
            )
        });
        sentences.push(self.there(&format!("{} feeds {fed} of {of} rows{evenness}", self.named(solved))));
        sentences
    }

    /// The two as a share of each, as they read apart: positive where the second is larger.
    fn apart(&self, a: Ratio, b: Ratio) -> f64 {
        let rounded = |ratio: Ratio| Measure::Percent.rounded(ratio.si(), self.project.units);
        rounded(b) - rounded(a)
    }

    /// Which one is more even, where that matters.
    fn more_even(&self, cv: [Ratio; 2]) -> Option<Which> {
        let by = self.apart(cv[0], cv[1]);
        matters(&CV, by).then_some(if by > 0.0 { Which::A } else { Which::B })
    }

    fn both(&self) -> Vec<String> {
        let [a, b] = self.sides.map(|side| side.outcome);
        let mut sentences = Vec::new();
        let (Some(even_a), Some(even_b)) = (a.evenness(), b.evenness()) else {
            return vec![self.there("no row gets anything, so there is nothing to weigh")];
        };
        let cv = [even_a.cv, even_b.cv];
        let off = [farthest(a), farthest(b)];
        if let Some(not_fed) = self.not_fed() {
            // Whatever leaves rows without liquid is never called better, however even the others are.
            sentences.push(not_fed);
            sentences.push(self.there(&format!(
                "the rows that are fed differ by {} (coefficient of variation), and their largest deviation is {}",
                self.each(cv),
                self.each(off)
            )));
            sentences.push(self.takes(1, 0));
            return sentences;
        }
        let lead = self.more_even(cv);
        if let Some(which) = lead {
            let (better, worse) = if which == Which::A { (0, 1) } else { (1, 0) };
            let joined = if self.apart(off[0], off[1]) == 0.0 {
                format!("; the largest deviation is {} with either", self.percent(off[0]))
            } else if off[better] <= off[worse] {
                format!(
                    ", and its largest deviation is {} instead of {}",
                    self.percent(off[better]),
                    self.percent(off[worse])
                )
            } else {
                format!(
                    ", although its largest deviation is {} against {}",
                    self.percent(off[better]),
                    self.percent(off[worse])
                )
            };
            sentences.push(self.there(&format!(
                "{} is more even: its rows differ by {} (coefficient of variation) instead of {}{joined}",
                self.named(better),
                self.percent(cv[better]),
                self.percent(cv[worse]),
            )));
            if let Some(scatter) = &self.scatter {
                let names = [self.labels[better].as_str(), self.labels[worse].as_str()];
                sentences.push(by_parts::sentence(self.project, &scatter[better], &scatter[worse], names));
            }
        } else {
            sentences.push(self.there(&self.no_difference(cv, off)));
        }
        let second = self.short_of_rate().or_else(|| self.over_speeds(lead));
        sentences.extend(second);
        // Where none is more even, what the second one takes is told against the first.
        let (of, against) = if lead == Some(Which::A) { (0, 1) } else { (1, 0) };
        sentences.push(self.takes(of, against));
        sentences
    }

    /// Neither is more even.
    fn no_difference(&self, cv: [Ratio; 2], off: [Ratio; 2]) -> String {
        let (over_all, joined) = if matters(&FARTHEST, self.apart(off[0], off[1])) {
            ("over all rows there", "but")
        } else {
            ("there", "and")
        };
        format!(
            "{over_all} is no practical difference in evenness: the rows differ by {} (coefficient of variation), \
             {joined} the largest deviation is {}",
            self.each(cv),
            self.each(off),
        )
    }

    /// A value of each: `3.0 % with A and 4.0 % with B`.
    fn each(&self, values: [Ratio; 2]) -> String {
        let [a, b] = values.map(|value| self.percent(value));
        if a == b {
            format!("{a} with either")
        } else {
            format!("{a} with {} and {b} with {}", self.labels[0], self.labels[1])
        }
    }

    /// Who leaves rows without liquid, where they are looked at, or at another speed if all are fed there.
    fn not_fed(&self) -> Option<String> {
        let unfed = |outcome: &Outcome| outcome.rows_in_use() - outcome.fed_rows();
        let here = self.sides.map(|side| unfed(side.outcome));
        if here != [0, 0] {
            return Some(self.left_dry(here));
        }
        let [first, second] = self.sides.map(|side| &side.range.outcomes);
        let at_speeds = first.iter().zip(second).map(|(a, b)| (a, [unfed(a), unfed(b)]));
        let (at, most) = at_speeds.max_by_key(|(_, unfed)| unfed[0] + unfed[1])?;
        (most != [0, 0]).then(|| format!("at {} {}", self.speed(at), self.left_dry(most)))
    }

    fn left_dry(&self, rows: [usize; 2]) -> String {
        let leaves = |side: usize| {
            format!("{} leaves {} without liquid", self.named(side), counted(rows[side], "row"))
        };
        match rows {
            [_, 0] => leaves(0),
            [0, _] => leaves(1),
            _ => format!("{}, and {}", leaves(0), leaves(1)),
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
                Some(format!(
                    "{} is {} short of the rate at {}",
                    self.named(side),
                    self.text(Measure::TotalFlow, shortfall.si()),
                    self.speed(outcome)
                ))
            })
            .collect();
        (!says.is_empty()).then(|| {
            let why = if limits.iter().all(|by| *by == SupplyLimit::Pressure) {
                "the pump's pressure limit is reached"
            } else {
                "the pump gives no more"
            };
            format!("{} because {why}", says.join(" and "))
        })
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
    fn over_speeds(&self, lead: Option<Which>) -> Option<String> {
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
        let [first, second] = self.sides.map(|side| &side.range.outcomes);
        // A speed where another one leads.
        let turned = first.iter().zip(second).find_map(|(a, b)| {
            let cv = [a.evenness()?.cv, b.evenness()?.cv];
            let which = self.more_even(cv).filter(|which| Some(*which) != lead)?;
            Some((a, which, cv))
        });
        if let Some((at, which, cv)) = turned {
            let (better, worse) = if which == Which::A { (0, 1) } else { (1, 0) };
            return Some(format!(
                "at {} {}: {} with {}, {} with {}",
                self.speed(at),
                if lead.is_some() {
                    "it is the other way round".to_owned()
                } else {
                    format!("{} is more even", self.named(better))
                },
                self.percent(cv[better]),
                self.named(better),
                self.percent(cv[worse]),
                self.named(worse)
            ));
        }
        let (low_a, high_a) = range(0)?;
        let (low_b, high_b) = range(1)?;
        let [slowest, _, fastest] = &self.sides[0].range.speeds;
        let speeds = format!(
            "from {} to {}",
            Measure::GroundSpeed.short_number(slowest.si(), self.project.units),
            self.short(Measure::GroundSpeed, fastest.si())
        );
        let spans = [self.span(low_a, high_a), self.span(low_b, high_b)];
        let grades = [self.grade(high_a), self.grade(high_b)];
        let (better, worse) = if lead == Some(Which::B) { (1, 0) } else { (0, 1) };
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
                "{speeds} {} is {} ({}), while {} is {} ({})",
                if lead.is_some() { "it".to_owned() } else { self.named(better) },
                self.grade_words(grades[better]),
                spans[better],
                self.named(worse),
                self.grade_words(grades[worse]),
                spans[worse]
            )
        })
    }

    /// From the lowest to the highest CV, with the decimals that set the highest apart from the limits.
    fn span(&self, low: Ratio, high: Ratio) -> String {
        let units = self.project.units;
        let limits = &self.project.limits;
        let numbers = [limits.cv_good, limits.cv_acceptable]
            .map(|limit| Measure::Percent.number_apart(high.si(), limit.si(), units));
        let to = numbers.into_iter().max_by_key(String::len).unwrap_or_default();
        let from = Measure::Percent.number(low.si(), units);
        let symbol = Measure::Percent.unit(units).symbol;
        let same = from == Measure::Percent.number(high.si(), units);
        if same { format!("{to} {symbol}") } else { format!("{from} to {to} {symbol}") }
    }

    /// What one takes more or less of than the other.
    fn takes(&self, of: usize, against: usize) -> String {
        if self.sides[0].routing.id == self.sides[1].routing.id {
            return "it is the same plumbing, so hose, parts and cost are the same".to_owned();
        }
        let own = |key: &FigureKey| self.amounts(key, of, against);
        let mut takes = self.lengths(of, against);
        for (key, one_noun, nouns) in [
            (FigureKey::Parts, "part", "parts"),
            (FigureKey::Adapters, "reducer or adapter", "reducers and adapters"),
            (FigureKey::Joints, "joint", "joints"),
        ] {
            let Some((one, other)) = own(&key).filter(|(one, other)| one != other) else { continue };
            let count = (one - other).abs();
            let fewer = if one > other { "more" } else { "fewer" };
            takes.push(format!("{count:.0} {fewer} {}", if count == 1.0 { one_noun } else { nouns }));
        }
        let mut clauses = Vec::new();
        if !takes.is_empty() {
            clauses.push(format!("takes {}", list(&takes)));
        }
        if let Some((one, other)) = own(&FigureKey::RunsAcrossHinges).filter(|(one, other)| one != other) {
            let count = |number: f64| format!("{number:.0}");
            clauses.push(format!("leads {} runs across hinges instead of {}", count(one), count(other)));
        }
        if let Some((one, other)) =
            own(&FigureKey::LiquidHeld).filter(|(one, other)| self.reads_apart(Measure::Volume, *one, *other))
        {
            let by = self.text(Measure::Volume, self.shown_apart(Measure::Volume, one, other));
            clauses.push(format!("holds {by} {} liquid", more(one, other)));
        }
        if let Some((one, other)) =
            self.inlet(of, against).filter(|(one, other)| self.reads_apart(Measure::Pressure, *one, *other))
        {
            clauses.push(format!(
                "needs {} {} at the inlet",
                self.text(Measure::Pressure, self.shown_apart(Measure::Pressure, one, other)),
                more(one, other)
            ));
        }
        let says = if clauses.is_empty() {
            format!("{} takes the same hose, parts and pressure as {}", self.named(of), self.named(against))
        } else {
            format!("{} {}", self.named(of), list(&clauses))
        };
        format!("{says}; {}", self.money(of, against))
    }

    /// Hose and tube of each size that one takes more or less of: `4.20 m more 19 mm hose`.
    fn lengths(&self, of: usize, against: usize) -> Vec<String> {
        let mut takes = Vec::new();
        for wanted in [LineRole::Hose, LineRole::Tube, LineRole::MeteringTube] {
            let stocks = self.lines.iter().filter_map(|line| match &line.figure.key {
                FigureKey::LengthOf(role, stock) if *role == wanted => {
                    let bore = self.project.catalogue.stock(stock).map(|stock| stock.bore)?;
                    let size = self.project.catalogue.item(stock)?.size(self.project.units);
                    let pair = [line.a.value()?, line.b.value()?];
                    let by = |side: usize| Measure::Distance.rounded(pair[side], self.project.units);
                    Some((bore, size, by(of) - by(against)))
                }
                _ => None,
            });
            let mut sizes: Vec<(Length, String, f64)> = Vec::new();
            for (bore, size, by) in stocks {
                match sizes.iter_mut().find(|known| known.1 == size) {
                    Some(known) => known.2 += by,
                    None => sizes.push((bore, size, by)),
                }
            }
            sizes.sort_by(|a, b| b.0.si().total_cmp(&a.0.si()));
            // The table has what is too short to decide anything.
            for (_, size, by) in sizes.into_iter().filter(|one| one.2.abs() >= LEAST_LENGTH) {
                let length = self.text(Measure::Distance, by.abs());
                takes.push(format!("{length} {} {size} {}", more(by, 0.0), wanted.word()));
            }
        }
        takes
    }

    fn money(&self, of: usize, against: usize) -> String {
        let Some(line) = self.lines.iter().find(|line| line.figure.key == FigureKey::Cost) else {
            return String::new();
        };
        let pair = [&line.a, &line.b];
        // The catalogue has no prices for them.
        let without = match self.amounts(&FigureKey::Adapters, of, against) {
            Some((0.0, 0.0)) | None => "",
            Some(_) => ", without reducers and adapters",
        };
        match (pair[of], pair[against]) {
            (Amount::Is { value, note }, Amount::Is { value: other, note: other_note })
                if note == other_note =>
            {
                if line.differs() {
                    let more = if value > other { "more" } else { "less" };
                    let [by, value, other] =
                        [(value - other).abs(), *value, *other].map(|amount| decimals(amount, 2));
                    format!(
                        "its hose and parts cost {by} {note} {more} ({value} instead of {other} \
                         {note}{without})"
                    )
                } else {
                    format!("hose and parts cost the same, {} {note}{without}", decimals(*value, 2))
                }
            }
            (Amount::Is { .. }, Amount::Is { .. }) => {
                "the prices are in different currencies and are not compared".to_owned()
            }
            _ => "prices are missing in the catalogue, so the cost in money is open".to_owned(),
        }
    }

    fn amounts(&self, key: &FigureKey, of: usize, against: usize) -> Option<(f64, f64)> {
        let line = self.lines.iter().find(|line| line.figure.key == *key)?;
        let pair = [line.a.value()?, line.b.value()?];
        Some((pair[of], pair[against]))
    }

    fn inlet(&self, of: usize, against: usize) -> Option<(f64, f64)> {
        let read =
            |side: usize| self.sides[side].outcome.numbers().map(|numbers| numbers.inlet_pressure.si());
        Some((read(of)?, read(against)?))
    }

    /// How far two are apart as they are shown, so that words and table agree.
    fn shown_apart(&self, measure: Measure, one: f64, other: f64) -> f64 {
        let rounded = |value: f64| measure.rounded(value, self.project.units);
        (rounded(one) - rounded(other)).abs()
    }

    fn reads_apart(&self, measure: Measure, one: f64, other: f64) -> bool {
        measure.number(one, self.project.units) != measure.number(other, self.project.units)
    }
}

const fn more(one: f64, other: f64) -> &'static str {
    if one > other { "more" } else { "less" }
}

fn farthest(outcome: &Outcome) -> Ratio {
    outcome.numbers().and_then(|numbers| numbers.farthest_row()?.deviation).map_or(Ratio::ZERO, Ratio::abs)
}
