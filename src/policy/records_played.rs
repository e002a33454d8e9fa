//! New records as a draw would bring them, and how likely each draw makes them.

use super::curve::WorldCurve;
use super::more_records::ScreenAhead;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::random::Stream;

/// Equal stretches of age up to the rule, within each of which a hazard is held even.
pub(super) const CELLS: usize = 1000;

/// Most hazard in one stretch: a lamp that enters it ends at once, and nothing is endless.
const SURE: f64 = 1e3;

/// Most lamps of one screen; more means a life or an age in another unit than hours.
const MOST_LAMPS: u32 = 20_000;

/// One draw: what each age costs in it, and its hazards up to the rule.
#[derive(Debug)]
pub(super) struct Told {
    /// Cost per hour at each of the ages.
    pub(super) costs: Vec<f64>,
    /// Hazard of each cause in each stretch, cause by cause.
    by_cause: Vec<Vec<f64>>,
    /// The same of all causes.
    whole: Vec<f64>,
    /// Sum of those before each stretch, and at the end of the last.
    before: Vec<f64>,
    width: f64,
}

impl Told {
    pub(super) fn new(curve: &WorldCurve<'_>, costs: Vec<f64>, rule: f64) -> Self {
        let width = rule / CELLS as f64;
        let mut by_cause: Vec<Vec<f64>> = vec![Vec::with_capacity(CELLS); curve.costs().len()];
        let (mut whole, mut before) = (Vec::with_capacity(CELLS), vec![0.0]);
        for cell in 0..CELLS {
            let mut sum = 0.0;
            for (cause, fall) in by_cause.iter_mut().zip(curve.falls(width * cell as f64, width * (cell + 1) as f64)) {
                let fall = fall.min(SURE);
                cause.push(fall);
                sum += fall;
            }
            before.push(before.last().copied().unwrap_or(0.0) + sum);
            whole.push(sum);
        }
        Self { costs, by_cause, whole, before, width }
    }

    /// Hazard up to an age.
    fn up_to(&self, age: f64) -> f64 {
        let (cell, part) = self.place(age);
        self.before.get(cell).copied().unwrap_or(0.0) + part * self.whole.get(cell).copied().unwrap_or(0.0)
    }

    /// The stretch that an age lies in, and how much of it lies before the age.
    fn place(&self, age: f64) -> (usize, f64) {
        let cell = ((age / self.width) as usize).min(CELLS - 1);
        (cell, (age / self.width - cell as f64).clamp(0.0, 1.0))
    }

    /// Age at which the hazard has come to an amount, and the stretch that it lies in; none before the rule.
    fn reaches(&self, hazard: f64) -> Option<(f64, usize)> {
        let cell = self.before.partition_point(|b| *b < hazard).checked_sub(1)?;
        let (before, within) = (self.before.get(cell)?, self.whole.get(cell)?);
        Some((self.width * (cell as f64 + (hazard - before) / within), cell))
    }

    /// The cause of a failure in a stretch, at a place from 0 to 1 among them.
    fn cause(&self, cell: usize, place: f64) -> usize {
        let mut left = place * self.whole.get(cell).copied().unwrap_or(0.0);
        for (cause, cells) in self.by_cause.iter().enumerate() {
            let own = cells.get(cell).copied().unwrap_or(0.0);
            if left < own {
                return cause;
            }
            left -= own;
        }
        self.by_cause.iter().rposition(|cells| cells.get(cell).is_some_and(|own| *own > 0.0)).unwrap_or(0)
    }

    /// Logarithm of how likely this draw makes what was seen, up to what is the same in all draws.
    pub(super) fn ln_likelihood(&self, seen: &Played) -> f64 {
        let burned: f64 = seen.burned.iter().zip(&self.whole).map(|(b, h)| b * h).sum();
        let hazard = |(cause, cell): &(usize, usize)| self.by_cause.get(*cause).and_then(|c| c.get(*cell)).copied();
        let failed: f64 = seen.failed.iter().map(|f| hazard(f).unwrap_or(0.0).ln()).sum();
        failed - burned
    }
}

/// What the screens of a class bring while records are made.
#[derive(Debug)]
pub(super) struct Played {
    /// Cause and stretch of age of each failure.
    failed: Vec<(usize, usize)>,
    /// How many lamps burned through each stretch, parts included.
    burned: Vec<f64>,
}

impl Played {
    /// Plays the screens with lamps of a draw, changed at failure or at the rule.
    pub(super) fn of(truth: &Told, screens: &[ScreenAhead], rule: f64, stream: &mut Stream) -> Result<Self> {
        let mut failed = Vec::new();
        // Lamps that enter a stretch less those that leave it, and the parts at both ends.
        let (mut moves, mut parts) = (vec![0.0; CELLS + 1], vec![0.0; CELLS]);
        for (row, screen) in screens.iter().enumerate() {
            let mut age = screen.age_hours.filter(|a| *a < rule).unwrap_or(0.0);
            let (mut left, mut lamps) = (screen.hours, 0);
            while left > 0.0 {
                let fails = truth.reaches(truth.up_to(age) + stream.exponential());
                let until = rule.min(age + left);
                let (to, failure) = match fails {
                    Some((at, cell)) if at <= until => (at.max(age), Some(cell)),
                    _ => (until, None),
                };
                for (at, sign) in [(age, 1.0), (to, -1.0)] {
                    let (cell, part) = truth.place(at);
                    if let (Some(m), Some(p)) = (moves.get_mut(cell), parts.get_mut(cell)) {
                        *m += sign;
                        *p -= sign * part;
                    }
                }
                if let Some(cell) = failure {
                    failed.push((truth.cause(cell, stream.uniform()), cell));
                }
                lamps += 1;
                if lamps > MOST_LAMPS {
                    return Err(too_many(row));
                }
                left -= to - age;
                // A screen at the end of its hours keeps its lamp.
                if failure.is_none() && to < rule {
                    break;
                }
                age = 0.0;
            }
        }
        let mut inside = 0.0;
        let burned = moves
            .iter()
            .zip(&parts)
            .map(|(m, part)| {
                inside += m;
                (inside + part).max(0.0)
            })
            .collect();
        Ok(Self { failed, burned })
    }

    /// How many lamps failed.
    pub(super) fn failures(&self) -> f64 {
        self.failed.len() as f64
    }
}

fn too_many(row: usize) -> Error {
    let problem = Problem::new("policy.too_many_lamps", "one screen would need thousands of lamps")
        .at(Place::input("screens").row(row as u64 + 1))
        .got(format!("more than {}", counted(u64::from(MOST_LAMPS), "lamp")))
        .expected("lives, ages and hours of the same order");
    Error::new(Kind::Refused, problem)
}
