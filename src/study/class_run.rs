//! One lamp class from its lives to its answers.

use super::bounds::{DueCounts, demand_bounds, high_rate};
use super::burning::{Burning, burning, until_stops};
use super::class_result::{ClassResult, LimitResult, ModelResult, Seen, Status};
use super::curve_age::CurveAge;
use super::decide::{YEAR_DAYS, age_options, demand_and_stock, past_records, policy_result};
use super::decision_result::{DemandResult, PolicyResult, StockResult};
use super::declare::Declaration;
use super::declare_class::LampClass;
use super::describe::{CURVE_READING, causes, curve_result, seen};
use super::doubts::not_known;
use super::headline::{
    age_interval, end_of_records, headline, past_todays_rule, run_to_failure, weak_causes, weakly_known,
};
use super::model::{Modelled, model};
use super::money_back::Counted;
use super::overdue::OverdueLists;
use super::places::{StoresKnown, class_stores, class_stores_least, class_stores_not_known};
use super::places_result::ClassStores;
use super::plan::{class_purchase_least, class_purchase_not_known};
use super::plan_result::ClassPurchase;
use super::results::Refusal;
use super::sensitivity::sensitivity;
use crate::base::error::{Error, Kind, Result};
use crate::base::figure::{counted, fitting, full_hours, whole};
use crate::base::run::Run;
use crate::empirical::{CurveOptions, product_limit};
use crate::fit::{CAUSES_INDEPENDENT, Draws, ENOUGH_FAILURES, FEW_FAILURES, NO_OVERALL_FIT};
use crate::lives::Tally;
use crate::policy::endings_by_age;
use crate::records::{Ending, LifeRecord, Reading};
use crate::stock::StockVerdict;
use crate::terms::LimitOrigin;

/// What one class is made from.
#[derive(Debug)]
pub(super) struct ClassInput<'a> {
    pub(super) class: &'a LampClass,
    pub(super) declared: &'a Declaration,
    pub(super) reading: &'a Reading,
    pub(super) overdue: &'a OverdueLists,
    pub(super) lives: Vec<LifeRecord<'a>>,
    /// None where no life of the class was ever under observation.
    pub(super) tally: Option<Tally>,
    /// A family asked for in place of the one the records favour.
    pub(super) family: Option<&'a str>,
    /// Depots and the stock count; none where neither is declared.
    pub(super) stores: Option<&'a StoresKnown>,
}

/// An answer, or the refusal that takes its place; a stop and a defect stay errors.
pub(super) fn or_refusal<T>(answer: Result<T>) -> Result<std::result::Result<T, Refusal>> {
    match answer {
        Ok(value) => Ok(Ok(value)),
        Err(error) if matches!(error.kind(), Kind::Stopped | Kind::Internal | Kind::Io) => Err(error),
        Err(error) => Ok(Err(refusal(&error))),
    }
}

fn refusal(error: &Error) -> Refusal {
    let what = error.problems().first().map_or_else(|| error.to_string(), |p| p.what.clone());
    Refusal { slug: error.slug().to_owned(), sentence: what, bound: error.hint().unwrap_or_default().to_owned() }
}

/// The answers of one class, its part of what is told for all classes together, and what later answers rest on.
pub(super) struct ClassRun {
    pub(super) result: ClassResult,
    pub(super) purchase: ClassPurchase,
    /// None where neither a depot nor a stock count is declared.
    pub(super) stores: Option<ClassStores>,
    /// The possible worlds; none without a model that carries a decision.
    pub(super) draws: Option<Box<dyn Draws>>,
    pub(super) burning: Vec<Burning>,
}

pub(super) fn class_result(input: &ClassInput<'_>, run: &Run) -> Result<ClassRun> {
    let ClassInput { class, declared, .. } = *input;
    let failures = &declared.failure_endings;
    let seen = seen(&input.lives, input.tally.as_ref(), failures, class.judged_limit_hours());
    let options = CurveOptions { level: super::decide::LEVEL, reading: Some(CURVE_READING), ..CurveOptions::default() };
    let curve = match &input.tally {
        Some(tally) => or_refusal(product_limit(tally, &options))?.ok(),
        None => None,
    };
    let burning = burning(input);
    let sockets = until_stops(&burning, declared.as_of);
    let mut draws = None;
    let earlier = class.limit.cap(class.todays_rule_hours);
    let mut result = ClassResult {
        name: class.name.clone(),
        status: Status::NotSupported,
        headline: String::new(),
        advised_age_hours: earlier,
        limit: limit_result(class),
        todays_rule_hours: class.todays_rule_hours,
        seen,
        curve: curve.as_ref().zip(input.tally.as_ref()).map(|(curve, tally)| curve_result(curve, tally)),
        model: None,
        refusal: None,
        causes: causes(input.tally.as_ref(), &input.lives, class, failures, &options)?,
        policy: None,
        due: DueCounts::default(),
        needs_not_known: not_known(input.reading),
        demand: None,
        stock: None,
        bounds: None,
        warnings: Vec::new(),
    };
    let mut purchase = class_purchase_not_known(class, declared, &result.needs_not_known);
    let target = purchase.service_target_probability;
    let mut stores = input.stores.map(|_| class_stores_not_known(class, target, &result.needs_not_known));
    let counted = Counted::of(class, &burning, declared)?;
    let modelled = match &input.tally {
        Some(tally) => or_refusal(model(input, Counted::costs(class, counted.as_ref())?, tally, curve.as_ref(), run))?,
        None => Err(Refusal {
            slug: "study.no_lamps".to_owned(),
            sentence: "no lamp of this class was under observation in these logs".to_owned(),
            bound: String::new(),
        }),
    };
    match modelled.map(|m| (decided(input, &m, counted, &result.seen, &burning, run), m)) {
        Ok((Ok(mut decided), modelled)) => {
            if let Some(needs) = decided.needs.take() {
                (result.demand, result.stock) = (Some(needs.demand), Some(needs.stock));
                (purchase, stores) = (needs.purchase, needs.stores);
            }
            draws = Some(accept(&mut result, modelled, decided));
        }
        Ok((Err(error), modelled)) => {
            // A fit that carries no decision is still shown.
            let reason = or_refusal::<()>(Err(error))?;
            result.model = Some(modelled.result);
            result.refusal = reason.err();
        }
        Err(reason) => result.refusal = Some(reason),
    }
    result.due = DueCounts::new(input.overdue, &sockets, class, result.advised_age_hours);
    if let Some(reason) = &mut result.refusal {
        if reason.bound.is_empty() {
            reason.bound = rate_bound(result.seen.failures_count, result.seen.exposure_hours)?;
        }
        if result.needs_not_known.is_empty() {
            let bounds = demand_bounds(class, declared, &sockets, &result.seen, earlier)?;
            purchase = class_purchase_least(class, declared, &sockets, &bounds)?;
            stores = input.stores.map(|known| class_stores_least(class, known, &burning, &bounds)).transpose()?;
            result.bounds = Some(bounds);
        }
    }
    result.headline = headline(&result, &declared.currency);
    result.warnings = warnings(&result);
    Ok(ClassRun { result, purchase, stores, draws, burning })
}

/// Lamps needed, held and bought.
struct ClassNeeds {
    demand: DemandResult,
    stock: StockResult,
    purchase: ClassPurchase,
    stores: Option<ClassStores>,
}

struct Decided {
    policy: PolicyResult,
    needs: Option<ClassNeeds>,
    advised_age_hours: f64,
}

fn decided(
    input: &ClassInput<'_>,
    modelled: &Modelled,
    counted: Option<Counted>,
    seen: &Seen,
    burning: &[Burning],
    run: &Run,
) -> Result<Decided> {
    let ClassInput { class, declared, .. } = *input;
    let sockets = until_stops(burning, declared.as_of);
    let draws = modelled.draws.as_ref();
    // A screen that stops within the year saves nothing after.
    let hours: f64 = sockets.iter().map(|s| s.socket.hours_per_week * (s.mean_days(YEAR_DAYS) / YEAR_DAYS)).sum();
    let show = declared.chain.show_minutes;
    let options = age_options(class, modelled.oldest_at_risk_hours);
    let mut policy = policy_result(class, draws, &options, hours, show, run)?;
    // Of a failure known to an interval only the hours seen working.
    let oldest = seen.oldest_at_risk_hours;
    if modelled.failures < FEW_FAILURES {
        policy.keep_todays_rule(modelled.failures);
    } else {
        if policy.run_to_failure_cost_per_1000_hours.is_some() {
            policy.run_to_failure_past_records_probability = Some(past_records(&draws.best()?, oldest)?);
        }
        // A cost at the end of the range of amounts cannot be moved; all else of the study stands without the bars.
        policy.sensitivity = or_refusal(sensitivity(draws, &class.limit, &options, run))?.ok();
    }
    policy.planned_age_interval_sentence = age_interval(&policy, class.limit.hours());
    policy.run_to_failure_past_records = policy.opinion_of_failure();
    let money_back = |c: Counted| c.result((class, &declared.currency), draws.best()?, &policy, &options);
    policy.money_back = counted.map(money_back).transpose()?;
    let world = draws.best()?;
    let endings = endings_by_age(&world, &[policy.planned.age_hours], &class.limit);
    policy.endings_at_planned_age = or_refusal(endings)?.ok().and_then(|mut each| each.pop());
    if let Some(tally) = input.tally.as_ref().filter(|_| CurveAge::asked(&policy)) {
        let found = CurveAge::of(class, tally, &declared.failure_endings, &world.costs, &policy, &options);
        policy.curve_age = or_refusal(found)?.ok();
    }
    policy.run_to_failure_sentence = run_to_failure(&policy, seen);
    let advised_age_hours = class.limit.cap(policy.planned.age_hours);
    if !not_known(input.reading).is_empty() {
        // A saving a year of no lamp hours would read as none.
        policy.saving_against_today_per_year = None;
        return Ok(Decided { policy, needs: None, advised_age_hours });
    }
    let (demand, stock, purchase) = demand_and_stock(class, declared, &sockets, draws, advised_age_hours, run)?;
    let stores = |known| class_stores(class, known, burning, (&demand, &stock), draws, run);
    let stores = input.stores.map(stores).transpose()?;
    let needs = ClassNeeds { demand, stock, purchase, stores };
    Ok(Decided { policy, needs: Some(needs), advised_age_hours })
}

/// How far the records carry a decision that rests on a model with so many failures.
pub(super) fn status(failures: u64, model: &ModelResult) -> Status {
    if failures < FEW_FAILURES {
        Status::RateOnly
    } else if failures < ENOUGH_FAILURES {
        Status::Weak
    } else if !model.fit_check.holds {
        Status::Mixed
    } else if weak_causes(&model.by_cause).is_empty() {
        Status::Supported
    } else {
        Status::Weak
    }
}

fn accept(result: &mut ClassResult, modelled: Modelled, decided: Decided) -> Box<dyn Draws> {
    result.status = status(modelled.failures, &modelled.result);
    result.advised_age_hours = decided.advised_age_hours;
    result.model = Some(modelled.result);
    result.policy = Some(decided.policy);
    modelled.draws
}

/// Origin of a limit of the owner's own.
pub(super) const OVERRIDE: &str = "override";

fn limit_result(class: &LampClass) -> LimitResult {
    let (origin, reason) = match class.limit.origin() {
        LimitOrigin::MakerMaximum => ("maker_maximum", ""),
        LimitOrigin::Warranty => ("warranty", ""),
        LimitOrigin::Override { reason } => (OVERRIDE, reason.as_str()),
    };
    LimitResult {
        limit_hours: class.limit.hours(),
        maker_limit_hours: class.limit.maker_hours(),
        origin: origin.to_owned(),
        reason: reason.to_owned(),
        warranty_hours: class.printed.warranty_hours,
        average_life_hours: class.printed.average_life_hours,
        maximum_hours: class.printed.maximum_hours,
        source: class.printed.source.clone(),
    }
}

/// The bound of the failure rate in plain words; blank without lamp hours.
fn rate_bound(failures: u64, exposure_hours: f64) -> Result<String> {
    let Some(bound) = high_rate(failures, exposure_hours)?.map(|rate| 1000.0 * rate) else { return Ok(String::new()) };
    Ok(format!(
        "with 95 % confidence at most {bound:.3} failures per 1,000 lamp hours, if the rate were constant \
         ({} in {} h)",
        whole(failures as f64),
        full_hours(exposure_hours)
    ))
}

/// Share of lamps that ended for an unknown reason above which a class warns.
///
/// Our choice, without a source: were they all failures, they would change the failed share by as much as the 5 % that
/// intervals here leave out.
const MOST_UNKNOWN_SHARE: f64 = 0.05;

/// What to bear in mind, from the figures of the class: the notes of the fit first.
pub(super) fn warnings(result: &ClassResult) -> Vec<String> {
    // With few failures no figure rests on the fit: what it says of itself would be taken for a word on the advice.
    let told = result.model.as_ref().filter(|_| result.seen.failures_count >= FEW_FAILURES);
    let notes = told.into_iter().flat_map(|model| &model.notes);
    // What is noted of the causes only belongs beside their figures.
    let of_causes = |note: &str| note == CAUSES_INDEPENDENT || note.starts_with(NO_OVERALL_FIT);
    let mut warnings: Vec<String> = notes.filter(|note| !of_causes(note)).cloned().collect();
    // The fit of all failures together speaks where these are few.
    let weak = told.filter(|_| result.seen.failures_count >= ENOUGH_FAILURES);
    warnings.extend(weak.and_then(|model| weakly_known(&model.by_cause)));
    let limit_hours = result.limit.limit_hours;
    let limit = full_hours(limit_hours);
    if result.limit.origin == OVERRIDE {
        warnings.push(format!(
            "the limit is {limit} h in place of the maker's {} h, because: {}; running lamps stay judged against the \
             smaller of the two",
            full_hours(result.limit.maker_limit_hours),
            result.limit.reason
        ));
    }
    if result.todays_rule_hours > limit_hours {
        warnings.push(format!(
            "today's rule of {} h lies past the limit of {limit} h; it is compared as if held to the limit",
            full_hours(result.todays_rule_hours)
        ));
    }
    warnings.extend(past_todays_rule(result));
    if !result.needs_not_known.is_empty() {
        warnings.push(format!("lamps needed and spares are not known: {}", result.needs_not_known));
    }
    let stopping = result.demand.as_ref().and_then(|d| Some((d.stopping_lamps_count?, d.running_lamps_count)));
    let least = || result.bounds.as_ref().and_then(|b| Some((b.stopping_lamps_count?, b.running_lamps_count)));
    let saves = result.policy.as_ref().is_some_and(|p| p.saving_against_today_per_year.is_some());
    if let Some((stop, all)) = stopping.or_else(least) {
        warnings.push(format!(
            "{} of {} {} in {} declared to stop: lamps needed, spares{} count that",
            whole(stop as f64),
            counted(all, "burning lamp"),
            fitting(stop, "stands", "stand"),
            fitting(stop, "a screen", "screens"),
            if saves { ", orders and the saving of the next year" } else { " and orders" }
        ));
    }
    let late = result.stock.as_ref().filter(|s| s.verdict == StockVerdict::TooLate).map(|s| s.lead_time_days);
    let spares = result.bounds.as_ref().map(|b| &b.spares).filter(|s| s.come_too_late());
    if let Some(lead_time_days) = late.or(spares.map(|s| s.lead_time_days)) {
        warnings.push(format!(
            "what is missing is missing at screens that have stopped when an order of today comes, in {}: none is told to be \
             ordered, and only a faster delivery can bring it",
            counted(u64::from(lead_time_days), "day")
        ));
    }
    if let Some(past) = &result.seen.past_limit {
        let oldest = full_hours(past.oldest_hours);
        let oldest = if past.oldest_hours > result.seen.oldest_at_risk_hours {
            format!("{oldest} h at the latest, as its failure is known to an interval")
        } else {
            format!("{oldest} h")
        };
        warnings.push(format!(
            "{} of {} burned past the limit of {} h, the oldest {oldest}{}: their ages count in every figure, and {}",
            whole(past.lamps_count as f64),
            counted(result.seen.lamps_count, "lamp"),
            full_hours(past.limit_hours),
            match past.running_count {
                0 => String::new(),
                n => format!("; {} of them still {}", whole(n as f64), fitting(n, "burns", "burn")),
            },
            // An own limit may lie above that of the maker, against which lamps are judged.
            if result.advised_age_hours > past.limit_hours {
                format!(
                    "the advised age of {} h passes that limit, as the study allows: the maker's limit prevails",
                    full_hours(result.advised_age_hours)
                )
            } else if let Some(what) = result.policy.as_ref().and_then(|p| p.what_passes(past.limit_hours)) {
                format!(
                    "the advised age stays below, though {what} past that limit, which the study's own lies above: the \
                     maker's limit prevails"
                )
            } else {
                "no advice goes there".to_owned()
            }
        ));
    }
    warnings.extend(result.due.between_limits(&result.limit, result.advised_age_hours));
    let seen = &result.seen;
    if seen.lamps_count > 0 && seen.running_count == seen.lamps_count {
        warnings.push("every lamp of this class is still burning: nothing ended, so nothing can be fitted".to_owned());
    }
    let unknown: u64 = seen.endings.iter().filter(|e| e.ending == Ending::Unknown).map(|e| e.lives_count).sum();
    if unknown as f64 > MOST_UNKNOWN_SHARE * seen.lamps_count as f64 {
        warnings.push(format!(
            "{} of {} ended for a reason that is blank or not mapped; {} not counted as {}, so reliability may be overstated",
            whole(unknown as f64),
            counted(seen.lamps_count, "lamp"),
            fitting(unknown, "it is", "they are"),
            fitting(unknown, "a failure", "failures")
        ));
    }
    if result.model.is_some() && seen.oldest_at_risk_hours < limit_hours {
        let (oldest, advised) = (seen.oldest_at_risk_hours, result.advised_age_hours);
        let says = if advised > oldest {
            format!(
                "no advice but today's rule goes past it, and the figures at {} h are the model's opinion",
                full_hours(advised)
            )
        } else if result.policy.as_ref().is_some_and(PolicyResult::saves_past_records) {
            let todays = full_hours(result.todays_rule_hours.min(limit_hours));
            format!("no advice goes past it, and a saving against today's rule of {todays} h is the model's opinion")
        } else {
            "no advice goes past it".to_owned()
        };
        warnings.push(format!("no lamp was at risk past {}, short of the limit; {says}", end_of_records(seen)));
    }
    if let Some(model) = &result.model
        && !model.fit_check.holds
    {
        warnings.push(model.fit_check.sentence.clone());
    }
    if let Some(policy) = &result.policy
        && policy.failed_draws_count > 0
    {
        let n = policy.failed_draws_count;
        let are = fitting(n, "is", "are");
        warnings.push(format!("{} gave no answer and {are} left out of the intervals", counted(n, "draw")));
    }
    warnings
}
