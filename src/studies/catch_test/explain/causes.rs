//! All that may be at fault in a routing, each as a curve: a list that follows from what stands in the routing.

use std::collections::BTreeMap;

use super::answer::{CauseId, CauseSize};
use super::curve::{At, Curve, Making};
use crate::hydraulics::faulty::{Fault, FaultSolver};
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::{ElementId, LiquidQuantity, Parameter, SupplyQuantity};
use crate::hydraulics::ways::{Passed, RowWay};
use crate::plan::cause_weights::CauseKind;
use crate::plan::{
    ElementItem, ElementKind, Entry, EntryKey, FeedElement, Item, Metering, PartItem, Port, RowId, StockItem,
};
use crate::quantities::Pressure;
use crate::studies::Studied;

/// Shares of an area that are closed, up to where the rest counts as wholly closed.
const CLOSED: [f64; 12] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.87, 0.92, 0.96];
/// Open shares of an area behind a kink or a plug: a line is so much wider than what meters it that little shows before.
const OPEN: [f64; 14] =
    [1.0, 0.5, 0.25, 0.15, 0.1, 0.07, 0.05, 0.035, 0.025, 0.018, 0.013, 0.009, 0.006, 0.004];
/// The same of hoses and parts, which a smaller share does not leave.
const OPEN_MAIN: usize = 11;
/// More area of worn metering (common practice, no source: replaced beyond 10 %).
const WORN: [f64; 5] = [0.0, 0.05, 0.1, 0.2, 0.4];
/// Shares of the area of all metering that a crust closes: more of it shuts the first row before the last.
const CRUSTED: [f64; 8] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7];
/// Cracking pressures, in parts of what a check valve should have.
const EARLY: [f64; 3] = [1.0, 0.5, 0.0];
const LATE: [f64; 7] = [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0];
/// Diameters of holes, in parts of the tube's bore.
const HOLES: [f64; 8] = [0.03, 0.05, 0.08, 0.12, 0.18, 0.26, 0.36, 0.5];
/// Coefficients of a loaded filter, in parts of a clean one.
const LOADED: [f64; 8] = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];
/// Viscosities, in parts of the table's.
const THICKER: [f64; 7] = [1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0];
const THINNER: [f64; 5] = [1.0, 0.8, 0.63, 0.5, 0.4];
/// What a pump at its limit gives, in parts of what is asked.
const SHORT: [f64; 6] = [1.0, 0.9, 0.8, 0.7, 0.6, 0.5];
/// What a controller gives that doses wrongly, in parts of what is asked.
const DOSED: [f64; 5] = [0.7, 0.85, 1.0, 1.2, 1.4];
/// What may be written down, in parts of what came.
const MISREAD: [f64; 13] = [0.08, 0.15, 0.3, 0.45, 0.6, 0.8, 1.0, 1.25, 1.6, 2.2, 3.5, 6.0, 12.0];
/// Slips of a person: half, double, a decimal place.
const SLIPS: [f64; 4] = [0.5, 2.0, 0.1, 10.0];
/// What is left of the length of a metering tube that has come off, m: its ends still have a loss.
const STUB: f64 = 1e-3;
/// Bores that are open then, in parts of the widest tube before it: fittings are narrower than tubes.
const LEFT_OPEN: [f64; 3] = [0.8, 0.9, 1.0];
/// How likely a blocked metering is wholly blocked, a kink closes its line, a blocked hose passes nothing, and a section valve
/// that is not open is shut (common practice, no source).
const WHOLLY: f64 = 0.3;
const KINKED_SHUT: f64 = 0.15;
const SHUT: f64 = 0.7;
/// How likely a slip is one of [`SLIPS`], each.
const SLIP: f64 = 0.1;
/// The most that a gauge is off, in parts of what it shows; and how likely it sticks at zero.
const GAUGE_OFF: f64 = 0.6;
const GAUGE_STUCK: f64 = 0.2;

/// An element of a row feed with the rows behind it.
struct Behind<'a> {
    id: ElementId,
    element: &'a FeedElement,
    rows: Vec<RowId>,
}

/// Puts together all curves.
pub(super) struct Causes<'a, 'b> {
    pub(super) of: &'b Studied<'a>,
    pub(super) solver: &'b FaultSolver<'a>,
    pub(super) ways: &'b [RowWay],
    /// What the supply is asked for.
    pub(super) supply: SupplyQuantity,
    /// What flows without any fault, m³/s, and what each filter takes, Pa.
    pub(super) filter_takes: Vec<(crate::plan::PartId, f64)>,
}

impl Causes<'_, '_> {
    /// All curves of the network; those of readings are added when a test is there.
    pub(super) fn all(&self) -> Vec<Curve> {
        let mut all = Vec::new();
        let elements = self.elements();
        for one in &elements {
            self.of_element(one, &mut all);
        }
        self.exchanged(&elements, &mut all);
        self.all_metering(&elements, &mut all);
        self.hoses(&mut all);
        self.parts(&mut all);
        self.outlets(&mut all);
        self.of_the_whole(&mut all);
        share_alike(&mut all);
        all
    }

    fn value(&self, parameter: Parameter) -> Option<f64> {
        self.solver.planned(parameter)
    }

    fn elements(&self) -> Vec<Behind<'_>> {
        let mut all = Vec::new();
        for feed in &self.of.routing.routing.feeds {
            let every: Vec<RowId> = feed.branches.iter().map(|branch| branch.row).collect();
            let mut add = |branch: Option<usize>, elements, rows: &[RowId]| {
                let elements: std::slice::Iter<'_, FeedElement> = elements;
                for (index, element) in elements.enumerate() {
                    let id = ElementId::new(feed.id, branch, index);
                    if self.solver.has(id) {
                        all.push(Behind { id, element, rows: rows.to_vec() });
                    }
                }
            };
            add(None, feed.trunk.iter(), &every);
            for (at, branch) in feed.branches.iter().enumerate() {
                add(Some(at), branch.elements.iter(), &[branch.row]);
            }
        }
        all
    }

    fn of_element(&self, one: &Behind<'_>, all: &mut Vec<Curve>) {
        let id = |kind| CauseId {
            kind,
            places: vec![Passed::Element(one.id)],
            rows: one.rows.clone(),
            entry: None,
        };
        let closed = At::Closed(Fault::ElementClosed(one.id));
        let parameter = |quantity| Parameter::Element(one.id, quantity);
        let bore = parameter(VariedQuantity::Bore);
        if one.element.is_metering() {
            if self.value(bore).is_some() {
                let blocked = Making::Narrower(vec![bore]);
                all.push(Curve::spread(
                    id(CauseKind::MeteringBlocked),
                    blocked,
                    &CLOSED,
                    Some((closed, WHOLLY)),
                ));
                let worn = Making::Wider(vec![bore]);
                all.push(Curve::spread(id(CauseKind::MeteringWorn), worn, &WORN, None));
            }
            if let Some(numbers) = self.lost(one) {
                let lost = Making::Lost(numbers);
                all.push(Curve::spread(id(CauseKind::MeteringLost), lost, &LEFT_OPEN, None));
            }
            for (entry, share) in self.other_sizes(one.element.entry()) {
                let Some(numbers) = numbers_of(one.id, &entry.item) else { continue };
                let other = Making::Numbers(numbers, CauseSize::Entry(entry.key.clone()));
                let id = CauseId { entry: Some(entry.key.clone()), ..id(CauseKind::MeteringOtherSize) };
                let mut curve = Curve::point(id, other, At::Number(0.0));
                curve.share = share;
                all.push(curve);
            }
        }
        if one.element.is(ElementKind::CheckValve)
            && let Some(planned) = self.value(parameter(VariedQuantity::CrackingPressure))
        {
            let making = || Making::Cracking(parameter(VariedQuantity::CrackingPressure), planned);
            all.push(Curve::point(id(CauseKind::CheckValveStuck), making(), closed));
            if planned > 0.0 {
                all.push(Curve::spread(id(CauseKind::CheckValveEarly), making(), &EARLY, None));
                all.push(Curve::spread(id(CauseKind::CheckValveLate), making(), &LATE, None));
            }
        }
        if matches!(one.element, FeedElement::Tube(_)) {
            let kink = parameter(VariedQuantity::Coefficient);
            if let Some(planned) = self.value(kink) {
                let making = Making::Plate(kink, planned);
                let open: Vec<f64> = OPEN.iter().map(|share| share.ln()).collect();
                let shut = Some((closed, KINKED_SHUT));
                all.push(Curve::spread(id(CauseKind::TubeCrushed), making, &open, shut));
            }
            if let Some(planned) = self.value(bore) {
                let holes: Vec<f64> = HOLES.iter().map(|part| (part * planned).ln()).collect();
                all.push(Curve::spread(id(CauseKind::TubeLeaking), Making::Hole(one.id), &holes, None));
            }
        }
    }

    /// The widest tube before it is open where metering has come off.
    fn lost(&self, one: &Behind<'_>) -> Option<Vec<(Parameter, f64)>> {
        let feed = self.of.routing.routing.feed(one.id.feed())?;
        let tubes = feed.elements().filter_map(|element| match element {
            FeedElement::Tube(tube) => Some(self.of.project.catalogue.stock(&tube.line.stock)?.bore.si()),
            _ => None,
        });
        let open = tubes.reduce(f64::max)?;
        let parameter = |quantity| Parameter::Element(one.id, quantity);
        Some(match one.element {
            FeedElement::MeteringTube { .. } => {
                vec![(parameter(VariedQuantity::Bore), open), (parameter(VariedQuantity::Length), STUB)]
            }
            _ => vec![
                (parameter(VariedQuantity::Bore), open),
                (parameter(VariedQuantity::DischargeCoefficient), 1.0),
            ],
        })
    }

    /// Other metering of the catalogue that is of the same make-up, each with how likely it is: the next sizes most.
    fn other_sizes(&self, own: &EntryKey) -> Vec<(&Entry, f64)> {
        let catalogue = &self.of.project.catalogue;
        let Some(now) = catalogue.any_item(own) else { return Vec::new() };
        let Some(bore) = metering_bore(now) else { return Vec::new() };
        let mut all: Vec<(f64, &Entry)> = catalogue
            .entries
            .iter()
            .filter(|entry| entry.key != *own && are_alike(&entry.item, now))
            .filter_map(|entry| Some((metering_bore(&entry.item)?, entry)))
            .filter(|(other, _)| *other != bore)
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let above = all.iter().filter(|one| one.0 > bore);
        let below = all.iter().rev().filter(|one| one.0 < bore);
        // Each next one half as likely as the one before.
        let halves = || std::iter::successors(Some(1.0), |part| Some(part / 2.0));
        let both = above.zip(halves()).chain(below.zip(halves()));
        let both: Vec<(&Entry, f64)> = both.map(|(one, part)| (one.1, part)).collect();
        let sum: f64 = both.iter().map(|one| one.1).sum();
        both.into_iter().map(|(entry, part)| (entry, part / sum)).collect()
    }

    /// Meterings that differ, in each other's place.
    fn exchanged(&self, elements: &[Behind<'_>], all: &mut Vec<Curve>) {
        let metering: Vec<_> = elements
            .iter()
            .filter_map(|one| {
                let metering = Metering::of(one.element)?;
                let quantity = |quantity| Some((quantity, self.value(Parameter::Element(one.id, quantity))?));
                let numbers =
                    [VariedQuantity::Bore, VariedQuantity::DischargeCoefficient, VariedQuantity::Length];
                Some((
                    one,
                    metering,
                    numbers.into_iter().filter_map(quantity).collect::<Vec<(VariedQuantity, f64)>>(),
                ))
            })
            .collect();
        for (at, (one, own, numbers)) in metering.iter().enumerate() {
            for (other, others, other_numbers) in &metering[at + 1..] {
                let same_numbers = numbers.iter().map(|one| one.0).eq(other_numbers.iter().map(|one| one.0));
                if own == others || !same_numbers {
                    continue;
                }
                let set = |id: ElementId, numbers: &[(VariedQuantity, f64)]| -> Vec<(Parameter, f64)> {
                    numbers
                        .iter()
                        .map(|(quantity, value)| (Parameter::Element(id, *quantity), *value))
                        .collect()
                };
                let mut changed = set(one.id, other_numbers);
                changed.extend(set(other.id, numbers));
                let id = CauseId {
                    kind: CauseKind::MeteringExchanged,
                    places: vec![Passed::Element(one.id), Passed::Element(other.id)],
                    rows: one.rows.iter().chain(&other.rows).copied().collect(),
                    entry: None,
                };
                all.push(Curve::point(id, Making::Numbers(changed, CauseSize::None), At::Number(0.0)));
            }
        }
    }

    /// What befalls the whole set of metering: worn alike, crusted alike, or all of one entry ordered in another size.
    fn all_metering(&self, elements: &[Behind<'_>], all: &mut Vec<Curve>) {
        let metering = || elements.iter().filter(|one| one.element.is_metering());
        let id = |kind, rows, entry| CauseId { kind, places: Vec::new(), rows, entry };
        let bore = |one: &Behind<'_>| Parameter::Element(one.id, VariedQuantity::Bore);
        let bores: Vec<Parameter> = metering().map(bore).filter(|one| self.value(*one).is_some()).collect();
        if bores.len() > 1 {
            let id = |kind| id(kind, Vec::new(), None);
            let worn = Making::Wider(bores.clone());
            all.push(Curve::spread(id(CauseKind::AllMeteringWorn), worn, &WORN, None));
            let crusted = Making::Narrower(bores);
            all.push(Curve::spread(id(CauseKind::AllMeteringBlocked), crusted, &CRUSTED, None));
        }
        let mut by_entry: BTreeMap<&EntryKey, Vec<&Behind<'_>>> = BTreeMap::new();
        for one in metering() {
            by_entry.entry(one.element.entry()).or_default().push(one);
        }
        // One by itself is another size at that row.
        for (own, those) in by_entry.into_iter().filter(|one| one.1.len() > 1) {
            for (entry, share) in self.other_sizes(own) {
                let numbers = those.iter().map(|one| numbers_of(one.id, &entry.item));
                let Some(numbers) = numbers.collect::<Option<Vec<_>>>() else { continue };
                let size = CauseSize::Entry(entry.key.clone());
                let other = Making::Numbers(numbers.into_iter().flatten().collect(), size);
                let rows = those.iter().flat_map(|one| one.rows.iter().copied()).collect();
                let id = id(CauseKind::AllMeteringOtherSize, rows, Some(entry.key.clone()));
                let mut curve = Curve::point(id, other, At::Number(0.0));
                curve.share = share;
                all.push(curve);
            }
        }
    }

    /// The rows whose liquid comes through something.
    fn behind(&self, passed: Passed) -> Vec<RowId> {
        let comes = |way: &&RowWay| way.steps.iter().any(|step| step.of == passed);
        self.ways.iter().filter(comes).map(|way| way.row).collect()
    }

    fn hoses(&self, all: &mut Vec<Curve>) {
        let catalogue = &self.of.project.catalogue;
        for run in &self.of.routing.routing.runs {
            let parameter = |quantity| Parameter::Run(run.id, quantity);
            let passed = Passed::Run(run.id);
            let id = |kind, entry| CauseId { kind, places: vec![passed], rows: self.behind(passed), entry };
            let coefficient = parameter(VariedQuantity::Coefficient);
            let Some(planned) = self.value(coefficient) else { continue };
            let open: Vec<f64> = OPEN[..OPEN_MAIN].iter().map(|share| share.ln()).collect();
            let making = Making::Plate(coefficient, planned);
            let shut = Some((At::Closed(Fault::RunClosed(run.id)), KINKED_SHUT));
            all.push(Curve::spread(id(CauseKind::HoseBlocked, None), making, &open, shut));
            let bore_now = parameter(VariedQuantity::Bore);
            let Some(bore) = self.value(bore_now) else { continue };
            let others = || {
                catalogue.entries.iter().filter_map(|entry| match entry.item {
                    Item::Stock(StockItem::Hose(stock)) => Some((stock.bore.si(), entry)),
                    _ => None,
                })
            };
            let smaller = others().filter(|one| one.0 < bore).max_by(|a, b| a.0.total_cmp(&b.0));
            let wider = others().filter(|one| one.0 > bore).min_by(|a, b| a.0.total_cmp(&b.0));
            for (other, entry) in [smaller, wider].into_iter().flatten() {
                let making = Making::Numbers(vec![(bore_now, other)], CauseSize::Entry(entry.key.clone()));
                let id = id(CauseKind::HoseWrongBore, Some(entry.key.clone()));
                all.push(Curve::point(id, making, At::Number(0.0)));
            }
        }
    }

    fn parts(&self, all: &mut Vec<Curve>) {
        for part in &self.of.routing.routing.parts {
            let passed = Passed::Part(part.id);
            let id = |kind| CauseId { kind, places: vec![passed], rows: self.behind(passed), entry: None };
            let parameter = |quantity| Parameter::Part(part.id, quantity);
            let coefficient = parameter(VariedQuantity::Coefficient);
            let branch = parameter(VariedQuantity::BranchCoefficient);
            let open: Vec<f64> = OPEN[..OPEN_MAIN].iter().map(|share| share.ln()).collect();
            match self.of.project.catalogue.item(&part.entry) {
                Some(PartItem::InletFilter(_)) => {
                    let takes =
                        self.filter_takes.iter().find(|one| one.0 == part.id).map_or(0.0, |one| one.1);
                    if let Some(planned) = self.value(coefficient).filter(|one| *one > 0.0) {
                        let loaded: Vec<f64> = LOADED.iter().map(|times| times.ln()).collect();
                        let making = Making::Loaded(coefficient, planned, takes);
                        all.push(Curve::spread(id(CauseKind::FilterLoaded), making, &loaded, None));
                    }
                }
                Some(PartItem::SectionValve(_)) if !part.shut => {
                    if let Some(planned) = self.value(coefficient) {
                        let shut = Some((At::Closed(Fault::PartClosed(part.id)), SHUT));
                        let making = Making::Plate(coefficient, planned);
                        all.push(Curve::spread(id(CauseKind::SectionShut), making, &open, shut));
                    }
                }
                Some(_) => {
                    for one in [coefficient, branch] {
                        if let Some(planned) = self.value(one) {
                            let making = Making::Plate(one, planned);
                            all.push(Curve::spread(id(CauseKind::PartBlocked), making, &open, None));
                        }
                    }
                }
                None => {}
            }
        }
    }

    /// Neighbours on a manifold whose row feeds differ.
    fn outlets(&self, all: &mut Vec<Curve>) {
        let feeds = &self.of.routing.routing.feeds;
        let mut on: Vec<_> = feeds
            .iter()
            .filter_map(|feed| match feed.from.port()? {
                port if self.solver.has_feed(feed.id) => match port.port {
                    Port::Outlet(number) => Some((port.part, number, feed.id, feed.branches.as_slice())),
                    _ => None,
                },
                _ => None,
            })
            .collect();
        on.sort_by_key(|one| (one.0, one.1));
        for pair in on.windows(2) {
            let (one, other) = (pair[0], pair[1]);
            if one.0 != other.0 {
                continue;
            }
            let id = CauseId {
                kind: CauseKind::RowsExchanged,
                places: vec![Passed::Part(one.0)],
                rows: one.3.iter().chain(other.3).map(|branch| branch.row).collect(),
                entry: None,
            };
            all.push(Curve::point(id, Making::FeedsExchanged(one.2, other.2), At::Number(0.0)));
        }
    }

    fn of_the_whole(&self, all: &mut Vec<Curve>) {
        let id = |kind| CauseId { kind, places: Vec::new(), rows: Vec::new(), entry: None };
        let logs = |all: &[f64]| -> Vec<f64> { all.iter().map(|one| one.ln()).collect() };
        let viscosity = Parameter::Liquid(LiquidQuantity::Viscosity);
        if let Some(planned) = self.value(viscosity) {
            let making = || Making::Times(viscosity, planned);
            all.push(Curve::spread(id(CauseKind::LiquidThicker), making(), &logs(&THICKER), None));
            all.push(Curve::spread(id(CauseKind::LiquidThinner), making(), &logs(&THINNER), None));
        }
        let supply = Parameter::Supply(self.supply);
        if let Some(planned) = self.value(supply) {
            let making = Making::Times(supply, planned);
            all.push(Curve::spread(id(CauseKind::PumpAtLimit), making, &logs(&SHORT), None));
            if self.supply == SupplyQuantity::MeteredFlow {
                let making = Making::Times(supply, planned);
                all.push(Curve::spread(id(CauseKind::DosedWrongly), making, &logs(&DOSED), None));
            }
        }
    }
}

/// Causes of what was read: of each row that was caught, by its place in the bar, of all, and of each gauge that was read, by its
/// place among what is watched, with what it should show.
pub(super) fn of_readings(rows: &[(usize, RowId)], gauges: &[(usize, Passed, Pressure)]) -> Vec<Curve> {
    let numbers: Vec<f64> = MISREAD.iter().map(|times| times.ln()).collect();
    let slips: Vec<(f64, f64)> = SLIPS.iter().map(|times| (times.ln(), SLIP)).collect();
    let mut all = Vec::new();
    for (place, row) in rows {
        let id = CauseId { kind: CauseKind::RowMisread, places: Vec::new(), rows: vec![*row], entry: None };
        all.push(Curve::spread(id, Making::RowMisread(*place), &numbers, None).or_at(&slips));
    }
    let id = CauseId { kind: CauseKind::AllMisread, places: Vec::new(), rows: Vec::new(), entry: None };
    all.push(Curve::spread(id, Making::AllMisread, &numbers, None).or_at(&slips));
    for (place, passed, shown) in gauges {
        let shown = shown.si();
        if shown > 0.0 {
            let id =
                CauseId { kind: CauseKind::GaugeWrong, places: vec![*passed], rows: Vec::new(), entry: None };
            let off = [-GAUGE_OFF * shown, 0.0, GAUGE_OFF * shown];
            let curve = Curve::spread(id, Making::GaugeOff(*place), &off, None);
            all.push(curve.or_at(&[(-shown, GAUGE_STUCK)]));
        }
    }
    share_alike(&mut all);
    all
}

/// Shares the weight of each kind among all that it may befall.
fn share_alike(all: &mut [Curve]) {
    for kind in CauseKind::ALL {
        let sum: f64 = all.iter().filter(|one| one.id.kind == kind).map(|one| one.share).sum();
        for one in all.iter_mut().filter(|one| one.id.kind == kind) {
            one.share /= sum;
        }
    }
}

/// The numbers of an element of another entry.
fn numbers_of(id: ElementId, item: &Item) -> Option<Vec<(Parameter, f64)>> {
    let parameter = |quantity| Parameter::Element(id, quantity);
    match item {
        Item::Element(ElementItem::MeteringOrifice(other)) => Some(vec![
            (parameter(VariedQuantity::Bore), other.bore.si()),
            (parameter(VariedQuantity::DischargeCoefficient), other.cd),
        ]),
        Item::Stock(StockItem::MeteringTube(other)) => {
            Some(vec![(parameter(VariedQuantity::Bore), other.bore.si())])
        }
        _ => None,
    }
}

fn metering_bore(item: &Item) -> Option<f64> {
    match item {
        Item::Element(ElementItem::MeteringOrifice(one)) => Some(one.bore.si()),
        Item::Stock(StockItem::MeteringTube(one)) => Some(one.bore.si()),
        _ => None,
    }
}

/// What bore and coefficient do not tell is the same.
fn are_alike(one: &Item, other: &Item) -> bool {
    match (one, other) {
        (
            Item::Element(ElementItem::MeteringOrifice(one)),
            Item::Element(ElementItem::MeteringOrifice(other)),
        ) => one.creeping == other.creeping && (!one.creeping || one.thickness == other.thickness),
        (Item::Stock(StockItem::MeteringTube(one)), Item::Stock(StockItem::MeteringTube(other))) => {
            one.roughness == other.roughness
        }
        _ => false,
    }
}
