//! How long a lamp lives that has reached an age.

use super::traits::Life;
use crate::base::error::Result;
use crate::base::math::root::bracketed;

/// Reliability at today's age below which the quantile has lost the digits that tell lamps apart.
const TOO_FEW_LEFT: f64 = 1e-5;

/// Age at failure of a lamp that has reached an age: R(x) = R(age) (1 - u).
pub(crate) fn later(life: &dyn Life, age: f64, u: f64) -> Result<f64> {
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
