//! What the owner of a study declares: one TOML file.
//!
//! Start with [`Declaration::read`]. Every problem of the file is reported at once, with line, key, value and what
//! was expected; an unknown key is a problem, so that a misspelt one is never passed over.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;
use std::path::Path;

use chrono::{Datelike, NaiveDate};
use serde::Serialize;
use toml::de::DeTable;

use super::answers::{Answer, read_answers};
use super::declare_claims::{ClaimFile, read_claim_file};
use super::declare_class::{LampClass, read_class};
use super::declare_ending::{LastBuyPlan, Stop, read_last_buys, read_stops};
use super::declare_log::read_logs;
use super::declare_places::{Stores, read_stores, told_once};
use super::season::{Paces, Season, check_days, read_season};
use super::unquoted::mended;
use super::value::{Entries, Value, entries};
use super::walk::{Bound, Document, Section};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::records::{Ending, LogFormat, Table, distance, fold};

/// Draws of a study: with fewer the ends of an interval are those of the draws, more cost memory for nothing.
pub(super) const FEWEST_DRAWS: usize = crate::policy::FEWEST_DRAWS;
/// Most draws of a study. Our choice, without a source: what a machine of today holds in memory.
pub(super) const MOST_DRAWS: usize = 100_000;

/// Largest study file read, bytes.
pub const LARGEST_STUDY_BYTES: u64 = 1 << 20;

/// Last year of an as-of date: a forecast and the stops after it still have years of four digits.
const LAST_YEAR: i32 = 9899;

/// A study file that passed every check. Only [`Declaration::read`] and [`Declaration::parse`] make it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Declaration {
    /// Name of the study.
    pub name: String,
    /// Its note; empty for none.
    pub note: String,
    /// The day the study speaks of.
    pub as_of: NaiveDate,
    /// Day of the newest export; the latest `exported_on` of the logs unless declared.
    pub newest_export: NaiveDate,
    /// Currency of every amount.
    pub currency: String,
    /// Seed of every random number.
    pub seed: u64,
    /// Number of possible worlds drawn for intervals.
    pub draws: usize,
    /// Endings that count as failures of the lamp.
    pub failure_endings: Vec<Ending>,
    /// What holds for the whole chain.
    pub chain: Chain,
    /// Programme hours of a site or screen that differ from the chain's.
    pub programme: Vec<Programme>,
    /// How programme hours run over the year; none for the same hours every day.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub season: Option<Season>,
    /// The same laid out over the days.
    #[serde(skip)]
    pub(super) paces: Paces,
    /// Line of the study file of each of its special days.
    #[serde(skip)]
    pub(super) special_day_lines: Vec<u64>,
    /// Logs, in the order declared.
    pub logs: Vec<LogFormat>,
    /// The user's reasons and the endings they stand for, as written.
    pub reasons: Vec<(String, Ending)>,
    /// Line of the study file on which each of them stands.
    #[serde(skip)]
    pub(super) reason_lines: Vec<u64>,
    /// What the owner has answered of what the records ask.
    pub answers: Vec<Answer>,
    /// Lamp classes, in the order declared.
    pub classes: Vec<LampClass>,
    /// Depots, and the file of a stock count.
    pub stores: Stores,
    /// Claims that were filed and papers at hand; none where no file is declared.
    pub claim_file: Option<ClaimFile>,
    /// Screens that stop, in the order declared.
    pub stops: Vec<Stop>,
    /// Last buys, in the order declared.
    pub last_buys: Vec<LastBuyPlan>,
}

/// What holds for the whole chain.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Chain {
    /// Length of a show.
    pub show_minutes: f64,
    /// Days between planned visits.
    pub visit_interval_days: u32,
    /// Months to forecast.
    pub forecast_months: u32,
    /// Chance of no shortage over the lead time.
    pub service_target: f64,
    /// Wanted chance that a lamp that is needed finds one on the shelf; none where it is not asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill_rate_target: Option<f64>,
    /// Programme hours of a screen unless declared otherwise.
    pub hours_per_week: f64,
}

/// Programme hours of one site, or of one screen of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Programme {
    /// Site.
    pub site: String,
    /// Screen; none for every screen of the site.
    pub screen: Option<String>,
    /// Hours.
    pub hours_per_week: f64,
    /// Line of the study file it stands on.
    pub line: u64,
}

/// A study file as far as it can be read.
pub(super) struct Parts {
    /// Beside mistakes it is of use for one thing: to look for more in the files that it names.
    pub(super) declared: Option<Declaration>,
    /// Every mistake.
    pub(super) problems: Vec<Problem>,
    /// Every file that it names.
    pub(super) files: Vec<String>,
}

impl Declaration {
    /// Reads a study file.
    ///
    /// # Errors
    /// `study.unreadable` for a file that cannot be read, `study.too_large` past 1 MiB, `study.not_utf8`, and those of
    /// [`Declaration::parse`].
    pub fn read(path: &Path) -> Result<Self> {
        Self::parse(&Self::text(path)?, &path.to_string_lossy())
    }

    /// The text of a study file.
    pub(super) fn text(path: &Path) -> Result<String> {
        let name = path.to_string_lossy();
        let io = |e: std::io::Error| {
            let problem = Problem::new("study.unreadable", "the study file cannot be read");
            Error::new(Kind::Io, problem.at(Place::input(&*name)).got(&e).expected("a readable TOML file"))
                .with_source(e)
        };
        let mut bytes = Vec::new();
        let file = std::fs::File::open(path).map_err(io)?;
        file.take(LARGEST_STUDY_BYTES + 1).read_to_end(&mut bytes).map_err(io)?;
        if bytes.len() as u64 > LARGEST_STUDY_BYTES {
            let problem = Problem::new("study.too_large", "the study file is too large");
            let problem = problem.at(Place::input(&*name)).expected(format!("at most {LARGEST_STUDY_BYTES} bytes"));
            return Err(Error::new(Kind::Limit, problem));
        }
        String::from_utf8(bytes).map_err(|e| {
            let at = e.utf8_error().valid_up_to();
            let line =
                String::from_utf8_lossy(e.as_bytes().get(..at).unwrap_or_default()).matches('\n').count() as u64 + 1;
            let problem = Problem::new("study.not_utf8", "the study file is not UTF-8");
            Error::new(Kind::Study, problem.at(Place::input(&*name).line(line)).expected("UTF-8 text"))
        })
    }

    /// Reads a study from its text; `name` names the file in messages.
    ///
    /// # Errors
    /// Kind `Study` with every problem at once: `study.toml` for text that is not TOML, `study.key_missing`,
    /// `study.key_unknown`, `study.ending_unknown`, `study.number_out_of_range` and their like, each with line and key.
    pub fn parse(text: &str, name: &str) -> Result<Self> {
        Self::parse_in_folder(text, name, false)
    }

    /// The same, with the paths of logs held below the folder of the file if wanted.
    pub(super) fn parse_in_folder(text: &str, name: &str, inside_folder: bool) -> Result<Self> {
        match Self::parts(text, name, inside_folder) {
            Parts { declared: Some(declared), problems, .. } if problems.is_empty() => Ok(declared),
            Parts { problems, .. } => Err(Error::many(Kind::Study, problems)),
        }
    }

    /// What can be read of a study file, and every mistake in it.
    pub(super) fn parts(text: &str, name: &str, inside_folder: bool) -> Parts {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut doc = Document::new(name, text);
        doc.inside_folder = inside_folder;
        let mended = mended(text);
        let root = DeTable::parse_recoverable(&mended.text).0;
        let root = entries(root.get_ref(), &mended.put_aside);
        // Where the file falls apart, every key would seem to be missing.
        let unknown = unknown_headings(&root, text, name);
        let meant = as_meant(text, &unknown);
        // Not where a heading is there as it should be too: its keys would then stand twice.
        if meant != text && (!mended.is_whole() || self::mended(&meant).is_whole()) {
            // With the heading that is meant, whatever else is wrong can be told beside the slip.
            let mut parts = Self::parts(&meant, name, inside_folder);
            parts.problems.extend(unknown.into_iter().map(told_with_what_is_meant));
            parts.problems.sort_by_key(|p| p.place.line);
            return parts;
        }
        let unknown = if mended.is_whole() { Vec::new() } else { unknown };
        let declared = if mended.tell(&mut doc, text, unknown) { None } else { walk(&mut doc, &root) };
        // As they stand in the file, whatever the order in which keys are asked for.
        doc.problems.sort_by_key(|p| p.place.line);
        Parts { declared, problems: doc.problems, files: doc.files }
    }

    /// Programme hours a week of a screen: its own, else its site's, else the chain's.
    pub fn hours_per_week(&self, site: &str, screen: &str) -> f64 {
        let site = fold(site);
        let screen = fold(screen);
        let mut found = self.chain.hours_per_week;
        let mut own = false;
        for p in self.programme.iter().filter(|p| fold(&p.site) == site) {
            match &p.screen {
                Some(s) if fold(s) == screen => return p.hours_per_week,
                None if !own => {
                    found = p.hours_per_week;
                    own = true;
                }
                _ => {}
            }
        }
        found
    }
}

/// What a file says of tables that no study has: a slip in the heading of one makes what stands below it seem wrong.
fn unknown_headings(root: &Entries, text: &str, name: &str) -> Vec<Problem> {
    let mut doc = Document::new(name, text);
    walk(&mut doc, root);
    let heads =
        |word: &str| text.split('\n').any(|line| parts_of_heading(line).is_some_and(|h| h.parts.contains(&word)));
    doc.problems.into_iter().filter(|p| p.slug == "study.key_unknown" && heads(last_key(p))).collect()
}

/// The key that a problem is about, without the table it stands in.
fn last_key(problem: &Problem) -> &str {
    let column = problem.place.column.as_deref().unwrap_or_default();
    column.rsplit_once('.').map_or(column, |(_, key)| key)
}

/// Tables of a study file.
const HEADINGS: [&str; 14] = [
    "answer",
    "chain",
    "claims",
    "class",
    "depot",
    "last_buy",
    "log",
    "programme",
    "reasons",
    "season",
    "special_days",
    "stock_count",
    "stop",
    "study",
];

/// Tables that stand within those.
const HEADINGS_WITHIN: [&str; 3] = ["columns", "costs", "warranty"];

/// The name of a table that a word which is none looks like a slip of.
fn meant_by(word: &str, names: &'static [&'static str]) -> Option<&'static str> {
    let nearest = names.iter().min_by_key(|name| distance(&fold(word), name))?;
    (!names.contains(&word) && Table::near(&fold(word), nearest)).then_some(nearest)
}

fn told_with_what_is_meant(mut slip: Problem) -> Problem {
    let within = slip.place.column.as_deref().is_some_and(|column| column.contains('.'));
    let names: &[&str] = if within { &HEADINGS_WITHIN } else { &HEADINGS };
    if let Some(meant) = meant_by(last_key(&slip), names) {
        slip.expected = format!("{meant}, as which it is read here; {}", slip.expected);
    }
    slip
}

/// A line such as `[[class]]` or `[class.costs]`.
struct Heading<'a> {
    brackets: usize,
    parts: Vec<&'a str>,
    rest: &'a str,
}

fn parts_of_heading(line: &str) -> Option<Heading<'_>> {
    let brackets = line.len() - line.trim_start_matches('[').len();
    let end = line.find(']').filter(|_| brackets > 0)?;
    Some(Heading { brackets, parts: line.get(brackets..end)?.split('.').collect(), rest: line.get(end..)? })
}

/// The text with each heading that is none in the form of the one that it looks like a slip of.
fn as_meant(text: &str, unknown: &[Problem]) -> String {
    let slips: Vec<&str> = unknown.iter().map(last_key).collect();
    let meant = |(depth, part): (usize, &str)| -> String {
        let names: &[&str] = if depth == 0 { &HEADINGS } else { &HEADINGS_WITHIN };
        let slip = slips.contains(&part);
        meant_by(part, names).filter(|_| slip).unwrap_or(part).to_owned()
    };
    let line = |line: &str| match parts_of_heading(line) {
        Some(Heading { brackets, parts, rest }) => {
            let parts: Vec<String> = parts.into_iter().enumerate().map(meant).collect();
            format!("{}{}{rest}", "[".repeat(brackets), parts.join("."))
        }
        None => line.to_owned(),
    };
    text.split('\n').map(line).collect::<Vec<_>>().join("\n")
}

/// Every section in turn; a section with problems gives none, and the others are still read.
fn walk(doc: &mut Document<'_>, root: &Entries) -> Option<Declaration> {
    let mut top = Section::new("", 0, root);
    if let Some(format) = top.needed_whole(doc, "format", 0, u64::MAX).filter(|&f| f != 1) {
        let problem = Problem::new("study.format_version", "this format of study file is not known here");
        let place = top.place(doc, "format");
        doc.add(problem.at(place).got(format).expected("format = 1"));
    }
    let study = top.needed_table(doc, "study", "[study]");
    let chain = top.needed_table(doc, "chain", "[chain]").and_then(|s| read_chain(doc, s));
    let programme = read_programme(doc, &mut top);
    let season = read_season(doc, &mut top);
    let logs = read_logs(doc, &mut top);
    let answers = read_answers(doc, &mut top);
    let claim_file = read_claim_file(doc, &mut top);
    let reasons = top.table(doc, "reasons", "[reasons]");
    let line = |doc: &Document<'_>, s: &Section<'_>, key| s.place(doc, key).line.unwrap_or(0);
    let reason_lines =
        reasons.as_ref().map_or_else(Vec::new, |s| s.entries().map(|(key, _)| line(doc, s, key)).collect());
    let reasons = reasons.map_or_else(Vec::new, |s| read_reasons(doc, &s));
    let head = study.and_then(|s| read_head(doc, s, &logs));
    let failures = head.as_ref().map_or_else(|| Ending::FAILURES.to_vec(), |h| h.failure_endings.clone());
    let tables = top.tables(doc, "class");
    if tables.is_empty() && !doc.told(&top, "class") {
        top.missing(doc, "class", "at least one table [[class]]");
    }
    // Names are compared whatever else is wrong with their classes.
    same_name_twice(doc, &tables);
    let classes: Vec<Option<LampClass>> =
        tables.into_iter().map(|section| read_class(doc, section, &failures)).collect();
    let classes: Option<Vec<LampClass>> = classes.into_iter().collect();
    if claim_file.is_some() && classes.as_ref().is_some_and(|all| all.iter().all(|c| c.warranty.is_none())) {
        top.missing(doc, "warranty", "the terms of the claims in a table [class.warranty] of their class");
    }
    let as_of = head.as_ref().map(|h| h.as_of);
    let stores = read_stores(doc, &mut top, as_of);
    let stops = read_stops(doc, &mut top, as_of);
    let last_buys = read_last_buys(doc, &mut top, as_of, classes.as_deref());
    top.finish(doc);
    let (mut head, chain, classes) = (head?, chain?, classes?);
    head.chain = chain;
    head.programme = programme;
    head.logs = logs;
    head.reasons = reasons;
    head.reason_lines = reason_lines;
    head.answers = answers;
    told_once(doc, &stores, &classes);
    head.stores = stores;
    head.classes = classes;
    head.claim_file = claim_file;
    (head.stops, head.last_buys) = (stops, last_buys);
    head.paces = Paces::of(season.season.as_ref(), head.as_of);
    (head.season, head.special_day_lines) = (season.season, season.lines);
    check_days(doc, &head, season.line);
    Some(head)
}

fn read_head(doc: &mut Document<'_>, mut s: Section<'_>, logs: &[LogFormat]) -> Option<Declaration> {
    let name = s.needed_text(doc, "name");
    let note = s.text(doc, "note").unwrap_or_default();
    let as_of = s.needed_date(doc, "as_of");
    let currency = s.needed_text(doc, "currency");
    let seed = s.needed_whole(doc, "seed", 0, i64::MAX as u64);
    let draws = s.whole(doc, "draws", FEWEST_DRAWS as u64, MOST_DRAWS as u64).unwrap_or(400);
    let newest = s.date(doc, "newest_export").or_else(|| logs.iter().map(|l| l.exported_on).max());
    let mut failure_endings = Ending::FAILURES.to_vec();
    if let Some(words) = s.texts(doc, "failure_endings") {
        failure_endings = words.iter().filter_map(|w| failure_ending(doc, &s, "failure_endings", w)).collect();
        failure_endings.sort_unstable();
        failure_endings.dedup();
        if words.is_empty() {
            s.missing(doc, "failure_endings", "at least one ending that counts as a failure");
        }
    }
    if let (Some(as_of), Some(newest)) = (as_of, newest)
        && as_of < newest
    {
        let problem = Problem::new("study.as_of", "the as-of date lies before the newest export");
        let place = s.place(doc, "as_of");
        doc.add(problem.at(place).got(as_of).expected(format!("{newest} or later")));
    }
    if let Some(late) = as_of.filter(|day| day.year() > LAST_YEAR) {
        let problem = Problem::new("study.as_of", "the as-of date lies further ahead than days can be written");
        doc.add(problem.at(s.place(doc, "as_of")).got(late).expected(format!("a year up to {LAST_YEAR}")));
    }
    s.finish(doc);
    let as_of = as_of?;
    Some(Declaration {
        name: name?,
        note,
        as_of,
        newest_export: newest.unwrap_or(as_of),
        currency: currency?,
        seed: seed?,
        draws: draws as usize,
        failure_endings,
        chain: Chain {
            show_minutes: 0.0,
            visit_interval_days: 0,
            forecast_months: 0,
            service_target: 0.0,
            fill_rate_target: None,
            hours_per_week: 0.0,
        },
        programme: Vec::new(),
        season: None,
        paces: Paces::default(),
        special_day_lines: Vec::new(),
        logs: Vec::new(),
        reasons: Vec::new(),
        reason_lines: Vec::new(),
        answers: Vec::new(),
        classes: Vec::new(),
        stores: Stores::default(),
        claim_file: None,
        stops: Vec::new(),
        last_buys: Vec::new(),
    })
}

/// An ending that may count as a failure: what was planned, still burns or is unknown never does.
pub(super) fn failure_ending(doc: &mut Document<'_>, s: &Section<'_>, key: &str, word: &str) -> Option<Ending> {
    let found = Ending::parse(word).filter(|e| e.is_failure() || *e == Ending::Other);
    if found.is_none() {
        let expected = format!("one of {}, other", Ending::FAILURES.map(Ending::as_str).join(", "));
        let problem = Problem::new("study.ending_unknown", format!("{word} is not an ending that can be a failure"));
        let place = s.place(doc, key);
        doc.add(problem.at(place).got(format!("\"{word}\"")).expected(expected));
    }
    found
}

fn read_chain(doc: &mut Document<'_>, mut s: Section<'_>) -> Option<Chain> {
    let show_minutes = s.needed_number(doc, "show_minutes", Bound::Positive);
    let visit = s.needed_whole(doc, "visit_interval_days", 1, 3650);
    let months = s.needed_whole(doc, "forecast_months", 1, 36);
    let service_target = s.needed_number(doc, "service_target", Bound::Target);
    let fill_rate_target = s.number(doc, "fill_rate_target", Bound::Target);
    let hours_per_week = s.needed_number(doc, "hours_per_week", Bound::HoursOfAWeek);
    s.finish(doc);
    Some(Chain {
        show_minutes: show_minutes?,
        visit_interval_days: u32::try_from(visit?).ok()?,
        forecast_months: u32::try_from(months?).ok()?,
        service_target: service_target?,
        fill_rate_target,
        hours_per_week: hours_per_week?,
    })
}

fn read_programme(doc: &mut Document<'_>, top: &mut Section<'_>) -> Vec<Programme> {
    let mut all: Vec<Programme> = Vec::new();
    for mut s in top.tables(doc, "programme") {
        let site = s.needed_text(doc, "site");
        let screen = s.text(doc, "screen");
        let hours = s.needed_number(doc, "hours_per_week", Bound::HoursOfAWeek);
        s.finish(doc);
        let (Some(site), Some(hours_per_week)) = (site, hours) else { continue };
        let key = |site: &str, screen: &Option<String>| (fold(site), screen.as_deref().map(fold));
        if all.iter().any(|p| key(&p.site, &p.screen) == key(&site, &screen)) {
            let problem =
                Problem::new("study.programme_twice", "the programme hours of this screen are declared twice");
            let place = s.place(doc, "site");
            doc.add(problem.at(place).got(&site).expected("one entry for each site or screen"));
        }
        let line = doc.place(s.offset()).line.unwrap_or(0);
        all.push(Programme { site, screen, hours_per_week, line });
    }
    all
}

/// The map of reasons: each of the user's own words with its ending.
pub(super) fn read_reasons(doc: &mut Document<'_>, s: &Section<'_>) -> Vec<(String, Ending)> {
    let mut reasons: Vec<(String, Ending)> = Vec::new();
    for (key, value) in s.entries() {
        let place = s.place(doc, key);
        let ending = value.as_text().and_then(Ending::parse);
        let Some(ending) = ending else {
            let words: Vec<&str> = Ending::ALL.iter().map(|e| e.as_str()).collect();
            let problem = Problem::new("study.ending_unknown", "this is not an ending");
            let expected = doc.in_marks(value, &format!("one of {}", words.join(", ")));
            doc.add(problem.at(place).got(value.shown()).expected(expected));
            continue;
        };
        let folded = fold(key);
        if folded.is_empty() {
            let problem = Problem::new("study.reason_blank", "a blank reason cannot be mapped");
            doc.add(problem.at(place).expected("a text; blank reasons are unknown"));
        } else if reasons.iter().any(|(k, e)| k != key && fold(k) == folded && *e != ending) {
            // Written alike, it is a key that stands twice.
            let problem = Problem::new("study.reason_twice", "the same reason is mapped to two endings");
            doc.add(problem.at(place).got(ending).expected("one ending for each reason"));
        }
        reasons.push((key.to_owned(), ending));
    }
    reasons
}

fn same_name_twice(doc: &mut Document<'_>, classes: &[Section<'_>]) {
    let mut seen = BTreeSet::new();
    for class in classes {
        let value = |key: &str| class.entries().find(|(k, _)| *k == key).map(|(_, value)| value);
        let own = value("name").and_then(Value::as_text);
        let others = value("also_called").and_then(Value::as_list).unwrap_or_default();
        let others = others.iter().filter_map(|node| node.value.as_text());
        // By what is compared, each with a name as its owner wrote it.
        let names: BTreeMap<String, &str> =
            own.into_iter().chain(others).map(|name| (fold(name), name)).filter(|(key, _)| !key.is_empty()).collect();
        for (folded, name) in names {
            if !seen.insert(folded) {
                let problem = Problem::new("study.class_twice", "a name belongs to two lamp classes");
                let title = own.map_or_else(|| class.title.clone(), |own| format!("class \"{own}\""));
                let place = doc.place(class.offset()).column(title);
                doc.add(problem.at(place).got(format!("\"{name}\"")).expected("a name that no other class has"));
            }
        }
    }
}
