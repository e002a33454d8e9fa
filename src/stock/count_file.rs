//! Reading a stock count: a file or a frame of lamps by class and place.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};

use super::counted::{OnOrder, OnShelf, StockCount, UsedOnShelf};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours};
use crate::records::{
    Cell, ClassNames, Counts, Ending, Finding, Heading, Headings, Ledger, Outcome, Source, Table, TableFormat, fold,
};

/// Columns of a stock count.
const COLUMNS: [Heading; 8] = [
    ("lamp_class", true),
    ("place", true),
    ("on_hand", false),
    ("on_order", false),
    ("due_on", false),
    ("serial", false),
    ("age_hours", false),
    ("ending", false),
];

/// Most lamps in one row of a count.
const MOST_LAMPS: f64 = 1e9;

/// What is known beside the count: it tells which rows can be right.
#[derive(Clone, Debug)]
pub struct CountRules {
    /// Day of the count.
    pub counted_on: NaiveDate,
    /// Lamp classes with their other names.
    pub classes: ClassNames,
    /// Sites and depots; with none any place is taken as the count words it.
    pub places: Vec<String>,
    /// Days from an order to its delivery, by class: orders without a due day are due so many days after the count.
    pub lead_time_days: BTreeMap<String, u32>,
    /// Hours that no lamp of a class may pass: a used lamp at or past them is no spare.
    pub limit_hours: BTreeMap<String, f64>,
}

impl CountRules {
    /// Any class, any place, no lead time, no limit.
    pub fn new(counted_on: NaiveDate) -> Self {
        Self {
            counted_on,
            classes: ClassNames::any(),
            places: Vec::new(),
            lead_time_days: BTreeMap::new(),
            limit_hours: BTreeMap::new(),
        }
    }
}

/// Reads a stock count: columns `lamp_class` and `place`, a site or a depot, and any of `on_hand`, `on_order`, `due_on`,
/// `serial`, `age_hours`, `ending`.
///
/// A row says how many new lamps lie in a place, how many are on their way there and when they are due, or both; an order
/// may have a row of its own, with a blank in `on_hand`. A row with a serial is one lamp: with hours it is a used lamp, an
/// emergency spare if its `ending` is planned, moved or converted and hours are left; with 0 h it is a new one. What
/// cannot be used is set aside, what is doubtful is told, each with file, row, line, column, value, rule and sentence.
///
/// # Arguments
/// `name` names the count in messages; `called` gives the owner's name of a column where it differs from ours.
///
/// # Errors
/// `stock.count_no_rows`; `stock.count_columns` where neither `on_hand` nor `on_order` nor `serial` is there;
/// `stock.count_limit` for a limit that is no number of hours; those of the columns as for
/// [`crate::warranty::read_lamps`], and of [`Table::open`].
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use relamp::records::{Source, TableFormat};
/// use relamp::stock::{CountRules, read_stock_count};
/// let text = "lamp_class,place,on_hand,on_order,due_on\n2 kW,Depot,4,6,2026-02-20\n2 kW,Site 7,-1,,\n";
/// let rules = CountRules::new("2026-01-31".parse().unwrap());
/// let count = read_stock_count("count.csv", Source::Bytes(text.as_bytes()), &TableFormat::default(), &BTreeMap::new(), &rules)?;
/// assert_eq!(count.lamps_on_hand("2 kW", None)?, 4);
/// assert_eq!((count.ledger.counts.used, count.ledger.counts.set_aside), (1, 1));
/// assert_eq!(count.ledger.findings[0].rule, "stock.count_negative");
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn read_stock_count(
    name: &str,
    source: Source<'_>,
    format: &TableFormat,
    called: &BTreeMap<String, String>,
    rules: &CountRules,
) -> Result<StockCount> {
    let (mut table, at) = Headings::open(name, source, format, &COLUMNS, called)?;
    if ["on_hand", "on_order", "serial"].iter().all(|h| at.get(h).is_none()) {
        let problem = Problem::new("stock.count_columns", "a stock count without any count").at(Place::input(name));
        let problem = problem.got(table.columns().join(", ")).expected("a column on_hand, on_order or serial");
        return Err(Error::new(Kind::Input, problem));
    }
    for (class, limit) in &rules.limit_hours {
        if !(*limit > 0.0 && limit.is_finite()) {
            let problem = Problem::new("stock.count_limit", "the limit of a lamp class is no number of hours");
            let problem = problem.at(Place::input("limit_hours").column(class)).got(limit);
            return Err(Error::new(Kind::Input, problem.expected("finite hours above 0")));
        }
    }
    let places: BTreeMap<String, &String> = rules.places.iter().map(|p| (fold(p), p)).collect();
    let mut taken = Taken {
        name,
        rules,
        places,
        count: StockCount {
            counted_on: rules.counted_on,
            on_shelf: Vec::new(),
            on_order: Vec::new(),
            used_lamps: Vec::new(),
            ledger: Ledger::default(),
        },
        shelves: BTreeMap::new(),
        serials: BTreeMap::new(),
        orders: BTreeSet::new(),
    };
    let mut counts = Counts::default();
    while table.advance()? {
        counts.rows += 1;
        let row = Row { table: &table, at: &at, format };
        if taken.take(&row) { counts.used += 1 } else { counts.set_aside += 1 }
    }
    if counts.rows == 0 {
        let problem = Problem::new("stock.count_no_rows", "the stock count has no records below its header");
        return Err(Error::new(Kind::Input, problem.at(table.place(None)).expected("at least one row")));
    }
    let ledger = &mut taken.count.ledger;
    ledger.counts = counts;
    ledger.by_file = vec![(name.to_owned(), counts)];
    ledger.findings.sort_by(|a, b| (a.row, &a.rule).cmp(&(b.row, &b.rule)));
    Ok(taken.count)
}

/// One thing that is to be said of a row: its rule, its column and a sentence.
struct Said {
    rule: &'static str,
    heading: &'static str,
    sentence: String,
}

fn said(rule: &'static str, heading: &'static str, sentence: impl Into<String>) -> Said {
    Said { rule, heading, sentence: sentence.into() }
}

struct Row<'r, 't> {
    table: &'r Table<'t>,
    at: &'r Headings,
    format: &'r TableFormat,
}

impl Row<'_, '_> {
    fn cell(&self, heading: &str) -> Cell<'_> {
        self.at.get(heading).map_or(Cell::Blank, |c| self.table.cell(c))
    }

    fn text(&self, heading: &str) -> String {
        self.cell(heading).text().trim().to_owned()
    }

    fn number(&self, rule: &'static str, heading: &'static str, faults: &mut Vec<Said>) -> Option<f64> {
        self.cell(heading).number(self.format.numbers).unwrap_or_else(|fault| {
            faults.push(said(rule, heading, format!("the cell is not usable as a number: {fault}")));
            None
        })
    }

    /// A number of lamps.
    fn lamps(&self, heading: &'static str, faults: &mut Vec<Said>) -> Option<u64> {
        let number = self.number("stock.count_unreadable", heading, faults)?;
        let fault = if number < 0.0 {
            said("stock.count_negative", heading, "the number of lamps is negative")
        } else if number != number.floor() {
            said("stock.count_not_whole", heading, "the number of lamps is not a whole number")
        } else if number > MOST_LAMPS {
            said("stock.count_unreadable", heading, "more lamps than any place holds")
        } else {
            return Some(number as u64);
        };
        faults.push(fault);
        None
    }

    fn due(&self, faults: &mut Vec<Said>) -> Option<NaiveDate> {
        self.cell("due_on").date(self.format.dates).unwrap_or_else(|fault| {
            faults.push(said("stock.due_unreadable", "due_on", format!("the cell is not usable as a day: {fault}")));
            None
        })
    }
}

/// What was taken so far.
struct Taken<'a> {
    name: &'a str,
    rules: &'a CountRules,
    places: BTreeMap<String, &'a String>,
    count: StockCount,
    /// Row that first counted a class in a place, and whether it counted lamp by lamp.
    shelves: BTreeMap<(String, String), (u64, bool)>,
    /// Row of each serial.
    serials: BTreeMap<String, u64>,
    orders: BTreeSet<(String, String, Option<NaiveDate>, u64)>,
}

impl Taken<'_> {
    /// Takes the present row; false where it is set aside.
    fn take(&mut self, row: &Row<'_, '_>) -> bool {
        let (table, columns) = (row.table, row.table.columns().len());
        if (0..table.width()).all(|c| table.cell(c) == Cell::Blank) {
            return self.set_aside(row, vec![said("stock.row_blank", "", "every cell of the row is blank")]);
        }
        if table.width() < columns || (columns..table.width()).any(|c| table.cell(c) != Cell::Blank) {
            let sentence = format!(
                "the row has {} where the header has {}",
                counted(table.width() as u64, "cell"),
                counted(columns as u64, "column")
            );
            return self.set_aside(row, vec![said("stock.row_cells", "", sentence)]);
        }
        let (mut faults, mut doubts) = (Vec::new(), Vec::new());
        let lamp_class = self.class(row, &mut faults);
        let place = self.place(row, &mut faults);
        let on_hand = row.lamps("on_hand", &mut faults);
        let on_order = row.lamps("on_order", &mut faults);
        let due_on = row.due(&mut faults);
        let age = row.number("stock.used_hours", "age_hours", &mut faults);
        let serial = row.text("serial");
        let number = table.row();
        if !serial.is_empty() || age.is_some_and(|a| a != 0.0) {
            let ending = self.one_lamp(row, &lamp_class, age, on_hand, on_order, &mut faults);
            if !faults.is_empty() {
                return self.set_aside(row, faults);
            }
            self.serials.insert(fold(&serial), number);
            match (age, ending) {
                (Some(age_hours), Some(ending)) if age_hours > 0.0 => {
                    self.count.used_lamps.push(UsedOnShelf {
                        lamp_class,
                        place,
                        serial,
                        age_hours,
                        ending,
                        row: number,
                    });
                }
                _ => {
                    if let Some(twice) = self.shelf(&lamp_class, &place, number, true) {
                        return self.set_aside(row, vec![twice]);
                    }
                    self.count.on_shelf.push(OnShelf { lamp_class, place, lamps: 1, serial, row: number });
                }
            }
            return true;
        }
        if on_hand.is_none() && on_order.is_none() && faults.is_empty() {
            faults.push(said("stock.nothing_counted", "on_hand", "neither lamps on hand nor on order are counted"));
        }
        if on_hand.is_some()
            && faults.is_empty()
            && let Some(twice) = self.shelf(&lamp_class, &place, number, false)
        {
            faults.push(twice);
        }
        if !faults.is_empty() {
            return self.set_aside(row, faults);
        }
        let ordered = on_order.filter(|n| *n > 0);
        if let Some(lamps) = ordered {
            self.order(&lamp_class, &place, lamps, due_on, number, &mut doubts);
        }
        // A row that orders nothing and counts nothing else says that nothing lies there.
        if on_hand.is_some() || ordered.is_none() {
            let lamps = on_hand.unwrap_or(0);
            self.count.on_shelf.push(OnShelf { lamp_class, place, lamps, serial: String::new(), row: number });
        }
        self.tell(row, doubts, Outcome::Used);
        true
    }

    fn class(&self, row: &Row<'_, '_>, faults: &mut Vec<Said>) -> String {
        let text = row.text("lamp_class");
        if text.is_empty() {
            faults.push(said("stock.class_blank", "lamp_class", "the row has no lamp class"));
            return text;
        }
        if let Some(class) = self.rules.classes.get(&text) {
            return class.to_string();
        }
        let known = self.rules.classes.known().join(", ");
        let sentence = format!("the lamp class is none of those declared: {known}");
        faults.push(said("stock.class_unknown", "lamp_class", sentence));
        text
    }

    fn place(&self, row: &Row<'_, '_>, faults: &mut Vec<Said>) -> String {
        let text = row.text("place");
        if text.is_empty() {
            faults.push(said("stock.place_blank", "place", "the row has no site or depot"));
            return text;
        }
        match self.places.get(&fold(&text)) {
            Some(place) => (*place).clone(),
            None if self.places.is_empty() => text,
            None => {
                let sentence = "the place is none of the sites and depots declared";
                faults.push(said("stock.place_unknown", "place", sentence));
                text
            }
        }
    }

    /// Judges a row that stands for one lamp by its serial: how it ended, for a used one.
    fn one_lamp(
        &self,
        row: &Row<'_, '_>,
        lamp_class: &str,
        age: Option<f64>,
        on_hand: Option<u64>,
        on_order: Option<u64>,
        faults: &mut Vec<Said>,
    ) -> Option<Ending> {
        let serial = row.text("serial");
        if serial.is_empty() {
            faults.push(said(
                "stock.used_serial_blank",
                "serial",
                "a used lamp has no serial, so its age is not its own",
            ));
        } else if let Some(first) = self.serials.get(&fold(&serial)) {
            let sentence = format!("the serial stands in row {first} too");
            faults.push(said("stock.serial_twice", "serial", sentence));
        }
        if on_hand.is_some_and(|n| n != 1) || on_order.is_some_and(|n| n > 0) {
            let sentence = "a row with a serial is one lamp on hand";
            faults.push(said(
                "stock.serial_not_one",
                if on_hand.is_some_and(|n| n != 1) { "on_hand" } else { "on_order" },
                sentence,
            ));
        }
        match age {
            None if faults.iter().any(|f| f.rule == "stock.used_hours") => {}
            None => {
                let sentence = "the hours of a lamp with a serial are not known: a lamp of unknown age is no spare; 0 is a new one";
                faults.push(said("stock.used_hours", "age_hours", sentence));
            }
            Some(age) if age < 0.0 => {
                faults.push(said("stock.used_hours", "age_hours", "the hours of a used lamp are negative"));
            }
            Some(age) => {
                let limit = self.rules.limit_hours.get(lamp_class).copied().unwrap_or(f64::INFINITY);
                if age >= limit {
                    let sentence =
                        format!("a used lamp of {} h is at or past its limit of {} h", hours(age), hours(limit));
                    faults.push(said("stock.used_at_limit", "age_hours", sentence));
                }
            }
        }
        if age.is_none_or(|a| a <= 0.0) {
            return None;
        }
        let word = row.text("ending");
        let ending = Ending::parse(&word).filter(|e| Ending::WORKED.contains(e));
        if ending.is_none() {
            let sentence = if word.is_empty() {
                "how the used lamp ended is not told: only one that was planned, moved or converted is a spare"
            } else {
                "a used lamp is a spare only if its ending was planned, moved or converted"
            };
            faults.push(said("stock.used_ending", "ending", sentence));
        }
        ending
    }

    /// Marks a place as counted for a class, or says that it was.
    fn shelf(&mut self, lamp_class: &str, place: &str, row: u64, by_lamp: bool) -> Option<Said> {
        let key = (fold(lamp_class), fold(place));
        let known = self.shelves.get(&key).filter(|(_, lamps)| !(*lamps && by_lamp)).map(|k| k.0);
        if let Some(first) = known {
            let sentence = format!("this class was counted in this place in row {first} already");
            return Some(said("stock.place_twice", "place", sentence));
        }
        self.shelves.entry(key).or_insert((row, by_lamp));
        None
    }

    fn order(
        &mut self,
        lamp_class: &str,
        place: &str,
        lamps: u64,
        due_on: Option<NaiveDate>,
        row: u64,
        doubts: &mut Vec<Said>,
    ) {
        let lead = self.rules.lead_time_days.get(lamp_class).filter(|_| due_on.is_none());
        let by_lead = lead.and_then(|days| self.rules.counted_on.checked_add_days(Days::new(u64::from(*days))));
        if due_on.is_none() && by_lead.is_none() {
            let sentence = format!(
                "{} on order without a due day, and no lead time of the class is declared: they count as not arriving",
                counted(lamps, "lamp")
            );
            doubts.push(said("stock.lead_time_missing", "due_on", sentence));
        }
        if let Some(due) = due_on.filter(|d| *d < self.rules.counted_on) {
            let sentence = format!("the order was due on {due}, before the count of {}", self.rules.counted_on);
            doubts.push(said("stock.due_passed", "due_on", sentence));
        }
        if !self.orders.insert((fold(lamp_class), fold(place), due_on, lamps)) {
            let sentence = "an equal order stands in the count already: both are taken";
            doubts.push(said("stock.order_twice", "on_order", sentence));
        }
        self.count.on_order.push(OnOrder {
            lamp_class: lamp_class.to_owned(),
            place: place.to_owned(),
            lamps,
            due_on: due_on.or(by_lead),
            by_lead_time: by_lead.is_some(),
            row,
        });
    }

    fn set_aside(&mut self, row: &Row<'_, '_>, faults: Vec<Said>) -> bool {
        self.tell(row, faults, Outcome::SetAside);
        false
    }

    fn tell(&mut self, row: &Row<'_, '_>, all: Vec<Said>, outcome: Outcome) {
        for s in all {
            let column = row.at.get(s.heading);
            self.count.ledger.findings.push(Finding {
                file: self.name.to_owned(),
                row: row.table.row(),
                line: row.table.line(),
                column: column.and_then(|c| row.table.columns().get(c)).cloned().unwrap_or_default(),
                value: column.map_or_else(String::new, |c| row.table.written(c)),
                rule: s.rule.to_owned(),
                outcome,
                serial: row.text("serial"),
                sentence: s.sentence,
            });
        }
    }
}
