//! Least values of functions of one unknown.

use argmin::core::{CostFunction, Error as ArgminError, Executor};
use argmin::solver::brent::BrentOpt;

use crate::base::error::{Error, Kind, Problem, Result};

/// Steps after which a search ends where it stands.
const MOST_STEPS: u64 = 200;

struct Function<F>(F);

impl<F: Fn(f64) -> Result<f64>> CostFunction for Function<F> {
    type Param = f64;
    type Output = f64;

    fn cost(&self, x: &f64) -> std::result::Result<f64, ArgminError> {
        Ok((self.0)(*x)?)
    }
}

/// A least value of a continuous function between two points: where it stands, and the value.
///
/// Of several least values any may come out. The ends themselves are not tried.
///
/// # Arguments
/// `tolerance`: of the place, relative to it; below 1e-8 rounding of the function decides.
///
/// # Errors
/// `base.search` where the search finds no number; those of the function.
///
/// # Source
/// Brent, Algorithms for Minimization without Derivatives (1973), chapter 5.
///
/// # Examples
/// ```
/// let (at, least) = relamp::base::math::least::least(|x| Ok((x - 2.0) * (x - 2.0) + 1.0), 0.5, 9.0, 1e-8).unwrap();
/// assert!((at - 2.0).abs() < 1e-6 && (least - 1.0).abs() < 1e-12);
/// ```
pub fn least(f: impl Fn(f64) -> Result<f64>, from: f64, to: f64, tolerance: f64) -> Result<(f64, f64)> {
    let size = from.abs().max(to.abs());
    let solver = BrentOpt::new(from, to).set_tolerance(tolerance, 1e-3 * tolerance * size);
    let run = Executor::new(Function(f), solver).timer(false).configure(|state| state.max_iters(MOST_STEPS)).run();
    let wrong =
        |said: String| Error::new(Kind::Internal, Problem::new("base.search", format!("search failed: {said}")));
    let found = run.map_err(|e| e.downcast::<Error>().unwrap_or_else(|e| wrong(e.to_string())))?;
    match (found.state.best_param, found.state.best_cost) {
        (Some(at), value) if value.is_finite() => Ok((at, value)),
        _ => Err(wrong("no finite value".to_owned())),
    }
}
