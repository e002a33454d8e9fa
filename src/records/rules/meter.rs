//! Hour meters that went back.

use super::{SAME_HOURS, those};
use crate::base::figure::hours as shown;
use crate::records::Outcome;
use crate::records::rows::{Fault, Field, Row, Rows};

const RULE: &str = "records.meter_restarted";

/// `records.meter_restarted` within a spell: hours at removal below those at fitting, when first seen or when last
/// good, or those below the hours at fitting.
pub(super) fn meter_restarted_in_spell(rows: &mut Rows<'_>) {
    for i in those(rows, Row::backward) {
        let Some(row) = rows.list.get(i) else { continue };
        let s = &row.spell;
        let (end, fitted) = (shown(s.end_hours), shown(s.fitted_hours));
        let (field, sentence) = if s.end_hours < s.fitted_hours {
            (Field::Hours, format!("the hours, {end}, are below the {fitted} h at fitting"))
        } else if s.end_hours < s.entry_hours {
            (Field::Hours, format!("the hours, {end}, are below the {} h when first seen", shown(s.entry_hours)))
        } else if s.end_hours < s.low_hours {
            (Field::Hours, format!("the hours, {end}, are below the {} h when last good", shown(s.low_hours)))
        } else if s.entry_hours < s.fitted_hours {
            let seen = shown(s.entry_hours);
            (Field::FirstSeen, format!("the hours when first seen, {seen}, are below the {fitted} h at fitting"))
        } else {
            let good = shown(s.low_hours);
            (Field::LastGood, format!("the hours when last good, {good}, are below the {fitted} h at fitting"))
        };
        rows.note(i, Outcome::SetAside, Fault::new(RULE, field, sentence));
    }
}

/// `records.meter_restarted` between spells: fitted again with fewer hours than the lamp had before.
pub(super) fn meter_restarted_at_fitting(rows: &mut Rows<'_>) {
    let mut found: Vec<(usize, f64, f64)> = Vec::new();
    for lamp in rows.lamps_with_several() {
        let mut before: Option<f64> = None;
        for i in lamp {
            let Some(row) = rows.list.get(i) else { continue };
            let fitted = row.spell.fitted_hours;
            match before {
                Some(hours) if fitted < hours - SAME_HOURS => found.push((i, fitted, hours)),
                _ => before = Some(row.spell.end_hours),
            }
        }
    }
    for (i, fitted, hours) in found {
        let (fitted, hours) = (shown(fitted), shown(hours));
        let sentence = format!("the lamp was fitted again at {fitted} h though it had {hours} h before");
        rows.note(i, Outcome::SetAside, Fault::new(RULE, Field::AtFitting, sentence));
    }
}
