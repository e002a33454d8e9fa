//! Efron's sums over tied failures: one by one for the last, by blocks for the others, so that time does not grow with the
//! number of lamps that fail together.
//!
//! With d tied failures, D over those that fail and R over the others at risk, the m-th from the end has
//! S = R + (m / d) D = unit (u + m), where unit = D / d and u = R / unit. Every sum below has positive terms only, so that
//! none loses digits, however few lamps are left or however steep the hazards are.

/// Sums over m = 1 .. d of tied failures.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Shares {
    /// u: hazard of those that go on, in units of what one failure takes off.
    pub(super) rest: f64,
    /// D / d.
    pub(super) unit: f64,
    /// ln(1 + u / m).
    pub(super) ln: f64,
    /// 1 / (u + m).
    pub(super) one: f64,
    /// m / (u + m).
    pub(super) part: f64,
    /// 1 / (u + m)^2.
    pub(super) one_squared: f64,
    /// m / (u + m)^2.
    pub(super) part_squared: f64,
    /// m^2 / (u + m)^2.
    pub(super) parts_squared: f64,
}

/// Failures that are summed one by one: as far from the end of the sum its terms vary slowly enough for blocks.
const ONE_BY_ONE: u64 = 512;
/// A block is at most this part of its distance from the end: the first term of the series that is left out is then below
/// (1/32)^10, which is rounding.
const PART: u64 = 16;

/// Sums of k^2, k^4, k^6 and k^8 over n whole steps around 0: k = -(n - 1) / 2 .. (n - 1) / 2.
fn powers(n: f64) -> [f64; 4] {
    let n2 = n * n;
    let two = n * (n2 - 1.0) / 12.0;
    [
        two,
        two * (3.0 * n2 - 7.0) / 20.0,
        two * (3.0 * n2 * n2 - 18.0 * n2 + 31.0) / 112.0,
        two * (5.0 * n2 * n2 * n2 - 55.0 * n2 * n2 + 239.0 * n2 - 381.0) / 960.0,
    ]
}

impl Shares {
    /// The sums for `failed` failures, `rest` over the other lamps at risk and `failing` over those that fail.
    pub(super) fn of(failed: u64, rest: f64, failing: f64) -> Self {
        let unit = failing / failed as f64;
        let mut s = Self { rest: rest / unit, unit, ..Self::default() };
        for m in 1..=failed.min(ONE_BY_ONE) {
            let m = m as f64;
            let r = 1.0 / (s.rest + m);
            s.ln += (s.rest / m).ln_1p();
            s.one += r;
            s.part += m * r;
            s.one_squared += r * r;
            s.part_squared += m * r * r;
            s.parts_squared += (m * r) * (m * r);
        }
        let mut m = ONE_BY_ONE + 1;
        while m <= failed {
            let n = (m / PART).min(failed - m + 1);
            s.add_block(m as f64 + 0.5 * (n as f64 - 1.0), n as f64);
            m += n;
        }
        s
    }

    /// Adds n failures around `middle`. With k steps from there and t = u + middle, 1 / (t + k) is the sum of
    /// (-k)^j / t^(j + 1), and odd powers of k add up to 0.
    fn add_block(&mut self, middle: f64, n: f64) {
        let k = powers(n);
        let u = self.rest;
        let t = u + middle;
        let (v, w) = (1.0 / t / t, 1.0 / (middle * middle));
        let (m2, m4, m6, m8) = (k[0] * v, k[1] * v * v, k[2] * v * v * v, k[3] * v * v * v * v);
        // Sums of 1 / (t + k) and k / (t + k), and of the same over (t + k)^2 with k^2 too, each over its power of t.
        let (p0, p1) = (n + m2 + m4 + m6 + m8, -(m2 + m4 + m6 + m8));
        let q0 = n + 3.0 * m2 + 5.0 * m4 + 7.0 * m6 + 9.0 * m8;
        let q1 = -(2.0 * m2 + 4.0 * m4 + 6.0 * m6 + 8.0 * m8);
        let q2 = m2 + 3.0 * m4 + 5.0 * m6 + 7.0 * m8;
        let share = middle / t;
        // w - v without the difference of two near numbers, and likewise the higher powers.
        let apart = (u / t) * (1.0 + share) * w;
        let curved = k[0] / 2.0
            + k[1] / 4.0 * (w + v)
            + k[2] / 6.0 * (w * w + w * v + v * v)
            + k[3] / 8.0 * (w + v) * (w * w + v * v);
        self.ln += n * (u / middle).ln_1p() + apart * curved;
        self.one += p0 / t;
        self.part += share * p0 + p1;
        self.one_squared += q0 * v;
        self.part_squared += (share * q0 + q1) / t;
        self.parts_squared += share * share * q0 + 2.0 * share * q1 + q2;
    }

    /// u / (u + m) added up: what those that go on bear of the failures.
    pub(super) fn others(&self) -> f64 {
        self.rest * self.one
    }

    /// u m / (u + m)^2 added up.
    pub(super) fn between(&self) -> f64 {
        self.rest * self.part_squared
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one_by_one(failed: u64, rest: f64, failing: f64) -> [f64; 6] {
        let mut out = [0.0; 6];
        let u = rest * failed as f64 / failing;
        for m in 1..=failed {
            let m = m as f64;
            let s = u + m;
            let terms = [(u / m).ln_1p(), 1.0 / s, m / s, 1.0 / (s * s), m / (s * s), m * m / (s * s)];
            out.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        }
        out
    }

    fn fields(s: &Shares) -> [f64; 6] {
        [s.ln, s.one, s.part, s.one_squared, s.part_squared, s.parts_squared]
    }

    #[test]
    fn blocks_give_what_the_sum_one_by_one_gives() {
        // All at risk fail; half of them; one in a million; hazards that are far from 1; next to none or all that go on.
        for (d, rest, failing) in [
            (3_u64, 7.0, 3.0),
            (600, 0.0, 600.0),
            (100_000, 0.0, 100_000.0),
            (100_000, 100_000.0, 100_000.0),
            (20_000, 2e10, 20_000.0),
            (50_000, 5.2e-4, 2.1e-4),
            (50_000, 1e8, 2.9e9),
            (50_000, 3e-9, 5.0),
            (50_000, 3e40, 5.0),
        ] {
            let (sums, plain) = (fields(&Shares::of(d, rest, failing)), one_by_one(d, rest, failing));
            for (i, (got, want)) in sums.iter().zip(plain).enumerate() {
                // The sum one by one rounds d times: its own error is about sqrt(d) roundings.
                assert!((got - want).abs() <= 1e-12 * want.abs(), "{d} {rest} {failing}, sum {i}: {got} {want}");
            }
        }
    }

    #[test]
    fn powers_by_hand() {
        for n in 1..40_u32 {
            let k = |i: u32| f64::from(i) - 0.5 * f64::from(n - 1);
            for (got, e) in powers(f64::from(n)).into_iter().zip([2, 4, 6, 8]) {
                let want = (0..n).map(|i| k(i).powi(e)).fold(0.0, |a, b| a + b);
                assert!((got - want).abs() <= 1e-12 * want.max(1.0), "{n} {e} {got} {want}");
            }
        }
    }

    #[test]
    fn four_thousand_million_million_failures_take_no_time() {
        // Without others at risk 1 / m adds up to the harmonic number, ln d + 0.5772..., and nothing else is left; with one
        // more of them ln(1 + 1 / m) adds up to ln(d + 1).
        let d = (1_u64 << 52) as f64;
        let s = Shares::of(1 << 52, 0.0, d);
        assert!(s.ln == 0.0 && (s.part - d).abs() < 1e-12 * d, "{s:?}");
        assert!((s.one - (d.ln() + 0.577_215_664_901_532_9)).abs() < 1e-10, "{}", s.one);
        let one = Shares::of(1 << 52, 1.0, d);
        assert!((one.ln - d.ln()).abs() < 1e-11, "{}", one.ln);
    }
}
