//! What a study answers. Every number carries its unit in its name; none is infinite: where a number
//! does not exist the field is empty, and its doc line says what that means.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::claims_result::ClaimsResult;
use super::class_result::ClassResult;
use super::last_buy_result::LastBuysResult;
use super::overdue::OverdueLists;
use super::places_result::StockList;
use super::plan_result::PurchasePlan;
use super::season::Season;
use crate::records::{Finding, Outcome};

/// The answers of one study, class by class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyResults {
    /// What was asked.
    pub study: Header,
    /// What the logs held and what became of every row.
    pub ledger: LedgerSummary,
    /// What the study file declares and is doubtful, such as programme hours of a site that no log names; these
    /// stand in the ledger too.
    #[serde(default)]
    pub doubts: Vec<Finding>,
    /// Lamps at or past their limit, those that will soon be, and those whose age is not known. Read this first.
    pub overdue: OverdueLists,
    /// One entry for each declared lamp class, in the order declared.
    pub classes: Vec<ClassResult>,
    /// Lamps to order now, all classes together.
    pub orders: OrderTotal,
    /// Hazards and limits of use that belong beside every figure.
    pub cautions: Vec<String>,
    /// What the figures take for granted.
    pub assumptions: Vec<String>,
    /// What to order now and in each coming month, by class, and the money of it. Empty in results of before.
    #[serde(default)]
    pub purchase_plan: Option<PurchasePlan>,
    /// What to hold where, what to send and what to buy, by depot and site. Empty where the study file declares neither a
    /// depot nor a stock count.
    #[serde(default)]
    pub stock_list: Option<StockList>,
    /// Warranty claims; none where no class has warranty terms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub claims: Option<ClaimsResult>,
    /// Screens that stop and last buys before a lamp type ends; none where neither is declared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_buys: Option<LastBuysResult>,
    /// How programme hours run over the year; none where they are the same every day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub season: Option<Season>,
}

/// Lamps to order now, all classes together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderTotal {
    /// Lamps; empty where they are not known.
    pub order_lamps: Option<u64>,
    /// Their price, in the currency of the study; empty where they are not known.
    pub order_price: Option<f64>,
    /// Why they are not known: no lamp of the logs burns. Empty where they are told.
    #[serde(default)]
    pub not_known: String,
    /// Classes without a model, which are in it with their lower bound: planned changes only.
    pub least_only_classes_count: u64,
}

impl OrderTotal {
    pub(super) fn of(classes: &[ClassResult]) -> Self {
        let each = classes.iter().filter_map(|c| match (&c.stock, &c.bounds) {
            (Some(s), _) => Some((s.order_lamps, s.order_price)),
            (None, Some(b)) => Some((b.spares.order_least_lamps, b.spares.order_least_price)),
            (None, None) => None,
        });
        let (lamps, prices): (Vec<u64>, Vec<f64>) = each.unzip();
        let not_known = classes.iter().map(|c| &c.needs_not_known).find(|why| !why.is_empty());
        let known = not_known.is_none();
        Self {
            order_lamps: known.then(|| lamps.into_iter().fold(0, u64::saturating_add)),
            order_price: known.then(|| prices.iter().sum()),
            not_known: not_known.cloned().unwrap_or_default(),
            least_only_classes_count: classes.iter().filter(|c| c.bounds.is_some()).count() as u64,
        }
    }
}

/// What was asked: the study file in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Header {
    /// Name of the study.
    pub name: String,
    /// Its note; empty for none.
    pub note: String,
    /// The day the study speaks of; never the clock.
    pub as_of: NaiveDate,
    /// Day of the newest export of the logs.
    pub newest_export: NaiveDate,
    /// Currency of every amount.
    pub currency: String,
    /// Seed of every random number.
    pub seed: u64,
    /// Number of possible worlds drawn for intervals.
    pub draws_count: u64,
    /// Level of every interval and band.
    pub level_probability: f64,
    /// Length of a show.
    pub show_minutes: f64,
    /// Days between planned visits.
    pub visit_interval_days: u32,
    /// Months forecast.
    pub forecast_months: u32,
    /// Endings that count as failures of the lamp.
    pub failure_endings: Vec<String>,
}

/// What the logs held: rows = used + merged + set aside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LedgerSummary {
    /// Data rows read.
    pub rows_count: u64,
    /// Rows that became spells.
    pub used_count: u64,
    /// Rows joined with another that says the same.
    pub merged_count: u64,
    /// Rows not used.
    pub set_aside_count: u64,
    /// Whether rows = used + merged + set aside.
    pub reconciles: bool,
    /// What to know before using any figure: that many rows were set aside, or that a log does not bear out its column map,
    /// see [`Ledger::warning`](crate::records::Ledger::warning); empty where nothing is to be said.
    pub warning: String,
    /// Lives joined from the spells.
    pub lives_count: u64,
    /// Counts by file, in the order declared.
    pub by_file: Vec<FileCount>,
    /// Findings in all; none in results of before.
    #[serde(default)]
    pub findings_count: Option<u64>,
    /// Findings by rule and outcome, most frequent first; the whole list stands in `ledger.csv`.
    pub by_rule: Vec<RuleCount>,
}

/// What became of the rows of one file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileCount {
    /// File as declared.
    pub file: String,
    /// Data rows read.
    pub rows_count: u64,
    /// Rows that became spells.
    pub used_count: u64,
    /// Rows joined with another that says the same.
    pub merged_count: u64,
    /// Rows not used.
    pub set_aside_count: u64,
}

/// How often one rule spoke.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RuleCount {
    /// The rule, such as `records.hours_negative`.
    pub rule: String,
    /// What became of the rows.
    pub outcome: Outcome,
    /// Findings of this rule with this outcome.
    pub findings_count: u64,
    /// The first few of them.
    pub first: Vec<Finding>,
}

/// A lower and an upper end with the level and the method that gave them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Interval {
    /// Lower end in the unit of the figure it belongs to; empty where the interval is open below.
    pub low: Option<f64>,
    /// Upper end in the unit of the figure it belongs to; empty where the interval is open above.
    pub high: Option<f64>,
    /// Share of such intervals that hold the truth.
    pub level_probability: f64,
    /// How it was made, such as `profile likelihood`.
    pub method: String,
}

/// Why something has no answer, and the best bound that still holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Refusal {
    /// Stable name of the reason, such as `fit.no_failures`.
    pub slug: String,
    /// The reason in plain words.
    pub sentence: String,
    /// The best bound that still holds, in plain words; empty where there is none.
    pub bound: String,
}
