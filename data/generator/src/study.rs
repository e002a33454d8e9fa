//! The study file of a chain.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use crate::chain::Site;
use crate::classes::LampClass;
use crate::convention::Convention;
use crate::rows::Row;
use crate::{Ending, LogSet, Options, words};

/// Programme hours of a screen a week unless the study says otherwise.
pub const HOURS_PER_WEEK: f64 = 72.0;

/// Days between planned visits.
const VISIT_DAYS: u32 = 28;

/// The text of `study.toml`.
pub fn toml(
    seed: u64,
    options: &Options,
    sites: &[Site],
    classes: &[LampClass],
    logs: &[Convention],
    rows: &[Row],
) -> String {
    let mut text = String::new();
    // Writing to a String never fails.
    let _ = head(&mut text, seed, options, logs);
    let _ = programme(&mut text, sites);
    for log in logs {
        let _ = log_table(&mut text, log);
    }
    let _ = reasons(&mut text, logs, rows);
    let ending = options.is_full() && options.logs == LogSet::Main;
    if ending {
        let _ = endings(&mut text, options, sites, classes);
    }
    for class in classes {
        let _ = class_table(&mut text, class, crate::stock::counted(options));
        if ending {
            let _ = warranty(&mut text, class);
        }
    }
    if crate::stock::counted(options) {
        let _ = crate::stock::tables(&mut text, options, sites);
    }
    text
}

/// Screens that will be converted or closed, the last buy of the largest lamp, and the file of claims.
fn endings(t: &mut String, options: &Options, sites: &[Site], classes: &[LampClass]) -> std::fmt::Result {
    writeln!(t, "\n[claims]\nfile = \"claims.csv\"\ndates = \"iso\"")?;
    let largest = classes.len() - 1;
    let day = |days: i32| options.as_of.plus(days);
    for (i, site) in sites.iter().enumerate() {
        if i % 13 == 7 {
            writeln!(t, "\n[[stop]]\nsite = \"{}\"\nkind = \"closing\"\non = {}", site.name, day(184))?;
            continue;
        }
        let screens = site.screens.iter().filter(|s| s.class == largest);
        for screen in screens.filter(|s| s.converted_on.is_none() && s.lost_on.is_none() && i % 3 != 0) {
            writeln!(t, "\n[[stop]]\nsite = \"{}\"\nscreen = \"{}\"", site.name, screen.number)?;
            writeln!(t, "kind = \"conversion\"\nearliest = {}\nlatest = {}", day(120), day(400))?;
            if i % 3 == 1 {
                writeln!(t, "earlier_on = {}", day(90))?;
            }
        }
    }
    let class = &classes[largest];
    writeln!(t, "\n[[last_buy]]\nclass = \"{}\"\nlast_order_on = {}", class.name, day(93))?;
    writeln!(t, "needed_until = {}\nrisk = 0.05", day(550))?;
    let cost_short = 3.0 * class.price;
    writeln!(t, "cost_short = {cost_short:.1}\nmoney_back = {:.1}", 0.1 * class.price)
}

/// Money back by class: pro rata, in steps within two years, or nothing said.
fn warranty(t: &mut String, class: &LampClass) -> std::fmt::Result {
    match class.name {
        "2.0 kW" => {
            writeln!(t, "[class.warranty]\nform = \"pro_rata\"\nchance = 0.8\nhandling_cost = 60.0")?;
            writeln!(t, "days_to_file = 120\nneeded = [\"serial\", \"photo\"]")
        }
        "4.0 kW" => {
            let (early, late) = (0.25 * class.rated, class.rated);
            writeln!(t, "[class.warranty]\nform = \"stepped\"\nmonths = 24\nchance = 0.7\nhandling_cost = 90.0")?;
            writeln!(
                t,
                "steps = [{{ below_hours = {early:.1}, share = 1.0 }}, {{ below_hours = {late:.1}, share = 0.4 }}]"
            )?;
            writeln!(t, "endings = [\"burst\", \"seal\", \"no_strike\"]\ndays_to_file = 120")?;
            writeln!(t, "needed = [\"serial\", \"photo\", \"return form\"]")
        }
        _ => Ok(()),
    }
}

fn head(t: &mut String, seed: u64, options: &Options, logs: &[Convention]) -> std::fmt::Result {
    writeln!(
        t,
        "# An invented chain, made by a program from seed {seed}. All sites, lamps, prices and hours are invented."
    )?;
    writeln!(t, "format = 1\n\n[study]")?;
    let name = match (options.is_full(), options.logs) {
        (true, LogSet::Main) => "Demo chain",
        (true, LogSet::Second) => "Second demo chain",
        (false, _) => "Clean chain",
    };
    writeln!(t, "name = \"{name} (invented)\"")?;
    writeln!(t, "note = \"All sites, lamps, prices and hours are invented.\"")?;
    writeln!(t, "as_of = {}", options.as_of)?;
    writeln!(t, "currency = \"EUR\"")?;
    writeln!(t, "seed = 20251228")?;
    let newest = logs.iter().map(|l| l.exported_on).max().unwrap_or(options.as_of);
    writeln!(t, "newest_export = {newest}")?;
    writeln!(t, "\n[chain]\nshow_minutes = 130\nvisit_interval_days = {VISIT_DAYS}\nforecast_months = 6")?;
    writeln!(t, "service_target = 0.95\nhours_per_week = {HOURS_PER_WEEK:.1}")
}

fn programme(t: &mut String, sites: &[Site]) -> std::fmt::Result {
    for site in sites {
        let usual = site.hours_per_week();
        if usual != HOURS_PER_WEEK {
            writeln!(t, "\n[[programme]]\nsite = \"{}\"\nhours_per_week = {usual:.1}", site.name)?;
        }
        for screen in site.screens.iter().filter(|s| s.hours_per_week != usual) {
            let (number, hours) = (screen.number, screen.hours_per_week);
            writeln!(
                t,
                "\n[[programme]]\nsite = \"{}\"\nscreen = \"{number}\"\nhours_per_week = {hours:.1}",
                site.name
            )?;
        }
    }
    Ok(())
}

fn log_table(t: &mut String, log: &Convention) -> std::fmt::Result {
    writeln!(t, "\n[[log]]\nfile = \"{}\"", log.file)?;
    writeln!(t, "encoding = \"{}\"", if log.windows_1252 { "windows-1252" } else { "utf-8" })?;
    let delimiter = if log.delimiter == '\t' { "\\t".to_string() } else { log.delimiter.to_string() };
    writeln!(t, "delimiter = \"{delimiter}\"\ndecimal = \"{}\"", log.decimal)?;
    if let Some(sign) = log.thousands {
        writeln!(t, "thousands = \"{sign}\"")?;
    }
    writeln!(t, "dates = \"{}\"", if log.day_first.is_some() { "day-first" } else { "iso" })?;
    writeln!(t, "hours_unit = \"hours\"")?;
    writeln!(t, "blank_hours_at_fitting = \"{}\"", if log.blank_is_new { "new" } else { "unknown" })?;
    writeln!(t, "records_from = {}\nexported_on = {}\n[log.columns]", log.records_from, log.exported_on)?;
    for (column, name) in &log.columns {
        writeln!(t, "{} = \"{name}\"", column.field())?;
    }
    Ok(())
}

/// The map of the words that stand in the logs: one that no row has would change nothing.
fn reasons(t: &mut String, logs: &[Convention], rows: &[Row]) -> std::fmt::Result {
    let typed: BTreeSet<String> = rows.iter().map(|row| words::plain(&row.reason)).collect();
    let mut map: BTreeMap<String, &str> = BTreeMap::new();
    for log in logs {
        for ending in Ending::WITH_REASON {
            for reason in words::reasons(ending, log.language) {
                let reason = words::plain(reason);
                if typed.contains(&reason) {
                    map.insert(reason, ending.as_str());
                }
            }
        }
    }
    writeln!(t, "\n[reasons]")?;
    for ending in Ending::WITH_REASON {
        for (reason, _) in map.iter().filter(|(_, e)| **e == ending.as_str()) {
            writeln!(t, "\"{reason}\" = \"{}\"", ending.as_str())?;
        }
    }
    Ok(())
}

fn class_table(t: &mut String, class: &LampClass, counted: bool) -> std::fmt::Result {
    let [also, other] = class.also_called;
    writeln!(t, "\n[[class]]\nname = \"{}\"\nalso_called = [\"{also}\", \"{other}\"]", class.name)?;
    writeln!(t, "warranty_hours = {:.1}", class.rated)?;
    if let Some(hours) = class.average {
        writeln!(t, "average_life_hours = {hours:.1}")?;
    }
    if let Some(hours) = class.maximum {
        writeln!(t, "maximum_hours = {hours:.1}")?;
    }
    writeln!(t, "hours_source = \"invented data sheet\"")?;
    writeln!(t, "price = {:.1}\nlead_time_days = {}", class.price, class.lead_days)?;
    writeln!(t, "todays_rule_hours = {:.1}", class.rated)?;
    if class.rated < 1_000.0 {
        writeln!(t, "service_target = 0.98")?;
    }
    if counted {
        // The dearer lamps come in pairs; what lies on the shelves stands in the count.
        if class.price > 1_000.0 {
            writeln!(t, "box_lamps = 2")?;
        }
    } else {
        writeln!(t, "on_hand = {}\non_order = {}", class.stock.0, class.stock.1)?;
    }
    // Work and travel of a planned visit; lost shows and an extra journey, fewer where the picture only flickers or
    // dims; for a burst the reflector and optics as well.
    let planned = class.price + 170.0;
    writeln!(t, "[class.costs]\nplanned = {planned:.1}")?;
    let burst = planned + 6_000.0 + 1.5 * class.price;
    for (ending, cost) in [
        ("burst", burst),
        ("seal", planned + 2_400.0),
        ("no_strike", planned + 2_400.0),
        ("flicker", planned + 1_400.0),
        ("dim", planned + 700.0),
    ] {
        writeln!(t, "{ending} = {cost:.1}")?;
    }
    Ok(())
}
