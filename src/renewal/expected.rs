//! The mean number of changes over time.

use serde::{Deserialize, Serialize};

use super::closed::Closed;
use super::powers;
use super::rule::{ChangeRule, check_hours};
use super::spread::{First, Lines, Spread, reached};
use super::steps::Steps;
use super::table::{Means, RESOLVED, Table, too_far};
use crate::base::error::{Error, Result};
use crate::base::saved::infinite;
use crate::base::sound::{Checks, Sound};
use crate::family::Life;

/// Relative error that is stated for means where every panel follows the life to rounding.
const STATED: f64 = 1e-11;
/// Chance of a failure below which a second one adds nothing.
const ONE_ONLY: f64 = 1e-17;
/// Mean lives that are followed change by change where a life has failure-free hours.
const FOLLOWED: f64 = 300.0;
/// Distance from the long-run line, relative, at which it takes over there.
const NEAR: f64 = 1e-11;

/// How a number was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Sums of known distributions: exponential and gamma lives without a planned age.
    ClosedForm,
    /// The renewal equation, solved panel by panel.
    Solved,
    /// The long-run line, after the solution came as near to it as rounding.
    LongRun,
    /// Sums over the steps of a life that fails at given ages only.
    Steps,
    /// The long-run line where no solution came near to it: its distance from the mean is bounded, not known.
    Bounded,
}

impl Way {
    /// As a plain word.
    pub fn word(self) -> &'static str {
        match self {
            Self::ClosedForm => "closed_form",
            Self::Solved => "solved",
            Self::LongRun => "long_run",
            Self::Steps => "steps",
            Self::Bounded => "bounded",
        }
    }
}

/// The straight line that the mean number of changes comes near to.
///
/// # Formula
/// ```text
/// t / mean + constant,   constant = (variance - mean^2) / (2 mean^2) + 1 - first / mean
/// ```
/// mean, variance: of the hours from a change to the next; first: mean hours to the first change, `mean` for a new lamp,
/// so that the last two terms leave.
///
/// # Source
/// D. R. Cox (1962), Renewal Theory, sections 4.2 and 4.4 (from memory).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LongRunLine {
    /// Changes for each hour: 1 / mean.
    pub changes_per_hour: f64,
    /// Where the line stands at 0 hours.
    pub constant: f64,
}

/// Mean changes of one screen by given times; made by [`expected_changes`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExpectedChanges {
    /// How lamps are changed.
    pub rule: ChangeRule,
    /// Burning hours from the start, `(n,)`, as given.
    pub hours: Vec<f64>,
    /// Mean planned changes by each, `(n,)`; changes at that very hour count.
    pub planned: Vec<f64>,
    /// Mean failure changes by each, `(n,)`.
    pub failures: Vec<f64>,
    /// Variance of the number of changes of both kinds by each, `(n,)`.
    pub variance: Vec<f64>,
    /// How each was found, `(n,)`.
    pub way: Vec<Way>,
    /// Bounds of the mean number of changes of both kinds by each, `(n,)`, there where it is [`Way::Bounded`]; the variance there
    /// is that of the long run, without a bound. Empty where none is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bounds: Vec<Option<(f64, f64)>>,
    /// Mean hours from a change to the next; infinite where lamps may never need one.
    #[serde(with = "infinite")]
    pub mean_hours: f64,
    /// The long-run line; none where the life has no finite mean or variance.
    pub line: Option<LongRunLine>,
    /// What a mean number may be wrong by, relative to it. Where the hazard of the life has corners that no grid
    /// meets, the difference of two grids.
    pub relative_error: f64,
}

impl ExpectedChanges {
    /// Mean changes of both kinds by each time, `(n,)`.
    pub fn changes(&self) -> Vec<f64> {
        self.planned.iter().zip(&self.failures).map(|(p, f)| p + f).collect()
    }
}

impl Sound for ExpectedChanges {
    fn check(&self, c: &mut Checks) {
        let n = self.hours.len();
        c.need("hours", n > 0, n, "at least one");
        for (field, got) in [
            ("planned", self.planned.len()),
            ("failures", self.failures.len()),
            ("variance", self.variance.len()),
            ("way", self.way.len()),
        ] {
            c.entries(field, got, n);
        }
        c.part("rule", &self.rule);
        c.column("hours", &self.hours, Checks::positive);
        for (field, column) in [("planned", &self.planned), ("failures", &self.failures), ("variance", &self.variance)]
        {
            c.column(field, column, Checks::not_negative);
        }
        if self.rule.planned_age_hours.is_none() {
            c.column("planned", &self.planned, |c, f, x| c.equal(f, x, 0.0));
        }
        c.need("mean_hours", self.mean_hours > 0.0, self.mean_hours, "above 0");
        if let Some(line) = &self.line {
            let rate = if self.mean_hours.is_finite() { 1.0 / self.mean_hours } else { 0.0 };
            c.near("line.changes_per_hour", line.changes_per_hour, rate, rate);
            c.need("line.constant", line.constant.is_finite(), line.constant, "a number");
        }
        c.share("relative_error", self.relative_error);
        let some = self.way.contains(&Way::Bounded);
        c.entries("bounds", self.bounds.len(), if some { n } else { 0 });
        for (i, ((bounds, way), all)) in self.bounds.iter().zip(&self.way).zip(self.changes()).enumerate() {
            let field = format!("bounds[{i}]");
            c.there(&field, bounds.is_some(), *way == Way::Bounded, "there where a number is bounded");
            if let Some((low, high)) = bounds {
                c.need(&field, *low <= all && all <= *high, all, format!("{low} to {high}"));
            }
        }
    }
}

impl Sound for ChangeRule {
    fn check(&self, c: &mut Checks) {
        c.positive("planned_age_hours", self.planned_age_hours);
        c.not_negative("first_age_hours", self.first_age_hours);
    }
}

/// Mean number of planned and failure changes of one screen by given burning hours, and its variance.
///
/// # Formula
/// ```text
/// M(t) = F(t) + integral of M(t - s) dF(s) over (0, t)
/// ```
/// F: distribution of the hours from a change to the next: the life of a lamp, cut at the planned age, where the share
/// that reaches it changes at once. Planned changes by t are R(T) (1 + M(t - T)); the mean of N (N - 1) solves the same
/// equation with 2 (M - F) in front, and gives the variance. With a first lamp of age a, M is mixed over its end,
/// `F_a(s) = (F(a + s) - F(a)) / R(a)`.
///
/// # Errors
/// `renewal.hours`, one problem for each time that is not above 0 and finite; `renewal.planned_age`,
/// `renewal.first_age` outside their ranges, or a first lamp of an age that none reaches; `renewal.below_zero` for a
/// life with failures before age 0; `renewal.jumps` for one that fails by jumps and between them; `renewal.steps` where
/// the ages of a step curve have too small a common measure; `renewal.too_far` and `renewal.too_many_changes` where the
/// hours lie beyond what can be solved, the changes have not settled to their long-run line, and no line bounds them, as where
/// the life has no finite variance.
///
/// # Numerics
/// The time axis is cut into equal panels with polynomials of degree 15; panels at whose start lamps are new use a power
/// of the time, which the life sets, so that a density that is infinite at age 0 costs no digits. The panels are halved
/// until they follow the failure probability to rounding; where a long tail would need very many, wide panels are tried first, and
/// a mesh of half their width has to agree. Work grows with the hours times the longest life. Once the
/// solution has stayed within 1e-12 of the long-run line for as long as all but 1e-13 of the lives last, the line takes
/// over: from there every value is a mean of earlier ones, so that it cannot leave again. Lives with failure-free hours are
/// followed change by change. The variance is a difference: it loses the digits that the square of the mean takes.
///
/// Hours beyond all that are answered by the line with a bound ([`Way::Bounded`]): with X the hours from a change to the next, f
/// those to the first and M the mean number, `M E[X] = t - E[f] + E[rest]`, where the hours from t to the next change have a mean
/// of 0 or more and at most `E[X^2] / E[X]`, and at most `E[f]` more before the first change.
///
/// # Source
/// D. R. Cox (1962), Renewal Theory, chapters 4 and 5 (from memory). The bound: G. Lorden (1970), On excess over the boundary,
/// Annals of Mathematical Statistics 41, 520-527 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Exponential, Weibull};
/// use relamp::renewal::{ChangeRule, expected_changes};
/// // A constant hazard: changes after failure come at a steady rate, whatever is planned.
/// let steady = expected_changes(&Exponential { scale: 500.0 }, &ChangeRule::at_age(400.0), &[1000.0])?;
/// assert!((steady.failures[0] - 2.0).abs() < 1e-12);
/// // An old first lamp brings changes sooner.
/// let wear = Weibull { shape: 3.0, scale: 1000.0 };
/// let new = expected_changes(&wear, &ChangeRule::at_age(800.0), &[2400.0])?;
/// let old = expected_changes(&wear, &ChangeRule::at_age(800.0).first_aged(600.0), &[2400.0])?;
/// assert!(old.changes()[0] > new.changes()[0]);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn expected_changes(life: &dyn Life, rule: &ChangeRule, hours: &[f64]) -> Result<ExpectedChanges> {
    rule.check()?;
    check_hours(hours)?;
    if let Some(steps) = Steps::of(life, rule)? {
        let means = steps.means(hours)?;
        let plan = rule.planned_age_hours;
        let mean_hours = life.mean_to(plan.unwrap_or(f64::INFINITY))?;
        // A sum over steps stays a staircase: it has no line.
        return Ok(assemble(rule, hours, &means, vec![Way::Steps; hours.len()], (mean_hours, None), STATED));
    }
    let spread = Spread::new(life, rule)?;
    let lines = spread.lines()?;
    let mean_hours = match &lines {
        Some(lines) => lines.mean_hours,
        None => life.mean_to(rule.planned_age_hours.unwrap_or(f64::INFINITY))?,
    };
    let line = lines.map(|l| with_first(&l, life, rule)).transpose()?;
    let closed =
        Closed::of(life).filter(|c| rule.planned_age_hours.is_none() && (rule.first_age_hours == 0.0 || c.ageless()));
    let (means, way, error) = match closed.filter(|c| hours.iter().all(|t| c.reaches(*t))) {
        Some(c) => (hours.iter().map(|t| c.means(*t)).collect(), vec![Way::ClosedForm; hours.len()], STATED),
        None => match numeric(&spread, rule, hours, lines.as_ref()) {
            Err(error) if beyond(&error) => {
                return past_solution(&spread, rule, hours, (lines, line), mean_hours, error);
            }
            found => found?,
        },
    };
    Ok(assemble(rule, hours, &means, way, (mean_hours, line), error))
}

/// Whether hours lie beyond what can be solved.
fn beyond(error: &Error) -> bool {
    ["renewal.too_far", "renewal.too_many_changes"].contains(&error.slug())
}

/// What can be solved, solved; the later hours by the line with its bound.
fn past_solution(
    spread: &Spread,
    rule: &ChangeRule,
    hours: &[f64],
    (lines, line): (Option<Lines>, Option<LongRunLine>),
    mean_hours: f64,
    error: Error,
) -> Result<ExpectedChanges> {
    let (Some(lines), Some(line)) = (lines, line) else { return Err(error) };
    let Some((slope, constant)) = lines.variance.filter(|_| lines.per_hour > 0.0) else { return Err(error) };
    let mut order: Vec<f64> = hours.to_vec();
    order.sort_by(f64::total_cmp);
    order.dedup();
    // The largest of the hours that can be solved, by halving: a longer question is never easier.
    let (mut solvable, mut open) = (0, order.len() - 1);
    let mut known: Option<Found> = None;
    while solvable < open {
        let middle = solvable + (open - solvable).div_ceil(2);
        let asked = order.get(..middle).unwrap_or_default();
        match numeric(spread, rule, asked, Some(&lines)) {
            Err(error) if beyond(&error) => open = middle - 1,
            found => (solvable, known) = (middle, Some(found?)),
        }
    }
    let (means, ways, error) = known.unwrap_or((Vec::new(), Vec::new(), STATED));
    // (variance + mean^2) / mean^2 of the hours from a change to the next, from the constant of a new lamp.
    let rest = 2.0 * lines.constant + 2.0;
    // The line of a first lamp of some age stands below by what is left of it.
    let first = lines.constant + 1.0 - line.constant;
    let first = if rule.first_age_hours > 0.0 { first } else { 1.0 };
    let plan = rule.planned_age_hours;
    let (mut all, mut way, mut bounds, mut relative) = (Vec::new(), Vec::new(), Vec::new(), error);
    for t in hours {
        if let Some(i) = order.iter().take(means.len()).position(|x| x == t) {
            all.push(means.get(i).copied().unwrap_or_default());
            way.push(ways.get(i).copied().unwrap_or(Way::Solved));
            bounds.push(None);
            continue;
        }
        let steady = t * lines.per_hour;
        let low = (steady - first).max(0.0);
        let high = steady - first + rest + if rule.first_age_hours > 0.0 { first } else { 0.0 };
        let m = (steady + line.constant).clamp(low, high);
        // Planned changes keep their long-run share.
        let planned = if plan.is_some() { spread.reach_plan * m } else { 0.0 };
        let variance = slope * t + constant;
        all.push(Means { planned, failures: m - planned, second: variance - m + m * m });
        way.push(Way::Bounded);
        bounds.push(Some((low, high)));
        relative = relative.max((high - m).max(m - low) / m);
    }
    let found = assemble(rule, hours, &all, way, (mean_hours, Some(line)), relative.min(1.0));
    Ok(ExpectedChanges { bounds, ..found })
}

fn with_first(lines: &Lines, life: &dyn Life, rule: &ChangeRule) -> Result<LongRunLine> {
    let (age, plan) = (rule.first_age_hours, rule.planned_age_hours);
    let mut constant = lines.constant;
    if age > 0.0 && lines.per_hour > 0.0 {
        let first = match plan {
            Some(t) if t <= age => 0.0,
            Some(t) => (life.mean_to(t)? - life.mean_to(age)?) / life.reliability(age),
            None => life.mean_residual_life(age)?,
        };
        constant += 1.0 - first * lines.per_hour;
    } else if age > 0.0 {
        // Some lamps never fail: the first fails with what is left of the chance, and then all goes on as for a new one.
        constant = (1.0 - life.never_fails() / life.reliability(age)) * (1.0 + constant);
    }
    Ok(LongRunLine { changes_per_hour: lines.per_hour, constant })
}

type Found = (Vec<Means>, Vec<Way>, f64);

fn numeric(spread: &Spread, rule: &ChangeRule, hours: &[f64], lines: Option<&Lines>) -> Result<Found> {
    let run = |finer: u32| {
        if spread.free_hours > 0.0 {
            followed(spread, rule, hours, lines, finer)
        } else {
            solved(spread, rule, hours, finer)
        }
    };
    let (means, way, miss) = run(0)?;
    if miss <= 4.0 * RESOLVED {
        return Ok((means, way, STATED));
    }
    let (finer, way, _) = run(1)?;
    let all = |m: &Means| m.planned + m.failures;
    let apart = |(a, b): (&Means, &Means)| if all(b) > 0.0 { (all(a) / all(b) - 1.0).abs() } else { 0.0 };
    let error = means.iter().zip(&finer).map(apart).fold(STATED, f64::max);
    Ok((finer, way, error.min(1.0)))
}

/// Change by change where lamps have failure-free hours, and the line from where the sums have come near to it.
fn followed(spread: &Spread, rule: &ChangeRule, hours: &[f64], lines: Option<&Lines>, finer: u32) -> Result<Found> {
    let most = hours.iter().copied().fold(0.0, f64::max);
    let far = lines.map_or(f64::INFINITY, |l| FOLLOWED * l.mean_hours);
    let (Some(lines), true) = (lines, most > far) else {
        let (means, miss) = powers::means(spread, rule, hours, finer)?;
        return Ok((means, vec![Way::Solved; hours.len()], miss));
    };
    // Near the line all through one longest life: from there on every value is a mean of such.
    let line = with_first(lines, spread.life, rule)?;
    let back = (spread.extent()? + spread.free_hours).min(0.5 * far);
    let marks: Vec<f64> = (0..=64).map(|i| far - back * f64::from(i) / 64.0).collect();
    let near: Vec<f64> = hours.iter().copied().filter(|t| *t <= far).collect();
    let (found, miss) = powers::means(spread, rule, &[marks.clone(), near].concat(), finer)?;
    let at = |t: f64| t * line.changes_per_hour + line.constant;
    let spread_line = |first: &Means, t: f64| {
        lines.variance.map(|(slope, _)| {
            // The constant of the variance is read off at the end, where a first lamp of some age has moved it.
            let m = first.planned + first.failures;
            first.second + m - m * m + slope * (t - far)
        })
    };
    let calm = marks.iter().zip(&found).all(|(t, m)| (m.planned + m.failures - at(*t)).abs() < NEAR * (1.0 + at(*t)));
    let last = found.first().copied().unwrap_or_default();
    let mut near = found.into_iter().skip(marks.len());
    let (mut means, mut way) = (Vec::new(), Vec::new());
    for t in hours {
        if *t <= far {
            means.push(near.next().unwrap_or_default());
            way.push(Way::Solved);
            continue;
        }
        let Some(variance) = spread_line(&last, *t).filter(|_| calm) else { return Err(too_far(*t, far)) };
        let m = at(*t);
        // Planned changes keep their long-run share.
        let planned = last.planned + spread.reach_plan * lines.per_hour * (t - far);
        means.push(Means { planned, failures: m - planned, second: variance - m + m * m });
        way.push(Way::LongRun);
    }
    Ok((means, way, miss))
}

fn solved(spread: &Spread, rule: &ChangeRule, hours: &[f64], finer: u32) -> Result<Found> {
    let most = hours.iter().copied().fold(0.0, f64::max);
    let table = Table::new(spread, most, finer)?;
    let mut wide = table.wide;
    let way: Vec<Way> = hours.iter().map(|t| if *t < table.until_hours { Way::Solved } else { Way::LongRun }).collect();
    if rule.first_age_hours > 0.0 {
        let first = First::new(spread, rule)?;
        let means = hours.iter().map(|t| after_first(&first, &table, *t)).collect::<Result<Vec<_>>>()?;
        return Ok((means, way, borne_out(table.miss, wide)));
    }
    let mut means = vec![Means::default(); hours.len()];
    let mut miss = table.miss;
    let mut open: Vec<usize> = (0..hours.len()).collect();
    let mut table = table;
    loop {
        // Early times get a mesh of their own, again and again, so that they keep their digits.
        let (early, now): (Vec<usize>, Vec<usize>) = open.into_iter().partition(|i| table.too_coarse(hours[*i]));
        for i in now {
            means[i] = table.means(hours[i])?;
        }
        open = early;
        let Some(next) = open.iter().map(|i| hours[*i]).max_by(f64::total_cmp) else { break };
        if spread.between(0.0, next) < ONE_ONLY {
            for i in open {
                means[i].failures = spread.between(0.0, hours[i]);
            }
            break;
        }
        table = Table::new(spread, next, finer)?;
        miss = miss.max(table.miss);
        wide |= table.wide;
    }
    Ok((means, way, borne_out(miss, wide)))
}

/// The miss of a mesh, at least so large where panels are wide that a mesh of half the width is asked too.
fn borne_out(miss: f64, wide: bool) -> f64 {
    if wide { miss.max(8.0 * RESOLVED) } else { miss }
}

/// Means by a time with a first lamp of some age.
fn after_first(first: &First, table: &Table, hours: f64) -> Result<Means> {
    let mut wrong = Ok(());
    let wrong_cell = std::cell::RefCell::new(&mut wrong);
    let further = |left: f64| match table.means(left) {
        Ok(m) => m,
        Err(e) => {
            **wrong_cell.borrow_mut() = Err(e);
            Means::default()
        }
    };
    let [planned, failures, second] = first.over_failures(hours, &table.mesh, |left| {
        let m = further(left);
        [m.planned, 1.0 + m.failures, m.second + 2.0 * (m.planned + m.failures)]
    });
    let mut sum = Means { planned, failures, second };
    if let Some((left, p)) = first.plan.and_then(|(plan, p)| Some((reached(hours, plan)?, p))) {
        let m = further(left);
        sum.planned += p * (1.0 + m.planned);
        sum.failures += p * m.failures;
        sum.second += p * (m.second + 2.0 * (m.planned + m.failures));
    }
    wrong.map(|()| sum)
}

fn assemble(
    rule: &ChangeRule,
    hours: &[f64],
    means: &[Means],
    way: Vec<Way>,
    (mean_hours, line): (f64, Option<LongRunLine>),
    relative_error: f64,
) -> ExpectedChanges {
    let variance = |m: &Means| {
        let all = m.planned + m.failures;
        (m.second + all - all * all).max(0.0)
    };
    ExpectedChanges {
        rule: *rule,
        hours: hours.to_vec(),
        variance: means.iter().map(variance).collect(),
        planned: means.iter().map(|m| m.planned).collect(),
        failures: means.iter().map(|m| m.failures.max(0.0)).collect(),
        way,
        bounds: Vec::new(),
        mean_hours,
        line,
        relative_error,
    }
}
