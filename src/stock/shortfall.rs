//! Tails of a number of lamps for every stock at once.

use crate::demand::Count;

/// P(X > y), E(X - y)+ and E((X - y)+)^2 for every y, from sums that start at the far end, so that nothing cancels.
#[derive(Clone, Debug)]
pub(super) struct Shortfall {
    first: u64,
    mean: f64,
    /// P(X > first + k).
    more: Vec<f64>,
    /// E(X - first - k)+.
    short: Vec<f64>,
    /// Sum of E(X - j)+ over j >= first + k.
    sums: Vec<f64>,
}

impl Shortfall {
    pub(super) fn new(count: &Count) -> Self {
        let n = count.probabilities().len();
        let (mut more, mut short, mut sums) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        let (mut tail, mut mean_above, mut sum) = (0.0, 0.0, 0.0);
        let rows = more.iter_mut().zip(&mut short).zip(&mut sums).zip(count.probabilities());
        for (((m, s), t), p) in rows.rev() {
            // Here `tail` is P(X > this number); E(X - y)+ is the sum of P(X > j) over j >= y.
            mean_above += tail;
            sum += mean_above;
            (*m, *s, *t) = (f64::min(tail, 1.0), mean_above, sum);
            tail += p;
        }
        let mean = count.first() as f64 + short.first().copied().unwrap_or(0.0);
        Self { first: count.first(), mean, more, short, sums }
    }

    pub(super) fn mean(&self) -> f64 {
        self.mean
    }

    fn at(values: &[f64], place: u64) -> f64 {
        usize::try_from(place).ok().and_then(|k| values.get(k)).copied().unwrap_or(0.0)
    }

    /// P(X > y).
    pub(super) fn more_than(&self, y: u64) -> f64 {
        y.checked_sub(self.first).map_or(1.0, |k| Self::at(&self.more, k))
    }

    /// P(X <= y), right to rounding of 1.
    pub(super) fn at_most(&self, y: u64) -> f64 {
        1.0 - self.more_than(y)
    }

    /// P(X < y): at most one below.
    pub(super) fn below(&self, y: u64) -> f64 {
        y.checked_sub(1).map_or(0.0, |y| self.at_most(y))
    }

    /// E(X - y)+.
    pub(super) fn short(&self, y: u64) -> f64 {
        match y.checked_sub(self.first) {
            Some(k) => Self::at(&self.short, k),
            None => (self.first - y) as f64 + self.short.first().copied().unwrap_or(0.0),
        }
    }

    /// E(y - X)+.
    pub(super) fn over(&self, y: u64) -> f64 {
        (y as f64 - self.mean + self.short(y)).max(0.0)
    }

    /// E((X - y)+)^2.
    pub(super) fn short_squared(&self, y: u64) -> f64 {
        // n^2 is the sum of 2 j - 1 over j <= n.
        let from = |k: u64| Self::at(&self.short, k) + 2.0 * Self::at(&self.sums, k.saturating_add(1));
        if let Some(k) = y.checked_sub(self.first) {
            return from(k);
        }
        let (below, mean) = ((self.first - y) as f64, self.short(self.first));
        from(0) + 2.0 * below * mean + below * below
    }
}
