//! Numbers in text: our own decimal reader, strict where number parsers are lenient.

use std::fmt;

use super::word::packed;

/// How numbers are written, as declared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NumberFormat {
    /// Decimal sign.
    pub decimal: char,
    /// Thousands separator, if one is used.
    pub thousands: Option<char>,
}

impl Default for NumberFormat {
    /// A decimal point and no thousands separator.
    fn default() -> Self {
        Self { decimal: '.', thousands: None }
    }
}

/// Why a text is not a number under the declared convention.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NumberFault {
    /// Not a number at all.
    NotANumber,
    /// A number under another convention; the text says which.
    OtherConvention(String),
    /// A number that reads two ways as nothing was declared; both readings.
    TwoReadings(String, String),
    /// Too large, or too small, to be held.
    OutOfRange,
}

impl fmt::Display for NumberFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NumberFault::NotANumber => f.write_str("not a number"),
            NumberFault::OtherConvention(which) => write!(f, "not a number as declared: {which}"),
            NumberFault::TwoReadings(a, b) => write!(f, "reads as {a} or as {b}; declare the thousands separator"),
            NumberFault::OutOfRange => f.write_str("a number out of range"),
        }
    }
}

/// A number from text.
///
/// Accepted: an optional sign, digits in groups of three if a thousands separator is declared, the declared decimal
/// sign with digits on both sides, and an exponent. Words such as `nan` and `inf`, hexadecimal, and values that
/// overflow or vanish are refused.
///
/// # Errors
/// A [`NumberFault`]; where the text reads two ways, with both readings.
///
/// # Examples
/// ```
/// use relamp::records::{NumberFormat, number};
/// let german = NumberFormat { decimal: ',', thousands: Some('.') };
/// assert_eq!(number("1.234,5", german), Ok(1234.5));
/// assert!(number("1,234", NumberFormat::default()).is_err());
/// assert!(number("inf", NumberFormat::default()).is_err());
/// ```
pub fn number(text: &str, format: NumberFormat) -> Result<f64, NumberFault> {
    if let Some(value) = whole(text.as_bytes()) {
        return Ok(value);
    }
    if let Some(value) = broken(text.as_bytes(), format.decimal) {
        return Ok(value);
    }
    let Some(plain) = normalise(text, format) else { return Err(fault(text, format)) };
    let value: f64 = plain.parse().map_err(|_| NumberFault::NotANumber)?;
    let mantissa = plain.split('e').next().unwrap_or("");
    let vanished = value == 0.0 && mantissa.bytes().any(|b| (b'1'..=b'9').contains(&b));
    if value.is_finite() && !vanished { Ok(value) } else { Err(NumberFault::OutOfRange) }
}

/// A number of the common cases, from the bytes of its text.
#[inline]
pub(super) fn common(text: &[u8], decimal: char) -> Option<f64> {
    whole(text).or_else(|| broken(text, decimal))
}

/// The common case without a copy: up to 15 plain digits are exact.
#[inline]
pub(super) fn whole(text: &[u8]) -> Option<f64> {
    if let (1..=8, Some(eight)) = (text.len(), text.first_chunk::<8>().copied().or_else(|| short(text))) {
        return eight_digits(u64::from_le_bytes(eight));
    }
    if text.is_empty() || text.len() > 15 || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    Some(text.iter().fold(0_u64, |sum, d| sum * 10 + u64::from(d - b'0')) as f64)
}

/// Up to seven digits with zeros before them.
#[inline]
fn short(text: &[u8]) -> Option<[u8; 8]> {
    let missing = 8_usize.checked_sub(text.len()).filter(|m| *m < 8)?;
    Some((((packed(text) as u64) << (8 * missing)) | (0x3030_3030_3030_3030 >> (8 * text.len()))).to_le_bytes())
}

/// Eight digits at once: neighbours become pairs, pairs fours, fours the number.
#[inline]
fn eight_digits(text: u64) -> Option<f64> {
    let x = text ^ 0x3030_3030_3030_3030;
    if (x.wrapping_add(0x7676_7676_7676_7676) | x) & 0x8080_8080_8080_8080 != 0 {
        return None;
    }
    let pairs = (x.wrapping_mul(10 * 0x100 + 1) >> 8) & 0x00FF_00FF_00FF_00FF;
    let fours = (pairs.wrapping_mul(100 * 0x1_0000 + 1) >> 16) & 0x0000_FFFF_0000_FFFF;
    Some((fours.wrapping_mul(10_000 * 0x1_0000_0000 + 1) >> 32) as f64)
}

/// Powers of ten that are exact.
const TENS: [f64; 16] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// The next common case: up to 15 digits with a decimal sign among them. Both parts of the quotient are exact, so it is
/// the nearest number to the text, as the general way gives.
fn broken(text: &[u8], decimal: char) -> Option<f64> {
    let sign = u8::try_from(decimal).ok().filter(u8::is_ascii_punctuation)?;
    let at = text.iter().position(|b| *b == sign)?;
    let (whole, fraction) = (text.get(..at)?, text.get(at + 1..)?);
    let digits = |part: &[u8]| !part.is_empty() && part.iter().all(u8::is_ascii_digit);
    if text.len() > 16 || !digits(whole) || !digits(fraction) {
        return None;
    }
    let all = whole.iter().chain(fraction).fold(0_u64, |sum, d| sum * 10 + u64::from(d - b'0'));
    Some(all as f64 / TENS.get(fraction.len())?)
}

fn is_space(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}')
}

/// A declared space stands for the non-breaking and narrow ones that spreadsheets write.
fn is_separator(c: char, declared: Option<char>) -> bool {
    declared.is_some_and(|d| c == d || (is_space(c) && is_space(d)))
}

/// The number as `[-]digits[.digits][e[-]digits]`, or none if the text does not follow the convention.
fn normalise(text: &str, format: NumberFormat) -> Option<String> {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    if let Some(tail) = rest.strip_prefix('+') {
        rest = tail;
    } else if let Some(tail) = rest.strip_prefix(['-', '\u{2212}']) {
        out.push('-');
        rest = tail;
    }
    let (mantissa, exponent) = match rest.find(['e', 'E']) {
        Some(at) => (rest.get(..at)?, Some(rest.get(at + 1..)?)),
        None => (rest, None),
    };
    let (whole, fraction) = match mantissa.split_once(format.decimal) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (mantissa, None),
    };
    push_whole(whole, format.thousands, &mut out)?;
    if let Some(fraction) = fraction {
        out.push('.');
        push_digits(fraction, &mut out)?;
    }
    if let Some(exponent) = exponent {
        out.push('e');
        let digits = match exponent.strip_prefix('-') {
            Some(digits) => {
                out.push('-');
                digits
            }
            None => exponent.strip_prefix('+').unwrap_or(exponent),
        };
        push_digits(digits, &mut out)?;
    }
    Some(out)
}

fn push_digits(text: &str, out: &mut String) -> Option<()> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    out.push_str(text);
    Some(())
}

fn push_whole(text: &str, thousands: Option<char>, out: &mut String) -> Option<()> {
    if !text.contains(|c| is_separator(c, thousands)) {
        return push_digits(text, out);
    }
    for (i, part) in text.split(|c| is_separator(c, thousands)).enumerate() {
        let fits = if i == 0 { (1..=3).contains(&part.len()) } else { part.len() == 3 };
        if !fits {
            return None;
        }
        push_digits(part, out)?;
    }
    Some(())
}

/// Says how a refused text would read under the conventions in use elsewhere.
fn fault(text: &str, format: NumberFormat) -> NumberFault {
    let readings: Vec<(f64, NumberFormat)> = [('.', None), ('.', Some(',')), (',', None), (',', Some('.'))]
        .into_iter()
        .chain([('.', Some(' ')), (',', Some(' ')), ('.', Some('\'')), (',', Some('\''))])
        .map(|(decimal, thousands)| NumberFormat { decimal, thousands })
        .filter_map(|f| {
            let value: f64 = normalise(text, f)?.parse().ok()?;
            value.is_finite().then_some((value, f))
        })
        .collect();
    let Some(&(first, how)) = readings.first() else { return NumberFault::NotANumber };
    let other = readings.iter().find(|r| r.0 != first);
    match other {
        Some(&(other, _)) if format.thousands.is_none() => {
            NumberFault::TwoReadings(first.min(other).to_string(), first.max(other).to_string())
        }
        _ => {
            let thousands = how.thousands.map_or_else(String::new, |c| format!(" and thousands separator '{c}'"));
            NumberFault::OtherConvention(format!("it reads as {first} with decimal sign '{}'{thousands}", how.decimal))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINT: NumberFormat = NumberFormat { decimal: '.', thousands: None };
    const COMMA: NumberFormat = NumberFormat { decimal: ',', thousands: None };
    const ENGLISH: NumberFormat = NumberFormat { decimal: '.', thousands: Some(',') };
    const GERMAN: NumberFormat = NumberFormat { decimal: ',', thousands: Some('.') };

    #[test]
    fn declared_conventions_are_read() {
        assert_eq!(number("1234.5", POINT), Ok(1234.5));
        assert_eq!(number("1234,5", COMMA), Ok(1234.5));
        assert_eq!(number("1,234,567.25", ENGLISH), Ok(1_234_567.25));
        assert_eq!(number("1.234.567,25", GERMAN), Ok(1_234_567.25));
        assert_eq!(number("-12", POINT), Ok(-12.0));
        assert_eq!(number("\u{2212}12", POINT), Ok(-12.0));
        assert_eq!(number("1.5e+3", POINT), Ok(1500.0));
        let spaced = NumberFormat { decimal: ',', thousands: Some(' ') };
        assert_eq!(number("12\u{202f}345,5", spaced), Ok(12345.5));
        assert_eq!(number("12345,5", spaced), Ok(12345.5));
    }

    #[test]
    fn the_common_cases_give_the_bits_of_the_general_one() {
        let mut n: u64 = 1;
        for digits in (2..=15).cycle().take(50_000) {
            n = n.wrapping_mul(0x5851_F42D_4C95_7F2D).wrapping_add(1);
            let text = format!("{:0digits$}", (n >> 8) % 10_u64.pow(digits as u32));
            let at = 1 + (n >> 3) as usize % (digits - 1);
            let text = format!("{}.{}", &text[..at], &text[at..]);
            assert_eq!(broken(text.as_bytes(), '.').map(f64::to_bits), Some(text.parse::<f64>().unwrap().to_bits()));
            assert_eq!(number(&text.replace('.', ","), COMMA), Ok(text.parse().unwrap()));
        }
    }

    #[test]
    fn plain_digits_are_read_whatever_their_number() {
        let mut n: u64 = 1;
        for digits in (1..=17).cycle().take(5_000) {
            n = n.wrapping_mul(0x5851_F42D_4C95_7F2D).wrapping_add(1);
            let text = format!("{:0digits$}", (n >> 8) % 10_u64.pow(digits as u32));
            assert_eq!(whole(text.as_bytes()), (digits <= 15).then(|| text.parse().unwrap()));
            let at = (n >> 3) as usize % digits;
            for with in [":", "/", " ", "\u{0}", "a", "\u{b0}"] {
                let text = format!("{}{with}{}", &text[..at], &text[at + 1..]);
                assert_eq!(whole(text.as_bytes()), None, "{text}");
            }
        }
        assert_eq!(whole(b""), None);
    }

    #[test]
    fn words_hexadecimal_and_overflow_are_refused() {
        for text in [
            "", "nan", "NaN", "inf", "-inf", "Infinity", "0x10", "1e400", "1e-400", "1_000", "--1", ".", "1.", ".5",
            "e5", "1e",
        ] {
            assert!(number(text, POINT).is_err(), "{text}");
        }
        assert_eq!(number("1e400", POINT), Err(NumberFault::OutOfRange));
        assert_eq!(number("0e-400", POINT), Ok(0.0));
    }

    #[test]
    fn two_readings_are_both_named() {
        let two = NumberFault::TwoReadings("1.234".into(), "1234".into());
        assert_eq!(number("1,234", POINT), Err(two.clone()));
        assert_eq!(number("1.234", COMMA), Err(two));
        assert_eq!(number("1.234", POINT), Ok(1.234));
        assert!(matches!(number("1,5", POINT), Err(NumberFault::OtherConvention(_))));
        assert!(matches!(number("1,234.5", POINT), Err(NumberFault::OtherConvention(_))));
        assert!(matches!(number("1.5", GERMAN), Err(NumberFault::OtherConvention(_))));
    }

    #[test]
    fn groups_must_have_three_digits() {
        for text in ["1,23", "1234,567", ",123", "1,2345", "1,,234", "1.234,5"] {
            assert!(number(text, ENGLISH).is_err(), "{text}");
        }
    }
}
