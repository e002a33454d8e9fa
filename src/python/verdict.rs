//! Families side by side at an age, and two phases under one life.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::fit::{FamilyVerdict, Fit, Phases, family_verdict as core_verdict, phases as core_phases};

use super::fit::PyFit;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::PyTally;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{few_enough, options, pairs};
use super::work::work;

const VERDICT: Format = Format::new("family_verdict", 1);
const PHASES: Format = Format::new("phases", 1);

fn verdict_table(v: &FamilyVerdict) -> Result<RecordBatch> {
    let each = || v.rows.iter();
    Frame::default()
        .texts("family", each().map(|r| &r.family))
        .numbers("aic_difference", each().map(|r| r.aic_difference))
        .texts("simpler", each().map(|r| r.simpler.as_deref().unwrap_or_default()))
        .texts("alike", each().map(|r| if r.alike { "yes" } else { "no" }))
        .numbers("failed", each().map(|r| r.failed))
        .numbers_or_null("failed_low", each().map(|r| r.failed_low))
        .numbers_or_null("failed_high", each().map(|r| r.failed_high))
        .finish()
}

fn verdict_facts(v: &FamilyVerdict) -> Facts {
    facts! {
        "age_hours": v.age_hours, "within_hours": v.within_hours, "verdict": v.verdict, "disagreement": v.disagreement,
        "beyond_interval": v.beyond_interval, "level": v.level,
        "notes": v.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// What families that fit alike say at an age; made by `family_verdict`.
    PyFamilyVerdict holds FamilyVerdict as "FamilyVerdict";
    save |v| saved::save(VERDICT, v); load |t| saved::load(VERDICT, t); table verdict_table; show verdict_facts;
    {
        /// The age, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// End of the window, hours, where the records show failures only: shares are then of the failures by this age.
        /// None where they are of all lamps.
        #[getter]
        fn within_hours(&self) -> Option<f64> {
            self.0.within_hours
        }

        /// Families that fit alike: AIC within 2 of the best, and no simpler one enough.
        #[getter]
        fn alike(&self) -> Fixed<String> {
            self.0.rows.iter().filter(|r| r.alike).map(|r| r.family.clone()).collect()
        }

        /// Largest less smallest failure probability at the age among them.
        #[getter]
        fn disagreement(&self) -> f64 {
            self.0.disagreement
        }

        /// Whether they disagree by more than the interval of the best is wide.
        #[getter]
        fn beyond_interval(&self) -> bool {
            self.0.beyond_interval
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

/// Puts fits of the same records side by side at an age: which fit alike, and how far apart they stand there.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records behind every fit.
/// fits : list of Fit
/// age_hours : float
///     Where the answer is needed, such as the planned age or the hour limit.
/// level : float
///     Level of the interval of each family, 0 to 1.
/// endings : list of str, optional
///     The ones that were fitted.
///
/// Returns
/// -------
/// FamilyVerdict
///
/// Raises
/// ------
/// InputError
///     For no fits, what is no fit, fits of other records, a level out of range, and what is no number.
/// DomainError
///     For an age out of range, or past the window of records that show failures only.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> fits = [relamp.fit(tally, family=name) for name in ("weibull", "lognormal")]
/// >>> relamp.family_verdict(tally, fits=fits, age_hours=300.0).verdict[:45]
/// 'both families fit equally well and disagree a'
#[pyfunction]
#[pyo3(signature = (tally, *, fits, age_hours, level=0.95, endings=None))]
pub(super) fn family_verdict(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::fits::<PyFit>)] fits: Vec<Bound<'_, PyFit>>,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyFamilyVerdict> {
    let (options, tally) = (options(endings)?, &tally.get().0);
    let fits: Vec<&Fit> = fits.iter().map(|f| &f.get().0).collect();
    Ok(PyFamilyVerdict(work(py, None, |_| core_verdict(tally, &options, &fits, age_hours, level))?))
}

fn phases_table(p: &Phases) -> Result<RecordBatch> {
    Frame::default()
        .texts("phase", ["early", "late", "one life"])
        .numbers("shape", [p.early_shape, p.late_shape, p.one_shape])
        .finish()
}

fn phases_facts(p: &Phases) -> Facts {
    facts! {
        "verdict": p.verdict, "age_hours": p.age_hours, "early_shape": p.early_shape, "late_shape": p.late_shape,
        "statistic": p.statistic, "p_value": p.p_value, "replicates": p.replicates,
    }
}

result_class! {
    /// Whether one Weibull life hides two phases; made by `phases`.
    PyPhases holds Phases as "Phases";
    save |p| saved::save(PHASES, p); load |t| saved::load(PHASES, t); table phases_table; show phases_facts;
    {
        /// Age at which the two lives meet best, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// Shape before that age.
        #[getter]
        fn early_shape(&self) -> f64 {
            self.0.early_shape
        }

        /// Shape after it.
        #[getter]
        fn late_shape(&self) -> f64 {
            self.0.late_shape
        }

        /// Twice the rise of the log-likelihood over one life.
        #[getter]
        fn statistic(&self) -> f64 {
            self.0.statistic
        }

        /// Chance of a rise at least this large if one life holds.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value
        }

        /// Whether that chance is below 5 %.
        #[getter]
        fn two_phases(&self) -> bool {
            self.0.two_phases
        }

        /// The answer in plain words.
        #[getter]
        fn verdict(&self) -> &str {
            &self.0.verdict
        }
    }
}

/// Compares one Weibull life with two that meet at an age: a line with one bend on a probability plot.
///
/// The age is chosen by the likelihood, so the chance comes from samples drawn from the one life under the records' own
/// censoring, each searched in the same way.
///
/// Parameters
/// ----------
/// tally : Tally
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
/// Phases
///
/// Raises
/// ------
/// InputError
///     For an unknown ending, fewer than 99 replicates, and what is no whole number.
/// RefusedError
///     With fewer than five failures on a side of every age.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> early, late = [9 * i * i for i in range(1, 13)], [2700 + 35 * i for i in range(18)]
/// >>> found = relamp.phases(relamp.lives(early + late), replicates=99, seed=1)
/// >>> found.two_phases, found.early_shape < 1.5 < 5.0 < found.late_shape
/// (True, True)
#[pyfunction]
#[pyo3(signature = (tally, *, endings=None, replicates=499, seed, progress=None))]
pub(super) fn phases(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPhases> {
    few_enough(replicates)?;
    let (endings, tally) = (options(endings)?.endings, &tally.get().0);
    Ok(PyPhases(work(py, progress, |run| core_phases(tally, endings.as_deref(), replicates, seed, run))?))
}
