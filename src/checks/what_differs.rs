//! Why some rows get more or less than the others: what differs along the way of their liquid, and by how much it changes
//! their flow.
//!
//! What metering passes goes with the root of the pressure over it, and that pressure is the pump's less the height, and less
//! what hoses, tubes and check valve take: the flow of some rows over that of the others parts into these, each a share of
//! the mean pressure over the metering.

use super::Context;
use crate::hydraulics::losses::static_head;
use crate::hydraulics::outcome::ElementOutcome;
use crate::hydraulics::slope::{height, upward};
use crate::plan::{ElementKind, FeedElement, Item, RowId};
use crate::quantities::{GRAVITY_M_S2, Length, Measure, Pressure};

/// What makes most of a difference.
pub(super) enum Cause {
    /// The rows stand higher or lower on a slope.
    Slope {
        /// How much lower than the others.
        lower: Length,
    },
    /// Their outlets hang higher or lower on the bar.
    OutletHeight {
        /// How much lower than the others.
        lower: Length,
    },
    /// Their tubes take more or less, by their length or their bore.
    Tube {
        /// What theirs take, and those of the others.
        takes: [Pressure; 2],
        /// How long theirs are, and those of the others.
        length: [Length; 2],
        /// How wide theirs are, and those of the others.
        bore: [Length; 2],
    },
    /// Their check valves take more or less.
    Valve {
        /// What theirs take, and those of the others.
        takes: [Pressure; 2],
    },
    /// Their metering passes more or less for what they should get.
    Metering,
    /// The way from the pump to their manifolds.
    Hose,
}

/// The way of one row, each part in Pa of liquid.
#[derive(Clone, Copy, Default)]
struct Way {
    /// Natural logarithm of the flow over the target and over the root of the metering's drop.
    passes: f64,
    metering: f64,
    tubes: f64,
    valve: f64,
    height: f64,
    /// What of the height is there on the flat, m.
    outlet: f64,
    length: f64,
    bore: f64,
}

impl Way {
    fn mean(all: &[Self]) -> Option<Self> {
        let mean = |part: fn(&Self) -> f64| all.iter().map(part).sum::<f64>() / all.len() as f64;
        (!all.is_empty()).then(|| Self {
            passes: mean(|one| one.passes),
            metering: mean(|one| one.metering),
            tubes: mean(|one| one.tubes),
            valve: mean(|one| one.valve),
            height: mean(|one| one.height),
            outlet: mean(|one| one.outlet),
            length: mean(|one| one.length),
            bore: mean(|one| one.bore),
        })
    }
}

/// What makes at least half of what these rows get more (a `sign` above 0) or less than the others; none where nothing does,
/// where there are no others, or where a row has no metering to reckon with.
pub(super) fn cause(here: &Context, rows: &[RowId], sign: f64) -> Option<Cause> {
    let (mut own, mut others) = (Vec::new(), Vec::new());
    for path in here.row_paths().iter().filter(|path| path.is_fed()) {
        let way = way(here, path.row.row, &path.elements)?;
        if rows.contains(&path.row.row) { own.push(way) } else { others.push(way) }
    }
    let (own, others) = (Way::mean(&own)?, Way::mean(&others)?);
    let over_metering = f64::midpoint(own.metering, others.metering);
    let share = |part: fn(&Way) -> f64| (part(&own) - part(&others)) / over_metering / 2.0;
    let (tubes, valve) = (-share(|way| way.tubes), -share(|way| way.valve));
    let rises = -share(|way| way.height);
    let passes = own.passes - others.passes;
    // What pressure over the metering is left without a reason lies before the manifolds.
    let hose = share(|way| way.metering) - tubes - valve - rises;
    let whole = passes + share(|way| way.metering);
    let effects = [passes, tubes, valve, rises, hose];
    let (most, effect) = effects.iter().enumerate().max_by(|a, b| (a.1 * sign).total_cmp(&(b.1 * sign)))?;
    if effect * sign <= 0.0 || effect.abs() < whole.abs() / 2.0 {
        return None;
    }
    let both = |part: fn(&Way) -> f64| [part(&own), part(&others)];
    Some(match most {
        0 => Cause::Metering,
        1 => Cause::Tube {
            takes: both(|way| way.tubes).map(Pressure::from_si),
            length: both(|way| way.length).map(Length::metres),
            bore: both(|way| way.bore).map(Length::metres),
        },
        2 => Cause::Valve { takes: both(|way| way.valve).map(Pressure::from_si) },
        3 => {
            let weight = here.outcome.liquid?.density.si() * GRAVITY_M_S2;
            let lower = (others.height - own.height) / weight;
            let on_the_flat = others.outlet - own.outlet;
            if on_the_flat.abs() * 2.0 > lower.abs() {
                Cause::OutletHeight { lower: Length::metres(on_the_flat) }
            } else {
                Cause::Slope { lower: Length::metres(lower) }
            }
        }
        _ => Cause::Hose,
    })
}

fn way(here: &Context, row: RowId, elements: &[(&FeedElement, Option<&ElementOutcome>)]) -> Option<Way> {
    let found = here.outcome.row(row)?;
    let bar = &here.project.bar;
    let outlet = bar.outlet(bar.row(row)?);
    let point = &here.outcome.point;
    let density = here.outcome.liquid?.density.si();
    let rises = height(outlet, upward(point.side_slope, point.fore_aft_slope));
    let mut way = Way {
        height: static_head::pressure(density, GRAVITY_M_S2, rises),
        outlet: outlet.z,
        bore: f64::INFINITY,
        ..Way::default()
    };
    for (element, outcome) in elements {
        let drop = outcome.and_then(|one| one.drop).map_or(0.0, |one| one.si());
        if element.is_metering() {
            way.metering += drop;
        } else if element.is(ElementKind::CheckValve) {
            way.valve += drop;
        } else {
            way.tubes += drop;
        }
        if let (FeedElement::Tube(_), Some(Item::Stock(stock))) =
            (element, here.project.catalogue.item(element.entry()))
        {
            way.length += outcome.and_then(|one| one.length).map_or(0.0, |one| one.si());
            way.bore = way.bore.min(stock.dimensions().bore.si());
        }
    }
    let over_target = found.flow.si() / found.target.si();
    way.passes = over_target.ln() - way.metering.ln() / 2.0;
    way.passes.is_finite().then_some(way)
}

impl Cause {
    /// What it is and what to try, of rows that get more (a `sign` above 0) or less than the others; none for hoses, which
    /// have tags, and nothing is known but that the rest is even.
    pub(super) fn advice(&self, here: &Context, these: &str, sign: f64) -> Option<String> {
        let lie = |lower: &Length| {
            let way = if lower.si() > 0.0 { "lower" } else { "higher" };
            format!("{} {way} than the others", here.text(Measure::Distance, lower.abs()))
        };
        let pressures = |takes: &[Pressure; 2]| {
            let [own, others] = takes.map(|one| here.text(Measure::Pressure, one));
            format!("take {own}, those of the others {others}")
        };
        Some(match self {
            Self::Slope { lower } => format!(
                "that is the slope: {these} {} {}; more pressure over the metering (smaller metering) evens it out",
                if these.starts_with("this") { "lies" } else { "lie" },
                lie(lower)
            ),
            Self::OutletHeight { lower } => format!(
                "the {} {}: set them to one height, or have more pressure over the metering",
                if these.starts_with("this") {
                    format!("outlet of {these} hangs")
                } else {
                    format!("outlets of {these} hang")
                },
                lie(lower)
            ),
            Self::Tube { takes, length, bore } => {
                let [own, others] = if (bore[0] / bore[1] - 1.0).abs() > 0.05 {
                    bore.map(|one| format!("{} bore", here.short(Measure::Bore, one)))
                } else {
                    length.map(|one| here.text(Measure::Distance, one))
                };
                let remedy = if sign < 0.0 {
                    "wider or shorter tubes there"
                } else {
                    "wider or shorter tubes to the others"
                };
                format!(
                    "the tubes of {these} ({own} against {others}) {}: try {remedy}, or more pressure over the metering",
                    pressures(takes)
                )
            }
            Self::Valve { takes } => {
                format!("the check valves of {these} {}: fit the same", pressures(takes))
            }
            Self::Metering => format!(
                "the metering of {these} passes {} for what {} should get than that of the others: fit metering for the \
                 flow of each row",
                if sign > 0.0 { "more" } else { "less" },
                if these.starts_with("this") { "it" } else { "they" }
            ),
            Self::Hose => return None,
        })
    }
}
