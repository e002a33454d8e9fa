//! Older and newer exports of the same sites.

use std::collections::BTreeSet;

use crate::records::rows::{Fault, Field, Rows};
use crate::records::{Ending, Outcome};

/// `records.absent_from_newest`: open in an older export, and in no row of the newest one of the same sites. Used up to
/// its last reading and listed, as nobody can say whether it still burns.
pub(super) fn absent_from_newest(rows: &mut Rows<'_>) {
    let newest = newest_exports(rows);
    let exported = |log: u32| rows.formats.get(log as usize).map(|f| f.exported_on);
    let mut found = Vec::new();
    for &i in &rows.open {
        let Some(row) = rows.list.get(i).filter(|r| r.used() && r.spell.ending == Ending::Running) else { continue };
        let Some(&latest) = newest.get(row.log as usize) else { continue };
        let mut lamp = rows.of_serial.group(row.serial).iter().filter_map(|&j| rows.list.get(j as usize));
        if !lamp.any(|r| r.used() && exported(r.log) >= Some(latest)) {
            found.push((i, latest));
        }
    }
    found.sort_unstable();
    for (i, latest) in found {
        let sentence =
            format!("open in this export but absent from the newest one, of {latest}; used up to its last reading");
        rows.note(i, Outcome::Used, Fault::new("records.absent_from_newest", Field::Serial, sentence));
    }
}

/// For each log, the day of the newest export of its family. Two logs are of one family if they share at least half of
/// the sites where the smaller of them has open lamps: a stray row of another region makes no family.
fn newest_exports(rows: &Rows<'_>) -> Vec<chrono::NaiveDate> {
    let n = rows.formats.len();
    let mut sites: Vec<BTreeSet<&str>> = vec![BTreeSet::new(); n];
    // Merged rows count too: a lamp open in two exports is what shows that they belong together.
    let open = rows.open.iter().filter_map(|&i| rows.list.get(i));
    for row in open.filter(|r| r.outcome != Outcome::SetAside) {
        if let Some(set) = sites.get_mut(row.log as usize) {
            set.insert(rows.site(row));
        }
    }
    let mut family: Vec<usize> = (0..n).collect();
    for (a, of_a) in sites.iter().enumerate() {
        for (b, of_b) in sites.iter().enumerate().skip(a + 1) {
            let shared = of_a.intersection(of_b).count();
            if shared > 0 && 2 * shared >= of_a.len().min(of_b.len()) {
                let (old, new) = (family.get(b).copied(), family.get(a).copied());
                for f in &mut family {
                    if Some(*f) == old {
                        *f = new.unwrap_or(*f);
                    }
                }
            }
        }
    }
    let day = |i: usize| rows.formats.get(i).map(|f| f.exported_on);
    (0..n).filter_map(|i| (0..n).filter(|&j| family.get(j) == family.get(i)).filter_map(day).max()).collect()
}
