//! Coordinates of a probability plot: the product-limit points with their bands, on the scales of a family.

use serde::{Deserialize, Serialize};

use super::model::{Fit, check_family};
use super::plot_scale::{PlotScale, plot_scale};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};
use crate::empirical::{Curve, simultaneous_band};
use crate::family::{Family, family as family_of};

/// One failure age on the plot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlotPoint {
    /// Age, hours.
    pub age: f64,
    /// Failed share plotted there: the middle of the step.
    pub share: f64,
    /// Horizontal place.
    pub x: f64,
    /// Vertical place.
    pub y: f64,
    /// Failed share after the step, lower and upper end at this age alone; none where the curve is 0.
    pub pointwise: Option<(f64, f64)>,
    /// The same for all ages together.
    pub simultaneous: Option<(f64, f64)>,
}

/// A probability plot in numbers. A life of the family is a straight line on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProbabilityPlot {
    /// Name of the family.
    pub family: String,
    /// The scales; none where a fitted life makes its own.
    pub scale: Option<PlotScale>,
    /// Parameters of the fitted life whose quantiles are the vertical scale; empty where the family has scales.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parameters: Vec<f64>,
    /// Points, by age.
    pub points: Vec<PlotPoint>,
    /// Level of both bands.
    pub level: f64,
    /// Standard errors to either side of the simultaneous band.
    pub simultaneous_factor: f64,
    /// How the bands were made.
    pub band_method: String,
}

impl Sound for ProbabilityPlot {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        c.follows("scale", &self.scale, &plot_scale(family));
        c.entries("parameters", self.parameters.len(), if self.scale.is_none() { family.width() } else { 0 });
        let mut before = 0.0;
        for (i, point) in self.points.iter().enumerate() {
            c.ends(&format!("points[{i}].share"), before, point.share);
            before = point.share;
            c.equal(&format!("points[{i}].x"), point.x, self.of_age(point.age));
            c.equal(&format!("points[{i}].y"), point.y, self.of_share(point.share).unwrap_or(f64::NAN));
        }
        c.need("points", !self.points.is_empty(), "no point", "one for each age at failure");
        c.rising("points", &self.points.iter().map(|p| p.age).collect::<Vec<_>>(), false);
        c.parts("points", &self.points);
        c.level("level", self.level);
        c.positive("simultaneous_factor", self.simultaneous_factor);
    }
}

impl Sound for PlotPoint {
    fn check(&self, c: &mut Checks) {
        c.share("share", self.share);
        for (field, band) in [("pointwise", self.pointwise), ("simultaneous", self.simultaneous)] {
            c.share(field, band.map(|b| b.0));
            c.share(field, band.map(|b| b.1));
            c.ends(field, band.map(|b| b.0), band.map(|b| b.1));
        }
    }
}

/// Puts a product-limit curve on the scales on which the lives of a family are straight lines.
///
/// # Formula
/// ```text
/// share = 1 - (R before the step + R after it) / 2
/// y     = quantile of the standard distribution at share
/// x     = ln age, or age
/// ```
/// Standard distribution: smallest extreme value (exponential, Weibull), normal (lognormal), logistic. The bands are those
/// of R after the step on the scale of asin(sqrt R): at one age at a time, and Nair's equal-precision band.
///
/// # Errors
/// `fit.plot_family` for a family that is no straight line on any such scale; `fit.plot_no_failures`; `fit.plot_age` for a
/// failure at age 0 on a logarithmic scale; `fit.plot_given_survival` for a curve that does not start from new;
/// `empirical.simultaneous_level`.
///
/// # Source
/// Points: Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 6.4; bands:
/// [`crate::empirical::simultaneous_band`]. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, product_limit};
/// use relamp::family::family;
/// use relamp::fit::probability_plot;
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let curve = product_limit(&tally, &CurveOptions::default())?;
/// let plot = probability_plot(&curve, family("weibull")?)?;
/// assert!((plot.points[0].share - 0.1).abs() < 1e-15); // the middle of 0 and 1/5
/// assert_eq!(plot.points[0].x, 310f64.ln());
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn probability_plot(curve: &Curve, family: &dyn Family) -> Result<ProbabilityPlot> {
    let Some(scale) = plot_scale(family) else {
        let problem = Problem::new("fit.plot_family", "the lives of this family are no straight lines on any scale")
            .at(Place::input("family"))
            .got(family.name())
            .expected("a family with a location and a scale, such as weibull or lognormal");
        let hint = "give a fit of this family, which has a plot of its own: `fitted_plot(curve, fit)`, in Python \
                    `probability_plot(curve, fit=fit)`";
        return Err(Error::new(Kind::Input, problem).with_hint(hint));
    };
    placed(curve, family.name(), Some(scale), &[])
}

/// Puts a product-limit curve on the scales on which one fitted life is a straight line, for any family.
///
/// # Formula
/// ```text
/// x = ln age,  y = ln of the age by which the fitted life has failed with that share
/// ```
/// The fitted life is the diagonal. A family with a location and a scale keeps the scales of [`probability_plot`].
///
/// # Errors
/// Those of [`probability_plot`] but `fit.plot_family`; `fit.plot_share` for a share that the life never reaches.
///
/// # Source
/// Quantile plots: M. B. Wilk and R. Gnanadesikan (1968), Biometrika 55, 1-17. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::empirical::{CurveOptions, product_limit};
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, fit, fitted_plot};
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let fit = fit(family("gamma")?, &tally, &FitOptions::default(), &Run::new())?;
/// let plot = fitted_plot(&product_limit(&tally, &CurveOptions::default())?, &fit)?;
/// let median = fit.life()?.quantile(0.5)?;
/// assert!((plot.of_share(0.5)? - median.ln()).abs() < 1e-12 && (plot.of_age(median) - median.ln()).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn fitted_plot(curve: &Curve, fit: &Fit) -> Result<ProbabilityPlot> {
    let parameters: Vec<f64> = fit.parameters_at_maximum().iter().map(|p| p.1).collect();
    match plot_scale(fit.family()?) {
        Some(scale) => placed(curve, fit.family_name(), Some(scale), &[]),
        None => placed(curve, fit.family_name(), None, &parameters),
    }
}

impl ProbabilityPlot {
    /// Horizontal place of an age: its logarithm, or the age, as the scales have it.
    pub fn of_age(&self, age: f64) -> f64 {
        self.scale.map_or_else(|| age.ln(), |scale| scale.of_age(age))
    }

    /// Vertical place of a failed share; infinite at 0 and 1, and past what the life reaches.
    ///
    /// # Errors
    /// `family.unknown` or `family.parameter` for a saved plot that was changed by hand; `family.share` for no share.
    pub fn of_share(&self, share: f64) -> Result<f64> {
        match self.scale {
            Some(scale) => Ok(scale.of_share(share)),
            None => Ok(family_of(&self.family)?.life(&self.parameters)?.quantile(share)?.ln()),
        }
    }
}

fn placed(curve: &Curve, name: &str, scale: Option<PlotScale>, parameters: &[f64]) -> Result<ProbabilityPlot> {
    let refused = |slug, what: &str, got: String| Error::new(Kind::Refused, Problem::new(slug, what).got(got));
    let Some(&youngest) = curve.ages().first() else {
        return Err(refused("fit.plot_no_failures", "no failures, so no points", counted(curve.lamps(), "lamp")));
    };
    if scale.is_none_or(|s| s.log_age) && !(youngest > 0.0) {
        return Err(refused("fit.plot_age", "age 0 has no place on a logarithmic scale", youngest.to_string()));
    }
    if curve.conditional_from() > 0.0 {
        let what = "a curve given survival to a later age has no failed share from new";
        return Err(refused("fit.plot_given_survival", what, format!("{} h", curve.conditional_from())));
    }
    let band = simultaneous_band(curve)?;
    let failed = |b: Option<(f64, f64)>| b.map(|(low, high)| (1.0 - high, 1.0 - low));
    let mut plot = ProbabilityPlot {
        family: name.to_owned(),
        scale,
        parameters: parameters.to_vec(),
        points: Vec::with_capacity(curve.ages().len()),
        level: curve.level(),
        simultaneous_factor: band.factor,
        band_method: "asin(sqrt R) scale: at one age at a time, and equal-precision along the curve".to_owned(),
    };
    let mut before = 1.0;
    let steps = curve.ages().iter().zip(curve.reliability()).zip(&band.at_one_age).zip(&band.each);
    for (((&age, &after), pointwise), simultaneous) in steps {
        let share = 1.0 - f64::midpoint(before, after);
        before = after;
        let y = plot.of_share(share)?;
        if !y.is_finite() {
            let what = "the fitted life never reaches this share, so the point has no place on its scale";
            return Err(refused("fit.plot_share", what, format!("a share of {share} at {age} h")));
        }
        let (x, pointwise, simultaneous) = (plot.of_age(age), failed(*pointwise), failed(*simultaneous));
        plot.points.push(PlotPoint { age, share, x, y, pointwise, simultaneous });
    }
    Ok(plot)
}
