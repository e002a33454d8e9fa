//! The number of changes of one screen between two hours of its clock.

use super::ages::{Ages, Counted, LEAST, MOST_IN_PERIOD};
use super::blocks::{BLOCK_STEPS, Masses, Piece};
use super::later::Later;
use super::steps::ON_STEP;

/// Mean number of further changes below which rounding would move their chances more than the step does.
const WORTH_SCALING: f64 = 1e-9;

/// Most moments of a number of changes in one period, with that of none.
const MOST_MOMENTS: usize = MOST_IN_PERIOD + 2;

/// A life as the tables ask it: ln R at an age in hours.
pub(super) type LnReliability<'a> = dyn Fn(f64) -> f64 + Sync + 'a;

/// The life of the lamp that burns today, and of those that follow it.
#[derive(Clone, Copy)]
pub(super) struct Lives<'a> {
    pub(super) today: &'a LnReliability<'a>,
    pub(super) fresh: &'a LnReliability<'a>,
}

/// Numbers of changes in a stretch of the clock: chances of 0, 1, 2, ... and the mean cost of failures.
#[derive(Clone, Debug)]
pub(super) struct Changes {
    /// All, planned, failures.
    pub(super) chances: [Vec<f64>; 3],
    pub(super) failure_cost: f64,
    /// Hours that the screen burns.
    pub(super) hours: f64,
    /// Mean number of lamps that are changed at once, being past their planned age already.
    pub(super) due: f64,
}

impl Changes {
    /// None for certain.
    pub(super) fn none() -> Self {
        Self { chances: [vec![1.0], vec![1.0], vec![1.0]], failure_cost: 0.0, hours: 0.0, due: 0.0 }
    }

    /// One planned change more.
    pub(super) fn and_one_planned(mut self) -> Self {
        for kind in [0, 1] {
            if let Some(chances) = self.chances.get_mut(kind) {
                chances.insert(0, 0.0);
            }
        }
        self.due += 1.0;
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
        self.due += chance * case.due;
    }

    /// A mixture without a case yet.
    pub(super) fn empty() -> Self {
        Self { chances: [Vec::new(), Vec::new(), Vec::new()], failure_cost: 0.0, hours: 0.0, due: 0.0 }
    }
}

/// Means from today to a time of the clock.
#[derive(Clone, Copy, Debug)]
pub(super) struct MeansTo {
    time: f64,
    /// Chance that the lamp of today has failed.
    lamp_failed: f64,
    planned: f64,
    failures: f64,
    failure_cost: f64,
}

impl MeansTo {
    fn mean(&self, kind: Counted) -> f64 {
        match kind {
            Counted::All => self.planned + self.failures,
            Counted::Planned => self.planned,
            Counted::Failures => self.failures,
        }
    }
}

/// A lamp of an age below the planned one, placed on the tables. All lengths of its clock are in steps.
#[derive(Debug)]
pub(super) struct Lamp<'a> {
    ages: &'a Ages,
    age_hours: f64,
    /// Its age in steps, and how likely a new lamp reaches it.
    place: f64,
    ln_now: f64,
    now: f64,
    /// Cost of failures of a new lamp up to its age.
    cost_now: f64,
    /// The first age of the grid at or after its age, and how far off it is.
    cell: usize,
    early: f64,
    /// Chance to reach that age, and to fail before it.
    pass: f64,
    fail: f64,
    /// Chance to reach the planned age, where that stands on the clock, and the chance to reach it from new of a lamp of
    /// its life, and of one fitted later.
    reach: f64,
    plan: f64,
    to_plan: f64,
    again: f64,
}

/// The first failure of a screen up to a time of the clock: its chance, and its mean cost.
#[derive(Clone, Copy, Debug)]
struct First {
    failed: f64,
    cost: f64,
}

impl<'a> Lamp<'a> {
    /// None where no lamp of the world reaches the age.
    pub(super) fn new(ages: &'a Ages, lives: &Lives<'_>, age_hours: f64) -> Option<Self> {
        let ln_now = (lives.today)(age_hours);
        let place = age_hours / ages.step;
        let cell = (place - ON_STEP).ceil().max(0.0);
        let early = (cell - place).max(0.0);
        let cell = (cell as usize).min(ages.cells);
        let known = ages.reliability(cell);
        if ln_now == f64::NEG_INFINITY || known <= 0.0 {
            return None;
        }
        let now = ln_now.exp();
        let pass = if early > 0.0 { (known / now).min(1.0) } else { 1.0 };
        let to_plan = if ages.planned() { ages.reliability(ages.cells) } else { 0.0 };
        Some(Self {
            ages,
            age_hours,
            place,
            ln_now,
            now,
            cost_now: ages.cost_to(place, now),
            cell,
            early,
            pass,
            fail: 1.0 - pass,
            reach: pass * to_plan / known,
            to_plan,
            plan: if ages.planned() { (ages.cells - cell) as f64 + early } else { f64::INFINITY },
            again: ages.again(),
        })
    }

    /// The first failure of the screen by a time of the clock, in closed form. `rest` keeps the chance of the last lamp of
    /// those changed on plan to live as long as it does, which is the same for times that whole planned ages part.
    fn first_by(&self, time: f64, lives: &Lives<'_>, rest: &mut Option<f64>) -> First {
        let hours = |steps: f64| steps * self.ages.step;
        if time < self.plan {
            let ln_then = (lives.today)(self.age_hours + hours(time));
            let cost = self.ages.cost_to(self.place + time, ln_then.exp()) - self.cost_now;
            return First { failed: -(ln_then - self.ln_now).exp_m1(), cost: cost / self.now };
        }
        let cells = self.ages.cells as f64;
        let changes = ((time - self.plan + ON_STEP) / cells).floor();
        let burned = (time - self.plan - changes * cells).max(0.0);
        let rest = *rest.get_or_insert_with(|| (lives.fresh)(hours(burned)).exp());
        let of_today = self.ages.cost_to(cells, self.to_plan) - self.cost_now;
        let to_plan = self.ages.fresh_cost_to(cells, self.again);
        let (mut cost, mut weight) = (of_today / self.now, self.reach);
        for _ in 0..changes as usize {
            cost += weight * to_plan;
            weight *= self.again;
        }
        First { failed: 1.0 - weight * rest, cost: cost + weight * self.ages.fresh_cost_to(burned, rest) }
    }

    /// What failures beyond the first bring by a time of the clock.
    fn later_by(&self, later: &Later, time: f64) -> f64 {
        let on_grid = time - self.early;
        let after_early =
            if self.fail > 0.0 { self.fail * later.after_change(time - 0.5 * self.early.min(time)) } else { 0.0 };
        if on_grid <= 0.0 {
            return after_early;
        }
        self.pass * self.ages.bends(self.cell).read(later.row(self.cell), on_grid) + after_early
    }

    /// Means up to a time of the clock.
    ///
    /// # Formula
    /// ```text
    /// planned(t) = sum over k >= 0 of R(T)^k reach 1[plan + k T <= t] + sum over k >= 1 of R(T)^k failures(t - k T)
    /// ```
    /// as a planned change stands one planned age after each change whose lamp reaches it.
    pub(super) fn means_to(&self, time: f64, lives: &Lives<'_>) -> MeansTo {
        let mut rest = None;
        let first = self.first_by(time, lives, &mut rest);
        let failures = first.failed + self.later_by(self.ages.failures(), time);
        let failure_cost = first.cost + self.later_by(self.ages.costs(), time);
        let lamp_failed = if time < self.plan { first.failed } else { 1.0 - self.reach };
        let mut planned = self.exact().take_while(|(place, _)| *place <= time + ON_STEP).map(|p| p.1).sum::<f64>();
        let (mut weight, mut before) = (self.again, time - self.ages.cells as f64);
        while before > 0.0 && weight > LEAST {
            let failed = self.first_by(before, lives, &mut rest).failed;
            planned += weight * (failed + self.later_by(self.ages.failures(), before));
            before -= self.ages.cells as f64;
            weight *= self.again;
        }
        MeansTo { time, lamp_failed, planned, failures, failure_cost }
    }

    /// Planned changes of lamps changed on plan from today on: their places, and chances.
    fn exact(&self) -> impl Iterator<Item = (f64, f64)> {
        let cells = self.ages.cells as f64;
        std::iter::successors(Some((self.plan, self.reach)), move |(place, mass)| {
            Some((place + cells, mass * self.again))
        })
        .take_while(|(place, mass)| place.is_finite() && *mass > LEAST)
    }

    /// Changes from one time of the clock to another, the first excluded and the last included.
    pub(super) fn changes(&self, from: &MeansTo, to: &MeansTo) -> Changes {
        if to.time <= from.time {
            return Changes::none();
        }
        let hours = (to.time - from.time) * self.ages.step;
        let failure_cost = (to.failure_cost - from.failure_cost).max(0.0);
        if from.time <= 0.0 {
            return Changes { chances: self.since_today(to), failure_cost, hours, due: 0.0 };
        }
        Changes { chances: self.inside(from, to), failure_cost, hours, due: 0.0 }
    }

    /// Chances of 0, 1, 2, ... changes from today on, by the first change: the chance of none is that of the life itself.
    fn since_today(&self, to: &MeansTo) -> [Vec<f64>; 3] {
        let masses = self.first_masses(to);
        let planned = if to.time >= self.plan - ON_STEP { self.reach } else { 0.0 };
        let after_plan = self.ages.bends_of_tables().reading(to.time - self.plan);
        Counted::EACH.map(|kind| {
            let reach = self.ages.reach(kind);
            let (counts_planned, counts_failures) = kind.counts();
            // Of the chance of a change at all this much is known in closed form.
            let exact =
                f64::from(u8::from(counts_failures)) * to.lamp_failed + f64::from(u8::from(counts_planned)) * planned;
            let mut further = Vec::with_capacity(reach.len() + 1);
            for n in 1.. {
                let after = |counted: bool| reach.get(if counted { n - 1 } else { n });
                let mut next = 0.0;
                if let Some(table) = after(counts_failures).filter(|_| n > 1 || !counts_failures) {
                    next += masses.times(table);
                }
                if let Some(table) = after(counts_planned).filter(|_| planned > 0.0 && (n > 1 || !counts_planned)) {
                    next += planned * table.value(&after_plan);
                }
                if next + if n == 1 { exact } else { 0.0 } < LEAST {
                    break;
                }
                further.push(next);
            }
            // The mean is known better than its parts.
            let (mean, sum) = (to.mean(kind) - exact, further.iter().sum::<f64>());
            let factor = if mean.min(sum) > WORTH_SCALING { mean / sum } else { 1.0 };
            let mut chances = Vec::with_capacity(further.len() + 1);
            let (mut above, mut known) = (1.0, exact);
            for further in further {
                let next = (known + factor * further).clamp(0.0, above);
                known = 0.0;
                chances.push(above - next);
                above = next;
            }
            chances.push(above);
            chances
        })
    }

    /// Failures of the lamp of today up to a time of the clock, by what is left to that time.
    fn first_masses(&self, to: &MeansTo) -> Masses {
        let length = BLOCK_STEPS as f64;
        let end = to.time.min(self.plan);
        let nearest = to.time - end;
        let (first, last) = ((nearest / length - ON_STEP).ceil().max(0.0), (to.time / length + ON_STEP).floor());
        let piece = |from: f64, upto: f64, (start, stop): (f64, f64)| {
            // Times of the clock run against what is left.
            let (low, high) = (to.time - upto, to.time - from);
            let (mass, length) = ((stop - start).max(0.0), upto - from);
            let mut off = 0.0;
            if mass > 1e-12 && length > ON_STEP {
                let burned = self.ages.burned_to(self.place + high) - self.ages.burned_to(self.place + low);
                off = ((length * (1.0 - start) - burned / self.now) / (mass * length)).clamp(0.0, 1.0) - 0.5;
            }
            Piece { from, to: upto, mass, off }
        };
        let bends = self.ages.bends_of_tables();
        if last <= first {
            return Masses::new(0, Vec::new(), &[piece(nearest, to.time, (0.0, to.lamp_failed))], &bends);
        }
        let count = (last - first) as usize;
        let mut blocks = Vec::with_capacity(count);
        let (mut later, mut at_first) = (None, to.lamp_failed);
        self.ages.unfailed_down(self.place + to.time - first * length, count + 1, |[unfailed]| {
            let failed = (1.0 - unfailed / self.now).max(0.0);
            match later {
                Some(later) => blocks.push(f64::max(later - failed, 0.0)),
                None => at_first = if first * length > nearest { failed } else { to.lamp_failed },
            }
            later = Some(if later.is_none() { at_first } else { failed });
        });
        let near = piece(nearest, first * length, (at_first, to.lamp_failed));
        let far = piece(last * length, to.time, (0.0, later.unwrap_or(0.0)));
        Masses::new(first as usize, blocks, &[near, far], &bends)
    }

    /// Chances of 0, 1, 2, ... changes within a period that begins after today.
    fn inside(&self, from: &MeansTo, to: &MeansTo) -> [Vec<f64>; 3] {
        let planned = (to.planned - from.planned).max(0.0);
        let failures = (to.failures - from.failures).max(0.0);
        let exact = || {
            let before_end = self.exact().take_while(|(place, _)| *place <= to.time + ON_STEP);
            before_end.filter(|(place, _)| *place > from.time + ON_STEP)
        };
        let spread = planned - exact().map(|e| e.1).sum::<f64>();
        let [failed, others] = self.masses(from.time, to.time);
        let to_mean = |masses: Masses, mean: f64| {
            let whole = masses.whole();
            masses.scaled(if whole > 0.0 { mean.max(0.0) / whole } else { 0.0 })
        };
        let (failed, mut others) = (to_mean(failed, failures), to_mean(others, spread));
        let mut all = failed.and(&others);
        let bends = self.ages.bends_of_tables();
        for (place, mass) in exact() {
            let left = bends.reading(to.time - place);
            all.add_exact(left, mass);
            others.add_exact(left, mass);
        }
        let whole_period = bends.reading(to.time - from.time);
        Counted::EACH.map(|kind| {
            let (mean, masses) = match kind {
                Counted::All => (planned + failures, &all),
                Counted::Planned => (planned, &others),
                Counted::Failures => (failures, &failed),
            };
            let tables = self.ages.moments(kind);
            let mut moments = [0.0; MOST_MOMENTS];
            let mut known = 0;
            let more = tables.iter().skip(1).take_while(|t| mean * t.value(&whole_period) >= LEAST);
            let all = [1.0, mean].into_iter().chain(more.map(|table| masses.times(table)));
            for (moment, value) in moments.iter_mut().zip(all) {
                *moment = value;
                known += 1;
            }
            from_moments(moments.get(..known).unwrap_or(&moments))
        })
    }

    /// Mean failures, and planned changes at no exact place, from one time of the clock to another, by what is left then.
    fn masses(&self, from: f64, to: f64) -> [Masses; 2] {
        let length = BLOCK_STEPS as f64;
        let count = ((to - from) / length + ON_STEP).floor().max(0.0) as usize;
        let (row, planned) = (self.ages.failures().row(self.cell), self.ages.planned_row(self.cell));
        let bends = self.ages.bends(self.cell);
        let start = self.ages.reliability(self.cell);
        let unfailed = self.ages.unfailed_from(self.cell);
        // Times count from the first age on the grid; before it there are but a few failures, which the scale to the mean
        // makes up for.
        let values = [unfailed, row, planned];
        let both = |[unfailed, later, others]: [f64; 3]| [1.0 - unfailed / start + later, others];
        let mut lists = [Vec::with_capacity(count), Vec::with_capacity(count)];
        let mut later: Option<[f64; 2]> = None;
        bends.read_down(values, to - self.early, BLOCK_STEPS, count + 1, |read| {
            let earlier = both(read);
            if let Some(later) = later {
                for ((list, a), b) in lists.iter_mut().zip(later).zip(earlier) {
                    list.push(f64::max(a - b, 0.0));
                }
            }
            later = Some(earlier);
        });
        let mut earliest = [0.0; 2];
        bends.read_down(values, from - self.early, BLOCK_STEPS, 1, |read| earliest = both(read));
        let [failed_to, others_to] = later.unwrap_or(earliest);
        let [failed_from, others_from] = earliest;
        let piece = |mass: f64| Piece { from: count as f64 * length, to: to - from, mass: mass.max(0.0), off: 0.0 };
        let [failed, others] = lists;
        let tables = self.ages.bends_of_tables();
        [
            Masses::new(0, failed, &[piece(failed_to - failed_from)], &tables),
            Masses::new(0, others, &[piece(others_to - others_from)], &tables),
        ]
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
        let mut terms = [0.0; MOST_MOMENTS];
        for ((k, moment), term) in moments.iter().enumerate().skip(n).zip(&mut terms) {
            if k > n {
                ways *= k as f64 / (k - n) as f64;
                sign = -sign;
            }
            *term = sign * ways * moment;
        }
        // Small terms first.
        let sum: f64 = terms.iter().take(moments.len() - n).rev().sum();
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
