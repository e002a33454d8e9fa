//! The self-consistent estimate: the likeliest curve for any mixture of exact, interval-, left- and right-censored rows.

use serde::{Deserialize, Serialize};

use super::climb::climb;
use super::curve::CurveNote;
use super::innermost::ranges;
use super::steps::check_usable;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, hours};
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::Tally;

const FORMAT: Format = Format::new("self_consistent", 1);

/// How the estimate is made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SelfConsistentOptions {
    /// Starts the curve at this age, hours: it then holds for lamps that reached it.
    pub given_survival_to: Option<f64>,
    /// The climb ends when the gradient for each lamp is at most this.
    pub gradient: f64,
    /// Most steps of the climb.
    pub most_steps: u64,
}

impl Default for SelfConsistentOptions {
    fn default() -> Self {
        Self { given_survival_to: None, gradient: 1e-9, most_steps: 5_000 }
    }
}

/// A stretch of ages (from, to] and the share of lamps that failed in it; where in it, the records do not say.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stretch {
    /// Age after which they failed, hours; equal to `to` for failures at one age.
    pub from: f64,
    /// Age by which they had failed, hours; infinite for those that were never seen to fail.
    #[serde(with = "saved::infinite")]
    pub to: f64,
    /// Share of lamps.
    pub mass: f64,
    /// Probability to pass the stretch.
    pub reliability_after: f64,
}

/// The likeliest curve without a family; made by [`self_consistent`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SelfConsistent {
    /// Stretches with mass, ascending.
    pub stretches: Vec<Stretch>,
    /// Stretches that could have held mass.
    pub candidates: usize,
    /// Log-likelihood at the estimate.
    pub log_likelihood: f64,
    /// Largest derivative of the log-likelihood, for each lamp, towards mass in any stretch: 0 at the top. Without late
    /// entry the log-likelihood for each lamp can rise by at most this much.
    pub gradient: f64,
    /// Steps of the climb.
    pub steps: u64,
    /// Whether the gradient came down to what was asked.
    pub converged: bool,
    /// The curve holds for lamps that reached this age, hours; 0 for a curve from new.
    pub conditional_from: f64,
    /// Lamps behind the curve.
    pub lamps: u64,
    /// What to know when reading the curve.
    pub notes: Vec<CurveNote>,
}

impl Sound for SelfConsistent {
    fn check(&self, c: &mut Checks) {
        let (mut left, mut age) = (1.0, 0.0);
        for (i, stretch) in self.stretches.iter().enumerate() {
            let field = |name: &str| format!("stretches[{i}].{name}");
            c.between(&field("from"), stretch.from, age, stretch.to);
            c.positive(&field("mass"), stretch.mass);
            left -= stretch.mass;
            c.near(&field("reliability_after"), stretch.reliability_after, left, 1.0);
            age = stretch.to;
        }
        c.need("stretches", left.abs() < 1e-9, left, "masses that add up to 1");
        let most = self.candidates;
        c.need("candidates", self.stretches.len() <= most, most, "at least the stretches with mass");
        c.need("log_likelihood", self.log_likelihood <= 1e-9, self.log_likelihood, "0 or less");
        c.need("gradient", self.gradient.is_finite(), self.gradient, "a number");
        c.not_negative("conditional_from", self.conditional_from);
        c.need("lamps", self.lamps > 0, self.lamps, "1 or more");
    }
}

/// Estimates the reliability of lamps whose failures are known to ages, to intervals or not at all, without a family and
/// without reading an interval as an age.
///
/// Mass can stand only in the innermost intervals: those from a left end of some row to the next right end with no other
/// end between. How it is spread inside one is not determined, so the curve has no value there but a lower and an upper.
///
/// # Formula
/// ```text
/// maximise the sum over rows of count x ln( P(low < T <= high) / P(T > entry) )
/// gradient towards stretch j = sum of count / P(row) over rows that hold j - sum of count / P(T > entry) over rows entered by j
/// at the top: 0 where there is mass, at most 0 elsewhere
/// ```
/// An exact row has P(T = age), a right-censored one P(T > low), a left-censored one P(T <= high). The steps are those of
/// expected failures over expected lamps at risk (self-consistency), in turn with a Newton step whose result is pooled
/// until hazards rise (the iterative convex minorant). Each costs time in proportion to rows plus stretches.
///
/// With late entry the curve is given survival to the first entry. Where no lamp under observation is known to have
/// outlived a stretch, the likelihood is highest with a curve of 0 from there on, whatever lamps that came later say: the
/// note `empirical.drops_to_zero` tells the age and how many lamps that leaves out. Ask for the curve given survival to a
/// later age.
///
/// # Errors
/// `empirical.no_lamps`, `empirical.upper` as [`product_limit`](super::product_limit); `empirical.given_survival_to`;
/// `empirical.straddles_start` where a failure is known only to an interval around that age; `empirical.gradient`.
///
/// # Numerics
/// Where all rows are exact or right-censored the first step is the answer, the product-limit curve. Counts equal
/// repeated rows.
///
/// # Source
/// B. W. Turnbull (1976), JRSS B 38, 290-295; late entry: H. Frydman (1994), JRSS B 56, 71-74; steps: P. Groeneboom and
/// J. A. Wellner (1992), Information Bounds and Nonparametric Maximum Likelihood Estimation; J. A. Wellner and Y. Zhan
/// (1997), JASA 92, 945-959. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{SelfConsistentOptions, self_consistent};
/// use relamp::lives::{Rows, Tally};
/// // One failed at 2, one between 1 and 3, one still worked at 2.
/// let rows = Rows { low: vec![2.0, 1.0, 2.0], high: vec![2.0, 3.0, f64::INFINITY], ..Rows::default() };
/// let curve = self_consistent(&Tally::from_rows(&rows)?.0, &SelfConsistentOptions::default())?;
/// assert_eq!(curve.reliability_at(1.5), Some((1.0, 1.0)));
/// let (low, high) = curve.reliability_at(2.5).unwrap(); // not determined between 2 and 3
/// assert!(low.abs() < 1e-6 && (high - 0.5).abs() < 1e-6);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn self_consistent(tally: &Tally, options: &SelfConsistentOptions) -> Result<SelfConsistent> {
    let tally = &*tally.informative();
    check_usable(tally)?;
    let given = options.given_survival_to.unwrap_or(0.0);
    if !(0.0..f64::INFINITY).contains(&given) {
        let problem = Problem::new("empirical.given_survival_to", "age to which survival is given is not an age")
            .at(Place::input("given_survival_to"))
            .got(given)
            .expected("finite hours from 0");
        return Err(Error::new(Kind::Domain, problem));
    }
    if !(options.gradient > 0.0 && options.gradient < 1.0) {
        let problem = Problem::new("empirical.gradient", "not a gradient to stop at")
            .at(Place::input("gradient"))
            .got(options.gradient)
            .expected("above 0 and below 1, such as 1e-9");
        return Err(Error::new(Kind::Domain, problem));
    }
    let ranges = ranges(tally, given).map_err(|straddling| {
        let problem = Problem::new(
            "empirical.straddles_start",
            "the age lies inside intervals in which lamps failed: before or after it is not known",
        )
        .at(Place::input("given_survival_to"))
        .got(format!("{given}, inside the intervals of {}", counted(straddling, "lamp")))
        .expected("an age outside every interval");
        Error::new(Kind::Refused, problem)
    })?;
    if ranges.stretches() == 0 {
        let problem =
            Problem::new("empirical.given_survival_to", "no lamp is at risk past the age to which survival is given")
                .at(Place::input("given_survival_to"))
                .got(given)
                .expected("an age that some lamp passed");
        return Err(Error::new(Kind::Refused, problem));
    }
    let lamps = ranges.count.iter().sum::<f64>();
    let top = climb(&ranges, options.gradient * lamps, options.most_steps);
    let (mut left, mut stretches) = (1.0, Vec::new());
    for (&(from, to), &share) in ranges.ends.iter().zip(&top.share) {
        if share > 0.0 {
            let mass = left * share;
            left = if share == 1.0 { 0.0 } else { left - mass };
            stretches.push(Stretch { from, to, mass, reliability_after: left });
        }
    }
    let gradient = top.gradient / lamps;
    let mut result = SelfConsistent {
        stretches,
        candidates: ranges.stretches(),
        log_likelihood: top.log_likelihood,
        gradient,
        steps: top.steps,
        converged: gradient <= options.gradient,
        conditional_from: ranges.from,
        lamps: lamps as u64,
        notes: Vec::new(),
    };
    result.note(given, ranges.set_aside, options.gradient);
    Ok(result)
}

impl SelfConsistent {
    fn note(&mut self, given: f64, set_aside: u64, asked: f64) {
        let mut say = |rule: &str, age: f64, sentence: String| {
            self.notes.push(CurveNote { rule: rule.to_owned(), age, sentence });
        };
        let start = self.conditional_from;
        if start > 0.0 {
            let why = if start == given { "as asked" } else { "no lamp was under observation before" };
            say("empirical.given_survival", start, format!("given survival to {} h: {why}", hours(start)));
        }
        let last = self.stretches.last().filter(|s| s.to < f64::INFINITY).map(|s| s.to);
        if let Some(age) = last {
            let rest = match set_aside {
                0 => "no lamp was seen working past it".to_owned(),
                n => format!(
                    "no lamp then under observation is known to have passed it, and {} that came under observation later {} left out; ask for the curve given survival to a later age",
                    counted(n, "lamp"),
                    fitting(n, "is", "are")
                ),
            };
            say("empirical.drops_to_zero", age, format!("drops to zero by {} h: {rest}", hours(age)));
        }
        if !self.converged {
            let sentence = format!(
                "the climb ended after {} short of the top: a gradient of {:.1e} for each lamp, {asked:.1e} was asked for",
                counted(self.steps, "step"),
                self.gradient
            );
            say("empirical.not_converged", start, sentence);
        }
    }

    /// Lower and upper value of the probability to pass the age; they are equal where the records determine it, and none
    /// before [`SelfConsistent::conditional_from`].
    pub fn reliability_at(&self, age: f64) -> Option<(f64, f64)> {
        if age.is_nan() || age < self.conditional_from {
            return None;
        }
        let i = self.stretches.partition_point(|s| s.to <= age);
        let before = i.checked_sub(1).and_then(|i| self.stretches.get(i)).map_or(1.0, |s| s.reliability_after);
        Some(match self.stretches.get(i) {
            Some(inside) if inside.from < age => (inside.reliability_after, before),
            _ => (before, before),
        })
    }

    /// The stretch (from, to] in which the share `p` is reached, hours; its upper end is infinite where the records do not
    /// bound it.
    ///
    /// # Errors
    /// `empirical.probability` unless 0 < p <= 1.
    ///
    /// # Numerics
    /// A stretch counts as reaching p when it misses by 1e-9 or less.
    pub fn quantile(&self, p: f64) -> Result<(f64, f64)> {
        if !(p > 0.0 && p <= 1.0) {
            let problem = Problem::new("empirical.probability", "not a share")
                .at(Place::input("p"))
                .got(p)
                .expected("above 0 and at most 1");
            return Err(Error::new(Kind::Domain, problem));
        }
        let i = self.stretches.partition_point(|s| s.reliability_after > 1.0 - p + 1e-9);
        Ok(self.stretches.get(i).map_or((self.conditional_from, f64::INFINITY), |s| (s.from, s.to)))
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// An estimate from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
