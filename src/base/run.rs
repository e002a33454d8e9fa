//! Long work that can be stopped, watched and repeated to the same bytes on any number of threads.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use rayon::prelude::*;

use super::error::{Error, Result};

/// A handle on long work: a stop flag and a count of finished steps. Clones share both.
///
/// # Examples
/// ```
/// let run = relamp::Run::new();
/// let squares = run.map(4, |i| Ok(i * i)).unwrap();
/// assert_eq!(squares.into_iter().map(Result::unwrap).collect::<Vec<_>>(), [0, 1, 4, 9]);
/// run.stop();
/// assert!(run.check().is_err());
/// ```
#[derive(Clone, Debug, Default)]
pub struct Run {
    state: Arc<State>,
}

#[derive(Debug, Default)]
struct State {
    stop: AtomicBool,
    done: AtomicU64,
    total: AtomicU64,
}

impl Run {
    /// A handle with nothing done and no stop asked for.
    pub fn new() -> Self {
        Self::default()
    }

    /// Asks the work to stop at its next step.
    pub fn stop(&self) {
        self.state.stop.store(true, Ordering::Relaxed);
    }

    /// Says whether a stop was asked for.
    ///
    /// # Errors
    /// `run.stopped` after [`Run::stop`].
    pub fn check(&self) -> Result<()> {
        if self.state.stop.load(Ordering::Relaxed) { Err(Error::stopped()) } else { Ok(()) }
    }

    /// Steps finished and steps announced so far.
    pub fn progress(&self) -> (u64, u64) {
        (self.state.done.load(Ordering::Relaxed), self.state.total.load(Ordering::Relaxed))
    }

    /// Announces more steps.
    pub fn expect_steps(&self, more: u64) {
        self.state.total.fetch_add(more, Ordering::Relaxed);
    }

    /// Counts one finished step.
    pub fn step(&self) {
        self.state.done.fetch_add(1, Ordering::Relaxed);
    }

    /// Calls `work` for `0..n` on the thread pool and keeps the answers in index order, so the
    /// result does not depend on how many threads there are. A failed item is an answer too.
    ///
    /// # Errors
    /// `run.stopped` if a stop was asked for before the last item.
    pub fn map<T: Send>(&self, n: usize, work: impl Fn(usize) -> Result<T> + Sync) -> Result<Vec<Result<T>>> {
        self.expect_steps(n as u64);
        let answers = (0..n)
            .into_par_iter()
            .map(|i| {
                self.check()?;
                let answer = work(i);
                self.step();
                answer
            })
            .collect();
        self.check()?;
        Ok(answers)
    }
}
