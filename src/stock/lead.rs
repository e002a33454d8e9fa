//! Lamps needed while an order is on its way, for every way of looking at the shelf.

use serde::{Deserialize, Serialize};

use crate::base::days::MOST_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// Days of a year.
pub(super) const YEAR_DAYS: f64 = 365.25;

/// Most lamps needed in a day.
const MOST_A_DAY: f64 = 1e6;

/// Places and weights of the eight-point rule that is exact for polynomials of degree 15, on 0 to 1.
///
/// Source: the zeros of the Legendre polynomial of degree 8 (computed, as tabulated in Abramowitz & Stegun, 25.4.30).
pub(super) const EIGHT: [(f64, f64); 8] = [
    (0.019_855_071_751_231_88, 0.050_614_268_145_188_13),
    (0.101_666_761_293_186_64, 0.111_190_517_226_687_24),
    (0.237_233_795_041_835_5, 0.156_853_322_938_943_63),
    (0.408_282_678_752_175_1, 0.181_341_891_689_181),
    (0.591_717_321_247_825, 0.181_341_891_689_181),
    (0.762_766_204_958_164_5, 0.156_853_322_938_943_63),
    (0.898_333_238_706_813_4, 0.111_190_517_226_687_24),
    (0.980_144_928_248_768_1, 0.050_614_268_145_188_13),
];

/// Most panels of that rule over a review period.
const MOST_PANELS: f64 = 256.0;

/// Days from placing an order to its arrival: one number, or several with their chances.
///
/// Several are mixed: P(X = k) is the sum over the list of chance times P(k needed in so many days). That is exact where
/// orders arrive in the order they were placed. Where they may overtake each other and lamps are needed one at a time by
/// chance, only the mean lead time counts (Palm 1938), and the mixture is on the safe side: take a list of one, the mean.
///
/// # Examples
/// ```
/// use relamp::stock::LeadTime;
/// let lead = LeadTime::new(&[(10.0, 3.0), (30.0, 1.0)])?;
/// assert_eq!(lead.mean_days(), 15.0);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct LeadTime {
    /// (days, chance), the chances summing to 1.
    options: Vec<(f64, f64)>,
}

impl LeadTime {
    /// A lead time of so many days with so much weight each; weights need not sum to 1.
    ///
    /// # Errors
    /// All at once: `stock.lead_time` for an empty list, days outside 0 to 7,310, a weight that is negative or not finite,
    /// and weights that are all 0.
    pub fn new(options: &[(f64, f64)]) -> Result<Self> {
        let wrong = |row: usize, column: &str, got: &str, expected: &str| {
            let place = Place::input("lead_time").row(row as u64 + 1).column(column);
            Problem::new("stock.lead_time", "not a lead time").at(place).got(got).expected(expected)
        };
        let mut problems = Vec::new();
        for (i, (days, weight)) in options.iter().enumerate() {
            if !(0.0..=MOST_DAYS).contains(days) {
                problems.push(wrong(i, "days", &days.to_string(), "0 to 7,310 days"));
            }
            if !(*weight >= 0.0 && weight.is_finite()) {
                problems.push(wrong(i, "weight", &weight.to_string(), "a finite weight of at least 0"));
            }
        }
        let whole: f64 = options.iter().map(|(_, w)| w).sum();
        if problems.is_empty() && !(whole > 0.0 && whole.is_finite()) {
            let problem = Problem::new("stock.lead_time", "no lead time is given").at(Place::input("lead_time"));
            problems.push(problem.expected("days, or a list of days with weights, one of them above 0"));
        }
        if problems.is_empty() {
            let options = options.iter().filter(|(_, w)| *w > 0.0).map(|(days, w)| (*days, w / whole)).collect();
            Ok(Self { options })
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }

    /// A lead time that is certain.
    ///
    /// # Errors
    /// `stock.lead_time` unless the days lie in 0 to 7,310.
    pub fn certain(days: f64) -> Result<Self> {
        Self::new(&[(days, 1.0)])
    }

    /// Mean days.
    pub fn mean_days(&self) -> f64 {
        self.options.iter().map(|(days, w)| days * w).sum()
    }

    /// Days and their chances.
    pub fn options(&self) -> &[(f64, f64)] {
        &self.options
    }
}

/// Lamps needed over any number of days, alike on all days.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Needs {
    /// Mean lamps needed a day.
    pub a_day: f64,
    /// Variance over mean of the number needed: 1 for lamps needed one at a time by chance, more where they come in
    /// batches.
    pub variance_to_mean: f64,
}

impl Needs {
    /// Lamps needed one at a time by chance: Poisson.
    ///
    /// # Errors
    /// `stock.needs` unless the mean lies in 0 to 1e6 a day.
    ///
    /// # Examples
    /// ```
    /// use relamp::stock::Needs;
    /// assert_eq!(Needs::by_chance(0.2)?.over(10.0)?.mean().round(), 2.0);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn by_chance(a_day: f64) -> Result<Self> {
        Self::in_batches(a_day, 1.0)
    }

    /// The same in batches, so that the variance of the number is `variance_to_mean` times its mean.
    ///
    /// # Errors
    /// `stock.needs` unless the mean lies in 0 to 1e6 a day and the ratio in 1 to 1,000.
    pub fn in_batches(a_day: f64, variance_to_mean: f64) -> Result<Self> {
        let wrong = |column: &str, got: f64, expected: &str| {
            let place = Place::input("needs").column(column);
            Problem::new("stock.needs", "not a number of lamps needed").at(place).got(got).expected(expected)
        };
        let mut problems = Vec::new();
        if !(0.0..=MOST_A_DAY).contains(&a_day) {
            problems.push(wrong("a_day", a_day, "0 to 1e6 lamps a day"));
        }
        if !(1.0..=1000.0).contains(&variance_to_mean) {
            problems.push(wrong("variance_to_mean", variance_to_mean, "1 to 1,000"));
        }
        if problems.is_empty() { Ok(Self { a_day, variance_to_mean }) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Lamps needed over so many days.
    ///
    /// # Errors
    /// Those of [`Count::negative_binomial`].
    pub fn over(&self, days: f64) -> Result<Count> {
        Count::negative_binomial(self.a_day * days, self.variance_to_mean)
    }
}

/// Lamps needed while an order is on its way, and until the next one can be placed.
///
/// L: lead time; R: days between two looks at the shelf, 0 where it is watched all the time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeadDemand {
    /// Over L.
    pub(super) lead: Count,
    /// Over L + u at a moment u spread evenly over 0 to R: what the shelf has met when one looks at any moment.
    pub(super) moment: Count,
    /// Over L + R: what an order must last for.
    pub(super) protected: Count,
    /// Over R alone, from one look to the next.
    pub(super) period: Count,
    pub(super) a_day: f64,
    pub(super) lead_days: f64,
    pub(super) review_days: f64,
}

impl Sound for LeadDemand {
    fn check(&self, c: &mut Checks) {
        c.between("a_day", self.a_day, 0.0, MOST_A_DAY);
        c.between("lead_days", self.lead_days, 0.0, MOST_DAYS);
        c.between("review_days", self.review_days, 0.0, MOST_DAYS);
        let (lead, protected) = (self.lead.mean(), self.protected.mean());
        c.between("protected", protected, lead, None);
        c.between("moment", self.moment.mean(), lead, protected);
        if self.review_days == 0.0 {
            c.need("protected", self.protected == self.lead, protected, "the same as lead, where there is no review");
            c.need(
                "moment",
                self.moment == self.lead,
                self.moment.mean(),
                "the same as lead, where there is no review",
            );
            c.need("period", self.period.last() == 0, self.period.mean(), "no lamp, where there is no review");
        }
    }
}

impl LeadDemand {
    /// From needs alike on all days.
    ///
    /// # Errors
    /// `stock.review` unless the days between reviews lie in 0 to 7,310; those of [`Needs::over`].
    ///
    /// # Numerics
    /// The average over the review period is an eight-point rule on panels of about one standard deviation of the number
    /// needed, at most 256 of them; with Poisson needs it agrees with the closed form to 1e-12.
    ///
    /// # Examples
    /// ```
    /// use relamp::stock::{LeadDemand, LeadTime, Needs};
    /// let demand = LeadDemand::new(&Needs::by_chance(0.2)?, &LeadTime::certain(20.0)?, 7.0)?;
    /// assert!((demand.lead().mean() - 4.0).abs() < 1e-12);
    /// assert!((demand.protected().mean() - 5.4).abs() < 1e-12);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn new(needs: &Needs, lead: &LeadTime, review_days: f64) -> Result<Self> {
        let sd = (needs.a_day * lead.mean_days() * needs.variance_to_mean).sqrt().max(1.0);
        let panels = (needs.a_day * review_days / sd).ceil().clamp(1.0, MOST_PANELS);
        let mut demand = Self::build(lead, review_days, panels as usize, |days| needs.over(days))?;
        demand.a_day = needs.a_day;
        Ok(demand)
    }

    /// From lamps needed over so many days from today, such as a forecast by the ages of the lamps that burn.
    ///
    /// `over` gives the number needed within its argument, days; it is asked at each lead time and at eight places of the
    /// review period. The mean a day is that over the last review period, or over the lead time where there is none, or over
    /// the first day where there is neither: then every order comes at once and no lamp is ever short.
    ///
    /// # Errors
    /// `stock.review`; those of `over`.
    pub fn of_days(lead: &LeadTime, review_days: f64, over: impl Fn(f64) -> Result<Count>) -> Result<Self> {
        let mut demand = Self::build(lead, review_days, 1, &over)?;
        let (needed, days) = if review_days > 0.0 {
            (demand.protected.mean() - demand.lead.mean(), review_days)
        } else if demand.lead_days > 0.0 {
            (demand.lead.mean(), demand.lead_days)
        } else {
            (over(1.0)?.mean(), 1.0)
        };
        demand.a_day = (needed / days).max(0.0);
        Ok(demand)
    }

    /// From the number needed over one lead time, with the shelf watched all the time.
    ///
    /// With a lead time of 0 no lamp can be needed over it; how many a day then stays unknown, and is taken as none.
    ///
    /// # Errors
    /// `stock.lead_time` for lamps needed over a lead time of 0.
    pub fn given(needed: &Count, lead: &LeadTime) -> Result<Self> {
        if lead.mean_days() <= 0.0 && needed.last() > 0 {
            let problem = Problem::new("stock.lead_time", "lamps needed over no time");
            let problem = problem.at(Place::input("lead_time")).got(lead.mean_days());
            let expected = "a lead time above 0, or no lamp needed over one of 0";
            return Err(Error::new(Kind::Input, problem.expected(expected)));
        }
        Self::of_days(lead, 0.0, |_| Ok(needed.clone()))
    }

    /// The same demand judged at the ends of the review periods alone, where most lamps wait and fewest are on the shelf: the
    /// convention of many textbooks. For the same rule it counts less holding and more waiting than the average over the
    /// period, so that the least cost may lie on either side: 20 lamps a day that come at once, 64 an order, 1 a day for a lamp
    /// left over and 9 for one short cost 49.17 a day by ends of days (order point 14, level 62) and 51.18 by the average over
    /// the day (5 and 54).
    #[must_use]
    pub fn judged_at_period_ends(mut self) -> Self {
        self.moment = self.protected.clone();
        self
    }

    fn build(lead: &LeadTime, review_days: f64, panels: usize, over: impl Fn(f64) -> Result<Count>) -> Result<Self> {
        if !(0.0..=MOST_DAYS).contains(&review_days) {
            let problem = Problem::new("stock.review", "not a number of days between reviews");
            let problem = problem.at(Place::input("review_days")).got(review_days);
            return Err(Error::new(
                Kind::Input,
                problem.expected("0 to 7,310, 0 where the shelf is watched all the time"),
            ));
        }
        let mixed = |places: &[(f64, f64)]| {
            let mut parts = Vec::with_capacity(places.len() * lead.options.len());
            for (days, chance) in &lead.options {
                for (place, weight) in places {
                    parts.push((chance * weight, over(days + place * review_days)?));
                }
            }
            Count::mix_weighted(&parts.iter().map(|(w, c)| (*w, c)).collect::<Vec<_>>())
        };
        let at_lead = mixed(&[(0.0, 1.0)])?;
        let (moment, protected) = if review_days == 0.0 {
            (at_lead.clone(), at_lead.clone())
        } else {
            let width = 1.0 / panels as f64;
            let places: Vec<_> = (0..panels)
                .flat_map(|i| EIGHT.map(|(place, weight)| ((i as f64 + place) * width, weight * width)))
                .collect();
            (mixed(&places)?, mixed(&[(1.0, 1.0)])?)
        };
        let period = if review_days == 0.0 { Count::certain(0) } else { over(review_days)? };
        Ok(Self { lead: at_lead, moment, protected, period, a_day: 0.0, lead_days: lead.mean_days(), review_days })
    }

    /// Lamps needed over the lead time.
    pub fn lead(&self) -> &Count {
        &self.lead
    }

    /// Lamps needed since the last order that has arrived, at a moment like any other.
    pub fn moment(&self) -> &Count {
        &self.moment
    }

    /// Lamps needed over lead time and review period.
    pub fn protected(&self) -> &Count {
        &self.protected
    }

    /// Mean lamps needed a day.
    pub fn a_day(&self) -> f64 {
        self.a_day
    }

    /// Mean lead time, days.
    pub fn lead_days(&self) -> f64 {
        self.lead_days
    }

    /// Days between two looks at the shelf; 0 where it is watched all the time.
    pub fn review_days(&self) -> f64 {
        self.review_days
    }
}
