//! Invented worlds for tests, and the stored check values.

use relamp::base::math::quadrature::integrate;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull};
use relamp::fit::{CauseLife, Draws, Method, World};
use relamp::records::Ending;
use relamp::terms::{Costs, HourLimit, PrintedHours};
use relamp::{Error, Kind, Problem, Result};
use serde_json::Value;

/// A limit printed by an invented maker.
pub fn limit(hours: f64) -> HourLimit {
    PrintedHours { maximum_hours: Some(hours), source: "invented".into(), ..PrintedHours::default() }.limit().unwrap()
}

/// A world with one cause.
pub fn world(life: impl Life + 'static, planned: f64, failure: f64) -> World {
    World {
        causes: vec![CauseLife { endings: vec![(Ending::Dim, 1.0)], life: Box::new(life) }],
        costs: Costs::new(planned, [(Ending::Dim, failure)]).unwrap(),
    }
}

/// A world with several Weibull causes: (ending, shape, scale, cost).
pub fn series(planned: f64, causes: &[(Ending, f64, f64, f64)]) -> World {
    World {
        causes: causes
            .iter()
            .map(|(ending, shape, scale, _)| CauseLife {
                endings: vec![(*ending, 1.0)],
                life: Box::new(Weibull { shape: *shape, scale: *scale }) as Box<dyn Life>,
            })
            .collect(),
        costs: Costs::new(planned, causes.iter().map(|c| (c.0, c.3))).unwrap(),
    }
}

/// The stored check values.
pub fn stored() -> Value {
    serde_json::from_str(include_str!("../data/decisions.json")).unwrap()
}

/// One stored case.
pub fn case(id: &str) -> Value {
    let all = stored();
    let lists = [&all["cases"], &all["hard_cases"]];
    lists.iter().flat_map(|l| l.as_array().unwrap()).find(|c| c["id"] == id).unwrap().clone()
}

/// A number of a stored case; "inf" is infinite.
pub fn number(v: &Value) -> f64 {
    if v == "inf" { f64::INFINITY } else { v.as_f64().unwrap() }
}

/// Fails unless |x - e| <= rel |e| + abs.
#[track_caller]
pub fn close(x: f64, e: f64, rel: f64, abs: f64) {
    assert!((x - e).abs() <= rel * e.abs() + abs, "{x} is not {e} to {rel}");
}

/// A mixture of two Weibull lives.
#[derive(Debug)]
pub struct Mixture(pub Vec<(f64, Weibull)>);

impl Life for Mixture {
    fn ln_density(&self, age: f64) -> f64 {
        self.0.iter().map(|(w, l)| w * l.ln_density(age).exp()).sum::<f64>().ln()
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        self.0.iter().map(|(w, l)| w * l.reliability(age)).sum::<f64>().ln()
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.0.iter().map(|(w, l)| w * l.failure_probability(age)).sum::<f64>().ln()
    }
    fn quantile(&self, _: f64) -> Result<f64> {
        Err(Error::new(Kind::Refused, Problem::new("test.quantile", "not needed")))
    }
    fn mean_to(&self, age: f64) -> Result<f64> {
        self.0.iter().map(|(w, l)| Ok(w * l.mean_to(age)?)).sum()
    }
}

/// A life spread evenly over (0, end).
#[derive(Debug)]
pub struct Even(pub f64);

impl Life for Even {
    fn ln_density(&self, age: f64) -> f64 {
        if age < self.0 { -self.0.ln() } else { f64::NEG_INFINITY }
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        (1.0 - age / self.0).max(0.0).ln()
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        (age / self.0).min(1.0).ln()
    }
    fn quantile(&self, p: f64) -> Result<f64> {
        Ok(p * self.0)
    }
    fn mean_to(&self, age: f64) -> Result<f64> {
        let t = age.min(self.0);
        Ok(t - t * t / (2.0 * self.0))
    }
}

/// A step curve: failures of equal weight at ascending ages.
#[derive(Debug)]
pub struct Steps(pub Vec<f64>);

impl Steps {
    fn left(&self, age: f64) -> f64 {
        1.0 - self.0.iter().filter(|a| **a <= age).count() as f64 / self.0.len() as f64
    }
}

impl Life for Steps {
    fn ln_density(&self, _: f64) -> f64 {
        f64::NEG_INFINITY
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        self.left(age).ln()
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        (1.0 - self.left(age)).ln()
    }
    fn quantile(&self, p: f64) -> Result<f64> {
        Ok(self.0[((p * self.0.len() as f64) as usize).min(self.0.len() - 1)])
    }
    fn kinks(&self) -> &[f64] {
        &self.0
    }
    fn mean_to(&self, age: f64) -> Result<f64> {
        let end = age.min(*self.0.last().unwrap());
        integrate(|t| self.left(t), 0.0, end, &self.0, 1e-13)
    }
}

/// Worlds drawn from an invented spread of shape and scale.
#[derive(Debug)]
pub struct Drawn {
    pub shape: f64,
    pub scale: f64,
    pub spread: f64,
    pub ratio: f64,
    pub draws: usize,
}

impl Draws for Drawn {
    fn len(&self) -> usize {
        self.draws
    }
    fn best(&self) -> Result<World> {
        Ok(world(Weibull { shape: self.shape, scale: self.scale }, 1.0, self.ratio))
    }
    fn world(&self, replicate: usize) -> Result<World> {
        if replicate == 3 {
            return Err(Error::new(Kind::Refused, Problem::new("test.failed_draw", "a draw that fails")));
        }
        let mut stream = Stream::new(1, "test", "drawn", replicate as u64);
        let mut wide = |x: f64| x * ((stream.uniform() - 0.5) * self.spread).exp();
        Ok(world(Weibull { shape: wide(self.shape), scale: wide(self.scale) }, 1.0, self.ratio))
    }
    fn method(&self) -> Method {
        Method::Wald
    }
}
