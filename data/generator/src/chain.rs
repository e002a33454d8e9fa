//! The lay-out of the chain: sites, screens, programme hours, rules, days of change.

use crate::stream::Stream;
use crate::{Day, LogSet, Options};

/// One screen.
#[derive(Clone, Debug)]
pub struct Screen {
    /// Its number within the site.
    pub number: usize,
    /// Index of its lamp class.
    pub class: usize,
    /// Programme hours a week over a year.
    pub hours_per_week: f64,
    /// Mean hours of one run from strike to switching off.
    pub hours_per_strike: f64,
    /// Day of its conversion to another light source.
    pub converted_on: Option<Day>,
    /// Day after which the screen is in no record any more.
    pub lost_on: Option<Day>,
}

/// One site.
#[derive(Clone, Debug)]
pub struct Site {
    /// Invented name.
    pub name: String,
    /// Index of its region, hence of its log.
    pub region: usize,
    /// Day its records began.
    pub records_from: Day,
    /// Weekday of the meter reading, 0 to 6.
    pub reading_day: i32,
    /// Poor cooling.
    pub poor_cooling: bool,
    /// Flicker and dimming are found only at the weekly reading.
    pub weekly_checks: bool,
    /// Until this day lamps were run to 1.25 x rated hours.
    pub old_rule_until: Option<Day>,
    /// From this day on planned changes slip far past the rule, so that some lamps burn past their limit today.
    pub slips_since: Option<Day>,
    /// Tenths of an hour in one step of the meter: 1 or 10.
    pub step: i64,
    /// Screens.
    pub screens: Vec<Screen>,
}

impl Site {
    /// Most frequent programme hours of its screens.
    pub fn hours_per_week(&self) -> f64 {
        self.screens.first().map_or(crate::study::HOURS_PER_WEEK, |s| s.hours_per_week)
    }
}

/// Number of regions of a set of logs.
pub fn regions(logs: LogSet) -> usize {
    match logs {
        LogSet::Main => 5,
        LogSet::Second => 1,
    }
}

/// Region whose log comes as an older and a newer export in a full chain.
pub const TWO_EXPORTS: usize = 4;

/// Day of the older of the two exports.
pub fn older_export(options: &Options) -> Day {
    options.as_of.plus(-728)
}

/// First day of records: later in some regions.
fn records_from(options: &Options, region: usize) -> Day {
    let years = (options.years as f64 * 365.25) as i32;
    options.as_of.plus(-years + 8 + [0, 0, 86, 0, 140][region % 5])
}

/// Sites and screens of a chain.
pub fn sites(seed: u64, options: &Options) -> Vec<Site> {
    let mut stream = Stream::new(seed, "chain", 0);
    let full = options.is_full();
    let n = options.sites;
    let mut sites: Vec<Site> = (0..n)
        .map(|i| {
            let region = i * regions(options.logs) / n;
            let screens = options.screens * (i + 1) / n - options.screens * i / n;
            let hours = [58.0, 64.0, 72.0, 72.0, 72.0, 80.0, 86.0][stream.below(7)];
            let first_class = stream.below(options.classes);
            let converting = full && stream.chance(0.12);
            Site {
                name: format!("Site {:02}", i + 1),
                region,
                records_from: records_from(options, region),
                reading_day: stream.whole(7),
                poor_cooling: full && i == n / 3,
                weekly_checks: options.intervals && region.is_multiple_of(2),
                old_rule_until: (i % 5 < 3).then(|| options.as_of.plus(-1_300 - 7 * stream.whole(26))),
                slips_since: (full && i % 9 == 5).then(|| options.as_of.plus(-720)),
                step: if region == 1 { 10 } else { 1 },
                screens: (0..screens)
                    .map(|s| Screen {
                        number: s + 1,
                        // Large rooms, hence large lamps, come first in the numbering of a site.
                        class: (first_class + options.classes - s % options.classes) % options.classes,
                        hours_per_week: if s == 1 && i % 7 == 3 { hours + 10.0 } else { hours },
                        hours_per_strike: stream.between(2.2, 4.0),
                        converted_on: (converting && s % 3 == 1).then(|| options.as_of.plus(-60 - stream.whole(600))),
                        lost_on: None,
                    })
                    .collect(),
            }
        })
        .collect();
    if full && options.logs == LogSet::Main {
        lose_screens(&mut sites, options);
    }
    sites
}

/// The last screen of each site of the twice-exported region closes soon after the older export and is in no later record.
fn lose_screens(sites: &mut [Site], options: &Options) {
    let lost_on = older_export(options).plus(3);
    for site in sites.iter_mut().filter(|s| s.region == TWO_EXPORTS).step_by(2) {
        if let Some(screen) = site.screens.last_mut() {
            screen.lost_on = Some(lost_on);
            screen.converted_on = None;
        }
    }
}

/// Hours a screen burns on a day: programme hours, more in summer and at the turn of the year, and a weekly whim.
pub fn hours_on(screen: &Screen, day: Day, whim: f64) -> f64 {
    let (year, _, _) = day.date();
    let turn = f64::from(day.since(Day::from_date(year, 1, 1))) / 365.25;
    let season =
        0.06 * (std::f64::consts::TAU * (turn - 0.55)).cos() + 0.06 * (2.0 * std::f64::consts::TAU * turn).cos();
    (screen.hours_per_week / 7.0 * (1.0 + season + whim)).clamp(1.0, 20.0)
}
