//! No advice passes the oldest lamp at risk unless a reason lets it: horizon, changes of all lamps, visits.

use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::family::Weibull;
use relamp::policy::{
    AgeOptions, BlockVerdict, HorizonVerdict, Reach, Verdict, VisitTerms, VisitVerdict, best_visit_age, block_interval,
    horizon_age, planned_age,
};
use relamp::records::Ending;

use crate::worlds::{limit, series, world};

fn reasoned(oldest: f64) -> Reach {
    Reach { extrapolate_because: Some("an invented test ran longer".into()), ..Reach::to(oldest) }
}

#[test]
fn every_rule_stops_where_the_records_end() {
    // Invented: wear that shows late, records to 900 h, a limit of 5,000 h.
    let w = series(950.0, &[(Ending::Dim, 2.0, 6000.0, 1650.0)]);
    let (top, held) = (limit(5000.0), Reach::to(900.0));
    let options = AgeOptions { oldest_at_risk_hours: Some(900.0), ..AgeOptions::default() };
    let planned = planned_age(&w, &top, &options).unwrap();
    assert_eq!((planned.verdict, planned.age_hours), (Verdict::RecordsEnd, 900.0));

    let best = horizon_age(&w, 9000.0, 0.0, &top, &held).unwrap();
    assert_eq!((best.verdict, best.age_hours, best.ceiling_hours), (HorizonVerdict::RecordsEnd, 900.0, 900.0));
    assert!(best.sentence.contains("900 h") && best.sentence.ends_with("the records support no later age"));
    assert!(!best.past_records());
    let short = horizon_age(&w, 700.0, 0.0, &top, &held).unwrap();
    assert_eq!((short.verdict, short.age_hours), (HorizonVerdict::NoPlannedChange, 900.0));
    assert!(short.sentence.contains("the records support no age past 900 h"), "{}", short.sentence);
    let further = horizon_age(&w, 9000.0, 0.0, &top, &reasoned(900.0)).unwrap();
    assert!(further.age_hours > 900.0 && further.past_records());
    // What is past the records says so, with the reason.
    let why = |reason: &Reach| {
        format!(
            "no lamp at risk burned past 900 h, and the age lies past that because: {}",
            reason.extrapolate_because.clone().unwrap()
        )
    };
    let told = why(&reasoned(900.0));
    assert!(further.sentence.ends_with(&told), "{}", further.sentence);
    assert!(!best.sentence.contains("because:") && !planned.sentence.contains("because:"));
    let on = AgeOptions { extrapolate_because: reasoned(900.0).extrapolate_because, ..options.clone() };
    let on = planned_age(&w, &top, &on).unwrap();
    assert!(on.past_records && on.sentence.contains(&told), "{}", on.sentence);

    let blocks = block_interval(&w, &top, Some(700.0), &held).unwrap();
    let alone = format!("{:?}", blocks.sentence);
    assert!(blocks.ceiling_hours == 900.0 && alone.contains("at 900 h, past which the records support no age"));
    assert!(!alone.contains("5,000"), "{alone}");
    assert!(block_interval(&w, &top, Some(700.0), &reasoned(900.0)).unwrap().past_records());

    let terms = VisitTerms { mean_hours_between_visits: 300.0, visit_cost: 100.0, even: false };
    let visits = best_visit_age(&w, &terms, 5000.0, &top, &held).unwrap();
    assert_eq!((visits.cost.age_hours, visits.asked_age_hours, visits.ceiling_hours), (900.0, 5000.0, 900.0));
    assert!(visits.visit_age_hours <= 900.0 && !visits.past_records());
    assert!(
        visits.sentence.ends_with("900 h, past which the records support no age")
            == (visits.verdict == VisitVerdict::NoVisitPays)
    );
    let further = best_visit_age(&w, &terms, 5000.0, &top, &reasoned(900.0)).unwrap();
    assert!(further.cost.age_hours == 5000.0 && further.past_records());
    assert!(further.sentence.ends_with(&told), "{}", further.sentence);

    for bad in [0.0, f64::NAN, f64::INFINITY] {
        assert_eq!(horizon_age(&w, 9000.0, 0.0, &top, &Reach::to(bad)).unwrap_err().slug(), "policy.option_age");
    }
    let blank = Reach { extrapolate_because: Some(" ".into()), ..Reach::to(900.0) };
    assert_eq!(block_interval(&w, &top, None, &blank).unwrap_err().slug(), "policy.extrapolate_reason");
}

#[test]
fn no_rule_passes_the_limit_or_the_records_in_random_worlds() {
    let mut s = Stream::new(7, "test", "reach", 0);
    let (mut stopped, mut blocks_paid, mut visits_paid) = (0, 0, 0);
    for _ in 0..24 {
        let causes: Vec<_> = [Ending::Burst, Ending::Dim]
            .into_iter()
            .take(1 + (2.0 * s.uniform()) as usize)
            .map(|e| (e, 0.6 + 4.0 * s.uniform(), 500.0 + 4000.0 * s.uniform(), 500.0 + 9000.0 * s.uniform()))
            .collect();
        let w = series(200.0 + 1500.0 * s.uniform(), &causes);
        let top = 300.7 + 2500.0 * s.uniform();
        let reach = Reach::to(200.3 + 3000.0 * s.uniform());
        let ceiling = reach.ceiling(&limit(top)).unwrap();
        assert!(ceiling == top.min(reach.oldest_at_risk_hours.unwrap()));
        let first = if s.uniform() < 0.5 { 0.0 } else { 1500.0 * s.uniform() };
        let best = horizon_age(&w, 300.0 + 9000.0 * s.uniform(), first, &limit(top), &reach).unwrap();
        Checks::of("horizon", &best).unwrap();
        let all = [best.age_hours, best.optimum_hours, best.cost.age_hours];
        assert!(all.iter().chain(best.jumps.iter().map(|j| &j.age_hours)).all(|a| *a <= ceiling), "{best:?}");
        stopped += u32::from(best.verdict == HorizonVerdict::RecordsEnd);
        let blocks = block_interval(&w, &limit(top), None, &reach).unwrap();
        Checks::of("blocks", &blocks).unwrap();
        assert!(blocks.ceiling_hours == ceiling && !blocks.past_records());
        // Lamps that would reach the ceiling are changed alone there, so none burns longer.
        if let Some(advice) = &blocks.advice {
            let each = ((advice.every_hours / ceiling).ceil() - 1.0)
                * w.causes.iter().map(|c| c.life.reliability(ceiling)).product::<f64>();
            assert!(advice.every_hours <= ceiling || advice.alone >= each.min(1.0) * 0.99, "{advice:?} {each}");
        }
        blocks_paid += u32::from(blocks.verdict == BlockVerdict::BlocksPay);
        let terms = VisitTerms {
            mean_hours_between_visits: 50.0 + 900.0 * s.uniform(),
            visit_cost: 400.0 * s.uniform(),
            even: false,
        };
        let asked = top * (0.2 + 0.8 * s.uniform());
        let visits = best_visit_age(&w, &terms, asked, &limit(top), &reach).unwrap();
        Checks::of("visits", &visits).unwrap();
        assert!(
            visits.visit_age_hours <= ceiling && visits.optimum_hours <= ceiling && visits.cost.age_hours <= ceiling
        );
        assert_eq!(visits.cost.age_hours, asked.min(ceiling));
        visits_paid += u32::from(visits.verdict == VisitVerdict::VisitsPay);
    }
    assert!(stopped > 2 && blocks_paid > 2 && visits_paid > 2, "{stopped} {blocks_paid} {visits_paid}");
}

#[test]
fn what_an_answer_is_held_to_or_rests_on_stands_in_its_sentence() {
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 1000.0, 5000.0);
    let top = limit(2000.0);
    let rule = |hours: f64| AgeOptions { todays_rule_hours: Some(hours), ..AgeOptions::default() };
    let said = |options: &AgeOptions| planned_age(&w, &top, options).unwrap().sentence;
    assert!(said(&rule(3000.0)).ends_with("; today's rule of 3,000 h passes the limit and is compared as 2,000 h"));
    assert!(!said(&rule(2000.0)).contains("today's rule"));
    // A saving of half is not called flat where more is asked for.
    let asked = AgeOptions { least_saving_percent: 60.0, ..AgeOptions::default() };
    let sentence = said(&asked);
    assert!(
        !sentence.contains("flat") && sentence.contains("less than the 60 % that a change before 2,000 h is asked")
    );
    let further = block_interval(&w, &top, Some(700.0), &reasoned(900.0)).unwrap().sentence;
    assert!(further.contains("no lamp at risk burned past 900 h"), "{further}");
}
