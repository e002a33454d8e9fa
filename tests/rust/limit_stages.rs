//! Raising a limit by trials: published sample sizes, an independent count, a simulation, and the maker's limit.

use proptest::prelude::*;
use relamp::base::sound::Checks;
use relamp::fit::World;
use relamp::policy::{StageTerms, limit_stages};
use relamp::records::Ending;
use relamp::terms::{HourLimit, PrintedHours};

use crate::worlds::{close, limit, series};

fn terms(step_hours: f64, most_share: f64, allowed: u64) -> StageTerms {
    StageTerms { ending: Ending::Burst, step_hours, most_share, allowed, level: 0.95, oldest_at_risk_hours: None }
}

fn own(hours: f64, maker: f64) -> HourLimit {
    let printed = PrintedHours { maximum_hours: Some(maker), source: "invented".into(), ..PrintedHours::default() };
    printed.limit_because(hours, "the insurer asked for it").unwrap()
}

/// Bursts alone, wearing.
fn bursts(shape: f64, scale: f64) -> World {
    series(1.0, &[(Ending::Burst, shape, scale, 5.0)])
}

#[test]
fn trials_have_the_published_sizes() {
    // Fewest items for 95 % confidence of a share below p with 0, 1, 2 failures: 59, 93, 124 at 5 % and 29, 46, 61 at 10 %.
    // Binomial demonstration tables (from memory); scipy.stats.binom.cdf gives the same counts.
    let w = bursts(4.0, 9000.0);
    for (share, sizes) in [(0.05, [59, 93, 124]), (0.10, [29, 46, 61])] {
        for (allowed, size) in sizes.into_iter().enumerate() {
            let plan = limit_stages(&w, &own(2000.0, 2500.0), &terms(500.0, share, allowed as u64)).unwrap();
            assert_eq!(plan.stages[0].lamps, size);
            assert_eq!(plan.stages[0].stop_at, allowed as u64 + 1);
            assert!(plan.stages[0].pass_at_most_share <= 0.05);
            Checks::of("plan", &plan).unwrap();
        }
    }
}

#[test]
fn the_share_of_a_stage_counts_what_reaches_it_or_ends_so() {
    // Even rates in competition: F / (F + S) has a closed form.
    let (a, b) = (1e-4, 3e-4);
    let w = series(1.0, &[(Ending::Burst, 1.0, 1.0 / a, 5.0), (Ending::Dim, 1.0, 1.0 / b, 3.0)]);
    let plan = limit_stages(&w, &own(2000.0, 2500.0), &terms(250.0, 0.05, 1)).unwrap();
    let left = (-(a + b) * 250.0_f64).exp();
    let burst = a / (a + b) * (1.0 - left);
    for stage in &plan.stages {
        close(stage.expected_share, burst / (burst + left), 1e-10, 0.0);
        let (n, p) = (stage.lamps as f64, stage.expected_share);
        close(stage.pass_probability, (1.0 - p).powf(n) + n * p * (1.0 - p).powf(n - 1.0), 1e-9, 0.0);
        assert_eq!(stage.lamps_to_enter, (n / (burst + left)).ceil() as u64);
    }
    // The same by lamps one by one, their two lives from a sequence that fills the square evenly.
    let stage = &plan.stages[0];
    let (mut counted, mut bursts) = (0_u32, 0_u32);
    for i in 1..=1_000_000 {
        let life = |step: f64, rate: f64| -(f64::from(i) * step).fract().ln() / rate;
        let (burst, dim) = (life(0.754_877_666_246_692_8, a), life(0.569_840_290_998_053_3, b));
        let failed = burst < dim && burst <= 250.0;
        bursts += u32::from(failed);
        counted += u32::from(failed || burst.min(dim) > 250.0);
    }
    close(f64::from(bursts) / f64::from(counted), stage.expected_share, 0.0, 5e-5);
}

#[test]
fn at_the_makers_limit_there_is_no_plan() {
    let w = bursts(4.0, 9000.0);
    for limit in [limit(2500.0), own(2600.0, 2500.0), own(2500.0, 2500.4)] {
        let plan = limit_stages(&w, &limit, &terms(100.0, 0.05, 0)).unwrap();
        assert!(plan.stages.is_empty());
        assert!(plan.sentence.starts_with("no plan: already at the maker's limit of 2,500 h"), "{}", plan.sentence);
        Checks::of("plan", &plan).unwrap();
    }
    let plan = limit_stages(&w, &own(2000.0, 2500.0), &terms(200.0, 0.05, 0)).unwrap();
    assert!(
        plan.sentence.starts_with("from 2,000 h to the maker's 2,500 h in 3 stages: first run 59 lamps to 2,200 h")
    );
    let told = StageTerms { oldest_at_risk_hours: Some(2300.0), ..terms(200.0, 0.05, 0) };
    let plan = limit_stages(&w, &own(2000.0, 2500.0), &told).unwrap();
    assert_eq!(plan.stages.iter().map(|s| s.past_records).collect::<Vec<_>>(), [false, true, true]);
    assert!(plan.sentence.contains("opinion"));
}

#[test]
fn what_is_asked_wrongly_is_refused_by_name() {
    let w = bursts(4.0, 9000.0);
    let limit = own(2000.0, 2500.0);
    let slugs = |t: &StageTerms| -> Vec<String> {
        let error = limit_stages(&w, &limit, t).unwrap_err();
        error.problems().iter().map(|p| p.slug.to_owned()).collect()
    };
    for bad in [0.5, f64::NAN, f64::INFINITY, -3.0] {
        assert_eq!(slugs(&terms(bad, 0.05, 0)), ["policy.stage_hours"]);
    }
    assert_eq!(slugs(&terms(1.0, 1.0, 0)), ["policy.stage_share"]);
    assert_eq!(slugs(&terms(1.0, 0.0, 2000)), ["policy.stage_share", "policy.stage_allowed"]);
    assert_eq!(slugs(&StageTerms { level: 1.0, ..terms(100.0, 0.1, 0) }), ["policy.stage_level"]);
    assert_eq!(slugs(&StageTerms { ending: Ending::Dim, ..terms(100.0, 0.1, 0) }), ["policy.stage_no_cause"]);
    let far = own(2000.0, 9000.0);
    assert_eq!(limit_stages(&w, &far, &terms(1.0, 0.1, 0)).unwrap_err().slug(), "policy.stage_many");
    let dead = bursts(50.0, 100.0);
    assert_eq!(limit_stages(&dead, &limit, &terms(100.0, 0.1, 0)).unwrap_err().slug(), "policy.stage_none_left");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn no_stage_passes_the_makers_limit(
        shape in 0.5..8.0_f64, scale in 1500.0..9000.0_f64, hours in 100.0..4000.0_f64, maker in 100.0..4000.0_f64,
        step in 20.0..2000.0_f64, share in 0.001..0.5_f64, allowed in 0..6_u64,
    ) {
        let w = bursts(shape, scale);
        let plan = limit_stages(&w, &own(hours, maker), &terms(step, share, allowed)).unwrap();
        prop_assert!(Checks::of("plan", &plan).is_ok());
        prop_assert!(plan.stages.iter().all(|s| s.to_hours <= maker && s.to_hours == s.to_hours.floor()));
        prop_assert!(plan.stages.windows(2).all(|p| p[0].to_hours == p[1].from_hours));
        prop_assert_eq!(plan.stages.is_empty(), hours >= maker.floor());
    }
}
