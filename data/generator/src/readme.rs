//! The page that lies beside a generated chain.

use std::fmt::Write;

use crate::{Chain, Options};

/// The text of `README.md`.
pub fn text(seed: u64, options: &Options, chain: &Chain) -> String {
    let second = options.logs == crate::LogSet::Second;
    let name = if second { "Second demo chain" } else { "Demo chain" };
    let how = if second { " --second" } else { "" };
    let how = if options.is_full() { how.to_string() } else { format!("{how} --clean") };
    let mut kinds: Vec<&str> = chain.key.entries.iter().map(|e| e.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let mut text = format!(
        "# {name} (INVENTED)\n\n\
         Everything here is invented: sites, suppliers, lamps, prices, hours, causes. The ranges are assumptions within what\n\
         the trade reports in public; there is no published split of how cinema lamps end, so that split is made up as well.\n\n\
         Made by `cargo run -p relamp-demo -- --seed {seed} --out FOLDER{how}`: {} sites, {} screens, {} lamp classes,\n\
         {} years to {}. The same seed gives the same bytes.\n\n\
         | file | what it is |\n|---|---|\n\
         | `logs/` | the exports, each with its own column names, signs, dates and language |\n\
         | `study.toml` | how each log is written, what its reasons mean, lamp classes, costs, stock |\n\
         {}| `answer_key.csv` | every planted fault: kind, file, physical line, row, true serial, what was done |\n\
         | `truth_lives.csv` | every recorded lamp: batch, site, entry, true end and ending, when and how it fails if left in |\n\
         | `truth_model.csv` | the true causes by class: Weibull shape and scale, factors of the weak batch and of poor cooling |\n\
         | `truth_reliability.csv` | true reliability of the mix of lamps at 0.5, 1 and 1.2 times the rated hours |\n",
        options.sites,
        options.screens,
        options.classes,
        options.years,
        options.as_of,
        if chain.file("claims.csv").is_some() {
            "| `claims.csv` | warranty claims that were filed and what came back, as an office keeps them |\n"
        } else {
            ""
        },
    );
    if crate::stock::counted(options) {
        let row = "| `answer_key.csv` |";
        let stock = "| `stock.csv` | what lies on the shelves of depots and sites, with one row that is wrong |\n";
        text = text.replacen(row, &format!("{stock}{row}"), 1);
    }
    if !kinds.is_empty() {
        text.push_str("\nPlanted faults (what each looks like: the page of the `faults` module of the generator):\n\n| kind | rows |\n|---|---|\n");
        for kind in kinds {
            let _ = writeln!(text, "| `{kind}` | {} |", chain.key.count(kind));
        }
    }
    text.push_str("\nThe answer key and the truth tables are for checking. A study never reads them.\n");
    text
}
