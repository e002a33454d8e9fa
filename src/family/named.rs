//! Families by name, and names of families made of others, such as `above_zero(normal)`.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use serde::{Deserialize, Serialize};

use super::above_zero::AboveZeroFamily;
use super::families;
use super::traits::{Family, Life};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// Longest name that is read; deeper nesting has no use.
const LONGEST: usize = 200;

/// Families made of others, by their full name. Each lives as long as the program, as the plain ones do, so that a fit
/// needs to keep no more than a name.
static MADE: Mutex<BTreeMap<String, &'static dyn Family>> = Mutex::new(BTreeMap::new());

/// The family of a name: one of [`families`], or one made of others: `above_zero(normal)` cuts a family that reaches
/// below age 0.
///
/// # Errors
/// `family.unknown`, which lists the names; `family.made_of` where the parts do not make a family.
///
/// # Examples
/// ```
/// use relamp::family::family;
/// assert_eq!(family("weibull")?.parameter_names(), ["shape", "scale"]);
/// assert_eq!(family("above_zero( normal )")?.name(), "above_zero(normal)");
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
    if maker == "above_zero" {
        let [part] = parts.as_slice() else { return Err(made_of(maker, inside, "one family")) };
        let part = family(part)?;
        if !part.below_zero() {
            return Err(made_of(maker, part.name(), "a family that reaches below age 0"));
        }
        let name = format!("above_zero({})", part.name());
        return Ok(keep(name, |name| Box::new(AboveZeroFamily::new(name, part))));
    }
    Err(unknown(name))
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
        family(&self.family)?.life(&self.parameters)
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
    let expected = format!("{}, or above_zero(...)", names.join(", "));
    let problem = Problem::new("family.unknown", "no such life family").at(Place::input("family"));
    Error::new(Kind::Input, problem.got(name).expected(expected))
}

fn made_of(maker: &str, got: &str, expected: &str) -> Error {
    let problem = Problem::new("family.made_of", format!("these parts do not make a family by {maker}"));
    Error::new(Kind::Input, problem.at(Place::input("family")).got(got).expected(expected.to_owned()))
}
