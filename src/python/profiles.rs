//! Profile curves and joint regions.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::fit::{LikelihoodRegion, ProfileCurve};

use super::arrays::{array, pairs as corners};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::question::in_words;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::pairs;

const CURVE: Format = Format::new("profile_curve", 1);
const REGION: Format = Format::new("likelihood_region", 1);

fn curve_table(c: &ProfileCurve) -> Result<RecordBatch> {
    Frame::default()
        .numbers("value", c.values.iter().copied())
        .numbers("relative_log_likelihood", c.relative_log_likelihood.iter().copied())
        .finish()
}

/// The estimate, where one stands for the quantity.
fn settled(c: &ProfileCurve) -> Option<f64> {
    (!c.open).then_some(c.estimate)
}

fn settled_pair(r: &LikelihoodRegion) -> [Option<f64>; 2] {
    let [first, second] = r.estimate;
    [(!r.open[0]).then_some(first), (!r.open[1]).then_some(second)]
}

fn curve_facts(c: &ProfileCurve) -> Facts {
    facts! {
        "quantity": in_words(&c.quantity), "family": c.family, "estimate": settled(c), "at_maximum": c.estimate, "low": c.low, "high": c.high,
        "level": c.level, "lower_bound": c.lower_bound, "upper_bound": c.upper_bound,
        "notes": c.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// The profile likelihood of one quantity over a grid of its values; made by `Fit.profile_curve`.
    PyProfileCurve holds ProfileCurve as "ProfileCurve";
    save |c| saved::save(CURVE, c); load |t| saved::load(CURVE, t); table curve_table; show curve_facts;
    {
        /// What was asked, in words.
        #[getter]
        fn quantity(&self) -> String {
            in_words(&self.0.quantity)
        }

        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            &self.0.family
        }

        /// At the maximum of the likelihood; None where the records do not settle the quantity, so that no single value stands
        /// for it.
        #[getter]
        fn estimate(&self) -> Option<f64> {
            settled(&self.0)
        }

        /// At the maximum of the likelihood, settled or not.
        #[getter]
        fn at_maximum(&self) -> f64 {
            self.0.estimate
        }

        /// Values of the quantity, ascending, (points,).
        #[getter]
        fn values<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.values)
        }

        /// ln L at each value, maximised over everything else, less its maximum, (points,).
        #[getter]
        fn relative_log_likelihood<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.relative_log_likelihood)
        }

        /// Confidence level.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Height of the curve at the two ends of the interval.
        #[getter]
        fn cut(&self) -> f64 {
            self.0.cut
        }

        /// Height of the curve at the bounds that hold at the level by themselves.
        #[getter]
        fn one_sided_cut(&self) -> f64 {
            self.0.one_sided_cut
        }

        /// Lower end of the interval; None where the curve stays above the cut.
        #[getter]
        fn low(&self) -> Option<f64> {
            self.0.low
        }

        /// Upper end of the interval; None where the curve stays above the cut.
        #[getter]
        fn high(&self) -> Option<f64> {
            self.0.high
        }

        /// Lower bound at the level by itself; None where it is open.
        #[getter]
        fn lower_bound(&self) -> Option<f64> {
            self.0.lower_bound
        }

        /// Upper bound at the level by itself; None where it is open.
        #[getter]
        fn upper_bound(&self) -> Option<f64> {
            self.0.upper_bound
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

fn region_table(r: &LikelihoodRegion) -> Result<RecordBatch> {
    let [first, second] = [0, 1].map(|k| r.parameters.get(k).map_or("", String::as_str));
    Frame::default()
        .numbers(first, r.corners.iter().map(|c| c[0]))
        .numbers(second, r.corners.iter().map(|c| c[1]))
        .finish()
}

fn region_facts(r: &LikelihoodRegion) -> Facts {
    facts! {
        "family": r.family, "parameters": r.parameters, "estimate": settled_pair(r), "at_maximum": r.estimate, "level": r.level, "closed": r.closed,
        "corners": r.corners.len(), "notes": r.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// The joint confidence region of two parameters, a polygon; made by `Fit.region`.
    PyLikelihoodRegion holds LikelihoodRegion as "LikelihoodRegion";
    save |r| saved::save(REGION, r); load |t| saved::load(REGION, t); table region_table; show region_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            &self.0.family
        }

        /// Names of the two parameters.
        #[getter]
        fn parameters(&self) -> (String, String) {
            let [first, second] = self.0.parameters.clone();
            (first, second)
        }

        /// Both parameters at the maximum of the likelihood; None for one that the records do not settle.
        #[getter]
        fn estimate(&self) -> (Option<f64>, Option<f64>) {
            settled_pair(&self.0).into()
        }

        /// Both parameters at the maximum of the likelihood, settled or not.
        #[getter]
        fn at_maximum(&self) -> (f64, f64) {
            self.0.estimate.into()
        }

        /// Corners of the polygon in order, (corners, 2); the last joins the first.
        #[getter]
        fn corners<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            corners(py, &self.0.corners.iter().map(|c| Some((c[0], c[1]))).collect::<Vec<_>>())
        }

        /// Joint confidence level.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// ln L on the border less its maximum: ln(1 - level).
        #[getter]
        fn relative_log_likelihood(&self) -> f64 {
            self.0.relative_log_likelihood
        }

        /// Whether the border closes; an open region is cut where the search ended.
        #[getter]
        fn closed(&self) -> bool {
            self.0.closed
        }

        /// Whether a pair of parameters lies inside.
        ///
        /// Parameters
        /// ----------
        /// first, second : float
        ///     Values of the two parameters, in the order of `parameters`; hours where the parameter is an age.
        ///
        /// Returns
        /// -------
        /// bool
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is no number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> relamp.fit(tally).region(tally).contains(first=4.0, second=650.0)
        /// True
        #[pyo3(signature = (*, first, second))]
        fn contains(
            &self,
            #[pyo3(from_py_with = args::first)] first: f64,
            #[pyo3(from_py_with = args::second)] second: f64,
        ) -> bool {
            self.0.contains(first, second)
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}
