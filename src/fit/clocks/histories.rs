//! Lives with the current that each burned at, piece by piece.

use std::collections::{BTreeMap, BTreeSet};

use super::surface::{Along, Clock};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::as_saved;
use crate::fit::covariates::ValueIs;
use crate::lives::Rows;

/// Most problems that one refusal lists.
const MOST_PROBLEMS: usize = 100;

/// A stretch of the hours of a life with the current that it burned at.
#[derive(Clone, Debug, PartialEq)]
pub struct CurrentPiece {
    /// Name of the life.
    pub life: String,
    /// Hours of the lamp at its start.
    pub from_hours: f64,
    /// Hours of the lamp at its end.
    pub to_hours: f64,
    /// Current, in whatever unit; only ratios count.
    pub current: f64,
}

/// Lives by name, and what each burned at from its first hour to its last.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Histories {
    /// Name of each life, `(n,)`. A life that was out of sight for a while stands in one row for each stretch at risk, the
    /// later ones with their entry.
    pub life: Vec<String>,
    /// The lives in the same order; without `upper`, groups and counts.
    pub rows: Rows,
    /// The pieces, in any order.
    pub pieces: Vec<CurrentPiece>,
    /// What the current of a life with a single one stands for; only [`ValueIs::ConstantOverLife`] is taken.
    pub single: Option<ValueIs>,
}

/// The pieces of each life in order of hours: (from, to, ln current over the mean).
#[derive(Clone, Debug)]
pub(super) struct Wear {
    pieces: Vec<Vec<(f64, f64, f64)>>,
    /// Mean of ln current over the hours under observation.
    pub(super) ln_mean: f64,
    /// Standard deviation of the same.
    spread: f64,
    farthest: f64,
    pub(super) lowest: f64,
    pub(super) highest: f64,
}

fn problem(slug: &'static str, what: &str, table: &str, row: usize, column: &str) -> Problem {
    Problem::new(slug, what.to_owned()).at(Place::input(table).row(row as u64 + 1).column(column))
}

/// Whether two numbers of hours are one but for the rounding of the sums that they come from.
fn same_hour(a: f64, b: f64) -> bool {
    (a - b).abs() <= 8.0 * f64::EPSILON * a.max(b)
}

impl Histories {
    /// Whether the columns stand together; the rules of the lives themselves are those of a tally.
    fn columns(&self) -> Vec<Problem> {
        let n = self.rows.low.len();
        let mut problems = Vec::new();
        if self.single.is_some_and(|is| is != ValueIs::ConstantOverLife) {
            let what = "only a current that held all along stands for a whole life: no last reading, and no setting at fitting \
                        that was raised later";
            let problem = Problem::new("fit.history_single", what).at(Place::input("single"));
            problems.push(problem.got(as_saved(&self.single)).expected("constant_over_life, or none"));
        }
        let mut refuse = |column: &str, what: &str, got: String, expected: &str| {
            let place = Place::input("lives").column(column);
            problems.push(Problem::new("fit.history_lives", what).at(place).got(got).expected(expected.to_owned()));
        };
        if self.life.len() != n {
            refuse("life", "one name for each life is needed", self.life.len().to_string(), &n.to_string());
        }
        for (column, there) in [
            ("upper", self.rows.upper.is_some()),
            ("group", self.rows.group.is_some()),
            ("count", self.rows.count.is_some()),
        ] {
            if there {
                refuse(column, "lives with histories stand one by one", column.to_owned(), "no such column");
            }
        }
        problems
    }

    /// The rows of each life in order of hours, the lives in that of their first row.
    fn stretches(&self) -> Vec<Vec<usize>> {
        let mut place: BTreeMap<&str, usize> = BTreeMap::new();
        let mut out: Vec<Vec<usize>> = Vec::new();
        for (i, name) in self.life.iter().enumerate() {
            let k = *place.entry(name).or_insert(out.len());
            if k == out.len() {
                out.push(Vec::new());
            }
            out[k].push(i);
        }
        for rows in &mut out {
            rows.sort_by(|a, b| self.entry(*a).total_cmp(&self.entry(*b)));
        }
        out
    }

    fn entry(&self, row: usize) -> f64 {
        self.rows.entry.as_ref().and_then(|entry| entry.get(row)).copied().unwrap_or(0.0)
    }

    fn high(&self, row: usize) -> f64 {
        self.rows.high.get(row).copied().unwrap_or(f64::INFINITY)
    }

    /// Whether the rows of one life follow each other, and only the last one ends it.
    fn follow(&self, rows: &[usize], problems: &mut Vec<Problem>) {
        for pair in rows.windows(2) {
            let [before, after] = *pair else { continue };
            let mut refuse = |row: usize, column: &str, what: &str, got: f64, expected: String| {
                problems.push(
                    problem("fit.history_lives", what, "lives", row, column)
                        .got(format!("{got} of {}", self.life[row]))
                        .expected(expected),
                );
            };
            let (end, entry) = (self.rows.low[before], self.entry(after));
            if entry < end && !same_hour(entry, end) {
                let what = "one name for two lives, or stretches of one life that overlap";
                refuse(after, "entry", what, entry, format!("from {end}, where row {} ends", before + 1));
            } else if self.high(before) < f64::INFINITY {
                let what = "a life that fails before its last stretch";
                refuse(before, "high", what, self.high(before), format!("none, as row {} goes on", after + 1));
            }
        }
    }

    fn bad_numbers(&self) -> Vec<Problem> {
        let known: BTreeSet<&str> = self.life.iter().map(String::as_str).collect();
        let mut problems = Vec::new();
        for (i, piece) in self.pieces.iter().enumerate() {
            let mut refuse = |column: &str, what: &str, got: String, expected: &str| {
                let problem = problem("fit.history_piece", what, "pieces", i, column);
                problems.push(problem.got(got).expected(expected.to_owned()));
            };
            if !known.contains(piece.life.as_str()) {
                refuse(
                    "life",
                    "a piece of a life that is not among the lives",
                    piece.life.clone(),
                    "the name of a life",
                );
            }
            if !(piece.from_hours >= 0.0 && piece.from_hours.is_finite()) {
                refuse("from_hours", "not hours of a lamp", piece.from_hours.to_string(), "hours from 0");
            }
            if !(piece.to_hours > piece.from_hours && piece.to_hours.is_finite()) {
                let after = format!("hours after {}", piece.from_hours);
                refuse("to_hours", "a piece that does not end after its start", piece.to_hours.to_string(), &after);
            }
            if !(piece.current > 0.0 && piece.current.is_finite()) {
                refuse("current", "not a current", piece.current.to_string(), "above 0");
            }
        }
        problems
    }

    /// The pieces of one life, whose last row is `i`, against the hours that must be known.
    fn judge(&self, i: usize, own: &[usize], problems: &mut Vec<Problem>) {
        let name = &self.life[i];
        let high = self.high(i);
        let needed = if high < f64::INFINITY { high } else { self.rows.low[i] };
        let Some((first, last)) = own.first().zip(own.last()) else {
            let what = "a life without a current";
            problems.push(problem("fit.history_gap", what, "lives", i, "life").got(name).expected("pieces from 0 h"));
            return;
        };
        let piece = |k: usize| &self.pieces[k];
        // However often one value is written down: a reading copied to every spell of a lamp is still one reading.
        let single = own.iter().all(|k| piece(*k).current.total_cmp(&piece(*first).current).is_eq());
        if single && self.single != Some(ValueIs::ConstantOverLife) {
            let what = "a single current for a whole life: a last reading follows the age, as a current is raised because \
                        a lamp fades";
            let problem = problem("fit.history_single", what, "pieces", *first, "current").got(name);
            problems.push(problem.expected("the history in pieces, or the declaration that it was constant over life"));
        }
        let gap = |k: usize, column: &str, what: &str, got: f64, expected: f64| {
            problem("fit.history_gap", what, "pieces", k, column).got(got).expected(format!("{expected}, of {name}"))
        };
        if piece(*first).from_hours != 0.0 {
            let what = "the current of the first hours is not known";
            problems.push(gap(*first, "from_hours", what, piece(*first).from_hours, 0.0));
        }
        for pair in own.windows(2) {
            if let [a, b] = pair
                && !same_hour(piece(*a).to_hours, piece(*b).from_hours)
            {
                let what = "a piece does not start where the one before it ends";
                problems.push(gap(*b, "from_hours", what, piece(*b).from_hours, piece(*a).to_hours));
            }
        }
        let end = piece(*last).to_hours;
        if end > needed && !same_hour(end, needed) {
            let what = "the current goes on past the last age at which the lamp was seen";
            problems.push(gap(*last, "to_hours", what, end, needed));
        }
        if end < needed && !same_hour(end, needed) {
            let what = "the current of the last hours is not known";
            problems.push(gap(*last, "to_hours", what, end, needed));
        }
    }

    /// The clock of the lives.
    pub(super) fn wear(&self) -> Result<Wear> {
        let mut problems = self.columns();
        problems.extend(self.bad_numbers());
        let mut own: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (k, piece) in self.pieces.iter().enumerate() {
            own.entry(&piece.life).or_default().push(k);
        }
        let stretches = if problems.is_empty() { self.stretches() } else { Vec::new() };
        for rows in &stretches {
            self.follow(rows, &mut problems);
        }
        if problems.is_empty() {
            for of in own.values_mut() {
                of.sort_by(|a, b| self.pieces[*a].from_hours.total_cmp(&self.pieces[*b].from_hours));
            }
            for last in stretches.iter().filter_map(|rows| rows.last()) {
                self.judge(*last, own.get(self.life[*last].as_str()).map_or(&[], Vec::as_slice), &mut problems);
            }
        }
        if !problems.is_empty() {
            problems.truncate(MOST_PROBLEMS);
            return Err(Error::many(Kind::Input, problems));
        }
        let all: f64 = self.pieces.iter().map(|p| p.to_hours - p.from_hours).fold(0.0, |a, b| a + b);
        let mean = |of: &dyn Fn(f64) -> f64| {
            let sum = self.pieces.iter().map(|p| (p.to_hours - p.from_hours) * of(p.current.ln()));
            sum.fold(0.0, |a, b| a + b) / all
        };
        let ln_mean = mean(&|ln| ln);
        let spread = mean(&|ln| (ln - ln_mean).powi(2)).sqrt();
        let currents = || self.pieces.iter().map(|p| p.current);
        let piece = |k: &usize| {
            let p = &self.pieces[*k];
            (p.from_hours, p.to_hours, p.current.ln() - ln_mean)
        };
        let pieces: Vec<Vec<_>> =
            self.life.iter().map(|name| own.get(name.as_str()).into_iter().flatten().map(piece).collect()).collect();
        let farthest = pieces.iter().flatten().fold(0.0_f64, |m, p| m.max(p.2.abs()));
        let (lowest, highest) = (currents().fold(f64::INFINITY, f64::min), currents().fold(0.0, f64::max));
        Ok(Wear { pieces, ln_mean, spread, farthest, lowest, highest })
    }
}

impl Wear {
    /// Whether any current differs from another.
    pub(super) fn varies(&self) -> bool {
        self.spread > 0.0
    }
}

impl Clock for Wear {
    fn read(&self, lamp: usize, hours: f64, power: f64) -> (Along, Along) {
        let mut age = [0.0; 3];
        let mut ln = 0.0;
        for (from, to, ln_current) in self.pieces.get(lamp).into_iter().flatten() {
            if hours <= *from {
                break;
            }
            ln = *ln_current;
            let worn = (hours.min(*to) - from) * (power * ln).exp();
            age[0] += worn;
            age[1] += ln * worn;
            age[2] += ln * ln * worn;
        }
        (age, [power * ln, ln, 0.0])
    }

    fn allows(&self, power: f64) -> bool {
        (power * self.farthest).abs() < 300.0
    }

    fn floor(&self) -> f64 {
        f64::NEG_INFINITY
    }

    fn step(&self) -> f64 {
        (1.0 / self.spread).min(100.0)
    }
}
