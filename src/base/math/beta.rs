//! The beta distribution: probability and quantile, for ranks that need not be whole.

use super::root::bracketed;
use super::special::ln_gamma;
use crate::base::error::{Error, Kind, Problem, Result};

/// Regularised incomplete beta function I(x; a, b), a and b above 0, 0 <= x <= 1; NaN outside.
///
/// # Formula
/// ```text
/// I(x; a, b) = integral over (0, x) of u^(a - 1) (1 - u)^(b - 1) du / B(a, b)
/// ```
///
/// # Numerics
/// Continued fraction by the modified Lentz method on the side where it settles fast; relative error near 1e-13 for
/// a + b up to thousands, set by ln Gamma.
///
/// # Source
/// Abramowitz & Stegun (1964), 26.5.8 (from memory).
///
/// # Examples
/// ```
/// use relamp::base::math::beta::beta_p;
/// assert!((beta_p(2.0, 1.0, 0.3) - 0.09).abs() < 1e-15); // x^2
/// ```
pub fn beta_p(a: f64, b: f64, x: f64) -> f64 {
    if !(a > 0.0 && b > 0.0 && (0.0..=1.0).contains(&x)) {
        return f64::NAN;
    }
    if x == 0.0 || x == 1.0 {
        return x;
    }
    let front = (ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b) + a * x.ln() + b * (-x).ln_1p()).exp();
    if x < (a + 1.0) / (a + b + 2.0) {
        front * fraction(a, b, x) / a
    } else {
        1.0 - front * fraction(b, a, 1.0 - x) / b
    }
}

fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let kept = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / kept(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..10_000 {
        let m = f64::from(m);
        for term in [
            m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0)),
        ] {
            d = 1.0 / kept(1.0 + term * d);
            c = kept(1.0 + term / c);
            h *= d * c;
        }
        if (d * c - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}

/// The x with I(x; a, b) = p.
///
/// # Errors
/// `base.beta` unless a and b are positive and finite and 0 < p < 1.
///
/// # Examples
/// ```
/// use relamp::base::math::beta::beta_quantile;
/// assert!((beta_quantile(2.0, 1.0, 0.25)? - 0.5).abs() < 1e-14);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn beta_quantile(a: f64, b: f64, p: f64) -> Result<f64> {
    if !(a > 0.0 && b > 0.0 && a < f64::INFINITY && b < f64::INFINITY && p > 0.0 && p < 1.0) {
        let problem = Problem::new("base.beta", "no such beta quantile")
            .got(format!("a {a}, b {b}, p {p}"))
            .expected("positive finite a and b, p between 0 and 1");
        return Err(Error::new(Kind::Domain, problem));
    }
    bracketed(|x| Ok(beta_p(a, b, x) - p), 0.0, 1.0, 1e-16)
}

/// Probability that an F with `above` and `below` degrees of freedom passes a value; the degrees need not be whole.
///
/// # Formula
/// ```text
/// I(below / (below + above f); below / 2, above / 2)
/// ```
///
/// # Source
/// Abramowitz & Stegun (1964), 26.6.2 (from memory).
///
/// # Examples
/// ```
/// use relamp::base::math::beta::f_upper;
/// assert!((f_upper(3.0, 2.0, 2.0) - 0.25).abs() < 1e-15); // 1 / (1 + f)
/// ```
pub fn f_upper(f: f64, above: f64, below: f64) -> f64 {
    beta_p(below / 2.0, above / 2.0, below / (below + above * f))
}

/// The t that a variable of Student's law passes on either side with a given chance, both sides together.
///
/// # Formula
/// ```text
/// t = sqrt(degrees (1 - x) / x), x the beta quantile of the chance with degrees / 2 and 1/2
/// ```
///
/// # Errors
/// `base.beta` unless 0 < chance < 1 and the degrees are positive and finite.
///
/// # Source
/// Abramowitz & Stegun (1964), 26.7.1 (from memory).
///
/// # Examples
/// ```
/// use relamp::base::math::beta::student_two_sided;
/// assert!((student_two_sided(0.5, 1.0)? - 1.0).abs() < 1e-12); // quartiles of Cauchy's law
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn student_two_sided(chance: f64, degrees: f64) -> Result<f64> {
    let x = beta_quantile(degrees / 2.0, 0.5, chance)?;
    Ok((degrees * (1.0 - x) / x).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn probabilities_agree_with_sums_and_another_library() {
        // Whole a and b: I(x; a, b) = P(at least a of a + b - 1 trials succeed).
        for (a, n) in [(1, 1), (2, 7), (5, 9), (12, 40)] {
            for x in [0.01, 0.2, 0.5, 0.83] {
                let choose = |k: i32| (0..k).map(|i| f64::from(n - i) / f64::from(i + 1)).product::<f64>();
                let tail: f64 = (a..=n).map(|k| choose(k) * f64::powi(x, k) * f64::powi(1.0 - x, n - k)).sum();
                let got = beta_p(f64::from(a), f64::from(n - a + 1), x);
                assert!((got - tail).abs() < 1e-13, "{a} {n} {x}: {got} {tail}");
            }
        }
        for (a, b) in [(0.7, 3.2), (1.125, 7.875), (6.375, 2.625), (250.5, 751.0)] {
            for x in [0.003, 0.1, 0.25, 0.6, 0.97] {
                let other = statrs::function::beta::beta_reg(a, b, x);
                assert!((beta_p(a, b, x) - other).abs() < 1e-12, "{a} {b} {x}");
            }
        }
    }

    #[test]
    fn quantiles_undo_probabilities() {
        for (a, b) in [(1.0, 5.0), (1.125, 7.875), (30.5, 0.5), (900.0, 101.0)] {
            for p in [1e-6, 0.05, 0.5, 0.95] {
                let x = beta_quantile(a, b, p).unwrap();
                assert!((beta_p(a, b, x) / p - 1.0).abs() < 1e-8, "{a} {b} {p} {x}");
            }
        }
        assert_eq!(beta_quantile(0.0, 1.0, 0.5).unwrap_err().slug(), "base.beta");
        assert_eq!(beta_quantile(1.0, 1.0, f64::NAN).unwrap_err().slug(), "base.beta");
    }
}
