//! The main job in one page: from an untidy lamp log to a replacement age and a spares list.
//!
//! Run it on the invented demo chain with `cargo run --release --example main_job`, or give the path of another study file.
#![allow(clippy::print_stdout)] // An example talks to its reader.

use relamp::Run;
use relamp::study::Study;

fn main() -> relamp::Result<()> {
    let path = std::env::args().nth(1).unwrap_or_else(|| "data/demo/study.toml".to_owned());
    let study = Study::open(path)?;
    let folder = std::env::args().nth(2);
    if let Some(folder) = &folder {
        relamp::study::check_target(folder, false)?;
    }
    let output = study.run(&Run::new())?;
    let results = &output.results;

    let overdue = &results.overdue;
    println!("Lamps at or past their limit: {}", overdue.at_limit.len());
    for lamp in overdue.at_limit.iter().take(5) {
        let (hours, over) = (lamp.reading_hours, lamp.over_hours);
        println!("  {} {}, screen {}: {hours} h, {over} h over", lamp.lamp_class, lamp.site, lamp.screen);
    }
    println!("Soon there: {}; age not known, treat as due: {}", overdue.soon.len(), overdue.age_unknown.len());

    let rows = &results.ledger;
    println!(
        "\n{} rows = {} used + {} merged + {} set aside",
        rows.rows_count, rows.used_count, rows.merged_count, rows.set_aside_count
    );

    for class in &results.classes {
        println!("\n{}: {}", class.name, class.headline);
        println!("  {} lamps, {} failures; {:?}", class.seen.lamps_count, class.seen.failures_count, class.status);
        if let Some(stock) = &class.stock {
            println!("  {} (lead time {} days)", stock.sentence, stock.lead_time_days);
        }
        for warning in &class.warnings {
            println!("  note: {warning}");
        }
    }
    println!("\n{}", results.cautions.first().map_or("", String::as_str));

    if let Some(folder) = folder {
        relamp::study::write(folder, &output, &[], false)?;
    }
    Ok(())
}
