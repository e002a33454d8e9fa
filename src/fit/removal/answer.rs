//! What a range of dependence makes of one figure.

use serde::{Deserialize, Serialize};

use super::dial::{DialPoint, RemovalDial};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, full_hours, hours, short};
use crate::base::math::percentile::percentile;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::empirical::check_widest;
use crate::family::Life;
use crate::fit::interval::{Sides, critical};
use crate::fit::model::Note;

const FORMAT: Format = Format::new("dial_answer", 1);

/// Ratio of the ends of an interval of ages from which it is called uninformative.
///
/// Our choice, without a source: an age known to a factor of 2 leaves open whether a lamp is changed in its first or its
/// second half.
pub const WIDEST_RATIO: f64 = 2.0;

/// Verdicts of a planned age that is no optimum: it stands at the hour limit or at the oldest lamp at risk, whichever comes
/// first, and an interval of such ages is narrow because of where it stops.
const AT_CEILING: [&str; 5] = [
    "no_planned_change_pays",
    "planned_costs_at_least_failure",
    "flat_saves_nothing",
    "records_end",
    "todays_rule_stays",
];

/// One figure at each dependence, and the interval that a range of dependence implies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DialAnswer {
    /// What was asked, in words, such as `reliability at 1,500 h`.
    pub quantity: String,
    /// Whether the figure is an age; else it is a share of lamps.
    pub hours: bool,
    /// Level of each interval.
    pub level: f64,
    /// Dependences, Kendall's tau, rising from 0.
    pub taus: Vec<f64>,
    /// The figure at each.
    pub estimate: Vec<f64>,
    /// Lower end at each, by chance alone; none without refits.
    pub low: Vec<Option<f64>>,
    /// Upper end at each.
    pub high: Vec<Option<f64>>,
    /// Why the planned age at each stands where it does, in the words of [`crate::policy::Verdict`]; none for other figures.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub verdicts: Vec<String>,
    /// Smallest dependence that the caller holds possible.
    pub from_tau: f64,
    /// Largest.
    pub to_tau: f64,
    /// Least figure over the range.
    pub least: f64,
    /// Largest figure over the range.
    pub most: f64,
    /// Lower end over the range, chance included; none without refits.
    pub range_low: Option<f64>,
    /// Upper end over the range, chance included.
    pub range_high: Option<f64>,
    /// Widest interval that still says something: a share of lamps, or a ratio of ages.
    pub widest: f64,
    /// Whether the interval over the range is no wider: the one with chance where there are refits, else that of the estimates
    /// alone. Bounds of removals ([`crate::empirical::RemovalBounds`]) are judged without chance. Never of planned ages that
    /// stand at the hour limit or at the oldest lamp at risk because no earlier change pays, at one dependence of the range or
    /// more: they say where the ages stop.
    pub informative: bool,
    /// The answer in one sentence.
    pub sentence: String,
    /// What a reader must know beside the numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<Note>,
}

impl Sound for DialAnswer {
    fn check(&self, c: &mut Checks) {
        c.words("quantity", &self.quantity);
        c.level("level", self.level);
        c.rising("taus", &self.taus, false);
        let n = self.taus.len();
        let lengths = [("estimate", self.estimate.len()), ("low", self.low.len()), ("high", self.high.len())];
        for (field, got) in lengths {
            c.entries(field, got, n);
        }
        if !self.verdicts.is_empty() {
            c.entries("verdicts", self.verdicts.len(), n);
            c.need("verdicts", self.hours, "verdicts on a share", "verdicts on planned ages alone");
        }
        for (i, (low, high)) in self.low.iter().zip(&self.high).enumerate() {
            c.ends(&format!("high[{i}]"), *low, *high);
            c.there(&format!("high[{i}]"), high.is_some(), low.is_some(), "there with the lower end");
        }
        for (i, x) in self.estimate.iter().enumerate() {
            let field = format!("estimate[{i}]");
            if self.hours { c.not_negative(&field, *x) } else { c.share(&field, *x) }
        }
        for (field, tau) in [("from_tau", self.from_tau), ("to_tau", self.to_tau)] {
            c.need(field, self.taus.contains(&tau), tau, "one of the dependences");
        }
        if n == self.estimate.len() && n == self.low.len() && n == self.high.len() {
            let ends = Ends::over(self);
            c.follows("least", &self.least, &ends.least);
            c.follows("most", &self.most, &ends.most);
            c.follows("range_low", &self.range_low, &ends.low);
            c.follows("range_high", &self.range_high, &ends.high);
            c.follows("informative", &self.informative, &(ends.informative(self.hours, self.widest) && !self.stops()));
        }
        c.words("sentence", &self.sentence);
    }
}

/// The ends over a range of dependence.
struct Ends {
    least: f64,
    most: f64,
    low: Option<f64>,
    high: Option<f64>,
}

impl Ends {
    fn over(answer: &DialAnswer) -> Self {
        let range = answer.from_tau..=answer.to_tau;
        let inside: Vec<usize> = (0..answer.taus.len()).filter(|i| range.contains(&answer.taus[*i])).collect();
        let least = |of: &dyn Fn(usize) -> Option<f64>| {
            inside.iter().map(|i| of(*i)).reduce(|a, b| a.zip(b).map(|(a, b)| a.min(b))).flatten()
        };
        let most = |of: &dyn Fn(usize) -> Option<f64>| {
            inside.iter().map(|i| of(*i)).reduce(|a, b| a.zip(b).map(|(a, b)| a.max(b))).flatten()
        };
        let estimate = |i: usize| Some(answer.estimate[i]);
        Self {
            least: least(&estimate).unwrap_or(f64::NAN),
            most: most(&estimate).unwrap_or(f64::NAN),
            low: least(&|i| answer.low[i]),
            high: most(&|i| answer.high[i]),
        }
    }

    fn informative(&self, hours: bool, widest: f64) -> bool {
        let (low, high) = (self.low.unwrap_or(self.least), self.high.unwrap_or(self.most));
        if hours { high <= widest * low } else { high - low <= widest }
    }
}

impl DialAnswer {
    /// Places of the dependences of the range whose planned age is no optimum.
    fn stopped(&self) -> impl Iterator<Item = usize> {
        let range = self.from_tau..=self.to_tau;
        let at = |i: &usize| self.verdicts.get(*i).is_some_and(|v| AT_CEILING.contains(&v.as_str()));
        (0..self.taus.len()).filter(move |i| range.contains(&self.taus[*i]) && at(i))
    }

    fn stops(&self) -> bool {
        self.stopped().next().is_some()
    }
}

/// Why a planned age stands where it does.
#[derive(Clone, Debug)]
pub(crate) struct Standing {
    /// Its verdict.
    pub(crate) verdict: String,
    /// In words, where the age is no optimum.
    pub(crate) because: Option<String>,
}

/// What is asked of a dial beside the figure itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Asked {
    pub(crate) level: f64,
    pub(crate) range: (f64, f64),
    pub(crate) widest: f64,
}

impl RemovalDial {
    /// The probability to pass an age at each dependence, with its interval, and over a range of dependence.
    ///
    /// # Arguments
    /// `range`: the smallest and largest dependence held possible, both among those fitted. `widest`: widest interval that
    /// still says something, as a share of lamps.
    ///
    /// # Errors
    /// `fit.level`, `fit.dial_range`, `empirical.widest`; `fit.dial_figure` for an age below 0.
    pub fn reliability(&self, age: f64, level: f64, range: (f64, f64), widest: f64) -> Result<DialAnswer> {
        check_widest(widest)?;
        if !(age >= 0.0 && age.is_finite()) {
            let problem = Problem::new("fit.dial_figure", "not an age").at(Place::input("age"));
            return Err(Error::new(Kind::Domain, problem.got(age).expected("finite hours of at least 0")));
        }
        let what = format!("reliability at {} h", hours(age));
        let mut answer = self.answer(what, false, Asked { level, range, widest }, &|life| Ok(life.reliability(age)))?;
        self.tell_past(&mut answer, age, None);
        Ok(answer)
    }

    /// The age by which `x` percent have failed at each dependence, with its interval, and over a range of dependence.
    ///
    /// # Arguments
    /// As [`RemovalDial::reliability`], but `widest` is the largest ratio of the ends that still says something, such as
    /// [`WIDEST_RATIO`].
    ///
    /// # Errors
    /// `fit.level`, `fit.dial_range`, `fit.dial_widest`; `fit.dial_percent` unless 0 < x < 100; `fit.dial_figure` where the age
    /// is never reached.
    pub fn b_life(&self, x: f64, level: f64, range: (f64, f64), widest: f64) -> Result<DialAnswer> {
        check_ratio(widest)?;
        if !(x > 0.0 && x < 100.0) {
            let problem =
                Problem::new("fit.dial_percent", "no age belongs to this percentage").at(Place::input("percent"));
            return Err(Error::new(Kind::Domain, problem.got(x).expected("above 0 and below 100")));
        }
        let what = format!("age by which {} % have failed", short(x));
        self.answer(what, true, Asked { level, range, widest }, &|life| life.b_life(x))
    }

    /// Says in notes and sentence that a figure lies past the records.
    fn tell_past(&self, answer: &mut DialAnswer, age: f64, high: Option<f64>) {
        if let Some(note) = self.facts.past_either(age, high) {
            answer.sentence.extend(["; ", &note.text]);
            answer.notes.push(note);
        }
    }

    fn answer(
        &self,
        quantity: String,
        hours: bool,
        asked: Asked,
        of: &dyn Fn(&dyn Life) -> Result<f64>,
    ) -> Result<DialAnswer> {
        let family = self.family()?;
        let each = |point: &DialPoint| {
            let estimate = of(family.at(&point.coordinates)?.as_ref())?;
            let refits = point.refits.iter().map(|x| of(family.at(x)?.as_ref())).collect::<Result<Vec<f64>>>()?;
            Ok((estimate, ends(refits, asked.level)))
        };
        let figures = self.points.iter().map(each).collect::<Result<Vec<_>>>()?;
        self.told(quantity, hours, asked, &figures, &[])
    }

    /// The answer from a figure at each dependence, and for planned ages why each stands where it does.
    pub(crate) fn told(
        &self,
        quantity: String,
        in_hours: bool,
        asked: Asked,
        figures: &[(f64, Option<(f64, f64)>)],
        standing: &[Standing],
    ) -> Result<DialAnswer> {
        critical(asked.level, Sides::Both)?;
        let taus: Vec<f64> = self.points.iter().map(|p| p.tau).collect();
        let (from_tau, to_tau) = asked.range;
        if !(from_tau <= to_tau && taus.contains(&from_tau) && taus.contains(&to_tau)) {
            let known: Vec<String> = taus.iter().map(ToString::to_string).collect();
            let problem = Problem::new("fit.dial_range", "not a range of fitted dependences").at(Place::input("range"));
            let problem = problem.got(format!("{from_tau} to {to_tau}"));
            return Err(Error::new(Kind::Input, problem.expected(format!("two of {}, rising", known.join(", ")))));
        }
        let open = figures.iter().any(|(x, ends)| !x.is_finite() || ends.is_some_and(|(_, high)| !high.is_finite()));
        if open {
            let problem = Problem::new("fit.dial_figure", "the figure is not finite at every dependence");
            return Err(Error::new(Kind::Refused, problem.got(quantity).expected("an age that the lamps reach")));
        }
        let mut answer = DialAnswer {
            quantity,
            hours: in_hours,
            level: asked.level,
            taus,
            estimate: figures.iter().map(|f| f.0).collect(),
            low: figures.iter().map(|f| f.1.map(|e| e.0)).collect(),
            high: figures.iter().map(|f| f.1.map(|e| e.1)).collect(),
            verdicts: standing.iter().map(|s| s.verdict.clone()).collect(),
            from_tau,
            to_tau,
            least: f64::NAN,
            most: f64::NAN,
            range_low: None,
            range_high: None,
            widest: asked.widest,
            informative: false,
            sentence: String::new(),
            notes: Vec::new(),
        };
        let ends = Ends::over(&answer);
        answer.informative = ends.informative(in_hours, asked.widest) && !answer.stops();
        (answer.least, answer.most, answer.range_low, answer.range_high) = (ends.least, ends.most, ends.low, ends.high);
        answer.sentence = self.sentence(&answer, &ends, standing);
        if in_hours {
            // The sentence names the figure at independence as well, which may lie outside the range.
            let plain = answer.estimate.first().copied().unwrap_or(answer.most);
            self.tell_past(&mut answer, ends.most.max(plain), ends.high);
        }
        Ok(answer)
    }

    fn sentence(&self, a: &DialAnswer, ends: &Ends, standing: &[Standing]) -> String {
        let figure = |x: f64| {
            if a.hours {
                // As in the notes on ages past the records.
                format!("{} h", full_hours(x))
            } else {
                format!("{} %", hours((x * 1000.0).round() / 10.0))
            }
        };
        let plain = a.estimate.first().copied().unwrap_or(f64::NAN);
        let chance = match (a.range_low, a.range_high) {
            (Some(low), Some(high)) => {
                let level = hours(100.0 * a.level);
                format!(", {} to {} with chance at {level} %", figure(low), figure(high))
            }
            _ => String::new(),
        };
        let chance_is = if a.range_low.is_some() { "with chance" } else { "even without chance" };
        let mut verdict = match (ends.informative(a.hours, a.widest), a.hours) {
            (true, _) if a.range_low.is_none() => "; without chance, as there are no refits".to_owned(),
            (true, _) => String::new(),
            (false, true) => {
                format!("; uninformative: the ends differ by more than {} times {chance_is}", short(a.widest))
            }
            (false, false) => {
                format!("; uninformative: wider than {} % {chance_is}", hours((a.widest * 1000.0).round() / 10.0))
            }
        };
        // One clause for each reason, with the dependences that it holds at.
        let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
        for i in a.stopped() {
            let Some(because) = standing.get(i).and_then(|s| s.because.as_deref()) else { continue };
            let tau = a.taus[i].to_string();
            match reasons.iter_mut().find(|r| r.0 == because) {
                Some((_, taus)) => taus.push(tau),
                None => reasons.push((because, vec![tau])),
            }
        }
        for (because, taus) in reasons {
            verdict.extend(["; uninformative at a dependence of ", &taus.join(", "), ": ", because]);
        }
        format!(
            "{}: {} to {} for a dependence of {} to {} (Kendall's tau){chance}; {} if the removal of {} said nothing of \
             their life{verdict}",
            a.quantity,
            figure(a.least),
            figure(a.most),
            a.from_tau,
            a.to_tau,
            figure(plain),
            counted(self.suspect_lamps, "lamp"),
        )
    }
}

/// Ends of the middle of some refits; none where too few settled.
pub(crate) fn ends(mut values: Vec<f64>, level: f64) -> Option<(f64, f64)> {
    if values.len() < 10 {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - level);
    Some((percentile(&values, tail)?, percentile(&values, 1.0 - tail)?))
}

/// Refuses a ratio of ages that is none.
pub(crate) fn check_ratio(widest: f64) -> Result<()> {
    if widest >= 1.0 && widest.is_finite() {
        return Ok(());
    }
    let problem = Problem::new("fit.dial_widest", "not a ratio of the ends of an interval of ages");
    let problem = problem.at(Place::input("widest")).got(widest).expected("1 or more, such as 2");
    Err(Error::new(Kind::Domain, problem))
}

impl DialAnswer {
    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// An answer from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
