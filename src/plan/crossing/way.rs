//! The way of a hinge through the fold: how far it has turned at each position that is looked at, and which way is down.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::parts::parts;
use crate::geometry::Point3;
use crate::plan::SectionId;
use crate::plan::bar::{Bar, Hinge};
use crate::plan::fold::{FoldPosition, FoldSweep, FoldedBar};
use crate::plan::kept::KeptLast;

/// From one position that is looked at to the next a hinge turns, and the section that carries it tilts, by no more than this,
/// radians; shapes change little over it.
const TURN: f64 = 0.2;

/// So many frames of a film from one of them to the next.
pub(super) const FRAMES: usize = 4;

pub(super) const DOWN: Point3 = Point3::new(0.0, 0.0, -1.0);

/// The positions of a hinge that are looked at, from transport to work and then at the lowest angles of work.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct HingeWay {
    pub(super) stations: Vec<OnWay>,
    /// The place of working position among them; what follows it is at work too.
    pub(super) working: usize,
    /// See [`Self::frames`].
    frames: Vec<Seen>,
}

/// A hinge at a position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OnWay {
    /// Where it first stands so, coming from work.
    pub(super) position: FoldPosition,
    /// Until where it stays so, while others fold.
    until: FoldPosition,
    /// Its angle, radians.
    pub(super) turned: f64,
    /// Which way is down for the section that it is on, and for the one that hangs on it.
    down: [Point3; 2],
}

/// When a frame of a film is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::plan) struct Seen {
    /// Where the hinge first stands so, coming from work.
    pub(in crate::plan) from: FoldPosition,
    /// Until where it stays so, while others fold.
    pub(in crate::plan) until: FoldPosition,
    /// At the lowest angles of work, not as it is drawn at work.
    pub(in crate::plan) is_lowest: bool,
}

impl OnWay {
    fn new(hinge: &Hinge, on: SectionId, folded: &FoldedBar, position: FoldPosition, turned: f64) -> Self {
        let down = [hinge.parent, on].map(|section| folded.motion(section).inverse().direction(DOWN));
        Self { position, until: position, turned, down }
    }

    /// Which way is down for the section that a hose comes from.
    pub(super) const fn down(&self, turns_start: bool) -> Point3 {
        if turns_start { self.down[1] } else { self.down[0] }
    }

    fn is_near(&self, other: &Self) -> bool {
        let tilt = |at: usize| 2.0 * (self.down[at].distance(other.down[at]) / 2.0).min(1.0).asin();
        (self.turned - other.turned).abs().max(tilt(0)).max(tilt(1)) <= TURN
    }
}

impl HingeWay {
    /// The way of the hinge that a section hangs on; none where there is no such hinge.
    pub(super) fn of(bar: &Bar, section: SectionId) -> Option<Arc<Self>> {
        static LAST: KeptLast<Bar, BTreeMap<SectionId, Arc<HingeWay>>> = KeptLast::nothing();
        LAST.of(bar, || Self::all(bar)).get(&section).cloned()
    }

    /// When the frames of a film ([`super::search::film`]) are seen.
    pub(super) fn frames(&self) -> &[Seen] {
        &self.frames
    }

    /// The position of one of the stations; working position for one that is not there.
    pub(super) fn position(&self, at: usize) -> FoldPosition {
        self.stations.get(at).map_or(FoldPosition::WORKING, |one| one.position)
    }

    fn all(bar: &Bar) -> BTreeMap<SectionId, Arc<Self>> {
        let sweep = FoldSweep::of(bar);
        let hinges = bar.sections.iter().filter_map(|section| Some((section.id, section.hinge?)));
        hinges.map(|(on, hinge)| (on, Arc::new(Self::new(bar, &sweep, on, &hinge)))).collect()
    }

    fn new(bar: &Bar, sweep: &FoldSweep, on: SectionId, hinge: &Hinge) -> Self {
        let mut stations: Vec<OnWay> = Vec::new();
        let mut passed: Option<OnWay> = None;
        for (position, folded) in sweep.positions().iter().rev() {
            let here = OnWay::new(hinge, on, folded, *position, hinge.angle(bar, *position).si());
            let is_last = |one: &OnWay| stations.last().is_some_and(|last| stands_as(last, one));
            match passed {
                // Where it stands still while others fold it is looked at once.
                Some(before) if stands_as(&before, &here) => {
                    if !is_last(&before) {
                        stations.push(before);
                    }
                    if let Some(last) = stations.last_mut() {
                        last.position = *position;
                    }
                }
                Some(before) if stations.last().is_some_and(|last| !last.is_near(&here)) => {
                    if !is_last(&before) {
                        stations.push(before);
                    }
                }
                Some(_) => {}
                None => stations.push(here),
            }
            passed = Some(here);
        }
        stations.extend(passed.filter(|work| stations.last().is_none_or(|last| !stands_as(last, work))));
        let working = stations.len().saturating_sub(1);
        let lowest = OnWay::new(hinge, on, sweep.lowest(), FoldPosition::WORKING, hinge.lowest.si());
        if stations.last().is_none_or(|work| !stands_as(work, &lowest)) {
            stations.push(lowest);
        }
        Self { frames: frames(&stations, working), stations, working }
    }
}

fn frames(stations: &[OnWay], working: usize) -> Vec<Seen> {
    let mut frames = Vec::new();
    for pair in stations.get(..=working).unwrap_or_default().windows(2) {
        let (from, to) = (pair[0].position.as_share(), pair[1].until.as_share());
        let at = |frame: usize| FoldPosition::share(from + (to - from) * frame as f64 / FRAMES as f64);
        frames.push(Seen { from: pair[0].position, until: pair[0].until, is_lowest: false });
        frames.extend((1..FRAMES).map(at).map(|at| Seen { from: at, until: at, is_lowest: false }));
    }
    let at_work = stations.iter().enumerate().skip(working);
    frames.extend(at_work.map(|(at, one)| Seen {
        from: one.position,
        until: one.until,
        is_lowest: at > working,
    }));
    frames
}

/// Whether two positions are the same to all that is computed of them.
fn stands_as(one: &OnWay, other: &OnWay) -> bool {
    let figures = |at: &OnWay| {
        let down = at.down.map(|down| [down.x, down.y, down.z].map(parts));
        (parts(at.turned), down)
    };
    figures(one) == figures(other)
}
