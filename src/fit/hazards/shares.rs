//! Efron's sums over tied failures: one by one for the last, by blocks for the others, so that time does not grow with the
//! number of lamps that fail together.

/// Sums over d tied failures, each taken off the lamps at risk in shares: f = l / d, l = 0 .. d - 1, S less f D.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Shares {
    /// ln S.
    pub(super) ln: f64,
    /// 1 / S.
    pub(super) one: f64,
    /// f / S.
    pub(super) part: f64,
    /// 1 / S^2.
    pub(super) one_squared: f64,
    /// f / S^2.
    pub(super) part_squared: f64,
    /// f^2 / S^2.
    pub(super) parts_squared: f64,
}

/// Failures that are summed one by one: as far from the end of the sum its terms vary slowly enough for blocks.
const ONE_BY_ONE: u64 = 512;
/// A block is at most this part of its distance from where S would be 0: the first term of the series that is left out is
/// then below (1/32)^10, which is rounding.
const PART: f64 = 16.0;

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
    /// The sums for `failed` failures, S over the lamps at risk and D over those that fail.
    pub(super) fn of(failed: u64, at_risk: f64, failing: f64) -> Self {
        let mut s = Self::default();
        let d = failed as f64;
        let apart = failed.saturating_sub(ONE_BY_ONE);
        let mut l = 0;
        while l < apart {
            // In units of what one failure takes off, S is u at the first of the block.
            let u = at_risk * d / failing - l as f64;
            let n = ((u / PART) as u64).clamp(1, apart - l);
            s.add_block(l as f64, n as f64, d, u - 0.5 * (n as f64 - 1.0), failing / d);
            l += n;
        }
        for l in apart..failed {
            let f = l as f64 / d;
            let sum = at_risk - f * failing;
            let r = 1.0 / sum;
            s.ln += sum.ln();
            s.one += r;
            s.part += f * r;
            s.one_squared += r * r;
            s.part_squared += f * r * r;
            s.parts_squared += f * f * r * r;
        }
        s
    }

    /// Adds n failures from l on: u is S at their middle over `unit`, what one failure takes off S. With k steps from the
    /// middle, 1 / (u - k) = sum of k^j / u^(j + 1), and odd powers of k add up to 0.
    fn add_block(&mut self, l: f64, n: f64, d: f64, u: f64, unit: f64) {
        let [k2, k4, k6, k8] = powers(n);
        let v = 1.0 / (u * u);
        let (m2, m4, m6, m8) = (k2 * v, k4 * v * v, k6 * v * v * v, k8 * v * v * v * v);
        // Sums of 1 / (u - k) and k / (u - k), and of the same over (u - k)^2 with k^2 too, each over its power of u.
        let (p0, p1) = (n + m2 + m4 + m6 + m8, m2 + m4 + m6 + m8);
        let q0 = n + 3.0 * m2 + 5.0 * m4 + 7.0 * m6 + 9.0 * m8;
        let q1 = 2.0 * m2 + 4.0 * m4 + 6.0 * m6 + 8.0 * m8;
        let q2 = m2 + 3.0 * m4 + 5.0 * m6 + 7.0 * m8;
        let f = (l + 0.5 * (n - 1.0)) / d;
        // One step of k in f, in units of 1 / u.
        let step = u / d;
        let (r, r2) = (1.0 / (u * unit), 1.0 / (u * unit).powi(2));
        self.ln += n * (u * unit).ln() - (m2 / 2.0 + m4 / 4.0 + m6 / 6.0 + m8 / 8.0);
        self.one += r * p0;
        self.part += r * (f * p0 + step * p1);
        self.one_squared += r2 * q0;
        self.part_squared += r2 * (f * q0 + step * q1);
        self.parts_squared += r2 * (f * f * q0 + 2.0 * f * step * q1 + step * step * q2);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one_by_one(failed: u64, at_risk: f64, failing: f64) -> [f64; 6] {
        let mut out = [0.0; 6];
        for l in 0..failed {
            let f = l as f64 / failed as f64;
            let s = at_risk - f * failing;
            let terms = [s.ln(), 1.0 / s, f / s, 1.0 / (s * s), f / (s * s), f * f / (s * s)];
            out.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        }
        out
    }

    fn fields(s: &Shares) -> [f64; 6] {
        [s.ln, s.one, s.part, s.one_squared, s.part_squared, s.parts_squared]
    }

    #[test]
    fn blocks_give_what_the_sum_one_by_one_gives() {
        // All at risk fail; half of them; one in a million; hazards that are far from 1.
        for (d, at_risk, failing) in [
            (3_u64, 10.0, 3.0),
            (600, 600.0, 600.0),
            (100_000, 100_000.0, 100_000.0),
            (100_000, 200_000.0, 100_000.0),
            (20_000, 2e10, 20_000.0),
            (50_000, 7.3e-4, 2.1e-4),
            (50_000, 3e9, 2.9e9),
        ] {
            let (sums, plain) = (fields(&Shares::of(d, at_risk, failing)), one_by_one(d, at_risk, failing));
            for (i, (got, want)) in sums.iter().zip(plain).enumerate() {
                // The sum one by one rounds d times: its own error is about sqrt(d) roundings.
                assert!((got - want).abs() < 1e-12 * want.abs(), "{d} {at_risk} {failing}, sum {i}: {got} {want}");
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
        // ln d! for S = D = d, by Stirling; 1 / S adds up to the harmonic number, ln d + 0.5772...
        let d = (1_u64 << 52) as f64;
        let s = Shares::of(1 << 52, d, d);
        assert!((s.ln / (d * d.ln() - d) - 1.0).abs() < 1e-12, "{}", s.ln);
        assert!((s.one - (d.ln() + 0.577_215_664_901_532_9)).abs() < 1e-10, "{}", s.one);
    }
}
