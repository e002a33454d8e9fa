//! Burning hours from wall-clock times.

use chrono::{NaiveDateTime, TimeZone};
use chrono_tz::Tz;

use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Hours burned between two wall-clock times in a time zone, nights of a clock change included.
///
/// # Arguments
/// `zone` is a name of the IANA time zone database such as `Europe/Berlin`; `on` and `off` are local times
/// `YYYY-MM-DD HH:MM`, seconds optional.
///
/// # Errors
/// `records.zone_unknown`; `records.time_unreadable`; `records.time_skipped` for a time the clock skipped;
/// `records.time_twice` for a time the clock showed twice; `records.time_backwards` for `off` before `on`.
///
/// # Examples
/// ```
/// // The night with the extra hour: three hours by the clock, four burned.
/// let hours = relamp::records::hours_between("Europe/Berlin", "2018-10-28 01:00", "2018-10-28 04:00")?;
/// assert_eq!(hours, 4.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn hours_between(zone: &str, on: &str, off: &str) -> Result<f64> {
    let tz: Tz = zone.parse().map_err(|_| {
        let problem = Problem::new("records.zone_unknown", "the time zone is not known").at(Place::input("zone"));
        Error::new(Kind::Input, problem.got(zone).expected("an IANA name such as Europe/Berlin"))
    })?;
    let start = instant(tz, "on", on)?;
    let end = instant(tz, "off", off)?;
    if end < start {
        let problem = Problem::new("records.time_backwards", "the lamp went off before it went on");
        return Err(Error::new(
            Kind::Input,
            problem.at(Place::input("off")).got(off).expected(format!("not before {on}")),
        ));
    }
    Ok((end - start) as f64 / 3600.0)
}

/// Seconds since the epoch.
fn instant(tz: Tz, name: &str, text: &str) -> Result<i64> {
    let refuse = |slug, what: &str, expected: &str| {
        Error::new(Kind::Input, Problem::new(slug, what).at(Place::input(name)).got(text).expected(expected))
    };
    let local = ["%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
        .iter()
        .find_map(|f| NaiveDateTime::parse_from_str(text.trim(), f).ok())
        .ok_or_else(|| refuse("records.time_unreadable", "not a local time", "YYYY-MM-DD HH:MM"))?;
    match tz.from_local_datetime(&local) {
        chrono::LocalResult::Single(time) => Ok(time.timestamp()),
        chrono::LocalResult::None => {
            Err(refuse("records.time_skipped", "the clock skipped this time", "a time the clock showed"))
        }
        chrono::LocalResult::Ambiguous(..) => {
            Err(refuse("records.time_twice", "the clock showed this time twice", "a time the clock showed once"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn skipped_twice_shown_and_backward_times_are_refused() {
        let slug = |on, off| hours_between("Europe/Berlin", on, off).unwrap_err().slug();
        assert_eq!(slug("2021-03-28 02:30", "2021-03-28 04:00"), "records.time_skipped");
        assert_eq!(slug("2018-10-28 02:30", "2018-10-28 04:00"), "records.time_twice");
        assert_eq!(slug("2018-10-28 05:00", "2018-10-28 04:00"), "records.time_backwards");
        assert_eq!(slug("soon", "2018-10-28 04:00"), "records.time_unreadable");
        assert_eq!(hours_between("Nowhere", "a", "b").unwrap_err().slug(), "records.zone_unknown");
    }
}
