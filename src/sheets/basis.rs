//! What the papers of one routing for one duty are worked out from, each piece once, by whichever paper asks first.

use std::cell::{Cell, OnceCell};
use std::collections::BTreeMap;

use super::cut_plan::{CutPlan, cut_plan};
use super::extras::{Extra, extras};
use super::holding::Holding;
use super::items::{ListItem, items};
use super::leak_check::{LeakCheck, leak_check};
use super::test_pieces;
use crate::checks::{self, ClosedTest, Finding, Release, Severity};
use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::connection_graph::WayFromPump;
use crate::plan::flushing::FlushOrder;
use crate::plan::{Duty, LaidRouting, PartId, Project, words};
use crate::quantities::{Measure, Speed, UnitSystem};
use crate::studies::catch_test::catch_time::with_water;
use crate::studies::{Studied, Unwatched, conditions, prime};

/// Figures that differ by no more than this share are not told apart in a jug or on a gauge (common practice, no source).
const READS_ALIKE: f64 = 0.002;

/// A solve, and the duty whose liquid, rate and slopes it is of.
pub(super) struct DutyOutcome<'a> {
    pub(super) duty: &'a Duty,
    pub(super) outcome: &'a Outcome,
}

/// A routing of a project, with what several of its papers show.
pub struct Basis<'a> {
    /// The project.
    pub project: &'a Project,
    /// The routing the papers are of.
    pub routing: LaidRouting<'a>,
    /// The duty of the project that the papers are of: its liquid, rate, speeds and slopes.
    pub duty: &'a Duty,
    speeds: Vec<Speed>,
    items: OnceCell<Vec<ListItem>>,
    cut_plan: OnceCell<CutPlan>,
    extras: OnceCell<Vec<Extra>>,
    holding: OnceCell<Holding<'a>>,
    ways_from_pump: OnceCell<BTreeMap<PartId, WayFromPump>>,
    flushing: OnceCell<FlushOrder>,
    watered: OnceCell<Option<Project>>,
    outcomes: OnceCell<Vec<Outcome>>,
    with_water: OnceCell<Vec<Outcome>>,
    usual: OnceCell<Vec<Outcome>>,
    findings: OnceCell<Vec<Finding>>,
    release: OnceCell<Release>,
    closed_test: OnceCell<Option<ClosedTest>>,
    in_operation: OnceCell<Vec<String>>,
    leak_check: OnceCell<Option<LeakCheck>>,
    /// All other duties of the project.
    others: OnceCell<Vec<Self>>,
    solves: Cell<usize>,
}

impl<'a> Basis<'a> {
    /// Nothing is worked out yet.
    pub fn new(project: &'a Project, routing: LaidRouting<'a>, duty: &'a Duty) -> Self {
        Self {
            project,
            routing,
            duty,
            speeds: speeds(duty, project.units),
            items: OnceCell::new(),
            cut_plan: OnceCell::new(),
            extras: OnceCell::new(),
            holding: OnceCell::new(),
            ways_from_pump: OnceCell::new(),
            flushing: OnceCell::new(),
            watered: OnceCell::new(),
            outcomes: OnceCell::new(),
            with_water: OnceCell::new(),
            usual: OnceCell::new(),
            findings: OnceCell::new(),
            release: OnceCell::new(),
            closed_test: OnceCell::new(),
            in_operation: OnceCell::new(),
            leak_check: OnceCell::new(),
            others: OnceCell::new(),
            solves: Cell::new(0),
        }
    }

    /// How many operating points have been solved so far, with the liquid and with water.
    pub fn solves(&self) -> usize {
        let of_others = self.others.get().map_or(0, |all| all.iter().map(Basis::solves).sum());
        self.solves.get() + of_others
    }

    fn solve(&self, project: &Project, speeds: &[Speed]) -> Vec<Outcome> {
        self.solves.set(self.solves.get() + speeds.len());
        let mut bench = KeptSolver::default();
        let mut prepared = bench.prepare(project, self.routing);
        speeds.iter().map(|speed| prepared.solve(&self.duty.at(*speed))).collect()
    }

    /// The speeds of the commissioning sheet.
    pub(super) fn speeds(&self) -> &[Speed] {
        &self.speeds
    }

    /// The items of the parts list.
    pub(super) fn items(&self) -> &[ListItem] {
        self.items.get_or_init(|| items(self.project, self.routing))
    }

    /// What is cut from which roll.
    pub(super) fn cut_plan(&self) -> &CutPlan {
        self.cut_plan.get_or_init(|| cut_plan(self.project, self.routing))
    }

    /// What the parts list counts beside the catalogue's items.
    pub(super) fn extras(&self) -> &[Extra] {
        let after = self.items().len();
        let (plan, holding, flushing) = (self.cut_plan(), self.holding(), self.flushing());
        self.extras.get_or_init(|| extras(self.project, self.routing, plan, holding, flushing, after))
    }

    /// What holds hoses, tubes and parts where the frame alone does not.
    pub(super) fn holding(&self) -> &Holding<'a> {
        self.holding.get_or_init(|| Holding::of(self.project, self.routing))
    }

    /// How far each part is from the pump along the hoses.
    pub(super) fn ways_from_pump(&self) -> &BTreeMap<PartId, WayFromPump> {
        self.ways_from_pump.get_or_init(|| test_pieces::ways_from_pump(self.routing))
    }

    /// In which order hoses and manifolds are flushed.
    pub(super) fn flushing(&self) -> &FlushOrder {
        let work_out = || test_pieces::flushing(self.project, self.routing, self.ways_from_pump());
        self.flushing.get_or_init(work_out)
    }

    /// The project with water in its tank; none where it is water already.
    fn watered(&self) -> Option<&Project> {
        self.watered.get_or_init(|| with_water(self.project, self.duty)).as_ref()
    }

    /// The liquid is water.
    pub(super) fn is_water(&self) -> bool {
        self.watered().is_none()
    }

    /// With water the sheet reads otherwise than with the liquid, at one of its speeds.
    pub(super) fn water_differs(&self) -> bool {
        let differs = |liquid: f64, water: f64| (water - liquid).abs() > READS_ALIKE * liquid.abs();
        !self.is_water()
            && self.outcomes().iter().zip(self.water_outcomes()).any(|(liquid, water)| {
                match (liquid.numbers(), water.numbers()) {
                    (Some(one), Some(other)) => {
                        differs(one.pump_pressure.si(), other.pump_pressure.si())
                            || one.parts.iter().zip(&other.parts).any(|(one, other)| {
                                let pressures = one.pressure.zip(other.pressure);
                                pressures.is_some_and(|(one, other)| differs(one.si(), other.si()))
                            })
                            || one.rows.iter().zip(&other.rows).any(|(one, other)| {
                                one.state != other.state || differs(one.flow.si(), other.flow.si())
                            })
                    }
                    (None, None) => false,
                    _ => true,
                }
            })
    }

    /// With the liquid at the speeds of the commissioning sheet.
    pub(super) fn outcomes(&self) -> &[Outcome] {
        self.outcomes.get_or_init(|| self.solve(self.project, &self.speeds))
    }

    /// The same with water; what it is with the liquid where that is water.
    pub(super) fn water_outcomes(&self) -> &[Outcome] {
        match self.watered() {
            Some(watered) => self.with_water.get_or_init(|| self.solve(watered, &self.speeds)),
            None => self.outcomes(),
        }
    }

    /// How water is brought to the pressure of the liquid at the fastest speed; none where it reaches that at the same speed, or
    /// the routing is not solved.
    pub(super) fn leak_check(&self) -> Option<&LeakCheck> {
        let find = || {
            let (watered, liquid, water) =
                (self.watered()?, self.outcomes().last()?, self.water_outcomes().last()?);
            let found = leak_check(watered, self.routing, watered.duty(self.duty.id), liquid, water);
            self.solves.set(self.solves.get() + found.as_ref().map_or(0, |one| one.solves));
            found
        };
        self.leak_check.get_or_init(find).as_ref()
    }

    /// With the liquid at the usual speed.
    pub(super) fn usual(&self) -> Option<&Outcome> {
        let usual = self.duty.usual;
        // Where two speeds read the same, the sheet has one of them only.
        match self.speeds.iter().position(|speed| *speed == usual) {
            Some(at) => self.outcomes().get(at),
            None => self.usual.get_or_init(|| self.solve(self.project, &[usual])).first(),
        }
    }

    /// All findings at these speeds, hidden ones too.
    pub(super) fn findings(&self) -> &[Finding] {
        self.findings.get_or_init(|| {
            let found = |usual| checks::all_findings(self.project, self.routing, usual, self.outcomes());
            self.usual().map(found).unwrap_or_default()
        })
    }

    /// How many errors and warnings are open at any of the speeds of the commissioning sheet, in words; none where none is.
    pub(super) fn open_findings(&self) -> Option<String> {
        let found = self.findings();
        let count = |severity| found.iter().filter(|one| one.severity == severity).count();
        let said: Vec<String> = [(Severity::Error, "error"), (Severity::Warning, "warning")]
            .into_iter()
            .filter(|(severity, _)| count(*severity) > 0)
            .map(|(severity, word)| words::counted(count(severity), word))
            .collect();
        let open = found.iter().filter(|one| one.severity != Severity::Note);
        let hidden = open.clone().filter(|one| checks::is_hidden(self.project, one)).count();
        let hidden =
            if hidden == 0 { String::new() } else { format!(" ({hidden} of them hidden on screen)") };
        let verb = if open.count() == 1 { "is" } else { "are" };
        (!said.is_empty())
            .then(|| format!("{} {verb} open{hidden}, see the commissioning sheet", words::list(&said)))
    }

    /// Whether the routing may be built for the duty of the papers: by its slowest, usual and fastest speed, as on every
    /// screen.
    pub fn release(&self) -> &Release {
        self.release.get_or_init(|| {
            let outcomes: Vec<Outcome> = self.at_named_speeds().cloned().collect();
            let found = |usual| checks::all_findings(self.project, self.routing, usual, &outcomes);
            let findings = self.usual().map(found).unwrap_or_default();
            Release::of(self.project, &findings, &outcomes, self.closed_test())
        })
    }

    /// With the liquid at the duty's slowest, usual and fastest speed.
    fn at_named_speeds(&self) -> impl Iterator<Item = &Outcome> {
        let named = self.duty.speeds();
        self.outcomes().iter().filter(move |one| named.contains(&one.point.speed))
    }

    /// Whether the test with the outlets closed may be asked for, for every duty of the bar; none where no hose is to be
    /// tested.
    pub(super) fn closed_test(&self) -> Option<&ClosedTest> {
        let outcomes = || self.every_duty().flat_map(Basis::at_named_speeds);
        self.closed_test.get_or_init(|| ClosedTest::of(self.project, self.routing, outcomes())).as_ref()
    }

    /// What goes wrong at work where the duty does not say that it will be so, in words: on slopes that are tried, in the cold,
    /// worn, with the pump off. Nothing where the routing is not solved: that is said elsewhere.
    pub(super) fn in_operation(&self) -> &[String] {
        self.in_operation.get_or_init(|| {
            let point = self.duty.usual_point();
            let of = Studied { project: self.project, routing: self.routing, point };
            let mut all: Vec<String> = prime::runs_out_on_slopes(&of).ok().flatten().into_iter().collect();
            all.extend(conditions::outside_at_work(&of, &Unwatched).unwrap_or_default());
            all
        })
    }

    /// What the papers of each duty are worked out from, their own first: what bears one duty has to bear them all.
    pub(super) fn every_duty(&self) -> impl Iterator<Item = &Self> {
        let others = self.others.get_or_init(|| {
            let others = self.project.duties.iter().filter(|duty| duty.id != self.duty.id);
            others.map(|duty| Basis::new(self.project, self.routing, duty)).collect()
        });
        std::iter::once(self).chain(others)
    }

    /// Every duty with its liquid and with water, at all its speeds: the papers' own duty first.
    pub(super) fn all_outcomes(&self) -> Vec<DutyOutcome<'_>> {
        let mut all = Vec::new();
        for basis in self.every_duty() {
            let outcomes = basis.outcomes().iter().chain(basis.water_outcomes());
            all.extend(outcomes.map(|outcome| DutyOutcome { duty: basis.duty, outcome }));
        }
        all
    }
}

/// The speeds of the sheet: slowest, usual and fastest with the middles between them, each once.
fn speeds(duty: &Duty, units: UnitSystem) -> Vec<Speed> {
    let middle = |a: Speed, b: Speed| (a + b) / 2.0;
    let all = [
        duty.slowest,
        middle(duty.slowest, duty.usual),
        duty.usual,
        middle(duty.usual, duty.fastest),
        duty.fastest,
    ];
    let mut speeds: Vec<Speed> = Vec::new();
    for speed in all {
        let shown = |speed: Speed| Measure::GroundSpeed.number(speed.si(), units);
        if speeds.last().is_none_or(|last| shown(*last) != shown(speed)) {
            speeds.push(speed);
        }
    }
    speeds
}
