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
    if let Some(day) = common(text.as_bytes(), order) {
        return day;
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

/// The common cases at once: as in 2025-12-31, or 31.12.2025 with the declared order.
#[inline]
pub(super) fn common(text: &[u8], order: Option<DateOrder>) -> Option<Result<NaiveDate, DateFault>> {
    let (first, last) = (*text.first_chunk::<8>()?, *text.last_chunk::<2>()?);
    if text.len() != 10 {
        return None;
    }
    let (first, last) = (u64::from_le_bytes(first), u16::from_le_bytes(last));
    let two = |x: u64, at: u32| 10 * ((x >> at) as u32 & 15) + ((x >> (at + 8)) as u32 & 15);
    let last = digits(u64::from(last), 0x3030, 0x7676)?;
    match order {
        Some(DateOrder::Iso) | None => {
            let x = digits(first, 0x2D30_302D_3030_3030, 0x7F76_767F_7676_7676)?;
            Some(make(100 * two(x, 0) + two(x, 16), two(x, 40), two(last, 0)))
        }
        Some(order) => {
            let sign = (first >> 16) & 0xFF;
            if !matches!(sign as u8, b'-' | b'/' | b'.') {
                return None;
            }
            let x = digits(first, 0x3030_0030_3000_3030 | (sign << 16) | (sign << 40), 0x7676_7F76_767F_7676)?;
            let (a, b, year) = (two(x, 0), two(x, 24), 100 * two(x, 48) + two(last, 0));
            Some(if order == DateOrder::DayFirst { make(year, b, a) } else { make(year, a, b) })
        }
    }
}

/// Bytes without their pattern, where each of what is left lies below a limit; `short` is 128 less the limit of each.
#[inline]
fn digits(bytes: u64, pattern: u64, short: u64) -> Option<u64> {
    let x = bytes ^ pattern;
    // What a byte too large carries into the next one does no harm: it is refused itself.
    ((x.wrapping_add(short) | x) & 0x8080_8080_8080_8080 == 0).then_some(x)
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

    /// What the common cases take is what the general way makes of it.
    #[test]
    fn the_common_cases_are_those_of_the_general_way() {
        let general = |text: &str, order| date(&format!("{text} 12:00"), order);
        let orders = DateOrder::ALL.map(Some).into_iter().chain([None]);
        let texts = ["2024-02-29", "2023-02-29", "0012-01-01", "12.11.2019", "12/11/2019", "31-12-1999", "13.13.2013"];
        for order in orders {
            for text in texts {
                for at in 0..10 {
                    for with in ['0', '1', '9', '/', ':', '.', '-', ' ', 'x', '\u{0}', '\u{7f}'] {
                        let text: String =
                            text.chars().enumerate().map(|(i, c)| if i == at { with } else { c }).collect();
                        if let Some(found) = common(text.as_bytes(), order) {
                            assert_eq!(found, general(&text, order), "{text} {order:?}");
                        }
                    }
                }
            }
            let plain = texts.iter().filter(|t| common(t.as_bytes(), order).is_some()).count();
            assert_eq!(plain, if matches!(order, Some(DateOrder::Iso) | None) { 3 } else { 4 });
        }
        assert_eq!(common("2024-02-2\u{b2}".as_bytes(), None), None);
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
