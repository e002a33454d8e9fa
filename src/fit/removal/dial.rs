//! One life for each stated dependence, with refits under random weights.

use serde::{Deserialize, Serialize};

use super::surface::Dependent;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::empirical::{Events, RemovalOptions, Seen, copula_power, walk_removals};
use crate::family::{Family, Life, family};
use crate::fit::failure_free::FAILURE_FREE;
use crate::fit::model::{Facts, Note, check_family, failure_notes};
use crate::fit::newton::climb;
use crate::fit::sample::Sample;
use crate::fit::search::{FitOptions, facts, fit_sample};
use crate::fit::weights::Clusters;
use crate::lives::{Rows, Tally};
use crate::records::Ending;

const FORMAT: Format = Format::new("removal_dial", 1);

/// What is asked of a dial.
#[derive(Clone, Debug, PartialEq)]
pub struct DialOptions {
    /// Which endings are suspect removals, and how rows are read.
    pub removal: RemovalOptions,
    /// Dependences to fit at, Kendall's tau; 0 is always among them.
    pub taus: Vec<f64>,
    /// Refits under random weights at each; 0 for none, and then no intervals.
    pub replicates: usize,
    /// Seed of the weights.
    pub seed: u64,
    /// Most iterations of one search.
    pub iterations: u64,
}

impl Default for DialOptions {
    /// Nothing suspect, tau 0 to 0.9 in steps of 0.1, 200 refits.
    fn default() -> Self {
        let taus = (0..10).map(|i| f64::from(i) / 10.0).collect();
        Self { removal: RemovalOptions::default(), taus, replicates: 200, seed: 1, iterations: 100 }
    }
}

/// The life at one dependence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DialPoint {
    /// Kendall's tau between the age at failure and the age at suspect removal.
    pub tau: f64,
    /// Unconstrained coordinates of the life.
    pub coordinates: Vec<f64>,
    /// Its parameters, in the order of the family.
    pub parameters: Vec<f64>,
    /// Coordinates of the refits that settled.
    pub refits: Vec<Vec<f64>>,
    /// Refits that did not settle.
    pub unsettled: u64,
}

/// The life of lamps that nobody takes out early, under each stated dependence; made by [`removal_dial`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RemovalDial {
    pub(super) family: String,
    pub(super) suspects: Vec<Ending>,
    pub(super) suspect_lamps: u64,
    pub(super) points: Vec<DialPoint>,
    /// Endings of the failures with their shares.
    pub(super) endings: Vec<(Ending, f64)>,
    pub(super) seed: u64,
    pub(super) facts: Facts,
    pub(super) notes: Vec<Note>,
}

impl Sound for RemovalDial {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        c.once("suspects", self.suspects.iter().copied());
        c.part("facts", &self.facts);
        c.need(
            "suspect_lamps",
            self.suspect_lamps <= self.facts.censored,
            self.suspect_lamps,
            "at most those censored",
        );
        let from_0 = self.points.first().is_some_and(|p| p.tau == 0.0);
        let rises = self.points.windows(2).all(|pair| matches!(pair, [a, b] if a.tau < b.tau));
        c.need("points", from_0 && rises, "others", "dependences that rise from 0");
        let most = self.points.first().map_or(0, |p| p.refits.len() as u64 + p.unsettled);
        for (i, point) in self.points.iter().enumerate() {
            c.need(&format!("points[{i}].tau"), copula_power(point.tau).is_ok(), point.tau, "from 0 to below 1");
            c.entries(&format!("points[{i}].coordinates"), point.coordinates.len(), family.width());
            c.entries(&format!("points[{i}].parameters"), point.parameters.len(), family.width());
            for (got, made) in point.parameters.iter().zip(family.parameters(&point.coordinates)) {
                c.equal(&format!("points[{i}].parameters"), *got, made);
            }
            for x in &point.refits {
                c.entries(&format!("points[{i}].refits"), x.len(), family.width());
            }
            let all = (point.refits.len() as u64).checked_add(point.unsettled);
            c.need(
                &format!("points[{i}].unsettled"),
                all == Some(most),
                point.unsettled,
                "one number of refits for all",
            );
        }
        c.once("endings", self.endings.iter().map(|e| e.0));
        for (_, share) in &self.endings {
            c.share("endings", *share);
        }
        c.equal("endings", self.endings.iter().map(|e| e.1).sum(), 1.0);
        for note in failure_notes(self.facts.failures) {
            c.need("notes", self.notes.contains(&note), "no such note", note.text);
        }
    }
}

/// The records as the ordinary fit takes them: suspect removals are no failures.
fn ordinary(events: &Events) -> Result<Tally> {
    let rows = || events.each.iter();
    let at = |e: &crate::empirical::Event| if e.seen == Seen::Failed { e.age } else { f64::INFINITY };
    let ending = |row: usize| Ending::from_code(events.tally.ending()[row]).unwrap_or(Ending::Unknown);
    let rows = Rows {
        low: rows().map(|e| e.age).collect(),
        high: rows().map(at).collect(),
        entry: Some(rows().map(|e| e.entry).collect()),
        ending: Some(rows().map(|e| ending(e.row)).collect()),
        count: Some(rows().map(|e| e.count).collect()),
        ..Rows::default()
    };
    Ok(Tally::from_rows(&rows)?.0)
}

/// The failures' endings with their shares.
fn shares(events: &Events) -> Vec<(Ending, f64)> {
    let mut counts = std::collections::BTreeMap::new();
    for event in events.each.iter().filter(|e| e.seen == Seen::Failed) {
        let ending = Ending::from_code(events.tally.ending()[event.row]).unwrap_or(Ending::Unknown);
        *counts.entry(ending).or_insert(0_u64) += event.count;
    }
    let all: u64 = counts.values().sum();
    counts.into_iter().map(|(ending, n)| (ending, n as f64 / all as f64)).collect()
}

/// The asked dependences in rising order, 0 among them.
fn grid(taus: &[f64]) -> Result<Vec<f64>> {
    let mut taus = taus.to_vec();
    taus.push(0.0);
    taus.iter().try_for_each(|tau| copula_power(*tau).map(|_| ()))?;
    // Adding 0 turns -0.0 into 0.0.
    for tau in &mut taus {
        *tau += 0.0;
    }
    taus.sort_by(f64::total_cmp);
    taus.dedup();
    Ok(taus)
}

/// Fits a life at each of some dependences of suspect removal on failure.
///
/// Age at failure T and age at suspect removal C are joined by the Gumbel-Hougaard copula of their reliabilities, as in
/// [`dependent_curve`](crate::empirical::dependent_curve). T has the family; C has none: its hazard is the copula-graphic
/// estimate, for removal follows the habits of technicians and not a family of lives. At tau 0 the answer is that of
/// [`crate::fit::fit`] with the removals as right-censored, exactly. The life is that of a lamp which nobody takes out early.
///
/// # Formula
/// ```text
/// s = (A^q + B^q)^(1/q),  A = -ln R(t), B = cumulative hazard of removal, q = 1 / (1 - tau)
/// failed at t   f(t) R(t)^-1 exp(-s) (A / s)^(q - 1)
/// removed at t  exp(-s) s^(1 - q), times what does not depend on the life
/// passed t      exp(-s);   entry e: divided by exp(-s) at e
/// ```
/// The hazard of removal is estimated first, then the life is fitted given it; refits draw a weight Gamma(count, 1) for each
/// row (shared by the rows of a cluster, the same at every tau) and repeat both steps.
///
/// # Errors
/// `empirical.tau`, `empirical.suspects`, `empirical.risk_set_emptied`, `empirical.interval_rows`, `empirical.upper`; those
/// of [`crate::fit::fit`]; `fit.dial_family` for families whose likelihood has corners; `fit.dial_replicates` for fewer than
/// 20 refits, but 0; `fit.one_cluster` for refits of lives of a single cluster; `fit.dial_unsettled` where a search does not
/// settle.
///
/// # Source
/// Two steps: J. H. Shih and T. A. Louis (1995), Inferences on the association parameter in copula models for bivariate
/// survival data, Biometrics 51, 1384-1399, there for the copula's parameter (from memory). The rest as
/// [`dependent_curve`](crate::empirical::dependent_curve).
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::empirical::RemovalOptions;
/// use relamp::family::family;
/// use relamp::fit::{DialOptions, removal_dial};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let low: Vec<f64> = (1..=40).map(|i| 200.0 + 60.0 * f64::from(i)).collect();
/// let high = low.iter().enumerate().map(|(i, a)| if i % 2 == 0 { *a } else { f64::INFINITY }).collect();
/// let ending = (0..40).map(|i| if i % 2 == 0 { Ending::Burst } else { Ending::Dim }).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low, high, ending: Some(ending), ..Rows::default() })?;
/// let removal = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
/// let options = DialOptions { removal, taus: vec![0.0, 0.5, 0.8], replicates: 20, ..DialOptions::default() };
/// let dial = removal_dial(family("weibull")?, &tally, &options, &Run::new())?;
/// // The stronger removal is tied to failure, the shorter the life of a lamp that is left alone.
/// let scale = |i: usize| dial.points()[i].parameters[1];
/// assert!(scale(0) > scale(1) && scale(1) > scale(2));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn removal_dial(family: &dyn Family, tally: &Tally, options: &DialOptions, run: &Run) -> Result<RemovalDial> {
    if family.name() == FAILURE_FREE || !family.cuts().is_empty() {
        let what =
            "a likelihood with corners, at the first failure or where ages pass a cut, cannot be tied to removals";
        let problem = Problem::new("fit.dial_family", what).at(Place::input("family")).got(family.name());
        return Err(Error::new(Kind::Refused, problem.expected("weibull, or another smooth family")));
    }
    if (1..20).contains(&options.replicates) {
        let problem =
            Problem::new("fit.dial_replicates", "too few refits for intervals").at(Place::input("replicates"));
        return Err(Error::new(
            Kind::Input,
            problem.got(options.replicates).expected("20 or more, or 0 for no intervals"),
        ));
    }
    let taus = grid(&options.taus)?;
    let events = Events::new(tally, &options.removal)?;
    let plain = ordinary(&events)?;
    let sample = Sample::new(&plain, None, None)?;
    let search = FitOptions { iterations: options.iterations, ..FitOptions::default() };
    let fit = fit_sample(family, &sample, &search, run)?;
    let facts = facts(&sample.count);
    let mut notes = failure_notes(facts.failures);
    if events.suspect_lamps == 0 {
        let text = "no lamp ended in a suspect ending, so the dial changes nothing";
        notes.push(Note::new("fit.dial_no_suspects", text));
    }
    let counts: Vec<f64> = events.tally.count().iter().map(|n| *n as f64).collect();
    let settle = |tau: f64, weights: &[f64], start: &[f64]| -> Result<Vec<f64>> {
        let power = copula_power(tau)?;
        let removed = walk_removals(&events, power, weights)?;
        let best =
            climb(&Dependent { family, events: &events, weights, removed, power }, start, options.iterations, run)?;
        if best.converged() && best.x.iter().all(|c| c.is_finite()) {
            return Ok(best.x);
        }
        let problem = Problem::new("fit.dial_unsettled", "the search at this dependence did not settle")
            .at(Place::input("taus"))
            .got(tau)
            .expected("a dependence further from 1, or a family of fewer parameters");
        Err(Error::new(Kind::Refused, problem))
    };
    let mut best = vec![fit.coordinates().to_vec()];
    for tau in taus.iter().skip(1) {
        let start = best.last().cloned().unwrap_or_default();
        best.push(settle(*tau, &counts, &start)?);
    }
    let clusters = Clusters::new(&events.tally);
    if options.replicates > 0 {
        notes.extend(clusters.note(&events.tally)?);
    }
    let refits = run.map(options.replicates, |i| {
        let mut weights = Vec::with_capacity(events.tally.rows());
        clusters.draw(&events.tally, &mut Stream::new(options.seed, "fit", "removal", i as u64), &mut weights);
        Ok(taus.iter().zip(&best).map(|(tau, start)| settle(*tau, &weights, start).ok()).collect::<Vec<_>>())
    })?;
    let mut points: Vec<DialPoint> = taus
        .iter()
        .zip(&best)
        .map(|(tau, x)| DialPoint {
            tau: *tau,
            coordinates: x.clone(),
            parameters: family.parameters(x),
            refits: Vec::with_capacity(options.replicates),
            unsettled: 0,
        })
        .collect();
    for refit in refits {
        for (point, x) in points.iter_mut().zip(refit?) {
            match x {
                Some(x) => point.refits.push(x),
                None => point.unsettled += 1,
            }
        }
    }
    Ok(RemovalDial {
        family: family.name().to_owned(),
        suspects: options.removal.suspects.clone(),
        suspect_lamps: events.suspect_lamps,
        points,
        endings: shares(&events),
        seed: options.seed,
        facts,
        notes,
    })
}

impl RemovalDial {
    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// The family.
    ///
    /// # Errors
    /// `family.unknown` for a saved dial of a family this version does not know.
    pub fn family(&self) -> Result<&'static dyn Family> {
        family(&self.family)
    }

    /// The endings named as suspect.
    pub fn suspects(&self) -> &[Ending] {
        &self.suspects
    }

    /// Lamps that ended so.
    pub fn suspect_lamps(&self) -> u64 {
        self.suspect_lamps
    }

    /// The life at each dependence, rising from 0.
    pub fn points(&self) -> &[DialPoint] {
        &self.points
    }

    /// Endings of the failures with their shares.
    pub fn endings(&self) -> &[(Ending, f64)] {
        &self.endings
    }

    /// What went in; suspect removals are among the censored.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The life at one of the dependences.
    ///
    /// # Errors
    /// `fit.dial_tau` for one that was not fitted.
    pub fn life(&self, tau: f64) -> Result<Box<dyn Life>> {
        let Some(point) = self.points.iter().find(|p| p.tau == tau) else {
            let known: Vec<String> = self.points.iter().map(|p| p.tau.to_string()).collect();
            let problem = Problem::new("fit.dial_tau", "no life was fitted at this dependence").at(Place::input("tau"));
            return Err(Error::new(Kind::Input, problem.got(tau).expected(known.join(", "))));
        };
        self.family()?.at(&point.coordinates)
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A dial from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
