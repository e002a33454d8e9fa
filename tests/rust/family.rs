//! Families against 50-digit tables, hard cases and each other.

use proptest::prelude::*;
use relamp::base::random::Stream;
use relamp::family::{Exponential, Family, Jet, Life, Link, Lognormal, Order, Term, Weibull, families, family};
use serde_json::Value;

/// Relative agreement.
fn close(got: f64, want: f64, tolerance: f64) -> bool {
    got == want || (got - want).abs() <= tolerance * want.abs()
}

/// A family, its parameters, an age; mean, variance, mean to the age, mean residual life.
type Moments = (&'static dyn Family, Vec<f64>, f64, [f64; 4]);
/// A family, its parameters and their life.
type Example = (&'static dyn Family, Vec<f64>, Box<dyn Life>);

/// Lives whose moments stand in a table made by quadrature at 40 digits: their family, parameters, age and moments.
fn moments() -> Vec<Moments> {
    let numbers = |cell: &str| -> Vec<f64> { cell.split(' ').map(|v| v.parse().unwrap()).collect() };
    let tables = [include_str!("../data/family_means.csv"), include_str!("../data/combined_means.csv")];
    tables
        .into_iter()
        .flat_map(str::lines)
        .filter(|l| !l.starts_with('#'))
        .map(|line| {
            let cells: Vec<&str> = line.split(';').collect();
            let want = [3, 4, 5, 6].map(|k| cells[k].trim_start_matches('+').parse().unwrap());
            (family(cells[0]).unwrap(), numbers(cells[1]), cells[2].parse().unwrap(), want)
        })
        .collect()
}

/// One life of each family, from the table of moments.
fn lives() -> Vec<Example> {
    let mut out: Vec<Example> = Vec::new();
    for (f, parameters, _, _) in moments() {
        if out.last().is_none_or(|l| l.1 != parameters) {
            let life = f.life(&parameters).unwrap();
            out.push((f, parameters, life));
        }
    }
    out
}

#[test]
fn moments_agree_with_quadrature_at_forty_digits() {
    let mut seen = std::collections::BTreeSet::new();
    for (f, parameters, age, want) in moments() {
        let life = f.life(&parameters).unwrap();
        let got = [life.mean(), life.variance(), life.mean_to(age), life.mean_residual_life(age)].map(Result::unwrap);
        for (name, (got, want)) in ["mean", "variance", "mean to", "rest"].iter().zip(got.into_iter().zip(want)) {
            assert!(close(got, want, 1e-11), "{life:?} {age} {name}: {got:e} {want:e}");
        }
        if life.below_zero() == 0.0 {
            assert!(close(life.mean_to(f64::INFINITY).unwrap(), want[0], 1e-11), "{life:?}");
        }
        seen.insert(f.name());
    }
    assert!(families().iter().all(|f| seen.contains(f.name())), "{seen:?}");
}

#[test]
fn derivatives_agree_with_finite_differences() {
    // Independent of any table: each derivative from values, and each second one from gradients.
    let h = 1e-5;
    for (f, parameters, life) in lives() {
        let x = f.coordinates(&parameters).unwrap();
        for term in [Term::LnDensity, Term::LnReliability, Term::LnFailureProbability] {
            for age in [0.1, 0.5, 0.9].map(|p| life.quantile(p).unwrap()) {
                let (mut jet, n) = (Jet::new(f.width()), f.width() + 1);
                f.jet(&x, age, term, Order::Hessian, &mut jet);
                let mut ends = [Jet::new(f.width()), Jet::new(f.width())];
                for i in 0..n {
                    let reach = if i + 1 == n { life.variance().unwrap().min(age * age).sqrt() } else { f.step(&x, i) };
                    let step = h * reach;
                    for (end, sign) in ends.iter_mut().zip([1.0, -1.0]) {
                        let (mut y, mut t) = (x.clone(), age);
                        *y.get_mut(i).unwrap_or(&mut t) += sign * step;
                        f.jet(&y, t, term, Order::Gradient, end);
                    }
                    let near = |slope: f64, want: f64, unit: f64| {
                        let place = format!("{} {term:?} {age} {i}: {slope} {want}", f.name());
                        assert!((slope - want).abs() * unit < 1e-5 * (1.0 + want.abs() * unit), "{place}");
                    };
                    near((ends[0].value - ends[1].value) / (2.0 * step), jet.gradient[i], reach);
                    for j in 0..=i {
                        let slope = (ends[0].gradient[j] - ends[1].gradient[j]) / (2.0 * step);
                        let other = if j + 1 == n { reach } else { f.step(&x, j) };
                        near(slope, jet.hessian[i * (i + 1) / 2 + j], reach * other);
                    }
                }
            }
        }
    }
}

#[test]
fn parameters_and_coordinates_undo_each_other() {
    for (f, parameters, life) in lives() {
        let x = f.coordinates(&parameters).unwrap();
        assert_eq!(x.len(), f.width());
        for (a, b) in f.parameters(&x).iter().zip(&parameters) {
            assert!(close(*a, *b, 1e-14), "{}", f.name());
        }
        let h = 1e-6;
        for (i, slope) in f.parameter_slopes(&x).into_iter().enumerate() {
            let (mut up, mut down) = (x.clone(), x.clone());
            (up[i], down[i]) = (x[i] + h, x[i] - h);
            let difference = (f.parameters(&up)[i] - f.parameters(&down)[i]) / (2.0 * h);
            assert!(close(difference, slope, 1e-6), "{} {difference} {slope}", f.name());
        }
        // The anchor: from another life that differs in it alone, its value is found back from one age.
        let (age, mut moved) = (life.quantile(0.4).unwrap(), x.clone());
        moved[f.anchor()] += 0.1 * f.step(&x, f.anchor());
        let ln_reliability = f.at(&moved).unwrap().ln_reliability(age);
        moved[f.anchor()] = f.anchored(&x, age, ln_reliability).unwrap();
        assert!(close(f.at(&moved).unwrap().ln_reliability(age), ln_reliability, 1e-11), "{}", f.name());
        // The stretch: every age moves in proportion.
        if let Some(along) = f.stretch() {
            let longer: Vec<f64> = x.iter().zip(&along).map(|(x, d)| x + 0.1 * d).collect();
            let longer = f.at(&longer).unwrap();
            for age in [0.1, 0.5, 0.9].map(|p| life.quantile(p).unwrap()) {
                assert!(close(longer.reliability(age * 0.1f64.exp()), life.reliability(age), 1e-12), "{}", f.name());
            }
        }
        assert_eq!(f.life(&[]).unwrap_err().slug(), "family.width");
        assert_eq!(f.at(&[0.0; 9]).unwrap_err().slug(), "family.width");
        for i in 0..f.width() {
            for bad in [f64::NAN, f64::INFINITY] {
                let mut wrong = parameters.clone();
                wrong[i] = bad;
                assert_eq!(f.life(&wrong).unwrap_err().slug(), "family.parameter", "{}", f.name());
            }
        }
    }
}

#[test]
fn the_density_is_the_slope_of_the_failure_probability() {
    for (f, _, life) in lives() {
        let edges: Vec<f64> = [0.05, 0.2, 0.5, 0.8, 0.95].iter().map(|p| life.quantile(*p).unwrap()).collect();
        let density = |t: f64| life.ln_density(t).exp();
        let mut kinks: Vec<f64> = edges.iter().chain(life.kinks()).copied().collect();
        kinks.sort_by(f64::total_cmp);
        let area = relamp::base::math::quadrature::integrate(density, edges[0], edges[4], &kinks, 1e-12).unwrap();
        assert!(close(area, 0.9, 1e-10), "{} {area}", f.name());
        assert!(close(life.hazard(edges[2]), density(edges[2]) / life.reliability(edges[2]), 1e-12));
        assert!(close(life.cumulative_hazard(edges[2]), 2f64.ln(), 1e-11), "{}", f.name());
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
fn what_lies_below_zero_is_cut_or_refused() {
    use relamp::family::{AboveZero, Normal};
    let life = Normal { location: 300.0, scale: 400.0 };
    assert!(close(life.below_zero(), life.failure_probability(0.0), 0.0) && life.below_zero() > 0.2);
    let cut = AboveZero::new(Box::new(life));
    assert_eq!((cut.below_zero(), cut.reliability(0.0), cut.failure_probability(0.0)), (0.0, 1.0, 0.0));
    assert!(close(cut.reliability(500.0), life.reliability(500.0) / life.reliability(0.0), 1e-14));
    for name in ["above_zero(weibull)", "above_zero(normal, logistic)", "above_zero(above_zero(normal))"] {
        assert_eq!(family(name).unwrap_err().slug(), "family.made_of", "{name}");
    }
    for name in ["above_zero", "above_zero(normal", "(normal)", "above_zero(square)", &"(".repeat(9000)] {
        assert_eq!(family(name).unwrap_err().slug(), "family.unknown", "{name}");
    }
    assert!(std::ptr::eq(family("above_zero(normal)").unwrap(), family(" above_zero( normal ) ").unwrap()));
}

#[test]
fn every_life_says_how_it_is_written() {
    let mut seen = 0;
    for (f, parameters, life) in lives() {
        let written = life.named().unwrap_or_else(|| panic!("{} does not say", f.name()));
        assert_eq!((written.family.as_str(), &written.parameters), (f.name(), &parameters));
        let again = written.life().unwrap();
        assert_eq!(again.ln_reliability(700.0).to_bits(), life.ln_reliability(700.0).to_bits(), "{}", f.name());
        seen += 1;
    }
    assert!(seen >= families().len());
}

#[test]
fn draws_follow_their_life() {
    // Kolmogorov distance of 4,000 draws, fixed seed; 1.95 / sqrt(n) is the 0.1 % point (Smirnov's table, from memory).
    let n = 4000;
    for (_, _, life) in lives() {
        let mut ages = life.draws(n, &mut Stream::new(20_251_228, "family", "test", 0)).unwrap();
        ages.sort_by(f64::total_cmp);
        let distance = ages.iter().enumerate().fold(0.0f64, |d, (i, t)| {
            let f = life.failure_probability(*t);
            d.max((f - i as f64 / n as f64).abs()).max(((i + 1) as f64 / n as f64 - f).abs())
        });
        assert!(distance < 1.95 / (n as f64).sqrt(), "{life:?} {distance}");
    }
}

/// A life somewhere in the box of a family, away from its corners.
fn somewhere(f: &dyn Family, u: &[f64]) -> Vec<f64> {
    let at = |(low, high): (f64, f64), u: f64| {
        if low > 0.0 {
            (low.ln() + (0.2 + 0.6 * u) * (high / low).ln()).exp()
        } else {
            low + (0.2 + 0.6 * u) * (high - low)
        }
    };
    f.stated_box().iter().zip(u).map(|(b, u)| at(*b, *u)).collect()
}

proptest! {
    #[test]
    fn reliability_and_failure_probability_make_one(u in prop::array::uniform5(0.0f64..1.0), p in 1e-9f64..0.999) {
        for f in families() {
            let life = f.life(&somewhere(f, &u)).unwrap();
            let age = life.quantile(p).unwrap();
            prop_assert!((life.reliability(age) + life.failure_probability(age) - 1.0).abs() < 1e-14, "{life:?} {age}");
            // What rounding the age does to F: its relative error times t f(t).
            let rounding = 4.0 * f64::EPSILON * (1.0 + age.abs() * life.ln_density(age).exp() / p);
            prop_assert!(close(life.failure_probability(age), p, 1e-10 + rounding), "{life:?} {age} {p}");
        }
    }

    #[test]
    fn doubling_the_unit_scales_the_answer(u in prop::array::uniform5(0.0f64..1.0), p in 0.001f64..0.999) {
        for f in families() {
            let once = somewhere(f, &u);
            // Parameters in hours double; a location of ln hours moves by ln 2; a rate halves.
            let twice: Vec<f64> = f.parameter_names().iter().zip(f.links()).zip(&once).map(|((name, link), v)| {
                match (*name, link) {
                    (_, Link::Hours) | ("mean" | "median", _) => 2.0 * v,
                    ("location", Link::Plain) => v + 2f64.ln(),
                    ("scale", Link::Log) if f.name() != "lognormal" && f.name() != "generalised_gamma" => 2.0 * v,
                    _ => *v,
                }
            }).collect();
            let (a, b) = (f.life(&once).unwrap(), f.life(&twice).unwrap());
            let (x, y) = (a.quantile(p).unwrap(), b.quantile(p).unwrap());
            prop_assert!((y - 2.0 * x).abs() <= 1e-12 * (x.abs() + once[0].abs()), "{a:?} {b:?} {x} {y}");
        }
    }
}
