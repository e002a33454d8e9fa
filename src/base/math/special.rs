//! Special functions with tails that stay finite: normal distribution, gamma function, incomplete
//! gamma, chi-square quantiles. The only file that names statrs.

use std::f64::consts::{FRAC_1_SQRT_2, LN_2};

/// ln sqrt(2 pi).
pub const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_741_780_329_736_406;
/// Beyond this many standard deviations the continued fraction takes over from the error function.
const TAIL: f64 = 4.0;
/// Terms of the continued fraction; at [`TAIL`] 60 leave an error below one unit in the last place.
const TERMS: u32 = 60;

/// ln Gamma(x) for x > 0.
pub fn ln_gamma(x: f64) -> f64 {
    if x > 0.0 { statrs::function::gamma::ln_gamma(x) } else { f64::NAN }
}

/// ln(1 - exp(-x)) for x > 0, exact at both ends.
#[inline]
pub fn ln_one_minus_exp_neg(x: f64) -> f64 {
    if x > LN_2 { (-(-x).exp()).ln_1p() } else { (-(-x).exp_m1()).ln() }
}

/// ln of the standard normal density.
#[inline]
pub fn ln_normal_density(z: f64) -> f64 {
    -0.5 * z * z - LN_SQRT_2PI
}

/// Standard normal probability below `z`.
pub fn normal_cdf(z: f64) -> f64 {
    if z < -TAIL { ln_normal_cdf(z).exp() } else { 0.5 * statrs::function::erf::erfc(-z * FRAC_1_SQRT_2) }
}

/// ln of the standard normal probability below `z`; finite for every finite `z`.
///
/// # Numerics
/// Below -4 by the continued fraction of the tail, above 0 through the upper tail.
/// `z` below about -1.3e154 overflows to minus infinity.
///
/// # Examples
/// ```
/// use relamp::base::math::special::ln_normal_cdf;
/// assert!((ln_normal_cdf(0.0) + 2f64.ln()).abs() < 1e-15);
/// assert!((ln_normal_cdf(-40.0) + 804.608_442_013_754).abs() < 1e-9);
/// ```
pub fn ln_normal_cdf(z: f64) -> f64 {
    if z < -TAIL {
        ln_normal_density(z) - (-z + excess(-z)).ln()
    } else if z > 0.0 {
        (-normal_cdf(-z)).ln_1p()
    } else {
        normal_cdf(z).ln()
    }
}

/// h(z) = density / (1 - cdf) of the standard normal and h(z) - z, both without cancellation.
pub fn normal_hazard(z: f64) -> (f64, f64) {
    if z > TAIL {
        let over = excess(z);
        (z + over, over)
    } else {
        let h = (ln_normal_density(z) - ln_normal_cdf(-z)).exp();
        (h, h - z)
    }
}

/// h(z) - z = 1/(z + 2/(z + 3/(z + ...))) for z above [`TAIL`].
///
/// Source: Abramowitz & Stegun (1964), 26.2.14 (from memory); checked against stored 50-digit values.
fn excess(z: f64) -> f64 {
    let mut tail = z;
    for k in (2..=TERMS).rev() {
        tail = z + f64::from(k) / tail;
    }
    1.0 / tail
}

/// The `z` below which a standard normal falls with probability `p`; infinite at 0 and 1, NaN outside.
///
/// # Numerics
/// The error function's inverse, then Newton steps on ln cdf of the smaller tail, so that
/// p = 1e-300 keeps its digits.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    if p == 1.0 {
        return f64::INFINITY;
    }
    if p > 0.5 {
        return -normal_quantile_ln((-p).ln_1p(), 1.0 - p);
    }
    normal_quantile_ln(p.ln(), p)
}

/// Lower-tail quantile from ln p and p, for p at most 1/2.
fn normal_quantile_ln(ln_p: f64, p: f64) -> f64 {
    let mut z = if p > 1e-20 {
        -std::f64::consts::SQRT_2 * statrs::function::erf::erfc_inv(2.0 * p)
    } else {
        let r = (-2.0 * ln_p).sqrt();
        -(r - (r.ln() + LN_SQRT_2PI) / r)
    };
    for _ in 0..4 {
        let (h, _) = normal_hazard(-z);
        let step = (ln_normal_cdf(z) - ln_p) / h;
        if !step.is_finite() {
            break;
        }
        z -= step;
        if step.abs() <= 1e-15 * z.abs() {
            break;
        }
    }
    z
}

/// Regularised lower incomplete gamma P(a, x), a > 0, x >= 0; NaN outside.
pub fn gamma_p(a: f64, x: f64) -> f64 {
    if !(a > 0.0 && x >= 0.0) {
        return f64::NAN;
    }
    if x == 0.0 {
        return 0.0;
    }
    if x == f64::INFINITY {
        return 1.0;
    }
    if x < a + 1.0 { ln_gamma_p_series(a, x).exp() } else { 1.0 - ln_gamma_q_fraction(a, x).exp() }
}

/// ln of the regularised upper incomplete gamma Q(a, x); finite in the far tail.
pub fn ln_gamma_q(a: f64, x: f64) -> f64 {
    if !(a > 0.0 && x >= 0.0) {
        return f64::NAN;
    }
    if x == 0.0 {
        return 0.0;
    }
    if x < a + 1.0 { (-ln_gamma_p_series(a, x).exp()).ln_1p() } else { ln_gamma_q_fraction(a, x) }
}

fn ln_gamma_p_series(a: f64, x: f64) -> f64 {
    a * x.ln() - x - ln_gamma(a + 1.0) + lower_gamma_series(a, x).ln()
}

fn ln_gamma_q_fraction(a: f64, x: f64) -> f64 {
    a * x.ln() - x - ln_gamma(a) + upper_gamma_fraction(a, x).ln()
}

/// 1 + x/(a+1) + x^2/((a+1)(a+2)) + ...: the lower incomplete gamma function over x^a e^-x / a.
/// Meant for 0 <= x < a + 1, where it settles fast.
pub fn lower_gamma_series(a: f64, x: f64) -> f64 {
    let (mut term, mut total, mut k) = (1.0, 1.0, a);
    for _ in 0..100_000 {
        k += 1.0;
        term *= x / k;
        total += term;
        if term <= total * 1e-17 {
            break;
        }
    }
    total
}

/// The upper incomplete gamma function over x^a e^-x, by its continued fraction (modified Lentz).
/// Meant for x >= a + 1, where it settles fast.
pub fn upper_gamma_fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    if x == f64::INFINITY {
        return 0.0;
    }
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / b;
    let mut h = d;
    for i in 1..100_000 {
        let i = f64::from(i);
        let an = -i * (i - a);
        b += 2.0;
        d = an * d + b;
        if d.abs() < TINY {
            d = TINY;
        }
        c = b + an / c;
        if c.abs() < TINY {
            c = TINY;
        }
        d = 1.0 / d;
        let factor = d * c;
        h *= factor;
        if (factor - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}

/// Quantile of the chi-square distribution with one degree of freedom.
///
/// # Examples
/// ```
/// use relamp::base::math::special::chi_square_quantile_1df;
/// assert!((chi_square_quantile_1df(0.95) - 3.841_458_820_694_124).abs() < 1e-13);
/// ```
pub fn chi_square_quantile_1df(p: f64) -> f64 {
    let z = normal_quantile(0.5 * (1.0 - p));
    z * z
}
