//! Figures inside sentences.

/// A figure rounded to whole units, with a comma between thousands.
///
/// # Examples
/// ```
/// use relamp::base::figure::whole;
/// assert_eq!(whole(2_493.4), "2,493");
/// assert_eq!(whole(-1_000_000.0), "-1,000,000");
/// assert_eq!(whole(0.4), "0");
/// assert_eq!(whole(f64::INFINITY), "inf");
/// ```
#[must_use]
pub fn whole(x: f64) -> String {
    let text = format!("{:.0}", x.abs());
    let mut out = String::new();
    if x.is_finite() && x < 0.0 && text != "0" || x == f64::NEG_INFINITY {
        out.push('-');
    }
    for (i, digit) in text.chars().enumerate() {
        if i > 0 && x.is_finite() && (text.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}
