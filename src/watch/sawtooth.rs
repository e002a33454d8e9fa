//! How long a sum that falls steadily and jumps by one step stays below a bound: exact, strip by strip.

use crate::base::error::Result;
use crate::base::math::quadrature::GAUSS;
use crate::base::math::root::bracketed;

/// Terms of a power series inside one strip: where the sum does not rise on average, the n-th is at most 1 / n! of the first.
const TERMS: usize = 32;
/// Parts of a strip for an integral by the Gauss rule.
const PARTS: usize = 4;

/// A sum that falls by `fall` in a unit of time, not below 0, and jumps up by `step` at events that come at `rate`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sawtooth {
    /// Fall in a unit of time, above 0.
    pub(super) fall: f64,
    /// Height of a jump, above 0.
    pub(super) step: f64,
    /// Events in a unit of time, above 0.
    pub(super) rate: f64,
}

/// A power series over one strip.
#[derive(Clone, Copy)]
struct Series([f64; TERMS]);

impl Series {
    /// The value at `t`.
    fn at(&self, t: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, c| sum * t + c)
    }

    /// Its integral from 0 to `t`.
    fn integral(&self, t: f64) -> f64 {
        t * self.0.iter().enumerate().rev().fold(0.0, |sum, (n, c)| sum * t + c / (n + 1) as f64)
    }

    /// The integral of that integral from 0 to `t`.
    fn twice(&self, t: f64) -> f64 {
        let over = |n: usize| ((n + 1) * (n + 2)) as f64;
        t * t * self.0.iter().enumerate().rev().fold(0.0, |sum, (n, c)| sum * t + c / over(n))
    }
}

/// The scale function of the sum turned upside down, with what else is asked of it at one bound.
struct Scale {
    value: f64,
    slope: f64,
    /// Integral from 0 to the bound.
    integral: f64,
    /// Integral of exp(tilt x) times the slope from 0 to the bound.
    tilted: f64,
}

impl Sawtooth {
    /// Mean time until the sum, started at 0, first reaches `bound`.
    ///
    /// # Formula
    /// ```text
    /// W(h)^2 / W'(h) - integral of W over (0, h)
    /// fall W'(x) = rate (W(x) - W(x - step)), W(0) = 1 / fall, W(x) = 0 for x < 0
    /// ```
    /// W is the scale function of fall x time - step x events. Where the sum rises on average, W grows as exp(tilt x); it
    /// is then taken as exp(tilt x) times the scale function at the rate `rate exp(-tilt step)`, which is bounded, so that
    /// no two large numbers are subtracted.
    ///
    /// # Source
    /// M. R. Pistorius (2004), On exit and ergodicity of the spectrally one-sided Levy process reflected at its infimum,
    /// Journal of Theoretical Probability 17, 183-220. From memory; checked against simulation.
    pub(super) fn mean_time(self, bound: f64) -> Result<f64> {
        let tilt = self.tilt()?;
        if tilt * bound < 1.0 {
            let w = self.scale(bound, 0.0);
            return Ok(w.value * w.value / w.slope - w.integral);
        }
        let calm = Self { rate: self.rate * (-tilt * self.step).exp(), ..self };
        let v = calm.scale(bound, tilt);
        let q = v.slope / (v.value * tilt);
        Ok((1.0 / self.fall + v.tilted - (tilt * bound).exp() * v.slope / (tilt * (1.0 + q))) / tilt)
    }

    /// The root above 0 of fall x tilt = rate (1 - exp(-tilt step)); 0 where the sum does not rise on average.
    fn tilt(self) -> Result<f64> {
        let load = self.rate * self.step / self.fall;
        if load <= 1.0 {
            return Ok(0.0);
        }
        // In units of 1 / step: y = load (1 - exp(-y)) has one root between ln(load) and load.
        let y = bracketed(|y| Ok(y + load * (-y).exp_m1()), load.ln(), load, 1e-15 * load)?;
        Ok(y / self.step)
    }

    /// Strip by strip: the slope of W solves slope(x) = rate / fall x (its integral over the last step), which adds up
    /// positive numbers only, and inside a strip its power series follows from that of the strip before.
    fn scale(self, bound: f64, tilt: f64) -> Scale {
        let (b, step) = (self.rate / self.fall, self.step);
        let mut slope = Series([0.0; TERMS]);
        let mut term = b / self.fall;
        for (n, c) in slope.0.iter_mut().enumerate() {
            *c = term;
            term *= b / (n + 1) as f64;
        }
        let mut out = Scale { value: 1.0 / self.fall, slope: 0.0, integral: 0.0, tilted: 0.0 };
        let mut from = 0.0;
        loop {
            let t = step.min(bound - from);
            out.slope = slope.at(t);
            out.integral += out.value * t + slope.twice(t);
            if tilt > 0.0 {
                out.tilted += (tilt * from).exp() * tilted(&slope, tilt, t);
            }
            out.value += slope.integral(t);
            if from + step >= bound {
                return out;
            }
            from += step;
            let mut next = Series([0.0; TERMS]);
            let mut c = b * slope.integral(step);
            for (n, (new, old)) in next.0.iter_mut().zip(&slope.0).enumerate() {
                *new = c;
                c = b * (c - old) / (n + 1) as f64;
            }
            slope = next;
        }
    }
}

/// Integral of exp(tilt t) times a series from 0 to `to`.
fn tilted(slope: &Series, tilt: f64, to: f64) -> f64 {
    let width = to / PARTS as f64;
    let at = |part: usize, node: f64| (part as f64 + node) * width;
    let inside = |part| GAUSS.iter().map(move |&(node, weight)| (at(part, node), weight * width));
    (0..PARTS).flat_map(inside).map(|(t, weight)| weight * (tilt * t).exp() * slope.at(t)).fold(0.0, |a, b| a + b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Stream;

    /// Of a chart tuned to a hazard ratio: mean time to the bound, by the same closed form summed with 60 digits.
    const EXACT: [(f64, f64, f64, f64); 12] = [
        (1.5, 3.0, 1.0, 199.481_371_516_89),
        (1.5, 9.0, 1.0, 97_996.214_268_809),
        (1.5, 12.0, 2.0, 37.833_710_203_575),
        (2.0, 3.0, 1.0, 68.636_091_124_237),
        (2.0, 6.0, 1.0, 1_631.583_223_358_8),
        (2.0, 6.0, 2.0, 13.579_586_037_28),
        (2.0, 9.0, 1.0, 33_210.335_766_273),
        (2.0, 12.0, 3.0, 10.979_598_432_739),
        (2.0, 15.0, 1.0, 13_411_385.609_164),
        (2.0, 15.0, 3.0, 13.758_813_317_598),
        (3.0, 12.0, 2.0, 36.977_025_930_5),
        (5.0, 12.0, 3.0, 10.401_794_562_113),
    ];

    fn chart(tuned: f64, rate: f64) -> Sawtooth {
        Sawtooth { fall: tuned - 1.0, step: tuned.ln(), rate }
    }

    #[test]
    fn mean_times_agree_with_sixty_digits() {
        for (tuned, bound, rate, exact) in EXACT {
            let got = chart(tuned, rate).mean_time(bound).unwrap();
            assert!((got / exact - 1.0).abs() < 1e-9, "{tuned} {bound} {rate}: {got} against {exact}");
        }
    }

    #[test]
    fn mean_times_agree_with_simulation() {
        for (tuned, bound, rate) in [(2.0, 2.5, 1.0), (2.0, 3.2, 3.0), (3.0, 2.3, 1.0), (1.5, 2.5, 1.0)] {
            let chart = chart(tuned, rate);
            let mut stream = Stream::new(11, "watch", "sawtooth", 0);
            let (mut sum, mut squares, runs) = (0.0, 0.0, 20_000);
            for _ in 0..runs {
                let (mut height, mut time): (f64, f64) = (0.0, 0.0);
                while height < bound {
                    let gap = stream.exponential() / rate;
                    time += gap;
                    height = (height - chart.fall * gap).max(0.0) + chart.step;
                }
                sum += time;
                squares += time * time;
            }
            let mean = sum / f64::from(runs);
            let error = ((squares / f64::from(runs) - mean * mean) / f64::from(runs)).sqrt();
            let exact = chart.mean_time(bound).unwrap();
            assert!((mean - exact).abs() < 4.0 * error, "{tuned} {bound} {rate}: {mean} against {exact}");
        }
    }

    #[test]
    fn below_one_step_the_first_event_reaches_the_bound() {
        for bound in [1e-6, 0.3, 0.693] {
            assert!((chart(2.0, 1.0).mean_time(bound).unwrap() - 1.0).abs() < 1e-12);
            assert!((chart(2.0, 4.0).mean_time(bound).unwrap() - 0.25).abs() < 1e-12);
        }
    }
}
