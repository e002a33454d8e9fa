//! Whether a second kind of lamps is there at all: a mixture against the single lives that it holds.

use super::model::{Fit, Note};
use super::sample::Sample;
use super::search::{FitOptions, fit_sample};
use crate::base::error::{Kind, Result};
use crate::base::math::special::ln_gamma_q;
use crate::base::run::Run;
use crate::family::{Family, Parts, family};
use crate::lives::Tally;

/// Chance of a rise as large where there is one kind of lamps, from which on a second kind is believed.
pub(super) const CHANCE: f64 = 0.05;

/// Parameters lost with a kind whose rate is even: its scale and its share.
const EVEN: usize = 2;

/// A mixture within a family, and the families in which one kind stands in for both.
struct Kinds {
    /// The coordinate of the share.
    share: usize,
    /// The coordinates of both kinds and of the share.
    from: usize,
    single: Vec<&'static dyn Family>,
}

/// Every mixture within a family.
fn mixtures(whole: &dyn Family) -> Result<Vec<Kinds>> {
    let mut out = Vec::new();
    match whole.parts() {
        None => {}
        Some(Parts::Mixture([a, b])) => {
            let single = if a.name() == b.name() { vec![a] } else { vec![a, b] };
            out.push(Kinds { share: whole.width() - 1, from: 0, single });
            out.extend(within(a, 0, &|one| format!("mixture({one}, {})", b.name()))?);
            out.extend(within(b, a.width(), &|one| format!("mixture({}, {one})", a.name()))?);
        }
        Some(Parts::Series([a, b])) => {
            out.extend(within(a, 0, &|one| format!("series({one}, {})", b.name()))?);
            out.extend(within(b, a.width(), &|one| format!("series({}, {one})", a.name()))?);
        }
        Some(Parts::NeverFails(a)) => out.extend(within(a, 0, &|one| format!("never_fails({one})"))?),
    }
    Ok(out)
}

/// The mixtures of a part that starts at a coordinate, told for the whole.
fn within(part: &dyn Family, start: usize, whole: &dyn Fn(&str) -> String) -> Result<Vec<Kinds>> {
    let found = mixtures(part)?.into_iter().map(|kinds| {
        let single = kinds.single.iter().map(|one| family(&whole(one.name()))).collect::<Result<_>>()?;
        Ok(Kinds { share: start + kinds.share, from: start + kinds.from, single })
    });
    found.collect()
}

/// What the records say of a second kind where they do not prove it.
pub(super) struct Doubt {
    /// The coordinate of the share.
    pub(super) share: usize,
    /// The coordinates from here up to the share belong to the two kinds.
    pub(super) from: usize,
    pub(super) note: Note,
}

/// Chance of a rise of the log-likelihood as large where there is one kind of lamps, from the numbers of parameters.
fn chance(two: usize, one: usize, rise: f64) -> f64 {
    let lost = two.saturating_sub(one);
    let times = if lost > EVEN { 3.0 } else { 2.0 };
    // Chi-square with so many degrees of freedom above twice the rise.
    ln_gamma_q(0.5 * times * lost as f64, rise).exp()
}

/// The same of a family with a mixture over one with a single kind in its place; none where the second is no such family.
pub(super) fn chance_of_two(two: &dyn Family, one: &str, rise: f64) -> Result<Option<f64>> {
    let singles = || mixtures(two).map(|all| all.into_iter().flat_map(|kinds| kinds.single));
    Ok(singles()?.find(|single| single.name() == one).map(|single| chance(two.width(), single.width(), rise.max(0.0))))
}

/// The mixtures within a fit that one kind of lamps explains about as well.
///
/// Where the share of a kind is 0, the parameters of that kind are in no likelihood, so the law of a likelihood ratio is
/// not the chi-square law with one degree of freedom that a profile of the share is judged by. Taken here: the chi-square
/// law with twice as many degrees of freedom as parameters are lost with the second kind, and three times as many where
/// that kind has a spread of its own, as it then may crowd around a few failures. Twice is a rule of J. H. Wolfe (1971) for
/// mixtures of normals, from memory; both multiples are held against simulated samples of one kind in
/// `tests/data/one_kind.csv`.
pub(super) fn doubts(fit: &Fit, tally: &Tally, options: &FitOptions, run: &Run) -> Result<Vec<Doubt>> {
    let mut out = Vec::new();
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    for kinds in mixtures(fit.family()?)? {
        let mut best: Option<(&'static dyn Family, f64, f64)> = None;
        for &single in &kinds.single {
            let found = match fit_sample(single, &sample, options, run) {
                Ok(found) => found,
                Err(error) if error.kind() == Kind::Refused => continue,
                Err(error) => return Err(error),
            };
            let rise = (fit.log_likelihood() - found.log_likelihood()).max(0.0);
            let chance = chance(fit.coordinates().len(), single.width(), rise);
            if best.is_none_or(|(_, c, _)| chance > c) {
                best = Some((single, chance, rise));
            }
        }
        let text = match best {
            Some((_, chance, _)) if chance < CHANCE => continue,
            Some((single, chance, rise)) => format!(
                "one kind of lamps ({}) explains the records about as well: a second kind raises the log-likelihood by \
                 {rise:.2}, which one kind would do by chance in up to {:.0} % of samples",
                single.name(),
                100.0 * chance
            ),
            None => "there is no fit of one kind of lamps to hold a second kind against".to_owned(),
        };
        out.push(Doubt { share: kinds.share, from: kinds.from, note: Note::new("fit.one_kind_enough", text) });
    }
    Ok(out)
}
