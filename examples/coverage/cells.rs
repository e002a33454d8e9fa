//! The cells of the coverage table: samples of known lives, and how often each kind of interval holds the truth.

use relamp::base::math::beta::beta_quantile;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{
    Belief, Bootstrap, Fit, FitOptions, Interval, Posterior, Prior, Quantity, Sides, bootstrap, fit, posterior,
};
use relamp::lives::{Rows, Tally};
use relamp::{Result, Run};

/// The truth of every sample.
pub const TRUTH: Weibull = Weibull { shape: 3.0, scale: 3000.0 };
/// Level of every interval.
pub const LEVEL: f64 = 0.95;
/// Samples a cell, and those of them that are refitted, or drawn again and refitted, many times.
pub const RUNS: u64 = 10_000;
pub const REFITTED: u64 = 2000;
/// Samples whose binomial range judges a share: that width is what counts as near enough, however many were drawn.
pub const JUDGED: f64 = 2000.0;
/// Refits of a bootstrap.
pub const REPLICATES: usize = 399;
/// Simulated samples of a corrected profile.
pub const SIMULATED: usize = 400;
/// What is believed of the shape in the posterior: a wide range, so that few failures are not refused.
pub const SHAPES: (f64, f64) = (0.2, 20.0);
/// Expected failures from which likelihood intervals are promised to be good.
const PROMISED: u64 = 10;
/// Expected failures.
pub const FAILURES: [u64; 4] = [5, 10, 20, 50];

/// How the other lamps are censored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Censoring {
    /// About 8 of 10 lamps fail before all stop at one age.
    Light,
    /// 15 of 100 lamps fail before all stop at one age.
    ///
    /// Not 10 of 100: the stopping age would be the b10 life itself, and whether an interval holds it would hang on the
    /// number of failures alone.
    Heavy,
    /// About 4 of 10 lamps fail; the others stop at ages even from 0 on.
    Staggered,
}

impl Censoring {
    pub const ALL: [Self; 3] = [Self::Light, Self::Heavy, Self::Staggered];

    pub fn name(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Heavy => "heavy",
            Self::Staggered => "staggered",
        }
    }

    fn failing(self) -> f64 {
        match self {
            Self::Light => 0.8,
            Self::Heavy => 0.15,
            Self::Staggered => 0.4,
        }
    }
}

/// Kinds of intervals, in the words of the table.
pub const KINDS: [&str; 6] =
    ["wald", "profile", "corrected profile", "bootstrap", "bias-corrected bootstrap", "posterior"];
/// Quantities asked.
pub const QUANTITIES: [&str; 2] = ["shape", "b10"];

/// What one cell gave.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Samples by kind: fewer of those that refit each sample many times.
    pub runs: [u64; 6],
    /// Samples whose fit was refused or did not settle: they count as not held.
    pub refused: u64,
    /// Samples whose interval held the truth, by kind and quantity.
    pub held: [[u64; 2]; 6],
}

impl Counts {
    /// Share held.
    pub fn share(&self, kind: usize, quantity: usize) -> f64 {
        self.held[kind][quantity] as f64 / self.runs[kind] as f64
    }
}

/// Samples drawn for a kind: fewer where each is refitted many times. With the failures from which a corrected profile is
/// promised to be good, its shares must not be a matter of chance.
pub fn drawn(kind: usize, failures: u64, runs: u64, refitted: u64) -> u64 {
    match KINDS[kind] {
        "corrected profile" if failures == PROMISED => runs,
        "corrected profile" | "bootstrap" | "bias-corrected bootstrap" => refitted,
        _ => runs,
    }
}

/// The age at which all lamps stop, or the end of the ages at which they stop, so that `share` fail on average.
fn stop(censoring: Censoring, share: f64) -> f64 {
    if censoring != Censoring::Staggered {
        return TRUTH.scale * (-(-share).ln_1p()).powf(1.0 / TRUTH.shape);
    }
    // Mean failure probability over ages even in (0, c): 1 - (mean age to c) / c; it rises with c.
    let (mut low, mut high) = (1.0, 1e6);
    for _ in 0..200 {
        let c = 0.5 * (low + high);
        let failing = TRUTH.mean_to(c).map_or(1.0, |m| 1.0 - m / c);
        if failing < share { low = c } else { high = c }
    }
    0.5 * (low + high)
}

/// Lamps of one run.
pub fn sample(censoring: Censoring, failures: u64, seed: u64, run: u64) -> Result<Tally> {
    let lamps = (failures as f64 / censoring.failing()).ceil();
    let end = stop(censoring, failures as f64 / lamps);
    let class = format!("{} {failures}", censoring.name());
    let mut stream = Stream::new(seed, "coverage", &class, run);
    let mut rows = Rows::default();
    for _ in 0..lamps as u64 {
        let life = TRUTH.draw(&mut stream)?;
        let stopped = if censoring == Censoring::Staggered { end * stream.uniform() } else { end };
        rows.low.push(life.min(stopped));
        rows.high.push(if life <= stopped { life } else { f64::INFINITY });
    }
    Ok(Tally::from_rows(&rows)?.0)
}

fn asked() -> [(Quantity, f64); 2] {
    let b10 = TRUTH.scale * (-(-0.1_f64).ln_1p()).powf(1.0 / TRUTH.shape);
    [(Quantity::Parameter("shape".into()), TRUTH.shape), (Quantity::BLife(10.0), b10)]
}

/// An end that is not there is no bound, so it holds.
fn holds(interval: Result<Interval>, truth: f64) -> u64 {
    interval.map_or(0, |i| u64::from(i.low.is_none_or(|low| low <= truth) && i.high.is_none_or(|high| truth <= high)))
}

/// One run: which intervals of the kinds it was drawn for hold the truth; none of those whose fit was refused.
fn one(censoring: Censoring, failures: u64, seed: u64, run: u64, kinds: [bool; 6]) -> Result<Counts> {
    let data = sample(censoring, failures, seed, run)?;
    let (options, work, weibull) = (FitOptions::default(), Run::new(), family("weibull")?);
    let mut counts = Counts { runs: kinds.map(u64::from), ..Counts::default() };
    let fitted: Option<Fit> = fit(weibull, &data, &options, &work).ok().filter(Fit::converged);
    counts.refused = u64::from(fitted.is_none());
    let replicates: Option<Bootstrap> = if kinds[3] && fitted.is_some() {
        bootstrap(weibull, &data, &options, REPLICATES, seed ^ run, censoring.name(), &work).ok()
    } else {
        None
    };
    let prior = Prior { shape: Belief::Within { low: SHAPES.0, high: SHAPES.1 }, ..Prior::default() };
    let belief: Option<Posterior> = posterior(weibull, &data, &options, &prior, 0, seed, &work).ok();
    for (k, (quantity, truth)) in asked().into_iter().enumerate() {
        let both = Sides::Both;
        if let Some(fit) = &fitted {
            counts.held[0][k] = holds(fit.wald(&quantity, LEVEL, both), truth);
            counts.held[1][k] = holds(fit.profile(&data, &options, &quantity, LEVEL, both, &work), truth);
            if kinds[2] {
                let made = fit.profile_corrected(&data, &options, &quantity, LEVEL, SIMULATED, seed ^ run, &work);
                counts.held[2][k] = holds(made, truth);
            }
        }
        if let Some(draws) = &replicates {
            counts.held[3][k] = holds(draws.interval(&quantity, LEVEL, both), truth);
            counts.held[4][k] = holds(draws.bias_corrected(&quantity, LEVEL, both), truth);
        }
        if let Some(belief) = &belief {
            // The truth lies between the two ends when its own probability does.
            let p = belief.probability_below(&quantity, truth)?;
            counts.held[5][k] = u64::from((p - 0.5).abs() <= 0.5 * LEVEL);
        }
    }
    Ok(counts)
}

/// All runs of a cell, the first `refitted` of them with every kind; the same for any number of threads.
pub fn count(censoring: Censoring, failures: u64, seed: u64, runs: u64, refitted: u64) -> Result<Counts> {
    let mut sum = Counts::default();
    let made = |run: u64| {
        let kinds = std::array::from_fn(|kind| run < drawn(kind, failures, runs, refitted));
        one(censoring, failures, seed, run, kinds)
    };
    for each in Run::new().map(runs as usize, |run| made(run as u64))? {
        let each = each?;
        sum.refused += each.refused;
        for (a, b) in sum.runs.iter_mut().zip(each.runs) {
            *a += b;
        }
        for (a, b) in sum.held.iter_mut().flatten().zip(each.held.into_iter().flatten()) {
            *a += b;
        }
    }
    Ok(sum)
}

/// Whether the exact 99 % binomial range of a share held by [`JUDGED`] samples includes the level.
pub fn good(share: f64) -> Result<bool> {
    let (n, k) = (JUDGED, JUDGED * share);
    let low = if k <= 0.0 { 0.0 } else { beta_quantile(k, n - k + 1.0, 0.005)? };
    let high = if k >= n { 1.0 } else { beta_quantile(k + 1.0, n - k, 0.995)? };
    Ok(low <= LEVEL && LEVEL <= high)
}
