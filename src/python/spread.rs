//! Mean hours between two ages, read off a curve.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::empirical::MeanHours;

use super::frames::Frame;
use super::result::result_class;
use super::show::{Facts, facts};

fn table(m: &MeanHours) -> Result<RecordBatch> {
    Frame::default()
        .numbers("reached_hours", [m.reached_hours])
        .numbers("to_hours", [m.to_hours])
        .numbers("mean_hours", [m.mean_hours])
        .numbers("standard_error", [m.standard_error])
        .numbers("low", [m.low])
        .numbers("high", [m.high])
        .numbers("level", [m.level])
        .numbers("still_working", [m.still_working])
        .finish()
}

fn mean_facts(m: &MeanHours) -> Facts {
    facts! {
        "mean_hours": m.mean_hours, "low": m.low, "high": m.high, "level": m.level,
        "standard_error": m.standard_error, "reached_hours": m.reached_hours, "to_hours": m.to_hours,
        "still_working": m.still_working, "sentence": m.sentence,
    }
}

result_class! {
    /// Mean hours worked between two ages by lamps that reached the first.
    ///
    /// Made by `Curve.restricted_mean_interval` and `Curve.mean_residual_life`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0, 400.0]))
    /// >>> mean = curve.mean_residual_life(200.0)
    /// >>> mean.mean_hours, mean.still_working
    /// (150.0, 0.0)
    /// >>> print(mean.sentence)
    /// mean hours for lamps that reached 200 h: no lamp works past 400 h, so every hour is counted
    PyMeanHours holds MeanHours as "MeanHours";
    save MeanHours::to_json; load MeanHours::from_json; table table; show mean_facts;
    {
        /// The age that lamps have reached, hours.
        #[getter]
        fn reached_hours(&self) -> f64 {
            self.0.reached_hours
        }

        /// The age up to which hours are counted.
        #[getter]
        fn to_hours(&self) -> f64 {
            self.0.to_hours
        }

        /// Mean hours worked between the two ages.
        #[getter]
        fn mean_hours(&self) -> f64 {
            self.0.mean_hours
        }

        /// Standard error of the mean, hours.
        #[getter]
        fn standard_error(&self) -> f64 {
            self.0.standard_error
        }

        /// Lower end of the interval, hours.
        #[getter]
        fn low(&self) -> f64 {
            self.0.low
        }

        /// Upper end of the interval, hours.
        #[getter]
        fn high(&self) -> f64 {
            self.0.high
        }

        /// Level of the interval.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Share of these lamps still working at `to_hours`, whose later hours are not counted.
        #[getter]
        fn still_working(&self) -> f64 {
            self.0.still_working
        }

        /// What was counted, in one sentence.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }
    }
}
