//! What the owner of a study declares about the end of a lamp type: screens that stop, and the last buy before it.

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use super::declare_class::{LampClass, kept};
use super::walk::{Bound, Document, Section};
use crate::base::error::{Error, Kind, Problem};
use crate::records::fold;
use crate::stock::{BuyCosts, BuyRule, Reuse};

/// Why a screen needs no lamp any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StopKind {
    /// It gets another source of light.
    Conversion,
    /// It is closed.
    Closing,
}

impl StopKind {
    /// Every kind.
    pub const ALL: [StopKind; 2] = [StopKind::Conversion, StopKind::Closing];

    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            StopKind::Conversion => "conversion",
            StopKind::Closing => "closing",
        }
    }
}

/// A site, or one screen of it, whose lamps stop burning on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Stop {
    /// Site.
    pub site: String,
    /// Screen; none for every screen of the site.
    pub screen: Option<String>,
    /// Why.
    pub kind: StopKind,
    /// First day on which it may stop.
    pub earliest: NaiveDate,
    /// Last day on which it may stop; the same for a day that is certain.
    pub latest: NaiveDate,
    /// A day on which it could stop instead, to be compared; none where that is not asked.
    pub earlier_on: Option<NaiveDate>,
    /// Line of the study file it stands on.
    #[serde(skip)]
    pub(super) line: u64,
}

/// Days of a window of stops that one day stands for.
///
/// Our choice, without a source: a month, as finer steps change no whole number of lamps.
const PIECE_DAYS: f64 = 30.4375;

/// Most days that a window of stops is taken as.
///
/// Our choice, without a source: those of a year; a wider window is cut into as many.
const MOST_PIECES: f64 = 12.0;

impl Stop {
    /// The days from a date on at which the screen may stop, with their chances: one day, or equally likely days in the
    /// middle of equal pieces of the window. Each screen stops by itself.
    pub(super) fn days(&self, as_of: NaiveDate) -> Vec<(f64, f64)> {
        let from = |day: NaiveDate| (day - as_of).num_days() as f64;
        let (earliest, length) = (from(self.earliest), (self.latest - self.earliest).num_days() as f64);
        let pieces = (length / PIECE_DAYS).ceil().clamp(1.0, MOST_PIECES);
        (0..pieces as usize).map(|i| (earliest + length * (i as f64 + 0.5) / pieces, 1.0 / pieces)).collect()
    }

    /// The same as dates, each the day that its moment lies in.
    pub(super) fn dates(&self, as_of: NaiveDate) -> Vec<(NaiveDate, f64)> {
        let date = |days: f64| as_of.checked_add_days(Days::new(days.max(0.0) as u64)).unwrap_or(self.latest);
        self.days(as_of).into_iter().map(|(days, chance)| (date(days), chance)).collect()
    }
}

/// The last buy of a class before its lamps can be had no more.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct LastBuyPlan {
    /// Lamp class, by its study name.
    pub class: String,
    /// Last day on which the maker takes orders.
    pub last_order_on: NaiveDate,
    /// Day until which lamps are needed; none for the last day on which a screen may stop.
    pub needed_until: Option<NaiveDate>,
    /// Greatest chance of a shortage; none where costs alone set the quantity.
    pub risk: Option<f64>,
    /// Costs that set the quantity; none where a risk alone does.
    pub costs: Option<BuyCosts>,
    /// Price of a lamp in the last buy.
    pub price: f64,
    /// Share of stored lamps that becomes unusable in a year.
    pub shelf_loss_per_year: f64,
    /// Use of freed lamps as emergency spares; none where they are not used again.
    pub reuse: Option<Reuse>,
    /// Days that every stop comes after its last day in the comparison with a late programme.
    pub late_by_days: u32,
}

/// Days of a programme that comes late, unless declared.
///
/// Our choice, without a source: half a year.
const LATE_BY_DAYS: u64 = 182;

/// The tables `[[stop]]`.
pub(super) fn read_stops(doc: &mut Document<'_>, top: &mut Section<'_>, as_of: Option<NaiveDate>) -> Vec<Stop> {
    let mut all: Vec<Stop> = Vec::new();
    for mut s in top.tables(doc, "stop") {
        let site = s.needed_text(doc, "site");
        let screen = s.text(doc, "screen");
        let kind = s.word(doc, "kind", &StopKind::ALL, StopKind::as_str);
        if kind.is_none() && !doc.told(&s, "kind") {
            s.missing(doc, "kind", "one of conversion, closing");
        }
        let days = ["on", "earliest", "latest", "earlier_on"].map(|key| {
            let day = s.date(doc, key);
            if let Some((day, as_of)) = day.zip(as_of).filter(|(day, as_of)| day < as_of) {
                let problem = Problem::new("study.stop_day", "a screen cannot stop before the as-of date");
                let place = s.place(doc, key);
                doc.add(problem.at(place).got(day).expected(format!("{as_of} or later")));
            }
            day
        });
        s.finish(doc);
        let unread = ["on", "earliest", "latest"].iter().any(|key| doc.told(&s, key));
        let window = match days {
            [Some(on), None, None, _] => Some((on, on)),
            [None, Some(earliest), Some(latest), _] if earliest <= latest => Some((earliest, latest)),
            _ if unread => None,
            _ => {
                let problem = Problem::new("study.stop_window", "a stop has a day, or an earliest and a latest day");
                let place = s.place(doc, if days[2].is_some() { "latest" } else { "on" });
                doc.add(problem.at(place).expected("on alone, or earliest and a latest day not before it"));
                None
            }
        };
        if let Some((earlier, (_, latest))) = days[3].zip(window).filter(|(earlier, (_, latest))| earlier > latest) {
            let problem = Problem::new("study.stop_earlier", "the earlier day of a stop lies after its last day");
            doc.add(problem.at(s.place(doc, "earlier_on")).got(earlier).expected(format!("{latest} or before")));
        }
        let line = doc.place(s.offset()).line.unwrap_or(0);
        let (Some(site), Some(kind), Some((earliest, latest))) = (site, kind, window) else { continue };
        let key = |site: &str, screen: &Option<String>| (fold(site), screen.as_deref().map(fold));
        if all.iter().any(|p| key(&p.site, &p.screen) == key(&site, &screen)) {
            let problem = Problem::new("study.stop_twice", "the stop of this screen is declared twice");
            let place = s.place(doc, "site");
            doc.add(problem.at(place).got(&site).expected("one entry for each site or screen"));
        }
        all.push(Stop { site, screen, kind, earliest, latest, earlier_on: days[3], line });
    }
    all
}

/// The stop of a screen: its own, else that of its site.
pub(super) fn stop_of<'a>(stops: &'a [Stop], site: &str, screen: &str) -> Option<&'a Stop> {
    let (site, screen) = (fold(site), fold(screen));
    let mut of_site = stops.iter().filter(|s| fold(&s.site) == site);
    let own = of_site.clone().find(|s| s.screen.as_deref().is_some_and(|own| fold(own) == screen));
    own.or_else(|| of_site.find(|s| s.screen.is_none()))
}

/// The tables `[[last_buy]]`.
pub(super) fn read_last_buys(
    doc: &mut Document<'_>,
    top: &mut Section<'_>,
    as_of: Option<NaiveDate>,
    classes: Option<&[LampClass]>,
) -> Vec<LastBuyPlan> {
    let mut all: Vec<LastBuyPlan> = Vec::new();
    for mut s in top.tables(doc, "last_buy") {
        let class = s.needed_text(doc, "class");
        // Where the study has no class, it is told so.
        let classes = classes.filter(|all| !all.is_empty());
        let known = class.as_ref().and_then(|name| classes?.iter().find(|c| c.name == *name));
        let twice = class.as_ref().is_some_and(|name| all.iter().any(|b| b.class == *name));
        if class.is_some() && (twice || classes.is_some() && known.is_none()) {
            let problem = Problem::new("study.last_buy_class", "a last buy is that of a class of the study, once");
            let names = classes.unwrap_or_default().iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(", ");
            let place = s.place(doc, "class");
            let got = format!("\"{}\"", class.as_deref().unwrap_or_default());
            doc.add(problem.at(place).got(got).expected(format!("one of {names}, each once")));
        }
        let last_order_on = s.needed_date(doc, "last_order_on");
        let needed_until = s.date(doc, "needed_until");
        let early = |day: NaiveDate, first: Option<NaiveDate>| first.filter(|first| day < *first);
        for (key, day, first) in
            [("last_order_on", last_order_on, as_of), ("needed_until", needed_until, last_order_on.max(as_of))]
        {
            if let Some((day, first)) = day.and_then(|day| Some((day, early(day, first)?))) {
                let what = "the last order is not before the as-of date, and lamps are needed beyond it";
                let place = s.place(doc, key);
                doc.add(
                    Problem::new("study.last_buy_day", what).at(place).got(day).expected(format!("{first} or later")),
                );
            }
        }
        let risk = s.number(doc, "risk", Bound::InsideUnit);
        let price = s.number(doc, "price", Bound::Amount).or(known.map(|c| c.price));
        let cost_short = s.number(doc, "cost_short", Bound::Amount);
        let money_back = s.number(doc, "money_back", Bound::Money);
        let shelf_loss_per_year = s.number(doc, "shelf_loss_per_year", Bound::Share).unwrap_or(0.0);
        let reuse = s.number(doc, "reuse_least_hours_left", Bound::NoLess);
        let late = s.whole(doc, "late_by_days", 0, 3650).unwrap_or(LATE_BY_DAYS);
        s.finish(doc);
        if cost_short.is_none() && !doc.told(&s, "cost_short") {
            if money_back.is_some() {
                s.missing(doc, "cost_short", "the cost of each lamp short, which money_back is weighed against");
            } else if risk.is_none() && !doc.told(&s, "risk") {
                let problem = Problem::new("study.last_buy_rule", "neither a risk nor costs set the quantity");
                let place = s.place(doc, "class");
                doc.add(problem.at(place).expected("risk, or cost_short with price and money_back, or both"));
            }
        }
        let (Some(class), Some(last_order_on), Some(price)) = (class, last_order_on, price) else { continue };
        let costs = cost_short.map(|cost_short| BuyCosts { price, cost_short, money_back: money_back.unwrap_or(0.0) });
        let checked = costs.map(|costs| match BuyRule::Costs(costs).check() {
            problems if problems.is_empty() => Ok(()),
            problems => Err(Error::many(Kind::Input, problems)),
        });
        if checked.is_some_and(|checked| kept(doc, &s, "cost_short", checked).is_none()) {
            continue;
        }
        all.push(LastBuyPlan {
            class,
            last_order_on,
            needed_until,
            risk,
            costs,
            price,
            shelf_loss_per_year,
            reuse: reuse.map(|least_hours_left| Reuse { least_hours_left }),
            late_by_days: u32::try_from(late).unwrap_or(u32::MAX),
        });
    }
    all
}
