//! What moves the replacement age of a class: each cost by itself, and each cause's life as far as the records leave it open.

use serde::{Deserialize, Serialize};

use super::class_result::CauseModel;
use super::decide::LEVEL;
use super::decision_result::PolicyResult;
use super::headline::cause_words;
use crate::base::error::Result;
use crate::base::figure::full_hours;
use crate::base::run::Run;
use crate::base::sound::Checks;
use crate::fit::{Draws, World};
use crate::policy::{AgeOptions, CostBar, CostBars, Verdict, bars_of_costs, life_bars};
use crate::records::Ending;
use crate::terms::HourLimit;

/// Each cost is divided and multiplied by this.
///
/// Our choice, without a source: a price or a refund is seldom known better than to a quarter. Words call it a fifth less
/// and a quarter more.
pub(super) const FACTOR: f64 = 1.25;

/// Hours below which a bar counts as no move in words: less than a day of shows.
const NO_MOVE_HOURS: f64 = 12.0;

/// What moves the replacement age of a class. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sensitivity {
    /// The age of least cost that the bars move, whole hours: the planned age, unless today's rule stays past the records or
    /// the cost is so flat that the limit is advised.
    pub age_hours: f64,
    /// Each cost is divided and multiplied by it.
    pub cost_factor: f64,
    /// One bar for every cost, and one for those of all failures together; the widest first.
    pub costs: Vec<CostMove>,
    /// One bar for the life of each cause; the widest first.
    pub lives: Vec<LifeMove>,
    /// Level of the bars of lives.
    pub level_probability: f64,
    /// What moves the age most, in plain words.
    pub sentence: String,
}

/// A cost that moves, and the age of least cost then.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostMove {
    /// The ending whose cost moves; `planned` for a planned change; empty for every failure together.
    pub ending: Option<Ending>,
    /// Age of least cost at the divided cost, whole hours.
    pub less_age_hours: f64,
    /// Age of least cost at the multiplied cost, whole hours.
    pub more_age_hours: f64,
    /// What keeping the planned age would cost more than the moved one, at worst, percent.
    pub stale_percent: f64,
}

/// A cause whose life moves within what the draws make of it, all others at their estimates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeMove {
    /// What the cause is recorded as.
    pub endings: Vec<Ending>,
    /// Lower end of the interval of the age, hours.
    pub low_hours: f64,
    /// Its upper end, hours.
    pub high_hours: f64,
}

/// What moves the age: the bars of costs at the estimates, those of lives over the draws.
pub(super) fn sensitivity(
    draws: &dyn Draws,
    limit: &HourLimit,
    options: &AgeOptions,
    run: &Run,
) -> Result<Sensitivity> {
    let options = of_least_cost(options);
    let bars = bars_of_costs(&draws.best()?, FACTOR, limit, &options)?;
    let age_hours = bars.planned.age_hours;
    let costs = cost_moves(&bars);
    let lives: Vec<_> = life_bars(draws, limit, &options, LEVEL, run)?
        .bars
        .into_iter()
        .map(|bar| LifeMove {
            endings: bar.endings,
            low_hours: bar.interval.age_hours.low,
            high_hours: bar.interval.age_hours.high,
        })
        .collect();
    let sentence = sentence(age_hours, &costs, &lives);
    Ok(Sensitivity { age_hours, cost_factor: FACTOR, costs, lives, level_probability: LEVEL, sentence })
}

/// The age of least cost itself: where the cost is so flat that the limit is advised in its place, an advice would jump
/// from the one to the other at the least change. Today's rule plays no part in it.
fn of_least_cost(options: &AgeOptions) -> AgeOptions {
    AgeOptions { todays_rule_hours: None, least_saving_percent: 0.0, ..options.clone() }
}

/// The bars as they follow from the saved model and costs: none may be missing, and those of costs are worked out again.
/// The ends of those of lives are those of draws, which the answers do not hold.
pub(super) fn bars_again(
    c: &mut Checks,
    (saved, causes): (Option<&Sensitivity>, &[CauseModel]),
    world: &World,
    limit: &HourLimit,
    options: &AgeOptions,
) {
    let made = bars_of_costs(world, FACTOR, limit, &of_least_cost(options)).ok();
    c.there("sensitivity", saved.is_some(), made.is_some(), "there where every cost can be moved");
    let (Some(saved), Some(made)) = (saved, made) else { return };
    c.inside("sensitivity", |c| {
        let moves = cost_moves(&made);
        c.entries("costs", saved.costs.len(), moves.len());
        for (i, (got, made)) in saved.costs.iter().zip(&moves).enumerate() {
            c.inside(&format!("costs[{i}]"), |c| {
                c.follows("ending", &got.ending, &made.ending);
                // Whole hours may fall to either side of their end.
                for (field, got, made) in [
                    ("less_age_hours", got.less_age_hours, made.less_age_hours),
                    ("more_age_hours", got.more_age_hours, made.more_age_hours),
                ] {
                    c.between(field, got, made - 1.0, made + 1.0);
                }
                c.between("stale_percent", got.stale_percent, made.stale_percent - 0.1, made.stale_percent + 0.1);
            });
        }
        let sorted = |mut endings: Vec<Ending>| {
            endings.sort_unstable();
            endings
        };
        let of = sorted(saved.lives.iter().flat_map(|l| &l.endings).copied().collect());
        c.follows("lives", &of, &sorted(causes.iter().flat_map(|k| &k.endings).copied().collect()));
    });
}

fn cost_moves(bars: &CostBars) -> Vec<CostMove> {
    let one = |bar: &CostBar| {
        let [less, more] = &bar.ends;
        CostMove {
            ending: bar.ending,
            less_age_hours: less.age_hours,
            more_age_hours: more.age_hours,
            stale_percent: less.stale_percent.max(more.stale_percent).max(0.0),
        }
    };
    bars.bars.iter().map(one).collect()
}

impl CostMove {
    fn width(&self) -> f64 {
        (self.more_age_hours - self.less_age_hours).abs()
    }

    fn words(&self) -> String {
        match self.ending {
            None => "that of every failure together".into(),
            Some(Ending::Planned) => "that of a planned change".into(),
            Some(ending) => format!("that of {}", cause_words(&[ending])),
        }
    }
}

impl LifeMove {
    fn width(&self) -> f64 {
        self.high_hours - self.low_hours
    }
}

/// What moves the age most, for one who reads no bars.
pub(super) fn sentence(age_hours: f64, costs: &[CostMove], lives: &[LifeMove]) -> String {
    let of_costs = match costs.first() {
        Some(widest) if widest.width() >= NO_MOVE_HOURS => {
            let (less, more) = (full_hours(widest.less_age_hours), full_hours(widest.more_age_hours));
            let (age, stale) = (full_hours(age_hours), widest.stale_percent);
            format!(
                "of the costs, {} moves the age most: a fifth less gives {less} h, a quarter more {more} h, and an age left at {age} h \
                 would then cost at most {stale:.1} % more than the moved age",
                widest.words()
            )
        }
        _ => format!("no cost, a fifth less or a quarter more, moves the age by as much as {NO_MOVE_HOURS} h"),
    };
    let of_lives = match lives.first() {
        Some(widest) if widest.width() >= NO_MOVE_HOURS => {
            let (low, high) = (full_hours(widest.low_hours), full_hours(widest.high_hours));
            format!(
                "of what the records leave open, the life until {} moves it most: {low} to {high} h",
                cause_words(&widest.endings)
            )
        }
        _ => format!("what the records leave open of any one cause does not move it by as much as {NO_MOVE_HOURS} h"),
    };
    format!("{of_costs}; {of_lives}")
}

impl Sensitivity {
    /// What must hold beside the age that it is about.
    pub(super) fn agrees(&self, c: &mut Checks, policy: &PolicyResult, limit_hours: f64) {
        c.advice("age_hours", self.age_hours, limit_hours);
        if !matches!(policy.verdict, Verdict::TodaysRuleStays | Verdict::FlatSavesNothing) {
            c.equal("age_hours", self.age_hours, policy.planned_age_hours);
        }
        let asked = policy.verdict != Verdict::TooFewFailures;
        c.need("age_hours", asked, self.age_hours, "no bars with fewer than five failures");
        c.equal("cost_factor", self.cost_factor, FACTOR);
        c.equal("level_probability", self.level_probability, LEVEL);
        c.once("costs", self.costs.iter().map(|m| m.ending));
        c.once("lives", self.lives.iter().flat_map(|m| m.endings.iter().copied()));
        for (i, cost) in self.costs.iter().enumerate() {
            c.inside(&format!("costs[{i}]"), |c| {
                c.advice("less_age_hours", cost.less_age_hours, limit_hours);
                c.advice("more_age_hours", cost.more_age_hours, limit_hours);
                c.not_negative("stale_percent", cost.stale_percent);
            });
        }
        for (i, life) in self.lives.iter().enumerate() {
            c.inside(&format!("lives[{i}]"), |c| {
                c.advice("low_hours", life.low_hours, limit_hours);
                c.advice("high_hours", life.high_hours, limit_hours);
                c.ends("low_hours", life.low_hours, life.high_hours);
            });
        }
        let falls = |widths: Vec<f64>| widths.windows(2).all(|w| matches!(w, [a, b] if a >= b));
        let costs = falls(self.costs.iter().map(CostMove::width).collect());
        c.need("costs", costs, "another order", "the widest first");
        let lives = falls(self.lives.iter().map(LifeMove::width).collect());
        c.need("lives", lives, "another order", "the widest first");
        c.follows("sentence", &self.sentence, &sentence(self.age_hours, &self.costs, &self.lives));
    }
}
