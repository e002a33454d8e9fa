//! Hours burned from successive meter readings.

use crate::base::error::{Error, Kind, Place, Problem, Result};

/// What a fall in the readings means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Falls {
    /// An error: a typing error or an undeclared reset.
    #[default]
    Refused,
    /// The meter was set back; the hours between the last reading and the reset are not known.
    Resets,
}

/// Hours burned over successive readings of one meter; at least so many where resets are declared.
///
/// # Formula
/// The sum of the differences between neighbours that do not fall.
///
/// # Errors
/// `records.reading_not_finite` and `records.reading_negative`; `records.meter_backward` where a reading is less than
/// the one before it and falls are refused. All at once, each with its row.
///
/// # Examples
/// ```
/// use relamp::records::{Falls, hours_burned};
/// assert_eq!(hours_burned("A", &[100.0, 500.0, 50.0, 420.0], Falls::Resets)?, 770.0); // 400 + 370
/// assert!(hours_burned("A", &[100.0, 500.0, 50.0, 420.0], Falls::Refused).is_err());
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn hours_burned(lamp: &str, readings: &[f64], falls: Falls) -> Result<f64> {
    let mut problems = Vec::new();
    let mut burned = 0.0;
    let mut before: Option<f64> = None;
    for (i, &reading) in readings.iter().enumerate() {
        let place = Place::input(lamp).row(i as u64 + 1).column("reading");
        if !reading.is_finite() {
            let problem = Problem::new("records.reading_not_finite", "a meter reading is not a finite number");
            problems.push(problem.at(place).got(reading));
            continue;
        }
        if reading < 0.0 {
            let problem = Problem::new("records.reading_negative", "a meter reading is negative");
            problems.push(problem.at(place).got(reading).expected("0 or more"));
            continue;
        }
        match before {
            Some(earlier) if reading >= earlier => burned += reading - earlier,
            Some(earlier) if falls == Falls::Refused => {
                let what = "the meter ran backward: the reading is less than the one before, an undeclared reset or a typing error";
                let problem = Problem::new("records.meter_backward", what).at(place);
                problems.push(problem.got(reading).expected(format!("at least {earlier}")));
            }
            _ => {}
        }
        before = Some(reading);
    }
    if problems.is_empty() { Ok(burned) } else { Err(Error::many(Kind::Input, problems)) }
}
