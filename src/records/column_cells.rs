//! Columns whose cells, as written, belong to another entry of the column map: days among the hours, and strikes that are
//! no numbers.
//!
//! Such rows are set aside or lose their strikes one by one; together they say which two columns are exchanged.

use super::column_map::{Judged, LEAST_A_STRIKE, MOST_WRONG_SHARE, Seen, entry};
use super::column_swaps::{LAST_GOOD_SHARE, MOST_A_STRIKE};
use super::hours::hours;
use super::rows::{Fault, Field, Row, Rows};
use super::rules::median;
use super::{BlankAtFitting, Cell, HoursUnit, LogFormat, NumberFormat, date, number};
use crate::base::error::{Place, Problem};
use crate::base::figure::{counted, short, whole};

/// Fewest cells that hold the wrong thing from which a column is taken for another one.
///
/// Our choice, without a source: a slip of the hand puts one or two cells into the wrong column, not six.
pub(super) const ENOUGH_CELLS: usize = 6;

/// Columns tried in place of the strikes, those without which a log has its lamps and places first.
const ELSEWHERE: [Field; 9] = [
    Field::LastGood,
    Field::Supplier,
    Field::Batch,
    Field::FirstSeen,
    Field::AtFitting,
    Field::Reason,
    Field::Screen,
    Field::Site,
    Field::Serial,
];

fn numbers(format: &LogFormat) -> NumberFormat {
    NumberFormat { decimal: format.decimal, thousands: format.thousands }
}

/// Columns of hours of a log, from row `first` on, that hold days instead, each with the column of days that holds hours.
pub(super) fn days_among_hours(rows: &Rows<'_>, log: u32, first: usize) -> Vec<Problem> {
    let Some(format) = rows.formats.get(log as usize).copied() else { return Vec::new() };
    let told = |rule, field: Field, is: &dyn Fn(&str) -> bool| {
        let column = field.column(format).trim();
        let cells = rows.cells_noted(log, rule).filter(|(of, value)| !column.is_empty() && *of == column && is(value));
        cells.count()
    };
    let a_day = |text: &str| date(text.trim(), format.dates).is_ok();
    let an_hour = |text: &str| hours(Cell::Text(text.trim()), numbers(format), format.hours_unit).is_ok();
    let mut problems = Vec::new();
    for field in [Field::AtFitting, Field::FirstSeen, Field::LastGood] {
        let days = told("records.hours_unreadable", field, &a_day);
        if days < ENOUGH_CELLS {
            continue;
        }
        let good =
            (first..rows.list.len()).filter_map(|i| rows.list.get(i)).filter(|r| holds(r, field, format)).count();
        if days <= good {
            continue;
        }
        let hours_in = [Field::ReadOn, Field::RemovedOn, Field::FittedOn]
            .map(|day| (told("records.date_unreadable", day, &an_hour), day));
        let other = match hours_in.iter().max_by_key(|(n, _)| *n) {
            Some((n, day)) if *n > 0 => format!(
                "; {} holds hours in {}, so the two are most likely exchanged",
                entry(format, *day),
                counted(*n as u64, "cell")
            ),
            // The other column may be blank where lamps have no such hours.
            _ if format.columns.read_on.is_some() => {
                format!("; most likely it is exchanged with {}", entry(format, Field::ReadOn))
            }
            _ => String::new(),
        };
        let what = format!("{} of the column map holds days", entry(format, field));
        let place = Place::input(&format.file).column(field.column(format));
        let got = format!("a day in {}", counted(days as u64, "cell"));
        problems.push(
            Problem::new("records.days_among_hours", what).at(place).got(got).expected(format!("lamp hours{other}")),
        );
    }
    problems
}

/// Whether a row that was read has hours in such a column.
fn holds(row: &Row, field: Field, format: &LogFormat) -> bool {
    let s = &row.spell;
    match field {
        // No blank can be read where a blank is not declared to mean a new lamp.
        Field::AtFitting => format.blank_hours_at_fitting == BlankAtFitting::Unknown || s.fitted_hours != 0.0,
        Field::FirstSeen => s.entry_hours != s.fitted_hours,
        _ => s.low_hours != s.end_hours,
    }
}

impl Seen<'_, '_> {
    /// Whether the strikes are no numbers while another column would do for them; that column, where there is one.
    pub(super) fn strikes_elsewhere(&self, judged: &mut Judged) -> Option<Field> {
        let unread = self.rows.cells_noted(self.log, "records.strikes_unreadable").count();
        if unread < ENOUGH_CELLS {
            return None;
        }
        let of_log = (self.first..self.rows.list.len()).filter_map(|i| self.rows.list.get(i));
        let cells = unread + of_log.filter(|r| r.spell.strikes.is_some()).count();
        if unread as f64 <= MOST_WRONG_SHARE * cells as f64 {
            return None;
        }
        let scale = if self.format.hours_unit == HoursUnit::Minutes { 60.0 } else { 1.0 };
        let text = |text: &str| number(text.trim(), numbers(self.format)).ok();
        let would = |field: Field| {
            let hours = |hours: f64, other: f64| (hours != other).then_some(scale * hours);
            let struck = |r: &Row| match field {
                Field::LastGood => hours(r.spell.low_hours, r.spell.end_hours),
                Field::AtFitting => hours(r.spell.fitted_hours, 0.0),
                Field::FirstSeen => hours(r.spell.entry_hours, r.spell.fitted_hours),
                Field::Supplier => text(self.rows.supplier(r)),
                Field::Batch => text(self.rows.batch(r)),
                Field::Reason => text(self.rows.reason(r)),
                Field::Screen => text(self.rows.screen(r)),
                Field::Site => text(self.rows.site(r)),
                _ => text(self.rows.serial(r)),
            };
            let struck = |r: &Row| struck(r).filter(|n| *n > 0.0 && (n - n.round()).abs() < 1e-6);
            // Strikes among the hours at fitting are none of the hours from which those burned are counted.
            let burned = |r: &Row| if field == Field::AtFitting { r.spell.end_hours } else { r.burned() };
            median(self.sample.iter().filter_map(|r| Some(burned(r) / struck(r)?)).collect(), ENOUGH_CELLS)
        };
        // A reading near the end of a lamp would give an hour and a little for each strike.
        let fits = |field: Field, each: f64| {
            let near = 1.0 / (1.0 - LAST_GOOD_SHARE);
            let least = if field == Field::LastGood { near } else { LEAST_A_STRIKE };
            (least..=MOST_A_STRIKE).contains(&each)
        };
        let found = ELSEWHERE.into_iter().find_map(|field| {
            let each = self.named(field).and_then(|_| would(field)).filter(|each| fits(field, *each))?;
            Some((field, each))
        });
        let (field, each) = found?;
        let told = format!("{} of {}", whole(unread as f64), counted(cells as u64, "cell"));
        let sentence = format!(
            "{} of the column map holds no whole numbers in {told}, where {} would give a median of {} h for each strike: the \
             two are most likely exchanged",
            self.entry(Field::Strikes),
            self.entry(field),
            short(each)
        );
        judged.doubts.push(Fault::new("records.strikes_elsewhere", Field::Strikes, sentence).of(told));
        Some(field)
    }

    /// The strikes, where they would do as last good readings: near the end of the lamps, as strikes never are.
    pub(super) fn strikes_near_the_end(&self) -> Option<String> {
        let entry = self.named(Field::Strikes)?;
        let scale = if self.format.hours_unit == HoursUnit::Minutes { 60.0 } else { 1.0 };
        let between = |r: &&Row| Some((r.spell.end_hours - r.spell.strikes? as f64 / scale) / r.burned());
        let shares = self.sample.iter().filter_map(between).filter(|s| s.is_finite()).collect();
        let usual = median(shares, ENOUGH_CELLS)?;
        (0.0..=LAST_GOOD_SHARE).contains(&usual).then_some(entry)
    }
}
