//! A share of lamps that never fails from this cause.

use super::chain::flat;
use super::check;
use super::combined::{
    LN_HALF, Outfit, Seat, ln_rest, ln_shares, ln_sum, mixed_jet, other, search_anchor, share, stretches,
};
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Parts, Term};
use crate::base::error::Result;

/// A life that a share `never_share` of lamps never ends: they do not have the fault at all.
///
/// # Formula
/// ```text
/// R(t) = n + (1 - n) B(t),  f(t) = (1 - n) b(t),  F(t) = (1 - n) (1 - B(t));  n = never_share
/// ```
/// `B`, `b`: reliability and density of the lamps that do fail.
///
/// # Numerics
/// Of R and F the smaller leads. The quantile of a share that is never reached, the mean, the variance and the mean
/// residual life are infinite: such a life is one cause among others, so put it in series with them before asking for
/// a mean. Alone, running to failure costs 0 an hour in the long run, since the last lamp of every screen never fails.
///
/// # Source
/// W. Q. Meeker (1987), Limited failure population life tests, Technometrics 29, 51-65 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, NeverFails, Weibull};
/// let life = NeverFails::new(Box::new(Weibull { shape: 2.0, scale: 1000.0 }), 0.75)?;
/// assert!((life.reliability(1000.0) - (0.75 + 0.25 * (-1f64).exp())).abs() < 1e-15);
/// assert_eq!(life.quantile(0.3)?, f64::INFINITY);
/// assert_eq!(life.mean()?, f64::INFINITY);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Debug)]
pub struct NeverFails {
    life: Box<dyn Life>,
    never_share: f64,
    /// Logarithms of the share that never fails and of the rest.
    ln_shares: (f64, f64),
}

impl NeverFails {
    /// A life of lamps of which a share never fails.
    ///
    /// # Errors
    /// `family.parameter` unless the share lies above 0 and below 1.
    pub fn new(life: Box<dyn Life>, never_share: f64) -> Result<Self> {
        let n = share("never_share", never_share)?;
        Ok(Self { life, never_share: n, ln_shares: (n.ln(), (-n).ln_1p()) })
    }

    fn failed(&self, age: f64) -> f64 {
        self.ln_shares.1 + self.life.ln_failure_probability(age)
    }

    fn passed(&self, age: f64) -> f64 {
        ln_sum(self.ln_shares.0, self.ln_shares.1 + self.life.ln_reliability(age))
    }
}

impl Life for NeverFails {
    fn ln_density(&self, age: f64) -> f64 {
        self.ln_shares.1 + self.life.ln_density(age)
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        let passed = self.passed(age);
        if passed < LN_HALF { passed } else { ln_rest(self.failed(age)) }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.failed(age)
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let among = (check::probability(p)?.ln() - self.ln_shares.1).exp();
        if among >= 1.0 { Ok(f64::INFINITY) } else { self.life.quantile(among) }
    }

    fn landmarks(&self) -> Vec<f64> {
        self.life.landmarks()
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let (never, rest) = self.ln_shares;
        Ok(never.exp() * check::age(age)? + rest.exp() * self.life.mean_to(age)?)
    }

    fn never_fails(&self) -> f64 {
        let rest = self.ln_shares.1;
        self.never_share + rest.exp() * self.life.never_fails()
    }

    fn kinks(&self) -> &[f64] {
        self.life.kinks()
    }

    fn below_zero(&self) -> f64 {
        self.ln_shares.1.exp() * self.life.below_zero()
    }

    fn mean(&self) -> Result<f64> {
        Ok(f64::INFINITY)
    }

    fn variance(&self) -> Result<f64> {
        Ok(f64::INFINITY)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        check::age(age)?;
        Ok(f64::INFINITY)
    }

    fn named(&self) -> Option<NamedLife> {
        let life = self.life.named()?;
        // A share that rounds to 0 or 1 has no written form.
        share("never_share", self.never_share).ok()?;
        let name = format!("never_fails({})", life.family);
        Some(NamedLife::new(name, [life.parameters, vec![self.never_share]].concat()))
    }
}

/// The family of such lives; coordinates of the lamps that fail, and ln(share / (1 - share)) of those that never do.
#[derive(Debug)]
pub(super) struct NeverFailsFamily {
    name: &'static str,
    outfit: Outfit,
    base: Seat,
}

impl NeverFailsFamily {
    pub(super) fn new(name: &'static str, base: &'static dyn Family) -> Self {
        let outfit = Outfit::new(&[("", base)], Some("never_share"));
        Self { name, outfit, base: Seat { family: base, from: 0, width: base.width() + 1 } }
    }

    fn share(numbers: &[f64]) -> f64 {
        numbers.last().copied().unwrap_or(f64::NAN)
    }
}

impl Family for NeverFailsFamily {
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
        let base = self.base.family.life(self.base.own(parameters))?;
        Ok(Box::new(NeverFails::new(base, Self::share(parameters))?))
    }

    fn at(&self, coordinates: &[f64]) -> Result<Box<dyn Life>> {
        check::width(coordinates, self.width())?;
        let life = self.base.family.at(self.base.own(coordinates))?;
        let c = Self::share(coordinates);
        Ok(Box::new(NeverFails { life, never_share: Link::Share.parameter(c), ln_shares: ln_shares(c) }))
    }

    fn anchor(&self) -> usize {
        self.base.family.anchor()
    }

    fn anchored(&self, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
        search_anchor(self, coordinates, age, ln_reliability)
    }

    fn stretch(&self) -> Option<Vec<f64>> {
        stretches(&[self.base])
    }

    fn parts(&self) -> Option<Parts> {
        Some(Parts::NeverFails(self.base.family))
    }

    fn jet(&self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        if !age.is_finite() || (age <= 0.0 && !self.below_zero()) {
            return flat(self.at(x).map_or(f64::NAN, |l| l.ln_term(term, age)), out);
        }
        // The share that never fails: no density, no failure, all reliability.
        let mut never = Jet::new(x.len());
        never.value = if term == Term::LnReliability { 0.0 } else { f64::NEG_INFINITY };
        let others = other(term).map(|other| {
            let nothing = if term == Term::LnReliability { f64::NEG_INFINITY } else { 0.0 };
            (nothing, self.base.jet(x, age, other, Order::Value).value)
        });
        *out = mixed_jet(never, self.base.jet(x, age, term, order), others, Self::share(x), order);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // A few that never fail, half of them, nearly all.
        let bases = self.base.family.starts(outline);
        let shares = [-2.0, 0.0, 3.0];
        shares.iter().zip(bases.iter().cycle()).map(|(c, base)| [base.as_slice(), &[*c]].concat()).collect()
    }

    fn step(&self, coordinates: &[f64], i: usize) -> f64 {
        if i + 1 == self.width() { 1.0 } else { self.base.family.step(self.base.own(coordinates), i) }
    }

    fn floor(&self, i: usize) -> f64 {
        self.base.floor(i)
    }

    fn below_zero(&self) -> bool {
        self.base.family.below_zero()
    }

    fn inside(&self, coordinates: &[f64]) -> bool {
        self.base.family.inside(self.base.own(coordinates)) && Self::share(coordinates).abs() < super::traits::FAR
    }
}
