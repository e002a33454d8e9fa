//! One-sided bounds for the mean of a Poisson count.

use super::root::bracketed;
use super::special::{gamma_p, ln_gamma_q};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Half-width of the final bracket of ln mean: the bound is right to this, relative.
const TOLERANCE: f64 = 1e-14;
/// ln of a mean so small that no level in floating point asks for less.
const LEAST_LN: f64 = -740.0;

fn checked(level: f64) -> Result<f64> {
    if level > 0.0 && level < 1.0 {
        return Ok(level);
    }
    let problem = Problem::new("base.level", "a one-sided level must lie between 0 and 1")
        .at(Place::input("level"))
        .got(level)
        .expected("above 0 and below 1, such as 0.95");
    Err(Error::new(Kind::Domain, problem))
}

/// Upper bound at a one-sided level for the mean of a Poisson count that came out as `n`.
///
/// # Formula
/// ```text
/// the m with P(count <= n | m) = 1 - level, that is Q(n + 1, m) = 1 - level
/// ```
/// Q: regularised upper incomplete gamma function; m is half the `level` quantile of chi-square with 2 n + 2 degrees
/// of freedom. For n = 0 it is -ln(1 - level): 2.996 at 95 %.
///
/// # Errors
/// `base.level` unless 0 < level < 1.
///
/// # Source
/// F. Garwood (1936), Fiducial limits for the Poisson distribution, Biometrika 28, 437-442. From memory.
///
/// # Examples
/// ```
/// use relamp::base::math::count_bounds::count_upper;
/// assert!((count_upper(0, 0.95)? - 2.995_732_273_553_991).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn count_upper(n: u64, level: f64) -> Result<f64> {
    let ln_tail = (-checked(level)?).ln_1p();
    if n == 0 {
        return Ok(-ln_tail);
    }
    let shape = n as f64 + 1.0;
    let over = |m: f64| ln_gamma_q(shape, m) - ln_tail;
    let mut high = shape;
    while over(high) > 0.0 {
        high *= 2.0;
    }
    Ok(bracketed(|ln_m| Ok(over(ln_m.exp())), LEAST_LN, high.ln(), TOLERANCE)?.exp())
}

/// Lower bound at a one-sided level for the mean of a Poisson count that came out as `n`; 0 for n = 0.
///
/// # Formula
/// ```text
/// the m with P(count >= n | m) = 1 - level, that is P(n, m) = 1 - level
/// ```
/// P: regularised lower incomplete gamma function; m is half the (1 - level) quantile of chi-square with 2 n degrees of
/// freedom.
///
/// # Errors
/// `base.level` unless 0 < level < 1.
///
/// # Source
/// As [`count_upper`].
///
/// # Examples
/// ```
/// use relamp::base::math::count_bounds::count_lower;
/// assert!((count_lower(1, 0.95)? + 0.95_f64.ln()).abs() < 1e-14);
/// assert_eq!(count_lower(0, 0.95)?, 0.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn count_lower(n: u64, level: f64) -> Result<f64> {
    let tail = 1.0 - checked(level)?;
    if n == 0 {
        return Ok(0.0);
    }
    let shape = n as f64;
    let over = |m: f64| gamma_p(shape, m) - tail;
    let mut high = shape;
    while over(high) < 0.0 {
        high *= 2.0;
    }
    Ok(bracketed(|ln_m| Ok(over(ln_m.exp())), LEAST_LN, high.ln(), TOLERANCE)?.exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_agree_with_published_ones() {
        // No event: -ln 0.05. One and ten: the 95 % one-sided limits 4.744 and 16.962 of Garwood's table, from memory;
        // also half the 0.95 quantile of chi-square with 4 and 22 degrees of freedom, 9.487729 and 33.924438.
        for (n, expected) in [(0, 2.995_732_273_6), (1, 4.743_864_5), (10, 16.962_219)] {
            assert!((count_upper(n, 0.95).unwrap() - expected).abs() < 1e-6, "{n}");
        }
        // NIST/SEMATECH e-Handbook 8.4.5.1 (data seen): 2 failures in 800 h, 90 % two-sided: mean life 127.069 to 2251.229 h.
        assert!((800.0 / count_upper(2, 0.95).unwrap() - 127.069).abs() < 5e-4);
        assert!((800.0 / count_lower(2, 0.95).unwrap() - 2251.229).abs() < 5e-4);
    }

    #[test]
    fn bounds_leave_the_stated_chance_in_the_tail() {
        // The sum of Poisson terms is another road than the incomplete gamma function.
        for n in [1_u64, 3, 12, 60] {
            for level in [0.01, 0.5, 0.95, 0.999_9] {
                let at_most = |m: f64, n: u64| {
                    (0..=n).scan(1.0, |t, k| Some(std::mem::replace(t, *t * m / (k as f64 + 1.0)))).sum::<f64>()
                        * (-m).exp()
                };
                let upper = count_upper(n, level).unwrap();
                assert!((at_most(upper, n) - (1.0 - level)).abs() < 1e-11, "{n} {level} {upper}");
                let lower = count_lower(n, level).unwrap();
                assert!((1.0 - at_most(lower, n - 1) - (1.0 - level)).abs() < 1e-11, "{n} {level} {lower}");
            }
        }
        for level in [0.0, 1.0, f64::NAN, -1.0] {
            assert_eq!(count_upper(3, level).unwrap_err().slug(), "base.level");
            assert_eq!(count_lower(3, level).unwrap_err().slug(), "base.level");
        }
    }
}
