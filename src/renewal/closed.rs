//! Lives whose sums have a known distribution: exponential and gamma, Erlang among them.

use super::table::Means;
use crate::family::{Gamma, Life};

/// Mean changes up to which the terms are summed; beyond, the long-run line is as good.
const MOST_MEAN: f64 = 2_000.0;
/// Terms below this share of the sum end it.
const NEGLIGIBLE: f64 = 1e-18;
/// Probabilities below this are left out at either end.
pub(super) const LEAST: f64 = 1e-30;

/// A life of gamma shape and scale: the n-th change of lamps that run to failure has shape n times that.
#[derive(Clone, Copy, Debug)]
pub(super) struct Closed {
    shape: f64,
    scale: f64,
}

impl Closed {
    /// The gamma life that a life is, if it is one.
    pub(super) fn of(life: &dyn Life) -> Option<Self> {
        let named = life.named()?;
        match (named.family.as_str(), named.parameters.as_slice()) {
            ("exponential", [scale]) => Some(Self { shape: 1.0, scale: *scale }),
            ("weibull", [shape, scale]) if *shape == 1.0 => Some(Self { shape: 1.0, scale: *scale }),
            ("gamma", [shape, scale]) => Some(Self { shape: *shape, scale: *scale }),
            _ => None,
        }
    }

    /// Whether a lamp of any age is as good as new.
    pub(super) fn ageless(self) -> bool {
        self.shape == 1.0
    }

    /// Whether the sums are short enough.
    pub(super) fn reaches(self, hours: f64) -> bool {
        self.ageless() || hours <= MOST_MEAN * self.shape * self.scale
    }

    /// Whether the distribution is short enough.
    pub(super) fn counts_reach(self, hours: f64) -> bool {
        hours <= MOST_MEAN * self.shape * self.scale
    }

    /// Mean changes: F(t) + F2(t) + ..., Fn of shape n times the shape.
    pub(super) fn means(self, hours: f64) -> Means {
        if self.ageless() {
            let x = hours / self.scale;
            return Means { planned: 0.0, failures: x, second: x * x };
        }
        let (mut failures, mut second, mut n) = (0.0, 0.0, 1.0);
        loop {
            let term = self.nth(n).failure_probability(hours);
            failures += term;
            second += 2.0 * (n - 1.0) * term;
            if term <= NEGLIGIBLE * failures {
                return Means { planned: 0.0, failures, second };
            }
            n += 1.0;
        }
    }

    /// The hours to the n-th change.
    fn nth(self, n: f64) -> Gamma {
        Gamma { shape: n * self.shape, scale: self.scale }
    }

    /// Probabilities of 0, 1, 2, ... changes.
    pub(super) fn probabilities(self, hours: f64) -> Vec<f64> {
        let side = |n: f64| {
            let nth = self.nth(n);
            if n == 0.0 { (1.0, 0.0) } else { (nth.failure_probability(hours), nth.reliability(hours)) }
        };
        let (mut out, mut n) = (Vec::new(), 0.0);
        let (mut by, mut not) = side(n);
        loop {
            n += 1.0;
            let (next_by, next_not) = side(n);
            // Of the two differences the one of smaller numbers keeps its digits.
            let p = if by < 0.5 { by - next_by } else { next_not - not };
            out.push(p.max(0.0));
            (by, not) = (next_by, next_not);
            if by < LEAST {
                return out;
            }
        }
    }
}
