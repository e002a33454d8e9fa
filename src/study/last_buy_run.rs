//! The last buy of a class: its burning lamps with the days on which their screens stop.

use chrono::NaiveDate;

use super::class_run::{ClassRun, or_refusal};
use super::decide::day_after;
use super::declare_class::LampClass;
use super::declare_ending::Stop;
use super::last_buy_result::{BuyProgramme, LastBuyResult, LastBuysResult, StoppingLamps};
use super::open::Study;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;
use crate::demand::Count;
use crate::stock::{
    ConvertingScreen, DayChance, EarlierConversion, LastBuyTerms, convert_earlier, last_buys_over_draws,
};

/// What one class adds to the page of last buys.
pub(super) type OfClass = (Option<StoppingLamps>, Option<LastBuyResult>);

impl Study {
    /// Lamps of a class that stop burning, and its last buy.
    pub(super) fn class_ending(&self, class: &LampClass, made: &ClassRun, run: &Run) -> Result<OfClass> {
        let declared = &self.declaration;
        let stops: Vec<Option<&Stop>> = made.burning.iter().map(|b| b.stop.as_ref()).collect();
        let stopping = StoppingLamps::of(&class.name, stops.len() as u64, stops.iter().copied().flatten());
        let Some(plan) = declared.last_buys.iter().find(|b| b.class == class.name) else { return Ok((stopping, None)) };
        let mut result = LastBuyResult::empty(plan, class);
        if let Err(reason) = or_refusal(self.filled(&mut result, class, made, &stops, run))? {
            result = LastBuyResult { refusal: Some(reason), ..LastBuyResult::empty(plan, class) };
        }
        Ok((stopping, Some(result)))
    }

    fn filled(
        &self,
        result: &mut LastBuyResult,
        class: &LampClass,
        made: &ClassRun,
        stops: &[Option<&Stop>],
        run: &Run,
    ) -> Result<()> {
        let declared = &self.declaration;
        let plan = declared.last_buys.iter().find(|b| b.class == class.name);
        let (Some(plan), Some(rule)) = (plan, result.rule()) else { return Ok(()) };
        if !made.result.needs_not_known.is_empty() || made.burning.is_empty() {
            return Err(refused("study.no_burning_lamp", "no lamp of this class burns in these logs"));
        }
        let Some(draws) = &made.draws else {
            let why = "no model of this class carries a forecast of the lamps needed";
            return Err(refused("study.no_fit", why));
        };
        let days = |day: NaiveDate| (day - declared.as_of).num_days() as f64;
        let last = || stops.iter().copied().collect::<Option<Vec<&Stop>>>()?.into_iter().map(|s| s.latest).max();
        let Some(until) = plan.needed_until.or_else(last) else {
            let why = "until when lamps are needed is not told: not every burning lamp stands in a screen that is \
                       declared to stop, and needed_until is not declared";
            return Err(refused("study.last_buy_end", why));
        };
        if until <= declared.as_of {
            let why = "every burning lamp stands in a screen that stops on the as-of date, so that no lamp is needed from then on";
            return Err(refused("study.last_buy_end", why));
        }
        if until < plan.last_order_on {
            let why = format!(
                "the last screen stops on {until}, before the last day for orders, {}: no lamp ordered on it would be needed",
                plan.last_order_on
            );
            return Err(refused("study.last_buy_end", &why));
        }
        let comes_on = day_after(declared.as_of, class.lead_time_days);
        let gone = || made.burning.iter().all(|b| !b.until(declared.as_of).burns_from(f64::from(class.lead_time_days)));
        if until <= comes_on || gone() {
            let end = if until <= comes_on { until } else { last().unwrap_or(until) };
            let why = format!(
                "a lamp ordered today comes on {comes_on}, and none is needed after {end}: what is missing until then only a \
                 faster delivery can bring"
            );
            return Err(refused("study.last_buy_end", &why));
        }
        result.needed_until = Some(until);
        result.on_order_later = class.later_until(until);
        let terms = LastBuyTerms {
            on_hand: result.there(),
            used_lamps: result.used_lamps.clone(),
            reuse: plan.reuse,
            shelf_loss_per_year: plan.shelf_loss_per_year,
            seed: declared.seed,
            ..LastBuyTerms::new(days(until), made.result.advised_age_hours, rule)
        };
        let screens = |conversion: &dyn Fn(&Stop) -> Vec<DayChance>| -> Vec<ConvertingScreen> {
            let each = made.burning.iter().zip(stops);
            let each = each.map(|(b, stop)| ConvertingScreen {
                socket: b.socket.clone(),
                conversion: stop.map(conversion).unwrap_or_default(),
            });
            each.collect()
        };
        let paces: Vec<_> = made.burning.iter().map(|b| b.pace.as_deref()).collect();
        let as_declared = screens(&|stop| {
            let days = stop.days(declared.as_of).into_iter();
            days.map(|(day, chance)| DayChance { day, chance }).collect()
        });
        // What an order of today serves: those screens that may still burn when it comes.
        let lead = f64::from(class.lead_time_days);
        let served = |screens: &[ConvertingScreen], terms: &LastBuyTerms| -> Result<Option<Count>> {
            let left = screens.iter().zip(&paces).filter(|(s, _)| s.burns_from(lead));
            let (left, paces): (Vec<ConvertingScreen>, Vec<_>) = left.map(|(s, p)| (s.clone(), *p)).unzip();
            if left.len() == screens.len() {
                return Ok(None);
            }
            let found = last_buys_over_draws(&[&left], &paces, draws.as_ref(), &class.limit, terms, run)?.pop();
            Ok(found.map(|found| found.needed))
        };
        let mut programmes = vec![(BuyProgramme::Declared, as_declared.clone())];
        let mut late = None;
        if stops.iter().any(Option::is_some) {
            programmes.push((BuyProgramme::NoStop, screens(&|_| Vec::new())));
            let by = f64::from(plan.late_by_days);
            let screens = screens(&|stop| vec![DayChance { day: days(stop.latest) + by, chance: 1.0 }]);
            // An end that is that of the stops is late with them.
            let end_days = if plan.needed_until.is_none() { terms.end_days + by } else { terms.end_days };
            let terms = LastBuyTerms { end_days, ..terms.clone() };
            let found = last_buys_over_draws(&[&screens], &paces, draws.as_ref(), &class.limit, &terms, run)?.pop();
            late = found.map(|found| Ok::<_, Error>((found, served(&screens, &terms)?))).transpose()?;
        }
        let (mut earlier, mut moved) = (as_declared, 0);
        let mut sooner: Vec<NaiveDate> = stops.iter().flatten().filter_map(|s| s.earlier_on).collect();
        sooner.sort_unstable();
        sooner.dedup();
        for day in sooner {
            let on = |stop: Option<&Stop>| stop.is_some_and(|s| s.earlier_on == Some(day));
            let rows: Vec<usize> = (0..stops.len()).filter(|i| on(stops.get(*i).copied().flatten())).collect();
            moved += rows.len();
            earlier = convert_earlier(&earlier, &rows, days(day))?;
        }
        if moved > 0 {
            programmes.push((BuyProgramme::Earlier, earlier));
        }
        let fleets: Vec<&[ConvertingScreen]> = programmes.iter().map(|p| p.1.as_slice()).collect();
        let found = last_buys_over_draws(&fleets, &paces, draws.as_ref(), &class.limit, &terms, run)?;
        let Some(now) = found.first() else { return Ok(()) };
        if let Some(then) = found.last().filter(|_| moved > 0) {
            result.earlier = Some(EarlierConversion::between(now, then, moved)?);
        }
        result.curve = now.curve();
        for ((programme, screens), found) in programmes.iter().zip(found) {
            let scenario = result.scenario(*programme, found, served(screens, &terms)?);
            result.scenarios.push(scenario);
        }
        if let Some((late, served)) = late {
            let scenario = result.scenario(BuyProgramme::Late, late, served);
            // After the programme that no stop comes in, before that of the earlier days.
            result.scenarios.insert(result.scenarios.len().min(2), scenario);
        }
        result.sentence = result.said();
        Ok(())
    }

    /// The page of last buys; none where neither a stop nor a last buy is declared.
    pub(super) fn last_buys(&self, classes: Vec<OfClass>) -> Option<LastBuysResult> {
        let declared = &self.declaration;
        if declared.stops.is_empty() && declared.last_buys.is_empty() {
            return None;
        }
        let (stopping, mut buys): (Vec<_>, Vec<_>) = classes.into_iter().unzip();
        let place = |b: &LastBuyResult| declared.last_buys.iter().position(|p| p.class == b.lamp_class);
        buys.sort_by_key(|b: &Option<LastBuyResult>| b.as_ref().and_then(place));
        Some(LastBuysResult {
            stopping: stopping.into_iter().flatten().collect(),
            buys: buys.into_iter().flatten().collect(),
        })
    }
}

fn refused(slug: &'static str, why: &str) -> Error {
    Error::new(Kind::Refused, Problem::new(slug, why))
}
