//! Measures how often intervals hold the truth, and writes the page `src/guide/coverage.md`.
//!
//! ```text
//! cargo run --release --example coverage -- DATE [RUNS [REFITTED]]
//! ```

// A program for people prints, and may stop at the first surprise.
#![allow(clippy::print_stderr, clippy::expect_used)]

mod cells;

use std::fmt::Write as _;

use relamp::base::figure::whole;

use cells::{
    Censoring, Counts, FAILURES, JUDGED, KINDS, QUANTITIES, REFITTED, REPLICATES, RUNS, SHAPES, SIMULATED, TRUTH,
    count, good,
};

const SEED: u64 = 20_261_125;

fn main() -> relamp::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let date = arguments.next().unwrap_or_else(|| "undated".to_owned());
    let runs: u64 = arguments.next().and_then(|n| n.parse().ok()).unwrap_or(RUNS);
    let refitted: u64 = arguments.next().and_then(|n| n.parse().ok()).unwrap_or(REFITTED).min(runs);
    let mut cells: Vec<(u64, Vec<Counts>)> = Vec::new();
    for failures in FAILURES {
        let mut row = Vec::new();
        for censoring in Censoring::ALL {
            let began = std::time::Instant::now();
            row.push(count(censoring, failures, SEED, runs, refitted)?);
            eprintln!("{failures} failures, {}: {:.0} s", censoring.name(), began.elapsed().as_secs_f64());
        }
        cells.push((failures, row));
    }
    let page = page(&cells, runs, refitted, &date)?;
    std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/src/guide/coverage.md"), page).expect("the guide's folder");
    Ok(())
}

fn page(cells: &[(u64, Vec<Counts>)], runs: u64, refitted: u64, date: &str) -> relamp::Result<String> {
    let mut out = String::new();
    let (shape, scale) = (TRUTH.shape, TRUTH.scale);
    let text = include_str!("page.md");
    out.push_str(
        &text
            .replace("DATE", date)
            .replace("SEED", &SEED.to_string())
            .replace("RUNS", &whole(runs as f64))
            .replace("REFITTED", &whole(refitted as f64))
            .replace("SIMULATED", &SIMULATED.to_string())
            .replace("JUDGED", &whole(JUDGED))
            .replace("SHAPES", &format!("{} to {}", SHAPES.0, SHAPES.1))
            .replace("TRUTH", &format!("Weibull lives, shape {shape}, scale {scale} h"))
            .replace("REPLICATES", &REPLICATES.to_string()),
    );
    // Writing to a string cannot fail.
    let _ =
        writeln!(out, "\n# The table\n| kind | of | failures | light | heavy | staggered |\n|---|---|---|---|---|---|");
    for (i, kind) in KINDS.iter().enumerate() {
        for (k, quantity) in QUANTITIES.iter().enumerate() {
            for (failures, row) in cells {
                let _ = write!(out, "| {kind} | {quantity} | {failures} |");
                for counts in row {
                    let share = counts.share(i, k);
                    let mark = if good(share)? { "" } else { " bad" };
                    let _ = write!(out, " {:.2}{mark} |", 100.0 * share);
                }
                out.push('\n');
            }
        }
    }
    let _ = writeln!(
        out,
        "\n# Samples without a fit, percent\n| failures | light | heavy | staggered |\n|---|---|---|---|"
    );
    for (failures, row) in cells {
        let _ = write!(out, "| {failures} |");
        for counts in row {
            let _ = write!(out, " {:.2} |", 100.0 * counts.refused as f64 / runs as f64);
        }
        out.push('\n');
    }
    Ok(out)
}
