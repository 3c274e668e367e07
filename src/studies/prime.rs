//! How long until liquid comes to each row, what the lines hold, what a flush displaces, and what drains when the pump stops.
//!
//! Filling is that of [`filling`](crate::hydraulics::filling): a front in each line, which moves at the flow the line gets
//! while others still fill; what it neglects stands there. A flush is reckoned as plug flow along the way that brings a row
//! most of its liquid. What drains: below each check valve all of it; above, only where a valve does not hold what stands
//! on it from the tank's surface, down to the level at which it shuts.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::graph::EdgeIndex;

use super::asked::no_numbers;
use super::report::{
    OnPaper, SeriesForm, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyReport, StudyRow, StudySeries,
    StudyTable,
};
use super::{NoAnswer, Studied, Study, Waiting, reliance};
use crate::geometry::Point3;
use crate::hydraulics::filling::{NotFilled, fill};
use crate::hydraulics::slope::{height, upward};
use crate::hydraulics::ways::{Held, Passed, RowWay};
use crate::hydraulics::{KeptSolver, PreparedRouting};
use crate::plan::{ElementItem, FeedElement, Item, OperatingPoint, RowId, words};
use crate::quantities::{Angle, GRAVITY_M_S2, Length, Measure, Pressure, Volume};

/// Laminar flow leaves a film at the wall: what a flush takes in practice, in times of what plug flow takes (common practice,
/// no source).
const FLUSH_TIMES: f64 = 2.0;

/// When a row has liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrimedRow {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// From empty lines to liquid at its outlet, s; none where none comes.
    pub fill_s: Option<f64>,
    /// How far the bar is driven meanwhile.
    pub driven: Option<Length>,
    /// What its way from the pump holds.
    pub way: Volume,
    /// How long a flush takes to come to its outlet, s: plug flow.
    pub clear_s: f64,
}

/// What holds liquid: a hose, a part's body, the tubes of a row feed.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldIn {
    /// Its tag.
    pub tag: String,
    /// What it is.
    pub what: Holds,
    /// What it holds when liquid has come as far as it comes; ends that keep their air hold nothing.
    pub volume: Volume,
    /// When it is full, s from the start, but for ends that keep their air; none where nothing of it fills.
    pub full_s: Option<f64>,
}

/// Kinds of what holds liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holds {
    /// Hoses from the pump to the manifolds.
    Hoses,
    /// Bodies of manifolds.
    Manifolds,
    /// Delivery tubes of rows.
    Tubes,
    /// Metering tubes.
    MeteringTubes,
}

impl Holds {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hoses => "hoses",
            Self::Manifolds => "manifolds",
            Self::Tubes => "delivery tubes",
            Self::MeteringTubes => "metering tubes",
        }
    }
}

/// What drains with the pump off, in one position of the bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Drained {
    /// Side slope; positive = right side up.
    pub side_slope: Angle,
    /// Fore-aft slope; positive = nose up.
    pub fore_aft_slope: Angle,
    /// What hangs below check valves and drains in any case.
    pub below_valves: Volume,
    /// What the bar loses beside that, down to the level at which the last valve shuts; the tank runs out after it.
    pub above_level: Volume,
    /// Rows whose check valve does not hold what stands on it, by number.
    pub open_rows: Vec<u32>,
    /// Rows without a check valve, by number.
    pub without_valve: Vec<u32>,
}

/// How the bar fills and clears.
#[derive(Debug, Clone, PartialEq)]
pub struct PrimeStudy {
    /// The rows that are joined to the supply, in the bar's order.
    pub rows: Vec<PrimedRow>,
    /// What the lines hold from the pump to the outlets.
    pub held: Volume,
    /// What each line holds, in the routing's order.
    pub lines: Vec<HeldIn>,
    /// What has come from the pump by the time the last row has liquid.
    pub supplied: Volume,
    /// Flat, and on the slopes that are tried, each way.
    pub drained: Vec<Drained>,
    /// What to know before relying on it.
    pub warnings: Vec<String>,
}

impl PrimeStudy {
    /// The row that has liquid first, and the one that has it last, of those that get any.
    pub fn first_and_last(&self) -> Option<[PrimedRow; 2]> {
        let times = || self.rows.iter().filter_map(|row| Some((row.fill_s?, *row)));
        // Of several at the same time the first of the bar.
        let (_, first) = times().reduce(|a, b| if b.0 < a.0 { b } else { a })?;
        let (_, last) = times().reduce(|a, b| if b.0 > a.0 { b } else { a })?;
        Some([first, last])
    }

    /// Rows that are joined to the supply and never have liquid, by number.
    pub fn dry_rows(&self) -> Vec<u32> {
        self.rows.iter().filter(|row| row.fill_s.is_none()).map(|row| row.number).collect()
    }

    /// What each kind of line holds.
    pub fn by_kind(&self) -> BTreeMap<Holds, Volume> {
        let mut all = BTreeMap::new();
        for line in &self.lines {
            *all.entry(line.what).or_insert(Volume::ZERO) += line.volume;
        }
        all
    }

    /// How long a flush takes until the last row runs clear, s: plug flow.
    pub fn clear_s(&self) -> f64 {
        self.rows.iter().filter(|row| row.fill_s.is_some()).map(|row| row.clear_s).fold(0.0, f64::max)
    }
}

/// Fills the empty routing at the point's speed.
///
/// # Errors
/// Where the routing has no numbers at the point, a state on the way can't be solved, or whoever waits stops it.
pub fn study(of: &Studied, waiting: &dyn Waiting) -> Result<PrimeStudy, NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(of.project, of.routing);
    let outcome = prepared.solve(&of.point);
    if outcome.numbers().is_none() {
        return Err(no_numbers(of, &outcome));
    }
    let (ways, held) = (prepared.ways(), prepared.held());
    let assembly = prepared.assembly();
    let filling = fill(&assembly.network, assembly.supply, &mut |part| {
        waiting.so_far(part as f32);
        !waiting.has_stopped()
    })
    .map_err(|why| match why {
        NotFilled::Stopped => NoAnswer::Stopped,
        NotFilled::Failed(failure) => NoAnswer::impossible(
            format!("a half-filled state of routing {} can't be solved: {failure}", of.routing.name),
            "try it at another speed",
        ),
        NotFilled::TooLong => NoAnswer::impossible(
            format!("the fronts in routing {} come to no end", of.routing.name),
            "try it at another speed",
        ),
    })?;
    let volume = |link: EdgeIndex| held.get(link.index()).map_or(0.0, |one| one.volume_m3);
    let outlets = prepared.outlets();
    let rows = of.project.bar.rows.iter().filter_map(|row| {
        let outlet = outlets.get(&row.id)?;
        let way = ways.iter().find(|way| way.row == row.id);
        let steps = || way.into_iter().flat_map(|way| &way.steps);
        let fill_s = filling.node_s.get(outlet.index()).copied().flatten().filter(|_| way.is_some());
        Some(PrimedRow {
            row: row.id,
            number: row.number,
            fill_s,
            driven: fill_s.map(|time| Length::metres(time * of.point.speed.si())),
            way: Volume::from_si(steps().map(|step| volume(step.link)).sum()),
            clear_s: steps().map(|step| volume(step.link) / step.flow.si()).sum(),
        })
    });
    let rows: Vec<PrimedRow> = rows.collect();
    let lines = lines(of, &held, &filling.link_s);
    let drained = drained(of, &mut prepared)?;
    Ok(PrimeStudy {
        rows,
        held: lines.iter().map(|line| line.volume).sum(),
        lines,
        supplied: Volume::from_si(filling.supplied_m3),
        drained,
        warnings: reliance::warnings(of, &outcome),
    })
}

/// What each hose, body and row feed holds; links of one thing together.
fn lines(of: &Studied, held: &[Held], link_s: &[Option<f64>]) -> Vec<HeldIn> {
    let mut all: Vec<(Passed, HeldIn)> = Vec::new();
    for one in held.iter().filter(|one| one.volume_m3 > 0.0) {
        let what = match one.of {
            Passed::Run(_) => Holds::Hoses,
            Passed::Part(_) | Passed::SmallTee(_) => Holds::Manifolds,
            Passed::Element(id) => match of.element(id) {
                Some(FeedElement::MeteringTube { .. }) => Holds::MeteringTubes,
                _ => Holds::Tubes,
            },
        };
        let full_s = link_s.get(one.link.index()).copied().flatten();
        // What keeps its air holds no liquid.
        let volume = full_s.map_or(Volume::ZERO, |_| Volume::from_si(one.volume_m3));
        let tag = of.tag(one.of);
        let same =
            |(of, line): &&mut (Passed, HeldIn)| *of == one.of || (line.tag == tag && line.what == what);
        match all.iter_mut().find(same) {
            Some((_, line)) => {
                line.volume += volume;
                // Ends of a body that nothing hangs on keep their air.
                line.full_s = line.full_s.into_iter().chain(full_s).reduce(f64::max);
            }
            None => {
                all.push((one.of, HeldIn { tag, what, volume, full_s }));
            }
        }
    }
    all.into_iter().map(|(_, line)| line).collect()
}

/// What drains on the flat of the point, and on the slopes that are tried.
fn drained(of: &Studied, prepared: &mut PreparedRouting) -> Result<Vec<Drained>, NoAnswer> {
    let tried = of.project.limits.tried_slope;
    let (side, fore_aft) = (of.point.side_slope, of.point.fore_aft_slope);
    let mut positions = vec![(side, fore_aft)];
    if tried > Angle::ZERO {
        positions.extend([tried, -tried].map(|slope| (slope, fore_aft)));
        positions.extend([tried, -tried].map(|slope| (side, slope)));
    }
    let mut all = Vec::new();
    for (side_slope, fore_aft_slope) in positions {
        let point = OperatingPoint { side_slope, fore_aft_slope, ..of.point };
        let outcome = prepared.solve(&point);
        if outcome.numbers().is_none() {
            return Err(no_numbers(of, &outcome));
        }
        let density = outcome.liquid.map_or(0.0, |liquid| liquid.density.si());
        all.push(drained_at(of, prepared, &point, density));
    }
    Ok(all)
}

/// The check valve on a way that shuts at the highest pressure: its place on the way, and that pressure.
fn valve(of: &Studied, way: &RowWay) -> Option<(usize, Pressure)> {
    let valves = way.steps.iter().enumerate().filter_map(|(place, step)| {
        let Passed::Element(id) = step.of else { return None };
        match of.project.catalogue.any_item(of.element(id)?.entry())? {
            Item::Element(ElementItem::CheckValve(valve)) => Some((place, valve.closing)),
            _ => None,
        }
    });
    // Of several that shut alike the one nearest to the outlet holds most.
    valves.max_by(|a, b| a.1.si().total_cmp(&b.1.si()).then(a.0.cmp(&b.0)))
}

fn drained_at(of: &Studied, prepared: &PreparedRouting, point: &OperatingPoint, density: f64) -> Drained {
    let (ways, held) = (prepared.ways(), prepared.held());
    let supply = &of.project.supply;
    let up = upward(point.side_slope, point.fore_aft_slope);
    let surface = height(Point3::new(supply.pump.x, supply.pump.y, supply.tank_surface.si()), up);
    let (mut below, mut open_rows, mut without_valve) = (BTreeSet::new(), Vec::new(), Vec::new());
    // The lowest level at which an open way shuts or ends.
    let mut level: Option<f64> = None;
    let number = |row: RowId| of.project.bar.row(row).map_or(0, |row| row.number);
    for way in &ways {
        let (place, closing) =
            valve(of, way).map_or((None, Pressure::ZERO), |(place, closing)| (Some(place), closing));
        let from = place.unwrap_or(way.steps.len().saturating_sub(1));
        let Some(at) = way.steps.get(from).and_then(|step| held.get(step.link.index())) else { continue };
        // A valve at its inlet, a way without one at its outlet.
        let stands_at = match place {
            Some(_) => at.heights_m[0],
            None => at.heights_m[1],
        };
        if let Some(place) = place {
            below.extend(way.steps.iter().skip(place + 1).map(|step| step.link));
        } else {
            without_valve.push(number(way.row));
        }
        let shuts_at = stands_at + closing.si() / (density * GRAVITY_M_S2);
        if surface >= shuts_at {
            if place.is_some() {
                open_rows.push(number(way.row));
            }
            level = Some(level.map_or(shuts_at, |level| level.min(shuts_at)));
        }
    }
    let below_volume: f64 =
        below.iter().filter_map(|link| held.get(link.index())).map(|one| one.volume_m3).sum();
    let above = |one: &Held| {
        let level = level?;
        let [low, high] = [one.heights_m[0].min(one.heights_m[1]), one.heights_m[0].max(one.heights_m[1])];
        let part = if high > low {
            ((high - level) / (high - low)).clamp(0.0, 1.0)
        } else {
            f64::from(high > level)
        };
        Some(one.volume_m3 * part)
    };
    let lost: f64 = held.iter().filter(|one| !below.contains(&one.link)).filter_map(above).sum();
    Drained {
        side_slope: point.side_slope,
        fore_aft_slope: point.fore_aft_slope,
        below_valves: Volume::from_si(below_volume),
        above_level: Volume::from_si(lost),
        open_rows,
        without_valve,
    }
}

/// The study as it is shown.
pub fn report(study: &PrimeStudy, of: &Studied) -> StudyReport {
    let ends = study.first_and_last();
    let row = |row: &PrimedRow| {
        let time = |time: Option<f64>| {
            time.map_or_else(|| StudyCell::Unknown("never".to_owned()), StudyCell::Number)
        };
        let is_last = ends.is_some_and(|[_, last]| last.row == row.row);
        let mark = match row.fill_s {
            None => StudyMark::OutsideLimits,
            Some(_) if is_last => StudyMark::Last,
            Some(_) => StudyMark::None,
        };
        StudyRow {
            mark,
            row: Some(row.row),
            ..StudyRow::new(vec![
                StudyCell::Words(row.number.to_string()),
                time(row.fill_s),
                row.driven.map_or(StudyCell::Empty, |driven| StudyCell::Number(driven.si())),
                StudyCell::Number(row.way.si()),
                time(row.fill_s.map(|_| row.clear_s)),
            ])
        }
    };
    let kinds = study.by_kind().into_iter().map(|(kind, volume)| {
        StudyRow::new(vec![StudyCell::Words(kind.words().to_owned()), StudyCell::Number(volume.si())])
    });
    let in_all = StudyRow::new(vec![
        StudyCell::Words("in all, from the pump to the outlets".to_owned()),
        StudyCell::Number(study.held.si()),
    ]);
    let line = |line: &HeldIn| {
        StudyRow::new(vec![
            StudyCell::Words(line.tag.clone()),
            StudyCell::Words(line.what.words().to_owned()),
            StudyCell::Number(line.volume.si()),
            line.full_s
                .map_or_else(|| StudyCell::Unknown("air keeps it empty".to_owned()), StudyCell::Number),
        ])
    };
    let tables = vec![
        StudyTable {
            title: "Until liquid comes".to_owned(),
            columns: vec![
                StudyColumn::words("Row"),
                StudyColumn::number("Liquid after", Measure::Duration),
                StudyColumn::number("Driven meanwhile", Measure::Distance),
                StudyColumn::number("Its way holds", Measure::Volume),
                StudyColumn::number("Runs clear after", Measure::Duration),
            ],
            rows: study.rows.iter().map(row).collect(),
            notes: vec![
                "from empty lines; neglected: the liquid's inertia and the air's, which leaves at the outlets once it has opened \
                 the check valves; liquid that runs down an empty tube does not suck"
                    .to_owned(),
                "runs clear: new liquid pushes the old before it without mixing; run it twice as long, since a film stays at the \
                 wall (common practice, no source)"
                    .to_owned(),
            ],
            on_paper: OnPaper::MarkedLines,
        },
        StudyTable {
            title: "What the lines hold".to_owned(),
            columns: vec![StudyColumn::words("In"), StudyColumn::number("Liquid", Measure::Volume)],
            rows: kinds.chain([in_all]).collect(),
            notes: Vec::new(),
            on_paper: OnPaper::Whole,
        },
        StudyTable {
            title: "Line by line".to_owned(),
            columns: vec![
                StudyColumn::words("Tag"),
                StudyColumn::words("In"),
                StudyColumn::number("Holds", Measure::Volume),
                StudyColumn::number("Full after", Measure::Duration),
            ],
            rows: study.lines.iter().map(line).collect(),
            notes: Vec::new(),
            on_paper: OnPaper::Nothing,
        },
        StudyTable {
            title: "With the pump off".to_owned(),
            columns: vec![
                StudyColumn::words("The bar stands"),
                StudyColumn::number("Below valves", Measure::Volume),
                StudyColumn::number("Beside that", Measure::Volume),
                StudyColumn::words("Valves that do not hold, rows"),
            ],
            rows: study.drained.iter().map(|one| drained_row(one, of)).collect(),
            notes: vec![
                "what hangs below a check valve drains; a valve that does not hold what stands on it from the full tank lets the \
                 lines run empty down to where it shuts, and the tank after them unless a valve at the tank is shut"
                    .to_owned(),
            ],
            on_paper: OnPaper::Nothing,
        },
    ];
    let points = study.rows.iter().filter_map(|row| Some([f64::from(row.number), row.fill_s?])).collect();
    let plot = StudyPlot {
        title: "Until liquid comes".to_owned(),
        x: StudyColumn::number("Row", Measure::Plain),
        y: StudyColumn::number("Liquid after", Measure::Duration),
        series: vec![StudySeries { name: "row".to_owned(), form: SeriesForm::Bars, points }],
    };
    let warnings = study.warnings.clone();
    StudyReport { study: Study::Prime, answer: answer(study, of), warnings, tables, plots: vec![plot] }
}

/// `level`, or the slope in words.
fn stands(one: &Drained, of: &Studied) -> String {
    let units = of.project.units;
    let slopes = [
        (one.side_slope, format!("side slope {}", words::side_slope(one.side_slope, units))),
        (one.fore_aft_slope, format!("fore-aft slope {}", words::fore_aft_slope(one.fore_aft_slope, units))),
    ];
    let named: Vec<String> =
        slopes.into_iter().filter(|(slope, _)| *slope != Angle::ZERO).map(|(_, words)| words).collect();
    if named.is_empty() { "level".to_owned() } else { named.join(", ") }
}

fn drained_row(one: &Drained, of: &Studied) -> StudyRow {
    let mut rows = one.open_rows.clone();
    rows.extend(&one.without_valve);
    StudyRow {
        mark: if rows.is_empty() { StudyMark::None } else { StudyMark::OutsideLimits },
        ..StudyRow::new(vec![
            StudyCell::Words(stands(one, of)),
            StudyCell::Number(one.below_valves.si()),
            StudyCell::Number(one.above_level.si()),
            StudyCell::Words(if rows.is_empty() { "all hold".to_owned() } else { words::ranges(&rows) }),
        ])
    }
}

fn answer(study: &PrimeStudy, of: &Studied) -> Vec<String> {
    let units = of.project.units;
    let volume = |volume: Volume| Measure::Volume.text(volume.si(), units);
    let seconds = |time: f64| Measure::Duration.text(time, units);
    let mut all = Vec::new();
    if let Some([first, last]) = study.first_and_last() {
        let (early, late) = (first.fill_s.unwrap_or(0.0), last.fill_s.unwrap_or(0.0));
        let driven = Measure::Distance.text(last.driven.map_or(0.0, Length::si), units);
        all.push(format!(
            "start the pump {} before the bar moves: from empty lines liquid comes to row {} after {} and to row {} last, and at {} \
             that would be {driven} of rows without liquid",
            seconds(late),
            first.number,
            seconds(early),
            last.number,
            Measure::GroundSpeed.text(of.point.speed.si(), units),
        ));
    }
    let dry = study.dry_rows();
    if !dry.is_empty() {
        let row = if dry.len() == 1 { "row" } else { "rows" };
        all.push(format!("no liquid ever comes to {row} {}", words::ranges(&dry)));
    }
    let kinds: Vec<String> = study
        .by_kind()
        .into_iter()
        // What is nothing to two decimals is not worth a word.
        .filter(|(_, held)| held.si() >= 5e-6)
        .map(|(kind, held)| format!("{} in {}", volume(held), kind.words()))
        .collect();
    all.push(format!("the lines hold {}: {}", volume(study.held), words::list(&kinds)));
    let clear = study.clear_s();
    all.push(format!(
        "a flush at this flow displaces all of it and runs clear at the last row after {}; let it run {}",
        seconds(clear),
        seconds(clear * FLUSH_TIMES)
    ));
    let fails = study.drained.iter().find(|one| !one.open_rows.is_empty());
    let hangs = study.drained.first().map_or(Volume::ZERO, |one| one.below_valves);
    all.push(match fails {
        None => format!(
            "with the pump off the check valves hold, level and on the slopes that are tried; {} hang below them and drain",
            volume(hangs)
        ),
        Some(one) => {
            let row = if one.open_rows.len() == 1 { "row" } else { "rows" };
            let stands = stands(one, of);
            format!(
                "with the pump off and the bar on {stands} the check valves of {row} {} do not hold the full tank: shut a valve at the \
                 tank, or it runs out there, and {} of what is in the lines with it",
                words::ranges(&one.open_rows),
                volume(one.above_level)
            )
            .replace("the bar on level", "the bar level")
        }
    });
    if let Some(without) = study.drained.first().map(|one| &one.without_valve).filter(|rows| !rows.is_empty())
    {
        let row = if without.len() == 1 { "row" } else { "rows" };
        all.push(format!(
            "{row} {} have no check valve: the lines drain there when the pump stops",
            words::ranges(without)
        ));
    }
    all
}
