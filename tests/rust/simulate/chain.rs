//! Two screens of one site with lives of whole days, followed exactly as a chain of the two ages: the judge of rules that
//! tie screens together.

use super::agreement::{Score, apart, case};
use super::*;
use crate::worlds::close;

/// Survival of the stored case: exp(-(k / 8)^3) past day k, and no lamp past day 16. 1 h a day, so hours are days.
const MOST: usize = 16;

fn survival(k: usize) -> f64 {
    if k >= MOST { 0.0 } else { (-(k as f64 / 8.0).powi(3)).exp() }
}

#[derive(Debug)]
struct Days;

impl Life for Days {
    fn ln_density(&self, _: f64) -> f64 {
        f64::NEG_INFINITY
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        survival(age as usize).ln()
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        (1.0 - survival(age as usize)).ln()
    }
    fn quantile(&self, p: f64) -> relamp::Result<f64> {
        Ok((1..=MOST).find(|k| 1.0 - survival(*k) >= p).unwrap_or(MOST) as f64)
    }
    fn mean_to(&self, age: f64) -> relamp::Result<f64> {
        Ok((0..age as usize).map(survival).sum())
    }
}

/// A rule in the words of the chain.
#[derive(Clone, Copy)]
struct Ways {
    own: usize,
    visit_from: Option<usize>,
    join: bool,
    site: bool,
    /// First day and distance of visits that happen anyway, and of blocks with the age from which they change.
    visits: Option<(usize, usize)>,
    blocks: Option<(usize, usize, usize)>,
}

/// Mean cost, planned changes, failures and visits for lamps over some days from two new lamps.
#[derive(Clone, Copy, Debug, Default)]
struct Means {
    cost: f64,
    planned: f64,
    failures: f64,
    visits: f64,
}

const PLANNED: f64 = 1.0;
const FAILURE: f64 = 4.0;

fn falls(on: Option<(usize, usize)>, day: usize) -> bool {
    on.is_some_and(|(first, every)| day >= first && (day - first).is_multiple_of(every))
}

fn exact(ways: Ways, visit_cost: f64, days: usize) -> Means {
    let mut chances = BTreeMap::from([([0_usize, 0], 1.0)]);
    let mut sum = Means::default();
    for day in 1..=days {
        let mut next: BTreeMap<[usize; 2], f64> = BTreeMap::new();
        let anyway = falls(ways.visits, day);
        let block = ways.blocks.filter(|b| falls(Some((b.0, b.1)), day)).map(|b| b.2);
        for (ages, chance) in &chances {
            for outcome in 0..4_u32 {
                let fails = [outcome & 1 == 1, outcome & 2 == 2];
                let mut p = *chance;
                for i in 0..2 {
                    let stays = survival(ages[i] + 1) / survival(ages[i]);
                    p *= if fails[i] { 1.0 - stays } else { stays };
                }
                if p == 0.0 {
                    continue;
                }
                let aged = [ages[0] + 1, ages[1] + 1];
                let by_plan =
                    |i: usize| !fails[i] && (aged[i] >= ways.own || block.is_some_and(|from| aged[i] >= from));
                let mut planned = [by_plan(0), by_plan(1)];
                let trip = fails[0] || fails[1] || planned[0] || planned[1];
                let with_site = ways.site && (planned[0] || planned[1]);
                for i in 0..2 {
                    let at_visit = ways.visit_from.is_some_and(|from| aged[i] >= from) && (anyway || ways.join && trip);
                    planned[i] |= !fails[i] && (with_site || at_visit);
                }
                let count = |flags: [bool; 2]| flags.iter().filter(|f| **f).count() as f64;
                let visits = f64::from(u8::from(trip && !anyway));
                sum.planned += p * count(planned);
                sum.failures += p * count(fails);
                sum.visits += p * visits;
                sum.cost += p * (PLANNED * count(planned) + FAILURE * count(fails) + visit_cost * visits);
                let kept = |i: usize| if planned[i] || fails[i] { 0 } else { aged[i] };
                *next.entry([kept(0), kept(1)]).or_insert(0.0) += p;
            }
        }
        chances = next;
    }
    sum
}

fn at_age(own: usize) -> Ways {
    Ways { own, visit_from: None, join: false, site: false, visits: None, blocks: None }
}

/// Mean cost a day in the long run.
fn long_run(ways: Ways, visit_cost: f64) -> f64 {
    (exact(ways, visit_cost, 3000).cost - exact(ways, visit_cost, 2000).cost) / 1000.0
}

#[test]
fn the_chain_meets_the_stored_optimum_of_two_units() {
    let stored = case("two_units_shared_visit");
    let joint = |visit: &str| stored["outputs"][visit]["avg_cost_joint"].as_f64().unwrap();
    // Without a cost of the visit each screen keeps to its own best age of 5 days.
    close(long_run(at_age(5), 0.0), joint("0"), 1e-8, 0.0);
    // With one, the stored optimum looks at both ages at once; two thresholds come near and never below it.
    for (visit, own, from) in [("1", 5, 3), ("3", 7, 2)] {
        let cost = visit.parse().unwrap();
        let two = long_run(Ways { visit_from: Some(from), join: true, ..at_age(own) }, cost);
        let apart = stored["outputs"][visit]["avg_cost_separate"].as_f64().unwrap();
        let best = joint(visit);
        assert!(two >= best * (1.0 - 1e-9) && two < best * 1.002 && two < apart, "{visit}: {two} {best} {apart}");
    }
}

/// The rules played against the chain: 100,000 screens each.
pub fn scores(list: &mut Vec<Score>) {
    let never = Visits::Never;
    let rounds = Visits::Every { days: 3.0, first_day: Some(2.0) };
    let or_visit =
        |age_hours, visit_age_hours, join_changes| Rule::AtAgeOrVisit { age_hours, visit_age_hours, join_changes };
    let block = Rule::OnCalendar { every_days: 6.0, first_day: 4.0, from_age_hours: 3.0 };
    for (name, rule, visits, ways, visit_cost) in [
        ("at 5 days", Rule::AtAge { age_hours: 5.0 }, never, at_age(5), 0.0),
        (
            "at 5, with others from 3",
            or_visit(5.0, 3.0, true),
            never,
            Ways { visit_from: Some(3), join: true, ..at_age(5) },
            1.0,
        ),
        ("site at 6", Rule::SiteTogether { age_hours: 6.0 }, never, Ways { site: true, ..at_age(6) }, 3.0),
        (
            "at 7, rounds from 4",
            or_visit(7.0, 4.0, false),
            rounds,
            Ways { visit_from: Some(4), visits: Some((2, 3)), ..at_age(7) },
            1.0,
        ),
        (
            "at 8, rounds and others from 4",
            or_visit(8.0, 4.0, true),
            rounds,
            Ways { visit_from: Some(4), join: true, visits: Some((2, 3)), ..at_age(8) },
            1.0,
        ),
        ("blocks of 6 from 3, limit 9", block, never, Ways { blocks: Some((4, 6, 3)), ..at_age(9) }, 2.0),
    ] {
        let w = world(Days, PLANNED, FAILURE);
        let (sockets, pairs) = (vec![socket(0.0, 7.0); 100_000], 50_000.0);
        let sites: Vec<_> = (0..sockets.len()).map(|i| (i / 2).to_string()).collect();
        let limit = limit(9.0);
        let assumptions =
            Assumptions { sites: &sites, visits, visit_cost, ..Assumptions::new(&sockets, &w, rule, &limit) };
        let played = play(&assumptions, apart(list, options(40.0, 1, 1)));
        let means = exact(ways, visit_cost, 40);
        let whole = &played.whole;
        for (what, figure, mean) in [
            ("cost", &whole.cost, means.cost),
            ("planned", &whole.planned, means.planned),
            ("failures", &whole.failures, means.failures),
            ("visits", &whole.visits_for_lamps, means.visits),
        ] {
            list.push(Score::of(format!("two screens, {name}: {what}"), figure, pairs * mean));
        }
    }
}
