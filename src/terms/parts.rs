//! What a change costs, made of its parts, each known or known to a range.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::costs::{Costs, LARGEST_AMOUNT};
use super::dark::{DarkMinutes, LONGEST_DARK_MINUTES};
use super::discount::Discount;
use super::salvage::Salvage;
use super::warranty::Warranty;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::random::Stream;
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// An amount that is known, or known to lie between two ends; between them all are held equally likely.
///
/// That evenness is our choice, without a source: two ends are what people can say.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Smallest.
    pub low: f64,
    /// Largest; the same where it is known.
    pub high: f64,
}

impl Span {
    /// A known amount.
    pub fn known(amount: f64) -> Self {
        Self { low: amount, high: amount }
    }

    /// The amount at a place from 0, the low end, to 1, the high end.
    pub fn at(&self, place: f64) -> f64 {
        self.low + place * (self.high - self.low)
    }

    fn sound(&self) -> bool {
        self.low >= 0.0 && self.low <= self.high && self.high <= LARGEST_AMOUNT
    }
}

/// Parts of the cost of a change.
///
/// # Formula
/// ```text
/// planned change            lamp + labour + share of a visit x visit + dark minutes x cost of one - worth of the used lamp
/// change after ending e     lamp + labour + visit + dark minutes of e x cost of one + damage of e
/// ```
/// A part is one amount for all changes: where the lamp is dear, it is so for planned and failure changes alike. A planned
/// change is made on a visit that serves others too and bears a share of it; a failure needs a visit of its own. A worth of
/// the used lamp that is known to a range falls with the hours alike wherever in the range it begins. A discount rate that
/// is known to a range is drawn with the costs, which carry it; it counts where the objective discounts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct CostParts {
    lamp: Span,
    labour: Span,
    visit: Span,
    visit_share: Span,
    dark_minute: Span,
    dark: DarkMinutes,
    damage: BTreeMap<Ending, Span>,
    warranty: Option<Warranty>,
    #[serde(skip_serializing_if = "Option::is_none")]
    salvage: Option<Salvage>,
    /// Worth of a lamp that has hardly burned, where it is known to a range only; that of `salvage` is its upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    salvage_worth: Option<Span>,
    /// Price that the warranty pays back, where it is known to a range only; that of `warranty` is its upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    warranty_price: Option<Span>,
    /// Minutes known to a range only, in place of those of `dark`; those of a planned change under `planned`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    dark_minutes: BTreeMap<Ending, Span>,
    /// Continuous discount rate per burning hour.
    #[serde(skip_serializing_if = "Option::is_none")]
    discount: Option<Span>,
}

// Its constructor is its only door, for a saved form too.
impl Sound for CostParts {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    lamp: Span,
    labour: Span,
    visit: Span,
    visit_share: Span,
    dark_minute: Span,
    dark: DarkMinutes,
    damage: BTreeMap<Ending, Span>,
    warranty: Option<Warranty>,
    #[serde(default)]
    salvage: Option<Salvage>,
    #[serde(default)]
    salvage_worth: Option<Span>,
    #[serde(default)]
    warranty_price: Option<Span>,
    #[serde(default)]
    dark_minutes: BTreeMap<Ending, Span>,
    #[serde(default)]
    discount: Option<Span>,
}

impl TryFrom<Raw> for CostParts {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        let made =
            Self::new(raw.lamp, raw.labour, (raw.visit, raw.visit_share), raw.dark_minute, raw.dark, raw.damage)?;
        let made = made.with_dark_between(raw.dark_minutes)?;
        let made = match raw.discount {
            Some(rates) => made.discounted(rates)?,
            None => made,
        };
        let made = match (raw.warranty, raw.warranty_price) {
            (None, None) => made,
            (Some(warranty), None) => made.with_warranty(warranty)?,
            (Some(warranty), Some(price)) if price.high == warranty.price() => {
                made.with_warranty_between(&warranty, price)?
            }
            (_, Some(price)) => return Err(part_range(WARRANTY, price, "the upper end that of the warranty")),
        };
        match (raw.salvage, raw.salvage_worth) {
            (None, None) => Ok(made),
            (Some(salvage), None) => made.with_salvage(salvage),
            (Some(salvage), Some(worth)) if worth.high == salvage.worth_of_new() => {
                made.with_salvage_between(salvage, worth)
            }
            (_, Some(worth)) => Err(part_range(SALVAGE, worth, "the upper end that of the salvage")),
        }
    }
}

/// The part that the worth of a used lamp is, where it is known to a range only.
const SALVAGE: &str = "salvage";

/// The part that the price of a warranty is, where it is known to a range only.
const WARRANTY: &str = "warranty_price";

/// The parts that dark minutes are, where they are known to a range only.
const DARK: &str = "dark_minutes";

/// The part that a discount rate is, where it is given.
const DISCOUNT: &str = "discount";

fn range_problem(name: &str, span: Span, expected: &str) -> Problem {
    Problem::new("terms.part_range", format!("the part {name} is no range of amounts"))
        .at(Place::input("cost parts").column(name))
        .got(format!("{} to {}", span.low, span.high))
        .expected(expected)
}

fn part_range(name: &str, span: Span, expected: &str) -> Error {
    Error::new(Kind::Input, range_problem(name, span, expected))
}

impl CostParts {
    /// Costs of changes from their parts.
    ///
    /// # Arguments
    /// `lamp`: price of a new one. `labour`: of one change. `visit`: cost of a visit, and the share of it, 0 to 1, that a
    /// planned change bears. `dark_minute`: what one costs. `dark`: minutes of each change, which name the endings.
    /// `damage`: what else comes with an ending: a reflector, refunds.
    ///
    /// # Errors
    /// All at once: `terms.part_range` for a part whose ends are not finite, 0 or more and in order (a share at most 1), and
    /// for damage of an ending without dark minutes; those of [`Costs::new`] where parts come to nothing.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{CostParts, DarkMinutes, Span};
    /// let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)])?;
    /// let visit = (Span::known(120.0), Span::known(0.25));
    /// let damage = [(Ending::Burst, Span { low: 1000.0, high: 3000.0 })];
    /// let parts = CostParts::new(Span::known(780.0), Span::known(60.0), visit, Span::known(2.0), dark, damage)?;
    /// let middle = parts.middle()?;
    /// assert_eq!((middle.planned(), middle.failure(Ending::Burst)?), (960.0, 3680.0));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn new(
        lamp: Span,
        labour: Span,
        visit: (Span, Span),
        dark_minute: Span,
        dark: DarkMinutes,
        damage: impl IntoIterator<Item = (Ending, Span)>,
    ) -> Result<Self> {
        let (visit, visit_share) = visit;
        let damage: BTreeMap<Ending, Span> = damage.into_iter().collect();
        let made = Self {
            lamp,
            labour,
            visit,
            visit_share,
            dark_minute,
            dark,
            damage,
            warranty: None,
            salvage: None,
            salvage_worth: None,
            warranty_price: None,
            dark_minutes: BTreeMap::new(),
            discount: None,
        };
        let mut problems = Vec::new();
        let expected =
            "finite ends of 0 or more, the smaller first, shares up to 1, damage of endings with dark minutes";
        for (name, span) in made.spans() {
            let orphan = name.1.is_some_and(|e| !made.dark.by_ending().contains_key(&e));
            if !span.sound() || (name.0 == "visit_share" && span.high > 1.0) || orphan {
                problems.push(range_problem(&Self::name(name), span, expected));
            }
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        made.at(|_| 0.0)?;
        Ok(made)
    }

    /// The same parts where the maker gives money back.
    ///
    /// # Errors
    /// Those of [`Costs::with_warranty`] where failures are cheapest.
    pub fn with_warranty(self, warranty: Warranty) -> Result<Self> {
        Self { warranty: Some(warranty), warranty_price: None, ..self }.at_worst()
    }

    /// The same where the price that the warranty pays back is known to a range only, in place of that of `warranty`, whose
    /// hours and shares stay. It is a part like the others, by the name `warranty_price`.
    ///
    /// # Errors
    /// `terms.part_range` for a price whose ends are not finite, above 0 and in order; those of [`Costs::with_warranty`] where
    /// failures are cheapest and most comes back.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{CostParts, DarkMinutes, Span, Warranty};
    /// let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)])?;
    /// let (labour, visit) = (Span::known(60.0), (Span::known(120.0), Span::known(0.25)));
    /// let parts = CostParts::new(Span::known(780.0), labour, visit, Span::known(2.0), dark, [])?;
    /// let terms = Warranty::full(780.0, 500.0, [Ending::Burst])?;
    /// let backed = parts.with_warranty_between(&terms, Span { low: 600.0, high: 800.0 })?;
    /// assert_eq!(backed.middle()?.warranty().unwrap().credit(100.0), 700.0);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_warranty_between(self, warranty: &Warranty, price: Span) -> Result<Self> {
        if !(price.sound() && price.low > 0.0) {
            return Err(part_range(WARRANTY, price, "finite ends above 0, the smaller first"));
        }
        let most = warranty.of_price(price.high)?;
        Self { warranty: Some(most), warranty_price: Some(price), ..self }.at_worst()
    }

    /// The same where some dark minutes are known to a range only, in place of those given: of endings, and of a planned
    /// change under [`Ending::Planned`]. Each is a part like the others, by a name such as `dark_minutes burst`.
    ///
    /// The minutes of an objective that counts dark time are its own: [`crate::policy::cost_bars`] tells what those move.
    ///
    /// # Errors
    /// `terms.part_range`, one problem for each whose ends do not lie above 0, in order and at most at a year of minutes, and
    /// for an ending without dark minutes; those of [`Costs::new`] where parts come to nothing.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{CostParts, DarkMinutes, Span};
    /// let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)])?;
    /// let (labour, visit) = (Span::known(60.0), (Span::known(120.0), Span::known(0.25)));
    /// let parts = CostParts::new(Span::known(780.0), labour, visit, Span::known(2.0), dark, [])?;
    /// let doubtful = parts.with_dark_between([(Ending::Burst, Span { low: 120.0, high: 480.0 })])?;
    /// assert_eq!(doubtful.middle()?.failure(Ending::Burst)?, 780.0 + 60.0 + 120.0 + 2.0 * 300.0);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_dark_between(self, minutes: impl IntoIterator<Item = (Ending, Span)>) -> Result<Self> {
        let minutes: BTreeMap<Ending, Span> = minutes.into_iter().collect();
        let known = |e: &Ending| *e == Ending::Planned || self.dark.by_ending().contains_key(e);
        let sound = |s: &Span| s.low > 0.0 && s.low <= s.high && s.high <= LONGEST_DARK_MINUTES;
        let expected = "ends above 0 and at most 525,600 min, the smaller first, of a change with dark minutes";
        let problems: Vec<Problem> = minutes
            .iter()
            .filter(|(e, span)| !known(e) || !sound(span))
            .map(|(e, span)| range_problem(&Self::name((DARK, Some(*e))), *span, expected))
            .collect();
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        Self { dark_minutes: minutes, ..self }.at_worst()
    }

    /// The same with a discount rate that lies between two, in place of that of an objective that discounts. It is a part like
    /// the others, by the name `discount`, in its continuous rate per burning hour; rates between the two are equally likely.
    ///
    /// # Errors
    /// `terms.part_range` unless the lower rate comes first.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{CostParts, DarkMinutes, Discount, Span};
    /// let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)])?;
    /// let (labour, visit) = (Span::known(60.0), (Span::known(120.0), Span::known(0.25)));
    /// let parts = CostParts::new(Span::known(780.0), labour, visit, Span::known(2.0), dark, [])?;
    /// let rates = (Discount::per_year(0.03, 4000.0)?, Discount::per_year(0.08, 4000.0)?);
    /// let doubtful = parts.with_discount_between(rates.0, rates.1)?;
    /// let middle = 0.5 * (rates.0.rate_per_hour() + rates.1.rate_per_hour());
    /// assert!((doubtful.middle()?.discount().unwrap().rate_per_hour() / middle - 1.0).abs() < 1e-15);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_discount_between(self, low: Discount, high: Discount) -> Result<Self> {
        self.discounted(Span { low: low.rate_per_hour(), high: high.rate_per_hour() })
    }

    fn discounted(self, rates: Span) -> Result<Self> {
        if !(rates.low > 0.0 && rates.low <= rates.high && rates.high.is_finite()) {
            return Err(part_range(DISCOUNT, rates, "finite rates above 0 for each burning hour, the smaller first"));
        }
        Ok(Self { discount: Some(rates), ..self })
    }

    /// Whether a discount rate is among the parts.
    pub fn discounts(&self) -> bool {
        self.discount.is_some()
    }

    /// The same, unless costs cannot be made where changes are cheapest and most comes back.
    fn at_worst(self) -> Result<Self> {
        let most: Vec<bool> = self.spans().iter().map(|(name, _)| [SALVAGE, WARRANTY].contains(&name.0)).collect();
        self.at(|i| if most.get(i) == Some(&true) { 1.0 } else { 0.0 })?;
        Ok(self)
    }

    /// The same parts where a lamp that is changed on plan is still worth something.
    ///
    /// # Errors
    /// Those of [`Costs::with_salvage`] where a planned change is cheapest.
    pub fn with_salvage(self, salvage: Salvage) -> Result<Self> {
        Self { salvage: Some(salvage), salvage_worth: None, ..self }.at_worst()
    }

    /// The same where the worth of a lamp that has hardly burned is known to a range only, in place of that of `salvage`, whose
    /// hours stay. It is a part like the others, by the name `salvage`.
    ///
    /// # Errors
    /// `terms.part_range` for a worth whose ends are not finite, 0 or more and in order; those of [`Costs::with_salvage`] where
    /// a planned change is cheapest and a used lamp is worth most.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::{CostParts, DarkMinutes, Salvage, Span};
    /// let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)])?;
    /// let (labour, visit) = (Span::known(60.0), (Span::known(120.0), Span::known(0.25)));
    /// let parts = CostParts::new(Span::known(780.0), labour, visit, Span::known(2.0), dark, [])?;
    /// let used = parts.with_salvage_between(Salvage::new(400.0, 2000.0, 0.0)?, Span { low: 200.0, high: 500.0 })?;
    /// // Half of its hours burned, at 350 in the middle of the range.
    /// assert_eq!(used.middle()?.planned_at(1000.0), 960.0 - 175.0);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_salvage_between(self, salvage: Salvage, worth: Span) -> Result<Self> {
        if !worth.sound() {
            let expected = "finite ends of 0 or more, the smaller first";
            return Err(part_range(SALVAGE, worth, expected));
        }
        let most = salvage.of_worth(worth.high)?;
        Self { salvage: Some(most), salvage_worth: Some(worth), ..self }.at_worst()
    }

    fn name((word, ending): (&'static str, Option<Ending>)) -> String {
        ending.map_or_else(|| word.to_owned(), |e| format!("{word} {e}"))
    }

    /// Every part by name, in order.
    fn spans(&self) -> Vec<((&'static str, Option<Ending>), Span)> {
        let fixed = [
            ("lamp", self.lamp),
            ("labour", self.labour),
            ("visit", self.visit),
            ("visit_share", self.visit_share),
            ("dark_minute", self.dark_minute),
        ];
        let damage = self.damage.iter().map(|(e, span)| (("damage", Some(*e)), *span));
        let salvage = self.salvage_worth.map(|span| ((SALVAGE, None), span));
        let price = self.warranty_price.map(|span| ((WARRANTY, None), span));
        let minutes = self.dark_minutes.iter().map(|(e, span)| ((DARK, Some(*e)), *span));
        let fixed = fixed.into_iter().map(|(name, span)| ((name, None), span));
        // Last, so that the draws of the others stay what they are without it.
        let discount = self.discount.map(|span| ((DISCOUNT, None), span));
        fixed.chain(damage).chain(salvage).chain(price).chain(minutes).chain(discount).collect()
    }

    /// Every part by name with its range.
    pub fn parts(&self) -> Vec<(String, Span)> {
        self.spans().into_iter().map(|(name, span)| (Self::name(name), span)).collect()
    }

    /// Minutes of each change.
    pub fn dark(&self) -> &DarkMinutes {
        &self.dark
    }

    /// Costs with every part at a place in its range, 0 to 1, asked for by the number of the part in [`CostParts::parts`].
    ///
    /// # Errors
    /// Those of [`Costs::new`].
    pub fn at(&self, mut place: impl FnMut(usize) -> f64) -> Result<Costs> {
        let spans = self.spans();
        let amounts: Vec<f64> = spans.iter().enumerate().map(|(i, (_, span))| span.at(place(i))).collect();
        let of = |wanted: (&str, Option<Ending>)| {
            spans.iter().zip(&amounts).find(|((name, _), _)| *name == wanted).map_or(0.0, |(_, amount)| *amount)
        };
        let part = |name: &str| of((name, None));
        let base = part("lamp") + part("labour");
        let minutes = |ending: Ending, known: f64| {
            let ranged = self.dark_minutes.contains_key(&ending);
            part("dark_minute") * if ranged { of((DARK, Some(ending))) } else { known }
        };
        let planned = base + part("visit_share") * part("visit") + minutes(Ending::Planned, self.dark.planned());
        let failure = |(ending, dark): (&Ending, &f64)| {
            (*ending, base + part("visit") + minutes(*ending, *dark) + of(("damage", Some(*ending))))
        };
        let costs = Costs::new(planned, self.dark.by_ending().iter().map(failure))?;
        let salvage = match (self.salvage, self.salvage_worth) {
            (Some(salvage), Some(_)) => Some(salvage.of_worth(part(SALVAGE))?),
            (salvage, _) => salvage,
        };
        let warranty = match (&self.warranty, self.warranty_price) {
            (Some(warranty), Some(_)) => Some(warranty.of_price(part(WARRANTY))?),
            (warranty, _) => warranty.clone(),
        };
        let costs = costs.with_terms(warranty, salvage)?;
        Ok(match self.discount {
            Some(_) => costs.with_discount(Discount::per_hour(part(DISCOUNT))?),
            None => costs,
        })
    }

    /// Costs with every part in the middle of its range.
    ///
    /// # Errors
    /// Those of [`Costs::new`].
    pub fn middle(&self) -> Result<Costs> {
        self.at(|_| 0.5)
    }

    /// Costs drawn from the ranges: a pure function of seed and replicate.
    ///
    /// # Errors
    /// Those of [`Costs::new`].
    pub fn drawn(&self, seed: u64, replicate: usize) -> Result<Costs> {
        let mut stream = Stream::new(seed, "terms", "parts", replicate as u64);
        self.at(|_| stream.uniform())
    }
}
