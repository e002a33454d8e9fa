//! What a stock count holds: lamps on the shelf, on order, and good used lamps, with everything that was set aside.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};
use crate::base::spreadsheet::{Cell, Sheet, whole};
use crate::records::{Ending, Ledger, Outcome, nearest};

/// New lamps of one class on the shelf of one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnShelf {
    /// Lamp class.
    pub lamp_class: String,
    /// Site or depot.
    pub place: String,
    /// Lamps.
    pub lamps: u64,
    /// Serial, where the count lists lamp by lamp; else blank.
    pub serial: String,
    /// Row of the count, from 1.
    pub row: u64,
}

/// Lamps of one class on their way to one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnOrder {
    /// Lamp class.
    pub lamp_class: String,
    /// Site or depot.
    pub place: String,
    /// Lamps.
    pub lamps: u64,
    /// Day on which they are due; none where neither the count nor a lead time tells: they count as not arriving.
    pub due_on: Option<NaiveDate>,
    /// Whether the day follows from the lead time of the class, as the count gives none.
    pub by_lead_time: bool,
    /// Row of the count, from 1.
    pub row: u64,
}

/// A used lamp that was taken out while it worked and has hours left: an emergency spare that keeps its age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsedOnShelf {
    /// Lamp class.
    pub lamp_class: String,
    /// Site or depot.
    pub place: String,
    /// Serial.
    pub serial: String,
    /// Hours burned.
    pub age_hours: f64,
    /// Why it was taken out: planned, moved or converted.
    pub ending: Ending,
    /// Row of the count, from 1.
    pub row: u64,
}

/// A stock count as read: what is there, and the ledger that accounts for every row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockCount {
    /// Day of the count.
    pub counted_on: NaiveDate,
    /// New lamps on the shelf, in the order of the count.
    pub on_shelf: Vec<OnShelf>,
    /// Lamps on order, in the order of the count.
    pub on_order: Vec<OnOrder>,
    /// Used lamps, in the order of the count.
    pub used_lamps: Vec<UsedOnShelf>,
    /// Findings and counts that reconcile: rows in = used + set aside.
    pub ledger: Ledger,
}

impl StockCount {
    /// What to know before using any figure: that many rows were set aside; empty where nothing is to be said.
    pub fn warning(&self) -> String {
        self.ledger.warning()
    }

    /// New lamps of a class on the shelf, in one place or in all; 0 where class and place stand in the count, each elsewhere.
    ///
    /// # Errors
    /// `stock.count_class` and `stock.count_place` for a class or a place that no row in use names, for nothing was counted of it.
    ///
    /// # Examples
    /// ```
    /// use std::collections::BTreeMap;
    /// use relamp::records::{Source, TableFormat};
    /// use relamp::stock::{CountRules, read_stock_count};
    /// let text = "lamp_class,place,on_hand\n2 kW,Depot,4\n4 kW,Site 7,1\n";
    /// let rules = CountRules::new("2026-01-31".parse().unwrap());
    /// let count = read_stock_count("count.csv", Source::Bytes(text.as_bytes()), &TableFormat::default(), &BTreeMap::new(), &rules)?;
    /// assert_eq!(count.lamps_on_hand("2 kW", Some("Site 7"))?, 0);
    /// let slip = count.lamps_on_hand("2kW", None).unwrap_err();
    /// assert_eq!(slip.problems()[0].slug, "stock.count_class");
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn lamps_on_hand(&self, lamp_class: &str, place: Option<&str>) -> Result<u64> {
        self.asked(lamp_class, place)?;
        Ok(self.on_hand_or_none(lamp_class, place))
    }

    /// Lamps of a class on order that are due by a day, in one place or in all. What has no due day does not count.
    ///
    /// # Errors
    /// As for [`StockCount::lamps_on_hand`].
    pub fn lamps_due_by(&self, lamp_class: &str, place: Option<&str>, day: NaiveDate) -> Result<u64> {
        self.asked(lamp_class, place)?;
        Ok(self.due_by_or_none(lamp_class, place, day))
    }

    /// New lamps on the shelf; none of a class or a place that the count does not name.
    pub(crate) fn on_hand_or_none(&self, lamp_class: &str, place: Option<&str>) -> u64 {
        let rows = self.on_shelf.iter().filter(|r| r.lamp_class == lamp_class && place.is_none_or(|p| r.place == p));
        rows.map(|r| r.lamps).fold(0, u64::saturating_add)
    }

    /// Lamps due by a day; none of a class or a place that the count does not name.
    pub(crate) fn due_by_or_none(&self, lamp_class: &str, place: Option<&str>, day: NaiveDate) -> u64 {
        let rows = self.on_order.iter().filter(|r| r.lamp_class == lamp_class && place.is_none_or(|p| r.place == p));
        rows.filter(|r| r.due_on.is_some_and(|d| d <= day)).map(|r| r.lamps).fold(0, u64::saturating_add)
    }

    /// Refuses a class or a place of which nothing was counted.
    fn asked(&self, lamp_class: &str, place: Option<&str>) -> Result<()> {
        let held = self.places();
        let unknown = |slug, what, argument: &str, got: &str, mut all: Vec<&str>| {
            all.sort_unstable();
            all.dedup();
            let aside = match self.ledger.counts.set_aside {
                0 => String::new(),
                n => format!("; {} set aside", counted(n, "row")),
            };
            let problem = Problem::new(slug, format!("{what}{}", nearest(got, all.iter().copied())));
            let names = all.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ");
            let holds = if all.is_empty() { "nothing".to_owned() } else { names };
            problem
                .at(Place::input(argument))
                .got(format!("\"{got}\""))
                .expected(format!("what the count holds: {holds}{aside}"))
        };
        let mut problems = Vec::new();
        if held.iter().all(|h| h.0 != lamp_class) {
            let what = "no row in use of the count names this lamp class";
            let all = held.iter().map(|h| h.0).collect();
            problems.push(unknown("stock.count_class", what, "lamp_class", lamp_class, all));
        }
        if let Some(place) = place.filter(|p| held.iter().all(|h| h.1 != *p)) {
            let what = "no row in use of the count names this place";
            problems.push(unknown("stock.count_place", what, "place", place, held.iter().map(|h| h.1).collect()));
        }
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Lamps of a class on order that are due after a day, by their days, rising.
    pub fn lamps_due_after(&self, lamp_class: &str, day: NaiveDate) -> Vec<(NaiveDate, u64)> {
        let mut by_day = BTreeMap::new();
        let rows = self.on_order.iter().filter(|r| r.lamp_class == lamp_class);
        for (due, lamps) in rows.filter_map(|r| Some((r.due_on.filter(|d| *d > day)?, r.lamps))) {
            let all: &mut u64 = by_day.entry(due).or_default();
            *all = all.saturating_add(lamps);
        }
        by_day.into_iter().collect()
    }

    /// Every class and place of the count once, in order.
    pub fn places(&self) -> Vec<(&str, &str)> {
        let shelf = self.on_shelf.iter().map(|r| (r.lamp_class.as_str(), r.place.as_str()));
        let order = self.on_order.iter().map(|r| (r.lamp_class.as_str(), r.place.as_str()));
        let used = self.used_lamps.iter().map(|r| (r.lamp_class.as_str(), r.place.as_str()));
        let mut all: Vec<_> = shelf.chain(order).chain(used).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The stock list by class and place as text with commas between cells, safe to open in a spreadsheet: no text cell
    /// runs as a formula.
    pub fn to_csv(&self) -> String {
        let columns = ["lamp_class", "place", "on_hand", "on_order", "next_due_on", "without_due_day", "used_lamps"];
        let mut sheet = Sheet::new(&columns);
        for (class, place) in self.places() {
            let here = |c: &str, p: &str| c == class && p == place;
            let orders = || self.on_order.iter().filter(|r| here(&r.lamp_class, &r.place));
            let next = orders().filter_map(|r| r.due_on).min().map(|d| d.to_string()).unwrap_or_default();
            let sum = |open: bool| {
                orders().filter(|r| !open || r.due_on.is_none()).map(|r| r.lamps).fold(0, u64::saturating_add)
            };
            let used = self.used_lamps.iter().filter(|r| here(&r.lamp_class, &r.place)).count() as u64;
            sheet.row(&[
                Cell::Text(class),
                Cell::Text(place),
                whole(self.on_hand_or_none(class, Some(place))),
                whole(sum(false)),
                Cell::Text(&next),
                whole(sum(true)),
                whole(used),
            ]);
        }
        sheet.finish()
    }
}

impl Sound for StockCount {
    fn check(&self, c: &mut Checks) {
        c.part("ledger", &self.ledger);
        let rows = self.ledger.counts.rows;
        let shelf = self.on_shelf.iter().map(|r| r.row);
        let mut used: Vec<u64> =
            shelf.chain(self.on_order.iter().map(|r| r.row)).chain(self.used_lamps.iter().map(|r| r.row)).collect();
        used.sort_unstable();
        used.dedup();
        c.follows("ledger.counts.used", &self.ledger.counts.used, &(used.len() as u64));
        let inside = used.iter().all(|r| (1..=rows).contains(r));
        c.need("on_shelf", inside, "a row outside the count", format!("rows 1 to {rows}"));
        let aside = |f: &&crate::records::Finding| f.outcome == Outcome::SetAside;
        let both = self.ledger.findings.iter().filter(aside).any(|f| used.binary_search(&f.row).is_ok());
        c.need("ledger.findings", !both, "a row in use", "rows set aside that are not in use");
        for (i, order) in self.on_order.iter().enumerate() {
            c.need(&format!("on_order[{i}].lamps"), order.lamps > 0, order.lamps, "1 or more");
            c.there(
                &format!("on_order[{i}].due_on"),
                order.due_on.is_some(),
                order.due_on.is_some() || order.by_lead_time,
                "a day where the lead time gives it",
            );
        }
        for (i, lamp) in self.used_lamps.iter().enumerate() {
            c.positive(&format!("used_lamps[{i}].age_hours"), lamp.age_hours);
            c.words(&format!("used_lamps[{i}].serial"), &lamp.serial);
            let worked = Ending::WORKED.contains(&lamp.ending);
            c.need(&format!("used_lamps[{i}].ending"), worked, lamp.ending, "planned, moved or converted");
        }
        let serials = self.on_shelf.iter().map(|r| r.serial.as_str()).filter(|s| !s.is_empty());
        c.once("used_lamps", serials.chain(self.used_lamps.iter().map(|r| r.serial.as_str())));
    }
}
