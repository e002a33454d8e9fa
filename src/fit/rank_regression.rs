//! Median-rank regression: a straight line through plotting positions, for small samples.

use serde::{Deserialize, Serialize};

use super::model::{Note, check_family};
use super::plot_scale::{PlotScale, plot_scale};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure;
use crate::base::math::sum::pairwise;
use crate::base::sound::{Checks, Sound};
use crate::empirical::{PlottingPositions, PositionRule, plotting_positions};
use crate::family::{Family, Life, family};
use crate::lives::Tally;
use crate::records::Ending;

/// Which distances to the line are made small.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RegressionOn {
    /// Those along age (x on y): ages are what scatters, ranks are known. What IEC 61649 asks for.
    #[default]
    Age,
    /// Those along the failed share (y on x).
    Share,
}

/// A life read off a straight line through plotting positions. It holds the points, no covariance and no intervals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RankFit {
    family: String,
    parameters: Vec<f64>,
    /// Squared correlation of the points.
    r_squared: f64,
    regression_on: RegressionOn,
    points: PlottingPositions,
    notes: Vec<Note>,
}

impl Sound for RankFit {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        let made = family.life(&self.parameters);
        c.need(
            "parameters",
            made.is_ok(),
            format!("{:?}", self.parameters),
            format!("those of a {} life", self.family),
        );
        c.share("r_squared", self.r_squared);
        c.part("points", &self.points);
        // The line is drawn again through the points, which have been found in order.
        let Some(scale) = plot_scale(family) else {
            return c.need("family", false, &self.family, "a family whose lives are straight lines");
        };
        let (parameters, r_squared) = line(&self.family, scale, &self.points, self.regression_on);
        for (i, (got, made)) in self.parameters.iter().zip(parameters).enumerate() {
            c.equal(&format!("parameters[{i}]"), *got, made);
        }
        c.equal("r_squared", self.r_squared, r_squared);
    }
}

/// Fits a life by regression through the median ranks of the failures, for families that are a straight line on some
/// scale of age and share.
///
/// # Formula
/// ```text
/// x = ln age, or age for the normal, logistic and smallest extreme value; F plotting positions
/// y = ln(-ln(1 - F)) for exponential, Weibull and smallest extreme value; normal quantile of F for normal and lognormal;
///     ln(F / (1 - F)) for logistic and log-logistic
/// on age:   x = mean x + (Sxy / Syy) (y - mean y)
/// on share: y = mean y + (Sxy / Sxx) (x - mean x)
/// Weibull, log-logistic: shape = dy/dx, ln scale = x at y = 0
/// the others:            scale = dx/dy, location = x at y = 0
/// exponential:           the slope is 1, so ln scale = mean x - mean y whatever is made small
/// r_squared = Sxy^2 / (Sxx Syy)
/// ```
/// Ranks are adjusted for right-censored lamps by [`plotting_positions`].
///
/// # Arguments
/// `endings`: those that count as failure; failures by another ending are right-censored. None: all failures count.
///
/// # Errors
/// Those of [`plotting_positions`] and [`Tally::for_endings`]; `fit.rank_family` for another family; refused:
/// `fit.rank_one_age` for fewer than two distinct ages at failure; `fit.exact_age_zero`.
///
/// # Source
/// IEC 61649 (median-rank regression, from memory); ranks as [`plotting_positions`].
///
/// # Examples
/// ```
/// use relamp::empirical::PositionRule;
/// use relamp::family::family;
/// use relamp::fit::{RegressionOn, rank_regression};
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let line = rank_regression(family("weibull")?, &tally, None, PositionRule::Median, RegressionOn::Age)?;
/// assert!(line.r_squared() > 0.98);
/// assert!(line.parameter("shape").is_some_and(|shape| shape > 2.0 && shape < 3.0));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn rank_regression(
    family: &dyn Family,
    tally: &Tally,
    endings: Option<&[Ending]>,
    rule: PositionRule,
    on: RegressionOn,
) -> Result<RankFit> {
    let Some(scale) = plot_scale(family) else {
        let problem = Problem::new("fit.rank_family", "the lives of this family are no straight lines on any scale")
            .at(Place::input("family"))
            .got(family.name())
            .expected("a family with a location and a scale, such as weibull or lognormal");
        return Err(Error::new(Kind::Input, problem));
    };
    let counted = endings.map(|e| tally.for_endings(e)).transpose()?;
    let points = plotting_positions(counted.as_ref().unwrap_or(tally), rule)?;
    if scale.log_age && points.ages.first() == Some(&0.0) {
        let problem = Problem::new("fit.exact_age_zero", "a failure at exactly 0 hours cannot enter a fit")
            .at(Place::input("tally").column("low"))
            .got(0.0)
            .expected("an age above 0");
        return Err(Error::new(Kind::Refused, problem));
    }
    if points.ages.first() == points.ages.last() {
        let problem = Problem::new("fit.rank_one_age", "a line needs failures at two ages or more")
            .at(Place::input("tally"))
            .got(format!("{} at one age", figure::counted(points.ages.len() as u64, "failure")));
        return Err(Error::new(Kind::Refused, problem));
    }
    let (parameters, r_squared) = line(family.name(), scale, &points, on);
    family.coordinates(&parameters)?;
    let notes = vec![Note::new(
        "fit.rank_regression",
        "read off a line through median ranks: maximum likelihood uses censored lamps better and gives intervals",
    )];
    Ok(RankFit { family: family.name().to_owned(), parameters, r_squared, regression_on: on, points, notes })
}

/// Parameters of the line through the points, and their squared correlation.
fn line(family: &str, scale: PlotScale, points: &PlottingPositions, on: RegressionOn) -> (Vec<f64>, f64) {
    let x: Vec<f64> = points.ages.iter().map(|age| scale.of_age(*age)).collect();
    let y: Vec<f64> = points.positions.iter().map(|p| scale.of_share(*p)).collect();
    let n = x.len() as f64;
    let (mean_x, mean_y) = (pairwise(&x) / n, pairwise(&y) / n);
    let product = |a: &[f64], from_a: f64, b: &[f64], from_b: f64| {
        pairwise(&a.iter().zip(b).map(|(a, b)| (a - from_a) * (b - from_b)).collect::<Vec<_>>())
    };
    let (sxx, syy) = (product(&x, mean_x, &x, mean_x), product(&y, mean_y, &y, mean_y));
    let sxy = product(&x, mean_x, &y, mean_y);
    // Ages per step of y on the line.
    let spread = if on == RegressionOn::Age { sxy / syy } else { sxx / sxy };
    let location = mean_x - spread * mean_y;
    let parameters = match family {
        "exponential" => vec![(mean_x - mean_y).exp()],
        "weibull" | "log_logistic" => vec![1.0 / spread, location.exp()],
        _ => vec![location, spread],
    };
    (parameters, sxy * sxy / (sxx * syy))
}

impl RankFit {
    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// Parameters with their names, in the order of the family.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let names = family(&self.family).map_or(&[][..], Family::parameter_names);
        names.iter().copied().zip(self.parameters.iter().copied()).collect()
    }

    /// One parameter by name, such as `shape`; none if the family has no such parameter.
    pub fn parameter(&self, name: &str) -> Option<f64> {
        self.parameters().into_iter().find(|(n, _)| *n == name).map(|(_, v)| v)
    }

    /// Squared correlation of the points on the scales of the plot: 1 for points on a line.
    pub fn r_squared(&self) -> f64 {
        self.r_squared
    }

    /// Which distances were made small.
    pub fn regression_on(&self) -> RegressionOn {
        self.regression_on
    }

    /// The points.
    pub fn points(&self) -> &PlottingPositions {
        &self.points
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The life on the line.
    ///
    /// # Errors
    /// `family.unknown` or `family.parameter` for a saved fit that was changed by hand.
    pub fn life(&self) -> Result<Box<dyn Life>> {
        let family = family(&self.family)?;
        family.at(&family.coordinates(&self.parameters)?)
    }
}
