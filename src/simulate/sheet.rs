//! What one play of one site adds up to, and the means and spreads of many plays.

use super::played::{AGE_BINS, PlannedChange};

/// Places of the figures in a row; the kinds of planned change follow, then the endings of failures.
pub(super) const CHANGES: usize = 0;
pub(super) const PLANNED: usize = 1;
pub(super) const FAILURES: usize = 2;
pub(super) const OF_TODAY: usize = 3;
pub(super) const COST: usize = 4;
pub(super) const DARK: usize = 5;
pub(super) const HOURS: usize = 6;
pub(super) const FOR_LAMPS: usize = 7;
pub(super) const ANYWAY: usize = 8;
pub(super) const DISCOUNTED: usize = 9;
pub(super) const KINDS: usize = 10;

/// How the figures of a play are laid out: a row for each period and one for the whole, then for each way to end the
/// number of lamps of known age and the sum of their ages.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    pub(super) periods: usize,
    pub(super) failures: usize,
}

impl Layout {
    /// Ways to end: kinds of planned change, then failures.
    pub(super) fn ways(&self) -> usize {
        PlannedChange::ALL.len() + self.failures
    }

    pub(super) fn row_width(&self) -> usize {
        KINDS + self.ways()
    }

    pub(super) fn at(&self, row: usize, figure: usize) -> usize {
        row * self.row_width() + figure
    }

    pub(super) fn ended(&self, way: usize) -> usize {
        (self.periods + 1) * self.row_width() + 2 * way
    }

    fn width(&self) -> usize {
        self.ended(self.ways())
    }
}

/// One play of one site.
#[derive(Clone, Debug)]
pub(super) struct Sheet {
    pub(super) layout: Layout,
    pub(super) figures: Vec<f64>,
    /// Oldest age at ending, by way to end; negative for none.
    pub(super) oldest: Vec<f64>,
    /// Lamps by way to end and bin of age; not cleared from play to play.
    pub(super) by_age: Vec<u64>,
}

impl Sheet {
    pub(super) fn new(layout: Layout) -> Self {
        Self {
            layout,
            figures: vec![0.0; layout.width()],
            oldest: vec![-1.0; layout.ways()],
            by_age: vec![0; layout.ways() * AGE_BINS],
        }
    }

    /// Adds to a figure of a period and of the whole.
    pub(super) fn add(&mut self, period: usize, figure: usize, x: f64) {
        for row in [period, self.layout.periods] {
            if let Some(slot) = self.figures.get_mut(self.layout.at(row, figure)) {
                *slot += x;
            }
        }
    }

    /// Notes the age of a lamp that ended; `share` is its age over the limit.
    pub(super) fn ended(&mut self, way: usize, age: f64, share: f64) {
        let at = self.layout.ended(way);
        if let Some([n, sum]) = self.figures.get_mut(at..at + 2) {
            *n += 1.0;
            *sum += age;
        }
        if let Some(oldest) = self.oldest.get_mut(way) {
            *oldest = oldest.max(age);
        }
        let bin = ((share * AGE_BINS as f64) as usize).min(AGE_BINS - 1);
        if let Some(slot) = self.by_age.get_mut(way * AGE_BINS + bin) {
            *slot += 1;
        }
    }
}

/// Means, sums of squares about them, and for each way to end the sum of products of number and age.
#[derive(Clone, Debug)]
pub(super) struct Moments {
    pub(super) plays: u64,
    mean: Vec<f64>,
    squares: Vec<f64>,
    products: Vec<f64>,
    layout: Layout,
}

/// Sums over plays of equal sites. Figures are taken against those of the first play, so that what never varies has a
/// spread of exactly 0.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    plays: u64,
    origin: Vec<f64>,
    totals: Vec<f64>,
    squares: Vec<f64>,
    products: Vec<f64>,
    layout: Layout,
}

impl Sums {
    pub(super) fn new(first: &Sheet) -> Self {
        let layout = first.layout;
        let n = first.figures.len();
        Self {
            plays: 1,
            origin: first.figures.clone(),
            totals: vec![0.0; n],
            squares: vec![0.0; n],
            products: vec![0.0; layout.ways()],
            layout,
        }
    }

    pub(super) fn add(&mut self, sheet: &Sheet) {
        self.plays += 1;
        for (((x, o), s), q) in sheet.figures.iter().zip(&self.origin).zip(&mut self.totals).zip(&mut self.squares) {
            let d = x - o;
            *s += d;
            *q += d * d;
        }
        for (way, product) in self.products.iter_mut().enumerate() {
            let at = self.layout.ended(way);
            if let (Some([n, a]), Some([n0, a0])) = (sheet.figures.get(at..at + 2), self.origin.get(at..at + 2)) {
                *product += (n - n0) * (a - a0);
            }
        }
    }

    pub(super) fn finish(self) -> Moments {
        let n = self.plays as f64;
        let mean = self.origin.iter().zip(&self.totals).map(|(o, s)| o + s / n).collect();
        let squares = self.squares.iter().zip(&self.totals).map(|(q, s)| (q - s * s / n).max(0.0)).collect();
        let pair = |way: usize| {
            let at = self.layout.ended(way);
            match self.totals.get(at..at + 2) {
                Some([n, a]) => n * a,
                _ => 0.0,
            }
        };
        let products = self.products.iter().enumerate().map(|(way, p)| p - pair(way) / n).collect();
        Moments { plays: self.plays, mean, squares, products, layout: self.layout }
    }
}

impl Moments {
    /// Joins the moments of further plays of equal sites.
    ///
    /// # Source
    /// Chan, Golub and `LeVeque`, Updating formulae and a pairwise algorithm for computing sample variances (1979).
    pub(super) fn join(&mut self, other: &Self) {
        let (n, m) = (self.plays as f64, other.plays as f64);
        let weight = n * m / (n + m);
        for (way, product) in self.products.iter_mut().enumerate() {
            let at = self.layout.ended(way);
            let theirs = other.products.get(way).copied().unwrap_or(0.0);
            if let (Some([n0, a0]), Some([n1, a1])) = (self.mean.get(at..at + 2), other.mean.get(at..at + 2)) {
                *product += theirs + (n1 - n0) * (a1 - a0) * weight;
            }
        }
        for (((mean, square), m1), q1) in
            self.mean.iter_mut().zip(&mut self.squares).zip(&other.mean).zip(&other.squares)
        {
            let d = m1 - *mean;
            *square += q1 + d * d * weight;
            *mean += d * m / (n + m);
        }
        self.plays += other.plays;
    }
}

/// Mean and variance of one play of the whole fleet.
#[derive(Clone, Debug)]
pub(super) struct Totals {
    pub(super) mean: Vec<f64>,
    pub(super) variance: Vec<f64>,
    pub(super) covariance: Vec<f64>,
    /// Whether some site was played once only, so that nothing is known of its spread.
    pub(super) once: bool,
}

impl Totals {
    pub(super) fn new(layout: Layout) -> Self {
        let n = layout.width();
        Self { mean: vec![0.0; n], variance: vec![0.0; n], covariance: vec![0.0; layout.ways()], once: false }
    }

    /// Adds `sites` equal sites.
    pub(super) fn add(&mut self, moments: &Moments, sites: u64) {
        let n = sites as f64;
        self.once |= moments.plays < 2;
        let each = if moments.plays < 2 { 0.0 } else { n / (moments.plays - 1) as f64 };
        for (((sum, variance), mean), square) in
            self.mean.iter_mut().zip(&mut self.variance).zip(&moments.mean).zip(&moments.squares)
        {
            *sum += n * mean;
            *variance += each * square;
        }
        for (sum, product) in self.covariance.iter_mut().zip(&moments.products) {
            *sum += each * product;
        }
    }

    /// Adds another part of the fleet.
    pub(super) fn join(&mut self, other: &Self) {
        self.once |= other.once;
        let pairs = [
            (&mut self.mean, &other.mean),
            (&mut self.variance, &other.variance),
            (&mut self.covariance, &other.covariance),
        ];
        for (mine, theirs) in pairs {
            for (a, b) in mine.iter_mut().zip(theirs) {
                *a += b;
            }
        }
    }
}
