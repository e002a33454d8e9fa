//! Generalised gamma lives within their windows: every peak of the likelihood of records that show failures only, and the
//! limits in which it has none.
//!
//! ```text
//! f(t) / F(upper) goes like exp(m L - q h(L)) / t,  L = ln(t / reference),  h(L) = (e^(power L) - 1 - power L) / power^2
//! power = shape / scale,  q >= 0,  e = q + power m >= 0
//! ```
//! For each power the likelihood has one peak over (m, q), however it lies; powers run through 0, the lognormal life. At
//! q = 0 failures within a window follow a power of age, where the location has grown without bound. At e = 0 the shape has
//! fallen below 0 without bound: a life with such a density fails so late that nothing is left of it outside the windows.

use super::newton::{Point, Surface, climb};
use super::sample::{Evidence, Sample};
use super::window_area::{Course, bend};
use crate::base::error::Result;
use crate::base::math::linalg::packed;
use crate::base::math::sum;
use crate::base::run::Run;
use crate::family::Order;

/// Powers at which the peak is looked for; between neighbours of one that stands out it is narrowed down.
const POWERS: [f64; 33] = [
    -16.0, -12.0, -9.0, -7.0, -5.0, -4.0, -3.0, -2.0, -1.5, -1.0, -0.7, -0.4, -0.2, -0.1, 0.0, 0.1, 0.2, 0.5, 1.0, 1.5,
    2.0, 3.0, 4.0, 6.0, 9.0, 12.0, 18.0, 27.0, 40.0, 60.0, 100.0, 160.0, 300.0,
];
/// Narrowings around a power that stands out.
const NARROWINGS: usize = 30;
/// Rise of one power over the next that is more than rounding.
const RISE: f64 = 1e-9;
/// Share of its likely size below which q or e stands on its floor.
const ON_FLOOR: f64 = 1e-9;

/// Where the likelihood within the windows goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum WindowLimit {
    /// The share by an age is (age / upper)^power.
    PowerOfAge(f64),
    /// The density goes like exp(-(age / hours)^-power) / age.
    EverLater { power: f64, hours: f64 },
}

/// A limit and how high the likelihood rises towards it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reached {
    pub(super) limit: WindowLimit,
    pub(super) log_likelihood: f64,
}

/// What there is.
#[derive(Debug, Default)]
pub(super) struct Within {
    /// Coordinates of the generalised gamma family (location, ln scale, shape) at each peak.
    pub(super) peaks: Vec<Vec<f64>>,
    /// The highest limit.
    pub(super) limit: Option<Reached>,
}

/// What the records say over L: ends of stretches with their weights, those of windows below 0.
struct Records {
    reference: f64,
    exact: Vec<(f64, f64)>,
    stretches: Vec<(f64, f64, f64)>,
    /// Sum of L of exact failures, and what the density per hour adds.
    line: f64,
    constant: f64,
}

impl Records {
    fn new(sample: &Sample) -> Self {
        let rows = || (0..sample.tally.rows()).filter(|i| sample.weights[*i] > 0.0 && sample.informs(*i));
        let reference = rows().map(|i| sample.row(i).upper).fold(0.0, f64::max);
        let place = |age: f64| (age / reference).ln();
        let mut out = Self { reference, exact: Vec::new(), stretches: Vec::new(), line: 0.0, constant: 0.0 };
        for i in rows() {
            let (w, row) = (sample.weights[i], sample.row(i));
            match row.evidence {
                Evidence::Exact(age) => {
                    out.exact.push((place(age), w));
                    out.line += w * place(age);
                    out.constant -= w * age.ln();
                }
                Evidence::Between(low, high) => out.stretches.push((place(low), place(high.min(row.upper)), w)),
                Evidence::Passed(age) => out.stretches.push((place(age), place(row.upper), w)),
            }
            if sample.windows.as_ref().is_none_or(|shared| shared.of(i).is_none()) {
                out.stretches.push((place(row.entry), place(row.upper), -w));
            }
        }
        if let Some(shared) = &sample.windows {
            let weights = shared.weights(&sample.weights);
            let each = shared.each.iter().zip(weights).filter(|(_, w)| *w > 0.0);
            out.stretches.extend(each.map(|((entry, upper), w)| (place(*entry), place(*upper), -w)));
        }
        out
    }
}

/// The likelihood at one power, over (e, q) with both at 0 or above; over (m, q) where the power is 0.
struct AtPower<'r> {
    records: &'r Records,
    power: f64,
    /// Sum of h over the exact failures.
    bent: f64,
}

impl<'r> AtPower<'r> {
    fn new(records: &'r Records, power: f64) -> Self {
        let bent = sum::sum(&records.exact.iter().map(|(l, w)| w * bend(power, *l)).collect::<Vec<f64>>());
        Self { records, power, bent }
    }

    fn course(&self, x: &[f64]) -> Course {
        let [first, q] = [0, 1].map(|i| x.get(i).copied().unwrap_or(f64::NAN));
        let m = if self.power == 0.0 { first } else { (first - q) / self.power };
        Course { m, q, power: self.power }
    }
}

impl Surface for AtPower<'_> {
    fn width(&self) -> usize {
        2
    }

    fn at(&self, x: &[f64], _order: Order, out: &mut Point) -> Result<()> {
        let (course, records) = (self.course(x), self.records);
        let [value, gm, gq, mm, mq, qq] = sum::blocks(records.stretches.len(), |which| {
            let mut s = [0.0; 6];
            for (low, high, w) in &records.stretches[which] {
                let area = course.area(*low, *high);
                s[0] += w * area.ln;
                s[1] += w * area.mean[0];
                s[2] -= w * area.mean[1];
                s[3] += w * area.spread[0];
                s[4] -= w * area.spread[1];
                s[5] += w * area.spread[2];
            }
            s
        });
        out.value = records.constant + course.m * records.line - course.q * self.bent + value;
        let (gm, gq) = (gm + records.line, gq - self.bent);
        // m = (e - q) / power.
        let (slope, turned) = if self.power == 0.0 { (1.0, 0.0) } else { (1.0 / self.power, -1.0 / self.power) };
        out.gradient.copy_from_slice(&[slope * gm, gq + turned * gm]);
        out.hessian[packed(0, 0)] = slope * slope * mm;
        out.hessian[packed(1, 0)] = slope * (turned * mm + mq);
        out.hessian[packed(1, 1)] = turned * turned * mm + 2.0 * turned * mq + qq;
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        let young = self.records.stretches.iter().any(|s| s.0 == f64::NEG_INFINITY);
        x.iter().all(|c| c.is_finite()) && (!young || self.course(x).starts())
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        x.get(i).map_or(1.0, |c| c.abs().max(1.0))
    }

    fn floor(&self, i: usize) -> f64 {
        if i == 0 && self.power == 0.0 { f64::NEG_INFINITY } else { 0.0 }
    }
}

/// The peak at one power.
#[derive(Clone, Debug)]
struct Found {
    power: f64,
    value: f64,
    x: Vec<f64>,
}

struct Profile<'r> {
    records: &'r Records,
    iterations: u64,
    run: &'r Run,
}

impl Profile<'_> {
    /// The peak at a power, from the one at another.
    fn at(&self, power: f64, from: Option<&Found>) -> Result<Option<Found>> {
        let surface = AtPower::new(self.records, power);
        // About a power of age to begin with.
        let weight: f64 = self.records.exact.iter().map(|e| e.1).sum();
        let m = if weight > 0.0 { (-weight / self.records.line).clamp(0.1, 50.0) } else { 1.0 };
        let (q, e) = if power < 0.0 { (1.0 - 2.0 * power * m, 1.0 - power * m) } else { (1.0, 1.0 + power * m) };
        let fresh = if power == 0.0 { vec![m, 1.0] } else { vec![e, q] };
        let near = from.map(|f| {
            let there = AtPower::new(self.records, f.power).course(&f.x);
            let (q, e) = (there.q.max(1e-3), (there.q + power * there.m).max(1e-3));
            if power == 0.0 { vec![there.m, q] } else { vec![e, q] }
        });
        let mut best: Option<Found> = None;
        for start in near.into_iter().chain([fresh]) {
            let outcome = climb(&surface, &start, self.iterations, self.run)?;
            if outcome.point.value.is_finite() && best.as_ref().is_none_or(|b| outcome.point.value > b.value) {
                best = Some(Found { power, value: outcome.point.value, x: outcome.x.clone() });
            }
            if outcome.converged() {
                break;
            }
        }
        Ok(best)
    }

    /// The highest peak between two powers around one that stands out, by the golden section.
    fn narrowed(&self, [mut a, mut b]: [f64; 2], middle: &Found) -> Result<Found> {
        let share = 0.5 * (5.0_f64.sqrt() - 1.0);
        let mut best = middle.clone();
        let (mut c, mut d) = (b - share * (b - a), a + share * (b - a));
        let mut at = |power: f64| -> Result<f64> {
            let found = self.at(power, Some(&best))?;
            let value = found.as_ref().map_or(f64::NEG_INFINITY, |f| f.value);
            if let Some(found) = found.filter(|f| f.value > best.value) {
                best = found;
            }
            Ok(value)
        };
        let (mut at_c, mut at_d) = (at(c)?, at(d)?);
        for _ in 0..NARROWINGS {
            if at_c >= at_d {
                (b, d, at_d) = (d, c, at_c);
                c = b - share * (b - a);
                at_c = at(c)?;
            } else {
                (a, c, at_c) = (c, d, at_d);
                d = a + share * (b - a);
                at_d = at(d)?;
            }
        }
        Ok(best)
    }
}

/// Every peak, and the highest limit.
pub(super) fn within(sample: &Sample, iterations: u64, run: &Run) -> Result<Within> {
    let records = Records::new(sample);
    let profile = Profile { records: &records, iterations, run };
    let mut path: Vec<Found> = Vec::with_capacity(POWERS.len());
    // Outward from the lognormal life, where the course is plainest.
    let middle = POWERS.iter().position(|p| *p == 0.0).unwrap_or(0);
    for powers in [POWERS[middle..].to_vec(), POWERS[..middle].iter().rev().copied().collect()] {
        let mut from = path.first().cloned();
        for power in powers {
            if let Some(found) = profile.at(power, from.as_ref())? {
                from = Some(found.clone());
                path.push(found);
            }
        }
    }
    path.sort_by(|a, b| a.power.total_cmp(&b.power));
    let mut out = Within::default();
    for (k, here) in path.iter().enumerate() {
        let next = |k: Option<usize>| k.and_then(|k| path.get(k));
        let (before, after) = (next(k.checked_sub(1)), next(Some(k + 1)));
        let (Some(low), Some(high)) = (before, after) else { continue };
        // Powers that all stand on the same limit are one plateau: its first stands for it.
        if !(here.value > low.value + RISE && here.value >= high.value - RISE) {
            continue;
        }
        let best = profile.narrowed([low.power, high.power], here)?;
        match placed(&records, &best) {
            Ok(peak) => out.peaks.push(peak),
            Err(limit) => out.reach(limit, best.value),
        }
    }
    for found in path.iter().chain(path.first()) {
        if let Err(limit @ WindowLimit::PowerOfAge(_)) = placed(&records, found) {
            out.reach(limit, found.value);
        }
    }
    Ok(out)
}

impl Within {
    fn reach(&mut self, limit: WindowLimit, log_likelihood: f64) {
        if self.limit.is_none_or(|known| known.log_likelihood < log_likelihood) {
            self.limit = Some(Reached { limit, log_likelihood });
        }
    }
}

/// Coordinates of the family at a peak, or the limit that it stands in.
fn placed(records: &Records, found: &Found) -> std::result::Result<Vec<f64>, WindowLimit> {
    let power = found.power;
    let course = Course { power, ..AtPower::new(records, power).course(&found.x) };
    let Course { m, q, .. } = course;
    let e = found.x.first().copied().unwrap_or(f64::NAN);
    if q <= ON_FLOOR * (1.0 + m.abs()) {
        return Err(WindowLimit::PowerOfAge(m));
    }
    if power == 0.0 {
        return Ok(vec![records.reference.ln() + m / q, -0.5 * q.ln(), 0.0]);
    }
    if power < 0.0 && e <= ON_FLOOR * q {
        // q / power^2 (t / reference)^power is (t / hours)^power.
        let hours = records.reference * ((power * power / q).ln() / power).exp();
        return Err(WindowLimit::EverLater { power: -power, hours });
    }
    // a = e / power^2 is 1 / shape^2, and a exp(power (ln t - location)) = q / power^2 (t / reference)^power.
    let shape = power / e.sqrt();
    Ok(vec![records.reference.ln() + (e / q).ln() / power, (shape / power).ln(), shape])
}
