//! The true model and the true reliability of the mix of lamps in the records.

use std::fmt::Write;

use crate::classes::LampClass;
use crate::lamps::{Lamp, factor};

/// True reliability of one class at one age, averaged over the lamps of the records.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TruePoint {
    /// Age divided by the rated hours.
    pub times_rated: f64,
    /// Age in hours.
    pub hours: f64,
    /// Chance that a lamp of the mix still works at this age.
    pub reliability: f64,
}

/// The true model of one class.
#[derive(Clone, Debug, PartialEq)]
pub struct ClassTruth {
    /// The class with its true causes.
    pub class: LampClass,
    /// Lamps in the records.
    pub lamps: usize,
    /// Of these, lamps of the weak batch.
    pub weak: usize,
    /// Of these, lamps at the site with poor cooling.
    pub poorly_cooled: usize,
    /// Reliability at 0.5, 1 and 1.2 times the rated hours.
    pub points: [TruePoint; 3],
}

/// Reliability of a lamp of a class.
///
/// # Formula
/// ```text
/// R(t) = exp(-sum over causes of factor x (t / scale)^shape)
/// ```
/// where `factor` is the product of the cause's `weak_batch` and `poor_cooling` factors that apply.
pub fn reliability(class: &LampClass, age: f64, weak: bool, poor_cooling: bool) -> f64 {
    let hazard: f64 = class
        .causes
        .iter()
        .map(|c| factor(c.weak_batch, weak) * factor(c.poor_cooling, poor_cooling) * c.cumulative_hazard(age))
        .sum();
    (-hazard).exp()
}

/// The truth of every class for the lamps in the records.
pub fn truth(classes: &[LampClass], lamps: &[Lamp]) -> Vec<ClassTruth> {
    classes
        .iter()
        .enumerate()
        .map(|(index, class)| {
            let mine: Vec<&Lamp> = lamps.iter().filter(|l| l.class == index).collect();
            let points = [0.5, 1.0, 1.2].map(|times_rated| {
                let hours = times_rated * class.rated;
                let sum: f64 = mine.iter().map(|l| reliability(class, hours, l.weak, l.poor_cooling)).sum();
                TruePoint { times_rated, hours, reliability: sum / (mine.len() as f64).max(1.0) }
            });
            ClassTruth {
                class: class.clone(),
                lamps: mine.len(),
                weak: mine.iter().filter(|l| l.weak).count(),
                poorly_cooled: mine.iter().filter(|l| l.poor_cooling).count(),
                points,
            }
        })
        .collect()
}

/// `truth_model.csv`: the true causes.
pub fn model_csv(truths: &[ClassTruth]) -> String {
    let mut text = String::from("lamp_class,cause,shape,scale_hours,weak_batch_factor,poor_cooling_factor\n");
    for truth in truths {
        for c in &truth.class.causes {
            let _ = writeln!(
                text,
                "{},{},{},{:.4},{},{}",
                truth.class.name,
                c.ending.as_str(),
                c.shape,
                c.scale,
                c.weak_batch,
                c.poor_cooling
            );
        }
    }
    text
}

/// `truth_reliability.csv`: the true reliability of the mix.
pub fn reliability_csv(truths: &[ClassTruth]) -> String {
    let mut text =
        String::from("lamp_class,lamps,weak_batch_lamps,poorly_cooled_lamps,times_rated,hours,reliability\n");
    for t in truths {
        for p in &t.points {
            let _ = writeln!(
                text,
                "{},{},{},{},{},{:.1},{:.6}",
                t.class.name, t.lamps, t.weak, t.poorly_cooled, p.times_rated, p.hours, p.reliability
            );
        }
    }
    text
}
