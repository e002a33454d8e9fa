//! Few clusters: coverage in simulated fleets, what is refused, what carries a note, no verdict from a handful.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::empirical::RemovalOptions;
use relamp::family::family;
use relamp::fit::{
    CauseOptions, DialOptions, ENOUGH_CLUSTERS, FitOptions, HazardOptions, Note, PairFit, PairOptions, Quantity, Sides,
    Terms, bootstrap, compare_pair, fit_causes, proportional_hazards, removal_dial,
};
use relamp::lives::{Group, Rows, Tally};
use relamp::policy::{ComparedAt, PairCostOptions, PairVerdict, compare_pair_costs};
use relamp::records::{Column, Ending, Values};
use relamp::terms::{Costs, PrintedHours};

/// Age, supplier, site; an empty site is none.
type Lamp = (f64, &'static str, String);

fn tally(lamps: &[Lamp]) -> Tally {
    let low: Vec<f64> = lamps.iter().map(|l| l.0).collect();
    let text = lamps.iter().map(|l| Some(l.1.into())).collect();
    let rows = Rows {
        high: low.clone(),
        ending: Some(vec![Ending::Burst; lamps.len()]),
        group: Some((0..lamps.len() as u32).collect()),
        groups: lamps.iter().map(|l| Group { cluster: l.2.clone(), ..Group::default() }).collect(),
        low,
        ..Rows::default()
    };
    let column = Column { name: "supplier".into(), values: Values::Text(text) };
    Tally::from_rows(&rows.with_covariates(&[column]).unwrap()).unwrap().0
}

/// Suppliers alike, Weibull 3 / 1,500 h, sites that differ: `sites` of each supplier with `lamps` each.
fn alike(sites: usize, lamps: usize, run: u64) -> Vec<Lamp> {
    let mut stream = Stream::new(11, "test", "clusters", run);
    let mut out = Vec::new();
    for supplier in ["north", "south"] {
        for site in 0..sites {
            // Sum of twelve uniforms: close to normal.
            let bell = (0..12).map(|_| stream.uniform()).sum::<f64>() - 6.0;
            let scale = 1500.0 * (0.25 * bell).exp();
            let ages = (0..lamps).map(|_| scale * stream.exponential().powf(1.0 / 3.0)).collect::<Vec<_>>();
            out.extend(ages.into_iter().map(|age| (age, supplier, format!("{supplier} {site}"))));
        }
    }
    out
}

/// Twelve lamps, two suppliers with a site each.
fn twelve() -> Vec<Lamp> {
    let ages = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0, 950.0, 1100.0];
    let of = |i: usize| if i % 4 < 2 { ("north", "one") } else { ("south", "two") };
    ages.iter().enumerate().map(|(i, age)| (*age, of(i).0, of(i).1.to_owned())).collect()
}

fn pair(data: &Tally, replicates: usize) -> relamp::Result<PairFit> {
    let options = PairOptions { replicates, ..PairOptions::default() };
    compare_pair(family("weibull")?, data, "supplier", ["north", "south"], &options, &Run::new())
}

fn has(notes: &[Note], text: &str) -> bool {
    notes.iter().any(|n| n.slug == "fit.few_clusters" && n.text.starts_with(text))
}

fn robust() -> HazardOptions {
    HazardOptions { robust: true, ..HazardOptions::default() }
}

#[test]
fn draws_of_causes_over_few_clusters_say_so() {
    let lives = |sites: usize| {
        let low: Vec<f64> = (0..90).map(|i| 300.0 + 17.0 * f64::from(i)).collect();
        let groups = (0..sites).map(|s| Group { cluster: format!("site {s}"), ..Group::default() }).collect();
        let group = Some((0..90).map(|i| (i % sites) as u32).collect());
        let ending = Some((0..90).map(|i| if i % 3 == 0 { Ending::Burst } else { Ending::Dim }).collect());
        let rows = Rows { high: low.clone(), low, group, groups, ending, ..Rows::default() };
        Tally::from_rows(&rows).unwrap().0
    };
    let notes = |sites: usize| {
        let lives = lives(sites);
        let fits = fit_causes(&lives, family("weibull").unwrap(), &CauseOptions::default(), &Run::new()).unwrap();
        let costs = Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1250.0)]).unwrap();
        fits.draws(&lives, costs, 20, 1, "", &Run::new()).unwrap().notes().to_vec()
    };
    let few = notes(6);
    assert!(few.len() == 1 && few[0].slug == "fit.few_clusters" && few[0].text.starts_with("6 clusters"), "{few:?}");
    assert!(notes(45).is_empty());
}

#[test]
fn robust_intervals_hold_the_truth_with_few_clusters() {
    const RUNS: u64 = 400;
    for sites in [2, 3, 5] {
        let (mut held, mut plain) = (0, 0);
        for run in 0..RUNS {
            let data = tally(&alike(sites, 20, run));
            let fit = proportional_hazards(&data, &Terms::new(["supplier"]), &robust(), &Run::new()).unwrap();
            let name = fit.design().names()[0].to_owned();
            let ends = fit.wald(&name, 0.95, Sides::Both).unwrap();
            held += u64::from(ends.low.unwrap() <= 0.0 && 0.0 <= ends.high.unwrap());
            // The plain sandwich with a normal quantile, as it was.
            let all = 2.0 * sites as f64;
            let error = fit.standard_error(&name).unwrap() * ((all - 2.0) / all).sqrt();
            plain += u64::from(fit.coefficients()[0].abs() <= 1.96 * error);
            assert!(has(fit.notes(), &format!("{} clusters", 2 * sites)) && has(&ends.notes, ""));
        }
        // Binomial ends at 0.1 % on either side of 380 of 400.
        assert!((366..=393).contains(&held), "{sites} sites each: {held} of {RUNS}");
        assert!(plain < 366, "{sites} sites each: {plain} of {RUNS} by the plain sandwich");
    }
}

#[test]
fn ratios_of_lives_and_their_tests_know_clusters() {
    const RUNS: u64 = 150;
    for sites in [3, 6] {
        let (mut held, mut alone) = (0, 0);
        for run in 0..RUNS {
            let got = pair(&tally(&alike(sites, 15, 1000 + run)), 100).unwrap();
            let ratio = got.life_ratio();
            let inside = ratio.low.unwrap() <= 1.0 && 1.0 <= ratio.high.unwrap();
            held += u64::from(inside);
            let name = got.fit().design().names()[0].to_owned();
            let ends = got.fit().wald(&name, 0.95, Sides::Both).unwrap();
            alone += u64::from(ends.low.unwrap() <= 0.0 && 0.0 <= ends.high.unwrap());
            assert_eq!(inside, got.test().p_value >= 0.05);
            assert!(has(got.notes(), &format!("{} clusters", 2 * sites)));
        }
        // Binomial ends at 0.1 % on either side of 142.5 of 150.
        assert!((133..=149).contains(&held), "{sites} sites each: {held} of {RUNS}");
        assert!(alone < 133, "{sites} sites each: {alone} of {RUNS} if lamps were independent");
    }
}

#[test]
fn a_site_each_tells_nothing_of_suppliers() {
    let data = tally(&twelve());
    let error = proportional_hazards(&data, &Terms::new(["supplier"]), &robust(), &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.hazards_clusters", "{error}");
    let plain = proportional_hazards(&data, &Terms::new(["supplier"]), &HazardOptions::default(), &Run::new()).unwrap();
    let name = plain.design().names()[0].to_owned();
    assert_eq!(plain.robust_standard_error(&name).unwrap(), None);
    let error = pair(&data, 100).unwrap_err();
    assert!(error.slug() == "fit.pair_clusters" && error.to_string().contains("1 cluster of north"), "{error}");
    // Two sites with lamps of both: two clusters for one coefficient and a level leave nothing.
    let mut both = twelve();
    for (i, lamp) in both.iter_mut().enumerate() {
        lamp.2 = ["one", "two"][i % 2].into();
    }
    assert_eq!(pair(&tally(&both), 100).unwrap_err().slug(), "fit.pair_clusters");
    // Without sites the lamps stand alone, as before: no note, an interval by profile.
    let alone: Vec<Lamp> = twelve().into_iter().map(|l| (l.0, l.1, String::new())).collect();
    let got = pair(&tally(&alone), 100).unwrap();
    assert!(got.clusters().is_none() && !has(got.notes(), ""), "{:?}", got.notes());
}

#[test]
fn costs_of_two_groups_wait_for_five_clusters_of_each() {
    let costs = Costs::new(900.0, [(Ending::Burst, 5000.0)]).unwrap();
    let limit =
        PrintedHours { warranty_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() }.limit();
    let (limit, run) = (limit.unwrap(), Run::new());
    let at = PairCostOptions { at: ComparedAt::CommonAge(1000.0), ..PairCostOptions::default() };
    let mut false_verdicts = 0;
    for seed in 0..20 {
        let got = pair(&tally(&alike(2, 50, 2000 + seed)), 100).unwrap();
        assert_eq!(got.clusters(), Some([2, 2]));
        let cost = compare_pair_costs(&got, [&costs, &costs], [&limit, &limit], &at, &run).unwrap();
        false_verdicts += u64::from(cost.verdict != PairVerdict::NotEnough);
        assert!(cost.more.is_none() && cost.more_clusters == Some([3, 3]), "{cost:?}");
        assert!(cost.sentence.contains("3 more clusters of north and 3 more clusters of south"), "{}", cost.sentence);
        assert!(has(&cost.notes, "4 clusters"), "{:?}", cost.notes);
    }
    assert_eq!(false_verdicts, 0);
    let got = pair(&tally(&alike(5, 20, 0)), 100).unwrap();
    let cost = compare_pair_costs(&got, [&costs, &costs], [&limit, &limit], &at, &run).unwrap();
    assert!(cost.more_clusters.is_none() && has(&cost.notes, "10 clusters"), "{cost:?}");
}

#[test]
fn refits_of_one_cluster_are_refused_and_of_few_carry_a_note() {
    let (weibull, run) = (family("weibull").unwrap(), Run::new());
    let sited = |sites: usize| {
        let mut lamps = alike(4, 25, 3);
        lamps.iter_mut().enumerate().for_each(|(i, l)| l.2 = format!("site {}", i % sites));
        tally(&lamps)
    };
    let boot = |t: &Tally| bootstrap(weibull, t, &FitOptions::default(), 30, 1, "", &run);
    let options = DialOptions {
        removal: RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() },
        taus: vec![0.0, 0.5],
        replicates: 20,
        ..DialOptions::default()
    };
    let dial = |t: &Tally| removal_dial(weibull, t, &options, &run);
    let one = sited(1);
    assert_eq!(boot(&one).unwrap_err().slug(), "fit.one_cluster");
    assert_eq!(dial(&one).unwrap_err().slug(), "fit.one_cluster");
    assert!(removal_dial(weibull, &one, &DialOptions { replicates: 0, ..options.clone() }, &run).is_ok());
    let causes = fit_causes(&one, weibull, &CauseOptions::default(), &run).unwrap();
    let costs = Costs::new(900.0, [(Ending::Burst, 5000.0)]).unwrap();
    assert_eq!(causes.draws(&one, costs, 20, 1, "", &run).unwrap_err().slug(), "fit.one_cluster");
    let few = sited(7);
    let interval = boot(&few).unwrap().interval(&Quantity::BLife(10.0), 0.9, Sides::Both).unwrap();
    assert!(has(&interval.notes, "7 clusters"), "{:?}", interval.notes);
    assert!(has(dial(&few).unwrap().notes(), "7 clusters"));
    let many = sited(ENOUGH_CLUSTERS as usize);
    assert!(!has(boot(&many).unwrap().fit().notes(), "") && !has(dial(&many).unwrap().notes(), ""));
}
