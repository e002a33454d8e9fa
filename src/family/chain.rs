//! The chain rule shared by the families: a function of one reduced age, and the reduced age's own derivatives.

use super::traits::{Jet, Order};

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

/// Fills a jet with a value whose derivatives do not matter or are 0.
pub(super) fn flat(value: f64, out: &mut Jet) {
    out.value = value;
    out.gradient.fill(0.0);
    out.hessian.fill(0.0);
}
