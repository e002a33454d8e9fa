//! What every decision needs of a world: exposure and incidence by cause up to an age.

use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::quadrature::integrate_many;
use crate::family::Life;
use crate::fit::World;

/// Relative tolerance of the integrals of a cause in company.
const TOLERANCE: f64 = 1e-13;

/// Exponent of the substitution t = age u^5 on the first stretch: it takes the infinite hazard at age 0 of a
/// shape below 1 out of the integrand.
const FIRST: i32 = 5;

/// One lamp class in one world, ready to be asked: reliability, exposure and incidence up to an age, and the cost.
#[derive(Debug)]
pub struct WorldCurve<'a> {
    lives: Vec<&'a dyn Life>,
    costs: Vec<f64>,
    planned: f64,
    kinks: Vec<f64>,
    closed: bool,
    knots: Vec<UpTo>,
}

/// What has happened to lamps up to an age, if none is changed before it.
#[derive(Clone, Debug, PartialEq)]
pub struct UpTo {
    /// The age, hours.
    pub age_hours: f64,
    /// Probability to pass the age.
    pub reliability: f64,
    /// Integral of the reliability to the age: mean age at change if changed at the age, hours.
    pub exposure_hours: f64,
    /// Probability to have failed by each cause, in the order of the world.
    pub incidence: Vec<f64>,
}

impl<'a> WorldCurve<'a> {
    /// Prepares a world.
    ///
    /// # Errors
    /// `policy.no_cause` for a world without causes, `policy.below_zero` for a life that reaches below age 0, and those of [`crate::terms::Costs::pooled`].
    pub fn new(world: &'a World) -> Result<Self> {
        let mut curve = Self::by_quadrature(world)?;
        curve.closed = curve.lives.len() == 1;
        Ok(curve)
    }

    /// Prepares a world and integrates even where a closed form is at hand; for checks.
    pub(crate) fn by_quadrature(world: &'a World) -> Result<Self> {
        if world.causes.is_empty() {
            let problem = Problem::new("policy.no_cause", "a world without a cause of failure has no replacement age");
            return Err(Error::new(Kind::Domain, problem));
        }
        if let Some(life) = world.causes.iter().map(|c| &c.life).find(|l| l.below_zero() > 0.0) {
            let what = "a life that reaches below age 0 is for fitting, not for decisions";
            let problem = Problem::new("policy.below_zero", what).got(format!("{life:?}"));
            let hint = "cut it at 0: the family `above_zero(...)`, fitted to the same records";
            return Err(Error::new(Kind::Refused, problem).with_hint(hint));
        }
        let costs = world.causes.iter().map(|c| world.costs.pooled(&c.endings)).collect::<Result<Vec<_>>>()?;
        let lives: Vec<&dyn Life> = world.causes.iter().map(|c| c.life.as_ref()).collect();
        let mut kinks: Vec<f64> =
            lives.iter().flat_map(|l| l.kinks().iter().copied()).filter(|k| *k > 0.0 && k.is_finite()).collect();
        kinks.sort_by(f64::total_cmp);
        kinks.dedup();
        Ok(Self { lives, costs, planned: world.costs.planned(), kinks, closed: false, knots: Vec::new() })
    }

    /// Remembers what happened up to these ages, so that questions between them cost one short integral.
    ///
    /// # Errors
    /// Those of [`WorldCurve::up_to`].
    pub fn remember(&mut self, ages: &[f64]) -> Result<()> {
        if self.closed {
            return Ok(());
        }
        self.knots.clear();
        for &age in ages {
            let next = self.up_to(age)?;
            self.knots.push(next);
        }
        Ok(())
    }

    /// Mean cost of a failure by each cause.
    pub fn costs(&self) -> &[f64] {
        &self.costs
    }

    /// Cost of a planned change.
    pub fn planned_cost(&self) -> f64 {
        self.planned
    }

    /// Ages at which the curve has a step or corner, ascending.
    pub fn kinks(&self) -> &[f64] {
        &self.kinks
    }

    /// ln R of all causes in series.
    pub fn ln_reliability(&self, age: f64) -> f64 {
        self.lives.iter().map(|l| l.ln_reliability(age)).sum()
    }

    /// Hazard of each cause at an age; 0 where no lamp is left.
    pub fn hazards(&self, age: f64) -> impl Iterator<Item = f64> {
        self.lives.iter().map(move |l| {
            let h = l.hazard(age);
            if h.is_nan() { 0.0 } else { h }
        })
    }

    /// What has happened up to an age.
    ///
    /// # Formula
    /// ```text
    /// exposure M(T) = integral of R over (0, T);  incidence F_j(T) = integral of h_j R over (0, T), sum_j F_j + R = 1
    /// ```
    /// One cause alone: M = [`Life::mean_to`], F = 1 - R. A step of a curve is shared among the causes that step there
    /// in proportion to the fall of their ln R.
    ///
    /// # Errors
    /// `policy.age` unless the age is above 0, and those of the integrals.
    pub fn up_to(&self, age: f64) -> Result<UpTo> {
        if age.is_nan() || age <= 0.0 {
            let problem = Problem::new("policy.age", "an age to change at must be above 0").got(age);
            return Err(Error::new(Kind::Domain, problem));
        }
        if let (true, Some(life)) = (self.closed, self.lives.first()) {
            let forever = age.is_infinite();
            let never = life.never_fails();
            let reliability = if forever { never } else { life.reliability(age) };
            let failed = if forever { 1.0 - never } else { life.failure_probability(age) };
            let exposure_hours = life.mean_to(age)?;
            return Ok(UpTo { age_hours: age, reliability, exposure_hours, incidence: vec![failed] });
        }
        let known = self.knots.partition_point(|k| k.age_hours <= age);
        let start = match known.checked_sub(1).and_then(|i| self.knots.get(i)) {
            Some(knot) if knot.age_hours == age => return Ok(knot.clone()),
            Some(knot) => knot.clone(),
            None => {
                UpTo { age_hours: 0.0, reliability: 1.0, exposure_hours: 0.0, incidence: vec![0.0; self.lives.len()] }
            }
        };
        self.further(start, age)
    }

    /// Adds the stretch from what is known to a later age.
    fn further(&self, mut state: UpTo, age: f64) -> Result<UpTo> {
        let from = state.age_hours;
        // What never fails is exposed for ever; how the others fail is still an integral.
        let endless = age.is_infinite() && self.never_fails() > 0.0;
        let width = self.lives.len() + 1;
        // exposure first, then the incidence of each cause
        let rates = |t: f64, out: &mut [f64]| {
            let reliability = self.ln_reliability(t).exp();
            out.fill(reliability);
            if let (true, Some(exposure)) = (endless, out.first_mut()) {
                *exposure = 0.0;
            }
            if reliability == 0.0 {
                return;
            }
            for (o, h) in out.iter_mut().skip(1).zip(self.hazards(t)) {
                *o = if h == 0.0 { 0.0 } else { h * reliability };
            }
        };
        let added = if from == 0.0 && age.is_finite() {
            let kinks: Vec<f64> = self.kinks.iter().map(|k| (k / age).powf(1.0 / f64::from(FIRST))).collect();
            let mapped = |u: f64, out: &mut [f64]| {
                rates(age * u.powi(FIRST), out);
                let slope = f64::from(FIRST) * age * u.powi(FIRST - 1);
                for o in out.iter_mut() {
                    *o *= slope;
                }
            };
            integrate_many(mapped, width, 0.0, 1.0, &kinks, TOLERANCE)?
        } else if from == 0.0 {
            let middle = self.typical_age();
            let begun = self.further(state, middle)?;
            return self.further(begun, age);
        } else {
            integrate_many(rates, width, from, age, &self.kinks, TOLERANCE)?
        };
        state.exposure_hours += if endless { f64::INFINITY } else { added.first().copied().unwrap_or(0.0) };
        for (f, more) in state.incidence.iter_mut().zip(added.iter().skip(1)) {
            *f += more;
        }
        for &kink in self.kinks.iter().filter(|k| **k > from && **k <= age) {
            self.step(kink, &mut state.incidence);
        }
        state.age_hours = age;
        state.reliability = if age.is_infinite() { self.never_fails() } else { self.ln_reliability(age).exp() };
        Ok(state)
    }

    /// Adds the step of the curve at a kink, if there is one.
    fn step(&self, kink: f64, incidence: &mut [f64]) {
        let before = kink.next_down();
        let fall = self.ln_reliability(before).exp() - self.ln_reliability(kink).exp();
        let each: Vec<f64> = self
            .lives
            .iter()
            .map(|l| {
                let (high, low) = (l.ln_reliability(before), l.ln_reliability(kink));
                // Rounding of a smooth curve over one unit in the last place is no step.
                if high - low > 1e-12 * (1.0 + high.abs()) { high - low } else { 0.0 }
            })
            .collect();
        let whole: f64 = each.iter().sum();
        if whole == 0.0 {
            return;
        }
        let last = each.iter().filter(|e| e.is_infinite()).count() as f64;
        for (f, e) in incidence.iter_mut().zip(&each) {
            *f += fall
                * if last == 0.0 {
                    e / whole
                } else if e.is_infinite() {
                    1.0 / last
                } else {
                    0.0
                };
        }
    }

    /// Share that no cause ever ends.
    fn never_fails(&self) -> f64 {
        self.lives.iter().map(|l| l.never_fails()).product()
    }

    /// An age of the order of the median of those that fail: where R is near one half, else where it first falls at all.
    pub fn typical_age(&self) -> f64 {
        let mut age: f64 = 1.0;
        let half = (0.5 * (1.0 + self.never_fails())).ln();
        // 2^±1000 spans every positive number that a life can have for a scale.
        for _ in 0..1000 {
            let ln_r = self.ln_reliability(age);
            if ln_r > half && self.ln_reliability(2.0 * age) > half {
                age *= 2.0;
            } else if ln_r < half {
                age *= 0.5;
            } else {
                break;
            }
            if !(1e-280..1e280).contains(&age) {
                return 1.0;
            }
        }
        age
    }

    /// Long-run cost per hour of changing at an age or at failure, whichever comes first.
    ///
    /// # Formula
    /// ```text
    /// C(T) = [c_p R(T) + sum_j c_j F_j(T)] / M(T)
    /// ```
    ///
    /// # Source
    /// Barlow and Proschan, Mathematical Theory of Reliability (1965), chapter 4: age replacement; with causes, the
    /// reward of a cycle is the cost of whatever ends it.
    pub fn cost(&self, upto: &UpTo) -> f64 {
        let failures: f64 = self.costs.iter().zip(&upto.incidence).map(|(c, f)| c * f).sum();
        let cycle = self.planned * upto.reliability + failures;
        if upto.exposure_hours == 0.0 { f64::INFINITY } else { cycle / upto.exposure_hours }
    }

    /// A number of the sign of dC/dT.
    ///
    /// # Formula
    /// ```text
    /// g(T) = sum_j (c_j - c_p) [h_j(T) M(T) - F_j(T)] - c_p;   dC/dT = R(T) g(T) / M(T)^2
    /// ```
    pub fn slope(&self, upto: &UpTo) -> f64 {
        let mut g = -self.planned;
        for ((c, f), h) in self.costs.iter().zip(&upto.incidence).zip(self.hazards(upto.age_hours)) {
            let rise = if h == 0.0 { 0.0 } else { h * upto.exposure_hours };
            g += (c - self.planned) * (rise - f);
        }
        g
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::Weibull;
    use crate::fit::CauseLife;
    use crate::records::Ending;
    use crate::terms::Costs;

    #[test]
    fn quadrature_and_closed_form_agree() {
        for shape in [0.4, 0.8, 1.0, 1.7, 3.0, 12.0] {
            let world = World {
                causes: vec![CauseLife {
                    endings: vec![(Ending::Dim, 1.0)],
                    life: Box::new(Weibull { shape, scale: 2000.0 }),
                }],
                costs: Costs::new(900.0, [(Ending::Dim, 3000.0)]).unwrap(),
            };
            let closed = WorldCurve::new(&world).unwrap();
            let mut general = WorldCurve::by_quadrature(&world).unwrap();
            general.remember(&[0.5, 300.0, 1500.0]).unwrap();
            for age in [0.01, 1.0, 400.0, 1500.0, 2000.0, 5000.0, f64::INFINITY] {
                let (a, b) = (closed.up_to(age).unwrap(), general.up_to(age).unwrap());
                assert!(
                    (closed.cost(&a) / closed.cost(&b) - 1.0).abs() < 1e-10,
                    "shape {shape}, age {age}: {a:?} {b:?}"
                );
                assert!((a.exposure_hours / b.exposure_hours - 1.0).abs() < 1e-10, "shape {shape}, age {age}");
            }
        }
    }
}
