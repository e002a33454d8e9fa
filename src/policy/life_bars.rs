//! How much of what is not known of the planned age is owed to each cause's life.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, PlannedAge, planned_age};
use super::interval::{AgeInterval, planned_age_interval};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, Method, World};
use crate::records::Ending;
use crate::terms::HourLimit;

/// Worlds in which one cause is drawn and all others stay at their estimates.
struct OneDrawn<'a> {
    draws: &'a dyn Draws,
    cause: usize,
}

impl Draws for OneDrawn<'_> {
    fn len(&self) -> usize {
        self.draws.len()
    }

    fn best(&self) -> Result<World> {
        self.draws.best()
    }

    fn world(&self, replicate: usize) -> Result<World> {
        let mut world = self.draws.best()?;
        let drawn = self.draws.world(replicate)?;
        if drawn.causes.len() != world.causes.len() {
            let problem = Problem::new("policy.causes_differ", "a drawn world has other causes than the estimates");
            let expected = format!("{} causes", world.causes.len());
            return Err(Error::new(Kind::Input, problem.got(drawn.causes.len()).expected(expected)));
        }
        let own = drawn.causes.into_iter().nth(self.cause);
        if let (Some(place), Some(cause)) = (world.causes.get_mut(self.cause), own) {
            *place = cause;
        }
        Ok(world)
    }

    fn method(&self) -> Method {
        self.draws.method()
    }
}

/// The planned age where the life of one cause is drawn and all others stay. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeBar {
    /// What the cause is recorded as.
    pub endings: Vec<Ending>,
    /// What its draws make of the planned age.
    pub interval: AgeInterval,
}

impl LifeBar {
    /// How far apart the ends of the interval of the age are, hours.
    pub fn width(&self) -> f64 {
        self.interval.age_hours.high - self.interval.age_hours.low
    }
}

/// How far the life of each cause, as the records leave it open, moves the advice; the widest bar first. No age in it
/// passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeBars {
    /// The advice at the estimates.
    pub planned: PlannedAge,
    /// What the draws of all causes together make of it.
    pub together: AgeInterval,
    /// One bar for each cause.
    pub bars: Vec<LifeBar>,
}

impl Sound for LifeBars {
    fn check(&self, c: &mut Checks) {
        c.part("planned", &self.planned);
        c.part("together", &self.together);
        c.need("bars", !self.bars.is_empty(), "no bar", "one or more");
        c.once("bars", self.bars.iter().flat_map(|b| b.endings.iter().copied()));
        for (i, bar) in self.bars.iter().enumerate() {
            let field = format!("bars[{i}]");
            c.part(&format!("{field}.interval"), &bar.interval);
            c.need(&format!("{field}.endings"), !bar.endings.is_empty(), "no ending", "one or more");
            let (level, high) = (bar.interval.level, bar.interval.age_hours.high);
            c.equal(&format!("{field}.interval.level"), level, self.together.level);
            c.advice(&format!("{field}.interval.age_hours.high"), high, self.planned.limit_hours);
        }
        let order = self.bars.windows(2).all(|w| matches!(w, [a, b] if a.width() >= b.width()));
        c.need("bars", order, "another order", "the widest first");
    }
}

/// Asks for the planned age over the draws with one cause drawn at a time, all others at their estimates: where more
/// records of one cause would settle the advice.
///
/// Each bar is a [`planned_age_interval`], which asks for the age of least cost itself: where the cost is so flat that
/// [`planned_age`] advises the limit, that advice may lie outside the bars. Causes are refitted under common weights, so they are not drawn independently
/// of each other, and the widths of the bars do not add up to that of all causes together.
///
/// # Errors
/// Those of [`planned_age_interval`], and `policy.causes_differ` for draws whose worlds have other causes than the estimates.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, Draws, Method, World};
/// use relamp::policy::{AgeOptions, life_bars};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// use relamp::{Result, Run};
/// // Invented draws: the life until a burst is known to a tenth, that until dimming not at all well.
/// struct Two;
/// impl Draws for Two {
///     fn len(&self) -> usize {
///         40
///     }
///     fn best(&self) -> Result<World> {
///         self.world(20)
///     }
///     fn world(&self, replicate: usize) -> Result<World> {
///         let share = replicate as f64 / 20.0 - 1.0;
///         let cause = |ending, scale| CauseLife {
///             endings: vec![(ending, 1.0)],
///             life: Box::new(Weibull { shape: 3.0, scale }),
///         };
///         let causes = vec![cause(Ending::Burst, 3000.0 + 300.0 * share), cause(Ending::Dim, 2000.0 + 900.0 * share)];
///         Ok(World { causes, costs: Costs::new(1.0, [(Ending::Burst, 5.0), (Ending::Dim, 3.0)])? })
///     }
///     fn method(&self) -> Method {
///         Method::Wald
///     }
/// }
/// let printed = PrintedHours { maximum_hours: Some(4000.0), source: "invented".into(), ..PrintedHours::default() };
/// let bars = life_bars(&Two, &printed.limit()?, &AgeOptions::default(), 0.9, &Run::new())?;
/// assert_eq!(bars.bars[0].endings, [Ending::Dim]);
/// assert!(bars.bars[1].width() < 0.5 * bars.bars[0].width());
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn life_bars(
    draws: &dyn Draws,
    limit: &HourLimit,
    options: &AgeOptions,
    level: f64,
    run: &Run,
) -> Result<LifeBars> {
    let world = draws.best()?;
    let planned = planned_age(&world, limit, options)?;
    let together = planned_age_interval(draws, limit, options, level, run)?;
    let mut bars = Vec::with_capacity(world.causes.len());
    for (cause, life) in world.causes.iter().enumerate() {
        let interval = planned_age_interval(&OneDrawn { draws, cause }, limit, options, level, run)?;
        bars.push(LifeBar { endings: life.endings.iter().map(|e| e.0).collect(), interval });
    }
    bars.sort_by(|a, b| b.width().total_cmp(&a.width()));
    Ok(LifeBars { planned, together, bars })
}
