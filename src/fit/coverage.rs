//! How often intervals were measured to hold the truth: the guide's table, read once.

use std::sync::OnceLock;

use super::interval::{Interval, IntervalMethod, Quantity, Sides};
use super::model::{Facts, Note};
use crate::base::figure::counted;
use crate::family::{Family, family};

/// The page with the table; the only place where the numbers stand.
const PAGE: &str = include_str!("../guide/coverage.md");
/// Level of the table.
const LEVEL: f64 = 0.95;
/// The family of the table, and what its rows are of.
const MEASURED: &str = "weibull";
const SHAPE: &str = "shape";
const AGE: &str = "b10";
/// The kind of plain profile intervals in the table, and that of those corrected by simulation.
const PLAIN: &str = "profile";
const CORRECTED: &str = "corrected profile";
/// Failures past the table's last row times this are not what was measured.
const PAST: f64 = 1.6;

/// One row: the share held in percent and whether it is bad, for light, heavy and staggered censoring.
#[derive(Debug)]
struct Line {
    kind: &'static str,
    of: &'static str,
    failures: f64,
    held: [(f64, bool); 3],
}

fn lines() -> &'static [Line] {
    static LINES: OnceLock<Vec<Line>> = OnceLock::new();
    LINES.get_or_init(|| PAGE.lines().filter_map(line).collect())
}

fn line(text: &'static str) -> Option<Line> {
    let cells: Vec<&str> = text.trim().trim_matches('|').split('|').map(str::trim).collect();
    let &[kind, of, failures, light, heavy, staggered] = cells.as_slice() else { return None };
    let share = |cell: &str| Some((cell.trim_end_matches(" bad").parse().ok()?, cell.ends_with(" bad")));
    let held = [share(light)?, share(heavy)?, share(staggered)?];
    Some(Line { kind, of, failures: failures.parse().ok()?, held })
}

/// The rows of the table nearest to a quantity: those of the shape, or of an age. A function of the caller's own may be
/// like either, so that both are asked.
fn like(family: &dyn Family, quantity: &Quantity) -> &'static [&'static str] {
    match quantity {
        Quantity::Parameter(name) if is_shape(family, name) => &[SHAPE],
        Quantity::Function(_) => &[AGE, SHAPE],
        _ => &[AGE],
    }
}

/// Whether a parameter of two says how steep a life is.
fn is_shape(family: &dyn Family, name: &str) -> bool {
    family.parameter_names().iter().position(|n| *n == name).is_some_and(|i| i != family.anchor())
}

/// Whether the table was measured with this very quantity, level and sides.
fn measured(family: &str, interval: &Interval) -> bool {
    let quantity = match &interval.quantity {
        Quantity::Parameter(name) => name == SHAPE,
        // The age of 10 % failed and no other.
        Quantity::BLife(percent) => (percent - 10.0).abs() < 1e-9,
        Quantity::Quantile(share) => (share - 0.1).abs() < 1e-9,
        _ => false,
    };
    quantity && family == MEASURED && interval.level == LEVEL && interval.sides == Sides::Both
}

/// What the table says of an interval: none where the cell is good, and for a family of other than two parameters. For a
/// figure that was not measured the nearest cell speaks, and the note says so.
pub(super) fn note(name: &str, facts: &Facts, interval: &Interval) -> Option<Note> {
    let family = family(name).ok().filter(|family| family.width() == 2)?;
    let kind = match interval.method {
        IntervalMethod::Wald => "wald",
        IntervalMethod::ProfileLikelihood => PLAIN,
        IntervalMethod::ProfileLikelihoodCorrected => CORRECTED,
        IntervalMethod::WeightedBootstrap => "bootstrap",
        IntervalMethod::WeightedBootstrapBiasCorrected => "bias-corrected bootstrap",
        IntervalMethod::Posterior => "posterior",
    };
    let failures = facts.failures as f64;
    let near = |l: &&Line| (failures.max(1.0) / l.failures).ln().abs();
    let row_of = |kind: &str, of: &str| {
        lines().iter().filter(|l| l.kind == kind && l.of == of).min_by(|a, b| near(a).total_cmp(&near(b)))
    };
    let failing = failures / facts.lamps.max(1) as f64;
    let (place, word) = if failing > 0.6 {
        (0, "light")
    } else if failing < 0.2 {
        (1, "heavy")
    } else {
        (2, "staggered")
    };
    like(family, &interval.quantity).iter().find_map(|of| {
        let row = row_of(kind, of).filter(|row| failures <= PAST * row.failures)?;
        let &(share, bad) = row.held.get(place)?;
        if !bad {
            return None;
        }
        // The remedy for this kind, where it was seen to be one.
        let better = row_of(CORRECTED, of).filter(|_| kind == PLAIN).and_then(|row| row.held.get(place));
        let remedy = match better {
            Some((better, false)) => {
                format!("; one corrected by simulation, as `profile_corrected` gives it, held it in {better:.1} %")
            }
            _ => String::new(),
        };
        let held = format!(
            "held the truth in {share:.1} % of simulated samples with about {} and {word} censoring, not in 95 %{remedy}",
            counted(row.failures as u64, "failure")
        );
        let text = if measured(name, interval) {
            format!("such an interval {held}")
        } else {
            let nearest = if *of == SHAPE { "the shape" } else { "the b10 life" };
            format!(
                "how often this interval holds the truth was not measured; the nearest that was, one of the same kind for \
                 {nearest} of a Weibull life, at 95 % between two ends, {held}"
            )
        };
        Some(Note::new("fit.coverage", text))
    })
}
