//! Hours and strikes in each other's place.

use super::{median, those};
use crate::base::figure::{counted, hours};
use crate::records::Outcome;
use crate::records::rows::{Fault, Field, Row, Rows};

/// Fewest rows from which a log's usual rate is taken.
const ENOUGH_ROWS: usize = 20;
/// How far from the log's usual rate a rate may lie and still be usual, as a factor.
const SPREAD: f64 = 3.0;

/// `records.strikes_in_hours`: the strikes column stands far above the hours burned, and with the two exchanged the
/// row has the usual strikes an hour. A lamp is struck once a show or less, so no log has more strikes than hours.
pub(super) fn strikes_in_hours(rows: &mut Rows<'_>) {
    let suspects = those(rows, Row::struck_often);
    if suspects.is_empty() {
        return;
    }
    let usual: Vec<Option<f64>> = (0..rows.formats.len()).map(|log| strikes_an_hour(rows, log as u32)).collect();
    for i in suspects {
        let Some(row) = rows.list.get(i) else { continue };
        let s = &row.spell;
        let strikes = s.strikes.unwrap_or(0) as f64;
        let exchanged = s.end_hours / (strikes - s.fitted_hours);
        let fits = match usual.get(row.log as usize).copied().flatten() {
            Some(rate) => exchanged >= rate / SPREAD && exchanged <= rate * SPREAD,
            None => exchanged > 0.0 && exchanged < 1.0,
        };
        let seen = s.fitted_hours.max(s.entry_hours).max(if s.low_hours == s.end_hours { 0.0 } else { s.low_hours });
        let possible = strikes >= seen && strikes - s.fitted_hours <= 24.0 * (row.days() + 1) as f64;
        if fits && possible && s.end_hours.fract() == 0.0 {
            let sentence = format!(
                "{} in {} h: the two cells are exchanged",
                counted(s.strikes.unwrap_or(0), "strike"),
                hours(row.burned())
            );
            rows.note(i, Outcome::SetAside, Fault::new("records.strikes_in_hours", Field::Hours, sentence));
        }
    }
}

/// The median of the strikes an hour in a log.
fn strikes_an_hour(rows: &Rows<'_>, log: u32) -> Option<f64> {
    let rates = rows.list.iter().filter(|r| r.log == log && r.used() && r.burned() >= 50.0);
    let rates = rates.filter_map(|r| r.spell.strikes.map(|n| n as f64 / r.burned()));
    median(rates.filter(|r| *r > 0.0).collect(), ENOUGH_ROWS)
}
