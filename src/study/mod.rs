//! One declarative file in, every answer for every lamp class out, with an evidence trail.

mod cautions;
mod class_result;
mod decision_result;
mod declare;
mod declare_class;
mod open;
mod overdue;
mod results;
mod saved;
mod walk;

pub use cautions::{assumptions, cautions};
pub use class_result::{
    CauseResult, ClassResult, CurvePoint, CurveResult, EndingCount, FamilyResult, FitCheck, LimitResult, ModelPoint,
    ModelResult, ParameterResult, Seen, Status,
};
pub use decision_result::{
    AgeBand, CauseCost, CostPoint, DemandMonth, DemandResult, PolicyResult, RuleCost, StockResult, Verdict,
};
pub use declare::{Chain, Declaration, LARGEST_STUDY_BYTES, Programme};
pub use declare_class::LampClass;
pub use open::{Study, StudyOptions};
pub use overdue::{OverdueLamp, OverdueLists, SoonLamp, UnknownLamp};
pub use results::{FileCount, Header, Interval, LedgerSummary, Refusal, RuleCount, StudyResults};
