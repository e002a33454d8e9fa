//! A density kept in pieces: its integral to any point, and the point to any share, without asking it again.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Problem, Result};

/// Pieces after which a density that still has not settled is refused.
const MOST: usize = 2_000;
/// Positive nodes and weights of the 16-point Gauss rule on (-1, 1), exact for polynomials to degree 31.
const HALF: [(f64, f64); N / 2] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_58),
    (0.458_016_777_657_227_37, 0.169_156_519_395_002_54),
    (0.617_876_244_402_643_8, 0.149_595_988_816_576_74),
    (0.755_404_408_355_003, 0.124_628_971_255_533_88),
    (0.865_631_202_387_831_8, 0.095_158_511_682_492_79),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_894),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_096),
];
/// Nodes of a piece.
const N: usize = 16;

/// Nodes on (0, 1), ascending, and weights that add up to 1.
fn rule() -> impl Iterator<Item = (f64, f64)> {
    let left = HALF.iter().rev().map(|(x, w)| (0.5 - 0.5 * x, 0.5 * w));
    left.chain(HALF.iter().map(|(x, w)| (0.5 + 0.5 * x, 0.5 * w)))
}

/// A function above or at 0 over a range, as polynomials through the nodes of Gauss rules on pieces of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pieces {
    /// Ends of the pieces, one more than there are.
    edges: Vec<f64>,
    /// Values at the nodes of each piece.
    values: Vec<[f64; N]>,
    /// Integral up to each edge.
    below: Vec<f64>,
}

/// Legendre polynomials 0 to N at y in (-1, 1).
fn legendre(y: f64) -> [f64; N + 1] {
    let mut p = [1.0; N + 1];
    p[1] = y;
    for j in 1..N {
        let n = j as f64;
        p[j + 1] = ((2.0 * n + 1.0) * y * p[j] - n * p[j - 1]) / (n + 1.0);
    }
    p
}

/// Legendre coefficients of the polynomial through the values at the nodes.
fn coefficients(values: &[f64; N]) -> [f64; N] {
    let mut c = [0.0; N];
    for ((x, weight), value) in rule().zip(values) {
        let p = legendre(2.0 * x - 1.0);
        for (j, slot) in c.iter_mut().enumerate() {
            *slot += (2.0 * j as f64 + 1.0) * weight * value * p[j];
        }
    }
    c
}

/// Share of a piece's width under its polynomial up to the share `t` of the way.
fn partial(values: &[f64; N], t: f64) -> f64 {
    let (c, p) = (coefficients(values), legendre(2.0 * t - 1.0));
    let mut sum = c[0] * t;
    for j in 1..N {
        sum += c[j] * (p[j + 1] - p[j - 1]) / (2.0 * (2.0 * j as f64 + 1.0));
    }
    sum
}

impl Pieces {
    /// The range that the pieces cover.
    pub fn ends(&self) -> [f64; 2] {
        [self.edges.first(), self.edges.last()].map(|edge| edge.copied().unwrap_or(f64::NAN))
    }

    /// Cuts (from, to) into pieces until each polynomial agrees with the function.
    ///
    /// # Arguments
    /// `first`: equal pieces to begin with. `relative`: size of a piece's two highest coefficients times its width,
    /// relative to the whole integral, from which it is kept.
    ///
    /// # Errors
    /// `base.integral_range` unless both ends are finite and in order; `base.integral_unsettled` after 2,000 pieces or
    /// where the function is not finite; the errors of the function.
    ///
    /// # Examples
    /// ```
    /// use relamp::base::math::pieces::Pieces;
    /// let bell = Pieces::of(&mut |x: f64| Ok((-0.5 * x * x).exp()), -9.0, 9.0, 6, 1e-12)?;
    /// assert!((bell.total() - (2.0 * std::f64::consts::PI).sqrt()).abs() < 1e-12);
    /// assert!((bell.quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-9);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn of(f: &mut dyn FnMut(f64) -> Result<f64>, from: f64, to: f64, first: usize, relative: f64) -> Result<Self> {
        if !(from < to && from.is_finite() && to.is_finite()) {
            let problem = Problem::new("base.integral_range", "a density in pieces needs two finite ends in order")
                .got(format!("({from}, {to})"));
            return Err(Error::new(Kind::Domain, problem));
        }
        let mut look = |a: f64, b: f64| -> Result<[f64; N]> {
            let mut values = [0.0; N];
            for (slot, (x, _)) in values.iter_mut().zip(rule()) {
                *slot = f(a + (b - a) * x)?;
            }
            if values.iter().all(|v| v.is_finite()) { Ok(values) } else { Err(unsettled()) }
        };
        let mut waiting = Vec::new();
        let step = (to - from) / first.max(1) as f64;
        let mut rough = 0.0;
        for i in (0..first.max(1)).rev() {
            let (a, b) =
                (from + step * i as f64, if i + 1 == first.max(1) { to } else { from + step * (i + 1) as f64 });
            let values = look(a, b)?;
            rough += area(&values) * (b - a);
            waiting.push((a, b, values));
        }
        let mut made = Self { edges: vec![from], values: Vec::new(), below: vec![0.0] };
        let mut total = 0.0;
        while let Some((a, b, values)) = waiting.pop() {
            let c = coefficients(&values);
            let rest = (c[N - 1].abs() + c[N - 2].abs()) * (b - a);
            let middle = f64::midpoint(a, b);
            if rest > relative * rough.max(total) && a < middle && middle < b {
                if made.values.len() + waiting.len() >= MOST {
                    return Err(unsettled());
                }
                let (left, right) = (look(a, middle)?, look(middle, b)?);
                rough += area(&left) * (middle - a) + area(&right) * (b - middle) - area(&values) * (b - a);
                waiting.push((middle, b, right));
                waiting.push((a, middle, left));
                continue;
            }
            total += area(&values) * (b - a);
            made.edges.push(b);
            made.values.push(values);
            made.below.push(total);
        }
        Ok(made)
    }

    /// The integral over the whole range.
    pub fn total(&self) -> f64 {
        self.below.last().copied().unwrap_or(0.0)
    }

    /// Both ends of the range.
    pub fn range(&self) -> (f64, f64) {
        (self.edges.first().copied().unwrap_or(f64::NAN), self.edges.last().copied().unwrap_or(f64::NAN))
    }

    /// The integral up to `x`.
    pub fn below(&self, x: f64) -> f64 {
        let i = self.edges.partition_point(|e| *e <= x);
        let piece = i
            .checked_sub(1)
            .and_then(|i| Some((self.edges.get(i)?, self.edges.get(i + 1)?, self.values.get(i)?, self.below.get(i)?)));
        match piece {
            Some((a, b, values, below)) => below + (b - a) * partial(values, (x - a) / (b - a)),
            None if i == 0 => 0.0,
            None => self.total(),
        }
    }

    /// The point below which a share `p` of the whole lies.
    pub fn quantile(&self, p: f64) -> f64 {
        let want = p * self.total();
        let i = self.below.partition_point(|b| *b < want).clamp(1, self.values.len()) - 1;
        let (Some(a), Some(b), Some(values), Some(below)) =
            (self.edges.get(i), self.edges.get(i + 1), self.values.get(i), self.below.get(i))
        else {
            return f64::NAN;
        };
        // The integral rises over the piece: halving cannot fail, and 60 of it leave nothing.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let t = f64::midpoint(low, high);
            if below + (b - a) * partial(values, t) < want {
                low = t;
            } else {
                high = t;
            }
        }
        a + (b - a) * f64::midpoint(low, high)
    }

    /// Every node with its share of the integral, in order.
    pub fn nodes(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.values.iter().zip(self.edges.iter().zip(self.edges.iter().skip(1))).flat_map(|(values, (a, b))| {
            rule().zip(values).map(move |((x, weight), value)| (a + (b - a) * x, (b - a) * weight * value))
        })
    }
}

fn area(values: &[f64; N]) -> f64 {
    values.iter().zip(rule()).map(|(v, (_, weight))| v * weight).sum()
}

fn unsettled() -> Error {
    Error::new(Kind::Refused, Problem::new("base.integral_unsettled", "a density in pieces did not settle"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integrals_to_any_point_are_those_of_the_function() {
        // Exponential decay from 0 and a jump of slope: closed forms.
        let fall = Pieces::of(&mut |x: f64| Ok((-x).exp()), 0.0, 40.0, 4, 1e-13).unwrap();
        for x in [0.0, 0.1, 1.0, 7.3, 39.9, 40.0, 50.0] {
            let want = -(-f64::min(x, 40.0)).exp_m1();
            assert!((fall.below(x) - want).abs() < 1e-12, "{x}");
        }
        assert_eq!(fall.below(-1.0), 0.0);
        for p in [1e-6, 0.3, 0.5, 0.999] {
            assert!((fall.below(fall.quantile(p)) / fall.total() - p).abs() < 1e-13);
        }
        let kink = Pieces::of(&mut |x: f64| Ok((x - 0.3).abs()), 0.0, 1.0, 1, 1e-10).unwrap();
        assert!((kink.total() - (0.045 + 0.245)).abs() < 1e-9);
        let sum: f64 = fall.nodes().map(|(x, share)| x * share).sum();
        assert!((sum - 1.0).abs() < 1e-12); // the mean
    }

    #[test]
    fn what_is_not_finite_is_refused() {
        let slug = Pieces::of(&mut |x: f64| Ok(1.0 / (x - 0.5)), 0.0, 1.0, 1, 1e-10).unwrap_err().slug();
        assert_eq!(slug, "base.integral_unsettled");
        let slug = Pieces::of(&mut Ok, 1.0, 1.0, 1, 1e-10).unwrap_err().slug();
        assert_eq!(slug, "base.integral_range");
    }
}
