//! The number of changes of a screen whose clock runs unevenly, in each period.

use super::forecast::Horizon;
use super::renewal::Renewal;
use super::socket::Changes;
use super::stopping::{Ends, SocketUntil, add};
use super::until::Screen;
use crate::base::error::Result;
use crate::policy::WorldCurve;

/// The grid shared by screens of the same ordinary hours, in steps of ordinary days as long as those of an even clock.
///
/// The end of a period lies between two steps. Every figure is the mean over both, with the weights that keep its place;
/// both ends of a period are rounded together, so that its length differs from its own by less than a step.
#[derive(Debug)]
pub(super) struct PacedGrid {
    renewal: Renewal,
    changes_at: Vec<f64>,
    step_hours: f64,
    steps: usize,
    steps_per_day: f64,
}

impl PacedGrid {
    /// A grid that reaches to the end of the horizon on the fastest of some clocks.
    pub(super) fn new(
        curve: &mut WorldCurve<'_>,
        planned_age: f64,
        hours_per_week: f64,
        (horizon, steps_a_period): (Horizon, usize),
        screens: &[&SocketUntil],
    ) -> Result<Self> {
        let steps_per_day = steps_a_period as f64 / horizon.period_days;
        let last = horizon.period_days * horizon.periods as f64;
        let most = screens.iter().map(|s| s.ordinary(last)).fold(0.0, f64::max);
        let steps = ((most * steps_per_day).ceil() as usize).max(1);
        let step_hours = hours_per_week / 7.0 / steps_per_day;
        let renewal = Renewal::new(curve, planned_age, step_hours, steps)?;
        let changes_at = renewal.changes_at();
        Ok(Self { renewal, changes_at, step_hours, steps, steps_per_day })
    }

    /// The changes of a screen whose lamp of age `age`, below the planned age, burns now.
    pub(super) fn changes(
        &self,
        curve: &WorldCurve<'_>,
        (age, planned_age): (f64, f64),
        until: &SocketUntil,
        horizon: Horizon,
    ) -> Changes {
        let screen = Screen::new(curve, &self.renewal, age, planned_age, self.step_hours, self.steps);
        let density = screen.failures_and_after(&self.changes_at);
        let ends = Ends::new(&until.ordinary_stops(), self.steps_per_day, self.steps);
        let end = |m: usize| self.steps_per_day * until.ordinary(horizon.period_days * m as f64);
        let mut changes = Changes::default();
        for m in 0..horizon.periods {
            let (from, to) = (end(m), end(m + 1));
            let (mut in_period, mut by_end, mut means) = (Vec::new(), Vec::new(), (0.0, 0.0));
            for (from, to, weight) in pieces(from, to) {
                let (before, burns) = ends.before(to);
                let within = before.iter().filter(|e| e.0 > from).copied();
                let within: Vec<(usize, f64)> = within.chain([(to, burns)]).collect();
                let tos: Vec<usize> = within.iter().map(|e| e.0).collect();
                for ((_, chance), inside) in within.iter().zip(screen.inside(&density, &self.changes_at, from, &tos)) {
                    add(&mut in_period, weight * chance, &inside);
                }
            }
            for (_, to, weight) in pieces(to, to) {
                add(&mut by_end, weight, &ends.at_least_by(to, |step| screen.at_least_by(step)));
                let (before, burns) = ends.before(to);
                for (step, chance) in before.iter().copied().chain([(to, burns)]) {
                    let (planned, failed) = screen.means_by(step);
                    means.0 += weight * chance * planned;
                    means.1 += weight * chance * failed;
                }
            }
            changes.in_period.push(in_period);
            changes.by_end.push(by_end);
            changes.means.push(means);
        }
        changes
    }
}

/// Two places as whole steps, with the chance of each pair: a place is rounded up as often as it lies above a step, both by the
/// same number drawn evenly.
fn pieces(from: f64, to: f64) -> Vec<(usize, usize, f64)> {
    let parts = (from - from.floor(), to - to.floor());
    let (low, high) = (parts.0.min(parts.1), parts.0.max(parts.1));
    let at = |place: f64, up: bool| place as usize + usize::from(up);
    let each = [
        (at(from, true), at(to, true), low),
        (at(from, parts.0 > low), at(to, parts.1 > low), high - low),
        (at(from, false), at(to, false), 1.0 - high),
    ];
    each.into_iter().filter(|e| e.2 > 0.0).collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::sync::Arc;

    use chrono::NaiveDate;

    use super::*;
    use crate::base::run::Run;
    use crate::demand::{
        Calendar, ClassModel, ClassPlan, Forecast, Pace, Programme, Screen as ChainScreen, SocketToday, SpanOfDays,
        StopDate, Where, chain_forecast, forecast_until, planned_changes_until,
    };
    use crate::family::Weibull;
    use crate::fit::{CauseLife, World};
    use crate::records::Ending;
    use crate::terms::{Costs, HourLimit, PrintedHours};

    fn day(year: i32, month: u32, day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(year, month, day).unwrap()
    }

    fn world() -> World {
        let causes = vec![CauseLife {
            endings: vec![(Ending::Burst, 1.0)],
            life: Box::new(Weibull { shape: 2.5, scale: 1400.0 }),
        }];
        World { causes, costs: Costs::new(1.0, [(Ending::Burst, 5.0)]).unwrap() }
    }

    fn limit() -> HourLimit {
        let printed =
            PrintedHours { maximum_hours: Some(1000.0), source: "invented".into(), ..PrintedHours::default() };
        printed.limit().unwrap()
    }

    /// A busy summer with a holiday, a house that closes for ten days of August, and growth.
    fn programme() -> Programme {
        let mut by_month = [1.0; 12];
        (by_month[6], by_month[7]) = (1.3, 0.6);
        let holiday = SpanOfDays { from: day(2026, 7, 20), to: day(2026, 8, 3), factor: 1.2 };
        let shut = SpanOfDays::closed(day(2026, 8, 11), day(2026, 8, 20));
        Programme { by_month, spans: vec![holiday, shut], growth_per_year: 0.1 }
    }

    const AGES: [Option<f64>; 6] = [Some(100.0), Some(850.0), Some(640.0), Some(930.0), Some(1200.0), None];

    fn ahead(pace: Option<&Arc<Pace>>, hours_per_week: f64, stops: &[(f64, f64)], months: usize) -> Forecast {
        let lamp = |age_hours: &Option<f64>| SocketUntil {
            socket: SocketToday { age_hours: *age_hours, hours_per_week },
            stops: stops.to_vec(),
            earliest: stops.first().map_or(f64::INFINITY, |s| s.0),
            pace: pace.cloned(),
        };
        let lamps: Vec<SocketUntil> = AGES.iter().map(lamp).collect();
        // July and August have 31 days each.
        forecast_until(&lamps, &world(), 1000.0, &limit(), Horizon { period_days: 31.0, periods: months }).unwrap()
    }

    /// The forecast of a chain by calendar months works on tables of its own, by another method.
    #[test]
    fn months_agree_with_the_chain_forecast_by_its_calendar() {
        let as_of = day(2026, 7, 1);
        let pace = Some(Arc::new(Pace::new(1, programme(), as_of)));
        for stop in [None, Some(StopDate::On(day(2026, 8, 8)))] {
            let stops: Vec<(f64, f64)> = stop.iter().map(|_| (38.0, 1.0)).collect();
            let found = ahead(pace.as_ref(), 84.0, &stops, 2);
            let screen = |age: &Option<f64>| ChainScreen {
                programme: Some("p".to_owned()),
                stop: stop.clone(),
                ..ChainScreen::new("X", "north", *age, 84.0)
            };
            let screens: Vec<ChainScreen> = AGES.iter().map(screen).collect();
            let world = world();
            let limit = limit();
            let plan =
                ClassPlan { class: "X", model: ClassModel::World(&world), planned_age_hours: 1000.0, limit: &limit };
            let programmes = BTreeMap::from([("p".to_owned(), programme())]);
            let calendar = Calendar::new(as_of, 2).unwrap();
            let chain = chain_forecast(&screens, &[plan], &calendar, &programmes, None, &Run::new()).unwrap();
            let chain = chain.at("X", &Where::Chain).unwrap();
            for (m, (period, month)) in found.periods.iter().zip(&chain.months).enumerate() {
                let mean = period.needed.mean();
                assert!((mean - month.needed.mean()).abs() < 1e-3, "{m} {mean} {}", month.needed.mean());
                assert!((period.mean_planned - month.planned.mean()).abs() < 1e-3, "{m}");
                for n in 0..12 {
                    let (a, b) = (period.needed.at_most(n), month.needed.at_most(n));
                    assert!((a - b).abs() < 2e-3, "{m} {n}: {a} {b}");
                }
            }
            let (last, whole) = (found.periods.last().unwrap(), &chain.whole);
            for n in 0..12 {
                let (a, b) = (last.needed_by_end.at_most(n), whole.needed.at_most(n));
                assert!((a - b).abs() < 2e-3, "{n}: {a} {b}");
            }
        }
    }

    #[test]
    fn a_pace_of_one_is_the_even_clock() {
        let even = Some(Arc::new(Pace::new(1, Programme::default(), day(2026, 7, 1))));
        for stops in [&[][..], &[(12.25, 0.25), (40.0, 0.5)]] {
            let (plain, paced) = (ahead(None, 84.0, stops, 4), ahead(even.as_ref(), 84.0, stops, 4));
            for (a, b) in plain.periods.iter().zip(&paced.periods) {
                for n in 0..15 {
                    assert!((a.needed.at_most(n) - b.needed.at_most(n)).abs() < 1e-11, "{n}");
                    assert!((a.needed_by_end.at_most(n) - b.needed_by_end.at_most(n)).abs() < 1e-11, "{n}");
                }
                assert!((a.mean_planned - b.mean_planned).abs() < 1e-11);
                assert!((a.mean_failures - b.mean_failures).abs() < 1e-11);
            }
        }
    }

    #[test]
    fn both_ends_of_a_period_are_rounded_together() {
        assert_eq!(pieces(3.0, 7.0), [(3, 7, 1.0)]);
        assert_eq!(pieces(3.25, 7.25), [(4, 8, 0.25), (3, 7, 0.75)]);
        assert_eq!(pieces(3.5, 7.25), [(4, 8, 0.25), (4, 7, 0.25), (3, 7, 0.5)]);
        // A closed month.
        assert_eq!(pieces(3.5, 3.5), [(4, 4, 0.5), (3, 3, 0.5)]);
    }

    #[test]
    fn planned_changes_follow_the_calendar() {
        // 12 h a day; shut for the first ten days: the lamp of 880 h is due on day 20.
        let as_of = day(2026, 7, 1);
        let spans = vec![SpanOfDays::closed(as_of, day(2026, 7, 10))];
        let pace = Some(Arc::new(Pace::new(1, Programme { spans, ..Programme::default() }, as_of)));
        let socket = SocketToday { age_hours: Some(880.0), hours_per_week: 84.0 };
        let lamp = [SocketUntil { socket, stops: Vec::new(), earliest: f64::INFINITY, pace }];
        let by = |days: f64| {
            let found = planned_changes_until(&lamp, 1000.0, &limit(), Horizon::days(days)).unwrap();
            found[0].changes_by_end
        };
        assert_eq!((by(10.0), by(19.9), by(20.0)), (0, 0, 1));
    }
}
