//! The number of changes of one screen between two hours of its clock.

use super::ages::{Ages, Counted, LEAST, Mean, OnSteps, Weights, at};

/// A life as the tables ask it: ln R at an age in hours.
pub(super) type LnReliability<'a> = dyn Fn(f64) -> f64 + Sync + 'a;

/// Numbers of changes in a stretch of the clock: chances of 0, 1, 2, ... and the mean cost of failures.
#[derive(Clone, Debug)]
pub(super) struct Changes {
    /// All, planned, failures.
    pub(super) chances: [Vec<f64>; 3],
    pub(super) failure_cost: f64,
    /// Hours that the screen burns.
    pub(super) hours: f64,
}

impl Changes {
    /// None for certain.
    pub(super) fn none() -> Self {
        Self { chances: [vec![1.0], vec![1.0], vec![1.0]], failure_cost: 0.0, hours: 0.0 }
    }

    /// One planned change more.
    pub(super) fn and_one_planned(mut self) -> Self {
        for kind in [0, 1] {
            if let Some(chances) = self.chances.get_mut(kind) {
                chances.insert(0, 0.0);
            }
        }
        self
    }

    /// Adds another case with its chance to a mixture.
    pub(super) fn add_case(&mut self, chance: f64, case: &Self) {
        for (sum, more) in self.chances.iter_mut().zip(&case.chances) {
            if sum.len() < more.len() {
                sum.resize(more.len(), 0.0);
            }
            for (s, m) in sum.iter_mut().zip(more) {
                *s += chance * m;
            }
        }
        self.failure_cost += chance * case.failure_cost;
        self.hours += chance * case.hours;
    }

    /// A mixture without a case yet.
    pub(super) fn empty() -> Self {
        Self { chances: [Vec::new(), Vec::new(), Vec::new()], failure_cost: 0.0, hours: 0.0 }
    }
}

/// Means from today to a time of the clock.
#[derive(Clone, Copy, Debug)]
pub(super) struct MeansTo {
    time: f64,
    first_failed: f64,
    planned: f64,
    later_failed: f64,
    failure_cost: f64,
}

/// A lamp of an age below the planned one, placed on the tables. All lengths of its clock are in steps.
#[derive(Debug)]
pub(super) struct Lamp<'a> {
    ages: &'a Ages,
    age_hours: f64,
    ln_now: f64,
    /// The first age of the grid at or after its age, and how far off it is.
    cell: usize,
    early: f64,
    /// Chance to reach that age, and to fail before it.
    pass: f64,
    fail: f64,
    /// Chance of the lamp per chance of a new one, from that age on.
    scale: f64,
    /// Chance to reach the planned age, and where that stands on the clock.
    reach: f64,
    plan: f64,
}

impl<'a> Lamp<'a> {
    /// None where no lamp of the world reaches the age.
    pub(super) fn new(ages: &'a Ages, ln_reliability: &LnReliability<'_>, age_hours: f64) -> Option<Self> {
        let ln_now = ln_reliability(age_hours);
        let place = age_hours / ages.step;
        let cell = (place - 1e-9).ceil().max(0.0);
        let early = (cell - place).max(0.0);
        let cell = (cell as usize).min(ages.cells);
        let known = ages.reliability(cell);
        if ln_now == f64::NEG_INFINITY || known <= 0.0 {
            return None;
        }
        let now = ln_now.exp();
        let pass = if early > 0.0 { (known / now).min(1.0) } else { 1.0 };
        Some(Self {
            ages,
            age_hours,
            ln_now,
            cell,
            early,
            pass,
            fail: 1.0 - pass,
            scale: pass / known,
            reach: pass * ages.reach_plan(cell),
            plan: if ages.planned() { (ages.cells - cell) as f64 + early } else { f64::INFINITY },
        })
    }

    /// Chance that the lamp of today has failed by a time of the clock.
    fn failed_by(&self, time: f64, ln_reliability: &LnReliability<'_>) -> f64 {
        let burned = time.min(self.plan) * self.ages.step;
        -(ln_reliability(self.age_hours + burned) - self.ln_now).exp_m1()
    }

    fn planned_by(&self, time: f64) -> f64 {
        if time >= self.plan - 1e-9 { self.reach } else { 0.0 }
    }

    /// Mean later changes by a time of the clock.
    fn later_by(&self, mean: Mean, time: f64) -> f64 {
        let after_early = self.fail * self.ages.fresh(mean).value(time - 0.5 * self.early);
        let on_grid = time - self.early;
        if on_grid < -1e-9 {
            return after_early;
        }
        let n = (on_grid + 1e-9).floor().max(0.0);
        let row = self.ages.row(mean, self.cell);
        let low = at(row, n as usize);
        let high = row.get(n as usize + 1).copied().unwrap_or(low);
        let high = high - self.ages.later_jump(mean, self.cell, n as usize + 1);
        self.pass * (low + (on_grid - n).max(0.0) * (high - low)) + after_early
    }

    /// Mean cost of the first failure by a time of the clock, of the chance that it has failed: whole cells, and at the
    /// mean cost of its cell what the time cuts off.
    fn cost_by(&self, time: f64, failed: f64) -> f64 {
        let before = self.ages.cost(self.cell.saturating_sub(1));
        let on_grid = time.min(self.plan) - self.early;
        if on_grid <= 0.0 {
            return failed * before;
        }
        let cell = (self.cell + (on_grid + 1e-9).floor() as usize).min(self.ages.cells);
        let whole = self.ages.cost_to(cell) - self.ages.cost_to(self.cell);
        let rest = (failed - (1.0 - self.scale * self.ages.reliability(cell))).max(0.0);
        self.fail * before + self.scale * whole + rest * self.ages.cost(cell)
    }

    /// Means up to a time of the clock.
    pub(super) fn means_to(&self, time: f64, ln_reliability: &LnReliability<'_>) -> MeansTo {
        let first_failed = self.failed_by(time, ln_reliability);
        MeansTo {
            time,
            first_failed,
            planned: self.planned_by(time) + self.later_by(Mean::Planned, time),
            later_failed: self.later_by(Mean::Failures, time),
            failure_cost: self.cost_by(time, first_failed) + self.later_by(Mean::Cost, time),
        }
    }

    /// Changes from one time of the clock to another, the first excluded and the last included.
    pub(super) fn changes(&self, from: &MeansTo, to: &MeansTo) -> Changes {
        if to.time <= from.time {
            return Changes::none();
        }
        let hours = (to.time - from.time) * self.ages.step;
        let failure_cost = (to.failure_cost - from.failure_cost).max(0.0);
        if from.time <= 0.0 {
            return Changes { chances: self.since_today(to), failure_cost, hours };
        }
        let planned = (to.planned - from.planned).max(0.0);
        let failures = (to.first_failed - from.first_failed + to.later_failed - from.later_failed).max(0.0);
        let inside = Inside::new(self, from.time, to.time);
        let chances = Counted::EACH.map(|kind| {
            let mean = match kind {
                Counted::All => planned + failures,
                Counted::Planned => planned,
                Counted::Failures => failures,
            };
            from_moments(&inside.moments(kind, mean))
        });
        Changes { chances, failure_cost, hours }
    }

    /// Chances of 0, 1, 2, ... changes from today on, by the first change: all terms are positive, and the chance of none
    /// is that of the life itself.
    fn since_today(&self, to: &MeansTo) -> [Vec<f64>; 3] {
        let (to, failed) = (to.time, to.first_failed);
        let on_grid = (to.min(self.plan) - self.early).max(0.0);
        let whole = ((on_grid + 1e-9).floor() as usize).min(self.ages.cells - self.cell);
        let (mut near, mut far) = (vec![0.0; whole], vec![0.0; whole]);
        self.ages.add_failing(self.cell, self.scale, &mut near, &mut far);
        let in_whole = near.iter().chain(&far).sum::<f64>();
        let early = if to < self.early { failed } else { self.fail };
        let early_left = to - 0.5 * self.early.min(to);
        let over = (on_grid - whole as f64).max(0.0);
        let rest = if over > 1e-9 { (failed - early - in_whole).max(0.0) } else { 0.0 };
        let rest_left = to - self.early - whole as f64 - 0.5 * over;
        let masses = Weights::new(&near, far, 0, to - self.early);
        let planned = self.planned_by(to);
        Counted::EACH.map(|kind| {
            let reach = self.ages.reach.get(kind as usize).map_or(&[][..], Vec::as_slice);
            let (counts_planned, counts_failures) = (kind != Counted::Failures, kind != Counted::Planned);
            let mut chances = Vec::new();
            let mut above = 1.0;
            for n in 1.. {
                let after = |counted: bool| reach.get(if counted { n - 1 } else { n });
                let mut next = 0.0;
                if let Some(table) = after(counts_failures) {
                    next += if n == 1 && counts_failures {
                        failed
                    } else {
                        masses.times(table, self.ages.cells)
                            + early * table.value(early_left)
                            + rest * table.value(rest_left)
                    };
                }
                if let Some(table) = after(counts_planned).filter(|_| planned > 0.0) {
                    next += planned * table.value(to - self.plan);
                }
                let next = next.min(above);
                if next < LEAST {
                    break;
                }
                chances.push(above - next);
                above = next;
            }
            chances.push(above);
            chances
        })
    }
}

/// Where the changes of a lamp's screen fall within a stretch of the clock.
struct Inside<'a> {
    ages: &'a Ages,
    from: f64,
    to: f64,
    first: usize,
    /// Spread over cells of the grid of the lamp: all, planned, failures.
    spread: [Spread; 3],
    /// Planned changes at exact places.
    exact: Vec<(f64, f64)>,
}

/// Masses by cell: the two that the ends cut, and the whole ones between.
struct Spread {
    ends: (f64, f64),
    whole: Weights,
}

impl<'a> Inside<'a> {
    fn new(lamp: &Lamp<'a>, from: f64, to: f64) -> Self {
        let ages = lamp.ages;
        // From here on times run from the first age on the grid.
        let (from, to) = ((from - lamp.early).max(0.0), (to - lamp.early).max(0.0));
        let first = from.floor() as usize;
        let cells = (to.ceil() as usize).saturating_sub(first);
        let (mut near, mut far) = (vec![0.0; cells], vec![0.0; cells]);
        let (mut later, mut planned) = (near.clone(), near.clone());
        ages.add_failing(lamp.cell + first, lamp.scale, &mut near, &mut far);
        add_rise(ages.row(Mean::Failures, lamp.cell), first, lamp.pass, &mut later);
        add_rise(ages.row(Mean::Planned, lamp.cell), first, lamp.pass, &mut planned);
        if lamp.fail > 0.0 {
            add_rise(ages.fresh(Mean::Failures).above(), first, lamp.fail, &mut later);
        }
        let mut exact = Vec::new();
        if ages.planned() {
            let mut place = ages.cells - lamp.cell;
            let (mut mass, mut again) = (lamp.reach, false);
            while place as f64 <= to + 1.0 && mass > LEAST {
                let inside = place as f64 > from + 1e-9 && place as f64 <= to + 1e-9;
                // Later planned changes stand in the rise of the mean too, within the cell that ends there.
                let cell = place.checked_sub(first + 1).filter(|_| again);
                if let Some(sum) = cell.and_then(|c| planned.get_mut(c)) {
                    *sum -= mass;
                }
                if inside {
                    exact.push((place as f64, mass));
                }
                place += ages.cells;
                again = true;
                mass = lamp.pass * ages.later_jump(Mean::Planned, lamp.cell, place);
            }
        }
        // Later changes stand at the middle of their cell.
        let half = |masses: &[f64]| masses.iter().map(|m| 0.5 * m).collect::<Vec<_>>();
        let (later, planned) = (half(&later), half(&planned));
        let and = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a + b).collect::<Vec<_>>();
        let (near, far) = (and(&near, &later), and(&far, &later));
        let all = Spread::new(and(&near, &planned), and(&far, &planned), first, to);
        let spread = [all, Spread::new(planned.clone(), planned, first, to), Spread::new(near, far, first, to)];
        Self { ages, from, to, first, spread, exact }
    }

    /// Mean number of ways to choose 0, 1, 2, ... of the changes.
    fn moments(&self, kind: Counted, mean: f64) -> Vec<f64> {
        let tables = self.ages.moments.get(kind as usize).map_or(&[][..], Vec::as_slice);
        let mut moments = vec![1.0, mean];
        let Some(spread) = self.spread.get(kind as usize) else { return moments };
        // The last table is negligible over a whole period.
        for table in tables.iter().skip(1).take(tables.len().saturating_sub(2)) {
            let exact = |(place, mass): &(f64, f64)| mass * table.value(self.to - place);
            let exact: f64 = if kind == Counted::Failures { 0.0 } else { self.exact.iter().map(exact).sum() };
            moments.push(self.smooth(spread, table) + exact);
        }
        moments
    }

    /// Masses by cell times a table of the clock left.
    fn smooth(&self, spread: &Spread, table: &OnSteps) -> f64 {
        let cut = |cell: usize, mass: f64| {
            let start = cell as f64;
            let (from, to) = (self.from.max(start), self.to.min(start + 1.0));
            mass * (to - from).max(0.0) * table.value(self.to - 0.5 * (from + to))
        };
        let last = self.to.ceil() as usize;
        let (head, tail) = spread.ends;
        let tail = if last > self.first + 1 { cut(last - 1, tail) } else { 0.0 };
        cut(self.first, head) + tail + spread.whole.times(table, self.ages.cells)
    }
}

impl Spread {
    fn new(mut near: Vec<f64>, mut far: Vec<f64>, first: usize, to: f64) -> Self {
        let head = at(&near, 0) + at(&far, 0);
        let tail = if near.len() > 1 { near.pop().unwrap_or(0.0) + far.pop().unwrap_or(0.0) } else { 0.0 };
        let whole = |masses: &[f64]| masses.get(1..).unwrap_or(&[]).to_vec();
        Self { ends: (head, tail), whole: Weights::new(&whole(&near), whole(&far), first + 1, to) }
    }
}

/// Adds what a mean rises by in each cell from one on, times a factor.
fn add_rise(mean: &[f64], from: usize, factor: f64, out: &mut [f64]) {
    let values = mean.get(from..).unwrap_or(&[]);
    for (o, (a, b)) in out.iter_mut().zip(values.iter().zip(values.iter().skip(1))) {
        *o += factor * (b - a);
    }
}

/// Chances of 0, 1, 2, ... from the mean numbers of ways to choose that many.
///
/// # Formula
/// ```text
/// P(n) = sum over k >= n of (-1)^(k - n) C(k, n) S_k
/// ```
fn from_moments(moments: &[f64]) -> Vec<f64> {
    let mut chances = vec![0.0; moments.len()];
    for (n, chance) in chances.iter_mut().enumerate().skip(1) {
        let (mut ways, mut sign) = (1.0, 1.0);
        let mut terms = Vec::with_capacity(moments.len() - n);
        for (k, moment) in moments.iter().enumerate().skip(n) {
            if k > n {
                ways *= k as f64 / (k - n) as f64;
                sign = -sign;
            }
            terms.push(sign * ways * moment);
        }
        // Small terms first.
        let sum: f64 = terms.iter().rev().sum();
        *chance = sum.max(0.0);
    }
    let some: f64 = chances.iter().skip(1).rev().sum();
    if some > 1.0 {
        for chance in &mut chances {
            *chance /= some;
        }
    } else if let Some(none) = chances.first_mut() {
        *none = 1.0 - some;
    }
    chances
}
