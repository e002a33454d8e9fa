//! Families made of others: a likelihood with several peaks, searched from several starts.

use serde::{Deserialize, Serialize};

use super::likelihood::Likelihood;
use super::model::Note;
use super::newton::{Outcome, Surface, climb};
use super::profile::share_bound_95;
use super::refusal;
use super::sample::{Evidence, Sample};
use super::search::{Engine, FitOptions, maximise};
use super::shape_walk::{Far, walk};
use crate::base::error::{Error, Kind, Result};
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

/// Difference of log-likelihoods that a search leaves to rounding: one point counts as above another from here on.
pub(super) const ABOVE: f64 = 1e-6;

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

/// Why there is no peak to give, and how high the likelihood reaches all the same where that is known.
pub(super) struct Missed {
    pub(super) why: Error,
    /// The supremum of the log-likelihood, which lies on an edge or in a limit of the family.
    pub(super) edge: Option<f64>,
}

impl From<Error> for Missed {
    fn from(why: Error) -> Self {
        Self { why, edge: None }
    }
}

/// Searches from many starts, and where they ended.
struct Hunt<'s> {
    family: &'s dyn Family,
    surface: Likelihood<'s>,
    kept: Vec<(Outcome, Vec<f64>, u64)>,
    one_age: Option<f64>,
    /// The highest end at a share of 0 or 1: its log-likelihood and coordinates.
    edge: Option<(f64, Vec<f64>)>,
    /// The highest log-likelihood of one cause alone.
    alone: Option<f64>,
    searches: u64,
    lost: u64,
}

impl<'s> Hunt<'s> {
    fn new(family: &'s dyn Family, sample: &'s Sample<'s>) -> Self {
        let surface = Likelihood { family, sample };
        Self { family, surface, kept: Vec::new(), one_age: None, edge: None, alone: None, searches: 0, lost: 0 }
    }

    fn from(&mut self, start: &[f64], options: &FitOptions, run: &Run) -> Result<()> {
        self.searches += 1;
        let mut outcome = climb(&self.surface, start, options.iterations, run)?;
        match end(self.family, &outcome) {
            End::Peak => {}
            End::OneAge(age) => {
                self.one_age = Some(age);
                self.lost += 1;
                return Ok(());
            }
            End::NoShare => {
                self.at_edge(outcome.point.value, outcome.x);
                return Ok(());
            }
            End::Nowhere => return Ok(()),
        }
        let ordered = in_order(self.family, &outcome.x);
        if ordered != outcome.x {
            outcome.x = ordered;
            self.surface.at(&outcome.x, Order::Hessian, &mut outcome.point)?;
        }
        let width = self.family.width();
        let Some(covariance) = inverse(&outcome.point.information(), width) else { return Ok(()) };
        let errors: Vec<f64> = (0..width).filter_map(|i| covariance.get(i * (i + 3) / 2)).map(|v| v.sqrt()).collect();
        let near =
            |known: &[f64]| known.iter().zip(&outcome.x).zip(&errors).all(|((a, b), e)| (a - b).abs() <= SAME_PEAK * e);
        match self.kept.iter_mut().find(|(k, ..)| near(&k.x)) {
            Some((_, _, n)) => *n += 1,
            None => self.kept.push((outcome, errors, 1)),
        }
        Ok(())
    }

    fn at_edge(&mut self, log_likelihood: f64, x: Vec<f64>) {
        if self.edge.as_ref().is_none_or(|(value, _)| log_likelihood > *value) {
            self.edge = Some((log_likelihood, x));
        }
    }

    /// A part alone is a life of the family too, with the other part at nothing: no peak counts that lies below it.
    fn parts_alone(&mut self, sample: &Sample, options: &FitOptions, run: &Run) -> Result<()> {
        if self.kept.is_empty() && self.edge.is_none() {
            return Ok(());
        }
        let parts = match self.family.parts() {
            Some(Parts::Mixture(parts) | Parts::Series(parts)) => parts.to_vec(),
            Some(Parts::NeverFails(part)) => vec![part],
            None => Vec::new(),
        };
        for part in parts.into_iter().filter(|part| part.parts().is_none()) {
            let alone = match maximise(part, sample, options, run) {
                Ok(alone) => alone,
                Err(error) if error.kind() == Kind::Refused => continue,
                Err(error) => return Err(error),
            };
            let top = self.kept.iter().map(|k| k.0.point.value).fold(f64::NEG_INFINITY, f64::max);
            if alone.converged() && top < alone.point.value - ABOVE {
                match self.family.parts() {
                    Some(Parts::Series(_)) => {
                        self.alone = Some(self.alone.map_or(alone.point.value, |a| a.max(alone.point.value)));
                    }
                    _ => self.at_edge(alone.point.value, [alone.x, vec![-NO_SHARE]].concat()),
                }
            }
        }
        Ok(())
    }
}

/// Rows that failed, and rows that did not, on which a search from many starts begins: each then climbs a short way on all.
pub(super) const THIN: usize = 1_000;

/// Where the starts lead on a part of the rows, each place once; none where there are few rows.
fn leads(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Option<Vec<Vec<f64>>>> {
    let Some(thin) = sample.thinned(THIN) else { return Ok(None) };
    let mut hunt = Hunt::new(family, &thin);
    for start in starts(family, &thin) {
        hunt.from(&start, options, run)?;
    }
    let peaks = hunt.kept.into_iter().map(|(outcome, ..)| outcome.x);
    Ok(Some(peaks.chain(hunt.edge.map(|edge| edge.1)).collect()))
}

/// Climbs from every start and keeps the highest peak. `known`: a point near which the highest peak is looked for, as when
/// the sample was drawn from it; from all starts only where neither it nor one of them leads to a peak.
///
/// # Errors
/// `fit.part_on_one_age`, `fit.one_kind`, `fit.all_fail`, `fit.not_identified` where no search ended on a peak, and
/// where the highest value lies at the edge.
pub(super) fn highest(
    family: &dyn Family,
    sample: &Sample,
    known: Option<&[f64]>,
    options: &FitOptions,
    run: &Run,
) -> std::result::Result<Found, Missed> {
    let mut hunt = Hunt::new(family, sample);
    if let Some(known) = known {
        hunt.from(known, options, run)?;
        let all = starts(family, sample);
        if let Some(other) = all.get(all.len() / 2) {
            hunt.from(other, options, run)?;
        }
    }
    let near = !hunt.kept.is_empty();
    let walked = if family.several_peaks() && !near { Some(walk(family, sample, options, run)?) } else { None };
    // Within windows the walk knows every peak, and a search from elsewhere may come to rest on a plateau, which is none.
    let known_by_walk = walked.is_some() && sample.count.windowed;
    if !(near || known_by_walk) {
        let leads = leads(family, sample, options, run)?;
        let led = leads.is_some();
        for lead in leads.iter().flatten() {
            hunt.from(lead, options, run)?;
        }
        if hunt.kept.is_empty() && hunt.edge.is_none() && !(led && walked.is_some()) {
            for start in starts(family, sample) {
                hunt.from(&start, options, run)?;
            }
        }
    }
    for start in walked.iter().flat_map(|walked| &walked.starts) {
        hunt.from(start, options, run)?;
    }
    hunt.parts_alone(sample, options, run)?;
    let Hunt { mut kept, one_age, edge, alone, searches, lost, .. } = hunt;
    kept.sort_by(|a, b| b.0.point.value.total_cmp(&a.0.point.value));
    let top = kept.first().map(|(best, ..)| best.point.value);
    // A value at the edge that no peak exceeds says that the part or the share is not there.
    if let Some((value, x)) = edge
        && top.is_none_or(|top| top <= value + ABOVE)
    {
        let why = match family.parts() {
            Some(Parts::NeverFails(_)) => {
                let bound = share_bound_95(family, sample, &x, value, options, run)?;
                refusal::share_at_edge(family, &sample.count, value, bound)
            }
            _ => refusal::share_at_edge(family, &sample.count, value, None),
        };
        return Err(Missed { why, edge: Some(value) });
    }
    if let Some(value) = alone {
        return Err(Missed { why: refusal::one_cause(family.name(), &sample.count, value), edge: Some(value) });
    }
    if let Some(walked) = &walked {
        let out: Option<Far> = walked.far.filter(|far| top.is_none_or(|top| top <= far.log_likelihood + ABOVE));
        let narrow = walked.narrow.first();
        let below = narrow.filter(|n| top.is_none_or(|top| top < n.log_likelihood - ABOVE));
        if out.is_some() || below.is_some() {
            let edge = out.map(|far| far.log_likelihood).or(below.map(|n| n.log_likelihood));
            return Err(Missed { why: refusal::shape_runs_away(family.name(), &sample.count, out, narrow), edge });
        }
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
        None => Err(Missed::from(match one_age {
            Some(age) => refusal::part_on_one_age(family.name(), &sample.count, age),
            None => refusal::not_identified(family.name(), &sample.count),
        })),
    }
}

/// The peak that a search from a point ends on; none where that is no peak.
pub(super) fn peak_from(
    family: &dyn Family,
    sample: &Sample,
    start: &[f64],
    options: &FitOptions,
    run: &Run,
) -> Result<Option<Outcome>> {
    let mut outcome = climb(&Engine::new(family, sample, false), start, options.iterations, run)?;
    if !matches!(end(family, &outcome), End::Peak) {
        return Ok(None);
    }
    let ordered = in_order(family, &outcome.x);
    if ordered != outcome.x {
        outcome.x = ordered;
        Likelihood { family, sample }.at(&outcome.x, Order::Hessian, &mut outcome.point)?;
    }
    Ok(Some(outcome))
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

/// Whether a part has shrunk onto one age.
pub(super) fn on_one_age(family: &dyn Family, x: &[f64], converged: bool) -> bool {
    narrow(family, x, if converged { ONE_AGE } else { SHRINKING }).is_some()
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
pub(super) fn starts(family: &dyn Family, sample: &Sample) -> Vec<Vec<f64>> {
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
