//! Profile curves, joint regions, and intervals of further figures: hazard, mean, failure within hours, any function.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Lognormal, Weibull, families, family};
use relamp::fit::{
    BootstrapEnds, Fit, FitOptions, Function, Interval, IntervalMethod, OfLife, Quantity, Scale, Sides, bootstrap, fit,
};
use relamp::lives::{Rows, Tally};
use serde_json::Value;

const INF: f64 = f64::INFINITY;
/// Half of the 95 % quantiles of the chi-square distribution with 1 and 2 degrees of freedom, from any printed table.
const HALF_1: f64 = 0.5 * 3.841_458_820_694_124;
const HALF_2: f64 = 0.5 * 5.991_464_547_107_979;

fn exact(ages: &[f64]) -> Tally {
    Tally::from_rows(&Rows { low: ages.to_vec(), high: ages.to_vec(), ..Rows::default() }).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn profile(fit: &Fit, tally: &Tally, quantity: &Quantity) -> Interval {
    fit.profile(tally, &FitOptions::default(), quantity, 0.95, Sides::Both, &Run::new()).unwrap()
}

fn ends(i: &Interval) -> (f64, f64) {
    (i.low.unwrap(), i.high.unwrap())
}

#[track_caller]
fn close(got: (f64, f64), want: (f64, f64), relative: f64) {
    for (g, w) in [(got.0, want.0), (got.1, want.1)] {
        assert!((g / w - 1.0).abs() < relative, "{got:?} {want:?}");
    }
}

fn reference(name: &str) -> Tally {
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    let case = all["cases"].as_array().unwrap().iter().find(|c| c["name"] == name).unwrap().clone();
    let rows = case["rows"].as_array().unwrap().clone();
    let column = |k: usize, none: f64| rows.iter().map(|r| r[k].as_f64().unwrap_or(none)).collect::<Vec<_>>();
    let rows = Rows {
        low: column(0, 0.0),
        high: column(1, INF),
        entry: Some(column(2, 0.0)),
        count: Some(rows.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

/// Lives of a Weibull, changed at `limit` if they last.
fn limited(n: usize, seed: u64, limit: f64) -> Tally {
    let lives = Weibull { shape: 2.5, scale: 1800.0 }.draws(n, &mut Stream::new(seed, "test", "profiles", 0)).unwrap();
    let rows = Rows {
        low: lives.iter().map(|t| t.min(limit)).collect(),
        high: lives.iter().map(|t| if *t <= limit { *t } else { INF }).collect(),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

#[test]
fn the_curve_of_an_even_rate_is_its_closed_form() {
    // r(m) = -d (ln(m / mean) + mean / m - 1), d failures.
    let data = exact(&[100.0, 300.0, 500.0, 700.0, 900.0, 1100.0, 1300.0, 1500.0, 1700.0, 1900.0]);
    let got = fitted("exponential", &data);
    let scale = Quantity::Parameter("scale".into());
    let curve = got.profile_curve(&data, &FitOptions::default(), &scale, 0.95, 61, &Run::new()).unwrap();
    assert_eq!(curve.values.len(), 61);
    for (m, r) in curve.values.iter().zip(&curve.relative_log_likelihood) {
        let want = -10.0 * ((m / 1000.0).ln() + 1000.0 / m - 1.0);
        assert!((r - want).abs() < 1e-9, "{m} {r} {want}");
    }
    assert!(curve.values.is_sorted() && curve.values.contains(&curve.estimate));
    assert!((curve.cut + HALF_1).abs() < 1e-12 && (curve.one_sided_cut + 0.5 * 2.705_543_454_095_404).abs() < 1e-12);
    assert!(curve.low < curve.lower_bound && curve.upper_bound < curve.high);
    let interval = profile(&got, &data, &scale);
    assert_eq!((curve.low, curve.high), (interval.low, interval.high));
    // The curve goes past both ends.
    assert!(curve.values[0] < curve.low.unwrap() && curve.values[60] > curve.high.unwrap());
    // A reliability falls as the working scale rises, and its curve is that of the mean at the same places.
    let r = got.profile_curve(&data, &FitOptions::default(), &Quantity::Reliability(500.0), 0.95, 21, &Run::new());
    let r = r.unwrap();
    assert!(r.values.is_sorted() && r.low.unwrap() < r.estimate);
    for (p, height) in r.values.iter().zip(&r.relative_log_likelihood) {
        let m = -500.0 / p.ln();
        assert!((height + 10.0 * ((m / 1000.0).ln() + 1000.0 / m - 1.0)).abs() < 1e-8, "{p} {height}");
    }
}

#[test]
fn the_curve_meets_the_cut_at_published_ends() {
    // Shock absorbers, O'Connor (1985), in Meeker & Escobar (1998): 95 % likelihood interval of the B10 life in km, and of
    // the Weibull shape, recomputed at 40 digits.
    let data = reference("shock_absorber_modes");
    let got = fitted("weibull", &data);
    for (quantity, want) in [
        (Quantity::BLife(10.0), (9_371.202_394_06, 17_291.237_935_6)),
        (Quantity::Parameter("shape".into()), (1.898_532_170_01, 4.771_390_780_64)),
    ] {
        let curve = got.profile_curve(&data, &FitOptions::default(), &quantity, 0.95, 81, &Run::new()).unwrap();
        close((curve.low.unwrap(), curve.high.unwrap()), want, 1e-7);
        // Between the points next to an end the curve passes the cut.
        for end in [want.0, want.1] {
            let i = curve.values.partition_point(|v| *v < end);
            let (a, b) = (curve.relative_log_likelihood[i - 1], curve.relative_log_likelihood[i]);
            assert!((a - curve.cut) * (b - curve.cut) < 0.0, "{a} {b}");
        }
        assert!(curve.relative_log_likelihood.iter().all(|r| *r <= 0.0));
    }
}

#[test]
fn an_open_curve_says_that_it_is_one_sided() {
    // One look at each lamp: 1 of 10 failed by 500 h, 3 of 10 by 900 h. A shape near 0 gives 4 of 20 at both ages, whose
    // log-likelihood is only 0.65 lower (by hand), so the shape has no lower end at 95 %.
    let rows = Rows {
        low: vec![0.0, 500.0, 0.0, 900.0],
        high: vec![500.0, INF, 900.0, INF],
        count: Some(vec![1, 9, 3, 7]),
        ..Rows::default()
    };
    let data = Tally::from_rows(&rows).unwrap().0;
    let got = fitted("weibull", &data);
    let shape = Quantity::Parameter("shape".into());
    let curve = got.profile_curve(&data, &FitOptions::default(), &shape, 0.95, 41, &Run::new()).unwrap();
    let slugs: Vec<&str> = curve.notes.iter().map(|n| n.slug.as_str()).collect();
    let interval = profile(&got, &data, &shape);
    assert_eq!((curve.low, curve.high), (interval.low, interval.high));
    assert!(curve.low.is_none() && curve.high.is_some(), "{curve:?}");
    // The curve levels off at 0.65 below its top (by hand).
    let (four, one, three) = (4.0_f64, 1.0_f64, 3.0_f64);
    let alike = four * (0.2_f64).ln() + 16.0 * (0.8_f64).ln();
    let apart = one * (0.1_f64).ln() + 9.0 * (0.9_f64).ln() + three * (0.3_f64).ln() + 7.0 * (0.7_f64).ln();
    let lowest = curve.relative_log_likelihood[0];
    assert!(lowest > alike - apart && lowest < 0.75 * (alike - apart), "{lowest} {}", alike - apart);
    assert!(slugs.contains(&"fit.open_end") && slugs.contains(&"fit.one_sided"), "{slugs:?}");
    let said = &curve.notes.iter().find(|n| n.slug == "fit.one_sided").unwrap().text;
    assert!(said.contains("one-sided by construction") && said.contains("97.5 %"), "{said}");
    let region = got.region(&data, &FitOptions::default(), 0.95, &Run::new()).unwrap();
    assert!(!region.closed && region.notes.iter().any(|n| n.slug == "fit.region_open"));
    assert!(region.notes.iter().any(|n| n.slug == "fit.region_past_box"));
}

#[test]
fn the_region_of_a_complete_lognormal_sample_is_its_closed_form() {
    // 2 (ln L max - ln L) = n ln(s^2 / v^2) ... with sample mean m and deviation v of ln age:
    // n (2 ln(s / v) - 1 + (v^2 + (m - mu)^2) / s^2).
    let ages = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0];
    let data = exact(&ages);
    let got = fitted("lognormal", &data);
    let n = ages.len() as f64;
    let m = ages.iter().map(|t| t.ln()).sum::<f64>() / n;
    let v2 = ages.iter().map(|t| (t.ln() - m).powi(2)).sum::<f64>() / n;
    let fall = |mu: f64, s: f64| 0.5 * n * ((s * s / v2).ln() - 1.0 + (v2 + (m - mu).powi(2)) / (s * s));
    let region = got.region(&data, &FitOptions::default(), 0.95, &Run::new()).unwrap();
    assert_eq!(region.parameters, ["location".to_owned(), "scale".to_owned()]);
    assert!(region.closed && region.corners.len() >= 96 && region.notes.is_empty(), "{:?}", region.notes);
    assert!((region.relative_log_likelihood + HALF_2).abs() < 1e-12);
    for [mu, s] in &region.corners {
        assert!((fall(*mu, *s) - HALF_2).abs() < 1e-7, "{mu} {s} {}", fall(*mu, *s));
    }
    // Its outermost scale is the end of the interval at the level whose cut is as deep: z^2 = 5.991.
    let widest = region.corners.iter().map(|c| c[1]).fold(0.0, f64::max);
    let level = 0.985_608_7; // chance that a normal number lies within 2.44775
    let scale = Quantity::Parameter("scale".into());
    let one = got.profile(&data, &FitOptions::default(), &scale, level, Sides::Both, &Run::new()).unwrap();
    assert!((widest / one.high.unwrap() - 1.0).abs() < 2e-3, "{widest} {one:?}");
    assert!(region.contains(m, v2.sqrt()) && !region.contains(m, 2.0 * widest));
}

#[test]
fn regions_hold_the_truth_as_often_as_they_say() {
    // 30 complete lognormal lives, 1,000 samples, 90 %. The polygon and the likelihood itself must agree on each.
    let truth = Lognormal { location: 7.5, scale: 0.4 };
    let (mut held, mut differ) = (0, 0);
    for run in 0..1000 {
        let lives = truth.draws(30, &mut Stream::new(11, "test", "region", run)).unwrap();
        let data = exact(&lives);
        let got = fitted("lognormal", &data);
        let region = got.region(&data, &FitOptions::default(), 0.9, &Run::new()).unwrap();
        let at_truth: f64 = lives.iter().map(|t| truth.ln_density(*t)).sum();
        let inside = region.contains(truth.location, truth.scale);
        held += i32::from(inside);
        differ += i32::from(inside != (at_truth - got.log_likelihood() >= region.relative_log_likelihood));
    }
    // With 30 lives the likelihood region holds the truth in 89.2 % (200,000 samples of the closed form, in numpy); 99 %
    // range of 1,000 runs around it: 867 to 917.
    assert!((867..=917).contains(&held), "{held}");
    // A polygon of chords loses a sliver.
    assert!(differ <= 5, "{differ}");
}

#[test]
fn figures_of_an_even_rate_follow_from_its_mean() {
    let data = exact(&[100.0, 300.0, 500.0, 700.0, 900.0, 1100.0, 1300.0, 1500.0, 1700.0, 1900.0]);
    let got = fitted("exponential", &data);
    let mean = profile(&got, &data, &Quantity::Parameter("scale".into()));
    let (low, high) = ends(&mean);
    close(ends(&profile(&got, &data, &Quantity::Mean)), (low, high), 1e-8);
    close(ends(&profile(&got, &data, &Quantity::Hazard(700.0))), (1.0 / high, 1.0 / low), 1e-8);
    let within = Quantity::FailureWithin { age_hours: 400.0, hours: 200.0 };
    let p = |m: f64| -(-200.0 / m).exp_m1();
    close(ends(&profile(&got, &data, &within)), (p(high), p(low)), 1e-8);
    // The curvature at the maximum: on ln scale each of them is the mean's interval carried over.
    let wald = got.wald(&Quantity::Parameter("scale".into()), 0.95, Sides::Both).unwrap();
    let (low, high) = ends(&wald);
    let w = |q: &Quantity| ends(&got.wald(q, 0.95, Sides::Both).unwrap());
    close(w(&Quantity::Mean), (low, high), 1e-9);
    close(w(&Quantity::Hazard(700.0)), (1.0 / high, 1.0 / low), 1e-12);
    close(w(&within), (p(high), p(low)), 1e-12);
}

#[test]
fn two_routes_to_the_same_figure_agree() {
    let data = limited(40, 3, 2000.0);
    let options = FitOptions::default();
    for name in ["weibull", "lognormal", "log_logistic", "gamma", "normal"] {
        let got = fitted(name, &data);
        // From new, the chance to fail within h hours is one less the reliability: rays against a held reliability.
        let r = ends(&profile(&got, &data, &Quantity::Reliability(900.0)));
        if name != "normal" {
            let within = Quantity::FailureWithin { age_hours: 0.0, hours: 900.0 };
            close(ends(&profile(&got, &data, &within)), (1.0 - r.1, 1.0 - r.0), 1e-7);
        }
        let median = |life: &dyn Life, _: &[f64]| life.quantile(0.5);
        let asked = Function { name: "median".into(), of: &median, scale: Scale::Positive };
        let own = got.profile_of(&data, &options, &asked, 0.95, Sides::Both, &Run::new()).unwrap();
        close(ends(&own), ends(&profile(&got, &data, &Quantity::Quantile(0.5))), 1e-7);
        assert_eq!(own.quantity, Quantity::Function("median".into()));
        assert_eq!((own.method, own.level), (IntervalMethod::ProfileLikelihood, 0.95));
        let own = got.wald_of(&asked, 0.95, Sides::Both).unwrap();
        close(ends(&own), ends(&got.wald(&Quantity::Quantile(0.5), 0.95, Sides::Both).unwrap()), 1e-8);
    }
}

#[test]
fn slopes_of_every_family_give_the_numerical_spread() {
    let data = limited(60, 5, 2500.0);
    let mut seen = 0;
    for f in families() {
        let got = fitted(f.name(), &data);
        let rate = |life: &dyn Life, _: &[f64]| Ok(life.hazard(1200.0));
        let chance = |life: &dyn Life, _: &[f64]| Ok(life.cumulative_hazard(1500.0) - life.cumulative_hazard(1200.0));
        let cases: [(Quantity, &OfLife<'_>); 2] =
            [(Quantity::Hazard(1200.0), &rate), (Quantity::FailureWithin { age_hours: 1200.0, hours: 300.0 }, &chance)];
        for (quantity, of) in cases {
            let asked = Function { name: "numerical".into(), of, scale: Scale::Positive };
            let numerical = ends(&got.wald_of(&asked, 0.9, Sides::Both).unwrap());
            let ours = ends(&got.wald(&quantity, 0.9, Sides::Both).unwrap());
            let carried = |w: f64| if quantity == Quantity::Hazard(1200.0) { w } else { -(-w).exp_m1() };
            close(ours, (carried(numerical.0), carried(numerical.1)), 1e-7);
            seen += 1;
        }
    }
    assert!(seen >= 22);
}

#[test]
fn the_bias_corrected_interval_is_its_formula() {
    let data = limited(15, 8, 2000.0);
    let draws = bootstrap(family("weibull").unwrap(), &data, &FitOptions::default(), 999, 4, "", &Run::new()).unwrap();
    let shape = Quantity::Parameter("shape".into());
    let got = draws.bias_corrected(&shape, 0.95, Sides::Both).unwrap();
    assert_eq!(got.method, IntervalMethod::WeightedBootstrapBiasCorrected);
    let mut values: Vec<f64> = draws.coordinates().iter().map(|x| x[0].exp()).collect();
    values.sort_by(f64::total_cmp);
    // The share of the replicates below each end, carried back, lies as far to either side of z0.
    let below = |end: f64| values.iter().filter(|v| **v <= end).count() as f64 / 1000.0;
    let z = |p: f64| relamp::base::math::special::normal_quantile(p);
    let z0 = z(values.iter().filter(|v| **v < got.estimate.unwrap()).count() as f64 / 999.0);
    assert!(z0 < -0.05, "{z0}"); // few failures: replicates are too steep
    let (low, high) = ends(&got);
    assert!((z(below(low)) - (2.0 * z0 - 1.959_964)).abs() < 0.05, "{low} {z0}");
    assert!((z(below(high)) - (2.0 * z0 + 1.959_964)).abs() < 0.05, "{high} {z0}");
    // A function gives the same as the quantity it stands for, corrected or not.
    let of = |life: &dyn Life, _: &[f64]| life.quantile(0.1);
    let asked = Function { name: "B10".into(), of: &of, scale: Scale::Positive };
    for (side, kind) in [(Sides::Both, BootstrapEnds::BiasCorrected), (Sides::Lower, BootstrapEnds::Percentile)] {
        let own = draws.interval_of(&asked, 0.9, side, kind).unwrap();
        let b10 = Quantity::BLife(10.0);
        let ours = match kind {
            BootstrapEnds::Percentile => draws.interval(&b10, 0.9, side),
            _ => draws.bias_corrected(&b10, 0.9, side),
        };
        let ours = ours.unwrap();
        assert!((own.low.unwrap() / ours.low.unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(own.high.is_none(), ours.high.is_none());
    }
}

#[test]
fn bad_questions_are_refused_by_name() {
    let data = limited(20, 2, 2000.0);
    let (got, options, run) = (fitted("weibull", &data), FitOptions::default(), Run::new());
    let slug = |q: Quantity| got.wald(&q, 0.95, Sides::Both).unwrap_err().slug();
    assert_eq!(slug(Quantity::Hazard(f64::NAN)), "fit.age");
    assert_eq!(slug(Quantity::Hazard(0.0)), "fit.age");
    assert_eq!(slug(Quantity::FailureWithin { age_hours: -1.0, hours: 10.0 }), "fit.age");
    assert_eq!(slug(Quantity::FailureWithin { age_hours: 1e308, hours: 1.7e308 }), "fit.age");
    assert_eq!(slug(Quantity::Function("x".into())), "fit.function");
    let curve = |q: &Quantity, points| got.profile_curve(&data, &options, q, 0.95, points, &run).unwrap_err().slug();
    assert_eq!(curve(&Quantity::BLife(10.0), 4), "fit.profile_points");
    assert_eq!(got.region(&data, &options, 1.0, &run).unwrap_err().slug(), "fit.level");
    let one = fitted("exponential", &data);
    assert_eq!(one.region(&data, &options, 0.95, &run).unwrap_err().slug(), "fit.region_width");
    let other = limited(20, 9, 2000.0);
    assert_eq!(got.region(&other, &options, 0.95, &run).unwrap_err().slug(), "fit.other_data");
    // A function that is no number somewhere gives no interval and no panic.
    let odd = |_: &dyn Life, _: &[f64]| Ok(f64::NAN);
    let asked = Function { name: "odd".into(), of: &odd, scale: Scale::Plain };
    assert_eq!(got.wald_of(&asked, 0.95, Sides::Both).unwrap_err().slug(), "fit.no_spread");
    let draws = bootstrap(family("weibull").unwrap(), &data, &options, 50, 4, "", &run).unwrap();
    let refused = draws.interval_of(&asked, 0.95, Sides::Both, BootstrapEnds::Percentile).unwrap_err();
    assert_eq!(refused.slug(), "fit.no_number");
    let above = |life: &dyn Life, _: &[f64]| Ok(life.mean()?.mul_add(1e-300, 1.0));
    let flat = Function { name: "flat".into(), of: &above, scale: Scale::Plain };
    let flat = draws.interval_of(&flat, 0.95, Sides::Both, BootstrapEnds::BiasCorrected).unwrap();
    assert_eq!(flat.notes.iter().filter(|n| n.slug == "fit.degenerate").count(), 1);
}
