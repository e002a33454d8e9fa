//! Where charts raise an alarm: as low as false alarms allow, by playing sound charts with the same expected failures.

use super::chart::A_YEAR;
use super::expected::WatchedMonth;
use super::month::Month;
use super::sawtooth::Sawtooth;
use crate::base::error::Result;
use crate::base::math::root::bracketed;
use crate::base::random::Stream;
use crate::base::run::Run;

/// At least two failures raise an alarm: one alone is no pattern, however little was expected.
const LEAST_STEPS: f64 = 1.5;
/// Most of the sum that is searched: false alarms are then rarer than one in 10^7 expected failures.
const MOST: f64 = 40.0;
/// Months of charts that one trial of a bound plays, about.
const PLAYED: usize = 500_000;
/// How often all charts are played, at least and at most.
const TIMES: (usize, usize) = (20, 200);
/// Trials of a bound: each halves the range.
const TRIALS: usize = 10;
/// Standard errors of the played number that are added to it, so that luck of the play does not lower the bound.
const MARGIN: f64 = 2.0;

/// The bound, and the false alarms a year that it lets through.
pub(super) struct Bound {
    pub(super) bound: f64,
    pub(super) false_alarms_a_year: f64,
}

/// A chart to play: its first month, counted from the first of all, and the failures expected in each from then on.
struct Played {
    from: usize,
    expected: Vec<f64>,
}

/// All charts over all months.
pub(super) struct Charts {
    each: Vec<Played>,
    months: usize,
}

impl Charts {
    pub(super) fn new(months: &[WatchedMonth], first: Month, last: Month) -> Self {
        let place = |month: Month| usize::try_from(first.months_until(month)).unwrap_or(0);
        let each = months.chunk_by(|a, b| (a.by, &a.name) == (b.by, &b.name)).map(|own| {
            let from = own.first().map_or(0, |m| place(m.month));
            let mut expected = vec![0.0; place(last) + 1 - from];
            for m in own {
                if let Some(e) = expected.get_mut(place(m.month) - from) {
                    *e = m.expected;
                }
            }
            Played { from, expected }
        });
        Self { each: each.collect(), months: place(last) + 1 }
    }

    /// Sum over the twelve months in a row with most; a shorter record counts as the part of a year that it is.
    pub(super) fn busiest_year(&self, by_month: &[f64]) -> f64 {
        let year = A_YEAR as usize;
        if self.months < year {
            return by_month.iter().fold(0.0, |a, b| a + b) * year as f64 / self.months as f64;
        }
        by_month.windows(year).map(|w| w.iter().fold(0.0, |a, b| a + b)).fold(0.0, f64::max)
    }

    /// Expected failures of all charts in each month.
    pub(super) fn expected(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.months];
        for chart in &self.each {
            for (sum, e) in out.iter_mut().skip(chart.from).zip(&chart.expected) {
                *sum += e;
            }
        }
        out
    }

    /// Alarms of one play of all charts, by month. Failures are a Poisson process at rate 1 on the clock of expected ones.
    fn play(&self, ratio: f64, bound: f64, time: usize) -> Vec<u32> {
        let mut alarms = vec![0; self.months];
        let mut stream = Stream::new(0, "watch", "bound", time as u64);
        let (step, fall) = (ratio.ln(), ratio - 1.0);
        for chart in &self.each {
            let (mut sum, mut next) = (0.0, stream.exponential());
            for (alarms, expected) in alarms.iter_mut().skip(chart.from).zip(&chart.expected) {
                next -= expected;
                let mut failures = 0.0;
                while next < 0.0 {
                    failures += 1.0;
                    next += stream.exponential();
                }
                sum = f64::max(0.0, sum + failures * step - fall * expected);
                if sum >= bound {
                    *alarms += 1;
                    sum = 0.0;
                }
            }
        }
        alarms
    }

    /// False alarms in the busiest year at a bound, and their standard error.
    fn played(&self, ratio: f64, bound: f64, run: &Run) -> Result<(f64, f64)> {
        let size: usize = self.each.iter().map(|c| c.expected.len()).sum();
        let times = (PLAYED / size.max(1)).clamp(TIMES.0, TIMES.1);
        let mut by_month = vec![0.0; self.months];
        for alarms in run.map(times, |time| Ok(self.play(ratio, bound, time)))? {
            for (sum, n) in by_month.iter_mut().zip(alarms?) {
                *sum += f64::from(n);
            }
        }
        let year = self.busiest_year(&by_month);
        Ok((year / times as f64, year.max(1.0).sqrt() / times as f64))
    }

    /// The lowest bound at which at most `wanted` false alarms a year come.
    pub(super) fn bound(&self, ratio: f64, wanted: f64, run: &Run) -> Result<Bound> {
        let chart = Sawtooth { fall: ratio - 1.0, step: ratio.ln(), rate: 1.0 };
        let least = LEAST_STEPS * chart.step;
        let expected = self.busiest_year(&self.expected());
        let too_soon = |bound: f64| Ok(chart.mean_time(bound)?.ln() - (expected / wanted).ln());
        // For charts without a beginning or an end the bound is exact; those that begin at 0 alarm later.
        let mut high = if too_soon(least)? >= 0.0 { least } else { bracketed(too_soon, least, MOST, 1e-12)? };
        let mut kept = Bound { bound: high, false_alarms_a_year: expected / chart.mean_time(high)? };
        let mut low = least;
        for _ in 0..TRIALS {
            let bound = f64::midpoint(low, high);
            let (mean, error) = self.played(ratio, bound, run)?;
            let most = mean + MARGIN * error;
            if most <= wanted {
                kept = Bound { bound, false_alarms_a_year: most };
                high = bound;
            } else {
                low = bound;
            }
        }
        Ok(kept)
    }
}
