//! What an interval is asked of, from the keyword arguments that ask it.

use std::cell::RefCell;

use pyo3::prelude::*;

use crate::Result;
use crate::family::{Family, Life};
use crate::fit::{Function, Interval, Quantity, Scale, Sides};

use super::error::refuse;
use super::intake::kind_of;
use super::life::{Named, PyLife};

/// A quantity in words.
pub(super) fn in_words(quantity: &Quantity) -> String {
    match quantity {
        Quantity::Parameter(name) | Quantity::Function(name) => name.clone(),
        Quantity::Quantile(p) => format!("quantile of {p}"),
        Quantity::BLife(x) => format!("b{x} life"),
        Quantity::Reliability(age) => format!("reliability at {age} h"),
        Quantity::Hazard(age) => format!("hazard at {age} h"),
        Quantity::Mean => "mean life".to_owned(),
        Quantity::FailureWithin { age_hours, hours } => format!("failure within {hours} h from {age_hours} h"),
    }
}

/// The keyword arguments, of which exactly one is given.
pub(super) struct Given<'py> {
    pub(super) parameter: Option<String>,
    pub(super) quantile: Option<f64>,
    pub(super) b_life: Option<f64>,
    pub(super) reliability: Option<f64>,
    pub(super) hazard: Option<f64>,
    pub(super) mean: bool,
    pub(super) failure_within: Option<(f64, f64)>,
    pub(super) function: Option<Bound<'py, PyAny>>,
}

/// What was asked.
pub(super) enum Asked<'py> {
    Quantity(Quantity),
    Function(Own<'py>),
}

/// A Python function of a life.
pub(super) struct Own<'py> {
    callable: Bound<'py, PyAny>,
    name: String,
    scale: Scale,
}

impl<'py> Given<'py> {
    pub(super) fn asked(self, scale: &str) -> PyResult<Asked<'py>> {
        let within = self.failure_within.map(|(age_hours, hours)| Quantity::FailureWithin { age_hours, hours });
        let given = [
            self.parameter.map(Quantity::Parameter),
            self.quantile.map(Quantity::Quantile),
            self.b_life.map(Quantity::BLife),
            self.reliability.map(Quantity::Reliability),
            self.hazard.map(Quantity::Hazard),
            self.mean.then_some(Quantity::Mean),
            within,
        ];
        let mut given: Vec<Quantity> = given.into_iter().flatten().collect();
        let several = given.len() + usize::from(self.function.is_some());
        match (given.pop(), self.function, several) {
            (Some(_), None, 1) if scale != "plain" => {
                let what = "only a function has a scale to choose: a quantity has its own";
                Err(refuse("python.scale", what, "scale", "", scale, "no scale, or a function").into())
            }
            (Some(quantity), None, 1) => Ok(Asked::Quantity(quantity)),
            (None, Some(callable), 1) => Ok(Asked::Function(Own::new(callable, scale)?)),
            _ => {
                let got = format!("{several} of them");
                let expected =
                    "one of parameter, quantile, b_life, reliability, hazard, mean, failure_within, function";
                let what = "an interval is asked of one quantity";
                Err(refuse("python.quantity", what, "interval", "", &got, expected).into())
            }
        }
    }
}

impl Given<'_> {
    /// What was asked, where no function may be.
    pub(super) fn quantity(self) -> PyResult<Quantity> {
        match self.asked("plain")? {
            Asked::Quantity(quantity) => Ok(quantity),
            Asked::Function(own) => {
                let what = "a function cannot be asked here";
                Err(refuse("python.quantity", what, "function", "", &own.name, "a quantity by name").into())
            }
        }
    }
}

impl<'py> Own<'py> {
    fn new(callable: Bound<'py, PyAny>, scale: &str) -> PyResult<Self> {
        if !callable.is_callable() {
            let (got, expected) = (kind_of(&callable), "a function of a Life that gives a number");
            return Err(refuse("python.function", "not callable", "function", "", &got, expected).into());
        }
        let scale = match scale {
            "plain" => Scale::Plain,
            "positive" => Scale::Positive,
            "share" => Scale::Share,
            other => {
                let expected = "plain, positive or share";
                return Err(refuse("python.scale", "not a scale", "scale", "", other, expected).into());
            }
        };
        let name = callable.getattr("__name__").and_then(|n| n.extract()).unwrap_or_else(|_| "function".to_owned());
        Ok(Self { callable, name, scale })
    }

    /// Asks the core with this function; an exception inside it comes out as it was raised.
    pub(super) fn call(
        &self,
        family: &'static dyn Family,
        ask: impl FnOnce(&Function) -> Result<Interval>,
    ) -> PyResult<Interval> {
        let raised = RefCell::new(None);
        let of = |_: &dyn Life, parameters: &[f64]| {
            let life = Named::new(family, parameters.to_vec())?;
            let given = self.callable.call1((PyLife(life),)).map_err(|error| {
                *raised.borrow_mut() = Some(error);
                refuse("python.function", "the function raised an exception", "function", "", &self.name, "a number")
            })?;
            given.extract::<f64>().map_err(|_| {
                let got = format!("{} from {}", kind_of(&given), self.name);
                refuse(
                    "python.function",
                    "the function does not give a number",
                    "function",
                    "",
                    &got,
                    "a number for a life",
                )
            })
        };
        let made = ask(&Function { name: self.name.clone(), of: &of, scale: self.scale });
        match raised.into_inner() {
            Some(error) => Err(error),
            None => Ok(made?),
        }
    }
}

pub(super) fn sides(name: &str) -> Result<Sides> {
    match name {
        "both" => Ok(Sides::Both),
        "lower" => Ok(Sides::Lower),
        "upper" => Ok(Sides::Upper),
        other => Err(refuse("python.sides", "not an end of an interval", "sides", "", other, "both, lower or upper")),
    }
}
