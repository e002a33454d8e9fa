//! A damped Newton search on a log-likelihood, run by argmin's executor.

use argmin::core::{
    CostFunction, Error as ArgminError, Executor, Gradient, IterState, KV, Problem as Counted, Solver, State,
    TerminationReason, TerminationStatus,
};
use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::linalg::{packed, solve};
use crate::base::run::Run;
use crate::family::Order;

/// A value to be maximised with its gradient and packed lower Hessian.
#[derive(Clone, Debug, Default)]
pub(super) struct Point {
    pub(super) value: f64,
    pub(super) gradient: Vec<f64>,
    pub(super) hessian: Vec<f64>,
}

impl Point {
    pub(super) fn new(width: usize) -> Self {
        Self { value: f64::NAN, gradient: vec![0.0; width], hessian: vec![0.0; width * (width + 1) / 2] }
    }

    /// The packed negative Hessian.
    pub(super) fn information(&self) -> Vec<f64> {
        self.hessian.iter().map(|h| -h).collect()
    }

    /// Largest |gradient| in units of one over the standard error of its own coordinate, over those that may move.
    pub(super) fn scaled_gradient(&self, held: &[bool]) -> f64 {
        self.gradient.iter().enumerate().zip(held).filter(|(_, held)| !**held).fold(0.0, |most: f64, ((i, g), _)| {
            most.max(g.abs() / self.hessian.get(packed(i, i)).map_or(0.0, |h| h.abs().sqrt()))
        })
    }

    /// Forgets the coordinates that are held: no slope, and a curvature that ties them to nothing.
    fn hold(&mut self, held: &[bool]) {
        for (i, _) in held.iter().enumerate().filter(|(_, held)| **held) {
            self.gradient[i] = 0.0;
            for j in 0..held.len() {
                self.hessian[packed(i, j)] = if i == j { -1.0 } else { 0.0 };
            }
        }
    }
}

/// A smooth function of unconstrained coordinates, to be maximised.
pub(super) trait Surface {
    fn width(&self) -> usize;

    /// Fills `out` at `x`. A point outside the domain has a value that is not finite.
    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()>;

    /// Whether the search may go there.
    fn inside(&self, _x: &[f64]) -> bool {
        true
    }

    /// Natural size of a step of coordinate `i`.
    fn step(&self, _x: &[f64], _i: usize) -> f64 {
        1.0
    }

    /// Smallest value that coordinate `i` may take.
    fn floor(&self, _i: usize) -> f64 {
        f64::NEG_INFINITY
    }
}

/// Coordinates that stand on their floor and would rise only by going below it.
fn on_floor<S: Surface + ?Sized>(surface: &S, x: &[f64], gradient: &[f64]) -> Vec<bool> {
    x.iter().zip(gradient).enumerate().map(|(i, (x, g))| *x <= surface.floor(i) && !(*g > 0.0)).collect()
}

/// Why a search stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Stop {
    /// The answer has a closed form; there was no search.
    ClosedForm,
    /// The scaled gradient is 0 to rounding.
    Gradient,
    /// The largest allowed number of iterations was reached.
    Iterations,
    /// No step raised the likelihood any further, though the gradient is not 0.
    NoProgress,
    /// The start lies outside the domain.
    BadStart,
}

/// Where a search ended.
#[derive(Clone, Debug)]
pub(super) struct Outcome {
    pub(super) x: Vec<f64>,
    pub(super) point: Point,
    pub(super) iterations: u64,
    pub(super) stop: Stop,
    /// Coordinates that did not move though the likelihood slopes: those on their floor, or held by a corner.
    pub(super) held: Vec<bool>,
}

impl Outcome {
    pub(super) fn converged(&self) -> bool {
        matches!(self.stop, Stop::Gradient | Stop::ClosedForm)
    }

    /// Indices of the coordinates that may move.
    fn free(&self) -> impl Iterator<Item = usize> + Clone + '_ {
        (0..self.held.len()).filter(|i| !self.held[*i])
    }

    /// The packed negative Hessian over the coordinates that may move.
    pub(super) fn free_information(&self) -> Vec<f64> {
        let pairs = self.free().flat_map(|i| self.free().take_while(move |j| *j <= i).map(move |j| packed(i, j)));
        pairs.map(|k| -self.point.hessian[k]).collect()
    }

    /// A packed matrix over the coordinates that may move, as one over all: 0 for those that are held.
    pub(super) fn spread_out(&self, over_free: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.point.hessian.len()];
        let pairs = self.free().flat_map(|i| self.free().take_while(move |j| *j <= i).map(move |j| packed(i, j)));
        for (k, v) in pairs.zip(over_free) {
            out[k] = *v;
        }
        out
    }
}

/// Newton decrement (distance to the optimum in standard errors) from which one more full step is
/// the last: convergence is quadratic, so that step ends at rounding.
const LAST_STEP: f64 = 1e-6;
/// Largest move of a coordinate in one step, in its natural size: most coordinates are logarithms or near them.
const LONGEST: f64 = 2.0;
/// Halvings of a step before the search gives up.
const HALVINGS: usize = 40;
/// Share of the promised rise that a step must deliver.
const RISE: f64 = 1e-4;
/// Rounding of a log-likelihood, relative.
const NOISE: f64 = 1e-13;

/// A surface as argmin sees it; its own cost and gradient are over coordinates in units of `scale`.
struct Search<'s, S: ?Sized> {
    surface: &'s S,
    scale: Vec<f64>,
}

impl<S: Surface + ?Sized> Search<'_, S> {
    fn units(&self, x: &[f64]) -> Vec<f64> {
        (0..x.len()).map(|i| self.surface.step(x, i)).collect()
    }

    fn scaled(&self, y: &[f64]) -> Vec<f64> {
        y.iter().zip(&self.scale).map(|(y, s)| y * s).collect()
    }
}

#[derive(Clone, Debug)]
struct Newton {
    run: Run,
    here: Point,
    stop: Option<Stop>,
}

type Walk = IterState<Vec<f64>, Vec<f64>, (), Vec<f64>, (), f64>;

/// Newton direction with the positive definite safeguard, and its decrement if no damping was needed.
/// `units`: natural sizes of the coordinates, so that damping treats hours and logarithms alike.
fn direction(point: &Point, units: &[f64]) -> Option<(Vec<f64>, Option<f64>)> {
    let mut information = point.information();
    let n = point.gradient.len();
    if let Some(step) = solve(&information, &point.gradient) {
        let decrement = step.iter().zip(&point.gradient).map(|(s, g)| s * g).sum::<f64>().max(0.0).sqrt();
        return Some((step, Some(decrement)));
    }
    for i in 0..n {
        for j in 0..=i {
            information[packed(i, j)] *= units[i] * units[j];
        }
    }
    let gradient: Vec<f64> = point.gradient.iter().zip(units).map(|(g, u)| g * u).collect();
    let largest = information.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
    let mut damping = 1e-3;
    for _ in 0..12 {
        let mut damped = information.clone();
        for i in 0..n {
            let k = packed(i, i);
            damped[k] = damped[k].abs() + damping * largest;
        }
        if let Some(step) = solve(&damped, &gradient) {
            return Some((step.iter().zip(units).map(|(s, u)| s * u).collect(), None));
        }
        damping *= 10.0;
    }
    None
}

impl<S: Surface + ?Sized> Solver<Search<'_, S>, Walk> for Newton {
    fn name(&self) -> &'static str {
        "damped Newton"
    }

    fn next_iter(
        &mut self,
        problem: &mut Counted<Search<'_, S>>,
        mut state: Walk,
    ) -> std::result::Result<(Walk, Option<KV>), ArgminError> {
        let x = state.take_param().unwrap_or_default();
        if self.run.check().is_err() {
            self.stop = Some(Stop::Iterations);
            return Ok((state.param(x), None));
        }
        let units = problem.problem("units", |search| Ok(search.units(&x)))?;
        let held = problem.problem("floors", |search| Ok(on_floor(search.surface, &x, &self.here.gradient)))?;
        let mut here = self.here.clone();
        here.hold(&held);
        let Some((mut step, decrement)) = direction(&here, &units) else {
            self.stop = Some(Stop::NoProgress);
            return Ok((state.param(x), None));
        };
        let last = decrement.is_some_and(|d| d < LAST_STEP);
        let longest = step.iter().zip(&units).fold(0.0, |m: f64, (s, u)| m.max(s.abs() / u));
        if longest > LONGEST {
            for s in &mut step {
                *s *= LONGEST / longest;
            }
        }
        let slope: f64 = step.iter().zip(&here.gradient).map(|(s, g)| s * g).sum();
        let noise = NOISE * self.here.value.abs().max(1.0);
        let before = self.here.value;
        let good = |value: f64, promised: f64| {
            let rise = value - before;
            value.is_finite() && (rise >= RISE * promised.max(0.0) || (rise >= -noise && promised <= 1e3 * noise))
        };
        let mut next = Point::new(x.len());
        let mut share = 1.0;
        for _ in 0..HALVINGS {
            let mut there: Vec<f64> = x.iter().zip(&step).map(|(a, s)| a + share * s).collect();
            let mut promised = share * slope;
            problem.problem("evaluations", |search| {
                for (i, there) in there.iter_mut().enumerate() {
                    let floor = search.surface.floor(i);
                    if *there < floor {
                        promised += here.gradient[i] * (floor - *there);
                        *there = floor;
                    }
                }
                if !search.surface.inside(&there) {
                    next.value = f64::NEG_INFINITY;
                    return Ok(());
                }
                // A step that has been halved is often halved again: its derivatives wait until its height serves.
                if share < 1.0 {
                    search.surface.at(&there, Order::Value, &mut next).map_err(ArgminError::from)?;
                    if !good(next.value, promised) {
                        return Ok(());
                    }
                }
                search.surface.at(&there, Order::Hessian, &mut next).map_err(ArgminError::from)
            })?;
            if next.gradient.iter().all(|g| g.is_finite()) && good(next.value, promised) {
                if last {
                    self.stop = Some(Stop::Gradient);
                }
                self.here = next;
                return Ok((state.cost(-self.here.value).param(there), None));
            }
            share *= 0.5;
        }
        self.stop = Some(if last { Stop::Gradient } else { Stop::NoProgress });
        Ok((state.param(x), None))
    }

    fn terminate(&mut self, _state: &Walk) -> TerminationStatus {
        match self.stop {
            Some(Stop::Gradient) => TerminationStatus::Terminated(TerminationReason::SolverConverged),
            Some(_) => TerminationStatus::Terminated(TerminationReason::SolverExit("stopped early".into())),
            None => TerminationStatus::NotTerminated,
        }
    }
}

fn failed(error: &ArgminError) -> Error {
    Error::new(Kind::Internal, Problem::new("fit.search", format!("search failed: {error}")))
}

/// Climbs from `start` to a maximum.
pub(super) fn climb<S: Surface + ?Sized>(surface: &S, start: &[f64], most: u64, run: &Run) -> Result<Outcome> {
    run.check()?;
    let mut here = Point::new(surface.width());
    if surface.inside(start) {
        surface.at(start, Order::Hessian, &mut here)?;
    }
    if !here.value.is_finite() || !here.gradient.iter().all(|g| g.is_finite()) {
        let held = vec![false; start.len()];
        return Ok(Outcome { x: start.to_vec(), point: here, iterations: 0, stop: Stop::BadStart, held });
    }
    if surface.width() == 0 {
        return Ok(Outcome { x: Vec::new(), point: here, iterations: 0, stop: Stop::Gradient, held: Vec::new() });
    }
    let newton = Newton { run: run.clone(), here, stop: None };
    let result = Executor::new(Search { surface, scale: Vec::new() }, newton)
        .timer(false)
        .configure(|state: Walk| state.param(start.to_vec()).max_iters(most).counting(false))
        .run()
        .map_err(|e| failed(&e))?;
    run.check()?;
    let x = result.state().get_param().cloned().unwrap_or_else(|| start.to_vec());
    let iterations = result.state().get_iter();
    let newton = result.solver();
    let point = newton.here.clone();
    let held = on_floor(surface, &x, &point.gradient);
    Ok(Outcome { x, point, iterations, stop: newton.stop.unwrap_or(Stop::Iterations), held })
}

impl<S: Surface + ?Sized> CostFunction for Search<'_, S> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, y: &Vec<f64>) -> std::result::Result<f64, ArgminError> {
        let x = self.scaled(y);
        let mut point = Point::new(x.len());
        if !self.surface.inside(&x) {
            return Ok(f64::MAX.sqrt());
        }
        self.surface.at(&x, Order::Value, &mut point)?;
        Ok(if point.value.is_finite() { -point.value } else { f64::MAX.sqrt() })
    }
}

impl<S: Surface + ?Sized> Gradient for Search<'_, S> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, y: &Vec<f64>) -> std::result::Result<Vec<f64>, ArgminError> {
        let x = self.scaled(y);
        let mut point = Point::new(x.len());
        self.surface.at(&x, Order::Gradient, &mut point)?;
        Ok(point.gradient.iter().zip(&self.scale).map(|(g, s)| if g.is_finite() { -g * s } else { 0.0 }).collect())
    }
}

/// The fallback: argmin's quasi-Newton search with few iterations, whose end is a new start for [`climb`].
pub(super) fn wander<S: Surface + ?Sized>(surface: &S, start: &[f64]) -> Option<Vec<f64>> {
    use argmin::solver::linesearch::MoreThuenteLineSearch;
    use argmin::solver::quasinewton::LBFGS;
    let solver: LBFGS<_, Vec<f64>, Vec<f64>, f64> = LBFGS::new(MoreThuenteLineSearch::new(), 7);
    let scale: Vec<f64> = (0..start.len()).map(|i| surface.step(start, i)).collect();
    let from = start.iter().zip(&scale).map(|(x, s)| x / s).collect();
    let search = Search { surface, scale };
    let result =
        Executor::new(search, solver).timer(false).configure(|state| state.param(from).max_iters(100)).run().ok()?;
    let scale: Vec<f64> = (0..start.len()).map(|i| surface.step(start, i)).collect();
    let best = result.state().get_best_param()?;
    Some(best.iter().zip(&scale).map(|(y, s)| y * s).collect())
}
