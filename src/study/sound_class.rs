//! What must hold of the saved answers of one class: what was seen, the curve, the model, and what follows from them.

use super::class_result::{CauseModel, ClassResult, CurveResult, FamilyResult, FitCheck, LimitResult, ModelResult};
use super::class_result::{ParameterResult, Seen, Status};
use super::class_run::{OVERRIDE, status, warnings};
use super::decide::{LEVEL, WEEKS_PER_YEAR, past_records};
use super::decision_result::DemandResult;
use super::fit_check::{largest_gap, sentence};
use super::headline::{age_interval, failures, rests_on, run_to_failure};
use super::model::{AIC_TIE, as_asked, reason, unit};
use super::sound_decision::no_age_past;
use super::sound_policy::policy_again;
use crate::base::figure::counted;
use crate::base::math::count_bounds::count_upper;
use crate::base::math::special::normal_quantile;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::demand::Horizon;
use crate::empirical::BandScale;
use crate::family::{Life, Link, NamedLife, family};
use crate::fit::{CAUSES_INDEPENDENT, CauseLife, FEW_FAILURES, MISFIT_LEVEL, World};
use crate::policy::Verdict;
use crate::records::Ending;
use crate::terms::{Costs, LimitOrigin, PrintedHours};

impl Sound for ClassResult {
    fn check(&self, c: &mut Checks) {
        let limit = self.limit.limit_hours;
        c.words("name", &self.name);
        c.words("headline", &self.headline);
        c.part("limit", &self.limit);
        c.positive("todays_rule_hours", self.todays_rule_hours);
        c.part("seen", &self.seen);
        if let Some(past) = &self.seen.past_limit {
            let limit = self.limit.limit_hours.min(self.limit.maker_limit_hours);
            c.equal("seen.past_limit.limit_hours", past.limit_hours, limit);
        }
        let mut parts = 0_u64;
        if let Some(curve) = &self.curve {
            c.part("curve", curve);
            parts = curve.points.iter().map(|p| p.failures_count).fold(0, u64::saturating_add);
            // A failure known to an interval is a step of the curve, past the hours seen working.
            let last = curve.points.last().map_or(0.0, |p| p.age_hours).max(self.seen.oldest_at_risk_hours);
            c.equal("curve.end_hours", curve.end_hours, last);
        }
        c.need("curve.points", parts <= self.seen.failures_count, parts, "no more failures than were seen");
        if let Some(model) = &self.model {
            c.part("model", model);
            c.inside("model", |c| {
                gap_agrees(c, model, self.curve.as_ref());
                let last = model.points.last().map_or(0.0, |p| p.age_hours);
                c.need("points", last >= limit * (1.0 - 1e-9), last, format!("ages up to the limit of {limit} h"));
                if !(model.rests_on.is_empty() && self.of_before()) {
                    c.follows("rests_on", &model.rests_on, &rests_on(&model.by_cause, self.needs_not_known.is_empty()));
                }
                let own = failures(&model.by_cause);
                let seen = self.seen.failures_count;
                c.need(
                    "by_cause",
                    own <= seen,
                    own,
                    format!("at most {}, those that were seen", counted(seen, "failure")),
                );
            });
        }
        causes_follow(c, self);
        status_follows(c, self);
        decisions_follow(c, self);
        due_follow(c, self);
        c.follows("warnings", &self.warnings, &warnings(self));
    }
}

/// The largest gap between curve and model, looked for again.
fn gap_agrees(c: &mut Checks, model: &ModelResult, curve: Option<&CurveResult>) {
    let own = estimates(&model.parameters).and_then(|own| NamedLife::new(&model.family, own).life().ok());
    let (Some(life), Some(curve)) = (own, curve) else { return };
    let steps = curve.points.iter().skip(1).map(|p| (p.age_hours, p.reliability_probability));
    let made = largest_gap(life.as_ref(), curve.given_survival_to_hours, steps);
    let found = &model.fit_check;
    c.there(
        "fit_check.largest_gap_probability",
        found.largest_gap_probability.is_some(),
        made.is_some(),
        "there with steps",
    );
    if let (Some(got), Some((_, gap))) = (found.largest_gap_probability, made) {
        c.between("fit_check.largest_gap_probability", got, gap - 1e-9, gap + 1e-9);
    }
    if let (Some(got), Some((age, _))) = (found.largest_gap_age_hours, made) {
        c.equal("fit_check.largest_gap_age_hours", got, age);
    }
}

/// Which answers are there, and how far they carry.
fn status_follows(c: &mut Checks, class: &ClassResult) {
    let decided = class.policy.is_some();
    let known = class.needs_not_known.is_empty();
    c.there("demand", class.demand.is_some(), decided && known, "there with a policy and burning lamps only");
    c.there("stock", class.stock.is_some(), decided && known, "there with a policy and burning lamps only");
    c.there("refusal", class.refusal.is_some(), !decided, "there without a policy only");
    c.there("bounds", class.bounds.is_some(), !decided && known, "there without a policy, with burning lamps, only");
    let burn = class.seen.running_count;
    c.need("seen.running_count", known || burn == 0, burn, format!("0, as {}", class.needs_not_known));
    if let Some(refusal) = &class.refusal {
        c.words("refusal.slug", &refusal.slug);
        c.words("refusal.sentence", &refusal.sentence);
    }
    let status = match (&class.model, decided) {
        (Some(model), true) => status(failures(&model.by_cause), model),
        (None, true) => return c.there("model", false, true, "there with a policy"),
        (_, false) => Status::NotSupported,
    };
    c.follows("status", &class.status, &status);
}

/// How many times the limit the oldest burning lamp stays below: readings of more hours are refused as impossible.
const REACHED_LIMITS: f64 = 100.0;

/// The replacement age, the lamps needed and the spares against the limit, today's rule and each other.
fn decisions_follow(c: &mut Checks, class: &ClassResult) {
    let limit = class.limit.limit_hours;
    let todays = class.todays_rule_hours.min(limit);
    let advised = class.policy.as_ref().map_or(todays, |p| p.planned.age_hours).floor();
    c.advice("advised_age_hours", class.advised_age_hours, limit);
    c.follows("advised_age_hours", &class.advised_age_hours, &advised);
    if let Some(policy) = &class.policy {
        c.part("policy", policy);
        c.inside("policy", |c| {
            no_age_past(c, policy, limit);
            policy_again(c, class);
            let words = &policy.planned_age_interval_sentence;
            if !(words.is_empty() && class.of_before()) {
                c.follows("planned_age_interval_sentence", words, &age_interval(policy, limit));
            }
            let words = &policy.run_to_failure_sentence;
            if !(words.is_empty() && class.of_before()) {
                c.follows("run_to_failure_sentence", words, &run_to_failure(policy, &class.seen));
                let (cost, share) =
                    (policy.run_to_failure_cost_per_1000_hours, policy.run_to_failure_past_records_probability);
                let field = "run_to_failure_past_records_probability";
                c.there(field, share.is_some(), cost.is_some(), "there where running to failure has a cost");
                let made = class.model.as_ref().and_then(|m| hours_past(m, class.seen.oldest_at_risk_hours));
                if let (Some(share), Some(made)) = (share, made) {
                    c.between(field, share, made - 1e-6, made + 1e-6);
                }
            }
            c.equal("todays_rule.age_hours", policy.todays_rule.age_hours, todays);
            if let Some(moves) = &policy.sensitivity {
                c.inside("sensitivity", |c| moves.agrees(c, policy, limit));
            }
            if let Some(model) = &class.model {
                let few = failures(&model.by_cause) < FEW_FAILURES;
                c.there("limit_binds_probability", policy.limit_binds_probability.is_some(), !few, "there with an age");
                let ends = &policy.planned_age_interval_hours;
                let read = ends.low.is_some() || ends.high.is_some();
                c.there("planned_age_interval_hours", read, !few, "there with five failures or more");
                c.need(
                    "near_best",
                    !few || policy.near_best.is_empty(),
                    policy.near_best.len(),
                    "no ages of least cost",
                );
                let verdict = policy.verdict == Verdict::TooFewFailures;
                c.need(
                    "verdict",
                    verdict == few,
                    as_saved(&policy.verdict),
                    "too_few_failures below five, and only there",
                );
                let kept = if few { policy.todays_rule.age_hours } else { policy.planned_age_hours };
                c.equal("planned.age_hours", policy.planned.age_hours, kept);
                for (field, rule) in [("planned", &policy.planned), ("todays_rule", &policy.todays_rule)] {
                    if let Some(failed) = model.failed_by(rule.age_hours) {
                        c.between(
                            &format!("{field}.failure_probability"),
                            rule.failure_probability,
                            failed - 1e-6,
                            failed + 1e-6,
                        );
                    }
                }
            }
            let last = policy.cost_curve.last().map_or(0.0, |p| p.age_hours);
            c.need("cost_curve", last >= limit * (1.0 - 1e-9), last, format!("ages up to the limit of {limit} h"));
            let next_year = class.demand.as_ref().and_then(|d| d.programme_hours_next_year);
            let hours = class.demand.as_ref().map_or(0.0, |d| d.programme_hours_per_week) * WEEKS_PER_YEAR;
            let hours = next_year.unwrap_or(hours);
            let size = hours * policy.planned.cost_per_1000_hours / 1000.0;
            let saving = policy.saving_against_today_per_1000_hours.map(|s| s / 1000.0 * hours);
            let (there, told) =
                (policy.saving_against_today_per_year.is_some(), class.demand.is_some() && saving.is_some());
            c.there("saving_against_today_per_year", there, told, "there with a saving and burning lamps");
            let stops = next_year.is_none() && class.demand.as_ref().is_some_and(|d| d.stopping_lamps_count.is_some());
            match (policy.saving_against_today_per_year, saving) {
                // Screens that stop within the year save a part of it.
                (Some(got), Some(saving)) if stops => {
                    let slack = 1e-9 * size;
                    c.between("saving_against_today_per_year", got, saving.min(0.0) - slack, saving.max(0.0) + slack);
                }
                (Some(got), Some(saving)) => c.near("saving_against_today_per_year", got, saving, size),
                _ => (),
            }
        });
    }
    if let Some(demand) = &class.demand {
        c.part("demand", demand);
        let due = class.due.past_advised_age_lamps_count.saturating_add(class.due.unknown_age_lamps_count);
        // A due lamp whose screen stops today is not changed any more.
        let needed = due.saturating_sub(demand.stopped_lamps_count.unwrap_or(0));
        let least = || format!("at least the {} due", counted(needed, "lamp"));
        c.inside("demand", |c| {
            c.follows("planned_age_hours", &demand.planned_age_hours, &class.advised_age_hours);
            let got = demand.due_at_planned_age_lamps_count;
            // Where no lamp of the model reaches an age alive, a lamp of that age is due in the forecast alone.
            let all_reach =
                class.model.as_ref().and_then(ModelResult::lives).is_some_and(|lives| {
                    lives.iter().all(|life| life.ln_reliability(REACHED_LIMITS * limit).is_finite())
                });
            let holds = got == due || got > due && !all_reach;
            c.need("due_at_planned_age_lamps_count", holds, got, format!("{due}, those that are due"));
            if let Some(first) = demand.months.first() {
                let planned = first.planned_mean_lamps;
                c.need("months[0].planned_mean_lamps", planned >= needed as f64 - 1e-6, planned, least());
                c.need("months[0].p50_lamps", first.p50_lamps >= needed, first.p50_lamps, format!("at least {needed}"));
            }
        });
        if let Some(stock) = &class.stock {
            let enough = stock.lead_time_days == 0 || stock.mean_lamps >= needed as f64 - 1e-6;
            c.inside("stock", |c| {
                c.need("mean_lamps", enough, stock.mean_lamps, least());
                let (low, high) = over_lead_time(demand, stock.lead_time_days);
                c.between("mean_lamps", stock.mean_lamps, low, high);
                let gone = demand.stopped_by_lead_time_lamps_count.unwrap_or(0);
                let served = stock.order_serves_lamps;
                let there = "there where screens have stopped when an order of today comes";
                c.there("order_serves_lamps", served.is_some(), gone > 0, there);
                if gone > 0 && gone == demand.running_lamps_count {
                    c.follows("order_serves_lamps", &served, &Some(0));
                }
            });
        }
    }
    if let Some(stock) = &class.stock {
        c.part("stock", stock);
        if !(stock.lamp_class.is_empty() && class.of_before()) {
            c.inside("stock", |c| c.follows("lamp_class", &stock.lamp_class, &class.name));
        }
    }
    if let Some(bounds) = &class.bounds {
        c.part("bounds", bounds);
        c.follows("bounds.planned_age_hours", &bounds.planned_age_hours, &class.advised_age_hours);
        let rate = high_rate(class.seen.failures_count, class.seen.exposure_hours);
        c.there(
            "bounds.high_rate_per_1000_hours",
            bounds.high_rate_per_1000_hours.is_some(),
            rate.is_some(),
            "lamp hours",
        );
        if let (Some(got), Some(rate)) = (bounds.high_rate_per_1000_hours, rate) {
            c.equal("bounds.high_rate_per_1000_hours", got, rate);
        }
    }
}

/// Lamps needed by the end of the months before and after the lead time: those needed over it lie between.
fn over_lead_time(demand: &DemandResult, lead_time_days: u32) -> (f64, Option<f64>) {
    let length = Horizon::months(1).period_days;
    let months = f64::from(lead_time_days) / length;
    // The grid in time of the lead time is another than that of the months.
    let slack = 1e-3 * demand.running_lamps_count as f64 + 1e-6;
    let by_end = |n: usize| demand.months.get(..n).map(|m| m.iter().map(|m| m.mean_lamps).sum::<f64>());
    let low = by_end((months.floor() as usize).min(demand.months.len())).unwrap_or(0.0);
    let high = if lead_time_days == 0 { Some(0.0) } else { by_end(months.ceil() as usize) };
    ((low - slack).max(0.0), high.map(|h| h + slack))
}

/// Share of the hours of lamps that run to failure which lie past an age.
fn hours_past(model: &ModelResult, age: f64) -> Option<f64> {
    // How long lamps last does not hang on what they cost.
    let each: Vec<(Ending, f64)> = model.by_cause.iter().flat_map(|k| &k.endings).map(|e| (*e, 1.0)).collect();
    past_records(&world(model, Costs::new(1.0, each).ok()?)?, age).ok()
}

/// The causes of a saved model side by side, at some costs.
pub(super) fn world(model: &ModelResult, costs: Costs) -> Option<World> {
    let endings = |k: &CauseModel| k.endings.iter().copied().zip(k.shares_probability.iter().copied()).collect();
    let causes = model.by_cause.iter().zip(model.lives()?);
    Some(World { causes: causes.map(|(k, life)| CauseLife { endings: endings(k), life }).collect(), costs })
}

/// The most failures per 1,000 lamp hours that a count in some hours allows.
fn high_rate(failures: u64, exposure_hours: f64) -> Option<f64> {
    let bound = count_upper(failures, LEVEL).ok().filter(|_| exposure_hours > 0.0);
    bound.map(|bound| 1000.0 * bound / exposure_hours)
}

/// The counts of due lamps against each other and against the lamps that burn.
fn due_follow(c: &mut Checks, class: &ClassResult) {
    let due = &class.due;
    let demand = class.demand.as_ref().map(|d| ("demand", d.running_lamps_count, d.unknown_age_lamps_count));
    let bounds = class.bounds.as_ref().map(|b| ("bounds", b.running_lamps_count, b.unknown_age_lamps_count));
    if let Some((part, running, unknown)) = demand.or(bounds) {
        c.follows(&format!("{part}.unknown_age_lamps_count"), &unknown, &due.unknown_age_lamps_count);
        let listed = due.past_advised_age_lamps_count.saturating_add(unknown);
        c.need(
            "due.past_advised_age_lamps_count",
            listed <= running,
            listed,
            format!("at most {}", counted(running, "lamp")),
        );
        // A lamp of known age is a life that still burns.
        let known = running.saturating_sub(unknown);
        let holds = known <= class.seen.running_count;
        c.need(&format!("{part}.running_lamps_count"), holds, running, format!("{unknown} and lives that burn"));
    }
    let (maker, study) = (due.past_maker_limit_lamps_count, due.past_study_limit_lamps_count);
    let order = if class.limit.limit_hours >= class.limit.maker_limit_hours { study <= maker } else { study >= maker };
    c.need("due.past_study_limit_lamps_count", order, study, format!("{maker} stand past the maker's limit"));
}

/// Every cause against the endings that were seen.
fn causes_follow(c: &mut Checks, class: &ClassResult) {
    let seen = &class.seen;
    c.once("causes.ending", class.causes.iter().map(|k| k.ending));
    let (mut sum, mut incidence) = (0_u64, 0.0);
    for (i, cause) in class.causes.iter().enumerate() {
        c.inside(&format!("causes[{i}]"), |c| {
            let n = seen.endings.iter().find(|e| e.ending == cause.ending).map_or(0, |e| e.lives_count);
            c.follows("failures_count", &cause.failures_count, &n);
            sum = sum.saturating_add(n);
            let all = seen.failures_count;
            c.there("share_probability", cause.share_probability.is_some(), all > 0, "there with failures");
            if let Some(share) = cause.share_probability {
                c.equal("share_probability", share, n as f64 / all.max(1) as f64);
            }
            c.share("incidence_probability", cause.incidence_probability);
            incidence += cause.incidence_probability.unwrap_or(0.0);
            let (got, with) = (cause.incidence_age_hours.is_some(), cause.incidence_probability.is_some());
            c.there("incidence_age_hours", got, with, "there with an incidence");
            c.age("incidence_age_hours", cause.incidence_age_hours, class.limit.limit_hours);
            if let (Some(age), Some(curve)) = (cause.incidence_age_hours, &class.curve) {
                c.equal("incidence_age_hours", age, curve.end_hours.min(class.limit.limit_hours));
            }
            let exposure = seen.exposure_hours;
            let even = (exposure > 0.0).then(|| 1000.0 * n as f64 / exposure);
            for (field, got, expected) in [
                ("per_1000_hours", cause.per_1000_hours, even),
                ("per_1000_hours_high", cause.per_1000_hours_high, high_rate(n, exposure)),
            ] {
                c.there(field, got.is_some(), expected.is_some(), "there with lamp hours");
                if let (Some(got), Some(expected)) = (got, expected) {
                    c.equal(field, got, expected);
                }
            }
        });
    }
    c.need(
        "seen.failures_count",
        sum == seen.failures_count,
        seen.failures_count,
        format!("{sum}, those of the causes"),
    );
    c.share("causes.incidence_probability", incidence);
    let ages: Vec<Option<f64>> = class.causes.iter().map(|k| k.incidence_age_hours).collect();
    if let (Some(curve), Some(Some(age))) = (&class.curve, ages.first())
        && ages.iter().all(|a| *a == Some(*age))
        && *age >= curve.given_survival_to_hours
    {
        // Whatever did not end by a cause has passed the age.
        let passed = curve.points.iter().take_while(|p| p.age_hours <= *age).last().map(|p| p.reliability_probability);
        let ended = passed.map_or(0.0, |passed| 1.0 - passed);
        c.between("causes.incidence_probability", incidence, ended - 1e-9, ended + 1e-9);
    }
}

impl Sound for LimitResult {
    fn check(&self, c: &mut Checks) {
        c.positive("limit_hours", self.limit_hours);
        c.positive("maker_limit_hours", self.maker_limit_hours);
        let printed = PrintedHours {
            warranty_hours: self.warranty_hours,
            average_life_hours: self.average_life_hours,
            maximum_hours: self.maximum_hours,
            source: self.source.clone(),
        };
        let own = match printed.limit() {
            Err(error) => return c.need("source", false, error, "printed hours with their source"),
            Ok(limit) => limit,
        };
        c.equal("maker_limit_hours", self.maker_limit_hours, own.hours());
        let origin = if own.origin() == &LimitOrigin::MakerMaximum { "maker_maximum" } else { "warranty" };
        let owners = self.origin == OVERRIDE;
        c.need("origin", owners || self.origin == origin, &self.origin, format!("{origin} or override"));
        c.there("reason", !self.reason.trim().is_empty(), owners, "there with a limit of the owner's own only");
        if !owners {
            c.equal("limit_hours", self.limit_hours, self.maker_limit_hours);
        }
    }
}

impl Sound for Seen {
    fn check(&self, c: &mut Checks) {
        let lamps = self.lamps_count;
        for (field, n, most) in [
            ("failures_count", self.failures_count, lamps.saturating_sub(self.running_count)),
            ("interval_failures_count", self.interval_failures_count, self.failures_count),
            ("late_entry_count", self.late_entry_count, lamps),
            ("oldest_at_risk_lamps_count", self.oldest_at_risk_lamps_count, lamps),
        ] {
            c.need(field, n <= most, n, format!("at most {}", counted(most, "lamp")));
        }
        let order =
            self.endings.is_sorted_by(|a, b| a.ending < b.ending) && self.endings.iter().all(|e| e.lives_count > 0);
        c.need("endings", order, "another list", "each ending that was met, once and in order");
        let sum = self.endings.iter().fold(0_u64, |sum, e| sum.saturating_add(e.lives_count));
        c.need("lamps_count", sum == lamps, lamps, format!("{sum}, all endings together"));
        let burn = self.endings.iter().find(|e| e.ending == Ending::Running).map_or(0, |e| e.lives_count);
        c.follows("running_count", &self.running_count, &burn);
        if let Some(past) = &self.past_limit {
            c.inside("past_limit", |c| {
                let n = past.lamps_count;
                c.need("lamps_count", (1..=lamps).contains(&n), n, format!("1 to {lamps}"));
                let most = n.min(self.running_count);
                c.need("running_count", past.running_count <= most, past.running_count, format!("at most {most}"));
                let (oldest, least) = (past.oldest_hours, past.limit_hours.max(self.oldest_at_risk_hours));
                let holds = oldest > past.limit_hours && oldest >= self.oldest_at_risk_hours;
                c.need("oldest_hours", holds, oldest, format!("past {least}"));
            });
        }
        c.not_negative("exposure_hours", self.exposure_hours);
        c.not_negative("oldest_at_risk_hours", self.oldest_at_risk_hours);
        let most = lamps as f64 * self.oldest_at_risk_hours;
        c.need(
            "exposure_hours",
            self.exposure_hours <= most * (1.0 + 1e-9),
            self.exposure_hours,
            format!("at most {most}"),
        );
    }
}

impl Sound for CurveResult {
    fn check(&self, c: &mut Checks) {
        c.rising("points", &self.points.iter().map(|p| p.age_hours).collect::<Vec<_>>(), true);
        c.need("points", !self.points.is_empty(), "no point", "the start of the curve and its steps");
        let (mut before, mut variance, z) = (1.0, 0.0, normal_quantile(f64::midpoint(1.0, self.level_probability)));
        for (i, point) in self.points.iter().enumerate() {
            c.inside(&format!("points[{i}]"), |c| {
                let (d, n) = (point.failures_count, point.at_risk_count);
                c.need("failures_count", d <= n && (i > 0 || d == 0), d, format!("at most {n}, and 0 at the start"));
                // The product-limit estimate itself, step by step.
                let left = if d == 0 { 1.0 } else { 1.0 - d as f64 / n.max(1) as f64 };
                c.equal("reliability_probability", point.reliability_probability, before * left);
                before = point.reliability_probability;
                c.share("reliability_probability", before);
                c.share("low_probability", point.low_probability);
                c.share("high_probability", point.high_probability);
                c.ends("high_probability", point.low_probability, point.high_probability);
                c.between("reliability_probability", before, point.low_probability, point.high_probability);
                // Greenwood's sum; no band where none has failed yet, or from the step on at which all did.
                let at_risk = n as f64;
                variance += if d < n { d as f64 / (at_risk * (at_risk - d as f64)) } else { f64::INFINITY };
                let drawn = before > 0.0 && before < 1.0 && variance < f64::INFINITY;
                let band = drawn.then(|| BandScale::LogLog.ends(before, variance.sqrt(), z));
                for (field, got, made) in [
                    ("low_probability", point.low_probability, band.map(|b| b.0)),
                    ("high_probability", point.high_probability, band.map(|b| b.1)),
                ] {
                    c.there(field, got.is_some(), made.is_some(), "there between 0 and 1");
                    if let (Some(got), Some(made)) = (got, made) {
                        c.equal(field, got, made);
                    }
                }
            });
        }
        c.level("level_probability", self.level_probability);
        c.not_negative("given_survival_to_hours", self.given_survival_to_hours);
        if let Some(first) = self.points.first() {
            c.equal("points[0].age_hours", first.age_hours, self.given_survival_to_hours);
        }
        c.rising("at_risk", &self.at_risk.iter().map(|a| a.age_hours).collect::<Vec<_>>(), false);
        c.ends("end_hours", self.points.last().map(|p| p.age_hours), self.end_hours);
    }
}

impl ModelResult {
    /// Life of each cause, as far as the parameters are those of a life.
    fn lives(&self) -> Option<Vec<Box<dyn Life>>> {
        let life = |k: &CauseModel| NamedLife::new(&k.family, estimates(&k.parameters)?).life().ok();
        self.by_cause.iter().map(life).collect()
    }

    /// Chance to have failed by an age, all causes side by side.
    fn failed_by(&self, age: f64) -> Option<f64> {
        Some(-self.lives()?.iter().map(|l| l.ln_reliability(age)).sum::<f64>().exp_m1())
    }
}

impl Sound for ModelResult {
    fn check(&self, c: &mut Checks) {
        parameters_of(c, &self.family, &self.parameters);
        if let Some(own) = estimates(&self.parameters)
            && let Ok(b10) = NamedLife::new(&self.family, own).life().and_then(|life| life.quantile(0.1))
        {
            c.equal("b10_hours", self.b10_hours, b10);
        }
        for (field, found) in [
            ("b10_interval_hours", &self.b10_interval_hours),
            ("b10_wald_interval_hours", &self.b10_wald_interval_hours),
        ] {
            c.part(field, found);
            c.between("b10_hours", self.b10_hours, found.low, found.high);
            c.not_negative(&format!("{field}.low"), found.low);
        }
        if let (Some(low), Some(high)) = (self.b10_wald_interval_hours.low, self.b10_wald_interval_hours.high) {
            // In ln age the ends lie as far below as above; a lower one of almost nothing has lost its digits.
            let below = self.b10_hours / high * self.b10_hours;
            let (least, most) = (below * (1.0 - 1e-6) - 1e-300, below * (1.0 + 1e-6) + 1e-300);
            c.between("b10_wald_interval_hours.low", low, least.max(0.0), most);
        }
        c.need("converged", self.converged, self.converged, "true: a search that stopped early is no model");
        self.families_agree(c);
        c.need("by_cause", !self.by_cause.is_empty(), "no cause", "the causes that act side by side");
        c.once("by_cause.endings", self.by_cause.iter().flat_map(|k| &k.endings));
        for (i, cause) in self.by_cause.iter().enumerate() {
            c.inside(&format!("by_cause[{i}]"), |c| {
                c.need("endings", !cause.endings.is_empty(), "no ending", "one or more");
                c.need("failures_count", cause.failures_count > 0, cause.failures_count, "1 or more");
                c.entries("shares_probability", cause.shares_probability.len(), cause.endings.len());
                c.column("shares_probability", &cause.shares_probability, Checks::share);
                c.equal("shares_probability", cause.shares_probability.iter().sum(), 1.0);
                parameters_of(c, &cause.family, &cause.parameters);
            });
        }
        c.part("fit_check", &self.fit_check);
        let said = sentence(&self.family, &self.fit_check.comparisons);
        c.follows("fit_check.sentence", &self.fit_check.sentence, &said);
        let several = self.by_cause.len() > 1;
        let noted = self.notes.iter().any(|note| note == CAUSES_INDEPENDENT);
        c.need(
            "notes",
            noted == several,
            if noted { "one on causes" } else { "none on causes" },
            "one where there are several",
        );
        self.points_agree(c);
    }
}

impl ModelResult {
    /// The comparison of families against the one that was chosen.
    fn families_agree(&self, c: &mut Checks) {
        c.once("families.family", self.families.iter().map(|f| &f.family));
        let best = self.families.iter().filter_map(|f| f.aic).fold(f64::INFINITY, f64::min);
        for (i, tried) in self.families.iter().enumerate() {
            c.inside(&format!("families[{i}]"), |c| {
                let fitted = tried.refusal.is_empty();
                for (field, there) in [
                    ("ln_likelihood", tried.ln_likelihood.is_some()),
                    ("aic", tried.aic.is_some()),
                    ("aic_over_best", tried.aic_over_best.is_some()),
                ] {
                    c.there(field, there, fitted, "there without a refusal only");
                }
                let width = family(&tried.family).map_or(0, |f| f.width() as u64);
                c.follows("parameters_count", &tried.parameters_count, &width);
                if let (Some(ln), Some(aic), Some(over)) = (tried.ln_likelihood, tried.aic, tried.aic_over_best) {
                    c.equal("aic", aic, 2.0 * width as f64 - 2.0 * ln);
                    c.near("aic_over_best", over, aic - best, aic);
                }
            });
        }
        let order = self.families.is_sorted_by(|a, b| a.aic.unwrap_or(f64::MAX) <= b.aic.unwrap_or(f64::MAX));
        c.need("families", order, "another order", "the best first");
        let own = self.families.iter().find(|f| f.family == self.family).and_then(|f| f.ln_likelihood);
        match own {
            None => c.need("family", false, &self.family, "one of the families that were fitted"),
            Some(own) => c.equal("ln_likelihood", self.ln_likelihood, own),
        }
        let chosen = self.families.iter().find(|f| f.family == self.family);
        let (Some(aic), Some(over)) = (chosen.and_then(|f| f.aic), chosen.and_then(|f| f.aic_over_best)) else {
            return;
        };
        if self.choice != as_asked(&self.family) {
            c.follows("choice", &self.choice, &reason(&self.family, aic, &self.families));
            let near = |f: &FamilyResult| f.family == "weibull" && f.aic_over_best.is_some_and(|o| o <= AIC_TIE);
            let kept = if self.families.iter().any(near) { self.family == "weibull" } else { over == 0.0 };
            c.need("family", kept, &self.family, "the Weibull near the smallest criterion, else the smallest");
        }
    }

    /// The curve that is drawn against the parameters.
    fn points_agree(&self, c: &mut Checks) {
        c.rising("points", &self.points.iter().map(|p| p.age_hours).collect::<Vec<_>>(), false);
        c.falling("points", &self.points.iter().map(|p| p.reliability_probability).collect::<Vec<_>>());
        // Each draw falls with age, and so do their percentiles.
        c.falling("points.low_probability", &self.points.iter().filter_map(|p| p.low_probability).collect::<Vec<_>>());
        c.falling(
            "points.high_probability",
            &self.points.iter().filter_map(|p| p.high_probability).collect::<Vec<_>>(),
        );
        let lives = self.lives();
        let mut past = false;
        for (i, point) in self.points.iter().enumerate() {
            c.inside(&format!("points[{i}]"), |c| {
                c.share("reliability_probability", point.reliability_probability);
                c.share("low_probability", point.low_probability);
                c.share("high_probability", point.high_probability);
                // Percentiles of draws need not hold the estimate.
                c.ends("high_probability", point.low_probability, point.high_probability);
                if let Some(lives) = &lives {
                    let ln: f64 = lives.iter().map(|l| l.ln_reliability(point.age_hours)).sum();
                    c.equal("reliability_probability", point.reliability_probability, ln.exp());
                }
                c.need(
                    "past_records",
                    point.past_records || !past,
                    point.past_records,
                    "true from the end of the records on",
                );
                past = point.past_records;
            });
        }
    }
}

/// The parameters of a family, each inside its own intervals.
fn parameters_of(c: &mut Checks, name: &str, parameters: &[ParameterResult]) {
    let Ok(known) = family(name) else {
        return c.need("family", false, name, "the name of a family");
    };
    let names = known.parameter_names();
    c.entries("parameters", parameters.len(), names.len());
    for (i, (parameter, own)) in parameters.iter().zip(names).enumerate() {
        c.inside(&format!("parameters[{i}]"), |c| {
            c.need("name", parameter.name == *own, &parameter.name, *own);
            let unit = unit(name, own);
            c.need("unit", parameter.unit == unit, &parameter.unit, unit);
            if let Some(link) = known.links().get(i) {
                wald_agrees(c, parameter, *link, known.floor(i));
                if *link == Link::Log {
                    c.not_negative("profile.low", parameter.profile.low);
                }
            }
        });
    }
    c.parts("parameters", parameters);
    if let Some(values) = estimates(parameters) {
        c.need("parameters", known.life(&values).is_ok(), format!("{values:?}"), format!("those of a {name} life"));
    }
}

/// The ends by curvature, which lie as far below the estimate as above it on the unconstrained scale, unless the range of
/// the parameter ends one of them.
fn wald_agrees(c: &mut Checks, parameter: &ParameterResult, link: Link, floor: f64) {
    let (Some(estimate), Some(low), Some(high)) = (parameter.estimate, parameter.wald.low, parameter.wald.high) else {
        return;
    };
    let below = link.coordinate(low);
    let mirrored = link.parameter(2.0 * link.coordinate(estimate) - below);
    if link == Link::Log && low < f64::MIN_POSITIVE {
        // A lower end of almost nothing has lost its digits; where the upper one tells of more there is none.
        c.between("wald.low", low, 0.0, estimate / high * estimate * (1.0 + 1e-6));
        c.need(
            "wald.low",
            low >= 0.0 && estimate / high * estimate < 1e-300,
            low,
            "as far below as the upper end is above",
        );
        return;
    }
    let whole = below > floor && mirrored.is_finite();
    if link == Link::Hours {
        // A failure-free time ends at the first failure, and begins at 0.
        let most = mirrored.max(estimate) + 1e-6 * estimate.abs().max(mirrored.abs());
        c.need("wald.high", below <= floor || high <= most, high, format!("at most {mirrored}"));
    } else if whole {
        c.equal("wald.high", high, mirrored);
    }
}

/// Estimates of all parameters; none where the records leave one open.
fn estimates(parameters: &[ParameterResult]) -> Option<Vec<f64>> {
    parameters.iter().map(|p| p.estimate).collect()
}

impl Sound for ParameterResult {
    fn check(&self, c: &mut Checks) {
        for (field, found) in [("profile", &self.profile), ("wald", &self.wald)] {
            c.part(field, found);
            c.between("estimate", self.estimate, found.low, found.high);
        }
        let marks = ["", "yes", "weakly", "no"];
        c.need("identified", marks.contains(&self.identified.as_str()), &self.identified, "yes, weakly, no or blank");
        // A value would say more than the records do.
        c.there("estimate", self.estimate.is_some(), self.identified != "no", "there unless the records leave it open");
    }
}

impl Sound for FitCheck {
    fn check(&self, c: &mut Checks) {
        c.share("largest_gap_probability", self.largest_gap_probability);
        let (gap, age) = (self.largest_gap_probability.is_some(), self.largest_gap_age_hours.is_some());
        c.there("largest_gap_age_hours", age, gap, "there with a gap");
        c.not_negative("largest_gap_age_hours", self.largest_gap_age_hours);
        c.once("comparisons.by", self.comparisons.iter().map(|k| &k.by));
        let made = self.comparisons.len() as f64;
        for (i, one) in self.comparisons.iter().enumerate() {
            c.share(&format!("comparisons[{i}].p_value_probability"), one.p_value_probability);
            let differs = one.p_value_probability * made < MISFIT_LEVEL;
            c.follows(&format!("comparisons[{i}].differs"), &one.differs, &differs);
        }
        c.follows("holds", &self.holds, &!self.comparisons.iter().any(|k| k.differs));
        let worst = self.comparisons.iter().min_by(|a, b| a.p_value_probability.total_cmp(&b.p_value_probability));
        c.follows("p_value_probability", &self.p_value_probability, &worst.map(|w| w.p_value_probability));
        c.follows("compared", &self.compared.as_str(), &worst.map_or("", |w| w.by.as_str()));
    }
}
