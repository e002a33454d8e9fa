//! Rules of ordering played event by event against their measures.

use std::collections::VecDeque;

use relamp::base::random::Stream;
use relamp::stock::{LeadDemand, LeadTime, Needs, StockRule, emergency_service, service};

/// What is played: a rule, needs, a lead time that is certain, days between reviews (0: watched).
struct Play {
    rule: StockRule,
    a_day: f64,
    ratio: f64,
    lead: f64,
    review: f64,
}

/// Sums over the days that count.
#[derive(Default)]
struct Seen {
    waiting: f64,
    on_hand: f64,
    ready: f64,
    none_waits: f64,
    needed: f64,
    met: f64,
    cycles: f64,
    safe: f64,
    orders: f64,
}

/// Lamps of one batch: logarithmic, so that the number over any time is negative binomial.
fn batch(ratio: f64, random: &mut Stream) -> i64 {
    if ratio == 1.0 {
        return 1;
    }
    let p = (ratio - 1.0) / ratio;
    let mut left = random.uniform();
    let mut chance = p / ratio.ln();
    for k in 1.. {
        if left < chance || k == 1000 {
            return k;
        }
        left -= chance;
        chance *= p * k as f64 / (k + 1) as f64;
    }
    1
}

/// One shelf over `days`, after as many days to settle.
fn play(p: &Play, days: f64, random: &mut Stream) -> Seen {
    let mut seen = Seen::default();
    let batches = if p.ratio == 1.0 { p.a_day } else { p.a_day * p.ratio.ln() / (p.ratio - 1.0) };
    let (mut net, mut on_order, mut now) = (4_i64, 0_i64, 0.0_f64);
    let mut coming: VecDeque<(f64, i64, bool)> = VecDeque::new();
    let mut next_need = random.exponential() / batches;
    let mut next_review = if p.review > 0.0 { p.review } else { f64::INFINITY };
    let settled = days;
    loop {
        let arrival = coming.front().map_or(f64::INFINITY, |c| c.0);
        let then = next_need.min(next_review).min(arrival).min(settled + days);
        let counted = (then - now.max(settled)).max(0.0);
        seen.waiting += counted * (-net).max(0) as f64;
        seen.on_hand += counted * net.max(0) as f64;
        seen.ready += if net > 0 { counted } else { 0.0 };
        seen.none_waits += if net >= 0 { counted } else { 0.0 };
        now = then;
        let counts = now >= settled;
        if now >= settled + days {
            return seen;
        }
        let mut look = false;
        if arrival <= now {
            let (_, lamps, watched) = coming.pop_front().unwrap();
            if counts && watched {
                // The moment before the next lamps come: has this order lasted?
                seen.cycles += 1.0;
                seen.safe += if net >= 0 { 1.0 } else { 0.0 };
            }
            net += lamps;
            on_order -= lamps;
        } else if next_review <= now {
            next_review += p.review;
            look = true;
        } else {
            let lamps = batch(p.ratio, random);
            if counts {
                seen.needed += lamps as f64;
                seen.met += net.clamp(0, lamps) as f64;
            }
            net -= lamps;
            next_need = now + random.exponential() / batches;
            look = p.review == 0.0;
        }
        if look {
            let order = p.rule.order(net.max(0) as u64, on_order as u64, (-net).max(0) as u64).cast_signed();
            if order > 0 || p.review > 0.0 {
                coming.push_back((now + p.lead, order, true));
                on_order += order;
                seen.orders += if counts && order > 0 { 1.0 } else { 0.0 };
            }
        }
    }
}

/// (mean - expected) / standard error over replicates; 0 where all are exactly what is expected.
fn z(values: &[f64], expected: f64) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0);
    if variance == 0.0 && mean == expected { 0.0 } else { (mean - expected) / (variance / n).sqrt() }
}

#[test]
fn a_shelf_played_out_gives_the_measures_of_its_rule() {
    let reorder = |base_stock, quantity| StockRule::Reorder { base_stock, quantity };
    let up_to = |order_point, order_up_to| StockRule::OrderUpTo { order_point, order_up_to };
    let plays = [
        Play { rule: reorder(4, 1), a_day: 0.2, ratio: 1.0, lead: 15.0, review: 0.0 },
        Play { rule: reorder(3, 4), a_day: 0.12, ratio: 1.0, lead: 20.0, review: 0.0 },
        Play { rule: reorder(0, 3), a_day: 0.1, ratio: 1.0, lead: 10.0, review: 0.0 },
        Play { rule: reorder(5, 2), a_day: 0.3, ratio: 2.0, lead: 9.0, review: 0.0 },
        Play { rule: reorder(5, 1), a_day: 0.2, ratio: 1.0, lead: 8.0, review: 7.0 },
        Play { rule: reorder(4, 3), a_day: 0.25, ratio: 1.0, lead: 6.5, review: 7.0 },
        Play { rule: up_to(3, 7), a_day: 0.25, ratio: 1.0, lead: 5.0, review: 7.0 },
        Play { rule: up_to(2, 9), a_day: 0.3, ratio: 3.0, lead: 4.0, review: 10.0 },
        Play { rule: reorder(6, 2), a_day: 0.3, ratio: 2.5, lead: 3.0, review: 14.0 },
    ];
    let (mut squares, mut checks) = (0.0, 0.0);
    for (i, p) in plays.iter().enumerate() {
        let needs = Needs::in_batches(p.a_day, p.ratio).unwrap();
        let demand = LeadDemand::new(&needs, &LeadTime::certain(p.lead).unwrap(), p.review).unwrap();
        let expected = service(&p.rule, &demand, None).unwrap();
        let days = 3000.0;
        let seen: Vec<Seen> =
            (0..300).map(|r| play(p, days, &mut Stream::new(8, "stock", &i.to_string(), r))).collect();
        let column = |f: fn(&Seen) -> f64| seen.iter().map(f).collect::<Vec<_>>();
        let mut pairs = vec![
            (column(|s| s.waiting / 3000.0), expected.mean_waiting),
            (column(|s| s.on_hand / 3000.0), expected.mean_on_hand),
            (column(|s| s.ready / 3000.0), expected.ready_rate),
            (column(|s| s.none_waits / 3000.0), expected.no_screen_waiting),
        ];
        let one_by_one = p.ratio == 1.0;
        if one_by_one || p.review > 0.0 {
            // Shares of a random number of lamps or cycles: judged by the difference that has mean 0.
            let fill = expected.fill_rate;
            pairs.push((seen.iter().map(|s| (s.met - fill * s.needed) / 3000.0).collect(), 0.0));
            let safe = expected.no_stock_out_per_cycle;
            pairs.push((seen.iter().map(|s| (s.safe - safe * s.cycles) / 3000.0).collect(), 0.0));
            pairs.push((column(|s| s.orders * 365.25 / 3000.0), expected.orders_a_year));
        }
        for (k, (values, value)) in pairs.iter().enumerate() {
            let z = z(values, *value);
            assert!(z.abs() < 4.5, "play {i}, measure {k}: z = {z}, expected {value}");
            // What is certain, such as a stock-out where nothing is held, says nothing of the spread.
            if z != 0.0 {
                squares += z * z;
                checks += 1.0;
            }
        }
    }
    let mean = squares / checks;
    assert!(checks > 50.0 && (0.5..1.6).contains(&mean), "mean of z^2 {mean} over {checks}");
}

/// Lead times drawn anew for each order, which may overtake each other: with transfers the share depends on their mean
/// alone, and so does the number waiting where each lamp is ordered by itself.
#[test]
fn overtaking_orders_leave_only_the_mean_lead_time() {
    let (a_day, options) = (0.2, [(5.0, 0.5), (25.0, 0.5)]);
    let lead = LeadTime::new(&options).unwrap();
    let mean = LeadTime::certain(lead.mean_days()).unwrap();
    let needs = Needs::by_chance(a_day).unwrap();
    let demand = LeadDemand::new(&needs, &mean, 0.0).unwrap();
    let mut squares = 0.0;
    for base in 1..=4_u64 {
        let transfers = emergency_service(base, &needs, &lead).unwrap();
        let waits = service(&StockRule::Reorder { base_stock: base, quantity: 1 }, &demand, None).unwrap();
        let (mut shares, mut waiting) = (Vec::new(), Vec::new());
        for replicate in 0..300 {
            let mut random = Stream::new(9, "stock", &base.to_string(), replicate);
            let (days, settled) = (4000.0, 200.0);
            // Days on which lamps come, for the shelf with transfers and for the one where screens wait.
            let (mut sent, mut ordered): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
            let (mut now, mut missed, mut area) = (0.0_f64, 0.0, 0.0);
            loop {
                let next = now + random.exponential() / a_day;
                // Between two needs the number on order only falls.
                let mut from = now.max(settled);
                ordered.sort_by(f64::total_cmp);
                let mut open = ordered.iter().filter(|t| **t > now).count();
                for t in ordered.iter().filter(|t| **t > now) {
                    let to = t.min(next).min(days).max(from);
                    area += (to - from) * open.saturating_sub(base as usize) as f64;
                    (from, open) = (to, open - 1);
                }
                now = next;
                if now > days {
                    break;
                }
                sent.retain(|t| *t > now);
                ordered.retain(|t| *t > now);
                let lead = if random.uniform() < 0.5 { 5.0 } else { 25.0 };
                ordered.push(now + lead);
                if (sent.len() as u64) < base {
                    sent.push(now + lead);
                } else if now > settled {
                    missed += 1.0;
                }
            }
            shares.push(missed / ((days - settled) * a_day));
            waiting.push(area / (days - settled));
        }
        for z in [z(&shares, transfers.emergency_share), z(&waiting, waits.mean_waiting)] {
            assert!(z.abs() < 4.5, "base stock {base}: z = {z}");
            squares += z * z;
        }
    }
    assert!((0.2..2.4).contains(&(squares / 8.0)), "{squares}");
}
