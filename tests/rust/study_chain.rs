//! Whole invented chains: the demo chain against its own truth, threads, and coverage on clean chains.

use std::path::{Path, PathBuf};

use relamp::Run;
use relamp::base::sound::Checks;
use relamp::empirical::{CurveOptions, product_limit};
use relamp::family::{Life, Weibull, WeibullFamily};
use relamp::fit::{CauseLife, CauseOptions, FitOptions, Quantity, Sides, World, fit, fit_causes};
use relamp::lives::{LifeOptions, Reading, from_records};
use relamp::policy::{AgeOptions, planned_age, planned_age_interval};
use relamp::records::Ending;
use relamp::study::{ClassResult, Study, StudyOptions, StudyOutput};
use relamp::terms::{Costs, HourLimit, PrintedHours};
use relamp_demo::{Options, folder, generate};

use crate::study::scratch;

fn made(name: &str, seed: u64, options: &Options) -> (PathBuf, relamp_demo::Chain) {
    let place = scratch(name);
    let chain = generate(seed, options);
    folder::write(&chain, &place).unwrap();
    (place.join("study.toml"), chain)
}

fn run(path: &Path, options: StudyOptions) -> StudyOutput {
    let output = Study::open_with(path, options).unwrap().run(&Run::new()).unwrap();
    // Whatever a run answers must stand the checks that a saved form has to pass.
    Checks::of("output", &output).unwrap();
    output
}

fn draws(n: usize) -> StudyOptions {
    StudyOptions { draws: Some(n), ..StudyOptions::default() }
}

fn class<'a>(output: &'a StudyOutput, name: &str) -> &'a ClassResult {
    output.results.classes.iter().find(|c| c.name == name).unwrap()
}

/// Chance of `hits` or fewer among `n` at a chance of `p` each.
fn at_most(hits: usize, n: usize, p: f64) -> f64 {
    // In logarithms: 0.05^2000 is no number.
    let mut ln_term = n as f64 * (1.0 - p).ln();
    let mut sum = 0.0;
    for k in 0..=hits {
        sum += ln_term.exp();
        ln_term += (p / (1.0 - p) * (n - k) as f64 / (k + 1) as f64).ln();
    }
    sum
}

#[test]
fn the_demo_chain_runs_and_its_mixtures_are_named() {
    let output = run(Path::new("data/demo/study.toml"), draws(40));
    let results = &output.results;
    assert!(results.ledger.reconciles);
    assert_eq!(results.classes.len(), 5);
    // Lamps at their limit, told a second way from the lives.
    let limit = |name: &str| class(&output, name).limit.limit_hours.min(class(&output, name).limit.maker_limit_hours);
    let mut over: Vec<&str> = output
        .evidence
        .lives
        .iter()
        .filter(|l| l.ending == relamp::records::Ending::Running && l.high_hours >= limit(&l.lamp_class))
        .map(|l| l.serial.as_str())
        .collect();
    let mut listed: Vec<&str> = results.overdue.at_limit.iter().map(|l| l.serial.as_str()).collect();
    over.sort_unstable();
    listed.sort_unstable();
    assert!(!listed.is_empty());
    assert_eq!(listed, over);
    // No advice passes a limit.
    for c in &results.classes {
        let policy = c.policy.as_ref().unwrap();
        let ages = policy.cost_curve.iter().map(|p| p.age_hours);
        let ends = [policy.planned_age_hours, policy.planned_age_interval_hours.high.unwrap(), c.advised_age_hours];
        assert!(ages.chain(ends).all(|a| a <= c.limit.limit_hours), "{}", c.name);
        assert!(policy.near_best.iter().all(|b| b.to_hours <= c.limit.limit_hours), "{}", c.name);
        assert_eq!(c.curve.as_ref().unwrap().interval_reading, "midpoint");
    }
    // The weak batch is mixed in everywhere and the poorly cooled site at some: one family does not fit, and it is said.
    let apart = |by: &str| {
        let differs = |c: &&ClassResult| {
            let check = &c.model.as_ref().unwrap().fit_check;
            !check.holds && check.comparisons.iter().any(|x| x.by == by && x.differs)
        };
        results.classes.iter().filter(differs).count()
    };
    assert!(apart("batch") >= 3, "{}", apart("batch"));
    let bad_site = |c: &&ClassResult| {
        let check = &c.model.as_ref().unwrap().fit_check;
        check.comparisons.iter().any(|x| x.by == "site" && x.differs && x.stands_out.starts_with("Site 14 "))
    };
    assert!(results.classes.iter().any(|c| bad_site(&c)), "the poorly cooled site is named nowhere");
}

/// Of each class, the true reliability of the mix of lamps at half, full and 1.2 x the rated hours, and whether the
/// curve's band at a level holds it; nothing where the curve does not reach.
fn held(path: &Path, truth: &[relamp_demo::truth::ClassTruth], level: f64) -> Vec<[Option<bool>; 3]> {
    let reading = Study::open(path).unwrap().read(&Run::new()).unwrap();
    let (tally, _) = from_records(&reading.lives, &reading.spells, &LifeOptions::default()).unwrap();
    let options = CurveOptions { reading: Some(Reading::Midpoint), level, ..CurveOptions::default() };
    let of_class = |truth: &relamp_demo::truth::ClassTruth| {
        let curve = product_limit(&tally.stratum(truth.class.name).unwrap(), &options).unwrap();
        [0, 1, 2].map(|i| {
            let (low, high) = curve.band_at(truth.points[i].hours)?;
            Some(low <= truth.points[i].reliability && truth.points[i].reliability <= high)
        })
    };
    truth.iter().map(of_class).collect()
}

#[test]
fn the_truth_of_the_demo_chain_lies_in_the_bands_of_its_curves() {
    // Fifteen points are judged at once, and a band of 95 % at one age is to miss one of twenty: so the level is that
    // at which all fifteen hold with 95 % (Bonferroni's inequality).
    let (path, chain) = made("truth", relamp_demo::DEMO_SEED, &Options::full());
    let each = held(&path, &chain.truth, 1.0 - 0.05 / 15.0);
    let compared = each.iter().flatten().flatten().count();
    assert!(compared >= 14, "{compared}");
    assert!(each.iter().flatten().flatten().all(|h| *h), "{each:?}");
}

#[test]
fn bands_hold_the_truth_of_full_chains_as_often_as_they_say() {
    // 12 chains with all faults, batch and site effects, 5 classes each; one age at a time, as the band is.
    let mut hits = [(0, 0); 3];
    for seed in 0..12 {
        let (path, chain) = made("bands", seed, &Options::full().with_size(8, 48, 5));
        for class in held(&path, &chain.truth, 0.95) {
            for (hit, held) in hits.iter_mut().zip(class) {
                hit.1 += usize::from(held.is_some());
                hit.0 += usize::from(held == Some(true));
            }
        }
    }
    for (times_rated, (hit, all)) in [0.5, 1.0, 1.2].into_iter().zip(hits) {
        println!("{times_rated} x rated: {hit} of {all}");
        assert!(all >= 40, "{all}");
        assert!(at_most(hit, all, 0.95) > 1e-4, "{times_rated} x rated: {hit} of {all}");
    }
}

#[test]
fn answers_of_twelve_full_chains_stand_the_checks_of_a_saved_form() {
    let mut unsupported = 0;
    for seed in 0..12 {
        let (path, _) = made("sound", seed, &Options::full().with_size(5, 20, 3));
        let output = run(&path, draws(20));
        unsupported += output.results.classes.iter().filter(|c| c.bounds.is_some()).count();
    }
    println!("{unsupported} classes without a model");
}

#[test]
fn one_two_and_three_threads_give_the_same_bytes() {
    let (path, _) = made("threads", 3, &Options::full().with_size(6, 24, 3));
    let texts: Vec<(String, StudyOutput)> = [1, 2, 3]
        .map(|n| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
            let output = pool.install(|| run(&path, draws(30)));
            (output.results.to_json().unwrap(), output)
        })
        .to_vec();
    assert!(texts.windows(2).all(|w| w[0] == w[1]));
}

#[test]
fn clean_chains_are_not_called_mixed_and_leave_an_empty_ledger() {
    let options = Options { classes: 1, ..Options::clean_weibull(2.5, 1.0) }.with_size(4, 16, 4);
    let (mut alarms, n) = (0, 20);
    for seed in 0..n {
        let (path, _) = made("clean", seed, &options);
        let output = run(&path, draws(20));
        assert_eq!(output.evidence.ledger.findings, []);
        let model = output.results.classes[0].model.as_ref().unwrap();
        alarms += usize::from(!model.fit_check.holds);
    }
    // False alarms come with chance 0.01 at most, by the level of the check.
    assert!(at_most(n as usize - alarms, n as usize, 0.99) > 1e-4, "{alarms} of {n}");
}

/// The way of a study for one class of one clean chain: does each 95 % interval hold the truth?
fn covered(seed: u64, options: &Options, costs: &Costs, limit: &HourLimit, truth: &[f64; 4]) -> [bool; 4] {
    let (path, _) = made("cover", seed, options);
    let reading = Study::open(&path).unwrap().read(&Run::new()).unwrap();
    let (tally, _) = from_records(&reading.lives, &reading.spells, &LifeOptions::default()).unwrap();
    let run = Run::new();
    let fitted = fit(&WeibullFamily, &tally, &FitOptions::default(), &run).unwrap();
    let holds = |quantity: Quantity, value: f64| {
        let found = fitted.profile(&tally, &FitOptions::default(), &quantity, 0.95, Sides::Both, &run).unwrap();
        found.low.is_none_or(|l| l <= value) && found.high.is_none_or(|h| value <= h)
    };
    let causes = fit_causes(&tally, &WeibullFamily, &CauseOptions::default(), &run).unwrap();
    let draws = causes.draws(&tally, costs.clone(), 100, seed, "1.6 kW", &run).unwrap();
    let age = planned_age_interval(&draws, limit, &AgeOptions::default(), 0.95, &run).unwrap().age_hours;
    [
        holds(Quantity::Parameter("shape".to_owned()), truth[0]),
        holds(Quantity::Parameter("scale".to_owned()), truth[1]),
        holds(Quantity::BLife(10.0), truth[2]),
        // Ends are whole hours rounded down.
        age.low <= truth[3] && truth[3] < age.high + 1.0,
    ]
}

/// Chains behind the coverage of intervals; `RELAMP_CHAINS=2000` asks for more than a usual run waits for. On 2026-11-25
/// the 95 % intervals of 2,000 clean chains, seeds 0 to 1999, 100 draws each, held shape 1899, scale 1898, b10 1903 and
/// planned age 1890 times.
fn chains() -> u64 {
    std::env::var("RELAMP_CHAINS").map_or(200, |n| n.parse().unwrap())
}

#[test]
fn intervals_on_clean_chains_cover_as_often_as_they_say() {
    let (shape, chains) = (2.5, chains());
    let options = Options { classes: 1, ..Options::clean_weibull(shape, 1.0) }.with_size(3, 12, 4);
    let scale = generate(0, &options).truth[0].class.rated;
    let costs = Costs::new(1000.0, [(Ending::Dim, 4000.0)]).unwrap();
    let printed =
        PrintedHours { maximum_hours: Some(3000.0), source: "invented".to_owned(), ..PrintedHours::default() };
    let limit = printed.limit().unwrap();
    let life = Weibull { shape, scale };
    let best = {
        let causes = vec![CauseLife { endings: vec![(Ending::Dim, 1.0)], life: Box::new(life) }];
        let world = World { causes, costs: costs.clone() };
        planned_age(&world, &limit, &AgeOptions::default()).unwrap().optimum_hours
    };
    assert!(best < 2000.0, "the limit must not decide this test: {best}");
    let truth = [shape, scale, life.quantile(0.1).unwrap(), best];
    let mut hits = [0_usize; 4];
    for seed in 0..chains {
        for (hit, held) in hits.iter_mut().zip(covered(seed, &options, &costs, &limit, &truth)) {
            *hit += usize::from(held);
        }
    }
    // Both tails of the binomial: too rare and too often are findings alike.
    for (what, hit) in ["shape", "scale", "b10", "planned age"].iter().zip(hits) {
        let n = chains as usize;
        let (few, many) = (at_most(hit, n, 0.95), 1.0 - at_most(hit.saturating_sub(1), n, 0.95));
        println!("{what}: {hit} of {n}");
        assert!(few > 5e-5 && many > 5e-5, "{what}: {hit} of {n}");
    }
}
