//! What a change costs, by what ended the lamp.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::discount::Discount;
use super::salvage::Salvage;
use super::warranty::Warranty;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// Largest cost or price of one lamp, in any currency.
///
/// Our choice, without a source: a lamp of some thousands in the strongest currency is less than 1e9 in the weakest one of
/// today, and a thousand times that leaves room; past it a figure is a slip, and sums of many lamps lose their coins.
pub const LARGEST_AMOUNT: f64 = 1e12;

/// Cost of one planned change and of one change after each kind of failure, in one currency.
///
/// Each is the whole cost of one change: lamp, technician, dark screen, damage. A planned change may cost as much as
/// a failure or more; that is an outcome of [`crate::policy`], not an error.
///
/// # Examples
/// ```
/// use relamp::records::Ending;
/// use relamp::terms::Costs;
/// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1250.0)]).unwrap();
/// assert_eq!(costs.failure(Ending::Dim).unwrap(), 1250.0);
/// assert_eq!(costs.pooled(&[(Ending::Burst, 0.1), (Ending::Dim, 0.9)]).unwrap(), 0.1 * 5200.0 + 0.9 * 1250.0);
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct Costs {
    planned: f64,
    by_ending: BTreeMap<Ending, f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    warranty: Option<Warranty>,
    #[serde(skip_serializing_if = "Option::is_none")]
    salvage: Option<Salvage>,
    /// Rate at which these amounts lose worth; none leaves it to whoever asks.
    #[serde(skip_serializing_if = "Option::is_none")]
    discount: Option<Discount>,
}

// Its constructor is its only door, for a saved form too.
impl Sound for Costs {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    planned: f64,
    by_ending: BTreeMap<Ending, f64>,
    #[serde(default)]
    warranty: Option<Warranty>,
    #[serde(default)]
    salvage: Option<Salvage>,
    #[serde(default)]
    discount: Option<Discount>,
}

impl TryFrom<Raw> for Costs {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        let discounted = |costs: Self| Self { discount: raw.discount, ..costs };
        Self::new(raw.planned, raw.by_ending)?.with_terms(raw.warranty, raw.salvage).map(discounted)
    }
}

impl Costs {
    /// Costs of a planned change and of a change after each kind of failure.
    ///
    /// # Errors
    /// All at once: `terms.cost_not_positive` for a cost that is not finite and above 0, `terms.amount_too_large` for one
    /// above 1e12, `terms.cost_not_failure` for
    /// a cost given to an ending that cannot be a failure (`planned`, `running`), `terms.cost_twice` for one given twice.
    pub fn new(planned: f64, by_ending: impl IntoIterator<Item = (Ending, f64)>) -> Result<Self> {
        let mut problems = Vec::new();
        let mut check = |name: &str, cost: f64| {
            if cost.is_finite() && cost > LARGEST_AMOUNT {
                problems.push(
                    Problem::new("terms.amount_too_large", format!("the cost of {name} is no amount of money"))
                        .at(Place::input("costs").column(name))
                        .got(cost)
                        .expected("at most 1e12, a million millions"),
                );
            } else if !(cost > 0.0 && cost.is_finite()) {
                problems.push(
                    Problem::new("terms.cost_not_positive", format!("the cost of {name} is not a positive amount"))
                        .at(Place::input("costs").column(name))
                        .got(cost)
                        .expected("a finite amount above 0"),
                );
            }
        };
        check("planned", planned);
        let mut map = BTreeMap::new();
        let mut misplaced = Vec::new();
        for (ending, cost) in by_ending {
            check(ending.as_str(), cost);
            let place = Place::input("costs").column(ending.as_str());
            if matches!(ending, Ending::Planned | Ending::Running) {
                misplaced.push(
                    Problem::new("terms.cost_not_failure", format!("{ending} is no failure and takes no failure cost"))
                        .at(place.clone())
                        .got(cost)
                        .expected("an ending that counts as a failure"),
                );
            }
            if map.insert(ending, cost).is_some() {
                misplaced.push(
                    Problem::new("terms.cost_twice", format!("the cost of {ending} is given twice"))
                        .at(place)
                        .got(cost),
                );
            }
        }
        problems.extend(misplaced);
        if problems.is_empty() {
            Ok(Self { planned, by_ending: map, warranty: None, salvage: None, discount: None })
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }

    /// The same costs where the maker gives money back for early failures: the cost after a failure at an age is that
    /// given, less the money back at that age.
    ///
    /// # Errors
    /// `terms.credit_above_cost`, one problem for each covered ending whose cost is no more than the most that comes back:
    /// the cost of a failure holds the price of the new lamp, so it must be larger.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{Costs, Warranty};
    /// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)])?;
    /// let with = costs.clone().with_warranty(Warranty::pro_rata(780.0, 2000.0, [Ending::Burst])?)?;
    /// assert_eq!(with.warranty().unwrap().credit(1000.0), 390.0);
    /// let dear = Warranty::full(6000.0, 2000.0, [Ending::Burst])?;
    /// assert_eq!(costs.with_warranty(dear).unwrap_err().slug(), "terms.credit_above_cost");
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_warranty(self, warranty: Warranty) -> Result<Self> {
        let credit = warranty.largest();
        let low = |(e, cost): &(&Ending, &f64)| warranty.covers(**e) && **cost <= credit;
        let problems: Vec<_> = self
            .by_ending
            .iter()
            .filter(low)
            .map(|(ending, cost)| {
                let what = format!("a failure by {ending} costs no more than the warranty gives back");
                Problem::new("terms.credit_above_cost", what)
                    .at(Place::input("costs").column(ending.as_str()))
                    .got(*cost)
                    .expected(format!("more than {credit}, the whole cost with the price of the new lamp"))
            })
            .collect();
        if problems.is_empty() {
            Ok(Self { warranty: Some(warranty), ..self })
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }

    /// The same costs where nothing comes back.
    pub(crate) fn without_warranty(&self) -> Self {
        Self { warranty: None, ..self.clone() }
    }

    /// The same costs where a lamp that is changed on plan is still worth something: a planned change at an age costs that
    /// given, less the worth of the used lamp at that age. A lamp that fails is worth nothing.
    ///
    /// # Errors
    /// `terms.salvage_above_planned` unless a planned change costs more than the used lamp is ever worth: its cost must hold the
    /// price of the new lamp.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{Costs, Salvage};
    /// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)])?;
    /// let with = costs.clone().with_salvage(Salvage::new(400.0, 2000.0, 0.0)?)?;
    /// assert_eq!((with.planned(), with.planned_at(500.0), with.planned_at(2000.0)), (950.0, 650.0, 950.0));
    /// let dear = Salvage::new(950.0, 2000.0, 0.0)?;
    /// assert_eq!(costs.with_salvage(dear).unwrap_err().slug(), "terms.salvage_above_planned");
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_salvage(self, salvage: Salvage) -> Result<Self> {
        if salvage.largest() >= self.planned {
            let what = "a planned change costs no more than the used lamp is worth";
            let problem = Problem::new("terms.salvage_above_planned", what)
                .at(Place::input("costs").column("planned"))
                .got(self.planned)
                .expected(format!("more than {}, the whole cost with the price of the new lamp", salvage.largest()));
            return Err(Error::new(Kind::Input, problem));
        }
        Ok(Self { salvage: Some(salvage), ..self })
    }

    /// The same costs with a discount rate of their own, in place of that of an objective that discounts.
    ///
    /// It alone discounts nothing: [`crate::policy::Objective::DiscountedCost`] asks for it. Costs drawn from [`super::CostParts`]
    /// with a range of rates carry one.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{Costs, Discount};
    /// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)])?.with_discount(Discount::per_hour(1e-5)?);
    /// assert_eq!(costs.discount().map(|d| d.rate_per_hour()), Some(1e-5));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    #[must_use]
    pub fn with_discount(self, discount: Discount) -> Self {
        Self { discount: Some(discount), ..self }
    }

    /// The same costs under the terms that others had.
    pub(super) fn with_terms(self, warranty: Option<Warranty>, salvage: Option<Salvage>) -> Result<Self> {
        let covered = match warranty {
            Some(warranty) => self.with_warranty(warranty)?,
            None => self,
        };
        match salvage {
            Some(salvage) => covered.with_salvage(salvage),
            None => Ok(covered),
        }
    }

    /// The same costs with one of them multiplied: that of an ending, of a planned change ([`Ending::Planned`]), or none
    /// given, of every failure.
    ///
    /// # Errors
    /// Those of [`Costs::new`], [`Costs::with_warranty`] and [`Costs::with_salvage`] for the costs that come out;
    /// `terms.cost_missing` for an ending without a cost.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::Costs;
    /// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1250.0)])?;
    /// assert_eq!(costs.scaled(Some(Ending::Dim), 2.0)?.failure(Ending::Dim)?, 2500.0);
    /// assert_eq!(costs.scaled(None, 0.5)?.failure(Ending::Burst)?, 2600.0);
    /// assert_eq!(costs.scaled(Some(Ending::Planned), 2.0)?.planned(), 1900.0);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn scaled(&self, ending: Option<Ending>, factor: f64) -> Result<Self> {
        if let Some(ending) = ending.filter(|e| *e != Ending::Planned) {
            self.failure(ending)?;
        }
        let on = |e: Ending| if ending.is_none_or(|one| one == e) { factor } else { 1.0 };
        let planned = if ending == Some(Ending::Planned) { factor * self.planned } else { self.planned };
        let costs = Self::new(planned, self.by_ending.iter().map(|(e, cost)| (*e, on(*e) * cost)))?;
        let made = costs.with_terms(self.warranty.clone(), self.salvage)?;
        Ok(Self { discount: self.discount, ..made })
    }

    /// The same costs with the price that the warranty pays back multiplied; as they are without one.
    ///
    /// # Errors
    /// Those of [`Costs::with_warranty`] and of the warranty for the price that comes out.
    pub(crate) fn with_warranty_scaled(&self, factor: f64) -> Result<Self> {
        match &self.warranty {
            Some(warranty) => self.clone().with_warranty(warranty.of_price(factor * warranty.price())?),
            None => Ok(self.clone()),
        }
    }

    /// The same costs with the worth of a used lamp multiplied; as they are without one.
    ///
    /// # Errors
    /// Those of [`Costs::with_salvage`] and of the salvage for the worth that comes out.
    pub(crate) fn with_salvage_scaled(&self, factor: f64) -> Result<Self> {
        match self.salvage {
            Some(salvage) => self.clone().with_salvage(salvage.of_worth(factor * salvage.worth_of_new())?),
            None => Ok(self.clone()),
        }
    }

    /// Money back under a warranty, where there is one.
    pub fn warranty(&self) -> Option<&Warranty> {
        self.warranty.as_ref()
    }

    /// Worth of a used lamp, where it has one.
    pub fn salvage(&self) -> Option<&Salvage> {
        self.salvage.as_ref()
    }

    /// Discount rate of their own, where they have one.
    pub fn discount(&self) -> Option<&Discount> {
        self.discount.as_ref()
    }

    /// Checks that every ending that counts as a failure has a cost.
    ///
    /// # Errors
    /// `terms.cost_missing`, one problem for each ending without one.
    pub fn cover(&self, failures: &[Ending]) -> Result<()> {
        let problems: Vec<_> =
            failures.iter().filter(|e| !self.by_ending.contains_key(e)).map(|e| missing(*e)).collect();
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Cost of a planned change, before what the used lamp is worth.
    pub fn planned(&self) -> f64 {
        self.planned
    }

    /// Cost of a planned change at an age, less what the used lamp is worth there.
    pub fn planned_at(&self, age_hours: f64) -> f64 {
        self.planned - self.salvage.map_or(0.0, |s| s.worth(age_hours))
    }

    /// Cost of a change after a failure, before any money back.
    ///
    /// # Errors
    /// `terms.cost_missing` where none was given.
    pub fn failure(&self, ending: Ending) -> Result<f64> {
        self.by_ending.get(&ending).copied().ok_or_else(|| Error::new(Kind::Input, missing(ending)))
    }

    /// Every failure cost, in the order of the endings.
    pub fn by_ending(&self) -> &BTreeMap<Ending, f64> {
        &self.by_ending
    }

    /// Mean cost of a failure whose kind is only known by shares: the sum of share times cost, over the sum of shares.
    ///
    /// # Errors
    /// `terms.cost_missing` for an ending without a cost and a share above 0, `terms.shares` unless the shares are
    /// finite, not negative and not all 0.
    pub fn pooled(&self, shares: &[(Ending, f64)]) -> Result<f64> {
        let whole: f64 = shares.iter().map(|(_, s)| *s).sum();
        if shares.iter().any(|(_, s)| s.is_nan() || *s < 0.0) || !(whole > 0.0 && whole.is_finite()) {
            let problem = Problem::new("terms.shares", "shares of endings must be finite, not negative and not all 0")
                .got(format!("{shares:?}"));
            return Err(Error::new(Kind::Input, problem));
        }
        let mut problems = Vec::new();
        let mut sum = 0.0;
        for (ending, share) in shares.iter().filter(|(_, s)| *s > 0.0) {
            match self.by_ending.get(ending) {
                Some(cost) => sum += share * cost,
                None => problems.push(missing(*ending)),
            }
        }
        if problems.is_empty() { Ok(sum / whole) } else { Err(Error::many(Kind::Input, problems)) }
    }
}

fn missing(ending: Ending) -> Problem {
    Problem::new("terms.cost_missing", format!("no cost is given for a change after {ending}"))
        .at(Place::input("costs").column(ending.as_str()))
        .expected("a finite amount above 0")
}
