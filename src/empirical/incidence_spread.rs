//! How sure an incidence is: its variance, and bands by the scales of a curve.

use super::band::BandScale;
use super::incidence::Incidence;
use super::steps::check_level;
use crate::base::error::Result;
use crate::base::math::special::normal_quantile;
use crate::records::Ending;

/// Ends of a band at each step; none where there is none.
type Band = Vec<Option<(f64, f64)>>;

impl Incidence {
    /// Standard error of the incidence of a cause at each step, `(steps,)`; 0 before its first failure, none for a cause
    /// not seen.
    ///
    /// # Formula
    /// ```text
    /// variance of I(t) = sum over a <= t of   (I(t) - I(a))^2 d / (n (n - d))
    ///                                       + R(a-)^2 d_c (n - d_c) / n^3
    ///                                       - 2 (I(t) - I(a)) R(a-) d_c / n^2
    /// ```
    /// The delta method for the product of transition shares: at each age the failures by cause among the n lamps at risk
    /// are a multinomial draw. d: failures by every cause; `d_c`: by this one; R(a-): reliability just before a. The first
    /// term is 0 where n = d, as nothing is left after it. With a single cause it is the variance of the product-limit
    /// curve, without censoring I (1 - I) over the lamps.
    ///
    /// # Source
    /// O. O. Aalen (1978), Scand. J. Statist. 5, 141-150 and Annals of Statistics 6, 534-545; written out by this delta
    /// method in E. Marubini and M. G. Valsecchi (1995), Analysing Survival Data, chapter 10. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::{CurveOptions, incidence};
    /// use relamp::lives::{Rows, Tally};
    /// use relamp::records::Ending;
    /// let ages = vec![10.0, 20.0, 30.0, 40.0];
    /// let ending = Some(vec![Ending::Burst, Ending::Dim, Ending::Burst, Ending::Dim]);
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ending, ..Rows::default() })?;
    /// let curves = incidence(&tally, &CurveOptions::default())?;
    /// let error = curves.standard_error(Ending::Burst).unwrap();
    /// assert!((error[3] - 0.25).abs() < 1e-12); // half of 4 lamps: sqrt(0.5 x 0.5 / 4)
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn standard_error(&self, ending: Ending) -> Option<Vec<f64>> {
        let cause = self.causes.iter().find(|c| c.ending == ending)?;
        // With every rise of I the squares and products of I(t) - I(a) grow by what was summed before: no difference of
        // large numbers is taken.
        let (mut weights, mut firsts, mut squares) = (0.0, 0.0, 0.0);
        let (mut pulls, mut products, mut own) = (0.0, 0.0, 0.0);
        let (mut before, mut incidence) = (1.0, 0.0);
        let mut out = Vec::with_capacity(self.ages.len());
        for j in 0..self.ages.len() {
            let d: u64 = self.causes.iter().filter_map(|c| c.failures.get(j)).sum();
            let (n, d, by) = (self.at_risk[j] as f64, d as f64, cause.failures[j] as f64);
            let rise = cause.incidence[j] - incidence;
            squares += rise * (2.0 * firsts + rise * weights);
            firsts += rise * weights;
            products += rise * pulls;
            if n > d {
                weights += d / (n * (n - d));
            }
            pulls += before * by / (n * n);
            own += before * before * by * (n - by) / (n * n * n);
            (before, incidence) = (self.reliability[j], cause.incidence[j]);
            out.push((squares + own - 2.0 * products).max(0.0).sqrt());
        }
        Some(out)
    }

    /// Lower and upper end of the band of the incidence of a cause at each step, `(steps,)`; none for a cause not seen,
    /// and at steps where the incidence is 0 or 1.
    ///
    /// The scale is taken of the share that has *not* failed by the cause, 1 - I: with a single cause the band is that of
    /// the product-limit curve, turned over.
    ///
    /// # Errors
    /// `empirical.level` for a level that is not inside (0, 1).
    pub fn band(&self, ending: Ending, level: f64, scale: BandScale) -> Result<Option<Band>> {
        check_level(level)?;
        let z = normal_quantile(f64::midpoint(1.0, level));
        let Some(errors) = self.standard_error(ending) else { return Ok(None) };
        let Some(cause) = self.causes.iter().find(|c| c.ending == ending) else { return Ok(None) };
        let ends = |(&incidence, error): (&f64, f64)| {
            let free = 1.0 - incidence;
            if !(incidence > 0.0 && free > 1e-12) {
                return None;
            }
            let (low, high) = scale.ends(free, error / free, z);
            Some((1.0 - high, 1.0 - low))
        };
        Ok(Some(cause.incidence.iter().zip(errors).map(ends).collect()))
    }

    /// Lower and upper end of the band of the incidence of a cause by an age; none where the incidence is not known or 0 or 1.
    ///
    /// # Errors
    /// `empirical.level` for a level that is not inside (0, 1).
    pub fn band_at(&self, ending: Ending, age: f64, level: f64, scale: BandScale) -> Result<Option<(f64, f64)>> {
        Ok(self.band(ending, level, scale)?.and_then(|band| self.within(&band, ending, age)))
    }

    /// What a band of a cause says at an age.
    pub(crate) fn within(&self, band: &[Option<(f64, f64)>], ending: Ending, age: f64) -> Option<(f64, f64)> {
        self.incidence_at(ending, age)?;
        let step = self.ages.partition_point(|a| *a <= age).checked_sub(1)?;
        band.get(step).copied().flatten()
    }
}
