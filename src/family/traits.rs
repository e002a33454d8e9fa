//! What a life distribution can do, and what a rule that makes one can do.

use std::fmt;

use super::check;
use super::moments;
use super::named::NamedLife;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::dual::Number;
use crate::base::math::linalg::packed;
use crate::base::random::Stream;

/// Which logarithm a likelihood asks of a family.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Term {
    /// Logarithm of the density.
    LnDensity,
    /// Logarithm of the reliability.
    LnReliability,
    /// Logarithm of the failure probability.
    LnFailureProbability,
}

/// How many derivatives are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Order {
    /// The value.
    Value,
    /// And the gradient.
    Gradient,
    /// And the Hessian.
    Hessian,
}

/// A value with its gradient and packed lower Hessian over (coordinates.., age). Reused from row to row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Jet {
    /// The value.
    pub value: f64,
    /// First derivatives, `(width + 1,)`; age last.
    pub gradient: Vec<f64>,
    /// Second derivatives, packed by rows of the lower triangle, `((width + 1) (width + 2) / 2,)`.
    pub hessian: Vec<f64>,
}

impl Jet {
    /// A jet of zeros for `width` coordinates and age.
    pub fn new(width: usize) -> Self {
        let n = width + 1;
        Self { value: 0.0, gradient: vec![0.0; n], hessian: vec![0.0; n * (n + 1) / 2] }
    }
}

/// Shares failed at which a search looks at a life: close enough that between two of them no rise of the hazard hides.
const LANDMARKS: [f64; 15] = [1e-3, 1e-2, 0.025, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99, 0.999];

/// The landmarks of a life as a whole.
pub(crate) fn own_landmarks(life: &(impl Life + ?Sized)) -> Vec<f64> {
    let quantiles = LANDMARKS.iter().filter_map(|p| life.quantile(*p).ok());
    quantiles.filter(|age| *age > 0.0 && age.is_finite()).collect()
}

/// A life distribution with its numbers in. Ages are hours; everything derives from the logarithms.
pub trait Life: Send + Sync + fmt::Debug {
    /// ln f(age); minus infinity where the density is 0.
    fn ln_density(&self, age: f64) -> f64;

    /// ln R(age), R the probability to pass the age.
    fn ln_reliability(&self, age: f64) -> f64;

    /// ln F(age), F = 1 - R.
    fn ln_failure_probability(&self, age: f64) -> f64;

    /// Age by which a share `p` has failed; infinite where it never does.
    ///
    /// # Errors
    /// `family.probability` unless 0 <= p <= 1.
    fn quantile(&self, p: f64) -> Result<f64>;

    /// Age that is passed with a reliability whose logarithm is given, 0 or less: the quantile from the side of the
    /// survivors, which keeps its digits where 1 - R rounds to 1.
    ///
    /// # Errors
    /// `family.probability` above 0.
    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        moments::quantile_passed(self, ln_reliability)
    }

    /// Integral of the reliability over (0, age): the mean age at change when changed at `age`. `age` may be infinite.
    ///
    /// # Errors
    /// `family.integral` where the integral does not settle.
    fn mean_to(&self, age: f64) -> Result<f64>;

    /// Share that never fails.
    fn never_fails(&self) -> f64 {
        0.0
    }

    /// Ages where integrals must be split, ascending.
    fn kinks(&self) -> &[f64] {
        &[]
    }

    /// Ages between which a search of a function of this life must not step at once: quantiles of it, or of every part that it
    /// is made of, so that a part far narrower than the whole, such as a weak batch, is not stepped over. In no order.
    fn landmarks(&self) -> Vec<f64> {
        own_landmarks(self)
    }

    /// Share that has failed before age 0: 0 for a life, above 0 for a distribution on all numbers, which is for fitting
    /// and which decisions refuse unless it is cut at 0.
    fn below_zero(&self) -> f64 {
        0.0
    }

    /// How the life is written: its family and parameters, which make it again to the bit. None for a life that is no
    /// family's, such as a curve as it stands.
    fn named(&self) -> Option<NamedLife> {
        None
    }

    /// One of the three logarithms.
    fn ln_term(&self, term: Term, age: f64) -> f64 {
        match term {
            Term::LnDensity => self.ln_density(age),
            Term::LnReliability => self.ln_reliability(age),
            Term::LnFailureProbability => self.ln_failure_probability(age),
        }
    }

    /// Probability to pass the age.
    fn reliability(&self, age: f64) -> f64 {
        self.ln_reliability(age).exp()
    }

    /// Probability to pass the age for a lamp that has reached an earlier one: 1 up to that one. NaN where none reaches it.
    ///
    /// # Formula
    /// ```text
    /// R(age) / R(reached)
    /// ```
    fn conditional_reliability(&self, age: f64, reached: f64) -> f64 {
        if age <= reached { 1.0 } else { (self.ln_reliability(age) - self.ln_reliability(reached)).exp() }
    }

    /// Probability to have failed by the age.
    fn failure_probability(&self, age: f64) -> f64 {
        self.ln_failure_probability(age).exp()
    }

    /// ln h(age), h the failures per hour among lamps that reached the age. Far out in the tail ln f and ln R are large
    /// and nearly equal: a life that knows its hazard gives it without their difference.
    fn ln_hazard(&self, age: f64) -> f64 {
        self.ln_density(age) - self.ln_reliability(age)
    }

    /// Failures per hour among lamps that reached the age.
    fn hazard(&self, age: f64) -> f64 {
        self.ln_hazard(age).exp()
    }

    /// Integral of the hazard to the age.
    fn cumulative_hazard(&self, age: f64) -> f64 {
        -self.ln_reliability(age)
    }

    /// Mean age at failure, hours.
    ///
    /// # Errors
    /// Those of [`Life::mean_to`].
    fn mean(&self) -> Result<f64> {
        self.mean_to(f64::INFINITY)
    }

    /// Variance of the age at failure, hours squared.
    ///
    /// # Errors
    /// `family.variance` where the life does not know it.
    fn variance(&self) -> Result<f64> {
        Err(Error::new(Kind::Domain, Problem::new("family.variance", "this life does not know its variance")))
    }

    /// Mean hours still to come for a lamp that has reached the age.
    ///
    /// # Errors
    /// Those of [`Life::mean_to`].
    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        Ok((self.mean()? - self.mean_to(age)?) / self.reliability(age))
    }

    /// Age by which `x` percent have failed, hours: `b_life(10.0)` is the B10 life.
    ///
    /// # Errors
    /// `family.probability` outside 0 to 100; those of [`Life::quantile`].
    fn b_life(&self, x: f64) -> Result<f64> {
        self.quantile(check::percent(x)?)
    }

    /// ln R for many ages: one call for a block.
    fn ln_reliability_into(&self, ages: &[f64], out: &mut [f64]) {
        for (o, &a) in out.iter_mut().zip(ages) {
            *o = self.ln_reliability(a);
        }
    }

    /// One random age at failure, by inversion.
    ///
    /// # Errors
    /// Those of [`Life::quantile`].
    fn draw(&self, stream: &mut Stream) -> Result<f64> {
        self.quantile(stream.uniform())
    }

    /// `n` random ages at failure, in order from the stream.
    ///
    /// # Errors
    /// Those of [`Life::quantile`].
    fn draws(&self, n: usize, stream: &mut Stream) -> Result<Vec<f64>> {
        (0..n).map(|_| self.draw(stream)).collect()
    }
}

/// What a search needs to know of a sample to start: no rows, only their outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outline {
    /// Weight of the failures.
    pub failures: f64,
    /// Hours under observation, all rows.
    pub exposure: f64,
    /// Mean age over the failures, hours, an interval counted at its middle.
    pub mean: f64,
    /// Standard deviation of the age over the failures, hours.
    pub sd: f64,
    /// Mean of ln age over the failures.
    pub mean_ln: f64,
    /// Standard deviation of ln age over the failures.
    pub sd_ln: f64,
}

/// How a parameter is tied to its unconstrained coordinate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// A positive parameter; the coordinate is its logarithm.
    Log,
    /// A real parameter near 1 or in ln hours; the coordinate is the parameter.
    Plain,
    /// A real parameter in hours; the coordinate is the parameter.
    Hours,
    /// A share between 0 and 1; the coordinate is ln(share / (1 - share)).
    Share,
}

impl Link {
    pub(crate) fn parameter(self, c: f64) -> f64 {
        match self {
            Self::Log => c.exp(),
            Self::Plain | Self::Hours => c,
            // The smaller side keeps its digits.
            Self::Share => {
                if c < 0.0 {
                    c.exp() / (1.0 + c.exp())
                } else {
                    1.0 / (1.0 + (-c).exp())
                }
            }
        }
    }

    /// The parameter with its derivatives.
    pub(super) fn carried<T: Number>(self, c: T) -> T {
        match self {
            Self::Log => c.exp(),
            Self::Plain | Self::Hours => c,
            Self::Share => c.map(|c| [self.parameter(c), self.slope(c), self.bend(c)]),
        }
    }

    fn slope(self, c: f64) -> f64 {
        match self {
            Self::Log => c.exp(),
            Self::Plain | Self::Hours => 1.0,
            Self::Share => {
                let e = (-c.abs()).exp();
                e / ((1.0 + e) * (1.0 + e))
            }
        }
    }

    /// Second derivative of the parameter over its coordinate.
    fn bend(self, c: f64) -> f64 {
        match self {
            Self::Log => c.exp(),
            Self::Plain | Self::Hours => 0.0,
            Self::Share => self.slope(c) * -(0.5 * c).tanh(),
        }
    }

    pub(crate) fn coordinate(self, p: f64) -> f64 {
        match self {
            Self::Log => p.ln(),
            Self::Plain | Self::Hours => p,
            Self::Share => p.ln() - (-p).ln_1p(),
        }
    }
}

/// Size of a logarithmic coordinate from which numbers are no longer finite.
pub(super) const FAR: f64 = 700.0;

/// What a family is made of.
#[derive(Clone, Copy, Debug)]
pub enum Parts {
    /// Two causes, whichever comes first.
    Series([&'static dyn Family; 2]),
    /// Two kinds of lamps; the last coordinate is the share of the first.
    Mixture([&'static dyn Family; 2]),
    /// Lamps of which a share never fails, the last coordinate.
    NeverFails(&'static dyn Family),
}

/// A rule that makes a life from unconstrained coordinates (logarithms of positive parameters).
pub trait Family: Send + Sync + fmt::Debug {
    /// Name of the family, such as `weibull`.
    fn name(&self) -> &'static str;

    /// Names of its parameters in order, such as `shape`, `scale`.
    fn parameter_names(&self) -> &'static [&'static str];

    /// How each parameter is tied to its coordinate, in the same order.
    fn links(&self) -> &'static [Link];

    /// Smallest and largest value of each parameter up to which values and derivatives are checked against 50-digit tables.
    fn stated_box(&self) -> &'static [(f64, f64)];

    /// The life of the parameters, to the bit.
    ///
    /// # Errors
    /// `family.width` for a wrong number of parameters, `family.parameter` for one outside its range.
    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>>;

    /// The coordinate that can be set so that the life passes a given age with a given reliability: where there is
    /// one, the coordinate that moves every age in proportion, so that adding d turns R(t) into R(t exp(-d)).
    fn anchor(&self) -> usize;

    /// A term at an age with its derivatives over (coordinates.., age), exact.
    ///
    /// # Numerics
    /// At age 0 and at infinite age the value is exact and the derivatives are set to 0.
    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet);

    /// A term at an age with its first and second derivatives over (parameters.., age) themselves: the chain rule over
    /// [`Family::jet`].
    ///
    /// # Formula
    /// ```text
    /// d/dp = (d/dc) / s,  d2/dp dq = (d2/dc de) / (s_p s_q), and for p = q less (d/dc) b / s^3
    /// ```
    /// c: coordinate of the parameter p; s and b: first and second derivative of p over c.
    ///
    /// # Errors
    /// Those of [`Family::life`].
    ///
    /// # Examples
    /// ```
    /// use relamp::family::{Term, family};
    /// // ln f = -ln scale - t / scale.
    /// let found = family("exponential")?.parameter_jet(&[1000.0], 500.0, Term::LnDensity)?;
    /// assert!((found.gradient[0] + 0.0005).abs() < 1e-18); // -1 / scale + t / scale^2
    /// assert!((found.hessian[0] - 0.0).abs() < 1e-18); // 1 / scale^2 - 2 t / scale^3
    /// assert!((found.gradient[1] + 0.001).abs() < 1e-18);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    fn parameter_jet(&self, parameters: &[f64], age: f64, term: Term) -> Result<Jet> {
        let x = self.coordinates(parameters)?;
        let mut found = Jet::new(x.len());
        self.jet(&x, age, term, Order::Hessian, &mut found);
        let ties = self.links().iter().zip(&x);
        // The age is its own coordinate.
        let rates: Vec<(f64, f64)> = ties.map(|(l, c)| (l.slope(*c), l.bend(*c))).chain([(1.0, 0.0)]).collect();
        for (slot, (slope, _)) in found.gradient.iter_mut().zip(&rates) {
            *slot /= slope;
        }
        for (i, (slope, bend)) in rates.iter().enumerate() {
            for (j, (other, _)) in rates.iter().enumerate().take(i + 1) {
                let along = found.gradient.get(i).copied().unwrap_or(f64::NAN) * bend;
                if let Some(slot) = found.hessian.get_mut(packed(i, j)) {
                    *slot = (*slot - if i == j { along } else { 0.0 }) / slope / other;
                }
            }
        }
        Ok(found)
    }

    /// Coordinates to start a search from, best guess first.
    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>>;

    /// Number of unconstrained coordinates.
    fn width(&self) -> usize {
        self.parameter_names().len()
    }

    /// Parameters at the coordinates, in the order of [`Family::parameter_names`].
    fn parameters(&self, coordinates: &[f64]) -> Vec<f64> {
        self.links().iter().zip(coordinates).map(|(link, c)| link.parameter(*c)).collect()
    }

    /// d parameter / d coordinate, one for each: each parameter depends on its own coordinate only.
    fn parameter_slopes(&self, coordinates: &[f64]) -> Vec<f64> {
        self.links().iter().zip(coordinates).map(|(link, c)| link.slope(*c)).collect()
    }

    /// Coordinates of the parameters.
    ///
    /// # Errors
    /// Those of [`Family::life`].
    fn coordinates(&self, parameters: &[f64]) -> Result<Vec<f64>> {
        self.life(parameters)?;
        Ok(self.links().iter().zip(parameters).map(|(link, p)| link.coordinate(*p)).collect())
    }

    /// The life at the coordinates.
    ///
    /// # Errors
    /// Those of [`Family::life`].
    fn at(&self, coordinates: &[f64]) -> Result<Box<dyn Life>> {
        check::width(coordinates, self.width())?;
        self.life(&self.parameters(coordinates))
    }

    /// Value of the [`Family::anchor`] coordinate, the others as given, at which ln R(age) is `ln_reliability`.
    ///
    /// # Errors
    /// Those of [`Family::life`]; `family.anchor` where no value does it.
    fn anchored(&self, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
        let mut x = coordinates.to_vec();
        if let Some(slot) = x.get_mut(self.anchor()) {
            *slot = 0.0;
        }
        let at_zero = self.at(&x)?.quantile_passed(ln_reliability)?;
        Ok(match self.links().get(self.anchor()) {
            Some(Link::Hours) => age - at_zero,
            _ => age.ln() - at_zero.ln(),
        })
    }

    /// The direction in which the coordinates move when every age is multiplied: adding d times it turns R(t) into
    /// R(t exp(-d)), and its entry at the anchor is 1. None where no straight line does that.
    fn stretch(&self) -> Option<Vec<f64>> {
        let straight = !self.links().contains(&Link::Hours);
        straight.then(|| (0..self.width()).map(|i| f64::from(u8::from(i == self.anchor()))).collect())
    }

    /// What it is made of; none for a family of its own.
    fn parts(&self) -> Option<Parts> {
        None
    }

    /// Natural size of a step of coordinate `i`: 1, but for a location in hours the scale of the life.
    fn step(&self, _coordinates: &[f64], _i: usize) -> f64 {
        1.0
    }

    /// Smallest value of coordinate `i`, which it may take itself: minus infinity unless the parameter ends somewhere.
    fn floor(&self, _i: usize) -> f64 {
        f64::NEG_INFINITY
    }

    /// Whether a likelihood often has several peaks, so that a search must not rest at the first.
    fn several_peaks(&self) -> bool {
        false
    }

    /// Given ages between which the hazard of its lives is constant, ascending; empty for other families.
    fn cuts(&self) -> &[f64] {
        &[]
    }

    /// Whether its lives may fail before age 0, see [`Life::below_zero`].
    fn below_zero(&self) -> bool {
        false
    }

    /// Whether the numbers at the coordinates are within reach.
    fn inside(&self, coordinates: &[f64]) -> bool {
        self.links().iter().zip(coordinates).all(|(link, c)| match link {
            Link::Hours => c.is_finite(),
            _ => c.abs() < FAR,
        })
    }
}
