//! How far long work has come, and whether anybody still waits for it.
//!
//! What takes long lies deep within a change, in functions that know a plan and no session: they tell the thread that works
//! on it, and only a thread that somebody listens to ([`heard_by`]) passes it on. Elsewhere telling costs nothing.

use std::cell::RefCell;
use std::fmt::{self, Display, Formatter};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

/// How far work has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HowFar {
    /// What is counted: `rows on outlets`.
    pub what: &'static str,
    /// So many are done.
    pub done: usize,
    /// Of so many; none where nobody can know.
    pub all: Option<usize>,
}

impl HowFar {
    /// The share that is done, 0 to 1; none where nobody can know, and of a single thing, which would stay at nothing until it
    /// is done.
    pub fn share(&self) -> Option<f32> {
        let all = self.all.filter(|all| *all > 1)?;
        Some((self.done as f32 / all as f32).min(1.0))
    }
}

impl Display for HowFar {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self.all {
            Some(0 | 1) => f.write_str(self.what),
            Some(all) => write!(f, "{}: {} of {all}", self.what, self.done),
            None => write!(f, "{}: {}", self.what, self.done),
        }
    }
}

/// Whoever waits for work on another thread.
#[derive(Debug, Default)]
pub(super) struct Listener {
    last: Mutex<Option<HowFar>>,
    has_given_up: AtomicBool,
}

impl Listener {
    /// What was told last.
    pub(super) fn last(&self) -> Option<HowFar> {
        self.last.lock().ok().and_then(|last| *last)
    }

    /// Does not wait any more: the work may end wherever it is, and what comes of it is dropped.
    pub(super) fn give_up(&self) {
        self.has_given_up.store(true, Ordering::Relaxed);
    }
}

thread_local! {
    static LISTENER: RefCell<Option<Arc<Listener>>> = const { RefCell::new(None) };
}

/// Does work on this thread that somebody listens to.
pub(super) fn heard_by<R>(listener: Arc<Listener>, work: impl FnOnce() -> R) -> R {
    let before = LISTENER.replace(Some(listener));
    let result = work();
    LISTENER.set(before);
    result
}

/// Tells whoever waits for the work of this thread how far it has come; false where nobody waits for it any more.
pub(super) fn goes_on(what: &'static str, done: usize, all: Option<usize>) -> bool {
    LISTENER.with_borrow(|listener| {
        let Some(listener) = listener else { return true };
        if let Ok(mut last) = listener.last.lock() {
            *last = Some(HowFar { what, done, all });
        }
        !listener.has_given_up.load(Ordering::Relaxed)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_is_heard_only_by_who_waits_for_this_thread() {
        let listener = Arc::new(Listener::default());
        assert!(goes_on("rows", 1, Some(2)));
        assert_eq!(listener.last(), None);
        heard_by(Arc::clone(&listener), || {
            assert!(goes_on("rows", 1, Some(4)));
            listener.give_up();
            assert!(!goes_on("sizes tried", 2, None));
        });
        let last = listener.last().unwrap_or(HowFar { what: "", done: 0, all: None });
        assert_eq!((last.to_string().as_str(), last.share()), ("sizes tried: 2", None));
        assert_eq!(HowFar { what: "rows", done: 1, all: Some(4) }.share(), Some(0.25));
        let single = HowFar { what: "rows", done: 0, all: Some(1) };
        assert_eq!((single.to_string().as_str(), single.share()), ("rows", None), "a count that can't move");
        // Nobody waits for what comes after it.
        assert!(goes_on("rows", 3, Some(4)));
        assert_eq!(listener.last(), Some(last));
    }
}
