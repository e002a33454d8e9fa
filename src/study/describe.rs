//! What the records hold of one class, before any family: counts, the curve, the causes.

use super::class_result::{AtRisk, CauseResult, CurvePoint, CurveResult, EndingCount, PastLimit, Seen};
use super::declare_class::LampClass;
use crate::base::error::Result;
use crate::base::math::count_bounds::count_upper;
use crate::empirical::{Curve, CurveOptions, incidence};
use crate::lives::{Reading, Tally};
use crate::records::{Ending, LifeRecord};

/// The reading of failures known to an interval, for the curve and the incidences; fits use the interval itself.
pub(super) const CURVE_READING: Reading = Reading::Midpoint;

/// Counts of the lives of a class.
pub(super) fn seen(
    lives: &[LifeRecord<'_>],
    tally: Option<&Tally>,
    failures: &[Ending],
    judged_limit_hours: f64,
) -> Seen {
    let count = |wanted: &dyn Fn(&LifeRecord<'_>) -> bool| lives.iter().filter(|l| wanted(l)).count() as u64;
    let failed = |l: &LifeRecord<'_>| failures.contains(&l.ending);
    Seen {
        lamps_count: lives.len() as u64,
        failures_count: count(&failed),
        interval_failures_count: tally.map_or(0, Tally::interval_failures),
        running_count: count(&|l| l.ending == Ending::Running),
        late_entry_count: count(&|l| l.entry_hours() > 0.0),
        endings: Ending::ALL
            .into_iter()
            .map(|ending| EndingCount { ending, lives_count: count(&|l| l.ending == ending) })
            .filter(|e| e.lives_count > 0)
            .collect(),
        exposure_hours: tally.map_or(0.0, Tally::exposure_hours),
        oldest_at_risk_hours: tally.and_then(Tally::oldest_at_risk).unwrap_or(0.0),
        oldest_at_risk_lamps_count: tally.map_or(0, Tally::oldest_at_risk_count),
        past_limit: past_limit(lives.iter().map(|l| (l.end_hours, l.ending == Ending::Running)), judged_limit_hours),
    }
}

/// Ages past the limit, from each life's age and whether it burns; none where no age lies past it.
pub(super) fn past_limit(ages: impl Iterator<Item = (f64, bool)>, limit_hours: f64) -> Option<PastLimit> {
    let mut found = PastLimit { limit_hours, lamps_count: 0, running_count: 0, oldest_hours: 0.0 };
    for (age, burns) in ages.filter(|(age, _)| *age > limit_hours) {
        found.lamps_count += 1;
        found.running_count += u64::from(burns);
        found.oldest_hours = found.oldest_hours.max(age);
    }
    (found.lamps_count > 0).then_some(found)
}

/// Round ages from 0 to an age: multiples of half a power of ten, at least twenty of them where the age is that long.
pub(super) fn round_ages(last: f64) -> impl Iterator<Item = f64> {
    let step = 0.5 * 10.0_f64.powf((last / 10.0).max(1.0).log10().floor());
    (0..=(last / step).floor() as u64).map(move |i| step * i as f64)
}

/// The curve as results carry it: its start, then one point for each step, then its end; and the lamps at risk beside it.
pub(super) fn curve_result(curve: &Curve, tally: &Tally) -> CurveResult {
    let start = curve.conditional_from();
    let mut points = vec![CurvePoint {
        age_hours: start,
        // Not the number at the first step: lamps leave before it, and there may be no step at all.
        at_risk_count: tally.at_risk_after(start),
        failures_count: 0,
        reliability_probability: 1.0,
        low_probability: None,
        high_probability: None,
    }];
    let columns = curve.ages().iter().zip(curve.at_risk()).zip(curve.failures()).zip(curve.reliability());
    for ((((&age_hours, &at_risk_count), &failures_count), &reliability_probability), band) in columns.zip(curve.band())
    {
        points.push(CurvePoint {
            age_hours,
            at_risk_count,
            failures_count,
            reliability_probability,
            low_probability: band.map(|b| b.0),
            high_probability: band.map(|b| b.1),
        });
    }
    CurveResult {
        interval_reading: curve.reading().map_or_else(String::new, |r| r.as_str().to_owned()),
        interval_rows_count: curve.interval_failures(),
        given_survival_to_hours: start,
        end_hours: curve.last_age(),
        points,
        at_risk: round_ages(curve.last_age())
            .filter_map(|age_hours| Some(AtRisk { age_hours, at_risk_count: curve.at_risk_at(age_hours)? }))
            .collect(),
        level_probability: curve.level(),
        band_method: "log-log, at one age at a time".to_owned(),
        notes: curve.notes().iter().map(|n| n.sentence.clone()).collect(),
    }
}

/// Every ending that counts as a failure, with its incidence by the limit, or by the end of the curve if earlier.
pub(super) fn causes(
    tally: Option<&Tally>,
    lives: &[LifeRecord<'_>],
    class: &LampClass,
    failures: &[Ending],
    options: &CurveOptions,
) -> Result<Vec<CauseResult>> {
    let incidences = tally.and_then(|t| incidence(t, options).ok());
    let age = incidences.as_ref().map(|i| i.last_age.min(class.limit.hours()));
    let all = lives.iter().filter(|l| failures.contains(&l.ending)).count() as u64;
    let exposure = tally.map_or(0.0, Tally::exposure_hours);
    let each = failures.iter().map(|&ending| {
        let n = lives.iter().filter(|l| l.ending == ending).count() as u64;
        let at = age.zip(incidences.as_ref());
        // A cause that was never met has no entry of its own; where the curve reaches, its incidence is 0.
        let found = at.and_then(|(a, i)| {
            let reaches = a >= i.conditional_from && a <= i.last_age;
            i.incidence_at(ending, a).or_else(|| (reaches && n == 0).then_some(0.0))
        });
        Ok(CauseResult {
            ending,
            failures_count: n,
            share_probability: (all > 0).then(|| n as f64 / all as f64),
            incidence_probability: found,
            incidence_age_hours: found.and(age),
            per_1000_hours: (exposure > 0.0).then(|| 1000.0 * n as f64 / exposure),
            per_1000_hours_high: if exposure > 0.0 { Some(1000.0 * count_upper(n, 0.95)? / exposure) } else { None },
        })
    });
    each.collect()
}
