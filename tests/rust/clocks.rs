//! Lives on other clocks: hours and strikes, and hours under a recorded current. Closed forms, simulations, refusals.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{
    ClockEdge, CurrentHistoryFit, CurrentPiece, FitOptions, Histories, Sides, StressLaw, Terms, TwoClocks, ValueIs,
    fit, fit_covariates, fit_current_history, two_clocks,
};
use relamp::lives::{Rows, Tally};
use relamp::records::{Column, Ending, Values};

const INF: f64 = f64::INFINITY;

fn with_rate(rows: &Rows, rate: &[f64]) -> Tally {
    let column = Column { name: "rate".into(), values: Values::Number(rate.iter().copied().map(Some).collect()) };
    Tally::from_rows(&rows.clone().with_covariates(&[column]).unwrap()).unwrap().0
}

fn clocks(name: &str, tally: &Tally) -> Result<TwoClocks, relamp::Error> {
    two_clocks(family(name).unwrap(), tally, "rate", 0.95, &FitOptions::default(), &Run::new())
}

/// Lamps of Weibull shape 3, scale 3,000 equivalent hours, a strike being worth `k`, changed at about 2,400 h; some enter
/// late, some failures are known to a week.
fn struck(run: u64, lamps: usize, k: f64, rates: (f64, f64)) -> Tally {
    let truth = Weibull { shape: 3.0, scale: 3000.0 };
    let mut stream = Stream::new(20_261_126, "test", "strikes", run);
    let mut rows = Rows { entry: Some(Vec::new()), ..Rows::default() };
    let mut rate = Vec::new();
    while rate.len() < lamps {
        let r = rates.0 + (rates.1 - rates.0) * stream.uniform();
        let life = truth.draws(1, &mut stream).unwrap()[0] / (1.0 + k * r);
        let change = 2000.0 + 800.0 * stream.uniform();
        let entry = if stream.uniform() < 0.3 { 500.0 * stream.uniform() } else { 0.0 };
        let week = stream.uniform() < 0.3;
        if life <= entry {
            continue;
        }
        let low = if life > change {
            change
        } else if week {
            (life / 80.0).floor() * 80.0
        } else {
            life
        };
        rows.low.push(low);
        rows.high.push(if life > change {
            INF
        } else if week {
            low + 80.0
        } else {
            life
        });
        rows.entry.as_mut().unwrap().push(entry);
        rate.push(r);
    }
    with_rate(&rows, &rate)
}

#[test]
fn even_hazards_on_two_clocks_have_a_closed_form() {
    // Rates of failure 500 in 400,000 h at 0.1 strikes for each hour, 600 in 300,000 h at 0.5: (1 + 0.5 k) / (1 + 0.1 k) = 1.6.
    let low = vec![800.0, 500.0];
    let rows = Rows { high: low.clone(), low, count: Some(vec![500, 600]), ..Rows::default() };
    let fit = clocks("exponential", &with_rate(&rows, &[0.1, 0.5])).unwrap();
    let k = (1.6 - 1.0) / (0.5 - 0.16);
    assert_eq!(fit.edge(), ClockEdge::Inside);
    assert!((fit.hours_per_strike().unwrap() / k - 1.0).abs() < 1e-7, "{:?}", fit.hours_per_strike());
    // Two rates and two unknowns: each group has its own mean, and the likelihood per hour that of two even hazards.
    let want = 500.0 * (1.0_f64 / 800.0).ln() + 600.0 * (1.0_f64 / 500.0).ln() - 1100.0;
    assert!((fit.log_likelihood() - want).abs() < 1e-7);
    for (r, mean) in [(0.1, 800.0), (0.5, 500.0), (0.0, 800.0 * (1.0 + 0.1 * k))] {
        assert!((fit.life(r).unwrap().mean().unwrap() / mean - 1.0).abs() < 1e-6);
    }
    assert_eq!(TwoClocks::from_json(&fit.to_json().unwrap()).unwrap(), fit);
}

#[test]
fn hours_alone_are_the_ordinary_fit_and_strikes_alone_that_of_strikes() {
    let tally = struck(1, 200, 2.0, (0.1, 0.8));
    for name in ["weibull", "lognormal", "log_logistic"] {
        let got = clocks(name, &tally).unwrap();
        let plain = fit(family(name).unwrap(), &tally, &FitOptions::default(), &Run::new()).unwrap();
        assert!((got.log_likelihood_hours() - plain.log_likelihood()).abs() < 1e-8);
        assert!(got.log_likelihood() >= got.log_likelihood_hours());
        // On strikes alone every lamp has its strikes for an age, and a failure's density gains ln r.
        let shares = got.profile();
        assert_eq!((shares[0].0, shares.last().unwrap().0), (0.0, 1.0));
        assert_eq!((shares[0].1, shares.last().unwrap().1), (Some(0.0), None));
        let groups: Vec<f64> = tally
            .groups()
            .iter()
            .map(|g| match g.covariates[0] {
                relamp::lives::CovariateValue::Number(x) => x.get(),
                relamp::lives::CovariateValue::Category(_) => f64::NAN,
            })
            .collect();
        let r: Vec<f64> = tally.group().iter().map(|g| groups[*g as usize]).collect();
        let by = |x: &[f64]| x.iter().zip(&r).map(|(x, r)| x * r).collect::<Vec<f64>>();
        let rows =
            Rows { low: by(tally.low()), high: by(tally.high()), entry: tally.entry().map(by), ..Rows::default() };
        let strikes = Tally::from_rows(&rows).unwrap().0;
        let alone = fit(family(name).unwrap(), &strikes, &FitOptions::default(), &Run::new()).unwrap();
        let exact = tally.low().iter().zip(tally.high()).zip(&r).filter(|((low, high), _)| low == high);
        let jacobian: f64 = exact.map(|(_, r)| r.ln()).sum();
        let want = alone.log_likelihood() + jacobian - got.log_likelihood();
        assert!((shares.last().unwrap().2 - want).abs() < 1e-7, "{name} {} {want}", shares.last().unwrap().2);
    }
}

#[test]
fn two_hours_a_strike_are_found_and_the_interval_holds() {
    let got = clocks("weibull", &struck(0, 3000, 2.0, (0.1, 0.8))).unwrap();
    let (low, high) = got.interval();
    assert!(low < 2.0 && high.unwrap() > 2.0 && got.p_value() < 1e-6, "{low} {high:?}");
    assert!((got.hours_per_strike().unwrap() - 2.0).abs() < 0.6, "{}", got.sentence());
    let held = Run::new().map(200, |run| {
        let (low, high) = clocks("weibull", &struck(run as u64, 300, 2.0, (0.1, 0.8)))?.interval();
        Ok(u32::from(low <= 2.0 && high.is_none_or(|h| h >= 2.0)))
    });
    let held: u32 = held.unwrap().into_iter().map(Result::unwrap).sum();
    // 95 % of 200 less three standard errors.
    assert!((181..=199).contains(&held), "{held} of 200");
}

#[test]
fn where_strikes_wear_nothing_the_interval_starts_at_the_edge_and_says_so() {
    let mut at_edge = 0;
    for run in 0..12 {
        let got = clocks("weibull", &struck(run, 300, 0.0, (0.1, 0.8))).unwrap();
        at_edge += u32::from(got.edge() == ClockEdge::HoursAlone);
        if got.interval().0 == 0.0 {
            assert!(got.notes().iter().any(|n| n.slug == "fit.one_sided"), "{:?}", got.notes());
        }
        if got.edge() == ClockEdge::HoursAlone {
            assert_eq!((got.hours_per_strike(), got.p_value()), (Some(0.0), 1.0));
        }
    }
    assert!((2..=10).contains(&at_edge), "{at_edge} of 12 at the edge");
}

#[test]
fn strikes_that_hardly_vary_identify_nothing_and_the_profile_shows_it() {
    for rates in [(0.3, 0.3), (0.3, 0.31)] {
        let got = clocks("weibull", &struck(5, 300, 2.0, rates)).unwrap();
        assert!(!got.identified() && got.hours_per_strike().is_none(), "{}", got.sentence());
        assert_eq!(got.interval(), (0.0, None));
        assert!(got.sentence().contains("not identifiable from these records"));
        assert!(got.profile().len() >= 51 && got.profile().iter().all(|p| p.2 > -1.92));
        assert!(got.notes().iter().any(|n| n.slug == "fit.clock_not_identified"));
        assert_eq!(got.life(0.5).unwrap_err().slug(), "fit.clock_not_identified");
        assert!(got.life(got.rates().0).is_ok());
        assert_eq!(TwoClocks::from_json(&got.to_json().unwrap()).unwrap(), got);
    }
}

#[test]
fn clocks_that_cannot_run_are_refused_by_name() {
    let tally = struck(2, 60, 2.0, (0.1, 0.8));
    let slug = |name: &str, tally: &Tally| clocks(name, tally).unwrap_err().slug().to_owned();
    for name in ["normal", "weibull_failure_free", "piecewise_constant(1000)"] {
        assert_eq!(slug(name, &tally), "fit.clock_family");
    }
    let rows = Rows { low: vec![100.0, 200.0], high: vec![100.0, 200.0], ..Rows::default() };
    assert_eq!(slug("weibull", &Tally::from_rows(&rows).unwrap().0), "fit.clock_rate");
    assert_eq!(slug("weibull", &with_rate(&rows, &[0.2, -0.1])), "fit.clock_rate");
    assert_eq!(slug("weibull", &with_rate(&rows, &[0.0, 0.0])), "fit.clock_rate");
    // Every bad rate is named, with its lamps.
    let three = Rows { low: vec![100.0, 200.0, 300.0], high: vec![100.0, 200.0, 300.0], ..Rows::default() };
    let error = clocks("weibull", &with_rate(&three, &[-1.0, 0.2, -2.0])).unwrap_err();
    let got: Vec<&str> = error.problems().iter().map(|p| p.got.as_str()).collect();
    assert_eq!(got, ["-2, of 1 lamp", "-1, of 1 lamp"]);
    let none = Rows { count: Some(vec![0, 0]), ..rows.clone() };
    let error = clocks("weibull", &with_rate(&none, &[0.2, 0.1])).unwrap_err();
    assert!(error.slug() == "fit.clock_rate" && error.to_string().contains("no lamps"), "{error}");
    let good = clocks("weibull", &tally).unwrap();
    assert_eq!(good.life(-1.0).unwrap_err().slug(), "fit.clock_rate");
    let level = two_clocks(family("weibull").unwrap(), &tally, "rate", 1.0, &FitOptions::default(), &Run::new());
    assert_eq!(level.unwrap_err().slug(), "fit.level");
}

/// Where strikes wear nothing, chances are those of a half normal law: half of them 1, the others even below a half.
#[test]
fn chances_are_even_where_strikes_wear_nothing() {
    const RUNS: usize = 400;
    let chances =
        Run::new().map(RUNS, |run| Ok(clocks("weibull", &struck(run as u64, 200, 0.0, (0.1, 0.8)))?.p_value()));
    let chances: Vec<f64> = chances.unwrap().into_iter().map(Result::unwrap).collect();
    for p in [0.02, 0.05, 0.1, 0.25, 0.5] {
        let below = chances.iter().filter(|c| **c <= p).count() as f64;
        let (mean, spread) = (RUNS as f64 * p, (RUNS as f64 * p * (1.0 - p)).sqrt());
        // Outside 3.5 standard errors in one of 2,000 such counts.
        assert!((below - mean).abs() < 3.5 * spread, "{below} of {RUNS} at or below {p}");
    }
}

fn history(name: &str, histories: &Histories) -> Result<CurrentHistoryFit, relamp::Error> {
    fit_current_history(family(name).unwrap(), histories, &FitOptions::default(), &Run::new())
}

fn piece(life: &str, from_hours: f64, to_hours: f64, current: f64) -> CurrentPiece {
    CurrentPiece { life: life.into(), from_hours, to_hours, current }
}

/// Lamps whose current is raised every 500 h from their own start; wear by the power `n`, Weibull shape 3 and scale
/// 3,000 h at 75 A.
fn raised(run: u64, lamps: usize, n: f64) -> Histories {
    let truth = Weibull { shape: 3.0, scale: 3000.0 };
    let mut stream = Stream::new(20_261_126, "test", "currents", run);
    // A lamp that fails in its first stretch has a single piece, and burned at that current all along.
    let single = Some(ValueIs::ConstantOverLife);
    let mut out =
        Histories { rows: Rows { entry: Some(Vec::new()), ..Rows::default() }, single, ..Histories::default() };
    while out.life.len() < lamps {
        let life = format!("L{}", out.life.len());
        let mut left = truth.draws(1, &mut stream).unwrap()[0];
        let (mut current, rise) = (65.0 + 15.0 * stream.uniform(), 1.0 + 0.08 * stream.uniform());
        let change = 1800.0 + 1500.0 * stream.uniform();
        let (mut age, mut pieces) = (0.0, Vec::new());
        loop {
            let speed = (current / 75.0_f64).powf(n);
            let hours = (left / speed).min(500.0);
            pieces.push(piece(&life, age, age + hours, current));
            left -= hours * speed;
            age += hours;
            if hours < 500.0 || age >= change {
                break;
            }
            current *= rise;
        }
        let failed = age <= change && left <= 1e-9;
        let entry = if stream.uniform() < 0.2 { 300.0 * stream.uniform() } else { 0.0 };
        let low = if failed { age } else { change };
        if entry >= low {
            continue;
        }
        // What a lamp that was changed would have burned is not on record.
        out.pieces.extend(pieces.into_iter().map(|p| CurrentPiece { to_hours: p.to_hours.min(low), ..p }));
        out.rows.low.push(low);
        out.rows.high.push(if failed { age } else { INF });
        out.rows.entry.as_mut().unwrap().push(entry);
        out.life.push(life);
    }
    out
}

#[test]
fn currents_constant_over_life_give_the_regression() {
    let mut histories = Histories { single: Some(ValueIs::ConstantOverLife), ..Histories::default() };
    let mut stream = Stream::new(3, "test", "constant", 0);
    let mut current = Vec::new();
    for i in 0..60 {
        let (name, amps) = (format!("L{i}"), [65.0, 75.0, 85.0][i % 3]);
        let age = 2000.0 * stream.uniform().powf(0.3) * (75.0_f64 / amps).powi(2);
        histories.rows.low.push(age);
        histories.rows.high.push(if i % 4 == 0 { INF } else { age });
        histories.pieces.push(piece(&name, 0.0, age, amps));
        histories.life.push(name);
        current.push(Some(amps));
    }
    let column = Column { name: "current".into(), values: Values::Number(current) };
    let tally = Tally::from_rows(&histories.rows.clone().with_covariates(&[column]).unwrap()).unwrap().0;
    let law = StressLaw::InversePower { reference: 75.0, value_is: ValueIs::ConstantOverLife };
    let terms = Terms { laws: [("current".to_owned(), law)].into(), ..Terms::new(["current"]) };
    for name in ["weibull", "lognormal", "gamma"] {
        let got = history(name, &histories).unwrap();
        let want = fit_covariates(family(name).unwrap(), &tally, &terms, &FitOptions::default(), &Run::new()).unwrap();
        assert!((got.power() + want.coefficient("current").unwrap()).abs() < 1e-6, "{name}");
        // Both say in one way where a greater current prolongs life.
        let told = |notes: &[relamp::fit::Note]| notes.iter().find(|n| n.slug == "fit.stress_prolongs").cloned();
        assert_eq!((told(got.notes()), told(want.notes())), (None, None), "{name}");
        assert!((got.log_likelihood() - want.log_likelihood()).abs() < 1e-8, "{name}");
        assert!((got.standard_error() - want.standard_error("current").unwrap()).abs() < 1e-5, "{name}");
        let b10 = want.life(&[("current".to_owned(), relamp::lives::CovariateValue::number(80.0).unwrap())].into());
        let b10 = b10.unwrap().b_life(10.0).unwrap();
        assert!((got.life(80.0).unwrap().b_life(10.0).unwrap() / b10 - 1.0).abs() < 1e-6);
        // The same in a programme of two pieces at one current.
        let programme = [(400.0, 80.0), (b10 - 400.0, 80.0)];
        assert!((got.reliability(&programme).unwrap() - 0.9).abs() < 1e-6);
        assert_eq!(CurrentHistoryFit::from_json(&got.to_json().unwrap()).unwrap(), got);
    }
}

#[test]
fn a_current_that_prolongs_life_is_told_alike_by_history_and_law() {
    // Lamps that lived long were read late, after their current was raised.
    let mut histories = Histories { single: Some(ValueIs::ConstantOverLife), ..Histories::default() };
    let mut current = Vec::new();
    for i in 0..40 {
        let (name, age) = (format!("L{i}"), 800.0 + 30.0 * f64::from(i));
        let amps = 65.0 + age / 100.0 + f64::from(i % 3);
        histories.rows.low.push(age);
        histories.rows.high.push(age);
        histories.pieces.push(piece(&name, 0.0, age, amps));
        histories.life.push(name);
        current.push(Some(amps));
    }
    let column = Column { name: "current".into(), values: Values::Number(current) };
    let tally = Tally::from_rows(&histories.rows.clone().with_covariates(&[column]).unwrap()).unwrap().0;
    let law = StressLaw::InversePower { reference: 75.0, value_is: ValueIs::ConstantOverLife };
    let terms = Terms::new(["current"]).law("current", law);
    let by_law =
        fit_covariates(family("weibull").unwrap(), &tally, &terms, &FitOptions::default(), &Run::new()).unwrap();
    let by_history = history("weibull", &histories).unwrap();
    assert!(by_history.power() < -1.0 && by_law.coefficient("current").unwrap() > 1.0, "{by_history}");
    let told = |notes: &[relamp::fit::Note]| notes.iter().find(|n| n.slug == "fit.stress_prolongs").cloned().unwrap();
    assert_eq!(told(by_history.notes()), told(by_law.notes()));
}

#[test]
fn how_a_history_is_cut_and_listed_does_not_matter() {
    let whole = raised(1, 80, 2.0);
    let mut cut = whole.clone();
    cut.pieces = Vec::new();
    for p in whole.pieces.iter().rev() {
        let middle = 0.3 * p.from_hours + 0.7 * p.to_hours;
        cut.pieces.push(CurrentPiece { from_hours: middle, ..p.clone() });
        cut.pieces.push(CurrentPiece { to_hours: middle, ..p.clone() });
    }
    let (a, b) = (history("weibull", &whole).unwrap(), history("weibull", &cut).unwrap());
    assert!((a.power() - b.power()).abs() < 1e-8 && (a.log_likelihood() - b.log_likelihood()).abs() < 1e-8);
}

#[test]
fn a_life_out_of_sight_for_a_while_stands_in_two_rows() {
    // A stretch seen in two rows that touch is the same evidence as in one.
    let whole = raised(2, 80, 2.0);
    let mut cut = whole.clone();
    for i in 0..whole.life.len() {
        let (low, high, entry) = (whole.rows.low[i], whole.rows.high[i], whole.rows.entry.as_ref().unwrap()[i]);
        let middle = 0.5 * (low + entry);
        cut.life.push(whole.life[i].clone());
        (cut.rows.low[i], cut.rows.high[i]) = (middle, INF);
        cut.rows.low.push(low);
        cut.rows.high.push(high);
        cut.rows.entry.as_mut().unwrap().push(middle);
    }
    let (a, b) = (history("weibull", &whole).unwrap(), history("weibull", &cut).unwrap());
    assert!((a.power() - b.power()).abs() < 1e-6 && (a.log_likelihood() - b.log_likelihood()).abs() < 1e-8);
    // With a gap only the last row needs the wear before it: exponential lives at one current and another, by hand.
    let mut gap = Histories { single: Some(ValueIs::ConstantOverLife), ..Histories::default() };
    for (k, current) in [70.0, 70.0, 90.0, 90.0].into_iter().enumerate() {
        let (name, end) = (format!("L{k}"), if current == 70.0 { 900.0 } else { 500.0 + 100.0 * k as f64 });
        gap.pieces.push(piece(&name, 0.0, 250.0, current));
        gap.pieces.push(piece(&name, 250.0, end, current));
        gap.life.extend([name.clone(), name]);
        gap.rows.low.extend([200.0, end]);
        gap.rows.high.extend([INF, end]);
        gap.rows.entry.get_or_insert_default().extend([0.0, 300.0]);
    }
    let fit = history("exponential", &gap).unwrap();
    // Hours at risk: 200 + 600 each at 70 A; 200 + 400 and 200 + 500 at 90 A. The rates are failures over hours.
    let (slow, fast) = (2.0 / 1600.0_f64, 2.0 / 1300.0_f64);
    let power = (fast / slow).ln() / (90.0_f64 / 70.0).ln();
    assert!((fit.power() - power).abs() < 1e-6, "{} {power}", fit.power());
    assert!((fit.life(70.0).unwrap().mean().unwrap() * slow - 1.0).abs() < 1e-6);
}

#[test]
fn the_power_is_found_and_the_intervals_hold() {
    let got = history("weibull", &raised(0, 3000, 2.0)).unwrap();
    assert!((got.power() - 2.0).abs() < 4.0 * got.standard_error() && got.standard_error() < 0.2, "{got}");
    let scale = got.life(75.0).unwrap().quantile(1.0 - (-1.0_f64).exp()).unwrap();
    assert!((scale / 3000.0 - 1.0).abs() < 0.03, "{scale}");
    let options = FitOptions::default();
    let held = Run::new().map(150, |run| {
        let lives = raised(run as u64, 200, 2.0);
        let fit = history("weibull", &lives)?;
        let interval = fit.profile(&lives, &options, 0.95, Sides::Both, &Run::new())?;
        let holds = |low: Option<f64>, high: Option<f64>| u32::from(low.unwrap() <= 2.0 && high.unwrap() >= 2.0);
        let wald = fit.wald(0.95, Sides::Both)?;
        assert!((interval.low.unwrap() - wald.low.unwrap()).abs() < 0.5 * fit.standard_error());
        Ok(holds(interval.low, interval.high))
    });
    let held: u32 = held.unwrap().into_iter().map(Result::unwrap).sum();
    assert!((134..=150).contains(&held), "{held} of 150");
}

#[test]
fn histories_with_gaps_and_single_readings_are_refused_by_name() {
    let good = || {
        let mut h = Histories { life: vec!["a".into(), "b".into()], ..Histories::default() };
        (h.rows.low, h.rows.high) = (vec![900.0, 1200.0], vec![900.0, INF]);
        h.pieces = vec![
            piece("a", 0.0, 500.0, 70.0),
            piece("a", 500.0, 900.0, 75.0),
            piece("b", 0.0, 700.0, 72.0),
            piece("b", 700.0, 1200.0, 80.0),
        ];
        h
    };
    let told = |change: &dyn Fn(&mut Histories)| {
        let mut h = good();
        change(&mut h);
        let error = history("exponential", &h).unwrap_err();
        (error.slug().to_owned(), error.to_string())
    };
    assert!(history("exponential", &good()).is_ok());
    // Hours that are sums end a rounding late or early.
    for end in [900.0_f64.next_up(), 900.0_f64.next_down()] {
        let mut rounded = good();
        rounded.pieces[1].to_hours = end;
        assert!(history("exponential", &rounded).is_ok(), "{end}");
        let mut inside = good();
        inside.pieces[0].to_hours = 500.0_f64.next_up().next_up();
        assert!(history("exponential", &inside).is_ok());
    }
    for (change, slug, words) in [
        (
            &(|h: &mut Histories| h.pieces[0].from_hours = 10.0) as &dyn Fn(&mut Histories),
            "fit.history_gap",
            "first hours",
        ),
        (&|h| h.pieces[1].from_hours = 510.0, "fit.history_gap", "where the one before it ends"),
        (&|h| h.pieces[1].from_hours = 490.0, "fit.history_gap", "where the one before it ends"),
        (&|h| h.pieces[3].to_hours = 1100.0, "fit.history_gap", "last hours"),
        (&|h| h.pieces[1].to_hours = 950.0, "fit.history_gap", "goes on past the last age"),
        // Whatever is known of the ending, and where nothing is.
        (&|h| h.pieces[3].to_hours = 1300.0, "fit.history_gap", "goes on past"),
        (
            &|h| {
                h.pieces[3].to_hours = 1300.0;
                h.rows.ending = Some(vec![Ending::Burst, Ending::Running]);
            },
            "fit.history_gap",
            "goes on past",
        ),
        (&|h| drop(h.pieces.drain(2..)), "fit.history_gap", "without a current"),
        (&|h| h.pieces[1].current = 0.0, "fit.history_piece", "not a current"),
        (&|h| h.pieces[1].to_hours = 500.0, "fit.history_piece", "end after its start"),
        (&|h| h.pieces[1].from_hours = f64::NAN, "fit.history_piece", "not hours"),
        (&|h| h.pieces[1].life = "c".into(), "fit.history_piece", "not among the lives"),
        (
            &|h| {
                h.life[1] = "a".into();
                h.pieces.truncate(2);
            },
            "fit.history_lives",
            "one name for two",
        ),
        (
            &|h| {
                h.life[1] = "a".into();
                h.rows.entry = Some(vec![0.0, 1000.0]);
                h.pieces = vec![piece("a", 0.0, 500.0, 70.0), piece("a", 500.0, 1200.0, 75.0)];
            },
            "fit.history_lives",
            "before its last stretch",
        ),
        (&|h| drop(h.life.pop()), "fit.history_lives", "one name for each"),
        (&|h| h.rows.count = Some(vec![1, 1]), "fit.history_lives", "one by one"),
    ] {
        let (got, text) = told(change);
        assert!(got == slug && text.contains(words), "{got} {text}");
    }
    // One reading for a whole life: the last one, the setting at fitting, or not said.
    for single in [None, Some(ValueIs::LastReading), Some(ValueIs::AtFitting)] {
        let (slug, text) = told(&|h| {
            h.pieces.drain(0..1);
            h.pieces[0].from_hours = 0.0;
            h.single = single;
        });
        assert!(slug == "fit.history_single" && text.contains("last reading"), "{text}");
    }
    // That reading copied to every spell of the lamp is one reading still.
    for single in [None, Some(ValueIs::LastReading)] {
        let (slug, text) = told(&|h| {
            h.pieces[0].current = h.pieces[1].current;
            h.single = single;
        });
        assert!(slug == "fit.history_single" && text.contains("last reading"), "{text}");
    }
    // A declaration that is none is refused where every life has its history, too.
    for single in [ValueIs::LastReading, ValueIs::AtFitting] {
        let (slug, text) = told(&|h| h.single = Some(single));
        assert!(slug == "fit.history_single" && text.contains("constant_over_life, or none"), "{text}");
    }
    let mut constant = good();
    constant.pieces.drain(0..1);
    constant.pieces[0].from_hours = 0.0;
    constant.single = Some(ValueIs::ConstantOverLife);
    assert!(history("exponential", &constant).is_ok());

    let mut flat = good();
    flat.pieces.iter_mut().for_each(|p| p.current = 75.0);
    flat.single = Some(ValueIs::ConstantOverLife);
    assert_eq!(history("exponential", &flat).unwrap_err().slug(), "fit.history_not_identified");
    assert_eq!(history("normal", &good()).unwrap_err().slug(), "fit.clock_family");
    let fit = history("exponential", &good()).unwrap();
    assert_eq!(fit.life(0.0).unwrap_err().slug(), "fit.history_piece");
    assert_eq!(fit.reliability(&[(-1.0, 75.0)]).unwrap_err().slug(), "fit.history_piece");
    let other = fit.profile(&raised(1, 30, 2.0), &FitOptions::default(), 0.9, Sides::Both, &Run::new());
    assert_eq!(other.unwrap_err().slug(), "fit.other_data");
    // Failures by another ending are right-censored.
    let mut dim = good();
    dim.rows.ending = Some(vec![Ending::Burst, Ending::Running]);
    let none = FitOptions { endings: Some(vec![Ending::Dim]), ..FitOptions::default() };
    let error = fit_current_history(family("exponential").unwrap(), &dim, &none, &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.no_failures");
}

#[test]
fn a_current_outside_the_recorded_ones_carries_a_note() {
    let got = history("weibull", &raised(0, 300, 2.0)).unwrap();
    let (_, low, high) = got.currents();
    assert!(got.extrapolation(low).is_none() && got.extrapolation(high).is_none());
    for current in [0.9 * low, 2.0 * high] {
        let note = got.extrapolation(current).unwrap();
        assert!(note.slug == "fit.current_extrapolated" && note.text.contains("those recorded"), "{}", note.text);
    }
}
