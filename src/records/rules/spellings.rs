//! Sites and screens that two spellings make two of.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::figure::counted;
use crate::records::rows::{Fault, Field, Rows};
use crate::records::{Outcome, fold};

/// The rows of one spelling that are used: how many, and the first of them.
#[derive(Default)]
struct Written {
    rows: u64,
    first: usize,
}

/// Spellings of one name and, for a screen, of its site, in the order of their texts.
type Spellings = BTreeMap<String, BTreeMap<String, Written>>;

/// `records.place_two_spellings`: a site, or a screen of a site, that stands in the logs in two spellings which only
/// differ in capital letters, spaces or accents typed apart. They are taken as two places, as the logs have them, and the
/// rarer one is listed.
pub(super) fn place_two_spellings(rows: &mut Rows<'_>) {
    let (sites, screens) = (twice(rows, Field::Site), twice(rows, Field::Screen));
    if sites.is_empty() && screens.is_empty() {
        return;
    }
    let (mut of_sites, mut of_screens) = (Spellings::new(), Spellings::new());
    for (i, row) in rows.used() {
        let (site, screen) = (rows.site(row), rows.screen(row));
        let count = |spellings: &mut Spellings, key: String, text: &str| {
            let of_key = spellings.entry(key).or_default();
            let written = of_key.entry(text.to_owned()).or_insert(Written { rows: 0, first: i });
            written.rows += 1;
        };
        let key = fold(site);
        if sites.contains(&key) {
            count(&mut of_sites, key.clone(), site);
        }
        let key = place(&key, screen);
        if screens.contains(&key) {
            count(&mut of_screens, key, screen);
        }
    }
    for (spellings, field, word) in [(of_sites, Field::Site, "site"), (of_screens, Field::Screen, "screen")] {
        for of_one in spellings.into_values() {
            let most = of_one.iter().max_by_key(|(_, w)| (w.rows, usize::MAX - w.first));
            let Some((usual, others)) = most.map(|(text, w)| (text.clone(), w.rows)) else { continue };
            for (text, written) in of_one.iter().filter(|(text, _)| **text != usual) {
                let sentence = format!(
                    "the {word} stands in {} as \"{text}\" and in {} as \"{usual}\": taken as two {word}s",
                    counted(written.rows, "row"),
                    counted(others, "row")
                );
                rows.note(written.first, Outcome::Used, Fault::new("records.place_two_spellings", field, sentence));
            }
        }
    }
}

/// Names as compared that more than one spelling has.
fn twice(rows: &Rows<'_>, field: Field) -> BTreeSet<String> {
    let texts = &rows.texts;
    let mut spellings: BTreeMap<String, BTreeSet<u32>> = BTreeMap::new();
    for &(site, screen) in &texts.places.list {
        let text = |word: Option<&crate::records::Word>| word.map_or_else(String::new, ToString::to_string);
        let of_site = fold(&text(texts.sites.word(site)));
        let (key, id) = match field {
            Field::Site => (of_site, site),
            _ => (place(&of_site, &text(texts.screens.word(screen))), screen),
        };
        spellings.entry(key).or_default().insert(id);
    }
    spellings.into_iter().filter(|(_, ids)| ids.len() > 1).map(|(key, _)| key).collect()
}

/// A screen as compared, with its site.
fn place(site: &str, screen: &str) -> String {
    // No name holds a line break once it is folded.
    format!("{site}\n{}", fold(screen))
}
