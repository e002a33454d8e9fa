//! Profiles of a piecewise-constant hazard against its constrained maxima, which follow from one multiplier.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{Fit, FitOptions, Quantity, Sides, fit};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;
/// Half the 95 % quantile of chi-square with one degree of freedom.
const CUT: f64 = 1.920_729_410_347_062;

/// How far ln L falls where a figure has some value.
type Fall<'s> = Box<dyn Fn(f64) -> f64 + 's>;

/// A few lamps, some under observation late and some still burning, in pieces of constant hazard.
struct Sample {
    cuts: Vec<f64>,
    data: Tally,
    /// Failures and hours under observation in each piece.
    failures: Vec<f64>,
    hours: Vec<f64>,
}

/// Hours of an age within piece `i`.
fn spent(cuts: &[f64], i: usize, from: f64, to: f64) -> f64 {
    let start = if i == 0 { 0.0 } else { cuts[i - 1] };
    (to.min(cuts.get(i).copied().unwrap_or(INF)) - from.max(start)).max(0.0)
}

impl Sample {
    fn new(seed: u64) -> Self {
        let n = 10 + (seed as usize * 7) % 21;
        let cuts = if seed.is_multiple_of(2) { vec![400.0, 900.0] } else { vec![300.0, 600.0, 1000.0] };
        let until = [900.0, 1400.0, 5000.0][seed as usize % 3];
        let mut stream = Stream::new(20_261_127, "fit", "pieces", seed);
        let ages = Weibull { shape: 1.8, scale: 1000.0 }.draws(n, &mut stream).unwrap();
        let late = |i: usize| seed % 4 == 3 && i.is_multiple_of(3);
        let entry: Vec<f64> =
            ages.iter().enumerate().map(|(i, t)| if late(i) { (0.4 * t).min(300.0) } else { 0.0 }).collect();
        let low: Vec<f64> = ages.iter().map(|t| t.min(until)).collect();
        let high: Vec<f64> = ages.iter().map(|t| if *t > until { INF } else { *t }).collect();
        let pieces = 0..=cuts.len();
        let hours =
            pieces.clone().map(|i| low.iter().zip(&entry).map(|(t, e)| spent(&cuts, i, *e, *t)).sum()).collect();
        let place = |t: f64| cuts.partition_point(|cut| *cut < t);
        let failures = pieces.map(|i| high.iter().filter(|t| **t < INF && place(**t) == i).count() as f64).collect();
        let rows = Rows { low, high, entry: Some(entry), ..Rows::default() };
        Self { data: Tally::from_rows(&rows).unwrap().0, cuts, failures, hours }
    }

    fn fitted(&self) -> Option<Fit> {
        let cuts: Vec<String> = self.cuts.iter().map(f64::to_string).collect();
        let name = format!("piecewise_constant({})", cuts.join(", "));
        // A piece without a failure has no fit.
        fit(family(&name).unwrap(), &self.data, &FitOptions::default(), &Run::new()).ok()
    }

    fn ln_likelihood(&self, hazards: &[f64]) -> f64 {
        let each = hazards.iter().zip(&self.failures).zip(&self.hours);
        each.map(|((h, d), e)| d * h.ln() - h * e).sum()
    }

    /// How far ln L lies below its maximum where hazards times `weights` add up to `sum`: each hazard is d / (e + m w) there,
    /// with one multiplier m.
    fn fall(&self, weights: &[f64], sum: f64) -> f64 {
        let at = |m: f64| -> Vec<f64> {
            (0..weights.len()).map(|i| self.failures[i] / (self.hours[i] + m * weights[i])).collect()
        };
        let least =
            weights.iter().zip(&self.hours).filter(|(w, _)| **w > 0.0).map(|(w, e)| -e / w).fold(-INF, f64::max);
        let (mut low, mut high) = (-60.0, 60.0);
        for _ in 0..200 {
            let middle: f64 = 0.5 * (low + high);
            let total: f64 = at(least + middle.exp()).iter().zip(weights).map(|(h, w)| h * w).sum();
            if total > sum { low = middle } else { high = middle }
        }
        let best: Vec<f64> = self.failures.iter().zip(&self.hours).map(|(d, e)| d / e).collect();
        self.ln_likelihood(&best) - self.ln_likelihood(&at(least + high.exp()))
    }

    fn weights(&self, from: f64, to: f64) -> Vec<f64> {
        (0..=self.cuts.len()).map(|i| spent(&self.cuts, i, from, to)).collect()
    }

    /// Figures with how far ln L falls at a value of each.
    fn asked(&self) -> Vec<(Quantity, Fall<'_>)> {
        let mut out: Vec<(Quantity, Fall<'_>)> = Vec::new();
        for age in [200.0, 400.0, 700.0, 1000.0, 1300.0] {
            let weights = self.weights(0.0, age);
            out.push((Quantity::Reliability(age), Box::new(move |r| self.fall(&weights, -r.ln()))));
        }
        for p in [0.05, 0.1, 0.3, 0.5, 0.8] {
            let passed = -f64::ln_1p(-p);
            out.push((Quantity::Quantile(p), Box::new(move |age| self.fall(&self.weights(0.0, age), passed))));
        }
        for (age_hours, hours) in [(0.0, 300.0), (300.0, 400.0), (500.0, 700.0)] {
            let weights = self.weights(age_hours, age_hours + hours);
            let within = Quantity::FailureWithin { age_hours, hours };
            out.push((within, Box::new(move |p| self.fall(&weights, -f64::ln_1p(-p)))));
        }
        for i in 0..=self.cuts.len() {
            let weights: Vec<f64> = (0..=self.cuts.len()).map(|j| f64::from(u8::from(i == j))).collect();
            let name = Quantity::Parameter(format!("hazard_{}", i + 1));
            out.push((name, Box::new(move |h| self.fall(&weights, h))));
        }
        out
    }
}

#[test]
fn ends_lie_where_the_constrained_maximum_has_fallen() {
    let mut ends = 0;
    for seed in 0..60 {
        let sample = Sample::new(seed);
        let Some(found) = sample.fitted() else { continue };
        for (quantity, fall) in sample.asked() {
            let run = Run::new();
            let got = found.profile(&sample.data, &FitOptions::default(), &quantity, 0.95, Sides::Both, &run);
            let got = got.unwrap_or_else(|error| panic!("{seed} {quantity:?}: {error}"));
            for end in [got.low.unwrap(), got.high.unwrap()] {
                let fallen = fall(end);
                assert!((fallen - CUT).abs() < 1e-5, "{seed} {quantity:?} {end} {fallen}");
                ends += 1;
            }
        }
    }
    assert!(ends > 1000, "{ends}");
}

#[test]
fn the_curve_between_the_ends_is_the_constrained_maximum() {
    let fits = (0..60).map(Sample::new).find_map(|sample| sample.fitted().map(|found| (sample, found)));
    let (sample, found) = fits.unwrap();
    for (quantity, fall) in sample.asked() {
        let curve = found.profile_curve(&sample.data, &FitOptions::default(), &quantity, 0.95, 41, &Run::new());
        let curve = curve.unwrap_or_else(|error| panic!("{quantity:?}: {error}"));
        assert_eq!(curve.values.len(), 41, "{quantity:?} {:?}", curve.notes);
        for (value, height) in curve.values.iter().zip(&curve.relative_log_likelihood) {
            assert!((height + fall(*value)).abs() < 1e-6, "{quantity:?} {value} {height} {}", fall(*value));
        }
    }
}

#[test]
fn looks_at_intervals_have_the_profile_of_a_grid() {
    // Twenty lamps looked at every 300 h: no age at failure is known.
    let low = vec![0.0, 300.0, 600.0, 900.0, 1200.0];
    let (high, count) = (vec![300.0, 600.0, 900.0, 1200.0, INF], vec![2, 4, 5, 4, 5]);
    let rows = Rows { low: low.clone(), high: high.clone(), count: Some(count.clone()), ..Rows::default() };
    let data = Tally::from_rows(&rows).unwrap().0;
    let options = FitOptions::default();
    let found = fit(family("piecewise_constant(500)").unwrap(), &data, &options, &Run::new()).unwrap();
    let ln_likelihood = |early: f64, late: f64| -> f64 {
        let passed = |t: f64| if t < INF { (-early * t.min(500.0) - late * (t - 500.0).max(0.0)).exp() } else { 0.0 };
        low.iter().zip(&high).zip(&count).map(|((a, b), n)| *n as f64 * (passed(*a) - passed(*b)).ln()).sum()
    };
    let asked = Quantity::Reliability(800.0);
    let got = found.profile(&data, &options, &asked, 0.95, Sides::Both, &Run::new()).unwrap();
    for end in [got.low.unwrap(), got.high.unwrap()] {
        // The early hazard leaves the late one no choice.
        let most = -end.ln() / 500.0;
        let best = (1..40_000)
            .map(|k| {
                let early = most * f64::from(k) / 40_000.0;
                ln_likelihood(early, (-end.ln() - 500.0 * early) / 300.0)
            })
            .fold(-INF, f64::max);
        assert!((found.log_likelihood() - best - CUT).abs() < 1e-5, "{end} {}", found.log_likelihood() - best);
    }
}
