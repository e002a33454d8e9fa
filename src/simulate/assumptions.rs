//! What is assumed of a fleet before it is played out.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};
use crate::demand::{SocketToday, check_sockets};
use crate::fit::World;
use crate::policy::WorldCurve;
use crate::records::Ending;
use crate::terms::{Discount, HourLimit};

/// When a lamp is changed. Under every rule a failed lamp is changed at once, and no lamp burns past the hour limit: one
/// that reaches it before its turn is changed alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Rule {
    /// Only after a failure, or at the limit.
    AtFailure,
    /// At an age.
    AtAge {
        /// Age of the planned change, hours; held to the limit.
        age_hours: f64,
    },
    /// At an age, or from an earlier age on at a visit that happens anyway.
    AtAgeOrVisit {
        /// Age at which a lamp is changed without waiting for a visit, hours; held to the limit.
        age_hours: f64,
        /// Age from which a visit is used, hours; at most the age above.
        visit_age_hours: f64,
        /// Whether a visit for the change of another lamp of the same site is used too.
        join_changes: bool,
    },
    /// All lamps of a site when one of them reaches an age. A failed lamp is changed alone.
    SiteTogether {
        /// Age of the lamp that brings the change, hours; held to the limit.
        age_hours: f64,
    },
    /// All lamps on fixed days of the calendar.
    OnCalendar {
        /// Days from one change to the next.
        every_days: f64,
        /// Day of the first change, from the start.
        first_day: f64,
        /// Lamps younger than this stay, hours; 0 to change them all.
        from_age_hours: f64,
    },
}

impl Rule {
    /// The rule with its ages held to the limit.
    fn held(&self, limit: f64) -> Self {
        match *self {
            Self::AtAge { age_hours } => Self::AtAge { age_hours: age_hours.min(limit) },
            Self::AtAgeOrVisit { age_hours, visit_age_hours, join_changes } => Self::AtAgeOrVisit {
                age_hours: age_hours.min(limit),
                visit_age_hours: visit_age_hours.min(limit),
                join_changes,
            },
            Self::SiteTogether { age_hours } => Self::SiteTogether { age_hours: age_hours.min(limit) },
            Self::AtFailure | Self::OnCalendar { .. } => self.clone(),
        }
    }

    /// Age at which a lamp is changed whatever else happens, where the rule names one.
    pub(super) fn age(&self) -> Option<f64> {
        match *self {
            Self::AtAge { age_hours } | Self::AtAgeOrVisit { age_hours, .. } | Self::SiteTogether { age_hours } => {
                Some(age_hours)
            }
            Self::AtFailure | Self::OnCalendar { .. } => None,
        }
    }

    fn problems(&self, out: &mut Vec<Problem>) {
        let place = |column: &str| Place::input("rule").column(column);
        if let Some(age) = self.age().filter(|a| !(a.is_finite() && *a > 0.0)) {
            let problem = Problem::new("simulate.rule_age", "the age of a planned change must be finite and above 0");
            out.push(problem.at(place("age_hours")).got(age).expected("hours above 0"));
        }
        match *self {
            Self::AtAgeOrVisit { age_hours, visit_age_hours, .. } => {
                if !(visit_age_hours >= 0.0 && visit_age_hours <= age_hours) {
                    let what = "the age from which visits are used must not pass the age of the planned change";
                    let problem = Problem::new("simulate.rule_visit_age", what).at(place("visit_age_hours"));
                    out.push(problem.got(visit_age_hours).expected(format!("0 to {age_hours} h")));
                }
            }
            Self::OnCalendar { every_days, first_day, from_age_hours } => {
                days("rule", "every_days", every_days, false, out);
                days("rule", "first_day", first_day, true, out);
                if !(0.0..f64::INFINITY).contains(&from_age_hours) {
                    let what = "the age below which a lamp stays must be finite and not negative";
                    let problem = Problem::new("simulate.rule_from_age", what).at(place("from_age_hours"));
                    out.push(problem.got(from_age_hours).expected("hours, 0 to change every lamp"));
                }
            }
            Self::AtFailure | Self::AtAge { .. } | Self::SiteTogether { .. } => {}
        }
    }
}

impl Sound for Rule {
    fn check(&self, c: &mut Checks) {
        let mut problems = Vec::new();
        self.problems(&mut problems);
        for p in problems {
            c.need(&p.place.column.unwrap_or_default(), false, p.got, p.expected);
        }
    }
}

/// Visits to a site that happen anyway, such as a service round. They cost the lamps nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Visits {
    /// None.
    #[default]
    Never,
    /// At equal distances.
    Every {
        /// Days from one visit to the next.
        days: f64,
        /// Day of the first visit, from the start; none draws it evenly over the first distance, site by site.
        first_day: Option<f64>,
    },
    /// At random, without memory (a Poisson stream at each site).
    Random {
        /// Mean days from one visit to the next.
        mean_days: f64,
    },
}

impl Visits {
    fn problems(&self, out: &mut Vec<Problem>) {
        match *self {
            Self::Never => {}
            Self::Every { days: every, first_day } => {
                days("visits", "days", every, false, out);
                if let Some(first) = first_day {
                    days("visits", "first_day", first, true, out);
                }
            }
            Self::Random { mean_days } => days("visits", "mean_days", mean_days, false, out),
        }
    }
}

impl Sound for Visits {
    fn check(&self, c: &mut Checks) {
        let mut problems = Vec::new();
        self.problems(&mut problems);
        for p in problems {
            c.need(&p.place.column.unwrap_or_default(), false, p.got, p.expected);
        }
    }
}

/// Shortest distance of visits and of changes on the calendar: a quarter of an hour. Less is a slip of the unit.
const LEAST_DAYS: f64 = 0.01;

fn days(input: &str, column: &str, days: f64, zero: bool, out: &mut Vec<Problem>) {
    let least = if zero { 0.0 } else { LEAST_DAYS };
    if !(days >= least && days.is_finite()) {
        let problem = Problem::new("simulate.days", "not a number of days").at(Place::input(input).column(column));
        out.push(problem.got(days).expected(format!("finite days of at least {least}")));
    }
}

/// Minutes that a screen stays dark for one change. They are counted; the clock of burning hours does not stop for them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DarkMinutes {
    /// For a planned change; 0 where it is made outside the programme.
    pub planned: f64,
    /// For a change after each kind of failure: every failure of the world, or none to count no minutes of failures.
    pub by_ending: BTreeMap<Ending, f64>,
}

impl DarkMinutes {
    /// Whether no minutes are counted at all.
    pub(super) fn is_nothing(&self) -> bool {
        self.planned == 0.0 && self.by_ending.values().all(|minutes| *minutes == 0.0)
    }
}

/// All that is assumed of one lamp class.
#[derive(Debug)]
pub struct Assumptions<'a> {
    /// The screens and their lamps of today. A lamp of unknown age is changed at the start.
    pub sockets: &'a [SocketToday],
    /// The site of each screen, in the same order; empty where every screen is a site of its own.
    pub sites: &'a [String],
    /// Causes of failure, and the cost of a change by what ended the lamp, without the visit.
    pub world: &'a World,
    /// When lamps are changed.
    pub rule: Rule,
    /// Visits that happen anyway, at every site.
    pub visits: Visits,
    /// The age that no lamp passes.
    pub limit: &'a HourLimit,
    /// Cost of a visit made for lamps alone, whatever the number of lamps changed; 0 where the costs of changes hold it.
    pub visit_cost: f64,
    /// Dark minutes of a change.
    pub dark_minutes: DarkMinutes,
    /// How much less money is worth the later it comes; none to count no discounted cost. The clock is the hours that a screen
    /// has burned from the start, for a visit the mean of them over the screens of its site.
    pub discount: Option<Discount>,
}

impl<'a> Assumptions<'a> {
    /// Screens that are sites of their own, without visits: only the rule is left to say.
    pub fn new(sockets: &'a [SocketToday], world: &'a World, rule: Rule, limit: &'a HourLimit) -> Self {
        Self {
            sockets,
            sites: &[],
            world,
            rule,
            visits: Visits::Never,
            limit,
            visit_cost: 0.0,
            dark_minutes: DarkMinutes::default(),
            discount: None,
        }
    }

    /// Checks all of it and gives the rule with its ages held to the limit.
    pub(super) fn check(&self) -> Result<Rule> {
        let mut problems = Vec::new();
        if self.sockets.is_empty() {
            problems.push(Problem::new("simulate.no_sockets", "no screen to play out").at(Place::input("sockets")));
        }
        if !self.sites.is_empty() && self.sites.len() != self.sockets.len() {
            let got = format!("{} for {}", self.sites.len(), counted(self.sockets.len() as u64, "screen"));
            let problem = Problem::new("simulate.sites_length", "not one site for each screen");
            problems.push(problem.at(Place::input("sites")).got(got).expected("one for each screen, or none at all"));
        }
        for (i, _) in self.sites.iter().enumerate().filter(|(_, s)| s.trim().is_empty()) {
            let problem = Problem::new("simulate.site_blank", "a site has a blank name");
            problems.push(problem.at(Place::input("sites").row(i as u64 + 1)).expected("a name"));
        }
        self.rule.problems(&mut problems);
        self.visits.problems(&mut problems);
        if !(0.0..=crate::terms::LARGEST_AMOUNT).contains(&self.visit_cost) {
            let problem = Problem::new("simulate.visit_cost", "the cost of a visit is no amount of money");
            problems.push(problem.at(Place::input("visit_cost")).got(self.visit_cost).expected("0 to 1e12"));
        }
        self.check_dark_minutes(&mut problems);
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        check_sockets(self.sockets, self.rule.age().unwrap_or(1.0))?;
        // Causes, costs and lives that reach below age 0 are judged as every decision judges them.
        WorldCurve::new(self.world)?;
        Ok(self.rule.held(self.limit.hours()))
    }

    fn check_dark_minutes(&self, problems: &mut Vec<Problem>) {
        let given = &self.dark_minutes;
        let place = |column: &str| Place::input("dark_minutes").column(column);
        let all = std::iter::once(("planned", given.planned));
        for (name, minutes) in all.chain(given.by_ending.iter().map(|(e, m)| (e.as_str(), *m))) {
            if !(0.0..f64::INFINITY).contains(&minutes) {
                let problem = Problem::new("simulate.dark_minutes", "not a number of dark minutes");
                problems.push(problem.at(place(name)).got(minutes).expected("finite minutes, 0 or more"));
            }
        }
        if given.by_ending.is_empty() {
            return;
        }
        for ending in failures(self.world).into_iter().filter(|e| !given.by_ending.contains_key(e)) {
            let what = format!("no dark minutes are given for a change after {ending}");
            let problem = Problem::new("simulate.dark_minutes_missing", what).at(place(ending.as_str()));
            problems.push(problem.expected("minutes for every failure of the world, or for none"));
        }
    }
}

/// The endings that a world can bring, in their order.
pub(super) fn failures(world: &World) -> Vec<Ending> {
    let mut all: Vec<Ending> =
        world.causes.iter().flat_map(|c| c.endings.iter().filter(|(_, share)| *share > 0.0).map(|(e, _)| *e)).collect();
    all.sort();
    all.dedup();
    all
}
