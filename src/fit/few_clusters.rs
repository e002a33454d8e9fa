//! What few clusters do to errors and intervals that rest on how far clusters differ.

use super::interval::{Sides, critical};
use super::model::Note;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting};
use crate::base::math::beta::{f_upper, student_two_sided};
use crate::base::math::special::normal_cdf;

/// Clusters below which a figure that rests on them carries a note.
///
/// Common practice in regression, no single source; in simulated fleets plain robust intervals at 95 % held the truth in 93 %
/// with 40.
pub const ENOUGH_CLUSTERS: u64 = 40;
/// Clusters of each group below which two groups have no verdict on their costs.
///
/// Our choice, without a source: refits under random weights for fewer shrink visibly, by a third in variance at five.
pub const VERDICT_CLUSTERS: u64 = 5;

const SLUG: &str = "fit.few_clusters";

/// The note that few clusters call for.
pub(super) fn cluster_note(clusters: u64) -> Option<Note> {
    (clusters < ENOUGH_CLUSTERS).then(|| {
        let (known, is) = (counted(clusters, "cluster"), fitting(clusters, "is", "are"));
        let text = format!(
            "{known} (a lamp without one counts by itself) {is} fewer than {ENOUGH_CLUSTERS}: \
             intervals that rest on how far clusters differ are too short"
        );
        Note::new(SLUG, text)
    })
}

/// Whether a note says that clusters are few.
pub(super) fn of_clusters(note: &Note) -> bool {
    note.slug == SLUG
}

/// Refuses refits whose rows all share one weight.
pub(super) fn one_cluster() -> Error {
    let what = "all lives belong to one cluster, so that every refit is the fit itself";
    let problem = Problem::new("fit.one_cluster", what).at(Place::input("cluster"));
    let error = Error::new(Kind::Refused, problem.got("1 cluster").expected("2 clusters or more"));
    error.with_hint("without clusters the lamps are taken as independent")
}

/// Degrees of freedom that clusters leave beside coefficients and a level, G - 1 - k; none where none is left.
pub(super) fn degrees_left(clusters: u64, coefficients: usize) -> Option<f64> {
    clusters.checked_sub(1 + coefficients as u64).filter(|left| *left > 0).map(|left| left as f64)
}

/// Degrees of freedom from which two terms of the series beyond the normal quantile are exact to eleven digits.
const MANY: f64 = 1e4;

/// The quantile of Student's t in place of [`critical`].
///
/// # Source
/// Abramowitz & Stegun (1964), 26.7.1 and, for many degrees of freedom, 26.7.5. From memory.
pub(super) fn student_critical(level: f64, sides: Sides, degrees: f64) -> Result<f64> {
    let z = critical(level, sides)?;
    if degrees > MANY {
        let first = (z.powi(3) + z) / (4.0 * degrees);
        return Ok(z + first + (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / (96.0 * degrees * degrees));
    }
    Ok(student_two_sided(2.0 * normal_cdf(-z.abs()), degrees)?.copysign(z))
}

/// Chance of a Student's t at least so far from 0.
pub(super) fn student_chance(t: f64, degrees: f64) -> f64 {
    f_upper(t * t, 1.0, degrees)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_printed_tables() {
        // Tables of Student's t, two sides at 95 % (from memory).
        for (degrees, t) in [(1.0, 12.706), (2.0, 4.303), (5.0, 2.571), (10.0, 2.228), (30.0, 2.042), (1e9, 1.960)] {
            let got = student_critical(0.95, Sides::Both, degrees).unwrap();
            assert!((got - t).abs() < 6e-4, "{degrees} {got}");
            if degrees < 1e6 {
                assert!((student_chance(got, degrees) - 0.05).abs() < 1e-9);
            }
        }
        let [below, above] = [MANY, MANY * (1.0 + 1e-12)].map(|d| student_critical(0.9, Sides::Lower, d).unwrap());
        assert!((below - above).abs() < 1e-10, "{below} {above}");
        assert!(student_critical(0.3, Sides::Upper, 4.0).unwrap() < 0.0);
    }

    #[test]
    fn the_note_names_the_number_and_ends_at_enough() {
        assert!(cluster_note(6).unwrap().text.starts_with("6 clusters "));
        assert!(cluster_note(ENOUGH_CLUSTERS).is_none());
        assert_eq!((degrees_left(3, 1), degrees_left(2, 1), degrees_left(0, 3)), (Some(1.0), None, None));
    }
}
