//! Families made of others: a likelihood with several peaks, searched from several starts.

use serde::{Deserialize, Serialize};

use super::likelihood::Likelihood;
use super::model::Note;
use super::newton::{Outcome, Surface, climb};
use super::profile::share_bound_95;
use super::refusal;
use super::sample::{Evidence, Sample};
use super::search::FitOptions;
use crate::base::error::Result;
use crate::base::figure::counted;
use crate::base::math::linalg::inverse;
use crate::base::run::Run;
use crate::family::{Family, Order, Outline, Parts};

/// A local maximum of the likelihood.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Peak {
    /// Parameters there, in the order of the family.
    pub parameters: Vec<f64>,
    /// Log-likelihood there.
    pub log_likelihood: f64,
    /// Searches that ended there.
    pub searches: u64,
}

/// The highest peak, and all of them.
pub(super) struct Found {
    pub(super) outcome: Outcome,
    pub(super) peaks: Vec<Peak>,
    pub(super) notes: Vec<Note>,
}

/// Spread of the middle half of a part, over its median, below which it sits on one age.
const ONE_AGE: f64 = 1e-3;
/// The same for a part that was still shrinking when its search gave up: the climb towards no bound is slow.
const SHRINKING: f64 = 0.02;
/// Size of the coordinate of a share from which it is none: e^-12 is one lamp in 160,000.
const NO_SHARE: f64 = 12.0;
/// Distance of coordinates, in their natural size, from which two kinds are one.
const ALIKE: f64 = 1e-4;
/// Peaks nearer than this, in standard errors, are one.
const SAME_PEAK: f64 = 1e-3;
/// Log-likelihood below the highest peak within which another explains the records nearly as well.
const NEARLY: f64 = 2.0;

/// Where a search ended.
enum End {
    Peak,
    /// One part shrinks onto a single age, where the likelihood has no bound or no curvature.
    OneAge(f64),
    /// A share runs to 0 or 1.
    NoShare,
    /// Anything else that is no maximum.
    Nowhere,
}

/// Climbs from every start and keeps the highest peak.
///
/// # Errors
/// `fit.part_on_one_age`, `fit.one_kind`, `fit.all_fail`, `fit.not_identified` where no search ended on a peak, and
/// where the highest value lies at the edge.
pub(super) fn highest(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Found> {
    let surface = Likelihood { family, sample };
    let mut kept: Vec<(Outcome, Vec<f64>, u64)> = Vec::new();
    let (mut one_age, mut edge) = (None, None::<Outcome>);
    let (mut searches, mut lost) = (0u64, 0u64);
    for start in starts(family, sample) {
        searches += 1;
        let mut outcome = climb(&surface, &start, options.iterations, run)?;
        match end(family, &outcome) {
            End::Peak => {}
            End::OneAge(age) => {
                one_age = Some(age);
                lost += 1;
                continue;
            }
            End::NoShare => {
                if edge.as_ref().is_none_or(|e| outcome.point.value > e.point.value) {
                    edge = Some(outcome);
                }
                continue;
            }
            End::Nowhere => continue,
        }
        let ordered = in_order(family, &outcome.x);
        if ordered != outcome.x {
            outcome.x = ordered;
            surface.at(&outcome.x, Order::Hessian, &mut outcome.point)?;
        }
        let Some(covariance) = inverse(&outcome.point.information(), family.width()) else { continue };
        let errors: Vec<f64> =
            (0..family.width()).filter_map(|i| covariance.get(i * (i + 3) / 2)).map(|v| v.sqrt()).collect();
        let near =
            |known: &[f64]| known.iter().zip(&outcome.x).zip(&errors).all(|((a, b), e)| (a - b).abs() <= SAME_PEAK * e);
        match kept.iter_mut().find(|(k, ..)| near(&k.x)) {
            Some((_, _, n)) => *n += 1,
            None => kept.push((outcome, errors, 1)),
        }
    }
    kept.sort_by(|a, b| b.0.point.value.total_cmp(&a.0.point.value));
    let top = kept.first().map(|(best, ..)| best.point.value);
    // A value at the edge that no peak exceeds says that the part or the share is not there.
    if let Some(edge) = edge
        && top.is_none_or(|top| top <= edge.point.value + 1e-6)
    {
        let bound = match family.parts() {
            Some(Parts::NeverFails(_)) => share_bound_95(family, sample, &edge.x, edge.point.value, options, run)?,
            _ => None,
        };
        return Err(refusal::share_at_edge(family, &sample.count, edge.point.value, bound));
    }
    let peaks: Vec<Peak> = kept
        .iter()
        .map(|(o, _, searches)| Peak {
            parameters: family.parameters(&o.x),
            log_likelihood: o.point.value,
            searches: *searches,
        })
        .collect();
    let notes = notes(&peaks, searches, lost);
    match kept.into_iter().next() {
        Some((outcome, ..)) => Ok(Found { outcome, peaks, notes }),
        None => Err(match one_age {
            Some(age) => refusal::part_on_one_age(family.name(), &sample.count, age),
            None => refusal::not_identified(family.name(), &sample.count),
        }),
    }
}

fn notes(peaks: &[Peak], searches: u64, lost: u64) -> Vec<Note> {
    let mut notes = Vec::new();
    if let [first, second, ..] = peaks {
        let below = first.log_likelihood - second.log_likelihood;
        if below < NEARLY {
            notes.push(Note::new(
                "fit.peaks",
                format!("{} peaks; another lies only {below:.2} in log-likelihood below the one given", peaks.len()),
            ));
        }
    }
    if lost > 0 {
        notes.push(Note::new(
            "fit.peaks_on_one_age",
            format!(
                "{lost} of {} shrank a part onto one age, where the likelihood has no bound; left out",
                counted(searches, "search")
            ),
        ));
    }
    notes
}

fn end(family: &dyn Family, outcome: &Outcome) -> End {
    if let Some(age) = narrow(family, &outcome.x, if outcome.converged() { ONE_AGE } else { SHRINKING }) {
        return End::OneAge(age);
    }
    if !outcome.point.value.is_finite() {
        return End::Nowhere;
    }
    if shares(family, &outcome.x).into_iter().any(|c| c.abs() > NO_SHARE) || alike(family, &outcome.x) {
        return End::NoShare;
    }
    if outcome.converged() && family.inside(&outcome.x) { End::Peak } else { End::Nowhere }
}

/// The parts of a family with their coordinates.
fn split<'x>(family: &dyn Family, x: &'x [f64]) -> Vec<(&'static dyn Family, &'x [f64])> {
    match family.parts() {
        Some(Parts::Series([a, b]) | Parts::Mixture([a, b])) => {
            let (first, rest) = x.split_at(a.width().min(x.len()));
            vec![(a, first), (b, rest.get(..b.width()).unwrap_or(rest))]
        }
        Some(Parts::NeverFails(a)) => vec![(a, x.get(..a.width()).unwrap_or(x))],
        None => Vec::new(),
    }
}

/// The median of a part whose spread has shrunk to nothing.
fn narrow(family: &dyn Family, x: &[f64], least: f64) -> Option<f64> {
    for (part, own) in split(family, x) {
        if part.parts().is_some() {
            if let Some(age) = narrow(part, own, least) {
                return Some(age);
            }
            continue;
        }
        let life = part.at(own).ok()?;
        let [low, middle, high] = [0.25, 0.5, 0.75].map(|p| life.quantile(p).unwrap_or(f64::NAN));
        if part.width() > 1 && high - low < least * middle.abs() {
            return Some(middle);
        }
    }
    None
}

/// Whether two kinds of one family are the same life, so that their shares mean nothing.
fn alike(family: &dyn Family, x: &[f64]) -> bool {
    let parts = split(family, x);
    let same = match (family.parts(), parts.as_slice()) {
        (Some(Parts::Mixture(_)), [(a, first), (b, second)]) if a.name() == b.name() => {
            let near = |i: usize| {
                let unit = a.step(first, i);
                first.get(i).zip(second.get(i)).is_some_and(|(p, q)| (p - q).abs() < ALIKE * unit)
            };
            (0..a.width()).all(near)
        }
        _ => false,
    };
    same || parts.into_iter().any(|(part, own)| alike(part, own))
}

/// Coordinates of shares, at every depth.
fn shares(family: &dyn Family, x: &[f64]) -> Vec<f64> {
    let mut out: Vec<f64> = split(family, x).into_iter().flat_map(|(part, own)| shares(part, own)).collect();
    if matches!(family.parts(), Some(Parts::Mixture(_) | Parts::NeverFails(_))) {
        out.extend(x.last());
    }
    out
}

/// The same life with parts of one family in the order of their medians, so that no two points say the same.
pub(super) fn in_order(family: &dyn Family, x: &[f64]) -> Vec<f64> {
    let parts = split(family, x);
    let mut own: Vec<Vec<f64>> = parts.iter().map(|(part, x)| in_order(*part, x)).collect();
    let Some(made) = family.parts() else { return x.to_vec() };
    let mut share = x.get(own.iter().map(Vec::len).sum()..).unwrap_or(&[]).to_vec();
    if let ([(a, _), (b, _)], [first, second]) = (parts.as_slice(), own.as_slice())
        && a.name() == b.name()
    {
        let median = |x: &[f64]| a.at(x).and_then(|l| l.quantile(0.5)).unwrap_or(f64::NAN);
        if median(first) > median(second) {
            own.swap(0, 1);
            if matches!(made, Parts::Mixture(_)) {
                for c in &mut share {
                    *c = -*c;
                }
            }
        }
    }
    own.into_iter().flatten().chain(share).collect()
}

/// Shares of the failures, oldest left out, that a start gives to the part that fails early.
const SPLITS: [f64; 7] = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];

/// Starts from the records: failures split by age between the parts, and parts about the same age.
fn starts(family: &dyn Family, sample: &Sample) -> Vec<Vec<f64>> {
    let whole = sample.outline();
    let mut out = family.starts(&whole);
    let failures = failures(sample);
    let lamps: f64 = sample.weights.iter().sum();
    let failed: f64 = failures.iter().map(|f| f.1).sum();
    let first = |part: &dyn Family, outline: &Outline| part.starts(outline).into_iter().next().unwrap_or_default();
    let logit = |w: f64| {
        let w = w.clamp(1e-4, 1.0 - 1e-4);
        w.ln() - (-w).ln_1p()
    };
    match family.parts() {
        None => {}
        Some(Parts::NeverFails(base)) => {
            let only = outline(&failures);
            for kept in [1.02, 1.3, 2.0, 5.0] {
                let share = logit(1.0 - (kept * failed / lamps).min(0.99));
                out.extend(base.starts(&only).into_iter().map(|x| [x, vec![share]].concat()));
            }
            out.push([first(base, &whole), vec![logit(0.05)]].concat());
        }
        Some(Parts::Mixture([a, b])) => {
            for early in SPLITS {
                let (young, old) = halves(&failures, early);
                for share in [early, early * failed / lamps] {
                    out.push([first(a, &outline(young)), first(b, &outline(old)), vec![logit(share)]].concat());
                    if a.name() != b.name() {
                        let share = vec![logit(1.0 - share)];
                        out.push([first(a, &outline(old)), first(b, &outline(young)), share].concat());
                    }
                }
            }
            let spread = |by: f64| Outline { sd: by * whole.sd, sd_ln: by * whole.sd_ln, ..whole };
            out.push([first(a, &spread(0.3)), first(b, &spread(1.5)), vec![0.0]].concat());
            out.push([first(a, &spread(1.5)), first(b, &spread(0.3)), vec![0.0]].concat());
        }
        Some(Parts::Series([a, b])) => {
            for early in SPLITS {
                let (young, old) = halves(&failures, early);
                // Each cause saw all hours and its own failures.
                let of = |part: &[Failure]| Outline { exposure: whole.exposure, ..outline(part) };
                let (young, old) = (of(young), of(old));
                for x in a.starts(&young) {
                    out.push([x, first(b, &old)].concat());
                }
                if a.name() != b.name() {
                    for y in b.starts(&young) {
                        out.push([first(a, &old), y].concat());
                    }
                }
            }
        }
    }
    let mut kept: Vec<Vec<f64>> = Vec::with_capacity(out.len());
    for x in out {
        if x.len() == family.width() && x.iter().all(|c| c.is_finite()) && !kept.contains(&x) {
            kept.push(x);
        }
    }
    kept
}

/// An age at failure and its weight.
type Failure = (f64, f64);

/// Ages at failure, an interval at its middle, by age.
fn failures(sample: &Sample) -> Vec<Failure> {
    let mut out: Vec<Failure> = (0..sample.tally.rows())
        .filter(|&i| sample.weights[i] > 0.0)
        .filter_map(|i| match sample.row(i).evidence {
            Evidence::Exact(age) => Some((age, sample.weights[i])),
            Evidence::Between(low, high) => Some((0.5 * (low + high), sample.weights[i])),
            Evidence::Passed(_) => None,
        })
        .collect();
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out
}

/// The youngest failures, with a share of the weight, and the rest; neither without any.
fn halves(failures: &[Failure], share: f64) -> (&[Failure], &[Failure]) {
    let goal = share * failures.iter().map(|f| f.1).sum::<f64>();
    let mut sum = 0.0;
    let cut = failures.iter().take_while(|f| {
        sum += f.1;
        sum <= goal
    });
    let cut = cut.count().clamp(1.min(failures.len()), failures.len().saturating_sub(1).max(1));
    failures.split_at(cut.min(failures.len()))
}

/// Outline of failures alone.
fn outline(failures: &[Failure]) -> Outline {
    let weight: f64 = failures.iter().map(|f| f.1).sum();
    let mean = |of: &dyn Fn(f64) -> f64| failures.iter().map(|(t, w)| w * of(*t)).sum::<f64>() / weight;
    let (middle, middle_ln) = (mean(&|t| t), mean(&f64::ln));
    // A single age still needs a spread to start from.
    let sd = mean(&|t| (t - middle) * (t - middle)).sqrt().max(0.1 * middle.abs());
    let sd_ln = mean(&|t| (t.ln() - middle_ln) * (t.ln() - middle_ln)).sqrt().max(0.1);
    Outline { failures: weight, exposure: weight * middle, mean: middle, sd, mean_ln: middle_ln, sd_ln }
}

/// Whether a family is searched peak by peak.
pub(super) fn has_peaks(family: &dyn Family) -> bool {
    family.parts().is_some() || family.several_peaks()
}
