//! The chain rule shared by the families: a function of one reduced age, and the reduced age's own derivatives.

use super::traits::{Jet, Order, Term};

/// Product that keeps 0 when a far tail is infinite.
#[inline]
fn times(a: f64, b: f64) -> f64 {
    if b == 0.0 { 0.0 } else { a * b }
}

/// Fills a jet with g(u(x)) for a reduced age u: `g` holds g, g', g''; `first` the N first derivatives
/// of u over (coordinates.., age); `second` its packed lower second derivatives.
#[inline]
pub(super) fn chain<const N: usize, const M: usize>(
    g: [f64; 3],
    first: &[f64; N],
    second: &[f64; M],
    order: Order,
    out: &mut Jet,
) {
    out.value = g[0];
    if order == Order::Value {
        return;
    }
    for (slot, d) in out.gradient.iter_mut().zip(first) {
        *slot = times(g[1], *d);
    }
    if order == Order::Gradient {
        return;
    }
    let mut k = 0;
    for i in 0..N {
        for j in 0..=i {
            if let Some(slot) = out.hessian.get_mut(k) {
                *slot = times(g[2], first[i] * first[j]) + times(g[1], second[k]);
            }
            k += 1;
        }
    }
}

/// A term g(u) of a life with reduced age u = shape ln(age / scale), with its derivatives over (shape, scale, age) themselves.
/// `g` holds the whole value, g' and g''; a density has ln shape - ln age besides.
///
/// Through ln shape the second derivative over the shape is a difference of two that nearly cancel in a tail, where u is
/// linear in the shape: here it never arises.
pub(super) fn over_parameters([shape, scale, age]: [f64; 3], g: [f64; 3], term: Term) -> Jet {
    let first = [(age / scale).ln(), -shape / scale, shape / age];
    let second = [0.0, -1.0 / scale, shape / scale / scale, 1.0 / age, 0.0, -shape / age / age];
    let mut out = Jet::new(2);
    chain(g, &first, &second, Order::Hessian, &mut out);
    if g[1] == g[2] {
        // One factor for both parts: where it is infinite they must not meet with opposite signs.
        let mut k = 0;
        for i in 0..first.len() {
            for j in 0..=i {
                out.hessian[k] = times(g[1], first[i] * first[j] + second[k]);
                k += 1;
            }
        }
    }
    if term == Term::LnDensity {
        out.gradient[0] += 1.0 / shape;
        out.gradient[2] -= 1.0 / age;
        out.hessian[0] -= 1.0 / shape / shape;
        out.hessian[5] += 1.0 / age / age;
    }
    out
}

/// Fills a jet with a value whose derivatives do not matter or are 0.
pub(super) fn flat(value: f64, out: &mut Jet) {
    out.value = value;
    out.gradient.fill(0.0);
    out.hessian.fill(0.0);
}
