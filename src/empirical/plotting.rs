//! Plotting positions: the failed share that stands for each failure, by its rank adjusted for lamps taken out earlier.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure;
use crate::base::math::beta::beta_quantile;
use crate::base::sound::{Checks, Sound};
use crate::lives::Tally;

/// How a rank becomes a failed share.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PositionRule {
    /// The exact median rank: the median of Beta(rank, n + 1 - rank).
    #[default]
    Median,
    /// Benard's approximation of it, (rank - 0.3) / (n + 0.4).
    Benard,
}

/// One point for each failure, in order of age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlottingPositions {
    /// Ages at failure, ascending, `(failures,)`, hours; equal ages stand side by side.
    pub ages: Vec<f64>,
    /// Adjusted ranks, `(failures,)`.
    pub ranks: Vec<f64>,
    /// Failed shares, `(failures,)`.
    pub positions: Vec<f64>,
    /// How they came from the ranks.
    pub rule: PositionRule,
    /// Lamps in the sample, n: without those of count 0 or right-censored at entry, about which the rows say nothing.
    pub lamps: u64,
}

impl Sound for PlottingPositions {
    fn check(&self, c: &mut Checks) {
        c.rising("ages", &self.ages, true);
        c.entries("ranks", self.ranks.len(), self.ages.len());
        c.entries("positions", self.positions.len(), self.ages.len());
        c.column("ranks", &self.ranks, Checks::positive);
        c.column("positions", &self.positions, Checks::share);
        let n = self.lamps as f64;
        let mut before = 0.0;
        for (i, (&rank, &position)) in self.ranks.iter().zip(&self.positions).enumerate() {
            // Lamps taken out earlier make the steps larger, never smaller.
            let step = rank >= before + 1.0 - 1e-9 && rank <= n * (1.0 + 1e-9);
            c.need(&format!("ranks[{i}]"), step, rank, format!("{} to {n}", before + 1.0));
            before = rank;
            let made = if self.rule == PositionRule::Benard {
                Some((rank - 0.3) / (n + 0.4))
            } else if i < RECOMPUTED {
                beta_quantile(rank, n + 1.0 - rank, 0.5).ok()
            } else {
                None
            };
            if let Some(made) = made {
                c.equal(&format!("positions[{i}]"), position, made);
            }
        }
        let order = self.positions.is_sorted();
        c.need("positions", order, "another order", "rising shares");
        let failures = self.ages.len() as u64;
        c.need("lamps", self.lamps >= failures, self.lamps, format!("at least {failures}, one for each age"));
    }
}

/// Median ranks that are worked out again when a saved form is read; each takes a search.
const RECOMPUTED: usize = 1_000;

/// Failures above which ranks are refused: they are a tool for small samples.
const MOST_FAILURES: u64 = 100_000;

/// Adjusted ranks and plotting positions of the failures of a right-censored sample.
///
/// # Formula
/// ```text
/// rank of a failure = rank of the failure before + (n + 1 - rank before) / (n + 1 - lamps that left before it)
/// median rank: the F with I(F; rank, n + 1 - rank) = 1/2
/// Benard:      F = (rank - 0.3) / (n + 0.4)
/// ```
/// n: lamps. I: regularised incomplete beta function. Without censoring the ranks are 1, 2, ..., n. A lamp taken out at
/// the age of a failure leaves after it. Equal ages at failure take ranks one after the other.
///
/// # Errors
/// Refused, all rows named: `empirical.rank_interval` (failures known to an interval, left-censored ones too),
/// `empirical.rank_entry` (late entry), `empirical.rank_upper` (windows), as ranks are not defined for these;
/// `empirical.no_lamps`; `empirical.rank_no_failures`. Limit: `empirical.rank_too_many` above 100,000 failures.
///
/// # Source
/// L. G. Johnson (1964), The Statistical Treatment of Fatigue Experiments; A. Benard and E. C. Bos-Levenbach (1953),
/// Statistica Neerlandica 7, 163-173; IEC 61649. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{PositionRule, plotting_positions};
/// use relamp::lives::{Rows, Tally};
/// // Failed at 100 h, taken out at 150 h, failed at 200 h.
/// let rows = Rows { low: vec![100.0, 150.0, 200.0], high: vec![100.0, f64::INFINITY, 200.0], ..Rows::default() };
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let points = plotting_positions(&tally, PositionRule::Benard)?;
/// assert_eq!(points.ranks, [1.0, 2.5]); // 1 + (4 - 1) / (4 - 2)
/// assert!((points.positions[1] - 2.2 / 3.4).abs() < 1e-15);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn plotting_positions(tally: &Tally, rule: PositionRule) -> Result<PlottingPositions> {
    let tally = &*tally.informative();
    check(tally)?;
    let n = tally.lamps() as f64;
    let mut made =
        PlottingPositions { ages: Vec::new(), ranks: Vec::new(), positions: Vec::new(), rule, lamps: tally.lamps() };
    // In canonical order of the tally an exact row comes before a right-censored one of the same age.
    let mut order: Vec<(f64, bool, u64)> = tally
        .low()
        .iter()
        .zip(tally.high())
        .zip(tally.count())
        .map(|((&low, &high), &count)| (low, high == f64::INFINITY, count))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let (mut rank, mut left) = (0.0, 0_u64);
    for (age, censored, count) in order {
        if !censored {
            for before in left..left + count {
                rank += (n + 1.0 - rank) / (n + 1.0 - before as f64);
                made.ages.push(age);
                made.ranks.push(rank);
                made.positions.push(match rule {
                    PositionRule::Median => beta_quantile(rank, n + 1.0 - rank, 0.5)?,
                    PositionRule::Benard => (rank - 0.3) / (n + 0.4),
                });
            }
        }
        left += count;
    }
    Ok(made)
}

fn check(tally: &Tally) -> Result<()> {
    let problem = |slug, what: &str, i: usize, column: &'static str, got: f64, expected: &str| {
        let place = Tally::place(i, column);
        Problem::new(slug, what).at(place).got(got).expected(expected)
    };
    let mut problems = Vec::new();
    for (i, (&low, &high)) in tally.low().iter().zip(tally.high()).enumerate() {
        if low < high && high < f64::INFINITY {
            let what = if low > 0.0 {
                "a failure known to an interval has no rank"
            } else {
                "a left-censored failure has no rank"
            };
            problems.push(problem("empirical.rank_interval", what, i, "high", high, "a failure at a known age"));
        }
    }
    for (i, &entry) in tally.entry().unwrap_or(&[]).iter().enumerate().filter(|(_, e)| **e > 0.0) {
        let what = "a lamp that came under observation late has no rank among all lamps";
        problems.push(problem("empirical.rank_entry", what, i, "entry", entry, "0"));
    }
    for (i, &upper) in tally.upper().unwrap_or(&[]).iter().enumerate() {
        if upper < f64::INFINITY {
            let what = "records that show failures only have no ranks";
            problems.push(problem("empirical.rank_upper", what, i, "upper", upper, "rows without upper"));
        }
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Refused, problems).with_hint("a fit by maximum likelihood takes such rows"));
    }
    if tally.lamps() == 0 {
        let problem = Problem::new("empirical.no_lamps", "no lamps, so no ranks").at(Place::input("tally"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let failures = tally.failures();
    if failures == 0 {
        let problem = Problem::new("empirical.rank_no_failures", "no failures, so no ranks").at(Place::input("tally"));
        return Err(Error::new(Kind::Refused, problem));
    }
    if failures > MOST_FAILURES {
        let problem = Problem::new("empirical.rank_too_many", "ranks are a tool for small samples")
            .at(Place::input("tally"))
            .got(figure::counted(failures, "failure"))
            .expected(format!("at most {MOST_FAILURES}; a fit by maximum likelihood takes any number"));
        return Err(Error::new(Kind::Limit, problem));
    }
    Ok(())
}
