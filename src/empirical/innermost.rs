//! The stretches of age that can hold mass, and each row as a range of them.

use crate::lives::Tally;

/// Rows of a tally in terms of the stretches `0..stretches`; the last one ends the ages, so a row that reaches it is open.
#[derive(Clone, Debug, Default)]
pub(super) struct Ranges {
    /// Ends of each stretch, (from, to]; `from == to` for a single age.
    pub ends: Vec<(f64, f64)>,
    /// First and last stretch in which a row may have failed.
    pub first: Vec<usize>,
    pub last: Vec<usize>,
    /// First stretch at which a row was under observation.
    pub entry: Vec<usize>,
    pub count: Vec<f64>,
    /// Age that everything is given survival to.
    pub from: f64,
    /// Lamps set aside because the curve is 0 before they came under observation.
    pub set_aside: u64,
}

impl Ranges {
    pub fn stretches(&self) -> usize {
        self.ends.len()
    }
}

/// One row cut at the age that survival is given to.
struct Row {
    left: Point,
    right: Point,
    entry: f64,
    count: u64,
}

/// An age, and whether it means just before it, at it or just after it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
struct Point(f64, u8);

const BEFORE: u8 = 0;
const AT: u8 = 1;
const AFTER: u8 = 2;

impl Point {
    fn order(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0).then(self.1.cmp(&other.1))
    }
}

/// The rows past an age; those that ended by then add nothing. The second answer counts lamps whose interval begins before that age and ends past it: the
/// records do not say on which side they failed.
fn rows_past(tally: &Tally, from: f64) -> (Vec<Row>, u64) {
    let (mut rows, mut straddling) = (Vec::with_capacity(tally.rows()), 0);
    for i in 0..tally.rows() {
        let (low, high, count) = (tally.low()[i], tally.high()[i], tally.count()[i]);
        let entry = tally.entry().map_or(0.0, |e| e[i]);
        if count == 0 {
            continue;
        }
        let known_to = if high < f64::INFINITY { high } else { low };
        // An age of 0 given survival to 0 is no age to leave out.
        if from > 0.0 && known_to <= from {
            continue;
        }
        if low < from && high < f64::INFINITY && low < high {
            straddling += count;
            continue;
        }
        let left = if low == high { Point(low, BEFORE) } else { Point(low, AFTER) };
        rows.push(Row { left, right: Point(high, AT), entry: entry.max(from), count });
    }
    (rows, straddling)
}

/// The innermost intervals of a tally past an age, or the number of lamps whose interval straddles it.
///
/// Mass can only stand where a left end is followed at once by a right end: elsewhere it could be moved to where more rows
/// count it. Ages of entry are right ends too, because mass before them is outside what the row is judged by.
pub(super) fn ranges(tally: &Tally, given: f64) -> Result<Ranges, u64> {
    let (rows, straddling) = rows_past(tally, given);
    let first_entry = rows.iter().map(|r| r.entry).fold(f64::INFINITY, f64::min);
    let from = if first_entry < f64::INFINITY { first_entry } else { given };
    if straddling > 0 {
        return Err(straddling);
    }
    let mut points: Vec<(Point, bool)> = Vec::with_capacity(3 * rows.len());
    for row in &rows {
        points.push((row.left, true));
        points.push((row.right, false));
        if row.entry > from {
            points.push((Point(row.entry, AT), false));
        }
    }
    points.sort_unstable_by(|a, b| a.0.order(&b.0).then(b.1.cmp(&a.1)));
    let (mut lefts, mut rights) = (Vec::new(), Vec::new());
    for pair in points.windows(2) {
        if let [(left, true), (right, false)] = pair {
            lefts.push(*left);
            rights.push(*right);
        }
    }
    let mut out =
        Ranges { ends: lefts.iter().zip(&rights).map(|(l, r)| (l.0, r.0)).collect(), from, ..Ranges::default() };
    for row in &rows {
        out.first.push(lefts.partition_point(|l| l.order(&row.left).is_lt()));
        out.last.push(rights.partition_point(|r| r.order(&row.right).is_le()).saturating_sub(1));
        let late = row.entry > from;
        out.entry.push(if late { rights.partition_point(|r| r.order(&Point(row.entry, AT)).is_le()) } else { 0 });
        out.count.push(row.count as f64);
    }
    cut_where_none_is_left(&mut out);
    Ok(out)
}

/// Where no lamp under observation is known to have outlived a stretch, the likelihood is highest with all that is left of
/// the mass in it: the curve is 0 from there on, and lamps that came under observation later say nothing about it.
fn cut_where_none_is_left(ranges: &mut Ranges) {
    let stretches = ranges.stretches();
    let mut passes = vec![0.0; stretches + 1];
    for ((&first, &entry), &count) in ranges.first.iter().zip(&ranges.entry).zip(&ranges.count) {
        passes[entry] += count;
        passes[first] -= count;
    }
    let mut outlive = 0.0;
    let sunk = passes.iter().take(stretches).position(|change| {
        outlive += change;
        outlive == 0.0
    });
    let Some(end) = sunk.filter(|&k| k + 1 < stretches) else { return };
    ranges.ends.truncate(end + 1);
    let kept: Vec<usize> = (0..ranges.first.len()).filter(|&i| ranges.entry[i] <= end).collect();
    let all: f64 = ranges.count.iter().sum();
    ranges.first = kept.iter().map(|&i| ranges.first[i]).collect();
    ranges.last = kept.iter().map(|&i| ranges.last[i].min(end)).collect();
    ranges.entry = kept.iter().map(|&i| ranges.entry[i]).collect();
    ranges.count = kept.iter().map(|&i| ranges.count[i]).collect();
    ranges.set_aside = (all - ranges.count.iter().sum::<f64>()) as u64;
}
