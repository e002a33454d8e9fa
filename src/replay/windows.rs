//! Predictions of failures, window by window, each from what was known before it, and whether they held.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use super::evenness::evenness;
use super::history::{Told, known_on, of_class, span};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short};
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::demand::{Count, LampsAtAge, failures_ahead};
use crate::family::family;
use crate::fit::{FitOptions, Note, bootstrap};
use crate::lives::Tally;
use crate::records::{Ending, Lives, Spells};

/// Windows below which evenness says little. Our choice, without a source.
const FEW_WINDOWS: usize = 10;
/// Chance below which values are called uneven. Our choice; one sound model in twenty is called so.
const UNEVEN: f64 = 0.05;
/// Longest history in windows.
const MOST_WINDOWS: i64 = 2_000;

/// How the history is gone through.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WindowOptions {
    /// Length of a window, days: 7 to 730.
    pub window_days: u64,
    /// The endings that count as failure.
    pub failure_endings: Vec<Ending>,
    /// The family fitted before each window.
    pub family: String,
    /// Draws behind each predicted distribution.
    pub draws: usize,
    /// Failures known before a window, below which it is not predicted.
    pub fewest_failures: u64,
    /// Seed of the draws and of the values.
    pub seed: u64,
}

impl Default for WindowOptions {
    /// Windows of 91 days, the five failures, a Weibull life, 200 draws, from 20 failures on.
    fn default() -> Self {
        Self {
            window_days: 91,
            failure_endings: Ending::FAILURES.to_vec(),
            family: "weibull".to_owned(),
            draws: 200,
            fewest_failures: 20,
            seed: 0,
        }
    }
}

/// One window: what was predicted for it and what came.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PredictedWindow {
    /// What was known is what the records told at the end of this day.
    pub from: NaiveDate,
    /// Last day of the window.
    pub to: NaiveDate,
    /// Failures known before it.
    pub failures_known: u64,
    /// Lamps that burned at its start.
    pub lamps: u64,
    /// Hours they burned in it, or would have but for failing.
    pub hours: f64,
    /// Failures among them, as predicted: chance and what was not known of the life.
    pub predicted: Count,
    /// Failures among them, as they came.
    pub observed: u64,
    /// A number evenly drawn between P(N < observed) and P(N <= observed); even over all windows where predictions hold.
    pub value: f64,
}

impl PredictedWindow {
    /// The least and greatest number predicted, both included, at 90 %.
    #[must_use]
    pub fn interval_90(&self) -> (u64, u64) {
        (self.predicted.least_with_tail(0.95), self.predicted.least_with_tail(0.05))
    }
}

/// The history of a lamp class gone through window by window.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PredictionReplay {
    /// Lamp class.
    pub lamp_class: String,
    /// How it was gone through.
    pub options: WindowOptions,
    /// The windows that were predicted, in order of day.
    pub windows: Vec<PredictedWindow>,
    /// Windows not predicted, as too few failures were known before.
    pub too_early: u64,
    /// Windows not predicted for another reason, by its name.
    pub refused: BTreeMap<String, u64>,
    /// Windows whose failures lay within the interval at 90 %.
    pub held_90: u64,
    /// Largest distance of the values from an even spread.
    pub distance: f64,
    /// Chance of one as large where predictions hold.
    pub p_value: f64,
    /// What was found, in words, with the number of windows.
    pub sentence: String,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for PredictionReplay {
    fn check(&self, c: &mut Checks) {
        c.need("windows", !self.windows.is_empty(), "no window", "one or more");
        for (i, w) in self.windows.iter().enumerate() {
            let field = |name: &str| format!("windows[{i}].{name}");
            c.need(&field("to"), w.to > w.from, w.to, "a day after `from`");
            c.not_negative(&field("hours"), w.hours);
            let most = w.predicted.last().max(w.observed);
            c.need(&field("observed"), most <= w.lamps, w.observed, format!("at most {}", counted(w.lamps, "lamp")));
            let (low, high) = ends(&w.predicted, w.observed);
            c.between(&field("value"), w.value, low - 1e-9, high + 1e-9);
        }
        let order = self.windows.is_sorted_by(|a, b| a.to <= b.from);
        c.need("windows", order, "another order", "one after the other");
        let (held, found) = judged(&self.windows);
        c.need("held_90", self.held_90 == held, self.held_90, format!("{held}"));
        c.equal("distance", self.distance, found.0);
        c.near("p_value", self.p_value, found.1, 1.0);
        c.words("sentence", &self.sentence);
    }
}

/// P(N < observed) and P(N <= observed).
fn ends(predicted: &Count, observed: u64) -> (f64, f64) {
    (observed.checked_sub(1).map_or(0.0, |n| predicted.at_most(n)), predicted.at_most(observed))
}

fn judged(windows: &[PredictedWindow]) -> (u64, (f64, f64)) {
    let inside = |w: &&PredictedWindow| (w.interval_90().0..=w.interval_90().1).contains(&w.observed);
    let values: Vec<f64> = windows.iter().map(|w| w.value).collect();
    (windows.iter().filter(inside).count() as u64, evenness(&values).unwrap_or((1.0, 0.0)))
}

/// When lamps of the records leave for other reasons than failing, by age.
struct Leaving {
    /// Age, lamps that left at it, lamps at risk.
    steps: Vec<(f64, f64, f64)>,
}

impl Leaving {
    fn new(told: &[Told<'_>]) -> Self {
        let left = |t: &&Told<'_>| !t.failed && t.life.ending != Ending::Running;
        let mut ages: Vec<f64> = told.iter().filter(left).map(|t| t.life.end_hours).collect();
        ages.sort_by(f64::total_cmp);
        let mut from: Vec<f64> = told.iter().flat_map(|t| t.life.at_risk.iter().map(|p| p.0)).collect();
        let mut to: Vec<f64> = told.iter().flat_map(|t| t.life.at_risk.iter().map(|p| p.1)).collect();
        from.sort_by(f64::total_cmp);
        to.sort_by(f64::total_cmp);
        let steps = ages.chunk_by(|a, b| a == b).filter_map(|same| {
            let age = *same.first()?;
            let came = from.partition_point(|x| *x < age) as f64;
            let gone = to.partition_point(|x| *x < age) as f64;
            Some((age, same.len() as f64, came - gone))
        });
        Self { steps: steps.collect() }
    }

    /// An age at which a lamp of an age would have left, drawn by chance; infinite where it would have stayed.
    fn after(&self, age: f64, stream: &mut Stream) -> f64 {
        let bar = stream.uniform();
        let mut stays = 1.0;
        for &(at, left, risk) in self.steps.iter().skip(self.steps.partition_point(|s| s.0 <= age)) {
            stays *= 1.0 - (left / risk).min(1.0);
            if stays < bar {
                return at;
            }
        }
        f64::INFINITY
    }
}

/// The lamps that burn at the start of a window with the hours each burns in it unless it fails, and the failures.
fn burning(
    told: &[Told<'_>],
    leaving: &Leaving,
    (from, to): (NaiveDate, NaiveDate),
    stream: &mut Stream,
) -> (Vec<LampsAtAge>, u64) {
    let (mut lamps, mut failures) = (Vec::new(), 0);
    for t in told {
        let Some(age_hours) = t.age_on(from).filter(|_| t.last_day() > from) else { continue };
        let Some(&(_, end)) = t.life.at_risk.iter().find(|p| p.0 <= age_hours && age_hours < p.1) else { continue };
        let until = if t.failed && t.last_day() <= to && t.life.at_risk.last().is_some_and(|p| p.1 == end) {
            failures += 1;
            let failed = t.failure_age().max(age_hours);
            // How long it would have burned is not known: at its own pace, or until it had left for another reason.
            let days = (to - t.last_day()).num_days() as f64;
            (t.life.end_hours + t.pace() * days).min(leaving.after(failed, stream)).max(failed)
        } else {
            t.age_on(to).unwrap_or(age_hours).min(end)
        };
        lamps.push(LampsAtAge { age_hours, ahead_hours: (until - age_hours).max(0.0), count: 1 });
    }
    (lamps, failures)
}

/// Goes through the history of a lamp class window by window: before each a model is fitted to what was known, the number
/// of failures among the lamps that then burned is predicted, and what came is set against it.
///
/// # Formula
/// ```text
/// value of a window = P(N < n) + V P(N = n), V even on (0, 1), n failures seen, N as predicted
/// ```
/// Where predictions hold, the values are independent and even on (0, 1), whatever the window. Their distance from that is
/// tested ([`evenness`]). Many high values: more failures than predicted. Many near 0 and 1: intervals too narrow. Many near
/// one half: too wide.
///
/// Hours and removals are taken as they came; only failures are predicted. Of a lamp that failed it is not known how long it
/// would have burned: it goes on at its own pace until the window ends, or to an age at which it would have left for another
/// reason, drawn from the ages at which lamps of its age left. Lamps fitted within a window count from the next one on.
/// Hours of a spell are spread evenly between its two days, as the records read no meter at the start of a window.
///
/// # Arguments
/// `lamp_class`: its study name. Windows end on the last day read, and lie end to end back to the first fitting.
///
/// # Errors
/// `replay.no_lamp`; `replay.window` unless a window has 7 to 730 days and the history holds at most 2,000;
/// `replay.options` for fewer than 20 draws or 5 failures; `replay.no_window` where no window could be predicted; a stop.
///
/// # Source
/// M. Rosenblatt (1952), Annals of Mathematical Statistics 23, 470-472; A. P. Dawid (1984), Statistical theory: the
/// prequential approach, JRSS A 147, 278-292; for counts, A. E. Brockwell (2007), Statistics and Probability Letters 77,
/// 1473-1478. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::replay::{WindowOptions, replay_predictions};
/// use relamp::study::Study;
/// # fn main() -> relamp::Result<()> {
/// let reading = Study::open("data/demo/study.toml")?.read(&Run::new())?;
/// let options = WindowOptions { window_days: 182, draws: 50, seed: 1, ..WindowOptions::default() };
/// let class = reading.lives.iter().next().map(|l| l.lamp_class.to_string()).unwrap();
/// let replay = replay_predictions(&reading.lives, &reading.spells, &class, &options, &Run::new())?;
/// assert!(replay.windows.iter().all(|w| w.observed <= w.lamps));
/// # Ok(())
/// # }
/// ```
pub fn replay_predictions(
    lives: &Lives,
    spells: &Spells,
    lamp_class: &str,
    options: &WindowOptions,
    run: &Run,
) -> Result<PredictionReplay> {
    let model = family(&options.family)?;
    check(options)?;
    let told = of_class(lives, spells, lamp_class, &options.failure_endings)?;
    let (first, last) = span(&told);
    let count = (last - first).num_days() / options.window_days.cast_signed();
    if !(1..=MOST_WINDOWS).contains(&count) {
        return Err(window(options.window_days, &format!("a length that {first} to {last} holds 1 to 2,000 times")));
    }
    let leaving = Leaving::new(&told);
    let (mut windows, mut too_early, mut refused) = (Vec::new(), 0, BTreeMap::<String, u64>::new());
    for back in (1..=count as u64).rev() {
        run.check()?;
        let day = |n: u64| last.checked_sub_days(Days::new(n * options.window_days)).unwrap_or(first);
        let (from, to) = (day(back), day(back - 1));
        let tally = known_on(&told, from, &options.failure_endings);
        let known = tally.as_ref().map_or(0, Tally::failures);
        if known < options.fewest_failures {
            too_early += 1;
            continue;
        }
        let mut stream = Stream::new(options.seed, "replay", lamp_class, back);
        let (lamps, observed) = burning(&told, &leaving, (from, to), &mut stream);
        let fits = FitOptions::default();
        let ahead = tally
            .and_then(|t| bootstrap(model, &t, &fits, options.draws, options.seed, lamp_class, run))
            .and_then(|draws| failures_ahead(&draws, &lamps, run));
        let predicted = match ahead {
            Ok(ahead) => ahead.failures,
            Err(error) if error.kind() == Kind::Stopped => return Err(error),
            Err(error) => {
                *refused.entry(error.slug().to_owned()).or_default() += 1;
                continue;
            }
        };
        let (low, high) = ends(&predicted, observed);
        windows.push(PredictedWindow {
            from,
            to,
            failures_known: known,
            lamps: lamps.len() as u64,
            hours: lamps.iter().map(|l| l.ahead_hours).sum(),
            value: (low + stream.uniform() * (high - low)).clamp(0.0, 1.0),
            predicted,
            observed,
        });
    }
    if windows.is_empty() {
        let problem = Problem::new("replay.no_window", "no window could be predicted")
            .at(Place::input("lamp_class"))
            .got(lamp_class)
            .expected(format!("{} known before a window", counted(options.fewest_failures, "failure")));
        return Err(Error::new(Kind::Refused, problem));
    }
    let (held_90, (distance, p_value)) = judged(&windows);
    let mut notes = Vec::new();
    if windows.len() < FEW_WINDOWS {
        let text = format!("{} tell little of how predictions are spread", counted(windows.len() as u64, "window"));
        notes.push(Note { slug: "replay.few_windows".to_owned(), text });
    }
    let sentence = sentence(&windows, held_90, p_value);
    let (lamp_class, options) = (lamp_class.to_owned(), options.clone());
    Ok(PredictionReplay {
        lamp_class,
        options,
        windows,
        too_early,
        refused,
        held_90,
        distance,
        p_value,
        sentence,
        notes,
    })
}

fn window(days: u64, expected: &str) -> Error {
    let problem = Problem::new("replay.window", "the history does not hold such windows")
        .at(Place::input("window_days"))
        .got(days)
        .expected(expected);
    Error::new(Kind::Input, problem)
}

fn check(options: &WindowOptions) -> Result<()> {
    if !(7..=730).contains(&options.window_days) {
        return Err(window(options.window_days, "7 to 730 days"));
    }
    let mut problems = Vec::new();
    let mut refuse = |column: &str, got: String, expected: &str| {
        let place = Place::input("options").column(column);
        let problem = Problem::new("replay.options", "an option out of range").at(place);
        problems.push(problem.got(got).expected(expected));
    };
    if !(20..=100_000).contains(&options.draws) {
        refuse("draws", options.draws.to_string(), "20 to 100,000");
    }
    if options.fewest_failures < 5 {
        refuse("fewest_failures", options.fewest_failures.to_string(), "5 or more");
    }
    if options.failure_endings.is_empty() {
        refuse("failure_endings", "none".to_owned(), "one or more endings");
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

fn sentence(windows: &[PredictedWindow], held: u64, p: f64) -> String {
    let (seen, expected) = windows.iter().fold((0, 0.0), |(n, mean), w| (n + w.observed, mean + w.predicted.mean()));
    let all = windows.len() as f64;
    let mean = windows.iter().map(|w| w.value).fold(0.0, |a, b| a + b) / all;
    // The mean of even values has this standard error.
    let error = (1.0 / (12.0 * all)).sqrt();
    let way = if p >= UNEVEN {
        "nothing speaks against the predictions"
    } else if mean > 0.5 + 2.0 * error {
        "the predictions do not hold: more failures came than predicted"
    } else if mean < 0.5 - 2.0 * error {
        "the predictions do not hold: fewer failures came than predicted"
    } else {
        "the predictions do not hold: their spread is not that of what came"
    };
    let chance = if p < 0.001 { "p below 0.001".to_owned() } else { format!("p {p:.3}") };
    format!(
        "{}: {} seen, {} predicted, {held} within the interval at 90 %; {way} ({chance})",
        counted(windows.len() as u64, "window"),
        counted(seen, "failure"),
        short(expected),
    )
}
