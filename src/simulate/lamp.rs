//! How long a lamp lives and what ends it, drawn from a world.

use crate::base::error::Result;
use crate::base::random::Stream;
use crate::family::{Life, later};
use crate::fit::World;
use crate::records::Ending;

/// The causes of a world, ready to be drawn from.
#[derive(Debug)]
pub(super) struct Causes<'a> {
    causes: Vec<Cause<'a>>,
}

#[derive(Debug)]
struct Cause<'a> {
    life: &'a dyn Life,
    /// Places among the failures, with the sum of shares up to and with each, the last 1.
    endings: Vec<(usize, f64)>,
}

impl<'a> Causes<'a> {
    pub(super) fn new(world: &'a World, failures: &[Ending]) -> Self {
        let cause = |c: &'a crate::fit::CauseLife| {
            let whole: f64 = c.endings.iter().map(|(_, share)| share).sum();
            let mut sum = 0.0;
            let mut endings = Vec::new();
            for (ending, share) in c.endings.iter().filter(|(_, share)| *share > 0.0) {
                sum += share / whole;
                endings.push((failures.iter().position(|f| f == ending).unwrap_or(0), sum));
            }
            Cause { life: c.life.as_ref(), endings }
        };
        Self { causes: world.causes.iter().map(cause).collect() }
    }

    /// ln R of all causes in series.
    pub(super) fn ln_reliability(&self, age: f64) -> f64 {
        self.causes.iter().map(|c| c.life.ln_reliability(age)).sum()
    }

    /// Age at failure of a lamp that has reached `age`, and the place of its ending among the failures.
    ///
    /// Every lamp takes as many numbers from the stream, so that the n-th lamp of a screen has the same life under every
    /// rule and rules can be compared on equal lamps.
    pub(super) fn draw(&self, stream: &mut Stream, age: f64) -> Result<(f64, usize)> {
        let mut first = f64::INFINITY;
        let mut tied: Vec<&Cause> = Vec::new();
        for cause in &self.causes {
            let u = stream.uniform();
            let end = if age == 0.0 { cause.life.quantile(u)? } else { later(cause.life, age, u)? };
            if end < first {
                first = end;
                tied.clear();
            }
            if end == first {
                tied.push(cause);
            }
        }
        // Lives made of steps can end at one age; then each cause is as likely, and the rest of the number names the ending.
        let scaled = stream.uniform() * tied.len() as f64;
        let place = scaled.floor();
        let ending = tied.get(place as usize).and_then(|cause| {
            let within = scaled - place;
            cause.endings.iter().find(|(_, upto)| within < *upto).or(cause.endings.last())
        });
        Ok((first, ending.map_or(0, |e| e.0)))
    }
}
