//! The advice for one class in words, put together from its figures, so that words and figures cannot part.

use super::class_result::{CauseModel, ClassResult, Seen, Status};
use super::decision_result::PolicyResult;
use crate::base::figure::{counted, fitting, full_hours, share, whole};
use crate::family::in_words;
use crate::fit::{ENOUGH_FAILURES, FEW_FAILURES};
use crate::policy::Verdict;
use crate::records::Ending;

/// The advice in words, from the figures of the class.
pub(super) fn headline(result: &ClassResult, currency: &str) -> String {
    let age = full_hours(result.advised_age_hours);
    let Some(policy) = &result.policy else {
        let why = result.refusal.as_ref().map_or("", |r| r.sentence.as_str());
        return format!(
            "Not supported by these records: {why}. Change at {age} h, the earlier of today's rule ({} h) and the limit \
             ({} h).",
            full_hours(result.todays_rule_hours),
            full_hours(result.limit.limit_hours)
        );
    };
    if result.status == Status::RateOnly {
        let failures = result.model.as_ref().map_or(0, |m| failures(&m.by_cause));
        return format!(
            "Only {}, too few for an age of {} own: keep to {age} h, the earlier of today's rule and the limit. {} on an even \
             failure rate, {}. It says how often lamps failed, not whether they \
             wear: no age of least cost and no saving can be read off it.",
            counted(failures, "failure"),
            fitting(failures, "its", "their"),
            if result.needs_not_known.is_empty() { "Costs, lamps needed and spares rest" } else { "Costs rest" },
            rate(failures, result.seen.exposure_hours),
        );
    }
    let saving = policy.saving_against_today_per_1000_hours.unwrap_or(0.0);
    let (cost, todays) = (whole(policy.planned.cost_per_1000_hours), whole(policy.todays_rule.cost_per_1000_hours));
    let against = if policy.planned.age_hours == policy.todays_rule.age_hours {
        "the same as today's rule".to_owned()
    } else if saving.abs() < 0.5 || cost == todays || (policy.verdict == Verdict::FlatSavesNothing && saving < 0.0) {
        // Two costs that read alike, or that the sentence has just called flat.
        "about the same as today's rule".to_owned()
    } else if saving >= 0.0 {
        format!("{} {currency} per 1,000 h less than today's rule", whole(saving))
    } else {
        format!("{} {currency} per 1,000 h more than today's rule", whole(-saving))
    };
    let mut marks = Vec::new();
    if policy.saving_settled == Some(false) {
        marks.push("not settled by these records".to_owned());
    }
    if policy.saves_past_records() {
        marks.push(format!("the model's opinion, as no lamp was seen past {} h", full_hours(policy.ceiling_hours)));
    }
    let marks = if marks.is_empty() { String::new() } else { format!(" ({})", marks.join("; ")) };
    let mut sentence = policy.sentence.clone();
    let interval = match policy.verdict {
        // An interval of ages that are not advised would be taken for one of the advice.
        Verdict::TodaysRuleStays => "both costs are the model's opinion where no lamp was seen".to_owned(),
        _ => age_interval(policy, result.limit.limit_hours),
    };
    if let Some(first) = sentence.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    let back = if policy.money_back.is_some() { " after what the warranty pays back" } else { "" };
    format!("{sentence}. {cost} {currency} per 1,000 h{back}, {against}{marks}; {interval}.")
}

/// Why an age past today's rule is advised though no earlier change saves anything, and what comes with it.
pub(super) fn past_todays_rule(result: &ClassResult) -> Option<String> {
    let policy = result.policy.as_ref()?;
    let (planned, todays) = (&policy.planned, &policy.todays_rule);
    let unbought = [Verdict::FlatSavesNothing, Verdict::NoPlannedChangePays, Verdict::PlannedCostsAtLeastFailure]
        .contains(&policy.verdict);
    if !unbought || planned.age_hours <= todays.age_hours {
        return None;
    }
    let late = if planned.age_hours >= result.limit.limit_hours.floor() {
        ", and a change that comes late passes the limit"
    } else {
        ""
    };
    let saves = policy.saving_against_today_per_1000_hours.unwrap_or(0.0) > 0.0 && policy.saving_settled == Some(true);
    let weigh = if saves {
        "by the costs declared that is cheaper; what a failure costs beyond them speaks for today's rule"
    } else {
        "these records do not tell it cheaper than today's rule, under which fewer lamps fail"
    };
    Some(format!(
        "the advice of {} h lies past today's rule of {} h because no change before it saves enough: {} of lamps fail before \
         {} h, {} before {} h{late}; {weigh}",
        full_hours(planned.age_hours),
        full_hours(todays.age_hours),
        share(planned.failure_probability),
        full_hours(planned.age_hours),
        share(todays.failure_probability),
        full_hours(todays.age_hours),
    ))
}

/// Failures over hours in words.
fn rate(failures: u64, exposure_hours: f64) -> String {
    let per_1000 = 1000.0 * failures as f64 / exposure_hours;
    format!("{per_1000:.3} per 1,000 h ({} in {} lamp hours)", whole(failures as f64), full_hours(exposure_hours))
}

/// The interval of the age in words. Where the draws give one and the same age there is nothing to read between two ends,
/// and the words say why.
pub(super) fn age_interval(policy: &PolicyResult, limit_hours: f64) -> String {
    let ends = &policy.planned_age_interval_hours;
    let (low, high) = match (ends.low, ends.high) {
        (Some(low), Some(high)) => (full_hours(low), full_hours(high)),
        _ if policy.limit_binds_probability.is_none() => {
            return "an even rate has no age of least cost, and so no interval of ages to read".to_owned();
        }
        _ => return "no interval of the age is known".to_owned(),
    };
    let ceiling = policy.ceiling_hours;
    let last = full_hours(ceiling);
    let end = if ceiling < limit_hours {
        format!("{last} h, where the records end short of the limit")
    } else {
        format!("the limit of {last} h")
    };
    let bound = policy.limit_binds_probability.unwrap_or(0.0);
    if low != high {
        // An end of the search that many draws share reads as an end that the records support.
        let cut = if bound > 0.0 { format!("; {} of the draws end at {end}", share(bound)) } else { String::new() };
        return format!("95 % interval of the age {low} to {high} h{cut}");
    }
    if !ends.low.is_some_and(|l| l > ceiling - 1.0) {
        return format!("nearly every draw gives {low} h, so there is no interval of ages to read");
    }
    let draws = if bound >= 1.0 { "every draw".to_owned() } else { format!("{} of the draws", share(bound)) };
    format!("in {draws} the cost still falls at {end}, so there is no interval of ages to read")
}

/// Running to failure in words: beside the planned age, and how much of it no record bears.
pub(super) fn run_to_failure(policy: &PolicyResult, seen: &Seen) -> String {
    if policy.limit_binds_probability.is_none() {
        return "no cost of running to failure: so few failures show a rate and no wear".to_owned();
    }
    let Some(cost) = policy.run_to_failure_cost_per_1000_hours else {
        return "no cost of running to failure: it does not settle at any age".to_owned();
    };
    let more = 100.0 * (cost / policy.planned.cost_per_1000_hours - 1.0);
    let beside = match more {
        m if m >= 0.5 => format!("costs {} % more per hour than the planned age", whole(m)),
        m if m <= -0.5 => format!("costs {} % less per hour than the planned age", whole(-m)),
        _ => "costs about the same per hour as the planned age".to_owned(),
    };
    let oldest = end_of_records(seen);
    let past = share(policy.run_to_failure_past_records_probability.unwrap_or(0.0));
    let opinion = if policy.run_to_failure_past_records { ", so that its cost is the model's opinion" } else { "" };
    format!(
        "running to failure passes the limit and only compares: it {beside}; no lamp was seen past {oldest}, and by the \
         model {past} of its lamp hours lie past that age{opinion}"
    )
}

/// The age past which no lamp was seen, with how many lamps bear it out.
pub(super) fn end_of_records(seen: &Seen) -> String {
    let age = full_hours(seen.oldest_at_risk_hours);
    match seen.oldest_at_risk_lamps_count {
        0 => format!("{age} h"),
        n => format!("{age} h ({} at risk there)", counted(n, "lamp")),
    }
}

/// The causes with wear of their own that rest on too few failures; an even rate has no shape that could be weak.
pub(super) fn weak_causes(causes: &[CauseModel]) -> Vec<&CauseModel> {
    causes.iter().filter(|k| k.family != "exponential" && k.failures_count < ENOUGH_FAILURES).collect()
}

/// What is said of these; nothing where there is none.
pub(super) fn weakly_known(causes: &[CauseModel]) -> Option<String> {
    let weak: Vec<String> = weak_causes(causes).into_iter().map(cause_in_words).collect();
    (!weak.is_empty()).then(|| {
        format!(
            "weak: the age rests on {}, fewer than {ENOUGH_FAILURES} of a cause; expect wear estimated too steep",
            and(&weak)
        )
    })
}

/// A cause with its failures, in words.
fn cause_in_words(cause: &CauseModel) -> String {
    format!("{} ({})", cause_words(&cause.endings), counted(cause.failures_count, "failure"))
}

/// The endings that a cause is recorded as, in words.
pub(super) fn cause_words(endings: &[Ending]) -> String {
    let words: Vec<String> = endings.iter().map(|e| e.as_str().replace('_', " ")).collect();
    let together = if words.len() > 1 { " together" } else { "" };
    format!("{}{together}", and(&words))
}

/// What the age, the costs, the lamps needed and the spares rest on: the models by cause, in words.
pub(super) fn rests_on(causes: &[CauseModel], needs_known: bool) -> String {
    let few = failures(causes) < FEW_FAILURES;
    let mut by_family: Vec<(&str, Vec<String>)> = Vec::new();
    for cause in causes {
        let said = cause_in_words(cause);
        match by_family.iter_mut().find(|(family, _)| *family == cause.family) {
            Some((_, causes)) => causes.push(said),
            None => by_family.push((&cause.family, vec![said])),
        }
    }
    let each: Vec<String> = by_family
        .into_iter()
        .map(|(family, causes)| match family {
            "exponential" => format!("an even rate for {}", and(&causes)),
            family => format!("{} lives for {}", in_words(family), and(&causes)),
        })
        .collect();
    let what = match (few, needs_known) {
        (true, true) => "costs, lamps needed and spares rest",
        (true, false) => "costs rest",
        (false, true) => "age, costs, lamps needed and spares rest",
        (false, false) => "age and costs rest",
    };
    let side = if causes.len() > 1 { ", side by side" } else { "" };
    let but = if few { "; no age rests on it" } else { "" };
    format!("{what} on {}{side}{but}", and(&each))
}

/// Failures behind a model: each belongs to one cause.
pub(super) fn failures(causes: &[CauseModel]) -> u64 {
    causes.iter().map(|k| k.failures_count).fold(0, u64::saturating_add)
}

fn and(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}
