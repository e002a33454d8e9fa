//! One play of a chain with its stock, event by event.

use std::cmp::Ordering;
use std::collections::{BinaryHeap, VecDeque};

use super::chain::WhileWaiting;
use super::chain_sheet::{Meter, Played};
use super::lamp::Causes;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::random::Stream;
use crate::demand::Clock;
use crate::stock::{StockCosts, StockRule};

/// Most changes of one screen; more means a life or an age in another unit than hours.
const MOST_CHANGES: u64 = 20_000;

/// One screen, as it is when the play begins.
#[derive(Clone, Debug)]
pub(super) struct Socket {
    pub(super) age: Option<f64>,
    pub(super) hours_per_day: f64,
    /// Its programme, among those of the script.
    pub(super) clock: usize,
    /// The place that it takes lamps from.
    pub(super) place: usize,
    /// (day, sum of chances up to and with it) of its stop.
    pub(super) stops: Vec<(f64, f64)>,
}

/// What every play shares. The first place is the store; the others are sites, where sites have shelves.
#[derive(Debug)]
pub(super) struct Script {
    pub(super) planned_age: f64,
    pub(super) limit: f64,
    pub(super) sockets: Vec<Socket>,
    pub(super) clocks: Vec<Clock>,
    /// Days from the start to the end of each month, beginning with 0.
    pub(super) ends: Vec<f64>,
    pub(super) warm_up: f64,
    /// Lamps that each place begins with.
    pub(super) stock: Vec<u64>,
    pub(super) coming: Vec<(f64, u64)>,
    pub(super) rule: Option<StockRule>,
    /// (days, sum of chances up to and with them).
    pub(super) lead: Vec<(f64, f64)>,
    pub(super) review_days: f64,
    pub(super) site_days: f64,
    /// Days and cost of a lamp from elsewhere.
    pub(super) emergency: Option<(f64, f64)>,
    pub(super) waiting: WhileWaiting,
    pub(super) costs: Option<StockCosts>,
    pub(super) seed: u64,
}

#[derive(Clone, Copy, Debug)]
enum What {
    /// Lamps of the maker, of an order or not.
    Delivery {
        lamps: u64,
        ordered: bool,
    },
    /// A lamp from the store at a site.
    AtSite(usize),
    /// The moment just before an order placed at a review would come.
    CycleEnds,
    /// A lamp from elsewhere at a screen.
    FromElsewhere(usize),
    Stops(usize),
    /// The screen needs its next lamp, if the lamp of this number still burns there.
    Needs {
        socket: usize,
        lamp: u64,
        failed: bool,
    },
    /// A lamp that waits for its planned change can burn no more.
    GoesDark {
        socket: usize,
        lamp: u64,
    },
    Review,
}

impl What {
    /// Of what falls on one instant lamps come first, then screens stop, then they need lamps, then the shelf is looked at.
    fn rank(self) -> u8 {
        match self {
            Self::CycleEnds => 0,
            Self::Delivery { .. } | Self::AtSite(_) | Self::FromElsewhere(_) => 1,
            Self::Stops(_) => 2,
            Self::Needs { .. } | Self::GoesDark { .. } => 3,
            Self::Review => 4,
        }
    }
}

#[derive(Debug)]
struct Event {
    day: f64,
    rank: u8,
    number: u64,
    what: What,
}

impl Ord for Event {
    fn cmp(&self, other: &Self) -> Ordering {
        // The heap gives the greatest first.
        other.day.total_cmp(&self.day).then(other.rank.cmp(&self.rank)).then(other.number.cmp(&self.number))
    }
}

impl PartialOrd for Event {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Event {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Event {}

/// A screen that asked for a lamp and did not get it; since when it is dark, none while its old lamp burns on.
#[derive(Clone, Copy, Debug)]
struct Asked {
    socket: usize,
    dark_since: Option<f64>,
}

#[derive(Debug, Default)]
struct Shelf {
    on_hand: u64,
    waiting: VecDeque<Asked>,
    /// Sites that wait for a lamp of the store.
    owed: VecDeque<usize>,
}

#[derive(Debug)]
struct Burning {
    stream: Stream,
    stop: f64,
    stopped: bool,
    /// Number of the lamp, to tell events of lamps that are gone.
    lamp: u64,
    fitted_at: f64,
    fitted_age: f64,
    fails_at_age: f64,
}

/// A play under way.
pub(super) struct Play<'a> {
    script: &'a Script,
    causes: &'a Causes<'a>,
    events: BinaryHeap<Event>,
    number: u64,
    leads: Stream,
    burning: Vec<Burning>,
    shelves: Vec<Shelf>,
    meters: Vec<Meter>,
    on_order: u64,
    last_order: u64,
    played: Played,
}

impl<'a> Play<'a> {
    /// Plays the chain once, with the causes of one world.
    pub(super) fn once(script: &'a Script, causes: &'a Causes<'a>, replicate: u64) -> Result<Played> {
        let begin = |(i, _): (usize, &Socket)| Burning {
            stream: Stream::new(script.seed, "simulate", "chain socket", replicate << 32 | i as u64),
            stop: f64::INFINITY,
            stopped: false,
            lamp: 0,
            fitted_at: 0.0,
            fitted_age: 0.0,
            fails_at_age: 0.0,
        };
        let places = script.stock.len();
        let mut play = Self {
            script,
            causes,
            events: BinaryHeap::new(),
            number: 0,
            leads: Stream::new(script.seed, "simulate", "chain leads", replicate),
            burning: script.sockets.iter().enumerate().map(begin).collect(),
            shelves: script.stock.iter().map(|n| Shelf { on_hand: *n, ..Shelf::default() }).collect(),
            meters: vec![Meter::new(script.warm_up, script.end()); places],
            on_order: 0,
            last_order: match script.rule {
                Some(StockRule::Reorder { quantity, .. }) => quantity,
                _ => 1,
            },
            played: Played::new(script.ends.len() - 1, places),
        };
        play.start()?;
        while let Some(event) = play.events.pop() {
            if event.day > script.end() {
                break;
            }
            play.happens(event.day, event.what)?;
        }
        Ok(play.finish())
    }

    fn start(&mut self) -> Result<()> {
        for (day, lamps) in &self.script.coming {
            self.on_order += lamps;
            self.at(*day, What::Delivery { lamps: *lamps, ordered: false });
        }
        for i in 0..self.script.sockets.len() {
            let Some(socket) = self.script.sockets.get(i) else { continue };
            if !socket.stops.is_empty() {
                let u = self.burning.get_mut(i).map_or(0.0, |b| b.stream.uniform());
                // What is left of the chances lies past the horizon.
                let stop = socket.stops.iter().find(|s| u < s.1).map_or(f64::INFINITY, |s| s.0);
                if let Some(burning) = self.burning.get_mut(i) {
                    burning.stop = stop;
                }
                self.at(stop, What::Stops(i));
            }
            let due = socket
                .age
                .is_none_or(|a| a >= self.script.planned_age || self.causes.ln_reliability(a) == f64::NEG_INFINITY);
            if due {
                let age = socket.age.unwrap_or(f64::INFINITY);
                if let Some(burning) = self.burning.get_mut(i) {
                    // Its life is drawn and dropped, so that the lamps after it are those of a later planned age.
                    let fails = self.causes.draw(&mut burning.stream, socket.age.unwrap_or(0.0));
                    burning.fitted_age = age;
                    burning.fails_at_age = fails.map_or(age, |f| f.0).max(age);
                }
                self.at(0.0, What::Needs { socket: i, lamp: 0, failed: false });
            } else {
                self.fit(i, 0.0, socket.age.unwrap_or(0.0))?;
            }
        }
        if self.script.rule.is_some() && self.script.review_days > 0.0 {
            self.at(0.0, What::Review);
        }
        if self.script.review_days == 0.0 {
            self.look(0.0);
        }
        Ok(())
    }

    fn at(&mut self, day: f64, what: What) {
        if day <= self.script.end() {
            self.number += 1;
            self.events.push(Event { day, rank: what.rank(), number: self.number, what });
        }
    }

    fn clock(&self, socket: usize) -> Option<(&'a Socket, &'a Clock)> {
        let socket = self.script.sockets.get(socket)?;
        Some((socket, self.script.clocks.get(socket.clock)?))
    }

    /// Day on which the lamp of a screen reaches an age.
    fn day_of_age(&self, socket: usize, age: f64) -> f64 {
        let (Some((of, clock)), Some(burning)) = (self.clock(socket), self.burning.get(socket)) else {
            return f64::INFINITY;
        };
        if age <= burning.fitted_age {
            return burning.fitted_at;
        }
        if of.hours_per_day <= 0.0 {
            return f64::INFINITY;
        }
        let ordinary = (age - burning.fitted_age) / of.hours_per_day;
        clock.day_of(clock.at_day(burning.fitted_at) + ordinary).max(burning.fitted_at)
    }

    /// Puts a lamp into a screen and says when the next is needed.
    fn fit(&mut self, socket: usize, day: f64, age: f64) -> Result<()> {
        let Some(burning) = self.burning.get_mut(socket) else { return Ok(()) };
        let (fails, _) = self.causes.draw(&mut burning.stream, age)?;
        burning.lamp += 1;
        burning.fitted_at = day;
        burning.fitted_age = age;
        burning.fails_at_age = fails;
        let lamp = burning.lamp;
        if lamp > MOST_CHANGES {
            let problem = Problem::new("simulate.too_many_changes", "one screen would need thousands of lamps");
            let place = Place::input("screens").row(socket as u64 + 1);
            let problem = problem.at(place).got(format!("more than {MOST_CHANGES} changes"));
            return Err(Error::new(Kind::Refused, problem.expected("lives, ages and horizon of the same order")));
        }
        let failed = fails <= self.script.planned_age;
        let next = self.day_of_age(socket, fails.min(self.script.planned_age));
        self.at(next, What::Needs { socket, lamp, failed });
        Ok(())
    }

    fn happens(&mut self, day: f64, what: What) -> Result<()> {
        match what {
            What::Delivery { lamps, ordered } => {
                if ordered && self.script.review_days == 0.0 {
                    self.cycle_ends(day);
                }
                self.measure(0, day);
                self.on_order = self.on_order.saturating_sub(lamps);
                if let Some(store) = self.shelves.first_mut() {
                    store.on_hand += lamps;
                }
                self.hand_out(day)
            }
            What::AtSite(site) => {
                self.measure(site, day);
                if let Some(shelf) = self.shelves.get_mut(site) {
                    shelf.on_hand += 1;
                }
                self.serve(site, day)
            }
            What::CycleEnds => {
                self.cycle_ends(day);
                Ok(())
            }
            What::FromElsewhere(socket) => {
                let stops = self.script.waiting == WhileWaiting::ClockStops;
                let here = self.burning.get(socket).is_some_and(|b| !b.stopped);
                if stops && here { self.fit(socket, day, 0.0) } else { Ok(()) }
            }
            What::Stops(socket) => {
                self.stops(socket, day);
                Ok(())
            }
            What::Needs { socket, lamp, failed } => self.needs(socket, lamp, failed, day),
            What::GoesDark { socket, lamp } => {
                self.goes_dark(socket, lamp, day);
                Ok(())
            }
            What::Review => {
                let next = day + self.script.review_days;
                // An order placed now would come a lead time later; what is on its way then was ordered before.
                let lead = self.look(day);
                self.at(day + lead, What::CycleEnds);
                // A look at the very end would be one too many for the days played.
                if next < self.script.end() {
                    self.at(next, What::Review);
                }
                Ok(())
            }
        }
    }

    fn needs(&mut self, socket: usize, lamp: u64, failed: bool, day: f64) -> Result<()> {
        let Some(burning) = self.burning.get(socket).filter(|b| !b.stopped && b.lamp == lamp) else { return Ok(()) };
        let Some((of, _)) = self.clock(socket) else { return Ok(()) };
        let (place, runs) = (of.place, self.script.waiting == WhileWaiting::ClockRuns);
        // A lamp of unknown age, at the limit or failed burns on under no circumstances.
        let burns_on =
            if failed || runs { day } else { self.day_of_age(socket, burning.fails_at_age.min(self.script.limit)) };
        let dark = failed || runs || burning.fitted_age >= self.script.limit || burns_on <= day;
        let month = self.script.month(day);
        self.played.need(month, failed);
        let measured = day >= self.script.warm_up;
        self.measure(place, day);
        let met = self.shelves.get(place).is_some_and(|s| s.on_hand > 0);
        self.played.asked(place, met, measured);
        if met {
            if let Some(shelf) = self.shelves.get_mut(place) {
                shelf.on_hand -= 1;
            }
        } else if let Some(days) = self.script.emergency.filter(|_| dark).map(|e| e.0) {
            self.send_from_elsewhere(socket, place, day, days);
            if runs {
                return self.fit(socket, day, 0.0);
            }
            self.no_lamp(socket);
            return Ok(());
        } else {
            let dark_since = dark.then_some(day);
            if let Some(shelf) = self.shelves.get_mut(place) {
                shelf.waiting.push_back(Asked { socket, dark_since });
            }
            if dark && let Some(meter) = self.meters.get_mut(place) {
                meter.dark += 1;
            }
            self.played.short = true;
        }
        self.replace(place, day);
        if met || runs {
            return self.fit(socket, day, 0.0);
        }
        if dark {
            self.no_lamp(socket);
        } else {
            self.at(burns_on, What::GoesDark { socket, lamp });
        }
        Ok(())
    }

    /// The lamp of a screen is gone.
    fn no_lamp(&mut self, socket: usize) {
        if let Some(burning) = self.burning.get_mut(socket) {
            burning.lamp += 1;
        }
    }

    /// A lamp from elsewhere is on its way to a screen that is dark.
    fn send_from_elsewhere(&mut self, socket: usize, place: usize, day: f64, days: f64) {
        self.played.emergency(self.script.month(day), place, day >= self.script.warm_up);
        let stop = self.burning.get(socket).map_or(f64::INFINITY, |b| b.stop);
        self.dark(socket, place, day, (day + days).min(stop).min(self.script.end()));
        self.at(day + days, What::FromElsewhere(socket));
    }

    /// A lamp that waited for its planned change has failed or stands at the limit.
    fn goes_dark(&mut self, socket: usize, lamp: u64, day: f64) {
        let waits = self.burning.get(socket).is_some_and(|b| !b.stopped && b.lamp == lamp);
        let Some(place) = self.clock(socket).map(|c| c.0.place).filter(|_| waits) else { return };
        self.measure(place, day);
        self.no_lamp(socket);
        let Some(shelf) = self.shelves.get_mut(place) else { return };
        let Some(at) = shelf.waiting.iter().position(|a| a.socket == socket) else { return };
        if let Some((days, _)) = self.script.emergency {
            shelf.waiting.remove(at);
            self.send_from_elsewhere(socket, place, day, days);
            return;
        }
        if let Some(asked) = shelf.waiting.get_mut(at) {
            asked.dark_since = Some(day);
        }
        if let Some(meter) = self.meters.get_mut(place) {
            meter.dark += 1;
        }
    }

    fn stops(&mut self, socket: usize, day: f64) {
        let Some(place) = self.clock(socket).map(|c| c.0.place) else { return };
        self.measure(place, day);
        if let Some(burning) = self.burning.get_mut(socket) {
            burning.stopped = true;
        }
        while let Some(at) = self.shelves.get(place).and_then(|s| s.waiting.iter().position(|a| a.socket == socket)) {
            let gone = self.shelves.get_mut(place).and_then(|s| s.waiting.remove(at));
            self.no_more_dark(place, gone, day);
        }
    }

    fn no_more_dark(&mut self, place: usize, asked: Option<Asked>, day: f64) {
        let Some((asked, since)) = asked.and_then(|a| Some((a, a.dark_since?))) else { return };
        if let Some(meter) = self.meters.get_mut(place) {
            meter.dark -= 1;
        }
        self.dark(asked.socket, place, since, day);
    }

    /// Programme hours that a screen is dark from one day to another, month by month.
    fn dark(&mut self, socket: usize, place: usize, from: f64, to: f64) {
        let Some((of, clock)) = self.clock(socket) else { return };
        let hours = |from: f64, to: f64| of.hours_per_day * (clock.at_day(to) - clock.at_day(from));
        let mut month = self.script.month(from);
        let mut start = from;
        while start < to {
            let end = self.script.ends.get(month + 1).copied().unwrap_or(to).min(to);
            self.played.dark(month, hours(start, end));
            start = end;
            month += 1;
            if month + 1 >= self.script.ends.len() && start < to {
                break;
            }
        }
        let begun = from.max(self.script.warm_up);
        if begun < to {
            self.played.dark_at(place, hours(begun, to));
        }
    }

    /// Gives lamps of the store to sites, or to screens where it serves them.
    fn hand_out(&mut self, day: f64) -> Result<()> {
        while let Some(store) = self.shelves.first_mut().filter(|s| s.on_hand > 0 && !s.owed.is_empty()) {
            store.on_hand -= 1;
            let Some(site) = store.owed.pop_front() else { break };
            self.at(day + self.script.site_days, What::AtSite(site));
        }
        self.serve(0, day)
    }

    /// Gives lamps of a shelf to the screens that wait there, dark ones first.
    fn serve(&mut self, place: usize, day: f64) -> Result<()> {
        while let Some(shelf) = self.shelves.get_mut(place).filter(|s| s.on_hand > 0 && !s.waiting.is_empty()) {
            let at = shelf.waiting.iter().position(|a| a.dark_since.is_some()).unwrap_or(0);
            shelf.on_hand -= 1;
            let Some(asked) = shelf.waiting.remove(at) else { break };
            self.no_more_dark(place, Some(asked), day);
            if self.script.waiting == WhileWaiting::ClockStops {
                self.fit(asked.socket, day, 0.0)?;
            }
        }
        Ok(())
    }

    /// Orders what was taken from a place.
    fn replace(&mut self, place: usize, day: f64) {
        if place > 0 {
            self.measure(0, day);
            let met = self.shelves.first().is_some_and(|s| s.on_hand > 0);
            self.played.asked(0, met, day >= self.script.warm_up);
            if let Some(store) = self.shelves.first_mut() {
                if met {
                    store.on_hand -= 1;
                } else {
                    store.owed.push_back(place);
                }
            }
            if met {
                self.at(day + self.script.site_days, What::AtSite(place));
            }
        }
        if self.script.review_days == 0.0 {
            self.look(day);
        }
    }

    /// Looks at the shelf of the store and orders by the rule; gives the lead time of the order, or of one placed now.
    fn look(&mut self, day: f64) -> f64 {
        let Some(rule) = self.script.rule else { return 0.0 };
        let Some(store) = self.shelves.first() else { return 0.0 };
        let waiting = (store.waiting.len() + store.owed.len()) as u64;
        let lamps = rule.order(store.on_hand, self.on_order, waiting);
        if lamps == 0 && self.script.review_days == 0.0 {
            return 0.0;
        }
        let u = self.leads.uniform();
        let lead = self.script.lead.iter().find(|l| u < l.1).or(self.script.lead.last()).map_or(0.0, |l| l.0);
        if lamps > 0 {
            self.measure(0, day);
            self.on_order += lamps;
            self.last_order = lamps;
            let price = self.script.costs.as_ref().map_or(0.0, |c| c.price(lamps) * lamps as f64);
            self.played.order(self.script.month(day), lamps, price, day >= self.script.warm_up);
            self.at(day + lead, What::Delivery { lamps, ordered: true });
        }
        lead
    }

    /// Notes whether a screen waits just before an order comes.
    fn cycle_ends(&mut self, day: f64) {
        if day >= self.script.warm_up {
            let waits = self.shelves.first().is_some_and(|s| !s.owed.is_empty() || !s.waiting.is_empty());
            self.played.cycle(!waits);
        }
    }

    /// Adds up the time since the last look at a place.
    fn measure(&mut self, place: usize, day: f64) {
        let (Some(shelf), Some(meter)) = (self.shelves.get(place), self.meters.get_mut(place)) else { return };
        let holding = self.script.costs.as_ref().map_or(0.0, |c| c.holding(self.last_order));
        let on_order = if place == 0 { self.on_order } else { 0 };
        let (month, ends) = (&mut self.played.on_hand_at_ends, &self.script.ends);
        meter.to(day, shelf.on_hand, shelf.owed.len() as u64, on_order, holding, |before, now| {
            // The shelf as it was at each end of a month that has passed.
            let passed = ends.iter().enumerate().skip(1).filter(|(_, end)| **end > before && **end <= now);
            for (m, _) in passed {
                if let Some(sum) = month.get_mut(m - 1) {
                    *sum += shelf.on_hand as f64;
                }
            }
        });
    }

    fn finish(mut self) -> Played {
        let end = self.script.end();
        for place in 0..self.shelves.len() {
            self.measure(place, end);
            let waiting = self.shelves.get_mut(place).map(|s| std::mem::take(&mut s.waiting)).unwrap_or_default();
            for asked in waiting {
                self.no_more_dark(place, Some(asked), end);
            }
        }
        self.played.meters = self.meters;
        self.played
    }
}

impl Script {
    /// The end of the horizon, days.
    pub(super) fn end(&self) -> f64 {
        self.ends.last().copied().unwrap_or(0.0)
    }

    /// The month of a day; its very end belongs to it.
    fn month(&self, day: f64) -> usize {
        let months = self.ends.len() - 1;
        self.ends.partition_point(|end| *end < day).saturating_sub(1).min(months - 1)
    }
}
