//! The chain's own history under another planned age.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::few::{Extra, FEW, RareEnding};
use super::history::{Told, of_class, span};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours, short};
use crate::base::math::percentile::percentile;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{Life, NamedLife};
use crate::fit::Note;
use crate::records::{Ending, Lives, Spells};
use crate::terms::{Costs, HourLimit};

/// Lamps seen at the age below which what the rows say of it is called rough. Our choice, without a source.
const FEW_LAMPS: u64 = 20;
/// How far what was paid so far may lie from whole lives, relative, before it is told. Our choice, without a source.
const UNPAID: f64 = 0.02;
/// Steps in which what a model adds past the rows is summed.
const STEPS: usize = 400;

/// What to replay.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AgeReplay {
    /// Lamp class.
    pub lamp_class: String,
    /// The rule: lamps are changed at this age, hours, or at failure.
    pub planned_age_hours: f64,
    /// Only what happened after this day counts; none for all of the records.
    pub since: Option<NaiveDate>,
    /// The endings that count as failure.
    pub failure_endings: Vec<Ending>,
    /// The life of all these endings together, for ages that no row tells of; none refuses such an age.
    pub model: Option<NamedLife>,
    /// Level of the intervals.
    pub level: f64,
    /// How often the lamps are weighed anew.
    pub replicates: usize,
    /// Seed of the weights.
    pub seed: u64,
}

impl AgeReplay {
    /// A rule over all of the records, the five failures, no model, 400 replicates at 90 %.
    pub fn new(lamp_class: &str, planned_age_hours: f64) -> Self {
        Self {
            lamp_class: lamp_class.to_owned(),
            planned_age_hours,
            since: None,
            failure_endings: Ending::FAILURES.to_vec(),
            model: None,
            level: 0.9,
            replicates: 400,
            seed: 0,
        }
    }
}

/// How often lamps would have ended in one way before the planned age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReplayedEnding {
    /// The ending.
    pub ending: Ending,
    /// Of 1,000 lamps under the rule, how many end so before the planned age.
    pub per_1000_lamps: f64,
    /// Interval of it.
    pub interval: (f64, f64),
    /// Failures of this kind seen below the planned age.
    pub seen: u64,
}

/// The history of a lamp class under another planned age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReplayedAge {
    /// What was replayed.
    pub asked: AgeReplay,
    /// The hour limit, which the rule keeps.
    pub limit_hours: f64,
    /// Cost per lamp hour as it happened: planned changes and failures over the hours burned. Lamps that still burn have burned
    /// hours here and are not paid for yet.
    pub happened_cost_per_hour: f64,
    /// Cost per lamp hour of whole lives as lamps were changed, which the rule is compared with: those that still burn are taken to
    /// go on as those that went on. None in a file of before, and where the rows hold no whole life.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole_lives_cost_per_hour: Option<f64>,
    /// Lamp hours burned.
    pub happened_hours: f64,
    /// Planned changes that happened.
    pub happened_planned: u64,
    /// Failures that happened, at any age.
    pub happened_failures: u64,
    /// Cost per lamp hour under the rule.
    pub cost_per_hour: f64,
    /// Interval of it: whatever other lamps the same chain might have had.
    pub cost_interval: (f64, f64),
    /// Cost per hour of whole lives as lamps were changed less that under the rule, and its interval, lamps weighed alike for both.
    pub saving_per_hour: f64,
    /// Interval of the saving.
    pub saving_interval: (f64, f64),
    /// Mean age at a change under the rule, hours.
    pub mean_age_at_change_hours: f64,
    /// Endings before the planned age, each with an interval.
    pub endings: Vec<ReplayedEnding>,
    /// Failures that have a cost and of which none was seen before the planned age, or one or two: what they may still do,
    /// which the intervals above do not hold.
    pub rare: Vec<RareEnding>,
    /// Lamps seen to reach the planned age.
    pub reached: u64,
    /// Lamps seen to fail before it.
    pub failed: u64,
    /// Lamps that left before it without a failure, or still burn: what they would have done to that age no row tells.
    pub left: u64,
    /// The oldest age up to which lamps were under observation without a gap from new, hours.
    pub rows_reach_hours: f64,
    /// Hours of a mean lamp under the rule that rest on the model alone, past the reach of the rows.
    pub hours_from_model: f64,
    /// What was found, in words.
    pub sentence: String,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl ReplayedAge {
    /// What the rule is compared with: whole lives as lamps were changed, or what was paid so far where none is whole.
    fn followed(&self) -> f64 {
        self.whole_lives_cost_per_hour.unwrap_or(self.happened_cost_per_hour)
    }
}

impl Sound for ReplayedAge {
    fn check(&self, c: &mut Checks) {
        c.positive("limit_hours", self.limit_hours);
        c.positive("asked.planned_age_hours", self.asked.planned_age_hours);
        c.age("asked.planned_age_hours", self.asked.planned_age_hours, self.limit_hours);
        c.level("asked.level", self.asked.level);
        c.not_negative("happened_cost_per_hour", self.happened_cost_per_hour);
        c.positive("happened_hours", self.happened_hours);
        c.not_negative("whole_lives_cost_per_hour", self.whole_lives_cost_per_hour);
        c.not_negative("cost_per_hour", self.cost_per_hour);
        c.ends("cost_interval", self.cost_interval.0, self.cost_interval.1);
        c.near(
            "saving_per_hour",
            self.saving_per_hour,
            self.followed() - self.cost_per_hour,
            self.followed() + self.cost_per_hour,
        );
        c.ends("saving_interval", self.saving_interval.0, self.saving_interval.1);
        c.age("mean_age_at_change_hours", self.mean_age_at_change_hours, self.asked.planned_age_hours);
        c.age("hours_from_model", self.hours_from_model, self.mean_age_at_change_hours);
        let past = self.asked.planned_age_hours > self.rows_reach_hours;
        c.need(
            "hours_from_model",
            past || self.hours_from_model == 0.0,
            self.hours_from_model,
            "0 where the rows reach the planned age",
        );
        for (i, e) in self.endings.iter().enumerate() {
            c.between(&format!("endings[{i}].per_1000_lamps"), e.per_1000_lamps, 0.0, 1000.0);
            c.ends(&format!("endings[{i}].interval"), e.interval.0, e.interval.1);
        }
        c.parts("rare", &self.rare);
        let seen: u64 = self.endings.iter().map(|e| e.seen).sum();
        c.need("failed", self.failed == seen, self.failed, format!("{seen}, the failures by ending"));
        c.words("sentence", &self.sentence);
    }
}

/// A stretch under observation: the lamp it belongs to, from, to, the failure at its end, and whether a planned change ended it.
struct Stretch {
    lamp: usize,
    from: f64,
    to: f64,
    failure: Option<Ending>,
    planned: bool,
}

#[derive(Clone, Copy)]
enum Event {
    Fails(usize, Ending),
    Changed(usize),
    Leaves(usize),
    Comes(usize),
}

/// What happens at each age, in order; at one age lamps fail, then leave, then come.
fn events(stretches: &[Stretch]) -> Vec<(f64, Event)> {
    let mut all: Vec<(f64, u8, Event)> = Vec::new();
    for s in stretches {
        all.push((s.from, 2, Event::Comes(s.lamp)));
        all.push((s.to, 1, Event::Leaves(s.lamp)));
        if let Some(ending) = s.failure {
            all.push((s.to, 0, Event::Fails(s.lamp, ending)));
        } else if s.planned {
            all.push((s.to, 0, Event::Changed(s.lamp)));
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    all.into_iter().map(|(age, _, event)| (age, event)).collect()
}

/// The oldest age up to which some lamp was under observation at every age from 0.
fn reach(stretches: &[Stretch]) -> f64 {
    let mut order: Vec<(f64, f64)> = stretches.iter().map(|s| (s.from, s.to)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    order.into_iter().fold(0.0, |reach, (from, to)| if from <= reach { reach.max(to) } else { reach })
}

/// A mean cycle under the rule.
#[derive(Clone, Default)]
struct Cycle {
    hours: f64,
    cost: f64,
    reliability: f64,
    /// Lowest age at which every lamp at risk failed, if there is one.
    emptied: Option<f64>,
    model_hours: f64,
    by_ending: BTreeMap<Ending, f64>,
}

/// What a run over the events needs.
struct Judge<'a> {
    asked: &'a AgeReplay,
    costs: &'a Costs,
    events: Vec<(f64, Event)>,
    reach: f64,
    life: Option<Box<dyn Life>>,
    shares: BTreeMap<Ending, f64>,
}

impl Judge<'_> {
    /// Cost of a failure at an age, less any money back.
    fn cost(&self, ending: Ending, age: f64) -> Result<f64> {
        let back = self.costs.warranty().filter(|w| w.covers(ending)).map_or(0.0, |w| w.credit(age));
        Ok(self.costs.failure(ending)? - back)
    }

    fn cycle(&self, weights: &[f64]) -> Result<Cycle> {
        let until = self.asked.planned_age_hours.min(self.reach);
        let weight = |lamp: usize| weights.get(lamp).copied().unwrap_or(0.0);
        let (mut c, mut risk, mut age) = (Cycle { reliability: 1.0, ..Cycle::default() }, 0.0_f64, 0.0);
        for group in self.events.chunk_by(|a, b| a.0 == b.0) {
            let Some(&(now, _)) = group.first() else { continue };
            let reached = now.min(until);
            c.hours += c.reliability * (reached - age).max(0.0);
            age = reached.max(age);
            // A lamp that fails at the planned age was changed there; one that fails where the rows end, before it, failed.
            if now > until || now >= self.asked.planned_age_hours {
                break;
            }
            let before = c.reliability;
            let mut dead = 0.0;
            for &(_, event) in group {
                if let Event::Fails(lamp, ending) = event {
                    let share = before * (weight(lamp) / risk).min(1.0);
                    dead += weight(lamp);
                    *c.by_ending.entry(ending).or_insert(0.0) += share;
                    c.cost += share * self.cost(ending, now)?;
                }
            }
            if dead > 0.0 {
                c.reliability = before * (1.0 - dead / risk).max(0.0);
                if c.reliability < 1e-12 * before {
                    c.emptied.get_or_insert(now);
                }
            }
            for &(_, event) in group {
                match event {
                    Event::Leaves(lamp) => risk -= weight(lamp),
                    Event::Comes(lamp) => risk += weight(lamp),
                    Event::Fails(..) | Event::Changed(_) => {}
                }
            }
        }
        c.hours += c.reliability * (until - age).max(0.0);
        self.past_rows(&mut c, until)?;
        c.cost += self.costs.planned_at(self.asked.planned_age_hours) * c.reliability;
        Ok(c)
    }

    /// Cost per hour of whole lives as lamps were changed, by the same product-limit as the rule, planned changes an ending like
    /// the failures. What is left at the oldest age seen counts as changed there. None where the lamps at risk were all gone
    /// at an age that others passed.
    fn whole_lives(&self, weights: &[f64]) -> Result<Option<f64>> {
        let weight = |lamp: usize| weights.get(lamp).copied().unwrap_or(0.0);
        let last = self.events.iter().rev().find(|e| !matches!(e.1, Event::Comes(_))).map_or(0.0, |e| e.0);
        let (mut hours, mut cost, mut left, mut risk, mut age) = (0.0, 0.0, 1.0, 0.0_f64, 0.0);
        for group in self.events.chunk_by(|a, b| a.0 == b.0) {
            let Some(&(now, _)) = group.first() else { continue };
            hours += left * (now - age);
            age = now;
            let (before, mut gone) = (left, 0.0);
            for &(_, event) in group {
                let (lamp, paid) = match event {
                    Event::Fails(lamp, ending) => (lamp, self.cost(ending, now)?),
                    Event::Changed(lamp) => (lamp, self.costs.planned_at(now)),
                    Event::Leaves(_) | Event::Comes(_) => continue,
                };
                gone += weight(lamp);
                cost += before * (weight(lamp) / risk).min(1.0) * paid;
            }
            if gone > 0.0 {
                left = before * (1.0 - gone / risk).max(0.0);
                if left < 1e-12 * before {
                    return Ok((now >= last).then(|| cost / hours));
                }
            }
            for &(_, event) in group {
                match event {
                    Event::Leaves(lamp) => risk -= weight(lamp),
                    Event::Comes(lamp) => risk += weight(lamp),
                    Event::Fails(..) | Event::Changed(_) => {}
                }
            }
        }
        Ok((hours > 0.0).then(|| (cost + left * self.costs.planned_at(age)) / hours))
    }

    /// What the model adds past the reach of the rows, given that a lamp reached it.
    fn past_rows(&self, c: &mut Cycle, from: f64) -> Result<()> {
        let (to, Some(life)) = (self.asked.planned_age_hours, &self.life) else { return Ok(()) };
        if to <= from || c.reliability <= 0.0 {
            return Ok(());
        }
        let (start, at_start) = (life.ln_reliability(from), c.reliability);
        if start == f64::NEG_INFINITY {
            let problem = Problem::new("replay.model", "no lamp of the model reaches the end of the rows")
                .at(Place::input("model"))
                .got(hour(from));
            return Err(Error::new(Kind::Domain, problem.expected("a model with reliability above 0 there")));
        }
        c.model_hours = at_start * (life.mean_to(to)? - life.mean_to(from)?) / start.exp();
        c.hours += c.model_hours;
        let mut before = at_start;
        for step in 1..=STEPS {
            let share = |s: usize| from + (to - from) * s as f64 / STEPS as f64;
            let after = at_start * (life.ln_reliability(share(step)) - start).exp();
            let middle = f64::midpoint(share(step - 1), share(step));
            for (&ending, &part) in &self.shares {
                let fall = (before - after).max(0.0) * part;
                *c.by_ending.entry(ending).or_insert(0.0) += fall;
                c.cost += fall * self.cost(ending, middle)?;
            }
            before = after;
        }
        c.reliability = before;
        Ok(())
    }
}

/// The records of a lamp class read as if lamps had been changed at another age, with what it would have cost.
///
/// # Formula
/// ```text
/// cost per hour = [planned R(A) + sum_j of cost_j x F_j(A)] / integral of R over (0, A)
/// R, F_j: product-limit curve and incidence of the rows, every hour past A left out
/// ```
/// A lamp that passed `A` tells all of the rule: it would have been changed there. One that failed before tells it too. One
/// that left earlier on plan, was moved or still burns tells of the hours it burned, and is counted in `left`: what it would
/// have done to `A` is taken from lamps that went on, as if those that left were no better or worse. Past the oldest age
/// that lamps were seen to reach, no row tells anything, unless every lamp that came so far failed there: the answer is
/// refused, or with a model goes on from there by the model's chance, and says how many hours rest on it.
///
/// The rule is compared with whole lives as lamps were changed, by the same product limit with planned changes as endings:
/// what was paid so far leaves out the lamps that still burn, and would make of every rule a loss where records begin with new
/// lamps. Moved, converted and other removals cost nothing, and tell of the hours burned.
///
/// # Arguments
/// `costs`: of a planned change, less what the used lamp is worth at its age, and of each failure seen, less any warranty at
/// the age of the failure. `limit`: no rule
/// past it is replayed.
///
/// # Errors
/// `replay.no_lamp`; `replay.age_past_limit`; `replay.age` unless it is above 0; `replay.options` for a level outside 0 to 1
/// and fewer than 20 replicates; `replay.past_rows` for an age that no row reaches, without a model;
/// `replay.emptied` where every lamp at risk failed at an age that others passed; `replay.nothing_after` where no lamp was
/// under observation after the day; `replay.no_failures` where a model is needed and no failure tells its ending;
/// `terms.cost_missing`.
///
/// # Numerics
/// Intervals are percentiles over replicates in which each lamp has an exponential weight, the same bytes on any number of
/// threads. They hold what other lamps might have told, not whether the model holds past the rows, and no failure of a kind that
/// was not seen: [`RareEnding`] bounds what was seen at most twice, by lamps under observation from new alone.
///
/// # Source
/// E. L. Kaplan and P. Meier (1958), JASA 53, 457-481 (reduced sample and product limit); R. E. Barlow and F. Proschan
/// (1965), Mathematical Theory of Reliability, chapter 4 (cost per hour of a change at an age). From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::records::{Ending, LifeRecord, Lives, Spell, Spells, Word};
/// use relamp::replay::{AgeReplay, replay_age};
/// use relamp::terms::{Costs, PrintedHours};
/// let (class, name, none) = (Word::from("2 kW"), Word::from("A"), Word::default());
/// let told = [(600.0, Ending::Burst), (1500.0, Ending::Planned), (1500.0, Ending::Planned), (1400.0, Ending::Burst)];
/// let spells: Spells = told.iter().map(|&(hours, ending)| Spell {
///     file: &none, line: 1, serial: &name, lamp_class: &class, site: &name, screen: &name, supplier: &none,
///     batch: &none, fitted_on: "2025-01-01".parse().unwrap(), removed_on: Some("2025-07-01".parse().unwrap()),
///     read_on: "2025-07-01".parse().unwrap(), fitted_hours: 0.0, entry_hours: 0.0, low_hours: hours,
///     end_hours: hours, strikes: None, reason: &none, ending,
/// }).collect();
/// let risk: Vec<[(f64, f64); 1]> = told.iter().map(|t| [(0.0, t.0)]).collect();
/// let lives: Lives = told.iter().enumerate().map(|(i, &(hours, ending))| LifeRecord {
///     serial: &name, lamp_class: &class, supplier: &none, batch: &none, spells: [&[0], &[1], &[2], &[3_usize]][i],
///     at_risk: &risk[i], low_hours: hours, end_hours: hours, ending,
/// }).collect();
/// let printed = PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() };
/// let (costs, limit) = (Costs::new(1000.0, [(Ending::Burst, 5000.0)])?, printed.limit()?);
/// // At 1,000 h three of the four lamps are changed on plan, and one burst at 600 h.
/// let at = replay_age(&lives, &spells, &costs, &limit, &AgeReplay::new("2 kW", 1000.0), &Run::new())?;
/// assert!((at.cost_per_hour - 8000.0 / 3600.0).abs() < 1e-12);
/// assert_eq!((at.reached, at.failed, at.left, at.hours_from_model), (3, 1, 0, 0.0));
/// // No lamp was seen to 2,000 h.
/// let late = replay_age(&lives, &spells, &costs, &limit, &AgeReplay::new("2 kW", 2000.0), &Run::new());
/// assert_eq!(late.unwrap_err().slug(), "replay.past_rows");
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn replay_age(
    lives: &Lives,
    spells: &Spells,
    costs: &Costs,
    limit: &HourLimit,
    asked: &AgeReplay,
    run: &Run,
) -> Result<ReplayedAge> {
    check(asked, limit)?;
    let told = of_class(lives, spells, &asked.lamp_class, &asked.failure_endings)?;
    let stretches = stretches(&told, asked.since);
    if stretches.is_empty() {
        let problem = Problem::new("replay.nothing_after", "no lamp was under observation after the day")
            .at(Place::input("since"))
            .got(asked.since.map_or_else(String::new, |d| d.to_string()))
            .expected(format!("a day before {}", span(&told).1));
        return Err(Error::new(Kind::Input, problem));
    }
    let mut shares: BTreeMap<Ending, f64> = BTreeMap::new();
    for ending in stretches.iter().filter_map(|s| s.failure) {
        *shares.entry(ending).or_insert(0.0) += 1.0;
    }
    costs.cover(&shares.keys().copied().collect::<Vec<_>>())?;
    let failures: f64 = shares.values().sum();
    for share in shares.values_mut() {
        *share /= failures;
    }
    let reach = reach(&stretches);
    // Where every lamp that was left failed, the rows are complete: none is left for a later age.
    let complete = !stretches.iter().any(|s| s.to > reach || (s.to >= reach && s.failure.is_none()));
    let past = asked.planned_age_hours > reach && !complete;
    let life = match (&asked.model, past) {
        (_, false) => None,
        (Some(model), true) => Some(model.life()?),
        (None, true) => {
            let problem = Problem::new("replay.past_rows", "no row tells what lamps would have done to that age")
                .at(Place::input("planned_age_hours"))
                .got(hour(asked.planned_age_hours))
                .expected(format!("at most {}, the oldest age seen, or a model", hour(reach)));
            return Err(Error::new(Kind::Refused, problem));
        }
    };
    if past && shares.is_empty() {
        let problem = Problem::new("replay.no_failures", "no failure tells in which way lamps of the model would end");
        return Err(Error::new(Kind::Refused, problem.at(Place::input("model")).expected("a failure in the records")));
    }
    let judge = Judge { asked, costs, events: events(&stretches), reach, life, shares };
    let even = vec![1.0; told.len()];
    let cycle = judge.cycle(&even)?;
    if let Some(age) = cycle.emptied.filter(|age| *age < asked.planned_age_hours.min(reach)) {
        let problem = Problem::new("replay.emptied", "every lamp at risk failed at an age that others passed")
            .at(Place::input("since"))
            .got(hour(age));
        return Err(Error::new(Kind::Refused, problem.expected("more lamps under observation from new")));
    }
    let (best_happened, burned) = happened(&stretches, &even, &judge)?;
    let whole_lives = judge.whole_lives(&even)?;
    // Weights may empty the lamps at risk where all of them do not: what was paid so far then stands for those.
    let followed = |weights: &[f64]| -> Result<f64> {
        match whole_lives.and(judge.whole_lives(weights)?) {
            Some(cost) => Ok(cost),
            None => Ok(happened(&stretches, weights, &judge)?.0),
        }
    };
    let each = run.map(asked.replicates, |i| {
        let mut stream = Stream::new(asked.seed, "replay", &asked.lamp_class, i as u64);
        let weights: Vec<f64> = told.iter().map(|_| stream.exponential()).collect();
        Ok((judge.cycle(&weights)?, followed(&weights)?))
    })?;
    let each: Vec<(Cycle, f64)> = each.into_iter().collect::<Result<_>>()?;
    let interval = |of: &dyn Fn(&(Cycle, f64)) -> f64| {
        let mut values: Vec<f64> = each.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        let tail = 0.5 * (1.0 - asked.level);
        (percentile(&values, tail).unwrap_or(0.0), percentile(&values, 1.0 - tail).unwrap_or(0.0))
    };
    let per_hour = |c: &Cycle| c.cost / c.hours;
    let cost = per_hour(&cycle);
    let age = asked.planned_age_hours;
    let seen = |ending: Ending| stretches.iter().filter(|s| s.failure == Some(ending) && s.to < age).count() as u64;
    let endings: Vec<ReplayedEnding> = cycle
        .by_ending
        .iter()
        .map(|(&ending, share)| ReplayedEnding {
            ending,
            per_1000_lamps: 1000.0 * share,
            interval: interval(&|e| 1000.0 * e.0.by_ending.get(&ending).copied().unwrap_or(0.0)),
            seen: seen(ending),
        })
        .collect();
    let failed: u64 = endings.iter().map(|e| e.seen).sum();
    let reached = stretches.iter().filter(|s| s.from < age && s.to >= age).count() as u64;
    let lamps = {
        let mut lamps: Vec<usize> = stretches.iter().filter(|s| s.from < age).map(|s| s.lamp).collect();
        lamps.dedup();
        lamps.len() as u64
    };
    let rare = rare(&judge, &stretches, &cycle, &endings)?;
    let saving = whole_lives.unwrap_or(best_happened) - cost;
    let saving_interval = interval(&|e| e.1 - per_hour(&e.0));
    let mut replayed = ReplayedAge {
        asked: asked.clone(),
        limit_hours: limit.hours(),
        happened_cost_per_hour: best_happened,
        whole_lives_cost_per_hour: whole_lives,
        happened_hours: burned,
        happened_planned: stretches.iter().filter(|s| s.planned).count() as u64,
        happened_failures: stretches.iter().filter(|s| s.failure.is_some()).count() as u64,
        cost_per_hour: cost,
        cost_interval: interval(&|e| per_hour(&e.0)),
        saving_per_hour: saving,
        saving_interval,
        mean_age_at_change_hours: cycle.hours.min(age),
        endings,
        rare,
        reached,
        failed,
        left: lamps.saturating_sub(reached + failed),
        rows_reach_hours: reach,
        hours_from_model: cycle.model_hours,
        sentence: String::new(),
        notes: Vec::new(),
    };
    replayed.sentence = sentence(&replayed);
    replayed.notes = notes(&replayed);
    Ok(replayed)
}

/// What failures that were hardly seen before the planned age may still do.
fn rare(
    judge: &Judge<'_>,
    stretches: &[Stretch],
    cycle: &Cycle,
    endings: &[ReplayedEnding],
) -> Result<Vec<RareEnding>> {
    let age = judge.asked.planned_age_hours;
    // Only a lamp seen from new tells of a chance without a word on how it is spread over age.
    let whole = |s: &&Stretch| s.from == 0.0 && (s.to >= age || s.failure.is_some());
    let lamps = stretches.iter().filter(whole).count() as u64;
    let mut all = Vec::new();
    for &ending in &judge.asked.failure_endings {
        let Ok(failure_cost) = judge.costs.failure(ending) else { continue };
        let at = endings.iter().find(|e| e.ending == ending);
        if at.is_some_and(|e| e.seen > FEW) {
            continue;
        }
        let seen = stretches.iter().filter(whole).filter(|s| s.failure == Some(ending) && s.to < age).count() as u64;
        let extra = Extra {
            cost: cycle.cost,
            hours: cycle.hours,
            age_hours: age,
            failure_cost,
            planned_cost: judge.costs.planned_at(age),
        };
        all.push(RareEnding::of(ending, (seen, lamps), at.map_or(0.0, |e| 0.001 * e.per_1000_lamps), &extra)?);
    }
    Ok(all)
}

fn check(asked: &AgeReplay, limit: &HourLimit) -> Result<()> {
    let mut problems = Vec::new();
    let age = asked.planned_age_hours;
    let place = Place::input("planned_age_hours");
    if age > limit.hours() {
        let problem = Problem::new("replay.age_past_limit", "a rule past the hour limit is not replayed");
        let expected = format!("at most {}", hour(limit.hours()));
        return Err(Error::new(Kind::Limit, problem.at(place).got(hour(age)).expected(expected)));
    }
    if age.is_nan() || age <= 0.0 {
        problems.push(Problem::new("replay.age", "no age of a change").at(place).got(age).expected("hours above 0"));
    }
    let options = |column: &str, got: String, expected: &str| {
        let place = Place::input("options").column(column);
        Problem::new("replay.options", "an option out of range").at(place).got(got).expected(expected)
    };
    if !(asked.level > 0.0 && asked.level < 1.0) {
        problems.push(options("level", asked.level.to_string(), "above 0 and below 1"));
    }
    if !(20..=100_000).contains(&asked.replicates) {
        problems.push(options("replicates", asked.replicates.to_string(), "20 to 100,000"));
    }
    if asked.failure_endings.is_empty() {
        problems.push(options("failure_endings", "none".to_owned(), "one or more endings"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

fn stretches(told: &[Told<'_>], since: Option<NaiveDate>) -> Vec<Stretch> {
    let mut all = Vec::new();
    for (lamp, t) in told.iter().enumerate() {
        if since.is_some_and(|day| t.last_day() <= day) {
            continue;
        }
        let start = since.and_then(|day| t.age_on(day)).unwrap_or(0.0);
        let last = t.life.at_risk.len() - 1;
        for (i, &(from, to)) in t.life.at_risk.iter().enumerate() {
            let failure = (t.failed && i == last).then_some(t.life.ending);
            let to = if failure.is_some() { t.failure_age() } else { to };
            // A failure found after the day, placed before it, lies just after it.
            let from = from.max(start).min(if failure.is_some() { 0.999_999 * to } else { f64::INFINITY });
            if to > from {
                let planned = i == last && t.life.ending == Ending::Planned;
                all.push(Stretch { lamp, from, to, failure, planned });
            }
        }
    }
    all
}

/// Cost per hour and hours as they happened.
fn happened(stretches: &[Stretch], weights: &[f64], judge: &Judge<'_>) -> Result<(f64, f64)> {
    let (mut cost, mut burned) = (0.0, 0.0);
    for s in stretches {
        let weight = weights.get(s.lamp).copied().unwrap_or(0.0);
        burned += weight * (s.to - s.from);
        cost += weight
            * match s.failure {
                Some(ending) => judge.cost(ending, s.to)?,
                None if s.planned => judge.costs.planned_at(s.to),
                None => 0.0,
            };
    }
    Ok((cost / burned, burned))
}

/// An age with its unit.
fn hour(age: f64) -> String {
    format!("{} h", hours(age))
}

fn sentence(r: &ReplayedAge) -> String {
    let rests = if r.hours_from_model > 0.0 {
        format!("rows tell of it to {} only, and the model beyond", hour(r.rows_reach_hours))
    } else {
        format!("by the rows alone: {} reached it", counted(r.reached, "lamp"))
    };
    let percent = |x: f64| format!("{:.1} %", 100.0 * x / r.followed() + 0.0);
    // Rounding is no saving and no loss.
    let nothing = 1e-9 * r.followed();
    let (low, high) = r.saving_interval;
    let few = r.failed <= FEW && r.hours_from_model == 0.0;
    let told = if r.followed() <= 0.0 {
        "as it happened nothing was paid for".to_owned()
    } else if few {
        // Weights on lamps of which none failed make an interval of no width: it would say more than the rows do.
        let (how, by) = (if r.saving_per_hour < 0.0 { "cost" } else { "saved" }, percent(r.saving_per_hour.abs()));
        let more = if r.saving_per_hour < 0.0 { " more" } else { "" };
        let seen = if r.failed == 0 { "no lamp".to_owned() } else { format!("only {}", counted(r.failed, "lamp")) };
        format!("as seen it would have {how} {by}{more}, but {seen} failed before it, so that no interval is told")
    } else if low > nothing {
        format!("it would have saved {} ({} to {})", percent(r.saving_per_hour), percent(low), percent(high))
    } else if high < -nothing {
        format!("it would have cost {} more ({} to {})", percent(-r.saving_per_hour), percent(-high), percent(-low))
    } else {
        format!("no saving or loss is told: {} to {} of the cost", percent(low), percent(high))
    };
    format!("a change at {}: {told}; {rests}", hour(r.asked.planned_age_hours))
}

fn notes(r: &ReplayedAge) -> Vec<Note> {
    let mut notes = Vec::new();
    let mut say = |slug: &str, text: String| notes.push(Note { slug: slug.to_owned(), text });
    if r.hours_from_model > 0.0 {
        let text = format!(
            "no lamp was seen past {}: beyond it the answer is the model's, whose own doubt no interval here holds",
            hour(r.rows_reach_hours)
        );
        say("replay.from_model", text);
    } else if r.reached < FEW_LAMPS {
        say(
            "replay.few_reached",
            format!("only {} seen to reach the planned age: a rough answer", counted(r.reached, "lamp")),
        );
    }
    if r.failed <= FEW && r.hours_from_model == 0.0 {
        let slug = if r.failed == 0 { "replay.no_failure_seen" } else { "replay.few_failures" };
        let seen = match r.failed {
            0 => "no lamp was".to_owned(),
            1 => "only one lamp was".to_owned(),
            n => format!("only {} were", counted(n, "lamp")),
        };
        let bounds: Vec<String> = r.rare.iter().filter(|e| e.lamps > 0).map(RareEnding::words).collect();
        let bounds = if bounds.is_empty() { String::new() } else { format!("; {}", bounds.join("; ")) };
        let hold = if r.failed == 0 { "no failure" } else { "hardly a failure" };
        let text = format!("{seen} seen to fail before the planned age, and the intervals hold {hold}{bounds}");
        say(slug, text);
    }
    if let Some(whole) = r.whole_lives_cost_per_hour.filter(|w| (w / r.happened_cost_per_hour - 1.0).abs() > UNPAID) {
        let text = format!(
            "what was paid so far is {} an hour burned, whole lives as lamps were changed cost {}: lamps that still burn are not \
             paid for yet, or some were older when the records begin; the rule is compared with whole lives",
            short(r.happened_cost_per_hour),
            short(whole)
        );
        say("replay.not_paid_yet", text);
    }
    if r.left > 0 {
        let text = format!(
            "{} left before the planned age without a failure, or still burn; what they would have done is taken from \
             those that went on",
            counted(r.left, "lamp")
        );
        say("replay.left_before", text);
    }
    notes
}
