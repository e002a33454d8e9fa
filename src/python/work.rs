//! The one door for long work: the caller can interrupt it and watch it.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::Duration;

use pyo3::prelude::*;

use crate::Result;
use crate::base::error::Error;
use crate::base::run::Run;

use super::error::internal;

/// How often signals and progress are looked at: short enough to feel immediate, long enough to cost nothing.
const LOOK: Duration = Duration::from_millis(50);

/// Runs `job` on a worker thread, detached from the interpreter. The calling thread looks for signals (an interrupt
/// stops the job) and tells `progress` how far it is, the last tick always. A panic becomes an internal error.
pub(super) fn work<T: Send>(
    py: Python<'_>,
    progress: Option<&Bound<'_, PyAny>>,
    job: impl FnOnce(&Run) -> Result<T> + Send,
) -> PyResult<T> {
    if let Some(p) = progress.filter(|p| !p.is_callable()) {
        let got = super::intake::kind_of(p);
        let expected = "a callable taking (done, total), or None";
        return Err(super::error::refuse("python.progress", "not callable", "progress", "", &got, expected).into());
    }
    let run = Run::new();
    let (done, waiting) = channel::<()>();
    // A receiver may not be shared between threads, a lock around it may; only this thread takes it.
    let waiting = Mutex::new(waiting);
    let mut last = None;
    let mut tick = |run: &Run| -> PyResult<()> {
        let Some(callable) = progress else { return Ok(()) };
        let now = run.progress();
        // Before the first work is known of there is nothing to be told a share of.
        if last != Some(now) && now.1 > 0 {
            callable.call1(now)?;
            last = Some(now);
        }
        Ok(())
    };
    let outcome = std::thread::scope(|scope| {
        let worker = scope.spawn(|| {
            let answer = catch_unwind(AssertUnwindSafe(|| in_this_process(|| job(&run))));
            // The receiver lives as long as this scope; if it were gone nobody would be waiting.
            let _ = done.send(());
            answer
        });
        let interrupted = loop {
            let waited = py.detach(|| waiting.lock().unwrap_or_else(PoisonError::into_inner).recv_timeout(LOOK));
            if waited != Err(RecvTimeoutError::Timeout) {
                break None;
            }
            if let Err(error) = py.check_signals().and_then(|()| tick(&run)) {
                run.stop();
                break Some(error);
            }
        };
        let answer = py.detach(|| worker.join());
        (interrupted, answer)
    });
    match outcome {
        (Some(error), _) => Err(error),
        (None, Ok(Ok(answer))) => {
            let answer = answer?;
            tick(&run)?;
            if let Some(callable) = progress.filter(|_| run.progress().1 == 0) {
                // Work that told no steps is one.
                callable.call1((1, 1))?;
            }
            Ok(answer)
        }
        (None, Ok(Err(panic)) | Err(panic)) => Err(report(panic.as_ref()).into()),
    }
}

/// A forked child inherits the shared thread pool without its threads and would wait for ever; it gets its own pool.
fn in_this_process<T: Send>(job: impl FnOnce() -> Result<T> + Send) -> Result<T> {
    static FIRST: OnceLock<u32> = OnceLock::new();
    let here = std::process::id();
    if *FIRST.get_or_init(|| here) == here {
        return job();
    }
    let pool = rayon::ThreadPoolBuilder::new()
        .build()
        .map_err(|e| internal(format!("no threads in a forked process: {e}")))?;
    pool.install(job)
}

fn report(panic: &(dyn Any + Send)) -> Error {
    let text =
        panic.downcast_ref::<&str>().map(|s| (*s).to_owned()).or_else(|| panic.downcast_ref::<String>().cloned());
    internal(format!("the computation broke down: {}", text.as_deref().unwrap_or("no message")))
}
