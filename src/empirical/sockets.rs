//! Sockets: places in a projector that take lamp after lamp, each with the ages at which its lamp failed.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::{Ending, Spell};

/// One socket under observation: failures at ages in (from, to] of its own clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Socket {
    /// Name, such as "North 1, screen 3".
    pub name: String,
    /// What it is compared by, such as its site; empty for none.
    pub group: String,
    /// Age of the socket at which its watch began, 0 or above.
    pub from: f64,
    /// Age of the socket at which its watch ended, above `from`.
    pub to: f64,
    /// Ages at which a lamp in it failed, ascending, in (from, to]; an age stands as often as lamps failed at it.
    pub failures: Vec<f64>,
}

/// Sockets with their rules checked: names that differ, ages in order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<Socket>", into = "Vec<Socket>")]
pub struct Sockets {
    each: Vec<Socket>,
}

/// What the age of a socket counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SocketClock {
    /// Hours that lamps burned in it.
    #[default]
    Hours,
    /// Calendar days since the first fitting.
    Days,
}

/// How spells become sockets.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SocketOptions {
    /// The endings that count as failure.
    pub failure_endings: Vec<Ending>,
    /// The clock of the sockets.
    pub clock: SocketClock,
}

impl Default for SocketOptions {
    fn default() -> Self {
        Self { failure_endings: Ending::FAILURES.to_vec(), clock: SocketClock::Hours }
    }
}

impl From<Sockets> for Vec<Socket> {
    fn from(sockets: Sockets) -> Self {
        sockets.each
    }
}

impl TryFrom<Vec<Socket>> for Sockets {
    type Error = Error;

    fn try_from(each: Vec<Socket>) -> Result<Self> {
        Self::new(each)
    }
}

// Its constructor is its only door, for a saved form too.
impl Sound for Sockets {
    fn check(&self, _: &mut Checks) {}
}

/// Age that a failure at age 0 gets: the first step of an hour meter, or the first day.
const FIRST_STEP: f64 = 1.0;

impl Sockets {
    /// Checks sockets; the failures of each are put in order.
    ///
    /// # Errors
    /// `empirical.socket` for each age that is not finite, a watch that ends before it began, and each failure outside it;
    /// `empirical.socket_twice` for a name that two sockets have; all at once.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::{Socket, Sockets};
    /// let screen = |name: &str, failures| Socket {
    ///     name: name.into(), group: String::new(), from: 0.0, to: 5000.0, failures,
    /// };
    /// let sockets = Sockets::new(vec![screen("1", vec![2100.0, 900.0]), screen("2", vec![])])?;
    /// assert_eq!((sockets.len(), sockets.failures()), (2, 2));
    /// assert!(Sockets::new(vec![screen("1", vec![7000.0])]).is_err());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn new(mut each: Vec<Socket>) -> Result<Self> {
        let mut problems = Vec::new();
        let mut seen = BTreeSet::new();
        for (i, socket) in each.iter_mut().enumerate() {
            let place = |column: &str| Place::input("sockets").row(i as u64 + 1).column(column);
            let mut bad = |column: &str, got: f64, expected: String| {
                let what = format!("ages of socket {} do not fit together", or_empty(&socket.name));
                problems.push(Problem::new("empirical.socket", what).at(place(column)).got(got).expected(expected));
            };
            let (from, to) = (socket.from, socket.to);
            if !(0.0..f64::INFINITY).contains(&from) {
                bad("from", from, "a finite age from 0".to_owned());
            } else if !(to > from && to < f64::INFINITY) {
                bad("to", to, format!("a finite age above {from}"));
            } else {
                for &age in socket.failures.iter().filter(|&&age| !(age > from && age <= to)) {
                    bad("failures", age, format!("above {from} and at most {to}"));
                }
            }
            if !seen.insert(socket.name.clone()) {
                let problem = Problem::new("empirical.socket_twice", "two sockets have one name").at(place("name"));
                problems.push(problem.got(or_empty(&socket.name)).expected("a name of its own for each socket"));
            }
            socket.failures.sort_by(f64::total_cmp);
        }
        if problems.is_empty() { Ok(Self { each }) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// One socket for each screen that spells stand in; its group is its site.
    ///
    /// With [`SocketClock::Hours`] the age of a socket is the hours that lamps burned in it, spell after spell, from 0:
    /// what happened between two spells takes no time. With [`SocketClock::Days`] it is days since the first fitting, to
    /// the day of the last reading. A failure known to an interval stands at its upper end. A spell that failed before it
    /// burned an hour takes one hour, or falls on day 1.
    ///
    /// # Errors
    /// `empirical.no_sockets` without a spell under observation.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::empirical::{SocketOptions, Sockets};
    /// use relamp::study::Study;
    /// // The demo chain, invented.
    /// let study = Study::open("data/demo/study.toml")?;
    /// let reading = study.read(&Run::new())?;
    /// let one = reading.spells.iter().filter(|s| *s.lamp_class == "2.0 kW");
    /// let sockets = Sockets::from_spells(one, &SocketOptions::default())?;
    /// assert!(sockets.len() > 50 && sockets.failures() > 100);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn from_spells<'a>(spells: impl IntoIterator<Item = Spell<'a>>, options: &SocketOptions) -> Result<Self> {
        let mut screens: BTreeMap<(&str, &str), Vec<Spell<'a>>> = BTreeMap::new();
        for spell in spells {
            screens.entry((spell.site, spell.screen)).or_default().push(spell);
        }
        let mut each = Vec::with_capacity(screens.len());
        for ((site, screen), mut spells) in screens {
            spells.sort_by_key(|s| (s.fitted_on, s.removed_on.is_none(), s.removed_on, s.line));
            let mut socket = Socket {
                name: format!("{site}, screen {screen}"),
                group: site.to_owned(),
                from: 0.0,
                to: 0.0,
                failures: Vec::new(),
            };
            let first_day = spells.first().map(|s| s.fitted_on);
            for spell in spells {
                let failed = spell.removed_on.is_some() && options.failure_endings.contains(&spell.ending);
                let least = if failed { FIRST_STEP } else { 0.0 };
                match options.clock {
                    SocketClock::Hours => socket.to += (spell.end_hours - spell.fitted_hours).max(least),
                    SocketClock::Days => {
                        let last = spell.removed_on.unwrap_or(spell.read_on);
                        let days = first_day.map_or(0, |first| (last - first).num_days());
                        socket.to = socket.to.max((days as f64).max(least));
                    }
                }
                if failed {
                    socket.failures.push(socket.to);
                }
            }
            if socket.to > 0.0 {
                each.push(socket);
            }
        }
        if each.is_empty() {
            let problem = Problem::new("empirical.no_sockets", "no screen was under observation")
                .at(Place::input("spells"))
                .expected("a spell with hours or days");
            return Err(Error::new(Kind::Refused, problem));
        }
        Self::new(each)
    }

    /// The sockets, in the order given.
    pub fn each(&self) -> &[Socket] {
        &self.each
    }

    /// Number of sockets.
    pub fn len(&self) -> usize {
        self.each.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.each.is_empty()
    }

    /// Number of failures in all.
    pub fn failures(&self) -> u64 {
        self.each.iter().map(|s| s.failures.len() as u64).sum()
    }

    /// Hours, or days, under observation in all.
    pub fn exposure(&self) -> f64 {
        self.each.iter().map(|s| s.to - s.from).fold(0.0, |sum, x| sum + x)
    }

    /// Names of the groups, ascending.
    pub fn groups(&self) -> Vec<&str> {
        self.each.iter().map(|s| s.group.as_str()).collect::<BTreeSet<_>>().into_iter().collect()
    }

    /// The sockets of one group.
    ///
    /// # Errors
    /// `empirical.no_sockets` for a group that none has.
    pub fn group(&self, group: &str) -> Result<Self> {
        let each: Vec<Socket> = self.each.iter().filter(|s| s.group == group).cloned().collect();
        if each.is_empty() {
            let problem = Problem::new("empirical.no_sockets", "no socket is in this group")
                .at(Place::input("group"))
                .got(or_empty(group))
                .expected(format!("one of: {}", named(&self.groups())));
            return Err(Error::new(Kind::Refused, problem));
        }
        Ok(Self { each })
    }
}

/// A name as people read it.
fn or_empty(name: &str) -> &str {
    if name.is_empty() { "an empty name" } else { name }
}

/// Names of groups as people read them.
pub(super) fn named(groups: &[&str]) -> String {
    groups.iter().map(|g| or_empty(g)).collect::<Vec<_>>().join(", ")
}
