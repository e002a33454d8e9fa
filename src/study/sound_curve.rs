//! What must hold of a saved curve of one class against what was seen of it: no step is missing, and the lamps at risk at
//! round ages lie between those of the steps.

use super::class_result::{ClassResult, CurveResult};
use super::describe::{CURVE_READING, round_ages};
use super::results::LedgerSummary;
use crate::base::figure::counted;
use crate::base::sound::Checks;

impl ClassResult {
    /// Whether these answers were saved before they held all that they hold now.
    pub(super) fn of_before(&self) -> bool {
        self.seen.oldest_at_risk_lamps_count == 0
    }
}

/// Whether a class has its curve, and every failure in it.
pub(super) fn curve_is_whole(c: &mut Checks, class: &ClassResult, ledger: &LedgerSummary) {
    let seen = &class.seen;
    let Some(curve) = &class.curve else {
        // Incidences are drawn from the same steps; without late entry every lamp under observation makes a curve.
        let drawn = class.causes.iter().any(|k| k.incidence_probability.is_some());
        let watched = seen.late_entry_count == 0 && seen.exposure_hours > 0.0;
        return c.there("curve", false, drawn || watched, "there with incidences, and where new lamps were watched");
    };
    c.follows("curve.interval_rows_count", &curve.interval_rows_count, &seen.interval_failures_count);
    for (i, point) in curve.points.iter().enumerate() {
        let (n, lamps) = (point.at_risk_count, seen.lamps_count);
        c.need(
            &format!("curve.points[{i}].at_risk_count"),
            n <= lamps,
            n,
            format!("at most {}", counted(lamps, "lamp")),
        );
    }
    let reading = if seen.interval_failures_count > 0 { CURVE_READING.as_str() } else { "" };
    c.follows("curve.interval_reading", &curve.interval_reading.as_str(), &reading);
    if curve.given_survival_to_hours == 0.0 {
        // A life that gives no row of the tally has a finding.
        let of_lives = ledger.by_rule.iter().filter(|r| r.rule.starts_with("lives."));
        let lost = of_lives.fold(0_u64, |sum, r| sum.saturating_add(r.findings_count));
        let failed = curve.points.iter().fold(0_u64, |sum, p| sum.saturating_add(p.failures_count));
        let least = seen.failures_count.saturating_sub(lost);
        c.need("curve.points", failed >= least, counted(failed, "failure"), format!("at least {least}, those seen"));
    }
    if !(curve.at_risk.is_empty() && class.of_before()) {
        // Each row of a life beyond its first may begin another stretch under observation.
        let again = ledger.used_count.saturating_sub(ledger.lives_count);
        at_risk_follows(c, curve, seen.lamps_count, seen.late_entry_count.saturating_add(again));
    }
}

/// Lamps at risk at round ages against those at the steps, where so many may have come under observation between two.
fn at_risk_follows(c: &mut Checks, curve: &CurveResult, lamps: u64, late: u64) {
    let ages = round_ages(curve.end_hours);
    c.need(
        "curve.at_risk",
        ages.eq(curve.at_risk.iter().map(|a| a.age_hours)),
        "other ages",
        "round ages up to the end of the curve",
    );
    for (i, at) in curve.at_risk.iter().enumerate() {
        let steps = curve.points.get(1..).unwrap_or_default();
        let next = steps.partition_point(|p| p.age_hours < at.age_hours);
        let here = steps.get(next);
        let (low, high) = match here {
            Some(step) if step.age_hours == at.age_hours => (step.at_risk_count, step.at_risk_count),
            _ => {
                let before = curve.points.get(next).filter(|p| p.age_hours < at.age_hours);
                let left =
                    before.map_or(lamps, |p| p.at_risk_count.saturating_sub(p.failures_count).saturating_add(late));
                (here.map_or(0, |step| step.at_risk_count.saturating_sub(late)), left.min(lamps))
            }
        };
        let got = at.at_risk_count;
        let field = format!("curve.at_risk[{i}].at_risk_count");
        c.need(&field, low <= got && got <= high, got, format!("{low} to {high}, by the steps of the curve"));
    }
}
