//! The effect of one group, given the baseline and the spread: one number, one integral.

/// Points at which the density of an effect is read.
const NODES: usize = 128;
/// Drop of the logarithm of the density at the ends: what lies beyond is below the rounding of the integral.
const DROP: f64 = 24.0;
const ITERATIONS: usize = 200;
const LN_ROOT_TAU: f64 = 0.918_938_533_204_672_7;

/// What the records of a group say of its effect u: the likelihood is exp(failures u - exp(u) expected) times, for each
/// failure known to an interval, 1 - exp(-exp(u) c).
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Says {
    /// Failures at known ages.
    pub(super) failures: f64,
    /// Cumulative hazard of the baseline that its lamps went through while they were seen working.
    pub(super) expected: f64,
    /// Failures known to intervals: how many, and the cumulative hazard of the baseline over the interval.
    pub(super) between: Vec<(f64, f64)>,
}

/// The density of an effect at points of equal distance; it falls to nothing at both ends, where the trapezoid rule
/// is as exact as the numbers.
#[derive(Clone, Debug)]
pub(super) struct Effect {
    from: f64,
    step: f64,
    /// Chances of the points, which add up to 1.
    chance: Vec<f64>,
    /// Logarithm of the integral over the effect.
    pub(super) ln_total: f64,
}

impl Says {
    /// Log-likelihood of the effect, first and second derivative.
    fn at(&self, u: f64) -> [f64; 3] {
        let lift = u.exp();
        let hazard = lift * self.expected;
        let mut out = [self.failures * u - hazard, self.failures - hazard, -hazard];
        for (n, c) in &self.between {
            let y = lift * c;
            // y / (e^y - 1), and its derivative over u.
            let grown = y.exp_m1();
            let share = if grown > 0.0 && grown.is_finite() { y / grown } else { f64::from(u8::from(grown <= 0.0)) };
            out[0] += n * (-(-y).exp_m1()).ln();
            out[1] += n * share;
            out[2] += n * share * (1.0 - share - y);
        }
        out
    }

    /// What its lamps went through, a failure known to an interval counted to its middle.
    pub(super) fn shown(&self) -> f64 {
        self.expected + self.between.iter().map(|(n, c)| 0.5 * n * c).fold(0.0, |a, b| a + b)
    }

    /// Log-likelihood without an effect.
    pub(super) fn without(&self) -> f64 {
        self.at(0.0)[0]
    }

    /// The posterior density of the effect under a normal prior with mean 0; none where numbers end.
    pub(super) fn effect(&self, spread: f64) -> Option<Effect> {
        let precision = 1.0 / (spread * spread);
        let density = |u: f64| {
            let [value, first, second] = self.at(u);
            [value - 0.5 * precision * u * u, first - precision * u, second - precision]
        };
        let (mut mode, mut here) = (0.0, density(0.0));
        for _ in 0..ITERATIONS {
            let full = (-here[1] / here[2]).clamp(-2.0, 2.0);
            if full.abs() * (-here[2]).sqrt() < 1e-4 {
                break;
            }
            // The logarithm of the density is concave, so a step that is halved often enough rises.
            let mut step = full;
            let mut next = density(mode + step);
            while !(next[0] >= here[0]) && step.abs() > 1e-12 * spread {
                step *= 0.5;
                next = density(mode + step);
            }
            mode += step;
            here = next;
        }
        let unit = 1.0 / (-here[2]).sqrt();
        if !here[0].is_finite() || !unit.is_finite() {
            return None;
        }
        let end = |side: f64| {
            let mut width = 7.0 * unit;
            while density(mode + side * width)[0] > here[0] - DROP {
                width *= 1.25;
            }
            mode + side * width
        };
        let (from, to) = (end(-1.0), end(1.0));
        let step = (to - from) / (NODES - 1) as f64;
        let mut chance: Vec<f64> = (0..NODES).map(|j| (density(from + step * j as f64)[0] - here[0]).exp()).collect();
        let sum = chance.iter().fold(0.0, |a, b| a + b);
        for c in &mut chance {
            *c /= sum;
        }
        let ln_total = here[0] + (sum * step).ln() - LN_ROOT_TAU - spread.ln();
        Some(Effect { from, step, chance, ln_total })
    }
}

impl Effect {
    /// Points and their chances.
    pub(super) fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.chance.iter().enumerate().map(|(j, c)| (self.from + self.step * j as f64, *c))
    }

    /// The value below which the effect lies with chance `p`, the density straight between its points.
    pub(super) fn quantile(&self, p: f64) -> f64 {
        let mut below = 0.0;
        for (j, pair) in self.chance.windows(2).enumerate() {
            let [a, b] = [pair[0], pair[1]];
            let cell = 0.5 * (a + b);
            if below + cell >= p {
                let rest = (p - below).max(0.0);
                // Area a x + (b - a) x^2 / 2 = rest, solved without a difference of equals.
                let root = (a * a + 2.0 * (b - a) * rest).max(0.0).sqrt();
                let x = if a + root > 0.0 { 2.0 * rest / (a + root) } else { 0.0 };
                return self.from + self.step * (j as f64 + x.min(1.0));
            }
            below += cell;
        }
        self.from + self.step * (NODES - 1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math::quadrature::integrate;

    #[test]
    fn integrals_agree_with_adaptive_quadrature() {
        let cases = [
            (0.0, 0.3, vec![], 0.4),
            (0.0, 40.0, vec![], 2.5),
            (3.0, 0.2, vec![], 1.5),
            (250.0, 180.0, vec![], 0.05),
            (2.0, 1.1, vec![(1.0, 0.4), (3.0, 0.01)], 0.8),
            (0.0, 0.0, vec![(2.0, 1e-9)], 1.0),
        ];
        for (failures, expected, between, spread) in cases {
            let says = Says { failures, expected, between };
            let effect = says.effect(spread).unwrap();
            // Relative to the value without an effect, so that no factor under- or overflows.
            let zero = says.without();
            let f = |u: f64| (says.at(u)[0] - zero - 0.5 * (u / spread).powi(2) - spread.ln() - LN_ROOT_TAU).exp();
            let (from, to) = (effect.from, effect.from + effect.step * (NODES - 1) as f64);
            let whole = integrate(f, from, to, &[], 1e-11).unwrap();
            assert!((effect.ln_total - zero - whole.ln()).abs() < 1e-9, "{says:?} {} {}", effect.ln_total, whole.ln());
            let mean: f64 = effect.points().map(|(u, c)| u * c).sum();
            let by_quadrature = integrate(|u| u * f(u), from, to, &[0.0], 1e-10).unwrap() / whole;
            assert!((mean - by_quadrature).abs() < 1e-8 * spread.max(1.0), "{says:?}");
            for p in [0.025, 0.5, 0.9] {
                let q = effect.quantile(p);
                let share = integrate(f, from, q, &[], 1e-10).unwrap() / whole;
                assert!((share - p).abs() < 2e-3, "{says:?} {p} {share}");
            }
        }
    }
}
