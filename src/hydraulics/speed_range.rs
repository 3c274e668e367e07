//! What the metering in use takes at the slowest, usual and fastest speed.

use crate::plan::{EntryKey, FeedElement, FeedId, LaidRouting, OperatingPoint, Project};
use crate::quantities::{Length, Pressure, Ratio, Speed};

use super::outcome::{Outcome, RowsCovered};
use super::prepared::{KeptSolver, PreparedRouting};

/// A metering in use: an orifice, or a metering tube of one length.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteringInUse {
    /// The catalogue entry.
    pub entry: EntryKey,
    /// Cut length of a metering tube.
    pub length: Option<Length>,
    /// How many rows it is fitted to, fed or not.
    pub rows: usize,
    /// Lowest and highest pressure over it at the slowest, usual and fastest speed; `None` where nothing flows.
    pub drops: [Option<(Pressure, Pressure)>; 3],
}

/// A routing at the three speeds of its point's duty, everything else as at that point.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedRange {
    /// Slowest, usual, fastest.
    pub speeds: [Speed; 3],
    /// The outcome at each.
    pub outcomes: [Outcome; 3],
    /// Each metering of the routing, in the order of the feeds.
    pub metering: Vec<MeteringInUse>,
}

/// What matters of a routing at one ground speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtSpeed {
    /// The speed.
    pub speed: Speed,
    /// Gauge pressure at the pump's outlet.
    pub pump: Option<Pressure>,
    /// Gauge pressure at the bar's inlet.
    pub inlet: Option<Pressure>,
    /// The fed rows, which the two figures below are over.
    pub rows: RowsCovered,
    /// Coefficient of variation over fed rows.
    pub cv: Option<Ratio>,
    /// Deviation from target of the fed row farthest from it, without its sign.
    pub farthest: Option<Ratio>,
}

/// Solves a routing at so many speeds, evenly from the slowest to the fastest, everything else as at `point`. Where a
/// solve gives no numbers there are none.
pub fn speed_curve(
    project: &Project,
    routing: LaidRouting,
    point: &OperatingPoint,
    count: usize,
) -> Vec<AtSpeed> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(project, routing);
    let duty = project.duty(point.duty);
    let (slowest, fastest) = (duty.slowest, duty.fastest);
    let steps = count.saturating_sub(1).max(1) as f64;
    (0..count)
        .map(|step| {
            let speed = slowest + (fastest - slowest) * (step as f64 / steps);
            let outcome = prepared.solve(&OperatingPoint { speed, ..*point });
            AtSpeed {
                speed,
                pump: outcome.numbers().map(|numbers| numbers.pump_pressure),
                inlet: outcome.numbers().map(|numbers| numbers.inlet_pressure),
                rows: outcome.rows_in_evenness(),
                cv: outcome.evenness().map(|one| one.cv),
                farthest: outcome
                    .numbers()
                    .and_then(|numbers| numbers.farthest_row()?.deviation)
                    .map(Ratio::abs),
            }
        })
        .collect()
}

impl PreparedRouting<'_> {
    /// Solves the routing at its slowest, usual and fastest speed. A `known` outcome of it is taken over where it is at
    /// one of these speeds.
    pub fn speed_range(&mut self, point: &OperatingPoint, known: Option<&Outcome>) -> SpeedRange {
        let (project, routing) = (self.project, self.routing);
        let speeds = project.duty(point.duty).speeds();
        let outcomes = speeds.map(|speed| match known {
            Some(known) if known.point == (OperatingPoint { speed, ..*point }) => known.clone(),
            _ => self.solve(&OperatingPoint { speed, ..*point }),
        });
        let mut metering: Vec<MeteringInUse> = Vec::new();
        let length_of = |piece: &FeedElement| match piece {
            FeedElement::MeteringTube { length, .. } => Some(*length),
            _ => None,
        };
        // Counted from the feeds, so that rows which nothing reaches yet are among them.
        for piece in routing.feeds.iter().flat_map(|feed| feed.elements()).filter(|one| one.is_metering()) {
            let (entry, length) = (piece.entry(), length_of(piece));
            match metering.iter_mut().find(|one| one.entry == *entry && one.length == length) {
                Some(known) => known.rows += 1,
                None => {
                    metering.push(MeteringInUse { entry: entry.clone(), length, rows: 1, drops: [None; 3] });
                }
            }
        }
        let mut places: Vec<(FeedId, usize)> =
            routing.feeds.iter().enumerate().map(|(place, feed)| (feed.id, place)).collect();
        places.sort_unstable();
        let at = |id: FeedId| {
            let place = places.partition_point(|(known, _)| *known < id);
            places.get(place).filter(|(known, _)| *known == id).map(|(_, place)| &routing.feeds[*place])
        };
        for (number, element) in outcomes[1].elements().iter().enumerate() {
            let piece = at(element.feed).and_then(|feed| match element.branch {
                None => feed.trunk.get(element.index),
                Some(branch) => feed.branches.get(branch)?.elements.get(element.index),
            });
            let Some(piece) = piece.filter(|piece| piece.is_metering()) else { continue };
            let length = length_of(piece);
            let Some(index) =
                metering.iter().position(|one| one.entry == *piece.entry() && one.length == length)
            else {
                continue;
            };
            for (slot, outcome) in metering[index].drops.iter_mut().zip(&outcomes) {
                let Some(drop) = outcome
                    .elements()
                    .get(number)
                    .and_then(|one| one.drop.filter(|_| one.flow.is_some_and(|flow| flow.si() != 0.0)))
                else {
                    continue;
                };
                *slot = Some(slot.map_or((drop, drop), |(low, high)| (low.min(drop), high.max(drop))));
            }
        }
        SpeedRange { speeds, outcomes, metering }
    }
}
