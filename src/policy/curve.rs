//! What every decision needs of a world: exposure and incidence by cause up to an age.

use super::objective::Objective;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::quadrature::integrate_many;
use crate::family::{Joint, Life, in_words};
use crate::fit::{CauseLife, World};
use crate::records::Ending;
use crate::terms::{Costs, Salvage, Warranty};

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
    /// Ages that a search does not step over, ascending.
    landmarks: Vec<f64>,
    knots: Vec<UpTo>,
    rate: f64,
    back: Option<MoneyBack<'a>>,
    salvage: Option<Salvage>,
}

/// Money back under a warranty, and the share of each cause's failures that it covers.
#[derive(Debug)]
struct MoneyBack<'a> {
    warranty: &'a Warranty,
    covered: Vec<f64>,
}

/// What has happened to lamps up to an age, if none is changed before it. Under a discount everything is worth less the
/// later it happens, and the figures are those worths.
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
    /// Mean money back for failures by each cause; empty where no warranty gives any.
    pub money_back: Vec<f64>,
}

impl UpTo {
    /// Numbers that an hour adds to: exposure, incidences, money back.
    pub(super) fn width(&self) -> usize {
        1 + self.incidence.len() + self.money_back.len()
    }

    /// Adds what the hours of a stretch have added, in the order of [`WorldCurve::rates`].
    pub(super) fn add(&mut self, stretch: &[f64]) {
        let figures = std::iter::once(&mut self.exposure_hours).chain(&mut self.incidence).chain(&mut self.money_back);
        for (figure, more) in figures.zip(stretch) {
            *figure += more;
        }
    }
}

impl<'a> WorldCurve<'a> {
    /// Prepares a world.
    ///
    /// # Errors
    /// `policy.no_cause` for a world without causes, `policy.below_zero` for a life that reaches below age 0, and those of [`crate::terms::Costs::pooled`].
    pub fn new(world: &'a World) -> Result<Self> {
        Self::of(world, &Objective::CostPerHour)
    }

    /// Prepares a world to be asked about an objective.
    ///
    /// # Errors
    /// Those of [`WorldCurve::new`]; `terms.minutes_missing` for an ending without its dark minutes.
    pub fn of(world: &'a World, objective: &Objective) -> Result<Self> {
        Self::priced(world, &world.costs, objective)
    }

    /// The same at other costs than those of the world.
    pub(super) fn priced(world: &'a World, costs: &'a Costs, objective: &Objective) -> Result<Self> {
        let mut curve = Self::by_quadrature(world, costs, objective)?;
        curve.closed = curve.lives.len() == 1 && curve.rate == 0.0 && curve.back.is_none();
        Ok(curve)
    }

    /// Prepares a world and integrates even where a closed form is at hand; for checks.
    pub(crate) fn by_quadrature(world: &'a World, costs: &'a Costs, objective: &Objective) -> Result<Self> {
        if world.causes.is_empty() {
            let problem = Problem::new("policy.no_cause", "a world without a cause of failure has no replacement age");
            return Err(Error::new(Kind::Domain, problem));
        }
        if let Some(life) = world.causes.iter().map(|c| &c.life).find(|l| l.below_zero() > 0.0) {
            let what = "a life that reaches below age 0 is for fitting, not for decisions";
            let got = life.named().map_or_else(|| "a life of no family".to_owned(), |named| in_words(&named.family));
            let problem = Problem::new("policy.below_zero", what).got(got);
            let hint = "cut it at 0: the family `above_zero(...)`, fitted to the same records";
            return Err(Error::new(Kind::Refused, problem).with_hint(hint));
        }
        let each = world.causes.iter().map(|c| pooled(costs, objective, c)).collect::<Result<Vec<_>>>()?;
        let back = objective.warranty(costs).map(|warranty| {
            let covered = |c: &CauseLife| {
                let sum =
                    |of: &dyn Fn(&Ending) -> bool| -> f64 { c.endings.iter().filter(|e| of(&e.0)).map(|e| e.1).sum() };
                sum(&|e| warranty.covers(*e)) / sum(&|_| true)
            };
            MoneyBack { warranty, covered: world.causes.iter().map(covered).collect() }
        });
        let lives: Vec<&dyn Life> = world.causes.iter().map(|c| c.life.as_ref()).collect();
        let mut kinks: Vec<f64> =
            lives.iter().flat_map(|l| l.kinks().iter().copied()).filter(|k| *k > 0.0 && k.is_finite()).collect();
        kinks.extend(back.iter().flat_map(|b| b.warranty.kinks()));
        let salvage = objective.salvage(costs).copied();
        kinks.extend(salvage.iter().flat_map(Salvage::kinks));
        kinks.sort_by(f64::total_cmp);
        kinks.dedup();
        let mut landmarks: Vec<f64> = lives.iter().flat_map(|l| l.landmarks()).collect();
        landmarks.sort_by(f64::total_cmp);
        landmarks.dedup();
        let (planned, rate) = (objective.planned(costs), objective.rate(costs));
        let knots = Vec::new();
        Ok(Self { lives, costs: each, planned, kinks, closed: false, landmarks, knots, rate, back, salvage })
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

    /// Cost of a planned change at an age, less what the used lamp is worth there.
    pub fn planned_cost(&self, age: f64) -> f64 {
        self.planned - self.salvage.map_or(0.0, |s| s.worth(age))
    }

    /// The least that a planned change can cost: that of a lamp that has hardly burned.
    pub(super) fn least_planned_cost(&self) -> f64 {
        self.planned - self.salvage.map_or(0.0, |s| s.largest())
    }

    /// Worth of a used lamp, where it has one.
    pub(super) fn salvage(&self) -> Option<&Salvage> {
        self.salvage.as_ref().filter(|s| s.largest() > 0.0)
    }

    /// No age below this can win.
    ///
    /// A cycle costs at least the cheapest change and lasts at most T, so that `C(T) >= cheapest (1 / T - rate)`.
    pub(super) fn earliest(&self, cost_per_hour: f64) -> f64 {
        1.0 / (cost_per_hour / self.cheapest() + self.rate)
    }

    /// Multiplies every cost of a failure; false, and nothing done, where one would fall to what a warranty gives back.
    pub(super) fn scale_failures(&mut self, factor: f64) -> bool {
        let most = |i: usize| self.back.as_ref().map_or(0.0, |b| b.largest(i));
        let kept = self.costs.iter().enumerate().all(|(i, c)| factor * c > most(i) && (factor * c).is_finite());
        if kept {
            self.costs.iter_mut().for_each(|c| *c *= factor);
        }
        kept
    }

    /// Share of a cause's failures that a warranty covers, in the order of the world; none without a warranty.
    pub(crate) fn covered(&self) -> Option<&[f64]> {
        self.back.as_ref().map(|b| b.covered.as_slice())
    }

    /// Whether money later is worth less.
    pub(super) fn discounts(&self) -> bool {
        self.rate > 0.0
    }

    /// All causes as one life.
    pub(super) fn joint(&self) -> Joint<'a> {
        Joint::new(self.lives.clone())
    }

    /// The same lives without a warranty.
    pub(super) fn without_money_back(&self) -> WorldCurve<'a> {
        let (lives, costs, kinks) = (self.lives.clone(), self.costs.clone(), self.kinks.clone());
        let landmarks = self.landmarks.clone();
        let closed = lives.len() == 1 && self.rate == 0.0;
        let (planned, rate, salvage) = (self.planned, self.rate, self.salvage);
        Self { lives, costs, planned, kinks, closed, landmarks, knots: Vec::new(), rate, back: None, salvage }
    }

    /// What failures cost a lamp of an age in an hour, on average, less any money back.
    pub(super) fn failing(&self, age: f64) -> f64 {
        let cost = |(i, (c, h)): (usize, (&f64, f64))| {
            let back = self.back.as_ref().map_or(0.0, |b| b.at(i, age));
            if h == 0.0 { 0.0 } else { (c - back) * h }
        };
        self.costs.iter().zip(self.hazards(age)).enumerate().map(cost).sum()
    }

    /// Mean money back for a failure by a cause at an age.
    pub(super) fn back(&self, cause: usize, age: f64) -> f64 {
        self.back.as_ref().map_or(0.0, |b| b.at(cause, age))
    }

    /// The least that any change can cost.
    pub(super) fn cheapest(&self) -> f64 {
        let most = |i: usize| self.back.as_ref().map_or(0.0, |b| b.largest(i));
        self.costs.iter().enumerate().map(|(i, c)| c - most(i)).fold(self.least_planned_cost(), f64::min)
    }

    /// Ages at which the curve has a step or corner, ascending.
    pub fn kinks(&self) -> &[f64] {
        &self.kinks
    }

    /// Ages that a search does not step over: quantiles of every life and of every part of one, ascending.
    pub fn landmarks(&self) -> &[f64] {
        &self.landmarks
    }

    /// ln R of all causes in series.
    pub fn ln_reliability(&self, age: f64) -> f64 {
        self.lives.iter().map(|l| l.ln_reliability(age)).sum()
    }

    /// ln of the reliability times what an amount at that age is worth.
    fn ln_worth(&self, age: f64) -> f64 {
        if self.rate == 0.0 { self.ln_reliability(age) } else { self.ln_reliability(age) - self.rate * age }
    }

    /// Hazard of each cause at an age; 0 where no lamp is left.
    pub fn hazards(&self, age: f64) -> impl Iterator<Item = f64> {
        self.lives.iter().map(move |l| {
            let h = l.hazard(age);
            if h.is_nan() { 0.0 } else { h }
        })
    }

    /// By how much ln R of each cause falls from one age to a later one; 0 where no lamp is left at the first.
    pub(crate) fn falls(&self, from: f64, to: f64) -> impl Iterator<Item = f64> {
        self.lives.iter().map(move |l| {
            let fall = l.ln_reliability(from) - l.ln_reliability(to);
            if fall.is_nan() { 0.0 } else { fall.max(0.0) }
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
            let incidence = vec![failed];
            return Ok(UpTo { age_hours: age, reliability, exposure_hours, incidence, money_back: Vec::new() });
        }
        let known = self.knots.partition_point(|k| k.age_hours <= age);
        let start = match known.checked_sub(1).and_then(|i| self.knots.get(i)) {
            Some(knot) if knot.age_hours == age => return Ok(knot.clone()),
            Some(knot) => knot.clone(),
            None => self.begun(0.0),
        };
        self.further(start, age)
    }

    /// Nothing has happened yet to lamps that have reached an age.
    pub(super) fn begun(&self, age_hours: f64) -> UpTo {
        let none = |n: usize| vec![0.0; n];
        let money_back = none(self.back.as_ref().map_or(0, |b| b.covered.len()));
        UpTo { age_hours, reliability: 1.0, exposure_hours: 0.0, incidence: none(self.lives.len()), money_back }
    }

    /// Chance of a lamp that has reached an age to fail by each cause in the hours after it, in the order of the world.
    ///
    /// # Errors
    /// Those of the integrals.
    pub(super) fn next(&self, age: f64, hours: f64) -> Result<Vec<f64>> {
        let (here, later) = (self.ln_reliability(age), self.ln_reliability(age + hours));
        if here == f64::NEG_INFINITY {
            return Ok(vec![1.0; self.lives.len()]);
        }
        if self.lives.len() == 1 {
            return Ok(vec![-(later - here).exp_m1()]);
        }
        let reached = here.exp();
        if reached < f64::MIN_POSITIVE {
            return Ok(vec![1.0; self.lives.len()]);
        }
        let added = self.further(self.begun(age), age + hours)?;
        Ok(added.incidence.iter().map(|f| (f / reached).min(1.0)).collect())
    }

    /// Chance of a lamp that has reached an age to fail by each cause before a later one, and its mean money back from each,
    /// in the order of the world; none where no lamp reaches the age.
    ///
    /// # Errors
    /// Those of the integrals.
    pub(crate) fn after(&self, age: f64, later: f64) -> Result<Option<(Vec<f64>, Vec<f64>)>> {
        let reached = self.ln_reliability(age).exp();
        if reached < f64::MIN_POSITIVE {
            return Ok(None);
        }
        let added = self.further(self.begun(age), later)?;
        let share = |x: &f64| x / reached;
        let chances = match &self.lives[..] {
            // One cause alone needs no integral.
            [life] => vec![-(life.ln_reliability(later) - life.ln_reliability(age)).exp_m1()],
            _ => added.incidence.iter().map(share).collect(),
        };
        Ok(Some((chances, added.money_back.iter().map(share).collect())))
    }

    /// What an hour at an age adds: exposure first, then the incidence of each cause, then the money back for each.
    ///
    /// What fails all at once at an age is a [`step`](Self::step), which is added after the integral.
    pub(super) fn rates(&self, age: f64, out: &mut [f64]) {
        let reliability = self.ln_worth(age).exp();
        out.fill(reliability);
        if reliability == 0.0 {
            return;
        }
        let (failures, money) = out.split_at_mut(1 + self.lives.len());
        for (o, h) in failures.iter_mut().skip(1).zip(self.hazards(age)) {
            *o = if h == 0.0 || h.is_infinite() { 0.0 } else { h * reliability };
        }
        if let Some(back) = &self.back {
            for (i, (o, failing)) in money.iter_mut().zip(failures.iter().skip(1)).enumerate() {
                *o = back.at(i, age) * failing;
            }
        }
    }

    /// Adds the stretch from what is known to a later age.
    fn further(&self, mut state: UpTo, age: f64) -> Result<UpTo> {
        let from = state.age_hours;
        // What never fails is exposed for ever; how the others fail is still an integral.
        let endless = age.is_infinite() && self.never_fails() > 0.0;
        let width = state.width();
        let rates = |t: f64, out: &mut [f64]| {
            self.rates(t, out);
            if let (true, Some(exposure)) = (endless, out.first_mut()) {
                *exposure = 0.0;
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
        state.add(&added);
        state.exposure_hours += if endless { f64::INFINITY } else { 0.0 };
        for &kink in self.kinks.iter().filter(|k| **k > from && **k <= age) {
            self.step(kink, &mut state);
        }
        state.age_hours = age;
        state.reliability = if age.is_infinite() { self.never_fails() } else { self.ln_worth(age).exp() };
        Ok(state)
    }

    /// Adds the step of the curve at a kink, if there is one.
    pub(super) fn step(&self, kink: f64, state: &mut UpTo) {
        let before = kink.next_down();
        let fall = self.ln_worth(before).exp() - self.ln_worth(kink).exp();
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
        for (i, (f, e)) in state.incidence.iter_mut().zip(&each).enumerate() {
            let part = if last == 0.0 {
                e / whole
            } else if e.is_infinite() {
                1.0 / last
            } else {
                0.0
            };
            *f += fall * part;
            if let (Some(back), Some(money)) = (&self.back, state.money_back.get_mut(i)) {
                *money += fall * part * back.at(i, kink);
            }
        }
    }

    /// Share that no cause ever ends, at what it is worth.
    fn never_fails(&self) -> f64 {
        if self.rate > 0.0 { 0.0 } else { self.survivors() }
    }

    /// Share that no cause ever ends.
    fn survivors(&self) -> f64 {
        self.lives.iter().map(|l| l.never_fails()).product()
    }

    /// An age of the order of the median of those that fail: where R is near one half, else where it first falls at all.
    pub fn typical_age(&self) -> f64 {
        let mut age: f64 = 1.0;
        let half = (0.5 * (1.0 + self.survivors())).ln();
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
    /// C(T) = [(c_p - s(T)) R(T) + sum_j (c_j F_j(T) - B_j(T))] / M(T)
    /// ```
    /// `B_j` mean money back for failures by cause j before T, 0 without a warranty; `s(T)` worth of a used lamp of age T, 0
    /// without one.
    ///
    /// # Source
    /// Barlow and Proschan, Mathematical Theory of Reliability (1965), chapter 4: age replacement; with causes, the
    /// reward of a cycle is the cost of whatever ends it.
    pub fn cost(&self, upto: &UpTo) -> f64 {
        let failures: f64 = self.costs.iter().zip(&upto.incidence).map(|(c, f)| c * f).sum();
        let back: f64 = upto.money_back.iter().sum();
        let cycle = self.planned_cost(upto.age_hours) * upto.reliability + failures - back;
        if upto.exposure_hours == 0.0 { f64::INFINITY } else { cycle / upto.exposure_hours }
    }

    /// A number of the sign of dC/dT, from the right where the curve has a step or corner.
    ///
    /// # Formula
    /// ```text
    /// g(T) = sum_j { (c_j - c_p(T)) [h_j(T) M(T) - F_j(T)] - [b_j(T) h_j(T) M(T) - B_j(T)] } - c_p(T) - s'(T) M(T)
    /// dC/dT = w(T) R(T) g(T) / M(T)^2
    /// ```
    /// `b_j(T)` money back for a failure by cause j at age T, `B_j(T)` its mean up to T; `c_p(T) = c_p - s(T)`, the cost of a
    /// planned change less the worth of a used lamp, whose fall `s'` makes every wait dearer. At an inner optimum g is 0: over
    /// `c_p` it is the residual of the first-order condition.
    pub fn slope(&self, upto: &UpTo) -> f64 {
        let planned = self.planned_cost(upto.age_hours);
        let mut g = -planned;
        if let Some(salvage) = &self.salvage {
            let fall = salvage.slope(upto.age_hours);
            // Where no worth is left to fall, for ever is as good as any age.
            g -= if fall == 0.0 { 0.0 } else { fall * upto.exposure_hours };
        }
        let each = self.costs.iter().zip(&upto.incidence).zip(self.hazards(upto.age_hours)).enumerate();
        for (i, ((c, f), h)) in each {
            let rise = if h == 0.0 { 0.0 } else { h * upto.exposure_hours };
            g += (c - planned) * (rise - f);
            if let (Some(back), Some(mean)) = (&self.back, upto.money_back.get(i)) {
                let here = back.at(i, upto.age_hours);
                g -= if here == 0.0 { -mean } else { here * rise - mean };
            }
        }
        g
    }
}

impl MoneyBack<'_> {
    /// Mean money back for a failure by a cause at an age.
    fn at(&self, cause: usize, age: f64) -> f64 {
        self.covered.get(cause).map_or(0.0, |share| share * self.warranty.credit(age))
    }

    /// The most that comes back for a failure by a cause, on average.
    fn largest(&self, cause: usize) -> f64 {
        self.at(cause, 0.0)
    }
}

/// Mean amount of a failure by a cause, over its endings.
fn pooled(costs: &Costs, objective: &Objective, cause: &CauseLife) -> Result<f64> {
    let Objective::DarkMinutes(dark) = objective else { return costs.pooled(&cause.endings) };
    // Shares are judged where costs are; here only the minutes take the place of the money.
    let whole: f64 = cause.endings.iter().map(|e| e.1).sum();
    costs.pooled(&cause.endings)?;
    let parts = cause.endings.iter().filter(|e| e.1 > 0.0).map(|(e, share)| Ok(share * dark.failure(*e)? / whole));
    parts.sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::Weibull;

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
            let mut general = WorldCurve::by_quadrature(&world, &world.costs, &Objective::CostPerHour).unwrap();
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
