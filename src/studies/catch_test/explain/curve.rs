//! A cause as a curve: what it changes in the network or in what was read, by one number, with how likely each of its sizes is
//! before anything is caught.

use super::answer::{CauseId, CauseSize};
use crate::hydraulics::faulty::Fault;
use crate::hydraulics::variation::{ElementId, Parameter};
use crate::plan::FeedId;
use crate::quantities::{Length, Pressure, Ratio};

/// How a number makes it larger.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Making {
    /// A share of the area of each of these bores is closed: from 0 to below 1.
    Narrower(Vec<Parameter>),
    /// Each of these bores has so much more area: from 0.
    Wider(Vec<Parameter>),
    /// Other numbers, of one size.
    Numbers(Vec<(Parameter, f64)>, CauseSize),
    /// Metering that is not there: its numbers then, the first of which is the bore that is left, in parts of it.
    Lost(Vec<(Parameter, f64)>),
    /// A plate with a hole stands in the way: the natural logarithm of its open share, 0 to below. The coefficient at the
    /// bore there, with what is planned.
    Plate(Parameter, f64),
    /// A number is so many times what it should be: the logarithm of that.
    Times(Parameter, f64),
    /// A check valve opens at so many times what it should.
    Cracking(Parameter, f64),
    /// A filter's coefficient is so many times that of a clean one, with what it takes clean, Pa: the logarithm of that.
    Loaded(Parameter, f64, f64),
    /// A hole of so many metres: the logarithm of that.
    Hole(ElementId),
    /// Two row feeds begin at each other's outlet.
    FeedsExchanged(FeedId, FeedId),
    /// A row, by its place in the bar, is written down as so many times what came: the logarithm of that.
    RowMisread(usize),
    /// All rows are.
    AllMisread,
    /// A watched part, by its place, shows so much more, Pa.
    GaugeOff(usize),
}

/// One place on the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum At {
    /// At a value of the number.
    Number(f64),
    /// Wholly closed.
    Closed(Fault),
}

/// A cause, with places on its curve that are solved. Between two places with numbers, what is read is taken to change evenly.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curve {
    pub(super) id: CauseId,
    pub(super) making: Making,
    /// Which part of its kind's weight it has.
    pub(super) share: f64,
    pub(super) places: Vec<At>,
    /// How likely it is that the size is that of a place itself, and that it lies between a place and the next; together 1.
    pub(super) at: Vec<f64>,
    pub(super) between: Vec<f64>,
}

/// What is done to what was solved, to get what is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Misread {
    Row(usize, f64),
    All(f64),
    Part(usize, f64),
}

/// A cause of one size: what it changes.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Effect {
    pub(super) faults: Vec<Fault>,
    pub(super) misread: Vec<Misread>,
}

impl Effect {
    /// Both at once.
    pub(super) fn and(mut self, other: Self) -> Self {
        self.faults.extend(other.faults);
        self.misread.extend(other.misread);
        self
    }
}

impl Curve {
    /// A cause whose number lies evenly between the first and the last of these with probability `spread`, or else at the
    /// point that follows them.
    pub(super) fn spread(id: CauseId, making: Making, numbers: &[f64], then: Option<(At, f64)>) -> Self {
        let range = numbers.last().zip(numbers.first()).map_or(1.0, |(last, first)| last - first);
        let rest = 1.0 - then.map_or(0.0, |one| one.1);
        let mut places: Vec<At> = numbers.iter().map(|number| At::Number(*number)).collect();
        let mut between: Vec<f64> =
            numbers.windows(2).map(|pair| rest * (pair[1] - pair[0]) / range).collect();
        let mut at = vec![0.0; places.len()];
        between.push(0.0);
        if let Some((place, part)) = then {
            places.push(place);
            at.push(part);
            between.push(0.0);
        }
        Self { id, making, share: 1.0, places, at, between }
    }

    /// A cause of one size.
    pub(super) fn point(id: CauseId, making: Making, place: At) -> Self {
        Self { id, making, share: 1.0, places: vec![place], at: vec![1.0], between: vec![0.0] }
    }

    /// Adds numbers that it may have by themselves, each with its probability; what it had before keeps the rest.
    pub(super) fn or_at(mut self, numbers: &[(f64, f64)]) -> Self {
        let rest = 1.0 - numbers.iter().map(|one| one.1).sum::<f64>();
        self.at.iter_mut().chain(&mut self.between).for_each(|part| *part *= rest);
        for (number, part) in numbers {
            self.places.push(At::Number(*number));
            self.at.push(*part);
            self.between.push(0.0);
        }
        self
    }

    /// What it changes at a place.
    pub(super) fn effect(&self, place: At) -> Effect {
        let x = match place {
            At::Number(x) => x,
            At::Closed(fault) => return Effect { faults: vec![fault], misread: Vec::new() },
        };
        let number = |parameter: &Parameter, value: f64| Fault::Number(*parameter, value);
        let times = |all: &[Parameter], times: f64| all.iter().map(|one| Fault::Times(*one, times)).collect();
        let faults = match &self.making {
            Making::Narrower(bores) => times(bores, (1.0 - x).max(0.0).sqrt()),
            Making::Wider(bores) => times(bores, (1.0 + x).sqrt()),
            Making::Numbers(all, _) => all.iter().map(|(one, value)| number(one, *value)).collect(),
            Making::Lost(all) => {
                let times = |at: usize| if at == 0 { x } else { 1.0 };
                all.iter().enumerate().map(|(at, (one, value))| number(one, value * times(at))).collect()
            }
            Making::Plate(one, planned) => vec![number(one, planned + plate(x.exp()))],
            Making::Times(one, planned) | Making::Loaded(one, planned, _) => {
                vec![number(one, planned * x.exp())]
            }
            Making::Cracking(one, planned) => vec![number(one, planned * x)],
            Making::Hole(element) => vec![Fault::Leak(*element, x.exp())],
            Making::FeedsExchanged(one, other) => vec![Fault::FeedsExchanged(*one, *other)],
            Making::RowMisread(_) | Making::AllMisread | Making::GaugeOff(_) => Vec::new(),
        };
        let misread = match self.making {
            Making::RowMisread(row) => vec![Misread::Row(row, x.exp())],
            Making::AllMisread => vec![Misread::All(x.exp())],
            Making::GaugeOff(part) => vec![Misread::Part(part, x)],
            _ => Vec::new(),
        };
        Effect { faults, misread }
    }

    /// How large it is at a place.
    pub(super) fn size(&self, place: At) -> CauseSize {
        let x = match place {
            At::Number(x) => x,
            At::Closed(_) => return CauseSize::Closed(Ratio::from_si(1.0)),
        };
        match &self.making {
            Making::Narrower(..) => CauseSize::Closed(Ratio::from_si(x)),
            Making::Wider(..) => CauseSize::Wider(Ratio::from_si(x)),
            Making::Numbers(_, size) => size.clone(),
            Making::Plate(..) => CauseSize::Closed(Ratio::from_si(1.0 - x.exp())),
            Making::Times(..) | Making::RowMisread(_) | Making::AllMisread => {
                CauseSize::Times(Ratio::from_si(x.exp()))
            }
            Making::Loaded(_, _, clean) => CauseSize::Takes(Pressure::from_si(clean * (x.exp() - 1.0))),
            Making::Cracking(_, planned) => CauseSize::OpensAt(Pressure::from_si(planned * x)),
            Making::Hole(_) => CauseSize::Hole(Length::from_si(x.exp())),
            Making::FeedsExchanged(..) | Making::Lost(_) => CauseSize::None,
            Making::GaugeOff(_) => CauseSize::Shows(Pressure::from_si(x)),
        }
    }

    /// The place so far, 0 to 1, from one to the next.
    pub(super) fn place_between(&self, first: usize, part: f64) -> At {
        match (self.places[first], self.places.get(first + 1)) {
            (At::Number(from), Some(At::Number(to))) if part > 0.0 => At::Number(from + part * (to - from)),
            (place, _) => place,
        }
    }

    /// Numbers of the network that it changes.
    fn numbers(&self) -> Vec<Parameter> {
        match &self.making {
            Making::Narrower(all) | Making::Wider(all) => all.clone(),
            Making::Numbers(all, _) | Making::Lost(all) => all.iter().map(|one| one.0).collect(),
            Making::Plate(one, _)
            | Making::Times(one, _)
            | Making::Cracking(one, _)
            | Making::Loaded(one, ..) => vec![*one],
            Making::Hole(_)
            | Making::FeedsExchanged(..)
            | Making::RowMisread(_)
            | Making::AllMisread
            | Making::GaugeOff(_) => Vec::new(),
        }
    }

    /// Whether both change the same thing, so that they are no two causes.
    pub(super) fn is_of_the_same_thing(&self, other: &Self) -> bool {
        let shares_a_place = self.id.places.iter().any(|one| other.id.places.contains(one));
        let same_rows = self.id.rows == other.id.rows && !self.id.rows.is_empty();
        let once = match (&self.making, &other.making) {
            (Making::Times(..), Making::Times(..)) => true,
            (Making::AllMisread, Making::AllMisread) => return true,
            // What is put in a place is there once; how worn or crusted it is comes on top.
            (Making::Numbers(..) | Making::Lost(_), Making::Numbers(..) | Making::Lost(_)) => true,
            _ => self.id.kind.is_of_all_metering() && other.id.kind.is_of_all_metering(),
        };
        let shares_a_number = || {
            let (own, others) = (self.numbers(), other.numbers());
            own.iter().any(|number| others.contains(number))
        };
        shares_a_place || same_rows || (once && shares_a_number())
    }
}

/// Loss coefficient of a thin plate with a sharp hole of this share of the area, at the full bore (Idelchik, Handbook of
/// Hydraulic Resistance, section 4, from memory): `((1 + 0.707 √(1 - f) - f) / f)²`.
fn plate(open: f64) -> f64 {
    let f = open.clamp(1e-4, 1.0);
    ((1.0 + 0.707 * (1.0 - f).sqrt() - f) / f).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand from the formula: a half-open plate has `(1 + 0.5 - 0.5)² / 0.25 = 4.0`, an open one nothing; a small
    /// hole comes to the orifice of a contraction to 0.59 or so: `(1.707 / f)²`.
    #[test]
    fn a_plate_takes_what_its_formula_says() {
        assert!((plate(0.5) - 4.0).abs() < 0.01);
        assert_eq!(plate(1.0), 0.0);
        assert!((plate(0.01) / (1.69 / 0.01_f64).powi(2) - 1.0).abs() < 0.02);
    }
}
