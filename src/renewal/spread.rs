//! The hours from one change to the next, and those of the lamp that burns at the start.

use std::rc::Rc;

use super::amounts::Amounts;
use super::basis::gauss;
use super::mesh::{Bases, Mesh};
use super::rule::ChangeRule;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::quadrature::integrate;
use crate::family::Life;

/// Share of lamps too small to count among those still to fail.
const FAR: f64 = 1e-18;
/// Logarithm of the chance to reach the age of the first lamp below which what follows would lose its digits.
const LEAST_LN: f64 = -1e5;
/// Relative precision asked of an integral.
const PRECISION: f64 = 1e-13;
/// Shares at whose ages integrals are split.
const SHARES: [f64; 9] = [1e-9, 1e-4, 0.01, 0.2, 0.5, 0.8, 0.99, 1.0 - 1e-4, 1.0 - 1e-9];

/// The life of a new lamp under the rule, past the hours in which it cannot fail.
#[derive(Debug)]
pub(super) struct Spread<'a> {
    pub(super) life: &'a dyn Life,
    /// Hours in which no new lamp fails; time counts from there.
    pub(super) free_hours: f64,
    /// Planned age less the free hours.
    pub(super) plan: Option<f64>,
    /// Chance to reach the planned age; 0 without one.
    pub(super) reach_plan: f64,
    never: f64,
    pub(super) bases: Rc<Bases>,
}

/// Long-run straight lines of the mean and variance of the number of changes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lines {
    pub(super) per_hour: f64,
    pub(super) constant: f64,
    /// Slope and constant of the variance, where the third moment is finite.
    pub(super) variance: Option<(f64, f64)>,
    /// Mean hours from a change to the next.
    pub(super) mean_hours: f64,
}

impl<'a> Spread<'a> {
    pub(super) fn new(life: &'a dyn Life, rule: &ChangeRule) -> Result<Self> {
        let quiet = |k: &&f64| **k > 0.0 && life.ln_failure_probability(**k) == f64::NEG_INFINITY;
        let free = life.kinks().iter().take_while(quiet).last().copied().unwrap_or(0.0);
        // A lamp that is changed before it can fail needs no special clock.
        let free_hours = if rule.planned_age_hours.is_some_and(|t| t <= free) { 0.0 } else { free };
        Self::past(life, rule, free_hours, None)
    }

    /// The same with time counted from age 0 all through, on panels that were laid out before where there are some.
    pub(super) fn from_age_0(life: &'a dyn Life, rule: &ChangeRule, bases: Option<Rc<Bases>>) -> Result<Self> {
        Self::past(life, rule, 0.0, bases)
    }

    fn past(life: &'a dyn Life, rule: &ChangeRule, free_hours: f64, bases: Option<Rc<Bases>>) -> Result<Self> {
        if life.below_zero() > 0.0 || life.failure_probability(0.0) > 0.0 {
            let problem = Problem::new("renewal.below_zero", "a share of the lamps has failed by age 0")
                .at(Place::input("life"))
                .got(life.below_zero().max(life.failure_probability(0.0)))
                .expected("a life above 0, such as above_zero(normal)");
            return Err(Error::new(Kind::Refused, problem));
        }
        for kink in life.kinks() {
            let jump = life.reliability(kink.next_down()) - life.reliability(*kink);
            if jump > 1e-12 {
                let problem = Problem::new("renewal.jumps", "a life that fails by jumps and between them")
                    .at(Place::input("life"))
                    .got(format!("{jump} at {kink} h"))
                    .expected("a life with a density, or one of steps alone");
                return Err(Error::new(Kind::Refused, problem));
            }
        }
        let planned = rule.planned_age_hours;
        let mut spread = Self {
            life,
            free_hours,
            plan: planned.map(|t| t - free_hours),
            reach_plan: planned.map_or(0.0, |t| life.reliability(t)),
            never: life.never_fails(),
            bases: Rc::new(Bases::new(1.0)),
        };
        spread.bases = match bases {
            Some(bases) => bases,
            None => Rc::new(Bases::new(spread.exponent()?)),
        };
        Ok(spread)
    }

    /// Share that fails between two times past the free hours; from 0 the very start is included.
    pub(super) fn between(&self, from: f64, to: f64) -> f64 {
        let (a, b) = (self.free_hours + from, self.free_hours + to);
        if from == 0.0 {
            return self.life.failure_probability(b);
        }
        // The smaller side keeps its digits.
        let passed = self.life.reliability(a);
        let rise = if passed < 0.5 {
            passed - self.life.reliability(b)
        } else {
            self.life.failure_probability(b) - self.life.failure_probability(a)
        };
        rise.max(0.0)
    }

    /// Share that fails later than a time past the free hours.
    pub(super) fn left(&self, from: f64) -> f64 {
        let passed = self.life.reliability(self.free_hours + from);
        if self.never == 0.0 { passed } else { (passed - self.never - 1e-16).max(0.0) }
    }

    /// Time past the free hours after which next to no lamp fails.
    pub(super) fn extent(&self) -> Result<f64> {
        self.lasts(FAR)
    }

    /// Time past the free hours after which no more than a share of the lamps fails.
    pub(super) fn lasts(&self, share: f64) -> Result<f64> {
        let mut t = self.scale()?;
        while self.left(t) > share && t < 1e300 {
            t *= 1.25;
        }
        Ok(self.plan.map_or(t, |p| p.min(t)))
    }

    /// Age past the free hours by which half of those that fail have failed.
    pub(super) fn scale(&self) -> Result<f64> {
        let median = self.life.quantile(0.5 * (1.0 - self.never))? - self.free_hours;
        Ok(self.plan.map_or(median, |p| p.min(median)))
    }

    /// Least power of time with which the failure probability starts.
    fn exponent(&self) -> Result<f64> {
        let early = self.life.quantile(0.01 * (1.0 - self.never))? - self.free_hours;
        let mut t = self.plan.map_or(early, |p| p.min(early));
        let ln = |t: f64| self.life.ln_failure_probability(self.free_hours + t);
        let (mut least, mut here) = (6.0_f64, ln(t));
        for _ in 0..400 {
            let earlier = ln(0.5 * t);
            if earlier.is_nan() || earlier <= FAR.ln() {
                break;
            }
            least = least.min((here - earlier) / std::f64::consts::LN_2);
            (t, here) = (0.5 * t, earlier);
        }
        Ok(least.max(0.01))
    }

    /// Ages at which the hazard has a corner, past the free hours.
    pub(super) fn corners(&self) -> impl Iterator<Item = f64> + '_ {
        let end = self.plan.unwrap_or(f64::INFINITY);
        self.life.kinks().iter().map(|k| k - self.free_hours).filter(move |k| *k > 0.0 && *k < end)
    }

    /// The long-run lines; none where the mean or the variance of the life is infinite.
    pub(super) fn lines(&self) -> Result<Option<Lines>> {
        let plan = self.plan.map(|p| p + self.free_hours);
        if plan.is_none() && self.never > 0.0 {
            // Each lamp is the last one with the same chance.
            let n = (1.0 - self.never) / self.never;
            let lines =
                Lines { per_hour: 0.0, constant: n, variance: Some((0.0, n + n * n)), mean_hours: f64::INFINITY };
            return Ok(Some(lines));
        }
        let mean = self.life.mean_to(plan.unwrap_or(f64::INFINITY))?;
        if !mean.is_finite() {
            return Ok(None);
        }
        let mut marks: Vec<f64> = self.corners().map(|k| k + self.free_hours).collect();
        for share in SHARES {
            let age = self.life.quantile(share)?;
            if age.is_finite() {
                marks.push(age);
            }
        }
        marks.sort_by(f64::total_cmp);
        // In logarithms of the age on either side of the mean: every life falls off fast there.
        let (end, middle) = (plan.unwrap_or(f64::INFINITY), plan.map_or(mean, |p| p.min(mean)));
        let passed = |u: f64| self.life.reliability(middle * u.exp());
        let logs: Vec<f64> = marks.iter().filter(|a| **a > 0.0).map(|a| (a / middle).ln()).collect();
        let early: Vec<f64> = logs.iter().rev().map(|u| -u).collect();
        let moment = |k: f64| -> Result<f64> {
            let below = integrate(|v| k * (-k * v).exp() * passed(-v), 0.0, f64::INFINITY, &early, PRECISION)?;
            let above = integrate(
                |u| {
                    let r = passed(u);
                    if r == 0.0 { 0.0 } else { k * (k * u + r.ln()).exp() }
                },
                0.0,
                (end / middle).ln(),
                &logs,
                PRECISION,
            )?;
            Ok((below + above) * (middle / mean).powf(k))
        };
        let known = if plan.is_none() { self.life.variance().ok() } else { None };
        if known == Some(f64::INFINITY) {
            return Ok(None);
        }
        // A variance that the life knows is better than what is left of the second moment.
        let spread = match known {
            Some(variance) => variance / (mean * mean),
            None => match moment(2.0) {
                Ok(second) => second - 1.0,
                Err(_) => return Ok(None),
            },
        };
        let variance = moment(3.0).ok().map(|third| {
            let skew = third - 3.0 * (1.0 + spread) + 2.0;
            (spread / mean, 1.0 / 12.0 + 1.25 * spread * spread - 2.0 / 3.0 * skew)
        });
        Ok(Some(Lines { per_hour: 1.0 / mean, constant: 0.5 * (spread - 1.0), variance, mean_hours: mean }))
    }
}

/// The lamp that burns at the start, of known age.
#[derive(Debug)]
pub(super) struct First<'a> {
    life: &'a dyn Life,
    age: f64,
    ln_now: f64,
    free_hours: f64,
    /// Hours until it reaches the planned age, and the chance that it does.
    pub(super) plan: Option<(f64, f64)>,
    /// Length of the first pieces that its density is cut into.
    grain: f64,
    end_hours: f64,
}

impl<'a> First<'a> {
    pub(super) fn new(spread: &Spread<'a>, rule: &ChangeRule) -> Result<Self> {
        let (life, age) = (spread.life, rule.first_age_hours);
        let ln_now = life.ln_reliability(age);
        if ln_now < LEAST_LN {
            let problem = Problem::new("renewal.first_age", "next to no lamp reaches the age of the first lamp")
                .at(Place::input("rule").column("first_age_hours"))
                .got(age);
            return Err(Error::new(Kind::Domain, problem));
        }
        let plan = rule.planned_age_hours.map(|t| {
            let left = (t - age).max(0.0);
            (left, if left == 0.0 { 1.0 } else { life.conditional_reliability(t, age) })
        });
        // Near its age the lamp's hazard may be far shorter than the panels, and so is the way to a density infinite there.
        let past = age - spread.free_hours;
        let rate = life.hazard(age);
        let mut grain = spread.scale()?;
        for size in [past, 0.5 / rate] {
            // A length below the least normal number does not grow.
            if size >= f64::MIN_POSITIVE && size.is_finite() {
                grain = grain.min(size);
            }
        }
        let mut end_hours = grain;
        while life.conditional_reliability(age + end_hours, age) - life.never_fails() * (-ln_now).exp() > FAR
            && end_hours < 1e300
        {
            end_hours *= 1.25;
        }
        Ok(Self { life, age, ln_now, free_hours: spread.free_hours, plan, grain, end_hours })
    }

    /// Chance that it burns on past some hours, the planned age apart.
    pub(super) fn passes(&self, hours: f64) -> f64 {
        if self.plan.is_some_and(|(left, _)| reached(hours, left).is_some()) {
            return 0.0;
        }
        self.life.conditional_reliability(self.age + hours, self.age)
    }

    /// Chance that it fails within some hours, before the planned age.
    pub(super) fn fails_within(&self, hours: f64) -> f64 {
        let hours = self.plan.map_or(hours, |(left, _)| hours.min(left));
        let passed = self.life.ln_reliability(self.age + hours) - self.ln_now;
        if passed > -0.1 && self.age == 0.0 { self.life.failure_probability(hours) } else { -passed.exp_m1() }
    }

    /// Sum over its age at failure of a function of the time left then, the function given on a mesh.
    pub(super) fn over_failures<const N: usize>(
        &self,
        hours: f64,
        mesh: &Mesh,
        f: impl Fn(f64) -> [f64; N],
    ) -> [f64; N] {
        self.over(hours, mesh, &[], |age| (self.life.ln_density(age) - self.ln_now).exp(), f)
    }

    /// Sum over its age at failure of an amount that depends on that age, and of a function of the time left then.
    pub(super) fn over_amounts<const N: usize>(
        &self,
        hours: f64,
        mesh: &Mesh,
        amounts: &Amounts<'_>,
        f: impl Fn(f64) -> [f64; N],
    ) -> [f64; N] {
        let rate = |age: f64| {
            let reached = (self.life.ln_reliability(age) - self.ln_now).exp();
            if reached == 0.0 { 0.0 } else { (amounts.rate)(age) * reached }
        };
        self.over(hours, mesh, amounts.kinks, rate, f)
    }

    fn over<const N: usize>(
        &self,
        hours: f64,
        mesh: &Mesh,
        kinks: &[f64],
        density: impl Fn(f64) -> f64,
        f: impl Fn(f64) -> [f64; N],
    ) -> [f64; N] {
        let from = (self.free_hours - self.age).max(0.0);
        let end = self.plan.map_or(hours, |(left, _)| hours.min(left)).min(self.end_hours);
        let mut sum = [0.0; N];
        if end <= from {
            return sum;
        }
        let known = (self.age - self.free_hours).max(0.0);
        let mut edges = vec![from, end];
        let mut step = self.grain;
        while step < mesh.width_hours && from + step < end {
            edges.push(from + step);
            step = 2.0 * step + self.grain;
        }
        let corners = self.life.kinks().iter().chain(kinks);
        edges.extend(corners.map(|k| k - self.age).filter(|s| *s > from && *s < end));
        // Halves of the panels: a product of a polynomial and the density takes more points than either.
        let width = 0.5 * mesh.width_hours;
        let mut j = ((hours - end) / width).ceil();
        while hours - j * width > from {
            edges.push(hours - j * width);
            j += 1.0;
        }
        edges.retain(|s| *s <= end);
        edges.sort_by(f64::total_cmp);
        if known == 0.0 {
            // No piece next to the age at which the hazard may be infinite is longer than its distance from it.
            let mut near = edges.iter().map(|s| s - from).find(|s| *s > 1e-13 * hours).unwrap_or(end - from);
            while near < width && from + near < end {
                edges.push(from + near);
                near *= 2.0;
            }
            edges.sort_by(f64::total_cmp);
        }
        edges.dedup_by(|a, b| *a - *b <= 1e-13 * hours);
        let (plain, fine) = (gauss(16), gauss(64));
        let mut take = |s: f64, weight: f64| {
            let w = weight * density(self.age + s);
            if w > 0.0 {
                for (o, x) in sum.iter_mut().zip(f((hours - s).max(0.0))) {
                    *o += w * x;
                }
            }
        };
        let power = mesh.bases.start.power;
        for pair in edges.windows(2) {
            let [s0, s1] = *pair else { continue };
            let left = ((hours - s1) / mesh.width_hours).max(0.0);
            let corner = (left - left.round()).abs() < 1e-9 && mesh.starts(left.round() as usize);
            let fresh = known == 0.0 && s0 == from;
            if !corner && !fresh {
                for (y, w) in &plain {
                    take(s0 + (s1 - s0) * y, w * (s1 - s0));
                }
                continue;
            }
            let half = 0.5 * (s1 - s0);
            let left = if fresh { power } else { 1.0 };
            let right = if corner { power } else { 1.0 };
            for (y, w) in &fine {
                take(s0 + half * y.powf(left), w * half * left * y.powf(left - 1.0));
                take(s1 - half * y.powf(right), w * half * right * y.powf(right - 1.0));
            }
        }
        sum
    }
}

/// Time left after an age of hours is reached, where it is; rounding does not move a jump.
pub(super) fn reached(hours: f64, age: f64) -> Option<f64> {
    (hours >= age * (1.0 - 1e-12)).then(|| (hours - age).max(0.0))
}
