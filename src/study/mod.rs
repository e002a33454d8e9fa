//! One declarative file in, every answer for every lamp class out, with an evidence trail.

mod answers;
mod beside;
mod bounds;
mod burning;
mod cautions;
mod claims_result;
mod claims_run;
mod class_result;
mod class_run;
mod curve_age;
mod decide;
mod decision_result;
mod declare;
mod declare_claims;
mod declare_class;
mod declare_ending;
mod declare_log;
mod declare_places;
mod describe;
mod doubts;
mod doubts_reasons;
mod fill_rate;
mod fit_check;
mod headline;
mod last_buy_result;
mod last_buy_run;
mod leftovers;
mod model;
mod money_back;
mod open;
mod output;
mod overdue;
mod places;
mod places_found;
mod places_result;
mod places_words;
mod plan;
mod plan_result;
mod results;
mod run;
mod saved;
mod season;
mod sensitivity;
mod sound;
mod sound_claims;
mod sound_class;
mod sound_curve;
mod sound_decision;
mod sound_draws;
mod sound_last_buy;
mod sound_lives;
mod sound_places;
mod sound_plan;
mod sound_policy;
mod table_last_buys;
mod tables;
mod tables_places;
mod tables_plan;
mod unquoted;
mod used_stock;
mod value;
mod walk;
mod write;

pub use answers::Answer;
pub use bounds::{BoundMonth, DemandBounds, DueCounts, SparesBounds};
pub use burning::LampToday;
pub use cautions::{assumptions, cautions};
pub use claims_result::{AheadResult, ClaimSetAside, ClaimsResult, ClassClaims, NothingCount};
pub use class_result::{
    AtRisk, CauseModel, CauseResult, ClassResult, Comparison, CurvePoint, CurveResult, EndingCount, FamilyResult,
    FitCheck, LimitResult, ModelPoint, ModelResult, ParameterResult, Seen, Status,
};
pub use curve_age::CurveAge;
pub use decision_result::{
    AgeBand, CauseCost, CostPoint, DemandMonth, DemandResult, PolicyResult, RuleCost, StockResult,
};
pub use declare::{Chain, Declaration, LARGEST_STUDY_BYTES, Programme};
pub use declare_claims::ClaimFile;
pub use declare_class::LampClass;
pub use declare_ending::{LastBuyPlan, Stop, StopKind};
#[cfg(feature = "python")]
pub(crate) use declare_log::logs_of_program;
pub use declare_places::{CountFile, Depot, Stores};
pub use fill_rate::FillRate;
pub use last_buy_result::{BuyProgramme, BuyQuantity, BuyScenario, LastBuyResult, LastBuysResult, StoppingLamps};
pub use money_back::MoneyBack;
pub use open::{Study, StudyOptions};
pub use output::{Evidence, InputFile, StudyOutput, TracedLife};
pub use overdue::{OverdueLamp, OverdueLists, OverdueRow, SoonLamp, UnknownLamp};
pub use places_result::{BoxedOrder, ClassStores, CountSummary, PlaceStock, StockList, StoreKind};
pub use plan_result::{
    ClassPurchase, LaterOrder, PlannedOrder, PurchaseBasis, PurchaseMoney, PurchaseMonth, PurchasePlan,
};
pub use results::{FileCount, Header, Interval, LedgerSummary, OrderTotal, Refusal, RuleCount, StudyResults};
pub use season::{Season, SpecialDays};
pub use sensitivity::{CostMove, LifeMove, Sensitivity};
#[cfg(feature = "python")]
pub(crate) use table_last_buys::BuyRow;
pub use used_stock::{UsedBeside, UsedStock};
#[cfg(feature = "python")]
pub(crate) use value::{Entries, Node, Value};
pub use write::{check_target, write};
