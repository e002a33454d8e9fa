//! When to change each lamp class.
//!
//! Start from a [`World`](crate::fit::World) (causes in series, costs) and an
//! [`HourLimit`](crate::terms::HourLimit): [`planned_age`] gives the age of least long-run cost per hour that the limit
//! allows, [`cost_curve`] the cost by age and cause, [`planned_age_interval`] what the draws make of it,
//! [`dial_planned_age`] what suspect removals make of it, [`compare_pair_costs`] what two groups of lamps cost beside each
//! other. An [`Objective`] puts discounted cost or dark time in place of the cost per hour; [`capped_age`] holds the age to
//! caps on the risk of a burst; [`compare_ages`], [`least_regret`] and [`cost_bars`] say how sure it is where costs are known to
//! ranges, [`life_bars`] which cause's life leaves it open; [`curve_world`] is the world without a family, as a check; [`warranty_value`] tells what comes back from the
//! maker; [`limit_stages`] raises a chain's own limit to the maker's by trials. No age in their answers passes the limit.
//! [`price_scenarios`] sets the ages of named sets of prices beside each other, [`dial_turn`] tells from which dependence of
//! removals the advice changes.
//! [`records_value`] tells what records of another year would save by a better age. [`unlimited_optimum`] is pure mathematics for checks, not advice. [`horizon_age`] is the age of least cost over a finite
//! horizon, such as the hours until a conversion; [`best_visit_age`] the age from which a visit that happens anyway is used, [`best_visit_ages`] with the later age beside it;
//! [`site_age`] the age of a lamp at which all lamps of its site are changed together, with a visit that they share;
//! [`block_interval`] how often to change all lamps of a chain by the calendar, whatever their age. Everywhere else one lamp in one screen is changed by its own
//! age; sites whose lamps share visits are played out in [`crate::simulate`].

mod age;
mod block;
mod caps;
mod compare;
mod cost;
mod curve;
mod dial_turn;
mod endings;
mod horizon;
mod input_bars;
mod interval;
mod life_bars;
mod more_records;
mod objective;
mod over_time;
mod pair;
mod plain;
mod reach;
mod records_played;
mod regret;
mod removal;
mod risk;
mod scenarios;
mod search;
mod site;
mod stages;
mod unlimited;
mod value;
mod visit;
mod visit_ages;
mod visit_even;

pub use age::{AgeOptions, Band, BandEnd, PlannedAge, Saving, Verdict, planned_age};
pub use block::{BlockCost, BlockInterval, BlockVerdict, block_costs, block_interval};
pub use caps::{CapBand, CapLine, CapVerdict, CappedAge, RiskCaps, RiskLine, capped_age};
pub use compare::{AgeComparison, PricedDraws, compare_ages};
pub use cost::{CostPoint, EndingCost, cost_curve, objective_curve};
pub use curve::{UpTo, WorldCurve};
pub use dial_turn::{DialTurn, dial_turn};
pub use endings::{EndingShare, EndingsAt, endings_by_age};
pub use horizon::{HorizonAge, HorizonCost, HorizonJump, HorizonVerdict, horizon_age, horizon_costs};
pub use input_bars::{BarInput, InputBar};
pub use interval::{AgeInterval, FEWEST_DRAWS, Range, planned_age_interval};
pub use life_bars::{LifeBar, LifeBars, life_bars};
pub use more_records::{FEWEST_EFFECTIVE, RecordsAhead, RecordsValue, ScreenAhead, records_value};
pub use objective::Objective;
pub use pair::{ComparedAt, More, PairCost, PairCostOptions, PairVerdict, WORTH_PERCENT, compare_pair_costs};
pub use plain::curve_world;
pub use reach::Reach;
pub(crate) use regret::bars_of_costs;
pub use regret::{CostBar, CostBarEnd, CostBars, LeastRegret, RatioEnd, cost_bars, least_regret};
pub use removal::dial_planned_age;
pub use risk::{RiskAt, RiskRecords, RiskSource};
pub use scenarios::{PriceScenario, PriceScenarios, ScenarioAge, ScenarioCost, SharedAge, price_scenarios};
pub use site::{SiteAge, SiteCost, SiteTerms, SiteVerdict, site_age, site_costs};
pub use stages::{LimitPlan, Stage, StageTerms, limit_stages};
pub use unlimited::{Optimum, unlimited_optimum, unlimited_optimum_of};
pub use value::{WarrantyValue, warranty_value};
pub use visit::{VisitAge, VisitCost, VisitTerms, VisitVerdict, best_visit_age, visit_rule_cost};
pub use visit_ages::best_visit_ages;
