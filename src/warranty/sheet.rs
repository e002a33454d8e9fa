//! A claim list as a file that a buyer opens.

use super::claims::ClaimList;
use crate::base::spreadsheet::{Cell, Sheet, whole};

impl ClaimList {
    /// The list as text with commas between cells, safe to open in a spreadsheet: no text cell runs as a formula.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::Warranty;
    /// use relamp::warranty::{ClaimTerms, Cover, EndedLamp, claim_list};
    /// let terms = ClaimTerms::new(Cover::new(Warranty::full(800.0, 1000.0, [Ending::Seal])?));
    /// let lamp = EndedLamp::new("=1+1", "2 kW", Ending::Seal, Some(400.0));
    /// let list = claim_list(&[lamp], |_| Some(&terms), "2026-01-31".parse().unwrap())?;
    /// assert!(list.to_csv().contains("\nfile,'=1+1,2 kW,"));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn to_csv(&self) -> String {
        let mut sheet = Sheet::new(&[
            "standing",
            "serial",
            "lamp_class",
            "site",
            "screen",
            "ending",
            "age_hours",
            "strikes",
            "fitted_on",
            "delivered_on",
            "ended_on",
            "due",
            "at_most",
            "gain",
            "why_nothing",
            "missing",
            "deadline",
            "days_left",
            "filed_on",
            "paid",
            "file",
            "line",
        ]);
        let day = |d: Option<chrono::NaiveDate>| d.map(|d| d.to_string()).unwrap_or_default();
        let number = |x: Option<f64>| x.map_or(Cell::Blank, Cell::Number);
        // Money as people write it; the exact figures stay in the list itself.
        let money = |x: f64| Cell::Number((x * 100.0).round() / 100.0 + 0.0);
        for c in &self.claims {
            let (lamp, due) = (&c.lamp, &c.due);
            let [fitted, delivered, ended, deadline, filed] =
                [lamp.fitted_on, lamp.delivered_on, lamp.ended_on, c.deadline, lamp.filed_on].map(day);
            let why = due.why_nothing.map(|w| w.to_string()).unwrap_or_default();
            let missing = c.missing.join("; ");
            sheet.row(&[
                Cell::Text(c.standing.as_str()),
                Cell::Text(&lamp.serial),
                Cell::Text(&lamp.lamp_class),
                Cell::Text(&lamp.site),
                Cell::Text(&lamp.screen),
                Cell::Text(lamp.ending.as_str()),
                number(lamp.age_hours),
                lamp.strikes.map_or(Cell::Blank, whole),
                Cell::Text(&fitted),
                Cell::Text(&delivered),
                Cell::Text(&ended),
                money(due.amount),
                money(due.at_most),
                money(c.gain),
                Cell::Text(&why),
                Cell::Text(&missing),
                Cell::Text(&deadline),
                c.days_left.map_or(Cell::Blank, Cell::Whole),
                Cell::Text(&filed),
                lamp.paid.map_or(Cell::Blank, money),
                Cell::Text(&lamp.file),
                if lamp.line > 0 { whole(lamp.line) } else { Cell::Blank },
            ]);
        }
        sheet.finish()
    }
}
