//! What the sentence of each rule says, so that a saved finding is held to the rule that it names.

use super::{Finding, Outcome, WHOLE_LOG, fold};

/// Words of which the sentence of a rule has one, those before a $ at its end, and whether the rule leaves a row in use.
struct Said {
    rule: &'static str,
    words: &'static [&'static str],
    in_use: bool,
}

const fn aside(rule: &'static str, words: &'static [&'static str]) -> Said {
    Said { rule, words, in_use: false }
}

const fn in_use(rule: &'static str, words: &'static [&'static str]) -> Said {
    Said { rule, words, in_use: true }
}

/// Every rule of a finding about rows or logs. A rule that leaves rows in use may stand on one that another sets aside.
const ALL: [Said; 55] = [
    in_use("records.absent_from_newest", &["absent from the newest one"]),
    aside("records.bytes_invalid", &["bytes that are not text"]),
    aside("records.class_blank", &["no lamp class"]),
    aside("records.class_unknown", &["does not name this lamp class"]),
    in_use("records.column_unreadable", &["of the column map cannot be read as"]),
    in_use("records.date_order", &["in another date order than declared"]),
    aside("records.date_after_export", &["lies after the day of the export"]),
    aside("records.date_unreadable", &["the cell is no day", "the cell is a date", "the cell is a bare number"]),
    aside("records.duplicate", &["the same spell stands in"]),
    aside("records.entry_unknown", &["before the records began"]),
    aside("records.fitting_date_blank", &["no day of fitting"]),
    aside("records.fitting_hours_blank", &["the hours at fitting are blank"]),
    in_use("records.hours_a_day", &["less than any screen is used"]),
    in_use("records.hours_against_programme", &["where the programme hours declared are"]),
    in_use("records.hours_and_strikes", &["h for each strike: one of them is another column"]),
    in_use("records.group_unreadable", &["which no name of a supplier or a batch has"]),
    aside("records.hours_blank", &["no hours at removal or last reading"]),
    in_use(
        "records.hours_first_seen",
        &["fitted before", "fitted since the records began", "of none that burns or was changed on plan"],
    ),
    in_use("records.hours_few", &["did the screen stand still, or is a figure wrong"]),
    aside("records.hours_for_minutes", &["most likely hours"]),
    aside("records.hours_impossible", &["is more than 24 h a day$"]),
    aside("records.hours_negative", &["are negative"]),
    aside("records.hours_unreadable", &["the cell is not a number", "the cell is a number out of range"]),
    in_use("records.lamps_in_turn", &["a screen in which"]),
    in_use("records.lamps_used_when_fitted", &["had burned before they were fitted"]),
    in_use("records.last_good_far", &["between its last good reading and its end"]),
    aside("records.meter_restarted", &["are below the", "the lamp was fitted again at"]),
    aside("records.minutes_for_hours", &["most likely minutes"]),
    in_use("records.reading_undated", &["the last reading has no day"]),
    in_use("records.reason_blank", &["removed without a reason"]),
    in_use("records.reason_unmapped", &["not in the reason map"]),
    in_use("records.reasons_unmapped", &["have no mapped reason"]),
    in_use("records.removal_missing", &["no removal is recorded"]),
    aside("records.removal_undated", &["without a day of removal"]),
    aside("records.running_removed", &["by its reason the lamp burns"]),
    aside("records.removed_before_fitted", &["before it was fitted"]),
    in_use("records.place_two_spellings", &["taken as two"]),
    aside("records.place_unreadable", &["which no name of a place has"]),
    aside("records.repeated_header", &["the header stands again"]),
    aside("records.restart_forgotten", &["left this screen"]),
    aside("records.row_blank", &["every cell of the row is blank"]),
    aside("records.row_cells", &["where the header has"]),
    in_use("records.screen_and_strikes", &["h for each strike where"]),
    aside("records.serial_blank", &["the row has no serial"]),
    aside("records.serial_mistyped", &["one slip away"]),
    aside("records.serial_two_classes", &["lamps of two classes"]),
    aside("records.serial_unreadable", &["which no serial has"]),
    in_use("records.site_elsewhere", &["names no site with programme hours"]),
    aside("records.spells_overlap", &["another spell in this screen"]),
    in_use("records.strikes_elsewhere", &["holds no whole numbers in"]),
    aside("records.strikes_in_hours", &["the two cells are exchanged"]),
    in_use("records.strikes_unreadable", &["the strikes are not a whole number"]),
    in_use("records.supplier_and_batch", &["no supplier has a second batch"]),
    aside("records.total_row", &["a total or a remark"]),
    aside("records.two_screens_at_once", &["the lamp also stands in"]),
];

/// Rules of findings about lives and about a study file, each with words of its sentence.
const OF_OTHERS: [(&str, &str); 13] = [
    ("lives.covariate_not_recorded", "is recorded, so the life is not used"),
    ("lives.failure_at_entry", "failed at the age of entry"),
    ("lives.never_at_risk", "never under observation"),
    ("study.answer_unused", "do not ask what this answers"),
    ("study.no_burning_lamp", "no lamp burns"),
    ("study.no_planned_reason", "no removal counts as a planned change"),
    ("study.one_cause", "none as a planned change or another cause"),
    ("study.planned_below_price", "lies below the price of the lamp"),
    ("study.programme_unused", "its programme hours change nothing"),
    ("study.reading_too_old", "it may have reached its limit of"),
    ("study.reason_heaped", "where lamps changed on plan heap"),
    ("study.reason_unused", "the line changes nothing"),
    ("study.warranty_past_use", "past the maker's limit of use"),
];

/// Words between what a finding asks and the answer of a study file.
pub(crate) const ANSWERED: &str = "; answered in line ";

/// Rules whose value is a cell with nothing in it.
const BLANK: [&str; 9] = [
    "records.class_blank",
    "records.fitting_date_blank",
    "records.fitting_hours_blank",
    "records.hours_blank",
    "records.reading_undated",
    "records.reason_blank",
    "records.removal_missing",
    "records.removal_undated",
    "records.serial_blank",
];
/// Rules whose value is the serial.
const SERIAL: [&str; 4] =
    ["records.absent_from_newest", "records.duplicate", "records.serial_mistyped", "records.serial_two_classes"];

/// What is wrong with a finding by the rule that it names: the field, what it holds and what it should.
pub(super) fn wrong(f: &Finding) -> Option<(&'static str, String, String)> {
    let rule = f.rule.as_str();
    let asks = WHOLE_LOG.contains(&rule) || rule.starts_with("study.");
    if f.outcome == Outcome::Answered && !(asks && f.sentence.contains(ANSWERED)) {
        return Some(("outcome", "answered".to_owned(), "used, as the sentence holds no answer".to_owned()));
    }
    if !rule.starts_with("records.") {
        let said = OF_OTHERS.iter().find(|(other, _)| *other == rule);
        let expected = || format!("the rule that says \"{}\"", f.sentence);
        return said.filter(|(_, words)| !f.sentence.contains(words)).map(|_| ("rule", f.rule.clone(), expected()));
    }
    let Some(said) = ALL.iter().find(|s| s.rule == rule) else {
        return Some(("rule", f.rule.clone(), "a rule of a finding".to_owned()));
    };
    let says = |words: &&str| match words.strip_suffix('$') {
        Some(end) => f.sentence.ends_with(end),
        None => f.sentence.contains(*words),
    };
    if !said.words.iter().any(says) {
        let expected = format!("the rule that says \"{}\"", f.sentence);
        return Some(("rule", f.rule.clone(), expected));
    }
    let of_log = f.row == 0;
    if of_log != WHOLE_LOG.contains(&rule) {
        let expected = if of_log { "a rule about a whole log" } else { "a rule about a row" };
        return Some(("rule", f.rule.clone(), expected.to_owned()));
    }
    if f.outcome == Outcome::Used && !said.in_use {
        return Some(("outcome", "used".to_owned(), format!("the row set aside, by {rule}")));
    }
    if f.outcome == Outcome::Merged && of_log {
        return Some(("outcome", "merged".to_owned(), "used, as nothing else is said of a whole log".to_owned()));
    }
    if BLANK.contains(&rule) && !f.value.trim().is_empty() {
        return Some(("value", f.value.clone(), format!("a blank cell, by {rule}")));
    }
    // Columns in memory may hold serials as numbers.
    if f.line > 0 && SERIAL.contains(&rule) && fold(&f.value) != fold(&f.serial) {
        return Some(("value", f.value.clone(), format!("the serial {}", f.serial)));
    }
    None
}
