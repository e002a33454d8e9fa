//! What an earlier conversion of some screens saves in lamps.

use serde::{Deserialize, Serialize};

use super::last_buy::LastBuy;
use super::last_buy_input::{ConvertingScreen, DayChance};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// A last buy, and the same with some screens converted earlier.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EarlierConversion {
    /// Screens converted earlier.
    pub screens: u64,
    /// Lamps that need not be bought; below 0 where more freed lamps would have been worth more later.
    pub lamps_saved: i64,
    /// Mean lamps that are not needed.
    pub mean_saved: f64,
    /// Mean cost that is saved, where the quantity is set by costs; the cost of converting earlier is to be set against it.
    pub cost_saved: Option<f64>,
    /// The same for each screen converted earlier: what converting one earlier may cost at most.
    pub worth_per_screen: Option<f64>,
}

impl Sound for EarlierConversion {
    fn check(&self, c: &mut Checks) {
        c.need("screens", self.screens > 0, self.screens, "1 or more");
        c.there("worth_per_screen", self.worth_per_screen.is_some(), self.cost_saved.is_some(), "with cost_saved");
        if let (Some(worth), Some(saved)) = (self.worth_per_screen, self.cost_saved) {
            c.equal("worth_per_screen", worth, saved / self.screens as f64);
        }
    }
}

/// The screens with some of them converted on a day, or on their own day where that is sooner.
///
/// # Errors
/// `stock.unknown_screen` for a row that is not there or is named twice, all at once; `stock.conversion_day` for a day
/// before today.
///
/// # Examples
/// ```
/// use relamp::demand::SocketToday;
/// use relamp::stock::{ConvertingScreen, DayChance, convert_earlier};
/// let socket = SocketToday { age_hours: Some(500.0), hours_per_week: 70.0 };
/// let day = |day, chance| DayChance { day, chance };
/// let screens = [ConvertingScreen { socket, conversion: vec![day(50.0, 0.4), day(500.0, 0.5)] }];
/// let earlier = convert_earlier(&screens, &[0], 100.0)?;
/// assert_eq!(earlier[0].conversion, [day(50.0, 0.4), day(100.0, 0.6)]);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn convert_earlier(screens: &[ConvertingScreen], rows: &[usize], day: f64) -> Result<Vec<ConvertingScreen>> {
    let mut problems = Vec::new();
    let mut seen = vec![false; screens.len()];
    for (i, row) in rows.iter().enumerate() {
        match seen.get_mut(*row) {
            Some(twice) if !*twice => *twice = true,
            _ => {
                let what = "a screen to be converted earlier must be one of the fleet, named once";
                let place = Place::input("earlier").row(i as u64 + 1);
                let expected = format!("0 to {}, each once", screens.len().saturating_sub(1));
                problems.push(Problem::new("stock.unknown_screen", what).at(place).got(row).expected(expected));
            }
        }
    }
    if !(0.0..f64::INFINITY).contains(&day) {
        let problem = Problem::new("stock.conversion_day", "a conversion cannot lie before today");
        problems
            .push(problem.at(Place::input("earlier").column("day")).got(day).expected("days from today, 0 or more"));
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let moved = |(screen, chosen): (&ConvertingScreen, bool)| {
        let mut screen = screen.clone();
        if chosen {
            screen.conversion.retain(|d| d.day < day);
            let left = 1.0 - screen.conversion.iter().map(|d| d.chance).sum::<f64>();
            if left > 0.0 {
                screen.conversion.push(DayChance { day, chance: left });
            }
        }
        screen
    };
    Ok(screens.iter().zip(seen).map(moved).collect())
}

impl EarlierConversion {
    /// The difference of two last buys under the same terms, the second with `screens` of them converted earlier.
    ///
    /// # Errors
    /// `stock.different_terms` where the two do not compare.
    pub fn between(now: &LastBuy, earlier: &LastBuy, screens: usize) -> Result<Self> {
        if now.terms != earlier.terms || now.screens != earlier.screens || screens == 0 || screens > now.screens {
            let what = "an earlier conversion is compared for the same fleet under the same terms";
            let problem = Problem::new("stock.different_terms", what).at(Place::input("earlier"));
            return Err(Error::new(
                Kind::Input,
                problem.got(screens).expected("two last buys that differ in days only"),
            ));
        }
        let lamps = |buy: &LastBuy| i64::try_from(buy.held.lamps).unwrap_or(i64::MAX);
        let cost_saved = now.held.cost.zip(earlier.held.cost).map(|(now, earlier)| now - earlier);
        Ok(Self {
            screens: screens as u64,
            lamps_saved: lamps(now) - lamps(earlier),
            mean_saved: now.needed.mean() - earlier.needed.mean(),
            cost_saved,
            worth_per_screen: cost_saved.map(|saved| saved / screens as f64),
        })
    }
}
