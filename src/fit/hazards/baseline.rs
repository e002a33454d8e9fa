//! The cumulative hazard of a baseline lamp.

use serde::{Deserialize, Serialize};

use super::partial::Risk;
use crate::base::sound::{Checks, Sound};
use crate::family::Order;

/// The cumulative hazard of a baseline lamp of one stratum, a step at each failure age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Baseline {
    /// The stratum; empty where none are kept apart.
    pub stratum: String,
    /// Failure ages, ascending, hours.
    pub ages: Vec<f64>,
    /// Cumulative hazard from each age on.
    pub hazard: Vec<f64>,
    /// Oldest age at which a lamp was at risk, hours: nothing is known beyond.
    pub oldest_at_risk_hours: f64,
    /// Variance of the cumulative hazard if the coefficients were known.
    pub variance: Vec<f64>,
    /// Slope of the cumulative hazard over each coefficient, counted negative: the mean column at risk, weighted by hazard.
    pub drift: Vec<Vec<f64>>,
}

impl Sound for Baseline {
    fn check(&self, c: &mut Checks) {
        c.rising("ages", &self.ages, false);
        for (field, n) in
            [("hazard", self.hazard.len()), ("variance", self.variance.len()), ("drift", self.drift.len())]
        {
            c.entries(field, n, self.ages.len());
        }
        c.column("hazard", &self.hazard, Checks::not_negative);
        c.column("variance", &self.variance, Checks::not_negative);
        let falling: Vec<f64> = self.hazard.iter().map(|h| -h).collect();
        c.falling("hazard", &falling);
        if let Some(last) = self.ages.last() {
            c.age("ages", *last, self.oldest_at_risk_hours);
        }
    }
}

impl Baseline {
    /// Cumulative hazard at an age.
    pub fn at(&self, age: f64) -> f64 {
        let steps = self.ages.partition_point(|a| *a <= age);
        steps.checked_sub(1).and_then(|i| self.hazard.get(i)).copied().unwrap_or(0.0)
    }
}

/// Every stratum at the coefficients `b`, which are in units of the spread of the columns.
pub(super) fn baselines(risk: &Risk, b: &[f64]) -> Vec<Baseline> {
    let hazards = risk.hazards(b);
    let of = |stratum: &super::partial::Stratum| {
        let mut steps: Vec<(f64, f64, f64, Vec<f64>)> = Vec::new();
        risk.sweep(stratum, &hazards, Order::Gradient, |tied| {
            let s = tied.shares();
            let drift = tied.means_by_risk(&s).iter().zip(&risk.spread).map(|(m, unit)| m * unit).collect();
            steps.push((tied.age, s.one / s.unit, s.one_squared / s.unit / s.unit, drift));
        });
        steps.reverse();
        let mut out = Baseline {
            stratum: stratum.name.clone(),
            ages: Vec::new(),
            hazard: Vec::new(),
            oldest_at_risk_hours: stratum.rows.first().map_or(0.0, |r| r.exit),
            variance: Vec::new(),
            drift: Vec::new(),
        };
        let (mut hazard, mut variance, mut drift) = (0.0, 0.0, vec![0.0; b.len()]);
        for (age, h, v, d) in steps {
            hazard += h;
            variance += v;
            drift.iter_mut().zip(d).for_each(|(sum, d)| *sum += d);
            out.ages.push(age);
            out.hazard.push(hazard);
            out.variance.push(variance);
            out.drift.push(drift.clone());
        }
        out
    };
    risk.strata.iter().map(of).collect()
}
