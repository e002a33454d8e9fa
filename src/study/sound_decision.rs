//! What must hold of saved decisions of one class: no advice past a limit, parts that make the whole, counts in order.

use super::bounds::{DemandBounds, LABEL, sentence};
use super::decide::WEEKS_PER_YEAR;
use super::decide::order_of;
use super::decision_result::{CostPoint, DemandMonth, DemandResult, NO_SAVING, PolicyResult, RuleCost, StockResult};
use super::sound_draws::near_best_agrees;
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::policy::{BandEnd, Verdict};
use crate::stock::{self, StockVerdict};

/// Every age that may be read as advice.
pub(super) fn no_age_past(c: &mut Checks, policy: &PolicyResult, limit: f64) {
    c.advice("planned_age_hours", policy.planned_age_hours, limit);
    c.advice("planned_age_interval_hours.low", policy.planned_age_interval_hours.low, limit);
    c.advice("planned_age_interval_hours.high", policy.planned_age_interval_hours.high, limit);
    c.age("ceiling_hours", policy.ceiling_hours, limit);
    c.age("planned.age_hours", policy.planned.age_hours, limit);
    c.age("todays_rule.age_hours", policy.todays_rule.age_hours, limit);
    for (i, band) in policy.near_best.iter().enumerate() {
        c.age(&format!("near_best[{i}].to_hours"), band.to_hours, limit);
        if band.to_end == BandEnd::AtLimit {
            c.equal(&format!("near_best[{i}].to_hours"), band.to_hours, limit);
        }
    }
    for (i, point) in policy.cost_curve.iter().enumerate() {
        c.age(&format!("cost_curve[{i}].age_hours"), point.age_hours, limit);
    }
    // Where the limit binds, or no change pays before it, the search went as far as the limit.
    if matches!(policy.verdict, Verdict::LimitBinds | Verdict::NoPlannedChangePays) {
        c.equal("ceiling_hours", policy.ceiling_hours, limit);
    }
    if policy.verdict == Verdict::RecordsEnd {
        c.need("ceiling_hours", policy.ceiling_hours < limit, policy.ceiling_hours, format!("below {limit}"));
    }
    // An earlier age that costs more than a rule past the records is no advice.
    let rule = &policy.todays_rule;
    let past = rule.age_hours > policy.ceiling_hours;
    let dearer = rule.cost_per_1000_hours < policy.planned.cost_per_1000_hours;
    let holds = if policy.verdict == Verdict::TodaysRuleStays { past } else { !(past && dearer) };
    let expected = "todays_rule_stays where that rule lies past the records and costs less, and only there";
    c.need("verdict", holds, as_saved(&policy.verdict), expected);
}

impl Sound for PolicyResult {
    fn check(&self, c: &mut Checks) {
        c.words("sentence", &self.sentence);
        let age = self.planned_age_hours;
        match self.verdict {
            Verdict::BestBelowLimit => c.age("planned_age_hours", age, self.ceiling_hours),
            Verdict::TodaysRuleStays | Verdict::TooFewFailures => {
                c.follows("planned_age_hours", &age, &self.todays_rule.age_hours.floor());
            }
            _ => c.follows("planned_age_hours", &age, &self.ceiling_hours.floor()),
        }
        let interval = &self.planned_age_interval_hours;
        c.part("planned_age_interval_hours", interval);
        c.age("planned_age_interval_hours.high", interval.high, self.ceiling_hours);
        c.share("limit_binds_probability", self.limit_binds_probability);
        c.share("beats_todays_rule_probability", self.beats_todays_rule_probability);
        let mut before = 0.0;
        for (i, band) in self.near_best.iter().enumerate() {
            c.ends(&format!("near_best[{i}].from_hours"), before, band.from_hours);
            c.age(&format!("near_best[{i}].from_hours"), band.from_hours, band.to_hours);
            c.age(&format!("near_best[{i}].to_hours"), band.to_hours, self.ceiling_hours);
            before = band.to_hours;
        }
        near_best_agrees(c, self);
        c.rising("cost_curve", &self.cost_curve.iter().map(|p| p.age_hours).collect::<Vec<_>>(), false);
        c.parts("cost_curve", &self.cost_curve);
        c.part("planned", &self.planned);
        c.part("todays_rule", &self.todays_rule);
        for (field, rule) in [("planned", &self.planned), ("todays_rule", &self.todays_rule)] {
            let on_curve = self.cost_curve.iter().find(|p| p.age_hours == rule.age_hours);
            match on_curve {
                None => c.need(&format!("{field}.age_hours"), false, rule.age_hours, "an age of the cost curve"),
                Some(point) => {
                    c.equal(
                        &format!("{field}.cost_per_1000_hours"),
                        rule.cost_per_1000_hours,
                        point.cost_per_1000_hours,
                    );
                }
            }
        }
        c.positive("run_to_failure_cost_per_1000_hours", self.run_to_failure_cost_per_1000_hours);
        self.savings_agree(c);
        if let Some(ends) = &self.endings_at_planned_age {
            c.part("endings_at_planned_age", ends);
        }
        if let Some(money) = &self.money_back {
            c.part("money_back", money);
        }
        if let Some(curve) = &self.curve_age {
            c.inside("curve_age", |c| curve.agrees(c, self));
        }
    }
}

impl PolicyResult {
    /// Every saving against the costs that it is the difference of.
    fn savings_agree(&self, c: &mut Checks) {
        let (cost, todays) = (self.planned.cost_per_1000_hours, self.todays_rule.cost_per_1000_hours);
        let interval = &self.saving_against_today_interval_per_1000_hours;
        let told = self.verdict != Verdict::TooFewFailures;
        for (field, there) in [
            ("saving_against_today_per_1000_hours", self.saving_against_today_per_1000_hours.is_some()),
            ("saving_against_today_interval_per_1000_hours", interval.low.is_some() || interval.high.is_some()),
            ("saving_settled", self.saving_settled.is_some()),
            ("beats_todays_rule_probability", self.beats_todays_rule_probability.is_some()),
        ] {
            c.there(field, there, told, "there unless failures are too few for a saving");
        }
        if let Some(saving) = self.saving_against_today_per_1000_hours {
            c.near("saving_against_today_per_1000_hours", saving, todays - cost, todays);
        } else {
            let method = "saving_against_today_interval_per_1000_hours.method";
            c.follows(method, &interval.method.as_str(), &NO_SAVING);
        }
        let (failure, against) =
            (self.run_to_failure_cost_per_1000_hours, self.saving_against_run_to_failure_per_1000_hours);
        let field = "saving_against_run_to_failure_per_1000_hours";
        c.there(field, against.is_some(), failure.is_some(), "there where running to failure has a cost");
        if let (Some(failure), Some(against)) = (failure, against) {
            c.near(field, against, failure - cost, failure);
        }
        c.share("run_to_failure_past_records_probability", self.run_to_failure_past_records_probability);
        c.follows("run_to_failure_past_records", &self.run_to_failure_past_records, &self.opinion_of_failure());
        c.part("saving_against_today_interval_per_1000_hours", interval);
        let settled = !(interval.low.is_some_and(|l| l < 0.0) && interval.high.is_some_and(|h| h > 0.0));
        if let Some(got) = self.saving_settled {
            let told = format!("{settled}, which follows from the interval of the saving");
            c.need("saving_settled", got == settled, got, told);
        }
        c.follows("saving_past_records", &self.saving_past_records, &self.saves_past_records());
    }
}

impl Sound for CostPoint {
    fn check(&self, c: &mut Checks) {
        c.positive("cost_per_1000_hours", self.cost_per_1000_hours);
        c.ends("high_per_1000_hours", self.low_per_1000_hours, self.high_per_1000_hours);
        c.not_negative("planned_cost_per_1000_hours", self.planned_cost_per_1000_hours);
        c.once("by_cause.ending", self.by_cause.iter().map(|k| k.ending));
        for (i, part) in self.by_cause.iter().enumerate() {
            c.not_negative(&format!("by_cause[{i}].cost_per_1000_hours"), part.cost_per_1000_hours);
        }
        let parts: f64 = self.by_cause.iter().map(|k| k.cost_per_1000_hours).sum();
        c.equal("cost_per_1000_hours", self.cost_per_1000_hours, self.planned_cost_per_1000_hours + parts);
    }
}

impl Sound for RuleCost {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.positive("cost_per_1000_hours", self.cost_per_1000_hours);
        c.share("failure_probability", self.failure_probability);
        c.share("next_show_failure_probability", self.next_show_failure_probability);
        let (mean, age) = (self.mean_age_at_change_hours, self.age_hours);
        c.age("mean_age_at_change_hours", mean, age);
        // Lamps that do not fail burn to the age of the rule.
        let least = age * (1.0 - self.failure_probability) * (1.0 - 1e-6);
        c.need("mean_age_at_change_hours", mean >= least, mean, format!("at least {least}"));
    }
}

impl Sound for DemandResult {
    fn check(&self, c: &mut Checks) {
        c.not_negative("programme_hours_per_week", self.programme_hours_per_week);
        let most = 168.0 * self.running_lamps_count as f64 * (1.0 + 1e-9);
        let hours = self.programme_hours_per_week;
        c.need("programme_hours_per_week", hours <= most, hours, "at most 168 for each lamp");
        if let Some(year) = self.programme_hours_next_year {
            let most = WEEKS_PER_YEAR * most;
            c.between("programme_hours_next_year", year, 0.0, most);
        }
        c.positive("planned_age_hours", self.planned_age_hours);
        let (due, unknown) = (self.due_at_planned_age_lamps_count, self.unknown_age_lamps_count);
        let order = unknown <= due && due <= self.running_lamps_count;
        c.need("due_at_planned_age_lamps_count", order, due, "no fewer than of unknown age, no more than burn");
        stops_agree(c, self.running_lamps_count, self.stopping_lamps_count, self.stopped_lamps_count);
        if let Some(gone) = self.stopped_by_lead_time_lamps_count {
            let most = self.stopping_lamps_count.unwrap_or(0);
            c.need("stopped_by_lead_time_lamps_count", gone <= most, gone, format!("at most {most}"));
        }
        c.parts("months", &self.months);
    }
}

/// Lamps in screens that stop, and in those that stop at once, against those that burn.
fn stops_agree(c: &mut Checks, running: u64, stopping: Option<u64>, stopped: Option<u64>) {
    c.there("stopped_lamps_count", stopped.is_some(), stopping.is_some(), "there with the lamps in screens that stop");
    let Some(stop) = stopping else { return };
    c.need("stopping_lamps_count", (1..=running).contains(&stop), stop, format!("1 to {running}"));
    let stopped = stopped.unwrap_or(0);
    c.need("stopped_lamps_count", stopped <= stop, stopped, format!("at most {stop}"));
}

impl Sound for DemandMonth {
    fn check(&self, c: &mut Checks) {
        c.not_negative("mean_lamps", self.mean_lamps);
        c.not_negative("planned_mean_lamps", self.planned_mean_lamps);
        c.not_negative("failure_mean_lamps", self.failure_mean_lamps);
        let parts = self.planned_mean_lamps + self.failure_mean_lamps;
        c.between("mean_lamps", self.mean_lamps, parts * (1.0 - 1e-6) - 1e-9, parts * (1.0 + 1e-6) + 1e-9);
        let (p50, p80, p95) = (self.p50_lamps, self.p80_lamps, self.p95_lamps);
        let got = format!("{p50}, {p80}, {p95}");
        c.need("p95_lamps", p50 <= p80 && p80 <= p95, got, "p50, p80 and p95 in rising order");
        // Half of the chance lies at p50 or above, a fifth at p80 or above, a twentieth at p95 or above.
        let least = 0.5 * p50 as f64 + 0.2 * p80.saturating_sub(p50) as f64 + 0.05 * p95.saturating_sub(p80) as f64;
        let holds = self.mean_lamps >= least * (1.0 - 1e-9);
        c.need("mean_lamps", holds, self.mean_lamps, format!("at least {least}, which follows from p50, p80 and p95"));
    }
}

impl Sound for DemandBounds {
    fn check(&self, c: &mut Checks) {
        // A lower bound must never travel under another name.
        c.need("label", self.label == LABEL, &self.label, LABEL);
        c.follows("sentence", &self.sentence, &sentence(self));
        c.not_negative("planned_age_hours", self.planned_age_hours);
        c.not_negative("programme_hours_per_week", self.programme_hours_per_week);
        c.not_negative("high_rate_per_1000_hours", self.high_rate_per_1000_hours);
        c.level("level_probability", self.level_probability);
        let (unknown, running) = (self.unknown_age_lamps_count, self.running_lamps_count);
        c.need("unknown_age_lamps_count", unknown <= running, unknown, format!("at most {}", counted(running, "lamp")));
        stops_agree(c, running, self.stopping_lamps_count, self.stopped_lamps_count);
        // Nothing is due at once where a screen may stop at once.
        let unknown = unknown.saturating_sub(self.stopped_lamps_count.unwrap_or(0));
        let rated = self.high_rate_per_1000_hours.is_some();
        let mut by_end = 0_u64;
        for (i, month) in self.months.iter().enumerate() {
            by_end = by_end.saturating_add(month.planned_lamps);
            let got = month.least_by_end_lamps;
            c.need(&format!("months[{i}].least_by_end_lamps"), got == by_end, got, format!("{by_end}, the sum so far"));
            let field = format!("months[{i}].high_rate_by_end_lamps");
            c.there(&field, month.high_rate_by_end_lamps.is_some(), rated, "there with a rate");
        }
        if let Some(first) = self.months.first() {
            let holds = first.planned_lamps >= unknown;
            c.need(
                "months[0].planned_lamps",
                holds,
                first.planned_lamps,
                format!("at least {unknown}, those due at once"),
            );
        }
        let s = &self.spares;
        c.share("spares.service_target_probability", s.service_target_probability);
        let holds = s.lead_time_days == 0 || s.least_lamps >= unknown;
        c.need("spares.least_lamps", holds, s.least_lamps, format!("at least {unknown}, those due at once"));
        if let Some(served) = s.order_serves_least_lamps {
            let most = s.least_lamps;
            c.need("spares.order_serves_least_lamps", served <= most, served, format!("at most {most}, the least"));
        }
        let order = order_of(s.missing_lamps(), s.order_serves_least_lamps);
        let got = s.order_least_lamps;
        let told = format!("{order}, the least minus what is there, at most what an order serves");
        c.need("spares.order_least_lamps", got == order, got, told);
        c.not_negative("spares.price_each", s.price_each);
        c.equal("spares.order_least_price", s.order_least_price, s.price_each * got as f64);
        c.there("spares.high_rate_level_lamps", s.high_rate_level_lamps.is_some(), rated, "there with a rate");
    }
}

impl Sound for StockResult {
    fn check(&self, c: &mut Checks) {
        let (target, at_level, today) =
            (self.service_target_probability, self.service_at_level_probability, self.service_today_probability);
        c.share("service_target_probability", target);
        c.not_negative("mean_lamps", self.mean_lamps);
        c.share("service_at_level_probability", at_level);
        c.share("service_today_probability", today);
        c.between("service_at_level_probability", at_level, target, None);
        if let Some(rate) = &self.fill_rate {
            let there = self.on_hand_lamps.saturating_add(self.on_order_lamps);
            c.inside("fill_rate", |c| rate.agrees(c, there));
        }
        if let Some(used) = &self.used {
            c.inside("used", |c| used.agrees(c, self.without_used()));
        }
        let there = self.on_hand_lamps.saturating_add(self.on_order_lamps);
        let (low, high) = if there < self.level_lamps { (0.0, at_level) } else { (at_level, 1.0) };
        c.between("service_today_probability", today, low, high);
        // The level is the least that reaches the target.
        let least = there >= self.level_lamps || today <= target;
        c.need("service_today_probability", least, today, format!("at most {target} with fewer than the level"));
        let missing = self.level_lamps.saturating_sub(there);
        if let Some(served) = self.order_serves_lamps {
            let most = self.level_lamps;
            c.need("order_serves_lamps", served <= most, served, format!("at most {most}, the level"));
        }
        let order = order_of(missing, self.order_serves_lamps);
        let told = match self.order_serves_lamps {
            None => format!("{order}, level minus what is there"),
            Some(most) => format!("{order}, level minus what is there, at most the {most} that an order serves"),
        };
        c.need("order_lamps", self.order_lamps == order, self.order_lamps, told);
        c.not_negative("price_each", self.price_each);
        c.equal("order_price", self.order_price, self.price_each * self.order_lamps as f64);
        let said = stock::sentence(self.verdict, self.level_lamps, (self.on_hand_lamps, self.on_order_lamps), order);
        c.follows("sentence", &self.sentence, &said);
        let verdict = match self.verdict {
            StockVerdict::Order => order > 0,
            StockVerdict::Enough => missing == 0,
            StockVerdict::NothingNeeded => self.level_lamps == 0 && self.mean_lamps == 0.0,
            StockVerdict::Certain | StockVerdict::CertaintyAsked => target == 1.0,
            StockVerdict::TooLate => missing > 0 && order == 0,
        };
        c.need("verdict", verdict, as_saved(&self.verdict), format!("{} to order", counted(order, "lamp")));
    }
}
