//! What a planned age is chosen by.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;
use crate::terms::{Costs, DarkMinutes, Discount, Salvage, Warranty};

/// What a planned age is chosen by: each is an amount for whatever ends a cycle, per hour of the cycle, and the ages of all
/// come from one search.
///
/// # Formula
/// ```text
/// C(T) = [c_p(T) w(T) R(T) + sum_j integral of c_j(t) w(t) h_j(t) R(t) over (0, T)] / integral of w R over (0, T)
/// ```
/// Cost per hour: `w = 1`, `c` in money, `c_j(t)` less the money back at age `t`, `c_p(T)` less what a used lamp of age `T` is
/// worth. Discounted cost: `w(t) = exp(-a t)`; then
/// `C / a` is what all changes to come in a socket are worth on the day it gets a new lamp, and `C` the even cost per hour of
/// the same worth. Dark time: `w = 1`, `c` in minutes, no money back and no worth of a used lamp.
/// Costs that carry a discount rate of their own, as those drawn from a range of rates do, are discounted at it.
///
/// # Source
/// Cost per hour, and dark time as the same problem with times in place of costs: Barlow and Proschan, Mathematical Theory
/// of Reliability (1965), chapter 4. Discounted cost: Fox, Age replacement with discounting, Operations Research 14 (1966)
/// 533-537. From memory.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Objective {
    /// Long-run cost per lamp hour.
    #[default]
    CostPerHour,
    /// Cost where money later is worth less than money now.
    DiscountedCost(Discount),
    /// Minutes that a screen is dark, per lamp hour.
    DarkMinutes(DarkMinutes),
}

impl Sound for Objective {
    // Its parts are checked as they are made.
    fn check(&self, _: &mut Checks) {}
}

impl Objective {
    /// One word for it.
    pub fn as_str(&self) -> &'static str {
        match self {
            Self::CostPerHour => "cost_per_hour",
            Self::DiscountedCost(_) => "discounted_cost",
            Self::DarkMinutes(_) => "dark_minutes",
        }
    }

    /// Whether it is the plain cost per hour.
    #[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
    pub(super) fn is_plain(&self) -> bool {
        *self == Self::CostPerHour
    }

    /// What it is called in a sentence.
    pub(super) fn noun(&self) -> &'static str {
        match self {
            Self::CostPerHour => "cost per hour",
            Self::DiscountedCost(_) => "discounted cost per hour",
            Self::DarkMinutes(_) => "dark time per hour",
        }
    }

    /// The amount of a planned change, before any worth of the used lamp.
    pub(super) fn planned(&self, costs: &Costs) -> f64 {
        match self {
            Self::DarkMinutes(dark) => dark.planned(),
            _ => costs.planned(),
        }
    }

    /// The amount of a change after a failure, before any money back.
    pub(super) fn failure(&self, costs: &Costs, ending: Ending) -> Result<f64> {
        match self {
            Self::DarkMinutes(dark) => dark.failure(ending),
            _ => costs.failure(ending),
        }
    }

    /// Refuses costs that carry a discount rate where nothing is discounted: the rate would count for nothing, unseen.
    pub(super) fn heed(&self, costs: &Costs) -> Result<()> {
        match (self, costs.discount()) {
            (Self::CostPerHour | Self::DarkMinutes(_), Some(own)) => {
                let what = "a discount rate is among the costs, but the age is chosen by what is not discounted";
                let problem = Problem::new("policy.discount_unused", what).at(Place::input("objective"));
                let problem =
                    problem.got(self.as_str()).expected("discounted cost, at any rate: that of the costs counts");
                let rate = own.rate_per_hour();
                let hint = format!("choose the age by discounted cost, such as at {rate} per hour, or give no rate");
                Err(Error::new(Kind::Input, problem).with_hint(hint))
            }
            _ => Ok(()),
        }
    }

    /// The same at the discount rate that costs carry, where they do.
    pub(super) fn at(&self, costs: &Costs) -> Self {
        match (self, costs.discount()) {
            (Self::DiscountedCost(_), Some(own)) => Self::DiscountedCost(*own),
            _ => self.clone(),
        }
    }

    /// Rate at which amounts lose worth per hour; that of the costs, where they carry one.
    pub(super) fn rate(&self, costs: &Costs) -> f64 {
        match self {
            Self::DiscountedCost(discount) => costs.discount().unwrap_or(discount).rate_per_hour(),
            _ => 0.0,
        }
    }

    /// Money back that lessens the amounts.
    pub(super) fn warranty<'a>(&self, costs: &'a Costs) -> Option<&'a Warranty> {
        match self {
            Self::DarkMinutes(_) => None,
            _ => costs.warranty(),
        }
    }

    /// Worth of a used lamp that lessens the amount of a planned change.
    pub(super) fn salvage<'a>(&self, costs: &'a Costs) -> Option<&'a Salvage> {
        match self {
            Self::DarkMinutes(_) => None,
            _ => costs.salvage(),
        }
    }
}
