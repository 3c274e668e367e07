//! A change that may take long, worked out on a thread on a copy of the session, which takes its place when it is done.
//!
//! Until then the session is as it was, and can be drawn; giving the work up leaves it so.

use std::sync::Arc;
use std::time::Duration;

use super::how_far::{HowFar, Listener, heard_by};
use super::refusal::Refusal;
use super::task::Task;
use super::{Reply, Session};

/// A change under way; dropping it gives it up.
#[derive(Debug)]
pub struct UnderWay {
    name: String,
    /// What it was begun on.
    revision: u64,
    edits: u64,
    task: Task<Box<(Session, Reply)>>,
    listener: Arc<Listener>,
}

/// How far a change has come.
#[derive(Debug, PartialEq)]
pub enum Progress {
    /// It is still being worked out.
    UnderWay,
    /// It is done, or refused: the session is as it left it.
    Done(Reply),
}

impl UnderWay {
    /// Begins a change; `name` is what people call it. `wake` is called from its thread when it is done.
    pub fn begin(
        session: &Session,
        name: impl Into<String>,
        wake: impl Fn() + Send + Sync + 'static,
        change: impl FnOnce(&mut Session) -> Reply + Send + 'static,
    ) -> Self {
        let mut twin = session.twin();
        let listener = Arc::new(Listener::default());
        let told = Arc::clone(&listener);
        let task = Task::start(wake, move |teller| {
            let reply = heard_by(told, || change(&mut twin));
            teller.tell(Box::new((twin, reply)));
        });
        Self { name: name.into(), revision: session.revision(), edits: session.edits(), task, listener }
    }

    /// What it is.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How far it has come, where it can tell.
    pub fn how_far(&self) -> Option<HowFar> {
        self.listener.last()
    }

    /// Waits for its end, no longer than this, and puts what came of it in place of the session.
    pub fn follow(&mut self, session: &mut Session, patience: Duration) -> Progress {
        match self.task.next_within(patience).map(|came| *came) {
            Some((twin, reply)) if (self.revision, self.edits) == (session.revision(), session.edits()) => {
                *session = twin;
                Progress::Done(reply)
            }
            Some(_) => Progress::Done(Err(Refusal::NotWorkedOut(self.name.clone()))),
            None if self.task.has_ended() => Progress::Done(Err(Refusal::NotWorkedOut(self.name.clone()))),
            None => Progress::UnderWay,
        }
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        // Nobody wants the rest: what is being tried one after the other ends with the one in hand.
        self.listener.give_up();
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use std::thread::sleep;

    use super::*;
    use crate::files;
    use crate::session::{MainHoses, Remark};

    const LONG: Duration = Duration::from_mins(10);

    fn demo() -> Session {
        Session::new(files::demo(), None)
    }

    #[test]
    fn what_is_worked_out_beside_is_what_would_have_been_done_at_once() {
        let (mut at_once, mut beside) = (demo(), demo());
        let said = at_once.lay_main_hoses(MainHoses::FromTees).unwrap();
        let lay = |session: &mut Session| session.lay_main_hoses(MainHoses::FromTees);
        let mut work = UnderWay::begin(&beside, "Main hoses", || {}, lay);
        assert_eq!(work.follow(&mut beside, LONG), Progress::Done(Ok(said)));
        assert_eq!(beside.project(), at_once.project());
        assert_eq!(beside.selection(), at_once.selection());
        // One step, and undone as one.
        assert_eq!(beside.undo_name(), at_once.undo_name());
        assert!(beside.undo().is_some());
        assert_eq!(beside.project(), demo().project());
    }

    #[test]
    fn what_is_given_up_or_overtaken_changes_nothing() {
        let mut session = demo();
        let before = session.snapshot();
        let slow = |session: &mut Session| {
            sleep(Duration::from_millis(30));
            session.add_routing(true)?;
            Ok(None)
        };
        let mut work = UnderWay::begin(&session, "Copy", || {}, slow);
        assert_eq!(work.follow(&mut session, Duration::ZERO), Progress::UnderWay);
        drop(work);
        assert_eq!(session.project(), &*before);
        let mut work = UnderWay::begin(&session, "Copy", || {}, slow);
        session.add_routing(false).unwrap();
        let now = session.snapshot();
        assert_eq!(
            work.follow(&mut session, LONG),
            Progress::Done(Err(Refusal::NotWorkedOut("Copy".to_owned())))
        );
        assert_eq!(session.project(), &*now);
    }

    #[test]
    fn laying_many_hoses_tells_how_far_it_has_come_and_ends_when_it_is_given_up() {
        let mut session = Session::new(files::Example::TwentyFourMetre.project(), None);
        let lay = |session: &mut Session| session.lay_main_hoses(MainHoses::InChain);
        let mut work = UnderWay::begin(&session, "Main hoses", || {}, lay);
        let mut told = Vec::new();
        while work.follow(&mut session, Duration::from_millis(1)) == Progress::UnderWay {
            told.extend(work.how_far());
        }
        assert!(!told.is_empty());
        assert!(told.iter().all(|one| one.all.is_none_or(|all| one.done <= all)), "{told:?}");
        let (sent, ended) = std::sync::mpsc::channel();
        let lay = move |session: &mut Session| {
            let reply = session.lay_main_hoses(MainHoses::InChain);
            let _ = sent.send(());
            reply
        };
        let work = UnderWay::begin(&session, "Main hoses", || {}, lay);
        drop(work);
        // Its thread ends too, and does not work on for nobody.
        ended.recv_timeout(LONG).unwrap();
    }

    #[test]
    fn a_refusal_and_a_thread_that_ends_without_a_word_are_told() {
        let mut session = demo();
        let refuse = |_: &mut Session| -> Reply { Err(Refusal::CatalogueLacks("tee")) };
        let mut work = UnderWay::begin(&session, "Tees", || {}, refuse);
        assert_eq!(work.follow(&mut session, LONG), Progress::Done(Err(Refusal::CatalogueLacks("tee"))));
        let say = |_: &mut Session| -> Reply { Ok(Some(Remark::Did("done".to_owned()))) };
        let mut work = UnderWay::begin(&session, "Say", || {}, say);
        assert_eq!(work.follow(&mut session, LONG), Progress::Done(Ok(Some(Remark::Did("done".to_owned())))));
        assert_eq!(
            work.follow(&mut session, LONG),
            Progress::Done(Err(Refusal::NotWorkedOut("Say".to_owned())))
        );
    }
}
