//! Planned ages under caps on the risk of a burst.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::math::count_bounds::count_upper;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{CauseLife, CauseOptions, Draws, Method, World, fit_causes};
use relamp::lives::{Rows, Tally};
use relamp::policy::{
    AgeOptions, CapLine, CapVerdict, CappedAge, RiskCaps, RiskRecords, RiskSource, capped_age, planned_age,
};
use relamp::records::Ending;
use relamp::terms::{Costs, HourLimit};
use relamp::{Error, Kind, Problem, Result};

use crate::worlds::{close, limit, series, world};

fn weibull(shape: f64, scale: f64) -> Weibull {
    Weibull { shape, scale }
}

fn caps(most_before_age: Option<f64>, most_in_show: Option<f64>) -> RiskCaps {
    RiskCaps { ending: Ending::Burst, most_before_age, most_in_show, show_hours: 2.5, level: 0.95 }
}

/// Lamps pulled alive at an age, and some that ended at ages of their own.
fn tally(pulled: u64, at: f64, ended: &[(Ending, f64)]) -> Tally {
    let mut rows = Rows { low: vec![at], high: vec![f64::INFINITY], ..Rows::default() };
    let (mut endings, mut counts) = (vec![Ending::Planned], vec![pulled]);
    for (ending, age) in ended {
        rows.low.push(*age);
        rows.high.push(if *ending == Ending::Unknown { f64::INFINITY } else { *age });
        endings.push(*ending);
        counts.push(1);
    }
    (rows.ending, rows.count) = (Some(endings), Some(counts));
    Tally::from_rows(&rows).unwrap().0
}

fn both_lines(tally: &Tally, shape: f64) -> Vec<CapLine<'static>> {
    let line = |unknown_counted: bool, endings: &[Ending]| CapLine {
        unknown_counted,
        source: RiskSource::Records(RiskRecords::of(tally, endings, shape).unwrap()),
    };
    vec![line(false, &[Ending::Burst]), line(true, &[Ending::Burst, Ending::Unknown])]
}

fn ask(w: &World, caps: &RiskCaps, lines: &[CapLine], limit: &HourLimit) -> Result<CappedAge> {
    let answer = capped_age(w, caps, lines, limit, &AgeOptions::default(), &Run::new())?;
    relamp::base::sound::Checks::of("saved", &answer).unwrap();
    let text = serde_json::to_string(&answer).unwrap();
    assert_eq!(serde_json::from_str::<CappedAge>(&text).unwrap(), answer);
    Ok(answer)
}

/// Dim lamps at a cost that falls to the limit.
fn dims() -> World {
    world(weibull(3.0, 3000.0), 950.0, 5200.0)
}

#[test]
fn without_an_event_the_rate_is_at_most_three_over_the_hours() {
    let (w, lines) = (dims(), both_lines(&tally(400, 1500.0, &[]), 1.0));
    let hours = 400.0 * 1500.0;
    // Both lines are one: there is no unknown ending.
    let age = ask(&w, &caps(Some(0.004), None), &lines, &limit(2000.0)).unwrap();
    let by_hand = -(-0.004_f64).ln_1p() * hours / 2.995_732_273_554;
    assert_eq!((age.verdict, age.age_hours), (CapVerdict::CapsBind, Some(by_hand.floor())));
    assert_eq!(age.lines[0].latest_hours, age.lines[1].latest_hours);
    close(
        age.lines[0].advised.unwrap().before_age,
        -(-2.995_732_273_554 * by_hand.floor() / hours).exp_m1(),
        1e-12,
        0.0,
    );
    assert_eq!(age.bands.len(), 1);
    assert_eq!((age.bands[0].from_hours, age.bands[0].to_hours), (1.0, by_hand.floor()));
    // At an even rate the risk in a show is the same at every age: the cap holds at all of them or at none.
    let show = 2.995_732_273_554 * 2.5 / hours;
    let free = ask(&w, &caps(None, Some(1.001 * show)), &lines, &limit(2000.0)).unwrap();
    assert_eq!((free.verdict, free.age_hours), (CapVerdict::CapsMet, Some(free.uncapped.age_hours)));
    let none = ask(&w, &caps(None, Some(0.5 * show)), &lines, &limit(2000.0)).unwrap();
    assert_eq!((none.verdict, none.age_hours, none.bands.len()), (CapVerdict::NoAgeMeetsCaps, None, 0));
    assert!(none.sentence.starts_with("no age up to 1,500 h meets the caps with these records"), "{}", none.sentence);
    // Twice the hours without a burst would do, a little less by rounding of the logarithm.
    close(none.lines[0].hours_needed_times.unwrap(), 2.0, 1e-4, 0.0);
    assert!(none.sentence.contains("2 times the hours without a further burst"), "{}", none.sentence);
}

#[test]
fn a_stated_shape_of_wear_says_more_of_early_ages() {
    let records = tally(400, 1500.0, &[]);
    let latest = |shape: f64| {
        let lines = both_lines(&records, shape);
        ask(&dims(), &caps(Some(0.001), None), &lines, &limit(2000.0)).unwrap().age_hours.unwrap()
    };
    // H(T) <= 2.996 (T / 1500)^k / 400: by hand.
    let by_hand = |k: f64| (1500.0 * (-(-0.001_f64).ln_1p() * 400.0 / 2.995_732_273_554).powf(1.0 / k)).floor();
    assert_eq!((latest(1.0), latest(3.0)), (by_hand(1.0), by_hand(3.0)));
    assert!(latest(3.0) > 3.0 * latest(1.0));
}

#[test]
fn unknown_endings_count_in_the_second_line_and_the_advice_obeys_both() {
    let records = tally(400, 1500.0, &[(Ending::Burst, 900.0), (Ending::Unknown, 700.0), (Ending::Unknown, 800.0)]);
    let age = ask(&dims(), &caps(Some(0.008), None), &both_lines(&records, 1.0), &limit(2000.0)).unwrap();
    let hours = 400.0 * 1500.0 + 900.0 + 700.0 + 800.0;
    let latest = |events| (-(-0.008_f64).ln_1p() * hours / count_upper(events, 0.95).unwrap()).floor();
    assert_eq!((age.lines[0].latest_hours, age.lines[1].latest_hours), (Some(latest(1)), Some(latest(3))));
    assert_eq!(age.age_hours, Some(latest(3)));
    let events: Vec<u64> = age.lines.iter().map(|l| l.records.as_ref().unwrap().events).collect();
    assert_eq!(events, [1, 3]);
    assert!(age.sentence.contains("unknown endings counted"), "{}", age.sentence);
}

#[test]
fn records_hold_the_search_to_the_oldest_lamp_at_risk() {
    let lines = both_lines(&tally(100_000, 900.0, &[]), 1.0);
    let (w, caps) = (dims(), caps(Some(0.2), None));
    let held = ask(&w, &caps, &lines, &limit(2000.0)).unwrap();
    assert_eq!((held.verdict, held.age_hours), (CapVerdict::CapsMet, Some(900.0)));
    let options = AgeOptions { extrapolate_because: Some("invented".into()), ..AgeOptions::default() };
    let further = capped_age(&w, &caps, &lines, &limit(2000.0), &options, &Run::new()).unwrap();
    assert!(further.age_hours.unwrap() > 900.0 && further.uncapped.past_records);
    // Today's rule past the records may stay on cost; no cap can be judged there.
    let rule = AgeOptions { todays_rule_hours: Some(1400.0), ..AgeOptions::default() };
    let stays = capped_age(&w, &caps, &lines, &limit(2000.0), &rule, &Run::new()).unwrap();
    assert_eq!((stays.uncapped.age_hours, stays.age_hours), (1400.0, Some(900.0)));
}

/// Worlds of one burst cause whose scale is spread out, and a cause that never fails to be cheap.
#[derive(Debug)]
struct Spread {
    width: f64,
    draws: usize,
    failed: usize,
    shape: f64,
}

impl Draws for Spread {
    fn len(&self) -> usize {
        self.draws
    }
    fn best(&self) -> Result<World> {
        Ok(self.at(0.0))
    }
    fn world(&self, replicate: usize) -> Result<World> {
        if replicate < self.failed {
            return Err(Error::new(Kind::Refused, Problem::new("test.failed_draw", "a draw that fails")));
        }
        Ok(self.at((replicate as f64 + 0.5) / self.draws as f64 - 0.5))
    }
    fn method(&self) -> Method {
        Method::Wald
    }
}

impl Spread {
    fn at(&self, place: f64) -> World {
        let burst = self.shape;
        series(
            950.0,
            &[(Ending::Burst, burst, 9000.0 * (self.width * place).exp(), 5200.0), (Ending::Dim, 4.0, 2500.0, 1250.0)],
        )
    }
}

fn drawn(draws: &Spread, caps: &RiskCaps, hours: f64) -> Result<CappedAge> {
    let lines = [CapLine { unknown_counted: false, source: RiskSource::Draws(draws) }];
    ask(&draws.best().unwrap(), caps, &lines, &limit(hours))
}

#[test]
fn draws_are_judged_by_their_upper_percentile() {
    let draws = Spread { width: 1.0, draws: 199, failed: 0, shape: 2.0 };
    let age = drawn(&draws, &caps(Some(0.01), None), 2500.0).unwrap();
    let advised = age.age_hours.unwrap();
    assert_eq!(age.verdict, CapVerdict::CapsBind);
    // Rank 0.95 (199 + 1) is the 190th of the ascending risks: the world of the 10th smallest scale.
    let w = draws.world(9).unwrap();
    let burst = |t: f64| relamp::policy::WorldCurve::new(&w).unwrap().up_to(t).unwrap().incidence[0];
    close(age.lines[0].advised.unwrap().before_age, burst(advised), 1e-9, 0.0);
    assert!(burst(advised) <= 0.01 && burst(advised + 1.0) > 0.01);
    // The risk in the next show, of a lamp that has reached the age.
    let show = w.causes[0].life.cumulative_hazard(advised + 2.5) - w.causes[0].life.cumulative_hazard(advised);
    close(age.lines[0].advised.unwrap().in_show, show, 2e-3, 0.0);
    assert_eq!(age.lines[0].hours_needed_times, None);
}

#[test]
fn with_early_failures_the_next_show_can_forbid_early_ages_only() {
    // The hazard of bursts falls: late ages meet the cap in the show, early ones do not.
    let draws = Spread { width: 0.2, draws: 99, failed: 0, shape: 0.5 };
    let age = drawn(&draws, &caps(None, Some(4e-4)), 2500.0).unwrap();
    assert_eq!(age.bands.len(), 1, "{:?}", age.bands);
    assert!(age.bands[0].from_hours > 1.0);
    assert_eq!(age.bands[0].to_hours, 2500.0);
    let lamps = Spread { width: 0.2, draws: 99, failed: 0, shape: 0.5 };
    let first = age.bands[0].from_hours;
    let earlier = drawn(&lamps, &caps(None, Some(4e-4)), first - 1.0).unwrap();
    assert_eq!(earlier.verdict, CapVerdict::NoAgeMeetsCaps);
}

#[test]
fn a_cause_that_draws_do_not_know_is_no_proof_of_safety() {
    let draws = Spread { width: 0.2, draws: 99, failed: 0, shape: 2.0 };
    let seal = RiskCaps { ending: Ending::Seal, ..caps(Some(0.01), None) };
    let error = drawn(&draws, &seal, 2500.0).unwrap_err();
    assert_eq!((error.kind(), error.slug()), (Kind::Refused, "policy.cap_no_cause"));
    assert!(error.hint().unwrap().contains("2.996"));
    let few = Spread { width: 0.2, draws: 10, failed: 0, shape: 2.0 };
    assert_eq!(drawn(&few, &caps(Some(0.01), None), 2500.0).unwrap_err().slug(), "policy.few_draws");
}

#[test]
fn hostile_caps_are_refused_by_name() {
    let bad = RiskCaps {
        ending: Ending::Burst,
        most_before_age: Some(0.0),
        most_in_show: Some(f64::NAN),
        show_hours: -1.0,
        level: 0.2,
    };
    let lines = both_lines(&tally(10, 900.0, &[]), 1.0);
    assert_eq!(ask(&dims(), &bad, &lines, &limit(900.0)).unwrap_err().problems().len(), 4);
    assert_eq!(ask(&dims(), &caps(None, None), &lines, &limit(900.0)).unwrap_err().slug(), "policy.cap_missing");
    for ending in [Ending::Planned, Ending::Running] {
        let none = RiskCaps { ending, ..caps(Some(0.01), None) };
        assert_eq!(ask(&dims(), &none, &lines, &limit(900.0)).unwrap_err().slug(), "policy.cap_ending");
    }
    assert_eq!(ask(&dims(), &caps(Some(0.1), None), &[], &limit(900.0)).unwrap_err().slug(), "policy.cap_no_line");
    let records = tally(10, 900.0, &[]);
    for shape in [0.0, f64::NAN, f64::INFINITY] {
        assert_eq!(RiskRecords::of(&records, &[Ending::Burst], shape).unwrap_err().slug(), "policy.risk_shape");
    }
    let windowed = Rows { low: vec![100.0], high: vec![100.0], upper: Some(vec![500.0]), ..Rows::default() };
    let windowed = Tally::from_rows(&windowed).unwrap().0;
    assert_eq!(RiskRecords::of(&windowed, &[Ending::Burst], 1.0).unwrap_err().slug(), "policy.risk_windowed");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn fewer_data_never_relax_a_cap(
        pulled in 20..2000_u64,
        lost in 1..19_u64,
        at in 500.0..1900.0_f64,
        bursts in proptest::collection::vec(50.0..480.0_f64, 0..4),
        unknown in proptest::collection::vec(50.0..480.0_f64, 0..3),
        shape in prop::sample::select(vec![1.0, 2.0, 3.5]),
        before in 0.0005..0.05_f64,
        show in 1e-6..1e-4_f64,
    ) {
        let ended: Vec<(Ending, f64)> = bursts.iter().map(|a| (Ending::Burst, *a))
            .chain(unknown.iter().map(|a| (Ending::Unknown, *a))).collect();
        let caps = caps(Some(before), Some(show));
        let latest = |t: &Tally| {
            let lines = both_lines(t, shape);
            let answer = ask(&dims(), &caps, &lines, &limit(1800.0)).unwrap();
            prop_assert!(answer.age_hours.is_none_or(|a| a <= 1800.0 && a.fract() == 0.0));
            prop_assert!(answer.bands.iter().all(|b| b.to_hours <= 1800.0));
            Ok(answer.bands.last().map_or(0.0, |b| b.to_hours))
        };
        let whole = latest(&tally(pulled, at, &ended))?;
        // Lamps without the ending that were not recorded, hours that were not, a reason that was lost.
        prop_assert!(latest(&tally(pulled - lost, at, &ended))? <= whole);
        prop_assert!(latest(&tally(pulled, 0.8 * at, &ended))? <= whole);
        if let Some(first) = ended.first().copied() {
            let mut lost = ended.clone();
            lost[0] = (Ending::Unknown, first.1);
            prop_assert!(latest(&tally(pulled, at, &lost))? <= whole);
        }
    }

    #[test]
    fn a_wider_spread_and_lost_draws_never_relax_a_cap(
        spread in 0.05..1.5_f64,
        wider in 1.0..3.0_f64,
        failed in 0..60_usize,
        shape in 0.6..4.0_f64,
        before in 0.001..0.1_f64,
    ) {
        let latest = |spread: f64, failed: usize| {
            let draws = Spread { width: spread, draws: 99, failed, shape };
            drawn(&draws, &caps(Some(before), None), 2500.0).unwrap().bands.last().map_or(0.0, |b| b.to_hours)
        };
        let whole = latest(spread, 0);
        prop_assert!(latest(spread * wider, 0) <= whole);
        prop_assert!(latest(spread, failed) <= whole);
    }
}

#[test]
fn a_capped_age_is_the_least_cost_among_those_that_meet_the_caps() {
    let draws = Spread { width: 0.8, draws: 99, failed: 0, shape: 2.5 };
    let w = draws.best().unwrap();
    for cap in [0.002, 0.01, 0.03, 0.2] {
        let age = drawn(&draws, &caps(Some(cap), None), 2500.0).unwrap();
        let free = planned_age(&w, &limit(2500.0), &AgeOptions::default()).unwrap();
        assert_eq!(age.uncapped, free);
        let advised = age.age_hours.unwrap();
        if age.verdict == CapVerdict::CapsMet {
            assert_eq!(advised, free.age_hours);
        } else {
            // The cost falls up to its least, so the latest age that meets the cap is the cheapest.
            assert_eq!(advised, age.bands.last().unwrap().to_hours);
        }
    }
}

#[test]
fn a_capped_world_needs_no_burst_among_its_costs_to_be_judged_by_records() {
    let causes =
        vec![CauseLife { endings: vec![(Ending::Dim, 1.0)], life: Box::new(weibull(3.0, 2000.0)) as Box<dyn Life> }];
    let w = World { causes, costs: Costs::new(950.0, [(Ending::Dim, 5200.0)]).unwrap() };
    let lines = both_lines(&tally(100_000, 1500.0, &[]), 1.0);
    assert_eq!(ask(&w, &caps(Some(0.1), None), &lines, &limit(1500.0)).unwrap().verdict, CapVerdict::CapsMet);
}

/// A hundred lamps to 1,300 h and a few bursts: draws made by weights hardly move a rate that rests on one burst.
#[test]
fn draws_relax_no_cap_that_the_count_of_bursts_holds() {
    let mut advised = Vec::new();
    for bursts in [1_u32, 2, 3, 5, 8] {
        let low: Vec<f64> = (0..200_u32)
            .map(|i| {
                if i < bursts {
                    300.0 + 100.0 * f64::from(i)
                } else if i < 48 {
                    600.0 + 15.0 * f64::from(i)
                } else {
                    1320.0
                }
            })
            .collect();
        let high: Vec<f64> = low.iter().enumerate().map(|(i, a)| if i < 48 { *a } else { f64::INFINITY }).collect();
        let ending = (0..200_u32)
            .map(|i| {
                if i < bursts {
                    Ending::Burst
                } else if i < 48 {
                    Ending::Dim
                } else {
                    Ending::Planned
                }
            })
            .collect();
        let rows = Rows { low, high, ending: Some(ending), ..Rows::default() };
        let (tally, _) = Tally::from_rows(&rows).unwrap();
        let costs = Costs::new(1000.0, [(Ending::Burst, 5000.0), (Ending::Dim, 1500.0)]).unwrap();
        let fits = fit_causes(&tally, family("weibull").unwrap(), &CauseOptions::default(), &Run::new()).unwrap();
        let draws = fits.draws(&tally, costs, 200, 1, "", &Run::new()).unwrap();
        assert_eq!(draws.seen(Ending::Burst), Some(u64::from(bursts)));
        let line = CapLine { unknown_counted: false, source: RiskSource::Draws(&draws) };
        let found = capped_age(
            &draws.best().unwrap(),
            &caps(Some(0.02), None),
            &[line],
            &limit(1320.0),
            &AgeOptions::default(),
            &Run::new(),
        );
        let found = found.unwrap();
        let risk = found.lines[0].uncapped;
        // The estimate, raised as the bound of the count raises the count.
        let world = draws.best().unwrap();
        let share = world.causes.iter().map(|c| c.share_of(Ending::Burst)).collect::<Vec<_>>();
        let upto = relamp::policy::WorldCurve::new(&world).unwrap().up_to(risk.age_hours).unwrap();
        let estimate: f64 = upto.incidence.iter().zip(&share).map(|(f, s)| f * s).sum();
        let most = count_upper(u64::from(bursts), 0.95).unwrap() / f64::from(bursts);
        let floor = -(most * (-estimate).ln_1p()).exp_m1();
        assert!(risk.before_age >= floor * (1.0 - 1e-12), "{bursts}: {risk:?} {floor}");
        advised.push(found.age_hours);
    }
    // One burst in 200 lamps is no proof of a share below 2 %.
    assert!(advised[0].is_none_or(|a| a < 1320.0), "{advised:?}");
}

#[test]
fn a_cap_by_the_records_names_the_shape_that_is_stated() {
    let tally = tally(200, 1500.0, &[]);
    let told = |shape: f64| ask(&dims(), &caps(Some(0.005), None), &both_lines(&tally, shape), &limit(2000.0)).unwrap();
    let (one, two) = (told(1.0), told(2.0));
    let said = "upper 95 % limits of burst, unknown endings counted, at the stated shape of 2,";
    assert!(two.sentence.contains(said), "{}", two.sentence);
    assert!(one.sentence.contains("at the stated shape of 1,") && one.age_hours < two.age_hours, "{}", one.sentence);
}
