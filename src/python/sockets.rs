//! Sockets that take lamp after lamp.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::empirical::{Socket, SocketClock, SocketOptions, Sockets};

use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, labels, numbers};
use super::lives::ending;
use super::records::PyReading;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const SOCKETS: Format = Format::new("sockets", 1);

fn socket_table(s: &Sockets) -> Result<RecordBatch> {
    let each = || s.each().iter();
    Frame::default()
        .texts("name", each().map(|s| &s.name))
        .texts("group", each().map(|s| &s.group))
        .numbers("from", each().map(|s| s.from))
        .numbers("to", each().map(|s| s.to))
        .counts("failures", each().map(|s| s.failures.len() as u64))
        .finish()
}

fn socket_facts(s: &Sockets) -> Facts {
    facts! { "sockets": s.len(), "failures": s.failures(), "exposure": s.exposure(), "groups": s.groups().len() }
}

result_class! {
    /// Places that take lamp after lamp, each with the ages at which its lamp failed; made by `sockets` or `sockets_of`.
    ///
    /// Its table has one row for each socket.
    PySockets holds Sockets as "Sockets";
    save |s| saved::save(SOCKETS, s); load |t| saved::load(SOCKETS, t); table socket_table; show socket_facts;
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// Number of failures in all.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.failures()
        }

        /// Hours, or days, under observation in all.
        #[getter]
        fn exposure(&self) -> f64 {
            self.0.exposure()
        }

        /// Names of the groups, ascending.
        #[getter]
        fn groups(&self) -> Fixed<&str> {
            Fixed(self.0.groups())
        }

        /// Names of the sockets, in the order given.
        #[getter]
        fn names(&self) -> Fixed<&str> {
            self.0.each().iter().map(|s| s.name.as_str()).collect()
        }

        /// The sockets of one group.
        ///
        /// Parameters
        /// ----------
        /// group : str
        ///     Its name.
        ///
        /// Returns
        /// -------
        /// Sockets
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a name that is no text.
        /// RefusedError
        ///     For a group that no socket is in.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> both = relamp.sockets([5000.0, 5000.0], [[900.0], []], group=["North", "South"])
        /// >>> len(both.of_group("North")), both.of_group("North").failures
        /// (1, 1)
        fn of_group(&self, #[pyo3(from_py_with = args::group)] group: &str) -> PyResult<Self> {
            Ok(Self(self.0.group(group)?))
        }
    }
}

/// Makes sockets from the ends of their watches and the ages of their failures.
///
/// The age of a socket is its own, in hours that lamps burned in it, or in days: it goes on when the lamp is changed.
///
/// Parameters
/// ----------
/// to : array-like
///     Age of each socket at which its watch ended, (n,).
/// failures : list of array-like
///     Ages of each socket at which a lamp in it failed, after the start of the watch and at its end at the latest; n
///     of them, empty for none.
/// start : array-like, optional
///     Age of each socket at which its watch began, (n,); 0 without it.
/// name : array-like of str, optional
///     Name of each, (n,); their numbers from 1 without it.
/// group : array-like of str, optional
///     What they are compared by, such as the site, (n,).
///
/// Returns
/// -------
/// Sockets
///
/// Raises
/// ------
/// InputError
///     For columns of different length, what is not a number, ages that do not fit together, and a name that two have:
///     every one of them.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> screens = relamp.sockets([5000.0, 4000.0, 1000.0, 5000.0], [[900.0, 2100.0], [], [], [4500.0]])
/// >>> len(screens), screens.failures, screens.exposure
/// (4, 3, 15000.0)
#[pyfunction]
#[pyo3(signature = (to, failures, *, start=None, name=None, group=None))]
pub(super) fn sockets(
    to: &Bound<'_, PyAny>,
    failures: &Bound<'_, PyAny>,
    start: Option<&Bound<'_, PyAny>>,
    name: Option<&Bound<'_, PyAny>>,
    group: Option<&Bound<'_, PyAny>>,
) -> PyResult<PySockets> {
    let at = |column: &'static str| At { input: "sockets", column };
    let to = numbers(to, at("to"))?.all()?;
    let n = to.len();
    let same = |column: &str, got: usize| {
        if got == n {
            return Ok(());
        }
        let got = format!("{got} for {}", counted(n as u64, "socket"));
        let what = "columns of different length";
        Err(refuse("python.length", what, "sockets", column, &got, "one for each socket"))
    };
    let Ok(items) = failures.try_iter() else {
        let got = super::intake::kind_of(failures);
        let expected = "a list with the ages of each socket's failures";
        return Err(refuse("python.type", "not a list", "sockets", "failures", &got, expected).into());
    };
    let failures = items.map(|item| numbers(&item?, at("failures"))?.all()).collect::<PyResult<Vec<_>>>()?;
    same("failures", failures.len())?;
    let from = start.map_or_else(|| Ok(vec![0.0; n]), |s| numbers(s, at("start"))?.all())?;
    same("start", from.len())?;
    let texts = |column: &'static str, given: Option<&Bound<'_, PyAny>>| -> PyResult<Option<Vec<String>>> {
        let Some(given) = given else { return Ok(None) };
        let texts: Vec<String> = labels(given, at(column))?.into_iter().map(Option::unwrap_or_default).collect();
        same(column, texts.len())?;
        Ok(Some(texts))
    };
    let names = texts("name", name)?.unwrap_or_else(|| (1..=n).map(|i| i.to_string()).collect());
    let groups = texts("group", group)?.unwrap_or_else(|| vec![String::new(); n]);
    let each = names.into_iter().zip(groups).zip(from.into_iter().zip(to)).zip(failures);
    let each = each.map(|(((name, group), (from, to)), failures)| Socket { name, group, from, to, failures });
    Ok(PySockets(Sockets::new(each.collect())?))
}

/// Makes one socket of each screen that the spells of a reading stand in; its group is its site.
///
/// By hours, the age of a socket is the hours that lamps burned in it, spell after spell. By days, it is the days since
/// its first fitting. A failure known to an interval stands at its upper end.
///
/// Parameters
/// ----------
/// reading : Reading
///     What `read_logs` or `read_table` gave.
/// lamp_class : str, optional
///     Only the spells of this class.
/// endings : list of str, optional
///     Endings that count as failure; without it burst, seal, no_strike, flicker and dim.
/// clock : {"hours", "days"}
///     What the age of a socket counts.
///
/// Returns
/// -------
/// Sockets
///
/// Raises
/// ------
/// InputError
///     For an unknown class, ending or clock.
/// RefusedError
///     Where no screen was under observation.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> study = relamp.Study.open("data/demo/study.toml")  # invented
/// >>> screens = relamp.sockets_of(study.read(), lamp_class="2.0 kW")
/// >>> len(screens) > 50
/// True
#[pyfunction]
#[pyo3(signature = (reading, *, lamp_class=None, endings=None, clock="hours"))]
pub(super) fn sockets_of(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyReading>)] reading: &Bound<'_, PyReading>,
    #[pyo3(from_py_with = args::lamp_class)] lamp_class: Option<String>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::clock)] clock: &str,
) -> PyResult<PySockets> {
    let clock = match clock {
        "hours" => SocketClock::Hours,
        "days" => SocketClock::Days,
        other => return Err(refuse("python.clock", "not a clock", "clock", "", other, "'hours' or 'days'").into()),
    };
    let mut options = SocketOptions { clock, ..SocketOptions::default() };
    if let Some(endings) = endings {
        options.failure_endings = endings.iter().map(|e| ending("endings", e)).collect::<Result<Vec<_>>>()?;
    }
    let spells = &reading.get().0.spells;
    let known: std::collections::BTreeSet<&str> = spells.iter().map(|s| &**s.lamp_class).collect();
    if let Some(other) = lamp_class.as_deref().filter(|wanted| !known.contains(wanted)) {
        let expected = format!("one of: {}", known.into_iter().collect::<Vec<_>>().join(", "));
        return Err(
            refuse("python.lamp_class", "no lamp of this class was read", "lamp_class", "", other, &expected).into()
        );
    }
    let made = work(py, None, |_| {
        let wanted = |class: &str| lamp_class.as_deref().is_none_or(|wanted| class == wanted);
        Sockets::from_spells(spells.iter().filter(|s| wanted(s.lamp_class)), &options)
    });
    Ok(PySockets(made?))
}
