//! Claims from lamps that are fitted within the days looked ahead: their mean.

use crate::base::error::Result;
use crate::policy::WorldCurve;

/// Cells of the hours looked ahead, over which the claims of a screen with a new lamp are summed.
const CELLS: usize = 1000;
/// Cells in which the first change of a lamp that burns today is placed.
const FIRST_CELLS: usize = 400;

/// Mean claims and money of one screen, from a lamp fitted new on, in so many hours.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Means {
    pub(super) claims: f64,
    pub(super) money: f64,
}

impl Means {
    pub(super) fn add(&mut self, share: f64, of: Means) {
        self.claims += share * of.claims;
        self.money += share * of.money;
    }
}

/// The means of a screen with a new lamp by the hours it burns, at the ends of equal cells.
///
/// # Formula
/// ```text
/// V(v) = C(v) + integral of V(v - s) dF(s) over (0, min(v, T)) + R(T) V(v - T)
/// ```
/// `C(v)`: chance, or mean money, of a claim of one new lamp within v hours; T: planned age. Within a cell the change is
/// taken as spread evenly, so the means are right to second order of a cell.
#[derive(Debug)]
pub(super) struct NewLamp {
    step: f64,
    planned: f64,
    means: Vec<Means>,
}

impl NewLamp {
    /// `until`: age at which the cover of a new lamp ends, at most the planned age; `most`: hours looked ahead at most.
    pub(super) fn new(
        curve: &mut WorldCurve<'_>,
        covered: &[f64],
        planned: f64,
        until: f64,
        most: f64,
    ) -> Result<Self> {
        let step = most / CELLS as f64;
        let ages: Vec<f64> = (1..=CELLS).map(|i| (i as f64 * step).min(planned)).collect();
        curve.remember(&ages.iter().copied().filter(|a| *a < until).collect::<Vec<_>>())?;
        let whole = curve.up_to(until.next_down())?;
        let mut one = Vec::with_capacity(ages.len());
        for &age in &ages {
            let upto = if age < until { &curve.up_to(age)? } else { &whole };
            let claims = covered.iter().zip(&upto.incidence).map(|(c, f)| c * f).sum();
            one.push(Means { claims, money: upto.money_back.iter().sum() });
        }
        // Lamps that fail in each cell before the planned age, and those that reach it.
        let alive = |age: f64| curve.ln_reliability(age).exp();
        let mut failing = Vec::with_capacity(CELLS);
        let mut before = 1.0;
        for &age in &ages {
            let left = alive(age);
            failing.push(before - left);
            before = left;
        }
        let reach = alive(planned);
        let mut found = Self { step, planned, means: vec![Means::default()] };
        for (i, of_one) in one.iter().enumerate() {
            let mut sum = *of_one;
            for (k, share) in failing.iter().take(i + 1).enumerate().filter(|(_, share)| **share > 0.0) {
                let (near, far) = (found.means.get(i + 1 - k), found.means.get(i - k));
                sum.add(0.5 * share, near.copied().unwrap_or_default());
                sum.add(0.5 * share, far.copied().unwrap_or_default());
            }
            // What is asked for stands on the right too: a lamp that fails in the very first cell.
            let mut own = 0.5 * failing.first().copied().unwrap_or(0.0);
            let rest = (i + 1) as f64 * step - planned;
            if rest >= 0.0 {
                let (low, share) = found.place(rest);
                sum.add(reach * (1.0 - share), found.means.get(low).copied().unwrap_or_default());
                match found.means.get(low + 1) {
                    Some(high) => sum.add(reach * share, *high),
                    None => own += reach * share,
                }
            }
            found.means.push(Means { claims: sum.claims / (1.0 - own), money: sum.money / (1.0 - own) });
        }
        Ok(found)
    }

    /// The cell that so many hours lie in, and how far.
    fn place(&self, hours: f64) -> (usize, f64) {
        let at = (hours / self.step).max(0.0);
        let low = (at.floor() as usize).min(CELLS);
        (low, at - low as f64)
    }

    /// The means in so many hours.
    fn within(&self, hours: f64) -> Means {
        let (low, share) = self.place(hours);
        let mut sum = Means::default();
        sum.add(1.0 - share, self.means.get(low).copied().unwrap_or_default());
        sum.add(share, self.means.get(low + 1).copied().unwrap_or_default());
        sum
    }

    /// The means of what comes after the lamp that burns today: none for one that is changed at once.
    pub(super) fn after(&self, curve: &WorldCurve<'_>, age: Option<f64>, hours: f64) -> Means {
        let Some(age) = age.filter(|a| *a < self.planned) else { return self.within(hours) };
        let reached = curve.ln_reliability(age);
        if reached == f64::NEG_INFINITY {
            return self.within(hours);
        }
        let end = hours.min(self.planned - age);
        let alive = |s: f64| (curve.ln_reliability(age + s) - reached).exp();
        let mut sum = Means::default();
        let (mut left, mut then) = (1.0, self.within(hours));
        for k in 1..=FIRST_CELLS {
            let s = end * k as f64 / FIRST_CELLS as f64;
            let (left_now, then_now) = (alive(s), self.within(hours - s));
            sum.add(0.5 * (left - left_now), then);
            sum.add(0.5 * (left - left_now), then_now);
            (left, then) = (left_now, then_now);
        }
        if end < hours {
            sum.add(left, then);
        }
        sum
    }
}
