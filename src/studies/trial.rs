//! A routing solved at the slowest, usual and fastest speed of every duty, and held against the project's limits.

use std::collections::BTreeMap;

use super::asked::{NoAnswer, Studied};
use crate::hydraulics::losses::{coil, orifice, reynolds};
use crate::hydraulics::outcome::{RowState, RowsCovered};
use crate::hydraulics::{KeptSolver, Outcome, PreparedRouting};
use crate::plan::pressure_bound::{PressureBound, is_no_margin};
use crate::plan::words::called;
use crate::plan::{
    CheckValve, ElementItem, ElementKind, FeedElement, OperatingPoint, Project, Routing, RoutingGeometry,
    RowId,
};
use crate::quantities::{ApplicationRate, Flow, Pressure, Ratio, Speed};
use strum::EnumCount;

/// What has to hold from the slowest to the fastest speed of every duty; those that are given up first come first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, EnumCount)]
pub enum Requirement {
    /// The pump keeps a margin to what bounds its pressure. It is the only one that is no limit of the project: what meets all
    /// others fits, and what meets this one too comes first.
    Margin,
    /// The mesh before it is fine enough for its opening.
    Passage,
    /// It takes so many times the cracking pressure of the check valve that the valve's scatter does not show.
    Scatter,
    /// Its flow can be predicted: it is out of the zone between laminar and turbulent flow.
    Predictable,
    /// Every row gets its target within the limit.
    Rows,
    /// The supply gives what is asked.
    Pressure,
    /// No liquid attacks what it and its check valve are made of, as entered for both.
    Material,
}

impl Requirement {
    /// All, in that order.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Margin,
        Self::Passage,
        Self::Scatter,
        Self::Predictable,
        Self::Rows,
        Self::Pressure,
        Self::Material,
    ];

    /// Its name for programs.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Margin => "margin",
            Self::Passage => "passage",
            Self::Scatter => "metering_over_cracking",
            Self::Predictable => "predictable",
            Self::Rows => "row_deviation",
            Self::Pressure => "supply",
            Self::Material => "material",
        }
    }

    /// What is amiss where it is not granted.
    pub const fn broken_words(self) -> &'static str {
        match self {
            Self::Margin => "no margin left",
            Self::Passage => "mesh too coarse",
            Self::Scatter => "too little over the metering",
            Self::Predictable => "flow not predictable",
            Self::Rows => "rows off target",
            Self::Pressure => "too little supply pressure",
            Self::Material => "attacked by the liquid",
        }
    }
}

/// What is not granted at some points, each once: what the supply can't give at one of them leaves no margin at another, and
/// says more.
pub(super) fn without_what_is_said(mut broken: Vec<Requirement>) -> Vec<Requirement> {
    if broken.contains(&Requirement::Pressure) {
        broken.retain(|requirement| *requirement != Requirement::Margin);
    }
    broken
}

/// What a solve at one speed comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Where.
    pub point: OperatingPoint,
    /// Gauge pressure at the pump's outlet; none where nothing was solved.
    pub pump: Option<Pressure>,
    /// Least and most that the metering of a fed row takes.
    pub metering: Option<(Pressure, Pressure)>,
    /// Least that the metering of a row takes, as a multiple of the cracking pressure of its check valve; none without
    /// a check valve.
    pub over_cracking: Option<f64>,
    /// Least and largest Reynolds number in the bores that meter.
    pub reynolds: Option<(f64, f64)>,
    /// Coefficient of variation over the fed rows (of all: population).
    pub cv: Option<Ratio>,
    /// Deviation from target of the fed row that is farthest from it, with its sign.
    pub farthest: Option<(RowId, Ratio)>,
    /// Mean deviation of the fed rows from their targets, with its sign.
    pub mean: Option<Ratio>,
    /// The largest deviation of a fed row from the mean of all, without its sign.
    pub spread: Option<Ratio>,
    /// The speed at which the farthest rows are as far above their targets as below, if the flow stays what it is here.
    pub balanced: Option<Speed>,
    /// What the supply gives less than asked.
    pub missing: Option<Flow>,
    /// What leaves the pump.
    pub total: Flow,
    /// What the pump can deliver beyond what all rows ask, as a share of that; none where its capacity is not entered.
    pub reserve: Option<Ratio>,
    /// The rows that this is over.
    pub rows: RowsCovered,
    /// What is not granted here, first what is given up first.
    pub broken: Vec<Requirement>,
}

impl Judged {
    /// All limits of the project are kept here: all is granted but perhaps the margin.
    pub(super) fn keeps_limits(&self) -> bool {
        self.broken.iter().all(|requirement| *requirement == Requirement::Margin)
    }
}

/// The slowest, usual and fastest point of every duty: the one that is looked at first, as it is looked at, then the
/// others in their order, as they are designed for.
pub(super) fn points(of: &Studied) -> Result<Vec<[OperatingPoint; 3]>, NoAnswer> {
    let looked_at = of.project.duty(of.point.duty);
    let others = of.project.duties.iter().filter(|duty| duty.id != looked_at.id);
    let mut all = Vec::new();
    for duty in std::iter::once(looked_at).chain(others) {
        let name = called("duty", &duty.name, duty.id.0);
        let base = if duty.id == looked_at.id {
            OperatingPoint { duty: duty.id, ..of.point }
        } else {
            duty.usual_point()
        };
        let speeds = duty.speeds();
        let are_sound = speeds.iter().all(|speed| speed.is_finite() && *speed > Speed::ZERO);
        if !are_sound || duty.slowest > duty.usual || duty.usual > duty.fastest {
            return Err(NoAnswer::impossible(
                format!("{name}: its speeds are not in order, or one is zero"),
                "give a slowest speed above 0, at most the usual one, and a usual one at most the fastest",
            ));
        }
        if !(base.rate > ApplicationRate::ZERO) {
            return Err(NoAnswer::impossible(
                format!("{name}: its application rate is 0, so nothing flows"),
                "give what is to be applied per area",
            ));
        }
        all.push(speeds.map(|speed| OperatingPoint { speed, ..base }));
    }
    Ok(all)
}

/// Does something with a routing's network.
pub(super) fn prepared<R>(
    project: &Project,
    routing: &Routing,
    with: impl FnOnce(&mut PreparedRouting) -> R,
) -> R {
    let geometry = RoutingGeometry::working(project, routing);
    let mut kept = KeptSolver::default();
    with(&mut kept.prepare(project, geometry.with(routing)))
}

/// What meters a row on its way from the outlet.
struct RowWay {
    row: RowId,
    /// Places of what meters it among the elements of an outcome, each with the Reynolds numbers at which its flow can't
    /// be predicted.
    metering: Vec<(usize, [f64; 2])>,
    /// Of all check valves on the way, Pa.
    cracking: f64,
}

/// Holds outcomes of one routing against the limits of its project.
pub(super) struct Judge<'a> {
    project: &'a Project,
    ways: Vec<RowWay>,
    /// What bounds the pressure at the pump; none where nobody asks for its margin.
    bound: Option<&'a PressureBound>,
}

impl<'a> Judge<'a> {
    pub(super) fn new(project: &'a Project, routing: &Routing, bound: Option<&'a PressureBound>) -> Self {
        let mut ways = Vec::new();
        let mut first = 0;
        for feed in &routing.feeds {
            let trunk: Vec<(usize, &FeedElement)> = (first..).zip(&feed.trunk).collect();
            first += feed.trunk.len();
            for branch in &feed.branches {
                let own = (first..).zip(&branch.elements);
                first += branch.elements.len();
                let mut way = RowWay { row: branch.row, metering: Vec::new(), cracking: 0.0 };
                for (place, element) in trunk.iter().copied().chain(own) {
                    if element.is_metering() {
                        way.metering.push((place, zone(project, element)));
                    }
                    if let FeedElement::Piece(ElementKind::CheckValve, entry) = element
                        && let Some(ElementItem::CheckValve(CheckValve { cracking, .. })) =
                            project.catalogue.item(entry)
                    {
                        way.cracking += cracking.si();
                    }
                }
                ways.push(way);
            }
        }
        Self { project, ways, bound }
    }

    /// What an outcome of the routing comes to.
    pub(super) fn of(&self, outcome: &Outcome) -> Judged {
        let limits = &self.project.limits;
        let rows: BTreeMap<RowId, _> = outcome.rows().iter().map(|row| (row.row, row)).collect();
        let elements = outcome.elements();
        let mut metering: Option<(Pressure, Pressure)> = None;
        let mut over_cracking: Option<f64> = None;
        let mut reynolds: Option<(f64, f64)> = None;
        let mut predictable = true;
        for way in &self.ways {
            if rows.get(&way.row).is_none_or(|row| row.state != RowState::Fed || row.deviation.is_none()) {
                continue;
            }
            let mut takes = 0.0;
            for (place, zone) in &way.metering {
                let Some(element) = elements.get(*place) else { continue };
                takes += element.drop.map_or(0.0, Pressure::si);
                if let Some(number) = element.reynolds {
                    reynolds =
                        Some(reynolds.map_or((number, number), |(a, b)| (a.min(number), b.max(number))));
                    predictable &= !(zone[0]..=zone[1]).contains(&number);
                }
            }
            let takes = Pressure::from_si(takes);
            metering = Some(metering.map_or((takes, takes), |(a, b)| (a.min(takes), b.max(takes))));
            if way.cracking > 0.0 {
                let times = takes.si() / way.cracking;
                over_cracking = Some(over_cracking.map_or(times, |least| least.min(times)));
            }
        }
        let evenness = outcome.evenness();
        let farthest = outcome.numbers().and_then(|numbers| {
            let row = numbers.farthest_row()?;
            Some((row.row, row.deviation?))
        });
        let spread = evenness.map(|one| {
            let mean = 1.0 + one.mean_deviation.si();
            let of = |end: Ratio| ((1.0 + end.si()) / mean - 1.0).abs();
            Ratio::from_si(of(one.lowest).max(of(one.highest)))
        });
        let missing = outcome.at_limit().map(|(missing, _)| missing);
        let all_fed = outcome.fed_rows() >= outcome.rows_in_total().rows;
        let pump = outcome.numbers().map(|numbers| numbers.pump_pressure);
        let is_lacking = missing.is_some() || pump.is_none();
        let margin = self.bound.zip(pump).map(|(bound, pump)| bound.margin(pump));
        let mut broken = Vec::new();
        // What the supply can't give at all leaves no margin either; that is said already.
        if !is_lacking && margin.is_some_and(is_no_margin) {
            broken.push(Requirement::Margin);
        }
        if over_cracking.is_some_and(|times| times < limits.metering_over_cracking.si()) {
            broken.push(Requirement::Scatter);
        }
        if !predictable {
            broken.push(Requirement::Predictable);
        }
        if !all_fed || farthest.is_none_or(|(_, one)| one.abs() > limits.row_deviation) {
            broken.push(Requirement::Rows);
        }
        if is_lacking {
            broken.push(Requirement::Pressure);
        }
        Judged {
            point: outcome.point,
            pump,
            metering,
            over_cracking,
            reynolds,
            cv: evenness.map(|one| one.cv),
            farthest,
            mean: evenness.map(|one| one.mean_deviation),
            spread,
            balanced: evenness
                .map(|one| outcome.point.speed * (1.0 + 0.5 * (one.lowest.si() + one.highest.si()))),
            missing,
            total: outcome.numbers().map_or(Flow::ZERO, |numbers| numbers.total_flow),
            reserve: outcome.pump_reserve(&self.project.supply),
            rows: outcome.rows_in_evenness(),
            broken,
        }
    }
}

/// From which to which Reynolds number the flow of a metering element can't be predicted: between laminar and turbulent
/// flow in a tube, later where it is coiled; below that at which its coefficient is no constant any more for an orifice.
fn zone(project: &Project, element: &FeedElement) -> [f64; 2] {
    let limits = &project.limits;
    match element {
        FeedElement::MeteringTube { stock, coil: wound, .. } => {
            let later = project.catalogue.stock(stock).zip(*wound).map_or(1.0, |(stock, wound)| {
                coil::laminar_end(stock.bore.si(), wound.si()) / reynolds::LAMINAR_END
            });
            [limits.reynolds_from.si() * later, limits.reynolds_to.si() * later]
        }
        // A row that passes nothing has a Reynolds number of zero, and is told otherwise.
        _ => [f64::MIN_POSITIVE, orifice::CONSTANT_FROM.next_down()],
    }
}

/// The speeds around a working one at which all that depends on the speed is granted, within a third of a per cent; none
/// where none is found. `works` tells of one speed; `known` are some that were looked at, lowest first, and `likely`
/// others at which it may be granted. Looked at are speeds
/// from a quarter of the lowest to three times the highest of them.
pub(super) fn speed_window(
    known: &[(Speed, bool)],
    likely: &[Speed],
    mut works: impl FnMut(Speed) -> bool,
) -> Option<(Speed, Speed)> {
    const STEP: f64 = 0.8;
    let (lowest, highest) = (known.first()?.0 * 0.25, known.last()?.0 * 3.0);
    let middle = known.get(known.len() / 2).filter(|one| one.1);
    let anchor = middle.or_else(|| known.iter().find(|one| one.1)).map(|one| one.0).or_else(|| {
        let mut between = Vec::new();
        for pair in known.windows(2) {
            between.push((pair[0].0 + pair[1].0) * 0.5);
        }
        let (first, last) = (known.first()?.0, known.last()?.0);
        between.extend([first * STEP, last / STEP, first * STEP * STEP, last / STEP / STEP]);
        likely.iter().copied().chain(between).find(|speed| works(*speed))
    })?;
    let mut edge = |bound: Speed, factor: f64| {
        let beyond = |speed: Speed| if factor < 1.0 { speed < anchor } else { speed > anchor };
        let mut good = anchor;
        let mut looked_at: Vec<(Speed, bool)> = known.iter().copied().filter(|one| beyond(one.0)).collect();
        if factor < 1.0 {
            looked_at.reverse();
        }
        let mut looked_at = looked_at.into_iter();
        let mut bad = loop {
            let (speed, fine) = looked_at.next().unwrap_or_else(|| {
                let next = if factor < 1.0 { (good * factor).max(bound) } else { (good * factor).min(bound) };
                (next, works(next))
            });
            if !fine {
                break speed;
            }
            good = speed;
            if !(if factor < 1.0 { good > bound } else { good < bound }) {
                return good;
            }
        };
        while (bad - good).abs().si() > 0.003 * good.si() {
            let middle = (good + bad) * 0.5;
            if works(middle) { good = middle } else { bad = middle }
        }
        good
    };
    Some((edge(lowest, STEP), edge(highest, 1.0 / STEP)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(known: &[f64], works: impl Fn(f64) -> bool) -> Option<(f64, f64)> {
        let known: Vec<(Speed, bool)> = known.iter().map(|one| (Speed::from_si(*one), works(*one))).collect();
        speed_window(&known, &[], |speed| works(speed.si())).map(|(from, to)| (from.si(), to.si()))
    }

    #[test]
    fn the_window_of_speeds_is_found_from_wherever_something_works() {
        let near = |found: Option<(f64, f64)>, from: f64, to: f64| {
            let (a, b) = found.unwrap();
            assert!((a / from - 1.0).abs() < 0.004 && (b / to - 1.0).abs() < 0.004, "{a} to {b}");
        };
        let between = |from: f64, to: f64| move |speed: f64| speed >= from && speed <= to;
        near(window(&[2.0, 2.5, 3.0], between(1.7, 3.9)), 1.7, 3.9);
        near(window(&[2.0, 2.5, 3.0], between(2.2, 2.9)), 2.2, 2.9);
        near(window(&[2.0, 2.5, 3.0], between(2.6, 2.9)), 2.6, 2.9);
        near(window(&[2.0, 2.5, 3.0], between(1.2, 1.7)), 1.2, 1.7);
        near(window(&[2.0, 2.5, 3.0], |_| true), 0.5, 9.0);
        assert_eq!(window(&[2.0, 2.5, 3.0], |_| false), None);
        // Narrower than the steps that are looked at.
        let narrow = |speed: Speed| (2.83..=2.87).contains(&speed.si());
        let known = [2.0, 2.5, 3.0].map(|speed| (Speed::from_si(speed), false));
        assert_eq!(speed_window(&known, &[], narrow), None);
        let found = speed_window(&known, &[Speed::from_si(2.85)], narrow).map(|(a, b)| (a.si(), b.si()));
        near(found, 2.83, 2.87);
    }
}
