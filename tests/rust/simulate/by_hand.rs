//! Small fleets with lives of fixed hours, played by hand: 10 h a day, so that day and age are read off each other.

use relamp::simulate::PlannedChange;
use relamp::terms::{Warranty, WarrantyStep};

use super::*;
use crate::worlds::{Steps, close};

fn means(played: &PlayedFleet, pick: fn(&relamp::simulate::PlayedTally) -> &Simulated) -> Vec<f64> {
    played.periods.iter().map(|p| pick(p).mean).collect()
}

fn kind(played: &PlayedFleet, kind: PlannedChange) -> f64 {
    played.whole.planned_by_kind.get(&kind).map_or(0.0, |f| f.mean)
}

#[test]
fn run_to_failure() {
    // A lamp of 100 h that lives 300 h fails on day 20, then every 30 days: 20, 50, 80, 110.
    let (w, limit, sockets) = (world(Exactly(300.0), 900.0, 5000.0), limit(1000.0), [socket(100.0, 70.0)]);
    let mut assumptions = Assumptions::new(&sockets, &w, Rule::AtFailure, &limit);
    assumptions.dark_minutes = DarkMinutes { planned: 5.0, by_ending: BTreeMap::from([(Ending::Dim, 35.0)]) };
    assumptions.visit_cost = 70.0;
    let played = play(&assumptions, options(40.0, 3, 2));
    assert_eq!(means(&played, |p| &p.changes), [1.0, 2.0, 1.0]);
    assert_eq!(means(&played, |p| &p.failures_of_todays_lamps), [1.0, 0.0, 0.0]);
    assert_eq!(means(&played, |p| &p.cost), [5070.0, 10_140.0, 5070.0]);
    assert_eq!(means(&played, |p| &p.dark_minutes), [35.0, 70.0, 35.0]);
    assert_eq!(means(&played, |p| &p.visits_for_lamps), [1.0, 2.0, 1.0]);
    assert_eq!(means(&played, |p| &p.burning_hours), [400.0, 400.0, 400.0]);
    assert_eq!(played.whole.cost, Simulated { mean: 20_280.0, sd: Some(0.0), standard_error: Some(0.0) });
    close(played.cost_per_hour.unwrap().mean, 20_280.0 / 1200.0, 1e-15, 0.0);
    let dim = &played.ended[0];
    assert_eq!((played.ended.len(), dim.ending, dim.planned), (1, Ending::Dim, None));
    assert_eq!((dim.mean_age_hours, dim.oldest_hours), (Some(300.0), Some(300.0)));
    assert_eq!((dim.mean_age_standard_error, dim.by_age[6]), (Some(0.0), 4.0));
    assert_eq!(played.needed[1].quantile(0.5).unwrap(), 2);
    assert_eq!(played.needed_by_end[2].first(), 4);
    // One screen, played once, says nothing of its spread.
    let once = play(&assumptions, options(40.0, 3, 1));
    assert_eq!(once.whole.cost, Simulated { mean: 20_280.0, sd: None, standard_error: None });
}

#[test]
fn a_warranty_pays_for_each_failure_at_its_age() {
    // Failures at 300 h on days 20, 50, 80, 110; half of 800 comes back at half of 600 h.
    let warranty = Warranty::pro_rata(800.0, 600.0, [Ending::Dim]).unwrap();
    let plain = world(Exactly(300.0), 900.0, 5000.0);
    let w = World { costs: plain.costs.clone().with_warranty(warranty).unwrap(), causes: plain.causes };
    let (limit, sockets) = (limit(1000.0), [socket(100.0, 70.0)]);
    let played = play(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), options(40.0, 3, 2));
    assert_eq!(means(&played, |p| &p.cost), [4600.0, 9200.0, 4600.0]);
    // A planned change brings nothing back, nor does a cause that is not covered.
    let rule = Rule::AtAge { age_hours: 200.0 };
    let planned = play(&Assumptions::new(&sockets, &w, rule, &limit), options(40.0, 1, 2));
    assert_eq!(planned.whole.cost.mean, 900.0 * planned.whole.changes.mean);
    let other = Warranty::pro_rata(800.0, 600.0, [Ending::Burst]).unwrap();
    let plain = world(Exactly(300.0), 900.0, 5000.0);
    let w = World { costs: plain.costs.clone().with_warranty(other).unwrap(), causes: plain.causes };
    let played = play(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), options(40.0, 3, 2));
    assert_eq!(means(&played, |p| &p.cost), [5000.0, 10_000.0, 5000.0]);
}

/// The cost to a horizon against the plays, with a warranty that steps.
#[test]
fn the_cost_to_a_horizon_under_a_warranty_is_the_mean_of_the_plays() {
    let steps = [(300.0, 1.0), (600.0, 0.5)].map(|(below_hours, share)| WarrantyStep { below_hours, share });
    let warranty = Warranty::stepped(3.0, steps, [Ending::Burst]).unwrap();
    let plain = series(1.0, &[(Ending::Burst, 3.0, 1000.0, 5.0)]);
    let w = World { costs: plain.costs.clone().with_warranty(warranty).unwrap(), causes: plain.causes };
    let (limit, sockets) = (limit(1500.0), vec![socket(0.0, 70.0); 2000]);
    let rule = Rule::AtAge { age_hours: 700.0 };
    let played = play(&Assumptions::new(&sockets, &w, rule, &limit), options(30.4375, 12, 60));
    let hours = 10.0 * 30.4375 * 12.0;
    let expected = relamp::policy::horizon_costs(&w, hours, 0.0, &[700.0], &limit).unwrap()[0].cost;
    let z = (played.whole.cost.mean / 2000.0 - expected) / (played.whole.cost.standard_error.unwrap() / 2000.0);
    assert!(z.abs() < 4.5, "{z}");
}

#[test]
fn no_rule_passes_the_limit() {
    // Lives of 300 h, a limit of 250 h: 100 h old today, so the limit comes on day 15, 40, 65 under every rule.
    let (w, limit, sockets) = (world(Exactly(300.0), 900.0, 5000.0), limit(250.0), [socket(100.0, 70.0)]);
    let late = 4000.0;
    for (rule, came) in [
        (Rule::AtFailure, PlannedChange::AtLimit),
        (Rule::AtAge { age_hours: late }, PlannedChange::AtAge),
        (Rule::AtAgeOrVisit { age_hours: late, visit_age_hours: 3000.0, join_changes: true }, PlannedChange::AtAge),
        (Rule::SiteTogether { age_hours: late }, PlannedChange::AtAge),
        (Rule::OnCalendar { every_days: 365.0, first_day: 300.0, from_age_hours: 0.0 }, PlannedChange::AtLimit),
    ] {
        let played = play(&Assumptions::new(&sockets, &w, rule.clone(), &limit), options(20.0, 4, 2));
        assert_eq!(means(&played, |p| &p.planned), [1.0, 1.0, 0.0, 1.0], "{rule:?}");
        assert_eq!((kind(&played, came), played.whole.failures.mean), (3.0, 0.0), "{rule:?}");
        assert_eq!(played.ended[0].oldest_hours, Some(250.0));
    }
    // Held to the limit, the age may meet the life: at 300 h the lamp failed.
    let played = play(
        &Assumptions::new(&sockets, &w, Rule::AtAge { age_hours: late }, &super::limit(300.0)),
        options(20.0, 2, 2),
    );
    assert_eq!((played.whole.failures.mean, played.rule), (1.0, Rule::AtAge { age_hours: 300.0 }));
}

#[test]
fn two_thresholds_and_a_round_every_ten_days() {
    // Rounds on days 5, 15, 25, ...; from 120 h at a round, else at 200 h. Day 15: 150 h, changed; day 25: 100 h, stays;
    // day 35: 200 h, its age, met by the round; day 45 stays; day 55 again its age; the screen beside it begins at 60 h:
    // day 5: 110 h, stays; day 14: 200 h, its age, between rounds; day 25: 110 h; day 34: 200 h; day 45: 110 h; day 54.
    let (w, limit) = (world(Exactly(1e6), 900.0, 5000.0), limit(1000.0));
    let sockets = [socket(0.0, 70.0), socket(60.0, 70.0)];
    let sites = vec!["invented".to_owned(); 2];
    let rule = Rule::AtAgeOrVisit { age_hours: 200.0, visit_age_hours: 120.0, join_changes: false };
    let assumptions = Assumptions {
        sites: &sites,
        visits: Visits::Every { days: 10.0, first_day: Some(5.0) },
        visit_cost: 10.0,
        ..Assumptions::new(&sockets, &w, rule, &limit)
    };
    let played = play(&assumptions, options(60.0, 1, 2));
    assert_eq!((kind(&played, PlannedChange::AtVisit), kind(&played, PlannedChange::AtAge)), (1.0, 5.0));
    assert_eq!((played.whole.visits_anyway.mean, played.whole.visits_for_lamps.mean), (6.0, 3.0));
    assert_eq!(played.whole.cost.mean, 6.0 * 900.0 + 3.0 * 10.0);
    let at_visit = played.ended.iter().find(|e| e.planned == Some(PlannedChange::AtVisit)).unwrap();
    assert_eq!((at_visit.mean_age_hours, at_visit.by_age[3]), (Some(150.0), 1.0));
}

#[test]
fn a_visit_for_one_lamp_serves_the_other() {
    // Ages 0 and 120 h, changed at 250 h. Alone: 120 h on days 13, 38, 63, 88; 0 h on days 25, 50, 75, 100.
    let (w, limit) = (world(Exactly(300.0), 900.0, 5000.0), limit(1000.0));
    let sockets = [socket(0.0, 70.0), socket(120.0, 70.0)];
    let sites = vec!["invented".to_owned(); 2];
    let run = |rule| {
        let base = Assumptions::new(&sockets, &w, rule, &limit);
        play(&Assumptions { sites: &sites, visit_cost: 10.0, ..base }, options(100.0, 1, 2))
    };
    let alone = run(Rule::AtAge { age_hours: 250.0 });
    assert_eq!((alone.whole.changes.mean, alone.whole.visits_for_lamps.mean), (8.0, 8.0));
    // Joined from 100 h on: both on day 13, then together on days 38, 63, 88: one visit each.
    let joined = run(Rule::AtAgeOrVisit { age_hours: 250.0, visit_age_hours: 100.0, join_changes: true });
    assert_eq!((joined.whole.changes.mean, joined.whole.visits_for_lamps.mean), (8.0, 4.0));
    assert_eq!((kind(&joined, PlannedChange::AtVisit), kind(&joined, PlannedChange::AtAge)), (1.0, 7.0));
    // From 140 h on: on day 13 the other is 130 h and stays; on day 25 the first is 120 h: they never meet.
    let apart = run(Rule::AtAgeOrVisit { age_hours: 250.0, visit_age_hours: 140.0, join_changes: true });
    assert_eq!((apart.whole.changes.mean, apart.whole.visits_for_lamps.mean), (8.0, 8.0));
    // The whole site when one reaches the age.
    let site = run(Rule::SiteTogether { age_hours: 250.0 });
    assert_eq!((kind(&site, PlannedChange::WithSite), kind(&site, PlannedChange::AtAge)), (1.0, 7.0));
    assert_eq!(site.whole.visits_for_lamps.mean, 4.0);
    // A failure brings no lamp along under that rule: lives of 300 h, changed at 350 h, fail on days 18 and 30 and so on.
    let fails = run(Rule::SiteTogether { age_hours: 350.0 });
    assert_eq!((fails.whole.failures.mean, fails.whole.planned.mean), (6.0, 0.0));
    // But it does where changes of others are joined at any age: day 18 both, then every 30 days both fail: 48, 78.
    let all = run(Rule::AtAgeOrVisit { age_hours: 350.0, visit_age_hours: 0.0, join_changes: true });
    assert_eq!((all.whole.failures.mean, kind(&all, PlannedChange::AtVisit)), (5.0, 1.0));
    assert_eq!(all.whole.visits_for_lamps.mean, 3.0);
}

#[test]
fn blocks_on_the_calendar() {
    // Blocks on days 10, 30, 50, ...; from 150 h. Day 10: 100 h, stays; day 28: limit of 280 h, alone; day 30: 20 h, stays;
    // day 50: 220 h, changed; day 70: 200 h, changed; day 90 again.
    let (w, limit, sockets) = (world(Exactly(300.0), 900.0, 5000.0), limit(280.0), [socket(0.0, 70.0)]);
    let rule = Rule::OnCalendar { every_days: 20.0, first_day: 10.0, from_age_hours: 150.0 };
    let mut assumptions = Assumptions::new(&sockets, &w, rule, &limit);
    assumptions.visit_cost = 10.0;
    let played = play(&assumptions, options(30.0, 3, 2));
    assert_eq!(means(&played, |p| &p.changes), [1.0, 1.0, 2.0]);
    assert_eq!((kind(&played, PlannedChange::AtLimit), kind(&played, PlannedChange::OnCalendar)), (1.0, 3.0));
    // The block on day 10 changed nothing, so nobody came for lamps.
    assert_eq!(played.whole.visits_for_lamps.mean, 4.0);
    // Every lamp whatever its age; at the limit on the very day of the block, the block takes it.
    let rule = Rule::OnCalendar { every_days: 28.0, first_day: 28.0, from_age_hours: 0.0 };
    let played = play(&Assumptions::new(&sockets, &w, rule, &limit), options(7000.0, 1, 2));
    assert_eq!((kind(&played, PlannedChange::AtLimit), kind(&played, PlannedChange::OnCalendar)), (0.0, 250.0));
}

#[test]
fn lamps_that_are_due_and_screens_that_never_burn() {
    let (w, limit) = (world(Exactly(5000.0), 900.0, 5000.0), limit(1500.0));
    let sockets = [
        socket(1500.0, 70.0),
        socket(2100.0, 70.0),
        SocketToday { age_hours: None, hours_per_week: 70.0 },
        socket(10.0, 0.0),
        socket(1600.0, 0.0),
    ];
    for rule in [
        Rule::AtFailure,
        Rule::AtAge { age_hours: 1500.0 },
        Rule::OnCalendar { every_days: 700.0, first_day: 0.0, from_age_hours: 1400.0 },
    ] {
        let played = play(&Assumptions::new(&sockets, &w, rule, &limit), options(30.0, 2, 2));
        assert_eq!((played.due_now, kind(&played, PlannedChange::DueNow)), (4, 4.0));
        assert_eq!(means(&played, |p| &p.changes), [4.0, 0.0]);
        // The age of one of them is not known.
        let due = &played.ended[0];
        assert_eq!((due.lamps.mean, due.mean_age_hours, due.oldest_hours), (3.0, Some(5200.0 / 3.0), Some(2100.0)));
    }
    // An age that no lamp of this world reaches alive is due too.
    let played = play(
        &Assumptions::new(&[socket(5100.0, 70.0)], &w, Rule::AtFailure, &super::limit(9000.0)),
        options(30.0, 2, 2),
    );
    assert_eq!(played.due_now, 1);
}

#[test]
fn causes_that_end_lives_at_one_age_share_them_and_endings_come_by_their_shares() {
    let mut w = world(Steps(vec![100.0]), 900.0, 5000.0);
    let both = relamp::fit::CauseLife {
        endings: vec![(Ending::Burst, 3.0), (Ending::Seal, 1.0)],
        life: Box::new(Steps(vec![100.0])),
    };
    w.causes.push(both);
    w.costs =
        relamp::terms::Costs::new(900.0, [(Ending::Dim, 1.0), (Ending::Burst, 10.0), (Ending::Seal, 100.0)]).unwrap();
    let (limit, sockets) = (limit(1000.0), vec![socket(0.0, 70.0); 8000]);
    let played = play(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), options(10.0, 1, 1));
    for (ending, share) in [(Ending::Dim, 0.5), (Ending::Burst, 0.375), (Ending::Seal, 0.125)] {
        let found = played.whole.failures_by_ending[&ending];
        close(found.mean, 8000.0 * share, 0.0, 4.5 * (8000.0 * share * (1.0 - share)).sqrt());
    }
}

#[test]
fn relamping_bills_of_the_public_example() {
    // Utility energy-advisor page on spot and group relamping (seen; inputs from memory of a public lighting manual): a
    // lamp of 2.65, 6.00 of labour alone and 1.50 in a group; 525 lamps a year alone, 750 in a yearly group.
    let stored = super::agreement::case("group_relamping_public_example");
    let (lamp, year) = (2.65, 8766.0);
    let run = |sockets: usize, life: f64, rule: Rule| {
        let w = world(Exactly(life), lamp + 1.5, lamp + 6.0);
        let (sockets, limit) = (vec![socket(0.0, 168.0); sockets], no_limit());
        play(&Assumptions::new(&sockets, &w, rule, &limit), options(365.25, 1, 1)).whole.cost.mean
    };
    let spot = run(525, year, Rule::AtFailure);
    let group = run(750, 1e9, Rule::OnCalendar { every_days: 365.25, first_day: 365.25, from_age_hours: 0.0 });
    close(spot, stored["outputs"]["spot"].as_f64().unwrap(), 1e-12, 0.0);
    close(group, stored["outputs"]["group"].as_f64().unwrap(), 1e-12, 0.0);
    // As printed: 31 % saved.
    assert_eq!((100.0 * (1.0 - group / spot)).floor(), 31.0);
}
