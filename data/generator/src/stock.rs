//! Depots of a chain and the count of what lies on its shelves.

use std::fmt::Write;

use crate::chain::Site;
use crate::classes::LampClass;
use crate::day::Day;
use crate::{LogSet, Options};

/// The file of the count.
pub const FILE: &str = "stock.csv";

/// Names of the depots, and days from each to a site.
const DEPOTS: [(&str, u32); 2] = [("Depot North", 2), ("Depot South", 3)];

/// Sites too far from either depot: the last ones of the chain.
const FAR_SITES: usize = 2;

/// Whether a chain has depots and a count: the one with every fault, not its second logs.
pub fn counted(options: &Options) -> bool {
    options.is_full() && options.logs == LogSet::Main
}

/// The sites of each depot: the first half, the second half without those too far.
fn served(sites: &[Site]) -> [&[Site]; 2] {
    let near = sites.len().saturating_sub(FAR_SITES).max(1).min(sites.len());
    let (north, south) = sites.split_at(near.div_ceil(2));
    [north, &south[..south.len().min(near - north.len())]]
}

/// The tables `[[depot]]` and `[stock_count]` of the study.
pub(crate) fn tables(t: &mut String, options: &Options, sites: &[Site]) -> std::fmt::Result {
    for ((name, days), sites) in DEPOTS.iter().zip(served(sites)).filter(|(_, sites)| !sites.is_empty()) {
        writeln!(t, "\n[[depot]]\nname = \"{name}\"\ndays_to_site = {days}\nsites = [")?;
        for few in sites.chunks(8) {
            let names: Vec<String> = few.iter().map(|s| format!("\"{}\"", s.name)).collect();
            writeln!(t, "    {},", names.join(", "))?;
        }
        writeln!(t, "]")?;
    }
    writeln!(t, "\n[stock_count]\nfile = \"{FILE}\"\ncounted_on = {}", options.as_of)?;
    writeln!(t, "delimiter = \";\"\ndates = \"iso\"\n[stock_count.columns]\nplace = \"store\"\ndue_on = \"due\"")
}

/// The count: what the classes have on hand and on order, by place, with a used lamp and a row that is wrong.
pub fn csv(options: &Options, sites: &[Site], classes: &[LampClass]) -> String {
    let mut text = "lamp_class;store;on_hand;on_order;due;serial;age_hours;ending\n".to_string();
    // Writing to a String never fails.
    let _ = rows(&mut text, options.as_of, sites, classes);
    text
}

fn rows(t: &mut String, as_of: Day, sites: &[Site], classes: &[LampClass]) -> std::fmt::Result {
    let [north, south] = served(sites);
    let [(first, _), (second, _)] = DEPOTS;
    for (i, class) in classes.iter().enumerate() {
        let (on_hand, on_order) = class.stock;
        let at_sites = if south.is_empty() { 0 } else { (on_hand / 4).min(2) };
        let at_south = if south.is_empty() { 0 } else { (on_hand - at_sites) / 2 };
        writeln!(t, "{};{first};{};;;;;", class.name, on_hand - at_sites - at_south)?;
        if !south.is_empty() {
            writeln!(t, "{};{second};{at_south};;;;;", class.name)?;
        }
        for k in 0..at_sites as usize {
            let shelf = if k == 0 { &north[i % north.len()] } else { &south[i % south.len()] };
            writeln!(t, "{};{};1;;;;;", class.name, shelf.name)?;
        }
        if on_order > 0 {
            let due = as_of.plus((class.lead_days / 2).cast_signed());
            writeln!(t, "{};{first};;{on_order};{due};;;", class.name)?;
        }
    }
    if let Some(class) = classes.first() {
        writeln!(t, "{};{first};;;;U-0001;900;moved", class.name)?;
        // A place that the study does not know.
        writeln!(t, "{};Old depot;1;;;;;", class.name)?;
    }
    Ok(())
}
