//! A number of lamps mixed over the factor of a circumstance that screens share.

use super::counts::Count;

/// Distance between the means of two neighbouring points, in standard deviations within a point, up to which points of the
/// quadrature alone serve: their bells then run into one another, with ripples below rounding.
///
/// Our choice: bells a standard deviation apart sum to a straight line to 1e-8 of its height.
const NEAR: f64 = 1.0;

/// Standard deviations that a mean has to lie above 0 for a shape to be moved: our choice, a chance of 1 in 50 for a bell.
const FAR_FROM_NONE: f64 = 2.0;

/// Half of the steps between the factors that stand for all others where points alone would stand apart as lumps, and their
/// distance on the scale of the normal number: our choice, far finer than a standard deviation of the factor.
const HALF: i32 = 120;
/// That distance.
const STEP: f64 = 0.05;

/// Variance that a number gets on the mean when it is shared between the whole numbers on its sides.
const SHARING: f64 = 1.0 / 6.0;

/// One point of the quadrature: the normal number, its weight, and the lamps needed given it.
pub(super) type Point<'a> = (f64, f64, &'a Count);

/// The mixture over the factor.
///
/// Given a factor the number of many screens is known closely, and the points of the quadrature alone would leave a lump
/// for each. Between two points mean and standard deviation go by cubics, and the shape is that of both, blended; the mean
/// of the whole stays that of the points.
pub(super) fn over_factor(points: &[Point<'_>]) -> Count {
    let weighted: Vec<(f64, &Count)> = points.iter().map(|(_, w, count)| (*w, *count)).collect();
    let facts: Vec<(f64, f64)> = points.iter().map(|p| (p.2.mean(), p.2.sd())).collect();
    let apart = |w: &[(f64, f64)]| match w {
        [(a, sd), (b, other)] => {
            let sd = sd.max(*other).max(SHARING.sqrt());
            // A shape that piles up at 0 is no bell to be moved; the points serve it, as it is wide against what it counts.
            (a - b).abs() > NEAR * sd && a.min(*b) > FAR_FROM_NONE * sd
        }
        _ => false,
    };
    if !facts.windows(2).any(apart) {
        return Count::weighted(&weighted);
    }
    let places: Vec<f64> = points.iter().map(|p| p.0).collect();
    let (means, sds) = (
        Cubic::new(&places, &facts.iter().map(|f| f.0).collect::<Vec<_>>()),
        Cubic::new(&places, &facts.iter().map(|f| f.1).collect::<Vec<_>>()),
    );
    let weight = |z: f64| (-0.5 * z * z).exp();
    let whole: f64 = (-HALF..=HALF).map(|i| weight(f64::from(i) * STEP)).sum();
    let each: Vec<(f64, f64, f64, f64)> = (-HALF..=HALF)
        .map(|i| {
            let z = f64::from(i) * STEP;
            (z, weight(z) / whole, means.at(z), sds.at(z).max(0.0))
        })
        .collect();
    let of_points: f64 = points.iter().zip(&facts).map(|((_, w, _), (mean, _))| w * mean).sum();
    let off = of_points - each.iter().map(|e| e.1 * e.2).sum::<f64>();
    let mut sum = Shares::default();
    for (z, weight, mean, sd) in each {
        let sd = (sd * sd - SHARING).max(0.0).sqrt();
        let (low, part) = means.beside(z);
        for (i, share) in [(low, 1.0 - part), (low + 1, part)] {
            let (Some((_, _, count)), Some((own, own_sd))) = (points.get(i), facts.get(i)) else { continue };
            if share <= 0.0 {
                continue;
            }
            let scale = if *own_sd > 0.0 { sd / own_sd } else { 0.0 };
            for (n, p) in (count.first()..).zip(count.probabilities()) {
                sum.add(mean + off + scale * (n as f64 - own), weight * share * p);
            }
        }
    }
    sum.count()
}

/// A function by cubics between places, with slopes from three of them, and straight beyond the outer ones.
struct Cubic<'a> {
    places: &'a [f64],
    values: Vec<f64>,
    slopes: Vec<f64>,
}

impl<'a> Cubic<'a> {
    fn new(places: &'a [f64], values: &[f64]) -> Self {
        let secant = |i: usize| match (places.get(i..i + 2), values.get(i..i + 2)) {
            (Some([a, b]), Some([x, y])) => Some(((y - x) / (b - a), b - a)),
            _ => None,
        };
        let slope = |i: usize| match (i.checked_sub(1).and_then(secant), secant(i)) {
            (Some((before, h)), Some((after, k))) => (before * k + after * h) / (h + k),
            (Some((only, _)), None) | (None, Some((only, _))) => only,
            (None, None) => 0.0,
        };
        Self { places, values: values.to_vec(), slopes: (0..places.len()).map(slope).collect() }
    }

    /// The place at or before a number, and the share of the way to the next; the outer places for what lies beyond them.
    fn beside(&self, z: f64) -> (usize, f64) {
        let last = self.places.len().saturating_sub(2);
        let low = self.places.partition_point(|p| *p <= z).saturating_sub(1).min(last);
        match self.places.get(low..low + 2) {
            Some([a, b]) => (low, ((z - a) / (b - a)).clamp(0.0, 1.0)),
            _ => (low, 0.0),
        }
    }

    fn at(&self, z: f64) -> f64 {
        let (low, t) = self.beside(z);
        let (Some([a, b]), Some([x, y]), Some([p, q])) =
            (self.places.get(low..low + 2), self.values.get(low..low + 2), self.slopes.get(low..low + 2))
        else {
            return self.values.first().copied().unwrap_or(0.0);
        };
        let width = b - a;
        let beyond = p * (z - a).min(0.0) + q * (z - b).max(0.0);
        let (t2, t3) = (t * t, t * t * t);
        let inner = x * (1.0 - 3.0 * t2 + 2.0 * t3)
            + y * (3.0 * t2 - 2.0 * t3)
            + width * (p * (t - 2.0 * t2 + t3) + q * (t3 - t2));
        inner + beyond
    }
}

/// Probabilities at places that need not be whole, each shared between the whole numbers on its sides.
#[derive(Default)]
struct Shares {
    each: Vec<f64>,
}

impl Shares {
    fn add(&mut self, place: f64, probability: f64) {
        let place = place.max(0.0);
        let (low, part) = (place as usize, place - place.floor());
        if self.each.len() < low + 2 {
            self.each.resize(low + 2, 0.0);
        }
        if let Some([a, b]) = self.each.get_mut(low..low + 2) {
            *a += probability * (1.0 - part);
            *b += probability * part;
        }
    }

    fn count(self) -> Count {
        Count::of_known(&self.each)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demand::one_draw::NORMAL;

    /// Poisson numbers whose mean is a lognormal factor times some lamps: their mixture by 4,000 factors.
    #[test]
    fn a_mixture_of_many_lamps_has_no_lumps_and_one_of_few_stays_as_it_is() {
        for (lamps, spread) in [(1300.0_f64, 0.2_f64), (160.0, 0.5), (40.0, 0.1), (3.0, 0.2), (0.4, 1.0)] {
            let given = |z: f64| Count::poisson(lamps * (spread * z).exp()).unwrap();
            let counts: Vec<Count> = NORMAL.iter().map(|(z, _)| given(*z)).collect();
            let points: Vec<Point<'_>> = NORMAL.iter().zip(&counts).map(|((z, w), c)| (*z, *w, c)).collect();
            let found = over_factor(&points);
            let fine: Vec<(f64, Count)> = (-2000..=2000)
                .map(|i| {
                    let z = f64::from(i) * 0.003;
                    ((-0.5 * z * z).exp(), given(z))
                })
                .collect();
            let whole: f64 = fine.iter().map(|f| f.0).sum();
            let direct = Count::weighted(&fine.iter().map(|(w, c)| (w / whole, c)).collect::<Vec<_>>());
            assert!((found.mean() - direct.mean()).abs() < 2e-3 * direct.mean(), "{lamps} {}", found.mean());
            assert!((found.sd() - direct.sd()).abs() < 1e-2 * direct.sd(), "{lamps} {} {}", found.sd(), direct.sd());
            let most = (0..6000).map(|n| (found.at_most(n) - direct.at_most(n)).abs()).fold(0.0, f64::max);
            assert!(most < 4e-3, "{lamps} {spread}: {most}");
        }
    }

    #[test]
    fn the_mean_of_the_whole_is_that_of_the_points() {
        let counts: Vec<Count> = NORMAL.iter().map(|(z, _)| Count::poisson(900.0 * (0.3 * z).exp()).unwrap()).collect();
        let points: Vec<Point<'_>> = NORMAL.iter().zip(&counts).map(|((z, w), c)| (*z, *w, c)).collect();
        let mean: f64 = points.iter().map(|(_, w, c)| w * c.mean()).sum();
        assert!((over_factor(&points).mean() - mean).abs() < 1e-9 * mean);
    }
}
