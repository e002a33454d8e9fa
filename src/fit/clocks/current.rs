//! A life under a recorded history of current, with cumulative exposure.

use serde::{Deserialize, Serialize};

use super::check_family as check_clock_family;
use super::histories::Histories;
use super::surface::{Clock, Clocked, Lamp};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours, short};
use crate::base::math::linalg::{inverse, packed, scaled_condition};
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Life, Order, family};
use crate::fit::covariates::{TermTest, check_covariance, end, few_note, moved_life, prolongs_note};
use crate::fit::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use crate::fit::model::{Facts, Note, check_family, failure_notes};
use crate::fit::newton::{Point, Stop, Surface, climb};
use crate::fit::profile::open_notes;
use crate::fit::sample::{Evidence, Row, Sample};
use crate::fit::search::{BLIND, FitOptions, facts, fit_sample};
use crate::lives::{Rows, Tally};
use crate::records::Ending;

const FORMAT: Format = Format::new("current_history_fit", 1);

/// A life under recorded currents; made by [`fit_current_history`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurrentHistoryFit {
    pub(super) family: String,
    /// Coordinates of the life at the mean current.
    pub(super) coordinates: Vec<f64>,
    pub(super) mean_current: f64,
    pub(super) lowest_current: f64,
    pub(super) highest_current: f64,
    pub(super) power: f64,
    /// Packed lower triangle over (coordinates.., power).
    pub(super) covariance: Vec<f64>,
    pub(super) log_likelihood: f64,
    pub(super) test: TermTest,
    pub(super) scaled_gradient: f64,
    pub(super) condition: f64,
    pub(super) iterations: u64,
    pub(super) stop: Stop,
    pub(super) converged: bool,
    pub(super) facts: Facts,
    pub(super) notes: Vec<Note>,
}

impl Sound for CurrentHistoryFit {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        let n = family.width() + 1;
        c.entries("coordinates", self.coordinates.len(), n - 1);
        c.positive("lowest_current", self.lowest_current);
        c.between("mean_current", self.mean_current, self.lowest_current, self.highest_current);
        c.need("power", self.power.is_finite(), self.power, "a finite number");
        c.entries("covariance", self.covariance.len(), n * (n + 1) / 2);
        check_covariance(c, "covariance", &self.covariance, n);
        c.part("test", &self.test);
        c.not_negative("scaled_gradient", self.scaled_gradient);
        c.follows("converged", &self.converged, &matches!(self.stop, Stop::Gradient | Stop::ClosedForm));
        c.part("facts", &self.facts);
        for note in failure_notes(self.facts.failures).into_iter().chain(few_note(self.facts.failures, 1)) {
            c.need("notes", self.notes.contains(&note), "no such note", note.text);
        }
    }
}

/// The lives as rows of a likelihood, each on the clock of its own pieces.
fn lamps(histories: &Histories, endings: Option<&[Ending]>) -> Vec<Lamp> {
    let rows = &histories.rows;
    (0..rows.low.len())
        .map(|i| {
            let (low, high) = (rows.low[i], rows.high[i]);
            let entry = rows.entry.as_ref().and_then(|e| e.get(i).copied()).unwrap_or(0.0);
            let ending = rows.ending.as_ref().and_then(|e| e.get(i).copied()).unwrap_or(Ending::Unknown);
            let counts = endings.is_none_or(|set| set.contains(&ending));
            let evidence = if high == f64::INFINITY || !counts {
                Evidence::Passed(low)
            } else if low == high {
                Evidence::Exact(low)
            } else {
                Evidence::Between(low.max(entry), high)
            };
            Lamp { row: Row { evidence, entry, upper: f64::INFINITY }, weight: 1.0, place: i }
        })
        .collect()
}

/// Fits a life to lamps whose current was recorded all along: each hour wears as the n-th power of the current it burned at.
///
/// # Formula
/// ```text
/// u(t) = sum over the pieces up to t of hours x (current / mean current)^n
/// R(t) = R0(u(t)),  f(t) = f0(u(t)) (current at t / mean current)^n: the density is taken per hour
/// ```
/// The mean current is the geometric one over all recorded hours. At a constant current a life is in proportion to
/// current^-n; the coefficient that [`StressLaw::InversePower`](crate::fit::StressLaw) has in a regression is -n. Wear adds
/// up: what a lamp has behind it counts by how worn it is, not by how it became so. That is an
/// assumption of the model, and no records of one ending a lamp can test it alone.
///
/// # Arguments
/// `histories`: pieces must cover every life from 0 to its last age, no farther, without a gap: before its entry too, and
/// while it was out of sight. A life that was out of sight for a while stands in one row for each stretch at risk.
///
/// # Errors
/// `fit.history_lives`, `fit.history_piece`, `fit.history_gap`, each by table and row; `fit.history_single` for a life with
/// a single current, in however many pieces, unless it is declared constant over life: a last reading follows the age. `fit.history_not_identified` where
/// currents do not differ enough; `fit.clock_family`; those of [`crate::fit::fit`] and of [`Tally::from_rows`].
///
/// # Source
/// W. Nelson (1980), Accelerated life testing: step-stress models and data analyses, IEEE Transactions on Reliability 29,
/// 103-108 (from memory).
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{CurrentPiece, FitOptions, Histories, fit_current_history};
/// use relamp::lives::Rows;
/// // Each lamp burns 500 h at 70 A, then at its own current, and fails when its wear is used up: n = 2.
/// let mut histories = Histories::default();
/// for i in 0..24 {
///     let (current, wear) = ([75.0, 90.0][i % 2], 900.0 + 20.0 * (i / 2) as f64);
///     let age = 500.0 + (wear - 500.0) * (70.0_f64 / current).powi(2);
///     let life = format!("lamp {i}");
///     histories.rows.low.push(age);
///     histories.pieces.push(CurrentPiece { life: life.clone(), from_hours: 0.0, to_hours: 500.0, current: 70.0 });
///     histories.pieces.push(CurrentPiece { life: life.clone(), from_hours: 500.0, to_hours: age, current });
///     histories.life.push(life);
/// }
/// histories.rows.high = histories.rows.low.clone();
/// let fit = fit_current_history(family("weibull")?, &histories, &FitOptions::default(), &Run::new())?;
/// assert!((fit.power() - 2.0).abs() < 0.1, "{fit}");
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn fit_current_history(
    family: &dyn Family,
    histories: &Histories,
    options: &FitOptions,
    run: &Run,
) -> Result<CurrentHistoryFit> {
    check_clock_family(family)?;
    let wear = histories.wear()?;
    let (tally, _) = Tally::from_rows(&Rows { groups: Vec::new(), ..histories.rows.clone() })?;
    let sample = Sample::new(&tally, options.endings.as_deref(), None)?;
    let alone = fit_sample(family, &sample, options, run)?;
    let unknown = |got: String| {
        let what = "the currents do not differ enough to tell what they do to a life";
        let problem = Problem::new("fit.history_not_identified", what).at(Place::input("pieces").column("current"));
        Error::new(Kind::Refused, problem.got(got).expected("lives at different currents"))
    };
    let range = format!("{} to {}", short(wear.lowest), short(wear.highest));
    if !wear.varies() {
        return Err(unknown(range));
    }
    let lamps = lamps(histories, options.endings.as_deref());
    let surface = Clocked { family, clock: &wear, lamps: &lamps };
    let start = [alone.coordinates(), &[0.0]].concat();
    let best = climb(&surface, &start, options.iterations, run)?;
    let n = start.len();
    let free = best.free_information();
    let moving = best.held.iter().filter(|held| !**held).count();
    let whole = inverse(&free, moving).filter(|_| best.point.value.is_finite() && surface.inside(&best.x));
    let Some(covariance) = whole.map(|m| best.spread_out(&m)) else { return Err(unknown(range)) };
    let power = best.x.last().copied().unwrap_or(f64::NAN);
    if !(covariance[packed(n - 1, n - 1)].sqrt() < BLIND * wear.step()) {
        return Err(unknown(range));
    }
    let facts = facts(&sample.count);
    let mut notes: Vec<Note> = failure_notes(facts.failures).into_iter().chain(few_note(facts.failures, 1)).collect();
    if power < 0.0 {
        notes.push(prolongs_note("current"));
    }
    Ok(CurrentHistoryFit {
        family: family.name().to_owned(),
        coordinates: best.x[..n - 1].to_vec(),
        mean_current: wear.ln_mean.exp(),
        lowest_current: wear.lowest,
        highest_current: wear.highest,
        power,
        covariance,
        log_likelihood: best.point.value,
        test: TermTest::new("current", 2.0 * (best.point.value - alone.log_likelihood()), 1),
        scaled_gradient: best.point.scaled_gradient(&best.held),
        condition: scaled_condition(&free, moving),
        iterations: best.iterations,
        stop: best.stop,
        converged: best.converged(),
        facts,
        notes,
    })
}

impl CurrentHistoryFit {
    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// The family.
    ///
    /// # Errors
    /// `family.unknown` for a saved fit of a family this version does not know.
    pub fn family(&self) -> Result<&'static dyn Family> {
        family(&self.family)
    }

    /// n: life at a constant current is in proportion to current^-n.
    pub fn power(&self) -> f64 {
        self.power
    }

    /// Standard error of n.
    pub fn standard_error(&self) -> f64 {
        let i = self.coordinates.len();
        self.covariance.get(packed(i, i)).copied().unwrap_or(f64::NAN).sqrt()
    }

    /// Mean, lowest and highest current.
    pub fn currents(&self) -> (f64, f64, f64) {
        (self.mean_current, self.lowest_current, self.highest_current)
    }

    /// Parameters of the life at the mean current, held all along.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let Ok(family) = self.family() else { return Vec::new() };
        family.parameter_names().iter().copied().zip(family.parameters(&self.coordinates)).collect()
    }

    /// Maximised log-likelihood, densities per hour.
    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// Likelihood-ratio test against n = 0, where the current does not matter.
    pub fn test(&self) -> &TermTest {
        &self.test
    }

    /// Largest |gradient| at the end in units of one over a standard error.
    pub fn scaled_gradient(&self) -> f64 {
        self.scaled_gradient
    }

    /// Condition of the information matrix with its diagonal scaled to 1: 1 is best.
    pub fn condition(&self) -> f64 {
        self.condition
    }

    /// Iterations of the search.
    pub fn iterations(&self) -> u64 {
        self.iterations
    }

    /// Why the search stopped.
    pub fn stop(&self) -> Stop {
        self.stop
    }

    /// Whether the search reached the maximum.
    pub fn converged(&self) -> bool {
        self.converged
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// Interval of n from the curvature at the maximum.
    ///
    /// # Errors
    /// `fit.level`.
    pub fn wald(&self, level: f64, sides: Sides) -> Result<Interval> {
        let spread = critical(level, sides)? * self.standard_error();
        let ends = (Some(self.power - spread), Some(self.power + spread));
        Ok(self.interval(ends, level, sides, IntervalMethod::Wald))
    }

    /// Interval of n by profile likelihood. An end that the records do not close stays open.
    ///
    /// # Arguments
    /// `histories` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.level`, `fit.other_data` if the histories are not the fitted ones; those of [`fit_current_history`].
    pub fn profile(
        &self,
        histories: &Histories,
        options: &FitOptions,
        level: f64,
        sides: Sides,
        run: &Run,
    ) -> Result<Interval> {
        let z = critical(level, sides)?;
        let wear = histories.wear()?;
        Tally::from_rows(&Rows { groups: Vec::new(), ..histories.rows.clone() })?;
        let lamps = lamps(histories, options.endings.as_deref());
        let surface = Clocked { family: self.family()?, clock: &wear, lamps: &lamps };
        let x = [self.coordinates.as_slice(), &[self.power]].concat();
        let mut here = Point::new(x.len());
        surface.at(&x, Order::Value, &mut here)?;
        if !((here.value - self.log_likelihood).abs() <= 1e-9 * self.log_likelihood.abs().max(1.0)) {
            let problem = Problem::new("fit.other_data", "the histories are not the ones that were fitted")
                .got(format!("log-likelihood {}", here.value))
                .expected(format!("{}", self.log_likelihood));
            return Err(Error::new(Kind::Input, problem));
        }
        let of = (self.coordinates.len(), self.standard_error());
        let side = |wanted: Sides, sign: f64| -> Result<Option<f64>> {
            if sides != Sides::Both && sides != wanted {
                return Ok(None);
            }
            end(&surface, &x, self.log_likelihood, of, (z, sign), options.iterations, run)
        };
        let ends = (side(Sides::Lower, -1.0)?, side(Sides::Upper, 1.0)?);
        Ok(self.interval(ends, level, sides, IntervalMethod::ProfileLikelihood))
    }

    fn interval(
        &self,
        (low, high): (Option<f64>, Option<f64>),
        level: f64,
        sides: Sides,
        method: IntervalMethod,
    ) -> Interval {
        let mut notes = self.notes.clone();
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        let (low, high) = (low.filter(|_| sides != Sides::Upper), high.filter(|_| sides != Sides::Lower));
        let quantity = Quantity::Parameter("power".to_owned());
        Interval { quantity, estimate: Some(self.power), low, high, level, sides, method, notes, ratio: None }
    }

    fn check_current(current: f64) -> Result<()> {
        if current > 0.0 && current.is_finite() {
            return Ok(());
        }
        let problem = Problem::new("fit.history_piece", "not a current").at(Place::input("current"));
        Err(Error::new(Kind::Domain, problem.got(current).expected("above 0")))
    }

    /// A note on a current outside those that were recorded.
    pub fn extrapolation(&self, current: f64) -> Option<Note> {
        let (low, high) = (self.lowest_current, self.highest_current);
        (current < low || current > high).then(|| {
            let text = format!(
                "a current of {} lies outside {} to {}, those recorded: the figure is the law's opinion",
                hours(current),
                short(low),
                short(high)
            );
            Note::new("fit.current_extrapolated", text)
        })
    }

    /// The life of a lamp that burns at one current all along; [`CurrentHistoryFit::extrapolation`] says where that current
    /// lies outside those recorded.
    ///
    /// # Errors
    /// `fit.history_piece` unless the current is above 0.
    pub fn life(&self, current: f64) -> Result<Box<dyn Life>> {
        Self::check_current(current)?;
        moved_life(self.family()?, &self.coordinates, -self.power * (current / self.mean_current).ln())
    }

    /// Probability to pass the end of a programme of (hours, current), from new.
    ///
    /// # Errors
    /// `fit.history_piece` for hours below 0 and currents that are none.
    pub fn reliability(&self, programme: &[(f64, f64)]) -> Result<f64> {
        let mut worn = 0.0;
        for (hours, current) in programme {
            Self::check_current(*current)?;
            if !(*hours >= 0.0 && hours.is_finite()) {
                let problem = Problem::new("fit.history_piece", "not hours of a lamp").at(Place::input("programme"));
                return Err(Error::new(Kind::Domain, problem.got(hours).expected("hours from 0")));
            }
            worn += hours * (self.power * (current / self.mean_current).ln()).exp();
        }
        Ok(self.family()?.at(&self.coordinates)?.reliability(worn))
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A fit from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}

impl std::fmt::Display for CurrentHistoryFit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (lamps, failures) = (counted(self.facts.lamps, "lamp"), counted(self.facts.failures, "failure"));
        write!(f, "{} of {lamps}, {failures}, under recorded currents", self.family)?;
        write!(f, "; life falls with the power {:.4} of the current", self.power)?;
        write!(f, " (standard error {:.4}); log-likelihood {:.4}", self.standard_error(), self.log_likelihood)?;
        if !self.converged {
            f.write_str("; NOT CONVERGED")?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "; {}", note.text))
    }
}
