//! All lamps of a site when one of them reaches an age, and failures one by one in between.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, Band, priced_age};
use super::cost::{EndingCost, within_limit};
use super::curve::WorldCurve;
use super::objective::Objective;
use super::reach::{Reach, further, is_ceiling};
use super::search::{Mark, grid, runs_below};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, full_hours};
use crate::base::math::least::least;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::family::Joint;
use crate::fit::World;
use crate::renewal::{ChangeRule, Laid, Together};
use crate::terms::{Costs, HourLimit, LARGEST_AMOUNT, Salvage};

/// Most lamps of a site: beyond it the first lamp to reach the age is next to always one of those fitted together.
const MOST_LAMPS: u32 = 1000;
/// Steps of the search in ln age.
const STEPS: usize = 40;
/// Logarithm of the chance to reach an age, below which a change of all there is as good as none.
const NEVER_LN: f64 = -20.0;
/// Depth of a dip between neighbouring ages, relative, below which it is rounding.
const DIP: f64 = 1e-11;
/// Saving, percent, below which the change of all together is not said to pay.
const FLAT: f64 = 0.1;
/// Percent above the least cost up to which ages count as near the best.
const NEAR_PERCENT: f64 = 1.0;
/// Half-width of the end of ages near the best, in ln age: the cost itself is held to six digits.
const CROSSING: f64 = 1e-7;
/// What a figure may be wrong by, relative, before it is refused.
const WRONG: f64 = 1e-6;

/// The screens of a site whose lamps are changed together, and what it costs to come.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteTerms {
    /// Screens of the site, each with one lamp: 1 to 1,000.
    pub lamps: u32,
    /// Cost of a visit for a change, whatever the number of lamps changed, beside the costs of the changes.
    pub visit_cost: f64,
}

impl SiteTerms {
    fn check(&self) -> Result<()> {
        let mut problems = Vec::new();
        let place = |column: &str| Place::input("site").column(column);
        if !(1..=MOST_LAMPS).contains(&self.lamps) {
            let problem = Problem::new("policy.site_lamps", "a site has a number of lamps").at(place("lamps"));
            problems.push(problem.got(self.lamps).expected("1 to 1,000"));
        }
        if !(0.0..=LARGEST_AMOUNT).contains(&self.visit_cost) {
            let problem = Problem::new("policy.site_visit_cost", "the cost of a visit is no amount of money");
            problems.push(problem.at(place("visit_cost")).got(self.visit_cost).expected("0 to 1e12"));
        }
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }
}

impl Sound for SiteTerms {
    fn check(&self, c: &mut Checks) {
        c.need("lamps", (1..=MOST_LAMPS).contains(&self.lamps), self.lamps, "1 to 1,000");
        c.not_negative("visit_cost", self.visit_cost);
    }
}

/// Long-run cost per lamp hour when all lamps of a site are changed as one of them reaches an age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteCost {
    /// Age of the lamp that brings the change of all, hours.
    pub age_hours: f64,
    /// Cost per lamp hour, visits and all; the sum of the parts below.
    pub cost_per_hour: f64,
    /// Part that the changes of all bring with their visits, less what the used lamps are worth.
    pub together_cost_per_hour: f64,
    /// Parts that failures bring with their visits, less any money back, by ending in the order of the endings.
    pub by_ending: Vec<EndingCost>,
    /// Mean hours from one change of all to the next: the age or more, as each lamp may fail before it.
    pub hours_between: f64,
    /// Mean number of failures of one screen in that time.
    pub failures: f64,
    /// Mean worth of the used lamp that a change of all takes out of a screen.
    pub used_worth: f64,
}

impl Sound for SiteCost {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.positive("together_cost_per_hour", self.together_cost_per_hour);
        for (i, part) in self.by_ending.iter().enumerate() {
            c.not_negative(&format!("by_ending[{i}].cost_per_hour"), part.cost_per_hour);
        }
        let failures: f64 = self.by_ending.iter().map(|part| part.cost_per_hour).sum();
        c.equal("cost_per_hour", self.cost_per_hour, self.together_cost_per_hour + failures);
        let (age, between) = (self.age_hours, self.hours_between);
        c.need("hours_between", between >= age * (1.0 - 1e-9), between, format!("at least {age}"));
        c.not_negative("failures", self.failures);
        c.not_negative("used_worth", self.used_worth);
    }
}

/// Whether changes of all lamps of a site together pay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SiteVerdict {
    /// They cost less at some age than changing each lamp by its own age.
    TogetherPays,
    /// At no age, or next to nothing.
    AlonePays,
}

/// The age of least cost at which all lamps of a site are changed. No age in it passes the limit, nor the records unless a
/// reason lets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteAge {
    /// Whether such changes pay.
    pub verdict: SiteVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// The site and the cost of a visit.
    pub terms: SiteTerms,
    /// The best age of the site, whole hours, rounded down, also where it does not pay.
    pub age_hours: f64,
    /// What it costs.
    pub cost: SiteCost,
    /// Age of least cost, before rounding.
    pub optimum_hours: f64,
    /// Cost per lamp hour there.
    pub optimum_cost_per_hour: f64,
    /// Ages at which the cost stops falling, with the cost there, ascending.
    pub minima: Vec<(f64, f64)>,
    /// Ages that cost at most 1 % more than the least.
    pub near_best: Vec<Band>,
    /// Best age of each lamp by itself, a visit for every change.
    pub alone_age_hours: f64,
    /// Cost per lamp hour of that.
    pub alone_cost_per_hour: f64,
    /// The limit in force, hours.
    pub limit_hours: f64,
    /// The age that no answer passes: the limit, or the oldest lamp at risk if earlier.
    pub ceiling_hours: f64,
    /// Age of the oldest lamp at risk, where it was given.
    pub oldest_at_risk_hours: Option<f64>,
}

impl SiteAge {
    /// Whether the age lies past the oldest lamp at risk, where the model is an opinion.
    pub fn past_records(&self) -> bool {
        self.oldest_at_risk_hours.is_some_and(|oldest| self.age_hours > oldest)
    }

    /// What changing all together saves, percent of the cost of each lamp by itself.
    fn saving(cost: f64, alone: f64) -> f64 {
        100.0 * (alone - cost) / alone
    }

    fn verdict_of(cost: f64, alone: f64) -> SiteVerdict {
        if Self::saving(cost, alone) >= FLAT { SiteVerdict::TogetherPays } else { SiteVerdict::AlonePays }
    }
}

impl Sound for SiteAge {
    fn check(&self, c: &mut Checks) {
        let is = is_ceiling(self.ceiling_hours, self.limit_hours, self.oldest_at_risk_hours);
        c.need("ceiling_hours", is, self.ceiling_hours, "the limit, or the oldest lamp at risk before it");
        c.part("terms", &self.terms);
        c.part("cost", &self.cost);
        c.advice("age_hours", self.age_hours, self.ceiling_hours);
        c.equal("cost.age_hours", self.cost.age_hours, self.age_hours);
        c.age("optimum_hours", self.optimum_hours, self.ceiling_hours);
        c.follows("age_hours", &self.age_hours, &self.optimum_hours.floor());
        let (least, here) = (self.optimum_cost_per_hour, self.cost.cost_per_hour);
        c.need("optimum_cost_per_hour", least > 0.0 && least <= here * (1.0 + 1e-9), least, format!("at most {here}"));
        c.age("alone_age_hours", self.alone_age_hours, self.limit_hours);
        c.positive("alone_cost_per_hour", self.alone_cost_per_hour);
        let pays = Self::verdict_of(here, self.alone_cost_per_hour);
        c.need("verdict", self.verdict == pays, as_saved(&self.verdict), "what the two costs say");
        let mut before = 0.0;
        for (i, (hours, cost)) in self.minima.iter().enumerate() {
            c.ends(&format!("minima[{i}]"), before, *hours);
            c.age(&format!("minima[{i}]"), *hours, self.ceiling_hours);
            c.need(&format!("minima[{i}]"), *cost >= least * (1.0 - 1e-9), cost, format!("at least {least}"));
            before = *hours;
        }
        for (i, band) in self.near_best.iter().enumerate() {
            c.age(&format!("near_best[{i}].to_hours"), band.to_hours, self.ceiling_hours);
            c.ends(&format!("near_best[{i}].from_hours"), band.from_hours, band.to_hours);
        }
    }
}

/// Long-run cost per lamp hour of a site at each of the given ages, all its lamps changed when one of them reaches it.
///
/// # Formula
/// ```text
/// C(A) = [c_v + n (c_p - W) + n sum_j ((c_j + c_v) N_j - B_j)] / (n H)
/// H = integral of G(t)^n;   N_j = integral of h_j(u) R(u) w(u) over (0, A);   H is the same of R(u) w(u)
/// G(t) = 1 before A, then integral of G(t - x) dF(x) over (0, A)
/// w(u) = 1 + integral of G(s + u)^(n-1) dm(s),   m(t) = F(min(t, A)) + integral of m(t - x) dF(x) over (0, A)
/// one lamp: the rule of one age;   very many: G^n is 0 from A on, and all are changed every A hours
/// ```
/// `n` lamps, all new at the start; `c_v` cost of a visit, one for each change of all and one for each failure; `H` mean hours
/// from one change of all to the next; `N_j` mean failures of a screen by cause j and `B_j` its mean money back in that time;
/// `w(u)` mean lamps of a screen that come to burn at age u, if they reach it, before the change of all; `W` mean worth
/// of a used lamp then, `s(0) (1 + N) - integral of [s(u) h(u) - s'(u)] R(u) w(u)`. All screens burn the same hours.
///
/// For a site with many lamps this is [`block_costs`](super::block_costs) at an interval of `A` with `c_p + c_v / n` for a lamp
/// of the change and `c_v` in each failure: with `n` lamps it is next to certain that one of those fitted together comes to
/// `A`. That takes a fixed interval whatever fails; here lamps that all failed and were renewed burn on to their own age.
///
/// # Errors
/// `policy.site_lamps`, `policy.site_visit_cost`; those of [`cost_curve`](super::cost_curve) for the ages; `renewal.jumps` for
/// a life made of steps; `renewal.site_age` for an age that next to no lamp reaches; `policy.site_unsettled` where the figures
/// cannot be had to six digits.
///
/// # Source
/// The renewal argument for a rule that starts all lamps anew: Barlow and Proschan, Mathematical Theory of Reliability (1965),
/// chapter 3. The chance that no lamp has come to an age is the probability of no run without an event: Feller, An
/// Introduction to Probability Theory and Its Applications, volume 2 (1971), chapter XI. From memory; [`crate::simulate`]
/// plays the same rule out.
///
/// # Examples
/// ```
/// use relamp::family::Exponential;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{SiteTerms, site_costs};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Exponential { scale: 1000.0 }) }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// // At an even rate failures bring 5.2 and their visits 0.3 an hour, whatever is changed before.
/// let site = SiteTerms { lamps: 4, visit_cost: 300.0 };
/// let cost = site_costs(&world, &site, &[500.0], &printed.limit()?)?.remove(0);
/// assert!((cost.by_ending[0].cost_per_hour - 5.5).abs() < 1e-9);
/// assert!((cost.together_cost_per_hour * cost.hours_between - (950.0 + 300.0 / 4.0)).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn site_costs(world: &World, terms: &SiteTerms, ages_hours: &[f64], limit: &HourLimit) -> Result<Vec<SiteCost>> {
    terms.check()?;
    within_limit(ages_hours, limit)?;
    let curve = WorldCurve::new(world)?;
    let joint = curve.joint();
    let site = Site::new(world, &curve, &joint, *terms, limit.hours())?;
    ages_hours.iter().map(|age| site.cost(*age)).collect()
}

/// The age of least long-run cost at which all lamps of a site are changed when one of them reaches it.
///
/// The cost is searched from the earliest age that can win to the limit, or where the records end, or next to no lamp comes;
/// the landmarks of the lives and both sides of each kink are looked at too, and each dip is narrowed. It is compared with
/// each lamp changed by its own best age, a visit for every change.
///
/// # Errors
/// Those of [`site_costs`], [`planned_age`](super::planned_age) and [`Reach::ceiling`]; `policy.site_below_hour` where the best
/// age is below one hour.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{Reach, SiteTerms, SiteVerdict, site_age};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 4.0, scale: 2000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(700.0, [(Ending::Burst, 4000.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(3000.0), source: "invented".into(), ..PrintedHours::default() };
/// let limit = printed.limit()?;
/// // A journey of 500 for four lamps at once, or for each.
/// let best = site_age(&world, &SiteTerms { lamps: 4, visit_cost: 500.0 }, &limit, &Reach::default())?;
/// assert_eq!(best.verdict, SiteVerdict::TogetherPays);
/// // Where nothing is saved by coming once, a lamp by itself costs less.
/// let near = site_age(&world, &SiteTerms { lamps: 4, visit_cost: 0.0 }, &limit, &Reach::default())?;
/// assert_eq!(near.verdict, SiteVerdict::AlonePays);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn site_age(world: &World, terms: &SiteTerms, limit: &HourLimit, reach: &Reach) -> Result<SiteAge> {
    terms.check()?;
    let ceiling = reach.ceiling(limit)?;
    let curve = WorldCurve::new(world)?;
    let joint = curve.joint();
    let site = Site::new(world, &curve, &joint, *terms, limit.hours())?;
    let options = AgeOptions {
        oldest_at_risk_hours: reach.oldest_at_risk_hours,
        extrapolate_because: reach.extrapolate_because.clone(),
        ..AgeOptions::default()
    };
    let alone = priced_age(world, &site.with_visits, limit, &options)?;
    let top = site.latest(ceiling);
    let cost = |age: f64| site.cost(age).map(|cost| cost.cost_per_hour);
    let at_top = cost(top)?;
    // Every lamp lasts its age at most, and each change costs as much as the cheapest.
    let from = (0.5 * site.cheapest() / at_top).min(0.5 * top);
    let mut points = Vec::new();
    for (age, mark) in grid(&curve, from, top, STEPS) {
        points.push((age, cost(age)?, mark));
    }
    let minima = dips(&cost, &points)?;
    let best =
        minima.iter().copied().chain([(top, at_top)]).min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((top, at_top));
    // Past the last age that lamps come to nothing changes any more.
    let optimum_hours = if best.0 == top { ceiling.min(best.0) } else { best.0 };
    let age_hours = optimum_hours.floor();
    if age_hours < 1.0 {
        let what = "the best age of the site is below one hour: check the costs and units";
        return Err(Error::new(Kind::Refused, Problem::new("policy.site_below_hour", what).got(optimum_hours)));
    }
    let advice = site.cost(age_hours)?;
    let verdict = SiteAge::verdict_of(advice.cost_per_hour, alone.cost.cost_per_hour);
    let near_best = bands(&cost, &points, best, limit, ceiling)?;
    let sentence = sentence(verdict, terms, (&advice, alone.cost.cost_per_hour), (ceiling, limit), alone.age_hours)
        + &further(age_hours, reach.oldest_at_risk_hours, reach.extrapolate_because.as_deref());
    Ok(SiteAge {
        verdict,
        sentence,
        terms: *terms,
        age_hours,
        optimum_hours,
        optimum_cost_per_hour: best.1.min(advice.cost_per_hour),
        cost: advice,
        minima,
        near_best,
        alone_age_hours: alone.age_hours,
        alone_cost_per_hour: alone.cost.cost_per_hour,
        limit_hours: limit.hours(),
        ceiling_hours: ceiling,
        oldest_at_risk_hours: reach.oldest_at_risk_hours,
    })
}

fn sentence(
    verdict: SiteVerdict,
    terms: &SiteTerms,
    (advice, alone): (&SiteCost, f64),
    (ceiling, limit): (f64, &HourLimit),
    alone_age: f64,
) -> String {
    let (age, own) = (full_hours(advice.age_hours), full_hours(alone_age));
    let lamps = counted(u64::from(terms.lamps), "lamp");
    let held = match advice.age_hours.floor() == ceiling.floor() {
        false => "",
        true if ceiling < limit.hours() => ", past which the records support no age",
        true => ", which no lamp may pass",
    };
    match verdict {
        SiteVerdict::TogetherPays => format!(
            "change all {lamps} of the site when one of them reaches {age} h{held}, and a failed lamp by itself before: that costs \
             {:.1} % less than changing each by its own age of {own} h, visits and all",
            SiteAge::saving(advice.cost_per_hour, alone)
        ),
        SiteVerdict::AlonePays => format!(
            "no change of all {lamps} of the site together pays; change each by its own age of {own} h, or at failure"
        ),
    }
}

/// A question with its checks done.
#[derive(Debug)]
struct Site<'a> {
    world: &'a World,
    terms: SiteTerms,
    curve: &'a WorldCurve<'a>,
    joint: &'a Joint<'a>,
    /// Laid out once, so that an age asked for need not begin anew.
    like: Laid<'a>,
    /// What a change costs with a visit of its own.
    with_visits: Costs,
}

impl<'a> Site<'a> {
    fn new(
        world: &'a World,
        curve: &'a WorldCurve<'a>,
        joint: &'a Joint<'a>,
        terms: SiteTerms,
        limit_hours: f64,
    ) -> Result<Self> {
        let like = Laid::new(joint, ChangeRule::at_age(limit_hours), None)?;
        let costs = &world.costs;
        let visit = terms.visit_cost;
        let mut with_visits =
            Costs::new(costs.planned() + visit, costs.by_ending().iter().map(|(e, cost)| (*e, cost + visit)))?;
        if let Some(warranty) = costs.warranty() {
            with_visits = with_visits.with_warranty(warranty.clone())?;
        }
        if let Some(salvage) = costs.salvage() {
            with_visits = with_visits.with_salvage(*salvage)?;
        }
        Ok(Self { world, terms, curve, joint, like, with_visits })
    }

    /// The least that one change can cost, with its part of a visit.
    fn cheapest(&self) -> f64 {
        let shared = self.terms.visit_cost / f64::from(self.terms.lamps);
        self.curve.cheapest() + shared
    }

    /// The age up to which lamps come in numbers that can be seen, not past the ceiling.
    fn latest(&self, ceiling: f64) -> f64 {
        let seen = |age: f64| self.curve.ln_reliability(age) >= NEVER_LN;
        if seen(ceiling) {
            return ceiling;
        }
        let (mut low, mut high) = (0.0, ceiling);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if seen(middle) { low = middle } else { high = middle }
        }
        low
    }

    fn cost(&self, age_hours: f64) -> Result<SiteCost> {
        let laid = Laid::new(self.joint, ChangeRule::at_age(age_hours), Some(&self.like))?;
        let together = Together::new(&laid, self.terms.lamps)?;
        let points = together.points(self.curve.kinks());
        let causes = self.world.causes.len();
        let (mut hours, mut failures, mut lost) = (0.0, vec![0.0; causes], 0.0);
        let mut back = vec![0.0; causes];
        let salvage = self.curve.salvage();
        for (age, weight) in points {
            let there = weight * self.curve.ln_reliability(age).exp();
            if there == 0.0 {
                continue;
            }
            hours += there;
            let mut all = 0.0;
            for (i, hazard) in self.curve.hazards(age).enumerate() {
                let failing = if hazard.is_finite() { there * hazard } else { 0.0 };
                all += failing;
                failures[i] += failing;
                back[i] += failing * self.curve.back(i, age);
            }
            lost += salvage.map_or(0.0, |s| s.worth(age) * all - s.slope(age) * there);
        }
        Self::settled(&together, hours)?;
        let number: f64 = failures.iter().sum();
        let used_worth = salvage.map_or(0.0, |s| self.worth(s, &together, number, lost, age_hours));
        let (n, visit) = (f64::from(self.terms.lamps), self.terms.visit_cost);
        let together_cost_per_hour = (self.curve.planned_cost(f64::INFINITY) - used_worth + visit / n) / hours;
        let by_ending = self.by_ending(&failures, &back, hours)?;
        let cost_per_hour = together_cost_per_hour + by_ending.iter().map(|part| part.cost_per_hour).sum::<f64>();
        Ok(SiteCost {
            age_hours,
            cost_per_hour,
            together_cost_per_hour,
            by_ending,
            hours_between: hours,
            failures: number,
            used_worth,
        })
    }

    /// The mean hours by two roads: a difference, or a follow-up cut short, is told before a number is.
    fn settled(together: &Together, hours: f64) -> Result<()> {
        let apart = (hours / together.hours - 1.0).abs();
        if apart <= WRONG && together.unsettled <= WRONG {
            return Ok(());
        }
        let what = "the changes of the site cannot be followed to where they settle";
        let problem = Problem::new("policy.site_unsettled", what).at(Place::input("age_hours"));
        let got = format!("{:.1e} of the hours between changes", apart.max(together.unsettled));
        Err(Error::new(Kind::Limit, problem.got(got).expected("an age that more lamps reach, or a play of the fleet")))
    }

    /// Mean worth of the used lamps of a screen in a change of all: every lamp begins with the whole worth and loses it by
    /// ageing, at the end of the worth, and by failing.
    fn worth(&self, salvage: &Salvage, together: &Together, failures: f64, lost: f64, age: f64) -> f64 {
        let end = salvage.end_hours();
        let at_end = if end <= age && salvage.drop_at_end() > 0.0 {
            salvage.drop_at_end() * self.curve.ln_reliability(end).exp() * together.fitted(end)
        } else {
            0.0
        };
        (salvage.largest() * (1.0 + failures) - lost - at_end).max(0.0)
    }

    fn by_ending(&self, failures: &[f64], back: &[f64], hours: f64) -> Result<Vec<EndingCost>> {
        let warranty = Objective::CostPerHour.warranty(&self.world.costs);
        let mut parts: BTreeMap<_, f64> = BTreeMap::new();
        for (i, cause) in self.world.causes.iter().enumerate() {
            let of = |list: &[f64]| list.get(i).copied().unwrap_or(0.0);
            let covered = self.curve.covered().and_then(|c| c.get(i)).copied().unwrap_or(0.0);
            let whole: f64 = cause.endings.iter().map(|(_, share)| share).sum();
            for (ending, share) in cause.endings.iter().filter(|(_, share)| *share > 0.0) {
                let share = share / whole;
                let back = if warranty.is_some_and(|w| w.covers(*ending)) { of(back) * share / covered } else { 0.0 };
                let cost = self.with_visits.failure(*ending)? * share * of(failures) - back;
                *parts.entry(*ending).or_insert(0.0) += cost / hours;
            }
        }
        Ok(parts.into_iter().map(|(ending, cost_per_hour)| EndingCost { ending, cost_per_hour }).collect())
    }
}

/// Ages at which the cost stops falling: dips between the ages of the grid, and those just before a jump.
fn dips(cost: &dyn Fn(f64) -> Result<f64>, points: &[(f64, f64, Mark)]) -> Result<Vec<(f64, f64)>> {
    let mut minima = Vec::new();
    for three in points.windows(3) {
        let [a, b, c] = three else { continue };
        if b.2 == Mark::BeforeStep && c.2 == Mark::Step && b.1 < a.1 && b.1 < c.1 * (1.0 - DIP) {
            minima.push((b.0, b.1));
        } else if a.1.min(c.1) - b.1 > DIP * b.1 && b.2 == Mark::Grid {
            minima.push(least(cost, a.0, c.0, 1e-8)?);
        } else if a.1.min(c.1) >= b.1 && b.2 != Mark::Grid {
            minima.push((b.0, b.1));
        }
    }
    minima.dedup_by(|a, b| a.0 <= b.0);
    Ok(minima)
}

/// Stretches of ages that cost at most a stated percent more than the best.
fn bands(
    cost: &dyn Fn(f64) -> Result<f64>,
    points: &[(f64, f64, Mark)],
    best: (f64, f64),
    limit: &HourLimit,
    ceiling: f64,
) -> Result<Vec<Band>> {
    let bound = best.1 * (1.0 + 0.01 * NEAR_PERCENT);
    let mut all: Vec<(f64, f64, Mark)> = points.iter().copied().chain([(best.0, best.1, Mark::Grid)]).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let top = all.last().map_or(ceiling, |last| last.0);
    // What stands at the last age that lamps come to stands at every later one.
    let on = |(from, to): (f64, f64)| (from, if to < top { to } else { ceiling });
    let runs = runs_below(&all, cost, bound, CROSSING)?;
    Ok(runs.into_iter().map(|run| Band::of_run(on(run), ceiling, limit)).collect())
}
