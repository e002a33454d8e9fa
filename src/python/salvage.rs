//! Worth of a used lamp.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::terms::Salvage;

use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::result::result_class;
use super::show::{Facts, facts};

const SALVAGE: Format = Format::new("salvage", 1);

/// Worth by age: at 0 and on both sides of the end.
fn salvage_table(s: &Salvage) -> Result<RecordBatch> {
    let end = s.end_hours();
    let ages = [0.0, end.next_down(), end];
    Frame::default().numbers("age_hours", ages).numbers("worth", ages.iter().map(|a| s.worth(*a))).finish()
}

fn salvage_facts(s: &Salvage) -> Facts {
    facts! {
        "worth_of_new": s.worth_of_new(), "gone_hours": s.gone_hours(), "least_hours_left": s.least_hours_left(),
        "end_hours": s.end_hours(),
    }
}

result_class! {
    /// What a good used lamp is worth when it is changed on plan; made by `salvage`.
    ///
    /// Its table holds the worth at age 0 and on both sides of the age from which there is none.
    PySalvage holds Salvage as "Salvage";
    save |s| saved::save(SALVAGE, s); load |t| saved::load(SALVAGE, t); table salvage_table; show salvage_facts;
    {
        /// What a lamp would bring that has hardly burned.
        #[getter]
        fn worth_of_new(&self) -> f64 {
            self.0.worth_of_new()
        }

        /// Age at which nothing is left, hours.
        #[getter]
        fn gone_hours(&self) -> f64 {
            self.0.gone_hours()
        }

        /// Hours left up to which a lamp is worth nothing.
        #[getter]
        fn least_hours_left(&self) -> f64 {
            self.0.least_hours_left()
        }

        /// Age from which a lamp is worth nothing, hours.
        #[getter]
        fn end_hours(&self) -> f64 {
            self.0.end_hours()
        }

        /// Worth of a lamp that is changed on plan at an age; 0 from the end on.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age at the change, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     In the currency of the costs; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> salvage = relamp.salvage(worth_of_new=400.0, gone_hours=2000.0)
        /// >>> salvage.worth(500.0), salvage.worth([0.0, 2000.0]).tolist()
        /// (300.0, [400.0, 0.0])
        fn worth<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::over(age, At { input: "salvage", column: "age" }, |a| Ok(Some(self.0.worth(a))))
        }
    }
}

/// What a good used lamp is worth by its age: as a spare for an emergency, or sold.
///
/// It falls evenly with the hours burned, to nothing at `gone_hours`. With `least_hours_left` it drops to nothing at once where
/// only so many hours or fewer are left. Only a lamp that is changed though it works is worth anything; `Costs.with_salvage`
/// puts it in the costs.
///
/// Parameters
/// ----------
/// worth_of_new : float
///     What a lamp would bring that has hardly burned, in the currency of the costs, 0 or more.
/// gone_hours : float
///     Age at which nothing is left, hours, 1 or more.
/// least_hours_left : float, optional
///     Hours left up to which a lamp is worth nothing, below `gone_hours`; None for 0.
///
/// Returns
/// -------
/// Salvage
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.salvage(worth_of_new=400.0, gone_hours=2000.0).worth(1000.0)
/// 200.0
/// >>> salvage = relamp.salvage(worth_of_new=400.0, gone_hours=2000.0, least_hours_left=500.0)
/// >>> salvage.end_hours, salvage.worth(1500.0)
/// (1500.0, 0.0)
#[pyfunction]
#[pyo3(signature = (*, worth_of_new, gone_hours, least_hours_left=None))]
pub(super) fn salvage(
    #[pyo3(from_py_with = args::worth_of_new)] worth_of_new: f64,
    #[pyo3(from_py_with = args::gone_hours)] gone_hours: f64,
    #[pyo3(from_py_with = args::least_hours_left)] least_hours_left: Option<f64>,
) -> PyResult<PySalvage> {
    Ok(PySalvage(Salvage::new(worth_of_new, gone_hours, least_hours_left.unwrap_or(0.0))?))
}
