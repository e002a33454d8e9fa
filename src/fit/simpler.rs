//! Fits in a table that a simpler one among them makes needless.

use super::model::Note;
use super::nested::chance_on_the_edge;
use super::one_kind::{CHANCE, chance_of_two};
use crate::base::error::Result;
use crate::family::{family, in_words};

/// A simpler family among the fits that is enough, and the chance under it of a rise as large.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Enough {
    pub(super) family: String,
    pub(super) chance: f64,
}

/// For each fit, by family and log-likelihood, the simpler one among them that is enough; none where none is.
///
/// AIC charges 2 for a parameter, which is right where the simpler family lies inside the range of the wider one. A second
/// kind of lamps, a share that never fails and a hazard that grows have it on the edge, and a share of 0 leaves parameters
/// in no likelihood: there one kind by chance rises by more than AIC charges. The test of the pair decides.
pub(super) fn enough(fits: &[(&str, f64)]) -> Result<Vec<Option<Enough>>> {
    let mut out = Vec::with_capacity(fits.len());
    for &(wide, top) in fits {
        let known = family(wide)?;
        let mut best: Option<Enough> = None;
        for &(narrow, value) in fits {
            let chance = match chance_on_the_edge(narrow, known, top - value) {
                Some(chance) => Some(chance),
                None => chance_of_two(known, narrow, top - value)?,
            };
            if let Some(chance) = chance.filter(|chance| *chance >= CHANCE)
                && best.as_ref().is_none_or(|b| chance > b.chance)
            {
                best = Some(Enough { family: narrow.to_owned(), chance });
            }
        }
        out.push(best);
    }
    Ok(out)
}

/// Why a fit stands behind the others.
pub(super) fn told(wide: &str, narrow: &str, chance: f64) -> Note {
    Note::new(
        "fit.simpler_enough",
        format!(
            "{} stands behind the others whatever its AIC: {} is enough, under which a rise as large comes by chance in up to \
             {:.0} % of samples",
            in_words(wide),
            in_words(narrow),
            100.0 * chance
        ),
    )
}
