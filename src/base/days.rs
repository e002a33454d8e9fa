//! How far ahead anything looks.

/// Most days ahead, of a forecast, of a lead time and of whatever else runs in days: a little more than 20 years of 365.25
/// days, so that 240 months fit in.
pub const MOST_DAYS: f64 = MOST_WHOLE_DAYS as f64;

/// The same as a whole number.
pub const MOST_WHOLE_DAYS: u16 = 7310;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::figure::counted;

    /// Errors and docstrings say it as it is.
    #[test]
    fn the_days_that_texts_tell_are_the_days_in_force() {
        assert_eq!(counted(u64::from(MOST_WHOLE_DAYS), "day"), "7,310 days");
        const { assert!(MOST_DAYS >= 240.0 * 365.25 / 12.0) };
    }
}
