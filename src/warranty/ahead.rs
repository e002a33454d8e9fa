//! Claims to expect from the lamps that burn today.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::cover::Cover;
use super::later::{Means, NewLamp};
use crate::base::days::MOST_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::demand::{Count, DrawsUsed, Pace, StopDate};
use crate::fit::{Draws, Note, World, over_draws};
use crate::policy::{Objective, WorldCurve};
use crate::terms::{Costs, HourLimit};

/// Share of the draws between the ends of the interval of the mean money.
const LEVEL: f64 = 0.9;

/// Most lamps that one screen may need in the days looked ahead.
const MOST_CHANGES: f64 = 200.0;

/// A lamp that burns today.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LampInService {
    /// Its age, hours; none where not known.
    pub age_hours: Option<f64>,
    /// Hours its screen burns a week, 0 to 168.
    pub hours_per_week: f64,
    /// Day on which it was fitted new; none where not known.
    pub fitted_on: Option<NaiveDate>,
    /// Day on which the maker delivered it; none where not known.
    pub delivered_on: Option<NaiveDate>,
    /// When its screen stops; none where it burns on.
    pub stop: Option<StopDate>,
}

/// Claims to expect from the lamps that burn today.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClaimsAhead {
    /// Lamps that burn today.
    pub lamps: u64,
    /// Of these, lamps that a claim may still come from: below the planned age and within the limits of the warranty.
    pub under_cover: u64,
    /// Of these, lamps of which it cannot be told, as their age or the day that the calendar runs from is not known.
    pub not_known: u64,
    /// Days looked ahead.
    pub days: f64,
    /// Age at which lamps are changed, at most the limit.
    pub planned_age_hours: f64,
    /// Number of claims of the lamps that burn today.
    pub claims: Count,
    /// Mean money that comes back for them, if every claim is filed and accepted.
    pub mean_money: f64,
    /// Mean number of claims beside these: of lamps that are fitted within the days.
    pub later_claims: f64,
    /// Mean money that comes back for these.
    pub later_money: f64,
    /// Between which ends the mean money lies in nine of ten draws; none for one world.
    pub mean_money_90: Option<(f64, f64)>,
    /// Draws mixed; none for one world.
    pub draws: Option<DrawsUsed>,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for ClaimsAhead {
    fn check(&self, c: &mut Checks) {
        let most = self.lamps.saturating_sub(self.not_known);
        c.need("under_cover", self.under_cover <= most, self.under_cover, format!("at most {}", counted(most, "lamp")));
        let covered = self.under_cover;
        c.need("claims", self.claims.last() <= covered, self.claims.last(), format!("at most {covered}"));
        c.need("not_known", self.not_known <= self.lamps, self.not_known, format!("at most {}", self.lamps));
        c.positive("days", self.days);
        c.positive("planned_age_hours", self.planned_age_hours);
        c.not_negative("mean_money", self.mean_money);
        c.not_negative("later_claims", self.later_claims);
        c.not_negative("later_money", self.later_money);
        c.there("mean_money_90", self.mean_money_90.is_some(), self.draws.is_some(), "there where draws are");
        if let Some((low, high)) = self.mean_money_90 {
            c.not_negative("mean_money_90", low);
            c.ends("mean_money_90", low, high);
        }
        if let Some(draws) = &self.draws {
            c.need("draws.used", draws.used > 0, draws.used, "1 or more");
        }
    }
}

/// Lamps of one age that are covered up to the same later ages, each with its chance; several where a screen may stop.
#[derive(Clone, PartialEq)]
struct Alike {
    age: f64,
    until: Vec<(f64, f64)>,
    lamps: u64,
}

/// A screen: the age of its lamp today, if known, its hours with their chance, and the age at which the cover of its later
/// lamps ends.
#[derive(Clone, Copy, PartialEq)]
struct Screen {
    age: Option<f64>,
    hours: f64,
    chance: f64,
    until: f64,
}

/// What is asked, checked and put in hours of lamps.
struct Asked<'a> {
    cover: &'a Cover,
    lamps: u64,
    not_known: u64,
    days: f64,
    planned: f64,
    kinds: Vec<Alike>,
    screens: Vec<Screen>,
    notes: Vec<Note>,
}

/// Claims to expect within some days from the lamps that burn today, if the world is as given and lamps are changed at the
/// planned age or at failure.
///
/// # Formula
/// ```text
/// covered until   e = min(hours of the warranty, a + hours burned until the calendar ends it, the screen stops or the days
///                     are over, T)
/// chance of a claim = sum over causes of c_j integral of h_j R / R(a) over (a, e);   number: the exact sum of independent lamps
/// mean money        = sum over lamps and causes of integral of c_j credit h_j R / R(a) over (a, e)
/// ```
/// a: age today, T: planned age, `c_j`: share of a cause's failures that is covered. Screens burn their weekly hours
/// evenly. A lamp at or past the planned age is changed at once and brings no claim, nor does one of unknown age. Every
/// claim is taken as filed and accepted. Strikes are not forecast. Where the day on which a screen stops is uncertain,
/// chance and money are means over its days.
///
/// Lamps that are fitted within the days bring claims too; their mean stands beside, with every change counted, for lamps
/// that are delivered when they are fitted:
/// ```text
/// V(v) = C(v) + integral of V(v - s) dF(s) over (0, min(v, T)) + R(T) V(v - T),   C(v): a claim of a new lamp within v hours
/// later = sum over screens of the mean of V(hours left after the first change)
/// ```
///
/// # Errors
/// All bad lamps at once: `warranty.lamp_age`, `warranty.lamp_hours`, `warranty.lamp_days` for a lamp fitted or delivered
/// after the as-of date, and those of [`StopDate::check_after`]. `warranty.ahead_days` unless the days are above 0 and at most 7,310; `warranty.planned_age`
/// unless it is above 0; `warranty.too_many_changes` where one screen would need more than 200 lamps; those of
/// [`WorldCurve::new`] and [`Costs::with_warranty`].
///
/// # Numerics
/// One integral for each pair of age and end, equal ones once. The means of later lamps are sums over 1,000 cells of the
/// longest hours ahead, and 400 for the first change of a screen; their relative error is at most about
/// (cell / mean life)^2 / 12: 1e-5 for cells of 8 h and lives of 700 h.
///
/// # Source
/// Meeker & Escobar, Statistical Methods for Reliability Data (1998), sections 12.7 and 12.8: the chance of a unit to fail
/// in the next interval given its age, and their sum over units of different ages (from memory).
///
/// # Examples
/// ```
/// use relamp::family::Exponential;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours, Warranty};
/// use relamp::warranty::{Cover, LampInService, claims_ahead};
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Exponential { scale: 5000.0 }) }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let cover = Cover::new(Warranty::full(780.0, 1000.0, [Ending::Burst])?);
/// let lamp = |age| LampInService { age_hours: Some(age), hours_per_week: 70.0, fitted_on: None, delivered_on: None, stop: None };
/// // 500 h are left of the warranty of the first lamp, none of that of the second.
/// let ahead =
///     claims_ahead(&[lamp(500.0), lamp(1500.0)], &world, &cover, 1800.0, &printed.limit()?, "2026-01-01".parse().unwrap(), 365.0)?;
/// assert_eq!(ahead.under_cover, 1);
/// assert!((ahead.mean_money - 780.0 * (1.0 - (-0.1_f64).exp())).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn claims_ahead(
    lamps: &[LampInService],
    world: &World,
    cover: &Cover,
    planned_age_hours: f64,
    limit: &HourLimit,
    as_of: NaiveDate,
    days: f64,
) -> Result<ClaimsAhead> {
    let asked = asked((lamps, &[]), cover, planned_age_hours.min(limit.hours()), as_of, days)?;
    let found = in_world(&asked, world)?;
    Ok(answer(asked, found))
}

/// The same over draws: within each draw lamps are independent, and the distributions are then mixed with equal weight, so
/// that what is not known of the lives widens them.
///
/// # Errors
/// Those of [`claims_ahead`]; `warranty.no_draws` where no draw gave an answer; a stop.
#[allow(clippy::too_many_arguments)] // Those of the question, and how it is run.
pub fn claims_ahead_over_draws(
    lamps: &[LampInService],
    draws: &dyn Draws,
    cover: &Cover,
    planned_age_hours: f64,
    limit: &HourLimit,
    as_of: NaiveDate,
    days: f64,
    run: &Run,
) -> Result<ClaimsAhead> {
    claims_ahead_paced((lamps, &[]), draws, cover, planned_age_hours, limit, as_of, days, run)
}

/// The same for screens whose clocks run unevenly: the pace of each, none for the same hours every day.
#[allow(clippy::too_many_arguments)] // Those of the question, and how it is run.
pub(crate) fn claims_ahead_paced(
    lamps: (&[LampInService], &[Option<&Pace>]),
    draws: &dyn Draws,
    cover: &Cover,
    planned_age_hours: f64,
    limit: &HourLimit,
    as_of: NaiveDate,
    days: f64,
    run: &Run,
) -> Result<ClaimsAhead> {
    let asked = asked(lamps, cover, planned_age_hours.min(limit.hours()), as_of, days)?;
    let spread = over_draws(draws, run, |world| in_world(&asked, world))?;
    let used = spread.each.len();
    if used == 0 {
        let problem = Problem::new("warranty.no_draws", "no draw gave a number of claims").got(spread.failed.len());
        return Err(Error::new(Kind::Refused, problem));
    }
    let mean = |of: fn(&InWorld) -> f64| spread.each.iter().map(of).sum::<f64>() / used as f64;
    let mixed = InWorld {
        claims: Count::mix(&spread.each.iter().map(|e| &e.claims).collect::<Vec<_>>())?,
        money: mean(|e| e.money),
        later: Means { claims: mean(|e| e.later.claims), money: mean(|e| e.later.money) },
    };
    let mut money: Vec<f64> = spread.each.iter().map(|e| e.money).collect();
    money.sort_by(f64::total_cmp);
    let end = |p: f64| money.get(((p * used as f64) as usize).min(used - 1)).copied().unwrap_or(mixed.money);
    let ends = (end(0.5 * (1.0 - LEVEL)), end(0.5 * (1.0 + LEVEL)));
    let mut ahead = answer(asked, mixed);
    ahead.mean_money_90 = Some(ends);
    ahead.draws = Some(DrawsUsed { method: spread.method, used, failed: spread.failed.len() });
    Ok(ahead)
}

/// What one world gives.
struct InWorld {
    claims: Count,
    money: f64,
    later: Means,
}

fn answer(asked: Asked<'_>, found: InWorld) -> ClaimsAhead {
    ClaimsAhead {
        lamps: asked.lamps,
        under_cover: asked.kinds.iter().map(|k| k.lamps).sum(),
        not_known: asked.not_known,
        days: asked.days,
        planned_age_hours: asked.planned,
        claims: found.claims,
        mean_money: found.money,
        later_claims: found.later.claims,
        later_money: found.later.money,
        mean_money_90: None,
        draws: None,
        notes: asked.notes,
    }
}

fn asked<'a>(
    (lamps, paces): (&[LampInService], &[Option<&Pace>]),
    cover: &'a Cover,
    planned: f64,
    as_of: NaiveDate,
    days: f64,
) -> Result<Asked<'a>> {
    check(lamps, planned, as_of, days)?;
    let end = cover.money().end_hours().min(planned);
    // A lamp that is fitted from today on is covered for so many days.
    let new_days = cover.last_day(Some(as_of), Some(as_of)).flatten().map_or(days, |d| (d - as_of).num_days() as f64);
    let (mut kinds, mut screens, mut not_known) = (Vec::new(), Vec::new(), 0);
    for (i, lamp) in lamps.iter().enumerate() {
        let pace = paces.get(i).copied().flatten();
        let ordinary = |days: f64| pace.map_or(days, |pace| pace.days_at(days));
        let a_day = lamp.hours_per_week / 7.0;
        let burns = burning_days(lamp, as_of, days);
        if a_day > 0.0 {
            let until = if new_days < days { end.min(a_day * ordinary(new_days)) } else { end };
            let screen = |(days, chance): &(f64, f64)| Screen {
                age: lamp.age_hours,
                hours: a_day * ordinary(*days),
                chance: *chance,
                until,
            };
            screens.extend(burns.iter().filter(|b| b.0 > 0.0).map(screen));
        }
        let last_day = cover.last_day(lamp.fitted_on, lamp.delivered_on);
        let (Some(age), Some(last_day)) = (lamp.age_hours, last_day) else {
            not_known += 1;
            continue;
        };
        let covered_days = last_day.map_or(days, |d| days.min((d - as_of).num_days() as f64));
        let mut until: Vec<(f64, f64)> = burns
            .iter()
            .map(|(days, chance)| (end.min(age + a_day * ordinary(covered_days.min(*days))), *chance))
            .collect();
        until.retain(|u| age < u.0);
        until.dedup_by(|b, a| {
            let same = a.0 == b.0;
            a.1 += if same { b.1 } else { 0.0 };
            same
        });
        if !until.is_empty() {
            kinds.push(Alike { age, until, lamps: 1 });
        }
    }
    let ends = |k: &Alike| k.until.iter().flat_map(|u| [u.0.to_bits(), u.1.to_bits()]).collect::<Vec<_>>();
    kinds.sort_by(|a, b| a.age.total_cmp(&b.age).then_with(|| ends(a).cmp(&ends(b))));
    kinds.dedup_by(|b, a| {
        let same = a.age == b.age && a.until == b.until;
        a.lamps += if same { b.lamps } else { 0 };
        same
    });
    screens.sort_by(|a, b| a.until.total_cmp(&b.until));
    let most = screens.iter().map(|s| s.hours).fold(0.0, f64::max);
    if most > MOST_CHANGES * planned {
        let problem = Problem::new("warranty.too_many_changes", "one screen would need hundreds of lamps");
        let problem = problem.at(Place::input("planned_age_hours")).got(planned);
        let expected = format!("at least a {MOST_CHANGES}th of the {most} h looked ahead");
        return Err(Error::new(Kind::Refused, problem.expected(expected)));
    }
    let mut notes = Vec::new();
    if not_known > 0 {
        let text = format!(
            "{} {} not counted: the age or the day that the warranty runs from is not known",
            counted(not_known, "lamp"),
            fitting(not_known, "is", "are")
        );
        notes.push(Note { slug: "warranty.lamps_not_known".to_owned(), text });
    }
    if let Some(most) = cover.most_strikes() {
        let text = format!(
            "the warranty ends after {} too, which are not forecast: the claims are at most these",
            counted(most, "strike")
        );
        notes.push(Note { slug: "warranty.strikes_not_forecast".to_owned(), text });
    }
    Ok(Asked { cover, lamps: lamps.len() as u64, not_known, days, planned, kinds, screens, notes })
}

/// Days that a screen burns within those looked ahead, in rising order with their chances.
fn burning_days(lamp: &LampInService, as_of: NaiveDate, days: f64) -> Vec<(f64, f64)> {
    let stops = lamp.stop.iter().flat_map(StopDate::outcomes);
    let mut burns: Vec<(f64, f64)> =
        stops.map(|(day, chance)| (((day - as_of).num_days() as f64).min(days), chance)).collect();
    if burns.is_empty() {
        burns.push((days, 1.0));
    }
    burns
}

fn check(lamps: &[LampInService], planned: f64, as_of: NaiveDate, days: f64) -> Result<()> {
    let mut problems = Vec::new();
    for (i, lamp) in lamps.iter().enumerate() {
        let place = |column: &str| Place::input("lamps").row(i as u64 + 1).column(column);
        if let Some(age) = lamp.age_hours.filter(|a| !(0.0..f64::INFINITY).contains(a)) {
            let problem =
                Problem::new("warranty.lamp_age", "the age of a burning lamp must be finite and not negative");
            problems.push(problem.at(place("age_hours")).got(age).expected("hours, or none where not known"));
        }
        if !(0.0..=168.0).contains(&lamp.hours_per_week) {
            let problem = Problem::new("warranty.lamp_hours", "hours a week out of range");
            problems.push(problem.at(place("hours_per_week")).got(lamp.hours_per_week).expected("0 to 168"));
        }
        if let Some(stop) = &lamp.stop {
            problems.extend(stop.problems(as_of, &place("stop")));
        }
        for (name, day) in [("fitted_on", lamp.fitted_on), ("delivered_on", lamp.delivered_on)] {
            if let Some(day) = day.filter(|d| *d > as_of) {
                let problem = Problem::new("warranty.lamp_days", "a lamp that burns today came after the as-of date");
                problems.push(problem.at(place(name)).got(day).expected(format!("not after {as_of}")));
            }
        }
    }
    if !(days > 0.0 && days <= MOST_DAYS) {
        let problem = Problem::new("warranty.ahead_days", "claims are forecast over some days");
        problems.push(problem.at(Place::input("days")).got(days).expected("above 0 and at most 7,310"));
    }
    if planned.is_nan() || planned <= 0.0 {
        let problem = Problem::new("warranty.planned_age", "the planned age must be above 0");
        problems.push(problem.at(Place::input("planned_age_hours")).got(planned));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// The number of claims and the mean money in one world.
fn in_world(asked: &Asked<'_>, world: &World) -> Result<InWorld> {
    let money = asked.cover.money();
    // The curve wants costs that hold the price of the lamp; no figure of this answer rests on them.
    let failed = 2.0 * money.largest();
    let mut endings: Vec<_> = world.causes.iter().flat_map(|c| c.endings.iter().map(|e| e.0)).collect();
    endings.sort_unstable();
    endings.dedup();
    let costs = Costs::new(failed, endings.iter().map(|e| (*e, failed)))?.with_warranty(money.clone())?;
    let mut curve = WorldCurve::by_quadrature(world, &costs, &Objective::CostPerHour)?;
    let covered = curve.covered().unwrap_or(&[]).to_vec();
    let (mut claims, mut mean) = (Count::certain(0), 0.0);
    for kind in &asked.kinds {
        let mut chance = 0.0;
        for (until, share) in &kind.until {
            // A failure at the end itself counts as late.
            let Some((chances, money)) = curve.after(kind.age, until.next_down())? else { continue };
            chance += share * covered.iter().zip(&chances).map(|(c, p)| c * p).sum::<f64>();
            mean += share * money.iter().sum::<f64>() * kind.lamps as f64;
        }
        claims.add_independent(&Count::binomial(kind.lamps, chance.clamp(0.0, 1.0))?);
    }
    let mut later = Means::default();
    for alike in asked.screens.chunk_by(|a, b| a.until == b.until) {
        let Some(until) = alike.first().map(|s| s.until) else { continue };
        let most = alike.iter().map(|s| s.hours).fold(0.0, f64::max);
        let new = NewLamp::new(&mut curve, &covered, asked.planned, until, most)?;
        for screen in alike {
            later.add(screen.chance, new.after(&curve, screen.age, screen.hours));
        }
    }
    Ok(InWorld { claims, money: mean, later })
}
