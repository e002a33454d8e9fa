//! Percentiles of draws, one definition for every interval.

/// The value that a share `p` of the draws' distribution does not pass, linear between neighbours.
///
/// # Formula
/// ```text
/// the value of rank p (n + 1), held to the smallest and the largest
/// ```
/// The ends of an interval from the ranks `p (n + 1)` and `(1 - p)(n + 1)` hold a further draw with chance `1 - 2 p`
/// whatever the number of draws; ranks counted from `p (n - 1)` hold it less often, by 1.9 % at 100 draws and 95 %.
///
/// # Arguments
/// `ascending`: sorted values without NaN; `p`: share in 0 to 1.
///
/// # Returns
/// None without values.
///
/// # Source
/// A. C. Davison and D. V. Hinkley (1997), Bootstrap Methods and their Application, section 5.2: the ends are the
/// (R + 1) p-th ordered values. From memory.
///
/// # Examples
/// ```
/// use relamp::base::math::percentile::percentile;
/// let values: Vec<f64> = (1..=39).map(f64::from).collect();
/// assert_eq!(percentile(&values, 0.025), Some(1.0));
/// assert_eq!(percentile(&values, 0.5), Some(20.0));
/// assert_eq!(percentile(&values, 0.975), Some(39.0));
/// assert_eq!(percentile(&[], 0.5), None);
/// ```
#[must_use]
pub fn percentile(ascending: &[f64], p: f64) -> Option<f64> {
    let last = ascending.len().checked_sub(1)?;
    let place = (p * (ascending.len() as f64 + 1.0) - 1.0).clamp(0.0, last as f64);
    let below = place.floor();
    let low = *ascending.get(below as usize)?;
    let high = ascending.get(below as usize + 1).copied().unwrap_or(low);
    // Equal neighbours and whole ranks stay as they are, infinities among them.
    Some(if low == high || place == below { low } else { low + (place - below) * (high - low) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_further_draw_falls_inside_as_often_as_the_level_says() {
        // For even draws the chance between two ranks is their distance over n + 1.
        for n in [40_usize, 100, 400] {
            let values: Vec<f64> = (1..=n).map(|i| i as f64 / (n as f64 + 1.0)).collect();
            let (low, high) = (percentile(&values, 0.025).unwrap(), percentile(&values, 0.975).unwrap());
            assert!((high - low - 0.95).abs() < 1e-12, "{n}");
        }
    }

    #[test]
    fn few_values_are_held_to_their_ends_and_infinities_stay() {
        assert_eq!(percentile(&[3.0], 0.025), Some(3.0));
        assert_eq!(percentile(&[1.0, 2.0], 0.999), Some(2.0));
        assert_eq!(percentile(&[1.0, f64::INFINITY, f64::INFINITY], 0.9), Some(f64::INFINITY));
        assert_eq!(percentile(&[1.0, f64::INFINITY], 1.0 / 3.0), Some(1.0));
    }
}
