//! What a catch test says while it is looked at: judged first, then explained, on a thread; and whether it still holds.
//!
//! [`CatchAnswers::follow`] looks once for each frame at the test in hand, begins when something that its answer depends on is
//! another, and takes what comes of it. What the test says is of the test as it is taken down, or is not shown.

use std::sync::Arc;

use super::Session;
use super::task::{Task, Teller, Told};
use crate::hydraulics::Outcome;
use crate::hydraulics::evenness::evenness;
use crate::hydraulics::outcome::{Numbers, RowOutcome, RowState, SupplyState};
use crate::plan::{CatchTest, CatchTestId, Project};
use crate::quantities::Flow;
use crate::studies::NoAnswer;
use crate::studies::catch_test::explain::{ExplainOptions, Explanation, explain};
use crate::studies::catch_test::judged::{Judged, judge};
use crate::studies::catch_test::nothing_judged::NothingJudged;
use crate::studies::catch_test::prepare::PreparedTest;

/// All that an answer depends on.
#[derive(Debug, Clone)]
pub(super) struct AskedOf {
    pub(super) test: CatchTest,
    pub(super) project: Arc<Project>,
}

impl AskedOf {
    pub(super) fn of(session: &Session) -> Option<Self> {
        Some(Self { test: session.catch_test()?.clone(), project: session.snapshot() })
    }

    /// The answer of one is that of the other: the tested bar, what was taken down, and what of the project of today counts.
    pub(super) fn is_same(&self, other: &Self) -> bool {
        let (a, b) = (&self.project, &other.project);
        if Arc::ptr_eq(a, b) && self.test.id == other.test.id {
            return true;
        }
        // What nobody computes with.
        let numbers = |test: &CatchTest| CatchTest {
            date: String::new(),
            by: String::new(),
            notes: String::new(),
            ..test.clone()
        };
        if numbers(&self.test) != numbers(&other.test) {
            return false;
        }
        let is_same_bar =
            || match (a.catch_tests.project_of(&self.test), b.catch_tests.project_of(&other.test)) {
                (Some(a), Some(b)) => Arc::ptr_eq(a, b) || a == b,
                (a, b) => a.is_none() && b.is_none(),
            };
        a.units == b.units
            && a.limits == b.limits
            && a.spreads == b.spreads
            && a.catalogue == b.catalogue
            && a.cause_weights == b.cause_weights
            && is_same_bar()
    }
}

/// A test that was judged.
pub struct JudgedTest {
    /// What it was made ready as.
    pub prepared: Arc<PreparedTest>,
    /// What it says by itself.
    pub judged: Judged,
    /// What was caught, in the form of what a solve finds: rows and gauges alone.
    pub caught: Outcome,
}

/// What the thread tells.
enum AnswerEvent {
    Judged(Box<Result<JudgedTest, NoAnswer>>),
    SoFar(f32),
    Explained(Box<Result<Explanation, NoAnswer>>),
}

/// How the explanation stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ExplainedState {
    /// It is that of the test as it is.
    UpToDate,
    /// It waits for the test to be judged, or for a gesture to end.
    Waiting,
    /// It is being worked out: so much of it, 0 to 1.
    Working(f32),
    /// It was stopped.
    Stopped,
}

/// What is known of one state of one test.
struct Known {
    of: AskedOf,
    judged: Option<Result<JudgedTest, NoAnswer>>,
    explained: Option<Result<Explanation, NoAnswer>>,
    stopped: bool,
}

/// Answers of so many tests are kept, so that going back and forth between them works nothing out again.
const KEPT: usize = 6;

/// What the tests say while they are looked at.
#[derive(Default)]
pub struct CatchAnswers {
    /// The test looked at last stands last.
    known: Vec<Known>,
    task: Option<Task<AnswerEvent>>,
    so_far: f32,
    /// Counts the states that were judged, for whoever keeps a picture of one.
    revision: u64,
}

impl CatchAnswers {
    /// Looks at the test in hand, begins what is due, and takes what came. `wake` is called from the thread whenever there is
    /// something to look at.
    pub fn follow(&mut self, session: &Session, wake: impl Fn() + Send + Sync + 'static) {
        self.take(false);
        let Some(of) = AskedOf::of(session) else {
            (self.task, self.known) = (None, Vec::new());
            return;
        };
        if let Some(last) = self.known.last_mut().filter(|last| last.of.is_same(&of)) {
            // The newer snapshot says the same, and is known again at once.
            last.of = of;
            return;
        }
        // Its answer would be of something that is gone.
        self.task = None;
        let before = self.known.iter().position(|one| one.of.is_same(&of));
        let kept =
            before.map(|at| self.known.remove(at)).filter(|one| one.explained.is_some() || one.stopped);
        self.revision += 1;
        if let Some(kept) = kept {
            self.known.push(kept);
            return;
        }
        // What the same test said as it was taken down before is of no use any more.
        self.known.retain(|one| one.of.test.id != of.test.id);
        if self.known.len() >= KEPT {
            self.known.remove(0);
        }
        self.known.push(Known { of: of.clone(), judged: None, explained: None, stopped: false });
        self.begin(of, wake);
    }

    fn begin(&mut self, of: AskedOf, wake: impl Fn() + Send + Sync + 'static) {
        self.so_far = 0.0;
        self.task = Some(Task::start(wake, move |teller| work(&of, teller)));
    }

    fn take(&mut self, waits: bool) {
        let (Some(task), Some(known)) = (&mut self.task, self.known.last_mut()) else { return };
        while let Some(event) = task.next(waits) {
            match event {
                AnswerEvent::SoFar(part) => self.so_far = part,
                AnswerEvent::Judged(judged) => {
                    known.judged = Some(*judged);
                    self.revision += 1;
                }
                AnswerEvent::Explained(explained) => {
                    if let (Ok(found), Some(Ok(test))) = (explained.as_ref(), &mut known.judged) {
                        test.judged.heed(found);
                        self.revision += 1;
                    }
                    known.explained = Some(*explained);
                }
            }
        }
        if !task.has_ended() {
            return;
        }
        self.task = None;
        let broke_off = || {
            NoAnswer::impossible("the evaluation broke off", "change the test, and tell whoever maintains it")
        };
        let judged = known.judged.get_or_insert_with(|| Err(broke_off()));
        if judged.is_ok() && known.explained.is_none() {
            known.explained = Some(Err(broke_off()));
        }
    }

    /// What the test in hand says by itself; none while it is not judged yet.
    pub fn judged(&self) -> Option<&Result<JudgedTest, NoAnswer>> {
        self.known.last()?.judged.as_ref()
    }

    /// What explains it; none while that is not worked out.
    pub fn explained(&self) -> Option<&Result<Explanation, NoAnswer>> {
        self.known.last()?.explained.as_ref()
    }

    /// The test that all of this is of.
    pub fn of(&self) -> Option<CatchTestId> {
        Some(self.known.last()?.of.test.id)
    }

    /// Another number whenever what is judged is of another state.
    pub const fn revision(&self) -> u64 {
        self.revision
    }

    /// How the explanation stands.
    pub fn state(&self) -> ExplainedState {
        match self.known.last() {
            Some(known) if known.stopped => ExplainedState::Stopped,
            Some(known) if known.explained.is_some() || matches!(known.judged, Some(Err(_))) => {
                ExplainedState::UpToDate
            }
            Some(known) if known.judged.is_some() => ExplainedState::Working(self.so_far),
            _ => ExplainedState::Waiting,
        }
    }

    /// Stops the explanation; what was judged stays.
    pub fn stop(&mut self) {
        if let Some(known) = self.known.last_mut().filter(|known| known.judged.is_some())
            && self.task.take().is_some()
        {
            known.stopped = true;
        }
    }

    /// Begins again what was stopped.
    pub fn begin_again(&mut self, wake: impl Fn() + Send + Sync + 'static) {
        if let Some(known) = self.known.last_mut().filter(|known| known.stopped) {
            known.stopped = false;
            let of = known.of.clone();
            self.begin(of, wake);
        }
    }

    /// Stands still until nothing is under way; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        self.take(true);
    }
}

/// On the thread.
fn work(of: &AskedOf, teller: &Teller<AnswerEvent>) {
    let judged = PreparedTest::of(&of.project, &of.test).and_then(|prepared| {
        let judged = judge(&prepared)?;
        let caught = as_caught(&judged);
        Ok(JudgedTest { prepared: Arc::new(prepared), judged, caught })
    });
    // Whoever waits looks at it meanwhile.
    let prepared = judged.as_ref().ok().map(|test| Arc::clone(&test.prepared));
    teller.tell(AnswerEvent::Judged(Box::new(judged)));
    if let Some(prepared) = prepared {
        if let Some(why) = NothingJudged::of(&of.test) {
            return teller.tell(AnswerEvent::Explained(Box::new(Err(why.into()))));
        }
        let told = Told { teller, so_far: AnswerEvent::SoFar };
        let options = ExplainOptions::default();
        let explained = explain(&prepared.tested(), &of.project.cause_weights, &options, &told);
        teller.tell(AnswerEvent::Explained(Box::new(explained)));
    }
}

/// What was caught in place of what is expected: rows with what came and how far that is from what is asked, gauges with what they
/// showed, and nothing else.
fn as_caught(judged: &Judged) -> Outcome {
    let mut caught = judged.expected.clone();
    for connection in &mut caught.connections {
        if let Some(asked) = judged.row(connection.row).and_then(|row| row.asked) {
            connection.target = asked;
        }
    }
    let connections = caught.connections.clone();
    let Ok(numbers) = &mut caught.result else { return caught };
    let rows = connections.iter().zip(&numbers.rows).map(|(connection, expected)| {
        match judged.row(connection.row) {
            Some(row) => RowOutcome {
                connection: *connection,
                state: RowState::Fed,
                flow: row.caught,
                deviation: row.from_asked,
            },
            // Nobody knows what came there: neither a flow nor how far that is from anything.
            None => RowOutcome { connection: *connection, flow: Flow::ZERO, deviation: None, ..*expected },
        }
    });
    let rows: Vec<RowOutcome> = rows.collect();
    let ratios: Vec<f64> =
        rows.iter().filter_map(|row| row.deviation).map(|deviation| 1.0 + deviation.si()).collect();
    let read = |part| judged.gauges.iter().find(|gauge| gauge.part == part);
    let mut parts = std::mem::take(&mut numbers.parts);
    parts.retain_mut(|part| {
        let Some(gauge) = read(part.part) else { return false };
        part.pressure = Some(gauge.read);
        true
    });
    *numbers = Numbers {
        supply: SupplyState::AsAsked,
        total_flow: judged.rows.iter().map(|row| row.caught).sum(),
        pump_pressure: numbers.pump_pressure,
        inlet_pressure: numbers.inlet_pressure,
        rows,
        parts,
        runs: Vec::new(),
        elements: Vec::new(),
        evenness: evenness(&ratios),
    };
    caught
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::files;
    use crate::plan::{Catch, CatchSpan, CaughtAmount, Edit};
    use crate::quantities::Volume;

    /// The embedded bar with a test in which each row gives just what the engine finds.
    fn caught() -> Session {
        let mut session = Session::new(files::demo(), None);
        let even = session.project().routings[1].id;
        session.show_routing(even);
        session.add_catch_test().unwrap();
        let flows: Vec<_> = session.outcome().rows().iter().map(|row| (row.row, row.flow)).collect();
        let done = session.change_catch_test("Fill in", |test| {
            test.span = CatchSpan::Seconds(30.0);
            test.catches = flows
                .into_iter()
                .map(|(row, flow)| {
                    let amount = CaughtAmount::Volume(Volume::from_si(flow.si() * 30.0));
                    Catch { row, amount, span: None, spoiled: None }
                })
                .collect();
        });
        done.unwrap();
        session
    }

    fn settled(answers: &mut CatchAnswers, session: &Session) {
        answers.follow(session, || ());
        answers.wait();
        answers.follow(session, || ());
    }

    #[test]
    fn an_answer_is_of_the_test_as_it_is_or_there_is_none() {
        let mut session = caught();
        let mut answers = CatchAnswers::default();
        settled(&mut answers, &session);
        let test = answers.judged().unwrap().as_ref().ok().unwrap();
        assert_eq!(test.judged.verdict.as_drawn, Some(true));
        assert_eq!(answers.state(), ExplainedState::UpToDate);
        let revision = answers.revision();
        // Another name of who made it, another routing of today: nothing is worked out again.
        session.change_catch_test("By", |test| "A. Fitter".clone_into(&mut test.by)).unwrap();
        let routing = session.routing().id;
        let part = session.routing().parts[0].id;
        session.edit("Delete", [Edit::RemovePart(routing, part)]).unwrap();
        answers.follow(&session, || ());
        assert_eq!(answers.revision(), revision);
        // Another amount: what was said is gone at once.
        session
            .change_catch_test("Less", |test| {
                test.catches[3].amount = CaughtAmount::Volume(Volume::from_si(1e-5));
            })
            .unwrap();
        answers.follow(&session, || ());
        assert!(answers.judged().is_none_or(|judged| {
            judged.as_ref().is_ok_and(|one| one.judged.verdict.as_drawn == Some(false))
        }));
        settled(&mut answers, &session);
        assert_eq!(answers.judged().unwrap().as_ref().ok().unwrap().judged.verdict.as_drawn, Some(false));
        // Undone, it is worked out anew; without a test there is nothing.
        session.undo();
        settled(&mut answers, &session);
        assert_eq!(answers.judged().unwrap().as_ref().ok().unwrap().judged.verdict.as_drawn, Some(true));
        session.remove_catch_test().unwrap();
        answers.follow(&session, || ());
        assert_eq!(answers.of(), None);
    }

    #[test]
    fn what_is_drawn_of_a_catch_has_rows_and_gauges_and_nothing_that_was_computed() {
        let mut session = caught();
        session.change_catch_test("Skip", |test| drop(test.catches.remove(0))).unwrap();
        let mut answers = CatchAnswers::default();
        settled(&mut answers, &session);
        let test = answers.judged().unwrap().as_ref().ok().unwrap();
        let numbers = test.caught.numbers().unwrap();
        assert!(numbers.runs.is_empty() && numbers.elements.is_empty() && numbers.parts.is_empty());
        assert_eq!(numbers.rows.len(), session.project().bar.rows.len());
        assert_eq!(numbers.rows[0].deviation, None, "nobody caught there");
        assert!(numbers.rows[1..].iter().all(|row| row.deviation.is_some()));
        for (row, expected) in numbers.rows.iter().zip(test.judged.expected.rows()).skip(1) {
            assert!((row.flow.si() / expected.flow.si() - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn what_was_stopped_stays_judged_and_begins_again_when_asked() {
        let session = caught();
        let mut answers = CatchAnswers::default();
        answers.follow(&session, || ());
        // Until it is judged there is nothing to stop.
        while answers.judged().is_none() {
            answers.follow(&session, || ());
            std::thread::yield_now();
        }
        answers.stop();
        if answers.state() == ExplainedState::Stopped {
            assert!(answers.judged().is_some() && answers.explained().is_none());
            answers.begin_again(|| ());
            assert_ne!(answers.state(), ExplainedState::Stopped);
        }
        settled(&mut answers, &session);
        assert_eq!(answers.state(), ExplainedState::UpToDate);
        assert!(answers.explained().is_some());
    }
}
