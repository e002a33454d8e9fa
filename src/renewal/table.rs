//! Means on a mesh: the renewal equation solved as far as needed, and the long-run line from there.

use super::mesh::{Kernel, Mesh, Panels};
use super::spread::{Lines, Spread, reached};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Miss of a panel between its nodes that is still taken for rounding.
pub(super) const RESOLVED: f64 = 4e-14;
/// Most panels of a mesh.
pub(super) const MOST_PANELS: usize = 200_000;
/// Most pairs of panels in one solution: a few seconds.
pub(super) const MOST_PAIRS: usize = 4_000_000;
/// Panels of twice the median life above which wider ones are tried: fewer take no time worth saving. Our choice, without a
/// source.
const MANY_PANELS: f64 = 256.0;
/// Fewest panels of a wide mesh: with fewer the changes, which only the mesh of half the width bears out, could lose digits. Our
/// choice, without a source.
const FEWEST_WIDE_PANELS: f64 = 64.0;
/// Share of the lives that outlast a wide panel at least: with more changes in a panel, these would not be smooth where the life
/// is. Our choice, without a source.
const OUTLASTS: f64 = 1.0 / 3.0;
/// Share of the lives that may last longer than the hours over which the solution is compared with the line.
const LATER: f64 = 1e-13;
/// Distance from the long-run line, relative, at which the line takes over.
const SETTLED: f64 = 1e-12;
/// Share of the failure probability at a panel's end below which times have a mesh of their own.
const OWN_MESH: f64 = 0.1;
/// Failure probability below which a time is the end of a mesh of its own: panels follow the probability to
/// [`RESOLVED`], which is many digits of so small a number, but their ends have it as it is.
const OWN_END: f64 = 1e-3;

/// Mean changes and second factorial moment of screens that start with a new lamp.
#[derive(Debug)]
pub(super) struct Table<'a> {
    spread: &'a Spread<'a>,
    horizon: f64,
    pub(super) mesh: Mesh,
    all: Panels,
    failures: Panels,
    second: Panels,
    pub(super) until_hours: f64,
    pub(super) lines: Option<Lines>,
    /// Whether panels are wider than twice the median life, so that another mesh has to bear them out.
    pub(super) wide: bool,
    /// Whether the long-run line holds from `until_hours` on.
    pub(super) settled: bool,
    pub(super) miss: f64,
}

/// Mean planned and failure changes, and mean of N (N - 1).
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Means {
    pub(super) planned: f64,
    pub(super) failures: f64,
    pub(super) second: f64,
}

/// A mesh for a horizon, fine enough for the failure probability; twice as fine `finer` times more.
pub(super) fn mesh(spread: &Spread, horizon: f64, finer: u32) -> Result<Mesh> {
    let width = (2.0 * spread.scale()?).min(horizon);
    mesh_from(spread, horizon, finer, width)
}

/// The same, with wide panels tried first where lives with a long tail would need very many: their failure probability is
/// smooth over far more hours than half of them last. Whether panels are wider than others would be stands beside them.
fn mesh_or_wide(spread: &Spread, horizon: f64, finer: u32) -> Result<(Mesh, bool)> {
    let plain = (2.0 * spread.scale()?).min(horizon);
    let mut width = plain;
    if horizon > MANY_PANELS * plain {
        while horizon >= 2.0 * FEWEST_WIDE_PANELS * width && spread.left(2.0 * width) >= OUTLASTS {
            width *= 2.0;
        }
    }
    let mesh = mesh_from(spread, horizon, finer, width)?;
    let wide = mesh.width_hours > plain;
    Ok((mesh, wide))
}

fn mesh_from(spread: &Spread, horizon: f64, finer: u32, mut width: f64) -> Result<Mesh> {
    let end = spread.extent()?.min(horizon);
    let scale = spread.scale()?;
    let unit = spread.plan.filter(|p| *p <= horizon);
    let mut mesh = Mesh { width_hours: horizon, period: None, bases: spread.bases.clone() };
    let set = |mesh: &mut Mesh, width: f64| match unit {
        Some(plan) => {
            let panels = (plan / aligned(spread, plan, plan, width)).round().max(1.0);
            mesh.width_hours = plan / panels;
            mesh.period = Some(panels as usize);
        }
        None => mesh.width_hours = aligned(spread, 0.0, horizon, width),
    };
    // Wider panels than twice the median life are halved down to it.
    let wider = (width / (2.0 * scale)).log2().max(0.0).round() as usize;
    for _ in 0..24 + wider {
        set(&mut mesh, width);
        if horizon / mesh.width_hours > MOST_PANELS as f64 || resolved(spread, &mesh, end) {
            break;
        }
        // Corners off the edges are not resolved by any width; the result then states what it misses.
        if width < scale / 64.0 && spread.corners().next().is_some() {
            break;
        }
        width *= if width > 0.3 * scale { 0.5 } else { 0.75 };
    }
    for _ in 0..finer {
        let half = 0.5 * mesh.width_hours;
        set(&mut mesh, half);
    }
    Ok(mesh)
}

/// Near the width wanted: the horizon, or the common measure of the corners and what else must stand on an edge, in
/// whole panels.
fn aligned(spread: &Spread, edge: f64, horizon: f64, width: f64) -> f64 {
    let mut unit = edge;
    for corner in spread.corners().filter(|c| *c < horizon) {
        // Greatest common measure of what was and the corner.
        let (mut a, mut b) = (corner, unit);
        while b > 1e-9 * corner {
            (a, b) = (b, a % b);
        }
        unit = a;
    }
    let whole = if unit > 0.02 * width { unit } else { horizon };
    whole / (whole / width).ceil()
}

fn resolved(spread: &Spread, mesh: &Mesh, end: f64) -> bool {
    let panels = ((end / mesh.width_hours).ceil() as usize).min(mesh.period.unwrap_or(usize::MAX));
    (0..panels).all(|k| {
        let from = k as f64 * mesh.width_hours;
        let rise = |y: f64| spread.between(if k == 0 { 0.0 } else { from }, from + y * mesh.width_hours);
        let basis = mesh.basis(k);
        let values: Vec<f64> = basis.places().into_iter().map(rise).collect();
        [0.015, 0.21, 0.47, 0.83, 0.985].into_iter().all(|y| (basis.value(&values, y) - rise(y)).abs() < RESOLVED)
    })
}

impl<'a> Table<'a> {
    pub(super) fn new(spread: &'a Spread<'a>, horizon: f64, finer: u32) -> Result<Self> {
        let (mesh, wide) = mesh_or_wide(spread, horizon, finer)?;
        let lines = spread.lines()?;
        let reach = ((spread.extent()? / mesh.width_hours).ceil() as usize + 1).min(mesh.period.unwrap_or(usize::MAX));
        let window = (spread.lasts(LATER)? / mesh.width_hours).ceil() as usize + 1;
        let wanted = mesh.place(horizon).0 + 1;
        let mut count = wanted.min(MOST_PANELS);
        while count > 64 && count * count.min(reach) > MOST_PAIRS {
            count = count * 15 / 16;
        }
        let kernel = Kernel::new(&mesh, spread, count.min(reach));
        let miss = kernel.miss;
        let gone = |panel: usize, hours: f64| match mesh.period {
            Some(m) if panel >= m => 1.0,
            _ => spread.between(0.0, hours),
        };
        let failed = |panel: usize, hours: f64| match mesh.period {
            Some(m) if panel >= m => spread.between(0.0, spread.plan.unwrap_or(hours)),
            _ => spread.between(0.0, hours),
        };
        let given = |which: usize, panel: usize, hours: f64, found: &[f64]| match which {
            0 => gone(panel, hours),
            1 => failed(panel, hours),
            _ => 2.0 * (found.first().copied().unwrap_or(0.0) - gone(panel, hours)),
        };
        let mut calm = 0;
        let mut settled = false;
        let stop = |panel: usize, x: &[Panels; 3]| {
            let Some(lines) = &lines else { return false };
            let near = mesh.basis(panel).places().into_iter().enumerate().all(|(i, y)| {
                let at = |f: &Panels| f.get(panel).and_then(|v| v.get(i)).copied().unwrap_or(f64::NAN);
                let (m, second) = (at(&x[0]), at(&x[2]));
                let hours = (panel as f64 + y) * mesh.width_hours;
                let line = hours * lines.per_hour + lines.constant;
                let spread_near = lines.variance.is_some_and(|(slope, constant)| {
                    let miss = second + m - m * m - (slope * hours + constant);
                    miss.abs() < 20.0 * SETTLED * (1.0 + m * m)
                });
                (m - line).abs() < SETTLED * (1.0 + m) && spread_near
            });
            calm = if near { calm + 1 } else { 0 };
            // As long as all but a trifle of the lives: later values are means of these.
            settled = calm > window;
            settled
        };
        let [all, failures, second] = kernel.solve(count, given, stop)?;
        let until_hours = all.len() as f64 * mesh.width_hours;
        Ok(Self { spread, horizon, mesh, all, failures, second, until_hours, lines, wide, settled, miss })
    }

    /// Mean changes by a time, all of them.
    pub(super) fn all(&self, hours: f64) -> Result<f64> {
        if let Some(m) = self.mesh.value(&self.all, hours) {
            return Ok(m);
        }
        let lines = self.line(hours)?;
        Ok(hours * lines.per_hour + lines.constant)
    }

    /// Mean changes before a time: what falls on it is left out.
    pub(super) fn all_before(&self, hours: f64) -> Result<f64> {
        let (panel, share) = self.mesh.place(hours);
        // The end of a panel and the start of the next are one time, before and after what happens at it.
        match panel.checked_sub(1).filter(|_| share == 0.0).and_then(|before| self.all.get(before)?.last()) {
            Some(m) => Ok(*m),
            None => self.all(hours),
        }
    }

    fn line(&self, hours: f64) -> Result<&Lines> {
        self.lines.as_ref().filter(|_| self.settled).ok_or_else(|| too_far(hours, self.until_hours))
    }

    /// Means by a time.
    pub(super) fn means(&self, hours: f64) -> Result<Means> {
        let plan = self.spread.plan.and_then(|p| reached(hours, p));
        let planned = match plan {
            Some(left) => self.spread.reach_plan * (1.0 + self.all(left)?),
            None => 0.0,
        };
        if let (Some(failures), Some(second)) =
            (self.mesh.value(&self.failures, hours), self.mesh.value(&self.second, hours))
        {
            return Ok(Means { planned, failures: failures.max(0.0), second });
        }
        let lines = self.line(hours)?;
        let m = hours * lines.per_hour + lines.constant;
        let failures = match self.spread.plan {
            None => m,
            // m less the planned, in terms that are small where failures are rare.
            Some(p) => {
                let failed = self.spread.between(0.0, p);
                failed * m - self.spread.reach_plan * (1.0 - p * lines.per_hour)
            }
        };
        let variance = lines.variance.map_or(f64::NAN, |(slope, constant)| slope * hours + constant);
        Ok(Means { planned, failures, second: variance - m + m * m })
    }

    /// Whether times as early as this one need a mesh of their own to keep their digits.
    pub(super) fn too_coarse(&self, hours: f64) -> bool {
        let by = |hours: f64| self.spread.between(0.0, hours);
        let early = hours < self.mesh.width_hours && by(hours) < OWN_MESH * by(self.mesh.width_hours);
        // From the planned age on it is not the failures that decide the number of changes.
        let unplanned = self.spread.plan.is_none_or(|plan| hours < plan);
        early || unplanned && hours < self.horizon && by(hours) < OWN_END
    }
}

pub(super) fn too_far(hours: f64, until: f64) -> Error {
    let what = "the changes of this life do not settle within the hours that can be solved";
    let problem = Problem::new("renewal.too_far", what).at(Place::input("hours")).got(hours);
    // How far a question is followed depends on its hours: no bound holds for the next one.
    let followed = format!("fewer hours; here the changes were followed to {} h", crate::base::figure::short(until));
    Error::new(Kind::Limit, problem.expected(followed))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::Weibull;
    use crate::renewal::ChangeRule;

    #[test]
    fn a_long_tail_takes_few_panels_and_other_lives_the_same_as_ever() {
        let panels = |shape: f64, horizon: f64| {
            let life = Weibull { shape, scale: 1000.0 };
            let spread = Spread::new(&life, &ChangeRule::to_failure()).unwrap();
            let (found, wide) = mesh_or_wide(&spread, horizon, 0).unwrap();
            let plain = mesh(&spread, horizon, 0).unwrap();
            (horizon / found.width_hours, wide, found.width_hours == plain.width_hours)
        };
        // Half of these fail by 26 h: twice that is 3,907 panels of 200,000 h.
        let (count, wide, _) = panels(0.1, 200_000.0);
        assert!(count <= 128.0 && wide, "{count}");
        for (shape, horizon) in [(3.0, 5000.0), (3.0, 2e6), (1.5, 9e5), (0.7, 1e12), (0.5, 2e6), (0.1, 10_000.0)] {
            let (_, wide, same) = panels(shape, horizon);
            assert!(!wide && same, "{shape} {horizon}");
        }
    }
}
