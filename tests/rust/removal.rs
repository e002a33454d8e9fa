//! Suspect removals: the curve under a stated dependence, worst-case bounds, and the dial, on small records.

use relamp::Run;
use relamp::base::figure::full_hours;
use relamp::base::random::Stream;
use relamp::empirical::{
    CurveOptions, DependentCurve, RemovalBounds, RemovalBoundsOptions, RemovalOptions, SuspectOptions, dependent_curve,
    ending_bounds, incidence_bounds, product_limit, removal_bounds,
};
use relamp::family::family;
use relamp::fit::{DialAnswer, DialOptions, FitOptions, RemovalDial, WIDEST_RATIO, fit, removal_dial};
use relamp::lives::{Reading, Rows, Tally};
use relamp::policy::{AgeOptions, dial_planned_age, planned_age};
use relamp::records::Ending;
use relamp::terms::{Costs, PrintedHours};

const INF: f64 = f64::INFINITY;

pub(crate) fn dim() -> RemovalOptions {
    RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() }
}

fn tally(rows: &Rows) -> Tally {
    Tally::from_rows(rows).unwrap().0
}

/// Lamps with ties, three kinds of ending, counts, and late entry where asked for.
fn lamps(seed: u64, late: bool) -> Tally {
    let mut stream = Stream::new(seed, "test", "removal", 0);
    let mut rows = Rows::default();
    let (mut entry, mut ending, mut count) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..120 {
        let age = (100.0 * stream.uniform()).ceil() * 20.0;
        let kind = stream.below(3);
        rows.low.push(age);
        rows.high.push(if kind == 0 { age } else { INF });
        ending.push([Ending::Burst, Ending::Dim, Ending::Running][kind]);
        entry.push(if late && stream.uniform() < 0.5 { (0.9 * age * stream.uniform()).floor() } else { 0.0 });
        count.push(1 + stream.below(3) as u64);
    }
    // Some lamps from new keep the risk set from emptying early.
    rows.low.push(2500.0);
    rows.high.push(INF);
    ending.push(Ending::Running);
    entry.push(0.0);
    count.push(20);
    (rows.entry, rows.ending, rows.count) = (Some(entry), Some(ending), Some(count));
    tally(&rows)
}

#[test]
fn bounds_that_cannot_be_found_or_say_nothing_are_told_in_their_own_words() {
    let rows = Rows {
        low: vec![10.0, 20.0, 100.0, 200.0, 300.0],
        high: vec![10.0, 20.0, f64::INFINITY, 200.0, f64::INFINITY],
        entry: Some(vec![5.0, 15.0, 50.0, 50.0, 50.0]),
        ending: Some(vec![Ending::Burst, Ending::Burst, Ending::Dim, Ending::Burst, Ending::Running]),
        ..Rows::default()
    };
    let ask = |rows: &Rows, suspect: Ending| {
        let removal = RemovalOptions { suspects: vec![suspect], ..RemovalOptions::default() };
        let options = RemovalBoundsOptions { removal, age_hours: 150.0, widest: 0.25, level: 0.95 };
        removal_bounds(&Tally::from_rows(rows).unwrap().0, &options)
    };
    // No argument of these bounds sets a least number of lamps, so the refusal names the records.
    let error = ask(&rows, Ending::Dim).unwrap_err();
    let text = error.to_string();
    assert_eq!(error.slug(), "empirical.too_few_at_risk");
    assert!(!text.contains("min_at_risk") && text.contains("expected 5 lamps at once"), "{text}");
    assert!(error.hint().unwrap().contains("seen from new"), "{error}");
    // Bounds of no width that no lamp widens say so.
    let new = Rows { entry: None, ..rows };
    let at = ask(&new, Ending::Moved).unwrap().at;
    assert_eq!(at.low, at.high);
    assert!(
        at.sentence.contains("no lamp has a suspect ending") && !at.sentence.contains("between 60"),
        "{}",
        at.sentence
    );
}

#[test]
fn independent_removal_gives_the_product_limit_curve() {
    for late in [false, true] {
        for seed in 0..5 {
            let tally = lamps(seed, late);
            let curve = dependent_curve(&tally, 0.0, &dim()).unwrap();
            let plain = product_limit(&tally, &CurveOptions { min_at_risk: 1, ..CurveOptions::default() }).unwrap();
            for age in plain.ages() {
                let (got, want) = (curve.reliability_at(*age).unwrap(), plain.reliability_at(*age).unwrap());
                assert!((got - want).abs() < 1e-13, "{age} {got} {want}");
            }
        }
    }
}

/// The curve as its authors define it: at every age the reliability and the share not removed are those that, joined by the
/// copula, give the share of lamps left; found by bisection, one of the two standing still at each step.
fn by_bisection(curve: &DependentCurve) -> Vec<f64> {
    let q = 1.0 / (1.0 - curve.tau);
    let left = |r: f64, s: f64| (-(((-r.ln()).powf(q) + (-s.ln()).powf(q)).powf(1.0 / q))).exp();
    let (mut r, mut s, mut share) = (1.0_f64, 1.0_f64, 1.0);
    let solve = |of: &dyn Fn(f64) -> f64, from: f64, want: f64| {
        let (mut low, mut high) = (0.0, from);
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if of(middle) < want { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    };
    let mut out = Vec::new();
    for i in 0..curve.ages.len() {
        let mut n = curve.at_risk[i] as f64;
        if curve.failures[i] > 0 {
            share *= 1.0 - curve.failures[i] as f64 / n;
            n -= curve.failures[i] as f64;
            r = solve(&|x| left(x, s), r, share);
        }
        if curve.removals[i] > 0 {
            share *= 1.0 - curve.removals[i] as f64 / n;
            s = solve(&|x| left(r, x), s, share);
        }
        out.push(r);
    }
    out
}

#[test]
fn the_curve_solves_the_copula_at_every_age() {
    for tau in [0.1, 0.5, 0.8, 0.95] {
        let curve = dependent_curve(&lamps(7, true), tau, &dim()).unwrap();
        for (got, want) in curve.reliability.iter().zip(by_bisection(&curve)) {
            assert!((got - want).abs() < 1e-9, "{tau}: {got} {want}");
        }
        assert_eq!(DependentCurve::from_json(&curve.to_json().unwrap()).unwrap(), curve);
    }
}

#[test]
fn stronger_dependence_shortens_the_life_and_stays_above_the_lower_bound() {
    let tally = lamps(3, false);
    let options = RemovalBoundsOptions { removal: dim(), age_hours: 900.0, widest: 0.9, level: 0.95 };
    let bounds = removal_bounds(&tally, &options).unwrap();
    let independent = product_limit(&tally, &CurveOptions::default()).unwrap();
    for age in (1..=19).map(|i| 100.0 * f64::from(i)) {
        let (low, high) = bounds.bounds_at(age).unwrap();
        assert!(high >= independent.reliability_at(age).unwrap() - 1e-12);
        let mut before = 1.0;
        for tau in [0.0, 0.3, 0.6, 0.9, 0.99] {
            let here = dependent_curve(&tally, tau, &dim()).unwrap().reliability_at(age).unwrap();
            assert!(here <= before + 1e-12 && here >= low - 1e-12 && here <= high + 1e-12, "{age} {tau}");
            before = here;
        }
        let (outer_low, outer_high) = bounds.outer_at(age).unwrap();
        assert!(outer_low <= low && high <= outer_high && outer_high <= 1.0);
    }
    assert!(bounds.at.informative && !bounds.at.sentence.contains("uninformative"), "{}", bounds.at.sentence);
    assert_eq!(RemovalBounds::from_json(&bounds.to_json().unwrap()).unwrap(), bounds);
}

fn dial(tally: &Tally, name: &str, replicates: usize) -> RemovalDial {
    let options = DialOptions { removal: dim(), taus: vec![0.3, 0.6, 0.8], replicates, ..DialOptions::default() };
    removal_dial(family(name).unwrap(), tally, &options, &Run::new()).unwrap()
}

#[test]
fn at_zero_the_dial_is_the_ordinary_fit() {
    for late in [false, true] {
        let tally = lamps(11, late);
        for name in ["weibull", "lognormal", "gamma", "normal"] {
            let dial = dial(&tally, name, 0);
            let plain = fit(family(name).unwrap(), &tally, &FitOptions::default(), &Run::new()).unwrap();
            assert_eq!(
                dial.points()[0].parameters,
                plain.parameters_at_maximum().iter().map(|p| p.1).collect::<Vec<_>>()
            );
            assert_eq!(dial.facts(), plain.facts());
            // The road by the copula, all but independent, leads to the same place.
            let near = DialOptions { removal: dim(), taus: vec![1e-12], replicates: 0, ..DialOptions::default() };
            let near = removal_dial(family(name).unwrap(), &tally, &near, &Run::new()).unwrap();
            for (a, b) in near.points()[1].parameters.iter().zip(&dial.points()[0].parameters) {
                assert!((a / b - 1.0).abs() < 1e-8, "{name}: {a} {b}");
            }
        }
    }
}

#[test]
fn every_figure_falls_as_the_dial_turns_and_the_range_holds_its_ends() {
    let dial = dial(&lamps(5, false), "weibull", 40);
    let range = (0.3, 0.8);
    let r = dial.reliability(900.0, 0.9, range, 0.25).unwrap();
    let b = dial.b_life(10.0, 0.9, range, WIDEST_RATIO).unwrap();
    for answer in [&r, &b] {
        assert!(answer.estimate.windows(2).all(|w| w[0] > w[1]), "{answer:?}");
        assert_eq!((answer.most, answer.least), (answer.estimate[1], answer.estimate[3]));
        assert_eq!(answer.range_low, answer.low[1..].iter().map(|x| x.unwrap()).reduce(f64::min));
        assert_eq!(answer.range_high, answer.high[1..].iter().map(|x| x.unwrap()).reduce(f64::max));
        assert!(answer.range_low.unwrap() < answer.least && answer.most < answer.range_high.unwrap());
        assert_eq!(&DialAnswer::from_json(&answer.to_json().unwrap()).unwrap(), answer);
    }
    let life = dial.life(0.6).unwrap();
    assert_eq!((r.estimate[2], b.estimate[2]), (life.reliability(900.0), life.b_life(10.0).unwrap()));
    let narrow = dial.reliability(900.0, 0.9, range, 0.01).unwrap();
    assert!(
        !narrow.informative && narrow.sentence.ends_with("uninformative: wider than 1 % with chance"),
        "{}",
        narrow.sentence
    );
    let narrow = dial.b_life(10.0, 0.9, range, 1.01).unwrap();
    assert!(!narrow.informative && narrow.sentence.contains("uninformative"), "{}", narrow.sentence);
    assert_eq!(RemovalDial::from_json(&dial.to_json().unwrap()).unwrap(), dial);
}

#[test]
fn the_planned_age_goes_through_policy() {
    let dial = dial(&lamps(5, false), "weibull", 20);
    let costs = Costs::new(950.0, [(Ending::Burst, 9200.0)]).unwrap();
    let sheet = PrintedHours { maximum_hours: Some(4000.0), source: "invented".into(), ..PrintedHours::default() };
    let (limit, asked) = (sheet.limit().unwrap(), AgeOptions::default());
    let ages = dial_planned_age(&dial, &costs, &limit, &asked, 0.9, (0.0, 0.8), 2.0, &Run::new()).unwrap();
    let worlds = relamp::fit::World {
        causes: vec![relamp::fit::CauseLife { endings: vec![(Ending::Burst, 1.0)], life: dial.life(0.6).unwrap() }],
        costs,
    };
    let oldest = AgeOptions { oldest_at_risk_hours: Some(2500.0), ..asked };
    assert_eq!(ages.estimate[2], planned_age(&worlds, &limit, &oldest).unwrap().age_hours);
    assert!(ages.estimate.windows(2).all(|w| w[0] >= w[1]) && ages.estimate[0] > ages.estimate[3], "{ages:?}");
    // Advice stops where the records do, though the limit lies further.
    assert!(ages.high.iter().all(|x| x.unwrap() <= 2500.0));
}

#[test]
fn a_planned_age_that_is_only_where_the_records_end_says_so() {
    let tally = lamps(5, false);
    let sheet =
        |hours| PrintedHours { maximum_hours: Some(hours), source: "invented".into(), ..PrintedHours::default() };
    let ask = |family: &str, planned: f64, failed: f64, limit: f64| {
        let costs = Costs::new(planned, [(Ending::Burst, failed)]).unwrap();
        let (limit, asked) = (sheet(limit).limit().unwrap(), AgeOptions::default());
        let dial = dial(&tally, family, 20);
        dial_planned_age(&dial, &costs, &limit, &asked, 0.9, (0.0, 0.8), 2.0, &Run::new()).unwrap()
    };
    // An even hazard: no planned change pays at any age, whichever comes first, records or limit.
    for (limit, what) in [(4000.0, "2,500 h is the oldest lamp at risk"), (2000.0, "2,000 h is the hour limit")] {
        let even = ask("exponential", 500.0, 5000.0, limit);
        assert!(even.verdicts.iter().all(|v| v == "no_planned_change_pays"), "{:?}", even.verdicts);
        assert!(!even.informative && even.least == even.most, "{even:?}");
        assert!(even.sentence.contains("no planned change pays") && even.sentence.contains(what), "{}", even.sentence);
        assert_eq!(DialAnswer::from_json(&even.to_json().unwrap()).unwrap(), even);
        let lie = even.to_json().unwrap().replace("\"informative\":false", "\"informative\":true");
        assert!(DialAnswer::from_json(&lie).unwrap_err().to_string().contains("informative"));
    }
    let dear = ask("weibull", 500.0, 500.0, 4000.0);
    assert!(dear.verdicts.iter().all(|v| v == "planned_costs_at_least_failure"), "{:?}", dear.verdicts);
    assert!(!dear.informative && dear.sentence.contains("costs as much as a failure"), "{}", dear.sentence);
    let worn = ask("weibull", 950.0, 9200.0, 4000.0);
    assert!(worn.verdicts.contains(&"best_below_limit".to_owned()), "{:?}", worn.verdicts);
    let share = dial(&tally, "weibull", 0).reliability(500.0, 0.9, (0.0, 0.8), 0.5).unwrap();
    assert!(share.verdicts.is_empty() && share.informative, "{share:?}");
}

#[test]
fn a_figure_past_the_oldest_lamp_says_so() {
    let dial = dial(&lamps(5, false), "weibull", 20);
    let told = |a: &DialAnswer| a.notes.iter().any(|n| n.slug == "fit.extrapolated" && a.sentence.ends_with(&n.text));
    let age = |x| dial.b_life(x, 0.9, (0.0, 0.8), WIDEST_RATIO).unwrap();
    let share = |h| dial.reliability(h, 0.9, (0.0, 0.8), 0.25).unwrap();
    let far = age(99.999);
    assert!(far.most > 2500.0 && told(&far), "{far:?}");
    assert!(told(&share(2500.5)) && share(2500.0).notes.is_empty() && age(10.0).notes.is_empty());
    assert_eq!(DialAnswer::from_json(&far.to_json().unwrap()).unwrap(), far);
    // One figure reads the same wherever the sentence has it: hours are rounded down.
    let mut cut = 0;
    for percent in [99.0, 99.5, 99.9, 99.95, 99.99, 99.999] {
        let age = age(percent);
        let figures = [age.least, age.most, age.range_low.unwrap(), age.range_high.unwrap(), age.estimate[0]];
        for x in figures {
            assert!(age.sentence.contains(&format!("{} h", full_hours(x))), "{x} in {}", age.sentence);
            cut += i32::from(full_hours(x) != full_hours(x.round()));
        }
    }
    assert!(cut > 5, "{cut}");
}

#[test]
fn what_cannot_be_answered_is_refused_by_name() {
    let good = lamps(1, false);
    let curve = |tally: &Tally, tau: f64, options: &RemovalOptions| dependent_curve(tally, tau, options).unwrap_err();
    for tau in [-0.1, 1.0, f64::NAN] {
        assert_eq!(curve(&good, tau, &dim()).slug(), "empirical.tau");
    }
    let none = RemovalOptions::default();
    assert_eq!(curve(&good, 0.5, &none).slug(), "empirical.suspects");
    let both = RemovalOptions { endings: Some(vec![Ending::Burst, Ending::Dim]), ..dim() };
    assert_eq!(curve(&good, 0.5, &both).slug(), "empirical.suspects");
    let ending = |rows: Rows, ending: &[Ending]| tally(&Rows { ending: Some(ending.to_vec()), ..rows });
    let rows = Rows { low: vec![100.0, 300.0], high: vec![200.0, INF], ..Rows::default() };
    let wide = ending(rows, &[Ending::Burst, Ending::Dim]);
    assert_eq!(curve(&wide, 0.5, &dim()).slug(), "empirical.interval_rows");
    let read = RemovalOptions { reading: Some(Reading::Upper), ..dim() };
    assert_eq!(dependent_curve(&wide, 0.5, &read).unwrap().ages, [200.0, 300.0]);
    let rows =
        Rows { low: vec![100.0, 300.0], high: vec![100.0, 300.0], entry: Some(vec![0.0, 200.0]), ..Rows::default() };
    let gap = ending(rows, &[Ending::Burst, Ending::Burst]);
    assert_eq!(curve(&gap, 0.5, &dim()).slug(), "empirical.risk_set_emptied");

    let ask = |name: &str, options: DialOptions| {
        removal_dial(family(name).unwrap(), &good, &options, &Run::new()).unwrap_err().slug().to_owned()
    };
    let base = || DialOptions { removal: dim(), replicates: 0, ..DialOptions::default() };
    assert_eq!(ask("weibull_failure_free", base()), "fit.dial_family");
    assert_eq!(ask("weibull", DialOptions { replicates: 19, ..base() }), "fit.dial_replicates");
    assert_eq!(ask("weibull", DialOptions { taus: vec![1.0], ..base() }), "empirical.tau");
    let dial = dial(&good, "weibull", 0);
    assert_eq!(dial.life(0.5).unwrap_err().slug(), "fit.dial_tau");
    for range in [(0.6, 0.3), (0.3, 0.5), (f64::NAN, 0.3)] {
        assert_eq!(dial.b_life(10.0, 0.9, range, 2.0).unwrap_err().slug(), "fit.dial_range");
    }
    assert_eq!(dial.b_life(10.0, 0.9, (0.0, 0.3), 0.5).unwrap_err().slug(), "fit.dial_widest");
    assert_eq!(dial.b_life(100.0, 0.9, (0.0, 0.3), 2.0).unwrap_err().slug(), "fit.dial_percent");
    assert_eq!(dial.reliability(-1.0, 0.9, (0.0, 0.3), 0.2).unwrap_err().slug(), "fit.dial_figure");
    assert_eq!(dial.reliability(1.0, 0.9, (0.0, 0.3), 2.0).unwrap_err().slug(), "empirical.widest");
    assert_eq!(dial.reliability(1.0, 1.0, (0.0, 0.3), 0.2).unwrap_err().slug(), "fit.level");
    let bare = dial.reliability(1.0, 0.9, (0.0, 0.3), 0.2).unwrap();
    assert_eq!((bare.range_low, bare.informative), (None, true));
    assert!(bare.sentence.contains("; without chance, as there are no refits"), "{}", bare.sentence);
}

#[test]
fn bounds_name_what_chance_adds() {
    let tally = lamps(1, false);
    let options = RemovalBoundsOptions { removal: dim(), age_hours: 900.0, widest: 0.9, level: 0.95 };
    let bounds = removal_bounds(&tally, &options).unwrap();
    let (low, high) = bounds.outer_at(900.0).unwrap();
    assert!(low < bounds.at.low && bounds.at.high < high);
    let percent = |x: f64| ((1000.0 * x).round() / 10.0).to_string();
    let said = &bounds.at.sentence;
    assert!(said.contains("for these lamps") && said.contains("with chance (95 %) between"), "{said}");
    assert!(said.contains(&percent(low)) && said.contains(&percent(high)), "{said} {low} {high}");
    let misfiled = SuspectOptions {
        suspects: vec![Ending::Dim],
        age_hours: 900.0,
        widest: 0.9,
        curve: CurveOptions { level: 0.8, ..CurveOptions::default() },
    };
    for said in [
        ending_bounds(&tally, &misfiled).unwrap().at.sentence,
        incidence_bounds(&tally, Ending::Burst, &misfiled).unwrap().at.sentence,
    ] {
        assert!(said.contains("for these lamps") && said.contains("with chance (80 %) between"), "{said}");
    }
}
