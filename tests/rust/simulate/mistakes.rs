//! What is asked wrongly is refused by name.

use relamp::Kind;

use super::*;

fn refused(change: impl FnOnce(&mut Assumptions<'_>)) -> relamp::Error {
    let (w, limit, sockets) = (world(Exactly(300.0), 900.0, 5000.0), limit(1000.0), vec![socket(0.0, 70.0); 2]);
    let mut assumptions = Assumptions::new(&sockets, &w, Rule::AtFailure, &limit);
    change(&mut assumptions);
    play_fleet(&assumptions, &options(30.0, 2, 2), &Run::new()).unwrap_err()
}

#[test]
fn every_number_out_of_range_is_named() {
    let nan = f64::NAN;
    for bad in [0.0, -1.0, nan, f64::INFINITY] {
        let ages: [fn(f64) -> Rule; 3] = [
            |age_hours| Rule::AtAge { age_hours },
            |age_hours| Rule::SiteTogether { age_hours },
            |age_hours| Rule::AtAgeOrVisit { age_hours, visit_age_hours: 0.0, join_changes: true },
        ];
        for rule in ages {
            let error = refused(|a| a.rule = rule(bad));
            assert_eq!((error.kind(), error.slug()), (Kind::Input, "simulate.rule_age"));
            assert!(error.to_string().starts_with("rule, column age_hours") || error.problems().len() > 1, "{error}");
        }
        let error = refused(|a| a.visits = Visits::Every { days: bad, first_day: Some(bad) });
        assert_eq!(error.slug(), "simulate.days");
        assert_eq!(refused(|a| a.visits = Visits::Random { mean_days: bad }).slug(), "simulate.days");
        let rule = Rule::OnCalendar { every_days: bad, first_day: 0.0, from_age_hours: 0.0 };
        assert_eq!(refused(|a| a.rule = rule).slug(), "simulate.days");
    }
    for bad in [-1.0, nan, f64::INFINITY] {
        let late = Rule::AtAgeOrVisit { age_hours: 100.0, visit_age_hours: bad, join_changes: false };
        assert_eq!(refused(|a| a.rule = late).slug(), "simulate.rule_visit_age");
        let rule = Rule::OnCalendar { every_days: 20.0, first_day: 0.0, from_age_hours: bad };
        assert_eq!(refused(|a| a.rule = rule).slug(), "simulate.rule_from_age");
        let rule = Rule::OnCalendar { every_days: 20.0, first_day: bad, from_age_hours: 0.0 };
        assert_eq!(refused(|a| a.rule = rule).slug(), "simulate.days");
        assert_eq!(refused(|a| a.visit_cost = bad).slug(), "simulate.visit_cost");
        assert_eq!(refused(|a| a.dark_minutes.planned = bad).slug(), "simulate.dark_minutes");
    }
    let above = Rule::AtAgeOrVisit { age_hours: 100.0, visit_age_hours: 101.0, join_changes: false };
    let said = refused(|a| a.rule = above).to_string();
    assert!(said.contains("visit_age_hours") && said.contains("got 101, expected 0 to 100 h"), "{said}");
}

#[test]
fn screens_sites_and_minutes_must_fit_together() {
    assert_eq!(refused(|a| a.sockets = &[]).slug(), "simulate.no_sockets");
    let one: &[String] = vec!["a".to_owned()].leak();
    let error = refused(|a| a.sites = one);
    assert!(error.to_string().contains("got 1 for 2 screens"), "{error}");
    let blank: &[String] = vec!["a".to_owned(), " ".to_owned()].leak();
    let error = refused(|a| a.sites = blank);
    assert_eq!((error.slug(), error.problems()[0].place.row), ("simulate.site_blank", Some(2)));
    let minutes = DarkMinutes { planned: 0.0, by_ending: BTreeMap::from([(Ending::Burst, 30.0)]) };
    let error = refused(|a| a.dark_minutes = minutes);
    assert!(error.to_string().contains("dark_minutes, column dim"), "{error}");
    let wrong: &[SocketToday] = vec![socket(-3.0, 200.0)].leak();
    let error = refused(|a| a.sockets = wrong);
    assert_eq!((error.slug(), error.problems().len()), ("demand.socket_age", 2));
    let (w, limit, sockets) = (world(Exactly(300.0), 900.0, 5000.0), limit(1000.0), [socket(0.0, 70.0)]);
    let no_cause = World { causes: Vec::new(), costs: w.costs.clone() };
    let play = |w: &World, o: PlayOptions| {
        play_fleet(&Assumptions::new(&sockets, w, Rule::AtFailure, &limit), &o, &Run::new()).unwrap_err()
    };
    assert_eq!(play(&no_cause, options(30.0, 2, 2)).slug(), "policy.no_cause");
    assert_eq!(play(&w, options(30.0, 0, 2)).slug(), "demand.horizon");
    assert_eq!(play(&w, options(f64::NAN, 1, 2)).slug(), "demand.horizon");
    assert_eq!(play(&w, options(0.0, 1, 2)).slug(), "simulate.no_time");
    assert_eq!(play(&w, options(30.0, 2, 0)).slug(), "simulate.replicates");
    assert_eq!(play(&w, options(30.0, 2, usize::MAX)).slug(), "simulate.too_large");
    // Minutes taken for hours: a life of an hour and a half over twenty years.
    let short = world(Exactly(0.5), 900.0, 5000.0);
    let error = play(&short, options(3650.0, 1, 1));
    assert_eq!((error.kind(), error.slug()), (Kind::Refused, "simulate.too_many_changes"));
    let below = world(relamp::family::Normal { location: 1500.0, scale: 400.0 }, 1.0, 5.0);
    assert_eq!(play(&below, options(30.0, 2, 2)).slug(), "policy.below_zero");
}

#[test]
fn a_saved_form_changed_by_hand_is_refused() {
    use relamp::base::sound::Checks;
    let (w, limit, sockets) = (world(Exactly(300.0), 900.0, 5000.0), limit(1000.0), [socket(0.0, 70.0)]);
    let good = play(&Assumptions::new(&sockets, &w, Rule::AtAge { age_hours: 200.0 }, &limit), options(30.0, 2, 2));
    let refused = |change: fn(&mut PlayedFleet), field: &str| {
        let mut bad = good.clone();
        change(&mut bad);
        let said = Checks::of("played", &bad).unwrap_err().to_string();
        assert!(said.contains(field), "{said}");
    };
    refused(|p| p.rule = Rule::AtAge { age_hours: 1200.0 }, "rule.age_hours");
    refused(|p| p.rule = Rule::AtAge { age_hours: -1.0 }, "rule.age_hours");
    refused(|p| p.sites = 2, "column sites");
    refused(|p| p.replicates = 0, "column replicates");
    refused(|p| p.whole.cost.mean += 1.0, "column whole.cost");
    refused(|p| p.periods[1].changes.mean = 7.0, "column periods[1].changes");
    refused(|p| p.cost_per_hour = None, "column cost_per_hour");
    refused(|p| p.ended[0].mean_age_hours = Some(2000.0), "column ended[0].mean_age_hours");
    refused(|p| p.needed.truncate(1), "column needed");
    refused(|p| p.whole.planned.sd = Some(-1.0), "column whole.planned.sd");
}
