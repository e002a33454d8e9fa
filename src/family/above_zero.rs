//! A distribution on all numbers, cut at age 0: what it says of lamps that work when new.

use super::chain::flat;
use super::check;
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term, own_landmarks};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::linalg::packed;
use crate::base::math::quadrature::GAUSS;
use crate::base::math::root::bracketed;
use crate::base::math::special::ln_one_minus_exp_neg;

/// A life made from one that reaches below age 0, by dropping what lies there.
///
/// # Formula
/// ```text
/// R(t) = B(t) / B(0)  for t > 0
/// ```
/// `B`: reliability of the life below.
///
/// # Numerics
/// Soon after age 0 the two logarithms nearly cancel; there their difference is the integral of the hazard.
///
/// # Examples
/// ```
/// use relamp::family::{AboveZero, Life, Normal};
/// let half = AboveZero::new(Box::new(Normal { location: 0.0, scale: 100.0 }));
/// assert_eq!(half.reliability(0.0), 1.0);
/// assert!((half.mean()? - 100.0 * (2.0 / std::f64::consts::PI).sqrt()).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Debug)]
pub struct AboveZero {
    life: Box<dyn Life>,
    /// ln of the share above 0.
    ln_above: f64,
}

impl AboveZero {
    /// The life cut at age 0.
    pub fn new(life: Box<dyn Life>) -> Self {
        let ln_above = life.ln_reliability(0.0);
        Self { life, ln_above }
    }

    /// How far a term of the life below has moved between age 0 and an age, counted positive.
    fn apart(&self, term: Term, age: f64) -> f64 {
        let there = self.life.ln_term(term, age);
        let difference = (there - self.life.ln_term(term, 0.0)).abs();
        if !cancels(difference, there) {
            return difference;
        }
        let rate = |t: f64| match term {
            Term::LnReliability => self.life.hazard(t),
            _ => (self.life.ln_density(t) - self.life.ln_term(term, t)).exp(),
        };
        GAUSS.iter().map(|(x, w)| age * w * rate(age * x)).sum()
    }
}

impl Life for AboveZero {
    fn ln_density(&self, age: f64) -> f64 {
        if age < 0.0 { f64::NEG_INFINITY } else { self.life.ln_density(age) - self.ln_above }
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age <= 0.0 { 0.0 } else { -self.apart(Term::LnReliability, age) }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let below = self.life.ln_failure_probability(age);
        if below < LEFT {
            return below - self.ln_above + ln_one_minus_exp_neg(self.apart(Term::LnFailureProbability, age));
        }
        ln_one_minus_exp_neg(self.apart(Term::LnReliability, age))
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        // Dropping what lies below 0 takes nothing from the lamps that are left.
        if age < 0.0 { f64::NEG_INFINITY } else { self.life.ln_hazard(age) }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        if p == 0.0 {
            return Ok(0.0);
        }
        // The way through the life below keeps its digits only where it has any to spare.
        let guess = self.life.quantile(1.0 - (1.0 - p) * self.ln_above.exp())?;
        moments::search_quantile(self, p, guess)
    }

    fn never_fails(&self) -> f64 {
        self.life.never_fails() * (-self.ln_above).exp()
    }

    fn landmarks(&self) -> Vec<f64> {
        // Most of the life below may lie under 0.
        [own_landmarks(self), self.life.landmarks()].concat()
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        moments::area(self, age)
    }

    fn variance(&self) -> Result<f64> {
        moments::variance(self, self.mean()?)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        moments::remaining(self, age)
    }

    fn named(&self) -> Option<NamedLife> {
        let below = self.life.named()?;
        Some(NamedLife::new(format!("above_zero({})", below.family), below.parameters))
    }
}

/// ln of the failure probability below which an age is judged from the side of F: there ln R says too little.
const LEFT: f64 = -1.0;

/// Whether two logarithms are too near each other for their difference. Over a stretch in which one changes by a twentieth
/// the eight-point rule is exact to rounding.
fn cancels(difference: f64, there: f64) -> bool {
    difference < 0.05 * there.abs()
}

/// A family cut at age 0; parameters and coordinates are those of the family below.
#[derive(Debug)]
pub(super) struct AboveZeroFamily {
    name: &'static str,
    base: &'static dyn Family,
}

impl AboveZeroFamily {
    pub(super) fn new(name: &'static str, base: &'static dyn Family) -> Self {
        Self { name, base }
    }

    /// How far a term of the family below has moved between age 0 and an age, counted positive: either as it is, or,
    /// where the two nearly cancel, as the mean rate over the stretch, to be multiplied by the age.
    fn apart(&self, term: Term, x: &[f64], age: f64, order: Order) -> Apart {
        let (base, width) = (self.base, x.len());
        let (mut here, mut there) = (Jet::new(width), Jet::new(width));
        base.jet(x, 0.0, term, order, &mut here);
        hold_age(&mut here);
        base.jet(x, age, term, order, &mut there);
        if !cancels((there.value - here.value).abs(), there.value) {
            let sign = if term == Term::LnReliability { -1.0 } else { 1.0 };
            let mut out = Jet::new(width);
            add(&mut out, sign, &there);
            add(&mut out, -sign, &here);
            return Apart::Whole(out);
        }
        let (mut mean, mut rate) = (Jet::new(width), Jet::new(width));
        for (node, weight) in GAUSS {
            base.jet(x, age * node, Term::LnDensity, order, &mut rate);
            base.jet(x, age * node, term, order, &mut there);
            subtract(&mut rate, &there);
            let e = rate.value.exp();
            apply(&mut rate, [e, e, e]);
            stretch_age(&mut rate, node);
            add(&mut mean, weight, &rate);
        }
        Apart::Rate(mean)
    }
}

enum Apart {
    Whole(Jet),
    Rate(Jet),
}

impl Apart {
    /// As it is.
    fn whole(self, age: f64) -> Jet {
        match self {
            Self::Whole(jet) => jet,
            Self::Rate(mean) => {
                let n = mean.gradient.len();
                let mut out = Jet::new(n - 1);
                add(&mut out, age, &mean);
                for i in 0..n {
                    // The factor is the age itself.
                    let more = if i + 1 == n { 2.0 * mean.gradient[i] } else { mean.gradient[i] };
                    out.hessian[packed(n - 1, i)] += more;
                }
                out.gradient[n - 1] += mean.value;
                out
            }
        }
    }

    /// ln(1 - exp(-y)).
    fn ln_other(self, age: f64) -> Jet {
        match self {
            Self::Whole(mut jet) => {
                let odds = 1.0 / jet.value.exp_m1();
                let value = ln_one_minus_exp_neg(jet.value);
                apply(&mut jet, [value, odds, -odds * (1.0 + odds)]);
                jet
            }
            Self::Rate(mean) => {
                // ln age + ln rate + ln((1 - exp(-y)) / y), so that nothing is divided by a small age and taken off again.
                let mut smooth = Self::Rate(mean.clone()).whole(age);
                let terms = ln_shrink(smooth.value);
                apply(&mut smooth, terms);
                let (mut out, rate) = (mean, smooth);
                let a = out.value;
                apply(&mut out, [a.ln() + age.ln(), 1.0 / a, -1.0 / (a * a)]);
                add(&mut out, 1.0, &rate);
                let n = out.gradient.len();
                out.gradient[n - 1] += 1.0 / age;
                out.hessian[packed(n - 1, n - 1)] -= 1.0 / (age * age);
                out
            }
        }
    }
}

/// ln((1 - exp(-y)) / y) and its derivatives.
fn ln_shrink(y: f64) -> [f64; 3] {
    if y < 0.25 {
        let s = y * y;
        // Bernoulli series.
        let value = -0.5 * y + s * (1.0 / 24.0 - s * (1.0 / 2880.0 - s * (1.0 / 181_440.0 - s / 9_676_800.0)));
        let first = -0.5 + y * (1.0 / 12.0 - s * (1.0 / 720.0 - s * (1.0 / 30_240.0 - s / 1_209_600.0)));
        let second = 1.0 / 12.0 - s * (1.0 / 240.0 - s * (1.0 / 6048.0 - s / 172_800.0));
        return [value, first, second];
    }
    let odds = 1.0 / y.exp_m1();
    [ln_one_minus_exp_neg(y) - y.ln(), odds - 1.0 / y, 1.0 / (y * y) - odds * (1.0 + odds)]
}

fn subtract(out: &mut Jet, base: &Jet) {
    add(out, -1.0, base);
}

fn add(out: &mut Jet, factor: f64, part: &Jet) {
    out.value += factor * part.value;
    out.gradient.iter_mut().zip(&part.gradient).for_each(|(a, b)| *a += factor * b);
    out.hessian.iter_mut().zip(&part.hessian).for_each(|(a, b)| *a += factor * b);
}

/// A function of the jet's value, from its own value and two derivatives.
pub(super) fn apply(jet: &mut Jet, [value, d1, d2]: [f64; 3]) {
    let times = |a: f64, b: f64| if a == 0.0 || b == 0.0 { 0.0 } else { a * b };
    jet.value = value;
    let n = jet.gradient.len();
    for i in 0..n {
        for j in 0..=i {
            let k = packed(i, j);
            jet.hessian[k] = times(d1, jet.hessian[k]) + times(d2, times(jet.gradient[i], jet.gradient[j]));
        }
    }
    for g in &mut jet.gradient {
        *g = times(d1, *g);
    }
}

impl Family for AboveZeroFamily {
    fn name(&self) -> &'static str {
        self.name
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        self.base.parameter_names()
    }

    fn links(&self) -> &'static [Link] {
        self.base.links()
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        self.base.stated_box()
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        Ok(Box::new(AboveZero::new(self.base.life(parameters)?)))
    }

    fn anchor(&self) -> usize {
        self.base.anchor()
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(self.at(coordinates).map_or(f64::NAN, |l| l.ln_term(term, age)), out);
        }
        match term {
            Term::LnDensity => {
                let mut here = Jet::new(coordinates.len());
                self.base.jet(coordinates, 0.0, Term::LnReliability, order, &mut here);
                hold_age(&mut here);
                self.base.jet(coordinates, age, term, order, out);
                subtract(out, &here);
            }
            Term::LnReliability => {
                *out = Jet::new(coordinates.len());
                subtract(out, &self.apart(term, coordinates, age, order).whole(age));
            }
            Term::LnFailureProbability => {
                self.base.jet(coordinates, age, term, order, out);
                if out.value < LEFT {
                    let mut here = Jet::new(coordinates.len());
                    self.base.jet(coordinates, 0.0, Term::LnReliability, order, &mut here);
                    hold_age(&mut here);
                    subtract(out, &here);
                    add(out, 1.0, &self.apart(term, coordinates, age, order).ln_other(age));
                } else {
                    *out = self.apart(Term::LnReliability, coordinates, age, order).ln_other(age);
                }
            }
        }
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        self.base.starts(outline)
    }

    fn anchored(&self, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
        let i = self.anchor();
        // Without the cut the answer is near; the search widens from there.
        let guess = self.base.anchored(coordinates, age, ln_reliability)?;
        let step = self.step(coordinates, i);
        let mut x = coordinates.to_vec();
        let mut miss = |c: f64| -> Result<f64> {
            if let Some(slot) = x.get_mut(i) {
                *slot = c;
            }
            // In logarithms of the cumulative hazard, which stretch evenly.
            Ok((-self.at(&x)?.ln_reliability(age)).ln() - (-ln_reliability).ln())
        };
        let mut reach = step;
        for _ in 0..60 {
            if (miss(guess - reach)? > 0.0) != (miss(guess + reach)? > 0.0) {
                return bracketed(miss, guess - reach, guess + reach, 1e-14 * step);
            }
            reach *= 2.0;
        }
        let problem = Problem::new("family.anchor", "no such life passes this age with this reliability");
        Err(Error::new(Kind::Refused, problem.got(format!("age {age}, ln reliability {ln_reliability}"))))
    }

    fn step(&self, coordinates: &[f64], i: usize) -> f64 {
        self.base.step(coordinates, i)
    }

    fn inside(&self, coordinates: &[f64]) -> bool {
        self.base.inside(coordinates)
    }
}

/// Derivatives over the age where the age given was `share` of it.
fn stretch_age(jet: &mut Jet, share: f64) {
    let n = jet.gradient.len();
    jet.gradient[n - 1] *= share;
    for i in 0..n {
        jet.hessian[packed(n - 1, i)] *= if i + 1 == n { share * share } else { share };
    }
}

/// Forgets the derivatives over the age.
fn hold_age(jet: &mut Jet) {
    let n = jet.gradient.len();
    if let Some(last) = jet.gradient.last_mut() {
        *last = 0.0;
    }
    for i in 0..n {
        if let Some(slot) = jet.hessian.get_mut(packed(n - 1, i)) {
            *slot = 0.0;
        }
    }
}
