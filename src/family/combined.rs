//! What families made of others share: their jets side by side, sums of probabilities in logarithms, and searches.

use super::moments;
use super::traits::{Family, Jet, Life, Link, Order, Term};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::linalg::packed;
use crate::base::math::quadrature::integrate;
use crate::base::math::root::bracketed;
use crate::base::math::special::ln_one_minus_exp_neg;

/// ln of a half: of two probabilities that make one, the smaller lies below it and keeps its digits.
pub(super) const LN_HALF: f64 = -std::f64::consts::LN_2;

/// Product in which nothing stays nothing beside an infinite slope.
pub(super) fn times(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

/// ln(exp(a) + exp(b)).
pub(super) fn ln_sum(a: f64, b: f64) -> f64 {
    let top = a.max(b);
    if top.is_infinite() { top } else { top + (-(a - b).abs()).exp().ln_1p() }
}

/// ln(1 - exp(y)), y at most 0.
pub(super) fn ln_rest(y: f64) -> f64 {
    ln_one_minus_exp_neg(-y)
}

/// The other of the two terms that make one; none for the density.
pub(super) fn other(term: Term) -> Option<Term> {
    match term {
        Term::LnDensity => None,
        Term::LnReliability => Some(Term::LnFailureProbability),
        Term::LnFailureProbability => Some(Term::LnReliability),
    }
}

/// Logarithms of a share and of the rest, from the coordinate ln(share / rest).
pub(super) fn ln_shares(c: f64) -> (f64, f64) {
    let less = -(-c.abs()).exp().ln_1p();
    let more = less - c.abs();
    if c > 0.0 { (less, more) } else { (more, less) }
}

/// A share strictly between 0 and 1.
pub(super) fn share(name: &str, value: f64) -> Result<f64> {
    if value > 0.0 && value < 1.0 {
        return Ok(value);
    }
    let problem = Problem::new("family.parameter", format!("parameter {name} is out of its range"));
    let problem = problem.at(Place::input(name)).got(value).expected("a share above 0 and below 1");
    Err(Error::new(Kind::Domain, problem))
}

/// Share between which and 1 minus it the tables of families with a share lie.
pub(super) const LEAST_SHARE: f64 = 0.002;

/// Names, links and boxes of parts one after another, each name with its prefix.
#[derive(Debug)]
pub(super) struct Outfit {
    pub(super) names: &'static [&'static str],
    pub(super) links: &'static [Link],
    pub(super) boxes: &'static [(f64, f64)],
}

impl Outfit {
    /// Kept as long as the program, as the families are.
    pub(super) fn new(parts: &[(&str, &'static dyn Family)], share: Option<&'static str>) -> Self {
        let (mut names, mut links, mut boxes) = (Vec::new(), Vec::new(), Vec::new());
        for (prefix, part) in parts {
            names.extend(part.parameter_names().iter().map(|n| -> &'static str {
                if prefix.is_empty() { n } else { Box::leak(format!("{prefix}_{n}").into_boxed_str()) }
            }));
            links.extend_from_slice(part.links());
            boxes.extend_from_slice(part.stated_box());
        }
        if let Some(name) = share {
            names.push(name);
            links.push(Link::Share);
            boxes.push((LEAST_SHARE, 1.0 - LEAST_SHARE));
        }
        Self { names: names.leak(), links: links.leak(), boxes: boxes.leak() }
    }
}

/// A part's place in a family made of several: where its coordinates start, and the width of the whole.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seat {
    pub(super) family: &'static dyn Family,
    pub(super) from: usize,
    pub(super) width: usize,
}

impl Seat {
    /// The part's own coordinates.
    pub(super) fn own<'x>(&self, coordinates: &'x [f64]) -> &'x [f64] {
        coordinates.get(self.from..self.from + self.family.width()).unwrap_or(&[])
    }

    /// Smallest value of coordinate `i` of the whole, if it is the part's: minus infinity if not.
    pub(super) fn floor(&self, i: usize) -> f64 {
        let own = (self.from..self.from + self.family.width()).contains(&i);
        if own { self.family.floor(i - self.from) } else { f64::NEG_INFINITY }
    }

    /// A term of the part, its derivatives over (all coordinates.., age).
    pub(super) fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order) -> Jet {
        let part = self.family.width();
        let (mut small, mut out) = (Jet::new(part), Jet::new(self.width));
        self.family.jet(self.own(coordinates), age, term, order, &mut small);
        out.value = small.value;
        let place = |i: usize| if i == part { self.width } else { self.from + i };
        for i in 0..=part {
            out.gradient[place(i)] = small.gradient[i];
            for j in 0..=i {
                out.hessian[packed(place(i), place(j))] = small.hessian[packed(i, j)];
            }
        }
        out
    }
}

/// Adds a jet.
pub(super) fn add(out: &mut Jet, part: &Jet) {
    out.value += part.value;
    out.gradient.iter_mut().zip(&part.gradient).for_each(|(a, b)| *a += b);
    out.hessian.iter_mut().zip(&part.hessian).for_each(|(a, b)| *a += b);
}

/// ln(exp(a) + exp(b)). The second derivatives are means of those of the parts and the spread of the slopes, which
/// cancels nowhere.
pub(super) fn ln_sum_jet(a: &Jet, b: &Jet, order: Order) -> Jet {
    let n = a.gradient.len();
    let mut out = Jet::new(n - 1);
    out.value = ln_sum(a.value, b.value);
    if order == Order::Value || out.value.is_infinite() {
        return out;
    }
    let apart = a.value - b.value;
    let (wa, wb) = (1.0 / (1.0 + (-apart).exp()), 1.0 / (1.0 + apart.exp()));
    for i in 0..n {
        out.gradient[i] = times(wa, a.gradient[i]) + times(wb, b.gradient[i]);
    }
    if order == Order::Gradient {
        return out;
    }
    for i in 0..n {
        let di = a.gradient[i] - b.gradient[i];
        for j in 0..=i {
            let k = packed(i, j);
            let spread = times(times(wa * wb, di), a.gradient[j] - b.gradient[j]);
            out.hessian[k] = times(wa, a.hessian[k]) + times(wb, b.hessian[k]) + spread;
        }
    }
    out
}

/// ln(w A + (1 - w) B) from ln A, ln B and the coordinate ln(w / (1 - w)), which is the last before the age.
///
/// `others`: ln(1 - A) and ln(1 - B), where A and B are probabilities. Where both are near 1 the sum says little and the
/// others keep the digits; the slopes of ln A and ln B do so by themselves.
pub(super) fn mixed_jet(mut a: Jet, mut b: Jet, others: Option<(f64, f64)>, c: f64, order: Order) -> Jet {
    let i = a.gradient.len() - 2;
    let (ln_p, ln_q) = ln_shares(c);
    let (p, q) = (ln_p.exp(), ln_q.exp());
    let (of_a, of_b) = (a.value, b.value);
    a.value += ln_p;
    b.value += ln_q;
    // A - B over the sum, and p q times it is the slope over c.
    let scaled = |top: f64, y: f64| (y - top).exp();
    let top = ln_sum(a.value, b.value);
    let mut lead = scaled(top, of_a) - scaled(top, of_b);
    let mut value = top;
    if let Some((not_a, not_b)) = others {
        if of_a > LN_HALF && of_b > LN_HALF {
            lead = scaled(top, not_b) - scaled(top, not_a);
        }
        if top >= LN_HALF {
            value = ln_rest(ln_sum(ln_p + not_a, ln_q + not_b));
        }
    }
    a.gradient[i] = 1.0;
    let mut out = ln_sum_jet(&a, &b, order);
    out.value = value;
    if top.is_infinite() {
        return out;
    }
    let slope = p * q * lead;
    out.gradient[i] = slope;
    out.hessian[packed(i, i)] = slope * (q - p - slope);
    out
}

/// ln(1 - exp(y)) of a jet.
pub(super) fn ln_rest_jet(mut y: Jet) -> Jet {
    let odds = if y.value == f64::NEG_INFINITY { 0.0 } else { 1.0 / (-y.value).exp_m1() };
    let terms = [ln_rest(y.value), -odds, -odds * (1.0 + odds)];
    super::above_zero::apply(&mut y, terms);
    y
}

/// Quantile between two ages, by a search on the side that keeps its digits.
pub(super) fn quantile_between(life: &dyn Life, p: f64, low: f64, high: f64) -> Result<f64> {
    let (ln_p, ln_q) = (p.ln(), (-p).ln_1p());
    let miss = |age: f64| -> Result<f64> {
        let found = if p < 0.5 { life.ln_failure_probability(age) - ln_p } else { ln_q - life.ln_reliability(age) };
        Ok(found.clamp(-f64::MAX, f64::MAX))
    };
    // Rounding may put the answer on an end.
    if low == high || miss(low)? >= 0.0 {
        return Ok(low);
    }
    if miss(high)? <= 0.0 {
        return Ok(high);
    }
    if low > 0.0 {
        let answer = bracketed(|y| miss(y.exp()), low.ln(), high.ln(), 1e-16);
        // At the ends exp(ln age) may miss the age by a rounding.
        return answer.map_or(Ok(if miss(high)?.abs() < miss(low)?.abs() { high } else { low }), |y| Ok(y.exp()));
    }
    bracketed(miss, low, high, 1e-16 * low.abs().max(high.abs()))
}

/// Value of a coordinate, the others as given, at which ln R(age) is as asked, by a search from a guess.
pub(super) fn search_anchor(family: &dyn Family, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
    let i = family.anchor();
    let guess = match family.links().get(i) {
        Some(Link::Hours) => age,
        _ => age.ln(),
    };
    let step = family.step(coordinates, i);
    let mut x = coordinates.to_vec();
    let mut miss = |c: f64| -> Result<f64> {
        if let Some(slot) = x.get_mut(i) {
            *slot = c;
        }
        // In logarithms of the cumulative hazard, which stretch evenly.
        Ok(((-family.at(&x)?.ln_reliability(age)).ln() - (-ln_reliability).ln()).clamp(-f64::MAX, f64::MAX))
    };
    let mut reach = step;
    for _ in 0..10 {
        let (low, high) = (miss(guess - reach)?, miss(guess + reach)?);
        if (low > 0.0) != (high > 0.0) {
            return bracketed(miss, guess - reach, guess + reach, 1e-14 * step);
        }
        reach *= 2.0;
    }
    let problem = Problem::new("family.anchor", "no such life passes this age with this reliability");
    Err(Error::new(Kind::Refused, problem.got(format!("age {age}, ln reliability {ln_reliability}"))))
}

/// Power by which the reliability falls far out, R ~ age^-power; infinite where it falls faster.
pub(super) fn tail_power(life: &dyn Life) -> f64 {
    let (near, far) = (1e280, 1e300);
    let fall = (life.ln_reliability(near) - life.ln_reliability(far)) / (far / near).ln();
    if fall.is_nan() { f64::INFINITY } else { fall }
}

/// Mean of a life that may reach below age 0: what lies above less what lies below.
pub(super) fn mean(life: &dyn Life) -> Result<f64> {
    if tail_power(life) <= 1.0 {
        return Ok(f64::INFINITY);
    }
    let above = moments::area(life, f64::INFINITY)?;
    if life.below_zero() == 0.0 {
        return Ok(above);
    }
    Ok(above - integrate(|u| life.failure_probability(-u), 0.0, f64::INFINITY, &below(life)?, PRECISION)?)
}

/// Variance of a life that may reach below age 0, from its mean.
pub(super) fn variance(life: &dyn Life, mean: f64) -> Result<f64> {
    if tail_power(life) <= 2.0 {
        return Ok(f64::INFINITY);
    }
    if life.below_zero() == 0.0 {
        return moments::variance(life, mean);
    }
    let part = |t: f64| (t - mean) * (t - mean) * life.ln_density(t).exp();
    let above: Vec<f64> = marks(life)?.into_iter().filter(|a| *a > 0.0).collect();
    let right = integrate(part, 0.0, f64::INFINITY, &above, PRECISION)?;
    Ok(right + integrate(|u| part(-u), 0.0, f64::INFINITY, &below(life)?, PRECISION)?)
}

const PRECISION: f64 = 1e-13;

/// Ages at which integrals in hours are split, ascending.
fn marks(life: &dyn Life) -> Result<Vec<f64>> {
    let shares = [1e-12, 1e-6, 1e-3, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98, 0.999, 1.0 - 1e-6, 1.0 - 1e-12];
    let ages = shares.into_iter().map(|p| life.quantile(p)).collect::<Result<Vec<f64>>>()?;
    Ok(ages.into_iter().filter(|a| a.is_finite()).collect())
}

/// The same below age 0, as distances from it.
fn below(life: &dyn Life) -> Result<Vec<f64>> {
    Ok(marks(life)?.into_iter().rev().filter(|a| *a < 0.0).map(|a| -a).collect())
}

/// Corners of two lives, ascending.
pub(super) fn kinks(first: &dyn Life, second: &dyn Life) -> Vec<f64> {
    let mut all = [first.kinks(), second.kinks()].concat();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// Stretches of parts side by side; none where one has none.
pub(super) fn stretches(parts: &[Seat]) -> Option<Vec<f64>> {
    let mut out = vec![0.0; parts.first()?.width];
    for seat in parts {
        for (i, along) in seat.family.stretch()?.into_iter().enumerate() {
            *out.get_mut(seat.from + i)? = along;
        }
    }
    Some(out)
}
