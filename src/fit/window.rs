//! What records that show failures only do tell: how failures lie within the window in which they would have been seen.

use serde::{Deserialize, Serialize};

use super::identified::Identified;
use super::interval::{Interval, IntervalMethod, Sides, critical};
use super::model::{AT_LIMIT, Fit, Note, check_family};
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use super::target::{Function, Scale};
use super::window_reach::Border;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::full_hours;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::Life;
use crate::lives::Tally;

/// Share of the failures within a window that come by an age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WindowShare {
    /// Age, hours.
    pub age: f64,
    /// Share of the failures by the end of the window that come by this age.
    pub share: f64,
    /// Lower end of its interval; none where the fit has no spread.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

/// The life of lamps within a window: that of the lamps that fail by its end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WindowedLife {
    /// Name of the family.
    pub family: String,
    /// End of the window, hours.
    pub upper_hours: f64,
    /// Shares by age, in the order asked for.
    pub shares: Vec<WindowShare>,
    /// Level of the intervals.
    pub level: f64,
    /// How the intervals were made.
    #[serde(default = "by_curvature")]
    pub method: IntervalMethod,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

/// Files of before the method was kept were all made so.
fn by_curvature() -> IntervalMethod {
    IntervalMethod::Wald
}

impl Sound for WindowedLife {
    fn check(&self, c: &mut Checks) {
        check_family(c, &self.family);
        c.positive("upper_hours", self.upper_hours);
        c.level("level", self.level);
        for (i, s) in self.shares.iter().enumerate() {
            c.age(&format!("shares[{i}].age"), s.age, self.upper_hours);
            c.share(&format!("shares[{i}].share"), s.share);
            c.share(&format!("shares[{i}].low"), s.low);
            c.share(&format!("shares[{i}].high"), s.high);
            c.ends(&format!("shares[{i}].high"), s.low, s.high);
        }
    }
}

/// F(age) / F(upper), in logarithms: both may be far below what a float holds.
fn share(life: &dyn Life, age: f64, upper: f64) -> f64 {
    (life.ln_failure_probability(age) - life.ln_failure_probability(upper)).exp()
}

impl Fit {
    /// The share of the failures by the end of a window that come by each age, with intervals from the curvature.
    ///
    /// Records that show failures only, such as files of claims, settle this even where they do not settle how many lamps
    /// fail: any life with the same course inside the window explains them as well. With the number of lamps shipped
    /// ([`crate::lives::Tally::with_shipped`]) the whole life is settled.
    ///
    /// # Formula
    /// ```text
    /// share(t) = F(t) / F(upper),  interval on the scale of ln(share / (1 - share))
    /// ```
    ///
    /// # Arguments
    /// `upper_hours`: end of the window, above 0. `ages`: ages above 0 and below it, `(n,)`, hours. `level`: such as 0.95.
    ///
    /// # Errors
    /// `fit.window` for a window or an age outside it, each by place; `fit.level`.
    ///
    /// # Source
    /// Right truncation: J. D. Kalbfleisch and J. F. Lawless (1988), Applied Statistics 37, 385-396, on field failures
    /// that are known only once they happen. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, fit};
    /// use relamp::lives::{Rows, Tally};
    /// // Claims of lamps in their first 1,000 h: nothing is known of those that did not fail.
    /// let ages: Vec<f64> = (1..=40).map(|i| 1000.0 * (f64::from(i) / 40.5).powf(0.6)).collect();
    /// let upper = Some(vec![1000.0; 40]);
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, upper, ..Rows::default() })?;
    /// let fit = fit(family("weibull")?, &tally, &FitOptions::default(), &Run::new())?;
    /// let half = &fit.within_window(1000.0, &[500.0], 0.95)?.shares[0];
    /// assert!(half.low.unwrap() < half.share && half.share < half.high.unwrap());
    /// assert!((half.share - 0.315).abs() < 0.03); // 0.5 to the power of 1 / 0.6
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn within_window(&self, upper_hours: f64, ages: &[f64], level: f64) -> Result<WindowedLife> {
        let mut out = self.shares_within(upper_hours, ages, level, IntervalMethod::Wald, |asked| {
            let Interval { low, high, .. } = self.wald_within(asked, level, Sides::Both)?;
            // In a limit where nothing is left to move the curvature is 0, which is no certainty.
            Ok(if low.is_some() && low == high { (None, None) } else { (low, high) })
        })?;
        if self.limit.is_some() {
            let text = "the fit stands in a limit of its family, to one side of which alone the records leave room: ends by \
                        curvature leave that out, `within_window_profile` does not";
            out.notes.push(Note::new(AT_LIMIT, text));
        }
        Ok(out)
    }

    /// The same with intervals by profile likelihood, which hold for few failures too and where the curvature of a
    /// parameter that the records do not settle is no guide.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted. The others as for [`Fit::within_window`].
    ///
    /// # Numerics
    /// With one or two parameters of which the records leave one open, or where the search that follows the share runs out,
    /// the ends are the lowest and highest share on the border of the lives that are likely enough, walked out to the limit.
    ///
    /// # Errors
    /// Those of [`Fit::within_window`], and `fit.other_data` if the tally is not the fitted one.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages: Vec<f64> = (1..=40).map(|i| 1000.0 * (f64::from(i) / 40.5).powf(0.6)).collect();
    /// let upper = Some(vec![1000.0; 40]);
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, upper, ..Rows::default() })?;
    /// let (options, run) = (FitOptions::default(), Run::new());
    /// let fit = fit(family("weibull")?, &tally, &options, &run)?;
    /// let window = fit.within_window_profile(&tally, &options, 1000.0, &[500.0], 0.95, &run)?;
    /// let half = &window.shares[0];
    /// assert!(half.low.unwrap() < half.share && half.share < half.high.unwrap());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn within_window_profile(
        &self,
        tally: &Tally,
        options: &FitOptions,
        upper_hours: f64,
        ages: &[f64],
        level: f64,
        run: &Run,
    ) -> Result<WindowedLife> {
        let method = IntervalMethod::ProfileLikelihood;
        let family = self.family()?;
        let z = critical(level, Sides::Both)?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        self.same_data(&engine)?;
        let walked = self.limit().and_then(|name| family.parameter_names().iter().position(|n| *n == name));
        // A search that follows the share runs out along a parameter that the records do not settle.
        let open = self.limit.is_some() || self.identified.iter().any(|mark| mark.identified != Identified::Yes);
        let ends = |asked: &Function| {
            let figure = |x: &[f64]| (asked.of)(family.at(x)?.as_ref(), &family.parameters(x));
            let border = Border {
                engine: &engine,
                family,
                figure: &figure,
                floor: self.log_likelihood - 0.5 * z * z,
                iterations: options.iterations,
                run,
                walked: walked.unwrap_or(family.anchor()),
            };
            let reach = || border.reach(&self.coordinates).map(|found| found.map(|r| (Some(r.low), Some(r.high))));
            if open && let Some(ends) = reach()? {
                return Ok(ends);
            }
            match self.profile_of(tally, options, asked, level, Sides::Both, run) {
                Ok(Interval { low: Some(low), high: Some(high), .. }) => Ok((Some(low), Some(high))),
                Ok(found) => Ok(reach()?.unwrap_or((found.low, found.high))),
                Err(error) if error.kind() == Kind::Refused => reach()?.ok_or(error),
                Err(error) => Err(error),
            }
        };
        let mut out = self.shares_within(upper_hours, ages, level, method, ends)?;
        if self.limit.is_some() {
            let text = "the fit stands in a limit of its family: the shares are those of the limit, and their ends take in the \
                        lives to the one side of it that the records leave";
            out.notes.push(Note::new(AT_LIMIT, text));
        }
        Ok(out)
    }

    fn shares_within(
        &self,
        upper_hours: f64,
        ages: &[f64],
        level: f64,
        method: IntervalMethod,
        ends: impl Fn(&Function) -> Result<(Option<f64>, Option<f64>)>,
    ) -> Result<WindowedLife> {
        let wrong = |place: Place, got: f64, expected: &str| {
            Problem::new("fit.window", "not an age within a window").at(place).got(got).expected(expected)
        };
        if !(upper_hours > 0.0 && upper_hours < f64::INFINITY) {
            let problem = wrong(Place::input("upper_hours"), upper_hours, "finite hours above 0");
            return Err(Error::new(Kind::Input, problem));
        }
        let outside: Vec<Problem> = ages
            .iter()
            .enumerate()
            .filter(|(_, age)| !(**age > 0.0 && **age < upper_hours))
            .map(|(i, age)| {
                let expected = format!("hours above 0 and below {upper_hours}");
                wrong(Place::input("ages").row(i as u64 + 1), *age, &expected)
            })
            .collect();
        if !outside.is_empty() {
            return Err(Error::many(Kind::Input, outside));
        }
        let life = self.life_at_maximum()?;
        let mut shares = Vec::with_capacity(ages.len());
        let (mut no_spread, mut open) = (false, false);
        for &age in ages {
            let of = |life: &dyn Life, _: &[f64]| Ok(share(life, age, upper_hours));
            let asked = Function { name: format!("share by {age} h"), of: &of, scale: Scale::Share };
            let (low, high) = match ends(&asked) {
                Ok(ends) => ends,
                Err(error) if error.kind() == Kind::Refused => {
                    no_spread = true;
                    (None, None)
                }
                Err(error) => return Err(error),
            };
            open |= low.is_none() || high.is_none();
            shares.push(WindowShare { age, share: share(life.as_ref(), age, upper_hours), low, high });
        }
        let mut notes = Vec::new();
        if no_spread {
            let text = "the fit has no finite spread here: these shares have no interval";
            notes.push(Note::new("fit.no_spread", text));
        }
        if open && !no_spread {
            notes.push(Note::new("fit.open_end", "an end that is not there is open: the records do not bound it"));
        }
        if upper_hours > self.facts.oldest_failure_hours.max(self.facts.oldest_at_risk_hours) {
            let oldest = self.facts.oldest_failure_hours;
            let text = format!(
                "the window ends past the oldest lamp seen ({} h): that part is the family's opinion",
                full_hours(oldest)
            );
            notes.push(Note::new("fit.extrapolated", text));
        }
        Ok(WindowedLife { family: self.family.clone(), upper_hours, shares, level, method, notes })
    }
}
