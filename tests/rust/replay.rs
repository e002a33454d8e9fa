//! Back-tests: by hand, against printed tables, and on simulated chains whose truth is known.

use chrono::{Days, NaiveDate};
use relamp::base::random::Stream;
use relamp::family::{NamedLife, Weibull};
use relamp::fit::{CauseLife, World};
use relamp::policy::cost_curve;
use relamp::records::{Ending, LifeRecord, Lives, Spell, Spells, Word};
use relamp::replay::{AgeReplay, ReplayedAge, WindowOptions, evenness, replay_age, replay_predictions};
use relamp::terms::{Costs, HourLimit, PrintedHours, Salvage, Warranty};
use relamp::{Result, Run};

const CLASS: &str = "2.0 kW";

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// One lamp in one screen: day of fitting, day of removal or reading, hours, ending.
type Lamp = (NaiveDate, NaiveDate, f64, Ending);

fn read(lamps: &[Lamp]) -> (Lives, Spells) {
    let (file, class, none) = (Word::from("log.csv"), Word::from(CLASS), Word::default());
    let serials: Vec<Word> = (0..lamps.len()).map(|i| Word::from(format!("L{i:06}").as_str())).collect();
    let spells = lamps.iter().zip(&serials).enumerate().map(|(i, (&(from, to, hours, ending), serial))| Spell {
        file: &file,
        line: i as u64 + 2,
        serial,
        lamp_class: &class,
        site: &none,
        screen: &none,
        supplier: &none,
        batch: &none,
        fitted_on: from,
        removed_on: (ending != Ending::Running).then_some(to),
        read_on: to,
        fitted_hours: 0.0,
        entry_hours: 0.0,
        low_hours: hours,
        end_hours: hours,
        strikes: None,
        reason: &none,
        ending,
    });
    let spells: Spells = spells.collect();
    let risk: Vec<[(f64, f64); 1]> = lamps.iter().map(|l| [(0.0, l.2)]).collect();
    let own: Vec<[usize; 1]> = (0..lamps.len()).map(|i| [i]).collect();
    let lives = lamps.iter().zip(&serials).enumerate().map(|(i, (&(.., hours, ending), serial))| LifeRecord {
        serial,
        lamp_class: &class,
        supplier: &none,
        batch: &none,
        spells: &own[i],
        at_risk: &risk[i],
        low_hours: hours,
        end_hours: hours,
        ending,
    });
    (lives.collect(), spells)
}

/// A chain of screens, each with lamps of a Weibull life that are changed at failure or at an age between two.
struct Chain {
    screens: u64,
    shape: f64,
    scale: f64,
    /// The scale of lamps fitted from this day on.
    later: Option<(NaiveDate, f64)>,
    plan: (f64, f64),
    /// Within how many days the first lamps are fitted.
    spread_days: u64,
}

fn play(chain: &Chain, seed: u64) -> (Lives, Spells) {
    let (first, last) = (day("2016-01-01"), day("2025-01-01"));
    let mut lamps = Vec::new();
    for screen in 0..chain.screens {
        let mut s = Stream::new(seed, "test", "chain", screen);
        let pace = 8.0 + 6.0 * s.uniform();
        let mut fitted = first + Days::new(s.below(chain.spread_days as usize) as u64);
        while fitted < last {
            let scale = chain.later.filter(|l| fitted >= l.0).map_or(chain.scale, |l| l.1);
            let life = scale * s.exponential().powf(1.0 / chain.shape);
            let plan = chain.plan.0 + (chain.plan.1 - chain.plan.0) * s.uniform();
            let (hours, ending) = if life < plan { (life, Ending::Burst) } else { (plan, Ending::Planned) };
            let removed = fitted + Days::new((hours / pace).ceil() as u64);
            if removed > last {
                let days = (last - fitted).num_days() as f64;
                lamps.push((fitted, last, (pace * days).min(0.999 * hours), Ending::Running));
                break;
            }
            lamps.push((fitted, removed, hours, ending));
            fitted = removed;
        }
    }
    read(&lamps)
}

fn limit() -> HourLimit {
    let printed = PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() };
    printed.limit().unwrap()
}

fn costs() -> Costs {
    Costs::new(1000.0, [(Ending::Burst, 5000.0), (Ending::Dim, 1500.0)]).unwrap()
}

fn at(records: &(Lives, Spells), asked: &AgeReplay) -> Result<ReplayedAge> {
    replay_age(&records.0, &records.1, &costs(), &limit(), asked, &Run::new())
}

fn by_hand() -> Vec<Lamp> {
    let (from, to) = (day("2025-01-01"), day("2025-06-30"));
    vec![
        (from, to, 400.0, Ending::Burst),
        (from, to, 700.0, Ending::Planned),
        (from, to, 900.0, Ending::Dim),
        (from, to, 1500.0, Ending::Planned),
        (from, to, 1500.0, Ending::Planned),
    ]
}

/// A published value: two-sided 5 % points of the distance, L. H. Miller (1956), JASA 51, 111-121, table 1. From memory.
#[test]
fn the_chance_of_a_distance_is_that_of_the_printed_table() {
    for (n, distance) in [(1, 0.975), (5, 0.563_28), (10, 0.409_25), (20, 0.294_08)] {
        let values: Vec<f64> = (0..n).map(|i| (f64::from(i) / f64::from(n) + distance).min(1.0)).collect();
        let (d, p) = evenness(&values).unwrap();
        assert!((d - distance).abs() < 1e-12);
        assert!((p - 0.05).abs() < 2e-5, "{n}: {p}");
    }
    // Of many values: the limit of A. Kolmogorov (1933), moved by 1 / (6 sqrt(n)) as J. Vrbik (2018) has it. From memory.
    let values: Vec<f64> = (0..2500).map(|i| (f64::from(i) / 2500.0 + 0.018).min(1.0)).collect();
    let x: f64 = 50.0 * 0.018 + 1.0 / 300.0;
    let limit = 2.0 * ((-2.0 * x * x).exp() - (-8.0 * x * x).exp() + (-18.0 * x * x).exp());
    assert!((evenness(&values).unwrap().1 - limit).abs() < 1e-4);
    assert_eq!((evenness(&[]), evenness(&[0.3, f64::NAN]), evenness(&[1.1])), (None, None, None));
}

#[test]
fn an_earlier_rule_is_counted_from_the_rows_and_a_later_one_asks_for_a_model() -> Result<()> {
    let records = read(&by_hand());
    let early = at(&records, &AgeReplay::new(CLASS, 600.0))?;
    // Of five lamps one burst at 400 h and four would have been changed at 600 h: a plain count.
    assert!((early.cost_per_hour - 9000.0 / 2800.0).abs() < 1e-12);
    assert_eq!((early.reached, early.failed, early.left, early.hours_from_model), (4, 1, 0, 0.0));
    assert!((early.happened_cost_per_hour - (5000.0 + 1500.0 + 3000.0) / 5000.0).abs() < 1e-12);
    assert_eq!((early.happened_planned, early.happened_failures), (3, 2));
    // At 1,200 h the lamp taken out at 700 h tells nothing from there on; of the three that went on one failed.
    let late = at(&records, &AgeReplay::new(CLASS, 1200.0))?;
    let kept = 0.8 * 2.0 / 3.0;
    let hours = 400.0 + 0.8 * 500.0 + kept * 300.0;
    assert!((late.mean_age_at_change_hours - hours).abs() < 1e-9);
    assert!((late.cost_per_hour - (0.2 * 5000.0 + (0.8 - kept) * 1500.0 + kept * 1000.0) / hours).abs() < 1e-12);
    assert_eq!((late.reached, late.failed, late.left), (2, 2, 1));
    // What lamps taken out at 1,500 h would have done to 2,000 h no row tells.
    let mut past = AgeReplay::new(CLASS, 2000.0);
    let refused = at(&records, &past).unwrap_err();
    assert_eq!(refused.slug(), "replay.past_rows");
    assert!(refused.to_string().contains("1,500 h"), "{refused}");
    past.model = Some(NamedLife::new("exponential", [1000.0]));
    let modelled = at(&records, &past)?;
    let beyond = kept * 1000.0 * (1.0 - (-0.5_f64).exp());
    assert!((modelled.hours_from_model - beyond).abs() < 1e-9);
    assert!((modelled.mean_age_at_change_hours - (hours + kept * 300.0 + beyond)).abs() < 1e-9);
    assert_eq!(modelled.notes[0].slug, "replay.from_model");
    assert!(modelled.sentence.contains("to 1,500 h only, and the model beyond"), "{}", modelled.sentence);
    // A model changes nothing where the rows tell it.
    past.planned_age_hours = 1200.0;
    let rows = at(&records, &past)?;
    assert_eq!((rows.cost_per_hour, rows.cost_interval), (late.cost_per_hour, late.cost_interval));
    Ok(())
}

#[test]
fn rules_under_which_hardly_a_lamp_failed_tell_what_may_still_come() -> Result<()> {
    let (from, to) = (day("2024-01-01"), day("2025-07-01"));
    let seen = |failed: usize| {
        let mut lamps: Vec<Lamp> = (0..60).map(|i| (from, to, 1500.0 + f64::from(i), Ending::Planned)).collect();
        for (i, lamp) in lamps.iter_mut().take(failed).enumerate() {
            *lamp = (from, to, 500.0 + 100.0 * i as f64, Ending::Burst);
        }
        at(&read(&lamps), &AgeReplay::new(CLASS, 1200.0))
    };
    let none = seen(0)?;
    relamp::base::sound::Checks::of("replayed", &none)?;
    assert_eq!(
        none.rare.iter().map(|r| (r.ending, r.seen, r.lamps)).collect::<Vec<_>>(),
        [(Ending::Burst, 0, 60), (Ending::Dim, 0, 60)]
    );
    // None of 60: 1 - 0.05^(1/60), about 2.996/60.
    let most = 1.0 - 0.05_f64.powf(1.0 / 60.0);
    let burst = &none.rare[0];
    assert!((burst.at_most_per_1000_lamps - 1000.0 * most).abs() < 1e-9);
    let cost = (1000.0 + most * 4000.0) / (1200.0 * (1.0 - most));
    assert!((burst.at_most_cost_per_hour.unwrap() - cost).abs() < 1e-12);
    assert!(none.sentence.contains("no lamp failed before it, so that no interval is told"), "{}", none.sentence);
    let note = none.notes.iter().find(|n| n.slug == "replay.no_failure_seen").unwrap();
    assert!(
        note.text.contains("0 of 60 lamps seen from new ended by burst, so that at 95 % up to 4.87"),
        "{}",
        note.text
    );
    // One and two failures: the binomial chance of no more is 5 %.
    for failed in [1, 2] {
        let few = seen(failed)?;
        relamp::base::sound::Checks::of("replayed", &few)?;
        let (burst, p) = (&few.rare[0], few.rare[0].at_most_per_1000_lamps / 1000.0);
        assert_eq!((burst.seen, burst.lamps), (failed as u64, 60));
        let choose = [1.0, 60.0, 1770.0];
        let chance: f64 = (0..=failed).map(|k| choose[k] * p.powf(k as f64) * (1.0 - p).powf(60.0 - k as f64)).sum();
        assert!((chance - 0.05).abs() < 1e-9, "{chance}");
        assert!(burst.at_most_cost_per_hour.unwrap() > few.cost_interval.1);
        assert!(few.notes.iter().any(|n| n.slug == "replay.few_failures"));
    }
    // From three on the interval is told, and only what was not seen is bounded.
    let three = seen(3)?;
    assert!(three.notes.iter().all(|n| n.slug != "replay.few_failures") && three.sentence.contains(" to "));
    assert_eq!(three.rare.iter().map(|r| r.ending).collect::<Vec<_>>(), [Ending::Dim]);
    Ok(())
}

#[test]
fn a_day_leaves_out_what_was_before_and_a_warranty_pays_back_by_age() -> Result<()> {
    let mut lamps = by_hand();
    // Fitted 100 days before, at 10 h a day: 1,000 h old when the others were fitted.
    lamps.push((day("2024-09-23"), day("2025-02-20"), 1500.0, Ending::Planned));
    lamps.push((day("2024-01-01"), day("2024-12-01"), 200.0, Ending::Burst));
    let records = read(&lamps);
    let asked = AgeReplay { since: Some(day("2025-01-01")), ..AgeReplay::new(CLASS, 1200.0) };
    let since = at(&records, &asked)?;
    // Fitted on the day itself: from its end on, at 0 h. The old lamp is at risk from 1,000 h on.
    assert_eq!((since.reached, since.failed, since.left), (3, 2, 1));
    assert!((since.happened_hours - 5500.0).abs() < 1e-9);
    let backed = costs().with_warranty(Warranty::pro_rata(500.0, 1000.0, [Ending::Burst])?)?;
    let with = replay_age(&records.0, &records.1, &backed, &limit(), &asked, &Run::new())?;
    let saved = (since.cost_per_hour - with.cost_per_hour) * since.mean_age_at_change_hours;
    // A fifth of the lamps burst, at 400 h: 300 comes back.
    assert!((saved - 0.2 * 300.0).abs() < 1e-9);
    Ok(())
}

#[test]
fn a_used_lamp_brings_its_worth_at_the_age_of_its_planned_change() -> Result<()> {
    let records = read(&by_hand());
    let used = costs().with_salvage(Salvage::new(400.0, 2000.0, 600.0)?)?;
    let with = |age: f64| replay_age(&records.0, &records.1, &used, &limit(), &AgeReplay::new(CLASS, age), &Run::new());
    // Four of five are changed at 600 h, worth 280 each. As it happened one was at 700 h, worth 260; at 1,500 h two had fewer
    // than 600 h left.
    let early = with(600.0)?;
    assert!((early.cost_per_hour - (9000.0 - 4.0 * 280.0) / 2800.0).abs() < 1e-12);
    assert!((early.happened_cost_per_hour - (9500.0 - 260.0) / 5000.0).abs() < 1e-12);
    let late = with(1400.0)?;
    assert_eq!(late.cost_per_hour, at(&records, &AgeReplay::new(CLASS, 1400.0))?.cost_per_hour);
    Ok(())
}

/// A lamp that failed at the oldest age seen failed, whether or not a model goes on from there.
#[test]
fn failures_where_the_rows_end_count() -> Result<()> {
    let (from, to) = (day("2020-01-01"), day("2021-01-01"));
    let of = |told: &[(f64, Ending)]| read(&told.iter().map(|t| (from, to, t.0, t.1)).collect::<Vec<_>>());
    let model = Some(NamedLife::new("weibull", [3.0, 1500.0]));
    let five = vec![(1000.0, Ending::Burst); 5];
    let ten: Vec<_> = (500..510).map(|h| (f64::from(h), Ending::Burst)).collect();
    for model in [None, model.clone()] {
        // Five bursts at 1,000 h cost 5 an hour under any later rule; ten at 504.5 h in the mean 5,000 / 504.5.
        for (records, age, cost) in [(of(&five), 1000.1, 5.0), (of(&ten), 900.0, 5000.0 / 504.5)] {
            let got = at(&records, &AgeReplay { model: model.clone(), ..AgeReplay::new(CLASS, age) })?;
            assert!((got.cost_per_hour - cost).abs() < 1e-9, "{got:?}");
            assert!(got.saving_per_hour.abs() < 1e-9 && got.hours_from_model == 0.0, "{got:?}");
            assert!((got.endings[0].per_1000_lamps - 1000.0).abs() < 1e-9, "{got:?}");
        }
    }
    // Of six that came to 1,000 h five failed there, and one goes on by the model.
    let mut six = five;
    six.push((1000.0, Ending::Planned));
    let records = of(&six);
    let refused = at(&records, &AgeReplay::new(CLASS, 1100.0)).unwrap_err();
    assert_eq!(refused.slug(), "replay.past_rows");
    let got = at(&records, &AgeReplay { model, ..AgeReplay::new(CLASS, 1000.1) })?;
    assert!((got.endings[0].per_1000_lamps - 5000.0 / 6.0).abs() < 0.1, "{got:?}");
    Ok(())
}

#[test]
fn no_rule_past_the_limit_is_replayed_in_random_chains() {
    let mut s = Stream::new(21, "test", "never past", 0);
    let mut replayed = 0;
    for seed in 0..12 {
        let plan = 600.0 + 1800.0 * s.uniform();
        let chain = Chain {
            screens: 20 + s.below(40) as u64,
            shape: 0.8 + 4.0 * s.uniform(),
            scale: 500.0 + 4000.0 * s.uniform(),
            later: None,
            plan: (0.8 * plan, plan),
            spread_days: 200,
        };
        let records = play(&chain, seed);
        for age in [2500.0_f64.next_up(), 2501.0, 9000.0] {
            assert_eq!(at(&records, &AgeReplay::new(CLASS, age)).unwrap_err().slug(), "replay.age_past_limit");
        }
        let age = 2500.0 * s.uniform();
        let asked = AgeReplay { replicates: 20, ..AgeReplay::new(CLASS, age) };
        if let Ok(found) = at(&records, &asked) {
            relamp::base::sound::Checks::of("replayed", &found).unwrap();
            assert!(found.mean_age_at_change_hours <= age && age <= found.limit_hours && found.rows_reach_hours > 0.0);
            replayed += 1;
        }
    }
    assert!(replayed > 4, "{replayed}");
}

#[test]
fn what_cannot_be_replayed_is_refused_by_name() {
    let records = read(&by_hand());
    let slug = |asked: &AgeReplay| at(&records, asked).unwrap_err().slug().to_owned();
    let base = AgeReplay::new(CLASS, 600.0);
    assert_eq!(slug(&AgeReplay::new("3.0 kW", 600.0)), "replay.no_lamp");
    assert_eq!(slug(&AgeReplay::new(CLASS, 2501.0)), "replay.age_past_limit");
    assert_eq!(slug(&AgeReplay::new(CLASS, f64::NAN)), "replay.age");
    assert_eq!(slug(&AgeReplay { level: 1.0, ..base.clone() }), "replay.options");
    assert_eq!(slug(&AgeReplay { since: Some(day("2026-01-01")), ..base.clone() }), "replay.nothing_after");
    let none =
        AgeReplay { failure_endings: vec![Ending::Seal], model: Some(NamedLife::new("exponential", [1.0])), ..base };
    assert_eq!(slug(&AgeReplay { planned_age_hours: 2000.0, ..none }), "replay.no_failures");
    let windows = |options: WindowOptions| {
        let made = replay_predictions(&records.0, &records.1, CLASS, &options, &Run::new());
        made.unwrap_err().slug().to_owned()
    };
    assert_eq!(windows(WindowOptions { window_days: 3, ..WindowOptions::default() }), "replay.window");
    assert_eq!(windows(WindowOptions { window_days: 365, ..WindowOptions::default() }), "replay.window");
    assert_eq!(windows(WindowOptions { draws: 3, ..WindowOptions::default() }), "replay.options");
    assert_eq!(windows(WindowOptions { window_days: 30, ..WindowOptions::default() }), "replay.no_window");
}

/// An old lamp alone at risk that fails would take the curve to nothing, though younger lamps went on past its age.
#[test]
fn a_curve_emptied_by_one_early_failure_is_refused() {
    let lamps = [
        (day("2024-12-31"), day("2025-01-06"), 5.0, Ending::Burst),
        (day("2024-12-01"), day("2025-06-30"), 1500.0, Ending::Planned),
    ];
    let asked = AgeReplay { since: Some(day("2024-12-30")), ..AgeReplay::new(CLASS, 3.0) };
    let records = read(&lamps);
    // To 3 h the first lamp tells of the rule; past 5 h nobody does, until the second one comes.
    assert!(at(&records, &asked).is_ok());
    let later = AgeReplay { planned_age_hours: 1000.0, ..asked };
    assert_eq!(at(&records, &later).unwrap_err().slug(), "replay.past_rows");
}

/// Against the truth of played chains: the replayed cost has the mean of the exact one, and its intervals hold it.
#[test]
fn the_replayed_cost_is_that_of_the_chain_that_was_played() -> Result<()> {
    let (shape, scale) = (3.0, 2200.0);
    let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Weibull { shape, scale }) }];
    let world = World { causes, costs: costs() };
    let truth = cost_curve(&world, &[1000.0, 1900.0], &limit())?;
    let chain = Chain { screens: 25, shape, scale, later: None, plan: (1200.0, 1700.0), spread_days: 300 };
    let (mut held, mut zs) = (0, Vec::new());
    let chains = 150;
    for seed in 0..chains {
        let records = play(&chain, seed);
        let asked = AgeReplay { replicates: 200, seed, ..AgeReplay::new(CLASS, 1000.0) };
        let got = at(&records, &asked)?;
        let (low, high) = got.cost_interval;
        held += u32::from((low..=high).contains(&truth[0].cost_per_hour));
        zs.push(got.cost_per_hour - truth[0].cost_per_hour);
        if seed < 3 {
            // Past the rows with the true model: the rest of the doubt is that of the rows.
            let model = Some(NamedLife::new("weibull", [shape, scale]));
            let late = at(&records, &AgeReplay { planned_age_hours: 1900.0, model, ..asked })?;
            let width = late.cost_interval.1 - late.cost_interval.0;
            assert!((late.cost_per_hour - truth[1].cost_per_hour).abs() < width, "{late:?}");
            assert!(late.hours_from_model > 0.0);
        }
    }
    let n = zs.len() as f64;
    let mean = zs.iter().sum::<f64>() / n;
    let sd = (zs.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    assert!((mean / (sd / n.sqrt())).abs() < 3.5, "mean {mean}, sd {sd}");
    // 90 % of 150 is 135, with a standard deviation of 3.7.
    assert!((123..=146).contains(&held), "{held} of {chains}");
    Ok(())
}

/// Values of the windows of several chains.
fn values(chain: &Chain, options: &WindowOptions, chains: u64) -> Result<Vec<f64>> {
    let mut all = Vec::new();
    for seed in 0..chains {
        let (lives, spells) = play(chain, 1000 + seed);
        let options = WindowOptions { seed, ..options.clone() };
        let replay = replay_predictions(&lives, &spells, CLASS, &options, &Run::new())?;
        all.extend(replay.windows.iter().map(|w| w.value));
    }
    Ok(all)
}

#[test]
fn values_are_even_where_the_model_holds_and_not_where_it_does_not() -> Result<()> {
    let options = WindowOptions { window_days: 182, draws: 40, ..WindowOptions::default() };
    let chain = Chain { screens: 60, shape: 3.0, scale: 2200.0, later: None, plan: (1300.0, 1900.0), spread_days: 60 };
    let sound = values(&chain, &options, 100)?;
    let (distance, p) = evenness(&sound).unwrap();
    assert!(sound.len() > 1_000 && p > 0.02, "{} values: distance {distance}, p {p}", sound.len());
    // The middle too: a standard error of 0.29 / sqrt(n).
    let mean = sound.iter().sum::<f64>() / sound.len() as f64;
    assert!((mean - 0.5).abs() < 3.5 * 0.2887 / (sound.len() as f64).sqrt(), "{mean}");
    // A rate that does not rise with age, of lamps that wear: the waves of young and of old lamps are missed.
    let wrong = WindowOptions { family: "exponential".to_owned(), window_days: 91, ..options.clone() };
    let steep = Chain { shape: 6.0, scale: 1900.0, plan: (1700.0, 1900.0), spread_days: 5, ..chain };
    let (_, p) = evenness(&values(&steep, &wrong, 3)?).unwrap();
    assert!(p < 1e-3, "{p}");
    Ok(())
}

#[test]
fn lamps_that_turn_weak_are_told_and_the_numbers_do_not_depend_on_the_order_of_work() -> Result<()> {
    let later = Some((day("2022-01-01"), 900.0));
    let chain = Chain { screens: 40, shape: 3.0, scale: 2200.0, later, plan: (1300.0, 1900.0), spread_days: 200 };
    let (lives, spells) = play(&chain, 7);
    let options = WindowOptions { draws: 20, ..WindowOptions::default() };
    let replay = replay_predictions(&lives, &spells, CLASS, &options, &Run::new())?;
    assert!(replay.p_value < 0.01, "{}", replay.sentence);
    assert!(replay.sentence.contains("more failures came than predicted"), "{}", replay.sentence);
    let again = replay_predictions(&lives, &spells, CLASS, &options, &Run::new())?;
    assert_eq!(replay, again);
    let days = |w: &relamp::replay::PredictedWindow| (w.to - w.from).num_days();
    assert!(replay.windows.iter().all(|w| days(w) == 91 && w.failures_known >= 20));
    assert_eq!(replay.windows.last().map(|w| w.to), Some(day("2025-01-01")));
    Ok(())
}

/// New lamps in every screen when the records begin, changed at 1,200 h or at failure: what was paid so far is short of the
/// lamps that still burn.
fn followed_from_new(years: u64, seed: u64) -> (Lives, Spells) {
    let first = day("2022-01-01");
    let last = first + Days::new(365 * years);
    let mut lamps = Vec::new();
    for screen in 0..40 {
        let mut s = Stream::new(seed, "test", "followed", screen);
        let mut fitted = first;
        loop {
            let life = 1000.0 * s.exponential().powf(1.0 / 3.0);
            let (hours, ending) = if life < 1200.0 { (life, Ending::Burst) } else { (1200.0, Ending::Planned) };
            let removed = fitted + Days::new((hours / 10.0) as u64 + 1);
            if removed > last {
                lamps.push((fitted, last, (10.0 * (last - fitted).num_days() as f64).max(1.0), Ending::Running));
                break;
            }
            lamps.push((fitted, removed, hours, ending));
            fitted = removed;
        }
    }
    read(&lamps)
}

#[test]
fn the_rule_that_was_followed_is_neither_a_saving_nor_a_loss() -> Result<()> {
    for years in [1, 2, 4] {
        for seed in 0..10 {
            let asked = AgeReplay { replicates: 40, ..AgeReplay::new(CLASS, 1200.0) };
            let found = at(&followed_from_new(years, seed), &asked)?;
            relamp::base::sound::Checks::of("replayed", &found).unwrap();
            let whole = found.whole_lives_cost_per_hour.unwrap();
            assert!((found.cost_per_hour / whole - 1.0).abs() < 1e-9, "{years} {seed}: {}", found.sentence);
            assert!(found.sentence.contains("no saving or loss is told"), "{}", found.sentence);
            let (low, high) = found.saving_interval;
            assert!(low.abs() + high.abs() < 1e-9 * whole, "{low} {high}");
            let unpaid = found.notes.iter().any(|n| n.slug == "replay.not_paid_yet");
            assert_eq!(unpaid, (whole / found.happened_cost_per_hour - 1.0).abs() > 0.02, "{:?}", found.notes);
        }
    }
    Ok(())
}

/// Another age against what was followed: the saving is that of the formulas, long before all lamps are paid for.
#[test]
fn a_saving_from_short_records_is_that_of_the_formula() -> Result<()> {
    let life = Weibull { shape: 3.0, scale: 1000.0 };
    let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(life) }];
    let told = cost_curve(&World { causes, costs: costs() }, &[500.0, 1200.0], &limit())?;
    let truth = told[1].cost_per_hour - told[0].cost_per_hour;
    let (mut inside, mut sum, rounds) = (0, 0.0, 40);
    for seed in 0..rounds {
        let asked = AgeReplay { replicates: 100, ..AgeReplay::new(CLASS, 500.0) };
        let found = at(&followed_from_new(1, 100 + seed), &asked)?;
        let (low, high) = found.saving_interval;
        inside += u32::from(low <= truth && truth <= high);
        sum += found.saving_per_hour;
    }
    // Intervals of 90 %: fewer than 30 of 40 come by chance once in a thousand times.
    assert!(inside >= 30, "{inside}");
    assert!((sum / f64::from(rounds as u32) / truth - 1.0).abs() < 0.1, "{sum} {truth}");
    Ok(())
}
