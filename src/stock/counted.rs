//! What a stock count holds: lamps on the shelf, on order, and good used lamps, with everything that was set aside.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::base::sound::{Checks, Sound};
use crate::base::spreadsheet::{Cell, Sheet, whole};
use crate::records::{Ending, Ledger, Outcome};

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

    /// New lamps of a class on the shelf, in one place or in all.
    pub fn lamps_on_hand(&self, lamp_class: &str, place: Option<&str>) -> u64 {
        let rows = self.on_shelf.iter().filter(|r| r.lamp_class == lamp_class && place.is_none_or(|p| r.place == p));
        rows.map(|r| r.lamps).fold(0, u64::saturating_add)
    }

    /// Lamps of a class on order that are due by a day, in one place or in all. What has no due day does not count.
    pub fn lamps_due_by(&self, lamp_class: &str, place: Option<&str>, day: NaiveDate) -> u64 {
        let rows = self.on_order.iter().filter(|r| r.lamp_class == lamp_class && place.is_none_or(|p| r.place == p));
        rows.filter(|r| r.due_on.is_some_and(|d| d <= day)).map(|r| r.lamps).fold(0, u64::saturating_add)
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
                whole(self.lamps_on_hand(class, Some(place))),
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
