//! How to share money or a target over lamp classes, and the lamps of a class over its depot and sites.

use serde::{Deserialize, Serialize};

use super::places::{Places, PlacesMethod};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// Most lamps of one class that are shared over depot and sites.
const MOST_LAMPS: u64 = 1000;

/// Most mixes of classes kept while they are combined; more are thinned, and the result says so.
const MOST_MIXES: usize = 20_000;

/// What stock is judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Measure {
    /// Mean screens that wait for a lamp.
    ScreensWaiting,
    /// Mean dark programme hours a year.
    DarkHours,
}

/// The best way to hold a number of lamps of one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurvePoint {
    /// Lamps in all.
    pub lamps: u64,
    /// Of these at the depot.
    pub depot: u64,
    /// The others by site, in the order of the sites.
    pub sites: Vec<u64>,
    /// What is left to go wrong: screens waiting or dark hours a year.
    pub shortfall: f64,
}

/// What 0, 1, 2, ... lamps of one class lead to at their best places.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClassCurve {
    /// The lamp class.
    pub class: String,
    /// Price of a lamp.
    pub unit_cost: f64,
    /// What the shortfall counts.
    pub measure: Measure,
    /// One point for each number of lamps from 0.
    pub points: Vec<CurvePoint>,
}

/// Money that may be spent, or a shortfall that may be left.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Goal {
    /// Least shortfall for at most this money.
    Budget(f64),
    /// Least money for at most this shortfall.
    Shortfall(f64),
}

/// The lamps of one class in a mix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MixPart {
    /// The lamp class.
    pub class: String,
    /// Its lamps and where they are held.
    pub held: CurvePoint,
    /// What they cost.
    pub cost: f64,
}

/// The best mix of whole lamps over classes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockMix {
    /// What was asked for.
    pub goal: Goal,
    /// What the shortfall counts.
    pub measure: Measure,
    /// Each class.
    pub parts: Vec<MixPart>,
    /// What all lamps cost.
    pub cost: f64,
    /// The shortfall of all classes.
    pub shortfall: f64,
    /// Whether no other mix can be better; else so many were near that some were left out.
    pub best: bool,
}

/// One step of buying where money does most.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuyStep {
    /// The lamp class bought, its place in the list.
    pub class: usize,
    /// Lamps of each class after the step.
    pub lamps: Vec<u64>,
    /// Money spent after the step.
    pub cost: f64,
    /// Shortfall of all classes after the step.
    pub shortfall: f64,
    /// Shortfall that the step takes away for each unit of money.
    pub gain_per_cost: f64,
}

impl Sound for ClassCurve {
    fn check(&self, c: &mut Checks) {
        c.words("class", &self.class);
        c.positive("unit_cost", self.unit_cost);
        c.need("points", !self.points.is_empty(), "no point", "one or more");
        for (i, point) in self.points.iter().enumerate() {
            c.inside(&format!("points[{i}]"), |c| {
                c.need("lamps", point.lamps == i as u64, point.lamps, format!("{i}, one point for each number"));
                check_point(c, point);
            });
        }
        c.falling("points", &self.points.iter().map(|p| p.shortfall).collect::<Vec<_>>());
    }
}

impl Sound for StockMix {
    fn check(&self, c: &mut Checks) {
        c.need("parts", !self.parts.is_empty(), "no class", "one or more");
        for (i, part) in self.parts.iter().enumerate() {
            c.inside(&format!("parts[{i}]"), |c| {
                c.words("class", &part.class);
                c.not_negative("cost", part.cost);
                c.inside("held", |c| check_point(c, &part.held));
            });
        }
        c.equal("cost", self.cost, self.parts.iter().map(|p| p.cost).sum());
        c.equal("shortfall", self.shortfall, self.parts.iter().map(|p| p.held.shortfall).sum());
        match self.goal {
            Goal::Budget(money) => c.between("cost", self.cost, 0.0, money),
            Goal::Shortfall(most) => c.between("shortfall", self.shortfall, 0.0, most),
        }
    }
}

fn check_point(c: &mut Checks, point: &CurvePoint) {
    let lamps = point.depot + point.sites.iter().sum::<u64>();
    c.need("lamps", point.lamps == lamps, point.lamps, format!("{lamps}, those at the depot and at the sites"));
    c.not_negative("shortfall", point.shortfall);
}

/// What each number of lamps of a class leads to when depot and sites share them best.
///
/// For each depot stock the lamps left go to the sites one by one, each where it takes away most; that is the best for
/// that depot stock, as waiting falls by less with every lamp of a site. Over depot stocks it need not, so that all
/// are tried.
///
/// # Errors
/// `stock.most_lamps` above 1,000 lamps; `stock.unit_cost` unless the price is above 0; those of
/// [`place_service`](super::place_service).
///
/// # Examples
/// ```
/// use relamp::stock::{Measure, Places, Site, class_curve};
/// let site = |name: &str| Site {
///     name: name.into(), needed_per_day: 0.05, variance_to_mean: 1.0, depot_days: Some(2.0),
///     local_share: 0.0, local_days: None, hours_per_day: 10.0,
/// };
/// let places = Places { maker_days: Some(20.0), sites: vec![site("north"), site("south")] };
/// let curve = class_curve("2 kW", 700.0, &places, 6, Measure::ScreensWaiting, None)?;
/// // Two lamps do most at the depot, which both sites can draw on; of four, each site holds one.
/// assert_eq!((curve.points[2].depot, &curve.points[2].sites[..]), (2, &[0, 0][..]));
/// assert_eq!((curve.points[4].depot, &curve.points[4].sites[..]), (2, &[1, 1][..]));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn class_curve(
    class: &str,
    unit_cost: f64,
    places: &Places,
    most: u64,
    measure: Measure,
    method: Option<PlacesMethod>,
) -> Result<ClassCurve> {
    let method = places.method(method)?;
    check(unit_cost, most)?;
    let weight = |i: usize| match (measure, places.sites.get(i)) {
        (Measure::DarkHours, Some(site)) => site.hours_per_year(),
        _ => 1.0,
    };
    let mut points: Vec<CurvePoint> = Vec::new();
    for depot in 0..=most {
        let (_, on_way) = places.on_way(depot, method)?;
        let mut sites = vec![0; on_way.len()];
        let value = |i: usize, stock: u64| on_way.get(i).map_or(0.0, |c| weight(i) * c.expected_above(stock));
        let mut now: Vec<f64> = (0..on_way.len()).map(|i| value(i, 0)).collect();
        let mut next: Vec<f64> = (0..on_way.len()).map(|i| value(i, 1)).collect();
        for lamps in depot..=most {
            let shortfall: f64 = now.iter().sum();
            match points.get_mut(lamps as usize) {
                Some(point) if point.shortfall <= shortfall => {}
                Some(point) => *point = CurvePoint { lamps, depot, sites: sites.clone(), shortfall },
                None => points.push(CurvePoint { lamps, depot, sites: sites.clone(), shortfall }),
            }
            let gains = now.iter().zip(&next).map(|(a, b)| a - b).enumerate();
            // Of equal gains the first site has the lamp.
            let best = gains.fold((0, f64::NEG_INFINITY), |best, gain| if gain.1 > best.1 { gain } else { best }).0;
            if let (Some(s), Some(a), Some(b)) = (sites.get_mut(best), now.get_mut(best), next.get_mut(best)) {
                *s += 1;
                *a = *b;
                *b = value(best, *s + 1);
            }
        }
    }
    Ok(ClassCurve { class: class.to_owned(), unit_cost, measure, points })
}

/// What each number of lamps leads to at one place without a depot: E(needed - n)+ of the lamps on their way.
///
/// # Errors
/// `stock.most_lamps` above 1,000 lamps; `stock.unit_cost` unless the price is above 0.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::one_place_curve;
/// let curve = one_place_curve("2 kW", 700.0, &Count::poisson(1.0)?, 3)?;
/// assert!((curve.points[1].shortfall - (-1.0_f64).exp()).abs() < 1e-15);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn one_place_curve(class: &str, unit_cost: f64, on_way: &Count, most: u64) -> Result<ClassCurve> {
    check(unit_cost, most)?;
    let point = |lamps| CurvePoint { lamps, depot: 0, sites: vec![lamps], shortfall: on_way.expected_above(lamps) };
    let points = (0..=most).map(point).collect();
    Ok(ClassCurve { class: class.to_owned(), unit_cost, measure: Measure::ScreensWaiting, points })
}

fn check(unit_cost: f64, most: u64) -> Result<()> {
    let mut problems = Vec::new();
    if !(unit_cost > 0.0 && unit_cost.is_finite()) {
        let problem = Problem::new("stock.unit_cost", "the price of a lamp must be finite and above 0");
        problems.push(problem.at(Place::input("unit_cost")).got(unit_cost));
    }
    if most > MOST_LAMPS {
        let problem = Problem::new("stock.most_lamps", "more than 1,000 lamps to be shared over depot and sites");
        problems.push(problem.at(Place::input("most")).got(most).expected("at most 1,000"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// The measure that all curves share, once they and the goal are in order.
fn shared(curves: &[ClassCurve], goal: Goal) -> Result<Measure> {
    let wrong = |input: &str, got: String, expected: &str| {
        let what = "one or more classes judged alike, and money or a shortfall of 0 or more";
        let problem = Problem::new("stock.mix", what).at(Place::input(input)).got(got).expected(expected);
        Err(Error::new(Kind::Input, problem))
    };
    let Some(first) = curves.first() else { return wrong("classes", "none".into(), "one or more") };
    if curves.iter().any(|c| c.measure != first.measure) {
        return wrong("classes", "two measures".into(), "the same measure for each class");
    }
    let mut names = std::collections::BTreeSet::new();
    if let Some(twice) = curves.iter().find(|c| !names.insert(&c.class)) {
        return wrong("classes", format!("{} twice", twice.class), "each class once");
    }
    let (input, x) = match goal {
        Goal::Budget(x) => ("budget", x),
        Goal::Shortfall(x) => ("shortfall", x),
    };
    if !(0.0..f64::INFINITY).contains(&x) {
        return wrong(input, x.to_string(), "a finite number, 0 or more");
    }
    Ok(first.measure)
}

/// Buys where money does most, step by step, until the next step passes the budget.
///
/// # Formula
/// ```text
/// next step: the class and number of lamps k with the greatest (shortfall(n) - shortfall(n + k)) / (k unit cost)
/// ```
/// With waiting that falls by less for every lamp, k is 1. With a depot it need not, and a step may be of several lamps.
/// Each mix on the way is the best for its money; between two of them [`best_mix`] may do better.
///
/// # Errors
/// `stock.mix` for no class, a class that stands twice, classes judged by different measures, or a budget below 0.
///
/// # Source
/// Sherbrooke, Optimal Inventory Modeling of Systems (2004), chapter 2. From memory.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::{buy_steps, one_place_curve};
/// let curves = [one_place_curve("2 kW", 5.0, &Count::poisson(1.0)?, 9)?, one_place_curve("4 kW", 1.0, &Count::poisson(4.0)?, 9)?];
/// let steps = buy_steps(&curves, 11.0)?;
/// assert_eq!(steps.len(), 7);
/// assert_eq!((steps[6].class, &steps[6].lamps[..]), (0, &[1, 6][..]));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn buy_steps(curves: &[ClassCurve], budget: f64) -> Result<Vec<BuyStep>> {
    shared(curves, Goal::Budget(budget))?;
    let mut lamps = vec![0_usize; curves.len()];
    let at = |class: usize, n: usize| curves.get(class).and_then(|c| c.points.get(n)).map(|p| p.shortfall);
    let mut shortfall: f64 = (0..curves.len()).filter_map(|i| at(i, 0)).sum();
    let mut cost = 0.0;
    let mut steps = Vec::new();
    loop {
        let mut best: Option<(f64, usize, usize)> = None;
        for (class, (curve, &n)) in curves.iter().zip(&lamps).enumerate() {
            let Some(now) = at(class, n) else { continue };
            for (k, point) in curve.points.iter().skip(n + 1).enumerate() {
                let gain = (now - point.shortfall) / ((k + 1) as f64 * curve.unit_cost);
                if gain > best.map_or(0.0, |b| b.0) {
                    best = Some((gain, class, k + 1));
                }
            }
        }
        let Some((gain_per_cost, class, k)) = best else { break };
        let price = curves.get(class).map_or(0.0, |c| c.unit_cost * k as f64);
        if cost + price > budget {
            break;
        }
        cost += price;
        if let Some(n) = lamps.get_mut(class) {
            shortfall += at(class, *n + k).unwrap_or(0.0) - at(class, *n).unwrap_or(0.0);
            *n += k;
        }
        let lamps = lamps.iter().map(|n| *n as u64).collect();
        steps.push(BuyStep { class, lamps, cost, shortfall: shortfall.max(0.0), gain_per_cost });
    }
    Ok(steps)
}

/// A mix of the classes so far that no cheaper one beats, with the mix before and the lamps added to it.
#[derive(Clone, Copy, Debug)]
struct Mix {
    cost: f64,
    shortfall: f64,
    before: usize,
    lamps: usize,
}

/// The whole numbers of lamps of each class with the least shortfall for some money, or the least money for a shortfall.
///
/// Mixes of the first classes that a cheaper one beats are dropped, the others are combined with every number of lamps of
/// the next class. What is left at the end is the best, whatever the shape of the curves.
///
/// # Errors
/// `stock.mix` as for [`buy_steps`]; `stock.not_enough_lamps` where the most lamps of all curves leave more than the
/// shortfall.
///
/// # Numerics
/// At most 20,000 mixes are kept from class to class; where more are undominated, the nearest in money are left out, and
/// [`StockMix::best`] is false.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::{Goal, best_mix, one_place_curve};
/// let curves = [one_place_curve("2 kW", 5.0, &Count::poisson(1.0)?, 9)?, one_place_curve("4 kW", 1.0, &Count::poisson(4.0)?, 9)?];
/// // For 10 the steps stop at 6, where the next lamp would cost 5; the best mix spends the rest on the other class.
/// let mix = best_mix(&curves, Goal::Budget(10.0))?;
/// assert_eq!((mix.parts[0].held.lamps, mix.parts[1].held.lamps, mix.cost), (1, 5, 10.0));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn best_mix(curves: &[ClassCurve], goal: Goal) -> Result<StockMix> {
    let measure = shared(curves, goal)?;
    let most = match goal {
        Goal::Budget(money) => money,
        Goal::Shortfall(left) => enough(curves, left)?,
    };
    let mut stages: Vec<Vec<Mix>> = vec![vec![Mix { cost: 0.0, shortfall: 0.0, before: 0, lamps: 0 }]];
    let mut best = true;
    // Rounding in a sum of prices must not lose a mix that spends all the money.
    let most = most * (1.0 + 1e-12);
    for curve in curves {
        let mut mixes = Vec::new();
        for (before, mix) in stages.last().map_or(&[] as &[Mix], Vec::as_slice).iter().enumerate() {
            let each = curve.points.iter().enumerate().map(|(lamps, point)| Mix {
                cost: mix.cost + curve.unit_cost * lamps as f64,
                shortfall: mix.shortfall + point.shortfall,
                before,
                lamps,
            });
            mixes.extend(each.take_while(|m| m.cost <= most));
        }
        mixes.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(a.shortfall.total_cmp(&b.shortfall)));
        let mut least = f64::INFINITY;
        mixes.retain(|m| {
            let better = m.shortfall < least;
            least = least.min(m.shortfall);
            better
        });
        if mixes.len() > MOST_MIXES {
            best = false;
            let (number, last) = (mixes.len(), mixes.len() - 1);
            let mut place = 0;
            mixes.retain(|_| {
                let kept = place == last || place * MOST_MIXES / number != (place + 1) * MOST_MIXES / number;
                place += 1;
                kept
            });
        }
        stages.push(mixes);
    }
    let last = stages.last().map_or(&[] as &[Mix], Vec::as_slice);
    let found = match goal {
        Goal::Budget(_) => last.len().checked_sub(1),
        Goal::Shortfall(left) => last.iter().position(|m| m.shortfall <= left * (1.0 + 1e-12)),
    };
    let mut parts = Vec::new();
    let mut place = found.ok_or_else(|| not_enough(last.last().map_or(0.0, |m| m.shortfall)))?;
    for (curve, stage) in curves.iter().zip(stages.iter().skip(1)).rev() {
        let Some(mix) = stage.get(place) else { continue };
        if let Some(held) = curve.points.get(mix.lamps) {
            let cost = curve.unit_cost * mix.lamps as f64;
            parts.push(MixPart { class: curve.class.clone(), held: held.clone(), cost });
        }
        place = mix.before;
    }
    parts.reverse();
    let (cost, shortfall) = parts.iter().fold((0.0, 0.0), |(c, s), p| (c + p.cost, s + p.held.shortfall));
    Ok(StockMix { goal, measure, parts, cost, shortfall, best })
}

/// Money with which the steps reach a shortfall.
fn enough(curves: &[ClassCurve], left: f64) -> Result<f64> {
    let start: f64 = curves.iter().filter_map(|c| c.points.first()).map(|p| p.shortfall).sum();
    if start <= left {
        return Ok(0.0);
    }
    let all: f64 = curves.iter().map(|c| c.unit_cost * c.points.len() as f64).sum();
    let steps = buy_steps(curves, all)?;
    let reached = steps.iter().find(|s| s.shortfall <= left).map(|s| s.cost);
    // The steps stop where lamps do nothing any more; a shortfall that all lamps together reach is within rounding of it.
    let least: f64 = curves.iter().filter_map(|c| c.points.last()).map(|p| p.shortfall).sum();
    reached.or((least <= left).then_some(all)).ok_or_else(|| not_enough(least))
}

fn not_enough(least: f64) -> Error {
    let problem = Problem::new("stock.not_enough_lamps", "the most lamps of all classes leave more than the shortfall");
    Error::new(Kind::Refused, problem.at(Place::input("shortfall")).expected(format!("{least} or more, or more lamps")))
}
