//! Lamps needed by a chain: by class, site, depot and calendar month, as whole distributions.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::counts::Count;
use super::exposure::{Calendar, Programme};
use super::forecast::DrawsUsed;
use super::one_draw::{Amount, Laid, lay_out};
use super::screen::Screen;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, World, each_draw};
use crate::terms::HourLimit;

/// What is known of the life of one lamp class: one world, or draws of it.
#[derive(Clone, Copy)]
pub enum ClassModel<'a> {
    /// One world, taken as known.
    World(&'a World),
    /// Draws; the lamps are independent only within each.
    Draws(&'a dyn Draws),
}

impl std::fmt::Debug for ClassModel<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::World(world) => f.debug_tuple("World").field(world).finish(),
            Self::Draws(draws) => f.debug_tuple("Draws").field(&draws.len()).finish(),
        }
    }
}

/// How one lamp class is changed, and what is known of its life.
#[derive(Clone, Copy, Debug)]
pub struct ClassPlan<'a> {
    /// The class.
    pub class: &'a str,
    /// What is known of its life, and its costs.
    pub model: ClassModel<'a>,
    /// Age of the planned change, hours; held to the limit.
    pub planned_age_hours: f64,
    /// The age that no lamp passes.
    pub limit: &'a HourLimit,
}

/// Who shares a circumstance that the model of the lamps does not know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SharedBy {
    /// The screens of a site: its dust, its mains, its hands.
    Site,
    /// All screens of a class: a good or a bad season, a change of the make.
    Chain,
    /// The lamps that burn today and are of one batch ([`Screen::batch`]); a lamp whose batch is not known is one of its
    /// own. Lamps fitted later are of batches that nobody knows yet: they have the life of the model.
    Batch,
}

/// What the shared circumstance multiplies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SharedOn {
    /// The hazard of every lamp.
    Hazard,
    /// The hours of every screen.
    Hours,
}

/// A circumstance that screens share, so that their needs rise and fall together even within one draw.
///
/// # Formula
/// ```text
/// factor = exp(spread z), z standard normal, one for each site, one for all, or one for each batch
/// ```
/// Its median is 1 and its mean exp(spread^2 / 2), so that the mean number of lamps rises with the spread a little: a
/// circumstance may be worse by more than it can be better. The factor is that of the hours ahead, as far as nobody knows it today:
/// ages reached and failures seen until now do not move it, so that a spread taken from records has to be what they leave open.
///
/// # Numerics
/// Means are integrated by Gauss-Hermite quadrature over 7 points. Where the numbers at these points stand apart, as those of
/// many screens do, the distributions between them are those of both neighbours, moved to a mean and stretched to a standard
/// deviation that go by cubics: for Poisson numbers chances of not more than a number are right to 4e-3, up to a spread of
/// 0.5. A month in which the same few screens fall due at some factors only is known less well.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedEffect {
    /// Who shares it.
    pub by: SharedBy,
    /// What it multiplies.
    pub on: SharedOn,
    /// Standard deviation of the logarithm of the factor, 0 to 1.
    pub spread: f64,
}

/// Where lamps are needed.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Where {
    /// Anywhere in the chain.
    Chain,
    /// At the sites that a depot serves.
    Depot(String),
    /// At one site.
    Site(String),
}

/// Lamps of one class needed at one place in one month, or over the whole horizon.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DemandIn {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Lamps needed.
    pub needed: Count,
    /// Of these, planned changes.
    pub planned: Count,
    /// Of these, changes after a failure.
    pub failures: Count,
    /// Mean hours that the screens burn.
    pub hours: f64,
    /// Mean cost of the planned changes, less what the used lamps are worth.
    pub planned_cost: f64,
    /// Mean cost of the failure changes.
    pub failure_cost: f64,
    /// Standard deviation of the lamps needed that would be left if the life were known: the root of the mean, over
    /// draws, of the variance within a draw.
    pub process_sd: f64,
    /// Standard deviation over draws of the mean number needed: what is not known of the life. 0 for one world.
    pub parameter_sd: f64,
}

/// Lamps of one class needed at one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlaceDemand {
    /// Lamp class.
    pub class: String,
    /// Where.
    pub place: Where,
    /// Screens there with the class.
    pub screens: usize,
    /// Of these, lamps at or past the planned age or of unknown age.
    pub due_now: usize,
    /// Month by month.
    pub months: Vec<DemandIn>,
    /// All months together. Months are not independent, so this is not their sum as if they were.
    pub whole: DemandIn,
}

/// What stands behind the figures of a class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClassBasis {
    /// Lamp class.
    pub class: String,
    /// Age at which lamps are changed, at most the limit.
    pub planned_age_hours: f64,
    /// Changes for each hour that a screen burns in the long run, 1 / M(T), on the mean over draws.
    pub changes_per_hour: f64,
    /// Step of the hours on which second and later changes are tabulated; first changes are exact. Distributions are right
    /// to its second power; what that comes to is said at [`chain_forecast`].
    pub step_hours: f64,
    /// Draws mixed; none for one world.
    pub draws: Option<DrawsUsed>,
}

/// Lamps needed by a chain; made by [`chain_forecast`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChainForecast {
    /// The as-of date and the months.
    pub calendar: Calendar,
    /// Classes in order of name.
    pub classes: Vec<ClassBasis>,
    /// A circumstance that screens share; none where they are independent within a draw.
    pub shared: Option<SharedEffect>,
    /// For each class the whole chain first, then depots, then sites, in order of name.
    pub places: Vec<PlaceDemand>,
}

impl ChainForecast {
    /// Lamps of a class needed at a place.
    #[must_use]
    pub fn at(&self, class: &str, place: &Where) -> Option<&PlaceDemand> {
        self.places.iter().find(|p| p.class == class && p.place == *place)
    }
}

impl Sound for ChainForecast {
    fn check(&self, c: &mut Checks) {
        c.once("classes", self.classes.iter().map(|b| &b.class));
        c.parts("classes", &self.classes);
        if let Some(shared) = &self.shared {
            c.share("shared.spread", shared.spread);
        }
        c.once("places", self.places.iter().map(|p| (&p.class, &p.place)));
        for (i, place) in self.places.iter().enumerate() {
            c.inside(&format!("places[{i}]"), |c| {
                place.check(c);
                let months = self.calendar.months();
                c.entries("months", place.months.len(), months.len());
                for (m, (month, ahead)) in place.months.iter().zip(months).enumerate() {
                    c.follows(&format!("months[{m}].from"), &month.from, &ahead.from);
                    c.follows(&format!("months[{m}].to"), &month.to, &ahead.to);
                }
                let known = self.classes.iter().any(|b| b.class == place.class);
                c.need("class", known, &place.class, "one of the classes");
            });
        }
    }
}

impl Sound for ClassBasis {
    fn check(&self, c: &mut Checks) {
        c.words("class", &self.class);
        c.positive("planned_age_hours", self.planned_age_hours);
        c.positive("changes_per_hour", self.changes_per_hour);
        c.positive("step_hours", self.step_hours);
        if let Some(draws) = &self.draws {
            c.need("draws.used", draws.used > 0, draws.used, "1 or more");
        }
    }
}

impl Sound for PlaceDemand {
    fn check(&self, c: &mut Checks) {
        let most = format!("at most {}", counted(self.screens as u64, "screen"));
        c.need("due_now", self.due_now <= self.screens, self.due_now, most);
        c.parts("months", &self.months);
        c.part("whole", &self.whole);
        let sum: f64 = self.months.iter().map(|m| m.needed.mean()).sum();
        let mean = self.whole.needed.mean();
        c.between("whole.needed", mean, sum * (1.0 - 1e-3) - 1e-6, sum * (1.0 + 1e-3) + 1e-6);
    }
}

impl Sound for DemandIn {
    fn check(&self, c: &mut Checks) {
        c.need("to", self.from <= self.to, self.to, format!("{} or later", self.from));
        for (field, x) in [
            ("hours", self.hours),
            ("planned_cost", self.planned_cost),
            ("failure_cost", self.failure_cost),
            ("process_sd", self.process_sd),
            ("parameter_sd", self.parameter_sd),
        ] {
            c.not_negative(field, x);
        }
        let (sd, parts) = (self.needed.sd(), self.process_sd.hypot(self.parameter_sd));
        c.between("process_sd", parts, sd * (1.0 - 1e-6) - 1e-6, sd * (1.0 + 1e-6) + 1e-6);
        let (mean, parts) = (self.needed.mean(), self.planned.mean() + self.failures.mean());
        c.between("needed", mean, parts * (1.0 - 1e-3) - 1e-6, parts * (1.0 + 1e-3) + 1e-6);
    }
}

/// Lamps needed by a chain, class by class, at every site, from every depot and in all, in each calendar month ahead.
///
/// # Formula
/// ```text
/// the clock of a screen runs by its programme hours, and stands still from its stopping date on
/// first change of a lamp of age a within u hours: 1 - R(a + u) / R(a), and at T - a if it lives so long
/// then renewals of min(life, T)
/// within a draw the screens are independent: their numbers are convolved, by direct sums; then mixed over draws
/// variance = mean over draws of the variance + variance over draws of the mean
/// ```
/// A lamp at or past the planned age, or of unknown age, is changed at once. With a [`SharedEffect`] the screens that
/// share it are independent only given its factor, and the variance within a draw holds its part.
///
/// # Errors
/// One problem for each: `demand.class_unknown`, `demand.class_twice`, `demand.place_blank`, `demand.site_depots`, `demand.batch_blank`, `demand.socket_age`,
/// `demand.socket_hours`, `demand.day_hours`, `demand.programme_unknown`, `demand.span`, `demand.month_factor`,
/// `demand.growth`, `demand.stop_past`, `demand.stop_date`, `demand.planned_age`, `demand.shared_spread`,
/// `demand.shared_batch`;
/// `demand.no_screens`; `demand.too_many_changes`; `demand.no_draws` where no draw gave an answer; a stop.
///
/// # Numerics
/// What a new lamp brings is tabulated once for a world, on steps of [`ClassBasis::step_hours`], which grow with the root
/// of the hours ahead, and serves every screen. The first failure of a screen, with the planned changes before it, is in
/// closed form in every month; planned changes stand one planned age after each change. Means of later failures are read by
/// cubics on one side of any bend, with an error of the fourth power of the step. Over two years the means of each month
/// met the renewal equation to 1e-5 of themselves (the worst to 6e-6, at an infinite hazard at age 0; 1e-6 for shapes of
/// 0.8 to 6 with a planned age) for Weibull shapes of 0.5 to 6; these are measured bounds, not proven ones. Distributions
/// are right to the second power of the step: over two years the variance of the whole meets the renewal equation to
/// 1e-4 of itself, to 2e-4 without planned changes, and to 1e-3 where a screen has dozens of changes. Two or more changes
/// within a month go by inclusion and exclusion, their places by blocks of four steps. Lives with steps or corners of their
/// own are followed to the second power of the step, failures at their mean place within it. A failure costs what its
/// cause costs, shared within a step by the fall of each cause's ln R. The sum over screens is a direct convolution, so that
/// tails keep their digits; chances below 1e-30 are dropped.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{Calendar, ClassModel, ClassPlan, Screen, StopDate, Where, chain_forecast};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 3000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let limit = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// let model = ClassModel::World(&world);
/// let plan = ClassPlan { class: "X", model, planned_age_hours: 2000.0, limit: &limit };
/// let as_of = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
/// let stays = Screen::new("X", "north", Some(1900.0), 70.0);
/// // The second screen is converted before its lamp is due.
/// let stop = NaiveDate::from_ymd_opt(2026, 1, 5).map(StopDate::On);
/// let goes = Screen { stop, ..stays.clone() };
/// let calendar = Calendar::new(as_of, 2)?;
/// let all = chain_forecast(&[stays, goes], &[plan], &calendar, &BTreeMap::new(), None, &Run::new())?;
/// let january = &all.at("X", &Where::Chain).unwrap().months[0];
/// assert!(january.needed.at_most(0) < 1e-12 && (january.needed.mean() - 1.017).abs() < 0.001);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn chain_forecast(
    screens: &[Screen],
    plans: &[ClassPlan<'_>],
    calendar: &Calendar,
    programmes: &BTreeMap<String, Programme>,
    shared: Option<SharedEffect>,
    run: &Run,
) -> Result<ChainForecast> {
    check(screens, plans, calendar, programmes, shared)?;
    let shared = shared.filter(|s| s.spread > 0.0);
    let mut order: Vec<&ClassPlan<'_>> = plans.iter().collect();
    order.sort_by_key(|p| p.class);
    let steps = |p: &&ClassPlan<'_>| if let ClassModel::Draws(d) = p.model { d.len() as u64 } else { 1 };
    run.expect_steps(order.iter().map(steps).sum());
    let mut all = ChainForecast { calendar: calendar.clone(), classes: Vec::new(), shared, places: Vec::new() };
    for plan in order {
        let age = plan.planned_age_hours.min(plan.limit.hours());
        let laid = lay_out(screens, plan.class, age, calendar, programmes, shared)?;
        let (places, step_hours, changes_per_hour, draws) = match plan.model {
            ClassModel::World(world) => {
                let one = laid.in_world(world, age, shared, run)?;
                run.step();
                (one.places.into_iter().map(Mixing::of).collect(), one.step_hours, one.changes_per_hour, None)
            }
            ClassModel::Draws(draws) => {
                let (mut sums, mut step, mut rate): (Vec<Mixing>, f64, f64) = (Vec::new(), 0.0, 0.0);
                let failed = each_draw(draws, run, |world| {
                    let one = laid.in_world(world, age, shared, run)?;
                    step = step.max(one.step_hours);
                    rate += one.changes_per_hour;
                    if sums.is_empty() {
                        sums = one.places.into_iter().map(Mixing::of).collect();
                    } else {
                        sums.iter_mut().zip(one.places).for_each(|(sum, more)| sum.add(&more));
                    }
                    Ok(())
                })?;
                let used = draws.len() - failed;
                if used == 0 {
                    let problem = Problem::new("demand.no_draws", "no draw gave a forecast").got(failed);
                    return Err(Error::new(Kind::Refused, problem));
                }
                (sums, step, rate / used as f64, Some(DrawsUsed { method: draws.method(), used, failed }))
            }
        };
        let class = plan.class.to_owned();
        all.places.extend(named(&laid, &class, calendar, &places));
        all.classes.push(ClassBasis { class, planned_age_hours: age, changes_per_hour, step_hours, draws });
    }
    Ok(all)
}

/// Sums over draws for one place: an entry for each month, then one for the whole.
#[derive(Debug)]
struct Mixing {
    draws: f64,
    each: Vec<MixedIn>,
}

#[derive(Debug)]
struct MixedIn {
    amount: Amount,
    variance: f64,
    mean: f64,
    mean_squares: f64,
}

impl Mixing {
    fn of(one: Vec<Amount>) -> Self {
        let entry = |amount: Amount| {
            let (mean, sd) = (amount.needed().mean(), amount.needed().sd());
            MixedIn { amount, variance: sd * sd, mean, mean_squares: 0.0 }
        };
        Self { draws: 1.0, each: one.into_iter().map(entry).collect() }
    }

    /// Another draw; running means, and the sum of squares about the mean of means.
    fn add(&mut self, one: &[Amount]) {
        self.draws += 1.0;
        let weight = 1.0 / self.draws;
        for (mixed, more) in self.each.iter_mut().zip(one) {
            let (mean, sd) = (more.needed().mean(), more.needed().sd());
            mixed.amount = Amount::mixed(&[(1.0 - weight, &mixed.amount), (weight, more)]);
            mixed.variance += weight * (sd * sd - mixed.variance);
            let off = mean - mixed.mean;
            mixed.mean += weight * off;
            mixed.mean_squares += off * (mean - mixed.mean);
        }
    }
}

fn named(laid: &Laid<'_>, class: &str, calendar: &Calendar, places: &[Mixing]) -> Vec<PlaceDemand> {
    let months = calendar.months();
    let days = || {
        let whole = months.first().zip(months.last()).map(|(first, last)| (first.from, last.to));
        months.iter().map(|m| (m.from, m.to)).chain(whole)
    };
    let one = |place: &super::one_draw::PlaceLaid, mixing: &Mixing| {
        let mut months: Vec<DemandIn> = days()
            .zip(&mixing.each)
            .map(|((from, to), mixed)| {
                let [needed, planned, failures] = mixed.amount.counts.clone();
                let (planned_cost, failure_cost) = (mixed.amount.planned_cost, mixed.amount.failure_cost);
                let parameter_sd = (mixed.mean_squares / mixing.draws).max(0.0).sqrt();
                let process_sd = mixed.variance.max(0.0).sqrt();
                let hours = mixed.amount.hours;
                DemandIn {
                    from,
                    to,
                    needed,
                    planned,
                    failures,
                    hours,
                    planned_cost,
                    failure_cost,
                    process_sd,
                    parameter_sd,
                }
            })
            .collect();
        let whole = months.pop()?;
        let (screens, due_now) = (place.screens, place.due_now);
        Some(PlaceDemand { class: class.to_owned(), place: place.place.clone(), screens, due_now, months, whole })
    };
    // Where no depot is named there is none.
    let none = |p: &Where| matches!(p, Where::Depot(name) if name.is_empty());
    laid.places()
        .iter()
        .zip(places)
        .filter(|(p, _)| !none(&p.place))
        .filter_map(|(place, mixing)| one(place, mixing))
        .collect()
}

/// Everything that is wrong with the screens, plans and programmes of a chain, at once.
pub(crate) fn check(
    screens: &[Screen],
    plans: &[ClassPlan<'_>],
    calendar: &Calendar,
    programmes: &BTreeMap<String, Programme>,
    shared: Option<SharedEffect>,
) -> Result<()> {
    let mut problems: Vec<Problem> =
        programmes.iter().flat_map(|(name, p)| p.problems(&format!("programmes[{name}]"))).collect();
    if screens.is_empty() {
        let what = "a chain without a screen needs no lamp";
        problems.push(Problem::new("demand.no_screens", what).at(Place::input("screens")).expected("one or more"));
    }
    let mut classes = BTreeSet::new();
    for (i, plan) in plans.iter().enumerate() {
        let place = |column: &str| Place::input("plans").row(i as u64 + 1).column(column);
        if !classes.insert(plan.class) {
            let problem = Problem::new("demand.class_twice", "two plans for one class").at(place("class"));
            problems.push(problem.got(plan.class).expected("one plan for each class"));
        }
        if plan.planned_age_hours.is_nan() || plan.planned_age_hours <= 0.0 {
            let problem = Problem::new("demand.planned_age", "the planned age must be above 0");
            problems.push(problem.at(place("planned_age_hours")).got(plan.planned_age_hours));
        }
    }
    if let Some(spread) = shared.map(|s| s.spread).filter(|s| !(0.0..=1.0).contains(s)) {
        let what = "the spread of a shared circumstance is out of range";
        let problem = Problem::new("demand.shared_spread", what).at(Place::input("shared").column("spread"));
        problems.push(problem.got(spread).expected("0 to 1, the standard deviation of the logarithm of the factor"));
    }
    if shared.is_some_and(|s| s.by == SharedBy::Batch && s.on == SharedOn::Hours) {
        let what = "a batch of lamps does not change the hours of its screens";
        let problem = Problem::new("demand.shared_batch", what).at(Place::input("shared").column("on"));
        problems.push(problem.got("hours").expected("hazard"));
    }
    let mut depots = BTreeMap::new();
    for (i, screen) in screens.iter().enumerate() {
        let place = |column: &str| Place::input("screens").row(i as u64 + 1).column(column);
        if !classes.contains(screen.class.as_str()) {
            let problem = Problem::new("demand.class_unknown", "no plan for the class of a screen");
            let known: Vec<_> = classes.iter().copied().collect();
            problems.push(problem.at(place("class")).got(&screen.class).expected(known.join(", ")));
        }
        if screen.site.trim().is_empty() {
            let problem = Problem::new("demand.place_blank", "a screen must have a site").at(place("site"));
            problems.push(problem.got("blank").expected("the name of its site"));
        }
        if screen.batch.as_ref().is_some_and(|name| name.trim().is_empty()) {
            let problem = Problem::new("demand.batch_blank", "a batch must have a name").at(place("batch"));
            problems.push(problem.got("blank").expected("its name, or none where it is not known"));
        }
        let depot = *depots.entry(screen.site.as_str()).or_insert(screen.depot.as_str());
        if depot != screen.depot {
            let problem = Problem::new("demand.site_depots", "a site is served by one depot").at(place("depot"));
            problems.push(problem.got(&screen.depot).expected(format!("{depot:?}, as for the rows above")));
        }
        problems.extend(screen_problems(i, screen, calendar.as_of(), programmes));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// What is wrong with the lamp, the hours and the stop of one screen.
pub(super) fn screen_problems(
    i: usize,
    screen: &Screen,
    as_of: NaiveDate,
    programmes: &BTreeMap<String, Programme>,
) -> Vec<Problem> {
    let place = |column: &str| Place::input("screens").row(i as u64 + 1).column(column);
    let mut problems = Vec::new();
    if let Some(age) = screen.age_hours.filter(|a| !(0.0..f64::INFINITY).contains(a)) {
        let what = "the age of a burning lamp must be finite and not negative";
        let problem = Problem::new("demand.socket_age", what).at(place("age_hours")).got(age);
        problems.push(problem.expected("hours, or none where not known"));
    }
    if !(0.0..=168.0).contains(&screen.hours_per_week) {
        let problem = Problem::new("demand.socket_hours", "hours a week out of range");
        problems.push(problem.at(place("hours_per_week")).got(screen.hours_per_week).expected("0 to 168"));
    }
    if let Some(name) = screen.programme.as_ref().filter(|n| !programmes.contains_key(*n)) {
        let known: Vec<_> = programmes.keys().map(String::as_str).collect();
        let expected = if known.is_empty() { "none, as no programme is given".into() } else { known.join(", ") };
        let problem = Problem::new("demand.programme_unknown", "no programme of that name");
        problems.push(problem.at(place("programme")).got(name).expected(expected));
    }
    problems.extend(screen.spans.iter().filter_map(|s| s.problem(place("spans"))));
    if let Some(stop) = &screen.stop {
        problems.extend(stop.problems(as_of, &place("stop")));
    }
    problems
}
