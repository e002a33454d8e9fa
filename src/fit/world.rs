//! Possible worlds: the only place where uncertainty meets a decision.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Result};
use crate::base::run::Run;
use crate::family::Life;
use crate::records::Ending;
use crate::terms::Costs;

/// One cause of failure: the endings it stands for with their shares (which sum to 1), and its life as if it acted alone.
#[derive(Debug)]
pub struct CauseLife {
    /// Endings and their shares among the failures of this cause.
    pub endings: Vec<(Ending, f64)>,
    /// Life if only this cause acted.
    pub life: Box<dyn Life>,
}

/// One possible world for one lamp class: every cause, drawn together, and the costs. Causes act in series.
#[derive(Debug)]
pub struct World {
    /// Causes in series.
    pub causes: Vec<CauseLife>,
    /// Costs by ending.
    pub costs: Costs,
}

/// How the worlds were drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Method {
    /// Random weights Gamma(count, 1) on the rows, refitted.
    WeightedBootstrap,
    /// Normal draws on the unconstrained scale.
    Wald,
}

/// Draws of worlds; each a pure function of (seed, replicate).
pub trait Draws: Sync {
    /// Number of draws.
    fn len(&self) -> usize;

    /// Whether there are none.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The world at the estimates.
    ///
    /// # Errors
    /// Those of the fit.
    fn best(&self) -> Result<World>;

    /// The world of one draw.
    ///
    /// # Errors
    /// Those of the refit.
    fn world(&self, replicate: usize) -> Result<World>;

    /// How the worlds are drawn.
    fn method(&self) -> Method;
}

/// An answer at the estimates and in every drawn world.
#[derive(Clone, Debug)]
pub struct Spread<T> {
    /// At the estimates.
    pub best: T,
    /// In each drawn world that gave an answer, in order of replicate.
    pub each: Vec<T>,
    /// Replicates without an answer, and why.
    pub failed: Vec<(usize, Error)>,
    /// How the worlds were drawn.
    pub method: Method,
}

/// Asks the same question of the estimates and of every drawn world, in parallel, order kept.
///
/// # Errors
/// An error at the estimates, or a stop. A replicate's own error is kept in [`Spread::failed`].
pub fn over_draws<T: Send>(
    draws: &dyn Draws,
    run: &Run,
    question: impl Fn(&World) -> Result<T> + Sync,
) -> Result<Spread<T>> {
    let best = question(&draws.best()?)?;
    let answers = run.map(draws.len(), |i| question(&draws.world(i)?))?;
    let mut spread =
        Spread { best, each: Vec::with_capacity(answers.len()), failed: Vec::new(), method: draws.method() };
    for (i, answer) in answers.into_iter().enumerate() {
        match answer {
            Ok(value) => spread.each.push(value),
            Err(error) => spread.failed.push((i, error)),
        }
    }
    Ok(spread)
}
