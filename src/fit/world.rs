//! Possible worlds: the only place where uncertainty meets a decision.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::family::{Life, NamedLife};
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

impl CauseLife {
    /// Share of an ending among the failures of this cause.
    pub fn share_of(&self, ending: Ending) -> f64 {
        let sum = |of: &dyn Fn(Ending) -> bool| self.endings.iter().filter(|e| of(e.0)).map(|e| e.1).sum::<f64>();
        sum(&|e| e == ending) / sum(&|_| true)
    }
}

/// One possible world for one lamp class: every cause, drawn together, and the costs. Causes act in series.
#[derive(Debug)]
pub struct World {
    /// Causes in series.
    pub causes: Vec<CauseLife>,
    /// Costs by ending.
    pub costs: Costs,
}

const FORMAT: Format = Format::new("world", 1);

/// The saved form.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SavedWorld {
    causes: Vec<SavedCause>,
    costs: Costs,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SavedCause {
    endings: Vec<(Ending, f64)>,
    life: NamedLife,
}

impl Sound for SavedWorld {
    fn check(&self, c: &mut Checks) {
        c.parts("causes", &self.causes);
        c.need("causes", !self.causes.is_empty(), "no cause", "one or more");
    }
}

impl Sound for SavedCause {
    fn check(&self, c: &mut Checks) {
        // Shares need not sum to 1: every use divides by their sum.
        for (i, (_, share)) in self.endings.iter().enumerate() {
            c.not_negative(&format!("endings[{i}]"), *share);
        }
        c.positive("endings", self.endings.iter().map(|e| e.1).sum::<f64>());
        c.part("life", &self.life);
    }
}

/// Equal where every life is that of a family with equal parameters; a life of no family equals none.
impl PartialEq for World {
    fn eq(&self, other: &Self) -> bool {
        let same = |a: &CauseLife, b: &CauseLife| {
            a.endings == b.endings && a.life.named().is_some_and(|life| b.life.named() == Some(life))
        };
        let causes = || self.causes.iter().zip(&other.causes);
        self.costs == other.costs && self.causes.len() == other.causes.len() && causes().all(|(a, b)| same(a, b))
    }
}

impl World {
    /// The saved form, JSON text; see [`World::from_json`].
    ///
    /// # Errors
    /// `fit.life_unnamed` where a life is no family's, such as a curve as it stands.
    pub fn to_json(&self) -> Result<String> {
        let cause = |(i, cause): (usize, &CauseLife)| {
            let life = cause.life.named().ok_or_else(|| {
                let place = Place::input("world").column(format!("causes[{i}].life"));
                let problem = Problem::new("fit.life_unnamed", "a life of no family has no saved form").at(place);
                Error::new(Kind::Input, problem.expected("a life with a family and parameters"))
            })?;
            Ok(SavedCause { endings: cause.endings.clone(), life })
        };
        let causes = self.causes.iter().enumerate().map(cause).collect::<Result<_>>()?;
        saved::save(FORMAT, &SavedWorld { causes, costs: self.costs.clone() })
    }

    /// A world from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    ///
    /// # Examples
    /// ```
    /// use relamp::family::Weibull;
    /// use relamp::fit::{CauseLife, World};
    /// use relamp::records::Ending;
    /// use relamp::terms::Costs;
    /// let life = Box::new(Weibull { shape: 2.0, scale: 1000.0 });
    /// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
    /// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
    /// assert_eq!(World::from_json(&world.to_json()?)?, world);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn from_json(text: &str) -> Result<Self> {
        let SavedWorld { causes, costs } = saved::load(FORMAT, text)?;
        let causes = causes.into_iter().map(|c| Ok(CauseLife { endings: c.endings, life: c.life.life()? }));
        Ok(Self { causes: causes.collect::<Result<_>>()?, costs })
    }
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

    /// Failures that the draws rest on, by ending; none where it is not known.
    fn seen(&self, _ending: Ending) -> Option<u64> {
        None
    }

    /// Age to which lamps were watched for an ending, hours, as the geometric mean over the hazard that they came through; none
    /// where it is not known.
    ///
    /// # Formula
    /// ```text
    /// ln W = sum [H(c) ln c - H(e) ln e] / sum [H(c) - H(e)]   over lamps watched from age e to age c
    /// ```
    /// About this age rate and shape of a power law are known apart; where all lamps are watched to one age it is that age.
    fn watched_hours(&self, _ending: Ending) -> Option<f64> {
        None
    }
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

/// Asks the same question of every drawn world in order, for answers too large to be kept: the question adds to its own
/// sums. It should work in parallel inside. Returns how many draws had no answer.
///
/// # Errors
/// A stop, or the first error if no draw has an answer.
pub fn each_draw(draws: &dyn Draws, run: &Run, mut question: impl FnMut(&World) -> Result<()>) -> Result<usize> {
    let (mut failed, mut first) = (0, None);
    for replicate in 0..draws.len() {
        run.check()?;
        if let Err(error) = draws.world(replicate).and_then(|world| question(&world)) {
            run.check()?;
            failed += 1;
            first.get_or_insert(error);
        }
        run.step();
    }
    match first {
        Some(error) if failed == draws.len() => Err(error),
        _ => Ok(failed),
    }
}
