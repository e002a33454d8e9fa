//! Changes over time, against stored values, closed forms, an independent solution, a simulation and each other.

use std::sync::LazyLock;

use relamp::Result;
use relamp::base::random::Stream;
use relamp::family::{
    AboveZero, Exponential, Gamma, Life, Lognormal, Mixture, NeverFails, Normal, PiecewiseConstant, Series, Weibull,
    WeibullFailureFree,
};
use relamp::renewal::{ChangeCounts, ChangeRule, ExpectedChanges, Way, change_counts, expected_changes};
use serde_json::Value;

use crate::worlds::{Even, Steps, close, number};

static STORED: LazyLock<Value> = LazyLock::new(|| serde_json::from_str(include_str!("../data/renewal.json")).unwrap());

/// A life without its name, so that nothing known of its sums is used.
#[derive(Debug)]
struct Nameless(Box<dyn Life>);

impl Life for Nameless {
    fn ln_density(&self, age: f64) -> f64 {
        self.0.ln_density(age)
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        self.0.ln_reliability(age)
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.0.ln_failure_probability(age)
    }
    fn quantile(&self, p: f64) -> Result<f64> {
        self.0.quantile(p)
    }
    fn mean_to(&self, age: f64) -> Result<f64> {
        self.0.mean_to(age)
    }
    fn variance(&self) -> Result<f64> {
        self.0.variance()
    }
    fn never_fails(&self) -> f64 {
        self.0.never_fails()
    }
    fn kinks(&self) -> &[f64] {
        self.0.kinks()
    }
}

fn case(id: &str) -> &'static Value {
    STORED["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap()
}

fn list(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(number).collect()
}

fn expected(life: &dyn Life, rule: ChangeRule, hours: &[f64]) -> ExpectedChanges {
    expected_changes(life, &rule, hours).unwrap()
}

fn counts(life: &dyn Life, rule: ChangeRule, hours: f64) -> ChangeCounts {
    change_counts(life, &rule, hours).unwrap()
}

fn failing() -> ChangeRule {
    ChangeRule::to_failure()
}

fn weibull(shape: f64) -> Weibull {
    Weibull { shape, scale: 1.0 }
}

/// The life of a stored case.
fn life_of(id: &str, inputs: &Value) -> Box<dyn Life> {
    let at = |name: &str| number(&inputs[name]);
    if id == "ren_exp" {
        Box::new(Exponential { scale: at("theta") })
    } else if id.starts_with("ren_erlang") {
        Box::new(Gamma { shape: at("shape"), scale: 1.0 / at("rate") })
    } else if id.starts_with("ren_gamma") {
        Box::new(Gamma { shape: at("shape"), scale: at("mean") / at("shape") })
    } else if id.starts_with("ren_lognormal") {
        Box::new(Lognormal { location: at("mu"), scale: at("sigma") })
    } else if id.starts_with("ren_truncnorm") {
        Box::new(AboveZero::new(Box::new(Normal { location: at("mu"), scale: at("sd") })))
    } else {
        Box::new(Weibull { shape: at("shape"), scale: at("scale") })
    }
}

/// So early that a second change is out of reach, the mean number of changes is the chance of one: to all the digits that
/// are stated, whatever later times are asked for in the same call.
#[test]
fn early_times_keep_their_digits_beside_later_ones() {
    let normal = |location, scale| -> Box<dyn Life> { Box::new(Lognormal { location, scale }) };
    for (life, hours) in [
        (normal(-0.03125, 0.25), vec![0.25, 0.5, 1.0, 3.0]),
        (normal(8.0, 0.2), vec![900.0, 1200.0, 5000.0]),
        (normal(8.0, 0.2), vec![1000.0, 900.0, 50_000.0]),
        (Box::new(Weibull { shape: 8.0, scale: 3000.0 }), vec![100.0, 300.0, 9000.0]),
    ] {
        let found = expected(life.as_ref(), failing(), &hours);
        let once = life.failure_probability(hours[0]);
        // A second change by then has at most the chance of two failures within the hours, each with that of one.
        let bound = once * once + found.relative_error * once;
        assert!((found.failures[0] - once).abs() <= bound, "{life:?} {} {once}", found.failures[0]);
        let alone = expected(life.as_ref(), failing(), &hours[1..2]).failures[0];
        assert!((found.failures[1] / alone - 1.0).abs() <= 2.0 * found.relative_error, "{life:?}");
    }
}

#[test]
fn stored_means_and_variances_are_met() {
    let mut seen = 0;
    for c in STORED["cases"].as_array().unwrap() {
        let id = c["id"].as_str().unwrap();
        let Some(means) = c["outputs"].get("M") else { continue };
        let (rel, abs) = (number(&c["tol"]["rel"]), number(&c["tol"]["abs"]));
        let (hours, life) = (list(&c["inputs"]["t"]), life_of(id, &c["inputs"]));
        // All times at once, and each alone, which sets other panels.
        let mut ways = vec![expected(life.as_ref(), failing(), &hours)];
        ways.push(expected(&Nameless(life_of(id, &c["inputs"])), failing(), &hours));
        for (i, t) in hours.iter().enumerate() {
            let alone = expected(life.as_ref(), failing(), &[*t]);
            close(alone.failures[0], number(&means[i]), rel, abs);
        }
        for found in &ways {
            for (i, m) in list(means).into_iter().enumerate() {
                assert!(
                    (found.failures[i] - m).abs() <= rel.max(1e-12) * m + abs,
                    "{id} {}: {} {m}",
                    hours[i],
                    found.failures[i]
                );
                if let Some(var) = c["outputs"].get("var") {
                    let var = number(&var[i]);
                    assert!(
                        (found.variance[i] - var).abs() <= 1e-10 * var.max(m),
                        "{id} {}: {} {var}",
                        hours[i],
                        found.variance[i]
                    );
                }
                if let Some(line) = c["outputs"].get("asymptote") {
                    let own = found.line.unwrap();
                    close(own.changes_per_hour * hours[i] + own.constant, number(&line[i]), 1e-9, 1e-9);
                }
                seen += 1;
            }
        }
        // As printed: Tijms (2003), table 8.1.1; .4141 stands there for .41405, within one unit.
        if let Some(printed) = c["published"].get("M") {
            for (p, m) in list(printed).iter().zip(&ways[0].failures) {
                assert!((p - m).abs() <= 1.1e-4 * p.max(1.0) + if *p > 1.0 { 5e-4 } else { 0.0 }, "{id} {p} {m}");
            }
        }
    }
    assert!(seen > 300, "saw only {seen} values");
}

#[test]
fn a_first_lamp_of_known_age_changes_what_follows_as_stored() {
    let c = case("ren_delayed_weibull2");
    let hours = list(&c["inputs"]["t"]);
    let mut fleet = vec![0.0; hours.len()];
    for (age, means) in c["outputs"]["M_by_age"].as_object().unwrap() {
        let found = expected(&weibull(2.0), failing().first_aged(age.parse().unwrap()), &hours);
        for (i, m) in list(means).into_iter().enumerate() {
            close(found.failures[i], m, 1e-10, 0.0);
            fleet[i] += found.failures[i];
        }
    }
    for (sum, e) in fleet.iter().zip(list(&c["outputs"]["fleet_total"])) {
        close(*sum, e, 1e-10, 0.0);
    }
}

#[test]
fn stored_probabilities_are_met() {
    let c = case("ren_count_pmf_weibull2");
    for (key, hours) in [("pmf_t1", 1.0), ("pmf_t2", 2.0)] {
        let found = counts(&weibull(2.0), failing(), hours);
        for (k, p) in list(&c["outputs"][key]).into_iter().enumerate() {
            close(found.probability(k as u64), p, 1e-10, 1e-14);
        }
    }
}

#[test]
fn planned_and_failure_changes_are_met_as_stored() {
    let c = case("ren_age_replacement_counts");
    let (hours, plan) = (list(&c["inputs"]["t"]), number(&c["inputs"]["T"]));
    for shape in [1.0, 2.0, 3.0] {
        let e = &c["outputs"][format!("shape_{shape}")];
        let found = expected(&weibull(shape), ChangeRule::at_age(plan), &hours);
        for i in 0..hours.len() {
            close(found.failures[i], number(&e["M_failure"][i]), 1e-9, 0.0);
            close(found.planned[i], number(&e["M_planned"][i]), 1e-9, 0.0);
        }
    }
}

#[test]
fn hard_cases_are_met() {
    let all = STORED["hard_cases"].as_array().unwrap();
    let find = |id: &str| all.iter().find(|c| c["id"] == id).unwrap();
    let c = find("hc-ren-003");
    for (item, m) in c["input"]["items"].as_array().unwrap().iter().zip(list(&c["expect"]["M"])) {
        let life = Weibull { shape: number(&item["shape"]), scale: number(&item["scale"]) };
        // Alone, and beside a long horizon.
        let t = number(&item["t"]);
        for found in [expected(&life, failing(), &[t]), expected(&life, failing(), &[5.0, t, 0.01])] {
            let i = found.hours.iter().position(|h| *h == t).unwrap();
            close(found.failures[i], m, 1e-8, 0.0);
        }
    }
    let c = find("hc-ren-004");
    let found = expected(&weibull(number(&c["input"]["shape"])), failing(), &list(&c["input"]["t"]));
    for (m, e) in found.failures.iter().zip(list(&c["expect"]["M"])) {
        close(*m, e, 1e-11, 0.0);
    }
    assert_eq!(all.len(), 2);
}

fn written(v: &Value) -> Box<dyn Life> {
    let (name, x) = v.as_object().unwrap().iter().next().unwrap();
    match name.as_str() {
        "weibull" => Box::new(Weibull { shape: number(&x[0]), scale: number(&x[1]) }),
        "lognormal" => Box::new(Lognormal { location: number(&x[0]), scale: number(&x[1]) }),
        "series" => Box::new(Series::new(written(&x[0]), written(&x[1]))),
        _ => Box::new(Mixture::new(written(&x[1]), written(&x[2]), number(&x[0])).unwrap()),
    }
}

#[test]
fn an_independent_solution_is_met() {
    for row in STORED["solved"].as_array().unwrap() {
        let life = written(&row["life"]);
        let rule =
            ChangeRule { planned_age_hours: row["planned_age"].as_f64(), first_age_hours: number(&row["first_age"]) };
        let found = expected(life.as_ref(), rule, &[number(&row["hours"])]);
        // What the last extrapolation moved bounds the digits of the stored value.
        let slack = 1e-10 + 10.0 * number(&row["moved"]);
        assert!(slack < 1e-8, "{row}");
        for (got, e) in [
            (found.failures[0], &row["failures"]),
            (found.planned[0], &row["planned"]),
            (found.variance[0], &row["variance"]),
        ] {
            assert!((got - number(e)).abs() < slack * 20.0, "{got} is not {e} in {row}");
        }
    }
}

#[test]
fn closed_forms_are_met() {
    let hours = [0.3, 1.0, 2.5, 7.0, 30.0];
    // Erlang: roots of unity, D. R. Cox (1962), Renewal Theory, section 4.2 (from memory).
    for k in [2, 4, 7] {
        let life = Gamma { shape: f64::from(k), scale: 1.0 };
        for found in [expected(&life, failing(), &hours), expected(&Nameless(Box::new(life)), failing(), &hours)] {
            for (t, m) in hours.iter().zip(&found.failures) {
                let mut exact = t / f64::from(k);
                for r in 1..k {
                    let angle = 2.0 * std::f64::consts::PI * f64::from(r) / f64::from(k);
                    // w / (1 - w) (1 - exp(-t (1 - w))), its real part over k; w = exp(i angle).
                    let (c, s) = (angle.cos(), angle.sin());
                    let (re, im) = (-0.5, s / (2.0 * (1.0 - c)));
                    let (size, turn) = ((-t * (1.0 - c)).exp(), t * s);
                    exact += (re * (1.0 - size * turn.cos()) + im * size * turn.sin()) / f64::from(k);
                }
                close(*m, exact, 1e-12, 1e-14);
            }
        }
    }
    // Two exponential kinds: M = t / mean + c (1 - exp(-s t)).
    let (w, a, b) = (0.3, 2.0, 0.4);
    let part = |scale: f64| -> Box<dyn Life> { Box::new(Exponential { scale }) };
    let life = Mixture::new(part(1.0 / a), part(1.0 / b), w).unwrap();
    let (mean, s) = (w / a + (1.0 - w) / b, (1.0 - w) * a + w * b);
    let slope = w * a + (1.0 - w) * b;
    let found = expected(&life, failing(), &hours);
    for (t, m) in hours.iter().zip(&found.failures) {
        close(*m, t / mean + (slope - 1.0 / mean) / s * (1.0 - (-s * t).exp()), 1e-12, 0.0);
    }
    // Failure-free hours before a constant hazard: sums of gamma distributions, which Poisson terms give.
    let life = WeibullFailureFree { shape: 1.0, scale: 0.7, location: 0.5 };
    let poisson_tail = |n: u32, x: f64| {
        let mut term = (-x).exp();
        let mut below = 0.0;
        for j in 0..n {
            below += term;
            term *= x / f64::from(j + 1);
        }
        1.0 - below
    };
    for t in [0.4, 0.9, 3.3, 12.0] {
        let by = |n: u32| {
            let left = t - 0.5 * f64::from(n);
            if n == 0 {
                1.0
            } else if left <= 0.0 {
                0.0
            } else {
                poisson_tail(n, left / 0.7)
            }
        };
        let exact: f64 = (1..40).map(by).sum();
        close(expected(&life, failing(), &[t]).failures[0], exact, 1e-11, 1e-13);
        let found = counts(&life, failing(), t);
        for n in 0..20 {
            close(found.probability(u64::from(n)), by(n) - by(n + 1), 1e-9, 1e-13);
        }
    }
    // A share that never fails, the rest at a constant hazard.
    let never = NeverFails::new(part(1.0), 0.25).unwrap();
    let found = expected(&never, failing(), &[0.5, 3.0, 1000.0, 1e7]);
    for (t, m) in found.hours.iter().zip(&found.failures) {
        close(*m, 3.0 * (1.0 - (-0.25 * t).exp()), 1e-11, 0.0);
    }
    close(found.variance[3], 12.0, 1e-9, 0.0);
    assert_eq!((found.mean_hours, found.way[3]), (f64::INFINITY, Way::LongRun));
    // A lamp that is changed before it can fail.
    let free = WeibullFailureFree { shape: 2.0, scale: 1.0, location: 3.0 };
    let found = expected(&free, ChangeRule::at_age(2.0), &[1.9, 2.0, 4.0, 5.0, 1e4]);
    assert_eq!((&found.planned[..], &found.failures[..]), (&[0.0, 1.0, 2.0, 2.0, 5000.0][..], &[0.0; 5][..]));
}

#[test]
fn a_life_spread_evenly_has_the_known_means() {
    // Evenly over (0, 1): M = e^t - 1 up to t = 1, then e^t - 1 - e^(t - 1) (t - 1) (W. Feller 1971, XI.1, from memory).
    let found = expected(&Even(1.0), failing(), &[0.25, 1.0, 1.5]);
    close(found.failures[0], 0.25_f64.exp_m1(), 1e-9, 0.0);
    close(found.failures[1], 1.0_f64.exp_m1(), 1e-9, 0.0);
    close(found.failures[2], 1.5_f64.exp_m1() - 0.5 * 0.5_f64.exp(), 1e-9, 0.0);
}

#[test]
fn the_distribution_agrees_with_the_means() {
    // Two ways through the room: the renewal equation, and change after change.
    let box_weibull = |shape, scale| -> Box<dyn Life> { Box::new(Weibull { shape, scale }) };
    let lives: Vec<Box<dyn Life>> = vec![
        box_weibull(0.5, 0.5),
        box_weibull(0.8, 1.0),
        box_weibull(1.5, 1.0),
        box_weibull(3.0, 1.0),
        box_weibull(50.0, 1.0),
        Box::new(Lognormal { location: 0.0, scale: 1.0 }),
        Box::new(Gamma { shape: 2.5, scale: 0.4 }),
        Box::new(Series::new(box_weibull(0.6, 3.0), box_weibull(4.0, 1.0))),
        Box::new(Mixture::new(box_weibull(0.7, 0.3), box_weibull(4.0, 1.2), 0.1).unwrap()),
        Box::new(NeverFails::new(box_weibull(2.0, 1.0), 0.2).unwrap()),
        Box::new(WeibullFailureFree { shape: 1.6, scale: 0.8, location: 0.31 }),
        Box::new(PiecewiseConstant::new(&[0.5, 1.5], &[0.2, 0.6, 2.0]).unwrap()),
    ];
    for life in &lives {
        for rule in
            [failing(), failing().first_aged(0.4), ChangeRule::at_age(1.1), ChangeRule::at_age(1.1).first_aged(0.7)]
        {
            let means = expected(life.as_ref(), rule, &[6.3]);
            let count = counts(life.as_ref(), rule, 6.3);
            let corner = life.kinks().len() > 1;
            let rel = if corner { 1e-4_f64.min(20.0 * means.relative_error) } else { 2e-11 };
            assert!(
                (count.mean() / means.changes()[0] - 1.0).abs() < rel,
                "{life:?} {rule:?}: {} {} {}",
                count.mean(),
                means.changes()[0],
                means.relative_error
            );
            assert!(
                (count.variance() - means.variance[0]).abs() < 100.0 * rel * (1.0 + count.mean().powi(2)),
                "{life:?} {rule:?}: {} {}",
                count.variance(),
                means.variance[0]
            );
            let whole: f64 = count.probabilities.iter().sum();
            close(whole, 1.0, 1e-10, 0.0);
        }
    }
}

#[test]
fn small_tails_keep_their_digits() {
    // Erlang: the n-th change has come when a Poisson count has reached n times the shape.
    let life = Nameless(Box::new(Gamma { shape: 2.0, scale: 1.0 }));
    for x in [4.0, 40.0] {
        let found = counts(&life, failing(), x);
        let mut poisson = vec![(-x).exp()];
        for j in 1..400 {
            poisson.push(poisson[j - 1] * x / j as f64);
        }
        for n in 0..60 {
            let exact = poisson[2 * n] + poisson[2 * n + 1];
            if exact > 1e-28 {
                close(found.probability(n as u64), exact, 1e-7, 0.0);
            }
        }
        assert!(found.probabilities.iter().any(|p| *p < 1e-20));
    }
}

#[test]
fn steps_are_summed_as_they_stand() {
    // Lamps fail at 2 or 3 with equal chance: by 6 two, three, by enumeration.
    let life = Steps(vec![2.0, 3.0]);
    let found = expected(&life, failing(), &[1.9, 2.0, 3.0, 4.0, 6.0]);
    for (m, e) in found.failures.iter().zip([0.0, 0.5, 1.0, 1.25, 2.125]) {
        close(*m, e, 1e-14, 0.0);
    }
    let count = counts(&life, failing(), 6.0);
    assert_eq!((count.first, count.probabilities.len()), (2, 2));
    close(count.probability(3), 0.125, 1e-14, 0.0);
    close(count.variance(), found.variance[4], 1e-13, 0.0);
    // Changed at 2.5: planned ones for those that pass 2; the first lamp has burned 1.
    let planned = expected(&life, ChangeRule::at_age(2.5).first_aged(1.0), &[1.0, 1.5, 3.0, 3.5]);
    for (i, (p, f)) in [(0.0, 0.5), (0.5, 0.5), (0.5, 0.75), (0.75, 1.0)].into_iter().enumerate() {
        close(planned.planned[i], p, 1e-14, 0.0);
        close(planned.failures[i], f, 1e-14, 0.0);
    }
}

#[test]
fn hours_beyond_the_solution_are_bounded_by_the_long_run() {
    for (shape, hours) in [(0.5, 2e6), (50.0, 2e6)] {
        let life = Weibull { shape, scale: 1000.0 };
        let early = if shape < 1.0 { 2000.0 } else { 3000.0 };
        let found = expected_changes(&life, &failing(), &[hours, early]).unwrap();
        relamp::base::sound::Checks::of("found", &found).unwrap();
        assert_eq!((found.way[0], found.way[1]), (Way::Bounded, Way::Solved), "{shape}");
        assert_eq!(found.bounds[1], None);
        let (mean, square) = (life.mean().unwrap(), life.variance().unwrap() + life.mean().unwrap().powi(2));
        let (low, high) = found.bounds[0].unwrap();
        close(low, hours / mean - 1.0, 1e-9, 0.0);
        close(high, hours / mean - 1.0 + square / (mean * mean), 1e-9, 0.0);
        let line = hours / mean + 0.5 * (square / (mean * mean)) - 1.0;
        close(found.changes()[0], line, 1e-9, 0.0);
        // The same bound where the number is known.
        let known = expected_changes(&life, &failing(), &[early]).unwrap();
        assert_eq!(known.changes()[0], found.changes()[1]);
        let m = known.changes()[0];
        assert!(early / mean - 1.0 <= m && m <= early / mean - 1.0 + square / (mean * mean), "{m}");
    }
}

#[test]
fn long_horizons_follow_the_line() {
    let gamma = |x: f64| relamp::base::math::special::ln_gamma(x).exp();
    for shape in [0.7, 2.0] {
        let scale = 1.0 / gamma(1.0 + 1.0 / shape);
        let variance = gamma(1.0 + 2.0 / shape) * scale * scale - 1.0;
        let life = Weibull { shape, scale };
        let found = expected(&life, failing(), &[3.0, 1e9]);
        close(found.failures[1], 1e9 + 0.5 * (variance - 1.0), 1e-12, 0.0);
        close(found.line.unwrap().constant, 0.5 * (variance - 1.0), 1e-8, 0.0);
        close(found.variance[1] / 1e9, variance, 1e-7, 0.0);
        assert_eq!(found.way, [Way::Solved, Way::LongRun]);
        // The switch changes nothing: far out but solved, and past it.
        let near = expected(&life, failing(), &[900.0]);
        let far = expected(&life, failing(), &[900.0, 1e6]);
        close(near.failures[0], far.failures[0], 1e-11, 0.0);
    }
    // A tail this long does not settle within the work allowed: solved or bounded, never guessed.
    let tail = Weibull { shape: 0.5, scale: 0.5 };
    let found = expected(&tail, failing(), &[900.0]);
    close(found.failures[0], 902.0, 1e-9, 0.0);
    let bounded = expected_changes(&tail, &failing(), &[1e9]).unwrap();
    assert_eq!(bounded.way, [Way::Bounded]);
    // Mean 1 and E[X^2] = 6: from t - 1 to t + 5.
    let (low, high) = bounded.bounds[0].unwrap();
    close(low, 1e9 - 1.0, 1e-12, 0.0);
    close(high, 1e9 + 5.0, 1e-12, 0.0);
    // No variance, no bound.
    let wild = relamp::family::LogLogistic { shape: 1.6, scale: 1.0 };
    assert_eq!(expected_changes(&wild, &failing(), &[1e9]).unwrap_err().slug(), "renewal.too_far");
    let rule = ChangeRule::at_age(1.0).first_aged(0.4);
    let (near, far) = (expected(&weibull(3.0), rule, &[250.0]), expected(&weibull(3.0), rule, &[250.0, 1e7]));
    close(near.planned[0], far.planned[0], 1e-11, 0.0);
    let line = far.line.unwrap();
    close(far.changes()[1], 1e7 * line.changes_per_hour + line.constant, 1e-13, 0.0);
    close(far.changes()[0], 250.0 * line.changes_per_hour + line.constant, 1e-9, 0.0);
    // With failure-free hours too.
    let free = WeibullFailureFree { shape: 1.5, scale: 1.0, location: 0.2 };
    let found = expected(&free, ChangeRule::at_age(1.3), &[5.0, 1e6]);
    let line = found.line.unwrap();
    close(found.changes()[1], 1e6 * line.changes_per_hour + line.constant, 1e-12, 0.0);
    assert_eq!(found.way[1], Way::LongRun);
}

#[test]
fn what_the_means_must_keep() {
    let hours: Vec<f64> = (1..=60).map(|i| 0.11 * f64::from(i)).collect();
    for shape in [0.6, 1.0, 1.7, 4.0, 50.0] {
        for plan in [None, Some(0.7)] {
            let rule = ChangeRule { planned_age_hours: plan, first_age_hours: 0.0 };
            let found = expected(&weibull(shape), rule, &hours);
            // Up to the stated error where nothing happens.
            for column in [&found.changes(), &found.failures, &found.planned] {
                assert!(
                    column.windows(2).all(|w| w[1] - w[0] > -found.relative_error * (1.0 + w[1])),
                    "{shape} {plan:?}"
                );
            }
            // Hours in another unit.
            let minutes: Vec<f64> = hours.iter().map(|t| 60.0 * t).collect();
            let scaled = ChangeRule { planned_age_hours: plan.map(|p| 60.0 * p), first_age_hours: 0.0 };
            let other = expected(&Weibull { shape, scale: 60.0 }, scaled, &minutes);
            // A first lamp of next to no age is as good as new.
            let young = expected(&weibull(shape), rule.first_aged(1e-12), &hours[20..]);
            for i in 0..hours.len() {
                close(other.failures[i], found.failures[i], 1e-10, 1e-13);
                if plan.is_none() || i != 34 {
                    close(other.planned[i], found.planned[i], 1e-10, 1e-13);
                }
                if i >= 20 && shape >= 1.0 && plan.is_none() {
                    close(young.failures[i - 20], found.failures[i], 1e-9, 0.0);
                }
            }
        }
    }
}

#[test]
fn a_played_out_fleet_agrees() {
    let lamps = 200_000;
    let mut all_z = Vec::new();
    for (life, rule) in [
        (weibull(1.5), ChangeRule::at_age(1.2).first_aged(0.5)),
        (weibull(0.7), ChangeRule::at_age(2.0).first_aged(0.1)),
        (weibull(0.5), failing()),
    ] {
        let (hours, plan) = (5.0, rule.planned_age_hours.unwrap_or(f64::INFINITY));
        let mut stream = Stream::new(11, "test", "renewal", 0);
        let (mut planned, mut failures, mut squares) = (0.0, 0.0, [0.0; 2]);
        let mut each = [0.0; 12];
        for _ in 0..lamps {
            let (mut t, mut age, mut p, mut f) = (0.0, rule.first_age_hours, 0.0, 0.0);
            loop {
                let passed = life.reliability(age) * stream.uniform();
                let life_hours = life.quantile(1.0 - passed).unwrap();
                t += life_hours.min(plan) - age;
                if t > hours {
                    break;
                }
                if life_hours < plan {
                    f += 1.0;
                } else {
                    p += 1.0;
                }
                age = 0.0;
            }
            planned += p;
            failures += f;
            squares[0] += p * p;
            squares[1] += f * f;
            each[((p + f) as usize).min(11)] += 1.0;
        }
        let n = f64::from(lamps);
        let found = expected(&life, rule, &[hours]);
        let mut z = |got: f64, e: f64, spread: f64| {
            if spread > 0.0 {
                all_z.push((got - e) / (spread / n.sqrt()));
            }
        };
        let sd = |sum: f64, square: f64| (square / n - (sum / n).powi(2)).sqrt();
        z(planned / n, found.planned[0], sd(planned, squares[0]));
        z(failures / n, found.failures[0], sd(failures, squares[1]));
        let count = counts(&life, rule, hours);
        for (k, seen) in each.iter().enumerate().take(8) {
            let p = count.probability(k as u64);
            if p * n > 20.0 {
                z(seen / n, p, (p * (1.0 - p)).sqrt());
            }
        }
    }
    assert!(all_z.len() > 18);
    assert!(all_z.iter().all(|z| z.abs() < 4.5), "{all_z:?}");
    let mean = all_z.iter().map(|z| z * z).sum::<f64>() / all_z.len() as f64;
    assert!((0.5..1.6).contains(&mean), "{mean}: {all_z:?}");
}

#[test]
fn what_cannot_be_counted_is_refused_by_name() {
    let life = weibull(2.0);
    let slug = |rule: ChangeRule, hours: &[f64]| expected_changes(&life, &rule, hours).unwrap_err().slug().to_owned();
    for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(slug(failing(), &[1.0, wrong]), "renewal.hours");
        assert_eq!(change_counts(&life, &failing(), wrong).unwrap_err().slug(), "renewal.hours");
        assert_eq!(slug(ChangeRule::at_age(wrong), &[1.0]), "renewal.planned_age");
    }
    assert_eq!(slug(failing(), &[]), "renewal.hours");
    for wrong in [-1.0, f64::NAN, f64::INFINITY, 1e3] {
        assert_eq!(slug(failing().first_aged(wrong), &[1.0]), "renewal.first_age");
    }
    let normal = Normal { location: 1.0, scale: 0.5 };
    assert_eq!(expected_changes(&normal, &failing(), &[1.0]).unwrap_err().slug(), "renewal.below_zero");
    let close_steps = Steps(vec![1.0, std::f64::consts::SQRT_2]);
    assert_eq!(expected_changes(&close_steps, &failing(), &[1e9]).unwrap_err().slug(), "renewal.steps");
    assert_eq!(change_counts(&life, &failing(), 1e7).unwrap_err().slug(), "renewal.too_many_changes");
    assert_eq!(counts(&life, failing(), 1.0).quantile(1.0).unwrap_err().slug(), "renewal.probability");
}

/// The power series of the mean number of changes of a Weibull life, summed at 60 digits:
/// ```text
/// M(t) = sum over n of (-1)^(n - 1) A_n x^n / Gamma(1 + n b),   x = (t / scale)^b
/// A_n = a_n - sum over j < n of a_j A_(n - j),   a_n = Gamma(1 + n b) / n!
/// ```
/// Smith and Leadbetter (1963), Technometrics 5, 393-396.
#[test]
fn long_tails_keep_their_digits_on_wide_panels() {
    for (shape, hours, exact) in [
        (0.1, 1000.0, 1.680_695_211_834_976),
        (0.1, 50_000.0, 3.257_231_324_626_322),
        (0.1, 200_000.0, 4.254_330_039_582_838),
        (0.15, 200_000.0, 7.010_411_785_940_994),
        (0.2, 50_000.0, 6.261_627_548_895_653),
    ] {
        let life = Weibull { shape, scale: 1000.0 };
        let found = expected_changes(&life, &failing(), &[hours]).unwrap();
        close(found.failures[0], exact, 1e-10, 0.0);
        assert!(found.relative_error < 1e-9, "{shape} {hours}: {}", found.relative_error);
        // The error that is stated holds.
        assert!((found.failures[0] / exact - 1.0).abs() <= found.relative_error + 1e-14, "{shape} {hours}: {found:?}");
    }
}
