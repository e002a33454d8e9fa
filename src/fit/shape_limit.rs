//! Laws of a power of age, to which a generalised gamma life leads as its shape grows without bound, and the highest
//! likelihood of each.

use argmin::core::{CostFunction, Error as ArgminError, Executor, State};
use argmin::solver::neldermead::NelderMead;

use super::likelihood::{Jets, Scratch, add_row};
use super::ridge::IMPOSSIBLE;
use super::sample::{Evidence, Sample};
use crate::base::math::special::ln_one_minus_exp_neg;
use crate::base::math::sum;
use crate::family::{Jet, Order, Term};

/// On which side of 0 the shape grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// F = (t / end)^power up to the end.
    Above,
    /// R = (t / end)^-power from the end on.
    Below,
}

/// A power of age over ln power and ln end.
#[derive(Clone, Copy)]
struct PowerOfAge(Side);

impl Jets for PowerOfAge {
    fn jet(&mut self, x: &[f64], age: f64, term: Term, _order: Order, out: &mut Jet) {
        let [ln_power, ln_end] = [0, 1].map(|i| x.get(i).copied().unwrap_or(f64::NAN));
        let (power, past) = (ln_power.exp(), age.ln() - ln_end);
        let far = match self.0 {
            Side::Above => (-past).max(0.0),
            Side::Below => past.max(0.0),
        };
        let outside = if self.0 == Side::Above { past > 0.0 } else { past < 0.0 };
        let (near, other) = (-power * far, ln_one_minus_exp_neg(power * far));
        out.value = match (term, self.0) {
            (Term::LnDensity, _) if outside => f64::NEG_INFINITY,
            (Term::LnDensity, _) => ln_power - age.ln() + near,
            (Term::LnFailureProbability, Side::Above) | (Term::LnReliability, Side::Below) => near,
            (Term::LnFailureProbability, Side::Below) | (Term::LnReliability, Side::Above) => other,
        };
    }
}

/// The records under such a law, over ln power and the logarithm of how far the end lies from the nearest age that it may
/// have, as a share of that age: the end itself is then within reach of a search without bounds.
struct Heights<'s> {
    sample: &'s Sample<'s>,
    law: PowerOfAge,
    nearest: f64,
}

impl Heights<'_> {
    fn at(&self, x: &[f64]) -> f64 {
        let [ln_power, room] = [0, 1].map(|i| x.get(i).copied().unwrap_or(f64::NAN));
        let room = room.exp().ln_1p();
        let ln_end = self.nearest.ln() + if self.law.0 == Side::Above { room } else { -room };
        let [total] = sum::blocks(self.sample.tally.rows(), |rows| {
            let (mut law, mut scratch, mut total) = (self.law, Scratch::new(2), 0.0);
            for i in rows.filter(|i| self.sample.weights[*i] > 0.0) {
                add_row(&mut law, self.sample.row(i), &[ln_power, ln_end], Order::Value, &mut scratch);
                total += self.sample.weights[i] * scratch.total.value;
            }
            [total]
        });
        if total.is_nan() { IMPOSSIBLE } else { total.max(IMPOSSIBLE) }
    }
}

impl CostFunction for &Heights<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, x: &Self::Param) -> Result<f64, ArgminError> {
        Ok(-self.at(x))
    }
}

/// Sides of the first figure that the search moves.
const SPREAD: f64 = 0.5;
/// Spread of the heights of a figure at which the search has arrived.
const ARRIVED: f64 = 1e-10;
/// Steps of one search.
const STEPS: u64 = 400;
/// Searches, each from where the one before ended: a figure that has shrunk onto a line opens again.
const SEARCHES: usize = 3;
/// Least room that a search starts from.
const LEAST_ROOM: f64 = 0.05;

/// The age nearest to the failures that the end of the law may have.
fn nearest(sample: &Sample, side: Side) -> f64 {
    let rows = (0..sample.tally.rows()).filter(|i| sample.weights[*i] > 0.0 && sample.informs(*i));
    match side {
        Side::Above => rows.fold(0.0, |most: f64, i| match sample.row(i).evidence {
            Evidence::Exact(age) | Evidence::Passed(age) | Evidence::Between(age, _) => most.max(age),
        }),
        Side::Below => rows.fold(f64::INFINITY, |least: f64, i| match sample.row(i).evidence {
            Evidence::Exact(age) | Evidence::Between(_, age) => least.min(age),
            Evidence::Passed(_) => least,
        }),
    }
}

/// The highest log-likelihood of the records under the law; none where there is none that is known.
pub(super) fn highest(sample: &Sample, side: Side) -> Option<f64> {
    let nearest = nearest(sample, side);
    if !(nearest > 0.0 && nearest < f64::INFINITY) {
        return None;
    }
    let law = Heights { sample, law: PowerOfAge(side), nearest };
    let (mut failed, mut lamps, mut away) = (0.0, 0.0, 0.0);
    for i in (0..sample.tally.rows()).filter(|i| sample.weights[*i] > 0.0) {
        let (w, row) = (sample.weights[i], sample.row(i));
        let (age, fails) = match row.evidence {
            Evidence::Exact(age) => (age, true),
            Evidence::Between(low, high) => (f64::midpoint(low, high), true),
            Evidence::Passed(age) => (age, false),
        };
        lamps += w;
        failed += if fails { w } else { 0.0 };
        // A lamp that passed the end of a rising law tells nothing of its power, one that passed a falling law does.
        if fails || side == Side::Below {
            away += w * (age / nearest).ln().abs();
        }
    }
    let power = if away > 0.0 { failed / away } else { 1.0 };
    let room = ((lamps / failed).ln() / power).exp_m1().clamp(LEAST_ROOM, 1e6);
    let room = if side == Side::Above { room } else { LEAST_ROOM };
    let mut at = vec![power.ln(), room.ln()];
    let mut best = law.at(&at);
    for _ in 0..SEARCHES {
        let figure = vec![at.clone(), vec![at[0] + SPREAD, at[1]], vec![at[0], at[1] - 2.0 * SPREAD]];
        let solver = NelderMead::new(figure).with_sd_tolerance(ARRIVED).ok()?;
        let found = Executor::new(&law, solver).timer(false).configure(|state| state.max_iters(STEPS)).run().ok()?;
        let Some(there) = found.state().get_best_param() else { break };
        let here = law.at(there);
        if here > best {
            (at, best) = (there.clone(), here);
        }
    }
    (best > IMPOSSIBLE).then_some(best)
}
