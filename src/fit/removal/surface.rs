//! The likelihood of a life under a stated dependence on removal.
//!
//! ```text
//! s = (A^q + B^q)^(1/q),  A = -ln R(t) of the family, B = cumulative hazard of removal, given
//! failed at t       ln f(t) + A - s + (q - 1)(ln A - ln s)
//! removed at t      -s - (q - 1) ln s       passed t   -s       entry e   plus s at e
//! ```
//! What depends on B alone is left out. With q = 1 or B = 0 it is the ordinary likelihood.

use crate::base::error::Result;
use crate::base::math::linalg::packed;
use crate::base::math::sum;
use crate::empirical::{Events, Seen};
use crate::family::{Family, Jet, Order, Term};
use crate::fit::newton::{Point, Surface};

pub(super) struct Dependent<'s> {
    pub(super) family: &'s dyn Family,
    pub(super) events: &'s Events,
    /// One weight for each row of the tally.
    pub(super) weights: &'s [f64],
    /// Cumulative hazard of removal at each event and at its entry.
    pub(super) removed: Vec<(f64, f64)>,
    pub(super) power: f64,
}

/// A function of A with its two derivatives.
type Curve = [f64; 3];

/// ln s and s over A.
fn joined(a: f64, b: f64, power: f64) -> (Curve, Curve) {
    let ratio = power * (b.ln() - a.ln());
    // w = A^q / s^q, and ln s = ln A - ln w / q.
    let ln_w = if ratio > 0.0 { -ratio - (-ratio).exp().ln_1p() } else { -ratio.exp().ln_1p() };
    let (w, rest) = (ln_w.exp(), -ln_w.exp_m1());
    let ln_s = a.ln() - ln_w / power;
    let s = ln_s.exp();
    let first = (ln_w + ln_s - a.ln()).exp();
    let second = (power - 1.0) * first * rest / a;
    let ln_first = w / a;
    ([ln_s, ln_first, second / s - ln_first * ln_first], [s, first, second])
}

impl Dependent<'_> {
    /// What the row adds beside ln f, over A.
    fn tail(&self, seen: Seen, a: f64, b: f64) -> Curve {
        let (ln_s, s) = joined(a, b, self.power);
        let more = self.power - 1.0;
        match seen {
            Seen::Failed => [
                a - s[0] + more * (a.ln() - ln_s[0]),
                1.0 - s[1] + more * (1.0 / a - ln_s[1]),
                -s[2] + more * (-1.0 / (a * a) - ln_s[2]),
            ],
            Seen::Removed => std::array::from_fn(|i| -s[i] - more * ln_s[i]),
            Seen::Passed => s.map(|x| -x),
        }
    }

    /// Adds a function of A = -ln R to a jet.
    fn through(out: &mut Jet, ln_reliability: &Jet, curve: Curve, order: Order, width: usize) {
        out.value += curve[0];
        if order == Order::Value {
            return;
        }
        for i in 0..width {
            out.gradient[i] -= curve[1] * ln_reliability.gradient[i];
        }
        if order == Order::Gradient {
            return;
        }
        for i in 0..width {
            for j in 0..=i {
                let k = packed(i, j);
                let square = ln_reliability.gradient[i] * ln_reliability.gradient[j];
                out.hessian[k] += curve[2] * square - curve[1] * ln_reliability.hessian[k];
            }
        }
    }

    fn block(&self, range: std::ops::Range<usize>, x: &[f64], order: Order) -> Vec<f64> {
        let n = x.len();
        let mut out = vec![0.0; 1 + n + n * (n + 1) / 2];
        let (mut total, mut jet) = (Jet::new(n), Jet::new(n));
        for k in range {
            let event = &self.events.each[k];
            let weight = self.weights[event.row];
            if weight == 0.0 {
                continue;
            }
            total.value = 0.0;
            total.gradient.fill(0.0);
            total.hessian.fill(0.0);
            if event.seen == Seen::Failed {
                self.family.jet(x, event.age, Term::LnDensity, order, &mut total);
            }
            let (b, at_entry) = self.removed[k];
            self.family.jet(x, event.age, Term::LnReliability, order, &mut jet);
            let tail = self.tail(event.seen, -jet.value, b);
            Self::through(&mut total, &jet, tail, order, n);
            if event.entry > 0.0 {
                self.family.jet(x, event.entry, Term::LnReliability, order, &mut jet);
                // A life that none has lost by its entry tells nothing there.
                if jet.value < 0.0 {
                    let (_, s) = joined(-jet.value, at_entry, self.power);
                    Self::through(&mut total, &jet, s, order, n);
                }
            }
            out[0] += weight * total.value;
            if order >= Order::Gradient {
                out[1..=n].iter_mut().zip(&total.gradient).for_each(|(sum, d)| *sum += weight * d);
            }
            if order >= Order::Hessian {
                out[1 + n..].iter_mut().zip(&total.hessian).for_each(|(sum, d)| *sum += weight * d);
            }
        }
        out
    }
}

impl Surface for Dependent<'_> {
    fn width(&self) -> usize {
        self.family.width()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let parts = sum::each_block(self.events.each.len(), |range| self.block(range, x, order));
        let n = x.len();
        let mut column = vec![0.0; parts.len()];
        let mut total = |k: usize| {
            column.iter_mut().zip(&parts).for_each(|(slot, part)| *slot = part[k]);
            sum::pairwise(&column)
        };
        out.value = total(0);
        if order >= Order::Gradient {
            (0..n).for_each(|i| out.gradient[i] = total(1 + i));
        }
        if order >= Order::Hessian {
            (0..out.hessian.len()).for_each(|k| out.hessian[k] = total(1 + n + k));
        }
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        self.family.inside(x)
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        self.family.step(x, i)
    }

    fn floor(&self, i: usize) -> f64 {
        self.family.floor(i)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::empirical::{RemovalOptions, walk_removals};
    use crate::family::family;
    use crate::lives::{Rows, Tally};
    use crate::records::Ending;

    #[test]
    fn gradient_and_hessian_are_those_of_the_value() {
        let rows = Rows {
            low: vec![900.0, 400.0, 500.0, 350.0, 700.0, 950.0],
            high: vec![900.0, f64::INFINITY, 500.0, 350.0, f64::INFINITY, f64::INFINITY],
            entry: Some(vec![0.0, 100.0, 450.0, 0.0, 400.0, 0.0]),
            ending: Some(vec![
                Ending::Burst,
                Ending::Dim,
                Ending::Burst,
                Ending::Dim,
                Ending::Running,
                Ending::Running,
            ]),
            count: Some(vec![1, 2, 3, 4, 5, 6]),
            ..Rows::default()
        };
        let (tally, _) = Tally::from_rows(&rows).unwrap();
        let options = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
        let events = Events::new(&tally, &options).unwrap();
        let weights: Vec<f64> = tally.count().iter().map(|n| *n as f64).collect();
        for (name, x) in [("weibull", vec![0.7, 6.8]), ("lognormal", vec![6.7, -0.6]), ("gamma", vec![1.0, 5.5])] {
            for power in [1.0, 1.7, 12.0] {
                let family = family(name).unwrap();
                let removed = walk_removals(&events, power, &weights).unwrap();
                let surface = Dependent { family, events: &events, weights: &weights, removed, power };
                let at = |x: &[f64]| {
                    let mut point = Point::new(x.len());
                    surface.at(x, Order::Hessian, &mut point).unwrap();
                    point
                };
                let here = at(&x);
                assert!(here.value.is_finite(), "{name} {power}");
                for i in 0..x.len() {
                    let moved = |h: f64| {
                        let mut y = x.clone();
                        y[i] += h;
                        at(&y)
                    };
                    let h = 1e-4;
                    let (up, down) = (moved(h), moved(-h));
                    let near = |got: f64, want: f64| {
                        assert!((got - want).abs() <= 1e-5 * (1.0 + want.abs()), "{name} {power} {i}: {got} {want}");
                    };
                    near(here.gradient[i], (up.value - down.value) / (2.0 * h));
                    for j in 0..=i {
                        let slope = (up.gradient[j] - down.gradient[j]) / (2.0 * h);
                        near(here.hessian[packed(i, j)], slope);
                    }
                }
            }
        }
    }
}
