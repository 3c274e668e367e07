//! Two routings of the project in hand side by side: which ones, where each is looked at, and what came of it.
//!
//! What a change does not touch is not solved again: while a part of one routing is dragged, the other keeps its
//! numbers. [`SideBySide::follow`] brings both up to date and must be called before anything is read.

use super::Session;
use crate::checks::{self, Finding, Release};
use crate::hydraulics::speed_range::SpeedRange;
use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::{
    Bar, Catalogue, Duty, DutyId, LaidRouting, Limits, OperatingPoint, Project, Routing, RoutingGeometry,
    RoutingId, Supply,
};
use crate::quantities::{Angle, Speed, Temperature, UnitSystem};
use crate::studies::comparison::{Comparison, Contender, ReleaseSaid, compare};

/// Whether a routing may be built, from what is found in it and its solves at the three speeds. Whether its pressure test
/// may be asked for is not asked here.
fn release_said(project: &Project, findings: &[Finding], range: &SpeedRange) -> ReleaseSaid {
    let release = Release::of(project, findings, &range.outcomes, None);
    if release.is_released() {
        ReleaseSaid::Released
    } else {
        ReleaseSaid::Held(release.words(project.units))
    }
}

/// Whether one of two that are compared may be built, looked for now.
pub fn release_of(project: &Project, of: &Contender<'_>) -> ReleaseSaid {
    let findings = checks::all_findings(project, of.routing, of.outcome, &of.range.outcomes);
    release_said(project, &findings, of.range)
}

/// Conditions of one side that do not follow the point looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnConditions {
    /// Ground speed.
    pub speed: Speed,
    /// Temperature of the liquid.
    pub temperature: Temperature,
    /// Positive = right side up.
    pub side_slope: Angle,
}

/// One of the two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompareSide {
    /// The routing.
    pub routing: RoutingId,
    /// Its own conditions; without them it follows the point looked at.
    pub own: Option<OwnConditions>,
}

impl CompareSide {
    fn point(&self, looked_at: &OperatingPoint) -> OperatingPoint {
        self.own.map_or(*looked_at, |own| OperatingPoint {
            speed: own.speed,
            temperature: own.temperature,
            side_slope: own.side_slope,
            ..*looked_at
        })
    }
}

/// All that an outcome and what is found in it depend on, but the point.
#[derive(Debug, Clone, PartialEq)]
struct Inputs {
    routing: Routing,
    bar: Bar,
    duty: Duty,
    supply: Supply,
    catalogue: Catalogue,
    limits: Limits,
    units: UnitSystem,
}

impl Inputs {
    fn of(project: &Project, routing: &Routing, duty: DutyId) -> Self {
        Self {
            routing: routing.clone(),
            bar: project.bar.clone(),
            duty: project.duty(duty).clone(),
            supply: project.supply.clone(),
            catalogue: project.catalogue.clone(),
            limits: project.limits,
            units: project.units,
        }
    }

    fn still_hold(&self, project: &Project, routing: &Routing, duty: DutyId) -> bool {
        // What changes in a gesture first, so that the answer comes early.
        self.routing == *routing
            && self.duty == *project.duty(duty)
            && self.supply == project.supply
            && self.bar == project.bar
            && self.catalogue == project.catalogue
            && self.limits == project.limits
            && self.units == project.units
    }
}

#[derive(Debug)]
struct SolvedSide {
    inputs: Inputs,
    geometry: RoutingGeometry,
    outcome: Outcome,
    range: SpeedRange,
    revision: u64,
    /// Whether it may be built; none until that was looked for.
    release: Option<ReleaseSaid>,
}

/// The state of the session that a comparison is of.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Followed {
    revision: u64,
    findings_revision: u64,
    is_dragged: bool,
}

/// Two routings side by side.
#[derive(Debug)]
pub struct SideBySide {
    sides: [CompareSide; 2],
    solved: [Option<SolvedSide>; 2],
    comparison: Option<Comparison>,
    /// What the comparison is of.
    followed: Option<Followed>,
    solves: u64,
}

impl SideBySide {
    /// The routing in hand above, the next one below; a single routing is set against itself at the fastest speed.
    pub fn new(session: &Session) -> Self {
        let routings = &session.project().routings;
        let upper = session.routing().id;
        let at = routings.iter().position(|routing| routing.id == upper).unwrap_or(0);
        let lower = routings.get(at + 1).or_else(|| routings.first()).map_or(upper, |routing| routing.id);
        // The first of the project stays above.
        let (upper, lower) = if at + 1 == routings.len() { (lower, upper) } else { (upper, lower) };
        let point = session.point();
        let own = (upper == lower).then(|| OwnConditions {
            speed: session.duty().fastest,
            temperature: point.temperature,
            side_slope: point.side_slope,
        });
        let sides = [CompareSide { routing: upper, own: None }, CompareSide { routing: lower, own }];
        Self { sides, solved: [None, None], comparison: None, followed: None, solves: 0 }
    }

    /// Above and below.
    pub const fn sides(&self) -> &[CompareSide; 2] {
        &self.sides
    }

    /// Puts another routing on a side, 0 or 1, or the same under other conditions.
    pub fn set_side(&mut self, index: usize, side: CompareSide) {
        if self.sides[index] != side {
            self.sides[index] = side;
            self.followed = None;
        }
    }

    /// Changes the two over.
    pub fn swap(&mut self) {
        self.sides.swap(0, 1);
        self.solved.swap(0, 1);
        self.followed = None;
    }

    /// Brings outcomes and comparison up to date; true if anything was not.
    pub fn follow(&mut self, session: &Session) -> bool {
        let now = Followed {
            revision: session.revision(),
            findings_revision: session.findings_revision(),
            is_dragged: session.follows_drag(),
        };
        if self.followed == Some(now) {
            return false;
        }
        for side in &mut self.sides {
            if session.project().routing(side.routing).is_none() {
                side.routing = session.routing().id;
            }
        }
        for side in 0..2 {
            self.solve(session, side);
        }
        let said = [self.release(session, 0), self.release(session, 1)];
        let [a, b] = [self.contender(session, 0), self.contender(session, 1)];
        self.comparison = a.zip(b).map(|(a, b)| compare(session.project(), &a, &b));
        if let Some(comparison) = &mut self.comparison {
            comparison.tell_release(&said);
        }
        self.followed = Some(now);
        true
    }

    /// This side is what the session has in hand, at the point it looks at: the session has solved it.
    pub fn shows_session(&self, session: &Session, side: usize) -> bool {
        let shown = &self.sides[side];
        shown.routing == session.routing().id && shown.point(session.point()) == *session.point()
    }

    fn solve(&mut self, session: &Session, side: usize) {
        let project = session.project();
        let shown = self.sides[side];
        let Some(routing) = project.routing(shown.routing) else { return };
        if self.shows_session(session, side) {
            self.solved[side] = None;
            return;
        }
        let point = shown.point(session.point());
        let holds = |solved: &SolvedSide| {
            solved.outcome.point == point && solved.inputs.still_hold(project, routing, point.duty)
        };
        if self.solved[side].as_ref().is_some_and(holds) {
            return;
        }
        let geometry = RoutingGeometry::working(project, routing);
        let laid = geometry.with(routing);
        let mut bench = KeptSolver::default();
        let mut prepared = bench.prepare(project, laid);
        let outcome = prepared.solve(&point);
        let range = prepared.speed_range(&point, Some(&outcome));
        self.solves += 1;
        self.solved[side] = Some(SolvedSide {
            inputs: Inputs::of(project, routing, point.duty),
            geometry,
            outcome,
            range,
            revision: session.revision(),
            release: None,
        });
    }

    /// Whether the routing on a side may be built. What is dragged is not held up: it is looked for when it rests.
    fn release(&mut self, session: &Session, side: usize) -> ReleaseSaid {
        let project = session.project();
        let known = self.solved[side].as_ref().and_then(|solved| solved.release.clone());
        if let Some(known) = known {
            return known;
        }
        if session.follows_drag() || !session.has_found() {
            return ReleaseSaid::Awaited;
        }
        let Some(contender) = self.contender(session, side) else { return ReleaseSaid::Awaited };
        if self.solved[side].is_none() {
            return release_said(project, session.findings(), contender.range);
        }
        let said = release_of(project, &contender);
        if let Some(solved) = &mut self.solved[side] {
            solved.release = Some(said.clone());
        }
        said
    }

    /// The routing on a side.
    pub fn routing<'a>(&self, session: &'a Session, side: usize) -> Option<&'a Routing> {
        session.project().routing(self.sides[side].routing)
    }

    /// The routing on a side and where it lies.
    pub fn laid<'a>(&'a self, session: &'a Session, side: usize) -> Option<LaidRouting<'a>> {
        let routing = self.routing(session, side)?;
        let geometry =
            self.solved[side].as_ref().map_or_else(|| session.geometry(), |solved| &solved.geometry);
        Some(geometry.with(routing))
    }

    /// What flows on a side.
    pub fn outcome<'a>(&'a self, session: &'a Session, side: usize) -> &'a Outcome {
        self.solved[side].as_ref().map_or_else(|| session.outcome(), |solved| &solved.outcome)
    }

    fn range<'a>(&'a self, session: &'a Session, side: usize) -> &'a SpeedRange {
        self.solved[side].as_ref().map_or_else(|| session.range(), |solved| &solved.range)
    }

    /// Differs whenever what is drawn of a side may.
    pub fn revision(&self, session: &Session, side: usize) -> u64 {
        self.solved[side].as_ref().map_or_else(|| session.revision(), |solved| solved.revision)
    }

    /// How often a side was solved here; the session's own solves are not counted.
    pub const fn solves(&self) -> u64 {
        self.solves
    }

    fn contender<'a>(&'a self, session: &'a Session, side: usize) -> Option<Contender<'a>> {
        Some(Contender {
            routing: self.laid(session, side)?,
            outcome: self.outcome(session, side),
            range: self.range(session, side),
        })
    }

    /// The comparison as of the last [`SideBySide::follow`].
    pub const fn comparison(&self) -> Option<&Comparison> {
        self.comparison.as_ref()
    }
}
