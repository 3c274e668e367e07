//! Long work on a thread of its own, which tells how far it has come and can be stopped.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, TryRecvError, channel};
use std::time::Duration;

use crate::studies::Waiting;

/// Work under way; dropping it stops it.
#[derive(Debug)]
pub struct Task<T> {
    told: Receiver<T>,
    /// Told while someone waited for the end, and not taken yet.
    ahead: VecDeque<T>,
    stop: Arc<AtomicBool>,
    ended: bool,
}

/// What the work holds: the way back to whoever waits.
pub struct Teller<T> {
    tell: Sender<T>,
    stop: Arc<AtomicBool>,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl<T> Teller<T> {
    /// Tells something, and wakes whoever waits. Nobody may be there any more; then it is lost.
    pub fn tell(&self, what: T) {
        let _ = self.tell.send(what);
        (self.wake)();
    }

    /// Nobody wants the rest.
    pub fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Whoever waits for a study at the other end of a thread, with what it is told of how far that has come.
pub(super) struct Told<'a, T> {
    /// The way there.
    pub(super) teller: &'a Teller<T>,
    /// What is told of a part done, 0 to 1.
    pub(super) so_far: fn(f32) -> T,
}

impl<T: Send> Waiting for Told<'_, T> {
    fn so_far(&self, part: f32) {
        self.teller.tell((self.so_far)(part));
    }

    fn has_stopped(&self) -> bool {
        self.teller.is_stopped()
    }
}

impl<T> Drop for Teller<T> {
    fn drop(&mut self) {
        // However the work ended, whoever waits looks once more.
        (self.wake)();
    }
}

impl<T: Send + 'static> Task<T> {
    /// Starts work. `wake` is called from its thread whenever there is something to look at.
    pub fn start(
        wake: impl Fn() + Send + Sync + 'static,
        work: impl FnOnce(&Teller<T>) + Send + 'static,
    ) -> Self {
        let (tell, told) = channel();
        let stop = Arc::new(AtomicBool::new(false));
        let teller = Teller { tell, stop: Arc::clone(&stop), wake: Box::new(wake) };
        // Where no thread can be had, the sender is dropped with the closure, and the work has ended without a word.
        let _ = std::thread::Builder::new().name("work".to_owned()).spawn(move || work(&teller));
        Self { told, ahead: VecDeque::new(), stop, ended: false }
    }

    /// What is told within a time, if that is before its end; a thread that has ended without a word ends the wait.
    pub fn next_within(&mut self, patience: Duration) -> Option<T> {
        if let Some(told) = self.ahead.pop_front() {
            return Some(told);
        }
        let told = self.told.recv_timeout(patience);
        self.ended |= matches!(told, Err(RecvTimeoutError::Disconnected));
        told.ok()
    }

    /// What was told since, one at a time. With `waits` the thread stands still until there is something, or nothing
    /// will come any more.
    pub fn next(&mut self, waits: bool) -> Option<T> {
        if let Some(told) = self.ahead.pop_front() {
            return Some(told);
        }
        let told = if waits {
            self.told.recv().map_err(|_| TryRecvError::Disconnected)
        } else {
            self.told.try_recv()
        };
        self.ended |= matches!(told, Err(TryRecvError::Disconnected));
        told.ok()
    }
}

impl<T> Task<T> {
    /// Stands still until the work has ended; what it tells can be taken afterwards.
    pub fn wait(&mut self) {
        while let Ok(told) = self.told.recv() {
            self.ahead.push_back(told);
        }
    }

    /// Nothing will be told any more, and all that was told has been taken.
    pub const fn has_ended(&self) -> bool {
        self.ended
    }

    /// Asks it to stop at the next good place.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

impl<T> Drop for Task<T> {
    fn drop(&mut self) {
        self.stop();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;

    #[test]
    fn what_is_told_comes_in_order_and_then_the_end() {
        let woken = Arc::new(AtomicUsize::new(0));
        let count = Arc::clone(&woken);
        let wake = move || {
            count.fetch_add(1, Ordering::SeqCst);
        };
        let mut task = Task::start(wake, |teller| (0..3).for_each(|number| teller.tell(number)));
        let told: Vec<i32> = std::iter::from_fn(|| task.next(true)).collect();
        assert_eq!(told, [0, 1, 2]);
        assert!(task.has_ended());
        assert!(woken.load(Ordering::SeqCst) >= 3);
    }

    #[test]
    fn what_is_told_while_someone_waits_is_kept() {
        let mut task = Task::start(|| {}, |teller| (0..3).for_each(|number| teller.tell(number)));
        task.wait();
        let told: Vec<i32> = std::iter::from_fn(|| task.next(false)).collect();
        assert_eq!(told, [0, 1, 2]);
        assert!(task.has_ended());
    }

    #[test]
    fn stopped_work_sees_it_and_ends() {
        let mut task = Task::start(
            || {},
            |teller| {
                teller.tell(());
                while !teller.is_stopped() {
                    std::thread::yield_now();
                }
            },
        );
        assert_eq!(task.next(true), Some(()));
        task.stop();
        assert_eq!(task.next(true), None);
        assert!(task.has_ended());
    }

    #[test]
    fn work_that_breaks_off_ends_too() {
        let mut task: Task<()> = Task::start(|| {}, |_| std::panic::resume_unwind(Box::new("broken")));
        assert_eq!(task.next(true), None);
        assert!(task.has_ended());
    }
}
