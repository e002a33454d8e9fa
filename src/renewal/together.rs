//! Screens whose lamps are all changed when one of them reaches the planned age.

use super::amounts::Laid;
use super::basis::{Basis, gauss};
use super::mesh::{Kernel, Panels};
use super::table::mesh;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::quadrature::integrate;
use crate::base::math::root::bracketed;

/// Chance that no screen has had a lamp of the planned age, below which nothing is left to follow.
const OVER: f64 = 1e-17;
/// Miss of one planned age from a multiple of the one before, relative, from which on all later ones are multiples.
const SETTLED: f64 = 1e-11;
/// Logarithm of the chance to reach the planned age below which no change of all would be seen.
const LEAST_LN: f64 = -40.0;
/// Most planned ages that are followed.
const MOST_AGES: usize = 48;
/// Most panels to one planned age.
const MOST_PANELS: usize = 400;
/// Points of a rule where no function has a corner, and where one has: the chance is taken to the power of the screens, which
/// bends more than what the panels follow.
const POINTS: (usize, usize) = (32, 64);
/// Nodes of the panels by age at whose ends functions may be broken powers, for gentle powers and for steep ones.
const END_NODES: (usize, usize) = (24, 48);
/// Steepest power that counts as gentle.
const GENTLE: f64 = 3.0;

/// How many lamps of one screen burn at each age, from one change of all lamps to the next.
///
/// # Formula
/// ```text
/// G(t) = 1 before A, then integral of G(t - x) dF(x) over (0, A): no lamp of a screen has reached A by t
/// m(t) = F(min(t, A)) + integral of m(t - x) dF(x) over (0, A): mean failures of a screen before one of its lamps reaches A
/// w(u) = G(u)^(n-1) + integral of G(s + u)^(n-1) dm(s): mean number of lamps fitted in a screen early enough for all lamps to
///        be changed only after its age u, where it reaches that age
/// ```
/// `F` life of a lamp, `n` screens. All lamps are new at the start, and all are changed when the first one reaches `A`. A lamp
/// fitted at `s` burns at `s + u` before that, if it has not failed, exactly where the other screens have had no lamp of age
/// `A`: its own screen has had none as long as it burns younger than that. What an hour at an age brings, times the
/// reliability and `w`, sums up to what the lamps of a screen bring in the whole time.
#[derive(Debug)]
pub(crate) struct Together {
    plan: f64,
    ages: Ages,
    /// Mean hours from one change of all to the next.
    pub(crate) hours: f64,
    /// What the figures may be wrong by where the changes of the screens did not settle, relative.
    pub(crate) unsettled: f64,
}

impl Together {
    /// Follows `lamps` screens from one change of all to the next.
    ///
    /// # Errors
    /// `renewal.too_far` where the life is far shorter than the planned age; those of the integrals.
    pub(crate) fn new(laid: &Laid<'_>, lamps: u32) -> Result<Self> {
        let spread = &laid.spread;
        let too_far = || {
            let what = "the planned age of the site lies too far past the life of its lamps";
            let problem = Problem::new("renewal.site_age", what).at(Place::input("age_hours"));
            Error::new(Kind::Limit, problem.got(spread.plan.unwrap_or(0.0)).expected("an age of the order of a life"))
        };
        let plan = spread.plan.ok_or_else(too_far)?;
        if spread.life.ln_reliability(plan) < LEAST_LN {
            return Err(too_far());
        }
        let mesh = mesh(spread, plan, 0)?;
        let panels = mesh.period.filter(|m| *m <= MOST_PANELS).ok_or_else(too_far)?;
        let kernel = Kernel::new(&mesh, spread, panels).without_plan();
        let others = i32::try_from(lamps.saturating_sub(1)).unwrap_or(i32::MAX);
        let n = f64::from(lamps);
        let failed = spread.between(0.0, plan);
        let given = |which: usize, panel: usize, hours: f64, _: &[f64]| match which {
            0 if panel >= panels => 0.0,
            0 => spread.life.reliability(hours),
            _ if panel >= panels => failed,
            _ => spread.between(0.0, hours),
        };
        let decay = decay(&|age| spread.life.reliability(age), &|age| spread.life.ln_reliability(age), plan)?;
        let factor = (-decay * plan).exp();
        let mut miss = 1.0;
        let stop = |panel: usize, [passed, failures]: &[Panels; 2]| {
            if !(panel + 1).is_multiple_of(panels) {
                return false;
            }
            let left = passed.last().and_then(|v| v.last()).copied().unwrap_or(0.0);
            if left.powi(others + 1) < OVER {
                miss = 0.0;
                return true;
            }
            let (Some(from), true) = ((panel + 1).checked_sub(2 * panels), panel + 1 > 2 * panels) else {
                return false;
            };
            let pairs = passed.iter().skip(from).zip(passed.iter().skip(from + panels)).take(panels);
            let apart = |a: f64, b: f64| (b - factor * a).abs() / (factor * a).abs().max(f64::MIN_POSITIVE);
            miss = pairs.flat_map(|(a, b)| a.iter().zip(b)).map(|(a, b)| apart(*a, *b)).fold(0.0, f64::max);
            // The chance may be flat while failures still come in waves: what one planned age adds to them must settle too.
            let Some(first) = (panel + 1).checked_sub(3 * panels) else {
                miss = 1.0;
                return false;
            };
            for k in first..first + panels {
                let at = |panel: usize| failures.get(panel).map_or(&[][..], Vec::as_slice);
                for ((a, b), c) in at(k).iter().zip(at(k + panels)).zip(at(k + 2 * panels)) {
                    miss = miss.max(apart(b - a, c - b));
                }
            }
            miss < SETTLED
        };
        let [passed, failures] = kernel.solve(panels * MOST_AGES, given, stop)?;
        let followed = passed.len() / panels;
        let basis = |panel: usize| mesh.basis(panel);
        // Every later planned age brings a part of what the last one brings.
        let tail = if miss == 0.0 { 0.0 } else { 1.0 / (n * decay * plan).exp_m1() };
        let width = mesh.width_hours;
        let power = mesh.bases.start.power;
        let rules = [(gauss(POINTS.0), 1.0), (gauss(POINTS.1), power)];
        let slopes: Vec<Vec<f64>> = failures.iter().enumerate().map(|(p, v)| basis(p).slopes_of(v)).collect();
        let weight_of_tail = |panel: usize| if panel / panels + 1 == followed { 1.0 + tail } else { 1.0 };
        // Values of the chance on a panel; past what was followed, those of one planned age before, and their part.
        let chance = |panel: usize| -> (&[f64], f64) {
            match passed.get(panel) {
                Some(values) => (values, 1.0),
                None => (panel.checked_sub(panels).and_then(|p| passed.get(p)).map_or(&[][..], Vec::as_slice), factor),
            }
        };
        let power_of = |(values, part): (&[f64], f64), row: &[f64], n: i32| (part * dot(row, values)).max(0.0).powi(n);
        let starts = |panel: usize| panel.is_multiple_of(panels);
        let count = passed.len();
        // One share of the panels by age at a time: what is asked at its points then holds for all of them.
        let column = |share: f64, of: &[usize]| -> Vec<f64> {
            let mut sums = vec![0.0; of.len()];
            for (later, length) in [(0, 1.0 - share), (1, share)] {
                if length <= 0.0 {
                    continue;
                }
                for (fine, (points, power)) in rules.iter().enumerate() {
                    let end = length.powf(1.0 / power);
                    let shares: Vec<(f64, f64)> = points
                        .iter()
                        .map(|(y, w)| {
                            let x = end * y;
                            // Share of the panel in which the lamp is fitted, and the weight.
                            let within = x.powf(*power);
                            (within.min(length), w * end * power * x.powf(power - 1.0))
                        })
                        .collect();
                    let source = |within: f64| if later == 0 { within } else { (1.0 - share + within).min(1.0) };
                    let target = |within: f64| if later == 0 { (share + within).min(1.0) } else { within };
                    let rows = |basis: &Basis, place: &dyn Fn(f64) -> f64| -> Vec<Vec<f64>> {
                        shares.iter().map(|(y, _)| basis.row(place(*y))).collect()
                    };
                    let [plain, start] = [&mesh.bases.plain, &mesh.bases.start];
                    let (source_rows, target_rows) =
                        ([rows(plain, &source), rows(start, &source)], [rows(plain, &target), rows(start, &target)]);
                    let fitted: Vec<Vec<f64>> = slopes
                        .iter()
                        .enumerate()
                        .map(|(p, slopes)| {
                            let kind = usize::from(starts(p));
                            let meets = |q: &usize| (kind == 1 || starts(p + q + later)) == (fine == 1);
                            if !of.iter().any(meets) {
                                return Vec::new();
                            }
                            let stretch = if kind == 1 { mesh.bases.start.power } else { 1.0 };
                            source_rows[kind]
                                .iter()
                                .zip(&shares)
                                .map(|(row, (y, w))| {
                                    let place = source(*y);
                                    // The slope over the share, from that over its root.
                                    let by =
                                        if stretch == 1.0 { 1.0 } else { place.powf(1.0 / stretch - 1.0) / stretch };
                                    w * by * dot(row, slopes) * weight_of_tail(p)
                                })
                                .collect()
                        })
                        .collect();
                    let left: Vec<Vec<f64>> = (0..=count + panels)
                        .map(|t| {
                            let kind = usize::from(starts(t));
                            let source = |q: &usize| t.checked_sub(q + later).filter(|p| *p < count);
                            let meets = |q: &usize| source(q).is_some_and(|p| (kind == 1 || starts(p)) == (fine == 1));
                            if !of.iter().any(meets) {
                                return Vec::new();
                            }
                            target_rows[kind].iter().map(|row| power_of(chance(t), row, others)).collect()
                        })
                        .collect();
                    for (sum, q) in sums.iter_mut().zip(of) {
                        for (p, fitted) in fitted.iter().enumerate() {
                            let to = p + q + later;
                            let corner = starts(p) || starts(to);
                            if corner == (fine == 1)
                                && let Some(left) = left.get(to)
                            {
                                *sum += dot(fitted, left);
                            }
                        }
                    }
                }
            }
            sums
        };
        // The first lamp is there from the start: before the planned age no screen has had one of that age.
        let ages =
            Ages::new(panels, width, power, |share, of| column(share, of).into_iter().map(|sum| 1.0 + sum).collect());
        // Mean hours: how long no screen has had a lamp of the planned age.
        let mut hours = 0.0;
        for panel in 0..count {
            let (points, power) = &rules[usize::from(starts(panel))];
            for (y, w) in points {
                let share = y.powf(*power);
                let there = power_of(chance(panel), &basis(panel).row(share), others + 1);
                hours += width * w * power * y.powf(power - 1.0) * there * weight_of_tail(panel);
            }
        }
        let shares_after = passed.last().and_then(|v| v.last()).copied().unwrap_or(0.0).powi(others + 1);
        Ok(Self { plan, ages, hours, unsettled: if miss <= SETTLED { 0.0 } else { miss.min(1.0) * shares_after } })
    }

    /// Mean number of lamps of a screen fitted early enough to burn at an age below the planned one, where they reach it.
    pub(crate) fn fitted(&self, age: f64) -> f64 {
        self.ages.value(age)
    }

    /// Ages and weights whose sum over a rate, by age and times the reliability, is what a screen brings from one change of
    /// all to the next. `kinks`: ages at which the rate jumps or bends.
    pub(crate) fn points(&self, kinks: &[f64]) -> Vec<(f64, f64)> {
        let ages = &self.ages;
        let mut edges: Vec<f64> = (0..=2 * ages.panels).map(|i| 0.5 * ages.width * i as f64).collect();
        edges.extend(kinks.iter().copied().filter(|k| *k > 0.0 && *k < self.plan));
        edges.sort_by(f64::total_cmp);
        edges.dedup_by(|a, b| *a - *b <= 1e-13 * self.plan);
        let (plain, fine) = (gauss(POINTS.0), gauss(POINTS.1));
        let last = edges.len() - 2;
        let mut all = Vec::new();
        for (i, pair) in edges.windows(2).enumerate() {
            let [from, to] = *pair else { continue };
            // Both ends of the whole may hold a broken power.
            let (rule, power) = if i == 0 || i == last { (&fine, ages.power) } else { (&plain, 1.0) };
            for (y, w) in rule {
                let share = y.powf(power);
                let weight = w * power * y.powf(power - 1.0) * (to - from);
                let age = if i == last && i > 0 { to - share * (to - from) } else { from + share * (to - from) };
                all.push((age, weight * self.fitted(age)));
            }
        }
        all
    }
}

/// A function of age up to the planned one, on panels; the first and the last take broken powers at the ends.
#[derive(Debug)]
struct Ages {
    panels: usize,
    width: f64,
    power: f64,
    plain: Basis,
    end: Basis,
    values: Panels,
}

impl Ages {
    /// `column` gives the values at one share of the panels that it is asked for.
    fn new(panels: usize, width: f64, power: f64, column: impl Fn(f64, &[usize]) -> Vec<f64>) -> Self {
        // One panel alone has two ends: it is cut in two.
        let (cut, fine) = if panels == 1 { (2, 0.5) } else { (panels, 1.0) };
        let (plain, end) = (Basis::plain(), Basis::new(power, if power <= GENTLE { END_NODES.0 } else { END_NODES.1 }));
        let mut values: Panels = vec![Vec::new(); cut];
        // Place of a share of a cut panel among the whole ones.
        let ask = |panel: usize, share: f64| -> f64 {
            let place = (panel as f64 + share) * fine;
            let whole = (place.floor() as usize).min(panels - 1);
            column(place - whole as f64, &[whole]).first().copied().unwrap_or(0.0)
        };
        if let Some(first) = values.first_mut() {
            *first = end.places().into_iter().map(|y| ask(0, y)).collect();
        }
        if let Some(last) = values.last_mut() {
            *last = end.places().into_iter().map(|y| ask(cut - 1, 1.0 - y)).collect();
        }
        let middle: Vec<usize> = (1..cut - 1).collect();
        for y in plain.places() {
            for (panel, x) in middle.iter().zip(if middle.is_empty() { Vec::new() } else { column(y, &middle) }) {
                if let Some(values) = values.get_mut(*panel) {
                    values.push(x);
                }
            }
        }
        Self { panels: cut, width: width * fine, power, plain, end, values }
    }

    fn value(&self, age: f64) -> f64 {
        let place = (age / self.width).clamp(0.0, self.panels as f64);
        let panel = (place.floor() as usize).min(self.panels - 1);
        let share = (place - panel as f64).clamp(0.0, 1.0);
        let values = self.values.get(panel).map_or(&[][..], Vec::as_slice);
        match panel {
            0 => self.end.value(values, share),
            p if p + 1 == self.panels => self.end.value(values, 1.0 - share),
            _ => self.plain.value(values, share),
        }
    }
}

/// Rate at which the chance of a screen to have had no lamp of the planned age falls in the end.
///
/// # Formula
/// ```text
/// integral of exp(r x) dF(x) over (0, A) = 1, or  r integral of exp(r x) R(x) over (0, A) = exp(r A) R(A)
/// ```
/// The second keeps its digits where next to no lamp reaches the age.
fn decay(reliability: &dyn Fn(f64) -> f64, ln_reliability: &dyn Fn(f64) -> f64, plan: f64) -> Result<f64> {
    let reach = reliability(plan);
    if reach >= 1.0 {
        return Ok(f64::MAX);
    }
    // Logarithm of the ratio of both sides, at a rate given by its logarithm.
    let over = |ln_rate: f64| -> Result<f64> {
        let rate = ln_rate.exp();
        let inner = integrate(|x| (rate * (x - plan)).exp() * reliability(x), 0.0, plan, &[], 1e-11)?;
        Ok(ln_rate + inner.ln() - ln_reliability(plan))
    };
    // No rate below -ln F / A will do: no failure comes later than A.
    let low = (-(-reach).ln_1p() / plan).ln() - 1e-9;
    let mut high = low + 0.5;
    while over(high)? < 0.0 {
        high += 1.0;
        if high > low + 200.0 {
            return Ok(f64::MAX);
        }
    }
    Ok(bracketed(over, low, high, 1e-13)?.exp())
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
