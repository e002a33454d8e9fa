//! Figures inside sentences: commas between thousands, and nouns that agree with their counts.

/// Size from which a figure is written with an exponent: a float then holds no unit of it.
const HUGE: f64 = 1e15;

/// A figure rounded to whole units, with a comma between thousands.
///
/// # Examples
/// ```
/// use relamp::base::figure::whole;
/// assert_eq!(whole(1e300), "1.000e300");
/// assert_eq!(whole(2_493.4), "2,493");
/// assert_eq!(whole(-1_000_000.0), "-1,000,000");
/// assert_eq!(whole(0.4), "0");
/// assert_eq!(whole(f64::INFINITY), "inf");
/// ```
#[must_use]
pub fn whole(x: f64) -> String {
    if x.abs() >= HUGE && x.is_finite() {
        return format!("{x:.3e}");
    }
    // A rounded zero has no sign.
    grouped(&format!("{:.0}", if x.abs() < 0.5 { 0.0 } else { x }))
}

/// Hours in full, as a meter counts them: rounded down, with a comma between thousands. Every figure of hours that a
/// reader sees whole goes through here, so that one quantity reads the same everywhere and no age is rounded up past a
/// limit.
///
/// # Examples
/// ```
/// use relamp::base::figure::full_hours;
/// assert_eq!(full_hours(558.8), "558");
/// assert_eq!(full_hours(2_961.8 - 2_900.8), "61");
/// assert_eq!(full_hours(1e10), "10,000,000,000");
/// assert_eq!(full_hours(-0.2), "-1");
/// ```
#[must_use]
pub fn full_hours(x: f64) -> String {
    // A difference of meter readings must not lose an hour in its last bit.
    whole((x + 1e-9 * x.abs().clamp(1.0, 1e6)).floor())
}

/// Hours with the digits that a meter shows, at most six behind the point, and a comma between thousands.
///
/// # Examples
/// ```
/// use relamp::base::figure::hours;
/// assert_eq!(hours(12_436.7), "12,436.7");
/// assert_eq!(hours(-1_894.6), "-1,894.6");
/// assert_eq!(hours(2_961.8 - 2_900.0), "61.8");
/// ```
#[must_use]
pub fn hours(x: f64) -> String {
    if x.abs() >= HUGE && x.is_finite() {
        return format!("{x:.3e}");
    }
    // A difference of meter readings carries no more digits than they do.
    let rounded = (x * 1e6).round() / 1e6;
    grouped(&if rounded == 0.0 { 0.0 } else { rounded }.to_string())
}

/// A figure of any size in the digits that a reader can use: four significant ones, whole from 1,000 on.
///
/// # Examples
/// ```
/// use relamp::base::figure::short;
/// assert_eq!((short(13_878.101), short(25.714_3), short(0.001_762_2)), ("13,878".into(), "25.71".into(), "0.001762".into()));
/// assert_eq!((short(0.0), short(2.0), short(1.0e-9)), ("0".into(), "2".into(), "1.000e-9".into()));
/// ```
#[must_use]
pub fn short(x: f64) -> String {
    let size = x.abs();
    if size >= 1000.0 || size == 0.0 {
        return whole(x);
    }
    if size < 1e-4 || !x.is_finite() {
        return format!("{x:.3e}");
    }
    let digits = (3.0 - size.log10().floor()).max(0.0) as usize;
    let text = format!("{x:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A chance as a reader takes it: percent to one digit, with a chance that is not quite none or all told apart from both.
///
/// # Examples
/// ```
/// use relamp::base::figure::percent;
/// assert_eq!((percent(0.301_3), percent(0.000_2), percent(0.999_9)), ("30.1 %".into(), "under 0.1 %".into(), "over 99.9 %".into()));
/// assert_eq!((percent(0.0), percent(1.0)), ("0.0 %".into(), "100.0 %".into()));
/// ```
#[must_use]
pub fn percent(p: f64) -> String {
    let text = format!("{:.1}", 100.0 * p);
    match text.as_str() {
        "100.0" if p < 1.0 => "over 99.9 %".to_owned(),
        "0.0" if p > 0.0 => "under 0.1 %".to_owned(),
        _ => format!("{text} %"),
    }
}

/// A share as it stands in a table: whole percent, with a digit more below a tenth and above nine tenths.
///
/// # Examples
/// ```
/// use relamp::base::figure::share;
/// assert_eq!((share(0.55), share(0.015), share(0.000_4)), ("55 %".into(), "1.5 %".into(), "under 0.1 %".into()));
/// assert_eq!((share(0.0), share(0.999_6), share(1.0)), ("0 %".into(), "over 99.9 %".into(), "100 %".into()));
/// ```
#[must_use]
pub fn share(p: f64) -> String {
    let hundredths = 100.0 * p;
    if p > 0.0 && p < 0.001 {
        "under 0.1 %".to_owned()
    } else if p > 0.999 && p < 1.0 {
        "over 99.9 %".to_owned()
    } else if (10.0..=90.0).contains(&hundredths) || (hundredths - hundredths.round()).abs() < 1e-9 {
        format!("{hundredths:.0} %")
    } else {
        format!("{hundredths:.1} %")
    }
}

/// A mean number, to a tenth; one above 0 never reads as none, but what rounding alone leaves does.
///
/// # Examples
/// ```
/// use relamp::base::figure::tenths;
/// assert_eq!((tenths(5.981), tenths(14.0), tenths(0.04)), ("6".into(), "14".into(), "under 0.1".into()));
/// assert_eq!((tenths(0.0), tenths(1e-15), tenths(1234.56)), ("0".into(), "0".into(), "1,235".into()));
/// ```
#[must_use]
pub fn tenths(x: f64) -> String {
    let rounded = (x * 10.0).round() / 10.0;
    if rounded == 0.0 && x > 1e-9 { "under 0.1".to_owned() } else { short(rounded) }
}

/// A count and its noun.
///
/// # Examples
/// ```
/// use relamp::base::figure::counted;
/// assert_eq!(counted(1, "lamp"), "1 lamp");
/// assert_eq!(counted(2_000, "burning lamp"), "2,000 burning lamps");
/// assert_eq!(counted(0, "entry"), "0 entries");
/// assert_eq!((counted(3, "day"), counted(2, "month"), counted(5, "search")), ("3 days".into(), "2 months".into(), "5 searches".into()));
/// ```
#[must_use]
pub fn counted(n: u64, noun: &str) -> String {
    if n == 1 {
        return format!("1 {noun}");
    }
    let number = grouped(&n.to_string());
    match noun.strip_suffix('y').filter(|stem| !stem.ends_with(['a', 'e', 'o', 'u'])) {
        Some(stem) => format!("{number} {stem}ies"),
        None if ["ch", "sh", "s", "x"].iter().any(|end| noun.ends_with(end)) => format!("{number} {noun}es"),
        None => format!("{number} {noun}s"),
    }
}

/// The word that goes with a count: the first for one, the second for none or several.
///
/// # Examples
/// ```
/// use relamp::base::figure::{counted, fitting};
/// let said = |n| format!("{} {} too few", counted(n, "failure"), fitting(n, "is", "are"));
/// assert_eq!((said(1), said(2)), ("1 failure is too few".to_owned(), "2 failures are too few".to_owned()));
/// ```
#[must_use]
pub fn fitting<'a>(n: u64, one: &'a str, several: &'a str) -> &'a str {
    if n == 1 { one } else { several }
}

/// Commas between the thousands of a number as written.
fn grouped(number: &str) -> String {
    let (before, point) = number.split_at(number.find('.').unwrap_or(number.len()));
    let (sign, digits) = before.split_at(before.len() - before.trim_start_matches('-').len());
    if !digits.bytes().all(|b| b.is_ascii_digit()) {
        return number.to_owned();
    }
    let mut out = sign.to_owned();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out + point
}
