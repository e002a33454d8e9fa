//! Visits at equal distances: from lamp to lamp, how long after its visit age the next visit comes.

use super::curve::{UpTo, WorldCurve};
use super::visit::{VisitCost, VisitTerms};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::least::least;
use crate::base::math::linalg::solve_any;
use crate::renewal::{Basis, gauss};

/// Nodes of a panel, and points of a rule on a stretch of age; from age 0 on, where the density may be infinite, more.
const NODES: usize = 9;
const POINTS: (usize, usize) = (8, 24);
/// Power of the age in the first stretch.
const FIRST: f64 = 8.0;
/// Share of a typical life that a panel spans at most, and below which a whole distance of visits is one stretch.
const WIDTH: f64 = 0.25;
const SHORT: f64 = 0.05;
/// Stretches towards a break of the function, each a quarter of the next.
const TOWARDS: i32 = 4;
/// How far inside of a panel its ends are asked, as a share of it; a wait that is as good as none, as a share of the distance.
const INSIDE: f64 = 1e-6;
const SAME: f64 = 1e-6;
/// Weight below which a break that planned changes carry on is not followed.
const FAINT: f64 = 1e-5;
/// Weight from which stretches are laid towards a break.
const PLAIN: f64 = 0.2;
/// Most breaks, most nodes, and most visits in one life.
const MOST_BREAKS: usize = 40;
const MOST_NODES: usize = 1600;
const MOST_VISITS: f64 = 20_000.0;
/// Visits in the later age up to which every one is a candidate of the search.
const EACH: f64 = 24.0;

/// A question about two ages and visits at equal distances.
pub(super) struct EvenVisits<'c, 'w> {
    pub(super) curve: &'c WorldCurve<'w>,
    pub(super) terms: VisitTerms,
    pub(super) age: f64,
}

/// One panel of waits, hours.
#[derive(Clone, Copy, Debug)]
struct Panel {
    from: f64,
    to: f64,
}

impl EvenVisits<'_, '_> {
    /// Long-run cost at a visit age.
    ///
    /// # Formula
    /// ```text
    /// wait u: hours from the visit age v of a lamp to the first visit then, 0 <= u < m;  its last age L = v + u, or T if that is
    /// less;  the lamp after one that ends at age x has the wait (u - x) mod m
    /// p = p K;   C = sum p c(u) / sum p M(L)
    /// ```
    /// `p` the long-run distribution of the waits, `K` the distribution of the next wait: by a failure at its age, by the
    /// change at the visit, which ends at one wait, or at T. Both are taken on polynomials by panels, cut where the
    /// function may break: at waits of 0 and of `T - v`, and at what planned changes make of them.
    pub(super) fn cost(&self, visit_age_hours: f64) -> Result<VisitCost> {
        let (every, last) = (self.terms.mean_hours_between_visits, self.age);
        // The visit at which a lamp is fitted is past for it, whatever the age from which visits are used.
        let visit_age = visit_age_hours.max(SAME * every);
        if last > MOST_VISITS * every {
            return Err(self.refused("visits come too often to be followed one by one", "more hours between visits"));
        }
        // Within rounding of a whole distance it is none.
        let slack = 1e-9 * every;
        let basis = Basis::new(1.0, NODES);
        let panels = self.panels(visit_age)?;
        let places = basis.places();
        let n = panels.len() * NODES;
        // At the two ends of a panel the function is meant from inside.
        let inside: Vec<f64> = panels
            .iter()
            .flat_map(|p| places.iter().map(|y| p.from + y.clamp(INSIDE, 1.0 - INSIDE) * (p.to - p.from)))
            .collect();
        let unused = self.unused(visit_age);
        let at_visit = |wait: f64| wait < unused;
        let row_at = |wait: f64| -> (usize, Vec<f64>) {
            let wait = wait.rem_euclid(every);
            let wait = if every - wait <= slack { 0.0 } else { wait };
            let panel = panels.partition_point(|p| p.to <= wait).min(panels.len() - 1);
            let share = panels.get(panel).map_or(0.0, |p| ((wait - p.from) / (p.to - p.from)).clamp(0.0, 1.0));
            (panel, basis.row(share))
        };
        let mut next = vec![0.0; n * n];
        let mut ends = Vec::with_capacity(n);
        let renewed = (-visit_age).rem_euclid(every);
        for (i, wait) in inside.iter().enumerate() {
            let end = if at_visit(*wait) { (visit_age + wait).min(last) } else { last };
            let upto = self.curve.up_to(end)?;
            let row = &mut next[i * n..(i + 1) * n];
            self.failures_to(row, *wait, end, &panels, &basis);
            // What the rule of points misses of the failures is shared out.
            let (found, failed): (f64, f64) = (row.iter().sum(), upto.incidence.iter().sum());
            if found > 0.0 {
                for x in row.iter_mut() {
                    *x *= failed / found;
                }
            }
            let to = if at_visit(*wait) { renewed } else { wait - last };
            let (panel, weights) = row_at(to);
            for (x, w) in row.iter_mut().skip(panel * NODES).zip(weights) {
                *x += w * upto.reliability;
            }
            ends.push((at_visit(*wait), upto));
        }
        let shares = stationary(&next, n).ok_or_else(|| {
            self.refused("the waits for visits have no long run that can be had", "other hours between visits")
        })?;
        Ok(self.told(visit_age_hours, &shares, &ends))
    }

    /// The wait from which on a lamp comes to the later age first. One that comes to it on the day of a visit, but for a millionth
    /// of the distance, is changed at that visit.
    fn unused(&self, visit_age: f64) -> f64 {
        self.age - visit_age + SAME * self.terms.mean_hours_between_visits
    }

    fn told(&self, visit_age: f64, shares: &[f64], ends: &[(bool, UpTo)]) -> VisitCost {
        let visit = self.terms.visit_cost;
        let (mut cost, mut hours, mut at_visit, mut at_age) = (0.0, 0.0, 0.0, 0.0);
        let mut failures = vec![0.0; self.curve.costs().len()];
        for (share, (visited, upto)) in shares.iter().zip(ends) {
            let planned = self.curve.planned_cost(upto.age_hours);
            let each = if *visited { planned } else { planned + visit };
            let failed: f64 = self.curve.costs().iter().zip(&upto.incidence).map(|(c, f)| (c + visit) * f).sum();
            cost += share * (each * upto.reliability + failed - upto.money_back.iter().sum::<f64>());
            hours += share * upto.exposure_hours;
            if *visited {
                at_visit += share * upto.reliability;
            } else {
                at_age += share * upto.reliability;
            }
            for (sum, f) in failures.iter_mut().zip(&upto.incidence) {
                *sum += share * f;
            }
        }
        // Shares next to nothing may fall below 0 by what the polynomials miss; the others then sum to as much more than 1.
        for share in failures.iter_mut().chain([&mut at_visit, &mut at_age]) {
            *share = share.max(0.0);
        }
        let whole = at_visit + at_age + failures.iter().sum::<f64>();
        for share in failures.iter_mut().chain([&mut at_visit, &mut at_age]) {
            *share /= whole;
        }
        VisitCost {
            visit_age_hours: visit_age,
            age_hours: self.age,
            cost_per_hour: cost / hours,
            at_visit,
            at_age,
            failures,
            mean_age_at_change_hours: hours.min(self.age),
        }
    }

    /// Adds the distribution of the next wait after a failure before an age.
    fn failures_to(&self, row: &mut [f64], wait: f64, end: f64, panels: &[Panel], basis: &Basis) {
        let every = self.terms.mean_hours_between_visits;
        // Ages at which the next wait stands on an edge of the panels, and where the lives bend.
        let mut cuts = vec![0.0, end];
        for panel in panels {
            let mut age = (wait - panel.from).rem_euclid(every);
            while age < end {
                cuts.push(age);
                age += every;
            }
        }
        cuts.extend(self.curve.kinks().iter().chain(self.curve.landmarks()).filter(|age| **age < end));
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|a, b| *a - *b <= 1e-12 * end);
        let (plain, fine) = (gauss(POINTS.0), gauss(POINTS.1));
        for (i, pair) in cuts.windows(2).enumerate() {
            let [from, to] = *pair else { continue };
            let middle = (wait - 0.5 * (from + to)).rem_euclid(every);
            let place = panels.partition_point(|p| p.to <= middle).min(panels.len().saturating_sub(1));
            let Some(panel) = panels.get(place) else { continue };
            let (rule, power) = if i == 0 { (&fine, FIRST) } else { (&plain, 1.0) };
            for (y, w) in rule {
                let age = from + (to - from) * y.powf(power);
                let density = self.curve.hazards(age).filter(|h| h.is_finite()).sum::<f64>()
                    * self.curve.ln_reliability(age).exp();
                if density == 0.0 {
                    continue;
                }
                let weight = w * (to - from) * power * y.powf(power - 1.0) * density;
                let later = wait - age;
                let later = later - every * ((later - middle) / every).round();
                let share = ((later - panel.from) / (panel.to - panel.from)).clamp(0.0, 1.0);
                for (x, r) in row.iter_mut().skip(place * NODES).zip(basis.row(share)) {
                    *x += weight * r;
                }
            }
        }
    }

    /// Panels of waits, cut where the chain may break.
    fn panels(&self, visit_age: f64) -> Result<Vec<Panel>> {
        let (every, last) = (self.terms.mean_hours_between_visits, self.age);
        let typical = self.curve.typical_age().min(last);
        let short = every <= SHORT * typical;
        let unused = self.unused(visit_age);
        let mut breaks = vec![0.0];
        let mut broken = vec![0.0];
        if unused < every {
            let reach = self.curve.ln_reliability(last).exp();
            let mut fronts = vec![(0.0, reach), (unused, reach)];
            breaks.push(unused);
            broken.push(unused);
            // The heaviest first: each is carried on from lamp to lamp, a little less of it each time.
            while let Some((wait, weight)) = fronts.pop() {
                let next: f64 = (wait + last).rem_euclid(every);
                if weight > FAINT && next > unused && breaks.len() < MOST_BREAKS {
                    breaks.push(next);
                    if weight > PLAIN && broken.len() < TOWARDS as usize {
                        broken.push(next);
                    }
                    fronts.insert(0, (next, weight * reach));
                }
            }
        }
        // Where the lives bend at the last age.
        let bends = self.curve.kinks().iter().chain(if short { &[][..] } else { self.curve.landmarks() });
        breaks.extend(bends.map(|age| age - visit_age).filter(|wait| *wait > 0.0 && *wait < every.min(unused)));
        breaks.push(every);
        breaks.sort_by(f64::total_cmp);
        breaks.dedup_by(|a, b| *a - *b <= 1e-9 * every);
        let mut panels = Vec::new();
        for pair in breaks.windows(2) {
            let [from, to] = *pair else { continue };
            let pieces = if short { 1 } else { ((to - from) / (WIDTH * typical)).ceil().max(1.0) as usize };
            let width = (to - from) / pieces as f64;
            for k in 0..pieces {
                let start = from + k as f64 * width;
                if k == 0 && !short && broken.contains(&from) {
                    let mut low = 0.0;
                    for step in (0..=TOWARDS).rev() {
                        let high = 0.25_f64.powi(step);
                        panels.push(Panel { from: start + low * width, to: start + high * width });
                        low = high;
                    }
                } else {
                    panels.push(Panel { from: start, to: start + width });
                }
            }
        }
        if panels.len() * NODES > MOST_NODES {
            return Err(self.refused("visits are too rare beside the life of a lamp", "fewer hours between visits"));
        }
        Ok(panels)
    }

    /// The visit age of least cost: the best of the ages that fall on a visit or half-way to one for a lamp that was fitted at
    /// one, with the stretch around it searched.
    pub(super) fn best(&self) -> Result<(f64, f64)> {
        let (every, last) = (self.terms.mean_hours_between_visits, self.age);
        let each = last / every <= EACH;
        let step = if each { 0.5 * every } else { every * (last / every / (2.0 * EACH)).ceil() };
        let cost = |age: f64| self.cost(age).map(|c| c.cost_per_hour);
        // From age 0 on, every visit is used.
        let mut points = vec![(0.0, cost(0.0)?)];
        let mut age = step;
        while age < last {
            points.push((age, cost(age)?));
            age += step;
        }
        points.push((last, cost(last)?));
        let place = (0..points.len()).min_by(|a, b| points[*a].1.total_cmp(&points[*b].1)).unwrap_or(0);
        let mut best = points[place];
        // A lamp fitted at a visit jumps from one visit to the next where the age passes one: each side by itself.
        let (low, high) = (points[place.saturating_sub(1)].0, points[(place + 1).min(points.len() - 1)].0);
        let mut edges = vec![low, best.0, high];
        let mut visit = (low / every).ceil() * every;
        while visit < high && edges.len() < 8 {
            edges.push(visit);
            visit += every;
        }
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        for pair in edges.windows(2) {
            let found = least(cost, pair[0], pair[1], 1e-4)?;
            if found.1 < best.1 {
                best = found;
            }
        }
        Ok(best)
    }

    fn refused(&self, what: &str, expected: &str) -> Error {
        let place = Place::input("visit rule").column("mean_hours_between_visits");
        let problem = Problem::new("policy.visits_apart", what).at(place);
        Error::new(Kind::Refused, problem.got(self.terms.mean_hours_between_visits).expected(expected))
    }
}

/// The distribution that a chain of rows keeps; none where it has none.
fn stationary(next: &[f64], n: usize) -> Option<Vec<f64>> {
    // The columns of I - K sum to nothing: one of them is put aside for the sum of all shares.
    let mut matrix = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..n {
            let own = if i == j { 1.0 } else { 0.0 };
            matrix[j * n + i] = own - next[i * n + j];
        }
    }
    let mut right = vec![0.0; n];
    // The heaviest column is the least worth keeping apart from the rest.
    let column = |j: usize| (0..n).map(|i| next[i * n + j]).sum::<f64>();
    let aside = (0..n).max_by(|a, b| column(*a).total_cmp(&column(*b)))?;
    matrix[aside * n..(aside + 1) * n].fill(1.0);
    right[aside] = 1.0;
    solve_any(&matrix, &right)
}
