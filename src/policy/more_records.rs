//! What records of more hours would be worth, before they are there.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, constrained, planned_age};
use super::curve::WorldCurve;
use super::interval::{FEWEST_DRAWS, Range};
use super::records_played::{CELLS, Played, Told};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, full_hours, short};
use crate::base::math::percentile::percentile;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, Method, World, over_draws};
use crate::terms::HourLimit;

/// Fewest draws that the weights of new records must leave in play, at the median.
///
/// Our choice, without a source: where fewer are left, the age chosen later is that of a handful of draws, and the saving is
/// understated.
pub const FEWEST_EFFECTIVE: f64 = 10.0;

/// Ages that are compared, beside the best one of each draw.
const AGES: usize = 160;

/// Most plays of the hours ahead for each draw.
const MOST_PLAYS: usize = 1000;

/// A screen today, and the hours that it will burn while the new records are made.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScreenAhead {
    /// Age of its lamp, hours; none where it is not known: that lamp is changed at once.
    pub age_hours: Option<f64>,
    /// Hours that the screen burns, such as those of its programme in a year.
    pub hours: f64,
}

/// How the new records are made and how often that is played.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordsAhead {
    /// The screens of the class.
    pub screens: Vec<ScreenAhead>,
    /// Age at which lamps are changed while the records are made; none: today's rule of the options, else the advised age.
    pub rule_hours: Option<f64>,
    /// Plays of the hours ahead with each draw as the truth.
    pub plays: usize,
    /// Seed of the plays.
    pub seed: u64,
}

/// What records of more hours are worth for the choice of the planned age. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecordsValue {
    /// Age of least mean cost over the draws: today's choice, whole hours.
    pub today_hours: f64,
    /// Mean cost per hour of today's choice over the draws.
    pub today_cost_per_hour: f64,
    /// Mean saving per lamp hour of choosing again with the new records.
    pub saving_per_hour: f64,
    /// Standard error of that mean, from the draws and plays.
    pub saving_error: f64,
    /// The most that any records could save per lamp hour: the same with the truth known.
    pub most_per_hour: f64,
    /// Standard error of that mean.
    pub most_error: f64,
    /// Hours that all screens burn while the records are made.
    pub hours_ahead: f64,
    /// Mean number of failures in the new records.
    pub failures_ahead: f64,
    /// Age at which lamps are changed while the records are made.
    pub rule_hours: f64,
    /// Ages chosen later, whole hours: the middle 90 %.
    pub later_hours: Range,
    /// Share of the plays after which another age is chosen than today.
    pub share_changed: f64,
    /// Draws that the weights of the new records leave in play: the median over the plays.
    pub effective_draws: f64,
    /// Draws that gave an answer.
    pub draws: usize,
    /// Draws that gave none.
    pub failed: usize,
    /// Plays for each draw.
    pub plays: usize,
    /// How the worlds were drawn.
    pub method: Method,
    /// The limit in force, hours.
    pub limit_hours: f64,
    /// The same in plain words.
    pub sentence: String,
}

impl Sound for RecordsValue {
    fn check(&self, c: &mut Checks) {
        c.positive("limit_hours", self.limit_hours);
        c.advice("today_hours", self.today_hours, self.limit_hours);
        c.positive("today_cost_per_hour", self.today_cost_per_hour);
        let (saving, most) = (self.saving_per_hour, self.most_per_hour);
        c.not_negative("most_per_hour", most);
        c.need("saving_per_hour", saving <= most * (1.0 + 1e-9), saving, format!("at most {most}"));
        c.not_negative("saving_error", self.saving_error);
        c.not_negative("most_error", self.most_error);
        c.positive("hours_ahead", self.hours_ahead);
        c.not_negative("failures_ahead", self.failures_ahead);
        c.age("rule_hours", self.rule_hours, self.limit_hours);
        c.advice("later_hours.low", self.later_hours.low, self.limit_hours);
        c.advice("later_hours.high", self.later_hours.high, self.limit_hours);
        c.ends("later_hours", self.later_hours.low, self.later_hours.high);
        c.share("share_changed", self.share_changed);
        c.between("effective_draws", self.effective_draws, FEWEST_EFFECTIVE, self.draws as f64);
        c.need("draws", self.draws >= FEWEST_DRAWS / 2, self.draws, format!("at least {}", FEWEST_DRAWS / 2));
        c.need("plays", (1..=MOST_PLAYS).contains(&self.plays), self.plays, format!("1 to {MOST_PLAYS}"));
        c.words("sentence", &self.sentence);
    }
}

/// What records of more hours, such as another year of them, would save by a better choice of the planned age.
///
/// # Formula
/// ```text
/// saving = mean over draws i and plays of [C_i(today's choice) - C_i(later choice)],   C_i: cost per hour in draw i
/// today's choice: age of least mean of C_k;  later choice: age of least mean of C_k weighted with
///   L_k = product over failures of h_k,j(age) x exp(-sum over hours burned of h_k(age)),   both over the draws k other than i
/// most that any records could save = mean over draws i of [C_i(today's choice) - least C_i]
/// ```
/// Each draw in turn is taken for the truth: the screens burn their hours with lamps of that draw, changed at failure or at the
/// rule, and what is seen weighs the other draws by how likely they make it. The draw itself is left out, as the truth is never
/// among the draws. The draws count as equally likely truths, which is what bootstrap and posterior draws stand for.
///
/// # Arguments
/// `options`: objective, end of the records and today's rule, as for [`planned_age`].
///
/// # Errors
/// All at once: `policy.screens_ahead` for a screen whose age is no age or whose hours are no hours, each by its row, and where
/// none burns; `policy.record_plays` unless there are 1 to 1000 plays. `policy.age`, `policy.age_past_limit` for the rule;
/// `policy.few_draws` as for [`super::planned_age_interval`]; `policy.records_causes` where draws differ in their causes;
/// `policy.records_unlike` where what one draw brings is impossible in all others; `policy.few_effective_draws` where the weights
/// leave fewer than 10 draws in play at the median, with how many to ask for; `policy.too_many_lamps` where one screen would
/// need thousands; those of [`planned_age`]; a stop.
///
/// # Numerics
/// Up to the rule each hazard is held even within each of 1,000 equal stretches of age, for playing and for weighing alike.
/// Noise in the weights makes the later choice worse, never better, so that few draws understate the saving. Whether the model
/// holds is not asked, nor what the new records would tell past the age where advice stops today.
///
/// # Source
/// Raiffa and Schlaifer, Applied Statistical Decision Theory (1961), part 1, chapter 4 (from memory); weights in place of
/// new fits: importance sampling, common practice, no source.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, Draws, Method, World};
/// use relamp::policy::{AgeOptions, RecordsAhead, ScreenAhead, records_value};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// struct Shapes;
/// impl Draws for Shapes {
///     fn len(&self) -> usize {
///         40
///     }
///     fn best(&self) -> relamp::Result<World> {
///         self.world(20)
///     }
///     fn world(&self, i: usize) -> relamp::Result<World> {
///         let life = Box::new(Weibull { shape: 1.5 + 0.1 * i as f64, scale: 2000.0 });
///         let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
///         Ok(World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? })
///     }
///     fn method(&self) -> Method {
///         Method::WeightedBootstrap
///     }
/// }
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let screens = vec![ScreenAhead { age_hours: Some(300.0), hours: 3000.0 }; 5];
/// let ahead = RecordsAhead { screens, rule_hours: Some(1500.0), plays: 4, seed: 1 };
/// let value = records_value(&Shapes, &printed.limit()?, &AgeOptions::default(), &ahead, &Run::new())?;
/// assert!(value.saving_per_hour <= value.most_per_hour && value.hours_ahead == 15_000.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn records_value(
    draws: &dyn Draws,
    limit: &HourLimit,
    options: &AgeOptions,
    ahead: &RecordsAhead,
    run: &Run,
) -> Result<RecordsValue> {
    check(ahead)?;
    let ceiling = options.ceiling(limit)?;
    let advised = planned_age(&draws.best()?, limit, options)?.age_hours;
    let rule = rule_of(ahead, limit, options, advised)?;
    let causes = draws.best()?.causes.len();
    let bests = over_draws(draws, run, |world| {
        if world.causes.len() != causes {
            let problem = Problem::new("policy.records_causes", "draws of different causes cannot be weighed together")
                .got(world.causes.len())
                .expected(format!("{causes}, as at the estimates"));
            return Err(Error::new(Kind::Input, problem.at(Place::input("draws"))));
        }
        let mut curve = WorldCurve::of(world, &options.objective)?;
        Ok(limit.cap(constrained(&mut curve, ceiling)?.1))
    })?;
    if let Some((_, error)) = bests.failed.iter().find(|(_, e)| e.slug() == "policy.records_causes") {
        return Err(error.clone());
    }
    let ages = candidates(&bests.each, advised, limit.cap(ceiling));
    let told = over_draws(draws, run, |world| tell(world, options, &ages, rule, ceiling, limit))?;
    let (each, failed) = (told.each, told.failed.len());
    if draws.len() < FEWEST_DRAWS || each.len() < FEWEST_DRAWS / 2 {
        let problem = Problem::new("policy.few_draws", "too few draws gave a planned age for the value of records")
            .at(Place::input("draws"))
            .got(format!("{} and {failed} without an answer", each.len()))
            .expected(format!("at least {FEWEST_DRAWS} draws, most of them with an answer"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let asked = Asked { ages: &ages, each: &each, ahead, rule };
    let answers = run.map(each.len(), |i| asked.of_truth(i))?.into_iter().collect::<Result<Vec<_>>>()?;
    answer(&asked, &answers, failed, told.method, limit)
}

/// The draws at the ages, and what new records they would bring.
struct Asked<'a> {
    ages: &'a [f64],
    each: &'a [Told],
    ahead: &'a RecordsAhead,
    rule: f64,
}

/// What came with one draw as the truth.
struct OfTruth {
    saving: f64,
    most: f64,
    failures: f64,
    /// Place of the age of each later choice.
    later: Vec<usize>,
    changed: usize,
    effective: Vec<f64>,
}

impl Asked<'_> {
    /// Place of the age of least weighted mean cost; among equals the latest.
    fn choice(&self, weights: &[f64]) -> usize {
        let mut sums = vec![0.0; self.ages.len()];
        for (told, weight) in self.each.iter().zip(weights).filter(|(_, w)| **w > 0.0) {
            for (sum, cost) in sums.iter_mut().zip(&told.costs) {
                *sum += weight * cost;
            }
        }
        let mut best = (0, f64::INFINITY);
        for (i, sum) in sums.iter().enumerate() {
            if *sum <= best.1 {
                best = (i, *sum);
            }
        }
        best.0
    }

    fn of_truth(&self, i: usize) -> Result<OfTruth> {
        let n = self.each.len();
        let Some(truth) = self.each.get(i) else { return Err(nothing_left()) };
        let others = |k: usize| if k == i { 0.0 } else { 1.0 };
        let cost = |place: usize| truth.costs.get(place).copied().unwrap_or(f64::INFINITY);
        let today = self.choice(&(0..n).map(others).collect::<Vec<_>>());
        let least = truth.costs.iter().copied().fold(f64::INFINITY, f64::min);
        let plays = self.ahead.plays as f64;
        let mut all = OfTruth {
            saving: 0.0,
            most: cost(today) - least,
            failures: 0.0,
            later: Vec::new(),
            changed: 0,
            effective: Vec::new(),
        };
        for play in 0..self.ahead.plays {
            let number = (i * self.ahead.plays + play) as u64;
            let mut stream = Stream::new(self.ahead.seed, "policy", "records", number);
            let seen = Played::of(truth, &self.ahead.screens, self.rule, &mut stream)?;
            let ln: Vec<f64> = self.each.iter().map(|told| told.ln_likelihood(&seen)).collect();
            let others = || ln.iter().enumerate().filter(|(k, _)| *k != i);
            let top = others().map(|(_, l)| *l).fold(f64::NEG_INFINITY, f64::max);
            if top == f64::NEG_INFINITY {
                return Err(nothing_left());
            }
            let weights: Vec<f64> =
                ln.iter().enumerate().map(|(k, l)| if k == i { 0.0 } else { (l - top).exp() }).collect();
            let later = self.choice(&weights);
            let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
            all.effective.push(sum * sum / squares);
            all.saving += (cost(today) - cost(later)) / plays;
            all.failures += seen.failures() / plays;
            all.changed += usize::from(later != today);
            all.later.push(later);
        }
        Ok(all)
    }
}

fn nothing_left() -> Error {
    let what = "what one draw would bring is impossible in all others: they have no density to weigh it by";
    Error::new(Kind::Refused, Problem::new("policy.records_unlike", what).at(Place::input("draws")))
}

fn check(ahead: &RecordsAhead) -> Result<()> {
    let mut problems = Vec::new();
    for (i, screen) in ahead.screens.iter().enumerate() {
        let place = |column: &str| Place::input("screens").row(i as u64 + 1).column(column);
        if let Some(age) = screen.age_hours.filter(|a| !(*a >= 0.0 && a.is_finite())) {
            let problem = Problem::new("policy.screens_ahead", "the age of a lamp in a screen is no age");
            problems.push(problem.at(place("age_hours")).got(age).expected("0 h or more, or none where not known"));
        }
        if !(screen.hours >= 0.0 && screen.hours.is_finite()) {
            let problem = Problem::new("policy.screens_ahead", "the hours that a screen will burn are no hours");
            problems.push(problem.at(place("hours")).got(screen.hours).expected("0 h or more and finite"));
        }
    }
    let burned: f64 = ahead.screens.iter().map(|s| s.hours).sum();
    if problems.is_empty() && !(burned > 0.0 && burned.is_finite()) {
        let problem = Problem::new("policy.screens_ahead", "no screen burns, so there will be no records");
        problems.push(problem.at(Place::input("screens")).got(burned).expected("hours above 0 in some screen"));
    }
    if !(1..=MOST_PLAYS).contains(&ahead.plays) {
        let problem = Problem::new("policy.record_plays", "the hours ahead are played for each draw");
        problems.push(problem.at(Place::input("plays")).got(ahead.plays).expected("1 to 1000 plays"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

fn rule_of(ahead: &RecordsAhead, limit: &HourLimit, options: &AgeOptions, advised: f64) -> Result<f64> {
    let Some(rule) = ahead.rule_hours else { return Ok(options.rule(limit).unwrap_or(advised)) };
    let place = Place::input("rule_hours");
    if rule.is_nan() || rule <= 0.0 {
        let problem = Problem::new("policy.age", "an age to change at must be above 0").at(place).got(rule);
        return Err(Error::new(Kind::Domain, problem.expected("above 0")));
    }
    if rule > limit.hours() {
        let problem =
            Problem::new("policy.age_past_limit", "a planned age lies past the hour limit").at(place).got(rule);
        return Err(Error::new(Kind::Limit, problem.expected(format!("at most {} h", limit.hours()))));
    }
    Ok(rule)
}

/// Whole hours to choose among: the best of each draw, the advised one, and a grid around them.
fn candidates(bests: &[f64], advised: f64, last: f64) -> Vec<f64> {
    let first = bests.iter().copied().fold(advised, f64::min).max(1.0);
    let from = (0.5 * first).max(1.0).min(last);
    let grid = (0..=AGES).map(|i| (from * (last / from).powf(i as f64 / AGES as f64)).floor());
    let mut ages: Vec<f64> = grid.chain(bests.iter().copied()).chain([advised, last]).collect();
    ages.retain(|age| *age >= 1.0);
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    ages
}

/// One draw at the ages, and its hazards up to the rule.
fn tell(world: &World, options: &AgeOptions, ages: &[f64], rule: f64, ceiling: f64, limit: &HourLimit) -> Result<Told> {
    let mut curve = WorldCurve::of(world, &options.objective)?;
    // A draw without a best age has no place among the truths.
    constrained(&mut curve, ceiling)?;
    curve.remember(ages)?;
    let costs = ages.iter().map(|age| Ok(curve.cost(&curve.up_to(*age)?))).collect::<Result<Vec<_>>>()?;
    Ok(Told::new(&curve, costs, rule.min(limit.hours())))
}

fn answer(
    asked: &Asked<'_>,
    answers: &[OfTruth],
    failed: usize,
    method: Method,
    limit: &HourLimit,
) -> Result<RecordsValue> {
    let (n, plays) = (answers.len(), asked.ahead.plays);
    let mean = |of: &dyn Fn(&OfTruth) -> f64| answers.iter().map(of).sum::<f64>() / n as f64;
    let error = |of: &dyn Fn(&OfTruth) -> f64| {
        let middle = mean(of);
        let squares: f64 = answers.iter().map(|a| (of(a) - middle).powi(2)).sum();
        (squares / (n as f64 - 1.0) / n as f64).sqrt()
    };
    let mut effective: Vec<f64> = answers.iter().flat_map(|a| a.effective.iter().copied()).collect();
    effective.sort_by(f64::total_cmp);
    let effective_draws = percentile(&effective, 0.5).unwrap_or(0.0).min(n as f64);
    if effective_draws < FEWEST_EFFECTIVE {
        let needed = (n as f64 * FEWEST_EFFECTIVE / effective_draws.max(1.0)).ceil();
        let what = "the new records would say so much that next to no draw is left to choose by";
        let problem = Problem::new("policy.few_effective_draws", what)
            .at(Place::input("draws"))
            .got(format!("{}, of which {} stay in play", counted(n as u64, "draw"), short(effective_draws)))
            .expected(format!("about {}, or fewer hours ahead", counted(needed as u64, "draw")));
        return Err(Error::new(Kind::Refused, problem));
    }
    let age = |place: usize| asked.ages.get(place).copied().unwrap_or(f64::NAN);
    let mut later: Vec<f64> = answers.iter().flat_map(|a| a.later.iter().map(|p| age(*p))).collect();
    later.sort_by(f64::total_cmp);
    let end = |p| percentile(&later, p).map_or(f64::NAN, |a| limit.cap(a));
    let today = asked.choice(&vec![1.0; n]);
    let cost = |told: &Told| told.costs.get(today).copied().unwrap_or(f64::NAN);
    let changed: usize = answers.iter().map(|a| a.changed).sum();
    let mut value = RecordsValue {
        today_hours: age(today),
        today_cost_per_hour: asked.each.iter().map(cost).sum::<f64>() / n as f64,
        saving_per_hour: mean(&|a| a.saving),
        saving_error: error(&|a| a.saving),
        most_per_hour: mean(&|a| a.most),
        most_error: error(&|a| a.most),
        hours_ahead: asked.ahead.screens.iter().map(|s| s.hours).sum(),
        failures_ahead: mean(&|a| a.failures),
        rule_hours: asked.rule,
        later_hours: Range { low: end(0.05), high: end(0.95) },
        share_changed: changed as f64 / (n * plays) as f64,
        effective_draws,
        draws: n,
        failed,
        plays,
        method,
        limit_hours: limit.hours(),
        sentence: String::new(),
    };
    value.sentence = sentence(&value);
    Ok(value)
}

fn sentence(v: &RecordsValue) -> String {
    let per_1000 = |x: f64| short(1000.0 * x);
    let most = per_1000(v.most_per_hour);
    let percent = short(100.0 * v.saving_per_hour.max(0.0) / v.today_cost_per_hour);
    let hours = full_hours(v.hours_ahead);
    if v.saving_per_hour <= 2.0 * v.saving_error {
        return format!(
            "no saving by records of {hours} h more is told from chance; a life known for certain would save {most} per \
             1,000 h"
        );
    }
    format!(
        "records of {hours} h more would save {} (standard error {}) per 1,000 h by a better age, {percent} % of the cost, or {} \
         in as many hours; a life known for certain would save {most} per 1,000 h",
        per_1000(v.saving_per_hour),
        per_1000(v.saving_error),
        short(v.saving_per_hour * v.hours_ahead)
    )
}

// The stretches are part of what the page above says.
const _: () = assert!(CELLS == 1000);
