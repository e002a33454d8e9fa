//! Whether the rows of a log bear out the column map: a column can be read in every row and still be another one than
//! the map says.
//!
//! Each rule looks at the middle of many rows, never at one, so that a few bad rows change nothing and a short log is
//! left alone. What no lamp can show is refused; what only seems odd is a finding about the whole log, see
//! [`super::WHOLE_LOG`].

use std::collections::BTreeMap;

use super::column_cells::days_among_hours;
use super::column_swaps::about;
use super::hours::hours;
use super::rows::{Fault, Field, Row, Rows};
use super::rules::median;
use super::{Cell, HoursUnit, LogFormat, NumberFormat, Reading, ReasonMap, Spell};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short, whole};

/// Fewest rows from which a log as a whole is judged.
///
/// Our choice, without a source: the middle of twenty rows stays where it is when a few of them are wrong.
pub(super) const ENOUGH_ROWS: usize = 20;
/// Rows looked at for the middle of a log, spread evenly over it; more of them would not move it.
pub(super) const MOST_ROWS: usize = 10_000;
/// Fewest days from fitting to the last reading from which a row says how many hours a day a lamp burns.
pub(super) const FAIR_DAYS: i64 = 14;
/// Hours a day that the lamp in the middle of a log may burn: 24 at most, by the calendar; below the least, three
/// minutes a day, the column holds something else.
///
/// The least is our choice, without a source: so little is no programme of any screen.
const POSSIBLE_A_DAY: (f64, f64) = (0.05, 24.0);
/// Hours a day below which that lamp is doubted.
///
/// Common practice, no source: even a screen with one show at each weekend burns as much.
const LEAST_A_DAY: f64 = 0.5;
/// Hours for each strike below which hours and strikes are in each other's place.
///
/// Common practice, no source: a lamp is struck once a show or less, 1 to 6 times a day.
pub(super) const LEAST_A_STRIKE: f64 = 1.0;
/// How far the hours a day may lie from the programme hours, as a factor either way.
///
/// Our choice, without a source: programmes change over the years and by season, by less than this; strikes read as
/// hours lie further off, at about a third.
const PROGRAMME_SPREAD: f64 = 2.5;
/// Share of the reasons given above which the reason map is doubted where it lacks them.
///
/// Our choice, without a source: a map made for a log has most of its texts.
const MOST_UNMAPPED_SHARE: f64 = 0.5;
/// Share of the endings up to which those with a mapped reason are taken for chance.
///
/// Our choice, without a source: where planned changes are left blank, the failures still have their reasons.
const MAPPED_BY_CHANCE: f64 = 0.02;
/// Share of the rows above which a column that holds the wrong thing makes the log unusable.
///
/// Our choice, without a source: most of the rows.
pub(super) const MOST_WRONG_SHARE: f64 = 0.5;

/// Rule of a log whose hours a day are odd.
const HOURS_A_DAY: &str = "records.hours_a_day";

/// What a log as a whole has against its column map.
#[derive(Default)]
pub(super) struct Judged {
    pub(super) refused: Vec<Problem>,
    pub(super) doubts: Vec<Fault>,
}

/// Judges a log of which every row is taken, those from `first` on, out of so many records.
///
/// # Errors
/// `records.hours_a_day`, `records.hours_and_strikes`, `records.hours_first_seen`, `records.days_among_hours`,
/// `records.place_holds_reasons`, `records.removals_undated`, all of the log together. What is only doubtful is noted in `rows`.
pub(super) fn judge(rows: &mut Rows<'_>, log: u32, first: usize, records: u64, reasons: &ReasonMap) -> Result<()> {
    let Some(format) = rows.formats.get(log as usize).copied() else { return Ok(()) };
    let step = (rows.list.len() - first).div_ceil(MOST_ROWS).max(1);
    let sample: Vec<&Row> = (first..rows.list.len()).step_by(step).filter_map(|i| rows.list.get(i)).collect();
    let seen = Seen { rows, log, first, format, sample };
    let mut judged = Judged::default();
    seen.removals(records, &mut judged);
    let struck = !seen.hours_a_day(&mut judged) && (seen.strikes(&mut judged) || seen.screens_struck(&mut judged));
    if !seen.places(reasons, &mut judged) {
        seen.reasons(&mut judged);
        if !struck {
            seen.in_turn(&mut judged);
        }
    }
    seen.first_seen(&mut judged);
    seen.suppliers(&mut judged);
    seen.fitted_new(&mut judged);
    let strikes = seen.strikes_elsewhere(&mut judged);
    if strikes != Some(Field::LastGood) {
        seen.last_good(&mut judged);
    }
    seen.unread(&mut judged, strikes.map(|_| Field::Strikes));
    judged.refused.extend(days_among_hours(seen.rows, log, first));
    if !judged.refused.is_empty() {
        return Err(Error::many(Kind::Input, judged.refused));
    }
    judged.doubts.into_iter().for_each(|doubt| rows.doubt_log(log, doubt));
    Ok(())
}

/// A log and the rows of it that are looked at.
pub(super) struct Seen<'r, 'a> {
    pub(super) rows: &'r Rows<'a>,
    pub(super) log: u32,
    pub(super) first: usize,
    pub(super) format: &'a LogFormat,
    pub(super) sample: Vec<&'r Row>,
}

impl Seen<'_, '_> {
    /// An entry of the column map.
    pub(super) fn entry(&self, field: Field) -> String {
        entry(self.format, field)
    }

    pub(super) fn problem(&self, slug: &'static str, field: Field, what: String) -> Problem {
        Problem::new(slug, what).at(Place::input(&self.format.file).column(field.column(self.format)))
    }

    /// The middle of the hours a day if a row had these hours at its end.
    fn a_day(&self, end: impl Fn(&Row) -> Option<f64>) -> Option<f64> {
        let fair = self.sample.iter().filter(|r| r.days() >= FAIR_DAYS);
        let rates = fair.filter_map(|r| Some((end(r)? - r.spell.fitted_hours) / r.days() as f64));
        median(rates.collect(), ENOUGH_ROWS)
    }

    /// Whether the hours a day gave rise to anything.
    fn hours_a_day(&self, judged: &mut Judged) -> bool {
        let Some(usual) = self.a_day(|r| Some(r.spell.end_hours)) else { return false };
        if likely(usual) {
            return false;
        }
        let slug = HOURS_A_DAY;
        let told = format!("a median of {} h a day from fitting to removal or last reading", short(usual));
        let other = self.other_hours(usual);
        let possible = usual >= POSSIBLE_A_DAY.0 && usual <= POSSIBLE_A_DAY.1;
        let column = self.entry(Field::Hours);
        if possible && other.is_empty() {
            let sentence = format!(
                "{column} of the column map gives {told}, less than any screen is used: does it hold the lamp hours, in {}?",
                self.format.hours_unit.as_str()
            );
            judged.doubts.push(Fault::new(slug, Field::Hours, sentence).of(format!("{} h a day", short(usual))));
            return true;
        }
        let what = format!("{column} of the column map does not give the hours of lamps");
        let expected = format!("{} to 24 h a day{other}", short(LEAST_A_DAY));
        judged.refused.push(self.problem(slug, Field::Hours, what).got(told).expected(expected));
        true
    }

    /// Where the hours are more likely to be, as the end of a sentence; nothing where no place is known.
    fn other_hours(&self, usual: f64) -> String {
        let (other, factor) = match self.format.hours_unit {
            HoursUnit::Hours => (HoursUnit::Minutes, 1.0 / 60.0),
            HoursUnit::Minutes => (HoursUnit::Hours, 60.0),
        };
        if likely(usual * factor) {
            let told = short(usual * factor);
            return format!("; hours_unit = \"{}\" would give {told}", other.as_str());
        }
        let numbers = NumberFormat { decimal: self.format.decimal, thousands: self.format.thousands };
        let unit = self.format.hours_unit;
        let screens = self.a_day(|r| hours(Cell::Text(self.rows.screen(r)), numbers, unit).ok().flatten());
        match screens.filter(|rate| likely(*rate)) {
            Some(rate) => format!(
                "; {} would give {} as the hours: the two are most likely exchanged",
                self.entry(Field::Screen),
                short(rate)
            ),
            None => String::new(),
        }
    }

    /// Whether the hours for each strike gave rise to anything.
    fn strikes(&self, judged: &mut Judged) -> bool {
        let struck = |r: &Row| r.spell.strikes.filter(|n| *n > 0).map(|n| n as f64);
        let each = self.sample.iter().filter_map(|r| Some(r.burned() / struck(r)?));
        let Some(usual) = median(each.collect(), ENOUGH_ROWS).filter(|usual| *usual < LEAST_A_STRIKE) else {
            return false;
        };
        let slug = "records.hours_and_strikes";
        let (hours, strikes) = (self.entry(Field::Hours), self.entry(Field::Strikes));
        let told = format!("a median of {} h for each strike", short(usual));
        // A counter of the projector goes on from lamp to lamp; its strikes are too many to be hours.
        if let Some(rate) = self.a_day(struck).filter(|rate| likely(*rate)) {
            let what = format!("{hours} and {strikes} of the column map are most likely exchanged");
            let expected = format!(
                "{} h or more; the other way round the lamps burn {} h a day; leave strikes out of the map if it is right",
                short(LEAST_A_STRIKE),
                short(rate)
            );
            judged.refused.push(self.problem(slug, Field::Hours, what).got(told).expected(expected));
        } else {
            let sentence =
                format!("{hours} and {strikes} of the column map give {told}: one of them is another column");
            judged.doubts.push(Fault::new(slug, Field::Strikes, sentence).of(format!("{} h a strike", short(usual))));
        }
        true
    }

    /// Whether sites or screens are texts of the reason map.
    fn places(&self, reasons: &ReasonMap, judged: &mut Judged) -> bool {
        let before = judged.refused.len();
        let ended = || self.sample.iter().filter(|r| !r.open());
        for field in [Field::Site, Field::Screen] {
            let text = |r: &&&Row| if field == Field::Site { self.rows.site(r) } else { self.rows.screen(r) };
            let named = ended().filter(|r| !text(r).is_empty()).count();
            let mapped = ended().filter(|r| reasons.get(text(r)).is_some()).count();
            if mapped < ENOUGH_ROWS || mapped as f64 <= MOST_WRONG_SHARE * named as f64 {
                continue;
            }
            let what = format!("{} of the column map holds texts of the reason map", self.entry(field));
            let got = format!("{} of {}", whole(mapped as f64), counted(named as u64, "removed lamp"));
            let expected = format!("names of places; {} is most likely exchanged with it", self.entry(Field::Reason));
            judged.refused.push(self.problem("records.place_holds_reasons", field, what).got(got).expected(expected));
        }
        judged.refused.len() > before
    }

    fn reasons(&self, judged: &mut Judged) {
        let open = self.rows.open.len() - self.rows.open.partition_point(|&i| i < self.first);
        let ended = self.rows.list.len() - self.first - open;
        let noted = |rule| self.rows.noted(self.log, rule);
        let (blank, unmapped) = (noted("records.reason_blank"), noted("records.reason_unmapped"));
        let (given, mapped) = (ended.saturating_sub(blank), ended.saturating_sub(blank + unmapped));
        let few = mapped as f64 <= MAPPED_BY_CHANCE * ended as f64;
        if ended < ENOUGH_ROWS || !(few || unmapped as f64 > MOST_UNMAPPED_SHARE * given as f64) {
            return;
        }
        let of_ended = format!("{} of {}", whole((blank + unmapped) as f64), counted(ended as u64, "ending"));
        let sentence = format!(
            "{of_ended} ({} %) have no mapped reason, so they are unknown and never failures: does {} of the column map hold \
             the reasons, and has the reason map their texts?",
            whole(100.0 * (blank + unmapped) as f64 / ended as f64),
            self.entry(Field::Reason)
        );
        judged.doubts.push(Fault::new("records.reasons_unmapped", Field::Reason, sentence).of(of_ended));
    }

    fn removals(&self, records: u64, judged: &mut Judged) {
        let undated = self.rows.noted(self.log, "records.removal_undated");
        if undated < ENOUGH_ROWS || undated as f64 <= MOST_WRONG_SHARE * records as f64 {
            return;
        }
        let column = self.entry(Field::RemovedOn);
        let what = format!("{column} of the column map is blank where a reason of removal is given");
        let got = format!("{} of {}", whole(undated as f64), counted(records, "row"));
        let other =
            self.format.columns.read_on.as_ref().map_or_else(String::new, |_| {
                format!("; {} is most likely exchanged with it", self.entry(Field::ReadOn))
            });
        let expected = format!("the column with the day of removal{other}");
        let problem = self.problem("records.removals_undated", Field::RemovedOn, what);
        judged.refused.push(problem.got(got).expected(expected));
    }
}

fn likely(a_day: f64) -> bool {
    (LEAST_A_DAY..=POSSIBLE_A_DAY.1).contains(&a_day)
}

/// An entry of the column map, as a study file has it.
pub(super) fn entry(format: &LogFormat, field: Field) -> String {
    let column = field.column(format);
    let mut named = format.columns.named();
    let name = named.find(|(_, other)| *other == column).map_or("", |(name, _)| name);
    format!("{name} = \"{column}\"")
}

impl Reading {
    /// Notes each log whose hours a day lie far from the programme hours a week that are declared for its screens, given
    /// site and screen; nothing is noted where the log is doubted already, and a log that seemed to burn less than any
    /// screen is no longer doubted where its programme hours are declared so.
    pub(crate) fn doubt_by_programme(&mut self, formats: &[LogFormat], hours_per_week: impl Fn(&str, &str) -> f64) {
        let mut weekly: BTreeMap<(&str, &str), f64> = BTreeMap::new();
        let (mut doubts, mut as_declared) = (Vec::new(), Vec::new());
        let each: Vec<Spell<'_>> = self.spells.iter().collect();
        for spells in each.chunk_by(|a, b| a.file == b.file) {
            let file = spells.first().map_or("", |s| s.file);
            let Some(format) = formats.iter().find(|f| f.file == file) else { continue };
            let days = |s: &Spell<'_>| (s.read_on - s.fitted_on).num_days();
            let fair = spells.iter().step_by(spells.len().div_ceil(MOST_ROWS)).filter(|s| days(s) >= FAIR_DAYS);
            let (mut burned, mut declared) = (Vec::new(), Vec::new());
            for s in fair {
                let week = *weekly.entry((s.site, s.screen)).or_insert_with(|| hours_per_week(s.site, s.screen));
                burned.push((s.end_hours - s.fitted_hours) / days(s) as f64);
                declared.push(week / 7.0);
            }
            let shares = burned.iter().zip(&declared).filter(|d| *d.1 > 0.0).map(|(b, d)| b / d).collect();
            let Some(share) = median(shares, ENOUGH_ROWS) else { continue };
            if (1.0 / PROGRAMME_SPREAD..=PROGRAMME_SPREAD).contains(&share) {
                as_declared.push(format.file.clone());
                continue;
            }
            let (burned, declared) = (median(burned, 1).unwrap_or(0.0), median(declared, 1).unwrap_or(0.0));
            let sentence = format!(
                "{} of the column map gives a median of {} h a day where the programme hours declared are {}: one of the two \
                 is not what it is taken for",
                entry(format, Field::Hours),
                short(burned),
                short(declared)
            );
            let told = format!("{} h a day", short(burned));
            doubts.push(about(format, Field::Hours, "records.hours_against_programme", told, sentence));
        }
        self.ledger.findings.retain(|f| f.rule != HOURS_A_DAY || !as_declared.contains(&f.file));
        for doubt in doubts {
            let findings = &self.ledger.findings;
            if !findings.iter().any(|f| f.file == doubt.file && f.rule == HOURS_A_DAY) {
                self.doubt(formats, doubt);
            }
        }
    }
}
