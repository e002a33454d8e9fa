//! What must hold of saved answers as a whole: counts that reconcile, lists and classes that tell one story.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::cautions::{PROGRAMME_HOURS, assumptions, cautions};
use super::class_result::{ClassResult, ParameterResult};
use super::decide::month_days;
use super::doubts::{NO_BURNING_LAMP, NO_LAMP_BURNS};
use super::headline::headline;
use super::model::as_asked;
use super::output::{Evidence, StudyOutput};
use super::overdue::{OverdueLamp, OverdueLists, SoonLamp, stops_first};
use super::results::{Header, Interval, LedgerSummary, OrderTotal, StudyResults};
use super::run::FIRST_FINDINGS;
use super::season::{Paces, Season};
use super::sound_claims::claims_agree;
use super::sound_curve::curve_is_whole;
use super::sound_draws::draws_agree;
use super::sound_last_buy::last_buys_agree;
use super::sound_lives::lives_bear_out;
use super::sound_places::stores_agree;
use super::sound_plan::plan_agrees;
use super::sound_policy::shows_agree;
use crate::base::sound::{Checks, Sound};
use crate::records::{Counts, Ending, Finding, Ledger, Outcome, WHOLE_LOG, known_rule};

impl Sound for StudyOutput {
    fn check(&self, c: &mut Checks) {
        c.part("results", &self.results);
        c.part("evidence", &self.evidence);
        let (told, counted) = (&self.results.ledger, &self.evidence.ledger);
        let as_counted = |n: u64| format!("{n}, as in the evidence");
        for (field, got, expected) in [
            ("rows_count", told.rows_count, counted.counts.rows),
            ("used_count", told.used_count, counted.counts.used),
            ("merged_count", told.merged_count, counted.counts.merged),
            ("set_aside_count", told.set_aside_count, counted.counts.set_aside),
            ("lives_count", told.lives_count, self.evidence.lives.len() as u64),
        ] {
            c.need(&format!("results.ledger.{field}"), got == expected, got, as_counted(expected));
        }
        let files = told.by_file.iter().map(|f| (&f.file, f.rows_count));
        let same = files.eq(counted.by_file.iter().map(|(file, counts)| (file, counts.rows)));
        c.need("results.ledger.by_file", same, "other files or rows", "those of the evidence");
        let mut rules: BTreeMap<(&str, Outcome), u64> = BTreeMap::new();
        for f in &counted.findings {
            *rules.entry((&f.rule, f.outcome)).or_insert(0) += 1;
        }
        let summed: BTreeMap<_, _> =
            told.by_rule.iter().map(|r| ((r.rule.as_str(), r.outcome), r.findings_count)).collect();
        c.need("results.ledger.by_rule", summed == rules, "other rules or counts", "those of the findings");
        let known = self.results.doubts.iter().all(|d| counted.findings.contains(d));
        c.need("results.doubts", known, "another finding", "findings of the evidence");
        lives_bear_out(c, self);
        let asked = self.evidence.options.iter().find(|(name, _)| name == "family").map(|(_, family)| family);
        for (i, class) in self.results.classes.iter().enumerate() {
            let Some(model) = &class.model else { continue };
            let by_name = model.choice == as_asked(&model.family);
            let holds = by_name == asked.is_some() && asked.is_none_or(|name| *name == model.family);
            let field = format!("results.classes[{i}].model.choice");
            c.need(&field, holds, &model.choice, "the family that the options of the run ask for, and only there");
        }
    }
}

impl Sound for Evidence {
    fn check(&self, c: &mut Checks) {
        c.need("inputs", !self.inputs.is_empty(), "no file", "the study file and every log");
        for (i, file) in self.inputs.iter().enumerate() {
            let hexadecimal = file.sha256.len() == 64 && file.sha256.bytes().all(|b| b.is_ascii_hexdigit());
            c.need(&format!("inputs[{i}].sha256"), hexadecimal, &file.sha256, "64 hexadecimal digits");
        }
        c.part("ledger", &self.ledger);
        for (i, life) in self.lives.iter().enumerate() {
            c.not_negative(&format!("lives[{i}].low_hours"), life.low_hours);
            c.ends(&format!("lives[{i}].high_hours"), life.low_hours, life.high_hours);
            for (j, (from, to)) in life.at_risk_hours.iter().enumerate() {
                c.not_negative(&format!("lives[{i}].at_risk_hours[{j}]"), *from);
                c.ends(&format!("lives[{i}].at_risk_hours[{j}]"), *from, *to);
            }
            let apart = life.at_risk_hours.windows(2).all(|w| matches!(w, [(_, to), (from, _)] if to <= from));
            c.need(&format!("lives[{i}].at_risk_hours"), apart, "another order", "stretches one after the other");
            if let Some((_, to)) = life.at_risk_hours.last() {
                c.follows(&format!("lives[{i}].high_hours"), &life.high_hours, to);
            }
            let running = life.failure && life.ending == Ending::Running;
            c.need(&format!("lives[{i}].failure"), !running, "a lamp that burns", "a lamp that ended");
        }
    }
}

impl Sound for StudyResults {
    fn check(&self, c: &mut Checks) {
        c.part("study", &self.study);
        c.part("ledger", &self.ledger);
        c.part("overdue", &self.overdue);
        c.parts("classes", &self.classes);
        c.once("classes.name", self.classes.iter().map(|k| &k.name));
        for (i, class) in self.classes.iter().enumerate() {
            c.inside(&format!("classes[{i}]"), |c| {
                lists_agree(c, class, &self.overdue);
                study_agrees(c, class, &self.study);
                curve_is_whole(c, class, &self.ledger);
                // Put together from the figures, so that words and figures cannot part.
                c.follows("headline", &class.headline, &headline(class, &self.study.currency));
            });
        }
        c.inside("overdue", |c| lamps_agree(c, self));
        let lives = self.classes.iter().fold(0_u64, |sum, k| sum.saturating_add(k.seen.lamps_count));
        let held = self.ledger.lives_count;
        c.need("ledger.lives_count", lives == held, held, format!("{lives}, those of the classes"));
        let orders = OrderTotal::of(&self.classes);
        let order = self.orders.order_lamps;
        c.follows("orders.order_lamps", &order, &orders.order_lamps);
        let (price, expected) = (self.orders.order_price, orders.order_price);
        c.there("orders.order_price", price.is_some(), expected.is_some(), "there with the lamps to order");
        if let (Some(price), Some(expected)) = (price, expected) {
            c.equal("orders.order_price", price, expected);
        }
        c.follows("orders.not_known", &self.orders.not_known, &orders.not_known);
        let (got, expected) = (&self.orders.least_only_classes_count, &orders.least_only_classes_count);
        c.follows("orders.least_only_classes_count", got, expected);
        c.parts("doubts", &self.doubts);
        // The finding and what it leaves unknown go together.
        let burns = !self.doubts.iter().any(|d| d.rule == NO_BURNING_LAMP);
        let why = if burns { "" } else { NO_LAMP_BURNS };
        c.follows("overdue.not_known", &self.overdue.not_known.as_str(), &why);
        c.need("overdue", burns || self.overdue.is_empty(), "lamps that burn", format!("no lamp, as {why}"));
        for (i, class) in self.classes.iter().enumerate() {
            c.follows(&format!("classes[{i}].needs_not_known"), &class.needs_not_known.as_str(), &why);
        }
        if let Some(plan) = &self.purchase_plan {
            c.inside("purchase_plan", |c| plan_agrees(c, plan, self));
        }
        if let Some(list) = &self.stock_list {
            c.inside("stock_list", |c| stores_agree(c, list, self));
        }
        // No figure goes out without its hazards and what it takes for granted.
        same_texts(c, "cautions", &self.cautions, &cautions());
        same_texts(c, "assumptions", &self.assumptions, &self.taken_for_granted());
        if let Some(season) = &self.season {
            c.part("season", season);
        }
        claims_agree(c, self);
        last_buys_agree(c, self);
    }
}

impl StudyResults {
    /// What the figures take for granted, with the programme hours that only the sentences hold.
    fn taken_for_granted(&self) -> Vec<String> {
        let hours =
            self.assumptions.iter().find_map(|text| text.split_once(PROGRAMME_HOURS)?.1.split_once(" h a week"));
        let hours = hours.and_then(|(hours, _)| hours.parse().ok()).unwrap_or(0.0);
        let endings = self.study.failure_endings.join(", ").replace('_', " ");
        let money_back = self.classes.iter().any(ClassResult::counts_money_back);
        assumptions(self.study.draws_count, &endings, hours, money_back, self.season.as_ref().map(Season::sentence))
    }
}

/// Sentences that every study has.
fn same_texts(c: &mut Checks, field: &str, got: &[String], expected: &[String]) {
    c.need(field, got.len() == expected.len(), got.len(), format!("the {} sentences of every study", expected.len()));
    for (i, (got, expected)) in got.iter().zip(expected).enumerate() {
        c.follows(&format!("{field}[{i}]"), got, expected);
    }
}

impl Sound for Header {
    fn check(&self, c: &mut Checks) {
        c.words("name", &self.name);
        c.level("level_probability", self.level_probability);
        c.positive("show_minutes", self.show_minutes);
        c.ends_of_time("as_of", self.newest_export, self.as_of);
        // Any seed may be the one that was drawn from: only drawing anew, from the logs, would tell another.
        c.need("draws_count", self.draws_count > 0, self.draws_count, "1 or more");
        c.need("visit_interval_days", self.visit_interval_days > 0, self.visit_interval_days, "1 or more");
        c.need("forecast_months", self.forecast_months > 0, self.forecast_months, "1 or more");
        c.once("failure_endings", &self.failure_endings);
    }
}

impl Checks {
    fn ends_of_time(&mut self, field: &str, first: NaiveDate, last: NaiveDate) {
        self.need(field, first <= last, last, format!("{first} or later"));
    }
}

/// The counts of a class against the lists that come first.
fn lists_agree(c: &mut Checks, class: &ClassResult, lists: &OverdueLists) {
    let at_limit = || lists.at_limit.iter().filter(|l| l.lamp_class == class.name);
    let past = |age: f64| at_limit().filter(|l| l.reading_hours >= age).count() as u64;
    let (due, limit) = (&class.due, &class.limit);
    for (field, got, expected) in [
        ("due.past_maker_limit_lamps_count", due.past_maker_limit_lamps_count, past(limit.maker_limit_hours)),
        ("due.past_study_limit_lamps_count", due.past_study_limit_lamps_count, past(limit.limit_hours)),
    ] {
        c.need(field, got == expected, got, format!("{expected}, as in the list overdue.at_limit"));
    }
    let soon = lists.soon.iter().filter(|l| l.lamp_class == class.name).count() as u64;
    if let Some(got) = due.reach_limit_soon_lamps_count {
        c.need("due.reach_limit_soon_lamps_count", got == soon, got, format!("{soon}, as in the list overdue.soon"));
    }
    // A disputed lamp read past its limit stands in the first list alone.
    let listed = lists.age_unknown.iter().filter(|l| l.lamp_class == class.name).count();
    let unknown = (listed + at_limit().filter(|l| l.disputed).count()) as u64;
    let got = due.unknown_age_lamps_count;
    let said = format!("{unknown}, as in the list overdue.age_unknown and the disputed lamps of overdue.at_limit");
    c.need("due.unknown_age_lamps_count", got == unknown, got, said);
}

/// The answers of a class against what was asked of the whole study.
fn study_agrees(c: &mut Checks, class: &ClassResult, study: &Header) {
    let causes: Vec<&str> = class.causes.iter().map(|k| k.ending.as_str()).collect();
    let same = causes.iter().eq(study.failure_endings.iter());
    c.need("causes", same, causes.join(", "), study.failure_endings.join(", "));
    shows_agree(c, class, study.show_minutes);
    let mut levels: Vec<(&str, f64)> = Vec::new();
    levels.extend(class.curve.iter().map(|k| ("curve.level_probability", k.level_probability)));
    levels.extend(class.bounds.iter().map(|b| ("bounds.level_probability", b.level_probability)));
    if let Some(model) = &class.model {
        let own = |p: &ParameterResult| [p.profile.level_probability, p.wald.level_probability];
        let parameters = model.parameters.iter().chain(model.by_cause.iter().flat_map(|k| &k.parameters));
        levels.extend(parameters.flat_map(own).map(|level| ("model.parameters.level_probability", level)));
        levels.push(("model.b10_interval_hours.level_probability", model.b10_interval_hours.level_probability));
        levels
            .push(("model.b10_wald_interval_hours.level_probability", model.b10_wald_interval_hours.level_probability));
    }
    if let Some(policy) = &class.policy {
        let (age, saving) = (&policy.planned_age_interval_hours, &policy.saving_against_today_interval_per_1000_hours);
        levels.push(("policy.planned_age_interval_hours.level_probability", age.level_probability));
        levels
            .push(("policy.saving_against_today_interval_per_1000_hours.level_probability", saving.level_probability));
        let failed = policy.failed_draws_count;
        c.inside("policy", |c| {
            c.need("failed_draws_count", failed < study.draws_count, failed, "fewer than the draws");
            draws_agree(c, policy, study.draws_count.saturating_sub(failed));
        });
    }
    for (field, level) in levels {
        c.equal(field, level, study.level_probability);
    }
    if let Some(demand) = &class.demand {
        c.inside("demand", |c| months(c, study, demand.months.iter().map(|m| (m.from, m.to))));
    }
    if let Some(bounds) = &class.bounds {
        c.inside("bounds", |c| months(c, study, bounds.months.iter().map(|m| (m.from, m.to))));
    }
}

/// As many months as were asked for, one after the other from the day after the as-of date.
fn months(c: &mut Checks, study: &Header, months: impl ExactSizeIterator<Item = (NaiveDate, NaiveDate)>) {
    c.entries("months", months.len(), study.forecast_months as usize);
    for (i, (from, to)) in months.enumerate() {
        let (first, last) = month_days(study.as_of, i);
        c.need(&format!("months[{i}].from"), from == first, from, first.to_string());
        c.need(&format!("months[{i}].to"), to == last, to, last.to_string());
    }
}

/// Every listed lamp against the limit of its class and the dates of the study.
fn lamps_agree(c: &mut Checks, results: &StudyResults) {
    let class_of = |name: &str| results.classes.iter().find(|k| k.name == name);
    let judged = |k: &ClassResult| k.limit.limit_hours.min(k.limit.maker_limit_hours);
    let lists = &results.overdue;
    let known = lists.at_limit.iter().map(|l| (&l.lamp_class, l.limit_hours)).enumerate();
    let known = known.map(|(i, of)| (format!("at_limit[{i}]"), of));
    let soon = lists.soon.iter().map(|l| (&l.lamp_class, l.limit_hours)).enumerate();
    for (field, (name, limit)) in known.chain(soon.map(|(i, of)| (format!("soon[{i}]"), of))) {
        match class_of(name) {
            None => c.need(&format!("{field}.lamp_class"), false, name, "the name of a class of the study"),
            Some(class) => c.equal(&format!("{field}.limit_hours"), limit, judged(class)),
        }
    }
    for (i, lamp) in lists.age_unknown.iter().enumerate() {
        if let (Some(limit), Some(class)) = (lamp.limit_hours, class_of(&lamp.lamp_class)) {
            c.equal(&format!("age_unknown[{i}].limit_hours"), limit, judged(class));
        }
    }
    let paces = Paces::of(results.season.as_ref(), results.study.as_of);
    for (i, lamp) in lists.soon.iter().enumerate() {
        let stock = |k: &ClassResult| k.stock.as_ref().map(|s| s.lead_time_days);
        let lead =
            class_of(&lamp.lamp_class).and_then(|k| stock(k).or(k.bounds.as_ref().map(|b| b.spares.lead_time_days)));
        c.inside(&format!("soon[{i}]"), |c| soon_agrees(c, lamp, &results.study, &paces, lead));
    }
}

/// What is expected of a lamp, from its last reading and its programme.
fn soon_agrees(c: &mut Checks, lamp: &SoonLamp, study: &Header, paces: &Paces, lead_days: Option<u32>) {
    let daily = lamp.programme_hours_per_week / 7.0;
    let days = (study.as_of - lamp.read_on).num_days().max(0) as f64;
    let pace = paces.of_screen(&lamp.site, &lamp.screen);
    let since = paces.days_since((&lamp.site, &lamp.screen), lamp.read_on, days);
    let visit = f64::from(study.visit_interval_days);
    let to_visit = pace.map_or(visit, |pace| pace.days_at(visit));
    c.equal("expected_hours_at_visit", lamp.expected_hours_at_visit, lamp.reading_hours + daily * (since + to_visit));
    let left = (lamp.limit_hours - lamp.reading_hours) / daily - since;
    let days = pace.map_or(left, |pace| pace.day_of(left));
    let whole = lamp.days_left >= 0 && lamp.days_left as f64 == days.floor();
    c.need("days_left", whole, lamp.days_left, format!("{} by programme", days.floor()));
    for (field, within, most) in [
        ("before_next_visit", lamp.before_next_visit, Some(visit)),
        ("within_lead_time", lamp.within_lead_time, lead_days.map(f64::from)),
    ] {
        let Some(most) = most else { continue };
        c.need(field, within == (days <= most), within, format!("{days} against {most}, days left"));
    }
    let any = lamp.before_next_visit || lamp.within_lead_time;
    c.need("before_next_visit", any, "neither", "before the next visit or within the lead time");
    if let Some(day) = lamp.stops_by {
        let first = day >= study.as_of && stops_first(day, study.as_of, lamp.days_left);
        c.need("stops_by", first, day, "from the as-of date to the day on which the limit is reached");
    }
}

impl Sound for LedgerSummary {
    fn check(&self, c: &mut Checks) {
        let sum = |parts: [u64; 3]| parts.iter().fold(0_u64, |sum, n| sum.saturating_add(*n));
        let whole = sum([self.used_count, self.merged_count, self.set_aside_count]);
        let told = format!("{whole}, used, merged and set aside together");
        c.need("rows_count", whole == self.rows_count, self.rows_count, told);
        c.need("reconciles", self.reconciles, self.reconciles, "rows that reconcile");
        self.warning_follows(c);
        c.once("by_file.file", self.by_file.iter().map(|f| &f.file));
        let found = self.by_rule.iter().fold(0_u64, |sum, r| sum.saturating_add(r.findings_count));
        let all = self.findings_count.unwrap_or(found);
        c.need("by_rule", found == all, found, format!("{all} findings in all"));
        for (i, f) in self.by_file.iter().enumerate() {
            c.words(&format!("by_file[{i}].file"), &f.file);
            let sum = sum([f.used_count, f.merged_count, f.set_aside_count]);
            c.need(&format!("by_file[{i}].rows_count"), sum == f.rows_count, f.rows_count, format!("{sum}"));
        }
        let files = |of: fn(&super::results::FileCount) -> u64| {
            self.by_file.iter().fold(0_u64, |sum, f| sum.saturating_add(of(f)))
        };
        for (field, got, expected) in [
            ("rows_count", self.rows_count, files(|f| f.rows_count)),
            ("used_count", self.used_count, files(|f| f.used_count)),
            ("merged_count", self.merged_count, files(|f| f.merged_count)),
            ("set_aside_count", self.set_aside_count, files(|f| f.set_aside_count)),
        ] {
            c.need(field, got == expected, got, format!("{expected}, all files together"));
        }
        c.once("by_rule", self.by_rule.iter().map(|r| (&r.rule, r.outcome)));
        let order = self.by_rule.is_sorted_by(|a, b| a.findings_count >= b.findings_count);
        c.need("by_rule", order, "another order", "the most frequent first");
        for (i, rule) in self.by_rule.iter().enumerate() {
            let shown = usize::try_from(rule.findings_count).map_or(FIRST_FINDINGS, |n| n.min(FIRST_FINDINGS));
            c.entries(&format!("by_rule[{i}].first"), rule.first.len(), shown);
            let named = known_rule(&rule.rule);
            c.need(&format!("by_rule[{i}].rule"), named, &rule.rule, "a name on the page of problems");
            c.parts(&format!("by_rule[{i}].first"), &rule.first);
            let own = rule.first.iter().all(|f| f.rule == rule.rule && f.outcome == rule.outcome);
            c.need(&format!("by_rule[{i}].first"), own, "another rule", &rule.rule);
        }
    }
}

impl LedgerSummary {
    /// The warning, put together from the counts and the findings about whole logs; where not all of these are shown,
    /// only whether there is one.
    fn warning_follows(&self, c: &mut Checks) {
        let of_rows = |rows, set_aside| Counts { rows, set_aside, ..Counts::default() };
        let about_logs = || self.by_rule.iter().filter(|r| WHOLE_LOG.contains(&r.rule.as_str()));
        let mut findings: Vec<Finding> = about_logs().flat_map(|r| r.first.iter().cloned()).collect();
        let rank = |f: &Finding| self.by_file.iter().position(|k| k.file == f.file);
        findings.sort_by(|a, b| (rank(a), &a.rule).cmp(&(rank(b), &b.rule)));
        let counts = of_rows(self.rows_count, self.set_aside_count);
        let by_file = self.by_file.iter().map(|f| (f.file.clone(), of_rows(f.rows_count, f.set_aside_count))).collect();
        let warning = Ledger { findings, counts, by_file }.warning();
        if about_logs().all(|r| r.first.len() as u64 == r.findings_count) {
            c.follows("warning", &self.warning, &warning);
        } else {
            let expected = "a warning where many rows were set aside or a log does not bear out its column map";
            c.there("warning", !self.warning.is_empty(), !warning.is_empty(), expected);
        }
    }
}

impl Sound for OverdueLists {
    fn check(&self, c: &mut Checks) {
        c.parts("at_limit", &self.at_limit);
        let order = self.at_limit.is_sorted_by(|a, b| a.over_hours >= b.over_hours);
        c.need("at_limit", order, "another order", "most hours over first");
        c.parts("soon", &self.soon);
        let order = self.soon.is_sorted_by(|a, b| a.days_left <= b.days_left);
        c.need("soon", order, "another order", "the soonest first");
        for (i, lamp) in self.age_unknown.iter().enumerate() {
            c.words(&format!("age_unknown[{i}].why"), &lamp.why);
            c.not_negative(&format!("age_unknown[{i}].reading_hours"), lamp.reading_hours);
        }
    }
}

/// Who a listed lamp is. Its place may be blank in a log of one screen.
fn who(c: &mut Checks, fields: [(&str, &str); 3]) {
    for (field, text) in fields {
        c.words(field, text);
    }
}

impl Sound for OverdueLamp {
    fn check(&self, c: &mut Checks) {
        who(c, [("lamp_class", &self.lamp_class), ("serial", &self.serial), ("file", &self.file)]);
        c.positive("limit_hours", self.limit_hours);
        c.ends("reading_hours", self.limit_hours, self.reading_hours);
        let over = self.reading_hours - self.limit_hours;
        c.need("over_hours", (self.over_hours - over).abs() <= 1e-5, self.over_hours, format!("{over}"));
    }
}

impl Sound for SoonLamp {
    fn check(&self, c: &mut Checks) {
        who(c, [("lamp_class", &self.lamp_class), ("serial", &self.serial), ("file", &self.file)]);
        c.age("reading_hours", self.reading_hours, self.limit_hours);
        let below = self.reading_hours < self.limit_hours;
        c.need("reading_hours", below, self.reading_hours, format!("below the limit of {} h", self.limit_hours));
        c.positive("programme_hours_per_week", self.programme_hours_per_week);
    }
}

impl Sound for Interval {
    fn check(&self, c: &mut Checks) {
        c.ends("high", self.low, self.high);
        c.level("level_probability", self.level_probability);
        c.words("method", &self.method);
    }
}
