//! The curve without a family where lamps are taken out because they look about to fail, under a stated dependence.

use serde::{Deserialize, Serialize};

use super::curve::CurveOptions;
use super::steps::prepare;
use super::suspects::suspect_lamps;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::special::ln_one_minus_exp_neg;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::{Reading, Tally};
use crate::records::Ending;

const FORMAT: Format = Format::new("dependent_curve", 1);

/// Which endings are suspect removals, and how rows are read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RemovalOptions {
    /// Endings of lamps that were taken out because they looked about to fail.
    pub suspects: Vec<Ending>,
    /// Endings that count as failure; none: every failure but the suspects.
    pub endings: Option<Vec<Ending>>,
    /// The age that stands for a failure known to an interval; without it such rows are refused.
    pub reading: Option<Reading>,
}

/// What a row says once some removals are suspect.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Seen {
    /// Failed at its age.
    Failed,
    /// Taken out at its age because it looked about to fail.
    Removed,
    /// At work at its age; what ended the watch has nothing to do with the life.
    Passed,
}

/// A row of a tally, read.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Event {
    pub(crate) row: usize,
    pub(crate) age: f64,
    pub(crate) entry: f64,
    pub(crate) seen: Seen,
    pub(crate) count: u64,
}

/// Rows in order of age; at one age failures come first, then removals.
#[derive(Clone, Debug)]
pub(crate) struct Events {
    pub(crate) tally: Tally,
    pub(crate) each: Vec<Event>,
    pub(crate) suspect_lamps: u64,
    late: Vec<(f64, usize)>,
}

impl Events {
    pub(crate) fn new(tally: &Tally, options: &RemovalOptions) -> Result<Self> {
        let suspect_lamps = suspect_lamps(tally, &options.suspects)?;
        if let Some(both) = options.endings.iter().flatten().find(|e| options.suspects.contains(e)) {
            let problem = Problem::new("empirical.suspects", "an ending cannot be a failure and a suspect removal")
                .at(Place::input("suspects"))
                .got(both)
                .expected("endings that are not among those that count as failure");
            return Err(Error::new(Kind::Input, problem));
        }
        let read = CurveOptions { reading: options.reading, ..CurveOptions::default() };
        let tally = prepare(tally, &read)?.into_owned();
        let entry = |i: usize| tally.entry().map_or(0.0, |e| e[i]);
        let fails = |e: Ending| options.endings.as_ref().is_none_or(|set| set.contains(&e));
        let mut each = Vec::with_capacity(tally.rows());
        for i in 0..tally.rows() {
            let (age, high, count) = (tally.low()[i], tally.high()[i], tally.count()[i]);
            let ending = Ending::from_code(tally.ending()[i]).unwrap_or(Ending::Unknown);
            let seen = if options.suspects.contains(&ending) {
                Seen::Removed
            } else if high == age && fails(ending) {
                Seen::Failed
            } else {
                Seen::Passed
            };
            // A lamp that left at the age of its entry was never watched.
            if count > 0 && (age > entry(i) || seen == Seen::Failed) {
                each.push(Event { row: i, age, entry: entry(i), seen, count });
            }
        }
        each.sort_by(|a, b| a.age.total_cmp(&b.age).then(a.seen.cmp(&b.seen)).then(a.row.cmp(&b.row)));
        let mut late: Vec<(f64, usize)> =
            each.iter().enumerate().filter(|(_, e)| e.entry > 0.0).map(|(k, e)| (e.entry, k)).collect();
        late.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        Ok(Self { tally, each, suspect_lamps, late })
    }
}

/// The power of the copula that belongs to a dependence: 1 / (1 - tau).
pub(crate) fn copula_power(tau: f64) -> Result<f64> {
    if (0.0..1.0).contains(&tau) {
        return Ok(1.0 / (1.0 - tau));
    }
    let problem = Problem::new("empirical.tau", "not a dependence of removal on failure")
        .at(Place::input("tau"))
        .got(tau)
        .expected("Kendall's tau, from 0 to below 1");
    Err(Error::new(Kind::Domain, problem))
}

/// Cumulative hazards of failure and of removal along the ages, by the copula-graphic estimate.
#[derive(Clone, Debug)]
struct Path {
    power: f64,
    together: f64,
    /// ln of the sums of the powers, which are the hazards themselves for power 1.
    ln_failed: f64,
    ln_removed: f64,
    failed: f64,
    removed: f64,
}

impl Path {
    fn new(power: f64) -> Self {
        let none = f64::NEG_INFINITY;
        Self { power, together: 0.0, ln_failed: none, ln_removed: none, failed: 0.0, removed: 0.0 }
    }

    /// One step of the hazard of both together, which belongs to failures or to removals.
    fn step(&mut self, hazard: f64, failure: bool) {
        let before = self.together;
        self.together += hazard;
        let (sum, ln_sum) =
            if failure { (&mut self.failed, &mut self.ln_failed) } else { (&mut self.removed, &mut self.ln_removed) };
        if self.power == 1.0 {
            *sum += hazard;
            return;
        }
        if self.together == f64::INFINITY {
            (*sum, *ln_sum) = (f64::INFINITY, f64::INFINITY);
            return;
        }
        let apart = self.power * (self.together.ln() - before.ln());
        let rise = self.power * self.together.ln() + ln_one_minus_exp_neg(apart);
        *ln_sum = ln_add(*ln_sum, rise);
        *sum = (*ln_sum / self.power).exp();
    }
}

/// ln(exp(a) + exp(b)).
fn ln_add(a: f64, b: f64) -> f64 {
    let (most, least) = if a > b { (a, b) } else { (b, a) };
    if most == f64::NEG_INFINITY { most } else { most + (least - most).exp().ln_1p() }
}

/// What is at risk and lost at an age.
#[derive(Clone, Copy, Debug, Default)]
struct Step {
    age: f64,
    at_risk: u64,
    failures: u64,
    removals: u64,
    /// Hazards after the step.
    failed: f64,
    removed: f64,
}

/// -ln of the share left when `gone` of `before` leave.
fn hazard(before: f64, gone: f64, left: u64) -> f64 {
    if left == 0 { f64::INFINITY } else { -((before - gone).max(f64::MIN_POSITIVE) / before).ln() }
}

/// Walks along the ages; `weight` of a row. Tells `each` of every event with the hazard of removal that goes with it: just
/// before a failure, in the middle of its step for a removal, after the steps of that age for the rest.
fn walk(
    events: &Events,
    power: f64,
    weight: &dyn Fn(usize) -> f64,
    each: &mut dyn FnMut(usize, f64),
) -> Result<Vec<Step>> {
    let mut path = Path::new(power);
    let mut steps = Vec::new();
    let late: f64 = events.late.iter().map(|(_, k)| weight(events.each[*k].row)).fold(0.0, |a, b| a + b);
    let late_count: u64 = events.late.iter().map(|(_, k)| events.each[*k].count).sum();
    let mut entered = events.each.iter().map(|e| weight(e.row)).fold(0.0, |a, b| a + b) - late;
    let mut count = events.each.iter().map(|e| e.count).sum::<u64>() - late_count;
    let mut waiting = events.late.iter().peekable();
    let mut k = 0;
    while let Some(first) = events.each.get(k) {
        let age = first.age;
        while let Some((_, place)) = waiting.next_if(|(entry, _)| *entry < age) {
            entered += weight(events.each[*place].row);
            count += events.each[*place].count;
        }
        let here = events.each[k..].partition_point(|e| e.age == age);
        let same = &events.each[k..k + here];
        let mut step = Step { age, at_risk: count, ..Step::default() };
        let of = |seen: Seen| {
            let rows = same.iter().filter(|e| e.seen == seen);
            rows.fold((0.0, 0), |(w, n), e| (w + weight(e.row), n + e.count))
        };
        let ((failed, failures), (removed, removals), (passed, passes)) =
            (of(Seen::Failed), of(Seen::Removed), of(Seen::Passed));
        let before = path.removed;
        for (gone, lamps, failure) in [(failed, failures, true), (removed, removals, false)] {
            if lamps > 0 {
                count -= lamps;
                path.step(hazard(entered, gone, count), failure);
                entered -= gone;
            }
        }
        let middle = -(0.5 * ((-before).exp() + (-path.removed).exp())).ln();
        for (j, event) in same.iter().enumerate() {
            let at = match event.seen {
                Seen::Failed => before,
                Seen::Removed => middle,
                Seen::Passed => path.removed,
            };
            each(k + j, at);
        }
        entered -= passed;
        count -= passes;
        k += here;
        if failures + removals > 0 {
            (step.failures, step.removals) = (failures, removals);
            (step.failed, step.removed) = (path.failed, path.removed);
            steps.push(step);
            if path.together == f64::INFINITY && k < events.each.len() {
                let problem =
                    Problem::new("empirical.risk_set_emptied", "every lamp at risk had gone before others came")
                        .at(Place::input("tally").column("entry"))
                        .got(format!("no lamp left after {age} h"))
                        .expected("lamps at risk at every age to the last");
                let hint = "with few early lamps, leave out those that left before most had entered";
                return Err(Error::new(Kind::Refused, problem).with_hint(hint));
            }
        }
    }
    Ok(steps)
}

/// Cumulative hazard of removal for each event and at its entry, under weights one a row of [`Events::tally`].
pub(crate) fn walk_removals(events: &Events, power: f64, weights: &[f64]) -> Result<Vec<(f64, f64)>> {
    let mut out = vec![(0.0, 0.0); events.each.len()];
    let weight = |row: usize| weights.get(row).copied().unwrap_or(0.0);
    let steps = walk(events, power, &weight, &mut |k, at| out[k].0 = at)?;
    for (entry, k) in &events.late {
        let last = steps.partition_point(|s| s.age <= *entry).checked_sub(1);
        out[*k].1 = last.map_or(0.0, |i| steps[i].removed);
    }
    Ok(out)
}

/// Reliability as a step function of age if no lamp were taken out because it looks about to fail, under a stated dependence
/// of such removals on the age at failure; made by [`dependent_curve`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DependentCurve {
    /// Kendall's tau between the age at failure and the age at suspect removal.
    pub tau: f64,
    /// The endings named as suspect.
    pub suspects: Vec<Ending>,
    /// Lamps that ended so.
    pub suspect_lamps: u64,
    /// All lamps.
    pub lamps: u64,
    /// Ages of failures and suspect removals, ascending, `(steps,)`, hours.
    pub ages: Vec<f64>,
    /// Lamps at risk at each step, `(steps,)`.
    pub at_risk: Vec<u64>,
    /// Failures at each step, `(steps,)`.
    pub failures: Vec<u64>,
    /// Suspect removals at each step, `(steps,)`.
    pub removals: Vec<u64>,
    /// Probability to pass each age if no lamp were so taken out, `(steps,)`.
    pub reliability: Vec<f64>,
    /// Probability not to be so taken out by each age if no lamp failed, `(steps,)`.
    pub not_removed: Vec<f64>,
    /// Largest age at which a lamp was under observation, hours.
    pub last_age: f64,
}

impl Sound for DependentCurve {
    fn check(&self, c: &mut Checks) {
        let Ok(power) = copula_power(self.tau) else {
            return c.need("tau", false, self.tau, "from 0 to below 1");
        };
        c.once("suspects", self.suspects.iter().copied());
        c.need("suspect_lamps", self.suspect_lamps <= self.lamps, self.suspect_lamps, "at most the lamps");
        let steps = self.ages.len();
        c.rising("ages", &self.ages, false);
        for (field, entries) in [
            ("at_risk", self.at_risk.len()),
            ("failures", self.failures.len()),
            ("removals", self.removals.len()),
            ("reliability", self.reliability.len()),
            ("not_removed", self.not_removed.len()),
        ] {
            c.entries(field, entries, steps);
        }
        c.ends("last_age", self.ages.last().copied(), self.last_age);
        c.column("reliability", &self.reliability, Checks::share);
        c.column("not_removed", &self.not_removed, Checks::share);
        let mut path = Path::new(power);
        for (i, &n) in self.at_risk.iter().enumerate() {
            let of = |column: &[u64]| column.get(i).copied().unwrap_or(0);
            let mut left = n;
            for (gone, failure) in [(of(&self.failures), true), (of(&self.removals), false)] {
                let Some(after) = left.checked_sub(gone) else {
                    return c.need(&format!("at_risk[{i}]"), false, n, "at least those that leave");
                };
                if gone > 0 {
                    path.step(hazard(left as f64, gone as f64, after), failure);
                }
                left = after;
            }
            for (field, column, made) in
                [("reliability", &self.reliability, path.failed), ("not_removed", &self.not_removed, path.removed)]
            {
                if let Some(got) = column.get(i) {
                    c.equal(&format!("{field}[{i}]"), *got, (-made).exp());
                }
            }
        }
    }
}

/// Estimates the reliability without a family when lamps are taken out because they look about to fail, under a stated
/// dependence: the copula-graphic estimate.
///
/// Age at failure T and age at suspect removal C of a lamp are joined by the Gumbel-Hougaard copula of their reliabilities.
/// How strongly cannot be learnt from records in which each lamp shows only the earlier of the two: `tau` is the caller's.
/// At 0 the removals are independent and the curve is that of [`product_limit`](super::product_limit). Other rows that did
/// not fail are independent of both.
///
/// # Formula
/// ```text
/// P(T > t, C > c) = exp(-[H_T(t)^q + H_C(c)^q]^(1/q)),   q = 1 / (1 - tau)
/// H_T(t)^q = sum over failure ages a <= t of H(a)^q - H(a-)^q,  H_C the same over removal ages
/// H = -ln of the product-limit curve of failures and removals together;  R(t) = exp(-H_T(t))
/// ```
/// This copula and no other, because then a lamp pulled at a stated share of its life is as strongly tied early as late: if
/// failures and removals keep one ratio at all ages, every tau only multiplies the cumulative hazard by a factor.
///
/// # Errors
/// `empirical.tau` unless 0 <= tau < 1; `empirical.suspects`; `empirical.risk_set_emptied` with late entry;
/// `empirical.interval_rows`, `empirical.upper`, `empirical.no_lamps` as [`product_limit`](super::product_limit).
///
/// # Source
/// M. Zheng and J. P. Klein (1995), Estimates of marginal survival for dependent competing risks based on an assumed
/// copula, Biometrika 82, 127-138; its closed form for such copulas: L.-P. Rivest and M. T. Wells (2001), Journal of
/// Multivariate Analysis 79, 138-155. Copula: E. J. Gumbel (1960); P. Hougaard (1986). All from memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{RemovalOptions, dependent_curve};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let rows = Rows {
///     low: vec![100.0, 200.0, 300.0],
///     high: vec![f64::INFINITY, 200.0, f64::INFINITY],
///     ending: Some(vec![Ending::Dim, Ending::Burst, Ending::Running]),
///     count: Some(vec![5, 1, 4]),
///     ..Rows::default()
/// };
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let options = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
/// // Independent: 1 of 5 left fails. Tied: H goes from ln 2 to ln 2.5, so H_T = sqrt(ln 2.5^2 - ln 2^2).
/// assert!((dependent_curve(&tally, 0.0, &options)?.reliability[1] - 0.8).abs() < 1e-12);
/// let tied = (-(2.5f64.ln().powi(2) - 2f64.ln().powi(2)).sqrt()).exp();
/// assert!((dependent_curve(&tally, 0.5, &options)?.reliability[1] - tied).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn dependent_curve(tally: &Tally, tau: f64, options: &RemovalOptions) -> Result<DependentCurve> {
    let power = copula_power(tau)?;
    let events = Events::new(tally, options)?;
    let count = |row: usize| events.tally.count()[row] as f64;
    let steps = walk(&events, power, &count, &mut |_, _| {})?;
    Ok(DependentCurve {
        tau,
        suspects: options.suspects.clone(),
        suspect_lamps: events.suspect_lamps,
        lamps: tally.lamps(),
        ages: steps.iter().map(|s| s.age).collect(),
        at_risk: steps.iter().map(|s| s.at_risk).collect(),
        failures: steps.iter().map(|s| s.failures).collect(),
        removals: steps.iter().map(|s| s.removals).collect(),
        reliability: steps.iter().map(|s| (-s.failed).exp()).collect(),
        not_removed: steps.iter().map(|s| (-s.removed).exp()).collect(),
        last_age: events.each.last().map_or(0.0, |e| e.age),
    })
}

impl DependentCurve {
    /// Probability to pass the age; none past [`DependentCurve::last_age`] unless the curve has dropped to 0.
    pub fn reliability_at(&self, age: f64) -> Option<f64> {
        let known = age >= 0.0 && (age <= self.last_age || self.reliability.last() == Some(&0.0));
        let step = self.ages.partition_point(|a| *a <= age).checked_sub(1);
        known.then(|| step.and_then(|i| self.reliability.get(i).copied()).unwrap_or(1.0))
    }

    /// What the curve stands for, in one sentence.
    pub fn sentence(&self) -> String {
        let removed = counted(self.suspect_lamps, "lamp");
        let tied = if self.tau == 0.0 {
            "as if their removal said nothing of their life".to_owned()
        } else {
            format!("tied to their life by a dependence of {} (Kendall's tau), which is assumed", self.tau)
        };
        format!("the curve if no lamp were taken out early: {removed} of {} were, {tied}", self.lamps)
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A curve from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
