//! What the lamps of one screen bring by a time, each by its age at failure.

use super::rule::{ChangeRule, check_hours};
use super::spread::{First, Spread, reached};
use super::table::Table;
use crate::base::error::Result;
use crate::family::Life;

/// An amount that a lamp brings by failing, by its age.
pub(crate) struct Amounts<'f> {
    /// The amount times the hazard, by age: what a lamp of that age brings in an hour, on average.
    pub(crate) rate: &'f dyn Fn(f64) -> f64,
    /// Ages at which the amount jumps or bends.
    pub(crate) kinks: &'f [f64],
}

/// The lamps of one screen under a rule.
#[derive(Debug)]
pub(crate) struct Laid<'a> {
    pub(super) spread: Spread<'a>,
    rule: ChangeRule,
}

impl<'a> Laid<'a> {
    /// Lays out the time axis; `like`, of the same life, saves doing it anew.
    pub(crate) fn new(life: &'a dyn Life, rule: ChangeRule, like: Option<&Laid<'a>>) -> Result<Self> {
        rule.check()?;
        let spread = Spread::from_age_0(life, &rule, like.map(|l| l.spread.bases.clone()))?;
        Ok(Self { spread, rule })
    }

    /// Solves for the changes up to a horizon.
    pub(crate) fn until(&self, horizon: f64) -> Result<Timeline<'_>> {
        check_hours(&[horizon])?;
        let table = Table::new(&self.spread, horizon, 0)?;
        // What lies too far says so here.
        table.all(horizon)?;
        let new = ChangeRule { first_age_hours: 0.0, ..self.rule };
        Ok(Timeline {
            new: First::new(&self.spread, &new)?,
            first: (self.rule.first_age_hours > 0.0).then(|| First::new(&self.spread, &self.rule)).transpose()?,
            horizon,
            table,
        })
    }
}

/// The changes of one screen up to a horizon, ready to be asked what they bring.
///
/// # Formula
/// ```text
/// new first lamp:  K(t) = integral of (1 + M(t - u)) a(u) h(u) R(u) over u in (0, min(t, T))
/// planned changes before t:  P(t) = R(T) (1 + M(t - T)) past T, else 0
/// ```
/// `a(u)`: amount for a failure at age u; `M`: mean number of changes of both kinds. The sum over the changes of what the
/// lamp after each brings, taken by parts, so that the amount may jump with age. With a first lamp of some age both are
/// mixed over its end.
#[derive(Debug)]
pub(crate) struct Timeline<'s> {
    table: Table<'s>,
    new: First<'s>,
    first: Option<First<'s>>,
    horizon: f64,
}

impl Timeline<'_> {
    /// Mean number of planned changes before a time within the horizon; one that falls on the time itself is not made.
    pub(crate) fn planned(&self, hours: f64) -> f64 {
        let first = self.first.as_ref().unwrap_or(&self.new);
        let new_before = |left: f64| self.planned_of_new(left).unwrap_or(f64::NAN);
        let [mut sum] = first.over_failures(hours, &self.table.mesh, |left| [new_before(left)]);
        if let Some((plan, p)) = first.plan.filter(|(plan, _)| past(hours, *plan)) {
            sum += p * (1.0 + new_before(hours - plan));
        }
        sum
    }

    fn planned_of_new(&self, hours: f64) -> Result<f64> {
        Ok(match self.new.plan.filter(|(plan, _)| past(hours, *plan)) {
            Some((plan, p)) => p * (1.0 + self.table.all_before(hours - plan)?),
            None => 0.0,
        })
    }

    /// Mean number of changes of both kinds by a time within the horizon, where the first lamp is new.
    pub(crate) fn changes(&self, hours: f64) -> f64 {
        self.table.all(hours).unwrap_or(f64::NAN)
    }

    /// Mean amount that failures bring by a time within the horizon.
    pub(crate) fn failures(&self, hours: f64, amounts: &Amounts<'_>) -> f64 {
        let Some(first) = &self.first else { return self.of_new(hours, amounts) };
        let mesh = &self.table.mesh;
        let [own] = first.over_amounts(hours, mesh, amounts, |_| [1.0]);
        let after_plan = first.plan.and_then(|(plan, p)| Some(p * self.of_new(reached(hours, plan)?, amounts)));
        let until = first.plan.map_or(hours, |(plan, _)| hours.min(plan));
        // What lamps bring from each time on at which the first may fail, as a function on the panels that are met.
        let (from, to) = (mesh.place(hours - until).0, mesh.place(hours).0);
        let later = mesh.panels(to + 1, |panel, t| if panel < from { 0.0 } else { self.of_new(t, amounts) });
        let [others] = first.over_failures(hours, mesh, |left| [mesh.value(&later, left).unwrap_or(f64::NAN)]);
        own + others + after_plan.unwrap_or(0.0)
    }

    /// The same with a new first lamp.
    fn of_new(&self, hours: f64, amounts: &Amounts<'_>) -> f64 {
        if hours <= 0.0 {
            return 0.0;
        }
        let within = |left: f64| 1.0 + self.table.all(left).unwrap_or(f64::NAN);
        let [sum] = self.new.over_amounts(hours, &self.table.mesh, amounts, |left| [within(left)]);
        sum
    }

    /// How far it was solved, hours.
    pub(crate) fn horizon(&self) -> f64 {
        self.horizon
    }
}

/// Whether a time lies past another, by more than rounding.
fn past(hours: f64, mark: f64) -> bool {
    hours > mark * (1.0 + 1e-12)
}
