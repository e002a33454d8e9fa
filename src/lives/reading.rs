//! A single age in place of an interval, where a method cannot use the interval itself.

use serde::{Deserialize, Serialize};

use super::order::from_any_order;
use super::tally::Tally;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;

/// The age that stands for a failure known only to lie in an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reading {
    /// The first age found failed: the reliability comes out too high.
    Upper,
    /// The middle of the interval.
    Midpoint,
    /// The last age seen working: the reliability comes out too low.
    Lower,
}

impl Reading {
    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            Reading::Upper => "upper",
            Reading::Midpoint => "midpoint",
            Reading::Lower => "lower",
        }
    }

    /// The age read.
    pub fn age(self, low: f64, high: f64) -> f64 {
        match self {
            Reading::Upper => high,
            Reading::Midpoint => low + (high - low) / 2.0,
            Reading::Lower => low,
        }
    }
}

impl Tally {
    /// Lives whose failure is known only to an interval.
    pub fn interval_failures(&self) -> u64 {
        let rows = self.low.iter().zip(&self.high).zip(&self.count);
        rows.map(|((low, high), count)| if low < high && *high < f64::INFINITY { *count } else { 0 }).sum()
    }

    /// The tally with every interval read as one exact age.
    ///
    /// # Errors
    /// `lives.reading_at_entry` where the lower reading falls on the age of entry, so that the lamp would fail before it
    /// is watched.
    pub fn read_intervals(&self, reading: Reading) -> Result<Tally> {
        let mut problems = 0_u64;
        let rows = self
            .each_row()
            .map(|mut row| {
                if row.low < row.high && row.high < f64::INFINITY {
                    let age = reading.age(row.low, row.high);
                    problems += u64::from(row.entry > 0.0 && age <= row.entry);
                    (row.low, row.high) = (age, age);
                }
                row
            })
            .collect();
        if problems == 0 {
            return Ok(from_any_order(rows, self.groups.clone(), &self.covariates));
        }
        let problem = Problem::new("lives.reading_at_entry", "the reading falls on the age of entry of some rows")
            .at(Place::input("reading"))
            .got(format!("{}, {}", reading.as_str(), counted(problems, "row")))
            .expected("midpoint or upper");
        Err(Error::new(Kind::Input, problem))
    }
    /// The tally with every exact age read as a meter reading: a lamp found failed at age t failed after t - `step_hours`,
    /// or after its entry if that is later. Ages below the first step become (0, t]; intervals stay as they are.
    ///
    /// # Errors
    /// `lives.reading_step` unless the step is above 0 and finite.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// let rows = Rows { low: vec![450.0, 600.0], high: vec![450.0, f64::INFINITY], ..Rows::default() };
    /// let read = Tally::from_rows(&rows)?.0.read_exact(1.0)?;
    /// assert_eq!((read.low(), read.high()), (&[449.0, 600.0][..], &[450.0, f64::INFINITY][..]));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn read_exact(&self, step_hours: f64) -> Result<Tally> {
        if !(step_hours > 0.0 && step_hours < f64::INFINITY) {
            let problem = Problem::new("lives.reading_step", "not a step of a meter")
                .at(Place::input("step_hours"))
                .got(step_hours)
                .expected("hours above 0");
            return Err(Error::new(Kind::Input, problem));
        }
        let read = self.each_row().map(|mut row| {
            if row.low == row.high {
                row.low = (row.high - step_hours).max(row.entry);
            }
            row
        });
        Ok(from_any_order(read.collect(), self.groups.clone(), &self.covariates))
    }
}
