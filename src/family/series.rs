//! Two causes in series: whichever comes first ends the life.

use super::chain::flat;
use super::check;
use super::combined::{
    LN_HALF, Outfit, Seat, add, kinks, ln_rest, ln_rest_jet, ln_sum, ln_sum_jet, mean, quantile_between, search_anchor,
    stretches, tail_power, times, variance,
};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Parts, Term};
use crate::base::error::Result;
use crate::base::math::linalg::packed;

/// A life that ends by one of two independent causes, whichever comes first.
///
/// # Formula
/// ```text
/// R(t) = R1(t) R2(t),  f(t) = f1(t) R2(t) + R1(t) f2(t),  F(t) = F1(t) + R1(t) F2(t)
/// ```
/// `R1`, `R2`: reliability against each cause alone. Hazards add.
///
/// # Numerics
/// Sums of probabilities are taken in logarithms, and of R and F the smaller leads, so neither tail loses digits.
/// The quantile is searched between bounds that follow from the parts. Mean and variance are integrals; they are
/// infinite where R falls no faster than age^-1 and age^-2, judged between 1e280 and 1e300 hours.
///
/// # Source
/// Barlow & Proschan, Statistical Theory of Reliability and Life Testing (1975), chapter 2: series systems (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Exponential, Life, Series};
/// let life = Series::new(Box::new(Exponential { scale: 300.0 }), Box::new(Exponential { scale: 600.0 }));
/// // Rates of 1/300 and 1/600 per hour make 1/200.
/// assert!((life.hazard(50.0) - 1.0 / 200.0).abs() < 1e-17);
/// assert!((life.mean()? - 200.0).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Debug)]
pub struct Series {
    first: Box<dyn Life>,
    second: Box<dyn Life>,
    kinks: Vec<f64>,
}

impl Series {
    /// Two causes side by side.
    pub fn new(first: Box<dyn Life>, second: Box<dyn Life>) -> Self {
        let kinks = kinks(first.as_ref(), second.as_ref());
        Self { first, second, kinks }
    }
}

impl Life for Series {
    fn ln_density(&self, age: f64) -> f64 {
        let (a, b) = (self.first.as_ref(), self.second.as_ref());
        ln_sum(a.ln_density(age) + b.ln_reliability(age), b.ln_density(age) + a.ln_reliability(age))
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        self.first.ln_reliability(age) + self.second.ln_reliability(age)
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        let passed = self.ln_reliability(age);
        if passed < LN_HALF {
            return ln_rest(passed);
        }
        let second = self.first.ln_reliability(age) + self.second.ln_failure_probability(age);
        ln_sum(self.first.ln_failure_probability(age), second)
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        ln_sum(self.first.ln_hazard(age), self.second.ln_hazard(age))
    }

    fn hazard(&self, age: f64) -> f64 {
        self.first.hazard(age) + self.second.hazard(age)
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        if p > 0.0 && 1.0 - p < self.never_fails() {
            return Ok(f64::INFINITY);
        }
        // Each cause alone takes longer; where each has lost half of it in ln R, both have not lost more.
        let half = -(0.5 * (-p).ln_1p()).exp_m1();
        let high = self.first.quantile(p)?.min(self.second.quantile(p)?);
        let low = self.first.quantile(half)?.min(self.second.quantile(half)?);
        if p == 0.0 || p == 1.0 {
            return Ok(high);
        }
        let high = if high.is_finite() { high } else { f64::MAX };
        quantile_between(self, p, low.min(high), high)
    }

    fn landmarks(&self) -> Vec<f64> {
        [self.first.landmarks(), self.second.landmarks()].concat()
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age == f64::INFINITY && tail_power(self) <= 1.0 {
            return Ok(f64::INFINITY);
        }
        moments::area(self, age)
    }

    fn never_fails(&self) -> f64 {
        self.first.never_fails() * self.second.never_fails()
    }

    fn kinks(&self) -> &[f64] {
        &self.kinks
    }

    fn below_zero(&self) -> f64 {
        let (a, b) = (self.first.below_zero(), self.second.below_zero());
        a + b - a * b
    }

    fn mean(&self) -> Result<f64> {
        mean(self)
    }

    fn variance(&self) -> Result<f64> {
        let mean = self.mean()?;
        if mean.is_infinite() { Ok(mean) } else { variance(self, mean) }
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if tail_power(self) <= 1.0 { Ok(f64::INFINITY) } else { moments::remaining(self, age) }
    }

    fn named(&self) -> Option<NamedLife> {
        let (a, b) = (self.first.named()?, self.second.named()?);
        Some(NamedLife::new(format!("series({}, {})", a.family, b.family), [a.parameters, b.parameters].concat()))
    }
}

/// The family of such lives; coordinates of the first cause, then of the second.
#[derive(Debug)]
pub(super) struct SeriesFamily {
    name: &'static str,
    outfit: Outfit,
    first: Seat,
    second: Seat,
}

impl SeriesFamily {
    pub(super) fn new(name: &'static str, first: &'static dyn Family, second: &'static dyn Family) -> Self {
        let outfit = Outfit::new(&[("first", first), ("second", second)], None);
        let (from, width) = (first.width(), first.width() + second.width());
        let (first, second) = (Seat { family: first, from: 0, width }, Seat { family: second, from, width });
        Self { name, outfit, first, second }
    }

    /// The term before the age at which half have failed: F = F1 R2 + F2 R1 + F1 F2.
    fn failed(&self, x: &[f64], age: f64, order: Order) -> Jet {
        let jet = |seat: &Seat, term, order| seat.jet(x, age, term, order);
        let (one, two) =
            (jet(&self.first, Term::LnFailureProbability, order), jet(&self.second, Term::LnFailureProbability, order));
        let (r1, r2) = (
            jet(&self.first, Term::LnReliability, Order::Value).value,
            jet(&self.second, Term::LnReliability, Order::Value).value,
        );
        let mut out = Jet::new(x.len());
        out.value = ln_sum(one.value, r1 + two.value);
        if order == Order::Value || out.value == f64::NEG_INFINITY {
            return out;
        }
        // Shares of the three ways to have failed.
        let (a, b) = ((one.value + r2 - out.value).exp(), (two.value + r1 - out.value).exp());
        let both = (one.value + two.value - out.value).exp();
        for (slot, (g1, g2)) in out.gradient.iter_mut().zip(one.gradient.iter().zip(&two.gradient)) {
            *slot = times(a, *g1) + times(b, *g2);
        }
        if order == Order::Gradient {
            return out;
        }
        for i in 0..=x.len() {
            let (p, q) = (one.gradient[i], two.gradient[i]);
            for j in 0..=i {
                let (s, t, k) = (one.gradient[j], two.gradient[j], packed(i, j));
                let spread = a * times(p, s) + b * times(q, t) - times(p, t) - times(q, s);
                out.hessian[k] = times(a, one.hessian[k])
                    + times(b, two.hessian[k])
                    + times(times(a * b, p - q), s - t)
                    + times(both, spread);
            }
        }
        out
    }
}

impl Family for SeriesFamily {
    fn name(&self) -> &'static str {
        self.name
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        self.outfit.names
    }

    fn links(&self) -> &'static [Link] {
        self.outfit.links
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        self.outfit.boxes
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        check::width(parameters, self.width())?;
        let life = |seat: &Seat| seat.family.life(seat.own(parameters));
        Ok(Box::new(Series::new(life(&self.first)?, life(&self.second)?)))
    }

    fn at(&self, coordinates: &[f64]) -> Result<Box<dyn Life>> {
        check::width(coordinates, self.width())?;
        let life = |seat: &Seat| seat.family.at(seat.own(coordinates));
        Ok(Box::new(Series::new(life(&self.first)?, life(&self.second)?)))
    }

    fn anchor(&self) -> usize {
        self.second.from + self.second.family.anchor()
    }

    fn anchored(&self, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
        search_anchor(self, coordinates, age, ln_reliability)
    }

    fn stretch(&self) -> Option<Vec<f64>> {
        stretches(&[self.first, self.second])
    }

    fn parts(&self) -> Option<Parts> {
        Some(Parts::Series([self.first.family, self.second.family]))
    }

    fn jet(&self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        if !age.is_finite() || (age <= 0.0 && !self.below_zero()) {
            return flat(self.at(x).map_or(f64::NAN, |l| l.ln_term(term, age)), out);
        }
        let sum = |one: Term, two: Term| {
            let mut sum = self.first.jet(x, age, one, order);
            add(&mut sum, &self.second.jet(x, age, two, order));
            sum
        };
        *out = match term {
            Term::LnReliability => sum(Term::LnReliability, Term::LnReliability),
            Term::LnDensity => {
                let (a, b) = (sum(Term::LnDensity, Term::LnReliability), sum(Term::LnReliability, Term::LnDensity));
                ln_sum_jet(&a, &b, order)
            }
            Term::LnFailureProbability => {
                let passed = sum(Term::LnReliability, Term::LnReliability);
                if passed.value < LN_HALF { ln_rest_jet(passed) } else { self.failed(x, age, order) }
            }
        };
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // Half of the failures each: every age lasts longer against one cause alone.
        let half = Outline { failures: 0.5 * outline.failures, ..*outline };
        let (first, second) = (self.first.family.starts(&half), self.second.family.starts(&half));
        first.iter().zip(&second).map(|(a, b)| [a.as_slice(), b.as_slice()].concat()).collect()
    }

    fn step(&self, coordinates: &[f64], i: usize) -> f64 {
        let seat = if i < self.second.from { &self.first } else { &self.second };
        seat.family.step(seat.own(coordinates), i - seat.from)
    }

    fn floor(&self, i: usize) -> f64 {
        if i < self.second.from { self.first.floor(i) } else { self.second.floor(i) }
    }

    fn below_zero(&self) -> bool {
        self.first.family.below_zero() || self.second.family.below_zero()
    }

    fn inside(&self, coordinates: &[f64]) -> bool {
        [&self.first, &self.second].into_iter().all(|s| s.family.inside(s.own(coordinates)))
    }
}
