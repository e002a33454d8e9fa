//! Dates in text, by the declared order only.

use std::fmt;

use chrono::{NaiveDate, NaiveTime};

use super::DateOrder;

/// Why a text is not a date under the declared order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DateFault {
    /// Not a date in the declared order.
    NotADate,
    /// The year has two digits.
    TwoDigitYear,
    /// Reads two ways as no order was declared; both readings.
    TwoReadings(NaiveDate, NaiveDate),
    /// A bare number, as a spreadsheet keeps dates.
    SerialNumber,
}

impl fmt::Display for DateFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DateFault::NotADate => f.write_str("no day of the calendar in the declared order"),
            DateFault::TwoDigitYear => f.write_str("a date whose year has two digits"),
            DateFault::TwoReadings(a, b) => {
                write!(f, "an ambiguous date: reads as {a} (day first) or as {b} (month first); declare the format")
            }
            DateFault::SerialNumber => f.write_str("a bare number where a date should be"),
        }
    }
}

/// A date from text. A time of day after it is checked and dropped.
///
/// # Errors
/// A [`DateFault`]; without a declared order, a date that reads two ways is refused with both readings.
///
/// # Examples
/// ```
/// use relamp::records::{DateOrder, date};
/// let day = date("03/04/2024", Some(DateOrder::DayFirst)).unwrap();
/// assert_eq!(day.to_string(), "2024-04-03");
/// assert!(date("03/04/2024", None).is_err());
/// ```
pub fn date(text: &str, order: Option<DateOrder>) -> Result<NaiveDate, DateFault> {
    if let Some([year, month, day]) = common(text.as_bytes())
        && matches!(order, Some(DateOrder::Iso) | None)
    {
        return make(year, month, day);
    }
    let day = match text.find(['T', ' ']) {
        Some(at) => {
            let (day, time) = text.split_at(at);
            let time = time.get(1..).unwrap_or("").trim();
            let known = ["%H:%M", "%H:%M:%S", "%H:%M:%S%.f"];
            if !known.iter().any(|f| NaiveTime::parse_from_str(time, f).is_ok()) {
                return Err(DateFault::NotADate);
            }
            day
        }
        None => text,
    };
    let Some(parts) = split(day) else {
        let bare = !day.is_empty() && day.bytes().all(|b| b.is_ascii_digit());
        return Err(if bare { DateFault::SerialNumber } else { DateFault::NotADate });
    };
    let year_first = parts.digits[0] == 4;
    if year_first {
        let iso = matches!(order, Some(DateOrder::Iso) | None) && parts.separator != b'.';
        return if iso { make(parts.number[0], parts.number[1], parts.number[2]) } else { Err(DateFault::NotADate) };
    }
    if parts.digits[2] == 2 && order != Some(DateOrder::Iso) {
        return Err(DateFault::TwoDigitYear);
    }
    if parts.digits[2] != 4 {
        return Err(if parts.digits[0] == 2 { DateFault::TwoDigitYear } else { DateFault::NotADate });
    }
    let day_first = make(parts.number[2], parts.number[1], parts.number[0]);
    let month_first = make(parts.number[2], parts.number[0], parts.number[1]);
    match order {
        Some(DateOrder::DayFirst) => day_first,
        Some(DateOrder::MonthFirst) => month_first,
        Some(DateOrder::Iso) => Err(DateFault::NotADate),
        None => match (day_first, month_first) {
            (Ok(a), Ok(b)) if a != b => Err(DateFault::TwoReadings(a, b)),
            (Ok(day), _) | (_, Ok(day)) => Ok(day),
            _ => Err(DateFault::NotADate),
        },
    }
}

/// The common case at once: year, month and day as in 2025-12-31.
#[inline]
fn common(text: &[u8]) -> Option<[u32; 3]> {
    let &[y0, y1, y2, y3, b'-', m0, m1, b'-', d0, d1] = text else { return None };
    if ![y0, y1, y2, y3, m0, m1, d0, d1].iter().all(u8::is_ascii_digit) {
        return None;
    }
    let two = |a: u8, b: u8| 10 * u32::from(a & 15) + u32::from(b & 15);
    Some([100 * two(y0, y1) + two(y2, y3), two(m0, m1), two(d0, d1)])
}

struct Parts {
    number: [u32; 3],
    digits: [usize; 3],
    separator: u8,
}

/// Three whole numbers of at most four digits with one separator between.
fn split(text: &str) -> Option<Parts> {
    let mut parts = Parts { number: [0; 3], digits: [0; 3], separator: 0 };
    let mut at = 0;
    for &b in text.as_bytes() {
        if b.is_ascii_digit() {
            let digits = parts.digits.get_mut(at)?;
            *digits += 1;
            if *digits > 4 {
                return None;
            }
            let number = parts.number.get_mut(at)?;
            *number = *number * 10 + u32::from(b - b'0');
        } else if matches!(b, b'-' | b'/' | b'.') && (at == 0 || b == parts.separator) {
            parts.separator = b;
            at += 1;
        } else {
            return None;
        }
    }
    let outer = parts.digits[0] == 4 || parts.digits[2] == 4 || parts.digits[2] == 2;
    (at == 2 && outer && (1..=2).contains(&parts.digits[1]) && parts.digits[0] > 0).then_some(parts)
}

fn make(year: u32, month: u32, day: u32) -> Result<NaiveDate, DateFault> {
    let year = i32::try_from(year).map_err(|_| DateFault::NotADate)?;
    if !(1900..2200).contains(&year) {
        return Err(DateFault::NotADate);
    }
    NaiveDate::from_ymd_opt(year, month, day).ok_or(DateFault::NotADate)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).unwrap()
    }

    #[test]
    fn the_declared_order_decides() {
        assert_eq!(date("31.12.2025", Some(DateOrder::DayFirst)), Ok(day(2025, 12, 31)));
        assert_eq!(date("3-4-2024", Some(DateOrder::DayFirst)), Ok(day(2024, 4, 3)));
        assert_eq!(date("03/04/2024", Some(DateOrder::MonthFirst)), Ok(day(2024, 3, 4)));
        assert_eq!(date("2024-02-29", Some(DateOrder::Iso)), Ok(day(2024, 2, 29)));
        assert_eq!(date("2024-02-29 13:45", Some(DateOrder::Iso)), Ok(day(2024, 2, 29)));
        assert_eq!(date("14/09/2018", Some(DateOrder::MonthFirst)), Err(DateFault::NotADate));
        assert_eq!(date("2024-02-29", Some(DateOrder::DayFirst)), Err(DateFault::NotADate));
        assert_eq!(date("31.12.2025", Some(DateOrder::Iso)), Err(DateFault::NotADate));
    }

    #[test]
    fn undeclared_dates_must_read_one_way() {
        assert_eq!(date("03/04/2024", None), Err(DateFault::TwoReadings(day(2024, 4, 3), day(2024, 3, 4))));
        assert_eq!(date("14/09/2018", None), Ok(day(2018, 9, 14)));
        assert_eq!(date("04/04/2024", None), Ok(day(2024, 4, 4)));
        assert_eq!(date("2024-03-04", None), Ok(day(2024, 3, 4)));
    }

    #[test]
    fn two_digit_years_and_other_texts_are_refused() {
        assert_eq!(date("03.04.24", Some(DateOrder::DayFirst)), Err(DateFault::TwoDigitYear));
        assert_eq!(date("24-04-03", Some(DateOrder::Iso)), Err(DateFault::TwoDigitYear));
        assert_eq!(date("45321", Some(DateOrder::Iso)), Err(DateFault::SerialNumber));
        for text in [
            "",
            "2024-02-30",
            "2024-13-01",
            "2024-1",
            "1-2-3-2024",
            "soon",
            "0000-01-01",
            "2024-01-01 25:00",
            "T",
            "2024--01",
        ] {
            assert!(date(text, Some(DateOrder::Iso)).is_err(), "{text}");
        }
    }
}
