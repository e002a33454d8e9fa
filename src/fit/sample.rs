//! One sample read row by row from a tally: what kind of evidence each row is, for the endings that count.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::sum::{self, LANES};
use crate::family::Outline;
use crate::lives::Tally;
use crate::records::Ending;

/// What one row says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Evidence {
    /// Failed at this age.
    Exact(f64),
    /// Passed this age.
    Passed(f64),
    /// Failed in (low, high].
    Between(f64, f64),
}

/// A row: its evidence, and the window (entry, upper] in which a failure would have been seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub(super) evidence: Evidence,
    pub(super) entry: f64,
    pub(super) upper: f64,
}

/// A tally, the endings that count as failure here, and one weight per row.
#[derive(Clone, Debug)]
pub(super) struct Sample<'a> {
    pub(super) tally: &'a Tally,
    /// Bit set of ending codes that count; a failure with another ending is censored at its `low`.
    counts: u64,
    pub(super) weights: Vec<f64>,
    /// Whether every row is an exact failure or right-censored and none is windowed.
    pub(super) simple: bool,
    pub(super) count: Count,
    /// The windows of rows that share them, where these are few.
    pub(super) windows: Option<Windows>,
}

/// Windows that rows share: what one takes off the likelihood is worked out once.
#[derive(Clone, Debug)]
pub(super) struct Windows {
    /// Place of each row's window; past the end for a row without one.
    of: Vec<u32>,
    /// Entry and upper of each.
    pub(super) each: Vec<(f64, f64)>,
}

impl Windows {
    /// Those with an end; none where there are more than one for every two rows.
    fn shared(tally: &Tally) -> Option<Self> {
        let upper = tally.upper()?;
        let entry = |i: usize| tally.entry().and_then(|e| e.get(i)).copied().unwrap_or(0.0);
        let mut known: BTreeMap<[u64; 2], u32> = BTreeMap::new();
        let (mut of, mut each) = (Vec::with_capacity(upper.len()), Vec::new());
        for (i, upper) in upper.iter().enumerate() {
            if *upper == f64::INFINITY {
                of.push(u32::MAX);
                continue;
            }
            let next = each.len() as u32;
            let place = *known.entry([upper.to_bits(), entry(i).to_bits()]).or_insert(next);
            if place == next {
                each.push((entry(i), *upper));
                if 2 * each.len() > tally.rows() {
                    return None;
                }
            }
            of.push(place);
        }
        (!each.is_empty()).then_some(Self { of, each })
    }

    /// Place of the window of row `i`; none for a row without one.
    pub(super) fn of(&self, i: usize) -> Option<usize> {
        self.of.get(i).filter(|k| **k != u32::MAX).map(|k| *k as usize)
    }

    /// The weights of all rows of each window.
    pub(super) fn weights(&self, rows: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.each.len()];
        for (i, w) in rows.iter().enumerate() {
            if let Some(sum) = self.of(i).and_then(|k| out.get_mut(k)) {
                *sum += w;
            }
        }
        out
    }
}

/// Counts and extremes of a sample, unweighted.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Count {
    pub(super) lamps: u64,
    pub(super) failures: u64,
    pub(super) exposure: f64,
    pub(super) oldest: f64,
    pub(super) oldest_failure: f64,
    /// Whether rows show failures only: their hours are those of failed lamps, so no rate follows from them.
    pub(super) windowed: bool,
    /// Whether some rows do, which is enough to spoil a rate.
    pub(super) some_windowed: bool,
    /// Whether failures are known to intervals.
    pub(super) between: bool,
}

/// What one block of rows shows.
#[derive(Default)]
struct Seen {
    count: Count,
    between: bool,
    windowed: bool,
    failed_at_zero: bool,
}

/// Whether every row shows a lamp only because it failed within a window, as in files of claims.
pub(super) fn claims_only(tally: &Tally) -> bool {
    let upper = tally.upper().unwrap_or(&[]);
    let open = upper.iter().enumerate().any(|(i, upper)| *upper == f64::INFINITY && tally.informs(i));
    tally.windowed() && !open
}

impl<'a> Sample<'a> {
    /// A sample in which `endings` count as failures (none: every row that is not right-censored),
    /// with whole counts times optional real weights.
    pub(super) fn new(tally: &'a Tally, endings: Option<&[Ending]>, weights: Option<&[f64]>) -> Result<Self> {
        let counts = endings.map_or(u64::MAX, |set| set.iter().fold(0, |bits, e| bits | 1 << e.code()));
        let real = weights.map(|real| check_weights(tally, real)).transpose()?;
        let mut weights = vec![0.0; tally.rows()];
        sum::fill_blocks(&mut weights, |block, out| {
            let counts = tally.count[block.clone()].iter().map(|c| *c as f64);
            match real {
                None => out.iter_mut().zip(counts).for_each(|(w, c)| *w = c),
                Some(real) => out.iter_mut().zip(counts.zip(&real[block])).for_each(|(w, (c, r))| *w = c * r),
            }
        });
        let mut sample =
            Self { tally, counts, weights, simple: true, count: Count::default(), windows: Windows::shared(tally) };
        sample.count.windowed = claims_only(tally);
        sample.look()?;
        Ok(sample)
    }

    /// Looks at every row once: counts, extremes, what kinds there are, and failures that cannot be.
    fn look(&mut self) -> Result<()> {
        let seen = sum::each_block(self.tally.rows(), |block| self.look_at(block));
        self.count.exposure = sum::pairwise(&seen.iter().map(|s| s.count.exposure).collect::<Vec<f64>>());
        let mut at_zero = false;
        for Seen { count, between, windowed, failed_at_zero } in seen {
            self.count.lamps += count.lamps;
            self.count.failures += count.failures;
            self.count.oldest = self.count.oldest.max(count.oldest);
            self.count.oldest_failure = self.count.oldest_failure.max(count.oldest_failure);
            self.simple &= !between && !windowed;
            self.count.between |= between;
            self.count.some_windowed |= windowed;
            at_zero |= failed_at_zero;
        }
        if at_zero { self.check_zero() } else { Ok(()) }
    }

    fn look_at(&self, block: Range<usize>) -> Seen {
        let mut seen = Seen::default();
        let mut hours = [0.0; LANES];
        for (step, i) in block.enumerate() {
            let n = self.tally.count[i];
            let Row { evidence, entry, upper } = self.row(i);
            let (middle, last, failed) = match evidence {
                Evidence::Exact(age) => (age, age, true),
                Evidence::Passed(age) => (age, age, false),
                Evidence::Between(low, high) => (0.5 * (low + high), high, true),
            };
            // A lamp that was watched counts, though it may tell nothing of the endings that are asked for.
            seen.count.lamps += if self.tally.informs(i) { n } else { 0 };
            if n == 0 || evidence == Evidence::Passed(entry) {
                continue;
            }
            seen.between |= matches!(evidence, Evidence::Between(..));
            seen.windowed |= upper < f64::INFINITY;
            hours[step % LANES] += n as f64 * (middle - entry).max(0.0);
            seen.count.oldest = seen.count.oldest.max(last);
            if failed {
                seen.failed_at_zero |= evidence == Evidence::Exact(0.0);
                seen.count.failures += n;
                seen.count.oldest_failure = seen.count.oldest_failure.max(last);
            }
        }
        seen.count.exposure = sum::join(&hours);
        seen
    }

    /// Whether row `i` says anything: it stands for lamps that were watched past their entry.
    pub(super) fn informs(&self, i: usize) -> bool {
        let row = self.row(i);
        self.tally.count[i] > 0 && row.evidence != Evidence::Passed(row.entry)
    }

    /// Row `i`; `i` must be below the number of rows.
    #[inline]
    pub(super) fn row(&self, i: usize) -> Row {
        let (low, high) = (self.tally.low[i], self.tally.high[i]);
        let entry = self.tally.entry.as_ref().map_or(0.0, |e| e[i]);
        let upper = self.tally.upper.as_ref().map_or(f64::INFINITY, |u| u[i]);
        let evidence = if high == f64::INFINITY || self.counts & (1 << self.tally.ending[i]) == 0 {
            Evidence::Passed(low)
        } else if low == high {
            Evidence::Exact(low)
        } else {
            Evidence::Between(low.max(entry), high)
        };
        Row { evidence, entry, upper }
    }

    /// An exact failure at age 0 has no place in a family of lives above 0.
    fn check_zero(&self) -> Result<()> {
        let problems: Vec<Problem> = (0..self.tally.rows())
            .filter(|&i| self.tally.count[i] > 0 && self.row(i).evidence == Evidence::Exact(0.0))
            .map(|i| {
                Problem::new("fit.exact_age_zero", "a failure at exactly 0 hours cannot enter a fit")
                    .at(Tally::place(i, "low"))
                    .got(0.0)
                    .expected("an age above 0, or the interval from 0 to the first meter step, such as (0, 1]")
            })
            .collect();
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Refused, problems)) }
    }

    /// The same sample with some rows standing for the others: about `most` of those that failed and as many of those that
    /// did not, taken evenly. Its maximum is a start. None where that saves little.
    pub(super) fn thinned(&self, most: usize) -> Option<Self> {
        let failed = |i: usize| !matches!(self.row(i).evidence, Evidence::Passed(_));
        let rows = || (0..self.tally.rows()).filter(|&i| self.weights[i] > 0.0);
        let failures = rows().filter(|&i| failed(i)).count();
        let every = [rows().count() - failures, failures].map(|n| (n / most.max(1)).max(1));
        if every == [1, 1] {
            return None;
        }
        let (mut thin, mut seen) = (self.clone(), [0, 0]);
        thin.weights.fill(0.0);
        for i in rows() {
            let kind = usize::from(failed(i));
            if seen[kind] % every[kind] == every[kind] / 2 {
                thin.weights[i] = self.weights[i] * every[kind] as f64;
            }
            seen[kind] += 1;
        }
        Some(thin)
    }

    /// Outline for the start of a search.
    pub(super) fn outline(&self) -> Outline {
        let rows = 0..self.tally.rows();
        let [failures, exposure, first, second, sum, square] = sum::blocks(rows.len(), |rows| {
            let mut s = [0.0; 6];
            for i in rows {
                let w = self.weights[i];
                let Row { evidence, entry, .. } = self.row(i);
                let (age, failed) = match evidence {
                    Evidence::Exact(age) => (age, true),
                    Evidence::Passed(age) => (age, false),
                    Evidence::Between(low, high) => (0.5 * (low + high), true),
                };
                s[1] += w * (age - entry).max(0.0);
                if failed && w > 0.0 {
                    let y = age.ln();
                    s[0] += w;
                    s[2] += w * y;
                    s[3] += w * y * y;
                    s[4] += w * age;
                    s[5] += w * age * age;
                }
            }
            s
        });
        let mean_ln = first / failures;
        let sd_ln = (second / failures - mean_ln * mean_ln).max(0.0).sqrt();
        let mean = sum / failures;
        let sd = (square / failures - mean * mean).max(0.0).sqrt();
        Outline { failures, exposure, mean, sd, mean_ln, sd_ln }
    }
}

fn check_weights<'w>(tally: &Tally, weights: &'w [f64]) -> Result<&'w [f64]> {
    if weights.len() != tally.rows() {
        return Err(Error::new(
            Kind::Input,
            Problem::new("fit.weights_length", "one weight per row is needed")
                .at(Place::input("weights"))
                .got(weights.len())
                .expected(tally.rows().to_string()),
        ));
    }
    let problems: Vec<Problem> = weights
        .iter()
        .enumerate()
        .filter(|(_, w)| !(**w >= 0.0 && **w < f64::INFINITY))
        .map(|(i, w)| {
            Problem::new("fit.weight", "not a weight")
                .at(Place::input("weights").row(i as u64 + 1))
                .got(w)
                .expected("a finite number, 0 or more")
        })
        .collect();
    if problems.is_empty() { Ok(weights) } else { Err(Error::many(Kind::Input, problems)) }
}
