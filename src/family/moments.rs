//! Integrals of the reliability for lives without a closed form: mean to an age, hours still to come, variance.

use super::check;
use super::traits::Life;
use crate::base::error::Result;
use crate::base::math::quadrature::integrate;
use crate::base::math::root::bracketed;

/// Relative precision asked of an integral.
const PRECISION: f64 = 1e-13;
/// Least precision that is still an answer, where rounding leaves no better.
const COARSEST: f64 = 1e-6;
/// Roundings in one logarithm of a reliability.
const ROUNDINGS: f64 = 8.0;
/// Shares between which a life changes; integrals are split at their ages.
const SHARES: [f64; 13] = [1e-12, 1e-6, 1e-3, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.999, 1.0 - 1e-6, 1.0 - 1e-12];
/// Multiples of the mean hours to failure at the present rate, at which what remains is split.
const AHEAD: [f64; 6] = [0.05, 0.5, 1.0, 4.0, 12.0, 36.0];

/// Split of ln age too near the end of the range to part anything.
const NEXT: f64 = 1e-3;

/// Ages above 0 at which integrals are split, ascending: where the life changes, and its corners.
fn ages(life: &dyn Life) -> Result<Vec<f64>> {
    let mut out = Vec::with_capacity(SHARES.len());
    for p in SHARES {
        let age = life.quantile(p)?;
        if age > 0.0 && age < f64::INFINITY {
            out.push(age);
        }
    }
    if !life.kinks().is_empty() {
        out.extend(life.kinks().iter().filter(|a| **a > 0.0 && a.is_finite()));
        out.sort_by(f64::total_cmp);
    }
    Ok(out)
}

/// Integral of the reliability over (0, age); infinite age allowed where the mean is finite.
///
/// In ln age the integrand decays like a power on both sides, whatever the family.
pub(super) fn area(life: &dyn Life, age: f64) -> Result<f64> {
    let age = check::age(age)?;
    if age == 0.0 {
        return Ok(0.0);
    }
    let ages = ages(life)?;
    if age == f64::INFINITY {
        let middle = ages.get(ages.len() / 2).copied().unwrap_or(1.0);
        return Ok(area(life, middle)? + life.reliability(middle) * after(life, middle)?);
    }
    let mut kinks: Vec<f64> = ages.iter().rev().filter(|a| **a < age).map(|a| (age / a).ln()).collect();
    // The last split says how far the integrand reaches, and e^-u reaches to 1 at least.
    kinks.retain(|u| *u > NEXT);
    if kinks.last().is_none_or(|last| *last < 1.0) {
        kinks.push(1.0);
    }
    let below = integrate(
        |u| {
            let share = (-u).exp();
            life.reliability(age * share) * share
        },
        0.0,
        f64::INFINITY,
        &kinks,
        PRECISION,
    )?;
    Ok(age * below)
}

/// Mean hours still to come at an age.
pub(super) fn remaining(life: &dyn Life, age: f64) -> Result<f64> {
    let age = check::age(age)?;
    if age == 0.0 {
        return Ok(area(life, f64::INFINITY)? / life.reliability(0.0));
    }
    after(life, age)
}

/// Integral of R(t) / R(age) over (age, infinity), age above 0.
fn after(life: &dyn Life, age: f64) -> Result<f64> {
    let here = life.ln_reliability(age);
    if here == f64::NEG_INFINITY {
        return Ok(0.0);
    }
    let reach = 1.0 / life.hazard(age);
    // Far out the rounding of ln R and of the age itself leaves more than the precision.
    let noise = ROUNDINGS * f64::EPSILON * (here.abs() + age / reach);
    if age / reach > COARSEST / f64::EPSILON {
        // Neighbouring ages lie too far apart to see what remains, over which the rate hardly changes.
        return Ok(reach);
    }
    let mut kinks: Vec<f64> = AHEAD.iter().map(|k| (k * reach / age).ln_1p()).collect();
    kinks.extend(ages(life)?.iter().map(|a| (a / age).ln()));
    kinks.retain(|u| *u > 0.0 && *u < 700.0);
    kinks.sort_by(f64::total_cmp);
    let rest = |u: f64| {
        let ln = life.ln_reliability(age * u.exp()) - here;
        (ln + u).exp()
    };
    Ok(age * integrate(rest, 0.0, f64::INFINITY, &kinks, PRECISION.max(noise.min(COARSEST)))?)
}

/// Variance of the age at failure of a life above 0, from its mean.
pub(super) fn variance(life: &dyn Life, mean: f64) -> Result<f64> {
    let ages = ages(life)?;
    let middle = ages.get(ages.len() / 2).copied().unwrap_or(1.0);
    // In u = ln(age / middle): squared distance times density times age.
    let part = |u: f64| {
        let age = middle * u.exp();
        let weight = (life.ln_density(age) + u).exp() * middle;
        // Where the age underflows the density may be infinite, and nothing lies there.
        if age == 0.0 || weight == 0.0 { 0.0 } else { (age - mean) * (age - mean) * weight }
    };
    let mut up: Vec<f64> = ages.iter().map(|a| (a / middle).ln()).collect();
    let mut down: Vec<f64> = up.iter().rev().map(|u| -u).collect();
    up.retain(|u| *u > 0.0);
    down.retain(|u| *u > 0.0);
    let above = integrate(part, 0.0, f64::INFINITY, &up, PRECISION)?;
    Ok(above + integrate(|u| part(-u), 0.0, f64::INFINITY, &down, PRECISION)?)
}

/// Share of survivors, as a logarithm, down to which 1 less it keeps its digits.
const FEW: f64 = -2.0;

/// Age at which ln R is as given, for a life without a closed form: where few are left a search in ln R, whose end no
/// rounding of 1 - R can move.
pub(super) fn quantile_passed<L: Life + ?Sized>(life: &L, ln_reliability: f64) -> Result<f64> {
    let wanted = check::ln_probability(ln_reliability)?;
    if wanted >= FEW || wanted == f64::NEG_INFINITY {
        return life.quantile(-wanted.exp_m1());
    }
    let low = life.quantile(-FEW.exp_m1())?;
    if low == f64::INFINITY {
        return Ok(low);
    }
    // In logarithms of the cumulative hazard, which neither end of the bracket can overflow.
    let miss = |age: f64| (-life.ln_reliability(age)).ln().clamp(-f64::MAX, f64::MAX) - (-wanted).ln();
    let (mut near, mut reach) = (low, low.abs().max(f64::MIN_POSITIVE));
    let mut far = near + reach;
    while miss(far) < 0.0 && far < f64::MAX {
        (near, reach) = (far, 2.0 * reach);
        far = (far + reach).min(f64::MAX);
    }
    if far == f64::MAX && miss(far) < 0.0 {
        return Ok(f64::INFINITY);
    }
    // A step may carry the curve past the share at once.
    if miss(near) >= 0.0 {
        return Ok(near);
    }
    if near > 0.0 {
        return Ok(bracketed(|y| Ok(miss(y.exp())), near.ln(), far.ln(), 1e-16).map_or(far, f64::exp));
    }
    bracketed(|age| Ok(miss(age)), near, far, 1e-16 * near.abs().max(far.abs()))
}

/// Quantile of a life above 0 without a closed form, by a search in ln age from a guess.
pub(super) fn search_quantile(life: &dyn Life, p: f64, guess: f64) -> Result<f64> {
    if p == 0.0 {
        return Ok(0.0);
    }
    if p == 1.0 {
        return Ok(f64::INFINITY);
    }
    // On the side that keeps its digits, rising in the age.
    let (ln_p, ln_q) = (p.ln(), (-p).ln_1p());
    let miss = |y: f64| -> Result<f64> {
        let age = y.exp();
        let found = if p < 0.5 { life.ln_failure_probability(age) - ln_p } else { ln_q - life.ln_reliability(age) };
        Ok(found.clamp(-f64::MAX, f64::MAX))
    };
    let middle = if guess > 0.0 && guess < f64::INFINITY { guess.ln() } else { 0.0 };
    let (mut low, mut high, mut reach) = (middle, middle, 0.125);
    while miss(low)? > 0.0 && low > -700.0 {
        low -= reach;
        reach *= 2.0;
    }
    reach = 0.125;
    while miss(high)? < 0.0 && high < 700.0 {
        high += reach;
        reach *= 2.0;
    }
    if low == high {
        return Ok(guess);
    }
    Ok(bracketed(miss, low, high, 1e-16)?.exp())
}
