//! How far a fitted life lies from the records' own curve, and how often chance alone would put it as far.

use serde::{Deserialize, Serialize};

use super::model::{Fit, Note, check_family};
use super::sample::Sample;
use super::search::{FitOptions, fit, fit_near};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, short};
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::empirical::{Curve, CurveOptions, product_limit};
use crate::family::{Family, Life, in_words};
use crate::lives::{Rows, Tally};
use crate::records::Ending;

/// Distances of a fitted life from the product-limit curve, with p-values by parametric bootstrap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DistanceTest {
    /// Name of the family.
    pub family: String,
    /// Anderson-Darling distance: weighted squares, most weight on both ends.
    pub anderson_darling: f64,
    /// Kolmogorov distance: square root of the lamps times the largest gap.
    pub kolmogorov: f64,
    /// Chance of an Anderson-Darling distance at least this large if the family fits.
    pub p_anderson_darling: f64,
    /// The same for the Kolmogorov distance.
    pub p_kolmogorov: f64,
    /// Replicates behind the p-values.
    pub replicates: u64,
    /// Replicates left out, since their fit was refused or did not settle.
    pub unsettled: u64,
    /// The answer in plain words.
    pub verdict: String,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for DistanceTest {
    fn check(&self, c: &mut Checks) {
        check_family(c, &self.family);
        c.not_negative("anderson_darling", self.anderson_darling);
        c.not_negative("kolmogorov", self.kolmogorov);
        replicated(c, "p_anderson_darling", self.p_anderson_darling, self.replicates);
        replicated(c, "p_kolmogorov", self.p_kolmogorov, self.replicates);
        let settled = self.replicates >= self.unsettled;
        c.need("unsettled", settled, self.unsettled, format!("no more than the {} that settled", self.replicates));
    }
}

/// A chance counted among replicates: a whole number of them, and the records themselves, among all and one.
pub(super) fn replicated(c: &mut Checks, field: &str, p: f64, replicates: u64) {
    let among = replicates as f64 + 1.0;
    let counted = p * among;
    let whole = (counted - counted.round()).abs() <= 1e-6 && counted > 0.5 && counted < among + 0.5;
    c.need(field, whole, p, format!("a whole number, from 1, over {among}"));
}

/// Most lamps: each replicate draws every one of them again.
const MOST_LAMPS: u64 = 100_000;
/// Share below age 0 from which chances are told to be off: at 1 % they were as often below 0.05 as they say among 15 and
/// 40 lamps, at 5 % among 40 lamps seven times in a hundred. Measured by simulation.
const BELOW: f64 = 0.01;
/// Below this chance the records speak against the family.
const DOUBTFUL: f64 = 0.05;

/// Tests a family by its distances from the product-limit curve.
///
/// # Formula
/// ```text
/// A^2 = n integral of (Fn - F)^2 / (F (1 - F)) dF
/// K   = sqrt(n) sup |Fn - F|
/// p   = (1 + replicates with a distance at least as large) / (1 + replicates)
/// ```
/// Fn: 1 - product-limit curve; F: fitted failure probability; both over the ages at which lamps were at risk, and on to the
/// end if the oldest lamp failed. Without censoring they are the classical distances.
///
/// A replicate draws the life of every lamp from the fit and censors it: a lamp that was censored keeps its censoring
/// age; that of a failed lamp is not known and is drawn from the product-limit curve of the censoring, given that it lies
/// past the failure. It is fitted again before its distances are taken, so that estimated parameters are allowed for. A family
/// with several peaks is searched again from the peak of the records, which is the truth of the replicate, and from one
/// start more, and from all starts where neither leads to a peak.
///
/// A normal, logistic or smallest extreme value life is fitted as it is to lives that are 0 or more. A replicate draws them
/// from the fit cut at 0, since no record could hold the others, and is fitted as the records are. While no more than 1 %
/// of the fit lies below 0 the chances hold; above, they are too small, and the note `fit.cut_at_zero` says so.
///
/// # Arguments
/// `endings`: those that count as failure. None: all failures count. `replicates`: 99 or more, such as 999.
///
/// # Errors
/// Those of [`super::fit`]; refused: `fit.distance_rows` for failures known to an interval, late entry or windows;
/// `fit.replicate_unsettled` if fewer than half of the replicates settled. Input: `fit.replicates`. Limit:
/// `fit.distance_too_many` above 100,000 lamps.
///
/// # Source
/// T. W. Anderson and D. A. Darling (1954), JASA 49, 765-769; M. A. Stephens (1974), JASA 69, 730-737; bootstrap with
/// estimated parameters: W. Stute and others (1993), Metrika 40, 243-256. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::distance_test;
/// use relamp::lives::{Rows, Tally};
/// let ages: Vec<f64> = (0..30).map(|i| 1000.0 + f64::from(i)).collect(); // far too much alike for an even rate
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let test = distance_test(family("exponential")?, &tally, None, 99, 1, &Run::new())?;
/// assert_eq!(test.p_anderson_darling, 0.01);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn distance_test(
    family: &dyn Family,
    tally: &Tally,
    endings: Option<&[Ending]>,
    replicates: usize,
    seed: u64,
    run: &Run,
) -> Result<DistanceTest> {
    let counted = endings.map(|e| tally.for_endings(e)).transpose()?;
    let tally = counted.as_ref().unwrap_or(tally);
    let tally = &*tally.informative();
    check(tally, replicates)?;
    let options = FitOptions::default();
    let fitted = fit(family, tally, &options, run)?;
    let life = fitted.life_at_maximum()?;
    let here = distances(life.as_ref(), tally)?;
    let cut = cut_note(life.as_ref(), family.name());
    let plan = Plan::new(tally)?;
    let answers = run.map(replicates, |i| {
        let again = plan.draw(life.as_ref(), &mut Stream::new(seed, "fit", "distance", i as u64))?;
        let refit = fit_near(family, &Sample::new(&again, None, None)?, fitted.coordinates(), &options, run)?;
        if !refit.converged() {
            return Err(unsettled(i));
        }
        distances(refit.life_at_maximum()?.as_ref(), &again)
    })?;
    let each: Vec<Distances> = answers.into_iter().filter_map(Result::ok).collect();
    if 2 * each.len() < replicates {
        return Err(unsettled(replicates - each.len()));
    }
    let p = |of: fn(&Distances) -> f64| {
        let as_far = each.iter().filter(|d| of(d) >= of(&here)).count();
        (1 + as_far) as f64 / (1 + each.len()) as f64
    };
    let (p_anderson_darling, p_kolmogorov) = (p(|d| d.anderson_darling), p(|d| d.kolmogorov));
    Ok(DistanceTest {
        family: family.name().to_owned(),
        anderson_darling: here.anderson_darling,
        kolmogorov: here.kolmogorov,
        p_anderson_darling,
        p_kolmogorov,
        replicates: each.len() as u64,
        unsettled: (replicates - each.len()) as u64,
        verdict: verdict(&fitted, p_anderson_darling),
        notes: fitted.notes().iter().cloned().chain(left_out(replicates, each.len())).chain(cut).collect(),
    })
}

/// Says that replicates without a fit are left out, of which the chances may hang.
fn left_out(asked: usize, settled: usize) -> Option<Note> {
    let lost = (asked - settled) as u64;
    (lost > 0).then(|| {
        let text = format!(
            "{lost} of {} had no fit of the family and {} left out: the chances are those among samples that have one",
            counted(asked as u64, "replicate"),
            fitting(lost, "is", "are")
        );
        Note::new("fit.unsettled", text)
    })
}

fn verdict(fit: &Fit, p: f64) -> String {
    let (name, failures) = (in_words(fit.family_name()), fit.facts().failures);
    if p < DOUBTFUL {
        format!("these records speak against the {name} family (p = {p:.3})")
    } else {
        format!(
            "no sign among {} that the {name} family does not fit (p = {p:.3}); few failures show little",
            counted(failures, "failure")
        )
    }
}

pub(super) fn unsettled(n: usize) -> Error {
    let what = "the refit of too many replicates did not settle";
    Error::new(Kind::Refused, Problem::new("fit.replicate_unsettled", what).got(n))
}

pub(super) fn check(tally: &Tally, replicates: usize) -> Result<()> {
    if replicates < 99 {
        let problem = Problem::new("fit.replicates", "too few replicates")
            .at(Place::input("replicates"))
            .got(replicates)
            .expected("99 or more");
        return Err(Error::new(Kind::Input, problem));
    }
    let what = if tally.interval_failures() > 0 {
        Some("a failure known to an interval has no step in the curve")
    } else if tally.entry().is_some_and(|e| e.iter().any(|e| *e > 0.0)) {
        Some("with late entry there is no curve from new")
    } else if tally.upper().is_some() {
        Some("records that show failures only give no curve")
    } else {
        None
    };
    if let Some(what) = what {
        let problem = Problem::new("fit.distance_rows", what)
            .at(Place::input("tally"))
            .expected("failures at known ages and right-censored lamps, all from new");
        return Err(Error::new(Kind::Refused, problem));
    }
    if tally.lamps() > MOST_LAMPS {
        let problem = Problem::new("fit.distance_too_many", "too many lamps for a parametric bootstrap")
            .at(Place::input("tally"))
            .got(tally.lamps())
            .expected(format!("at most {MOST_LAMPS}"));
        return Err(Error::new(Kind::Limit, problem));
    }
    Ok(())
}

#[derive(Clone, Copy, Debug)]
struct Distances {
    anderson_darling: f64,
    kolmogorov: f64,
}

/// Distances of a life from the product-limit curve of a sample.
fn distances(life: &dyn Life, tally: &Tally) -> Result<Distances> {
    let curve = product_limit(tally, &CurveOptions::default())?;
    let (mut square, mut gap) = (0.0, 0.0_f64);
    // The piece of the curve where Fn is `share`, from the age `from` to the age `to`.
    let mut piece = |share: f64, from: f64, to: f64| {
        let (low, high) = (ends(life, from), ends(life, to));
        gap = gap.max((share - low.failed).abs()).max((share - high.failed).abs());
        // (c - u)^2 / (u (1 - u)) = c^2 / u + (1 - c)^2 / (1 - u) - 1.
        let rise = if share > 0.0 { share * share * (high.ln_failed - low.ln_failed) } else { 0.0 };
        let rest = 1.0 - share;
        let fall = if rest > 0.0 { rest * rest * (low.ln_passed - high.ln_passed) } else { 0.0 };
        square += rise + fall - (high.failed - low.failed);
    };
    let (mut share, mut from) = (0.0, 0.0);
    for (&age, &reliability) in curve.ages().iter().zip(curve.reliability()) {
        piece(share, from, age);
        (share, from) = (1.0 - reliability, age);
    }
    if share >= 1.0 {
        piece(1.0, from, f64::INFINITY);
    } else {
        piece(share, from, curve.last_age());
    }
    let n = tally.lamps() as f64;
    Ok(Distances { anderson_darling: n * square, kolmogorov: n.sqrt() * gap })
}

struct Ends {
    failed: f64,
    ln_failed: f64,
    ln_passed: f64,
}

fn ends(life: &dyn Life, age: f64) -> Ends {
    if age == f64::INFINITY {
        return Ends { failed: 1.0, ln_failed: 0.0, ln_passed: f64::NEG_INFINITY };
    }
    let ln_failed = life.ln_failure_probability(age);
    Ends { failed: ln_failed.exp(), ln_failed, ln_passed: life.ln_reliability(age) }
}

/// A random age at failure, of a life that reaches below age 0 given that it does not fail there: so are the lives of
/// records, to which such a family is fitted as it is.
fn new_life(life: &dyn Life, stream: &mut Stream) -> Result<f64> {
    let below = life.below_zero();
    if !(below > 0.0) {
        return life.draw(stream);
    }
    // Rounding may put the first of them next below 0.
    Ok(life.quantile(below + (1.0 - below) * stream.uniform())?.max(0.0))
}

/// Says that a good part of a fitted life lies below age 0, where replicates cannot follow it.
pub(super) fn cut_note(life: &dyn Life, family: &str) -> Option<Note> {
    let below = life.below_zero();
    (below > BELOW).then(|| {
        let text = format!(
            "by the fit {} % of lives end before age 0, where no lamp is seen to fail: simulated lives are drawn from the rest, so \
             that what is simulated for this family holds less well; above_zero({family}) is fitted to what can be seen",
            short(100.0 * below)
        );
        Note::new("fit.cut_at_zero", text)
    })
}

/// The censoring of a sample, to be laid over new lives.
pub(super) struct Plan {
    /// Age and whether it is that of a failure, one entry a lamp.
    lamps: Vec<(f64, bool)>,
    /// Product-limit curve of the censoring; none where no lamp was censored.
    censoring: Option<Curve>,
}

impl Plan {
    pub(super) fn new(tally: &Tally) -> Result<Self> {
        let rows = tally.low().iter().zip(tally.high()).zip(tally.count());
        let lamps: Vec<(f64, bool)> =
            rows.flat_map(|((&low, &high), &n)| (0..n).map(move |_| (low, high < f64::INFINITY))).collect();
        if lamps.iter().all(|(_, failed)| *failed) {
            return Ok(Self { lamps, censoring: None });
        }
        // The two kinds of ending change places.
        let low: Vec<f64> = lamps.iter().map(|l| l.0).collect();
        let high = lamps.iter().map(|&(age, failed)| if failed { f64::INFINITY } else { age }).collect();
        let (swapped, _) = Tally::from_rows(&Rows { low, high, ..Rows::default() })?;
        Ok(Self { lamps, censoring: Some(product_limit(&swapped, &CurveOptions::default())?) })
    }

    /// New lives under the same censoring.
    pub(super) fn draw(&self, life: &dyn Life, stream: &mut Stream) -> Result<Tally> {
        let mut rows = Rows::default();
        for &(age, failed) in &self.lamps {
            let censored_at = if failed { self.past(age, stream.uniform()) } else { age };
            let fails_at = new_life(life, stream)?;
            rows.low.push(fails_at.min(censored_at));
            rows.high.push(if fails_at <= censored_at { fails_at } else { f64::INFINITY });
        }
        Ok(Tally::from_rows(&rows)?.0)
    }

    /// A censoring age past `age`; infinite where the records do not tell one.
    fn past(&self, age: f64, uniform: f64) -> f64 {
        let Some(curve) = &self.censoring else { return f64::INFINITY };
        let left = curve.reliability_at(age).unwrap_or(0.0) * uniform;
        let step = curve.reliability().partition_point(|r| *r > left);
        curve.ages().get(step).copied().map_or(f64::INFINITY, |a| a.max(age))
    }
}
