//! Numbers that carry their first and second derivatives, so that a formula is written once.

use std::ops::{Add, Div, Mul, Neg, Sub};

use super::linalg::packed;

/// A plain number, or one that carries derivatives. Formulas of the life families are written over it.
pub trait Number:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
{
    /// A number that does not depend on anything.
    fn constant(value: f64) -> Self;

    /// The value alone.
    fn value(self) -> f64;

    /// The same derivatives with a value known more exactly.
    #[must_use]
    fn with_value(self, value: f64) -> Self;

    /// A function of one number, which gives its value and first two derivatives.
    #[must_use]
    fn map(self, f: impl FnOnce(f64) -> [f64; 3]) -> Self;

    /// A function g(a, b), which gives `[g, g_a, g_b, g_aa, g_ab, g_bb]`.
    fn map2(a: Self, b: Self, f: impl FnOnce(f64, f64) -> [f64; 6]) -> Self;

    /// e to this power.
    #[must_use]
    fn exp(self) -> Self {
        self.map(|x| [x.exp(); 3])
    }

    /// Natural logarithm.
    #[must_use]
    fn ln(self) -> Self {
        self.map(|x| [x.ln(), 1.0 / x, -1.0 / (x * x)])
    }

    /// Square root.
    #[must_use]
    fn sqrt(self) -> Self {
        self.map(|x| {
            let r = x.sqrt();
            [r, 0.5 / r, -0.25 / (r * x)]
        })
    }
}

impl Number for f64 {
    #[inline]
    fn constant(value: f64) -> Self {
        value
    }

    #[inline]
    fn value(self) -> f64 {
        self
    }

    #[inline]
    fn with_value(self, value: f64) -> Self {
        value
    }

    #[inline]
    fn map(self, f: impl FnOnce(f64) -> [f64; 3]) -> Self {
        f(self)[0]
    }

    #[inline]
    fn map2(a: Self, b: Self, f: impl FnOnce(f64, f64) -> [f64; 6]) -> Self {
        f(a, b)[0]
    }

    #[inline]
    fn exp(self) -> Self {
        f64::exp(self)
    }

    #[inline]
    fn ln(self) -> Self {
        f64::ln(self)
    }

    #[inline]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
}

/// A value with `N` first derivatives and `M` = N (N + 1) / 2 second ones, packed by rows of the lower triangle.
///
/// # Examples
/// ```
/// use relamp::base::math::dual::{Dual, Number};
/// let x = Dual::<1, 1>::variable(3.0, 0);
/// let y = x * x * x;
/// assert_eq!((y.value, y.first, y.second), (27.0, [27.0], [18.0]));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dual<const N: usize, const M: usize> {
    /// Value.
    pub value: f64,
    /// First derivatives.
    pub first: [f64; N],
    /// Packed second derivatives.
    pub second: [f64; M],
}

impl<const N: usize, const M: usize> Dual<N, M> {
    /// The variable of index `i`.
    pub fn variable(value: f64, i: usize) -> Self {
        let mut first = [0.0; N];
        if let Some(slot) = first.get_mut(i) {
            *slot = 1.0;
        }
        Self { value, first, second: [0.0; M] }
    }

    /// Applies value and derivatives of a function of one number.
    #[inline]
    fn through(self, [value, d1, d2]: [f64; 3]) -> Self {
        let mut out = Self { value, first: self.first.map(|g| times(d1, g)), second: self.second };
        for i in 0..N {
            for j in 0..=i {
                let k = packed(i, j);
                out.second[k] = times(d1, self.second[k]) + times(d2, times(self.first[i], self.first[j]));
            }
        }
        out
    }
}

/// Product that keeps 0 when a far tail is infinite.
#[inline]
fn times(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

impl<const N: usize, const M: usize> Number for Dual<N, M> {
    fn constant(value: f64) -> Self {
        Self { value, first: [0.0; N], second: [0.0; M] }
    }

    fn value(self) -> f64 {
        self.value
    }

    fn with_value(mut self, value: f64) -> Self {
        self.value = value;
        self
    }

    #[inline]
    fn map(self, f: impl FnOnce(f64) -> [f64; 3]) -> Self {
        self.through(f(self.value))
    }

    fn map2(a: Self, b: Self, f: impl FnOnce(f64, f64) -> [f64; 6]) -> Self {
        let [value, ga, gb, gaa, gab, gbb] = f(a.value, b.value);
        let mut out = Self::constant(value);
        for i in 0..N {
            out.first[i] = times(ga, a.first[i]) + times(gb, b.first[i]);
            for j in 0..=i {
                let k = packed(i, j);
                let mixed = times(a.first[i], b.first[j]) + times(a.first[j], b.first[i]);
                out.second[k] = times(ga, a.second[k])
                    + times(gb, b.second[k])
                    + times(gaa, times(a.first[i], a.first[j]))
                    + times(gab, mixed)
                    + times(gbb, times(b.first[i], b.first[j]));
            }
        }
        out
    }
}

impl<const N: usize, const M: usize> Add for Dual<N, M> {
    type Output = Self;

    fn add(mut self, other: Self) -> Self {
        self.value += other.value;
        self.first.iter_mut().zip(other.first).for_each(|(a, b)| *a += b);
        self.second.iter_mut().zip(other.second).for_each(|(a, b)| *a += b);
        self
    }
}

impl<const N: usize, const M: usize> Neg for Dual<N, M> {
    type Output = Self;

    fn neg(self) -> Self {
        Self { value: -self.value, first: self.first.map(|v| -v), second: self.second.map(|v| -v) }
    }
}

impl<const N: usize, const M: usize> Sub for Dual<N, M> {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl<const N: usize, const M: usize> Mul for Dual<N, M> {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        Self::map2(self, other, |a, b| [a * b, b, a, 0.0, 1.0, 0.0])
    }
}

impl<const N: usize, const M: usize> Div for Dual<N, M> {
    type Output = Self;

    fn div(self, other: Self) -> Self {
        Self::map2(self, other, |a, b| {
            let q = a / b;
            [q, 1.0 / b, -q / b, 0.0, -1.0 / (b * b), 2.0 * q / (b * b)]
        })
    }
}

impl<const N: usize, const M: usize> Add<f64> for Dual<N, M> {
    type Output = Self;

    fn add(mut self, other: f64) -> Self {
        self.value += other;
        self
    }
}

impl<const N: usize, const M: usize> Sub<f64> for Dual<N, M> {
    type Output = Self;

    fn sub(self, other: f64) -> Self {
        self + -other
    }
}

impl<const N: usize, const M: usize> Mul<f64> for Dual<N, M> {
    type Output = Self;

    fn mul(self, other: f64) -> Self {
        let by = |v: f64| times(v, other);
        Self { value: self.value * other, first: self.first.map(by), second: self.second.map(by) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_of_calculus_hold() {
        // g = x^2 y + ln(x / y) + sqrt(x) exp(y) - 3 x at (2, 0.5), derivatives by hand.
        let (x, y) = (Dual::<2, 3>::variable(2.0, 0), Dual::<2, 3>::variable(0.5, 1));
        let g = x * x * y + (x / y).ln() + x.sqrt() * y.exp() - x * 3.0 + 1.0 - 1.0;
        let (r, e) = (2f64.sqrt(), 0.5f64.exp());
        let want = [
            2.0 + 4f64.ln() + r * e - 6.0,
            2.0 + 0.5 + 0.5 / r * e - 3.0,
            4.0 - 2.0 + r * e,
            1.0 - 0.25 - 0.25 / (r * 2.0) * e,
            4.0 + 0.5 / r * e,
            4.0 + r * e,
        ];
        for (got, want) in [g.value].iter().chain(&g.first).chain(&g.second).zip(want) {
            assert!((got - want).abs() < 1e-14, "{got} {want}");
        }
    }

    #[test]
    fn an_infinite_slope_does_not_spoil_what_stands_still() {
        let x = Dual::<2, 3>::variable(1000.0, 0).exp();
        assert_eq!((x.value, x.first), (f64::INFINITY, [f64::INFINITY, 0.0]));
        assert!(x.second.iter().all(|h| !h.is_nan()));
    }
}
