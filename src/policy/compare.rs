//! Whether one age beats another, given what is not known of lives and costs.

use serde::{Deserialize, Serialize};

use super::cost::within_limit;
use super::curve::WorldCurve;
use super::interval::{FEWEST_DRAWS, Range};
use super::objective::Objective;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{full_hours, short};
use crate::base::math::percentile::percentile;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, Method, World, over_draws};
use crate::records::Ending;
use crate::terms::{CostParts, HourLimit};

/// Draws of worlds, each with costs drawn from the ranges of their parts.
///
/// It is a [`Draws`] itself, so whatever is asked of draws can be asked under unknown costs too.
pub struct PricedDraws<'a> {
    draws: &'a dyn Draws,
    parts: &'a CostParts,
    seed: u64,
}

impl std::fmt::Debug for PricedDraws<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("PricedDraws")
            .field("draws", &self.draws.len())
            .field("seed", &self.seed)
            .finish_non_exhaustive()
    }
}

impl<'a> PricedDraws<'a> {
    /// Joins draws of worlds with ranges of costs, whose draws are a pure function of seed and replicate.
    pub fn new(draws: &'a dyn Draws, parts: &'a CostParts, seed: u64) -> Self {
        Self { draws, parts, seed }
    }
}

impl Draws for PricedDraws<'_> {
    fn len(&self) -> usize {
        self.draws.len()
    }

    fn best(&self) -> Result<World> {
        Ok(World { causes: self.draws.best()?.causes, costs: self.parts.middle()? })
    }

    fn world(&self, replicate: usize) -> Result<World> {
        Ok(World { causes: self.draws.world(replicate)?.causes, costs: self.parts.drawn(self.seed, replicate)? })
    }

    fn method(&self) -> Method {
        self.draws.method()
    }

    fn seen(&self, ending: Ending) -> Option<u64> {
        self.draws.seen(ending)
    }

    fn watched_hours(&self, ending: Ending) -> Option<f64> {
        self.draws.watched_hours(ending)
    }
}

/// Two planned ages beside each other over draws. Neither passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AgeComparison {
    /// The two ages, hours.
    pub ages_hours: [f64; 2],
    /// Cost of each per 1,000 h at the estimates.
    pub per_1000_hours: [f64; 2],
    /// Cost of the first less that of the second, per 1,000 h, over the draws.
    pub difference_per_1000_hours: Range,
    /// Level of that interval.
    pub level: f64,
    /// Share of the draws in which the first age costs less.
    pub first_costs_less: f64,
    /// Share of the draws in which the second age costs less; the rest of the draws holds both to cost the same.
    pub second_costs_less: f64,
    /// Draws that gave an answer.
    pub draws: usize,
    /// Draws that gave none.
    pub failed: usize,
    /// How the worlds were drawn.
    pub method: Method,
    /// The same in plain words.
    pub sentence: String,
}

impl Sound for AgeComparison {
    fn check(&self, c: &mut Checks) {
        c.column("ages_hours", &self.ages_hours, Checks::positive);
        c.column("per_1000_hours", &self.per_1000_hours, Checks::positive);
        let range = self.difference_per_1000_hours;
        c.ends("difference_per_1000_hours", range.low, range.high);
        c.level("level", self.level);
        for (field, share) in
            [("first_costs_less", self.first_costs_less), ("second_costs_less", self.second_costs_less)]
        {
            c.share(field, share);
            let counted = share * self.draws as f64;
            c.need(field, (counted - counted.round()).abs() <= 1e-6, share, "a whole number of draws");
        }
        c.share("first_costs_less", self.first_costs_less + self.second_costs_less);
        c.need("draws", self.draws >= FEWEST_DRAWS / 2, self.draws, format!("at least {}", FEWEST_DRAWS / 2));
        c.words("sentence", &self.sentence);
    }
}

/// How likely one planned age costs less than another, over draws of lives, and of costs where they are [`PricedDraws`].
///
/// # Errors
/// `policy.age_past_limit`, `policy.age` for the ages; `policy.level`, `policy.few_draws`, `policy.discount_unused` as for
/// [`super::planned_age_interval`].
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, Draws, Method, World};
/// use relamp::policy::{Objective, compare_ages};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// use relamp::{Result, Run};
/// // Invented draws: scales of 1,000 h to 2,950 h.
/// struct Scales;
/// impl Draws for Scales {
///     fn len(&self) -> usize {
///         40
///     }
///     fn best(&self) -> Result<World> {
///         self.world(20)
///     }
///     fn world(&self, replicate: usize) -> Result<World> {
///         let life = Box::new(Weibull { shape: 3.0, scale: 1000.0 + 50.0 * replicate as f64 });
///         let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
///         Ok(World { causes, costs: Costs::new(1.0, [(Ending::Burst, 5.0)])? })
///     }
///     fn method(&self) -> Method {
///         Method::Wald
///     }
/// }
/// let printed = PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() };
/// let compared = compare_ages(&Scales, &Objective::CostPerHour, [500.0, 1000.0], &printed.limit()?, 0.9, &Run::new())?;
/// assert!(compared.first_costs_less > 0.2 && compared.first_costs_less < 0.5);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn compare_ages(
    draws: &dyn Draws,
    objective: &Objective,
    ages_hours: [f64; 2],
    limit: &HourLimit,
    level: f64,
    run: &Run,
) -> Result<AgeComparison> {
    if !(level > 0.0 && level < 1.0) {
        let problem = Problem::new("policy.level", "the level of an interval lies between 0 and 1").got(level);
        return Err(Error::new(Kind::Domain, problem));
    }
    within_limit(&ages_hours, limit)?;
    objective.heed(&draws.best()?.costs)?;
    let spread = over_draws(draws, run, |world| {
        let curve = WorldCurve::of(world, objective)?;
        let at = |age: f64| Ok::<f64, Error>(1000.0 * curve.cost(&curve.up_to(age)?));
        Ok([at(ages_hours[0])?, at(ages_hours[1])?])
    })?;
    let each = &spread.each;
    if draws.len() < FEWEST_DRAWS || each.len() < FEWEST_DRAWS / 2 {
        let problem = Problem::new("policy.few_draws", "too few draws gave a cost of both ages")
            .at(Place::input("draws"))
            .got(format!("{} and {} without an answer", each.len(), spread.failed.len()))
            .expected(format!("at least {FEWEST_DRAWS} draws, most of them with an answer"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let mut differences: Vec<f64> = each.iter().map(|[a, b]| a - b).collect();
    let share = |of: fn(f64) -> bool| differences.iter().filter(|d| of(**d)).count() as f64 / each.len() as f64;
    let (first_costs_less, second_costs_less) = (share(|d| d < 0.0), share(|d| d > 0.0));
    differences.sort_by(f64::total_cmp);
    let end = |p| percentile(&differences, p).unwrap_or(f64::NAN);
    let tail = 0.5 * (1.0 - level);
    let range = Range { low: end(tail), high: end(1.0 - tail) };
    let hours = ages_hours.map(full_hours);
    let what = if matches!(objective, Objective::DarkMinutes(_)) { "is dark for less time" } else { "costs less" };
    let sentence = format!(
        "a change at {} h {what} than one at {} h in {} % of the draws; the difference per 1,000 h is {} ({} % interval {} to {})",
        hours[0],
        hours[1],
        short(100.0 * first_costs_less),
        short(spread.best[0] - spread.best[1]),
        short(100.0 * level),
        short(range.low),
        short(range.high)
    );
    Ok(AgeComparison {
        ages_hours,
        per_1000_hours: spread.best,
        difference_per_1000_hours: range,
        level,
        first_costs_less,
        second_costs_less,
        draws: each.len(),
        failed: spread.failed.len(),
        method: spread.method,
        sentence,
    })
}
