//! Variance and bands of incidences, and worst-case bounds for suspect endings: closed forms, the curve of one cause,
//! simulation, every reading of few endings.

use relamp::base::random::Stream;
use relamp::empirical::{
    BandScale, CurveOptions, EndingBounds, IncidenceBounds, SuspectOptions, ending_bounds, incidence, incidence_bounds,
    product_limit,
};
use relamp::lives::{Rows, Tally};
use relamp::records::Ending;

const INF: f64 = f64::INFINITY;

/// Bursts and dim lamps in competition, pulled at an even age; the chance to burst by 1,000 h is 0.2937 (worked by
/// integration of 1 / 2000 x exp(-(t / 2000 + (t / 1200)^2)) in the test).
fn sample(n: usize, replicate: u64, pulls: bool) -> Tally {
    let mut stream = Stream::new(31, "incidence_spread", "lives", replicate);
    let mut rows = Rows { ending: Some(Vec::new()), ..Rows::default() };
    for _ in 0..n {
        let (burst, dim) = (2000.0 * stream.exponential(), 1200.0 * stream.exponential().sqrt());
        let pulled = if pulls { 2500.0 * stream.uniform() } else { INF };
        let age = burst.min(dim).min(pulled);
        rows.low.push(age);
        rows.high.push(if age == pulled { INF } else { age });
        rows.ending.as_mut().unwrap().push(if age == pulled {
            Ending::Planned
        } else if burst < dim {
            Ending::Burst
        } else {
            Ending::Dim
        });
    }
    Tally::from_rows(&rows).unwrap().0
}

#[test]
fn without_censoring_the_variance_is_that_of_a_share() {
    let curves = incidence(&sample(80, 0, false), &CurveOptions::default()).unwrap();
    let mut seen = 0;
    for cause in &curves.causes {
        for (i, se) in cause.incidence.iter().zip(curves.standard_error(cause.ending).unwrap()) {
            assert!((se - (i * (1.0 - i) / 80.0).sqrt()).abs() < 1e-12);
            seen += 1;
        }
    }
    assert_eq!(seen, 160);
    assert_eq!(curves.standard_error(Ending::Seal), None);
}

#[test]
fn with_one_cause_spread_and_bands_are_those_of_the_curve() {
    let tally = sample(60, 1, true).for_endings(&[Ending::Dim]).unwrap();
    let curves = incidence(&tally, &CurveOptions::default()).unwrap();
    for scale in BandScale::ALL {
        let curve = product_limit(&tally, &CurveOptions { band_scale: scale, ..CurveOptions::default() }).unwrap();
        let errors = curves.standard_error(Ending::Dim).unwrap();
        for (a, b) in errors.iter().zip(curve.standard_error()) {
            if let Some(b) = b {
                assert!((a - b).abs() < 1e-12);
            }
        }
        let band = curves.band(Ending::Dim, 0.95, scale).unwrap().unwrap();
        let mut seen = 0;
        for (a, b) in band.iter().zip(curve.band()) {
            if let (Some(a), Some(b)) = (a, b) {
                assert!((a.0 - (1.0 - b.1)).abs() < 1e-9 && (a.1 - (1.0 - b.0)).abs() < 1e-9, "{scale:?}");
                seen += 1;
            }
        }
        assert!(seen > 20, "{seen}");
    }
    assert_eq!(curves.band(Ending::Dim, 1.0, BandScale::Plain).unwrap_err().slug(), "empirical.level");
    assert_eq!(curves.band(Ending::Seal, 0.95, BandScale::Plain).unwrap(), None);
}

const REPLICATES: u64 = 600;

#[test]
fn bands_hold_the_true_incidence_as_often_as_they_say() {
    let truth: f64 = (0..100_000)
        .map(|i| {
            let t = (f64::from(i) + 0.5) / 100.0;
            (-(t / 2000.0 + (t / 1200.0).powi(2))).exp() / 2000.0 / 100.0
        })
        .sum();
    assert!((truth - 0.2937).abs() < 0.05, "{truth}");
    let (mut missed, mut squares, mut errors) = ([0; 4], 0.0, 0.0);
    for r in 0..REPLICATES {
        let curves = incidence(&sample(100, r, true), &CurveOptions::default()).unwrap();
        let at = curves.ages.partition_point(|a| *a <= 1000.0) - 1;
        squares += (curves.incidence_at(Ending::Burst, 1000.0).unwrap() - truth).powi(2);
        errors += curves.standard_error(Ending::Burst).unwrap()[at].powi(2);
        for (missed, scale) in missed.iter_mut().zip(BandScale::ALL) {
            let (low, high) = curves.band(Ending::Burst, 0.95, scale).unwrap().unwrap()[at].unwrap();
            *missed += u32::from(!(low <= truth && truth <= high));
        }
    }
    // 30 of 600 expected; a binomial count leaves 11 to 53 in one of 10,000 runs.
    assert!(missed.iter().all(|m| (11..=53).contains(m)), "{missed:?}");
    // The mean square distance from the truth over the mean variance: its standard deviation is root(2 / 600) = 0.058.
    assert!((squares / errors - 1.0).abs() < 0.24, "{}", squares / errors);
}

fn few() -> Tally {
    let rows = Rows {
        low: vec![100.0, 200.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0],
        high: vec![100.0, INF, 200.0, INF, 400.0, 500.0, INF, INF],
        ending: Some(vec![
            Ending::Burst,
            Ending::Unknown,
            Ending::Dim,
            Ending::Other,
            Ending::Burst,
            Ending::Unknown,
            Ending::Unknown,
            Ending::Running,
        ]),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

fn asked(age_hours: f64) -> SuspectOptions {
    SuspectOptions {
        suspects: vec![Ending::Unknown, Ending::Other],
        age_hours,
        widest: 0.3,
        curve: CurveOptions::default(),
    }
}

/// Each suspect row read as working, as a burst and as a failure of another kind: no reading leaves the bounds.
#[test]
fn every_reading_of_the_suspects_lies_within_the_bounds() {
    let tally = few();
    let suspects: Vec<usize> = (0..tally.rows())
        .filter(|&i| [Ending::Unknown.code(), Ending::Other.code()].contains(&tally.ending()[i]))
        .collect();
    assert_eq!(suspects.len(), 4);
    for age in [150.0, 250.0, 450.0, 550.0, 650.0] {
        let bounds = ending_bounds(&tally, &asked(age)).unwrap();
        let bursts = incidence_bounds(&tally, Ending::Burst, &asked(age)).unwrap();
        assert_eq!(bounds.suspect_lamps, 4);
        // What the sentence says is there as numbers, at the judged age and at every other.
        for (at, plain, outer) in [
            (&bounds.at, bounds.bounds_at(age).unwrap(), bounds.outer_at(age).unwrap()),
            (&bursts.at, bursts.bounds_at(age).unwrap(), bursts.outer_at(age).unwrap()),
        ] {
            assert_eq!(plain, (at.low, at.high));
            assert!(outer.0 <= at.low && at.high <= outer.1 && outer != plain, "{age} {outer:?}");
            let percent = |x: f64| (x * 1000.0).round() / 10.0;
            let said = format!("with chance (95 %) between {} % and {} %", percent(outer.0), percent(outer.1));
            assert!(at.sentence.contains(&said), "{said}: {}", at.sentence);
        }
        let (mut lows, mut highs) = ((1.0_f64, 1.0_f64), (0.0_f64, 0.0_f64));
        for reading in 0..81_usize {
            let mut rows = Rows {
                low: tally.low().to_vec(),
                high: tally.high().to_vec(),
                ending: Some(tally.ending().iter().map(|c| Ending::from_code(*c).unwrap()).collect()),
                ..Rows::default()
            };
            for (place, &i) in suspects.iter().enumerate() {
                let (high, ending) = match reading / 3_usize.pow(place as u32) % 3 {
                    0 => (INF, Ending::Planned),
                    1 => (rows.low[i], Ending::Burst),
                    _ => (rows.low[i], Ending::Dim),
                };
                rows.high[i] = high;
                rows.ending.as_mut().unwrap()[i] = ending;
            }
            let read = Tally::from_rows(&rows).unwrap().0;
            let r = product_limit(&read, &CurveOptions::default()).unwrap().reliability_at(age).unwrap();
            let i = incidence(&read, &CurveOptions::default()).unwrap().incidence_at(Ending::Burst, age).unwrap();
            (lows, highs) = ((lows.0.min(r), lows.1.min(i)), (highs.0.max(r), highs.1.max(i)));
        }
        // The bounds are met, not only kept.
        assert!((lows.0 - bounds.at.low).abs() < 1e-12 && (highs.0 - bounds.at.high).abs() < 1e-12, "{age}");
        assert!((lows.1 - bursts.at.low).abs() < 1e-12 && (highs.1 - bursts.at.high).abs() < 1e-12, "{age}");
        assert_eq!(EndingBounds::from_json(&bounds.to_json().unwrap()).unwrap(), bounds);
        assert_eq!(IncidenceBounds::from_json(&bursts.to_json().unwrap()).unwrap(), bursts);
    }
}

#[test]
fn bounds_too_wide_are_called_uninformative() {
    let narrow = ending_bounds(&few(), &asked(150.0)).unwrap();
    assert!(narrow.at.informative && !narrow.at.sentence.contains("uninformative"));
    let wide = ending_bounds(&few(), &asked(650.0)).unwrap();
    assert!(!wide.at.informative);
    assert!(wide.at.sentence.contains("uninformative: wider than 30 %"), "{}", wide.at.sentence);
    assert!(wide.at.sentence.contains("4 suspect lamps"));
}

#[test]
fn what_cannot_be_suspect_is_refused() {
    let refused = |options: &SuspectOptions| ending_bounds(&few(), options).unwrap_err().slug().to_owned();
    for suspects in [vec![], vec![Ending::Running], vec![Ending::Other, Ending::Other]] {
        assert_eq!(refused(&SuspectOptions { suspects, ..asked(100.0) }), "empirical.suspects");
    }
    assert_eq!(refused(&SuspectOptions { widest: f64::NAN, ..asked(100.0) }), "empirical.widest");
    assert_eq!(refused(&asked(701.0)), "empirical.beyond_last_age");
    // A suspect at the age of its entry was never watched.
    let rows = Rows {
        low: vec![100.0, 200.0],
        high: vec![INF, 200.0],
        entry: Some(vec![100.0, 0.0]),
        ending: Some(vec![Ending::Unknown, Ending::Burst]),
        ..Rows::default()
    };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let options = SuspectOptions { curve: CurveOptions { min_at_risk: 1, ..CurveOptions::default() }, ..asked(150.0) };
    assert_eq!(ending_bounds(&tally, &options).unwrap().at.low, 1.0);
}
