//! The studies while they are looked at: which one, what it is asked, how far it is, and whether its answer still holds.
//!
//! [`Studies::follow`] looks at the session once for each frame, starts the study on a thread when something has changed
//! and editing pauses, and takes what comes of it. Time is handed in.

use std::sync::Arc;
use std::time::Duration;

use super::Session;
use super::task::{Task, Teller, Told};
use crate::plan::{OperatingPoint, Project, RoutingGeometry, RoutingId};
use crate::studies::report::StudyReport;
use crate::studies::{NoAnswer, Studied, Study, StudyOptions, answer};

/// Quiet after a change before a study is made anew.
pub const SETTLE: Duration = Duration::from_millis(400);

/// All that an answer depends on.
#[derive(Debug, Clone)]
struct AskedOf {
    study: Study,
    options: StudyOptions,
    project: Arc<Project>,
    routing: RoutingId,
    point: OperatingPoint,
}

impl AskedOf {
    fn is_same(&self, other: &Self) -> bool {
        self.study == other.study
            && self.options == other.options
            && self.routing == other.routing
            && self.point == other.point
            && (Arc::ptr_eq(&self.project, &other.project) || self.project == other.project)
    }
}

/// What the thread tells.
enum StudyEvent {
    SoFar(f32),
    Done(Box<Result<StudyReport, NoAnswer>>),
}

/// How the answer stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StudyState {
    /// It is that of the project as it is.
    UpToDate,
    /// Something has changed; it is made anew when editing pauses.
    OutOfDate,
    /// It is being worked out: so much of it, 0 to 1.
    Working(f32),
    /// It was stopped.
    Stopped,
}

/// The studies while they are looked at.
pub struct Studies {
    /// The one that is shown.
    pub study: Study,
    /// What is asked.
    pub options: StudyOptions,
    asked: Option<(AskedOf, Duration)>,
    at_once: bool,
    task: Option<(AskedOf, Task<StudyEvent>)>,
    so_far: f32,
    /// The last answer of each study, and what it is of.
    answers: Vec<(AskedOf, Result<StudyReport, NoAnswer>)>,
    /// What was stopped, and is not begun again by itself.
    stopped: Option<AskedOf>,
}

impl Studies {
    /// A study that is begun at the first look.
    pub const fn new(study: Study) -> Self {
        Self {
            study,
            options: StudyOptions { row: None, bars: None },
            asked: None,
            at_once: true,
            task: None,
            so_far: 0.0,
            answers: Vec::new(),
            stopped: None,
        }
    }

    /// Turns to another study.
    pub fn turn_to(&mut self, study: Study) {
        if self.study != study {
            self.study = study;
            self.at_once = true;
        }
    }

    /// The last answer of the study that is shown, whether it still holds or not.
    pub fn answer(&self) -> Option<&Result<StudyReport, NoAnswer>> {
        self.answers.iter().find(|(of, _)| of.study == self.study).map(|(_, answer)| answer)
    }

    /// How it stands.
    pub fn state(&self) -> StudyState {
        let Some((asked, _)) = &self.asked else { return StudyState::OutOfDate };
        if self.task.as_ref().is_some_and(|(of, _)| of.is_same(asked)) {
            return StudyState::Working(self.so_far);
        }
        if self.holds(asked) {
            return StudyState::UpToDate;
        }
        if self.stopped.as_ref().is_some_and(|stopped| stopped.is_same(asked)) {
            return StudyState::Stopped;
        }
        StudyState::OutOfDate
    }

    fn holds(&self, asked: &AskedOf) -> bool {
        self.answers.iter().any(|(of, _)| of.is_same(asked))
    }

    /// Begins at once instead of when editing pauses, also what was stopped.
    pub fn begin_now(&mut self) {
        self.at_once = true;
        self.stopped = None;
    }

    /// Stops what is being worked out.
    pub fn stop(&mut self) {
        if let Some((of, _)) = self.task.take() {
            self.stopped = Some(of);
        }
    }

    /// Looks at the session, begins what is due, and takes what came; how long until it should look again. `wake` is
    /// called from the thread whenever there is something to look at.
    pub fn follow(
        &mut self,
        session: &Session,
        now: Duration,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Option<Duration> {
        self.take(false);
        let of = AskedOf {
            study: self.study,
            options: self.options,
            project: session.snapshot(),
            routing: session.routing().id,
            point: *session.point(),
        };
        if !self.asked.as_ref().is_some_and(|(asked, _)| asked.is_same(&of)) {
            self.asked = Some((of.clone(), now));
        }
        let since = self.asked.as_ref().map_or(now, |(_, since)| *since);
        if self.task.as_ref().is_some_and(|(under_way, _)| !under_way.is_same(&of)) {
            // Its answer would be of something that is gone.
            self.task = None;
        }
        let is_stopped = self.stopped.as_ref().is_some_and(|stopped| stopped.is_same(&of));
        if self.task.is_some() || is_stopped || self.holds(&of) {
            self.at_once = false;
            return None;
        }
        let due = since + SETTLE;
        if (now < due && !self.at_once) || session.is_in_step() {
            return Some(due.saturating_sub(now).max(Duration::from_millis(50)));
        }
        self.at_once = false;
        self.stopped = None;
        self.so_far = 0.0;
        let work = {
            let of = of.clone();
            move |teller: &Teller<StudyEvent>| teller.tell(StudyEvent::Done(Box::new(work_out(&of, teller))))
        };
        self.task = Some((of, Task::start(wake, work)));
        None
    }

    fn take(&mut self, waits: bool) {
        let Some((of, task)) = &mut self.task else { return };
        let mut done = None;
        while let Some(event) = task.next(waits) {
            match event {
                StudyEvent::SoFar(part) => self.so_far = part,
                StudyEvent::Done(answer) => done = Some(*answer),
            }
        }
        let broke_off = task.has_ended() && done.is_none();
        let done = done.or_else(|| {
            let fault =
                || NoAnswer::impossible("the study broke off", "ask again, and tell whoever maintains it");
            broke_off.then(|| Err(fault()))
        });
        if let Some(answer) = done {
            let of = of.clone();
            self.answers.retain(|(other, _)| other.study != of.study);
            self.answers.push((of, answer));
            self.task = None;
        }
    }

    /// Stands still until nothing is under way; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        self.take(true);
    }
}

/// On the thread.
fn work_out(of: &AskedOf, teller: &Teller<StudyEvent>) -> Result<StudyReport, NoAnswer> {
    let Some(routing) = of.project.routing(of.routing) else {
        return Err(NoAnswer::impossible("the project has no routing", "add one first"));
    };
    let geometry = RoutingGeometry::working(&of.project, routing);
    let studied = Studied { project: &of.project, routing: geometry.with(routing), point: of.point };
    answer(of.study, &studied, &of.options, &Told { teller, so_far: StudyEvent::SoFar })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;

    fn at(milliseconds: u64) -> Duration {
        Duration::from_millis(milliseconds)
    }

    #[test]
    fn an_answer_is_made_when_asked_holds_until_something_changes_and_never_shows_as_current_then() {
        let mut session = Session::new(files::demo(), None);
        let mut studies = Studies::new(Study::Pressure);
        assert_eq!(studies.state(), StudyState::OutOfDate);
        assert_eq!(studies.follow(&session, at(0), || ()), None);
        studies.wait();
        assert_eq!(studies.follow(&session, at(1), || ()), None);
        assert_eq!(studies.state(), StudyState::UpToDate);
        assert!(matches!(studies.answer(), Some(Ok(_))));
        // Looked at elsewhere: out of date at once, made anew only when that has stood for a while.
        session.look_at_speed(session.duty().fastest);
        assert!(studies.follow(&session, at(100), || ()).is_some());
        assert_eq!(studies.state(), StudyState::OutOfDate);
        assert!(studies.follow(&session, at(300), || ()).is_some());
        assert_eq!(studies.follow(&session, at(600), || ()), None);
        assert!(matches!(studies.state(), StudyState::Working(_)));
        studies.wait();
        assert_eq!(studies.state(), StudyState::UpToDate);
        // A look back at another study finds its answer still there, if it holds.
        studies.turn_to(Study::Prime);
        assert_eq!(studies.follow(&session, at(700), || ()), None);
        studies.wait();
        studies.turn_to(Study::Pressure);
        assert_eq!(studies.follow(&session, at(800), || ()), None);
        assert_eq!(studies.state(), StudyState::UpToDate);
    }

    #[test]
    fn what_was_stopped_begins_again_only_when_asked_or_when_something_else_is() {
        let mut session = Session::new(files::demo(), None);
        let mut studies = Studies::new(Study::Tolerance);
        studies.follow(&session, at(0), || ());
        studies.stop();
        assert_eq!(studies.state(), StudyState::Stopped);
        assert_eq!(studies.follow(&session, at(5000), || ()), None);
        assert_eq!(studies.state(), StudyState::Stopped);
        studies.begin_now();
        studies.follow(&session, at(5001), || ());
        assert!(matches!(studies.state(), StudyState::Working(_)));
        studies.stop();
        session.look_at_speed(session.duty().fastest);
        studies.follow(&session, at(6000), || ());
        assert_eq!(studies.state(), StudyState::OutOfDate);
    }
}
