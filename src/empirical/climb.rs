//! The climb to the highest likelihood of masses in stretches, in cumulative hazards after each stretch.
//!
//! In these the log-likelihood is concave, late entry included, so a point where no gradient points up is the top. Every
//! step costs one pass over the rows and one over the stretches.

use super::innermost::Ranges;

/// Where a climb ended.
#[derive(Clone, Debug)]
pub(super) struct Top {
    /// Mass of each stretch over what is left before it, 0 to 1.
    pub share: Vec<f64>,
    pub log_likelihood: f64,
    /// Largest derivative of the log-likelihood towards any stretch.
    pub gradient: f64,
    pub steps: u64,
}

/// A share of what is left below this is rounding: one lamp of 10^9 has more.
const NOTHING: f64 = 1e-10;
/// Steps after the top was reached, for it to hold with rounding left off too.
const LONGER: u64 = 40;
/// Halvings of one step before the other kind of step goes on alone.
const HALVINGS: usize = 12;

/// Cumulative hazard before a stretch; none is left after the last.
fn before(hazard: &[f64], stretch: usize) -> f64 {
    match stretch.checked_sub(1) {
        None => 0.0,
        Some(i) => hazard.get(i).copied().unwrap_or(f64::INFINITY),
    }
}

/// 1 - exp(-x).
fn failed(x: f64) -> f64 {
    -(-x).exp_m1()
}

fn log_likelihood(rows: &Ranges, hazard: &[f64]) -> f64 {
    let open = rows.stretches().saturating_sub(1);
    let each = (0..rows.first.len()).map(|i| {
        let reached = before(hazard, rows.first[i]);
        let passed = before(hazard, rows.entry[i]) - reached;
        if rows.last[i] >= open {
            return rows.count[i] * passed;
        }
        rows.count[i] * (passed + failed(before(hazard, rows.last[i] + 1) - reached).ln())
    });
    each.fold(0.0, |sum, x| sum + x)
}

/// The hazards that expected failures over expected lamps at risk give, and the largest gradient at the old ones.
///
/// A row adds its expected failures and lamps at risk to all stretches of its range at once: what begins and ends with
/// the range is written at its ends, and running sums carry it along.
fn expectation_step(rows: &Ranges, hazard: &[f64]) -> (Vec<f64>, f64) {
    let n = rows.stretches();
    let left: Vec<f64> = (0..=n).map(|k| (-before(hazard, k)).exp()).collect();
    let mass = |j: usize| left[j] * failed(before(hazard, j + 1) - before(hazard, j));
    let column = || vec![0.0; n + 1];
    let (mut at_risk, mut per_mass, mut passing, mut here, mut pull) =
        (column(), column(), column(), column(), column());
    for i in 0..rows.first.len() {
        let (first, last, entry, count) = (rows.first[i], rows.last[i], rows.entry[i], rows.count[i]);
        at_risk[entry] += count;
        at_risk[first] -= count;
        pull[entry] -= count / left[entry];
        if last + 1 >= n {
            pull[first] += count / left[first];
        } else if first == last {
            here[first] += count;
        } else {
            let weight = count / (left[first] * failed(before(hazard, last + 1) - before(hazard, first)));
            per_mass[first] += weight;
            per_mass[last + 1] -= weight;
            passing[first] += weight * left[last + 1];
            passing[last + 1] -= weight * left[last + 1];
        }
    }
    let mut sums = [0.0; 4];
    let (mut next, mut total, mut gradient) = (Vec::with_capacity(n), 0.0, f64::NEG_INFINITY);
    for j in 0..n {
        for (sum, column) in sums.iter_mut().zip([&at_risk, &per_mass, &passing, &pull]) {
            *sum += column[j];
        }
        let [seen, weight, past, pulled] = sums;
        let mass = mass(j);
        let alone = if here[j] > 0.0 { here[j] / mass } else { 0.0 };
        gradient = gradient.max(pulled + weight + alone);
        if j + 1 < n {
            let deaths = mass * weight + here[j];
            let lamps = seen + here[j] + weight * left[j] - past;
            if deaths > 0.0 {
                total -= (-(deaths / lamps).clamp(0.0, 1.0 - 1e-15)).ln_1p();
            }
            next.push(total);
        }
    }
    (next, gradient)
}

/// A step of Newton's method with the diagonal of the curvature, under the rule that hazards do not fall: the weighted
/// means that rise along the stretches. Halved until the likelihood rises; none where it does not.
fn rising_step(rows: &Ranges, hazard: &[f64], reached: f64) -> Option<Vec<f64>> {
    let n = hazard.len();
    let open = rows.stretches().saturating_sub(1);
    let (mut slope, mut bend) = (vec![0.0; n], vec![0.0; n]);
    for i in 0..rows.first.len() {
        let (first, last, entry, count) = (rows.first[i], rows.last[i], rows.entry[i], rows.count[i]);
        if let Some(k) = entry.checked_sub(1) {
            slope[k] += count;
        }
        if let Some(k) = first.checked_sub(1) {
            slope[k] -= count;
        }
        if last < open {
            let odds = 1.0 / (before(hazard, last + 1) - before(hazard, first)).exp_m1();
            slope[last] += count * odds;
            bend[last] += count * odds * (1.0 + odds);
            if let Some(k) = first.checked_sub(1) {
                slope[k] -= count * odds;
                bend[k] += count * odds * (1.0 + odds);
            }
        }
    }
    // Some ends are ends of entry only and have no curvature of their own.
    let least = 1e-3 * rows.count.iter().sum::<f64>() / n.max(1) as f64;
    let weights: Vec<f64> = bend.iter().map(|b| b.max(least)).collect();
    let aims: Vec<f64> = hazard.iter().zip(&slope).zip(&weights).map(|((h, s), w)| h + s / w).collect();
    if !aims.iter().all(|a| a.is_finite()) {
        return None;
    }
    let aims = rising_means(&aims, &weights);
    let mut share = 1.0;
    for _ in 0..HALVINGS {
        let next: Vec<f64> = hazard.iter().zip(&aims).map(|(h, a)| h + share * (a - h)).collect();
        if log_likelihood(rows, &next) >= reached {
            return Some(next);
        }
        share *= 0.5;
    }
    None
}

/// The rising numbers of at least 0 nearest to some, by weighted squares: neighbours in the wrong order are pooled.
fn rising_means(aims: &[f64], weights: &[f64]) -> Vec<f64> {
    let mut pools: Vec<(f64, f64, usize)> = Vec::with_capacity(aims.len());
    for (&aim, &weight) in aims.iter().zip(weights) {
        let mut pool = (aim, weight, 1);
        while let Some(before) = pools.pop_if(|before| before.0 >= pool.0) {
            let weight = before.1 + pool.1;
            pool = ((before.0 * before.1 + pool.0 * pool.1) / weight, weight, before.2 + pool.2);
        }
        pools.push(pool);
    }
    pools.into_iter().flat_map(|(mean, _, n)| std::iter::repeat_n(mean.max(0.0), n)).collect()
}

/// Climbs until no gradient exceeds `gradient`, at most `most` steps.
pub(super) fn climb(rows: &Ranges, gradient: f64, most: u64) -> Top {
    let n = rows.stretches();
    let mut hazard: Vec<f64> = (1..n).map(|k| -(-(k as f64) / n as f64).ln_1p()).collect();
    let (mut steps, mut goal, mut most) = (0, gradient, most);
    let mut whole = None;
    while steps < most {
        let (next, up) = expectation_step(rows, &hazard);
        if up <= goal {
            // Leaving off what is rounding can lift the gradient by more than was left to climb: then the climb goes on
            // for a while, and at last gives every share that is more than the rounding of 1.
            let top = top(rows, &hazard, NOTHING, steps);
            if top.gradient <= gradient {
                return top;
            }
            if whole.is_none() {
                most = most.min(steps + LONGER);
            }
            whole = Some(self::top(rows, &hazard, f64::EPSILON, steps));
            goal = 0.5 * up;
        }
        steps += 1;
        let reached = log_likelihood(rows, &next);
        hazard = rising_step(rows, &next, reached).unwrap_or(next);
    }
    whole.unwrap_or_else(|| top(rows, &hazard, NOTHING, steps))
}

/// The top as shares, those below `least` left off.
fn top(rows: &Ranges, hazard: &[f64], least: f64, steps: u64) -> Top {
    let n = rows.stretches();
    let share: Vec<f64> = (0..n)
        .map(|j| failed(before(hazard, j + 1) - before(hazard, j)))
        .map(|share| if share < least { 0.0 } else { share })
        .collect();
    let mut total = 0.0;
    let kept: Vec<f64> = share
        .iter()
        .take(n.saturating_sub(1))
        .map(|s| {
            total -= (-s).ln_1p();
            total
        })
        .collect();
    let (_, up) = expectation_step(rows, &kept);
    Top { share, log_likelihood: log_likelihood(rows, &kept), gradient: up, steps }
}
