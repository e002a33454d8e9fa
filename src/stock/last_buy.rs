//! How many lamps to buy before the type can be had no longer.

use serde::{Deserialize, Serialize};

use super::dated::held_to_limit;
use super::last_buy_input::{ConvertingScreen, LastBuyTerms};
use super::last_buy_play::{Fleet, Play};
use super::last_buy_rule::{BuyPoint, BuyRule};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::{counted, percent, short, tenths, whole};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::demand::{Count, DrawsUsed, Pace, needed_until};
use crate::fit::{Draws, World};
use crate::policy::WorldCurve;
use crate::terms::HourLimit;

/// Plays done in one piece of work.
const PIECE: usize = 50;

/// Fewest plays with a shortage at the quantity from which its chance is read off without a warning.
pub(crate) const FEW_SHORT: f64 = 30.0;

/// What the plays of a shrinking fleet show, as means for one play.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuyPlays {
    /// Plays of the whole fleet.
    pub plays: u64,
    /// Standard error of the chance of a shortage at the quantity.
    pub shortage_chance_error: f64,
    /// Mean lamps freed by conversion that went to the shelf.
    pub freed: f64,
    /// Mean of these, and of used lamps that lay there before, that were fitted after a failure.
    pub reused: f64,
    /// Mean new lamps found unusable when taken from the shelf.
    pub unusable: f64,
}

/// Lamps to buy once, for all that will be needed until the last screen is converted or the time ends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastBuy {
    /// The advice in plain words.
    pub sentence: String,
    /// Screens that burn the type today.
    pub screens: usize,
    /// How lamps are changed, kept and bought.
    pub terms: LastBuyTerms,
    /// Age at which lamps are changed, at most the limit.
    pub planned_age_hours: f64,
    /// New lamps taken from the shelf until the end, those found unusable included.
    pub needed: Count,
    /// The same if no freed lamp were used again and none were lost on the shelf.
    pub needed_plain: Count,
    /// Share of futures in which the quantity is to suffice: 1 - risk, or the critical ratio of the costs.
    pub ratio: f64,
    /// Share of lamps left over that still work at the end.
    pub usable_at_end: f64,
    /// The quantity to hold, and what it leads to.
    pub at_quantity: BuyPoint,
    /// Lamps to buy: the quantity less those on hand.
    pub buy: u64,
    /// What is held once these are bought, and what it leads to; more than the quantity where more is on hand.
    pub held: BuyPoint,
    /// The plays of the fleet; none where the distribution follows from sums.
    pub played: Option<BuyPlays>,
    /// Draws mixed; none for one world.
    pub draws: Option<DrawsUsed>,
    /// What may mislead.
    pub notes: Vec<String>,
}

impl Sound for LastBuy {
    fn check(&self, c: &mut Checks) {
        if let Err(error) = self.terms.check(&[]) {
            let said = error.to_string();
            c.need("terms", false, said, "terms as they are given");
            return;
        }
        c.age("planned_age_hours", self.planned_age_hours, self.terms.planned_age_hours);
        c.positive("planned_age_hours", self.planned_age_hours);
        c.equal("usable_at_end", self.usable_at_end, self.terms.usable(self.terms.end_days));
        c.equal("ratio", self.ratio, self.terms.rule.ratio(self.usable_at_end));
        let lamps = self.terms.rule.lamps(&self.needed, self.usable_at_end);
        c.need("at_quantity.lamps", self.at_quantity.lamps == lamps, self.at_quantity.lamps, lamps.to_string());
        let buy = lamps.saturating_sub(self.terms.on_hand);
        c.need("buy", self.buy == buy, self.buy, format!("{buy}, the quantity less those on hand"));
        let held = lamps.max(self.terms.on_hand);
        for (field, point, lamps) in [("at_quantity", &self.at_quantity, lamps), ("held", &self.held, held)] {
            c.part(field, point);
            let again = self.terms.rule.point(&self.needed, self.usable_at_end, lamps);
            c.inside(field, |c| {
                c.need("lamps", point.lamps == lamps, point.lamps, lamps.to_string());
                c.equal("shortage_chance", point.shortage_chance, again.shortage_chance);
                c.equal("expected_short", point.expected_short, again.expected_short);
                c.equal("leftover_chance", point.leftover_chance, again.leftover_chance);
                c.equal("expected_left", point.expected_left, again.expected_left);
                let why = "a cost where the rule has costs";
                c.there("cost", point.cost.is_some(), again.cost.is_some(), why);
                if let (Some(got), Some(expected)) = (point.cost, again.cost) {
                    c.equal("cost", got, expected);
                }
            });
        }
        c.there("played", self.played.is_some(), !self.terms.exact(), "plays where lamps are reused or lost");
        if let Some(p) = &self.played {
            c.inside("played", |c| {
                c.need("plays", p.plays > 0, p.plays, "1 or more");
                c.share("shortage_chance_error", p.shortage_chance_error);
                c.between("freed", p.freed, 0.0, self.screens as f64);
                let serving = self.terms.used_hours_left(self.planned_age_hours).len();
                c.between("reused", p.reused, 0.0, p.freed + serving as f64);
                c.not_negative("unusable", p.unusable);
            });
        } else if self.needed != self.needed_plain {
            c.need("needed", false, "another distribution", "that of needed_plain without reuse and loss");
        }
        let said = sentence(&self.held, self.buy, self.terms.on_hand, self.terms.end_days);
        c.follows("sentence", &self.sentence, &said);
    }
}

impl LastBuy {
    /// What other quantities lead to, from none to the most that can be needed.
    ///
    /// Where the distribution is long, quantities whose shortage chance lies below 1e-6 or whose leftover chance does are
    /// left out.
    pub fn curve(&self) -> Vec<BuyPoint> {
        let from = self.needed.quantile(1e-6).unwrap_or(0).min(self.at_quantity.lamps);
        let to = self.needed.least_with_tail(1e-6).max(self.at_quantity.lamps);
        (from..=to).map(|lamps| self.terms.rule.point(&self.needed, self.usable_at_end, lamps)).collect()
    }
}

/// Lamps to buy if the world is as given.
///
/// # Formula
/// ```text
/// N = sum over screens of the changes until each is converted or the time ends; screens are independent, the days of
/// conversion of each and a shift of all of them are mixed over
/// at a risk: least q with P(N > q) <= risk;   by costs: as for buy_quantity, money back only for lamps that still work
/// ```
/// A lamp is changed at the planned age or at failure. With [`LastBuyTerms::reuse`] a lamp freed with enough hours left
/// goes to the shelf with its age; after a failure the used lamp with the most hours left is fitted before a new one,
/// and it is changed at the planned age of its own hours. A planned change takes a new lamp. A stored lamp becomes
/// unusable at a constant rate, which is found when it is taken. [`LastBuyTerms::used_lamps`] lie on that shelf from the start.
///
/// Each lamp short is taken as had from elsewhere at once, so that the fleet goes on as if the shelf were full.
///
/// # Errors
/// All at once: `demand.socket_age`, `demand.socket_hours`, `demand.planned_age`, `stock.conversion_day`,
/// `stock.conversion_chance`, `stock.conversion_chances`, `stock.risk`, `stock.buy_costs`, `stock.least_hours_left`,
/// `stock.shelf_loss`, `stock.plays`. Then `demand.horizon`, those of [`WorldCurve::new`]; a stop.
///
/// # Numerics
/// Without reuse and shelf loss the distribution is the sum of those of the screens, as in [`crate::demand::forecast`];
/// a day between two steps of its grid is split over both. With either the fleet is played [`LastBuyTerms::plays`]
/// times, each with its own stream: the same to the byte on any number of threads.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::demand::SocketToday;
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::stock::{BuyRule, ConvertingScreen, DayChance, LastBuyTerms, last_buy};
/// use relamp::terms::{Costs, PrintedHours};
/// let printed = PrintedHours { maximum_hours: Some(1000.0), source: "invented".into(), ..PrintedHours::default() };
/// // Lamps that all but never fail, 10 h a day: one a hundred days. One screen is converted after 150 or 250 days.
/// let life = Box::new(Weibull { shape: 3.0, scale: 1e9 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let day = |day, chance| DayChance { day, chance };
/// let screen = ConvertingScreen {
///     socket: SocketToday { age_hours: Some(500.0), hours_per_week: 70.0 },
///     conversion: vec![day(140.0, 0.7), day(240.0, 0.3)],
/// };
/// let terms = LastBuyTerms::new(300.0, 1000.0, BuyRule::Risk(0.1));
/// let buy = last_buy(&[screen], &world, &printed.limit()?, &terms, &Run::new())?;
/// assert_eq!((buy.buy, buy.needed.last()), (2, 2));
/// assert!((buy.needed.mean() - 1.3).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn last_buy(
    screens: &[ConvertingScreen],
    world: &World,
    limit: &HourLimit,
    terms: &LastBuyTerms,
    run: &Run,
) -> Result<LastBuy> {
    in_one_world(screens, &[], world, limit, terms, run)
}

/// The same where the clock of a screen runs by its pace.
pub(super) fn in_one_world(
    screens: &[ConvertingScreen],
    paces: &Paces<'_>,
    world: &World,
    limit: &HourLimit,
    terms: &LastBuyTerms,
    run: &Run,
) -> Result<LastBuy> {
    terms.check(screens)?;
    let age = terms.planned_age_hours.min(limit.hours());
    let plain = plain(&[screens], paces, world, age, terms)?.pop().unwrap_or_else(|| Count::certain(0));
    let pieces = if terms.exact() { 0 } else { terms.plays.div_ceil(PIECE) };
    let played = run.map(pieces, |i| {
        let replicates = (i * PIECE)..((i + 1) * PIECE).min(terms.plays);
        plays((screens, paces), world, age, terms, replicates.map(|r| r as u64))
    })?;
    let mut all = Vec::new();
    for piece in played {
        all.extend(piece?);
    }
    finished(screens.len(), age, terms, plain, &all, None)
}

/// The same over draws: within each draw the screens are independent, and the distributions are mixed with equal weight.
///
/// # Errors
/// Those of [`last_buy`]; `stock.no_draws` where no draw gave an answer.
pub fn last_buy_over_draws(
    screens: &[ConvertingScreen],
    draws: &dyn Draws,
    limit: &HourLimit,
    terms: &LastBuyTerms,
    run: &Run,
) -> Result<LastBuy> {
    let mut answers = last_buys_over_draws(&[screens], &[], draws, limit, terms, run)?;
    answers.pop().ok_or_else(|| no_draws(0))
}

/// The same for several programmes of one fleet, in the order given: what they share is worked out once in each draw. The
/// clock of a screen runs by its pace, evenly where it has none.
///
/// # Errors
/// Those of [`last_buy_over_draws`], of any of them.
pub(crate) fn last_buys_over_draws(
    fleets: &[&[ConvertingScreen]],
    paces: &Paces<'_>,
    draws: &dyn Draws,
    limit: &HourLimit,
    terms: &LastBuyTerms,
    run: &Run,
) -> Result<Vec<LastBuy>> {
    fleets.iter().try_for_each(|screens| terms.check(screens))?;
    let age = terms.planned_age_hours.min(limit.hours());
    let each = if terms.exact() { 0 } else { terms.plays.div_ceil(draws.len().max(1)) };
    let answers = run.map(draws.len(), |i| {
        let world = draws.world(i)?;
        let replicates = || (i * each..(i + 1) * each).map(|r| r as u64);
        let played = fleets.iter().map(|screens| plays((screens, paces), &world, age, terms, replicates()));
        Ok((plain(fleets, paces, &world, age, terms)?, played.collect::<Result<Vec<_>>>()?))
    })?;
    let (mut counts, mut all) = (vec![Vec::new(); fleets.len()], vec![Vec::new(); fleets.len()]);
    let (mut used, mut failed) = (0, 0);
    for answer in answers {
        let Ok((needed, played)) = answer else {
            failed += 1;
            continue;
        };
        used += 1;
        counts.iter_mut().zip(needed).for_each(|(all, one)| all.push(one));
        all.iter_mut().zip(played).for_each(|(all, some)| all.extend(some));
    }
    if used == 0 {
        return Err(no_draws(failed));
    }
    let each = fleets.iter().zip(counts.iter().zip(&all)).map(|(screens, (counts, plays))| {
        let mixed = Count::mix(&counts.iter().collect::<Vec<_>>())?;
        let used = DrawsUsed { method: draws.method(), used, failed };
        finished(screens.len(), age, terms, mixed, plays, Some(used))
    });
    each.collect()
}

/// How fast the clock of each screen of a fleet runs; none, or an end of the list, for the same hours every day.
pub(super) type Paces<'a> = [Option<&'a Pace>];

pub(super) fn no_draws(failed: usize) -> Error {
    Error::new(Kind::Refused, Problem::new("stock.no_draws", "no draw gave the lamps of a last buy").got(failed))
}

/// Lamps needed without reuse and shelf loss, for each fleet.
fn plain(
    fleets: &[&[ConvertingScreen]],
    paces: &Paces<'_>,
    world: &World,
    age: f64,
    terms: &LastBuyTerms,
) -> Result<Vec<Count>> {
    let end = terms.end_days;
    // In days of ordinary hours, as far as the fastest clock gets; a day of the calendar stays one even where nothing burns.
    let ordinary = |i: usize, day: f64| match paces.get(i).copied().flatten() {
        Some(pace) if day > 0.0 => pace.days_at(day).max(f64::MIN_POSITIVE),
        _ => day,
    };
    let most = paces.iter().flatten().map(|pace| pace.days_at(end)).fold(end, f64::max);
    let slips = terms.slips();
    let mut stopping = Vec::with_capacity(fleets.len() * slips.len());
    for screens in fleets {
        for slip in &slips {
            let stops = |(i, s): (usize, &ConvertingScreen)| {
                s.stops(slip.day, end).into_iter().map(|(day, chance)| (ordinary(i, day), chance)).collect()
            };
            stopping.push(screens.iter().enumerate().map(|(i, s)| (&s.socket, stops((i, s)))).collect());
        }
    }
    let counts = needed_until(&stopping, world, age, most)?;
    let mixed = counts.chunks(slips.len()).map(|each| match each {
        [one] => Ok(one.clone()),
        _ => Count::mix_weighted(&slips.iter().map(|slip| slip.chance).zip(each).collect::<Vec<_>>()),
    });
    mixed.collect()
}

fn plays(
    (screens, paces): (&[ConvertingScreen], &Paces<'_>),
    world: &World,
    age: f64,
    terms: &LastBuyTerms,
    replicates: impl Iterator<Item = u64>,
) -> Result<Vec<Play>> {
    let curve = WorldCurve::new(world)?;
    let fleet = Fleet { screens, paces, terms, world, planned_age: age };
    replicates.map(|r| fleet.play(&curve, r)).collect()
}

/// The distribution of lamps taken in plays, each with equal weight.
fn tallied(plays: &[Play]) -> Result<Count> {
    let first = plays.iter().map(|p| p.taken).min().unwrap_or(0);
    let last = plays.iter().map(|p| p.taken).max().unwrap_or(0);
    let mut tally = vec![0_u64; (last - first) as usize + 1];
    for play in plays {
        if let Some(n) = tally.get_mut((play.taken - first) as usize) {
            *n += 1;
        }
    }
    Count::from_probabilities(first, tally.into_iter().map(|n| n as f64 / plays.len() as f64).collect())
}

fn finished(
    screens: usize,
    age: f64,
    terms: &LastBuyTerms,
    needed_plain: Count,
    plays: &[Play],
    draws: Option<DrawsUsed>,
) -> Result<LastBuy> {
    let needed = if plays.is_empty() { needed_plain.clone() } else { tallied(plays)? };
    let usable_at_end = terms.usable(terms.end_days);
    let lamps = terms.rule.lamps(&needed, usable_at_end);
    let at_quantity = terms.rule.point(&needed, usable_at_end, lamps);
    let held = terms.rule.point(&needed, usable_at_end, lamps.max(terms.on_hand));
    let buy = lamps.saturating_sub(terms.on_hand);
    let number = plays.len() as f64;
    let p = at_quantity.shortage_chance;
    let mean = |of: fn(&Play) -> u64| plays.iter().map(of).sum::<u64>() as f64 / number;
    let played = (!plays.is_empty()).then(|| BuyPlays {
        plays: plays.len() as u64,
        shortage_chance_error: (p * (1.0 - p) / number).sqrt(),
        freed: mean(|p| p.freed),
        reused: mean(|p| p.reused),
        unusable: mean(|p| p.unusable),
    });
    let ratio = terms.rule.ratio(usable_at_end);
    let mut notes = Vec::new();
    if terms.planned_age_hours > age {
        notes.push(held_to_limit(terms.planned_age_hours, age));
    }
    if !terms.used_lamps.is_empty() {
        let (all, serving) = (terms.used_lamps.len() as u64, terms.used_hours_left(age).len() as u64);
        notes.push(format!(
            "{serving} of {} on the shelf may serve after failures, with the hours they have left; the quantity is of new lamps",
            counted(all, "used lamp")
        ));
    }
    let certain = matches!(terms.rule, BuyRule::Risk(risk) if risk == 0.0);
    if certain {
        notes.push(no_risk(&needed, lamps, plays.len()));
    }
    if played.is_some() && !certain && (1.0 - ratio) * number < FEW_SHORT {
        let plays = counted(plays.len() as u64, "play");
        notes.push(format!(
            "{plays} of the fleet tell little of a shortage as rare as {}; ask for more",
            short(1.0 - ratio)
        ));
    }
    Ok(LastBuy {
        sentence: sentence(&held, buy, terms.on_hand, terms.end_days),
        screens,
        terms: terms.clone(),
        planned_age_hours: age,
        needed,
        needed_plain,
        ratio,
        usable_at_end,
        at_quantity,
        buy,
        held,
        played,
        draws,
        notes,
    })
}

/// What a risk of 0 was taken as.
fn no_risk(needed: &Count, lamps: u64, plays: usize) -> String {
    if plays > 0 {
        let plays = counted(plays as u64, "play");
        return format!("a risk of 0 is taken as no shortage in {plays} of the fleet; more may be needed in others");
    }
    if needed.more_than(lamps) == 0.0 {
        return "a risk of 0: no more lamps can be needed".to_owned();
    }
    "no quantity makes a shortage impossible; a risk of 0 is taken as one less likely than 1e-12".to_owned()
}

/// The advice in plain words.
fn sentence(held: &BuyPoint, buy: u64, on_hand: u64, end_days: f64) -> String {
    let bought = if buy == 0 { "buy none".to_owned() } else { format!("buy {}", counted(buy, "lamp")) };
    let days = end_days.round() as u64;
    format!(
        "{bought}, with {} on hand {} in all for {}; a chance of {} to run short, {} left over on average",
        whole(on_hand as f64),
        whole(held.lamps as f64),
        counted(days, "day"),
        percent(held.shortage_chance),
        tenths(held.expected_left),
    )
}
