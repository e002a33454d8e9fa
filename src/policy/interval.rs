//! The planned age over the draws.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, constrained, planned_age};
use super::curve::WorldCurve;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure;
use crate::base::math::percentile::percentile;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, Method, over_draws};
use crate::terms::HourLimit;

/// Fewest draws that an interval is made from.
///
/// Our choice, without a source: with 20 draws the ends of a 95 % interval are about the outermost draws, and with fewer
/// they only move inwards. Enough for a trial run; a study takes 400 unless told otherwise.
pub const FEWEST_DRAWS: usize = 20;

/// Lower and upper end of an interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// What the draws make of the planned age. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AgeInterval {
    /// Level of every interval here, such as 0.95.
    pub level: f64,
    /// How the worlds were drawn; the ends are percentiles of the draws.
    pub method: Method,
    /// Draws that gave an answer.
    pub draws: usize,
    /// Draws that gave none.
    pub failed: usize,
    /// Best age under the limit, whole hours rounded down.
    pub age_hours: Range,
    /// Cost per hour at each draw's own best age.
    pub best_cost_per_hour: Range,
    /// Cost per hour at the advised age.
    pub cost_per_hour: Range,
    /// Share of draws whose cost still falls at the limit; 0 where the records end before it.
    pub share_at_limit: f64,
    /// Share of draws whose cost still falls where the records end, short of the limit; 0 where they reach the limit.
    pub share_at_records_end: f64,
    /// Cost per hour of today's rule (held to the limit) minus that of the advised age.
    pub saving_per_hour: Option<Range>,
    /// Share of draws in which the advised age costs less than today's rule (held to the limit).
    pub beats_todays_rule: Option<f64>,
}

impl Sound for AgeInterval {
    fn check(&self, c: &mut Checks) {
        c.level("level", self.level);
        c.advice("age_hours.low", self.age_hours.low, f64::MAX);
        c.advice("age_hours.high", self.age_hours.high, f64::MAX);
        let ranges = [
            ("age_hours", Some(self.age_hours)),
            ("best_cost_per_hour", Some(self.best_cost_per_hour)),
            ("cost_per_hour", Some(self.cost_per_hour)),
            ("saving_per_hour", self.saving_per_hour),
        ];
        for (field, range) in ranges {
            c.ends(field, range.map(|r| r.low), range.map(|r| r.high));
        }
        c.positive("best_cost_per_hour.low", self.best_cost_per_hour.low);
        c.positive("cost_per_hour.low", self.cost_per_hour.low);
        c.share("share_at_limit", self.share_at_limit);
        c.share("share_at_records_end", self.share_at_records_end);
        let one = self.share_at_limit == 0.0 || self.share_at_records_end == 0.0;
        c.need("share_at_records_end", one, self.share_at_records_end, "0 where draws end at the limit");
        c.share("beats_todays_rule", self.beats_todays_rule);
        let few = self.draws.saturating_add(self.failed) < FEWEST_DRAWS || self.draws < FEWEST_DRAWS / 2;
        c.need("draws", !few, self.draws, format!("at least {FEWEST_DRAWS} draws, most of them with an answer"));
        for (field, share) in [
            ("share_at_limit", Some(self.share_at_limit)),
            ("share_at_records_end", Some(self.share_at_records_end)),
            ("beats_todays_rule", self.beats_todays_rule),
        ] {
            let counted = share.unwrap_or(0.0) * self.draws as f64;
            let whole = (counted - counted.round()).abs() <= 1e-6;
            c.need(
                field,
                whole,
                share.unwrap_or(0.0),
                format!("a whole number of {}", figure::counted(self.draws as u64, "draw")),
            );
        }
        let (saving, beats) = (self.saving_per_hour.is_some(), self.beats_todays_rule.is_some());
        c.there("beats_todays_rule", beats, saving, "there with a saving");
    }
}

/// What one draw answers: its best age, and the cost per hour there, at the advised age and under today's rule.
#[derive(Debug)]
struct Answer {
    age: f64,
    best: f64,
    advised: f64,
    rule: Option<f64>,
}

/// Asks every drawn world for its best age under the limit, and what the advised age costs there.
///
/// The advised age is that of [`planned_age`] at the estimates with the same options. Ends are percentiles with linear
/// interpolation between order statistics.
///
/// # Errors
/// `policy.level` unless 0 < level < 1, `policy.discount_unused` for costs with a discount rate where nothing is discounted,
/// `policy.few_draws` for fewer than 20 draws, or where nearly none gave an answer, those of [`planned_age`] at the
/// estimates, and a stop.
pub fn planned_age_interval(
    draws: &dyn Draws,
    limit: &HourLimit,
    options: &AgeOptions,
    level: f64,
    run: &Run,
) -> Result<AgeInterval> {
    if !(level > 0.0 && level < 1.0) {
        let problem = Problem::new("policy.level", "the level of an interval lies between 0 and 1").got(level);
        return Err(Error::new(Kind::Domain, problem));
    }
    let ceiling = options.ceiling(limit)?;
    let best = draws.best()?;
    options.objective.heed(&best.costs)?;
    let advised = planned_age(&best, limit, options)?.age_hours;
    let rule = options.rule(limit);
    let spread = over_draws(draws, run, |world| {
        let mut curve = WorldCurve::of(world, &options.objective)?;
        let (_, age, cost) = constrained(&mut curve, ceiling)?;
        let at = |age: f64| Ok::<f64, Error>(curve.cost(&curve.up_to(age)?));
        Ok(Answer { age, best: cost, advised: at(advised)?, rule: rule.map(at).transpose()? })
    })?;
    let each = &spread.each;
    // Some draws may give no answer, but half of the fewest allowed must.
    if draws.len() < FEWEST_DRAWS || each.len() < FEWEST_DRAWS / 2 {
        let problem = Problem::new("policy.few_draws", "too few draws gave a planned age for an interval")
            .at(Place::input("draws"))
            .got(format!("{} and {} without an answer", each.len(), spread.failed.len()))
            .expected(format!("at least {FEWEST_DRAWS} draws, most of them with an answer"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let range = |pick: fn(&Answer) -> f64| {
        let mut values: Vec<f64> = each.iter().map(pick).collect();
        values.sort_by(f64::total_cmp);
        let tail = 0.5 * (1.0 - level);
        let end = |p| percentile(&values, p).unwrap_or(f64::NAN);
        Range { low: end(tail), high: end(1.0 - tail) }
    };
    let share = |yes: usize| yes as f64 / each.len() as f64;
    let age = range(|e| e.age);
    let stopped = share(each.iter().filter(|e| e.age >= ceiling).count());
    let records_end = ceiling < limit.hours();
    Ok(AgeInterval {
        level,
        method: spread.method,
        draws: each.len(),
        failed: spread.failed.len(),
        age_hours: Range { low: limit.cap(age.low), high: limit.cap(age.high) },
        best_cost_per_hour: range(|e| e.best),
        cost_per_hour: range(|e| e.advised),
        share_at_limit: if records_end { 0.0 } else { stopped },
        share_at_records_end: if records_end { stopped } else { 0.0 },
        saving_per_hour: rule.map(|_| range(|e| e.rule.map_or(0.0, |r| r - e.advised))),
        beats_todays_rule: rule.map(|_| share(each.iter().filter(|e| e.rule.is_some_and(|r| e.advised < r)).count())),
    })
}
