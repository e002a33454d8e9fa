//! Sites that are filled from one depot: what stock where leads to.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use serde::{Deserialize, Serialize};

use super::two_moments::{GREATEST_RATIO, LEAST_RATIO, of_moments};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// Days of a year.
const YEAR_DAYS: f64 = 365.25;

/// Most numbers of lamps waiting at the depot that are split over the sites one by one.
const MOST_SPLIT: usize = 2000;
/// Most lamps at one place. Our choice, without a source: the time that a place takes grows with them.
const MOST_STOCK: u64 = 100_000;

/// A site that holds spares and is filled from the depot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Its name.
    pub name: String,
    /// Mean lamps needed a day.
    pub needed_per_day: f64,
    /// Variance of the lamps needed in a time over their mean; 1 where needs come by chance one by one.
    pub variance_to_mean: f64,
    /// Days from the depot's shelf to the site. None only where the site takes nothing from the depot.
    pub depot_days: Option<f64>,
    /// Share of needs filled from a dealer nearby and not from the depot, 0 to 1.
    pub local_share: f64,
    /// Days from that dealer. None only where the share is 0.
    pub local_days: Option<f64>,
    /// Programme hours a day of one screen, which are dark while it waits for a lamp.
    pub hours_per_day: f64,
}

/// One depot and the sites it fills. Each lamp taken is ordered anew at once, one by one, and first come is first filled.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Places {
    /// Mean days from the maker to the depot. None only where no site takes from it.
    pub maker_days: Option<f64>,
    /// The sites.
    pub sites: Vec<Site>,
}

/// How the lamps on their way to a site are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PlacesMethod {
    /// Lamps waited for at the depot fall to the sites by chance, each by its share: exact for needs by chance.
    Exact,
    /// A Poisson number with the right mean. It understates waiting screens, since the true number varies more.
    Means,
    /// A count with the right mean and variance.
    TwoMoments,
}

/// What one site's stock leads to in the long run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteService {
    /// Its name.
    pub name: String,
    /// Lamps it holds when nothing is on its way.
    pub stock: u64,
    /// Mean lamps on their way to it, those waited for at the depot included.
    pub mean_on_way: f64,
    /// Variance of that number.
    pub variance_on_way: f64,
    /// Mean screens that wait for a lamp: E(on way - stock)+.
    pub screens_waiting: f64,
    /// Share of needs filled at once: P(on way <= stock - 1).
    pub fill_rate: f64,
    /// Share of time in which no screen waits: P(on way <= stock).
    pub no_screen_waiting: f64,
    /// Mean programme hours a year that are dark for want of a lamp.
    pub dark_hours_per_year: f64,
}

/// What stock at a depot and its sites leads to in the long run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacesService {
    /// How the lamps on their way were counted.
    pub method: PlacesMethod,
    /// Lamps the depot holds when nothing is on its way to it.
    pub depot_stock: u64,
    /// Mean lamps on their way to the depot.
    pub depot_on_way: f64,
    /// Mean lamps that sites wait for because the depot has none.
    pub depot_waiting: f64,
    /// Mean days that a site's order waits at the depot: lamps waited for over lamps asked for a day.
    pub depot_wait_days: f64,
    /// Each site.
    pub sites: Vec<SiteService>,
    /// All lamps held, depot and sites.
    pub lamps: u64,
    /// Mean screens that wait for a lamp, all sites.
    pub screens_waiting: f64,
    /// Share of all needs filled at once.
    pub fill_rate: f64,
    /// Mean programme hours a year that are dark for want of a lamp, all sites.
    pub dark_hours_per_year: f64,
    /// What may mislead.
    pub notes: Vec<String>,
}

impl Sound for Places {
    fn check(&self, c: &mut Checks) {
        if let Err(error) = Places::check(self) {
            for problem in error.problems() {
                let place = &problem.place;
                let column = place.column.as_deref().unwrap_or(&place.input);
                let field = place.row.map_or_else(|| column.to_owned(), |row| format!("sites[{}].{column}", row - 1));
                c.need(&field, false, problem.got.as_str(), "what is taken when it is made");
            }
        }
    }
}

impl Sound for SiteService {
    fn check(&self, c: &mut Checks) {
        c.words("name", &self.name);
        c.not_negative("mean_on_way", self.mean_on_way);
        c.not_negative("variance_on_way", self.variance_on_way);
        let least = (self.mean_on_way - self.stock as f64).max(0.0);
        c.between("screens_waiting", self.screens_waiting, least, self.mean_on_way);
        c.share("fill_rate", self.fill_rate);
        c.share("no_screen_waiting", self.no_screen_waiting);
        c.between("no_screen_waiting", self.no_screen_waiting, self.fill_rate, None);
        c.between("dark_hours_per_year", self.dark_hours_per_year, 0.0, self.screens_waiting * 24.0 * YEAR_DAYS);
    }
}

impl PlacesService {
    /// What each number of service is, by the name of its field, as the same words mean other things elsewhere.
    pub fn definitions(&self) -> Vec<(&'static str, &'static str)> {
        vec![
            (
                "screens_waiting",
                "E(on way - stock)+, on way: lamps on their way to the site, those waited for at the depot included",
            ),
            ("fill_rate", "P(on way <= stock - 1): share of the needs of a site filled at once from its own shelf"),
            ("no_screen_waiting", "P(on way <= stock): share of time in which no screen of the site waits"),
            ("dark_hours_per_year", "screens waiting x programme hours a day of a screen x 365.25"),
            ("depot_wait_days", "lamps that sites wait for at the depot / lamps asked of it a day"),
        ]
    }
}

impl Sound for PlacesService {
    fn check(&self, c: &mut Checks) {
        c.not_negative("depot_on_way", self.depot_on_way);
        let least = (self.depot_on_way - self.depot_stock as f64).max(0.0);
        c.between("depot_waiting", self.depot_waiting, least, self.depot_on_way);
        c.not_negative("depot_wait_days", self.depot_wait_days);
        c.need("sites", !self.sites.is_empty(), "no site", "one or more");
        c.parts("sites", &self.sites);
        c.once("sites", self.sites.iter().map(|s| s.name.clone()));
        let lamps = self.depot_stock + self.sites.iter().map(|s| s.stock).sum::<u64>();
        c.need("lamps", self.lamps == lamps, self.lamps, format!("{lamps}, the sum"));
        let sum = |of: fn(&SiteService) -> f64| self.sites.iter().map(of).sum::<f64>();
        c.equal("screens_waiting", self.screens_waiting, sum(|s| s.screens_waiting));
        c.equal("dark_hours_per_year", self.dark_hours_per_year, sum(|s| s.dark_hours_per_year));
        c.share("fill_rate", self.fill_rate);
    }
}

impl Places {
    /// Everything that is wrong with the places, at once.
    ///
    /// # Errors
    /// `stock.no_sites`, `stock.site_name` for a blank or repeated one, `stock.site` for a number out of range,
    /// `stock.lead_time_needed` for a lead time that is needed and not given.
    pub fn check(&self) -> Result<()> {
        let mut problems = Vec::new();
        if self.sites.is_empty() {
            problems.push(Problem::new("stock.no_sites", "there is no site to hold spares").at(Place::input("sites")));
        }
        let mut names = BTreeMap::new();
        for (i, site) in self.sites.iter().enumerate() {
            let place = |column: &str| Place::input("sites").row(i as u64 + 1).column(column);
            if site.name.trim().is_empty() || names.insert(site.name.as_str(), i).is_some() {
                let problem = Problem::new("stock.site_name", "each site needs a name of its own");
                problems.push(problem.at(place("name")).got(&site.name).expected("a name that stands once"));
            }
            let mut within = |column: &str, x: f64, low: f64, high: f64| {
                if !(low..=high).contains(&x) || x.is_infinite() {
                    let problem = Problem::new("stock.site", "a number of a site is out of range");
                    let expected = if high == f64::MAX { format!("{low} or more") } else { format!("{low} to {high}") };
                    problems.push(problem.at(place(column)).got(x).expected(expected));
                }
            };
            within("needed_per_day", site.needed_per_day, 0.0, f64::MAX);
            within("variance_to_mean", site.variance_to_mean, 0.0, f64::MAX);
            within("local_share", site.local_share, 0.0, 1.0);
            within("hours_per_day", site.hours_per_day, 0.0, 24.0);
            within("depot_days", site.depot_days.unwrap_or(0.0), 0.0, f64::MAX);
            within("local_days", site.local_days.unwrap_or(0.0), 0.0, f64::MAX);
            let mut missing = |column: &str, needed: bool| {
                if needed {
                    problems.push(lead_time_needed(place(column)));
                }
            };
            missing("depot_days", site.depot_days.is_none() && site.local_share < 1.0);
            missing("local_days", site.local_days.is_none() && site.local_share > 0.0);
        }
        match self.maker_days {
            None if self.sites.iter().any(|s| s.local_share < 1.0) => {
                problems.push(lead_time_needed(Place::input("maker_days")));
            }
            Some(days) if !(0.0..f64::INFINITY).contains(&days) => {
                let problem = Problem::new("stock.site", "a number of a site is out of range");
                problems.push(problem.at(Place::input("maker_days")).got(days).expected("days, 0 or more"));
            }
            _ => {}
        }
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Lamps held by site in the order of the sites, from a list by name; a site that is not named holds none.
    ///
    /// # Errors
    /// `stock.unknown_site` for every name that is no site.
    pub fn by_name(&self, stock: &BTreeMap<String, u64>) -> Result<Vec<u64>> {
        let known = |name: &str| self.sites.iter().any(|s| s.name == name);
        let problems: Vec<Problem> = stock
            .keys()
            .filter(|name| !known(name))
            .map(|name| {
                let problem = Problem::new("stock.unknown_site", "stock is given for a site that is not there");
                let names: Vec<&str> = self.sites.iter().map(|s| s.name.as_str()).collect();
                problem.at(Place::input("stock").column("site")).got(name).expected(names.join(", "))
            })
            .collect();
        if problems.is_empty() {
            Ok(self.sites.iter().map(|s| stock.get(&s.name).copied().unwrap_or(0)).collect())
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }

    /// Lamps that the sites ask the depot for a day, and the ratio of variance to mean of that number in a time.
    pub(crate) fn asked(&self) -> (f64, f64) {
        let mean: f64 = self.sites.iter().map(Site::asked).sum();
        let variance: f64 =
            self.sites.iter().map(|s| s.asked() * thinned(s.variance_to_mean, 1.0 - s.local_share)).sum();
        (mean, if mean > 0.0 { variance / mean } else { 1.0 })
    }

    /// Lamps on their way to the depot.
    fn to_depot(&self, method: PlacesMethod) -> Result<Count> {
        let (a_day, ratio) = self.asked();
        let mean = a_day * self.maker_days.unwrap_or(0.0);
        if method == PlacesMethod::TwoMoments { of_moments(mean, ratio * mean) } else { Count::poisson(mean) }
    }

    /// The method for these places: exact where needs come by chance and few lamps wait at the depot, else by two moments.
    ///
    /// # Errors
    /// Those of [`Places::check`]; `stock.variance_to_mean` for a site whose needs vary so much more or less than by
    /// chance that a count of two moments does not stand for them.
    pub fn method(&self, asked: Option<PlacesMethod>) -> Result<PlacesMethod> {
        self.check()?;
        let by_chance = self.sites.iter().all(|s| s.variance_to_mean == 1.0);
        let few = || Ok::<bool, Error>(self.to_depot(PlacesMethod::Exact)?.probabilities().len() <= MOST_SPLIT);
        let method = match asked {
            Some(PlacesMethod::Exact) if !by_chance || !few()? => {
                let what = "the exact count is for needs by chance and few lamps on their way to the depot";
                let problem = Problem::new("stock.not_exact", what).at(Place::input("method")).got("exact");
                return Err(Error::new(Kind::Refused, problem.expected("two_moments")));
            }
            Some(method) => method,
            None if by_chance && few()? => PlacesMethod::Exact,
            None => PlacesMethod::TwoMoments,
        };
        let far = |s: &&Site| !(LEAST_RATIO..=GREATEST_RATIO).contains(&s.variance_to_mean);
        let problems: Vec<Problem> = self
            .sites
            .iter()
            .filter(far)
            .map(|s| {
                let what = "no count of two moments stands for a variance so far from the mean";
                let place = Place::input("sites").column("variance_to_mean");
                let problem = Problem::new("stock.variance_to_mean", what).at(place);
                problem.got(format!("{} at {}", s.variance_to_mean, s.name)).expected("0.8 to 2")
            })
            .collect();
        if problems.is_empty() { Ok(method) } else { Err(Error::many(Kind::Refused, problems)) }
    }

    /// Lamps on their way to each site, and waited for at the depot, with so many held at the depot.
    pub(crate) fn on_way(&self, depot_stock: u64, method: PlacesMethod) -> Result<(Count, Vec<Count>)> {
        let at_depot = excess(&self.to_depot(method)?, depot_stock)?;
        let (asked, _) = self.asked();
        let (mean, variance) = (at_depot.mean(), at_depot.sd().powi(2));
        // Sites of equal size have the same part of what waits.
        let mut parts: BTreeMap<u64, Count> = BTreeMap::new();
        let each = self.sites.iter().map(|site| {
            let share = if asked > 0.0 { site.asked() / asked } else { 0.0 };
            let (own, own_variance) = site.own();
            match method {
                PlacesMethod::Exact => {
                    let part = match parts.entry(share.to_bits()) {
                        Entry::Occupied(known) => known.into_mut(),
                        Entry::Vacant(new) => new.insert(split(&at_depot, share)?),
                    };
                    Ok(Count::poisson(own)?.plus(part))
                }
                PlacesMethod::Means => Count::poisson(own + share * mean),
                PlacesMethod::TwoMoments => of_moments(
                    own + share * mean,
                    own_variance + share * share * variance + share * (1.0 - share) * mean,
                ),
            }
        });
        let each = each.collect::<Result<Vec<_>>>()?;
        Ok((at_depot, each))
    }
}

impl Site {
    /// Lamps asked from the depot a day.
    pub(crate) fn asked(&self) -> f64 {
        self.needed_per_day * (1.0 - self.local_share)
    }

    /// Mean and variance of the lamps on their way that no empty depot holds up.
    pub(crate) fn own(&self) -> (f64, f64) {
        let near = self.needed_per_day * self.local_share * self.local_days.unwrap_or(0.0);
        let far = self.asked() * self.depot_days.unwrap_or(0.0);
        let ratio = self.variance_to_mean;
        let variance = near * thinned(ratio, self.local_share) + far * thinned(ratio, 1.0 - self.local_share);
        (near + far, variance)
    }

    /// Programme hours a year of one screen.
    pub(crate) fn hours_per_year(&self) -> f64 {
        self.hours_per_day * YEAR_DAYS
    }
}

/// The ratio of variance to mean of a part of some needs, each in it by chance.
fn thinned(ratio: f64, share: f64) -> f64 {
    1.0 + share * (ratio - 1.0)
}

fn lead_time_needed(place: Place) -> Problem {
    Problem::new("stock.lead_time_needed", "a lead time that is needed is not given").at(place).expected("days")
}

/// The number above a stock: (N - stock)+.
fn excess(count: &Count, stock: u64) -> Result<Count> {
    if stock <= count.first() {
        return Count::from_probabilities(count.first() - stock, count.probabilities().to_vec());
    }
    let from = ((stock - count.first()) as usize).min(count.probabilities().len());
    let none: f64 = count.at_most(stock);
    let mut each = vec![none];
    each.extend(count.probabilities().iter().skip(from + 1));
    Count::from_probabilities(0, each)
}

/// The part of a number that falls to a share, each by chance.
fn split(count: &Count, share: f64) -> Result<Count> {
    let parts = (count.first()..).take(count.probabilities().len()).map(|n| Count::binomial(n, share));
    let parts = parts.collect::<Result<Vec<_>>>()?;
    Count::mix_weighted(&count.probabilities().iter().copied().zip(&parts).collect::<Vec<_>>())
}

/// What stock at a depot and its sites leads to in the long run.
///
/// # Formula
/// ```text
/// to the depot:  X0 ~ Poisson(m0),  m0 = lamps asked for a day x days from the maker;   B0 = (X0 - depot stock)+
/// to site i:     X_i = Poisson(needed a day x (local share x local days + (1 - local share) x depot days)) + K_i
/// exact:         K_i ~ Bin(B0, share of site i in what the depot is asked for)
/// by means:      X_i Poisson with the mean of the above, share x E B0 for K_i
/// two moments:   X_i with mean and variance of the above: Var K_i = share^2 Var B0 + share (1 - share) E B0
/// waiting = E(X_i - s_i)+;  fill rate = P(X_i <= s_i - 1);  no screen waiting = P(X_i <= s_i)
/// dark hours a year = waiting x programme hours a day x 365.25
/// ```
/// Where the needs of a site vary more or less than by chance, the counts to the depot and to the sites take two moments
/// with that ratio of variance to mean; the negative binomial law above 1.
///
/// # Errors
/// Those of [`Places::check`] and [`Places::method`]; `stock.site_stock` unless each site has its stock, at
/// most 100,000 lamps at a place.
///
/// # Numerics
/// Exact for needs by chance and times from the depot that do not vary; the days from the maker may vary, only their
/// mean counts. By two moments the screens waiting at a site are right to 2 % of the lamps on their way; by means they are
/// understated, at times by more than half.
///
/// # Source
/// Depot backorders that fall to the sites by chance: Graves, A multi-echelon inventory model for a repairable item with
/// one-for-one replenishment, Management Science 31 (1985). By means: Sherbrooke, Operations Research 16 (1968). From memory.
///
/// # Examples
/// ```
/// use relamp::stock::{Places, Site, place_service};
/// let site = |name: &str| Site {
///     name: name.into(), needed_per_day: 0.05, variance_to_mean: 1.0, depot_days: Some(2.0),
///     local_share: 0.0, local_days: None, hours_per_day: 10.0,
/// };
/// let places = Places { maker_days: Some(20.0), sites: vec![site("north"), site("south")] };
/// let few = place_service(&places, 0, &[1, 1], None)?;
/// let more = place_service(&places, 4, &[1, 1], None)?;
/// // Without a depot stock each site waits 22 days for its lamp: 1.1 are on the way on average.
/// assert!((few.sites[0].mean_on_way - 1.1).abs() < 1e-12);
/// assert!((few.sites[0].screens_waiting - (0.1 + (-1.1_f64).exp())).abs() < 1e-12);
/// assert!(more.dark_hours_per_year < few.dark_hours_per_year / 5.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn place_service(
    places: &Places,
    depot_stock: u64,
    site_stock: &[u64],
    method: Option<PlacesMethod>,
) -> Result<PlacesService> {
    let method = places.method(method)?;
    if site_stock.len() != places.sites.len() {
        let what = "each site needs its stock";
        let problem = Problem::new("stock.site_stock", what).at(Place::input("site_stock")).got(site_stock.len());
        let expected = format!("one for each of {}", counted(places.sites.len() as u64, "site"));
        return Err(Error::new(Kind::Input, problem.expected(expected)));
    }
    if let Some(most) = site_stock.iter().chain([&depot_stock]).find(|s| **s > MOST_STOCK) {
        let problem = Problem::new("stock.site_stock", "more lamps than one place can be asked for");
        let problem = problem.at(Place::input("site_stock")).got(most);
        return Err(Error::new(Kind::Limit, problem.expected(format!("at most {MOST_STOCK} at each place"))));
    }
    let (at_depot, on_way) = places.on_way(depot_stock, method)?;
    let each = places.sites.iter().zip(&on_way).zip(site_stock);
    let sites: Vec<SiteService> = each
        .map(|((site, count), &stock)| {
            let screens_waiting = count.expected_above(stock);
            SiteService {
                name: site.name.clone(),
                stock,
                mean_on_way: count.mean(),
                variance_on_way: count.sd().powi(2),
                screens_waiting,
                fill_rate: stock.checked_sub(1).map_or(0.0, |below| count.at_most(below)),
                no_screen_waiting: count.at_most(stock),
                dark_hours_per_year: screens_waiting * site.hours_per_year(),
            }
        })
        .collect();
    let needed: f64 = places.sites.iter().map(|s| s.needed_per_day).sum();
    let filled: f64 = places.sites.iter().zip(&sites).map(|(p, s)| p.needed_per_day * s.fill_rate).sum();
    let (asked, _) = places.asked();
    let mut notes = Vec::new();
    if method == PlacesMethod::Means {
        notes.push(
            "a count by its mean alone varies less than the true one: screens waiting are understated".to_owned(),
        );
    }
    if method == PlacesMethod::TwoMoments {
        notes.push("counts with the right mean and variance stand for the true ones".to_owned());
    }
    let depot_waiting = at_depot.mean();
    Ok(PlacesService {
        method,
        depot_stock,
        depot_on_way: asked * places.maker_days.unwrap_or(0.0),
        depot_waiting,
        depot_wait_days: if asked > 0.0 { depot_waiting / asked } else { 0.0 },
        lamps: depot_stock + site_stock.iter().sum::<u64>(),
        screens_waiting: sites.iter().map(|s| s.screens_waiting).sum(),
        fill_rate: if needed > 0.0 { (filled / needed).min(1.0) } else { 1.0 },
        dark_hours_per_year: sites.iter().map(|s| s.dark_hours_per_year).sum(),
        sites,
        notes,
    })
}
