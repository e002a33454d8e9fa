//! Bracketed roots.

use crate::base::error::{Error, Kind, Problem, Result};

/// Steps after which a bracket that still has not closed is given up; bisection alone needs fewer than 1,100.
const MOST_STEPS: usize = 2_000;

/// A zero of a function between two points at which it has opposite signs.
///
/// Inverse quadratic and secant steps, with bisection whenever they do not halve the bracket in time.
///
/// # Arguments
/// `tolerance`: absolute half-width of the final bracket; use the logarithm of a positive unknown to make it relative.
///
/// # Errors
/// `base.not_bracketed` unless the two ends are finite and the signs differ, `base.not_a_number` where the function
/// gives NaN, `base.root_unsettled` after 2,000 steps, and the errors of `f`.
///
/// # Source
/// Brent, Algorithms for Minimization without Derivatives (1973), chapter 4.
///
/// # Examples
/// ```
/// let two = relamp::base::math::root::bracketed(|x| Ok(x * x - 2.0), 1.0, 2.0, 1e-15).unwrap();
/// assert!((two - 2.0_f64.sqrt()).abs() < 1e-14);
/// ```
pub fn bracketed(mut f: impl FnMut(f64) -> Result<f64>, from: f64, to: f64, tolerance: f64) -> Result<f64> {
    let mut at = |x: f64| -> Result<f64> {
        let y = f(x)?;
        if y.is_nan() {
            let problem = Problem::new("base.not_a_number", "the function of a root search gave NaN").got(x);
            return Err(Error::new(Kind::Domain, problem));
        }
        Ok(y)
    };
    // `b` is the best point, `a` the one before, `c` the other end of the bracket.
    let (mut a, mut b) = (from, to);
    let (mut fa, mut fb) = (at(a)?, at(b)?);
    if fa == 0.0 {
        return Ok(a);
    }
    if fb == 0.0 {
        return Ok(b);
    }
    if !(from.is_finite() && to.is_finite()) || (fa > 0.0) == (fb > 0.0) {
        let problem = Problem::new("base.not_bracketed", "a root search needs a sign change between its two ends")
            .got(format!("{fa} at {from} and {fb} at {to}"))
            .expected("finite ends with values of opposite sign");
        return Err(Error::new(Kind::Domain, problem));
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut before = step;
    for _ in 0..MOST_STEPS {
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            before = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let near = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let half = 0.5 * (c - b);
        if half.abs() <= near || fb == 0.0 {
            return Ok(b);
        }
        if before.abs() >= near && fa.abs() > fb.abs() && fa.is_finite() && fc.is_finite() {
            let s = fb / fa;
            let (mut p, mut q) = if a == c {
                (2.0 * half * s, 1.0 - s)
            } else {
                let (u, r) = (fa / fc, fb / fc);
                (s * (2.0 * half * u * (u - r) - (b - a) * (r - 1.0)), (u - 1.0) * (r - 1.0) * (s - 1.0))
            };
            if p > 0.0 {
                q = -q;
            }
            p = p.abs();
            if 2.0 * p < (3.0 * half * q - (near * q).abs()).min((before * q).abs()) {
                before = step;
                step = p / q;
            } else {
                step = half;
                before = half;
            }
        } else {
            step = half;
            before = half;
        }
        (a, fa) = (b, fb);
        b += if step.abs() > near { step } else { near.copysign(half) };
        fb = at(b)?;
    }
    let problem = Problem::new("base.root_unsettled", "a root search did not close its bracket").got(b);
    Err(Error::new(Kind::Refused, problem))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_smooth_steep_and_flat_functions_are_found() {
        // The root of cos x = x, 0.739085133215160641655312..., is a textbook value.
        let x = bracketed(|x| Ok(x.cos() - x), 0.0, 1.0, 1e-15).unwrap();
        assert!((x - 0.739_085_133_215_160_6).abs() < 1e-15);
        let x = bracketed(|x: f64| Ok((50.0 * (x - 0.3)).tanh() + 1e-9), -10.0, 10.0, 1e-14).unwrap();
        assert!((x - (0.3 - 2e-11)).abs() < 1e-13);
        let x = bracketed(|x: f64| Ok((x - 1.0).powi(9)), 0.0, 5.0, 1e-12).unwrap();
        assert!((x - 1.0).abs() < 1e-11);
        let x = bracketed(|x: f64| Ok(if x < 0.25 { -1.0 } else { f64::INFINITY }), 0.0, 1.0, 1e-12).unwrap();
        assert!((x - 0.25).abs() < 1e-11);
    }

    #[test]
    fn equal_signs_and_not_a_number_are_refused() {
        assert_eq!(bracketed(|x| Ok(x * x + 1.0), -1.0, 1.0, 1e-9).unwrap_err().slug(), "base.not_bracketed");
        assert_eq!(bracketed(|_| Ok(f64::NAN), -1.0, 1.0, 1e-9).unwrap_err().slug(), "base.not_a_number");
    }
}
