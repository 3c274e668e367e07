//! From a catch test as it was taken down to what the studies work on: the bar as it was, with the liquid that was caught and
//! the pressure that was held, and amounts as flows. What does not count is named, never dropped in silence.

use std::collections::{BTreeMap, BTreeSet};

use super::readings::{CaughtFlow, PressureReading, RowReading, TestedRouting};
use crate::plan::problems::Problem;
use crate::plan::row_target::target;
use crate::plan::words::{called, count, list, ranges, short, short_list};
use crate::plan::{
    Catch, CatchSpan, CatchTest, CaughtAmount, CaughtLiquid, Control, Drive, GaugeReading, Liquid,
    OperatingPoint, Part, PartItem, Project, Routing, RoutingGeometry, RowId, Source,
};
use crate::quantities::{Density, Flow, Measure, Pressure, Ratio, Temperature, Volume};
use crate::studies::{NoAnswer, Studied};

/// A gauge's largest error, and the standard deviation that is taken for it, as a part of its dial's end: class 1.6 of EN 837-1
/// (from memory), usual on machines.
pub const GAUGE_CLASS: f64 = 0.016;

/// Where the dial of a part of a bar ends; none of a part that is no gauge.
pub fn dial(bar: &Project, part: &Part) -> Option<Pressure> {
    match bar.catalogue.item(&part.entry) {
        Some(PartItem::Gauge(gauge)) => Some(gauge.full_scale),
        _ => None,
    }
}

/// The standard deviation that is taken for a reading unless somebody knows it: of a gauge by its dial, of one that was screwed
/// on by the highest pressure of the supply.
pub fn usual_gauge_sd(bar: &Project, dial: Option<Pressure>) -> Pressure {
    dial.unwrap_or_else(|| bar.supply.highest_pressure()) * GAUGE_CLASS
}

/// Rows whose catches contradict each other that are named.
const MOST_APART: usize = 8;

/// No supply is known better than to a part of so much.
const LEAST_SUPPLY_SD: f64 = 1e-4;

/// A catch test with the bar that it was made on, ready to be judged and explained.
pub struct PreparedTest {
    project: Project,
    geometry: RoutingGeometry,
    point: OperatingPoint,
    rows: Vec<RowReading>,
    gauges: Vec<PressureReading>,
    remarks: Vec<Problem>,
    lines_missing: u32,
    no_verdict: Option<String>,
    is_pressure_held: bool,
    supply_sd: f64,
    weighed: Option<Weighed>,
    jug_floor: Option<JugFloor>,
    /// With its own liquid and its own control, where the test had another.
    at_work: Option<Project>,
}

/// By what weights became volumes.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// Density of what was caught.
    pub density: Density,
    /// Of which liquid.
    pub liquid: String,
    /// Where it comes from.
    pub source: Source,
    /// At this temperature.
    pub at: Temperature,
    /// That temperature was measured; else it is the duty's, assumed.
    pub at_is_measured: bool,
}

/// A jug is read as finely low down as at what it usually holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JugFloor {
    /// The middle one of the flows that were caught: what comes at a smaller one is read as finely as this.
    pub flow: Flow,
    /// Standard deviation of an amount, as a part of it.
    pub part: Ratio,
}

/// What a test is made of: its bar with the one routing that was tested.
struct Tested<'a> {
    test: &'a CatchTest,
    bar: &'a Project,
    routing: &'a Routing,
    remarks: Vec<Problem>,
}

impl PreparedTest {
    /// Makes a test of a project ready: bar, routing, duty and supply as they were, units, limits, spreads and
    /// what else the catalogue offers as they are. No
    /// answer where its bar or duty is gone, where its liquid has no properties, or where no catch counts.
    pub fn of(today: &Project, test: &CatchTest) -> Result<Self, NoAnswer> {
        let bar = today.catch_tests.project_of(test);
        let Some((bar, routing)) = bar.and_then(|bar| Some((bar, bar.routings.first()?))) else {
            return Err(NoAnswer::impossible(
                format!("the bar that catch test {} was made on is not kept", short(&test.name)),
                "take the test down anew on the routing of today",
            ));
        };
        let Some(duty) = bar.duties.get(test.duty) else {
            return Err(NoAnswer::impossible(
                format!("the duty that catch test {} was made for is not kept", short(&test.name)),
                "choose a duty of the tested bar",
            ));
        };
        // What is cut and laid follows limits of its own, so the geometry is that of the bar as it was.
        let geometry = RoutingGeometry::working(bar, routing);
        let mut project = Project::clone(bar);
        project.units = today.units;
        project.limits = today.limits;
        project.spreads = today.spreads.clone();
        // What else could have been fitted: entries of the tested bar stand as they were.
        let others = today.catalogue.entries.iter().filter(|one| bar.catalogue.entry(&one.key).is_none());
        project.catalogue.entries.extend(others.cloned());
        let as_designed = project.clone();
        let mut tested_duty = duty.clone();
        if test.liquid == CaughtLiquid::Water {
            tested_duty.liquid = Liquid::water();
        }
        let speed = match test.drive {
            Drive::Speed(speed) => speed,
            Drive::HeldPressure(pressure) => {
                project.supply.control = Control::Held { pressure };
                duty.usual
            }
        };
        let point = OperatingPoint {
            temperature: test.temperature.unwrap_or(duty.temperature),
            side_slope: test.side_slope,
            fore_aft_slope: test.fore_aft_slope,
            ..duty.at(speed)
        };
        let Some(state) = tested_duty.liquid.at(point.temperature) else {
            return Err(NoAnswer::impossible(
                format!("liquid {} has no properties", short(&tested_duty.liquid.name)),
                "add density and viscosity at one temperature at least",
            ));
        };
        let mut tested = Tested { test, bar: &as_designed, routing, remarks: Vec::new() };
        if test.temperature.is_none() {
            let taken = Measure::Temperature.text(point.temperature.si(), today.units);
            tested.remark(
                None,
                format!("nobody measured the temperature of what was caught; {taken} is assumed, the duty's"),
                "measure it at the next test: the viscosity depends on it",
            );
        }
        if state.outside_table {
            let at = Measure::Temperature.text(point.temperature.si(), today.units);
            tested.remark(
                None,
                format!(
                    "{at} lies outside the table of {}; the nearest value is used",
                    tested_duty.liquid.name
                ),
                "add its density and viscosity at that temperature",
            );
        }
        let (rows, typical) = tested.rows(&point, state.density)?;
        let is_below = |row: &RowReading| row.flow() < typical;
        let part = test.scatter.amount;
        let is_told = part > Ratio::ZERO && rows.iter().any(is_below);
        let jug_floor = is_told.then_some(JugFloor { flow: typical, part });
        let weighed = test.catches.iter().any(|catch| matches!(catch.amount, CaughtAmount::Mass(_)));
        let weighed = weighed.then(|| Weighed {
            density: state.density,
            liquid: tested_duty.liquid.name.clone(),
            source: tested_duty.liquid.density_source.clone(),
            at: point.temperature,
            at_is_measured: test.temperature.is_some(),
        });
        let gauges = tested.gauges();
        let remarks = tested.remarks;
        project.duties.put(tested_duty);
        let is_pressure_held = matches!(test.drive, Drive::HeldPressure(_));
        let is_changed = test.liquid == CaughtLiquid::Water || is_pressure_held;
        let at_work = is_changed.then_some(as_designed);
        let lines_missing = test.lines_missing();
        let no_verdict = test.no_verdict().map(str::to_owned);
        let supply_sd = test.scatter.supply.si().max(LEAST_SUPPLY_SD);
        Ok(Self {
            project,
            geometry,
            point,
            rows,
            gauges,
            remarks,
            lines_missing,
            no_verdict,
            is_pressure_held,
            supply_sd,
            weighed,
            jug_floor,
            at_work,
        })
    }

    /// What the studies work on.
    pub fn tested(&self) -> TestedRouting<'_> {
        TestedRouting {
            studied: self.studied(),
            rows: self.rows.clone(),
            gauges: self.gauges.clone(),
            supply_sd: self.supply_sd,
        }
    }

    /// The bar as it was tested, at the point at which it was.
    pub fn studied(&self) -> Studied<'_> {
        studied(&self.project, &self.geometry, self.point)
    }

    /// The bar with the liquid of its duty and its own control, at the test's speed (the usual one where a pressure was held),
    /// temperature and slopes; none where the test was made so.
    pub fn at_work(&self) -> Option<Studied<'_>> {
        self.at_work.as_ref().map(|project| studied(project, &self.geometry, self.point))
    }

    /// Rows that were caught, in the bar's order.
    pub fn rows(&self) -> &[RowReading] {
        &self.rows
    }

    /// What gauges showed.
    pub fn gauges(&self) -> &[PressureReading] {
        &self.gauges
    }

    /// Standard deviation of what the supply gives, as a part of what it is asked for; above 0.
    pub const fn supply_sd(&self) -> f64 {
        self.supply_sd
    }

    /// By what weights became volumes; none where nothing was weighed.
    pub const fn weighed(&self) -> Option<&Weighed> {
        self.weighed.as_ref()
    }

    /// What a small catch is taken to be read to; none where no row gave less than the middle one.
    pub const fn jug_floor(&self) -> Option<JugFloor> {
        self.jug_floor
    }

    /// So many lines of the tables that it was read from are missing in it.
    pub const fn lines_missing(&self) -> u32 {
        self.lines_missing
    }

    /// A pressure was held by hand: what came says nothing of the control that doses at work.
    pub const fn is_pressure_held(&self) -> bool {
        self.is_pressure_held
    }

    /// Why nothing of it is judged, whatever was caught: the table that was read in is of another bar.
    pub fn no_verdict(&self) -> Option<&str> {
        self.no_verdict.as_deref()
    }

    /// What was left out and why, and what was assumed.
    pub fn remarks(&self) -> &[Problem] {
        &self.remarks
    }
}

/// The only routing of a tested bar; [`PreparedTest::of`] has looked that there is one.
fn studied<'a>(project: &'a Project, geometry: &'a RoutingGeometry, point: OperatingPoint) -> Studied<'a> {
    Studied { project, routing: geometry.with(&project.routings[0]), point }
}

impl Tested<'_> {
    fn remark(&mut self, at: Option<String>, what: String, advice: &str) {
        let test = called("catch test", &self.test.name, self.test.id.0);
        let place = at.map_or_else(|| test.clone(), |at| format!("{test}, {at}"));
        self.remarks.push(Problem { place, what, advice: advice.to_owned() });
    }

    /// How long something was caught, seconds; none where nobody can say.
    fn seconds(&self, span: CatchSpan) -> Option<f64> {
        let seconds = match (span, self.test.drive) {
            (CatchSpan::Seconds(seconds), _) => seconds,
            (CatchSpan::Distance(distance), Drive::Speed(speed)) => distance.si() / speed.si(),
            (CatchSpan::Distance(_), Drive::HeldPressure(_)) => return None,
        };
        (seconds.is_finite() && seconds > 0.0).then_some(seconds)
    }

    /// Flows of the rows with a catch that counts, in the bar's order, and the middle one of all catches.
    fn rows(
        &mut self,
        point: &OperatingPoint,
        density: Density,
    ) -> Result<(Vec<RowReading>, Flow), NoAnswer> {
        let bar = &self.bar.bar;
        let total: Flow = bar.rows.iter().map(|row| target(bar, row, point)).sum();
        let mut counted_catches: Vec<(RowId, Flow, f64)> = Vec::new();
        let (mut unknown, mut left_out, mut unplaced) = (0, BTreeSet::new(), BTreeSet::new());
        let (mut too_long, mut volumes, mut masses) = (BTreeSet::new(), false, false);
        let test = self.test;
        for Catch { row, amount, span, spoiled } in &test.catches {
            let Some(of) = bar.row(*row) else {
                unknown += 1;
                continue;
            };
            if let Some(why) = spoiled {
                let why = if why.trim().is_empty() { "without a reason" } else { why };
                self.remark(
                    Some(format!("row {}", of.number)),
                    format!("a catch is marked as spoiled ({}) and not counted", short(why)),
                    "catch that row again",
                );
                continue;
            }
            if of.left_out {
                left_out.insert(of.number);
                continue;
            }
            let Some(seconds) = self.seconds(span.unwrap_or(test.span)) else {
                unplaced.insert(of.number);
                continue;
            };
            if total.si() * seconds > self.bar.limits.tank_holds.si() {
                too_long.insert(of.number);
                continue;
            }
            let volume = match amount {
                CaughtAmount::Volume(volume) => {
                    volumes = true;
                    *volume
                }
                CaughtAmount::Mass(mass) => {
                    masses = true;
                    Volume::from_si(mass.si() / density.si())
                }
            };
            counted_catches.push((*row, Flow::from_si(volume.si() / seconds), seconds));
        }
        if unknown > 0 {
            self.remark(
                None,
                format!("catches at rows that the tested bar does not have, not counted: {}", count(unknown)),
                "was it a test of another bar? take it down on the one it was made on",
            );
        }
        self.about_rows(
            &left_out,
            "left out of use; what was caught there is not counted",
            "correct the row, or put it back in use",
        );
        self.about_rows(
            &unplaced,
            "caught over a distance while a pressure was held: nobody knows for how long",
            "give the time, or the speed that was driven",
        );
        let tank = Measure::Volume.short_text(self.bar.limits.tank_holds.si(), self.bar.units);
        self.about_rows(
            &too_long,
            &format!("caught for so long that the bar would empty a tank of {tank} at what it is to place; not counted"),
            "correct the time, or what the tank holds in the limits",
        );
        if volumes && masses {
            self.remark(
                None,
                format!(
                    "some amounts are volumes and others weights, put together by a density of {}",
                    Measure::Density.text(density.si(), self.bar.units)
                ),
                "measure all in one way: scales and jug differ",
            );
        }
        if counted_catches.is_empty() {
            return Err(NoAnswer::impossible(
                format!("nothing caught in {} counts yet", short(&test.name)),
                "enter what was caught at two rows at least",
            ));
        }
        if counted_catches.iter().all(|(_, flow, _)| flow.si() == 0.0) {
            self.remark(
                None,
                "nothing came at any row that was caught".to_owned(),
                "was the pump on, the tank filled and every section valve open?",
            );
        } else {
            let dry: Vec<u32> = counted_catches
                .iter()
                .filter(|(_, flow, _)| flow.si() == 0.0)
                .filter_map(|(row, ..)| bar.row(*row))
                .map(|row| row.number)
                .collect();
            self.about_rows(
                &dry.into_iter().collect(),
                "given with an amount of 0, which counts as caught",
                "leave the amount empty where nobody caught",
            );
        }
        let typical = typical_flow(&counted_catches).unwrap_or(total / bar.rows.len().max(1) as f64);
        // Of one row all are catches of one flow: by that, not by what came each time, so that the larger counts no less.
        let mut sums: BTreeMap<RowId, (f64, f64)> = BTreeMap::new();
        for (row, flow, seconds) in &counted_catches {
            let (amount, time) = sums.entry(*row).or_default();
            *amount += flow.si() * seconds;
            *time += seconds;
        }
        let mut by_row: BTreeMap<RowId, Vec<CaughtFlow>> = BTreeMap::new();
        for (row, flow, seconds) in counted_catches {
            let mean = sums.get(&row).map_or(flow, |(amount, time)| Flow::from_si(amount / time));
            let sd = self.flow_sd(mean, typical, seconds);
            by_row.entry(row).or_default().push(CaughtFlow { flow, seconds, sd });
        }
        let in_order: Vec<RowReading> = bar
            .rows
            .iter()
            .filter_map(|row| by_row.remove(&row.id).map(|catches| RowReading { row: row.id, catches }))
            .collect();
        self.about_catches_apart(&in_order);
        Ok((in_order, typical))
    }

    /// Says of which rows the catches contradict each other: their mean is of two things then.
    fn about_catches_apart(&mut self, readings: &[RowReading]) {
        let flow = |flow: Flow| Measure::RowFlow.text(flow.si(), self.bar.units);
        let pieces: Vec<String> = readings
            .iter()
            .filter_map(|reading| Some((self.bar.bar.row(reading.row)?.number, reading.apart()?)))
            .map(|(row, apart)| {
                let (range, critical) = (flow(apart.range), flow(apart.critical));
                format!("row {row} ({range} apart, up to {critical} may be)")
            })
            .collect();
        if !pieces.is_empty() {
            let what = format!(
                "catches of one row contradict each other: {}; by the critical range of ISO 5725-6 at 95 %, with the scatter of jug \
                 and watch of this test; their mean counts all the same, as uncertain as they differ",
                short_list(&pieces, MOST_APART)
            );
            let advice = "catch these rows again and mark the wrong catch as spoiled; of 20 sound rows about one does so by chance";
            self.remark(None, what, advice);
        }
    }

    /// Scatter of a flow by jug and watch. A jug is read as finely low down as at what it usually holds, so that a small amount
    /// has the scatter of the usual one.
    fn flow_sd(&self, flow: Flow, typical: Flow, seconds: f64) -> Flow {
        let scatter = self.test.scatter;
        let by_jug = scatter.amount.si() * flow.max(typical).si();
        let by_watch = flow.si() * scatter.seconds / seconds;
        Flow::from_si(by_jug.hypot(by_watch).max(f64::MIN_POSITIVE.sqrt()))
    }

    fn about_rows(&mut self, rows: &BTreeSet<u32>, what: &str, advice: &str) {
        if !rows.is_empty() {
            let numbers: Vec<u32> = rows.iter().copied().collect();
            let verb = if numbers.len() == 1 { "row" } else { "rows" };
            let is = if numbers.len() == 1 { "is" } else { "are" };
            self.remark(None, format!("{verb} {} {is} {what}", ranges(&numbers)), advice);
        }
    }

    /// What one gauge showed, the mean where it was read several times: its own error is the same each time.
    fn mean_reading(&mut self, first: &GaugeReading, tag: &str) -> GaugeReading {
        let test = self.test;
        let all = || test.gauges.iter().filter(|one| one.part == first.part);
        let times = all().count();
        if times == 1 {
            return *first;
        }
        let text = |one: Pressure| Measure::Pressure.text(one.si(), self.bar.units);
        let mean = all().map(|one| one.pressure).sum::<Pressure>() / times as f64;
        let each: Vec<String> = all().map(|one| text(one.pressure)).collect();
        let what = format!("it was read {times} times, {}; their mean of {} counts", list(&each), text(mean));
        self.remark(Some(format!("gauge {tag}")), what, "keep the reading at the time of the catch");
        GaugeReading { pressure: mean, ..*first }
    }

    /// Readings of parts that the tested routing has, within their dials, one of each.
    fn gauges(&mut self) -> Vec<PressureReading> {
        let mut read = Vec::new();
        let units = self.bar.units;
        let (mut unknown, test) = (0, self.test);
        for (at, first) in test.gauges.iter().enumerate() {
            let Some(part) = self.routing.part(first.part) else {
                unknown += 1;
                continue;
            };
            if test.gauges[..at].iter().any(|one| one.part == first.part) {
                continue;
            }
            let reading = self.mean_reading(first, &part.tag);
            let dial = dial(self.bar, part);
            let shown = Measure::Pressure.text(reading.pressure.si(), units);
            if let Some(end) = dial.filter(|end| reading.pressure > *end) {
                let end = Measure::Pressure.text(end.si(), units);
                self.remark(
                    Some(format!("gauge {}", part.tag)),
                    format!("{shown} is above its dial, which ends at {end}; not counted"),
                    "read it again, or correct its entry in the catalogue",
                );
                continue;
            }
            let sd = reading.sd.unwrap_or_else(|| usual_gauge_sd(self.bar, dial));
            if dial.is_none() && reading.sd.is_none() {
                let end = Measure::Pressure.text(sd.si() / GAUGE_CLASS, units);
                self.remark(
                    Some(format!("part {}", part.tag)),
                    format!("its pressure is taken as read on a gauge to {end}, assumed"),
                    "place the gauge, or give how well it was read",
                );
            }
            read.push(PressureReading {
                part: reading.part,
                pressure: reading.pressure,
                sd: sd.max(Pressure::from_si(f64::MIN_POSITIVE.sqrt())),
            });
        }
        if unknown > 0 {
            self.remark(
                None,
                format!(
                    "readings of parts that the tested routing does not have, not counted: {}",
                    count(unknown)
                ),
                "was it a test of another bar? take it down on the one it was made on",
            );
        }
        read
    }
}

/// The middle one of the flows that are not 0.
fn typical_flow(catches: &[(RowId, Flow, f64)]) -> Option<Flow> {
    let mut flows: Vec<f64> =
        catches.iter().map(|(_, flow, _)| flow.si()).filter(|flow| *flow > 0.0).collect();
    flows.sort_by(f64::total_cmp);
    flows.get(flows.len() / 2).copied().map(Flow::from_si)
}
