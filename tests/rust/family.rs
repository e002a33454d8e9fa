//! Families against 50-digit tables, hard cases and each other.

use proptest::prelude::*;
use relamp::base::random::Stream;
use relamp::family::{Exponential, Family, Jet, Life, Lognormal, Order, Term, Weibull, families, family};
use serde_json::Value;

struct Entry {
    family: &'static dyn Family,
    x: Vec<f64>,
    age: f64,
    term: Term,
    value: f64,
    mean_to: f64,
    derivatives: Vec<f64>,
}

fn grid() -> Vec<Entry> {
    let entries: Vec<Entry> = include_str!("../data/family_grid.csv")
        .lines()
        .filter(|l| !l.starts_with('#'))
        .skip(1)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let number = |i: usize| cells[i].parse::<f64>().unwrap();
            let x = if cells[2].is_empty() { vec![number(1)] } else { vec![number(1), number(2)] };
            let term = match cells[4] {
                "f" => Term::LnDensity,
                "R" => Term::LnReliability,
                _ => Term::LnFailureProbability,
            };
            Entry {
                family: family(cells[0]).unwrap(),
                x,
                age: number(3),
                term,
                value: number(5),
                mean_to: number(6),
                derivatives: cells[7].split(' ').map(|v| v.parse().unwrap()).collect(),
            }
        })
        .collect();
    assert!(entries.len() > 300);
    entries
}

/// Relative to the size of the terms that make the number: a coordinate of 11.5 costs its own rounding.
fn close(got: f64, want: f64, tolerance: f64) -> bool {
    got == want || (got - want).abs() <= tolerance * want.abs() || (got - want).abs() < 1e-290
}

#[test]
fn values_and_derivatives_agree_with_fifty_digits() {
    let mut worst = [0.0f64; 3];
    for e in grid() {
        let mut jet = Jet::new(e.x.len());
        e.family.jet(&e.x, e.age, e.term, Order::Hessian, &mut jet);
        // Rounding of u = shape (ln age - ln scale) is magnified by exp(u) and by the shape.
        let steep = if e.family.name() == "weibull" { e.x[0].exp().max(1.0) } else { 1.0 };
        let z = if e.family.name() == "lognormal" { ((e.age.ln() - e.x[0]) / e.x[1].exp()).abs() } else { 1.0 };
        let tolerance = 2e-14 * steep * z.max(1.0) * falling(&e);
        let place = format!("{} {:?} age {} {:?}", e.family.name(), e.x, e.age, e.term);
        let note = |k: usize, got: f64, want: f64, worst: &mut [f64; 3]| {
            if want != 0.0 {
                worst[k] = worst[k].max((got / want - 1.0).abs() / (tolerance / 2e-14));
            }
        };
        // ln f adds terms of both signs; judge it against its largest part.
        let size = e.value.abs().max(if e.term == Term::LnDensity { e.age.ln().abs() } else { 0.0 });
        assert!((jet.value - e.value).abs() <= tolerance * size + 1e-290, "{place}: {} {}", jet.value, e.value);
        note(0, jet.value, e.value, &mut worst);
        let n = jet.gradient.len();
        for (i, (got, want)) in jet.gradient.iter().chain(&jet.hessian).zip(&e.derivatives).enumerate() {
            let kind = if i < n { 1 } else { 2 };
            // A sum of parts of both signs: absolute error against the row's largest derivative in the same unit of age.
            let scale = cancel(&e, i);
            assert!(
                close(*got, *want, 10.0 * tolerance) || (got - want).abs() <= tolerance * scale,
                "{place} derivative {i}: {got} {want}"
            );
            note(kind, *got, *want, &mut worst);
        }
    }
}

/// ln F near 0 falls like exp(-w): the rounding of w shows w times.
fn falling(e: &Entry) -> f64 {
    let w = match e.family.name() {
        "exponential" => e.age / e.x[0].exp(),
        "weibull" => (e.x[0].exp() * (e.age.ln() - e.x[1])).exp(),
        _ => ((e.age.ln() - e.x[0]) / e.x[1].exp()).max(0.0).powi(2),
    };
    if e.term == Term::LnFailureProbability { w.max(1.0) } else { 1.0 }
}

/// Size of the largest part of derivative `i`, in its own unit.
fn cancel(e: &Entry, i: usize) -> f64 {
    let n = e.x.len() + 1;
    let mut age_powers = Vec::new();
    for a in 0..n {
        age_powers.push(i32::from(a == n - 1));
    }
    for a in 0..n {
        for b in 0..=a {
            age_powers.push(i32::from(a == n - 1) + i32::from(b == n - 1));
        }
    }
    let of_hazard = |w: f64| match e.term {
        Term::LnDensity => 1.0 + w,
        Term::LnReliability => w,
        Term::LnFailureProbability => w / w.exp_m1(),
    };
    let u = match e.family.name() {
        "lognormal" if e.term != Term::LnDensity => 0.0,
        "weibull" => {
            let k = e.x[0].exp();
            let u = k * (e.age.ln() - e.x[1]);
            (1.0 + u.abs() + k) * (1.0 + u.abs() + k) * of_hazard(u.exp())
        }
        "lognormal" => {
            let s = e.x[1].exp();
            let z = (e.age.ln() - e.x[0]) / s;
            (1.0 + z * z) * (1.0 + 1.0 / (s * s))
        }
        _ => of_hazard(e.age / e.x[0].exp()),
    };
    u / e.age.powi(age_powers[i])
}

#[test]
fn lives_agree_with_fifty_digits() {
    for e in grid() {
        let life = e.family.at(&e.x).unwrap();
        let steep = if e.family.name() == "weibull" { e.x[0].exp().max(1.0) } else { 1.0 };
        let place = format!("{life:?} age {} {:?}", e.age, e.term);
        let got = match e.term {
            Term::LnDensity => life.ln_density(e.age),
            Term::LnReliability => life.ln_reliability(e.age),
            Term::LnFailureProbability => life.ln_failure_probability(e.age),
        };
        let size = e.value.abs().max(e.age.ln().abs() * f64::from(u8::from(e.term == Term::LnDensity)));
        assert!((got - e.value).abs() <= 1e-13 * steep * falling(&e) * size + 1e-290, "{place}: {got} {}", e.value);
        let mean_to = life.mean_to(e.age).unwrap();
        assert!(close(mean_to, e.mean_to, 2e-13 * steep), "{place}: mean to {mean_to} {}", e.mean_to);
    }
}

#[test]
fn gradients_agree_with_finite_differences() {
    let h = 1e-5;
    for f in families() {
        let x: Vec<f64> =
            if f.name() == "lognormal" { vec![7.2, -0.7] } else { vec![0.9, 7.3][2 - f.width()..].to_vec() };
        for term in [Term::LnDensity, Term::LnReliability, Term::LnFailureProbability] {
            for age in [300.0, 1500.0, 2600.0] {
                let mut jet = Jet::new(f.width());
                f.jet(&x, age, term, Order::Gradient, &mut jet);
                let mut ends = [Jet::new(f.width()), Jet::new(f.width())];
                for i in 0..=f.width() {
                    let step = if i == f.width() { h * age } else { h };
                    for (end, sign) in ends.iter_mut().zip([1.0, -1.0]) {
                        let (mut y, mut t) = (x.clone(), age);
                        if i == f.width() {
                            t += sign * step;
                        } else {
                            y[i] += sign * step;
                        }
                        f.jet(&y, t, term, Order::Value, end);
                    }
                    let slope = (ends[0].value - ends[1].value) / (2.0 * step);
                    assert!(
                        (slope - jet.gradient[i]).abs() < 1e-7 * (1.0 + slope.abs()),
                        "{} {term:?} {age} {i}: {slope} {}",
                        f.name(),
                        jet.gradient[i]
                    );
                }
            }
        }
    }
}

fn hard(id: &str) -> Value {
    let all: Value = serde_json::from_str(include_str!("../data/hard_lives.json")).unwrap();
    all["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

#[test]
fn huge_shapes_give_no_nan() {
    let case = hard("hc-dist-001");
    let points = case["input"]["points"].as_array().or(case["points"].as_array()).unwrap();
    assert_eq!(points.len(), 3);
    for (p, want) in points.iter().zip(case["expect"]["values_by_point"].as_array().unwrap()) {
        let life = Weibull { shape: p["shape"].as_f64().unwrap(), scale: p["scale"].as_f64().unwrap() };
        let x = p["x"].as_f64().unwrap();
        let (cdf, ln_f) = (want["cdf"].as_f64().unwrap(), want["logpdf"].as_f64().unwrap());
        assert!(close(life.failure_probability(x), cdf, 1e-10), "{life:?} {}", life.failure_probability(x));
        assert_eq!(life.reliability(x), want["sf"].as_f64().unwrap());
        assert!(close(life.ln_density(x), ln_f, 1e-10));
        assert!(life.ln_failure_probability(x).is_finite());
    }
}

#[test]
fn quantiles_keep_their_digits_at_both_ends() {
    let case = hard("hc-dist-007");
    let want = case["expect"]["values_by_point"].as_array().unwrap();
    let life = Weibull { shape: 2.0, scale: 1000.0 };
    for (p, want) in [1e-300, 1.0 - 2f64.powi(-53)].into_iter().zip(want) {
        assert!(close(life.quantile(p).unwrap(), want["quantile"].as_f64().unwrap(), 1e-10));
    }
    // A lognormal keeps them too: its quantile and ln F undo each other.
    let life = Lognormal { location: 7.0, scale: 0.5 };
    for p in [1e-300, 1e-25, 1e-19, 1e-5, 0.2, 0.5, 0.8] {
        let t = life.quantile(p).unwrap();
        assert!(close(life.ln_failure_probability(t), f64::ln(p), 1e-13), "{p}");
    }
}

#[test]
fn far_tails_are_finite() {
    for life in [&Weibull { shape: 70.0, scale: 1e5 } as &dyn Life, &Lognormal { location: 7.0, scale: 0.01 }] {
        for age in [1e-6, 1.0, 1e5, 2e5] {
            assert!(life.ln_density(age).is_finite(), "{life:?} {age}");
            assert!(life.ln_reliability(age) <= 0.0 && life.ln_failure_probability(age) <= 0.0);
        }
        assert_eq!(life.ln_reliability(0.0), 0.0);
        assert_eq!(life.ln_reliability(f64::INFINITY), f64::NEG_INFINITY);
        assert_eq!(life.ln_failure_probability(f64::INFINITY), 0.0);
    }
    let steep = Weibull { shape: 70.0, scale: 1e5 };
    assert!((steep.ln_density(1e5) - (70.0f64.ln() - 1e5f64.ln() - 1.0)).abs() < 1e-12);
}

#[test]
fn moments_in_closed_form() {
    // Weibull shape 2: mean scale sqrt(pi)/2, variance scale^2 (1 - pi/4); shape 1 is exponential.
    let life = Weibull { shape: 2.0, scale: 1000.0 };
    let pi = std::f64::consts::PI;
    assert!(close(life.mean().unwrap(), 500.0 * pi.sqrt(), 1e-13));
    assert!(close(life.variance().unwrap(), 1e6 * (1.0 - pi / 4.0), 1e-12));
    assert!(close(Weibull { shape: 1.0, scale: 50.0 }.mean_residual_life(700.0).unwrap(), 50.0, 1e-12));
    assert_eq!(Exponential { scale: 50.0 }.mean_residual_life(700.0).unwrap(), 50.0);
    let life = Lognormal { location: 1.0, scale: 0.5 };
    assert!(close(life.variance().unwrap(), (2.25f64).exp() * 0.25f64.exp_m1(), 1e-13));
    for life in [&Weibull { shape: 2.5, scale: 1000.0 } as &dyn Life, &Lognormal { location: 7.0, scale: 0.4 }] {
        for age in [10.0, 800.0, 1500.0, 2500.0] {
            let direct = (life.mean().unwrap() - life.mean_to(age).unwrap()) / life.reliability(age);
            assert!(close(life.mean_residual_life(age).unwrap(), direct, 1e-8), "{life:?} {age}");
        }
        assert!(close(life.b_life(10.0).unwrap(), life.quantile(0.1).unwrap(), 0.0));
    }
}

#[test]
fn parameters_out_of_their_box_are_named() {
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(Weibull { shape: bad, scale: 1.0 }.checked().unwrap_err().slug(), "family.parameter");
        assert_eq!(Exponential { scale: bad }.checked().unwrap_err().slug(), "family.parameter");
        assert_eq!(Lognormal { location: 0.0, scale: bad }.checked().unwrap_err().slug(), "family.parameter");
    }
    assert_eq!(Weibull { shape: 1.0, scale: 1.0 }.quantile(1.5).unwrap_err().slug(), "family.probability");
    assert_eq!(Weibull { shape: 1.0, scale: 1.0 }.mean_to(-1.0).unwrap_err().slug(), "family.age");
}

#[test]
fn draws_follow_their_life() {
    // Kolmogorov distance of 4,000 draws, fixed seed; 1.95 / sqrt(n) is the 0.1 % point (Smirnov's table, from memory).
    let n = 4000;
    for life in [
        &Weibull { shape: 2.5, scale: 1000.0 } as &dyn Life,
        &Lognormal { location: 7.0, scale: 0.4 },
        &Exponential { scale: 900.0 },
    ] {
        let mut ages = life.draws(n, &mut Stream::new(20_251_228, "family", "test", 0)).unwrap();
        ages.sort_by(f64::total_cmp);
        let distance = ages.iter().enumerate().fold(0.0f64, |d, (i, t)| {
            let f = life.failure_probability(*t);
            d.max((f - i as f64 / n as f64).abs()).max(((i + 1) as f64 / n as f64 - f).abs())
        });
        assert!(distance < 1.95 / (n as f64).sqrt(), "{life:?} {distance}");
    }
}

proptest! {
    #[test]
    fn reliability_and_failure_probability_make_one(shape in 0.1f64..60.0, scale in 1.0f64..1e5, ratio in 0.01f64..3.0) {
        let age = scale * ratio;
        for life in [
            &Weibull { shape, scale } as &dyn Life,
            &Lognormal { location: scale.ln(), scale: 1.0 / shape },
            &Exponential { scale },
        ] {
            prop_assert!((life.reliability(age) + life.failure_probability(age) - 1.0).abs() < 1e-14);
            let f = life.failure_probability(age);
            if f > 1e-12 && f < 1.0 - 1e-3 {
                prop_assert!((life.quantile(f).unwrap() / age - 1.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn doubling_the_unit_scales_the_answer(shape in 0.3f64..20.0, scale in 1.0f64..1e5, p in 0.001f64..0.999) {
        let (a, b) = (Weibull { shape, scale }, Weibull { shape, scale: 2.0 * scale });
        prop_assert!((b.quantile(p).unwrap() / a.quantile(p).unwrap() - 2.0).abs() < 1e-14);
        prop_assert!((b.mean().unwrap() / a.mean().unwrap() - 2.0).abs() < 1e-14);
    }
}
