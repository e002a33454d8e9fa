//! What a life distribution can do, and what a rule that makes one can do.

use std::fmt;

use crate::base::error::{Error, Kind, Problem, Result};
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

    /// Probability to pass the age.
    fn reliability(&self, age: f64) -> f64 {
        self.ln_reliability(age).exp()
    }

    /// Probability to have failed by the age.
    fn failure_probability(&self, age: f64) -> f64 {
        self.ln_failure_probability(age).exp()
    }

    /// Failures per hour among lamps that reached the age.
    fn hazard(&self, age: f64) -> f64 {
        (self.ln_density(age) - self.ln_reliability(age)).exp()
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
    /// Those of [`Life::quantile`].
    fn b_life(&self, x: f64) -> Result<f64> {
        self.quantile(x / 100.0)
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
    /// Mean of ln age over the failures, an interval counted at its middle.
    pub mean_ln: f64,
    /// Standard deviation of ln age over the failures.
    pub sd_ln: f64,
}

/// A rule that makes a life from unconstrained coordinates (logarithms of positive parameters).
pub trait Family: Send + Sync + fmt::Debug {
    /// Name of the family, such as `weibull`.
    fn name(&self) -> &'static str;

    /// Names of its parameters in order, such as `shape`, `scale`.
    fn parameter_names(&self) -> &'static [&'static str];

    /// Number of unconstrained coordinates.
    fn width(&self) -> usize {
        self.parameter_names().len()
    }

    /// Parameters at the coordinates, in the order of [`Family::parameter_names`].
    fn parameters(&self, coordinates: &[f64]) -> Vec<f64>;

    /// d parameter / d coordinate, one for each: each parameter depends on its own coordinate only.
    fn parameter_slopes(&self, coordinates: &[f64]) -> Vec<f64>;

    /// Coordinates of the parameters.
    ///
    /// # Errors
    /// `family.parameter` for a parameter outside its box.
    fn coordinates(&self, parameters: &[f64]) -> Result<Vec<f64>>;

    /// The life at the coordinates.
    ///
    /// # Errors
    /// `family.parameter` for coordinates outside the box of the family.
    fn at(&self, coordinates: &[f64]) -> Result<Box<dyn Life>>;

    /// The coordinate that moves every age in proportion: adding d to it turns R(t) into R(t exp(-d)).
    fn scale_coordinate(&self) -> usize;

    /// A term at an age with its derivatives over (coordinates.., age), exact.
    ///
    /// # Numerics
    /// At age 0 and at infinite age the value is exact and the derivatives are set to 0.
    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet);

    /// Coordinates to start a search from, best guess first.
    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>>;
}
