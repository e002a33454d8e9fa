//! Hour cells: a number with or without a unit.

use super::{Cell, HoursUnit, NumberFault, NumberFormat, fold, number};

/// Why a cell gives no hours.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum HoursFault {
    /// The number cannot be read.
    Number(NumberFault),
    /// The cell names another unit than the one declared.
    Unit(HoursUnit),
}

impl HoursUnit {
    /// The plain word.
    pub fn as_str(self) -> &'static str {
        match self {
            HoursUnit::Hours => "hours",
            HoursUnit::Minutes => "minutes",
        }
    }

    fn of_word(word: &str) -> Option<Self> {
        match word {
            "h" | "hr" | "hrs" | "hour" | "hours" | "std" | "stunde" | "stunden" => Some(HoursUnit::Hours),
            "min" | "mins" | "minute" | "minutes" | "minuten" => Some(HoursUnit::Minutes),
            _ => None,
        }
    }
}

/// Hours in a cell; none where blank. A unit after the number must be the declared one.
pub(crate) fn hours(cell: Cell<'_>, format: NumberFormat, unit: HoursUnit) -> Result<Option<f64>, HoursFault> {
    let value = match cell {
        Cell::Text(text) if text.ends_with(|c: char| c.is_alphabetic() || c == '.') => {
            let digits = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '.');
            let word = fold(text.get(digits.len()..).unwrap_or("").trim_matches('.'));
            let Some(named) = HoursUnit::of_word(&word) else {
                return Err(HoursFault::Number(NumberFault::NotANumber));
            };
            let value = number(digits.trim_end(), format).map_err(HoursFault::Number)?;
            if named != unit {
                return Err(HoursFault::Unit(named));
            }
            Some(value)
        }
        other => other.number(format).map_err(HoursFault::Number)?,
    };
    Ok(value.map(|v| if unit == HoursUnit::Minutes { v / 60.0 } else { v }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_must_be_the_declared_one() {
        let read = |text, unit| hours(Cell::Text(text), NumberFormat::default(), unit);
        assert_eq!(read("1234 h", HoursUnit::Hours), Ok(Some(1234.0)));
        assert_eq!(read("1234 Std.", HoursUnit::Hours), Ok(Some(1234.0)));
        assert_eq!(read("90min", HoursUnit::Minutes), Ok(Some(1.5)));
        assert_eq!(read("90 min", HoursUnit::Hours), Err(HoursFault::Unit(HoursUnit::Minutes)));
        assert!(matches!(read("ca. 1 500", HoursUnit::Hours), Err(HoursFault::Number(_))));
        assert!(matches!(read("12 kW", HoursUnit::Hours), Err(HoursFault::Number(_))));
        assert!(matches!(read("1234.", HoursUnit::Hours), Err(HoursFault::Number(_))));
        assert!(matches!(read("inf", HoursUnit::Hours), Err(HoursFault::Number(_))));
        assert_eq!(hours(Cell::Blank, NumberFormat::default(), HoursUnit::Hours), Ok(None));
    }
}
