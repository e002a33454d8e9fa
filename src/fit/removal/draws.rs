//! Worlds of one dependence: one life, its refits, and the endings of the failures.

use super::dial::{DialPoint, RemovalDial};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::family::Family;
use crate::fit::world::{CauseLife, Draws, Method, World};
use crate::terms::Costs;

/// The worlds that go with a point of a dial.
pub(crate) struct DialDraws<'a> {
    dial: &'a RemovalDial,
    family: &'static dyn Family,
    point: &'a DialPoint,
    costs: &'a Costs,
}

impl<'a> DialDraws<'a> {
    pub(crate) fn new(dial: &'a RemovalDial, point: &'a DialPoint, costs: &'a Costs) -> Result<Self> {
        Ok(Self { dial, family: dial.family()?, point, costs })
    }

    fn of(&self, x: &[f64]) -> Result<World> {
        let cause = CauseLife { endings: self.dial.endings().to_vec(), life: self.family.at(x)? };
        Ok(World { causes: vec![cause], costs: self.costs.clone() })
    }
}

impl Draws for DialDraws<'_> {
    fn len(&self) -> usize {
        self.point.refits.len()
    }

    fn best(&self) -> Result<World> {
        self.of(&self.point.coordinates)
    }

    fn world(&self, replicate: usize) -> Result<World> {
        let x = self.point.refits.get(replicate).ok_or_else(|| {
            let problem = Problem::new("fit.replicate", "no such replicate").got(replicate);
            Error::new(Kind::Domain, problem.expected(format!("below {}", self.len())))
        })?;
        self.of(x)
    }

    fn method(&self) -> Method {
        Method::WeightedBootstrap
    }
}
