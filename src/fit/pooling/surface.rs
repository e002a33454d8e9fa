//! The likelihood of the baselines with the effects of the groups integrated out, at one spread.

use super::effect::Effect;
use super::sample::{Grouped, Slopes};
use crate::base::error::Result;
use crate::base::math::linalg::packed;
use crate::family::Order;
use crate::fit::newton::{Point, Surface};

/// Log-likelihood over the coordinates of the baselines.
#[derive(Debug)]
pub(super) struct Marginal<'g> {
    pub(super) grouped: &'g Grouped<'g>,
    /// Standard deviation of the effects; 0 where all groups are alike.
    pub(super) spread: f64,
}

/// Derivatives of the log-likelihood of a group at an effect.
fn derivatives(group: &Slopes, u: f64, order: Order, first: &mut [f64], second: &mut [f64]) {
    let lift = u.exp();
    for ((slot, a), b) in first.iter_mut().zip(&group.ln_hazard.gradient).zip(&group.expected.gradient) {
        *slot = a - lift * b;
    }
    for ((slot, a), b) in second.iter_mut().zip(&group.ln_hazard.hessian).zip(&group.expected.hessian) {
        *slot = a - lift * b;
    }
    for (across, (n, c)) in group.between.iter().zip(&group.says.between) {
        // d/dc of ln(1 - exp(-lift c)), and again.
        let grown = (lift * c).exp_m1();
        let rate = if grown.is_finite() { lift / grown } else { 0.0 };
        for (slot, d) in first.iter_mut().zip(&across.gradient) {
            *slot += n * rate * d;
        }
        if order < Order::Hessian {
            continue;
        }
        let bend = -rate * (lift + rate);
        for i in 0..first.len() {
            for j in 0..=i {
                let k = packed(i, j);
                second[k] += n * (rate * across.hessian[k] + bend * across.gradient[i] * across.gradient[j]);
            }
        }
    }
}

impl Surface for Marginal<'_> {
    fn width(&self) -> usize {
        self.grouped.width()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let n = x.len();
        out.value = 0.0;
        out.gradient.fill(0.0);
        out.hessian.fill(0.0);
        let (mut first, mut second) = (vec![0.0; n], vec![0.0; n * (n + 1) / 2]);
        for group in self.grouped.slopes(x, order) {
            let effect = (self.spread > 0.0).then(|| group.says.effect(self.spread));
            let effect = match effect {
                Some(None) => {
                    out.value = f64::NAN;
                    return Ok(());
                }
                Some(effect) => effect,
                None => None,
            };
            out.value += group.ln_hazard.value + effect.as_ref().map_or(group.says.without(), |e| e.ln_total);
            if order < Order::Gradient {
                continue;
            }
            let alone = effect.is_none().then_some((0.0, 1.0));
            let points = effect.iter().flat_map(Effect::points).chain(alone);
            let mut mean = vec![0.0; n];
            for (u, chance) in points {
                derivatives(&group, u, order, &mut first, &mut second);
                for i in 0..n {
                    mean[i] += chance * first[i];
                    for j in 0..=i {
                        let k = packed(i, j);
                        out.hessian[k] += chance * (second[k] + first[i] * first[j]);
                    }
                }
            }
            for i in 0..n {
                out.gradient[i] += mean[i];
                for j in 0..=i {
                    out.hessian[packed(i, j)] -= mean[i] * mean[j];
                }
            }
        }
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        let mut parts = x.chunks(self.grouped.family.width());
        parts.all(|c| self.grouped.family.inside(c))
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        let w = self.grouped.family.width();
        let from = i - i % w;
        self.grouped.family.step(&x[from..from + w], i % w)
    }

    fn floor(&self, i: usize) -> f64 {
        self.grouped.family.floor(i % self.grouped.family.width())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::family;
    use crate::fit::sample::Sample;
    use crate::lives::{Group, Rows, Tally};

    #[test]
    fn derivatives_are_those_of_the_value() {
        let name = |stratum: &str, cluster: &str| Group {
            stratum: stratum.into(),
            cluster: cluster.into(),
            ..Group::default()
        };
        let inf = f64::INFINITY;
        let rows = Rows {
            low: vec![300.0, 500.0, 800.0, 400.0, 0.0, 900.0, 700.0, 650.0],
            high: vec![300.0, inf, 800.0, 600.0, 250.0, inf, 700.0, inf],
            entry: Some(vec![0.0, 100.0, 200.0, 0.0, 0.0, 300.0, 0.0, 0.0]),
            group: Some(vec![0, 0, 1, 1, 2, 2, 3, 3]),
            groups: vec![name("a", "x"), name("a", "y"), name("b", "x"), name("b", "z")],
            count: Some(vec![2, 3, 1, 2, 1, 4, 2, 1]),
            ..Rows::default()
        };
        let tally = Tally::from_rows(&rows).unwrap().0;
        let sample = Sample::new(&tally, None, None).unwrap();
        let grouped = Grouped::new(family("weibull").unwrap(), &sample, "cluster", None).unwrap();
        assert_eq!((grouped.width(), grouped.names.len(), grouped.failures.clone()), (4, 3, vec![3, 3, 2]));
        let x = [0.6, 6.6, 0.3, 6.9];
        for spread in [0.0, 0.05, 0.7] {
            let surface = Marginal { grouped: &grouped, spread };
            let at = |x: &[f64]| {
                let mut p = Point::new(4);
                surface.at(x, Order::Hessian, &mut p).unwrap();
                p
            };
            let here = at(&x);
            for i in 0..4 {
                let moved = |h: f64| {
                    let mut y = x;
                    y[i] += h;
                    at(&y)
                };
                let (up, down) = (moved(1e-5), moved(-1e-5));
                let slope = (up.value - down.value) / 2e-5;
                assert!((slope - here.gradient[i]).abs() < 1e-6 * (1.0 + slope.abs()), "{spread} {i}");
                for j in 0..4 {
                    let bend = (up.gradient[j] - down.gradient[j]) / 2e-5;
                    let k = packed(i, j);
                    assert!((bend - here.hessian[k]).abs() < 1e-5 * (1.0 + bend.abs()), "{spread} {i} {j}");
                }
            }
            let (ln_hazard, says) = grouped.says(&x).unwrap();
            let value: f64 =
                says.iter().map(|s| if spread > 0.0 { s.effect(spread).unwrap().ln_total } else { s.without() }).sum();
            assert!((ln_hazard + value - here.value).abs() < 1e-10 * here.value.abs());
        }
    }
}
