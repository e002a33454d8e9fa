//! Stress laws: how a drive current or a temperature enters a life.

use serde::{Deserialize, Serialize};

use super::design::Design;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::fit::model::Note;

/// Boltzmann's constant in electronvolt per kelvin (SI, exact by definition of both units, ten digits).
pub const BOLTZMANN_EV: f64 = 8.617_333_262e-5;
/// Kelvin at 0 degrees Celsius.
pub const ZERO_CELSIUS: f64 = 273.15;

/// What the one value that a lamp has of a stress, or of another number, stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ValueIs {
    /// The setting when the lamp was fitted, a choice made before its life began.
    AtFitting,
    /// The value that held all through the life, which the caller declares.
    ConstantOverLife,
    /// Whatever was read last. Refused: a current is raised because a lamp fades, so a late reading follows the age.
    LastReading,
}

/// A law that turns a stress into a column.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum StressLaw {
    /// Life in proportion to (x / reference)^b. The power n of [`crate::fit::fit_current_history`], by which life is in
    /// proportion to current^-n, is -b.
    InversePower {
        /// The value at which the column is 0, above 0.
        reference: f64,
        /// What a lamp's value stands for.
        value_is: ValueIs,
    },
    /// Life in proportion to exp(b / (k T)), b the activation energy in electronvolt.
    Arrhenius {
        /// The temperature at which the column is 0, degrees Celsius.
        reference_celsius: f64,
        /// What a lamp's value stands for.
        value_is: ValueIs,
    },
}

impl StressLaw {
    /// The value at which the column is 0.
    pub fn reference(self) -> f64 {
        match self {
            Self::InversePower { reference, .. } => reference,
            Self::Arrhenius { reference_celsius, .. } => reference_celsius,
        }
    }

    fn value_is(self) -> ValueIs {
        match self {
            Self::InversePower { value_is, .. } | Self::Arrhenius { value_is, .. } => value_is,
        }
    }

    /// Whether it may be used for the covariate of this name.
    pub(super) fn check(self, name: &str) -> Result<()> {
        let (least, expected) = match self {
            Self::InversePower { .. } => (0.0, "a reference above 0"),
            Self::Arrhenius { .. } => (-ZERO_CELSIUS, "a reference above -273.15 degrees Celsius"),
        };
        if !(self.reference() > least && self.reference() < f64::INFINITY) {
            let problem = Problem::new("fit.stress_reference", "a stress law cannot start from this reference");
            let problem = problem.at(Place::input("laws").column(name)).got(self.reference());
            return Err(Error::new(Kind::Domain, problem.expected(expected)));
        }
        if self.value_is() != ValueIs::LastReading {
            return Ok(());
        }
        Err(refuse_last("laws", name))
    }

    /// The column of the covariate.
    ///
    /// # Formula
    /// ```text
    /// inverse power   ln(x / reference)
    /// Arrhenius       1 / (k T) - 1 / (k T0),  T = x + 273.15,  k = 8.617333262e-5 eV/K
    /// ```
    ///
    /// # Errors
    /// `fit.stress_value` for a value at which the law says nothing.
    pub(super) fn column(self, name: &str, x: f64) -> Result<f64> {
        let (column, expected) = match self {
            Self::InversePower { reference, .. } => ((x / reference).ln(), "a value above 0"),
            Self::Arrhenius { reference_celsius, .. } => {
                let (at, from) = (x + ZERO_CELSIUS, reference_celsius + ZERO_CELSIUS);
                let column = if at > 0.0 && from > 0.0 {
                    // One fraction, so that near temperatures do not cancel.
                    (reference_celsius - x) / (BOLTZMANN_EV * at * from)
                } else {
                    f64::NAN
                };
                (column, "degrees Celsius above -273.15")
            }
        };
        if column.is_finite() {
            return Ok(column);
        }
        let problem = Problem::new("fit.stress_value", "the stress law says nothing at this value of a lamp");
        Err(Error::new(Kind::Domain, problem.at(Place::input("laws").column(name)).got(x).expected(expected)))
    }
}

/// The refusal of a value that was read last.
pub(super) fn refuse_last(input: &str, name: &str) -> Error {
    let what = "a last reading says how far a lamp has aged, not how it was driven";
    let problem = Problem::new("fit.last_reading", what)
        .at(Place::input(input).column(name))
        .got("last_reading")
        .expected("at_fitting, or constant_over_life where that is known");
    Error::new(Kind::Refused, problem)
        .with_hint("a current is raised because the lamp fades: old lamps would seem to live long at high current")
}

/// Every value of the lamps at which the law of a covariate says nothing.
pub(super) fn refuse_values(law: StressLaw, name: &str, values: impl Iterator<Item = (f64, u64)>) -> Result<()> {
    let mut bad: Vec<(f64, u64)> = values.filter(|(x, lamps)| *lamps > 0 && law.column(name, *x).is_err()).collect();
    bad.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut problems: Vec<Problem> = Vec::new();
    for same in bad.chunk_by(|a, b| a.0 == b.0) {
        let Some(Err(error)) = same.first().map(|(x, _)| law.column(name, *x)) else { continue };
        let lamps: u64 = same.iter().map(|(_, lamps)| lamps).sum();
        let got = |p: &Problem| p.clone().got(format!("{}, of {}", p.got, counted(lamps, "lamp")));
        problems.extend(error.problems().iter().map(got));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Domain, problems)) }
}

/// The note on an estimate by which a stress prolongs life.
pub(crate) fn prolongs_note(stress: &str) -> Note {
    let text = format!(
        "the estimate says that a greater {stress} prolongs life, which the interval must bear out to be believed"
    );
    Note::new("fit.stress_prolongs", text)
}

/// That note for each covariate with a law whose coefficient says so. `of_life`: whether coefficients are of lives; else they
/// are of hazards.
pub(crate) fn prolonging(design: &Design, coefficients: &[f64], of_life: bool) -> Vec<Note> {
    let alone = |(column, b): (&super::design::DesignColumn, &f64)| {
        let [part] = column.parts.as_slice() else { return None };
        let factor = design.factors.get(part.factor)?;
        let along = match factor.law? {
            StressLaw::InversePower { .. } => *b,
            // Its column falls as the temperature rises.
            StressLaw::Arrhenius { .. } => -b,
        };
        ((along > 0.0) == of_life && along != 0.0).then(|| prolongs_note(&factor.name))
    };
    design.columns.iter().zip(coefficients).filter_map(alone).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_by_hand() {
        let value_is = ValueIs::AtFitting;
        let power = StressLaw::InversePower { reference: 70.0, value_is };
        assert_eq!(power.column("current", 140.0).unwrap(), 2f64.ln());
        assert_eq!(power.column("current", 0.0).unwrap_err().slug(), "fit.stress_value");
        let heat = StressLaw::Arrhenius { reference_celsius: 25.0, value_is };
        let plain = 1.0 / (BOLTZMANN_EV * 358.15) - 1.0 / (BOLTZMANN_EV * 298.15);
        assert!((heat.column("temperature", 85.0).unwrap() - plain).abs() < 1e-12 * plain.abs());
        assert_eq!(heat.column("temperature", -300.0).unwrap_err().slug(), "fit.stress_value");
        let last = StressLaw::InversePower { reference: 70.0, value_is: ValueIs::LastReading };
        assert_eq!(last.check("current").unwrap_err().slug(), "fit.last_reading");
        assert!(power.check("current").is_ok());
        // The reference is at fault, not the value of a lamp.
        for law in [
            StressLaw::InversePower { reference: -60.0, value_is },
            StressLaw::InversePower { reference: 0.0, value_is },
            StressLaw::Arrhenius { reference_celsius: -300.0, value_is },
            StressLaw::Arrhenius { reference_celsius: f64::INFINITY, value_is },
        ] {
            assert_eq!(law.check("current").unwrap_err().slug(), "fit.stress_reference");
        }
    }
}
