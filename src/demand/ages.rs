//! What a lamp of any age brings in the hours after, tabulated once for a world.
//!
//! The tables run over hours that a lamp burns, not over days, so that one set serves screens of any programme.

use std::sync::Arc;

use rayon::prelude::*;

use super::blocks::{BLOCK_STEPS, Blocks};
use super::later::{Cells, Later};
use super::steps::{Bends, Change, OnSteps, at};
use super::windows::LnReliability;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::policy::WorldCurve;

/// Entries of a table by age and by hours ahead: sets the step, and with it what a table costs.
const ENTRIES: f64 = 2e6;

/// What further changes may add before they are left out.
pub(super) const LEAST: f64 = 1e-17;

/// Most changes of one screen that are followed in one period.
pub(super) const MOST_IN_PERIOD: usize = 40;

/// Most changes of one screen over the horizon.
const MOST_IN_ALL: usize = 400;

/// Pieces of Simpson's rule on the first cell; even.
const FIRST_PIECES: usize = 32;

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Counted {
    All,
    Planned,
    Failures,
}

impl Counted {
    pub(super) const EACH: [Self; 3] = [Self::All, Self::Planned, Self::Failures];

    /// Whether a planned change, and a failure change, is counted.
    pub(super) fn counts(self) -> (bool, bool) {
        (self != Self::Failures, self != Self::Planned)
    }
}

/// Tables of one world under one planned age.
///
/// The lamps that burn today may have a life of their own, as those of a batch do; every later lamp has that of the world.
#[derive(Debug)]
pub(super) struct Ages {
    pub(super) step: f64,
    /// Cells from age 0 to the planned age, or to an age that nothing reaches in the horizon.
    pub(super) cells: usize,
    steps: usize,
    planned: bool,
    smooth: bool,
    fresh: Arc<Burning>,
    today: Arc<Burning>,
    after: Arc<AfterChange>,
}

/// What a lamp of one life does by its age, and what follows it at its screen.
#[derive(Debug)]
struct Burning {
    lamps: Cells,
    /// Mean cost of the failures of a cell, and their cost summed up to each age.
    cost: Vec<f64>,
    cost_to: Vec<f64>,
    /// Hours burned up to each age of the grid, in steps.
    burned_to: Vec<f64>,
    /// Chance that a screen has no failure up to each step after a lamp of this life is fitted.
    unfailed: Vec<f64>,
    /// What failures beyond the first bring: their number, and their cost.
    failures: Later,
    costs: Later,
    /// Mean planned changes that follow an earlier change of the screen, by age and steps ahead, without those that fall on
    /// the planned age of the lamp of today and its multiples.
    planned_rows: Vec<f64>,
}

/// Chances after a change of a lamp, by the kinds that are counted.
#[derive(Debug)]
struct AfterChange {
    /// `moments[kind][k]`: mean number of ways to choose k changes of the kind within the steps after a change, over a period.
    moments: ByKind,
    /// `reach[kind][n]`: chance of at least n changes of the kind within the steps after a change.
    reach: ByKind,
}

impl Ages {
    /// Tables for ages up to `oldest`, hours ahead up to `ahead`, and periods of at most `window` hours.
    pub(super) fn new(
        curve: &WorldCurve<'_>,
        ln_reliability: &LnReliability<'_>,
        planned_age: f64,
        oldest: f64,
        ahead: f64,
        window: f64,
    ) -> Result<Self> {
        let reached = oldest.min(planned_age) + ahead;
        let planned = planned_age <= reached;
        let top = if planned { planned_age } else { reached };
        let cells = (top / (top * ahead / ENTRIES).sqrt()).ceil().clamp(20.0, ENTRIES / 20.0) as usize;
        // Whole blocks up to the planned age.
        let cells = cells.next_multiple_of(BLOCK_STEPS);
        let step = top / cells as f64;
        // A few more than needed, so that every place has steps on both sides.
        let steps = ((ahead / step).ceil() as usize + 2).next_multiple_of(BLOCK_STEPS);
        let smooth = curve.kinks().is_empty();
        let (lamps, cost, cost_to) = cells_of(curve, ln_reliability, step, cells);
        let unfailed = unfailed(&lamps.reliability, planned, cells + steps, None);
        let spacing = if planned { cells } else { usize::MAX };
        let bends = Bends { first: 0, spacing, last: steps, smooth };
        let ends = planned.then_some(cells);
        let number = || {
            let first: Vec<f64> = (0..=steps).map(|j| 1.0 - at(&unfailed, j)).collect();
            let means: Vec<f64> =
                repeated(&lamps, planned, steps).map(|(i, weight)| 1.0 - weight * at(&lamps.burned, i)).collect();
            Later::new(&lamps, ends, bends, &first, &means, 1.0)
        };
        let money = || {
            let mut first: Vec<f64> = Vec::with_capacity(steps + 1);
            for j in 0..=steps {
                let sum = match j.checked_sub(cells) {
                    Some(after) if planned => at(&cost_to, cells) + at(&lamps.reliability, cells) * at(&first, after),
                    _ => at(&cost_to, j.min(cells)),
                };
                first.push(sum);
            }
            let means: Vec<f64> = repeated(&lamps, planned, steps)
                .enumerate()
                .map(|(j, (i, weight))| {
                    at(&first, j) + weight * at(&cost, i) * (at(&lamps.reliability, i) - at(&lamps.burned, i))
                })
                .collect();
            Later::new(&lamps, ends, bends, &first, &means, at(&cost, 0))
        };
        let (failures, costs) = rayon::join(number, money);
        let (tables, planned_rows) = rayon::join(
            || counted(&lamps, ends, bends, window / step),
            || if planned { planned_rows(&failures, &unfailed, at(&unfailed, cells), steps) } else { Vec::new() },
        );
        let (moments, reach) = tables?;
        let burned_to = burned_to(&lamps);
        let fresh = Arc::new(Burning { lamps, cost, cost_to, burned_to, unfailed, failures, costs, planned_rows });
        let after = Arc::new(AfterChange { moments, reach });
        Ok(Self { step, cells, steps, planned, smooth, today: Arc::clone(&fresh), fresh, after })
    }

    /// The same, but that the lamps of today have a life of their own. Causes share its failures as they do those of others.
    pub(super) fn with_today(&self, curve: &WorldCurve<'_>, ln_reliability: &LnReliability<'_>) -> Self {
        let (cells, steps, fresh) = (self.cells, self.steps, &self.fresh);
        let (lamps, cost, cost_to) = cells_of(curve, ln_reliability, self.step, cells);
        let unfailed = unfailed(&lamps.reliability, self.planned, cells + steps, Some(&fresh.unfailed));
        let corner =
            Cells::corner_of(|age| -ln_reliability(age).exp_m1(), |age| -curve.ln_reliability(age).exp_m1(), self.step);
        let ends = self.planned.then_some(cells);
        let later = |of: &Later, worth: f64| of.with_today(&lamps, ends, worth * corner);
        let (failures, costs) = rayon::join(|| later(&fresh.failures, 1.0), || later(&fresh.costs, at(&fresh.cost, 0)));
        let reach = at(&fresh.unfailed, cells);
        let planned_rows = if self.planned { planned_rows(&failures, &unfailed, reach, steps) } else { Vec::new() };
        let burned_to = burned_to(&lamps);
        let today = Arc::new(Burning { lamps, cost, cost_to, burned_to, unfailed, failures, costs, planned_rows });
        Self { today, fresh: Arc::clone(fresh), after: Arc::clone(&self.after), ..*self }
    }

    /// The same, the lamps of today having the life of those fitted later.
    pub(super) fn of_fresh(&self) -> Self {
        Self { today: Arc::clone(&self.fresh), fresh: Arc::clone(&self.fresh), after: Arc::clone(&self.after), ..*self }
    }

    /// Chance of a lamp of today to pass an age on the grid.
    pub(super) fn reliability(&self, cell: usize) -> f64 {
        at(&self.today.lamps.reliability, cell)
    }

    /// Chance of a new lamp to reach the planned age.
    pub(super) fn again(&self) -> f64 {
        if self.planned { at(&self.fresh.lamps.reliability, self.cells) } else { 0.0 }
    }

    /// What failures beyond the first bring: their number.
    pub(super) fn failures(&self) -> &Later {
        &self.today.failures
    }

    /// What failures beyond the first bring: their cost.
    pub(super) fn costs(&self) -> &Later {
        &self.today.costs
    }

    /// Mean number of ways to choose 0, 1, 2, ... changes of a kind within the steps after a change, over a period.
    pub(super) fn moments(&self, kind: Counted) -> &[Blocks] {
        self.after.moments.get(kind as usize).map_or(&[], Vec::as_slice)
    }

    /// Chance of at least 0, 1, 2, ... changes of a kind within the steps after a change.
    pub(super) fn reach(&self, kind: Counted) -> &[Blocks] {
        self.after.reach.get(kind as usize).map_or(&[], Vec::as_slice)
    }

    /// Whether lamps are changed at the last of the ages.
    pub(super) fn planned(&self) -> bool {
        self.planned
    }

    /// Where tables of a lamp of an age may bend: where its planned change is due, and its multiples.
    pub(super) fn bends(&self, cell: usize) -> Bends {
        let first = self.cells - cell;
        if self.planned {
            Bends { first, spacing: self.cells, last: self.steps, smooth: self.smooth }
        } else {
            Bends { first, spacing: usize::MAX, last: first.min(self.steps), smooth: self.smooth }
        }
    }

    /// Mean planned changes of a lamp of an age beyond those at exact places, by steps ahead.
    pub(super) fn planned_row(&self, cell: usize) -> &[f64] {
        let width = self.steps + 1;
        self.today.planned_rows.get(cell * width..(cell + 1) * width).unwrap_or(&[])
    }

    /// Where tables of the hours after a change may bend.
    pub(super) fn bends_of_tables(&self) -> Bends {
        let spacing = if self.planned { self.cells } else { usize::MAX };
        Bends { first: 0, spacing, last: self.steps, smooth: self.smooth }
    }

    /// Chance that a screen has no failure, by steps after the age of its lamp.
    pub(super) fn unfailed_from(&self, cell: usize) -> &[f64] {
        self.today.unfailed.get(cell..).unwrap_or(&[])
    }

    /// The same at places of an age up to the planned one, going down from one.
    pub(super) fn unfailed_down(&self, from: f64, count: usize, tell: impl FnMut([f64; 1])) {
        let unfailed = &self.today.unfailed;
        let bends = Bends { last: unfailed.len() - 1, ..self.bends_of_tables() };
        bends.read_down([unfailed], from, BLOCK_STEPS, count, tell);
    }

    /// Hours in steps that a lamp of today's life burns from new up to a place of its age.
    pub(super) fn burned_to(&self, place: f64) -> f64 {
        let cell = (place as usize).min(self.cells.saturating_sub(1));
        let over = place - cell as f64;
        let (low, high) = (self.reliability(cell), self.reliability(cell + 1));
        let whole = at(&self.today.lamps.burned, cell);
        // The cubic with the hours at both ends of the cell and their slopes there.
        let (x2, x3) = (over * over, over * over * over);
        at(&self.today.burned_to, cell)
            + whole * (3.0 * x2 - 2.0 * x3)
            + low * (over - 2.0 * x2 + x3)
            + high * (x3 - x2)
    }

    /// Cost of the failures of a lamp of today's life from new up to a place of its age, the chance to pass it being known.
    pub(super) fn cost_to(&self, place: f64, reliability: f64) -> f64 {
        self.today.cost_up_to(place, reliability, self.cells)
    }

    /// The same of a lamp fitted later.
    pub(super) fn fresh_cost_to(&self, place: f64, reliability: f64) -> f64 {
        self.fresh.cost_up_to(place, reliability, self.cells)
    }
}

impl Burning {
    fn cost_up_to(&self, place: f64, reliability: f64, cells: usize) -> f64 {
        let cell = (place as usize).min(cells.saturating_sub(1));
        at(&self.cost_to, cell) + at(&self.cost, cell) * (at(&self.lamps.reliability, cell) - reliability)
    }
}

/// Hours burned up to each age of the grid, in steps.
fn burned_to(lamps: &Cells) -> Vec<f64> {
    let summed = |sum: &mut f64, burned: &f64| {
        let before = *sum;
        *sum += burned;
        Some(before)
    };
    lamps.burned.iter().scan(0.0, summed).collect()
}

fn cells_of(
    curve: &WorldCurve<'_>,
    ln_reliability: &LnReliability<'_>,
    step: f64,
    cells: usize,
) -> (Cells, Vec<f64>, Vec<f64>) {
    let of = |i: usize| {
        let (from, to) = (i as f64 * step, (i + 1) as f64 * step);
        let end = ln_reliability(to).exp();
        let burned = burned_in(curve.kinks(), ln_reliability, from, to) / step;
        (end, burned, cost_between(curve, from, to))
    };
    let each: Vec<(f64, f64, f64)> = (0..cells).into_par_iter().map(of).collect();
    let failed_by = |age: f64| -ln_reliability(age).exp_m1();
    let corner = Cells::corner_of(failed_by, failed_by, step);
    let mut lamps = Cells { reliability: vec![1.0], burned: Vec::new(), place: Vec::new(), corner };
    let (mut cost, mut cost_to, mut sum) = (Vec::with_capacity(cells), vec![0.0], 0.0);
    let mut start = 1.0;
    for (end, burned, of_cell) in each {
        let failing = start - end;
        lamps.place.push(if failing > 0.0 { ((burned - end) / failing).clamp(0.0, 1.0) } else { 0.5 });
        lamps.burned.push(burned);
        lamps.reliability.push(end);
        sum += failing * of_cell;
        cost.push(of_cell);
        cost_to.push(sum);
        start = end;
    }
    (lamps, cost, cost_to)
}

/// Chance of no failure up to each step after a change, with the planned changes in between, after which lamps of a life of
/// their own may follow.
fn unfailed(reliability: &[f64], planned: bool, last: usize, follow: Option<&[f64]>) -> Vec<f64> {
    let cells = reliability.len() - 1;
    let mut list: Vec<f64> = Vec::with_capacity(last + 1);
    for j in 0..=last {
        let chance = match j.checked_sub(cells) {
            Some(after) if planned => at(reliability, cells) * at(follow.unwrap_or(&list), after),
            _ => at(reliability, j.min(cells)),
        };
        list.push(chance);
    }
    list
}

/// The cell of age in each step of a screen that has no failure, and its chance to have had none before the lamp in it.
fn repeated(lamps: &Cells, planned: bool, steps: usize) -> impl Iterator<Item = (usize, f64)> {
    let cells = lamps.place.len();
    let reach = at(&lamps.reliability, cells);
    (0..steps).scan(1.0, move |weight, j| {
        if planned && j > 0 && j % cells == 0 {
            *weight *= reach;
        }
        Some((if planned { j % cells } else { j.min(cells - 1) }, *weight))
    })
}

/// Planned changes one planned age after each failure, and after each of those changes; `reach` is the chance of a new lamp
/// to see its planned age, and the ages are as many as `unfailed` has more entries than steps.
fn planned_rows(failures: &Later, unfailed: &[f64], reach: f64, steps: usize) -> Vec<f64> {
    let (width, cells) = (steps + 1, unfailed.len() - 1 - steps);
    let mut rows = vec![0.0; (cells + 1) * width];
    let each = rows.par_chunks_exact_mut(width).enumerate();
    each.for_each(|(cell, out)| {
        let now = at(unfailed, cell);
        let later = failures.row(cell);
        let ahead = unfailed.get(cell..).unwrap_or(&[]);
        for j in cells..width {
            let before = j - cells;
            let failed = if now > 0.0 { 1.0 - at(ahead, before) / now } else { 0.0 };
            let sum = reach * (failed + at(later, before) + at(out, before));
            if let Some(out) = out.get_mut(j) {
                *out = sum;
            }
        }
    });
    rows
}

/// Tables of a number of changes: over one period, and over all hours ahead.
type ByKind = [Vec<Blocks>; 3];

fn counted(lamps: &Cells, planned: Option<usize>, bends: Bends, window: f64) -> Result<(ByKind, ByKind)> {
    let count = lamps.place.len();
    let near: Vec<f64> = (0..count).map(|i| lamps.failing(i) * at(&lamps.place, i)).collect();
    let far: Vec<f64> = (0..count).map(|i| lamps.failing(i) * (1.0 - at(&lamps.place, i))).collect();
    let change = Change { near, far, planned: planned.map(|n| (n, at(&lamps.reliability, n))) };
    let short = (window.ceil() as usize + 2).next_multiple_of(BLOCK_STEPS).min(bends.last);
    let followed = |kind: Counted, moments: bool| {
        let (steps, most, when) =
            if moments { (short, MOST_IN_PERIOD, "in one month") } else { (bends.last, MOST_IN_ALL, "in all") };
        let mut last = OnSteps::one(steps);
        let mut tables = Vec::new();
        while last.last() > LEAST {
            if tables.len() > most {
                return Err(too_many(when, tables.len()));
            }
            let next = change.next(&last, kind.counts(), moments, steps);
            tables.push(Blocks::new(last));
            last = next;
        }
        Ok(tables)
    };
    let asked: Vec<(Counted, bool)> =
        Counted::EACH.into_iter().flat_map(|kind| [(kind, false), (kind, true)]).collect();
    let made: Vec<Result<Vec<Blocks>>> = asked.par_iter().map(|(kind, moments)| followed(*kind, *moments)).collect();
    let (mut moments, mut reach): (ByKind, ByKind) = Default::default();
    for ((kind, of_moments), tables) in asked.into_iter().zip(made) {
        let place = if of_moments { &mut moments } else { &mut reach };
        if let Some(place) = place.get_mut(kind as usize) {
            *place = tables?;
        }
    }
    Ok((moments, reach))
}

/// Hours burned between two ages, per new lamp: Simpson's rule on each piece between kinks. On the first cell the ages go
/// by the fifth power, which takes the infinite hazard at age 0 of a shape below 1 out of the integrand.
fn burned_in(kinks: &[f64], ln_reliability: &LnReliability<'_>, from: f64, to: f64) -> f64 {
    let of = |age: f64| ln_reliability(age).exp();
    if from == 0.0 && !kinks.iter().any(|k| *k <= to) {
        let value = |i: usize| {
            let u = i as f64 / FIRST_PIECES as f64;
            let weight = if i == 0 || i == FIRST_PIECES { 1.0 } else { 2.0 * (1 + i % 2) as f64 };
            weight * 5.0 * u.powi(4) * of(to * u.powi(5))
        };
        return to * (0..=FIRST_PIECES).map(value).sum::<f64>() / (3 * FIRST_PIECES) as f64;
    }
    let first = kinks.partition_point(|k| *k <= from);
    let inside = kinks.get(first..).unwrap_or(&[]).iter().copied().take_while(|k| *k < to);
    let (mut sum, mut start) = (0.0, from);
    for end in inside.chain(std::iter::once(to)) {
        // A step at the end of a piece is not yet in it.
        sum += (end - start) * (of(start) + 4.0 * of(0.5 * (start + end)) + of(end.next_down())) / 6.0;
        start = end;
    }
    sum
}

/// Mean cost of a failure between two ages: the failures are shared among the causes by the fall of their ln R, so that
/// steps and infinite hazards count as what they are; causes that end all lamps there share them evenly.
fn cost_between(curve: &WorldCurve<'_>, from: f64, to: f64) -> f64 {
    if let [only] = curve.costs() {
        return *only;
    }
    let falls: Vec<f64> = curve.falls(from, to).collect();
    let (mut parts, mut cost) = (0.0, 0.0);
    let ends_all = falls.contains(&f64::INFINITY);
    for (fall, c) in falls.into_iter().zip(curve.costs()) {
        let part = if ends_all { f64::from(u8::from(fall.is_infinite())) } else { fall };
        parts += part;
        cost += part * c;
    }
    if parts > 0.0 { cost / parts } else { 0.0 }
}

fn too_many(when: &str, changes: usize) -> Error {
    let what = format!("one screen would need too many lamps {when}");
    let problem = Problem::new("demand.too_many_changes", what).got(changes);
    Error::new(Kind::Refused, problem.expected("a planned age and a horizon of the same order"))
}
