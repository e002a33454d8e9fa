//! The one likelihood: every kind of row in terms of a family's ln f, ln R and ln F with their derivatives.
//!
//! ```text
//! exact at t        ln f(t)                 passed t    ln R(t)
//! in (l, h]         ln(R(l) - R(h))         (0, h]      ln F(h)
//! entry e           minus ln R(e)           window      minus ln(R(e) - R(u)), evidence cut at u
//! ```

use super::newton::{Point, Surface};
use super::sample::{Evidence, Row, Sample};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::linalg::packed;
use crate::base::math::special::ln_one_minus_exp_neg;
use crate::base::math::sum;
use crate::family::{Family, Jet, Order, Term};

/// Below this difference of ln R an interval is measured from the side of F instead.
const LEAST_DIFFERENCE: f64 = 1e-290;

/// A family and a sample: the log-likelihood over the family's coordinates, by the general path.
#[derive(Debug)]
pub(super) struct Likelihood<'a> {
    pub(super) family: &'a dyn Family,
    pub(super) sample: &'a Sample<'a>,
}

/// Where the likelihood gets a family's terms from.
pub(super) trait Jets {
    /// A term at an age with its derivatives over the coordinates.
    fn jet(&mut self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet);
}

impl Jets for &dyn Family {
    fn jet(&mut self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        Family::jet(*self, x, age, term, order, out);
    }
}

/// Room for one row; `total` holds its log-likelihood.
pub(super) struct Scratch {
    pub(super) total: Jet,
    one: Jet,
    two: Jet,
}

impl Scratch {
    pub(super) fn new(width: usize) -> Self {
        Self { total: Jet::new(width), one: Jet::new(width), two: Jet::new(width) }
    }

    fn clear(&mut self) {
        self.total.value = 0.0;
        self.total.gradient.fill(0.0);
        self.total.hessian.fill(0.0);
    }
}

impl Likelihood<'_> {
    fn sums<const K: usize>(&self, x: &[f64], order: Order) -> [f64; K] {
        let (sample, family) = (self.sample, self.family);
        let Some(shared) = &sample.windows else {
            let row = |i: usize, s: &mut Scratch| add_row(&mut { family }, sample.row(i), x, order, s);
            return Self::sums_of(x.len(), order, &sample.weights, row);
        };
        let row = |i: usize, s: &mut Scratch| match shared.of(i) {
            Some(_) => _ = add_evidence(&mut { family }, sample.row(i), x, order, s),
            None => add_row(&mut { family }, sample.row(i), x, order, s),
        };
        let mut total: [f64; K] = Self::sums_of(x.len(), order, &sample.weights, row);
        // What a window takes off is the same for all of its rows.
        let window = |k: usize, s: &mut Scratch| {
            let (entry, upper) = shared.each[k];
            s.clear();
            between(&mut { family }, entry, upper, -1.0, x, order, s);
        };
        let windows: [f64; K] = Self::sums_of(x.len(), order, &shared.weights(&sample.weights), window);
        for (sum, part) in total.iter_mut().zip(windows) {
            *sum += part;
        }
        total
    }

    /// Sums over entries of some weight, each filled by `fill`.
    fn sums_of<const K: usize>(
        width: usize,
        order: Order,
        weights: &[f64],
        fill: impl Fn(usize, &mut Scratch) + Sync,
    ) -> [f64; K] {
        sum::blocks(weights.len(), |rows| {
            let mut lanes = [[0.0; sum::LANES]; K];
            let mut scratch = Scratch::new(width);
            for (step, i) in rows.enumerate() {
                let w = weights[i];
                if w == 0.0 {
                    continue;
                }
                fill(i, &mut scratch);
                let total = &scratch.total;
                let lane = step % sum::LANES;
                lanes[0][lane] += w * total.value;
                if order >= Order::Gradient {
                    for (sum, d) in lanes[1..].iter_mut().zip(&total.gradient[..width]) {
                        sum[lane] += w * d;
                    }
                }
                if order >= Order::Hessian {
                    // The age comes last, so the coordinates' triangle leads the packed one.
                    for (sum, d) in lanes[1 + width..].iter_mut().zip(&total.hessian) {
                        sum[lane] += w * d;
                    }
                }
            }
            lanes.map(|l| sum::join(&l))
        })
    }
}

/// The log-likelihood of one row, into `s.total`.
pub(super) fn add_row(jets: &mut impl Jets, row: Row, x: &[f64], order: Order, s: &mut Scratch) {
    if add_evidence(jets, row, x, order, s) && (row.entry > 0.0 || row.upper < f64::INFINITY) {
        between(jets, row.entry, row.upper, -1.0, x, order, s);
    }
}

/// The same without its window; whether the row says anything.
fn add_evidence(jets: &mut impl Jets, row: Row, x: &[f64], order: Order, s: &mut Scratch) -> bool {
    s.clear();
    match row.evidence {
        Evidence::Exact(age) => term(jets, Term::LnDensity, age, 1.0, x, order, s),
        Evidence::Passed(age) if age <= row.entry && row.upper == f64::INFINITY => return false,
        Evidence::Passed(age) => between(jets, age, row.upper, 1.0, x, order, s),
        Evidence::Between(low, high) => between(jets, low, high.min(row.upper), 1.0, x, order, s),
    }
    true
}

/// Adds `sign` times one term of the family.
fn term(jets: &mut impl Jets, term: Term, age: f64, sign: f64, x: &[f64], order: Order, s: &mut Scratch) {
    jets.jet(x, age, term, order, &mut s.one);
    s.total.value += sign * s.one.value;
    if order >= Order::Gradient {
        add(&mut s.total.gradient, sign, &s.one.gradient);
    }
    if order >= Order::Hessian {
        add(&mut s.total.hessian, sign, &s.one.hessian);
    }
}

/// Adds `sign` times ln(R(low) - R(high)).
fn between(jets: &mut impl Jets, low: f64, high: f64, sign: f64, x: &[f64], order: Order, s: &mut Scratch) {
    if high == f64::INFINITY {
        return if low > 0.0 {
            term(jets, Term::LnReliability, low, sign, x, order, s);
        };
    }
    if low <= 0.0 {
        return term(jets, Term::LnFailureProbability, high, sign, x, order, s);
    }
    jets.jet(x, low, Term::LnReliability, order, &mut s.one);
    jets.jet(x, high, Term::LnReliability, order, &mut s.two);
    let mut apart = s.one.value - s.two.value;
    if !(apart > LEAST_DIFFERENCE) {
        // Both reliabilities round to 1: ln F still tells the ends apart.
        jets.jet(x, high, Term::LnFailureProbability, order, &mut s.one);
        jets.jet(x, low, Term::LnFailureProbability, order, &mut s.two);
        apart = s.one.value - s.two.value;
    }
    // ln(exp(a) - exp(b)) = a + ln(1 - exp(-(a - b))), a the larger.
    s.total.value += sign * (s.one.value + ln_one_minus_exp_neg(apart));
    if order == Order::Value {
        return;
    }
    add(&mut s.total.gradient, sign, &s.one.gradient);
    let r = 1.0 / apart.exp_m1();
    if r > 0.0 {
        for ((t, a), b) in s.total.gradient.iter_mut().zip(&s.one.gradient).zip(&s.two.gradient) {
            *t += sign * r * (a - b);
        }
    }
    if order == Order::Gradient {
        return;
    }
    add(&mut s.total.hessian, sign, &s.one.hessian);
    if r > 0.0 {
        for i in 0..x.len() {
            let di = s.one.gradient[i] - s.two.gradient[i];
            for j in 0..=i {
                let dj = s.one.gradient[j] - s.two.gradient[j];
                let k = packed(i, j);
                let second = s.one.hessian[k] - s.two.hessian[k];
                s.total.hessian[k] += sign * r * (second - (1.0 + r) * di * dj);
            }
        }
    }
}

fn add(total: &mut [f64], sign: f64, part: &[f64]) {
    for (t, p) in total.iter_mut().zip(part) {
        *t += sign * p;
    }
}

impl Surface for Likelihood<'_> {
    fn width(&self) -> usize {
        self.family.width()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        fn keep<const K: usize>(sums: [f64; K], width: usize, out: &mut Point) {
            out.value = sums[0];
            out.gradient.copy_from_slice(&sums[1..=width]);
            out.hessian.copy_from_slice(&sums[1 + width..]);
        }
        match x.len() {
            1 => keep(self.sums::<3>(x, order), 1, out),
            2 => keep(self.sums::<6>(x, order), 2, out),
            3 => keep(self.sums::<10>(x, order), 3, out),
            4 => keep(self.sums::<15>(x, order), 4, out),
            5 => keep(self.sums::<21>(x, order), 5, out),
            6 => keep(self.sums::<28>(x, order), 6, out),
            7 => keep(self.sums::<36>(x, order), 7, out),
            8 => keep(self.sums::<45>(x, order), 8, out),
            n => {
                return Err(Error::new(
                    Kind::Domain,
                    Problem::new("fit.width", "family has too many coordinates").got(n).expected("1 to 8"),
                ));
            }
        }
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        self.family.inside(x)
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        self.family.step(x, i)
    }

    fn floor(&self, i: usize) -> f64 {
        self.family.floor(i)
    }
}
