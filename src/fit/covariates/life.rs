//! The life of a lamp whose ages are those of another, stretched.

use std::fmt;

use super::surface::Move;
use crate::base::error::Result;
use crate::family::{Family, Life};

/// A life with every age of another times a factor, where the family cannot say so by its own parameters.
struct Stretched {
    life: Box<dyn Life>,
    factor: f64,
    kinks: Vec<f64>,
}

impl fmt::Debug for Stretched {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Stretched").field("life", &self.life).field("factor", &self.factor).finish_non_exhaustive()
    }
}

impl Life for Stretched {
    fn ln_density(&self, age: f64) -> f64 {
        self.life.ln_density(age / self.factor) - self.factor.ln()
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        self.life.ln_reliability(age / self.factor)
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.life.ln_failure_probability(age / self.factor)
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        self.life.ln_hazard(age / self.factor) - self.factor.ln()
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        Ok(self.factor * self.life.quantile(p)?)
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.factor * self.life.quantile_passed(ln_reliability)?)
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        Ok(self.factor * self.life.mean_to(age / self.factor)?)
    }

    fn variance(&self) -> Result<f64> {
        Ok(self.factor * self.factor * self.life.variance()?)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        Ok(self.factor * self.life.mean_residual_life(age / self.factor)?)
    }

    fn never_fails(&self) -> f64 {
        self.life.never_fails()
    }

    fn kinks(&self) -> &[f64] {
        &self.kinks
    }
}

/// The life at `eta` from the baseline. One of the family wherever its parameters can say so, and then it has a name.
pub(crate) fn moved_life(family: &dyn Family, base: &[f64], eta: f64) -> Result<Box<dyn Life>> {
    let mut x = base.to_vec();
    match (Move::of(family), family.stretch()) {
        (Move::Shift, _) => {
            if let Some(location) = x.get_mut(family.anchor()) {
                *location += eta;
            }
            family.at(&x)
        }
        (Move::Stretch, Some(along)) => {
            x.iter_mut().zip(along).for_each(|(x, d)| *x += eta * d);
            family.at(&x)
        }
        (Move::Stretch, None) => {
            let (life, factor) = (family.at(base)?, eta.exp());
            let kinks = life.kinks().iter().map(|k| k * factor).collect();
            Ok(Box::new(Stretched { life, factor, kinks }))
        }
    }
}
