//! Piecewise-constant hazard: an even rate of failure between given ages, each piece with its own.

use super::chain::flat;
use super::check;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::linalg::packed;
use crate::base::math::special::ln_one_minus_exp_neg;

/// Most pieces: as many as one search settles.
pub const MOST_PIECES: usize = 8;

const NAMES: [&str; MOST_PIECES] =
    ["hazard_1", "hazard_2", "hazard_3", "hazard_4", "hazard_5", "hazard_6", "hazard_7", "hazard_8"];
const LINKS: [Link; MOST_PIECES] = [Link::Log; MOST_PIECES];
const BOX: [(f64, f64); MOST_PIECES] = [(1e-7, 0.1); MOST_PIECES];

/// A life whose hazard is constant between given ages.
///
/// # Formula
/// ```text
/// R(t) = exp(-sum of hazard_i x hours spent in piece i by age t)
/// ```
/// Piece i reaches from cut i - 1, not included, to cut i; the first starts at 0 and the last never ends. `hazard_i` > 0:
/// failures per hour.
///
/// # Numerics
/// All in closed form. At a cut the density is that of the piece that ends there.
///
/// # Source
/// Lawless, Statistical Models and Methods for Lifetime Data (2003), section 1.3 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, PiecewiseConstant};
/// let life = PiecewiseConstant::new(&[1000.0], &[0.001, 0.003])?;
/// assert!((life.ln_reliability(1500.0) + 1.0 + 1.5).abs() < 1e-15);
/// assert!((life.hazard(1500.0) - 0.003).abs() < 1e-15);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct PiecewiseConstant {
    cuts: Vec<f64>,
    hazards: Vec<f64>,
    /// Cumulative hazard at each cut.
    reached: Vec<f64>,
}

impl PiecewiseConstant {
    /// The life of cut ages and one hazard more than there are cuts.
    ///
    /// # Errors
    /// `family.cuts` unless the cuts rise, above 0 and finite, at most seven of them; `family.width`; `family.parameter`.
    pub fn new(cuts: &[f64], hazards: &[f64]) -> Result<Self> {
        check_cuts(cuts)?;
        check::width(hazards, cuts.len() + 1)?;
        for (name, hazard) in NAMES.iter().zip(hazards) {
            check::positive(name, *hazard)?;
        }
        let (mut sum, mut from) = (0.0, 0.0);
        let reached = cuts.iter().zip(hazards).map(|(cut, hazard)| {
            sum += hazard * (cut - from);
            from = *cut;
            sum
        });
        let reached = reached.collect();
        Ok(Self { cuts: cuts.to_vec(), hazards: hazards.to_vec(), reached })
    }

    /// Pieces from the one that holds an age on: start, end, hazard, cumulative hazard at the start.
    fn pieces(&self) -> impl Iterator<Item = (f64, f64, f64, f64)> + '_ {
        let starts = [0.0].into_iter().chain(self.cuts.iter().copied());
        let ends = self.cuts.iter().copied().chain([f64::INFINITY]);
        let sums = [0.0].into_iter().chain(self.reached.iter().copied());
        starts.zip(ends).zip(&self.hazards).zip(sums).map(|(((start, end), hazard), sum)| (start, end, *hazard, sum))
    }

    /// Start, hazard and cumulative hazard at the start of the piece of an age above 0.
    fn piece(&self, age: f64) -> (f64, f64, f64) {
        let i = self.cuts.partition_point(|cut| *cut < age);
        let before = |column: &[f64]| i.checked_sub(1).and_then(|i| column.get(i).copied()).unwrap_or(0.0);
        (before(&self.cuts), self.hazards.get(i).copied().unwrap_or(f64::NAN), before(&self.reached))
    }

    /// The age by which the cumulative hazard reaches a value.
    fn reaching(&self, wanted: f64) -> f64 {
        let i = self.reached.partition_point(|sum| *sum < wanted);
        let before = |column: &[f64]| i.checked_sub(1).and_then(|i| column.get(i).copied()).unwrap_or(0.0);
        let hazard = self.hazards.get(i).copied().unwrap_or(f64::NAN);
        before(&self.cuts) + (wanted - before(&self.reached)) / hazard
    }

    fn total(&self, age: f64) -> f64 {
        let (start, hazard, sum) = self.piece(age);
        sum + hazard * (age - start)
    }

    /// Sums over the pieces between two ages, each from the hours in it and its hazard, weighed with the chance to reach
    /// its start, given survival to `from`.
    fn over(&self, from: f64, to: f64, part: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let here = if from > 0.0 { self.total(from) } else { 0.0 };
        let inside = self.pieces().filter(|(start, end, ..)| *end > from && *start < to);
        inside
            .map(|(start, end, hazard, sum)| {
                let (begin, end) = (start.max(from), end.min(to));
                let reached = sum + hazard * (begin - start) - here;
                (-reached).exp() * part(begin, end - begin, hazard)
            })
            .sum()
    }
}

/// (1 - exp(-h)) / hazard for h = hazard x hours: mean hours spent in a piece by those who reach it.
fn spent(hours: f64, hazard: f64) -> f64 {
    -(-hazard * hours).exp_m1() / hazard
}

impl Life for PiecewiseConstant {
    fn ln_density(&self, age: f64) -> f64 {
        if age < 0.0 || age == f64::INFINITY {
            return f64::NEG_INFINITY;
        }
        let (start, hazard, sum) = self.piece(age);
        hazard.ln() - sum - hazard * (age - start)
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age <= 0.0 { 0.0 } else { -self.total(age) }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 { f64::NEG_INFINITY } else { ln_one_minus_exp_neg(self.total(age)) }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        if age < 0.0 { f64::NEG_INFINITY } else { self.piece(age).1.ln() }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        Ok(self.reaching(-(-check::probability(p)?).ln_1p()))
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.reaching(-check::ln_probability(ln_reliability)?))
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        Ok(self.over(0.0, age, |_, hours, hazard| spent(hours, hazard)))
    }

    fn kinks(&self) -> &[f64] {
        &self.cuts
    }

    fn variance(&self) -> Result<f64> {
        let mean = self.mean()?;
        // The integral of (t - mean)^2 over the failures of each piece, around where the piece begins.
        let rest = |begin: f64, hours: f64, hazard: f64| {
            let (h, d) = (hazard * hours, begin - mean);
            let [zero, one, two] = exponential_moments(h);
            d * d * zero + 2.0 * d * one / hazard + two / (hazard * hazard)
        };
        Ok(self.over(0.0, f64::INFINITY, rest))
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age == f64::INFINITY {
            return Ok(self.hazards.last().map_or(f64::NAN, |hazard| 1.0 / hazard));
        }
        Ok(self.over(age, f64::INFINITY, |_, hours, hazard| spent(hours, hazard)))
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new(full_name(&self.cuts), self.hazards.clone()))
    }
}

/// Integrals of s^k e^-s over (0, h) for k = 0, 1, 2.
fn exponential_moments(h: f64) -> [f64; 3] {
    if h == f64::INFINITY {
        return [1.0, 1.0, 2.0];
    }
    if h > 1.0 {
        let e = (-h).exp();
        return [-(-h).exp_m1(), 1.0 - e * (1.0 + h), 2.0 - e * (2.0 + h * (2.0 + h))];
    }
    // e^-h times a series of positive terms: h^(k+1) / (k+1) (1 + h / (k+2) (1 + h / (k+3) ...)).
    [0.0, 1.0, 2.0].map(|k| {
        let series = (2..24).rev().fold(1.0, |sum, n| 1.0 + sum * h / (k + f64::from(n)));
        (-h).exp() * h.powf(k + 1.0) / (k + 1.0) * series
    })
}

fn check_cuts(cuts: &[f64]) -> Result<()> {
    let refused = |got: String, expected: &str| {
        let problem =
            Problem::new("family.cuts", "these ages do not cut a life into pieces").at(Place::input("family"));
        Err(Error::new(Kind::Input, problem.got(got).expected(expected)))
    };
    if cuts.is_empty() || cuts.len() >= MOST_PIECES {
        return refused(counted(cuts.len() as u64, "age"), "1 to 7 ages");
    }
    let mut last = 0.0;
    for cut in cuts {
        if !(*cut > last && *cut <= LATEST) {
            return refused(format!("{cut} after {last}"), "rising ages above 0, in hours, at most 1e9");
        }
        last = *cut;
    }
    Ok(())
}

/// Latest cut, hours: more than any lamp, and short to print.
const LATEST: f64 = 1e9;

/// The family of such lives with given cuts; coordinates (ln hazard of each piece).
#[derive(Debug)]
pub(super) struct PiecewiseFamily {
    name: &'static str,
    cuts: Vec<f64>,
}

impl PiecewiseFamily {
    pub(super) fn new(name: &'static str, cuts: Vec<f64>) -> Self {
        Self { name, cuts }
    }

    /// Cuts from the parts of a name, and the name with them in their shortest form.
    pub(super) fn read(parts: &[&str]) -> Result<(String, Vec<f64>)> {
        let not_ages = |part: &str| {
            let problem = Problem::new("family.cuts", "these ages do not cut a life into pieces");
            Error::new(Kind::Input, problem.at(Place::input("family")).got(part).expected("ages in hours"))
        };
        let read = |part: &&str| part.parse::<f64>().map_err(|_| not_ages(part));
        let cuts = parts.iter().map(read).collect::<Result<Vec<f64>>>()?;
        check_cuts(&cuts)?;
        Ok((full_name(&cuts), cuts))
    }

    /// Hours spent in piece `i` by an age.
    fn spent(&self, i: usize, age: f64) -> f64 {
        let start = i.checked_sub(1).and_then(|i| self.cuts.get(i).copied()).unwrap_or(0.0);
        (age.min(self.cuts.get(i).copied().unwrap_or(f64::INFINITY)) - start).max(0.0)
    }
}

/// Name of the family with these cuts.
fn full_name(cuts: &[f64]) -> String {
    let names: Vec<String> = cuts.iter().map(f64::to_string).collect();
    format!("{PIECEWISE}({})", names.join(", "))
}

/// First part of the name of every such family.
pub(super) const PIECEWISE: &str = "piecewise_constant";

impl Family for PiecewiseFamily {
    fn name(&self) -> &'static str {
        self.name
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        NAMES.get(..=self.cuts.len()).unwrap_or(&NAMES)
    }

    fn links(&self) -> &'static [Link] {
        LINKS.get(..=self.cuts.len()).unwrap_or(&LINKS)
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        BOX.get(..=self.cuts.len()).unwrap_or(&BOX)
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        Ok(Box::new(PiecewiseConstant::new(&self.cuts, parameters)?))
    }

    fn anchor(&self) -> usize {
        0
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(self.at(coordinates).map_or(f64::NAN, |l| l.ln_term(term, age)), out);
        }
        let here = self.cuts.partition_point(|cut| *cut < age);
        let hazard = |i: usize| coordinates.get(i).map_or(f64::NAN, |c| c.exp());
        let width = self.width();
        let total: f64 = (0..=here).map(|i| hazard(i) * self.spent(i, age)).sum();
        // The value and its two derivatives over the cumulative hazard.
        let [value, d1, d2] = match term {
            Term::LnDensity => [coordinates.get(here).copied().unwrap_or(f64::NAN) - total, -1.0, 0.0],
            Term::LnReliability => [-total, -1.0, 0.0],
            Term::LnFailureProbability => {
                let odds = 1.0 / total.exp_m1();
                [ln_one_minus_exp_neg(total), odds, -odds * (1.0 + odds)]
            }
        };
        flat(value, out);
        if order == Order::Value {
            return;
        }
        let slope = |i: usize| if i == width { hazard(here) } else { hazard(i) * self.spent(i, age) };
        for (i, slot) in out.gradient.iter_mut().enumerate() {
            *slot = if d1 == 0.0 { 0.0 } else { d1 * slope(i) };
        }
        if term == Term::LnDensity {
            // ln of the hazard itself.
            if let Some(slot) = out.gradient.get_mut(here) {
                *slot += 1.0;
            }
        }
        if order == Order::Gradient || d1 == 0.0 {
            return;
        }
        for i in 0..=width {
            for j in 0..=i {
                // A piece's hours count with its own hazard; the age with the hazard there.
                let bend = if i == j && i < width {
                    slope(i)
                } else if i == width && j == here {
                    hazard(here)
                } else {
                    0.0
                };
                if let Some(slot) = out.hessian.get_mut(packed(i, j)) {
                    *slot = d1 * bend + d2 * slope(i) * slope(j);
                }
            }
        }
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        vec![vec![(outline.failures / outline.exposure).ln(); self.width()]]
    }

    fn anchored(&self, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
        check::width(coordinates, self.width())?;
        let later: f64 = coordinates.iter().enumerate().skip(1).map(|(i, c)| c.exp() * self.spent(i, age)).sum();
        let first = -ln_reliability - later;
        if first > 0.0 && age > 0.0 {
            return Ok(first.ln() - self.spent(0, age).ln());
        }
        let problem = Problem::new("family.anchor", "the later pieces alone fail more lamps than this by this age");
        Err(Error::new(Kind::Refused, problem.got(format!("age {age}, ln reliability {ln_reliability}"))))
    }

    fn stretch(&self) -> Option<Vec<f64>> {
        // The cuts stay where they are.
        None
    }

    fn cuts(&self) -> &[f64] {
        &self.cuts
    }
}
