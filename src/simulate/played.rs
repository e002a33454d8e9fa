//! What a played-out fleet brought.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::assumptions::{DarkMinutes, Rule, Visits};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;
use crate::records::Ending;
use crate::terms::Discount;

/// Bins of age from 0 to the limit in which ended lamps are counted.
pub const AGE_BINS: usize = 20;

/// Why a lamp that worked was changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PlannedChange {
    /// At the start: past its age or the limit already, or of unknown age.
    DueNow,
    /// It reached the age of the rule.
    AtAge,
    /// It was old enough at a visit.
    AtVisit,
    /// Its day had come.
    OnCalendar,
    /// Another lamp of its site reached the age of the rule.
    WithSite,
    /// It reached the limit before its turn.
    AtLimit,
}

impl PlannedChange {
    /// Every kind, in order.
    pub const ALL: [Self; 6] =
        [Self::DueNow, Self::AtAge, Self::AtVisit, Self::OnCalendar, Self::WithSite, Self::AtLimit];
}

/// A figure of one play of the whole fleet: its mean over plays, how far single plays lie from it, and how well the plays
/// have settled it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Simulated {
    /// Mean over plays.
    pub mean: f64,
    /// Standard deviation of one play of the fleet; none where a site was played once and has no equal.
    pub sd: Option<f64>,
    /// Standard error of the mean: the standard deviation over the root of the number of replicates.
    pub standard_error: Option<f64>,
}

impl Sound for Simulated {
    fn check(&self, c: &mut Checks) {
        c.not_negative("mean", self.mean);
        c.not_negative("sd", self.sd);
        c.not_negative("standard_error", self.standard_error);
        c.there(
            "standard_error",
            self.standard_error.is_some(),
            self.sd.is_some(),
            "there with the standard deviation",
        );
        c.ends("standard_error", self.standard_error, self.sd);
    }
}

/// What one stretch of time brought, for the whole fleet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedTally {
    /// Lamps needed: all changes.
    pub changes: Simulated,
    /// Changes of lamps that worked.
    pub planned: Simulated,
    /// Of these, by kind; kinds that never came are left out.
    pub planned_by_kind: BTreeMap<PlannedChange, Simulated>,
    /// Changes after failures.
    pub failures: Simulated,
    /// Of these, by ending: every failure of the world.
    pub failures_by_ending: BTreeMap<Ending, Simulated>,
    /// Failures of the lamps that burned at the start.
    pub failures_of_todays_lamps: Simulated,
    /// Cost of changes, and of visits made for lamps alone.
    pub cost: Simulated,
    /// The same cost, each amount at what it is worth at the start; none without a discount.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discounted_cost: Option<Simulated>,
    /// Minutes of dark screens.
    pub dark_minutes: Simulated,
    /// Hours burned.
    pub burning_hours: Simulated,
    /// Visits made for lamps alone.
    pub visits_for_lamps: Simulated,
    /// Visits that happened anyway.
    pub visits_anyway: Simulated,
}

impl PlayedTally {
    /// Cost per burning hour with its standard error; none where nothing burned.
    ///
    /// # Formula
    /// ```text
    /// mean cost / burning hours, which do not vary from play to play
    /// ```
    pub fn cost_per_hour(&self) -> Option<Simulated> {
        self.per_hours(&self.cost, 1.0)
    }

    /// Dark minutes per 1,000 burning hours with their standard error; none where nothing burned.
    ///
    /// # Formula
    /// ```text
    /// 1000 x mean dark minutes / burning hours, which do not vary from play to play
    /// ```
    pub fn dark_minutes_per_1000_hours(&self) -> Option<Simulated> {
        self.per_hours(&self.dark_minutes, 1000.0)
    }

    /// A figure for each stretch of so many burning hours.
    fn per_hours(&self, figure: &Simulated, stretch: f64) -> Option<Simulated> {
        let hours = self.burning_hours.mean;
        let per = |x: f64| x * stretch / hours;
        (hours > 0.0).then(|| Simulated {
            mean: per(figure.mean),
            sd: figure.sd.map(per),
            standard_error: figure.standard_error.map(per),
        })
    }
}

impl Sound for PlayedTally {
    fn check(&self, c: &mut Checks) {
        for (field, figure) in [
            ("changes", &self.changes),
            ("planned", &self.planned),
            ("failures", &self.failures),
            ("failures_of_todays_lamps", &self.failures_of_todays_lamps),
            ("cost", &self.cost),
            ("dark_minutes", &self.dark_minutes),
            ("burning_hours", &self.burning_hours),
            ("visits_for_lamps", &self.visits_for_lamps),
            ("visits_anyway", &self.visits_anyway),
        ] {
            c.part(field, figure);
        }
        c.parts("planned_by_kind", self.planned_by_kind.values());
        c.parts("failures_by_ending", self.failures_by_ending.values());
        let of = |figures: &mut dyn Iterator<Item = &Simulated>| figures.map(|f| f.mean).sum::<f64>();
        let planned = of(&mut self.planned_by_kind.values());
        let failures = of(&mut self.failures_by_ending.values());
        c.near("planned", self.planned.mean, planned, planned);
        c.near("failures", self.failures.mean, failures, failures);
        let all = self.planned.mean + self.failures.mean;
        c.near("changes", self.changes.mean, all, all);
        let of_today = self.failures_of_todays_lamps.mean;
        c.between("failures_of_todays_lamps", of_today, 0.0, self.failures.mean);
        if let Some(discounted) = &self.discounted_cost {
            c.part("discounted_cost", discounted);
            // Later amounts are worth less, and none is below 0.
            c.between("discounted_cost", discounted.mean, 0.0, self.cost.mean * (1.0 + 1e-9));
        }
    }
}

/// The lamps that ended in one way over the whole time, and how old they were.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndedLamps {
    /// The failure, or `planned`.
    pub ending: Ending,
    /// The kind of planned change; none for a failure.
    pub planned: Option<PlannedChange>,
    /// Lamps of known age.
    pub lamps: Simulated,
    /// Mean age at ending, hours; none without a lamp.
    pub mean_age_hours: Option<f64>,
    /// Its standard error, by the linear expansion of the ratio of the sum of ages to the number.
    pub mean_age_standard_error: Option<f64>,
    /// Oldest age at ending, hours.
    pub oldest_hours: Option<f64>,
    /// Mean number by age: [`AGE_BINS`] equal bins from 0 to the limit; what lies past the limit stands in the last.
    pub by_age: Vec<f64>,
}

impl Sound for EndedLamps {
    fn check(&self, c: &mut Checks) {
        c.there("planned", self.planned.is_some(), self.ending == Ending::Planned, "there with a planned ending");
        c.part("lamps", &self.lamps);
        let some = self.lamps.mean > 0.0;
        c.there("mean_age_hours", self.mean_age_hours.is_some(), some, "there with a lamp");
        c.there("oldest_hours", self.oldest_hours.is_some(), some, "there with a lamp");
        c.not_negative("mean_age_hours", self.mean_age_hours);
        c.not_negative("mean_age_standard_error", self.mean_age_standard_error);
        if let (Some(mean), Some(oldest)) = (self.mean_age_hours, self.oldest_hours) {
            c.between("mean_age_hours", mean, 0.0, oldest);
        }
        c.entries("by_age", self.by_age.len(), AGE_BINS);
        c.column("by_age", &self.by_age, Checks::not_negative);
        let sum: f64 = self.by_age.iter().sum();
        c.near("lamps", self.lamps.mean, sum, sum);
    }
}

/// A fleet played out under one rule.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedFleet {
    /// The rule, its ages held to the limit.
    pub rule: Rule,
    /// Visits that happened anyway.
    pub visits: Visits,
    /// Dark minutes of a change, as assumed.
    #[serde(default, skip_serializing_if = "DarkMinutes::is_nothing")]
    pub dark: DarkMinutes,
    /// How much less money was worth the later it came; none where no discounted cost was counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discount: Option<Discount>,
    /// The limit in force, hours.
    pub limit_hours: f64,
    /// Screens.
    pub sockets: usize,
    /// Sites.
    pub sites: usize,
    /// Of the lamps of today, those changed at the start.
    pub due_now: usize,
    /// Plays of the whole fleet.
    pub replicates: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Length of a period, days.
    pub period_days: f64,
    /// Periods in order.
    pub periods: Vec<PlayedTally>,
    /// All periods together.
    pub whole: PlayedTally,
    /// Cost per burning hour over all periods; none where nothing burns.
    pub cost_per_hour: Option<Simulated>,
    /// Lamps needed in each period: their distribution over the replicates.
    pub needed: Vec<Count>,
    /// Lamps needed from the start to the end of each period.
    pub needed_by_end: Vec<Count>,
    /// Ages at ending, by way to end: planned kinds that came, then every failure.
    pub ended: Vec<EndedLamps>,
}

impl PlayedFleet {
    /// Whether dark minutes of a change were given: without any, their number is not 0 but not known.
    pub(crate) fn tells_dark_minutes(&self) -> bool {
        !self.dark.is_nothing()
    }

    /// Dark minutes that one way to end has brought in a stretch of time: planned changes, or a failure.
    ///
    /// # Formula
    /// ```text
    /// changes of the kind x minutes of one
    /// ```
    pub fn dark_minutes_of(&self, ending: Ending, changes: &Simulated) -> Simulated {
        let minutes = if ending == Ending::Planned {
            self.dark.planned
        } else {
            self.dark.by_ending.get(&ending).copied().unwrap_or(0.0)
        };
        Simulated {
            mean: minutes * changes.mean,
            sd: changes.sd.map(|x| minutes * x),
            standard_error: changes.standard_error.map(|x| minutes * x),
        }
    }
}

impl Sound for PlayedFleet {
    fn check(&self, c: &mut Checks) {
        c.part("rule", &self.rule);
        c.part("visits", &self.visits);
        c.positive("limit_hours", self.limit_hours);
        if let Some(age) = self.rule.age() {
            c.age("rule.age_hours", age, self.limit_hours);
        }
        for (field, n) in [("sockets", self.sockets), ("sites", self.sites), ("replicates", self.replicates)] {
            c.need(field, n > 0, n, "1 or more");
        }
        c.need("sites", self.sites <= self.sockets, self.sites, format!("at most {}", self.sockets));
        c.need("due_now", self.due_now <= self.sockets, self.due_now, format!("at most {}", self.sockets));
        c.positive("period_days", self.period_days);
        c.need("periods", !self.periods.is_empty(), "no period", "one or more");
        c.parts("periods", &self.periods);
        c.part("whole", &self.whole);
        c.entries("needed", self.needed.len(), self.periods.len());
        c.entries("needed_by_end", self.needed_by_end.len(), self.periods.len());
        let of = |pick: fn(&PlayedTally) -> f64| self.periods.iter().map(pick).sum::<f64>();
        for (field, got, parts) in [
            ("whole.changes", self.whole.changes.mean, of(|p| p.changes.mean)),
            ("whole.planned", self.whole.planned.mean, of(|p| p.planned.mean)),
            ("whole.cost", self.whole.cost.mean, of(|p| p.cost.mean)),
            ("whole.dark_minutes", self.whole.dark_minutes.mean, of(|p| p.dark_minutes.mean)),
            ("whole.burning_hours", self.whole.burning_hours.mean, of(|p| p.burning_hours.mean)),
        ] {
            c.near(field, got, parts, parts);
        }
        for (i, tally) in std::iter::once(&self.whole).chain(&self.periods).enumerate() {
            let name =
                |field: &str| if i == 0 { format!("whole.{field}") } else { format!("periods[{}].{field}", i - 1) };
            let counted = tally.discounted_cost.is_some();
            c.there(&name("discounted_cost"), counted, self.discount.is_some(), "there with a discount");
            let failures: f64 = tally.failures_by_ending.iter().map(|(e, n)| self.dark_minutes_of(*e, n).mean).sum();
            let minutes = failures + self.dark_minutes_of(Ending::Planned, &tally.planned).mean;
            // A file of before tells no minutes of one change.
            if self.tells_dark_minutes() {
                c.near(&name("dark_minutes"), tally.dark_minutes.mean, minutes, minutes);
            }
        }
        if let Some(discounted) = &self.whole.discounted_cost {
            let parts = of(|p| p.discounted_cost.map_or(0.0, |x| x.mean));
            c.near("whole.discounted_cost", discounted.mean, parts, parts);
        }
        let mut so_far = 0.0;
        for (i, period) in self.periods.iter().enumerate() {
            so_far += period.changes.mean;
            let at = |list: &[Count]| list.get(i).map_or(f64::NAN, Count::mean);
            c.near(&format!("needed[{i}]"), at(&self.needed), period.changes.mean, period.changes.mean);
            c.near(&format!("needed_by_end[{i}]"), at(&self.needed_by_end), so_far, so_far);
        }
        let cost = self.whole.cost_per_hour();
        c.there("cost_per_hour", self.cost_per_hour.is_some(), cost.is_some(), "there with burning hours");
        if let (Some(got), Some(made)) = (self.cost_per_hour, cost) {
            c.part("cost_per_hour", &got);
            c.near("cost_per_hour.mean", got.mean, made.mean, made.mean);
        }
        c.parts("ended", &self.ended);
    }
}
