//! Where nothing differs, p-values are even: the tests of regressions, of pairs, of currents and of power laws.

use relamp::Run;
use relamp::base::math::special::ln_gamma_q;
use relamp::base::random::Stream;
use relamp::empirical::{Socket, Sockets};
use relamp::family::family;
use relamp::fit::{
    AgeScale, CurrentPiece, FitOptions, HazardOptions, Histories, PairOptions, Terms, ValueIs, compare_pair,
    fit_covariates, fit_current_history, power_law_distance, proportional_hazards,
};
use relamp::lives::{Group, Rows, Tally};
use relamp::records::{Column, Values};

const INF: f64 = f64::INFINITY;

/// Chance of a normal number as far from 0 or farther.
fn two_sided(z: f64) -> f64 {
    ln_gamma_q(0.5, 0.5 * z * z).exp()
}

/// Largest distance of chances from an even spread, times the root of their number.
fn distance(mut chances: Vec<f64>) -> f64 {
    chances.sort_by(f64::total_cmp);
    let n = chances.len() as f64;
    let gaps = chances.iter().enumerate().map(|(i, p)| (p - i as f64 / n).abs().max((p - (i as f64 + 1.0) / n).abs()));
    gaps.fold(0.0, f64::max) * n.sqrt()
}

/// Kolmogorov's law: 2 exp(-2 x^2) = 1e-4 at x = 2.23.
const KOLMOGOROV: f64 = 2.23;

/// Fails unless each column of chances is even, naming those that are not, with the share below 5 %.
#[track_caller]
fn even(chances: &[(String, Vec<f64>)]) {
    let bad: Vec<String> = chances
        .iter()
        .filter(|(_, p)| p.len() < 200 || distance(p.clone()) >= KOLMOGOROV)
        .map(|(name, p)| {
            let low = p.iter().filter(|p| **p < 0.05).count() as f64 / p.len() as f64;
            format!("{name}: distance {:.2}, {low:.3} below 0.05, {} chances", distance(p.clone()), p.len())
        })
        .collect();
    assert!(bad.is_empty(), "{}", bad.join("; "));
}

/// Runs in parallel, the chances of each name gathered.
fn gathered(runs: usize, each: impl Fn(u64) -> Vec<(String, f64)> + Sync) -> Vec<(String, Vec<f64>)> {
    let all = Run::new().map(runs, |run| Ok(each(run as u64))).unwrap();
    let mut out: Vec<(String, Vec<f64>)> = Vec::new();
    for (name, chance) in all.into_iter().flat_map(Result::unwrap) {
        match out.iter_mut().find(|o| o.0 == name) {
            Some(one) => one.1.push(chance),
            None => out.push((name, vec![chance])),
        }
    }
    out
}

/// Lamps of one Weibull law, shape 2 and scale 1,000 h, beside covariates that do nothing: a current that rises with the age
/// of entry, and a supplier of three. Two strata of different scale, some pulled, some entered late.
fn idle(run: u64, n: usize, whole_hours: bool) -> Tally {
    let mut stream = Stream::new(41, "even", "idle", run);
    let mut rows = Rows { entry: Some(Vec::new()), group: Some(Vec::new()), ..Rows::default() };
    rows.groups = (0..2).map(|s| Group { stratum: format!("class {s}"), ..Group::default() }).collect();
    let (mut current, mut supplier) = (Vec::new(), Vec::new());
    while rows.low.len() < n {
        let i = rows.low.len();
        let scale = [1000.0, 1400.0][i % 2];
        let round = |x: f64| if whole_hours { (x / 50.0).ceil() * 50.0 } else { x };
        let fails = round(scale * stream.exponential().sqrt());
        let entry = if i.is_multiple_of(3) { round(500.0 * stream.uniform()) } else { 0.0 };
        let pulled = round(entry + 300.0 + 1200.0 * stream.uniform());
        let amps = 70.0 + 0.01 * entry + 5.0 * stream.uniform();
        if fails > entry {
            rows.low.push(fails.min(pulled));
            rows.high.push(if fails <= pulled { fails } else { INF });
            rows.entry.as_mut().unwrap().push(entry);
            rows.group.as_mut().unwrap().push((i % 2) as u32);
            current.push(Some(amps));
            supplier.push(Some(["north", "south", "west"][(i / 2) % 3].into()));
        }
    }
    let columns = [
        Column { name: "current".into(), values: Values::Number(current) },
        Column { name: "supplier".into(), values: Values::Text(supplier) },
    ];
    Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0
}

#[test]
fn chances_of_terms_that_do_nothing_to_a_life_are_even() {
    let terms = Terms::new(["current", "supplier", "stratum"]);
    even(&gathered(800, |run| {
        let lives = idle(run, 240, false);
        let fit =
            fit_covariates(family("weibull").unwrap(), &lives, &terms, &FitOptions::default(), &Run::new()).unwrap();
        let tests = fit.tests().iter().filter(|t| t.term != "stratum");
        let mut out: Vec<_> = tests.map(|t| (format!("ratio of {}", t.term), t.p_value)).collect();
        for name in ["current", "supplier=south", "supplier=west"] {
            let z = fit.coefficient(name).unwrap() / fit.standard_error(name).unwrap();
            out.push((format!("coefficient {name}"), two_sided(z)));
        }
        out
    }));
}

#[test]
fn chances_of_terms_that_do_nothing_to_a_hazard_are_even() {
    let terms = Terms::new(["current", "supplier"]);
    for whole_hours in [false, true] {
        even(&gathered(800, |run| {
            let lives = idle(run, 240, whole_hours);
            let options = HazardOptions { strata: vec!["stratum".into()], ..HazardOptions::default() };
            let fit = proportional_hazards(&lives, &terms, &options, &Run::new()).unwrap();
            let mut out: Vec<_> =
                fit.tests().iter().map(|t| (format!("ratio of {}, {whole_hours}", t.term), t.p_value)).collect();
            for name in ["current", "supplier=south", "supplier=west"] {
                let b = fit.coefficient(name).unwrap();
                out.push((format!("coefficient {name}"), two_sided(b / fit.standard_error(name).unwrap())));
                let robust = fit.robust_standard_error(name).unwrap().unwrap();
                out.push((format!("robust {name}"), two_sided(b / robust)));
            }
            for scale in [AgeScale::Age, AgeScale::Rank, AgeScale::ProductLimit] {
                let test = fit.proportionality(&lives, &options, scale).unwrap();
                let of = |t: &relamp::fit::TermTest| (format!("proportionality of {} by {scale:?}", t.term), t.p_value);
                out.extend(test.terms.iter().map(of));
                out.push(of(&test.all));
            }
            out
        }));
    }
}

/// Two suppliers alike, watched to different ages; with sites, whose lives differ by a factor of their own.
fn alike(run: u64, lamps: usize, sites: Option<usize>) -> Tally {
    let mut stream = Stream::new(43, "even", "alike", run);
    let mut rows = Rows { group: sites.map(|_| Vec::new()), ..Rows::default() };
    let mut supplier = Vec::new();
    let strays: Vec<f64> = (0..2 * sites.unwrap_or(0)).map(|_| (0.3 * (stream.uniform() - 0.5)).exp()).collect();
    rows.groups = (0..strays.len()).map(|s| Group { cluster: format!("site {s}"), ..Group::default() }).collect();
    for i in 0..lamps {
        for (k, (name, until)) in [("north", 2000.0), ("south", 1100.0)].into_iter().enumerate() {
            let site = sites.map(|n| 2 * (i % n) + k);
            let age = 1500.0 * site.map_or(1.0, |s| strays[s]) * stream.exponential().powf(1.0 / 3.0);
            let watched = 300.0 + (until - 300.0) * stream.uniform();
            rows.low.push(age.min(watched));
            rows.high.push(if age < watched { age } else { INF });
            if let (Some(group), Some(site)) = (rows.group.as_mut(), site) {
                group.push(site as u32);
            }
            supplier.push(Some(name.into()));
        }
    }
    let columns = [Column { name: "supplier".into(), values: Values::Text(supplier) }];
    Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0
}

#[test]
fn chances_of_pairs_alike_are_even_with_clusters_and_without() {
    for (sites, runs, lamps) in [(None, 400, 80), (Some(12), 400, 72)] {
        even(&gathered(runs, |run| {
            let options = PairOptions { replicates: 100, seed: run, ..PairOptions::default() };
            let lives = alike(run, lamps, sites);
            let weibull = family("weibull").unwrap();
            let pair = compare_pair(weibull, &lives, "supplier", ["north", "south"], &options, &Run::new()).unwrap();
            vec![(format!("sites {sites:?}"), pair.test().p_value)]
        }));
    }
}

/// Lamps whose current is raised every 400 h, and whose life it does not touch.
fn raised(run: u64, lamps: usize) -> Histories {
    let mut stream = Stream::new(47, "even", "raised", run);
    let mut out = Histories { single: Some(ValueIs::ConstantOverLife), ..Histories::default() };
    for i in 0..lamps {
        let life = format!("L{i}");
        let fails = 2000.0 * stream.exponential().powf(1.0 / 3.0);
        let end = fails.min(1000.0 + 2000.0 * stream.uniform());
        let (mut current, rise) = (65.0 + 15.0 * stream.uniform(), 1.0 + 0.08 * stream.uniform());
        let mut from = 0.0;
        while from < end {
            let to = end.min(from + 400.0);
            out.pieces.push(CurrentPiece { life: life.clone(), from_hours: from, to_hours: to, current });
            (from, current) = (to, current * rise);
        }
        out.rows.low.push(end);
        out.rows.high.push(if end == fails { end } else { INF });
        out.life.push(life);
    }
    out
}

#[test]
fn chances_of_a_current_that_does_nothing_are_even() {
    even(&gathered(600, |run| {
        let fit =
            fit_current_history(family("weibull").unwrap(), &raised(run, 120), &FitOptions::default(), &Run::new())
                .unwrap();
        let z = fit.power() / fit.standard_error();
        vec![("ratio".to_owned(), fit.test().p_value), ("curvature".to_owned(), two_sided(z))]
    }));
}

#[test]
fn chances_of_the_distance_from_a_power_law_are_even_for_power_laws() {
    for (sockets, mean) in [(1, 12.0), (6, 4.0)] {
        even(&gathered(1000, |run| {
            let mut stream = Stream::new(53, "even", "power law", run);
            let each = (0..sockets).map(|i| {
                let (mut sum, mut failures) = (stream.exponential(), Vec::new());
                while sum < mean {
                    failures.push(2000.0 * (sum / mean).powf(1.0 / 1.6));
                    sum += stream.exponential();
                }
                Socket { name: i.to_string(), group: String::new(), from: 0.0, to: 2000.0, failures }
            });
            let sockets = Sockets::new(each.collect()).unwrap();
            if sockets.failures() < 2 {
                return Vec::new();
            }
            let got = power_law_distance(&sockets, 400, run, &Run::new()).unwrap();
            vec![(format!("{} sockets", sockets.each().len()), got.p_value)]
        }));
    }
}
