//! Checks shared by the families.

use crate::base::error::{Error, Kind, Place, Problem, Result};

/// A parameter that must be positive and finite.
pub(super) fn positive(name: &str, value: f64) -> Result<f64> {
    if value > 0.0 && value < f64::INFINITY {
        Ok(value)
    } else {
        Err(parameter(name, value, "a finite number above 0"))
    }
}

/// A parameter that must be finite and 0 or more.
pub(super) fn not_negative(name: &str, value: f64) -> Result<f64> {
    if (0.0..f64::INFINITY).contains(&value) {
        Ok(value)
    } else {
        Err(parameter(name, value, "a finite number, 0 or more"))
    }
}

/// A parameter that must be finite.
pub(super) fn finite(name: &str, value: f64) -> Result<f64> {
    if value.is_finite() { Ok(value) } else { Err(parameter(name, value, "a finite number")) }
}

fn parameter(name: &str, value: f64, expected: &str) -> Error {
    Error::new(
        Kind::Domain,
        Problem::new("family.parameter", format!("parameter {name} is out of its range"))
            .at(Place::input(name))
            .got(value)
            .expected(expected),
    )
}

/// As many numbers as the family has coordinates.
pub(super) fn width(values: &[f64], width: usize) -> Result<()> {
    if values.len() == width { Ok(()) } else { Err(wrong_width(values.len(), width)) }
}

/// Exactly `N` numbers.
pub(super) fn exactly<const N: usize>(values: &[f64]) -> Result<[f64; N]> {
    values.try_into().map_err(|_| wrong_width(values.len(), N))
}

fn wrong_width(got: usize, expected: usize) -> Error {
    let problem = Problem::new("family.width", "wrong number of coordinates or parameters");
    Error::new(Kind::Domain, problem.got(got).expected(expected.to_string()))
}

/// The first `N` numbers, missing ones as NaN: for paths that answer NaN rather than fail.
#[inline]
pub(super) fn first<const N: usize>(values: &[f64]) -> [f64; N] {
    let mut out = [f64::NAN; N];
    for (o, v) in out.iter_mut().zip(values) {
        *o = *v;
    }
    out
}

/// The logarithm of a probability.
pub(super) fn ln_probability(ln: f64) -> Result<f64> {
    if ln <= 0.0 {
        return Ok(ln);
    }
    let problem = Problem::new("family.probability", "not the logarithm of a probability");
    Err(Error::new(Kind::Domain, problem.got(ln).expected("0 or less, minus infinity allowed")))
}

/// A probability in [0, 1].
pub(super) fn probability(p: f64) -> Result<f64> {
    if (0.0..=1.0).contains(&p) {
        Ok(p)
    } else {
        Err(Error::new(
            Kind::Domain,
            Problem::new("family.probability", "not a probability")
                .at(Place::input("p"))
                .got(p)
                .expected("a number from 0 to 1"),
        ))
    }
}

/// A percentage, as the share that it is.
pub(super) fn percent(x: f64) -> Result<f64> {
    if (0.0..=100.0).contains(&x) {
        return Ok(x / 100.0);
    }
    let problem = Problem::new("family.probability", "not a percentage of lamps").at(Place::input("x")).got(x);
    Err(Error::new(Kind::Domain, problem.expected("a number from 0 to 100")))
}

/// An age of at least 0; infinity allowed.
pub(super) fn age(age: f64) -> Result<f64> {
    if age >= 0.0 {
        Ok(age)
    } else {
        Err(Error::new(
            Kind::Domain,
            Problem::new("family.age", "not an age")
                .at(Place::input("age"))
                .got(age)
                .expected("hours, 0 or more, infinity allowed"),
        ))
    }
}
