//! What the families with a location and a scale in hours share: their formula, their family, their starts.

use std::fmt;
use std::marker::PhantomData;

use super::chain::flat;
use super::check;
use super::formula::{Formula, Standard, fill};
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;

/// ln terms of location + scale Z from those of Z.
#[derive(Debug)]
pub(super) struct Straight<S>(PhantomData<S>);

impl<S: Standard> Formula<3> for Straight<S> {
    fn term<T: Number>(term: Term, [location, scale, age]: [T; 3], [_, ln_scale, _]: [T; 3]) -> T {
        let found = S::term(term, (age - location) / scale);
        if term == Term::LnDensity { found - ln_scale } else { found }
    }
}

/// A life with a location and a scale in hours, on all numbers.
pub(super) trait Located: Life + Copy + 'static {
    /// Z, its distribution at location 0 and scale 1.
    type Standard: Standard;
    const NAME: &'static str;
    /// Mean and standard deviation of Z, for the start of a search.
    const MEAN_SD: (f64, f64);

    fn new(location: f64, scale: f64) -> Self;
}

/// ln of a term at any age, infinite ones too.
pub(super) fn at<L: Located>(term: Term, location: f64, scale: f64, age: f64) -> f64 {
    match (term, age) {
        (Term::LnDensity, f64::INFINITY | f64::NEG_INFINITY)
        | (Term::LnReliability, f64::INFINITY)
        | (Term::LnFailureProbability, f64::NEG_INFINITY) => f64::NEG_INFINITY,
        (_, f64::INFINITY | f64::NEG_INFINITY) => 0.0,
        _ => Straight::<L::Standard>::plain(term, [location, scale, age]),
    }
}

/// Checks both parameters.
pub(super) fn checked(location: f64, scale: f64) -> Result<()> {
    check::finite("location", location)?;
    check::positive("scale", scale)?;
    Ok(())
}

/// The family of such lives; coordinates (location, ln scale).
pub(super) struct LocationFamily<L>(PhantomData<fn() -> L>);

impl<L> LocationFamily<L> {
    pub(super) const NEW: Self = Self(PhantomData);
}

impl<L: Located> fmt::Debug for LocationFamily<L> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("LocationFamily").field(&L::NAME).finish()
    }
}

impl<L: Located> Family for LocationFamily<L> {
    fn name(&self) -> &'static str {
        L::NAME
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["location", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Hours, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(-1e5, 1e5), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [location, scale] = check::exactly(parameters)?;
        checked(location, scale)?;
        Ok(Box::new(L::new(location, scale)))
    }

    fn anchor(&self) -> usize {
        0
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [location, ln_scale] = check::first(coordinates);
        if !age.is_finite() {
            return flat(at::<L>(term, location, ln_scale.exp(), age), out);
        }
        fill::<Straight<L::Standard>, 3, 6>(self.links(), coordinates, age, term, order, out);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        let (mean, sd) = L::MEAN_SD;
        let rate = outline.exposure / outline.failures;
        let from = |centre: f64, spread: f64| {
            let scale = spread / sd;
            vec![centre - mean * scale, scale.ln()]
        };
        vec![
            from(outline.mean, outline.sd.max(1e-3 * outline.mean)),
            from(rate, 0.5 * rate),
            from(outline.mean + rate, outline.mean + rate),
        ]
    }

    fn below_zero(&self) -> bool {
        true
    }

    fn step(&self, coordinates: &[f64], i: usize) -> f64 {
        let [_, ln_scale] = check::first(coordinates);
        if i == 0 { ln_scale.exp() } else { 1.0 }
    }
}
