//! Two ages: changed at one whatever happens, and from an earlier one on at a visit that happens anyway.

use serde::{Deserialize, Serialize};

use super::curve::{UpTo, WorldCurve};
use super::reach::{Reach, further, is_ceiling};
use super::visit_even::EvenVisits;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::full_hours;
use crate::base::math::least::least as least_of;
use crate::base::math::quadrature::integrate_many;
use crate::base::math::root::bracketed;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::fit::World;
use crate::terms::{HourLimit, LARGEST_AMOUNT};

/// Relative tolerance of the integrals between the two ages, and of the best age.
const TOLERANCE: f64 = 1e-12;

/// A visit age below this share of the other age is taken as this share: a visit before it is as good as impossible.
const FROM_NEW: f64 = 1e-9;

/// Mean distances after which no lamp is left waiting for a visit that a number could tell from none.
const WAITING: f64 = 700.0;

/// Steps of the search in ln age, and in the logarithm of the hours left to the age.
const STEPS: usize = 96;

/// Visits that happen anyway, at random and without memory or at equal distances, and what a visit for a lamp alone costs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VisitTerms {
    /// Mean burning hours from one visit to the next; where they come at equal distances, each of them.
    pub mean_hours_between_visits: f64,
    /// Cost of a visit made for one lamp alone, beside the cost of its change; 0 where that holds it.
    pub visit_cost: f64,
    /// Whether the visits come at equal distances, such as a round every month; otherwise at random.
    #[serde(default)]
    pub even: bool,
}

/// Long-run cost per lamp hour of two ages, and what ends lamps under them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VisitCost {
    /// Age from which a visit is used, hours.
    pub visit_age_hours: f64,
    /// Age at which a lamp is changed without waiting, hours.
    pub age_hours: f64,
    /// Cost per lamp hour.
    pub cost_per_hour: f64,
    /// Share of lamps that are changed at a visit.
    pub at_visit: f64,
    /// Share that reach the later age.
    pub at_age: f64,
    /// Share that fail, by cause in the order of the world.
    pub failures: Vec<f64>,
    /// Mean age at change, hours.
    pub mean_age_at_change_hours: f64,
}

impl Sound for VisitCost {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.age("visit_age_hours", self.visit_age_hours, self.age_hours);
        c.positive("cost_per_hour", self.cost_per_hour);
        c.share("at_visit", self.at_visit);
        c.share("at_age", self.at_age);
        c.column("failures", &self.failures, Checks::share);
        c.equal("at_visit", self.at_visit + self.at_age + self.failures.iter().sum::<f64>(), 1.0);
        c.age("mean_age_at_change_hours", self.mean_age_at_change_hours, self.age_hours);
    }
}

/// Saving, percent, below which the use of visits is not said to pay.
const FLAT: f64 = 0.1;

/// Whether the use of visits that happen anyway pays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum VisitVerdict {
    /// Lamps changed at visits from some age on cost less than lamps that wait for the later age.
    VisitsPay,
    /// At no age, or next to nothing.
    NoVisitPays,
}

/// The age of least cost from which to use visits. No age in it passes the limit, nor the records unless a reason lets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VisitAge {
    /// Whether the use of visits pays.
    pub verdict: VisitVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// The advice, whole hours rounded down; equal to the later age where visits are best left unused.
    pub visit_age_hours: f64,
    /// The same before rounding.
    pub optimum_hours: f64,
    /// Cost of the advice.
    pub cost: VisitCost,
    /// Cost per hour where visits are not used.
    pub unused_cost_per_hour: f64,
    /// The age of that cost where both ages were searched: the best one without visits. None where the later age was given, at
    /// which visits are then not used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unused_age_hours: Option<f64>,
    /// The later age that was asked for, or found where both were searched, hours; where the records end before it, lamps are changed there.
    pub asked_age_hours: f64,
    /// The limit in force, hours.
    pub limit_hours: f64,
    /// The age that no answer passes: the limit, or the oldest lamp at risk if earlier.
    pub ceiling_hours: f64,
    /// Age of the oldest lamp at risk, where it was given.
    pub oldest_at_risk_hours: Option<f64>,
}

impl VisitAge {
    /// Whether the later age lies past the oldest lamp at risk, where the model is an opinion.
    pub fn past_records(&self) -> bool {
        self.oldest_at_risk_hours.is_some_and(|oldest| self.cost.age_hours > oldest)
    }

    /// What the use of visits saves, percent of the cost without it.
    pub(super) fn saving(cost: f64, unused: f64) -> f64 {
        100.0 * (unused - cost) / unused
    }

    pub(super) fn verdict_of(cost: f64, unused: f64) -> VisitVerdict {
        if Self::saving(cost, unused) >= FLAT { VisitVerdict::VisitsPay } else { VisitVerdict::NoVisitPays }
    }
}

impl Sound for VisitAge {
    fn check(&self, c: &mut Checks) {
        let is = is_ceiling(self.ceiling_hours, self.limit_hours, self.oldest_at_risk_hours);
        c.need("ceiling_hours", is, self.ceiling_hours, "the limit, or the oldest lamp at risk before it");
        c.age("asked_age_hours", self.asked_age_hours, self.limit_hours);
        c.equal("cost.age_hours", self.cost.age_hours, self.asked_age_hours.min(self.ceiling_hours));
        let pays = Self::verdict_of(self.cost.cost_per_hour, self.unused_cost_per_hour);
        c.need("verdict", self.verdict == pays, as_saved(&self.verdict), "what the two costs say");
        c.part("cost", &self.cost);
        c.advice("visit_age_hours", self.visit_age_hours, self.cost.age_hours);
        c.equal("cost.visit_age_hours", self.cost.visit_age_hours, self.visit_age_hours);
        c.follows("visit_age_hours", &self.visit_age_hours, &self.optimum_hours.floor());
        c.positive("unused_cost_per_hour", self.unused_cost_per_hour);
        if let Some(age) = self.unused_age_hours {
            c.age("unused_age_hours", age, self.ceiling_hours);
            c.equal("asked_age_hours", self.asked_age_hours, self.cost.age_hours);
        }
    }
}

/// What lies before and after the visit age.
struct Parts {
    before: UpTo,
    /// Every figure weighted with the chance that no visit came before it.
    after: UpTo,
    /// Chance to reach the later age without a visit.
    at_age: f64,
    /// Mean worth of the used lamps that visits bring in.
    worth: f64,
}

/// A question with its checks done.
pub(super) struct Asked<'a> {
    pub(super) curve: WorldCurve<'a>,
    pub(super) terms: VisitTerms,
    pub(super) age: f64,
}

impl<'a> Asked<'a> {
    pub(super) fn new(world: &'a World, terms: &VisitTerms, age: f64, limit: &HourLimit) -> Result<Self> {
        let mut problems = Vec::new();
        let place = |column: &str| Place::input("visit rule").column(column);
        if !(terms.mean_hours_between_visits > 0.0 && terms.mean_hours_between_visits.is_finite()) {
            let problem =
                Problem::new("policy.visit_hours", "the mean hours between visits must be finite and above 0");
            problems.push(problem.at(place("mean_hours_between_visits")).got(terms.mean_hours_between_visits));
        }
        if !(0.0..=LARGEST_AMOUNT).contains(&terms.visit_cost) {
            let problem = Problem::new("policy.visit_cost", "the cost of a visit is no amount of money");
            problems.push(problem.at(place("visit_cost")).got(terms.visit_cost).expected("0 to 1e12"));
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        if age > limit.hours() {
            let problem = Problem::new("policy.age_past_limit", "a planned age lies past the hour limit");
            let expected = format!("at most {} h", limit.hours());
            return Err(Error::new(Kind::Limit, problem.at(place("age_hours")).got(age).expected(expected)));
        }
        if age.is_nan() || age <= 0.0 {
            let problem = Problem::new("policy.age", "an age to change at must be above 0").at(place("age_hours"));
            return Err(Error::new(Kind::Domain, problem.got(age)));
        }
        Ok(Self { curve: WorldCurve::new(world)?, terms: *terms, age })
    }

    fn parts(&self, visit_age: f64) -> Result<Parts> {
        let from = visit_age.max(FROM_NEW * self.age).min(self.age);
        let before = self.curve.up_to(from)?;
        let waits = |x: f64| (-(x - from) / self.terms.mean_hours_between_visits).exp();
        let there = |x: f64| (self.curve.ln_reliability(x) - (x - from) / self.terms.mean_hours_between_visits).exp();
        let to = self.age.min(from + WAITING * self.terms.mean_hours_between_visits);
        let (mut after, mut worth) = (self.curve.begun(from), 0.0);
        if from < to {
            let width = after.width();
            let used = self.curve.salvage();
            let rates = |x: f64, out: &mut [f64]| {
                let (plain, more) = out.split_at_mut(width);
                self.curve.rates(x, plain);
                for o in plain.iter_mut() {
                    *o *= waits(x);
                }
                if let (Some(salvage), [o], [waiting, ..]) = (used, more, plain) {
                    *o = salvage.worth(x) * *waiting / self.terms.mean_hours_between_visits;
                }
            };
            let all = width + usize::from(used.is_some());
            let added = integrate_many(rates, all, from, to, self.curve.kinks(), TOLERANCE)?;
            after.add(&added);
            worth = added.get(width).copied().unwrap_or(0.0);
        }
        // Curves made of steps fail at their steps only.
        for &kink in self.curve.kinks().iter().filter(|k| **k > from && **k <= to) {
            let mut step = self.curve.begun(kink);
            self.curve.step(kink, &mut step);
            let added: Vec<f64> =
                std::iter::once(&0.0).chain(&step.incidence).chain(&step.money_back).copied().collect();
            after.add(&added.iter().map(|s| s * waits(kink)).collect::<Vec<_>>());
        }
        Ok(Parts { before, after, at_age: there(self.age), worth })
    }

    pub(super) fn cost(&self, visit_age: f64) -> Result<VisitCost> {
        if self.terms.even {
            return self.evenly().cost(visit_age);
        }
        Ok(self.cost_of(visit_age, &self.parts(visit_age)?))
    }

    fn cost_of(&self, visit_age: f64, parts: &Parts) -> VisitCost {
        let (before, after) = (&parts.before, &parts.after);
        let failures: Vec<f64> = before.incidence.iter().zip(&after.incidence).map(|(a, b)| a + b).collect();
        let at_visit = after.exposure_hours / self.terms.mean_hours_between_visits;
        let (planned, at_age) = (self.curve.planned_cost(f64::INFINITY), self.curve.planned_cost(self.age));
        let visit = self.terms.visit_cost;
        let by_failures: f64 = self.curve.costs().iter().zip(&failures).map(|(c, f)| (c + visit) * f).sum();
        let back: f64 = before.money_back.iter().chain(&after.money_back).sum();
        let hours = before.exposure_hours + after.exposure_hours;
        VisitCost {
            visit_age_hours: visit_age,
            age_hours: self.age,
            cost_per_hour: (planned * at_visit - parts.worth + (at_age + visit) * parts.at_age + by_failures - back)
                / hours,
            at_visit,
            at_age: parts.at_age,
            failures,
            mean_age_at_change_hours: hours,
        }
    }

    /// Cost where no visit is used.
    fn unused(&self) -> Result<f64> {
        self.cost_of_age(self.age)
    }

    /// Cost per hour of one age, where no visit is used.
    pub(super) fn cost_of_age(&self, age: f64) -> Result<f64> {
        let upto = self.curve.up_to(age)?;
        let visit = self.terms.visit_cost;
        let failed: f64 = self.curve.costs().iter().zip(&upto.incidence).map(|(c, f)| (c + visit) * f).sum();
        let back: f64 = upto.money_back.iter().sum();
        Ok(((self.curve.planned_cost(age) + visit) * upto.reliability + failed - back) / upto.exposure_hours)
    }

    /// The visit age of least cost beside a later age, and the cost.
    pub(super) fn best_at(&mut self, age: f64) -> Result<(f64, f64)> {
        self.age = age;
        if self.terms.even { self.evenly().best() } else { self.best((age, self.unused()?)) }
    }

    /// The visit age of least cost where visits come at random, and the cost; `unused`: the later age and the cost there.
    fn best(&mut self, unused: (f64, f64)) -> Result<(f64, f64)> {
        let ages = grid(self.age, &self.curve);
        self.curve.remember(&ages)?;
        let (mut points, mut slopes) = (vec![(0.0, self.cost(0.0)?.cost_per_hour)], Vec::new());
        for &age in &ages {
            let parts = self.parts(age)?;
            let cost = self.cost_of(age, &parts);
            slopes.push(self.slope_of(&cost, &parts));
            points.push((age, cost.cost_per_hour));
        }
        let mut roots = Vec::new();
        for (pair, ends) in slopes.windows(2).zip(ages.windows(2)) {
            let ([before, after], [from, to]) = (pair, ends) else { continue };
            // From falling to rising: a least cost lies between.
            if *before < 0.0 && *after >= 0.0 {
                // The logarithm and back may round past an end, where the sign is known already.
                let (low, high) = (from.ln(), to.ln());
                let slope = |u: f64| match u {
                    u if u <= low => Ok(*before),
                    u if u >= high => Ok(*after),
                    u => self.slope(u.exp().clamp(*from, *to)),
                };
                let root = bracketed(slope, low, high, TOLERANCE)?.exp().clamp(*from, *to);
                roots.push((root, self.cost(root)?.cost_per_hour));
            }
        }
        let least = |of: &[(f64, f64)]| of.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or(unused);
        let at_point = least(&points);
        let mut best = least(&[roots.as_slice(), &[at_point, unused]].concat());
        if best == at_point && at_point != unused {
            // Two roots may lie between neighbours, where no sign changes: the least cost beside the best point is sought itself.
            let place = points.iter().position(|p| *p == at_point).unwrap_or(0);
            let low = points.get(place.saturating_sub(1)).map_or(0.0, |p| p.0);
            let high = points.get(place + 1).map_or(self.age, |p| p.0);
            let found = least_of(|age| self.cost(age).map(|cost| cost.cost_per_hour), low, high, 1e-8)?;
            best = least(&[best, found]);
        }
        Ok(best)
    }

    fn evenly(&self) -> EvenVisits<'_, 'a> {
        EvenVisits { curve: &self.curve, terms: self.terms, age: self.age }
    }

    fn slope(&self, visit_age: f64) -> Result<f64> {
        let parts = self.parts(visit_age)?;
        Ok(self.slope_of(&self.cost_of(visit_age, &parts), &parts))
    }

    /// A number of the sign of the slope of the cost over the visit age.
    fn slope_of(&self, cost: &VisitCost, parts: &Parts) -> f64 {
        let planned = self.curve.planned_cost(f64::INFINITY);
        let (visit, after) = (self.terms.visit_cost, &parts.after);
        let dearer: f64 = self.curve.costs().iter().zip(&after.incidence).map(|(c, f)| (c + visit - planned) * f).sum();
        let back: f64 = after.money_back.iter().sum();
        // A later start gives up the worth at the visit age for that at the later visit, or at the age.
        let worth = |age: f64| planned - self.curve.planned_cost(age);
        let from = parts.before.age_hours;
        let given_up = worth(from) * parts.before.reliability - worth(self.age) * parts.at_age - parts.worth;
        dearer - back + given_up + visit * parts.at_age - cost.cost_per_hour * after.exposure_hours
    }
}

/// Long-run cost per hour of a lamp that is changed at an age, or from an earlier one on at the first visit that happens
/// anyway, or at failure.
///
/// # Formula
/// ```text
/// S(x) = R(x) up to the visit age v, then R(x) exp(-(x - v) / m) to the age T;  M = integral of S over (0, T)
/// at a visit: V = (integral of S over (v, T)) / m;  at the age: S(T);  failures F_j = integral of h_j S over (0, T)
/// C = [c_p V - W + (c_p - s(T) + c_v) S(T) + sum_j ((c_j + c_v) F_j - B_j)] / M
/// ```
/// `s(x)`: worth of a used lamp of age x; `W = (integral of s S over (v, T)) / m`; `B_j`: mean money back under a warranty; m: mean hours between visits; `c_v`: cost of a visit for the lamp alone. The lamp stands alone at its site: a visit for
/// one lamp serves no other; [`crate::simulate`] plays that out.
///
/// Visits at equal distances are followed as a chain: where in a distance a lamp is fitted decides when the first visit after
/// its visit age comes, and its end where the next one is fitted. The long run is taken over that place, on
/// polynomials; a lamp of the later age on the very day of a visit needs none of its own.
///
/// # Errors
/// `policy.visit_hours`, `policy.visit_cost`, `policy.visit_age` unless 0 <= visit age <= age, `policy.age_past_limit`,
/// `policy.age`; `policy.visits_apart` where visits at equal distances are thousands in a life or far rarer than a life; those of [`WorldCurve::new`] and of the integrals.
///
/// # Numerics
/// A visit age below a billionth of the age counts as that. At equal distances a wait of up to a millionth of the distance counts as
/// none, and six digits hold for lives that are spread over many hours beside it; where a part of the lamps fails within a few hours,
/// as of a weak batch, costs were off by up to 1e-4 of themselves.
///
/// # Source
/// Tijms, A First Course in Stochastic Models (2003), exercise 8.9, after Dekker and Smeitink (1994), for one cause without
/// a second age; causes, the second age and the visit's cost are the same argument.
pub fn visit_rule_cost(
    world: &World,
    terms: &VisitTerms,
    visit_age_hours: f64,
    age_hours: f64,
    limit: &HourLimit,
) -> Result<VisitCost> {
    let asked = Asked::new(world, terms, age_hours, limit)?;
    if !(visit_age_hours >= 0.0 && visit_age_hours <= age_hours) {
        let what = "the age from which visits are used must not pass the age of the planned change";
        let problem = Problem::new("policy.visit_age", what).at(Place::input("visit rule").column("visit_age_hours"));
        let problem = problem.got(visit_age_hours).expected(format!("0 to {age_hours} h"));
        return Err(Error::new(Kind::Input, problem));
    }
    asked.cost(visit_age_hours)
}

/// The age of least cost from which to use visits, where lamps are changed at a given age at the latest.
///
/// # Formula
/// ```text
/// stationary where sum_j [(c_j + c_v - c_p) F_j(v, T) - B_j(v, T)] + c_v S(T) + U = C integral of S over (v, T)
/// U = s(v) R(v) - s(T) S(T) - W
/// ```
/// with the letters of [`visit_rule_cost`], `F_j(v, T)` the failures after the visit age and `B_j(v, T)` the money back for them. Roots are bracketed in ln age
/// and in the logarithm of the hours left to the planned change, and compared with each other, with the use of every visit and with the use of none.
///
/// Where visits come at equal distances, the cost jumps at each multiple of the distance, from which on a lamp that was fitted at a
/// visit waits for one more. The ages on and half-way between are compared, and the stretches beside the best are searched.
///
/// # Arguments
/// `age_hours`: the later age, which is taken as given: another may make the pair cost less, and
/// [`best_visit_ages`](super::best_visit_ages) searches both. It is held to the end of the records, which `reach` tells, unless a reason lets it pass them.
///
/// # Errors
/// Those of [`visit_rule_cost`] and of [`Reach::ceiling`].
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{Reach, VisitTerms, best_visit_age};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 1000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(1.0, [(Ending::Burst, 5.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(9000.0), source: "invented".into(), ..PrintedHours::default() };
/// // A visit every 500 h of burning on the mean, and no change without one but at the far limit.
/// let terms = VisitTerms { mean_hours_between_visits: 500.0, visit_cost: 0.0, even: false };
/// let best = best_visit_age(&world, &terms, 9000.0, &printed.limit()?, &Reach::default())?;
/// assert_eq!(best.visit_age_hours, 268.0);
/// assert!(best.cost.cost_per_hour < 0.75 * best.unused_cost_per_hour);
/// // No lamp of the records burned past 700 h.
/// let held = best_visit_age(&world, &terms, 9000.0, &printed.limit()?, &Reach::to(700.0))?;
/// assert_eq!(held.cost.age_hours, 700.0);
/// // The same visits at equal distances: a lamp fitted at one is changed at the first or second after it.
/// let round = VisitTerms { even: true, ..terms };
/// let evenly = best_visit_age(&world, &round, 9000.0, &printed.limit()?, &Reach::default())?;
/// assert!(evenly.cost.cost_per_hour < best.cost.cost_per_hour);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn best_visit_age(
    world: &World,
    terms: &VisitTerms,
    age_hours: f64,
    limit: &HourLimit,
    reach: &Reach,
) -> Result<VisitAge> {
    let ceiling = reach.ceiling(limit)?;
    let asked_age_hours = age_hours;
    let mut asked = Asked::new(world, terms, age_hours, limit)?;
    let age_hours = age_hours.min(ceiling);
    let best = asked.best_at(age_hours)?;
    let unused_cost_per_hour = asked.unused()?;
    let visit_age_hours = best.0.floor();
    let cost = asked.cost(visit_age_hours)?;
    let verdict = VisitAge::verdict_of(cost.cost_per_hour, unused_cost_per_hour);
    let late = full_hours(age_hours);
    let latest = if age_hours < asked_age_hours {
        format!("{late} h, past which the records support no age")
    } else {
        format!("{late} h")
    };
    let sentence = match verdict {
        VisitVerdict::VisitsPay => format!(
            "from {} h on change at the next visit, and at the latest at {latest}: that costs {:.1} % less than changing \
             there or at failure alone",
            full_hours(visit_age_hours),
            VisitAge::saving(cost.cost_per_hour, unused_cost_per_hour)
        ),
        VisitVerdict::NoVisitPays => format!("no change at a visit pays; change at failure, or at {latest}"),
    } + &further(age_hours, reach.oldest_at_risk_hours, reach.extrapolate_because.as_deref());
    Ok(VisitAge {
        verdict,
        sentence,
        visit_age_hours,
        optimum_hours: best.0,
        cost,
        unused_cost_per_hour,
        unused_age_hours: None,
        asked_age_hours,
        limit_hours: limit.hours(),
        ceiling_hours: ceiling,
        oldest_at_risk_hours: reach.oldest_at_risk_hours,
    })
}

/// Ages to look at, up to the age itself: evenly in the logarithm of the age and of the hours that are left to it, since
/// the cost may turn within a short wait before the planned change; the landmarks of the lives, and the kinks.
fn grid(age_hours: f64, curve: &WorldCurve) -> Vec<f64> {
    let step = -(FROM_NEW.sqrt().ln()) / STEPS as f64;
    let shares = (0..=STEPS).map(|i| (-step * (STEPS - i) as f64).exp());
    let mut ages: Vec<f64> = shares.clone().map(|share| age_hours * share).collect();
    ages.extend(shares.take(STEPS).map(|share| age_hours * (1.0 - share)));
    ages.extend(curve.landmarks().iter().filter(|age| **age < age_hours));
    ages.extend(curve.kinks().iter().flat_map(|k| [k.next_down(), *k]).filter(|k| *k < age_hours));
    ages.retain(|age| *age > 0.0);
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    ages
}
