//! From a formula written once over [`Number`] to the jet of a family, and functions of one number that formulas share.

use super::chain::flat;
use super::traits::{Jet, Link, Order, Term};
use super::weibull::ln_f_derivatives;
use crate::base::math::dual::{Dual, Number};
use crate::base::math::special::{ln_normal_cdf, ln_normal_density, ln_one_minus_exp_neg, mills_slopes, normal_hazard};

/// The three logarithms of a life over (parameters.., age), `K` numbers in all, at a finite age inside its support.
/// `p` holds the numbers, `ln` their logarithms where they are positive: a formula takes whichever loses nothing.
pub(super) trait Formula<const K: usize> {
    fn term<T: Number>(term: Term, p: [T; K], ln: [T; K]) -> T;

    /// The plain number.
    fn plain(term: Term, p: [f64; K]) -> f64 {
        Self::term(term, p, p.map(f64::ln))
    }
}

/// ln(a / b) from both and their logarithms: value from the ratio, derivatives from the logarithms, so that what
/// cancels cancels exactly.
pub(super) fn ln_ratio<T: Number>(a: T, b: T, ln_a: T, ln_b: T) -> T {
    let ratio = a.value() / b.value();
    // Next to the ends of all numbers the ratio is none, though its logarithm is.
    let own = (f64::MIN_POSITIVE..f64::INFINITY).contains(&ratio);
    (ln_a - ln_b).with_value(if own { ratio.ln() } else { a.value().ln() - b.value().ln() })
}

/// A formula of a standard form: a distribution of one number without parameters.
pub(super) trait Standard {
    fn term<T: Number>(term: Term, z: T) -> T;
}

/// Fills a jet from a formula; `M` = K (K + 1) / 2.
pub(super) fn fill<F: Formula<K>, const K: usize, const M: usize>(
    links: &[Link],
    coordinates: &[f64],
    age: f64,
    term: Term,
    order: Order,
    out: &mut Jet,
) {
    if order == Order::Value {
        let mut p = [age; K];
        for ((slot, link), c) in p.iter_mut().zip(links).zip(coordinates) {
            *slot = link.parameter(*c);
        }
        return flat(F::plain(term, p), out);
    }
    let at = Dual::<K, M>::variable(age, K - 1);
    let (mut p, mut ln) = ([at; K], [at.ln(); K]);
    for (i, (link, c)) in links.iter().zip(coordinates).enumerate() {
        let c = Dual::variable(*c, i);
        p[i] = link.carried(c);
        ln[i] = if *link == Link::Log { c } else { p[i].ln() };
    }
    let found = F::term(term, p, ln);
    out.value = found.value;
    out.gradient.copy_from_slice(&found.first);
    out.hessian.copy_from_slice(&found.second);
}

/// ln(1 + e^z).
pub(super) fn ln_one_plus_exp<T: Number>(z: T) -> T {
    z.map(|z| {
        let e = (-z.abs()).exp();
        // The logistic distribution and its upper side, each without cancellation.
        let (small, large) = (e / (1.0 + e), 1.0 / (1.0 + e));
        let below = if z > 0.0 { large } else { small };
        [z.max(0.0) + e.ln_1p(), below, small * large]
    })
}

/// ln of the standard normal probability below z.
pub(super) fn ln_phi<T: Number>(z: T) -> T {
    z.map(|z| {
        let (h, over) = normal_hazard(-z);
        [ln_normal_cdf(z), h, if h == 0.0 { 0.0 } else { -h * over }]
    })
}

/// ln of the standard normal density.
pub(super) fn ln_normal<T: Number>(z: T) -> T {
    z.map(|z| [ln_normal_density(z), -z, -1.0])
}

/// ln(1 - exp(-exp(u))).
pub(super) fn ln_failed<T: Number>(u: T) -> T {
    u.map(|u| {
        let w = u.exp();
        let (first, second) = ln_f_derivatives(w);
        // Where the hazard underflows, ln(1 - exp(-w)) is ln w itself.
        [if w < 1e-17 { u } else { ln_one_minus_exp_neg(w) }, first, second]
    })
}

/// ln(1 - exp(y)) for y below 0: from one tail to the other.
pub(super) fn ln_other<T: Number>(y: T) -> T {
    y.map(|y| {
        // odds = e^y / (1 - e^y), the slope's size.
        let odds = if y == f64::NEG_INFINITY { 0.0 } else { 1.0 / (-y).exp_m1() };
        [ln_one_minus_exp_neg(-y), -odds, -odds * (1.0 + odds)]
    })
}

/// ln(e^y - 1), y > 0.
pub(super) fn ln_exp_m1<T: Number>(y: T) -> T {
    y.map(|y| {
        let fall = (-y).exp();
        let slope = -1.0 / (-y).exp_m1();
        [if y > 1.0 { y + (-fall).ln_1p() } else { y.exp_m1().ln() }, slope, -fall * slope * slope]
    })
}

/// Hyperbolic sine and cosine.
pub(super) fn sinh_cosh<T: Number>(y: T) -> [T; 2] {
    let (s, c) = (y.value().sinh(), y.value().cosh());
    [y.map(|_| [s, c, s]), y.map(|_| [c, s, c])]
}

/// Mills' ratio of the standard normal.
pub(super) fn mills<T: Number>(z: T) -> T {
    z.map(mills_slopes)
}

/// 1 - z M(z), M Mills' ratio: how fast it falls.
pub(super) fn mills_fall<T: Number>(z: T) -> T {
    z.map(|z| {
        let [_, slope, curve] = mills_slopes(z);
        // It is -M', and the third derivative of M is 2 M' + z times the second.
        [-slope, -curve, -2.0 * slope - z * curve]
    })
}
