//! Families by name, and names of families made of others, such as `above_zero(normal)`.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use serde::{Deserialize, Serialize};

use super::above_zero::AboveZeroFamily;
use super::families;
use super::mixture::MixtureFamily;
use super::never_fails::NeverFailsFamily;
use super::piecewise::{PIECEWISE, PiecewiseFamily};
use super::series::SeriesFamily;
use super::traits::{Family, Life, Parts};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// Longest name that is read; deeper nesting has no use.
const LONGEST: usize = 200;

/// Families made of others, by their full name. Each lives as long as the program, as the plain ones do, so that a fit
/// needs to keep no more than a name.
static MADE: Mutex<BTreeMap<String, &'static dyn Family>> = Mutex::new(BTreeMap::new());

/// Most parameters of a family: what the search of a fit takes.
const WIDEST: usize = 8;

/// The life at some parameters; where it has none, every parameter out of its range is named.
///
/// # Errors
/// Those of [`Family::life`].
fn life_of(family: &dyn Family, parameters: &[f64]) -> Result<Box<dyn Life>> {
    let (mut values, mut problems) = (parameters.to_vec(), Vec::<Problem>::new());
    for _ in 0..=parameters.len() {
        let error = match family.life(&values) {
            Ok(life) if problems.is_empty() => return Ok(life),
            Ok(_) => break,
            Err(error) => error,
        };
        let wrong: Vec<usize> = error.problems().iter().filter_map(|p| position(family, &p.place.input)).collect();
        if wrong.is_empty() || wrong.iter().any(|i| values.get(*i) == Some(&INSIDE)) {
            return if problems.is_empty() { Err(error) } else { Err(Error::many(error.kind(), problems)) };
        }
        problems.extend(error.problems().iter().cloned());
        for i in wrong {
            if let Some(slot) = values.get_mut(i) {
                *slot = INSIDE;
            }
        }
    }
    Err(Error::many(Kind::Domain, problems))
}

/// A value that every parameter may have.
const INSIDE: f64 = 0.5;

fn position(family: &dyn Family, parameter: &str) -> Option<usize> {
    family.parameter_names().iter().position(|name| *name == parameter)
}

/// The family of a name: one of [`families`], or one made of others.
///
/// | name | lives |
/// |---|---|
/// | `above_zero(a)` | those of a family that reaches below age 0, cut there |
/// | `series(a, b)` | two causes, whichever comes first; parameters `first_...`, `second_...` |
/// | `mixture(a, b)` | two kinds of lamps; `first_...`, `second_...` and `first_share`, the share of the first kind |
/// | `never_fails(a)` | a share `never_share` that never fails from this cause, the others by a |
/// | `piecewise_constant(500, 1000)` | a constant hazard in each of the pieces that the ages cut: `hazard_1`, `hazard_2`, ... |
///
/// Each may stand where a name may: `series(never_fails(weibull), lognormal)`. At most 8 parameters in all.
///
/// # Errors
/// `family.unknown`, which lists the names; `family.made_of` where the parts do not make a family; `family.cuts` where
/// ages do not cut a life into pieces.
///
/// # Examples
/// ```
/// use relamp::family::family;
/// assert_eq!(family("weibull")?.parameter_names(), ["shape", "scale"]);
/// assert_eq!(family("above_zero( normal )")?.name(), "above_zero(normal)");
/// assert_eq!(family("never_fails(weibull)")?.parameter_names(), ["shape", "scale", "never_share"]);
/// assert_eq!(family("piecewise_constant(500,1000)")?.parameter_names(), ["hazard_1", "hazard_2", "hazard_3"]);
/// assert_eq!(family("square").unwrap_err().slug(), "family.unknown");
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn family(name: &str) -> Result<&'static dyn Family> {
    let name = name.trim();
    if name.len() > LONGEST {
        return Err(unknown(&format!("a name of {} bytes", name.len())));
    }
    if let Some(plain) = families().into_iter().find(|f| f.name() == name) {
        return Ok(plain);
    }
    let Some((maker, rest)) = name.split_once('(') else { return Err(unknown(name)) };
    let Some(inside) = rest.strip_suffix(')') else { return Err(unknown(name)) };
    let maker = maker.trim();
    let parts = split(inside);
    if maker == PIECEWISE {
        let (name, cuts) = PiecewiseFamily::read(&parts)?;
        return Ok(keep(name, |name| Box::new(PiecewiseFamily::new(name, cuts))));
    }
    if !["above_zero", "never_fails", "series", "mixture"].contains(&maker) {
        return Err(unknown(name));
    }
    let parts = parts.into_iter().map(family).collect::<Result<Vec<_>>>()?;
    let names: Vec<&str> = parts.iter().map(|p| p.name()).collect();
    let full = format!("{maker}({})", names.join(", "));
    let shares = usize::from(maker == "mixture" || maker == "never_fails");
    let width = parts.iter().map(|p| p.width()).sum::<usize>() + shares;
    if width > WIDEST {
        return Err(made_of(maker, &format!("{full} with {width} parameters"), "at most 8 parameters in all"));
    }
    match (maker, parts.as_slice()) {
        ("above_zero", [part]) if !part.below_zero() => {
            Err(made_of(maker, part.name(), "a family that reaches below age 0"))
        }
        // Of two shares in a row only the product could be told.
        ("never_fails", [part]) if matches!(part.parts(), Some(Parts::NeverFails(_))) => {
            Err(made_of(maker, part.name(), "a family without such a share"))
        }
        ("above_zero", [part]) => Ok(keep(full, |name| Box::new(AboveZeroFamily::new(name, *part)))),
        ("never_fails", [part]) => Ok(keep(full, |name| Box::new(NeverFailsFamily::new(name, *part)))),
        ("series", [a, b]) => Ok(keep(full, |name| Box::new(SeriesFamily::new(name, *a, *b)))),
        ("mixture", [a, b]) => Ok(keep(full, |name| Box::new(MixtureFamily::new(name, *a, *b)))),
        ("above_zero" | "never_fails", _) => Err(made_of(maker, inside, "one family")),
        _ => Err(made_of(maker, inside, "two families")),
    }
}

/// A life as it is written down: the name of its family, and its parameters in the order of the family.
///
/// # Examples
/// ```
/// use relamp::family::{Life, Weibull};
/// let written = Weibull { shape: 2.0, scale: 1000.0 }.named().unwrap();
/// assert_eq!((written.family.as_str(), written.parameters.as_slice()), ("weibull", [2.0, 1000.0].as_slice()));
/// assert_eq!(written.life()?.reliability(500.0), Weibull { shape: 2.0, scale: 1000.0 }.reliability(500.0));
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedLife {
    /// Name of the family, as [`family`] takes it.
    pub family: String,
    /// Parameters, in the order of [`Family::parameter_names`].
    pub parameters: Vec<f64>,
}

impl NamedLife {
    /// A family's name with parameters.
    pub fn new(family: impl Into<String>, parameters: impl Into<Vec<f64>>) -> Self {
        Self { family: family.into(), parameters: parameters.into() }
    }

    /// The life.
    ///
    /// # Errors
    /// Those of [`family`] and of [`Family::life`].
    pub fn life(&self) -> Result<Box<dyn Life>> {
        life_of(family(&self.family)?, &self.parameters)
    }
}

impl Sound for NamedLife {
    fn check(&self, c: &mut Checks) {
        match family(&self.family) {
            Err(_) => c.need("family", false, &self.family, "the name of a family"),
            Ok(family) => {
                let expected = format!("those of a {} life: {}", self.family, family.parameter_names().join(", "));
                c.need("parameters", self.life().is_ok(), format!("{:?}", self.parameters), expected);
            }
        }
    }
}

/// The family kept under a full name, made the first time it is asked for.
fn keep(name: String, make: impl FnOnce(&'static str) -> Box<dyn Family>) -> &'static dyn Family {
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(found) = made.get(&name) {
        return *found;
    }
    let family: &'static dyn Family = Box::leak(make(Box::leak(name.clone().into_boxed_str())));
    made.insert(name, family);
    family
}

/// Parts between commas that stand outside every bracket.
fn split(inside: &str) -> Vec<&str> {
    let (mut depth, mut from, mut parts) = (0i32, 0, Vec::new());
    for (i, c) in inside.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(inside.get(from..i).unwrap_or("").trim());
                from = i + 1;
            }
            _ => {}
        }
    }
    parts.push(inside.get(from..).unwrap_or("").trim());
    parts
}

fn unknown(name: &str) -> Error {
    let names: Vec<&str> = families().iter().map(|f| f.name()).collect();
    let made = "above_zero(...), never_fails(...), series(..., ...), mixture(..., ...)";
    let expected = format!("{}, {made}, or {PIECEWISE}(...) with cut ages", names.join(", "));
    let problem = Problem::new("family.unknown", "no such life family").at(Place::input("family"));
    Error::new(Kind::Input, problem.got(name).expected(expected))
}

fn made_of(maker: &str, got: &str, expected: &str) -> Error {
    let problem = Problem::new("family.made_of", format!("these parts do not make a family by {maker}"));
    Error::new(Kind::Input, problem.at(Place::input("family")).got(got).expected(expected.to_owned()))
}
