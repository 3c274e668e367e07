//! Shares numbered jobs among threads. Which thread does a job changes nothing in its answer, and answers come in the
//! order of the jobs: the only place below the session that starts threads, because a study of thousands of bars would
//! take one core alone.

use std::num::NonZeroUsize;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use crate::studies::asked::{NoAnswer, Waiting};

/// As many threads as the machine has cores.
fn cores() -> NonZeroUsize {
    thread::available_parallelism().unwrap_or(NonZeroUsize::MIN)
}

/// Does all jobs with a worker for each thread, and gives their answers in order.
pub(super) fn do_all<W: Send, A: Send>(
    threads: Option<NonZeroUsize>,
    jobs: usize,
    waiting: &dyn Waiting,
    worker: impl Fn() -> W,
    job: impl Fn(&mut W, usize) -> A + Sync,
) -> Result<Vec<A>, NoAnswer> {
    let count = threads.unwrap_or_else(cores).get().min(jobs.max(1));
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let work = |mut worker: W| {
        let mut answers = Vec::new();
        while !waiting.has_stopped() {
            let at = next.fetch_add(1, Ordering::Relaxed);
            if at >= jobs {
                break;
            }
            answers.push((at, job(&mut worker, at)));
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            waiting.so_far(done as f32 / jobs as f32);
        }
        answers
    };
    let mut answers = thread::scope(|scope| {
        let work = &work;
        let others: Vec<_> = (1..count)
            .map(|_| {
                let worker = worker();
                scope.spawn(move || work(worker))
            })
            .collect();
        let mut all = work(worker());
        for other in others {
            match other.join() {
                Ok(answers) => all.extend(answers),
                // A fault of the program: it goes on where it is reported, with this thread's own report.
                Err(fault) => std::panic::resume_unwind(fault),
            }
        }
        all
    });
    if answers.len() < jobs {
        return Err(NoAnswer::Stopped);
    }
    answers.sort_unstable_by_key(|one| one.0);
    Ok(answers.into_iter().map(|one| one.1).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::studies::asked::Unwatched;

    struct StopsAfter(usize, AtomicUsize);

    impl Waiting for StopsAfter {
        fn so_far(&self, _part: f32) {
            self.1.fetch_add(1, Ordering::Relaxed);
        }

        fn has_stopped(&self) -> bool {
            self.1.load(Ordering::Relaxed) >= self.0
        }
    }

    #[test]
    fn answers_come_in_order_from_any_number_of_threads_and_a_stop_is_one() {
        for threads in [1, 2, 5] {
            let all = do_all(NonZeroUsize::new(threads), 100, &Unwatched, || (), |(), at| at * at);
            assert_eq!(all, Ok((0..100).map(|at| at * at).collect()));
            let waiting = StopsAfter(10, AtomicUsize::new(0));
            let all = do_all(NonZeroUsize::new(threads), 100, &waiting, || (), |(), at| at);
            assert_eq!(all, Err(NoAnswer::Stopped));
        }
        assert_eq!(do_all(None, 0, &Unwatched, || (), |(), at| at), Ok(Vec::new()));
    }
}
