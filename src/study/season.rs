//! Programme hours over the year: a season, growth, holidays and closures, declared once and used wherever a study turns
//! days into hours.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::declare::Declaration;
use super::walk::{Bound, Document, Section};
use crate::base::error::Problem;
use crate::base::figure::{counted, short};
use crate::base::sound::{Checks, Sound};
use crate::demand::{Pace, Programme, SpanOfDays};
use crate::records::fold;

/// Months of a year.
const MONTHS: usize = 12;

/// Days of the year ahead, of which every study says something.
const YEAR_DAYS: usize = 366;

/// How the programme hours run over the year.
///
/// # Formula
/// ```text
/// hours on a day = hours a week / 7 x factor of its month x factors of its special days x (1 + growth)^(days from as-of / 365.25)
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Season {
    /// Factor of each month of the year, January first.
    pub by_month: [f64; MONTHS],
    /// Growth of the hours in a year, as a share; below 0 for a decline.
    pub growth_per_year: f64,
    /// Holidays and closures.
    pub special_days: Vec<SpecialDays>,
}

/// Days in a row with a factor of their own on the hours of some screens.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpecialDays {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Factor on the hours of these days; 0 where nothing is shown. Days told twice have both factors.
    pub hours_factor: f64,
    /// Site; none for the whole chain.
    pub site: Option<String>,
    /// Screen of the site; none for all of them.
    pub screen: Option<String>,
}

impl SpecialDays {
    fn touches(&self, (site, screen): &(String, String)) -> bool {
        let of_site = self.site.as_ref().is_none_or(|s| fold(s) == *site);
        of_site && self.screen.as_ref().is_none_or(|s| fold(s) == *screen)
    }
}

impl Season {
    /// In words, for what a study takes for granted.
    pub(super) fn sentence(&self) -> String {
        let months = self.by_month.map(short).join(", ");
        let days = match self.special_days.len() {
            0 => "no special days".to_owned(),
            n => format!("{} of special days", counted(n as u64, "span")),
        };
        format!(
            "Programme hours run over the year as declared: factors {months} from January to December, growth of {} in a year \
             from the as-of date, {days}. Hours a week are those of days with a factor of 1; every figure ahead, and the hours \
             since the last reading, follow the season. The hours of a day are spread evenly over it.",
            short(self.growth_per_year)
        )
    }

    fn programme(&self, of: &(String, String)) -> Programme {
        let spans = self.special_days.iter().filter(|d| d.touches(of));
        let spans = spans.map(|d| SpanOfDays { from: d.from, to: d.to, factor: d.hours_factor }).collect();
        Programme { by_month: self.by_month, spans, growth_per_year: self.growth_per_year }
    }
}

impl Sound for Season {
    fn check(&self, c: &mut Checks) {
        for (i, factor) in self.by_month.iter().enumerate() {
            c.between(&format!("by_month[{i}]"), *factor, 0.0, MOST_FACTOR);
        }
        let some = self.by_month.iter().any(|f| *f > 0.0);
        c.need("by_month", some, "0 in every month", "a month with hours");
        c.between("growth_per_year", self.growth_per_year, LEAST_GROWTH, 1.0);
        for (i, days) in self.special_days.iter().enumerate() {
            c.inside(&format!("special_days[{i}]"), |c| {
                c.need("to", days.from <= days.to, days.to, format!("{} or later", days.from));
                c.between("hours_factor", days.hours_factor, 0.0, MOST_FACTOR);
                let whole = days.screen.is_none() || days.site.is_some();
                c.need("screen", whole, "a screen", "a screen of a site");
            });
        }
    }
}

/// Largest factor on the hours of a day. Our choice, without a source; no screen runs for longer than a day, which is checked too.
pub(super) const MOST_FACTOR: f64 = 168.0;
/// Fastest decline in a year, as a share. Our choice, without a source.
pub(super) const LEAST_GROWTH: f64 = -0.99;

/// The paces of all screens of a study.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Paces {
    /// Of every screen without special days of its own; none where no season is declared.
    chain: Option<Arc<Pace>>,
    /// Of a site, by its folded name and a blank; of a screen, by both.
    own: BTreeMap<(String, String), Arc<Pace>>,
}

impl Paces {
    pub(super) fn of(season: Option<&Season>, as_of: NaiveDate) -> Self {
        let Some(season) = season else { return Self::default() };
        let mut key = 0;
        let mut pace = |of: &(String, String)| {
            key += 1;
            Arc::new(Pace::new(key, season.programme(of), as_of))
        };
        let place = |d: &SpecialDays| Some((fold(d.site.as_ref()?), d.screen.as_deref().map(fold).unwrap_or_default()));
        let chain = Some(pace(&(String::new(), String::new())));
        let own = season.special_days.iter().filter_map(place).map(|of| (of.clone(), pace(&of)));
        Self { chain, own: own.collect() }
    }

    /// The pace of a screen without special days of its own; none where its hours are the same every day.
    pub(super) fn of_chain(&self) -> Option<&Arc<Pace>> {
        self.chain.as_ref()
    }

    /// The pace of a screen; none where its hours are the same every day.
    pub(super) fn of_screen(&self, site: &str, screen: &str) -> Option<&Arc<Pace>> {
        let chain = self.chain.as_ref()?;
        if self.own.is_empty() {
            return Some(chain);
        }
        let (site, screen) = (fold(site), fold(screen));
        let own = self.own.get(&(site.clone(), screen));
        own.or_else(|| self.own.get(&(site, String::new()))).or(Some(chain))
    }

    /// Days of ordinary hours between a day and the as-of date, which lies so many days after it.
    pub(super) fn days_since(&self, (site, screen): (&str, &str), day: NaiveDate, days: f64) -> f64 {
        self.of_screen(site, screen).map_or(days, |pace| pace.days_since(day))
    }
}

/// What is declared with the lines it stands on.
#[derive(Debug, Default)]
pub(super) struct SeasonRead {
    pub(super) season: Option<Season>,
    /// Line of each special days, in their order.
    pub(super) lines: Vec<u64>,
    /// Line of the first of them.
    pub(super) line: u64,
}

/// The tables `[season]` and `[[special_days]]`.
pub(super) fn read_season(doc: &mut Document<'_>, top: &mut Section<'_>) -> SeasonRead {
    let mut read = SeasonRead::default();
    let mut season = Season { by_month: [1.0; MONTHS], growth_per_year: 0.0, special_days: Vec::new() };
    let mut declared = false;
    if let Some(mut s) = top.table(doc, "season", "[season]") {
        declared = true;
        read.line = doc.place(s.offset()).line.unwrap_or(0);
        if let Some(factors) = s.numbers(doc, "by_month", Bound::Factor) {
            match <[f64; MONTHS]>::try_from(factors) {
                Ok(all) if all.iter().any(|f| *f > 0.0) => season.by_month = all,
                Ok(_) => s.missing_of(doc, "by_month", "0 in every month", "a factor above 0 for at least one month"),
                Err(some) => {
                    let got = counted(some.len() as u64, "factor");
                    s.missing_of(doc, "by_month", &got, "12 factors, January first");
                }
            }
        }
        season.growth_per_year = s.number(doc, "growth_per_year", Bound::Growth).unwrap_or(0.0);
        s.finish(doc);
    }
    for mut s in top.tables(doc, "special_days") {
        declared = true;
        let from = s.needed_date(doc, "from");
        let to = s.needed_date(doc, "to");
        let factor = s.needed_number(doc, "hours_factor", Bound::Factor);
        let site = s.text(doc, "site");
        let screen = s.text(doc, "screen");
        s.finish(doc);
        if let Some((from, to)) = from.zip(to).filter(|(from, to)| from > to) {
            let problem = Problem::new("study.special_days", "the last of the special days lies before the first");
            doc.add(problem.at(s.place(doc, "to")).got(to).expected(format!("{from} or later")));
        }
        if screen.is_some() && site.is_none() && !doc.told(&s, "site") {
            s.missing(doc, "site", "the site that the screen belongs to");
        }
        let line = doc.place(s.offset()).line.unwrap_or(0);
        let (Some(from), Some(to), Some(hours_factor)) = (from, to, factor) else { continue };
        if read.line == 0 {
            read.line = line;
        }
        read.lines.push(line);
        season.special_days.push(SpecialDays { from, to, hours_factor, site, screen });
    }
    read.season = declared.then_some(season);
    read
}

/// Days that the figures of a study look ahead.
fn days_ahead(declared: &Declaration) -> usize {
    let months = f64::from(declared.chain.forecast_months) * super::decide::YEAR_DAYS / 12.0;
    let to_site = declared.stores.depots.iter().map(|d| d.days_to_site).max().unwrap_or(0);
    let lead = declared.classes.iter().map(|c| c.lead_time_days.saturating_add(to_site)).max().unwrap_or(0);
    let ends = declared.last_buys.iter().filter_map(|b| b.needed_until);
    let ends = ends.chain(declared.stops.iter().filter(|_| !declared.last_buys.is_empty()).map(|s| s.latest));
    let end = ends.map(|day| (day - declared.as_of).num_days()).max().unwrap_or(0);
    let lead = lead.max(declared.chain.visit_interval_days) as usize;
    (months.ceil() as usize).max(lead).max(usize::try_from(end).unwrap_or(0)).max(YEAR_DAYS)
}

/// Says of each declared number of weekly hours where season and special days make more of a day than it has.
pub(super) fn check_days(doc: &mut Document<'_>, declared: &Declaration, line: u64) {
    let of_programme = declared.programme.iter().map(|p| (p.site.as_str(), p.screen.as_deref().unwrap_or("")));
    let special = declared.season.iter().flat_map(|s| &s.special_days);
    let of_special = special.filter_map(|d| Some((d.site.as_deref()?, d.screen.as_deref().unwrap_or(""))));
    let mut all: Vec<(&str, &str)> = of_programme.chain(of_special).chain([("", "")]).collect();
    all.sort_unstable();
    all.dedup();
    let days = days_ahead(declared);
    for (site, screen) in all {
        let Some(pace) = declared.paces.of_screen(site, screen) else { continue };
        let place = doc.place_of_line(line).column("season");
        if let Some(problem) = pace.too_long(declared.hours_per_week(site, screen), days, place.clone()) {
            let of = match (site, screen) {
                ("", _) => "the chain".to_owned(),
                (site, "") => format!("site {site}"),
                (site, screen) => format!("screen {screen} of {site}"),
            };
            let what = "weekly hours with season and special days give a day of more than 24 hours";
            let got = format!("{} for {of}", problem.got);
            doc.add(Problem::new("study.day_hours", what).at(place).got(got).expected("at most 24 h a day"));
        }
    }
}
