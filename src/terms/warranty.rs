//! Money back from the maker for a lamp that fails early.

use serde::{Deserialize, Serialize};

use super::costs::LARGEST_AMOUNT;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// How the money back falls with age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WarrantyForm {
    /// The whole price up to the end.
    Full,
    /// The price times the share of the printed hours that the lamp did not burn.
    ProRata,
    /// A share of the price for each stretch of ages.
    Stepped(Vec<WarrantyStep>),
}

/// One stretch of a stepped warranty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WarrantyStep {
    /// The share holds for failures below this age, hours.
    pub below_hours: f64,
    /// Share of the price that comes back, 0 to 1.
    pub share: f64,
}

/// Money back that depends on the age at failure.
///
/// # Formula
/// ```text
/// full      price                      while age < end
/// pro rata  price (1 - age / hours)    while age < end
/// stepped   price share                of the first step with age < below_hours
/// ```
/// `hours` are those printed; the `end` is the same unless the calendar ends the warranty earlier
/// ([`Warranty::within_calendar`]). From the end on nothing comes back, and a failure at the end itself counts as late:
/// what a claim at the last hour brings is not counted on.
///
/// # Examples
/// ```
/// use relamp::records::Ending;
/// use relamp::terms::Warranty;
/// let warranty = Warranty::pro_rata(1000.0, 2000.0, [Ending::Burst])?;
/// assert_eq!(warranty.credit(500.0), 750.0);
/// assert_eq!(warranty.credit(2000.0), 0.0);
/// // Eight hours a day for 150 days end it at 1,200 h.
/// let dated = warranty.within_calendar(150.0, 56.0)?;
/// assert_eq!((dated.credit(1000.0), dated.credit(1200.0)), (500.0, 0.0));
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct Warranty {
    price: f64,
    hours: f64,
    end_hours: f64,
    form: WarrantyForm,
    endings: Vec<Ending>,
}

// Its constructors are its only doors, for a saved form too.
impl Sound for Warranty {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    price: f64,
    hours: f64,
    end_hours: f64,
    form: WarrantyForm,
    endings: Vec<Ending>,
}

impl TryFrom<Raw> for Warranty {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        let Raw { price, hours, end_hours, form, endings } = raw;
        let made = Self { price, hours, end_hours, form, endings };
        let problems = made.problems();
        if problems.is_empty() { Ok(made) } else { Err(Error::many(Kind::Input, problems)) }
    }
}

impl Warranty {
    /// The whole price back for a failure before an age.
    ///
    /// # Errors
    /// All at once: `terms.warranty_price` unless the price is finite, above 0 and at most 1e12, `terms.warranty_hours`
    /// unless the hours are finite and at least 1, `terms.warranty_endings` where no ending is covered, one twice, or one
    /// that is no failure.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::Warranty;
    /// let warranty = Warranty::full(780.0, 500.0, [Ending::Burst, Ending::Seal])?;
    /// assert_eq!((warranty.credit(499.0), warranty.credit(500.0)), (780.0, 0.0));
    /// assert_eq!(Warranty::full(-1.0, 0.0, []).unwrap_err().problems().len(), 3);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn full(price: f64, hours: f64, endings: impl IntoIterator<Item = Ending>) -> Result<Self> {
        Self::made(price, hours, WarrantyForm::Full, endings)
    }

    /// The price back in the share of the printed hours that the lamp did not burn.
    ///
    /// # Errors
    /// Those of [`Warranty::full`].
    pub fn pro_rata(price: f64, hours: f64, endings: impl IntoIterator<Item = Ending>) -> Result<Self> {
        Self::made(price, hours, WarrantyForm::ProRata, endings)
    }

    /// A share of the price back for each stretch of ages, the first step first.
    ///
    /// # Errors
    /// Those of [`Warranty::full`], and `terms.warranty_steps` unless there are steps, their ages rise, and their shares
    /// lie in 0 to 1 and do not rise.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{Warranty, WarrantyStep};
    /// let step = |below_hours, share| WarrantyStep { below_hours, share };
    /// let warranty = Warranty::stepped(800.0, [step(250.0, 1.0), step(1000.0, 0.5)], [Ending::Seal])?;
    /// assert_eq!((warranty.credit(249.0), warranty.credit(250.0), warranty.credit(1000.0)), (800.0, 400.0, 0.0));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn stepped(
        price: f64,
        steps: impl IntoIterator<Item = WarrantyStep>,
        endings: impl IntoIterator<Item = Ending>,
    ) -> Result<Self> {
        let steps: Vec<WarrantyStep> = steps.into_iter().collect();
        let hours = steps.last().map_or(f64::NAN, |s| s.below_hours);
        Self::made(price, hours, WarrantyForm::Stepped(steps), endings)
    }

    fn made(price: f64, hours: f64, form: WarrantyForm, endings: impl IntoIterator<Item = Ending>) -> Result<Self> {
        Raw { price, hours, end_hours: hours, form, endings: endings.into_iter().collect() }.try_into()
    }

    /// The same warranty where the calendar may end it before the hours do, in a screen that burns at an even pace.
    ///
    /// # Errors
    /// `terms.warranty_calendar` unless the days and the hours a week are finite and above 0, at most 168 hours a week,
    /// and they come to an hour at least.
    pub fn within_calendar(&self, days: f64, hours_per_week: f64) -> Result<Self> {
        let end = days * hours_per_week / 7.0;
        let sound = days > 0.0 && days.is_finite() && hours_per_week > 0.0 && hours_per_week <= 168.0 && end >= 1.0;
        if !sound {
            let what = "a calendar end of a warranty needs days and hours a week";
            let problem = Problem::new("terms.warranty_calendar", what)
                .at(Place::input("warranty").column("days"))
                .got(format!("days {days}, hours a week {hours_per_week}"))
                .expected("finite days above 0, and above 0 to 168 h a week, together at least 1 h");
            return Err(Error::new(Kind::Input, problem));
        }
        Ok(Self { end_hours: self.end_hours.min(end), ..self.clone() })
    }

    fn problems(&self) -> Vec<Problem> {
        let place = |name: &str| Place::input("warranty").column(name);
        let mut problems = Vec::new();
        if !(self.price > 0.0 && self.price <= LARGEST_AMOUNT) {
            problems.push(
                Problem::new("terms.warranty_price", "the price under a warranty is no positive amount")
                    .at(place("price"))
                    .got(self.price)
                    .expected("above 0 and at most 1e12"),
            );
        }
        let printed = self.hours >= 1.0 && self.hours.is_finite();
        // Of hours that are none, the end says nothing more.
        let ends = !printed || (1.0..=self.hours).contains(&self.end_hours);
        for (name, hours, sound) in [("hours", self.hours, printed), ("end_hours", self.end_hours, ends)] {
            if !sound {
                problems.push(
                    Problem::new("terms.warranty_hours", "a warranty ends at a number of hours")
                        .at(place(name))
                        .got(hours)
                        .expected("finite hours of at least 1, the end not after the printed hours"),
                );
            }
        }
        if let WarrantyForm::Stepped(steps) = &self.form {
            let mut before = WarrantyStep { below_hours: 0.0, share: 1.0 };
            let mut sound = steps.last().is_some_and(|s| s.below_hours == self.hours);
            for step in steps {
                let falls = (0.0..=before.share).contains(&step.share);
                sound &= step.below_hours > before.below_hours && step.below_hours.is_finite() && falls;
                before = *step;
            }
            if !sound {
                let said: Vec<String> = steps.iter().map(|s| format!("({}, {})", s.below_hours, s.share)).collect();
                problems.push(
                    Problem::new("terms.warranty_steps", "the steps of a warranty are out of order")
                        .at(place("steps"))
                        .got(format!("[{}]", said.join(", ")))
                        .expected("one or more (hours, share): hours that rise, shares of 0 to 1 that do not"),
                );
            }
        }
        let no_failure = |e: &Ending| matches!(e, Ending::Planned | Ending::Running);
        let twice = self.endings.iter().enumerate().any(|(i, e)| self.endings.iter().skip(i + 1).any(|o| o == e));
        if self.endings.is_empty() || twice || self.endings.iter().any(no_failure) {
            let said: Vec<&str> = self.endings.iter().map(|e| e.as_str()).collect();
            problems.push(
                Problem::new("terms.warranty_endings", "a warranty covers failures of some kinds")
                    .at(place("endings"))
                    .got(format!("[{}]", said.join(", ")))
                    .expected("one or more endings that are failures, each once"),
            );
        }
        problems
    }

    /// The same terms on a lamp of another price.
    ///
    /// # Errors
    /// `terms.warranty_price` unless the price is finite, above 0 and at most 1e12.
    pub fn of_price(&self, price: f64) -> Result<Self> {
        let made = Self { price, ..self.clone() };
        let problems = made.problems();
        if problems.is_empty() { Ok(made) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Money back on average where a claim is granted with a chance and costs its handling, whatever comes of it; one is filed
    /// only where it brings more. None where none does, or none a lamp of an hour or more.
    ///
    /// # Formula
    /// ```text
    /// credit'(age) = max(0, chance credit(age) - handling)
    /// ```
    pub(crate) fn on_average(&self, chance: f64, handling: f64) -> Result<Option<Self>> {
        let most = chance * self.price;
        let (price, hours, form) = match &self.form {
            WarrantyForm::Full => (most - handling, self.hours, WarrantyForm::Full),
            // The line that falls from the price to 0 falls to the handling before.
            WarrantyForm::ProRata => (most - handling, self.hours * ((most - handling) / most), WarrantyForm::ProRata),
            WarrantyForm::Stepped(steps) => {
                let brings = |s: &WarrantyStep| WarrantyStep { share: chance * s.share - handling / self.price, ..*s };
                let steps: Vec<_> = steps.iter().map(brings).filter(|s| s.share > 0.0).collect();
                let hours = steps.last().map_or(0.0, |s| s.below_hours);
                (self.price, hours, WarrantyForm::Stepped(steps))
            }
        };
        if !(price > 0.0 && hours >= 1.0) {
            return Ok(None);
        }
        let end_hours = self.end_hours.min(hours);
        Raw { price, hours, end_hours, form, endings: self.endings.clone() }.try_into().map(Some)
    }

    /// Money back for a failure at an age; 0 from the end on and for an age that is not a number.
    pub fn credit(&self, age_hours: f64) -> f64 {
        if age_hours.is_nan() || age_hours >= self.end_hours {
            return 0.0;
        }
        match &self.form {
            WarrantyForm::Full => self.price,
            WarrantyForm::ProRata => self.price * (1.0 - age_hours.max(0.0) / self.hours),
            WarrantyForm::Stepped(steps) => {
                steps.iter().find(|s| age_hours < s.below_hours).map_or(0.0, |s| self.price * s.share)
            }
        }
    }

    /// The most that can come back: for a failure at age 0.
    pub fn largest(&self) -> f64 {
        self.credit(0.0)
    }

    /// Whether a failure of this kind is covered.
    pub fn covers(&self, ending: Ending) -> bool {
        self.endings.contains(&ending)
    }

    /// Price of the lamp.
    pub fn price(&self) -> f64 {
        self.price
    }

    /// Hours as printed.
    pub fn hours(&self) -> f64 {
        self.hours
    }

    /// Age from which nothing comes back, hours.
    pub fn end_hours(&self) -> f64 {
        self.end_hours
    }

    /// How the money back falls with age.
    pub fn form(&self) -> &WarrantyForm {
        &self.form
    }

    /// The endings that are covered.
    pub fn endings(&self) -> &[Ending] {
        &self.endings
    }

    /// Ages at which the money back jumps or bends, ascending; the last is the end.
    pub fn kinks(&self) -> Vec<f64> {
        let mut kinks = vec![self.end_hours];
        if let WarrantyForm::Stepped(steps) = &self.form {
            kinks.extend(steps.iter().map(|s| s.below_hours).filter(|k| *k < self.end_hours));
        }
        kinks.sort_by(f64::total_cmp);
        kinks
    }
}
