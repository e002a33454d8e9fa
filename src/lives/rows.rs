//! Rows as a caller hands them in, and every rule that a row must keep.
//!
//! | row | `low` | `high` | rule |
//! |---|---|---|---|
//! | exact failure | age at failure | the same | `entry < low`, or both 0 |
//! | right-censored | last age seen working | infinite | `entry <= low`; at `entry = low` it adds nothing and is kept |
//! | failure known to an interval (low, high] | last age seen working | first age found failed | `entry < high`; an entry inside raises `low` to it, with a note |
//! | left-censored (0, high] | 0 | first age found failed | with late entry it becomes (entry, high] |
//!
//! Ages are finite hours from 0; -0.0 is 0.0; NaN is refused. `upper` is the age past which a failure would not have been
//! seen (files of claims): such a row is a failure with `entry < high <= upper`. A row of count 0 is kept. An exact failure
//! at age 0 is good for a curve, not for a parametric fit: give it as the interval (0, first meter step].

use rayon::prelude::*;

use super::covariates::{self, Covariate};
use super::tally::Group;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::records::Ending;

/// Rows of censored lives, column by column; the optional columns may be left out.
///
/// Without `ending`, a failure is coded [`Ending::Unknown`] (its cause is not known) and any other row
/// [`Ending::Running`]. Whether a row is a failure is said by `high`, never by its ending.
///
/// # Examples
/// ```
/// use relamp::lives::{Rows, Tally};
/// let rows = Rows {
///     low: vec![900.0, 1500.0, 1500.0],
///     high: vec![900.0, f64::INFINITY, f64::INFINITY],
///     ..Rows::default()
/// };
/// let (tally, notes) = Tally::from_rows(&rows).unwrap();
/// assert_eq!((tally.rows(), tally.lamps(), tally.failures()), (2, 3, 1));
/// assert!(notes.is_empty());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rows {
    /// Age at failure, last age seen working, or left end of the interval, `(n,)`, hours.
    pub low: Vec<f64>,
    /// The same age, infinity, or right end of the interval, `(n,)`, hours.
    pub high: Vec<f64>,
    /// Age at which the row came under observation, `(n,)`, hours; 0 without it.
    pub entry: Option<Vec<f64>>,
    /// Age past which a failure would not have been seen, `(n,)`, hours; infinite without it.
    pub upper: Option<Vec<f64>>,
    /// Why each row ended, `(n,)`.
    pub ending: Option<Vec<Ending>>,
    /// Index of each row into `groups`, `(n,)`; without it all rows form one group.
    pub group: Option<Vec<u32>>,
    /// The group table; one empty [`Group`] where `group` is left out and this is empty.
    pub groups: Vec<Group>,
    /// Names and kinds of the covariates that the groups hold, in the order of names; see [`Rows::with_covariates`].
    pub covariates: Vec<Covariate>,
    /// How many lives each row stands for, `(n,)`; 1 without it.
    pub count: Option<Vec<u64>>,
}

/// Counts above 2^53 would not be exact as floats.
pub(super) const MOST_LIVES: u64 = 1 << 53;
/// Problems kept one by one; more are counted.
const MOST_PROBLEMS: usize = 100_000;
const BLOCK: usize = 16_384;

/// One row with its rules applied; ordered by the canonical order of a tally, the count left out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub low: f64,
    pub high: f64,
    pub entry: f64,
    pub upper: f64,
    pub group: u32,
    pub ending: u16,
    pub count: u64,
}

impl Row {
    /// Ages are 0 or above, so the order of their bits is the order of the numbers.
    fn key(&self) -> (u64, u64, u64, u64, u32, u16) {
        (self.low.to_bits(), self.high.to_bits(), self.entry.to_bits(), self.upper.to_bits(), self.group, self.ending)
    }

    pub(super) fn order(&self, other: &Self) -> std::cmp::Ordering {
        self.key().cmp(&other.key())
    }

    pub(super) fn same(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

/// What one pass over the rows learnt.
#[derive(Clone, Debug, Default)]
pub(super) struct Facts {
    pub notes: Vec<Problem>,
    /// Largest low where all lows are whole hours, no row is an interval, enters late, has an upper or a count of 0.
    pub plain_to: Option<u64>,
    /// Whether every row is an exact failure or right-censored and none enters late.
    pub points: bool,
}

#[derive(Default)]
struct Judged {
    problems: Vec<Problem>,
    notes: Vec<Problem>,
    plain_to: Option<u64>,
    points: bool,
    lives: u64,
}

fn at(column: &str, i: usize) -> Place {
    Place::input("rows").row(i as u64 + 1).column(column)
}

impl Rows {
    /// Whole counts from numbers that came as floats.
    ///
    /// # Errors
    /// `lives.count_not_whole` for each count that is negative, fractional, NaN or too large to be exact.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::Rows;
    /// assert_eq!(Rows::whole_counts(&[1.0, 12.0]).unwrap(), [1, 12]);
    /// assert_eq!(Rows::whole_counts(&[0.5]).unwrap_err().slug(), "lives.count_not_whole");
    /// ```
    pub fn whole_counts(counts: &[f64]) -> Result<Vec<u64>> {
        let most = MOST_LIVES as f64;
        // From 2^53 on neighbours round to the same float, so one of them would be taken for another.
        let bad = |x: f64| !(x >= 0.0 && x < most && x.fract() == 0.0);
        let problems: Vec<Problem> = counts
            .iter()
            .enumerate()
            .filter(|&(_, &x)| bad(x))
            .take(MOST_PROBLEMS)
            .map(|(i, &x)| {
                Problem::new("lives.count_not_whole", "count is not a whole number of lives")
                    .at(at("count", i))
                    .got(x)
                    .expected("a whole number from 0 to 2^53 - 1")
            })
            .collect();
        if problems.is_empty() {
            Ok(counts.iter().map(|&x| x as u64).collect())
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.low.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.low.is_empty()
    }

    /// Low, high and entry of a row, with -0.0 made 0.0 and an interval cut at its entry. `None` past the end.
    #[inline]
    pub(super) fn ages(&self, i: usize) -> Option<[f64; 3]> {
        let entry = value_or(self.entry.as_deref(), i, 0.0)? + 0.0;
        let high = *self.high.get(i)? + 0.0;
        let mut low = *self.low.get(i)? + 0.0;
        if low < high && high < f64::INFINITY && low < entry && entry < high {
            low = entry;
        }
        Some([low, high, entry])
    }

    /// The row as given, its ages as by [`Rows::ages`]. `None` past the end.
    #[inline]
    pub(super) fn row(&self, i: usize) -> Option<Row> {
        self.row_with(i, self.ages(i)?)
    }

    /// The row whose ages are known already.
    #[inline]
    pub(super) fn row_with(&self, i: usize, [low, high, entry]: [f64; 3]) -> Option<Row> {
        let unstated = if high == f64::INFINITY { Ending::Running } else { Ending::Unknown };
        Some(Row {
            low,
            high,
            entry,
            upper: value_or(self.upper.as_deref(), i, f64::INFINITY)? + 0.0,
            group: value_or(self.group.as_deref(), i, 0)?,
            ending: value_or(self.ending.as_deref(), i, unstated)?.code(),
            count: value_or(self.count.as_deref(), i, 1)?,
        })
    }

    /// Applies every rule to every row, in parallel blocks kept in order.
    pub(super) fn check(&self) -> Result<Facts> {
        let wrong = self.wrong_lengths();
        if wrong.is_empty() {
            return self.judge(Vec::new());
        }
        // What is there is judged all the same, so that every bad row is told at once.
        self.evened().judge(wrong)
    }

    /// The rows with every column as long as `low`: what a column does not say is filled in so that it breaks no rule.
    fn evened(&self) -> Self {
        let n = self.len();
        let whole = self.high.len().min(n);
        let mut out = self.clone();
        out.high.resize(n, f64::INFINITY);
        if let Some(entry) = &mut out.entry {
            entry.resize(n, 0.0);
        }
        if let Some(upper) = &mut out.upper {
            // Without its high a row looks right-censored, which no row with an upper may be.
            upper.truncate(whole);
            upper.resize(n, f64::INFINITY);
        }
        if let Some(ending) = &mut out.ending {
            ending.truncate(whole);
            ending.resize(n, Ending::Unknown);
        }
        if let Some(group) = &mut out.group {
            let first = group.first().copied().unwrap_or(0);
            group.resize(n, first);
        }
        if let Some(count) = &mut out.count {
            count.resize(n, 0);
        }
        out
    }

    /// Judges rows whose columns are of one length, after the problems that are known already.
    fn judge(&self, known: Vec<Problem>) -> Result<Facts> {
        let n = self.len();
        let groups = if self.group.is_none() && self.groups.is_empty() { 1 } else { self.groups.len() };
        let blocks: Vec<Judged> = (0..n.div_ceil(BLOCK))
            .into_par_iter()
            .map(|b| self.judge_block(b * BLOCK..n.min((b + 1) * BLOCK), groups))
            .collect();
        let mut all = Judged { problems: known, plain_to: Some(0), points: true, ..Judged::default() };
        let mut more = 0_u64;
        let mut lives = Some(0_u64);
        for block in blocks {
            let room = MOST_PROBLEMS.saturating_sub(all.problems.len());
            more += block.problems.len().saturating_sub(room) as u64;
            all.problems.extend(block.problems.into_iter().take(room));
            all.notes.extend(block.notes);
            all.points &= block.points;
            all.plain_to = all.plain_to.zip(block.plain_to).map(|(a, b)| a.max(b));
            lives = lives.and_then(|sum| sum.checked_add(block.lives)).filter(|&sum| sum <= MOST_LIVES);
        }
        if lives.is_none() {
            all.problems.push(too_many_lives());
        }
        if more > 0 {
            all.problems.push(Problem::new(
                "lives.more_problems",
                format!("{} in further rows", counted(more, "more problem")),
            ));
        }
        if all.problems.is_empty() {
            Ok(Facts { notes: all.notes, plain_to: all.plain_to, points: all.points })
        } else {
            Err(Error::many(Kind::Input, all.problems))
        }
    }

    fn wrong_lengths(&self) -> Vec<Problem> {
        let n = self.len();
        let lengths = [
            ("high", Some(self.high.len())),
            ("entry", self.entry.as_ref().map(Vec::len)),
            ("upper", self.upper.as_ref().map(Vec::len)),
            ("ending", self.ending.as_ref().map(Vec::len)),
            ("group", self.group.as_ref().map(Vec::len)),
            ("count", self.count.as_ref().map(Vec::len)),
        ];
        let mut problems: Vec<Problem> = lengths
            .into_iter()
            .filter_map(|(column, length)| length.filter(|&l| l != n).map(|l| (column, l)))
            .map(|(column, length)| {
                Problem::new("lives.length", "columns differ in length")
                    .at(Place::input("rows").column(column))
                    .got(length)
                    .expected(format!("{n}, the length of low"))
            })
            .collect();
        covariates::check(&self.covariates, &self.groups, &mut problems);
        problems
    }

    /// Low and high of some rows where the rows hold nothing else; `None` where a row may say more.
    pub(super) fn bare(&self, range: std::ops::Range<usize>) -> Option<impl Iterator<Item = (f64, f64)>> {
        let optional = [self.entry.is_some(), self.upper.is_some(), self.ending.is_some(), self.group.is_some()];
        if optional.contains(&true) || self.count.is_some() {
            return None;
        }
        let ages = self.low.get(range.clone())?.iter().zip(self.high.get(range)?);
        Some(ages.map(|(low, high)| (low + 0.0, high + 0.0)))
    }

    /// The judgement on rows of two columns that keep every rule, without a branch for each; `None` if one may not.
    fn judge_bare(&self, range: std::ops::Range<usize>) -> Option<Judged> {
        // Added and taken away, it leaves whole numbers alone and rounds others; beyond it ages count as not whole.
        const ROUNDS: f64 = 4_503_599_627_370_496.0; // 2^52
        let lives = range.len() as u64;
        let (mut good, mut whole, mut most) = (true, true, 0.0);
        for (low, high) in self.bare(range)? {
            good &= low == high || high == f64::INFINITY;
            good &= (0.0..f64::INFINITY).contains(&low);
            whole &= (low + ROUNDS) - ROUNDS == low;
            most = if low > most { low } else { most };
        }
        let plain_to = (whole && most < ROUNDS).then_some(most as u64);
        good.then(|| Judged { plain_to, points: true, lives, ..Judged::default() })
    }

    fn judge_block(&self, range: std::ops::Range<usize>, groups: usize) -> Judged {
        if groups > 0
            && let Some(judged) = self.judge_bare(range.clone())
        {
            return judged;
        }
        let mut judged = Judged { plain_to: Some(0), points: true, ..Judged::default() };
        for i in range {
            let Some(row) = self.row(i) else { continue };
            // Above the limit one row is already too many; saturating keeps the sum from wrapping.
            judged.lives = judged.lives.saturating_add(row.count);
            let exact = row.low == row.high;
            // Most rows are an exact failure or right-censored and keep every rule: no more need be asked of those.
            let good = (exact || row.high == f64::INFINITY)
                && row.low >= 0.0
                && row.low < f64::INFINITY
                && (row.entry == 0.0 || (row.entry > 0.0 && (row.entry < row.low || (!exact && row.entry == row.low))))
                && row.upper == f64::INFINITY
                && row.count <= MOST_LIVES
                && (row.group as usize) < groups
                && !(exact && (row.ending == Ending::Running.code() || says_it_worked(row.ending)));
            judged.points &= good && row.entry == 0.0;
            if !good {
                judged.plain_to = None;
                self.judge_row(i, &row, groups, &mut judged);
            } else if let Some(most) = judged.plain_to {
                let plain = row.entry == 0.0 && row.count > 0 && row.low.fract() == 0.0;
                judged.plain_to = plain.then(|| most.max(row.low as u64));
            }
        }
        judged
    }

    fn judge_row(&self, i: usize, row: &Row, groups: usize, judged: &mut Judged) {
        let before = judged.problems.len();
        let mut bad = |slug, column, what: &str, got: String, expected: &str| {
            judged.problems.push(Problem::new(slug, what).at(at(column, i)).got(got).expected(expected));
        };
        // The given low, as `row` may have raised it.
        let low = self.low.get(i).map_or(f64::NAN, |x| x + 0.0);
        let number = |column, x: f64, may_be_infinite: bool, bad: &mut dyn FnMut(_, _, &str, String, &str)| {
            if x.is_nan() {
                bad("lives.age_not_a_number", column, "age is not a number", "NaN".to_owned(), "hours from 0");
            } else if x < 0.0 {
                bad("lives.age_negative", column, "age is negative", x.to_string(), "hours from 0");
            } else if x == f64::INFINITY && !may_be_infinite {
                bad("lives.age_infinite", column, "age is infinite", x.to_string(), "finite hours");
            }
        };
        number("low", low, false, &mut bad);
        // An exact negative or NaN age stands in both columns; one problem says it.
        if low.to_bits() != row.high.to_bits() {
            number("high", row.high, true, &mut bad);
        }
        number("entry", row.entry, false, &mut bad);
        number("upper", row.upper, true, &mut bad);
        if row.group as usize >= groups {
            let expected = format!("below {groups}, the length of the group table");
            bad("lives.group_unknown", "group", "group is not in the group table", row.group.to_string(), &expected);
        }
        if row.high < f64::INFINITY && row.ending == Ending::Running.code() {
            let what = "a running lamp cannot be a failure";
            bad("lives.running_failed", "ending", what, "running".to_owned(), "another ending, or high infinite");
        }
        if row.count > MOST_LIVES {
            bad("lives.count_too_large", "count", "count is too large", row.count.to_string(), "at most 2^53");
        }
        if judged.problems.len() == before {
            judge_order(i, low, row, judged);
        }
    }
}

fn says_it_worked(ending: u16) -> bool {
    Ending::WORKED.iter().any(|e| e.code() == ending)
}

/// The rules between the ages of one row whose ages are good one by one.
fn judge_order(i: usize, low: f64, row: &Row, judged: &mut Judged) {
    let before = judged.problems.len();
    let mut bad = |slug, column, what: &str, got: f64, expected: String| {
        judged.problems.push(Problem::new(slug, what).at(at(column, i)).got(got).expected(expected));
    };
    let Row { high, entry, upper, .. } = *row;
    if low > high {
        bad("lives.low_above_high", "low", "low is greater than high", low, format!("at most high, {high}"));
    } else if low == high {
        if entry >= low && entry > 0.0 {
            let what = "entry is not before the failure";
            bad("lives.entry_not_before_failure", "entry", what, entry, format!("below {low}"));
        }
    } else if high == f64::INFINITY {
        if entry > low {
            let what = "entry is after the last age seen working";
            bad("lives.entry_after_censoring", "entry", what, entry, format!("at most {low}"));
        }
        if upper < f64::INFINITY {
            let what = "a row that is seen only if it fails by its upper cannot be right-censored";
            bad("lives.upper_of_censored", "upper", what, upper, format!("none, or the interval ({low}, {upper}]"));
        }
    } else if entry >= high {
        let what = "entry is not before the end of the interval";
        bad("lives.entry_not_before_interval_end", "entry", what, entry, format!("below {high}"));
    }
    if high < f64::INFINITY && low <= high && high > upper {
        let what = "failure lies past the age at which it could still be seen";
        bad("lives.failure_above_upper", "upper", what, upper, format!("at least {high}"));
    }
    if judged.problems.len() == before && high < f64::INFINITY && says_it_worked(row.ending) {
        let what = "the ending says that the lamp worked, but high makes the row a failure";
        let note = Problem::new("lives.worked_but_failed", what).at(at("high", i)).got(high);
        judged.notes.push(note.expected("no high, as of a right-censored life"));
    }
    if judged.problems.len() == before && low > 0.0 && row.low > low {
        judged.notes.push(
            Problem::new("lives.low_raised_to_entry", "entry lies inside the interval; low was raised to it")
                .at(at("low", i))
                .got(low)
                .expected(format!("({entry}, {high}] is used")),
        );
    }
}

pub(super) fn too_many_lives() -> Problem {
    Problem::new("lives.too_many_lives", "the counts add up to too many lives")
        .at(Place::input("rows").column("count"))
        .expected("at most 2^53 in all, so that counts stay exact")
}

/// The value of an optional column; `None` only past the end of a column that is there.
fn value_or<T: Copy>(column: Option<&[T]>, i: usize, default: T) -> Option<T> {
    match column {
        Some(values) => values.get(i).copied(),
        None => Some(default),
    }
}
