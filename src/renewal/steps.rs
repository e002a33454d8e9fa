//! Lives that fail at given ages only, such as a product-limit curve as it stands: sums on the common measure of the ages.

use super::closed::LEAST;
use super::rule::ChangeRule;
use super::spread::reached;
use super::table::Means;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::family::Life;

/// Most marks of time, and most products in all.
const MOST_MARKS: f64 = 4e6;
const MOST_PRODUCTS: f64 = 3e9;
/// Rounding of an age beside the common measure of the ages.
const ROUNDING: f64 = 1e-6;

/// The ages at which new lamps are changed, in marks.
#[derive(Debug)]
pub(super) struct Steps {
    unit: f64,
    /// Mark, chance of a failure, chance of a planned change.
    new: Vec<(usize, f64, f64)>,
    /// Hours from the start, and chances of a failure and a planned change, of the first lamp.
    first: Vec<(f64, f64, f64)>,
}

impl Steps {
    /// The steps of a life; none where it fails between its steps too.
    pub(super) fn of(life: &dyn Life, rule: &ChangeRule) -> Result<Option<Self>> {
        let ages = life.kinks();
        let falls = |age: f64| life.reliability(age.next_down()) - life.reliability(age);
        let whole: f64 = ages.iter().map(|a| falls(*a)).sum::<f64>() + life.never_fails();
        if ages.is_empty() || (whole - 1.0).abs() > 1e-9 {
            return Ok(None);
        }
        if ages.iter().any(|a| *a <= 0.0) {
            let problem = Problem::new("renewal.steps", "lamps that fail at age 0 would be changed without end")
                .at(Place::input("life"))
                .expected("a life whose first step lies above 0");
            return Err(Error::new(Kind::Refused, problem));
        }
        let end = rule.planned_age_hours.unwrap_or(f64::INFINITY);
        let used = || ages.iter().copied().filter(move |a| *a <= end);
        let planned = rule.planned_age_hours.map(|t| (t, life.reliability(t)));
        let mut unit = 0.0;
        for age in used().chain(rule.planned_age_hours) {
            let (mut a, mut b) = (age, unit);
            while b > ROUNDING * age {
                (a, b) = (b, a % b);
            }
            unit = a;
        }
        let mark = |age: f64| (age / unit).round() as usize;
        let mut new: Vec<_> = used().map(|a| (mark(a), falls(a), 0.0)).collect();
        new.extend(planned.map(|(t, p)| (mark(t), 0.0, p)));
        let now = rule.first_age_hours;
        let reach = life.reliability(now);
        if now > 0.0 && reach == 0.0 {
            let problem = Problem::new("renewal.first_age", "no lamp reaches the age of the first lamp")
                .at(Place::input("rule").column("first_age_hours"))
                .got(now);
            return Err(Error::new(Kind::Domain, problem));
        }
        let mut first: Vec<_> = used().filter(|a| *a > now).map(|a| (a - now, falls(a) / reach, 0.0)).collect();
        first.extend(planned.map(|(t, p)| if t > now { (t - now, 0.0, p / reach) } else { (0.0, 0.0, 1.0) }));
        if planned.is_some_and(|(t, _)| t <= now) {
            first.retain(|(s, ..)| *s == 0.0);
        }
        Ok(Some(Self { unit, new, first }))
    }

    fn marks(&self, hours: f64) -> Result<usize> {
        let marks = hours / self.unit;
        if marks > MOST_MARKS || marks * self.new.len() as f64 > MOST_PRODUCTS {
            let problem = Problem::new("renewal.steps", "the ages of the steps have too small a common measure")
                .at(Place::input("life"))
                .got(format!("{} h for {hours} h", self.unit))
                .expected("ages and a planned age in whole hours, or fewer hours ahead");
            return Err(Error::new(Kind::Limit, problem));
        }
        Ok((marks + 1e-9 * marks.max(1.0)).floor() as usize)
    }

    /// Means by each time.
    pub(super) fn means(&self, hours: &[f64]) -> Result<Vec<Means>> {
        let count = self.marks(hours.iter().copied().fold(0.0, f64::max))? + 1;
        // Changes at each mark of a screen that starts with a new lamp, then their sums.
        let (mut planned, mut failures, mut second) = (vec![0.0; count], vec![0.0; count], vec![0.0; count]);
        for k in 0..count {
            let (mut p, mut f, mut s) = (0.0, 0.0, 0.0);
            for (mark, fails, plan) in &self.new {
                let Some(before) = k.checked_sub(*mark) else { continue };
                let chance = fails + plan;
                let own = if before == 0 { 1.0 } else { 0.0 };
                p += chance * planned[before] + own * plan;
                f += chance * failures[before] + own * fails;
                s += chance * (second[before] + 2.0 * (planned[before] + failures[before]));
            }
            (planned[k], failures[k], second[k]) = (p, f, s);
        }
        for sums in [&mut planned, &mut failures, &mut second] {
            let mut sum = 0.0;
            for x in sums.iter_mut() {
                sum += *x;
                *x = sum;
            }
        }
        let at = |t: f64| -> Result<Means> {
            let mut m = Means::default();
            for (s, fails, plan) in &self.first {
                let Some(left) = reached(t, *s) else { continue };
                let k = self.marks(left)?.min(count - 1);
                let chance = fails + plan;
                m.planned += chance * planned[k] + plan;
                m.failures += chance * failures[k] + fails;
                m.second += chance * (second[k] + 2.0 * (planned[k] + failures[k]));
            }
            Ok(m)
        };
        hours.iter().map(|t| at(*t)).collect()
    }

    /// Probabilities of 0, 1, 2, ... changes.
    pub(super) fn probabilities(&self, hours: f64) -> Result<Vec<f64>> {
        let count = self.marks(hours)? + 1;
        // Chance that the n-th further change has come by each mark.
        let mut come = vec![1.0; count];
        let mut by = vec![1.0];
        let mut products = 0.0;
        loop {
            let mut chance = 0.0;
            for (s, fails, plan) in &self.first {
                if let Some(left) = reached(hours, *s) {
                    let k = self.marks(left)?.min(count - 1);
                    chance += (fails + plan) * come[k];
                }
            }
            by.push(chance);
            if chance < LEAST {
                return Ok(by.windows(2).map(|w| (w[0] - w[1]).max(0.0)).collect());
            }
            products += (count * self.new.len()) as f64;
            if products > MOST_PRODUCTS {
                let problem = Problem::new("renewal.too_many_changes", "more changes than are followed one by one")
                    .at(Place::input("hours"))
                    .got(hours);
                return Err(Error::new(Kind::Limit, problem.expected("fewer hours ahead")));
            }
            let mut next = vec![0.0; count];
            for (mark, fails, plan) in &self.new {
                let (chance, shifted) = (fails + plan, next.iter_mut().skip(*mark));
                shifted.zip(&come).for_each(|(n, c)| *n += chance * c);
            }
            come = next;
        }
    }
}
