//! How long a lamp lives and what ends it, drawn from a world.

use crate::base::error::Result;
use crate::base::math::root::bracketed;
use crate::base::random::Stream;
use crate::family::Life;
use crate::fit::World;
use crate::records::Ending;

/// Reliability at today's age below which the quantile has lost the digits that tell lamps apart.
const TOO_FEW_LEFT: f64 = 1e-5;

/// The causes of a world, ready to be drawn from.
#[derive(Debug)]
pub(super) struct Causes<'a> {
    causes: Vec<Cause<'a>>,
}

#[derive(Debug)]
struct Cause<'a> {
    life: &'a dyn Life,
    /// Places among the failures, with the sum of shares up to and with each, the last 1.
    endings: Vec<(usize, f64)>,
}

impl<'a> Causes<'a> {
    pub(super) fn new(world: &'a World, failures: &[Ending]) -> Self {
        let cause = |c: &'a crate::fit::CauseLife| {
            let whole: f64 = c.endings.iter().map(|(_, share)| share).sum();
            let mut sum = 0.0;
            let mut endings = Vec::new();
            for (ending, share) in c.endings.iter().filter(|(_, share)| *share > 0.0) {
                sum += share / whole;
                endings.push((failures.iter().position(|f| f == ending).unwrap_or(0), sum));
            }
            Cause { life: c.life.as_ref(), endings }
        };
        Self { causes: world.causes.iter().map(cause).collect() }
    }

    /// ln R of all causes in series.
    pub(super) fn ln_reliability(&self, age: f64) -> f64 {
        self.causes.iter().map(|c| c.life.ln_reliability(age)).sum()
    }

    /// Age at failure of a lamp that has reached `age`, and the place of its ending among the failures.
    ///
    /// Every lamp takes as many numbers from the stream, so that the n-th lamp of a screen has the same life under every
    /// rule and rules can be compared on equal lamps.
    pub(super) fn draw(&self, stream: &mut Stream, age: f64) -> Result<(f64, usize)> {
        let mut first = f64::INFINITY;
        let mut tied: Vec<&Cause> = Vec::new();
        for cause in &self.causes {
            let u = stream.uniform();
            let end = if age == 0.0 { cause.life.quantile(u)? } else { later(cause.life, age, u)? };
            if end < first {
                first = end;
                tied.clear();
            }
            if end == first {
                tied.push(cause);
            }
        }
        // Lives made of steps can end at one age; then each cause is as likely, and the rest of the number names the ending.
        let scaled = stream.uniform() * tied.len() as f64;
        let place = scaled.floor();
        let ending = tied.get(place as usize).and_then(|cause| {
            let within = scaled - place;
            cause.endings.iter().find(|(_, upto)| within < *upto).or(cause.endings.last())
        });
        Ok((first, ending.map_or(0, |e| e.0)))
    }
}

/// Age at failure of a lamp that has reached an age: R(x) = R(age) (1 - u).
fn later(life: &dyn Life, age: f64, u: f64) -> Result<f64> {
    let reached = life.reliability(age);
    if reached >= TOO_FEW_LEFT {
        let p = life.failure_probability(age) + reached * u;
        return Ok(life.quantile(p.min(1.0))?.max(age));
    }
    // Far out the quantile of a number next to 1 is a staircase; the logarithm of R is not.
    let goal = life.ln_reliability(age) + (-u).ln_1p();
    let mut step = age.max(1.0) * 1e-3;
    while life.ln_reliability(age + step) > goal {
        step *= 2.0;
        if step > 1e12 * age.max(1.0) {
            return Ok(f64::INFINITY);
        }
    }
    // R may fall to 0 within the step: any number below the goal stands for it.
    let below = |x: f64| Ok((life.ln_reliability(x) - goal).max(-1e300));
    if life.ln_reliability(age + step) == goal {
        return Ok(age + step);
    }
    bracketed(below, age, age + step, 1e-12)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::{Exponential, Weibull};

    #[test]
    fn a_lamp_far_past_its_life_still_lives_the_hours_it_should() {
        // Without memory the hours to come do not depend on the age, near or far.
        let life = Exponential { scale: 100.0 };
        for age in [50.0, 900.0, 1200.0, 5000.0, 40_000.0] {
            for u in [0.01, 0.5, 0.99] {
                let hours = later(&life, age, u).unwrap() - age;
                let expected = -100.0 * (-u).ln_1p();
                assert!((hours / expected - 1.0).abs() < 1e-8, "{age} {u}: {hours} {expected}");
            }
        }
        // Both ways agree where they meet.
        let life = Weibull { shape: 3.0, scale: 1000.0 };
        let meets = life.quantile(1.0 - TOO_FEW_LEFT).unwrap();
        for u in [0.2, 0.8] {
            let (a, b) = (later(&life, meets - 1e-6, u).unwrap(), later(&life, meets + 1e-6, u).unwrap());
            assert!((a - b).abs() < 1e-4, "{a} {b}");
        }
    }
}
