//! Tests of a family: against a narrower one, and against the records' own curve.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{
    DistanceTest, LikelihoodRatio, distance_test as core_distance, likelihood_ratio as core_ratio,
    likelihood_ratio_bootstrap as core_drawn,
};

use super::fit::PyFit;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::PyTally;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{few_enough, options, pairs};
use super::work::work;

const RATIO: Format = Format::new("likelihood_ratio", 1);
const DISTANCE: Format = Format::new("distance_test", 1);

fn ratio_table(r: &LikelihoodRatio) -> Result<RecordBatch> {
    Frame::default()
        .texts("narrow", [&r.narrow])
        .texts("wide", [&r.wide])
        .numbers("statistic", [r.statistic])
        .counts("degrees_of_freedom", [r.degrees_of_freedom])
        .texts("law", [word(&r.law)])
        .numbers("p_value", [r.p_value])
        .finish()
}

fn ratio_facts(r: &LikelihoodRatio) -> Facts {
    facts! {
        "narrow": r.narrow, "wide": r.wide, "restriction": r.restriction, "statistic": r.statistic,
        "degrees_of_freedom": r.degrees_of_freedom, "law": word(&r.law), "p_value": r.p_value,
    }
}

result_class! {
    /// Whether a family with fewer parameters is enough; made by `likelihood_ratio` or `likelihood_ratio_bootstrap`.
    PyLikelihoodRatio holds LikelihoodRatio as "LikelihoodRatio";
    save |r| saved::save(RATIO, r); load |t| saved::load(RATIO, t); table ratio_table; show ratio_facts;
    {
        /// Twice the difference of the log-likelihoods.
        #[getter]
        fn statistic(&self) -> f64 {
            self.0.statistic
        }

        /// Degrees of freedom of the chi-square law, or of its half above 0: parameters that the narrow family fixes.
        #[getter]
        fn degrees_of_freedom(&self) -> u64 {
            self.0.degrees_of_freedom
        }

        /// The law behind the chance: "chi_square", "half_chi_square" (on the edge of the wide family's range) or
        /// "parametric_bootstrap".
        #[getter]
        fn law(&self) -> String {
            word(&self.0.law)
        }

        /// Replicates behind the chance; 0 for a law in closed form.
        #[getter]
        fn replicates(&self) -> u64 {
            self.0.replicates
        }

        /// Chance of a statistic at least this large if the narrow family holds, by `law`.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value
        }

        /// What the narrow family says of the wide one's parameters.
        #[getter]
        fn restriction(&self) -> &str {
            &self.0.restriction
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// Tests whether a family within a wider one is enough, by the likelihood ratio.
///
/// The statistic is 2 (ln L wide - ln L narrow). Where the narrow family lies inside the range of the wide one the
/// chance is that of chi-square with as many degrees of freedom as parameters are fixed. Where it lies on the edge of
/// the range, as without a share that never fails or with a hazard that does not grow, it is half of that, and 1
/// where the statistic is 0: half of the samples of the narrow family have their maximum on the edge. `law` names
/// which. Both fits are checked to be of the records in the tally. A pair without such a law, a mixture among them,
/// is refused: take `likelihood_ratio_bootstrap`.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// narrow : Fit
///     Of the family with fewer parameters.
/// wide : Fit
///     Of the family that holds it.
/// endings : list of str, optional
///     The ones that were fitted.
///
/// Returns
/// -------
/// LikelihoodRatio
///
/// Raises
/// ------
/// InputError
///     For a fit of other records, an unknown ending, and families of which one does not hold the other.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> even, wear = relamp.fit(tally, family="exponential"), relamp.fit(tally)
/// >>> test = relamp.likelihood_ratio(tally, narrow=even, wide=wear)
/// >>> test.restriction, test.degrees_of_freedom, test.p_value < 0.01
/// ('shape is 1', 1, True)
#[pyfunction]
#[pyo3(signature = (tally, *, narrow, wide, endings=None))]
pub(super) fn likelihood_ratio(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::made::<PyFit>)] narrow: &Bound<'_, PyFit>,
    #[pyo3(from_py_with = args::made::<PyFit>)] wide: &Bound<'_, PyFit>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyLikelihoodRatio> {
    let (options, tally) = (options(endings)?, &tally.get().0);
    let (narrow, wide) = (&narrow.get().0, &wide.get().0);
    Ok(PyLikelihoodRatio(work(py, None, |_| core_ratio(tally, &options, narrow, wide))?))
}

/// Tests whether a family within a wider one is enough, by samples drawn from the narrow fit.
///
/// For pairs without a closed law, and for few failures. Each replicate draws every lamp again under the records' own
/// censoring and is fitted by both families. The records are fitted as by `fit`; a replicate is searched on from where a
/// profile rises above its peak, no farther than to a statistic as large as that of the records. Where the wide one has no
/// inner maximum, its likelihood counts as it is at the edge or in the limit to which it rises.
///
/// Parameters
/// ----------
/// tally : Tally
/// narrow : str
/// wide : str
///     A family that holds the narrow one; the caller answers for that.
/// endings : list of str, optional
///     Endings that count as failure; without it all failures count.
/// replicates : int
///     How many samples to draw, 99 or more.
/// seed : int
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// LikelihoodRatio
///
/// Raises
/// ------
/// InputError
///     For a family, ending or pair that is unknown, fewer than 99 replicates, and what is no whole number.
/// RefusedError
///     Where the narrow fit of the records is refused, the wide one has no bound that is known, or lies below the narrow one.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> test = relamp.likelihood_ratio_bootstrap(tally, narrow="exponential", wide="weibull", replicates=199, seed=1)
/// >>> test.law, test.p_value < 0.05
/// ('parametric_bootstrap', True)
#[pyfunction]
#[pyo3(signature = (tally, *, narrow, wide, endings=None, replicates=999, seed, progress=None))]
pub(super) fn likelihood_ratio_bootstrap(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::narrow)] narrow: &str,
    #[pyo3(from_py_with = args::wide)] wide: &str,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyLikelihoodRatio> {
    few_enough(replicates)?;
    let (narrow, wide, tally) = (family_of(narrow)?, family_of(wide)?, &tally.get().0);
    let endings = options(endings)?.endings;
    let made = work(py, progress, |run| core_drawn(narrow, wide, tally, endings.as_deref(), replicates, seed, run))?;
    Ok(PyLikelihoodRatio(made))
}

fn distance_table(d: &DistanceTest) -> Result<RecordBatch> {
    Frame::default()
        .texts("distance", ["anderson_darling", "kolmogorov"])
        .numbers("value", [d.anderson_darling, d.kolmogorov])
        .numbers("p_value", [d.p_anderson_darling, d.p_kolmogorov])
        .finish()
}

fn distance_facts(d: &DistanceTest) -> Facts {
    facts! {
        "family": d.family, "anderson_darling": d.anderson_darling, "p_anderson_darling": d.p_anderson_darling,
        "kolmogorov": d.kolmogorov, "p_kolmogorov": d.p_kolmogorov, "replicates": d.replicates,
        "unsettled": d.unsettled, "verdict": d.verdict,
    }
}

result_class! {
    /// Distances of a fitted life from the records' own curve, with their chances; made by `distance_test`.
    PyDistanceTest holds DistanceTest as "DistanceTest";
    save |d| saved::save(DISTANCE, d); load |t| saved::load(DISTANCE, t); table distance_table; show distance_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            &self.0.family
        }

        /// Anderson-Darling distance.
        #[getter]
        fn anderson_darling(&self) -> f64 {
            self.0.anderson_darling
        }

        /// Kolmogorov distance, times the square root of the number of lamps.
        #[getter]
        fn kolmogorov(&self) -> f64 {
            self.0.kolmogorov
        }

        /// Chance of an Anderson-Darling distance at least this large if the family fits.
        #[getter]
        fn p_anderson_darling(&self) -> f64 {
            self.0.p_anderson_darling
        }

        /// Chance of a Kolmogorov distance at least this large if the family fits.
        #[getter]
        fn p_kolmogorov(&self) -> f64 {
            self.0.p_kolmogorov
        }

        /// Replicates behind the chances.
        #[getter]
        fn replicates(&self) -> u64 {
            self.0.replicates
        }

        /// Replicates left out.
        #[getter]
        fn unsettled(&self) -> u64 {
            self.0.unsettled
        }

        /// The answer in plain words.
        #[getter]
        fn verdict(&self) -> &str {
            &self.0.verdict
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// Tests a family by its distances from the product-limit curve, with chances by parametric bootstrap.
///
/// Each replicate draws the life of every lamp from the fit, censors it (a lamp that failed gets a censoring age from
/// the product-limit curve of the censoring), and is fitted again before its distances are taken. Late entry, windows
/// and failures known to an interval are refused.
///
/// A normal, logistic or smallest extreme value life may end before age 0, where no record can lie: replicates are drawn from
/// the part above 0. Up to 1 % below it the chances hold; above they are too small, which the note `fit.cut_at_zero` says.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// family : str
///     A name that `life` knows.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
/// replicates : int
///     How many, 99 or more.
/// seed : int
///     0 to 2^64 - 1: same seed, same replicates.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// DistanceTest
///
/// Raises
/// ------
/// InputError
///     For an unknown family or ending, fewer than 99 replicates, and a seed out of range.
/// RefusedError
///     For rows other than exact and right-censored from new, where the fit is refused, or too few replicates settled.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> relamp.distance_test(tally, replicates=199, seed=1).p_anderson_darling > 0.1
/// True
/// >>> relamp.distance_test(tally, family="exponential", replicates=199, seed=1).p_anderson_darling < 0.02
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, family="weibull", endings=None, replicates=999, seed, progress=None))]
pub(super) fn distance_test(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyDistanceTest> {
    few_enough(replicates)?;
    let (family, tally) = (family_of(family)?, &tally.get().0);
    let endings = options(endings)?.endings;
    let made = work(py, progress, |run| core_distance(family, tally, endings.as_deref(), replicates, seed, run))?;
    Ok(PyDistanceTest(made))
}
