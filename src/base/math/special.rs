//! Special functions with tails that stay finite: normal distribution, gamma function, incomplete
//! gamma, chi-square quantiles. The only file that names statrs.

use std::f64::consts::LN_2;

/// Euler's constant.
pub const EULER: f64 = 0.577_215_664_901_532_860_606_512_090_082;
/// ln sqrt(2 pi).
pub const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_741_780_329_736_406;
/// Beyond this many standard deviations the excess of the normal hazard comes from its continued fraction.
const TAIL: f64 = 8.0;
/// Terms of that fraction; at [`TAIL`] 20 leave a relative error of 1e-19.
const TERMS: u32 = 20;
/// Chebyshev coefficients of (z + 1) (1 - Phi(z)) / phi(z) in (z - 6) / (z + 6), z >= 0; computed with mpmath at 60
/// digits, worst relative error of the sum 4e-16. (statrs' erfc holds only 4e-11 near z = 2.24, so it is not used.)
const MILLS: [f64; 25] = [
    1.150_531_903_611_841_5,
    -0.164_064_522_070_097_78,
    -0.002_155_083_538_151_415_7,
    0.028_343_587_185_948_704,
    -0.018_704_241_742_221_85,
    0.008_243_569_833_665_107,
    -0.002_834_583_198_792_446_4,
    0.000_789_371_119_542_493_6,
    -0.000_177_372_096_132_718_26,
    3.082_632_315_576_992_4e-5,
    -3.612_516_841_962_05e-6,
    1.108_832_583_194_100_7e-7,
    5.773_678_822_952_765e-8,
    -1.217_998_899_685_034_1e-8,
    4.421_851_426_383_99e-10,
    2.490_574_422_471_549e-10,
    -4.232_399_887_811_858e-11,
    -2.236_958_462_463_370_3e-12,
    1.438_571_534_383_648_4e-12,
    -5.855_525_546_154_598e-14,
    -3.996_250_248_492_322e-14,
    4.529_994_569_204_144e-15,
    1.055_662_125_397_233e-15,
    -2.040_413_029_357_030_3e-16,
    -2.868_606_193_667_321e-17,
];

/// Mills' ratio (1 - Phi(z)) / phi(z) of the standard normal, z >= 0.
#[inline]
fn mills(z: f64) -> f64 {
    // Infinity maps to the end of the range.
    let t = if z > 1e16 { 1.0 } else { (z - 6.0) / (z + 6.0) };
    let (mut b1, mut b2) = (0.0, 0.0);
    for a in MILLS[1..].iter().rev() {
        (b1, b2) = (2.0 * t * b1 - b2 + a, b1);
    }
    (t * b1 - b2 + MILLS[0]) / (z + 1.0)
}

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
    if z > 0.0 { 1.0 - normal_cdf(-z) } else { ln_normal_density(z).exp() * mills(-z) }
}

/// ln of the standard normal probability below `z`; finite while z^2 is.
///
/// # Numerics
/// Below 0 as ln density + ln Mills' ratio, above 0 through the upper tail: relative error near 1e-15 throughout.
///
/// # Examples
/// ```
/// use relamp::base::math::special::ln_normal_cdf;
/// assert!((ln_normal_cdf(0.0) + 2f64.ln()).abs() < 1e-15);
/// assert!((ln_normal_cdf(-40.0) + 804.608_442_013_754).abs() < 1e-9);
/// ```
pub fn ln_normal_cdf(z: f64) -> f64 {
    if z > 0.0 { (-normal_cdf(-z)).ln_1p() } else { ln_normal_density(z) + mills(-z).ln() }
}

/// h(z) = density / (1 - cdf) of the standard normal and h(z) - z, both without cancellation.
pub fn normal_hazard(z: f64) -> (f64, f64) {
    if z > TAIL {
        let over = excess(z);
        return (z + over, over);
    }
    let h = if z < 0.0 { (ln_normal_density(z) - ln_normal_cdf(-z)).exp() } else { 1.0 / mills(z) };
    (h, h - z)
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

/// Mills' ratio M(z) = (1 - Phi(z)) / phi(z) with two derivatives, each without cancellation far out; z from about -37,
/// where it overflows.
pub fn mills_slopes(z: f64) -> [f64; 3] {
    let (h, over) = normal_hazard(z);
    let m = 1.0 / h;
    // 1 - z M = over M.
    let g = over * m;
    [m, -g, m - z * g]
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

/// The `z` above which a standard normal falls with a probability whose logarithm is given, 0 or less; NaN above 0.
///
/// # Numerics
/// No probability too small for a number gets in the way: the logarithm may be any.
///
/// # Examples
/// ```
/// use relamp::base::math::special::{ln_normal_cdf, normal_upper_quantile};
/// let z = normal_upper_quantile(-2000.0);
/// assert!((ln_normal_cdf(-z) + 2000.0).abs() < 1e-9);
/// ```
pub fn normal_upper_quantile(ln_tail: f64) -> f64 {
    if ln_tail.is_nan() || ln_tail > 0.0 {
        return f64::NAN;
    }
    if ln_tail > -LN_2 {
        return normal_quantile(-ln_tail.exp_m1());
    }
    if ln_tail == f64::NEG_INFINITY { f64::INFINITY } else { -normal_quantile_ln(ln_tail, ln_tail.exp()) }
}

/// ln of the hazard of the standard normal, which its lower tail does not underflow.
pub fn ln_normal_hazard(z: f64) -> f64 {
    if z < 0.0 { ln_normal_density(z) - ln_normal_cdf(-z) } else { normal_hazard(z).0.ln() }
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

/// e^x E1(x), E1 the exponential integral, x > 0.
///
/// # Source
/// Abramowitz & Stegun (1964), 5.1.11 and 5.1.22 (from memory); checked against stored 50-digit values.
///
/// # Examples
/// ```
/// use relamp::base::math::special::exp_integral_scaled;
/// assert!((exp_integral_scaled(1.0) - 0.596_347_362_323_194_1).abs() < 1e-15);
/// ```
pub fn exp_integral_scaled(x: f64) -> f64 {
    if x > 1.0 {
        return upper_gamma_fraction(0.0, x);
    }
    let (mut power, mut total) = (-1.0, 0.0);
    for k in 1..30 {
        let k = f64::from(k);
        power *= -x / k;
        total += power / k;
    }
    x.exp() * (total - x.ln() - EULER)
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
