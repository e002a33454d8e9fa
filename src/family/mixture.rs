//! Two kinds of lamps among each other, such as a weak batch and sound lamps.

use super::chain::flat;
use super::check;
use super::combined::{
    LN_HALF, Outfit, Seat, kinks, ln_rest, ln_shares, ln_sum, mixed_jet, other, quantile_between, search_anchor, share,
    stretches,
};
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Parts, Term};
use crate::base::error::Result;

/// A life drawn from one of two kinds: a share `first_share` of lamps lives by the first, the rest by the second.
///
/// # Formula
/// ```text
/// R(t) = w R1(t) + (1 - w) R2(t),  the same for f and F;  w = first_share
/// ```
///
/// # Numerics
/// Sums are taken in logarithms, and of R and F the smaller leads, so neither tail loses digits. The quantile is
/// searched between those of the two kinds. Moments follow from those of the kinds.
///
/// # Source
/// Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 5.12 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Exponential, Life, Mixture};
/// let weak = Box::new(Exponential { scale: 100.0 });
/// let sound = Box::new(Exponential { scale: 1000.0 });
/// let life = Mixture::new(weak, sound, 0.1)?;
/// assert!((life.mean()? - 910.0).abs() < 1e-10); // 0.1 x 100 + 0.9 x 1000
/// // At first one failure in a hundred hours comes from the weak tenth, and nine in ten thousand from the rest.
/// assert!((life.hazard(0.0) - 0.0019).abs() < 1e-16);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Debug)]
pub struct Mixture {
    first: Box<dyn Life>,
    second: Box<dyn Life>,
    first_share: f64,
    /// Logarithms of the two shares.
    ln_shares: (f64, f64),
    kinks: Vec<f64>,
}

impl Mixture {
    /// Two kinds, the first with its share.
    ///
    /// # Errors
    /// `family.parameter` unless the share lies above 0 and below 1.
    pub fn new(first: Box<dyn Life>, second: Box<dyn Life>, first_share: f64) -> Result<Self> {
        let w = share("first_share", first_share)?;
        Ok(Self::with(first, second, w, (w.ln(), (-w).ln_1p())))
    }

    fn with(first: Box<dyn Life>, second: Box<dyn Life>, first_share: f64, ln_shares: (f64, f64)) -> Self {
        let kinks = kinks(first.as_ref(), second.as_ref());
        Self { first, second, first_share, ln_shares, kinks }
    }

    fn sum(&self, term: Term, age: f64) -> f64 {
        let (p, q) = self.ln_shares;
        ln_sum(p + self.first.ln_term(term, age), q + self.second.ln_term(term, age))
    }

    /// Logarithms of the shares of the kinds among the lamps that reached an age; NaN where neither leaves a number.
    fn ln_shares_at(&self, age: f64) -> (f64, f64) {
        let (p, q) = self.ln_shares;
        ln_shares(p + self.first.ln_reliability(age) - q - self.second.ln_reliability(age))
    }

    /// From the shares of a number: its mean over the two kinds.
    fn mean_of(&self, first: f64, second: f64) -> f64 {
        let (p, q) = self.ln_shares;
        p.exp() * first + q.exp() * second
    }
}

impl Life for Mixture {
    fn ln_density(&self, age: f64) -> f64 {
        self.sum(Term::LnDensity, age)
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        let passed = self.sum(Term::LnReliability, age);
        if passed < LN_HALF { passed } else { ln_rest(self.sum(Term::LnFailureProbability, age)) }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        let failed = self.sum(Term::LnFailureProbability, age);
        if failed < LN_HALF { failed } else { ln_rest(self.sum(Term::LnReliability, age)) }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        let (one, two) = (self.first.ln_hazard(age), self.second.ln_hazard(age));
        let (w, rest) = self.ln_shares_at(age);
        // No share is left of a kind that has died out, whatever its hazard.
        let part =
            |ln_share: f64, ln_hazard: f64| if ln_share == f64::NEG_INFINITY { ln_share } else { ln_share + ln_hazard };
        if w.is_nan() { one.min(two) } else { ln_sum(part(w, one), part(rest, two)) }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        if p > 0.0 && 1.0 - p < self.never_fails() {
            return Ok(f64::INFINITY);
        }
        let (a, b) = (self.first.quantile(p)?, self.second.quantile(p)?);
        let (low, high) = (a.min(b), a.max(b));
        if p == 0.0 || p == 1.0 {
            return Ok(if p == 0.0 { low } else { high });
        }
        quantile_between(self, p, low, if high.is_finite() { high } else { f64::MAX })
    }

    fn landmarks(&self) -> Vec<f64> {
        [self.first.landmarks(), self.second.landmarks()].concat()
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        Ok(self.mean_of(self.first.mean_to(age)?, self.second.mean_to(age)?))
    }

    fn never_fails(&self) -> f64 {
        self.mean_of(self.first.never_fails(), self.second.never_fails())
    }

    fn kinks(&self) -> &[f64] {
        &self.kinks
    }

    fn below_zero(&self) -> f64 {
        self.mean_of(self.first.below_zero(), self.second.below_zero())
    }

    fn mean(&self) -> Result<f64> {
        Ok(self.mean_of(self.first.mean()?, self.second.mean()?))
    }

    fn variance(&self) -> Result<f64> {
        let within = self.mean_of(self.first.variance()?, self.second.variance()?);
        if within.is_infinite() {
            return Ok(within);
        }
        let (p, q) = self.ln_shares;
        let apart = self.first.mean()? - self.second.mean()?;
        Ok(within + (p + q).exp() * apart * apart)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        let (w, rest) = self.ln_shares_at(age);
        let part = |ln: f64, life: &dyn Life| {
            Ok(if ln.exp() == 0.0 { 0.0 } else { ln.exp() * life.mean_residual_life(age)? })
        };
        if w.is_nan() {
            return Ok(0.0);
        }
        Ok(part(w, self.first.as_ref())? + part(rest, self.second.as_ref())?)
    }

    fn named(&self) -> Option<NamedLife> {
        let (a, b) = (self.first.named()?, self.second.named()?);
        // A share that rounds to 0 or 1 has no written form.
        share("first_share", self.first_share).ok()?;
        let name = format!("mixture({}, {})", a.family, b.family);
        Some(NamedLife::new(name, [a.parameters, b.parameters, vec![self.first_share]].concat()))
    }
}

/// The family of such lives; coordinates of the first kind, of the second, and ln(share / (1 - share)).
#[derive(Debug)]
pub(super) struct MixtureFamily {
    name: &'static str,
    outfit: Outfit,
    first: Seat,
    second: Seat,
}

impl MixtureFamily {
    pub(super) fn new(name: &'static str, first: &'static dyn Family, second: &'static dyn Family) -> Self {
        let outfit = Outfit::new(&[("first", first), ("second", second)], Some("first_share"));
        let (from, width) = (first.width(), first.width() + second.width() + 1);
        let (first, second) = (Seat { family: first, from: 0, width }, Seat { family: second, from, width });
        Self { name, outfit, first, second }
    }

    fn split<'x>(&self, numbers: &'x [f64]) -> (&'x [f64], &'x [f64], f64) {
        let share = numbers.last().copied().unwrap_or(f64::NAN);
        (self.first.own(numbers), self.second.own(numbers), share)
    }
}

impl Family for MixtureFamily {
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
        let (a, b, w) = self.split(parameters);
        Ok(Box::new(Mixture::new(self.first.family.life(a)?, self.second.family.life(b)?, w)?))
    }

    fn at(&self, coordinates: &[f64]) -> Result<Box<dyn Life>> {
        check::width(coordinates, self.width())?;
        let (a, b, c) = self.split(coordinates);
        // Straight from the coordinate, so that a share near 1 keeps the digits of the rest.
        Ok(Box::new(Mixture::with(
            self.first.family.at(a)?,
            self.second.family.at(b)?,
            Link::Share.parameter(c),
            ln_shares(c),
        )))
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
        Some(Parts::Mixture([self.first.family, self.second.family]))
    }

    fn jet(&self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        if !age.is_finite() || (age <= 0.0 && !self.below_zero()) {
            return flat(self.at(x).map_or(f64::NAN, |l| l.ln_term(term, age)), out);
        }
        let jets = |term, order| (self.first.jet(x, age, term, order), self.second.jet(x, age, term, order));
        let others = other(term).map(|other| {
            let (a, b) = jets(other, Order::Value);
            (a.value, b.value)
        });
        let (a, b) = jets(term, order);
        *out = mixed_jet(a, b, others, self.split(x).2, order);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // The same place, one narrow and one wide; a search with the records at hand splits them by age.
        let (first, second) = (self.first.family.starts(outline), self.second.family.starts(outline));
        let with_share = |(a, b): (&Vec<f64>, &Vec<f64>)| [a.as_slice(), b.as_slice(), &[0.0]].concat();
        first.iter().zip(second.iter().rev()).map(with_share).collect()
    }

    fn step(&self, coordinates: &[f64], i: usize) -> f64 {
        if i + 1 == self.width() {
            return 1.0;
        }
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
        let (a, b, c) = self.split(coordinates);
        self.first.family.inside(a) && self.second.family.inside(b) && c.abs() < super::traits::FAR
    }
}
