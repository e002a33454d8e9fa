//! What one stock for all sites saves, and what transfers between sites do.

use serde::{Deserialize, Serialize};

use super::places::{Places, PlacesMethod, PlacesService, place_service};
use super::two_moments::of_moments;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// Days of a year.
const YEAR_DAYS: f64 = 365.25;

/// Rounds that settle what the sites lend to each other.
const ROUNDS: usize = 200;

/// The sites with a shelf each, and the same lamps as one stock that any site can draw on at once.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pooling {
    /// The sites apart.
    pub apart: PlacesService,
    /// Lamps held at the sites.
    pub site_lamps: u64,
    /// Mean screens that wait for a lamp with one stock.
    pub screens_waiting: f64,
    /// Share of needs filled at once with one stock.
    pub fill_rate: f64,
    /// Mean dark programme hours a year with one stock, hours of the sites weighed by their needs.
    pub dark_hours_per_year: f64,
    /// Fewest lamps in one stock with which no more screens wait than apart.
    pub lamps_for_the_same: u64,
    /// Lamps that one stock saves: those of the sites less these.
    pub lamps_saved: u64,
    /// Transfers a year between sites where each keeps its shelf and helps the others: needs that find their own shelf
    /// empty, but not all. A rule of thumb.
    pub transfers_per_year: f64,
    /// What these transfers cost a year.
    pub transfer_cost_per_year: f64,
    /// Cost of the transfers for each dark hour they save; none where they save none.
    pub cost_per_dark_hour_saved: Option<f64>,
    /// What may mislead.
    pub notes: Vec<String>,
}

impl Sound for Pooling {
    fn check(&self, c: &mut Checks) {
        c.part("apart", &self.apart);
        let lamps: u64 = self.apart.sites.iter().map(|s| s.stock).sum();
        c.need("site_lamps", self.site_lamps == lamps, self.site_lamps, format!("{lamps}, those of the sites"));
        c.between("screens_waiting", self.screens_waiting, 0.0, self.apart.screens_waiting * (1.0 + 1e-6));
        c.share("fill_rate", self.fill_rate);
        c.not_negative("dark_hours_per_year", self.dark_hours_per_year);
        let saved = lamps.saturating_sub(self.lamps_for_the_same);
        c.need("lamps_saved", self.lamps_saved == saved, self.lamps_saved, format!("{saved}, which follows"));
        c.not_negative("transfers_per_year", self.transfers_per_year);
        c.not_negative("transfer_cost_per_year", self.transfer_cost_per_year);
        c.not_negative("cost_per_dark_hour_saved", self.cost_per_dark_hour_saved);
    }
}

/// What pooling the lamps of all sites saves, as one stock or by transfers between sites at need.
///
/// # Formula
/// ```text
/// on the way to all sites: X = sum of the lamps on their own way + all that wait at the depot;  S = sum of site stocks
/// waiting with one stock = E(X - S)+ <= sum of E(X_i - s_i)+;   fill rate = P(X <= S - 1)
/// lamps for the same: least n with E(X - n)+ <= sum of E(X_i - s_i)+
/// transfers a day = P(X < S) x sum of needed_i e_i,  e_i = share of time in which shelf i is empty
/// e_i = loss(s_i, (needed_i + lent_i) x days on the way),  lent_i = sum over j != i of needed_j e_j w_i / (1 - e_i)
/// ```
/// loss(s, a): the Erlang loss formula; `w_i`: shares of what is lent, by stock times the chance to have some.
/// A transfer takes no time beside the way from the depot, so that a screen waits only while no site holds a lamp.
///
/// # Errors
/// Those of [`place_service`]; `stock.transfer_cost` unless the cost of a transfer is finite and not negative.
///
/// # Numerics
/// Exact for needs by chance where the ways from the depot take the same time. The number of transfers is a rule of
/// thumb that takes the shelves as independent; it came within a tenth of played supply.
///
/// # Examples
/// ```
/// use relamp::stock::{Places, Site, pooling};
/// let site = |name: &str| Site {
///     name: name.into(), needed_per_day: 0.05, variance_to_mean: 1.0, depot_days: Some(2.0),
///     local_share: 0.0, local_days: None, hours_per_day: 10.0,
/// };
/// let places = Places { maker_days: Some(20.0), sites: ["a", "b", "c", "d"].map(site).into() };
/// let pooled = pooling(&places, 0, &[2, 2, 2, 2], 60.0, None)?;
/// // 4.4 lamps are on the way: 6 in one stock leave no more screens waiting than two at each of four sites.
/// assert_eq!((pooled.lamps_for_the_same, pooled.lamps_saved), (6, 2));
/// assert!(pooled.screens_waiting < pooled.apart.screens_waiting / 4.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn pooling(
    places: &Places,
    depot_stock: u64,
    site_stock: &[u64],
    transfer_cost: f64,
    method: Option<PlacesMethod>,
) -> Result<Pooling> {
    if !(0.0..f64::INFINITY).contains(&transfer_cost) {
        let what = "the cost of a transfer must be finite and not negative";
        let problem = Problem::new("stock.transfer_cost", what).at(Place::input("transfer_cost")).got(transfer_cost);
        return Err(Error::new(Kind::Input, problem));
    }
    let apart = place_service(places, depot_stock, site_stock, method)?;
    let (at_depot, _) = places.on_way(depot_stock, apart.method)?;
    let (own, variance) =
        places.sites.iter().map(super::places::Site::own).fold((0.0, 0.0), |s, o| (s.0 + o.0, s.1 + o.1));
    let all = match apart.method {
        PlacesMethod::Exact => Count::poisson(own)?.plus(&at_depot),
        PlacesMethod::Means => Count::poisson(own + at_depot.mean())?,
        PlacesMethod::TwoMoments => of_moments(own + at_depot.mean(), variance + at_depot.sd().powi(2))?,
    };
    let site_lamps: u64 = site_stock.iter().sum();
    let screens_waiting = all.expected_above(site_lamps);
    let least = (0..site_lamps).find(|n| all.expected_above(*n) <= apart.screens_waiting);
    let lamps_for_the_same = least.unwrap_or(site_lamps);
    let all_empty = site_lamps.checked_sub(1).map_or(1.0, |below| all.more_than(below));
    let needed: f64 = places.sites.iter().map(|s| s.needed_per_day).sum();
    let transfers = (1.0 - all_empty) * transfers_a_day(places, &apart);
    let hours = places.sites.iter().map(|s| s.needed_per_day * s.hours_per_year()).sum::<f64>();
    let dark_hours_per_year = if needed > 0.0 { screens_waiting * hours / needed } else { 0.0 };
    let transfers_per_year = transfers * YEAR_DAYS;
    let transfer_cost_per_year = transfers_per_year * transfer_cost;
    let saved = apart.dark_hours_per_year - dark_hours_per_year;
    let mut notes = vec!["the number of transfers is a rule of thumb".to_owned()];
    let ways: Vec<f64> = places.sites.iter().filter(|s| s.asked() > 0.0).filter_map(|s| s.depot_days).collect();
    if ways.windows(2).any(|w| matches!(w, [a, b] if a != b)) {
        notes.push(
            "the ways from the depot differ in time: lamps on the way to all sites are an approximation".to_owned(),
        );
    }
    Ok(Pooling {
        apart,
        site_lamps,
        screens_waiting,
        fill_rate: 1.0 - all_empty,
        dark_hours_per_year,
        lamps_for_the_same,
        lamps_saved: site_lamps - lamps_for_the_same,
        transfers_per_year,
        transfer_cost_per_year,
        cost_per_dark_hour_saved: (saved > 0.0).then(|| transfer_cost_per_year / saved),
        notes,
    })
}

/// Needs a day that find their own shelf empty and are filled by another site, while not all are empty.
fn transfers_a_day(places: &Places, apart: &PlacesService) -> f64 {
    let sites: Vec<(f64, f64, u64)> = places
        .sites
        .iter()
        .zip(&apart.sites)
        .map(|(p, s)| {
            let days = if p.needed_per_day > 0.0 { s.mean_on_way / p.needed_per_day } else { 0.0 };
            (p.needed_per_day, days, s.stock)
        })
        .collect();
    if sites.len() < 2 {
        return 0.0;
    }
    let mut empty: Vec<f64> = sites.iter().map(|(needed, days, stock)| loss(*stock, needed * days)).collect();
    for _ in 0..ROUNDS {
        let sought: Vec<f64> = sites.iter().zip(&empty).map(|(s, e)| s.0 * e).collect();
        let offered: Vec<f64> = sites.iter().zip(&empty).map(|(s, e)| s.2 as f64 * (1.0 - e)).collect();
        let (all_sought, all_offered) = (sought.iter().sum::<f64>(), offered.iter().sum::<f64>());
        let next = sites.iter().zip(&empty).zip(sought.iter().zip(&offered)).map(|((site, e), (sought, offered))| {
            let part = if all_offered > 0.0 { offered / all_offered } else { 0.0 };
            let lent = (all_sought - sought) * part / (1.0 - e).max(1e-9);
            let full = loss(site.2, (site.0 + lent) * site.1);
            f64::midpoint(*e, full)
        });
        empty = next.collect();
    }
    sites.iter().zip(&empty).map(|(s, e)| s.0 * e).sum()
}

/// The Erlang loss formula: share of calls lost with `lines` lines at a load.
fn loss(lines: u64, load: f64) -> f64 {
    (1..=lines).fold(1.0, |lost, n| load * lost / (n as f64 + load * lost))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loss_formula_meets_its_closed_values() {
        // Load 2 with 1 to 4 lines: 2/3, 2/5, 4/19, 2/21.
        for (lines, lost) in [(0, 1.0), (1, 2.0 / 3.0), (2, 0.4), (3, 4.0 / 19.0), (4, 2.0 / 21.0)] {
            assert!((loss(lines, 2.0) - lost).abs() < 1e-15, "{lines}");
        }
    }
}
