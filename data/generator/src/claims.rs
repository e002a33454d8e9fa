//! Claims that were filed under the warranties of the study, as an office keeps them.

use std::fmt::Write;

use crate::classes::LampClass;
use crate::lamps::Lamp;
use crate::stream::Stream;
use crate::{Ending, Options};

/// Days before the as-of date from which claims are in the file.
const KEPT_DAYS: i32 = 1_100;

/// The text of `claims.csv`: lamps of two classes that failed early, most of them claimed, with what came back.
pub fn csv(seed: u64, options: &Options, classes: &[LampClass], lamps: &[Lamp]) -> String {
    let mut text = String::from("serial,filed_on,paid,evidence\n");
    let mut stream = Stream::new(seed, "claims", 0);
    for lamp in lamps {
        let class = &classes[lamp.class];
        let whole = class.name == "4.0 kW";
        let covered = match lamp.ending() {
            Ending::Burst | Ending::Seal | Ending::NoStrike => whole || class.name == "2.0 kW",
            Ending::Flicker | Ending::Dim => class.name == "2.0 kW",
            _ => false,
        };
        let Some((ended, age)) = lamp.spells.last().and_then(|s| Some((s.removed_on?, s.end as f64 / 10.0))) else {
            continue;
        };
        if !covered || age >= class.rated || options.as_of.since(ended) > KEPT_DAYS {
            continue;
        }
        let filed = ended.plus(15 + stream.whole(60));
        let evidence = if stream.chance(0.6) { "photo; return form" } else { "photo" };
        let (claimed, granted) = (stream.chance(0.55), stream.chance(0.75));
        let pro_rata = class.price * (1.0 - age / class.rated);
        let due = match (whole, age < 0.25 * class.rated) {
            (true, true) => class.price,
            (true, false) => 0.4 * class.price,
            (false, _) => pro_rata,
        };
        // Writing to a String never fails.
        let _ = if !claimed || filed >= options.as_of || due < 100.0 {
            // Not filed: what is at hand is kept for some.
            if stream.chance(0.5) { writeln!(text, "{},,,{evidence}", lamp.serial) } else { Ok(()) }
        } else if options.as_of.since(filed) < 50 {
            writeln!(text, "{},{filed},,{evidence}", lamp.serial)
        } else {
            let paid = if granted { due } else { 0.0 };
            writeln!(text, "{},{filed},{paid:.0},{evidence}", lamp.serial)
        };
    }
    text
}
