//! What must hold of saved answers: no advice past a limit, shares inside 0 to 1, counts that reconcile.

use super::bounds::{DemandBounds, LABEL};
use super::class_result::{ClassResult, CurveResult, ModelResult, ParameterResult, Seen};
use super::decision_result::{DemandResult, PolicyResult, RuleCost, StockResult};
use super::output::{Evidence, StudyOutput};
use super::overdue::OverdueLists;
use super::results::{Interval, LedgerSummary, OrderTotal, StudyResults};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};

impl Sound for StudyOutput {
    fn check(&self, c: &mut Checks) {
        c.part("results", &self.results);
        c.part("evidence", &self.evidence);
        let (told, counted) = (self.results.ledger.rows_count, self.evidence.ledger.counts.rows);
        c.need("results.ledger.rows_count", told == counted, told, format!("{counted}, as in the evidence"));
    }
}

impl Sound for Evidence {
    fn check(&self, c: &mut Checks) {
        for (i, file) in self.inputs.iter().enumerate() {
            let hexadecimal = file.sha256.len() == 64 && file.sha256.bytes().all(|b| b.is_ascii_hexdigit());
            c.need(&format!("inputs[{i}].sha256"), hexadecimal, &file.sha256, "64 hexadecimal digits");
        }
        c.part("ledger", &self.ledger);
        for (i, life) in self.lives.iter().enumerate() {
            c.not_negative(&format!("lives[{i}].low_hours"), life.low_hours);
            c.ends(&format!("lives[{i}].high_hours"), life.low_hours, life.high_hours);
        }
    }
}

impl Sound for StudyResults {
    fn check(&self, c: &mut Checks) {
        c.inside("study", |c| {
            c.level("level_probability", self.study.level_probability);
            c.positive("show_minutes", self.study.show_minutes);
        });
        c.part("ledger", &self.ledger);
        c.part("overdue", &self.overdue);
        c.parts("classes", &self.classes);
        let orders = OrderTotal::of(&self.classes);
        c.need(
            "orders.order_lamps",
            self.orders.order_lamps == orders.order_lamps,
            self.orders.order_lamps,
            format!("{}, the sum over the classes", orders.order_lamps),
        );
        c.equal("orders.order_price", self.orders.order_price, orders.order_price);
    }
}

impl Sound for LedgerSummary {
    fn check(&self, c: &mut Checks) {
        let parts = [self.used_count, self.merged_count, self.set_aside_count];
        let sum = parts.iter().fold(0_u64, |sum, n| sum.saturating_add(*n));
        let told = if self.reconciles { sum == self.rows_count } else { sum != self.rows_count };
        c.need("rows_count", told, self.rows_count, format!("{sum}, used, merged and set aside together"));
        for (i, f) in self.by_file.iter().enumerate() {
            let sum = f.used_count.saturating_add(f.merged_count).saturating_add(f.set_aside_count);
            c.need(&format!("by_file[{i}].rows_count"), sum == f.rows_count, f.rows_count, format!("{sum}"));
        }
    }
}

impl Sound for OverdueLists {
    fn check(&self, c: &mut Checks) {
        for (i, lamp) in self.at_limit.iter().enumerate() {
            c.positive(&format!("at_limit[{i}].limit_hours"), lamp.limit_hours);
            c.ends(&format!("at_limit[{i}].reading_hours"), lamp.limit_hours, lamp.reading_hours);
            let over = lamp.reading_hours - lamp.limit_hours;
            let near = (lamp.over_hours - over).abs() <= 1e-5;
            c.need(&format!("at_limit[{i}].over_hours"), near, lamp.over_hours, format!("{over}"));
        }
        for (i, lamp) in self.soon.iter().enumerate() {
            c.age(&format!("soon[{i}].reading_hours"), lamp.reading_hours, lamp.limit_hours);
        }
    }
}

impl Sound for Interval {
    fn check(&self, c: &mut Checks) {
        c.ends("high", self.low, self.high);
        c.level("level_probability", self.level_probability);
    }
}

impl Sound for ClassResult {
    fn check(&self, c: &mut Checks) {
        let limit = self.limit.limit_hours;
        c.positive("limit.limit_hours", limit);
        c.positive("limit.maker_limit_hours", self.limit.maker_limit_hours);
        c.advice("advised_age_hours", self.advised_age_hours, limit);
        c.positive("todays_rule_hours", self.todays_rule_hours);
        c.part("seen", &self.seen);
        if let Some(curve) = &self.curve {
            c.part("curve", curve);
        }
        if let Some(model) = &self.model {
            c.part("model", model);
        }
        for (i, cause) in self.causes.iter().enumerate() {
            c.share(&format!("causes[{i}].share_probability"), cause.share_probability);
            c.share(&format!("causes[{i}].incidence_probability"), cause.incidence_probability);
            c.age(&format!("causes[{i}].incidence_age_hours"), cause.incidence_age_hours, limit);
            c.not_negative(&format!("causes[{i}].per_1000_hours"), cause.per_1000_hours);
            c.ends(&format!("causes[{i}].per_1000_hours_high"), cause.per_1000_hours, cause.per_1000_hours_high);
        }
        if let Some(policy) = &self.policy {
            c.part("policy", policy);
            c.inside("policy", |c| no_age_past(c, policy, limit));
        }
        if let Some(demand) = &self.demand {
            c.part("demand", demand);
            c.inside("demand", |c| c.age("planned_age_hours", demand.planned_age_hours, limit));
        }
        if let Some(stock) = &self.stock {
            c.part("stock", stock);
        }
        if let Some(bounds) = &self.bounds {
            c.part("bounds", bounds);
            c.age("bounds.planned_age_hours", bounds.planned_age_hours, limit);
        }
    }
}

/// Every age that may be read as advice.
fn no_age_past(c: &mut Checks, policy: &PolicyResult, limit: f64) {
    c.advice("planned_age_hours", policy.planned_age_hours, limit);
    c.age("planned_age_interval_hours.low", policy.planned_age_interval_hours.low, limit);
    c.age("planned_age_interval_hours.high", policy.planned_age_interval_hours.high, limit);
    c.age("ceiling_hours", policy.ceiling_hours, limit);
    c.age("planned.age_hours", policy.planned.age_hours, limit);
    c.age("todays_rule.age_hours", policy.todays_rule.age_hours, limit);
    for (i, band) in policy.near_best.iter().enumerate() {
        c.age(&format!("near_best[{i}].to_hours"), band.to_hours, limit);
        c.age(&format!("near_best[{i}].from_hours"), band.from_hours, band.to_hours);
    }
    for (i, point) in policy.cost_curve.iter().enumerate() {
        c.age(&format!("cost_curve[{i}].age_hours"), point.age_hours, limit);
    }
}

impl Sound for Seen {
    fn check(&self, c: &mut Checks) {
        let lamps = self.lamps_count;
        for (field, n) in [
            ("failures_count", self.failures_count),
            ("interval_failures_count", self.interval_failures_count),
            ("running_count", self.running_count),
            ("late_entry_count", self.late_entry_count),
        ] {
            c.need(field, n <= lamps, n, format!("at most {}", counted(lamps, "lamp")));
        }
        c.not_negative("exposure_hours", self.exposure_hours);
        c.not_negative("oldest_at_risk_hours", self.oldest_at_risk_hours);
    }
}

impl Sound for CurveResult {
    fn check(&self, c: &mut Checks) {
        c.rising("points", &self.points.iter().map(|p| p.age_hours).collect::<Vec<_>>(), true);
        for (i, point) in self.points.iter().enumerate() {
            c.share(&format!("points[{i}].reliability_probability"), point.reliability_probability);
            c.share(&format!("points[{i}].low_probability"), point.low_probability);
            c.share(&format!("points[{i}].high_probability"), point.high_probability);
            c.ends(&format!("points[{i}].high_probability"), point.low_probability, point.high_probability);
        }
        c.level("level_probability", self.level_probability);
        c.not_negative("given_survival_to_hours", self.given_survival_to_hours);
    }
}

impl Sound for ModelResult {
    fn check(&self, c: &mut Checks) {
        c.parts("parameters", &self.parameters);
        c.part("b10_interval_hours", &self.b10_interval_hours);
        c.part("b10_wald_interval_hours", &self.b10_wald_interval_hours);
        for (i, cause) in self.by_cause.iter().enumerate() {
            c.entries(
                &format!("by_cause[{i}].shares_probability"),
                cause.shares_probability.len(),
                cause.endings.len(),
            );
            c.column(&format!("by_cause[{i}].shares_probability"), &cause.shares_probability, Checks::share);
            c.parts(&format!("by_cause[{i}].parameters"), &cause.parameters);
        }
        c.share("fit_check.largest_gap_probability", self.fit_check.largest_gap_probability);
        c.share("fit_check.p_value_probability", self.fit_check.p_value_probability);
        for (i, point) in self.points.iter().enumerate() {
            c.share(&format!("points[{i}].reliability_probability"), point.reliability_probability);
            c.share(&format!("points[{i}].low_probability"), point.low_probability);
            c.share(&format!("points[{i}].high_probability"), point.high_probability);
        }
    }
}

impl Sound for ParameterResult {
    fn check(&self, c: &mut Checks) {
        c.part("profile", &self.profile);
        c.part("wald", &self.wald);
    }
}

impl Sound for PolicyResult {
    fn check(&self, c: &mut Checks) {
        c.part("planned_age_interval_hours", &self.planned_age_interval_hours);
        c.share("limit_binds_probability", self.limit_binds_probability);
        c.share("beats_todays_rule_probability", self.beats_todays_rule_probability);
        for (i, point) in self.cost_curve.iter().enumerate() {
            c.positive(&format!("cost_curve[{i}].cost_per_1000_hours"), point.cost_per_1000_hours);
            c.ends(
                &format!("cost_curve[{i}].high_per_1000_hours"),
                point.low_per_1000_hours,
                point.high_per_1000_hours,
            );
        }
        let saving = &self.saving_against_today_interval_per_1000_hours;
        c.part("saving_against_today_interval_per_1000_hours", saving);
        let settled = !(saving.low.is_some_and(|l| l < 0.0) && saving.high.is_some_and(|h| h > 0.0));
        let told = format!("{settled}, which follows from the interval of the saving");
        c.need("saving_settled", self.saving_settled == settled, self.saving_settled, told);
        c.part("planned", &self.planned);
        c.part("todays_rule", &self.todays_rule);
        c.positive("run_to_failure_cost_per_1000_hours", self.run_to_failure_cost_per_1000_hours);
    }
}

impl Sound for RuleCost {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.positive("cost_per_1000_hours", self.cost_per_1000_hours);
        c.share("failure_probability", self.failure_probability);
        c.age("mean_age_at_change_hours", self.mean_age_at_change_hours, self.age_hours);
    }
}

impl Sound for DemandResult {
    fn check(&self, c: &mut Checks) {
        c.not_negative("programme_hours_per_week", self.programme_hours_per_week);
        c.positive("planned_age_hours", self.planned_age_hours);
        for (i, month) in self.months.iter().enumerate() {
            c.not_negative(&format!("months[{i}].mean_lamps"), month.mean_lamps);
            let order = month.p50_lamps <= month.p80_lamps && month.p80_lamps <= month.p95_lamps;
            let got = format!("{}, {}, {}", month.p50_lamps, month.p80_lamps, month.p95_lamps);
            c.need(&format!("months[{i}].p95_lamps"), order, got, "p50, p80 and p95 in rising order");
        }
    }
}

impl Sound for DemandBounds {
    fn check(&self, c: &mut Checks) {
        // A lower bound must never travel under another name.
        c.need("label", self.label == LABEL, &self.label, LABEL);
        c.positive("planned_age_hours", self.planned_age_hours);
        c.not_negative("programme_hours_per_week", self.programme_hours_per_week);
        c.not_negative("high_rate_per_1000_hours", self.high_rate_per_1000_hours);
        c.level("level_probability", self.level_probability);
        let mut by_end = 0_u64;
        for (i, month) in self.months.iter().enumerate() {
            by_end = by_end.saturating_add(month.planned_lamps);
            let got = month.least_by_end_lamps;
            c.need(&format!("months[{i}].least_by_end_lamps"), got == by_end, got, format!("{by_end}, the sum so far"));
        }
        let s = &self.spares;
        c.share("spares.service_target_probability", s.service_target_probability);
        let order = s.least_lamps.saturating_sub(s.on_hand_lamps.saturating_add(s.on_order_lamps));
        let got = s.order_least_lamps;
        c.need("spares.order_least_lamps", got == order, got, format!("{order}, the least minus what is there"));
        c.equal("spares.order_least_price", s.order_least_price, s.price_each * got as f64);
    }
}

impl Sound for StockResult {
    fn check(&self, c: &mut Checks) {
        c.share("service_target_probability", self.service_target_probability);
        c.not_negative("mean_lamps", self.mean_lamps);
        c.share("service_at_level_probability", self.service_at_level_probability);
        c.share("service_today_probability", self.service_today_probability);
        let order = self.level_lamps.saturating_sub(self.on_hand_lamps.saturating_add(self.on_order_lamps));
        c.need(
            "order_lamps",
            self.order_lamps == order,
            self.order_lamps,
            format!("{order}, level minus what is there"),
        );
        c.not_negative("price_each", self.price_each);
        c.equal("order_price", self.order_price, self.price_each * self.order_lamps as f64);
    }
}
