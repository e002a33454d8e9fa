//! Worlds drawn by refitting every cause of failure under random weights.

use serde::{Deserialize, Serialize};

use super::causes::CauseFit;
use super::model::Note;
use super::world::{CauseLife, Draws, Method, World};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;
use crate::terms::Costs;

/// One cause in one replicate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Drawn {
    pub(super) x: Vec<f64>,
    pub(super) shares: Vec<(Ending, f64)>,
}

/// A replicate: every cause, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Replicate {
    Settled(Vec<Drawn>),
    Failed(String),
}

/// Worlds drawn by the weighted bootstrap, every cause of a world under the same weights. See [`CauseFits::draws`](super::CauseFits::draws). It
/// holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseDraws {
    best: Vec<CauseFit>,
    replicates: Vec<Replicate>,
    costs: Costs,
    /// For each cause the age to which lamps were watched, see [`Draws::watched_hours`]; none in a file of before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    watched_hours: Vec<f64>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    notes: Vec<Note>,
}

impl CauseDraws {
    pub(super) fn new(
        best: Vec<CauseFit>,
        replicates: Vec<Result<Vec<Drawn>>>,
        costs: Costs,
        watched_hours: Vec<f64>,
        notes: Vec<Note>,
    ) -> Self {
        let kept = |answer: Result<_>| answer.map_or_else(|e| Replicate::Failed(e.to_string()), Replicate::Settled);
        Self { best, replicates: replicates.into_iter().map(kept).collect(), costs, watched_hours, notes }
    }

    /// What a reader must know beside figures that rest on these draws.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }
}

impl Sound for CauseDraws {
    fn check(&self, c: &mut Checks) {
        c.parts("best", &self.best);
        c.need("best", !self.best.is_empty(), "no cause", "one or more");
        if !self.watched_hours.is_empty() {
            c.entries("watched_hours", self.watched_hours.len(), self.best.len());
            c.column("watched_hours", &self.watched_hours, Checks::positive);
        }
        c.once("best", self.best.iter().flat_map(|k| &k.endings).map(|e| e.0));
        for (i, replicate) in self.replicates.iter().enumerate() {
            let Replicate::Settled(causes) = replicate else { continue };
            c.entries(&format!("replicates[{i}].settled"), causes.len(), self.best.len());
            for (j, (drawn, best)) in causes.iter().zip(&self.best).enumerate() {
                let field = format!("replicates[{i}].settled[{j}]");
                c.entries(&format!("{field}.x"), drawn.x.len(), best.fit.coordinates().len());
                let same = drawn.shares.iter().map(|e| e.0).eq(best.endings.iter().map(|e| e.0));
                c.need(&format!("{field}.shares"), same, "other endings", "those of the cause");
                for (_, share) in &drawn.shares {
                    c.share(&format!("{field}.shares"), *share);
                }
                c.equal(&format!("{field}.shares"), drawn.shares.iter().map(|e| e.1).sum(), 1.0);
            }
        }
    }
}

impl Draws for CauseDraws {
    fn len(&self) -> usize {
        self.replicates.len()
    }

    fn best(&self) -> Result<World> {
        let causes =
            self.best.iter().map(|c| Ok(CauseLife { endings: c.endings.clone(), life: c.fit.life_at_maximum()? }));
        Ok(World { causes: causes.collect::<Result<_>>()?, costs: self.costs.clone() })
    }

    fn world(&self, replicate: usize) -> Result<World> {
        let drawn = match self.replicates.get(replicate) {
            Some(Replicate::Settled(drawn)) => drawn,
            Some(Replicate::Failed(why)) => {
                let problem = Problem::new("fit.replicate_failed", format!("this draw has no world: {why}"));
                return Err(Error::new(Kind::Refused, problem.got(replicate)));
            }
            None => {
                return Err(Error::new(
                    Kind::Domain,
                    Problem::new("fit.replicate", "no such replicate")
                        .got(replicate)
                        .expected(format!("below {}", self.replicates.len())),
                ));
            }
        };
        let causes = drawn
            .iter()
            .zip(&self.best)
            .map(|(d, best)| Ok(CauseLife { endings: d.shares.clone(), life: best.fit.family()?.at(&d.x)? }))
            .collect::<Result<_>>()?;
        Ok(World { causes, costs: self.costs.clone() })
    }

    fn method(&self) -> Method {
        Method::WeightedBootstrap
    }

    fn seen(&self, ending: Ending) -> Option<u64> {
        let of = |cause: &CauseFit| {
            let share: f64 = cause.endings.iter().filter(|e| e.0 == ending).map(|e| e.1).sum();
            (share * cause.fit.facts().failures as f64).round() as u64
        };
        Some(self.best.iter().map(of).sum())
    }

    fn watched_hours(&self, ending: Ending) -> Option<f64> {
        let of = |(cause, hours): (&CauseFit, &f64)| {
            let share: f64 = cause.endings.iter().filter(|e| e.0 == ending).map(|e| e.1).sum();
            (share * cause.fit.facts().failures as f64, hours.ln())
        };
        let parts = || self.best.iter().zip(&self.watched_hours).map(of).filter(|part| part.0 > 0.0);
        let failures: f64 = parts().map(|part| part.0).sum();
        (failures > 0.0).then(|| (parts().map(|(n, ln)| n * ln).sum::<f64>() / failures).exp())
    }
}
