//! Charts over everything that is watched, with one bound for all, so that false alarms stay as rare as asked.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bound::Charts;
use super::chart::{A_YEAR, Chart, Rule, called, chart};
use super::expected::{ExpectedEndings, RunningLamp, Watched};
use super::month::Month;
use super::sawtooth::Sawtooth;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};

const FORMAT: Format = Format::new("watch", 1);

/// How charts are tuned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WatchOptions {
    /// The hazard ratio that charts tell soonest, 1.5 to 5.
    pub ratio: f64,
    /// False alarms expected in a year over all that is watched, at most; above 0 to 100.
    pub false_alarms_a_year: f64,
}

impl Default for WatchOptions {
    fn default() -> Self {
        Self { ratio: 2.0, false_alarms_a_year: 1.0 }
    }
}

/// How long until an alarm, whatever is watched.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DelayToAlarm {
    /// How many times as often failures come as expected.
    pub hazard_ratio: f64,
    /// Failures expected until the alarm, on average, if they came as expected.
    pub expected: f64,
    /// Failures seen until the alarm, on average.
    pub observed: f64,
}

/// A lamp that burns and belongs to what raised an alarm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SuspectLamp {
    /// What raised the alarm.
    pub by: Watched,
    /// Its name.
    pub name: String,
    /// The lamp.
    pub lamp: RunningLamp,
}

/// Everything that is watched, with its alarms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Watch {
    /// What was expected and seen.
    pub expected: ExpectedEndings,
    /// How the charts are tuned.
    pub options: WatchOptions,
    /// The sum at which a chart raises an alarm.
    pub bound: f64,
    /// Failures expected in the twelve months in which most were, over all charts.
    pub busiest_year_expected: f64,
    /// False alarms in a year over all charts: the mean is at most this where the models hold, by playing the charts.
    pub false_alarms_a_year: f64,
    /// How long until an alarm at two and at three times the hazard.
    pub delays: Vec<DelayToAlarm>,
    /// One for each name that had a lamp, in order of what is watched and name.
    pub charts: Vec<Chart>,
    /// The lamps that burn of each name that raised an alarm, however long ago, but for the fleet.
    pub suspects: Vec<SuspectLamp>,
    /// What to know when reading it.
    pub notes: Vec<String>,
}

impl Watch {
    /// The chart of a name; that of the fleet has an empty one.
    #[must_use]
    pub fn chart(&self, by: Watched, name: &str) -> Option<&Chart> {
        self.charts.iter().find(|c| c.by == by && c.name == name)
    }

    /// The saved form.
    ///
    /// # Errors
    /// Those of [`saved::save`].
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// Reads the saved form back.
    ///
    /// # Errors
    /// Those of [`saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}

impl Sound for Watch {
    fn check(&self, c: &mut Checks) {
        c.part("expected", &self.expected);
        let again = match watch(&self.expected, &self.options, &Run::new()) {
            Ok(again) => again,
            Err(error) => return c.need("options", false, error.to_string(), "options that give a watch"),
        };
        let follows = "what follows from `expected` and `options`";
        c.equal("bound", self.bound, again.bound);
        c.equal("busiest_year_expected", self.busiest_year_expected, again.busiest_year_expected);
        c.equal("false_alarms_a_year", self.false_alarms_a_year, again.false_alarms_a_year);
        c.need("delays", self.delays == again.delays, "others", follows);
        c.entries("charts", self.charts.len(), again.charts.len());
        for (i, (got, expected)) in self.charts.iter().zip(&again.charts).enumerate() {
            c.need(&format!("charts[{i}]"), got == expected, called(got.by, &got.name), follows);
        }
        c.need("suspects", self.suspects == again.suspects, "others", follows);
        c.need("notes", self.notes == again.notes, "others", follows);
    }
}

/// Failures of the fleet below which expected ones, which rest on a model of them, are rough. Our choice, without a source.
const FEW_FAILURES: u64 = 30;

/// Names that a note lists.
const MOST_NAMED: usize = 5;

/// Watches failures as they come, against those expected at the lamps' ages.
///
/// # Formula
/// ```text
/// sum after a month = max(0, sum before + failures x ln(ratio) - (ratio - 1) x expected failures)
/// alarm when sum >= bound; the sum then starts again at 0
/// ```
/// The sum is the logarithm of the likelihood ratio of a hazard `ratio` times the model's against the model, over the months
/// that speak most for it. Counted in expected failures, failures come as a Poisson process at rate 1 whatever the ages and
/// whatever else removes lamps, so one bound serves every chart, and the mean number of expected failures until an alarm is
/// exact ([`Watch::delays`]; a look once a month instead of at every failure adds half a month). For charts without a
/// beginning it also gives the bound. Real ones begin at 0 and end after a few expected failures, so they alarm more seldom:
/// the bound is lowered as far as charts played with the same expected failures in the same months, with a margin of two
/// standard errors, raise at most `false_alarms_a_year` in the twelve months in a row that have most.
///
/// # Errors
/// `watch.ratio`, `watch.false_alarms` for options out of range; `watch.nothing_expected` where the models expect no failure.
///
/// # Source
/// E. S. Page (1954), Continuous inspection schemes, Biometrika 41, 100-115; J. M. Lucas (1985), Counted data CUSUM's,
/// Technometrics 27, 129-144. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::watch::{ExpectedEndings, WatchOptions, Watched, WatchedMonth, watch};
/// let month = |month: &str, observed| WatchedMonth {
///     by: Watched::Batch, name: "B-12".into(), month: month.parse().unwrap(), hours: 9000.0, expected: 0.8, observed,
/// };
/// let expected = ExpectedEndings {
///     by: vec![Watched::Batch], failure_endings: Vec::new(), models: Default::default(), running: Vec::new(),
///     months: vec![month("2025-01", 1), month("2025-02", 2), month("2025-03", 5)], notes: Vec::new(),
/// };
/// let watch = watch(&expected, &WatchOptions::default(), &Run::new())?;
/// let alarm = &watch.chart(Watched::Batch, "B-12").unwrap().alarms[0];
/// assert_eq!(alarm.sentence, "batch B-12: 7 failures from 2025-02 to 2025-03 where 1.6 were expected");
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn watch(expected: &ExpectedEndings, options: &WatchOptions, run: &Run) -> Result<Watch> {
    check(options)?;
    let span = (expected.months.iter().map(|m| m.month).min(), expected.months.iter().map(|m| m.month).max());
    let nothing = || {
        let problem =
            Problem::new("watch.nothing_expected", "the models expect no failure").at(Place::input("expected"));
        Error::new(Kind::Refused, problem.expected("lamps at ages at which their models have a hazard"))
    };
    let (Some(first), Some(last)) = span else { return Err(nothing()) };
    let played = Charts::new(&expected.months, first, last);
    let busiest = played.busiest_year(&played.expected());
    // No expected failure is NaN, so the sum is none.
    if busiest <= 0.0 {
        return Err(nothing());
    }
    let found = played.bound(options.ratio, options.false_alarms_a_year, run)?;
    let until =
        |rate: f64| Sawtooth { fall: options.ratio - 1.0, step: options.ratio.ln(), rate }.mean_time(found.bound);
    let mut delays = Vec::new();
    for hazard_ratio in [2.0, 3.0] {
        let time = until(hazard_ratio)?;
        delays.push(DelayToAlarm { hazard_ratio, expected: time, observed: hazard_ratio * time });
    }
    let delay = |i: usize| delays.get(i).map_or(f64::INFINITY, |d| d.expected);
    let rule = Rule { ratio: options.ratio, bound: found.bound, delay: [delay(0), delay(1)], last };
    let mut charts = Vec::new();
    for months in expected.months.chunk_by(|a, b| (a.by, &a.name) == (b.by, &b.name)) {
        charts.extend(chart(months, rule)?);
    }
    let mut suspects = Vec::new();
    for chart in charts.iter().filter(|c| c.by != Watched::Fleet && !c.alarms.is_empty()) {
        let own = |lamp: &&RunningLamp| lamp.name(chart.by).as_ref() == Some(&chart.name);
        let each = expected.running.iter().filter(own);
        suspects.extend(each.map(|lamp| SuspectLamp { by: chart.by, name: chart.name.clone(), lamp: lamp.clone() }));
    }
    Ok(Watch {
        notes: notes(expected, &charts, &suspects, last),
        expected: expected.clone(),
        options: *options,
        bound: found.bound,
        busiest_year_expected: busiest,
        false_alarms_a_year: found.false_alarms_a_year,
        delays,
        charts,
        suspects,
    })
}

fn check(options: &WatchOptions) -> Result<()> {
    let mut problems = Vec::new();
    if !(1.5..=5.0).contains(&options.ratio) {
        let problem = Problem::new("watch.ratio", "charts cannot be tuned to this hazard ratio");
        problems.push(problem.at(Place::input("ratio")).got(options.ratio).expected("1.5 to 5"));
    }
    let rate = options.false_alarms_a_year;
    if !(rate > 0.0 && rate <= 100.0) {
        let problem = Problem::new("watch.false_alarms", "not a number of false alarms a year");
        problems.push(problem.at(Place::input("false_alarms_a_year")).got(rate).expected("above 0, at most 100"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

fn notes(expected: &ExpectedEndings, charts: &[Chart], suspects: &[SuspectLamp], last: Month) -> Vec<String> {
    let mut notes = expected.notes.clone();
    let mut by_kind = BTreeMap::<Watched, u64>::new();
    for m in &expected.months {
        *by_kind.entry(m.by).or_default() += m.observed;
    }
    if let Some(&most) = by_kind.values().max()
        && most < FEW_FAILURES
    {
        notes.push(format!("{} only: what is expected rests on a rough model", counted(most, "failure")));
    }
    let alarms: u64 = charts.iter().map(|c| c.alarms.len() as u64).sum();
    if alarms > 0 {
        notes.push(
            "an alarm is told because failures were many, so its ratio overstates how bad things are; look at the lamps \
             before acting"
                .to_owned(),
        );
    }
    // Lamps that burn today say little of an alarm of years ago, unless they are of the same batch.
    let old = charts.iter().filter_map(|c| {
        let month = c.alarms.last()?.month;
        let listed = suspects.iter().any(|s| s.by == c.by && s.name == c.name);
        (listed && month.months_until(last) >= A_YEAR).then(|| format!("{} ({month})", called(c.by, &c.name)))
    });
    let old: Vec<String> = old.collect();
    if !old.is_empty() {
        let shown = old.iter().take(MOST_NAMED).cloned().collect::<Vec<_>>().join(", ");
        let more = old.len().saturating_sub(MOST_NAMED) as u64;
        let more = if more > 0 { format!(" and {}", counted(more, "other")) } else { String::new() };
        notes.push(format!(
            "burning lamps are listed for an alarm of a year ago or more too, and may be none of those that raised it: {shown}{more}"
        ));
    }
    notes
}
