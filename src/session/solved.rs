//! The solved state: the routing in hand at the operating point looked at, where it lies, what flows in it, and what is
//! to be said about it, always of one project.
//!
//! Never here: a change of a project, tools, or what is selected.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, LazyLock};

use super::refusal::Remark;
use super::task::Task;
use crate::checks::{self, Finding};
use crate::hydraulics::speed_range::SpeedRange;
use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::{Duty, LaidRouting, OperatingPoint, Project, Routing, RoutingGeometry, RoutingId};
use crate::studies::Studied;
use crate::studies::conditions::Condition;

/// A routing of a project, solved.
#[derive(Debug)]
pub(super) struct SolvedRouting {
    routing: RoutingId,
    point: OperatingPoint,
    solver: KeptSolver,
    revision: u64,
    /// What has become of what was looked at without being asked for.
    remark: Option<Remark>,
    results: Results,
    findings: Found,
    /// Something is dragged: findings may be those of a moment ago.
    dragged: bool,
    looked_at: Option<LookedAt>,
    /// Computes lengths at hinges that were left while something is dragged.
    lengths: Option<Task<()>>,
    /// Finds what is to be said while something is dragged.
    finding: Option<Task<Found>>,
}

/// Findings, with the revision that they are of.
#[derive(Debug, Clone)]
struct Found {
    revision: u64,
    findings: Vec<Finding>,
}

/// A condition other than planned that is looked at, and what flows under it.
#[derive(Debug, Clone)]
struct LookedAt {
    condition: Condition,
    words: String,
    outcome: Outcome,
}

/// What one solve gives, shared with whoever looks for findings in it.
#[derive(Debug, Clone)]
struct Results {
    geometry: Arc<RoutingGeometry>,
    outcome: Arc<Outcome>,
    range: Arc<SpeedRange>,
}

impl SolvedRouting {
    /// The first routing of a project at its usual speed.
    pub(super) fn new(project: &Project) -> Self {
        let routing = first(project);
        let point = project.duties.first().usual_point();
        let mut solver = KeptSolver::default();
        let results = Results::of(&mut solver, project, routing, &point, laid_out(project, routing));
        let revision = next_revision();
        Self {
            routing,
            point,
            solver,
            revision,
            remark: None,
            findings: Found { revision, findings: results.findings(project, routing) },
            results,
            dragged: false,
            looked_at: None,
            lengths: None,
            finding: None,
        }
    }

    /// The same for a copy of its session; what is under way on threads is begun there anew.
    pub(super) fn twin(&self) -> Self {
        Self {
            routing: self.routing,
            point: self.point,
            solver: KeptSolver::default(),
            revision: self.revision,
            remark: self.remark.clone(),
            results: self.results.clone(),
            findings: self.findings.clone(),
            dragged: self.dragged,
            looked_at: self.looked_at.clone(),
            lengths: None,
            finding: None,
        }
    }

    pub(super) const fn routing_id(&self) -> RoutingId {
        self.routing
    }

    /// The routing in hand as it is in a project.
    pub(super) fn routing_in<'project>(&self, project: &'project Project) -> &'project Routing {
        static NONE: LazyLock<Routing> = LazyLock::new(|| Routing::empty(RoutingId(0), ""));
        project.routing(self.routing).or_else(|| project.routings.first()).unwrap_or(&NONE)
    }

    pub(super) const fn point(&self) -> &OperatingPoint {
        &self.point
    }

    pub(super) const fn revision(&self) -> u64 {
        self.revision
    }

    pub(super) fn outcome(&self) -> &Outcome {
        &self.results.outcome
    }

    /// What flows under the condition that is looked at, or as planned.
    pub(super) fn shown_outcome(&self) -> &Outcome {
        self.looked_at.as_ref().map_or(&self.results.outcome, |looked_at| &looked_at.outcome)
    }

    /// The condition that is looked at, in words.
    pub(super) fn looked_at(&self) -> Option<&str> {
        self.looked_at.as_ref().map(|looked_at| looked_at.words.as_str())
    }

    pub(super) fn range(&self) -> &SpeedRange {
        &self.results.range
    }

    pub(super) fn geometry(&self) -> &RoutingGeometry {
        &self.results.geometry
    }

    pub(super) fn laid<'both>(&'both self, project: &'both Project) -> LaidRouting<'both> {
        self.geometry().with(self.routing_in(project))
    }

    /// What is to be said of the routing in hand, or, while something is dragged, of what it was a moment ago.
    pub(super) fn findings(&self) -> &[Finding] {
        &self.findings.findings
    }

    pub(super) const fn findings_revision(&self) -> u64 {
        self.findings.revision
    }

    const fn has_found(&self) -> bool {
        self.findings.revision == self.revision
    }

    /// Takes another routing in hand, not solved yet. Conditions are of things of one routing.
    pub(super) fn turn_to(&mut self, routing: RoutingId) {
        if self.routing != routing {
            self.looked_at = None;
        }
        self.routing = routing;
    }

    /// Takes the first of these routings that is there, or the first of all; not solved yet.
    pub(super) fn turn_to_one_of(&mut self, project: &Project, wanted: [RoutingId; 2]) {
        let there = wanted.into_iter().find(|id| project.routing(*id).is_some());
        self.turn_to(there.unwrap_or_else(|| first(project)));
    }

    /// What has become of what was looked at without being asked for, told once.
    pub(super) const fn take_remark(&mut self) -> Option<Remark> {
        self.remark.take()
    }

    /// The point looked at follows what is asked: a changed rate or design condition at once, the speed if it was
    /// one of the three that changed. Where its duty is gone, the first is looked at.
    pub(super) fn follow(&mut self, before: &Project, now: &Project) {
        let Some((before, now)) = before.duties.get(self.point.duty).zip(now.duties.get(self.point.duty))
        else {
            return self.leave_missing_duty(before, now);
        };
        let point = &mut self.point;
        point.rate = now.rate;
        if before.temperature != now.temperature {
            point.temperature = now.temperature;
        }
        if before.side_slope != now.side_slope {
            point.side_slope = now.side_slope;
        }
        if before.fore_aft_slope != now.fore_aft_slope {
            point.fore_aft_slope = now.fore_aft_slope;
        }
        for (old, new) in before.speeds().into_iter().zip(now.speeds()) {
            if old != new && point.speed == old {
                point.speed = new;
            }
        }
    }

    fn leave_missing_duty(&mut self, before: &Project, now: &Project) {
        if now.duties.get(self.point.duty).is_some() {
            return;
        }
        let gone = before.duty(self.point.duty).name.clone();
        let first = now.duties.first();
        self.point = first.usual_point();
        self.remark = Some(Remark::DutyGone { gone, shown: first.name.clone() });
    }

    /// What was undone or done again is shown: where that left the duty that is looked at as it was and changed or
    /// brought back another, that one is looked at.
    pub(super) fn show_changed_duty(&mut self, before: &Project, now: &Project) {
        let is_new = |duty: &&Duty| before.duties.get(duty.id) != Some(*duty);
        if now.duties.get(self.point.duty).as_ref().is_some_and(is_new) {
            return;
        }
        if let Some(changed) = now.duties.iter().find(is_new) {
            self.point = changed.usual_point();
        }
    }

    /// Solves at another operating point; what lies where stays.
    pub(super) fn look_at(&mut self, project: &Project, point: OperatingPoint) {
        if point != self.point {
            self.point = point;
            let geometry = Arc::clone(&self.results.geometry);
            self.solve(project, geometry);
            self.find(project);
        }
    }

    /// Looks at what flows under a condition, or as planned with none; false where it can't be tried on the routing.
    pub(super) fn look_at_condition(&mut self, project: &Project, condition: Option<Condition>) -> bool {
        let looked_at = match condition {
            None => None,
            Some(condition) => match self.under(project, condition) {
                None => return false,
                found => found,
            },
        };
        self.looked_at = looked_at;
        let has_found = self.has_found();
        self.revision = next_revision();
        if has_found {
            // They go by the plan.
            self.findings.revision = self.revision;
        }
        true
    }

    fn under(&self, project: &Project, condition: Condition) -> Option<LookedAt> {
        let of = Studied { project, routing: self.laid(project), point: self.point };
        let outcome = condition.outcome(&of)?;
        Some(LookedAt { words: condition.text(&of), condition, outcome })
    }

    /// Lays out and solves anew: the project or the routing in hand is another.
    pub(super) fn solve_anew(&mut self, project: &Project) {
        let routing = self.routing_in(project).id;
        self.solve(project, laid_out(project, routing));
        self.find(project);
    }

    /// The same while something is dragged: findings, and lengths at hinges that nobody has computed yet, are left to
    /// [`Self::keep_computing`].
    pub(super) fn solve_without_waiting(&mut self, project: &Project) {
        let geometry = RoutingGeometry::without_waiting(project, self.routing_in(project));
        self.solve(project, geometry.into());
        self.dragged = true;
    }

    pub(super) const fn is_dragged(&self) -> bool {
        self.dragged
    }

    /// Nothing is dragged any more: looks for findings at once, if they are not known.
    pub(super) fn find(&mut self, project: &Project) {
        self.dragged = false;
        if !self.has_found() {
            let findings = self.results.findings(project, self.routing_in(project).id);
            self.findings = Found { revision: self.revision, findings };
        }
    }

    /// Lengths at hinges are still to be computed.
    pub(super) fn awaits_lengths(&self) -> bool {
        !self.results.geometry.awaited().is_empty()
    }

    /// Has what a drag left open worked out on threads, and takes what is ready; true while some of it is under way.
    /// `wake` is called from those threads when there is something to take.
    pub(super) fn keep_computing(
        &mut self,
        project: &Arc<Project>,
        wake: impl Fn() + Send + Sync + Clone + 'static,
    ) -> bool {
        let computing = self.keep_computing_lengths(project, wake.clone());
        let finding = self.keep_finding(project, wake);
        computing || finding
    }

    fn keep_finding(&mut self, project: &Arc<Project>, wake: impl Fn() + Send + Sync + 'static) -> bool {
        if let Some(task) = &mut self.finding {
            while let Some(found) = task.next(false) {
                // What was looked for at once in between is newer.
                if found.revision > self.findings.revision {
                    self.findings = found;
                }
            }
            if !task.has_ended() {
                return true;
            }
            self.finding = None;
        }
        if self.has_found() {
            return false;
        }
        let (project, results) = (Arc::clone(project), self.results.clone());
        let (routing, revision) = (self.routing_in(&project).id, self.revision);
        self.finding = Some(Task::start(wake, move |teller| {
            teller.tell(Found { revision, findings: results.findings(&project, routing) });
        }));
        true
    }

    fn keep_computing_lengths(&mut self, project: &Project, wake: impl Fn() + Send + Sync + 'static) -> bool {
        if let Some(task) = &mut self.lengths {
            while task.next(false).is_some() {}
            if !task.has_ended() {
                return true;
            }
            self.lengths = None;
            if self.awaits_lengths() {
                self.solve_without_waiting(project);
            }
        }
        let awaited = self.results.geometry.awaited();
        if awaited.is_empty() {
            return false;
        }
        self.lengths = Some(Task::start(wake, move |teller| {
            for one in awaited.iter().take_while(|_| !teller.is_stopped()) {
                one.compute();
            }
        }));
        true
    }

    fn solve(&mut self, project: &Project, geometry: Arc<RoutingGeometry>) {
        let routing = self.routing_in(project).id;
        self.revision = next_revision();
        self.results = Results::of(&mut self.solver, project, routing, &self.point, geometry);
        if let Some(before) = self.looked_at.take() {
            self.looked_at = self.under(project, before.condition);
            if self.looked_at.is_none() {
                self.remark = Some(Remark::ConditionGone(before.words));
            }
        }
    }
}

impl Results {
    fn of(
        solver: &mut KeptSolver,
        project: &Project,
        routing: RoutingId,
        point: &OperatingPoint,
        geometry: Arc<RoutingGeometry>,
    ) -> Self {
        let empty = Routing::empty(routing, "");
        let routing = geometry.with(project.routing(routing).unwrap_or(&empty));
        let mut prepared = solver.prepare(project, routing);
        let outcome = prepared.solve(point);
        let range = prepared.speed_range(point, Some(&outcome));
        Self { outcome: outcome.into(), range: range.into(), geometry }
    }

    fn findings(&self, project: &Project, routing: RoutingId) -> Vec<Finding> {
        let empty = Routing::empty(routing, "");
        let routing = self.geometry.with(project.routing(routing).unwrap_or(&empty));
        checks::findings(project, routing, &self.outcome, &self.range.outcomes)
    }
}

/// What is found in a routing of a project at a point, and at the three speeds of its duty.
pub(super) fn findings_at(project: &Project, routing: RoutingId, point: &OperatingPoint) -> Vec<Finding> {
    Results::of(&mut KeptSolver::default(), project, routing, point, laid_out(project, routing))
        .findings(project, routing)
}

fn first(project: &Project) -> RoutingId {
    project.routings.first().map_or(RoutingId(0), |routing| routing.id)
}

fn next_revision() -> u64 {
    static LAST: AtomicU64 = AtomicU64::new(0);
    LAST.fetch_add(1, Ordering::Relaxed) + 1
}

fn laid_out(project: &Project, routing: RoutingId) -> Arc<RoutingGeometry> {
    let empty = Routing::empty(routing, "");
    RoutingGeometry::working(project, project.routing(routing).unwrap_or(&empty)).into()
}

#[cfg(test)]
mod tests {
    use super::super::Session;
    use crate::files;
    use crate::geometry::Point3;
    use crate::plan::{CrossedHinge, Edit, RoutingGeometry, Run};

    fn is_computed(session: &Session, run: &Run) -> bool {
        let laid = session.geometry().run(run.id);
        laid.is_some_and(|laid| laid.crossings.iter().any(|one| CrossedHinge::computed(one).is_some()))
    }

    /// Findings follow a drag from a thread, are said to be older until they are there, and are there when the hand lets go.
    #[test]
    fn findings_follow_a_drag() {
        let mut session = Session::new(files::demo(), None);
        let part = session.routing().parts.iter().find(|part| part.tag == "M1").unwrap().clone();
        let far = Point3::new(part.position.x, part.position.y + 0.5, part.position.z + 3.0);
        let sound = session.findings().to_vec();
        for waits in [true, false] {
            session.begin("Lift");
            let edit = Edit::MovePart(session.routing().id, part.id, far);
            session.change_routing(|session| session.document.apply([edit])).unwrap();
            assert!(!session.has_found() && session.findings() == sound);
            while waits && session.keep_computing(|| {}) {
                std::thread::yield_now();
            }
            assert_eq!(session.has_found(), waits);
            session.commit().unwrap();
            assert!(session.has_found() && session.findings() != sound);
            session.undo();
            assert!(session.has_found() && session.findings() == sound);
        }
    }

    /// A drag waits for no length at a hinge: it is said to be under way and computed beside it, and when the hand lets go
    /// first, it is there at once.
    #[test]
    fn lengths_at_hinges_are_computed_beside_a_drag() {
        let mut session = Session::new(files::demo(), None);
        let runs = &session.routing().runs;
        let fits = |run: &&Run| !run.line.waypoints.is_empty() && is_computed(&session, run);
        let run = runs.iter().find(fits).unwrap().clone();
        // Heights that no other test asks for.
        let lifted = |by: f64| {
            let mut lifted = run.clone();
            for waypoint in &mut lifted.line.waypoints {
                waypoint.place.z += by;
            }
            lifted
        };
        session.begin("Lift");
        for by in [0.0371, 0.0583] {
            let edit = Edit::PutRun(session.routing().id, lifted(by));
            session.change_routing(|session| session.document.apply([edit])).unwrap();
            assert!(session.awaits_lengths());
            assert!(session.geometry().run(run.id).unwrap().known_length().is_none());
            if by < 0.05 {
                while session.keep_computing(|| {}) {
                    std::thread::yield_now();
                }
            } else {
                session.commit().unwrap();
            }
            assert!(!session.awaits_lengths() && is_computed(&session, &run));
            let at_once = RoutingGeometry::working(session.project(), session.routing());
            assert_eq!(session.geometry().run(run.id), at_once.run(run.id));
        }
    }
}
