//! The one likelihood on a clock with one unknown.
//!
//! ```text
//! a = u(t; c),  ln f(t) = ln f0(a) + ln du/dt,  ln R(t) = ln R0(a)
//! ```

use crate::base::error::Result;
use crate::base::math::linalg::packed;
use crate::base::math::sum;
use crate::family::{Family, Jet, Order, Term};
use crate::fit::likelihood::{Jets, Scratch, add_row};
use crate::fit::newton::{Point, Surface};
use crate::fit::sample::Row;

/// A value with its first and second derivative over the unknown.
pub(super) type Along = [f64; 3];

/// Turns the hours of a lamp into the age that wears it.
pub(super) trait Clock: Sync {
    /// The age on the clock at some hours, and the logarithm of its speed there.
    fn read(&self, lamp: usize, hours: f64, unknown: f64) -> (Along, Along);

    /// Whether the unknown may have this value.
    fn allows(&self, unknown: f64) -> bool;

    /// Smallest value of the unknown.
    fn floor(&self) -> f64;

    /// Natural size of a step of the unknown.
    fn step(&self) -> f64;
}

/// A row, its weight, and the lamp whose clock it runs on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lamp {
    pub(super) row: Row,
    pub(super) weight: f64,
    pub(super) place: usize,
}

/// The family's terms over (coordinates.., unknown).
struct Wound<'a, C> {
    family: &'a dyn Family,
    clock: &'a C,
    lamp: usize,
    inner: Jet,
}

impl<C: Clock> Jets for Wound<'_, C> {
    fn jet(&mut self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let Some((&unknown, base)) = x.split_last() else { return };
        let w = base.len();
        let (a, ln_speed) = self.clock.read(self.lamp, age, unknown);
        self.family.jet(base, a[0], term, order, &mut self.inner);
        let inner = &self.inner;
        let speed = if term == Term::LnDensity { ln_speed } else { [0.0; 3] };
        out.value = inner.value + speed[0];
        if order == Order::Value {
            return;
        }
        out.gradient[..w].copy_from_slice(&inner.gradient[..w]);
        out.gradient[w] = a[1] * inner.gradient[w] + speed[1];
        if order == Order::Gradient {
            return;
        }
        let last = packed(w, 0);
        out.hessian[..last].copy_from_slice(&inner.hessian[..last]);
        for i in 0..w {
            out.hessian[last + i] = a[1] * inner.hessian[last + i];
        }
        out.hessian[last + w] = a[1] * a[1] * inner.hessian[last + w] + a[2] * inner.gradient[w] + speed[2];
    }
}

/// The log-likelihood over (coordinates of the life.., unknown of the clock).
pub(super) struct Clocked<'s, C> {
    pub(super) family: &'s dyn Family,
    pub(super) clock: &'s C,
    pub(super) lamps: &'s [Lamp],
}

impl<C: Clock> Clocked<'_, C> {
    fn block(&self, range: std::ops::Range<usize>, x: &[f64], order: Order) -> Vec<f64> {
        let n = x.len();
        let mut out = vec![0.0; 1 + n + n * (n + 1) / 2];
        let mut jets = Wound { family: self.family, clock: self.clock, lamp: 0, inner: Jet::new(n - 1) };
        let mut scratch = Scratch::new(n);
        for one in self.lamps.get(range).unwrap_or_default() {
            jets.lamp = one.place;
            add_row(&mut jets, one.row, x, order, &mut scratch);
            out[0] += one.weight * scratch.total.value;
            if order >= Order::Gradient {
                out[1..=n].iter_mut().zip(&scratch.total.gradient).for_each(|(sum, d)| *sum += one.weight * d);
            }
            if order >= Order::Hessian {
                out[1 + n..].iter_mut().zip(&scratch.total.hessian).for_each(|(sum, d)| *sum += one.weight * d);
            }
        }
        out
    }
}

impl<C: Clock> Surface for Clocked<'_, C> {
    fn width(&self) -> usize {
        self.family.width() + 1
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let parts = sum::each_block(self.lamps.len(), |range| self.block(range, x, order));
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
        x.split_last().is_some_and(|(unknown, base)| self.family.inside(base) && self.clock.allows(*unknown))
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        let w = self.family.width();
        if i < w { self.family.step(&x[..w], i) } else { self.clock.step() }
    }

    fn floor(&self, i: usize) -> f64 {
        if i < self.family.width() { self.family.floor(i) } else { self.clock.floor() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::family;
    use crate::fit::sample::Evidence;

    /// A clock without a straight line in it.
    struct Bent;

    impl Clock for Bent {
        fn read(&self, lamp: usize, hours: f64, n: f64) -> (Along, Along) {
            let l = 0.1 + 0.2 * lamp as f64;
            // u = t^(1 + n l / 10): du/dt = (1 + n l / 10) t^(n l / 10).
            let (p, ln) = (1.0 + 0.1 * n * l, hours.ln());
            let u = hours.powf(p);
            let d = 0.1 * l;
            ([u, u * ln * d, u * (ln * d).powi(2)], [p.ln() + (p - 1.0) * ln, d / p + d * ln, -(d / p).powi(2)])
        }

        fn allows(&self, n: f64) -> bool {
            n.abs() < 5.0
        }

        fn floor(&self) -> f64 {
            f64::NEG_INFINITY
        }

        fn step(&self) -> f64 {
            1.0
        }
    }

    #[test]
    fn gradient_and_hessian_are_those_of_the_value_for_every_kind_of_row() {
        let inf = f64::INFINITY;
        let row = |evidence, entry, upper| Row { evidence, entry, upper };
        let rows = [
            row(Evidence::Exact(900.0), 0.0, inf),
            row(Evidence::Passed(400.0), 100.0, inf),
            row(Evidence::Between(500.0, 800.0), 200.0, inf),
            row(Evidence::Between(0.0, 350.0), 0.0, inf),
            row(Evidence::Exact(700.0), 0.0, 1000.0),
        ];
        let lamps: Vec<Lamp> =
            rows.iter().enumerate().map(|(i, row)| Lamp { row: *row, weight: 1.0 + i as f64, place: i % 3 }).collect();
        for (name, base) in [("weibull", vec![0.7, 6.8]), ("lognormal", vec![6.7, -0.6]), ("gamma", vec![1.0, 5.5])] {
            let surface = Clocked { family: family(name).unwrap(), clock: &Bent, lamps: &lamps };
            let x = [base.as_slice(), &[0.4]].concat();
            let at = |x: &[f64]| {
                let mut point = Point::new(x.len());
                surface.at(x, Order::Hessian, &mut point).unwrap();
                point
            };
            let here = at(&x);
            for i in 0..x.len() {
                let h = 1e-4;
                let moved = |s: f64| {
                    let mut y = x.clone();
                    y[i] += s * h;
                    at(&y)
                };
                let (up, down) = (moved(1.0), moved(-1.0));
                let near = |got: f64, want: f64| {
                    assert!((got - want).abs() <= 1e-5 * (1.0 + want.abs()), "{name} {i}: {got} {want}");
                };
                near(here.gradient[i], (up.value - down.value) / (2.0 * h));
                for j in 0..=i {
                    near(here.hessian[packed(i, j)], (up.gradient[j] - down.gradient[j]) / (2.0 * h));
                }
            }
        }
    }
}
