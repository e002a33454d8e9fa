//! The mean number of failures of a socket by age: for screens that get lamp after lamp, whatever the lamps' ages.

use serde::{Deserialize, Serialize};

use super::curve::{CurveNote, Running};
use super::sockets::{Socket, Sockets};
use super::steps::check_level;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours};
use crate::base::math::special::normal_quantile;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};

const FORMAT: Format = Format::new("recurrence", 1);

/// Mean cumulative number of failures of a socket as a step function of its age, with robust standard errors.
///
/// The columns hold one value for each age at which a lamp failed; between two of them the curve is flat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recurrence {
    /// Ages at which lamps failed, ascending, `(steps,)`, in units of the sockets' clock.
    pub ages: Vec<f64>,
    /// Sockets under observation at each step, `(steps,)`.
    pub at_risk: Vec<u64>,
    /// Failures at each step, `(steps,)`.
    pub failures: Vec<u64>,
    /// Mean number of failures of a socket by each step, `(steps,)`.
    pub mean: Vec<f64>,
    /// Standard error of the mean, from the spread between sockets, `(steps,)`; none with a single socket.
    pub standard_error: Option<Vec<f64>>,
    /// Level of the band, for one age at a time.
    pub level: f64,
    /// Age from which failures are counted: the earliest at which a socket was watched.
    pub counted_from: f64,
    /// Largest age at which a socket was watched.
    pub last_age: f64,
    /// Number of sockets.
    pub sockets: u64,
    /// What to know when reading the curve.
    pub notes: Vec<CurveNote>,
    /// Ages at which watches begin and end, ascending. Curves saved before have none.
    #[serde(default)]
    watched_ages: Vec<f64>,
    /// Sockets under observation just after each of them.
    #[serde(default)]
    watched: Vec<u64>,
}

impl Sound for Recurrence {
    fn check(&self, c: &mut Checks) {
        let steps = self.ages.len();
        c.rising("ages", &self.ages, false);
        c.entries("at_risk", self.at_risk.len(), steps);
        c.entries("failures", self.failures.len(), steps);
        c.entries("mean", self.mean.len(), steps);
        let mut mean = 0.0;
        for (i, ((&n, &d), &got)) in self.at_risk.iter().zip(&self.failures).zip(&self.mean).enumerate() {
            c.need(&format!("failures[{i}]"), d > 0, d, "1 or more at each step");
            c.need(&format!("at_risk[{i}]"), n > 0 && n <= self.sockets, n, format!("1 to {}", self.sockets));
            mean += d as f64 / n.max(1) as f64;
            c.equal(&format!("mean[{i}]"), got, mean);
        }
        c.there("standard_error", self.standard_error.is_some(), self.sockets > 1, "there with two sockets or more");
        if let Some(errors) = &self.standard_error {
            c.entries("standard_error", errors.len(), steps);
            c.column("standard_error", errors, Checks::not_negative);
        }
        c.entries("watched", self.watched.len(), self.watched_ages.len());
        c.rising("watched_ages", &self.watched_ages, false);
        let most = self.watched.iter().copied().max().unwrap_or(0);
        c.need("watched", most <= self.sockets, most, format!("at most {}", counted(self.sockets, "socket")));
        c.level("level", self.level);
        c.not_negative("counted_from", self.counted_from);
        c.ends("last_age", self.ages.last().copied().unwrap_or(self.counted_from), self.last_age);
    }
}

/// Counts what moves through a walk over the ages of sockets: who is under observation, and how far each has strayed from
/// the mean. One pass: sums of the squares are kept up to a common offset; where little but rounding is left of them, they
/// are summed again socket by socket.
struct Walk {
    /// Which sockets are under observation.
    inside: Vec<bool>,
    /// Each socket's share in the error, less the offset.
    own: Vec<f64>,
    offset: f64,
    at_risk: u64,
    sum: f64,
    squares: f64,
    /// Squares of the sockets whose watch is over.
    over: f64,
}

/// Part of the squares below which their difference is mostly rounding. Our choice, without a source.
const CANCELLED: f64 = 1e-4;
/// Part of a sum below which what is left of it is rounding. Our choice, without a source.
const ROUNDING: f64 = 1e-12;

/// Square of a socket's share in the error; sockets that all fail equally often have none.
fn squared(own: f64, offset: f64) -> f64 {
    let share = own + offset;
    if share.abs() <= ROUNDING * own.abs().max(offset.abs()) { 0.0 } else { share * share }
}

impl Walk {
    fn shift(&mut self, socket: usize, by: f64) {
        if let Some(own) = self.own.get_mut(socket) {
            self.sum += by;
            self.squares += by * (2.0 * *own + by);
            *own += by;
        }
    }

    fn enter(&mut self, socket: usize) {
        self.at_risk += 1;
        if let Some(inside) = self.inside.get_mut(socket) {
            *inside = true;
        }
        self.shift(socket, -self.offset);
    }

    fn leave(&mut self, socket: usize) {
        self.at_risk -= 1;
        if let Some(inside) = self.inside.get_mut(socket) {
            *inside = false;
        }
        if let Some(own) = self.own.get_mut(socket) {
            self.over += squared(*own, self.offset);
            self.sum -= *own;
            self.squares -= *own * *own;
        }
    }

    fn variance(&self) -> f64 {
        let shared = self.at_risk as f64 * self.offset * self.offset;
        let inside = self.squares + 2.0 * self.offset * self.sum + shared;
        if inside > CANCELLED * (self.squares + shared) {
            return self.over + inside;
        }
        let watched = self.own.iter().zip(&self.inside).filter(|(_, inside)| **inside);
        self.over + watched.map(|(own, _)| squared(*own, self.offset)).fold(0.0, |sum, x| sum + x)
    }
}

fn order_by(each: &[Socket], key: impl Fn(&Socket) -> f64) -> Vec<usize> {
    let mut order: Vec<usize> = (0..each.len()).collect();
    order.sort_by(|&a, &b| {
        each.get(a).map(&key).partial_cmp(&each.get(b).map(&key)).unwrap_or(std::cmp::Ordering::Equal)
    });
    order
}

/// Every failure as (age, socket), in order of age.
pub(super) fn failures_in_order(each: &[Socket]) -> Vec<(f64, usize)> {
    let mut all: Vec<(f64, usize)> =
        each.iter().enumerate().flat_map(|(i, s)| s.failures.iter().map(move |&age| (age, i))).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    all
}

/// Estimates the mean number of failures of a socket by age, without assuming how failures follow each other.
///
/// # Formula
/// ```text
/// M(t)             = sum over failure ages a <= t of d(a) / n(a)
/// variance of M(t) = sum over sockets i of (sum over a <= t of y_i(a) (d_i(a) - d(a) / n(a)) / n(a))^2
/// band             = M(t) exp(-w) and M(t) exp(w), w = z standard error / M(t)
/// ```
/// n: sockets under observation at age a, those with from < a <= to, so one whose watch ends at the age of a failure still
/// counts. d: failures at a. `d_i`: those of socket i. `y_i`: 1 while it is watched. z: normal quantile of (1 + level) / 2. The
/// band holds at one age at a time.
///
/// The variance takes no law of failures for granted, such as a constant rate or failures that do not depend on those
/// before; it takes the sockets to be independent of each other, and the ends of their watches to have nothing to do with
/// their failures.
///
/// # Errors
/// `empirical.level` for a level that is not inside (0, 1); `empirical.no_sockets` without one.
///
/// # Numerics
/// One pass in order of age: linear in sockets and failures after sorting. Where the sockets have failed so equally often that
/// a difference of sums would be rounding, the squares are summed socket by socket, and are 0 where all failed alike.
///
/// # Source
/// W. Nelson (1988), Journal of Quality Technology 20, 24-35; the variance by J. F. Lawless and C. Nadeau (1995),
/// Technometrics 37, 158-168. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{Socket, Sockets, recurrence};
/// let screen = |name: &str, to, failures| Socket { name: name.into(), group: String::new(), from: 0.0, to, failures };
/// let sockets = Sockets::new(vec![
///     screen("1", 5000.0, vec![900.0, 2100.0]),
///     screen("2", 4000.0, vec![]),
///     screen("3", 1000.0, vec![]),
///     screen("4", 5000.0, vec![4500.0]),
/// ])?;
/// let curve = recurrence(&sockets, 0.95)?;
/// // 1/4 at 900 h, 1/3 at 2,100 h, 1/2 at 4,500 h.
/// assert_eq!(curve.at_risk, [4, 3, 2]);
/// assert!((curve.mean_at(4500.0).unwrap() - 13.0 / 12.0).abs() < 1e-15);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn recurrence(sockets: &Sockets, level: f64) -> Result<Recurrence> {
    check_level(level)?;
    let each = sockets.each();
    if each.is_empty() {
        let problem = Problem::new("empirical.no_sockets", "no sockets, so no curve").at(Place::input("sockets"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let (entries, exits) = (order_by(each, |s| s.from), order_by(each, |s| s.to));
    let (mut entering, mut leaving) = (entries.iter().peekable(), exits.iter().peekable());
    let mut walk = Walk {
        inside: vec![false; each.len()],
        own: vec![0.0; each.len()],
        offset: 0.0,
        at_risk: 0,
        sum: 0.0,
        squares: 0.0,
        over: 0.0,
    };
    let mut curve = Recurrence {
        ages: Vec::new(),
        at_risk: Vec::new(),
        failures: Vec::new(),
        mean: Vec::new(),
        standard_error: None,
        level,
        counted_from: each.iter().map(|s| s.from).fold(f64::INFINITY, f64::min),
        last_age: each.iter().map(|s| s.to).fold(0.0, f64::max),
        sockets: each.len() as u64,
        notes: Vec::new(),
        watched_ages: Vec::new(),
        watched: Vec::new(),
    };
    (curve.watched_ages, curve.watched) = watches(each);
    let mut errors = Vec::new();
    let mut mean = Running::default();
    for step in failures_in_order(each).chunk_by(|a, b| a.0 == b.0) {
        let Some(&(age, _)) = step.first() else { continue };
        while let Some(&i) = entering.next_if(|&&i| each.get(i).is_some_and(|s| s.from < age)) {
            walk.enter(i);
        }
        while let Some(&i) = leaving.next_if(|&&i| each.get(i).is_some_and(|s| s.to < age)) {
            // A watch that began and ended between two failures enters just above.
            walk.leave(i);
        }
        let (n, d) = (walk.at_risk as f64, step.len() as f64);
        walk.offset -= d / n / n;
        for &(_, socket) in step {
            walk.shift(socket, 1.0 / n);
        }
        curve.ages.push(age);
        curve.at_risk.push(walk.at_risk);
        curve.failures.push(step.len() as u64);
        curve.mean.push(mean.add(d / n));
        errors.push(walk.variance().sqrt());
    }
    curve.standard_error = (each.len() > 1).then_some(errors);
    curve.notes = notes(&curve);
    Ok(curve)
}

/// The ages at which watches begin and end, and the sockets under observation just after each.
fn watches(each: &[Socket]) -> (Vec<f64>, Vec<u64>) {
    let mut moves: Vec<(f64, bool)> = each.iter().flat_map(|s| [(s.from, true), (s.to, false)]).collect();
    moves.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut ages, mut counts) = (Vec::new(), Vec::new());
    let (mut come, mut gone) = (0_u64, 0_u64);
    for step in moves.chunk_by(|a, b| a.0 == b.0) {
        for (age, begins) in step {
            (come, gone) = if *begins { (come + 1, gone) } else { (come, gone + 1) };
            if ages.last() != Some(age) {
                ages.push(*age);
            }
        }
        counts.push(come - gone);
    }
    (ages, counts)
}

/// Sockets below which the spread between them is rough. Our choice, without a source.
const FEW_SOCKETS: u64 = 10;

fn notes(curve: &Recurrence) -> Vec<CurveNote> {
    let mut notes = Vec::new();
    let mut say = |rule: &str, age: f64, sentence: String| {
        notes.push(CurveNote { rule: rule.to_owned(), age, sentence });
    };
    if curve.ages.is_empty() {
        say("empirical.no_failures", curve.last_age, "no failure was seen".to_owned());
    }
    if curve.sockets > 1 && curve.sockets < FEW_SOCKETS {
        let some = counted(curve.sockets, "socket");
        let sentence = format!("{some} only: the spread between them, and so the band, is rough");
        say("empirical.few_sockets", curve.counted_from, sentence);
    }
    let even = || curve.ages.iter().zip(curve.standard_error.iter().flatten()).filter(|(_, e)| **e == 0.0);
    if let (Some((&age, _)), true) = (even().next(), curve.sockets > 1) {
        let sentence = format!(
            "at {} of {}, first at {}, the sockets have failed equally often: a standard error of 0 and a band of no width \
             there say nothing of other sockets like them",
            even().count(),
            counted(curve.ages.len() as u64, "age"),
            hours(age)
        );
        say("empirical.no_spread", age, sentence);
    }
    if curve.sockets == 1 {
        let sentence = "one socket: how far sockets differ is not known, so there is no standard error";
        say("empirical.one_socket", curve.counted_from, sentence.to_owned());
    } else if let Some((age, when)) = alone(curve) {
        let sentence = format!(
            "{when} a single socket of {} decides the steps, and its spread does not show in the band",
            counted(curve.sockets, "socket")
        );
        say("empirical.one_socket", age, sentence);
    }
    notes
}

/// Stretches of steps told one by one; beyond them their number is told.
const TOLD: usize = 3;

/// The first age at which a single socket is at risk, and in words all ages at which this is so: watches that begin late can
/// leave one alone at the start, others that end early at the end.
fn alone(curve: &Recurrence) -> Option<(f64, String)> {
    let steps: Vec<(f64, u64)> = curve.ages.iter().copied().zip(curve.at_risk.iter().copied()).collect();
    let last = steps.last()?.0;
    let single = || steps.chunk_by(|a, b| (a.1 == 1) == (b.1 == 1)).filter(|run| run.iter().all(|step| step.1 == 1));
    let told = |run: &[(f64, u64)]| {
        let (from, to) = (run.first()?.0, run.last()?.0);
        Some(match (from == to, to == last) {
            (_, true) => format!("from {} on", hours(from)),
            (true, false) => format!("at {}", hours(from)),
            (false, false) => format!("from {} to {}", hours(from), hours(to)),
        })
    };
    let first = single().next()?.first()?.0;
    let mut each: Vec<String> = single().filter_map(told).collect();
    let when = if each.len() > TOLD {
        let ages = single().map(<[_]>::len).sum::<usize>();
        format!("at {ages} of {}, first at {},", counted(steps.len() as u64, "age"), hours(first))
    } else if let Some(end) = each.pop() {
        if each.is_empty() { end } else { format!("{} and {end}", each.join(", ")) }
    } else {
        return None;
    };
    Some((first, when))
}

impl Recurrence {
    fn covers(&self, age: f64) -> bool {
        age >= self.counted_from && age <= self.last_age
    }

    fn step(&self, age: f64) -> Option<usize> {
        self.ages.partition_point(|&a| a <= age).checked_sub(1)
    }

    /// Sockets under observation at an age: those with from < age <= to, at the first age those whose watch begins there; 0
    /// where none was watched. None for an age below 0, and for a curve saved before curves held this.
    pub fn at_risk_at(&self, age: f64) -> Option<u64> {
        if self.watched_ages.is_empty() || age.is_nan() || age < 0.0 {
            return None;
        }
        let first = self.watched_ages.first() == Some(&age);
        let before = self.watched_ages.partition_point(|a| *a < age) + usize::from(first);
        Some(before.checked_sub(1).and_then(|i| self.watched.get(i)).copied().unwrap_or(0))
    }

    /// Mean number of failures of a socket by an age; none where no socket was watched so far.
    pub fn mean_at(&self, age: f64) -> Option<f64> {
        self.covers(age).then(|| self.step(age).and_then(|i| self.mean.get(i).copied()).unwrap_or(0.0))
    }

    /// Mean number of failures of a socket for each unit of age between two ages.
    ///
    /// # Formula
    /// ```text
    /// (M(to) - M(from)) / (to - from)
    /// ```
    pub fn rate(&self, from: f64, to: f64) -> Option<f64> {
        (to > from).then(|| Some((self.mean_at(to)? - self.mean_at(from)?) / (to - from)))?
    }

    /// Lower and upper end of the band at each step, `(steps,)`; none with a single socket.
    pub fn band(&self) -> Vec<Option<(f64, f64)>> {
        (0..self.ages.len()).map(|i| self.band_of(i)).collect()
    }

    /// Lower and upper end of the band at an age; none where it is not known, and before the first failure.
    pub fn band_at(&self, age: f64) -> Option<(f64, f64)> {
        self.band_of(self.step(age).filter(|_| self.covers(age))?)
    }

    fn band_of(&self, i: usize) -> Option<(f64, f64)> {
        let (mean, error) = (*self.mean.get(i)?, *self.standard_error.as_ref()?.get(i)?);
        let w = normal_quantile(f64::midpoint(1.0, self.level)) * error / mean;
        Some((mean * (-w).exp(), mean * w.exp()))
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
